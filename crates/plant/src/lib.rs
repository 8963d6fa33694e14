//! Machines at steady state: fans, chillers, towers, economizers, pumps, boilers, the primary-air unit, terminals,
//! the water loops that join them, and the outdoor air of systems.
//!
//! Every function is pure: it takes a design and a condition and returns a state with its intermediates. A limit of
//! a machine that is reached is applied and reported as data ([`limits::Limits`]), never hidden; input that makes
//! no sense is an error ([`PlantError`]). Iterations report residual and count.
//!
//! ```
//! use drycoil_plant::boiler::{Boiler, BoilerEfficiency};
//! use drycoil_plant::limits::Limit;
//! use drycoil_units::{Power, Temperature};
//! let boiler = Boiler::new(Power::watts(50e3), BoilerEfficiency::Constant(0.9))?;
//! let state = boiler.run(Power::watts(60e3), Temperature::celsius(50.0))?;
//! assert!(state.limits.has(Limit::Capacity));
//! assert_eq!(state.unmet.to_watts(), 10e3);
//! # Ok::<(), drycoil_plant::PlantError>(())
//! ```

pub mod air_point;
pub mod boiler;
pub mod chiller;
pub mod drying_coil;
pub mod economizer;
mod error;
pub mod fan;
pub mod limits;
pub mod loops;
pub mod minimum_efficiency;
pub mod primary_air;
pub mod pump;
mod solve;
pub mod terminal;
pub mod tower_plant;
pub mod ventilation;

pub use error::PlantError;
