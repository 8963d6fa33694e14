//! The plants of both schemes at steps: balances, limits, what each arrangement earns, time.

#![allow(clippy::print_stdout)] // Measured values are shown beside the test that holds them.

use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_project::{Arrangement, DayType, Project};
use drycoil_sizing::Design;
use drycoil_year::plant::all_air_design::all_air_design;
use drycoil_year::plant::all_air_plant::AllAirPlant;
use drycoil_year::plant::baseline::of_all_air;
use drycoil_year::plant::decoupled_plant::{DecoupledControl, DecoupledPlant, DewPointReset, WaterReset};
use drycoil_year::signals::{
    AllAirDemand, AllAirSupply, BuildingMode, DecoupledDemand, DecoupledSupply, EndUse, Outdoor, PlantLimit,
    PlantStep, StepTime,
};
use proptest::prelude::*;
use std::path::Path;
use std::sync::OnceLock;

struct Job {
    project: Project,
    weather: WeatherYear,
    design: Design,
}

fn read(change: impl Fn(String) -> String) -> Job {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/public-services-building");
    let mut files = MemoryFiles::new();
    for entry in std::fs::read_dir(&root).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            files = files.with(&name, std::fs::read(&path).unwrap());
        }
    }
    let text = String::from_utf8(files.bytes("project.toml").unwrap().unwrap().to_vec()).unwrap();
    let weather =
        text.lines().find_map(|l| l.strip_prefix("weather = ")).unwrap().trim_matches('"').to_owned();
    let year = std::fs::read(root.join(&weather)).unwrap();
    let files = files.with("project.toml", change(text)).with(&weather, year);
    let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).unwrap();
    Job { project: job.loaded.project, weather: job.weather.year, design }
}

fn arranged(word: &'static str) -> Job {
    read(|text| {
        let mut out = Vec::new();
        let mut seen = false;
        for line in text.lines() {
            if line.trim_start().starts_with("arrangement") {
                out.push(format!("arrangement = \"{word}\""));
                seen = true;
            } else {
                out.push(line.to_owned());
            }
        }
        if !seen {
            let at = out.iter().position(|l| l.trim() == "[water]");
            match at {
                Some(i) => out.insert(i + 1, format!("arrangement = \"{word}\"")),
                None => out.push(format!("[water]\narrangement = \"{word}\"")),
            }
        }
        out.join("\n") + "\n"
    })
}

fn demo(arrangement: Arrangement) -> &'static Job {
    static JOBS: [OnceLock<Job>; 3] = [OnceLock::new(), OnceLock::new(), OnceLock::new()];
    let i = match arrangement {
        Arrangement::SingleCold => 0,
        Arrangement::Separate => 1,
        Arrangement::ReturnReuse => 2,
    };
    JOBS[i].get_or_init(|| {
        let job = arranged(arrangement.word());
        assert_eq!(job.project.water.arrangement.value, arrangement);
        job
    })
}

fn time(step: usize) -> StepTime {
    StepTime {
        step,
        hour: step / 4,
        hour_of_day: (step / 4) % 24,
        month: (step / 2976).min(11),
        day_type: DayType::Weekday,
    }
}

fn outdoor(job: &Job, hour: usize) -> Outdoor {
    let p_pa = job.design.site.pressure_pa;
    let t_c = job.weather.dry_bulb_c()[hour];
    let w = job.weather.humidity_ratio()[hour].min(raw::saturation_humidity_ratio(t_c, p_pa));
    Outdoor { t_c, w, wet_bulb_c: raw::wet_bulb_c(t_c, w, p_pa), p_pa }
}

fn mode(hour: usize) -> BuildingMode {
    match hour % 24 {
        8..=18 => BuildingMode::Occupied,
        6 | 7 => BuildingMode::StartUp,
        _ => BuildingMode::Night,
    }
}

