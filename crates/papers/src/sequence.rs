//! The hand-over of the dew-point sequence: written sequence, point list, commissioning test sheet.

use crate::issue::{Issue, PaperFile};
use crate::numbers::quantity;
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use crate::table::{Tr, numbers, row, table, words};
use crate::workbook::{about, heading, print_setup, width};
use drycoil_air::raw;
use drycoil_results::ResultDocument;
use drycoil_sequence::{
    Case, Declaration, Paragraph, Point, PointKind, Setup, TestRow, WrittenTransition, ZoneSensor,
    inputs_to_set,
};
use drycoil_units::QuantityKind as K;
use maud::{Markup, html};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, XlsxError};
use std::fmt::Write as _;

const SEQUENCE: &str = "written-sequence";
const POINTS: &str = "point-list";
const TESTS: &str = "test-sheet";

/// Primary air of a zone, standard flow of all its terminals.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneAir {
    /// Zone.
    pub zone: String,
    /// Rooms.
    pub rooms: Vec<String>,
    /// At design.
    pub design_m3_per_s: f64,
    /// With the damper fully open.
    pub raised_m3_per_s: f64,
}

/// What is handed over.
#[derive(Debug, Clone, Copy)]
pub struct HandOver<'a> {
    /// The sequence.
    pub declaration: &'a Declaration,
    /// Numbers and zones.
    pub setup: &'a Setup,
    /// The sequence in words, in the unit system of the issue.
    pub written: &'a [Paragraph],
    /// Points.
    pub points: &'a [Point],
    /// Cases of the test sheet.
    pub cases: &'a [Case],
    /// What must be seen.
    pub tests: &'a [TestRow],
    /// Primary air of the zones, in the order of the setup.
    pub air: &'a [ZoneAir],
    /// Most primary air that the unit delivers, standard flow.
    pub delivered_most_m3_per_s: f64,
}

