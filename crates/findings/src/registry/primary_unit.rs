//! `PA`: the primary-air unit and ducts.

kinds! {}
