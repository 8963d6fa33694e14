//! Loads of rooms, floors and the building on the design days.
//!
//! Each room is a thermal network solved exactly for a repeated day ([`drycoil_rooms::periodic`]): twelve cooling days,
//! the dehumidification day, and the heating day. In occupied hours and the start-up hours before them the room is
//! between its set points, otherwise between the night limits. Peaks are taken over occupied hours; the start-up hours
//! are left out of them, since a unit that pulls a room down over those hours need not do it in the first one.

use crate::bins::facing_index;
use crate::conditions::Climate;
use crate::design::{GroupLoads, LoadParts, LoadPeak, Loads, RoomLoads};
use crate::size::SizingError;
use drycoil_air::raw;
use drycoil_climate::{DesignDay, DesignDayKind};
use drycoil_findings::{Finding, Place, registry};
use drycoil_project::{
    ConstructionLayer, DayType, Project, Room, Surface, SurfaceKind, UseProfile, UseShare,
};
use drycoil_rooms::exact::{Control, Hold};
use drycoil_rooms::gains::{RadiantShare, scheduled};
use drycoil_rooms::periodic::{AirStream, Day, DayLoads, HeatSource, PeriodicRoom};
use drycoil_rooms::{
    Beyond, Construction, Films, Layer, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_sun::raw::{PreparedSky, RawPlane, RawSky};
use drycoil_sun::{
    AngularModifier, SimpleGlass, SkyModel, SolarSplit, SunPosition, TiltedIrradiance, WindowGain,
};
use drycoil_units::{
    Area, Conductivity, Density, Fraction, Length, Power, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO,
    SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Outside film, W/(m2 K): ISO 6946 external surface resistance of 0.04 m2 K/W.
const OUTSIDE_FILM: f64 = 25.0;
/// Inside convective and long-wave film, W/(m2 K): ISO 6946 internal surface resistance of 0.13 m2 K/W for
/// horizontal flow of heat.
const INSIDE_CONVECTIVE: f64 = 2.5;
const INSIDE_RADIANT: f64 = 5.13;
/// Film to ground or to a neighbouring space, W/(m2 K): ISO 6946, internal.
const NEIGHBOUR_FILM: f64 = 7.63;
/// Long-wave loss of a roof to the sky as a sol-air difference, K (ASHRAE Fundamentals ch. 18, 7 degF, from memory).
const ROOF_SKY_K: f64 = 3.9;
/// Heat capacity of furnishings per floor area, J/(m2 K). Common practice, no source.
const FURNISHING_J_PER_M2_K: f64 = 20e3;
/// Share of the solar heat gain coefficient that is transmitted, for clear double glass.
const TRANSMITTED_SHARE: f64 = drycoil_sun::TRANSMITTED_SHARE_OF_CLEAR_DOUBLE_GLASS;

/// Models of constructions and glass, and the skies of the design days, made once.
struct Models {
    by_name: BTreeMap<String, (Arc<WallModel>, f64)>,
    slab: Arc<WallModel>,
    partition: Arc<WallModel>,
    /// By day and hour.
    skies: Vec<[PreparedSky; 24]>,
}

/// Computes all loads.
pub(crate) fn compute(
    project: &Project,
    climate: &Climate,
    pool: &rayon::ThreadPool,
) -> Result<Loads, SizingError> {
    let models = models(project, climate, pool).map_err(|(name, e)| SizingError {
        findings: vec![Finding::new(registry::loads::CONSTRUCTION, e.to_string()).at(Place::part(name))],
    })?;
    let results: Vec<Result<RoomResult, (usize, RoomError)>> = pool.install(|| {
        project
            .rooms
            .par_iter()
            .enumerate()
            .map(|(i, room)| room_loads(project, climate, &models, room).map_err(|e| (i, e)))
            .collect()
    });
    let mut rooms = Vec::with_capacity(results.len());
    let mut findings = Vec::new();
    for r in results {
        match r {
            Ok(r) => rooms.push(r),
            Err((i, e)) => {
                let room = &project.rooms[i];
                findings.push(
                    Finding::new(registry::loads::ROOM, format!("room {}: {e}", room.id))
                        .at(room.place.clone().of(room.id.clone())),
                );
            }
        }
    }
    if !findings.is_empty() {
        return Err(SizingError { findings });
    }
    let mut names: Vec<&str> = Vec::new();
    for room in &project.rooms {
        if !names.contains(&room.floor.as_str()) {
            names.push(&room.floor);
        }
    }
    let (floors, building) = pool.install(|| {
        rayon::join(
            || {
                names
                    .par_iter()
                    .map(|f| group(project, climate, &rooms, f, |r| r.floor == *f))
                    .collect::<Vec<GroupLoads>>()
            },
            || group(project, climate, &rooms, "building", |_| true),
        )
    });
    Ok(Loads {
        days: climate.day_names.clone(),
        rooms: rooms.into_iter().map(|r| r.loads).collect(),
        floors,
        building,
    })
}

/// A room with what the group sums need beside it.
struct RoomResult {
    loads: RoomLoads,
    /// Sources by day and hour.
    parts: Vec<[LoadParts; 24]>,
}

fn models(
    project: &Project,
    climate: &Climate,
    pool: &rayon::ThreadPool,
) -> Result<Models, (String, RoomError)> {
    let made: Vec<Result<(Arc<WallModel>, f64), RoomError>> =
        pool.install(|| project.constructions.par_iter().map(construction).collect());
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
        WallModel::new(&Construction::new(vec![layer])?, WallDetail::DESIGN).map(Arc::new)
    };
    let at = |e: RoomError| ("interior mass".to_owned(), e);
    // Half of a 100 mm concrete slab, and one 12.5 mm gypsum board of each partition face (common practice, no source).
    let slab = inner(0.05, 2.0, 2400.0, 1000.0).map_err(at)?;
    let partition = inner(0.0125, 0.25, 900.0, 1000.0).map_err(at)?;
    let skies = climate.days.iter().map(|d| std::array::from_fn(|h| sky(&d.hours[h]))).collect();
    Ok(Models { by_name, slab, partition, skies })
}

fn sky(hour: &drycoil_climate::DesignHour) -> PreparedSky {
    let sky = RawSky {
        zenith_deg: hour.sun.zenith.to_degrees(),
        azimuth_deg: hour.sun.azimuth.to_degrees(),
        direct_normal_w_per_m2: hour.direct_normal.si(),
        diffuse_horizontal_w_per_m2: hour.diffuse_horizontal.si(),
        global_horizontal_w_per_m2: hour.global_horizontal.si(),
        extraterrestrial_normal_w_per_m2: hour.extraterrestrial_normal.si(),
    };
    PreparedSky::new(SkyModel::Perez, &sky)
}

/// Wall model and transmittance of a construction.
fn construction(c: &drycoil_project::Construction) -> Result<(Arc<WallModel>, f64), RoomError> {
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
    let model = WallModel::new(&construction, WallDetail::DESIGN)?;
    let u = construction.transmittance(Films::iso_6946_horizontal()).si();
    Ok((Arc::new(model), u))
}

/// Whether a load is a new peak: of hours that differ by rounding only, as on the even heating day, the first one counts.
fn exceeds(load_w: f64, peak_w: f64) -> bool {
    load_w > peak_w + 1e-9 * peak_w.abs()
}

fn u(value: f64) -> ThermalTransmittance {
    ThermalTransmittance::w_per_m2_k(value)
}

/// One opaque surface with its place among the inputs.
struct Opaque<'a> {
    surface: &'a Surface,
    absorptance: f64,
    /// Its plane, used only where the sun reaches it.
    plane: usize,
}

