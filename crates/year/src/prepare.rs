//! From project, design and weather to the arrays that the year's loop runs on.
//!
//! Rooms stand in blocks of four lanes in the order of the room list. Whatever is the same for a whole hour is prepared
//! as lanes, so that the loop has no branch on how a room is served: what a room does not have is zero.

use crate::signals::BuildingMode;
use crate::terminal_table::{ModelTable, ROWS, Row, Spacing, TablePoint, ZoneAsk, ZoneTable};
use crate::weather::{FacingPlane, Skies, StepWeather};
use crate::wide::Kernel;
use drycoil_air::raw;
use drycoil_climate::{Calendar, ClimateError, WeatherYear};
use drycoil_plant::terminal::TerminalUnit;
use drycoil_project::{
    CoilAir, CoilRelease, DayType, HeatingKind, PrimaryAirControl, Project, Room, StandbyChoice, SurfaceKind,
    TerminalInput, TerminalModel, UseProfile, UseShare,
};
use drycoil_rooms::block::{BlockModel, BlockRoom};
use drycoil_rooms::exact::Hold;
use drycoil_rooms::gains::RadiantShare;
use drycoil_rooms::moisture::{Buffering, MoistureStore, raw_vapour_enthalpy_j_per_kg};
use drycoil_rooms::reduction::{Channel, Channels, InputRange, ReducedRoom, reduce};
use drycoil_rooms::{ModalRoom, RoomError, Source};
use drycoil_sizing::network::{self, ConstructionModels, Neighbours, OUTSIDE_FILM, Planes, ROOF_SKY_K};
use drycoil_sizing::{Design, PLENUM_INFILTRATION, Service, day_types, terminal_unit};
use drycoil_units::{Mass, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

/// Rooms of a block.
pub const LANES: usize = drycoil_rooms::block::LANES;
/// One number per room of a block.
pub type Lanes = drycoil_rooms::block::Lanes<LANES>;
pub(crate) const ZERO: Lanes = [0.0; LANES];

/// Bound on the error of a reduced room's air temperature, K.
pub const BOUND_K: f64 = 0.02;
/// Bound on it at steps of a minute and less, where the answer to a jump of all heat at once would need more lags, K.
pub const SHORT_BOUND_K: f64 = 0.1;
/// Longest step with that bound, s: those of excursions.
const SHORT_STEP_S: f64 = 60.0;
/// A room's own cooling unit works against a coil this much colder than the set point, K. Common practice, no source.
pub const OWN_UNIT_K: f64 = 10.0;
pub use drycoil_sizing::machine_data::OWN_UNIT_FAN_SHARE as SENSIBLE_UNIT_FAN_SHARE;

/// Part of the time in which transfer air flows, for the state in which the warm-up begins: eleven hours on five days.
const TRANSFER_SHARE: f64 = 0.33;

/// Why a year cannot be simulated.
#[derive(Debug, Clone, PartialEq)]
pub enum PrepareError {
    /// A room has no model.
    Room {
        /// Room.
        room: String,
        /// Why.
        reason: String,
    },
    /// A construction has no model.
    Construction {
        /// Construction.
        name: String,
        /// Why.
        reason: String,
    },
    /// A zone's terminal cannot be tabulated.
    Terminal {
        /// Zone.
        zone: String,
        /// Why.
        reason: String,
    },
    /// The weather year lacks something.
    Weather(ClimateError),
    /// A step that does not divide an hour, or is outside 30 s to 1 h.
    Step {
        /// The step, s.
        step_s: f64,
    },
}

impl fmt::Display for PrepareError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Room { room, reason } => write!(f, "room {room}: {reason}"),
            Self::Construction { name, reason } => write!(f, "construction {name}: {reason}"),
            Self::Terminal { zone, reason } => write!(f, "terminal of zone {zone}: {reason}"),
            Self::Weather(e) => write!(f, "{e}"),
            Self::Step { step_s } => {
                write!(f, "a step of {step_s} s does not divide an hour into steps of 30 s to 1 h")
            }
        }
    }
}

impl std::error::Error for PrepareError {}

impl From<ClimateError> for PrepareError {
    fn from(e: ClimateError) -> Self {
        Self::Weather(e)
    }
}

/// An orientation on which the sun is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facing {
    /// Tilt from horizontal, degrees.
    pub tilt_deg: f64,
    /// Azimuth of the outward normal, clockwise from north, degrees.
    pub azimuth_deg: f64,
    /// Depth of an overhang over the height of the window; 0 without.
    pub overhang_ratio: f64,
}

impl Facing {
    fn key(&self) -> [u64; 3] {
        [self.tilt_deg.to_bits(), self.azimuth_deg.to_bits(), self.overhang_ratio.to_bits()]
    }
}

/// Which sun a channel of a room carries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SunChannel {
    /// On opaque surfaces.
    Opaque(Facing),
    /// Through glass.
    Glass(Facing),
}

/// A room's reduced model with the meaning of its channels: outdoor air, radiant gains, sun by orientation, what never
/// changes (where there is such), heat to the air.
#[derive(Debug, Clone)]
pub struct RoomModel {
    /// The reduced room.
    pub reduced: ReducedRoom,
    /// Sun channels, from channel 2 on.
    pub sun: Vec<SunChannel>,
    /// Channel of what never changes; its value is 1.
    pub constant: Option<usize>,
    /// Facade, m2.
    pub facade_m2: f64,
}

impl RoomModel {
    /// Infiltration through the facade while the building is not pressurized, standard m3/s.
    pub fn infiltration_m3_per_s(&self, project: &Project) -> f64 {
        project.criteria.infiltration.value.to_m_per_s() * self.facade_m2
    }

    /// While it is.
    pub fn pressurized_infiltration_m3_per_s(&self, project: &Project) -> f64 {
        self.infiltration_m3_per_s(project) * project.criteria.pressurized_infiltration.value.to_ratio()
    }
}

/// Reduced rooms, weather and machines of the catalogue by content. What is found here is what would be made anew, bit for bit.
#[derive(Debug, Clone, Default)]
pub struct ReductionCache {
    models: BTreeMap<Vec<u64>, Arc<RoomModel>>,
    /// The last one first.
    weather: Vec<KeptWeather>,
    /// Machines of catalogue models, with all that they are fitted from.
    units: Vec<(TerminalModel, TerminalInput, TerminalUnit)>,
}

/// Machines of the catalogue that are kept at most.
const MOST_UNITS_KEPT: usize = 64;

/// Weather years that are kept at most: some three megabytes each.
const MOST_YEARS_KEPT: usize = 8;

/// Steps and skies of a weather year, with all that they were made from.
#[derive(Debug, Clone)]
struct KeptWeather {
    year: WeatherYear,
    pressure_pa: f64,
    steps_per_hour: usize,
    ground_reflectance: f64,
    steps: Arc<StepWeather>,
    skies: Arc<Skies>,
}

impl KeptWeather {
    fn new(
        year: &WeatherYear,
        pressure_pa: f64,
        steps_per_hour: usize,
        ground_reflectance: f64,
        pool: &rayon::ThreadPool,
    ) -> Result<Self, PrepareError> {
        let (steps, skies) = pool.install(|| {
            rayon::join(
                || StepWeather::new(year, pressure_pa, steps_per_hour),
                || Skies::new(year, ground_reflectance),
            )
        });
        let (steps, skies) = (Arc::new(steps?), Arc::new(skies?));
        Ok(Self { year: year.clone(), pressure_pa, steps_per_hour, ground_reflectance, steps, skies })
    }

