//! A big project with every room different, for measuring.
//!
//! Geometry, layers, orientation, glass, profiles, set points, terminals, moisture buffering and the control of primary air
//! are drawn for each room; the same number of rooms and the same seed give the same files. Zones of several rooms,
//! transfer air, demand control, moisture of processes and buffering are each there in at least 30 % of the rooms; set-back
//! is in all of them, and terminals without spare reach their capacity at start-up.

use crate::{Failed, root, write};
use std::fmt::Write as _;
use std::path::Path;

/// The weather file that goes into the project.
const WEATHER: &str = "examples/weather/greensboro-nc-tmy3.csv";
/// Rooms on a floor.
const FLOOR: usize = 50;
/// Kinds of room that belong on the system, with the range of their floor area in m2.
const KINDS: &[(&str, f64, f64)] = &[
    ("office-open", 40.0, 250.0),
    ("office-enclosed", 10.0, 25.0),
    ("office-enclosed", 10.0, 25.0),
    ("meeting", 15.0, 60.0),
    ("classroom", 45.0, 90.0),
    ("library", 60.0, 300.0),
    ("reception", 20.0, 80.0),
    ("waiting", 20.0, 60.0),
    ("break-room", 15.0, 50.0),
    ("copy-room", 8.0, 20.0),
    ("call-centre", 80.0, 300.0),
];

/// A project as texts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Texts {
    /// `project.toml`.
    pub project: String,
    /// `rooms.csv`.
    pub rooms: String,
    /// `surfaces.csv`.
    pub surfaces: String,
    /// `profiles.csv`.
    pub profiles: String,
}

/// Writes a big project.
pub fn run(rooms: &str, seed: &str, out: &str) -> Result<(), Failed> {
    let count = rooms.parse().ok().filter(|n| (1..=100_000).contains(n));
    let count: usize =
        count.ok_or_else(|| Failed::new(format!("`{rooms}` is not a number of rooms, 1 to 100000")))?;
    let seed: u64 = seed.parse().map_err(|_| Failed::new(format!("`{seed}` is not a seed")))?;
    let texts = texts(count, seed);
    let folder = Path::new(out);
    for (name, text) in [
        ("project.toml", &texts.project),
        ("rooms.csv", &texts.rooms),
        ("surfaces.csv", &texts.surfaces),
        ("profiles.csv", &texts.profiles),
    ] {
        write(&folder.join(name), text.as_bytes())?;
    }
    let weather = root().join(WEATHER);
    let bytes = std::fs::read(&weather)
        .map_err(|e| Failed::new(format!("cannot read {}: {e}", weather.display())))?;
    write(&folder.join("weather.csv"), &bytes)?;
    println!("{count} rooms with seed {seed} are in {out}");
    Ok(())
}

/// Random numbers (`SplitMix64`).
struct Dice(u64);

impl Dice {
    /// Between 0 and 1.
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn below(&mut self, end: usize) -> usize {
        ((self.share() * end as f64) as usize).min(end - 1)
    }

    fn happens(&mut self, probability: f64) -> bool {
        self.share() < probability
    }
}

/// The texts of a project with so many rooms.
pub fn texts(count: usize, seed: u64) -> Texts {
    let mut dice = Dice(seed);
    let mut texts = Texts {
        project: format!(
            "# {count} rooms, drawn with seed {seed}.\n[project]\nformat = 1\nname = \"{count} drawn rooms\"\n\n[site]\n\
             weather = \"weather.csv\"\n\n[terminals]\nspare = \"0 %\"\n\n[year]\nnight_dew_point_limit = \"56 degF\"\n\
             supply_dew_point_reset = \"when-dry\"\n"
        ),
        rooms: "id,floor,zone,kind,floor_area [m2],height [m],people,lighting [W/m2],plugs [W/m2],process_latent [W],\
                profile,cooling_set_point [degC],heating_set_point [degC],terminal,transfer_from,exhaust [L/s],\
                primary_air_control,standby,moisture_capacity\n"
            .into(),
        surfaces: "room,kind,construction,area [m2],facing,overhang_ratio [1]\n".into(),
        profiles: {
            let hours: Vec<String> = (0..24).map(|h| format!("h{h:02}")).collect();
            format!("profile,use,day,{}\n", hours.join(","))
        },
    };
    let mut zone = String::new();
    let mut giver = String::new();
    let mut before = String::new();
    let floors = count.div_ceil(FLOOR);
    for index in 0..count {
        let floor = index / FLOOR;
        let id = format!("R{index:05}");
        let first_of_floor = index % FLOOR == 0;
        // A store lives on the air of the room before it; half of the other rooms share the terminal of the one before.
        let store = !first_of_floor && dice.happens(0.12);
        let shares = !first_of_floor && !store && dice.happens(0.35);
        if !shares && !store {
            zone = format!("Z{index:05}");
            giver.clone_from(&id);
        }
        // A room with an exhaust of its own draws the rest of it from the room before.
        let draws = !first_of_floor && !store && dice.happens(0.42);
        room(
            &mut texts,
            &mut dice,
            &Drawn {
                id: &id,
                floor,
                zone: if store { &id } else { &zone },
                transfer_from: match (store, draws) {
                    (true, _) => &giver,
                    (false, true) => &before,
                    (false, false) => "",
                },
                part: match (store, shares) {
                    (true, _) => Part::Store,
                    (false, true) => Part::Shares,
                    (false, false) => Part::First,
                },
                ground: floor == 0,
                top: floor + 1 == floors,
            },
        );
        // Stores pass no air on.
        if !store {
            before = id;
        }
    }
    texts
}

