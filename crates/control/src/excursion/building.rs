//! A building prepared for excursions: rooms reduced for the step, zones with their coils, lags and distances.

use super::film::FilmSettings;
use crate::excursion::case::{Case, CaseDay, CaseError};
use crate::settings::SequenceSettings;
use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_project::{DayType, Project};
use drycoil_rooms::block::{BlockModel, BlockRoom};
use drycoil_sequence::{Declaration, Machine, MachineError, Parameters, Setup, SetupError};
use drycoil_sizing::{Design, Service, terminal_unit};
use drycoil_units::{Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_year::prepare::{
    LANES, Lanes, PrepareError, Prepared, ReductionCache, RoomModel, short_step_models,
};
use drycoil_year::terminal_table::ZoneTable;
use std::fmt;
use std::sync::Arc;

/// Numbers that the project does not hold. Every one is common practice without a source, or from memory; results list
/// them, and the robustness figures vary them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Physics {
    /// Travel time of a coil valve, s.
    pub valve_travel_s: f64,
    /// Travel time of a primary damper, s.
    pub damper_travel_s: f64,
    /// Lag of a room dew-point sensor, s.
    pub dew_point_lag_s: f64,
    /// Lag of a sensor in a duct or pipe, s.
    pub plant_sensor_lag_s: f64,
    /// Lag of a room thermostat, s.
    pub thermostat_lag_s: f64,
    /// Noise of a dew-point reading, standard deviation, K.
    pub noise_k: f64,
    /// Rise of the room temperature that opens a coil fully, K.
    pub throttling_k: f64,
    /// Integral time of a thermostat, s.
    pub integral_s: f64,
    /// Heat capacity of a coil with its water, J/K per W/K of air-side conductance: its lag at the air, s.
    pub metal_s: f64,
    /// Part of the surface that stands at the temperature of the entering water: headers, bends, first tubes.
    pub inlet_share: f64,
    /// Water that a surface holds before it drips, kg/m2.
    pub hold_kg_per_m2: f64,
    /// Water on the inlet part at which the wet switch trips, kg/m2.
    pub wet_switch_kg_per_m2: f64,
    /// Air-side film coefficient, by which the surface follows from the conductance, W/(m2 K).
    pub film_w_per_m2_k: f64,
    /// Lag of the sensible-water temperature behind its set point, s.
    pub water_lag_s: f64,
    /// Lag of the drying coil, s.
    pub drying_lag_s: f64,
    /// Run-up of the primary-air fans, s.
    pub fan_lag_s: f64,
    /// Water velocity in mains and runouts, m/s.
    pub water_m_per_s: f64,
    /// Air velocity in ducts, m/s.
    pub air_m_per_s: f64,
    /// Control cycle, s; a longer step is a longer cycle.
    pub cycle_s: f64,
}

impl Default for Physics {
    fn default() -> Self {
        Self {
            valve_travel_s: 90.0,
            damper_travel_s: 90.0,
            dew_point_lag_s: 60.0,
            plant_sensor_lag_s: 20.0,
            thermostat_lag_s: 60.0,
            noise_k: 0.03,
            throttling_k: 1.0,
            integral_s: 600.0,
            metal_s: 30.0,
            inlet_share: 0.1,
            hold_kg_per_m2: 0.05,
            wet_switch_kg_per_m2: 0.02,
            film_w_per_m2_k: 50.0,
            water_lag_s: 120.0,
            drying_lag_s: 240.0,
            fan_lag_s: 20.0,
            water_m_per_s: 1.0,
            air_m_per_s: 5.0,
            cycle_s: 10.0,
        }
    }
}

impl Physics {
    /// Names, values and units, for lists of what is assumed.
    pub fn listed(&self) -> Vec<(&'static str, f64, &'static str)> {
        vec![
            ("travel time of a coil valve", self.valve_travel_s, "s"),
            ("travel time of a primary damper", self.damper_travel_s, "s"),
            ("lag of a room dew-point sensor", self.dew_point_lag_s, "s"),
            ("lag of a sensor in a duct or pipe", self.plant_sensor_lag_s, "s"),
            ("lag of a thermostat", self.thermostat_lag_s, "s"),
            ("noise of a dew-point reading, standard deviation", self.noise_k, "K"),
            ("room temperature above set point that opens a coil", self.throttling_k, "K"),
            ("integral time of a thermostat", self.integral_s, "s"),
            ("lag of a coil at its air", self.metal_s, "s"),
            ("part of a coil's surface at the temperature of its entering water", self.inlet_share, "1"),
            ("water that a surface holds before it drips", self.hold_kg_per_m2, "kg/m2"),
            ("water on the inlet part at which the wet switch trips", self.wet_switch_kg_per_m2, "kg/m2"),
            ("air-side film coefficient, for the surface of a coil", self.film_w_per_m2_k, "W/(m2 K)"),
            ("lag of the sensible water behind its set point", self.water_lag_s, "s"),
            ("lag of the drying coil", self.drying_lag_s, "s"),
            ("run-up of the primary-air fans", self.fan_lag_s, "s"),
            ("water velocity on its way to a zone", self.water_m_per_s, "m/s"),
            ("air velocity on its way to a zone", self.air_m_per_s, "m/s"),
            ("control cycle", self.cycle_s, "s"),
        ]
    }
}

