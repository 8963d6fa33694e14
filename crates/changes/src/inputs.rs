//! Inputs that changed.

use drycoil_intake::project::WrittenValue;
use drycoil_results::PlaceRecord;
use serde::Serialize;
use std::collections::BTreeMap;

/// What happened to an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum InputChangeKind {
    /// Another value is written.
    Changed,
    /// It is written now and was not.
    Added,
    /// It was written and is not any more.
    Removed,
    /// A whole row of a table is new.
    RowAdded,
    /// A whole row of a table is gone.
    RowRemoved,
}

/// An input that changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InputChange {
    /// What happened.
    pub kind: InputChangeKind,
    /// File; `weather` for the weather file, whatever its name.
    pub file: String,
    /// Row of a table by what names it, such as the room; empty for a key of a TOML file.
    pub record: String,
    /// Column or dotted key; empty for a whole row.
    pub key: String,
    /// The old text with its unit, or what held where nothing was written; null where nothing did.
    pub old: Option<String>,
    /// The new text with its unit, or what holds where nothing is written; null where nothing does.
    pub new: Option<String>,
    /// Where the old value stands in the old files; null where it does not.
    pub old_place: Option<PlaceRecord>,
    /// Where the new value stands in the new files; null where it does not.
    pub new_place: Option<PlaceRecord>,
}

impl InputChange {
    /// The input in words: file, row, column or key.
    pub fn name(&self) -> String {
        [&self.file, &self.record, &self.key]
            .into_iter()
            .filter(|part| !part.is_empty())
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(", ")
    }
}

type Name<'a> = (&'a str, &'a str, &'a str);

fn name(v: &WrittenValue) -> Name<'_> {
    (&v.file, &v.record, &v.key)
}

/// The files of room lists are one table, whatever their form.
fn table(file: &str) -> &str {
    if file == "rooms.xlsx" { "rooms.csv" } else { file }
}

fn row_of(v: &WrittenValue) -> (&str, &str) {
    (table(&v.file), &v.record)
}

/// Compares what two projects say. A value that is written otherwise and means the same has not changed.
pub(crate) fn compare(before: &[WrittenValue], after: &[WrittenValue]) -> Vec<InputChange> {
    let named = |v: &'_ WrittenValue| (table(&v.file).to_owned(), v.record.clone(), v.key.clone());
    let old: BTreeMap<_, &WrittenValue> = before.iter().map(|v| (named(v), v)).collect();
    let new: BTreeMap<_, &WrittenValue> = after.iter().map(|v| (named(v), v)).collect();
    let old_rows: BTreeMap<(&str, &str), Vec<&WrittenValue>> = rows(before);
    let new_rows: BTreeMap<(&str, &str), Vec<&WrittenValue>> = rows(after);

    // Where each change belongs: by the position of its row in the new files, else in the old ones.
    let mut out: Vec<InputChange> = Vec::new();
    let mut done: Vec<(&str, &str)> = Vec::new();
    for v in after {
        let row = row_of(v);
        if !v.record.is_empty() && !old_rows.contains_key(&row) {
            if !done.contains(&row) {
                done.push(row);
                out.push(whole(InputChangeKind::RowAdded, &new_rows[&row]));
            }
            continue;
        }
        match old.get(&named(v)) {
            Some(o) if o.meaning.is_same(&v.meaning) => {}
            Some(o) => out.push(InputChange {
                kind: InputChangeKind::Changed,
                old: Some(o.text.clone()),
                old_place: Some((&o.place).into()),
                ..one(v)
            }),
            None if v.otherwise.as_ref().is_some_and(|(_, m)| m.is_same(&v.meaning)) => {}
            None => out.push(InputChange { kind: InputChangeKind::Added, old: otherwise(v), ..one(v) }),
        }
    }
    for v in before {
        let row = row_of(v);
        if !v.record.is_empty() && !new_rows.contains_key(&row) {
            if !done.contains(&row) {
                done.push(row);
                out.push(whole(InputChangeKind::RowRemoved, &old_rows[&row]));
            }
            continue;
        }
        if new.contains_key(&named(v)) || v.otherwise.as_ref().is_some_and(|(_, m)| m.is_same(&v.meaning)) {
            continue;
        }
        out.push(InputChange {
            kind: InputChangeKind::Removed,
            old: Some(v.text.clone()),
            new: otherwise(v),
            old_place: Some((&v.place).into()),
            new_place: None,
            ..one(v)
        });
    }
    out
}

fn rows(values: &[WrittenValue]) -> BTreeMap<(&str, &str), Vec<&WrittenValue>> {
    let mut out: BTreeMap<(&str, &str), Vec<&WrittenValue>> = BTreeMap::new();
    for v in values.iter().filter(|v| !v.record.is_empty()) {
        out.entry(row_of(v)).or_default().push(v);
    }
    out
}

