//! The excursion step by step.
//!
//! In each step: what is upset; the control cycle (sensors, sequence, thermostats); primary air and water on their way;
//! per zone damper, valve, coil metal and what its surfaces take from the air; per block of rooms heat and moisture as
//! in the year; films, sensors, records.

use super::building::{Building, Physics, Zone};
use super::case::{Case, CaseError, Disturbance, PlantSensor, Upset};
use super::film::{Film, FilmSettings};
use super::lag::{Actuator, Lag, Reading, Sensor, SensorFault, Transport, kept};
use drycoil_air::raw::{self, CP_DRY_AIR_J_PER_KG_K as CP_AIR, CP_VAPOUR_J_PER_KG_K as CP_VAPOUR};
use drycoil_rooms::RoomError;
use drycoil_rooms::block::{Drive, Ideal, Response, control, moisture};
use drycoil_sequence::{BuildingInputs, BuildingSlot, Machine, StepError, ZoneInputs, ZoneSlot};
use drycoil_units::Time;
use drycoil_year::prepare::{LANES, Lanes};
use drycoil_year::signals::BuildingMode;
use std::fmt;

const ZERO: Lanes = [0.0; LANES];
/// Heat of condensation at a coil, J/kg.
const CONDENSATION_J_PER_KG: f64 = 2.47e6;
/// Humid specific heat of the air in a terminal, J/(kg K).
const CP: f64 = CP_AIR + CP_VAPOUR * 0.009;
/// Part of the air-side conductance that is left when the fan stands.
const STILL: f64 = 0.03;
/// Lag of the inlet part of a coil behind its water, s.
const INLET_LAG_S: f64 = 15.0;
/// Room air at or below this is not saturated at any room temperature, kg/kg.
const SURELY_DRY_W: f64 = 0.008;
/// A film below this counts as none, kg.
const DRY_KG: f64 = 1e-9;

/// Who controls the zones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Controls {
    /// The dew-point sequence.
    Sequence,
    /// Nobody looks at dew points: water at design, dampers as ventilation asks, coils as thermostats ask.
    ThermostatsAlone,
    /// The best that any control could do, for comparison: every dew point is known at once and without error, each zone
    /// has water of its own that is never colder than the dew point at its coil nor than at design, and primary dampers
    /// open fully above the limit while primary air is drier than the room, and close to their minimum while it is not.
    PerfectKnowledge,
}

/// Whether the controllers went on, or started anew, before a control cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CycleStart {
    /// They went on.
    Continued,
    /// They started anew, and remember nothing.
    Anew,
}

/// What went into the sequence in a control cycle.
#[derive(Debug)]
pub struct WatchedCycle<'a> {
    /// Whether the controllers went on.
    pub start: CycleStart,
    /// Time since the last cycle, s.
    pub duration_s: f64,
    /// Of the building.
    pub building: &'a BuildingInputs,
    /// Of the zones, in the order of the setup.
    pub zones: &'a [ZoneInputs],
    /// The sequence after the cycle.
    pub machine: &'a Machine,
}

/// Who looks at the cycles of the sequence.
pub type Watch<'a> = dyn FnMut(&WatchedCycle<'_>) + 'a;

/// Lasting errors of sensors, K.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SensorErrors {
    /// Standard deviation of the bias of room dew-point sensors; each zone's own bias belongs to `seed`.
    pub zone_k: f64,
    /// Bias that all room dew-point sensors share.
    pub all_zones_k: f64,
    /// Bias of the primary dew point and of the drying-coil sensor.
    pub primary_k: f64,
    /// Bias of the water sensor.
    pub water_k: f64,
}

/// How a case is run.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Who controls.
    pub controls: Controls,
    /// Assumed numbers.
    pub physics: Physics,
    /// Lasting errors.
    pub errors: SensorErrors,
    /// Factor on outdoor air, people and moisture of the upsets.
    pub severity: f64,
    /// Seed of noise and errors.
    pub seed: u64,
    /// Interval of the history, s; none without.
    pub history_s: Option<f64>,
    /// Stop, at a whole hour, once the cause has ended and everything has been at rest for this long, s; none runs to
    /// the end of the case. Balances of heat are those of whole cases only.
    pub stop_after_rest_s: Option<f64>,
}

impl Settings {
    /// A run of a building as prepared.
    pub fn of(building: &Building, controls: Controls) -> Self {
        Self {
            controls,
            physics: building.physics,
            errors: SensorErrors::default(),
            severity: 1.0,
            seed: 1,
            history_s: None,
            stop_after_rest_s: None,
        }
    }
}

/// Why a run stops.
#[derive(Debug, Clone, PartialEq)]
pub enum RunError {
    /// The case is refused.
    Case(CaseError),
    /// The sequence refuses a step.
    Sequence(StepError),
    /// A room is not finite.
    Room(RoomError),
}

impl fmt::Display for RunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Case(e) => write!(f, "{e}"),
            Self::Sequence(e) => write!(f, "{e}"),
            Self::Room(e) => write!(f, "{e}"),
        }
    }
}

impl std::error::Error for RunError {}

impl From<CaseError> for RunError {
    fn from(e: CaseError) -> Self {
        Self::Case(e)
    }
}

impl From<StepError> for RunError {
    fn from(e: StepError) -> Self {
        Self::Sequence(e)
    }
}

impl From<RoomError> for RunError {
    fn from(e: RoomError) -> Self {
        Self::Room(e)
    }
}

/// A stage and how long it lasted.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// Stage.
    pub stage: &'static str,
    /// Begin, s from the start of the case.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Why it was entered.
    pub reason: &'static str,
}

/// What one zone did.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneRun {
    /// First stage beyond normal, suspect or failed sensor, after the trigger, s from the trigger.
    pub noticed_s: Option<f64>,
    /// Stages.
    pub stages: Vec<Span>,
    /// Highest dew point of the coil air after the trigger while the building runs, degC, and when, s from the start of the case.
    pub peak_dew_point_c: f64,
    /// s.
    pub peak_s: f64,
    /// Smallest water less dew point of the coil air while water was in the coil or free to enter, K.
    pub smallest_margin_k: Option<f64>,
    /// Time in which that was below zero, s.
    pub below_s: f64,
    /// Films of inlet part and fins.
    pub films: [Film; 2],
    /// Largest load of a surface, kg/m2.
    pub most_kg_per_m2: f64,
    /// Cooling of the coil after the trigger, J.
    pub cooling_j: f64,
    /// Highest room temperature in hours of use after the trigger, degC.
    pub warmest_c: f64,
    /// Last time at which the zone was above limit and rise, wet, or not in a stage of rest, s from the start of the
    /// case.
    pub last_upset_s: Option<f64>,
}

/// A moment of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneMoment {
    /// Dew point of the coil air, degC.
    pub dew_point_c: f64,
    /// Dew point as the sensor reads it, degC.
    pub sensed_dew_point_c: f64,
    /// Air of the room with the thermostat, degC.
    pub room_c: f64,
    /// Water entering, degC.
    pub water_c: f64,
    /// Coldest surface, degC.
    pub surface_c: f64,
    /// Water on the coil, kg.
    pub film_kg: f64,
    /// Dripped so far, kg.
    pub dripped_kg: f64,
    /// Coil, W.
    pub coil_w: f64,
    /// Primary air, kg/s.
    pub primary_kg_per_s: f64,
    /// Valve, 0 to 1.
    pub valve: f64,
    /// Stage.
    pub stage: &'static str,
}

/// A moment of the building.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// s from the start of the case.
    pub time_s: f64,
    /// Outdoor dew point, degC.
    pub outdoor_dew_point_c: f64,
    /// Dew point of the primary air at the unit, degC.
    pub primary_dew_point_c: f64,
    /// Sensible water at the plant, degC.
    pub water_c: f64,
    /// Its set point, degC.
    pub water_set_point_c: f64,
    /// Stage of the building.
    pub stage: &'static str,
    /// Zones.
    pub zones: Vec<ZoneMoment>,
}

/// Heat and water of one room over the case.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RoomLedger {
    /// Water by primary air, leakage and doors, transfer and mixing, released; to the coil; growth held, kg.
    pub primary_kg: f64,
    /// kg.
    pub outdoor_kg: f64,
    /// kg.
    pub other_rooms_kg: f64,
    /// kg.
    pub released_kg: f64,
    /// kg.
    pub to_coil_kg: f64,
    /// kg.
    pub stored_kg: f64,
    /// Water that wet the surfaces of the saturated room, kg.
    pub on_surfaces_kg: f64,
    /// Water held at the end, kg: the scale of what is missing.
    pub held_kg: f64,
    /// Water missing, kg.
    pub water_residual_kg: f64,
    /// Heat to the air by the system, J; by gains and boundaries; growth of the heat stored.
    pub system_j: f64,
    /// J.
    pub gains_j: f64,
    /// J.
    pub boundaries_j: f64,
    /// J.
    pub stored_j: f64,
    /// Heat missing, J.
    pub heat_residual_j: f64,
    /// Highest humidity ratio, kg/kg.
    pub most_w: f64,
}

/// A case as it was run.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Day of the weather year, 0 for the first.
    pub day: usize,
    /// Trigger, s from the start of the case.
    pub trigger_s: f64,
    /// End of the cause, s from the start of the case.
    pub cause_ends_s: f64,
    /// Zones in the order of the building.
    pub zones: Vec<ZoneRun>,
    /// Stages of the building.
    pub building_stages: Vec<Span>,
    /// Rooms in order.
    pub rooms: Vec<RoomLedger>,
    /// Moments, when asked for.
    pub history: Vec<Moment>,
    /// Steps of the case.
    pub steps: usize,
}

