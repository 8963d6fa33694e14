//! A dry coil between air and water: terminal cooling and heating coils.
//!
//! The thermal resistance from air to water is split into three:
//!
//! * air side: falls with the dry-air mass flow to a stated exponent;
//! * metal: constant;
//! * water side: follows the film coefficient in the tubes: Gnielinski's correlation in turbulent flow (Reynolds
//!   number from 4000), a Nusselt number of 3.66 in laminar flow (to 2300), a straight line in the Reynolds number
//!   between (Gnielinski 2013). Entrance effects are left out, which understates a laminar coil.
//!
//! The model is for a *dry* coil: the caller compares the entering water and the surface temperature that is
//! reported here with the dew point of the air that meets the coil. Water properties are taken at the mean of
//! entering and leaving water; volume flow of water is at the entering temperature.

use crate::ExchangeError;
use crate::effectiveness::{self, FlowArrangement};
use crate::error::within;
use drycoil_air::raw as air;
use drycoil_solve::bracketed;
use drycoil_units::{
    Conductance, HumidityRatio, Length, MassFlow, Power, Quantity, Temperature, Velocity, WaterFlow,
};
use drycoil_water::friction::{Regime, regime};
use drycoil_water::liquid::raw as liquid;

/// How the water circuits run against the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoilCircuiting {
    /// Pure counterflow: the limit of many rows.
    Counterflow,
    /// Pure parallel flow: a coil piped the wrong way round.
    Parallel,
    /// One pass across the air, both streams unmixed.
    CrossFlow,
    /// Rows connected in overall counterflow; air unmixed and water mixed in each row.
    CrossCounterflow {
        /// Number of rows, 1 to 50.
        rows: u32,
    },
}

/// The stream with the smaller capacity rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SmallerStream {
    /// The air.
    Air,
    /// The water.
    Water,
}

impl CoilCircuiting {
    /// The exchanger arrangement, given which stream has the smaller capacity rate.
    pub const fn arrangement(self, smaller: SmallerStream) -> FlowArrangement {
        match (self, smaller) {
            (Self::Counterflow, _) => FlowArrangement::Counterflow,
            (Self::Parallel, _) => FlowArrangement::Parallel,
            (Self::CrossFlow, _) => FlowArrangement::CrossBothUnmixed,
            (Self::CrossCounterflow { rows }, SmallerStream::Air) => {
                FlowArrangement::RowsLargerMixed { rows }
            }
            (Self::CrossCounterflow { rows }, SmallerStream::Water) => {
                FlowArrangement::RowsSmallerMixed { rows }
            }
        }
    }
}

/// The tubes as the water sees them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tubes {
    /// Inner diameter.
    pub inner_diameter: Length,
    /// How many circuits share the water, 1 to 1000.
    pub parallel_circuits: u32,
}

/// Kernels on plain numbers, for the year loop. The caller keeps flows positive and temperatures in range.
pub mod raw {
    use super::{CoilCircuiting, SmallerStream, effectiveness, liquid};

