//! Properties of the sequence, shown by visiting every state that inputs of a small alphabet can bring about; and
//! mutations of the declaration, each of which must break a property.

use drycoil_sequence::{
    BUILDING_STAGE, BuildingInputs, BuildingSlot, Declaration, Expr, Item, Machine, Memory, Parameters,
    Setup, WaterOrder, ZONE_STAGE, ZoneInputs, ZoneSensor, ZoneSettings, ZoneSlot, dew_point_sequence,
};
use drycoil_units::{Temperature, TemperatureDifference, Time};
use std::collections::BTreeMap;

const WATER_DESIGN_C: f64 = 14.0;
const WATER_CEILING_C: f64 = 18.0;
const GUARD_MARGIN_K: f64 = 1.0;
const SHUT_MARGIN_K: f64 = 0.5;
const OFFSET_K: f64 = 1.5;

/// Numbers that make levels easy to read; delays of one step but where `long` says otherwise.
fn parameters(long: &[(&str, f64)]) -> Parameters {
    let t = Temperature::celsius;
    let d = TemperatureDifference::kelvin;
    let mut p = Parameters::for_design(t(12.0), t(WATER_DESIGN_C), t(9.0));
    p.notice_hysteresis = d(0.5);
    p.more_air_rise = d(0.5);
    p.guard_margin = d(GUARD_MARGIN_K);
    p.guard_hysteresis = d(0.5);
    p.shut_margin = d(SHUT_MARGIN_K);
    p.shut_hysteresis = d(0.5);
    p.water_ceiling = t(WATER_CEILING_C);
    p.water_lowest = t(8.0);
    p.water_offset = d(OFFSET_K);
    p.water_release_hysteresis = d(0.25);
    p.water_fall_per_minute = d(60.0);
    p.primary_wet_limit = t(11.0);
    p.primary_wet_hysteresis = d(0.5);
    p.drying_limit = t(12.0);
    p.suspect_difference = d(3.0);
    p.suspect_hysteresis = d(0.5);
    p.proxy_margin = d(0.5);
    for (field, value) in [
        (&mut p.notice_delay, "notice_delay"),
        (&mut p.more_air_delay, "more_air_delay"),
        (&mut p.release_delay, "release_delay"),
        (&mut p.guard_delay, "guard_delay"),
        (&mut p.shut_delay, "shut_delay"),
        (&mut p.shut_release_delay, "shut_release_delay"),
        (&mut p.water_follow_delay, "water_follow_delay"),
        (&mut p.water_release_delay, "water_release_delay"),
        (&mut p.primary_wet_delay, "primary_wet_delay"),
        (&mut p.primary_wet_release_delay, "primary_wet_release_delay"),
        (&mut p.primary_start_delay, "primary_start_delay"),
        (&mut p.drying_delay, "drying_delay"),
        (&mut p.drying_time_limit, "drying_time_limit"),
        (&mut p.start_delay, "start_delay"),
        (&mut p.suspect_delay, "suspect_delay"),
        (&mut p.sensor_return_delay, "sensor_return_delay"),
    ] {
        *field = Time::seconds(long.iter().find(|(name, _)| *name == value).map_or(1.0, |(_, s)| *s));
    }
    p
}

fn setup(zones: usize, long: &[(&str, f64)]) -> Setup {
    let zones = (0..zones)
        .map(|k| ZoneSettings {
            id: format!("zone {k}"),
            sensor: ZoneSensor::Own,
            votes: 1,
            neighbours: (0..zones).filter(|n| *n != k).collect(),
            room_limit: None,
        })
        .collect();
    Setup::new(parameters(long), zones).unwrap()
}

fn building() -> BuildingInputs {
    BuildingInputs {
        run_request: true,
        life_safety: false,
        smoke_control: false,
        primary_dew_point_c: 9.0,
        primary_dew_point_good: true,
        drying_coil_temperature_c: 9.2,
        drying_coil_temperature_good: true,
        water_temperature_c: WATER_DESIGN_C,
        water_temperature_good: true,
    }
}

fn room(dew_point_c: f64) -> ZoneInputs {
    ZoneInputs {
        dew_point_c,
        dew_point_good: true,
        room_temperature_c: 24.0,
        room_temperature_good: true,
        occupied: true,
        ventilation_demand: 0.25,
        wet_switch: false,
        pressure_priority: false,
    }
}

fn building_letters() -> Vec<BuildingInputs> {
    let b = building();
    vec![
        b,
        BuildingInputs { run_request: false, ..b },
        BuildingInputs { life_safety: true, ..b },
        // Moist, though not wet: it dries a very humid room only.
        BuildingInputs { primary_dew_point_c: 10.9, drying_coil_temperature_c: 10.9, ..b },
        BuildingInputs { primary_dew_point_c: 15.0, drying_coil_temperature_c: 15.0, ..b },
        BuildingInputs { primary_dew_point_good: false, ..b },
        BuildingInputs { water_temperature_good: false, ..b },
        BuildingInputs { water_temperature_c: 17.0, ..b },
    ]
}

