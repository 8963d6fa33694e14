//! Machines at a step: quick forms of the models of the crates `plant` and `exchange`.
//!
//! Most are the closed equations of those models on plain numbers, without their checks, which are made once when the
//! machine is built; where a model has no closed form a search of few steps or a table of the model takes its place. No
//! form allocates or panics in a step; a search that does not settle and a state outside a table are told as
//! [`PlantLimit`](crate::signals::PlantLimit) bits.

pub mod chiller_bank;
pub mod coil;
pub mod fan;
pub mod heating;
pub mod plate;
pub mod pump;
pub mod recovery;
pub mod tower;
