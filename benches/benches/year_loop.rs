//! A fixed small case of the year's loop, for counts of instructions: a building read, sized and prepared, then some days of
//! both schemes without warm-up. Two lengths tell the set-up from the loop.
//!
//! `cargo bench -p drycoil-benches --bench year_loop -- DAYS [wide|plain]`; `cargo xtask instructions` runs it under
//! callgrind and compares with the kept counts.

#![allow(clippy::print_stdout)]

use drycoil_intake::{MemoryFiles, job};
use drycoil_year::decoupled_rooms::DecoupledRooms;
use drycoil_year::plant::all_air_plant::AllAirPlant;
use drycoil_year::plant::decoupled_plant::DecoupledPlant;
use drycoil_year::prepare::{Prepared, ReductionCache};
use drycoil_year::simulate::{Observer, Options, Progress, Stopped, all_air_rooms, simulate_with};
use drycoil_year::wide::Kernel;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/public-services-building");
const STEP_S: f64 = 900.0;

/// Stops after some days.
struct Until(usize);

impl Observer for Until {
    fn day_finished(&mut self, finished: usize, _: usize) -> Progress {
        if finished >= self.0 { Progress::Stop } else { Progress::Continue }
    }
}

fn files() -> MemoryFiles {
    let mut files = MemoryFiles::new();
    for (place, prefix) in [(FOLDER.to_owned(), ""), (format!("{FOLDER}/../weather"), "../weather/")] {
        for entry in std::fs::read_dir(&place).into_iter().flatten().flatten() {
            if let (Ok(bytes), Some(name)) = (std::fs::read(entry.path()), entry.file_name().to_str()) {
                files = files.with(&format!("{prefix}{name}"), bytes);
            }
        }
    }
    files
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let days = arguments.first().and_then(|d| d.parse().ok()).unwrap_or(2);
    let kernel = match arguments.get(1).map(String::as_str) {
        Some("plain") => Kernel::Plain,
        _ => Kernel::Widest,
    };
    let job = job::read(&files()).unwrap_or_else(|f| panic!("{f:?}"));
    let (project, weather) = (&job.loaded.project, &job.weather.year);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("threads");
    let design = drycoil_sizing::size(project, weather, &pool).unwrap_or_else(|e| panic!("{e}"));
    let mut p = Prepared::new(project, &design, weather, STEP_S, &mut ReductionCache::default(), &pool)
        .unwrap_or_else(|e| panic!("{e}"));
    p.set_kernel(kernel);
    let plant = DecoupledPlant::new(project, &design, STEP_S).unwrap_or_else(|e| panic!("{e}"));
    let all_air = AllAirPlant::new(project, &design, STEP_S).unwrap_or_else(|e| panic!("{e}"));
    let boxes = all_air_rooms(&p, project, all_air.design());
    let options = Options { most_warm_up_days: 0, ..Options::default() };
    let rooms = DecoupledRooms::new(&p);
    let t = std::time::Instant::now();
    let end =
        simulate_with(&p, Some((rooms, plant)), Some((boxes, all_air)), &options, &pool, &mut Until(days));
    assert!(matches!(end, Err(Stopped::ByObserver { .. })), "{end:?}");
    let steps = days as f64 * 24.0 * 3600.0 / STEP_S;
    println!(
        "{} rooms, {days} days of both schemes: {:.1} ns a room-step and scheme",
        project.rooms.len(),
        t.elapsed().as_secs_f64() * 1e9 / steps / project.rooms.len() as f64 / 2.0
    );
}
