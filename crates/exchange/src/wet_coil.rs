//! The deep drying coil: cooling and dehumidifying with cold water in counterflow.
//!
//! Reference model ([`DryingCoil::solve`]): the coil is followed along the air path with the fourth-order Runge-Kutta
//! rule. At each place the surface is dry or wet by its own temperature against the dew point of the air there, so a
//! partly wet coil needs no assumption. A wet surface takes sensible heat and vapour with a Lewis number of one;
//! the condensate leaves at the temperature of the surface where it forms. The water end is met by shooting.
//!
//! Fast model ([`raw::chord`]): effectiveness on enthalpy difference with the saturation curve replaced by its
//! chord between entering and leaving water (Braun 1989); the larger of the all-wet and the all-dry duty is taken.
//! For a partly wet coil that is low by up to about 5 % (compared with the reference model by a test).
//!
//! Simplifications: rows are taken as counterflow, so at least four are asked for (within 1.2 % of counterflow); the
//! air-side coefficient is the same wet and dry; fin efficiency is within the air-side conductance and held
//! constant; fog in the leaving air is counted as condensate.

use crate::bypass::{AirPoint, ApparatusDewPoint, CP_CONDENSATE_J_PER_KG_K, apparatus_dew_point};
use crate::error::within;
use crate::moist::settle;
use crate::sensible_coil::{self, CoilCircuiting, SensibleCoil};
use crate::{ExchangeError, effectiveness};
use drycoil_air::raw as air;
use drycoil_solve::bracketed;
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, Temperature, Velocity, WaterFlow};
use drycoil_water::friction::{Regime, regime};
use drycoil_water::liquid::raw as liquid;

/// A drying coil: the conductances of a coil of at least four rows or of pure counterflow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryingCoil {
    /// Conductances, tubes and circuiting, as for a dry coil.
    pub coil: SensibleCoil,
}

/// Air and water entering a drying coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryingEntering {
    /// The air.
    pub air: AirPoint,
    /// Its pressure.
    pub pressure: Pressure,
    /// Dry-air flow.
    pub dry_air: MassFlow,
    /// Temperature of the water, 0 degC or above.
    pub water: Temperature,
    /// Water flow, at the entering temperature.
    pub water_flow: WaterFlow,
}

/// What a drying coil does, with its intermediates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryingResult {
    /// What entered.
    pub entering: DryingEntering,
    /// The leaving air.
    pub leaving: AirPoint,
    /// Leaving dew point; `None` when the air carries no moisture.
    pub leaving_dew_point: Option<Temperature>,
    /// Leaving water.
    pub leaving_water: Temperature,
    /// Heat into the water.
    pub duty: Power,
    /// Dry-air flow times the fall of enthalpy.
    pub air_enthalpy: Power,
    /// Enthalpy that leaves with the condensate.
    pub condensate_enthalpy: Power,
    /// Condensate, fog included.
    pub condensate: MassFlow,
    /// The part of the condensate that formed as fog in the air.
    pub fog: MassFlow,
    /// Share of the surface that is wet.
    pub wet_share: f64,
    /// Surface temperature where the air leaves.
    pub coldest_surface: Temperature,
    /// Apparatus dew point and bypass factor of the process; `None` when the coil is dry or the line misses the curve.
    pub apparatus: Option<ApparatusDewPoint>,
    /// Capacity rate of the water, W/K.
    pub water_capacity_w_per_k: f64,
    /// Air-side, metal and water-side resistance, K/W.
    pub resistance_k_per_w: [f64; 3],
    /// Water velocity in the tubes.
    pub water_velocity: Velocity,
    /// Regime in the tubes.
    pub water_regime: Regime,
    /// Entering water temperature missed by, K.
    pub residual_k: f64,
    /// Shooting steps.
    pub iterations: u32,
}

/// A quantity solved for, with the coil at that value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolvedDrying<T> {
    /// The value.
    pub value: T,
    /// The coil there.
    pub result: DryingResult,
    /// Leaving humidity ratio minus the wanted one, kg/kg.
    pub residual: f64,
    /// Steps made.
    pub iterations: u32,
}

