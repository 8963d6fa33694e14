//! `drycoil weather` as the shell sees it.

use crate::support::{Ran, example, run_in};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Runs in the folder of the file, so that what is printed does not depend on where the repository lies.
fn run(file: &Path, arguments: &[&str]) -> Ran {
    let mut all = vec!["weather", file.file_name().unwrap().to_str().unwrap()];
    all.extend(arguments);
    run_in(file.parent().unwrap(), &all)
}

fn year(name: &str) -> std::path::PathBuf {
    example("weather").join(name)
}

#[test]
fn greensboro_in_both_unit_systems() {
    let ip = run(&year("greensboro-nc-tmy3.csv"), &["--units", "ip"]);
    assert_eq!(ip.code, Some(0));
    assert!(ip.err.is_empty());
    let (shown, words) = (&ip.out, ip.words());
    for part in [
        "file greensboro-nc-tmy3.csv",
        "GREENSBORO PIEDMONT TRIAD INT, NC",
        "36.100 deg N, 79.950 deg W, 896 ft above sea level, UTC-5 h",
        "format TMY3 CSV",
        "8760 of 8760 hours",
        "degF",
        "At or above a dew point of 55.0 degF: 3762 h",
        "Derived from this one typical year",
    ] {
        assert!(words.contains(part), "{part}\n{shown}");
    }
    let si = run(&year("greensboro-nc-tmy3.csv"), &["--units", "si"]);
    assert!(si.out.contains("degC") && !si.out.contains("degF"));
    // The edge that was counted from, not one rounded past hours that stand on it.
    assert!(si.words().contains("At or above a dew point of 12.78 degC: 3762 h"), "{}", si.out);
    for line in shown.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

#[test]
fn a_long_path_is_broken_over_lines_and_the_rest_stays_whole() {
    let folder = tempfile::tempdir().unwrap();
    let deep = folder.path().join("a-rather-long-name-of-a-folder/".repeat(5));
    fs::create_dir_all(&deep).unwrap();
    let file = deep.join("greensboro.csv");
    fs::copy(year("greensboro-nc-tmy3.csv"), &file).unwrap();
    let ran = run_in(folder.path(), &["weather", file.to_str().unwrap()]);
    assert_eq!(ran.code, Some(0));
    let shown = &ran.out;
    assert!(
        shown.lines().any(|l| l.trim_start().starts_with("format ") && l.ends_with("TMY3 CSV")),
        "{shown}"
    );
    assert!(shown.lines().all(|l| l.chars().count() <= 100), "{shown}");
    let joined = |text: &str| text.split_whitespace().collect::<String>();
    assert!(joined(shown).contains(&joined(&file.to_string_lossy())), "{shown}");
}

#[test]
fn json_is_si_and_its_sums_close() {
    let output = run(&year("greensboro-nc-tmy3.csv"), &["--json", "--units", "ip"]);
    assert_eq!(output.code, Some(0));
    let v = output.json();
    assert_eq!(v["station"]["latitude_deg"], 36.1);
    assert_eq!(v["station"]["elevation_m"], 273.0);
    let sum =
        |list: &Value| list.as_array().unwrap().iter().map(|b| b["hours"].as_u64().unwrap()).sum::<u64>();
    assert_eq!(sum(&v["dew_point_bands"]), 8760);
    assert_eq!(sum(&v["months"]), 8760);
    // Hours of the file with a dew point above 55 degF, counted in it by a separate script.
    assert_eq!(v["hours_above_dew_point"][0]["hours"], 3762);
    // Lowest and highest dry bulb of the file, by the same script.
    let months = v["months"].as_array().unwrap();
    let highest = months.iter().map(|m| m["dry_bulb_highest_c"].as_f64().unwrap()).fold(f64::MIN, f64::max);
    let lowest = months.iter().map(|m| m["dry_bulb_lowest_c"].as_f64().unwrap()).fold(f64::MAX, f64::min);
    assert_eq!((lowest, highest), (-16.7, 35.6));
    // January of the file: 74.848 kWh/m2 of global irradiation.
    assert!((months[0]["global_horizontal_kwh_per_m2"].as_f64().unwrap() - 74.848).abs() < 5e-4);
    for key in ["cooling", "dehumidification", "cooling_tower"] {
        assert_eq!(v["design_conditions"][key].as_array().unwrap().len(), 3);
    }
}

#[test]
fn notes_leave_the_exit_code_alone_and_warnings_do_not() {
    let output = run(&year("pvgis-45n-8e-tmy.csv"), &[]);
    assert_eq!(output.code, Some(0));
    assert!(output.err.contains("WX-022"));
    let output = run(&year("pvgis-45n-8e-tmy.csv"), &["--utc-offset", "9 h"]);
    assert_eq!(output.code, Some(1));
    assert!(output.err.contains("WX-032"));
}

#[test]
fn bad_files_and_bad_arguments() {
    let folder = tempfile::tempdir().unwrap();
    let year = fs::read_to_string(year("greensboro-nc-tmy3.csv")).unwrap();
    let gap: String = year
        .lines()
        .enumerate()
        .filter(|(i, _)| !(900..902).contains(i))
        .map(|(_, l)| l.to_owned() + "\n")
        .collect();
    let file = folder.path().join("gap.csv");
    fs::write(&file, gap).unwrap();
    let output = run(&file, &[]);
    assert_eq!(output.code, Some(2));
    assert!(output.out.is_empty());
    assert!(output.err.contains("WX-009") && output.err.contains("gap.csv:901"));
    let output = run(&file, &["--json"]);
    assert_eq!(output.code, Some(2));
    assert!(output.json()["findings"].as_array().unwrap().iter().any(|f| f["id"] == "WX-009"));
    let output = run(&file, &["--fill-gaps", "2", "--json"]);
    assert_eq!(output.code, Some(0));
    assert_eq!(output.json()["completeness"]["filled_hours"], serde_json::json!([898, 899]));
    assert_eq!(run(&file, &["--fill-gaps", "99"]).code, Some(3));
    assert_eq!(run(&file, &["--latitude", "36.1"]).code, Some(3));
    assert_eq!(run(&folder.path().join("none.csv"), &[]).code, Some(4));
}
