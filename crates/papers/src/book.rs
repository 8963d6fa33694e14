//! The calculation book: the working of every scheduled number, for a checker who follows it line by line.

use crate::issue::{Issue, PaperFile};
use crate::register::{Register, Scheduled, ScheduledPlace, Volume, link};
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use drycoil_sizing::sheet;
use drycoil_working::{Line, Origin, Sheet, Source};
use maud::{Markup, PreEscaped, html};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Publications that formulas come from, with the place in them.
pub(crate) type Sources = BTreeSet<(&'static str, &'static str)>;

/// The volumes, and the sources that they use.
pub(crate) fn volumes(issue: &Issue<'_>, set: &[Entry], register: &Register) -> (Vec<PaperFile>, Sources) {
    // Every place is rendered by itself, so that volumes of different length keep all threads busy.
    let places: Vec<(String, Sources)> =
        (0..register.places.len()).into_par_iter().map(|i| rendered(issue, register, i)).collect();
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
             from, and the source of the formula. The title of each number leads back to the schedule. Steps are numbered through \
             each place; a step that several numbers share is printed once, and the others name it."
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

/// The steps of one place, numbered through. A step that several numbers share is printed once.
struct Steps<'a> {
    issue: &'a Issue<'a>,
    register: &'a Register,
    place: &'a ScheduledPlace,
    /// Name of the part of the volume.
    id: String,
    /// Number of each step by what it says.
    known: BTreeMap<String, usize>,
    /// Name of the row of each step.
    anchors: Vec<String>,
    sources: Sources,
}

fn rendered(issue: &Issue<'_>, register: &Register, index: usize) -> (String, Sources) {
    let place = &register.places[index];
    let mut steps = Steps {
        issue,
        register,
        place,
        id: place_id(index),
        known: BTreeMap::new(),
        anchors: Vec::new(),
        sources: Sources::new(),
    };
    let sheets: Vec<(&Scheduled, Sheet)> = place
        .numbers
        .iter()
        .filter_map(|n| Some((n, sheet(issue.project, issue.design, &place.place, &n.quantity)?)))
        .collect();
    let (given, derived): (Vec<_>, Vec<_>) = sheets.into_iter().partition(|(_, s)| is_given(s));
    let mut out = String::with_capacity(place.numbers.len() * 2000);
    if !given.is_empty() {
        out.push_str("<tbody><tr><th scope=\"rowgroup\" colspan=\"4\">Taken as they stand</th></tr>");
        for (number, sheet) in &given {
            out.push_str(&steps.given(number, sheet).into_string());
        }
        out.push_str("</tbody>");
    }
    for (number, sheet) in &derived {
        out.push_str(&steps.derived(number, sheet).into_string());
    }
    let table = html! {
        table {
            caption { "Working, " (place.place) }
            colgroup { col.c1; col.c2; col.c3; col.c4; }
            thead {
                tr {
                    th scope="col" { "Step" }
                    th scope="col" { "Formula, with numbers, result" }
                    th scope="col" { "Numbers and where they come from" }
                    th scope="col" { "Source" }
                }
            }
            (PreEscaped(out))
        }
    };
    (table.into_string(), steps.sources)
}

/// Whether a sheet only says where its number was written.
fn is_given(sheet: &Sheet) -> bool {
    matches!(sheet.lines.as_slice(), [line] if line.formula == "given")
}

/// The cells of a step behind its name.
struct StepCells {
    name: Markup,
    rest: Markup,
}