    /// Duty of an exchanger of constant UA, in the units of the arguments; positive when the air is warmer.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct ConstantUa {
        /// Number of transfer units.
        pub ntu: f64,
        /// Capacity ratio.
        pub ratio: f64,
        /// Effectiveness.
        pub effectiveness: f64,
        /// Heat from air to water.
        pub duty: f64,
        /// Leaving air.
        pub air_out: f64,
        /// Leaving water.
        pub water_out: f64,
    }

    /// Solves an exchanger of constant UA.
    #[inline]
    pub fn constant_ua(
        circuiting: CoilCircuiting,
        ua: f64,
        c_air: f64,
        c_water: f64,
        air_in: f64,
        water_in: f64,
    ) -> ConstantUa {
        let (smaller, c_min, c_max) = if c_air <= c_water {
            (SmallerStream::Air, c_air, c_water)
        } else {
            (SmallerStream::Water, c_water, c_air)
        };
        let (ntu, ratio) = (ua / c_min, c_min / c_max);
        let e = effectiveness::raw::effectiveness(circuiting.arrangement(smaller), ntu, ratio);
        let duty = e * c_min * (air_in - water_in);
        ConstantUa {
            ntu,
            ratio,
            effectiveness: e,
            duty,
            air_out: air_in - duty / c_air,
            water_out: water_in + duty / c_water,
        }
    }

    /// Film coefficient of water in a tube, W/(m2 K), and the Reynolds number.
    #[inline]
    pub fn water_film(velocity_m_per_s: f64, diameter_m: f64, t_c: f64) -> (f64, f64) {
        let mu = liquid::viscosity_pa_s(t_c);
        let k = liquid::conductivity_w_per_m_k(t_c);
        let pr = liquid::specific_heat_j_per_kg_k(t_c) * mu / k;
        let re = liquid::density_kg_per_m3(t_c) * velocity_m_per_s * diameter_m / mu;
        let gnielinski = |re: f64| {
            let f8 = (0.79 * re.ln() - 1.64).powi(-2) / 8.0;
            f8 * (re - 1000.0) * pr / (1.0 + 12.7 * f8.sqrt() * (pr.cbrt().powi(2) - 1.0))
        };
        let nu = if re <= 2300.0 {
            3.66
        } else if re >= 4000.0 {
            gnielinski(re)
        } else {
            let share = (re - 2300.0) / 1700.0;
            3.66 + share * (gnielinski(4000.0) - 3.66)
        };
        (nu * k / diameter_m, re)
    }

    /// A coil reduced to the numbers that the loop needs.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Kernel {
        /// Circuiting.
        pub circuiting: CoilCircuiting,
        /// Air-side resistance at 1 kg/s of dry air, K/W.
        pub air_k_per_w: f64,
        /// Exponent of the air-side conductance in the flow.
        pub air_exponent: f64,
        /// Metal resistance, K/W.
        pub metal_k_per_w: f64,
        /// Inner surface for which the film coefficient of the water counts, m2.
        pub water_area_m2: f64,
        /// Inner diameter of the tubes, m.
        pub diameter_m: f64,
        /// Flow area of all circuits, m2.
        pub flow_area_m2: f64,
    }

    /// What a coil does.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Outcome {
        /// The exchanger.
        pub exchanger: ConstantUa,
        /// Capacity rate of the air, W/K.
        pub c_air_w_per_k: f64,
        /// Capacity rate of the water, W/K.
        pub c_water_w_per_k: f64,
        /// Air-side, metal and water-side resistance, K/W.
        pub resistance_k_per_w: [f64; 3],
        /// Water velocity in the tubes, m/s.
        pub velocity_m_per_s: f64,
        /// Reynolds number in the tubes.
        pub reynolds: f64,
        /// Change of the mean water temperature in the last step, K.
        pub residual_k: f64,
        /// Steps made.
        pub iterations: u32,
    }

    impl Kernel {
        /// Solves the coil: dry-air flow kg/s, humid specific heat J/K per kg of dry air, water kg/s.
        pub fn solve(
            &self,
            t_air_c: f64,
            cp_air: f64,
            air_kg_per_s: f64,
            t_water_c: f64,
            water_kg_per_s: f64,
        ) -> Outcome {
            self.solve_from(t_water_c, t_air_c, cp_air, air_kg_per_s, t_water_c, water_kg_per_s)
        }

        /// As [`Self::solve`], from a first guess of the mean water temperature.
        pub fn solve_from(
            &self,
            guess_c: f64,
            t_air_c: f64,
            cp_air: f64,
            air_kg_per_s: f64,
            t_water_c: f64,
            water_kg_per_s: f64,
        ) -> Outcome {
            let c_air = air_kg_per_s * cp_air;
            let r_air = self.air_k_per_w * air_kg_per_s.powf(-self.air_exponent);
            let mut mean = guess_c;
            // The step before: mean and how far the next mean lay from it.
            let mut before: Option<(f64, f64)> = None;
            let mut iterations = 0;
            loop {
                let velocity = water_kg_per_s / (liquid::density_kg_per_m3(mean) * self.flow_area_m2);
                let (film, re) = water_film(velocity, self.diameter_m, mean);
                let r_water = 1.0 / (film * self.water_area_m2);
                let c_water = water_kg_per_s * liquid::specific_heat_j_per_kg_k(mean);
                let ua = 1.0 / (r_air + self.metal_k_per_w + r_water);
                let x = constant_ua(self.circuiting, ua, c_air, c_water, t_air_c, t_water_c);
                let next = 0.5 * (t_water_c + x.water_out);
                let residual_k = next - mean;
                iterations += 1;
                if residual_k.abs() <= 1e-11 || iterations >= 60 {
                    return Outcome {
                        exchanger: x,
                        c_air_w_per_k: c_air,
                        c_water_w_per_k: c_water,
                        resistance_k_per_w: [r_air, self.metal_k_per_w, r_water],
                        velocity_m_per_s: velocity,
                        reynolds: re,
                        residual_k,
                        iterations,
                    };
                }
                // The properties of water pull the mean only weakly, so one step of substitution comes near and secants
                // end it; between the temperatures of water and air, beyond which a secant is not trusted.
                let (low, high) = (t_water_c.min(t_air_c), t_water_c.max(t_air_c));
                let secant = before
                    .map(|(m, r)| mean - residual_k * (mean - m) / (residual_k - r))
                    .filter(|t| *t >= low && *t <= high);
                before = Some((mean, residual_k));
                mean = secant.unwrap_or(next);
            }
        }
    }
}

/// A dry coil with its resistances at one reference condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensibleCoil {
    /// Circuiting.
    pub circuiting: CoilCircuiting,
    /// Tubes.
    pub tubes: Tubes,
    /// Dry-air flow at which the resistances hold.
    pub reference_air: MassFlow,
    /// Water flow at which they hold.
    pub reference_water: WaterFlow,
    /// Water temperature at which they hold.
    pub reference_water_temperature: Temperature,
    /// Air-side conductance at the reference.
    pub air_side: Conductance,
    /// Exponent of the air-side conductance in the dry-air flow, 0 to 1.
    pub air_exponent: f64,
    /// Conductance of the metal.
    pub metal: Conductance,
    /// Water-side conductance at the reference.
    pub water_side: Conductance,
}

/// Air and water entering a coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilEntering {
    /// Dry bulb of the air.
    pub dry_bulb: Temperature,
    /// Its humidity ratio.
    pub humidity_ratio: HumidityRatio,
    /// Dry-air mass flow.
    pub dry_air: MassFlow,
    /// Temperature of the water.
    pub water: Temperature,
    /// Water flow, at the entering temperature.
    pub water_flow: WaterFlow,
}