/// The documents of the hand-over: written sequence, point list, test sheet.
pub fn sequence_papers(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> Vec<PaperFile> {
    let entry = |name: &str, title: &str| Entry { name: name.to_owned(), title: title.to_owned() };
    let set = [
        entry(SEQUENCE, "Dew-point sequence"),
        entry(POINTS, "Point list"),
        entry(TESTS, "Commissioning test sheet"),
    ];
    let paper = |name, lie, class| Paper { issue, set: &set, name, lie, frame: Frame::Full, class };
    vec![
        paper(SEQUENCE, Lie::Upright, "sequence").finish(&written(issue, hand_over), Figures::default()),
        paper(POINTS, Lie::Across, "points").finish(&points(hand_over), Figures::default()),
        paper(TESTS, Lie::Upright, "tests").finish(&tests(issue, hand_over), Figures::default()),
    ]
}

/// The written sequence as Markdown: headings, lists, and one table of settings.
pub fn sequence_markdown(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> String {
    let d = issue.document;
    let mut out = format!(
        "# Dew-point sequence\n\n{}, revision {}. Input {}, drycoil {}.\n",
        d.project, d.revision, d.fingerprint, d.program
    );
    let mut last_was_list = false;
    for part in hand_over.written {
        let list = !matches!(part, Paragraph::Heading(_) | Paragraph::Text(_));
        // An empty line before each heading, each text and each list.
        if !(list && last_was_list) {
            out.push('\n');
        }
        last_was_list = list;
        match part {
            Paragraph::Setting { parameter: Some(parameter), name, value } => {
                let _ = write!(out, "- {name}: {value} ({})", origin(issue, parameter));
            }
            other => out.push_str(&other.to_string()),
        }
        out.push('\n');
    }
    out.push_str("\n## Primary air of the zones\n\n");
    for air in hand_over.air {
        let _ = writeln!(
            out,
            "- {}: {} at design, {} with the damper fully open",
            air.zone,
            quantity(issue.system, K::StandardAirFlow, air.design_m3_per_s),
            quantity(issue.system, K::StandardAirFlow, air.raised_m3_per_s)
        );
    }
    out.push_str("\n## Sensors\n\n");
    for line in sensor_plan(issue, hand_over) {
        let _ = writeln!(out, "- {line}");
    }
    out.push_str("\n## Cautions\n\n");
    for caution in &d.cautions {
        let _ = writeln!(out, "- {caution}");
    }
    out.replace('\u{a0}', " ")
}

/// Where a number of the sequence comes from.
fn origin(issue: &Issue<'_>, parameter: &str) -> String {
    let s = &issue.project.sequence;
    let of_design = match parameter {
        "room_limit" => return "room limit of the design".to_owned(),
        "water_design" => return "sensible water of the design".to_owned(),
        "shut_margin" => s.shut_margin.is_none(),
        "water_lowest" => s.water_lowest.is_none(),
        "primary_wet_limit" => s.primary_wet_limit.is_none(),
        "drying_limit" => s.drying_limit.is_none(),
        _ => false,
    };
    if of_design {
        return "follows from the design".to_owned();
    }
    let key = match parameter {
        "water_ceiling" => "water_rise",
        "water_fall_rate" => "water_fall_per_minute",
        other => other,
    };
    let full = format!("sequence.{key}");
    match issue.defaults.iter().find(|d| d.key == full) {
        Some(default) => format!("default: {}; {}", default.rule, default.source),
        None => format!("project.toml, {full}"),
    }
}

/// Where sensors are, and what their errors mean in dew point.
fn sensor_plan(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> Vec<String> {
    let p = hand_over.setup.parameters();
    let show = |k: K, v: f64| quantity(issue.system, k, v);
    let pressure = issue.design.site.pressure_pa;
    let limit = p.room_limit.to_celsius();
    let room = issue.project.rooms.first().map_or(24.0, |r| r.cooling_set_point.value.to_celsius());
    let w = raw::humidity_ratio_at_dew_point(limit, pressure);
    let rh = raw::relative_humidity(room, w, pressure);
    // A reading of relative humidity that is too high by this much, at the room limit.
    let error = |points: f64| {
        let read = raw::humidity_ratio_from_relative_humidity(room, rh + points, pressure);
        raw::dew_point_c(read, pressure) - limit
    };
    let zones = hand_over.setup.zones();
    let without: Vec<&str> =
        zones.iter().filter(|z| z.sensor == ZoneSensor::Neighbours).map(|z| z.id.as_str()).collect();
    let mut lines = vec![
        format!(
            "{} of {} zones carry a dew-point sensor.{}",
            zones.len() - without.len(),
            zones.len(),
            if without.is_empty() {
                String::new()
            } else {
                format!(
                    " Neighbours stand in, with {} on top, for {}.",
                    show(K::TemperatureDifference, p.proxy_margin.to_kelvin()),
                    without.join(", ")
                )
            }
        ),
        format!(
            "At {} and the room limit of {}, an error of 3 % in relative humidity is {} of dew point, one of 2 % is {}. \
             The design counts on {}; the water follows at an offset of {}.",
            show(K::Temperature, room),
            show(K::Temperature, limit),
            show(K::TemperatureDifference, error(0.03)),
            show(K::TemperatureDifference, error(0.02)),
            show(K::TemperatureDifference, issue.project.criteria.sensor_error.value.to_kelvin()),
            show(K::TemperatureDifference, p.water_offset.to_kelvin())
        ),
        "Every coil carries a wet switch that is wired to its valve and shuts it without software."
            .to_owned(),
    ];
    let judged = zones.iter().filter(|z| z.neighbours.len() < 2).count();
    if judged > 0 {
        lines.push(format!(
            "{judged} of {} zones have fewer than two neighbours: their sensors cannot be judged by comparison and are to be \
             checked by hand, twice a year or as their maker asks.",
            zones.len()
        ));
    }
    if !hand_over.setup.water_can_follow() {
        lines.push(
            "The zones have no more votes than are ignored: the water of the building never follows the dew point, and coil \
             valves alone keep coils dry."
                .to_owned(),
        );
    }
    lines
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn written(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> Markup {
    let mut groups: Vec<(&str, Vec<&Paragraph>)> = Vec::new();
    for part in hand_over.written {
        match part {
            Paragraph::Heading(title) => groups.push((title, Vec::new())),
            other => {
                if let Some((_, list)) = groups.last_mut() {
                    list.push(other);
                }
            }
        }
    }
    html! {
        nav.contents aria-label="Parts" {
            h2 { "Parts" }
            ul { @for (i, (title, _)) in groups.iter().enumerate() { li { a href={ "#p" (i + 1) } { (title) } } } }
        }
        @for (i, (title, parts)) in groups.iter().enumerate() {
            section {
                h2 id={ "p" (i + 1) } { (title) }
                (group(issue, hand_over, title, parts))
                @if *title == "Zones" {
                    h3 { "Sensors" }
                    ul { @for line in sensor_plan(issue, hand_over) { li { (line) } } }
                }
            }
        }
    }
}

fn group(issue: &Issue<'_>, hand_over: &HandOver<'_>, title: &str, parts: &[&Paragraph]) -> Markup {
    if title == "Zones" {
        return zones(issue, hand_over);
    }
    let settings: Vec<Tr> = parts
        .iter()
        .filter_map(|part| match part {
            Paragraph::Setting { parameter, name, value } => Some(row([
                name.clone(),
                value.replace(' ', "\u{a0}"),
                parameter.map_or_else(String::new, |p| origin(issue, p)),
            ])),
            _ => None,
        })
        .collect();
    if !settings.is_empty() {
        let heads = [words("Setting"), numbers("Value", ""), words("Where it comes from")];
        return table("Numbers of this project", &heads, &settings);
    }
    let mut out = Vec::new();
    let mut rest = parts;
    while let Some((first, after)) = rest.split_first() {
        let (markup, used) = run(first, rest);
        out.push(markup);
        rest = if used > 1 { &rest[used..] } else { after };
    }
    html! { @for part in out { (part) } }
}

/// What the first paragraphs of the same form look like together, and how many they are.
fn run(first: &Paragraph, parts: &[&Paragraph]) -> (Markup, usize) {
    let same = |test: fn(&Paragraph) -> bool| parts.iter().take_while(|p| test(p)).count().max(1);
    match first {
        Paragraph::Stage { .. } => {
            let used = same(|p| matches!(p, Paragraph::Stage { .. }));
            let rows: Vec<Tr> = parts[..used]
                .iter()
                .filter_map(|p| match p {
                    Paragraph::Stage { name, words } => Some(row([name, words])),
                    _ => None,
                })
                .collect();
            (table("Stages", &[words("Stage"), words("What happens")], &rows), used)
        }
        Paragraph::Transition(_) => {
            let used = same(|p| matches!(p, Paragraph::Transition(_)));
            let rows: Vec<Tr> = parts[..used]
                .iter()
                .filter_map(|p| match p {
                    Paragraph::Transition(t) => Some(transition(t)),
                    _ => None,
                })
                .collect();
            let heads = [words("From"), words("To"), words("When"), words("After"), words("Reason shown")];
            (table("Changes of stage, the first listed first", &heads, &rows), used)
        }
        Paragraph::Rule { .. } => {
            let used = same(|p| matches!(p, Paragraph::Rule { .. }));
            let rows: Vec<Tr> = parts[..used]
                .iter()
                .filter_map(|p| match p {
                    Paragraph::Rule { name, value } => Some(row([name.clone(), capital(value)])),
                    _ => None,
                })
                .collect();
            (table("How it is worked out", &[words("What"), words("How")], &rows), used)
        }
        Paragraph::Text(text) => (html! { p { (text) } }, 1),
        other => (html! { p { (other.to_string()) } }, 1),
    }
}

fn transition(t: &WrittenTransition) -> Tr {
    row([
        t.from.join(", "),
        t.to.clone(),
        capital(&t.when),
        t.delay.as_ref().map_or_else(|| "at once".to_owned(), |d| d.replace(' ', "\u{a0}")),
        capital(&t.reason),
    ])
}

fn zones(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> Markup {
    let flow = |v: f64| quantity(issue.system, K::StandardAirFlow, v);
    let all = hand_over.setup.zones();
    let rows: Vec<Tr> = all
        .iter()
        .zip(hand_over.air)
        .map(|(zone, air)| {
            let near: Vec<&str> = zone.neighbours.iter().map(|n| all[*n].id.as_str()).collect();
            row([
                zone.id.clone(),
                air.rooms.join(", "),
                match zone.sensor {
                    ZoneSensor::Own => "own".to_owned(),
                    ZoneSensor::Neighbours => "neighbours".to_owned(),
                },
                if near.is_empty() { "none".to_owned() } else { near.join(", ") },
                zone.votes.to_string(),
                flow(air.design_m3_per_s),
                flow(air.raised_m3_per_s),
            ])
        })
        .collect();
    let raised: f64 = hand_over.air.iter().map(|a| a.raised_m3_per_s).sum();
    html! {
        (table(
            "Zones with a terminal",
            &[
                words("Zone"), words("Rooms"), words("Dew point"), words("Neighbours"), numbers("Votes", ""),
                numbers("Primary air at design", ""), numbers("Damper fully open", ""),
            ],
            &rows,
        ))
        p.note {
            "The primary-air unit delivers at most " (flow(hand_over.delivered_most_m3_per_s)) "; all dampers fully open at once would ask for "
            (flow(raised)) "."
        }
    }
}

/// Word for a kind of point.
pub fn point_kind_word(kind: PointKind) -> &'static str {
    match kind {
        PointKind::AnalogInput => "analog input",
        PointKind::AnalogOutput => "analog output",
        PointKind::AnalogValue => "analog value",
        PointKind::BinaryInput => "binary input",
        PointKind::BinaryOutput => "binary output",
        PointKind::BinaryValue => "binary value",
        PointKind::MultiStateValue => "multi-state value",
    }
}

/// Titles of the columns of the point list.
pub const POINT_COLUMNS: [&str; 8] =
    ["Name", "What it is", "Kind", "Unit", "Range or states", "Alarm text", "Brick class", "Haystack tags"];

/// Cells of a point, in the order of [`POINT_COLUMNS`].
pub fn point_cells(point: &Point) -> [&str; 8] {
    [
        &point.name,
        &point.description,
        point_kind_word(point.kind),
        &point.unit,
        &point.range,
        &point.alarm,
        &point.brick,
        &point.haystack,
    ]
}

fn counts(points: &[Point]) -> Vec<(&'static str, usize)> {
    [
        PointKind::AnalogInput,
        PointKind::AnalogOutput,
        PointKind::AnalogValue,
        PointKind::BinaryInput,
        PointKind::BinaryOutput,
        PointKind::BinaryValue,
        PointKind::MultiStateValue,
    ]
    .into_iter()
    .map(|kind| (point_kind_word(kind), points.iter().filter(|p| p.kind == kind).count()))
    .filter(|(_, count)| *count > 0)
    .collect()
}

fn points(hand_over: &HandOver<'_>) -> Markup {
    let owner = |p: &Point| p.name.rsplit_once('.').map_or("", |(owner, _)| owner).to_owned();
    let mut groups: Vec<(String, Vec<&Point>)> = Vec::new();
    for point in hand_over.points {
        let own = owner(point);
        match groups.last_mut() {
            Some((last, list)) if *last == own => list.push(point),
            _ => groups.push((own, vec![point])),
        }
    }
    let short = |name: &str| name.rsplit_once('.').map_or(name, |(_, n)| n).to_owned();
    html! {
        ul.key {
            li { b { (hand_over.points.len()) } "points" }
            @for (word, count) in counts(hand_over.points) { li { b { (count) } (word) } }
        }
        p.note {
            "Names are zone, a point, and the name of the signal in the written sequence and the program text. Inputs and outputs "
            "are wired or come from other controllers; values live in software. Classes are of the Brick ontology, version 1.4.4; "
            "tags are of the definitions of Project Haystack, version 3.9.2, where the quality of a reading is the tag curStatus of "
            "its point."
        }
        @for (i, (own, list)) in groups.iter().enumerate() {
            // Zones are alike: the first one is told in full, the others by what differs.
            @if i < 2 {
                h2 { @if own == "building" { "Building" } @else { "Zone " (own) ", and every other zone" } }
                @let rows: Vec<Tr> = list.iter().map(|p| {
                    let mut cells = point_cells(p).map(str::to_owned);
                    // A break after an underscore, nowhere else.
                    cells[0] = short(&p.name).replace('_', "_\u{200b}");
                    cells[6] = cells[6].replace('_', "_\u{200b}");
                    row(cells)
                }).collect();
                (table("Points", &POINT_COLUMNS.map(words), &rows))
            }
        }
        @if groups.len() > 2 {
            h2 { "Zones" }
            @let (own, without): (Vec<_>, Vec<_>) =
                groups[1..].iter().partition(|(_, list)| list.iter().any(|p| short(&p.name) == "dew_point"));
            @let names = |list: &[&(String, Vec<&Point>)]| list.iter().map(|(zone, _)| zone.as_str()).collect::<Vec<_>>().join(", ");
            p { "With all of these points: " (names(&own)) "." }
            @if !without.is_empty() {
                p { "Without dew_point, dew_point_good and alarm_sensor, as neighbours stand in: " (names(&without)) "." }
            }
        }
    }
}

fn tests(issue: &Issue<'_>, hand_over: &HandOver<'_>) -> Markup {
    let all = hand_over.setup.zones();
    html! {
        p {
            "Each test begins with a controller that has just been started. Set the inputs as told, with simulated readings where the "
            "room itself cannot be made so, and hold them; the stages must come at the times shown, counted from the action, within two "
            "cycles of the controller. Fill in what was seen."
        }
        p.alarm {
            "Life safety and smoke control outrank this sequence: tests that touch them are announced to those responsible, and run only "
            "with their consent. Health-care room pressure is not upset for a test."
        }
        dl.facts.title-block {
            dt { "Controller, program version" } dd { "." }
            dt { "Date, weather" } dd { "." }
            dt { "Tested by, role" } dd { "." }
            dt { "Witnessed by, role" } dd { "." }
        }
        @for (i, case) in hand_over.cases.iter().enumerate() {
            section.test {
                h2 id={ "c" (i + 1) } { "Test " (i + 1) ": " (case.title) " " span.note { "(" (case.name) ")" } }
                @for (number, phase) in case.phases.iter().enumerate() {
                    @let own: Vec<&TestRow> = hand_over.tests.iter().filter(|t| t.case == case.name && t.phase == number).collect();
                    h3 { (number + 1) ". " (capital(&phase.action)) }
                    @let earlier = same_start(hand_over, i, number, &own);
                    @if earlier.is_none() {
                        ul.set {
                            @for line in inputs_to_set(hand_over.declaration, hand_over.setup, case, number, issue.system) {
                                li { (capital(&line)) }
                            }
                        }
                    }
                    p.note { "Hold for " (hold_minutes(case, number, &own)) " min." }
                    @if own.is_empty() { p { "No stage changes." } }
                    @else if let Some(earlier) = earlier {
                        p { "As in test " (earlier + 1) "." }
                    }
                    @else { (phase_table(&own)) }
                }
            }
        }
        h2 { "Every zone" }
        p {
            "What was tried on one zone is tried on each: the valve shuts when its wet switch is wetted, with the controller switched off "
            "as well; the damper moves from minimum to fully open; the reading agrees with a hand-held instrument."
        }
        (table(
            "One row for each zone",
            &[
                words("Zone"), words("Wet switch shuts valve"), words("Same, controller off"), words("Damper at minimum and full"),
                words("Dew point read"), words("By hand"), words("Pass, initials"),
            ],
            &all.iter().map(|z| row([
                z.id.as_str(), "", "", "",
                match z.sensor { ZoneSensor::Own => "", ZoneSensor::Neighbours => "no sensor" },
                "", "",
            ])).collect::<Vec<Tr>>(),
        ))
    }
}

/// How long inputs are held; at the end, until the last stage has come.
fn hold_minutes(case: &Case, number: usize, own: &[&TestRow]) -> f64 {
    let whole = (case.phases[number].duration.to_seconds() / 60.0).ceil();
    match own.iter().map(|t| t.due.to_seconds()).reduce(f64::max) {
        Some(last) if number + 1 == case.phases.len() => whole.min((last / 60.0).ceil() + 1.0),
        _ => whole,
    }
}

/// The first test that begins as this one does.
fn same_start(hand_over: &HandOver<'_>, case: usize, number: usize, own: &[&TestRow]) -> Option<usize> {
    let phase = &hand_over.cases[case].phases[number];
    let alike = |other: &Case| {
        let rows: Vec<&TestRow> =
            hand_over.tests.iter().filter(|t| t.case == other.name && t.phase == 0).collect();
        number == 0
            && other.phases[0] == *phase
            && rows.len() == own.len()
            && rows.iter().zip(own).all(|(a, b)| {
                a.place == b.place && a.due == b.due && a.stage == b.stage && a.commands == b.commands
            })
    };
    hand_over.cases[..case].iter().position(alike)
}

/// Rows of a phase; zones that do the same at the same time share one.
fn phase_table(rows: &[&TestRow]) -> Markup {
    let mut groups: Vec<(&TestRow, Vec<&str>)> = Vec::new();
    for row in rows {
        let alike = groups.iter_mut().find(|(first, _)| {
            first.place != "building"
                && row.place != "building"
                && first.due == row.due
                && first.stage == row.stage
                && first.reason == row.reason
                && first.commands == row.commands
        });
        match alike {
            Some((_, places)) => places.push(&row.place),
            None => groups.push((row, vec![&row.place])),
        }
    }
    let rows: Vec<Tr> = groups
        .iter()
        .map(|(first, places)| {
            // Commands that are off, or at minimum, say little.
            let (on, off): (Vec<&String>, Vec<&String>) =
                first.commands.iter().partition(|c| !c.ends_with(": no"));
            let mut commands: Vec<String> = on.into_iter().cloned().collect();
            let off: Vec<&str> = off.iter().filter_map(|c| c.strip_suffix(": no")).collect();
            if !off.is_empty() {
                commands.push(format!("off: {}", off.join(", ")));
            }
            let place = match places.as_slice() {
                [one] => (*one).to_owned(),
                [one, other] => format!("{one}, {other}"),
                many => format!("{} and {} more zones", many[0], many.len() - 1),
            };
            row([
                first.due_text.replace(' ', "\u{a0}"),
                place,
                first.stage.clone(),
                capital(&first.reason),
                commands.join("; "),
                String::new(),
            ])
        })
        .collect();
    let heads = [
        words("After"),
        words("Where"),
        words("Stage"),
        words("Reason shown"),
        words("Commands and alarms"),
        words("Seen at, pass, initials"),
    ];
    table("Must be seen", &heads, &rows)
}

/// The point list as an XLSX file. The same points give the same bytes.
///
/// # Errors
/// When a text does not fit the format; points have none that does not.
pub fn points_xlsx(points: &[Point], document: &ResultDocument<'_>) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let properties = DocProperties::new()
        .set_title(format!("{}, point list", document.project))
        .set_comment(format!("revision {}, {}", document.revision, document.program))
        .set_creation_datetime(&ExcelDateTime::from_ymd(2000, 1, 1)?);
    book.set_properties(&properties);
    let sheet = book.add_worksheet();
    sheet.set_name("Points")?;
    let head = heading();
    let wrap = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    for (c, title) in POINT_COLUMNS.iter().enumerate() {
        let c = c as u16;
        sheet.write_string_with_format(0, c, *title, &head)?;
        sheet.set_column_format(c, &wrap)?;
        for (r, point) in points.iter().enumerate() {
            let text = point_cells(point)[usize::from(c)];
            if !text.is_empty() {
                sheet.write_string(r as u32 + 1, c, text)?;
            }
        }
        let texts = points.iter().map(|p| point_cells(p)[usize::from(c)].chars().count());
        sheet.set_column_width(c, width(texts.chain([title.len()])))?;
    }
    sheet.set_freeze_panes(1, 1)?;
    print_setup(sheet, "Point list")?;
    about(book.add_worksheet(), document)?;
    book.save_to_buffer()
}
