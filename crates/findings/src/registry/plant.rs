//! `WP`: the water plant.

kinds! {}
