//! What is refused, and what is handed over.

use drycoil_sequence::{
    DeclarationError, Direction, Expr, Item, Machine, MachineError, Paragraph, Parameters, PointKind, Setup,
    SetupError, StepError, WaterOrder, ZoneSensor, ZoneSettings, dew_point_sequence, inputs_to_set,
    point_list, standard_cases, structured_text, test_sheet, write, written_sequence,
};
use drycoil_units::{Temperature, TemperatureDifference, Time, UnitSystem};

fn parameters() -> Parameters {
    let f = Temperature::fahrenheit;
    Parameters::for_design(f(55.0), f(57.0), f(48.0))
}

fn zone(id: &str, votes: u32, neighbours: &[usize]) -> ZoneSettings {
    ZoneSettings {
        id: id.into(),
        sensor: ZoneSensor::Own,
        votes,
        neighbours: neighbours.to_vec(),
        room_limit: None,
    }
}

fn setup() -> Setup {
    let zones = vec![zone("office", 1, &[1]), zone("conference", 1, &[0])];
    Setup::new(parameters(), zones).unwrap()
}

#[test]
fn setups_that_make_no_sense_are_refused() {
    let one = || vec![zone("office", 1, &[])];
    let with = |change: &dyn Fn(&mut Parameters)| {
        let mut p = parameters();
        change(&mut p);
        Setup::new(p, one()).unwrap_err()
    };
    let k = TemperatureDifference::kelvin;
    let cases: [(SetupError, &str); 5] = [
        (with(&|p| p.notice_delay = Time::seconds(-1.0)), "notice_delay is -1 s, allowed 0 to 86400 s"),
        (with(&|p| p.notice_delay = Time::seconds(f64::NAN)), "notice_delay is NaN s"),
        (with(&|p| p.shut_hysteresis = k(0.0)), "shut_hysteresis is 0 K"),
        (with(&|p| p.water_design = Temperature::fahrenheit(55.0)), "limit and rise to more air is"),
        (with(&|p| p.water_offset = k(0.3)), "shut margin and hysteresis is"),
    ];
    for (error, text) in cases {
        assert!(error.to_string().starts_with(text), "{error}");
    }
    let zones = |zones: Vec<ZoneSettings>| Setup::new(parameters(), zones).unwrap_err();
    assert_eq!(zones(vec![]), SetupError::NoZone);
    assert_eq!(zones(vec![zone("a", 1, &[]), zone("a", 1, &[])]), SetupError::ZoneId("a".into()));
    assert!(matches!(zones(vec![zone("a", 1, &[0])]), SetupError::Neighbour { neighbour: 0, .. }));
    assert!(matches!(
        zones(vec![zone("a", 2, &[]), zone("b", 1, &[])]),
        SetupError::OneZoneRules { votes: 2, .. }
    ));
    let blind = ZoneSettings { sensor: ZoneSensor::Neighbours, ..zone("a", 0, &[]) };
    assert_eq!(zones(vec![blind]), SetupError::NoDewPoint("a".into()));
    assert!(setup().water_can_follow());
    assert!(!Setup::new(parameters(), one()).unwrap().water_can_follow(), "one vote, one ignored");
    // Limit and water of one temperature leave less margin, yet more than a working coil needs.
    let f = Temperature::fahrenheit;
    let tight = Parameters::for_design(f(55.0), f(55.0), f(45.0));
    assert!((tight.shut_margin.to_kelvin() + 0.5 / 1.8).abs() < 1e-9);
    assert!(Setup::new(tight, one()).is_ok());
}

#[test]
fn declarations_that_make_no_sense_are_refused() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let with = |value: Expr| {
        let mut d = declaration.clone();
        let Some(Item::Rule(rule)) = d.zone.first_mut() else { panic!("a rule comes first") };
        rule.value = value;
        d.check().unwrap_err()
    };
    let dew = || write::signal("dew_point");
    assert!(matches!(with(dew()), DeclarationError::Kinds(_)), "a temperature is not a yes");
    assert!(
        matches!(with(write::above(write::plus(dew(), dew()), dew())), DeclarationError::Kinds(_)),
        "two temperatures do not add"
    );
    assert!(matches!(with(write::above(dew(), write::count(3))), DeclarationError::Kinds(_)));
    assert!(matches!(with(write::signal("dew")), DeclarationError::Unknown { .. }));
    assert!(matches!(with(write::signal("clear")), DeclarationError::TooEarly { .. }));
    assert!(matches!(with(write::stage_is("zone_stage", "wet")), DeclarationError::Unknown { .. }));
    assert!(matches!(with(write::any([])), DeclarationError::Kinds(_)));
    let mut d = declaration.clone();
    d.zone.pop();
    assert!(matches!(d.check(), Err(DeclarationError::Assigned(name)) if name == "alarm_sensor"));
    let mut d = declaration.clone();
    d.signals.push(d.signals[0].clone());
    assert!(matches!(Machine::new(&d, &setup()), Err(MachineError::Declaration(DeclarationError::Twice(_)))));
    let mut d = declaration;
    d.parameters.push(drycoil_sequence::ParameterRow { name: "mood", ..d.parameters[0].clone() });
    assert!(matches!(Machine::new(&d, &setup()), Err(MachineError::NoValue("mood"))));
    assert!(matches!(structured_text(&d, &setup(), UnitSystem::Si), Err(MachineError::NoValue("mood"))));
    assert!(matches!(written_sequence(&d, &setup(), UnitSystem::Si), Err(MachineError::NoValue("mood"))));
}