/// Why a building cannot be prepared for excursions.
#[derive(Debug, Clone, PartialEq)]
pub enum BuildingError {
    /// A step that is not 1 to 60 s, or does not divide a minute.
    Step {
        /// s.
        step_s: f64,
    },
    /// A room or terminal has no model.
    Prepare(PrepareError),
    /// A terminal cannot be modelled.
    Terminal {
        /// Zone.
        zone: String,
        /// Why.
        reason: String,
    },
    /// No terminal of the design has a coil.
    NoZone,
    /// The settings of the sequence do not go together.
    Setup(SetupError),
    /// The sequence cannot be run.
    Machine(MachineError),
    /// The case is refused.
    Case(CaseError),
}

impl fmt::Display for BuildingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Step { step_s } => {
                write!(f, "a step of {step_s} s is not a whole part of a minute between 1 s and 60 s")
            }
            Self::Prepare(e) => write!(f, "{e}"),
            Self::Terminal { zone, reason } => write!(f, "terminal of zone {zone}: {reason}"),
            Self::NoZone => write!(f, "the design has no terminal whose coil could get wet"),
            Self::Setup(e) => write!(f, "settings of the sequence: {e}"),
            Self::Machine(e) => write!(f, "the sequence cannot be run: {e}"),
            Self::Case(e) => write!(f, "{e}"),
        }
    }
}

impl std::error::Error for BuildingError {}

macro_rules! wrapped {
    ($($inner:ident => $variant:ident),*) => {
        $(impl From<$inner> for BuildingError {
            fn from(e: $inner) -> Self {
                Self::$variant(e)
            }
        })*
    };
}

wrapped!(PrepareError => Prepare, SetupError => Setup, MachineError => Machine, CaseError => Case);

/// The coil of a zone, all units.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Coil {
    /// Air-side conductance at `reference_kg_per_s`, W/K, and its exponent.
    pub air_w_per_k: f64,
    pub reference_kg_per_s: f64,
    pub exponent: f64,
    /// Heat capacity of metal and water, J/K.
    pub capacity_j_per_k: f64,
    /// Surfaces: inlet part and fins.
    pub films: [FilmSettings; 2],
}

/// A zone with its terminals.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Id.
    pub id: String,
    /// Rooms by place, the one with thermostat and sensor first, and their shares of the discharge.
    pub rooms: Vec<(usize, f64)>,
    /// Place in the sequence.
    pub sequence: usize,
    /// Primary air with the damper at minimum and fully open, kg/s.
    pub primary_kg_per_s: [f64; 2],
    /// Design primary air, kg/s.
    pub design_kg_per_s: f64,
    /// Distance from the plant, m.
    pub distance_m: f64,
    pub(crate) table: ZoneTable,
    pub(crate) coil: Coil,
}

impl Zone {
    /// Water that all surfaces of the coils hold before it drips, kg.
    pub fn hold_kg(&self) -> f64 {
        self.coil.films.iter().map(|f| f.area_m2 * f.hold_kg_per_m2).sum()
    }
}

/// Supply of the primary-air unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Delivered, degC.
    pub dry_bulb_c: f64,
    /// Delivered, kg/kg.
    pub humidity_ratio: f64,
    /// Most primary air, kg/s.
    pub most_kg_per_s: f64,
    /// Part of the difference between outdoor and return air that is left behind the recovery: temperature, humidity.
    pub after_recovery: [f64; 2],
}

