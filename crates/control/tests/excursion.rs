//! The demo building under the case library.

use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_control::excursion::building::{Building, BuildingError};
use drycoil_control::excursion::case::{Case, CaseDay, Disturbance};
use drycoil_control::excursion::lag::SensorFault;
use drycoil_control::excursion::library::library;
use drycoil_control::excursion::read::read_cases;
use drycoil_control::excursion::result::{Criteria, Excursion, ExcursionResult, excursions};
use drycoil_control::excursion::sample::robustness;
use drycoil_control::excursion::simulate::{Controls, Settings, ZoneMoment, ready, run};
use drycoil_control::settings::sequence_settings;
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_project::Project;
use drycoil_rooms::block::moisture;
use drycoil_sizing::Design;
use drycoil_year::prepare::ReductionCache;
use drycoil_year::result::{RoomHour, Scheme};
use drycoil_year::simulate::{Observer, Options, simulate};
use std::path::Path;
use std::sync::OnceLock;

struct Job {
    project: Project,
    weather: WeatherYear,
    design: Design,
}

fn pool() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap()
}

fn read(folder: &str) -> Job {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(folder);
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
    let files = files.with(&weather, std::fs::read(root.join(&weather)).unwrap());
    let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
    let (project, weather) = (job.loaded.project, job.weather.year);
    let design = drycoil_sizing::size(&project, &weather, &pool()).unwrap();
    Job { project, weather, design }
}

fn demo() -> &'static Job {
    static JOB: OnceLock<Job> = OnceLock::new();
    JOB.get_or_init(|| read("public-services-building"))
}

fn building(job: &Job, step_s: f64) -> Building {
    let mut cache = ReductionCache::default();
    let sequence = sequence_settings(&job.project, &job.design).unwrap();
    Building::new(&job.project, &job.design, &sequence, &job.weather, step_s, &mut cache, &pool()).unwrap()
}

fn named(b: &Building, name: &str) -> Case {
    library(b).into_iter().find(|c| c.name == name).unwrap()
}

/// Demo at 20 s, with all cases.
fn all_cases() -> &'static (Building, Vec<Excursion>) {
    static RUN: OnceLock<(Building, Vec<Excursion>)> = OnceLock::new();
    RUN.get_or_init(|| {
        let b = building(demo(), 20.0);
        let all = excursions(&b, &library(&b), &Criteria::default(), None, &pool()).unwrap();
        (b, all)
    })
}

/// Heat and water of every room, and water of every coil, over every case of the library: 1e-9 of the largest term, the
/// promise of the excursion.
#[test]
fn phys_heat_and_water_close_in_every_room() {
    let (_, all) = all_cases();
    assert!(all.len() >= 15);
    for e in all {
        let c = &e.result.closure;
        assert!(
            c.room_water <= 1e-9 && c.room_heat <= 1e-9 && c.coil_water <= 1e-9,
            "{}: {c:?}",
            e.case.name
        );
        for z in &e.result.zones {
            for w in [&z.water, &z.without_sequence] {
                let missing = w.condensate_kg - w.evaporated_kg - w.dripped_kg - w.left_kg;
                assert!(missing.abs() <= 1e-9 * w.condensate_kg.max(1e-3), "{} {}", e.case.name, z.zone);
            }
        }
    }
}

/// What the sequence is for: in no case of the library does water drip, where thermostats alone would let it in many.
#[test]
fn phys_the_sequence_keeps_coils_from_dripping() {
    let (_, all) = all_cases();
    let without = all.iter().filter(|e| e.result.dripped_without_sequence_kg > 0.0).count();
    assert!(without >= 6, "{without} cases drip without the sequence");
    for e in all {
        assert_eq!(e.result.dripped_kg, 0.0, "{}", e.case.name);
        assert!(e.result.condensate_kg <= e.result.condensate_without_sequence_kg + 1e-9, "{}", e.case.name);
    }
}

