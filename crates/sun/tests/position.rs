//! Sun position against published values and against the classical series.

use drycoil_sun::series;
use drycoil_sun::{LocalTime, Place, Refraction, SunError, Surface, sun_position};
use drycoil_units::{Angle, Length, Pressure, Temperature};

fn place(latitude: f64, longitude: f64, elevation: f64) -> Place {
    Place {
        latitude: Angle::degrees(latitude),
        longitude: Angle::degrees(longitude),
        elevation: Length::metres(elevation),
    }
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}

/// NREL/TP-560-34302, Table A5.1. Tolerance: the uncertainty that the report states for the algorithm, 0.0003 deg.
#[test]
fn val_reda_andreas_table_a5_1() {
    let time = LocalTime { year: 2003, month: 10, day: 17, hour: 12.0 + 30.5 / 60.0, utc_offset_hours: -7.0 };
    let air = Refraction::Apparent {
        pressure: Pressure::pascals(82_000.0),
        temperature: Temperature::celsius(11.0),
    };
    let sun = sun_position(&place(39.742476, -105.1786, 1830.14), &time, air).unwrap();
    near(sun.zenith.to_degrees(), 50.111622, 0.0003);
    near(sun.azimuth.to_degrees(), 194.340241, 0.0003);
    near(sun.distance_au, 0.996542, 1e-6);
    // Slope 30 deg, rotated 10 deg from south towards east.
    let slope = Surface::new(Angle::degrees(30.0), Angle::degrees(170.0)).unwrap();
    near(slope.sun(&sun).incidence.to_degrees(), 25.187000, 0.0003);
}

/// Duffie and Beckman, Example 1.5.1 (from memory): Madison, 3 February, 10:30. Tolerance as printed there: 0.1 min.
#[test]
fn val_equation_of_time_madison() {
    near(series::spencer_equation_of_time_min(34.0), -13.5, 0.1);
    let solar = series::solar_time_h(10.5, -89.4, -6.0, 34.0);
    near(solar * 60.0, 10.0 * 60.0 + 19.0, 0.2);
}

/// Duffie and Beckman, Example 1.6.1 (from memory), and a variant at another latitude (wizedu.com q1570412).
/// Tolerance: one unit of the recomputed last place.
#[test]
fn val_incidence_on_tilted_surface() {
    near(series::cos_incidence(43.0, -14.0, -22.5, 45.0, 15.0), 0.817384, 1e-5);
    near(series::cos_incidence(43.0, -14.0, -22.5, 45.0, 15.0).acos().to_degrees(), 35.176, 1e-3);
    near(series::cos_incidence(38.54, -14.0, -22.5, 45.0, 15.0), 0.831991, 1e-5);
}

/// Duffie and Beckman, Example 1.6.2 (from memory). Tolerance 0.01 deg: rounding of the recomputed values.
#[test]
fn val_zenith_and_azimuth() {
    let (zenith, azimuth) = series::zenith_and_azimuth_deg(43.0, -14.0, -37.5);
    near(zenith, 66.547, 0.01);
    near(azimuth, -40.081, 0.01);
    let (zenith, azimuth) = series::zenith_and_azimuth_deg(43.0, 23.1, 97.5);
    near(zenith, 79.644, 0.01);
    near(azimuth, 112.020, 0.01);
}

/// Duffie and Beckman, Table 1.6.1 (from memory): declination on the mean days of the months. Tolerance: its rounding.
#[test]
fn val_cooper_declination_table() {
    let days = [17.0, 47.0, 75.0, 105.0, 135.0, 162.0, 198.0, 228.0, 258.0, 288.0, 318.0, 344.0];
    let printed = [-20.9, -13.0, -2.4, 9.4, 18.8, 23.1, 21.2, 13.5, 2.2, -9.6, -18.9, -23.0];
    for (day, expected) in days.into_iter().zip(printed) {
        near(series::cooper_declination_deg(day), expected, 0.06);
    }
}

/// Duffie and Beckman, beam ratio for 40 N, tilt 30 to south, declination -13, 9 to 10 h: 1.61 (from memory).
#[test]
fn val_beam_ratio_south_tilt() {
    let tilted = series::cos_incidence(40.0, -13.0, -37.5, 30.0, 0.0);
    let level = series::cos_incidence(40.0, -13.0, -37.5, 0.0, 0.0);
    near(tilted / level, 1.61, 0.005);
}

