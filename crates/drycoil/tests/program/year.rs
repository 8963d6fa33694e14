//! `drycoil year` and `drycoil sweep` as the shell sees them.

use crate::support::{Ran, command, demo, example, read, run, run_in};
use drycoil_results::{SWEEP_FORMAT, YEAR_FORMAT, key_paths, null_paths};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Stdio;
use std::sync::OnceLock;

fn small() -> String {
    example("one-room").to_string_lossy().into_owned()
}

/// The year of an example, in a folder of its own, run once.
fn year_of(name: &'static str) -> &'static (Ran, Value) {
    static DEMO: OnceLock<(Ran, Value)> = OnceLock::new();
    static SMALL: OnceLock<(Ran, Value)> = OnceLock::new();
    let cell = if name == "one-room" { &SMALL } else { &DEMO };
    cell.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let project = example(name).to_string_lossy().into_owned();
        let ran = run_in(folder.path(), &["year", &project, "--out", "results"]);
        let bytes = std::fs::read(folder.path().join("results/year.json")).unwrap();
        (ran, serde_json::from_slice(&bytes).unwrap())
    })
}

#[test]
fn the_margin_leads_and_everything_is_shown() {
    let (ran, json) = year_of("public-services-building");
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    let text = &ran.out;
    let mut at = 0;
    for part in [
        "smallest margin",
        "comparison",
        "Dew-point margin of the coils, smallest first",
        "The schemes side by side",
        "Where the energy goes",
        "By month",
        "Peaks of a step",
        "Humidity by scheme",
        "Away from the set points",
        "Free cooling",
        "What tower water could carry",
        "Bills of the year",
        "Sizing's yearly estimate beside the simulation",
        "Limits that the plant reached",
        "Balances",
        "What the comparison assumes",
        "Findings: ",
        "year.json",
    ] {
        let found = text[at..].find(part).unwrap_or_else(|| panic!("{part} is not in its place\n{text}"));
        at += found;
    }
    assert!(!text.contains("NaN") && !text.contains(" inf "), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    assert_eq!(json["format"], YEAR_FORMAT);
    // The first room of the table is the one with the smallest margin of the document.
    let rooms = json["year"]["schemes"][0]["rooms"].as_array().unwrap();
    let smallest = rooms
        .iter()
        .filter_map(|r| Some((r["margin"]["smallest_k"].as_f64()?, r["room"].as_str()?)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap();
    let first = text.lines().skip_while(|l| !l.starts_with("----  ------")).nth(1).unwrap();
    assert!(first.starts_with(smallest.1), "{first}: {smallest:?}");
}

/// Sums of the document against each other: end uses, hours, months.
#[test]
fn phys_the_document_adds_up() {
    for name in ["public-services-building", "one-room"] {
        let (_, json) = year_of(name);
        for scheme in json["year"]["schemes"].as_array().unwrap() {
            let list = |v: &Value| -> Vec<f64> {
                v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
            };
            for (carrier, hourly) in [("electricity_j", "electricity_w"), ("fuel_j", "fuel_w")] {
                let uses = scheme["end_uses"].as_array().unwrap();
                let by_use: f64 = uses.iter().map(|u| list(&u[carrier]).iter().sum::<f64>()).sum();
                let by_hour: f64 = list(&scheme["hourly"][hourly]).iter().sum::<f64>() * 3600.0;
                // The same numbers in another order of summation.
                assert!(
                    (by_use - by_hour).abs() <= 1e-9 * by_use.max(1.0),
                    "{name} {carrier}: {by_use} {by_hour}"
                );
            }
            let hours = json["year"]["hours"].as_u64().unwrap() as usize;
            assert_eq!(list(&scheme["hourly"]["cooling_w"]).len(), hours);
            for c in scheme["closure"].as_array().unwrap() {
                // Nothing passes between rooms where every zone is one room.
                let bound = c["bound_share"].as_f64().unwrap() * c["turnover"].as_f64().unwrap();
                assert!(c["residual"].as_f64().unwrap().abs() <= bound, "{name}: {c}");
            }
            for r in scheme["rooms"].as_array().unwrap() {
                if let Some(m) = r["margin"].as_object() {
                    let of = |which: &str, key: &str| m[which][key].as_f64().unwrap();
                    for key in ["counted_h", "below_zero_h", "below_one_degf_h", "below_two_degf_h"] {
                        assert!(of("occupied", key) <= of("all", key) + 1e-9, "{name} {} {key}", r["room"]);
                    }
                    assert!(of("all", "below_zero_h") <= of("all", "below_one_degf_h"));
                    assert!(of("all", "below_one_degf_h") <= of("all", "below_two_degf_h"));
                    assert!(of("all", "below_two_degf_h") <= of("all", "counted_h") + 1e-9);
                }
            }
        }
    }
}

#[test]
fn keys_are_frozen_documented_and_null_only_where_documented() {
    let mut keys = BTreeSet::new();
    let mut nulls = BTreeSet::new();
    for name in ["public-services-building", "one-room"] {
        let (_, json) = year_of(name);
        keys.extend(key_paths(json));
        nulls.extend(null_paths(json));
    }
    let path = format!("examples/formats/year-{YEAR_FORMAT}/keys.txt");
    let frozen: BTreeSet<String> = read(&path).lines().map(str::to_owned).collect();
    let added: Vec<&String> = keys.difference(&frozen).collect();
    let gone: Vec<&String> = frozen.difference(&keys).collect();
    assert!(
        added.is_empty() && gone.is_empty(),
        "the keys of year format {YEAR_FORMAT} changed; raise `YEAR_FORMAT` and freeze the new keys: added {added:?}, gone \
         {gone:?}"
    );
    documented(&keys, &nulls);
}

fn documented(keys: &BTreeSet<String>, nulls: &BTreeSet<String>) {
    let docs = read("docs/RESULTS_FORMAT.md");
    for path in keys {
        let key = path.rsplit('.').next().unwrap().trim_end_matches("[]");
        assert!(docs.contains(&format!("| `{key}` |")), "`{path}` is not in docs/RESULTS_FORMAT.md");
    }
    for path in nulls {
        let key = path.rsplit('.').next().unwrap();
        let option = docs.lines().any(|l| l.starts_with(&format!("| `{key}` |")) && l.ends_with("or null |"));
        assert!(
            option || docs.contains(&format!("- `{path}`")),
            "`{path}` is null without being documented so"
        );
    }
}

#[test]
fn the_same_document_on_standard_output_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let run = |threads: &str| {
        run_in(
            folder.path(),
            &[
                "year",
                &small(),
                "--out",
                "r",
                "--json",
                "--quiet",
                "--threads",
                threads,
                "--fail-on",
                "error",
            ],
        )
    };
    let (one, three) = (run("1"), run("3"));
    assert_eq!(one.code, Some(0), "{}", one.err);
    assert!(one.out == three.out, "threads change the result");
    assert_eq!(std::fs::read(folder.path().join("r/year.json")).unwrap(), three.out.as_bytes());
}

#[test]
fn the_summary_is_one_page_of_words() {
    let folder = tempfile::tempdir().unwrap();
    let ran = run_in(folder.path(), &["year", &small(), "--out", "r", "--summary", "--quiet"]);
    let words = ran.words();
    for part in ["Does it stay dry?", "Energy", "Money", "Comfort", "What this rests on"] {
        assert!(words.contains(part), "{part}\n{}", ran.out);
    }
    assert!(ran.out.lines().count() < 66, "{}", ran.out);
    // In a room this small the decoupled scheme loses, and the page says so.
    assert!(words.contains("does NOT save energy here"), "{words}");
}

#[test]
fn hours_of_chosen_rooms_are_written_with_units() {
    let folder = tempfile::tempdir().unwrap();
    let ran = run_in(
        folder.path(),
        &[
            "year",
            &small(),
            "--out",
            "r",
            "--hours",
            "hours.csv",
            "--rooms",
            "1",
            "--units",
            "si",
            "-q",
            "--step",
            "1 h",
        ],
    );
    assert!(ran.code == Some(0) || ran.code == Some(1), "{}", ran.err);
    let mut csv = csv::Reader::from_path(folder.path().join("hours.csv")).unwrap();
    let titles: Vec<String> = csv.headers().unwrap().iter().map(str::to_owned).collect();
    let at =
        |name: &str| titles.iter().position(|t| t == name).unwrap_or_else(|| panic!("{name}: {titles:?}"));
    let (electricity, margin) = (at("decoupled electricity [kW]"), at("decoupled 1 dew-point margin [K]"));
    let (mut hours, mut kwh, mut smallest) = (0, 0.0, f64::INFINITY);
    for row in csv.records() {
        let row = row.unwrap();
        hours += 1;
        kwh += row[electricity].parse::<f64>().unwrap();
        if let Ok(k) = row[margin].parse::<f64>() {
            smallest = smallest.min(k);
        }
    }
    assert_eq!(hours, 8760);
    let json: Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("r/year.json")).unwrap()).unwrap();
    let scheme = &json["year"]["schemes"][0];
    let j: f64 = scheme["end_uses"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|u| u["electricity_j"].as_array().unwrap())
        .map(|v| v.as_f64().unwrap())
        .sum();
    // Each of 8760 values is rounded to 0.0001 kW.
    assert!((kwh - j / 3.6e6).abs() < 0.5, "{kwh} {}", j / 3.6e6);
    let of_document = scheme["rooms"][0]["margin"]["smallest_k"].as_f64().unwrap();
    assert!((smallest - of_document).abs() < 1e-3, "{smallest} {of_document}");
}

