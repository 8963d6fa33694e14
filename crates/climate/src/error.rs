//! What can be wrong with a weather year or with what is asked of it.

use std::fmt;

/// A column of a weather year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Column {
    /// Dry-bulb temperature, degC.
    DryBulb,
    /// Dew-point temperature, degC.
    DewPoint,
    /// Relative humidity, share of one; relative to ice below 0 degC.
    RelativeHumidity,
    /// Humidity ratio, kg/kg dry air.
    HumidityRatio,
    /// Station pressure, Pa.
    Pressure,
    /// Wind speed, m/s.
    WindSpeed,
    /// Direction the wind comes from, degrees clockwise from north.
    WindDirection,
    /// Global horizontal irradiance, W/m2.
    GlobalHorizontal,
    /// Direct normal irradiance, W/m2.
    DirectNormal,
    /// Diffuse horizontal irradiance, W/m2.
    DiffuseHorizontal,
    /// Downward long-wave irradiance, W/m2.
    SkyInfrared,
}

impl Column {
    /// Symbol of the unit in which the column is held.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::DryBulb | Self::DewPoint => "degC",
            Self::RelativeHumidity => "(share of one)",
            Self::HumidityRatio => "kg/kg",
            Self::Pressure => "Pa",
            Self::WindSpeed => "m/s",
            Self::WindDirection => "deg",
            Self::GlobalHorizontal | Self::DirectNormal | Self::DiffuseHorizontal | Self::SkyInfrared => {
                "W/m2"
            }
        }
    }

    /// Lowest and highest value that is taken as physical, in the column's unit.
    ///
    /// Temperatures, pressures: the range of the moist-air formulation, narrowed to what has been measured near
    /// the ground. Irradiance: an hourly mean above these has no physical cause; direct normal is bounded by the
    /// solar constant at perihelion.
    pub const fn allowed(self) -> (f64, f64) {
        match self {
            Self::DryBulb => (-60.0, 60.0),
            Self::DewPoint => (-60.0, 40.0),
            Self::RelativeHumidity => (0.001, 1.0),
            Self::HumidityRatio => (5e-6, 0.05),
            Self::Pressure => (60_000.0, 108_000.0),
            Self::WindSpeed => (0.0, 115.0),
            Self::WindDirection => (0.0, 360.0),
            Self::GlobalHorizontal => (0.0, 1500.0),
            Self::DirectNormal => (0.0, 1420.0),
            Self::DiffuseHorizontal => (0.0, 1000.0),
            Self::SkyInfrared => (40.0, 700.0),
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::DryBulb => "dry bulb",
            Self::DewPoint => "dew point",
            Self::RelativeHumidity => "relative humidity",
            Self::HumidityRatio => "humidity ratio",
            Self::Pressure => "pressure",
            Self::WindSpeed => "wind speed",
            Self::WindDirection => "wind direction",
            Self::GlobalHorizontal => "global horizontal irradiance",
            Self::DirectNormal => "direct normal irradiance",
            Self::DiffuseHorizontal => "diffuse horizontal irradiance",
            Self::SkyInfrared => "sky infrared irradiance",
        })
    }
}

/// What is wrong with a weather year, or with what is asked of it.
///
/// `hour` is the index of the interval, 0 for 1 January 00:00 to 01:00 local standard time.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimateError {
    /// The year has neither 8760 nor 8784 hours.
    HourCount {
        /// Hours found.
        found: usize,
    },
    /// A column is longer or shorter than the dry-bulb column.
    ColumnLength {
        /// The column.
        column: Column,
        /// Its length.
        found: usize,
        /// Length of the dry-bulb column.
        expected: usize,
    },
    /// A value is not a number or is infinite.
    NotFinite {
        /// The column.
        column: Column,
        /// Index of the hour.
        hour: usize,
    },
    /// A value lies outside what is physical.
    OutOfRange {
        /// The column.
        column: Column,
        /// Index of the hour.
        hour: usize,
        /// The value, in the column's unit.
        value: f64,
        /// Lowest allowed value.
        low: f64,
        /// Highest allowed value.
        high: f64,
    },
    /// Air cannot hold this much moisture: the dew point lies above the dry bulb by more than rounding explains.
    DewPointAboveDryBulb {
        /// Index of the hour.
        hour: usize,
        /// Dew point, degC.
        dew_point_c: f64,
        /// Dry bulb, degC.
        dry_bulb_c: f64,
        /// Excess that rounding explains, K.
        allowed_k: f64,
    },
    /// The stated rounding step of the temperatures is not above 0 and at most 1 K.
    RoundingStep {
        /// The stated step, K.
        value_k: f64,
    },
    /// A setting is outside its range.
    Setting {
        /// What the setting is.
        name: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed.
        allowed: &'static str,
    },
    /// Moist air cannot be computed for a state.
    MoistAir {
        /// What was asked.
        what: &'static str,
        /// The reason.
        reason: String,
    },
    /// Two design values contradict each other.
    Contradiction {
        /// The value that must be the higher one.
        higher: String,
        /// The value that must be the lower one.
        lower: String,
    },
    /// The sun or sky could not be computed.
    Sun {
        /// The reason.
        reason: String,
    },
    /// The year holds no day from which the value could be derived.
    NoSuchDay {
        /// What was looked for.
        what: &'static str,
        /// Month, 1 to 12.
        month: u8,
    },
}

impl fmt::Display for ClimateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HourCount { found } => {
                write!(f, "a weather year has 8760 hours, or 8784 with 29 February; found {found}")
            }
            Self::ColumnLength { column, found, expected } => {
                write!(f, "{column} has {found} values where dry bulb has {expected}")
            }
            Self::NotFinite { column, hour } => {
                write!(f, "{column} of hour {hour} is not a finite number of {}", column.unit())
            }
            Self::OutOfRange { column, hour, value, low, high } => write!(
                f,
                "{column} {value} {unit} of hour {hour} is outside {low} to {high} {unit}",
                unit = column.unit()
            ),
            Self::DewPointAboveDryBulb { hour, dew_point_c, dry_bulb_c, allowed_k } => write!(
                f,
                "dew point {dew_point_c} degC of hour {hour} is above dry bulb {dry_bulb_c} degC by more than the \
                 {allowed_k} K that rounding explains"
            ),
            Self::RoundingStep { value_k } => {
                write!(f, "rounding step {value_k} K is outside 0 (excluded) to 1 K")
            }
            Self::Setting { name, value, allowed } => write!(f, "{name} {value} is outside {allowed}"),
            Self::MoistAir { what, reason } => write!(f, "{what}: {reason}"),
            Self::Contradiction { higher, lower } => write!(f, "{lower} is above {higher}"),
            Self::Sun { reason } => f.write_str(reason),
            Self::NoSuchDay { what, month } => write!(f, "no {what} in month {month}"),
        }
    }
}

impl std::error::Error for ClimateError {}
