//! Moist air by the ideal-gas formulation of ASHRAE Handbook Fundamentals, chapter 1: scalar and batch.
//!
//! The tables of the same chapter are of *real* moist air, whose saturation humidity ratio is 0.4 % (near 0 degC) to
//! 0.6 % (at 50 degC) higher than the ideal-gas formula gives. That difference is stated, not hidden: no constant
//! here is bent to remove it.

pub mod raw;
