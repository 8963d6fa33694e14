//! A small building with its three dew points pinned. Every key of the sections that the year reads does something: written
//! with another value, it changes a result, which cannot come from another choice of the search. And with keys drawn at
//! random no machine passes its physical limit in any step of the year.

use drycoil_air::raw;
use drycoil_climate::WeatherYear;
use drycoil_intake::{MemoryFiles, job};
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_year::decoupled_rooms::DecoupledRooms;
use drycoil_year::plant::all_air_plant::AllAirPlant;
use drycoil_year::plant::decoupled_plant::DecoupledPlant;
use drycoil_year::prepare::{Prepared, ReductionCache};
use drycoil_year::result::{Closure, Year};
use drycoil_year::signals::*;
use drycoil_year::simulate::{Options, Plant, Unobserved, all_air_rooms, simulate, simulate_with};
use drycoil_year::told;
use std::collections::{BTreeMap, BTreeSet};

/// A key, the value that should change something, and what must stand beside it (`section.key = value`) to count.
type Case = (&'static str, &'static str, &'static str);

/// Zone by zone the meeting room makes more than half of the supply outdoor air, so that the standard asks for recovery.
const RECOVERS: &str = "all_air.multiple_zone = \"critical-zone\"";

const CASES: &[Case] = &[
    ("year.step", "\"30 min\"", ""),
    ("year.schemes", "\"decoupled\"", ""),
    ("year.night_dew_point_limit", "\"13 degC\"", ""),
    ("year.night_air", "\"outdoor\"", "year.night_dew_point_limit = \"13 degC\""),
    ("year.coil_release", "\"at-once\"", ""),
    ("year.supply_dew_point_reset", "\"when-dry\"", ""),
    ("year.supply_dew_point_rise", "\"0.5 K\"", "year.supply_dew_point_reset = \"when-dry\""),
    ("year.supply_dew_point_margin", "\"0.2 K\"", "year.supply_dew_point_reset = \"when-dry\""),
    ("year.water_reset", "\"follow-wettest-room\"", ""),
    ("year.water_reset_offset", "\"4 K\"", "year.water_reset = \"follow-wettest-room\""),
    (
        "year.water_reset_rise",
        "\"0.2 K\"",
        "year.water_reset = \"follow-wettest-room\"; year.water_reset_offset = \"4 K\"",
    ),
    ("year.primary_air_control", "\"profile\"", ""),
    ("year.standby", "\"never\"", "year.primary_air_control = \"occupancy\""),
    ("year.standby_relaxation", "\"3 K\"", "year.primary_air_control = \"occupancy\""),
    ("all_air.climate_zone", "\"4C\"", RECOVERS),
    ("all_air.supply", "\"14 degC\"", ""),
    ("all_air.minimum_flow", "\"single-maximum\"", ""),
    ("all_air.single_minimum", "\"60 %\"", "all_air.minimum_flow = \"single-maximum\""),
    ("all_air.dual_minimum", "\"40 %\"", ""),
    ("all_air.minimum_over_outdoor", "2.5", ""),
    ("all_air.heating_maximum", "\"90 %\"", "all_air.heating_rise = \"5 K\""),
    ("all_air.heating_rise", "\"5 K\"", ""),
    ("all_air.boxes", "\"electric-reheat\"", ""),
    ("all_air.heating_water", "\"60 degC\"", "plant.heating = \"heat-recovery-chiller\""),
    ("all_air.economizer", "\"none\"", ""),
    ("all_air.economizer_dry_bulb", "\"10 degC\"", ""),
    ("all_air.economizer_enthalpy", "\"25 kJ/kg\"", ""),
    ("all_air.supply_reset", "\"none\"", ""),
    ("all_air.supply_reset_rise", "\"1 K\"", ""),
    ("all_air.supply_reset_target", "\"50 %\"", ""),
    ("all_air.supply_reset_warm", "\"28 degC\"", "all_air.supply_reset = \"outdoor-air\""),
    ("all_air.supply_reset_cold", "\"2 degC\"", "all_air.supply_reset = \"outdoor-air\""),
    ("all_air.supply_reset_dew_point", "\"0 degC\"", ""),
    ("all_air.supply_fan_pressure", "\"900 Pa\"", ""),
    ("all_air.return_fan_pressure", "\"100 Pa\"", ""),
    ("all_air.duct_pressure", "\"200 Pa\"", ""),
    ("all_air.pressure_reset", "\"none\"", ""),
    ("all_air.duct_pressure_least", "\"250 Pa\"", ""),
    ("all_air.fan_efficiency", "\"50 %\"", ""),
    ("all_air.duct_gain", "\"0 K\"", ""),
    ("all_air.duct_leakage", "\"10 %\"", ""),
    ("all_air.largest_unit", "\"250 cfm\"", RECOVERS),
    ("all_air.spare", "\"40 %\"", ""),
    ("all_air.recovery", "\"none\"", RECOVERS),
    ("all_air.recovery_sensible", "\"80 %\"", RECOVERS),
    ("all_air.recovery_latent", "\"20 %\"", RECOVERS),
    ("all_air.recovery_pressure", "\"400 Pa\"", RECOVERS),
    ("all_air.cold_water", "\"5 degC\"", ""),
    ("all_air.cold_water_rise", "\"5 K\"", ""),
    ("all_air.multiple_zone", "\"critical-zone\"", ""),
    ("all_air.outdoor_air_reset", "\"design\"", ""),
    ("all_air.demand_control", "\"every-room\"", ""),
    ("all_air.demand_control_density", "\"200 person/1000 ft2\"", ""),
    ("all_air.demand_control_area", "\"5000 ft2\"", ""),
    ("plant.chillers", "1", ""),
    ("plant.chiller_cop", "4.5", ""),
    ("plant.rating_chilled", "\"9 degC\"", ""),
    ("plant.rating_condenser", "\"24 degC\"", ""),
    ("plant.chiller_iplv", "7.5", ""),
    ("plant.spare", "\"50 %\"", ""),
    ("plant.tower_approach", "\"6 K\"", ""),
    ("plant.tower_range", "\"8 K\"", ""),
    ("plant.tower_fan", "\"3 %\"", ""),
    ("plant.cycles", "2", ""),
    ("plant.economizer", "false", ""),
    ("plant.economizer_approach", "\"4 K\"", ""),
    ("plant.heating", "\"electric-boiler\"", ""),
    ("plant.boiler_efficiency", "\"80 %\"", ""),
    ("plant.largest_chiller", "\"10 kW\"", ""),
    ("terminals.coil_air", "\"plenum\"", "terminals.plenum_share = \"30 %\""),
    ("terminals.plenum_share", "\"30 %\"", "terminals.coil_air = \"plenum\""),
    ("terminals.spare", "\"60 %\"", ""),
    ("terminals.external_pressure", "\"120 Pa\"", ""),
    ("terminals.lowest_discharge", "\"16 degC\"", ""),
    ("terminals.highest_discharge", "\"27 degC\"", ""),
    ("terminals.water_rise", "\"5 K\"", ""),
    ("terminals.heating", "\"electric\"", ""),
    ("terminals.heating_water", "\"70 degC\"", ""),
    ("terminals.heating_water_drop", "\"20 K\"", ""),
    ("water.arrangement", "\"separate\"", ""),
    ("water.pipe_friction", "\"100 Pa/m\"", ""),
    ("water.circuit_length", "\"400 m\"", ""),
    ("water.fittings", "\"200 %\"", ""),
    ("water.terminal_drop", "\"80 kPa\"", ""),
    ("water.machine_drop", "\"90 kPa\"", ""),
    ("water.pump_efficiency", "\"45 %\"", ""),
    ("water.diversity", "\"70 %\"", ""),
    ("primary_air.drying_water", "\"4 degC\"", ""),
    ("primary_air.drying_water_rise", "\"9 K\"", ""),
    ("primary_air.duct_gain", "\"0 K\"", ""),
    ("primary_air.duct_leakage", "\"10 %\"", ""),
    ("primary_air.exhaust_fan_pressure", "\"200 Pa\"", ""),
    ("primary_air.exhaust_transfer", "\"15 %\"", ""),
    ("primary_air.fan_efficiency", "\"45 %\"", ""),
    ("primary_air.outdoor_air_per_person", "\"14 L/s\"", ""),
    ("primary_air.recovery", "\"none\"", ""),
    ("primary_air.recovery_latent", "\"20 %\"", ""),
    ("primary_air.recovery_sensible", "\"50 %\"", ""),
    ("primary_air.reheat", "\"coil\"", ""),
    ("primary_air.reheat_temperature", "\"20 degC\"", "primary_air.reheat = \"coil\""),
    ("primary_air.supply_fan_pressure", "\"500 Pa\"", ""),
    ("primary_air.winter_temperature", "\"20 degC\"", ""),
];

/// Keys of these sections that act on sizing or papers alone, and how.
const NOT_OF_THE_YEAR: &[(&str, &str)] = &[
    ("water.hours", "pipe sizes"),
    ("primary_air.coil_approach", "lowest supply dew point of the search"),
    ("primary_air.face_velocity", "face of the coil"),
    ("primary_air.flow_basis", "reading of flows without a basis"),
    ("primary_air.largest_unit", "number of units"),
    ("primary_air.spare", "size of the unit and its price: rooms never get more than the sum of their needs"),
    ("terminals.most_per_room", "screens of rooms"),
    ("terminals.sound_limit", "choice of the terminal"),
];

/// A meeting room that is empty at noon, offices, and a room of machines.
const ROOMS: &str = "id,floor,zone,kind,floor_area [m2],people,plugs [W/m2],standby,profile\n\
    101,1,,meeting,60,30,5,yes,twice\n\
    102,1,,office-open,60,8,12,yes,\n\
    103,1,Z1,office-enclosed,20,3,10,yes,\n\
    104,1,Z1,office-enclosed,14,2,10,yes,\n";
const SERVERS: &str = "105,1,,server-room,20,0,200,no,\n";
const SURFACES: &str = "room,kind,construction,area [m2],facing\n\
    101,wall,w,20,W\n101,window,g,6,W\n\
    102,wall,w,20,S\n102,window,g,12,S\n102,roof,w,60,\n\
    103,wall,w,12,E\n103,window,g,4,E\n\
    104,wall,w,12,N\n104,window,g,3,N\n";
const BASE: &[(&str, &str)] = &[
    ("dew_point.supply", "\"8 degC\""),
    ("dew_point.room_limit", "\"13 degC\""),
    ("dew_point.water", "\"14.5 degC\""),
    ("all_air.climate_zone", "\"7\""),
    ("year.step", "\"1 h\""),
    ("site.elevation", "\"270 m\""),
    ("site.weather", "\"year.csv\""),
    ("project.format", "1"),
    ("project.name", "\"Keys\""),
    (
        "constructions.w.layers",
        "[{ name = \"brick\", thickness = \"100 mm\", conductivity = \"0.7 W/mK\", density = \"1800 kg/m3\", \
         specific_heat = \"900 J/kgK\" }, { name = \"wool\", thickness = \"80 mm\", conductivity = \"0.04 W/mK\", \
         density = \"60 kg/m3\", specific_heat = \"1000 J/kgK\" }]",
    ),
    ("glazings.g.u_value", "\"1.6 W/m2K\""),
    ("glazings.g.solar_heat_gain", "\"45 %\""),
];

fn weather() -> Vec<u8> {
    std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/weather/greensboro-nc-tmy3.csv"))
        .unwrap()
}

/// Use in the morning and in the afternoon, with nobody in the two hours between.
fn profiles() -> String {
    let row = |first: &str, of: &dyn Fn(usize) -> String| -> String {
        std::iter::once(first.to_owned()).chain((0..24).map(of)).collect::<Vec<_>>().join(",")
    };
    let used = |h: usize| u8::from(matches!(h, 8..=11 | 14..=17)).to_string();
    std::iter::once(row("profile,use,day", &|h| format!("h{h:02}")))
        .chain(["people", "lighting", "plugs"].map(|of| row(&format!("twice,{of},all"), &used)))
        .map(|line| line + "\n")
        .collect()
}

/// `section.key = value` by section.
fn project_text(keys: &[(String, String)]) -> String {
    let mut sections: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    for (place, value) in keys {
        let (section, key) = place.rsplit_once('.').unwrap();
        sections.entry(section).or_default().insert(key, value);
    }
    let mut lines = Vec::new();
    for (section, keys) in &sections {
        lines.push(format!("[{section}]"));
        lines.extend(keys.iter().map(|(key, value)| format!("{key} = {value}")));
    }
    lines.join("\n") + "\n"
}

/// The small building with these keys besides the base, sized.
fn sized(
    rooms: &str,
    more: &[(String, String)],
    weather: &[u8],
) -> Result<(Project, WeatherYear, Design), String> {
    let mut keys: Vec<(String, String)> =
        BASE.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    keys.extend_from_slice(more);
    let text = project_text(&keys);
    let files = MemoryFiles::new()
        .with("project.toml", text.clone())
        .with("rooms.csv", rooms)
        .with("profiles.csv", profiles())
        .with("surfaces.csv", SURFACES)
        .with("year.csv", weather);
    let job = job::read(&files).map_err(|f| format!("{text}\n{f:#?}"))?;
    let (project, weather) = (job.loaded.project, job.weather.year);
    let design = drycoil_sizing::size(&project, &weather, &pool()).map_err(|e| format!("{text}\n{e:#?}"))?;
    Ok((project, weather, design))
}

fn pool() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap()
}

