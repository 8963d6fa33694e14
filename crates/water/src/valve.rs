//! Control valves: flow coefficient, authority, characteristic.

use crate::WaterError;
use crate::error::within;
use drycoil_units::{Density, PressureDifference, Quantity, WaterFlow};

/// Pa in one pound-force per square inch.
const PSI_PA: f64 = 6_894.757_293_168;
/// m3/s in one US gallon per minute.
const GPM_M3_PER_S: f64 = 3.785_411_784e-3 / 60.0;

/// A valve's flow coefficient: the flow in m3/h of water of 1000 kg/m3 at 1 bar (Kv).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct FlowCoefficient {
    kv: f64,
}

impl FlowCoefficient {
    /// From Kv, m3/h at 1 bar; above 0, at most 1e5.
    pub fn from_kv(kv: f64) -> Result<Self, WaterError> {
        within("valve coefficient", kv, 1e-6, 1e5, "m3/h")?;
        Ok(Self { kv })
    }

    /// From Cv, US gpm at 1 psi: Kv = 0.865 Cv.
    pub fn from_cv(cv: f64) -> Result<Self, WaterError> {
        Self::from_kv(cv * Self::kv_per_cv())
    }

    /// Kv, m3/h at 1 bar.
    pub fn kv(self) -> f64 {
        self.kv
    }

    /// Cv, US gpm at 1 psi.
    pub fn cv(self) -> f64 {
        self.kv / Self::kv_per_cv()
    }

    fn kv_per_cv() -> f64 {
        GPM_M3_PER_S * 3600.0 / (PSI_PA / 1e5).sqrt()
    }

    /// The coefficient that passes this flow at this pressure drop.
    ///
    /// ```
    /// use drycoil_units::{Density, PressureDifference, WaterFlow};
    /// use drycoil_water::valve::FlowCoefficient;
    /// let water = Density::kg_per_m3(1000.0);
    /// let c = FlowCoefficient::for_flow(WaterFlow::gpm(3.0), PressureDifference::pascals(6_894.76), water).unwrap();
    /// assert!((c.cv() - 3.0).abs() < 1e-4);
    /// ```
    pub fn for_flow(flow: WaterFlow, drop: PressureDifference, density: Density) -> Result<Self, WaterError> {
        within("water flow", flow.si(), 1e-9, 100.0, "m3/s")?;
        within("pressure drop", drop.si(), 1e-3, 1e8, "Pa")?;
        within("density", density.si(), 500.0, 2000.0, "kg/m3")?;
        Self::from_kv(flow.si() * 3600.0 * (density.si() / 1000.0 / (drop.si() / 1e5)).sqrt())
    }

    /// Pressure drop at this flow.
    pub fn pressure_drop(self, flow: WaterFlow, density: Density) -> Result<PressureDifference, WaterError> {
        within("water flow", flow.si(), 0.0, 100.0, "m3/s")?;
        within("density", density.si(), 500.0, 2000.0, "kg/m3")?;
        let r = flow.si() * 3600.0 / self.kv;
        Ok(PressureDifference::from_si(r * r * density.si() / 1000.0 * 1e5))
    }
}

/// Authority: the drop of the open valve over the drop of valve and circuit together.
pub fn authority(valve: PressureDifference, circuit: PressureDifference) -> Result<f64, WaterError> {
    within("pressure drop of the open valve", valve.si(), 1e-9, 1e8, "Pa")?;
    within("pressure drop of the circuit", circuit.si(), 0.0, 1e8, "Pa")?;
    Ok(valve.si() / (valve.si() + circuit.si()))
}

/// The valve's own relation of flow coefficient to lift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Characteristic {
    /// Coefficient proportional to lift.
    Linear,
    /// Equal steps of lift change the coefficient by equal percentages: R^(lift - 1), with rangeability R;
    /// at zero lift 1/R is left, which a real valve closes.
    EqualPercentage {
        /// Rangeability, 10 to 200; 50 is common practice, no source.
        rangeability: f64,
    },
}

impl Characteristic {
    /// Share of the full coefficient at a lift of 0 to 1.
    pub fn coefficient_share(self, lift: f64) -> Result<f64, WaterError> {
        within("valve lift", lift, 0.0, 1.0, "")?;
        match self {
            Self::Linear => Ok(lift),
            Self::EqualPercentage { rangeability } => {
                within("rangeability", rangeability, 10.0, 200.0, "")?;
                Ok(rangeability.powf(lift - 1.0))
            }
        }
    }

    /// Share of full flow at a lift, with the rest of the circuit quadratic and the total pressure constant:
    /// 1 / sqrt(1 - a + a/k^2), a the authority and k the share of the coefficient.
    pub fn flow_share(self, lift: f64, authority: f64) -> Result<f64, WaterError> {
        within("valve authority", authority, 1e-6, 1.0, "")?;
        let k = self.coefficient_share(lift)?;
        if k == 0.0 {
            return Ok(0.0);
        }
        Ok(1.0 / (1.0 - authority + authority / (k * k)).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_kv_against_cv() {
        // Kv = 0.865 Cv: common practice (IEC 60534 gives 0.865), from memory.
        let c = FlowCoefficient::from_cv(1.0).unwrap();
        assert!((c.kv() - 0.865).abs() < 5e-5, "{}", c.kv());
    }

    #[test]
    fn inv_coefficient_and_drop() {
        let rho = Density::kg_per_m3(999.2);
        let c = FlowCoefficient::from_kv(4.0).unwrap();
        let q = WaterFlow::litres_per_second(0.3);
        let dp = c.pressure_drop(q, rho).unwrap();
        assert!((FlowCoefficient::for_flow(q, dp, rho).unwrap().kv() - 4.0).abs() < 1e-12);
    }

    #[test]
    fn phys_low_authority_opens_early() {
        let v = Characteristic::EqualPercentage { rangeability: 50.0 };
        let mut last = 0.0;
        for a in [1.0, 0.5, 0.25, 0.1] {
            let share = v.flow_share(0.5, a).unwrap();
            assert!(share > last);
            assert!((v.flow_share(1.0, a).unwrap() - 1.0).abs() < 1e-12);
            last = share;
        }
        assert!(v.flow_share(1.2, 0.5).is_err() && Characteristic::Linear.flow_share(0.5, 0.0).is_err());
        assert!(
            (authority(PressureDifference::pascals(30e3), PressureDifference::pascals(30e3)).unwrap() - 0.5)
                .abs()
                < 1e-12
        );
    }
}
