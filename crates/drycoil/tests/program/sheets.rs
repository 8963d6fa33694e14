//! Every scheduled number has a sheet, every line evaluates from its printed numbers, every reference leads somewhere.

use crate::support::{designed, read};
use drycoil_intake::MemoryFiles;
use drycoil_intake::job::{self, Job};
use drycoil_sizing::{Cell, ColumnKind, Design, places, quantities, schedules, sheet};
use drycoil_units::{QuantityKind as K, UnitSystem};
use drycoil_working::{Input, Line, Origin, Sheet, check};
use std::collections::BTreeMap;

/// Numbers are printed with eight digits, results with six: what a sum of printed numbers may be off by.
fn allowance(line: &Line) -> f64 {
    // Temperatures are shifted between scales, so their digits count from the zero of the scale shown.
    let offset = if line.kind == Some(K::Temperature) { 20.0 } else { 0.0 };
    let largest =
        line.inputs.iter().filter(|i| i.kind == line.kind).map(|i| i.si.abs() + offset).fold(0.0, f64::max);
    let shifted = line.inputs.iter().any(|i| i.kind == Some(K::Temperature));
    let kelvin = if line.kind == Some(K::TemperatureDifference) && shifted { 1e-5 } else { 0.0 };
    1e-5 * line.si.abs() + 1e-6 * largest + kelvin + 1e-12
}

/// Seconds-long sheets of a building of 80 rooms are made once for each number.
fn faults(job: &Job, design: &Design) -> Vec<String> {
    let project = &job.loaded.project;
    let mut faults = Vec::new();
    let mut sheets: BTreeMap<(String, String), Sheet> = BTreeMap::new();
    for schedule in schedules(project, design) {
        for row in &schedule.rows {
            for (column, cell) in schedule.columns.iter().zip(&row.cells) {
                let Cell::Number(value) = cell else { continue };
                assert!(column.kind != ColumnKind::Text, "{} {}", schedule.name, column.title);
                let quantity = row.quantity(column);
                let at = format!("{} {quantity}", row.place);
                let Some(s) = sheet(project, design, &row.place, &quantity) else {
                    faults.push(format!("{at}: no sheet"));
                    continue;
                };
                let last = s.lines.last().unwrap();
                if last.si.to_bits() != value.to_bits() {
                    faults.push(format!("{at}: scheduled {value}, last line {}", last.si));
                }
                let kind = match column.kind {
                    ColumnKind::Quantity(k) => Some(k),
                    _ => None,
                };
                if last.kind != kind {
                    faults.push(format!("{at}: scheduled as {kind:?}, worked out as {:?}", last.kind));
                }
                // The schedule and the working show one number in one unit.
                for system in [UnitSystem::Si, UnitSystem::Ip] {
                    let (unit, shown) = (column.unit(system), last.shown(system));
                    if !unit.is_empty() && !shown.ends_with(&format!(" {unit}")) {
                        faults.push(format!("{at}: scheduled in {unit}, worked out as {shown}"));
                    }
                }
                sheets.insert((row.place.clone(), quantity), s);
            }
        }
    }
    for ((place, quantity), s) in &sheets {
        let at = format!("{place} {quantity}");
        for (n, line) in s.lines.iter().enumerate() {
            if line.source.is_none() {
                faults.push(format!("{at}: line {} has no source", line.symbol));
            }
            for system in [UnitSystem::Si, UnitSystem::Ip] {
                let text = line.numbers(system);
                match check::evaluate(&text) {
                    Ok(v) if (v - line.si).abs() <= allowance(line) => {}
                    Ok(v) => faults.push(format!(
                        "{at}: {} = {} gives {v}, not {}: {text}",
                        line.symbol, line.formula, line.si
                    )),
                    Err(e) => faults.push(format!("{at}: {} = {text}: {e}", line.symbol)),
                }
            }
            for input in &line.inputs {
                if !line.formula.contains(&input.symbol) {
                    faults.push(format!("{at}: {} does not use {}", line.formula, input.symbol));
                }
                reference(&sheets, s, n, input, &at, &mut faults);
                // A value that a search found is followed by what the search leaves.
                if let Origin::Constant(what) = &input.origin
                    && what.contains("search")
                    && what.contains("`r`")
                    && !s.lines[n + 1..].iter().any(|l| l.symbol == "r")
                {
                    faults.push(format!(
                        "{at}: {} is found by search, but no line shows the rest",
                        input.symbol
                    ));
                }
            }
        }
    }
    faults
}

