//! Findings as text and as JSON.

use super::table::Table;
use super::text;
use crate::Exit;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use drycoil_findings::{Finding, Place, Severity, Stage};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Whether text is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// Plain text.
    Plain,
    /// With terminal colours.
    Styled,
}

/// How findings are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// With the source line, the allowed values and the hint.
    Drawn,
    /// One line each.
    Concise,
}

/// Texts of the files that were read, by the name that findings use.
#[derive(Debug, Clone, Default)]
pub struct Sources(BTreeMap<String, String>);

impl Sources {
    /// Keeps the text of a file.
    pub fn add(&mut self, file: impl Into<String>, text: impl Into<String>) {
        self.0.insert(file.into(), text.into());
    }

    /// The text of a file.
    pub fn text(&self, file: &str) -> Option<&str> {
        self.0.get(file).map(String::as_str)
    }
}

/// Findings in the order in which they are shown: worst first, then by place.
pub fn sorted(list: &[Finding]) -> Vec<&Finding> {
    let mut sorted: Vec<&Finding> = list.iter().collect();
    sorted.sort_by(|a, b| {
        let place = |f: &Finding| {
            f.places.first().map(|p| (p.file.clone(), p.line, p.column, p.row, p.key.clone(), p.part.clone()))
        };
        b.severity().cmp(&a.severity()).then_with(|| place(a).cmp(&place(b))).then_with(|| a.id().cmp(b.id()))
    });
    sorted
}

/// The exit code that findings give. A waived finding of the result does not count; bad input cannot be waived.
pub fn exit(list: &[Finding], fail_on: Severity) -> Exit {
    if list.iter().any(Finding::is_bad_input) {
        Exit::BadInput
    } else if list.iter().any(|f| f.waiver.is_none() && f.severity() >= fail_on) {
        Exit::Found
    } else {
        Exit::Clean
    }
}

/// Counts by severity, as in `2 errors, 1 warning (1 waived), 0 notes`.
pub fn summary(list: &[Finding]) -> String {
    if list.is_empty() {
        return "no findings".into();
    }
    let parts: Vec<String> = [Severity::Error, Severity::Warning, Severity::Note]
        .into_iter()
        .map(|severity| {
            let all = list.iter().filter(|f| f.severity() == severity).count();
            let waived = list.iter().filter(|f| f.severity() == severity && f.waiver.is_some()).count();
            let mut part = text::count(all, severity.word());
            if waived > 0 {
                let _ = write!(part, " ({waived} waived)");
            }
            part
        })
        .collect();
    parts.join(", ")
}

/// The findings as text, followed in the drawn style by a line of counts.
pub fn draw(list: &[Finding], sources: &Sources, style: Style, colour: Colour, width: usize) -> String {
    let sorted = sorted(list);
    let mut out = String::new();
    if style == Style::Concise {
        for finding in sorted {
            out.push_str(&concise(finding));
            out.push('\n');
        }
        return out;
    }
    let mut rest = sorted.as_slice();
    while let Some(first) = rest.first() {
        let run = table_run(rest);
        if run >= FEWEST_TABLE_ROWS {
            draw_table(&rest[..run], width, &mut out);
            rest = &rest[run..];
        } else {
            draw_one(first, sources, colour, width, &mut out);
            rest = &rest[1..];
        }
        out.push('\n');
    }
    out.push_str(&summary(list));
    out.push('\n');
    out
}

/// `file:line:column: error[PF-002]: message`.
pub fn concise(finding: &Finding) -> String {
    let mut out = String::new();
    if let Some(place) = finding.places.first() {
        match (&place.file, &place.part) {
            (Some(file), _) => {
                out.push_str(&text::clean(file));
                for number in [place.line, place.column].into_iter().flatten() {
                    let _ = write!(out, ":{number}");
                }
                out.push_str(": ");
            }
            (None, Some(part)) => {
                let _ = write!(out, "{}: ", text::clean(part));
            }
            (None, None) => {}
        }
    }
    let waived = if finding.waiver.is_some() { "waived " } else { "" };
    let _ = write!(
        out,
        "{waived}{}[{}]: {}",
        finding.severity().word(),
        finding.id(),
        text::clean(&finding.message)
    );
    out
}

/// Fewer rows than this are easier to read one by one.
const FEWEST_TABLE_ROWS: usize = 3;

/// How many findings from the first on are rows of the same file with the same severity.
fn table_run(list: &[&Finding]) -> usize {
    let row = |f: &Finding| {
        let place = f.places.first()?;
        place.row?;
        (f.places.len() == 1 && f.waiver.is_none()).then(|| (f.severity(), place.file.clone()))
    };
    let Some(first) = list.first().and_then(|f| row(f)) else { return 0 };
    list.iter().take_while(|f| row(f).as_ref() == Some(&first)).count()
}