/// Kernels on plain numbers. The caller keeps states unsaturated and flows positive.
pub mod raw {
    use super::{CP_CONDENSATE_J_PER_KG_K, air, effectiveness};
    use crate::moist::saturated_from_enthalpy_c;

    /// Entering states and conductances of a counterflow coil.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Inputs {
        /// Entering dry bulb, degC.
        pub t_c: f64,
        /// Entering humidity ratio, kg/kg.
        pub w: f64,
        /// Pressure, Pa.
        pub p_pa: f64,
        /// Dry-air flow, kg/s.
        pub air_kg_per_s: f64,
        /// Entering water, degC.
        pub water_c: f64,
        /// Capacity rate of the water, W/K.
        pub c_water: f64,
        /// Air-side conductance, W/K.
        pub outer_w_per_k: f64,
        /// Conductance of metal and water side, W/K.
        pub inner_w_per_k: f64,
    }

    /// End of a march along the coil.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct March {
        /// Leaving enthalpy of the air, J/kg.
        pub h: f64,
        /// Leaving humidity ratio before any fog falls out, kg/kg.
        pub w: f64,
        /// Water temperature at the air outlet, degC.
        pub water_c: f64,
        /// Enthalpy carried off by condensate, W.
        pub condensate_w: f64,
        /// Share of the surface that is wet.
        pub wet_share: f64,
        /// Surface temperature at the air outlet, degC.
        pub surface_c: f64,
    }

    /// Surface temperature and whether it is wet.
    #[inline]
    fn surface(x: &Inputs, t: f64, w: f64, t_water: f64, cp: f64) -> (f64, f64) {
        let (go, gi) = (x.outer_w_per_k, x.inner_w_per_k);
        let dry = (go * t + gi * t_water) / (go + gi);
        let ws = air::saturation_humidity_ratio(dry, x.p_pa);
        if ws >= w {
            return (dry, 0.0);
        }
        let k = go / cp;
        let hv = air::vapour_enthalpy_j_per_kg(t);
        let mut s = dry;
        let mut ws = ws;
        for _ in 0..30 {
            let lift = hv - CP_CONDENSATE_J_PER_KG_K * s;
            let f = go * (t - s) + k * (w - ws) * lift - gi * (s - t_water);
            let slope = air::saturation_humidity_ratio_slope_per_k(s, x.p_pa);
            let df = go + k * (slope * lift + (w - ws) * CP_CONDENSATE_J_PER_KG_K) + gi;
            let step = f / df;
            s += step;
            ws = air::saturation_humidity_ratio(s, x.p_pa);
            if step.abs() < 1e-12 {
                break;
            }
        }
        (s, k * (w - ws))
    }

    /// Follows the coil from the air inlet, where the water leaves at `water_out_c`, in `steps` steps.
    pub fn march(x: &Inputs, water_out_c: f64, steps: u32) -> March {
        let n = f64::from(steps);
        let dx = 1.0 / n;
        let m = x.air_kg_per_s;
        // Rates of h, W, water temperature, condensate enthalpy per unit of surface.
        let rate = |y: [f64; 4]| {
            let t = air::dry_bulb_from_enthalpy_c(y[0], y[1]);
            let cp = air::humid_specific_heat_j_per_kg_k(y[1]);
            let (s, dm) = surface(x, t, y[1], y[2], cp);
            let sensible = x.outer_w_per_k * (t - s);
            let total = sensible + dm * air::vapour_enthalpy_j_per_kg(t);
            let drained = dm * CP_CONDENSATE_J_PER_KG_K * s;
            ([-total / m, -dm / m, -(total - drained) / x.c_water, drained], s, dm)
        };
        let add = |y: [f64; 4], k: [f64; 4], f: f64| std::array::from_fn(|i| y[i] + f * k[i]);
        let mut y = [air::enthalpy_j_per_kg(x.t_c, x.w), x.w, water_out_c, 0.0];
        let mut wet = 0_u32;
        for _ in 0..steps {
            let (k1, _, dm) = rate(y);
            let (k2, _, _) = rate(add(y, k1, 0.5 * dx));
            let (k3, _, _) = rate(add(y, k2, 0.5 * dx));
            let (k4, _, end) = rate(add(y, k3, dx));
            let before = y[2];
            for i in 0..4 {
                y[i] += dx / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
            }
            if y.iter().any(|v| !v.is_finite()) || !(-50.0..=90.0).contains(&y[2]) {
                // A far guess of the water outlet runs away; only its side matters to the shooting.
                let above = before > f64::midpoint(x.t_c, x.water_c);
                return March {
                    h: y[0],
                    w: y[1],
                    water_c: if above { 1e4 } else { -1e4 },
                    condensate_w: y[3],
                    wet_share: f64::from(wet) / (2.0 * n),
                    surface_c: before,
                };
            }
            wet += u32::from(dm > 0.0) + u32::from(end > 0.0);
        }
        let (_, surface_c, _) = rate(y);
        March {
            h: y[0],
            w: y[1],
            water_c: y[2],
            condensate_w: y[3],
            wet_share: f64::from(wet) / (2.0 * n),
            surface_c,
        }
    }

    /// Leaving air of the chord model.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Chord {
        /// Leaving dry bulb, degC.
        pub t_c: f64,
        /// Leaving humidity ratio, kg/kg; may lie a little above saturation where fog would form.
        pub w: f64,
        /// Fall of enthalpy of the air, W.
        pub air_w: f64,
        /// Heat into the water, W.
        pub water_w: f64,
        /// Leaving water, degC.
        pub water_out_c: f64,
        /// Condensate, kg/s.
        pub condensate_kg_per_s: f64,
        /// Change of the leaving water in the last step, K.
        pub residual_k: f64,
        /// Steps made.
        pub iterations: u32,
    }

    /// The chord model, all wet or all dry, whichever has the larger duty.
    pub fn chord(x: &Inputs) -> Chord {
        let m = x.air_kg_per_s;
        let cp = air::humid_specific_heat_j_per_kg_k(x.w);
        let c_air = m * cp;
        let ua = 1.0 / (1.0 / x.outer_w_per_k + 1.0 / x.inner_w_per_k);
        let dry_q = {
            let (c_min, c_max) = (c_air.min(x.c_water), c_air.max(x.c_water));
            effectiveness::raw::counterflow(ua / c_min, c_min / c_max) * c_min * (x.t_c - x.water_c)
        };
        let dry = Chord {
            t_c: x.t_c - dry_q / c_air,
            w: x.w,
            air_w: dry_q,
            water_w: dry_q,
            water_out_c: x.water_c + dry_q / x.c_water,
            condensate_kg_per_s: 0.0,
            residual_k: 0.0,
            iterations: 0,
        };
        let h_in = air::enthalpy_j_per_kg(x.t_c, x.w);
        let h_water = air::saturation_enthalpy_j_per_kg(x.water_c, x.p_pa);
        if h_in <= h_water {
            return dry;
        }
        let mut out = dry.water_out_c;
        let mut iterations = 0;
        loop {
            iterations += 1;
            let rise = (out - x.water_c).max(1e-3);
            let slope = (air::saturation_enthalpy_j_per_kg(x.water_c + rise, x.p_pa) - h_water) / rise;
            let conductance = 1.0 / (cp / x.outer_w_per_k + slope / x.inner_w_per_k);
            let e = effectiveness::raw::counterflow(conductance / m, m * slope / x.c_water);
            let q = e * m * (h_in - h_water);
            let h_out = h_in - q / m;
            let contact = -(-x.outer_w_per_k / c_air).exp_m1();
            let h_surface = h_in - (h_in - h_out) / contact;
            let s = saturated_from_enthalpy_c(h_surface, x.water_c + (h_surface - h_water) / slope, x.p_pa);
            let w_surface = air::saturation_humidity_ratio(s, x.p_pa);
            let w = x.w - contact * (x.w - w_surface);
            let t = air::dry_bulb_from_enthalpy_c(h_out, w);
            let condensate = m * (x.w - w);
            let water_w = q - condensate * CP_CONDENSATE_J_PER_KG_K * s;
            let next = x.water_c + water_w / x.c_water;
            let residual_k = next - out;
            out = next;
            if residual_k.abs() <= 1e-10 || iterations >= 60 {
                if water_w <= dry.water_w || w >= x.w {
                    return dry;
                }
                return Chord {
                    t_c: t,
                    w,
                    air_w: q,
                    water_w,
                    water_out_c: out,
                    condensate_kg_per_s: condensate,
                    residual_k,
                    iterations,
                };
            }
        }
    }
}

