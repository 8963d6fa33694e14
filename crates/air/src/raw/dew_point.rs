//! Dew point: the saturation temperature of the vapour pressure, by Newton steps on the logarithm of the saturation
//! pressure.

use super::root::Root;
use super::saturation::{
    SEAM_C, ln_saturation_pressure, ln_saturation_pressure_slope_per_k, vapour_pressure_pa,
};

/// Start of the iteration, degC: a Magnus form on each side of the seam, within 0.5 K. Never a result.
#[inline]
pub fn saturation_temperature_start_c(ln_p: f64) -> f64 {
    // ln of the pressure at the triple point, 611.657 Pa.
    let x = ln_p - 6.416172;
    let (a, b) = if x <= 0.0 { (22.46, 272.62) } else { (17.62, 243.12) };
    b * x / (a - x)
}

/// Temperature, degC, at which the saturation pressure has the natural logarithm `ln_p`; the residual is in `ln_p`
/// (that is, relative in pressure).
///
/// In the reciprocal absolute temperature the equation is almost a straight line, so the steps are taken there.
#[inline]
pub fn saturation_temperature_solve(ln_p: f64) -> Root {
    if !(ln_p.is_finite()) {
        return Root::NONE;
    }
    // The sides of the seam are told apart by pressure, so that no step crosses it.
    let ice = ln_p <= ln_saturation_pressure(SEAM_C);
    let mut t = saturation_temperature_start_c(ln_p);
    let mut iterations = 0;
    loop {
        t = if ice { t.min(SEAM_C) } else { t.max(SEAM_C + 1e-15) };
        let error = ln_saturation_pressure(t) - ln_p;
        iterations += 1;
        let slope = ln_saturation_pressure_slope_per_k(t);
        let k = t + 273.15;
        // d(ln p)/d(1/T) = -T^2 d(ln p)/dT.
        let next = 1.0 / (1.0 / k + error / (slope * k * k)) - 273.15;
        if error.abs() <= 4e-15 * ln_p.abs().max(1.0) || (next - t).abs() <= 1e-13 || iterations >= 30 {
            return Root { value: t, residual: error, iterations };
        }
        t = next;
    }
}

/// Dew point, degC, of vapour at `p_w_pa`; frost point at or below the triple point. `NaN` for no vapour.
#[inline]
pub fn dew_point_from_vapour_pressure_c(p_w_pa: f64) -> f64 {
    saturation_temperature_solve(p_w_pa.ln()).value
}

/// Dew point, degC, of air with humidity ratio `w_kg_per_kg` at `p_pa`. `NaN` for dry air.
///
/// ```
/// use drycoil_air::raw;
/// let w = raw::humidity_ratio_at_dew_point(12.8, 101_325.0);
/// assert!((raw::dew_point_c(w, 101_325.0) - 12.8).abs() < 1e-11);
/// ```
#[inline]
pub fn dew_point_c(w_kg_per_kg: f64, p_pa: f64) -> f64 {
    dew_point_from_vapour_pressure_c(vapour_pressure_pa(w_kg_per_kg, p_pa))
}
