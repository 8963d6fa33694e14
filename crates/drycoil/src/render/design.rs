//! A design as text: the headline, the terminals by their dew-point margin, what forces the choice, what is wrong.

use super::table::Table;
use super::text::{clean, count, wrap};
use drycoil_findings::{Finding, registry};
use drycoil_project::{Project, Room};
use drycoil_sizing::{Design, DewPointDecision, RoomNeeds, Service, TerminalDesign, service_word};
use drycoil_units::{Power, Quantity, QuantityKind as K, UnitSystem, fixed, format_si};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// An arrangement of the water that takes this share less at design is named beside the one that is designed.
const LESS_INPUT: f64 = 0.01;
/// How many terminals are listed unless all are asked for.
pub const FEWEST_TERMINALS: usize = 15;

/// Which terminals are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Terminals {
    /// Those with the smallest margins.
    Smallest,
    /// All.
    All,
}

/// What is shown of a design.
pub fn draw(
    project: &Project,
    design: &Design,
    system: UnitSystem,
    width: usize,
    terminals: Terminals,
) -> String {
    let mut out = String::new();
    headline(&mut out, project, design, system, width);
    terminal_table(&mut out, design, system, width, terminals);
    off_system(&mut out, project, design, width);
    governing(&mut out, design, system, width);
    trade_off(&mut out, design, system, width);
    pins(&mut out, design, system, width);
    plant(&mut out, project, design, system, width);
    problems(&mut out, design, system, width);
    out
}

fn si(kind: K, v: f64, system: UnitSystem) -> String {
    if v.is_finite() { format_si(kind, v, system) } else { "-".into() }
}

fn t(v: f64, system: UnitSystem) -> String {
    si(K::Temperature, v, system)
}

fn flow(v: f64, system: UnitSystem) -> String {
    si(K::StandardAirFlow, v, system)
}

/// A load of plant size.
fn load(w: f64, system: UnitSystem) -> String {
    match system {
        UnitSystem::Si => format!("{:.1} kW", w / 1e3),
        UnitSystem::Ip => format!("{:.1} ton", w / 3_516.852_842),
    }
}

/// A heating capacity of plant size.
fn heating(w: f64, system: UnitSystem) -> String {
    match system {
        UnitSystem::Si => format!("{:.1} kW", w / 1e3),
        UnitSystem::Ip => format!("{:.0} kBtu/h", Power::watts(w).in_unit("kBtu/h")),
    }
}

/// A number in the shown unit without the unit.
fn bare(kind: K, v: f64, decimals: usize, system: UnitSystem) -> String {
    if v.is_finite() { fixed(system.value(kind, v), decimals) } else { String::new() }
}

fn objective(d: &DewPointDecision, v: f64) -> String {
    if !v.is_finite() {
        return "-".into();
    }
    if d.objective_unit == "kWh" {
        format!("{} kWh", fixed(v / 3.6e6, 0))
    } else {
        format!("{} {}", fixed(v, 0), d.objective_unit)
    }
}

/// What serving rooms apart saves or costs; nothing where it was not weighed.
fn saved(d: &DewPointDecision, v: f64) -> String {
    if !v.is_finite() {
        String::new()
    } else if v < 0.0 {
        format!("costs {}", objective(d, -v))
    } else {
        format!("saves {}", objective(d, v))
    }
}

/// Rooms that a terminal serves, as `204` or `204 and 2 more`.
fn rooms(t: &TerminalDesign) -> String {
    match t.rooms.len() {
        1 => t.rooms[0].clone(),
        n => format!("{} and {} more", t.rooms[0], n - 1),
    }
}

