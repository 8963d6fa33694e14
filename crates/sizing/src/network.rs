//! The thermal network of a project's rooms: walls, windows, air and furnishings, and what stands beyond them.
//!
//! One construction serves the loads of the design days and the simulated year.

use drycoil_project::{ConstructionLayer, Project, Room, Surface, SurfaceKind};
use drycoil_rooms::{
    Beyond, Construction, Films, Layer, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_sun::raw::RawPlane;
use drycoil_sun::{AngularModifier, SimpleGlass, SolarSplit, SunPosition, WindowGain};
use drycoil_units::{
    Area, Conductivity, Density, Fraction, Length, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO,
    SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Outside film, W/(m2 K): ISO 6946 external surface resistance of 0.04 m2 K/W.
pub const OUTSIDE_FILM: f64 = 25.0;
/// Inside convective film, W/(m2 K): with the long-wave one the ISO 6946 internal surface resistance of 0.13 m2 K/W for
/// horizontal flow of heat.
pub const INSIDE_CONVECTIVE: f64 = 2.5;
/// Inside long-wave film, W/(m2 K).
pub const INSIDE_RADIANT: f64 = 5.13;
/// Film to ground or to a neighbouring space, W/(m2 K): ISO 6946, internal.
pub const NEIGHBOUR_FILM: f64 = 7.63;
/// Film to neighbours that exchange no heat worth counting, W/(m2 K): a room without any exposed surface must lose heat
/// somewhere to have a steady state. At 3 K of difference it passes 0.03 W/m2.
const WEAK_FILM: f64 = 0.01;
/// Long-wave loss of a roof to the sky as a sol-air difference, K (ASHRAE Fundamentals ch. 18, 7 degF, from memory).
pub const ROOF_SKY_K: f64 = 3.9;
/// Heat capacity of furnishings per floor area, J/(m2 K). Common practice, no source.
const FURNISHING_J_PER_M2_K: f64 = 20e3;
/// Share of the solar heat gain coefficient that is transmitted, for clear double glass.
const TRANSMITTED_SHARE: f64 = drycoil_sun::TRANSMITTED_SHARE_OF_CLEAR_DOUBLE_GLASS;

/// Models of a project's constructions, made once.
#[derive(Debug, Clone)]
pub struct ConstructionModels {
    by_name: BTreeMap<String, (Arc<WallModel>, f64)>,
    slab: Arc<WallModel>,
    partition: Arc<WallModel>,
}

impl ConstructionModels {
    /// Every construction of the project, and the interior mass.
    ///
    /// # Errors
    /// The name of the construction that has no model, and why.
    pub fn new(project: &Project, pool: &rayon::ThreadPool) -> Result<Self, (String, RoomError)> {
        Self::resolved(project, WallDetail::DESIGN, pool)
    }

    /// The same, resolved as finely as asked: with every cell of the walls kept they are the reference for checks.
    ///
    /// # Errors
    /// As [`ConstructionModels::new`].
    pub fn resolved(
        project: &Project,
        detail: WallDetail,
        pool: &rayon::ThreadPool,
    ) -> Result<Self, (String, RoomError)> {
        let made: Vec<Result<(Arc<WallModel>, f64), RoomError>> =
            pool.install(|| project.constructions.par_iter().map(|c| construction(c, detail)).collect());
        let mut by_name = BTreeMap::new();
        for (c, made) in project.constructions.iter().zip(made) {
            by_name.insert(c.name.clone(), made.map_err(|e| (c.name.clone(), e))?);
        }
        let inner = |thickness: f64, conductivity: f64, density: f64, specific_heat: f64| {
            let layer = Layer::solid(
                Length::metres(thickness),
                Conductivity::w_per_m_k(conductivity),
                Density::kg_per_m3(density),
                SpecificHeat::j_per_kg_k(specific_heat),
            )?;
            WallModel::new(&Construction::new(vec![layer])?, detail).map(Arc::new)
        };
        let at = |e: RoomError| ("interior mass".to_owned(), e);
        // Half of a 100 mm concrete slab, and one 12.5 mm gypsum board of each partition face (common practice, no
        // source).
        let slab = inner(0.05, 2.0, 2400.0, 1000.0).map_err(at)?;
        let partition = inner(0.0125, 0.25, 900.0, 1000.0).map_err(at)?;
        Ok(Self { by_name, slab, partition })
    }
}

/// Wall model and transmittance of a construction.
fn construction(
    c: &drycoil_project::Construction,
    detail: WallDetail,
) -> Result<(Arc<WallModel>, f64), RoomError> {
    let mut layers = c
        .layers
        .iter()
        .rev()
        .map(|l| match l {
            ConstructionLayer::Material { thickness, conductivity, density, specific_heat, .. } => {
                Layer::solid(*thickness, *conductivity, *density, *specific_heat)
            }
            ConstructionLayer::Resistance { resistance, .. } => Layer::air_space(*resistance),
        })
        .collect::<Result<Vec<_>, _>>()?;
    if layers.iter().all(|l| !matches!(l, Layer::Solid(_))) {
        // Only a U-value is known. The network wants a surface to end on: a skin of 1 mm, light enough not to store heat,
        // whose resistance of 0.001 m2 K/W is taken off the rest.
        let skin = Layer::solid(
            Length::metres(0.001),
            Conductivity::w_per_m_k(1.0),
            Density::kg_per_m3(50.0),
            SpecificHeat::j_per_kg_k(1000.0),
        )?;
        let rest = layers.iter().map(|l| l.resistance().si()).sum::<f64>() - 0.001;
        layers = vec![skin];
        if rest > 0.0 {
            layers.push(Layer::air_space(ThermalResistance::m2_k_per_w(rest))?);
        }
    }
    let construction = Construction::new(layers)?;
    let model = WallModel::new(&construction, detail)?;
    let u = construction.transmittance(Films::iso_6946_horizontal()).si();
    Ok((Arc::new(model), u))
}

fn u(value: f64) -> ThermalTransmittance {
    ThermalTransmittance::w_per_m2_k(value)
}

/// One opaque surface, in the order of the room's boundaries.
#[derive(Debug, Clone)]
pub struct Opaque<'a> {
    /// The surface.
    pub surface: &'a Surface,
    /// Solar absorptance of its outer face.
    pub absorptance: f64,
    /// Its plane; `usize::MAX` where the sun does not reach it.
    pub plane: usize,
}

/// One window.
#[derive(Debug, Clone)]
pub struct Pane<'a> {
    /// The surface.
    pub surface: &'a Surface,
    /// Its glass.
    pub glass: SimpleGlass,
    /// What it lets in of diffuse sun.
    pub diffuse: WindowGain,
    /// Share that shading leaves.
    pub kept: f64,
    /// Share of the sun absorbed at the pane that flows in.
    pub inward: f64,
    /// Its plane.
    pub plane: usize,
}

