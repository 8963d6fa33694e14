//! Commissioning: test sheets made from cases.
//!
//! A case holds inputs for a time, step after step. The interpreter runs it with the project's numbers, and what it
//! does is what the installed controls must do: each change of stage becomes a row with the time at which it is due,
//! the reason, and the commands that must be seen.

use crate::declare::{Declaration, Direction, Scope};
use crate::machine::{BuildingInputs, Machine, MachineError, StepError, ZoneInputs};
use crate::setup::{Setup, ZoneSensor};
use crate::standard::{AIR_GUARD, SENSOR};
use crate::words::{plain, show};
use drycoil_units::{Time, UnitSystem};
use std::fmt;

/// Inputs that are held for a time.
#[derive(Debug, Clone, PartialEq)]
pub struct CasePhase {
    /// What the tester does.
    pub action: String,
    /// How long the inputs are held.
    pub duration: Time,
    /// Inputs of the building.
    pub building: BuildingInputs,
    /// Inputs of every zone.
    pub zones: Vec<ZoneInputs>,
}

/// A case: phases one after the other, from a controller that has just been started.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Short name.
    pub name: String,
    /// Heading.
    pub title: String,
    /// Phases.
    pub phases: Vec<CasePhase>,
}

/// A row of the test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct TestRow {
    /// Case.
    pub case: String,
    /// Which phase of it, from 0.
    pub phase: usize,
    /// What the tester does.
    pub action: String,
    /// Zone, or `building`.
    pub place: String,
    /// When it is due, counted from the action.
    pub due: Time,
    /// The same in words.
    pub due_text: String,
    /// Stage to be seen.
    pub stage: String,
    /// Why it comes.
    pub reason: String,
    /// Commands and alarms to be seen, each `what: value`.
    pub commands: Vec<String>,
}

/// Why a test sheet cannot be made.
#[derive(Debug, Clone, PartialEq)]
pub enum TestSheetError {
    /// The machine cannot be set up.
    Machine(MachineError),
    /// A step of a case is refused.
    Step {
        /// Case.
        case: String,
        /// Why.
        error: StepError,
    },
    /// A phase does not last a whole, positive number of steps, s.
    Duration {
        /// Case.
        case: String,
        /// Duration.
        duration_s: f64,
    },
}

impl fmt::Display for TestSheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Machine(error) => write!(f, "{error}"),
            Self::Step { case, error } => write!(f, "case `{case}`: {error}"),
            Self::Duration { case, duration_s } => {
                write!(f, "case `{case}`: a phase of {duration_s} s is not a whole, positive number of steps")
            }
        }
    }
}

impl std::error::Error for TestSheetError {}

/// Rows of the test sheet for cases, run at one step length.
///
/// # Errors
/// [`TestSheetError`].
///
/// ```
/// use drycoil_sequence::*;
/// use drycoil_units::{Temperature, Time, UnitSystem};
/// let f = Temperature::fahrenheit;
/// let zone = |id: &str| ZoneSettings { id: id.into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
/// let setup = Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), vec![zone("a"), zone("b")])?;
/// let declaration = dew_point_sequence(WaterOrder::AfterValves);
/// let rows = test_sheet(&declaration, &setup, &standard_cases(&setup), Time::seconds(5.0), UnitSystem::Ip)?;
/// assert!(rows.iter().any(|row| row.place == "a" && row.stage == "coil shut"));
/// assert!(rows.iter().any(|row| row.place == "building" && row.stage == "water follows"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn test_sheet(
    declaration: &Declaration,
    setup: &Setup,
    cases: &[Case],
    step: Time,
    system: UnitSystem,
) -> Result<Vec<TestRow>, TestSheetError> {
    let fresh = Machine::new(declaration, setup).map_err(TestSheetError::Machine)?;
    let regions: Vec<_> = declaration.regions().collect();
    let mut rows = Vec::new();
    for case in cases {
        let mut machine = fresh.clone();
        for (number, phase) in case.phases.iter().enumerate() {
            let steps = phase.duration.to_seconds() / step.to_seconds();
            if !(steps >= 1.0 && (steps - steps.round()).abs() < 1e-6) {
                return Err(TestSheetError::Duration {
                    case: case.name.clone(),
                    duration_s: phase.duration.to_seconds(),
                });
            }
            for k in 1..=steps.round() as usize {
                machine
                    .step(step, &phase.building, &phase.zones)
                    .map_err(|error| TestSheetError::Step { case: case.name.clone(), error })?;
                for change in machine.changes() {
                    let region = regions[change.region].1;
                    // The tester sees stages and what is believed of sensors, not the inner guard.
                    if region.name == AIR_GUARD {
                        continue;
                    }
                    let stage = plain(region.stages[change.to].name);
                    let due = step * k as f64;
                    rows.push(TestRow {
                        case: case.name.clone(),
                        phase: number,
                        action: phase.action.clone(),
                        place: change.zone.map_or("building".to_owned(), |z| setup.zones()[z].id.clone()),
                        due,
                        due_text: show(crate::declare::Kind::Time, due.to_seconds(), system),
                        stage: if region.name == SENSOR { format!("sensor {stage}") } else { stage },
                        reason: machine.reason(change).to_owned(),
                        commands: commands(declaration, &machine, change.zone, system),
                    });
                }
            }
        }
    }
    Ok(rows)
}

