//! `drycoil air` as the shell sees it.

use crate::support::{Ran, run_in};
use std::fs;
use std::path::Path;

fn air_in(folder: &Path, arguments: &[&str]) -> Ran {
    let mut all = vec!["air"];
    all.extend(arguments);
    run_in(folder, &all)
}

fn air(arguments: &[&str]) -> Ran {
    air_in(&std::env::temp_dir(), arguments)
}

fn json(arguments: &[&str]) -> serde_json::Value {
    let ran = air(arguments);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    ran.json()
}

#[test]
fn val_json_has_exactly_the_eight_keys() {
    let value = json(&["--dry-bulb", "75 degF", "--rh", "50 %", "--json"]);
    let mut keys: Vec<&str> = value.as_object().unwrap().keys().map(String::as_str).collect();
    keys.sort_unstable();
    assert_eq!(
        keys,
        [
            "dew_point_c",
            "dry_bulb_c",
            "enthalpy_j_per_kg",
            "humidity_ratio",
            "pressure_pa",
            "relative_humidity",
            "volume_m3_per_kg",
            "wet_bulb_c"
        ]
    );
    // Recomputed with psychrolib: 55.12 degF dew point, 62.55 degF wet bulb; 0.02 degF are the printed digits.
    let number = |key: &str| value[key].as_f64().unwrap();
    assert!((number("dew_point_c") * 1.8 + 32.0 - 55.12).abs() < 0.02);
    assert!((number("wet_bulb_c") * 1.8 + 32.0 - 62.55).abs() < 0.02);
    assert_eq!(number("pressure_pa"), 101_325.0);
}

#[test]
fn val_dew_point_of_a_room_is_the_same_at_every_altitude() {
    for altitude in ["0 ft", "5000 ft", "3000 m", "-1000 ft"] {
        let value = json(&["--dry-bulb", "75 degF", "--rh", "50 %", "--altitude", altitude, "--json"]);
        assert!((value["dew_point_c"].as_f64().unwrap() - 12.8445).abs() < 0.005, "{altitude}");
    }
}

#[test]
fn inv_an_inch_pound_enthalpy_counts_from_0_degf() {
    // ASHRAE Fundamentals ch. 1: 28.107 Btu/lb at 75 degF and 50 %; 0.1 % are the rounded constants.
    let value = json(&["--dry-bulb", "75 degF", "--enthalpy", "28.107 Btu/lb", "--json"]);
    assert!((value["relative_humidity"].as_f64().unwrap() - 0.5).abs() < 0.002, "{value}");
    let ran = air(&["--dry-bulb", "75 degF", "--rh", "50 %", "--units", "ip"]);
    let line = ran.out.lines().find(|l| l.contains("enthalpy")).unwrap();
    assert!(line.contains("28.1") && line.contains("Btu/lb") && line.contains("from 0 degF"), "{line}");
}

#[test]
fn the_table_shows_both_unit_systems_on_request() {
    let si = air(&["--dry-bulb", "24 degC", "--dew-point", "12 degC"]);
    assert_eq!(si.code, Some(0));
    assert!(si.out.contains("24.00  degC") || si.out.contains("24.00 degC"), "{}", si.out);
    assert!(si.err.contains("sea level"), "{}", si.err);
    let ip = air(&["--dry-bulb", "24 degC", "--dew-point", "12 degC", "--units", "ip", "--quiet"]);
    assert!(ip.out.contains("75.20") && ip.out.contains("psia"), "{}", ip.out);
    assert_eq!(ip.err, "");
}

