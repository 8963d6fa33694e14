//! Moist air.

use super::Function;
use crate::value::{Found, FunctionError, Given};
use drycoil_air::{
    MoistAir, Property, dry_air_of_actual_flow_at, mix, raw, standard_pressure, standard_temperature,
};
use drycoil_exchange::bypass::{AirPoint, process_load};
use drycoil_units::{
    ActualAirFlow, Fraction, HumidityRatio, Length, MassFlow, Pressure, Quantity, SpecificEnthalpy,
    StandardAirFlow, Temperature,
};

pub const FUNCTIONS: &[Function] = &[
    Function {
        id: "air.saturation_pressure",
        calls: "drycoil_air::raw::saturation_pressure_pa",
        run: saturation_pressure,
    },
    Function { id: "air.state", calls: "drycoil_air::MoistAir", run: state },
    Function {
        id: "air.standard_atmosphere",
        calls: "drycoil_air::standard_pressure, standard_temperature",
        run: atmosphere,
    },
    Function { id: "air.mix", calls: "drycoil_air::mix", run: mixture },
    Function { id: "air.masses", calls: "drycoil_air::MoistAir, dry_air_of_actual_flow_at", run: masses },
    Function { id: "air.dry_margin", calls: "drycoil_air::MoistAir::dew_point", run: dry_margin },
    Function { id: "air.cooling", calls: "drycoil_exchange::bypass::process_load", run: cooling },
];

/// How much warmer the water of a coil is than the dew point of the room.
fn dry_margin(given: &Given) -> Result<Found, FunctionError> {
    let p = pressure(given)?;
    let room = state_of(given, "", p)?;
    let dew_point = room.dew_point()?;
    let water: Temperature = given.get("water")?;
    Ok(Found::new().with("room_dew_point", dew_point).with("margin", water - dew_point))
}

fn saturation_pressure(given: &Given) -> Result<Found, FunctionError> {
    let t: Temperature = given.get("dry_bulb")?;
    let p = raw::saturation_pressure_pa(t.si());
    if !p.is_finite() || !(-100.0..=200.0).contains(&t.si()) {
        return Err(FunctionError::Refused(format!("no saturation pressure at {} degC", t.si())));
    }
    Ok(Found::new().with("saturation_pressure", Pressure::from_si(p)))
}

/// Pressure of a row: given, or that of the standard atmosphere at the elevation.
pub(super) fn pressure(given: &Given) -> Result<Pressure, FunctionError> {
    match given.try_get::<Length>("elevation")? {
        Some(z) => Ok(standard_pressure(z)?),
        None => given.get("pressure"),
    }
}

/// The two properties that fix a state, whatever they are. The names of a second state end with its suffix.
pub(super) fn state_of(given: &Given, suffix: &str, p: Pressure) -> Result<MoistAir, FunctionError> {
    let name = |word: &str| format!("{word}{suffix}");
    let mut pair: Vec<Property> = Vec::new();
    pair.extend(given.try_get::<Temperature>(&name("dry_bulb"))?.map(Property::DryBulb));
    pair.extend(given.try_get::<Temperature>(&name("wet_bulb"))?.map(Property::WetBulb));
    pair.extend(given.try_get::<Temperature>(&name("dew_point"))?.map(Property::DewPoint));
    pair.extend(given.try_get::<Fraction>(&name("relative_humidity"))?.map(Property::RelativeHumidity));
    pair.extend(given.try_get::<HumidityRatio>(&name("humidity_ratio"))?.map(Property::HumidityRatio));
    pair.extend(given.try_get::<SpecificEnthalpy>(&name("enthalpy"))?.map(Property::Enthalpy));
    if let Some(share) = given.try_get::<Fraction>(&name("degree_of_saturation"))? {
        let t: Temperature = given.get(&name("dry_bulb"))?;
        let w = share.si() * raw::saturation_humidity_ratio(t.si(), p.si());
        pair.push(Property::HumidityRatio(HumidityRatio::from_si(w)));
    }
    match pair.as_slice() {
        [a, b] => Ok(MoistAir::from_pair(*a, *b, p)?),
        _ => Err(FunctionError::Case(format!("{} of the two properties that fix a state", pair.len()))),
    }
}

