//! Moisture and gains: closed forms, conservation, table identities.

use drycoil_rooms::gains::{Activity, PeopleColumn, RadiantShare, person, raw_table_total_w, scheduled};
use drycoil_rooms::infiltration::{AVERAGE_SHARE_OF_RATED, Facade};
use drycoil_rooms::moisture::{
    Buffering, MoistFlow, MoistureStore, WettableSurface, dew_point, latent_gain,
    required_supply_humidity_ratio, steady_humidity_ratio, step, vapour_flow,
};
use drycoil_rooms::{RoomError, Source};
use drycoil_units::{
    Area, Fraction, HumidityRatio, Mass, MassFlow, Power, Pressure, Quantity, StandardAirFlow,
    StandardAirFlowPerArea, Temperature, ThermalTransmittance, Time,
};
use proptest::prelude::*;

fn sea() -> Pressure {
    Pressure::pascals(101_325.0)
}

fn at_dew_point(f: f64) -> HumidityRatio {
    let t = Temperature::fahrenheit(f).to_celsius();
    HumidityRatio::kg_per_kg(drycoil_air::raw::saturation_humidity_ratio(t, 101_325.0))
}

fn flow(cfm: f64, dew_point_f: f64) -> MoistFlow {
    MoistFlow::new(StandardAirFlow::cfm(cfm).dry_air_mass_flow(), at_dew_point(dew_point_f)).unwrap()
}

/// Closed form: 10 000 ft3, 200 standard cfm at 48 F dew point, 10 people at 155 Btu/h, start at 60 F. Recomputed;
/// tolerance 0.005 F.
#[test]
fn val_unsteady_room_dew_point() {
    let air = Mass::pounds(10_000.0 * 0.075);
    let supply = flow(200.0, 48.0);
    let vapour = vapour_flow(Power::btu_per_hour(1550.0), Temperature::fahrenheit(75.0)).unwrap();
    let settled = steady_humidity_ratio(&[supply], vapour).unwrap();
    assert!((settled.to_grains_per_pound() - 60.535).abs() < 0.005);
    assert!((dew_point(settled, sea()).unwrap().to_fahrenheit() - 53.345).abs() < 0.005);
    for (multiplier, table) in
        [(1.0, [57.176, 55.508, 54.013]), (5.0, [59.316, 58.697, 57.632]), (10.0, [59.650, 59.316, 58.697])]
    {
        let store = MoistureStore::new(air, Buffering::Multiplier(multiplier)).unwrap();
        let mut w = at_dew_point(60.0);
        for (hours, wanted) in [0.5, 0.5, 1.0].iter().zip(table) {
            let s = step(&store, w, Time::hours(*hours), &[supply], vapour, &[]).unwrap();
            w = HumidityRatio::kg_per_kg(s.humidity_ratio);
            let found = dew_point(w, sea()).unwrap().to_fahrenheit();
            assert!((found - wanted).abs() < 0.005, "{multiplier}: {found}, wanted {wanted}");
        }
    }
}

trait Pounds {
    fn pounds(x: f64) -> Self;
}
impl Pounds for Mass {
    fn pounds(x: f64) -> Self {
        Mass::from_si(x * 0.453_592_37)
    }
}

/// Infiltration of 100 standard cfm at 76 F dew point into a 55 F room: 71.471 gr/lb and 5027.9 Btu/h (recomputed,
/// `h_g` 1094.3 Btu/lb). Tolerance 0.02 % for the rounding of `h_g` between the unit systems.
#[test]
fn val_latent_load_of_infiltration() {
    let excess = at_dew_point(76.0) - at_dew_point(55.0);
    assert!((excess.to_grains_per_pound() - 71.471).abs() < 0.005, "{}", excess.to_grains_per_pound());
    let m = StandardAirFlow::cfm(100.0).dry_air_mass_flow();
    let q = latent_gain(m, excess, Temperature::fahrenheit(75.0)).unwrap();
    assert!((q.to_btu_per_hour() - 5027.9).abs() < 1.0, "{}", q.to_btu_per_hour());
}

