//! A state of moist air at a known pressure, as the machine models pass it on.
//!
//! The type is that of the exchangers ([`AirPoint`]): dry bulb and humidity ratio, enthalpy on demand.

use crate::error::{PlantError, within};
use drycoil_air::raw;
pub use drycoil_exchange::bypass::AirPoint;
use drycoil_units::{HumidityRatio, Pressure, Quantity, Temperature};

/// Dew point of an air state at a pressure.
pub fn dew_point(point: AirPoint, pressure: Pressure) -> Temperature {
    Temperature::from_si(raw::dew_point_c(point.humidity_ratio.si(), pressure.si()))
}

/// Plain numbers of a state, for the sums inside.
pub(crate) trait Plain: Sized {
    fn raw(t_c: f64, w: f64) -> Self;
    fn t(&self) -> f64;
    fn w(&self) -> f64;
    fn h(&self) -> f64;
    fn cp(&self) -> f64;
    fn validated(self, quantity: &'static str, pressure_pa: f64) -> Result<Self, PlantError>;
    fn is_fog(&self, pressure_pa: f64) -> bool;
}

impl Plain for AirPoint {
    fn raw(t_c: f64, w: f64) -> Self {
        Self { dry_bulb: Temperature::from_si(t_c), humidity_ratio: HumidityRatio::from_si(w) }
    }

    fn t(&self) -> f64 {
        self.dry_bulb.si()
    }

    fn w(&self) -> f64 {
        self.humidity_ratio.si()
    }

    fn h(&self) -> f64 {
        raw::enthalpy_j_per_kg(self.t(), self.w())
    }

    fn cp(&self) -> f64 {
        raw::humid_specific_heat_j_per_kg_k(self.w())
    }

    /// Refuses a state outside -60 to 90 degC, without vapour, or above saturation.
    fn validated(self, quantity: &'static str, pressure_pa: f64) -> Result<Self, PlantError> {
        within("dry bulb in degC", self.t(), -60.0, 90.0)?;
        let saturated = raw::saturation_humidity_ratio(self.t(), pressure_pa);
        within(quantity, self.w(), 1e-7, saturated * (1.0 + 1e-6))?;
        Ok(self)
    }

    fn is_fog(&self, pressure_pa: f64) -> bool {
        self.w() > raw::saturation_humidity_ratio(self.t(), pressure_pa) * (1.0 + 1e-6)
    }
}

/// Refuses a barometric pressure outside the moist-air range.
pub(crate) fn barometric(pressure: Pressure) -> Result<f64, PlantError> {
    within("barometric pressure in Pa", pressure.si(), 60e3, 108e3)
}