fn zone_letters() -> Vec<ZoneInputs> {
    let dry = room(10.0);
    vec![
        dry,
        room(12.2),
        room(12.9),
        room(16.0),
        ZoneInputs { dew_point_good: false, ..dry },
        ZoneInputs { wet_switch: true, ..dry },
        ZoneInputs { pressure_priority: true, ..room(12.9) },
        // Too high to be true for air of 24 degC.
        room(28.0),
    ]
}

#[derive(Clone)]
struct Letter {
    building: BuildingInputs,
    zones: Vec<ZoneInputs>,
}

fn letters(zones: usize, of_building: &[BuildingInputs], of_zone: &[ZoneInputs]) -> Vec<Letter> {
    let mut out: Vec<Letter> =
        of_building.iter().map(|b| Letter { building: *b, zones: Vec::new() }).collect();
    for _ in 0..zones {
        out = out
            .iter()
            .flat_map(|letter| {
                of_zone.iter().map(|z| {
                    let mut letter = letter.clone();
                    letter.zones.push(*z);
                    letter
                })
            })
            .collect();
    }
    out
}

/// What is looked at after each step.
struct Eyes {
    stage: ZoneSlot,
    damper: ZoneSlot,
    released: ZoneSlot,
    valve: ZoneSlot,
    humid: ZoneSlot,
    coil_alarm: ZoneSlot,
    sensor_alarm: ZoneSlot,
    building: BuildingSlot,
    water: BuildingSlot,
    target: BuildingSlot,
    given_up: BuildingSlot,
    zone_names: Vec<&'static str>,
    building_names: Vec<&'static str>,
}

impl Eyes {
    fn new(machine: &Machine) -> Self {
        let z = |name| machine.zone_slot(name).unwrap();
        let b = |name| machine.building_slot(name).unwrap();
        let names =
            |region| machine.declaration().region(region).unwrap().1.stages.iter().map(|s| s.name).collect();
        Self {
            stage: z(ZONE_STAGE),
            damper: z("primary_damper"),
            released: z("primary_damper_released"),
            valve: z("coil_valve_enable"),
            humid: z("alarm_humid"),
            coil_alarm: z("alarm_coil_shut"),
            sensor_alarm: z("alarm_sensor"),
            building: b(BUILDING_STAGE),
            water: b("water_set_point"),
            target: b("water_target"),
            given_up: b("building_released"),
            zone_names: names(ZONE_STAGE),
            building_names: names(BUILDING_STAGE),
        }
    }

    fn building_stage(&self, m: &Machine) -> &'static str {
        self.building_names[m.building_value(self.building) as usize]
    }

    fn zone_stage(&self, m: &Machine, zone: usize) -> &'static str {
        self.zone_names[m.zone_value(zone, self.stage) as usize]
    }

    /// What must hold after every single step.
    fn safe(&self, m: &Machine, letter: &Letter, long: bool) -> Result<(), String> {
        let fail = |what: &str| Err(what.to_owned());
        let b = &letter.building;
        let stage = self.building_stage(m);
        let water = m.building_value(self.water);
        if !(WATER_DESIGN_C..=WATER_CEILING_C).contains(&water) {
            return fail("water set point outside design and ceiling");
        }
        if water < m.building_value(self.target) {
            return fail("water set point below its target");
        }
        if (b.life_safety || b.smoke_control) != (stage == "yield") && (b.life_safety || b.smoke_control) {
            return fail("life safety does not come first");
        }
        if matches!(stage, "yield" | "off" | "drying") && m.building_value(self.target) != WATER_CEILING_C {
            return fail("water is not warm where coils are shut");
        }
        if stage == "normal" && m.building_value(self.target) != WATER_DESIGN_C {
            return fail("water is warmed without need");
        }
        if (m.building_value(self.given_up) != 0.0) != (stage == "yield") {
            return fail("commands are not given up with priority, or given up without");
        }
        // One-step delays: rest and wet air are answered at once.
        if !long && !b.run_request && matches!(stage, "drying" | "normal" | "water_follows" | "primary_wet") {
            return fail("the building works though nobody asks for it");
        }
        let wet =
            b.primary_dew_point_good && b.primary_dew_point_c > 11.0 && b.drying_coil_temperature_c > 11.0;
        if !long && wet && matches!(stage, "normal" | "water_follows") {
            return fail("wet primary air goes unanswered");
        }
        let plausible = |z: &ZoneInputs| z.dew_point_good && z.dew_point_c <= z.room_temperature_c + 3.0;
        for (zone, z) in letter.zones.iter().enumerate() {
            let zone_stage = self.zone_stage(m, zone);
            let damper = m.zone_value(zone, self.damper);
            let valve = m.zone_value(zone, self.valve) != 0.0;
            let released = m.zone_value(zone, self.released) != 0.0;
            if (stage == "yield") != (zone_stage == "yield") {
                return fail("a zone does not follow priority");
            }
            if (stage == "off") != (zone_stage == "off") && stage == "off" {
                return fail("a zone works while the building rests");
            }
            if (stage == "yield" || z.pressure_priority) != released {
                return fail("damper is not given up to a priority, or given up without");
            }
            if released && damper != 0.0 {
                return fail("a damper is moved that is given up");
            }
            let demand = if z.occupied { z.ventilation_demand } else { 0.0 };
            let known = b.primary_dew_point_good;
            // Without an own reading the driest neighbour stands in, less the margin of a proxy.
            let driest = letter.zones.iter().filter(|z| plausible(z)).map(|z| z.dew_point_c).reduce(f64::min);
            let room_c = if plausible(z) { Some(z.dew_point_c) } else { driest.map(|t| t - 0.5) };
            let drier = room_c.is_some_and(|t| b.primary_dew_point_c <= t - GUARD_MARGIN_K);
            if damper > demand && known && !drier {
                return fail("more primary air though it is not drier than the room by the margin");
            }
            // A reading that stands alone may be wrong: then the driest of all must not become wetter either.
            let lonely = m.zone_value(zone, self.sensor_alarm) != 0.0;
            if damper > demand && lonely && driest.is_some_and(|t| b.primary_dew_point_c > t) {
                return fail("more primary air though a neighbour may show that the room is drier than it");
            }
            if damper > demand && !known {
                return fail("more primary air of unknown dew point");
            }
            if stage == "primary_wet" && damper != 0.0 && !(known && drier) {
                return fail(
                    "a damper is not at minimum though the primary air is wet and does not dry the room",
                );
            }
            if stage != "primary_wet"
                && matches!(zone_stage, "normal" | "notice" | "more_air" | "coil_shut" | "drying")
                && !released
                && damper < demand
            {
                return fail("ventilation is cut");
            }
            if valve && matches!(stage, "off" | "yield") {
                return fail("a coil valve may open while the building forbids it");
            }
            if valve && z.wet_switch {
                return fail("a coil valve may open on a wet coil");
            }
            if z.wet_switch && matches!(zone_stage, "normal" | "notice" | "more_air") {
                return fail("the stage does not follow the wet switch");
            }
            let water_c = if b.water_temperature_good { b.water_temperature_c } else { 8.0 };
            if !long && valve && z.dew_point_good && z.dew_point_c > water_c - SHUT_MARGIN_K {
                return fail("a coil valve may open though the water is too cold for the room");
            }
            if !long && valve && z.dew_point_good && !plausible(z) {
                return fail("a coil valve may open on a reading that is too high to be true");
            }
            if valve && !z.dew_point_good && letter.zones.iter().all(|z| !z.dew_point_good) {
                return fail("a coil valve may open though no dew point is known");
            }
            let open = matches!(zone_stage, "normal" | "notice" | "more_air");
            if valve && !open || open && !valve && !z.wet_switch {
                return fail("stage and coil valve disagree");
            }
            if !z.dew_point_good && m.zone_value(zone, self.sensor_alarm) == 0.0 {
                return fail("a failed sensor is not told");
            }
            if (m.zone_value(zone, self.humid) != 0.0) != matches!(zone_stage, "more_air" | "coil_shut")
                || (m.zone_value(zone, self.coil_alarm) != 0.0) != matches!(zone_stage, "coil_shut" | "blind")
            {
                return fail("alarm and stage disagree");
            }
        }
        Ok(())
    }
}

