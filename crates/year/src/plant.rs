//! The plants of both schemes, one step at a time.
//!
//! Machines ([`machines`]) are built once from the models of the crates `plant` and `exchange` and stand in for them at
//! every step; tests compare each with its model over its range. Both schemes use the same machines, the same water
//! plant ([`water_plant`]) and the same central-unit parts; what differs is in [`decoupled_plant`] and
//! [`all_air_plant`].
//!
//! A step takes what the rooms took and answers with the energy used and the supply of the *next* step: one step of lag.
//! Where the plant was asked for more than it can make, the missing heat stays in the water and is carried to the next
//! step, whose supply is cut by the share that is short; nothing is lost, and the limit is told.

pub mod air;
pub mod all_air_design;
pub mod all_air_plant;
pub mod baseline;
pub mod central_unit;
pub mod decoupled_plant;
pub mod machines;
pub mod water_plant;

use drycoil_exchange::ExchangeError;
use drycoil_plant::PlantError;
use std::fmt;

/// Why a plant cannot be built from a project and its design.
#[derive(Debug, Clone, PartialEq)]
pub enum SetUpError {
    /// A machine refuses its data.
    Machine(PlantError),
    /// An exchanger or the tower refuses its data.
    Exchanger(ExchangeError),
    /// The design lacks what the year needs.
    Missing(&'static str),
    /// A value outside the range that the year can use.
    OutOfRange {
        /// What the value is, with its unit.
        quantity: &'static str,
        /// The value.
        value: f64,
        /// Smallest value allowed.
        low: f64,
        /// Largest value allowed.
        high: f64,
    },
}

impl fmt::Display for SetUpError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Machine(e) => write!(f, "{e}"),
            Self::Exchanger(e) => write!(f, "{e}"),
            Self::Missing(what) => write!(f, "the design has no {what}"),
            Self::OutOfRange { quantity, value, low, high } => {
                write!(f, "{quantity} is {value}, allowed are {low} to {high}")
            }
        }
    }
}

impl std::error::Error for SetUpError {}

impl From<PlantError> for SetUpError {
    fn from(e: PlantError) -> Self {
        Self::Machine(e)
    }
}

impl From<ExchangeError> for SetUpError {
    fn from(e: ExchangeError) -> Self {
        Self::Exchanger(e)
    }
}

/// Refuses a value outside its range.
pub(crate) fn within(quantity: &'static str, value: f64, low: f64, high: f64) -> Result<f64, SetUpError> {
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(SetUpError::OutOfRange { quantity, value, low, high })
    }
}
