//! The exported text and the interpreter side by side.

use crate::compiler::{Scalar, compile};
use crate::side_by_side::Twin;
use drycoil_sequence::{
    BuildingInputs, Declaration, Parameters, Setup, WaterOrder, ZoneInputs, ZoneSensor, ZoneSettings,
    dew_point_sequence, standard_cases, structured_text,
};
use drycoil_units::{Temperature, UnitSystem};

/// A small generator, so that a failing series has a number.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        // xorshift64* (Vigna 2016, from memory).
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
    fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}

fn setup() -> Setup {
    let f = Temperature::fahrenheit;
    let zone = |id: &str, sensor, votes, neighbours: &[usize]| ZoneSettings {
        id: id.into(),
        sensor,
        votes,
        neighbours: neighbours.to_vec(),
        // One room is to be drier than the others.
        room_limit: (id == "lobby").then(|| f(54.0)),
    };
    let zones = vec![
        zone("office (* north *)", ZoneSensor::Own, 1, &[1, 2]),
        zone("conference", ZoneSensor::Own, 1, &[0, 2]),
        zone("lobby", ZoneSensor::Own, 1, &[0, 1]),
        zone("store", ZoneSensor::Neighbours, 0, &[2]),
    ];
    Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), zones).unwrap()
}

fn good_building() -> BuildingInputs {
    BuildingInputs {
        run_request: true,
        life_safety: false,
        smoke_control: false,
        primary_dew_point_c: 9.0,
        primary_dew_point_good: true,
        drying_coil_temperature_c: 9.3,
        drying_coil_temperature_good: true,
        water_temperature_c: 13.9,
        water_temperature_good: true,
    }
}

fn good_zone() -> ZoneInputs {
    ZoneInputs {
        dew_point_c: 11.5,
        dew_point_good: true,
        room_temperature_c: 24.0,
        room_temperature_good: true,
        occupied: true,
        ventilation_demand: 0.3,
        wet_switch: false,
        pressure_priority: false,
    }
}

/// A random walk of all inputs with faults that come and go.
fn series(seed: u64, steps: usize, zones: usize) -> Vec<(f64, BuildingInputs, Vec<ZoneInputs>)> {
    let mut r = Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    for _ in 0..8 {
        r.next();
    }
    let mut b = good_building();
    b.run_request = r.chance(0.9);
    b.drying_coil_temperature_good = r.chance(0.8);
    let mut z = vec![good_zone(); zones];
    // Some series are quiet and long, so that slow stages come about; some are wild.
    let wild = r.between(0.0, 0.06);
    // Half of the series run at steps that meet delays exactly.
    let exact = r.chance(0.5);
    let dt =
        if exact { [5.0, 10.0, 30.0, 60.0, 150.0][(r.next() % 5) as usize] } else { r.between(5.0, 240.0) };
    let mut out = Vec::new();
    for _ in 0..steps {
        let flip = |r: &mut Random, value: &mut bool, on: f64, off: f64| {
            if r.chance(if *value { off } else { on }) {
                *value = !*value;
            }
        };
        flip(&mut r, &mut b.run_request, 0.2, wild / 3.0);
        flip(&mut r, &mut b.life_safety, wild / 8.0, 0.3);
        flip(&mut r, &mut b.smoke_control, wild / 8.0, 0.3);
        flip(&mut r, &mut b.primary_dew_point_good, 0.3, wild / 3.0);
        flip(&mut r, &mut b.drying_coil_temperature_good, 0.1, wild / 3.0);
        flip(&mut r, &mut b.water_temperature_good, 0.3, wild / 3.0);
        if r.chance(wild) {
            b.primary_dew_point_c = r.between(6.0, 15.0);
            b.drying_coil_temperature_c = b.primary_dew_point_c + r.between(-1.0, 1.0);
        }
        if r.chance(wild / 4.0) {
            b.primary_dew_point_c = f64::NAN;
        } else if b.primary_dew_point_c.is_nan() {
            b.primary_dew_point_c = 9.0;
        }
        if r.chance(0.1) {
            b.water_temperature_c = r.between(12.0, 19.0);
        } else if r.chance(wild / 4.0) {
            b.water_temperature_c = [0.5, 1.0, 50.0, 51.0][(r.next() % 4) as usize];
        }
        if r.chance(wild / 4.0) {
            let edge = [-30.0, 45.0, -31.0, 46.0][(r.next() % 4) as usize];
            b.drying_coil_temperature_c = edge;
            b.primary_dew_point_c = edge;
        }
        for z in &mut z {
            z.dew_point_c += r.between(-0.4, 0.42);
            if r.chance(wild) {
                z.dew_point_c = r.between(8.0, 19.0);
            }
            if r.chance(wild / 10.0) {
                z.dew_point_c = if r.chance(0.5) { f64::NAN } else { 80.0 };
            } else if !(0.0..30.0).contains(&z.dew_point_c) && r.chance(0.5) {
                z.dew_point_c = 11.0;
            }
            if exact && r.chance(wild / 2.0) {
                // Readings that meet limits exactly.
                let limit = [12.777777777777779, -30.0, 45.0, 13.055555555555555][(r.next() % 4) as usize];
                z.dew_point_c = limit;
            }
            flip(&mut r, &mut z.dew_point_good, 0.3, wild / 3.0);
            flip(&mut r, &mut z.room_temperature_good, 0.3, wild / 3.0);
            flip(&mut r, &mut z.occupied, 0.2, 0.02);
            flip(&mut r, &mut z.wet_switch, wild / 5.0, 0.3);
            flip(&mut r, &mut z.pressure_priority, wild / 5.0, 0.3);
            if r.chance(0.2) {
                z.ventilation_demand = r.unit();
                z.room_temperature_c = r.between(14.0, 27.0);
            }
        }
        let dt = if !exact && r.chance(0.1) { r.between(1.0, 900.0) } else { dt };
        out.push((dt, b, z.clone()));
    }
    out
}