    fn is_of(
        &self,
        year: &WeatherYear,
        pressure_pa: f64,
        steps_per_hour: usize,
        ground_reflectance: f64,
    ) -> bool {
        self.pressure_pa == pressure_pa
            && self.steps_per_hour == steps_per_hour
            && self.ground_reflectance == ground_reflectance
            && self.year == *year
    }
}

impl ReductionCache {
    /// Rooms kept.
    pub fn len(&self) -> usize {
        self.models.len()
    }

    /// Whether none is kept.
    pub fn is_empty(&self) -> bool {
        self.models.is_empty()
    }

    fn unit(&mut self, project: &Project, model: &TerminalModel) -> Result<TerminalUnit, String> {
        let found = self.units.iter().find(|(m, input, _)| m == model && *input == project.terminals);
        if let Some((.., unit)) = found {
            return Ok(unit.clone());
        }
        let unit = terminal_unit(project, model)?;
        if self.units.len() == MOST_UNITS_KEPT {
            self.units.clear();
        }
        self.units.push((model.clone(), project.terminals.clone(), unit.clone()));
        Ok(unit)
    }

    fn weather(
        &mut self,
        year: &WeatherYear,
        pressure_pa: f64,
        steps_per_hour: usize,
        ground_reflectance: f64,
        pool: &rayon::ThreadPool,
    ) -> Result<(Arc<StepWeather>, Arc<Skies>), PrepareError> {
        let found =
            self.weather.iter().position(|w| w.is_of(year, pressure_pa, steps_per_hour, ground_reflectance));
        let first = match found {
            Some(place) => self.weather.remove(place),
            None => KeptWeather::new(year, pressure_pa, steps_per_hour, ground_reflectance, pool)?,
        };
        let out = (Arc::clone(&first.steps), Arc::clone(&first.skies));
        self.weather.truncate(MOST_YEARS_KEPT - 1);
        self.weather.insert(0, first);
        Ok(out)
    }
}

/// What a room's reduction depends on beside its surfaces.
#[derive(Debug, Clone, Copy)]
struct Ranges {
    step_s: f64,
    bound_k: f64,
    outdoor_half_k: f64,
    outdoor_change_k: f64,
    sun_half: f64,
    radiant_half_w: f64,
    air_half_w: f64,
    ground_c: f64,
    inner_c: f64,
    /// What a room without exposed surface stands among. One with its own control stands among rooms like itself; one
    /// without, such as a corridor, among rooms that are held between their set points.
    neighbours: Neighbours,
}

fn words(text: &str, key: &mut Vec<u64>) {
    for chunk in text.as_bytes().chunks(8) {
        let mut bytes = [0_u8; 8];
        bytes[..chunk.len()].copy_from_slice(chunk);
        key.push(u64::from_le_bytes(bytes));
    }
    key.push(u64::MAX);
}

/// Everything that decides a room's model, as numbers.
fn key_of(project: &Project, contents: &BTreeMap<&str, u64>, room: &Room, r: &Ranges) -> Vec<u64> {
    let mut key = Vec::with_capacity(96);
    for v in [
        r.step_s,
        r.bound_k,
        r.outdoor_half_k,
        r.outdoor_change_k,
        r.sun_half,
        r.radiant_half_w,
        r.air_half_w,
        r.ground_c,
        room.floor_area.value.si(),
        room.height.value.si(),
    ] {
        key.push(v.to_bits());
    }
    key.push(r.neighbours as u64);
    // Only a room without exposed surface stands among rooms of this temperature.
    if project.surfaces_of(room).next().is_none() {
        key.push(r.inner_c.to_bits());
    }
    for s in project.surfaces_of(room) {
        key.push(s.kind as u64);
        for v in [
            s.area.value.si(),
            s.tilt.value.si(),
            s.facing.value.si(),
            s.overhang_ratio.value.si(),
            s.neighbour.as_ref().map_or(f64::NAN, |n| n.value.si()),
        ] {
            key.push(v.to_bits());
        }
        if s.kind == SurfaceKind::Window {
            if let Some(g) = project.glazing(&s.construction.value) {
                for v in [g.u_value.value.si(), g.solar_heat_gain.value.si(), g.interior_shading.value.si()] {
                    key.push(v.to_bits());
                }
            }
        } else {
            key.push(contents.get(s.construction.value.as_str()).copied().unwrap_or(u64::MAX));
        }
    }
    key
}

/// Network, modes and channels of a room; what [`reduce`] takes.
pub struct FullRoom {
    /// Modes of the full network.
    pub modal: ModalRoom,
    /// Channels in the order of [`RoomModel`].
    pub channels: Channels,
    sun: Vec<SunChannel>,
    constant: Option<usize>,
    facade_m2: f64,
}

fn full_room(
    project: &Project,
    models: &ConstructionModels,
    room: &Room,
    r: &Ranges,
) -> Result<FullRoom, RoomError> {
    let network = network::of_room(project, models, room, r.neighbours, &mut Planes::default())?;
    let modal = network.room.modal()?;
    let at = &modal.inputs;
    let mut outdoor = Vec::new();
    let mut constant = Vec::new();
    let mut sun: Vec<(SunChannel, Vec<(usize, f64)>)> = Vec::new();
    let mut add =
        |channel: SunChannel, factors: &[(usize, f64)]| match sun.iter_mut().find(|(c, _)| *c == channel) {
            Some((_, all)) => all.extend_from_slice(factors),
            None => sun.push((channel, factors.to_vec())),
        };
    let facing = |s: &drycoil_project::Surface, overhang_ratio: f64| Facing {
        tilt_deg: s.tilt.value.to_degrees(),
        azimuth_deg: s.facing.value.to_degrees(),
        overhang_ratio,
    };
    for (i, o) in network.opaque.iter().enumerate() {
        match o.surface.kind {
            SurfaceKind::GroundFloor => constant.push((i, r.ground_c)),
            SurfaceKind::Partition => {
                let t = o.surface.neighbour.as_ref().map_or(r.ground_c, |n| n.value.to_celsius());
                constant.push((i, t));
            }
            _ => {
                outdoor.push((i, 1.0));
                add(SunChannel::Opaque(facing(o.surface, 0.0)), &[(i, o.absorptance / OUTSIDE_FILM)]);
                if o.surface.kind == SurfaceKind::Roof {
                    constant.push((i, -ROOF_SKY_K));
                }
            }
        }
    }
    if network.inner_room {
        constant.push((network.opaque.len(), r.inner_c));
    }
    for (j, pane) in network.panes.iter().enumerate() {
        outdoor.push((at.window_outside(j), 1.0));
        let area = pane.surface.area.value.to_square_metres() * pane.kept;
        let normal = pane.glass.raw_beam(1.0);
        add(
            SunChannel::Glass(facing(pane.surface, pane.surface.overhang_ratio.value.to_ratio())),
            &[
                (at.solar(), area * normal.transmitted),
                (at.window_absorbed(j), area * normal.inward / pane.inward),
            ],
        );
    }
    if outdoor.is_empty() {
        outdoor.push((at.radiant(), 0.0));
    }
    let range = InputRange::gradual(r.outdoor_half_k, r.outdoor_change_k)?;
    let mut list = vec![
        Channel { factors: outdoor, range },
        Channel { factors: vec![(at.radiant(), 1.0)], range: InputRange::jumping(r.radiant_half_w)? },
    ];
    for (_, factors) in &sun {
        list.push(Channel { factors: factors.clone(), range: InputRange::jumping(r.sun_half)? });
    }
    let place = if constant.is_empty() {
        None
    } else {
        list.push(Channel { factors: constant, range: InputRange::jumping(0.0)? });
        Some(list.len() - 1)
    };
    let channels = Channels::new(at, list, InputRange::jumping(r.air_half_w)?)?;
    Ok(FullRoom {
        channels,
        sun: sun.into_iter().map(|(c, _)| c).collect(),
        constant: place,
        facade_m2: network.facade_m2,
        modal,
    })
}