/// A building prepared for excursions at one step.
#[derive(Debug, Clone)]
pub struct Building {
    /// Step, s.
    pub step_s: f64,
    /// Rooms of the project in order.
    pub rooms: Vec<String>,
    /// Zones with coils.
    pub zones: Vec<Zone>,
    /// Supply of the primary-air unit at design.
    pub supply: Supply,
    /// Settings of the sequence.
    pub setup: Setup,
    /// The sequence.
    pub declaration: Declaration,
    /// What is assumed.
    pub physics: Physics,
    pub(crate) machine: Machine,
    pub(crate) prepared: Prepared,
    pub(crate) reduced: Vec<Arc<RoomModel>>,
    pub(crate) models: Vec<BlockModel<LANES>>,
    pub(crate) outdoor_c: Vec<f64>,
    pub(crate) outdoor_w: Vec<f64>,
    /// Design people by room.
    pub(crate) people: Vec<f64>,
    /// Sensible and latent heat of one person by room: W, kg/s.
    pub(crate) per_person: Vec<[f64; 2]>,
    /// Air volume by room, m3.
    pub(crate) volume_m3: Vec<f64>,
    /// Zone of each room.
    pub(crate) zone_of: Vec<Option<usize>>,
    /// Highest dew point of each room in the hours of design, degC.
    pub(crate) worst_dew_c: Vec<f64>,
    /// Floor of each room, counted in the order of the room list.
    pub(crate) level: Vec<usize>,
    /// Display name of each room.
    pub(crate) names: Vec<String>,
}

impl Building {
    /// Prepares a project with its design for steps of `step_s`, 1 to 60 s, a whole part of a minute.
    ///
    /// # Errors
    /// [`BuildingError`].
    pub fn new(
        project: &Project,
        design: &Design,
        sequence: &SequenceSettings,
        weather: &WeatherYear,
        step_s: f64,
        cache: &mut ReductionCache,
        pool: &rayon::ThreadPool,
    ) -> Result<Self, BuildingError> {
        let part = 60.0 / step_s;
        if !(1.0..=60.0).contains(&step_s) || (part - part.round()).abs() > 1e-9 {
            return Err(BuildingError::Step { step_s });
        }
        if design.terminals.is_empty() {
            return Err(BuildingError::NoZone);
        }
        let physics = Physics::default();
        let prepared = Prepared::new(project, design, weather, 3600.0, cache, pool)?;
        let reduced = short_step_models(project, design, &prepared.weather, step_s, cache, pool)?;
        let mut models = Vec::new();
        for chunk in reduced.chunks(LANES) {
            let list: Vec<BlockRoom<'_>> = chunk
                .iter()
                .map(|r| BlockRoom { room: &r.reduced, constant: r.constant.map(|c| (c, 1.0)) })
                .collect();
            models.push(BlockModel::new(&list).map_err(|e| PrepareError::Room {
                room: project.rooms[models.len() * LANES].id.clone(),
                reason: e.to_string(),
            })?);
        }
        let (setup, declaration) = (sequence.setup.clone(), sequence.declaration.clone());
        let machine = Machine::new(&declaration, &setup)?;
        let zones = zones(project, design, &prepared, sequence, &physics)?;
        let p_pa = design.site.pressure_pa;
        let mut levels: Vec<&str> = Vec::new();
        for r in &project.rooms {
            if !levels.contains(&r.floor.as_str()) {
                levels.push(&r.floor);
            }
        }
        let mut zone_of = vec![None; project.rooms.len()];
        for (z, zone) in zones.iter().enumerate() {
            for (room, _) in &zone.rooms {
                zone_of[*room] = Some(z);
            }
        }
        Ok(Self {
            step_s,
            rooms: project.rooms.iter().map(|r| r.id.clone()).collect(),
            zones,
            supply: supply(design, sequence.delivered_most_m3_per_s * RHO),
            setup,
            declaration,
            physics,
            machine,
            reduced,
            models,
            outdoor_c: weather.dry_bulb_c().to_vec(),
            outdoor_w: weather
                .dew_point_c()
                .iter()
                .map(|c| raw::humidity_ratio_at_dew_point(*c, p_pa))
                .collect(),
            people: project.rooms.iter().map(|r| r.people.value).collect(),
            per_person: project
                .rooms
                .iter()
                .zip(&design.loads.rooms)
                .map(|(r, l)| {
                    let vapour = drycoil_rooms::moisture::raw_vapour_enthalpy_j_per_kg(l.set_point_c);
                    [r.sensible_per_person.value.si(), r.latent_per_person.value.to_watts() / vapour]
                })
                .collect(),
            volume_m3: project.rooms.iter().map(|r| r.volume().to_cubic_metres()).collect(),
            zone_of,
            worst_dew_c: design.needs.iter().map(|n| n.worst_dew_point_c).collect(),
            level: project
                .rooms
                .iter()
                .map(|r| levels.iter().position(|f| *f == r.floor.as_str()).unwrap_or(0))
                .collect(),
            names: project.rooms.iter().map(|r| r.name.clone()).collect(),
            prepared,
        })
    }

