//! Cooling tower: Merkel's law by Chebyshev's four points, as [`drycoil_plant::tower_plant::TowerPlant`] with
//! [`TowerIntegral::FourPoints`](drycoil_plant::tower_plant::TowerIntegral::FourPoints), on the table of saturation.
//!
//! Cells follow the machines: a share of the water runs over the same share of the cells, so water over air at full fan
//! stays that of design.

use crate::plant::air::Saturation;
use crate::plant::{SetUpError, within};
use crate::signals::{Outdoor, PlantLimit};
use drycoil_air::raw;
use drycoil_exchange::tower::CP_WATER_J_PER_KG_K as CP;
use drycoil_plant::tower_plant::{TowerFanControl, TowerPlant};
use drycoil_units::Quantity;

/// Chebyshev's points of the range.
const POINTS: [f64; 4] = [0.1, 0.4, 0.6, 0.9];
/// Hottest water of the model, degC.
const HOTTEST_C: f64 = 75.0;

/// The tower.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TowerForm {
    coefficient: f64,
    exponent: f64,
    water_kg_per_s: f64,
    air_kg_per_s: f64,
    fan_w: f64,
    off_share: f64,
    lowest: f64,
    cycles: f64,
    design_ratio: f64,
    /// Inverse of the size at full, lowest and no fan speed.
    goals: [f64; 3],
}

/// Speeds of the fans for which the tower's size is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Speed {
    Full = 0,
    Lowest = 1,
    Off = 2,
}

/// Where the searches of a step ended: those of the next one begin there. What is found does not depend on it beyond
/// the residual of the search.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TowerStart {
    /// Water over air; 0 for none yet.
    ratio: f64,
    /// Water above the wet bulb at full, lowest and no fan speed, K.
    approach_k: [f64; 3],
    /// Air leaving above the wet bulb, K: at the speed found, at the lowest and with the fan off.
    leaving_k: [f64; 3],
}

/// The tower in a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TowerStep {
    /// Cold water, degC.
    pub cold_c: f64,
    /// Fan power, W.
    pub fan_w: f64,
    /// Water from the main, kg/s.
    pub make_up_kg_per_s: f64,
    /// Evaporation, kg/s.
    pub evaporation_kg_per_s: f64,
    /// Air over design air of the cells that run.
    pub air_share: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

/// Entering air as the tower sees it: the enthalpy of saturated air at its wet bulb, J/kg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TowerAir {
    /// Wet bulb, degC.
    pub wet_bulb_c: f64,
    h_in: f64,
    h_air: f64,
    w_air: f64,
}

impl TowerAir {
    /// From the outdoor air.
    #[inline]
    pub fn new(s: &Saturation, outdoor: &Outdoor) -> Self {
        Self {
            wet_bulb_c: outdoor.wet_bulb_c,
            h_in: s.h_and_slope(outdoor.wet_bulb_c).0,
            h_air: raw::enthalpy_j_per_kg(outdoor.t_c, outdoor.w),
            w_air: outdoor.w,
        }
    }
}

impl TowerForm {
    /// From a sized tower with variable-speed fans.
    ///
    /// # Errors
    /// Another fan control, a value out of range.
    pub fn new(tower: &TowerPlant) -> Result<Self, SetUpError> {
        let TowerFanControl::VariableSpeed { lowest } = tower.design.fan else {
            return Err(SetUpError::Missing("tower with variable-speed fans"));
        };
        let mut form = Self {
            coefficient: tower.tower.coefficient,
            exponent: tower.tower.exponent,
            water_kg_per_s: tower.water_flow.si(),
            air_kg_per_s: tower.air_flow.si(),
            fan_w: tower.fan_power.si(),
            off_share: within("air with the fan off over design air", tower.design.fan_off_share, 0.0, 0.5)?,
            lowest,
            cycles: within("cycles of concentration", tower.design.cycles, 1.0 + 1e-9, 50.0)?,
            design_ratio: tower.water_flow.si() / tower.air_flow.si(),
            goals: [0.0; 3],
        };
        form.goals = [Speed::Full, Speed::Lowest, Speed::Off]
            .map(|speed| 1.0 / form.size(form.design_ratio / form.share(speed)));
        Ok(form)
    }

