//! Sizing of a project by stage: reading, design, result document, workbook; minimum and median of five runs each, with the
//! calibration of the machine before and after. The design runs on one thread and on as many as the machine has.
//!
//! ```text
//! cargo xtask big --rooms 1000 --seed 7 --out DIR
//! cargo bench -p drycoil-benches --bench sizing -- DIR
//! ```

#![allow(clippy::print_stdout)]

use drycoil_intake::{MemoryFiles, job};
use drycoil_results::ResultDocument;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

const RUNS: usize = 5;

/// Nanoseconds of one `ln` and one `exp`: how busy the machine is.
fn calibration_ns() -> f64 {
    let start = Instant::now();
    let mut x = 1.5_f64;
    for _ in 0..2_000_000 {
        x = black_box((x.ln() + 1.1).exp() * 0.4);
    }
    black_box(x);
    start.elapsed().as_secs_f64() * 1e9 / 2e6
}

/// Minimum and median, ms, and the last result.
fn timed<T>(what: &str, mut run: impl FnMut() -> T) -> T {
    let mut times = Vec::with_capacity(RUNS);
    let mut last = None;
    for _ in 0..RUNS {
        let start = Instant::now();
        let result = black_box(run());
        times.push(start.elapsed().as_secs_f64() * 1e3);
        last = Some(result);
    }
    times.sort_by(f64::total_cmp);
    println!("{what:32} {:9.1} {:9.1}", times[0], times[RUNS / 2]);
    last.expect("ran")
}

fn files_of(folder: &Path) -> std::io::Result<MemoryFiles> {
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_file() {
            files = files.with(&entry.file_name().to_string_lossy(), std::fs::read(entry.path())?);
        }
    }
    Ok(files)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let Some(folder) = std::env::args().skip(1).find(|a| !a.starts_with('-')) else {
        println!(
            "SKIPPED: name a project folder, as one made by `cargo xtask big --rooms 1000 --seed 7 --out DIR`"
        );
        return Ok(());
    };
    let files = files_of(Path::new(&folder))?;
    let before = calibration_ns();
    println!("{:32} {:>9} {:>9}", "stage, ms", "minimum", "median");
    let job = timed("reading", || job::read(&files).expect("a good project"));
    let project = &job.loaded.project;
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut design = None;
    for n in [1, threads] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build()?;
        let what = format!("design on {n} thread(s)");
        let size = || drycoil_sizing::size(project, &job.weather.year, &pool).expect("a design");
        design = Some(timed(&what, size));
    }
    let design = design.expect("sized");
    let document = ResultDocument::new(project, &design, &design.findings, "bench");
    let json = timed("result document", || document.to_json().expect("JSON"));
    let book = timed("workbook", || {
        drycoil_papers::schedules_xlsx(project, &design, &document, &design.findings, project.units())
            .expect("a workbook")
    });
    println!(
        "{} rooms, {} terminals, document {} kB, workbook {} kB; calibration {before:.1} / {:.1} ns",
        project.rooms.len(),
        design.terminals.len(),
        json.len() / 1000,
        book.len() / 1000,
        calibration_ns()
    );
    Ok(())
}
