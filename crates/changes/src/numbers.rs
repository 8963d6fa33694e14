//! Scheduled numbers and words that changed.

use crate::{Cause, Revision, SAME};
use drycoil_sizing::{Cell, Column, ColumnKind, Row, Schedule, schedules};
use drycoil_units::UnitSystem;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What a schedule holds in a cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum CellValue {
    /// SI value.
    Number(f64),
    /// Words.
    Text(String),
}

impl CellValue {
    fn of(cell: &Cell) -> Option<Self> {
        match cell {
            Cell::Empty => None,
            Cell::Text(t) if t.is_empty() => None,
            Cell::Text(t) => Some(Self::Text(t.clone())),
            Cell::Number(si) => Some(Self::Number(*si)),
        }
    }
}

/// A scheduled number or word that changed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumberChange {
    /// Schedule.
    pub schedule: &'static str,
    /// Room, terminal or system, as `drycoil working` takes it.
    pub place: String,
    /// Scheduled quantity, as `drycoil working` takes it.
    pub quantity: String,
    /// What the quantity is, in words.
    pub title: String,
    /// Unit of the old and the new value; null for plain numbers and words.
    pub si_unit: Option<&'static str>,
    /// The old value; null where the schedule had none.
    pub old: Option<CellValue>,
    /// The new value; null where the schedule has none.
    pub new: Option<CellValue>,
    /// Whether the two look different in print.
    pub printed: bool,
    /// Changed inputs that lead here, shortest way first.
    pub causes: Vec<Cause>,
    /// Whether more inputs lead here than are listed.
    pub more_causes: bool,
    /// Values of tables, profiles and weather on the way that changed, where no input was found.
    pub other_values: Vec<String>,
    /// Column of the schedule.
    #[serde(skip)]
    pub column: Column,
}

impl NumberChange {
    /// The value with the digits and the unit that the schedule shows.
    pub fn shown(&self, value: Option<&CellValue>, system: UnitSystem) -> String {
        match value {
            None => "-".to_owned(),
            Some(CellValue::Text(t)) => t.clone(),
            Some(CellValue::Number(si)) => digits(&self.column, *si, system),
        }
    }
}

fn digits(column: &Column, si: f64, system: UnitSystem) -> String {
    format!("{:.*}", column.decimals(system), column.shown(si, system))
}

/// Rows of the same place and prefix are told apart by their first words, then by their number.
fn keyed(schedule: &Schedule) -> Vec<(String, &Row)> {
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    schedule
        .rows
        .iter()
        .map(|row| {
            let key = format!("{}\u{1f}{}", row.place, row.prefix);
            let n = count.entry(key.clone()).or_default();
            *n += 1;
            (format!("{key}\u{1f}{n}"), row)
        })
        .collect()
}

fn differ(a: Option<&CellValue>, b: Option<&CellValue>) -> bool {
    match (a, b) {
        (Some(CellValue::Number(a)), Some(CellValue::Number(b))) => {
            (a - b).abs() > SAME * a.abs().max(b.abs()) && (a - b).abs() > SAME
        }
        (a, b) => a != b,
    }
}

/// The cells that differ; causes are attached later.
pub(crate) fn compare(before: Revision<'_>, after: Revision<'_>, system: UnitSystem) -> Vec<NumberChange> {
    let old = schedules(before.project, before.design);
    let new = schedules(after.project, after.design);
    let mut out = Vec::new();
    let mut seen: BTreeSet<(String, String)> = BTreeSet::new();
    for schedule in &new {
        let Some(was) = old.iter().find(|s| s.name == schedule.name) else { continue };
        let old_rows: BTreeMap<String, &Row> = keyed(was).into_iter().collect();
        let new_rows = keyed(schedule);
        let there: BTreeSet<&str> = new_rows.iter().map(|(k, _)| k.as_str()).collect();
        let gone = keyed(was)
            .into_iter()
            .filter(|(k, _)| !there.contains(k.as_str()))
            .map(|(k, row)| (k, None, Some(row)));
        let rows = new_rows.iter().map(|(k, row)| (k.clone(), Some(*row), old_rows.get(k).copied()));
        let rows: Vec<(String, Option<&Row>, Option<&Row>)> = rows.chain(gone).collect();
        for (_, row, was) in rows {
            let Some(any) = row.or(was) else { continue };
            for (c, column) in schedule.columns.iter().enumerate() {
                let a = was.and_then(|r| CellValue::of(&r.cells[c]));
                let b = row.and_then(|r| CellValue::of(&r.cells[c]));
                // The first column names the row.
                let names = c == 0 && column.kind == ColumnKind::Text && row.is_some() && was.is_some();
                let quantity = any.quantity(column);
                if names
                    || !differ(a.as_ref(), b.as_ref())
                    || !seen.insert((any.place.clone(), quantity.clone()))
                {
                    continue;
                }
                let printed = match (&a, &b) {
                    (Some(CellValue::Number(a)), Some(CellValue::Number(b))) => {
                        digits(column, *a, system) != digits(column, *b, system)
                    }
                    _ => true,
                };
                out.push(NumberChange {
                    schedule: schedule.name,
                    place: any.place.clone(),
                    quantity,
                    title: column.title.to_owned(),
                    si_unit: match column.kind {
                        ColumnKind::Quantity(kind) => Some(kind.units()[0].symbol),
                        _ => None,
                    },
                    old: a,
                    new: b,
                    printed,
                    causes: Vec::new(),
                    more_causes: false,
                    other_values: Vec::new(),
                    column: *column,
                });
            }
        }
    }
    out
}
