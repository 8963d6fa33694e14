//! Dew point: the saturation temperature of the vapour pressure, by Newton steps on the logarithm of the saturation
//! pressure.

use super::root::Root;
use super::saturation::{SEAM_C, ln_saturation_pressure, ln_saturation_pressure_jet, vapour_pressure_pa};

/// Start of the iteration, degC: a Magnus form on each side of the seam, within 0.5 K. Never a result.
#[inline]
pub fn saturation_temperature_start_c(ln_p: f64) -> f64 {
    // ln of the pressure at the triple point, 611.657 Pa.
    let x = ln_p - 6.416172;
    let (a, b) = if x <= 0.0 { (22.46, 272.62) } else { (17.62, 243.12) };
    b * x / (a - x)
}

/// Newton in the reciprocal absolute temperature, in which the logarithm of the saturation pressure is almost a
/// straight line. A step of 1e-3 K leaves an error below the rounding of the temperature.
#[inline]
fn iterate(ln_p: f64) -> (f64, u32) {
    if !(ln_p > LN_PRESSURE_END_OF_ICE && ln_p < LN_PRESSURE_END_OF_WATER) {
        return (f64::NAN, 0);
    }
    // The sides of the seam are told apart by pressure, so that no step crosses it.
    let ice = ln_p <= LN_PRESSURE_AT_SEAM;
    let mut t = saturation_temperature_start_c(ln_p);
    let mut iterations = 0;
    while iterations < 30 {
        t = if ice { t.min(SEAM_C) } else { t.max(ABOVE_SEAM_C) };
        iterations += 1;
        let k = t + 273.15;
        let (ln_ps, slope, _) = ln_saturation_pressure_jet(t, k.ln());
        // 1/T' = 1/T + e / (slope T^2), written as a step in T.
        let x = (ln_ps - ln_p) / (slope * k);
        let step = k * x / (1.0 + x);
        t -= step;
        if step.abs() <= 1e-3 {
            return (if ice { t.min(SEAM_C) } else { t.max(ABOVE_SEAM_C) }, iterations);
        }
    }
    (f64::NAN, iterations)
}

/// Ends of the published equations, -100 and 200 degC, as logarithms of pressure (Pa).
const LN_PRESSURE_END_OF_ICE: f64 = -6.567645292806496;
const LN_PRESSURE_END_OF_WATER: f64 = 14.25703352731739;
/// Logarithm of the pressure over ice at the seam.
const LN_PRESSURE_AT_SEAM: f64 = 6.4161717077576945;
/// The next number above the seam.
const ABOVE_SEAM_C: f64 = 0.010000000000000002;

/// Temperature, degC, at which the saturation pressure has the natural logarithm `ln_p`; the residual is in `ln_p`
/// (that is, relative in pressure).
#[inline]
pub fn saturation_temperature_solve(ln_p: f64) -> Root {
    let (value, iterations) = iterate(ln_p);
    Root { value, residual: ln_saturation_pressure(value) - ln_p, iterations }
}

/// Dew point, degC, of vapour at `p_w_pa`; frost point at or below the triple point. `NaN` for no vapour.
#[inline]
pub fn dew_point_from_vapour_pressure_c(p_w_pa: f64) -> f64 {
    iterate(p_w_pa.ln()).0
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