/// The declared default, in words.
fn otherwise(v: &WrittenValue) -> Option<String> {
    let (text, _) = v.otherwise.as_ref()?;
    (!text.is_empty()).then(|| format!("{text} (default)"))
}

fn one(v: &WrittenValue) -> InputChange {
    let (file, record, key) = name(v);
    InputChange {
        kind: InputChangeKind::Changed,
        file: file.to_owned(),
        record: record.to_owned(),
        key: key.to_owned(),
        old: None,
        new: Some(v.text.clone()),
        old_place: None,
        new_place: Some((&v.place).into()),
    }
}

/// A whole row: its cells in one text.
fn whole(kind: InputChangeKind, values: &[&WrittenValue]) -> InputChange {
    let text = values.iter().map(|v| format!("{} {}", v.key, v.text)).collect::<Vec<_>>().join(", ");
    let first = values[0];
    let place: PlaceRecord = PlaceRecord { key: None, column: None, ..(&first.place).into() };
    let added = kind == InputChangeKind::RowAdded;
    InputChange {
        kind,
        file: first.file.clone(),
        record: first.record.clone(),
        key: String::new(),
        old: (!added).then(|| text.clone()),
        new: added.then_some(text),
        old_place: (!added).then(|| place.clone()),
        new_place: added.then_some(place),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_intake::MemoryFiles;
    use drycoil_intake::project::written_values;

    const TOML: &str = "[project]\nformat = 1\nname = \"A\"\n[criteria]\ncooling_set_point = \"75 degF\"\n";
    const ROOMS: &str = "id,floor,kind,floor_area [ft2],people\n101,1,meeting,400,7\n102,1,meeting,500,\n";

    fn changes(toml: [&str; 2], rooms: [&str; 2]) -> Vec<InputChange> {
        let values = |i: usize| {
            written_values(&MemoryFiles::new().with("project.toml", toml[i]).with("rooms.csv", rooms[i]))
        };
        compare(&values(0), &values(1))
    }

    #[test]
    fn the_same_files_have_not_changed() {
        assert_eq!(changes([TOML, TOML], [ROOMS, ROOMS]), []);
    }

    #[test]
    fn another_unit_another_order_and_a_written_default_are_no_change() {
        // 75 degF is (75 - 32) / 1.8 = 215/9 degC; 1 ft2 is 0.09290304 m2 exactly (international foot).
        let toml = TOML.replace("75 degF", "23.88888888888889 degC") + "[plant]\nchillers = 2\n";
        let default = crate::inputs::tests::default_chillers();
        let toml = toml.replace("chillers = 2", &format!("chillers = {default}"));
        let rooms =
            "people,id,floor,kind,floor_area [m2]\n,102,1,meeting,46.45152\n7.0,101,1,meeting,37.161216\n";
        assert_eq!(changes([TOML, &toml], [ROOMS, rooms]), []);
    }

    fn default_chillers() -> String {
        let forms = drycoil_intake::project::forms();
        let plant = forms.iter().find(|f| f.path == "plant").unwrap();
        plant.fields.iter().find(|f| f.name == "chillers").unwrap().otherwise.clone()
    }

    #[test]
    fn a_changed_cell_says_old_and_new_with_units() {
        let list = changes([TOML, TOML], [ROOMS, &ROOMS.replace("101,1,meeting,400", "101,1,meeting,420")]);
        assert_eq!(list.len(), 1);
        assert_eq!(list[0].name(), "rooms.csv, 101, floor_area");
        assert_eq!((list[0].old.as_deref(), list[0].new.as_deref()), (Some("400 ft2"), Some("420 ft2")));
        assert_eq!(list[0].new_place.as_ref().unwrap().line, Some(2));
    }

    #[test]
    fn values_and_rows_come_and_go() {
        // Not the default: a default that is no longer written out would be no change.
        let cooler = TOML.replace("75 degF", "73 degF");
        let toml = TOML.replace("cooling_set_point = \"75 degF\"", "heating_set_point = \"66 degF\"");
        let rooms = "id,floor,kind,floor_area [ft2],people\n102,1,meeting,500,9\n103,1,meeting,300,\n";
        let kinds: Vec<(InputChangeKind, String)> =
            changes([&cooler, &toml], [ROOMS, rooms]).iter().map(|c| (c.kind, c.name())).collect();
        assert_eq!(
            kinds,
            [
                (InputChangeKind::Added, "project.toml, criteria.heating_set_point".to_owned()),
                (InputChangeKind::Added, "rooms.csv, 102, people".to_owned()),
                (InputChangeKind::RowAdded, "rooms.csv, 103".to_owned()),
                (InputChangeKind::Removed, "project.toml, criteria.cooling_set_point".to_owned()),
                (InputChangeKind::RowRemoved, "rooms.csv, 101".to_owned()),
            ]
        );
    }
}