/// Conference room at 6.2, office at 17 and classroom at 13.43 standard cfm per person (recomputed): dew points of
/// the primary air that hold 55 F. Tolerance 0.05 F (`h_g` rounding; the 6.2 row is printed to 0.1 F).
#[test]
fn val_required_primary_dew_point() {
    for (cfm, latent, wanted, tolerance) in [
        (6.2, 155.0, 34.2, 0.06),
        (17.0, 200.0, 46.98, 0.02),
        (13.43, 155.0, 47.16, 0.02),
        (20.0, 200.0, 48.33, 0.02),
    ] {
        let w = required_supply_humidity_ratio(
            StandardAirFlow::cfm(cfm).dry_air_mass_flow(),
            &[],
            vapour_flow(Power::btu_per_hour(latent), Temperature::fahrenheit(75.0)).unwrap(),
            at_dew_point(55.0),
        )
        .unwrap();
        let found = dew_point(w, sea()).unwrap().to_fahrenheit();
        assert!((found - wanted).abs() < tolerance, "{cfm}: {found}");
    }
    // Too little air: the needed supply is below zero moisture, refused with the value.
    let few = required_supply_humidity_ratio(
        StandardAirFlow::cfm(1.0).dry_air_mass_flow(),
        &[],
        vapour_flow(Power::btu_per_hour(200.0), Temperature::fahrenheit(75.0)).unwrap(),
        at_dew_point(55.0),
    );
    assert!(matches!(few, Err(RoomError::OutOfRange { value, .. }) if value < 0.0));
}

/// A pane just above the room's dew point stays dry, just below it gets wet.
#[test]
fn phys_condensation_only_below_the_dew_point() {
    let store = MoistureStore::new(Mass::kilograms(100.0), Buffering::Multiplier(1.0)).unwrap();
    let w = at_dew_point(55.0);
    let surface = |f: f64| {
        WettableSurface::new(
            Area::square_metres(3.0),
            ThermalTransmittance::from_si(3.0),
            Temperature::fahrenheit(f),
            sea(),
        )
        .unwrap()
    };
    let run = |f: f64| {
        step(&store, w, Time::hours(1.0), &[flow(100.0, 55.0)], MassFlow::from_si(0.0), &[surface(f)])
            .unwrap()
    };
    assert_eq!(run(55.05).condensed_kg[0], 0.0);
    assert!(run(54.95).condensed_kg[0] > 0.0);
    // A room that is dried passes the saturation of its surfaces and the step is cut there.
    let dried = step(
        &store,
        at_dew_point(60.0),
        Time::hours(2.0),
        &[flow(400.0, 45.0)],
        MassFlow::from_si(0.0),
        &[surface(58.0), surface(56.0)],
    )
    .unwrap();
    assert_eq!(dried.pieces, 3);
    assert!(dried.condensed_kg.iter().all(|x| *x > 0.0));
    assert!(dried.condensed_kg[1] > dried.condensed_kg[0]);
}

/// Sorption: the effective capacity is the derivative of relative humidity times the buffer value.
#[test]
fn xchk_sorption_capacity_by_difference() {
    let (area, buffer, t, w, p) = (60.0, 0.0006, 24.0, 0.009, 101_325.0);
    let store = MoistureStore::new(
        Mass::kilograms(100.0),
        Buffering::Sorption {
            area_m2: area,
            buffer_kg_per_m2_percent: buffer,
            temperature_c: t,
            humidity_ratio: w,
            pressure_pa: p,
        },
    )
    .unwrap();
    let rh = |w: f64| {
        100.0 * drycoil_air::raw::vapour_pressure_pa(w, p) / drycoil_air::raw::saturation_pressure_pa(t)
    };
    let slope = (rh(w + 1e-6) - rh(w - 1e-6)) / 2e-6;
    let wanted = 100.0 + area * buffer * slope;
    assert!((store.effective_kg() / wanted - 1.0).abs() < 1e-7);
    assert!(store.effective_kg() > 2.0 * store.dry_air_kg());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Water closes in every step, and two half steps make a whole one.
    #[test]
    fn phys_water_closes(
        start in 0.002..0.02_f64,
        m in 0.0..0.5_f64,
        w_in in 0.001..0.02_f64,
        vapour in 0.0..0.002_f64,
        hours in 0.01..12.0_f64,
        surfaces in proptest::collection::vec((0.002..0.02_f64, 0.0..0.1_f64), 0..4),
    ) {
        let store = MoistureStore::new(Mass::kilograms(80.0), Buffering::Multiplier(2.0)).unwrap();
        let flows = [MoistFlow { dry_air_kg_per_s: m, humidity_ratio: w_in }];
        let surfaces: Vec<WettableSurface> = surfaces
            .into_iter()
            .map(|(saturation, transfer_kg_per_s)| WettableSurface { saturation, transfer_kg_per_s })
            .collect();
        let go = |w: f64, h: f64| step(
            &store, HumidityRatio::from_si(w), Time::hours(h), &flows, MassFlow::from_si(vapour), &surfaces,
        );
        let whole = go(start, hours);
        prop_assume!(whole.is_ok());
        let whole = whole.unwrap();
        let scale = whole.flows_kg.iter().chain(&whole.condensed_kg).chain([&whole.stored_kg, &whole.released_kg])
            .fold(1e-3_f64, |a, b| a.max(b.abs()));
        prop_assert!(whole.residual_kg().abs() < 1e-9 * scale, "{}", whole.residual_kg());
        prop_assert!(whole.condensed_kg.iter().all(|x| *x >= 0.0));
        let half = go(start, hours / 2.0).unwrap();
        let second = go(half.humidity_ratio, hours / 2.0).unwrap();
        prop_assert!((second.humidity_ratio - whole.humidity_ratio).abs() < 1e-12);
        for i in 0..surfaces.len() {
            let two = half.condensed_kg[i] + second.condensed_kg[i];
            prop_assert!((two - whole.condensed_kg[i]).abs() < 1e-9 * scale);
        }
    }
}

