//! Waterside economizer in integrated mode: a plate exchanger ahead of the chiller cools the return of a loop with
//! tower water and takes as much of the load as the tower allows; the chiller takes the rest.

use crate::error::{PlantError, component, not_negative, positive, within};
use crate::solve;
use drycoil_exchange::effectiveness::{FlowArrangement, effectiveness};
use drycoil_units::{Conductance, Power, Quantity, Temperature};

/// The plate exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateExchanger {
    /// Heat transfer conductance.
    pub conductance: Conductance,
    /// Mass flow times specific heat on the tower side.
    pub tower_capacity_rate: Conductance,
}

/// The loop to be cooled at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EconomizerDemand {
    /// Load of the loop.
    pub load: Power,
    /// Water coming back.
    pub return_water: Temperature,
    /// Supply wanted; colder than the return.
    pub supply: Temperature,
}

/// Share of a load that the economizer takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EconomizerState {
    /// Heat taken by the economizer.
    pub economizer_load: Power,
    /// Heat left to the chiller.
    pub chiller_load: Power,
    /// Heat taken over the whole load; 0 when there is no load.
    pub share: f64,
    /// Loop water after the exchanger, entering the chiller.
    pub after_exchanger: Temperature,
    /// Tower water entering the exchanger.
    pub tower_water: Temperature,
    /// Tower water leaving the exchanger.
    pub tower_return: Temperature,
    /// Effectiveness of the exchanger at these flows.
    pub effectiveness: f64,
    /// Heat balance left over.
    pub residual: Power,
    /// Steps taken.
    pub count: u32,
}

impl PlateExchanger {
    /// Sized so that at design the loop water leaves this close to the entering tower water, with equal capacity
    /// rates on both sides and counterflow: effectiveness is `(return - leaving) / (return - tower)`.
    ///
    /// # Errors
    /// Temperatures that do not fall from return to supply to tower water, a load that is not above zero.
    pub fn for_design(
        load: Power,
        return_water: Temperature,
        supply: Temperature,
        tower_water: Temperature,
    ) -> Result<Self, PlantError> {
        let q = positive("economizer design load in W", load.si())?;
        let range = positive("return less supply in K", return_water.si() - supply.si())?;
        let approach = positive("supply less tower water in K", supply.si() - tower_water.si())?;
        let rate = q / range;
        // Counterflow with equal capacity rates: effectiveness = NTU / (1 + NTU).
        let effect = range / (range + approach);
        let ntu = effect / (1.0 - effect);
        Ok(Self {
            conductance: Conductance::from_si(ntu * rate),
            tower_capacity_rate: Conductance::from_si(rate),
        })
    }