fn headline(out: &mut String, project: &Project, design: &Design, system: UnitSystem, width: usize) {
    let d = &design.dew_point;
    let u = &design.primary_unit;
    let _ = writeln!(
        out,
        "{}, revision {}, {}",
        clean(&project.name.value),
        clean(&project.revision.value),
        clean(&design.site.place)
    );
    let mut line = |key: &str, text: String| {
        let _ = writeln!(out, "  {key:<22}{}", wrap(&clean(&text), width, &" ".repeat(24)));
    };
    line("supply dew point", format!("{} delivered", t(d.supply_dew_point_c, system)));
    line("room dew-point limit", t(d.room_limit_c, system));
    line("sensible water", t(d.sensible_water_c, system));
    if let Some(g) = d.governing.first() {
        let need = g.required_dew_point_c.map_or_else(
            || "no supply holds it at its fixed flow".to_owned(),
            |c| format!("its fixed flow would need {}", t(c, system)),
        );
        let note = project.room(&g.room).map_or_else(String::new, |r| format!(" ({})", r.name));
        line("governing room", format!("{}{note}: {need}", g.room));
    }
    let unserved = unserved(project, design);
    if !unserved.is_empty() {
        let ids: Vec<&str> = unserved.iter().map(|(_, room)| room.id.as_str()).collect();
        line("NOT SERVED", format!("{}: {}", count(ids.len(), "room"), ids.join(", ")));
    }
    if let Some(first) = design.terminals.first() {
        let state = if first.water_margin_k < -1e-9 {
            ", NOT DRY"
        } else if first.water_margin_k < first.required_margin_k - 1e-9 {
            ", below what sensor error and control band ask for"
        } else {
            ""
        };
        line(
            "smallest margin",
            format!(
                "{} at terminal {} ({}), {} required{state}",
                si(K::TemperatureDifference, first.water_margin_k, system),
                first.zone,
                first.coil_air_from,
                si(K::TemperatureDifference, first.required_margin_k, system)
            ),
        );
    }
    line(
        "primary air",
        format!(
            "{} in all, delivered at {}",
            flow(u.delivered_m3_per_s, system),
            t(u.delivered_dry_bulb_c, system)
        ),
    );
    line(
        "primary-air unit",
        format!(
            "{} for {} with spare and leakage; drying coil {}, {} rows, {}",
            count(u.units as usize, "unit"),
            flow(u.unit_m3_per_s, system),
            load(u.coil_load_w, system),
            u.rows,
            format_args!("{:.1} {}", system.value(K::Area, u.face_area_m2), system.symbol(K::Area))
        ),
    );
    if let Some(a) = design.plant.arrangements.iter().find(|a| a.chosen) {
        let chillers: Vec<String> = a
            .chillers
            .iter()
            .map(|c| {
                format!(
                    "{}: {} x {} at {}",
                    c.service,
                    c.count,
                    load(c.capacity_w, system),
                    t(c.leaving_c, system)
                )
            })
            .collect();
        let by = if project.water.arrangement.is_written() { "set in the project" } else { "default" };
        line("water plant", format!("{} ({by}); {}", a.arrangement, chillers.join("; ")));
    }
    line(&d.objective_name.clone(), format!("{} a year", objective(d, d.chosen.objective)));
    for b in &d.binding {
        line("binds", b.clone());
    }
}

fn terminal_table(out: &mut String, design: &Design, system: UnitSystem, width: usize, show: Terminals) {
    let all = &design.terminals;
    let _ = writeln!(out, "\nTerminals, smallest dew-point margin first");
    if all.is_empty() {
        out.push_str("none\n");
        return;
    }
    let f = system.symbol(K::StandardAirFlow);
    let te = system.symbol(K::Temperature);
    let q = system.symbol(K::Power);
    let mut table = Table::new([
        "zone".to_owned(),
        "rooms".into(),
        format!("margin\n{}", system.symbol(K::TemperatureDifference)),
        format!("coil air\ndew pt {te}"),
        "unit".into(),
        "n".into(),
        format!("primary\n{f}"),
        format!("fan\n{f}"),
        format!("coil\n{q}"),
        format!("water\n{}", system.symbol(K::WaterFlow)),
        format!("discharge\n{te}"),
    ])
    .numbers([2, 3, 5, 6, 7, 8, 9, 10])
    .wrapping(1);
    let listed = match show {
        Terminals::All => all.len(),
        Terminals::Smallest => all.len().min(FEWEST_TERMINALS),
    };
    let air = usize::from(system == UnitSystem::Si);
    let water = if system == UnitSystem::Si { 3 } else { 2 };
    for x in &all[..listed] {
        table.row([
            x.zone.clone(),
            rooms(x),
            bare(K::TemperatureDifference, x.water_margin_k, 1, system),
            bare(K::Temperature, x.coil_air_dew_point_c, 1, system),
            x.model.clone(),
            x.units.to_string(),
            bare(K::StandardAirFlow, x.primary_m3_per_s + x.supplementary_m3_per_s, air, system),
            bare(K::StandardAirFlow, x.fan_m3_per_s, air, system),
            bare(K::Power, x.coil_duty_w, 0, system),
            bare(K::WaterFlow, x.water_m3_per_s, water, system),
            bare(K::Temperature, x.discharge_c, 1, system),
        ]);
    }
    out.push_str(&table.draw(width));
    if listed < all.len() {
        let _ = writeln!(out, "and {} with larger margins; --all lists them", all.len() - listed);
    }
    let boxes: Vec<String> = all
        .iter()
        .filter(|x| x.supplementary_m3_per_s > 0.0)
        .map(|x| format!("{} with {}", x.zone, flow(x.supplementary_m3_per_s, system)))
        .collect();
    if !boxes.is_empty() {
        let text = format!("Through a supplementary primary-air box, counted above: {}.", boxes.join(", "));
        let _ = writeln!(out, "{}", wrap(&clean(&text), width, ""));
    }
    let heats: Vec<String> = all
        .iter()
        .filter(|x| design.findings.iter().any(|f| reheats(f, x)))
        .map(|x| format!("{} with {}", x.zone, si(K::Power, x.steps.reheat_w, system)))
        .collect();
    if !heats.is_empty() {
        let text =
            format!("Heat at the cooling peak, since primary air alone cools further: {}.", heats.join(", "));
        let _ = writeln!(out, "{}", wrap(&clean(&text), width, ""));
    }
    let _ = writeln!(out, "Air, coil and water are of one unit; n is the number of units.");
}

