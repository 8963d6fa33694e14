//! Pumps under differential-pressure control: a table of the power of [`drycoil_plant::pump::Pump`] over its flow.

use crate::plant::SetUpError;
use crate::signals::PlantLimit;
use drycoil_plant::pump::{Pump, PumpControl};
use drycoil_units::{PressureDifference, Quantity, WaterFlow};

const NODES: usize = 129;
/// Flow over design that motor and impeller have in reserve: there the pressure rises on along its law, with the
/// efficiency of design. Common practice, no source.
const LARGEST_SHARE: f64 = 1.25;

/// The pump.
#[derive(Debug, Clone)]
pub struct PumpForm {
    design_kg_per_s: f64,
    density: f64,
    /// Share of the pressure that is held at every flow.
    held: f64,
    /// Electric power and heat to the water at equal steps of the root of the share of design flow: the efficiency falls
    /// steeply towards no flow.
    nodes: Vec<[f64; 2]>,
}

/// Power of a pump in a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PumpStep {
    /// Electric power, W.
    pub power_w: f64,
    /// Heat to the water, W.
    pub heat_w: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

impl PumpForm {
    /// From design flow (m3/s), pressure (Pa), wire-to-water efficiency, share of the pressure that the controller holds
    /// at no flow, and density.
    ///
    /// # Errors
    /// As [`Pump::new`].
    pub fn new(
        flow_m3_per_s: f64,
        head_pa: f64,
        efficiency: f64,
        held_share: f64,
        density: f64,
    ) -> Result<Self, SetUpError> {
        if flow_m3_per_s <= 0.0 || head_pa <= 0.0 {
            return Ok(Self { design_kg_per_s: 0.0, density, held: 1.0, nodes: Vec::new() });
        }
        let pump = Pump::new(
            WaterFlow::m3_per_s(flow_m3_per_s),
            PressureDifference::pascals(head_pa),
            efficiency,
            1.0,
            PumpControl::DifferentialPressure { set_point_share: held_share },
        )?;
        Self::from_model(&pump, density)
    }

    /// From the model itself.
    ///
    /// # Errors
    /// As [`Pump::run`].
    pub fn from_model(pump: &Pump, density: f64) -> Result<Self, SetUpError> {
        let nodes = (0..NODES)
            .map(|i| {
                let x = (i as f64 / (NODES - 1) as f64).powi(2);
                let s = pump.run(pump.design_flow * x)?;
                Ok([s.power.electric_power.si(), s.power.heat_to_water.si()])
            })
            .collect::<Result<Vec<_>, SetUpError>>()?;
        let held = match pump.control {
            PumpControl::DifferentialPressure { set_point_share } => set_point_share,
            PumpControl::ConstantSpeed => 1.0,
        };
        Ok(Self { design_kg_per_s: pump.design_flow.si() * density, density, held, nodes })
    }

    /// Design flow, kg/s.
    pub fn design_kg_per_s(&self) -> f64 {
        self.design_kg_per_s
    }

    /// Largest flow, kg/s; without bound where there is no pump, which is told when water is wanted of it.
    pub fn largest_kg_per_s(&self) -> f64 {
        if self.nodes.is_empty() { f64::INFINITY } else { LARGEST_SHARE * self.design_kg_per_s }
    }

    /// Density of the water that the flow was given with, kg/m3.
    pub fn density(&self) -> f64 {
        self.density
    }

    /// Power at a flow, kg/s. A flow above the reserve, which no curve covers, is told.
    #[inline]
    pub fn run(&self, kg_per_s: f64) -> PumpStep {
        if kg_per_s <= 0.0 {
            return PumpStep::default();
        }
        if self.nodes.is_empty() {
            return PumpStep { limits: PlantLimit::OutsideCurve.bit(), ..PumpStep::default() };
        }
        let x = kg_per_s / self.design_kg_per_s;
        let last = self.nodes[NODES - 1];
        if x >= 1.0 {
            let limits = if x > LARGEST_SHARE { PlantLimit::OutsideCurve.bit() } else { 0 };
            let more = x * (self.held + (1.0 - self.held) * x * x);
            return PumpStep { power_w: last[0] * more, heat_w: last[1] * more, limits };
        }
        let y = x.sqrt() * (NODES - 1) as f64;
        let i = (y as usize).min(NODES - 2);
        let u = y - i as f64;
        let (a, b) = (self.nodes[i], self.nodes[i + 1]);
        PumpStep { power_w: a[0] + u * (b[0] - a[0]), heat_w: a[1] + u * (b[1] - a[1]), limits: 0 }
    }
}