/// Every property of a state; those that it has not (a dew point of dry air) are left out.
fn describe(state: MoistAir) -> Found {
    let h = state.enthalpy().si();
    let from_zero = h + raw::DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG;
    let p = state.pressure().si();
    let (t, w) = (state.dry_bulb().si(), state.humidity_ratio().si());
    let mut found = Found::new()
        .with("dry_bulb", state.dry_bulb())
        .with("humidity_ratio", state.humidity_ratio())
        .with("relative_humidity", state.relative_humidity())
        .with("degree_of_saturation", Fraction::from_si(raw::degree_of_saturation(t, w, p)))
        .with("vapour_pressure", state.vapour_pressure())
        .with("dry_air_pressure", Pressure::from_si(p - state.vapour_pressure().si()))
        .with("enthalpy", state.enthalpy())
        .with("enthalpy_from_0_f", SpecificEnthalpy::from_si(from_zero))
        .with("mixture_density", state.mixture_density())
        .number("volume", state.volume_m3_per_kg_dry_air())
        .with("pressure", state.pressure());
    if let Ok(dew_point) = state.dew_point() {
        found = found.with("dew_point", dew_point);
    }
    if let Ok(wet_bulb) = state.wet_bulb() {
        found = found.with("wet_bulb", wet_bulb);
    }
    found
}

fn state(given: &Given) -> Result<Found, FunctionError> {
    let p = pressure(given)?;
    Ok(describe(state_of(given, "", p)?))
}

fn atmosphere(given: &Given) -> Result<Found, FunctionError> {
    let z: Length = given.get("elevation")?;
    Ok(Found::new().with("pressure", standard_pressure(z)?).with("temperature", standard_temperature(z)?))
}

/// Dry-air mass flow of one stream: given, or an actual flow at its state.
fn dry_air(given: &Given, suffix: &str, state: MoistAir) -> Result<MassFlow, FunctionError> {
    match given.try_get::<ActualAirFlow>(&format!("actual_flow{suffix}"))? {
        Some(flow) => Ok(dry_air_of_actual_flow_at(flow, state)),
        None => match given.try_get::<StandardAirFlow>(&format!("standard_flow{suffix}"))? {
            Some(flow) => Ok(flow.dry_air_mass_flow()),
            None => given.get(&format!("dry_air{suffix}")),
        },
    }
}

fn mixture(given: &Given) -> Result<Found, FunctionError> {
    let p = pressure(given)?;
    let (a, b) = (state_of(given, "", p)?, state_of(given, "_2", p)?);
    let mixed = mix(a, dry_air(given, "", a)?, b, dry_air(given, "_2", b)?)?;
    let drycoil_air::Mixture::Clear(state) = mixed.mixture else {
        return Err(FunctionError::Refused("the mixture is foggy".into()));
    };
    Ok(Found::new()
        .with("mixed_dry_bulb", state.dry_bulb())
        .with("mixed_humidity_ratio", state.humidity_ratio())
        .with("mixed_relative_humidity", state.relative_humidity())
        .with("mixed_enthalpy", state.enthalpy())
        .with("mixed_flow", drycoil_air::actual_flow_at(mixed.dry_air, state)))
}

/// Dry air and vapour in a volume: the actual flow of one second.
fn masses(given: &Given) -> Result<Found, FunctionError> {
    let p = pressure(given)?;
    let state = state_of(given, "", p)?;
    let volume: drycoil_units::Volume = given.get("volume")?;
    let dry = dry_air_of_actual_flow_at(ActualAirFlow::from_si(volume.si()), state).si();
    Ok(Found::new()
        .with("dry_air", drycoil_units::Mass::from_si(dry))
        .with("vapour", drycoil_units::Mass::from_si(dry * state.humidity_ratio().si())))
}

fn cooling(given: &Given) -> Result<Found, FunctionError> {
    let p = pressure(given)?;
    let (a, b) = (state_of(given, "", p)?, state_of(given, "_2", p)?);
    let point = |s: MoistAir| AirPoint::new(s.dry_bulb(), s.humidity_ratio(), p);
    let flow = dry_air(given, "", a)?;
    let load = process_load(point(a)?, point(b)?, flow, given.get("condensate_temperature")?)?;
    Ok(Found::new()
        .with("dry_air", flow)
        .with("enthalpy_in", a.enthalpy())
        .with("enthalpy_out", b.enthalpy())
        .with("humidity_ratio_in", a.humidity_ratio())
        .with("humidity_ratio_out", b.humidity_ratio())
        .with("air_heat", load.air_enthalpy)
        .with("coil_heat", load.coil)
        .with("sensible", load.sensible)
        .with("latent", load.latent)
        .with("condensate", load.condensate))
}