/// A value from another line is that line's value.
fn reference(
    sheets: &BTreeMap<(String, String), Sheet>,
    own: &Sheet,
    n: usize,
    input: &Input,
    at: &str,
    faults: &mut Vec<String>,
) {
    let Origin::Line(text) = &input.origin else { return };
    let there = match own.lines[..n].iter().rev().find(|l| l.symbol == *text) {
        Some(line) => Some(line.si),
        None => text.rsplit_once(' ').and_then(|(place, quantity)| {
            sheets.get(&(place.to_owned(), quantity.to_owned())).and_then(|s| s.lines.last()).map(|l| l.si)
        }),
    };
    match there {
        None => faults.push(format!("{at}: {} comes from `{text}`, which is nowhere", input.symbol)),
        Some(v) if (v - input.si).abs() > 1e-9 * v.abs().max(1e-6) => {
            faults.push(format!("{at}: {} is {}, `{text}` says {v}", input.symbol, input.si));
        }
        Some(_) => {}
    }
}

fn check_example(example: &str) {
    let (job, design) = designed(example, 2);
    let project = &job.loaded.project;
    let list = faults(&job, &design);
    let few: Vec<&str> = list.iter().take(4000).map(String::as_str).collect();
    assert!(list.is_empty(), "{} faults\n{}", list.len(), few.join("\n"));
    // The lists that `drycoil working` prints hold the same places and quantities, and nothing else.
    let all = places(project, &design);
    assert!(all.contains(&"dew point".to_owned()) && all.contains(&project.rooms[0].id));
    for place in ["building", "plant", "ducts", "primary air"] {
        let names = quantities(project, &design, place);
        assert!(!names.is_empty());
        let mut unique = names.clone();
        unique.sort();
        unique.dedup();
        assert_eq!(unique.len(), names.len(), "{place}: a quantity has two meanings");
    }
    assert!(quantities(project, &design, "no such place").is_empty());
    assert!(sheet(project, &design, "no such place", "people").is_none());
}

/// Room 1 stands on floor 1; each has its own place.
#[test]
fn a_floor_and_a_room_of_one_name_are_two_places() {
    let (job, design) = designed("one-room", 1);
    let project = &job.loaded.project;
    assert_eq!(project.rooms[0].id, project.rooms[0].floor);
    let of = |place: &str| quantities(project, &design, place);
    assert!(
        of("1").contains(&"primary_air_flow".to_owned()) && !of("1").contains(&"sum_of_peaks".to_owned())
    );
    assert!(of("floor 1").contains(&"sum_of_peaks".to_owned()));
    assert!(sheet(project, &design, "floor 1", "sum_of_peaks").is_some());
    assert!(sheet(project, &design, "1", "sum_of_peaks").is_none());
}

#[test]
fn every_number_of_the_demonstration_can_be_worked_out() {
    check_example("public-services-building");
}

#[test]
fn every_number_of_one_room_can_be_worked_out() {
    check_example("one-room");
}

#[test]
fn every_number_of_a_school_with_plenum_air_and_return_reuse_can_be_worked_out() {
    check_example("two-storey-school");
}

