//! What changed between two revisions: on the command line, as JSON, as a document.

use crate::support::{Ran, example, read, run_in};
use drycoil_changes::CHANGES_FORMAT;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Two copies of the demo, `old` and `new`, beside the weather that they name.
fn copies() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let copy = |from: &Path, to: &Path| {
        fs::create_dir_all(to).unwrap();
        for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
            if entry.file_type().unwrap().is_file() {
                fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
            }
        }
    };
    copy(&example("weather"), &folder.path().join("weather"));
    for name in ["old", "new"] {
        copy(&example("public-services-building"), &folder.path().join(name));
    }
    folder
}

/// Replaces a text that stands once in a file of the new copy.
fn change(folder: &Path, file: &str, old: &str, new: &str) {
    let path = folder.join("new").join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(text.matches(old).count(), 1, "{file}: {old}");
    fs::write(path, text.replace(old, new)).unwrap();
}

fn changes(folder: &Path, more: &[&str]) -> Ran {
    let mut arguments = vec!["changes", "old", "new"];
    arguments.extend(more);
    run_in(folder, &arguments)
}

fn inputs(json: &Value) -> Vec<String> {
    let list = json["changes"]["inputs"].as_array().unwrap();
    list.iter()
        .map(|i| {
            format!(
                "{} {} {}",
                i["kind"].as_str().unwrap(),
                i["record"].as_str().unwrap(),
                i["key"].as_str().unwrap()
            )
        })
        .collect()
}

fn number<'a>(json: &'a Value, place: &str, quantity: &str) -> Option<&'a Value> {
    json["changes"]["numbers"]
        .as_array()
        .unwrap()
        .iter()
        .find(|n| n["place"] == place && n["quantity"] == quantity)
}

const ROOM_321: &str = "321,\"Conference room for 30, A\",Level 3,,conference-large,760,9.5,30,";

#[test]
fn nothing_changed_when_nothing_did() {
    let folder = copies();
    let ran = changes(folder.path(), &[]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.ends_with("\nNothing changed.\n"), "{}", ran.out);
    let json = changes(folder.path(), &["--json"]).json();
    assert_eq!(json["format"], CHANGES_FORMAT);
    assert_eq!(json["before"], json["after"]);
    for list in ["inputs", "numbers", "arisen", "gone"] {
        assert_eq!(json["changes"][list], Value::Array(Vec::new()), "{list}");
    }
}

#[test]
fn the_same_value_in_another_unit_is_no_change() {
    let folder = copies();
    // 760 ft2 of 0.09290304 m2 each; 75 degF is (75 - 32) / 1.8 degC.
    change(
        folder.path(),
        "rooms.csv",
        "conference-large,760,9.5,30,,,,,\n322",
        "conference-large,70.6063104 m2,9.5,30,,,,,\n322",
    );
    change(
        folder.path(),
        "project.toml",
        "cooling_set_point = \"75 degF\"",
        "cooling_set_point = \"23.888888888888889 degC\"",
    );
    let ran = changes(folder.path(), &[]);
    assert!(ran.out.ends_with("\nNothing changed.\n"), "{}", ran.out);
    let heads: Vec<&str> =
        ran.out.lines().nth(1).unwrap().split(" input ").nth(1).unwrap().split(" -> ").collect();
    assert_ne!(heads[0], heads[1], "the bytes did change, and the fingerprint says so");
}

