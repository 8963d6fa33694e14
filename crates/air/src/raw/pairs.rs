//! States from pairs of properties that do not contain the dry bulb.

use super::root::{Root, increasing_root};
use super::saturation::{
    humidity_ratio_from_relative_humidity, ln_saturation_pressure_slope_per_k, saturation_pressure_pa,
};
use super::state::{
    CP_DRY_AIR_J_PER_KG_K, MASS_RATIO, enthalpy_j_per_kg, humid_specific_heat_j_per_kg_k,
    vapour_enthalpy_j_per_kg,
};
use super::wet_bulb::{humidity_ratio_at_wet_bulb, wet_bulb_surface};

/// Humidity ratio, kg/kg, from dry bulb and enthalpy. Closed form; negative when the enthalpy is below that of dry air.
#[inline]
pub fn humidity_ratio_from_enthalpy(t_c: f64, h_j_per_kg: f64) -> f64 {
    (h_j_per_kg - CP_DRY_AIR_J_PER_KG_K * t_c) / vapour_enthalpy_j_per_kg(t_c)
}

/// Dry bulb, degC, from wet bulb and humidity ratio. Closed form.
#[inline]
pub fn dry_bulb_from_wet_bulb_and_humidity_ratio_c(wet_bulb_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    let (latent, slope, cp) = wet_bulb_surface(wet_bulb_c).constants();
    let w_s = super::saturation_humidity_ratio(wet_bulb_c, p_pa);
    ((latent - slope * wet_bulb_c) * w_s + 1.006 * wet_bulb_c - w_kg_per_kg * (latent - cp * wet_bulb_c))
        / (1.006 + 1.86 * w_kg_per_kg)
}

/// Humidity ratio at a relative humidity and its slope with dry bulb.
fn humidity_ratio_and_slope(t_c: f64, rh: f64, p_pa: f64) -> (f64, f64) {
    let p_w = rh * saturation_pressure_pa(t_c);
    let rest = p_pa - p_w;
    if rest <= 0.0 {
        return (f64::INFINITY, f64::INFINITY);
    }
    (
        MASS_RATIO * p_w / rest,
        MASS_RATIO * p_pa * p_w * ln_saturation_pressure_slope_per_k(t_c) / (rest * rest),
    )
}

/// Dry bulb, degC, between `low_c` and `high_c` from enthalpy and relative humidity; residual in J/kg. Enthalpy rises
/// with dry bulb at constant relative humidity, so the answer is unique; `value` is the nearer end when the enthalpy
/// is out of reach, and the residual says so.
pub fn dry_bulb_from_enthalpy_and_relative_humidity(
    h_j_per_kg: f64,
    rh: f64,
    p_pa: f64,
    low_c: f64,
    high_c: f64,
) -> Root {
    increasing_root(low_c, high_c, 1e-13, |t| {
        let (w, slope) = humidity_ratio_and_slope(t, rh, p_pa);
        if w.is_infinite() {
            return (f64::MAX, 1.0);
        }
        let h = enthalpy_j_per_kg(t, w);
        (h - h_j_per_kg, humid_specific_heat_j_per_kg_k(w) + vapour_enthalpy_j_per_kg(t) * slope)
    })
}

/// Dry bulb, degC, between the wet bulb and `high_c` from wet bulb and relative humidity; residual in kg/kg. At
/// constant wet bulb the humidity ratio falls with dry bulb, at constant relative humidity it rises: one crossing.
pub fn dry_bulb_from_wet_bulb_and_relative_humidity(
    wet_bulb_c: f64,
    rh: f64,
    p_pa: f64,
    high_c: f64,
) -> Root {
    if rh == 1.0 {
        let w = humidity_ratio_from_relative_humidity(wet_bulb_c, 1.0, p_pa);
        let residual = humidity_ratio_at_wet_bulb(wet_bulb_c, wet_bulb_c, p_pa) - w;
        return Root { value: wet_bulb_c, residual, iterations: 1 };
    }
    let step = 1e-4;
    increasing_root(wet_bulb_c, high_c, 1e-13, |t| {
        let (w, slope) = humidity_ratio_and_slope(t, rh, p_pa);
        if w.is_infinite() {
            return (f64::MAX, 1.0);
        }
        let star = humidity_ratio_at_wet_bulb(t, wet_bulb_c, p_pa);
        let star_slope = (humidity_ratio_at_wet_bulb(t + step, wet_bulb_c, p_pa) - star) / step;
        (w - star, slope - star_slope)
    })
}