struct Explored {
    states: Vec<Memory>,
    /// For each state and letter the next state.
    next: Vec<u32>,
}

/// Visits every state; checks every step.
fn explore(
    declaration: &Declaration,
    setup: &Setup,
    letters: &[Letter],
    long: bool,
    most: usize,
) -> Result<Explored, String> {
    let mut machine = Machine::new(declaration, setup).map_err(|e| e.to_string())?;
    let eyes = Eyes::new(&machine);
    let mut index = BTreeMap::from([(machine.memory(), 0u32)]);
    let mut states = vec![machine.memory()];
    let mut next = Vec::new();
    let mut at = 0;
    while at < states.len() {
        let here = states[at].clone();
        for letter in letters {
            machine.recall(&here);
            machine.step(Time::seconds(1.0), &letter.building, &letter.zones).map_err(|e| e.to_string())?;
            eyes.safe(&machine, letter, long)?;
            let memory = machine.memory();
            let fresh = states.len() as u32;
            let to = *index.entry(memory).or_insert_with_key(|memory| {
                states.push(memory.clone());
                fresh
            });
            next.push(to);
        }
        at += 1;
        if states.len() > most {
            return Err(format!("more than {most} states"));
        }
    }
    Ok(Explored { states, next })
}

/// Every stage is reached; from every state the good state is reached again when everything is well.
fn every_stage_can_be_left(
    declaration: &Declaration,
    setup: &Setup,
    explored: &Explored,
) -> Result<(), String> {
    let mut machine = Machine::new(declaration, setup).unwrap();
    let eyes = Eyes::new(&machine);
    let well = Letter { building: building(), zones: vec![room(10.0); machine.zones()] };
    let mut zone_seen = vec![false; eyes.zone_names.len()];
    let mut building_seen = vec![false; eyes.building_names.len()];
    for state in &explored.states {
        machine.recall(state);
        zone_seen[machine.zone_value(0, eyes.stage) as usize] = true;
        building_seen[machine.building_value(eyes.building) as usize] = true;
        let home = |m: &Machine| {
            eyes.building_stage(m) == "normal"
                && (0..m.zones()).all(|zone| eyes.zone_stage(m, zone) == "normal")
                && m.building_value(eyes.water) == WATER_DESIGN_C
        };
        let mut steps = 0;
        while steps < 60 && (steps == 0 || !home(&machine)) {
            machine.step(Time::seconds(1.0), &well.building, &well.zones).unwrap();
            steps += 1;
        }
        if !home(&machine) {
            return Err(format!(
                "no way back to normal from {} and {}",
                eyes.building_stage(&machine),
                eyes.zone_stage(&machine, 0)
            ));
        }
    }
    let unseen = eyes.zone_names.iter().zip(&zone_seen).chain(eyes.building_names.iter().zip(&building_seen));
    match unseen.into_iter().find(|(_, seen)| !**seen) {
        Some((name, _)) => Err(format!("stage {name} is never taken")),
        None => Ok(()),
    }
}

