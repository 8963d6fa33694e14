//! `drycoil excursion`: what is printed, written and refused.

use crate::support::{Ran, example, read, run_in};
use drycoil_results::{EXCURSION_FORMAT, SEQUENCE_CAUTION, key_paths};
use std::fs;
use std::sync::OnceLock;
use tempfile::TempDir;

fn school() -> String {
    example("two-storey-school").to_string_lossy().into_owned()
}

/// One case of the school with everything that can be written, and samples.
fn one_case() -> &'static (TempDir, Ran) {
    static RAN: OnceLock<(TempDir, Ran)> = OnceLock::new();
    RAN.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let project = school();
        let arguments = [
            "excursion",
            project.as_str(),
            "--case",
            "meeting-crowded",
            "--step",
            "20 s",
            "--sample",
            "30",
            "--seed",
            "7",
            "--history",
            "history.csv",
            "--pictures",
            "pictures",
            "--out",
            "out",
            "--json",
        ];
        let ran = run_in(folder.path(), &arguments);
        assert!(matches!(ran.code, Some(0 | 1)), "{}{}", ran.out, ran.err);
        (folder, ran)
    })
}

#[test]
fn every_key_is_documented() {
    let (folder, ran) = one_case();
    let json = ran.json();
    assert_eq!(json["format"], EXCURSION_FORMAT);
    assert_eq!(json["cautions"][0], SEQUENCE_CAUTION);
    assert_eq!(json["robustness"][0]["samples"], 30);
    let docs = read("docs/RESULTS_FORMAT.md");
    for path in key_paths(&json) {
        let key = path.rsplit('.').next().unwrap().trim_end_matches("[]");
        assert!(docs.contains(&format!("| `{key}` |")), "`{path}` is not in docs/RESULTS_FORMAT.md");
    }
    let written = fs::read_to_string(folder.path().join("out/excursion.json")).unwrap();
    assert_eq!(written, ran.out, "the file is what --json prints");
}

#[test]
fn history_and_picture_are_written() {
    let (folder, ran) = one_case();
    let history = fs::read_to_string(folder.path().join("history.csv")).unwrap();
    let mut lines = history.lines();
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    assert_eq!(head[..4], ["case", "time_s", "place", "stage"]);
    let zones = ran.json()["cases"][0]["zones"].as_array().unwrap().len();
    // A building and its zones, once a minute for thirteen hours, and after the first step.
    assert_eq!(lines.clone().count(), (zones + 1) * (13 * 60 + 1));
    assert!(lines.all(|l| l.split(',').count() == head.len()));
    let picture = fs::read_to_string(folder.path().join("pictures/meeting-crowded.svg")).unwrap();
    assert!(picture.contains("<svg") && picture.contains("dew point"));
}

#[test]
fn a_case_is_told_from_its_margin_on() {
    let folder = tempfile::tempdir().unwrap();
    let project = school();
    let ran = run_in(
        folder.path(),
        &["excursion", project.as_str(), "--case", "meeting-crowded", "--step", "60 s", "--out", "out"],
    );
    assert!(matches!(ran.code, Some(0 | 1)), "{}{}", ran.out, ran.err);
    let margin = ran.out.find("Smallest dew-point margin").unwrap();
    assert!(margin < ran.out.find("criterion").unwrap_or(usize::MAX));
    assert!(ran.out.contains("water that drips") && ran.out.contains(SEQUENCE_CAUTION));
    assert!(ran.out.contains("Written: "));
}

#[test]
fn cases_are_listed_with_what_happens() {
    let folder = tempfile::tempdir().unwrap();
    let project = school();
    let ran = run_in(folder.path(), &["excursion", project.as_str(), "--list"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    for name in ["humid-start", "door-open", "drying-lost", "sensor-drifts-low", "power-dip", "valve-stuck"] {
        assert!(ran.out.contains(name), "{name}");
    }
    assert!(!folder.path().join("results").exists(), "nothing is run");
}

/// Water that is let drip by a wet switch and a valve that do not work: `EX-001` and an exit code that says so.
#[test]
fn what_drips_is_a_finding() {
    let folder = tempfile::tempdir().unwrap();
    let project = school();
    let list = run_in(
        folder.path(),
        &["excursion", project.as_str(), "--case", "valve-stuck", "--json", "--out", "a", "--step", "60 s"],
    );
    let zone = list.json()["cases"][0]["zones"][0]["zone"].as_str().unwrap().to_owned();
    let room = list.json()["cases"][0]["zones"][0]["rooms"][0].as_str().unwrap().to_owned();
    let text = format!(
        "[criteria]\nrecovery = \"1 min\"\n[[case]]\nname = \"flood\"\n[[case.upset]]\nwhat = \"valve-stuck\"\nzone = \"{zone}\"\nposition = \"100 %\"\nfrom = \"10:00\"\nto = \"18:00\"\n[[case.upset]]\nwhat = \"moisture\"\nroom = \"{room}\"\nwater_per_hour = \"20 kg\"\nfrom = \"10:00\"\nto = \"18:00\"\n"
    );
    fs::write(folder.path().join("own.toml"), &text).unwrap();
    let arguments = ["excursion", project.as_str(), "--cases", "own.toml", "--out", "b", "--step", "60 s"];
    let ran = run_in(folder.path(), &arguments);
    assert_eq!(ran.code, Some(1), "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("EX-001"), "{}", ran.err);
    assert!(ran.err.contains("EX-002"), "{}", ran.err);
    fs::write(folder.path().join("own.toml"), text.replace("20 kg", "20 kgg")).unwrap();
    let ran = run_in(folder.path(), &arguments);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("own.toml:14"), "{}", ran.err);
}

#[test]
fn what_cannot_be_run_is_refused_first() {
    let folder = tempfile::tempdir().unwrap();
    let project = school();
    let cases: [(&[&str], &str); 5] = [
        (&["--case", "door-opne"], "did you mean `door-open`"),
        (&["--step", "7 s"], "not a whole part of a minute"),
        (&["--step", "2 min"], "not a whole part of a minute"),
        (&["--sample", "100"], "--case"),
        (&["--case", "door-open", "--sample", "5"], "30 to 100000"),
    ];
    for (more, text) in cases {
        let arguments: Vec<&str> = ["excursion", project.as_str()].iter().chain(more).copied().collect();
        let ran = run_in(folder.path(), &arguments);
        assert_eq!(ran.code, Some(3), "{more:?} {}", ran.err);
        assert!(ran.err.contains(text), "{more:?} {}", ran.err);
    }
}
