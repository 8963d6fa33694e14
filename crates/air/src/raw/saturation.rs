//! Saturation over ice and over liquid water (Hyland and Wexler 1983, as printed in ASHRAE Fundamentals ch. 1,
//! eq. 5 and 6).

use super::state::MASS_RATIO;

/// The triple point of water, degC: below it the equation over ice holds, above it the one over liquid water.
pub const TRIPLE_POINT_C: f64 = 0.01;

/// Where one saturation equation gives way to the other. The two meet within 4e-6 Pa at the triple point; at
/// 0 degC they are 0.06 Pa apart, so the seam lies where the physics puts it.
pub const SEAM_C: f64 = TRIPLE_POINT_C;

/// Coefficients over ice and over liquid water in one form (the last power of temperature is absent over water), so
/// that the choice is a table row and not a branch.
const COEFFICIENTS: [[f64; 7]; 2] = [
    [-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019],
    [-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673],
];

#[inline]
fn coefficients(t_c: f64) -> &'static [f64; 7] {
    &COEFFICIENTS[usize::from(t_c > SEAM_C)]
}

/// Natural logarithm of the saturation pressure in Pa at `t_c` degC, over ice up to the triple point and over
/// liquid water above it. Published for -100 to 200 degC.
#[inline]
pub fn ln_saturation_pressure(t_c: f64) -> f64 {
    let c = coefficients(t_c);
    let k = t_c + 273.15;
    let r = 1.0 / k;
    c[0] * r + c[1] + k * (c[2] + k * (c[3] + k * (c[4] + k * c[5]))) + c[6] * k.ln()
}

/// Slope of [`ln_saturation_pressure`], 1/K.
#[inline]
pub fn ln_saturation_pressure_slope_per_k(t_c: f64) -> f64 {
    ln_saturation_pressure_jet(t_c, 0.0).1
}

/// [`ln_saturation_pressure`] with its slope (1/K) and bend (1/K2), given the logarithm of the absolute temperature.
#[inline]
pub(super) fn ln_saturation_pressure_jet(t_c: f64, ln_k: f64) -> (f64, f64, f64) {
    let c = coefficients(t_c);
    let k = t_c + 273.15;
    let r = 1.0 / k;
    (
        c[0] * r + c[1] + k * (c[2] + k * (c[3] + k * (c[4] + k * c[5]))) + c[6] * ln_k,
        c[2] + k * (2.0 * c[3] + k * (3.0 * c[4] + k * 4.0 * c[5])) + r * (c[6] - c[0] * r),
        2.0 * c[3] + k * (6.0 * c[4] + k * 12.0 * c[5]) + r * r * (2.0 * c[0] * r - c[6]),
    )
}

/// Saturation pressure of water vapour, Pa.
///
/// ```
/// // ASHRAE Fundamentals 2017 ch. 1 table 3: 3169.7 Pa at 25 degC (within 0.03 %).
/// assert!((drycoil_air::raw::saturation_pressure_pa(25.0) / 3169.7 - 1.0).abs() < 3e-4);
/// ```
#[inline]
pub fn saturation_pressure_pa(t_c: f64) -> f64 {
    ln_saturation_pressure(t_c).exp()
}

/// Slope of the saturation pressure, Pa/K.
#[inline]
pub fn saturation_pressure_slope_pa_per_k(t_c: f64) -> f64 {
    saturation_pressure_pa(t_c) * ln_saturation_pressure_slope_per_k(t_c)
}

/// Humidity ratio, kg/kg, of air at `p_pa` whose vapour has the pressure `p_w_pa`; `NaN` when the vapour alone
/// would reach the air pressure.
#[inline]
pub fn humidity_ratio_from_vapour_pressure(p_w_pa: f64, p_pa: f64) -> f64 {
    if p_w_pa >= 0.0 && p_w_pa < p_pa { MASS_RATIO * p_w_pa / (p_pa - p_w_pa) } else { f64::NAN }
}

/// Vapour pressure, Pa, of air with humidity ratio `w_kg_per_kg` at `p_pa`.
#[inline]
pub fn vapour_pressure_pa(w_kg_per_kg: f64, p_pa: f64) -> f64 {
    p_pa * w_kg_per_kg / (MASS_RATIO + w_kg_per_kg)
}

/// Humidity ratio of saturated air, kg/kg; `NaN` where water boils.
#[inline]
pub fn saturation_humidity_ratio(t_c: f64, p_pa: f64) -> f64 {
    humidity_ratio_from_vapour_pressure(saturation_pressure_pa(t_c), p_pa)
}

/// Slope of the saturation humidity ratio with temperature, 1/K.
#[inline]
pub fn saturation_humidity_ratio_slope_per_k(t_c: f64, p_pa: f64) -> f64 {
    let p_ws = saturation_pressure_pa(t_c);
    let rest = p_pa - p_ws;
    if rest > 0.0 {
        MASS_RATIO * p_pa * p_ws * ln_saturation_pressure_slope_per_k(t_c) / (rest * rest)
    } else {
        f64::NAN
    }
}

/// Humidity ratio of air whose dew point (frost point at or below the triple point) is `dew_point_c`, kg/kg.
#[inline]
pub fn humidity_ratio_at_dew_point(dew_point_c: f64, p_pa: f64) -> f64 {
    saturation_humidity_ratio(dew_point_c, p_pa)
}

/// Humidity ratio, kg/kg, of air at `t_c` with relative humidity `rh` as a share of one.
#[inline]
pub fn humidity_ratio_from_relative_humidity(t_c: f64, rh: f64, p_pa: f64) -> f64 {
    humidity_ratio_from_vapour_pressure(rh * saturation_pressure_pa(t_c), p_pa)
}
