//! Cooling and drying of air described by its end states: process load, apparatus dew point, bypass factor.

use crate::ExchangeError;
use crate::error::within;
use drycoil_air::raw as air;
use drycoil_solve::bracketed;
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, SpecificEnthalpy, Temperature};

/// Specific heat of liquid condensate, J/(kg K).
pub const CP_CONDENSATE_J_PER_KG_K: f64 = 4186.0;

/// Dry bulb and humidity ratio of moist air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirPoint {
    /// Dry bulb.
    pub dry_bulb: Temperature,
    /// Humidity ratio.
    pub humidity_ratio: HumidityRatio,
}

impl AirPoint {
    /// A point; refuses more moisture than saturated air holds at this pressure (beyond rounding).
    pub fn new(
        dry_bulb: Temperature,
        humidity_ratio: HumidityRatio,
        pressure: Pressure,
    ) -> Result<Self, ExchangeError> {
        let p = Self { dry_bulb, humidity_ratio };
        p.check(pressure.si())?;
        Ok(p)
    }

    /// Saturated air at this temperature.
    pub fn saturated(dry_bulb: Temperature, pressure: Pressure) -> Result<Self, ExchangeError> {
        let t = within("dry bulb", dry_bulb.si(), -60.0, 90.0, "degC")?;
        within("pressure", pressure.si(), 60e3, 108e3, "Pa")?;
        Ok(Self {
            dry_bulb,
            humidity_ratio: HumidityRatio::from_si(air::saturation_humidity_ratio(t, pressure.si())),
        })
    }

    /// Enthalpy, J per kg of dry air.
    pub fn enthalpy(&self) -> SpecificEnthalpy {
        SpecificEnthalpy::from_si(air::enthalpy_j_per_kg(self.dry_bulb.si(), self.humidity_ratio.si()))
    }

    pub(crate) fn check(&self, p_pa: f64) -> Result<(), ExchangeError> {
        within("pressure", p_pa, 60e3, 108e3, "Pa")?;
        let t = within("dry bulb", self.dry_bulb.si(), -60.0, 90.0, "degC")?;
        let w = within("humidity ratio", self.humidity_ratio.si(), 0.0, 1.0, "kg/kg")?;
        let ws = air::saturation_humidity_ratio(t, p_pa);
        if w > ws * (1.0 + 1e-9) {
            return Err(ExchangeError::Supersaturated {
                dry_bulb_c: t,
                humidity_ratio: w,
                saturation_humidity_ratio: ws,
            });
        }
        Ok(())
    }
}

/// Load of cooling (and drying) air from one state to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProcessLoad {
    /// Dry-air flow times the fall of enthalpy.
    pub air_enthalpy: Power,
    /// Enthalpy that leaves with the condensate, above liquid water at 0 degC.
    pub condensate_enthalpy: Power,
    /// Heat that the coil takes: the difference of the two.
    pub coil: Power,
    /// Share of the fall of enthalpy due to temperature, at the leaving humidity ratio.
    pub sensible: Power,
    /// The rest.
    pub latent: Power,
    /// Condensate.
    pub condensate: MassFlow,
}

/// Load between two states; the air may not gain moisture.
pub fn process_load(
    entering: AirPoint,
    leaving: AirPoint,
    dry_air: MassFlow,
    condensate_temperature: Temperature,
) -> Result<ProcessLoad, ExchangeError> {
    within("dry-air flow", dry_air.si(), 0.0, 1e5, "kg/s")?;
    within("condensate temperature", condensate_temperature.si(), 0.0, 90.0, "degC")?;
    let (w1, w2) = (entering.humidity_ratio.si(), leaving.humidity_ratio.si());
    within("leaving humidity ratio", w2, 0.0, w1, "kg/kg")?;
    let m = dry_air.si();
    let (h1, h2) = (entering.enthalpy().si(), leaving.enthalpy().si());
    let between = air::enthalpy_j_per_kg(entering.dry_bulb.si(), w2);
    let condensate = m * (w1 - w2);
    let carried = condensate * CP_CONDENSATE_J_PER_KG_K * condensate_temperature.si();
    Ok(ProcessLoad {
        air_enthalpy: Power::from_si(m * (h1 - h2)),
        condensate_enthalpy: Power::from_si(carried),
        coil: Power::from_si(m * (h1 - h2) - carried),
        sensible: Power::from_si(m * (between - h2)),
        latent: Power::from_si(m * (h1 - between)),
        condensate: MassFlow::from_si(condensate),
    })
}

