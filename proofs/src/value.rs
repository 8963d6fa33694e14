//! Numbers that go into a function of the program and come out of it, with their units.

use drycoil_units::{Quantity, QuantityKind, Unit, parse_kind};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Units that only sources print, beside those of `drycoil-units`.
const PRINTED_UNITS: &[(QuantityKind, &str, f64)] = &[
    (QuantityKind::MassFlow, "kg/min", 1.0 / 60.0),
    (QuantityKind::Power, "kJ/min", 1e3 / 60.0),
    (QuantityKind::ActualAirFlow, "m3/min", 1.0 / 60.0),
    (QuantityKind::MassFlow, "t/h", 1e3 / 3600.0),
    (QuantityKind::PressureDifference, "lbf/ft2", 47.880_258_980_34),
    (QuantityKind::Energy, "kJ/m2", 1e3),
];

/// Units of numbers that have no type of their own.
const PLAIN_UNITS: &[(&str, f64)] = &[
    ("1", 1.0),
    ("%", 0.01),
    ("m3/kg", 1.0),
    ("ft3/lb", 0.028_316_846_592 / 0.453_592_37),
    ("m2/s", 1.0),
    ("ft2/s", 0.3048 * 0.3048),
    ("Pa s", 1.0),
    ("lb/ft s", 0.453_592_37 / 0.3048),
    ("kJ/m2K", 1e3),
    ("min", 1.0),
    ("h", 1.0),
    ("year", 1.0),
    ("money", 1.0),
    ("kW/ton", 1.0),
    ("m2K/kW", 1e-3),
    ("Btu/h gpm degF", 1055.05585262 / 3600.0 * 1.8 / (3.785411784e-3 / 60.0)),
    ("J/m", 1.0),
    ("person/1000 ft2", 1.0 / 92.903_04),
];

/// Why a row could not be computed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FunctionError {
    /// The file does not give what the function takes.
    Case(String),
    /// The program refused the row.
    Refused(String),
}

impl fmt::Display for FunctionError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Case(text) => write!(f, "{text}"),
            Self::Refused(text) => write!(f, "refused: {text}"),
        }
    }
}

impl std::error::Error for FunctionError {}

/// Any error of a physics crate is a refusal.
macro_rules! refusals {
    ($($error:ty),*) => { $(
        impl From<$error> for FunctionError {
            fn from(error: $error) -> Self { Self::Refused(error.to_string()) }
        }
    )* };
}
refusals!(
    drycoil_air::AirError,
    drycoil_water::WaterError,
    drycoil_sun::SunError,
    drycoil_exchange::ExchangeError,
    drycoil_rooms::RoomError,
    drycoil_plant::PlantError,
    drycoil_economics::EconomicsError
);

/// The inputs of one row.
#[derive(Debug, Default)]
pub struct Given {
    numbers: BTreeMap<String, (f64, String)>,
    texts: BTreeMap<String, String>,
    used: RefCell<BTreeSet<String>>,
}

impl Given {
    /// Adds a number with the text of its unit.
    pub fn number(&mut self, name: &str, value: f64, unit: &str) {
        self.numbers.insert(name.to_owned(), (value, unit.to_owned()));
    }

    /// Adds a text.
    pub fn text(&mut self, name: &str, text: &str) {
        self.texts.insert(name.to_owned(), text.to_owned());
    }

    /// Whether the row gives this input.
    pub fn has(&self, name: &str) -> bool {
        self.numbers.contains_key(name) || self.texts.contains_key(name)
    }

    /// Inputs that the function did not look at.
    pub fn unused(&self) -> Vec<String> {
        let used = self.used.borrow();
        self.numbers.keys().chain(self.texts.keys()).filter(|k| !used.contains(*k)).cloned().collect()
    }

    fn take(&self, name: &str) {
        self.used.borrow_mut().insert(name.to_owned());
    }

    /// A quantity.
    pub fn get<Q: Quantity>(&self, name: &str) -> Result<Q, FunctionError> {
        self.take(name);
        if let Some((value, unit)) = self.numbers.get(name) {
            let unit = unit_of(Q::KIND, unit).ok_or_else(|| {
                FunctionError::Case(format!("`{name}`: `{unit}` is no unit of {}", Q::KIND.label()))
            })?;
            return Ok(Q::from_si(value * unit.0 + unit.1));
        }
        if let Some(text) = self.texts.get(name) {
            return parse_kind(Q::KIND, text)
                .map(Q::from_si)
                .map_err(|error| FunctionError::Case(format!("`{name}`: {error}")));
        }
        Err(FunctionError::Case(format!("the input `{name}` is missing")))
    }

