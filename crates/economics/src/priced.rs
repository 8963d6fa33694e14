//! What has a price, and what has none.

use crate::quantity::Money;
use std::fmt;

/// Names of what has no price; at least one, each once, in the order in which they were met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotPriced {
    names: Vec<String>,
}

impl NotPriced {
    /// One thing without a price.
    pub fn new(name: impl Into<String>) -> Self {
        Self { names: vec![name.into()] }
    }

    /// The names.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Adds the names of another list that are not there yet.
    pub fn add(&mut self, other: &Self) {
        for name in &other.names {
            if !self.names.contains(name) {
                self.names.push(name.clone());
            }
        }
    }

    fn below(&self, whole: &str) -> Self {
        Self { names: self.names.iter().map(|n| format!("{whole}: {n}")).collect() }
    }
}

impl fmt::Display for NotPriced {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not priced: {}", self.names.join(", "))
    }
}

/// A number that rests on prices: known, or not priced, with the names of what has no price. Never zero instead.
///
/// ```
/// use drycoil_economics::{Money, Priced, total};
/// let parts = [Priced::Known(Money::amount(100.0)), Priced::not_priced("ductwork")];
/// let sum = total(&parts);
/// assert_eq!(sum.to_string(), "not priced: ductwork");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Priced<T> {
    /// Everything below it has a price.
    Known(T),
    /// Something below it has none.
    NotPriced(NotPriced),
}

impl<T> Priced<T> {
    /// Without a price, with its name.
    pub fn not_priced(name: impl Into<String>) -> Self {
        Self::NotPriced(NotPriced::new(name))
    }

    /// The price if there is one, else the name.
    pub fn from_option(price: Option<T>, name: impl Into<String>) -> Self {
        price.map_or_else(|| Self::not_priced(name), Self::Known)
    }

    /// The number, if it is known.
    pub fn known(&self) -> Option<&T> {
        match self {
            Self::Known(value) => Some(value),
            Self::NotPriced(_) => None,
        }
    }

    /// Names of what has no price; empty when the number is known.
    pub fn missing(&self) -> &[String] {
        match self {
            Self::Known(_) => &[],
            Self::NotPriced(missing) => missing.names(),
        }
    }

    /// The number computed from this one.
    #[must_use]
    pub fn map<U>(&self, compute: impl FnOnce(&T) -> U) -> Priced<U> {
        match self {
            Self::Known(value) => Priced::Known(compute(value)),
            Self::NotPriced(missing) => Priced::NotPriced(missing.clone()),
        }
    }

    /// Puts the name of a whole before the names of its parts that have no price.
    #[must_use]
    pub fn below(self, whole: &str) -> Self {
        match self {
            Self::Known(value) => Self::Known(value),
            Self::NotPriced(missing) => Self::NotPriced(missing.below(whole)),
        }
    }
}

impl fmt::Display for Priced<Money> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known(money) => write!(f, "{}", money.value()),
            Self::NotPriced(missing) => write!(f, "{missing}"),
        }
    }
}

/// Sum in the order given; not priced, with every name, as soon as one part is not.
pub fn total<'a>(parts: impl IntoIterator<Item = &'a Priced<Money>>) -> Priced<Money> {
    let (_, sum) = known_and_total(parts);
    sum
}

/// Sum of the parts that are known, and the sum as a whole.
pub(crate) fn known_and_total<'a>(
    parts: impl IntoIterator<Item = &'a Priced<Money>>,
) -> (Money, Priced<Money>) {
    let mut known = Money::ZERO;
    let mut missing: Option<NotPriced> = None;
    for part in parts {
        match part {
            Priced::Known(money) => known = known + *money,
            Priced::NotPriced(names) => match &mut missing {
                Some(all) => all.add(names),
                None => missing = Some(names.clone()),
            },
        }
    }
    (known, missing.map_or(Priced::Known(known), Priced::NotPriced))
}
