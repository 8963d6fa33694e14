//! `drycoil check`: everything that is wrong with a project, in one pass.

use crate::project::load;
use crate::render::findings;
use crate::render::text::{clean, count, whole_length, wrap};
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_project::TerminalChoice;
use drycoil_units::{Area, Quantity};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Arguments of `drycoil check`.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
}

/// Runs the command.
pub fn run(args: &CheckArgs, context: &mut Context) -> Result<Exit, Failure> {
    // Findings are the result of this command, so they go to standard output, bad input or not.
    let job = match load(&args.project, context) {
        Ok(job) => job,
        Err(Failure::Findings(list)) => return context.print_findings(&list),
        Err(failure) => return Err(failure),
    };
    let project = &job.loaded.project;
    let notes = job.notes();
    let area: f64 = project.rooms.iter().map(|r| r.floor_area.value.to_square_metres()).sum();
    let people: f64 = project.rooms.iter().map(|r| r.people.value).sum();
    let zones = project.zones();
    let with_terminal = zones
        .iter()
        .filter(|(_, rooms)| rooms.iter().any(|r| project.rooms[*r].terminal.value != TerminalChoice::None))
        .count();
    let station = job.weather.year.station();
    if context.settings.form == Form::Json {
        context.print_json(&json!({
            "project": project.name.value,
            "revision": project.revision.value,
            "rooms": project.rooms.len(),
            "zones_with_terminal": with_terminal,
            "floor_area_m2": area,
            "people": people,
            "surfaces": project.surfaces.len(),
            "terminal_models": project.catalogue.models.len(),
            "weather_station": station.name,
            "fingerprint": format!("{:016x}", project.fingerprint),
            "findings": findings::as_json(&notes),
        }))?;
        return Ok(findings::exit(&notes, context.settings.fail_on));
    }
    let units = context.settings.unit_system(Some(project.units()));
    writeln!(
        context.out,
        "{}, revision {}, {}: can be sized",
        clean(&project.name.value),
        clean(&project.revision.value),
        clean(&project.site.place.value)
    )?;
    let width = context.settings.width;
    let mut lines: Vec<(&str, String)> = Vec::new();
    let mut floors: Vec<&str> = Vec::new();
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for room in &project.rooms {
        if !floors.contains(&room.floor.as_str()) {
            floors.push(&room.floor);
        }
        *kinds.entry(room.kind.value.as_str()).or_default() += 1;
    }
    lines.push((
        "rooms",
        format!(
            "{} on {}, {}, {}",
            count(project.rooms.len(), "room"),
            count(floors.len(), "floor"),
            Area::square_metres(area).show(units),
            if people == 1.0 { "1 person".to_owned() } else { format!("{people:.0} people") },
        ),
    ));
    let mut by_number: Vec<(&str, usize)> = kinds.into_iter().collect();
    by_number.sort_by_key(|entry| std::cmp::Reverse(entry.1));
    let kinds: Vec<String> = by_number.iter().map(|(kind, n)| format!("{kind} x {n}")).collect();
    lines.push(("kinds", kinds.join(", ")));
    lines.push(("zones", format!("{}, {with_terminal} with a terminal", count(zones.len(), "zone"))));
    lines.push(("surfaces", count(project.surfaces.len(), "exposed surface")));
    lines.push(("terminal units", count(project.catalogue.models.len(), "model")));
    let elevation = project.site.elevation.as_ref().map_or(station.elevation, |e| e.value);
    lines.push((
        "weather",
        format!(
            "{} ({}, {}); site at {}",
            station.name,
            job.loaded.weather_file,
            job.weather.year.format(),
            whole_length(units, elevation)
        ),
    ));
    let pins = &project.criteria.pins;
    let pinned: Vec<String> = [
        ("supply dew point", &pins.supply_dew_point),
        ("room limit", &pins.room_limit),
        ("sensible water", &pins.sensible_water),
    ]
    .into_iter()
    .filter_map(|(name, pin)| pin.as_ref().map(|p| format!("{name} {}", p.value.show(units))))
    .collect();
    let mut free: Vec<&str> = Vec::new();
    for (name, pin) in [
        ("supply dew point", &pins.supply_dew_point),
        ("room limit", &pins.room_limit),
        ("sensible water", &pins.sensible_water),
    ] {
        if pin.is_none() {
            free.push(name);
        }
    }
    if !pinned.is_empty() {
        lines.push(("pinned", pinned.join(", ")));
    }
    if !free.is_empty() {
        lines.push(("solved", free.join(", ")));
    }
    for (key, text) in lines {
        writeln!(context.out, "  {key:<16}{}", wrap(&clean(&text), width, &" ".repeat(18)))?;
    }
    if notes.is_empty() {
        return Ok(Exit::Clean);
    }
    context.print_findings(&notes)
}
