//! What an excursion means: times, margins, water, cooling lost, recovery, and whether the criteria are met.

use super::building::{Building, BuildingError};
use super::case::Case;
use super::simulate::{Controls, Ready, Run, RunError, Settings, Span, ready, run};
use drycoil_air::raw;
use drycoil_sequence::{MachineError, SetupError};
use rayon::prelude::*;
use serde::Serialize;
use std::fmt;

/// What an excursion must not exceed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Criteria {
    /// Water that drips, kg.
    pub dripped_kg: f64,
    /// Largest film over what a surface holds.
    pub film_share: f64,
    /// Time after the end of the cause until everything is at rest again, s.
    pub recovery_s: f64,
    /// Cooling of all coils that the sequence loses, share: what perfect knowledge of every dew point would have kept dry.
    pub cooling_lost_share: f64,
}

impl Default for Criteria {
    fn default() -> Self {
        Self { dripped_kg: 0.0, film_share: 1.0, recovery_s: 3600.0, cooling_lost_share: 0.1 }
    }
}

/// A criterion and how it came out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CriterionResult {
    /// What is judged, in words.
    pub criterion: String,
    /// Value; null when it never came to rest.
    pub value: Option<f64>,
    /// Most allowed.
    pub allowed: f64,
    /// Unit: kg, s or 1.
    pub unit: String,
    /// Whether it is met.
    pub passed: bool,
}

/// A stage of a zone or of the building, and how long it lasted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageRecord {
    /// Stage.
    pub stage: String,
    /// Begin, from the start of the case.
    pub from_s: f64,
    /// End.
    pub to_s: f64,
    /// Why it was entered.
    pub reason: String,
}

impl From<&Span> for StageRecord {
    fn from(s: &Span) -> Self {
        Self { stage: s.stage.replace('_', " "), from_s: s.from_s, to_s: s.to_s, reason: s.reason.to_owned() }
    }
}

/// Water on the coil of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct WaterOnCoil {
    /// Smallest water less dew point of the coil air, while water was in the coil or free to enter; null when it never
    /// was.
    pub smallest_margin_k: Option<f64>,
    /// Time in which that margin was below zero.
    pub below_dew_point_s: f64,
    /// Time with water on the coil.
    pub wet_s: f64,
    /// Water that formed.
    pub condensate_kg: f64,
    /// Water that evaporated again.
    pub evaporated_kg: f64,
    /// Water that dripped.
    pub dripped_kg: f64,
    /// Water on the coil at the end.
    pub left_kg: f64,
    /// Largest film of a surface, kg/m2.
    pub most_film_kg_per_m2: f64,
}

/// One zone in an excursion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneResult {
    /// Zone.
    pub zone: String,
    /// Rooms, the one with thermostat and sensor first.
    pub rooms: Vec<String>,
    /// First sign of the sequence after the trigger; null without.
    pub noticed_s: Option<f64>,
    /// Highest dew point of the coil air after the trigger.
    pub peak_dew_point_c: f64,
    /// When, from the start of the case.
    pub peak_s: f64,
    /// Highest room temperature in hours of use.
    pub warmest_c: Option<f64>,
    /// Water on the coil.
    pub water: WaterOnCoil,
    /// The same without the sequence.
    pub without_sequence: WaterOnCoil,
    /// Cooling by the coil.
    pub cooling_j: f64,
    /// Cooling by the coil without the sequence.
    pub cooling_without_sequence_j: f64,
    /// Cooling lost over that without the sequence; negative where more was given; null without cooling.
    pub cooling_lost_share: Option<f64>,
    /// Time from the end of the cause to rest; 0 when nothing was upset afterwards, null when it did not come to rest.
    pub recovery_s: Option<f64>,
    /// Stages.
    pub stages: Vec<StageRecord>,
}

/// Heat and water of a room, from the start of the case to its end.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoomResult {
    /// Room.
    pub room: String,
    /// Highest dew point.
    pub peak_dew_point_c: f64,
    /// Water that primary air brought (negative: took).
    pub primary_kg: f64,
    /// Water by leakage and doors.
    pub outdoor_kg: f64,
    /// Water by air of other rooms and of the terminal.
    pub other_rooms_kg: f64,
    /// Water released by people and processes.
    pub released_kg: f64,
    /// Water taken by the coil (negative: given back).
    pub to_coil_kg: f64,
    /// Growth of the water held.
    pub stored_kg: f64,
    /// Water that wet surfaces of the room while its air was saturated.
    pub on_surfaces_kg: f64,
    /// Water missing.
    pub water_residual_kg: f64,
    /// Heat missing.
    pub heat_residual_j: f64,
}

