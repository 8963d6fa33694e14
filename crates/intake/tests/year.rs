//! `[year]`, `[all_air]` and the tariffs of `[economics]`.

use drycoil_intake::{MemoryFiles, project};
use drycoil_project::{EmissionInput, PrimaryAirControl, Project};
use drycoil_units::{Area, Fraction, StandardAirFlow};
use drycoil_working::Origin;
use std::fmt::Write as _;

fn read(extra: &str, rooms: &str) -> Project {
    let head = "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n";
    let files = MemoryFiles::new().with("project.toml", format!("{head}{extra}")).with("rooms.csv", rooms);
    project::read_project(&files, None).unwrap_or_else(|f| panic!("{f:#?}")).project
}

const ROOM: &str = "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n";

#[test]
fn val_energy_recovery_thresholds() {
    // ANSI/ASHRAE/IES 90.1-2019 Table 6.5.6.1.2-1, less than 8000 h, from memory.
    let required = |zone: &str, share: f64, cfm: f64| {
        let p = read(&format!("[all_air]\nclimate_zone = \"{zone}\"\n"), ROOM);
        p.all_air.recovery_required(StandardAirFlow::cfm(cfm), Fraction::ratio(share))
    };
    for (zone, share, cfm, asked) in [
        ("4A", 0.05, 1e5, false),
        ("4A", 0.15, 25_000.0, false),
        ("4A", 0.15, 26_500.0, true),
        ("4A", 0.3, 5_600.0, true),
        ("4A", 0.35, 5_400.0, false),
        ("4A", 0.95, 200.0, true),
        ("4B", 0.9, 40_000.0, false),
        ("6B", 0.45, 5_000.0, false),
        ("6B", 0.45, 5_600.0, true),
        ("7", 0.85, 100.0, true),
    ] {
        assert_eq!(required(zone, share, cfm), asked, "{zone} {share} {cfm}");
    }
    let none = read("[all_air]\nrecovery = \"none\"\n", ROOM).all_air.clone();
    assert!(!none.recovery_required(StandardAirFlow::cfm(1e5), Fraction::ratio(1.0)));
}

#[test]
fn val_demand_control_is_for_dense_and_large_rooms() {
    // ANSI/ASHRAE/IES 90.1-2019 6.4.3.8, from memory: above 500 ft2, from 25 people per 1000 ft2.
    let a = read("", ROOM).all_air.clone();
    let follows = |ft2: f64, people: f64| a.follows_people(Area::square_feet(ft2), people);
    assert!(follows(1000.0, 26.0) && !follows(1000.0, 24.0) && !follows(400.0, 40.0));
}

#[test]
fn a_room_has_its_own_control_and_buffering_or_that_of_the_project() {
    let p = read(
        "[criteria]\nmoisture_capacity = 6\n[year]\nprimary_air_control = \"profile\"\n",
        "id,floor,kind,floor_area [ft2],primary_air_control,standby,moisture_capacity\n\
         101,1,meeting,400,occupancy,no,3\n102,1,meeting,400,,,\n103,1,classroom,900,,,\n",
    );
    assert_eq!(p.rooms[0].primary_air_control.value, PrimaryAirControl::Occupancy);
    assert_eq!(p.rooms[1].primary_air_control.value, PrimaryAirControl::Profile);
    assert_eq!([p.rooms[0].moisture_capacity.value, p.rooms[1].moisture_capacity.value], [3.0, 6.0]);
    // ANSI/ASHRAE 62.1-2019 Table 6-1, from memory: conference rooms may stand by, classrooms for age 9 plus may not.
    let standby: Vec<bool> = p.rooms.iter().map(|r| r.standby_allowed.value).collect();
    assert_eq!(standby, [false, true, false]);
}

#[test]
fn every_assumption_of_the_baseline_that_is_not_written_has_a_source() {
    let a = read("", ROOM).all_air.clone();
    let sources = [
        &a.supply.origin,
        &a.minimum_flow.origin,
        &a.single_minimum.origin,
        &a.dual_minimum.origin,
        &a.minimum_over_outdoor.origin,
        &a.heating_maximum.origin,
        &a.heating_rise.origin,
        &a.boxes.origin,
        &a.economizer.origin,
        &a.supply_reset.origin,
        &a.supply_fan_pressure.origin,
        &a.pressure_reset.origin,
        &a.fan_efficiency.origin,
        &a.recovery.origin,
        &a.recovery_sensible.origin,
        &a.recovery_latent.origin,
        &a.cold_water.origin,
        &a.multiple_zone.origin,
        &a.outdoor_air_reset.origin,
        &a.demand_control.origin,
    ];
    for origin in sources {
        assert!(matches!(origin, Origin::Default { rule, source } if !rule.is_empty() && !source.is_empty()));
    }
}

#[test]
fn a_tariff_is_read_with_its_windows() {
    let p = read(
        "[economics]\nelectricity = \"0.1 per kWh\"\nelectricity_periods = [\n\
         { name = \"winter night\", price = \"0.05 per kWh\", first_month = 11, last_month = 2, from_hour = 22, to_hour = 6 },\n]\n\
         electricity_demand = [{ name = \"demand\", price = \"12 per kW\", ratchet = \"80 %\" }]\nwater = \"3.785411784 per gal\"\n\
         electricity_emissions = \"360 g/kWh\"\nemission_source = \"test\"\n",
        ROOM,
    );
    let e = &p.economics;
    let window = e.electricity_tariff.periods[0].window;
    assert!(window.has_month(12) && window.has_month(2) && !window.has_month(3) && !window.has_month(10));
    assert!(window.has_hour(23) && window.has_hour(5) && !window.has_hour(6) && !window.has_hour(21));
    assert!(e.electricity_tariff.needs_flat() && e.fuel_tariff.needs_flat() && !e.fuel_tariff.is_priced());
    let demand = &e.electricity_tariff.demand[0];
    assert!((demand.price_per_watt_month.value - 0.012).abs() < 1e-15);
    assert_eq!((demand.average_over.to_seconds(), demand.ratchet_months), (900.0, 11));
    // 1000 litres in a cubic metre, 3.785411784 litres in a gallon.
    assert!((e.water_per_m3.as_ref().unwrap().value - 1000.0).abs() < 1e-9);
    let EmissionInput::Constant(factor) = &e.electricity_emissions else { panic!("a factor") };
    assert!((factor.value - 1e-7).abs() < 1e-20);
}

#[test]
fn emissions_by_month_and_hour_fill_their_table() {
    let mut text = String::from("[economics]\nemission_source = \"test\"\n");
    for month in 1..=12 {
        let hours: Vec<String> = (0..24).map(|h| format!("{:.2}", 0.01 * f64::from(month * h))).collect();
        let _ = write!(
            text,
            "[[economics.electricity_emissions_by_hour]]\nmonth = {month}\nkg_per_kwh = [{}]\n",
            hours.join(", ")
        );
    }
    let EmissionInput::ByMonthAndHour(table) = read(&text, ROOM).economics.electricity_emissions.clone()
    else {
        panic!("a table")
    };
    assert!((table[6][20] * 3.6e6 - 1.4).abs() < 1e-12);
}
