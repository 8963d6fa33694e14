//! Boilers: the closed form of [`drycoil_plant::boiler::Boiler`] with a constant efficiency.

use crate::plant::SetUpError;
use crate::signals::PlantLimit;
use drycoil_plant::boiler::{Boiler, BoilerEfficiency};
use drycoil_units::{Power, Temperature};

/// The boilers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoilerForm {
    capacity_w: f64,
    efficiency: f64,
    electric: bool,
}

/// Boilers in a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BoilerStep {
    /// Heat made, W.
    pub heat_w: f64,
    /// Heat asked and not made, W.
    pub unmet_w: f64,
    /// Fuel, W.
    pub fuel_w: f64,
    /// Electricity, W.
    pub electricity_w: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

impl BoilerForm {
    /// Boilers of this capacity, W; electric ones make their input into heat.
    ///
    /// # Errors
    /// As [`Boiler::new`]; no capacity gives boilers that make nothing.
    pub fn new(capacity_w: f64, efficiency: BoilerEfficiency) -> Result<Self, SetUpError> {
        let electric = efficiency == BoilerEfficiency::Electric;
        let boiler = Boiler::new(Power::watts(capacity_w.max(1.0)), efficiency)?;
        let probe = boiler.run(boiler.capacity(), Temperature::celsius(40.0))?;
        Ok(Self { capacity_w, efficiency: probe.efficiency, electric })
    }

    /// Capacity, W.
    pub fn capacity_w(&self) -> f64 {
        self.capacity_w
    }

    /// The boilers at a load, W.
    #[inline]
    pub fn run(&self, load_w: f64) -> BoilerStep {
        if load_w <= 0.0 {
            return BoilerStep::default();
        }
        let heat_w = load_w.min(self.capacity_w);
        let unmet_w = load_w - heat_w;
        let input = heat_w / self.efficiency;
        let (fuel_w, electricity_w) = if self.electric { (0.0, input) } else { (input, 0.0) };
        let limits = if unmet_w > 0.0 { PlantLimit::HeatingCapacity.bit() } else { 0 };
        BoilerStep { heat_w, unmet_w, fuel_w, electricity_w, limits }
    }
}