/// What a dry coil does, with its intermediates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensibleResult {
    /// What entered.
    pub entering: CoilEntering,
    /// Heat from air to water: positive cools the air, negative heats it.
    pub duty: Power,
    /// Leaving air.
    pub leaving_air: Temperature,
    /// Leaving water.
    pub leaving_water: Temperature,
    /// Capacity rate of the air.
    pub air_capacity: Conductance,
    /// Capacity rate of the water.
    pub water_capacity: Conductance,
    /// Overall conductance.
    pub ua: Conductance,
    /// Air-side, metal and water-side resistance, K/W.
    pub resistance_k_per_w: [f64; 3],
    /// Number of transfer units.
    pub ntu: f64,
    /// Capacity ratio.
    pub capacity_ratio: f64,
    /// Effectiveness.
    pub effectiveness: f64,
    /// Temperature of the fin base where the water enters, with the leaving air outside: the coldest surface of a
    /// cooling coil in counterflow. In cross-flow the coldest corner may be a little colder, never colder than the
    /// entering water.
    pub surface_at_water_inlet: Temperature,
    /// Water velocity in the tubes.
    pub water_velocity: Velocity,
    /// Reynolds number in the tubes.
    pub reynolds: f64,
    /// Regime in the tubes; laminar and transitional are worth a warning.
    pub water_regime: Regime,
    /// Change of the mean water temperature in the last step, K.
    pub residual_k: f64,
    /// Steps made.
    pub iterations: u32,
}

/// A flow that gives a wanted duty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolvedFlow {
    /// The coil at that flow.
    pub result: SensibleResult,
    /// Duty minus the wanted duty, W.
    pub residual_w: f64,
    /// Steps made.
    pub iterations: u32,
}

impl SensibleCoil {
    fn check(&self) -> Result<(), ExchangeError> {
        within("inner diameter of the tubes", self.tubes.inner_diameter.si(), 1e-3, 0.1, "m")?;
        within("parallel circuits", f64::from(self.tubes.parallel_circuits), 1.0, 1000.0, "")?;
        within("reference dry-air flow", self.reference_air.si(), 1e-4, 1e3, "kg/s")?;
        within("reference water flow", self.reference_water.si(), 1e-8, 10.0, "m3/s")?;
        within("reference water temperature", self.reference_water_temperature.si(), 0.0, 100.0, "degC")?;
        within("air-side conductance", self.air_side.si(), 1e-3, 1e8, "W/K")?;
        within("air exponent", self.air_exponent, 0.0, 1.0, "")?;
        within("metal conductance", self.metal.si(), 1e-3, 1e12, "W/K")?;
        within("water-side conductance", self.water_side.si(), 1e-3, 1e10, "W/K")?;
        if let CoilCircuiting::CrossCounterflow { rows } = self.circuiting {
            within("number of rows", f64::from(rows), 1.0, 50.0, "")?;
        }
        Ok(())
    }

    /// The coil reduced for hot loops.
    pub fn kernel(&self) -> Result<raw::Kernel, ExchangeError> {
        self.check()?;
        let d = self.tubes.inner_diameter.si();
        let flow_area = std::f64::consts::FRAC_PI_4 * d * d * f64::from(self.tubes.parallel_circuits);
        let (film, _) =
            raw::water_film(self.reference_water.si() / flow_area, d, self.reference_water_temperature.si());
        Ok(raw::Kernel {
            circuiting: self.circuiting,
            air_k_per_w: self.reference_air.si().powf(self.air_exponent) / self.air_side.si(),
            air_exponent: self.air_exponent,
            metal_k_per_w: 1.0 / self.metal.si(),
            water_area_m2: self.water_side.si() / film,
            diameter_m: d,
            flow_area_m2: flow_area,
        })
    }

    /// Leaving states at given flows.
    ///
    /// Air -40 to 80 degC, water 0 to 100 degC (also leaving), flows above zero.
    ///
    /// ```
    /// use drycoil_exchange::sensible_coil::{CoilCircuiting, CoilEntering, SensibleCoil, Tubes};
    /// use drycoil_units::{Conductance, HumidityRatio, Length, StandardAirFlow, Temperature, WaterFlow};
    ///
    /// let coil = SensibleCoil {
    ///     circuiting: CoilCircuiting::CrossCounterflow { rows: 2 },
    ///     tubes: Tubes { inner_diameter: Length::inches(0.45), parallel_circuits: 4 },
    ///     reference_air: StandardAirFlow::cfm(600.0).dry_air_mass_flow(),
    ///     reference_water: WaterFlow::gpm(3.0),
    ///     reference_water_temperature: Temperature::fahrenheit(58.0),
    ///     air_side: Conductance::w_per_k(800.0),
    ///     air_exponent: 0.6,
    ///     metal: Conductance::w_per_k(10_000.0),
    ///     water_side: Conductance::w_per_k(1500.0),
    /// };
    /// let entering = CoilEntering {
    ///     dry_bulb: Temperature::fahrenheit(75.0),
    ///     humidity_ratio: HumidityRatio::kg_per_kg(0.0092),
    ///     dry_air: StandardAirFlow::cfm(600.0).dry_air_mass_flow(),
    ///     water: Temperature::fahrenheit(57.0),
    ///     water_flow: WaterFlow::gpm(3.0),
    /// };
    /// let r = coil.solve(&entering).unwrap();
    /// assert!(r.leaving_air.to_fahrenheit() > 57.0 && r.leaving_air.to_fahrenheit() < 70.0);
    /// ```
    pub fn solve(&self, entering: &CoilEntering) -> Result<SensibleResult, ExchangeError> {
        self.solve_with(&self.kernel()?, entering)
    }

