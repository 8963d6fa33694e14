//! Cooling tower.

use super::{Function, air, point};
use crate::value::{Found, FunctionError, Given};
use drycoil_exchange::bypass::AirPoint;
use drycoil_exchange::tower::raw::{effectiveness_once, merkel_with_water_film};
use drycoil_exchange::tower::{
    CP_WATER_J_PER_KG_K, Tower, TowerDuty, evaporation_by_latent_heat, merkel_integral, water_balance,
};
use drycoil_units::{
    ActualAirFlow, Length, MassFlow, Power, Pressure, Quantity, SpecificEnthalpy, SpecificHeat, Temperature,
    TemperatureDifference,
};

pub const FUNCTIONS: &[Function] = &[
    Function { id: "tower.merkel", calls: "drycoil_exchange::tower::merkel_integral", run: merkel },
    Function { id: "tower.cold_water", calls: "drycoil_exchange::tower::Tower", run: cold_water },
    Function {
        id: "tower.by_effectiveness",
        calls: "drycoil_exchange::tower::Tower::cold_water_by_effectiveness",
        run: by_effectiveness,
    },
    Function {
        id: "tower.water_film",
        calls: "drycoil_exchange::tower::raw::merkel_with_water_film",
        run: water_film,
    },
    Function {
        id: "tower.air_and_make_up",
        calls: "drycoil_exchange::bypass::AirPoint",
        run: air_and_make_up,
    },
    Function { id: "tower.water_balance", calls: "drycoil_exchange::tower::water_balance", run: balance },
    Function {
        id: "tower.evaporation",
        calls: "drycoil_exchange::tower::evaporation_by_latent_heat",
        run: evaporation,
    },
];

fn merkel(given: &Given) -> Result<Found, FunctionError> {
    let m = merkel_integral(
        given.get("hot")?,
        given.get("cold")?,
        given.get("wet_bulb")?,
        given.plain("water_over_air")?,
        given.get("pressure")?,
    )?;
    let d = |i: usize| SpecificEnthalpy::from_si(m.driving_force_j_per_kg[i]);
    Ok(Found::new()
        .number("exact", m.exact)
        .number("chebyshev", m.chebyshev)
        .with("force_1", d(0))
        .with("force_2", d(1))
        .with("force_3", d(2))
        .with("force_4", d(3)))
}

fn tower_of(given: &Given, ratio: f64) -> Result<Tower, FunctionError> {
    Ok(Tower { coefficient: given.plain("kav_over_l")? * ratio.powf(0.6), exponent: 0.6 })
}

/// A tower of known size at another wet bulb and range, by the integral.
fn cold_water(given: &Given) -> Result<Found, FunctionError> {
    let pressure: Pressure = given.get("pressure")?;
    let ratio = given.plain("water_over_air")?;
    let range: TemperatureDifference = given.get("range")?;
    let wet_bulb: Temperature = given.get("wet_bulb")?;
    let dry_air = MassFlow::from_si(10.0);
    let water = MassFlow::from_si(10.0 * ratio);
    let duty = TowerDuty {
        air: AirPoint::saturated(wet_bulb, pressure)?,
        pressure,
        water,
        dry_air,
        heat: Power::from_si(water.si() * CP_WATER_J_PER_KG_K * range.si()),
    };
    let state = tower_of(given, ratio)?.solve(&duty)?;
    Ok(Found::new().with("cold", state.cold).with("approach", state.approach))
}

/// The effectiveness model with the chord of a given range, and with the chord that it finds itself.
fn by_effectiveness(given: &Given) -> Result<Found, FunctionError> {
    let p: Pressure = given.get("pressure")?;
    let ratio = given.plain("water_over_air")?;
    let (hot, chord): (Temperature, Temperature) = (given.get("hot")?, given.get("chord_cold")?);
    let wet_bulb: Temperature = given.get("wet_bulb")?;
    let tower = tower_of(given, ratio)?;
    let h_in = drycoil_air::raw::saturation_enthalpy_j_per_kg(wet_bulb.si(), p.si());
    let size = tower.kav_over_l(ratio);
    let (e, _, _, cold) = effectiveness_once(hot.si(), chord.si(), h_in, ratio, size, p.si());
    Ok(Found::new()
        .number("effectiveness", e)
        .with("cold", Temperature::from_si(cold))
        .with("cold_of_own_chord", tower.cold_water_by_effectiveness(hot, wet_bulb, ratio, p)?.0))
}

/// Height of packing with resistance in the water film (tie lines).
fn water_film(given: &Given) -> Result<Found, FunctionError> {
    let p: Pressure = given.get("pressure")?;
    let (hot, cold): (Temperature, Temperature) = (given.get("hot")?, given.get("cold")?);
    let entering = air::state_of(given, "", p)?;
    let ratio = given.plain("water_over_air")?;
    let slope: SpecificHeat = given.get("film_over_mass_coefficient")?;
    let h_in = entering.enthalpy().si();
    let units = merkel_with_water_film(hot.si(), cold.si(), h_in, ratio, slope.si(), p.si());
    let h_out = h_in + ratio * CP_WATER_J_PER_KG_K * (hot.si() - cold.si());
    // Height of one gas-side transfer unit, G / (M kG a P).
    let gas_flux = given.plain("gas_flux")?;
    let unit = gas_flux / (28.97 * given.plain("gas_coefficient")? * p.si());
    Ok(Found::new()
        .with("enthalpy_in", entering.enthalpy())
        .with("enthalpy_out", SpecificEnthalpy::from_si(h_out))
        .number("transfer_units", units)
        .with("height", Length::from_si(units * unit)))
}

/// Air and make-up from the balance over a tower between given states.
fn air_and_make_up(given: &Given) -> Result<Found, FunctionError> {
    let p: Pressure = given.get("pressure")?;
    let (entering, leaving) = (point(given, "", p)?, point(given, "_2", p)?);
    let water: MassFlow = given.get("water")?;
    let (hot, cold): (Temperature, Temperature) = (given.get("hot")?, given.get("cold")?);
    let c = CP_WATER_J_PER_KG_K;
    let dw = leaving.humidity_ratio.si() - entering.humidity_ratio.si();
    let dh = leaving.enthalpy().si() - entering.enthalpy().si();
    let dry_air = water.si() * c * (hot.si() - cold.si()) / (dh - dw * c * cold.si());
    let state = air::state_of(given, "", p)?;
    let flow: ActualAirFlow = drycoil_air::actual_flow_at(MassFlow::from_si(dry_air), state);
    Ok(Found::new().with("air_flow", flow).with("make_up", MassFlow::from_si(dry_air * dw)))
}

fn balance(given: &Given) -> Result<Found, FunctionError> {
    let heat: Power = given.get("heat")?;
    let evaporation = evaporation_by_latent_heat(heat, given.get("latent_heat")?)?;
    let b = water_balance(evaporation, MassFlow::from_si(0.0), given.plain("cycles")?)?;
    Ok(Found::new().with("evaporation", b.evaporation).with("bleed", b.bleed).with("make_up", b.make_up))
}

fn evaporation(given: &Given) -> Result<Found, FunctionError> {
    let heat: Power = given.get("heat")?;
    let mut found = Found::new();
    if given.has("latent_heat") {
        found = found.with("evaporation", evaporation_by_latent_heat(heat, given.get("latent_heat")?)?);
    }
    if given.has("range") {
        let range: TemperatureDifference = given.get("range")?;
        let water = heat.si() / (CP_WATER_J_PER_KG_K * range.si());
        found = found.with("water", MassFlow::from_si(water));
    }
    Ok(found)
}
