//! The year of a project: set-up, stepping, nanoseconds per room-step, and what came out.
//!
//! `cargo bench -p drycoil-benches --bench year -- PROJECT_FOLDER [THREADS] [decoupled|all-air]`

#![allow(clippy::print_stdout)]

use drycoil_intake::{MemoryFiles, job};
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_year::decoupled_rooms::DecoupledRooms;
use drycoil_year::plant::all_air_design::all_air_design;
use drycoil_year::prepare::{Prepared, ReductionCache};
use drycoil_year::result::Scheme;
use drycoil_year::signals::{
    AllAirDemand, AllAirSupply, BuildingMode, DecoupledDemand, DecoupledSupply, Outdoor, PlantStep, StepTime,
};
use drycoil_year::simulate::{Options, Plant, Unobserved, all_air_rooms, simulate, simulate_with};
use std::time::Instant;

/// Supplies of constant state: what rooms cost without a plant.
#[derive(Clone, Copy)]
struct Constant {
    decoupled: DecoupledSupply,
    all_air: AllAirSupply,
}

impl Plant<DecoupledSupply, DecoupledDemand> for Constant {
    fn first_supply(&self, mode: BuildingMode) -> DecoupledSupply {
        let primary_share = if mode == BuildingMode::Night { 0.0 } else { 1.0 };
        DecoupledSupply { primary_share, ..self.decoupled }
    }
    fn supply_in_mode(&self, _: DecoupledSupply, mode: BuildingMode) -> DecoupledSupply {
        self.first_supply(mode)
    }
    fn step(
        &mut self,
        _: &StepTime,
        _: BuildingMode,
        _: &Outdoor,
        _: &DecoupledDemand,
        used: &DecoupledSupply,
    ) -> (PlantStep, DecoupledSupply) {
        (PlantStep::default(), *used)
    }
}

impl Plant<AllAirSupply, AllAirDemand> for Constant {
    fn first_supply(&self, _: BuildingMode) -> AllAirSupply {
        self.all_air
    }
    fn supply_in_mode(&self, supply: AllAirSupply, _: BuildingMode) -> AllAirSupply {
        supply
    }
    fn step(
        &mut self,
        _: &StepTime,
        _: BuildingMode,
        _: &Outdoor,
        _: &AllAirDemand,
        used: &AllAirSupply,
    ) -> (PlantStep, AllAirSupply) {
        (PlantStep::default(), *used)
    }
}

/// Drive and rooms of each scheme alone, with constant supplies.
fn rooms_alone(project: &Project, design: &Design, p: &Prepared, pool: &rayon::ThreadPool) {
    let plant = Constant {
        decoupled: DecoupledSupply {
            primary_c: design.primary_unit.delivered_dry_bulb_c,
            primary_w: design.dew_point.supply_humidity_ratio_kg_per_kg,
            primary_share: 1.0,
            water_c: design.dew_point.sensible_water_c,
            cooling_share: 1.0,
            heating_share: 1.0,
        },
        all_air: AllAirSupply {
            supply_c: 13.0,
            supply_w: 0.008,
            flow_share: 1.0,
            heating_share: 1.0,
            outdoor_share: 0.3,
        },
    };
    let boxes = all_air_design(project, design).unwrap_or_else(|e| panic!("{e}"));
    let options = Options { most_warm_up_days: 7, ..Options::default() };
    let steps = (8760 + 7 * 24) * 4 * project.rooms.len();
    for _ in 0..3 {
        let report = |what: &str, t: Instant| {
            println!("{what}: {:.1} ns a room-step", t.elapsed().as_secs_f64() * 1e9 / steps as f64);
        };
        let t = Instant::now();
        let _ = simulate_with::<Constant, Constant>(p, None, None, &options, pool, &mut Unobserved);
        report("drive alone", t);
        let t = Instant::now();
        let rooms = Some((DecoupledRooms::new(p), plant));
        let _ = simulate_with::<Constant, Constant>(p, rooms, None, &options, pool, &mut Unobserved);
        report("drive and decoupled rooms", t);
        let t = Instant::now();
        let rooms = Some((all_air_rooms(p, project, &boxes), plant));
        let _ = simulate_with::<Constant, Constant>(p, None, rooms, &options, pool, &mut Unobserved);
        report("drive and all-air rooms", t);
    }
}

