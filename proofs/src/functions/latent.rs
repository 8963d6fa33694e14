//! The moisture balance of a room and the heat of people.

use super::{Function, air, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_air::MoistAir;
use drycoil_rooms::gains::{Activity, PeopleColumn, person, raw_table_total_w};
use drycoil_rooms::moisture::{
    Buffering, MoistFlow, MoistureStore, dew_point, latent_gain, required_supply_humidity_ratio,
    steady_humidity_ratio, step, vapour_flow,
};
use drycoil_units::{
    ActualAirFlow, HumidityRatio, Mass, MassFlow, Power, Pressure, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3,
    SpecificEnthalpy, StandardAirFlow, Temperature, Time, Volume,
};

pub const FUNCTIONS: &[Function] = &[
    Function { id: "latent.people", calls: "drycoil_rooms::gains::person", run: people },
    Function {
        id: "latent.required_supply",
        calls: "drycoil_rooms::moisture::required_supply_humidity_ratio",
        run: required_supply,
    },
    Function {
        id: "latent.required_flow",
        calls: "drycoil_rooms::moisture::vapour_flow",
        run: required_flow,
    },
    Function { id: "latent.room", calls: "drycoil_rooms::moisture::steady_humidity_ratio", run: room },
    Function { id: "latent.unsteady", calls: "drycoil_rooms::moisture::step", run: unsteady },
    Function { id: "latent.infiltration", calls: "drycoil_rooms::moisture::latent_gain", run: infiltration },
];

fn people(given: &Given) -> Result<Found, FunctionError> {
    let activity = match given.words("activity")? {
        "seated at theater, matinee" => Activity::SeatedMatinee,
        "seated at theater, night" => Activity::SeatedNight,
        "seated, very light work" => Activity::SeatedVeryLightWork,
        "moderately active office work" => Activity::OfficeWork,
        "standing, light work" => Activity::StandingLightWork,
        "walking, standing" => Activity::WalkingStanding,
        "sedentary work, restaurant" => Activity::Restaurant,
        "light bench work" => Activity::LightBenchWork,
        "moderate dancing" => Activity::Dancing,
        "walking, light machine work" => Activity::LightMachineWork,
        "heavy work" => Activity::HeavyWork,
        "heavy machine work" => Activity::HeavyMachineWork,
        "athletics" => Activity::Athletics,
        other => return Err(unknown("activity", other)),
    };
    let column = match given.words("table_column")? {
        "SI" => PeopleColumn::Si,
        "I-P" => PeopleColumn::InchPound,
        other => return Err(unknown("table_column", other)),
    };
    let room = given.try_get::<Temperature>("room")?.unwrap_or_else(|| column.room());
    let heat = person(activity, column, room)?;
    Ok(Found::new()
        .with("sensible", heat.sensible)
        .with("latent", heat.latent)
        .with("total", heat.total())
        .with("table_total", Power::from_si(raw_table_total_w(activity)))
        .number("sensible_factor", heat.temperature_factor))
}

/// Vapour of a latent load: by the enthalpy of vapour at the room temperature, or by the latent heat that the source
/// takes.
fn vapour(given: &Given) -> Result<MassFlow, FunctionError> {
    let latent: Power = given.get("latent")?;
    match given.try_get::<SpecificEnthalpy>("latent_heat")? {
        Some(heat) => Ok(MassFlow::from_si(latent.si() / heat.si())),
        None => Ok(vapour_flow(latent, given.get("room")?)?),
    }
}

/// Humidity ratio of a named point: given, or of its dew point.
fn humidity(given: &Given, name: &str, p: Pressure) -> Result<HumidityRatio, FunctionError> {
    match given.try_get::<Temperature>(&format!("{name}_dew_point"))? {
        Some(t) => Ok(MoistAir::saturated(t, p)?.humidity_ratio()),
        None => given.get(&format!("{name}_humidity_ratio")),
    }
}

/// Dry air: standard flow, actual flow of saturated supply air, or mass flow.
fn supply_air(given: &Given, p: Pressure) -> Result<MassFlow, FunctionError> {
    if let Some(flow) = given.try_get::<StandardAirFlow>("standard_flow")? {
        return Ok(flow.dry_air_mass_flow());
    }
    if let Some(flow) = given.try_get::<ActualAirFlow>("actual_flow_at_coil")? {
        let state = MoistAir::saturated(given.get("supply_dew_point")?, p)?;
        return Ok(drycoil_air::dry_air_of_actual_flow_at(flow, state));
    }
    given.get("dry_air")
}

fn required_supply(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let limit = humidity(given, "room", p)?;
    let w = required_supply_humidity_ratio(supply_air(given, p)?, &[], vapour(given)?, limit)?;
    Ok(Found::new()
        .with("room_humidity", limit)
        .with("humidity_ratio", w)
        .with("difference", limit - w)
        .with("dew_point", dew_point(w, p)?))
}

fn required_flow(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let difference = humidity(given, "room", p)? - humidity(given, "supply", p)?;
    if difference.si() <= 0.0 {
        return Err(FunctionError::Refused("supply air is not drier than the room".into()));
    }
    let dry_air = MassFlow::from_si(vapour(given)?.si() / difference.si());
    Ok(Found::new().with("standard_flow", dry_air.as_dry_air_to_standard_flow()).with("dry_air", dry_air))
}

fn room(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let flow = MoistFlow::new(supply_air(given, p)?, humidity(given, "supply", p)?)?;
    let w = steady_humidity_ratio(&[flow], vapour(given)?)?;
    Ok(Found::new().with("humidity_ratio", w).with("dew_point", dew_point(w, p)?))
}

fn unsteady(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let volume: Volume = given.get("volume")?;
    let dry_air = Mass::from_si(volume.si() * STANDARD_AIR_DENSITY_KG_PER_M3);
    let store = MoistureStore::new(dry_air, Buffering::Multiplier(given.plain("multiplier")?))?;
    let flow = MoistFlow::new(supply_air(given, p)?, humidity(given, "supply", p)?)?;
    let people = given.plain("people")?;
    let vapour = MassFlow::from_si(vapour(given)?.si() * people);
    let time: Time = given.get("time")?;
    let steady = steady_humidity_ratio(&[flow], vapour)?;
    let end = step(&store, humidity(given, "start", p)?, time, &[flow], vapour, &[])?;
    let w = HumidityRatio::from_si(end.humidity_ratio);
    Ok(Found::new()
        .with("humidity_ratio", w)
        .with("dew_point", dew_point(w, p)?)
        .with("steady_humidity_ratio", steady)
        .with("steady_dew_point", dew_point(steady, p)?))
}

fn infiltration(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let excess = humidity(given, "outdoor", p)? - humidity(given, "room", p)?;
    let latent = latent_gain(supply_air(given, p)?, excess, given.get("room")?)?;
    Ok(Found::new().with("difference", excess).with("latent", latent))
}