/// Planes on which the sun is computed, each once.
#[derive(Debug, Clone, Default)]
pub struct Planes {
    /// Tilt and azimuth, degrees.
    pub angles: Vec<(f64, f64)>,
    /// The same planes, prepared.
    pub raw: Vec<RawPlane>,
}

impl Planes {
    /// The plane of a surface, added when it is new.
    pub fn of(&mut self, s: &Surface) -> usize {
        let own = (s.tilt.value.to_degrees(), s.facing.value.to_degrees());
        self.angles.iter().position(|a| *a == own).unwrap_or_else(|| {
            self.angles.push(own);
            self.raw.push(RawPlane::new(own.0, own.1));
            self.raw.len() - 1
        })
    }
}

/// What a room without any exposed surface stands among.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Neighbours {
    /// Rooms held at a temperature: its own set point on a repeated day.
    AtSetPoint,
    /// Rooms like itself: no heat crosses (but for a film of 0.01 W/(m2 K), which lets a steady state exist).
    Alike,
}

/// A room before its network is decomposed, with what stands between it and the weather.
#[derive(Debug, Clone)]
pub struct RoomNetwork<'a> {
    /// Walls, windows and air.
    pub room: drycoil_rooms::Room,
    /// Opaque surfaces; the boundary walls of the network begin with them.
    pub opaque: Vec<Opaque<'a>>,
    /// Windows, in the order of the network.
    pub panes: Vec<Pane<'a>>,
    /// Whether one more boundary, to neighbours, follows the opaque surfaces.
    pub inner_room: bool,
    /// Area through which air leaks: outer walls, roofs, windows, m2.
    pub facade_m2: f64,
    /// Steady heat loss coefficient of the envelope, W/K.
    pub envelope_w_per_k: f64,
    /// Infiltration while the building is not pressurized, standard m3/s.
    pub infiltration_m3_per_s: f64,
    /// The same while it is.
    pub pressurized_infiltration_m3_per_s: f64,
}