/// Results are finite, times lie in the case, stages follow one another without a gap.
#[test]
fn phys_stages_fill_the_case() {
    let (b, all) = all_cases();
    for e in all {
        let r = &e.result;
        for list in r.zones.iter().map(|z| &z.stages).chain([&r.building_stages]) {
            assert_eq!(list[0].from_s, 0.0);
            assert_eq!(list[list.len() - 1].to_s, r.length_s);
            for pair in list.windows(2) {
                assert_eq!(pair[0].to_s, pair[1].from_s);
                assert_ne!(pair[0].stage, pair[1].stage);
                assert!(!pair[1].reason.is_empty());
            }
        }
        assert_eq!(r.zones.len(), b.zones.len());
        assert_eq!(r.rooms.len(), b.rooms.len());
        for z in &r.zones {
            assert!(z.peak_dew_point_c.is_finite() && z.peak_s > r.trigger_s && z.peak_s <= r.length_s);
        }
    }
}

/// A crowd wets the coil that stays open, and the fault is noticed and over within the day.
#[test]
fn phys_a_stuck_valve_wets_the_coil_until_it_moves_again() {
    let (_, all) = all_cases();
    let r = &all.iter().find(|e| e.case.name == "valve-stuck").unwrap().result;
    assert!(r.condensate_kg > 0.01 && r.smallest_margin_k.unwrap() < 0.0);
    let z = r.zones.iter().find(|z| z.water.condensate_kg > 0.01).unwrap();
    assert!(z.noticed_s.is_some() && z.recovery_s.unwrap() < 3600.0);
    assert!(z.water.left_kg < 1e-9, "it dries again");
}

/// The bar of the excursion: half the step moves the peak dew point by less than 0.05 K and condensate by less than 2 %.
#[test]
fn xchk_half_the_step_gives_the_same() {
    let job = demo();
    let at = |step_s: f64| {
        let b = building(job, step_s);
        let cases = [named(&b, "valve-stuck")];
        excursions(&b, &cases, &Criteria::default(), None, &pool()).unwrap().remove(0).result
    };
    let (whole, half) = (at(5.0), at(2.5));
    assert!((whole.peak_dew_point_c - half.peak_dew_point_c).abs() < 0.05);
    assert!(whole.condensate_kg > 0.01);
    assert!((whole.condensate_kg / half.condensate_kg - 1.0).abs() < 0.02, "{whole:?} {half:?}");
    let without = whole.condensate_without_sequence_kg / half.condensate_without_sequence_kg;
    assert!((without - 1.0).abs() < 0.02, "{without}");
}

/// Same bits on one thread and on two.
#[test]
fn inv_threads_do_not_matter() {
    let job = demo();
    let b = building(job, 20.0);
    let cases = [named(&b, "door-open"), named(&b, "power-dip")];
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let run = |pool: &rayon::ThreadPool| -> Vec<ExcursionResult> {
        excursions(&b, &cases, &Criteria::default(), None, pool)
            .unwrap()
            .into_iter()
            .map(|e| e.result)
            .collect()
    };
    assert_eq!(run(&one), run(&pool()));
    let draw = |pool: &rayon::ThreadPool| robustness(&b, &cases[0], 30, 4, pool).unwrap();
    assert_eq!(draw(&one), draw(&pool()));
}

/// Drying at half takes cooling that no control could keep: that part is told, lies within what is lost but for what the
/// sequence gains by rooms that dry their coils' air, and the rest is little. Perfect knowledge neither wets a coil nor
/// recovers later.
#[test]
fn phys_what_no_control_could_keep_is_told_apart() {
    let (b, all) = all_cases();
    let weak = &all.iter().find(|e| e.case.name == "drying-weak").unwrap().result;
    let upset = weak.cooling_lost_to_upset_share.unwrap();
    assert!(upset > 0.01 && weak.cooling_lost_share.unwrap() - upset < 0.1, "{upset}");
    assert!(weak.best_recovery_s.unwrap() <= weak.recovery_s.unwrap());
    let start = ready(b, &named(b, "drying-weak")).unwrap();
    let settings = Settings::of(b, Controls::PerfectKnowledge);
    let best = run(b, &start, &named(b, "drying-weak"), &settings, None).unwrap();
    // Films of the warm-up, and rooms that grow more humid within a step, leave traces.
    let formed: f64 = best.zones.iter().flat_map(|z| &z.films).map(|f| f.formed_kg).sum();
    assert!(formed < 0.005, "{formed}");
    // A quiet case is not asked.
    assert!(all.iter().any(|e| e.result.passed && e.result.cooling_lost_to_upset_share.is_none()));
}

