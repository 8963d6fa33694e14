//! Air ducts: friction, equivalent diameter, equal-friction sizing to standard sizes.
//!
//! Duct flow is the *actual* volume flow at the density given: friction follows velocity. For ducts with standard
//! air use [`Fluid::STANDARD_AIR`](crate::friction::Fluid::STANDARD_AIR).

use crate::WaterError;
use crate::error::within;
use crate::friction::{Conduit, ConduitDrop, Fluid};
use drycoil_units::{ActualAirFlow, Length, PressureDifference, Quantity, Velocity};

/// Roughness of galvanized steel duct, m (0.0003 ft; ASHRAE Fundamentals, duct design, medium smooth; from memory).
pub const ROUGHNESS_GALVANIZED_M: f64 = 0.0003 * 0.3048;

/// The family of sizes that is offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DuctSeries {
    /// Round: 4 to 10 in by 1, to 24 in by 2, to 84 in by 4. Rectangular sides: 4 to 120 in by 2. Common practice, no source.
    InchPound,
    /// Round: EN 1506 recommended diameters; rectangular sides: EN 1505 (from memory).
    Metric,
}

impl DuctSeries {
    /// Round diameters, m, small to large.
    pub fn round_m(self) -> Vec<f64> {
        match self {
            Self::InchPound => (4..=10)
                .chain((12..=24).step_by(2))
                .chain((28..=84).step_by(4))
                .map(|i| f64::from(i) * 0.0254)
                .collect(),
            Self::Metric => {
                [100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1400, 1600, 1800, 2000]
                    .iter()
                    .map(|&i| f64::from(i) * 1e-3)
                    .collect()
            }
        }
    }

    /// Sides of rectangular ducts, m, small to large.
    pub fn sides_m(self) -> Vec<f64> {
        match self {
            Self::InchPound => (4..=120).step_by(2).map(|i| f64::from(i) * 0.0254).collect(),
            Self::Metric => {
                [100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 1200, 1400, 1600, 1800, 2000, 2500, 3000]
                    .iter()
                    .map(|&i| f64::from(i) * 1e-3)
                    .collect()
            }
        }
    }
}

/// Diameter of the round duct with the same friction at the same flow: 1.30 (ab)^0.625 / (a+b)^0.25, Huebscher 1948.
/// Sides 0.01 to 10 m, aspect ratio up to 8.
///
/// ```
/// use drycoil_units::Length;
/// use drycoil_water::duct::equivalent_diameter;
/// let d = equivalent_diameter(Length::inches(12.0), Length::inches(24.0)).unwrap();
/// assert!((d.to_inches() - 18.280).abs() < 1e-3);
/// ```
pub fn equivalent_diameter(a: Length, b: Length) -> Result<Length, WaterError> {
    within("duct side", a.si(), 0.01, 10.0, "m")?;
    within("duct side", b.si(), 0.01, 10.0, "m")?;
    within("duct aspect ratio", (a / b).max(b / a), 1.0, 8.0, "")?;
    Ok(Length::from_si(1.30 * (a.si() * b.si()).powf(0.625) / (a.si() + b.si()).powf(0.25)))
}

/// Friction per metre of a round galvanized duct.
pub fn round_drop_per_metre(
    fluid: Fluid,
    diameter: Length,
    flow: ActualAirFlow,
) -> Result<ConduitDrop, WaterError> {
    round_drop(fluid, diameter, flow, Length::from_si(1.0), 0.0)
}

/// Pressure drop of a round galvanized duct with the sum of its fitting coefficients.
pub fn round_drop(
    fluid: Fluid,
    diameter: Length,
    flow: ActualAirFlow,
    length: Length,
    fittings_k: f64,
) -> Result<ConduitDrop, WaterError> {
    Conduit {
        diameter_m: diameter.si(),
        roughness_m: ROUGHNESS_GALVANIZED_M,
        length_m: length.si(),
        fittings_k,
    }
    .drop(fluid, flow.si())
}