/// While inputs are held, stages come to rest: none undoes what another did.
fn no_two_stages_fight(explored: &Explored, letters: usize) -> Result<(), String> {
    for letter in 0..letters {
        // 0 not visited, 1 on the present path, 2 known to come to rest.
        let mut mark = vec![0u8; explored.states.len()];
        for start in 0..explored.states.len() {
            let mut path = Vec::new();
            let mut at = start;
            while mark[at] == 0 {
                mark[at] = 1;
                path.push(at);
                let next = explored.next[at * letters + letter] as usize;
                if next == at {
                    break;
                }
                at = next;
            }
            let stays = explored.next[at * letters + letter] as usize == at;
            if mark[at] == 1 && !stays {
                return Err(format!("held inputs (letter {letter}) go round in a circle"));
            }
            for k in path {
                mark[k] = 2;
            }
        }
    }
    Ok(())
}

/// Steps until rest, with one room or sensor at every value and quality; the water must stay at design.
fn one_bad_one_never_warms_the_building(declaration: &Declaration) -> Result<(), String> {
    let setup = setup(3, &[]);
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    let well = vec![room(10.0); 3];
    for _ in 0..20 {
        machine.step(Time::seconds(1.0), &building(), &well).unwrap();
    }
    let home = machine.memory();
    let mut cases: Vec<Letter> = Vec::new();
    let values = [f64::NAN, -50.0, 0.0, 9.0, 10.9, 11.5, 12.6, 14.0, 16.0, 20.0, 60.0];
    for value in values {
        for good in [true, false] {
            let z = ZoneInputs { dew_point_c: value, dew_point_good: good, ..room(10.0) };
            cases.push(Letter { building: building(), zones: vec![well[0], z, well[2]] });
            let t = ZoneInputs { room_temperature_c: value, room_temperature_good: good, ..room(10.0) };
            cases.push(Letter { building: building(), zones: vec![well[0], t, well[2]] });
            let b = building();
            for b in [
                BuildingInputs { primary_dew_point_c: value, primary_dew_point_good: good, ..b },
                BuildingInputs { drying_coil_temperature_c: value, drying_coil_temperature_good: good, ..b },
                BuildingInputs { water_temperature_c: value, water_temperature_good: good, ..b },
            ] {
                cases.push(Letter { building: b, zones: well.clone() });
            }
        }
    }
    cases.push(Letter {
        building: building(),
        zones: vec![ZoneInputs { wet_switch: true, ..well[0] }, well[1], well[2]],
    });
    // Any sequence of two cases of the same place, each held until rest.
    for first in &cases {
        for second in &cases {
            machine.recall(&home);
            let mut merged = second.clone();
            if first.building != building() || second.building != building() {
                merged.zones.clone_from(&well);
            }
            for letter in [first, &merged] {
                for _ in 0..8 {
                    machine.step(Time::seconds(1.0), &letter.building, &letter.zones).unwrap();
                    if machine.building_value(eyes.water) != WATER_DESIGN_C {
                        return Err("one bad room or sensor warms the whole building".to_owned());
                    }
                    if eyes.building_stage(&machine) == "primary_wet" {
                        return Err("one bad sensor takes the ventilation of the whole building".to_owned());
                    }
                }
            }
        }
    }
    Ok(())
}

/// Two rooms at risk do warm the water, as far as the dew point that both reach plus the offset.
fn water_follows_beyond_the_ignored_votes(declaration: &Declaration) -> Result<(), String> {
    let setup = setup(3, &[]);
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    for (rooms, wanted) in [
        ([17.0, 15.0, 10.0], 15.0 + OFFSET_K),
        ([14.6, 17.0, 15.5], 15.5 + OFFSET_K),
        ([18.5, 18.5, 18.4], WATER_CEILING_C),
    ] {
        for _ in 0..40 {
            machine.step(Time::seconds(1.0), &building(), &rooms.map(room)).unwrap();
        }
        if eyes.building_stage(&machine) != "water_follows" || machine.building_value(eyes.water) != wanted {
            return Err("the water does not follow the highest dew point beyond the ignored votes".to_owned());
        }
    }
    Ok(())
}

