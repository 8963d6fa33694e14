//! Lines and sheets.

use drycoil_findings::Place;
use drycoil_units::{QuantityKind, UnitSystem, significant};

/// Where a value came from.
#[derive(Debug, Clone, PartialEq)]
pub enum Origin {
    /// Written by the user.
    File(Place),
    /// A default that applied because nothing was written.
    Default {
        /// What the default is.
        rule: &'static str,
        /// Where it comes from.
        source: &'static str,
    },
    /// The result of another line, by its symbol, on this sheet or on the sheet `PLACE QUANTITY`.
    Line(String),
    /// A physical constant or definition.
    Constant(&'static str),
    /// A row of a shipped or user table.
    Table {
        /// Table and row.
        row: String,
        /// Publication and edition; what the table is where the row stands in a file.
        source: String,
        /// Where the row stands, when the user wrote it.
        place: Option<Place>,
    },
    /// An hour of the weather year or of a design day.
    Weather(String),
}

impl Origin {
    /// A named default.
    pub const fn default_value(rule: &'static str, source: &'static str) -> Self {
        Self::Default { rule, source }
    }
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::File(place) => write!(f, "{place}"),
            Self::Default { rule, source } => write!(f, "default: {rule} ({source})"),
            Self::Line(symbol) => write!(f, "from {symbol}"),
            Self::Constant(what) => write!(f, "{what}"),
            Self::Table { row, source, place: None } => write!(f, "{row} ({source})"),
            Self::Table { row, source, place: Some(place) } => write!(f, "{row} ({source}, {place})"),
            Self::Weather(what) => write!(f, "{what}"),
        }
    }
}

/// A value that remembers where it came from. Equality looks at the value only.
#[derive(Debug, Clone)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Its origin.
    pub origin: Origin,
}

impl<T> Sourced<T> {
    /// A value with its origin.
    pub const fn new(value: T, origin: Origin) -> Self {
        Self { value, origin }
    }

    /// A named default.
    pub const fn default_value(value: T, rule: &'static str, source: &'static str) -> Self {
        Self { value, origin: Origin::Default { rule, source } }
    }

    /// The same origin for a value computed from this one.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Sourced<U> {
        Sourced { value: f(self.value), origin: self.origin }
    }

    /// Whether the user wrote it.
    pub fn is_written(&self) -> bool {
        matches!(self.origin, Origin::File(_))
    }
}

impl<T: PartialEq> PartialEq for Sourced<T> {
    fn eq(&self, other: &Self) -> bool {
        self.value == other.value
    }
}

impl<T> std::ops::Deref for Sourced<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

/// The publication behind a formula.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Publication, with edition.
    pub publication: &'static str,
    /// Section, equation or method in it.
    pub method: &'static str,
}

impl Source {
    /// A publication and the place in it.
    pub const fn new(publication: &'static str, method: &'static str) -> Self {
        Self { publication, method }
    }
}

/// One symbol of a formula with its value.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Symbol as it stands in the formula.
    pub symbol: String,
    /// Kind of quantity; `None` for a plain number.
    pub kind: Option<QuantityKind>,
    /// SI value.
    pub si: f64,
    /// Where it came from.
    pub origin: Origin,
    /// Units of the trade for this use; `None` for those of the kind.
    pub units: Option<TradeUnits>,
}

/// Symbols of the units in which the trade reads one use of a kind of quantity, such as a pump head in ft of water and a
/// fan pressure in inches. Both are in the table of the kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TradeUnits {
    /// In the International System.
    pub si: &'static str,
    /// In the inch-pound system.
    pub ip: &'static str,
}

impl Input {
    /// The value with its unit.
    pub fn shown(&self, system: UnitSystem) -> String {
        shown(self.kind, self.units, self.si, system, 6)
    }
}

/// One line of a calculation.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Symbol of the result.
    pub symbol: String,
    /// What the result is, in words.
    pub meaning: String,
    /// The formula in symbols: `+ - * / ^ ( )` and the functions of [`crate::check`].
    pub formula: String,
    /// The symbols with their values.
    pub inputs: Vec<Input>,
    /// Kind of the result; `None` for a plain number.
    pub kind: Option<QuantityKind>,
    /// Units of the trade for the result; `None` for those of the kind.
    pub units: Option<TradeUnits>,
    /// SI value of the result, as the program computed it.
    pub si: f64,
    /// Source of the formula.
    pub source: Option<Source>,
    /// A remark: a simplification, a choice.
    pub note: Option<String>,
}

impl Line {
    /// A line for `symbol`, which means `meaning`, computed by `formula`.
    pub fn new(symbol: impl Into<String>, meaning: impl Into<String>, formula: impl Into<String>) -> Self {
        Self {
            symbol: symbol.into(),
            meaning: meaning.into(),
            formula: formula.into(),
            inputs: Vec::new(),
            kind: None,
            units: None,
            si: f64::NAN,
            source: None,
            note: None,
        }
    }

    /// Adds a symbol of the formula.
    #[must_use]
    pub fn with(mut self, symbol: impl Into<String>, kind: QuantityKind, si: f64, origin: Origin) -> Self {
        self.inputs.push(Input { symbol: symbol.into(), kind: Some(kind), si, origin, units: None });
        self
    }

    /// Adds a plain number.
    #[must_use]
    pub fn with_number(mut self, symbol: impl Into<String>, value: f64, origin: Origin) -> Self {
        self.inputs.push(Input { symbol: symbol.into(), kind: None, si: value, origin, units: None });
        self
    }

