//! `drycoil new`, `check` and `schema` as a user runs them.

use crate::support::{Ran, example};
use std::path::Path;

fn drycoil(arguments: &[&str]) -> Ran {
    crate::support::run(arguments)
}

fn path(p: &Path) -> &str {
    p.to_str().expect("a plain path")
}

#[test]
fn a_copy_of_the_demo_passes_the_check() {
    let folder = tempfile::tempdir().unwrap();
    let project = folder.path().join("demo");
    let made = drycoil(&["new", path(&project)]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    let checked = drycoil(&["check", path(&project)]);
    assert!(matches!(checked.code, Some(0 | 1)), "{}{}", checked.out, checked.err);
    assert!(checked.out.contains("can be sized"));
}

#[test]
fn nothing_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("mine.txt"), "mine").unwrap();
    let made = drycoil(&["new", path(folder.path())]);
    assert_eq!(made.code, Some(3));
    assert!(made.err.contains("is not empty"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn a_blank_project_lacks_only_rooms_and_weather() {
    let folder = tempfile::tempdir().unwrap();
    let project = folder.path().join("blank");
    assert_eq!(drycoil(&["new", path(&project), "--blank"]).code, Some(0));
    let checked = drycoil(&["check", "--json", path(&project)]);
    assert_eq!(checked.code, Some(2));
    let value = checked.json();
    let ids: Vec<&str> =
        value["findings"].as_array().unwrap().iter().map(|f| f["id"].as_str().unwrap()).collect();
    assert_eq!(ids.iter().filter(|id| **id != "RM-034").collect::<Vec<_>>(), [&"PF-012", &"RM-021"]);
}

#[test]
fn a_room_list_begins_a_project() {
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("List of rooms.CSV");
    std::fs::write(&list, "id;floor;kind;floor_area [m2]\nA;1;meeting;37,5\n").unwrap();
    let project = folder.path().join("job");
    let made = drycoil(&["new", path(&project), "--rooms", path(&list)]);
    assert_eq!(made.code, Some(0), "{}", made.err);
    assert!(made.err.contains("PF-012"), "the weather is still to be named: {}", made.err);
    assert!(!made.err.contains("[RM-0") || made.err.contains("RM-034"));
    assert!(project.join("rooms.csv").is_file());
}

#[test]
fn errors_of_a_room_list_are_bad_input_and_the_folder_is_there() {
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("rooms.csv");
    std::fs::write(&list, "id;floor;kind;floor_area [m2]\nA;1;meetng;37,5\n").unwrap();
    let project = folder.path().join("job");
    let made = drycoil(&["new", path(&project), "--rooms", path(&list)]);
    assert_eq!(made.code, Some(2), "{}", made.err);
    assert!(made.err.contains("RM-002"), "{}", made.err);
    assert!(project.join("project.toml").is_file() && project.join("rooms.csv").is_file());
}

#[test]
fn the_schema_knows_every_table() {
    let schema = drycoil(&["schema"]).json();
    for table in [
        "project",
        "site",
        "criteria",
        "dew_point",
        "primary_air",
        "terminals",
        "water",
        "plant",
        "ducts",
        "waive",
    ] {
        assert!(schema["properties"][table].is_object(), "{table}");
    }
    assert_eq!(schema["properties"]["site"]["properties"]["conditions"]["type"], "object");
}

#[test]
fn verbose_names_what_was_read_and_each_default() {
    let folder = example("bad/no-surfaces");
    let checked = drycoil(&["check", "--verbose", path(&folder)]);
    let log = &checked.err;
    assert!(
        log.contains("read rooms.csv") && log.contains("default: primary_air.drying_water = 42 degF"),
        "{log}"
    );
}
