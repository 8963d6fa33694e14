//! Rooms of a project drawn by a seed, each on its reduced model and on its full network over the whole year: how far the air
//! temperature and the heating and cooling of the year are apart, and whether that is within what is promised.
//!
//! Usage: `reduced_rooms FOLDER ROOMS SEED`. The folder holds a project with its weather file inside. Leaves with failure when
//! a room does not hold.

#![allow(clippy::print_stdout)]

use drycoil_intake::{MemoryFiles, job};
use drycoil_year::accuracy::{ENERGY_SHARE, drawn, reduced_beside_full};
use drycoil_year::prepare::{Prepared, ReductionCache};
use std::process::ExitCode;

/// The step of the year, s.
const STEP_S: f64 = 900.0;

fn main() -> Result<ExitCode, Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, count, seed] = arguments.as_slice() else {
        return Err("usage: reduced_rooms FOLDER ROOMS SEED".into());
    };
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_file() {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            files = files.with(&name, std::fs::read(&path)?);
        }
    }
    let job = job::read(&files).map_err(|f| format!("{f:?}"))?;
    let project = &job.loaded.project;
    let pool = rayon::ThreadPoolBuilder::new().build()?;
    let design = drycoil_sizing::size(project, &job.weather.year, &pool)?;
    let p =
        Prepared::new(project, &design, &job.weather.year, STEP_S, &mut ReductionCache::default(), &pool)?;
    let mut all = true;
    let mut worst = [0.0_f64; 2];
    for room in drawn(p.rooms.len(), count.parse()?, seed.parse()?) {
        let found = reduced_beside_full(project, &design, &p, room, &pool)?;
        let holds = found.holds(ENERGY_SHARE);
        all &= holds;
        worst = [worst[0].max(found.worst_k), worst[1].max(found.energy_error())];
        println!(
            "{} {}: {:.1e} K, bound {:.1e} K; heating and cooling within {:.1e} of their sum, {:.1} MWh",
            if holds { "ok  " } else { "FAIL" },
            found.room,
            found.worst_k,
            found.bound_k,
            found.energy_error(),
            (found.heating_j[0] + found.cooling_j[0]) / 3.6e9,
        );
    }
    println!(
        "{} rooms of {}: largest error {:.1e} K, {:.1e} of heating and cooling (promised: the bound, {ENERGY_SHARE})",
        count,
        p.rooms.len(),
        worst[0],
        worst[1]
    );
    Ok(if all { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
