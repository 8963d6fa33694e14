//! Rooms of a year with plants that give constant supplies: reduced against full rooms, balances, same bits, features.

use drycoil_air::raw;
use drycoil_climate::{DewPointRounding, Moisture, WeatherColumns, WeatherFormat, WeatherYear};
use drycoil_intake::{FileSet, MemoryFiles, job};
use drycoil_project::{CoilRelease, PrimaryAirControl, Project};
use drycoil_sizing::{Design, Service};
use drycoil_year::accuracy::{ENERGY_SHARE, drawn, reduced_beside_full};
use drycoil_year::decoupled_rooms::DecoupledRooms;
use drycoil_year::plant::all_air_design::all_air_design;
use drycoil_year::prepare::{BOUND_K, LANES, Prepared, ReductionCache};
use drycoil_year::result::{Feature, RoomHour, RoomYear, Scheme, SchemeYear, Year};
use drycoil_year::signals::*;
use drycoil_year::simulate::{
    Observer, Options, Plant, Progress, Stopped, Unobserved, all_air_rooms, simulate_with,
};
use drycoil_year::weather::StepWeather;
use drycoil_year::wide::Kernel;
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
        let job = job::read(&files.with(&weather, year)).unwrap_or_else(|f| panic!("{f:#?}"));
        let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool(1)).unwrap();
        Job { project: job.loaded.project, weather: job.weather.year, design }
    })
}

fn pool(threads: usize) -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap()
}

/// Air and water of constant state; primary air off at night.
#[derive(Clone, Copy)]
struct Constant {
    primary_c: f64,
    primary_w: f64,
    water_c: f64,
    runs: f64,
}

impl Constant {
    fn of(design: &Design) -> Self {
        Self {
            primary_c: design.primary_unit.delivered_dry_bulb_c,
            primary_w: design.dew_point.supply_humidity_ratio_kg_per_kg,
            water_c: design.dew_point.sensible_water_c,
            runs: 1.0,
        }
    }
}

impl Plant<DecoupledSupply, DecoupledDemand> for Constant {
    fn first_supply(&self, mode: BuildingMode) -> DecoupledSupply {
        let runs = if mode == BuildingMode::Night { 0.0 } else { self.runs };
        DecoupledSupply {
            primary_c: self.primary_c,
            primary_w: self.primary_w,
            primary_share: runs,
            water_c: self.water_c,
            cooling_share: 1.0,
            heating_share: 1.0,
        }
    }
    fn supply_in_mode(&self, _supply: DecoupledSupply, mode: BuildingMode) -> DecoupledSupply {
        self.first_supply(mode)
    }
    fn step(
        &mut self,
        _time: &StepTime,
        mode: BuildingMode,
        _outdoor: &Outdoor,
        demand: &DecoupledDemand,
        _used: &DecoupledSupply,
    ) -> (PlantStep, DecoupledSupply) {
        let done = PlantStep {
            sensible_w: demand.coil_w + demand.sensible_units_w,
            heating_w: demand.hot_water_w + demand.electric_heating_w,
            ..PlantStep::default()
        };
        (done, self.first_supply(mode))
    }
}

impl Plant<AllAirSupply, AllAirDemand> for Constant {
    fn first_supply(&self, _mode: BuildingMode) -> AllAirSupply {
        AllAirSupply {
            supply_c: 13.0,
            supply_w: self.primary_w,
            flow_share: 1.0,
            heating_share: 1.0,
            outdoor_share: 0.3,
        }
    }
    fn supply_in_mode(&self, supply: AllAirSupply, _mode: BuildingMode) -> AllAirSupply {
        supply
    }
    fn step(
        &mut self,
        _time: &StepTime,
        mode: BuildingMode,
        _outdoor: &Outdoor,
        demand: &AllAirDemand,
        _used: &AllAirSupply,
    ) -> (PlantStep, AllAirSupply) {
        let done = PlantStep { heating_w: demand.hot_water_w, ..PlantStep::default() };
        (done, self.first_supply(mode))
    }
}