/// Weather and gains of the rooms over the hours of a case: the same for every run of it.
#[derive(Debug, Clone)]
pub struct Path {
    first_hour: usize,
    per_hour: usize,
    /// `[step][block]`.
    free: Vec<Lanes>,
    outdoor: Vec<[f64; 2]>,
}

/// Use of a block in one hour.
#[derive(Debug, Clone, Copy)]
struct HourNow {
    served: Lanes,
    start: Lanes,
    standby: Lanes,
    people: Lanes,
    heating_c: Lanes,
    cooling_c: Lanes,
    vapour: Lanes,
    leak: Lanes,
    transfer: Lanes,
    lights: Lanes,
    radiant_w: Lanes,
    convective_w: Lanes,
}

fn hour_now(b: &Building, block: usize, hour: usize, mode: BuildingMode) -> HourNow {
    let p = &b.prepared;
    let f = &p.blocks[block];
    let now = &f.hours[p.day_type(hour) as usize * 24 + hour % 24];
    let mut soon = ZERO;
    for ahead in 1..=p.settings.start_up_h {
        let h = hour + ahead;
        let then = &f.hours[p.day_type(h) as usize * 24 + h % 24];
        for l in 0..LANES {
            soon[l] = then.served[l].max(soon[l]);
        }
    }
    let running = f64::from(u8::from(mode == BuildingMode::Occupied));
    let mut o = HourNow {
        served: now.served,
        start: ZERO,
        standby: ZERO,
        people: now.shares[0],
        heating_c: ZERO,
        cooling_c: ZERO,
        vapour: ZERO,
        leak: ZERO,
        transfer: ZERO,
        lights: now.shares[1],
        radiant_w: ZERO,
        convective_w: ZERO,
    };
    for l in 0..LANES {
        o.start[l] = (1.0 - now.served[l]) * soon[l];
        o.standby[l] = now.served[l] * (1.0 - now.occupied[l]) * f.standby[l];
        let on = now.served[l] + o.start[l];
        let relaxed = o.standby[l] * f.relaxation_k[l];
        o.heating_c[l] = f.night_heating_c[l] + on * (f.heating_c[l] - f.night_heating_c[l]) - relaxed;
        o.cooling_c[l] = f.night_cooling_c[l] + on * (f.cooling_c[l] - f.night_cooling_c[l]) + relaxed;
        o.vapour[l] = f.people_kg_per_s[l] * now.shares[0][l] + f.process_kg_per_s[l] * now.shares[3][l];
        o.leak[l] = f.open_leak_kg_per_s[l]
            + running * (f.held_leak_kg_per_s[l] - f.open_leak_kg_per_s[l])
            + now.served[l] * f.own_outdoor_kg_per_s[l];
        o.transfer[l] = running * f.transfer_kg_per_s[l];
        for k in 0..4 {
            o.radiant_w[l] += f.radiant_w[k][l] * now.shares[k][l];
            o.convective_w[l] += f.convective_w[k][l] * now.shares[k][l];
        }
    }
    o
}

/// Values of the held channels of a block in an hour.
fn held(b: &Building, block: usize, hour: usize, now: &HourNow) -> Vec<Lanes> {
    let p = &b.prepared;
    let f = &p.blocks[block];
    let mut out = vec![now.radiant_w];
    for places in &f.sun {
        out.push(places.map(|place| {
            let Some(facing) = p.facings.get(place as usize / 2) else { return 0.0 };
            let sun = p.skies.on(facing, hour % p.hours());
            if place % 2 == 0 { sun.opaque } else { sun.glass }
        }));
    }
    out.push(now.convective_w);
    out
}

fn outdoor_at(b: &Building, hour: usize, step: usize, per_hour: usize) -> [f64; 2] {
    let end = (hour * 3600) as f64 + (step + 1) as f64 * b.step_s;
    debug_assert!(step < per_hour);
    [
        Building::weather_at(&b.outdoor_c, end),
        // Humidity acts as a mean over the step.
        Building::weather_at(&b.outdoor_w, end - 0.5 * b.step_s),
    ]
}

/// Drives of all blocks, hour after hour.
#[derive(Debug, Clone)]
struct Drives(Vec<Drive<LANES>>);

impl Drives {
    fn hour(&mut self, b: &Building, hour: usize, path: &mut Path) -> Result<(), RoomError> {
        let mode = b.prepared.mode(hour);
        for (block, drive) in self.0.iter_mut().enumerate() {
            let now = hour_now(b, block, hour, mode);
            drive.hold(&b.models[block], &held(b, block, hour, &now))?;
        }
        for step in 0..path.per_hour {
            let outdoor = outdoor_at(b, hour, step, path.per_hour);
            path.outdoor.push(outdoor);
            for (model, drive) in b.models.iter().zip(&mut self.0) {
                path.free.push(drive.step(model, outdoor[0]));
            }
        }
        Ok(())
    }

    fn lags(&self, room: usize) -> Vec<f64> {
        self.0[room / LANES].lags(room % LANES)
    }
}

impl Path {
    fn empty(b: &Building, first_hour: usize) -> Self {
        let per_hour = (3600.0 / b.step_s).round() as usize;
        Self { first_hour, per_hour, free: Vec::new(), outdoor: Vec::new() }
    }
}

#[derive(Debug, Clone)]
struct ZoneState {
    damper: Actuator,
    valve: Actuator,
    thermostat: Lag,
    integral: f64,
    share: f64,
    metal_c: f64,
    inlet: Lag,
    films: [Film; 2],
    wet_switch: bool,
    latent_w: f64,
    /// Water that films could not give though the rooms were given it, kg.
    owed_kg: f64,
    dew: Sensor,
    room_t: Sensor,
    /// Dew point of room and coil air, degC.
    room_dew_c: f64,
    coil_dew_c: f64,
    /// Last state at which the dew point was worked out: humidity ratio, degC, K per kg/kg.
    dew_at: [f64; 3],
    demand: f64,
    enabled: bool,
    damper_command: f64,
    /// Of this step.
    water_c: f64,
    coil_w: f64,
    primary: f64,
    surface: [f64; 2],
    take: [[f64; 2]; 2],
    secondary: f64,
    fan_w: f64,
}

#[derive(Debug, Clone)]
struct Plant {
    fans: Lag,
    drying_lost: Lag,
    water: Lag,
    set_point_c: f64,
    primary_c: Transport,
    primary_w: Transport,
    water_way: Transport,
    sensors: [Sensor; 3],
}

#[derive(Debug, Clone, Copy)]
struct Slots {
    damper: ZoneSlot,
    enable: ZoneSlot,
    stage: ZoneSlot,
    set_point: BuildingSlot,
    building_stage: BuildingSlot,
}

/// State of a building in an excursion.
#[derive(Debug, Clone)]
pub struct State {
    response: Vec<Response<LANES>>,
    air_c: Vec<Lanes>,
    w: Vec<Lanes>,
    mean_w: Vec<Lanes>,
    heating_w: Vec<Lanes>,
    /// Heat to the air in the last step.
    heat_w: Vec<Lanes>,
    zones: Vec<ZoneState>,
    plant: Plant,
    machine: Machine,
    /// Hour from midnight of the first day at which the state stands.
    hour: usize,
    cycle: u64,
    powered: bool,
}

/// A building brought to the start of a case: its state, and weather and gains from there on.
#[derive(Debug, Clone)]
pub struct Ready {
    state: State,
    path: Path,
    day: usize,
    /// Lags of the drives at the start, for closing the heat of rooms.
    drives: Vec<Vec<f64>>,
    drives_end: Vec<Vec<f64>>,
    end_hour: usize,
}

struct Active {
    rooms: Vec<(usize, [f64; 3])>,
    people: Vec<(usize, f64)>,
    leakage: f64,
    drying_lost: f64,
    primary_off: bool,
    water_at: Option<f64>,
    water_off: bool,
    power_off: bool,
    valves: Vec<(usize, f64)>,
    dampers: Vec<(usize, f64)>,
    zone_faults: Vec<(usize, SensorFault, f64)>,
    plant_faults: [Option<(SensorFault, f64)>; 3],
    dew_rise_k: f64,
}

impl Active {
    fn none() -> Self {
        Self {
            rooms: Vec::new(),
            people: Vec::new(),
            leakage: 1.0,
            drying_lost: 0.0,
            primary_off: false,
            water_at: None,
            water_off: false,
            power_off: false,
            valves: Vec::new(),
            dampers: Vec::new(),
            zone_faults: Vec::new(),
            plant_faults: [None; 3],
            dew_rise_k: 0.0,
        }
    }

    /// What acts in the step that begins at `time_s`.
    fn at(upsets: &[Upset], time_s: f64, severity: f64) -> Self {
        let mut a = Self::none();
        for u in upsets {
            // Half a nanosecond for sums of steps.
            if time_s < u.from_s - 1e-9 || time_s >= u.to_s - 1e-9 {
                continue;
            }
            let since = time_s - u.from_s;
            match u.what {
                Disturbance::OutdoorAir { room, kg_per_s } => {
                    a.rooms.push((room, [kg_per_s * severity, 0.0, 0.0]));
                }
                Disturbance::Leakage { factor } => a.leakage *= 1.0 + (factor - 1.0) * severity,
                Disturbance::People { room, people } => a.people.push((room, people * severity)),
                Disturbance::Moisture { room, kg_per_s } => {
                    a.rooms.push((room, [0.0, kg_per_s * severity, 0.0]));
                }
                Disturbance::DryingLost { share } => a.drying_lost = share.max(a.drying_lost),
                Disturbance::PrimaryAirOff => a.primary_off = true,
                Disturbance::WaterAt { c } => a.water_at = Some(c),
                Disturbance::WaterOff => a.water_off = true,
                Disturbance::PowerOff => a.power_off = true,
                Disturbance::ValveStuck { zone, position } => a.valves.push((zone, position)),
                Disturbance::DamperStuck { zone, position } => a.dampers.push((zone, position)),
                Disturbance::ZoneSensor { zone, fault } => a.zone_faults.push((zone, fault, since)),
                Disturbance::PlantSensor { sensor, fault } => {
                    a.plant_faults[sensor as usize] = Some((fault, since));
                }
                Disturbance::OutdoorDewPoint { rise_k } => a.dew_rise_k += rise_k,
            }
        }
        a
    }
}

