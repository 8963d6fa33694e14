//! Drying coil of the primary-air unit, run to a target.
//!
//! [`CoilLine`] works by apparatus dew point and bypass: the air leaves as a mixture of untouched air and air
//! saturated at the apparatus dew point. Where that straight line would lie above saturation the air leaves saturated
//! at the same enthalpy. It is quick and knows no water flow. [`ExchangerCoil`] solves the wet coil itself and finds
//! the water flow that a valve would set.

use crate::air_point::{AirPoint, Plain};
use crate::error::{PlantError, component, within};
use crate::solve;
use drycoil_air::raw;
use drycoil_exchange::ExchangeError;
use drycoil_exchange::bypass::{ProcessLoad, process_load};
use drycoil_exchange::wet_coil::{DryingCoil, DryingEntering, DryingResult};
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, Temperature, WaterFlow};

/// What the coil must reach; the stricter governs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilTarget {
    /// Largest leaving humidity ratio.
    pub humidity_ratio: Option<HumidityRatio>,
    /// Highest leaving dry bulb.
    pub dry_bulb: Option<Temperature>,
}

/// The coil's own data.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilLine {
    /// Share of the air that passes untouched, 0 to 0.5.
    pub bypass: f64,
    /// Coldest apparatus dew point that its water and area reach, 0 to 25 degC (frost is not modelled).
    pub coldest_apparatus_dew_point: Temperature,
}

/// A drying coil at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryingCoilState {
    /// Air entering.
    pub entering: AirPoint,
    /// Air leaving.
    pub leaving: AirPoint,
    /// Apparatus dew point; equals the entering dry bulb when idle.
    pub apparatus_dew_point: Temperature,
    /// Heat removed by the water, enthalpy of the condensate already taken off.
    pub total: Power,
    /// Sensible part: specific heat at the leaving humidity ratio times the temperature difference.
    pub sensible: Power,
    /// The rest.
    pub latent: Power,
    /// Condensate.
    pub condensate: MassFlow,
    /// Enthalpy flow of the condensate.
    pub condensate_heat: Power,
    /// The exchanger behind it, where it was solved as one.
    pub exchanger: Option<DryingResult>,
    /// Leaving humidity ratio above the target; 0 when reached.
    pub missed_humidity_ratio: HumidityRatio,
    /// Leaving dry bulb above the target in K; 0 when reached.
    pub missed_kelvin: f64,
    /// Humidity-ratio residual of the search, where the leaving state had to be searched.
    pub residual: f64,
    /// Steps of that search; 0 in closed form.
    pub count: u32,
}

/// A leaving state behind an apparatus dew point, with the residual and the steps of a search for it.
struct Left {
    apparatus_c: f64,
    leaving: AirPoint,
    residual: f64,
    count: u32,
}

impl CoilLine {
    /// The straight line from the entering state towards saturation at the apparatus dew point.
    fn line(&self, entering: AirPoint, adp: f64, ws: f64) -> AirPoint {
        let contact = 1.0 - self.bypass;
        let t = entering.t() - contact * (entering.t() - adp);
        if ws >= entering.w() {
            return AirPoint::raw(t, entering.w());
        }
        AirPoint::raw(t, entering.w() - contact * (entering.w() - ws))
    }

    fn leave(&self, entering: AirPoint, adp: f64, p: f64) -> Result<AirPoint, PlantError> {
        let ws = raw::saturation_humidity_ratio(adp, p);
        let line = self.line(entering, adp, ws);
        if ws >= entering.w() || !line.is_fog(p) {
            return Ok(line);
        }
        let h = line.h();
        let what = "saturated leaving state";
        let root = solve::newton(what, (adp, entering.t()), line.t(), 1e-11 * h.abs().max(1.0), |t| {
            let ws = raw::saturation_humidity_ratio(t, p);
            let slope = raw::saturation_humidity_ratio_slope_per_k(t, p);
            (
                raw::enthalpy_j_per_kg(t, ws) - h,
                raw::humid_specific_heat_j_per_kg_k(ws) + slope * raw::vapour_enthalpy_j_per_kg(t),
            )
        })?;
        Ok(AirPoint::raw(root.x, raw::saturation_humidity_ratio(root.x, p)))
    }