fn reheats(finding: &Finding, unit: &TerminalDesign) -> bool {
    finding.kind == registry::terminals::REHEATS_AT_PEAK
        && finding.places.iter().any(|p| p.part.as_deref() == Some(&unit.zone))
}

/// Rooms that count on a terminal for which none was found.
fn unserved<'a>(project: &'a Project, design: &'a Design) -> Vec<(&'a RoomNeeds, &'a Room)> {
    let served: BTreeSet<&str> = design.terminals.iter().flat_map(|t| &t.rooms).map(String::as_str).collect();
    let all = design.needs.iter().zip(&project.rooms);
    all.filter(|(n, room)| n.service == Service::Terminal && !served.contains(room.id.as_str())).collect()
}

fn off_system(out: &mut String, project: &Project, design: &Design, width: usize) {
    let rooms: Vec<_> = design
        .needs
        .iter()
        .zip(&project.rooms)
        .filter(|(n, _)| {
            matches!(n.service, Service::OffSystem | Service::SensibleUnits | Service::PrimaryOnly)
        })
        .collect();
    let unserved = unserved(project, design);
    if rooms.is_empty() && unserved.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nRooms without a terminal of this system");
    // Rooms with the same answer stand in one row.
    let mut rows: Vec<([String; 3], Vec<String>)> = Vec::new();
    for (n, room) in rooms {
        let why: Vec<&str> = n.screens.iter().map(|s| s.reason.as_str()).collect();
        let mut instead: Vec<&str> = n.screens.iter().map(|s| s.instead.as_str()).collect();
        instead.dedup();
        let why = if !why.is_empty() {
            why.join("; ")
        } else if n.service == Service::PrimaryOnly {
            "room air may not be recirculated".into()
        } else {
            "put off the system in the room list".into()
        };
        let answer = [service_word(n.service).to_owned(), why, instead.join("; ")];
        let name = format!("{} {}", room.id, room.name);
        match rows.iter_mut().find(|(a, _)| *a == answer) {
            Some((_, names)) => names.push(name),
            None => rows.push((answer, vec![name])),
        }
    }
    let problems = design.findings.iter().filter(|f| f.kind == registry::terminals::NO_UNIT);
    let why_of: BTreeMap<&str, &Finding> =
        problems.filter_map(|f| Some((f.places.first()?.part.as_deref()?, f))).collect();
    for (_, room) in unserved {
        let why = why_of.get(room.zone.value.as_str());
        let answer = [
            "NOT SERVED".to_owned(),
            why.map_or_else(String::new, |f| f.message.clone()),
            registry::terminals::NO_UNIT.remedy.to_owned(),
        ];
        rows.insert(0, (answer, vec![format!("{} {}", room.id, room.name)]));
    }
    let mut table = Table::new(["rooms", "served by", "why", "instead"]).wrapping(0).wrapping(2).wrapping(3);
    for ([service, why, instead], names) in rows {
        table.row([names.join(", "), service, why, instead]);
    }
    out.push_str(&table.draw(width));
}

