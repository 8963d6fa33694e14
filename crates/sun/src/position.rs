//! Position of the sun, by the solar position algorithm of Reda and Andreas (NREL/TP-560-34302).

use crate::error::{SunError, within};
use drycoil_units::{Angle, Length, Pressure, Temperature};
use solar_positioning::time::JulianDate;
use solar_positioning::{Location, RefractionCorrection, SolarPositions};

/// A point on the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Latitude, north positive, -90 to 90 deg.
    pub latitude: Angle,
    /// Longitude, east positive, -180 to 180 deg.
    pub longitude: Angle,
    /// Height above sea level, -500 to 9000 m.
    pub elevation: Length,
}

/// A moment in local standard time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalTime {
    /// Calendar year, 1900 to 2100.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month.
    pub day: u8,
    /// Hours since midnight of local standard time, 0 to 24.
    pub hour: f64,
    /// Local standard time minus UTC, -12 to 14 h.
    pub utc_offset_hours: f64,
}

/// Whether the bending of light by the atmosphere is counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refraction {
    /// The geometric position; for radiation this is the usual choice.
    None,
    /// The apparent position in air of this state.
    Apparent {
        /// Yearly mean pressure of the place.
        pressure: Pressure,
        /// Yearly mean temperature of the place.
        temperature: Temperature,
    },
}

/// Where the sun stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Angle from the zenith, 0 to 180 deg; above 90 the sun is below the horizon.
    pub zenith: Angle,
    /// Clockwise from north, 0 to 360 deg.
    pub azimuth: Angle,
    /// Declination.
    pub declination: Angle,
    /// Distance from the earth, in mean distances (astronomical units).
    pub distance_au: f64,
}

impl SunPosition {
    /// Height above the horizon; negative below it.
    pub fn altitude(&self) -> Angle {
        Angle::degrees(90.0 - self.zenith.to_degrees())
    }
}

/// TT minus UT1, s, held constant: it was 63 to 70 s from 1996 to 2025, and an error of 10 s moves the sun by less
/// than 0.0002 deg.
const DELTA_T_S: f64 = 67.0;

/// Days in a month of the Gregorian calendar.
fn days_in_month(year: i32, month: u8) -> u8 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Position of the sun at a place and a moment; within 0.0003 deg for years near the present.
///
/// # Errors
/// [`SunError::OutOfRange`] and [`SunError::NoSuchDate`] for input outside the ranges stated at the fields.
///
/// ```
/// use drycoil_sun::{LocalTime, Place, Refraction, sun_position};
/// use drycoil_units::{Angle, Length};
/// let place = Place {
///     latitude: Angle::degrees(51.48),
///     longitude: Angle::degrees(0.0),
///     elevation: Length::metres(46.0),
/// };
/// let equinox = LocalTime { year: 2023, month: 3, day: 20, hour: 12.125, utc_offset_hours: 0.0 };
/// let sun = sun_position(&place, &equinox, Refraction::None).unwrap();
/// assert!((sun.azimuth.to_degrees() - 180.0).abs() < 0.1);
/// assert!((sun.zenith.to_degrees() - 51.58).abs() < 0.1);
/// ```
pub fn sun_position(
    place: &Place,
    time: &LocalTime,
    refraction: Refraction,
) -> Result<SunPosition, SunError> {
    let latitude = within("latitude", place.latitude.to_degrees(), -90.0, 90.0, "deg")?;
    let longitude = within("longitude", place.longitude.to_degrees(), -180.0, 180.0, "deg")?;
    let elevation = within("elevation", place.elevation.to_metres(), -500.0, 9000.0, "m")?;
    within("year", f64::from(time.year), 1900.0, 2100.0, "")?;
    within("hour", time.hour, 0.0, 24.0, "h")?;
    within("offset from UTC", time.utc_offset_hours, -12.0, 14.0, "h")?;
    let valid_month = (1..=12).contains(&time.month);
    if !valid_month || time.day == 0 || time.day > days_in_month(time.year, time.month) {
        return Err(SunError::NoSuchDate { year: time.year, month: time.month, day: time.day });
    }
    let refused = |e: solar_positioning::Error| SunError::Position { reason: e.to_string() };
    let midnight =
        JulianDate::from_utc(time.year, u32::from(time.month), u32::from(time.day), 0, 0, 0.0, DELTA_T_S)
            .map_err(refused)?;
    let julian_date = midnight.julian_date() + (time.hour - time.utc_offset_hours) / 24.0;
    let moment = JulianDate::new(julian_date, DELTA_T_S).map_err(refused)?;
    let prepared = SolarPositions::new().for_time_from_julian(moment).map_err(refused)?;
    let correction = match refraction {
        Refraction::None => None,
        Refraction::Apparent { pressure, temperature } => Some(
            RefractionCorrection::new(pressure.to_pascals() / 100.0, temperature.to_celsius())
                .map_err(refused)?,
        ),
    };
    let position = prepared.at(Location { latitude, longitude }, elevation, correction).map_err(refused)?;
    let distance_au = prepared
        .earth_radius_vector()
        .ok_or_else(|| SunError::Position { reason: "the algorithm gave no distance".into() })?;
    Ok(SunPosition {
        zenith: Angle::degrees(position.zenith_angle()),
        azimuth: Angle::degrees(position.azimuth()),
        declination: Angle::degrees(prepared.declination()),
        distance_au,
    })
}
