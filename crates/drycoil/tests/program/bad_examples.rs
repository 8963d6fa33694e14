//! Every broken project in `examples/bad` gives the findings, at the places, that its `expect.toml` names.

use crate::support::example;
use drycoil::project::FolderFiles;
use drycoil_findings::{Finding, Severity, Stage, registry};
use drycoil_intake::job;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Ids that no small example can show, each with the test that shows it.
const SHOWN_ELSEWHERE: &[(&str, &str)] = &[
    // A file of 64 MB does not belong into a repository.
    ("PF-014", "crates/intake/tests/project.rs, a_file_beyond_the_limit_is_refused"),
    // With a readable weather file the elevation is always known; without one the weather finding comes first.
    ("PF-022", "crates/intake/tests/project.rs, val_actual_flow_needs_the_elevation"),
    // The last guard of the weather-year type behind the checks of the readers.
    ("WX-029", "crates/climate, tests of the weather year"),
];

/// Ids of the result that no small example can show, each with the reason.
const RESULTS_SHOWN_ELSEWHERE: &[(&str, &str)] = &[
    // A year without sun would be a third weather file of half a megabyte.
    ("LD-001", "crates/sizing/tests/findings.rs, a_year_without_sun_has_no_design_conditions"),
    // The checks of the project leave no input for which the network of a room has no repeated day.
    ("LD-003", "crates/rooms/tests/room.rs"),
    // Sizing counts every source of moisture in every occupied hour; the finding stands guard over it.
    (
        "DP-006",
        "crates/sizing/tests/search.rs, phys_transfer_air_of_a_more_humid_room_needs_more_primary_air",
    ),
    // Findings of the simulated year; this test sizes only.
    ("YR-001", "crates/year/tests/results.rs"),
    ("YR-002", "crates/year/tests/results.rs"),
    ("YR-003", "crates/year/tests/results.rs"),
    ("YR-004", "crates/year/tests/results.rs"),
    ("YR-005", "crates/year/tests/results.rs"),
    ("YR-006", "crates/year/tests/results.rs"),
    ("YR-007", "crates/year/tests/results.rs"),
    ("YR-008", "crates/year/tests/results.rs"),
    ("YR-009", "crates/year/tests/results.rs"),
    ("YR-010", "crates/year/tests/results.rs"),
    ("YR-011", "crates/year/tests/results.rs"),
    ("YR-012", "crates/year/tests/results.rs"),
    ("YR-014", "crates/year/tests/results.rs"),
    // Findings of the sequence, which is not written here.
    // Findings of excursions; this test sizes only.
    ("EX-001", "crates/drycoil/tests/program/excursion.rs"),
    ("EX-002", "crates/drycoil/tests/program/excursion.rs"),
    ("EX-004", "crates/control/tests/excursion.rs, phys_what_no_control_could_keep_is_told_apart"),
    ("EX-003", "crates/control/tests/excursion.rs, phys_heat_and_water_close_in_every_room"),
    ("SQ-007", "crates/drycoil/tests/program/sequence.rs"),
    ("SQ-008", "crates/drycoil/tests/program/sequence.rs"),
    ("SQ-009", "crates/drycoil/tests/program/sequence.rs"),
    ("SQ-010", "crates/drycoil/tests/program/sequence.rs"),
    ("SQ-011", "crates/drycoil/tests/program/sequence.rs"),
    ("SQ-012", "crates/drycoil/tests/program/sequence.rs"),
    ("YR-013", "crates/drycoil/tests/program/year.rs, an_interrupted_sweep_goes_on_and_a_bad_point_is_named"),
];

/// One expected finding; what is not written may be anything.
#[derive(Debug)]
struct Expected {
    id: String,
    file: Option<String>,
    line: Option<u32>,
    row: Option<u32>,
    key: Option<String>,
    part: Option<String>,
}

impl Expected {
    /// How many parts of the place are written.
    fn exactness(&self) -> usize {
        usize::from(self.file.is_some())
            + usize::from(self.line.is_some())
            + usize::from(self.row.is_some())
            + usize::from(self.key.is_some())
            + usize::from(self.part.is_some())
    }

    fn fits(&self, finding: &Finding) -> bool {
        let place = finding.places.first().cloned().unwrap_or_default();
        self.id == finding.id()
            && (self.file.is_none() || self.file == place.file)
            && (self.line.is_none() || self.line == place.line)
            && (self.row.is_none() || self.row == place.row)
            && (self.key.is_none() || self.key == place.key)
            && (self.part.is_none() || self.part == place.part)
    }
}

/// Reads the few forms of line that an `expect.toml` has.
fn expected(path: &Path) -> Vec<Expected> {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut all: Vec<Expected> = Vec::new();
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')) {
        if line == "[[finding]]" {
            all.push(Expected {
                id: String::new(),
                file: None,
                line: None,
                row: None,
                key: None,
                part: None,
            });
            continue;
        }
        let (key, value) = line.split_once(" = ").unwrap_or_else(|| panic!("{}: {line}", path.display()));
        let text = || {
            serde_json::from_str::<String>(value)
                .unwrap_or_else(|e| panic!("{}: {line}: {e}", path.display()))
        };
        let number = || value.parse().unwrap_or_else(|e| panic!("{}: {line}: {e}", path.display()));
        let last = all.last_mut().expect("a [[finding]] first");
        match key {
            "id" => last.id = text(),
            "file" => last.file = Some(text()),
            "line" => last.line = Some(number()),
            "row" => last.row = Some(number()),
            "key" => last.key = Some(text()),
            "part" => last.part = Some(text()),
            other => panic!("{}: unknown key {other}", path.display()),
        }
    }
    all
}

