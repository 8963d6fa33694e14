//! Physical quantities as SI newtypes, and the one table of units that text may use.
//!
//! Inside the program every quantity is an SI number behind a type that names its meaning; units appear only
//! where text enters or leaves. A bare number is refused: `"55 degF"` is a temperature, `"55"` is an error that
//! lists the units that would have been accepted.
//!
//! ```
//! use drycoil_units::{Quantity, Temperature};
//! let t = Temperature::parse("55 degF").unwrap();
//! assert!((t.to_celsius() - 12.777_777_778).abs() < 1e-6);
//! assert!(Temperature::parse("55").is_err());
//! ```
//!
//! A temperature and a temperature difference are different types, so that 10 degF is never added to 10 K by
//! accident:
//!
//! ```compile_fail
//! use drycoil_units::Temperature;
//! let sum = Temperature::celsius(20.0) + Temperature::celsius(5.0);
//! ```

mod kind;
mod parse;
mod quantity;
mod show;

pub use kind::{QuantityKind, Unit};
pub use parse::{AirFlowBasis, UnitError, parse_air_flow, parse_kind, parse_number, split_title};
pub use quantity::{
    ActualAirFlow, AirChangesPerHour, Angle, Area, Conductance, Conductivity, Density, Energy, EnergyPrice,
    Fraction, HeatFlux, HumidityRatio, Length, Mass, MassFlow, Power, Pressure, PressureDifference, Quantity,
    SpecificEnthalpy, SpecificFanPower, SpecificHeat, StandardAirFlow, StandardAirFlowPerArea, Temperature,
    TemperatureDifference, ThermalResistance, ThermalTransmittance, Time, Velocity, Volume, WaterFlow,
};
pub use show::{UnitSystem, fixed, format_si, significant};

/// Density of standard air, kg of dry air per m3: 0.075 lb/ft3, one constant for both unit systems.
pub const STANDARD_AIR_DENSITY_KG_PER_M3: f64 = 0.075 * 0.453_592_37 / (0.3048 * 0.3048 * 0.3048);

/// Pressure of the standard atmosphere at sea level, Pa.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

/// Standard acceleration of gravity, m/s2.
pub const GRAVITY_M_PER_S2: f64 = 9.806_65;
