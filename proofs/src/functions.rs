//! The functions of the program that cases may name, by id.

mod air;
mod economics;
mod exchange;
mod latent;
mod plant;
mod rooms;
mod sun;
mod tower;
mod ventilation;
mod water;

use crate::value::{Found, FunctionError, Given};
use drycoil_exchange::bypass::AirPoint;
use drycoil_units::Pressure;

/// A function of the program behind an id.
#[derive(Debug, Clone, Copy)]
pub struct Function {
    /// Id, `topic.name`.
    pub id: &'static str,
    /// Which part of the program answers.
    pub calls: &'static str,
    /// Computes one row.
    pub run: fn(&Given) -> Result<Found, FunctionError>,
}

/// Every function, topic by topic.
pub fn functions() -> impl Iterator<Item = &'static Function> {
    [
        air::FUNCTIONS,
        latent::FUNCTIONS,
        ventilation::FUNCTIONS,
        exchange::FUNCTIONS,
        rooms::FUNCTIONS,
        sun::FUNCTIONS,
        tower::FUNCTIONS,
        plant::FUNCTIONS,
        water::FUNCTIONS,
        economics::FUNCTIONS,
    ]
    .into_iter()
    .flatten()
}

/// The function with this id.
pub fn function(id: &str) -> Option<&'static Function> {
    functions().find(|f| f.id == id)
}

/// A text that is none of those that are known.
fn unknown(name: &str, text: &str) -> FunctionError {
    FunctionError::Case(format!("`{name}`: unknown text `{text}`"))
}

/// The point of a state for the exchanger functions.
fn point(given: &Given, suffix: &str, pressure: Pressure) -> Result<AirPoint, FunctionError> {
    let state = air::state_of(given, suffix, pressure)?;
    Ok(AirPoint::new(state.dry_bulb(), state.humidity_ratio(), pressure)?)
}
