//! What is made of a simulated year: bills, comparison, findings, free cooling by the weather alone. The years of these
//! tests are written by hand, so that every number can be reckoned beside them.

use drycoil_climate::{Calendar, WeatherYear};
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_project::Project;
use drycoil_sizing::{Design, Service};
use drycoil_year::compare::{compare, estimates};
use drycoil_year::economy::economy;
use drycoil_year::findings::findings;
use drycoil_year::free_water::free_water;
use drycoil_year::result::*;
use drycoil_year::signals::{EndUse, PlantLimit};
use std::path::Path;
use std::sync::OnceLock;

struct Job {
    project: Project,
    weather: WeatherYear,
    design: Design,
}

fn demo() -> &'static Job {
    static JOB: OnceLock<Job> = OnceLock::new();
    JOB.get_or_init(|| {
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
        let files = files.with("project.toml", plain_prices(&text)).with(&weather, year);
        let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).unwrap();
        Job { project: job.loaded.project, weather: job.weather.year, design }
    })
}

/// The demo with one price for a kWh and one for a therm, so that bills can be reckoned by hand.
fn plain_prices(text: &str) -> String {
    const KEPT: [&str; 7] =
        ["currency", "electricity", "fuel", "discount_rate", "life", "terminal_each", "cooling_plant"];
    let (before, rest) = text.split_once("[economics]").unwrap();
    let (prices, after) = rest.split_once("\n[constructions.").unwrap();
    let kept: Vec<&str> =
        prices.lines().filter(|l| l.split_once(" = ").is_some_and(|(key, _)| KEPT.contains(&key))).collect();
    assert_eq!(kept.len(), KEPT.len());
    format!("{before}[economics]\n{}\n[constructions.{after}", kept.join("\n"))
}

/// The first room with a terminal.
fn first_served() -> usize {
    demo().design.needs.iter().position(|n| n.service == Service::Terminal).unwrap()
}

const STEPS_AN_HOUR: usize = 4;

fn at(step: usize) -> Moment {
    Moment::new(Calendar::Common, step, STEPS_AN_HOUR)
}

/// A room without anything to say.
fn room(id: &str, scheme: Scheme) -> RoomYear {
    RoomYear {
        room: id.to_owned(),
        zone: id.to_owned(),
        cooling_j: 1e9,
        heating_j: 1e9,
        ventilation_kg: 1e6,
        occupied_h: 2600.0,
        lowest_occupied_c: Some(21.0),
        highest_occupied_c: Some(24.0),
        margin: (scheme == Scheme::Decoupled).then(|| MarginYear {
            smallest_k: 1.5,
            at: at(100),
            smallest_occupied_k: Some(1.5),
            occupied_at: Some(at(100)),
            all: MarginHours { counted_h: 3000.0, ..MarginHours::default() },
            occupied: MarginHours { counted_h: 2600.0, ..MarginHours::default() },
            held_shut_h: 0.0,
            held_shut_occupied_h: 0.0,
            condensation_h: 0.0,
            condensate_kg: 0.0,
        }),
        humidity: HumidityYear {
            lowest_occupied_rh: Some(0.3),
            highest_occupied_rh: Some(0.55),
            mean_occupied_rh: Some(0.45),
            highest_dew_point_c: 12.0,
            highest_at: at(100),
            above_code_h: 0.0,
            above_code_occupied_h: 0.0,
            above_comfort_h: 0.0,
            below_comfort_h: 0.0,
        },
        unmet: UnmetYear::default(),
    }
}

