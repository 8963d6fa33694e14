//! Properties of a state given by dry bulb, humidity ratio and pressure.

use super::saturation::{saturation_humidity_ratio, saturation_pressure_pa, vapour_pressure_pa};

/// Molar mass of water over that of dry air (ASHRAE Fundamentals ch. 1, eq. 20).
pub const MASS_RATIO: f64 = 0.621945;
/// Gas constant of dry air, J/(kg K).
pub const GAS_CONSTANT_DRY_AIR: f64 = 287.042;
/// Specific heat of dry air, J/(kg K).
pub const CP_DRY_AIR_J_PER_KG_K: f64 = 1006.0;
/// Specific heat of water vapour, J/(kg K).
pub const CP_VAPOUR_J_PER_KG_K: f64 = 1860.0;
/// Enthalpy of vaporization at 0 degC, J/kg.
pub const VAPORIZATION_AT_0_C_J_PER_KG: f64 = 2_501_000.0;
/// Inch-pound tables count the enthalpy of dry air from 0 degF instead of 0 degC: what that adds to our enthalpy,
/// J per kg of dry air (17.78 K of dry air, 7.69 Btu/lb).
pub const DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG: f64 = CP_DRY_AIR_J_PER_KG_K * 160.0 / 9.0;
const VOLUME_RATIO: f64 = 1.607858;

/// Enthalpy of moist air, J per kg of dry air, zero for dry air and liquid water at 0 degC.
///
/// ```
/// // ASHRAE Fundamentals ch. 1, eq. 30: 1.006 t + W (2501 + 1.86 t).
/// assert!((drycoil_air::raw::enthalpy_j_per_kg(30.0, 0.02) - 81_316.0).abs() < 0.5);
/// ```
#[inline]
pub fn enthalpy_j_per_kg(t_c: f64, w_kg_per_kg: f64) -> f64 {
    CP_DRY_AIR_J_PER_KG_K * t_c + w_kg_per_kg * vapour_enthalpy_j_per_kg(t_c)
}

/// Dry bulb, degC, of air with enthalpy `h_j_per_kg` and humidity ratio `w_kg_per_kg`. Closed form.
#[inline]
pub fn dry_bulb_from_enthalpy_c(h_j_per_kg: f64, w_kg_per_kg: f64) -> f64 {
    (h_j_per_kg - VAPORIZATION_AT_0_C_J_PER_KG * w_kg_per_kg) / humid_specific_heat_j_per_kg_k(w_kg_per_kg)
}

/// Enthalpy of water vapour, `h_g`, J per kg of vapour: 2501 + 1.86 t kJ/kg.
#[inline]
pub fn vapour_enthalpy_j_per_kg(t_c: f64) -> f64 {
    VAPORIZATION_AT_0_C_J_PER_KG + CP_VAPOUR_J_PER_KG_K * t_c
}

/// Specific heat of moist air, J/K per kg of dry air.
#[inline]
pub fn humid_specific_heat_j_per_kg_k(w_kg_per_kg: f64) -> f64 {
    CP_DRY_AIR_J_PER_KG_K + CP_VAPOUR_J_PER_KG_K * w_kg_per_kg
}

/// Relative humidity as a share of one: vapour pressure over saturation pressure (over ice up to the triple point).
#[inline]
pub fn relative_humidity(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    vapour_pressure_pa(w_kg_per_kg, p_pa) / saturation_pressure_pa(t_c)
}

/// Humidity ratio over the saturation humidity ratio.
#[inline]
pub fn degree_of_saturation(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    w_kg_per_kg / saturation_humidity_ratio(t_c, p_pa)
}

/// Volume of the mixture, m3 per kg of dry air (ASHRAE Fundamentals ch. 1, eq. 26).
#[inline]
pub fn volume_m3_per_kg(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    GAS_CONSTANT_DRY_AIR * (t_c + 273.15) * (1.0 + VOLUME_RATIO * w_kg_per_kg) / p_pa
}

/// Density of the dry air in the mixture, kg of dry air per m3: the factor from volume flow to dry-air mass flow.
#[inline]
pub fn dry_air_density_kg_per_m3(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    1.0 / volume_m3_per_kg(t_c, w_kg_per_kg, p_pa)
}

/// Density of the whole mixture, kg of moist air per m3: for weight, pressure and fan work.
#[inline]
pub fn mixture_density_kg_per_m3(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    (1.0 + w_kg_per_kg) / volume_m3_per_kg(t_c, w_kg_per_kg, p_pa)
}

/// Enthalpy of saturated air, J per kg of dry air.
#[inline]
pub fn saturation_enthalpy_j_per_kg(t_c: f64, p_pa: f64) -> f64 {
    enthalpy_j_per_kg(t_c, saturation_humidity_ratio(t_c, p_pa))
}
