//! Changes of TOML files. Comments, order and spelling of everything that is not named stay.

use super::{Change, Changed, Refused, Typed, conflict, impossible, line_end};
use serde_json::Value;
use std::fmt::Write as _;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest value that is written.
const MAX_VALUE: usize = 64 * 1024;

/// A value of a file, as it is written.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Entry {
    /// Names of the tables, then of the key; a number counts in a list of tables.
    pub path: Vec<String>,
    /// The bytes of the value.
    pub source: String,
    /// The text of a string, or the same as the source.
    pub text: String,
    /// Line, from 1.
    pub line: usize,
}

fn parse<'t>(file: &str, text: &'t str) -> Result<Spanned<DeTable<'t>>, Refused> {
    DeTable::parse(text).map_err(|e| {
        impossible(format!("{file} cannot be changed before its mistake is mended: {}", e.message()))
    })
}

fn is_table(value: &DeValue<'_>) -> bool {
    match value {
        DeValue::Table(_) => true,
        DeValue::Array(list) => list.iter().next().is_some_and(|v| matches!(v.get_ref(), DeValue::Table(_))),
        _ => false,
    }
}

/// Whether the value is written behind its key, and not under a heading of its own.
fn is_inline(text: &str, value: &Spanned<DeValue<'_>>) -> bool {
    let span = value.span();
    match value.get_ref() {
        DeValue::Table(_) => text[span].starts_with('{'),
        DeValue::Array(_) => {
            // A list of tables under headings begins with `[[`, a list behind a key with `[`.
            let before = text[..span.start].trim_end_matches([' ', '\t']);
            before.ends_with('=')
        }
        _ => true,
    }
}

/// All values of a file, tables under headings opened, in the order of the file.
///
/// # Errors
/// The file is no TOML.
pub fn entries(file: &str, text: &str) -> Result<Vec<Entry>, Refused> {
    let root = parse(file, text)?;
    let mut out = Vec::new();
    collect(text, root.get_ref(), &mut Vec::new(), &mut out);
    out.sort_by_key(|(start, _)| *start);
    Ok(out.into_iter().map(|(_, entry)| entry).collect())
}

fn collect(text: &str, table: &DeTable<'_>, path: &mut Vec<String>, out: &mut Vec<(usize, Entry)>) {
    for (key, value) in table {
        path.push(key.get_ref().to_string());
        if is_table(value.get_ref()) && !is_inline(text, value) {
            match value.get_ref() {
                DeValue::Table(inner) => collect(text, inner, path, out),
                DeValue::Array(list) => {
                    for (i, element) in list.iter().enumerate() {
                        if let DeValue::Table(inner) = element.get_ref() {
                            path.push(i.to_string());
                            collect(text, inner, path, out);
                            path.pop();
                        }
                    }
                }
                _ => {}
            }
        } else {
            let span = value.span();
            let source = text[span.clone()].to_owned();
            let shown = match value.get_ref() {
                DeValue::String(s) => s.to_string(),
                _ => source.clone(),
            };
            let line = text[..span.start].matches('\n').count() + 1;
            out.push((span.start, Entry { path: path.clone(), source, text: shown, line }));
        }
        path.pop();
    }
}

/// The table that holds the key of a path; `None` where it does not exist.
fn holder<'a, 't>(root: &'a DeTable<'t>, path: &[String]) -> Option<&'a DeTable<'t>> {
    let mut table = root;
    let mut names = path[..path.len() - 1].iter();
    while let Some(name) = names.next() {
        table = match table.get(name.as_str())?.get_ref() {
            DeValue::Table(inner) => inner,
            DeValue::Array(list) => match list.get(names.next()?.parse::<usize>().ok()?)?.get_ref() {
                DeValue::Table(inner) => inner,
                _ => return None,
            },
            _ => return None,
        };
    }
    Some(table)
}

fn found<'a, 't>(table: &'a DeTable<'t>, name: &str) -> Option<(Range<usize>, &'a Spanned<DeValue<'t>>)> {
    table.iter().find(|(k, _)| k.get_ref() == name).map(|(k, v)| (k.span(), v))
}

