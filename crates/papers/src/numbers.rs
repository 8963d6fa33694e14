//! Numbers of a year document as they are read: thousands apart, in units that keep them short.

use drycoil_units::{QuantityKind as K, UnitSystem};

/// A quantity with its unit, held together; a dash where there is no number.
pub(crate) fn quantity(system: UnitSystem, kind: K, si: f64) -> String {
    if si.is_finite() {
        let number = grouped(system.value(kind, si), system.decimals(kind));
        format!("{number} {}", system.symbol(kind)).replace(' ', "\u{a0}")
    } else {
        "-".to_owned()
    }
}

/// How numbers of a year are shown.
#[derive(Debug, Clone, Copy)]
pub struct Numbers<'a> {
    /// Unit system.
    pub system: UnitSystem,
    /// Word for the currency.
    pub currency: &'a str,
}

impl Numbers<'_> {
    /// Number and unit of a value with an SI unit of a year document: `J`, `W`, `kg`, `h`, `currency`, or none for a
    /// share.
    ///
    /// ```
    /// use drycoil_papers::Numbers;
    /// use drycoil_units::UnitSystem;
    /// let numbers = Numbers { system: UnitSystem::Si, currency: "USD" };
    /// assert_eq!(numbers.value("J", 7.2e13), ("20 000.0".to_owned(), "MWh".to_owned()));
    /// ```
    pub fn value(&self, unit: &str, v: f64) -> (String, String) {
        let ip = self.system == UnitSystem::Ip;
        let (number, unit) = match unit {
            "J" => (grouped(v / 3.6e9, 1), "MWh"),
            "W" => (grouped(v / 1e3, 1), "kW"),
            "kg" if ip => (grouped(v / 0.453_592_37 / 1000.0, 1), "klb"),
            "kg" => (grouped(v / 1000.0, 1), "t"),
            "h" => (grouped(v, 0), "h"),
            "currency" => (grouped(v, 0), self.currency),
            "" => (format!("{:.1}", v * 100.0), "%"),
            other => (format!("{v}"), other),
        };
        (number, unit.to_owned())
    }

    /// The two in one text.
    pub fn text(&self, unit: &str, v: f64) -> String {
        let (number, unit) = self.value(unit, v);
        format!("{number} {unit}")
    }

    /// A temperature difference without its unit.
    pub fn kelvin(&self, k: f64) -> String {
        format!("{:.1}", self.system.value(K::TemperatureDifference, k))
    }
}

/// A number with its thousands apart; never a minus sign before nothing.
///
/// ```
/// use drycoil_papers::grouped;
/// assert_eq!(grouped(1_234_567.25, 1), "1 234 567.2");
/// assert_eq!(grouped(-0.01, 1), "0.0");
/// ```
pub fn grouped(v: f64, decimals: usize) -> String {
    let text = format!("{v:.decimals$}");
    let (sign, digits) = text.strip_prefix('-').map_or(("", text.as_str()), |d| ("-", d));
    let (whole, part) = digits.split_once('.').map_or((digits, ""), |(w, p)| (w, p));
    let mut out = String::from(if digits.bytes().all(|b| b == b'0' || b == b'.') { "" } else { sign });
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(c);
    }
    if !part.is_empty() {
        out.push('.');
        out.push_str(part);
    }
    out
}

/// The same text with its numbers held together: a space between two digits does not break the line, nor does the one
/// between a number and its unit.
pub(crate) fn held(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |i: usize| chars.get(i).is_some_and(char::is_ascii_digit);
    (0..chars.len())
        .map(|i| if chars[i] == ' ' && i > 0 && digit(i - 1) && digit(i + 1) { '\u{a0}' } else { chars[i] })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_stand_apart_and_nothing_is_minus_zero() {
        assert_eq!(grouped(1_234_567.25, 1), "1 234 567.2");
        assert_eq!(grouped(-12_345.6, 0), "-12 346");
        assert_eq!(grouped(-0.01, 1), "0.0");
        assert_eq!(grouped(999.0, 0), "999");
    }

    #[test]
    fn numbers_hold_together() {
        assert_eq!(held("of 12 345 rooms"), "of 12\u{a0}345 rooms");
    }
}