fn room_model(
    project: &Project,
    models: &ConstructionModels,
    room: &Room,
    r: &Ranges,
) -> Result<RoomModel, RoomError> {
    let full = full_room(project, models, room, r)?;
    let at = |bound_k: f64| reduce(&full.modal, &full.channels, r.step_s, Hold::Linear, bound_k);
    // At steps of a minute and less the answer to a jump of all heat at once may need more lags than there are.
    let reduced = match at(r.bound_k) {
        Err(RoomError::NotConverged { .. }) if r.step_s <= SHORT_STEP_S => {
            at(2.0 * r.bound_k).or_else(|_| at(4.0 * r.bound_k))?
        }
        done => done?,
    };
    Ok(RoomModel { reduced, sun: full.sun, constant: full.constant, facade_m2: full.facade_m2 })
}

/// Use of the rooms of a block in an hour of a kind of day: shares of the peak, and 0 or 1.
#[repr(align(32))]
#[derive(Debug, Clone, Copy, Default)]
pub struct HourLanes {
    /// In the order of [`UseShare::ALL`].
    pub shares: [Lanes; 4],
    /// Occupied.
    pub occupied: Lanes,
    /// Between the first and the last occupied hour of the day: the system serves the room.
    pub served: Lanes,
}

/// What does not change over the year, for the rooms of a block.
#[allow(clippy::struct_excessive_bools)] // Which parts of the loop this block needs at all.
#[repr(align(32))]
#[derive(Debug, Clone)]
pub struct BlockFacts {
    /// Rooms in the block; the lanes after them are empty.
    pub rooms: usize,
    /// 1 in lanes with a room.
    pub there: Lanes,
    /// `[day type][hour]`.
    pub hours: Vec<HourLanes>,
    /// Per held channel of the drive but the last: place of each room's value among [`SunHour`]; the first is radiant.
    pub sun: Vec<[u32; LANES]>,
    /// Radiant and convective heat at full use, W, by [`UseShare`].
    pub radiant_w: [Lanes; 4],
    /// Convective.
    pub convective_w: [Lanes; 4],
    /// Vapour of people and of processes at full use, kg/s.
    pub people_kg_per_s: Lanes,
    /// Of processes.
    pub process_kg_per_s: Lanes,
    /// Infiltration while the building is not pressurized, kg/s.
    pub open_leak_kg_per_s: Lanes,
    /// While it is.
    pub held_leak_kg_per_s: Lanes,
    /// Outdoor air by the own unit of a room off the system, kg/s, while served.
    pub own_outdoor_kg_per_s: Lanes,
    /// Set points: served.
    pub heating_c: Lanes,
    /// degC.
    pub cooling_c: Lanes,
    /// Night.
    pub night_heating_c: Lanes,
    /// degC.
    pub night_cooling_c: Lanes,
    /// Standby: relaxation of both set points where it is allowed, else 0, K.
    pub relaxation_k: Lanes,
    /// 1 where standby is allowed.
    pub standby: Lanes,
    /// Step over effective dry-air mass, s/kg.
    pub step_per_kg: Lanes,
    /// Effective dry-air mass, kg.
    pub effective_kg: Lanes,
    /// Highest humidity ratio that the room should have, kg/kg.
    pub limit_w: Lanes,
    /// Humidity ratio below which a room is ready for use, kg/kg: its limit less what is required between water and dew
    /// point.
    pub ready_w: Lanes,
    /// Transfer air in, kg/s, and the room that it comes from.
    pub transfer_kg_per_s: Lanes,
    /// Place of that room among all lanes.
    pub transfer_from: [u32; LANES],
    /// Whether any room takes transfer air.
    pub has_transfer: bool,
    /// Exhaust, exfiltration and transfer air that leave elsewhere than by the return, kg/s.
    pub drawn_kg_per_s: Lanes,
    /// Primary air at design, kg/s.
    pub primary_kg_per_s: Lanes,
    /// 1 where primary air follows people.
    pub follows: Lanes,
    /// Parts of its need: fixed, by floor area, by people at full use (two rules), kg/s.
    pub need_fixed: Lanes,
    /// By floor area.
    pub need_area: Lanes,
    /// By people, ventilation rule.
    pub need_people: Lanes,
    /// By people, flow per person.
    pub need_per_person: Lanes,
    /// Coil at its largest, W/K; the room's part of its zone's.
    pub coil_w_per_k: Lanes,
    /// 1 where the coil has the water of the system.
    pub on_water: Lanes,
    /// Temperature against which own units work, degC, 0 for coils on the system's water.
    pub own_coil_c: Lanes,
    /// Whether any room has a dry unit of its own on the system's water.
    pub has_own_units: bool,
    /// 1 where a terminal serves the room.
    pub terminal: Lanes,
    /// 1 in rooms on the system (terminal or primary air only).
    pub on_system: Lanes,
    /// 1 in server rooms with units on the system's water.
    pub server: Lanes,
    /// 1 in rooms whose air goes back to the central unit.
    pub returns: Lanes,
    /// 1 in rooms off the system.
    pub off_system: Lanes,
    /// Whether any room is off the system.
    pub has_off_system: bool,
    /// Largest heating, W.
    pub heating_w: Lanes,
    /// Warmer coil air by lights at full use, K.
    pub plenum_k: Lanes,
    /// Lights that heat the plenum at full use, W.
    pub plenum_w: Lanes,
    /// Part of the difference to outdoor air by which the coil air of a plenum is more humid.
    pub plenum_leak: Lanes,
    /// Whether any room follows another's thermostat.
    pub has_followers: bool,
    /// Followers.
    pub follower: Lanes,
    /// 1 where a unit serves this room alone.
    pub alone: Lanes,
    /// Where the points of the unit's row lie.
    pub(crate) spacing: Spacing<Lanes>,
    /// Place of its operating points.
    pub(crate) table_at: [u32; LANES],
    /// Its largest heating, W; 0 where heat is at the perimeter.
    pub unit_heating_w: Lanes,
    /// Heat to the air that holds each room between its set points in the mean weather of the first days, W.
    pub start_w: Lanes,
}

/// The unit or units that serve a zone.
#[derive(Debug, Clone)]
pub struct Terminal {
    /// Zone.
    pub zone: String,
    /// Rooms by lane, the one with the thermostat first, and their shares of the discharge.
    pub rooms: Vec<(u32, f64)>,
    /// Operating points; none for units of server rooms.
    pub table: Option<ZoneTable>,
}