/// Static pressure regained where air slows from `upstream` to `downstream`, less the stated share of loss.
pub fn static_regain(
    fluid: Fluid,
    upstream: Velocity,
    downstream: Velocity,
    loss_share: f64,
) -> Result<PressureDifference, WaterError> {
    within("share of loss", loss_share, 0.0, 1.0, "")?;
    within("upstream velocity", upstream.si(), 0.0, 100.0, "m/s")?;
    within("downstream velocity", downstream.si(), 0.0, upstream.si(), "m/s")?;
    let rise = 0.5 * fluid.density_kg_per_m3 * (upstream.si().powi(2) - downstream.si().powi(2));
    Ok(PressureDifference::from_si(rise * (1.0 - loss_share)))
}

/// Velocity pressure of air.
pub fn velocity_pressure(fluid: Fluid, velocity: Velocity) -> Result<PressureDifference, WaterError> {
    within("air velocity", velocity.si(), 0.0, 100.0, "m/s")?;
    Ok(PressureDifference::from_si(0.5 * fluid.density_kg_per_m3 * velocity.si().powi(2)))
}

/// The limits a duct has to meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DuctLimits {
    /// Largest friction, as pressure drop over one metre (0.08 in wg per 100 ft is 0.65 Pa/m).
    pub friction_per_metre: PressureDifference,
    /// Largest velocity.
    pub velocity: Velocity,
    /// The sizes that are offered.
    pub series: DuctSeries,
}

impl DuctLimits {
    fn check(&self, flow: ActualAirFlow) -> Result<(), WaterError> {
        within("air flow", flow.si(), 1e-6, 1e3, "m3/s")?;
        within("friction limit", self.friction_per_metre.si(), 0.05, 100.0, "Pa/m")?;
        within("velocity limit", self.velocity.si(), 0.5, 40.0, "m/s")?;
        Ok(())
    }
}

/// The limit that ruled out the next smaller duct.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DuctLimit {
    /// Friction per length.
    Friction,
    /// Velocity.
    Velocity,
    /// None: the smallest size of the series was enough.
    SmallestSize,
}

/// A chosen round duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundDuct {
    /// The diameter.
    pub diameter: Length,
    /// Its friction over one metre.
    pub drop: ConduitDrop,
    /// Metal per metre of duct, m2/m.
    pub perimeter_m: f64,
    /// The limit that ruled out the next smaller size.
    pub governing: DuctLimit,
}

/// A chosen rectangular duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RectangularDuct {
    /// Width, not below the height unless the height limit forces nothing.
    pub width: Length,
    /// Height.
    pub height: Length,
    /// Diameter of the round duct with the same friction.
    pub equivalent_diameter: Length,
    /// Mean velocity, flow over width times height.
    pub velocity: Velocity,
    /// Friction over one metre, in the equivalent round duct.
    pub friction_per_metre: PressureDifference,
    /// Metal per metre of duct, m2/m.
    pub perimeter_m: f64,
}

/// The smallest standard round duct that meets both limits.
pub fn size_round(fluid: Fluid, flow: ActualAirFlow, limits: &DuctLimits) -> Result<RoundDuct, WaterError> {
    limits.check(flow)?;
    let mut governing = DuctLimit::SmallestSize;
    let mut largest = 0.0;
    for d in limits.series.round_m() {
        largest = d;
        let drop = round_drop_per_metre(fluid, Length::from_si(d), flow)?;
        if drop.friction_pa_per_m > limits.friction_per_metre.si() {
            governing = DuctLimit::Friction;
        } else if drop.velocity_m_per_s > limits.velocity.si() {
            governing = DuctLimit::Velocity;
        } else {
            let perimeter_m = std::f64::consts::PI * d;
            return Ok(RoundDuct { diameter: Length::from_si(d), drop, perimeter_m, governing });
        }
    }
    Err(WaterError::NoSizeLargeEnough { flow_m3_per_s: flow.si(), largest: format!("round {largest:.2} m") })
}