/// Rooms in the shape of sums: loads that follow the outdoor air, air that carries what people add.
fn decoupled_rooms(job: &Job, o: &Outdoor, mode: BuildingMode, s: &DecoupledSupply) -> DecoupledDemand {
    let primary = job.design.primary_unit.delivered_m3_per_s * 1.2041 * s.primary_share;
    let on = if mode == BuildingMode::Occupied { 1.0 } else { 0.2 };
    let asked = job.design.plant.sensible_load_w * on * ((o.t_c + 5.0) / 40.0).clamp(0.05, 1.0);
    let coil_w = asked * s.cooling_share;
    DecoupledDemand {
        primary_kg_per_s: primary,
        primary_asked_kg_per_s: primary,
        return_kg_per_s: 0.8 * primary,
        return_c: 23.5,
        return_w: s.primary_w + 0.0018 * on,
        coil_w,
        coil_water_kg_per_s: coil_w / (4190.0 * 4.0),
        terminal_fans_w: 500.0 * on,
        hot_water_w: 0.5
            * job.design.plant.heating_terminals_w
            * ((10.0 - o.t_c) / 25.0).clamp(0.0, 1.0)
            * s.heating_share,
        wettest_w: s.primary_w + 0.002 * on,
        wettest_any_w: s.primary_w + 0.002 * on,
        greatest_zone_share: 0.8,
        ..DecoupledDemand::default()
    }
}

fn all_air_rooms(plant: &AllAirPlant, o: &Outdoor, mode: BuildingMode, s: &AllAirSupply) -> AllAirDemand {
    let d = plant.design();
    let on = if mode == BuildingMode::Occupied { 1.0 } else { 0.0 };
    let share = (0.3 + 0.7 * (o.t_c / 32.0)).clamp(0.25, 1.0);
    let supply = d.supply_kg_per_s * share * s.flow_share * if on > 0.0 { 1.0 } else { 0.3 };
    AllAirDemand {
        supply_kg_per_s: supply,
        return_kg_per_s: 0.92 * supply,
        return_c: if on > 0.0 { 23.8 } else { 26.5 },
        return_w: s.supply_w + 0.0012,
        hot_water_w: 0.4 * d.room_heating_w * ((12.0 - o.t_c) / 25.0).clamp(0.0, 1.0) * s.heating_share,
        outdoor_asked_kg_per_s: 0.8 * d.uncorrected_kg_per_s * on,
        critical_share: 0.5,
        greatest_box_share: 0.5 + 0.5 * share,
        wettest_w: s.supply_w + 0.002,
        ..AllAirDemand::default()
    }
}

/// Largest heat that passes in a step, against which a residual is judged.
fn largest(s: &PlantStep, air_kg_per_s: f64) -> f64 {
    air_kg_per_s * 60e3 + s.central_coil_w.abs() + s.sensible_w + s.heating_w + 1e3
}

fn balanced(s: &PlantStep, air_kg_per_s: f64) {
    assert!(s.residual_w.abs() <= 1e-9 * largest(s, air_kg_per_s), "{s:?}");
    assert!(s.water_residual_kg_per_s.abs() <= 1e-9 * (0.02 * air_kg_per_s + 1e-3), "{s:?}");
    assert!(s.electricity_w.iter().chain(&s.fuel_w).all(|x| x.is_finite() && *x >= 0.0), "{s:?}");
    assert_eq!(s.limits & PlantLimit::NotSettled.bit(), 0, "{s:?}");
}

