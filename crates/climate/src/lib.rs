//! Weather years, design conditions, design days.
//!
//! A [`WeatherYear`] is one year of hourly intervals in local standard time, checked once when it is made. From it come
//! [`DesignConditions`] (entered station values first, the rest derived and labelled so), [`DesignDay`]s, and the counts
//! and tables by which a climate is judged. Everything is a pure function of its arguments.
//!
//! ```
//! use drycoil_climate::{
//!     DesignConditions, DesignDayKind, DesignDayOptions, DewPointRounding, EnteredConditions, Moisture, Station,
//!     WeatherColumns, WeatherFormat, WeatherYear, design_day,
//! };
//! use drycoil_units::{Angle, Length, Temperature};
//! use std::f64::consts::TAU;
//!
//! // A made-up year: seasons and days are sine waves, the sun shines from 8 to 16 h.
//! let wave = |hour: usize, mean: f64, season: f64, day: f64| {
//!     let (year, clock) = (hour as f64 / 8760.0, hour as f64 / 24.0);
//!     mean - season * (TAU * (year - 0.05)).cos() - day * (TAU * (clock - 0.125)).cos()
//! };
//! let column = |f: &dyn Fn(usize) -> f64| (0..8760).map(f).collect::<Vec<f64>>();
//! let lit = |hour: usize, value: f64| if (8..16).contains(&(hour % 24)) { value } else { 0.0 };
//! let year = WeatherYear::new(WeatherColumns {
//!     station: Station {
//!         name: "Example".into(),
//!         region: None,
//!         latitude: Angle::degrees(36.1),
//!         longitude: Angle::degrees(-79.95),
//!         elevation: Length::metres(273.0),
//!         utc_offset_hours: -5.0,
//!     },
//!     format: WeatherFormat::PlainCsv,
//!     dry_bulb_c: column(&|h| wave(h, 15.0, 11.0, 5.0)),
//!     moisture: Moisture::DewPointC(column(&|h| wave(h, 8.0, 11.0, 0.5))),
//!     rounding: DewPointRounding::TENTH_KELVIN,
//!     pressure_pa: column(&|_| 98_000.0),
//!     wind_speed_m_per_s: column(&|_| 3.0),
//!     wind_direction_deg: column(&|_| 225.0),
//!     global_horizontal_w_per_m2: column(&|h| lit(h, 600.0)),
//!     direct_normal_w_per_m2: column(&|h| lit(h, 700.0)),
//!     diffuse_horizontal_w_per_m2: column(&|h| lit(h, 120.0)),
//!     sky_infrared_w_per_m2: None,
//! })
//! .unwrap();
//!
//! let mut entered = EnteredConditions::default();
//! entered.dehumidification[0].design = Some(Temperature::fahrenheit(74.0));
//! let conditions = DesignConditions::from_year(&year, &entered).unwrap();
//! assert_eq!(conditions.dehumidification[0].dew_point.origin.to_string(), "entered");
//! let humid =
//!     design_day(DesignDayKind::Dehumidification, &conditions, &year, &DesignDayOptions::default()).unwrap();
//! assert!((humid.hours[14].dew_point.to_fahrenheit() - 74.0).abs() < 1e-6);
//! ```

mod calendar;
mod conditions;
mod design_day;
mod error;
mod percentile;
mod tables;
mod year;

pub use calendar::{Calendar, HourStamp, month_name};
pub use conditions::{
    AnnualPercentile, COINCIDENT_HALF_WIDTH_K, DesignConditions, DewPointCondition, DryBulbCondition,
    EnteredConditions, EnteredMonth, EnteredPair, HeatingCondition, HeatingPercentile, MonthConditions,
    MonthlyPercentile, OpticalDepths, Origin, Valued, WetBulbCondition,
};
pub use design_day::{
    DAILY_RANGE_FRACTIONS, DESIGN_DAY_OF_MONTH, DesignDay, DesignDayKind, DesignDayOptions, DesignHour,
    HourMoisture, SkySource, design_day, design_days,
};
pub use error::{ClimateError, Column};
pub use percentile::Exceedance;
pub use tables::{
    Bands, DegreeDayBases, DewPointBand, JointBin, MonthRow, SolarClosure, Span, dew_point_bands,
    hours_above_dew_point, joint_bins, monthly_table, solar_closure,
};
pub use year::{
    DewPointRounding, Moisture, RoundedHour, Station, WeatherColumns, WeatherFormat, WeatherYear,
};
