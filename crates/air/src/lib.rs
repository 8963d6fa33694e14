//! Moist air, scalar and batch.
