//! Two cases in which the all-air scheme should win. Sign and size were estimated by hand before the first run and stand in
//! the README of each; the program must find the sign, and the size within a factor of three, and say who wins.

use crate::support::{example, run_in};
use serde_json::Value;

/// Decoupled less all-air, `MWh` of electricity a year, as estimated.
fn all_air_wins(name: &str, estimated_mwh: f64) {
    let folder = tempfile::tempdir().unwrap();
    let project = example(name).to_string_lossy().into_owned();
    let ran = run_in(folder.path(), &["year", &project, "--out", "results"]);
    let bytes =
        std::fs::read(folder.path().join("results/year.json")).unwrap_or_else(|e| panic!("{e}: {}", ran.err));
    let year: Value = serde_json::from_slice(&bytes).unwrap();
    let measure = |what: &str| {
        let all = year["measures"].as_array().unwrap();
        let found = all.iter().find(|m| m["what"] == what).unwrap();
        (found["decoupled"].as_f64().unwrap(), found["all_air"].as_f64().unwrap())
    };
    let (decoupled, all_air) = measure("electricity");
    let found = (decoupled - all_air) / 3.6e9;
    assert!(
        found > estimated_mwh / 3.0 && found < estimated_mwh * 3.0,
        "{name}: {found} MWh, estimated {estimated_mwh}"
    );
    let (decoupled, all_air) = measure("site energy");
    assert!(decoupled > all_air, "{name}: {decoupled} and {all_air}");
    let said = year["findings"].as_array().unwrap();
    assert!(said.iter().any(|f| f["id"] == "YR-008"), "{name}: nobody says so");
    assert!(ran.words().contains("does NOT win"), "{}", ran.out);
}

/// Source: the estimate in the README of the example, from the weather file alone.
#[test]
fn xchk_all_air_wins_in_a_dry_cold_climate() {
    all_air_wins("dry-cold-interior-offices", 9.2);
}

/// Source: the estimate in the README of the example, from the weather file alone.
#[test]
fn xchk_all_air_wins_with_much_outdoor_air_and_little_load() {
    all_air_wins("assembly-halls", 31.0);
}