    #[inline]
    fn share(&self, speed: Speed) -> f64 {
        match speed {
            Speed::Full => 1.0,
            Speed::Lowest => self.lowest,
            Speed::Off => self.off_share,
        }
    }

    /// Approach at full fan and design flow for a range and a wet bulb, K; negative when no water was found.
    pub fn approach(&self, s: &Saturation, wet_bulb_c: f64, range_k: f64) -> f64 {
        let w = s.w(wet_bulb_c);
        let p_pa = s.pressure_pa();
        let air = TowerAir::new(s, &Outdoor { t_c: wet_bulb_c, w, wet_bulb_c, p_pa });
        let goal = self.goals[Speed::Full as usize];
        let (cold, settled) = Self::cold_at(s, &air, range_k, self.design_ratio, goal, 0.0);
        if settled { cold - wet_bulb_c } else { -1.0 }
    }

    /// Water flow at design, kg/s.
    pub fn water_kg_per_s(&self) -> f64 {
        self.water_kg_per_s
    }

    #[inline]
    fn size(&self, ratio: f64) -> f64 {
        self.coefficient * ratio.powf(-self.exponent)
    }

    /// Inverse size of the tower that makes this cold water, with its slope in the cold water; `None` where the operating
    /// line crosses saturation.
    #[inline]
    fn inverse_size(s: &Saturation, cold: f64, range: f64, h_in: f64, ratio: f64) -> Option<(f64, f64)> {
        let (mut sum, mut slope) = (0.0, 0.0);
        for x in POINTS {
            let (h, d) = s.h_and_slope(cold + x * range);
            let force = h - h_in - ratio * CP * x * range;
            if force <= 0.0 {
                return None;
            }
            sum += 1.0 / force;
            slope += d / (force * force);
        }
        let k = 4.0 / (CP * range);
        Some((k / sum, k * slope / (sum * sum)))
    }

    /// Cold water for heat `q` W over a share `flow` of water and cells with a share of the air; the second value is false
    /// when the search did not settle.
    #[inline]
    pub fn cold(&self, s: &Saturation, air: &TowerAir, q: f64, flow: f64, share: f64) -> (f64, bool) {
        let range = q / (flow * self.water_kg_per_s * CP);
        let ratio = self.design_ratio / share;
        Self::cold_at(s, air, range, ratio, 1.0 / self.size(ratio), 0.0)
    }

    /// As [`cold`](Self::cold) at full fan speed.
    #[inline]
    pub fn cold_at_full(
        &self,
        s: &Saturation,
        air: &TowerAir,
        q: f64,
        flow: f64,
        start: &mut TowerStart,
    ) -> (f64, bool) {
        self.cold_at_speed(s, air, q, flow, Speed::Full, start)
    }

    #[inline]
    fn cold_at_speed(
        &self,
        s: &Saturation,
        air: &TowerAir,
        q: f64,
        flow: f64,
        speed: Speed,
        start: &mut TowerStart,
    ) -> (f64, bool) {
        let range = q / (flow * self.water_kg_per_s * CP);
        let (ratio, place) = (self.design_ratio / self.share(speed), speed as usize);
        let found = Self::cold_at(s, air, range, ratio, self.goals[place], start.approach_k[place]);
        start.approach_k[place] = found.0 - air.wet_bulb_c;
        found
    }

    /// Whether the tower at full fan makes water as cold as `set_c`: one look instead of a search.
    #[inline]
    pub fn reaches(&self, s: &Saturation, air: &TowerAir, q: f64, flow: f64, set_c: f64) -> bool {
        let range = q / (flow * self.water_kg_per_s * CP);
        set_c + range < HOTTEST_C
            && Self::inverse_size(s, set_c, range, air.h_in, self.design_ratio)
                .is_some_and(|(y, _)| y > self.goals[Speed::Full as usize])
    }

