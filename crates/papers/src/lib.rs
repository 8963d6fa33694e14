//! Schedules and papers from results.
