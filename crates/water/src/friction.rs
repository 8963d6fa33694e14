//! Friction in round conduits: Reynolds number and Darcy friction factor.

use crate::WaterError;
use crate::error::within;
use crate::liquid::WaterProperties;
use drycoil_solve::bracketed;

/// Reynolds number at and below which flow is laminar.
pub const LAMINAR_LIMIT: f64 = 2300.0;
/// Reynolds number from which flow is turbulent.
pub const TURBULENT_LIMIT: f64 = 4000.0;

/// What friction needs to know of a fluid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    /// Density, kg/m3.
    pub density_kg_per_m3: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
}

impl Fluid {
    /// Standard air of duct friction charts: 0.075 lb/ft3 and 1.222e-5 lb/(ft s).
    pub const STANDARD_AIR: Self = Self {
        density_kg_per_m3: drycoil_units::STANDARD_AIR_DENSITY_KG_PER_M3,
        viscosity_pa_s: 1.222e-5 * LB_PER_FT,
    };

    /// A fluid; both numbers must be positive.
    pub fn new(density_kg_per_m3: f64, viscosity_pa_s: f64) -> Result<Self, WaterError> {
        within("density", density_kg_per_m3, 1e-3, 1e5, "kg/m3")?;
        within("viscosity", viscosity_pa_s, 1e-7, 1e3, "Pa s")?;
        Ok(Self { density_kg_per_m3, viscosity_pa_s })
    }
}

const LB_PER_FT: f64 = 0.453_592_37 / 0.3048;

impl From<&WaterProperties> for Fluid {
    fn from(w: &WaterProperties) -> Self {
        Self { density_kg_per_m3: drycoil_units::Quantity::si(w.density), viscosity_pa_s: w.viscosity_pa_s }
    }
}

/// The kind of flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Reynolds number up to 2300.
    Laminar,
    /// Between 2300 and 4000: no formula is reliable.
    Transitional,
    /// From 4000.
    Turbulent,
}

/// The regime at this Reynolds number.
pub fn regime(reynolds: f64) -> Regime {
    if reynolds <= LAMINAR_LIMIT {
        Regime::Laminar
    } else if reynolds < TURBULENT_LIMIT {
        Regime::Transitional
    } else {
        Regime::Turbulent
    }
}

/// What to do between laminar and turbulent flow, where measured factors scatter between the two curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TransitionalFlow {
    /// Return [`WaterError::Transitional`].
    Refuse,
    /// Straight line in the Reynolds number from 64/2300 to the Colebrook value at 4000: continuous and
    /// monotone in pressure drop. The result is marked [`Regime::Transitional`].
    Interpolate,
}

/// A friction factor with its evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrictionFactor {
    /// Darcy (Moody) friction factor.
    pub darcy: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Roughness over inner diameter.
    pub relative_roughness: f64,
    /// The regime.
    pub regime: Regime,
    /// Residual of the Colebrook equation in 1/sqrt(f); zero for laminar flow.
    pub residual: f64,
    /// Newton steps made.
    pub iterations: u32,
}

/// Formulas on plain numbers. The caller keeps the arguments in range; nothing is checked.
pub mod raw {
    /// Reynolds number.
    #[inline]
    pub fn reynolds(
        velocity_m_per_s: f64,
        diameter_m: f64,
        density_kg_per_m3: f64,
        viscosity_pa_s: f64,
    ) -> f64 {
        density_kg_per_m3 * velocity_m_per_s * diameter_m / viscosity_pa_s
    }

    /// Darcy factor by the Colebrook equation, solved by Newton's method in 1/sqrt(f):
    /// (factor, residual in 1/sqrt(f), steps). Converges to rounding in 3 to 5 steps from the Haaland estimate.
    #[inline]
    pub fn colebrook(reynolds: f64, relative_roughness: f64) -> (f64, f64, u32) {
        let a = relative_roughness / 3.7;
        let b = 2.51 / reynolds;
        let k = 2.0 / std::f64::consts::LN_10;
        // Haaland's explicit form as the first estimate.
        let mut x = -1.8 * (a.powf(1.11) + 6.9 / reynolds).log10();
        let mut residual = f64::INFINITY;
        let mut steps = 0;
        while steps < 20 {
            let s = a + b * x;
            residual = x + k * s.ln();
            if residual.abs() <= 4e-15 * x {
                break;
            }
            x -= residual / (1.0 + k * b / s);
            steps += 1;
        }
        (1.0 / (x * x), residual, steps)
    }
}