    /// As [`Self::solve`], with the kernel of this coil made before.
    pub fn solve_with(
        &self,
        kernel: &raw::Kernel,
        entering: &CoilEntering,
    ) -> Result<SensibleResult, ExchangeError> {
        self.solve_near(kernel, entering, entering.water.si())
    }

    fn solve_near(
        &self,
        kernel: &raw::Kernel,
        e: &CoilEntering,
        guess_c: f64,
    ) -> Result<SensibleResult, ExchangeError> {
        within("entering air", e.dry_bulb.si(), -40.0, 80.0, "degC")?;
        within("humidity ratio of the entering air", e.humidity_ratio.si(), 0.0, 0.2, "kg/kg")?;
        within("dry-air flow", e.dry_air.si(), 1e-6, 1e3, "kg/s")?;
        within("entering water", e.water.si(), 0.0, 100.0, "degC")?;
        within("water flow", e.water_flow.si(), 1e-9, 10.0, "m3/s")?;
        let water_kg_per_s = e.water_flow.si() * liquid::density_kg_per_m3(e.water.si());
        let cp_air = air::humid_specific_heat_j_per_kg_k(e.humidity_ratio.si());
        let o =
            kernel.solve_from(guess_c, e.dry_bulb.si(), cp_air, e.dry_air.si(), e.water.si(), water_kg_per_s);
        within("leaving water", o.exchanger.water_out, 0.0, 100.0, "degC")?;
        if o.residual_k.abs() > 1e-9 {
            return Err(ExchangeError::NotConverged {
                what: "mean water temperature of the coil",
                residual: o.residual_k,
                iterations: o.iterations,
            });
        }
        let total: f64 = o.resistance_k_per_w.iter().sum();
        let inner = (o.resistance_k_per_w[1] + o.resistance_k_per_w[2]) / total;
        let outside = match self.circuiting {
            CoilCircuiting::Parallel => e.dry_bulb.si(),
            _ => o.exchanger.air_out,
        };
        Ok(SensibleResult {
            entering: *e,
            duty: Power::from_si(o.exchanger.duty),
            leaving_air: Temperature::from_si(o.exchanger.air_out),
            leaving_water: Temperature::from_si(o.exchanger.water_out),
            air_capacity: Conductance::from_si(o.c_air_w_per_k),
            water_capacity: Conductance::from_si(o.c_water_w_per_k),
            ua: Conductance::from_si(1.0 / total),
            resistance_k_per_w: o.resistance_k_per_w,
            ntu: o.exchanger.ntu,
            capacity_ratio: o.exchanger.ratio,
            effectiveness: o.exchanger.effectiveness,
            surface_at_water_inlet: Temperature::from_si(e.water.si() + (outside - e.water.si()) * inner),
            water_velocity: Velocity::from_si(o.velocity_m_per_s),
            reynolds: o.reynolds,
            water_regime: regime(o.reynolds),
            residual_k: o.residual_k,
            iterations: o.iterations,
        })
    }

    /// The water flow, between two limits, that gives a duty: what a modulating valve does. `entering.water_flow` is not
    /// read. A duty beyond either limit is refused with the duty that the limit gives.
    pub fn water_flow_for_duty(
        &self,
        entering: &CoilEntering,
        duty: Power,
        least: WaterFlow,
        most: WaterFlow,
    ) -> Result<SolvedFlow, ExchangeError> {
        self.water_flow_for_duty_with(&self.kernel()?, entering, duty, least, most)
    }

    /// As [`Self::water_flow_for_duty`], with the kernel of this coil made before.
    pub fn water_flow_for_duty_with(
        &self,
        kernel: &raw::Kernel,
        entering: &CoilEntering,
        duty: Power,
        least: WaterFlow,
        most: WaterFlow,
    ) -> Result<SolvedFlow, ExchangeError> {
        within("least water flow", least.si(), 1e-9, most.si(), "m3/s")?;
        solve_flow("duty of the coil by water flow", duty, least.si(), most.si(), |q, guess_c| {
            let entering = CoilEntering { water_flow: WaterFlow::from_si(q), ..*entering };
            self.solve_near(kernel, &entering, guess_c.unwrap_or(entering.water.si()))
        })
    }

    /// The dry-air flow, between two limits, that gives a duty: what the fan does. `entering.dry_air` is not read.
    pub fn air_flow_for_duty(
        &self,
        entering: &CoilEntering,
        duty: Power,
        least: MassFlow,
        most: MassFlow,
    ) -> Result<SolvedFlow, ExchangeError> {
        within("least dry-air flow", least.si(), 1e-6, most.si(), "kg/s")?;
        let kernel = self.kernel()?;
        solve_flow("duty of the coil by air flow", duty, least.si(), most.si(), |m, guess_c| {
            let entering = CoilEntering { dry_air: MassFlow::from_si(m), ..*entering };
            self.solve_near(&kernel, &entering, guess_c.unwrap_or(entering.water.si()))
        })
    }
}