#[test]
fn steps_that_make_no_sense_are_refused_and_change_nothing() {
    let setup = setup();
    let mut machine = Machine::new(&dew_point_sequence(WaterOrder::AfterValves), &setup).unwrap();
    let case = &standard_cases(&setup)[1].phases[0];
    let before = machine.memory();
    let mut bad = case.zones.clone();
    bad[1].ventilation_demand = 1.2;
    assert_eq!(machine.step(Time::seconds(0.0), &case.building, &case.zones), Err(StepError::Duration(0.0)));
    assert_eq!(
        machine.step(Time::seconds(1.0), &case.building, &case.zones[..1]),
        Err(StepError::Zones { given: 1, zones: 2 })
    );
    assert_eq!(
        machine.step(Time::seconds(1.0), &case.building, &bad),
        Err(StepError::Demand { zone: 1, value: 1.2 })
    );
    assert_eq!(machine.memory(), before);
}

#[test]
fn words_name_every_stage_transition_and_command() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    for system in [UnitSystem::Si, UnitSystem::Ip] {
        let parts = written_sequence(&declaration, &setup(), system).unwrap();
        let text = parts.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        for (_, region) in declaration.regions() {
            for transition in &region.transitions {
                assert!(text.contains(transition.reason), "{}", transition.reason);
            }
            for stage in &region.stages {
                assert!(text.contains(stage.words), "{}", stage.name);
            }
        }
        for signal in declaration.signals.iter().filter(|s| s.direction == Direction::Output) {
            let word = if signal.alarm.is_some() { "Alarm" } else { "" };
            assert!(text.contains(&format!("{word}: {}", signal.words)), "{}", signal.name);
        }
        for gather in &declaration.gathering {
            assert!(
                text.to_lowercase()
                    .contains(&format!("- {}: ", declaration.signal(gather.signal).unwrap().words))
            );
        }
        assert!(!text.contains("not so that"), "one negation is enough");
        assert!(!text.contains("[["), "brackets within brackets are hard to read");
        // 55 degF, 55.5 degF, 2 degF offset, and the same in SI.
        let numbers: &[&str] = match system {
            UnitSystem::Ip => {
                &["is above 55.00 degF", "is above 55.50 degF", "2.00 degF", "0.50 degF/min", "15 min"]
            }
            UnitSystem::Si => {
                &["is above 12.78 degC", "is above 13.06 degC", "1.11 K", "0.28 K/min", "15 min"]
            }
        };
        for number in numbers {
            assert!(text.contains(number), "{number} in\n{text}");
        }
        assert!(text.contains("Life safety and smoke control outrank this sequence"));
        assert!(text.contains("Health-care room pressure control outranks it"));
        assert!(!text.contains('_'), "names of the declaration are not words");
        assert!(matches!(&parts[0], Paragraph::Heading(title) if title.contains("outranks")));
    }
}

#[test]
fn points_are_named_once_and_tagged() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let mut zones = vec![zone("office", 1, &[1]), zone("conference", 1, &[0])];
    zones.push(ZoneSettings { sensor: ZoneSensor::Neighbours, ..zone("store", 0, &[0]) });
    let setup = Setup::new(parameters(), zones).unwrap();
    let points = point_list(&declaration, &setup, UnitSystem::Ip);
    let mut names: Vec<&str> = points.iter().map(|p| p.name.as_str()).collect();
    names.sort_unstable();
    let count = names.len();
    names.dedup();
    assert_eq!(count, names.len());
    assert!(points.iter().all(|p| !p.haystack.is_empty() && !p.description.is_empty()));
    let find = |name: &str| points.iter().find(|p| p.name == name);
    assert!(find("store.dew_point").is_none() && find("store.wet_switch").is_some());
    let damper = find("office.primary_damper").unwrap();
    assert_eq!((damper.kind, damper.range.as_str()), (PointKind::AnalogOutput, "0 to 1"));
    let water = find("building.water_set_point").unwrap();
    assert_eq!((water.unit.as_str(), water.range.as_str()), ("degF", "32 to 140"));
    assert!(find("office.zone_stage").unwrap().range.contains("5 coil shut"));
    let alarm = find("office.alarm_humid").unwrap();
    assert!(alarm.kind == PointKind::BinaryValue && !alarm.alarm.is_empty());
}

/// Names behind the notice of a list.
fn names(text: &str) -> Vec<&str> {
    text.lines().filter(|line| !line.starts_with('#')).collect()
}

