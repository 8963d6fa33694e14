//! Bounds, inverses, seams and conservation over the whole range.

use drycoil_air::{
    AirError, FUSION_AT_0_C_J_PER_KG, Mixture, MoistAir, Property, PropertyKind, ValidRange, batch,
    condensed_water_enthalpy_j_per_kg, mix, raw,
};
use drycoil_units::{Fraction, HumidityRatio, MassFlow, Pressure, Quantity, SpecificEnthalpy, Temperature};
use proptest::prelude::*;

fn t(c: f64) -> Temperature {
    Temperature::celsius(c)
}

fn pa(p: f64) -> Pressure {
    Pressure::pascals(p)
}

/// A state anywhere in the range, or none where the vapour alone would reach the air pressure.
fn state() -> impl Strategy<Value = MoistAir> {
    (-60.0..90.0f64, 0.01..=1.0f64, 60e3..108e3f64).prop_filter_map("does not exist", |(c, rh, p)| {
        MoistAir::from_relative_humidity(t(c), Fraction::ratio(rh), pa(p)).ok()
    })
}

fn property(air: MoistAir, kind: PropertyKind) -> Property {
    match kind {
        PropertyKind::DryBulb => Property::DryBulb(air.dry_bulb()),
        PropertyKind::WetBulb => Property::WetBulb(air.wet_bulb().unwrap()),
        PropertyKind::DewPoint => Property::DewPoint(air.dew_point().unwrap()),
        PropertyKind::RelativeHumidity => Property::RelativeHumidity(air.relative_humidity()),
        PropertyKind::HumidityRatio => Property::HumidityRatio(air.humidity_ratio()),
        PropertyKind::Enthalpy => Property::Enthalpy(air.enthalpy()),
    }
}