/// Residuals of all balances.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ExcursionClosure {
    /// Largest water missing in a room over its largest term, the water held among them.
    pub room_water: f64,
    /// Largest heat missing in a room over its largest term.
    pub room_heat: f64,
    /// Largest water missing on a coil, over what formed; 0 where none formed.
    pub coil_water: f64,
}

/// A case and what came of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExcursionResult {
    /// Name.
    pub case: String,
    /// Heading.
    pub title: String,
    /// What happens.
    pub story: String,
    /// Month of the day, 1 to 12.
    pub month: u8,
    /// Day of the month.
    pub day: u8,
    /// Hour of the day at which the case begins.
    pub from_hour: u32,
    /// Length.
    pub length_s: f64,
    /// Step.
    pub step_s: f64,
    /// First upset, or the start of operation, from the start of the case.
    pub trigger_s: f64,
    /// End of the last upset, or the first hour of use.
    pub cause_ends_s: f64,
    /// Whether all criteria are met.
    pub passed: bool,
    /// Criteria.
    pub criteria: Vec<CriterionResult>,
    /// Zone with the smallest dew-point margin.
    pub worst_zone: String,
    /// Smallest dew-point margin of any zone; null when no coil was ever open.
    pub smallest_margin_k: Option<f64>,
    /// First sign in any zone.
    pub noticed_s: Option<f64>,
    /// Highest dew point of any zone.
    pub peak_dew_point_c: f64,
    /// Water that formed on all coils, with the sequence and without.
    pub condensate_kg: f64,
    /// Without.
    pub condensate_without_sequence_kg: f64,
    /// Water that dripped, with the sequence and without.
    pub dripped_kg: f64,
    /// Without.
    pub dripped_without_sequence_kg: f64,
    /// Cooling lost by all coils; null without cooling.
    pub cooling_lost_share: Option<f64>,
    /// The part of it that no control could have kept dry, because the upset itself leaves air too humid or a plant
    /// without water; null where the criteria are met without asking for it.
    pub cooling_lost_to_upset_share: Option<f64>,
    /// Recovery under perfect knowledge of every dew point; null where that was not asked for, or it does not come to rest.
    pub best_recovery_s: Option<f64>,
    /// Time from the end of the cause to rest everywhere; null when it did not come to rest.
    pub recovery_s: Option<f64>,
    /// Stages of the building.
    pub building_stages: Vec<StageRecord>,
    /// Zones, smallest margin first.
    pub zones: Vec<ZoneResult>,
    /// Rooms in the order of the room list.
    pub rooms: Vec<RoomResult>,
    /// Residuals.
    pub closure: ExcursionClosure,
}

/// Why an excursion has no result.
#[derive(Debug, Clone, PartialEq)]
pub enum ExcursionError {
    /// The building cannot be prepared.
    Building(BuildingError),
    /// A case cannot be run.
    Case {
        /// Case.
        case: String,
        /// Why.
        error: RunError,
    },
}

impl fmt::Display for ExcursionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Building(e) => write!(f, "{e}"),
            Self::Case { case, error } => write!(f, "case {case}: {error}"),
        }
    }
}

impl std::error::Error for ExcursionError {}

impl From<BuildingError> for ExcursionError {
    fn from(e: BuildingError) -> Self {
        Self::Building(e)
    }
}

/// Why samples of a case have no result.
#[derive(Debug, Clone, PartialEq)]
pub enum CaseRunError {
    /// The case cannot be run.
    Run(RunError),
    /// Settings that were drawn do not go together.
    Setup(SetupError),
    /// The sequence cannot be run.
    Machine(MachineError),
    /// A number of samples that is not 30 to 100 000.
    Samples(usize),
}

impl fmt::Display for CaseRunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Run(e) => write!(f, "{e}"),
            Self::Setup(e) => write!(f, "settings of the sequence: {e}"),
            Self::Machine(e) => write!(f, "the sequence cannot be run: {e}"),
            Self::Samples(n) => write!(f, "{n} samples, allowed 30 to 100000"),
        }
    }
}

