//! Sweeps: a killed one goes on where it stopped, and every number of a point is that of a lone run.

use crate::support::{command, example, read, run_in};
use drycoil_intake::{MemoryFiles, job, variant};
use drycoil_year::prepare::ReductionCache;
use drycoil_year::simulate::{Options, Unobserved, simulate};
use drycoil_year::sweep::run::{PointResult, metrics};
use drycoil_year::told;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// The process is ended from outside while points are being computed; the second run says how many it knows, computes the
/// rest and writes what an undisturbed run writes.
#[test]
fn a_killed_sweep_goes_on_where_it_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let arguments = |out| {
        let mut all = vec!["sweep", &project, "--out", out, "--step", "30 min", "--threads", "1"];
        all.extend(["--vary", "dew_point.supply=46 degF..49 degF/4"]);
        all.extend(["--vary", "plant.chiller_cop=5.0..6.0/6"]);
        all
    };
    let killed = arguments("killed");
    let mut child =
        command(folder.path(), &killed).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let journal = folder.path().join("killed/sweep.part");
    let lines = || std::fs::read_to_string(&journal).map_or(0, |t| t.lines().count());
    let start = Instant::now();
    while lines() < 4 && start.elapsed() < Duration::from_mins(2) {
        std::thread::sleep(Duration::from_millis(20));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(lines() >= 4, "nothing was kept");
    assert!(!folder.path().join("killed/sweep.json").exists(), "it was over before it was killed");
    let again = run_in(folder.path(), &killed);
    assert!(again.err.contains("of 24 points are known from a run that was interrupted"), "{}", again.err);
    assert!(!journal.exists());
    let whole = run_in(folder.path(), &arguments("whole"));
    assert_eq!(again.code, whole.code);
    for file in ["sweep.json", "sweep.csv"] {
        let bytes = |out: &str| std::fs::read(folder.path().join(out).join(file)).unwrap();
        assert!(bytes("killed") == bytes("whole"), "{file}");
    }
}

/// Ten points drawn over six inputs; sizing and year of each anew by the library, with nothing kept: all metrics, bit for
/// bit.
#[test]
fn every_metric_of_ten_random_points_is_that_of_a_lone_run() {
    const INPUTS: [&str; 6] = [
        "dew_point.supply=46.5 degF..49 degF",
        "plant.chiller_cop=4.5..6.5",
        "criteria.cooling_set_point=74 degF..77 degF",
        "primary_air.recovery_sensible=50 %..80 %",
        "all_air.supply_fan_pressure=3 in wg..6 in wg",
        "water.arrangement=separate,single-cold,return-reuse",
    ];
    let folder = tempfile::tempdir().unwrap();
    let project = example("one-room").to_string_lossy().into_owned();
    let mut arguments =
        vec!["sweep", &project, "--out", "r", "--json", "--samples", "10", "--seed", "8", "--quiet"];
    arguments.extend(INPUTS.iter().flat_map(|i| ["--vary", i]));
    let ran = run_in(folder.path(), &arguments);
    assert!(ran.code == Some(0) || ran.code == Some(1), "{}", ran.err);
    let json = ran.json();
    let keys: Vec<&str> = INPUTS.iter().map(|i| i.split_once('=').unwrap().0).collect();
    let text =
        read("examples/one-room/project.toml").replace("../weather/greensboro-nc-tmy3.csv", "year.csv");
    let weather = std::fs::read(example("weather").join("greensboro-nc-tmy3.csv")).unwrap();
    let points = json["points"].as_array().unwrap();
    assert_eq!(points.len(), 10);
    for point in points {
        assert!(point["problem"].is_null(), "{point}");
        let values: Vec<(&str, String)> = keys
            .iter()
            .zip(point["inputs"].as_array().unwrap())
            .map(|(k, v)| {
                let v = v.as_str().unwrap();
                (*k, if v.parse::<f64>().is_ok() { v.to_owned() } else { format!("\"{v}\"") })
            })
            .collect();
        let files = MemoryFiles::new()
            .with("project.toml", variant::with_values(&text, &values).unwrap())
            .with("rooms.csv", read("examples/one-room/rooms.csv"))
            .with("year.csv", weather.clone());
        let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
        let (project, weather) = (&job.loaded.project, &job.weather.year);
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let design = drycoil_sizing::size(project, weather, &pool).unwrap();
        let mut cache = ReductionCache::default();
        let options = Options::default();
        let year = simulate(project, &design, weather, &options, &mut cache, &pool, &mut Unobserved).unwrap();
        let economy = told::priced(project, &design, &year).unwrap();
        let lone = PointResult::of(project, &design, &year, &economy);
        for ((metric, lone), found) in
            metrics().iter().zip(&lone.values).zip(point["values"].as_array().unwrap())
        {
            // Written as the result is, and read by the same reader.
            let lone: serde_json::Value =
                serde_json::from_str(&serde_json::to_string(lone).unwrap()).unwrap();
            assert_eq!(&lone, found, "{} {point}", metric.name);
        }
    }
}