/// With sensors failed at every value, from every letter, coils end shut or protected by neighbours.
fn sensor_failure_lands_on_the_safe_side(declaration: &Declaration) -> Result<(), String> {
    let setup = setup(3, &[]);
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    for others in [10.0, 13.2, 16.0] {
        for bad in [
            ZoneInputs { dew_point_good: false, ..room(9.0) },
            ZoneInputs { dew_point_c: f64::NAN, ..room(9.0) },
            // Saturated air, and more than saturated: the air may be as wet as that.
            room(25.0),
            room(40.0),
            room(60.0),
            // Drifted low: its neighbours tell.
            room(5.0),
        ] {
            for _ in 0..40 {
                machine.step(Time::seconds(1.0), &building(), &[bad, room(others), room(others)]).unwrap();
            }
            let valve = machine.zone_value(0, eyes.valve) != 0.0;
            // Proxies carry half a kelvin of margin; the drifted one is judged by the neighbours themselves.
            let proxy = others + if bad.dew_point_c == 5.0 { 0.0 } else { 0.5 };
            if valve && proxy > WATER_DESIGN_C - SHUT_MARGIN_K {
                return Err("a failed sensor leaves its coil open to neighbours' humid air".to_owned());
            }
            let high = bad.dew_point_good && bad.dew_point_c > 24.0;
            if high && valve {
                return Err("a reading at or above saturation leaves its coil open".to_owned());
            }
            if others < 11.0 && !valve && !high {
                return Err("a failed sensor shuts a coil that its neighbours show to be dry".to_owned());
            }
            if machine.zone_value(0, eyes.sensor_alarm) == 0.0 {
                return Err("a failed or drifted sensor is not told".to_owned());
            }
            // Agreement ends suspicion.
            for _ in 0..40 {
                machine.step(Time::seconds(1.0), &building(), &[room(10.0); 3]).unwrap();
            }
            if machine.zone_value(0, eyes.sensor_alarm) != 0.0 {
                return Err("suspicion does not end".to_owned());
            }
        }
    }
    Ok(())
}

/// Outputs of one zone change at most so often, whatever the inputs do: the worst path of each length is followed
/// over all states (longest path by dynamic programming).
fn switching_is_bounded(declaration: &Declaration) -> Result<(), String> {
    let long = [
        ("release_delay", 4.0),
        ("shut_release_delay", 4.0),
        ("guard_delay", 4.0),
        ("sensor_return_delay", 4.0),
        ("start_delay", 4.0),
        ("primary_wet_release_delay", 4.0),
        ("drying_delay", 4.0),
        ("drying_time_limit", 8.0),
        ("water_release_delay", 4.0),
    ];
    let setup = setup(1, &long);
    let b = building();
    let of_building = [
        b,
        BuildingInputs { life_safety: true, ..b },
        BuildingInputs { primary_dew_point_c: 15.0, drying_coil_temperature_c: 15.0, ..b },
    ];
    let of_zone = [room(10.0), room(16.0), ZoneInputs { dew_point_good: false, ..room(10.0) }];
    let letters = letters(1, &of_building, &of_zone);
    let explored = explore(declaration, &setup, &letters, true, 400_000)?;
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    let valve: Vec<bool> = explored
        .states
        .iter()
        .map(|state| {
            machine.recall(state);
            matches!(eyes.zone_stage(&machine, 0), "normal" | "notice" | "more_air")
        })
        .collect();
    // A coil valve that shut opens again only after a delay of 4 steps: at most two changes in any 5 steps.
    let horizon = 24;
    let mut most = vec![0u32; explored.states.len()];
    for _ in 0..horizon {
        let old = most.clone();
        for (k, count) in most.iter_mut().enumerate() {
            *count = (0..letters.len())
                .map(|l| {
                    let to = explored.next[k * letters.len() + l] as usize;
                    old[to] + u32::from(valve[to] != valve[k])
                })
                .max()
                .unwrap();
        }
    }
    let worst = *most.iter().max().unwrap();
    let allowed = 2 * (horizon / 5 + 1);
    if worst > allowed {
        return Err(format!("a coil valve may change {worst} times in {horizon} steps, allowed {allowed}"));
    }
    Ok(())
}

/// A held dew point brings its own stage, from start-up on: none is passed over, more primary air is given.
fn levels_lead_to_their_stages(declaration: &Declaration) -> Result<(), String> {
    let setup = setup(3, &[("drying_time_limit", 30.0)]);
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    let start = machine.memory();
    for (levels, steps, wanted, damper) in [
        (&[10.0][..], 5, "normal", 0.25),
        (&[10.0, 12.2], 5, "notice", 0.25),
        (&[10.0, 12.9], 5, "more_air", 1.0),
        (&[10.0, 16.0], 5, "coil_shut", 1.0),
        // Not dry at start-up: more primary air until the time limit, then the valve stays shut.
        (&[16.0], 20, "drying", 1.0),
        (&[16.0], 40, "coil_shut", 1.0),
    ] {
        machine.recall(&start);
        for level in levels {
            // The neighbours would make a lonely reading suspect.
            let zones = [room(*level), room(level - 0.1), room(*level)];
            for step in 0..steps {
                machine.step(Time::seconds(1.0), &building(), &zones).unwrap();
                let stage = eyes.building_stage(&machine);
                // Building and zones are dry after four steps, or the limit has passed.
                let started = step > 4 || levels.len() > 1;
                if *level < 12.0 && step == steps - 1 && stage != "normal" {
                    return Err("start-up drying goes on though rooms are dry".to_owned());
                }
                if steps == 20 && started && stage != "drying"
                    || steps == 40 && step > 33 && stage == "drying"
                {
                    return Err("start-up drying ends too early, or never".to_owned());
                }
            }
        }
        let found = eyes.zone_stage(&machine, 0);
        if found != wanted || machine.zone_value(0, eyes.damper) != damper {
            return Err(format!(
                "a room at {levels:?} degC stands in {found}, not {wanted}, or its damper is wrong"
            ));
        }
    }
    Ok(())
}