/// Its year.
fn year(more: &[(String, String)], weather: &[u8], cache: &mut ReductionCache) -> Result<Year, String> {
    let (project, weather, design) = sized(&format!("{ROOMS}{SERVERS}"), more, weather)?;
    let options = Options {
        step_s: project.year.step.value.to_seconds(),
        schemes: told::schemes(project.year.schemes.value),
        most_warm_up_days: 7,
        ..Options::default()
    };
    simulate(&project, &design, &weather, &options, cache, &pool(), &mut Unobserved)
        .map_err(|e| format!("{more:?} {e}"))
}

fn beside(with: &str) -> Vec<(String, String)> {
    with.split(';')
        .filter_map(|one| one.split_once(" = "))
        .map(|(k, v)| (k.trim().to_owned(), v.to_owned()))
        .collect()
}

/// Every key of the schema in the sections that the year reads is in the list above.
#[test]
fn phys_the_list_of_keys_is_that_of_the_schema() {
    let schema: serde_json::Value = serde_json::from_slice(
        &std::fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/project.schema.json")).unwrap(),
    )
    .unwrap();
    let listed: BTreeSet<String> =
        CASES.iter().map(|c| c.0).chain(NOT_OF_THE_YEAR.iter().map(|c| c.0)).map(str::to_owned).collect();
    let mut known = BTreeSet::new();
    for section in ["year", "all_air", "plant", "terminals", "water", "primary_air"] {
        let keys = schema["properties"][section]["properties"].as_object().unwrap();
        known.extend(keys.keys().map(|k| format!("{section}.{k}")));
    }
    assert_eq!(listed, known);
}