/// Darcy friction factor: 64/Re in laminar flow, Colebrook in turbulent flow.
///
/// Relative roughness 0 to 0.05, Reynolds number up to 1e9. Colebrook itself is good for about 10 % against
/// measurement. Source: Colebrook 1939, as in any text on fluid mechanics.
///
/// ```
/// use drycoil_water::friction::{TransitionalFlow, friction_factor};
/// let f = friction_factor(1e5, 1e-4, TransitionalFlow::Refuse).unwrap();
/// assert!((f.darcy - 0.018514).abs() < 1e-6);
/// assert!(friction_factor(3000.0, 1e-4, TransitionalFlow::Refuse).is_err());
/// ```
pub fn friction_factor(
    reynolds: f64,
    relative_roughness: f64,
    transitional: TransitionalFlow,
) -> Result<FrictionFactor, WaterError> {
    within("Reynolds number", reynolds, f64::MIN_POSITIVE, 1e9, "")?;
    within("relative roughness", relative_roughness, 0.0, 0.05, "")?;
    let regime = regime(reynolds);
    let solved = |re: f64| {
        let (darcy, residual, iterations) = raw::colebrook(re, relative_roughness);
        if residual.abs() <= 1e-12 {
            Ok((darcy, residual, iterations))
        } else {
            Err(WaterError::NotConverged { what: "Colebrook friction factor", residual, iterations })
        }
    };
    let (darcy, residual, iterations) = match (regime, transitional) {
        (Regime::Laminar, _) => (64.0 / reynolds, 0.0, 0),
        (Regime::Turbulent, _) => solved(reynolds)?,
        (Regime::Transitional, TransitionalFlow::Refuse) => {
            return Err(WaterError::Transitional { reynolds });
        }
        (Regime::Transitional, TransitionalFlow::Interpolate) => {
            let (high, residual, iterations) = solved(TURBULENT_LIMIT)?;
            let low = 64.0 / LAMINAR_LIMIT;
            let share = (reynolds - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT);
            (low + share * (high - low), residual, iterations)
        }
    };
    Ok(FrictionFactor { darcy, reynolds, relative_roughness, regime, residual, iterations })
}

/// Pressure drop of a run of round conduit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConduitDrop {
    /// Mean velocity, m/s.
    pub velocity_m_per_s: f64,
    /// The friction factor; `None` at zero flow.
    pub friction: Option<FrictionFactor>,
    /// Velocity pressure, Pa.
    pub velocity_pressure_pa: f64,
    /// Friction per length, Pa/m.
    pub friction_pa_per_m: f64,
    /// Friction over the length, Pa.
    pub friction_pa: f64,
    /// Loss of the fittings, sum of K times velocity pressure, Pa.
    pub fittings_pa: f64,
    /// Total pressure drop, Pa.
    pub total_pa: f64,
    /// Total drop as head of the flowing fluid, m.
    pub head_m: f64,
}

/// A run of round conduit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conduit {
    /// Inner diameter, m.
    pub diameter_m: f64,
    /// Absolute roughness, m.
    pub roughness_m: f64,
    /// Length, m.
    pub length_m: f64,
    /// Sum of the loss coefficients of all fittings, on the velocity pressure of this run.
    pub fittings_k: f64,
}

impl Conduit {
    fn check(&self) -> Result<(), WaterError> {
        within("inner diameter", self.diameter_m, 1e-4, 20.0, "m")?;
        within("roughness", self.roughness_m, 0.0, 0.05 * self.diameter_m, "m")?;
        within("length", self.length_m, 0.0, 1e6, "m")?;
        within("sum of fitting coefficients", self.fittings_k, 0.0, 1e6, "")?;
        Ok(())
    }