fn run(
    declaration: &Declaration,
    setup: &Setup,
    system: UnitSystem,
    text: &str,
    seeds: std::ops::Range<u64>,
) -> Result<Vec<u64>, String> {
    let mut seen = vec![0; 16];
    let mut twin = Twin::new(declaration, setup, system, text)?;
    let (memory, machine) = (twin.unit.memory.clone(), twin.machine.clone());
    for seed in seeds {
        twin.unit.memory.clone_from(&memory);
        twin.machine = machine.clone();
        for (k, (dt, b, z)) in series(seed, 80, setup.zones().len()).iter().enumerate() {
            twin.step(*dt, b, z).map_err(|e| format!("series {seed}, step {k}: {e}"))?;
            for change in twin.machine.changes() {
                seen[change.region] |= 1 << change.transition;
            }
        }
    }
    Ok(seen)
}

#[test]
fn xchk_text_does_what_the_interpreter_does_on_thousands_of_random_series() {
    let setup = setup();
    for order in [WaterOrder::AfterValves, WaterOrder::BeforeValves] {
        let declaration = dew_point_sequence(order);
        let text = structured_text(&declaration, &setup, UnitSystem::Si).unwrap();
        let seen = run(&declaration, &setup, UnitSystem::Si, &text, 0..1500).unwrap();
        // The series must have taken every transition, or they would prove little.
        for (k, (_, region)) in declaration.regions().enumerate() {
            for (t, transition) in region.transitions.iter().enumerate() {
                assert!(seen[k] >> t & 1 == 1, "{}: {} never taken", region.name, transition.reason);
            }
        }
    }
}

#[test]
fn xchk_text_in_fahrenheit_does_the_same() {
    let setup = setup();
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let text = structured_text(&declaration, &setup, UnitSystem::Ip).unwrap();
    assert!(text.contains("zones[1].room_limit := 55.0;"), "limits are written in the units of the caller");
    run(&declaration, &setup, UnitSystem::Ip, &text, 5000..5300).unwrap();
}

/// Seeded mutations of the text; the random series and the cases of the library must show each.
fn mutations_are_caught(order: WaterOrder) {
    let setup = setup();
    let declaration = dew_point_sequence(order);
    let text = structured_text(&declaration, &setup, UnitSystem::Si).unwrap();
    let mut mutants = Vec::new();
    for (from, to) in [
        (">=", ">"),
        ("<=", ">="),
        (" > ", " <= "),
        (" AND ", " OR "),
        (" OR ", " AND "),
        ("NOT ", ""),
        ("MAX(", "MIN("),
        ("MIN(", "MAX("),
        (" + ", " - "),
        (" - ", " + "),
        ("TRUE", "FALSE"),
        (":= 0.0;", ":= 45.0;"),
    ] {
        let body = text.find("FUNCTION_BLOCK").unwrap();
        let places: Vec<usize> = text[body..].match_indices(from).map(|(at, _)| body + at).collect();
        // A handful of each kind, spread over the text.
        let stride = (places.len() / 6).max(1);
        for at in places.into_iter().step_by(stride) {
            let comment = text[..at].rfind("(*") > text[..at].rfind("*)");
            // Starting twice changes nothing.
            if !comment && !text[..at].ends_with("started := ") {
                mutants.push((
                    format!("{from} to {to} in {}", text[at.saturating_sub(60)..at + 20].replace('\n', " ")),
                    format!("{}{to}{}", &text[..at], &text[at + from.len()..]),
                ));
            }
        }
    }
    for setting in [
        "zones[1].room_limit := 1",
        "p_water_offset : LREAL := 1",
        "p_ignored_votes : DINT := 1",
        "p_shut_delay : LREAL := 1",
    ] {
        let at = text.find(setting).unwrap() + setting.len();
        mutants.push((setting.to_owned(), format!("{}7{}", &text[..at], &text[at..])));
    }
    let mut missed = Vec::new();
    let total = mutants.len();
    for (what, mutant) in mutants {
        if run(&declaration, &setup, UnitSystem::Si, &mutant, 0..400).is_ok() {
            missed.push(what);
        }
    }
    assert!(50 < total, "{total}");
    assert!(missed.is_empty(), "{} of {total} missed:\n{}", missed.len(), missed.join("\n"));
}

