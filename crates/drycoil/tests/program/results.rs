//! The result documents: their keys are documented and frozen, nothing leaks as null, the spreadsheet holds what the JSON
//! holds, and the same input gives the same bytes.

use crate::support::{designed, read};
use calamine::{Data, Reader, Xlsx};
use drycoil_intake::job::Job;
use drycoil_results::{FORMAT, ResultDocument, key_paths, null_paths};
use drycoil_sizing::{Cell, ColumnKind, Design, schedules};
use drycoil_units::UnitSystem;
use serde_json::Value;
use std::collections::BTreeSet;
use std::io::Cursor;

const EXAMPLES: [&str; 3] = ["public-services-building", "two-storey-school", "one-room"];

fn json(job: &Job, design: &Design) -> Vec<u8> {
    ResultDocument::new(&job.loaded.project, design, &design.findings, "test").to_json().unwrap()
}

fn workbook(job: &Job, design: &Design, system: UnitSystem) -> Vec<u8> {
    let project = &job.loaded.project;
    let document = ResultDocument::new(project, design, &design.findings, "test");
    drycoil_papers::schedules_xlsx(project, design, &document, &design.findings, system).unwrap()
}

#[test]
fn keys_are_frozen_documented_and_null_only_where_documented() {
    let mut keys = BTreeSet::new();
    let mut nulls = BTreeSet::new();
    for example in EXAMPLES {
        let (job, design) = designed(example, 2);
        let value: Value = serde_json::from_slice(&json(&job, &design)).unwrap();
        keys.extend(key_paths(&value));
        nulls.extend(null_paths(&value));
    }
    let frozen: BTreeSet<String> =
        read(&format!("examples/formats/{FORMAT}/keys.txt")).lines().map(str::to_owned).collect();
    let added: Vec<&String> = keys.difference(&frozen).collect();
    let gone: Vec<&String> = frozen.difference(&keys).collect();
    assert!(
        added.is_empty() && gone.is_empty(),
        "the keys of format {FORMAT} changed: added {added:?}, gone {gone:?}. Before the first release, add new keys to \
         examples/formats/{FORMAT}/keys.txt; from the first release on, raise `FORMAT` and freeze the new keys"
    );
    let docs = read("docs/RESULTS_FORMAT.md");
    let documented = |key: &str| docs.contains(&format!("| `{key}` |"));
    for path in &keys {
        let key = path.rsplit('.').next().unwrap().trim_end_matches("[]");
        assert!(documented(key), "`{path}` is not in docs/RESULTS_FORMAT.md");
    }
    for path in &nulls {
        let key = path.rsplit('.').next().unwrap();
        let option = docs.lines().any(|l| l.starts_with(&format!("| `{key}` |")) && l.ends_with("or null |"));
        assert!(
            option || docs.contains(&format!("- `{path}`")),
            "`{path}` is null without being documented so"
        );
    }
}

#[test]
fn the_frozen_sample_is_of_its_format() {
    let sample: Value =
        serde_json::from_str(&read(&format!("examples/formats/{FORMAT}/design.json"))).unwrap();
    assert_eq!(sample["format"], FORMAT);
    let frozen: BTreeSet<String> =
        read(&format!("examples/formats/{FORMAT}/keys.txt")).lines().map(str::to_owned).collect();
    let keys = key_paths(&sample);
    assert!(keys.is_subset(&frozen), "{:?}", keys.difference(&frozen).collect::<Vec<_>>());
}

#[test]
fn the_same_input_gives_the_same_bytes_on_any_number_of_threads() {
    let (job, one) = designed("two-storey-school", 1);
    let (again, three) = designed("two-storey-school", 3);
    assert_eq!(json(&job, &one), json(&again, &three));
    assert_eq!(workbook(&job, &one, UnitSystem::Ip), workbook(&again, &three, UnitSystem::Ip));
}

/// Every number of a document as it is written there.
fn numbers(text: &str) -> BTreeSet<&str> {
    text.split([',', ':', '[', ']', '{', '}', ' ', '\n']).filter(|t| t.parse::<f64>().is_ok()).collect()
}

#[test]
fn the_spreadsheet_holds_what_the_json_holds() {
    let (job, design) = designed("public-services-building", 2);
    let project = &job.loaded.project;
    let document = String::from_utf8(json(&job, &design)).unwrap();
    let known = numbers(&document);
    // Input that the room schedule repeats beside the results.
    let input = ["floor_area", "height", "people"];
    for system in [UnitSystem::Ip, UnitSystem::Si] {
        let mut book: Xlsx<_> = Xlsx::new(Cursor::new(workbook(&job, &design, system))).unwrap();
        let mut compared = 0;
        for schedule in schedules(project, &design) {
            let range = book.worksheet_range(schedule.name).unwrap();
            let number = |row: usize, column: usize| range.get((row, column)).cloned().unwrap_or(Data::Empty);
            if !schedule.upright {
                for (c, column) in schedule.columns.iter().enumerate() {
                    let Data::String(title) = number(0, c) else { panic!("no title") };
                    assert!(title.starts_with(column.title), "{title}");
                    let unit = column.unit(system);
                    assert!(unit.is_empty() || title.ends_with(&format!("[{unit}]")), "{title}");
                }
            }
            let mut line = 0;
            for (r, row) in schedule.rows.iter().enumerate() {
                for (c, (column, cell)) in schedule.columns.iter().zip(&row.cells).enumerate() {
                    line += 1;
                    let written = if schedule.upright { number(line, 1) } else { number(r + 1, c) };
                    match cell {
                        Cell::Number(si) => {
                            let Data::Float(v) = written else {
                                panic!("{} {}: {written:?}", row.place, column.key)
                            };
                            assert_eq!(v, column.shown(*si, system), "{} {}", row.place, column.key);
                            assert!(
                                input.contains(&column.key)
                                    || known.contains(serde_json::to_string(si).unwrap().as_str())
                                    || known.contains(format!("{si}").as_str()),
                                "{} {} is not in the JSON",
                                row.place,
                                column.key
                            );
                            assert_ne!(column.kind, ColumnKind::Text);
                            compared += 1;
                        }
                        Cell::Text(text) => {
                            let there = if let Data::String(t) = &written { t.as_str() } else { "" };
                            assert_eq!(there, text, "{} {}", row.place, column.key);
                        }
                        Cell::Empty => assert_eq!(written, Data::Empty, "{} {}", row.place, column.key),
                    }
                }
            }
        }
        assert!(compared > 5000, "{compared}");
        for name in ["Governing rooms", "Units tried", "Findings", "About"] {
            assert!(book.worksheet_range(name).unwrap().height() > 1, "{name}");
        }
    }
}

#[test]
fn every_unit_of_a_column_is_known_in_both_systems() {
    let (job, design) = designed("one-room", 1);
    for schedule in schedules(&job.loaded.project, &design) {
        for column in &schedule.columns {
            for system in [UnitSystem::Si, UnitSystem::Ip] {
                assert!(column.shown(1.0, system).is_finite(), "{} {}", schedule.name, column.title);
            }
        }
    }
}