/// Brick ontology 1.4.4 and definitions of Project Haystack 3.9.2: lists of names in `tests/metadata`.
#[test]
fn val_tags_are_those_of_the_published_ontologies() {
    let classes = names(include_str!("metadata/brick-points.txt"));
    let markers = names(include_str!("metadata/haystack-tags.txt"));
    assert!(classes.len() > 700 && markers.len() > 40);
    let functions = ["sensor", "cmd", "sp"];
    for point in point_list(&dew_point_sequence(WaterOrder::AfterValves), &setup(), UnitSystem::Si) {
        let class = point.brick.strip_prefix("brick:").unwrap_or_else(|| panic!("{}: no class", point.name));
        assert!(classes.contains(&class), "{}: {class} is no class of a point", point.name);
        let own: Vec<&str> = point.haystack.split(' ').collect();
        for marker in &own {
            assert!(markers.contains(marker), "{}: {marker} is not defined", point.name);
        }
        // A point has exactly one function; a quality is a tag of the reading.
        let of_function = own.iter().filter(|marker| functions.contains(marker)).count();
        let expected = usize::from(own != ["curStatus"]);
        assert_eq!(of_function, expected, "{}: {}", point.name, point.haystack);
        assert_eq!(own.contains(&"point"), expected == 1, "{}", point.name);
        let command = matches!(point.kind, PointKind::AnalogOutput | PointKind::BinaryOutput);
        assert_eq!(own.contains(&"cmd"), command, "{}: {:?}", point.name, point.kind);
    }
}

#[test]
fn the_test_sheet_visits_every_stage() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let setup = setup();
    let rows = test_sheet(&declaration, &setup, &standard_cases(&setup), Time::seconds(5.0), UnitSystem::Si)
        .unwrap();
    for region in ["zone_stage", "building_stage"] {
        for stage in &declaration.region(region).unwrap().1.stages {
            let words = stage.name.replace('_', " ");
            // Every case begins with a controller that is off.
            assert!(stage.name == "off" || rows.iter().any(|row| row.stage == words), "{region} {words}");
        }
    }
    // Times follow from the delays: notice after 60 s.
    let notice = rows.iter().find(|row| row.stage == "notice").unwrap();
    assert_eq!((notice.due.to_seconds(), notice.due_text.as_str()), (60.0, "60 s"));
    assert!(notice.commands.contains(&"coil valve enable: yes".to_owned()), "{:?}", notice.commands);
    let shut = rows.iter().find(|row| row.stage == "coil shut").unwrap();
    assert!(shut.commands.contains(&"coil valve enable: no".to_owned()));
    assert!(shut.commands.contains(&"primary damper: 100 %".to_owned()), "{:?}", shut.commands);
    assert!(
        test_sheet(&declaration, &setup, &standard_cases(&setup), Time::seconds(7.0), UnitSystem::Si)
            .is_err()
    );
}

#[test]
fn the_tester_is_told_what_to_set() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let setup = setup();
    let cases = standard_cases(&setup);
    let door = cases.iter().find(|c| c.name == "door-open").unwrap();
    let first = inputs_to_set(&declaration, &setup, door, 0, UnitSystem::Ip);
    // Nine inputs of the building, eight of the zones, alike in all.
    assert_eq!(first.len(), 17, "{first:?}");
    assert!(
        first.contains(&"temperature of the sensible water supplied: 57.00 degF".to_owned()),
        "{first:?}"
    );
    assert!(first.iter().filter(|line| line.starts_with("all zones, ")).count() == 8);
    // The notice lies half of the rise of 0.5 degF above 55 degF.
    assert_eq!(
        inputs_to_set(&declaration, &setup, door, 1, UnitSystem::Ip),
        ["zone office, dew point of the room air: 55.25 degF"]
    );
    assert!(inputs_to_set(&declaration, &setup, door, 9, UnitSystem::Ip).is_empty());
}

#[test]
fn phys_the_order_of_zones_does_not_matter() {
    let declaration = dew_point_sequence(WaterOrder::AfterValves);
    let count = 400;
    let levels = |k: usize| 11.0 + 5.0 * ((k * 37 % count) as f64) / count as f64;
    let zones = (0..count).map(|k| zone(&format!("z{k}"), 1, &[])).collect();
    let setup = Setup::new(parameters(), zones).unwrap();
    let case = &standard_cases(&setup)[1].phases[0];
    let run = |reverse: bool| {
        let mut machine = Machine::new(&declaration, &setup).unwrap();
        let mut inputs = case.zones.clone();
        for (k, z) in inputs.iter_mut().enumerate() {
            z.dew_point_c = levels(if reverse { count - 1 - k } else { k });
        }
        for _ in 0..2000 {
            machine.step(Time::seconds(10.0), &case.building, &inputs).unwrap();
        }
        let water = machine.building_value(machine.building_slot("water_set_point").unwrap());
        let mut stages: Vec<_> =
            (0..count).map(|k| machine.stage_name("zone_stage", Some(k)).unwrap()).collect();
        if reverse {
            stages.reverse();
        }
        (water.to_bits(), stages)
    };
    assert_eq!(run(false), run(true));
}