/// What is known of each room beside its lanes.
#[derive(Debug, Clone)]
pub struct RoomFacts {
    /// Id.
    pub room: String,
    /// Zone.
    pub zone: String,
    /// How it is served.
    pub service: Service,
    /// Its model.
    pub model: Arc<RoomModel>,
    /// Places of its sun channels among [`SunHour`].
    pub sun: Vec<u32>,
    /// Lane of the room with the thermostat of its zone.
    pub leader: u32,
    /// Share of its zone's discharge.
    pub share: f64,
    /// Radiant and convective heat at full use, W, by [`UseShare`].
    pub radiant_w: [f64; 4],
    /// Convective.
    pub convective_w: [f64; 4],
    /// Profile by name.
    pub profile: String,
}

/// Sun on every orientation in one hour: opaque and glass by turns, then a zero.
pub type SunHour = [f64];

/// Settings of the project that the loop reads.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Hours of start-up.
    pub start_up_h: usize,
    /// Humidity ratio above which rooms are dried at night; infinite for none.
    pub night_w: f64,
    /// Whether coils stay shut at start-up until the room is dry.
    pub release: CoilRelease,
    /// Humidity ratio that the code allows.
    pub code_w: f64,
    /// Comfort limits of relative humidity.
    pub rh: [f64; 2],
    /// Design humidity ratio of the supply: the start of all rooms.
    pub supply_w: f64,
    /// Pressure, Pa.
    pub p_pa: f64,
    /// Whether terminals heat with electricity.
    pub electric: bool,
    /// Water at design, degC.
    pub water_c: f64,
    /// What the project requires between water and dew point, K.
    pub required_margin_k: f64,
    /// Error of all dew-point sensors, K: rooms are by so much more humid than the control believes.
    pub sensor_error_k: f64,
}

/// Everything that the year's loop runs on.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Step, s.
    pub step_s: f64,
    /// Calendar.
    pub calendar: Calendar,
    /// By day.
    pub day_types: Vec<DayType>,
    /// Outdoor air.
    pub weather: Arc<StepWeather>,
    /// Sky.
    pub skies: Arc<Skies>,
    /// Orientations.
    pub facings: Vec<FacingPlane>,
    /// Blocks.
    pub models: Vec<BlockModel<LANES>>,
    /// Blocks.
    pub blocks: Vec<BlockFacts>,
    /// Their hours once more, `[day type][hour][block]`, as the loops over blocks read them.
    by_hour: Vec<HourLanes>,
    /// Rooms.
    pub rooms: Vec<RoomFacts>,
    /// Units that serve zones or server rooms.
    pub terminals: Vec<Terminal>,
    /// Settings.
    pub settings: Settings,
    /// `[day type][hour]`: whether any room on the system is served.
    pub open: [[bool; 24]; 4],
    /// Rooms with their own model.
    pub distinct_models: usize,
    /// Largest bound, K.
    pub bound_k: f64,
    /// Operating points of the units that serve one room each, zone after zone; nothing runs in the first.
    pub(crate) operating: Vec<Row>,
    /// Places of all other units among the terminals.
    pub(crate) gathered: Vec<u32>,
    pub(crate) arch: pulp::Arch,
}

/// First and last hour with people.
fn served_hours(profile: &UseProfile, day: DayType) -> [bool; 24] {
    let occupied = profile.occupied_hours(day);
    let first = occupied.iter().position(|o| *o);
    let last = occupied.iter().rposition(|o| *o);
    std::array::from_fn(|h| first.is_some_and(|f| h >= f) && last.is_some_and(|l| h <= l))
}

impl Prepared {
    /// Prepares a project with its design.
    ///
    /// # Errors
    /// [`PrepareError`].
    pub fn new(
        project: &Project,
        design: &Design,
        weather: &WeatherYear,
        step_s: f64,
        cache: &mut ReductionCache,
        pool: &rayon::ThreadPool,
    ) -> Result<Self, PrepareError> {
        let per_hour = 3600.0 / step_s;
        if !(30.0..=3600.0).contains(&step_s) || (per_hour - per_hour.round()).abs() > 1e-9 {
            return Err(PrepareError::Step { step_s });
        }
        let reflectance = project.site.ground_reflectance.value.to_ratio();
        let steps_per_hour = per_hour.round() as usize;
        let (step_weather, skies) =
            cache.weather(weather, design.site.pressure_pa, steps_per_hour, reflectance, pool)?;
        let models = room_models(project, design, &step_weather, step_s, cache, pool)?;
        let distinct: std::collections::BTreeSet<*const RoomModel> = models.iter().map(Arc::as_ptr).collect();
        let (distinct_models, bound_k) =
            (distinct.len(), models.iter().map(|m| m.reduced.bound_k).fold(0.0, f64::max));

        let mut facings: Vec<Facing> = Vec::new();
        let mut known: BTreeMap<[u64; 3], u32> = BTreeMap::new();
        let mut place = |f: &Facing| {
            *known.entry(f.key()).or_insert_with(|| {
                facings.push(*f);
                facings.len() as u32 - 1
            })
        };
        let index: BTreeMap<&str, usize> =
            project.rooms.iter().enumerate().map(|(i, r)| (r.id.as_str(), i)).collect();
        let mut rooms: Vec<RoomFacts> = project
            .rooms
            .iter()
            .zip(&models)
            .enumerate()
            .map(|(i, (room, model))| {
                let (radiant_w, convective_w) = gains(room);
                RoomFacts {
                    room: room.id.clone(),
                    zone: room.zone.value.clone(),
                    service: design.needs[i].service,
                    sun: model
                        .sun
                        .iter()
                        .map(|c| match c {
                            SunChannel::Opaque(f) => 2 * place(f),
                            SunChannel::Glass(f) => 2 * place(f) + 1,
                        })
                        .collect(),
                    model: model.clone(),
                    leader: i as u32,
                    share: 1.0,
                    radiant_w,
                    convective_w,
                    profile: room.profile.value.clone(),
                }
            })
            .collect();
        let dark = 2 * facings.len() as u32;
        let terminals = terminals(project, design, &index, &mut rooms, cache)?;
        let settings = Settings {
            start_up_h: project.criteria.start_up.value.to_hours().round() as usize,
            night_w: project.year.night_dew_point_limit.as_ref().map_or(f64::INFINITY, |t| {
                raw::humidity_ratio_at_dew_point(t.value.to_celsius(), design.site.pressure_pa)
            }),
            release: project.year.coil_release.value,
            code_w: raw::humidity_ratio_at_dew_point(
                project.criteria.code_dew_point.value.to_celsius(),
                design.site.pressure_pa,
            ),
            rh: [
                project.criteria.humidity_low.value.to_ratio(),
                project.criteria.humidity_high.value.to_ratio(),
            ],
            supply_w: design.dew_point.supply_humidity_ratio_kg_per_kg,
            p_pa: design.site.pressure_pa,
            electric: project.terminals.heating.value == HeatingKind::Electric,
            water_c: design.dew_point.sensible_water_c,
            required_margin_k: project.criteria.required_margin().to_kelvin(),
            sensor_error_k: 0.0,
        };
        let mut given = vec![0.0; rooms.len()];
        for n in &design.needs {
            if let Some(from) = n.transfer_from.as_deref().and_then(|id| index.get(id)) {
                given[*from] += n.transfer_in_m3_per_s;
            }
        }
        let mut block_models = Vec::new();
        let mut blocks = Vec::new();
        for (b, chunk) in rooms.chunks(LANES).enumerate() {
            let list: Vec<BlockRoom<'_>> = chunk
                .iter()
                .map(|r| BlockRoom { room: &r.model.reduced, constant: r.model.constant.map(|c| (c, 1.0)) })
                .collect();
            let model = BlockModel::new(&list)
                .map_err(|e| PrepareError::Room { room: chunk[0].room.clone(), reason: e.to_string() })?;
            let facts = block_facts(
                project,
                design,
                &rooms,
                &terminals,
                &settings,
                &given,
                b,
                &model,
                dark,
                step_s,
                step_weather.warm_up_c,
            )?;
            block_models.push(model);
            blocks.push(facts);
        }
        let mut open = [[false; 24]; 4];
        for (room, facts) in project.rooms.iter().zip(&rooms) {
            if matches!(facts.service, Service::Terminal | Service::PrimaryOnly) {
                let profile = project.profile_of(room);
                for (d, day) in DayType::ALL.into_iter().enumerate() {
                    open[d].iter_mut().zip(served_hours(profile, day)).for_each(|(o, s)| *o |= s);
                }
            }
        }
        let mut operating = vec![Row::default(); ROWS];
        let mut gathered = Vec::new();
        for (i, t) in terminals.iter().enumerate() {
            match (&t.table, t.rooms.as_slice()) {
                (Some(table), [(room, _)]) => {
                    let (b, l) = (*room as usize / LANES, *room as usize % LANES);
                    blocks[b].alone[l] = 1.0;
                    blocks[b].table_at[l] = operating.len() as u32;
                    let (to, of) = (&mut blocks[b].spacing, table.spacing);
                    (to.corner[l], to.by_valve[l], to.by_fan[l]) = (of.corner, of.by_valve, of.by_fan);
                    blocks[b].unit_heating_w[l] = table.heating_w;
                    operating.extend_from_slice(&table.rows);
                }
                _ => gathered.push(i as u32),
            }
        }
        let by_hour = (0..96).flat_map(|h| blocks.iter().map(move |f| f.hours[h])).collect();
        Ok(Self {
            step_s,
            by_hour,
            calendar: weather.calendar(),
            day_types: day_types(project, weather),
            weather: step_weather,
            skies,
            facings: facings.iter().map(FacingPlane::new).collect(),
            models: block_models,
            blocks,
            rooms,
            terminals,
            settings,
            open,
            distinct_models,
            bound_k,
            operating,
            gathered,
            arch: Kernel::default().arch(),
        })
    }

