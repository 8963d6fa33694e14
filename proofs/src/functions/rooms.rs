//! Walls, conduction and small rooms.

use super::Function;
use crate::value::{Found, FunctionError, Given};
use drycoil_rooms::analytic::{
    raw_half_space_convection, raw_half_space_depth, raw_half_space_flux, raw_slab, raw_slab_first_term,
    raw_slab_heat_share,
};
use drycoil_rooms::exact::{AirFlow, Control, Hold, Stepper};
use drycoil_rooms::sol_air::sol_air;
use drycoil_rooms::transfer_matrix::{conduction_time_series, periodic};
use drycoil_rooms::{Beyond, Construction, Films, Layer, Room, Source, Wall, WallDetail, WallModel, Window};
use drycoil_units::{
    Area, Conductance, Conductivity, Density, Fraction, HeatFlux, Length, Power, Quantity, SpecificHeat,
    Temperature, TemperatureDifference, ThermalResistance, ThermalTransmittance, Time,
};
use std::sync::Arc;

pub const FUNCTIONS: &[Function] = &[
    Function { id: "rooms.periodic", calls: "drycoil_rooms::transfer_matrix::periodic", run: periodic_wall },
    Function { id: "rooms.material", calls: "drycoil_rooms::Solid", run: material },
    Function {
        id: "rooms.time_series",
        calls: "drycoil_rooms::transfer_matrix::conduction_time_series",
        run: time_series,
    },
    Function {
        id: "rooms.transmittance",
        calls: "drycoil_rooms::Construction::transmittance",
        run: transmittance,
    },
    Function { id: "rooms.sol_air", calls: "drycoil_rooms::sol_air::sol_air", run: sun_and_air },
    Function { id: "rooms.slab", calls: "drycoil_rooms::analytic::raw_slab", run: slab },
    Function {
        id: "rooms.slab_first_term",
        calls: "drycoil_rooms::analytic::raw_slab_first_term",
        run: first_term,
    },
    Function { id: "rooms.heated_wall", calls: "drycoil_rooms::analytic", run: heated_wall },
    Function {
        id: "rooms.half_space_convection",
        calls: "drycoil_rooms::analytic::raw_half_space_convection",
        run: half_space_convection,
    },
    Function {
        id: "rooms.half_space_depth",
        calls: "drycoil_rooms::analytic::raw_half_space_depth",
        run: half_space_depth,
    },
    Function {
        id: "rooms.half_space_flux",
        calls: "drycoil_rooms::analytic::raw_half_space_flux",
        run: half_space_flux,
    },
    Function { id: "rooms.two_capacities", calls: "drycoil_rooms::exact::Stepper", run: two_capacities },
];

/// Layers as text: one between semicolons, inside to outside; a thermal resistance, or thickness, conductivity, density
/// and specific heat.
fn construction(text: &str) -> Result<Construction, FunctionError> {
    let wrong = |e: drycoil_units::UnitError| FunctionError::Case(format!("`{text}`: {e}"));
    let layers: Result<Vec<Layer>, FunctionError> = text
        .split(';')
        .map(|layer| {
            let parts: Vec<&str> = layer.split(',').map(str::trim).collect();
            match parts.as_slice() {
                [r] => Ok(Layer::air_space(ThermalResistance::parse(r).map_err(wrong)?)?),
                [d, k, rho, c] => Ok(Layer::solid(
                    Length::parse(d).map_err(wrong)?,
                    Conductivity::parse(k).map_err(wrong)?,
                    Density::parse(rho).map_err(wrong)?,
                    SpecificHeat::parse(c).map_err(wrong)?,
                )?),
                _ => Err(FunctionError::Case(format!("a layer of {} parts: `{layer}`", parts.len()))),
            }
        })
        .collect();
    Ok(Construction::new(layers?)?)
}

fn films(given: &Given) -> Result<Films, FunctionError> {
    Ok(Films::new(given.get("inside_film")?, given.get("outside_film")?)?)
}