fn commands(
    declaration: &Declaration,
    machine: &Machine,
    zone: Option<usize>,
    system: UnitSystem,
) -> Vec<String> {
    let scope = if zone.is_some() { Scope::Zone } else { Scope::Building };
    declaration
        .signals
        .iter()
        .filter(|s| s.direction == Direction::Output && s.scope == scope)
        .filter_map(|s| {
            let value = match zone {
                Some(zone) => machine.zone_value(zone, machine.zone_slot(s.name)?),
                None => machine.building_value(machine.building_slot(s.name)?),
            };
            Some(format!("{}: {}", plain(s.name), show(s.kind, value, system)))
        })
        .collect()
}

/// The inputs that a tester sets at the begin of a phase, with their values: all of them at first, later those that change.
pub fn inputs_to_set(
    declaration: &Declaration,
    setup: &Setup,
    case: &Case,
    phase: usize,
    system: UnitSystem,
) -> Vec<String> {
    let Some(now) = case.phases.get(phase) else { return Vec::new() };
    let before = phase.checked_sub(1).map(|k| &case.phases[k]);
    let mut lines = Vec::new();
    for row in declaration.signals.iter().filter(|s| s.direction == Direction::Input) {
        if row.scope == Scope::Building {
            let value = now.building.value(row.name);
            if let Some(si) = value
                && before.is_none_or(|b| b.building.value(row.name) != value)
            {
                lines.push(format!("{}: {}", row.words, show(row.kind, si, system)));
            }
            continue;
        }
        // Zones that get the same value share a line.
        let mut groups: Vec<(f64, Vec<&str>)> = Vec::new();
        for (k, zone) in now.zones.iter().enumerate() {
            let value = zone.value(row.name);
            let Some(si) = value else { continue };
            if before.is_some_and(|b| b.zones[k].value(row.name) == value) {
                continue;
            }
            match groups.iter_mut().find(|(v, _)| *v == si) {
                Some((_, ids)) => ids.push(&setup.zones()[k].id),
                None => groups.push((si, vec![&setup.zones()[k].id])),
            }
        }
        for (si, ids) in groups {
            let which = if ids.len() == now.zones.len() && ids.len() > 1 {
                "all zones".to_owned()
            } else {
                format!("zone {}", ids.join(", "))
            };
            lines.push(format!("{which}, {}: {}", row.words, show(row.kind, si, system)));
        }
    }
    lines
}

/// The zone on which cases try what concerns one zone: of those with a sensor of their own the one whose sensor the most
/// neighbours judge.
pub fn trial_zone(setup: &Setup) -> usize {
    let zones = setup.zones();
    let judges =
        |k: usize| zones[k].neighbours.iter().filter(|&&n| zones[n].sensor == ZoneSensor::Own).count();
    (0..zones.len())
        .filter(|&k| zones[k].sensor == ZoneSensor::Own)
        .max_by_key(|&k| (judges(k), std::cmp::Reverse(k)))
        .unwrap_or(0)
}

