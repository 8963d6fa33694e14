//! All benchmarks.
