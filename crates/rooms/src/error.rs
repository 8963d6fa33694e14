//! What can be wrong with a room or its inputs.

use std::fmt;

/// Refusal of a room model: nothing is repaired.
#[derive(Debug, Clone, PartialEq)]
pub enum RoomError {
    /// A number lies outside its valid range.
    OutOfRange {
        /// Name of the quantity.
        quantity: &'static str,
        /// The offending value, SI.
        value: f64,
        /// Lowest allowed value.
        lowest: f64,
        /// Highest allowed value.
        highest: f64,
        /// Unit of the three numbers.
        unit: &'static str,
    },
    /// A list that must hold something is empty.
    Empty {
        /// Name of the list.
        what: &'static str,
    },
    /// A series or list has the wrong length.
    WrongLength {
        /// Name of the list.
        what: &'static str,
        /// Length found.
        found: usize,
        /// Length needed.
        needed: usize,
    },
    /// Two numbers contradict each other.
    Inconsistent {
        /// What contradicts what.
        what: &'static str,
        /// First number.
        first: f64,
        /// Second number.
        second: f64,
    },
    /// A room without any heat loss has no periodic state.
    NoPeriodicState {
        /// The smallest decay rate of the network, 1/s.
        slowest_rate_per_s: f64,
    },
    /// The network's matrix is singular: a node is connected to nothing.
    Singular {
        /// Which matrix.
        what: &'static str,
    },
    /// An iteration did not settle.
    NotConverged {
        /// Name of the iteration.
        what: &'static str,
        /// Iterations used.
        iterations: usize,
        /// Residual left.
        residual: f64,
        /// Unit of the residual.
        unit: &'static str,
    },
    /// A reduced wall misses the wanted accuracy.
    NotAccurate {
        /// Relative error reached.
        reached: f64,
        /// Relative error wanted.
        wanted: f64,
    },
}

impl fmt::Display for RoomError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { quantity, value, lowest, highest, unit } => {
                write!(f, "{quantity} {value} {unit} is outside {lowest} to {highest} {unit}")
            }
            Self::Empty { what } => write!(f, "{what} is empty, at least one entry is needed"),
            Self::WrongLength { what, found, needed } => {
                write!(f, "{what} has {found} entries, {needed} are needed")
            }
            Self::Inconsistent { what, first, second } => write!(f, "{what}: {first} and {second}"),
            Self::NoPeriodicState { slowest_rate_per_s } => write!(
                f,
                "the room loses no heat (slowest decay rate {slowest_rate_per_s} 1/s), so a repeated day has no steady state"
            ),
            Self::Singular { what } => write!(f, "{what} is singular: a node is connected to nothing"),
            Self::NotConverged { what, iterations, residual, unit } => {
                write!(f, "{what} did not settle after {iterations} iterations, residual {residual} {unit}")
            }
            Self::NotAccurate { reached, wanted } => {
                write!(f, "the reduced wall has a relative error of {reached}, at most {wanted} is allowed")
            }
        }
    }
}

impl std::error::Error for RoomError {}

/// Refuses a value outside `lowest..=highest`, or one that is not finite.
pub(crate) fn within(
    quantity: &'static str,
    value: f64,
    lowest: f64,
    highest: f64,
    unit: &'static str,
) -> Result<f64, RoomError> {
    if value.is_finite() && value >= lowest && value <= highest {
        Ok(value)
    } else {
        Err(RoomError::OutOfRange { quantity, value, lowest, highest, unit })
    }
}