/// The standard rectangular duct with the least metal that meets both limits, no higher than `height_limit` and
/// no flatter than `aspect_limit` (1 to 8); among equal metal the squarest.
pub fn size_rectangular(
    fluid: Fluid,
    flow: ActualAirFlow,
    limits: &DuctLimits,
    height_limit: Length,
    aspect_limit: f64,
) -> Result<RectangularDuct, WaterError> {
    limits.check(flow)?;
    within("aspect limit", aspect_limit, 1.0, 8.0, "")?;
    let sides = limits.series.sides_m();
    let smallest = sides[0];
    within("height limit", height_limit.si(), smallest, 10.0, "m")?;
    let mut best: Option<RectangularDuct> = None;
    // A side limit written in another unit must still admit its own size.
    let allowed = height_limit.si() * (1.0 + 1e-9);
    for &h in sides.iter().rev().filter(|&&h| h <= allowed) {
        for &w in sides.iter().filter(|&&w| w >= h && w <= h * aspect_limit * (1.0 + 1e-9)) {
            let perimeter_m = 2.0 * (w + h);
            if best.is_some_and(|b| b.perimeter_m <= perimeter_m * (1.0 + 1e-12)) {
                continue;
            }
            let de = equivalent_diameter(Length::from_si(w), Length::from_si(h))?;
            let velocity = flow.si() / (w * h);
            let drop = round_drop_per_metre(fluid, de, flow)?;
            if drop.friction_pa_per_m <= limits.friction_per_metre.si() && velocity <= limits.velocity.si() {
                best = Some(RectangularDuct {
                    width: Length::from_si(w),
                    height: Length::from_si(h),
                    equivalent_diameter: de,
                    velocity: Velocity::from_si(velocity),
                    friction_per_metre: PressureDifference::from_si(drop.friction_pa_per_m),
                    perimeter_m,
                });
                break;
            }
        }
    }
    best.ok_or_else(|| WaterError::NoSizeLargeEnough {
        flow_m3_per_s: flow.si(),
        largest: format!("rectangular {:.2} m high, aspect {aspect_limit}", height_limit.si()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const IN_WG_PER_100_FT: f64 = 249.088_908_333 / 30.48;

    #[test]
    fn val_round_duct_friction() {
        // Recomputed for standard air 0.075 lb/ft3, 1.222e-5 lb/(ft s), 0.0003 ft; in wg per 100 ft. 0.2 %: those numbers
        // take the inch of water at 60 degF (248.84 Pa), ours is the conventional inch (249.09 Pa).
        for (inches, cfm, want) in [
            (6.0, 150.0, 0.1734),
            (8.0, 300.0, 0.1506),
            (10.0, 500.0, 0.1288),
            (12.0, 800.0, 0.1251),
            (14.0, 1000.0, 0.0885),
            (16.0, 1500.0, 0.0972),
            (20.0, 3000.0, 0.1174),
            (24.0, 5000.0, 0.1239),
        ] {
            let d =
                round_drop_per_metre(Fluid::STANDARD_AIR, Length::inches(inches), ActualAirFlow::acfm(cfm))
                    .unwrap();
            let got = d.friction_pa_per_m / IN_WG_PER_100_FT;
            assert!((got / want - 1.0).abs() < 2e-3, "{inches} in: {got} against {want}");
        }
    }

    #[test]
    fn val_equivalent_diameters() {
        // Huebscher's formula, recomputed; ASHRAE's table prints 18.3 for 12 x 24 (from memory). Rounding only.
        for (a, b, want) in [
            (12.0, 24.0, 18.280),
            (10.0, 20.0, 15.234),
            (8.0, 16.0, 12.187),
            (12.0, 12.0, 13.118),
            (6.0, 18.0, 10.959),
        ] {
            let d = equivalent_diameter(Length::inches(a), Length::inches(b)).unwrap().to_inches();
            assert!((d - want).abs() < 6e-4, "{a} x {b}: {d}");
        }
        assert!(equivalent_diameter(Length::inches(4.0), Length::inches(40.0)).is_err());
    }

    #[test]
    fn val_velocity_pressure() {
        // (V/4005)^2 in wg: 0.0647 at 1018.6 fpm. 0.25 %: 4005 is rounded and takes the inch of water at 60 degF.
        let p = velocity_pressure(Fluid::STANDARD_AIR, Velocity::feet_per_minute(1018.6)).unwrap();
        assert!((p.to_inches_of_water() / 0.0647 - 1.0).abs() < 2.5e-3);
    }

    #[test]
    fn val_static_regain() {
        // Hundy, Trott and Welch, Ex. 24.3: 8 to 5.5 m/s, 20 % loss, 1.2 kg/m3: 16.2 Pa.
        let air = Fluid::new(1.2, 1.8e-5).unwrap();
        let p = static_regain(air, Velocity::metres_per_second(8.0), Velocity::metres_per_second(5.5), 0.2)
            .unwrap();
        assert!((p.to_pascals() - 16.2).abs() < 1e-9);
        assert!(
            static_regain(air, Velocity::metres_per_second(5.0), Velocity::metres_per_second(6.0), 0.2)
                .is_err()
        );
    }

    #[test]
    fn phys_chosen_sizes_meet_their_limits_and_the_next_smaller_does_not() {
        for series in [DuctSeries::InchPound, DuctSeries::Metric] {
            let limits = DuctLimits {
                friction_per_metre: PressureDifference::pascals(0.65),
                velocity: Velocity::feet_per_minute(2000.0),
                series,
            };
            for cfm in [80.0, 400.0, 2500.0, 20_000.0] {
                let q = ActualAirFlow::acfm(cfm);
                let r = size_round(Fluid::STANDARD_AIR, q, &limits).unwrap();
                assert!(r.drop.friction_pa_per_m <= 0.65 && r.drop.velocity_m_per_s <= limits.velocity.si());
                let below = series.round_m().into_iter().rfind(|d| *d < r.diameter.si());
                match below {
                    Some(d) => {
                        let x = round_drop_per_metre(Fluid::STANDARD_AIR, Length::from_si(d), q).unwrap();
                        assert!(x.friction_pa_per_m > 0.65 || x.velocity_m_per_s > limits.velocity.si());
                    }
                    None => assert_eq!(r.governing, DuctLimit::SmallestSize),
                }
                let s = size_rectangular(Fluid::STANDARD_AIR, q, &limits, Length::inches(30.0), 4.0).unwrap();
                assert!(s.friction_per_metre.si() <= 0.65 && s.velocity <= limits.velocity);
                assert!(s.height.to_inches() <= 30.0 + 1e-9 && s.width / s.height <= 4.0 + 1e-9);
                // Least metal: no offered pair with a smaller perimeter meets the limits.
                for h in series.sides_m().into_iter().filter(|h| *h <= 30.0 * 0.0254 + 1e-9) {
                    for w in series.sides_m().into_iter().filter(|w| *w >= h && *w / h <= 4.0 + 1e-9) {
                        if 2.0 * (w + h) < s.perimeter_m - 1e-9 {
                            let de = equivalent_diameter(Length::from_si(w), Length::from_si(h)).unwrap();
                            let f =
                                round_drop_per_metre(Fluid::STANDARD_AIR, de, q).unwrap().friction_pa_per_m;
                            assert!(f > 0.65 || q.si() / (w * h) > limits.velocity.si());
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn phys_height_limit_flattens_and_then_refuses() {
        let limits = DuctLimits {
            friction_per_metre: PressureDifference::pascals(0.65),
            velocity: Velocity::feet_per_minute(2000.0),
            series: DuctSeries::InchPound,
        };
        let q = ActualAirFlow::acfm(4000.0);
        let high = size_rectangular(Fluid::STANDARD_AIR, q, &limits, Length::inches(40.0), 4.0).unwrap();
        let flat = size_rectangular(Fluid::STANDARD_AIR, q, &limits, Length::inches(14.0), 4.0).unwrap();
        assert!(flat.height < high.height && flat.perimeter_m > high.perimeter_m);
        assert!(size_rectangular(Fluid::STANDARD_AIR, q, &limits, Length::inches(6.0), 4.0).is_err());
    }
}