    /// A quantity, if the row gives it.
    pub fn try_get<Q: Quantity>(&self, name: &str) -> Result<Option<Q>, FunctionError> {
        if self.has(name) { self.get(name).map(Some) } else { Ok(None) }
    }

    /// A number without a type of its own, in SI.
    pub fn plain(&self, name: &str) -> Result<f64, FunctionError> {
        self.take(name);
        let missing = || FunctionError::Case(format!("the input `{name}` is missing"));
        if let Some((value, unit)) = self.numbers.get(name) {
            return plain_unit(unit)
                .map(|factor| value * factor)
                .ok_or_else(|| FunctionError::Case(format!("`{name}`: unknown unit `{unit}`")));
        }
        let text = self.texts.get(name).ok_or_else(missing)?;
        let (number, unit) = text.split_once(' ').unwrap_or((text, "1"));
        let factor = plain_unit(unit.trim());
        match (number.parse::<f64>(), factor) {
            (Ok(value), Some(factor)) => Ok(value * factor),
            _ => Err(FunctionError::Case(format!("`{name}`: `{text}` is not a number with a known unit"))),
        }
    }

    /// A number if the row gives it, else the other.
    pub fn plain_or(&self, name: &str, other: f64) -> Result<f64, FunctionError> {
        if self.has(name) { self.plain(name) } else { Ok(other) }
    }

    /// A text.
    pub fn words(&self, name: &str) -> Result<&str, FunctionError> {
        self.take(name);
        self.texts
            .get(name)
            .map(String::as_str)
            .ok_or_else(|| FunctionError::Case(format!("the text `{name}` is missing")))
    }
}

/// The results of one row.
#[derive(Debug, Default)]
pub struct Found {
    values: BTreeMap<&'static str, (Option<QuantityKind>, f64)>,
}

impl Found {
    /// No results yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a quantity.
    #[must_use]
    pub fn with<Q: Quantity>(mut self, name: &'static str, value: Q) -> Self {
        self.values.insert(name, (Some(Q::KIND), value.si()));
        self
    }

    /// Adds a number without a type of its own, in SI.
    #[must_use]
    pub fn number(mut self, name: &'static str, value: f64) -> Self {
        self.values.insert(name, (None, value));
        self
    }

    /// The result in this unit.
    pub fn in_unit(&self, name: &str, unit: &str) -> Result<f64, FunctionError> {
        let (kind, si) = self.values.get(name).ok_or_else(|| {
            FunctionError::Case(format!(
                "the function has no result `{name}`; it has {}",
                self.values.keys().copied().collect::<Vec<_>>().join(", ")
            ))
        })?;
        let found = match kind {
            Some(kind) => unit_of(*kind, unit),
            None => plain_unit(unit).map(|factor| (factor, 0.0)),
        };
        let (factor, offset) =
            found.ok_or_else(|| FunctionError::Case(format!("`{name}`: unknown unit `{unit}`")))?;
        Ok((si - offset) / factor)
    }
}

/// Factor and offset of a unit.
fn unit_of(kind: QuantityKind, text: &str) -> Option<(f64, f64)> {
    kind.unit(text).map(|Unit { factor, offset, .. }| (*factor, *offset)).or_else(|| {
        PRINTED_UNITS
            .iter()
            .find(|(k, name, _)| *k == kind && *name == text)
            .map(|(_, _, factor)| (*factor, 0.0))
    })
}

fn plain_unit(text: &str) -> Option<f64> {
    PLAIN_UNITS.iter().find(|(name, _)| *name == text).map(|(_, factor)| *factor)
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_units::Temperature;

    #[test]
    fn an_input_that_nobody_looks_at_is_named() {
        let mut given = Given::default();
        given.number("t", 50.0, "degF");
        given.number("x", 1.0, "1");
        assert!((given.get::<Temperature>("t").unwrap().to_celsius() - 10.0).abs() < 1e-12);
        assert_eq!(given.unused(), ["x"]);
        assert!(given.get::<Temperature>("y").is_err());
    }

    #[test]
    fn results_come_in_the_unit_of_the_column() {
        let found = Found::new().with("t", Temperature::celsius(10.0)).number("n", 0.5);
        assert!((found.in_unit("t", "degF").unwrap() - 50.0).abs() < 1e-12);
        assert!((found.in_unit("n", "%").unwrap() - 50.0).abs() < 1e-12);
        assert!(found.in_unit("t", "Pa").is_err() && found.in_unit("u", "1").is_err());
    }
}