/// What a room is to its zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// Lives on transfer air.
    Store,
    /// First room of a zone, which holds its terminal.
    First,
    /// Shares the terminal of the room before.
    Shares,
}

struct Drawn<'a> {
    id: &'a str,
    floor: usize,
    zone: &'a str,
    transfer_from: &'a str,
    part: Part,
    ground: bool,
    top: bool,
}

fn room(texts: &mut Texts, dice: &mut Dice, drawn: &Drawn<'_>) {
    let id = drawn.id;
    let store = drawn.part == Part::Store;
    let (kind, low, high) = if store { ("store", 4.0, 12.0) } else { KINDS[dice.below(KINDS.len())] };
    let area = dice.between(low, high);
    let height = dice.between(2.5, 3.6);
    let people = if store { 0.0 } else { (area / dice.between(2.5, 12.0)).ceil() };
    let moisture = if !store && dice.happens(0.4) { dice.between(20.0, 200.0) } else { 0.0 };
    let cooling = dice.between(23.0, 25.5);
    let heating = dice.between(19.5, 21.5);
    let exhaust = if !store && !drawn.transfer_from.is_empty() {
        // More than the 20 cfm of primary air for each person.
        format!("{:.2}", people * 9.44 * dice.between(1.1, 1.6))
    } else {
        String::new()
    };
    let terminal = match (store, drawn.part == Part::First && dice.happens(0.4)) {
        (true, _) => "none",
        (false, true) => model(area, dice),
        (false, false) => "auto",
    };
    let control = match (store, dice.share()) {
        (true, _) => "",
        (false, x) if x < 0.3 => "constant",
        (false, x) if x < 0.6 => "profile",
        (false, _) => "occupancy",
    };
    let standby = if store || dice.happens(0.4) { "no" } else { "yes" };
    let _ = writeln!(
        texts.rooms,
        "{id},{floor},{zone},{kind},{area:.3},{height:.3},{people},{light:.3},{plugs:.3},{moisture:.1},p-{id},{cooling:.2},\
         {heating:.2},{terminal},{from},{exhaust},{control},{standby},{buffer:.2}",
        floor = drawn.floor + 1,
        zone = drawn.zone,
        light = dice.between(4.0, 12.0),
        plugs = dice.between(2.0, 18.0),
        from = drawn.transfer_from,
        buffer = dice.between(2.0, 15.0),
    );
    profile(texts, dice, id);
    constructions(texts, dice, drawn);
    surfaces(texts, dice, drawn, area, height);
}

/// A built-in terminal of about the size that a room of this floor area needs.
fn model(area_m2: f64, dice: &mut Dice) -> &'static str {
    const MODELS: [&str; 8] = ["DT-1", "DT-2", "DT-3", "DT-4", "DT-5", "DT-6", "DT-7", "DT-8"];
    let fits = [12.0, 25.0, 40.0, 60.0, 90.0, 130.0].iter().filter(|a| area_m2 > **a).count();
    // Some sizes more, since other rooms may share it.
    MODELS[(fits + 1 + dice.below(2)).min(MODELS.len() - 1)]
}

/// Hours of use: people come and go at drawn hours, light follows them, plugs keep a drawn share at night.
fn profile(texts: &mut Texts, dice: &mut Dice, id: &str) {
    let (come, go) = (6 + dice.below(4), 15 + dice.below(6));
    let night = dice.between(0.05, 0.4);
    let weekend = dice.happens(0.3);
    // Some rooms are empty at noon, so that standby happens.
    let empty = if dice.happens(0.4) { Some(come + 4) } else { None };
    for (what, low) in [("people", 0.0), ("lighting", 0.05), ("plugs", night), ("process", 0.0)] {
        for (day, open) in [("weekday", true), ("weekend", weekend)] {
            let _ = write!(texts.profiles, "p-{id},{what},{day}");
            for hour in 0..24 {
                let used = open && (come..go).contains(&hour);
                let share = match used {
                    true if what == "people" && empty == Some(hour) => 0.0,
                    true => dice.between(0.5, 1.0),
                    false => low,
                };
                let _ = write!(texts.profiles, ",{share:.3}");
            }
            texts.profiles.push('\n');
        }
    }
}