/// One window.
struct Pane<'a> {
    surface: &'a Surface,
    glass: SimpleGlass,
    diffuse: WindowGain,
    /// Share that shading leaves.
    kept: f64,
    /// Share of the sun absorbed at the pane that flows in.
    inward: f64,
    plane: usize,
}

/// Planes on which the sun is computed, each once.
#[derive(Default)]
struct Planes {
    angles: Vec<(f64, f64)>,
    raw: Vec<RawPlane>,
}

impl Planes {
    fn of(&mut self, s: &Surface) -> usize {
        let own = (s.tilt.value.to_degrees(), s.facing.value.to_degrees());
        self.angles.iter().position(|a| *a == own).unwrap_or_else(|| {
            self.angles.push(own);
            self.raw.push(RawPlane::new(own.0, own.1));
            self.raw.len() - 1
        })
    }
}

fn room_loads(
    project: &Project,
    climate: &Climate,
    models: &Models,
    room: &Room,
) -> Result<RoomResult, RoomError> {
    let area = room.floor_area.value.to_square_metres();
    let mut walls = Vec::new();
    let mut opaque = Vec::new();
    let mut windows = Vec::new();
    let mut panes: Vec<Pane<'_>> = Vec::new();
    let mut planes = Planes::default();
    let mut envelope = 0.0;
    let mut aperture = [0.0; 5];
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
            let simple = SimpleGlass::new(g.solar_heat_gain.value, split, modifier)
                .map_err(|_| RoomError::Empty { what: "solar heat gain coefficient within 0.01 to 1" })?;
            let kept = 1.0 - g.interior_shading.value.to_ratio();
            panes.push(Pane {
                surface: s,
                glass: simple,
                diffuse: simple.diffuse(),
                kept,
                // The network lets part of the absorbed sun flow back out, so what it is given is more than what flows in.
                inward: window.inward_share().to_ratio(),
                plane: planes.of(s),
            });
            envelope += a.to_square_metres() * g.u_value.value.si();
            facade += a.to_square_metres();
            let shade = 1.0 / (1.0 + s.overhang_ratio.value.to_ratio());
            aperture[facing_index(s.tilt.value.to_degrees(), s.facing.value.to_degrees())] +=
                a.to_square_metres() * simple.diffuse().total() * kept * shade;
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
    let inside = |model: &Arc<WallModel>, a: f64| {
        Wall::new(
            model.clone(),
            Area::square_metres(a),
            u(INSIDE_CONVECTIVE),
            u(INSIDE_RADIANT),
            Beyond::Nothing,
        )
    };
    if !floor_given {
        walls.push(inside(&models.slab, area)?);
    }
    // A room without any exposed surface stands among neighbours that are held at its own set point: without them its
    // heat would have nowhere to go and no repeated day would exist.
    let inner_room = opaque.is_empty() && windows.is_empty();
    if inner_room {
        walls.push(Wall::new(
            models.partition.clone(),
            Area::square_metres(area),
            u(INSIDE_CONVECTIVE),
            u(INSIDE_RADIANT),
            Beyond::Temperature { film: u(NEIGHBOUR_FILM), source: Source::Partitions },
        )?);
    } else {
        walls.push(inside(&models.partition, area)?);
    }
    let volume = room.volume().to_cubic_metres();
    let capacity = volume * RHO * 1006.0 + area * FURNISHING_J_PER_M2_K;
    let modal = drycoil_rooms::Room::new(capacity, walls, windows)?.modal()?;
    let periodic = PeriodicRoom::new(&modal, 24, 3600.0, Hold::Mean)?;

    let criteria = &project.criteria;
    let infiltration = criteria.infiltration.value.to_m_per_s()
        * facade
        * criteria.pressurized_infiltration.value.to_ratio();
    let profile = project.profile_of(room);
    let mut sensible = Vec::with_capacity(climate.days.len());
    let mut parts = Vec::with_capacity(climate.days.len());
    let mut cooling: Option<(f64, usize, usize)> = None;
    let mut heating: Option<(f64, usize, usize)> = None;
    let occupied = profile.occupied_hours(DayType::Weekday);
    let envelope_of = Enclosure { opaque, panes, planes, infiltration, inner_room };
    let mut inputs = DayInputs::new(project, room, profile, &occupied, &envelope_of)?;
    let mut guess = Vec::new();
    for (d, day) in climate.days.iter().enumerate() {
        let input = inputs.of(project, climate, day, &models.skies[d], &envelope_of);
        let solved = periodic.solve_from(input, &guess)?;
        let by_hour: [LoadParts; 24] = std::array::from_fn(|h| parts_at(&solved, h));
        let load: [f64; 24] = std::array::from_fn(|h| solved.load_w[h]);
        for h in 0..24 {
            if day.kind == DesignDayKind::Heating {
                if heating.is_none_or(|b| exceeds(-load[h], b.0)) {
                    heating = Some(((-load[h]).max(0.0), d, h));
                }
            } else if occupied[h] && cooling.is_none_or(|b| exceeds(load[h], b.0)) {
                cooling = Some((load[h].max(0.0), d, h));
            }
        }
        // The next day of a year is much like this one.
        guess = solved.modes;
        sensible.push(load);
        parts.push(by_hour);
    }
    let none = || LoadPeak {
        load_w: 0.0,
        day: "never occupied".to_owned(),
        day_index: 0,
        hour: 0,
        parts: LoadParts::default(),
    };
    let peak = |(load_w, d, h): (f64, usize, usize)| LoadPeak {
        load_w,
        day: climate.day_names[d].clone(),
        day_index: d,
        hour: h,
        parts: parts[d][h],
    };
    let heating = heating.map_or_else(none, peak);
    let cooling = cooling.map_or_else(none, peak);
    let people_w = room.people.value * room.latent_per_person.value.to_watts();
    let process_w = room.process_latent.value.to_watts();
    let plenum = project.terminals.plenum_share.value.to_ratio();
    let loads = RoomLoads {
        room: room.id.clone(),
        plenum_w: plenum * (cooling.parts.lighting_w + cooling.parts.roof_w).max(0.0),
        cooling,
        heating,
        latent_w: people_w + process_w,
        infiltration_m3_per_s: infiltration,
        sensible_w: sensible,
        latent_by_hour_w: std::array::from_fn(|h| {
            people_w * profile.share(UseShare::People, DayType::Weekday, h)
                + process_w * profile.share(UseShare::Process, DayType::Weekday, h)
        }),
        set_point_c: room.cooling_set_point.value.to_celsius(),
        heating_set_point_c: room.heating_set_point.value.to_celsius(),
        envelope_w_per_k: envelope,
        solar_aperture_m2: aperture,
    };
    Ok(RoomResult { loads, parts })
}