    /// Apparatus dew point behind which the air leaves saturated at the humidity ratio `w`, where the straight line runs
    /// through fog: the leaving state is then known, and the line must have its enthalpy. `None` when even the coldest
    /// apparatus dew point leaves more water in the air.
    fn saturated(
        &self,
        entering: AirPoint,
        w: f64,
        coldest: f64,
        p: f64,
    ) -> Result<Option<Left>, PlantError> {
        let cold = self.line(entering, coldest, raw::saturation_humidity_ratio(coldest, p));
        let leaving = AirPoint::raw(raw::dew_point_c(w, p), w);
        let h = leaving.h();
        if if cold.is_fog(p) { cold.h() >= h } else { cold.w() >= w } {
            return Ok(None);
        }
        let (t1, w1, contact) = (entering.t(), entering.w(), 1.0 - self.bypass);
        let between = (coldest, t1);
        let root =
            solve::newton("apparatus dew point", between, leaving.t(), 1e-11 * h.abs().max(1.0), |adp| {
                let ws = raw::saturation_humidity_ratio(adp, p);
                let line = self.line(entering, adp, ws);
                let wet = if ws < w1 { raw::saturation_humidity_ratio_slope_per_k(adp, p) } else { 0.0 };
                (line.h() - h, contact * (line.cp() + wet * raw::vapour_enthalpy_j_per_kg(line.t())))
            })?;
        // The residual is told as a humidity ratio at the leaving enthalpy.
        let residual = root.residual / raw::vapour_enthalpy_j_per_kg(leaving.t());
        Ok(Some(Left { apparatus_c: root.x, leaving, residual, count: root.iterations }))
    }

    /// Runs the coil to its target.
    ///
    /// ```
    /// use drycoil_plant::air_point::AirPoint;
    /// use drycoil_plant::drying_coil::{CoilLine, CoilTarget};
    /// use drycoil_units::{HumidityRatio, MassFlow, Pressure, Temperature};
    /// let coil = CoilLine { bypass: 0.08, coldest_apparatus_dew_point: Temperature::celsius(5.0) };
    /// let out = coil.run(
    ///     AirPoint { dry_bulb: Temperature::celsius(30.0), humidity_ratio: HumidityRatio::kg_per_kg(0.016) },
    ///     MassFlow::kg_per_s(2.0),
    ///     Pressure::pascals(101_325.0),
    ///     CoilTarget { humidity_ratio: Some(HumidityRatio::kg_per_kg(0.0075)), dry_bulb: None },
    /// )?;
    /// assert!((out.leaving.humidity_ratio.to_kg_per_kg() - 0.0075).abs() < 1e-12);
    /// assert!((out.condensate.to_kg_per_s() - 2.0 * 0.0085).abs() < 1e-12);
    /// # Ok::<(), drycoil_plant::PlantError>(())
    /// ```
    ///
    /// # Errors
    /// An entering state above saturation, a bypass or coldest apparatus dew point out of range, a search that does
    /// not settle. A target that the coil cannot reach is not an error: the result says by how much it is missed.
    pub fn run(
        &self,
        entering: AirPoint,
        dry_air_flow: MassFlow,
        pressure: Pressure,
        target: CoilTarget,
    ) -> Result<DryingCoilState, PlantError> {
        let p = pressure.si();
        entering.validated("humidity ratio of the air entering the coil", p)?;
        within("bypass of the coil", self.bypass, 0.0, 0.5)?;
        let coldest =
            within("coldest apparatus dew point in degC", self.coldest_apparatus_dew_point.si(), 0.0, 25.0)?;
        within("dry-air mass flow in kg/s", dry_air_flow.si(), 0.0, 1e4)?;
        let (t1, w1, contact) = (entering.t(), entering.w(), 1.0 - self.bypass);
        let mut adp = f64::INFINITY;
        let (mut residual, mut count) = (0.0, 0);
        let mut saturated = None;
        if let Some(w) = target.humidity_ratio.map(Quantity::si) {
            within("target humidity ratio", w, 1e-5, 0.1)?;
            if w1 > w {
                let ws = w1 - (w1 - w) / contact;
                if ws <= raw::saturation_humidity_ratio(coldest, p) {
                    adp = coldest;
                } else {
                    adp = raw::dew_point_c(ws, p);
                }
                // Where the line runs through fog the leaving air is saturated and holds another humidity ratio.
                let straight = AirPoint::raw(t1 - contact * (t1 - adp), w);
                if straight.is_fog(p) || adp >= t1 || adp == coldest {
                    if let Some(left) = self.saturated(entering, w, coldest, p)? {
                        adp = left.apparatus_c;
                        residual = left.residual;
                        count = left.count;
                        saturated = Some(left.leaving);
                    } else {
                        adp = coldest;
                    }
                }
            }
        }
        if let Some(t) = target.dry_bulb.map(Quantity::si)
            && t1 > t
        {
            let colder = (t1 - (t1 - t) / contact).max(coldest);
            if colder < adp {
                adp = colder;
                saturated = None;
            }
        }
        // A coil no colder than the air does nothing.
        let leaving = match saturated {
            _ if adp >= t1 => entering,
            Some(leaving) => leaving,
            None => self.leave(entering, adp, p)?,
        };
        let mut load = None;
        if leaving != entering {
            let t = leaving.dry_bulb;
            load = Some(
                process_load(entering, leaving, dry_air_flow, t)
                    .map_err(component("load of the drying coil"))?,
            );
        }
        let part = |f: fn(&ProcessLoad) -> f64| load.as_ref().map_or(0.0, f);
        let total = part(|l| l.coil.si());
        let sensible = part(|l| l.sensible.si());
        let over = |x: f64, limit: Option<f64>| limit.map_or(0.0, |l| (x - l).max(0.0));
        let missed_w = over(leaving.w(), target.humidity_ratio.map(Quantity::si));
        let missed_k = over(leaving.t(), target.dry_bulb.map(Quantity::si));
        Ok(DryingCoilState {
            entering,
            leaving,
            apparatus_dew_point: Temperature::from_si(adp.min(t1)),
            total: Power::watts(total),
            sensible: Power::watts(sensible),
            latent: Power::watts(total - sensible),
            condensate: MassFlow::kg_per_s(part(|l| l.condensate.si())),
            condensate_heat: Power::watts(part(|l| l.condensate_enthalpy.si())),
            exchanger: None,
            // Rounding of a met target is not a miss.
            missed_humidity_ratio: HumidityRatio::from_si(if missed_w < 1e-11 { 0.0 } else { missed_w }),
            missed_kelvin: if missed_k < 1e-9 { 0.0 } else { missed_k },
            residual,
            count,
        })
    }
}