/// Steps along the air path in the reference model.
const STEPS: u32 = 60;

impl DryingCoil {
    fn check(&self, e: &DryingEntering) -> Result<(), ExchangeError> {
        match self.coil.circuiting {
            CoilCircuiting::Counterflow => {}
            CoilCircuiting::CrossCounterflow { rows } => {
                within("rows of the drying coil", f64::from(rows), 4.0, 50.0, "")?;
            }
            CoilCircuiting::CrossFlow => {
                within("rows of the drying coil", 1.0, 4.0, 50.0, "")?;
            }
            CoilCircuiting::Parallel => {
                return Err(ExchangeError::OutOfRange {
                    what: "counterflow rows of the drying coil (piped in parallel)",
                    value: 0.0,
                    low: 4.0,
                    high: 50.0,
                    unit: "",
                });
            }
        }
        e.air.check(e.pressure.si())?;
        within("dry-air flow", e.dry_air.si(), 1e-6, 1e3, "kg/s")?;
        within("water flow", e.water_flow.si(), 1e-9, 10.0, "m3/s")?;
        within("entering water", e.water.si(), 0.0, 60.0, "degC")?;
        within(
            "entering air above the entering water",
            e.air.dry_bulb.si() - e.water.si(),
            1e-3,
            100.0,
            "K",
        )?;
        Ok(())
    }

