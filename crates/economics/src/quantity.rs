//! Money, rates and years.

use crate::error::{EconomicsError, within};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// An amount of money in the one currency of the study, in prices of the base date unless a name says otherwise.
///
/// The crate knows no currency and converts none.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Money(f64);

impl Money {
    /// No money.
    pub const ZERO: Self = Self(0.0);

    /// An amount; negative for money received where a cost is meant.
    pub const fn amount(value: f64) -> Self {
        Self(value)
    }

    /// The number.
    pub const fn value(self) -> f64 {
        self.0
    }
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Money {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Money {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Div<f64> for Money {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

impl Div for Money {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.0 / other.0
    }
}

impl std::iter::Sum for Money {
    /// In the order of the iterator.
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

macro_rules! rate {
    ($($(#[$doc:meta])* $name:ident $label:literal)*) => { $(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// From a share per year, -0.5 to 1.
            ///
            /// # Errors
            /// [`EconomicsError::OutOfRange`] for any other number.
            pub fn per_year(share: f64) -> Result<Self, EconomicsError> {
                within($label, share, -0.5, 1.0, "per year").map(Self)
            }

            /// Share per year.
            pub const fn share(self) -> f64 {
                self.0
            }
        }
    )* };
}

rate! {
    /// Discount rate per year: what money a year later is worth less. Real with prices of the base date, nominal with
    /// prices of the day; the study uses one or the other throughout (NIST Handbook 135).
    DiscountRate "discount rate"
    /// Rate per year at which a price rises, against the base date; real with a real discount rate. Negative when it
    /// falls.
    EscalationRate "escalation rate"
    /// General inflation per year.
    InflationRate "inflation rate"
}

impl DiscountRate {
    /// The real rate behind a nominal one: (1 + D) / (1 + I) - 1 (NIST Handbook 135).
    ///
    /// ```
    /// use drycoil_economics::{DiscountRate, InflationRate};
    /// let nominal = DiscountRate::per_year(0.0609)?;
    /// let real = nominal.without_inflation(InflationRate::per_year(0.03)?)?;
    /// assert!((real.share() - 0.03).abs() < 1e-12);
    /// # Ok::<(), drycoil_economics::EconomicsError>(())
    /// ```
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] when the result is no discount rate.
    pub fn without_inflation(self, inflation: InflationRate) -> Result<Self, EconomicsError> {
        Self::per_year((self.0 - inflation.0) / (1.0 + inflation.0))
    }

    /// The nominal rate over a real one: (1 + d) (1 + I) - 1 (NIST Handbook 135).
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] when the result is no discount rate.
    pub fn with_inflation(self, inflation: InflationRate) -> Result<Self, EconomicsError> {
        Self::per_year(self.0 + inflation.0 + self.0 * inflation.0)
    }
}

/// Longest study, years.
pub(crate) const LONGEST_STUDY: u32 = 200;

/// A whole number of years, 1 to 200.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct YearCount(u32);

impl YearCount {
    /// From a number of years, 1 to 200.
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] for any other number.
    pub fn new(years: u32) -> Result<Self, EconomicsError> {
        within("number of years", f64::from(years), 1.0, f64::from(LONGEST_STUDY), "years")?;
        Ok(Self(years))
    }

    /// The number.
    pub const fn count(self) -> u32 {
        self.0
    }
}

/// A date, years after the base date, 0 to 200; parts of a year allowed.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct YearsAfterBase(f64);

impl YearsAfterBase {
    /// The base date itself.
    pub const BASE: Self = Self(0.0);

    /// From years after the base date, 0 to 200.
    ///
    /// # Errors
    /// [`EconomicsError::OutOfRange`] for any other number.
    pub fn new(years: f64) -> Result<Self, EconomicsError> {
        within("years after the base date", years, 0.0, f64::from(LONGEST_STUDY), "years").map(Self)
    }

    /// The end of this year of the study.
    pub fn end_of(year: YearCount) -> Self {
        Self(f64::from(year.0))
    }

    /// Years after the base date.
    pub const fn years(self) -> f64 {
        self.0
    }

    /// The year of the study that holds the date: 0 for the base date, 1 for what follows up to the end of year 1.
    pub fn year_of_study(self) -> u32 {
        self.0.ceil() as u32
    }
}