    /// Use of the rooms of a block in an hour; hours run on into the first day again.
    #[inline(always)]
    #[allow(clippy::inline_always)] // Part of the loops over rooms.
    pub(crate) fn in_use(&self, block: usize, hour: usize) -> &HourLanes {
        &self.by_hour[(self.day_type(hour) as usize * 24 + hour % 24) * self.blocks.len() + block]
    }

    /// Which instructions the loops over rooms use; the same bits come from all.
    pub fn set_kernel(&mut self, kernel: Kernel) {
        self.arch = kernel.arch();
    }

    /// Units that serve several rooms, and those of server rooms.
    pub(crate) fn gathered(&self) -> impl Iterator<Item = &Terminal> {
        self.gathered.iter().map(|i| &self.terminals[*i as usize])
    }

    /// Hours of the year.
    pub fn hours(&self) -> usize {
        self.calendar.hours()
    }

    /// Kind of the day of an hour; hours run on into the first day again.
    #[inline]
    pub fn day_type(&self, hour: usize) -> DayType {
        self.day_types[hour / 24 % self.day_types.len()]
    }

    /// Values of a room's channels at the end of a step, heat to the air by gains alone.
    pub fn channels(&self, room: usize, step: usize) -> Vec<f64> {
        let hour = step / self.weather.steps_per_hour;
        let facts = &self.rooms[room];
        let now = &self.blocks[room / LANES].hours[self.day_type(hour) as usize * 24 + hour % 24];
        let sum = |full: &[f64; 4]| (0..4).map(|k| full[k] * now.shares[k][room % LANES]).sum::<f64>();
        let mut u = vec![0.0; facts.model.reduced.channels.len()];
        u[0] = self.weather.end_c[step];
        u[1] = sum(&facts.radiant_w);
        for (k, place) in facts.sun.iter().enumerate() {
            let sun = self.skies.on(&self.facings[*place as usize / 2], hour);
            u[2 + k] = if place % 2 == 0 { sun.opaque } else { sun.glass };
        }
        if let Some(c) = facts.model.constant {
            u[c] = 1.0;
        }
        let last = u.len() - 1;
        u[last] = sum(&facts.convective_w);
        u
    }

    /// What the building does in an hour.
    pub fn mode(&self, hour: usize) -> BuildingMode {
        let open = |h: usize| self.open[self.day_type(h) as usize][h % 24];
        if open(hour) {
            BuildingMode::Occupied
        } else if (1..=self.settings.start_up_h).any(|ahead| open(hour + ahead)) {
            BuildingMode::StartUp
        } else {
            BuildingMode::Night
        }
    }
}

/// Radiant and convective heat of a room at full use, W, by [`UseShare`].
fn gains(room: &Room) -> ([f64; 4], [f64; 4]) {
    let area = room.floor_area.value;
    let full = [
        (Source::People, (room.sensible_per_person.value * room.people.value).si()),
        (Source::Lights, (room.lighting.value * area).si()),
        (Source::Plugs, (room.plugs.value * area).si()),
        (Source::Process, room.process_sensible.value.si()),
    ];
    let share = |s: Source| RadiantShare::default_for(s).map_or(0.0, |r| r.radiant.si());
    (full.map(|(s, w)| w * share(s)), full.map(|(s, w)| w * (1.0 - share(s))))
}

/// Largest cooling, in a room that comes from its night set-back, and largest heating of the terminal of each room, W; rooms
/// of a zone by their share of its discharge.
fn units_of_rooms(project: &Project, design: &Design) -> Vec<[f64; 2]> {
    let index: BTreeMap<&str, usize> =
        project.rooms.iter().enumerate().map(|(i, r)| (r.id.as_str(), i)).collect();
    let mut out = vec![[0.0; 2]; project.rooms.len()];
    for t in &design.terminals {
        let rooms: Vec<usize> = t.rooms.iter().filter_map(|r| index.get(r.as_str()).copied()).collect();
        let of_zone: f64 = rooms.iter().map(|i| design.needs[*i].zone_share).sum();
        for i in rooms {
            let set_c = design.loads.rooms[i].set_point_c;
            let part = if of_zone > 0.0 { design.needs[i].zone_share / of_zone } else { 1.0 };
            let share = f64::from(t.units) * part;
            let above = set_c - t.water_entering_c;
            let warmer = project.criteria.night_cooling.value.to_celsius().max(set_c) - set_c;
            let set_back = if above > 0.1 { 1.0 + warmer / above } else { 1.0 };
            out[i] = [share * t.coil_capacity_full_fan_w * set_back, share * t.heating_capacity_w];
        }
    }
    out
}