impl std::error::Error for CaseRunError {}

/// A case with its runs.
#[derive(Debug, Clone)]
pub struct Excursion {
    /// The case.
    pub case: Case,
    /// What it means.
    pub result: ExcursionResult,
    /// The run with the sequence.
    pub run: Run,
}

fn on_coil(run: &Run, zone: usize) -> WaterOnCoil {
    let z = &run.zones[zone];
    let sum = |f: &dyn Fn(&super::film::Film) -> f64| z.films.iter().map(f).sum::<f64>();
    WaterOnCoil {
        smallest_margin_k: z.smallest_margin_k,
        below_dew_point_s: z.below_s,
        wet_s: z.films.iter().map(|f| f.wet_s).fold(0.0, f64::max),
        condensate_kg: sum(&|f| f.formed_kg),
        evaporated_kg: sum(&|f| f.evaporated_kg),
        dripped_kg: sum(&|f| f.dripped_kg),
        left_kg: sum(&|f| f.on_coil_kg),
        most_film_kg_per_m2: z.most_kg_per_m2,
    }
}

fn lost(with: f64, without: f64) -> Option<f64> {
    (without > 1e3).then(|| 1.0 - with / without)
}

fn cooling_of(run: &Run) -> f64 {
    run.zones.iter().map(|z| z.cooling_j).sum()
}

/// Time from the end of the cause to rest in a zone; none when it does not come to rest.
fn recovery_of(b: &Building, run: &Run, zone: usize) -> Option<f64> {
    let end_s = run.steps as f64 * b.step_s;
    match run.zones[zone].last_upset_s {
        Some(last) if last >= end_s - b.step_s => None,
        Some(last) => Some((last - run.cause_ends_s).max(0.0)),
        None => Some(0.0),
    }
}

fn recovery_of_all(b: &Building, run: &Run) -> Option<f64> {
    (0..run.zones.len()).try_fold(0.0_f64, |most, zone| recovery_of(b, run, zone).map(|r| most.max(r)))
}

/// Whether it must be asked what no control could have done better.
fn asks_for_the_best(b: &Building, with: &Run, without: &Run, criteria: &Criteria) -> bool {
    lost(cooling_of(with), cooling_of(without)).is_some_and(|share| share >= criteria.cooling_lost_share)
        || recovery_of_all(b, with).is_none_or(|s| s > criteria.recovery_s)
}