/// Apparatus dew point and bypass factor of a process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ApparatusDewPoint {
    /// Temperature at which the straight line through both states meets the saturation curve.
    pub temperature: Temperature,
    /// Share of the entering air that seems to pass unchanged.
    pub bypass_factor: f64,
    /// Residual in humidity ratio, kg/kg.
    pub residual: f64,
    /// Steps made.
    pub iterations: u32,
}

/// Coldest apparatus dew point searched, degC.
const LOWEST_C: f64 = -59.0;

/// Apparatus dew point of a process that cools air. Refused when the line misses the saturation curve: no single
/// surface temperature then gives that process (it needs reheat).
pub fn apparatus_dew_point(
    entering: AirPoint,
    leaving: AirPoint,
    pressure: Pressure,
) -> Result<ApparatusDewPoint, ExchangeError> {
    let p = pressure.si();
    entering.check(p)?;
    leaving.check(p)?;
    let (t1, w1) = (entering.dry_bulb.si(), entering.humidity_ratio.si());
    let (t2, w2) = (leaving.dry_bulb.si(), leaving.humidity_ratio.si());
    within("leaving dry bulb", t2, -40.0, t1 - 1e-6, "degC")?;
    let slope = (w1 - w2) / (t1 - t2);
    let gap = |t: f64| w2 + slope * (t - t2) - air::saturation_humidity_ratio(t, p);
    if gap(t2) >= 0.0 {
        // The leaving state is saturated.
        return Ok(ApparatusDewPoint {
            temperature: leaving.dry_bulb,
            bypass_factor: 0.0,
            residual: gap(t2),
            iterations: 0,
        });
    }
    // On either side of the triple point the gap is concave in temperature, so its top is where the slopes are equal; at the
    // triple point the slope of the curve steps down. The branch over liquid is searched first: it is nearer to the leaving
    // state.
    let slope_gap = |t: f64| air::saturation_humidity_ratio_slope_per_k(t, p) - slope;
    let top_between = |low: f64, high: f64| -> Result<f64, ExchangeError> {
        Ok(if slope_gap(low) >= 0.0 {
            low
        } else if slope_gap(high) <= 0.0 {
            high
        } else {
            bracketed::<ExchangeError>("point of equal slope", low, high, 1e-14, |t| Ok(slope_gap(t)))?.x
        })
    };
    let seam = 0.01;
    let branches = if t2 > seam + 1e-9 {
        vec![(seam + 1e-9, t2), (LOWEST_C, seam - 1e-9)]
    } else {
        vec![(LOWEST_C, t2)]
    };
    let mut nearest = (f64::NEG_INFINITY, 0.0);
    let mut found = None;
    for (low, high) in branches {
        let top = top_between(low, high)?;
        if gap(top) >= 0.0 {
            found = Some((top, high));
            break;
        }
        if gap(top) > nearest.0 {
            nearest = (gap(top), top);
        }
    }
    let Some((top, high)) = found else {
        let top = nearest.1;
        return Err(ExchangeError::OutOfReach {
            what: "apparatus dew point: humidity ratio on the saturation curve",
            wanted: air::saturation_humidity_ratio(top, p),
            nearest: w2 + slope * (top - t2),
            unit: "kg/kg",
        });
    };
    let root = bracketed::<ExchangeError>("apparatus dew point", top, high, 1e-15, |t| Ok(gap(t)))?;
    Ok(ApparatusDewPoint {
        temperature: Temperature::from_si(root.x),
        bypass_factor: (t2 - root.x) / (t1 - root.x),
        residual: root.residual,
        iterations: root.iterations,
    })
}

