//! One year of weather, checked.

use crate::calendar::{Calendar, HourStamp};
use crate::error::{ClimateError, Column};
use drycoil_air::raw as air;
use drycoil_sun::{LocalTime, Place, Refraction, SunPosition, sun_position};
use drycoil_units::{Angle, Length};
use std::fmt;

/// Where the weather was measured or modelled.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Name of the place.
    pub name: String,
    /// State, province or country, when the file gives it.
    pub region: Option<String>,
    /// Latitude, north positive.
    pub latitude: Angle,
    /// Longitude, **east positive**.
    pub longitude: Angle,
    /// Height above sea level.
    pub elevation: Length,
    /// Local standard time minus UTC, h; negative west of Greenwich.
    pub utc_offset_hours: f64,
}

impl Station {
    /// Position of the sun over the station at an hour of local standard time, in the nominal year of the calendar.
    pub(crate) fn sun(
        &self,
        calendar: Calendar,
        month: u8,
        day: u8,
        hour: f64,
    ) -> Result<SunPosition, ClimateError> {
        let place = Place { latitude: self.latitude, longitude: self.longitude, elevation: self.elevation };
        let year = calendar.nominal_year();
        let time = LocalTime { year, month, day, hour, utc_offset_hours: self.utc_offset_hours };
        sun_position(&place, &time, Refraction::None).map_err(|e| ClimateError::Sun { reason: e.to_string() })
    }
}

/// The form of the file from which a weather year was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WeatherFormat {
    /// TMY3, comma-separated; stamps at the end of the hour.
    Tmy3Csv,
    /// TMY2, fixed columns; stamps at the end of the hour.
    Tmy2,
    /// PVGIS typical year, comma-separated; stamps in UTC.
    PvgisCsv,
    /// NSRDB physical solar model, comma-separated; stamps at mid-hour.
    NsrdbPsmCsv,
    /// Comma-separated text with a unit in every column title.
    PlainCsv,
}

impl fmt::Display for WeatherFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Tmy3Csv => "TMY3 CSV",
            Self::Tmy2 => "TMY2 fixed columns",
            Self::PvgisCsv => "PVGIS typical-year CSV",
            Self::NsrdbPsmCsv => "NSRDB PSM CSV",
            Self::PlainCsv => "plain CSV with units in the titles",
        })
    }
}

/// The moisture column as the source gives it.
#[derive(Debug, Clone, PartialEq)]
pub enum Moisture {
    /// Dew-point temperature, degC.
    DewPointC(Vec<f64>),
    /// Relative humidity, share of one; relative to ice below 0 degC, as in ASHRAE Fundamentals ch. 1.
    RelativeHumidity(Vec<f64>),
    /// Humidity ratio, kg/kg dry air.
    HumidityRatio(Vec<f64>),
}

/// The step to which a source rounds dry bulb and dew point.
///
/// Two numbers, each rounded to the same step, can be apart by one step more than the true values are. So a dew
/// point may be printed up to one step above the dry bulb without being wrong. The common step is 0.1 K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DewPointRounding {
    step_k: f64,
}

impl DewPointRounding {
    /// The 0.1 K of most files.
    pub const TENTH_KELVIN: Self = Self { step_k: 0.1 };
    /// Files that print whole degrees.
    pub const ONE_KELVIN: Self = Self { step_k: 1.0 };

    /// A step in K, above 0 and at most 1.
    ///
    /// # Errors
    /// [`ClimateError::RoundingStep`] outside that range.
    pub fn step(step_k: f64) -> Result<Self, ClimateError> {
        if step_k > 0.0 && step_k <= 1.0 {
            Ok(Self { step_k })
        } else {
            Err(ClimateError::RoundingStep { value_k: step_k })
        }
    }

    /// The step, K.
    pub const fn step_k(self) -> f64 {
        self.step_k
    }
}

/// An hour whose dew point was printed above its dry bulb by no more than rounding explains; it is held saturated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundedHour {
    /// Index of the hour.
    pub hour: usize,
    /// Dew point as the source gives it minus dry bulb, K.
    pub excess_k: f64,
}

