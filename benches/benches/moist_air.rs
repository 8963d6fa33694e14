//! Nanoseconds per state of the moist-air batches, on one thread, beside a general-purpose psychrometric library.
//!
//! `cargo bench -p drycoil-benches --bench moist_air [-- --states N --seed S --offline]`
//!
//! The states are seeded and unsorted over the whole range; nothing is remembered between runs. Every result of the
//! last run is put back into the exact energy balance, and the largest residual is printed and checked.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use drycoil_air::{batch, raw};
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::Instant;

const RUNS: usize = 5;
const RESIDUAL_LIMIT: f64 = 1e-9;
/// Humidity ratio above which the checked types refuse a state: nearly pure steam.
const HUMIDITY_RATIO_LIMIT: f64 = 10.0;

/// `SplitMix64`: the same sequence in the Python script, so that both sides see the same states.
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

fn ns_per_state(states: usize, mut run: impl FnMut()) -> (f64, f64) {
    let mut times: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64() * 1e9 / states as f64
        })
        .collect();
    times.sort_by(f64::total_cmp);
    (times[0], times[RUNS / 2])
}

fn argument(name: &str) -> Option<u64> {
    let mut args = std::env::args();
    args.find(|a| a == name)?;
    args.next()?.parse().ok()
}

fn processor() -> String {
    let text = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    text.lines()
        .find(|l| l.starts_with("model name"))
        .and_then(|l| l.split_once(':'))
        .map_or_else(|| "processor not known".to_owned(), |(_, name)| name.trim().to_owned())
}

fn main() -> ExitCode {
    let states = argument("--states").unwrap_or(10_000_000) as usize;
    let seed = argument("--seed").unwrap_or(20_260);
    let mut random = Random(seed);
    let (mut t, mut rh, mut p) = (Vec::new(), Vec::new(), Vec::new());
    let mut drawn = 0usize;
    while t.len() < states {
        drawn += 1;
        let a = -60.0 + 150.0 * random.next();
        let b = 0.01 + 0.99 * random.next();
        let c = 60e3 + 48e3 * random.next();
        // States whose vapour alone would reach the air pressure do not exist (hot, humid and high).
        let w = raw::humidity_ratio_from_relative_humidity(a, b, c);
        if w <= HUMIDITY_RATIO_LIMIT {
            t.push(a);
            rh.push(b);
            p.push(c);
        }
    }
    let w: Vec<f64> =
        (0..states).map(|i| raw::humidity_ratio_from_relative_humidity(t[i], rh[i], p[i])).collect();
    let mut out = vec![0.0; states];

    println!("processor: {}", processor());
    println!(
        "states: {states}, seed {seed}, {} drawn that do not exist, {RUNS} runs, one thread",
        drawn - states
    );
    // Calibration: one exp and one ln a state, the least that a saturation pressure costs.
    let (min, median) = ns_per_state(states, || {
        for (o, x) in out.iter_mut().zip(&t) {
            *o = (x + 273.15).ln().exp();
        }
    });
    println!("{:<44} min {min:6.1}  median {median:6.1} ns a state", "calibration: ln and exp");
    let (min, median) = ns_per_state(states, || {
        batch::saturation_humidity_ratio(&t, &p, &mut out).expect("same length");
    });
    println!("{:<44} min {min:6.1}  median {median:6.1} ns a state", "saturation humidity ratio");
    let (min, median) = ns_per_state(states, || batch::dew_point(&w, &p, &mut out).expect("same length"));
    println!("{:<44} min {min:6.1}  median {median:6.1} ns a state", "dew point from humidity ratio");
    let worst_dew_point = (0..states)
        .map(|i| (raw::humidity_ratio_at_dew_point(out[i], p[i]) - w[i]).abs())
        .fold(0.0, |a: f64, b| if b.is_nan() { f64::INFINITY } else { a.max(b) });
    let (min, median) = ns_per_state(states, || {
        batch::wet_bulb_from_relative_humidity(&t, &rh, &p, &mut out).expect("same length");
    });
    println!(
        "{:<44} min {min:6.1}  median {median:6.1} ns a state",
        "wet bulb from dry bulb and relative humidity"
    );
    let worst = (0..states)
        .map(|i| (raw::humidity_ratio_at_wet_bulb(t[i], out[i], p[i]) - w[i]).abs())
        .fold(0.0, |a: f64, b| if b.is_nan() { f64::INFINITY } else { a.max(b) });
    let evaluations: u64 =
        (0..states).step_by(97).map(|i| u64::from(raw::wet_bulb_solve(t[i], w[i], p[i]).iterations)).sum();
    println!(
        "largest residual in W: wet bulb {worst:.1e}, dew point {worst_dew_point:.1e} kg/kg; {:.2} evaluations a wet bulb",
        evaluations as f64 / states.div_ceil(97) as f64
    );

    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("second_opinions").join("wet_bulb.py");
    if std::env::args().any(|a| a == "--offline") {
        println!("SKIPPED: the Python library (--offline)");
    } else {
        let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned());
        match Command::new(&python).arg(&script).args([states.to_string(), seed.to_string()]).status() {
            Ok(s) if s.success() => {}
            Ok(s) if s.code() == Some(77) => println!("SKIPPED: the Python library is not installed"),
            Ok(s) => {
                eprintln!("{} ended with {s}", script.display());
                return ExitCode::FAILURE;
            }
            Err(e) => println!("SKIPPED: cannot run {python}: {e}"),
        }
    }
    if worst <= RESIDUAL_LIMIT && worst_dew_point <= RESIDUAL_LIMIT {
        ExitCode::SUCCESS
    } else {
        eprintln!("a residual is above {RESIDUAL_LIMIT:e} kg/kg");
        ExitCode::FAILURE
    }
}