/// The network of a room. `planes` collects the planes of its surfaces; one list may serve many rooms.
///
/// # Errors
/// A surface out of range.
///
/// # Panics
/// When the room is not one of this project, whose names are checked.
pub fn of_room<'a>(
    project: &'a Project,
    models: &ConstructionModels,
    room: &'a Room,
    neighbours: Neighbours,
    planes: &mut Planes,
) -> Result<RoomNetwork<'a>, RoomError> {
    let area = room.floor_area.value.to_square_metres();
    let mut walls = Vec::new();
    let mut opaque = Vec::new();
    let mut windows = Vec::new();
    let mut panes = Vec::new();
    let mut envelope = 0.0;
    let mut facade = 0.0;
    let mut floor_given = false;
    for s in project.surfaces_of(room) {
        let a = s.area.value;
        if s.kind == SurfaceKind::Window {
            let g = project.glazing(&s.construction.value).expect("checked with the project");
            let window = Window::new(a, g.u_value.value, u(INSIDE_CONVECTIVE), u(INSIDE_RADIANT))?;
            windows.push(window);
            let split = SolarSplit::ShareOfGain(Fraction::ratio(TRANSMITTED_SHARE));
            let modifier = AngularModifier::KarlssonRoos { panes: 2, category: 4 };
            let glass = SimpleGlass::new(g.solar_heat_gain.value, split, modifier)
                .map_err(|_| RoomError::Empty { what: "solar heat gain coefficient within 0.01 to 1" })?;
            panes.push(Pane {
                surface: s,
                diffuse: glass.diffuse(),
                glass,
                kept: 1.0 - g.interior_shading.value.to_ratio(),
                // The network lets part of the absorbed sun flow back out, so what it is given is more than what flows in.
                inward: window.inward_share().to_ratio(),
                plane: planes.of(s),
            });
            envelope += a.to_square_metres() * g.u_value.value.si();
            facade += a.to_square_metres();
            continue;
        }
        let (model, u_value) =
            models.by_name.get(s.construction.value.as_str()).expect("checked with the project");
        let (source, film) = match s.kind {
            SurfaceKind::Roof => (Source::Roofs, OUTSIDE_FILM),
            SurfaceKind::ExposedFloor => (Source::Floors, OUTSIDE_FILM),
            SurfaceKind::GroundFloor => (Source::Floors, NEIGHBOUR_FILM),
            SurfaceKind::Partition => (Source::Partitions, NEIGHBOUR_FILM),
            SurfaceKind::Wall | SurfaceKind::Window => (Source::Walls, OUTSIDE_FILM),
        };
        floor_given |= matches!(s.kind, SurfaceKind::GroundFloor | SurfaceKind::ExposedFloor);
        walls.push(Wall::new(
            model.clone(),
            a,
            u(INSIDE_CONVECTIVE),
            u(INSIDE_RADIANT),
            Beyond::Temperature { film: u(film), source },
        )?);
        let c = project.construction(&s.construction.value).expect("checked with the project");
        opaque.push(Opaque {
            surface: s,
            absorptance: c.solar_absorptance.value.to_ratio(),
            plane: if film == OUTSIDE_FILM { planes.of(s) } else { usize::MAX },
        });
        if matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Roof | SurfaceKind::ExposedFloor) {
            envelope += a.to_square_metres() * u_value;
        }
        if matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Roof) {
            facade += a.to_square_metres();
        }
    }
    let inside = |model: &Arc<WallModel>, a: f64, beyond: Beyond| {
        Wall::new(model.clone(), Area::square_metres(a), u(INSIDE_CONVECTIVE), u(INSIDE_RADIANT), beyond)
    };
    if !floor_given {
        walls.push(inside(&models.slab, area, Beyond::Nothing)?);
    }
    // A room without any exposed surface stands among neighbours: without them its heat would have nowhere to go and no
    // repeated day would exist.
    let inner_room = opaque.is_empty() && windows.is_empty();
    let film = match neighbours {
        Neighbours::AtSetPoint => NEIGHBOUR_FILM,
        Neighbours::Alike => WEAK_FILM,
    };
    let beyond = if inner_room {
        Beyond::Temperature { film: u(film), source: Source::Partitions }
    } else {
        Beyond::Nothing
    };
    walls.push(inside(&models.partition, area, beyond)?);
    let volume = room.volume().to_cubic_metres();
    let capacity = volume * RHO * 1006.0 + area * FURNISHING_J_PER_M2_K;
    let leak = project.criteria.infiltration.value.to_m_per_s() * facade;
    Ok(RoomNetwork {
        room: drycoil_rooms::Room::new(capacity, walls, windows)?,
        opaque,
        panes,
        inner_room,
        facade_m2: facade,
        envelope_w_per_k: envelope,
        infiltration_m3_per_s: leak,
        pressurized_infiltration_m3_per_s: leak * project.criteria.pressurized_infiltration.value.to_ratio(),
    })
}

/// Share of a window under an overhang that the beam reaches, by the profile angle; the overhang starts at the head.
pub fn sunlit(s: &Surface, sun: &SunPosition) -> f64 {
    let ratio = s.overhang_ratio.value.to_ratio();
    let altitude = sun.altitude().to_radians();
    if ratio <= 0.0 || altitude <= 0.0 {
        return 1.0;
    }
    let gamma = (sun.azimuth.to_degrees() - s.facing.value.to_degrees()).to_radians();
    if gamma.cos() <= 0.0 {
        return 1.0;
    }
    (1.0 - ratio * altitude.tan() / gamma.cos()).max(0.0)
}