/// A project of two rooms with these lines in its `project.toml`.
fn of_two_rooms(lines: &str) -> (Job, Design) {
    let project = format!(
        "[project]\nformat = 1\nname = \"Two rooms\"\n[site]\nweather = \"year.csv\"\n\
         [constructions.wall]\nlayers = [{{ name = \"insulation\", resistance = \"2 m2 K/W\" }}, \
         {{ name = \"brick\", thickness = \"4 in\", conductivity = \"0.75 Btu/h ft degF\", \
         density = \"120 lb/ft3\", specific_heat = \"0.19 Btu/lb degF\" }}]\n{lines}"
    );
    let surfaces = "room,kind,construction,area [ft2],facing\n101,wall,wall,400,N\n102,wall,wall,150,N\n";
    let rooms = "id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,20\n102,1,office-enclosed,160,1\n";
    let files = MemoryFiles::new()
        .with("project.toml", project)
        .with("rooms.csv", rooms)
        .with("surfaces.csv", surfaces)
        .with("year.csv", read("examples/weather/greensboro-nc-tmy3.csv"));
    let job = job::read(&files).unwrap_or_else(|f| panic!("{f:#?}"));
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).unwrap();
    (job, design)
}

/// What no example has: reheat of each kind, hot water in the terminals, terminals that draw plenum air without a load.
#[test]
fn every_number_with_reheat_and_hot_water_can_be_worked_out() {
    for (lines, symbols) in [
        ("[primary_air]\nreheat = \"coil\"\nreheat_temperature = \"62 degF\"\n", ["q_reheat", "t_exhaust"]),
        (
            "[primary_air]\nreheat = \"wrap-around\"\nreheat_temperature = \"60 degF\"\n\
             [dew_point]\nsupply = \"47 degF\"\nwater = \"57 degF\"\n",
            ["q_able", "dC"],
        ),
        (
            "[primary_air]\nreheat = \"heat-recovery\"\nrecovery = \"none\"\n\
             [terminals]\nheating = \"hot-water\"\ncoil_air = \"plenum\"\nplenum_share = \"30 %\"\n",
            ["m_leak", "Q_need"],
        ),
    ] {
        let (job, design) = of_two_rooms(lines);
        let list = faults(&job, &design);
        assert!(list.is_empty(), "{lines}: {} faults\n{}", list.len(), list.join("\n"));
        let mut seen: Vec<String> = Vec::new();
        for place in places(&job.loaded.project, &design) {
            for quantity in quantities(&job.loaded.project, &design, &place) {
                let s = sheet(&job.loaded.project, &design, &place, &quantity).unwrap();
                seen.extend(s.lines.iter().map(|l| l.symbol.clone()));
            }
        }
        for symbol in symbols {
            assert!(seen.iter().any(|s| s == symbol), "{lines}: no line {symbol}");
        }
    }
}

/// What no example has: plates instead of a wheel, and a chiller with a part-load value.
#[test]
fn every_number_with_plates_and_a_part_load_value_can_be_worked_out() {
    let (job, design) = of_two_rooms(
        "[primary_air]\nrecovery = \"sensible-plate\"\nrecovery_sensible = \"65 %\"\n[plant]\nchiller_iplv = 7.2\n",
    );
    let list = faults(&job, &design);
    assert!(list.is_empty(), "{} faults\n{}", list.len(), list.join("\n"));
    let symbols = |place: &str, quantity: &str| -> Vec<String> {
        let s = sheet(&job.loaded.project, &design, place, quantity).unwrap();
        s.lines.iter().map(|l| l.symbol.clone()).collect()
    };
    // The sheets go down to the ratings: transfer units of the plates, fixed losses of the chiller.
    let chiller = symbols("plant", "separate_sensible_water_chillers_performance");
    assert!(["r", "e_rated", "e", "COP_run"].iter().all(|s| chiller.iter().any(|c| c == s)), "{chiller:?}");
    let plates = symbols("primary air", "cooling_after_recovery_dry_bulb");
    assert!(["e_back", "N_rated", "e_full"].iter().all(|s| plates.iter().any(|c| c == s)), "{plates:?}");
}
