//! Numbers of a year document as they are read: thousands apart, in units that keep them short.

use drycoil_units::{QuantityKind as K, UnitSystem};
use drycoil_year::compare::{PEAK_COOLING, PEAK_HEATING, WATER};

/// A quantity with its unit, held together; a dash where there is no number.
pub(crate) fn quantity(system: UnitSystem, kind: K, si: f64) -> String {
    if si.is_finite() {
        let number = grouped(system.value(kind, si), system.decimals(kind));
        format!("{number} {}", system.symbol(kind)).replace(' ', "\u{a0}")
    } else {
        "-".to_owned()
    }
}

/// A ton of refrigeration, 12 000 Btu/h.
pub(crate) const W_PER_TON: f64 = 3_516.852_842;
/// 1000 Btu/h.
pub(crate) const W_PER_KBTU_H: f64 = W_PER_TON / 12.0;
/// 1000 US gallons of water of 1000 kg/m3.
const KG_PER_KGAL: f64 = 3_785.411_784;

/// A share with its sign, in percent; never a sign before nothing.
pub(crate) fn signed_percent(share: f64, decimals: usize) -> String {
    let text = format!("{:+.decimals$}", share * 100.0);
    let is_zero = text.bytes().all(|b| matches!(b, b'+' | b'-' | b'0' | b'.'));
    if is_zero { text.trim_start_matches(['+', '-']).to_owned() } else { text }
}

/// A text that begins a line.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
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

    /// Number and unit of a measure of both schemes: as [`Numbers::value`], with cooling and heating loads and water in the
    /// units of the trade.
    ///
    /// ```
    /// use drycoil_papers::Numbers;
    /// use drycoil_units::UnitSystem;
    /// use drycoil_year::compare::PEAK_COOLING;
    /// let numbers = Numbers { system: UnitSystem::Ip, currency: "USD" };
    /// assert_eq!(numbers.measure(PEAK_COOLING, "W", 351_685.28), ("100.0".to_owned(), "ton".to_owned()));
    /// ```
    pub fn measure(&self, what: &str, unit: &str, v: f64) -> (String, String) {
        let (number, unit) = match (what, self.system) {
            (PEAK_COOLING, UnitSystem::Ip) => (grouped(v / W_PER_TON, 1), "ton"),
            (PEAK_HEATING, UnitSystem::Ip) => (grouped(v / W_PER_KBTU_H, 0), "kBtu/h"),
            // Of cold water; its density moves the last digit.
            (WATER, UnitSystem::Ip) => (grouped(v / KG_PER_KGAL, 1), "kgal"),
            (WATER, UnitSystem::Si) => (grouped(v / 1000.0, 1), "m3"),
            _ => return self.value(unit, v),
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
    fn a_share_has_a_sign_unless_it_is_nothing() {
        assert_eq!(signed_percent(0.0004, 1), "0.0");
        assert_eq!(signed_percent(-0.0004, 1), "0.0");
        assert_eq!(signed_percent(-0.1234, 1), "-12.3");
        assert_eq!(signed_percent(0.07, 0), "+7");
        assert_eq!(capital("cost a year"), "Cost a year");
    }

    #[test]
    fn measures_are_told_in_the_units_of_the_trade() {
        let told = |system, what, unit, v| {
            let (number, unit) = Numbers { system, currency: "USD" }.measure(what, unit, v);
            format!("{number} {unit}")
        };
        // 1 ton = 12 000 Btu/h = 3516.853 W; 1 US gallon = 231 in3 = 3.785412e-3 m3 (exact by definition).
        assert_eq!(told(UnitSystem::Ip, PEAK_COOLING, "W", 3516.853e3), "1 000.0 ton");
        assert_eq!(told(UnitSystem::Ip, PEAK_HEATING, "W", 3516.853e3), "12 000 kBtu/h");
        assert_eq!(told(UnitSystem::Ip, WATER, "kg", 3785.412e3), "1 000.0 kgal");
        assert_eq!(told(UnitSystem::Si, PEAK_COOLING, "W", 3516.853e3), "3 516.9 kW");
        assert_eq!(told(UnitSystem::Si, WATER, "kg", 3785.412e3), "3 785.4 m3");
        assert_eq!(told(UnitSystem::Ip, "peak electricity", "W", 1e6), "1 000.0 kW");
    }

    #[test]
    fn numbers_hold_together() {
        assert_eq!(held("of 12 345 rooms"), "of 12\u{a0}345 rooms");
    }
}