/// The sequence does not call and release more air in turn: under a load that lasts, no zone changes its stage more than
/// once an hour on average after it was noticed.
#[test]
fn phys_a_lasting_load_does_not_make_stages_hunt() {
    let (_, all) = all_cases();
    for name in ["humid-front", "wet-cleaning", "pressure-lost", "door-open"] {
        let r = &all.iter().find(|e| e.case.name == name).unwrap().result;
        for z in &r.zones {
            assert!(z.stages.len() <= 10, "{name} {}: {} stages", z.zone, z.stages.len());
        }
    }
}

/// A well-mixed box in its limits, in closed form, in steps of 5 s: without air it gains what is released (accumulation,
/// 1e-12 of it: rounding of 720 sums); with much air it stands at the supply and the release over the flow; in between it
/// comes to rest at `supply + release / flow`, on the exponential way there (1e-12), and its mean over a step closes the
/// balance of that step.
#[test]
fn phys_limits_of_a_well_mixed_box() {
    let (air_kg, supply, release, begin) = (340.0, 0.0065, 2.5e-4, 0.0091);
    let run = |flow: f64, steps: usize| {
        let mut w = [begin];
        let mut closed = 0.0_f64;
        for _ in 0..steps {
            let step = moisture(&w, &[flow], &[flow * supply + release], &[5.0 / air_kg]);
            let held = air_kg * (step.end[0] - w[0]);
            closed = closed.max((held - 5.0 * (flow * (supply - step.mean[0]) + release)).abs());
            w = step.end;
        }
        assert!(closed < 1e-12, "{flow}: {closed}");
        w[0]
    };
    let gained = run(0.0, 720) - begin;
    assert!((gained - release * 3600.0 / air_kg).abs() < 1e-12 * begin, "{gained}");
    let swept = run(1e4, 1);
    assert!((swept - (supply + release / 1e4)).abs() < 1e-12, "{swept}");
    for (flow, steps) in [(0.1, 360), (0.1, 40_000), (0.02, 720)] {
        let rest = supply + release / flow;
        let exact = rest + (begin - rest) * (-flow * 5.0 * steps as f64 / air_kg).exp();
        assert!((run(flow, steps) - exact).abs() < 1e-12, "{flow} {steps}");
    }
}

/// A longer, wider door makes it worse.
#[test]
fn phys_a_wider_door_raises_the_peak() {
    let job = demo();
    let b = building(job, 20.0);
    let door = named(&b, "door-open");
    let mut wide = door.clone();
    let Disturbance::OutdoorAir { kg_per_s, .. } = &mut wide.upsets[0].what else { panic!() };
    *kg_per_s *= 2.0;
    let results = excursions(&b, &[door, wide], &Criteria::default(), None, &pool()).unwrap();
    let peak = |k: usize| results[k].run.rooms.iter().map(|r| r.most_w).fold(0.0, f64::max);
    assert!(results[1].result.smallest_margin_k <= results[0].result.smallest_margin_k);
    assert!(peak(1) >= peak(0));
    let zone = |k: usize| &results[k].result.zones;
    let rises = zone(0).iter().any(|z| {
        let other = zone(1).iter().find(|o| o.zone == z.zone).unwrap();
        other.peak_dew_point_c > z.peak_dew_point_c + 0.2
    });
    assert!(rises);
}

