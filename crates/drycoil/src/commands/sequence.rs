//! `drycoil sequence`: the dew-point sequence, handed over to those who build and test the controls.

use super::papers::{PaperWord, applied_defaults, weather_words};
use crate::project::load;
use crate::render::findings;
use crate::{Context, Exit, Failure, Form, files};
use clap::Args;
use drycoil_control::settings::{SequenceSettings, sequence_settings};
use drycoil_papers::{
    HandOver, Issue, Links, POINT_COLUMNS, PaperSize, ZoneAir, point_cells, points_xlsx, sequence_markdown,
    sequence_papers,
};
use drycoil_results::ResultDocument;
use drycoil_sequence::{
    Point, Scope, ZoneSensor, point_list, standard_cases, structured_text, test_sheet, written_sequence,
};
use drycoil_units::{Time, UnitSystem};
use serde_json::json;
use std::path::PathBuf;

/// Control cycle of the test sheet, s.
const CYCLE_S: f64 = 5.0;

/// Arguments of `drycoil sequence`.
#[derive(Debug, Clone, Args)]
pub struct SequenceArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Folder for the files; without it, `sequence` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Paper to print on; without it, Letter for inch-pound units and A4 for SI
    #[arg(long, value_name = "SIZE")]
    pub paper: Option<PaperWord>,
}

/// Runs the command.
pub fn run(args: &SequenceArgs, context: &mut Context) -> Result<Exit, Failure> {
    let job = load(&args.project, context)?;
    let project = &job.loaded.project;
    let system = context.settings.unit_system(Some(project.units()));
    let pool = context.pool()?;
    let design =
        drycoil_sizing::size(project, &job.weather.year, &pool).map_err(|e| Failure::Findings(e.findings))?;
    let settings = sequence_settings(project, &design).map_err(Failure::Findings)?;
    let mut list = job.notes();
    list.extend(design.findings.iter().cloned());
    list.extend(settings.findings.iter().cloned());

    let SequenceSettings { declaration, setup, .. } = &settings;
    // The declaration is checked by tests and the setup was made for it.
    let of_sequence = |error: &dyn std::fmt::Display| {
        Failure::Stream(std::io::Error::other(format!("the sequence cannot be written: {error}")))
    };
    let written = written_sequence(declaration, setup, system).map_err(|e| of_sequence(&e))?;
    let points = point_list(declaration, setup, system);
    let text = structured_text(declaration, setup, system).map_err(|e| of_sequence(&e))?;
    let cases = standard_cases(setup);
    let tests = test_sheet(declaration, setup, &cases, Time::seconds(CYCLE_S), system)
        .map_err(|e| of_sequence(&e))?;
    let air: Vec<ZoneAir> = settings
        .primary_air
        .iter()
        .map(|zone| ZoneAir {
            zone: zone.zone.clone(),
            rooms: zone.rooms.clone(),
            design_m3_per_s: zone.design_m3_per_s,
            raised_m3_per_s: zone.raised_m3_per_s,
        })
        .collect();

    let document = ResultDocument::new(project, &design, &list, crate::VERSION);
    let defaults = applied_defaults(&job);
    let weather = weather_words(&job);
    let default_paper = if system == UnitSystem::Ip { PaperSize::Letter } else { PaperSize::A4 };
    let issue = Issue {
        project,
        design: &design,
        document: &document,
        findings: &list,
        year: None,
        defaults: &defaults,
        weather: &weather,
        system,
        paper: args.paper.map_or(default_paper, Into::into),
        links: Links::BetweenFiles,
    };
    let hand_over = HandOver {
        declaration,
        setup,
        written: &written,
        points: &points,
        cases: &cases,
        tests: &tests,
        air: &air,
        delivered_most_m3_per_s: settings.delivered_most_m3_per_s,
    };
    let papers = sequence_papers(&issue, &hand_over);
    let book = points_xlsx(&points, &document)
        .map_err(|error| Failure::Stream(std::io::Error::other(error.to_string())))?;

    let folder = args.out.clone().unwrap_or_else(|| args.project.join("sequence"));
    files::create_folder(&folder)?;
    let header = format!(
        "(* {}, revision {}, input {}, drycoil {} *)\n(* Design aid for a licensed engineer; the author of the installed program answers for it. *)\n",
        in_comment(&document.project),
        in_comment(&document.revision),
        document.fingerprint,
        document.program
    );
    let mut all: Vec<(String, &str, Vec<u8>)> = papers
        .iter()
        .map(|paper| (paper.file_name(), paper.title.as_str(), paper.html.clone().into_bytes()))
        .collect();
    all.push((
        "written-sequence.md".into(),
        "Dew-point sequence as text",
        sequence_markdown(&issue, &hand_over).into_bytes(),
    ));
    all.push(("point-list.csv".into(), "Point list", csv(&points)?));
    all.push(("point-list.xlsx".into(), "Point list", book));
    all.push(("dew-point-sequence.st".into(), "Structured Text", (header + &text).into_bytes()));
    let mut paths = Vec::with_capacity(all.len());
    for (name, _, bytes) in &all {
        let path = folder.join(name);
        files::write(&path, bytes)?;
        paths.push(path);
    }

    if context.settings.form == Form::Json {
        let names: Vec<String> = paths.iter().map(|p| p.display().to_string()).collect();
        context.print_json(&summary(&document, &settings, &points, &tests, &names, &list))?;
    } else {
        let with_sensor = setup.zones().iter().filter(|z| z.sensor == ZoneSensor::Own).count();
        writeln!(
            context.out,
            "{} zones, {with_sensor} with a dew-point sensor, {} points, {} tests",
            setup.zones().len(),
            points.len(),
            cases.len()
        )?;
        for ((_, title, _), path) in all.iter().zip(&paths) {
            writeln!(context.out, "{title}: {}", path.display())?;
        }
        writeln!(context.out, "Findings: {}", findings::summary(&list))?;
        context.out.flush()?;
    }
    Ok(context.log_findings(&list))
}