    /// Sets the units of the symbol added last.
    #[must_use]
    pub fn in_units(mut self, si: &'static str, ip: &'static str) -> Self {
        if let Some(input) = self.inputs.last_mut() {
            input.units = Some(TradeUnits { si, ip });
        }
        self
    }

    /// Sets the result.
    #[must_use]
    pub fn result(mut self, kind: QuantityKind, si: f64) -> Self {
        self.kind = Some(kind);
        self.si = si;
        self
    }

    /// Sets a result that is a plain number.
    #[must_use]
    pub fn result_number(mut self, value: f64) -> Self {
        self.kind = None;
        self.si = value;
        self
    }

    /// Sets the source of the formula.
    #[must_use]
    pub fn source(mut self, source: Source) -> Self {
        self.source = Some(source);
        self
    }

    /// Adds a remark.
    #[must_use]
    pub fn note(mut self, note: impl Into<String>) -> Self {
        self.note = Some(note.into());
        self
    }

    /// SI value of the result.
    pub fn result_si(&self) -> f64 {
        self.si
    }

    /// The formula with each symbol replaced by its value and unit.
    pub fn numbers(&self, system: UnitSystem) -> String {
        let mut out = String::with_capacity(self.formula.len() * 2);
        let mut rest = self.formula.as_str();
        while let Some(start) = rest.find(|c: char| c.is_alphabetic() || c == '_') {
            out.push_str(&rest[..start]);
            let tail = &rest[start..];
            let end = tail.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(tail.len());
            let word = &tail[..end];
            match self.inputs.iter().find(|i| i.symbol == word) {
                Some(input) => {
                    let text = shown(input.kind, input.units, input.si, system, 8);
                    // A sign before a signed number, and a power of one, need its own brackets.
                    let bracket = out.ends_with('-') || tail[end..].trim_start().starts_with('^');
                    if text.starts_with('-') && bracket {
                        out.push('(');
                        out.push_str(&text);
                        out.push(')');
                    } else {
                        out.push_str(&text);
                    }
                }
                None => out.push_str(word),
            }
            rest = &tail[end..];
        }
        out.push_str(rest);
        out
    }

    /// The result with its unit.
    pub fn shown(&self, system: UnitSystem) -> String {
        shown(self.kind, self.units, self.si, system, 6)
    }
}

/// A number in the shown unit with so many significant digits. A temperature difference says so.
fn shown(
    kind: Option<QuantityKind>,
    units: Option<TradeUnits>,
    si: f64,
    system: UnitSystem,
    digits: usize,
) -> String {
    let Some(kind) = kind else { return significant(si, digits) };
    let trade = units.map(|u| match system {
        UnitSystem::Si => u.si,
        UnitSystem::Ip => u.ip,
    });
    if let Some(unit) = trade.and_then(|symbol| kind.unit(symbol)) {
        return format!("{} {}", significant((si - unit.offset) / unit.factor, digits), unit.symbol);
    }
    let number = significant(system.value(kind, si), digits);
    match (kind, system) {
        (QuantityKind::TemperatureDifference, UnitSystem::Ip) => format!("{number} delta degF"),
        _ => format!("{number} {}", system.symbol(kind)),
    }
}

/// The lines behind one scheduled number.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Room, terminal or system: `B-204`, `primary air`, `plant`.
    pub place: String,
    /// Scheduled quantity, as `drycoil working` names it: `primary_air_flow`.
    pub quantity: String,
    /// What the quantity is, in words.
    pub title: String,
    /// The lines, in order of calculation; the last one is the scheduled number.
    pub lines: Vec<Line>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    #[test]
    fn units_of_the_trade_are_printed_and_read_back() {
        let mut line = Line::new("P", "power of a pump", "p * V / e")
            .with("p", QuantityKind::PressureDifference, 130_000.0, Origin::Constant("made up"))
            .in_units("kPa", "ft wg")
            .with("V", QuantityKind::WaterFlow, 0.01, Origin::Constant("made up"))
            .with_number("e", 0.65, Origin::Constant("made up"))
            .result(QuantityKind::Power, 2000.0);
        line.units = Some(TradeUnits { si: "kW", ip: "hp" });
        assert_eq!(line.numbers(UnitSystem::Si), "130.00000 kPa * 10.000000 L/s / 0.65000000");
        assert_eq!(line.shown(UnitSystem::Si), "2.00000 kW");
        // 1 hp = 745.699872 W: NIST Special Publication 811.
        assert_eq!(line.shown(UnitSystem::Ip), "2.68204 hp");
        for system in [UnitSystem::Si, UnitSystem::Ip] {
            assert!((check::evaluate(&line.numbers(system)).unwrap() / 2000.0 - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn a_sign_never_meets_a_sign() {
        let line = |formula: &str| {
            Line::new("x", "made up", formula)
                .with_number("a", -2.0, Origin::Constant("made up"))
                .numbers(UnitSystem::Si)
        };
        assert_eq!(line("-a / a ^ 2"), "-(-2.0000000) / (-2.0000000) ^ 2");
        assert_eq!(line("a - a"), "-2.0000000 - -2.0000000");
        assert!((check::evaluate(&line("-a / a ^ 2")).unwrap() - 0.5).abs() < 1e-12);
    }
}