fn prepared(project: &Project, weather: &WeatherYear, cache: &mut ReductionCache) -> Prepared {
    Prepared::new(project, &demo().design, weather, 900.0, cache, &pool(1)).unwrap()
}

fn year_of(project: &Project, p: &Prepared, plant: Constant, threads: usize) -> Year {
    let design = all_air_design(project, &demo().design).unwrap();
    simulate_with(
        p,
        Some((DecoupledRooms::new(p), plant)),
        Some((all_air_rooms(p, project, &design), plant)),
        &Options::default(),
        &pool(threads),
        &mut Unobserved,
    )
    .unwrap()
}

fn standard() -> &'static (Prepared, Year) {
    static YEAR: OnceLock<(Prepared, Year)> = OnceLock::new();
    YEAR.get_or_init(|| {
        let j = demo();
        let p = prepared(&j.project, &j.weather, &mut ReductionCache::default());
        let year = year_of(&j.project, &p, Constant::of(&j.design), 2);
        (p, year)
    })
}

fn feature(s: &SchemeYear, f: Feature) -> f64 {
    s.features.iter().find(|x| x.feature == f).unwrap().hours_h
}

fn changed(change: impl Fn(&mut drycoil_project::Parts)) -> Project {
    let mut parts = demo().project.clone().into_parts();
    change(&mut parts);
    Project::new(parts).unwrap()
}

/// Twenty rooms drawn by a seed, over the Greensboro year, each on its full network and reduced, under the same channels,
/// infiltration and ideal control by the hours of use: air temperature within the bound at every step, and heating and
/// cooling of the year each within 0.2 % of their sum (the bar of the issue).
///
/// The bound holds for given inputs. Under control the two networks take slightly different heat, so that the error at the
/// moment of release could come on top of that of the free room; measured on all 85 rooms the largest error is 0.29 of the
/// bound with control and without, so once the bound is enough.
#[test]
fn xchk_reduced_rooms_against_the_full_network_over_a_year() {
    let j = demo();
    let (p, _) = standard();
    let mut nearest = 0.0_f64;
    for room in drawn(p.rooms.len(), 20, 20) {
        let found = reduced_beside_full(&j.project, &j.design, p, room, &pool(1)).unwrap();
        assert!(found.bound_k <= BOUND_K && found.holds(ENERGY_SHARE), "{found:?}");
        nearest = nearest.max(found.worst_k / found.bound_k);
    }
    // A bound far above every error would say nothing.
    assert!(nearest > 0.05, "{nearest}");
}

/// What the bounds of the reduced rooms stand on: outdoor air, sun, gains and heat to the air stay within their stated
/// half-ranges in every step of the year (heat to the air with heating and cooling is checked beside the full network).
#[test]
fn phys_inputs_stay_within_the_ranges_of_the_bound() {
    let (p, _) = standard();
    let per_hour = p.weather.steps_per_hour;
    for room in (0..p.rooms.len()).step_by(3) {
        let channels = p.rooms[room].model.reduced.channels.list();
        let series: Vec<Vec<f64>> = (0..p.hours() * per_hour).map(|step| p.channels(room, step)).collect();
        for (k, channel) in channels.iter().enumerate() {
            if p.rooms[room].model.constant == Some(k) {
                continue;
            }
            let values: Vec<f64> = series.iter().map(|u| u[k]).collect();
            assert!(channel.range.holds(&values), "{}: channel {k} {:?}", p.rooms[room].room, channel.range);
        }
    }
}

/// Heat and water of every room over the year, from tallies, boundary heat and two states: 1e-9 of what passed.
#[test]
fn phys_rooms_close_in_both_schemes() {
    let (_, year) = standard();
    assert_eq!(year.schemes.len(), 2);
    for s in &year.schemes {
        for c in s.closure.iter().filter(|c| c.balance.ends_with("of the rooms")) {
            assert!(c.turnover > 0.0 && c.worst_share <= 1e-9 && c.closes(), "{c:?}");
        }
    }
    // The demonstration exercises what it should.
    let d = year.scheme(Scheme::Decoupled).unwrap();
    for f in [
        Feature::SetBack,
        Feature::StartUp,
        Feature::TransferAir,
        Feature::Follower,
        Feature::CoolingAtCapacity,
    ] {
        assert!(feature(d, f) > 0.0, "{f:?}");
    }
    assert!(feature(year.scheme(Scheme::AllAir).unwrap(), Feature::Reheat) > 0.0);
    assert!(year.warm_up_residual_k < 0.05, "{}", year.warm_up_residual_k);
}

