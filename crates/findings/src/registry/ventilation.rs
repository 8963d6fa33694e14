//! `VN`: ventilation and the air balance.

kinds! {}
