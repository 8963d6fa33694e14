//! What a project says, value by value: for comparing two revisions.
//!
//! Each written value has a name that does not move when lines move (room and column, dotted key), the text as it stands,
//! what it means in SI, and its place, which is the same place that the [`Origin`](drycoil_working::Origin) of the
//! project's values names.

use super::keys::{MODEL, PROFILE_COLUMNS, ROOM_COLUMNS, SURFACE_COLUMNS, TABLES};
use super::section::{Log, in_order, lower, parse};
use super::sheet;
use super::spec::{KeySpec, Need, Shape, TableSpec, Value, ValueKind, parse_text};
use super::table::{Grid, RowReader, Table, grid_of};
use super::text::{Encoding, Text, decode};
use crate::files::{FileSet, Fingerprint};
use drycoil_findings::Place;
use drycoil_units::{AirFlowBasis, QuantityKind};
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};

/// What a written value means.
#[derive(Debug, Clone, PartialEq)]
pub enum Meaning {
    /// A number in SI; of an air flow, with the basis that was written beside it.
    Number {
        /// Kind of quantity; `None` for a plain number.
        kind: Option<QuantityKind>,
        /// SI value.
        si: f64,
        /// Basis of an air flow, where one is written.
        basis: Option<AirFlowBasis>,
    },
    /// Numbers of the months or hours.
    Numbers(Vec<f64>),
    /// A word, a text, a list of days.
    Text(String),
}

impl Meaning {
    /// Whether both mean the same. Numbers that differ by the rounding of a conversion of units are the same.
    ///
    /// ```
    /// use drycoil_intake::project::Meaning;
    /// use drycoil_units::{QuantityKind, parse_kind};
    /// let area = |text| Meaning::Number {
    ///     kind: Some(QuantityKind::Area),
    ///     si: parse_kind(QuantityKind::Area, text).unwrap(),
    ///     basis: None,
    /// };
    /// assert!(area("100 ft2").is_same(&area("9.290304 m2")));
    /// assert!(!area("100 ft2").is_same(&area("9.29 m2")));
    /// ```
    pub fn is_same(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= ROUNDING * a.abs().max(b.abs());
        match (self, other) {
            (Self::Number { kind, si, basis }, Self::Number { kind: k, si: s, basis: b }) => {
                kind == k && basis == b && near(*si, *s)
            }
            (Self::Numbers(a), Self::Numbers(b)) => {
                a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(*a, *b))
            }
            (a, b) => a == b,
        }
    }
}

/// Relative difference below which two numbers are the same: what a few conversions in double precision lose.
const ROUNDING: f64 = 1e-12;

/// A value as it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenValue {
    /// File as the project names it; `weather` for the weather file, whatever its name.
    pub file: String,
    /// Row of a table by what names it, such as the room; empty for a key of a TOML file.
    pub record: String,
    /// Column without unit, or dotted key. A table of a list is named by its `name` or its number: `layers[plaster]`.
    pub key: String,
    /// The text, with the unit of the column where it has none of its own.
    pub text: String,
    /// What it means.
    pub meaning: Meaning,
    /// What holds where it is not written: the text and its meaning.
    pub otherwise: Option<(String, Meaning)>,
    /// Where it is written.
    pub place: Place,
}