fn examples() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = std::fs::read_dir(example("bad"))
        .expect("examples/bad is there")
        .map(|e| e.unwrap().path())
        .filter(|p| p.is_dir())
        .collect();
    all.sort();
    all
}

fn is_of_input(id: &str) -> bool {
    registry::find(id).is_some_and(|k| k.stage == Stage::Input)
}

#[test]
fn every_example_gives_its_findings_at_their_places() {
    let mut wrong = Vec::new();
    let mut compared = 0;
    for path in examples() {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let mut open = expected(&path.join("expect.toml"));
        assert!(!open.is_empty(), "{name} expects nothing");
        // Examples of results are read by the test of the design.
        if open.iter().all(|e| !is_of_input(&e.id)) {
            continue;
        }
        compared += 1;
        let files = FolderFiles::open(&path).expect("the folder can be read");
        let findings = match job::read(&files) {
            // Settings of the sequence meet the design before they can contradict it.
            Ok(job) if open.iter().any(|e| e.id.starts_with("SQ-")) => {
                [job.notes(), sequence_of(&job).expect_err(&name)].concat()
            }
            Ok(job) => job.notes(),
            Err(findings) => findings,
        };
        for finding in &findings {
            // The most exact expectation first, so that a loose one is left for a looser finding.
            let fitting = open.iter().enumerate().filter(|(_, e)| e.fits(finding));
            match fitting.max_by_key(|(_, e)| e.exactness()).map(|(i, _)| i) {
                Some(i) => {
                    open.remove(i);
                }
                // Notes beside the point need not be listed.
                None if finding.severity() == Severity::Note => {}
                None => wrong.push(format!(
                    "{name}: not expected: {} {} {:?}",
                    finding.id(),
                    finding.message,
                    finding.places
                )),
            }
        }
        wrong.extend(open.iter().map(|e| format!("{name}: did not come: {e:?}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared >= 45, "only {compared} examples");
}

#[test]
fn every_input_finding_has_an_example_and_every_id_exists() {
    let shown: BTreeSet<String> =
        examples().iter().flat_map(|p| expected(&p.join("expect.toml"))).map(|e| e.id).collect();
    for id in &shown {
        assert!(registry::find(id).is_some(), "{id} is not in the registry");
    }
    for kind in registry::all().into_iter().filter(|k| k.stage == Stage::Input) {
        let elsewhere = SHOWN_ELSEWHERE.iter().any(|(id, _)| *id == kind.id);
        assert!(
            shown.contains(kind.id) != elsewhere,
            "{} {}: {}",
            kind.id,
            kind.title,
            if elsewhere { "has an example after all" } else { "has no example" }
        );
    }
}

/// What the sequence says of a job with its design.
fn sequence_of(job: &job::Job) -> Result<Vec<Finding>, Vec<Finding>> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let design =
        drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).map_err(|e| e.findings)?;
    drycoil_control::settings::sequence_settings(&job.loaded.project, &design)
        .map(|settings| settings.findings)
}

/// Findings of the design, or of why there is none.
fn result_of(path: &Path) -> Vec<Finding> {
    let files = FolderFiles::open(path).expect("the folder can be read");
    let job = job::read(&files).unwrap_or_else(|f| panic!("{}: {f:#?}", path.display()));
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    match drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool) {
        Ok(design) => {
            // Settings that nobody wrote go with every design that has a terminal.
            if !design.terminals.is_empty() {
                let settings = drycoil_control::settings::sequence_settings(&job.loaded.project, &design);
                settings.unwrap_or_else(|f| panic!("{}: {f:#?}", path.display()));
            }
            design.findings
        }
        Err(error) => error.findings,
    }
}

#[test]
fn every_example_of_a_result_gives_its_findings_at_their_places() {
    let mut wrong = Vec::new();
    let mut compared = 0;
    for path in examples() {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let open = expected(&path.join("expect.toml"));
        if open.iter().any(|e| is_of_input(&e.id)) {
            assert!(open.iter().all(|e| is_of_input(&e.id)), "{name} mixes input and result");
            continue;
        }
        compared += 1;
        let findings = result_of(&path);
        for e in &open {
            if !findings.iter().any(|f| e.fits(f)) {
                let got: Vec<_> = findings.iter().filter(|f| f.id() == e.id).collect();
                wrong.push(format!("{name}: did not come: {e:?}; of this id: {got:#?}"));
            }
        }
        // A design has many findings beside the point of the example; an error must be its point.
        for f in findings.iter().filter(|f| f.severity() == Severity::Error) {
            if !open.iter().any(|e| e.fits(f)) {
                wrong.push(format!("{name}: not expected: {} {}", f.id(), f.message));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared >= 35, "only {compared} examples");
}

#[test]
fn every_result_finding_has_an_example() {
    let shown: BTreeSet<String> =
        examples().iter().flat_map(|p| expected(&p.join("expect.toml"))).map(|e| e.id).collect();
    for kind in registry::all().into_iter().filter(|k| k.stage == Stage::Result) {
        let elsewhere = RESULTS_SHOWN_ELSEWHERE.iter().any(|(id, _)| *id == kind.id);
        assert!(
            shown.contains(kind.id) != elsewhere,
            "{} {}: {}",
            kind.id,
            kind.title,
            if elsewhere { "has an example after all" } else { "has no example" }
        );
    }
}