/// What a reader hands over: one value an hour, already shifted to local standard time.
///
/// Value `i` belongs to the interval from `i` to `i + 1` hours after 1 January 00:00 local standard time: the mean over
/// it for irradiance, the state that represents it for the rest. Shifting the stamps of the file is the reader's task.
#[derive(Debug, Clone, PartialEq)]
pub struct WeatherColumns {
    /// The place.
    pub station: Station,
    /// The form of the file.
    pub format: WeatherFormat,
    /// Dry-bulb temperature, degC.
    pub dry_bulb_c: Vec<f64>,
    /// Moisture, in the form the source gives.
    pub moisture: Moisture,
    /// Rounding step of the temperatures.
    pub rounding: DewPointRounding,
    /// Station pressure, Pa.
    pub pressure_pa: Vec<f64>,
    /// Wind speed, m/s.
    pub wind_speed_m_per_s: Vec<f64>,
    /// Direction the wind comes from, degrees clockwise from north, 0 to 360.
    pub wind_direction_deg: Vec<f64>,
    /// Global horizontal irradiance, W/m2.
    pub global_horizontal_w_per_m2: Vec<f64>,
    /// Direct normal irradiance, W/m2.
    pub direct_normal_w_per_m2: Vec<f64>,
    /// Diffuse horizontal irradiance, W/m2.
    pub diffuse_horizontal_w_per_m2: Vec<f64>,
    /// Downward long-wave irradiance on the horizontal, W/m2, when the source gives it.
    pub sky_infrared_w_per_m2: Option<Vec<f64>>,
}

/// One year of weather: 8760 hourly intervals of local standard time from 1 January 00:00.
///
/// A source with 8784 rows is a leap year: 29 February is kept and the year is [`Calendar::Leap`]. Any other count is
/// refused. Value `i` belongs to the interval from `i` to `i + 1` h; sun position is evaluated in its middle.
#[derive(Debug, Clone, PartialEq)]
pub struct WeatherYear {
    columns: WeatherColumns,
    calendar: Calendar,
    humidity_ratio: Vec<f64>,
    dew_point_c: Vec<f64>,
    rounded_hours: Vec<RoundedHour>,
}

impl WeatherYear {
    /// Checks the columns and derives humidity ratio and dew point.
    ///
    /// # Errors
    /// Every problem found, in the order of the columns and then of the hours: wrong count, values that are not
    /// finite or not physical ([`Column::allowed`]), dew point above dry bulb beyond the rounding step.
    ///
    /// ```
    /// use drycoil_climate::*;
    /// use drycoil_units::{Angle, Length};
    /// let station = Station {
    ///     name: "Flat year".into(),
    ///     region: None,
    ///     latitude: Angle::degrees(36.1),
    ///     longitude: Angle::degrees(-79.95),
    ///     elevation: Length::metres(273.0),
    ///     utc_offset_hours: -5.0,
    /// };
    /// let flat = |value: f64| vec![value; 8760];
    /// let year = WeatherYear::new(WeatherColumns {
    ///     station,
    ///     format: WeatherFormat::PlainCsv,
    ///     dry_bulb_c: flat(25.0),
    ///     moisture: Moisture::DewPointC(flat(15.0)),
    ///     rounding: DewPointRounding::TENTH_KELVIN,
    ///     pressure_pa: flat(98_000.0),
    ///     wind_speed_m_per_s: flat(3.0),
    ///     wind_direction_deg: flat(270.0),
    ///     global_horizontal_w_per_m2: flat(0.0),
    ///     direct_normal_w_per_m2: flat(0.0),
    ///     diffuse_horizontal_w_per_m2: flat(0.0),
    ///     sky_infrared_w_per_m2: None,
    /// })
    /// .unwrap();
    /// assert_eq!(year.hours(), 8760);
    /// assert!((year.humidity_ratio()[0] - 0.0110).abs() < 1e-4);
    /// ```
    pub fn new(columns: WeatherColumns) -> Result<Self, Vec<ClimateError>> {
        let mut errors = Vec::new();
        let hours = columns.dry_bulb_c.len();
        let calendar = Calendar::from_hours(hours);
        if calendar.is_none() {
            errors.push(ClimateError::HourCount { found: hours });
        }
        let (moisture_column, moisture) = columns.moisture_values();
        let mut all = vec![
            (Column::DryBulb, &columns.dry_bulb_c),
            (moisture_column, moisture),
            (Column::Pressure, &columns.pressure_pa),
            (Column::WindSpeed, &columns.wind_speed_m_per_s),
            (Column::WindDirection, &columns.wind_direction_deg),
            (Column::GlobalHorizontal, &columns.global_horizontal_w_per_m2),
            (Column::DirectNormal, &columns.direct_normal_w_per_m2),
            (Column::DiffuseHorizontal, &columns.diffuse_horizontal_w_per_m2),
        ];
        if let Some(sky) = &columns.sky_infrared_w_per_m2 {
            all.push((Column::SkyInfrared, sky));
        }
        for &(column, values) in &all {
            if values.len() != hours {
                errors.push(ClimateError::ColumnLength { column, found: values.len(), expected: hours });
            }
            let (low, high) = column.allowed();
            for (hour, &value) in values.iter().enumerate() {
                if !value.is_finite() {
                    errors.push(ClimateError::NotFinite { column, hour });
                } else if value < low || value > high {
                    errors.push(ClimateError::OutOfRange { column, hour, value, low, high });
                }
            }
        }
        let (Some(calendar), true) = (calendar, errors.is_empty()) else {
            return Err(errors);
        };
        let mut humidity_ratio = Vec::with_capacity(hours);
        let mut dew_point_c = Vec::with_capacity(hours);
        let mut rounded_hours = Vec::new();
        for (hour, &given) in moisture.iter().enumerate() {
            let (dry_bulb, pressure) = (columns.dry_bulb_c[hour], columns.pressure_pa[hour]);
            let (w, dew_point) = match &columns.moisture {
                Moisture::DewPointC(_) => (air::humidity_ratio_at_dew_point(given, pressure), given),
                Moisture::RelativeHumidity(_) => {
                    let w = air::humidity_ratio_from_relative_humidity(dry_bulb, given, pressure);
                    (w, air::dew_point_c(w, pressure))
                }
                Moisture::HumidityRatio(_) => (given, air::dew_point_c(given, pressure)),
            };
            let (low, high) = Column::DewPoint.allowed();
            if !((low..=high).contains(&dew_point) && w.is_finite()) {
                errors.push(ClimateError::OutOfRange {
                    column: Column::DewPoint,
                    hour,
                    value: dew_point,
                    low,
                    high,
                });
                continue;
            }
            let excess_k = dew_point - dry_bulb;
            // Half a millionth of a kelvin covers the binary form of decimal numbers and the dew-point iteration.
            if excess_k <= 5e-7 {
                humidity_ratio.push(w);
                dew_point_c.push(dew_point);
            } else if excess_k <= columns.rounding.step_k + 5e-7 {
                rounded_hours.push(RoundedHour { hour, excess_k });
                humidity_ratio.push(air::saturation_humidity_ratio(dry_bulb, pressure));
                dew_point_c.push(dry_bulb);
            } else {
                errors.push(ClimateError::DewPointAboveDryBulb {
                    hour,
                    dew_point_c: dew_point,
                    dry_bulb_c: dry_bulb,
                    allowed_k: columns.rounding.step_k,
                });
            }
        }
        if errors.is_empty() {
            Ok(Self { columns, calendar, humidity_ratio, dew_point_c, rounded_hours })
        } else {
            Err(errors)
        }
    }

