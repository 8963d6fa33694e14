//! Heat exchangers, coils and recovery.

use super::{Function, air, point, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_exchange::bypass::{apparatus_dew_point, leaving_by_bypass};
use drycoil_exchange::effectiveness::{
    FlowArrangement, effectiveness, log_mean_temperature_difference, transfer_units,
};
use drycoil_exchange::fin::AnnularFin;
use drycoil_exchange::recovery::{Operation, Recovery, RecoveryEntering, RecoveryKind};
use drycoil_exchange::sensible_coil::{CoilCircuiting, raw::constant_ua};
use drycoil_units::{
    ActualAirFlow, Area, Conductance, Fraction, HumidityRatio, Length, MassFlow, Power, Quantity,
    SpecificHeat, StandardAirFlow, Temperature, TemperatureDifference, ThermalTransmittance, WaterFlow,
};

pub const FUNCTIONS: &[Function] = &[
    Function {
        id: "exchange.effectiveness",
        calls: "drycoil_exchange::effectiveness::effectiveness",
        run: of_transfer_units,
    },
    Function { id: "exchange.sizing", calls: "drycoil_exchange::effectiveness::transfer_units", run: sizing },
    Function {
        id: "exchange.rating",
        calls: "drycoil_exchange::sensible_coil::raw::constant_ua",
        run: rating,
    },
    Function {
        id: "exchange.log_mean",
        calls: "drycoil_exchange::effectiveness::log_mean_temperature_difference",
        run: log_mean,
    },
    Function {
        id: "exchange.terminal_coil",
        calls: "drycoil_exchange::sensible_coil::raw::constant_ua",
        run: terminal,
    },
    Function { id: "exchange.fin", calls: "drycoil_exchange::fin::AnnularFin", run: fin },
    Function { id: "exchange.bypass", calls: "drycoil_exchange::bypass::leaving_by_bypass", run: bypass },
    Function { id: "exchange.apparatus", calls: "drycoil_exchange::bypass", run: apparatus },
    Function { id: "exchange.recovery", calls: "drycoil_exchange::recovery::Recovery", run: recovery },
];

fn arrangement(given: &Given) -> Result<FlowArrangement, FunctionError> {
    Ok(match given.words("arrangement")? {
        "counterflow" => FlowArrangement::Counterflow,
        "parallel" => FlowArrangement::Parallel,
        "cross, both unmixed" => FlowArrangement::CrossBothUnmixed,
        "cross, both unmixed, approximation" => FlowArrangement::CrossBothUnmixedApproximate,
        "cross, smaller mixed" => FlowArrangement::CrossSmallerMixed,
        "cross, larger mixed" => FlowArrangement::CrossLargerMixed,
        "one shell pass" => FlowArrangement::OneShellPass,
        "rows, larger mixed" => FlowArrangement::RowsLargerMixed { rows: given.plain("rows")? as u32 },
        other => return Err(unknown("arrangement", other)),
    })
}

fn of_transfer_units(given: &Given) -> Result<Found, FunctionError> {
    let e = effectiveness(arrangement(given)?, given.plain("ntu")?, given.plain("capacity_ratio")?)?;
    Ok(Found::new().number("effectiveness", e))
}

/// Area of an exchanger whose effectiveness is known: from the larger temperature change over the largest difference.
fn sizing(given: &Given) -> Result<Found, FunctionError> {
    let (hot_in, cold_in): (Temperature, Temperature) = (given.get("hot_in")?, given.get("cold_in")?);
    let ratio = given.plain("capacity_ratio")?;
    let change: TemperatureDifference = given.get("larger_change")?;
    let e = change.si() / (hot_in.si() - cold_in.si());
    let ntu = transfer_units(arrangement(given)?, e, ratio)?.ntu;
    let c_min: Conductance = given.get("smaller_capacity_rate")?;
    let u: ThermalTransmittance = given.get("transmittance")?;
    Ok(Found::new()
        .number("effectiveness", e)
        .number("ntu", ntu)
        .with("area", Area::from_si(ntu * c_min.si() / u.si())))
}

fn rating(given: &Given) -> Result<Found, FunctionError> {
    let (hot, cold): (Conductance, Conductance) =
        (given.get("hot_capacity_rate")?, given.get("cold_capacity_rate")?);
    let (hot_in, cold_in): (Temperature, Temperature) = (given.get("hot_in")?, given.get("cold_in")?);
    let ua: Conductance = given.get("conductance")?;
    if given.words("arrangement")? == "cross, both unmixed" {
        let r =
            constant_ua(CoilCircuiting::CrossFlow, ua.si(), hot.si(), cold.si(), hot_in.si(), cold_in.si());
        return Ok(Found::new()
            .number("ntu", r.ntu)
            .number("capacity_ratio", r.ratio)
            .number("effectiveness", r.effectiveness)
            .with("duty", Power::from_si(r.duty))
            .with("hot_out", Temperature::from_si(r.air_out))
            .with("cold_out", Temperature::from_si(r.water_out)));
    }
    let (small, large) = (hot.si().min(cold.si()), hot.si().max(cold.si()));
    let (ntu, ratio) = (ua.si() / small, small / large);
    let e = effectiveness(arrangement(given)?, ntu, ratio)?;
    let duty = e * small * (hot_in.si() - cold_in.si());
    Ok(Found::new()
        .number("ntu", ntu)
        .number("capacity_ratio", ratio)
        .number("effectiveness", e)
        .with("duty", Power::from_si(duty))
        .with("hot_out", Temperature::from_si(hot_in.si() - duty / hot.si()))
        .with("cold_out", Temperature::from_si(cold_in.si() + duty / cold.si())))
}

/// Log-mean difference of two ends and, where flow and area are given, duty and coefficient.
fn log_mean(given: &Given) -> Result<Found, FunctionError> {
    let t = |name: &str| given.get::<Temperature>(name).map(Quantity::si);
    let (hot_in, hot_out, cold_in, cold_out) = (t("hot_in")?, t("hot_out")?, t("cold_in")?, t("cold_out")?);
    let counter = log_mean_temperature_difference(hot_in - cold_out, hot_out - cold_in)?;
    let mut found = Found::new().with("counterflow", TemperatureDifference::from_si(counter));
    if hot_out > cold_out {
        let parallel = log_mean_temperature_difference(hot_in - cold_in, hot_out - cold_out)?;
        found = found.with("parallel", TemperatureDifference::from_si(parallel));
    }
    if given.has("hot_flow") {
        let c =
            given.get::<MassFlow>("hot_flow")?.si() * given.get::<SpecificHeat>("hot_specific_heat")?.si();
        let duty = c * (hot_in - hot_out);
        let area = given.plain("tubes")?
            * std::f64::consts::PI
            * given.get::<Length>("tube_diameter")?.si()
            * given.get::<Length>("tube_length")?.si();
        let u = duty / (area * given.plain("correction")? * counter);
        found =
            found.with("duty", Power::from_si(duty)).with("transmittance", ThermalTransmittance::from_si(u));
    }
    Ok(found)
}

/// A coil with fixed conductance: flows in the units of the trade, air of humidity ratio 0.0092.
fn terminal(given: &Given) -> Result<Found, FunctionError> {
    let circuiting = match given.words("arrangement")? {
        "counterflow" => CoilCircuiting::Counterflow,
        "cross, both unmixed" => CoilCircuiting::CrossFlow,
        other => return Err(unknown("arrangement", other)),
    };
    let air_flow: StandardAirFlow = given.get("air_flow")?;
    let w: HumidityRatio = given.get("humidity_ratio")?;
    let cp = drycoil_air::raw::humid_specific_heat_j_per_kg_k(w.si());
    let water: WaterFlow = given.get("water_flow")?;
    let density: drycoil_units::Density = given.get("water_density")?;
    let cp_water: SpecificHeat = given.get("water_specific_heat")?;
    let ua: Conductance = given.get("conductance")?;
    let (air_in, water_in): (Temperature, Temperature) = (given.get("air_in")?, given.get("water_in")?);
    let c_air = air_flow.dry_air_mass_flow().si() * cp;
    let c_water = water.si() * density.si() * cp_water.si();
    let r = constant_ua(circuiting, ua.si(), c_air, c_water, air_in.si(), water_in.si());
    Ok(Found::new()
        .number("ntu", r.ntu)
        .number("capacity_ratio", r.ratio)
        .with("duty", Power::from_si(r.duty))
        .with("air_out", Temperature::from_si(r.air_out))
        .with("water_out", Temperature::from_si(r.water_out)))
}

fn fin(given: &Given) -> Result<Found, FunctionError> {
    let efficiency = AnnularFin {
        inner_radius: given.get("inner_radius")?,
        outer_radius: given.get("outer_radius")?,
        thickness: given.get("thickness")?,
        film: given.get("film")?,
        conductivity: given.get("conductivity")?,
    }
    .efficiency()?;
    Ok(Found::new()
        .number("exact", efficiency.exact)
        .number("schmidt", efficiency.schmidt)
        .number("schmidt_over_exact", efficiency.schmidt / efficiency.exact))
}

/// Air that leaves a coil described by its surface temperature and bypass factor; the entering air may be a mixture.
fn bypass(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let mut entering = point(given, "", p)?;
    let first = entering;
    if given.has("second_share") {
        let share = given.plain("second_share")?;
        let second = point(given, "_2", p)?;
        let at = |a: f64, b: f64| a + share * (b - a);
        let h = at(first.enthalpy().si(), second.enthalpy().si());
        let w = at(first.humidity_ratio.si(), second.humidity_ratio.si());
        let t = drycoil_air::raw::dry_bulb_from_enthalpy_c(h, w);
        entering =
            drycoil_exchange::bypass::AirPoint::new(Temperature::from_si(t), HumidityRatio::from_si(w), p)?;
    }
    let apparatus: Temperature = given.get("apparatus")?;
    let leaving = leaving_by_bypass(entering, apparatus, given.plain("bypass_factor")?, p)?;
    let (t, w) = (leaving.dry_bulb.si(), leaving.humidity_ratio.si());
    let surface = drycoil_exchange::bypass::AirPoint::saturated(apparatus, p)?;
    Ok(Found::new()
        .with("first_enthalpy", first.enthalpy())
        .with("entering", entering.dry_bulb)
        .with("entering_enthalpy", entering.enthalpy())
        .with("surface_enthalpy", surface.enthalpy())
        .with("leaving", leaving.dry_bulb)
        .with("leaving_enthalpy", leaving.enthalpy())
        .with("leaving_humidity_ratio", leaving.humidity_ratio)
        .with("relative_humidity", Fraction::from_si(drycoil_air::raw::relative_humidity(t, w, p.si())))
        .with(
            "degree_of_saturation",
            Fraction::from_si(drycoil_air::raw::degree_of_saturation(t, w, p.si())),
        ))
}

/// Bypass factor from the heat taken, then the state that leaves, then the apparatus dew point found again.
fn apparatus(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let entering = point(given, "", p)?;
    let state = air::state_of(given, "", p)?;
    let dry_air = drycoil_air::dry_air_of_actual_flow_at(given.get::<ActualAirFlow>("actual_flow")?, state);
    let heat: Power = given.get("heat")?;
    let surface: Temperature = given.get("apparatus")?;
    let h_surface = drycoil_exchange::bypass::AirPoint::saturated(surface, p)?.enthalpy().si();
    let h_in = entering.enthalpy().si();
    let factor = (h_in - heat.si() / dry_air.si() - h_surface) / (h_in - h_surface);
    let leaving = leaving_by_bypass(entering, surface, factor, p)?;
    let again = apparatus_dew_point(entering, leaving, p)?;
    let wet_bulb = drycoil_air::raw::wet_bulb_c(leaving.dry_bulb.si(), leaving.humidity_ratio.si(), p.si());
    Ok(Found::new()
        .with("entering_enthalpy", entering.enthalpy())
        .number("bypass_factor", factor)
        .with("leaving", leaving.dry_bulb)
        .with("leaving_humidity_ratio", leaving.humidity_ratio)
        .with("leaving_wet_bulb", Temperature::from_si(wet_bulb))
        .with("apparatus_again", again.temperature))
}

fn recovery(given: &Given) -> Result<Found, FunctionError> {
    let p = air::pressure(given)?;
    let flow: StandardAirFlow = given.get("standard_flow")?;
    let dry_air = flow.dry_air_mass_flow();
    let wheel = Recovery {
        kind: RecoveryKind::Wheel,
        sensible_effectiveness: given.plain("sensible_effectiveness")?,
        latent_effectiveness: given.plain("latent_effectiveness")?,
        rated_dry_air: dry_air,
        flow_exponent: 0.0,
        exhaust_transfer: 0.0,
    };
    let entering = RecoveryEntering {
        outdoor: point(given, "", p)?,
        exhaust: point(given, "_2", p)?,
        pressure: p,
        supply_dry_air: dry_air,
        exhaust_dry_air: dry_air,
    };
    let r = wheel.solve(&entering, Operation::Full)?;
    let relative_humidity = drycoil_air::raw::relative_humidity(
        r.exhaust_leaving.dry_bulb.si(),
        r.exhaust_leaving.humidity_ratio.si(),
        p.si(),
    );
    let mut found = Found::new()
        .with("supply", r.supply.dry_bulb)
        .with("supply_humidity_ratio", r.supply.humidity_ratio)
        .with(
            "supply_dew_point",
            Temperature::from_si(drycoil_air::raw::dew_point_c(r.supply.humidity_ratio.si(), p.si())),
        )
        .with("exhaust", r.exhaust_leaving.dry_bulb)
        .with("exhaust_humidity_ratio", r.exhaust_leaving.humidity_ratio)
        .with("exhaust_relative_humidity", Fraction::from_si(relative_humidity))
        .with("recovered", r.recovered)
        .with("recovered_size", Power::from_si(r.recovered.si().abs()));
    if let Some(total) = r.total_effectiveness {
        found = found.number("total_effectiveness", total);
    }
    Ok(found)
}
