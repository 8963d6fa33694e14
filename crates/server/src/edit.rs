//! Changes of the project files: as a person would make them, leaving every other byte as it is.
//!
//! A change names what stood there before. When something else stands there now, because of another window, another
//! program or a person with an editor, the change is a [`Conflict`] and nothing is written.

mod table;
mod tree;

pub(crate) use table::apply_cells;
pub use tree::{Entry, entries};

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// One change of a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Change {
    /// Another text in a cell.
    Cell {
        /// Row below the titles, from 0.
        row: usize,
        /// Text of the first cell of that row, by which it is found when rows were added above.
        key: String,
        /// Column, from 0.
        column: usize,
        /// Text that stood there.
        was: String,
        /// Text that shall stand there.
        now: String,
        /// The bytes of the field, for taking back a change; without them the text is quoted where it must be.
        #[serde(default, skip_deserializing, skip_serializing_if = "Option::is_none")]
        raw: Option<String>,
    },
    /// A new row.
    Insert {
        /// It stands in front of this row, from 0; behind the last one with the number of rows.
        row: usize,
        /// Its cells.
        cells: Vec<String>,
        /// The bytes of the line, and how far behind the row before it stood, for taking back a change.
        #[serde(default, skip_deserializing, skip_serializing_if = "Option::is_none")]
        raw: Option<(String, usize)>,
    },
    /// A row less.
    Remove {
        /// Row, from 0.
        row: usize,
        /// Texts that stood in it.
        was: Vec<String>,
    },
    /// A new column at the right.
    AddColumn {
        /// Title with its unit.
        title: String,
    },
    /// The last column less, when it is empty.
    DropColumn {
        /// Its title.
        title: String,
    },
    /// Another value of a key of a TOML file.
    Key {
        /// Names of the tables, then of the key; a number counts in a list of tables.
        path: Vec<String>,
        /// Bytes of the value that stood there; `None` when there was no such key.
        was: Option<String>,
        /// Value that shall stand there; `None` takes the key away.
        now: Option<Typed>,
    },
    /// The text of a file. Where it is not as expected, the part that changes is looked for with the lines around it.
    Text {
        /// Text that stood there.
        was: String,
        /// Text that shall stand there.
        now: String,
    },
}

/// A value of a key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Typed {
    /// A string.
    Text(String),
    /// The bytes of a value: `5`, `true`, `["01-01"]`.
    Literal(String),
}

/// Somebody else changed the same.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conflict {
    /// Position of the change in the list that was sent.
    pub index: usize,
    /// What it is about, in words.
    pub what: String,
    /// What the change expected; null where nothing was there.
    pub was: Option<Value>,
    /// What is there now; null where nothing is.
    pub theirs: Option<Value>,
    /// What was to be written; null for a removal.
    pub mine: Option<Value>,
}

/// Why a change is not made.
#[derive(Debug, Clone, PartialEq)]
pub enum Refused {
    /// Somebody else changed the same. The index is filled in by the caller.
    Conflict(Conflict),
    /// It cannot be made, in words.
    Impossible(String),
}

/// A changed text and the change that takes it back.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// The text.
    pub text: String,
    /// The way back.
    pub back: Change,
}

pub(crate) fn impossible(text: impl Into<String>) -> Refused {
    Refused::Impossible(text.into())
}

pub(crate) fn conflict(
    what: String,
    was: Option<Value>,
    theirs: Option<Value>,
    mine: Option<Value>,
) -> Refused {
    Refused::Conflict(Conflict { index: 0, what, was, theirs, mine })
}

/// The line end that a text uses.
pub(crate) fn line_end(text: &str) -> &'static str {
    match text.find('\n') {
        Some(at) if text[..at].ends_with('\r') => "\r\n",
        _ => "\n",
    }
}