/// Rows of the table: sensible + latent = total in the SI column; the two columns are rounded apart by at most 7 W.
#[test]
fn val_people_table() {
    for a in Activity::all() {
        let si = person(a, PeopleColumn::Si, Temperature::celsius(24.0)).unwrap();
        assert_eq!(si.total().si(), raw_table_total_w(a), "{a:?}");
        let ip = person(a, PeopleColumn::InchPound, Temperature::fahrenheit(75.0)).unwrap();
        assert!((ip.total().si() - si.total().si()).abs() < 7.0, "{a:?}");
    }
    // 200 Btu/h is 58.6 W, not the SI column's 55 W.
    let ip = person(Activity::OfficeWork, PeopleColumn::InchPound, Temperature::fahrenheit(75.0)).unwrap();
    assert!((ip.latent.si() - 58.614).abs() < 1e-3);
}

/// 80 F room: total unchanged, sensible 20 % less (footnote of the table).
#[test]
fn val_people_in_a_warm_room() {
    for a in Activity::all() {
        let cool = person(a, PeopleColumn::InchPound, Temperature::fahrenheit(75.0)).unwrap();
        let warm = person(a, PeopleColumn::InchPound, Temperature::fahrenheit(80.0)).unwrap();
        assert!((warm.total().si() - cool.total().si()).abs() < 1e-9);
        assert!((warm.sensible.si() / cool.sensible.si() - 0.8).abs() < 1e-9);
        for t in [18.0, 30.0] {
            for c in [PeopleColumn::Si, PeopleColumn::InchPound] {
                let p = person(a, c, Temperature::celsius(t)).unwrap();
                assert!(p.sensible.si() > 0.0 && p.latent.si() > 0.0, "{a:?} {t}");
            }
        }
    }
    assert!(person(Activity::Athletics, PeopleColumn::Si, Temperature::celsius(31.0)).is_err());
}

/// Radiant plus convective is the whole gain; fractions outside 0 to 1 are refused.
#[test]
fn phys_scheduled_gain_keeps_its_heat() {
    let share = RadiantShare::default_for(Source::Plugs).unwrap().radiant;
    let s = scheduled(Source::Plugs, Power::watts(500.0), share, &[0.2, 1.0]).unwrap();
    for (k, f) in [0.2, 1.0].iter().enumerate() {
        assert!((s.convective_w[k] + s.radiant_w[k] - 500.0 * f).abs() < 1e-12);
    }
    assert!(scheduled(Source::Plugs, Power::watts(500.0), share, &[1.2]).is_err());
    assert!(scheduled(Source::Plugs, Power::watts(500.0), Fraction::ratio(-0.1), &[1.0]).is_err());
    assert!(RadiantShare::default_for(Source::Walls).is_none());
}

/// 90.1 G3.1.1.4: 0.40 cfm/ft2 at 75 Pa and 2.5 times the wall area give 0.112 cfm/ft2 of wall.
#[test]
fn val_average_infiltration() {
    let f = |surplus: f64| {
        Facade::new(Area::square_feet(2.5), StandardAirFlowPerArea::cfm_per_ft2(0.4), AVERAGE_SHARE_OF_RATED)
            .unwrap()
            .infiltration(StandardAirFlow::cfm(surplus))
            .unwrap()
    };
    assert!((f(0.0).flow.to_cfm() - 0.112).abs() < 1e-12);
    // Falls monotonically with pressurization and is gone when the surplus equals it.
    let mut last = f64::INFINITY;
    for i in 0..=20 {
        let x = f(0.112 * f64::from(i) / 20.0);
        assert!(x.flow.to_cfm() < last);
        last = x.flow.to_cfm();
    }
    assert!(last < 1e-9 && f(0.2).flow.to_cfm() == 0.0);
    // The pressure that carries the surplus out is consistent with the same power law.
    let x = f(0.05);
    let back = (x.room_pressure.to_pascals() / 75.0).powf(0.65);
    assert!((back - 0.05).abs() < 1e-12);
}
