//! `drycoil-fuzz SECONDS [TARGET]`: runs every target, or one, for so many seconds.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use drycoil_fuzz::{Mutator, TARGETS, Target, kept_inputs};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// An input that takes longer is a hang. The slowest honest input takes some milliseconds.
const HANG: Duration = Duration::from_secs(10);

type Running = Arc<Mutex<Option<(Instant, &'static str, Vec<u8>)>>>;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(seconds) = arguments.first().and_then(|s| s.parse::<u64>().ok()) else {
        eprintln!("usage: drycoil-fuzz SECONDS [TARGET]");
        return ExitCode::from(3);
    };
    let wanted = arguments.get(1);
    let targets: Vec<&Target> = TARGETS.iter().filter(|t| wanted.is_none_or(|name| name == t.name)).collect();
    if targets.is_empty() {
        let names: Vec<&str> = TARGETS.iter().map(|t| t.name).collect();
        eprintln!("there is no such target; there are {}", names.join(", "));
        return ExitCode::from(3);
    }
    let running = watch();
    let mut failed = false;
    for target in targets {
        failed |= !fuzz(target, Duration::from_secs(seconds), &running);
    }
    if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// Runs one target; `false` when an input failed.
fn fuzz(target: &Target, time: Duration, running: &Running) -> bool {
    // Another start each time, so that runs add up; it is printed, so that a run can be repeated.
    let number = std::env::var("FUZZ_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or_else(|| {
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(0, |d| d.as_nanos() as u64)
    });
    let mut mutator = Mutator::new(number, (target.seeds)());
    let mut count = 0u64;
    let begin = Instant::now();
    let kept: Vec<Vec<u8>> = kept_inputs(target.name).into_iter().map(|(_, bytes)| bytes).collect();
    let mut kept = kept.into_iter();
    while begin.elapsed() < time {
        let input = kept.next().unwrap_or_else(|| mutator.next_input());
        *running.lock().unwrap_or_else(PoisonError::into_inner) =
            Some((Instant::now(), target.name, input.clone()));
        let result = catch_unwind(AssertUnwindSafe(|| (target.run)(&input)));
        *running.lock().unwrap_or_else(PoisonError::into_inner) = None;
        count += 1;
        if result.is_err() {
            println!(
                "{}: FAILED after {count} inputs with FUZZ_SEED={number}: {}",
                target.name,
                keep(target.name, &input)
            );
            return false;
        }
    }
    println!("{}: {count} inputs in {} s, FUZZ_SEED={number}", target.name, time.as_secs());
    true
}

/// Watches for an input that does not end.
fn watch() -> Running {
    let running: Running = Arc::default();
    let watched = Arc::clone(&running);
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Duration::from_millis(500));
            let current = watched.lock().unwrap_or_else(PoisonError::into_inner);
            if let Some((since, name, input)) = current.as_ref()
                && since.elapsed() > HANG
            {
                println!("{name}: HANG: {}", keep(name, input));
                std::process::exit(1);
            }
        }
    });
    running
}

/// Keeps a failing input and says where.
fn keep(target: &str, input: &[u8]) -> String {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("artifacts");
    let sum = input
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(*b)).wrapping_mul(0x100_0000_01b3));
    let path = folder.join(format!("{target}-{sum:016x}"));
    match std::fs::create_dir_all(&folder).and_then(|()| std::fs::write(&path, input)) {
        Ok(()) => path.display().to_string(),
        Err(error) => format!("the input could not be kept ({error}): {:?}", String::from_utf8_lossy(input)),
    }
}