struct Kept {
    valve: f64,
    damper: f64,
    dew: f64,
    plant_sensor: f64,
    thermostat: f64,
    inlet: f64,
    water: f64,
    drying: f64,
    fans: f64,
}

struct Worker<'a> {
    b: &'a Building,
    s: &'a Settings,
    case: &'a Case,
    kept: Kept,
    slots: Slots,
    now: Vec<HourNow>,
    zone_inputs: Vec<ZoneInputs>,
    run: bool,
    films: Vec<[FilmSettings; 2]>,
    /// Lanes of the step.
    flows: Vec<BlockFlows>,
    cycle_steps: usize,
    fresh: &'a Machine,
    watch: Option<&'a mut Watch<'a>>,
    /// Limits of the zones of the sequence, degC.
    limits_c: Vec<f64>,
}

#[derive(Debug, Clone, Copy)]
struct BlockFlows {
    primary: Lanes,
    primary_c: Lanes,
    primary_w: Lanes,
    /// Heat to the air by coil and fan of units that serve one room, W.
    heat: Lanes,
    /// Exchange with surfaces of the coil: kg/s, and kg/s times humidity ratio.
    film: Lanes,
    film_w: Lanes,
    /// Air from the terminal of a zone of several rooms: kg/s, degC, humidity ratio.
    round: Lanes,
    round_c: Lanes,
    round_w: Lanes,
    /// Water given back by films, kg/s.
    given: Lanes,
    /// Outdoor air, kg/s, and its humidity ratio.
    outdoor: Lanes,
    outdoor_w: f64,
    /// Humidity ratio of transfer air.
    transfer_w: Lanes,
    /// Vapour beyond use, kg/s.
    extra_vapour: Lanes,
    /// Water that wets surfaces of saturated rooms in this step, kg.
    on_surfaces_kg: Lanes,
}

impl BlockFlows {
    const NONE: Self = Self {
        primary: ZERO,
        primary_c: ZERO,
        primary_w: ZERO,
        heat: ZERO,
        film: ZERO,
        film_w: ZERO,
        round: ZERO,
        round_c: ZERO,
        round_w: ZERO,
        given: ZERO,
        outdoor: ZERO,
        outdoor_w: 0.0,
        transfer_w: ZERO,
        extra_vapour: ZERO,
        on_surfaces_kg: ZERO,
    };
}

fn slots(machine: &Machine) -> Slots {
    let zone = |name| machine.zone_slot(name).expect("a signal of the declared sequence");
    let building = |name| machine.building_slot(name).expect("a signal of the declared sequence");
    Slots {
        damper: zone("primary_damper"),
        enable: zone("coil_valve_enable"),
        stage: zone(drycoil_sequence::ZONE_STAGE),
        set_point: building("water_set_point"),
        building_stage: building(drycoil_sequence::BUILDING_STAGE),
    }
}

const SENSORS: [PlantSensor; 3] = [PlantSensor::PrimaryDewPoint, PlantSensor::DryingCoil, PlantSensor::Water];

impl State {
    fn new(b: &Building, begin_hour: usize) -> (Self, Drives) {
        let p = &b.prepared;
        // Means of the day that follows, for ever.
        let hours: Vec<usize> = (begin_hour..begin_hour + 24).collect();
        let mean_c = hours.iter().map(|h| b.outdoor_c[h % b.outdoor_c.len()]).sum::<f64>() / 24.0;
        let mut drives = Vec::new();
        let mut response = Vec::new();
        let (mut air_c, mut w) = (Vec::new(), Vec::new());
        let limit_w = raw::humidity_ratio_at_dew_point(b.limit_c() - 1.0, b.pressure_pa());
        for (block, model) in b.models.iter().enumerate() {
            let f = &p.blocks[block];
            let mut mean: Vec<Lanes> = Vec::new();
            for h in &hours {
                let now = hour_now(b, block, *h, p.mode(*h));
                let values = held(b, block, *h, &now);
                if mean.is_empty() {
                    mean = vec![ZERO; values.len()];
                }
                for (m, v) in mean.iter_mut().zip(&values) {
                    for l in 0..LANES {
                        m[l] += v[l] / 24.0;
                    }
                }
            }
            let drive = Drive::steady(model, mean_c, &mean).expect("a block with its own channels");
            // Heat that holds each room at its cooling set point.
            let mut probe = drive.clone();
            let free = probe.step(model, mean_c);
            let heat: Lanes = std::array::from_fn(|l| {
                let i = block * LANES + l;
                if i < b.reduced.len() {
                    let steady = &b.reduced[i].reduced.steady;
                    (f.cooling_c[l] - free[l]).min(0.0) / steady[steady.len() - 1]
                } else {
                    0.0
                }
            });
            response.push(Response::steady(model, &heat));
            drives.push(drive);
            air_c.push(std::array::from_fn(|l| if l < f.rooms { f.cooling_c[l].min(free[l]) } else { 20.0 }));
            w.push([limit_w; LANES]);
        }
        let limit = b.limit_c();
        let water = b.setup.parameters().water_ceiling.to_celsius();
        let zones = b
            .zones
            .iter()
            .enumerate()
            .map(|(z, zone)| {
                let t = Building::lane(&air_c, zone.rooms[0].0);
                ZoneState {
                    damper: Actuator { position: 0.0 },
                    valve: Actuator { position: 0.0 },
                    thermostat: Lag { value: t },
                    integral: 0.0,
                    share: 0.0,
                    metal_c: t,
                    inlet: Lag { value: t },
                    films: [Film::default(); 2],
                    wet_switch: false,
                    latent_w: 0.0,
                    owed_kg: 0.0,
                    dew: Sensor::new(10 + z as u64, limit - 1.0),
                    room_t: Sensor::new(100_000 + z as u64, t),
                    room_dew_c: limit - 1.0,
                    coil_dew_c: limit - 1.0,
                    dew_at: [-1.0, 0.0, 0.0],
                    demand: 0.0,
                    enabled: false,
                    damper_command: 0.0,
                    water_c: water,
                    coil_w: 0.0,
                    primary: 0.0,
                    surface: [t; 2],
                    take: [[0.0; 2]; 2],
                    secondary: 0.0,
                    fan_w: 0.0,
                }
            })
            .collect();
        let farthest = b.zones.iter().map(|z| z.distance_m).fold(0.0, f64::max);
        let way = |velocity: f64, value: f64| Transport::new(value, b.step_s, farthest / velocity);
        let supply = &b.supply;
        let supply_dew = raw::dew_point_c(supply.humidity_ratio, b.pressure_pa());
        let plant = Plant {
            fans: Lag { value: 0.0 },
            drying_lost: Lag { value: 0.0 },
            water: Lag { value: water },
            set_point_c: water,
            primary_c: way(b.physics.air_m_per_s, supply.dry_bulb_c),
            primary_w: way(b.physics.air_m_per_s, supply.humidity_ratio),
            water_way: way(b.physics.water_m_per_s, water),
            sensors: [Sensor::new(1, supply_dew), Sensor::new(2, supply_dew), Sensor::new(3, water)],
        };
        let state = Self {
            response,
            mean_w: w.clone(),
            heating_w: vec![ZERO; air_c.len()],
            heat_w: vec![ZERO; air_c.len()],
            air_c,
            w,
            zones,
            plant,
            machine: b.machine.clone(),
            hour: begin_hour,
            cycle: 0,
            powered: true,
        };
        (state, Drives(drives))
    }
}

/// Brings the building to the start of a case, and its weather and gains to the end.
///
/// Cases of one day and begin may share what this returns.
///
/// # Errors
/// [`RunError`].
pub fn ready(b: &Building, case: &Case) -> Result<Ready, RunError> {
    ready_watched(b, case, None)
}

/// As [`ready`], with someone who looks at the cycles of the sequence.
///
/// # Errors
/// [`RunError`].
pub fn ready_watched(b: &Building, case: &Case, watch: Option<&mut Watch<'_>>) -> Result<Ready, RunError> {
    let mut watch = watch;
    case.check(b.rooms.len(), b.zones.len())?;
    let (day, begin_hour) = b.day_of(case)?;
    let start_hour = day * 24 + (case.from_s / 3600.0) as usize;
    let end_hour = day * 24 + ((case.from_s + case.length_s) / 3600.0).ceil() as usize;
    let (mut state, mut drives) = State::new(b, begin_hour);
    let quiet = Case { upsets: Vec::new(), ..case.clone() };
    let settings = Settings::of(b, Controls::Sequence);
    let mut worker = Worker::new(b, &settings, &quiet, &b.machine);
    let mut pass = |cycle: &WatchedCycle<'_>| {
        if let Some(watch) = watch.as_deref_mut() {
            watch(cycle);
        }
    };
    worker.watch = Some(&mut pass);
    // The sequence looks once a minute while nothing is recorded.
    worker.cycle_steps = (60.0 / b.step_s).round() as usize;
    for hour in begin_hour..start_hour {
        let mut path = Path::empty(b, hour);
        drives.hour(b, hour, &mut path)?;
        worker.hour(&mut state, hour, &path, None)?;
    }
    let before = (0..b.rooms.len()).map(|r| drives.lags(r)).collect();
    let mut path = Path::empty(b, start_hour);
    for hour in start_hour..end_hour {
        drives.hour(b, hour, &mut path)?;
    }
    let drives_end = (0..b.rooms.len()).map(|r| drives.lags(r)).collect();
    Ok(Ready { state, path, day, drives: before, drives_end, end_hour })
}