/// A drying coil solved as an exchanger, its valve modulating the water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExchangerCoil {
    /// The coil.
    pub coil: DryingCoil,
    /// Entering water.
    pub water: Temperature,
    /// Water flow with the valve open.
    pub largest_water_flow: WaterFlow,
    /// Smallest water flow at which the valve is steady.
    pub smallest_water_flow: WaterFlow,
}

impl ExchangerCoil {
    /// Runs the coil to its target. Where the smallest flow already does more than asked, the coil stays at that flow.
    ///
    /// # Errors
    /// An entering state above saturation, a flow or temperature out of range, a search that does not settle. A target
    /// that the open valve does not reach is not an error: the result says by how much it is missed.
    pub fn run(
        &self,
        entering: AirPoint,
        dry_air_flow: MassFlow,
        pressure: Pressure,
        target: CoilTarget,
    ) -> Result<DryingCoilState, PlantError> {
        let p = pressure.si();
        entering.validated("humidity ratio of the air entering the coil", p)?;
        let least = within("smallest water flow in m3/s", self.smallest_water_flow.si(), 1e-9, 10.0)?;
        let most = within("largest water flow in m3/s", self.largest_water_flow.si(), least, 10.0)?;
        let (t_target, w_target) =
            (target.dry_bulb.map(Quantity::si), target.humidity_ratio.map(Quantity::si));
        let excess = |a: AirPoint| {
            // Both targets on one scale: kelvin, and humidity ratio at 2501 K per kg/kg as in the enthalpy.
            let t = t_target.map_or(f64::NEG_INFINITY, |t| a.t() - t);
            let w = w_target.map_or(f64::NEG_INFINITY, |w| 2501.0 * (a.w() - w));
            t.max(w)
        };
        let mut state = DryingCoilState {
            entering,
            leaving: entering,
            apparatus_dew_point: entering.dry_bulb,
            total: Power::watts(0.0),
            sensible: Power::watts(0.0),
            latent: Power::watts(0.0),
            condensate: MassFlow::kg_per_s(0.0),
            condensate_heat: Power::watts(0.0),
            exchanger: None,
            missed_humidity_ratio: HumidityRatio::from_si(0.0),
            missed_kelvin: 0.0,
            residual: 0.0,
            count: 0,
        };
        if excess(entering) <= 0.0 {
            return Ok(state);
        }
        let wrap = component::<ExchangeError>("drying coil");
        let at = |flow: f64| {
            self.coil.solve(&DryingEntering {
                air: entering,
                pressure,
                dry_air: dry_air_flow,
                water: self.water,
                water_flow: WaterFlow::from_si(flow),
            })
        };
        let open = at(most).map_err(&wrap)?;
        let mut result = open;
        if excess(open.leaving) < 0.0 {
            // With very little water the coil cannot be solved; start from the smallest flow that can.
            let mut low = least;
            let mut small = at(low);
            while matches!(small, Err(ExchangeError::NotConverged { .. })) && low * 1.3 < most {
                low *= 1.3;
                small = at(low);
            }
            let small = small.map_err(&wrap)?;
            if excess(small.leaving) > 0.0 {
                let root = solve::root("water flow of the drying coil", low, most, 1e-8, |flow| {
                    Ok(excess(at(flow).map_err(&wrap)?.leaving))
                })?;
                result = at(root.x).map_err(&wrap)?;
                state.residual = root.residual / 2501.0;
                state.count = root.iterations;
            } else {
                result = small;
            }
        }
        let between = raw::enthalpy_j_per_kg(entering.t(), result.leaving.w());
        let sensible = dry_air_flow.si() * (between - result.leaving.h());
        let over = |x: f64, limit: Option<f64>, slack: f64| {
            limit.map_or(0.0, |l| if x > l + slack { x - l } else { 0.0 })
        };
        Ok(DryingCoilState {
            leaving: result.leaving,
            apparatus_dew_point: result.apparatus.map_or(result.coldest_surface, |a| a.temperature),
            total: result.duty,
            sensible: Power::watts(sensible),
            latent: Power::watts(result.duty.si() - sensible),
            condensate: result.condensate,
            condensate_heat: result.condensate_enthalpy,
            missed_humidity_ratio: HumidityRatio::from_si(over(result.leaving.w(), w_target, 1e-10)),
            missed_kelvin: over(result.leaving.t(), t_target, 1e-6),
            exchanger: Some(result),
            ..state
        })
    }
}