/// All written values of a project, in the order of the files. Of a project that is refused, those that can be read.
///
/// ```
/// use drycoil_intake::{MemoryFiles, project::written_values};
/// let files = MemoryFiles::new()
///     .with("project.toml", "[project]\nformat = 1\nname = \"A\"\n[criteria]\ncooling_set_point = \"75 degF\"\n")
///     .with("rooms.csv", "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n");
/// let values = written_values(&files);
/// let area = values.iter().find(|v| v.record == "101" && v.key == "floor_area").unwrap();
/// assert_eq!(area.text, "400 ft2");
/// let set_point = values.iter().find(|v| v.key == "criteria.cooling_set_point").unwrap();
/// assert_eq!(set_point.place.line, Some(5));
/// ```
pub fn written_values(files: &dyn FileSet) -> Vec<WrittenValue> {
    let mut out = Vec::new();
    let mut log = Log::default();
    let mut weather = None;
    if let Some(text) = open(files, "project.toml", Encoding::Utf8) {
        toml_values(&text, TABLES, &mut log, &mut out);
        weather = out.iter().find(|v| v.key == "site.weather").map(|v| v.text.replace('\\', "/"));
    }
    if let Some(text) = open(files, "catalogue.toml", Encoding::Utf8) {
        toml_values(&text, &[MODEL], &mut log, &mut out);
    }
    for (file, columns) in
        [("profiles.csv", PROFILE_COLUMNS), ("rooms.csv", ROOM_COLUMNS), ("surfaces.csv", SURFACE_COLUMNS)]
    {
        if let Some(text) = open(files, file, Encoding::Utf8OrWindows1252)
            && let Some(grid) = grid_of(&text, &mut log)
        {
            table_values(file, grid, columns, &mut log, &mut out);
        }
    }
    if let Ok(Some(bytes)) = files.bytes("rooms.xlsx")
        && let Some(grid) = sheet::grid_of("rooms.xlsx", &bytes, &mut log)
    {
        table_values("rooms.xlsx", grid, ROOM_COLUMNS, &mut log, &mut out);
    }
    if let Some(name) = weather
        && let Ok(Some(bytes)) = files.bytes(&name)
    {
        let mut hash = Fingerprint::default();
        hash.add("weather", &bytes);
        let text = format!("{} bytes, fingerprint {:016x}", bytes.len(), hash.value());
        out.push(WrittenValue {
            file: "weather".to_owned(),
            record: String::new(),
            key: "content".to_owned(),
            meaning: Meaning::Text(text.clone()),
            text,
            otherwise: None,
            place: Place::file(name),
        });
    }
    out
}

fn open(files: &dyn FileSet, name: &str, encoding: Encoding) -> Option<Text> {
    let bytes = files.bytes(name).ok()??;
    decode(name, &bytes, encoding, &mut Vec::new())
}

fn meaning(kind: ValueKind, value: Value) -> Meaning {
    let number = |si, kind, basis| Meaning::Number { kind, si, basis };
    match value {
        Value::Si(x) => match kind {
            ValueKind::Quantity(q, _) => number(x, Some(q), None),
            _ => number(x, Some(QuantityKind::Angle), None),
        },
        Value::Flow(x, basis) => number(x, Some(QuantityKind::StandardAirFlow), basis),
        Value::Number(x) => number(x, None, None),
        Value::Count(n) => number(f64::from(n), None, None),
        Value::Word(i) => match kind {
            ValueKind::Word(words) => Meaning::Text(words[i].to_owned()),
            _ => Meaning::Text(i.to_string()),
        },
        Value::Text(t) => Meaning::Text(t),
        Value::Flag(b) => Meaning::Text(if b { "yes" } else { "no" }.to_owned()),
        Value::Days(days) => {
            Meaning::Text(days.iter().map(|(m, d)| format!("{m:02}-{d:02}")).collect::<Vec<_>>().join(", "))
        }
        Value::Monthly(m) => Meaning::Numbers(m.to_vec()),
        Value::Hourly(h) => Meaning::Numbers(h.to_vec()),
    }
}

fn otherwise(spec: &KeySpec) -> Option<(String, Meaning)> {
    let Need::Default { text, .. } = spec.need else { return None };
    Some((text.to_owned(), meaning(spec.kind, parse_text(spec.kind, text).ok()?)))
}