/// Cases for every setup, of which the installed controls are tested by setting inputs: a humid start, a rise in one
/// zone, a full room, a rise in all, wet primary air, a stuck valve, a drifted sensor, failed sensors, a power dip, life
/// safety and smoke control. Names are those of the cases of the excursion simulation where both have one.
///
/// Each begins with a start-up in a dry building and ends there again. Levels and times follow from the parameters, so
/// that each stage is reached whatever its delay. What concerns one zone is tried on [`trial_zone`].
pub fn standard_cases(setup: &Setup) -> Vec<Case> {
    let p = setup.parameters();
    let count = setup.zones().len();
    let tried = trial_zone(setup);
    let of = |zone: usize, name: &str| setup.zone_value(zone, name).unwrap_or(f64::NAN);
    let limit = of(tried, "room_limit");
    // Dry for every zone, whatever its own limit.
    let dry = (0..count).map(|zone| of(zone, "drying_limit")).fold(limit, f64::min) - 1.0;
    let air = p.primary_wet_limit.to_celsius() - p.primary_wet_hysteresis.to_kelvin() - 1.0;
    let building = BuildingInputs {
        run_request: true,
        life_safety: false,
        smoke_control: false,
        primary_dew_point_c: air.min(limit - p.guard_margin.to_kelvin() - p.guard_hysteresis.to_kelvin()),
        primary_dew_point_good: true,
        drying_coil_temperature_c: air,
        drying_coil_temperature_good: true,
        water_temperature_c: p.water_design.to_celsius(),
        water_temperature_good: true,
    };
    let room = |dew_point_c: f64| ZoneInputs {
        dew_point_c,
        dew_point_good: true,
        room_temperature_c: p.water_ceiling.to_celsius() + 6.0,
        room_temperature_good: true,
        occupied: true,
        ventilation_demand: 0.25,
        wet_switch: false,
        pressure_priority: false,
    };
    let id = &setup.zones()[tried].id;
    let notice = limit + p.more_air_rise.to_kelvin() / 2.0;
    let risk = p.water_design.to_celsius() - p.shut_margin.to_kelvin() + 0.3;
    let alarm = (limit + p.more_air_rise.to_kelvin() + risk - 0.3) / 2.0;
    let all = |z: ZoneInputs| vec![z; count];
    let one = |z: ZoneInputs| {
        let mut zones = all(room(dry));
        zones[tried] = z;
        zones
    };
    // Whole minutes, two more than the delays that pass one after the other.
    let minutes = |delays: &[Time]| delays.iter().map(|t| (t.to_seconds() / 60.0).ceil()).sum::<f64>() + 2.0;
    let fall = (p.water_ceiling - p.water_design).to_kelvin() / p.water_fall_per_minute.to_kelvin();
    let start = minutes(&[p.start_delay, p.drying_delay, p.guard_delay]);
    let back = minutes(&[
        p.start_delay,
        p.drying_delay,
        p.drying_delay,
        p.shut_release_delay,
        p.release_delay,
        p.release_delay,
        p.water_release_delay,
        p.primary_wet_release_delay,
        p.primary_start_delay,
        p.sensor_return_delay,
        p.suspect_delay,
        Time::seconds(60.0 * fall),
    ]);
    let phase = |action: String, minutes: f64, building: BuildingInputs, zones: Vec<ZoneInputs>| CasePhase {
        action,
        duration: Time::seconds(minutes * 60.0),
        building,
        zones,
    };
    let begin = || phase("start the system with all rooms dry".to_owned(), start, building, all(room(dry)));
    let case = |name: &str, title: &str, first: Option<CasePhase>, middle: Vec<CasePhase>| {
        let mut phases = vec![first.unwrap_or_else(begin)];
        phases.extend(middle);
        phases.push(phase("put all inputs back to dry".to_owned(), back, building, all(room(dry))));
        Case { name: name.to_owned(), title: title.to_owned(), phases }
    };
    let humid = p.start_delay.to_seconds() + p.drying_time_limit.to_seconds().min(1200.0);
    let wet = p.primary_wet_limit.to_celsius() + 1.0;
    let drifted = dry - p.suspect_difference.to_kelvin() - 1.0;
    vec![
        case(
            "humid-start",
            "Humid start after a rest",
            Some(phase(
                "start the system with all rooms humid; coil valves stay shut".to_owned(),
                (humid / 60.0).ceil(),
                building,
                all(room(limit + 2.0)),
            )),
            Vec::new(),
        ),
        case(
            "door-open",
            "The dew point of one zone rises",
            None,
            vec![
                phase(
                    format!("raise the dew point of zone {id} above its limit"),
                    minutes(&[p.notice_delay]),
                    building,
                    one(room(notice)),
                ),
                phase(
                    format!("raise the dew point of zone {id} to the alarm level"),
                    minutes(&[p.more_air_delay, p.guard_delay]),
                    building,
                    one(room(alarm)),
                ),
                phase(
                    format!("raise the dew point of zone {id} until the water is too cold for it"),
                    minutes(&[p.shut_delay]),
                    building,
                    one(room(risk)),
                ),
            ],
        ),
        case(
            "meeting-full",
            "A full room: alarm and release without a shut valve",
            None,
            vec![phase(
                format!(
                    "raise the dew point of zone {id} to the alarm level at once, with full ventilation demand"
                ),
                minutes(&[p.notice_delay, p.more_air_delay, p.guard_delay]),
                building,
                one(ZoneInputs { ventilation_demand: 1.0, ..room(alarm) }),
            )],
        ),
        case(
            "humid-front",
            "The dew point of all zones rises",
            None,
            vec![phase(
                "raise all dew points until the water is too cold for them".to_owned(),
                minutes(&[
                    p.notice_delay,
                    p.more_air_delay,
                    p.guard_delay,
                    p.water_follow_delay,
                    p.suspect_delay,
                ]),
                building,
                all(room(risk)),
            )],
        ),
        case(
            "drying-lost",
            "The drying coil loses its water: primary air becomes wet",
            None,
            vec![phase(
                "raise dew point and drying-coil temperature of the primary air".to_owned(),
                minutes(&[p.primary_wet_delay]),
                BuildingInputs { primary_dew_point_c: wet, drying_coil_temperature_c: wet, ..building },
                all(room(dry)),
            )],
        ),
        case(
            "valve-stuck",
            "A coil valve sticks open: the wet switch trips",
            None,
            vec![phase(
                format!(
                    "wet the switch of zone {id} with its coil valve blocked open; the valve is shut by wire"
                ),
                5.0,
                building,
                one(ZoneInputs { wet_switch: true, ..room(dry) }),
            )],
        ),
        case(
            "sensor-drifts-low",
            "A dew-point sensor drifts low",
            None,
            vec![phase(
                format!("lower the dew-point reading of zone {id} far below those of its neighbours"),
                minutes(&[p.suspect_delay]),
                building,
                one(room(drifted)),
            )],
        ),
        case(
            "sensor-drifts-high",
            "A dew-point sensor drifts high: its coil is shut, the building is not warmed",
            None,
            vec![phase(
                format!("raise the dew-point reading of zone {id} far above those of its neighbours"),
                minutes(&[p.suspect_delay, p.notice_delay, p.more_air_delay, p.shut_delay]),
                building,
                one(room(risk.max(dry + p.suspect_difference.to_kelvin() + 1.0))),
            )],
        ),
        case(
            "water-cold",
            "The sensible water comes too cold",
            None,
            vec![phase(
                "let the sensible-water reading fall to the dew point of the rooms".to_owned(),
                minutes(&[p.shut_delay]),
                BuildingInputs {
                    water_temperature_c: (dry + p.shut_margin.to_kelvin() - 0.3)
                        .max(p.water_sensor_low.to_celsius()),
                    ..building
                },
                all(room(dry)),
            )],
        ),
        case(
            "sensor-failed",
            "All dew-point sensors fail",
            None,
            vec![phase(
                "disconnect the dew-point sensors of all zones".to_owned(),
                5.0,
                building,
                all(ZoneInputs { dew_point_good: false, ..room(dry) }),
            )],
        ),
        case(
            "plant-sensors",
            "The sensors of water and primary air fail",
            None,
            vec![phase(
                "disconnect the sensors of sensible water and of the primary air".to_owned(),
                minutes(&[p.shut_delay]),
                BuildingInputs {
                    primary_dew_point_good: false,
                    drying_coil_temperature_good: false,
                    water_temperature_good: false,
                    ..building
                },
                all(room(dry)),
            )],
        ),
        case(
            "power-dip",
            "Power dip: the system stops and starts anew",
            None,
            vec![phase(
                "take away the request for operation".to_owned(),
                minutes(&[p.start_delay]),
                BuildingInputs { run_request: false, ..building },
                all(room(dry)),
            )],
        ),
        case(
            "life-safety",
            "Life safety takes priority",
            None,
            vec![phase(
                "set the fire alarm input; no damper may follow this sequence".to_owned(),
                5.0,
                BuildingInputs { life_safety: true, ..building },
                all(room(dry)),
            )],
        ),
        case(
            "smoke-control",
            "Smoke control takes priority",
            None,
            vec![phase(
                "set the smoke-control input; no damper may follow this sequence".to_owned(),
                5.0,
                BuildingInputs { smoke_control: true, ..building },
                all(room(dry)),
            )],
        ),
    ]
}