#[test]
fn wrong_use_is_refused_before_any_work() {
    let folder = tempfile::tempdir().unwrap();
    let small = small();
    for (arguments, part) in [
        (vec!["year", &small, "--step", "7 min"], "not a whole part of an hour"),
        (vec!["year", &small, "--step", "10 s"], "not a whole part of an hour"),
        (vec!["year", &small, "--step", "15"], "no unit"),
        (vec!["year", &small, "--scheme", "ceiling"], "all-air"),
        (vec!["year", &small, "--rooms", "1"], "--hours"),
        (vec!["year", &small, "--hours", "h.csv", "--rooms", "2"], "is not a room"),
        (vec!["year", &small, "--summary", "--json"], "cannot be used with"),
        (vec!["sweep", &small], "nothing varies"),
        (vec!["sweep", &small, "--vary", "dew_point.supply"], "no `=`"),
        (vec!["sweep", &small, "--vary", "dew_point.supply=46 degF..48 degF"], "without a number of values"),
        (
            vec!["sweep", &small, "--vary", "plant.chillers=1,2", "--least", "smallest_margn_k"],
            "smallest_margin_k",
        ),
        (vec!["sweep", &small, "--seed", "3", "--vary", "plant.chillers=1,2"], "seed without"),
        (vec!["sweep", &small, "--uncertain", "0"], "cannot be drawn"),
        (vec!["sweep", &small, "--uncertain", "3", "--people", "120 %..80 %"], "does not rise"),
        (vec!["sweep", &small, "--uncertain", "3", "--vary", "plant.chillers=1,2"], "cannot be used with"),
    ] {
        let ran = run_in(folder.path(), &arguments);
        assert_eq!(ran.code, Some(3), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(part) && ran.out.is_empty(), "{arguments:?}: {}", ran.err);
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "nothing was begun");
    // A key that the project does not have is bad input, like in the project itself.
    let ran = run_in(folder.path(), &["sweep", &small, "--vary", "plant.chilers=1,2", "--out", "r"]);
    assert_eq!(ran.code, Some(2), "{}", ran.err);
    assert!(ran.err.contains("PF-002"), "{}", ran.err);
}