    fn inputs(
        kernel: &sensible_coil::raw::Kernel,
        e: &DryingEntering,
        mean_c: f64,
    ) -> (raw::Inputs, [f64; 3], f64, f64) {
        let water_kg_per_s = e.water_flow.si() * liquid::density_kg_per_m3(e.water.si());
        let velocity = water_kg_per_s / (liquid::density_kg_per_m3(mean_c) * kernel.flow_area_m2);
        let (film, re) = sensible_coil::raw::water_film(velocity, kernel.diameter_m, mean_c);
        let r = [
            kernel.air_k_per_w * e.dry_air.si().powf(-kernel.air_exponent),
            kernel.metal_k_per_w,
            1.0 / (film * kernel.water_area_m2),
        ];
        let x = raw::Inputs {
            t_c: e.air.dry_bulb.si(),
            w: e.air.humidity_ratio.si(),
            p_pa: e.pressure.si(),
            air_kg_per_s: e.dry_air.si(),
            water_c: e.water.si(),
            c_water: water_kg_per_s * liquid::specific_heat_j_per_kg_k(mean_c),
            outer_w_per_k: 1.0 / r[0],
            inner_w_per_k: 1.0 / (r[1] + r[2]),
        };
        (x, r, velocity, re)
    }

    /// Leaving states by the reference model.
    pub fn solve(&self, entering: &DryingEntering) -> Result<DryingResult, ExchangeError> {
        self.check(entering)?;
        let kernel = self.coil.kernel()?;
        let p = entering.pressure.si();
        let t_water = entering.water.si();
        let at = |out: f64| {
            let (x, r, v, re) = Self::inputs(&kernel, entering, 0.5 * (t_water + out));
            (raw::march(&x, out, STEPS), x, r, v, re)
        };
        let root = bracketed::<ExchangeError>(
            "leaving water of the drying coil",
            t_water,
            entering.air.dry_bulb.si(),
            1e-11,
            |out| Ok(at(out).0.water_c - t_water),
        )?;
        if root.residual.abs() > 1e-7 {
            return Err(ExchangeError::NotConverged {
                what: "leaving water of the drying coil",
                residual: root.residual,
                iterations: root.iterations,
            });
        }
        let (end, x, resistance_k_per_w, velocity, re) = at(root.x);
        let m = entering.dry_air.si();
        let h_in = air::enthalpy_j_per_kg(x.t_c, x.w);
        let settled = settle(end.h, end.w, p)?;
        let (t, w) = (settled.t_c, settled.w);
        let fog = m * settled.fog;
        let condensate_enthalpy = end.condensate_w + fog * CP_CONDENSATE_J_PER_KG_K * t;
        let leaving =
            AirPoint { dry_bulb: Temperature::from_si(t), humidity_ratio: HumidityRatio::from_si(w) };
        let condensate = m * (x.w - w);
        let apparatus = if condensate > 0.0 {
            apparatus_dew_point(entering.air, leaving, entering.pressure).ok()
        } else {
            None
        };
        Ok(DryingResult {
            entering: *entering,
            leaving,
            leaving_dew_point: (w > 0.0).then(|| Temperature::from_si(air::dew_point_c(w, p))),
            leaving_water: Temperature::from_si(root.x),
            duty: Power::from_si(x.c_water * (root.x - t_water)),
            air_enthalpy: Power::from_si(m * (h_in - air::enthalpy_j_per_kg(t, w))),
            condensate_enthalpy: Power::from_si(condensate_enthalpy),
            condensate: MassFlow::from_si(condensate),
            fog: MassFlow::from_si(fog),
            wet_share: end.wet_share,
            coldest_surface: Temperature::from_si(end.surface_c),
            apparatus,
            water_capacity_w_per_k: x.c_water,
            resistance_k_per_w,
            water_velocity: Velocity::from_si(velocity),
            water_regime: regime(re),
            residual_k: root.residual,
            iterations: root.iterations,
        })
    }

