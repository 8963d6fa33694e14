//! The schedules on paper: the same cells as in the workbook, in tables that fit the sheet.

use crate::issue::{Issue, PaperFile};
use crate::register::{Register, Scheduled};
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use crate::table::{Head, head};
use crate::workbook::shown_number;
use drycoil_sizing::{Cell, Column, ColumnKind, Row, Schedule};
use maud::{Markup, html};

/// Width of a character and padding of a cell at the type size of schedules, points.
const CHARACTER_PT: f64 = 4.0;
const PADDING_PT: f64 = 6.5;
/// Longest text that keeps one line, in characters.
const LONGEST: usize = 28;
/// Rows from which a schedule begins a page of its own.
const LONG: usize = 24;

pub(crate) const NAME: &str = "schedules";

pub(crate) fn document(issue: &Issue<'_>, set: &[Entry], register: &Register) -> PaperFile {
    let shown: Vec<(usize, &Schedule)> =
        register.schedules.iter().enumerate().filter(|(_, s)| !s.rows.is_empty()).collect();
    let body = html! {
        nav.contents aria-label="Schedules" {
            h2 { "Schedules" }
            ul { @for (i, s) in &shown { li { a href={ "#t" (i + 1) } { (s.name) } } } }
        }
        @for (i, s) in &shown {
            section.long[s.rows.len() > LONG] {
                h2 id={ "t" (i + 1) } { (s.title) }
                @if s.upright { (upright(issue, register, *i, s)) } @else { (flat(issue, register, *i, s)) }
                @let notes = notes(s.name);
                @if !notes.is_empty() { ul.note { @for n in notes { li { (n) } } } }
            }
        }
    };
    let paper = Paper { issue, set, name: NAME, lie: Lie::Across, frame: Frame::Full, class: "schedule" };
    paper.finish(&body, Figures::default())
}

/// What a contractor has to know beside the numbers.
fn notes(schedule: &str) -> &'static [&'static str] {
    match schedule {
        "Terminals" => &[
            "Air, loads, power and hot water are of one unit; the number of units stands beside the model.",
            "Dew-point margin: water entering the coil less the dew point of the air that meets it, at the worst occupied design \
             hour. A coil without a drain must keep the required margin; the rooms with the smallest margin stand first.",
            "Sound and pressures are those of the catalogue at the air flow named; confirm with the unit supplied.",
        ],
        "Coils" => &[
            "One unit. Water flow and duty at design; the capacity is with the valve open at the same fan air.",
            "Valve coefficients are metric (m3/h at 1 bar) in both unit systems; times 1.156 they are those in gpm at 1 psi.",
        ],
        "Part load" => &["The margin at part load is what the room keeps while its valve closes."],
        "Primary air" => &[
            "The governing need is the largest of ventilation, flow per person, moisture, exhaust, pressurization and air \
             changes. Balance to the column `Primary air`.",
        ],
        "Primary-air unit" | "Unit conditions" => &["All units together. Air flows are standard air."],
        "Unit air states" => {
            &["All units together. Flows are standard air; the actual flow stands in its own column."]
        }
        "Water loops" | "Chillers" | "Pumps" | "Pipes" => {
            &["All arrangements are listed for comparison; only rows marked as chosen are to be built."]
        }
        "Ducts" => &["The all-air rows are for comparison of space only and are not to be built."],
        "Plant" => {
            &["Legionella control, water treatment and refrigerant safety need their own qualified design."]
        }
        "Air balance" => &["Surplus: primary plus transfer air less exhaust."],
        _ => &[],
    }
}

/// Whether a row is the one of several arrangements that is to be built.
fn is_chosen(schedule: &Schedule, row: &Row) -> bool {
    let yes = |(column, cell): (&Column, &Cell)| {
        column.key == "chosen" && matches!(cell, Cell::Text(text) if text == "yes")
    };
    schedule.columns.iter().zip(&row.cells).any(yes)
}

/// Characters of a text.
fn text_length(cell: &Cell) -> usize {
    match cell {
        Cell::Text(text) => text.chars().count(),
        _ => 0,
    }
}

fn text_width(cell: &Cell, column: &Column, issue: &Issue<'_>) -> usize {
    match cell {
        Cell::Empty => 0,
        Cell::Text(_) => text_length(cell).min(LONGEST),
        Cell::Number(si) => shown_number(column, *si, issue.system).len(),
    }
}

fn width_pt(schedule: &Schedule, c: usize, issue: &Issue<'_>) -> f64 {
    let column = &schedule.columns[c];
    let title = column.title.split([' ', '-']).map(|w| w.chars().count()).max().unwrap_or(0);
    let title = title.max(column.unit(issue.system).chars().count());
    let cells = schedule.rows.iter().map(|r| text_width(&r.cells[c], column, issue)).max().unwrap_or(0);
    title.max(cells) as f64 * CHARACTER_PT + PADDING_PT
}

