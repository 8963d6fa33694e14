//! Site and climate entries.

use drycoil_units::{
    Angle, Fraction, HumidityRatio, Length, Pressure, Temperature, TemperatureDifference, Time,
};
use drycoil_working::Sourced;

/// Design conditions that the engineer enters; each one replaces the value derived from the weather year.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EnteredClimate {
    /// Cooling dry bulb (annual 0.4 %).
    pub cooling_dry_bulb: Option<Sourced<Temperature>>,
    /// Mean coincident wet bulb of the cooling dry bulb.
    pub cooling_wet_bulb: Option<Sourced<Temperature>>,
    /// Dehumidification dew point (annual 0.4 %).
    pub dehumidification_dew_point: Option<Sourced<Temperature>>,
    /// Mean coincident dry bulb of the dew point.
    pub dehumidification_dry_bulb: Option<Sourced<Temperature>>,
    /// Tower wet bulb (annual 0.4 %).
    pub tower_wet_bulb: Option<Sourced<Temperature>>,
    /// Heating dry bulb (annual 99.6 %).
    pub heating_dry_bulb: Option<Sourced<Temperature>>,
    /// Humidity ratio that goes with the heating dry bulb.
    pub heating_humidity_ratio: Option<Sourced<HumidityRatio>>,
    /// Mean daily range of dry bulb in the hottest month.
    pub daily_range: Option<Sourced<TemperatureDifference>>,
    /// Clear-sky optical depth of beam, by month.
    pub tau_beam: Option<Sourced<[f64; 12]>>,
    /// Clear-sky optical depth of diffuse, by month.
    pub tau_diffuse: Option<Sourced<[f64; 12]>>,
}

/// Where the building stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Name of the place.
    pub place: Sourced<String>,
    /// Latitude, north positive; the weather station's when not written.
    pub latitude: Option<Sourced<Angle>>,
    /// Longitude, east positive; the weather station's when not written.
    pub longitude: Option<Sourced<Angle>>,
    /// Elevation; the weather station's when not written.
    pub elevation: Option<Sourced<Length>>,
    /// Design pressure; that of the standard atmosphere at the elevation when not written.
    pub pressure: Option<Sourced<Pressure>>,
    /// Hours from UTC, for weather files that do not say.
    pub utc_offset: Option<Sourced<Time>>,
    /// Weather file, relative to the project folder.
    pub weather: Sourced<String>,
    /// Longest gap of the weather file that may be filled; zero for none.
    pub fill_gaps_up_to: Sourced<Time>,
    /// Day of the week of 1 January, 0 for Monday.
    pub first_weekday: Sourced<u8>,
    /// Holidays as month and day.
    pub holidays: Sourced<Vec<(u8, u8)>>,
    /// Reflectance of the ground.
    pub ground_reflectance: Sourced<Fraction>,
    /// Mean temperature of the ground under the floor; the mean of the weather year when not written.
    pub ground_temperature: Option<Sourced<Temperature>>,
    /// Entered design conditions.
    pub conditions: EnteredClimate,
}