/// What coils and heaters of the terminals give is what the plant is asked for: sum over rooms with a terminal of their own
/// against the plant's record, with condensate counted at its heat. Zones of several rooms mix in between, so their sums are
/// compared as cooling less heating.
#[test]
fn phys_rooms_and_plant_agree_on_heat() {
    let (p, year) = standard();
    let d = year.scheme(Scheme::Decoupled).unwrap();
    let heating: f64 = d.heat.heating_j.iter().sum();
    assert!(heating > 0.0 && d.heat.sensible_j.iter().sum::<f64>() > 0.0);
    let alone = |r: &&RoomYear| {
        let i = p.rooms.iter().position(|f| f.room == r.room).unwrap();
        !matches!(p.rooms[i].service, Service::OffSystem)
    };
    // Rooms that follow are heated by air of their zone, which the record holds and the rooms do not.
    let by_rooms: f64 = d.rooms.iter().filter(alone).map(|r| r.heating_j).sum();
    assert!(by_rooms <= heating * (1.0 + 1e-9), "{by_rooms} {heating}");
    assert!(by_rooms > 0.8 * heating, "{by_rooms} {heating}");
}

/// One and two threads, and reductions made anew or found in a cache, give the same bits.
#[test]
fn phys_same_bits_on_any_threads_and_from_the_cache() {
    let j = demo();
    let (p, two) = standard();
    let one = year_of(&j.project, p, Constant::of(&j.design), 1);
    assert!(&one == two);
    let mut cache = ReductionCache::default();
    let _ = prepared(&j.project, &j.weather, &mut cache);
    let kept = cache.len();
    assert!(kept > 0 && kept <= p.rooms.len());
    let found = prepared(&j.project, &j.weather, &mut cache);
    assert_eq!(cache.len(), kept);
    for (a, b) in p.rooms.iter().zip(&found.rooms) {
        assert_eq!(a.model.reduced, b.model.reduced);
    }
    assert!(&year_of(&j.project, &found, Constant::of(&j.design), 2) == two);
}

/// Vector instructions beyond those of every processor change no bit.
#[test]
fn phys_same_bits_with_any_instructions() {
    let j = demo();
    let (p, wide) = standard();
    let mut p = p.clone();
    p.set_kernel(Kernel::Plain);
    assert!(&year_of(&j.project, &p, Constant::of(&j.design), 1) == wide);
}

fn flat(t_c: f64, dew_c: f64) -> WeatherYear {
    let of = |v: f64| vec![v; 8760];
    WeatherYear::new(WeatherColumns {
        station: demo().weather.station().clone(),
        format: WeatherFormat::PlainCsv,
        dry_bulb_c: of(t_c),
        moisture: Moisture::DewPointC(of(dew_c)),
        rounding: DewPointRounding::TENTH_KELVIN,
        pressure_pa: of(demo().design.site.pressure_pa),
        wind_speed_m_per_s: of(0.0),
        wind_direction_deg: of(0.0),
        global_horizontal_w_per_m2: of(0.0),
        direct_normal_w_per_m2: of(0.0),
        diffuse_horizontal_w_per_m2: of(0.0),
        sky_infrared_w_per_m2: None,
    })
    .unwrap()
}