const PAIRS: [(PropertyKind, PropertyKind); 13] = {
    use PropertyKind::{DewPoint, DryBulb, Enthalpy, HumidityRatio, RelativeHumidity, WetBulb};
    [
        (DryBulb, WetBulb),
        (DryBulb, DewPoint),
        (DryBulb, RelativeHumidity),
        (DryBulb, HumidityRatio),
        (DryBulb, Enthalpy),
        (WetBulb, DewPoint),
        (WetBulb, RelativeHumidity),
        (WetBulb, HumidityRatio),
        (DewPoint, RelativeHumidity),
        (DewPoint, Enthalpy),
        (RelativeHumidity, HumidityRatio),
        (RelativeHumidity, Enthalpy),
        (HumidityRatio, Enthalpy),
    ]
};

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Tolerance: 1e-6 K in dry bulb where the pair carries it at all; a wet bulb at very low temperature hardly moves
    /// with W, so the error of 1e-9 in W is what counts.
    #[test]
    fn inv_every_pair(air in state(), kind in 0usize..13) {
        let (a, b) = PAIRS[kind];
        let (x, y) = (property(air, a), property(air, b));
        // A state within rounding of an end or of saturation may be refused there.
        let inside = air.dry_bulb().si() < 89.99 && air.dry_bulb().si() > -59.99 && air.relative_humidity().si() < 0.9999
            && air.humidity_ratio().si() < 9.9;
        match MoistAir::from_pair(x, y, air.pressure()) {
            Ok(again) => {
                let w = air.humidity_ratio().si();
                let dt = (again.dry_bulb().si() - air.dry_bulb().si()).abs();
                prop_assert!(dt < 1e-6, "{a:?} {b:?}: {air:?} {again:?}");
                prop_assert!((again.humidity_ratio().si() - w).abs() < 2e-9 * (1.0 + w), "{a:?} {b:?}: {air:?} {again:?}");
            }
            Err(e) => prop_assert!(!inside, "{a:?} {b:?} {air:?}: {e}"),
        }
    }

    #[test]
    fn phys_dew_point_below_wet_bulb_below_dry_bulb(air in state()) {
        let (dry, wet, dew) = (air.dry_bulb().si(), air.wet_bulb().unwrap().si(), air.dew_point().unwrap().si());
        prop_assert!(wet <= dry, "{air:?}");
        // Between 0 and 0.01 degC, and over ice, the wet bulb of saturated air is the dew point itself.
        prop_assert!(dew <= wet + 1e-7, "{air:?}: dew point {dew}, wet bulb {wet}");
    }

    #[test]
    fn inv_wet_bulb_leaves_no_residual(air in state()) {
        let root = raw::wet_bulb_solve(air.dry_bulb().si(), air.humidity_ratio().si(), air.pressure().si());
        prop_assert!(root.residual.abs() <= 1e-9, "{air:?} {root:?}");
        prop_assert!(root.iterations <= 6, "{air:?} {root:?}");
    }

    /// Wet bulb by bisection of the same balance. Tolerance: 1e-9 in W over the slope of the balance.
    #[test]
    fn xchk_wet_bulb_by_bisection(air in state()) {
        let (c, w, p) = (air.dry_bulb().si(), air.humidity_ratio().si(), air.pressure().si());
        let found = air.wet_bulb().unwrap().si();
        let (mut low, mut high) = if found >= 0.0 { (0.0, c) } else { (-75.0, c.min(-1e-300)) };
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if raw::humidity_ratio_at_wet_bulb(c, middle, p) > w { high = middle } else { low = middle }
        }
        prop_assert!((found - low).abs() < 1e-6, "{air:?}: {found} against {low}");
    }

    /// The dew point of the same vapour pressure is the same at any air pressure.
    #[test]
    fn phys_dew_point_depends_on_vapour_pressure_only(c in -60.0..80.0f64, rh in 0.01..1.0f64, p in 60e3..108e3f64) {
        let at = |p: f64| MoistAir::from_relative_humidity(t(c), Fraction::ratio(rh), pa(p));
        if let (Ok(a), Ok(b)) = (at(p), at(108e3)) {
            let (a, b) = (a.dew_point().unwrap().si(), b.dew_point().unwrap().si());
            prop_assert!((a - b).abs() < 1e-8, "{a} {b}");
        }
    }

    #[test]
    fn phys_wet_bulb_and_dew_point_rise_with_moisture(air in state(), share in 0.5..0.999f64) {
        let drier = MoistAir::new(air.dry_bulb(), air.humidity_ratio() * share, air.pressure()).unwrap();
        prop_assert!(drier.wet_bulb().unwrap().si() < air.wet_bulb().unwrap().si());
        prop_assert!(drier.dew_point().unwrap().si() < air.dew_point().unwrap().si());
    }

    /// Mass of dry air, water and enthalpy in equal out, clear or fog. Tolerance: rounding, and for fog the stated
    /// residual of the solver.
    #[test]
    fn phys_mixing_conserves(a in state(), b in state(), fa in 0.01..10.0f64, fb in 0.01..10.0f64) {
        let b = MoistAir::from_relative_humidity(b.dry_bulb(), b.relative_humidity(), a.pressure());
        let Ok(b) = b else { return Ok(()) };
        let mixed = mix(a, MassFlow::kg_per_s(fa), b, MassFlow::kg_per_s(fb)).unwrap();
        let water = fa * a.humidity_ratio().si() + fb * b.humidity_ratio().si();
        let heat = fa * a.enthalpy().si() + fb * b.enthalpy().si();
        let m = mixed.dry_air.si();
        prop_assert!((m - fa - fb).abs() <= 1e-12 * m);
        let (w_out, h_out) = match mixed.mixture {
            Mixture::Clear(air) => (air.humidity_ratio().si(), air.enthalpy().si()),
            Mixture::Fog { air, condensed, ice, .. } => {
                prop_assert!(condensed.si() > 0.0);
                prop_assert!((air.relative_humidity().si() - 1.0).abs() < 1e-9);
                let c = air.dry_bulb().si();
                let water_h = if c == 0.0 {
                    -ice.si() * FUSION_AT_0_C_J_PER_KG
                } else {
                    condensed_water_enthalpy_j_per_kg(c)
                };
                (air.humidity_ratio().si() + condensed.si(), air.enthalpy().si() + condensed.si() * water_h)
            }
        };
        let h_scale = a.enthalpy().si().abs() + b.enthalpy().si().abs() + 1e3;
        prop_assert!((m * w_out - water).abs() <= 1e-12 * water.max(1e-12));
        prop_assert!((m * h_out - heat).abs() <= 1e-9 * m * h_scale, "{mixed:?}");
    }

    #[test]
    fn inv_batch_has_the_same_bits(air in state()) {
        let (c, w, p) = (air.dry_bulb().si(), air.humidity_ratio().si(), air.pressure().si());
        let rh = air.relative_humidity().si();
        let mut out = [0.0; 9];
        batch::wet_bulb_from_humidity_ratio(&[c; 9], &[w; 9], &[p; 9], &mut out).unwrap();
        prop_assert!(out.iter().all(|x| x.to_bits() == raw::wet_bulb_c(c, w, p).to_bits()));
        batch::wet_bulb_from_relative_humidity(&[c; 9], &[rh; 9], &[p; 9], &mut out).unwrap();
        prop_assert!(out.iter().all(|x| x.to_bits() == raw::wet_bulb_from_relative_humidity_c(c, rh, p).to_bits()));
        batch::dew_point(&[w; 9], &[p; 9], &mut out).unwrap();
        prop_assert!(out.iter().all(|x| x.to_bits() == raw::dew_point_c(w, p).to_bits()));
        batch::saturation_humidity_ratio(&[c; 9], &[p; 9], &mut out).unwrap();
        let one = raw::saturation_humidity_ratio(c, p);
        prop_assert!(out.iter().all(|x| x.to_bits() == one.to_bits() || (x.is_nan() && one.is_nan())));
    }

    /// Any pair of any numbers gives a state in range or an error, never a panic or a not-a-number.
    #[test]
    fn phys_no_input_escapes(a in 0usize..6, b in 0usize..6, x in -200.0..200.0f64, y in -200.0..200.0f64, p in 50e3..120e3f64) {
        let make = |kind: usize, x: f64| match kind {
            0 => Property::DryBulb(t(x)),
            1 => Property::WetBulb(t(x)),
            2 => Property::DewPoint(t(x)),
            3 => Property::RelativeHumidity(Fraction::percent(x)),
            4 => Property::HumidityRatio(HumidityRatio::from_si(x * 1e-3)),
            _ => Property::Enthalpy(SpecificEnthalpy::joules_per_kg(x * 1e3)),
        };
        match MoistAir::from_pair(make(a, x), make(b, y), pa(p)) {
            Ok(air) => {
                prop_assert!(ValidRange::DRY_BULB.check(air.dry_bulb().si()).is_ok());
                prop_assert!(air.relative_humidity().si() <= 1.0 + 1e-9);
                prop_assert!(air.wet_bulb().is_ok(), "{air:?}");
            }
            Err(e) => prop_assert!(!e.to_string().is_empty() && !matches!(e, AirError::NotConverged { .. }), "{e}"),
        }
    }
}