/// Runs a case from a building that was made ready for it. `machine` holds other settings of the sequence.
///
/// # Errors
/// [`RunError`].
pub fn run(
    b: &Building,
    ready: &Ready,
    case: &Case,
    settings: &Settings,
    machine: Option<&Machine>,
) -> Result<Run, RunError> {
    run_watched(b, ready, case, settings, machine, None)
}

/// As [`run`], with someone who looks at the cycles of the sequence.
///
/// # Errors
/// [`RunError`].
pub fn run_watched(
    b: &Building,
    ready: &Ready,
    case: &Case,
    settings: &Settings,
    machine: Option<&Machine>,
    watch: Option<&mut Watch<'_>>,
) -> Result<Run, RunError> {
    let mut watch = watch;
    case.check(b.rooms.len(), b.zones.len())?;
    let mut state = ready.state.clone();
    let fresh = machine.unwrap_or(&b.machine);
    if machine.is_some() {
        let memory = state.machine.memory();
        state.machine = fresh.clone();
        state.machine.recall(&memory);
    }
    for (z, zone) in state.zones.iter_mut().enumerate() {
        zone.dew.bias_k = settings.errors.all_zones_k
            + settings.errors.zone_k * super::lag::noise(settings.seed, 1_000_000 + z as u64, 0);
    }
    let e = &settings.errors;
    for (sensor, bias) in state.plant.sensors.iter_mut().zip([e.primary_k, e.primary_k, e.water_k]) {
        sensor.bias_k = bias;
    }
    let mut worker = Worker::new(b, settings, case, fresh);
    let watched = watch.is_some();
    let mut pass = |cycle: &WatchedCycle<'_>| {
        if let Some(watch) = watch.as_deref_mut() {
            watch(cycle);
        }
    };
    if watched {
        worker.watch = Some(&mut pass);
    }
    let mut record = Record::new(b, &state, ready, case, settings);
    for hour in ready.path.first_hour..ready.end_hour {
        worker.hour(&mut state, hour, &ready.path, Some(&mut record))?;
        if settings.stop_after_rest_s.is_some_and(|rest_s| record.rested(rest_s)) {
            break;
        }
    }
    for response in &state.response {
        response.check()?;
    }
    Ok(record.finish(&state, ready))
}

impl<'a> Worker<'a> {
    fn new(b: &'a Building, s: &'a Settings, case: &'a Case, fresh: &'a Machine) -> Self {
        let ph = &s.physics;
        let step = b.step_s;
        let part = |travel: f64| if travel > 0.0 { step / travel } else { 2.0 };
        Self {
            b,
            s,
            case,
            kept: Kept {
                valve: part(ph.valve_travel_s),
                damper: part(ph.damper_travel_s),
                dew: kept(step, ph.dew_point_lag_s),
                plant_sensor: kept(step, ph.plant_sensor_lag_s),
                thermostat: kept(step, ph.thermostat_lag_s),
                inlet: kept(step, INLET_LAG_S),
                water: kept(step, ph.water_lag_s),
                drying: kept(step, ph.drying_lag_s),
                fans: kept(step, ph.fan_lag_s),
            },
            slots: slots(fresh),
            now: Vec::new(),
            zone_inputs: vec![
                ZoneInputs {
                    dew_point_c: 0.0,
                    dew_point_good: false,
                    room_temperature_c: 0.0,
                    room_temperature_good: false,
                    occupied: false,
                    ventilation_demand: 0.0,
                    wet_switch: false,
                    pressure_priority: false,
                };
                b.setup.zones().len()
            ],
            run: false,
            films: b
                .zones
                .iter()
                .map(|z| z.coil.films.map(|f| FilmSettings { hold_kg_per_m2: ph.hold_kg_per_m2, ..f }))
                .collect(),
            flows: vec![BlockFlows::NONE; b.models.len()],
            cycle_steps: (ph.cycle_s / step).round().max(1.0) as usize,
            fresh,
            watch: None,
            limits_c: (0..b.setup.zones().len())
                .map(|zone| b.setup.zone_value(zone, "room_limit").unwrap_or_else(|| b.limit_c()))
                .collect(),
        }
    }

    fn hour(
        &mut self,
        state: &mut State,
        hour: usize,
        path: &Path,
        mut record: Option<&mut Record<'_>>,
    ) -> Result<(), RunError> {
        let b = self.b;
        let mode = b.prepared.mode(hour);
        self.now = (0..b.models.len()).map(|block| hour_now(b, block, hour, mode)).collect();
        self.run = mode != BuildingMode::Night;
        let day_s = (record.as_ref().map_or(hour / 24, |r| r.day) * 86_400) as f64;
        let first = (hour - path.first_hour) * path.per_hour;
        let blocks = b.models.len();
        if let Some(record) = record.as_deref_mut() {
            record.hour(self, hour);
        }
        for step in 0..path.per_hour {
            let at = first + step;
            let time_s = (hour * 3600) as f64 + step as f64 * b.step_s - day_s;
            let active = if record.is_some() {
                Active::at(&self.case.upsets, time_s, self.s.severity)
            } else {
                Active::none()
            };
            if step == 0 || (record.is_some() && !self.case.upsets.is_empty() && step % self.cycle_steps == 0)
            {
                self.demands(state, &active, path.outdoor[at][1]);
            }
            let begins_cycle = step % self.cycle_steps == 0;
            self.step(
                state,
                &active,
                path.outdoor[at],
                &path.free[at * blocks..(at + 1) * blocks],
                begins_cycle,
                record.as_deref_mut(),
            )?;
            if let Some(record) = record.as_deref_mut() {
                record.step(self, state, path.outdoor[at]);
            }
        }
        state.hour = hour + 1;
        Ok(())
    }