/// Two methods: the algorithm, and the classical triangle with Spencer's equation of time and the algorithm's own
/// declination. Spencer's series is good to 0.6 min, which is 0.15 deg of hour angle and so at most 0.15 deg of zenith;
/// Cooper's declination is good to 1.6 deg (worst in autumn).
#[test]
fn xchk_series_and_algorithm_agree() {
    let mut worst: f64 = 0.0;
    for (month, day, n) in [(1u8, 15u8, 15.0), (3, 21, 80.0), (5, 5, 125.0), (7, 21, 202.0), (10, 10, 283.0)]
    {
        for hour in [8.0, 10.5, 12.0, 15.25] {
            let time = LocalTime { year: 2023, month, day, hour, utc_offset_hours: -5.0 };
            let sun = sun_position(&place(36.1, -79.95, 270.0), &time, Refraction::None).unwrap();
            let omega = 15.0 * (series::solar_time_h(hour, -79.95, -5.0, n) - 12.0);
            let (zenith, azimuth) = series::zenith_and_azimuth_deg(36.1, sun.declination.to_degrees(), omega);
            worst = worst.max((zenith - sun.zenith.to_degrees()).abs());
            // Equation of time within 0.6 min is 0.15 deg of hour angle; azimuth moves up to about five times that
            // near the zenith of a summer noon.
            near(azimuth + 180.0, sun.azimuth.to_degrees(), 0.8);
            near(series::cooper_declination_deg(n), sun.declination.to_degrees(), 1.6);
        }
    }
    assert!(worst < 0.16, "zenith differs by {worst} deg");
}

#[test]
fn phys_sun_crosses_south_at_solar_noon_and_is_symmetric() {
    let at = |hour| {
        let time = LocalTime { year: 2023, month: 6, day: 21, hour, utc_offset_hours: -5.0 };
        sun_position(&place(36.1, -79.95, 270.0), &time, Refraction::None).unwrap()
    };
    // Solar noon by bisection on the azimuth.
    let (mut low, mut high) = (11.0, 14.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if at(middle).azimuth.to_degrees() < 180.0 { low = middle } else { high = middle }
    }
    for offset in [0.5, 2.0, 4.0] {
        // The declination moves by less than 0.001 deg in 8 h near the solstice.
        near(at(low - offset).zenith.to_degrees(), at(low + offset).zenith.to_degrees(), 0.01);
    }
    near(at(low).zenith.to_degrees(), 36.1 - at(low).declination.to_degrees(), 0.01);
}

#[test]
fn phys_day_boundaries_are_seamless() {
    let at = |day, hour| {
        let time = LocalTime { year: 2023, month: 3, day, hour, utc_offset_hours: 9.0 };
        sun_position(&place(35.0, 139.0, 0.0), &time, Refraction::None).unwrap()
    };
    near(at(9, 24.0).zenith.to_degrees(), at(10, 0.0).zenith.to_degrees(), 1e-6);
}

#[test]
fn input_outside_the_stated_ranges_is_refused() {
    let time = LocalTime { year: 2023, month: 2, day: 29, hour: 12.0, utc_offset_hours: 0.0 };
    let here = place(45.0, 8.0, 250.0);
    assert_eq!(
        sun_position(&here, &time, Refraction::None),
        Err(SunError::NoSuchDate { year: 2023, month: 2, day: 29 })
    );
    assert!(sun_position(&here, &LocalTime { year: 2024, ..time }, Refraction::None).is_ok());
    let time = LocalTime { day: 1, ..time };
    let message = sun_position(&place(95.0, 8.0, 0.0), &time, Refraction::None).unwrap_err().to_string();
    assert_eq!(message, "latitude 95 deg is outside -90 to 90 deg");
    assert!(sun_position(&place(45.0, f64::NAN, 0.0), &time, Refraction::None).is_err());
    assert!(sun_position(&here, &LocalTime { hour: 24.5, ..time }, Refraction::None).is_err());
    assert!(sun_position(&here, &LocalTime { utc_offset_hours: 20.0, ..time }, Refraction::None).is_err());
    assert!(sun_position(&here, &LocalTime { year: 3000, ..time }, Refraction::None).is_err());
    assert!(Surface::new(Angle::degrees(200.0), Angle::degrees(0.0)).is_err());
    assert!(Surface::new(Angle::degrees(20.0), Angle::degrees(-1.0)).is_err());
}
