//! Why a state is refused.

use crate::range::ValidRange;
use crate::raw::DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG;
use drycoil_units::{QuantityKind as K, UnitSystem};
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

impl AirError {
    /// The message with its values in a unit system; lower case, no final stop.
    pub fn describe(&self, system: UnitSystem) -> String {
        let t = |c: f64| format!("{:.2} {}", system.value(K::Temperature, c), system.symbol(K::Temperature));
        let w =
            |w: f64| format!("{:.3} {}", system.value(K::HumidityRatio, w), system.symbol(K::HumidityRatio));
        let p = |pa: f64| format!("{:.3} {}", system.value(K::Pressure, pa), system.symbol(K::Pressure));
        let h = |j: f64| {
            let datum = match system {
                UnitSystem::Si => 0.0,
                UnitSystem::Ip => DRY_AIR_ENTHALPY_AT_32_F_FROM_0_F_J_PER_KG,
            };
            format!(
                "{:.2} {}",
                system.value(K::SpecificEnthalpy, j + datum),
                system.symbol(K::SpecificEnthalpy)
            )
        };
        match *self {
            Self::OutOfRange { range, value } => {
                let show = |si: f64| match range.kind {
                    K::Temperature => t(si),
                    K::HumidityRatio => w(si),
                    K::Pressure => p(si),
                    K::SpecificEnthalpy => h(si),
                    kind => format!("{:.1} {}", system.value(kind, si), system.symbol(kind)),
                };
                let allowed = format!("{} to {}", show(range.low), show(range.high));
                let name = range.quantity;
                if value == f64::INFINITY {
                    format!(
                        "the {name} that goes with these values is above the range of the equations, {allowed}"
                    )
                } else if value == f64::NEG_INFINITY {
                    format!(
                        "the {name} that goes with these values is below the range of the equations, {allowed}"
                    )
                } else {
                    format!("{name} {} is outside the range of the equations, {allowed}", show(value))
                }
            }
            Self::DewPointAboveDryBulb { dew_point_c, dry_bulb_c } => format!(
                "dew point {} is above dry bulb {}; at most equal is possible",
                t(dew_point_c),
                t(dry_bulb_c)
            ),
            Self::WetBulbAboveDryBulb { wet_bulb_c, dry_bulb_c } => format!(
                "wet bulb {} is above dry bulb {}; at most equal is possible",
                t(wet_bulb_c),
                t(dry_bulb_c)
            ),
            Self::DewPointAboveWetBulb { dew_point_c, wet_bulb_c } => format!(
                "dew point {} is above wet bulb {}; at most equal is possible",
                t(dew_point_c),
                t(wet_bulb_c)
            ),
            Self::WetBulbBelowDryAir { wet_bulb_c, dry_bulb_c, lowest_c } => format!(
                "wet bulb {} is below that of completely dry air at dry bulb {}, which is {}",
                t(wet_bulb_c),
                t(dry_bulb_c),
                t(lowest_c)
            ),
            Self::AboveSaturation { humidity_ratio, saturation, dry_bulb_c } => format!(
                "humidity ratio {} is above saturation at {}, which is {}",
                w(humidity_ratio),
                t(dry_bulb_c),
                w(saturation)
            ),
            Self::VapourReachesPressure { vapour_pressure_pa, pressure_pa } => format!(
                "the vapour pressure {} would reach the air pressure {}; it must stay below",
                p(vapour_pressure_pa),
                p(pressure_pa)
            ),
            Self::EnthalpyOutOfReach { enthalpy_j_per_kg, low_j_per_kg, high_j_per_kg } => format!(
                "enthalpy {} cannot occur with the other property; possible are {} to {}",
                h(enthalpy_j_per_kg),
                h(low_j_per_kg),
                h(high_j_per_kg)
            ),
            Self::SameProperty { property } => {
                format!("{} is given twice; two different properties fix a state", property.label())
            }
            Self::NotIndependent { first, second, reason } => {
                format!("{} and {} do not fix a state: {reason}", first.label(), second.label())
            }
            Self::NoDewPoint { humidity_ratio } => format!(
                "air with humidity ratio {humidity_ratio:e} kg/kg has no dew point at or above {}, where the published \
                 equation ends",
                t(ValidRange::DEW_POINT.low)
            ),
            Self::DifferentPressures { first_pa, second_pa } => {
                format!("streams at {} and {} do not mix at constant pressure", p(first_pa), p(second_pa))
            }
            Self::BadFlow { dry_air_kg_per_s } => format!(
                "dry-air mass flow {dry_air_kg_per_s} kg/s must be finite and not negative, and the sum above zero"
            ),
            Self::NotConverged { what, residual, iterations } => {
                format!(
                    "{} was not found: residual {residual:e} after {iterations} evaluations",
                    what.label()
                )
            }
        }
    }
}

impl fmt::Display for AirError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.describe(UnitSystem::Si))
    }
}

impl std::error::Error for AirError {}
