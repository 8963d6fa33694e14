//! What a comparison of the schemes assumes: of the method, and of the baseline.

use drycoil_units::{QuantityKind as K, UnitSystem, format_si};
use serde::Serialize;

/// One assumption.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assumption {
    /// `method` for what the simulation does in both schemes; `all-air` for the baseline.
    pub about: String,
    /// What is assumed.
    pub what: String,
    /// Its value in this run, with unit where it has one.
    pub value: String,
    /// Where it comes from.
    pub source: String,
    /// Key of the project that overrides it; `-` when it belongs to the method.
    pub key: String,
}

/// Assumptions of the method, the same for both schemes.
pub fn of_method(step_s: f64, units: UnitSystem) -> Vec<Assumption> {
    let row = |what: &str, value: String, source: &str, key: &str| Assumption {
        about: "method".to_owned(),
        what: what.to_owned(),
        value,
        source: source.to_owned(),
        key: key.to_owned(),
    };
    vec![
        row("step", format!("{step_s:.0} s"), "method", "-"),
        row(
            "weather within the hour",
            "dry bulb and humidity ratio linear between hours, irradiance of each orientation held over the hour".into(),
            "method",
            "-",
        ),
        row(
            "plant and rooms",
            "the plant answers what the rooms took in the step before: one step of lag".into(),
            "method; compared with a coupled solve in a test",
            "-",
        ),
        row(
            "room control",
            "ideal at the set point within the capacity of the unit".into(),
            "method; control loops are not simulated over the year",
            "-",
        ),
        row(
            "rooms without the thermostat of their zone",
            "get air as the room with the thermostat asks for it".into(),
            "method",
            "-",
        ),
        row(
            "the same for both schemes",
            "weather, rooms, gains, hours of use, set points, set-back, infiltration, machine models, spare capacity".into(),
            "method",
            "-",
        ),
        row(
            "coils of wet rooms",
            "shut at all hours while the air at the coil is wetter than the water; units of server rooms blend their own water".into(),
            "ordinary control; common practice, no source",
            "year.coil_release",
        ),
        row(
            "server rooms",
            "the same units and water in both schemes; in the all-air scheme one chiller of their own makes it".into(),
            "method",
            "-",
        ),
        row(
            "rooms off the system",
            "their own units are the same in both schemes, and in neither's energy".into(),
            "method",
            "-",
        ),
        row(
            "before use and at night",
            "air is moved where it heats, cools or dries; no outdoor air, exhaust or transfer outside the hours of use".into(),
            "method",
            "-",
        ),
        row(
            "primary air that is not dried",
            "at its winter temperature, made colder down to the discharge of design while a coil is near its largest load".into(),
            "common practice, no source",
            "primary_air.winter_temperature",
        ),
        row(
            "drive of a recovery wheel",
            format!("{:.0} W for each kg/s of its rated air, in both schemes", crate::plant::decoupled_plant::WHEEL_DRIVE_W_S_PER_KG),
            "common practice, no source",
            "-",
        ),
        row(
            "tower water while chillers run",
            format!(
                "what the tower makes at its design range, at least {}; fans follow the heat",
                format_si(K::Temperature, drycoil_sizing::machine_data::COLDEST_CONDENSER_C, units)
            ),
            "common practice, no source",
            "-",
        ),
        row(
            "hours that count as unmet",
            format!(
                "occupied, more than {} outside the set points",
                format_si(K::TemperatureDifference, crate::result::UNMET_TOLERANCE_K, units)
            ),
            "common practice, no source",
            "-",
        ),
    ]
}