/// The next quarter of an octave: a range that covers the value, and is the same for rooms and variants of a project
/// that are nearly alike, so that they share a reduced model.
fn rounded_up(x: f64) -> f64 {
    const QUARTERS: [f64; 4] = [1.0, 1.189_207_115_002_721, std::f64::consts::SQRT_2, 1.681_792_830_507_429];
    if x <= 0.0 {
        return 0.0;
    }
    let octave = f64::from_bits(x.to_bits() & !((1 << 52) - 1));
    QUARTERS.iter().map(|q| octave * q).find(|y| *y >= x).unwrap_or(2.0 * octave)
}

fn ranges(
    project: &Project,
    design: &Design,
    weather: &StepWeather,
    step_s: f64,
    units: &[[f64; 2]],
    i: usize,
) -> Ranges {
    let room = &project.rooms[i];
    let l = &design.loads.rooms[i];
    let (radiant, convective) = gains(room);
    // Cooling and heating by the units of either scheme with their spare, in a room that comes from its night set-back; what
    // flows in over the outdoor range. A test holds the simulated heat within it.
    let facade: f64 = project
        .surfaces_of(room)
        .filter(|s| matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Roof | SurfaceKind::Window))
        .map(|s| s.area.value.to_square_metres())
        .sum();
    let n = &design.needs[i];
    let c_air = 1010.0 * RHO;
    let leak = c_air * project.criteria.infiltration.value.to_m_per_s() * facade;
    let own = if n.service == Service::OffSystem {
        c_air * n.breathing_zone_m3_per_s.max(n.per_person_m3_per_s)
    } else {
        0.0
    };
    let [coil, heater] = units[i];
    let air = (1.95 * l.cooling.load_w).max(coil).max(0.0)
        + (2.0 * l.heating.load_w).max(heater).max(0.0)
        + convective.iter().sum::<f64>()
        + leak * (weather.half_range_k + 10.0)
        + own * (2.4 * weather.half_range_k + 20.0)
        + c_air * (15.0 * n.primary_m3_per_s + 10.0 * n.transfer_in_m3_per_s)
        + 300.0;
    Ranges {
        step_s,
        bound_k: if step_s <= SHORT_STEP_S { SHORT_BOUND_K } else { BOUND_K },
        outdoor_half_k: weather.half_range_k,
        outdoor_change_k: weather.change_per_step_k,
        sun_half: 0.5 * weather.highest_irradiance_w_per_m2,
        radiant_half_w: rounded_up(0.5 * radiant.iter().sum::<f64>()),
        air_half_w: rounded_up(0.5 * air),
        ground_c: project
            .site
            .ground_temperature
            .as_ref()
            .map_or(weather.mean_dry_bulb_c, |g| g.value.to_celsius()),
        inner_c: 0.5 * (l.set_point_c + l.heating_set_point_c),
        neighbours: if design.needs[i].service == Service::Transfer {
            Neighbours::AtSetPoint
        } else {
            Neighbours::Alike
        },
    }
}

/// The full network of a room with the channels that its reduced model has: for checks.
///
/// # Errors
/// As [`Prepared::new`].
pub fn full_network(
    project: &Project,
    design: &Design,
    weather: &StepWeather,
    step_s: f64,
    room: usize,
    pool: &rayon::ThreadPool,
) -> Result<FullRoom, PrepareError> {
    let models = ConstructionModels::new(project, pool)
        .map_err(|(name, e)| PrepareError::Construction { name, reason: e.to_string() })?;
    let ranges = ranges(project, design, weather, step_s, &units_of_rooms(project, design), room);
    full_room(project, &models, &project.rooms[room], &ranges)
        .map_err(|e| PrepareError::Room { room: project.rooms[room].id.clone(), reason: e.to_string() })
}

/// Rooms reduced for a step of 1 s to 1 h, in room order: for simulations of minutes. Their channels mean what those of
/// [`Prepared`] mean; the outdoor air runs straight from hour to hour.
///
/// # Errors
/// As [`Prepared::new`].
pub fn short_step_models(
    project: &Project,
    design: &Design,
    weather: &StepWeather,
    step_s: f64,
    cache: &mut ReductionCache,
    pool: &rayon::ThreadPool,
) -> Result<Vec<Arc<RoomModel>>, PrepareError> {
    let own_step_s = 3600.0 / weather.steps_per_hour as f64;
    let change_per_step_k = weather.change_per_step_k * (step_s / own_step_s).min(1.0);
    room_models(project, design, &StepWeather { change_per_step_k, ..weather.clone() }, step_s, cache, pool)
}

fn room_models(
    project: &Project,
    design: &Design,
    weather: &StepWeather,
    step_s: f64,
    cache: &mut ReductionCache,
    pool: &rayon::ThreadPool,
) -> Result<Vec<Arc<RoomModel>>, PrepareError> {
    // Constructions by content: equal layers have equal numbers whatever they are called.
    let mut content_words: BTreeMap<Vec<u64>, u64> = BTreeMap::new();
    let mut contents: BTreeMap<&str, u64> = BTreeMap::new();
    for c in &project.constructions {
        let mut key = vec![c.solar_absorptance.value.si().to_bits()];
        words(&format!("{:?}", c.layers), &mut key);
        let hash = key.iter().fold(0xcbf2_9ce4_8422_2325_u64, |h, x| {
            (h ^ x).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(23)
        });
        content_words.insert(key, hash);
        contents.insert(&c.name, hash);
    }
    let units = units_of_rooms(project, design);
    let all: Vec<(Ranges, Vec<u64>)> = (0..project.rooms.len())
        .map(|i| {
            let r = ranges(project, design, weather, step_s, &units, i);
            let key = key_of(project, &contents, &project.rooms[i], &r);
            (r, key)
        })
        .collect();
    let mut missing: BTreeMap<&[u64], usize> = BTreeMap::new();
    for (i, (_, key)) in all.iter().enumerate() {
        if !cache.models.contains_key(key) {
            missing.entry(key).or_insert(i);
        }
    }
    if !missing.is_empty() {
        let models = ConstructionModels::new(project, pool)
            .map_err(|(name, e)| PrepareError::Construction { name, reason: e.to_string() })?;
        let list: Vec<usize> = missing.values().copied().collect();
        let made: Vec<Result<RoomModel, PrepareError>> = pool.install(|| {
            list.par_iter()
                .map(|i| {
                    room_model(project, &models, &project.rooms[*i], &all[*i].0).map_err(|e| {
                        PrepareError::Room { room: project.rooms[*i].id.clone(), reason: e.to_string() }
                    })
                })
                .collect()
        });
        for (i, made) in list.into_iter().zip(made) {
            cache.models.insert(all[i].1.clone(), Arc::new(made?));
        }
    }
    Ok(all.iter().map(|(_, key)| cache.models[key].clone()).collect())
}

