//! Heat and mass exchangers: coils, energy recovery, cooling tower.

pub mod effectiveness;
mod error;
pub mod fin;
mod root;
pub mod sensible_coil;

pub use error::ExchangeError;