fn periodic_wall(given: &Given) -> Result<Found, FunctionError> {
    let wall = construction(given.words("layers")?)?;
    let p = periodic(&wall, films(given)?, given.get("period")?)?;
    let u = |x: f64| ThermalTransmittance::from_si(x);
    Ok(Found::new()
        .with("transmittance", u(p.transmittance_w_per_m2_k))
        .with("inside_admittance", u(p.inside_admittance.norm()))
        .number("inside_lead", p.inside_lead_h)
        .with("outside_admittance", u(p.outside_admittance.norm()))
        .number("outside_lead", p.outside_lead_h)
        .with("periodic_transmittance", u(p.periodic_transmittance.norm()))
        .number("time_shift", p.time_shift_h)
        .number("decrement_factor", p.decrement_factor)
        .number("inside_capacity", p.inside_capacity_j_per_m2_k)
        .number("outside_capacity", p.outside_capacity_j_per_m2_k))
}

fn material(given: &Given) -> Result<Found, FunctionError> {
    let layer = Layer::solid(
        Length::metres(0.1),
        given.get("conductivity")?,
        given.get("density")?,
        given.get("specific_heat")?,
    )?;
    let Layer::Solid(solid) = layer else {
        return Err(FunctionError::Case("not a solid layer".into()));
    };
    let period: Time = given.get("period")?;
    Ok(Found::new()
        .with("penetration_depth", solid.penetration_depth(period))
        .with("thick_admittance", solid.thick_admittance(period)))
}

fn time_series(given: &Given) -> Result<Found, FunctionError> {
    let wall = construction(given.words("layers")?)?;
    let films = films(given)?;
    let series = conduction_time_series(&wall, films);
    let mut found =
        Found::new().with("transmittance", wall.transmittance(films)).number("sum", series.iter().sum());
    if given.has("hour") {
        let hour = given.plain("hour")? as usize;
        let share =
            series.get(hour).ok_or_else(|| FunctionError::Case(format!("hour {hour} is not of a day")))?;
        found = found.number("share", *share);
    }
    Ok(found)
}

/// Transmittance; where temperatures are given, the inside surface.
fn transmittance(given: &Given) -> Result<Found, FunctionError> {
    let films = films(given)?;
    let u = construction(given.words("layers")?)?.transmittance(films);
    let mut found = Found::new().with("transmittance", u);
    if given.has("inside") {
        let (inside, outside): (Temperature, Temperature) = (given.get("inside")?, given.get("outside")?);
        let drop = u.si() * films.inside().si() * (inside.si() - outside.si());
        found = found.with("inside_surface", Temperature::from_si(inside.si() - drop));
    }
    Ok(found)
}

fn sun_and_air(given: &Given) -> Result<Found, FunctionError> {
    let s = sol_air(
        given.get("air")?,
        given.get("sun")?,
        given.get("absorptance")?,
        given.get("long_wave")?,
        given.get("film")?,
    )?;
    Ok(Found::new().with("sol_air", s.temperature))
}

fn slab(given: &Given) -> Result<Found, FunctionError> {
    let (biot, fourier) = (given.plain("biot")?, given.plain("fourier")?);
    Ok(Found::new()
        .number("centre", raw_slab(biot, fourier, 0.0)?)
        .number("surface", raw_slab(biot, fourier, 1.0)?))
}

fn first_term(given: &Given) -> Result<Found, FunctionError> {
    let (zeta, c) = raw_slab_first_term(given.plain("biot")?)?;
    Ok(Found::new().number("zeta_1", zeta).number("c_1", c))
}

/// A wall insulated on one side (half a slab) in a stream.
fn heated_wall(given: &Given) -> Result<Found, FunctionError> {
    let thickness: Length = given.get("thickness")?;
    let film: ThermalTransmittance = given.get("film")?;
    let conductivity: Conductivity = given.get("conductivity")?;
    let diffusivity = given.plain("diffusivity")?;
    let time: Time = given.get("time")?;
    let (start, stream): (Temperature, Temperature) = (given.get("start")?, given.get("stream")?);
    let biot = film.si() * thickness.si() / conductivity.si();
    let fourier = diffusivity * time.si() / thickness.si().powi(2);
    let at = |place| -> Result<f64, FunctionError> {
        Ok(stream.si() + raw_slab(biot, fourier, place)? * (start.si() - stream.si()))
    };
    let surface = at(1.0)?;
    let stored = conductivity.si() / diffusivity * thickness.si() * (stream.si() - start.si());
    let width: Length = given.get("width")?;
    Ok(Found::new()
        .number("biot", biot)
        .number("fourier", fourier)
        .with("insulated_face", Temperature::from_si(at(0.0)?))
        .with("surface", Temperature::from_si(surface))
        .with("flux", HeatFlux::from_si(film.si() * (surface - stream.si())))
        .number("heat_per_length", -stored * width.si() * raw_slab_heat_share(biot, fourier)?))
}