/// A scheme that takes this power all year: electricity for central fans, fuel for room heating.
fn scheme(scheme: Scheme, electricity_w: f64, fuel_w: f64, rooms: Vec<RoomYear>) -> SchemeYear {
    let mut end_uses = no_energy();
    for month in 1..=12u8 {
        let seconds = Calendar::Common.month_hours(month).len() as f64 * 3600.0;
        for e in &mut end_uses {
            if e.end_use == EndUse::CentralFans {
                e.electricity_j[usize::from(month) - 1] = electricity_w * seconds;
            }
            if e.end_use == EndUse::RoomHeating {
                e.fuel_j[usize::from(month) - 1] = fuel_w * seconds;
            }
        }
    }
    let peak = |value_w| Peak { value_w, at: at(0) };
    SchemeYear {
        scheme,
        end_uses,
        water_kg: [0.0; 12],
        condensate_kg: [0.0; 12],
        heat: HeatYear::default(),
        peaks: Peaks {
            electricity: peak(electricity_w),
            fuel: peak(fuel_w),
            cooling: peak(0.0),
            heating: peak(fuel_w),
            electricity_by_month_w: [electricity_w; 12],
            cooling_by_month_w: [0.0; 12],
            heating_by_month_w: [fuel_w; 12],
            outdoor_air_kg_per_s: 1.0,
        },
        free_cooling: FreeCooling::default(),
        hourly: HourlyYear {
            electricity_w: vec![electricity_w; 8760],
            fuel_w: vec![fuel_w; 8760],
            water_kg_per_s: vec![0.0; 8760],
            cooling_w: vec![1000.0; 8760],
            heating_w: vec![fuel_w; 8760],
            smallest_margin_k: vec![None; 8760],
            wettest_room_kg_per_kg: vec![None; 8760],
        },
        electricity_by_step_w: vec![electricity_w; 8760 * STEPS_AN_HOUR],
        limits: no_limits(),
        features: Feature::ALL.iter().map(|f| FeatureHours { feature: *f, hours_h: 0.0 }).collect(),
        closure: vec![Closure {
            balance: "heat of the rooms".into(),
            unit: "J".into(),
            turnover: 1e12,
            residual: 1.0,
            worst_share: 1e-12,
            bound_share: 1e-9,
        }],
        rooms,
    }
}

fn year(decoupled_w: f64, all_air_w: f64) -> Year {
    let id = demo().project.rooms[first_served()].id.clone();
    Year {
        step_s: 900.0,
        steps: 8760 * STEPS_AN_HOUR,
        hours: 8760,
        warm_up_days: 5,
        warm_up_residual_k: 0.001,
        distinct_models: 1,
        reduction_bound_k: 0.01,
        schemes: vec![
            scheme(Scheme::Decoupled, decoupled_w, 5e3, vec![room(&id, Scheme::Decoupled)]),
            scheme(Scheme::AllAir, all_air_w, 5e3, vec![room(&id, Scheme::AllAir)]),
        ],
    }
}

fn close(a: f64, b: f64, share: f64) {
    assert!((a - b).abs() <= share * b.abs(), "{a} is not {b}");
}

/// Prices of the demo: 0.11 a kWh, 1.20 a therm, 3 % over 20 years. One therm is 100 000 Btu (1.05506e8 J).
#[test]
fn xchk_bills_and_their_present_value_by_hand() {
    let job = demo();
    let year = year(10e3, 12e3);
    let e = economy(&job.project, &job.design, None, &year).unwrap();
    let d = e.scheme(Scheme::Decoupled).unwrap();
    let electricity = 10.0 * 8760.0 * 0.11;
    let fuel = 5e3 * 8760.0 * 3600.0 / 1.055_055_852_62e8 * 1.20;
    close(d.yearly_energy.value.unwrap(), electricity + fuel, 1e-6);
    // Uniform present value at 3 % over 20 years, NIST Handbook 135: 14.877.
    let factor = (1.0 - 1.03_f64.powi(-20)) / 0.03;
    close(factor, 14.877, 1e-4);
    close(d.life_cycle_of_energy.as_ref().unwrap().value.unwrap(), (electricity + fuel) * factor, 1e-6);
    // 2 kW less all year, so this much more may be paid at first.
    close(e.break_even_added_first_cost.unwrap(), 2.0 * 8760.0 * 0.11 * factor, 1e-6);
    // What has no price is named, and no sum pretends to hold it.
    assert!(d.first.value.is_none() && !d.first.not_priced.is_empty());
    assert!(d.first.known > 0.0 && d.life_cycle.as_ref().unwrap().value.is_none());
    assert_eq!(d.bills.len(), 2);
    let months: f64 = d.bills[0].months.iter().map(|m| m.value.unwrap()).sum();
    close(months, electricity, 1e-9);
}

