//! `CM`: comfort and code screens.

kinds! {}
