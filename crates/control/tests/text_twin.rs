//! The exported Structured Text in its evaluator on the very inputs that the excursions of the case library give the
//! sequence: the same stages and commands, step by step, from the warm-up on.

#[allow(dead_code)] // Shared with the tests of the sequence, which use more of it.
#[path = "../../sequence/tests/st/compiler.rs"]
mod compiler;
#[path = "../../sequence/tests/st/evaluator.rs"]
mod evaluator;
#[path = "../../sequence/tests/st/lexer.rs"]
mod lexer;
#[path = "../../sequence/tests/st/side_by_side.rs"]
mod side_by_side;

use drycoil_control::excursion::building::Building;
use drycoil_control::excursion::library::library;
use drycoil_control::excursion::simulate::{
    Controls, CycleStart, Settings, WatchedCycle, ready_watched, run_watched,
};
use drycoil_control::settings::sequence_settings;
use drycoil_intake::{FileSet as _, MemoryFiles, job};
use drycoil_sequence::{BUILDING_STAGE, Machine, Memory, ZONE_STAGE, structured_text};
use drycoil_units::UnitSystem;
use drycoil_year::prepare::ReductionCache;
use side_by_side::Twin;
use std::collections::BTreeSet;
use std::path::Path;

fn building(folder: &str, step_s: f64) -> Building {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(folder);
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(&root).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            files = files.with(&name, std::fs::read(&path).unwrap());
        }
    }
    let text = String::from_utf8(files.bytes("project.toml").unwrap().unwrap().to_vec()).unwrap();
    let weather =
        text.lines().find_map(|l| l.strip_prefix("weather = ")).unwrap().trim_matches('"').to_owned();
    let files = files.with(&weather, std::fs::read(root.join(&weather)).unwrap());
    let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
    let (project, weather) = (job.loaded.project, job.weather.year);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    let design = drycoil_sizing::size(&project, &weather, &pool).unwrap();
    let sequence = sequence_settings(&project, &design).unwrap();
    Building::new(&project, &design, &sequence, &weather, step_s, &mut ReductionCache::default(), &pool)
        .unwrap()
}

/// The text and an interpreter of its own, fed with what the simulator tells.
struct Side {
    twin: Twin,
    fresh: (Vec<compiler::Scalar>, Machine),
    cycles: usize,
    seen: BTreeSet<(usize, usize)>,
}

impl Side {
    fn new(b: &Building) -> Self {
        let text = structured_text(&b.declaration, &b.setup, UnitSystem::Si).unwrap();
        let twin = Twin::new(&b.declaration, &b.setup, UnitSystem::Si, &text).unwrap();
        let fresh = (twin.unit.memory.clone(), twin.machine.clone());
        Self { twin, fresh, cycles: 0, seen: BTreeSet::new() }
    }

    fn look(&mut self, case: &str, cycle: &WatchedCycle<'_>) {
        if cycle.start == CycleStart::Anew {
            self.twin.unit.memory.clone_from(&self.fresh.0);
            self.twin.machine = self.fresh.1.clone();
        }
        self.cycles += 1;
        self.twin
            .step(cycle.duration_s, cycle.building, cycle.zones)
            .unwrap_or_else(|e| panic!("case {case}, cycle {}: {e}", self.cycles));
        // The text stands where the simulator stands, not only where an interpreter of the test does.
        assert!(same(&self.twin.machine, cycle.machine), "case {case}, cycle {}", self.cycles);
        for change in cycle.machine.changes() {
            self.seen.insert((change.region, change.transition));
        }
    }
}

fn same(a: &Machine, b: &Machine) -> bool {
    let memory: [Memory; 2] = [a.memory(), b.memory()];
    memory[0] == memory[1]
}

#[test]
fn xchk_text_on_the_recorded_inputs_of_the_case_library() {
    let b = building("public-services-building", 20.0);
    let mut side = Side::new(&b);
    let cases = library(&b);
    assert!(cases.len() >= 18);
    let mut start: Option<(_, _, _)> = None;
    let mut of_stages = 0;
    for case in &cases {
        let key = (case.day, case.from_s, case.length_s);
        // Cases of one day and begin share their warm-up, as they do in the command.
        if start.as_ref().is_none_or(|(k, _, _)| *k != key) {
            side.twin.unit.memory.clone_from(&side.fresh.0);
            side.twin.machine = side.fresh.1.clone();
            let made = ready_watched(&b, case, Some(&mut |c| side.look("warm-up", c))).unwrap();
            start = Some((key, made, (side.twin.unit.memory.clone(), side.twin.machine.clone())));
        }
        let Some((_, ready, (memory, machine))) = &start else { panic!() };
        side.twin.unit.memory.clone_from(memory);
        side.twin.machine = machine.clone();
        let settings = Settings::of(&b, Controls::Sequence);
        let mut look = |c: &WatchedCycle<'_>| side.look(&case.name, c);
        let run = run_watched(&b, ready, case, &settings, None, Some(&mut look)).unwrap();
        of_stages += run.zones.iter().map(|z| z.stages.len()).sum::<usize>();
    }
    assert!(side.cycles > 18 * 2000 && of_stages > 18 * b.zones.len(), "{} {of_stages}", side.cycles);
    // The library takes most ways of the stages; those of life safety and smoke control are in the random series.
    let ways: usize = b
        .declaration
        .regions()
        .enumerate()
        .filter(|(_, (_, r))| [ZONE_STAGE, BUILDING_STAGE].contains(&r.name))
        .map(|(k, (_, r))| (0..r.transitions.len()).filter(|t| side.seen.contains(&(k, *t))).count())
        .sum();
    assert!(ways >= 15, "{ways}");
}