#[test]
fn what_cannot_be_run_is_refused() {
    let job = demo();
    let sequence = sequence_settings(&job.project, &job.design).unwrap();
    for step_s in [0.5, 7.0, 61.0, f64::NAN] {
        let made = Building::new(
            &job.project,
            &job.design,
            &sequence,
            &job.weather,
            step_s,
            &mut ReductionCache::default(),
            &pool(),
        );
        assert!(matches!(made, Err(BuildingError::Step { .. })), "{step_s}");
    }
    let b = building(job, 20.0);
    let door = named(&b, "door-open");
    let refused =
        |case: Case| excursions(&b, &[case], &Criteria::default(), None, &pool()).unwrap_err().to_string();
    let mut case = door.clone();
    case.upsets[0].what = Disturbance::Moisture { room: 9999, kg_per_s: 0.001 };
    assert!(refused(case).contains("names a room or zone that is not there"));
    let mut case = door.clone();
    case.upsets[0].to_s = case.upsets[0].from_s;
    assert!(refused(case).contains("ends before it begins"));
    let mut case = door.clone();
    case.from_s += 60.0;
    assert!(refused(case).contains("whole hours"));
    let case = Case { day: CaseDay::Date { month: 2, day: 30 }, ..door.clone() };
    assert!(refused(case).contains("not a day of the weather year"));
    assert!(robustness(&b, &door, 5, 1, &pool()).unwrap_err().to_string().contains("allowed 30 to 100000"));
}

/// Check values 2.5: 10 000 ft3, 200 scfm at 48 degF dew point, ten people of 155 Btu/h, from 60 degF; capacity multipliers
/// 1, 5 and 10 (recomputed closed form; 0.005 degF), here in steps of 5 s.
#[test]
fn val_unsteady_dew_point_of_a_room() {
    let p_pa = 101_325.0;
    let w_of = |f: f64| raw::humidity_ratio_at_dew_point((f - 32.0) / 1.8, p_pa);
    let lb_per_h = 0.453_592_37 / 3600.0;
    // 4.5 lb/h of dry air per scfm; 1094.3 Btu/lb at 75 degF.
    let flow = 200.0 * 4.5 * lb_per_h;
    let water = flow * w_of(48.0) + 10.0 * 155.0 / 1094.3 * lb_per_h;
    let air_kg = 10_000.0 * 0.075 * 0.453_592_37;
    for (factor, expected) in
        [(1.0, [57.176, 55.508, 54.013]), (5.0, [59.316, 58.697, 57.632]), (10.0, [59.650, 59.316, 58.697])]
    {
        let mut w = [w_of(60.0)];
        let mut found = Vec::new();
        for step in 1..=1440 {
            w = moisture(&w, &[flow], &[water], &[5.0 / (factor * air_kg)]).end;
            if [360, 720, 1440].contains(&step) {
                found.push(raw::dew_point_c(w[0], p_pa) * 1.8 + 32.0);
            }
        }
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 0.005, "{factor}: {f} {e}");
        }
    }
}

/// Hours of one day as the year simulates them.
struct DayOfYear {
    from: usize,
    hours: Vec<RoomHour>,
}

impl Observer for DayOfYear {
    fn room_hour(&mut self, _scheme: Scheme, hour: usize, room: &RoomHour) {
        if (self.from..self.from + 24).contains(&hour) {
            self.hours.push(*room);
        }
    }
}

/// A quiet day against the year, 15-minute steps with ideal control, without resets: in hours of use dew points within
/// 0.5 K and temperatures within 0.6 K for nine of ten room-hours. The excursion's thermostats are real, its dampers and
/// air have lags, its sequence adds air when a room passes its limit.
#[test]
fn xchk_year_when_nothing_is_upset() {
    let job = demo();
    let b = building(job, 20.0);
    let quiet = Case { upsets: Vec::new(), from_s: 8.0 * 3600.0, ..named(&b, "door-open") };
    let run = excursions(&b, &[quiet], &Criteria::default(), Some(300.0), &pool()).unwrap().remove(0).run;
    let watched: Vec<usize> = b.zones.iter().filter(|z| z.rooms.len() == 1).map(|z| z.rooms[0].0).collect();
    let mut day = DayOfYear { from: run.day * 24, hours: Vec::new() };
    let options =
        Options { schemes: vec![Scheme::Decoupled], watched: watched.clone(), ..Options::default() };
    let mut cache = ReductionCache::default();
    simulate(&job.project, &job.design, &job.weather, &options, &mut cache, &pool(), &mut day).unwrap();
    let (mut near, mut all) = (0, 0);
    for (k, room) in watched.iter().enumerate() {
        let zone = b.zones.iter().position(|z| z.rooms[0].0 == *room).unwrap();
        for hour in 10_u32..16 {
            let moments: Vec<_> = run
                .history
                .iter()
                .filter(|m| {
                    let h = 8.0 + m.time_s / 3600.0;
                    h > f64::from(hour) && h <= f64::from(hour) + 1.0
                })
                .map(|m| m.zones[zone])
                .collect();
            let mean =
                |f: &dyn Fn(&ZoneMoment) -> f64| moments.iter().map(f).sum::<f64>() / moments.len() as f64;
            let year = &day.hours[hour as usize * watched.len() + k];
            all += 1;
            let dew = (mean(&|m| m.dew_point_c) - raw::dew_point_c(year.w_kg_per_kg, b.pressure_pa())).abs();
            let air = (mean(&|m| m.room_c) - year.air_c).abs();
            near += usize::from(dew < 0.5 && air < 0.6);
        }
    }
    assert!(all > 100 && near as f64 > 0.9 * f64::from(all), "{near} of {all}");
}