    /// Cold water at which the inverse size is `goal`, to 1e-7 K; `approach_k` above the wet bulb is where the search
    /// begins, 0 where nothing is known.
    #[inline]
    fn cold_at(
        s: &Saturation,
        air: &TowerAir,
        range: f64,
        ratio: f64,
        goal: f64,
        approach_k: f64,
    ) -> (f64, bool) {
        let (mut low, mut high) = (air.wet_bulb_c, HOTTEST_C - range);
        if high <= low {
            // More heat than water below boiling carries.
            return (HOTTEST_C, false);
        }
        // A start that the bracket then mends: the approach grows with the range and falls as the air warms.
        let guess =
            if approach_k > 0.0 { approach_k } else { range * (0.3 + 0.5 * ratio) * (1.5 - 0.02 * low) };
        let mut t = (low + guess).clamp(low, high);
        for _ in 0..60 {
            match Self::inverse_size(s, t, range, air.h_in, ratio) {
                None => {
                    low = t;
                    t = 0.5 * (low + high);
                }
                Some((y, slope)) => {
                    let f = y - goal;
                    if f > 0.0 {
                        high = t;
                    } else {
                        low = t;
                    }
                    let next = t - f / slope;
                    // What a step of Newton leaves goes with its square.
                    if (next - t).abs() < 3e-4 {
                        return (next, true);
                    }
                    t = if next > low && next < high { next } else { 0.5 * (low + high) };
                }
            }
            if high - low < 1e-9 {
                // Hotter than the model holds is no answer.
                return (t, high < HOTTEST_C - range - 1e-6);
            }
        }
        (t, false)
    }

    /// Ratio of water to air at which the tower makes `cold` exactly, to 1e-8 of it; `None` when not found within 0.01 to
    /// 10.
    #[inline]
    fn ratio_for(
        &self,
        s: &Saturation,
        air: &TowerAir,
        range: f64,
        cold: f64,
        start: &mut TowerStart,
    ) -> Option<f64> {
        let h = POINTS.map(|x| s.h_and_slope(cold + x * range).0 - air.h_in);
        let d = POINTS.map(|x| CP * x * range);
        // Inverse of the size needed less inverse of the size given: falls with the ratio, and is nearly straight.
        let k = 4.0 / (CP * range);
        let gap = |ratio: f64| {
            let (mut sum, mut slope) = (0.0, 0.0);
            for (h, d) in h.iter().zip(d) {
                let inverse = 1.0 / (h - ratio * d);
                sum += inverse;
                slope += d * inverse * inverse;
            }
            let given = 1.0 / self.size(ratio);
            (k / sum - given, -k * slope / (sum * sum) - self.exponent * given / ratio)
        };
        // Beyond this ratio the operating line crosses saturation.
        let crossing = h.iter().zip(d).map(|(h, d)| h / d).fold(f64::INFINITY, f64::min);
        if crossing <= 1e-2 {
            return None;
        }
        let (mut low, mut high) = (1e-2, 10.0);
        if crossing > high {
            if gap(high).0 > 0.0 {
                return None;
            }
        } else {
            high = crossing * (1.0 - 1e-9);
        }
        let mut ratio = if start.ratio > 0.0 { start.ratio } else { self.design_ratio }.min(0.7 * high);
        for _ in 0..60 {
            let (f, slope) = gap(ratio);
            if f > 0.0 {
                low = ratio;
            } else {
                high = ratio;
            }
            let next = ratio - f / slope;
            // What a step of Newton leaves goes with its square.
            if (next - ratio).abs() < 5e-5 * ratio {
                start.ratio = next;
                return Some(next);
            }
            ratio = if next > low && next < high { next } else { 0.5 * (low + high) };
            if high - low < 1e-12 {
                return None;
            }
        }
        None
    }

    /// Evaporation for heat `q` at a share of the air, kg/s; `leaving_k`, where the leaving air was above the wet bulb, 0
    /// where nothing is known.
    #[inline]
    fn evaporation(
        &self,
        s: &Saturation,
        air: &TowerAir,
        q: f64,
        flow: f64,
        share: f64,
        leaving_k: &mut f64,
    ) -> (f64, bool) {
        let g = self.air_kg_per_s * flow * share;
        let h_out = air.h_air + q / g;
        let guess = if *leaving_k > 0.0 { *leaving_k } else { 0.6 * q / g / 2500.0 };
        let (t, settled) = s.from_enthalpy(h_out, air.wet_bulb_c + guess);
        *leaving_k = t - air.wet_bulb_c;
        (g * (s.w(t) - air.w_air), settled)
    }