/// What stands between a room and the weather.
struct Enclosure<'a> {
    opaque: Vec<Opaque<'a>>,
    panes: Vec<Pane<'a>>,
    planes: Planes,
    /// Standard m3/s.
    infiltration: f64,
    /// Whether one more wall, to neighbours at the room's own set point, closes the list of boundaries.
    inner_room: bool,
}

/// The inputs of the room on a cooling day and on the heating day, filled anew for each day.
struct DayInputs {
    cooling: Day,
    heating: Day,
    /// Sun on each plane by hour.
    sun: Vec<[TiltedIrradiance; 24]>,
}

impl DayInputs {
    fn new(
        project: &Project,
        room: &Room,
        profile: &UseProfile,
        occupied: &[bool; 24],
        of: &Enclosure<'_>,
    ) -> Result<Self, RoomError> {
        let area = room.floor_area.value;
        let people = room.sensible_per_person.value * room.people.value;
        let gains = [
            (Source::People, UseShare::People, people),
            (Source::Lights, UseShare::Lighting, room.lighting.value * area),
            (Source::Plugs, UseShare::Plugs, room.plugs.value * area),
            (Source::Process, UseShare::Process, room.process_sensible.value),
        ];
        let sun = HeatSource {
            source: Source::Solar,
            convective_w: Vec::new(),
            radiant_w: Vec::new(),
            solar_w: vec![0.0; 24],
        };
        let cooling_c = room.cooling_set_point.value.to_celsius();
        let heating_c = room.heating_set_point.value.to_celsius();
        let held = |boundaries: usize, windows: usize, heat, control, reference_c| {
            let mut boundary_c = vec![vec![0.0; 24]; boundaries];
            if of.inner_room {
                boundary_c.push(vec![reference_c; 24]);
            }
            Day {
                boundary_c,
                window_outside_c: vec![vec![0.0; 24]; windows],
                window_absorbed_w: vec![vec![0.0; 24]; windows],
                heat,
                air: vec![AirStream {
                    source: Source::Infiltration,
                    conductance_w_per_k: vec![0.0; 24],
                    supply_c: vec![0.0; 24],
                }],
                control,
                reference_c,
            }
        };
        // The heating day counts no gains.
        let control =
            vec![Control { cooling_capacity_w: 0.0, ..Control::between(heating_c, f64::INFINITY) }; 24];
        let heating = held(of.opaque.len(), of.panes.len(), vec![sun.clone()], control, heating_c);
        let mut heat = vec![sun];
        for (source, share, full) in gains {
            if full <= Power::watts(0.0) {
                continue;
            }
            let radiant = RadiantShare::default_for(source).map_or(Fraction::ratio(0.0), |r| r.radiant);
            let series: [f64; 24] = std::array::from_fn(|h| profile.share(share, DayType::Weekday, h));
            heat.push(scheduled(source, full, radiant, &series)?);
        }
        let control = schedule(project, occupied, cooling_c, heating_c);
        let cooling = held(of.opaque.len(), of.panes.len(), heat, control, cooling_c);
        Ok(Self { cooling, heating, sun: Vec::new() })
    }

