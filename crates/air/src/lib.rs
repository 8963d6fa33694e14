//! Moist air by the ideal-gas formulation of ASHRAE Handbook Fundamentals, chapter 1: scalar and batch.
//!
//! The tables of the same chapter are of *real* moist air, whose saturation humidity ratio is 0.4 % (near 0 degC) to
//! 0.6 % (at 50 degC) higher than the ideal-gas formula gives. That difference is stated, not hidden: no constant
//! here is bent to remove it. Steam tables differ from the saturation equations by at most 0.03 %.
//!
//! - [`MoistAir`]: a checked state from any two properties that fix one; impossible pairs are refused with the reason.
//! - [`mix`]: two streams, with fog where their line passes saturation.
//! - [`actual_flow_at`] and its neighbours: standard flow, dry-air mass flow, actual flow.
//! - [`raw`]: kernels on `f64` for hot loops; [`batch`]: the same over slices.
//!
//! ```
//! use drycoil_air::{MoistAir, Property, standard_pressure};
//! use drycoil_units::{Length, Temperature};
//! let p = standard_pressure(Length::feet(5000.0))?;
//! let supply = MoistAir::from_pair(
//!     Property::DryBulb(Temperature::fahrenheit(55.0)),
//!     Property::DewPoint(Temperature::fahrenheit(48.0)),
//!     p,
//! )?;
//! assert!(supply.relative_humidity().to_percent() < 80.0);
//! assert!(MoistAir::from_dew_point(Temperature::fahrenheit(50.0), Temperature::fahrenheit(55.0), p).is_err());
//! # Ok::<(), drycoil_air::AirError>(())
//! ```

pub mod batch;
mod error;
mod flow;
mod mix;
mod moist_air;
mod range;
pub mod raw;

pub use error::{AirError, PropertyKind};
pub use flow::{
    actual_at_site, actual_flow_at, dry_air_of_actual_flow_at, standard_of_actual_at_site, standard_pressure,
    standard_temperature,
};
pub use mix::{FUSION_AT_0_C_J_PER_KG, Mixed, Mixture, condensed_water_enthalpy_j_per_kg, mix};
pub use moist_air::{MoistAir, Property, SATURATION_ROUNDING, WET_BULB_RESIDUAL};
pub use range::ValidRange;
