//! Boilers: heat from fuel or electricity.

use crate::error::{PlantError, not_negative, positive, rising, within};
use crate::limits::{Limit, Limits};
use crate::solve::interpolate;
use drycoil_units::{Power, Quantity, Temperature};

/// Efficiency of a boiler, heat over the energy bought (on the heating value in which it is priced).
#[derive(Debug, Clone, PartialEq)]
pub enum BoilerEfficiency {
    /// The same at every load.
    Constant(f64),
    /// Straight lines between (share of capacity, efficiency).
    ByLoad(Vec<(f64, f64)>),
    /// Straight lines between (return water degC, efficiency), for condensing boilers.
    ByReturn(Vec<(f64, f64)>),
    /// Electric resistance: 1.
    Electric,
}

/// Which carrier a boiler burns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carrier {
    /// Gas, oil or another fuel.
    Fuel,
    /// Electricity.
    Electricity,
}

/// A boiler.
#[derive(Debug, Clone, PartialEq)]
pub struct Boiler {
    capacity: Power,
    efficiency: BoilerEfficiency,
}

/// A boiler at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoilerState {
    /// Heat made.
    pub heat: Power,
    /// Heat asked and not made.
    pub unmet: Power,
    /// Energy bought.
    pub input: Power,
    /// Carrier bought.
    pub carrier: Carrier,
    /// Efficiency used.
    pub efficiency: f64,
    /// Limits reached.
    pub limits: Limits,
}

impl Boiler {
    /// A boiler of a capacity.
    ///
    /// ```
    /// use drycoil_plant::boiler::{Boiler, BoilerEfficiency};
    /// use drycoil_units::{Power, Temperature};
    /// let b = Boiler::new(
    ///     Power::watts(200e3),
    ///     BoilerEfficiency::ByReturn(vec![(20.0, 0.97), (55.0, 0.88), (80.0, 0.86)]),
    /// )?;
    /// let s = b.run(Power::watts(97e3), Temperature::celsius(20.0))?;
    /// assert!((s.input.to_watts() - 100e3).abs() < 1e-6);
    /// # Ok::<(), drycoil_plant::PlantError>(())
    /// ```
    ///
    /// # Errors
    /// A capacity that is not above zero, an efficiency outside 0.3 to 1, points that do not rise.
    pub fn new(capacity: Power, efficiency: BoilerEfficiency) -> Result<Self, PlantError> {
        positive("boiler capacity in W", capacity.si())?;
        let check = |e: f64| within("boiler efficiency", e, 0.3, 1.0);
        match &efficiency {
            BoilerEfficiency::Constant(e) => {
                check(*e)?;
            }
            BoilerEfficiency::ByLoad(points) | BoilerEfficiency::ByReturn(points) => {
                if points.len() < 2 {
                    return Err(PlantError::TooFewPoints {
                        what: "boiler efficiency",
                        given: points.len(),
                        needed: 2,
                    });
                }
                rising("first entry of the boiler efficiency", points.iter().map(|p| p.0))?;
                for p in points {
                    check(p.1)?;
                }
            }
            BoilerEfficiency::Electric => {}
        }
        Ok(Self { capacity, efficiency })
    }

    /// Capacity.
    pub fn capacity(&self) -> Power {
        self.capacity
    }

    /// The boiler at a load and a return temperature. Outside its efficiency points the nearest point holds, which
    /// is flagged.
    ///
    /// # Errors
    /// A negative load; a return temperature outside 0 to 110 degC.
    pub fn run(&self, load: Power, return_water: Temperature) -> Result<BoilerState, PlantError> {
        let asked = not_negative("boiler load in W", load.si())?;
        let t = within("boiler return water in degC", return_water.si(), 0.0, 110.0)?;
        let mut limits = Limits::NONE;
        let heat = asked.min(self.capacity.si());
        if heat < asked {
            limits.add(Limit::Capacity);
        }
        let mut edge = |points: &[(f64, f64)], x: f64| {
            interpolate(points, x).unwrap_or_else(|| {
                limits.add(Limit::OutsideRatedRange);
                if x < points[0].0 { points[0].1 } else { points[points.len() - 1].1 }
            })
        };
        let efficiency = match &self.efficiency {
            BoilerEfficiency::Constant(e) => *e,
            BoilerEfficiency::ByLoad(p) => edge(p, heat / self.capacity.si()),
            BoilerEfficiency::ByReturn(p) => edge(p, t),
            BoilerEfficiency::Electric => 1.0,
        };
        let carrier = match self.efficiency {
            BoilerEfficiency::Electric => Carrier::Electricity,
            _ => Carrier::Fuel,
        };
        Ok(BoilerState {
            heat: Power::watts(heat),
            unmet: Power::watts(asked - heat),
            input: Power::watts(heat / efficiency),
            carrier,
            efficiency,
            limits,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn phys_limits_are_data_and_nonsense_is_refused() {
        let b = Boiler::new(Power::watts(100e3), BoilerEfficiency::Constant(0.8)).unwrap();
        let s = b.run(Power::watts(150e3), Temperature::celsius(60.0)).unwrap();
        assert!(s.limits.has(Limit::Capacity));
        assert_eq!((s.heat.si(), s.unmet.si(), s.input.si()), (100e3, 50e3, 125e3));
        assert!(Boiler::new(Power::watts(1e3), BoilerEfficiency::Constant(1.1)).is_err());
        assert!(
            Boiler::new(Power::watts(1e3), BoilerEfficiency::ByLoad(vec![(1.0, 0.8), (0.5, 0.8)])).is_err()
        );
        assert!(b.run(Power::watts(-1.0), Temperature::celsius(60.0)).is_err());
        let e = Boiler::new(Power::watts(1e3), BoilerEfficiency::Electric).unwrap();
        let s = e.run(Power::watts(700.0), Temperature::celsius(60.0)).unwrap();
        assert_eq!((s.input.si(), s.carrier), (700.0, Carrier::Electricity));
    }

    #[test]
    fn phys_edge_of_the_curve_is_held_and_flagged() {
        let b = Boiler::new(Power::watts(1e5), BoilerEfficiency::ByReturn(vec![(30.0, 0.96), (80.0, 0.86)]))
            .unwrap();
        let cold = b.run(Power::watts(1e4), Temperature::celsius(20.0)).unwrap();
        assert!(cold.limits.has(Limit::OutsideRatedRange) && cold.efficiency == 0.96);
        let mid = b.run(Power::watts(1e4), Temperature::celsius(55.0)).unwrap();
        assert!(mid.limits.is_empty() && (mid.efficiency - 0.91).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn phys_input_never_below_heat(load in 0.0f64..2e5, t in 0.0f64..100.0, e in 0.5f64..1.0) {
            let b = Boiler::new(Power::watts(1e5), BoilerEfficiency::ByLoad(vec![(0.1, e), (1.0, 0.85)])).unwrap();
            let s = b.run(Power::watts(load), Temperature::celsius(t)).unwrap();
            prop_assert!(s.input.si() >= s.heat.si());
            prop_assert!((s.heat.si() + s.unmet.si() - load).abs() <= 1e-9 * load.max(1.0));
        }
    }
}
