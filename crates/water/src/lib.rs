//! Liquid water, and flow in pipes and ducts.
//!
//! * [`liquid`]: density, specific heat, viscosity and conductivity of liquid water, 0 to 100 degC
//! * [`friction`]: Reynolds number and the Colebrook friction factor, shared by pipes and ducts
//! * [`pipe`]: pipe tables, pressure drop, sizing by friction, velocity and the standard's maximum flow
//! * [`pump`]: hydraulic, shaft and electric power
//! * [`valve`]: flow coefficients, authority, characteristics
//! * [`duct`]: round and rectangular ducts, equal-friction sizing to standard sizes
//!
//! Nothing here is clamped: a value outside the range of a formula is a [`WaterError`].
//!
//! ```
//! use drycoil_units::{Temperature, WaterFlow};
//! use drycoil_water::liquid::WaterProperties;
//! use drycoil_water::pipe::{PipeMaterial, pressure_drop_per_metre};
//!
//! let water = WaterProperties::at(Temperature::fahrenheit(55.0)).unwrap();
//! let two_inch = PipeMaterial::SteelSchedule40.size("2").unwrap();
//! let drop = pressure_drop_per_metre(&water, two_inch, WaterFlow::gpm(50.0)).unwrap();
//! // about 4.7 ft of water per 100 ft
//! assert!((drop.friction_pa_per_m / (water.density.to_kg_per_m3() * 9.80665) * 100.0 - 4.75).abs() < 0.1);
//! ```

pub mod duct;
mod error;
pub mod friction;
pub mod liquid;
pub mod pipe;
pub mod pump;
pub mod valve;

pub use error::WaterError;