/// State that leaves a surface of one temperature: on the straight line, in dry bulb and humidity ratio, from the
/// entering state to saturated air at the apparatus dew point, short of it by `bypass_factor`. Against adiabatic mixing
/// the enthalpy is off by the product of the two differences, below 0.1 %.
///
/// ```
/// use drycoil_exchange::bypass::{AirPoint, leaving_by_bypass};
/// use drycoil_units::{HumidityRatio, Pressure, Temperature};
/// let p = Pressure::pascals(101_325.0);
/// let room = AirPoint::new(Temperature::celsius(27.0), HumidityRatio::kg_per_kg(0.0123), p).unwrap();
/// let out = leaving_by_bypass(room, Temperature::celsius(10.0), 0.1, p).unwrap();
/// assert!((out.dry_bulb.to_celsius() - 11.7).abs() < 0.02);
/// ```
pub fn leaving_by_bypass(
    entering: AirPoint,
    apparatus: Temperature,
    bypass_factor: f64,
    pressure: Pressure,
) -> Result<AirPoint, ExchangeError> {
    let p = pressure.si();
    entering.check(p)?;
    within("bypass factor", bypass_factor, 0.0, 1.0, "")?;
    let surface = AirPoint::saturated(apparatus, pressure)?;
    // A surface above the dew point stays dry.
    let surface_w = surface.humidity_ratio.si().min(entering.humidity_ratio.si());
    let mix = |a: f64, b: f64| bypass_factor * a + (1.0 - bypass_factor) * b;
    let out = AirPoint {
        dry_bulb: Temperature::from_si(mix(entering.dry_bulb.si(), apparatus.si())),
        humidity_ratio: HumidityRatio::from_si(mix(entering.humidity_ratio.si(), surface_w)),
    };
    out.check(p)?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn point(t_c: f64, w: f64) -> AirPoint {
        AirPoint::new(Temperature::celsius(t_c), HumidityRatio::from_si(w), Pressure::from_si(P)).unwrap()
    }

    #[test]
    fn val_contact_factor_example() {
        // Hundy, Trott and Welch, Ex. 21.8: 24 degC at 45 % saturation, surface 7 degC, contact factor 0.78: 10.7 degC,
        // h 27.81 (real-gas tables); ideal gas 10.740 and 27.743, entering 45.771. 0.3 %.
        let w = 0.45 * air::saturation_humidity_ratio(24.0, P);
        let a = point(24.0, w);
        assert!((a.enthalpy().si() / 45_771.0 - 1.0).abs() < 1e-4);
        let out = leaving_by_bypass(a, Temperature::celsius(7.0), 0.22, Pressure::from_si(P)).unwrap();
        assert!((out.dry_bulb.si() - 10.740).abs() < 0.02, "{out:?}");
        assert!(
            (out.enthalpy().si() / 27_743.0 - 1.0).abs() < 1e-3
                && (out.enthalpy().si() / 27_810.0 - 1.0).abs() < 3e-3
        );
        let saturation = out.humidity_ratio.si() / air::saturation_humidity_ratio(out.dry_bulb.si(), P);
        assert!((saturation - 0.837).abs() < 2e-3);
    }

    #[test]
    fn val_mixed_air_bypass_example() {
        // Arasu, Ex. 7.3: 25 degC 50 % and 35/28 degC mixed 4:1, bypass 0.1, apparatus 10 degC: h1 50.4, t3 27, h3 58.2,
        // t4 11.7, h4 32.2, 95 % (0.3 %; the book mixes dry bulbs in proportion, here enthalpies: 0.05 K).
        let w1 = air::humidity_ratio_from_relative_humidity(25.0, 0.5, P);
        let w2 = air::humidity_ratio_at_wet_bulb(35.0, 28.0, P);
        let (h1, h2) = (air::enthalpy_j_per_kg(25.0, w1), air::enthalpy_j_per_kg(35.0, w2));
        assert!((h1 / 50_400.0 - 1.0).abs() < 3e-3);
        let (w3, h3) = (0.8 * w1 + 0.2 * w2, 0.8 * h1 + 0.2 * h2);
        let t3 = air::dry_bulb_from_enthalpy_c(h3, w3);
        assert!((t3 - 27.0).abs() < 0.06 && (h3 / 58_200.0 - 1.0).abs() < 3e-3);
        let out =
            leaving_by_bypass(point(t3, w3), Temperature::celsius(10.0), 0.1, Pressure::from_si(P)).unwrap();
        assert!(
            (out.dry_bulb.si() - 11.7).abs() < 0.03 && (out.enthalpy().si() / 32_200.0 - 1.0).abs() < 3e-3
        );
        let rh = air::relative_humidity(out.dry_bulb.si(), out.humidity_ratio.si(), P);
        assert!((rh - 0.945).abs() < 3e-3, "{rh}");
    }

    #[test]
    fn val_bypass_from_capacity_example() {
        // Nag, Ex. 15.11: 39.6 m3/min at 31/18.5 degC, surface 4.4 degC, 12.5 kW: t2 18.6, wet bulb 12.5, bypass 0.525
        // (chart values, 1 %; the dry bulb 2 %).
        let w1 = air::humidity_ratio_at_wet_bulb(31.0, 18.5, P);
        let h1 = air::enthalpy_j_per_kg(31.0, w1);
        let m = 39.6 / 60.0 / air::volume_m3_per_kg(31.0, w1, P);
        let h2 = h1 - 12_500.0 / m;
        let hs = air::saturation_enthalpy_j_per_kg(4.4, P);
        let bypass = (h2 - hs) / (h1 - hs);
        assert!((bypass - 0.525).abs() < 0.525e-2, "{bypass}");
        let out = leaving_by_bypass(point(31.0, w1), Temperature::celsius(4.4), bypass, Pressure::from_si(P))
            .unwrap();
        assert!((out.dry_bulb.si() - 18.31).abs() < 0.05 && (out.dry_bulb.si() / 18.6 - 1.0).abs() < 2e-2);
        let wb = air::wet_bulb_c(out.dry_bulb.si(), out.humidity_ratio.si(), P);
        assert!((wb - 12.5).abs() < 0.125, "{wb}");
    }

    #[test]
    fn val_dry_bypass_definition() {
        // Bypass 0.2, surface 5 degC, 40 degC entering: 12 degC by the definition (dry air).
        let out = leaving_by_bypass(point(40.0, 0.0), Temperature::celsius(5.0), 0.2, Pressure::from_si(P))
            .unwrap();
        assert!((out.dry_bulb.si() - 12.0).abs() < 1e-9);
    }

    #[test]
    fn val_deep_drying_load() {
        // Constructed: 1000 scfm, 95 F / 78 F wet bulb to 48 F saturated: 4500 lb/h, h 41.3011 to 19.1763 Btu/lb,
        // 99 561 Btu/h (98 863 less condensate at 48 F), 43.635 lb/h, 8.297 tons. 0.1 %: the I-P and SI forms of the
        // enthalpy differ in their last digits.
        let f = |x: f64| (x - 32.0) / 1.8;
        let entering = point(f(95.0), air::humidity_ratio_at_wet_bulb(f(95.0), f(78.0), P));
        let leaving = AirPoint::saturated(Temperature::fahrenheit(48.0), Pressure::from_si(P)).unwrap();
        let m = drycoil_units::StandardAirFlow::cfm(1000.0).dry_air_mass_flow();
        assert!((m.to_lb_per_hour() / 4500.0 - 1.0).abs() < 1e-6);
        let l = process_load(entering, leaving, m, Temperature::fahrenheit(48.0)).unwrap();
        assert!(
            (l.air_enthalpy.to_btu_per_hour() / 99_561.0 - 1.0).abs() < 1e-3,
            "{}",
            l.air_enthalpy.to_btu_per_hour()
        );
        assert!((l.coil.to_btu_per_hour() / 98_863.0 - 1.0).abs() < 1e-3);
        assert!((l.condensate.to_lb_per_hour() / 43.635 - 1.0).abs() < 1e-3);
        assert!((l.air_enthalpy.to_tons() / 8.297 - 1.0).abs() < 1e-3);
        assert!((l.sensible + l.latent - l.air_enthalpy).si().abs() < 1e-9 * l.air_enthalpy.si());
    }

    #[test]
    fn phys_line_that_misses_the_curve_is_refused() {
        // Much drying with little cooling.
        let e =
            apparatus_dew_point(point(26.0, 0.012), point(24.0, 0.004), Pressure::from_si(P)).unwrap_err();
        assert!(matches!(e, ExchangeError::OutOfReach { .. }));
        assert!(
            AirPoint::new(Temperature::celsius(10.0), HumidityRatio::from_si(0.01), Pressure::from_si(P))
                .is_err()
        );
    }

    proptest! {
        #[test]
        fn inv_bypass_at_the_triple_point(adp in 1.0f64..4.0, t in 28.0f64..33.0, rh in 0.4f64..0.55) {
            let w = air::humidity_ratio_from_relative_humidity(t, rh, P);
            let pressure = Pressure::from_si(P);
            let Ok(out) = leaving_by_bypass(point(t, w), Temperature::celsius(adp), 0.18, pressure) else { return Ok(()) };
            prop_assert!(apparatus_dew_point(point(t, w), out, pressure).is_ok());
        }

        #[test]
        fn inv_bypass(t in 20.0f64..40.0, rh in 0.2f64..0.7, adp in 2.0f64..12.0, bf in 0.02f64..0.6) {
            let w = air::humidity_ratio_from_relative_humidity(t, rh, P);
            prop_assume!(w > air::saturation_humidity_ratio(adp, P) + 1e-4);
            let pressure = Pressure::from_si(P);
            let Ok(out) = leaving_by_bypass(point(t, w), Temperature::celsius(adp), bf, pressure) else { return Ok(()) };
            let back = apparatus_dew_point(point(t, w), out, pressure).unwrap();
            // 1e-6 K: where the line almost touches the curve the root is ill conditioned.
            prop_assert!((back.temperature.si() - adp).abs() < 1e-6 || back.temperature.si() > adp, "{} {}", back.temperature.si(), adp);
        }
    }
}