/// A text that cannot end a comment of the program text.
fn in_comment(text: &str) -> String {
    text.replace("*)", "* )").replace("(*", "( *").replace(['\n', '\r'], " ")
}

fn csv(points: &[Point]) -> Result<Vec<u8>, Failure> {
    let failed = |error: csv::Error| Failure::Stream(std::io::Error::other(error.to_string()));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(POINT_COLUMNS).map_err(failed)?;
    for point in points {
        writer.write_record(point_cells(point)).map_err(failed)?;
    }
    writer.into_inner().map_err(|error| Failure::Stream(std::io::Error::other(error.to_string())))
}

fn summary(
    document: &ResultDocument<'_>,
    settings: &SequenceSettings,
    points: &[Point],
    tests: &[drycoil_sequence::TestRow],
    files: &[String],
    list: &[drycoil_findings::Finding],
) -> serde_json::Value {
    let setup = &settings.setup;
    let parameters: serde_json::Map<String, serde_json::Value> = settings
        .declaration
        .parameters
        .iter()
        .filter(|row| row.scope == Scope::Building)
        .filter_map(|row| {
            let unit = match row.kind {
                drycoil_sequence::Kind::Temperature => "_c",
                drycoil_sequence::Kind::Difference => "_k",
                drycoil_sequence::Kind::Rate => "_k_per_s",
                drycoil_sequence::Kind::Time => "_s",
                _ => "",
            };
            Some((format!("{}{unit}", row.name), json!(setup.parameters().value(row.name)?)))
        })
        .collect();
    let zones: Vec<serde_json::Value> = setup
        .zones()
        .iter()
        .zip(&settings.primary_air)
        .enumerate()
        .map(|(i, (zone, air))| {
            json!({
                "zone": zone.id,
                "room_limit_c": setup.zone_value(i, "room_limit"),
                "drying_limit_c": setup.zone_value(i, "drying_limit"),
                "rooms": air.rooms,
                "sensor": match zone.sensor { ZoneSensor::Own => "own", ZoneSensor::Neighbours => "neighbours" },
                "votes": zone.votes,
                "neighbours": zone.neighbours.iter().map(|n| setup.zones()[*n].id.as_str()).collect::<Vec<_>>(),
                "design_primary_m3_per_s": air.design_m3_per_s,
                "raised_primary_m3_per_s": air.raised_m3_per_s,
            })
        })
        .collect();
    let tests: Vec<serde_json::Value> = tests
        .iter()
        .map(|test| {
            json!({
                "case": test.case,
                "phase": test.phase + 1,
                "action": test.action,
                "place": test.place,
                "due_s": test.due.to_seconds(),
                "stage": test.stage,
                "reason": test.reason,
                "commands": test.commands,
            })
        })
        .collect();
    json!({
        "project": document.project,
        "revision": document.revision,
        "fingerprint": document.fingerprint,
        "program": document.program,
        "parameters": parameters,
        "zones": zones,
        "water_can_follow": setup.water_can_follow(),
        "delivered_most_m3_per_s": settings.delivered_most_m3_per_s,
        "points": points.len(),
        "tests": tests,
        "files": files,
        "cautions": document.cautions,
        "findings": findings::as_json(list),
    })
}