/// A wall, a roof, a floor and a glass of the room's own.
fn constructions(texts: &mut Texts, dice: &mut Dice, drawn: &Drawn<'_>) {
    let id = drawn.id;
    let mut layers = |what: &str, rows: &[(&str, f64, f64, f64, f64)], absorptance: f64| {
        let _ = writeln!(
            texts.project,
            "\n[constructions.{what}-{id}]\nsolar_absorptance = \"{:.1} %\"\nlayers = [",
            absorptance * 100.0
        );
        for (name, thickness_mm, conductivity, density, heat) in rows {
            let _ = writeln!(
                texts.project,
                "  {{ name = \"{name}\", thickness = \"{thickness_mm:.2} mm\", conductivity = \"{conductivity} W/mK\", density = \
                 \"{density} kg/m3\", specific_heat = \"{heat} J/kgK\" }},"
            );
        }
        texts.project.push_str("]\n");
    };
    // Properties of common materials: common practice, no source.
    let insulation = ("insulation", dice.between(40.0, 160.0), 0.036, 30.0, 1400.0);
    let board = ("gypsum board", dice.between(9.0, 18.0), 0.16, 800.0, 1090.0);
    let face = match dice.below(3) {
        0 => ("brick", dice.between(90.0, 200.0), 0.8, 1900.0, 840.0),
        1 => ("concrete", dice.between(80.0, 250.0), 1.7, 2300.0, 920.0),
        _ => ("wood siding", dice.between(12.0, 30.0), 0.13, 550.0, 1600.0),
    };
    layers("wall", &[face, insulation, board], dice.between(0.3, 0.9));
    let slab = ("concrete", dice.between(100.0, 250.0), 1.7, 2300.0, 920.0);
    if drawn.top {
        layers("roof", &[insulation, slab], dice.between(0.3, 0.9));
    }
    if drawn.ground {
        layers("slab", &[insulation, slab], 0.7);
    }
    let _ = writeln!(
        texts.project,
        "\n[glazings.glass-{id}]\nu_value = \"{:.3} W/m2K\"\nsolar_heat_gain = \"{:.2} %\"\ninterior_shading = \"{:.1} %\"",
        dice.between(1.0, 2.8),
        dice.between(22.0, 55.0),
        dice.between(0.0, 40.0)
    );
}

fn surfaces(texts: &mut Texts, dice: &mut Dice, drawn: &Drawn<'_>, area: f64, height: f64) {
    let id = drawn.id;
    let out = &mut texts.surfaces;
    let facing = dice.between(0.0, 360.0);
    let facade = area.sqrt() * dice.between(0.6, 1.3) * height;
    let glass = facade * dice.between(0.15, 0.6);
    let _ = writeln!(out, "{id},wall,wall-{id},{:.3},{facing:.2} deg,", facade - glass);
    let overhang = if dice.happens(0.3) { format!("{:.3}", dice.between(0.1, 0.8)) } else { String::new() };
    let _ = writeln!(out, "{id},window,glass-{id},{glass:.3},{facing:.2} deg,{overhang}");
    if dice.happens(0.2) {
        // A corner room.
        let side = (facing + 90.0) % 360.0;
        let _ = writeln!(out, "{id},wall,wall-{id},{:.3},{side:.2} deg,", area.sqrt() * 0.8 * height);
    }
    if drawn.top {
        let _ = writeln!(out, "{id},roof,roof-{id},{area:.3},,");
    }
    if drawn.ground {
        let _ = writeln!(out, "{id},ground-floor,slab-{id},{area:.3},,");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_project_and_rooms_differ() {
        let texts = texts(1000, 7);
        assert_eq!(texts, super::texts(1000, 7));
        assert_ne!(texts, super::texts(1000, 8));
        assert_eq!(texts.rooms.lines().count(), 1001);
        let mut walls: Vec<&str> = texts
            .surfaces
            .lines()
            .filter(|l| l.contains(",wall,"))
            .filter_map(|l| l.split(',').nth(3))
            .collect();
        let all = walls.len();
        walls.sort_unstable();
        walls.dedup();
        // At least 95 % are distinct; areas have three decimals, so a few meet by chance.
        assert!(walls.len() as f64 >= 0.95 * all as f64, "{} of {all} walls differ", walls.len());
        let rows: Vec<Vec<&str>> = texts.rooms.lines().skip(1).map(|l| l.split(',').collect()).collect();
        let share = |what: &dyn Fn(&[&str]) -> bool| {
            rows.iter().filter(|r| what(r)).count() as f64 / rows.len() as f64
        };
        let zones = |r: &[&str]| rows.iter().filter(|o| o[2] == r[2]).count() > 1;
        for (what, found) in [
            ("zones of several rooms", share(&zones)),
            ("transfer air", share(&|r| !r[14].is_empty())),
            ("demand control", share(&|r| r[16] == "occupancy" || r[16] == "profile")),
            ("moisture of processes", share(&|r| r[9] != "0.0")),
            ("buffering", share(&|r| r[18].parse::<f64>().unwrap() > 1.0)),
        ] {
            assert!(found >= 0.3, "{what}: {found}");
        }
        assert!(rows.iter().any(|r| r[13].starts_with("DT-")) && rows.iter().any(|r| r[17] == "yes"));
    }
}