impl Steps<'_> {
    /// The way back to the schedule, and which one it is.
    fn title(&self, number: &Scheduled, sheet: &Sheet) -> Markup {
        let volume = &self.register.volumes[self.place.volume].name;
        let schedule = self.register.schedules[number.schedule].name;
        html! {
            @match link(volume, self.issue.links, "schedules", &number.cell_id()) {
                Some(href) => { a href=(href) { (sheet.title) } ", schedule " (schedule) }
                None => { (sheet.title) ", schedule " (schedule) }
            }
        }
    }

    /// A number that is taken as it stands: one row.
    fn given(&mut self, number: &Scheduled, sheet: &Sheet) -> Markup {
        let line = &sheet.lines[0];
        let cells = self.cells(sheet, line, &[]);
        let (step, _) = self.step(&cells, Some(number));
        let meaning = (line.meaning != sheet.title).then_some(&cells.name);
        html! {
            tr id=(number.working_id()) {
                td {
                    (step) ". " (self.title(number, sheet))
                    @if let Some(meaning) = meaning { ": " (meaning) }
                }
                (cells.rest)
            }
        }
    }

    fn derived(&mut self, number: &Scheduled, sheet: &Sheet) -> Markup {
        let result = sheet.lines.last().map(|l| l.shown(self.issue.system)).unwrap_or_default();
        // The numbers of the steps so far, in the order of the lines of the sheet.
        let mut at: Vec<usize> = Vec::with_capacity(sheet.lines.len());
        let mut rows = String::new();
        let mut last_is_new = false;
        for line in &sheet.lines {
            let cells = self.cells(sheet, line, &at);
            let (step, is_new) = self.step(&cells, None);
            at.push(step);
            last_is_new = is_new;
            if is_new {
                let row = html! {
                    tr id=(self.anchor(step)) { td { (step) ". " (cells.name) } (cells.rest) }
                };
                rows.push_str(&row.into_string());
            }
        }
        html! {
            tbody {
                tr id=(number.working_id()) {
                    th scope="rowgroup" colspan="4" { b { (result) } (self.title(number, sheet)) }
                }
                (PreEscaped(rows))
                @if let Some(last) = at.last().filter(|_| !last_is_new) {
                    tr { td colspan="4" { "The result of " (self.reference(*last)) "." } }
                }
            }
        }
    }

    /// The number of a step, and whether it was not printed before. The row of a number that is taken as it stands bears
    /// the name of that number, every other one that of its step.
    fn step(&mut self, cells: &StepCells, given: Option<&Scheduled>) -> (usize, bool) {
        let next = self.anchors.len() + 1;
        let says = format!("{}{}", cells.name.0, cells.rest.0);
        let step = *self.known.entry(says).or_insert(next);
        if step == next {
            self.anchors.push(given.map_or_else(|| format!("{}-{next}", self.id), Scheduled::working_id));
        }
        (step, step == next)
    }

    /// The name of the row of a step; its first is 1.
    fn anchor(&self, step: usize) -> &str {
        &self.anchors[step - 1]
    }

    fn reference(&self, step: usize) -> Markup {
        html! { a href={ "#" (self.anchor(step)) } { "step " (step) } }
    }

    /// What a line says; `at` holds the numbers of the steps before it on its sheet.
    fn cells(&mut self, sheet: &Sheet, line: &Line, at: &[usize]) -> StepCells {
        if let Some(s) = &line.source {
            self.sources.insert((s.publication, s.method));
        }
        let is_given = line.formula == "given";
        let rest = html! {
            td { (calculation(self.issue, line)) }
            td {
                @if !line.inputs.is_empty() {
                    ul {
                        @for input in &line.inputs {
                            li {
                                @if !is_given { (input.symbol) " = " (input.shown(self.issue.system)) ": " }
                                (self.origin(sheet, &input.origin, at))
                            }
                        }
                    }
                }
            }
            td { @if let Some(Source { publication, method }) = &line.source { (publication) ", " (method) } }
        };
        let name = html! { (line.meaning) @if let Some(note) = &line.note { br; i { (note) } } };
        StepCells { name, rest }
    }

    /// Where a number comes from; a number of another sheet leads there.
    fn origin(&self, sheet: &Sheet, origin: &Origin, at: &[usize]) -> Markup {
        let Origin::Line(line) = origin else { return html! { (origin) } };
        let before = sheet.lines.iter().position(|l| l.symbol == *line).and_then(|i| at.get(i));
        if let Some(step) = before {
            return self.reference(*step);
        }
        let volume = &self.register.volumes[self.place.volume].name;
        let href = line
            .rsplit_once(' ')
            .and_then(|(place, quantity)| self.register.working(volume, self.issue.links, place, quantity));
        html! { @if let Some(href) = href { a href=(href) { (line) } } @else { (line) } }
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