    /// Pressure drop at a volume flow. Transitional flow is interpolated and marked, see [`TransitionalFlow`].
    pub fn drop(&self, fluid: Fluid, flow_m3_per_s: f64) -> Result<ConduitDrop, WaterError> {
        self.check()?;
        within("volume flow", flow_m3_per_s, 0.0, 1e4, "m3/s")?;
        let area = std::f64::consts::FRAC_PI_4 * self.diameter_m * self.diameter_m;
        let v = flow_m3_per_s / area;
        let vp = 0.5 * fluid.density_kg_per_m3 * v * v;
        let (friction, per_m) = if v == 0.0 {
            (None, 0.0)
        } else {
            let re = raw::reynolds(v, self.diameter_m, fluid.density_kg_per_m3, fluid.viscosity_pa_s);
            let f = friction_factor(re, self.roughness_m / self.diameter_m, TransitionalFlow::Interpolate)?;
            (Some(f), f.darcy / self.diameter_m * vp)
        };
        let friction_pa = per_m * self.length_m;
        let fittings_pa = self.fittings_k * vp;
        let total_pa = friction_pa + fittings_pa;
        Ok(ConduitDrop {
            velocity_m_per_s: v,
            friction,
            velocity_pressure_pa: vp,
            friction_pa_per_m: per_m,
            friction_pa,
            fittings_pa,
            total_pa,
            head_m: total_pa / (fluid.density_kg_per_m3 * drycoil_units::GRAVITY_M_PER_S2),
        })
    }

    /// Volume flow that gives this total pressure drop: (m3/s, residual in Pa).
    pub fn flow_for_drop(&self, fluid: Fluid, drop_pa: f64) -> Result<(f64, f64), WaterError> {
        self.check()?;
        within("pressure drop", drop_pa, 1e-9, 1e9, "Pa")?;
        let area = std::f64::consts::FRAC_PI_4 * self.diameter_m * self.diameter_m;
        let mut high = area * 1e-3;
        while self.drop(fluid, high)?.total_pa < drop_pa {
            high *= 2.0;
        }
        let root = bracketed::<WaterError>("flow at a pressure drop", 0.0, high, 1e-12 * drop_pa, |q| {
            Ok(self.drop(fluid, q)?.total_pa - drop_pa)
        })?;
        Ok((root.x, root.residual))
    }
}