    /// The inputs on a design day.
    fn of(
        &mut self,
        project: &Project,
        climate: &Climate,
        day: &DesignDay,
        skies: &[PreparedSky; 24],
        of: &Enclosure<'_>,
    ) -> &Day {
        let input = if day.kind == DesignDayKind::Heating { &mut self.heating } else { &mut self.cooling };
        let outdoor: [f64; 24] = std::array::from_fn(|h| day.hours[h].dry_bulb.to_celsius());
        let ground_c = project
            .site
            .ground_temperature
            .as_ref()
            .map_or(climate.mean_dry_bulb_c, |g| g.value.to_celsius());
        let reflectance = project.site.ground_reflectance.value.to_ratio();
        self.sun.clear();
        self.sun.extend(
            of.planes.raw.iter().map(|p| std::array::from_fn::<_, 24, _>(|h| skies[h].on(p, reflectance))),
        );
        for (row, o) in input.boundary_c.iter_mut().zip(&of.opaque) {
            match o.surface.kind {
                SurfaceKind::GroundFloor => row.fill(ground_c),
                SurfaceKind::Partition => {
                    row.fill(o.surface.neighbour.as_ref().map_or(ground_c, |n| n.value.to_celsius()));
                }
                _ => {
                    let sky = if o.surface.kind == SurfaceKind::Roof { ROOF_SKY_K } else { 0.0 };
                    for h in 0..24 {
                        let sun = self.sun[o.plane][h].total().si();
                        row[h] = outdoor[h] + o.absorptance * sun / OUTSIDE_FILM - sky;
                    }
                }
            }
        }
        let transmitted = &mut input.heat[0].solar_w;
        transmitted.fill(0.0);
        for (row, pane) in input.window_absorbed_w.iter_mut().zip(&of.panes) {
            let a = pane.surface.area.value.to_square_metres() * pane.kept;
            row.fill(0.0);
            for h in (0..24).filter(|h| !skies[*h].is_dark()) {
                let t = &self.sun[pane.plane][h];
                let lit = sunlit(pane.surface, &day.hours[h].sun);
                let beam = pane.glass.raw_beam(t.cos_incidence);
                let direct = (t.beam.si() + t.circumsolar.si()) * lit;
                let even = t.dome.si() + t.horizon.si() + t.ground.si();
                transmitted[h] += a * (direct * beam.transmitted + even * pane.diffuse.transmitted);
                row[h] = a * (direct * beam.inward + even * pane.diffuse.inward) / pane.inward;
            }
        }
        for row in &mut input.window_outside_c {
            row.copy_from_slice(&outdoor);
        }
        let m_cp = of.infiltration * RHO * raw::humid_specific_heat_j_per_kg_k(day.humidity_ratio.si());
        input.air[0].conductance_w_per_k.fill(m_cp);
        input.air[0].supply_c.copy_from_slice(&outdoor);
        input
    }
}

