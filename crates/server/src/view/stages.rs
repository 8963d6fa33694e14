//! The stages, in the order in which air and water flow, and what each shows.

use super::year;
use crate::engine::{Designed, Extent, Snapshot};
use drycoil_control::settings::sequence_settings;
use drycoil_papers::{POINT_COLUMNS, point_cells, shown_number};
use drycoil_sequence::{Paragraph, point_list, written_sequence};
use drycoil_sizing::{Cell, ColumnKind, Schedule, schedules};
use drycoil_units::UnitSystem;
use serde_json::{Value, json};

/// A stage of the rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stage {
    /// Name in addresses.
    pub id: &'static str,
    /// Title.
    pub title: &'static str,
    /// The question that its picture answers.
    pub question: &'static str,
    /// Tables of cells.
    pub files: &'static [&'static str],
    /// First names of the tables of `project.toml`.
    pub paths: &'static [&'static str],
    /// Schedules.
    pub schedules: &'static [&'static str],
    /// Pictures with their titles.
    pub pictures: &'static [(&'static str, &'static str)],
}

/// All stages.
pub const STAGES: [Stage; 10] = [
    Stage {
        id: "site",
        title: "Site",
        question: "Where does it stand, and in which weather?",
        files: &[],
        paths: &["project", "site", "waive"],
        schedules: &["Floors"],
        pictures: &[],
    },
    Stage {
        id: "rooms",
        title: "Rooms",
        question: "Which room is closest to wet?",
        files: &["rooms.csv", "rooms.xlsx", "surfaces.csv", "profiles.csv"],
        paths: &["criteria", "room_kinds", "constructions", "glazings"],
        schedules: &["Rooms", "Primary air"],
        pictures: &[("margins", "Dew-point margin by room")],
    },
    Stage {
        id: "dew-point",
        title: "Dew point",
        question: "How dry must the primary air be, and what does it cost?",
        files: &[],
        paths: &["dew_point"],
        schedules: &["Dew point"],
        pictures: &[("trade-off", "Choice of the supply dew point"), ("chart", "Psychrometric chart")],
    },
    Stage {
        id: "terminals",
        title: "Terminals",
        question: "Does every coil stay dry?",
        files: &[],
        paths: &["terminals"],
        schedules: &["Terminals", "Coils", "Part load", "Comfort"],
        pictures: &[("margins", "Dew-point margin by room")],
    },
    Stage {
        id: "primary-air",
        title: "Primary air",
        question: "What does the central unit do to the air?",
        files: &[],
        paths: &["primary_air", "ducts"],
        schedules: &[
            "Primary-air unit",
            "Unit conditions",
            "Unit air states",
            "Air balance",
            "Ducts",
            "Duct space",
        ],
        pictures: &[("chart", "Psychrometric chart")],
    },
    Stage {
        id: "water",
        title: "Water",
        question: "Where does the water come from, and how warm is it?",
        files: &[],
        paths: &["water", "plant"],
        schedules: &["Plant", "Water loops", "Chillers", "Pumps", "Pipes"],
        pictures: &[("water-loop", "Water at design")],
    },
    Stage {
        id: "year",
        title: "Year",
        question: "Does it stay dry all year, and what does it save?",
        files: &[],
        paths: &["year", "all_air", "economics"],
        schedules: &[],
        pictures: &[
            ("carpet", "Smallest margin of every hour"),
            ("months", "Energy by month"),
            ("duration", "Hours at each load"),
        ],
    },
    Stage {
        id: "excursion",
        title: "Excursion",
        question: "Does every coil stay dry when something goes wrong?",
        files: &[],
        paths: &[],
        schedules: &[],
        pictures: &[],
    },
    Stage {
        id: "sequence",
        title: "Sequence",
        question: "What do the controls do when it grows humid?",
        files: &[],
        paths: &["sequence"],
        schedules: &[],
        pictures: &[],
    },
    Stage {
        id: "papers",
        title: "Papers",
        question: "What is handed over?",
        files: &[],
        paths: &[],
        schedules: &[],
        pictures: &[],
    },
];

/// The stage that shows a table of `project.toml`, by the first name of its path.
pub(crate) fn of_path(name: &str) -> &'static str {
    STAGES.iter().find(|s| s.paths.contains(&name)).map_or("site", |s| s.id)
}

