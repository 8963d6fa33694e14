//! Heat and mass exchangers: coils, energy recovery, cooling tower.
//!
//! * [`effectiveness`]: effectiveness and number of transfer units, and the inverse
//! * [`fin`]: efficiency of annular fins
//! * [`sensible_coil`]: the dry terminal coil, its fit to rating points, valve and fan modulation
//! * [`bypass`]: process load, apparatus dew point, bypass factor
//! * [`wet_coil`]: the deep drying coil, dry, partly wet or wet
//! * [`recovery`]: energy recovery wheels and plates, frost, economizer bypass
//! * [`tower`]: the cooling tower by Merkel, its water
//!
//! Each model takes a struct of quantities and returns a struct with its intermediates and the residual of every
//! iteration; a question outside a model's range, or a target that cannot be met, is an [`ExchangeError`]. Modules
//! named `raw` hold the kernels on plain numbers for loops over a year.
//!
//! ```
//! use drycoil_exchange::sensible_coil::{CoilCircuiting, raw::constant_ua};
//! // A terminal coil in any consistent units: UA 900, capacity rates 659.1 and 1503.2, air at 75, water at 55.
//! let coil = constant_ua(CoilCircuiting::CrossFlow, 900.0, 659.1, 1503.2, 75.0, 55.0);
//! assert!((coil.air_out - 62.06).abs() < 0.01);
//! ```

pub mod bypass;
pub mod effectiveness;
mod error;
pub mod fin;
mod moist;
pub mod recovery;
pub mod sensible_coil;
pub mod tower;
pub mod wet_coil;

pub use error::ExchangeError;