#[test]
fn phys_balances_close_at_every_hour_of_the_year_in_every_arrangement() {
    for arrangement in Arrangement::ALL {
        let job = demo(arrangement);
        let mut plant = DecoupledPlant::new(&job.project, &job.design, 900.0).unwrap();
        let mut supply = plant.first_supply(BuildingMode::Night);
        let mut counted = [0usize; PlantLimit::ALL.len()];
        let mut free = 0.0;
        for hour in 0..8760 {
            let (o, m) = (outdoor(job, hour), mode(hour));
            supply = plant.supply_in_mode(supply, m);
            let demand = decoupled_rooms(job, &o, m, &supply);
            let (step, next) = plant.step(&time(hour * 4), m, &o, &demand, &supply);
            balanced(&step, demand.primary_kg_per_s);
            for limit in PlantLimit::ALL {
                counted[limit as usize] += usize::from(step.limits & limit.bit() != 0);
            }
            free += step.waterside_free_w;
            supply = next;
        }
        println!("{}: limits {counted:?}, economizer {:.0} kWh", arrangement.word(), free / 1e3);
        assert!(free > 0.0);
        assert!(counted[PlantLimit::OutsideCurve as usize] < 90, "{counted:?}");
    }
    let job = demo(Arrangement::Separate);
    let mut plant = AllAirPlant::new(&job.project, &job.design, 900.0).unwrap();
    let mut supply = plant.first_supply(BuildingMode::Night);
    let mut counted = [0usize; PlantLimit::ALL.len()];
    let (mut free, mut hours) = (0.0, 0);
    for hour in 0..8760 {
        let (o, m) = (outdoor(job, hour), mode(hour));
        let demand = all_air_rooms(&plant, &o, m, &supply);
        let (step, next) = plant.step(&time(hour * 4), m, &o, &demand, &supply);
        balanced(&step, demand.supply_kg_per_s);
        for limit in PlantLimit::ALL {
            counted[limit as usize] += usize::from(step.limits & limit.bit() != 0);
        }
        free += step.airside_free_w;
        hours += usize::from(step.airside_free_w > 0.0);
        supply = next;
    }
    println!("all-air: limits {counted:?}, airside free {:.0} kWh in {hours} h", free / 1e3);
    assert!(free > 0.0 && hours > 500);
    assert!(counted[PlantLimit::OutsideCurve as usize] < 90, "{counted:?}");
}

#[test]
fn phys_return_reuse_makes_every_ton_cold_and_earns_no_lift() {
    // Same load on both: with return reuse all electricity is that of one bank at the cold temperature, so it is more than
    // with a warm plant of its own, and less water passes the chillers than with a single loop.
    let mut powers = Vec::new();
    for arrangement in [Arrangement::Separate, Arrangement::ReturnReuse, Arrangement::SingleCold] {
        let job = demo(arrangement);
        let mut plant = DecoupledPlant::new(&job.project, &job.design, 900.0).unwrap();
        let mut supply = plant.first_supply(BuildingMode::Occupied);
        let o = Outdoor {
            t_c: 33.0,
            w: 0.0165,
            wet_bulb_c: raw::wet_bulb_c(33.0, 0.0165, job.design.site.pressure_pa),
            p_pa: job.design.site.pressure_pa,
        };
        let mut last = PlantStep::default();
        for i in 0..20 {
            let demand = decoupled_rooms(job, &o, BuildingMode::Occupied, &supply);
            (last, supply) = plant.step(&time(i), BuildingMode::Occupied, &o, &demand, &supply);
            balanced(&last, demand.primary_kg_per_s);
        }
        let chillers = last.electricity_w[EndUse::ColdWater as usize]
            + last.electricity_w[EndUse::SensibleWater as usize];
        let cooling = last.central_coil_w + last.sensible_w;
        powers.push((
            arrangement,
            chillers / cooling,
            last.electricity_w[EndUse::SensibleWater as usize] / last.sensible_w,
        ));
        if arrangement != Arrangement::Separate {
            // One coefficient of performance for all: sensible tons cost what drying tons cost.
            let cold = last.electricity_w[EndUse::ColdWater as usize] / last.central_coil_w;
            let warm = last.electricity_w[EndUse::SensibleWater as usize] / last.sensible_w;
            assert!((cold / warm - 1.0).abs() < 1e-9, "{cold} {warm}");
        }
    }
    println!("{powers:?}");
    assert!(powers[0].1 < powers[1].1 * 0.97, "a warm plant earns its lift");
    assert!((powers[1].1 / powers[2].1 - 1.0).abs() < 0.05, "reuse and single loop make all tons cold");
}

