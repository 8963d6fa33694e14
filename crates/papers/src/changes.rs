//! What changed between two revisions, on paper.

use crate::issue::{Issue, PaperFile};
use crate::shell::{Entry, Figures, Frame, Lie, Paper};
use crate::table::{Tr, numbers, row, table, words};
use drycoil_changes::{ChangesDocument, NumberChange, StepKind};
use maud::{Markup, html};

const NAME: &str = "changes";

/// The changes of a revision as a document. `issue` is the new revision.
///
/// A document without [`ChangesDocument::changes`], as of two result files, says that nothing is known.
pub fn changes_paper(issue: &Issue<'_>, document: &ChangesDocument) -> PaperFile {
    let set = [Entry {
        name: NAME.to_owned(),
        title: format!("Changes since revision {}", document.before.revision),
    }];
    let body = match &document.changes {
        None => html! { p { "Inputs and schedules were not compared." } },
        Some(changes) if changes.is_empty() => html! {
            p { "Nothing changed: every input means the same, every scheduled number is the same, and no finding arose or went." }
        },
        Some(changes) => {
            let hidden = changes.numbers.len() - changes.printed().count();
            html! {
                p {
                    "Revision " (document.before.revision) " (input " (document.before.fingerprint) ") against revision "
                    (document.after.revision) " (input " (document.after.fingerprint) "). "
                    (changes.inputs.len()) " inputs and " (changes.printed().count()) " scheduled values changed"
                    @if hidden > 0 { "; " (hidden) " more differ by less than a printed digit" }
                    "."
                }
                section {
                    h2 { "Inputs" }
                    @if changes.inputs.is_empty() { p { "No input changed." } }
                    (table(
                        "Changed inputs",
                        &[numbers("No.", ""), words("Input"), words("Line"), words("Was"), words("Is")],
                        &changes.inputs.iter().enumerate().map(|(i, c)| {
                            let line = c.new_place.as_ref().or(c.old_place.as_ref()).and_then(|p| p.line);
                            Tr { cells: vec![
                                html! { span id={ "i" (i + 1) } { (i + 1) } },
                                html! { (c.name()) },
                                html! { @if let Some(line) = line { (line) } },
                                html! { (c.old.as_deref().unwrap_or("-")) },
                                html! { (c.new.as_deref().unwrap_or("-")) },
                            ], ..Tr::default() }
                        }).collect::<Vec<_>>(),
                    ))
                }
                section {
                    h2 { "Schedules" }
                    p.note {
                        "`From` names the changed inputs that lead to a value, `through` the scheduled quantities between the \
                         first of them and the value, as the calculation book uses them. Where a search or a simulation stands \
                         between two quantities, it is said. A value whose cause is not found has none."
                    }
                    (schedules(issue, changes.printed().collect()))
                }
                @if !(changes.arisen.is_empty() && changes.gone.is_empty()) {
                    section {
                        h2 { "Findings" }
                        @for (title, list) in [("Findings that arose", &changes.arisen), ("Findings that went", &changes.gone)] {
                            (table(
                                title,
                                &[words("Id"), words("Severity"), words("Message")],
                                &list.iter().map(|f| row([f.id.as_str(), &f.severity, &f.message])).collect::<Vec<_>>(),
                            ))
                        }
                    }
                }
            }
        }
    };
    let paper =
        Paper { issue, set: &set, name: NAME, lie: Lie::Across, frame: Frame::Full, class: "changes" };
    paper.finish(&body, Figures::default())
}

fn schedules(issue: &Issue<'_>, printed: Vec<&NumberChange>) -> Markup {
    let mut groups: Vec<(&str, Vec<&NumberChange>)> = Vec::new();
    for n in printed {
        match groups.last_mut() {
            Some((name, list)) if *name == n.schedule => list.push(n),
            _ => groups.push((n.schedule, vec![n])),
        }
    }
    let heads = [
        words("Place"),
        words("Quantity"),
        words("Unit"),
        numbers("Was", ""),
        numbers("Is", ""),
        words("From"),
        words("Through"),
    ];
    html! {
        @if groups.is_empty() { p { "No scheduled value looks different." } }
        @for (name, list) in groups {
            (table(name, &heads, &list.iter().map(|n| change(issue, n)).collect::<Vec<_>>()))
        }
    }
}

fn change(issue: &Issue<'_>, n: &NumberChange) -> Tr {
    let system = issue.system;
    let cells = vec![
        html! { (n.place) },
        html! { (n.title) },
        html! { (n.column.unit(system)) },
        html! { (n.shown(n.old.as_ref(), system)) },
        html! { (n.shown(n.new.as_ref(), system)) },
        html! {
            @for (i, c) in n.causes.iter().enumerate() {
                @if i > 0 { ", " }
                a href={ "#i" (c.input + 1) } { (c.input + 1) }
            }
            @if n.more_causes { " and more" }
            @if n.causes.is_empty() { "not found" }
        },
        html! {
            @if let Some(first) = n.causes.first() {
                @for (i, step) in first.steps.iter().enumerate() {
                    @let last = i + 1 == first.steps.len();
                    @if !last || step.kind != StepKind::Formula {
                        @if i > 0 { ", then " }
                        @match step.kind {
                            StepKind::Formula => {}
                            StepKind::Search => "by search ",
                            StepKind::Simulation => "by simulation ",
                        }
                        @if !last { (step.place) " " (step.quantity.replace('_', " ")) }
                    }
                }
            } @else { (n.other_values.join("; ")) }
        },
    ];
    Tr { cells, ..Tr::default() }
}