/// Inner diameter at which a flow loses this much over a straight length: (m, residual in Pa).
pub fn diameter_for_drop(
    fluid: Fluid,
    flow_m3_per_s: f64,
    length_m: f64,
    roughness_m: f64,
    drop_pa: f64,
) -> Result<(f64, f64), WaterError> {
    within("volume flow", flow_m3_per_s, 1e-9, 1e4, "m3/s")?;
    within("pressure drop", drop_pa, 1e-9, 1e9, "Pa")?;
    within("roughness", roughness_m, 0.0, 0.05, "m")?;
    let at = |diameter_m: f64| {
        Conduit { diameter_m, roughness_m, length_m, fittings_k: 0.0 }.drop(fluid, flow_m3_per_s)
    };
    let low = (20.0 * roughness_m).max(1e-3);
    let mut high = 2.0 * low;
    while at(high)?.total_pa > drop_pa {
        high *= 2.0;
    }
    // Below the lower end the relative roughness leaves the range of the formula.
    let mut start = 0.5 * high;
    while start > low && at(start)?.total_pa < drop_pa {
        start *= 0.5;
    }
    let start = start.max(low);
    let root = bracketed::<WaterError>("diameter at a pressure drop", start, high, 1e-12 * drop_pa, |d| {
        Ok(at(d)?.total_pa - drop_pa)
    })?;
    Ok((root.x, root.residual))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rel(a: f64, b: f64) -> f64 {
        (a / b - 1.0).abs()
    }

    #[test]
    fn val_colebrook_table() {
        // Exact solution of the Colebrook equation by a general-purpose fluid library; printed to six decimals.
        let eps = [0.0, 1e-5, 1e-4, 5e-4, 1e-3, 1e-2];
        for (re, row) in [
            (4e3, [0.039907, 0.039917, 0.040008, 0.040412, 0.040910, 0.049082]),
            (1e4, [0.030883, 0.030898, 0.031037, 0.031644, 0.032382, 0.043127]),
            (1e5, [0.017990, 0.018044, 0.018514, 0.020327, 0.022175, 0.038504]),
            (1e6, [0.011645, 0.011870, 0.013441, 0.017207, 0.019943, 0.037965]),
            (1e7, [0.008103, 0.008996, 0.012166, 0.016753, 0.019667, 0.037910]),
        ] {
            for (e, want) in eps.iter().zip(row) {
                let f = friction_factor(re, *e, TransitionalFlow::Refuse).unwrap();
                assert!((f.darcy - want).abs() < 6e-7, "Re {re} eps {e}: {} against {want}", f.darcy);
                assert!(f.residual.abs() < 1e-13 && f.iterations <= 6);
            }
        }
    }

    #[test]
    fn val_water_main_example() {
        // Cengel and Cimbala, Fluid Mechanics, Ex. 8-3: f 0.0172, 96.5 kPa, 9.85 m, 579 W (0.5 %: rounded f);
        // recomputed 0.0171884, 96 204 Pa, 9.8166 m, 577.2 W.
        let water = Fluid::new(999.0, 1.138e-3).unwrap();
        let pipe = Conduit { diameter_m: 0.05, roughness_m: 2e-6, length_m: 60.0, fittings_k: 0.0 };
        let d = pipe.drop(water, 0.006).unwrap();
        assert!(
            rel(d.friction.unwrap().darcy, 0.0172) < 5e-3 && rel(d.friction.unwrap().darcy, 0.0171884) < 1e-5
        );
        assert!(rel(d.total_pa, 96_500.0) < 5e-3 && rel(d.total_pa, 96_204.0) < 1e-4);
        // Book's g is 9.81; the last digits of the head follow it.
        assert!(rel(d.head_m, 9.8166) < 5e-4);
        assert!(rel(d.total_pa * 0.006, 577.2) < 1e-4);
    }

    #[test]
    fn val_air_duct_diameter_example() {
        // Cengel and Cimbala, Ex. 8-4: air at 35 degC (1.145 kg/m3, 1.895e-5 Pa s), 0.35 m3/s, 150 m, 20 m of
        // head: D 0.267 m, f 0.0180, V 6.24 m/s, Re 100 800 (0.2 %).
        let air = Fluid::new(1.145, 1.895e-5).unwrap();
        let drop = 20.0 * 1.145 * 9.81;
        let (d, residual) = diameter_for_drop(air, 0.35, 150.0, 0.0, drop).unwrap();
        assert!(rel(d, 0.26726) < 5e-4, "{d}");
        assert!(residual.abs() < 1e-8);
        let c = Conduit { diameter_m: d, roughness_m: 0.0, length_m: 150.0, fittings_k: 0.0 }
            .drop(air, 0.35)
            .unwrap();
        let f = c.friction.unwrap();
        assert!(
            rel(f.darcy, 0.0180) < 3e-3
                && rel(c.velocity_m_per_s, 6.24) < 2e-3
                && rel(f.reynolds, 100_800.0) < 2e-3
        );
    }

    #[test]
    fn val_air_duct_flow_example() {
        // Ex. 8-5: the same duct (0.267 m) doubled to 300 m: the flow falls by 0.11 m3/s, to 0.2369 recomputed.
        let air = Fluid::new(1.145, 1.895e-5).unwrap();
        let duct = Conduit { diameter_m: 0.267, roughness_m: 0.0, length_m: 300.0, fittings_k: 0.0 };
        let (q, _) = duct.flow_for_drop(air, 20.0 * 1.145 * 9.81).unwrap();
        assert!((0.35 - q - 0.11).abs() < 0.005, "{q}");
        assert!(rel(q, 0.236884) < 1e-3, "{q}");
    }

    #[test]
    fn val_cast_iron_with_fittings_example() {
        // Ex. 8-8: water at 10 degC (999.7, 1.307e-3), 89 m of 50 mm cast iron 0.26 mm, 0.006 m3/s, K 0.5 + 2 x 0.3
        // + 0.2 + 1.06: f 0.0315, z1 31.9 m (0.3 %). z1 = 4 m exit height + head loss.
        let water = Fluid::new(999.7, 1.307e-3).unwrap();
        let pipe = Conduit {
            diameter_m: 0.05,
            roughness_m: 0.26e-3,
            length_m: 89.0,
            fittings_k: 0.5 + 2.0 * 0.3 + 0.2 + 1.06,
        };
        let d = pipe.drop(water, 0.006).unwrap();
        assert!(rel(d.friction.unwrap().darcy, 0.0315189) < 1e-4);
        assert!(rel(4.0 + d.head_m, 31.9) < 4e-3, "{}", d.head_m);
    }

    #[test]
    fn val_white_pipe_example() {
        // White, Fluid Mechanics, Ex. 6.6 (from memory): 200 ft x 6 in, 0.0004 ft, 6 ft/s: f 0.020, 4.5 ft,
        // 280 lbf/ft2; recomputed 0.019833, 4.435, 277.0. 2 %: the book reads a chart. Water 1.94 slug/ft3,
        // nu 1.1e-5 ft2/s assumed.
        let ft = 0.3048;
        let rho = 1.94 * 515.378_82;
        let water = Fluid::new(rho, 1.1e-5 * ft * ft * rho).unwrap();
        let d = 0.5 * ft;
        let pipe = Conduit { diameter_m: d, roughness_m: 0.0004 * ft, length_m: 200.0 * ft, fittings_k: 0.0 };
        let out = pipe.drop(water, std::f64::consts::FRAC_PI_4 * d * d * 6.0 * ft).unwrap();
        assert!(rel(out.friction.unwrap().darcy, 0.020) < 2e-2);
        assert!(rel(out.head_m / ft, 4.5) < 2e-2);
        assert!(rel(out.total_pa / 47.880_259, 280.0) < 2e-2);
    }

    #[test]
    fn phys_factor_is_continuous_in_the_transition() {
        for e in [0.0, 1e-4, 1e-2] {
            let at = |re: f64| friction_factor(re, e, TransitionalFlow::Interpolate).unwrap().darcy;
            assert!(rel(at(2300.0), at(2300.0 + 1e-6)) < 1e-8);
            assert!(rel(at(4000.0), at(4000.0 - 1e-6)) < 1e-8);
        }
        assert!(matches!(
            friction_factor(3000.0, 1e-4, TransitionalFlow::Refuse),
            Err(WaterError::Transitional { .. })
        ));
    }

    proptest! {
        #[test]
        fn phys_drop_rises_with_flow(q in 1e-6f64..0.05, more in 1.001f64..3.0, d in 0.01f64..0.3, e in 0.0f64..0.01) {
            let pipe = Conduit { diameter_m: d, roughness_m: e * d, length_m: 10.0, fittings_k: 2.0 };
            let water = Fluid::new(999.0, 1.2e-3).unwrap();
            prop_assert!(pipe.drop(water, q * more).unwrap().total_pa > pipe.drop(water, q).unwrap().total_pa);
        }

        #[test]
        fn inv_flow_from_drop(q in 1e-6f64..0.01, d in 0.01f64..0.3, e in 0.0f64..0.01) {
            let pipe = Conduit { diameter_m: d, roughness_m: e * d, length_m: 10.0, fittings_k: 2.0 };
            let water = Fluid::new(999.0, 1.2e-3).unwrap();
            let drop = pipe.drop(water, q).unwrap().total_pa;
            let (back, _) = pipe.flow_for_drop(water, drop).unwrap();
            prop_assert!(rel(back, q) < 1e-9);
        }
    }
}
