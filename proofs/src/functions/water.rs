//! Water properties, pipes and ducts.

use super::{Function, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_units::{
    ActualAirFlow, Density, Fraction, Length, Power, PressureDifference, Quantity, Velocity, WaterFlow,
};
use drycoil_water::duct::{equivalent_diameter, round_drop_per_metre, static_regain, velocity_pressure};
use drycoil_water::friction::{Conduit, Fluid, TransitionalFlow, diameter_for_drop, friction_factor};
use drycoil_water::liquid::WaterProperties;
use drycoil_water::pipe::{FlowControl, OperatingHours, PipeMaterial, ROUGHNESS_STEEL_M, maximum_flow};
use drycoil_water::pump::pump_power;

pub const FUNCTIONS: &[Function] = &[
    Function { id: "water.friction_factor", calls: "drycoil_water::friction::friction_factor", run: factor },
    Function { id: "water.conduit", calls: "drycoil_water::friction::Conduit", run: conduit },
    Function { id: "water.diameter", calls: "drycoil_water::friction::diameter_for_drop", run: diameter },
    Function { id: "water.flow", calls: "drycoil_water::friction::Conduit::flow_for_drop", run: flow },
    Function { id: "water.steel_pipe", calls: "drycoil_water::pipe", run: steel_pipe },
    Function { id: "water.maximum_flow", calls: "drycoil_water::pipe::maximum_flow", run: most },
    Function { id: "water.properties", calls: "drycoil_water::liquid::WaterProperties", run: properties },
    Function { id: "water.round_duct", calls: "drycoil_water::duct::round_drop_per_metre", run: round_duct },
    Function {
        id: "water.equivalent_diameter",
        calls: "drycoil_water::duct::equivalent_diameter",
        run: equivalent,
    },
    Function { id: "water.velocity_pressure", calls: "drycoil_water::duct::velocity_pressure", run: dynamic },
    Function { id: "water.regain", calls: "drycoil_water::duct::static_regain", run: regain },
];

fn factor(given: &Given) -> Result<Found, FunctionError> {
    let f = friction_factor(given.plain("reynolds")?, given.plain("roughness")?, TransitionalFlow::Refuse)?;
    Ok(Found::new().number("factor", f.darcy))
}

fn fluid(given: &Given) -> Result<Fluid, FunctionError> {
    Ok(Fluid::new(given.get::<Density>("density")?.si(), given.plain("viscosity")?)?)
}

fn pipe(given: &Given) -> Result<Conduit, FunctionError> {
    Ok(Conduit {
        diameter_m: given.get::<Length>("diameter")?.si(),
        roughness_m: given.get::<Length>("roughness")?.si(),
        length_m: given.get::<Length>("length")?.si(),
        fittings_k: given.plain_or("fittings", 0.0)?,
    })
}

/// Loss at a flow or a velocity.
fn conduit(given: &Given) -> Result<Found, FunctionError> {
    let conduit = pipe(given)?;
    let volume = match given.try_get::<Velocity>("velocity")? {
        Some(v) => v.si() * std::f64::consts::PI / 4.0 * conduit.diameter_m.powi(2),
        None => given.get::<WaterFlow>("flow")?.si(),
    };
    let d = conduit.drop(fluid(given)?, volume)?;
    let f = d.friction.ok_or_else(|| FunctionError::Refused("still water has no friction factor".into()))?;
    let pump = pump_power(
        WaterFlow::from_si(volume),
        PressureDifference::from_si(d.total_pa),
        Fraction::ratio(1.0),
        Fraction::ratio(1.0),
    )?;
    Ok(Found::new()
        .number("factor", f.darcy)
        .with("drop", PressureDifference::from_si(d.total_pa))
        .with("head", Length::from_si(d.head_m))
        .with("power", Power::from_si(pump.hydraulic.si()))
        // A reservoir that drives this flow out of the pipe: losses and, as a fitting, the velocity head.
        .with("reservoir", Length::from_si(d.head_m)))
}

fn head_in_pa(given: &Given, fluid: Fluid) -> Result<f64, FunctionError> {
    Ok(given.get::<Length>("loss")?.si() * fluid.density_kg_per_m3 * drycoil_units::GRAVITY_M_PER_S2)
}

fn diameter(given: &Given) -> Result<Found, FunctionError> {
    let fluid = fluid(given)?;
    let volume = given.get::<ActualAirFlow>("flow")?.si();
    let roughness = given.get::<Length>("roughness")?.si();
    let length = given.get::<Length>("length")?.si();
    let (d, _) = diameter_for_drop(fluid, volume, length, roughness, head_in_pa(given, fluid)?)?;
    let run = Conduit { diameter_m: d, roughness_m: roughness, length_m: length, fittings_k: 0.0 };
    let drop = run.drop(fluid, volume)?;
    let f = drop.friction.ok_or_else(|| FunctionError::Refused("no flow".into()))?;
    Ok(Found::new()
        .with("diameter", Length::from_si(d))
        .number("factor", f.darcy)
        .with("velocity", Velocity::from_si(drop.velocity_m_per_s))
        .number("reynolds", f.reynolds))
}

fn flow(given: &Given) -> Result<Found, FunctionError> {
    let fluid = fluid(given)?;
    let (volume, _) = pipe(given)?.flow_for_drop(fluid, head_in_pa(given, fluid)?)?;
    let before: ActualAirFlow = given.get("flow_before")?;
    Ok(Found::new()
        .with("flow", ActualAirFlow::from_si(volume))
        .with("decrease", ActualAirFlow::from_si(before.si() - volume)))
}

fn size(given: &Given) -> Result<&'static drycoil_water::pipe::PipeSize, FunctionError> {
    let nominal = given.words("size")?;
    PipeMaterial::SteelSchedule40.size(nominal).ok_or_else(|| unknown("size", nominal))
}