    /// Runs the economizer. `tower_water` gives the water temperature that the tower makes for a heat flow; it must
    /// not fall with the heat.
    ///
    /// ```
    /// use drycoil_plant::economizer::{EconomizerDemand, PlateExchanger};
    /// use drycoil_units::{Power, Temperature};
    /// let (ret, sup) = (Temperature::fahrenheit(65.0), Temperature::fahrenheit(55.0));
    /// let plate = PlateExchanger::for_design(Power::watts(300e3), ret, sup, Temperature::fahrenheit(52.0))?;
    /// let demand = EconomizerDemand { load: Power::watts(300e3), return_water: ret, supply: sup };
    /// let cold = plate.run(&demand, |_| Ok(Temperature::fahrenheit(52.0)))?;
    /// assert!((cold.share - 1.0).abs() < 1e-9);
    /// let mild = plate.run(&demand, |_| Ok(Temperature::fahrenheit(60.0)))?;
    /// assert!(mild.share > 0.3 && mild.share < 0.5);
    /// # Ok::<(), drycoil_plant::PlantError>(())
    /// ```
    ///
    /// # Errors
    /// A negative load, a supply that is not colder than the return, the tower's own error, no balance found.
    pub fn run(
        &self,
        demand: &EconomizerDemand,
        mut tower_water: impl FnMut(Power) -> Result<Temperature, PlantError>,
    ) -> Result<EconomizerState, PlantError> {
        let q = not_negative("economizer load in W", demand.load.si())?;
        let ua = positive("conductance of the plate exchanger in W/K", self.conductance.si())?;
        let c_tower = positive("tower-side capacity rate in W/K", self.tower_capacity_rate.si())?;
        let t_return = within("return water in degC", demand.return_water.si(), 0.0, 60.0)?;
        let range = t_return - within("supply water in degC", demand.supply.si(), 0.0, 60.0)?;
        positive("return less supply in K", range)?;
        if q == 0.0 {
            let t = tower_water(demand.load)?;
            return Ok(EconomizerState {
                economizer_load: demand.load,
                chiller_load: demand.load,
                share: 0.0,
                after_exchanger: demand.return_water,
                tower_water: t,
                tower_return: t,
                effectiveness: 0.0,
                residual: Power::watts(0.0),
                count: 0,
            });
        }
        let c_loop = q / range;
        let (small, large) = (c_loop.min(c_tower), c_loop.max(c_tower));
        let effect = effectiveness(FlowArrangement::Counterflow, ua / small, small / large)
            .map_err(component("plate exchanger"))?;
        let able = |t: f64| effect * small * (t_return - t);
        let mut excess =
            |x: f64| -> Result<f64, PlantError> { Ok(able(tower_water(Power::watts(x))?.si()) - x) };
        let (taken, residual, count) = if excess(0.0)? <= 0.0 {
            (0.0, 0.0, 1)
        } else if excess(q)? >= 0.0 {
            (q, 0.0, 2)
        } else {
            let root = solve::root("economizer share", 0.0, q, 1e-9 * q, excess)?;
            (root.x, root.residual, root.iterations)
        };
        let t = tower_water(Power::watts(taken))?;
        Ok(EconomizerState {
            economizer_load: Power::watts(taken),
            chiller_load: Power::watts(q - taken),
            share: taken / q,
            after_exchanger: Temperature::from_si(t_return - taken / c_loop),
            tower_water: t,
            tower_return: Temperature::from_si(t.si() + taken / c_tower),
            effectiveness: effect,
            residual: Power::watts(residual),
            count,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn demand(q: f64, ret: f64, sup: f64) -> EconomizerDemand {
        EconomizerDemand {
            load: Power::watts(q),
            return_water: Temperature::celsius(ret),
            supply: Temperature::celsius(sup),
        }
    }

    #[test]
    fn phys_warm_loop_gets_more_than_cold_loop() {
        let c = |x| Temperature::celsius(x);
        let plate = PlateExchanger::for_design(Power::watts(4e5), c(18.0), c(13.0), c(11.5)).unwrap();
        let tower = |q: Power| Ok(Temperature::celsius(9.0 + 4.0 * q.si() / 4e5));
        let warm = plate.run(&demand(3e5, 18.0, 12.8), tower).unwrap();
        let cold = plate.run(&demand(3e5, 12.8, 5.6), tower).unwrap();
        assert!(warm.share > 0.9 && cold.share > 0.0 && cold.share < 0.5, "{} {}", warm.share, cold.share);
        let none = plate.run(&demand(3e5, 8.0, 5.0), tower).unwrap();
        assert_eq!((none.share, none.chiller_load.si()), (0.0, 3e5));
        assert!(plate.run(&demand(3e5, 8.0, 9.0), tower).is_err());
    }

    proptest! {
        #[test]
        fn phys_balance_closes_and_second_law_holds(
            q in 1e3f64..6e5, ret in 10.0f64..22.0, range in 2.0f64..9.0, base in 0.0f64..24.0, slope in 0.0f64..8.0,
        ) {
            let c = |x| Temperature::celsius(x);
            let plate = PlateExchanger::for_design(Power::watts(4e5), c(18.0), c(13.0), c(11.5)).unwrap();
            let s = plate.run(&demand(q, ret, ret - range), |x| Ok(c(base + slope * x.si() / 4e5))).unwrap();
            prop_assert!(s.share >= 0.0 && s.share <= 1.0);
            prop_assert!((s.economizer_load.si() + s.chiller_load.si() - q).abs() <= 1e-9 * q);
            let c_loop = q / range;
            let loop_side = c_loop * (ret - s.after_exchanger.si());
            let tower_side = plate.tower_capacity_rate.si() * (s.tower_return.si() - s.tower_water.si());
            prop_assert!((loop_side - tower_side).abs() <= 1e-6 * q);
            prop_assert!(s.residual.si().abs() <= 1e-6 * q);
            if s.share > 0.0 {
                prop_assert!(s.after_exchanger.si() >= s.tower_water.si() - 1e-9);
                prop_assert!(s.tower_return.si() <= ret + 1e-9);
            }
        }
    }
}