    /// Runs the fans to a set point for the cold water.
    #[inline]
    pub fn run(&self, s: &Saturation, air: &TowerAir, q: f64, flow: f64, set_c: f64) -> TowerStep {
        if q < 1e-3 || flow <= 0.0 {
            return TowerStep { cold_c: set_c.max(air.wet_bulb_c), ..TowerStep::default() };
        }
        let mut start = TowerStart::default();
        if self.reaches(s, air, q, flow, set_c) {
            return self.run_from_full(s, air, q, flow, set_c, f64::NEG_INFINITY, true, &mut start);
        }
        let (full, ok) = self.cold_at_full(s, air, q, flow, &mut start);
        self.run_from_full(s, air, q, flow, set_c, full, ok, &mut start)
    }

    /// As [`run`](Self::run), where the cold water with the fan at full speed is known; anything below the set point where
    /// the tower [`reaches`](Self::reaches) it.
    #[inline]
    #[allow(clippy::too_many_arguments)]
    pub fn run_from_full(
        &self,
        s: &Saturation,
        air: &TowerAir,
        q: f64,
        flow: f64,
        set_c: f64,
        full_c: f64,
        full_ok: bool,
        start: &mut TowerStart,
    ) -> TowerStep {
        let mut limits = 0;
        let mut settled = full_ok;
        let range = q / (flow * self.water_kg_per_s * CP);
        let cube = |x: f64| self.fan_w * flow * x * x * x;
        let (cold_c, air_share, fan_w, evaporation);
        if full_c >= set_c {
            if full_c > set_c + 1e-6 {
                limits |= PlantLimit::TowerFull.bit();
            }
            let (e, ok) = self.evaporation(s, air, q, flow, 1.0, &mut start.leaving_k[0]);
            settled &= ok;
            (cold_c, air_share, fan_w, evaporation) = (full_c, 1.0, cube(1.0), e);
        } else {
            let ratio = self.ratio_for(s, air, range, set_c, start);
            // Fan off and still colder: throttled to hold the set point, as far as the law of the tower goes.
            let least = (self.design_ratio / 9.99).min(self.off_share);
            let share = ratio.map_or(least, |r| self.design_ratio / r);
            if share <= self.off_share {
                let share = share.max(least);
                let (e, ok) = self.evaporation(s, air, q, flow, share, &mut start.leaving_k[0]);
                settled &= ok;
                (cold_c, air_share, fan_w, evaporation) = (set_c, share, 0.0, e);
            } else if share < self.lowest {
                // Between off and the lowest speed the fan cycles.
                let (idle, ok1) = self.cold_at_speed(s, air, q, flow, Speed::Off, start);
                let (slow, ok2) = self.cold_at_speed(s, air, q, flow, Speed::Lowest, start);
                let [_, by_lowest, by_off] = &mut start.leaving_k;
                let (e1, ok3) = self.evaporation(s, air, q, flow, self.off_share, by_off);
                let (e2, ok4) = self.evaporation(s, air, q, flow, self.lowest, by_lowest);
                settled &= ok1 && ok2 && ok3 && ok4;
                let f = ((idle - set_c) / (idle - slow)).clamp(0.0, 1.0);
                cold_c = set_c;
                air_share = self.off_share + f * (self.lowest - self.off_share);
                fan_w = f * cube(self.lowest);
                evaporation = e1 + f * (e2 - e1);
            } else {
                settled &= ratio.is_some();
                let (e, ok) = self.evaporation(s, air, q, flow, share, &mut start.leaving_k[0]);
                settled &= ok;
                (cold_c, air_share, fan_w, evaporation) = (set_c, share, cube(share), e);
            }
        }
        if !settled {
            limits |= PlantLimit::NotSettled.bit();
        }
        let evaporation = evaporation.max(0.0);
        // Bleed and drift together hold the cycles of concentration.
        TowerStep {
            cold_c,
            fan_w,
            make_up_kg_per_s: evaporation * self.cycles / (self.cycles - 1.0),
            evaporation_kg_per_s: evaporation,
            air_share,
            limits,
        }
    }
}
