//! Errors of the machine models.

use std::fmt;

/// Why a machine model refuses its input or cannot answer.
#[derive(Debug, Clone, PartialEq)]
pub enum PlantError {
    /// A value outside the range in which the model holds.
    OutOfRange {
        /// What the value is, with its unit.
        quantity: &'static str,
        /// The offending value, in the unit named by `quantity`.
        value: f64,
        /// Smallest value allowed.
        low: f64,
        /// Largest value allowed.
        high: f64,
    },
    /// Inputs that are each in range and contradict one another.
    Contradiction {
        /// What contradicts what.
        what: &'static str,
        /// The first value.
        value: f64,
        /// The value it is compared with.
        limit: f64,
    },
    /// Too few points for a fit or a curve.
    TooFewPoints {
        /// What the points are.
        what: &'static str,
        /// How many were given.
        given: usize,
        /// How many are needed.
        needed: usize,
    },
    /// Points that must rise do not.
    NotRising {
        /// What the points are.
        what: &'static str,
        /// Index of the first offender.
        index: usize,
    },
    /// An iteration that did not settle.
    NotConverged {
        /// What was solved.
        what: &'static str,
        /// Residual at the last step, in the unit of the balance.
        residual: f64,
        /// Steps taken.
        count: u32,
    },
    /// A moist-air, water or exchanger function refused.
    Component {
        /// Which step of the process.
        step: &'static str,
        /// Its message.
        message: String,
    },
}

impl fmt::Display for PlantError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { quantity, value, low, high } => {
                write!(f, "{quantity} is {value}, allowed are {low} to {high}")
            }
            Self::Contradiction { what, value, limit } => write!(f, "{what}: {value} against {limit}"),
            Self::TooFewPoints { what, given, needed } => {
                write!(f, "{what}: {given} points given, at least {needed} needed")
            }
            Self::NotRising { what, index } => write!(f, "{what} must rise, entry {index} does not"),
            Self::NotConverged { what, residual, count } => {
                write!(f, "{what} did not settle after {count} steps, residual {residual}")
            }
            Self::Component { step, message } => write!(f, "{step}: {message}"),
        }
    }
}

impl std::error::Error for PlantError {}

impl From<drycoil_solve::Unsolved> for PlantError {
    fn from(e: drycoil_solve::Unsolved) -> Self {
        Self::NotConverged { what: e.what, residual: e.residual, count: e.iterations }
    }
}

/// Refuses a value outside `low..=high`, and anything that is not a number.
pub(crate) fn within(quantity: &'static str, value: f64, low: f64, high: f64) -> Result<f64, PlantError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(PlantError::OutOfRange { quantity, value, low, high })
    }
}

/// Refuses a value that is not above zero and finite.
pub(crate) fn positive(quantity: &'static str, value: f64) -> Result<f64, PlantError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(PlantError::OutOfRange { quantity, value, low: f64::MIN_POSITIVE, high: f64::MAX })
    }
}

/// Refuses a negative or non-finite value.
pub(crate) fn not_negative(quantity: &'static str, value: f64) -> Result<f64, PlantError> {
    within(quantity, value, 0.0, f64::MAX)
}

/// Refuses an abscissa list that does not rise.
pub(crate) fn rising(what: &'static str, xs: impl Iterator<Item = f64>) -> Result<(), PlantError> {
    let mut last = f64::NEG_INFINITY;
    for (index, x) in xs.enumerate() {
        if !(x > last && x.is_finite()) {
            return Err(PlantError::NotRising { what, index });
        }
        last = x;
    }
    Ok(())
}

/// Wraps the message of a component.
pub(crate) fn component<E: fmt::Display>(step: &'static str) -> impl Fn(E) -> PlantError {
    move |e| PlantError::Component { step, message: e.to_string() }
}
