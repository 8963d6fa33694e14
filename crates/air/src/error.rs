//! Why a state is refused.

use crate::range::ValidRange;
use std::fmt;

/// A property that may be given for a state, without its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PropertyKind {
    /// Dry-bulb temperature.
    DryBulb,
    /// Thermodynamic wet-bulb temperature.
    WetBulb,
    /// Dew-point temperature.
    DewPoint,
    /// Relative humidity.
    RelativeHumidity,
    /// Humidity ratio.
    HumidityRatio,
    /// Enthalpy.
    Enthalpy,
}

impl PropertyKind {
    /// The field's name.
    pub const fn label(self) -> &'static str {
        match self {
            Self::DryBulb => "dry bulb",
            Self::WetBulb => "wet bulb",
            Self::DewPoint => "dew point",
            Self::RelativeHumidity => "relative humidity",
            Self::HumidityRatio => "humidity ratio",
            Self::Enthalpy => "enthalpy",
        }
    }
}

/// Why there is no such moist air, or no answer. Nothing is repaired.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirError {
    /// Outside the range of the equations.
    OutOfRange {
        /// The range with its quantity and unit.
        range: ValidRange,
        /// The offending value.
        value: f64,
    },
    /// Dew point above dry bulb.
    DewPointAboveDryBulb {
        /// Dew point, degC.
        dew_point_c: f64,
        /// Dry bulb, degC.
        dry_bulb_c: f64,
    },
    /// Wet bulb above dry bulb.
    WetBulbAboveDryBulb {
        /// Wet bulb, degC.
        wet_bulb_c: f64,
        /// Dry bulb, degC.
        dry_bulb_c: f64,
    },
    /// Dew point above wet bulb.
    DewPointAboveWetBulb {
        /// Dew point, degC.
        dew_point_c: f64,
        /// Wet bulb, degC.
        wet_bulb_c: f64,
    },
    /// Wet bulb below that of completely dry air at this dry bulb.
    WetBulbBelowDryAir {
        /// Wet bulb, degC.
        wet_bulb_c: f64,
        /// Dry bulb, degC.
        dry_bulb_c: f64,
        /// Wet bulb of dry air, degC.
        lowest_c: f64,
    },
    /// Humidity ratio above saturation: fog, not moist air.
    AboveSaturation {
        /// Humidity ratio, kg/kg.
        humidity_ratio: f64,
        /// Saturation humidity ratio, kg/kg.
        saturation: f64,
        /// Dry bulb, degC.
        dry_bulb_c: f64,
    },
    /// The vapour pressure would reach the air pressure.
    VapourReachesPressure {
        /// Vapour pressure, Pa.
        vapour_pressure_pa: f64,
        /// Air pressure, Pa.
        pressure_pa: f64,
    },
    /// No state within range has this enthalpy together with the other property.
    EnthalpyOutOfReach {
        /// Enthalpy, J per kg of dry air.
        enthalpy_j_per_kg: f64,
        /// Lowest reachable, J per kg of dry air.
        low_j_per_kg: f64,
        /// Highest reachable, J per kg of dry air.
        high_j_per_kg: f64,
    },
    /// The same property twice.
    SameProperty {
        /// The property.
        property: PropertyKind,
    },
    /// Two properties that say the same, or nearly the same.
    NotIndependent {
        /// First property.
        first: PropertyKind,
        /// Second property.
        second: PropertyKind,
        /// Why they do not fix a state.
        reason: &'static str,
    },
    /// Dry air has no dew point, and very dry air none above the end of the equation over ice.
    NoDewPoint {
        /// Humidity ratio, kg/kg.
        humidity_ratio: f64,
    },
    /// Two streams at different pressures cannot be mixed at constant pressure.
    DifferentPressures {
        /// First pressure, Pa.
        first_pa: f64,
        /// Second pressure, Pa.
        second_pa: f64,
    },
    /// A mass flow that is negative, not finite, or zero in sum.
    BadFlow {
        /// Dry-air mass flow, kg/s.
        dry_air_kg_per_s: f64,
    },
    /// An iteration did not reach its residual.
    NotConverged {
        /// What was solved for.
        what: PropertyKind,
        /// What is left of the equation.
        residual: f64,
        /// Evaluations spent.
        iterations: u32,
    },
}

impl fmt::Display for AirError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::OutOfRange { range, value } => write!(
                f,
                "{} {value} {} is outside the range of the equations, {} to {} {}",
                range.quantity, range.unit, range.low, range.high, range.unit
            ),
            Self::DewPointAboveDryBulb { dew_point_c, dry_bulb_c } => {
                write!(
                    f,
                    "dew point {dew_point_c:.3} degC is above dry bulb {dry_bulb_c:.3} degC; at most equal is possible"
                )
            }
            Self::WetBulbAboveDryBulb { wet_bulb_c, dry_bulb_c } => {
                write!(
                    f,
                    "wet bulb {wet_bulb_c:.3} degC is above dry bulb {dry_bulb_c:.3} degC; at most equal is possible"
                )
            }
            Self::DewPointAboveWetBulb { dew_point_c, wet_bulb_c } => {
                write!(
                    f,
                    "dew point {dew_point_c:.3} degC is above wet bulb {wet_bulb_c:.3} degC; at most equal is possible"
                )
            }
            Self::WetBulbBelowDryAir { wet_bulb_c, dry_bulb_c, lowest_c } => write!(
                f,
                "wet bulb {wet_bulb_c:.3} degC is below that of dry air at dry bulb {dry_bulb_c:.3} degC, {lowest_c:.3} degC"
            ),
            Self::AboveSaturation { humidity_ratio, saturation, dry_bulb_c } => write!(
                f,
                "humidity ratio {humidity_ratio:.6} kg/kg is above saturation at dry bulb {dry_bulb_c:.3} degC, {saturation:.6} kg/kg"
            ),
            Self::VapourReachesPressure { vapour_pressure_pa, pressure_pa } => write!(
                f,
                "vapour pressure {vapour_pressure_pa:.0} Pa would reach the air pressure {pressure_pa:.0} Pa; it must stay below"
            ),
            Self::EnthalpyOutOfReach { enthalpy_j_per_kg, low_j_per_kg, high_j_per_kg } => write!(
                f,
                "enthalpy {:.3} kJ/kg cannot occur with the other property; possible are {:.3} to {:.3} kJ/kg",
                enthalpy_j_per_kg / 1e3,
                low_j_per_kg / 1e3,
                high_j_per_kg / 1e3
            ),
            Self::SameProperty { property } => {
                write!(f, "{} is given twice; two different properties fix a state", property.label())
            }
            Self::NotIndependent { first, second, reason } => {
                write!(f, "{} and {} do not fix a state: {reason}", first.label(), second.label())
            }
            Self::NoDewPoint { humidity_ratio } => write!(
                f,
                "humidity ratio {humidity_ratio:e} kg/kg has no dew point at or above {} degC, the end of the published equation",
                ValidRange::DEW_POINT.low
            ),
            Self::DifferentPressures { first_pa, second_pa } => {
                write!(f, "streams at {first_pa:.0} Pa and {second_pa:.0} Pa do not mix at constant pressure")
            }
            Self::BadFlow { dry_air_kg_per_s } => {
                write!(
                    f,
                    "dry-air mass flow {dry_air_kg_per_s} kg/s must be finite and not negative, and the sum above zero"
                )
            }
            Self::NotConverged { what, residual, iterations } => {
                write!(
                    f,
                    "{} was not found: residual {residual:e} after {iterations} evaluations",
                    what.label()
                )
            }
        }
    }
}

impl std::error::Error for AirError {}
