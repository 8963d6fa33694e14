//! `LD`: loads.

kinds! {}