    /// The place.
    pub const fn station(&self) -> &Station {
        &self.columns.station
    }

    /// The form of the file from which the year was read.
    pub const fn format(&self) -> WeatherFormat {
        self.columns.format
    }

    /// Common or leap year.
    pub const fn calendar(&self) -> Calendar {
        self.calendar
    }

    /// Number of hourly intervals: 8760 or 8784.
    pub const fn hours(&self) -> usize {
        self.calendar.hours()
    }

    /// Start of an interval; `None` past the end.
    pub fn stamp(&self, hour: usize) -> Option<HourStamp> {
        self.calendar.stamp(hour)
    }

    /// Dry-bulb temperature, degC.
    pub fn dry_bulb_c(&self) -> &[f64] {
        &self.columns.dry_bulb_c
    }

    /// Humidity ratio, kg/kg dry air.
    pub fn humidity_ratio(&self) -> &[f64] {
        &self.humidity_ratio
    }

    /// Dew point, degC; over ice below 0 degC.
    pub fn dew_point_c(&self) -> &[f64] {
        &self.dew_point_c
    }

    /// Station pressure, Pa.
    pub fn pressure_pa(&self) -> &[f64] {
        &self.columns.pressure_pa
    }

    /// Wind speed, m/s.
    pub fn wind_speed_m_per_s(&self) -> &[f64] {
        &self.columns.wind_speed_m_per_s
    }

    /// Direction the wind comes from, degrees clockwise from north.
    pub fn wind_direction_deg(&self) -> &[f64] {
        &self.columns.wind_direction_deg
    }

    /// Global horizontal irradiance, W/m2.
    pub fn global_horizontal_w_per_m2(&self) -> &[f64] {
        &self.columns.global_horizontal_w_per_m2
    }

    /// Direct normal irradiance, W/m2.
    pub fn direct_normal_w_per_m2(&self) -> &[f64] {
        &self.columns.direct_normal_w_per_m2
    }

    /// Diffuse horizontal irradiance, W/m2.
    pub fn diffuse_horizontal_w_per_m2(&self) -> &[f64] {
        &self.columns.diffuse_horizontal_w_per_m2
    }