/// The two saturation equations meet at the triple point: 4e-6 Pa, 2e-11 in W, far below every residual. At 0 degC they
/// would be 0.06 Pa apart.
#[test]
fn phys_saturation_is_continuous_at_the_triple_point() {
    let (below, above) = (raw::SEAM_C, raw::SEAM_C + 1e-12);
    let step = raw::saturation_pressure_pa(above) - raw::saturation_pressure_pa(below);
    assert!(step > 0.0 && step < 4e-6, "{step}");
    let mut last = 0.0;
    for i in -3000..3000 {
        let p = raw::saturation_pressure_pa(f64::from(i) * 1e-5);
        assert!(p > last, "{i}");
        last = p;
    }
}

/// Slopes against central differences on both sides of the seam; 1e-6 relative is the error of the difference.
#[test]
fn xchk_slopes() {
    for c in [-90.0, -40.0, -5.0, -0.01, 0.02, 5.0, 25.0, 60.0, 85.0] {
        let d = 1e-4;
        let slope = (raw::saturation_pressure_pa(c + d) - raw::saturation_pressure_pa(c - d)) / (2.0 * d);
        assert!((raw::saturation_pressure_slope_pa_per_k(c) / slope - 1.0).abs() < 1e-6, "{c}");
        let slope = (raw::saturation_humidity_ratio(c + d, 1e5) - raw::saturation_humidity_ratio(c - d, 1e5))
            / (2.0 * d);
        assert!((raw::saturation_humidity_ratio_slope_per_k(c, 1e5) / slope - 1.0).abs() < 1e-6, "{c}");
    }
}

