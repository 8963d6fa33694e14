//! `RM`: rooms, surfaces, profiles.

kinds! {}