    /// Other settings of the sequence for the same zones.
    ///
    /// # Errors
    /// [`BuildingError`].
    pub fn with_parameters(&self, parameters: Parameters) -> Result<Self, BuildingError> {
        let setup = Setup::new(parameters, self.setup.zones().to_vec())?;
        let machine = Machine::new(&self.declaration, &setup)?;
        Ok(Self { setup, machine, ..self.clone() })
    }

    /// Lags of a room.
    pub fn order_of(&self, room: usize) -> usize {
        self.reduced[room].reduced.order()
    }

    /// Pressure of the site, Pa.
    pub fn pressure_pa(&self) -> f64 {
        self.prepared.settings.p_pa
    }

    /// Room dew-point limit of the design, degC.
    pub fn limit_c(&self) -> f64 {
        self.setup.parameters().room_limit.to_celsius()
    }

    /// How a room is served.
    pub fn service(&self, room: usize) -> Service {
        self.prepared.rooms[room].service
    }

    /// A value of the weather between hour centres, at a time in s from the start of the year.
    pub(crate) fn weather_at(series: &[f64], time_s: f64) -> f64 {
        let n = series.len();
        let x = time_s / 3600.0 - 0.5 + n as f64;
        let i = x.floor();
        let part = x - i;
        let (a, b) = (series[i as usize % n], series[(i as usize + 1) % n]);
        a + part * (b - a)
    }

    pub(crate) fn lane(values: &[Lanes], room: usize) -> f64 {
        values[room / LANES][room % LANES]
    }

    /// The day of a case, counted from 0, and the hour of the year at which the warm-up begins.
    ///
    /// # Errors
    /// A weather year without such a day.
    pub fn day_of(&self, case: &Case) -> Result<(usize, usize), CaseError> {
        let p = &self.prepared;
        let days = p.day_types.len();
        let working = |d: usize| p.day_types[d] == DayType::Weekday;
        let before = |d: usize| (d + days - 1) % days;
        let humid = |from: usize, count: usize| {
            (from..from + count).map(|h| self.outdoor_w[h % (days * 24)]).sum::<f64>() / count as f64
        };
        let best = |score: &dyn Fn(usize) -> Option<f64>| {
            (1..days)
                .filter_map(|d| score(d).map(|s| (d, s)))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map(|(d, _)| d)
        };
        let day = match case.day {
            CaseDay::Humid => {
                best(&|d| working(d).then(|| (6..18).map(|h| humid(d * 24 + h, 6)).fold(0.0, f64::max)))
                    .ok_or_else(|| CaseError::Day("the weather year has no working day".to_owned()))?
            }
            CaseDay::HumidAfterRest => {
                best(&|d| (working(d) && !working(before(d))).then(|| humid(d * 24 - 12, 20))).ok_or_else(
                    || CaseError::Day("the weather year has no working day after a rest".to_owned()),
                )?
            }
            CaseDay::Dry => best(&|d| working(d).then(|| -humid(d * 24 + 8, 10)))
                .ok_or_else(|| CaseError::Day("the weather year has no working day".to_owned()))?,
            CaseDay::Date { month, day } => {
                p.calendar.day_of_year(month, day).map(|d| d - 1).filter(|d| *d > 0).ok_or_else(|| {
                    CaseError::Day(format!(
                        "{day}/{month} (day/month) is not a day of the weather year after its first"
                    ))
                })?
            }
        };
        // From the noon of the last working day before a rest, else from the midnight before.
        let mut last = before(day);
        let mut rest = 0;
        while !working(last) && rest < 4 && last > 0 {
            last = before(last);
            rest += 1;
        }
        let begin = if rest > 0 && working(last) { last * 24 + 12 } else { (day - 1) * 24 };
        Ok((day, begin))
    }
}

