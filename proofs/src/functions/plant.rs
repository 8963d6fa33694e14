//! Chillers, fans and pumps.

use super::{Function, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_plant::chiller::{
    Chiller, Condenser, Rating, Settings, centrifugal_adjustment, ideal_cop, integrated_part_load_value,
    integrated_part_load_value_kw_per_ton,
};
use drycoil_plant::fan::{
    FanCurve, FanDrive, FanPoint, MotorPlace, PartLoadCurve, at_speed, power, temperature_rise,
};
use drycoil_plant::minimum_efficiency::{CompliancePath, Compressor, water_cooled};
use drycoil_plant::pump;
use drycoil_units::{
    ActualAirFlow, Conductance, Density, Length, Power, PressureDifference, Quantity, SpecificFanPower,
    SpecificHeat, StandardAirFlow, TemperatureDifference, WaterFlow,
};
use drycoil_water::friction::{Conduit, Fluid};

pub const FUNCTIONS: &[Function] = &[
    Function { id: "plant.rating", calls: "drycoil_plant::chiller::Chiller", run: rating },
    Function {
        id: "plant.part_load_value",
        calls: "drycoil_plant::chiller::integrated_part_load_value",
        run: part_load_value,
    },
    Function {
        id: "plant.centrifugal_adjustment",
        calls: "drycoil_plant::chiller::centrifugal_adjustment",
        run: adjustment,
    },
    Function {
        id: "plant.minimum_efficiency",
        calls: "drycoil_plant::minimum_efficiency::water_cooled",
        run: minimum,
    },
    Function { id: "plant.ideal_cop", calls: "drycoil_plant::chiller::ideal_cop", run: ideal },
    Function { id: "plant.fan_part_load", calls: "drycoil_plant::fan::PartLoadCurve", run: part_load },
    Function { id: "plant.fan_power", calls: "drycoil_plant::fan::power", run: fan_power },
    Function { id: "plant.fan_rise", calls: "drycoil_plant::fan::temperature_rise", run: fan_rise },
    Function { id: "plant.fan_speed", calls: "drycoil_plant::fan::at_speed", run: fan_speed },
    Function {
        id: "plant.operating_point",
        calls: "drycoil_plant::fan::FanCurve, drycoil_water::friction::Conduit",
        run: operating_point,
    },
    Function { id: "plant.pump_power", calls: "drycoil_plant::pump::power", run: pump_power },
];

/// Minimum efficiency of a water-cooled chiller, in kW per ton as the table prints it.
fn minimum(given: &Given) -> Result<Found, FunctionError> {
    let compressor = match given.words("compressor")? {
        "positive displacement" => Compressor::PositiveDisplacement,
        "centrifugal" => Compressor::Centrifugal,
        other => return Err(unknown("compressor", other)),
    };
    let path = match given.words("path")? {
        "A" => CompliancePath::A,
        "B" => CompliancePath::B,
        other => return Err(unknown("path", other)),
    };
    let found = water_cooled(compressor, given.get("capacity")?, path)?;
    Ok(Found::new()
        .number("full_load", found.full_load_kw_per_ton)
        .number("part_load", found.part_load_kw_per_ton))
}

/// Water flows of a chiller at its rating point.
fn rating(given: &Given) -> Result<Found, FunctionError> {
    let capacity: Power = given.get("capacity")?;
    let kw_per_ton = given.plain("input")?;
    let cop = Power::tons(1.0).to_watts() / (kw_per_ton * 1e3);
    // Heat of water per gpm and kelvin, as the source takes it.
    let per_flow = given.plain("water_heat")?;
    let flow: WaterFlow = given.get("condenser_flow")?;
    let rating = Rating {
        capacity,
        cop,
        leaving_chilled: given.get("leaving_chilled")?,
        entering_condenser: given.get("entering_condenser")?,
        condenser_capacity_rate: Conductance::from_si(per_flow * flow.si()),
    };
    let chiller = Chiller::from_rating(rating, Settings::default())?;
    let state = chiller.run(
        capacity,
        rating.leaving_chilled,
        Condenser::Entering {
            temperature: rating.entering_condenser,
            capacity_rate: rating.condenser_capacity_rate,
        },
    )?;
    let entering: drycoil_units::Temperature = given.get("entering_chilled")?;
    let chilled = capacity.si() / (per_flow * (entering.si() - rating.leaving_chilled.si()));
    Ok(Found::new()
        .with("chilled_flow", WaterFlow::from_si(chilled))
        .with("condenser_rise", state.condenser_leaving - rating.entering_condenser)
        .with("power", state.power)
        .with("rise_of_chilled", TemperatureDifference::from_si(entering.si() - rating.leaving_chilled.si())))
}

fn part_load_value(given: &Given) -> Result<Found, FunctionError> {
    let at = [given.plain("at_100")?, given.plain("at_75")?, given.plain("at_50")?, given.plain("at_25")?];
    let value = match given.words("form")? {
        "coefficient of performance" => integrated_part_load_value(at)?,
        "kW per ton" => integrated_part_load_value_kw_per_ton(at)?,
        other => return Err(unknown("form", other)),
    };
    Ok(Found::new().number("value", value))
}

fn adjustment(given: &Given) -> Result<Found, FunctionError> {
    let k = centrifugal_adjustment(given.get("leaving_chilled")?, given.get("leaving_condenser")?)?;
    Ok(Found::new()
        .with("lift", k.lift)
        .number("a", k.a)
        .number("b", k.b)
        .number("factor", k.factor)
        .number("input", given.plain_or("standard_input", 1.0)? / k.factor))
}

fn ideal(given: &Given) -> Result<Found, FunctionError> {
    let cop = ideal_cop(given.get("chilled")?, given.get("condenser")?)?;
    Ok(Found::new().number("cop", cop))
}

fn part_load(given: &Given) -> Result<Found, FunctionError> {
    let x = given.plain("share_of_flow")?;
    let polynomial = PartLoadCurve::variable_speed_polynomial();
    let y = polynomial.share_of_power(x)?;
    Ok(Found::new()
        .number("polynomial", y)
        .number("table", PartLoadCurve::variable_speed_table().share_of_power(x)?)
        .number("share_of_flow_again", polynomial.share_of_flow(y)?))
}

fn fan_power(given: &Given) -> Result<Found, FunctionError> {
    let drive = FanDrive {
        fan_efficiency: given.plain("efficiency")?,
        drive_efficiency: 1.0,
        motor_efficiency: 1.0,
        motor: MotorPlace::InAirStream,
    };
    let flow: ActualAirFlow = given.get("flow")?;
    let p = power(flow, given.get("pressure")?, drive)?;
    Ok(Found::new()
        .with("air_power", p.air_power)
        .with("shaft_power", p.shaft_power)
        .with("specific", SpecificFanPower::from_si(p.electric_power.si() / flow.si())))
}

fn fan_rise(given: &Given) -> Result<Found, FunctionError> {
    let flow = StandardAirFlow::cfm(100.0);
    let specific: SpecificFanPower = given.get("specific")?;
    let cp: SpecificHeat = given.get("specific_heat")?;
    let heat = Power::from_si(specific.si() * flow.si());
    Ok(Found::new().with("rise", temperature_rise(heat, flow.dry_air_mass_flow(), cp)?))
}

fn fan_speed(given: &Given) -> Result<Found, FunctionError> {
    let point = FanPoint {
        flow: ActualAirFlow::from_si(0.3),
        pressure: PressureDifference::from_si(100.0),
        shaft_power: Power::watts(50.0),
    };
    let other = at_speed(point, given.plain("speed_ratio")?, 1.0)?;
    Ok(Found::new()
        .number("flow_ratio", other.flow / point.flow)
        .number("pressure_ratio", other.pressure / point.pressure)
        .number("power_ratio", other.shaft_power / point.shaft_power))
}

/// A fan on a duct: the curve as text, `flow cfm / pressure in wg`, one point between semicolons.
fn operating_point(given: &Given) -> Result<Found, FunctionError> {
    let text = given.words("curve")?;
    let points: Option<Vec<(ActualAirFlow, PressureDifference)>> = text
        .split(';')
        .map(|p| {
            let (flow, pressure) = p.split_once('/')?;
            Some((
                ActualAirFlow::acfm(flow.trim().parse().ok()?),
                PressureDifference::inches_of_water(pressure.trim().parse().ok()?),
            ))
        })
        .collect();
    let curve = FanCurve::new(&points.ok_or_else(|| unknown("curve", text))?)?;
    let fluid = Fluid::new(given.get::<Density>("density")?.si(), given.plain("viscosity")?)?;
    let conduit = Conduit {
        diameter_m: given.get::<Length>("diameter")?.si(),
        roughness_m: given.get::<Length>("roughness")?.si(),
        length_m: given.get::<Length>("length")?.si(),
        // Fittings and the kinetic energy that leaves.
        fittings_k: given.plain("fittings")? + given.plain("kinetic_factor")?,
    };
    let point = curve.operating_point(|flow| {
        // Still air has no loss; slow air in a smooth duct is beside the point of the search.
        let drop = if flow.si() < 0.02 {
            0.0
        } else {
            conduit.drop(fluid, flow.si()).map_or(f64::NAN, |d| d.total_pa)
        };
        PressureDifference::from_si(drop)
    })?;
    Ok(Found::new().with("flow", point.flow).with("pressure", point.pressure))
}

fn pump_power(given: &Given) -> Result<Found, FunctionError> {
    let head: Length = given.get("head")?;
    let density: Density = given.get("density")?;
    let p = pump::power(
        given.get("flow")?,
        pump::head_to_pressure(head, density),
        given.plain("efficiency")?,
        1.0,
    )?;
    Ok(Found::new().with("hydraulic", p.hydraulic_power).with("shaft", p.shaft_power))
}
