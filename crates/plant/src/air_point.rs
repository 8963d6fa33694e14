//! A state of moist air at a known pressure, as the machine models pass it on.

use crate::error::{PlantError, within};
use drycoil_air::raw;
use drycoil_units::{HumidityRatio, Pressure, Quantity, SpecificEnthalpy, SpecificHeat, Temperature};

/// Specific heat of liquid water that leaves a coil, J/(kg K).
pub(crate) const CP_LIQUID: f64 = 4186.0;

/// Dry bulb and humidity ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirPoint {
    /// Dry bulb.
    pub dry_bulb: Temperature,
    /// Humidity ratio.
    pub humidity_ratio: HumidityRatio,
}

impl AirPoint {
    /// From dry bulb and humidity ratio.
    pub fn new(dry_bulb: Temperature, humidity_ratio: HumidityRatio) -> Self {
        Self { dry_bulb, humidity_ratio }
    }

    pub(crate) fn raw(t_c: f64, w: f64) -> Self {
        Self { dry_bulb: Temperature::from_si(t_c), humidity_ratio: HumidityRatio::from_si(w) }
    }

    pub(crate) fn t(self) -> f64 {
        self.dry_bulb.si()
    }

    pub(crate) fn w(self) -> f64 {
        self.humidity_ratio.si()
    }

    pub(crate) fn h(self) -> f64 {
        raw::enthalpy_j_per_kg(self.t(), self.w())
    }

    pub(crate) fn cp(self) -> f64 {
        raw::humid_specific_heat_j_per_kg_k(self.w())
    }

    /// Enthalpy per mass of dry air.
    pub fn enthalpy(self) -> SpecificEnthalpy {
        SpecificEnthalpy::from_si(self.h())
    }

    /// Specific heat per mass of dry air.
    pub fn specific_heat(self) -> SpecificHeat {
        SpecificHeat::from_si(self.cp())
    }

    /// Dew point at a pressure.
    pub fn dew_point(self, pressure: Pressure) -> Temperature {
        Temperature::from_si(raw::dew_point_c(self.w(), pressure.si()))
    }

    /// Refuses a state outside -60 to 90 degC, without vapour, or above saturation.
    pub(crate) fn check(self, quantity: &'static str, pressure_pa: f64) -> Result<Self, PlantError> {
        within("dry bulb in degC", self.t(), -60.0, 90.0)?;
        let saturated = raw::saturation_humidity_ratio(self.t(), pressure_pa);
        within(quantity, self.w(), 1e-7, saturated * (1.0 + 1e-6))?;
        Ok(self)
    }

    pub(crate) fn is_fog(self, pressure_pa: f64) -> bool {
        self.w() > raw::saturation_humidity_ratio(self.t(), pressure_pa) * (1.0 + 1e-6)
    }
}

/// Refuses a barometric pressure outside the moist-air range.
pub(crate) fn barometric(pressure: Pressure) -> Result<f64, PlantError> {
    within("barometric pressure in Pa", pressure.si(), 60e3, 108e3)
}
