//! Commissioning: test sheets made from cases.
//!
//! A case holds inputs for a time, step after step. The interpreter runs it with the project's numbers, and what it
//! does is what the installed controls must do: each change of stage becomes a row with the time at which it is due,
//! the reason, and the commands that must be seen.

use crate::declare::{Declaration, Direction, Scope};
use crate::machine::{BuildingInputs, Machine, MachineError, StepError, ZoneInputs};
use crate::setup::Setup;
use crate::standard::{BUILDING_STAGE, ZONE_STAGE};
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
    /// Name.
    pub name: String,
    /// Phases.
    pub phases: Vec<CasePhase>,
}

/// A row of the test sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct TestRow {
    /// Case.
    pub case: String,
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
/// let zone = |id: &str| ZoneSettings { id: id.into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![] };
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
        for phase in &case.phases {
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
                    // The tester sees stages, not the inner guard.
                    if ![ZONE_STAGE, BUILDING_STAGE].contains(&region.name) {
                        continue;
                    }
                    let due = step * k as f64;
                    rows.push(TestRow {
                        case: case.name.clone(),
                        action: phase.action.clone(),
                        place: change.zone.map_or("building".to_owned(), |z| setup.zones()[z].id.clone()),
                        due,
                        due_text: show(crate::declare::Kind::Time, due.to_seconds(), system),
                        stage: plain(region.stages[change.to].name),
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

/// Cases for every setup: a rise in one zone, a rise in all, wet primary air, a wet coil, failed sensors, priority.
///
/// Each begins with a start-up in a dry building and ends there again. Levels follow from the parameters.
pub fn standard_cases(setup: &Setup) -> Vec<Case> {
    let p = setup.parameters();
    let limit = p.room_limit.to_celsius();
    let dry = p.drying_limit.to_celsius() - 1.0;
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
    let count = setup.zones().len();
    let notice = limit + p.more_air_rise.to_kelvin() / 2.0;
    let risk = p.water_design.to_celsius() - p.shut_margin.to_kelvin() + 0.3;
    let alarm = (limit + p.more_air_rise.to_kelvin() + risk - 0.3) / 2.0;
    let all = |z: ZoneInputs| vec![z; count];
    let one = |z: ZoneInputs| {
        let mut zones = all(room(dry));
        zones[0] = z;
        zones
    };
    let phase = |action: &str, minutes: f64, building: BuildingInputs, zones: Vec<ZoneInputs>| CasePhase {
        action: action.to_owned(),
        duration: Time::seconds(minutes * 60.0),
        building,
        zones,
    };
    let case = |name: &str, middle: Vec<CasePhase>| {
        let mut phases = vec![phase("start the system with all rooms dry", 15.0, building, all(room(dry)))];
        phases.extend(middle);
        phases.push(phase("put all inputs back to dry", 60.0, building, all(room(dry))));
        Case { name: name.to_owned(), phases }
    };
    let wet = p.primary_wet_limit.to_celsius() + 1.0;
    vec![
        case(
            "dew point of one zone rises",
            vec![
                phase(
                    "raise the dew point of the first zone above its limit",
                    10.0,
                    building,
                    one(room(notice)),
                ),
                phase("raise it to the alarm level", 10.0, building, one(room(alarm))),
                phase("raise it until the water is too cold for it", 10.0, building, one(room(risk))),
            ],
        ),
        case(
            "dew point of all zones rises",
            vec![phase(
                "raise all dew points until the water is too cold for them",
                20.0,
                building,
                all(room(risk)),
            )],
        ),
        case(
            "primary air becomes wet",
            vec![phase(
                "raise dew point and drying-coil temperature of the primary air",
                10.0,
                BuildingInputs { primary_dew_point_c: wet, drying_coil_temperature_c: wet, ..building },
                all(room(dry)),
            )],
        ),
        case(
            "wet switch trips",
            vec![phase(
                "trip the wet switch of the first zone; its valve shuts by wire",
                5.0,
                building,
                one(ZoneInputs { wet_switch: true, ..room(dry) }),
            )],
        ),
        case(
            "dew-point sensors fail",
            vec![phase(
                "disconnect the dew-point sensors of all zones",
                5.0,
                building,
                all(ZoneInputs { dew_point_good: false, ..room(dry) }),
            )],
        ),
        case(
            "life safety takes priority",
            vec![phase(
                "set the fire alarm input; no damper may follow this sequence",
                5.0,
                BuildingInputs { life_safety: true, ..building },
                all(room(dry)),
            )],
        ),
    ]
}