/// Velocity and loss of a steel pipe, at the viscosity of the source.
fn steel_pipe(given: &Given) -> Result<Found, FunctionError> {
    let size = size(given)?;
    let density = given.get::<Density>("density")?.si();
    let fluid = Fluid::new(density, given.plain("kinematic_viscosity")? * density)?;
    let pipe = Conduit {
        diameter_m: size.inner_diameter_m(),
        roughness_m: ROUGHNESS_STEEL_M,
        length_m: Length::feet(100.0).si(),
        fittings_k: 0.0,
    };
    let d = pipe.drop(fluid, given.get::<WaterFlow>("flow")?.si())?;
    Ok(Found::new()
        .with("inner_diameter", size.inner_diameter())
        .with("velocity", Velocity::from_si(d.velocity_m_per_s))
        .with("head_per_100_ft", Length::from_si(d.head_m)))
}

fn most(given: &Given) -> Result<Found, FunctionError> {
    let size = size(given)?;
    let hours = match given.words("hours")? {
        "up to 2000" => OperatingHours::UpTo2000,
        "2000 to 4400" => OperatingHours::From2000To4400,
        "above 4400" => OperatingHours::Above4400,
        other => return Err(unknown("hours", other)),
    };
    let found = |control| {
        maximum_flow(size, hours, control)
            .ok_or_else(|| FunctionError::Refused(format!("no limit for {}", size.nominal)))
    };
    Ok(Found::new()
        .with("other", found(FlowControl::Other)?)
        .with("variable", found(FlowControl::VariableFlowVariableSpeed)?))
}

fn properties(given: &Given) -> Result<Found, FunctionError> {
    let w = WaterProperties::at(given.get("temperature")?)?;
    Ok(Found::new()
        .number("heat_per_flow", w.volumetric_heat_j_per_m3_k())
        .number("kinematic_viscosity", w.kinematic_viscosity_m2_per_s())
        .with("density", w.density))
}

fn round_duct(given: &Given) -> Result<Found, FunctionError> {
    let drop = round_drop_per_metre(fluid(given)?, given.get("diameter")?, given.get("flow")?)?;
    Ok(Found::new()
        .with("drop_per_100_ft", PressureDifference::from_si(drop.total_pa * Length::feet(100.0).si())))
}

fn equivalent(given: &Given) -> Result<Found, FunctionError> {
    Ok(Found::new().with("diameter", equivalent_diameter(given.get("width")?, given.get("height")?)?))
}

fn dynamic(given: &Given) -> Result<Found, FunctionError> {
    Ok(Found::new().with("pressure", velocity_pressure(Fluid::STANDARD_AIR, given.get("velocity")?)?))
}

fn regain(given: &Given) -> Result<Found, FunctionError> {
    let air = Fluid::new(given.get::<Density>("density")?.si(), 1.8e-5)?;
    let p = static_regain(air, given.get("upstream")?, given.get("downstream")?, given.plain("loss_share")?)?;
    Ok(Found::new().with("regain", p))
}