/// The files of a project folder, and the weather files beside it.
fn files(folder: &str) -> MemoryFiles {
    let mut files = MemoryFiles::new();
    for (place, prefix) in [(folder.to_owned(), ""), (format!("{folder}/../weather"), "../weather/")] {
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
    let folder = arguments.first().map_or("examples/public-services-building", String::as_str);
    let threads = arguments.get(1).and_then(|t| t.parse().ok()).unwrap_or(2);
    let t = Instant::now();
    let files = files(folder);
    let job = job::read(&files).unwrap_or_else(|f| panic!("{f:?}"));
    let (project, weather) = (&job.loaded.project, &job.weather.year);
    println!("read {:.3} s, {} rooms", t.elapsed().as_secs_f64(), project.rooms.len());
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
    let t = Instant::now();
    let design = drycoil_sizing::size(project, weather, &pool).unwrap_or_else(|e| panic!("{e}"));
    println!("size {:.3} s", t.elapsed().as_secs_f64());
    let mut cache = ReductionCache::default();
    let t = Instant::now();
    let p =
        Prepared::new(project, &design, weather, 900.0, &mut cache, &pool).unwrap_or_else(|e| panic!("{e}"));
    let orders: Vec<usize> =
        (1..=12).map(|o| p.rooms.iter().filter(|r| r.model.reduced.order() == o).count()).collect();
    let channels: usize = p.rooms.iter().map(|r| r.model.reduced.channels.len()).sum();
    println!(
        "prepare {:.3} s, {} models, orders {orders:?}, {:.1} channels a room, bound {:.4} K",
        t.elapsed().as_secs_f64(),
        p.distinct_models,
        channels as f64 / p.rooms.len() as f64,
        p.bound_k
    );
    for _ in 0..3 {
        let t = Instant::now();
        let _ = Prepared::new(project, &design, weather, 900.0, &mut ReductionCache::default(), &pool);
        println!("prepare anew {:.3} s", t.elapsed().as_secs_f64());
    }
    rooms_alone(project, &design, &p, &pool);
    let mut options = Options::default();
    if let Some(only) = arguments.get(2) {
        options.schemes.retain(|s| s.word() == only);
    }
    for _ in 0..3 {
        let t = Instant::now();
        let year = simulate(project, &design, weather, &options, &mut cache, &pool, &mut Unobserved)
            .unwrap_or_else(|e| panic!("{e}"));
        let s = t.elapsed().as_secs_f64();
        let room_steps = (year.steps + year.warm_up_days * 96) * project.rooms.len() * year.schemes.len();
        println!(
            "year {s:.3} s, {:.1} ns a room-step and scheme per wall, warm-up {} days to {:.4} K",
            s * 1e9 / room_steps as f64,
            year.warm_up_days,
            year.warm_up_residual_k
        );
    }
    let year = simulate(project, &design, weather, &options, &mut cache, &pool, &mut Unobserved)
        .unwrap_or_else(|e| panic!("{e}"));
    for s in &year.schemes {
        println!(
            "{:?}: {:.1} MWh electricity, {:.1} MWh fuel",
            s.scheme,
            s.electricity_j() / 3.6e9,
            s.fuel_j() / 3.6e9
        );
        for e in &s.end_uses {
            println!(
                "  {:22} {:9.2} {:9.2}",
                e.end_use.words(),
                e.electricity_j.iter().sum::<f64>() / 3.6e9,
                e.fuel_j.iter().sum::<f64>() / 3.6e9
            );
        }
        for f in &s.features {
            println!("  {:?} {:.0}", f.feature, f.hours_h);
        }
        for l in s.limits.iter().filter(|l| l.hours_h > 0.0) {
            println!("  limit {:?} {:.0} h", l.limit, l.hours_h);
        }
        for c in &s.closure {
            println!(
                "  {}: {:.2e} of {:.3e}, worst {:.1e}",
                c.balance, c.residual, c.turnover, c.worst_share
            );
        }
        let sum = |f: &dyn Fn(&drycoil_year::result::RoomYear) -> f64| s.rooms.iter().map(f).sum::<f64>();
        println!(
            "  rooms: cooling {:.1} MWh, heating {:.1} MWh, warm {:.0} h {:.0} K h, cold {:.0} h {:.0} K h",
            sum(&|r| r.cooling_j) / 3.6e9,
            sum(&|r| r.heating_j) / 3.6e9,
            sum(&|r| r.unmet.warm_h),
            sum(&|r| r.unmet.warm_k_h),
            sum(&|r| r.unmet.cold_h),
            sum(&|r| r.unmet.cold_k_h)
        );
        for r in s.rooms.iter().take(if s.scheme == Scheme::Decoupled { 12 } else { 6 }) {
            println!(
                "  {:8} t {:?}..{:?} rh {:?}..{:?} dew {:.2} cool {:.2} MWh heat {:.2} MWh {:?}",
                r.room,
                r.lowest_occupied_c.map(|x| (x * 10.0).round() / 10.0),
                r.highest_occupied_c.map(|x| (x * 10.0).round() / 10.0),
                r.humidity.lowest_occupied_rh.map(|x| (x * 100.0).round()),
                r.humidity.highest_occupied_rh.map(|x| (x * 100.0).round()),
                r.humidity.highest_dew_point_c,
                r.cooling_j / 3.6e9,
                r.heating_j / 3.6e9,
                r.margin.as_ref().map(|m| (
                    m.smallest_k,
                    m.smallest_occupied_k,
                    m.all.below_zero_h,
                    m.held_shut_h,
                    m.condensate_kg
                ))
            );
        }
    }
}