/// Each key with another value gives another year.
#[test]
fn phys_every_key_changes_the_year() {
    let weather = weather();
    let contexts: BTreeSet<&str> = CASES.iter().map(|c| c.2).collect();
    let mut cache = ReductionCache::default();
    let base: BTreeMap<&str, Year> = contexts
        .into_iter()
        .map(|with| {
            (with, year(&beside(with), &weather, &mut cache).unwrap_or_else(|e| panic!("{with}: {e}")))
        })
        .collect();
    let idle = |cases: &[Case]| -> Vec<String> {
        let mut cache = cache.clone();
        cases
            .iter()
            .filter_map(|(key, value, with)| {
                let mut keys = beside(with);
                keys.push(((*key).to_owned(), (*value).to_owned()));
                match year(&keys, &weather, &mut cache) {
                    Ok(y) => (y == base[with]).then(|| format!("{key} changes nothing")),
                    Err(e) => Some(format!("{key}: {e}")),
                }
            })
            .collect()
    };
    let (first, second) = CASES.split_at(CASES.len() / 2);
    let mut found = Vec::new();
    std::thread::scope(|s| {
        let one = s.spawn(|| idle(first));
        found.extend(idle(second));
        found.extend(one.join().unwrap());
    });
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A plant whose steps are held against what no machine can do.
#[derive(Clone)]
struct Bounded<P> {
    plant: P,
    /// Water of the drying coil or of the air handler, and warmest water that any chiller makes, degC.
    coldest_c: f64,
    warmest_c: f64,
    /// Air through the central unit over the air that rooms get.
    through: f64,
    short: bool,
    steps: usize,
}

/// Air of the step: to the rooms and back.
struct Air {
    supply_kg_per_s: f64,
    return_c: f64,
    return_w: f64,
}

impl<P> Bounded<P> {
    fn judge(&mut self, o: &Outdoor, air: &Air, s: &PlantStep) {
        self.steps += 1;
        let h = raw::enthalpy_j_per_kg;
        let m = air.supply_kg_per_s * self.through;
        // Chillers: an ideal cycle between the warmest water that they make and the water that cools them. What was left
        // over by a short step before is not in the load of this one.
        let power =
            s.electricity_w[EndUse::ColdWater as usize] + s.electricity_w[EndUse::SensibleWater as usize];
        let load = s.central_coil_w + s.sensible_w - s.waterside_free_w;
        let chilled = self.warmest_c + 273.15;
        let lift = s.tower_c - self.warmest_c;
        let short = s.limits & PlantLimit::ChillerCapacity.bit() != 0;
        if lift > 1.0 && !short && !self.short {
            assert!(
                load <= power * chilled / lift + 1e-6 * load.abs() + 1e-3,
                "{load} W by {power} W: {s:?}"
            );
        }
        self.short = short;
        // The coil: no air leaves below saturation at its water. Fans ahead of it warm the return by a few kelvin.
        let (outside, back) = (h(o.t_c, o.w), h(air.return_c + 3.0, air.return_w));
        let cold = raw::saturation_enthalpy_j_per_kg(self.coldest_c, o.p_pa);
        let most = m * (outside.max(back) - cold).max(0.0);
        assert!(s.central_coil_w <= most * (1.0 + 1e-9) + 1e-3, "coil {} of {most}", s.central_coil_w);
        // Recovery: both streams change places at most, heat and moisture each for itself.
        let most = m
            * (1040.0 * (o.t_c - air.return_c - 3.0).abs().max((o.t_c - air.return_c).abs())
                + 2.6e6 * (o.w - air.return_w).abs());
        assert!(s.air_recovery_w.abs() <= most + 1e-3, "recovery {} of {most}", s.air_recovery_w);
    }
}

impl<P: Plant<DecoupledSupply, DecoupledDemand>> Plant<DecoupledSupply, DecoupledDemand> for Bounded<P> {
    fn first_supply(&self, mode: BuildingMode) -> DecoupledSupply {
        self.plant.first_supply(mode)
    }
    fn supply_in_mode(&self, supply: DecoupledSupply, mode: BuildingMode) -> DecoupledSupply {
        self.plant.supply_in_mode(supply, mode)
    }
    fn step(
        &mut self,
        time: &StepTime,
        mode: BuildingMode,
        o: &Outdoor,
        d: &DecoupledDemand,
        used: &DecoupledSupply,
    ) -> (PlantStep, DecoupledSupply) {
        let (s, next) = self.plant.step(time, mode, o, d, used);
        self.warmest_c = used.water_c.max(self.coldest_c);
        let air = Air { supply_kg_per_s: d.primary_kg_per_s, return_c: d.return_c, return_w: d.return_w };
        self.judge(o, &air, &s);
        (s, next)
    }
}

impl<P: Plant<AllAirSupply, AllAirDemand>> Plant<AllAirSupply, AllAirDemand> for Bounded<P> {
    fn first_supply(&self, mode: BuildingMode) -> AllAirSupply {
        self.plant.first_supply(mode)
    }
    fn supply_in_mode(&self, supply: AllAirSupply, mode: BuildingMode) -> AllAirSupply {
        self.plant.supply_in_mode(supply, mode)
    }
    fn step(
        &mut self,
        time: &StepTime,
        mode: BuildingMode,
        o: &Outdoor,
        d: &AllAirDemand,
        used: &AllAirSupply,
    ) -> (PlantStep, AllAirSupply) {
        let (s, next) = self.plant.step(time, mode, o, d, used);
        let air = Air { supply_kg_per_s: d.supply_kg_per_s, return_c: d.return_c, return_w: d.return_w };
        self.judge(o, &air, &s);
        (s, next)
    }
}

/// Sixteen projects with keys drawn at random, both schemes, every hour of the year: no chiller above the ideal cycle, no
/// coil above an effectiveness of one, no recovery above an exchange of both streams.
#[test]
fn phys_no_machine_of_a_random_project_passes_its_limit() {
    const DRAWN: &[(&str, &[&str])] = &[
        ("water.arrangement", &["\"separate\"", "\"single-cold\"", "\"return-reuse\""]),
        ("plant.heating", &["\"boiler\"", "\"heat-recovery-chiller\"", "\"electric-boiler\""]),
        ("plant.economizer", &["true", "false"]),
        ("plant.chiller_cop", &["4.2", "5.5", "7.0"]),
        ("plant.tower_approach", &["\"2 K\"", "\"4 K\"", "\"7 K\""]),
        ("primary_air.recovery", &["\"none\"", "\"enthalpy-wheel\"", "\"sensible-plate\""]),
        ("primary_air.recovery_sensible", &["\"50 %\"", "\"90 %\""]),
        ("primary_air.recovery_latent", &["\"40 %\"", "\"90 %\""]),
        ("primary_air.reheat", &["\"none\"", "\"coil\"", "\"wrap-around\"", "\"heat-recovery\""]),
        ("primary_air.drying_water", &["\"3 degC\"", "\"5 degC\""]),
        ("year.water_reset", &["\"constant\"", "\"follow-wettest-room\""]),
        ("year.primary_air_control", &["\"constant\"", "\"occupancy\""]),
        ("all_air.recovery", &["\"none\"", "\"always\""]),
        ("all_air.cold_water", &["\"4 degC\"", "\"7 degC\""]),
        ("all_air.boxes", &["\"hot-water-reheat\"", "\"electric-reheat\""]),
    ];
    let weather = weather();
    let mut seed = 5_u64;
    for _ in 0..16 {
        let more: Vec<(String, String)> = DRAWN
            .iter()
            .map(|(key, values)| {
                seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                ((*key).to_owned(), values[(seed >> 33) as usize % values.len()].to_owned())
            })
            .collect();
        let (project, weather, design) = sized(ROOMS, &more, &weather).unwrap();
        let p = Prepared::new(&project, &design, &weather, 3600.0, &mut ReductionCache::default(), &pool())
            .unwrap();
        let air = AllAirPlant::new(&project, &design, 3600.0).unwrap();
        let rooms = all_air_rooms(&p, &project, air.design());
        let cold_c = project.all_air.cold_water.value.to_celsius();
        let all_air = Bounded {
            plant: air,
            coldest_c: cold_c,
            warmest_c: cold_c,
            through: 1.0 / (1.0 - project.all_air.duct_leakage.value.to_ratio()),
            short: true,
            steps: 0,
        };
        let decoupled = Bounded {
            plant: DecoupledPlant::new(&project, &design, 3600.0).unwrap(),
            coldest_c: project.primary_air.drying_water.value.to_celsius(),
            warmest_c: design.dew_point.sensible_water_c,
            through: 1.0 / (1.0 - project.primary_air.duct_leakage.value.to_ratio()),
            short: true,
            steps: 0,
        };
        let options = Options { step_s: 3600.0, most_warm_up_days: 7, ..Options::default() };
        let year = simulate_with(
            &p,
            Some((DecoupledRooms::new(&p), decoupled)),
            Some((rooms, all_air)),
            &options,
            &pool(),
            &mut Unobserved,
        )
        .unwrap();
        for s in &year.schemes {
            assert!(s.closure.iter().all(Closure::closes), "{more:?} {:?}", s.closure);
            assert!(s.electricity_j() > 0.0);
        }
    }
}