#[test]
fn places_that_cannot_be_written() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("file"), "a file").unwrap();
    let ran = run_in(folder.path(), &["year", &small(), "--out", "file"]);
    assert_eq!(ran.code, Some(4), "{}", ran.err);
    let ran = run_in(folder.path(), &["year", &small(), "--out", "r", "--hours", "none/hours.csv"]);
    assert_eq!(ran.code, Some(4), "{}", ran.err);
    assert!(ran.err.contains("hours.csv"), "{}", ran.err);
    // No half file is left beside the place of the result.
    assert_eq!(std::fs::read_dir(folder.path().join("r")).unwrap().count(), 0);
    assert_eq!(run(&["year", "no-such-project"]).code, Some(4));
}

#[test]
fn a_closed_pipe_is_quiet() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = command(folder.path(), &["year", &demo(), "--out", "r", "--json", "--quiet"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
}

fn sweep(folder: &Path, more: &[&str]) -> Ran {
    let small = small();
    let mut arguments = vec!["sweep", &small, "--out", "r", "--step", "1 h", "--quiet"];
    arguments.extend(more);
    run_in(folder, &arguments)
}

#[test]
fn a_point_of_a_sweep_equals_a_lone_run_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let vary = ["--vary", "dew_point.supply=47 degF,49 degF", "--vary", "plant.chillers=1,2"];
    let one = sweep(folder.path(), &[&vary[..], &["--threads", "1", "--json"]].concat());
    assert!(one.code == Some(0) || one.code == Some(1), "{}", one.err);
    let three = sweep(folder.path(), &[&vary[..], &["--threads", "3", "--json"]].concat());
    assert_eq!(one.out, three.out, "threads change the sweep");
    let json = one.json();
    assert_eq!(json["format"], SWEEP_FORMAT);
    let points = json["points"].as_array().unwrap();
    assert_eq!(points.len(), 4);
    documented(&key_paths(&json), &null_paths(&json));
    // The CSV holds the same points.
    let mut csv = csv::Reader::from_path(folder.path().join("r/sweep.csv")).unwrap();
    assert_eq!(csv.records().count(), 4);
    assert!(!folder.path().join("r/sweep.part").exists());

    // The third point by hand: the same values written into a copy of the project.
    let copy = folder.path().join("copy");
    std::fs::create_dir(&copy).unwrap();
    for file in ["project.toml", "rooms.csv"] {
        let mut text = read(&format!("examples/one-room/{file}"));
        if file == "project.toml" {
            let weather = example("weather").to_string_lossy().replace('\\', "/");
            text = text.replace("../weather", &weather);
            text = drycoil_intake::variant::with_values(
                &text,
                &[("dew_point.supply", "\"49 degF\"".to_owned()), ("plant.chillers", "1".to_owned())],
            )
            .unwrap();
        }
        std::fs::write(copy.join(file), text).unwrap();
    }
    let lone = run_in(folder.path(), &["year", "copy", "--step", "1 h", "--json", "--quiet"]);
    let lone = lone.json();
    let column =
        json["metrics"].as_array().unwrap().iter().position(|m| m["name"] == "smallest_margin_k").unwrap();
    let margin = lone["year"]["schemes"][0]["rooms"][0]["margin"]["smallest_occupied_k"].as_f64();
    assert_eq!(points[2]["inputs"], serde_json::json!(["49 degF", "1"]));
    assert_eq!(points[2]["values"][column].as_f64(), margin);
}