/// What the runs of a case mean: with the sequence, with thermostats alone, and, where that was asked for, under perfect
/// knowledge.
pub fn judge(
    b: &Building,
    case: &Case,
    with: &Run,
    without: &Run,
    best: Option<&Run>,
    criteria: &Criteria,
) -> ExcursionResult {
    let end_s = with.steps as f64 * b.step_s;
    let mut zones: Vec<ZoneResult> = (0..b.zones.len())
        .map(|i| {
            let (zone, r) = (&b.zones[i], &with.zones[i]);
            ZoneResult {
                zone: zone.id.clone(),
                rooms: zone.rooms.iter().map(|(room, _)| b.rooms[*room].clone()).collect(),
                noticed_s: r.noticed_s,
                peak_dew_point_c: r.peak_dew_point_c,
                peak_s: r.peak_s,
                warmest_c: r.warmest_c.is_finite().then_some(r.warmest_c),
                water: on_coil(with, i),
                without_sequence: on_coil(without, i),
                cooling_j: r.cooling_j,
                cooling_without_sequence_j: without.zones[i].cooling_j,
                cooling_lost_share: lost(r.cooling_j, without.zones[i].cooling_j),
                recovery_s: recovery_of(b, with, i),
                stages: r.stages.iter().map(Into::into).collect(),
            }
        })
        .collect();
    zones.sort_by(|a, b| {
        let m = |z: &ZoneResult| z.water.smallest_margin_k.unwrap_or(f64::INFINITY);
        m(a).total_cmp(&m(b))
    });
    let sum = |f: &dyn Fn(&ZoneResult) -> f64| zones.iter().map(f).sum::<f64>();
    let dripped_kg = sum(&|z| z.water.dripped_kg);
    let film = zones.iter().map(|z| z.water.most_film_kg_per_m2).fold(0.0, f64::max);
    let film_share = if b.physics.hold_kg_per_m2 > 0.0 { film / b.physics.hold_kg_per_m2 } else { film };
    let recovery_s = zones.iter().try_fold(0.0_f64, |m, z| z.recovery_s.map(|r| m.max(r)));
    let cooling_lost_share = lost(sum(&|z| z.cooling_j), sum(&|z| z.cooling_without_sequence_j));
    let cooling_lost_to_upset_share =
        best.and_then(|best| lost(cooling_of(best), cooling_of(without))).map(|share| share.max(0.0));
    // What is lost to the upset is no fault of the sequence; what it gains over the best run is no merit.
    let lost_by_sequence = cooling_lost_share.map(|share| share - cooling_lost_to_upset_share.unwrap_or(0.0));
    let criterion = |what: &str, value: Option<f64>, allowed: f64, unit: &str, passed: bool| {
        CriterionResult { criterion: what.to_owned(), value, allowed, unit: unit.to_owned(), passed }
    };
    let criteria = vec![
        criterion(
            "water that drips",
            Some(dripped_kg),
            criteria.dripped_kg,
            "kg",
            dripped_kg <= criteria.dripped_kg,
        ),
        criterion(
            "largest film over what the coil holds",
            Some(film_share),
            criteria.film_share,
            "1",
            film_share < criteria.film_share,
        ),
        criterion(
            "recovery after the end of the cause",
            recovery_s,
            criteria.recovery_s,
            "s",
            recovery_s.is_some_and(|r| r <= criteria.recovery_s),
        ),
        criterion(
            "cooling lost by the sequence",
            lost_by_sequence,
            criteria.cooling_lost_share,
            "1",
            lost_by_sequence.is_none_or(|l| l < criteria.cooling_lost_share),
        ),
    ];
    let p_pa = b.pressure_pa();
    let rooms: Vec<RoomResult> = with
        .rooms
        .iter()
        .zip(&b.rooms)
        .map(|(r, id)| RoomResult {
            room: id.clone(),
            peak_dew_point_c: raw::dew_point_c(r.most_w, p_pa),
            primary_kg: r.primary_kg,
            outdoor_kg: r.outdoor_kg,
            other_rooms_kg: r.other_rooms_kg,
            released_kg: r.released_kg,
            to_coil_kg: r.to_coil_kg,
            stored_kg: r.stored_kg,
            on_surfaces_kg: r.on_surfaces_kg,
            water_residual_kg: r.water_residual_kg,
            heat_residual_j: r.heat_residual_j,
        })
        .collect();
    let over = |residual: f64, terms: &[f64]| {
        let most = terms.iter().fold(0.0_f64, |m, t| m.max(t.abs()));
        if most > 0.0 { residual.abs() / most } else { residual.abs() }
    };
    let closure = ExcursionClosure {
        room_water: with
            .rooms
            .iter()
            .map(|r| {
                let terms = [
                    r.primary_kg,
                    r.outdoor_kg,
                    r.other_rooms_kg,
                    r.released_kg,
                    r.to_coil_kg,
                    r.stored_kg,
                    r.held_kg,
                ];
                over(r.water_residual_kg, &terms)
            })
            .fold(0.0, f64::max),
        room_heat: with
            .rooms
            .iter()
            .map(|r| over(r.heat_residual_j, &[r.system_j, r.gains_j, r.boundaries_j, r.stored_j]))
            .fold(0.0, f64::max),
        coil_water: with
            .zones
            .iter()
            .chain(&without.zones)
            .flat_map(|z| &z.films)
            .map(|f| over(f.residual_kg(), &[f.formed_kg]))
            .fold(0.0, f64::max),
    };
    let stamp = b.prepared.calendar.stamp(with.day * 24);
    ExcursionResult {
        case: case.name.clone(),
        title: case.title.clone(),
        story: case.story.clone(),
        month: stamp.map_or(0, |s| s.month),
        day: stamp.map_or(0, |s| s.day),
        from_hour: (case.from_s / 3600.0).round() as u32,
        length_s: end_s,
        step_s: b.step_s,
        trigger_s: with.trigger_s,
        cause_ends_s: with.cause_ends_s,
        passed: criteria.iter().all(|c| c.passed),
        criteria,
        worst_zone: zones[0].zone.clone(),
        smallest_margin_k: zones[0].water.smallest_margin_k,
        noticed_s: zones.iter().filter_map(|z| z.noticed_s).min_by(f64::total_cmp),
        peak_dew_point_c: zones.iter().map(|z| z.peak_dew_point_c).fold(f64::NEG_INFINITY, f64::max),
        condensate_kg: sum(&|z| z.water.condensate_kg),
        condensate_without_sequence_kg: sum(&|z| z.without_sequence.condensate_kg),
        dripped_kg,
        dripped_without_sequence_kg: sum(&|z| z.without_sequence.dripped_kg),
        cooling_lost_share,
        cooling_lost_to_upset_share,
        best_recovery_s: best.and_then(|best| recovery_of_all(b, best)),
        recovery_s,
        building_stages: with.building_stages.iter().map(Into::into).collect(),
        zones,
        rooms,
        closure,
    }
}