#[test]
fn more_people_in_a_conference_room_lead_to_its_unit() {
    let folder = copies();
    change(folder.path(), "rooms.csv", ROOM_321, &ROOM_321.replace("9.5,30,", "9.5,40,"));
    let json = changes(folder.path(), &["--json"]).json();
    assert_eq!(inputs(&json), ["changed 321 people"]);
    let input = &json["changes"]["inputs"][0];
    assert_eq!((&input["old"], &input["new"]), (&Value::from("30"), &Value::from("40")));
    assert_eq!(input["new_place"]["line"], 74);

    // Each kind of step once: by formula to the air of the room and of the unit, by search to the model.
    let steps = |place: &str, quantity: &str| -> Vec<String> {
        let n = number(&json, place, quantity).unwrap_or_else(|| panic!("{place} {quantity} did not change"));
        assert_eq!(n["causes"][0]["input"], 0);
        let list = n["causes"][0]["steps"].as_array().unwrap().clone();
        list.iter()
            .map(|s| format!("{} {}", s["kind"].as_str().unwrap(), s["quantity"].as_str().unwrap()))
            .collect()
    };
    assert_eq!(steps("321", "people"), ["formula people"]);
    assert_eq!(steps("321", "unit_primary_air").last().unwrap(), "formula unit_primary_air");
    assert!(steps("321", "unit_primary_air").contains(&"formula primary_air_flow".to_owned()));
    assert_eq!(steps("321", "model").last().unwrap(), "search model");
    assert!(number(&json, "primary air", "delivered_flow").is_some(), "the building gets the air too");

    // The room alone cannot change the loads of another room.
    assert!(number(&json, "322", "sensible_load").is_none());
    // Nothing is attributed to an input that is not there, and next to every number has its cause.
    let all = json["changes"]["numbers"].as_array().unwrap();
    let without = all.iter().filter(|n| n["causes"].as_array().unwrap().is_empty()).count();
    assert!(without * 50 <= all.len(), "{without} of {} without a cause", all.len());

    let text = changes(folder.path(), &[]);
    assert!(text.words().contains("rooms.csv, 321, people 30 40"), "{}", text.out);
    assert!(text.words().contains("search for it"), "{}", text.out);
}

#[test]
fn rooms_come_and_go() {
    let folder = copies();
    let row = format!("{ROOM_321},,,,\n");
    change(folder.path(), "rooms.csv", &row, &row.replace("321,", "399,"));
    let path = folder.path().join("new/surfaces.csv");
    let surfaces = fs::read_to_string(&path).unwrap();
    let moved: String =
        surfaces
            .lines()
            .map(|l| {
                if let Some(rest) = l.strip_prefix("321,") {
                    format!("399,{rest}\n")
                } else {
                    format!("{l}\n")
                }
            })
            .collect();
    fs::write(path, moved).unwrap();
    let json = changes(folder.path(), &["--json"]).json();
    let list = inputs(&json);
    assert!(
        list.contains(&"row-added 399 ".to_owned()) && list.contains(&"row-removed 321 ".to_owned()),
        "{list:?}"
    );
    let position = |what: &str| list.iter().position(|i| i == what).unwrap();
    for (place, gone, what) in [("321", true, "row-removed 321 "), ("399", false, "row-added 399 ")] {
        let n = number(&json, place, "primary_air_flow").unwrap();
        assert_eq!((n["old"].is_null(), n["new"].is_null()), (!gone, gone), "{place}");
        let causes: Vec<u64> =
            n["causes"].as_array().unwrap().iter().map(|c| c["input"].as_u64().unwrap()).collect();
        assert!(causes.contains(&(position(what) as u64)), "{place}: {causes:?}");
    }
}

#[test]
fn what_newly_arises_decides_the_exit_code() {
    let folder = copies();
    // The demo has warnings; the same ones are no news.
    assert_eq!(changes(folder.path(), &[]).code, Some(0));
    change(folder.path(), "project.toml", "room_limit = \"55 degF\"", "room_limit = \"58 degF\"");
    change(
        folder.path(),
        "project.toml",
        "[[waive]]\nid = \"DP-005\"\npart = \"112\"",
        "[[waive]]\nid = \"DP-005\"\npart = \"113\"",
    );
    let ran = changes(folder.path(), &[]);
    assert_eq!(ran.code, Some(1), "{}", ran.out);
    assert!(ran.out.contains("arisen: warning[DP-005]"), "{}", ran.out);
}