#[test]
fn phys_a_plant_at_its_limit_says_so_and_loses_nothing() {
    let job = demo(Arrangement::ReturnReuse);
    let mut plant = DecoupledPlant::new(&job.project, &job.design, 900.0).unwrap();
    let mut supply = plant.first_supply(BuildingMode::Occupied);
    let p_pa = job.design.site.pressure_pa;
    let o = Outdoor { t_c: 38.0, w: 0.022, wet_bulb_c: raw::wet_bulb_c(38.0, 0.022, p_pa), p_pa };
    let mut shares = Vec::new();
    let mut taken = 0.0;
    for i in 0..60 {
        let mut demand = decoupled_rooms(job, &o, BuildingMode::Occupied, &supply);
        demand.coil_w = 2.0 * job.design.plant.sensible_load_w * supply.cooling_share;
        demand.coil_water_kg_per_s = demand.coil_w / (4190.0 * 4.0);
        let (step, next) = plant.step(&time(i), BuildingMode::Occupied, &o, &demand, &supply);
        balanced(&step, demand.primary_kg_per_s);
        supply = next;
        shares.push(supply.cooling_share);
        taken = step.sensible_w;
    }
    println!("{:?} {taken}", &shares[50..]);
    assert!(supply.cooling_share < 0.9 && supply.cooling_share >= 0.05);
    // Settled, not swinging.
    assert!((shares[58] - shares[59]).abs() < 0.02, "{shares:?}");
}

#[test]
fn phys_resets_and_night_run() {
    let job = demo(Arrangement::Separate);
    let p_pa = job.design.site.pressure_pa;
    let limit_w = raw::humidity_ratio_at_dew_point(job.design.dew_point.room_limit_c, p_pa);
    let control = DecoupledControl {
        dew_point: DewPointReset::FollowRooms { limit_w, ceiling_w: limit_w },
        water: WaterReset::FollowRooms { offset_k: 1.0, lowest_c: 12.0, highest_c: 16.0 },
        night_dew_point_c: Some(15.0),
        ..DecoupledControl::of(&job.project, &job.design)
    };
    let mut plant = DecoupledPlant::with_control(&job.project, &job.design, 900.0, control).unwrap();
    let o = Outdoor { t_c: 28.0, w: 0.014, wet_bulb_c: raw::wet_bulb_c(28.0, 0.014, p_pa), p_pa };
    let mut supply = plant.first_supply(BuildingMode::Occupied);
    let design_w = job.design.dew_point.supply_humidity_ratio_kg_per_kg;
    for i in 0..40 {
        let mut demand = decoupled_rooms(job, &o, BuildingMode::Occupied, &supply);
        // Rooms add little: the supply may rise, but never so far that the wettest room passes its limit.
        demand.wettest_any_w = supply.primary_w + 0.0008;
        demand.wettest_w = demand.wettest_any_w;
        (_, supply) = plant.step(&time(i), BuildingMode::Occupied, &o, &demand, &supply);
        assert!(supply.primary_w + 0.0008 <= limit_w.max(design_w + 0.0008) + 1e-9);
    }
    assert!(supply.primary_w > design_w + 1e-4);
    // Wet rooms: down at once.
    let mut demand = decoupled_rooms(job, &o, BuildingMode::Occupied, &supply);
    demand.wettest_any_w = limit_w + 0.005;
    (_, supply) = plant.step(&time(50), BuildingMode::Occupied, &o, &demand, &supply);
    let demand = decoupled_rooms(job, &o, BuildingMode::Occupied, &supply);
    let (_, next) = plant.step(&time(51), BuildingMode::Occupied, &o, &demand, &supply);
    assert!((next.primary_w - design_w).abs() < 1e-6, "{next:?} {design_w}");
    assert!(supply.water_c > 15.9, "the water follows the wettest room up to its ceiling");

    // Night: off while dry; return air while the limit is passed.
    let mut night = plant.supply_in_mode(next, BuildingMode::Night);
    assert_eq!(night.primary_share, 0.0);
    let mut demand = decoupled_rooms(job, &o, BuildingMode::Night, &night);
    demand.wettest_any_w = raw::humidity_ratio_at_dew_point(16.0, p_pa);
    let (step, running) = plant.step(&time(60), BuildingMode::Night, &o, &demand, &night);
    assert_eq!(step.central_coil_w, 0.0);
    assert_eq!(running.primary_share, 1.0);
    night = running;
    let mut demand = decoupled_rooms(job, &o, BuildingMode::Night, &night);
    demand.return_kg_per_s = demand.primary_kg_per_s * 1.1;
    demand.return_w = raw::humidity_ratio_at_dew_point(16.0, p_pa);
    demand.wettest_any_w = raw::humidity_ratio_at_dew_point(10.0, p_pa);
    let (step, after) = plant.step(&time(61), BuildingMode::Night, &o, &demand, &night);
    balanced(&step, demand.primary_kg_per_s);
    assert!(step.outdoor_kg_per_s.abs() < 1e-9, "return air only");
    assert!(step.central_coil_w > 0.0 && after.primary_share == 0.0);
}