    fn solve_for<T>(
        what: &'static str,
        wanted: HumidityRatio,
        dry_end: f64,
        wet_end: f64,
        at: impl Fn(f64) -> Result<DryingResult, ExchangeError>,
        make: impl Fn(f64) -> T,
    ) -> Result<SolvedDrying<T>, ExchangeError> {
        let goal = within("wanted humidity ratio", wanted.si(), 1e-6, 0.2, "kg/kg")?;
        let leaving = |v: f64| Ok(at(v)?.leaving.humidity_ratio.si() - goal);
        let (least, most) = (leaving(wet_end)?, leaving(dry_end)?);
        if least > 0.0 || most < 0.0 {
            let nearest = goal + if least > 0.0 { least } else { most };
            return Err(ExchangeError::OutOfReach { what, wanted: goal, nearest, unit: "kg/kg" });
        }
        let root = bracketed::<ExchangeError>(what, dry_end, wet_end, 1e-9 * goal, leaving)?;
        Ok(SolvedDrying {
            value: make(root.x),
            result: at(root.x)?,
            residual: root.residual,
            iterations: root.iterations,
        })
    }

    /// The water flow, between two limits, that leaves the air with this humidity ratio. `entering.water_flow` is not read.
    pub fn water_flow_for_leaving(
        &self,
        entering: &DryingEntering,
        wanted: HumidityRatio,
        least: WaterFlow,
        most: WaterFlow,
    ) -> Result<SolvedDrying<WaterFlow>, ExchangeError> {
        Self::solve_for(
            "leaving humidity ratio by water flow",
            wanted,
            self.least_solvable_flow(entering, least.si(), most.si())?,
            most.si(),
            |q| self.solve(&DryingEntering { water_flow: WaterFlow::from_si(q), ..*entering }),
            WaterFlow::from_si,
        )
    }