/// Primary air that does not become dry after a start is told, long before the drying of the rooms gives up; a unit that
/// dries within its time is not; wet primary air that dries a wetter room all the same is used; and the water follows
/// until the rooms are dry.
fn wet_primary_air_after_a_start(declaration: &Declaration) -> Result<(), String> {
    let setup = setup(3, &[("drying_time_limit", 30.0), ("primary_start_delay", 10.0)]);
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    let wet = BuildingInputs { primary_dew_point_c: 15.0, drying_coil_temperature_c: 15.0, ..building() };
    let humid = [17.5, 17.4, 17.3].map(room);
    let mut step = |b: &BuildingInputs, z: &[ZoneInputs]| {
        machine.step(Time::seconds(1.0), b, z).unwrap();
        (
            eyes.building_stage(&machine),
            machine.zone_value(0, eyes.damper),
            machine.building_value(eyes.target),
        )
    };
    for k in 0..20 {
        let (stage, damper, water) = step(&wet, &humid);
        if k > 1 && k < 9 && stage != "drying" {
            return Err("a unit has no time to become dry after a start".to_owned());
        }
        if k > 12 && stage != "primary_wet" {
            return Err("primary air that stays wet after a start is not told".to_owned());
        }
        if k > 3 && damper != 1.0 {
            return Err("primary air that would dry a wetter room is not given".to_owned());
        }
        if k > 12 && water != WATER_CEILING_C {
            return Err("the water does not follow while the primary air is wet".to_owned());
        }
    }
    let (stage, _, water) = (0..4).map(|_| step(&building(), &humid)).last().unwrap();
    if stage != "water_follows" || water != WATER_CEILING_C {
        return Err("the water falls before the rooms are dry".to_owned());
    }
    // Dry rooms whose unit starts wet: still no cold water.
    let mut machine = Machine::new(declaration, &setup).unwrap();
    for _ in 0..6 {
        machine.step(Time::seconds(1.0), &wet, &[room(10.0); 3]).unwrap();
    }
    if eyes.building_stage(&machine) != "drying" {
        return Err("start-up drying ends while the primary air is wet".to_owned());
    }
    Ok(())
}

/// Sensors that come and go in turn start the drying of their zones anew; that of the building ends all the same.
fn drying_of_the_building_is_bounded(declaration: &Declaration) -> Result<(), String> {
    let zones = (0..3)
        .map(|k| ZoneSettings {
            id: format!("zone {k}"),
            sensor: ZoneSensor::Own,
            votes: 1,
            neighbours: vec![],
            room_limit: None,
        })
        .collect();
    let setup = Setup::new(parameters(&[("drying_time_limit", 30.0)]), zones).unwrap();
    let mut machine = Machine::new(declaration, &setup).unwrap();
    let eyes = Eyes::new(&machine);
    for step in 0..60 {
        let zones = [0, 1, 2]
            .map(|zone| ZoneInputs { dew_point_good: step % 4 != 0 || step / 4 % 3 != zone, ..room(16.0) });
        machine.step(Time::seconds(1.0), &building(), &zones).unwrap();
        if step == 20 && eyes.building_stage(&machine) != "drying" {
            return Err("start-up drying ends with humid rooms before its limit".to_owned());
        }
        if step > 35 && eyes.building_stage(&machine) == "drying" {
            return Err("start-up drying has no end".to_owned());
        }
    }
    Ok(())
}

/// All properties; the name of the first that is broken.
fn all_properties(declaration: &Declaration) -> Result<(), String> {
    declaration.check().map_err(|e| e.to_string())?;
    one_bad_one_never_warms_the_building(declaration)?;
    water_follows_beyond_the_ignored_votes(declaration)?;
    sensor_failure_lands_on_the_safe_side(declaration)?;
    levels_lead_to_their_stages(declaration)?;
    drying_of_the_building_is_bounded(declaration)?;
    wet_primary_air_after_a_start(declaration)?;
    // One zone with everything first: it is quick and finds most.
    for (zones, of_building, of_zone) in [
        (1, building_letters(), zone_letters()),
        (
            2,
            building_letters(),
            vec![zone_letters()[0], zone_letters()[2], zone_letters()[3], zone_letters()[4]],
        ),
    ] {
        let setup = setup(zones, &[("drying_time_limit", 3.0)]);
        let letters = letters(zones, &of_building, &of_zone);
        let explored = explore(declaration, &setup, &letters, false, 200_000)?;
        every_stage_can_be_left_but_follow(declaration, &setup, &explored, zones)?;
        no_two_stages_fight(&explored, letters.len())?;
    }
    switching_is_bounded(declaration)
}

