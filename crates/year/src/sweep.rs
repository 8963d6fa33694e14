//! Sweeps: the same building under many values of its inputs, each point sized and simulated.
//!
//! [`plan`] says which points; [`run`] computes them side by side with the function that computes one; [`pareto`] finds
//! those that no other point beats; [`uncertain`] samples what nobody can fix (people, leakage, sensors) about one
//! design and gives the probability that each coil gets wet. Points do not know each other, so that any number of threads
//! gives the same bits, and a point equals a lone run with its values.

pub mod influence;
pub mod optimum;
pub mod pareto;
pub mod plan;
pub mod random;
pub mod run;
pub mod uncertain;