#[test]
fn wrong_use_gives_code_3() {
    for (arguments, wanted) in [
        (&["--dry-bulb", "75 degF"][..], "one is given"),
        (&[][..], "none is given"),
        (&["--dry-bulb", "75 degF", "--rh", "50 %", "--dew-point", "50 degF"][..], "3 are given"),
        (&["--dry-bulb", "75", "--rh", "50 %"][..], "has no unit"),
        (&["--dry-bulb", "75 degF", "--rh", "50 cfm"][..], "not a unit"),
        (
            &["--dry-bulb", "75 degF", "--rh", "50 %", "--altitude", "0 ft", "--pressure", "1 atm"][..],
            "cannot be used with",
        ),
    ] {
        let ran = air(arguments);
        assert_eq!(ran.code, Some(3), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(wanted), "{arguments:?}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
}

#[test]
fn an_impossible_state_gives_code_2_and_the_reason() {
    for (arguments, wanted) in [
        (
            &["--dry-bulb", "70 degF", "--dew-point", "71 degF", "--units", "ip"][..],
            "dew point 71.00 degF is above",
        ),
        (&["--dry-bulb", "70 degF", "--rh", "101 %"][..], "101.0 %"),
        (&["--dry-bulb", "70 degF", "--wet-bulb", "71 degF"][..], "above dry bulb"),
        (&["--dew-point", "50 degF", "--humidity-ratio", "8 g/kg"][..], "do not fix a state"),
        (&["--wet-bulb", "50 degF", "--enthalpy", "30 kJ/kg"][..], "nearly parallel"),
        (&["--dry-bulb", "100 degC", "--rh", "1 %"][..], "outside the range"),
        (&["--dry-bulb", "20 degC", "--rh", "50 %", "--altitude", "9000 m"][..], "elevation"),
        (
            &["--dry-bulb", "20 degC", "--rh", "50 %", "--pressure", "20 kPa"][..],
            "absolute pressure 20.000 kPa",
        ),
    ] {
        let ran = air(arguments);
        assert_eq!(ran.code, Some(2), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(wanted), "{arguments:?}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
}

#[test]
fn a_given_wet_bulb_over_ice_is_shown_as_given_and_the_other_is_named() {
    let ran = air(&["--dry-bulb", "5 degC", "--wet-bulb", "-0.1 degC"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("-0.10") && ran.out.contains("over ice"), "{}", ran.out);
    assert!(ran.err.contains("also has a wet bulb over liquid water"), "{}", ran.err);
}

#[test]
fn dry_air_has_no_dew_point() {
    let value = json(&["--dry-bulb", "20 degC", "--humidity-ratio", "0 g/kg", "--json"]);
    assert!(value["dew_point_c"].is_null());
    let ran = air(&["--dry-bulb", "20 degC", "--humidity-ratio", "0 g/kg"]);
    assert!(ran.out.contains("none"), "{}", ran.out);
}

#[test]
fn a_table_of_states() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("in.csv"),
        "\u{feff}dry_bulb [degF],rh [%],altitude [ft]\n75,50,0\n\n75,50,5000\n95,40,0\n",
    )
    .unwrap();
    let ran = air_in(folder.path(), &["--csv", "in.csv", "--units", "ip"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert_eq!(lines.len(), 4, "{}", ran.out);
    assert!(
        lines[0].starts_with(
            "row,dry_bulb [degF],wet_bulb [degF],dew_point [degF],rh [%],humidity_ratio [gr/lb]"
        )
    );
    let rows: Vec<Vec<f64>> =
        lines[1..].iter().map(|l| l.split(',').map(|c| c.parse().unwrap()).collect()).collect();
    assert_eq!(rows.iter().map(|r| r[0]).collect::<Vec<_>>(), [2.0, 4.0, 5.0]);
    // Recomputed with psychrolib; the printed digits.
    assert!((rows[0][3] - 55.12).abs() < 0.02 && (rows[1][3] - 55.12).abs() < 0.02);
    assert!((rows[1][5] - 77.93).abs() < 0.02 && (rows[2][2] - 75.08).abs() < 0.02);
    assert!(!ran.err.contains('\r'), "no progress bar off a terminal");

    let as_json = air_in(folder.path(), &["--csv", "in.csv", "--json", "--quiet"]);
    let value: serde_json::Value = serde_json::from_str(&as_json.out).unwrap();
    assert_eq!(value.as_array().unwrap().len(), 3);
    assert_eq!(value[1]["row"], 4);
    let out = air_in(folder.path(), &["--csv", "in.csv", "--units", "ip", "--out", "out.csv"]);
    assert_eq!((out.code, out.out.as_str()), (Some(0), ""));
    assert_eq!(fs::read_to_string(folder.path().join("out.csv")).unwrap(), ran.out);
    // A result never replaces its own input.
    let before = fs::read(folder.path().join("in.csv")).unwrap();
    let onto = air_in(folder.path(), &["--csv", "in.csv", "--out", "./in.csv"]);
    assert_eq!(onto.code, Some(3), "{}", onto.err);
    assert!(onto.err.contains("replace their own input"), "{}", onto.err);
    assert_eq!(fs::read(folder.path().join("in.csv")).unwrap(), before);
}

#[test]
fn saturated_air_is_exactly_saturated_and_reads_back() {
    for t in ["75 degF", "-10 degC", "3.1 degC", "38.37 degC"] {
        let ran = air(&["--dry-bulb", t, "--dew-point", t, "--json", "--quiet"]);
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        let v: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let number = |key: &str| v[key].as_f64().unwrap();
        assert!(number("relative_humidity") <= 1.0, "{v}");
        assert!(number("dew_point_c") <= number("dry_bulb_c"), "{v}");
        let (dry, dew) = (format!("{} degC", v["dry_bulb_c"]), format!("{} degC", v["dew_point_c"]));
        let again = air(&["--dry-bulb", &dry, "--dew-point", &dew, "--quiet"]);
        assert_eq!(again.code, Some(0), "{}", again.err);
    }
}

#[test]
fn a_spreadsheet_export_with_semicolons_decimal_commas_and_a_degree_sign() {
    let folder = tempfile::tempdir().unwrap();
    // Windows-1252: 0xB0 is the degree sign.
    fs::write(folder.path().join("in.csv"), b"dry_bulb [\xb0C];rh [%]\r\n24,5;50,0\r\n").unwrap();
    let ran = air_in(folder.path(), &["--csv", "in.csv"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.lines().nth(1).unwrap().starts_with("2,24.5,"), "{}", ran.out);
}

#[test]
fn impossible_rows_are_all_named_in_one_pass() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("in.csv"),
        "dry_bulb [degC],dew_point [degC]\n20,10\n20,21\nx,1\n20\n20,\n20,nan\n20,9\n",
    )
    .unwrap();
    let ran = air_in(folder.path(), &["--csv", "in.csv"]);
    assert_eq!(ran.code, Some(2));
    for wanted in [
        "5 of 7 rows",
        "row 3: dew point 21.00 degC is above dry bulb 20.00 degC",
        "row 4: dry_bulb is not a number: `x`",
        "row 5: 1 field",
        "row 6: dew_point is empty",
        "row 7: dew_point must be finite",
    ] {
        assert!(ran.err.contains(wanted), "lacks `{wanted}`: {}", ran.err);
    }
    assert_eq!(ran.out.lines().count(), 3, "good rows are written: {}", ran.out);
    let ran = air_in(folder.path(), &["--csv", "in.csv", "--out", "out.csv"]);
    assert_eq!(ran.code, Some(2));
    assert!(!folder.path().join("out.csv").exists());

    let many = format!("dry_bulb [degC],dew_point [degC]\n{}", "20,21\n".repeat(120));
    fs::write(folder.path().join("many.csv"), many).unwrap();
    let ran = air_in(folder.path(), &["--csv", "many.csv"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.err.contains("row 51:") && !ran.err.contains("row 52:") && ran.err.contains("and 70 more"),
        "{}",
        ran.err
    );
}

#[test]
fn bad_titles_are_all_named() {
    let folder = tempfile::tempdir().unwrap();
    let run = |text: &str, more: &[&str]| {
        fs::write(folder.path().join("in.csv"), text).unwrap();
        let mut arguments = vec!["--csv", "in.csv"];
        arguments.extend_from_slice(more);
        air_in(folder.path(), &arguments)
    };
    for (text, more, code, wanted) in [
        ("dry_bulb,rh [cfm],dew_pont [degC]\n", &[][..], 2, "has no unit"),
        ("dry_bulb,rh [cfm],dew_pont [degC]\n", &[], 2, "`cfm` is not a unit of fraction"),
        ("dry_bulb,rh [cfm],dew_pont [degC]\n", &[], 2, "did you mean `dew_point`?"),
        ("dry_bulb [degC]\n20\n", &[], 2, "exactly two"),
        ("dry_bulb [degC],rh [%],pressure [kPa],altitude [m]\n", &[], 2, "both a pressure and an altitude"),
        ("dry_bulb [degC],dry_bulb [degC]\n", &[], 2, "stands twice"),
        ("", &[], 2, "empty first row"),
        ("dry_bulb [degC],rh [%],pressure [kPa]\n", &["--altitude", "0 m"], 3, "leave out --altitude"),
        ("dry_bulb [degC],rh [%]\n", &["--dry-bulb", "20 degC"], 3, "cannot be used with"),
    ] {
        let ran = run(text, more);
        assert_eq!(ran.code, Some(code), "{text}: {}", ran.err);
        assert!(ran.err.contains(wanted), "{text} lacks `{wanted}`: {}", ran.err);
    }
    let ran = air_in(folder.path(), &["--csv", "missing.csv"]);
    assert_eq!(ran.code, Some(4), "{}", ran.err);
    assert!(ran.err.contains("missing.csv"));
}

#[test]
fn a_row_without_end_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let text = format!("dry_bulb [degC],rh [%]\n{}", "1".repeat(3 << 20));
    fs::write(folder.path().join("in.csv"), text).unwrap();
    let ran = air_in(folder.path(), &["--csv", "in.csv"]);
    assert_eq!(ran.code, Some(2), "{}", ran.err);
    assert!(ran.err.contains("longer than 1 MiB"), "{}", ran.err);
}