/// Makes one change of the text of a file.
///
/// # Errors
/// The change expected something else, or cannot be made.
///
/// ```
/// use drycoil_server::edit::{Change, apply};
/// let text = "# as surveyed\nid,people\n101,4\n";
/// let change = Change::Cell { row: 0, key: "101".into(), column: 1, was: "4".into(), now: "6".into(), raw: None };
/// let changed = apply("rooms.csv", text, &change).unwrap();
/// assert_eq!(changed.text, "# as surveyed\nid,people\n101,6\n");
/// assert_eq!(apply("rooms.csv", &changed.text, &changed.back).unwrap().text, text);
/// ```
pub fn apply(file: &str, text: &str, change: &Change) -> Result<Changed, Refused> {
    if let Change::Text { was, now } = change {
        return patched(file, text, was, now);
    }
    let is_tree = std::path::Path::new(file).extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    match (change, is_tree) {
        (Change::Key { .. }, true) => tree::apply(file, text, change),
        (Change::Key { .. }, false) => Err(impossible(format!("{file} has no keys"))),
        (_, true) => Err(impossible(format!("{file} is no table"))),
        (_, false) => table::apply(file, text, change),
    }
}

/// Longest text of a file that is written.
const MAX_TEXT: usize = 4 * 1024 * 1024;

/// What two texts have in common at their start, in bytes, up to a line end.
fn common_lines(a: &str, b: &str) -> usize {
    a.split_inclusive('\n')
        .zip(b.split_inclusive('\n'))
        .take_while(|(x, y)| x == y)
        .map(|(x, _)| x.len())
        .sum()
}

fn common_last_lines(a: &str, b: &str) -> usize {
    let lines = |t: &str| t.split_inclusive('\n').map(str::len).collect::<Vec<_>>();
    let (mut x, mut y, mut sum) = (a.len(), b.len(), 0);
    for (p, q) in lines(a).iter().rev().zip(lines(b).iter().rev()) {
        if a[x - p..x] != b[y - q..y] {
            break;
        }
        (x, y, sum) = (x - p, y - q, sum + p);
    }
    sum
}

/// Another text where this one is expected; where it is not, the lines that change are looked for with one around them.
fn patched(file: &str, text: &str, was: &str, now: &str) -> Result<Changed, Refused> {
    if now.len() > MAX_TEXT {
        return Err(impossible(format!("a text has at most {MAX_TEXT} characters")));
    }
    if text == was {
        return Ok(Changed {
            text: now.to_owned(),
            back: Change::Text { was: now.to_owned(), now: was.to_owned() },
        });
    }
    let head = common_lines(was, now);
    let tail = common_last_lines(&was[head..], &now[head..]);
    // One line more on both sides, so that the place is meant.
    let start = was[..head].trim_end_matches('\n').rfind('\n').map_or(0, |i| i + 1);
    let behind = was.len() - tail;
    let end = was[behind..].find('\n').map_or(was.len(), |i| behind + i + 1);
    let old = &was[start..end];
    let new = &now[start..now.len() - (was.len() - end)];
    let mut places = text.match_indices(old);
    match (places.next(), places.next()) {
        (Some((at, _)), None) if !old.is_empty() => {
            let changed = format!("{}{new}{}", &text[..at], &text[at + old.len()..]);
            Ok(Changed { text: changed.clone(), back: Change::Text { was: changed, now: text.to_owned() } })
        }
        _ => Err(conflict(
            format!("the text of {file}"),
            Some(Value::from(was)),
            Some(Value::from(text)),
            Some(Value::from(now)),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_changed_where_it_is_meant() {
        let was = "a = 1\nb = 2\nc = 3\n";
        let now = "a = 1\nb = 9\nc = 3\n";
        let change = Change::Text { was: was.into(), now: now.into() };
        assert_eq!(apply("x.toml", was, &change).unwrap().text, now);
        // Somebody added a line elsewhere.
        let theirs = format!("z = 0\n{was}y = 4\n");
        let changed = apply("x.toml", &theirs, &change).unwrap();
        assert_eq!(changed.text, format!("z = 0\n{now}y = 4\n"));
        assert_eq!(apply("x.toml", &changed.text, &changed.back).unwrap().text, theirs);
        // Somebody changed the same line.
        let theirs = was.replace("b = 2", "b = 5");
        assert!(matches!(apply("x.toml", &theirs, &change), Err(Refused::Conflict(_))));
    }

    #[test]
    fn tables_and_keys_are_told_apart() {
        let key = Change::Key { path: vec!["a".into()], was: None, now: None };
        assert!(matches!(apply("rooms.csv", "id\n1\n", &key), Err(Refused::Impossible(_))));
        let cell = Change::AddColumn { title: "x".into() };
        assert!(matches!(apply("project.toml", "a = 1\n", &cell), Err(Refused::Impossible(_))));
    }
}