fn half_space_convection(given: &Given) -> Result<Found, FunctionError> {
    let share = raw_half_space_convection(
        given.get::<Length>("depth")?.si(),
        given.get::<Time>("time")?.si(),
        given.get::<ThermalTransmittance>("film")?.si(),
        given.get::<Conductivity>("conductivity")?.si(),
        given.plain("diffusivity")?,
    )?;
    Ok(Found::new().number("share", share))
}

/// Depth at which a temperature is reached after a step at the surface.
fn half_space_depth(given: &Given) -> Result<Found, FunctionError> {
    let t = |name: &str| given.get::<Temperature>(name).map(Quantity::si);
    let (start, surface, wanted) = (t("start")?, t("surface")?, t("wanted")?);
    let share = (wanted - start) / (surface - start);
    let depth = raw_half_space_depth(share, given.get::<Time>("time")?.si(), given.plain("diffusivity")?)?;
    Ok(Found::new().with("depth", Length::from_si(depth)))
}

fn half_space_flux(given: &Given) -> Result<Found, FunctionError> {
    let rise = raw_half_space_flux(
        given.get::<Length>("depth")?.si(),
        given.get::<Time>("time")?.si(),
        given.get::<HeatFlux>("flux")?.si(),
        given.get::<Conductivity>("conductivity")?.si(),
        given.plain("diffusivity")?,
    )?;
    let start: Temperature = given.get("start")?;
    Ok(Found::new().with("temperature", Temperature::from_si(start.si() + rise)))
}

/// Air and a mass without resistance of its own, each with a conductance to outdoors and one between them: a room
/// whose one wall is a thin sheet that conducts a thousand times better than its films.
fn two_capacities(given: &Given) -> Result<Found, FunctionError> {
    let air = given.plain("air_capacity")?;
    let mass = given.plain("mass_capacity")?;
    let between = given.get::<Conductance>("air_to_mass")?.si();
    let mass_out = given.get::<Conductance>("mass_to_outdoors")?.si();
    let air_out = given.get::<Conductance>("air_to_outdoors")?.si();
    let area = 100.0;
    let h = ThermalTransmittance::from_si;
    // A sheet of 0.8 mm: density times specific heat makes its capacity.
    let sheet = Layer::solid(
        Length::metres(0.0008),
        Conductivity::from_si(1000.0),
        Density::from_si(25_000.0),
        SpecificHeat::from_si(mass / (area * 0.0008 * 25_000.0)),
    )?;
    let model = Arc::new(WallModel::new(&Construction::new(vec![sheet])?, WallDetail::DESIGN)?);
    let beyond = Beyond::Temperature { film: h(mass_out / area), source: Source::Walls };
    let wall = Wall::new(model, Area::square_metres(area), h(between / area), h(5.0), beyond)?;
    // The pane exchanges with the air alone, through a film so good that only the window's own value counts.
    let window = Window::new(Area::square_metres(10.0), h(air_out / 10.0), h(100.0), h(0.0))?;
    let room = Room::new(air, vec![wall], vec![window])?.modal()?;
    let mut constants: Vec<f64> = room.rates_per_s.iter().map(|r| 1.0 / r).collect();
    constants.sort_by(f64::total_cmp);
    let [fast, .., slow] = constants.as_slice() else {
        return Err(FunctionError::Refused("the room has not two states".into()));
    };
    let step = 900.0;
    let stepper = Stepper::new(&room, step, Hold::Linear)?;
    let mut input = vec![0.0; room.inputs.len()];
    input[room.inputs.air_heat()] = given.get::<Power>("heat_on_air")?.si();
    let mut state = room.uniform_state(0.0);
    let steps = (given.get::<Time>("time")?.si() / step).round() as usize;
    let mut air_rise = 0.0;
    for _ in 0..steps {
        air_rise = stepper.step(&mut state, &input, &input, AirFlow::NONE, Control::FREE)?.air_c;
    }
    let mass_rise = room.wall_inside[0].value(&state.modes, &input);
    Ok(Found::new()
        .with("fast_time_constant", Time::from_si(*fast))
        .with("slow_time_constant", Time::from_si(*slow))
        .with("air_rise", TemperatureDifference::from_si(air_rise))
        .with("mass_rise", TemperatureDifference::from_si(mass_rise))
        .with("air_share_of_capacity", Fraction::from_si(air / (air + mass))))
}
