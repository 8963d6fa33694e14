//! Weather years, design conditions, design days.
//!
//! A [`WeatherYear`] is one year of hourly intervals in local standard time, checked once when it is made.
//!
//! Everything here is a pure function of its arguments.

mod calendar;
mod error;
mod moist;
mod year;

pub use calendar::{Calendar, HourStamp};
pub use error::{ClimateError, Column};
pub use year::{
    DewPointRounding, Moisture, RoundedHour, Station, WeatherColumns, WeatherFormat, WeatherYear,
};
