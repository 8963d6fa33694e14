//! Equal chillers side by side, started as the load needs them: the closed form of
//! [`drycoil_plant::chiller::ChillerBank`].

use crate::plant::SetUpError;
use crate::signals::PlantLimit;
use drycoil_plant::chiller::{Chiller, EfficiencyCurve};
use drycoil_units::Quantity;

const KELVIN: f64 = 273.15;

/// The bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChillerBankForm {
    machines: u32,
    capacity_w: f64,
    /// Heat rejected at the rating point.
    rejected_w: f64,
    rated_chilled_c: f64,
    rated_leaving_c: f64,
    evaporator_k: f64,
    condenser_k: f64,
    least_lift_k: f64,
    minimum_share: f64,
    cycling_loss: f64,
    per_k_chilled: f64,
    per_k_condenser: f64,
    largest: f64,
    constant: f64,
    fixed: f64,
    proportional: f64,
    condenser_w_per_k: f64,
}

/// The condenser side of every machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CondenserWater {
    /// Enters at this temperature, degC, with the rated flow.
    Entering(f64),
    /// Leaves at this temperature, degC.
    Leaving(f64),
}

/// The bank at one condition.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ChillerBankStep {
    /// Cooling made, W.
    pub met_w: f64,
    /// Cooling asked and not made, W.
    pub unmet_w: f64,
    /// Electric power, W.
    pub power_w: f64,
    /// Machines that run.
    pub running: u32,
    /// Part of the step in which they run: below 1 where they cycle.
    pub duty: f64,
    /// Ideal coefficient of performance at the lift that counts; 0 when off.
    pub ideal_cop: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

impl ChillerBankForm {
    /// The bank of `machines` chillers of this kind.
    ///
    /// # Errors
    /// No machine, or an efficiency that is not the loss form.
    pub fn new(chiller: &Chiller, machines: u32) -> Result<Self, SetUpError> {
        crate::plant::within("number of chillers", f64::from(machines), 1.0, 100.0)?;
        let EfficiencyCurve::Losses { constant, fixed, proportional } = chiller.efficiency else {
            return Err(SetUpError::Missing("chiller efficiency by losses"));
        };
        let (r, s) = (&chiller.rating, &chiller.settings);
        Ok(Self {
            machines,
            capacity_w: r.capacity.si(),
            rejected_w: r.capacity.si() * (1.0 + 1.0 / r.cop),
            rated_chilled_c: r.leaving_chilled.si(),
            rated_leaving_c: chiller.rated_condenser_leaving.si(),
            evaporator_k: s.evaporator_approach.si(),
            condenser_k: s.condenser_approach.si(),
            least_lift_k: s.minimum_lift.si(),
            minimum_share: s.minimum_share,
            cycling_loss: s.cycling_loss,
            per_k_chilled: s.capacity.per_kelvin_chilled,
            per_k_condenser: s.capacity.per_kelvin_condenser,
            largest: s.capacity.largest,
            constant,
            fixed,
            proportional,
            condenser_w_per_k: r.condenser_capacity_rate.si(),
        })
    }

    /// Number of machines.
    pub fn machines(&self) -> u32 {
        self.machines
    }

    /// Cooling that all machines can make, W.
    #[inline]
    pub fn available_w(&self, chilled_c: f64, condenser: CondenserWater) -> f64 {
        f64::from(self.machines) * self.available_each(chilled_c, condenser)
    }

    #[inline]
    fn available_each(&self, chilled_c: f64, condenser: CondenserWater) -> f64 {
        let leaving = match condenser {
            CondenserWater::Entering(t) => t + self.rejected_w / self.condenser_w_per_k,
            CondenserWater::Leaving(t) => t,
        };
        let ratio = 1.0
            + self.per_k_chilled * (chilled_c - self.rated_chilled_c)
            + self.per_k_condenser * (leaving - self.rated_leaving_c);
        self.capacity_w * ratio.clamp(0.0, self.largest)
    }