/// Nobody in, nothing on, the same air outside all year, no primary air: no heating, no cooling, and the humidity of every
/// room that leaks is that of outdoor air.
#[test]
fn phys_nothing_happens_at_constant_conditions() {
    let project = changed(|parts| {
        for r in &mut parts.rooms {
            r.people.value = 0.0;
            r.lighting.value = r.lighting.value * 0.0;
            r.plugs.value = r.plugs.value * 0.0;
            r.process_sensible.value = r.process_sensible.value * 0.0;
            r.process_latent.value = r.process_latent.value * 0.0;
        }
    });
    let weather = flat(22.5, 9.0);
    let p = prepared(&project, &weather, &mut ReductionCache::default());
    let plant = Constant { runs: 0.0, ..Constant::of(&demo().design) };
    let year = simulate_with::<Constant, Constant>(
        &p,
        Some((DecoupledRooms::new(&p), plant)),
        None,
        &Options::default(),
        &pool(1),
        &mut Unobserved,
    )
    .unwrap();
    let w = raw::humidity_ratio_at_dew_point(9.0, p.settings.p_pa);
    for (r, f) in year.schemes[0].rooms.iter().zip(&p.rooms) {
        // A roof under a clear sky, or a neighbour of another temperature, is not nothing.
        if f.model.constant.is_some() || f.service != Service::Terminal {
            continue;
        }
        assert!(r.cooling_j == 0.0 && r.heating_j == 0.0, "{} {} {}", r.room, r.cooling_j, r.heating_j);
        let highest = r.highest_occupied_c.unwrap_or(22.5);
        // Fans of terminals run while a room is served: their heat lifts it by some tenths of a kelvin.
        assert!((22.45..23.2).contains(&highest), "{} {highest}", r.room);
        if f.model.infiltration_m3_per_s(&project) > 0.0 {
            let dew = raw::dew_point_c(w, p.settings.p_pa);
            assert!(
                r.humidity.highest_dew_point_c
                    < dew.max(raw::dew_point_c(p.settings.supply_w, p.settings.p_pa)) + 0.01
            );
        }
    }
}

/// Last hour that every room was seen in.
struct LastHour(usize, Vec<RoomHour>);

impl Observer for LastHour {
    fn room_hour(&mut self, _scheme: Scheme, hour: usize, room: &RoomHour) {
        if hour == self.0 {
            self.1.push(*room);
        }
    }
    fn day_finished(&mut self, finished: usize, _days: usize) -> Progress {
        if finished * 24 > self.0 { Progress::Stop } else { Progress::Continue }
    }
}

