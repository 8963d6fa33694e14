//! `drycoil sequence`: what is handed over to those who build and test the controls.

use crate::support::{Ran, designed, example, read, run_in};
use calamine::{Data, Reader, Xlsx};
use drycoil_control::settings::sequence_settings;
use drycoil_sequence::Parameters;
use drycoil_units::Temperature;
use scraper::{Html, Selector};
use serde_json::Value;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::sync::OnceLock;
use tempfile::TempDir;

const FILES: [&str; 7] = [
    "written-sequence.html",
    "point-list.html",
    "test-sheet.html",
    "written-sequence.md",
    "point-list.csv",
    "point-list.xlsx",
    "dew-point-sequence.st",
];

/// The demonstration, handed over.
fn demo() -> &'static (TempDir, Ran) {
    static DEMO: OnceLock<(TempDir, Ran)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let project = example("public-services-building").to_string_lossy().into_owned();
        let ran = run_in(folder.path(), &["sequence", project.as_str(), "--out", "out", "--json"]);
        assert!(matches!(ran.code, Some(0 | 1)), "{}{}", ran.out, ran.err);
        (folder, ran)
    })
}

fn text(folder: &Path, name: &str) -> String {
    fs::read_to_string(folder.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A small office of three rooms with more text in `project.toml`.
fn office(more: &str, rooms: Option<&str>) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let base = read("examples/bad/sequence-stages-crossed/project.toml");
    let (base, _) = base.split_once("[sequence]").unwrap();
    let weather = example("weather/greensboro-nc-tmy3.csv");
    fs::copy(weather, folder.path().join("year.csv")).unwrap();
    let base = base.replace("../../weather/greensboro-nc-tmy3.csv", "year.csv");
    fs::write(folder.path().join("project.toml"), base + more).unwrap();
    let own = read("examples/bad/sequence-stages-crossed/rooms.csv");
    fs::write(folder.path().join("rooms.csv"), rooms.unwrap_or(&own)).unwrap();
    let surfaces = read("examples/bad/sequence-stages-crossed/surfaces.csv");
    fs::write(folder.path().join("surfaces.csv"), surfaces).unwrap();
    folder
}

fn hand_over(folder: &TempDir, more: &[&str]) -> Ran {
    let arguments: Vec<&str> = ["sequence", "."].iter().chain(more).copied().collect();
    run_in(folder.path(), &arguments)
}

fn ids(json: &Value) -> Vec<String> {
    json["findings"].as_array().unwrap().iter().map(|f| f["id"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn every_file_is_written_and_the_summary_names_it() {
    let (folder, ran) = demo();
    let json = ran.json();
    let named: Vec<&str> = json["files"].as_array().unwrap().iter().map(|f| f.as_str().unwrap()).collect();
    assert_eq!(named.len(), FILES.len());
    for name in FILES {
        assert!(folder.path().join("out").join(name).is_file(), "{name}");
        assert!(named.iter().any(|n| n.ends_with(name)), "{name}");
    }
    // Nothing half-written stays behind.
    assert_eq!(fs::read_dir(folder.path().join("out")).unwrap().count(), FILES.len());
    let (_, design) = designed("public-services-building", 1);
    let zones = json["zones"].as_array().unwrap();
    assert_eq!(zones.len(), design.terminals.len());
    for zone in zones {
        let [least, most] =
            ["design_primary_m3_per_s", "raised_primary_m3_per_s"].map(|k| zone[k].as_f64().unwrap());
        assert!(least <= most && most <= 1.5 * least + 1e-9, "{zone}");
        // 55 degF.
        assert!((zone["room_limit_c"].as_f64().unwrap() - 23.0 / 1.8).abs() < 1e-9, "{zone}");
    }
    assert!(json["water_can_follow"].as_bool().unwrap());
    assert!((json["parameters"]["water_offset_k"].as_f64().unwrap() - 2.0 / 1.8).abs() < 1e-9);
    for test in json["tests"].as_array().unwrap() {
        assert!(test["due_s"].as_f64().unwrap() >= 0.0 && !test["reason"].as_str().unwrap().is_empty());
    }
}

#[test]
fn documents_are_sound_html_and_say_what_outranks_them() {
    let (folder, _) = demo();
    for name in
        FILES.iter().filter(|n| std::path::Path::new(n).extension().is_some_and(|kind| kind == "html"))
    {
        let source = text(&folder.path().join("out"), name);
        let html = Html::parse_document(&source);
        assert_eq!(html.errors, Vec::<std::borrow::Cow<'static, str>>::new(), "{name}");
        let count = |selector: &str| html.select(&Selector::parse(selector).unwrap()).count();
        assert_eq!([count("html[lang=en]"), count("h1"), count("main"), count("footer li")][..3], [1, 1, 1]);
        assert!(count("footer li") >= 3 && count("script, link, iframe, img") == 0, "{name}");
        assert_eq!(count("table"), count("table > caption:first-child"), "{name}");
        assert!(!source.contains("NaN"), "{name}");
    }
    for name in ["written-sequence.html", "written-sequence.md", "test-sheet.html"] {
        let source = text(&folder.path().join("out"), name);
        assert!(source.contains("Life safety and smoke control outrank this sequence"), "{name}");
    }
    let program = text(&folder.path().join("out"), "dew-point-sequence.st");
    assert!(program.contains("Life safety, smoke control and health-care room pressure outrank"));
    assert!(program.starts_with("(* Millbrook Public Services Building, revision A, input "));
    assert!(
        program.contains("room_limit : LREAL; (* room dew point above which a room is noticed, degF *)")
            && program.contains("zones[1].room_limit := 55.0;")
    );
    let words = text(&folder.path().join("out"), "written-sequence.md");
    for needed in [
        "55.00 degF",
        "default: sensor error and a little; common practice, no source",
        "room limit of the design",
        "an error of 3 % in relative humidity is 1.6 degF of dew point, one of 2 % is 1.1 degF",
        "Health-care room pressure control outranks it",
    ] {
        assert!(words.contains(needed), "{needed}");
    }
}

#[test]
fn the_workbook_and_the_csv_hold_the_same_points() {
    let (folder, ran) = demo();
    let bytes = fs::read(folder.path().join("out/point-list.xlsx")).unwrap();
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    let sheet = book.worksheet_range("Points").unwrap();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_path(folder.path().join("out/point-list.csv"))
        .unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), sheet.height());
    assert_eq!(rows.len() - 1, ran.json()["points"].as_u64().unwrap() as usize);
    for (row, cells) in rows.iter().zip(sheet.rows()) {
        for (text, cell) in row.iter().zip(cells) {
            match cell {
                Data::Empty => assert_eq!(text, ""),
                Data::String(found) => assert_eq!(found, text),
                other => panic!("{other:?} for {text}"),
            }
        }
    }
    assert!(book.sheet_names().contains(&"About".to_owned()), "cautions go with the list");
    let zones = ran.json()["zones"].as_array().unwrap().len();
    let valves = rows.iter().filter(|row| row[0].ends_with(".coil_valve_enable")).count();
    assert_eq!(valves, zones);
}

#[test]
fn two_runs_give_the_same_bytes() {
    let folder = office("", None);
    for out in ["a", "b"] {
        assert_eq!(
            hand_over(&folder, &["--out", out, "--threads", if out == "a" { "1" } else { "2" }]).code,
            Some(1)
        );
    }
    for name in FILES {
        let bytes = |out: &str| fs::read(folder.path().join(out).join(name)).unwrap();
        assert!(bytes("a") == bytes("b"), "{name}");
    }
}

/// Settings that nobody wrote are those of the crate of the sequence.
#[test]
fn xchk_defaults_are_those_that_suit_the_design() {
    let (job, design) = designed("public-services-building", 1);
    let settings = sequence_settings(&job.loaded.project, &design).unwrap();
    let d = &design.dew_point;
    let c = Temperature::celsius;
    let usual = Parameters::for_design(c(d.room_limit_c), c(d.sensible_water_c), c(d.supply_dew_point_c));
    let (own, usual) = (settings.setup.parameters(), Parameters { water_lowest: c(50.0 / 9.0), ..usual });
    for row in &settings.declaration.parameters {
        let (Some(a), Some(b)) = (own.value(row.name), usual.value(row.name)) else { continue };
        // Rounding of the conversion from degF.
        assert!((a - b).abs() < 1e-9, "{}: {a} and {b}", row.name);
    }
}

#[test]
fn settings_of_the_project_reach_every_file() {
    let folder = office(
        "[sequence]\nwater_offset = \"3 degF\"\nmore_air_delay = \"7 min\"\nmore_air_flow = \"120 %\"\norder = \"water-first\"\nzones = [ { zone = \"103\", sensor = \"neighbours\", votes = 0, neighbours = \"101\" } ]\n",
        None,
    );
    let ran = hand_over(&folder, &["--json"]);
    // Margins of the office are small, which is a warning.
    assert_eq!(ran.code, Some(1), "{}{}", ran.out, ran.err);
    let json = ran.json();
    assert!((json["parameters"]["water_offset_k"].as_f64().unwrap() - 3.0 / 1.8).abs() < 1e-9);
    assert_eq!(json["parameters"]["more_air_delay_s"], 420.0);
    let zone = &json["zones"][2];
    assert_eq!((zone["sensor"].as_str(), zone["votes"].as_u64()), (Some("neighbours"), Some(0)));
    assert_eq!(zone["neighbours"], serde_json::json!(["101"]));
    let [design, raised] =
        ["design_primary_m3_per_s", "raised_primary_m3_per_s"].map(|k| zone[k].as_f64().unwrap());
    assert!(raised <= 1.2 * design + 1e-12);
    let out = folder.path().join("sequence");
    let program = text(&out, "dew-point-sequence.st");
    assert!(
        program.contains("p_water_offset : LREAL := 3.0")
            && program.contains("p_more_air_delay : LREAL := 420.0")
    );
    let words = text(&out, "written-sequence.md");
    assert!(words.contains("3.00 degF (project.toml, sequence.water_offset)"), "{words}");
    assert!(words.contains("after 7 min") && words.contains("stand in, with 1.0 degF on top, for 103"));
    assert!(!text(&out, "point-list.csv").contains("103.dew_point,"));
    assert!(text(&out, "test-sheet.html").contains("7\u{a0}min"));
}

#[test]
fn what_is_to_be_known_is_a_finding() {
    let own_limit = "id,name,floor,kind,floor_area [ft2],people,dew_point_limit [degF]\n101,Office,1,office-enclosed,160,1,\n102,Meeting room,1,meeting,320,12,60\n103,Office,1,office-enclosed,200,1,\n";
    let screened = "id,name,floor,kind,floor_area [ft2],people\n101,Office,1,office-enclosed,160,1\n102,Kitchen,1,canteen-kitchen,320,2\n103,Office,1,office-enclosed,200,1\n";
    for (id, more, rooms, code) in [
        ("SQ-008", "[sequence]\nzones = [ { zone = \"102\", votes = 0 } ]\n", Some(screened), 1),
        ("SQ-009", "[dew_point]\nroom_limit = \"55 degF\"\n", Some(own_limit), 1),
        ("SQ-010", "[criteria]\nsensor_error = \"2 degF\"\nwater_control_band = \"1 degF\"\n", None, 0),
    ] {
        let ran = hand_over(&office(more, rooms), &["--json"]);
        assert!(ids(&ran.json()).contains(&id.to_owned()), "{id}: {}{}", ran.out, ran.err);
        assert!(ran.code >= Some(code), "{id}: {:?}", ran.code);
    }
    let silent = hand_over(
        &office("[criteria]\nsensor_error = \"1 degF\"\nwater_control_band = \"1 degF\"\n", None),
        &["--json"],
    );
    assert!(ids(&silent.json()).iter().all(|id| id != "SQ-010"), "{}", silent.out);
    // One zone has one vote, which is ignored; its terminal takes more air, that of a supplementary box does not.
    let folder = tempfile::tempdir().unwrap();
    for (project, id) in [("one-room", "SQ-007"), ("bad/supplementary-box", "SQ-011")] {
        let path = example(project).to_string_lossy().into_owned();
        let ran = run_in(folder.path(), &["sequence", path.as_str(), "--out", "out", "--json"]);
        assert!(ids(&ran.json()).contains(&id.to_owned()), "{id}: {}{}", ran.out, ran.err);
        if id == "SQ-007" {
            assert_eq!((ran.code, ran.json()["water_can_follow"].as_bool()), (Some(1), Some(false)));
            assert!(
                text(&folder.path().join("out"), "written-sequence.md")
                    .contains("never follows the dew point")
            );
        }
    }
}

#[test]
fn what_cannot_be_written_leaves_nothing_behind() {
    // Refused settings: no folder is made.
    let refused = office("[sequence]\nwater_offset = \"0.2 degF\"\n", None);
    let ran = hand_over(&refused, &[]);
    assert_eq!(ran.code, Some(2), "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("SQ-005") && !refused.path().join("sequence").exists(), "{}", ran.err);
    // No terminal: nothing to control.
    let rooms = "id,name,floor,kind,floor_area [ft2],people,system\n101,Office,1,office-enclosed,160,1,off\n102,Office,1,office-enclosed,320,2,off\n";
    let bare = office("", Some(rooms));
    fs::write(
        bare.path().join("surfaces.csv"),
        "room,kind,construction,area [ft2],facing\n101,wall,brick-wall,80,S\n",
    )
    .unwrap();
    let ran = hand_over(&bare, &[]);
    assert!(ran.code > Some(0) && !bare.path().join("sequence").exists(), "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("SQ-012") || ran.err.contains("DP-010"), "{}", ran.err);
    // A file where the folder should be.
    let folder = office("", None);
    fs::write(folder.path().join("taken"), "").unwrap();
    assert_eq!(hand_over(&folder, &["--out", "taken"]).code, Some(4));
    assert_eq!(hand_over(&folder, &["--paper", "a5"]).code, Some(3));
}