#[test]
fn xchk_mutations_of_the_text_are_caught() {
    mutations_are_caught(WaterOrder::AfterValves);
}

#[test]
fn xchk_mutations_of_the_text_with_the_water_first_are_caught() {
    mutations_are_caught(WaterOrder::BeforeValves);
}

#[test]
fn xchk_scripted_rise_and_fall() {
    let setup = setup();
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let text = structured_text(&declaration, &setup, UnitSystem::Si).unwrap();
    let mut twin = Twin::new(&declaration, &setup, UnitSystem::Si, &text).unwrap();
    let mut names = Vec::new();
    for k in 0..2000 {
        // Two rooms rise from 11.5 to 15 degC within 2 h and fall again.
        let rise = (f64::from(k) * 0.0045).min(3.5).min((2000.0 - f64::from(k)) * 0.0045);
        let mut z = vec![good_zone(); 4];
        z[0].dew_point_c += rise;
        z[1].dew_point_c += rise + 0.2;
        twin.step(10.0, &good_building(), &z).unwrap();
        let stage = twin.machine.stage_name("zone_stage", Some(1)).unwrap();
        if names.last() != Some(&stage) {
            names.push(stage);
        }
    }
    // The order of the sequence: notice, alarm with more air, coil valve; and back.
    assert_eq!(
        names,
        ["off", "drying", "normal", "notice", "more_air", "coil_shut", "more_air", "notice", "normal"]
    );
}

#[test]
fn the_evaluator_keeps_the_grammar() {
    let program =
        |body: &str| format!("PROGRAM p VAR x, y : LREAL; k : DINT; t : BOOL; END_VAR {body} END_PROGRAM");
    for (body, why) in [
        ("x := 1;", "an integer is no real"),
        ("x := y", "a statement ends with a semicolon"),
        ("t := x = y = t AND;", "an operand is missing"),
        ("z := 1.0;", "unknown variable"),
        ("IF x THEN y := 1.0; END_IF;", "a condition is a BOOL"),
        ("(* open", "comment without end"),
        ("x := SEL(t, 1.0, 2);", "SEL of two types"),
    ] {
        assert!(compile(&program(body)).is_err(), "{why}");
    }
    // Precedence by the standard: comparison binds more tightly than AND, AND more than OR; product more than sum.
    let mut unit = compile("VAR_GLOBAL t, u : BOOL; x : LREAL; k : DINT; END_VAR PROGRAM p x := 2.0 + 3.0 * 4.0 - -1.0; t := TRUE OR FALSE AND FALSE; u := NOT FALSE AND 1 + 1 = 2; FOR k := 1 TO 3 DO x := x + 1.0; END_FOR; END_PROGRAM").unwrap();
    unit.cycle("p").unwrap();
    let get = |name: &str| unit.memory[unit.address(name).unwrap()];
    assert_eq!([get("t"), get("u"), get("x")], [Scalar::Bool(true), Scalar::Bool(true), Scalar::Real(18.0)]);
    let mut unit = compile(
        "VAR_GLOBAL a : ARRAY[1..2] OF DINT; k : DINT; END_VAR PROGRAM p k := 3; a[k] := 1; END_PROGRAM",
    )
    .unwrap();
    assert!(unit.cycle("p").is_err(), "index outside its array");
}

#[test]
fn xchk_text_follows_every_case_of_the_test_sheet() {
    let setup = setup();
    for order in [WaterOrder::AfterValves, WaterOrder::BeforeValves] {
        let declaration = dew_point_sequence(order);
        let text = structured_text(&declaration, &setup, UnitSystem::Si).unwrap();
        let mut seen = std::collections::BTreeSet::new();
        for case in standard_cases(&setup) {
            let mut twin = Twin::new(&declaration, &setup, UnitSystem::Si, &text).unwrap();
            for phase in &case.phases {
                for k in 0..(phase.duration.to_seconds() / 5.0) as usize {
                    twin.step(5.0, &phase.building, &phase.zones)
                        .unwrap_or_else(|e| panic!("{}, {}, step {k}: {e}", case.name, phase.action));
                    for zone in 0..setup.zones().len() {
                        seen.insert(twin.machine.stage_name("zone_stage", Some(zone)).unwrap());
                    }
                    seen.insert(twin.machine.stage_name("building_stage", None).unwrap());
                }
            }
            // Each case ends where it began.
            assert_eq!(twin.machine.stage_name("building_stage", None), Some("normal"), "{}", case.name);
            for zone in 0..setup.zones().len() {
                assert_eq!(
                    twin.machine.stage_name("zone_stage", Some(zone)),
                    Some("normal"),
                    "{}",
                    case.name
                );
            }
        }
        for (_, region) in declaration.regions().filter(|(_, r)| r.name.ends_with("_stage")) {
            for stage in &region.stages {
                assert!(seen.contains(stage.name), "no case visits {}", stage.name);
            }
        }
    }
}
