//! The design of a decoupled system: from a project and a weather year to sized, dry, explained equipment.
//!
//! [`size`] is a pure function: the same project and weather give the same bits on any number of threads. What the
//! design cannot do is in [`Design::findings`]; nothing is clamped to make it fit.

mod balance;
mod bins;
mod comfort;
mod conditions;
mod design;
mod dew_point;
mod ducts;
mod loads;
mod machines;
mod needs;
mod plant;
mod primary_unit;
mod service;
mod size;
mod terminals;
mod tower;
mod yearly;

pub use design::*;
pub use size::{SizingError, size};