    /// The warmest entering water, between two limits, that leaves the air with this humidity ratio. `entering.water` is
    /// not read.
    pub fn entering_water_for_leaving(
        &self,
        entering: &DryingEntering,
        wanted: HumidityRatio,
        coldest: Temperature,
        warmest: Temperature,
    ) -> Result<SolvedDrying<Temperature>, ExchangeError> {
        Self::solve_for(
            "leaving humidity ratio by water temperature",
            wanted,
            warmest.si(),
            coldest.si(),
            |t| self.solve(&DryingEntering { water: Temperature::from_si(t), ..*entering }),
            Temperature::from_si,
        )
    }

    /// The size, as a factor of 0.05 to 50 on every conductance of this coil and on its circuits' surface, that leaves
    /// the air with this humidity ratio.
    pub fn size_for_leaving(
        &self,
        entering: &DryingEntering,
        wanted: HumidityRatio,
    ) -> Result<SolvedDrying<f64>, ExchangeError> {
        Self::solve_for(
            "leaving humidity ratio by coil size",
            wanted,
            0.05,
            50.0,
            |f| self.scaled(f).solve(entering),
            |f| f,
        )
    }

    /// With very little water the shooting loses its digits; the smallest flow above `least` that can be solved.
    fn least_solvable_flow(
        &self,
        entering: &DryingEntering,
        least: f64,
        most: f64,
    ) -> Result<f64, ExchangeError> {
        let mut q = within("least water flow", least, 1e-9, most, "m3/s")?;
        loop {
            match self.solve(&DryingEntering { water_flow: WaterFlow::from_si(q), ..*entering }) {
                Err(ExchangeError::NotConverged { .. }) if q * 1.3 < most => q *= 1.3,
                Err(e) => return Err(e),
                Ok(_) => return Ok(q),
            }
        }
    }