#[test]
fn val_baseline_table_is_complete() {
    let job = demo(Arrangement::Separate);
    let rows = of_all_air(&job.project);
    assert!(rows.len() > 35);
    let page = drycoil_intake::project::project_format_page();
    for r in &rows {
        assert!(!r.what.is_empty() && !r.value.is_empty() && r.source.len() > 4, "{r:?}");
        // Every assumption can be overridden: its key is one of the project's format.
        let key = r.key.rsplit('.').next().unwrap();
        assert!(r.key.contains('.') && page.contains(&format!("`{key}`")), "{r:?}");
    }
    // Every key of the all-air table has its row.
    let section = page.split("`[all_air]`").nth(1).or_else(|| page.split("[all_air]").nth(1)).unwrap();
    let section = &section[..section.find("\n##").unwrap_or(section.len())];
    for line in section.lines().filter(|l| l.starts_with("| `")) {
        let key = line.split('`').nth(1).unwrap();
        assert!(rows.iter().any(|r| r.key == format!("all_air.{key}")), "no row for all_air.{key}");
    }
}

#[test]
fn phys_all_air_sizes_from_the_same_loads() {
    let job = demo(Arrangement::Separate);
    let d = all_air_design(&job.project, &job.design).unwrap();
    assert_eq!(d.boxes.len(), job.project.rooms.len());
    let boxes: f64 = d.boxes.iter().map(|b| b.largest_kg_per_s).sum();
    assert!(d.supply_kg_per_s < boxes && d.supply_kg_per_s > 0.4 * boxes);
    assert!(d.outdoor_kg_per_s >= d.uncorrected_kg_per_s && d.outdoor_kg_per_s < d.supply_kg_per_s);
    // The coil of the all-air scheme carries room loads too: larger than the drying coil alone, and of the same order as
    // drying and sensible load together.
    let both = job.design.plant.drying_load_w + job.design.plant.sensible_load_w;
    println!(
        "all-air coil {:.0} kW, decoupled {:.0} kW, supply {:.2} kg/s, outdoor {:.2} kg/s, heating {:.0} kW",
        d.coil_w / 1e3,
        both / 1e3,
        d.supply_kg_per_s,
        d.outdoor_kg_per_s,
        d.water.heating_w / 1e3
    );
    assert!(d.coil_w > job.design.plant.drying_load_w && d.coil_w > 0.5 * both && d.coil_w < 1.6 * both);
    for b in d.boxes.iter().filter(|b| b.largest_kg_per_s > 0.0) {
        assert!(b.minimum_kg_per_s <= b.largest_kg_per_s && b.heating_kg_per_s >= b.minimum_kg_per_s);
    }
}

