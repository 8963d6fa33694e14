//! The short classical series: declination, equation of time, position from hour angle.
//!
//! They serve as a second opinion on the position algorithm and for hand checks. All angles in degrees. Source:
//! Duffie and Beckman, Solar Engineering of Thermal Processes, ch. 1 (from memory); azimuth here is measured from
//! south, west positive, as in that book, unless a name says otherwise.

/// Declination by Cooper's formula, degrees; `day` counts from 1 on 1 January.
///
/// ```
/// assert!((drycoil_sun::series::cooper_declination_deg(198.0) - 21.2).abs() < 0.06);
/// ```
pub fn cooper_declination_deg(day: f64) -> f64 {
    23.45 * (360.0 * (284.0 + day) / 365.0).to_radians().sin()
}

/// Equation of time by Spencer's series, minutes.
pub fn spencer_equation_of_time_min(day: f64) -> f64 {
    let b = (360.0 * (day - 1.0) / 365.0).to_radians();
    229.2
        * (0.000075 + 0.001868 * b.cos()
            - 0.032077 * b.sin()
            - 0.014615 * (2.0 * b).cos()
            - 0.04089 * (2.0 * b).sin())
}

/// Solar time, h, from local standard time, h, with east-positive longitude and the offset of standard time from UTC.
pub fn solar_time_h(standard_time_h: f64, longitude_deg: f64, utc_offset_hours: f64, day: f64) -> f64 {
    standard_time_h
        + (4.0 * (longitude_deg - 15.0 * utc_offset_hours) + spencer_equation_of_time_min(day)) / 60.0
}

/// Zenith angle and azimuth (from south, west positive), degrees, for a latitude, declination and hour angle in degrees.
pub fn zenith_and_azimuth_deg(latitude_deg: f64, declination_deg: f64, hour_angle_deg: f64) -> (f64, f64) {
    let (phi, delta, omega) =
        (latitude_deg.to_radians(), declination_deg.to_radians(), hour_angle_deg.to_radians());
    let up = phi.sin() * delta.sin() + phi.cos() * delta.cos() * omega.cos();
    let south = phi.sin() * delta.cos() * omega.cos() - phi.cos() * delta.sin();
    let west = delta.cos() * omega.sin();
    (west.hypot(south).atan2(up).to_degrees(), west.atan2(south).to_degrees())
}

/// Cosine of the angle of incidence on a surface; azimuth of the surface from south, west positive.
pub fn cos_incidence(
    latitude_deg: f64,
    declination_deg: f64,
    hour_angle_deg: f64,
    tilt_deg: f64,
    surface_azimuth_deg: f64,
) -> f64 {
    let (phi, delta, omega) =
        (latitude_deg.to_radians(), declination_deg.to_radians(), hour_angle_deg.to_radians());
    let (beta, gamma) = (tilt_deg.to_radians(), surface_azimuth_deg.to_radians());
    delta.sin() * phi.sin() * beta.cos() - delta.sin() * phi.cos() * beta.sin() * gamma.cos()
        + delta.cos() * phi.cos() * beta.cos() * omega.cos()
        + delta.cos() * phi.sin() * beta.sin() * gamma.cos() * omega.cos()
        + delta.cos() * beta.sin() * gamma.sin() * omega.sin()
}

/// Beam normal irradiance by constant extinction, `A exp(-k m)`, W/m2: the older monthly A, B, C clear sky.
pub fn constant_extinction_beam_w_per_m2(apparent_w_per_m2: f64, optical_depth: f64, air_mass: f64) -> f64 {
    apparent_w_per_m2 * (-optical_depth * air_mass).exp()
}
