//! `drycoil new`, `check` and `schema` as a user runs them.

use std::path::Path;
use std::process::{Command, Output};

fn drycoil(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_drycoil")).args(arguments).output().expect("the program starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn path(p: &Path) -> &str {
    p.to_str().expect("a plain path")
}

#[test]
fn a_copy_of_the_demo_passes_the_check() {
    let folder = tempfile::tempdir().unwrap();
    let project = folder.path().join("demo");
    let made = drycoil(&["new", path(&project)]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let checked = drycoil(&["check", path(&project)]);
    assert!(
        matches!(checked.status.code(), Some(0 | 1)),
        "{}{}",
        text(&checked.stdout),
        text(&checked.stderr)
    );
    assert!(text(&checked.stdout).contains("can be sized"));
}

#[test]
fn nothing_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("mine.txt"), "mine").unwrap();
    let made = drycoil(&["new", path(folder.path())]);
    assert_eq!(made.status.code(), Some(3));
    assert!(text(&made.stderr).contains("is not empty"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn a_blank_project_lacks_only_rooms_and_weather() {
    let folder = tempfile::tempdir().unwrap();
    let project = folder.path().join("blank");
    assert_eq!(drycoil(&["new", path(&project), "--blank"]).status.code(), Some(0));
    let checked = drycoil(&["check", "--json", path(&project)]);
    assert_eq!(checked.status.code(), Some(2));
    let value: serde_json::Value = serde_json::from_slice(&checked.stdout).unwrap();
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
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    assert!(
        text(&made.stderr).contains("PF-012"),
        "the weather is still to be named: {}",
        text(&made.stderr)
    );
    assert!(!text(&made.stderr).contains("[RM-0") || text(&made.stderr).contains("RM-034"));
    assert!(project.join("rooms.csv").is_file());
}

#[test]
fn the_schema_knows_every_table() {
    let schema: serde_json::Value = serde_json::from_slice(&drycoil(&["schema"]).stdout).unwrap();
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
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/bad/no-surfaces");
    let checked = drycoil(&["check", "--verbose", path(&folder)]);
    let log = text(&checked.stderr);
    assert!(
        log.contains("read rooms.csv") && log.contains("default: primary_air.drying_water = 42 degF"),
        "{log}"
    );
}