    /// One machine at a load within its capacity: inverse coefficient of performance, ideal coefficient, limits. `None`
    /// where the condenser flow is too small for the heat.
    #[inline]
    fn one(
        &self,
        met: f64,
        available: f64,
        chilled_c: f64,
        condenser: CondenserWater,
    ) -> Option<(f64, f64, u32)> {
        let least_load = (self.minimum_share * self.capacity_w).min(available);
        let run_share = if met < least_load { met / least_load } else { 1.0 };
        let load = if run_share < 1.0 { least_load } else { met };
        let share = load / self.capacity_w;
        let evaporating = chilled_c + KELVIN - self.evaporator_k * share;
        let approach = self.condenser_k / self.rejected_w;
        let (base, per_w) = match condenser {
            CondenserWater::Entering(t) => (t + KELVIN, 1.0 / self.condenser_w_per_k + approach),
            CondenserWater::Leaving(t) => (t + KELVIN, approach),
        };
        let efficiency = 1.0 / (self.constant + self.fixed / share + self.proportional * share);
        let k = load * per_w;
        let ideal = efficiency * evaporating;
        let mut limits = 0;
        let mut inverse = self.least_lift_k / ideal;
        let mut lift = self.least_lift_k;
        if base + k * (1.0 + inverse) - evaporating > self.least_lift_k {
            if ideal <= k {
                return None;
            }
            inverse = (base + k - evaporating) / (ideal - k);
            lift = inverse * ideal;
        } else {
            limits |= PlantLimit::LeastLift.bit();
        }
        if run_share < 1.0 {
            limits |= PlantLimit::ChillerCycling.bit();
            inverse /= 1.0 - self.cycling_loss * (1.0 - run_share);
        }
        Some((inverse, evaporating / lift, limits))
    }

    /// Runs the number of machines, of those that carry the load, that takes the least power.
    #[inline]
    pub fn run(&self, load_w: f64, chilled_c: f64, condenser: CondenserWater) -> ChillerBankStep {
        if load_w <= 0.0 {
            return ChillerBankStep::default();
        }
        let available = self.available_each(chilled_c, condenser);
        let mut best =
            ChillerBankStep { unmet_w: load_w, power_w: f64::INFINITY, ..ChillerBankStep::default() };
        for running in 1..=self.machines {
            let n = f64::from(running);
            let each = load_w / n;
            let met = each.min(available);
            if met <= 0.0 {
                continue;
            }
            let Some((inverse, ideal_cop, limits)) = self.one(met, available, chilled_c, condenser) else {
                continue;
            };
            let unmet = (each - met) * n;
            let power = met * inverse * n;
            if unmet < best.unmet_w || (unmet == best.unmet_w && power < best.power_w) {
                let short = if unmet > 0.0 { PlantLimit::ChillerCapacity.bit() } else { 0 };
                best = ChillerBankStep {
                    met_w: load_w - unmet,
                    unmet_w: unmet,
                    power_w: power,
                    running,
                    duty: (met / (self.minimum_share * self.capacity_w).min(available)).min(1.0),
                    ideal_cop,
                    limits: limits | short,
                };
            }
        }
        if best.running == 0 {
            best.power_w = 0.0;
            best.limits |= PlantLimit::ChillerCapacity.bit() | PlantLimit::OutsideCurve.bit();
        }
        best
    }

    /// Heat recovery by one machine with condenser water leaving at `heating_c`: neither more cooling than `cooling_w` nor
    /// more heat than `heating_w`. Cooling made, power, and limits; heat delivered is the sum of cooling and power.
    #[inline]
    pub fn recover_heat(
        &self,
        cooling_w: f64,
        heating_w: f64,
        chilled_c: f64,
        heating_c: f64,
    ) -> (f64, f64, u32) {
        let condenser = CondenserWater::Leaving(heating_c);
        let available = self.available_each(chilled_c, condenser);
        let most = cooling_w.min(available);
        if most <= 0.0 || heating_w <= 0.0 {
            return (0.0, 0.0, 0);
        }
        let at = |q: f64| self.one(q, available, chilled_c, condenser);
        let Some((y, _, limits)) = at(most) else {
            return (0.0, 0.0, PlantLimit::OutsideCurve.bit());
        };
        if most * (1.0 + y) <= heating_w {
            return (most, most * y, limits);
        }
        // Heat rises with the load; bracketed regula falsi with the lagging end halved.
        let (mut a, mut b) = (0.0, most);
        let (mut fa, mut fb) = (-heating_w, most * (1.0 + y) - heating_w);
        let mut side = 0;
        for _ in 0..60 {
            let q = (fa * b - fb * a) / (fa - fb);
            let Some((y, _, limits)) = at(q) else { break };
            let f = q * (1.0 + y) - heating_w;
            if f.abs() <= 1e-10 * heating_w {
                return (q, q * y, limits);
            }
            if f > 0.0 {
                (b, fb) = (q, f);
                if side == 1 {
                    fa *= 0.5;
                }
                side = 1;
            } else {
                (a, fa) = (q, f);
                if side == -1 {
                    fb *= 0.5;
                }
                side = -1;
            }
        }
        (0.0, 0.0, PlantLimit::NotSettled.bit())
    }
}