fn governing(out: &mut String, design: &Design, system: UnitSystem, width: usize) {
    let d = &design.dew_point;
    if d.governing.is_empty() {
        return;
    }
    let te = system.symbol(K::Temperature);
    let _ = writeln!(out, "\nRooms that force the supply dew point, driest first");
    let mut table = Table::new([
        "room".to_owned(),
        format!("needs\n{te}"),
        format!("air above fixed\n{}", system.symbol(K::StandardAirFlow)),
        "served apart, with\nthose above, a year".into(),
        format!("supply then\n{te}"),
    ])
    .numbers(1..5);
    let mut ways: Vec<(String, Vec<&str>)> = Vec::new();
    for g in &d.governing {
        table.row([
            g.room.clone(),
            g.required_dew_point_c.map_or_else(|| "none".into(), |c| bare(K::Temperature, c, 1, system)),
            bare(K::StandardAirFlow, g.extra_flow_m3_per_s, usize::from(system == UnitSystem::Si), system),
            saved(d, g.saving_if_separate),
            bare(K::Temperature, g.supply_dew_point_if_separate_c, 1, system),
        ]);
        let text = g.ways.join("; ");
        match ways.iter_mut().find(|(w, _)| *w == text) {
            Some((_, rooms)) => rooms.push(&g.room),
            None => ways.push((text, vec![&g.room])),
        }
    }
    out.push_str(&table.draw(width));
    for (text, rooms) in ways {
        let _ = writeln!(
            out,
            "{}",
            wrap(&clean(&format!("Ways to serve {} apart: {text}.", rooms.join(", "))), width, "")
        );
    }
}

/// Points of the trade-off that are shown: about this many, and always the chosen one.
const CURVE_ROWS: usize = 9;

fn trade_off(out: &mut String, design: &Design, system: UnitSystem, width: usize) {
    let d = &design.dew_point;
    if d.curve.len() < 2 {
        return;
    }
    let te = system.symbol(K::Temperature);
    let plant = if system == UnitSystem::Si { "kW" } else { "ton" };
    let _ = writeln!(
        out,
        "\nTrade-off at a room limit of {} and water of {}",
        t(d.room_limit_c, system),
        t(d.sensible_water_c, system)
    );
    let mut table = Table::new([
        String::new(),
        format!("supply\n{te}"),
        format!("primary air\n{}", system.symbol(K::StandardAirFlow)),
        format!("drying\n{plant}"),
        "unit fans\nkW".into(),
        format!("{}\n{}", d.objective_name, d.objective_unit),
    ])
    .numbers(1..6);
    let chosen = d.curve.iter().position(|p| p.supply_dew_point_c == d.supply_dew_point_c);
    let step = d.curve.len().div_ceil(CURVE_ROWS).max(1);
    for (i, p) in d.curve.iter().enumerate() {
        if i % step != 0 && Some(i) != chosen && i + 1 != d.curve.len() {
            continue;
        }
        let drying = load(p.drying_load_w, system);
        table.row([
            if Some(i) == chosen { "chosen".into() } else { String::new() },
            bare(K::Temperature, p.supply_dew_point_c, 1, system),
            bare(K::StandardAirFlow, p.primary_m3_per_s, 0, system),
            drying.split(' ').next().unwrap_or_default().to_owned(),
            format!("{:.1}", p.fan_power_w / 1e3),
            objective(d, p.objective).split(' ').next().unwrap_or_default().to_owned(),
        ]);
    }
    out.push_str(&table.draw(width));
    let _ = writeln!(out, "{}", wrap(&clean(&format!("Method: {}.", d.method)), width, ""));
}

fn pins(out: &mut String, design: &Design, system: UnitSystem, width: usize) {
    let d = &design.dew_point;
    if d.pins.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nPinned values and their price");
    let mut table = Table::new(["pinned", "at", "would be", "costs a year"]).numbers([1, 2, 3]);
    for p in &d.pins {
        table.row([p.what.clone(), t(p.pinned_c, system), t(p.free_c, system), objective(d, p.price)]);
    }
    out.push_str(&table.draw(width));
}