/// Leading columns that tell rows apart.
fn keys(schedule: &Schedule) -> usize {
    let texts = schedule.columns.iter().take_while(|c| c.kind == ColumnKind::Text).count().max(1);
    (1..=texts)
        .find(|n| {
            let mut seen = std::collections::BTreeSet::new();
            schedule.rows.iter().all(|r| {
                let key: Vec<&str> = r.cells[..*n]
                    .iter()
                    .map(|c| match c {
                        Cell::Text(t) => t.as_str(),
                        _ => "",
                    })
                    .collect();
                seen.insert(key)
            })
        })
        .unwrap_or(texts)
}

/// The columns of each table into which a wide schedule is divided; the keys are repeated in each.
fn parts(schedule: &Schedule, issue: &Issue<'_>) -> (usize, Vec<Vec<usize>>) {
    let keys = keys(schedule);
    let widths: Vec<f64> = (0..schedule.columns.len()).map(|c| width_pt(schedule, c, issue)).collect();
    let key_width: f64 = widths[..keys].iter().sum();
    let room = (issue.paper.landscape_width_pt() - key_width).max(1.0);
    let total: f64 = widths[keys..].iter().sum();
    // Parts of about the same width look alike.
    let count = (total / room).ceil().max(1.0);
    let target = total / count;
    let mut parts: Vec<Vec<usize>> = vec![Vec::new()];
    let (mut used, mut all) = (0.0, 0.0);
    for (c, w) in widths.iter().enumerate().skip(keys) {
        let full = used + w > room || (all + w / 2.0 > target * parts.len() as f64 && used > 0.0);
        if full && used > 0.0 {
            parts.push(Vec::new());
            used = 0.0;
        }
        if let Some(last) = parts.last_mut() {
            last.push(c);
        }
        used += w;
        all += w;
    }
    (keys, parts)
}

fn title(column: &Column, issue: &Issue<'_>) -> Head {
    Head {
        title: column.title.to_owned(),
        unit: column.unit(issue.system).to_owned(),
        numeric: column.kind != ColumnKind::Text,
        held: false,
    }
}

fn flat(issue: &Issue<'_>, register: &Register, s: usize, schedule: &Schedule) -> Markup {
    let (keys, parts) = parts(schedule, issue);
    html! {
        @for (n, part) in parts.iter().enumerate() {
            @let columns: Vec<usize> = (0..keys).chain(part.iter().copied()).collect();
            @let heads: Vec<Head> = columns.iter().map(|c| title(&schedule.columns[*c], issue)).collect();
            table {
                caption {
                    (schedule.name)
                    @if parts.len() > 1 { ", part " (n + 1) " of " (parts.len()) }
                }
                (head(&heads))
                tbody {
                    @for (r, row) in schedule.rows.iter().enumerate() {
                        tr.mark[is_chosen(schedule, row)] {
                            @for (i, c) in columns.iter().enumerate() {
                                @if i < keys { th.k scope="row" { (cell(issue, register, (s, r, *c), schedule, row)) } }
                                @else {
                                    @let numeric = schedule.columns[*c].kind != ColumnKind::Text;
                                    @let short = text_length(&row.cells[*c]) <= LONGEST;
                                    td class=[if numeric { Some("n") } else { short.then_some("k") }] { (cell(issue, register, (s, r, *c), schedule, row)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn upright(issue: &Issue<'_>, register: &Register, s: usize, schedule: &Schedule) -> Markup {
    html! {
        @for (r, row) in schedule.rows.iter().enumerate() {
            table.upright {
                caption { (schedule.name) }
                thead {
                    tr { th scope="col" { "Quantity" } th.n scope="col" { "Value" } th scope="col" { "Unit" } }
                }
                tbody {
                    @for (c, column) in schedule.columns.iter().enumerate() {
                        tr {
                            th scope="row" { (column.title) }
                            td.n { (cell(issue, register, (s, r, c), schedule, row)) }
                            td {
                                // The only plain amounts of the dew-point schedule are prices.
                                @if schedule.name == "Dew point" && column.kind == ColumnKind::Number(0) { (issue.design.dew_point.objective_unit) }
                                @else { (column.unit(issue.system)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A cell: the number rounded, its full SI value beside it for machines, and the way to its working.
fn cell(
    issue: &Issue<'_>,
    register: &Register,
    at: (usize, usize, usize),
    schedule: &Schedule,
    row: &Row,
) -> Markup {
    let column = &schedule.columns[at.2];
    match &row.cells[at.2] {
        Cell::Empty => html! {},
        Cell::Text(text) => html! { (text) },
        Cell::Number(si) => {
            let number = html! { data value=(si) { (shown_number(column, *si, issue.system)) } };
            let quantity = row.quantity(column);
            let href = register.working(NAME, issue.links, &row.place, &quantity);
            let own = Scheduled { quantity, schedule: at.0, row: at.1, column: at.2 };
            html! {
                @if let Some(href) = href { a id=(own.cell_id()) href=(href) { (number) } }
                @else { span id=(own.cell_id()) { (number) } }
            }
        }
    }
}
