//! Why a picture is refused.

use drycoil_air::AirError;
use std::fmt;

/// Why there is no picture. Nothing is repaired, left out or drawn in part.
#[derive(Debug, Clone, PartialEq)]
pub enum PictureError {
    /// A number is not finite.
    NotFinite {
        /// What the number means, with its unit.
        what: &'static str,
        /// Its place in the list, from 0; 0 for a single number.
        index: usize,
        /// The value.
        value: f64,
    },
    /// A number is outside what can be drawn.
    OutOfRange {
        /// What the number means, with its unit.
        what: &'static str,
        /// The value.
        value: f64,
        /// Lowest value allowed.
        low: f64,
        /// Highest value allowed.
        high: f64,
    },
    /// A list has not the length it must have.
    Length {
        /// What is listed.
        what: &'static str,
        /// The length.
        length: usize,
        /// Least length allowed.
        least: usize,
        /// Greatest length allowed.
        most: usize,
    },
    /// A list is not in rising order.
    Unordered {
        /// What is listed.
        what: &'static str,
        /// The first place that is not above the one before it, from 0.
        index: usize,
    },
    /// Flows that meet at a node do not add up.
    Unbalanced {
        /// The node.
        node: &'static str,
        /// What flows in, m3/s.
        inflow_m3_per_s: f64,
        /// What flows out, m3/s.
        outflow_m3_per_s: f64,
    },
    /// A part that the picture needs is missing, or one is given that it cannot have.
    Part {
        /// What is wrong.
        what: &'static str,
    },
    /// A text has a character that a document cannot hold.
    Text {
        /// The character.
        character: char,
        /// The text.
        text: String,
    },
    /// The name of the picture cannot be used as an identifier.
    Id {
        /// The name.
        id: String,
    },
    /// There is no such moist air.
    Air(AirError),
}

impl fmt::Display for PictureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFinite { what, index, value } => {
                write!(f, "{what} at place {index} is {value}; a finite number is needed")
            }
            Self::OutOfRange { what, value, low, high } => {
                write!(f, "{what} is {value}; allowed is {low} to {high}")
            }
            Self::Length { what, length, least, most } if least == most => {
                write!(f, "{what}: {length} given; {least} are needed")
            }
            Self::Length { what, length, least, most: usize::MAX } => {
                write!(f, "{what}: {length} given; at least {least} are needed")
            }
            Self::Length { what, length, least, most } => {
                write!(f, "{what}: {length} given; allowed are {least} to {most}")
            }
            Self::Unordered { what, index } => {
                write!(f, "{what} at place {index} is not above the one before it")
            }
            Self::Unbalanced { node, inflow_m3_per_s, outflow_m3_per_s } => write!(
                f,
                "flows at {node} do not add up: {inflow_m3_per_s} m3/s flow in and {outflow_m3_per_s} m3/s flow out"
            ),
            Self::Part { what } => f.write_str(what),
            Self::Text { character, text } => {
                write!(f, "the text {text:?} has the character {character:?}, which a document cannot hold")
            }
            Self::Id { id } => write!(
                f,
                "the name of a picture is {id:?}; allowed are a letter and then letters, digits, `-` and `_`"
            ),
            Self::Air(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for PictureError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Air(error) => Some(error),
            _ => None,
        }
    }
}

impl From<AirError> for PictureError {
    fn from(error: AirError) -> Self {
        Self::Air(error)
    }
}

/// A finite number, or the error that names it.
pub(crate) fn finite(what: &'static str, value: f64) -> Result<f64, PictureError> {
    if value.is_finite() { Ok(value) } else { Err(PictureError::NotFinite { what, index: 0, value }) }
}

/// All numbers finite, or the error that names the first that is not.
pub(crate) fn all_finite(
    what: &'static str,
    values: impl IntoIterator<Item = f64>,
) -> Result<(), PictureError> {
    for (index, value) in values.into_iter().enumerate() {
        if !value.is_finite() {
            return Err(PictureError::NotFinite { what, index, value });
        }
    }
    Ok(())
}

/// A number within limits; not-a-number is outside every range.
pub(crate) fn within(what: &'static str, value: f64, low: f64, high: f64) -> Result<f64, PictureError> {
    finite(what, value)?;
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(PictureError::OutOfRange { what, value, low, high })
    }
}

/// A list of a length that can be drawn.
pub(crate) fn length(
    what: &'static str,
    length: usize,
    least: usize,
    most: usize,
) -> Result<(), PictureError> {
    if (least..=most).contains(&length) {
        Ok(())
    } else {
        Err(PictureError::Length { what, length, least, most })
    }
}

/// A list in rising order.
pub(crate) fn rising(what: &'static str, values: &[f64]) -> Result<(), PictureError> {
    match values.windows(2).position(|w| w[1] <= w[0]) {
        Some(before) => Err(PictureError::Unordered { what, index: before + 1 }),
        None => Ok(()),
    }
}