#[test]
fn phys_without_prices_nothing_is_priced_and_each_is_named() {
    let job = demo();
    let mut parts = job.project.clone().into_parts();
    parts.economics.electricity = None;
    parts.economics.electricity_tariff.flat = None;
    parts.economics.discount_rate = None;
    let project = Project::new(parts).unwrap();
    let e = economy(&project, &job.design, None, &year(10e3, 12e3)).unwrap();
    for s in &e.schemes {
        assert!(
            s.yearly_energy.value.is_none() && s.yearly_energy.known > 0.0,
            "fuel is known: {:?}",
            s.yearly_energy
        );
        assert!(
            s.yearly_energy.not_priced.iter().any(|n| n.contains("electricity")),
            "{:?}",
            s.yearly_energy.not_priced
        );
        assert!(s.life_cycle.is_none());
    }
    assert!(e.comparison.is_none() && e.break_even_added_first_cost.is_none());
}

#[test]
fn phys_the_comparison_says_who_wins_and_by_how_much() {
    let job = demo();
    for (d, a, wins) in [(10e3, 12e3, Some(true)), (12e3, 10e3, Some(false)), (10e3, 10e3, None)] {
        let year = year(d, a);
        let e = economy(&job.project, &job.design, None, &year).unwrap();
        let measures = compare(&job.design, &year, &e);
        let site = measures.iter().find(|m| m.what == "site energy").unwrap();
        assert_eq!(site.decoupled_wins(), wins);
        close(site.decoupled.unwrap(), (d + 5e3) * 8760.0 * 3600.0, 1e-12);
        let share = (d - a) / (a + 5e3);
        assert!((site.difference_share.unwrap() - share).abs() < 1e-12);
        let found = findings(&job.project, &job.design, &year, &e, &measures, &[]);
        let loses = found.iter().filter(|f| f.id() == "YR-008").count();
        // Site energy and the cost of energy.
        assert_eq!(loses, if wins == Some(false) { 2 } else { 0 }, "{found:#?}");
    }
}

/// Ids found in a year that was changed in one way.
fn ids(change: impl FnOnce(&mut Year)) -> Vec<&'static str> {
    let job = demo();
    let mut year = year(10e3, 12e3);
    change(&mut year);
    let e = economy(&job.project, &job.design, None, &year).unwrap();
    let measures = compare(&job.design, &year, &e);
    let mut ids: Vec<&str> = findings(&job.project, &job.design, &year, &e, &measures, &[])
        .iter()
        // The demo does not price what it buys at first.
        .filter(|f| f.id() != "YR-010")
        .map(|f| {
            assert!(!f.message.contains("NaN"), "{}", f.message);
            f.id()
        })
        .collect();
    ids.dedup();
    ids
}

#[test]
fn every_finding_of_a_year_comes_when_and_only_when_it_should() {
    fn margin(y: &mut Year) -> &mut MarginYear {
        y.schemes[0].rooms[0].margin.as_mut().unwrap()
    }
    assert!(ids(|_| {}).is_empty());
    assert_eq!(
        ids(|y| {
            let m = margin(y);
            m.smallest_k = -0.2;
            m.smallest_occupied_k = Some(-0.2);
            m.all.below_zero_h = 3.0;
            m.occupied.below_zero_h = 3.0;
        }),
        ["YR-001"]
    );
    assert_eq!(
        ids(|y| {
            let m = margin(y);
            m.smallest_k = -0.2;
            m.all.below_zero_h = 3.0;
        }),
        ["YR-002"]
    );
    assert_eq!(ids(|y| margin(y).occupied.below_two_degf_h = 1.0), ["YR-003"]);
    assert_eq!(ids(|y| y.schemes[1].rooms[0].unmet.warm_h = 300.0), ["YR-014"]);
    assert_eq!(ids(|y| y.schemes[1].rooms[0].unmet.cold_h = 300.25), ["YR-004", "YR-014"]);
    // 1.5 % of 2600 occupied hours are 39; as long in both schemes is equal service.
    assert_eq!(ids(|y| y.schemes[0].rooms[0].unmet.warm_h = 39.0), [""; 0]);
    assert_eq!(ids(|y| y.schemes[0].rooms[0].unmet.warm_h = 39.25), ["YR-014"]);
    assert_eq!(ids(|y| y.schemes.iter_mut().for_each(|s| s.rooms[0].unmet.warm_h = 200.0)), [""; 0],);
    assert_eq!(ids(|y| y.schemes[1].rooms[0].humidity.above_code_occupied_h = 0.25), ["YR-005"]);
    let limit = |y: &mut Year, l: PlantLimit| {
        let entry = y.schemes[0].limits.iter_mut().find(|x| x.limit == l).unwrap();
        entry.hours_h = 2.0;
        entry.first = Some(at(7));
    };
    assert_eq!(ids(|y| limit(y, PlantLimit::ChillerCapacity)), ["YR-006"]);
    assert_eq!(ids(|y| limit(y, PlantLimit::ChillerCycling)), ["YR-012"]);
    assert_eq!(ids(|y| y.schemes[0].closure[0].residual = 1e6), ["YR-007"]);
    assert_eq!(ids(|y| y.warm_up_residual_k = 0.2), ["YR-011"]);
    // Sizing's estimate is of the demo, which the made-up year does not resemble.
    let job = demo();
    let year = year(10e3, 12e3);
    let e = economy(&job.project, &job.design, None, &year).unwrap();
    let estimates = estimates(&job.project, &job.design, &year);
    let found = findings(&job.project, &job.design, &year, &e, &[], &estimates);
    assert!(found.iter().any(|f| f.id() == "YR-009") && found.iter().any(|f| f.id() == "YR-010"));
}

