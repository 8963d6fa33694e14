//! `drycoil check`: everything that is wrong with a project, in one pass.

use crate::project::load;
use crate::render::findings;
use crate::{Context, Exit, Failure, Form};
use clap::Args;
use drycoil_project::TerminalChoice;
use drycoil_units::{Area, Quantity};
use serde_json::json;
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
    writeln!(context.out, "{}, revision {}: can be sized", project.name.value, project.revision.value)?;
    writeln!(
        context.out,
        "  {} rooms, {} zones with a terminal, {}, {people:.0} people, {} exposed surfaces",
        project.rooms.len(),
        with_terminal,
        Area::square_metres(area).show(units),
        project.surfaces.len(),
    )?;
    writeln!(context.out, "  weather: {}, {}", station.name, job.loaded.weather_file)?;
    let pins = &project.criteria.pins;
    let pinned: Vec<String> = [
        ("supply dew point", &pins.supply_dew_point),
        ("room limit", &pins.room_limit),
        ("sensible water", &pins.sensible_water),
    ]
    .into_iter()
    .filter_map(|(name, pin)| pin.as_ref().map(|p| format!("{name} {}", p.value.show(units))))
    .collect();
    if pinned.is_empty() {
        writeln!(context.out, "  supply dew point, room limit and sensible water are solved")?;
    } else {
        writeln!(context.out, "  pinned: {}; the rest is solved", pinned.join(", "))?;
    }
    if notes.is_empty() {
        return Ok(Exit::Clean);
    }
    context.print_findings(&notes)
}