    /// Downward long-wave irradiance, W/m2, when the source gives it.
    pub fn sky_infrared_w_per_m2(&self) -> Option<&[f64]> {
        self.columns.sky_infrared_w_per_m2.as_deref()
    }

    /// Hours that the rounding of the source put above saturation; they are held saturated.
    pub fn rounded_hours(&self) -> &[RoundedHour] {
        &self.rounded_hours
    }

    /// Wet bulb of every hour, degC.
    ///
    /// # Errors
    /// [`ClimateError::MoistAir`] for the first hour without one.
    pub fn wet_bulb_c(&self) -> Result<Vec<f64>, ClimateError> {
        let states = self.dry_bulb_c().iter().zip(&self.humidity_ratio).zip(self.pressure_pa());
        states
            .enumerate()
            .map(|(hour, ((&t, &w), &p))| {
                let wet_bulb = air::wet_bulb_c(t, w, p);
                if wet_bulb.is_finite() {
                    Ok(wet_bulb)
                } else {
                    Err(ClimateError::MoistAir {
                        what: "wet bulb",
                        reason: format!("hour {hour} at {t} degC, {w} kg/kg, {p} Pa has none"),
                    })
                }
            })
            .collect()
    }

    /// Position of the sun in the middle of every interval, without refraction.
    ///
    /// A typical year joins months of several years, so the sun of one nominal year is used throughout: 2023, or 2024
    /// for [`Calendar::Leap`]. Against any other year of its kind the declination differs by at most 0.2 deg.
    ///
    /// # Errors
    /// [`ClimateError::Sun`] when the station's coordinates are out of range.
    pub fn sun_positions(&self) -> Result<Vec<SunPosition>, ClimateError> {
        let station = self.station();
        (1..=12u8)
            .flat_map(|month| (1..=self.calendar.days_in_month(month) as u8).map(move |day| (month, day)))
            .flat_map(|(month, day)| (0..24u8).map(move |hour| (month, day, hour)))
            .map(|(month, day, hour)| station.sun(self.calendar, month, day, f64::from(hour) + 0.5))
            .collect()
    }

    /// Position of the sun in the middle of one interval: that of [`sun_positions`](Self::sun_positions). `None` past the
    /// end of the year.
    ///
    /// # Errors
    /// As there.
    pub fn sun_position(&self, hour: usize) -> Result<Option<SunPosition>, ClimateError> {
        let Some(at) = self.stamp(hour) else { return Ok(None) };
        let middle = f64::from(at.hour) + 0.5;
        self.station().sun(self.calendar, at.month, at.day, middle).map(Some)
    }

    /// A hash of all that the year holds: equal years have equal fingerprints on every machine (FNV-1a, 64 bit).
    pub fn fingerprint(&self) -> u64 {
        let mut hash = Fnv::new();
        let station = &self.columns.station;
        hash.text(&station.name);
        hash.text(station.region.as_deref().unwrap_or(""));
        hash.number(station.latitude.to_degrees());
        hash.number(station.longitude.to_degrees());
        hash.number(station.elevation.to_metres());
        hash.number(station.utc_offset_hours);
        hash.text(&self.columns.format.to_string());
        for values in [
            self.dry_bulb_c(),
            self.humidity_ratio(),
            self.pressure_pa(),
            self.wind_speed_m_per_s(),
            self.wind_direction_deg(),
            self.global_horizontal_w_per_m2(),
            self.direct_normal_w_per_m2(),
            self.diffuse_horizontal_w_per_m2(),
            self.sky_infrared_w_per_m2().unwrap_or(&[]),
        ] {
            hash.number(values.len() as f64);
            for &value in values {
                hash.number(value);
            }
        }
        hash.state
    }
}

impl WeatherColumns {
    fn moisture_values(&self) -> (Column, &Vec<f64>) {
        match &self.moisture {
            Moisture::DewPointC(values) => (Column::DewPoint, values),
            Moisture::RelativeHumidity(values) => (Column::RelativeHumidity, values),
            Moisture::HumidityRatio(values) => (Column::HumidityRatio, values),
        }
    }
}

/// FNV-1a, 64 bit.
struct Fnv {
    state: u64,
}

impl Fnv {
    const fn new() -> Self {
        Self { state: 0xcbf2_9ce4_8422_2325 }
    }

    fn byte(&mut self, byte: u8) {
        self.state = (self.state ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }

    fn text(&mut self, text: &str) {
        text.bytes().for_each(|byte| self.byte(byte));
        self.byte(0xff);
    }

    /// Minus zero counts as zero.
    fn number(&mut self, value: f64) {
        (value + 0.0).to_bits().to_le_bytes().into_iter().for_each(|byte| self.byte(byte));
    }
}