#[test]
fn an_interrupted_sweep_goes_on_and_a_bad_point_is_named() {
    let folder = tempfile::tempdir().unwrap();
    // 30 degF is colder than any drying water gives.
    let vary = ["--vary", "dew_point.supply=47 degF,30 degF,49 degF", "--json"];
    let whole = sweep(folder.path(), &vary);
    assert_eq!(whole.code, Some(1), "{}", whole.err);
    assert!(whole.err.contains("YR-013"), "{}", whole.err);
    let points = whole.json()["points"].as_array().unwrap().clone();
    assert!(points[1]["problem"].as_str().unwrap().contains("PF-018"), "{}", points[1]);
    assert_eq!(points[1]["pareto"], false);
    let again = sweep(folder.path(), &vary);
    assert_eq!(again.out, whole.out);
}

#[test]
fn samples_say_how_likely_each_coil_gets_wet() {
    let folder = tempfile::tempdir().unwrap();
    let run = |error: &str| {
        let ran = sweep(folder.path(), &["--uncertain", "8", "--sensor-error", error, "--json"]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        ran.json()
    };
    let json = run("0.2 degF");
    documented(&key_paths(&json), &null_paths(&json));
    assert_eq!(json["samples"].as_array().unwrap().len(), 8);
    let of = |json: &Value| json["rooms"][0]["probability"].as_f64().unwrap();
    // A sensor that may be off by ten kelvin lets no coil be sure to stay dry.
    assert!(of(&json) <= of(&run("18 degF")), "{json}");
    assert!(of(&run("18 degF")) > 0.2);
}