fn toml_values(text: &Text, specs: &[TableSpec], log: &mut Log, out: &mut Vec<WrittenValue>) {
    let Some(root) = parse(text, log) else { return };
    for spec in specs {
        let base = spec.path.strip_suffix(".NAME").unwrap_or(spec.path);
        let mut at = Some(root.get_ref());
        let mut list = None;
        for part in base.split('.') {
            match at.and_then(|t| t.get(part)).map(toml::Spanned::get_ref) {
                Some(DeValue::Table(table)) => at = Some(table),
                Some(DeValue::Array(items)) => {
                    list = Some(items);
                    at = None;
                }
                _ => at = None,
            }
        }
        match (spec.shape, at, list) {
            (Shape::Single, Some(table), _) => one_table(text, table, base, spec.keys, out),
            (Shape::Named, Some(parent), _) => {
                for (name, _, value) in in_order(parent) {
                    if let DeValue::Table(table) = value.get_ref() {
                        one_table(text, table, &format!("{base}.{name}"), spec.keys, out);
                    }
                }
            }
            (Shape::List, _, Some(items)) => tables(text, items, base, spec.keys, out),
            _ => {}
        }
    }
}

/// The tables of a list, each named by its `name`, or by its number where names are missing or not unlike.
fn tables(
    text: &Text,
    items: &[toml::Spanned<DeValue<'_>>],
    path: &str,
    keys: &[KeySpec],
    out: &mut Vec<WrittenValue>,
) {
    let name = |item: &DeValue<'_>| -> Option<String> {
        ["name", "id"].iter().find_map(|k| Some(item.as_table()?.get(*k)?.get_ref().as_str()?.to_owned()))
    };
    let names: Vec<Option<String>> = items.iter().map(|i| name(i.get_ref())).collect();
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for name in names.iter().flatten() {
        *count.entry(name).or_default() += 1;
    }
    for (i, item) in items.iter().enumerate() {
        let label =
            names[i].as_deref().filter(|n| count[n] == 1).map_or_else(|| (i + 1).to_string(), str::to_owned);
        if let DeValue::Table(table) = item.get_ref() {
            one_table(text, table, &format!("{path}[{label}]"), keys, out);
        }
    }
}

fn one_table(text: &Text, table: &DeTable<'_>, path: &str, keys: &[KeySpec], out: &mut Vec<WrittenValue>) {
    for (key, _, value) in in_order(table) {
        let Some(spec) = keys.iter().find(|k| k.name == key) else { continue };
        let dotted = format!("{path}.{key}");
        if let (ValueKind::Rows(inner), DeValue::Array(items)) = (spec.kind, value.get_ref()) {
            tables(text, items, &dotted, inner, out);
            continue;
        }
        let Ok(lowered) = lower(spec.kind, value.get_ref()) else { continue };
        let written = match value.get_ref() {
            DeValue::String(s) => s.to_string(),
            _ => text
                .text
                .get(value.span())
                .unwrap_or_default()
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" "),
        };
        out.push(WrittenValue {
            file: text.name.clone(),
            record: String::new(),
            key: dotted.clone(),
            text: written,
            meaning: meaning(spec.kind, lowered),
            otherwise: otherwise(spec),
            place: text.place(value.span()).key(dotted),
        });
    }
}

/// What names a row of each table.
fn record(row: &RowReader<'_>, columns: &[&str]) -> String {
    columns.iter().filter_map(|c| row.cell(c)).collect::<Vec<_>>().join(" ")
}