#[test]
fn inv_dew_point_across_the_seam() {
    let mut last = f64::NEG_INFINITY;
    for i in -2000..2000 {
        let c = 0.01 + f64::from(i) * 1e-5;
        let back = raw::dew_point_c(raw::humidity_ratio_at_dew_point(c, 1e5), 1e5);
        // 4e-6 Pa at 44 Pa/K: 1e-7 K within the step itself, rounding elsewhere.
        assert!((back - c).abs() < 1e-7, "{c} {back}");
        assert!(back >= last);
        last = back;
    }
}

/// Inside the step of the energy balance at 0 degC the same air has two wet bulbs, each a solution of its own equation;
/// the one over liquid water is reported.
#[test]
fn phys_two_wet_bulbs_around_zero() {
    let p = 101_325.0;
    let on = |surface| raw::humidity_ratio_at_wet_bulb_on(surface, 5.0, 0.0, p);
    let (water, ice) = (on(raw::WetBulbSurface::Water), on(raw::WetBulbSurface::Ice));
    assert!(water < ice, "melting makes the frozen bulb wetter: {water} {ice}");
    let w = 0.5 * (water + ice);
    let air = MoistAir::new(t(5.0), HumidityRatio::from_si(w), pa(p)).unwrap();
    let (liquid, frozen) = (air.wet_bulb().unwrap().si(), air.wet_bulb_on_ice().unwrap().si());
    assert!(liquid > 0.0 && frozen < 0.0);
    for (surface, c) in [(raw::WetBulbSurface::Water, liquid), (raw::WetBulbSurface::Ice, frozen)] {
        assert!((raw::humidity_ratio_at_wet_bulb_on(surface, 5.0, c, p) - w).abs() < 1e-12);
    }
    // Outside the step there is one.
    for w in [water * 0.99, ice * 1.01] {
        let air = MoistAir::new(t(5.0), HumidityRatio::from_si(w), pa(p)).unwrap();
        let second = air.wet_bulb_on_ice().map(Temperature::si);
        assert!(second.is_none() || second == Some(air.wet_bulb().unwrap().si()), "{w}");
    }
    // Monotone in W on either side and across.
    let mut last = f64::NEG_INFINITY;
    for i in 0..2000 {
        let w = water * 0.8 + f64::from(i) * (ice * 1.2 - water * 0.8) / 2000.0;
        let wb = raw::wet_bulb_c(5.0, w, p);
        assert!(wb > last);
        last = wb;
    }
}

#[test]
fn phys_dry_air_has_a_wet_bulb_and_no_dew_point() {
    for c in [-60.0, -20.0, 0.0, 0.005, 5.0, 24.0, 60.0, 90.0] {
        for p in [60e3, 101_325.0, 108e3] {
            let air = MoistAir::new(t(c), HumidityRatio::from_si(0.0), pa(p)).unwrap();
            let wb = air.wet_bulb().unwrap().si();
            assert!(wb < c, "{c}");
            assert!(raw::humidity_ratio_at_wet_bulb(c, wb, p).abs() < 1e-9);
            assert!(matches!(air.dew_point(), Err(AirError::NoDewPoint { .. })));
            assert!(ValidRange::WET_BULB.check(wb).is_ok(), "{wb}");
        }
    }
}

#[test]
fn phys_saturated_air_has_one_temperature() {
    for i in 0..1500 {
        let c = -60.0 + 0.1 * f64::from(i);
        let Ok(air) = MoistAir::saturated(t(c), pa(101_325.0)) else { panic!("{c}") };
        assert!((air.wet_bulb().unwrap().si() - c).abs() < 1e-6, "{c}");
        assert!((air.dew_point().unwrap().si() - c).abs() < 1e-6, "{c}");
    }
}

#[test]
fn phys_fog_over_ice_water_and_at_the_melting_point() {
    let p = pa(101_325.0);
    let fog = |a: f64, b: f64, share: f64| {
        let a = MoistAir::saturated(t(a), p).unwrap();
        let b = MoistAir::saturated(t(b), p).unwrap();
        match mix(a, MassFlow::kg_per_s(1.0 - share), b, MassFlow::kg_per_s(share)).unwrap().mixture {
            Mixture::Fog { air, condensed, ice, .. } => (air.dry_bulb().si(), condensed.si(), ice.to_ratio()),
            Mixture::Clear(air) => panic!("{air:?}"),
        }
    };
    assert_eq!(fog(5.0, 30.0, 0.5).2, 0.0);
    assert_eq!(fog(-30.0, 0.0, 0.5).2, 1.0);
    let mut at_zero = 0;
    let mut last = -40.0;
    for i in 1..2000 {
        let (c, condensed, ice) = fog(-20.0, 20.0, f64::from(i) / 2000.0);
        assert!(condensed > 0.0 && c >= last - 1e-9, "{i}: {c} after {last}");
        last = c;
        if c == 0.0 {
            at_zero += 1;
            assert!((0.0..=1.0).contains(&ice));
        }
    }
    assert!(at_zero > 0, "the mixture passes the melting point with both phases");
}

