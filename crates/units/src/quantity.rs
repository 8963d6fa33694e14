//! The quantities.

use crate::kind::{QuantityKind, Unit};
use crate::parse::{UnitError, parse_kind};
use crate::show::{UnitSystem, format_si};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number with a meaning, held in SI (temperatures in degC).
pub trait Quantity: Copy + Sized {
    /// The kind of this quantity.
    const KIND: QuantityKind;
    /// From the SI value.
    fn from_si(value: f64) -> Self;
    /// To the SI value.
    fn si(self) -> f64;
    /// Reads `"55 degF"`.
    fn parse(text: &str) -> Result<Self, UnitError> {
        parse_kind(Self::KIND, text).map(Self::from_si)
    }
    /// Text in the given unit system, with its unit.
    fn show(self, system: UnitSystem) -> String {
        format_si(Self::KIND, self.si(), system)
    }
    /// Value in the unit with this symbol or alias.
    ///
    /// # Panics
    /// When the kind has no such unit (a programming error).
    fn in_unit(self, symbol: &str) -> f64 {
        let unit = Self::KIND.unit(symbol).expect("unit of this kind");
        (self.si() - unit.offset) / unit.factor
    }
}

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident { $($from:ident $to:ident = $unit:literal),* $(,)? })*) => { $(
        $(#[$doc])*
        #[repr(transparent)]
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl Quantity for $name {
            const KIND: QuantityKind = QuantityKind::$name;
            #[inline]
            fn from_si(value: f64) -> Self { Self(value) }
            #[inline]
            fn si(self) -> f64 { self.0 }
        }

        impl $name {
            $(
                #[doc = concat!("From a value in ", $unit, ".")]
                #[inline]
                pub fn $from(value: f64) -> Self {
                    const UNIT: Unit = QuantityKind::$name.declared_unit($unit);
                    Self(value * UNIT.factor + UNIT.offset)
                }
                #[doc = concat!("Value in ", $unit, ".")]
                #[inline]
                pub fn $to(self) -> f64 {
                    const UNIT: Unit = QuantityKind::$name.declared_unit($unit);
                    (self.0 - UNIT.offset) / UNIT.factor
                }
            )*
        }
    )* };
}

quantity! {
    /// A point on a temperature scale; held in degC.
    Temperature { celsius to_celsius = "degC", fahrenheit to_fahrenheit = "degF", kelvin to_kelvin = "K" }
    /// A distance between two temperatures; held in K.
    TemperatureDifference { kelvin to_kelvin = "K", fahrenheit to_fahrenheit = "degF" }
    /// kg of water vapour per kg of dry air.
    HumidityRatio { kg_per_kg to_kg_per_kg = "kg/kg", grains_per_pound to_grains_per_pound = "gr/lb" }
    /// A share of one.
    Fraction { ratio to_ratio = "1", percent to_percent = "%" }
    /// Absolute pressure; held in Pa.
    Pressure { pascals to_pascals = "Pa", psia to_psia = "psia" }
    /// Difference of pressure; held in Pa.
    PressureDifference { pascals to_pascals = "Pa", inches_of_water to_inches_of_water = "in wg" }
    /// J per kg of dry air (moist air) or per kg of fluid.
    SpecificEnthalpy { joules_per_kg to_joules_per_kg = "J/kg", btu_per_lb to_btu_per_lb = "Btu/lb" }
    /// Heat flow or work rate; held in W.
    Power { watts to_watts = "W", btu_per_hour to_btu_per_hour = "Btu/h", tons to_tons = "ton" }
    /// Energy; held in J.
    Energy { joules to_joules = "J", kilowatt_hours to_kilowatt_hours = "kWh" }
    /// Length; held in m.
    Length { metres to_metres = "m", feet to_feet = "ft", inches to_inches = "in" }
    /// Area; held in m2.
    Area { square_metres to_square_metres = "m2", square_feet to_square_feet = "ft2" }
    /// Volume; held in m3.
    Volume { cubic_metres to_cubic_metres = "m3", cubic_feet to_cubic_feet = "ft3" }
    /// Mass; held in kg.
    Mass { kilograms to_kilograms = "kg" }
    /// Speed; held in m/s.
    Velocity { metres_per_second to_metres_per_second = "m/s", feet_per_minute to_feet_per_minute = "fpm" }
    /// Standard air flow, m3/s: dry-air mass flow over the density of standard air.
    StandardAirFlow { m3_per_s to_m3_per_s = "m3/s", cfm to_cfm = "cfm", litres_per_second to_litres_per_second = "L/s" }
    /// Volume flow of air at a named state, m3/s.
    ActualAirFlow { m3_per_s to_m3_per_s = "m3/s", acfm to_acfm = "acfm" }
    /// Standard air flow per area, m3/(s m2).
    StandardAirFlowPerArea { m_per_s to_m_per_s = "m3/s m2", cfm_per_ft2 to_cfm_per_ft2 = "cfm/ft2" }
    /// Volume flow of water, m3/s.
    WaterFlow { m3_per_s to_m3_per_s = "m3/s", gpm to_gpm = "gpm", litres_per_second to_litres_per_second = "L/s" }
    /// Mass flow, kg/s. Of dry air where the name of the field says so.
    MassFlow { kg_per_s to_kg_per_s = "kg/s", lb_per_hour to_lb_per_hour = "lb/h" }
    /// Power per area, W/m2.
    HeatFlux { w_per_m2 to_w_per_m2 = "W/m2", w_per_ft2 to_w_per_ft2 = "W/ft2" }
    /// Thermal transmittance or film coefficient, W/(m2 K).
    ThermalTransmittance { w_per_m2_k to_w_per_m2_k = "W/m2K" }
    /// Thermal resistance of an area, m2 K/W.
    ThermalResistance { m2_k_per_w to_m2_k_per_w = "m2K/W" }
    /// Thermal conductivity, W/(m K).
    Conductivity { w_per_m_k to_w_per_m_k = "W/mK" }
    /// Density, kg/m3.
    Density { kg_per_m3 to_kg_per_m3 = "kg/m3" }
    /// Specific heat, J/(kg K).
    SpecificHeat { j_per_kg_k to_j_per_kg_k = "J/kgK" }
    /// Heat flow per temperature difference, W/K.
    Conductance { w_per_k to_w_per_k = "W/K" }
    /// Plane angle, held in degrees.
    Angle { degrees to_degrees = "deg", radians to_radians = "rad" }
    /// Time; held in s.
    Time { seconds to_seconds = "s", hours to_hours = "h" }
    /// Room volumes of air per hour.
    AirChangesPerHour { per_hour to_per_hour = "1/h" }
    /// Fan power per air flow, W per m3/s.
    SpecificFanPower { w_per_m3_per_s to_w_per_m3_per_s = "W/(m3/s)", w_per_cfm to_w_per_cfm = "W/cfm" }
    /// Price of energy, currency per J.
    EnergyPrice { per_joule to_per_joule = "per J", per_kwh to_per_kwh = "per kWh" }
}