/// Terminals and units of server rooms; leaders and shares are written into the rooms.
fn terminals(
    project: &Project,
    design: &Design,
    index: &BTreeMap<&str, usize>,
    rooms: &mut [RoomFacts],
    cache: &mut ReductionCache,
) -> Result<Vec<Terminal>, PrepareError> {
    let fail = |zone: &str, reason: String| PrepareError::Terminal { zone: zone.to_owned(), reason };
    let mut tables: BTreeMap<&str, ModelTable> = BTreeMap::new();
    let mut out = Vec::new();
    let winter_c = design
        .primary_unit
        .cases
        .iter()
        .find(|c| c.case == "heating")
        .and_then(|c| c.points.iter().find(|p| p.point == "delivered"))
        .map_or(project.primary_air.winter_temperature.value.to_celsius(), |p| p.dry_bulb_c);
    let mut designs: Vec<_> = design.terminals.iter().collect();
    designs.sort_by_key(|t| t.rooms.first().and_then(|r| index.get(r.as_str())).copied());
    for t in designs {
        let members: Vec<usize> = t.rooms.iter().filter_map(|r| index.get(r.as_str()).copied()).collect();
        let Some(lead) = members.first().copied() else {
            return Err(fail(&t.zone, "no room of the project".to_owned()));
        };
        let load = &design.loads.rooms[lead];
        let water_c = design.dew_point.sensible_water_c;
        if !tables.contains_key(t.model.as_str()) {
            let model = project
                .catalogue
                .models
                .iter()
                .find(|m| m.model == t.model)
                .ok_or_else(|| fail(&t.zone, format!("the catalogue has no {}", t.model)))?;
            let unit = cache.unit(project, model).map_err(|e| fail(&t.zone, e))?;
            let at = TablePoint {
                air_c: load.set_point_c,
                w: t.steps.room_humidity_ratio_kg_per_kg,
                water_c,
                p_pa: design.site.pressure_pa,
            };
            tables.insert(&t.model, ModelTable::new(&unit, at).map_err(|e| fail(&t.zone, e))?);
        }
        let perimeter = project.terminals.heating.value == HeatingKind::Perimeter;
        let ask = ZoneAsk {
            units: f64::from(t.units),
            primary_m3_per_s: t.primary_m3_per_s,
            primary_c: design.primary_unit.delivered_dry_bulb_c,
            winter_primary_c: winter_c,
            cooling_set_c: load.set_point_c,
            heating_set_c: load.heating_set_point_c,
            water_c,
            heating_w: if perimeter { 0.0 } else { t.heating_capacity_w },
        };
        let table = ZoneTable::new(&tables[t.model.as_str()], &ask).map_err(|e| fail(&t.zone, e))?;
        // Shares of the discharge among the rooms of this terminal.
        let total: f64 = members.iter().map(|i| design.needs[*i].zone_share).sum();
        let shares: Vec<(u32, f64)> = members
            .iter()
            .map(|i| (*i as u32, if total > 0.0 { design.needs[*i].zone_share / total } else { 0.0 }))
            .collect();
        for (i, share) in &shares {
            rooms[*i as usize].leader = lead as u32;
            rooms[*i as usize].share = *share;
        }
        out.push(Terminal { zone: t.zone.clone(), rooms: shares, table: Some(table) });
    }
    for (i, r) in rooms.iter().enumerate() {
        if r.service == Service::SensibleUnits {
            out.push(Terminal { zone: r.zone.clone(), rooms: vec![(i as u32, 1.0)], table: None });
        }
    }
    Ok(out)
}

