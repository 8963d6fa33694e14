//! Reading `number unit` text.

use crate::kind::QuantityKind;
use std::fmt;

/// Why a text is not a quantity. The message never guesses.
#[derive(Debug, Clone, PartialEq)]
pub enum UnitError {
    /// Nothing was written.
    Empty {
        /// What was expected.
        kind: QuantityKind,
    },
    /// The number cannot be read.
    NotANumber {
        /// What was expected.
        kind: QuantityKind,
        /// The text as written.
        text: String,
    },
    /// A number that is not finite.
    NotFinite {
        /// What was expected.
        kind: QuantityKind,
        /// The text as written.
        text: String,
    },
    /// A number without a unit.
    NoUnit {
        /// What was expected.
        kind: QuantityKind,
        /// The text as written.
        text: String,
    },
    /// A unit that does not belong to this kind of quantity.
    WrongUnit {
        /// What was expected.
        kind: QuantityKind,
        /// The unit as written.
        unit: String,
        /// Another kind that has this unit.
        other: Option<QuantityKind>,
        /// A unit of this kind that is spelt nearly the same.
        near: Option<&'static str>,
    },
}

/// The kind with its article.
fn one(kind: QuantityKind) -> String {
    let label = kind.label();
    let article = if label.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {label}")
}

impl fmt::Display for UnitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty { kind } => write!(f, "expected {} with its unit, found nothing", one(*kind)),
            Self::NotANumber { kind, text } => {
                write!(f, "expected {} such as a number followed by a unit, found `{text}`", one(*kind))
            }
            Self::NotFinite { kind, text } => write!(f, "{} must be finite, found `{text}`", one(*kind)),
            Self::NoUnit { kind, text } => write!(f, "`{text}` has no unit; {} needs one", one(*kind)),
            Self::WrongUnit { kind, unit, other, .. } => {
                write!(f, "`{unit}` is not a unit of {}", kind.label())?;
                if let Some(other) = other {
                    write!(f, " (it is a unit of {})", other.label())?;
                }
                Ok(())
            }
        }
    }
}

impl std::error::Error for UnitError {}

impl UnitError {
    /// The one hint that goes with the message.
    pub fn hint(&self) -> String {
        match self {
            Self::WrongUnit { unit, .. }
                if unit.strip_prefix(',').is_some_and(|u| u.starts_with(|c: char| c.is_ascii_digit())) =>
            {
                "decimals stand behind a point here, and thousands have no separator".to_owned()
            }
            Self::WrongUnit { near: Some(near), .. } => format!("did you mean `{near}`?"),
            Self::Empty { kind }
            | Self::NotANumber { kind, .. }
            | Self::NotFinite { kind, .. }
            | Self::NoUnit { kind, .. }
            | Self::WrongUnit { kind, .. } => format!("accepted units: {}", kind.accepted()),
        }
    }
}

/// Splits `"12.5 degF"` into its number and the text of the unit. Digits may be grouped with `_`.
///
/// Returns `None` when the text does not begin with a number.
pub fn parse_number(text: &str) -> Option<(f64, &str)> {
    let t = text.trim();
    let mut end = 0;
    let bytes = t.as_bytes();
    let (mut seen_digit, mut seen_exponent, mut seen_gap) = (false, false, false);
    while end < bytes.len() {
        let c = bytes[end];
        let ok = c.is_ascii_digit()
            || c == b'.'
            || (c == b'_' && seen_digit)
            || ((c == b'+' || c == b'-') && (end == 0 || matches!(bytes[end - 1], b'e' | b'E')))
            || (matches!(c, b'e' | b'E')
                && seen_digit
                && bytes.get(end + 1).is_some_and(|n| n.is_ascii_digit() || matches!(n, b'+' | b'-'))
                && !seen_exponent);
        if !ok {
            break;
        }
        seen_digit |= c.is_ascii_digit();
        seen_exponent |= matches!(c, b'e' | b'E');
        seen_gap |= c == b'_';
        end += 1;
    }
    if !seen_digit {
        return None;
    }
    let digits = &t[..end];
    let number: f64 = if seen_gap { digits.replace('_', "").parse().ok()? } else { digits.parse().ok()? };
    Some((number, t[end..].trim()))
}

/// Reads a quantity of the given kind and returns its SI value (temperatures in degC).
pub fn parse_kind(kind: QuantityKind, text: &str) -> Result<f64, UnitError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(UnitError::Empty { kind });
    }
    let Some((number, unit_text)) = parse_number(trimmed) else {
        let lower = trimmed.to_ascii_lowercase();
        if ["nan", "inf", "+inf", "-inf", "infinity"].iter().any(|w| lower.starts_with(w)) {
            return Err(UnitError::NotFinite { kind, text: trimmed.to_owned() });
        }
        return Err(UnitError::NotANumber { kind, text: trimmed.to_owned() });
    };
    if unit_text.is_empty() {
        return Err(UnitError::NoUnit { kind, text: trimmed.to_owned() });
    }
    let Some(unit) = kind.unit(unit_text) else {
        return Err(wrong_unit(kind, unit_text));
    };
    let si = number * unit.factor + unit.offset;
    if !si.is_finite() {
        return Err(UnitError::NotFinite { kind, text: trimmed.to_owned() });
    }
    Ok(si)
}

fn wrong_unit(kind: QuantityKind, unit: &str) -> UnitError {
    let other = QuantityKind::ALL.iter().copied().find(|k| *k != kind && k.unit(unit).is_some());
    let lower = unit.to_lowercase().replace(' ', "");
    let near = kind
        .units()
        .iter()
        .find(|u| {
            u.symbol.to_lowercase().replace(' ', "") == lower
                || u.aliases.iter().any(|a| a.to_lowercase().replace(' ', "") == lower)
        })
        .map(|u| u.symbol);
    UnitError::WrongUnit { kind, unit: unit.to_owned(), other, near }
}

/// Whether an air flow is written as standard or actual volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirFlowBasis {
    /// Dry-air mass flow over the density of standard air.
    Standard,
    /// Volume at the pressure of the site and the temperature of standard air.
    Actual,
}

/// Reads an air flow whose text may name its basis: `20 scfm`, `20 acfm`, or `20 cfm` and SI units, which leave
/// the basis to the field.
pub fn parse_air_flow(text: &str) -> Result<(f64, Option<AirFlowBasis>), UnitError> {
    let kind = QuantityKind::StandardAirFlow;
    if let Some((number, unit)) = parse_number(text) {
        let (basis, plain) = match unit {
            "acfm" | "acfm/person" => (Some(AirFlowBasis::Actual), "cfm"),
            "scfm" | "scfm/person" => (Some(AirFlowBasis::Standard), "cfm"),
            _ => return parse_kind(kind, text).map(|v| (v, None)),
        };
        let unit = kind.unit(plain).expect("cfm is a unit of air flow");
        let si = number * unit.factor;
        if !si.is_finite() {
            return Err(UnitError::NotFinite { kind, text: text.trim().to_owned() });
        }
        return Ok((si, basis));
    }
    parse_kind(kind, text).map(|v| (v, None))
}

/// Splits a column title `floor_area [ft2]` into its name and unit text.
pub fn split_title(title: &str) -> (&str, Option<&str>) {
    let t = title.trim();
    match t.find('[') {
        Some(open) if t.ends_with(']') => (t[..open].trim(), Some(t[open + 1..t.len() - 1].trim())),
        _ => (t, None),
    }
}