fn table_values(
    file: &str,
    grid: Grid,
    keys: &'static [KeySpec],
    log: &mut Log,
    out: &mut Vec<WrittenValue>,
) {
    let Some(mut table) = Table::new(grid, keys, log) else { return };
    let naming: &[&str] = match file {
        "surfaces.csv" => &["room", "kind", "facing"],
        "profiles.csv" => &["profile", "use", "day"],
        _ => &["id"],
    };
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for i in 0..table.rows() {
        let mut row = table.row(i, log);
        let mut name = record(&row, naming);
        let n = seen.entry(name.clone()).or_default();
        *n += 1;
        if *n > 1 {
            name = format!("{name} #{n}");
        }
        for spec in keys {
            let Some(value) = row.written_if(spec.name) else { continue };
            let text = row.text_with_unit(spec.name);
            out.push(WrittenValue {
                file: file.to_owned(),
                record: name.clone(),
                key: spec.name.to_owned(),
                text,
                meaning: meaning(spec.kind, value),
                otherwise: otherwise(spec),
                place: row.place(spec.name),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::MemoryFiles;

    const TOML: &str = "[project]\nformat = 1\nname = \"A\"\n[site]\nweather = \"w.csv\"\nholidays = [\"01-01\",  \"07-04\"]\n\
        [plant]\neconomizer = true\n[constructions.wall]\nlayers = [{ name = \"brick\", resistance = \"0.1 m2K/W\" }, \
        { name = \"wool\", resistance = \"2 m2K/W\" }]\n[[waive]]\nid = \"DP-005\"\nreason = \"r\"\nrole = \"e\"\ndate = \"2026-01-02\"\n";

    fn values(rooms: &str) -> Vec<WrittenValue> {
        written_values(
            &MemoryFiles::new()
                .with("project.toml", TOML)
                .with("rooms.csv", rooms)
                .with("w.csv", "some weather"),
        )
    }

    fn find<'a>(all: &'a [WrittenValue], record: &str, key: &str) -> &'a WrittenValue {
        all.iter()
            .find(|v| v.record == record && v.key == key)
            .unwrap_or_else(|| panic!("{record} {key}: {all:#?}"))
    }

    #[test]
    fn every_shape_of_table_is_walked() {
        let all = values("id,floor,kind,floor_area [ft2],exhaust [cfm]\n101,1,meeting,400,90 L/s\n");
        assert_eq!(find(&all, "", "constructions.wall.layers[wool].resistance").text, "2 m2K/W");
        assert_eq!(find(&all, "", "waive[DP-005].reason").text, "r");
        assert_eq!(find(&all, "", "site.holidays").meaning, Meaning::Text("01-01, 07-04".into()));
        assert_eq!(find(&all, "", "plant.economizer").text, "true");
        assert_eq!(find(&all, "101", "floor_area").text, "400 ft2");
        assert_eq!(find(&all, "101", "exhaust").text, "90 L/s", "a cell with a unit of its own");
        assert!(find(&all, "", "content").text.starts_with("12 bytes"));
    }

    #[test]
    fn the_place_of_a_value_is_that_of_the_project() {
        let rooms = "id,floor,kind,floor_area [ft2],people\n101,1,meeting,400,7\n";
        let files = MemoryFiles::new().with("project.toml", TOML).with("rooms.csv", rooms);
        let project = crate::project::read_project(&files, None).unwrap().project;
        let all = written_values(&files);
        let place = |origin: &drycoil_working::Origin| match origin {
            drycoil_working::Origin::File(place) => place.clone(),
            other => panic!("{other}"),
        };
        assert_eq!(place(&project.rooms[0].people.origin), find(&all, "101", "people").place);
        assert_eq!(place(&project.plant.economizer.origin), find(&all, "", "plant.economizer").place);
    }

    #[test]
    fn rows_of_the_same_name_are_told_apart() {
        let files = MemoryFiles::new().with(
            "surfaces.csv",
            "room,kind,construction,area [ft2],facing\n101,window,g,20,S\n101,window,g,30,S\n101,wall,w,80,S\n",
        );
        let all = written_values(&files);
        let areas: Vec<(&str, &str)> =
            all.iter().filter(|v| v.key == "area").map(|v| (v.record.as_str(), v.text.as_str())).collect();
        assert_eq!(
            areas,
            [("101 window S", "20 ft2"), ("101 window S #2", "30 ft2"), ("101 wall S", "80 ft2")]
        );
    }

    #[test]
    fn a_default_that_is_written_out_means_the_same() {
        let all = values("id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n");
        let economizer = find(&all, "", "plant.economizer");
        let (_, default) = economizer.otherwise.clone().unwrap();
        // The declared default is read by the same reader.
        assert!(matches!(default, Meaning::Text(_)));
    }
}
