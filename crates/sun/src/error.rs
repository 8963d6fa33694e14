//! What can be wrong with a request.

use std::fmt;

/// Why a value cannot be computed.
#[derive(Debug, Clone, PartialEq)]
pub enum SunError {
    /// A value is outside its range, or not a finite number.
    OutOfRange {
        /// What the value is.
        name: &'static str,
        /// The value.
        value: f64,
        /// Lowest allowed value.
        low: f64,
        /// Highest allowed value.
        high: f64,
        /// Unit of the three numbers; empty for a bare number.
        unit: &'static str,
    },
    /// The calendar has no such date.
    NoSuchDate {
        /// Year.
        year: i32,
        /// Month.
        month: u8,
        /// Day.
        day: u8,
    },
    /// The position algorithm refused the request.
    Position {
        /// Its reason.
        reason: String,
    },
    /// A glazing needs one gap fewer than it has panes.
    GapCount {
        /// Number of panes.
        panes: usize,
        /// Number of gaps given.
        gaps: usize,
    },
    /// Shares that must not exceed one do.
    ShareAboveOne {
        /// What was added.
        what: &'static str,
        /// The sum.
        sum: f64,
    },
    /// A shading device is described for a wall; the surface is not vertical.
    NotVertical {
        /// Tilt of the surface, degrees.
        tilt_deg: f64,
    },
}

impl fmt::Display for SunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { name, value, low, high, unit } => {
                let space = if unit.is_empty() { "" } else { " " };
                write!(f, "{name} {value}{space}{unit} is outside {low} to {high}{space}{unit}")
            }
            Self::NoSuchDate { year, month, day } => {
                write!(f, "there is no day {day} in month {month} of {year}")
            }
            Self::Position { reason } => write!(f, "sun position: {reason}"),
            Self::GapCount { panes, gaps } => {
                write!(f, "{panes} panes have {} gaps between them; {gaps} given", panes.saturating_sub(1))
            }
            Self::ShareAboveOne { what, sum } => write!(f, "{what} add to {sum}, above 1"),
            Self::NotVertical { tilt_deg } => {
                write!(f, "overhangs and fins need a vertical surface; tilt {tilt_deg} deg is not 90 deg")
            }
        }
    }
}

impl std::error::Error for SunError {}

/// Passes a finite value within its range.
pub(crate) fn within(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, SunError> {
    if value.is_finite() && value >= low && value <= high {
        Ok(value)
    } else {
        Err(SunError::OutOfRange { name, value, low, high, unit })
    }
}