/// The file of `docs/EXCURSION_FORMAT.md` is read as it says, with places of this project.
#[test]
fn cases_of_ones_own_are_read() {
    let b = building(demo(), 20.0);
    let page = include_str!("../../../docs/EXCURSION_FORMAT.md");
    let text = page.split("```toml\n").nth(1).unwrap().split("```").next().unwrap();
    let file = read_cases("cases.toml", text.as_bytes(), &b).unwrap_or_else(|f| panic!("{f:#?}"));
    assert_eq!(file.criteria, Criteria::default());
    let case = &file.cases[0];
    assert_eq!((case.day, case.from_s, case.length_s), (CaseDay::Humid, 28_800.0, 46_800.0));
    // 420 standard cfm are 0.1982 m3/s of 1.2014 kg/m3.
    let Disturbance::OutdoorAir { room, kg_per_s } = case.upsets[0].what else { panic!() };
    assert!(b.rooms[room] == "102" && (kg_per_s - 0.2381).abs() < 1e-4, "{kg_per_s}");
    assert_eq!((case.upsets[0].from_s, case.upsets[0].to_s), (36_000.0, 41_400.0));
    let Disturbance::ZoneSensor { fault: SensorFault::Bias { k }, .. } = case.upsets[1].what else {
        panic!()
    };
    assert!((k + 1.0).abs() < 1e-12);
}

/// Each mistake is named at its line.
#[test]
fn mistakes_in_a_file_of_cases_are_found_at_their_lines() {
    let b = building(demo(), 20.0);
    let good = "[[case]]\nname = \"a\"\n[[case.upset]]\nwhat = \"people\"\nroom = \"102\"\npeople = 5\nfrom = \"10:00\"\nto = \"11:00\"\n";
    assert!(read_cases("c.toml", good.as_bytes(), &b).is_ok());
    for (old, new, id, line) in [
        ("[[case]]", "[[case]", "PF-001", 1),
        ("people = 5", "peopel = 5", "PF-002", 6),
        ("name = \"a\"\n", "", "PF-003", 1),
        ("people = 5", "people = \"five\"", "PF-004", 6),
        ("\"102\"", "\"1O2\"", "PF-009", 5),
        ("\"people\"", "\"crowd\"", "PF-009", 4),
        ("\"11:00\"", "\"eleven\"", "PF-004", 8),
        ("\"11:00\"", "\"09:00\"", "PF-004", 1),
        ("name = \"a\"\n", "name = \"a\"\nday = \"02-30\"\n", "PF-004", 1),
    ] {
        let text = good.replacen(old, new, 1);
        let found = read_cases("c.toml", text.as_bytes(), &b).unwrap_err();
        let fits = found.iter().any(|f| f.id() == id && f.places[0].line == Some(line));
        assert!(fits, "{new}: {found:#?}");
    }
    assert_eq!(read_cases("c.toml", &[0xff, 0xfe, 0x00], &b).unwrap_err()[0].id(), "PF-013");
}