fn solve_flow(
    what: &'static str,
    duty: Power,
    least: f64,
    most: f64,
    at: impl Fn(f64, Option<f64>) -> Result<SensibleResult, ExchangeError>,
) -> Result<SolvedFlow, ExchangeError> {
    let wanted = duty.si();
    let (low, high) = (at(least, None)?, at(most, None)?);
    let out = |nearest: f64| ExchangeError::OutOfReach { what, wanted, nearest, unit: "W" };
    let sign = high.duty.si().signum();
    if wanted * sign > high.duty.si() * sign {
        return Err(out(high.duty.si()));
    }
    if wanted * sign < low.duty.si() * sign {
        return Err(out(low.duty.si()));
    }
    let tolerance = 1e-10 * wanted.abs().max(1e-3);
    // The ends are known, and each step begins at the mean water temperature of the step before.
    let mut last = high;
    let root = bracketed::<ExchangeError>(what, least, most, tolerance, |q| -> Result<f64, ExchangeError> {
        if q == least {
            return Ok(low.duty.si() - wanted);
        }
        if q == most {
            return Ok(high.duty.si() - wanted);
        }
        let mean = f64::midpoint(last.entering.water.si(), last.leaving_water.si());
        last = at(q, Some(mean))?;
        Ok(last.duty.si() - wanted)
    })?;
    let mean = f64::midpoint(last.entering.water.si(), last.leaving_water.si());
    Ok(SolvedFlow { result: at(root.x, Some(mean))?, residual_w: root.residual, iterations: root.iterations })
}

/// A catalogue's rating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatingPoint {
    /// What entered.
    pub entering: CoilEntering,
    /// The rated duty; positive cools the air.
    pub duty: Power,
}

/// Which parameters are fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FittedParameters {
    /// The total resistance only (one point is enough); the split is given.
    Total {
        /// Share of the air side in air plus water resistance at the first point.
        air_share: f64,
        /// Exponent of the air side.
        air_exponent: f64,
    },
    /// Air-side and water-side resistance (at least two points).
    AirAndWater {
        /// Exponent of the air side.
        air_exponent: f64,
    },
    /// Both resistances and the exponent (at least three points).
    AirWaterAndExponent,
}

/// A rating point beside what the fitted coil gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedPoint {
    /// The rated duty.
    pub rated: Power,
    /// The duty of the fitted coil.
    pub fitted: Power,
    /// Fitted over rated, less one.
    pub relative_residual: f64,
}

/// A coil fitted to rating points.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedCoil {
    /// The coil; its reference is the first rating point.
    pub coil: SensibleCoil,
    /// Each point with its residual, in the order given.
    pub points: Vec<FittedPoint>,
    /// Root mean square of the relative residuals.
    pub rms_residual: f64,
    /// Relative residual of the largest magnitude.
    pub largest_residual: f64,
    /// Steps of the least-squares iteration.
    pub iterations: u32,
}

