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

/// How many findings are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Errors and warnings, of one kind no more than some; notes are counted unless they are few.
    Short,
    /// All.
    Full,
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
pub fn draw(
    list: &[Finding],
    sources: &Sources,
    style: Style,
    extent: Extent,
    colour: Colour,
    width: usize,
) -> String {
    let sorted = sorted(list);
    let (shown, left_out) = match extent {
        Extent::Full => (sorted, Vec::new()),
        Extent::Short => shortened(&sorted),
    };
    let mut out = String::new();
    match style {
        Style::Concise => {
            for finding in shown {
                out.push_str(&concise(finding));
                out.push('\n');
            }
        }
        Style::Drawn => {
            for group in groups(&shown) {
                match group.as_slice() {
                    [one] => draw_one(one, sources, colour, width, &mut out),
                    rows => draw_table(rows, width, &mut out),
                }
                out.push('\n');
            }
        }
    }
    for line in counted(&left_out) {
        out.push_str(&text::wrap(&line, width, "  "));
        out.push('\n');
    }
    if style == Style::Drawn {
        if !left_out.is_empty() {
            out.push('\n');
        }
        out.push_str(&summary(list));
        out.push('\n');
    }
    out
}

/// So many notes are shown rather than counted.
const FEW_NOTES: usize = 5;
/// So many errors or warnings of one kind are shown.
const MOST_OF_A_KIND: usize = 10;

/// The findings that are shown when not all are, and the others.
fn shortened<'a>(sorted: &[&'a Finding]) -> (Vec<&'a Finding>, Vec<&'a Finding>) {
    let few = sorted.iter().filter(|f| f.severity() == Severity::Note).count() <= FEW_NOTES;
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    sorted.iter().copied().partition(|finding| {
        let count = seen.entry(finding.id()).or_default();
        *count += 1;
        match finding.severity() {
            Severity::Note => few,
            Severity::Warning | Severity::Error => *count <= MOST_OF_A_KIND,
        }
    })
}

/// What is said of the findings that are not shown: a line for each kind of error and warning, one for all notes.
fn counted(left_out: &[&Finding]) -> Vec<String> {
    let mut kinds: Vec<(&Finding, usize)> = Vec::new();
    for finding in left_out {
        match kinds.iter_mut().find(|(first, _)| first.id() == finding.id()) {
            Some((_, count)) => *count += 1,
            None => kinds.push((finding, 1)),
        }
    }
    kinds.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.id().cmp(b.0.id())));
    let (notes, rest): (Vec<_>, Vec<_>) = kinds.into_iter().partition(|k| k.0.severity() == Severity::Note);
    let mut lines: Vec<String> = rest
        .iter()
        .map(|(f, n)| format!("and {n} more of {}, {}: --notes lists them", f.id(), f.kind.title))
        .collect();
    if !notes.is_empty() {
        let all: usize = notes.iter().map(|(_, n)| n).sum();
        let kinds: Vec<String> = notes.iter().map(|(f, n)| format!("{} x {n}", f.id())).collect();
        lines.push(format!("{} ({}): --notes lists them", text::count(all, "note"), kinds.join(", ")));
    }
    lines
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

/// Findings that are drawn together, each group where its first one stands: rows of one file with the same severity, and
/// of a result also of the same kind.
fn groups<'a>(list: &[&'a Finding]) -> Vec<Vec<&'a Finding>> {
    let key = |f: &Finding| {
        let place = f.places.first()?;
        place.row?;
        let of_result = (f.kind.stage == Stage::Result).then(|| f.id());
        (f.places.len() == 1 && f.waiver.is_none()).then(|| (f.severity(), place.file.clone(), of_result))
    };
    let mut groups: Vec<(Option<_>, Vec<&Finding>)> = Vec::new();
    for finding in list {
        let key = key(finding);
        match groups.iter_mut().find(|(k, _)| key.is_some() && *k == key) {
            Some((_, rows)) => rows.push(finding),
            None => groups.push((key, vec![finding])),
        }
    }
    let mut all = Vec::new();
    for (_, rows) in groups {
        if rows.len() < FEWEST_TABLE_ROWS {
            all.extend(rows.into_iter().map(|row| vec![row]));
        } else {
            all.push(rows);
        }
    }
    all
}

fn draw_table(list: &[&Finding], width: usize, out: &mut String) {
    let first = list[0];
    let file = text::clean(first.places[0].file.as_deref().unwrap_or("the input"));
    let count = text::count(list.len(), first.severity().word());
    // Findings of a result that all name what is and what is wanted need no sentence each.
    let one_title = first.kind.stage == Stage::Result
        && list.iter().all(|f| f.id() == first.id() && f.value.is_some() && f.allowed.is_some());
    if one_title {
        let _ = writeln!(
            out,
            "{}",
            text::wrap(&format!("{count} [{}] in {file}: {}", first.id(), first.kind.title), width, "  ")
        );
    } else {
        let _ = writeln!(out, "{count} in {file}:");
    }
    let by_line = list.iter().all(|f| f.places[0].line.is_some());
    let last = if one_title { "what to do" } else { "what is wrong" };
    let mut table =
        Table::new(["id", if by_line { "line" } else { "row" }, "of", "column", "value", "allowed", last])
            .numbers([1])
            .wrapping(5)
            .wrapping(6);
    for finding in list {
        let place = &finding.places[0];
        let number = if by_line { place.line } else { place.row };
        let hint = finding.hint.clone().unwrap_or_default();
        let what = match (one_title, hint.is_empty()) {
            (true, _) => hint,
            (false, true) => finding.message.clone(),
            (false, false) => format!("{}; {hint}", finding.message),
        };
        table.row([
            if one_title { String::new() } else { finding.id().to_owned() },
            number.map_or_else(String::new, |n| n.to_string()),
            place.part.clone().unwrap_or_default(),
            place.key.clone().unwrap_or_default(),
            finding.value.clone().unwrap_or_default(),
            finding.allowed.clone().unwrap_or_default(),
            what,
        ]);
    }
    out.push_str(&table.without_empty_columns().draw(width));
    // What is to be done about every row of a kind without a hint of its own is said once.
    let mut told: Vec<&str> = Vec::new();
    for finding in list.iter().filter(|f| f.hint.is_none()) {
        if !told.contains(&finding.id()) {
            told.push(finding.id());
            let hint = format!("hint, {}: {}", finding.id(), finding.advice());
            let _ = writeln!(out, "{}", text::wrap(&text::clean(&hint), width, "  "));
        }
    }
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
    list.push(Level::HELP.with_name(Some("hint")).message(text::clean(&finding.advice())));
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
        "hint": finding.advice(),
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