/// Nobody in, nothing on, warm humid air outside, primary air on: at rest a room on transfer air is what comes in by transfer
/// and leakage, in heat and in water, and the rooms of a zone give back by primary air what leaks in, however their unit
/// mixes their air.
#[test]
fn phys_transfer_air_and_zones_balance_at_rest() {
    let project = changed(|parts| {
        for r in &mut parts.rooms {
            r.people.value = 0.0;
            r.lighting.value = r.lighting.value * 0.0;
            r.plugs.value = r.plugs.value * 0.0;
            r.process_sensible.value = r.process_sensible.value * 0.0;
            r.process_latent.value = r.process_latent.value * 0.0;
        }
    });
    let weather = flat(30.0, 20.0);
    let p = prepared(&project, &weather, &mut ReductionCache::default());
    let plant = Constant::of(&demo().design);
    // The afternoon of the first Thursday or Friday: hours since anything changed.
    let hour = (0..24 * 7)
        .rfind(|h| {
            h % 24 == 15 && p.mode(*h) == BuildingMode::Occupied && p.mode(h - 5) == BuildingMode::Occupied
        })
        .unwrap();
    let mut seen = LastHour(hour, Vec::new());
    let stopped = simulate_with::<Constant, Constant>(
        &p,
        Some((DecoupledRooms::new(&p), plant)),
        None,
        &Options { watched: (0..p.rooms.len()).collect(), ..Options::default() },
        &pool(1),
        &mut seen,
    );
    assert!(matches!(stopped, Err(Stopped::ByObserver { .. })));
    let rooms = &seen.1;
    assert_eq!(rooms.len(), p.rooms.len());
    let outdoor = p.weather.mean[hour * 4];
    // Stores with little transfer air are still on their way by 0.35 % of their humidity; outdoor air is twice as humid.
    let (mut transfers, mut zones) = (0, 0);
    for (i, r) in rooms.iter().enumerate() {
        let (f, l) = (&p.blocks[i / LANES], i % LANES);
        if f.transfer_kg_per_s[l] > 0.0 && f.on_system[l] == 0.0 {
            transfers += 1;
            let source = &rooms[f.transfer_from[l] as usize];
            let (m, leak) = (f.transfer_kg_per_s[l], f.held_leak_kg_per_s[l]);
            let w = (m * source.w_kg_per_kg + leak * outdoor.w) / (m + leak);
            assert!((r.w_kg_per_kg - w).abs() < 5e-5, "{}: {} {w}", p.rooms[i].room, r.w_kg_per_kg);
            let cp = |w: f64| raw::humid_specific_heat_j_per_kg_k(w);
            let heat = m * cp(source.w_kg_per_kg) * (source.air_c - r.air_c)
                + leak * cp(outdoor.w) * (outdoor.t_c - r.air_c);
            let [least, greatest] = r.heat_w.unwrap();
            let slack = 0.01 * (m + leak) * 1010.0;
            assert!(least - slack <= heat && heat <= greatest + slack, "{}: {heat} {least}", p.rooms[i].room);
        }
    }
    for t in p.terminals.iter().filter(|t| t.rooms.len() > 1) {
        zones += 1;
        let (mut out, mut into) = (0.0, 0.0);
        for (i, _) in &t.rooms {
            let (i, r) = (*i as usize, &rooms[*i as usize]);
            out += r.supply_kg_per_s * (r.w_kg_per_kg - plant.primary_w);
            into += p.blocks[i / LANES].held_leak_kg_per_s[i % LANES] * (outdoor.w - r.w_kg_per_kg);
        }
        assert!(into > 0.0 && (out / into - 1.0).abs() < 1e-2, "{}: {out} {into}", t.zone);
    }
    assert!(transfers > 3 && zones > 1, "{transfers} {zones}");
}

/// Air that a unit mixes among the rooms of its zone neither makes nor loses water, but for the step that it is late.
#[test]
fn phys_zones_keep_their_water() {
    let (_, year) = standard();
    let d = year.scheme(Scheme::Decoupled).unwrap();
    let c = d.closure.iter().find(|c| c.balance == "water between rooms of a zone").unwrap();
    assert!(c.turnover > 0.0 && c.closes(), "{c:?}");
}

/// Humid nights: coils wait at start-up until their room is dry and no water condenses before; opened at once they get
/// wet.
#[test]
fn phys_humid_start_up_holds_coils_shut() {
    let j = demo();
    let weather = flat(27.0, 24.0);
    let run = |release: CoilRelease| {
        let project = changed(|parts| parts.year.coil_release.value = release);
        let p = prepared(&project, &weather, &mut ReductionCache::default());
        let year = simulate_with::<Constant, Constant>(
            &p,
            Some((DecoupledRooms::new(&p), Constant::of(&j.design))),
            None,
            &Options { schemes: vec![Scheme::Decoupled], ..Options::default() },
            &pool(2),
            &mut Unobserved,
        )
        .unwrap();
        let s = &year.schemes[0];
        // A room that is in use day and night never starts up.
        let coils = || s.rooms.iter().filter(|r| r.occupied_h < 8000.0).filter_map(|r| r.margin.as_ref());
        let wet: f64 = coils().map(|m| m.condensate_kg).sum();
        let below: f64 = coils().map(|m| m.all.below_zero_h).sum();
        for c in s.closure.iter().filter(|c| c.balance == "water of the rooms") {
            assert!(c.worst_share < 1e-9, "{c:?}");
        }
        (feature(s, Feature::CoilHeldShut), wet, below)
    };
    let (held, wet, below) = run(CoilRelease::WhenDry);
    let (never, wetter, more) = run(CoilRelease::AtOnce);
    assert!(held > 1000.0 && never == 0.0, "{held} {never}");
    assert!(
        wetter > 10.0 * wet.max(1.0) && more > below,
        "{wet} kg and {below} h held, {wetter} kg and {more} h not"
    );
}