fn plant(out: &mut String, project: &Project, design: &Design, system: UnitSystem, width: usize) {
    let p = &design.plant;
    let _ = writeln!(out, "\nWater plant: the three arrangements at design");
    let w = system.symbol(K::WaterFlow);
    let te = system.symbol(K::Temperature);
    let decimals = usize::from(system == UnitSystem::Si);
    let mut table = Table::new([
        "arrangement".to_owned(),
        String::new(),
        format!("plant flow\n{w}"),
        format!("sensible\nreturn {te}"),
        format!("drying\nreturn {te}"),
        format!("reused\n{w}"),
        format!("cold make-up\n{w}"),
        "input\nkW".into(),
    ])
    .numbers(2..8);
    for a in &p.arrangements {
        table.row([
            a.arrangement.clone(),
            match (a.chosen, project.water.arrangement.is_written()) {
                (true, true) => "set in the project".into(),
                (true, false) => "default".into(),
                (false, _) => String::new(),
            },
            bare(K::WaterFlow, a.plant_flow_m3_per_s, decimals, system),
            bare(K::Temperature, a.sensible_return_c, 1, system),
            bare(K::Temperature, a.drying_return_c, 1, system),
            bare(K::WaterFlow, a.reused_m3_per_s, decimals, system),
            bare(K::WaterFlow, a.makeup_m3_per_s, decimals, system),
            format!("{:.1}", a.input_w / 1e3),
        ]);
    }
    out.push_str(&table.draw(width));
    let least = p.arrangements.iter().min_by(|a, b| a.input_w.total_cmp(&b.input_w));
    if let (Some(least), Some(used)) = (least, p.arrangements.iter().find(|a| a.chosen))
        && least.input_w < used.input_w * (1.0 - LESS_INPUT)
    {
        let text = format!(
            "{} takes {:.1} kW at design where {} takes {:.1} kW; `arrangement` under `[water]` sets it.",
            least.arrangement,
            least.input_w / 1e3,
            used.arrangement,
            used.input_w / 1e3
        );
        let _ = writeln!(out, "{}", wrap(&clean(&text), width, ""));
    }
    let text = format!(
        "Tower {} at {} wet bulb; heating {} of {}; duct mains take {:.0} % of the all-air cross-section.",
        load(p.tower_heat_w, system),
        t(p.tower_wet_bulb_c, system),
        count(p.heating.count as usize, "machine"),
        heating(p.heating.capacity_w, system),
        design.ducts.area_ratio * 100.0
    );
    let _ = writeln!(out, "{}", wrap(&text, width, ""));
}

fn problems(out: &mut String, design: &Design, system: UnitSystem, width: usize) {
    let _ = writeln!(out, "\nOutdoor air of the building");
    let f = system.symbol(K::StandardAirFlow);
    let mut table = Table::new([
        "floor".to_owned(),
        format!("primary\n{f}"),
        format!("transfer\n{f}"),
        format!("exhaust\n{f}"),
        format!("own units\nin {f}"),
        format!("own units\nout {f}"),
        format!("surplus\n{f}"),
        format!("wanted\n{f}"),
    ])
    .numbers(1..8);
    for b in &design.balance {
        let v = |x: f64| bare(K::StandardAirFlow, x, 0, system);
        table.row([
            b.group.clone(),
            v(b.primary_m3_per_s),
            v(b.transfer_m3_per_s),
            v(b.exhaust_m3_per_s),
            v(b.own_units_outdoor_m3_per_s),
            v(b.own_units_exhaust_m3_per_s),
            v(b.surplus_m3_per_s),
            v(b.pressurization_m3_per_s),
        ]);
    }
    out.push_str(&table.draw(width));
    let mut kinds: Vec<(&str, &str, Vec<&str>)> = Vec::new();
    for f in &design.findings {
        let Some(room) = f.places.iter().find_map(|p| p.part.as_deref()) else { continue };
        if !registry::comfort::ALL.contains(&f.kind) {
            continue;
        }
        match kinds.iter_mut().find(|k| k.0 == f.id()) {
            Some(k) => k.2.push(room),
            None => kinds.push((f.id(), f.kind.title, vec![room])),
        }
    }
    if !kinds.is_empty() {
        let _ = writeln!(out, "\nComfort and code: rooms to look at");
        let mut table = Table::new(["finding", "what", "rooms"]).wrapping(2).wrapping(1);
        for (id, title, rooms) in kinds {
            table.row([id.to_owned(), title.to_owned(), rooms.join(", ")]);
        }
        out.push_str(&table.draw(width));
    }
}