/// Fits a coil to rating points by least squares of the relative duty (Levenberg-Marquardt in the logarithms of
/// the resistances). The metal holds a given share (0 to 0.5) of the total resistance at the first point.
/// An exponent that the points do not support within 0 to 1 is refused.
pub fn fit_rating_points(
    circuiting: CoilCircuiting,
    tubes: Tubes,
    metal_share: f64,
    choice: FittedParameters,
    points: &[RatingPoint],
) -> Result<FittedCoil, ExchangeError> {
    within("metal share of the resistance", metal_share, 1e-6, 0.5, "")?;
    let (needed, exponent) = match choice {
        FittedParameters::Total { air_share, air_exponent } => {
            within("air share of the resistance", air_share, 0.01, 0.99, "")?;
            (1, air_exponent)
        }
        FittedParameters::AirAndWater { air_exponent } => (2, air_exponent),
        FittedParameters::AirWaterAndExponent => (3, 0.6),
    };
    if points.len() < needed {
        return Err(ExchangeError::TooFewRatingPoints { given: points.len(), needed });
    }
    for p in points {
        let dt = p.entering.dry_bulb.si() - p.entering.water.si();
        within(
            "rated duty in the direction of the temperature difference",
            p.duty.si() * dt.signum(),
            1e-6,
            1e9,
            "W",
        )?;
    }
    let first = points[0].entering;
    let build = |x: &[f64]| {
        let (ra, rw, n) = match choice {
            FittedParameters::Total { air_share, air_exponent } => {
                let total = x[0].exp();
                (total * air_share, total * (1.0 - air_share), air_exponent)
            }
            FittedParameters::AirAndWater { air_exponent } => (x[0].exp(), x[1].exp(), air_exponent),
            FittedParameters::AirWaterAndExponent => (x[0].exp(), x[1].exp(), x[2]),
        };
        let rm = metal_share / (1.0 - metal_share) * (ra + rw);
        SensibleCoil {
            circuiting,
            tubes,
            reference_air: first.dry_air,
            reference_water: first.water_flow,
            reference_water_temperature: first.water,
            air_side: Conductance::from_si(1.0 / ra),
            air_exponent: n,
            metal: Conductance::from_si(1.0 / rm),
            water_side: Conductance::from_si(1.0 / rw),
        }
    };
    let residuals = |x: &[f64]| -> Result<Vec<f64>, ExchangeError> {
        let coil = build(x);
        points.iter().map(|p| Ok(coil.solve(&p.entering)?.duty.si() / p.duty.si() - 1.0)).collect()
    };
    // Start: the resistance of the first point by the inverse of its effectiveness, 65 % on the air side.
    let c_air = first.dry_air.si() * air::humid_specific_heat_j_per_kg_k(first.humidity_ratio.si());
    let rho_cp =
        liquid::density_kg_per_m3(first.water.si()) * liquid::specific_heat_j_per_kg_k(first.water.si());
    let c_water = first.water_flow.si() * rho_cp;
    let (c_min, c_max) = (c_air.min(c_water), c_air.max(c_water));
    let smaller = if c_air <= c_water { SmallerStream::Air } else { SmallerStream::Water };
    let e = points[0].duty.si() / (c_min * (first.dry_bulb.si() - first.water.si()));
    within("effectiveness of the first rating point", e, 1e-6, 1.0, "")?;
    let ntu = effectiveness::transfer_units(circuiting.arrangement(smaller), e, c_min / c_max)?.ntu;
    let r_total = (1.0 - metal_share) / (ntu * c_min);
    let mut x = match choice {
        FittedParameters::Total { .. } => vec![r_total.ln()],
        FittedParameters::AirAndWater { .. } => vec![(0.65 * r_total).ln(), (0.35 * r_total).ln()],
        FittedParameters::AirWaterAndExponent => vec![(0.65 * r_total).ln(), (0.35 * r_total).ln(), exponent],
    };
    let n = x.len();
    let square = |r: &[f64]| r.iter().map(|v| v * v).sum::<f64>();
    let mut r = residuals(&x)?;
    let mut damping = 1e-3;
    let mut iterations = 0;
    let mut settled = false;
    while iterations < 200 && !settled {
        iterations += 1;
        let mut jacobian = vec![vec![0.0; n]; r.len()];
        for k in 0..n {
            // Inward at the upper end of the exponent.
            let step = if k == 2 && x[k] > 0.5 { -1e-6 } else { 1e-6 };
            let mut y = x.clone();
            y[k] += step;
            for (row, (a, b)) in jacobian.iter_mut().zip(residuals(&y)?.iter().zip(&r)) {
                row[k] = (a - b) / step;
            }
        }
        let mut normal = vec![vec![0.0; n]; n];
        let mut gradient = vec![0.0; n];
        for (row, value) in jacobian.iter().zip(&r) {
            for i in 0..n {
                gradient[i] += row[i] * value;
                for j in 0..n {
                    normal[i][j] += row[i] * row[j];
                }
            }
        }
        loop {
            let mut a = normal.clone();
            for (i, row) in a.iter_mut().enumerate() {
                row[i] += damping * (normal[i][i] + 1e-12);
            }
            let step = solve_linear(a, gradient.clone());
            let size = step.iter().map(|v| v.abs()).fold(0.0, f64::max);
            if !size.is_finite() || size <= 1e-11 {
                settled = true;
                break;
            }
            let y: Vec<f64> = x.iter().zip(&step).map(|(v, s)| v - s.clamp(-1.5, 1.5)).collect();
            let allowed = y.len() < 3 || (0.0..=1.0).contains(&y[2]);
            if allowed
                && let Ok(next) = residuals(&y)
                && square(&next) < square(&r)
            {
                (x, r) = (y, next);
                damping = (damping * 0.2).max(1e-12);
                break;
            }
            damping *= 8.0;
            if damping > 1e12 {
                settled = true;
                break;
            }
        }
    }
    if !settled {
        return Err(ExchangeError::NotConverged {
            what: "fit of the rating points",
            residual: square(&r).sqrt(),
            iterations,
        });
    }
    if n == 3 {
        within("fitted air exponent", x[2], 0.02, 0.98, "")?;
    }
    let coil = build(&x);
    let fitted: Vec<FittedPoint> = points
        .iter()
        .zip(&r)
        .map(|(p, res)| FittedPoint { rated: p.duty, fitted: p.duty * (1.0 + res), relative_residual: *res })
        .collect();
    let largest = r.iter().copied().fold(0.0_f64, |a, b| if b.abs() > a.abs() { b } else { a });
    Ok(FittedCoil {
        coil,
        points: fitted,
        rms_residual: (square(&r) / r.len() as f64).sqrt(),
        largest_residual: largest,
        iterations,
    })
}

