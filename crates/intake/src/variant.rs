//! The same project with some values written otherwise, and the file that says which.
//!
//! A variant goes through the same door as a project that somebody wrote: the new values are put into the text of
//! `project.toml`, and the text is read. What is wrong with a value is found as it always is.

use crate::files::FileSet;
use crate::project::text_of;
use drycoil_findings::{Finding, Place, registry::project as pf};
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The text of `project.toml` with values written otherwise: a value that is there is replaced, one that is not is added
/// to its table. `values` are dotted keys and values as [`literal`] makes them.
///
/// ```
/// use drycoil_intake::variant::{literal, with_values};
/// let text = "[site]\nweather = \"a.csv\"\n\n[dew_point]\nsupply = \"46 degF\" # pinned\n";
/// let new = with_values(text, &[("dew_point.supply", literal("48 degF")), ("plant.chillers", literal("3"))]).unwrap();
/// assert!(new.contains("supply = \"48 degF\" # pinned") && new.ends_with("[plant]\nchillers = 3\n"));
/// ```
///
/// # Errors
/// A text that is no TOML, or a key inside something that is no table.
pub fn with_values(text: &str, values: &[(&str, String)]) -> Result<String, Vec<Finding>> {
    let mut text = text.to_owned();
    for (key, value) in values {
        text = with_value(&text, key, value)?;
    }
    Ok(text)
}

/// A value as it stands in a TOML file: numbers and switches bare, everything else in quotes.
pub fn literal(value: &str) -> String {
    let number = value.parse::<i64>().is_ok()
        || (value.parse::<f64>().is_ok_and(f64::is_finite) && value.contains('.') && !value.ends_with('.'));
    if number || value == "true" || value == "false" {
        return value.to_owned();
    }
    let mut out = String::from("\"");
    for c in value.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            c if c.is_control() => {
                use std::fmt::Write as _;
                let _ = write!(out, "\\u{:04X}", c as u32);
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn with_value(text: &str, key: &str, value: &str) -> Result<String, Vec<Finding>> {
    let parts: Vec<&str> = key.split('.').collect();
    let refuse = |message: String| {
        Err(vec![Finding::new(pf::UNKNOWN_KEY, message).at(Place::file("project.toml").key(key))])
    };
    if parts.len() < 2 || parts.iter().any(|p| p.is_empty() || !is_bare(p)) {
        return refuse(format!(
            "`{key}` is not a table and a key with a point between them, as in `dew_point.supply`"
        ));
    }
    let (last, tables) = (parts[parts.len() - 1], &parts[..parts.len() - 1]);
    let (root, errors) = DeTable::parse_recoverable(text);
    if let Some(error) = errors.into_iter().next() {
        return Err(vec![
            Finding::new(pf::SYNTAX, error.message().to_owned()).at(Place::file("project.toml")),
        ]);
    }
    let mut table: Option<&DeTable<'_>> = Some(root.get_ref());
    for name in tables {
        table = match table.and_then(|t| t.get(*name)).map(Spanned::get_ref) {
            None => None,
            Some(DeValue::Table(t)) => Some(t),
            Some(_) => return refuse(format!("`{name}` of `{key}` is not a table")),
        };
    }
    if let Some(there) = table.and_then(|t| t.get(last)) {
        if there.get_ref().is_table() {
            return refuse(format!("`{key}` is a table, not a value"));
        }
        let Range { start, end } = there.span();
        return Ok(format!("{}{value}{}", &text[..start], &text[end..]));
    }
    let header = format!("[{}]", tables.join("."));
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        at += line.len();
        let bare = line.split('#').next().unwrap_or_default().trim();
        if bare == header {
            let gap = if line.ends_with('\n') { "" } else { "\n" };
            return Ok(format!("{}{gap}{last} = {value}\n{}", &text[..at], &text[at..]));
        }
    }
    if table.is_some() {
        return refuse(format!("`{header}` has no line of its own to which `{last}` could be added"));
    }
    let gap = if text.is_empty() || text.ends_with('\n') { "" } else { "\n" };
    Ok(format!("{text}{gap}\n{header}\n{last} = {value}\n"))
}

fn is_bare(part: &str) -> bool {
    part.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-')
}

/// A project whose `project.toml` has another text.
#[derive(Debug, Clone)]
pub struct Variant<F> {
    base: F,
    text: Arc<[u8]>,
}

impl<F: FileSet> Variant<F> {
    /// The project of these files with values written otherwise.
    ///
    /// # Errors
    /// As [`with_values`]; a project without `project.toml` is left for the reader to refuse.
    pub fn new(base: F, values: &[(&str, String)]) -> Result<Self, Vec<Finding>> {
        let text = match base.bytes("project.toml") {
            Ok(Some(bytes)) => {
                let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(&bytes);
                with_values(&text_of(bytes), values)?
            }
            _ => String::new(),
        };
        Ok(Self { base, text: Arc::from(text.as_bytes()) })
    }
}

impl<F: FileSet> FileSet for Variant<F> {
    fn list(&self) -> Vec<String> {
        self.base.list()
    }

    fn bytes(&self, name: &str) -> Result<Option<Arc<[u8]>>, String> {
        if name == "project.toml" { Ok(Some(Arc::clone(&self.text))) } else { self.base.bytes(name) }
    }
}

/// What a sweep file says; nothing is interpreted yet.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SweepFile {
    /// Number of samples; every combination when not written.
    pub samples: Option<u64>,
    /// Seed of the samples.
    pub seed: Option<u64>,
    /// Inputs in the order of the file.
    pub inputs: Vec<SweepInput>,
}

