//! The calculation book: the working of every scheduled number, for a checker who follows it line by line.

use crate::issue::{Issue, PaperFile};
use crate::register::{Register, Scheduled, ScheduledPlace, Volume, link};
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use drycoil_sizing::sheet;
use drycoil_working::{Line, Origin, Sheet, Source};
use maud::{Markup, PreEscaped, html};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Publications that formulas come from, with the place in them.
pub(crate) type Sources = BTreeSet<(&'static str, &'static str)>;

/// The volumes, and the sources that they use.
pub(crate) fn volumes(issue: &Issue<'_>, set: &[Entry], register: &Register) -> (Vec<PaperFile>, Sources) {
    // Every place is rendered by itself, so that volumes of different length keep all threads busy.
    let places: Vec<(String, Sources)> =
        register.places.par_iter().map(|place| rendered(issue, register, place)).collect();
    let sources = places.iter().flat_map(|(_, s)| s.iter().copied()).collect();
    let files = register.volumes.par_iter().map(|v| volume(issue, set, register, v, &places)).collect();
    (files, sources)
}

fn volume(
    issue: &Issue<'_>,
    set: &[Entry],
    register: &Register,
    volume: &Volume,
    places: &[(String, Sources)],
) -> PaperFile {
    let body = html! {
        p {
            "The working of every scheduled number: the formula, the formula with numbers, the result, where each number comes \
             from, and the source of the formula. The head of each sheet leads back to the schedule."
        }
        nav.contents aria-label="Places of this volume" {
            h2 { "Places" }
            ul { @for i in &volume.places { li { a href={ "#" (place_id(*i)) } { (register.places[*i].place) } } } }
        }
        @for i in &volume.places {
            section {
                h2 id=(place_id(*i)) { (register.places[*i].place) }
                (PreEscaped(&places[*i].0))
            }
        }
    };
    let paper = Paper { issue, set, name: &volume.name, lie: Lie::Across, frame: Frame::Full, class: "book" };
    paper.finish(&body, Figures::default())
}

/// Name of the part of a volume that belongs to a place.
pub(crate) fn place_id(index: usize) -> String {
    format!("p{}", index + 1)
}

fn rendered(issue: &Issue<'_>, register: &Register, place: &ScheduledPlace) -> (String, Sources) {
    let mut sources = Sources::new();
    let mut out = String::with_capacity(place.numbers.len() * 3000);
    out.push_str(
        &html! {
            colgroup { col.c1; col.c2; col.c3; col.c4; }
            thead {
                tr {
                    th scope="col" { "Step" }
                    th scope="col" { "Formula, with numbers, result" }
                    th scope="col" { "Numbers and where they come from" }
                    th scope="col" { "Source" }
                }
            }
        }
        .into_string(),
    );
    for number in &place.numbers {
        let Some(sheet) = sheet(issue.project, issue.design, &place.place, &number.quantity) else {
            continue;
        };
        sources
            .extend(sheet.lines.iter().filter_map(|l| l.source.as_ref()).map(|s| (s.publication, s.method)));
        out.push_str(&one(issue, register, place, number, &sheet).into_string());
    }
    let table = html! {
        table {
            caption { "Working, " (place.place) }
            (PreEscaped(out))
        }
    };
    (table.into_string(), sources)
}

fn one(
    issue: &Issue<'_>,
    register: &Register,
    place: &ScheduledPlace,
    number: &Scheduled,
    sheet: &Sheet,
) -> Markup {
    let volume = &register.volumes[place.volume].name;
    let back = link(volume, issue.links, "schedules", &number.cell_id());
    let result = sheet.lines.last().map(|l| l.shown(issue.system)).unwrap_or_default();
    let schedule = register.schedules[number.schedule].name;
    html! {
        tbody {
            tr id=(number.working_id()) {
                th scope="rowgroup" colspan="4" {
                    b { (result) }
                    @match back {
                        Some(href) => { a href=(href) { (sheet.title) } ", schedule " (schedule) }
                        None => { (sheet.title) ", schedule " (schedule) }
                    }
                }
            }
            @for (i, line) in sheet.lines.iter().enumerate() {
                tr {
                    td { (i + 1) ". " (line.meaning) @if let Some(note) = &line.note { br; i { (note) } } }
                    td { (calculation(issue, line)) }
                    td {
                        @if !line.inputs.is_empty() {
                            ul {
                                @for input in &line.inputs {
                                    li {
                                        @if line.formula != "given" { (input.symbol) " = " (input.shown(issue.system)) ": " }
                                        (origin(issue, register, volume, sheet, &input.origin))
                                    }
                                }
                            }
                        }
                    }
                    td { @if let Some(Source { publication, method }) = &line.source { (publication) ", " (method) } }
                }
            }
        }
    }
}

fn calculation(issue: &Issue<'_>, line: &Line) -> Markup {
    // What is taken as it stands has no formula.
    if line.formula == "given" {
        return html! { code.result { (line.symbol) " = " (line.shown(issue.system)) } };
    }
    let numbers = line.numbers(issue.system);
    html! {
        code { (line.symbol) " = " (line.formula) }
        // A line without symbols has no numbers to put in.
        @if numbers != line.formula { code { "= " (numbers) } }
        code.result { "= " (line.shown(issue.system)) }
    }
}

/// Where a number comes from; a number of another sheet leads there.
fn origin(issue: &Issue<'_>, register: &Register, volume: &str, sheet: &Sheet, origin: &Origin) -> Markup {
    let Origin::Line(line) = origin else { return html! { (origin) } };
    if let Some(step) = sheet.lines.iter().position(|l| l.symbol == *line) {
        return html! { "step " (step + 1) };
    }
    let href = line
        .rsplit_once(' ')
        .and_then(|(place, quantity)| register.working(volume, issue.links, place, quantity));
    html! { @if let Some(href) = href { a href=(href) { (line) } } @else { (line) } }
}
