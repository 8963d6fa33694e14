//! Changes between two revisions as text.

use super::table::Table;
use super::text;
use drycoil_changes::{Cause, Changes, ChangesDocument, KeyChange, NumberChange, StepKind};
use drycoil_units::UnitSystem;
use serde_json::Value;
use std::fmt::Write as _;

/// Numbers of one schedule that are listed without being asked.
const LISTED: usize = 8;
/// Keys of result files that are listed without being asked.
const LISTED_KEYS: usize = 40;

/// The changes as text.
pub fn draw(document: &ChangesDocument, system: UnitSystem, width: usize, all: bool) -> String {
    let mut out = String::new();
    let (a, b) = (&document.before, &document.after);
    let names =
        if a.project == b.project { a.project.clone() } else { format!("{} -> {}", a.project, b.project) };
    let _ = writeln!(out, "{}", text::clean(&names));
    let _ = writeln!(
        out,
        "revision {} -> {}, input {} -> {}",
        text::clean(&a.revision),
        text::clean(&b.revision),
        a.fingerprint,
        b.fingerprint
    );
    if let Some(changes) = &document.changes {
        draw_changes(changes, system, width, all, &mut out);
    }
    if let Some(keys) = &document.keys {
        draw_keys(keys, width, all, &mut out);
    }
    out
}

fn draw_changes(changes: &Changes, system: UnitSystem, width: usize, all: bool, out: &mut String) {
    if changes.is_empty() {
        let _ = writeln!(out, "\nNothing changed.");
        return;
    }
    let _ = writeln!(out, "\nInputs: {}", text::count(changes.inputs.len(), "change"));
    if !changes.inputs.is_empty() {
        let mut table =
            Table::new(["no.", "input", "was", "is"]).numbers([0]).wrapping(1).wrapping(2).wrapping(3);
        for (i, c) in changes.inputs.iter().enumerate() {
            let none = || "-".to_owned();
            table.row([
                (i + 1).to_string(),
                c.name(),
                c.old.clone().unwrap_or_else(none),
                c.new.clone().unwrap_or_else(none),
            ]);
        }
        let _ = write!(out, "{}", table.draw(width));
    }
    let printed = changes.printed().count();
    let hidden = changes.numbers.len() - printed;
    let _ = writeln!(
        out,
        "\nSchedules: {} in print, {hidden} more that look the same",
        text::count(printed, "change")
    );
    let mut rest: &[NumberChange] = &changes.numbers;
    while let Some(first) = rest.first() {
        let of_schedule = rest.iter().take_while(|n| n.schedule == first.schedule).count();
        let (these, later) = rest.split_at(of_schedule);
        rest = later;
        let shown: Vec<&NumberChange> = these.iter().filter(|n| all || n.printed).collect();
        if shown.is_empty() {
            continue;
        }
        let listed = if all { shown.len() } else { shown.len().min(LISTED) };
        let mut table = Table::new(["place", "quantity", "was", "is", "unit", "from", "through"])
            .numbers([2, 3])
            .wrapping(6);
        for n in &shown[..listed] {
            let (from, through) = because(n);
            table.row([
                n.place.clone(),
                n.quantity.clone(),
                n.shown(n.old.as_ref(), system),
                n.shown(n.new.as_ref(), system),
                n.column.unit(system).to_owned(),
                from,
                through,
            ]);
        }
        let _ = writeln!(out, "\n{}", first.schedule);
        let _ = write!(out, "{}", table.draw(width));
        if listed < shown.len() {
            let _ = writeln!(out, "and {} more: --all lists them", shown.len() - listed);
        }
    }
    if !(changes.arisen.is_empty() && changes.gone.is_empty()) {
        let _ = writeln!(out, "\nFindings: {} arisen, {} gone", changes.arisen.len(), changes.gone.len());
        for (word, list) in [("arisen", &changes.arisen), ("gone", &changes.gone)] {
            let loud: Vec<_> = list.iter().filter(|f| all || f.severity != "note").collect();
            for f in &loud {
                let line = format!("{word}: {}[{}]: {}", f.severity, f.id, text::clean(&f.message));
                let _ = writeln!(out, "{}", text::wrap(&line, width, "  "));
            }
            if loud.len() < list.len() {
                let _ = writeln!(
                    out,
                    "{word}: {}: --all lists them",
                    text::count(list.len() - loud.len(), "note")
                );
            }
        }
    }
}

/// Numbers of the inputs that lead to a number, and the way from the first of them.
fn because(n: &NumberChange) -> (String, String) {
    let Some(first) = n.causes.first() else {
        return if n.other_values.is_empty() {
            ("?".to_owned(), "not known".to_owned())
        } else {
            ("?".to_owned(), n.other_values.join("; "))
        };
    };
    let mut from: Vec<String> = n.causes.iter().map(|c| (c.input + 1).to_string()).collect();
    if n.more_causes {
        from.push("...".to_owned());
    }
    (from.join(", "), way(first))
}

/// The steps between an input and a number, without the number itself.
fn way(cause: &Cause) -> String {
    let mut out = String::new();
    for (i, step) in cause.steps.iter().enumerate() {
        let how = match step.kind {
            StepKind::Formula => "",
            StepKind::Search => "search for ",
            StepKind::Simulation => "simulation of ",
        };
        let last = i + 1 == cause.steps.len();
        if last && step.kind == StepKind::Formula {
            break;
        }
        if i > 0 {
            out.push_str(" > ");
        }
        out.push_str(how);
        if last {
            out.push_str("it");
        } else {
            let _ = write!(out, "{} {}", step.place, step.quantity);
        }
    }
    if out.is_empty() { "itself".to_owned() } else { out }
}

fn draw_keys(keys: &[KeyChange], width: usize, all: bool, out: &mut String) {
    if keys.is_empty() {
        let _ = writeln!(out, "\nNothing changed.");
        return;
    }
    let _ = writeln!(
        out,
        "\nResults: {}; values are SI, in the unit that ends the key",
        text::count(keys.len(), "change")
    );
    let listed = if all { keys.len() } else { keys.len().min(LISTED_KEYS) };
    let mut table = Table::new(["key", "was", "is"]).wrapping(0).wrapping(1).wrapping(2);
    for k in &keys[..listed] {
        let path = match k.entries {
            Some(n) => format!("{} (of {n} that differ, the one that differs most)", k.path),
            None => k.path.clone(),
        };
        table.row([path, told(&k.old), told(&k.new)]);
    }
    let _ = write!(out, "{}", table.draw(width));
    if listed < keys.len() {
        let _ = writeln!(out, "and {} more: --all lists them", keys.len() - listed);
    }
}

/// A value of a result file in a few words.
fn told(value: &Value) -> String {
    match value {
        Value::Null => "-".to_owned(),
        Value::String(s) => s.clone(),
        Value::Number(n) => n
            .as_f64()
            .filter(|_| n.is_f64())
            .map_or_else(|| n.to_string(), |x| drycoil_units::significant(x, 6)),
        Value::Bool(b) => if *b { "yes" } else { "no" }.to_owned(),
        Value::Array(list) => text::count(list.len(), "entry").replace("entrys", "entries"),
        Value::Object(map) => text::count(map.len(), "key"),
    }
}