/// One input of a sweep file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SweepInput {
    /// Key of the project.
    pub key: String,
    /// Its values.
    pub values: SweepValues,
    /// Where it is written.
    pub place: Place,
}

/// Values of an input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SweepValues {
    /// A list.
    List(Vec<String>),
    /// One text, as after the `=` of `--vary`.
    Text(String),
}

/// Reads a sweep file.
///
/// ```
/// use drycoil_intake::variant::read_sweep;
/// let text = "[sweep]\nsamples = 50\nseed = 3\n[vary]\n\"dew_point.supply\" = \"44 degF..50 degF\"\n\"plant.economizer\" = [true, false]\n";
/// let sweep = read_sweep("sweep.toml", text.as_bytes()).unwrap();
/// assert_eq!(sweep.inputs.len(), 2);
/// ```
///
/// # Errors
/// Everything that is wrong with the file, with its places.
pub fn read_sweep(name: &str, bytes: &[u8]) -> Result<SweepFile, Vec<Finding>> {
    let Ok(text) = std::str::from_utf8(bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes)) else {
        return Err(vec![Finding::new(pf::NOT_TEXT, "the file is not UTF-8 text").at(Place::file(name))]);
    };
    let place = |span: Range<usize>| {
        let before = &text[..span.start.min(text.len())];
        let line = before.bytes().filter(|b| *b == b'\n').count() as u32 + 1;
        let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) as u32 + 1;
        Place::line(name, line, column).span(span.start, span.end)
    };
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(errors
            .into_iter()
            .map(|e| Finding::new(pf::SYNTAX, e.message().to_owned()).at(place(e.span().unwrap_or(0..0))))
            .collect());
    }
    let mut out = SweepFile::default();
    let mut found = Vec::new();
    for (key, value) in root.get_ref() {
        let wrong_table = |message: String| Finding::new(pf::UNKNOWN_KEY, message).at(place(key.span()));
        let DeValue::Table(table) = value.get_ref() else {
            found.push(wrong_table(format!("`{}` is not a table of a sweep file", key.get_ref())));
            continue;
        };
        match key.get_ref().as_ref() {
            "sweep" => {
                for (k, v) in table {
                    let number = match v.get_ref() {
                        DeValue::Integer(n) => n.as_str().parse::<u64>().ok(),
                        _ => None,
                    };
                    match (k.get_ref().as_ref(), number) {
                        ("samples", Some(n)) => out.samples = Some(n),
                        ("seed", Some(n)) => out.seed = Some(n),
                        ("samples" | "seed", None) => found.push(
                            Finding::new(
                                pf::WRONG_TYPE,
                                format!("`{}` is a whole number from 0", k.get_ref()),
                            )
                            .at(place(v.span())),
                        ),
                        (other, _) => found.push(
                            Finding::new(pf::UNKNOWN_KEY, format!("`{other}` is not a key of `[sweep]`"))
                                .at(place(k.span()))
                                .allowed("samples, seed"),
                        ),
                    }
                }
            }
            "vary" => {
                let mut inputs: Vec<(usize, SweepInput)> = Vec::new();
                flatten(table, "", &mut |key, span, value| {
                    let values = match value {
                        DeValue::Array(items) => {
                            let texts: Option<Vec<String>> =
                                items.iter().map(|i| scalar(i.get_ref())).collect();
                            texts.map(SweepValues::List)
                        }
                        other => scalar(other).map(SweepValues::Text),
                    };
                    match values {
                        Some(values) => inputs.push((
                            span.start,
                            SweepInput { key: key.to_owned(), values, place: place(span) },
                        )),
                        None => found.push(
                            Finding::new(
                                pf::WRONG_TYPE,
                                format!(
                                    "`{key}` takes a list of values or a text such as \"46 degF..52 degF/4\""
                                ),
                            )
                            .at(place(span)),
                        ),
                    }
                });
                inputs.sort_by_key(|(at, _)| *at);
                out.inputs = inputs.into_iter().map(|(_, i)| i).collect();
            }
            other => found.push(
                wrong_table(format!("`[{other}]` is not a table of a sweep file")).allowed("sweep, vary"),
            ),
        }
    }
    if found.is_empty() { Ok(out) } else { Err(found) }
}

/// Entries of a table and of the tables in it, so that quoted and dotted keys mean the same.
fn flatten(table: &DeTable<'_>, path: &str, see: &mut impl FnMut(&str, Range<usize>, &DeValue<'_>)) {
    for (key, value) in table {
        let dotted =
            if path.is_empty() { key.get_ref().to_string() } else { format!("{path}.{}", key.get_ref()) };
        match value.get_ref() {
            DeValue::Table(inner) => flatten(inner, &dotted, see),
            other => see(&dotted, key.span(), other),
        }
    }
}