/// The two ways to describe a drying coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DryingCoilModel {
    /// Apparatus dew point and bypass.
    Line(CoilLine),
    /// The exchanger with its water.
    Exchanger(ExchangerCoil),
}

impl DryingCoilModel {
    /// Runs the coil to its target.
    ///
    /// # Errors
    /// As [`CoilLine::run`] and [`ExchangerCoil::run`].
    pub fn run(
        &self,
        entering: AirPoint,
        dry_air_flow: MassFlow,
        pressure: Pressure,
        target: CoilTarget,
    ) -> Result<DryingCoilState, PlantError> {
        match self {
            Self::Line(c) => c.run(entering, dry_air_flow, pressure, target),
            Self::Exchanger(c) => c.run(entering, dry_air_flow, pressure, target),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_exchange::bypass::apparatus_dew_point;
    use drycoil_exchange::sensible_coil::{CoilCircuiting, SensibleCoil, Tubes};
    use drycoil_units::{Conductance, Length, StandardAirFlow};
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn coil(bypass: f64, coldest: f64) -> CoilLine {
        CoilLine { bypass, coldest_apparatus_dew_point: Temperature::celsius(coldest) }
    }

    #[test]
    fn val_outdoor_air_to_saturation_at_48_f() {
        // Constructed, recomputed: 1000 standard cfm, 95/78 degF to 48 degF saturated: 98 863 Btu/h less condensate
        // at 48 degF, condensate 43.635 lb/h. 0.1 %.
        let t = Temperature::fahrenheit(95.0);
        let w = raw::humidity_ratio_at_wet_bulb(t.si(), Temperature::fahrenheit(78.0).si(), P);
        let target = raw::saturation_humidity_ratio(Temperature::fahrenheit(48.0).si(), P);
        let s = coil(0.0, 2.0)
            .run(
                AirPoint::raw(t.si(), w),
                StandardAirFlow::cfm(1000.0).dry_air_mass_flow(),
                Pressure::pascals(P),
                CoilTarget { humidity_ratio: Some(HumidityRatio::from_si(target)), dry_bulb: None },
            )
            .unwrap();
        assert!((s.total.to_btu_per_hour() / 98_863.0 - 1.0).abs() < 1e-3, "{}", s.total.to_btu_per_hour());
        assert!((s.condensate.to_lb_per_hour() / 43.635 - 1.0).abs() < 1e-3);
        assert!((s.leaving.dry_bulb.to_fahrenheit() - 48.0).abs() < 1e-3);
    }

    #[test]
    fn val_contact_factor_example() {
        // Hundy, Trott and Welch, example 21.8 as transcribed in a textbook companion: 24 degC, surface 7 degC,
        // contact factor 0.78: leaves at 10.7 degC (10.740 recomputed). Humidity: 45 % of saturation.
        let w = 0.45 * raw::saturation_humidity_ratio(24.0, P);
        let s = coil(0.22, 7.0)
            .run(
                AirPoint::raw(24.0, w),
                MassFlow::from_si(1.0),
                Pressure::pascals(P),
                CoilTarget { humidity_ratio: None, dry_bulb: Some(Temperature::celsius(10.74)) },
            )
            .unwrap();
        assert!((s.apparatus_dew_point.si() - 7.0).abs() < 1e-9);
        // 27.743 kJ/kg recomputed; 0.3 % for the chart behind the book's figures.
        assert!((s.leaving.enthalpy().si() / 27_743.0 - 1.0).abs() < 3e-3);
    }

    #[test]
    fn phys_dry_target_leaves_the_humidity_ratio() {
        let s = coil(0.1, 5.0)
            .run(
                AirPoint::raw(35.0, 0.005),
                MassFlow::from_si(1.0),
                Pressure::pascals(P),
                CoilTarget {
                    humidity_ratio: Some(HumidityRatio::from_si(0.007)),
                    dry_bulb: Some(Temperature::celsius(15.0)),
                },
            )
            .unwrap();
        assert_eq!(s.leaving.humidity_ratio.si(), 0.005);
        assert_eq!(s.condensate.si(), 0.0);
        assert!((s.leaving.dry_bulb.si() - 15.0).abs() < 1e-9);
        assert!(s.latent.si().abs() < 1e-9);
    }

    #[test]
    fn phys_a_missed_dew_point_is_reported_with_its_size() {
        let target = HumidityRatio::from_si(0.006);
        let s = coil(0.1, 9.0)
            .run(
                AirPoint::raw(30.0, 0.016),
                MassFlow::from_si(1.0),
                Pressure::pascals(P),
                CoilTarget { humidity_ratio: Some(target), dry_bulb: None },
            )
            .unwrap();
        assert!(s.missed_humidity_ratio.si() > 0.001);
        assert!((s.leaving.w() - target.si() - s.missed_humidity_ratio.si()).abs() < 1e-15);
        assert!((s.apparatus_dew_point.si() - 9.0).abs() < 1e-12);
        let fog = AirPoint::raw(20.0, 0.020);
        assert!(
            coil(0.1, 9.0)
                .run(
                    fog,
                    MassFlow::from_si(1.0),
                    Pressure::pascals(P),
                    CoilTarget { humidity_ratio: None, dry_bulb: None }
                )
                .is_err()
        );
    }

    #[test]
    fn xchk_line_and_exchanger_take_the_same_heat_for_the_same_end_states() {
        let base = SensibleCoil {
            circuiting: CoilCircuiting::Counterflow,
            tubes: Tubes { inner_diameter: Length::from_si(0.012), parallel_circuits: 30 },
            reference_air: MassFlow::from_si(2.0),
            reference_water: WaterFlow::from_si(4e-3),
            reference_water_temperature: Temperature::celsius(8.0),
            air_side: Conductance::from_si(9000.0),
            air_exponent: 0.6,
            metal: Conductance::from_si(60e3),
            water_side: Conductance::from_si(25e3),
        };
        let exchanger = ExchangerCoil {
            coil: DryingCoil { coil: base },
            water: Temperature::celsius(5.5),
            largest_water_flow: WaterFlow::from_si(5e-3),
            smallest_water_flow: WaterFlow::from_si(1e-4),
        };
        let air = AirPoint::raw(28.0, 0.014);
        let (m, p) = (MassFlow::from_si(2.0), Pressure::pascals(P));
        let target = CoilTarget { humidity_ratio: Some(HumidityRatio::from_si(0.0085)), dry_bulb: None };
        let e = exchanger.run(air, m, p, target).unwrap();
        assert!((e.leaving.w() - 0.0085).abs() < 1e-10 && e.missed_humidity_ratio.si() == 0.0);
        let r = e.exchanger.unwrap();
        assert!(r.entering.water_flow < exchanger.largest_water_flow);
        // Same end states by bypass line: its apparatus dew point and bypass from the exchanger's end states.
        let a = apparatus_dew_point(air, e.leaving, p).unwrap();
        let l = coil(a.bypass_factor, 0.5).run(air, m, p, target).unwrap();
        assert!((l.leaving.t() - e.leaving.t()).abs() < 1e-4);
        // Condensate leaves at the surface in one and at the leaving air in the other: under 0.2 % of the heat.
        assert!((l.total.si() / e.total.si() - 1.0).abs() < 2e-3);
        assert!((l.condensate.si() - e.condensate.si()).abs() < 1e-9);
        // Energy of the exchanger closes with its own condensate.
        let out = 2.0 * e.leaving.h() + e.total.si() + e.condensate_heat.si();
        assert!((2.0 * air.h() - out).abs() < 1e-6 * e.total.si());
        let deep = CoilTarget { humidity_ratio: Some(HumidityRatio::from_si(0.0045)), dry_bulb: None };
        let missed = exchanger.run(air, m, p, deep).unwrap();
        assert!(missed.missed_humidity_ratio.si() > 1e-4);
        let dry = CoilTarget { humidity_ratio: None, dry_bulb: Some(Temperature::celsius(16.0)) };
        let sensible = exchanger.run(AirPoint::raw(30.0, 0.005), m, p, dry).unwrap();
        assert!((sensible.leaving.t() - 16.0).abs() < 1e-6 && sensible.condensate.si() == 0.0);
    }

    proptest! {
        #[test]
        fn phys_balances_close_and_nothing_leaves_as_fog(
            t in 5.0f64..45.0, rh in 0.05f64..1.0, dp in 3.0f64..16.0, bypass in 0.0f64..0.4, coldest in 1.0f64..12.0,
            p in 75e3f64..105e3,
        ) {
            let w = rh * raw::saturation_humidity_ratio(t, p);
            let target = raw::humidity_ratio_at_dew_point(dp, p);
            let m = 2.5;
            let s = coil(bypass, coldest).run(
                AirPoint::raw(t, w), MassFlow::from_si(m), Pressure::pascals(p),
                CoilTarget { humidity_ratio: Some(HumidityRatio::from_si(target)), dry_bulb: None },
            ).unwrap();
            prop_assert!(!s.leaving.is_fog(p));
            prop_assert!(s.leaving.w() <= w && s.leaving.t() <= t + 1e-12);
            // Water: what enters leaves with the air or down the drain.
            prop_assert!((m * w - m * s.leaving.w() - s.condensate.si()).abs() <= 1e-15 + 1e-12 * m * w);
            // Energy.
            let out = m * s.leaving.h() + s.total.si() + s.condensate_heat.si();
            prop_assert!((m * s.entering.h() - out).abs() <= 1e-9 * m * s.entering.h().abs().max(1.0));
            prop_assert!(s.total.si() >= -1e-9);
            prop_assert!((s.sensible.si() + s.latent.si() - s.total.si()).abs() < 1e-6);
            // Reached, or missed with the coil at its coldest.
            if s.missed_humidity_ratio.si() == 0.0 {
                prop_assert!(w <= target || (s.leaving.w() - target).abs() < 1e-10);
            } else {
                prop_assert!((s.apparatus_dew_point.si() - coldest.min(t)).abs() < 1e-9);
            }
        }
    }
}
