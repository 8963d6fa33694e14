//! What the documents rest on: assumptions, defaults, findings, references.

use super::heading;
use crate::book::Sources;
use crate::issue::Issue;
use crate::table::{Tr, marks, numbers, row, table, words};
use drycoil_findings::{Finding, Severity};
use maud::{Markup, html};

pub(super) fn assumptions(issue: &Issue<'_>) -> Markup {
    let year: Vec<Tr> = issue
        .year
        .iter()
        .flat_map(|p| p.assumptions)
        .map(|a| row([&a.about, &a.what, &a.value, &a.source, &a.key]))
        .collect();
    let defaults: Vec<Tr> =
        issue.defaults.iter().map(|d| row([&d.key, &d.text, &d.rule, &d.source])).collect();
    html! {
        section {
            (heading("assumptions"))
            p { "Sizing of the mains: " (issue.design.ducts.method) "." }
            (table(
                "What the comparison of the schemes assumes",
                &[words("About"), words("What"), words("Value"), words("Source"), words("Key of the project")],
                &year,
            ))
            @if defaults.is_empty() { p { "No default applied: everything was entered." } }
            (table(
                "Defaults that applied because the project says nothing",
                &[words("Key"), words("Value"), words("Rule"), words("Source")],
                &defaults,
            ))
        }
    }
}

fn place(f: &Finding) -> String {
    f.places.first().map_or_else(String::new, ToString::to_string)
}

fn finding(f: &Finding) -> Tr {
    row([f.severity().word().to_owned(), f.id().to_owned(), place(f), f.message.clone()])
}

pub(super) fn findings(issue: &Issue<'_>) -> Markup {
    let open = |severity: Severity| {
        issue.findings.iter().filter(move |f| f.waiver.is_none() && f.severity() == severity)
    };
    let rows: Vec<Tr> = open(Severity::Error).chain(open(Severity::Warning)).map(finding).collect();
    let accepted: Vec<Tr> = issue
        .findings
        .iter()
        .filter_map(|f| {
            let w = f.waiver.as_ref()?;
            Some(row([
                f.id().to_owned(),
                place(f),
                f.message.clone(),
                w.reason.clone(),
                w.role.clone(),
                w.date.clone(),
            ]))
        })
        .collect();
    // Notes of one kind are one line: nothing is wrong with them.
    let mut notes: Vec<(&str, &str, usize)> = Vec::new();
    for f in open(Severity::Note) {
        match notes.iter_mut().find(|n| n.0 == f.id()) {
            Some(n) => n.2 += 1,
            None => notes.push((f.id(), f.kind.title, 1)),
        }
    }
    let notes: Vec<Tr> = notes
        .into_iter()
        .map(|(id, title, n)| row([id.to_owned(), title.to_owned(), n.to_string()]))
        .collect();
    html! {
        section {
            (heading("findings"))
            @if rows.is_empty() { p { "There is no open error or warning." } }
            (table(
                "Open errors and warnings",
                &[marks("Severity"), marks("Id"), words("Place"), words("Finding")],
                &rows,
            ))
            (table(
                "Findings that the project accepts",
                &[marks("Id"), words("Place"), words("Finding"), words("Reason"), words("Accepted by"), marks("Date")],
                &accepted,
            ))
            (table("Notes by kind", &[marks("Id"), words("Kind"), numbers("Number", "")], &notes))
        }
    }
}

/// Whether a source names a publication: those begin with a name. A law, a definition or common practice does not.
fn is_published(publication: &str) -> bool {
    publication.chars().next().is_some_and(char::is_uppercase)
}

pub(super) fn references(issue: &Issue<'_>, sources: &Sources) -> Markup {
    let mut publications: Vec<(&str, Vec<&str>)> = Vec::new();
    for (publication, method) in sources {
        match publications.last_mut().filter(|(p, _)| p == publication) {
            Some((_, methods)) => methods.push(method),
            None => publications.push((publication, vec![method])),
        }
    }
    let (published, general): (Vec<_>, Vec<_>) = publications.into_iter().partition(|(p, _)| is_published(p));
    let general: Vec<&str> = general.into_iter().map(|(p, _)| p).collect();
    html! {
        section {
            (heading("references"))
            @if !issue.document.editions.is_empty() {
                h3 { "Adopted editions" }
                ul { @for e in &issue.document.editions { li { (e) } } }
            }
            h3 { "Behind the formulas of the calculation book" }
            ul { @for (publication, methods) in &published { li { strong { (publication) } ": " (methods.join("; ")) } } }
            @if !general.is_empty() {
                p.note { "Without a publication, named beside each formula: " (general.join("; ")) "." }
            }
        }
    }
}