    /// This coil with every conductance multiplied, the tubes and flows of reference unchanged.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let c = self.coil;
        Self {
            coil: SensibleCoil {
                air_side: c.air_side * factor,
                metal: c.metal * factor,
                water_side: c.water_side * factor,
                ..c
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sensible_coil::{CoilEntering, Tubes};
    use drycoil_units::{Conductance, Length, StandardAirFlow};
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn coil(scale: f64) -> DryingCoil {
        DryingCoil {
            coil: SensibleCoil {
                circuiting: CoilCircuiting::Counterflow,
                tubes: Tubes { inner_diameter: Length::inches(0.58), parallel_circuits: 12 },
                reference_air: StandardAirFlow::cfm(1000.0).dry_air_mass_flow(),
                reference_water: WaterFlow::gpm(20.0),
                reference_water_temperature: Temperature::fahrenheit(45.0),
                air_side: Conductance::from_si(2600.0 * scale),
                air_exponent: 0.6,
                metal: Conductance::from_si(40_000.0 * scale),
                water_side: Conductance::from_si(9000.0 * scale),
            },
        }
    }

    fn entering(t_f: f64, rh: f64, scfm: f64, water_f: f64, gpm: f64) -> DryingEntering {
        let t = Temperature::fahrenheit(t_f);
        let w = air::humidity_ratio_from_relative_humidity(t.si(), rh, P);
        DryingEntering {
            air: AirPoint::new(t, HumidityRatio::from_si(w), Pressure::from_si(P)).unwrap(),
            pressure: Pressure::from_si(P),
            dry_air: StandardAirFlow::cfm(scfm).dry_air_mass_flow(),
            water: Temperature::fahrenheit(water_f),
            water_flow: WaterFlow::gpm(gpm),
        }
    }

    #[test]
    fn xchk_dry_coil_equals_the_sensible_model() {
        // Air too dry to condense: the march must give the counterflow closed form. 1e-7: the march's own error.
        let c = coil(1.0);
        let e = entering(85.0, 0.10, 1000.0, 45.0, 20.0);
        let wet = c.solve(&e).unwrap();
        let dry = c
            .coil
            .solve(&CoilEntering {
                dry_bulb: e.air.dry_bulb,
                humidity_ratio: e.air.humidity_ratio,
                dry_air: e.dry_air,
                water: e.water,
                water_flow: e.water_flow,
            })
            .unwrap();
        assert_eq!(wet.condensate.si(), 0.0);
        assert!((wet.duty.si() / dry.duty.si() - 1.0).abs() < 1e-7, "{} {}", wet.duty.si(), dry.duty.si());
    }

    #[test]
    fn xchk_finer_march_changes_little() {
        // The kink at the dry-to-wet boundary limits the order; 1e-4 of the duty is enough for sizing.
        let c = coil(1.0);
        for rh in [0.18, 0.25, 0.4, 0.7] {
            let e = entering(90.0, rh, 1000.0, 44.0, 18.0);
            let r = c.solve(&e).unwrap();
            let (x, ..) = DryingCoil::inputs(
                &c.coil.kernel().unwrap(),
                &e,
                0.5 * (e.water.si() + r.leaving_water.si()),
            );
            let fine = bracketed::<ExchangeError>("fine", e.water.si(), e.air.dry_bulb.si(), 1e-10, |o| {
                Ok(raw::march(&x, o, 2000).water_c - e.water.si())
            })
            .unwrap();
            let rise = r.leaving_water.si() - e.water.si();
            assert!(
                ((fine.x - r.leaving_water.si()) / rise).abs() < 1e-4,
                "{rh}: {} {}",
                fine.x,
                r.leaving_water.si()
            );
        }
    }

    #[test]
    fn xchk_chord_model_is_near() {
        // Stated: chord model within 6 % of the march in duty, within 4 % when the coil is wet all over.
        let c = coil(1.0);
        for (t, rh, tw, gpm) in [
            (95.0, 0.45, 42.0, 20.0),
            (80.0, 0.6, 44.0, 15.0),
            (85.0, 0.25, 44.0, 20.0),
            (75.0, 0.5, 48.0, 8.0),
        ] {
            let e = entering(t, rh, 1000.0, tw, gpm);
            let r = c.solve(&e).unwrap();
            let (x, ..) = DryingCoil::inputs(
                &c.coil.kernel().unwrap(),
                &e,
                0.5 * (e.water.si() + r.leaving_water.si()),
            );
            let q = raw::chord(&x);
            let limit = if r.wet_share > 0.99 { 0.04 } else { 0.06 };
            assert!(
                (q.water_w / r.duty.si() - 1.0).abs() < limit,
                "{t} {rh}: {} {} wet {}",
                q.water_w,
                r.duty.si(),
                r.wet_share
            );
            // Condensate carries some heat away, never more than water at the temperature of the entering air.
            let most = q.condensate_kg_per_s * CP_CONDENSATE_J_PER_KG_K * x.t_c;
            assert!((0.0..=most).contains(&(q.air_w - q.water_w)) && q.residual_k.abs() < 1e-9);
        }
    }

    #[test]
    fn phys_partly_wet_lies_between() {
        let r = coil(1.0).solve(&entering(90.0, 0.25, 1000.0, 44.0, 18.0)).unwrap();
        assert!(r.wet_share > 0.05 && r.wet_share < 0.95, "{}", r.wet_share);
    }

    #[test]
    fn val_deep_drying_to_48_f() {
        // Constructed: 1000 scfm from 95 F / 78 F wet bulb to 48 F saturated takes 98 863 Btu/h and 43.635 lb/h of condensate.
        // A real coil reaches the 48 F dew point at or a little above saturation and drains warmer water: duty 3 %, condensate 0.1 %.
        let t = Temperature::fahrenheit(95.0);
        let w = air::humidity_ratio_at_wet_bulb(t.si(), Temperature::fahrenheit(78.0).si(), P);
        let e = DryingEntering {
            air: AirPoint::new(t, HumidityRatio::from_si(w), Pressure::from_si(P)).unwrap(),
            ..entering(95.0, 0.4, 1000.0, 42.0, 22.0)
        };
        let goal =
            HumidityRatio::from_si(air::humidity_ratio_at_dew_point(Temperature::fahrenheit(48.0).si(), P));
        let s = coil(1.0).size_for_leaving(&e, goal).unwrap();
        let r = s.result;
        assert!((r.condensate.to_lb_per_hour() / 43.635 - 1.0).abs() < 1e-3);
        assert!((r.duty.to_btu_per_hour() / 98_863.0 - 1.0).abs() < 3e-2, "{}", r.duty.to_btu_per_hour());
        assert!(
            r.leaving.dry_bulb.to_fahrenheit() > 47.999 && r.leaving.dry_bulb.to_fahrenheit() < 51.0,
            "{r:?}"
        );
    }

    #[test]
    fn inv_solve_for_a_leaving_dew_point() {
        // Deep drying to a 48 F dew point with 42 F water.
        let c = coil(2.0);
        let e = entering(80.0, 0.51, 1000.0, 42.0, 20.0);
        let goal =
            HumidityRatio::from_si(air::humidity_ratio_at_dew_point(Temperature::fahrenheit(48.0).si(), P));
        let by_flow = c.water_flow_for_leaving(&e, goal, WaterFlow::gpm(0.5), WaterFlow::gpm(40.0)).unwrap();
        assert!((by_flow.result.leaving_dew_point.unwrap().to_fahrenheit() - 48.0).abs() < 1e-5);
        let e2 = DryingEntering { water_flow: by_flow.value, ..e };
        let by_water = c
            .entering_water_for_leaving(
                &e2,
                goal,
                Temperature::fahrenheit(34.0),
                Temperature::fahrenheit(50.0),
            )
            .unwrap();
        assert!((by_water.value.to_fahrenheit() - 42.0).abs() < 1e-4);
        let size = c.size_for_leaving(&e2, goal).unwrap();
        assert!((size.value - 1.0).abs() < 1e-4);
        // Dew point below the water: no flow does it.
        let too_dry =
            HumidityRatio::from_si(air::humidity_ratio_at_dew_point(Temperature::fahrenheit(40.0).si(), P));
        let err =
            c.water_flow_for_leaving(&e, too_dry, WaterFlow::gpm(0.5), WaterFlow::gpm(40.0)).unwrap_err();
        assert!(matches!(err, ExchangeError::OutOfReach { nearest, .. } if nearest > too_dry.si()));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn phys_balances_and_bounds(
            t in 65.0f64..100.0, rh in 0.1f64..0.98, scfm in 300.0f64..1500.0, tw in 36.0f64..55.0, gpm in 2.0f64..40.0,
            scale in 0.3f64..3.0,
        ) {
            let e = entering(t, rh, scfm, tw, gpm);
            let r = coil(scale).solve(&e).unwrap();
            // Heat: air gives what water and condensate take.
            let gap = r.air_enthalpy.si() - r.duty.si() - r.condensate_enthalpy.si();
            prop_assert!(gap.abs() <= 1e-9 * r.air_enthalpy.si(), "{} of {}", gap, r.air_enthalpy.si());
            // Water: what the air loses is condensate.
            let lost = e.dry_air.si() * (e.air.humidity_ratio.si() - r.leaving.humidity_ratio.si());
            prop_assert!((lost - r.condensate.si()).abs() <= 1e-12);
            prop_assert!(r.fog.si() >= 0.0 && r.condensate.si() >= -1e-15);
            // No air colder than the water, no water warmer than the air, no leaving air above saturation.
            prop_assert!(r.leaving.dry_bulb.si() >= e.water.si() - 1e-9);
            prop_assert!(r.leaving_water.si() <= e.air.dry_bulb.si() + 1e-9);
            let ws = air::saturation_humidity_ratio(r.leaving.dry_bulb.si(), P);
            prop_assert!(r.leaving.humidity_ratio.si() <= ws * (1.0 + 1e-9));
            // Enthalpy never falls below that of air saturated at the entering water.
            let floor = air::saturation_enthalpy_j_per_kg(e.water.si(), P);
            if r.wet_share == 1.0 {
                prop_assert!(r.leaving.enthalpy().si() >= floor - 1e-6);
            }
        }
    }
}
