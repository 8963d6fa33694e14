//! The standard atmosphere (ASHRAE Fundamentals ch. 1, eq. 3 and 4).

/// Fall of temperature with elevation, K/m.
pub const STANDARD_LAPSE_RATE_K_PER_M: f64 = 0.0065;

/// Standard pressure at an elevation above sea level, Pa. Published for -5 000 to 11 000 m.
///
/// ```
/// // ASHRAE Fundamentals 2017 ch. 1 table 1: 89 875 Pa at 1 000 m.
/// assert!((drycoil_air::raw::standard_pressure_pa(1000.0) - 89_875.0).abs() < 1.0);
/// ```
#[inline]
pub fn standard_pressure_pa(elevation_m: f64) -> f64 {
    101_325.0 * (1.0 - 2.25577e-5 * elevation_m).powf(5.2559)
}

/// Standard temperature at an elevation, degC.
#[inline]
pub fn standard_temperature_c(elevation_m: f64) -> f64 {
    15.0 - STANDARD_LAPSE_RATE_K_PER_M * elevation_m
}

/// Elevation, m, at which the standard atmosphere has this pressure. Closed form.
#[inline]
pub fn elevation_from_standard_pressure_m(p_pa: f64) -> f64 {
    (1.0 - (p_pa / 101_325.0).powf(1.0 / 5.2559)) / 2.25577e-5
}