fn supply(design: &Design, most_kg_per_s: f64) -> Supply {
    let case = design.primary_unit.cases.iter().find(|c| c.case == "dehumidification");
    // Outdoor air is the first point of a case.
    let after_recovery = case.and_then(|c| c.points.first().map(|o| (c, o))).map_or([1.0, 1.0], |(c, o)| {
        let left = |after: f64, exhaust: f64, outdoor: f64| {
            let way = outdoor - exhaust;
            let part = (after - exhaust) / way;
            if way.abs() > 1e-9 && (0.0..=1.0).contains(&part) { part } else { 1.0 }
        };
        [
            left(c.after_exchanger_c, c.exhaust_dry_bulb_c, o.dry_bulb_c),
            left(
                c.after_exchanger_humidity_ratio_kg_per_kg,
                c.exhaust_humidity_ratio_kg_per_kg,
                o.humidity_ratio_kg_per_kg,
            ),
        ]
    });
    Supply {
        dry_bulb_c: design.primary_unit.delivered_dry_bulb_c,
        humidity_ratio: design.dew_point.supply_humidity_ratio_kg_per_kg,
        most_kg_per_s,
        after_recovery,
    }
}

fn zones(
    project: &Project,
    design: &Design,
    prepared: &Prepared,
    sequence: &SequenceSettings,
    physics: &Physics,
) -> Result<Vec<Zone>, BuildingError> {
    let mut floors: Vec<&str> = Vec::new();
    for r in &project.rooms {
        if !floors.contains(&r.floor.as_str()) {
            floors.push(&r.floor);
        }
    }
    let fail = |zone: &str, reason: String| BuildingError::Terminal { zone: zone.to_owned(), reason };
    let mut out: Vec<Zone> = Vec::new();
    for t in &design.terminals {
        let table = prepared
            .terminals
            .iter()
            .find(|p| {
                p.table.is_some()
                    && p.rooms.first().map(|r| prepared.rooms[r.0 as usize].room.as_str())
                        == t.rooms.first().map(String::as_str)
            })
            .ok_or_else(|| fail(&t.zone, "no operating points".to_owned()))?;
        let model = project
            .catalogue
            .models
            .iter()
            .find(|m| m.model == t.model)
            .ok_or_else(|| fail(&t.zone, format!("the catalogue has no {}", t.model)))?;
        let unit = terminal_unit(project, model).map_err(|e| fail(&t.zone, e))?;
        let units = f64::from(t.units);
        let air_w_per_k = units * unit.cooling_coil.air_side.si();
        let area_m2 = air_w_per_k / physics.film_w_per_m2_k;
        let film =
            |share: f64| FilmSettings { area_m2: area_m2 * share, hold_kg_per_m2: physics.hold_kg_per_m2 };
        let rooms: Vec<(usize, f64)> = table.rooms.iter().map(|(r, s)| (*r as usize, *s)).collect();
        let first = rooms.first().map_or(0, |r| r.0);
        let floor = project.rooms[first].floor.as_str();
        let level = floors.iter().position(|f| *f == floor).unwrap_or(0);
        let floor_m2: f64 = project
            .rooms
            .iter()
            .filter(|r| r.floor == floor)
            .map(|r| r.floor_area.value.to_square_metres())
            .sum();
        let on_floor = project.rooms.iter().filter(|r| r.floor == floor);
        let number = on_floor.clone().position(|r| r.id == project.rooms[first].id).unwrap_or(0) as f64;
        let along = (number + 1.0) / (on_floor.count() as f64).max(1.0);
        let design_kg = (units * t.primary_m3_per_s + t.supplementary_m3_per_s) * RHO;
        let least = (units * t.primary_min_m3_per_s * RHO).min(design_kg);
        let place = sequence
            .setup
            .zones()
            .iter()
            .position(|z| z.id == t.zone)
            .ok_or_else(|| fail(&t.zone, "the sequence does not know it".to_owned()))?;
        let most = sequence
            .primary_air
            .iter()
            .find(|z| z.zone == t.zone)
            .map_or(design_kg, |z| (z.raised_m3_per_s * RHO).max(design_kg));
        out.push(Zone {
            id: t.zone.clone(),
            rooms,
            sequence: place,
            primary_kg_per_s: [least, most],
            design_kg_per_s: design_kg,
            distance_m: 10.0 + 4.0 * level as f64 + 1.5 * floor_m2.sqrt() * along,
            table: table.table.clone().ok_or_else(|| fail(&t.zone, "no operating points".to_owned()))?,
            coil: Coil {
                air_w_per_k,
                reference_kg_per_s: units * unit.cooling_coil.reference_air.si(),
                exponent: unit.cooling_coil.air_exponent,
                capacity_j_per_k: air_w_per_k * physics.metal_s,
                films: [film(physics.inlet_share), film(1.0 - physics.inlet_share)],
            },
        });
    }
    Ok(out)
}
