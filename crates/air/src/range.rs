//! The range in which the equations are used, as data.

use crate::AirError;
use drycoil_units::QuantityKind;

/// A closed range of one quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValidRange {
    /// The field's name of the quantity.
    pub quantity: &'static str,
    /// Kind of the quantity; `low` and `high` are in its SI unit.
    pub kind: QuantityKind,
    /// Lowest value allowed.
    pub low: f64,
    /// Highest value allowed.
    pub high: f64,
}

impl ValidRange {
    /// Dry bulb and wet bulb. ASHRAE Fundamentals tabulates -60 to 90 degC.
    pub const DRY_BULB: Self =
        Self { quantity: "dry bulb", kind: QuantityKind::Temperature, low: -60.0, high: 90.0 };
    /// Wet bulb: up to the highest dry bulb; below the lowest by the depression of dry air at -60 degC.
    pub const WET_BULB: Self =
        Self { quantity: "wet bulb", kind: QuantityKind::Temperature, low: -65.0, high: 90.0 };
    /// Dew point; below 0.01 degC the frost point. The equation over ice is published down to -100 degC.
    pub const DEW_POINT: Self =
        Self { quantity: "dew point", kind: QuantityKind::Temperature, low: -100.0, high: 90.0 };
    /// Relative humidity as a share of one.
    pub const RELATIVE_HUMIDITY: Self =
        Self { quantity: "relative humidity", kind: QuantityKind::Fraction, low: 0.0, high: 1.0 };
    /// Humidity ratio. Our own limit: above it nearly all is steam and the equations for air lose their meaning.
    pub const HUMIDITY_RATIO: Self =
        Self { quantity: "humidity ratio", kind: QuantityKind::HumidityRatio, low: 0.0, high: 10.0 };
    /// Absolute pressure: about 4 200 m above to 540 m below sea level.
    pub const PRESSURE: Self =
        Self { quantity: "absolute pressure", kind: QuantityKind::Pressure, low: 60e3, high: 108e3 };
    /// Elevation that goes with [`ValidRange::PRESSURE`] in the standard atmosphere, rounded inwards.
    pub const ELEVATION: Self =
        Self { quantity: "elevation", kind: QuantityKind::Length, low: -530.0, high: 4200.0 };

    /// Enthalpy: from dry air at the lowest dry bulb to the limit of the humidity ratio at the highest.
    pub const ENTHALPY: Self =
        Self { quantity: "enthalpy", kind: QuantityKind::SpecificEnthalpy, low: -61e3, high: 27e6 };

    /// Symbol of the SI unit of `low` and `high`.
    pub fn unit(self) -> &'static str {
        self.kind.units()[0].symbol
    }

    /// The value, or the error that names value, unit and range. Not-a-number is outside every range.
    pub fn check(self, value: f64) -> Result<f64, AirError> {
        if value >= self.low && value <= self.high {
            Ok(value)
        } else {
            Err(AirError::OutOfRange { range: self, value })
        }
    }
}
