//! Kernels on plain `f64` for hot loops. Every name ends with its unit where it has one.
//!
//! Nothing here validates: the callers are the checked types of this crate and loops whose inputs were checked
//! once. A state that does not exist (vapour pressure at or above the air pressure, negative humidity ratio, dew
//! point of dry air) gives `NaN`, never a plausible number; [`crate::MoistAir`] gives an error with the reason
//! instead.
//!
//! Basis: everything named `..._per_kg` is per kg of **dry air** unless it says `mixture`.
//!
//! Source of all equations: ASHRAE Handbook, Fundamentals, chapter 1, ideal-gas formulation.
//!
//! ```
//! use drycoil_air::raw;
//! let p_pa = raw::standard_pressure_pa(0.0);
//! let w = raw::humidity_ratio_from_relative_humidity(23.889, 0.5, p_pa);
//! assert!((raw::dew_point_c(w, p_pa) - 12.84).abs() < 0.01);
//! assert!((raw::wet_bulb_c(23.889, w, p_pa) - 16.97).abs() < 0.01);
//! ```

mod atmosphere;
mod dew_point;
mod flow;
mod pairs;
mod root;
mod rough;
mod saturation;
mod state;
pub(crate) mod wet_bulb;

pub use atmosphere::{
    STANDARD_LAPSE_RATE_K_PER_M, elevation_from_standard_pressure_m, standard_pressure_pa,
    standard_temperature_c,
};
pub use dew_point::{
    dew_point_c, dew_point_from_vapour_pressure_c, saturation_temperature_solve,
    saturation_temperature_start_c,
};
pub use flow::{
    actual_at_site_density_kg_per_m3, actual_at_site_to_dry_air_kg_per_s, actual_flow_to_dry_air_kg_per_s,
    dry_air_to_actual_at_site_m3_per_s, dry_air_to_actual_flow_m3_per_s, dry_air_to_standard_flow_m3_per_s,
    standard_flow_to_dry_air_kg_per_s,
};
pub use pairs::{
    dry_bulb_from_enthalpy_and_relative_humidity, dry_bulb_from_wet_bulb_and_humidity_ratio_c,
    dry_bulb_from_wet_bulb_and_relative_humidity, humidity_ratio_from_enthalpy,
};
pub use root::{Root, root_between};
pub use saturation::{
    SEAM_C, TRIPLE_POINT_C, humidity_ratio_at_dew_point, humidity_ratio_from_relative_humidity,
    humidity_ratio_from_vapour_pressure, ln_saturation_pressure, ln_saturation_pressure_slope_per_k,
    saturation_humidity_ratio, saturation_humidity_ratio_slope_per_k, saturation_pressure_pa,
    saturation_pressure_slope_pa_per_k, vapour_pressure_pa,
};
pub use state::{
    CP_DRY_AIR_J_PER_KG_K, CP_VAPOUR_J_PER_KG_K, DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG,
    GAS_CONSTANT_DRY_AIR, MASS_RATIO, VAPORIZATION_AT_0_C_J_PER_KG, degree_of_saturation,
    dry_air_density_kg_per_m3, dry_bulb_from_enthalpy_c, enthalpy_j_per_kg, humid_specific_heat_j_per_kg_k,
    mixture_density_kg_per_m3, relative_humidity, saturation_enthalpy_j_per_kg, vapour_enthalpy_j_per_kg,
    volume_m3_per_kg,
};
pub use wet_bulb::{
    WetBulbSurface, humidity_ratio_at_wet_bulb, humidity_ratio_at_wet_bulb_on, wet_bulb_c,
    wet_bulb_from_relative_humidity_c, wet_bulb_on_ice_c, wet_bulb_solve, wet_bulb_surface,
};
