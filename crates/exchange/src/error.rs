//! What can be wrong with a question about an exchanger.

use std::fmt;

/// Why an exchanger calculation was refused.
#[derive(Debug, Clone, PartialEq)]
pub enum ExchangeError {
    /// A value lies outside the range in which the model holds.
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
    /// The target cannot be met; the best that can be had is named.
    OutOfReach {
        /// What was asked for.
        what: &'static str,
        /// The value asked for, SI.
        wanted: f64,
        /// The nearest value that can be reached.
        nearest: f64,
        /// Unit of both.
        unit: &'static str,
    },
    /// The air state holds more moisture than saturated air.
    Supersaturated {
        /// Dry bulb, degC.
        dry_bulb_c: f64,
        /// Humidity ratio, kg/kg.
        humidity_ratio: f64,
        /// Humidity ratio at saturation, kg/kg.
        saturation_humidity_ratio: f64,
    },
    /// The tower's operating line meets the saturation curve: no tower, however large, does this.
    OperatingLineCrossesSaturation {
        /// Water temperature at which the driving force is smallest, degC.
        water_c: f64,
        /// The driving force there, J/kg.
        driving_force_j_per_kg: f64,
    },
    /// Too few rating points for the number of fitted parameters.
    TooFewRatingPoints {
        /// How many were given.
        given: usize,
        /// How many are needed.
        needed: usize,
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

impl fmt::Display for ExchangeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { what, value, low, high, unit } => {
                write!(f, "{what} is {value} {unit}, allowed is {low} to {high} {unit}")
            }
            Self::NotFinite { what } => write!(f, "{what} is not a finite number"),
            Self::OutOfReach { what, wanted, nearest, unit } => {
                write!(f, "{what} of {wanted} {unit} cannot be reached, the nearest is {nearest} {unit}")
            }
            Self::Supersaturated { dry_bulb_c, humidity_ratio, saturation_humidity_ratio } => write!(
                f,
                "air at {dry_bulb_c} degC with humidity ratio {humidity_ratio} kg/kg is above saturation, {saturation_humidity_ratio} kg/kg"
            ),
            Self::OperatingLineCrossesSaturation { water_c, driving_force_j_per_kg } => write!(
                f,
                "the operating line of the tower meets the saturation curve at {water_c} degC: driving force {driving_force_j_per_kg} J/kg"
            ),
            Self::TooFewRatingPoints { given, needed } => {
                write!(f, "{given} rating points given, {needed} needed")
            }
            Self::NotConverged { what, residual, iterations } => {
                write!(f, "{what} did not converge: residual {residual:e} after {iterations} steps")
            }
        }
    }
}

impl std::error::Error for ExchangeError {}

impl From<drycoil_solve::Unsolved> for ExchangeError {
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
) -> Result<f64, ExchangeError> {
    if !value.is_finite() {
        return Err(ExchangeError::NotFinite { what });
    }
    if value < low || value > high {
        return Err(ExchangeError::OutOfRange { what, value, low, high, unit });
    }
    Ok(value)
}
