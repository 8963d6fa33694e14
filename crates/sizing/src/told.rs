//! Messages of the physics crates, which know SI only, in the units of a project.

use drycoil_units::{QuantityKind as K, UnitSystem, significant};

/// Symbols that the physics crates write, and what they mean there.
const KNOWN: &[(&str, K)] = &[
    ("degC", K::Temperature),
    ("K", K::TemperatureDifference),
    ("kg/kg", K::HumidityRatio),
    ("m2 K/W", K::ThermalResistance),
    ("m2K/W", K::ThermalResistance),
    ("kg/s", K::MassFlow),
    ("J/kg", K::SpecificEnthalpy),
    ("W/K", K::Conductance),
    ("W", K::Power),
    ("m/s", K::Velocity),
    ("m2", K::Area),
    ("m3/s", K::StandardAirFlow),
    ("m", K::Length),
];
/// Significant digits of a number that was told with more.
const DIGITS: usize = 4;

/// The message with its quantities in a unit system, and with no number of more digits than a reader wants. A number that
/// stands in units of that system keeps its digits.
pub(crate) fn told(message: &str, system: UnitSystem) -> String {
    let mut out = String::with_capacity(message.len());
    let mut rest = message;
    // Whether what comes next could be the first character of a number.
    let mut fresh = true;
    while let Some(c) = rest.chars().next() {
        let begins = c.is_ascii_digit() || (c == '-' && rest[1..].starts_with(|d: char| d.is_ascii_digit()));
        if fresh
            && begins
            && let Some((text, value, after)) = number(rest)
        {
            // "3 to 5 kg/s": both numbers have the unit.
            let behind = after.strip_prefix(" to ").and_then(number).map_or(after, |(_, _, after)| after);
            let unit = unit_of(behind);
            let own = unit.filter(|_| behind.len() == after.len());
            match unit {
                Some((symbol, kind)) => {
                    let shown = system.symbol(kind);
                    let same = shown == symbol;
                    out.push_str(&short(text, if same { value } else { system.value(kind, value) }, same));
                    if own.is_some() {
                        out.push(' ');
                        out.push_str(shown);
                    }
                }
                None => out.push_str(&short(text, value, true)),
            }
            rest = own.map_or(after, |(symbol, _)| &after[1 + symbol.len()..]);
            fresh = false;
            continue;
        }
        out.push(c);
        fresh = matches!(c, ' ' | '(' | ',');
        rest = &rest[c.len_utf8()..];
    }
    out
}

/// The number at the beginning: its text, value, and what follows.
fn number(text: &str) -> Option<(&str, f64, &str)> {
    let (value, rest) = drycoil_units::parse_number(text)?;
    let end = text.len() - rest.len();
    let digits = text[..end].trim_end();
    let after = &text[digits.len()..];
    // "62.1-2019" and "2x" are names, and a full stop may end a sentence.
    let ends = !after.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '/' | ':'));
    (value.is_finite() && ends && !digits.ends_with('.')).then_some((digits, value, after))
}

fn unit_of(after: &str) -> Option<(&'static str, K)> {
    let rest = after.strip_prefix(' ')?;
    KNOWN
        .iter()
        .find(|(symbol, _)| {
            rest.strip_prefix(symbol)
                .is_some_and(|r| !r.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '/' | '_')))
        })
        .copied()
}

fn short(text: &str, value: f64, same: bool) -> String {
    let long = text.bytes().filter(u8::is_ascii_digit).count() > DIGITS + 2;
    if same && (!long || !text.contains('.')) {
        return text.to_owned();
    }
    let short = significant(value, DIGITS);
    if short.contains('.') && !short.contains('e') {
        short.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        short
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_told_in_the_units_of_the_project() {
        let text = "exhaust dry-air flow is 0.018597287198870095 kg/s, allowed is 0.03715722947568073 to 100000 kg/s";
        // 1 lb = 0.45359237 kg.
        assert_eq!(
            told(text, UnitSystem::Ip),
            "exhaust dry-air flow is 147.6 lb/h, allowed is 294.9 to 793664144 lb/h"
        );
        assert_eq!(
            told(text, UnitSystem::Si),
            "exhaust dry-air flow is 0.0186 kg/s, allowed is 0.03716 to 100000 kg/s"
        );
        assert_eq!(
            told("thermal resistance 113.999 m2 K/W is outside 0.0001 to 100 m2 K/W", UnitSystem::Ip),
            "thermal resistance 647.3 h ft2 degF/Btu is outside 0.0005678 to 567.8 h ft2 degF/Btu"
        );
        assert_eq!(told("19 against 9.630428569922115", UnitSystem::Ip), "19 against 9.63");
        assert_eq!(told("at -4.5 degC: off", UnitSystem::Ip), "at 23.9 degF: off");
    }

    #[test]
    fn names_and_numbers_of_the_project_stay() {
        for text in [
            "room 101.5, zone A-3 m: 62.1-2019",
            "the pinned supply dew point of 47.0 degF is below the 48.25 degF that the drying water reaches",
            "residual 3e-7 after 50 steps",
            "terminal DT-7 of 1.234567890 x",
            "ASHRAE 62.1.",
        ] {
            let same = if text.contains("1.234567890") { "terminal DT-7 of 1.235 x" } else { text };
            assert_eq!(told(text, UnitSystem::Ip), same);
        }
    }
}