fn draw_table(list: &[&Finding], width: usize, out: &mut String) {
    let file = list[0].places[0].file.as_deref().unwrap_or("the input");
    let _ = writeln!(out, "{} in {}:", text::count(list.len(), list[0].severity().word()), text::clean(file));
    let mut table = Table::new(["id", "line", "row", "of", "column", "value", "allowed", "what is wrong"])
        .numbers([1, 2])
        .wrapping(6)
        .wrapping(7);
    let number = |n: Option<u32>| n.map_or_else(String::new, |n| n.to_string());
    for finding in list {
        let place = &finding.places[0];
        let what = finding
            .hint
            .as_ref()
            .map_or_else(|| finding.message.clone(), |hint| format!("{}; {hint}", finding.message));
        table.row([
            finding.id().to_owned(),
            number(place.line),
            number(place.row),
            place.part.clone().unwrap_or_default(),
            place.key.clone().unwrap_or_default(),
            finding.value.clone().unwrap_or_default(),
            finding.allowed.clone().unwrap_or_default(),
            what,
        ]);
    }
    out.push_str(&table.without_empty_columns().draw(width));
}

fn draw_one(finding: &Finding, sources: &Sources, colour: Colour, width: usize, out: &mut String) {
    let level = match finding.severity() {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let mut group = level
        .primary_title(text::clean(&finding.message))
        .id(finding.id())
        .elements(std::iter::empty::<Snippet<'_, annotate_snippets::Annotation<'_>>>());
    let drawn = finding.places.first().and_then(|p| snippet(p, AnnotationKind::Primary, sources));
    let mut undrawn: Vec<&Place> = Vec::new();
    match drawn {
        Some(snippet) => group = group.element(snippet),
        None => undrawn.extend(finding.places.first()),
    }
    for place in finding.places.iter().skip(1) {
        match snippet(place, AnnotationKind::Context, sources) {
            Some(snippet) => group = group.element(snippet),
            None => undrawn.push(place),
        }
    }
    for message in remarks(finding, &undrawn) {
        group = group.element(message);
    }
    let renderer = match colour {
        Colour::Plain => Renderer::plain(),
        Colour::Styled => Renderer::styled(),
    };
    let groups: [Group<'_>; 1] = [group];
    out.push_str(&renderer.term_width(width).render(&groups));
    out.push('\n');
}

/// What stands below the source line.
fn remarks<'a>(finding: &Finding, undrawn: &[&Place]) -> Vec<annotate_snippets::Message<'a>> {
    let mut list = Vec::new();
    for place in undrawn {
        list.push(Level::NOTE.with_name(Some("at")).message(text::clean(&place.to_string())));
    }
    if let Some(value) = &finding.value {
        list.push(Level::NOTE.with_name(Some("value")).message(text::clean(value)));
    }
    if let Some(allowed) = &finding.allowed {
        list.push(Level::NOTE.with_name(Some("allowed")).message(text::clean(allowed)));
    }
    if let Some(hint) = &finding.hint {
        list.push(Level::HELP.with_name(Some("hint")).message(text::clean(hint)));
    }
    if let Some(waiver) = &finding.waiver {
        let by = format!("{} on {}: {}", waiver.role, waiver.date, waiver.reason);
        list.push(Level::NOTE.with_name(Some("waived by")).message(text::clean(&by)));
    }
    list
}

/// The source line of a place, when its text is at hand and its byte range lies in it.
fn snippet<'a>(
    place: &Place,
    kind: AnnotationKind,
    sources: &'a Sources,
) -> Option<Snippet<'a, annotate_snippets::Annotation<'a>>> {
    let file = place.file.as_ref()?;
    let source = sources.text(file)?;
    let (start, end) = place.span?;
    if start > end || end > source.len() || !source.is_char_boundary(start) || !source.is_char_boundary(end) {
        return None;
    }
    let mut annotation = kind.span(start..end);
    if let Some(key) = &place.key {
        annotation = annotation.label(text::clean(key));
    }
    Some(Snippet::source(source).path(file.clone()).annotation(annotation))
}

/// The findings as JSON, in the order in which they are shown.
pub fn as_json(list: &[Finding]) -> Value {
    Value::Array(sorted(list).into_iter().map(one_as_json).collect())
}

fn one_as_json(finding: &Finding) -> Value {
    let waiver =
        finding.waiver.as_ref().map(|w| json!({ "reason": w.reason, "role": w.role, "date": w.date }));
    json!({
        "id": finding.id(),
        "severity": finding.severity().word(),
        "stage": match finding.kind.stage { Stage::Input => "input", Stage::Result => "result" },
        "title": finding.kind.title,
        "message": finding.message,
        "value": finding.value,
        "allowed": finding.allowed,
        "hint": finding.hint,
        "places": finding.places.iter().map(place_as_json).collect::<Vec<_>>(),
        "waiver": waiver,
    })
}

/// A place as JSON; what is not known is left out.
pub fn place_as_json(place: &Place) -> Value {
    let mut map = Map::new();
    let mut put = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            map.insert(key.into(), value);
        }
    };
    put("file", place.file.clone().map(Value::from));
    put("line", place.line.map(Value::from));
    put("column", place.column.map(Value::from));
    put("row", place.row.map(Value::from));
    put("key", place.key.clone().map(Value::from));
    put("part", place.part.clone().map(Value::from));
    Value::Object(map)
}
