//! Units of axes and labels.

use crate::scale::number;
use drycoil_units::{QuantityKind, UnitSystem};

/// From SI to the number that is shown.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shown {
    pub(crate) symbol: String,
    factor: f64,
    offset: f64,
    decimals: usize,
}

impl Shown {
    /// The unit in which a kind is shown in a system.
    pub(crate) fn of(kind: QuantityKind, system: UnitSystem) -> Self {
        Self { decimals: system.decimals(kind), ..Self::in_unit(kind, system.symbol(kind)) }
    }

    fn in_unit(kind: QuantityKind, symbol: &str) -> Self {
        let unit = kind.unit(symbol).expect("units named here are in the table, which a test checks");
        Self { symbol: symbol.to_owned(), factor: unit.factor, offset: unit.offset, decimals: 0 }
    }

    /// Power in the unit that keeps the largest number short.
    pub(crate) fn power(system: UnitSystem, largest_w: f64) -> Self {
        let kind = QuantityKind::Power;
        match system {
            UnitSystem::Si if largest_w < 2e3 => Self::in_unit(kind, "W"),
            UnitSystem::Si if largest_w < 1e7 => Self::in_unit(kind, "kW").one_decimal_below(largest_w, 2e4),
            UnitSystem::Si => Self { decimals: 1, ..Self::in_unit(kind, "MW") },
            UnitSystem::Ip if largest_w < 6e3 => Self::in_unit(kind, "Btu/h"),
            UnitSystem::Ip => Self::in_unit(kind, "kBtu/h").one_decimal_below(largest_w, 1e4),
        }
    }

    /// Cooling, which the inch-pound system counts in tons.
    pub(crate) fn cooling(system: UnitSystem, largest_w: f64) -> Self {
        match system {
            UnitSystem::Si => Self::power(system, largest_w),
            UnitSystem::Ip => Self { decimals: 1, ..Self::in_unit(QuantityKind::Power, "ton") },
        }
    }

    /// Electric power, which both systems count in kW.
    pub(crate) fn electric(largest_w: f64) -> Self {
        Self::power(UnitSystem::Si, largest_w)
    }

    /// Energy in the unit that keeps the largest number short; both systems count in kWh.
    pub(crate) fn energy(largest_j: f64) -> Self {
        let symbol = if largest_j < 3.6e6 * 2e4 { "kWh" } else { "MWh" };
        Self::in_unit(QuantityKind::Energy, symbol)
    }

    /// A number that is shown as it is.
    pub(crate) fn plain(symbol: &str) -> Self {
        Self { symbol: symbol.to_owned(), factor: 1.0, offset: 0.0, decimals: 0 }
    }

    fn one_decimal_below(mut self, largest: f64, limit: f64) -> Self {
        self.decimals = usize::from(largest < limit);
        self
    }

    pub(crate) fn value(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    pub(crate) fn si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// Number and unit.
    pub(crate) fn text(&self, si: f64) -> String {
        self.text_with(si, self.decimals)
    }

    pub(crate) fn text_with(&self, si: f64, decimals: usize) -> String {
        let number = number(self.value(si), decimals);
        if self.symbol.is_empty() { number } else { format!("{number}\u{a0}{}", self.symbol) }
    }

    /// Title of an axis: what, and the unit.
    pub(crate) fn title(&self, what: &str) -> String {
        if self.symbol.is_empty() { what.to_owned() } else { format!("{what}, {}", self.symbol) }
    }
}

/// The greatest of some numbers, at least 0.
pub(crate) fn largest(values: impl IntoIterator<Item = f64>) -> f64 {
    values.into_iter().fold(0.0, f64::max)
}

/// The least and the greatest of some numbers.
pub(crate) fn extent(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    values.into_iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inv_every_unit_named_here_goes_there_and_back() {
        for system in [UnitSystem::Si, UnitSystem::Ip] {
            for kind in QuantityKind::ALL {
                let shown = Shown::of(*kind, system);
                assert!((shown.si(shown.value(3.7)) - 3.7).abs() < 1e-9);
            }
            for largest in [100.0, 5e3, 1e4, 1e5, 1e8] {
                for shown in [Shown::power(system, largest), Shown::cooling(system, largest)] {
                    assert!((shown.si(shown.value(largest)) - largest).abs() < 1e-6 * largest);
                    assert!(shown.value(largest) < 1e6, "{shown:?}");
                }
            }
        }
        assert_eq!(Shown::of(QuantityKind::Temperature, UnitSystem::Ip).text(10.0), "50.0\u{a0}degF");
        assert_eq!(Shown::energy(7.2e12).text(7.2e12), "2000\u{a0}MWh");
    }
}