/// Runs cases, with the sequence and without, on the threads of the pool; cases of one day and begin share their
/// warm-up. `history_s` is the interval of what is remembered of the run with the sequence.
///
/// # Errors
/// [`ExcursionError`]: the first case, in their order, that cannot be run.
pub fn excursions(
    b: &Building,
    cases: &[Case],
    criteria: &Criteria,
    history_s: Option<f64>,
    pool: &rayon::ThreadPool,
) -> Result<Vec<Excursion>, ExcursionError> {
    let wrap = |case: &Case, error: RunError| ExcursionError::Case { case: case.name.clone(), error };
    let mut starts: Vec<usize> = Vec::new();
    let mut start_of = Vec::new();
    for (i, case) in cases.iter().enumerate() {
        let same = |k: &usize| {
            let other = &cases[*k];
            (other.day, other.from_s, other.length_s) == (case.day, case.from_s, case.length_s)
        };
        let place = starts.iter().position(same).unwrap_or_else(|| {
            starts.push(i);
            starts.len() - 1
        });
        start_of.push(place);
    }
    let readied: Vec<Result<Ready, ExcursionError>> = pool.install(|| {
        starts.par_iter().map(|i| ready(b, &cases[*i]).map_err(|e| wrap(&cases[*i], e))).collect()
    });
    let readied: Vec<Ready> = readied.into_iter().collect::<Result<_, _>>()?;
    let both = [Controls::Sequence, Controls::ThermostatsAlone];
    let jobs: Vec<(usize, Controls)> = (0..cases.len()).flat_map(|i| both.map(|c| (i, c))).collect();
    let runs: Vec<Result<Run, ExcursionError>> = pool.install(|| {
        jobs.par_iter()
            .with_max_len(1)
            .map(|(i, controls)| {
                let history_s = if *controls == Controls::Sequence { history_s } else { None };
                let settings = Settings { history_s, ..Settings::of(b, *controls) };
                run(b, &readied[start_of[*i]], &cases[*i], &settings, None).map_err(|e| wrap(&cases[*i], e))
            })
            .collect()
    });
    let runs: Vec<Run> = runs.into_iter().collect::<Result<_, _>>()?;
    // Only where a criterion is missed does it matter what no control could have kept.
    let doubtful: Vec<usize> =
        (0..cases.len()).filter(|i| asks_for_the_best(b, &runs[2 * i], &runs[2 * i + 1], criteria)).collect();
    let best: Vec<Result<Run, ExcursionError>> = pool.install(|| {
        doubtful
            .par_iter()
            .with_max_len(1)
            .map(|i| {
                let settings = Settings::of(b, Controls::PerfectKnowledge);
                run(b, &readied[start_of[*i]], &cases[*i], &settings, None).map_err(|e| wrap(&cases[*i], e))
            })
            .collect()
    });
    let best: Vec<Run> = best.into_iter().collect::<Result<_, _>>()?;
    let mut runs = runs.into_iter();
    let mut out = Vec::new();
    for (i, case) in cases.iter().enumerate() {
        let (Some(with), Some(without)) = (runs.next(), runs.next()) else { break };
        let best = doubtful.iter().position(|d| *d == i).map(|k| &best[k]);
        let result = judge(b, case, &with, &without, best, criteria);
        out.push(Excursion { case: case.clone(), result, run: with });
    }
    Ok(out)
}
