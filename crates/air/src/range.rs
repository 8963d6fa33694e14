//! The range in which the equations are used, as data.

use crate::AirError;

/// A closed range of one quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValidRange {
    /// The field's name of the quantity.
    pub quantity: &'static str,
    /// Unit of `low` and `high`.
    pub unit: &'static str,
    /// Lowest value allowed.
    pub low: f64,
    /// Highest value allowed.
    pub high: f64,
}

impl ValidRange {
    /// Dry bulb and wet bulb. ASHRAE Fundamentals tabulates -60 to 90 degC.
    pub const DRY_BULB: Self = Self { quantity: "dry bulb", unit: "degC", low: -60.0, high: 90.0 };
    /// Wet bulb: up to the highest dry bulb; below the lowest by the depression of dry air at -60 degC.
    pub const WET_BULB: Self = Self { quantity: "wet bulb", unit: "degC", low: -65.0, high: 90.0 };
    /// Dew point; below 0.01 degC the frost point. The equation over ice is published down to -100 degC.
    pub const DEW_POINT: Self = Self { quantity: "dew point", unit: "degC", low: -100.0, high: 90.0 };
    /// Relative humidity as a share of one.
    pub const RELATIVE_HUMIDITY: Self =
        Self { quantity: "relative humidity", unit: "1", low: 0.0, high: 1.0 };
    /// Humidity ratio. Our own limit: above it nearly all is steam and the equations for air lose their meaning.
    pub const HUMIDITY_RATIO: Self = Self { quantity: "humidity ratio", unit: "kg/kg", low: 0.0, high: 10.0 };
    /// Absolute pressure: about 4 200 m above to 540 m below sea level.
    pub const PRESSURE: Self = Self { quantity: "absolute pressure", unit: "Pa", low: 60e3, high: 108e3 };
    /// Elevation that goes with [`ValidRange::PRESSURE`] in the standard atmosphere, rounded inwards.
    pub const ELEVATION: Self = Self { quantity: "elevation", unit: "m", low: -530.0, high: 4200.0 };

    /// The value, or the error that names value, unit and range. Not-a-number is outside every range.
    pub fn check(self, value: f64) -> Result<f64, AirError> {
        if value >= self.low && value <= self.high {
            Ok(value)
        } else {
            Err(AirError::OutOfRange { range: self, value })
        }
    }
}