/// Gaussian elimination with partial pivoting; a singular system gives infinities.
fn solve_linear(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Vec<f64> {
    let n = b.len();
    for i in 0..n {
        let p = (i..n).max_by(|&j, &k| a[j][i].abs().total_cmp(&a[k][i].abs())).unwrap_or(i);
        a.swap(i, p);
        b.swap(i, p);
        for j in i + 1..n {
            let f = a[j][i] / a[i][i];
            let pivot = a[i].clone();
            for (v, p) in a[j].iter_mut().zip(&pivot).skip(i) {
                *v -= f * p;
            }
            b[j] -= f * b[i];
        }
    }
    for i in (0..n).rev() {
        let s: f64 = (i + 1..n).map(|k| a[i][k] * b[k]).sum();
        b[i] = (b[i] - s) / a[i][i];
    }
    b
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::StandardAirFlow;
    use proptest::prelude::*;

    fn coil() -> SensibleCoil {
        SensibleCoil {
            circuiting: CoilCircuiting::CrossCounterflow { rows: 4 },
            tubes: Tubes { inner_diameter: Length::inches(0.45), parallel_circuits: 3 },
            reference_air: StandardAirFlow::cfm(600.0).dry_air_mass_flow(),
            reference_water: WaterFlow::gpm(3.0),
            reference_water_temperature: Temperature::fahrenheit(57.0),
            air_side: Conductance::from_si(750.0),
            air_exponent: 0.55,
            metal: Conductance::from_si(9000.0),
            water_side: Conductance::from_si(1800.0),
        }
    }

    fn entering(scfm: f64, gpm: f64, air_f: f64, water_f: f64) -> CoilEntering {
        CoilEntering {
            dry_bulb: Temperature::fahrenheit(air_f),
            humidity_ratio: HumidityRatio::kg_per_kg(0.0092),
            dry_air: StandardAirFlow::cfm(scfm).dry_air_mass_flow(),
            water: Temperature::fahrenheit(water_f),
            water_flow: WaterFlow::gpm(gpm),
        }
    }

    #[test]
    fn val_terminal_coil_rows() {
        // Recomputed for C_air = 4.5 scfm (0.240 + 0.444 x 0.0092), water 62.386 lb/ft3 and 1.0013 Btu/(lb F); printed
        // to 0.1 Btu/h and 0.001 F, so rounding only.
        for (scfm, gpm, ta, tw, ua, ntu, ratio, counter, cross) in [
            (
                600.0,
                3.0,
                75.0,
                55.0,
                900.0,
                1.36565,
                0.43844,
                [8863.8, 61.550, 60.897],
                [8529.7, 62.057, 60.675],
            ),
            (
                600.0,
                3.0,
                75.0,
                57.0,
                900.0,
                1.36565,
                0.43844,
                [7977.4, 62.895, 62.307],
                [7676.7, 63.351, 62.107],
            ),
            (
                600.0,
                1.5,
                75.0,
                55.0,
                900.0,
                1.36565,
                0.87688,
                [7881.1, 63.041, 65.486],
                [7418.4, 63.743, 64.871],
            ),
            (
                400.0,
                2.0,
                75.0,
                57.0,
                700.0,
                1.59325,
                0.43844,
                [5696.9, 62.033, 62.685],
                [5453.6, 62.587, 62.442],
            ),
        ] {
            let ca = 4.5 * scfm * (0.240 + 0.444 * 0.0092);
            let cw = gpm * 60.0 * 231.0 / 1728.0 * 62.386 * 1.0013;
            for (circuiting, want) in
                [(CoilCircuiting::Counterflow, counter), (CoilCircuiting::CrossFlow, cross)]
            {
                let x = raw::constant_ua(circuiting, ua, ca, cw, ta, tw);
                assert!((x.ntu - ntu).abs() < 6e-6 && (x.ratio - ratio).abs() < 1e-5, "{x:?}");
                assert!((x.duty - want[0]).abs() < 0.15, "{x:?} against {want:?}");
                assert!((x.air_out - want[1]).abs() < 6e-4 && (x.water_out - want[2]).abs() < 6e-4, "{x:?}");
            }
        }
    }

    #[test]
    fn phys_duty_is_proportional_to_the_temperature_difference() {
        let q = |tw: f64| raw::constant_ua(CoilCircuiting::CrossFlow, 900.0, 659.0, 1503.0, 75.0, tw).duty;
        assert!((q(57.0) / q(55.0) - 0.9).abs() < 1e-14);
    }

    #[test]
    fn val_water_film() {
        // Gnielinski at Re 10 000, Pr 7: f 0.03148, Nu 79.5 by hand from the correlation (0.3 %); laminar 3.66.
        let t = 20.0;
        let d = 0.012;
        let nu = liquid::viscosity_pa_s(t) / liquid::density_kg_per_m3(t);
        let (h, re) = raw::water_film(10_000.0 * nu / d, d, t);
        assert!((re - 10_000.0).abs() < 1e-6);
        let nusselt = h * d / liquid::conductivity_w_per_m_k(t);
        assert!((nusselt / 79.5 - 1.0).abs() < 3e-3, "{nusselt}");
        let (h, _) = raw::water_film(1000.0 * nu / d, d, t);
        assert!((h * d / liquid::conductivity_w_per_m_k(t) - 3.66).abs() < 1e-12);
    }

    #[test]
    fn phys_film_is_continuous_over_the_transition() {
        let d = 0.012;
        for t in [5.0, 15.0, 60.0] {
            let nu = liquid::viscosity_pa_s(t) / liquid::density_kg_per_m3(t);
            for re in [2300.0, 4000.0] {
                let (a, _) = raw::water_film((re - 1e-6) * nu / d, d, t);
                let (b, _) = raw::water_film((re + 1e-6) * nu / d, d, t);
                assert!((a / b - 1.0).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn inv_fit_recovers_the_coil() {
        let truth = coil();
        let points: Vec<RatingPoint> = [(600.0, 3.0), (600.0, 1.6), (400.0, 3.0), (300.0, 2.0), (800.0, 4.0)]
            .iter()
            .map(|&(s, g)| {
                let entering = entering(s, g, 75.0, 57.0);
                RatingPoint { entering, duty: truth.solve(&entering).unwrap().duty }
            })
            .collect();
        let total = 1.0 / 750.0 + 1.0 / 9000.0 + 1.0 / 1800.0;
        let share = 1.0 / 9000.0 / total;
        let fit = fit_rating_points(
            truth.circuiting,
            truth.tubes,
            share,
            FittedParameters::AirWaterAndExponent,
            &points,
        )
        .unwrap();
        assert!(fit.rms_residual < 1e-9, "{fit:?}");
        assert!((fit.coil.air_exponent - 0.55).abs() < 1e-5);
        assert!(
            (fit.coil.air_side.si() / 750.0 - 1.0).abs() < 1e-5
                && (fit.coil.water_side.si() / 1800.0 - 1.0).abs() < 1e-5
        );
        let one = fit_rating_points(
            truth.circuiting,
            truth.tubes,
            share,
            FittedParameters::Total { air_share: 0.7, air_exponent: 0.55 },
            &points[..1],
        )
        .unwrap();
        assert!(one.largest_residual.abs() < 1e-9);
        let noisy: Vec<RatingPoint> = points
            .iter()
            .enumerate()
            .map(|(i, p)| RatingPoint {
                duty: p.duty * (1.0 + 0.02 * if i % 2 == 0 { 1.0 } else { -1.0 }),
                ..*p
            })
            .collect();
        let fit = fit_rating_points(
            truth.circuiting,
            truth.tubes,
            share,
            FittedParameters::AirAndWater { air_exponent: 0.55 },
            &noisy,
        )
        .unwrap();
        assert!(
            fit.rms_residual > 1e-3 && fit.rms_residual <= 0.0201 && fit.largest_residual.abs() < 0.05,
            "{fit:?}"
        );
        assert!(matches!(
            fit_rating_points(
                truth.circuiting,
                truth.tubes,
                share,
                FittedParameters::AirWaterAndExponent,
                &points[..2]
            ),
            Err(ExchangeError::TooFewRatingPoints { given: 2, needed: 3 })
        ));
    }

    #[test]
    fn phys_duty_out_of_reach_is_refused_with_the_nearest() {
        let c = coil();
        let e = entering(600.0, 3.0, 75.0, 57.0);
        let most = c.solve(&CoilEntering { water_flow: WaterFlow::gpm(5.0), ..e }).unwrap().duty;
        let err =
            c.water_flow_for_duty(&e, most * 1.1, WaterFlow::gpm(0.2), WaterFlow::gpm(5.0)).unwrap_err();
        assert!(matches!(err, ExchangeError::OutOfReach { nearest, .. } if nearest == most.si()));
        assert!(c.water_flow_for_duty(&e, most * -0.1, WaterFlow::gpm(0.2), WaterFlow::gpm(5.0)).is_err());
        assert!(c.solve(&CoilEntering { water: Temperature::celsius(-1.0), ..e }).is_err());
    }

    proptest! {
        #[test]
        fn phys_balance_bounds_and_inverse(
            scfm in 100.0f64..1200.0, gpm in 0.3f64..6.0, ta in 60.0f64..85.0, tw in 45.0f64..140.0, share in 0.2f64..0.95,
        ) {
            prop_assume!((ta - tw).abs() > 1.0);
            let c = coil();
            let e = entering(scfm, gpm, ta, tw);
            let r = c.solve(&e).unwrap();
            let q_air = r.air_capacity.si() * (e.dry_bulb.si() - r.leaving_air.si());
            let q_water = r.water_capacity.si() * (r.leaving_water.si() - e.water.si());
            prop_assert!((q_air - r.duty.si()).abs() <= 1e-9 * r.duty.si().abs());
            prop_assert!((q_water - r.duty.si()).abs() <= 1e-9 * r.duty.si().abs());
            prop_assert!(r.effectiveness > 0.0 && r.effectiveness <= 1.0);
            // No stream passes the other's entering temperature.
            let (low, high) = (e.dry_bulb.si().min(e.water.si()), e.dry_bulb.si().max(e.water.si()));
            for t in [r.leaving_air.si(), r.leaving_water.si(), r.surface_at_water_inlet.si()] {
                prop_assert!(t >= low - 1e-9 && t <= high + 1e-9);
            }
            let low_flow = WaterFlow::gpm(0.01);
            let wanted = r.duty * share;
            if let Ok(s) = c.water_flow_for_duty(&e, wanted, low_flow, e.water_flow) {
                prop_assert!(s.residual_w.abs() <= 1e-8 * wanted.si().abs());
                prop_assert!(s.result.entering.water_flow <= e.water_flow);
            }
            let s = c.air_flow_for_duty(&e, wanted, MassFlow::from_si(1e-4), e.dry_air).unwrap();
            prop_assert!((s.result.duty.si() - wanted.si()).abs() <= 1e-8 * wanted.si().abs());
        }
    }
}
