//! The working behind a number.

use crate::PlaceRecord;
use drycoil_units::UnitSystem;
use drycoil_working::{Input, Line, Origin, Sheet};
use serde::Serialize;

/// The working behind a number. Values are SI; the texts are in the unit system asked for.
///
/// ```
/// use drycoil_results::SheetRecord;
/// use drycoil_units::UnitSystem;
/// use drycoil_working::Sheet;
/// let sheet = Sheet { place: "101".into(), quantity: "sensible_peak".into(), title: "Sensible load".into(), lines: vec![] };
/// let record = SheetRecord::new(&sheet, UnitSystem::Si);
/// assert_eq!((record.place.as_str(), record.lines.len()), ("101", 0));
/// ```
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetRecord {
    /// Room, terminal or system.
    pub place: String,
    /// Quantity.
    pub quantity: String,
    /// Title.
    pub title: String,
    /// Calculation lines in the order of the calculation.
    pub lines: Vec<LineRecord>,
}

/// A calculation line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineRecord {
    /// Symbol of the result.
    pub symbol: String,
    /// What it is.
    pub meaning: String,
    /// Formula.
    pub formula: String,
    /// The formula with numbers.
    pub numbers: String,
    /// The result with its unit.
    pub result: String,
    /// The result, SI; null where it is no number.
    pub si: f64,
    /// Unit of `si`; null where it has none.
    pub si_unit: Option<&'static str>,
    /// Publication and method; null without.
    pub source: Option<SourceRecord>,
    /// A note; null without.
    pub note: Option<String>,
    /// What the formula takes.
    pub inputs: Vec<InputRecord>,
}

/// Where a method is published.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SourceRecord {
    /// Publication.
    pub publication: &'static str,
    /// Method.
    pub method: &'static str,
}

/// What a formula takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InputRecord {
    /// Symbol in the formula.
    pub symbol: String,
    /// The value with its unit.
    pub shown: String,
    /// The value, SI; null where it is no number.
    pub si: f64,
    /// Unit of `si`; null where it has none.
    pub si_unit: Option<&'static str>,
    /// Where it comes from.
    pub origin: OriginRecord,
}

/// Where an input comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OriginRecord {
    /// `file`, `default`, `line`, `constant`, `table` or `weather`.
    pub kind: &'static str,
    /// In words.
    pub text: String,
    /// Place in a file; null for the others.
    pub place: Option<PlaceRecord>,
}

impl SheetRecord {
    /// The record of a sheet, its texts in a unit system.
    pub fn new(sheet: &Sheet, system: UnitSystem) -> Self {
        Self {
            place: sheet.place.clone(),
            quantity: sheet.quantity.clone(),
            title: sheet.title.clone(),
            lines: sheet.lines.iter().map(|line| LineRecord::new(line, system)).collect(),
        }
    }
}

impl LineRecord {
    fn new(line: &Line, system: UnitSystem) -> Self {
        Self {
            symbol: line.symbol.clone(),
            meaning: line.meaning.clone(),
            formula: line.formula.clone(),
            numbers: line.numbers(system),
            result: line.shown(system),
            si: line.si,
            si_unit: line.kind.map(|kind| kind.units()[0].symbol),
            source: line
                .source
                .as_ref()
                .map(|s| SourceRecord { publication: s.publication, method: s.method }),
            note: line.note.clone(),
            inputs: line.inputs.iter().map(|input| InputRecord::new(input, system)).collect(),
        }
    }
}

impl InputRecord {
    fn new(input: &Input, system: UnitSystem) -> Self {
        let (kind, place) = match &input.origin {
            Origin::File(place) => ("file", Some(place.into())),
            Origin::Default { .. } => ("default", None),
            Origin::Line(_) => ("line", None),
            Origin::Constant(_) => ("constant", None),
            Origin::Table { .. } => ("table", None),
            Origin::Weather(_) => ("weather", None),
        };
        Self {
            symbol: input.symbol.clone(),
            shown: input.shown(system),
            si: input.si,
            si_unit: input.kind.map(|kind| kind.units()[0].symbol),
            origin: OriginRecord { kind, text: input.origin.to_string(), place },
        }
    }
}