/// Demand control lowers primary air and, since moisture needs are kept, lifts no room that can hold its limit above it
/// by more than the hours before it is dry.
#[test]
fn phys_demand_control_lowers_primary_air_not_dryness() {
    let j = demo();
    let run = |control: PrimaryAirControl| {
        let project = changed(|parts| {
            for r in &mut parts.rooms {
                r.primary_air_control.value = control;
            }
        });
        let p = prepared(&project, &j.weather, &mut ReductionCache::default());
        simulate_with::<Constant, Constant>(
            &p,
            Some((DecoupledRooms::new(&p), Constant::of(&j.design))),
            None,
            &Options::default(),
            &pool(2),
            &mut Unobserved,
        )
        .unwrap()
    };
    let (constant, controlled) = (run(PrimaryAirControl::Constant), run(PrimaryAirControl::Occupancy));
    let air = |y: &Year| y.schemes[0].rooms.iter().map(|r| r.ventilation_kg).sum::<f64>();
    assert!(air(&controlled) < 0.95 * air(&constant), "{} {}", air(&controlled), air(&constant));
    assert_eq!(feature(&constant.schemes[0], Feature::DemandControl), 0.0);
    assert!(feature(&controlled.schemes[0], Feature::DemandControl) > 0.0);
    for (a, b) in constant.schemes[0].rooms.iter().zip(&controlled.schemes[0].rooms) {
        assert!(b.ventilation_kg <= a.ventilation_kg * (1.0 + 1e-9), "{}", a.room);
        let hours = b.humidity.above_code_occupied_h - a.humidity.above_code_occupied_h;
        assert!(hours <= 0.02 * a.occupied_h.max(50.0), "{}: {hours} h more above the limit", a.room);
    }
}

/// Watches a room and stops after three days.
#[derive(Default)]
struct Watch {
    rows: Vec<(Scheme, usize, RoomHour)>,
    days: usize,
}

impl Observer for Watch {
    fn day_finished(&mut self, finished: usize, _days: usize) -> Progress {
        self.days = finished;
        if finished == 3 { Progress::Stop } else { Progress::Continue }
    }
    fn room_hour(&mut self, scheme: Scheme, hour: usize, room: &RoomHour) {
        self.rows.push((scheme, hour, *room));
    }
}

/// Rows come hour by hour; a wish to stop is heard at the end of the day.
#[test]
fn phys_observer_sees_hours_in_order_and_stops() {
    let j = demo();
    let (p, _) = standard();
    let design = all_air_design(&j.project, &j.design).unwrap();
    let mut watch = Watch::default();
    let stopped = simulate_with(
        p,
        Some((DecoupledRooms::new(p), Constant::of(&j.design))),
        Some((all_air_rooms(p, &j.project, &design), Constant::of(&j.design))),
        &Options { watched: vec![3], ..Options::default() },
        &pool(2),
        &mut watch,
    );
    assert!(matches!(stopped, Err(Stopped::ByObserver { days: 3 })));
    for scheme in Scheme::ALL {
        let hours: Vec<usize> = watch.rows.iter().filter(|r| r.0 == scheme).map(|r| r.1).collect();
        assert_eq!(hours, (0..72).collect::<Vec<_>>());
    }
    assert!(watch.rows.iter().all(|(_, _, r)| r.room == 3 && (5.0..40.0).contains(&r.air_c)));
}

/// A step that does not divide an hour is refused; an hour and half a minute work.
#[test]
fn phys_steps_divide_an_hour() {
    let j = demo();
    let steps = |n: usize| StepWeather::new(&j.weather, j.design.site.pressure_pa, n).unwrap();
    assert_eq!(steps(120).end_c.len(), 8760 * 120);
    for step_s in [0.0, 7.0, 10.0, 1000.0, 7200.0] {
        let p = Prepared::new(
            &j.project,
            &j.design,
            &j.weather,
            step_s,
            &mut ReductionCache::default(),
            &pool(1),
        );
        assert!(p.is_err(), "{step_s}");
    }
}
