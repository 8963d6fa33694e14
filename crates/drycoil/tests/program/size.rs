//! `drycoil size` and `drycoil working` as the shell sees them.

use crate::support::{Ran, demo, run_in};
use serde_json::Value;

fn run(arguments: &[&str]) -> Ran {
    crate::support::run(arguments)
}

/// The numbers of a document in their order, without its texts.
fn numbers_of(value: &Value, out: &mut Vec<String>) {
    match value {
        Value::Number(n) => out.push(n.to_string()),
        Value::Array(list) => list.iter().for_each(|v| numbers_of(v, out)),
        Value::Object(map) => {
            out.extend(map.keys().cloned());
            map.values().for_each(|v| numbers_of(v, out));
        }
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

#[test]
fn the_json_holds_the_same_numbers_whatever_units_its_sentences_have() {
    let folder = tempfile::tempdir().unwrap();
    let project = crate::support::example("one-room");
    let project = project.to_str().unwrap();
    let json = |units: &str| {
        let ran = run_in(folder.path(), &["size", project, "--json", "--units", units, "--out", units]);
        ran.json()
    };
    let (si, ip) = (json("si"), json("ip"));
    assert_ne!(si, ip, "the sentences differ");
    let (mut a, mut b) = (Vec::new(), Vec::new());
    numbers_of(&si, &mut a);
    numbers_of(&ip, &mut b);
    assert!(a.len() > 500);
    assert_eq!(a, b);
}

#[test]
fn the_demonstration_is_sized_and_its_files_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("deep/results");
    let ran = run_in(folder.path(), &["size", &demo(), "--out", "deep/results"]);
    // The demonstration has warnings, none of them an error.
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    let text = &ran.out;
    for part in [
        "Millbrook Public Services Building",
        "supply dew point",
        "governing room",
        "smallest margin",
        "Terminals, smallest dew-point margin first",
        "Rooms without a terminal of this system",
        "Canteen kitchen",
        "Rooms that force the supply dew point",
        "chosen",
        "Findings: 0 errors",
        "design.json",
        "schedules.xlsx",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(!text.contains("NOT DRY") && !text.contains("NaN") && !text.contains("inf "), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    assert!(ran.err.contains("warning"));
    // Nobody reads a hundred lines of notes unasked.
    assert!(ran.err.contains("--notes lists them") && ran.err.lines().count() < 70, "{}", ran.err);
    let written = std::fs::read(to.join("design.json")).unwrap();
    let json: Value = serde_json::from_slice(&written).unwrap();
    assert_eq!(json["format"], 1);
    assert!(
        json["design"]["terminals"]
            .as_array()
            .unwrap()
            .iter()
            .all(|t| t["water_margin_k"].as_f64().unwrap() >= 0.0)
    );
    assert!(std::fs::metadata(to.join("schedules.xlsx")).unwrap().len() > 10_000);
    assert_eq!(std::fs::read_dir(&to).unwrap().count(), 2, "no half file is left");
    // The same document on standard output, and only the severity asked for decides the exit code.
    let ran =
        run(&["size", &demo(), "--out", to.to_str().unwrap(), "--json", "--quiet", "--fail-on", "error"]);
    assert_eq!(ran.code, Some(0));
    assert_eq!(ran.out.as_bytes(), written);
}

#[test]
fn both_unit_systems_and_all_terminals() {
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().to_str().unwrap();
    let si = run(&["size", &demo(), "--out", to, "--units", "si", "--all", "--quiet"]);
    let text = &si.out;
    assert!(text.contains("degC") && !text.contains("cfm") && !text.contains("--all"), "{text}");
    assert!(text.lines().count() > 100 && !text.contains("degF") && !text.contains("Btu"), "{text}");
    // What is said about the design follows as well.
    let notes = run(&["size", &demo(), "--out", to, "--units", "si", "--notes"]);
    let findings = notes.err.lines().filter(|l| l.contains("degC") || l.contains(" K ")).count();
    assert!(findings > 10, "{}", notes.err);
    for foreign in ["degF", "Btu/h", " cfm", " gpm"] {
        assert!(!notes.err.contains(foreign), "{foreign}\n{}", notes.err);
    }
    let json: Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("design.json")).unwrap()).unwrap();
    for t in json["design"]["terminals"].as_array().unwrap() {
        let zone = t["zone"].as_str().unwrap();
        assert!(text.lines().any(|l| l.starts_with(zone)), "{zone}");
    }
}

#[test]
fn bad_projects_and_places_that_cannot_be_written() {
    let folder = tempfile::tempdir().unwrap();
    let empty = run(&["size", folder.path().to_str().unwrap()]);
    assert_eq!(empty.code, Some(2), "{}", empty.err);
    assert!(empty.out.is_empty());
    assert_eq!(run(&["size", folder.path().join("none").to_str().unwrap()]).code, Some(4));
    let file = folder.path().join("occupied");
    std::fs::write(&file, "a file").unwrap();
    let ran = run(&["size", &demo(), "--out", file.to_str().unwrap()]);
    assert_eq!(ran.code, Some(4));
    assert!(ran.err.contains("cannot create"), "{}", ran.err);
}

/// From people to the selected unit with `drycoil working` alone.
#[test]
fn a_meeting_room_can_be_followed_to_its_unit() {
    let lines = |place: &str, quantity: &str| {
        let ran = run(&["working", &demo(), place, quantity]);
        assert_eq!(ran.code, Some(0), "{place} {quantity}: {}", ran.err);
        ran.out
    };
    let latent = lines("301", "latent_moisture");
    for part in ["N * q_person", "rooms.csv:", "q_latent / h_g", "from q_latent"] {
        assert!(latent.contains(part), "{part}\n{latent}");
    }
    let ventilation = lines("301", "breathing_zone_flow");
    assert!(ventilation.contains("R_p * N + R_a * A") && ventilation.contains("62.1"), "{ventilation}");
    let flow = lines("301", "latent_flow");
    assert!(
        flow.contains("W_limit - W_supply") && flow.contains("dew point supply_humidity_ratio"),
        "{flow}"
    );
    assert!(lines("301", "primary_air_flow").contains("governed by"));
    assert!(lines("301", "room_dew_point").contains("301 room_humidity_ratio"));
    assert!(lines("301", "sensible_load").contains("people"));
    let duty = lines("301", "coil_duty");
    for part in ["G_1 * (m_air / m_1) ^ k", "q_primary", "P_fan", "Q_coil"] {
        assert!(duty.contains(part), "{part}\n{duty}");
    }
    assert!(lines("301", "dew_point_margin").contains("t_water - t_dp"));
    assert!(lines("301", "units").contains("those tried before failed"));
    // The last line is the scheduled number.
    let json = run(&["working", &demo(), "301", "primary_air_flow", "--json"]);
    let sheet = json.json();
    let folder = tempfile::tempdir().unwrap();
    run(&["size", &demo(), "--out", folder.path().to_str().unwrap(), "--quiet"]);
    let design: Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("design.json")).unwrap()).unwrap();
    let needs = design["design"]["needs"].as_array().unwrap();
    let room = needs.iter().find(|n| n["room"] == "301").unwrap();
    assert_eq!(sheet["lines"].as_array().unwrap().last().unwrap()["si"], room["primary_m3_per_s"]);
}

#[test]
fn what_may_be_asked_is_listed_and_misspelling_gets_a_hint() {
    let list = run(&["working", &demo()]);
    assert_eq!(list.code, Some(0));
    for part in ["dew point", "primary air", "plant", "ducts", "building", "Level 1", "primary_air_flow"] {
        assert!(list.out.contains(part), "{part}");
    }
    let wrong = run(&["working", &demo(), "301", "primary_air_flows"]);
    assert_eq!(wrong.code, Some(3));
    assert!(wrong.err.contains("did you mean `primary_air_flow`?"), "{}", wrong.err);
    assert_eq!(run(&["working", &demo(), "999-Z"]).code, Some(3));
}