#[test]
fn impossible_pairs_are_refused_with_the_reason() {
    let p = pa(101_325.0);
    let pair = |a, b| MoistAir::from_pair(a, b, p).unwrap_err().to_string();
    let dry = |c| Property::DryBulb(t(c));
    for (text, wanted) in [
        (pair(dry(20.0), Property::DewPoint(t(21.0))), "dew point 21.00 degC is above dry bulb 20.00 degC"),
        (pair(dry(20.0), Property::WetBulb(t(21.0))), "wet bulb 21.00 degC is above dry bulb"),
        (pair(dry(20.0), Property::WetBulb(t(1.0))), "below that of completely dry air"),
        (pair(dry(20.0), Property::RelativeHumidity(Fraction::percent(101.0))), "relative humidity 101.0 %"),
        (
            pair(dry(20.0), Property::HumidityRatio(HumidityRatio::from_si(0.016))),
            "above saturation at 20.00 degC",
        ),
        (
            pair(dry(20.0), Property::Enthalpy(SpecificEnthalpy::joules_per_kg(1e4))),
            "possible are 20.12 kJ/kg to",
        ),
        (pair(dry(20.0), Property::Enthalpy(SpecificEnthalpy::joules_per_kg(9e4))), "cannot occur"),
        (pair(Property::WetBulb(t(10.0)), Property::DewPoint(t(11.0))), "above wet bulb 10.00 degC"),
        (
            pair(Property::HumidityRatio(HumidityRatio::from_si(0.01)), Property::DewPoint(t(11.0))),
            "dew point and humidity ratio do not fix a state",
        ),
        (
            pair(Property::Enthalpy(SpecificEnthalpy::joules_per_kg(5e4)), Property::WetBulb(t(11.0))),
            "nearly parallel",
        ),
        (pair(dry(20.0), dry(21.0)), "given twice"),
        (pair(dry(91.0), Property::RelativeHumidity(Fraction::percent(5.0))), "-60.00 degC to 90.00 degC"),
        (pair(dry(f64::NAN), Property::RelativeHumidity(Fraction::percent(5.0))), "outside the range"),
        (
            pair(Property::WetBulb(t(60.0)), Property::RelativeHumidity(Fraction::percent(1.0))),
            "above the range",
        ),
    ] {
        assert!(text.contains(wanted), "`{text}` lacks `{wanted}`");
    }
    let hot = MoistAir::from_relative_humidity(t(90.0), Fraction::percent(100.0), pa(60e3)).unwrap_err();
    assert!(hot.to_string().contains("would reach the air pressure"), "{hot}");
    assert!(
        MoistAir::new(t(20.0), HumidityRatio::from_si(0.0), pa(59e3))
            .unwrap_err()
            .to_string()
            .contains("kPa")
    );
    let ip = AirError::DewPointAboveDryBulb { dew_point_c: 20.0, dry_bulb_c: 10.0 };
    assert!(
        ip.describe(drycoil_units::UnitSystem::Ip)
            .starts_with("dew point 68.00 degF is above dry bulb 50.00 degF")
    );
}

#[test]
fn batch_lengths_must_agree() {
    let error = batch::dew_point(&[0.01; 3], &[1e5; 3], &mut [0.0; 2]).unwrap_err();
    assert_eq!(error.to_string(), "input has 3 states, output has room for 2");
    let mut out = [0.0; 2];
    batch::wet_bulb_from_relative_humidity(&[90.0, 20.0], &[1.0, 0.5], &[60e3, 1e5], &mut out).unwrap();
    assert_eq!(batch::refused(&out).collect::<Vec<_>>(), [0]);
}
