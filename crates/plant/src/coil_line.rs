//! Drying coil by apparatus dew point and bypass: the air leaves as a mixture of untouched air and air saturated at
//! the apparatus dew point. Where that straight line would lie above saturation the air leaves saturated at the
//! same enthalpy.

use crate::air_point::{AirPoint, CP_LIQUID};
use crate::error::{PlantError, within};
use crate::solve;
use drycoil_air::raw;
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, Temperature};

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
pub struct CoilLineState {
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
    /// Leaving humidity ratio above the target; 0 when reached.
    pub missed_humidity_ratio: HumidityRatio,
    /// Leaving dry bulb above the target in K; 0 when reached.
    pub missed_kelvin: f64,
    /// Humidity-ratio residual of the search, where the leaving state had to be searched.
    pub residual: f64,
    /// Steps of that search; 0 in closed form.
    pub count: u32,
}

impl CoilLine {
    fn leave(&self, entering: AirPoint, adp: f64, p: f64) -> Result<AirPoint, PlantError> {
        let contact = 1.0 - self.bypass;
        let ws = raw::saturation_humidity_ratio(adp, p);
        let t = entering.t() - contact * (entering.t() - adp);
        if ws >= entering.w() {
            return Ok(AirPoint::raw(t, entering.w()));
        }
        let line = AirPoint::raw(t, entering.w() - contact * (entering.w() - ws));
        if !line.is_fog(p) {
            return Ok(line);
        }
        let h = line.h();
        let root = solve::root("saturated leaving state", adp, entering.t(), 1e-9 * h.abs().max(1.0), |t| {
            Ok(raw::saturation_enthalpy_j_per_kg(t, p) - h)
        })?;
        Ok(AirPoint::raw(root.value, raw::saturation_humidity_ratio(root.value, p)))
    }

    /// Runs the coil to its target.
    ///
    /// ```
    /// use drycoil_plant::air_point::AirPoint;
    /// use drycoil_plant::coil_line::{CoilLine, CoilTarget};
    /// use drycoil_units::{HumidityRatio, MassFlow, Pressure, Temperature};
    /// let coil = CoilLine { bypass: 0.08, coldest_apparatus_dew_point: Temperature::celsius(5.0) };
    /// let out = coil.run(
    ///     AirPoint::new(Temperature::celsius(30.0), HumidityRatio::kg_per_kg(0.016)),
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
    ) -> Result<CoilLineState, PlantError> {
        let p = pressure.si();
        entering.check("humidity ratio of the air entering the coil", p)?;
        within("bypass of the coil", self.bypass, 0.0, 0.5)?;
        let coldest =
            within("coldest apparatus dew point in degC", self.coldest_apparatus_dew_point.si(), 0.0, 25.0)?;
        let m = within("dry-air mass flow in kg/s", dry_air_flow.si(), 0.0, 1e4)?;
        let (t1, w1, contact) = (entering.t(), entering.w(), 1.0 - self.bypass);
        let mut adp = f64::INFINITY;
        let (mut residual, mut count) = (0.0, 0);
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
                    let excess = |adp: f64| Ok(self.leave(entering, adp, p)?.w() - w);
                    if excess(coldest)? >= 0.0 {
                        adp = coldest;
                    } else {
                        let root = solve::root("apparatus dew point", coldest, t1, 1e-13, excess)?;
                        adp = root.value;
                        residual = root.residual;
                        count = root.count;
                    }
                }
            }
        }
        if let Some(t) = target.dry_bulb.map(Quantity::si)
            && t1 > t
        {
            adp = adp.min((t1 - (t1 - t) / contact).max(coldest));
        }
        // A coil no colder than the air does nothing.
        let leaving = if adp >= t1 { entering } else { self.leave(entering, adp, p)? };
        let condensate = m * (w1 - leaving.w());
        let total = m * (entering.h() - leaving.h()) - condensate * CP_LIQUID * leaving.t();
        let sensible = m * leaving.cp() * (t1 - leaving.t());
        let over = |x: f64, limit: Option<f64>| limit.map_or(0.0, |l| (x - l).max(0.0));
        let missed_w = over(leaving.w(), target.humidity_ratio.map(Quantity::si));
        let missed_k = over(leaving.t(), target.dry_bulb.map(Quantity::si));
        Ok(CoilLineState {
            entering,
            leaving,
            apparatus_dew_point: Temperature::from_si(adp.min(t1)),
            total: Power::watts(total),
            sensible: Power::watts(sensible),
            latent: Power::watts(total - sensible),
            condensate: MassFlow::kg_per_s(condensate),
            // Rounding of a met target is not a miss.
            missed_humidity_ratio: HumidityRatio::from_si(if missed_w < 1e-11 { 0.0 } else { missed_w }),
            missed_kelvin: if missed_k < 1e-9 { 0.0 } else { missed_k },
            residual,
            count,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::StandardAirFlow;
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
            let out = m * s.leaving.h() + s.total.si() + s.condensate.si() * CP_LIQUID * s.leaving.t();
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