/// Three zones, so that a reading can be judged by two others.
fn three_zones(declaration: &Declaration) -> Result<(), String> {
    let b = building_letters();
    let z = zone_letters();
    let setup = setup(3, &[]);
    let letters = letters(3, &[b[0], b[1], b[4]], &[z[0], z[3], z[4]]);
    let explored = explore(declaration, &setup, &letters, false, 200_000)?;
    no_two_stages_fight(&explored, letters.len())
}

/// One zone alone can never bring the water to follow; that stage is left out for it.
fn every_stage_can_be_left_but_follow(
    declaration: &Declaration,
    setup: &Setup,
    explored: &Explored,
    zones: usize,
) -> Result<(), String> {
    match every_stage_can_be_left(declaration, setup, explored) {
        Err(what) if zones == 1 && what == "stage water_follows is never taken" => Ok(()),
        // Two zones have each other as proxy, and are blind only together.
        other => other,
    }
}

#[test]
fn phys_properties_hold_in_every_state() {
    for order in [WaterOrder::AfterValves, WaterOrder::BeforeValves] {
        all_properties(&dew_point_sequence(order)).unwrap();
        three_zones(&dew_point_sequence(order)).unwrap();
    }
}

fn region_mut<'a>(declaration: &'a mut Declaration, name: &str) -> &'a mut drycoil_sequence::Region {
    [&mut declaration.sensing, &mut declaration.judging, &mut declaration.building, &mut declaration.zone]
        .into_iter()
        .flatten()
        .find_map(|item| match item {
            Item::Region(region) if region.name == name => Some(region),
            _ => None,
        })
        .unwrap()
}