#[test]
fn result_files_are_compared_key_by_key() {
    let folder = copies();
    change(folder.path(), "rooms.csv", ROOM_321, &ROOM_321.replace("9.5,30,", "9.5,40,"));
    for name in ["old", "new"] {
        run_in(folder.path(), &["size", name, "-q"]);
    }
    let files = ["changes", "old/results/design.json", "new/results/design.json"];
    let ran = run_in(folder.path(), &files);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let json = run_in(folder.path(), &[&files[..], &["--json"]].concat()).json();
    let keys: Vec<&str> =
        json["keys"].as_array().unwrap().iter().map(|k| k["path"].as_str().unwrap()).collect();
    assert!(keys.contains(&"design.needs[321].primary_m3_per_s"), "{keys:?}");
    assert!(keys.iter().all(|k| !k.starts_with("fingerprint")), "the head is told apart");
    assert!(ran.out.contains("--all lists them"));
    let same = run_in(folder.path(), &["changes", files[1], files[1]]);
    assert!(same.out.ends_with("\nNothing changed.\n"), "{}", same.out);
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let folder = copies();
    run_in(folder.path(), &["size", "old", "-q"]);
    fs::write(folder.path().join("text.json"), "{\"a\": 1}").unwrap();
    fs::write(folder.path().join("broken.json"), "{").unwrap();
    let design = "old/results/design.json";
    let cases: [(&[&str], i32, &str); 5] = [
        (&["changes", "old", design], 3, "one is a folder and the other is not"),
        (&["changes", design, "none.json"], 4, "cannot read `none.json`"),
        (&["changes", design, "text.json"], 2, "no result file"),
        (&["changes", "broken.json", design], 2, "is not JSON"),
        (&["changes", design, design, "--out", "x.html"], 3, "hold no inputs"),
    ];
    for (arguments, code, text) in cases {
        let ran = run_in(folder.path(), arguments);
        assert_eq!((ran.code, ran.out.as_str()), (Some(code), ""), "{arguments:?}");
        assert!(ran.err.contains(text), "{arguments:?}: {}", ran.err);
    }
    // Of two folders with the same file names, it is said in which one the problem is.
    fs::write(folder.path().join("old/rooms.csv"), "id,floor\n1,2\n").unwrap();
    let ran = changes(folder.path(), &[]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("in old:"), "{}", ran.err);
}

#[test]
fn the_document_is_whole_and_the_same_twice() {
    let folder = copies();
    change(folder.path(), "project.toml", "revision = \"A\"", "revision = \"B\"");
    change(folder.path(), "rooms.csv", ROOM_321, &ROOM_321.replace("9.5,30,", "9.5,40,"));
    let write = |name: &str| {
        let ran = changes(folder.path(), &["--out", name]);
        assert!(ran.out.ends_with(&format!("Written: {name}\n")), "{}", ran.out);
        fs::read_to_string(folder.path().join(name)).unwrap()
    };
    let html = write("one.html");
    assert_eq!(html, write("two.html"));
    assert!(html.starts_with("<!DOCTYPE html>") && html.contains("Changes since revision A"));
    assert!(html.contains("rooms.csv, 321, people"));
    // Each link leads to a part of the document.
    let mut links = 0;
    for link in html.split("href=\"#").skip(1).map(|t| t.split('"').next().unwrap()) {
        assert!(html.contains(&format!("id=\"{link}\"")), "#{link}");
        links += 1;
    }
    assert!(links > 50, "{links}");
}

#[test]
fn every_key_is_documented() {
    let folder = copies();
    change(folder.path(), "rooms.csv", ROOM_321, &ROOM_321.replace("9.5,30,", "9.5,40,"));
    let docs = read("docs/RESULTS_FORMAT.md");
    for path in drycoil_results::key_paths(&changes(folder.path(), &["--json"]).json()) {
        let key = path.rsplit('.').next().unwrap().trim_end_matches("[]");
        assert!(docs.contains(&format!("| `{key}` |")), "`{path}` is not in docs/RESULTS_FORMAT.md");
    }
}