#[test]
fn a_waiver_of_a_room_is_kept() {
    let job = demo();
    let mut parts = job.project.clone().into_parts();
    let id = parts.rooms[first_served()].id.clone();
    parts.waivers.push(drycoil_project::WaiverRule {
        id: "YR-004".into(),
        part: Some(id),
        waiver: drycoil_findings::Waiver {
            reason: "a test".into(),
            role: "engineer".into(),
            date: "2026-01-01".into(),
        },
        place: drycoil_findings::Place::default(),
    });
    let project = Project::new(parts).unwrap();
    let mut year = year(10e3, 12e3);
    year.schemes[0].rooms[0].unmet.warm_h = 400.0;
    let e = economy(&project, &job.design, None, &year).unwrap();
    let found = findings(&project, &job.design, &year, &e, &[], &[]);
    let unmet = found.iter().find(|f| f.id() == "YR-004").unwrap();
    assert_eq!(unmet.waiver.as_ref().unwrap().reason, "a test");
}

#[test]
fn phys_warmer_water_is_free_for_longer() {
    let job = demo();
    let cooling = vec![1000.0; 8760];
    let free = free_water(&job.project, &job.design, &job.weather, Some(&cooling));
    assert_eq!(free.len(), 2);
    let (warm, cold) = (&free[0], &free[1]);
    assert!(warm.supply_c > cold.supply_c);
    assert!(warm.alone_h > cold.alone_h, "{free:#?}");
    for f in &free {
        assert!(f.alone_h + f.partly_h <= 8760.0);
        let share = f.carried_share.unwrap();
        // Alone carries all of the hour, partly carries some of it.
        let all = 8760.0;
        assert!(
            share >= f.alone_h / all - 1e-12 && share <= (f.alone_h + f.partly_h) / all + 1e-12,
            "{f:#?}"
        );
        close(f.carried_j.unwrap(), share * 8760.0 * 1000.0 * 3600.0, 1e-12);
    }
    // The tower at its design wet bulb gives its design approach, so in the hottest hours nothing is free.
    assert!(cold.alone_h < 4000.0);
    // Without a simulated decoupled scheme only the hours are known.
    let hours = free_water(&job.project, &job.design, &job.weather, None);
    assert!(hours[1].alone_h < cold.alone_h + 1.0);
    // A tower at its design range is warmer than one with a tiny load.
    assert!(hours[0].alone_h < warm.alone_h);
    assert!(hours[0].carried_j.is_none());
}

#[test]
fn phys_moments_are_dates() {
    let last = at(8760 * 4 - 1);
    assert_eq!((last.month, last.day), (12, 31));
    assert!((last.hour_of_day_h - 23.75).abs() < 1e-12);
    let leap = Moment::new(Calendar::Leap, (31 + 28) * 24, 1);
    assert_eq!((leap.month, leap.day), (2, 29));
}