#[test]
fn phys_time_of_a_step() {
    let job = demo(Arrangement::ReturnReuse);
    let hours: Vec<Outdoor> = (0..8760).map(|h| outdoor(job, h)).collect();
    let mut plant = DecoupledPlant::new(&job.project, &job.design, 900.0).unwrap();
    let mut supply = plant.first_supply(BuildingMode::Occupied);
    let mut sum = 0.0;
    let start = std::time::Instant::now();
    for (i, o) in hours.iter().enumerate() {
        let m = mode(i);
        supply = plant.supply_in_mode(supply, m);
        let demand = decoupled_rooms(job, o, m, &supply);
        let (step, next) = plant.step(&time(i), m, o, &demand, &supply);
        supply = next;
        sum += step.residual_w;
    }
    let decoupled = start.elapsed().as_secs_f64() / 8760.0 * 1e9;
    let mut plant = AllAirPlant::new(&job.project, &job.design, 900.0).unwrap();
    let mut supply = plant.first_supply(BuildingMode::Occupied);
    let start = std::time::Instant::now();
    for (i, o) in hours.iter().enumerate() {
        let demand = all_air_rooms(&plant, o, mode(i), &supply);
        let (step, next) = plant.step(&time(i), mode(i), o, &demand, &supply);
        supply = next;
        sum += step.residual_w;
    }
    let all_air = start.elapsed().as_secs_f64() / 8760.0 * 1e9;
    println!("decoupled {decoupled:.0} ns, all-air {all_air:.0} ns a step");
    assert!(sum.is_finite());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn phys_any_demand_is_answered(
        tc in -28.0f64..44.0, rh in 0.06f64..1.0, primary in 0.0f64..1.2, back in 0.0f64..1.0, room in 17.0f64..29.0,
        rw in 0.003f64..0.014, coil in 0.0f64..1.6, rise in 1.0f64..8.0, heat in 0.0f64..1.4, kind in 0usize..3, phase in 0usize..3,
    ) {
        let job = demo(Arrangement::ALL[kind]);
        let p_pa = job.design.site.pressure_pa;
        let w = raw::humidity_ratio_from_relative_humidity(tc, rh, p_pa).min(0.028);
        let o = Outdoor { t_c: tc, w, wet_bulb_c: raw::wet_bulb_c(tc, w, p_pa), p_pa };
        let m = [BuildingMode::Occupied, BuildingMode::StartUp, BuildingMode::Night][phase];
        let mut plant = DecoupledPlant::new(&job.project, &job.design, 900.0).unwrap();
        let mut supply = plant.first_supply(m);
        let flow = primary * job.design.primary_unit.delivered_m3_per_s * 1.2041;
        let sensible = coil * job.design.plant.sensible_load_w;
        let demand = DecoupledDemand {
            primary_kg_per_s: flow,
            primary_asked_kg_per_s: flow,
            return_kg_per_s: back * flow,
            return_c: room,
            return_w: rw,
            coil_w: sensible,
            coil_water_kg_per_s: sensible / (4190.0 * rise),
            hot_water_w: heat * job.design.plant.heating_terminals_w,
            wettest_any_w: rw,
            wettest_w: rw,
            ..DecoupledDemand::default()
        };
        for i in 0..4 {
            let (step, next) = plant.step(&time(i), m, &o, &demand, &supply);
            balanced(&step, flow);
            // No chiller above the ideal cycle between the waters of the plant.
            let power = step.electricity_w[EndUse::ColdWater as usize] + step.electricity_w[EndUse::SensibleWater as usize];
            let made = step.central_coil_w + step.sensible_w - step.waterside_free_w;
            if step.tower_c > 20.0 && made > 1e4 {
                let warm = supply.water_c + 273.15;
                prop_assert!(made / power.max(1.0) < warm / (step.tower_c + 273.15 - warm).max(1.0) * 1.2 || power == 0.0);
            }
            prop_assert!((0.05..=1.0).contains(&next.cooling_share) && (0.05..=1.0).contains(&next.heating_share));
            supply = next;
        }

        let mut plant = AllAirPlant::new(&job.project, &job.design, 900.0).unwrap();
        let mut supply = plant.first_supply(m);
        let flow = primary * plant.design().supply_kg_per_s;
        let demand = AllAirDemand {
            supply_kg_per_s: flow,
            return_kg_per_s: back * flow,
            return_c: room,
            return_w: rw,
            hot_water_w: heat * plant.design().room_heating_w,
            outdoor_asked_kg_per_s: coil * 0.6 * plant.design().uncorrected_kg_per_s,
            critical_share: back,
            greatest_box_share: primary.min(1.0),
            wettest_w: rw,
            ..AllAirDemand::default()
        };
        for i in 0..4 {
            let (step, next) = plant.step(&time(i), m, &o, &demand, &supply);
            balanced(&step, flow);
            prop_assert!((0.0..=1.0 + 1e-9).contains(&next.outdoor_share));
            supply = next;
        }
    }
}
