//! `TU`: terminals and the catalogue.

kinds! {}