/// Deletes one transition after the other: each is needed.
fn transitions_are_needed(order: WaterOrder) {
    let declaration = dew_point_sequence(order);
    let mut missed = Vec::new();
    let regions: Vec<(&str, usize)> =
        declaration.regions().map(|(_, r)| (r.name, r.transitions.len())).collect();
    for (name, count) in regions {
        for k in 0..count {
            let mut mutant = declaration.clone();
            let gone = region_mut(&mut mutant, name).transitions.remove(k);
            if all_properties(&mutant).is_ok() {
                missed.push(format!("{name}: {} ({})", gone.to, gone.reason));
            }
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

#[test]
fn every_transition_is_needed() {
    transitions_are_needed(WaterOrder::AfterValves);
}

#[test]
fn every_transition_is_needed_with_the_water_first() {
    transitions_are_needed(WaterOrder::BeforeValves);
}

fn set_rule(declaration: &mut Declaration, signal: &str, value: impl Fn(Expr) -> Expr) {
    for item in declaration
        .sensing
        .iter_mut()
        .chain(&mut declaration.judging)
        .chain(&mut declaration.building)
        .chain(&mut declaration.zone)
    {
        if let Item::Rule(rule) = item
            && rule.signal == signal
        {
            rule.value = value(rule.value.clone());
        }
    }
}

#[test]
fn seeded_mutations_are_caught() {
    use drycoil_sequence::write::{parameter, share, signal};
    type Mutation = (&'static str, fn(&mut Declaration));
    let mutations: [Mutation; 12] = [
        ("more primary air without guard", |d| {
            set_rule(d, "air_helps", |_| Expr::Always(drycoil_sequence::Truth::Yes));
        }),
        ("valve open on a wet coil", |d| {
            // Switch and stage shut it each by itself: both must go.
            set_rule(d, "coil_valve_enable", |e| if let Expr::All(parts) = e { parts[0].clone() } else { e });
            region_mut(d, ZONE_STAGE).transitions.retain(|t| t.when != signal("wet_switch"));
        }),
        ("full primary air in every stage", |d| set_rule(d, "extra_air", |_| share(1.0))),
        ("no ceiling", |d| {
            set_rule(d, "water_target", |_| {
                drycoil_sequence::write::plus(signal("reset_dew_point"), parameter("water_offset"))
            });
        }),
        ("water always at design", |d| set_rule(d, "water_set_point", |_| parameter("water_design"))),
        ("damper given up never", |d| {
            set_rule(d, "primary_damper_released", |_| Expr::Always(drycoil_sequence::Truth::No));
        }),
        ("failed readings are believed", |d| set_rule(d, "reading_sound", |_| parameter("has_sensor"))),
        ("suspects count", |d| set_rule(d, "believed_dew_point", |_| signal("dew_point"))),
        ("failed water sensor is believed", |d| set_rule(d, "coil_water", |_| signal("water_temperature"))),
        ("one sensor decides on wet air", |d| {
            set_rule(d, "primary_wet", |_| {
                drycoil_sequence::write::above(signal("primary_dew_point"), parameter("primary_wet_limit"))
            });
        }),
        ("no hysteresis at the valve", |d| {
            set_rule(d, "clear", |_| Expr::Always(drycoil_sequence::Truth::Yes));
        }),
        ("valve opens without delay", |d| {
            for t in &mut region_mut(d, ZONE_STAGE).transitions {
                if t.from == ["coil_shut"] || t.from == ["drying"] && t.to == "normal" {
                    t.delay = None;
                }
            }
        }),
    ];
    let mut missed = Vec::new();
    for order in [WaterOrder::AfterValves, WaterOrder::BeforeValves] {
        for (what, mutate) in mutations {
            let mut mutant = dew_point_sequence(order);
            mutate(&mut mutant);
            assert_ne!(mutant, dew_point_sequence(order), "{what}");
            if all_properties(&mutant).is_ok() {
                missed.push(format!("{order:?}: {what}"));
            }
        }
    }
    assert!(missed.is_empty(), "{missed:?}");
}

/// Explores one zone with all letters.
fn one_zone(declaration: &Declaration) -> Result<(Setup, Explored, usize), String> {
    let setup = setup(1, &[("drying_time_limit", 3.0)]);
    let letters = letters(1, &building_letters(), &zone_letters());
    let explored = explore(declaration, &setup, &letters, false, 200_000)?;
    Ok((setup, explored, letters.len()))
}

fn stages_are_left(declaration: &Declaration) -> Result<(), String> {
    let (setup, explored, _) = one_zone(declaration)?;
    every_stage_can_be_left_but_follow(declaration, &setup, &explored, 1)
}

fn stages_come_to_rest(declaration: &Declaration) -> Result<(), String> {
    let (_, explored, letters) = one_zone(declaration)?;
    no_two_stages_fight(&explored, letters)
}

fn each_step_is_safe(declaration: &Declaration) -> Result<(), String> {
    one_zone(declaration).map(|_| ())
}

/// Each property by itself: it holds, and a mutation made for it breaks it with its own words.
#[test]
fn each_property_fails_under_its_own_mutation() {
    use drycoil_sequence::write::{above, at_most, count, parameter, plus, signal};
    type Property = fn(&Declaration) -> Result<(), String>;
    type Mutation = fn(&mut Declaration);
    let table: [(&str, Property, Mutation, &str); 9] = [
        (
            "every stage can be left",
            stages_are_left,
            |d| region_mut(d, ZONE_STAGE).transitions.retain(|t| t.from != ["coil_shut"]),
            "no way back to normal",
        ),
        (
            "no two stages fight",
            stages_come_to_rest,
            |d| {
                for t in &mut region_mut(d, ZONE_STAGE).transitions {
                    if t.from == ["notice"] && t.to == "normal" {
                        t.when = at_most(
                            signal("believed_dew_point"),
                            plus(parameter("room_limit"), parameter("notice_hysteresis")),
                        );
                    }
                }
            },
            "go round in a circle",
        ),
        (
            "primary air is never raised while it is wetter than the room",
            each_step_is_safe,
            |d| set_rule(d, "air_helps", |_| Expr::Always(drycoil_sequence::Truth::Yes)),
            "more primary air though it is not drier",
        ),
        (
            "one bad room or sensor never warms the building",
            one_bad_one_never_warms_the_building,
            |d| {
                for t in &mut region_mut(d, BUILDING_STAGE).transitions {
                    if t.from == ["normal"] && t.to == "water_follows" {
                        t.when = above(signal("votes_at_risk"), count(0));
                    }
                }
                for gather in &mut d.gathering {
                    if let drycoil_sequence::Gathered::HighestBeyondIgnored { when, .. } = &mut gather.figure
                    {
                        *when = Expr::Always(drycoil_sequence::Truth::Yes);
                    }
                }
                set_rule(d, "water_target", |_| {
                    drycoil_sequence::write::choose(
                        above(signal("votes_at_risk"), count(0)),
                        parameter("water_ceiling"),
                        parameter("water_design"),
                    )
                });
            },
            "one bad room or sensor warms the whole building",
        ),
        (
            "sensor failure lands on the safe side",
            sensor_failure_lands_on_the_safe_side,
            |d| set_rule(d, "reading_sound", |_| parameter("has_sensor")),
            "a failed or drifted sensor is not told",
        ),
        (
            "no dead end",
            stages_are_left,
            |d| {
                region_mut(d, drycoil_sequence::SENSOR).transitions.retain(|t| t.from != ["failed"]);
                region_mut(d, ZONE_STAGE).transitions.retain(|t| t.from != ["blind"]);
            },
            "no way back to normal",
        ),
        (
            "bounded switching rate",
            switching_is_bounded,
            |d| {
                for t in &mut region_mut(d, ZONE_STAGE).transitions {
                    if t.from == ["coil_shut"] || t.from == ["drying"] || t.from == ["blind"] {
                        t.delay = None;
                    }
                }
            },
            "a coil valve may change",
        ),
        (
            "life safety comes first",
            each_step_is_safe,
            |d| set_rule(d, "priority", |_| signal("smoke_control")),
            "life safety does not come first",
        ),
        (
            "wet primary air is answered",
            each_step_is_safe,
            |d| {
                region_mut(d, BUILDING_STAGE)
                    .transitions
                    .retain(|t| !(t.to == "primary_wet" && t.from.contains(&"normal")));
            },
            "wet primary air goes unanswered",
        ),
    ];
    for order in [WaterOrder::AfterValves, WaterOrder::BeforeValves] {
        for (what, property, mutate, words) in table {
            let sound = dew_point_sequence(order);
            property(&sound).unwrap_or_else(|e| panic!("{what}: {e}"));
            let mut mutant = sound;
            mutate(&mut mutant);
            mutant.check().unwrap_or_else(|e| panic!("{what}: {e}"));
            let found = property(&mutant).expect_err(what);
            assert!(found.contains(words), "{what}: {found}");
        }
    }
}