    /// Damper that ventilation asks for in each zone, 0 minimum to 1 full.
    fn demands(&self, state: &mut State, active: &Active, out_w: f64) {
        let b = self.b;
        let p = &b.prepared;
        for (zone, z) in b.zones.iter().zip(&mut state.zones) {
            let mut most: f64 = 0.0;
            for (room, _) in &zone.rooms {
                let (block, l) = (room / LANES, room % LANES);
                let (f, now) = (&p.blocks[block], &self.now[block]);
                let people = active
                    .people
                    .iter()
                    .find(|(r, _)| r == room)
                    .map_or(now.people[l], |(_, n)| n / b.people[*room].max(1e-9));
                let vent = f.need_fixed[l]
                    .max(f.need_area[l] + f.need_people[l] * people)
                    .max(f.need_per_person[l] * people);
                let vapour = now.vapour[l] + f.people_kg_per_s[l] * (people - now.people[l]);
                let source = (vapour + now.leak[l] * active.leakage * (out_w - f.limit_w[l])).max(0.0);
                let moist = source / (f.limit_w[l] - b.supply.humidity_ratio).max(1e-6);
                let design = f.primary_kg_per_s[l];
                let needed = vent.max(moist).min(design);
                let served = design + f.follows[l] * (needed - design);
                if design > 0.0 {
                    most = most.max(now.served[l] * served * (1.0 - now.standby[l]) / design);
                }
            }
            let [low, high] = zone.primary_kg_per_s;
            let asked = most * zone.design_kg_per_s;
            z.demand = if high > low { ((asked - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
        }
    }

    /// Sensors are read, the sequence decides, thermostats act.
    fn cycle(&mut self, state: &mut State, active: &Active) -> Result<(), RunError> {
        let b = self.b;
        let duration_s = b.step_s * self.cycle_steps as f64;
        let run = self.run && !active.power_off;
        state.cycle += 1;
        let (noise, seed, cycle) = (self.s.physics.noise_k, self.s.seed, state.cycle);
        if active.power_off {
            state.powered = false;
            return Ok(());
        }
        let mut start = CycleStart::Continued;
        if !state.powered {
            // Controllers start anew, and remember nothing.
            state.powered = true;
            state.machine = self.fresh.clone();
            start = CycleStart::Anew;
        }
        let mut plant = [Reading { value_c: 0.0, good: false }; 3];
        for (k, (reading, sensor)) in plant.iter_mut().zip(&mut state.plant.sensors).enumerate() {
            *reading = sensor.read(active.plant_faults[SENSORS[k] as usize], noise, seed, cycle);
        }
        for (zone, z) in b.zones.iter().zip(&mut state.zones) {
            let index = zone.sequence;
            let place = b.zones.iter().position(|other| std::ptr::eq(other, zone)).unwrap_or(0);
            let fault = active.zone_faults.iter().find(|f| f.0 == place).map(|f| (f.1, f.2));
            let dew = z.dew.read(fault, noise, seed, cycle);
            let input = &mut self.zone_inputs[index];
            input.dew_point_c = dew.value_c;
            input.dew_point_good = dew.good;
            input.room_temperature_c = z.room_t.lag.value;
            input.room_temperature_good = true;
            let (room, _) = zone.rooms[0];
            input.occupied = self.now[room / LANES].served[room % LANES] > 0.0;
            input.ventilation_demand = z.demand;
            input.wet_switch = z.wet_switch;
        }
        match self.s.controls {
            Controls::Sequence => {
                let inputs = BuildingInputs {
                    run_request: run,
                    life_safety: false,
                    smoke_control: false,
                    primary_dew_point_c: plant[0].value_c,
                    primary_dew_point_good: plant[0].good,
                    drying_coil_temperature_c: plant[1].value_c,
                    drying_coil_temperature_good: plant[1].good,
                    water_temperature_c: plant[2].value_c,
                    water_temperature_good: plant[2].good,
                };
                state.machine.step(Time::seconds(duration_s), &inputs, &self.zone_inputs)?;
                if let Some(watch) = self.watch.as_deref_mut() {
                    watch(&WatchedCycle {
                        start,
                        duration_s,
                        building: &inputs,
                        zones: &self.zone_inputs,
                        machine: &state.machine,
                    });
                }
                for (zone, z) in b.zones.iter().zip(&mut state.zones) {
                    z.damper_command = state.machine.zone_value(zone.sequence, self.slots.damper);
                    z.enabled = state.machine.zone_value(zone.sequence, self.slots.enable) != 0.0;
                }
                state.plant.set_point_c = state.machine.building_value(self.slots.set_point);
            }
            Controls::ThermostatsAlone => {
                for (zone, z) in b.zones.iter().zip(&mut state.zones) {
                    let (room, _) = zone.rooms[0];
                    let served = self.now[room / LANES].served[room % LANES] > 0.0;
                    z.damper_command = if served { z.demand } else { f64::from(u8::from(run)) };
                    z.enabled = run;
                }
                state.plant.set_point_c = b.setup.parameters().water_design.to_celsius();
            }
            Controls::PerfectKnowledge => {
                let supply_w = state.plant.primary_w.before(0.0);
                for (zone, z) in b.zones.iter().zip(&mut state.zones) {
                    let (room, _) = zone.rooms[0];
                    let (block, l) = (room / LANES, room % LANES);
                    let served = self.now[block].served[l] > 0.0;
                    z.damper_command = if state.w[block][l] <= supply_w {
                        0.0
                    } else if z.room_dew_c > self.limits_c[zone.sequence] {
                        1.0
                    } else if served {
                        z.demand
                    } else {
                        f64::from(u8::from(run))
                    };
                    z.enabled = run;
                }
                state.plant.set_point_c = b.setup.parameters().water_design.to_celsius();
            }
        }
        // Thermostats: proportional and integral, within what the coil can do.
        for (zone, z) in b.zones.iter().zip(&mut state.zones) {
            let (room, _) = zone.rooms[0];
            let set = self.now[room / LANES].cooling_c[room % LANES];
            if z.enabled && run {
                let above = (z.thermostat.value - set) / self.s.physics.throttling_k;
                let integral = z.integral + above * duration_s / self.s.physics.integral_s;
                z.integral = integral.clamp(0.0, 1.0);
                z.share = (above + z.integral).clamp(0.0, 1.0);
            } else {
                z.integral = 0.0;
                z.share = 0.0;
            }
        }
        Ok(())
    }

    fn step(
        &mut self,
        state: &mut State,
        active: &Active,
        outdoor: [f64; 2],
        free: &[Lanes],
        begins_cycle: bool,
        record: Option<&mut Record<'_>>,
    ) -> Result<(), RunError> {
        let b = self.b;
        let p_pa = b.pressure_pa();
        let step_s = b.step_s;
        let [out_c, mut out_w] = outdoor;
        if active.dew_rise_k != 0.0 {
            let dew = raw::dew_point_c(out_w, p_pa) + active.dew_rise_k;
            // Air cannot hold more than its saturation.
            out_w = raw::humidity_ratio_at_dew_point(dew.min(out_c), p_pa);
        }
        if begins_cycle {
            self.cycle(state, active)?;
            if let Some(record) = record {
                record.cycle(self, state);
            }
        }
        let run = self.run && !active.power_off;
        let fans_on = f64::from(u8::from(run && !active.primary_off));
        let plant = &mut state.plant;
        let fans = plant.fans.advance(fans_on, self.kept.fans);
        // A unit at rest stands full of outdoor air and warms; it dries anew after its lag.
        let lost =
            plant.drying_lost.advance(if fans_on > 0.0 { active.drying_lost } else { 1.0 }, self.kept.drying);
        let returned_c = 24.0;
        let wet = &b.supply;
        let exhaust_w = self.exhaust_w(&state.mean_w);
        let raw_w = exhaust_w + wet.after_recovery[1] * (out_w - exhaust_w);
        let raw_c = returned_c + wet.after_recovery[0] * (out_c - returned_c);
        let undried_w = raw_w.max(wet.humidity_ratio);
        let supply_w = wet.humidity_ratio + lost * (undried_w - wet.humidity_ratio);
        let supply_c = wet.dry_bulb_c + lost * (raw_c.max(wet.dry_bulb_c) - wet.dry_bulb_c);
        plant.primary_c.push(supply_c);
        plant.primary_w.push(supply_w);
        let water_flows = !active.water_off && !active.power_off;
        let target = active.water_at.unwrap_or(plant.set_point_c);
        let water = plant.water.advance(target, self.kept.water);
        plant.water_way.push(water);
        let supply_dew = raw::dew_point_c(supply_w, p_pa);
        for (sensor, value) in plant.sensors.iter_mut().zip([supply_dew, supply_dew, water]) {
            sensor.lag.advance(value, self.kept.plant_sensor);
        }

        // Zones: dampers first, since all share what the unit can give.
        let mut asked = 0.0;
        for (i, (zone, z)) in b.zones.iter().zip(&mut state.zones).enumerate() {
            if let Some((_, position)) = active.dampers.iter().find(|d| d.0 == i) {
                z.damper.position = *position;
            }
            let command = if active.dampers.iter().any(|d| d.0 == i) || active.power_off {
                z.damper.position
            } else {
                z.damper_command
            };
            let position = z.damper.advance(command, self.kept.damper);
            let [low, high] = zone.primary_kg_per_s;
            z.primary = low + position * (high - low);
            asked += z.primary;
        }
        for flows in &mut self.flows {
            *flows = BlockFlows::NONE;
        }
        for (block, (f, now)) in b.prepared.blocks.iter().zip(&self.now).enumerate() {
            for l in 0..f.rooms {
                // Rooms with primary air alone.
                if f.terminal[l] == 0.0 && f.on_system[l] > 0.0 {
                    let on = (now.served[l] + now.start[l]).min(1.0);
                    let m = f.primary_kg_per_s[l] * on;
                    self.flows[block].primary[l] = m;
                    asked += m;
                }
            }
        }
        let share = fans * if asked > wet.most_kg_per_s { wet.most_kg_per_s / asked } else { 1.0 };
        let (near_c, near_w) = (plant.primary_c.before(0.0), plant.primary_w.before(0.0));
        for flows in &mut self.flows {
            for l in 0..LANES {
                flows.primary[l] *= share;
                flows.primary_c[l] = near_c;
                flows.primary_w[l] = near_w;
            }
        }
        for i in 0..b.zones.len() {
            self.zone(state, i, active, share, run, water_flows, out_w);
        }
        self.rooms(state, active, out_c, out_w, free);
        let hold = &self.films;
        for (i, (zone, z)) in b.zones.iter().zip(&mut state.zones).enumerate() {
            finish_zone(
                b,
                zone,
                z,
                &hold[i],
                &state.air_c,
                &state.w,
                &state.mean_w,
                out_w,
                &self.kept,
                step_s,
            );
            if z.films[0].on_coil_kg > self.s.physics.wet_switch_kg_per_m2 * hold[i][0].area_m2 {
                z.wet_switch = true;
            } else if z.films[0].on_coil_kg < DRY_KG {
                z.wet_switch = false;
            }
        }
        Ok(())
    }

    /// Humidity ratio of the exhaust: rooms in the mix of their primary air at design.
    fn exhaust_w(&self, mean_w: &[Lanes]) -> f64 {
        let (mut water, mut air) = (0.0, 0.0);
        for (f, w) in self.b.prepared.blocks.iter().zip(mean_w) {
            for l in 0..f.rooms {
                water += f.primary_kg_per_s[l] * w[l];
                air += f.primary_kg_per_s[l];
            }
        }
        if air > 0.0 { water / air } else { self.b.supply.humidity_ratio }
    }

    /// Valve, coil and what it takes from the air.
    #[allow(clippy::too_many_arguments)] // Each is one fact of the step.
    fn zone(
        &mut self,
        state: &mut State,
        i: usize,
        active: &Active,
        share: f64,
        run: bool,
        water_flows: bool,
        out_w: f64,
    ) {
        let b = self.b;
        let step_s = b.step_s;
        let zone = &b.zones[i];
        let z = &mut state.zones[i];
        let ph = &self.s.physics;
        if let Some((_, position)) = active.valves.iter().find(|v| v.0 == i) {
            z.valve.position = *position;
        }
        let command = if active.valves.iter().any(|v| v.0 == i) || active.power_off {
            z.valve.position
        } else {
            z.share
        };
        let valve = z.valve.advance(command, self.kept.valve);
        z.water_c = state.plant.water_way.before(zone.distance_m / ph.water_m_per_s);
        if self.s.controls == Controls::PerfectKnowledge {
            z.water_c = z.water_c.max(z.coil_dew_c);
        }
        let late = zone.distance_m / ph.air_m_per_s;
        let primary_c = state.plant.primary_c.before(late);
        let primary_w = state.plant.primary_w.before(late);
        z.primary *= share;
        let at = zone.table.at(z.share);
        (z.secondary, z.fan_w) = if run { (at.secondary_kg_per_s, at.fan_w) } else { (0.0, 0.0) };
        // Air of the rooms, mixed.
        let (mut air_c, mut air_w) = (0.0, 0.0);
        let (mut more, mut plenum_k) = (0.0, 0.0);
        for (room, part) in &zone.rooms {
            let (block, l) = (room / LANES, room % LANES);
            air_c += part * state.air_c[block][l];
            air_w += part * state.mean_w[block][l];
            let f = &b.prepared.blocks[block];
            more += part * (f.plenum_leak[l] * (out_w - state.w[block][l])).max(0.0);
            plenum_k += part * f.plenum_k[l] * self.now[block].lights[l];
        }
        let coil_c = air_c + plenum_k;
        let moves = z.secondary > 0.0;
        let film = zone.coil.air_w_per_k
            * if moves {
                (z.secondary / zone.coil.reference_kg_per_s).powf(zone.coil.exponent)
            } else {
                STILL
            };
        let air = if moves { 1.0 / (1.0 / film + 0.5 / (z.secondary * CP)) } else { film };
        let cold = if water_flows { valve * zone.table.conductance_w_per_k } else { 0.0 };
        let inside = if cold > 0.0 {
            let left = 1.0 / cold - 1.0 / air;
            // The surface is never colder than its water.
            if left > 1e-3 / cold { 1.0 / left } else { 1e3 * cold }
        } else {
            0.0
        };
        let rate = (air + inside) / zone.coil.capacity_j_per_k;
        let settles = (air * coil_c + inside * z.water_c + z.latent_w) / (air + inside);
        let x = rate * step_s;
        let part = (-x).exp();
        let mean = settles + (z.metal_c - settles) * (1.0 - part) / x;
        z.metal_c = settles + (z.metal_c - settles) * part;
        z.coil_w = air * (coil_c - mean);
        let inlet = if cold > 0.0 && valve > 0.005 { z.water_c } else { z.metal_c };
        z.inlet.advance(inlet, self.kept.inlet);
        z.surface = [z.inlet.value, z.metal_c];

        // Surfaces that take water or give it.
        let mut taken = [0.0; 2];
        let mut given = 0.0;
        z.take = [[0.0; 2]; 2];
        for k in 0..2 {
            let had = z.films[k].on_coil_kg;
            if had <= 0.0 && z.coil_dew_c < z.surface[k] {
                continue;
            }
            let through = film / CP;
            let part = zone.coil.films[k].area_m2 / (zone.coil.films[0].area_m2 + zone.coil.films[1].area_m2);
            let contact = if moves { z.secondary * (1.0 - (-through / z.secondary).exp()) } else { through };
            let at = raw::saturation_humidity_ratio(z.surface[k], b.pressure_pa());
            let exchange = contact * part;
            let gives = exchange * (at - air_w - more);
            if gives * step_s >= had && gives > 0.0 {
                // Dries up within the step.
                z.take[k] = [0.0, -had / step_s];
                given += had / step_s;
            } else {
                z.take[k] = [exchange, at - more];
                taken[0] += exchange;
                taken[1] += exchange * (at - more);
            }
        }
        given += z.owed_kg / step_s;
        z.owed_kg = 0.0;

        let total: f64 = zone
            .rooms
            .iter()
            .map(|(room, _)| b.prepared.blocks[room / LANES].primary_kg_per_s[room % LANES])
            .sum();
        let alone = zone.rooms.len() == 1;
        let heating: f64 = if alone {
            0.0
        } else {
            let (lead, part) = zone.rooms[0];
            if b.prepared.blocks[lead / LANES].unit_heating_w[lead % LANES] > 0.0 || part > 0.0 {
                Building::lane(&state.heating_w, lead) / part.max(1e-9)
            } else {
                0.0
            }
        };
        for (k, (room, part)) in zone.rooms.iter().enumerate() {
            let (block, l) = (room / LANES, room % LANES);
            let f = &b.prepared.blocks[block];
            let flows = &mut self.flows[block];
            flows.primary[l] = if total > 0.0 { z.primary * f.primary_kg_per_s[l] / total } else { 0.0 };
            flows.primary_c[l] = primary_c;
            flows.primary_w[l] = primary_w;
            flows.film[l] = part * taken[0];
            flows.film_w[l] = part * taken[1];
            flows.given[l] = part * given;
            if alone || !moves {
                flows.heat[l] = part * (z.fan_w - z.coil_w);
            } else {
                let m = part * z.secondary;
                flows.round[l] = m;
                flows.round_w[l] = air_w;
                let warm = if k == 0 { 0.0 } else { heating };
                flows.round_c[l] = air_c + (z.fan_w - z.coil_w + warm) / (z.secondary * CP);
            }
        }
    }

    /// Heat and moisture of all rooms.
    fn rooms(&mut self, state: &mut State, active: &Active, out_c: f64, out_w: f64, free: &[Lanes]) {
        let b = self.b;
        let cp_o = CP_AIR + CP_VAPOUR * out_w;
        let before_c = state.air_c.clone();
        let before_w = state.w.clone();
        let water_c = state.plant.water.value;
        for (block, (model, f)) in b.models.iter().zip(&b.prepared.blocks).enumerate() {
            let (unit, per_unit) = model.unit();
            let now = &self.now[block];
            let flows = &mut self.flows[block];
            flows.outdoor_w = out_w;
            let (mut g, mut gt, mut flow, mut water) = (ZERO, ZERO, ZERO, ZERO);
            let w = before_w[block];
            for l in 0..LANES {
                let m_p = flows.primary[l];
                let c_p = m_p * (CP_AIR + CP_VAPOUR * flows.primary_w[l]);
                let m_i = now.leak[l] * active.leakage;
                let c_r = flows.round[l] * CP;
                g[l] = c_p + m_i * cp_o + c_r;
                gt[l] =
                    c_p * flows.primary_c[l] + m_i * cp_o * out_c + c_r * flows.round_c[l] + flows.heat[l];
                flow[l] = m_p + m_i + flows.round[l] + flows.film[l];
                water[l] = m_p * flows.primary_w[l]
                    + m_i * out_w
                    + flows.round[l] * flows.round_w[l]
                    + flows.film_w[l]
                    + flows.given[l]
                    + now.vapour[l];
                flows.outdoor[l] = m_i;
                let m_t = now.transfer[l];
                if m_t > 0.0 {
                    let from = f.transfer_from[l] as usize;
                    let w_s = Building::lane(&before_w, from);
                    let c = m_t * (CP_AIR + CP_VAPOUR * w_s);
                    g[l] += c;
                    gt[l] += c * Building::lane(&before_c, from);
                    flow[l] += m_t;
                    water[l] += m_t * w_s;
                    flows.transfer_w[l] = w_s;
                }
            }
            for (room, [air, vapour, heat]) in extras(b, active, &self.now) {
                if room / LANES == block {
                    let l = room % LANES;
                    g[l] += air * cp_o;
                    gt[l] += air * cp_o * out_c + heat;
                    flow[l] += air;
                    water[l] += air * out_w + vapour;
                    flows.outdoor[l] += air;
                    flows.extra_vapour[l] += vapour;
                }
            }
            let free_c = state.response[block].free_c(&free[block]);
            let mut ideal = Ideal {
                heating_set_c: now.heating_c,
                cooling_set_c: now.cooling_c,
                heating_capacity_w: f.heating_w,
                heating_share: f64::from(u8::from(!active.power_off)),
                coil_w_per_k: ZERO,
                coil_c: ZERO,
                cooling_share: f64::from(u8::from(!active.power_off)),
            };
            for l in 0..LANES {
                // Coils of terminals are not ideal; own units are, and raise their own water above the dew point.
                if f.terminal[l] == 0.0 {
                    ideal.coil_w_per_k[l] = f.coil_w_per_k[l];
                    let own = if f.on_water[l] > 0.0 {
                        let guard = if w[l] > b.prepared.settings.supply_w {
                            raw::dew_point_c(w[l], b.pressure_pa()) + b.prepared.settings.required_margin_k
                        } else {
                            water_c
                        };
                        water_c.max(guard)
                    } else {
                        0.0
                    };
                    ideal.coil_c[l] = own + f.own_coil_c[l];
                } else {
                    ideal.cooling_set_c[l] = 1000.0;
                }
            }
            let c = control(unit, per_unit, &free_c, &g, &gt, &ideal);
            let mut heat = ZERO;
            for l in 0..LANES {
                heat[l] = c.air_flow_w[l] + (c.heating_w[l] - c.cooling_w[l]);
            }
            state.response[block].take(&heat);
            let mut per_kg = f.step_per_kg;
            let scale = b.step_s / b.prepared.step_s;
            for x in &mut per_kg {
                *x *= scale;
            }
            let humid = moisture(&w, &flow, &water, &per_kg);
            let mut end = humid.end;
            for l in 0..f.rooms {
                // Air holds no more than its saturation: the rest wets the surfaces of the room.
                if end[l] > SURELY_DRY_W {
                    let most = raw::saturation_humidity_ratio(c.air_c[l], b.pressure_pa());
                    if end[l] > most {
                        flows.on_surfaces_kg[l] = (end[l] - most) * f.effective_kg[l];
                        end[l] = most;
                    }
                }
            }
            state.air_c[block] = c.air_c;
            state.heating_w[block] = c.heating_w;
            state.w[block] = end;
            state.mean_w[block] = humid.mean;
            state.heat_w[block] = heat;
        }
    }
}

/// Air, vapour and heat that upsets bring into rooms.
fn extras(b: &Building, active: &Active, now: &[HourNow]) -> Vec<(usize, [f64; 3])> {
    if active.rooms.is_empty() && active.people.is_empty() {
        return Vec::new();
    }
    let mut out = active.rooms.clone();
    for (room, people) in &active.people {
        let there = b.people[*room] * now[room / LANES].people[room % LANES];
        let [sensible, vapour] = b.per_person[*room];
        out.push((*room, [0.0, (people - there) * vapour, (people - there) * sensible]));
    }
    out
}

/// Films, dew points and sensors after the rooms.
#[allow(clippy::too_many_arguments)]
fn finish_zone(
    b: &Building,
    zone: &Zone,
    z: &mut ZoneState,
    hold: &[FilmSettings; 2],
    air_c: &[Lanes],
    w: &[Lanes],
    mean_w: &[Lanes],
    out_w: f64,
    kept: &Kept,
    step_s: f64,
) {
    let (mut end, mut mean, mut more) = (0.0, 0.0, 0.0);
    for (room, part) in &zone.rooms {
        let (block, l) = (room / LANES, room % LANES);
        end += part * w[block][l];
        mean += part * mean_w[block][l];
        more += part * (b.prepared.blocks[block].plenum_leak[l] * (out_w - w[block][l])).max(0.0);
    }
    let mut latent = 0.0;
    for k in 0..2 {
        let [exchange, at] = z.take[k];
        if exchange == 0.0 && at == 0.0 && z.films[k].on_coil_kg == 0.0 {
            continue;
        }
        let rate = if exchange > 0.0 { exchange * (mean - at) } else { at };
        let taken = z.films[k].advance(&hold[k], rate, step_s);
        z.owed_kg += rate * step_s - taken;
        if k == 1 {
            latent = taken / step_s * CONDENSATION_J_PER_KG;
        }
    }
    z.latent_w = latent;
    let (room, _) = zone.rooms[0];
    let own = Building::lane(w, room);
    let p_pa = b.pressure_pa();
    let [at, dew, slope] = z.dew_at;
    if (own - at).abs() > 1e-5 {
        let dew = raw::dew_point_c(own, p_pa);
        let slope = 1.0 / raw::saturation_humidity_ratio_slope_per_k(dew, p_pa);
        z.dew_at = [own, dew, slope];
        z.room_dew_c = dew;
    } else {
        z.room_dew_c = dew + slope * (own - at);
    }
    let coil = end + more;
    z.coil_dew_c = if coil == own {
        z.room_dew_c
    } else if (coil - own).abs() < 1e-5 {
        z.room_dew_c + z.dew_at[2] * (coil - own)
    } else {
        raw::dew_point_c(coil, p_pa)
    };
    z.dew.lag.advance(z.room_dew_c, kept.dew);
    let t = Building::lane(air_c, room);
    z.room_t.lag.advance(t, kept.thermostat);
    z.thermostat.advance(t, kept.thermostat);
}

/// What is remembered of a run.
struct Record<'a> {
    b: &'a Building,
    case: &'a Case,
    settings: &'a Settings,
    day: usize,
    trigger_s: f64,
    cause_ends_s: f64,
    zones: Vec<ZoneRun>,
    /// Stage of each zone, and of the building last.
    stages: Vec<f64>,
    building_stages: Vec<Span>,
    rooms: Vec<RoomLedger>,
    history: Vec<Moment>,
    start_w: Vec<Lanes>,
    /// Sums over steps: outdoor air, heat to the air, held channels.
    outdoor_sum: f64,
    heat_sum: Vec<Lanes>,
    held_sum: Vec<Vec<Lanes>>,
    held_now: Vec<Vec<Lanes>>,
    outdoor_now: f64,
    before: Vec<(Vec<f64>, Vec<f64>)>,
    steps: usize,
    names: [Vec<&'static str>; 2],
    sensor_region: usize,
    start_films: Vec<[Film; 2]>,
}

/// Stages in which nothing is upset.
const REST: [&str; 3] = ["off", "normal", "notice"];

fn channels(
    b: &Building,
    room: usize,
    outdoor_c: f64,
    held: &[Lanes],
    heat_w: f64,
    constant: f64,
) -> Vec<f64> {
    let model = &b.reduced[room];
    let l = room % LANES;
    let mut u = vec![0.0; model.reduced.channels.len()];
    u[0] = outdoor_c;
    u[1] = held[0][l];
    for k in 0..model.sun.len() {
        u[2 + k] = held[1 + k][l];
    }
    if let Some(c) = model.constant {
        u[c] = constant;
    }
    let last = u.len() - 1;
    u[last] = held[held.len() - 1][l] + heat_w;
    u
}

fn all_lags(state: &State, drive: &[f64], room: usize, order: usize) -> Vec<f64> {
    let response = state.response[room / LANES].lags(room % LANES);
    (0..order).map(|m| drive[m] + response[m]).collect()
}

impl<'a> Record<'a> {
    fn new(b: &'a Building, state: &State, ready: &Ready, case: &'a Case, settings: &'a Settings) -> Self {
        let open = |h: usize| b.prepared.mode(ready.day * 24 + h) != BuildingMode::Night;
        let used = |h: usize| b.prepared.mode(ready.day * 24 + h) == BuildingMode::Occupied;
        let first = |f: &dyn Fn(usize) -> bool| (0..24).find(|h| f(*h)).map(|h| h as f64 * 3600.0);
        // A case without upset is its start-up.
        let trigger = case.trigger_s().or_else(|| first(&open)).unwrap_or(case.from_s).max(case.from_s);
        let ends = case.cause_ends_s().or_else(|| first(&used)).unwrap_or(case.from_s).max(trigger);
        let names = |name: &str| {
            b.declaration
                .region(name)
                .map_or_else(Vec::new, |(_, r)| r.stages.iter().map(|stage| stage.name).collect())
        };
        let names = [names(drycoil_sequence::ZONE_STAGE), names(drycoil_sequence::BUILDING_STAGE)];
        let slots = slots(&state.machine);
        let mut stages: Vec<f64> =
            b.zones.iter().map(|zone| state.machine.zone_value(zone.sequence, slots.stage)).collect();
        stages.push(state.machine.building_value(slots.building_stage));
        let span = |kind: usize, stage: f64| Span {
            stage: names[kind].get(stage as usize).copied().unwrap_or(""),
            from_s: 0.0,
            to_s: 0.0,
            reason: "as the case begins",
        };
        let hour = ready.path.first_hour + 24 * b.prepared.day_types.len() - 1;
        let mode = b.prepared.mode(hour);
        let outdoor_now = outdoor_at(b, hour, ready.path.per_hour - 1, ready.path.per_hour)[0];
        let held_now: Vec<Vec<Lanes>> =
            (0..b.models.len()).map(|block| held(b, block, hour, &hour_now(b, block, hour, mode))).collect();
        let before = (0..b.rooms.len())
            .map(|room| {
                let heat = Building::lane(&state.heat_w, room);
                (
                    all_lags(state, &ready.drives[room], room, b.reduced[room].reduced.order()),
                    channels(b, room, outdoor_now, &held_now[room / LANES], heat, 1.0),
                )
            })
            .collect();
        Self {
            b,
            case,
            settings,
            day: ready.day,
            trigger_s: trigger - case.from_s,
            cause_ends_s: ends - case.from_s,
            zones: b
                .zones
                .iter()
                .zip(&state.zones)
                .zip(&stages)
                .map(|((_, z), stage)| ZoneRun {
                    noticed_s: None,
                    stages: vec![span(0, *stage)],
                    peak_dew_point_c: f64::NEG_INFINITY,
                    peak_s: 0.0,
                    smallest_margin_k: None,
                    below_s: 0.0,
                    films: z.films,
                    most_kg_per_m2: 0.0,
                    cooling_j: 0.0,
                    warmest_c: f64::NEG_INFINITY,
                    last_upset_s: None,
                })
                .collect(),
            building_stages: vec![span(1, stages[b.zones.len()])],
            stages,
            rooms: vec![RoomLedger::default(); b.rooms.len()],
            history: Vec::new(),
            start_w: state.w.clone(),
            outdoor_sum: 0.0,
            heat_sum: vec![ZERO; b.models.len()],
            held_sum: held_now.iter().map(|h| vec![ZERO; h.len()]).collect(),
            held_now,
            outdoor_now,
            before,
            steps: 0,
            names,
            sensor_region: b
                .declaration
                .regions()
                .position(|(_, r)| r.name == drycoil_sequence::SENSOR)
                .unwrap_or(usize::MAX),
            start_films: state.zones.iter().map(|z| z.films).collect(),
        }
    }

    fn now_s(&self) -> f64 {
        self.steps as f64 * self.b.step_s
    }

    /// Whether the cause ended, and the last upset lies back, by this time.
    fn rested(&self, rest_s: f64) -> bool {
        let now = self.now_s();
        now - self.cause_ends_s >= rest_s
            && self.zones.iter().all(|z| z.last_upset_s.is_none_or(|last| now - last >= rest_s))
    }

    fn hour(&mut self, worker: &Worker<'_>, hour: usize) {
        let steps = 3600.0 / self.b.step_s;
        for block in 0..self.b.models.len() {
            let values = held(self.b, block, hour, &worker.now[block]);
            for (sum, v) in self.held_sum[block].iter_mut().zip(&values) {
                for l in 0..LANES {
                    sum[l] += v[l] * steps.round();
                }
            }
            self.held_now[block] = values;
        }
    }

    /// After the sequence has decided, at the begin of a step.
    fn cycle(&mut self, worker: &Worker<'_>, state: &State) {
        if self.settings.controls != Controls::Sequence {
            return;
        }
        let now = self.now_s();
        let machine = &state.machine;
        let reason_of = |zone: Option<usize>, to: usize| {
            machine
                .changes()
                .iter()
                .rev()
                .find(|c| c.zone == zone && c.to == to && c.region != self.sensor_region)
                .map_or("controllers started anew", |c| machine.reason(c))
        };
        let after = now >= self.trigger_s;
        let zones = self.b.zones.len();
        for (i, zone) in self.b.zones.iter().enumerate() {
            let stage = machine.zone_value(zone.sequence, worker.slots.stage);
            let name = self.names[0].get(stage as usize).copied().unwrap_or("");
            if stage != self.stages[i] {
                let reason = reason_of(Some(zone.sequence), stage as usize);
                change(&mut self.zones[i].stages, name, now, reason);
                self.stages[i] = stage;
            }
            if after && self.zones[i].noticed_s.is_none() && !["off", "normal"].contains(&name) {
                self.zones[i].noticed_s = Some(now - self.trigger_s);
            }
        }
        for c in machine.changes() {
            if let Some(sequence) = c.zone
                && c.region == self.sensor_region
                && c.to != 0
                && after
                && let Some(i) = self.b.zones.iter().position(|z| z.sequence == sequence)
            {
                self.zones[i].noticed_s.get_or_insert(now - self.trigger_s);
            }
        }
        let stage = machine.building_value(worker.slots.building_stage);
        if stage != self.stages[zones] {
            let name = self.names[1].get(stage as usize).copied().unwrap_or("");
            let reason = reason_of(None, stage as usize);
            change(&mut self.building_stages, name, now, reason);
            self.stages[zones] = stage;
        }
    }

    /// At the end of a step.
    fn step(&mut self, worker: &Worker<'_>, state: &State, outdoor: [f64; 2]) {
        self.steps += 1;
        let b = self.b;
        let step_s = b.step_s;
        let now = self.now_s();
        self.outdoor_sum += outdoor[0];
        self.outdoor_now = outdoor[0];
        let p = b.setup.parameters();
        let rise = p.more_air_rise.to_kelvin() + 0.02;
        if now > self.trigger_s {
            for (i, (record, z)) in self.zones.iter_mut().zip(&state.zones).enumerate() {
                if worker.run && z.coil_dew_c > record.peak_dew_point_c {
                    record.peak_dew_point_c = z.coil_dew_c;
                    record.peak_s = now;
                }
                if z.valve.position > 0.005 || z.enabled {
                    let margin = z.water_c - z.coil_dew_c;
                    if record.smallest_margin_k.is_none_or(|m| margin < m) {
                        record.smallest_margin_k = Some(margin);
                    }
                    if margin < 0.0 {
                        record.below_s += step_s;
                    }
                }
                record.cooling_j += z.coil_w.max(0.0) * step_s;
                let (room, _) = b.zones[i].rooms[0];
                if worker.now[room / LANES].served[room % LANES] > 0.0 {
                    record.warmest_c = record.warmest_c.max(Building::lane(&state.air_c, room));
                }
                let on_coil = z.films[0].on_coil_kg + z.films[1].on_coil_kg;
                let stage = record.stages.last().map_or("", |s| s.stage);
                let at_work =
                    if self.settings.controls == Controls::Sequence { stage != "off" } else { worker.run };
                let restless = self.settings.controls == Controls::Sequence && !REST.contains(&stage);
                if on_coil > DRY_KG
                    || (at_work && z.coil_dew_c > worker.limits_c[b.zones[i].sequence] + rise)
                    || restless
                {
                    record.last_upset_s = Some(now);
                }
                for k in 0..2 {
                    let load = z.films[k].on_coil_kg / worker.films[i][k].area_m2;
                    if load > record.most_kg_per_m2 {
                        record.most_kg_per_m2 = load;
                    }
                }
            }
        }
        self.ledger(worker, state, step_s);
        if let Some(every) = self.settings.history_s {
            let steps = (every / step_s).round().max(1.0) as usize;
            if self.steps.is_multiple_of(steps) || self.steps == 1 {
                self.moment(worker, state, outdoor, now);
            }
        }
    }

    fn ledger(&mut self, worker: &Worker<'_>, state: &State, step_s: f64) {
        for (block, flows) in worker.flows.iter().enumerate() {
            let now = &worker.now[block];
            let f = &self.b.prepared.blocks[block];
            let mean = &state.mean_w[block];
            for l in 0..f.rooms {
                self.heat_sum[block][l] += state.heat_w[block][l];
                let r = &mut self.rooms[block * LANES + l];
                r.primary_kg += flows.primary[l] * (flows.primary_w[l] - mean[l]) * step_s;
                r.outdoor_kg += flows.outdoor[l] * (flows.outdoor_w - mean[l]) * step_s;
                r.other_rooms_kg += (flows.round[l] * (flows.round_w[l] - mean[l])
                    + now.transfer[l] * (flows.transfer_w[l] - mean[l]))
                    * step_s;
                r.released_kg += (now.vapour[l] + flows.extra_vapour[l]) * step_s;
                r.to_coil_kg += (flows.film[l] * mean[l] - flows.film_w[l] - flows.given[l]) * step_s;
                r.on_surfaces_kg += flows.on_surfaces_kg[l];
                r.most_w = r.most_w.max(state.w[block][l]);
            }
        }
    }

    fn moment(&mut self, worker: &Worker<'_>, state: &State, outdoor: [f64; 2], now: f64) {
        let b = self.b;
        let name = |kind: usize, stage: f64| self.names[kind].get(stage as usize).copied().unwrap_or("");
        let zones = b
            .zones
            .iter()
            .zip(&state.zones)
            .enumerate()
            .map(|(i, (zone, z))| ZoneMoment {
                dew_point_c: z.coil_dew_c,
                sensed_dew_point_c: worker.zone_inputs[zone.sequence].dew_point_c,
                room_c: Building::lane(&state.air_c, zone.rooms[0].0),
                water_c: z.water_c,
                surface_c: z.surface[0].min(z.surface[1]),
                film_kg: z.films[0].on_coil_kg + z.films[1].on_coil_kg,
                dripped_kg: z.films[0].dripped_kg + z.films[1].dripped_kg,
                coil_w: z.coil_w,
                primary_kg_per_s: z.primary,
                valve: z.valve.position,
                stage: name(0, self.stages[i]),
            })
            .collect();
        self.history.push(Moment {
            time_s: now,
            outdoor_dew_point_c: raw::dew_point_c(outdoor[1], b.pressure_pa()),
            primary_dew_point_c: raw::dew_point_c(state.plant.primary_w.before(0.0), b.pressure_pa()),
            water_c: state.plant.water.value,
            water_set_point_c: state.plant.set_point_c,
            stage: name(1, self.stages[b.zones.len()]),
            zones,
        });
    }

    fn finish(mut self, state: &State, ready: &Ready) -> Run {
        let b = self.b;
        let now = self.now_s();
        for (record, (z, start)) in self.zones.iter_mut().zip(state.zones.iter().zip(&self.start_films)) {
            if let Some(last) = record.stages.last_mut() {
                last.to_s = now;
            }
            for k in 0..2 {
                let (end, start) = (&z.films[k], &start[k]);
                record.films[k] = Film {
                    on_coil_kg: end.on_coil_kg,
                    most_kg: end.most_kg,
                    formed_kg: end.formed_kg - start.formed_kg + start.on_coil_kg,
                    evaporated_kg: end.evaporated_kg - start.evaporated_kg,
                    dripped_kg: end.dripped_kg - start.dripped_kg,
                    wet_s: end.wet_s - start.wet_s,
                };
            }
        }
        if let Some(last) = self.building_stages.last_mut() {
            last.to_s = now;
        }
        for room in 0..b.rooms.len() {
            let (block, l) = (room / LANES, room % LANES);
            let reduced = &b.reduced[room].reduced;
            let r = &mut self.rooms[room];
            let effective = b.prepared.blocks[block].effective_kg[l];
            r.stored_kg = effective * (state.w[block][l] - self.start_w[block][l]);
            r.held_kg = effective * state.w[block][l];
            r.water_residual_kg = r.stored_kg
                - (r.primary_kg + r.outdoor_kg + r.other_rooms_kg + r.released_kg
                    - r.to_coil_kg
                    - r.on_surfaces_kg);
            let steps = self.steps as f64;
            let sums = {
                let mut u = channels(
                    b,
                    room,
                    self.outdoor_sum,
                    &self.held_sum[block],
                    self.heat_sum[block][l],
                    steps,
                );
                if let Some(c) = b.reduced[room].constant {
                    u[c] = steps;
                }
                u
            };
            let lags = all_lags(state, &ready.drives_end[room], room, reduced.order());
            let heat = Building::lane(&state.heat_w, room);
            let end = channels(b, room, self.outdoor_now, &self.held_now[block], heat, 1.0);
            let (before_lags, before) = &self.before[room];
            r.boundaries_j = reduced
                .boundaries
                .iter()
                .map(|side| side.over_j(b.step_s, &sums, (before_lags, before), (&lags, &end)))
                .sum();
            let all: f64 = reduced.gain_w.iter().zip(&sums).map(|(g, s)| g * s).sum::<f64>() * b.step_s;
            r.system_j = self.heat_sum[block][l] * b.step_s;
            r.gains_j = all - r.system_j;
            r.stored_j = reduced.storage.value_j(&lags, &end) - reduced.storage.value_j(before_lags, before);
            r.heat_residual_j = r.stored_j - (r.boundaries_j + r.gains_j + r.system_j);
        }
        let _ = self.case;
        Run {
            day: self.day,
            trigger_s: self.trigger_s,
            cause_ends_s: self.cause_ends_s,
            zones: self.zones,
            building_stages: self.building_stages,
            rooms: self.rooms,
            history: self.history,
            steps: self.steps,
        }
    }
}

/// A new stage begins.
fn change(spans: &mut Vec<Span>, stage: &'static str, now_s: f64, reason: &'static str) {
    if let Some(last) = spans.last_mut() {
        last.to_s = now_s;
    }
    spans.push(Span { stage, from_s: now_s, to_s: now_s, reason });
}