/// Set points by hour: occupied and start-up hours between the set points, others between the night limits.
fn schedule(project: &Project, occupied: &[bool; 24], cooling_c: f64, heating_c: f64) -> Vec<Control> {
    let start_up = project.criteria.start_up.value.to_hours().round() as usize;
    let night_cooling = project.criteria.night_cooling.value.to_celsius().max(cooling_c);
    let night_heating = project.criteria.night_heating.value.to_celsius().min(heating_c);
    (0..24)
        .map(|h| {
            let on = (0..=start_up).any(|ahead| occupied[(h + ahead) % 24]);
            if on {
                Control::between(heating_c, cooling_c)
            } else {
                Control::between(night_heating, night_cooling)
            }
        })
        .collect()
}

/// Share of a window under an overhang that the beam reaches, by the profile angle; the overhang starts at the head.
fn sunlit(s: &Surface, sun: &SunPosition) -> f64 {
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

fn parts_at(solved: &DayLoads, h: usize) -> LoadParts {
    let mut p = LoadParts::default();
    for part in &solved.parts {
        let w = part.load_w[h];
        match part.source {
            Source::People => p.people_w += w,
            Source::Lights => p.lighting_w += w,
            Source::Plugs => p.plugs_w += w,
            Source::Process | Source::Other => p.process_w += w,
            Source::Solar => p.solar_w += w,
            Source::Windows => p.glass_w += w,
            Source::Walls => p.walls_w += w,
            Source::Roofs => p.roof_w += w,
            Source::Floors | Source::Partitions => p.floors_w += w,
            Source::Infiltration | Source::Ventilation => p.infiltration_w += w,
            Source::Storage => p.storage_w += w,
        }
    }
    p
}

/// Coincident loads of the rooms of a group, with the diversity of people.
fn group(
    project: &Project,
    climate: &Climate,
    rooms: &[RoomResult],
    name: &str,
    holds: impl Fn(&Room) -> bool,
) -> GroupLoads {
    let inside: Vec<(usize, f64)> = project
        .rooms
        .iter()
        .enumerate()
        .filter(|(_, r)| holds(r))
        .map(|(i, r)| (i, project.kind_of(r).diversity.to_ratio()))
        .collect();
    let heating_day = climate.heating_day();
    let days = climate.days.len();
    // Room after room, each through all hours, so that every hour adds the rooms in their order.
    let mut sums = vec![[(0.0, LoadParts::default()); 24]; days];
    let mut open = [false; 24];
    for (i, diversity) in &inside {
        let room = &rooms[*i];
        let own = project.profile_of(&project.rooms[*i]).occupied_hours(DayType::Weekday);
        open.iter_mut().zip(own).for_each(|(any, own)| *any |= own);
        for (d, sums) in sums.iter_mut().enumerate() {
            for (h, (load, parts)) in sums.iter_mut().enumerate() {
                let w = room.loads.sensible_w[d][h];
                if (d == heating_day) == (w < 0.0) {
                    let mut p = room.parts[d][h];
                    let absent = if d == heating_day { 0.0 } else { p.people_w * (1.0 - diversity) };
                    p.people_w -= absent;
                    *load += w - absent;
                    *parts = parts.plus(&p);
                }
            }
        }
    }
    let mut cooling: Option<LoadPeak> = None;
    let mut heating: Option<LoadPeak> = None;
    for (d, sums) in sums.iter().enumerate() {
        for (h, (load, parts)) in sums.iter().enumerate() {
            let load = *load;
            let peak = |load_w: f64| LoadPeak {
                load_w,
                day: climate.day_names[d].clone(),
                day_index: d,
                hour: h,
                parts: *parts,
            };
            if d == heating_day {
                if heating.as_ref().is_none_or(|b| exceeds(-load, b.load_w)) {
                    heating = Some(peak(-load));
                }
            } else if open[h] && cooling.as_ref().is_none_or(|b| exceeds(load, b.load_w)) {
                cooling = Some(peak(load));
            }
        }
    }
    let latent_w = (0..24)
        .map(|h| {
            inside.iter().map(|(i, diversity)| rooms[*i].loads.latent_by_hour_w[h] * diversity).sum::<f64>()
        })
        .fold(0.0, f64::max);
    let none = || LoadPeak {
        load_w: 0.0,
        day: "never occupied".to_owned(),
        day_index: 0,
        hour: 0,
        parts: LoadParts::default(),
    };
    GroupLoads {
        group: name.to_owned(),
        cooling: cooling.unwrap_or_else(none),
        cooling_sum_of_peaks_w: inside.iter().map(|(i, _)| rooms[*i].loads.cooling.load_w).sum(),
        heating: heating.unwrap_or_else(none),
        latent_w,
    }
}