#[allow(clippy::too_many_arguments, clippy::too_many_lines)]
fn block_facts(
    project: &Project,
    design: &Design,
    rooms: &[RoomFacts],
    terminals: &[Terminal],
    settings: &Settings,
    given: &[f64],
    block: usize,
    model: &BlockModel<LANES>,
    dark: u32,
    step_s: f64,
    warm_up_c: f64,
) -> Result<BlockFacts, PrepareError> {
    let first = block * LANES;
    let count = LANES.min(rooms.len() - first);
    let mut f = BlockFacts {
        rooms: count,
        there: std::array::from_fn(|l| f64::from(u8::from(l < count))),
        hours: vec![HourLanes::default(); 96],
        sun: vec![[dark; LANES]; model.held().saturating_sub(2)],
        radiant_w: [ZERO; 4],
        convective_w: [ZERO; 4],
        people_kg_per_s: ZERO,
        process_kg_per_s: ZERO,
        open_leak_kg_per_s: ZERO,
        held_leak_kg_per_s: ZERO,
        own_outdoor_kg_per_s: ZERO,
        heating_c: [-273.0; LANES],
        cooling_c: [1000.0; LANES],
        night_heating_c: [-273.0; LANES],
        night_cooling_c: [1000.0; LANES],
        relaxation_k: ZERO,
        standby: ZERO,
        step_per_kg: [1.0; LANES],
        effective_kg: [step_s; LANES],
        limit_w: [1.0; LANES],
        ready_w: [1.0; LANES],
        transfer_kg_per_s: ZERO,
        transfer_from: std::array::from_fn(|l| (first + l.min(count - 1)) as u32),
        has_transfer: false,
        drawn_kg_per_s: ZERO,
        primary_kg_per_s: ZERO,
        follows: ZERO,
        need_fixed: ZERO,
        need_area: ZERO,
        need_people: ZERO,
        need_per_person: ZERO,
        coil_w_per_k: ZERO,
        on_water: ZERO,
        own_coil_c: ZERO,
        has_own_units: false,
        terminal: ZERO,
        on_system: ZERO,
        server: ZERO,
        returns: ZERO,
        off_system: ZERO,
        has_off_system: false,
        heating_w: ZERO,
        plenum_k: ZERO,
        plenum_w: ZERO,
        plenum_leak: ZERO,
        has_followers: false,
        follower: ZERO,
        alone: ZERO,
        spacing: Spacing { corner: ZERO, by_valve: ZERO, by_fan: ZERO },
        table_at: [0; LANES],
        unit_heating_w: ZERO,
        start_w: ZERO,
    };
    let cp = raw::humid_specific_heat_j_per_kg_k(0.008);
    let spare = 1.0 + project.terminals.spare.value.to_ratio();
    let perimeter = project.terminals.heating.value == HeatingKind::Perimeter;
    for l in 0..count {
        let i = first + l;
        let (room, r) = (&project.rooms[i], &rooms[i]);
        let (n, loads) = (&design.needs[i], &design.loads.rooms[i]);
        let profile = project.profile_of(room);
        let steady = &r.model.reduced.steady;
        let idle = steady[0] * warm_up_c + r.model.constant.map_or(0.0, |c| steady[c]);
        let middle = 0.5 * (loads.set_point_c + loads.heating_set_point_c);
        let per_w = steady[steady.len() - 1];
        f.start_w[l] = if n.service == Service::Transfer {
            // Nothing holds this room: air from its source in the hours of use, and what leaks in, decide.
            let from = TRANSFER_SHARE * 1010.0 * RHO * n.transfer_in_m3_per_s;
            let leak = 1010.0 * RHO * r.model.infiltration_m3_per_s(project);
            (from * (middle - idle) + leak * (warm_up_c - idle)) / (1.0 + per_w * (from + leak))
        } else {
            (middle - idle) / per_w
        };
        for (d, day) in DayType::ALL.into_iter().enumerate() {
            let (occupied, served) = (profile.occupied_hours(day), served_hours(profile, day));
            for h in 0..24 {
                let at = &mut f.hours[d * 24 + h];
                for (k, share) in UseShare::ALL.into_iter().enumerate() {
                    at.shares[k][l] = profile.share(share, day, h);
                }
                at.occupied[l] = f64::from(u8::from(occupied[h]));
                at.served[l] = f64::from(u8::from(served[h]));
            }
        }
        for (c, place) in r.sun.iter().enumerate() {
            f.sun[c][l] = *place;
        }
        for k in 0..4 {
            f.radiant_w[k][l] = r.radiant_w[k];
            f.convective_w[k][l] = r.convective_w[k];
        }
        let vapour = raw_vapour_enthalpy_j_per_kg(loads.set_point_c);
        f.people_kg_per_s[l] = room.latent_per_person.value.to_watts() * room.people.value / vapour;
        f.process_kg_per_s[l] = room.process_latent.value.to_watts() / vapour;
        f.open_leak_kg_per_s[l] = r.model.infiltration_m3_per_s(project) * RHO;
        f.held_leak_kg_per_s[l] = r.model.pressurized_infiltration_m3_per_s(project) * RHO;
        f.heating_c[l] = loads.heating_set_point_c;
        f.cooling_c[l] = loads.set_point_c;
        f.night_heating_c[l] =
            project.criteria.night_heating.value.to_celsius().min(loads.heating_set_point_c);
        f.night_cooling_c[l] = project.criteria.night_cooling.value.to_celsius().max(loads.set_point_c);
        let sensed = room.primary_air_control.value == PrimaryAirControl::Occupancy;
        let standby =
            room.standby_allowed.value && sensed && project.year.standby.value == StandbyChoice::WhereAllowed;
        f.standby[l] = f64::from(u8::from(standby));
        f.relaxation_k[l] = if standby { project.year.standby_relaxation.value.to_kelvin() } else { 0.0 };
        let air_kg = room.volume().to_cubic_metres() * RHO;
        let store =
            MoistureStore::new(Mass::from_si(air_kg), Buffering::Multiplier(room.moisture_capacity.value))
                .map_err(|e| PrepareError::Room { room: room.id.clone(), reason: e.to_string() })?;
        f.effective_kg[l] = store.effective_kg();
        f.step_per_kg[l] = step_s / store.effective_kg();
        f.limit_w[l] = raw::humidity_ratio_at_dew_point(n.dew_point_limit_c, settings.p_pa);
        f.ready_w[l] =
            raw::humidity_ratio_at_dew_point(n.dew_point_limit_c - settings.required_margin_k, settings.p_pa);
        f.transfer_kg_per_s[l] = n.transfer_in_m3_per_s * RHO;
        if let Some(from) = n.transfer_from.as_deref().and_then(|id| project.room_index(id)) {
            f.transfer_from[l] = from as u32;
        }
        f.has_transfer |= f.transfer_kg_per_s[l] > 0.0;
        let given = given[i];
        let pressurization = project.criteria.pressurization.value.to_m_per_s() * r.model.facade_m2;
        f.drawn_kg_per_s[l] = (room.exhaust.value.to_m3_per_s() + pressurization + given) * RHO;
        let on_system = matches!(n.service, Service::Terminal | Service::PrimaryOnly);
        f.on_system[l] = f64::from(u8::from(on_system));
        let heating = loads.heating.load_w.max(0.0) * spare;
        if on_system {
            f.primary_kg_per_s[l] = n.primary_m3_per_s * RHO;
            f.follows[l] = f64::from(u8::from(room.primary_air_control.value != PrimaryAirControl::Constant));
            let rule = project.kind_of(room).ventilation.as_ref();
            let worst = n.effectiveness[0].min(n.effectiveness[1]);
            let people = rule.map_or(0.0, |v| v.per_person.to_m3_per_s()) * room.people.value;
            f.need_people[l] = people / worst * RHO;
            f.need_area[l] = (n.breathing_zone_m3_per_s - people).max(0.0) / worst * RHO;
            f.need_per_person[l] = n.per_person_m3_per_s * RHO;
            f.need_fixed[l] = n
                .exhaust_m3_per_s
                .max(n.pressurization_m3_per_s)
                .max(n.air_changes_m3_per_s)
                .max(n.zone_minimum_m3_per_s * n.zone_share)
                * RHO;
        }
        match n.service {
            Service::Terminal => f.terminal[l] = 1.0,
            Service::PrimaryOnly => {
                let reheat = f.primary_kg_per_s[l]
                    * cp
                    * (loads.set_point_c - design.primary_unit.delivered_dry_bulb_c).max(0.0);
                f.heating_w[l] = heating + reheat;
            }
            Service::SensibleUnits => {
                let above = loads.set_point_c - settings.water_c;
                if above <= 0.5 {
                    return Err(PrepareError::Room {
                        room: room.id.clone(),
                        reason: format!("water of {} degC does not cool it", settings.water_c),
                    });
                }
                f.has_own_units = true;
                f.coil_w_per_k[l] = loads.cooling.load_w.max(0.0) * spare / above;
                f.on_water[l] = 1.0;
                f.heating_w[l] = heating;
            }
            Service::OffSystem => {
                let outdoor = n.breathing_zone_m3_per_s.max(n.per_person_m3_per_s) * RHO;
                f.own_outdoor_kg_per_s[l] = outdoor;
                f.coil_w_per_k[l] =
                    (loads.cooling.load_w.max(0.0) * spare + outdoor * cp * OWN_UNIT_K) / OWN_UNIT_K;
                f.own_coil_c[l] = loads.set_point_c - OWN_UNIT_K;
                f.off_system[l] = 1.0;
                f.has_off_system = true;
                f.heating_w[l] = heating
                    + outdoor
                        * cp
                        * (loads.heating_set_point_c - design.conditions.heating.dry_bulb_c).max(0.0)
                        * spare;
            }
            Service::Transfer => {}
        }
        if perimeter && matches!(n.service, Service::Terminal | Service::Transfer) {
            let primary = f.primary_kg_per_s[l]
                * cp
                * (loads.heating_set_point_c - project.primary_air.winter_temperature.value.to_celsius())
                    .max(0.0);
            f.heating_w[l] = heating + primary;
        }
    }
    for t in terminals {
        let Some(table) = &t.table else { continue };
        for (place, share) in &t.rooms {
            let i = *place as usize;
            if i / LANES != block {
                continue;
            }
            let l = i % LANES;
            let leads = rooms[i].leader == *place;
            if leads {
                // The thermostat's room takes its part of what the units can do.
                f.coil_w_per_k[l] = table.conductance_w_per_k * share;
                if !perimeter {
                    f.heating_w[l] = table.heating_w * share;
                }
            } else {
                f.follower[l] = 1.0;
                f.has_followers = true;
            }
            f.on_water[l] = 1.0;
            if project.terminals.coil_air.value == CoilAir::Plenum {
                let air = (table.full_secondary_kg_per_s * share).max(1e-6);
                f.plenum_leak[l] = (PLENUM_INFILTRATION * f.held_leak_kg_per_s[l] / air).min(1.0);
                f.plenum_k[l] = project.terminals.plenum_share.value.to_ratio()
                    * (rooms[i].radiant_w[1] + rooms[i].convective_w[1])
                    / (air * cp);
            }
            f.has_followers |= t.rooms.len() > 1;
        }
    }
    for l in 0..count {
        let i = first + l;
        f.plenum_w[l] = project.terminals.plenum_share.value.to_ratio()
            * (rooms[i].radiant_w[1] + rooms[i].convective_w[1])
            * f.on_system[l];
        f.server[l] = f64::from(u8::from(rooms[i].service == Service::SensibleUnits));
        f.returns[l] = 1.0 - f.off_system[l];
    }
    Ok(f)
}
