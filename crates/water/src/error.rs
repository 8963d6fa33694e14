//! What can be wrong with a question about water, pipes or ducts.

use std::fmt;

/// Why a water, pipe or duct calculation was refused.
#[derive(Debug, Clone, PartialEq)]
pub enum WaterError {
    /// A value lies outside the range in which the formula holds.
    OutOfRange {
        /// What the value is.
        what: &'static str,
        /// The value, SI (degC for temperatures).
        value: f64,
        /// Smallest allowed value.
        low: f64,
        /// Largest allowed value.
        high: f64,
        /// Unit of the three numbers.
        unit: &'static str,
    },
    /// A value is not a finite number.
    NotFinite {
        /// What the value is.
        what: &'static str,
    },
    /// The flow is between laminar and turbulent, and the caller asked to refuse that.
    Transitional {
        /// The Reynolds number.
        reynolds: f64,
    },
    /// No listed size meets the limits; the largest is named.
    NoSizeLargeEnough {
        /// The flow, m3/s.
        flow_m3_per_s: f64,
        /// The largest size that was tried.
        largest: String,
    },
    /// An iteration stopped before its residual was small enough.
    NotConverged {
        /// What was solved for.
        what: &'static str,
        /// The residual that was left.
        residual: f64,
        /// How many steps were made.
        iterations: u32,
    },
}

impl fmt::Display for WaterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { what, value, low, high, unit } => {
                write!(f, "{what} is {value} {unit}, allowed is {low} to {high} {unit}")
            }
            Self::NotFinite { what } => write!(f, "{what} is not a finite number"),
            Self::Transitional { reynolds } => {
                write!(
                    f,
                    "Reynolds number {reynolds:.0} lies between laminar (2300) and turbulent (4000) flow"
                )
            }
            Self::NoSizeLargeEnough { flow_m3_per_s, largest } => {
                write!(
                    f,
                    "flow of {flow_m3_per_s:.4} m3/s exceeds the limits of the largest listed size, {largest}"
                )
            }
            Self::NotConverged { what, residual, iterations } => {
                write!(f, "{what} did not converge: residual {residual:e} after {iterations} steps")
            }
        }
    }
}

impl std::error::Error for WaterError {}

impl From<drycoil_solve::Unsolved> for WaterError {
    fn from(e: drycoil_solve::Unsolved) -> Self {
        Self::NotConverged { what: e.what, residual: e.residual, iterations: e.iterations }
    }
}

/// Refuses a value outside `low..=high`, and anything not finite.
pub(crate) fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, WaterError> {
    if !value.is_finite() {
        return Err(WaterError::NotFinite { what });
    }
    if value < low || value > high {
        return Err(WaterError::OutOfRange { what, value, low, high, unit });
    }
    Ok(value)
}