/// A name as it stands in a heading or before `=`.
fn written_name(name: &str) -> String {
    let bare = !name.is_empty() && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    if bare { name.to_owned() } else { quoted(name) }
}

fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// The bytes of a value.
fn written(now: &Typed) -> Result<String, Refused> {
    let source = match now {
        Typed::Text(text) => quoted(text.trim()),
        Typed::Literal(source) => source.trim().to_owned(),
    };
    if source.len() > MAX_VALUE {
        return Err(impossible(format!("a value has at most {MAX_VALUE} characters")));
    }
    // One value, and nothing behind it.
    let probe = format!("x = {source}\n");
    let alone = DeTable::parse(&probe).ok().filter(|t| {
        t.get_ref().len() == 1 && t.get_ref().get("x").is_some_and(|v| v.span() == (4..4 + source.len()))
    });
    if alone.is_none() {
        let shown: String = source.chars().take(60).collect();
        return Err(impossible(format!("`{shown}` is no value")));
    }
    Ok(source)
}

fn end_of_line(text: &str, at: usize) -> usize {
    text[at..].find('\n').map_or(text.len(), |i| at + i + 1)
}

/// Where a new key of a table goes: behind the line of its last own key, else behind its heading.
fn place_in(text: &str, table: &DeTable<'_>, heading: &str) -> Option<usize> {
    let last = table.iter().filter(|(_, v)| is_inline(text, v)).map(|(_, v)| v.span().end).max();
    if let Some(end) = last {
        return Some(end_of_line(text, end));
    }
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.trim_start().split('#').next().is_some_and(|l| l.trim_end() == heading) {
            return Some(at + line.len());
        }
        at += line.len();
    }
    None
}

fn heading_of(path: &[String]) -> String {
    let list = path.last().is_some_and(|n| n.parse::<usize>().is_ok()) && path.len() > 1;
    let names = if list { &path[..path.len() - 1] } else { path };
    let dotted = names.iter().map(|n| written_name(n)).collect::<Vec<_>>().join(".");
    if list { format!("[[{dotted}]]") } else { format!("[{dotted}]") }
}

/// Makes one change of a key.
///
/// # Errors
/// The change expected something else, or cannot be made.
pub fn apply(file: &str, text: &str, change: &Change) -> Result<Changed, Refused> {
    let Change::Key { path, was, now } = change else {
        return Err(impossible(format!("{file} is no table")));
    };
    let Some(name) = path.last().filter(|n| !n.is_empty() && path.len() < 16) else {
        return Err(impossible("a change names a key"));
    };
    let dotted = path.join(".");
    let root = parse(file, text)?;
    let table = holder(root.get_ref(), path);
    let there = table.and_then(|t| found(t, name));
    if let Some((_, value)) = &there
        && is_table(value.get_ref())
        && !is_inline(text, value)
    {
        return Err(impossible(format!("`{dotted}` is a table")));
    }
    let source = there.as_ref().map(|(_, v)| &text[v.span()]);
    let new = now.as_ref().map(written).transpose()?;
    if source != was.as_deref() {
        let json = |s: Option<&str>| s.map(Value::from);
        return Err(conflict(
            format!("{file}, `{dotted}`"),
            json(was.as_deref()),
            json(source),
            json(new.as_deref()),
        ));
    }
    let (text_now, whole) = match (there, new) {
        (None, None) => (text.to_owned(), false),
        (Some((_, value)), Some(new)) => {
            let span = value.span();
            (format!("{}{new}{}", &text[..span.start], &text[span.end..]), false)
        }
        (Some((key, value)), None) => {
            let start = text[..key.start].rfind('\n').map_or(0, |i| i + 1);
            if !text[start..key.start].trim().is_empty() {
                return Err(impossible(format!(
                    "`{dotted}` stands within a line; change {file} in an editor"
                )));
            }
            let end = end_of_line(text, value.span().end);
            (format!("{}{}", &text[..start], &text[end..]), true)
        }
        (None, Some(new)) => (inserted(file, text, table, path, &new)?, true),
    };
    check(file, &dotted, text, &text_now, path, now.as_ref())?;
    let back = if whole {
        Change::Text { was: text_now.clone(), now: text.to_owned() }
    } else {
        Change::Key {
            path: path.clone(),
            was: now.as_ref().map(written).transpose()?,
            now: was.clone().map(Typed::Literal),
        }
    };
    Ok(Changed { text: text_now, back })
}