/// A schedule as texts.
fn schedule_as_json(schedule: &Schedule, system: UnitSystem) -> Value {
    let columns: Vec<Value> = schedule
        .columns
        .iter()
        .map(|c| {
            json!({
                "key": c.key,
                "title": c.title,
                "unit": c.unit(system),
                "number": c.kind != ColumnKind::Text,
            })
        })
        .collect();
    let rows: Vec<Value> = schedule
        .rows
        .iter()
        .map(|row| {
            let cells: Vec<String> = schedule
                .columns
                .iter()
                .zip(&row.cells)
                .map(|(column, cell)| match cell {
                    Cell::Empty => String::new(),
                    Cell::Text(text) => text.clone(),
                    Cell::Number(si) => shown_number(column, *si, system),
                })
                .collect();
            json!({ "place": row.place, "prefix": row.prefix, "cells": cells })
        })
        .collect();
    json!({
        "name": schedule.name,
        "title": schedule.title,
        "upright": schedule.upright,
        "working": true,
        "columns": columns,
        "rows": rows,
    })
}

fn of_design(stage: &Stage, designed: &Designed, system: UnitSystem) -> Vec<Value> {
    let all = schedules(&designed.job.loaded.project, &designed.design);
    stage
        .schedules
        .iter()
        .filter_map(|name| all.iter().find(|s| s.name == *name && !s.rows.is_empty()))
        .map(|s| schedule_as_json(s, system))
        .collect()
}

/// The dew-point sequence in words with the numbers of the project, and its points; instead of the words why there are none.
fn sequence(d: &Designed, system: UnitSystem) -> (Value, Option<Value>) {
    let trouble = |text: String| (json!([{ "kind": "trouble", "text": text }]), None);
    let settings = match sequence_settings(&d.job.loaded.project, &d.design) {
        Ok(settings) => settings,
        Err(list) => return trouble(list.first().map_or_else(String::new, |f| f.message.clone())),
    };
    let paragraphs = match written_sequence(&settings.declaration, &settings.setup, system) {
        Ok(paragraphs) => paragraphs,
        Err(error) => return trouble(error.to_string()),
    };
    let words: Vec<Value> = paragraphs
        .iter()
        .map(|p| match p {
            Paragraph::Heading(text) => json!({ "kind": "heading", "text": text }),
            Paragraph::Text(text) => json!({ "kind": "text", "text": text }),
            Paragraph::Setting { name, value, .. } => {
                json!({ "kind": "setting", "name": name, "text": value })
            }
            Paragraph::Stage { name, words } => json!({ "kind": "stage", "name": name, "text": words }),
            Paragraph::Rule { name, value } => json!({ "kind": "setting", "name": name, "text": value }),
            Paragraph::Transition(_) => {
                json!({ "kind": "item", "text": p.to_string().trim_start_matches("- ") })
            }
        })
        .collect();
    let column = |title: &str| json!({ "key": "", "title": title, "unit": "", "number": false });
    let points = point_list(&settings.declaration, &settings.setup, system);
    let table = json!({
        "name": "Points",
        "title": "Points",
        "upright": false,
        "working": false,
        "columns": POINT_COLUMNS.map(column),
        "rows": points.iter().map(|p| json!({ "place": p.name, "prefix": "", "cells": point_cells(p) })).collect::<Vec<_>>(),
    });
    (json!(words), Some(table))
}

/// What a stage shows; none when there is no such stage.
pub fn stage(s: &Snapshot, id: &str, system: UnitSystem) -> Option<Value> {
    let stage = STAGES.iter().find(|stage| stage.id == id)?;
    let mut tables = s.designed.as_ref().map_or_else(Vec::new, |d| of_design(stage, d, system));
    let mut stale = s.design_is_stale();
    let mut written = Value::Null;
    if id == "sequence"
        && let Some(d) = &s.designed
    {
        let (words, points) = sequence(d, system);
        written = words;
        tables.extend(points);
    }
    if id == "year" {
        stale = s.year_is_stale();
        if let Some(y) = &s.simulated {
            tables.extend(year::tables(y, system));
        }
    }
    Some(json!({
        "id": stage.id,
        "title": stage.title,
        "question": stage.question,
        "serial": s.serial,
        "stale": stale || s.job.is_none(),
        "files": stage.files,
        "tables": tables,
        "written": written,
        "pictures": stage.pictures.iter().map(|(name, title)| {
            let ready = match (id, *name) {
                ("year", _) => s.simulated.is_some(),
                (_, "trade-off") => s.designed.as_ref().is_some_and(|d| d.extent == Extent::Whole),
                _ => s.designed.is_some(),
            };
            json!({ "name": name, "title": title, "ready": ready })
        }).collect::<Vec<_>>(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_has_a_stage_that_names_it() {
        for form in drycoil_intake::project::forms() {
            let first = form.path.split('.').next().unwrap();
            if form.file == "project.toml" {
                assert!(STAGES.iter().any(|s| s.paths.contains(&first)), "{}", form.path);
            }
        }
    }
}