fn scalar(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(s) => Some(s.to_string()),
        DeValue::Integer(n) => Some(n.as_str().to_owned()),
        DeValue::Float(x) => Some(x.as_str().to_owned()),
        DeValue::Boolean(b) => Some(b.to_string()),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{MemoryFiles, project::read_project};

    const TOML: &str = "[project]\nformat = 1\nname = \"A\"\n\n[site] # where\nweather = \"year.csv\"\nelevation = \"10 m\"\n";

    fn files() -> MemoryFiles {
        MemoryFiles::new()
            .with("project.toml", TOML)
            .with("rooms.csv", "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n")
    }

    #[test]
    fn a_variant_is_read_like_a_project_that_was_written_so() {
        let values = [
            ("site.elevation", literal("20 m")),
            ("site.first_weekday", literal("friday")),
            ("plant.chillers", literal("3")),
            ("plant.economizer", literal("false")),
        ];
        let variant = Variant::new(files(), &values).unwrap();
        let read = read_project(&variant, None).unwrap().project;
        assert!((read.site.elevation.as_ref().unwrap().value.to_metres() - 20.0).abs() < 1e-12);
        assert_eq!(read.site.first_weekday.value, 4);
        assert_eq!(read.plant.chillers.value, 3);
        assert!(!read.plant.economizer.value);
        // The same text, written by hand.
        let by_hand = format!(
            "{}\n[plant]\nchillers = 3\neconomizer = false\n",
            TOML.replace("10 m", "20 m")
                .replace("[site] # where\n", "[site] # where\nfirst_weekday = \"friday\"\n")
        );
        let written = read_project(&files().with("project.toml", by_hand), None).unwrap().project;
        assert_eq!(written.plant.chillers.value, read.plant.chillers.value);
        assert_eq!(written.site.first_weekday.value, read.site.first_weekday.value);
    }

    #[test]
    fn a_bad_value_or_key_is_found_by_the_reader() {
        let refused = |key: &str, value: &str| {
            let variant = Variant::new(files(), &[(key, literal(value))]);
            match variant {
                Ok(v) => read_project(&v, None).unwrap_err(),
                Err(f) => f,
            }
        };
        for (key, value, id) in [
            ("plant.chillers", "two", "PF-004"),
            ("plant.chilers", "2", "PF-002"),
            ("site.elevation", "10", "PF-005"),
            ("site.elevation", "900 km", "PF-008"),
            ("plant", "2", "PF-002"),
            ("site.weather.name", "x", "PF-002"),
            ("project", "x", "PF-002"),
        ] {
            let found = refused(key, value);
            assert!(found.iter().any(|f| f.id() == id), "{key} = {value}: {found:#?}");
        }
    }

    #[test]
    fn literals_are_toml() {
        for (text, written) in [
            ("3", "3"),
            ("-2", "-2"),
            ("3.5", "3.5"),
            ("true", "true"),
            ("48 degF", "\"48 degF\""),
            ("a\"b\\c", "\"a\\\"b\\\\c\""),
            ("inf", "\"inf\""),
            ("5.", "\"5.\""),
        ] {
            assert_eq!(literal(text), written);
            let parsed = DeTable::parse_recoverable(&format!("k = {written}")).1;
            assert!(parsed.is_empty(), "{written}");
        }
    }

    #[test]
    fn everything_wrong_with_a_sweep_file_is_said_with_its_place() {
        let text = "[sweep]\nsamples = -1\nsed = 2\n[vary]\nplant.chillers = [1, [2]]\n[more]\nx = 1\n";
        let found = read_sweep("s.toml", text.as_bytes()).unwrap_err();
        let lines: Vec<Option<u32>> = found.iter().map(|f| f.places[0].line).collect();
        assert_eq!(found.len(), 4, "{found:#?}");
        for line in [2, 3, 5, 6] {
            assert!(lines.contains(&Some(line)), "{lines:?}");
        }
        assert_eq!(read_sweep("s.toml", b"[vary\n").unwrap_err()[0].id(), "PF-001");
        assert_eq!(read_sweep("s.toml", &[0xff, 0xfe]).unwrap_err()[0].id(), "PF-013");
    }

    #[test]
    fn inputs_keep_their_order_whether_quoted_or_dotted() {
        let text = "[vary]\n\"plant.chillers\" = [1, 2]\ndew_point.supply = \"44 degF..46 degF/3\"\nplant.economizer = true\n";
        let sweep = read_sweep("s.toml", text.as_bytes()).unwrap();
        let keys: Vec<&str> = sweep.inputs.iter().map(|i| i.key.as_str()).collect();
        assert_eq!(keys, ["plant.chillers", "dew_point.supply", "plant.economizer"]);
        assert_eq!(sweep.inputs[0].values, SweepValues::List(vec!["1".into(), "2".into()]));
        assert_eq!(sweep.inputs[2].values, SweepValues::Text("true".into()));
    }
}