fn inserted(
    file: &str,
    text: &str,
    table: Option<&DeTable<'_>>,
    path: &[String],
    new: &str,
) -> Result<String, Refused> {
    let end = line_end(text);
    let (name, tables) = path.split_last().expect("a path names a key");
    let line = format!("{} = {new}{end}", written_name(name));
    let heading = heading_of(tables);
    let at = match table {
        Some(table) => place_in(text, table, &heading),
        None => None,
    };
    if let Some(at) = at {
        let open = if text[..at].ends_with('\n') || at == 0 { "" } else { end };
        return Ok(format!("{}{open}{line}{}", &text[..at], &text[at..]));
    }
    if tables.is_empty() {
        return Err(impossible(format!("`{name}` belongs into a table of {file}")));
    }
    let gap = if text.trim().is_empty() {
        ""
    } else if text.ends_with('\n') {
        end
    } else {
        &format!("{end}{end}")
    };
    Ok(format!("{text}{gap}{heading}{end}{line}"))
}

/// The file with the change must hold what it held, and the change.
fn check(
    file: &str,
    dotted: &str,
    before: &str,
    after: &str,
    path: &[String],
    now: Option<&Typed>,
) -> Result<(), Refused> {
    let failed = || impossible(format!("`{dotted}` cannot be changed here; change {file} in an editor"));
    let of = |text: &str| -> Result<Vec<(Vec<String>, String)>, Refused> {
        let mut all: Vec<_> =
            entries(file, text).map_err(|_| failed())?.into_iter().map(|e| (e.path, e.source)).collect();
        all.sort();
        Ok(all)
    };
    let mut expected = of(before)?;
    expected.retain(|(p, _)| p != path);
    if let Some(now) = now {
        expected.push((path.to_vec(), written(now)?));
    }
    expected.sort();
    if of(after)? == expected { Ok(()) } else { Err(failed()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# head\n[project]\nformat = 1\nname = \"A\" # as signed\n\n[criteria]\n# promised\n\
                        margin = \"2 degF\"   # agreed\n\n[dew_point]\n\n[walls.\"brick 1\"]\nlayers = [\n  \
                        { name = \"a\", u = 1.5 },\n]\n\n[[waive]]\nid = \"DP-001\"\n[[waive]]\nid = \"DP-002\"\n";

    fn key(path: &[&str], was: Option<&str>, now: Option<Typed>) -> Change {
        Change::Key { path: path.iter().map(|p| (*p).to_owned()).collect(), was: was.map(str::to_owned), now }
    }

    fn text(t: &str) -> Typed {
        Typed::Text(t.into())
    }

    #[track_caller]
    fn there_and_back(change: &Change, expected: &str) {
        for crlf in [false, true] {
            let form = |t: &str| if crlf { t.replace('\n', "\r\n") } else { t.to_owned() };
            let changed = super::super::apply("project.toml", &form(TEXT), change).unwrap();
            assert_eq!(changed.text, form(expected));
            let back = super::super::apply("project.toml", &changed.text, &changed.back).unwrap();
            assert_eq!(back.text, form(TEXT));
            assert_eq!(
                super::super::apply("project.toml", &back.text, &back.back).unwrap().text,
                form(expected)
            );
        }
    }

    #[test]
    fn inv_a_value_changes_and_its_comment_stays() {
        there_and_back(
            &key(&["criteria", "margin"], Some("\"2 degF\""), Some(text("1 K"))),
            &TEXT.replace("\"2 degF\"   # agreed", "\"1 K\"   # agreed"),
        );
        there_and_back(
            &key(&["project", "name"], Some("\"A\""), Some(text("say \"B\" \\"))),
            &TEXT.replace("\"A\"", "\"say \\\"B\\\" \\\\\""),
        );
        there_and_back(
            &key(&["waive", "1", "id"], Some("\"DP-002\""), Some(text("DP-003"))),
            &TEXT.replace("DP-002", "DP-003"),
        );
        there_and_back(
            &key(&["project", "format"], Some("1"), Some(Typed::Literal("2".into()))),
            &TEXT.replace("format = 1", "format = 2"),
        );
    }

    #[test]
    fn inv_a_key_comes_into_its_table() {
        there_and_back(
            &key(&["criteria", "set_point"], None, Some(text("24 degC"))),
            &TEXT.replace("# agreed\n", "# agreed\nset_point = \"24 degC\"\n"),
        );
        there_and_back(
            &key(&["dew_point", "limit"], None, Some(text("13 degC"))),
            &TEXT.replace("[dew_point]\n", "[dew_point]\nlimit = \"13 degC\"\n"),
        );
        there_and_back(
            &key(&["water", "rise"], None, Some(text("3 K"))),
            &format!("{TEXT}\n[water]\nrise = \"3 K\"\n"),
        );
        there_and_back(
            &key(&["waive", "0", "role"], None, Some(text("x"))),
            &TEXT.replace("id = \"DP-001\"\n", "id = \"DP-001\"\nrole = \"x\"\n"),
        );
        there_and_back(
            &key(&["waive", "2", "id"], None, Some(text("DP-009"))),
            &format!("{TEXT}\n[[waive]]\nid = \"DP-009\"\n"),
        );
        there_and_back(
            &key(&["walls", "a b", "u"], None, Some(Typed::Literal("1.0".into()))),
            &format!("{TEXT}\n[walls.\"a b\"]\nu = 1.0\n"),
        );
    }

    #[test]
    fn inv_a_key_goes_with_its_line() {
        there_and_back(
            &key(&["criteria", "margin"], Some("\"2 degF\""), None),
            &TEXT.replace("margin = \"2 degF\"   # agreed\n", ""),
        );
    }

    #[test]
    fn what_somebody_else_changed_is_a_conflict() {
        let Err(Refused::Conflict(c)) =
            apply("project.toml", TEXT, &key(&["criteria", "margin"], Some("\"3 degF\""), Some(text("1 K"))))
        else {
            panic!()
        };
        assert_eq!(c.theirs, Some("\"2 degF\"".into()));
        assert!(matches!(
            apply("project.toml", TEXT, &key(&["criteria", "margin"], None, Some(text("1 K")))),
            Err(Refused::Conflict(_))
        ));
    }

    #[test]
    fn a_value_cannot_bring_more_than_itself() {
        for evil in ["1\nname = 2", "1 # note", "", "[1", "\"a\"\n[x]", "1, 2"] {
            let change = key(&["project", "format"], Some("1"), Some(Typed::Literal(evil.into())));
            assert!(matches!(apply("project.toml", TEXT, &change), Err(Refused::Impossible(_))), "{evil}");
        }
        let table = key(&["criteria"], None, Some(text("x")));
        assert!(apply("project.toml", TEXT, &table).is_err());
        let into = key(&["project", "name", "x"], None, Some(text("x")));
        assert!(matches!(apply("project.toml", TEXT, &into), Err(Refused::Impossible(_))));
        let root = key(&["name"], None, Some(text("x")));
        assert!(matches!(apply("project.toml", "", &root), Err(Refused::Impossible(_))));
        assert!(matches!(apply("project.toml", "a = ", &root), Err(Refused::Impossible(_))));
    }

    #[test]
    fn entries_are_in_the_order_of_the_file() {
        let all = entries("project.toml", TEXT).unwrap();
        let names: Vec<String> = all.iter().map(|e| e.path.join(".")).collect();
        assert_eq!(
            names,
            [
                "project.format",
                "project.name",
                "criteria.margin",
                "walls.brick 1.layers",
                "waive.0.id",
                "waive.1.id"
            ]
        );
        assert_eq!((all[1].source.as_str(), all[1].text.as_str(), all[1].line), ("\"A\"", "A", 4));
    }
}