macro_rules! linear {
    ($($name:ident)*) => { $(
        impl Add for $name { type Output = Self; #[inline] fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl Sub for $name { type Output = Self; #[inline] fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl Neg for $name { type Output = Self; #[inline] fn neg(self) -> Self { Self(-self.0) } }
        impl Mul<f64> for $name { type Output = Self; #[inline] fn mul(self, o: f64) -> Self { Self(self.0 * o) } }
        impl Div<f64> for $name { type Output = Self; #[inline] fn div(self, o: f64) -> Self { Self(self.0 / o) } }
        impl Div<$name> for $name { type Output = f64; #[inline] fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(it: I) -> Self { Self(it.map(|x| x.0).sum()) } }
    )* };
}

linear! {
    TemperatureDifference HumidityRatio Fraction PressureDifference SpecificEnthalpy Power Energy Length Area Volume
    Mass Velocity StandardAirFlow ActualAirFlow WaterFlow MassFlow HeatFlux Conductance Time
}

impl Sub for Temperature {
    type Output = TemperatureDifference;
    #[inline]
    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference(self.0 - other.0)
    }
}

impl Add<TemperatureDifference> for Temperature {
    type Output = Self;
    #[inline]
    fn add(self, other: TemperatureDifference) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub<TemperatureDifference> for Temperature {
    type Output = Self;
    #[inline]
    fn sub(self, other: TemperatureDifference) -> Self {
        Self(self.0 - other.0)
    }
}

impl Mul<TemperatureDifference> for Conductance {
    type Output = Power;
    #[inline]
    fn mul(self, other: TemperatureDifference) -> Power {
        Power(self.0 * other.0)
    }
}

impl Mul<Area> for HeatFlux {
    type Output = Power;
    #[inline]
    fn mul(self, other: Area) -> Power {
        Power(self.0 * other.0)
    }
}

impl Mul<Area> for StandardAirFlowPerArea {
    type Output = StandardAirFlow;
    #[inline]
    fn mul(self, other: Area) -> StandardAirFlow {
        StandardAirFlow(self.0 * other.0)
    }
}

impl Mul<Area> for ThermalTransmittance {
    type Output = Conductance;
    #[inline]
    fn mul(self, other: Area) -> Conductance {
        Conductance(self.0 * other.0)
    }
}

impl StandardAirFlow {
    /// Mass flow of dry air.
    #[inline]
    pub fn dry_air_mass_flow(self) -> MassFlow {
        MassFlow(self.0 * crate::STANDARD_AIR_DENSITY_KG_PER_M3)
    }
}

impl MassFlow {
    /// Standard air flow that carries this much dry air.
    #[inline]
    pub fn as_dry_air_to_standard_flow(self) -> StandardAirFlow {
        StandardAirFlow(self.0 / crate::STANDARD_AIR_DENSITY_KG_PER_M3)
    }
}
