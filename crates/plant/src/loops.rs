//! The three ways to join the primary-air unit and the terminals to cold water, at steady state.
//!
//! * single cold loop: one cold plant; the terminals' supply is blended from cold water and their own return;
//! * separate plants: a cold plant for drying and a warm plant for the terminals;
//! * return reuse: the primary-air unit's return becomes the terminals' supply through a blending valve, with the
//!   least make-up from the cold loop when that return is too little or too warm.
//!
//! With return reuse every ton is made at the cold temperature: the arrangement saves flow and widens the
//! temperature difference, it does not earn the warm-water lift. The result says at which temperature each ton is
//! made, so that no gain is credited twice.
//!
//! ```
//! use drycoil_plant::loops::{Arrangement, LoopDemand, solve};
//! use drycoil_units::{MassFlow, Power, SpecificHeat, Temperature};
//! let demand = LoopDemand {
//!     drying_load: Power::watts(200e3),
//!     drying_flow: MassFlow::kg_per_s(6.5),
//!     sensible_load: Power::watts(120e3),
//!     sensible_flow: MassFlow::kg_per_s(9.0),
//!     cold_supply: Temperature::celsius(5.5),
//!     sensible_supply: Temperature::celsius(12.8),
//!     cold_loop_gain: Power::watts(0.0),
//!     sensible_loop_gain: Power::watts(0.0),
//!     specific_heat: SpecificHeat::j_per_kg_k(4190.0),
//! };
//! let single = solve(Arrangement::SingleColdLoop, &demand)?;
//! let reuse = solve(Arrangement::ReturnReuse, &demand)?;
//! assert!((reuse.cold_plant.load.to_watts() - single.cold_plant.load.to_watts()).abs() < 1e-6);
//! assert!(reuse.cold_plant.flow < single.cold_plant.flow);
//! # Ok::<(), drycoil_plant::PlantError>(())
//! ```

use crate::error::{PlantError, not_negative, positive, within};
use crate::limits::{Limit, Limits};
use crate::solve as search;
use drycoil_units::{MassFlow, Power, Quantity, SpecificHeat, Temperature};

/// How the loads are joined to the plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Arrangement {
    /// One cold plant; terminals blended down from it.
    SingleColdLoop,
    /// A cold plant for drying, a warm plant for the terminals.
    SeparatePlants,
    /// The drying coil's return supplies the terminals.
    ReturnReuse,
}

/// What the loops must carry at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopDemand {
    /// Heat taken up by the drying coil of the primary-air unit.
    pub drying_load: Power,
    /// Water flow of the drying coil.
    pub drying_flow: MassFlow,
    /// Heat taken up by the terminals.
    pub sensible_load: Power,
    /// Water flow of the terminals.
    pub sensible_flow: MassFlow,
    /// Supply temperature of the cold plant.
    pub cold_supply: Temperature,
    /// Supply temperature of the terminals.
    pub sensible_supply: Temperature,
    /// Pump heat and pipe gains of the cold loop, entering before the plant.
    pub cold_loop_gain: Power,
    /// Pump heat and pipe gains of the terminals' loop, entering its return.
    pub sensible_loop_gain: Power,
    /// Specific heat of water, one value for all loops so that the balance closes.
    pub specific_heat: SpecificHeat,
}

/// One plant side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlantSide {
    /// Water through the plant.
    pub flow: MassFlow,
    /// Leaving the plant.
    pub supply: Temperature,
    /// Entering the plant, loop gains included.
    pub return_water: Temperature,
    /// Heat removed: flow, specific heat and temperature difference.
    pub load: Power,
}

/// The loops at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopState {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Water leaving the drying coil.
    pub drying_return: Temperature,
    /// Water leaving the terminals, loop gain included.
    pub sensible_return: Temperature,
    /// Drying return that supplies the terminals.
    pub reused_flow: MassFlow,
    /// Cold water blended into the terminals' supply.
    pub make_up_flow: MassFlow,
    /// Terminals' own return blended into their supply.
    pub recirculated_flow: MassFlow,
    /// The plant at the cold temperature: heat made there.
    pub cold_plant: PlantSide,
    /// The plant at the terminals' supply temperature; no flow and no load unless the plants are separate.
    pub warm_plant: PlantSide,
    /// Why cold make-up was needed, with return reuse.
    pub limits: Limits,
    /// Heat removed by the plants less loads and gains.
    pub residual: Power,
    /// Steps taken; 1 where the balance is solved in closed form.
    pub count: u32,
}

struct Stream {
    flow: f64,
    t: f64,
}

fn mix(streams: &[Stream], otherwise: f64) -> f64 {
    let flow: f64 = streams.iter().map(|s| s.flow).sum();
    if flow > 0.0 { streams.iter().map(|s| s.flow * s.t).sum::<f64>() / flow } else { otherwise }
}

/// Temperature after a load; a load without flow contradicts itself.
fn after(what: &'static str, t: f64, load: f64, flow: f64, c: f64) -> Result<f64, PlantError> {
    if flow > 0.0 {
        Ok(t + load / (flow * c))
    } else if load == 0.0 {
        Ok(t)
    } else {
        Err(PlantError::Contradiction { what, value: load, limit: 0.0 })
    }
}

fn side(flow: f64, supply: f64, return_c: f64, c: f64) -> PlantSide {
    PlantSide {
        flow: MassFlow::kg_per_s(flow),
        supply: Temperature::from_si(supply),
        return_water: Temperature::from_si(return_c),
        load: Power::watts(flow * c * (return_c - supply)),
    }
}

/// Solves flows and temperatures of an arrangement.
///
/// # Errors
/// A negative load, flow or gain; a load without flow; terminals' supply colder than the cold supply where it is
/// blended from it; a temperature outside 0 to 60 degC.
pub fn solve(arrangement: Arrangement, demand: &LoopDemand) -> Result<LoopState, PlantError> {
    let q_d = not_negative("drying load in W", demand.drying_load.si())?;
    let m_d = not_negative("drying flow in kg/s", demand.drying_flow.si())?;
    let q_s = not_negative("sensible load in W", demand.sensible_load.si())?;
    let m_s = not_negative("sensible flow in kg/s", demand.sensible_flow.si())?;
    let gain_c = not_negative("gain of the cold loop in W", demand.cold_loop_gain.si())?;
    let gain_s = not_negative("gain of the sensible loop in W", demand.sensible_loop_gain.si())?;
    let t_c = within("cold supply in degC", demand.cold_supply.si(), 0.0, 60.0)?;
    let t_s = within("sensible supply in degC", demand.sensible_supply.si(), 0.0, 60.0)?;
    let c = positive("specific heat of water in J/kgK", demand.specific_heat.si())?;

    let t_d = after("drying load in W without drying flow", t_c, q_d, m_d, c)?;
    let t_r = after("sensible load in W without sensible flow", t_s, q_s + gain_s, m_s, c)?;
    // Cooling that the terminals' supply must bring, in kg/s K.
    let need = m_s * (t_r - t_s);
    let mut limits = Limits::NONE;

    if arrangement == Arrangement::SeparatePlants {
        let cold_return = after("gain in W of a cold loop without flow", t_d, gain_c, m_d, c)?;
        let cold = side(m_d, t_c, cold_return, c);
        let warm = side(m_s, t_s, t_r, c);
        let residual = cold.load.si() + warm.load.si() - (q_d + q_s + gain_c + gain_s);
        return Ok(LoopState {
            arrangement,
            drying_return: Temperature::from_si(t_d),
            sensible_return: Temperature::from_si(t_r),
            reused_flow: MassFlow::kg_per_s(0.0),
            make_up_flow: MassFlow::kg_per_s(0.0),
            recirculated_flow: MassFlow::kg_per_s(0.0),
            cold_plant: cold,
            warm_plant: warm,
            limits,
            residual: Power::watts(residual),
            count: 1,
        });
    }

    if need > 0.0 && t_s < t_c {
        return Err(PlantError::Contradiction {
            what: "the terminals' supply in degC is colder than the cold supply it is blended from",
            value: t_s,
            limit: t_c,
        });
    }
    let (mut reused, mut make_up) = (0.0, 0.0);
    if need > 0.0 {
        if arrangement == Arrangement::ReturnReuse && t_d < t_r {
            // As much of the drying return as there is, as is needed, and as leaves the blend cold enough.
            let enough = need / (t_r - t_d);
            let cold_enough = if t_d > t_c { m_s * (t_s - t_c) / (t_d - t_c) } else { f64::INFINITY };
            reused = m_d.min(enough).min(cold_enough);
        }
        make_up = ((need - reused * (t_r - t_d)) / (t_r - t_c)).max(0.0);
        // Rounding of an exact fit is not a make-up.
        if make_up * (t_r - t_c) <= 1e-13 * need {
            make_up = 0.0;
        }
        if arrangement == Arrangement::ReturnReuse && make_up > 0.0 {
            limits.add(if t_d > t_s { Limit::ReturnTooWarm } else { Limit::ReturnTooLittle });
        }
    }
    let recirculated = (m_s - reused - make_up).max(0.0);
    let plant_flow = m_d + make_up;
    let mixed = mix(&[Stream { flow: m_d - reused, t: t_d }, Stream { flow: reused + make_up, t: t_r }], t_c);
    let cold_return = after("gain in W of a cold loop without flow", mixed, gain_c, plant_flow, c)?;
    let cold = side(plant_flow, t_c, cold_return, c);
    let idle = side(0.0, t_s, t_s, c);
    Ok(LoopState {
        arrangement,
        drying_return: Temperature::from_si(t_d),
        sensible_return: Temperature::from_si(t_r),
        reused_flow: MassFlow::kg_per_s(reused),
        make_up_flow: MassFlow::kg_per_s(make_up),
        recirculated_flow: MassFlow::kg_per_s(recirculated),
        cold_plant: cold,
        warm_plant: idle,
        limits,
        residual: Power::watts(cold.load.si() - (q_d + q_s + gain_c + gain_s)),
        count: 1,
    })
}

/// The loops when the cold plant has a capacity: where the demand at its set point is more, the cold supply floats
/// up until what the coils take equals the capacity. `demand` gives the demand at a cold supply temperature; it must
/// not rise with it.
///
/// # Errors
/// As [`solve`]; the demand still exceeds the capacity at the warmest supply allowed; no balance found.
pub fn solve_with_capacity(
    arrangement: Arrangement,
    cold_capacity: Power,
    set_point: Temperature,
    warmest: Temperature,
    mut demand: impl FnMut(Temperature) -> Result<LoopDemand, PlantError>,
) -> Result<LoopState, PlantError> {
    let capacity = positive("capacity of the cold plant in W", cold_capacity.si())?;
    let mut at = |t: f64| -> Result<LoopState, PlantError> {
        let t = Temperature::from_si(t);
        solve(arrangement, &LoopDemand { cold_supply: t, ..demand(t)? })
    };
    let mut state = at(set_point.si())?;
    if state.cold_plant.load.si() <= capacity {
        return Ok(state);
    }
    let excess = at(warmest.si())?.cold_plant.load.si() - capacity;
    if excess > 0.0 {
        return Err(PlantError::Contradiction {
            what: "the cold plant is too small even at the warmest supply allowed, W needed against",
            value: excess + capacity,
            limit: capacity,
        });
    }
    let root = search::root("cold supply temperature", set_point.si(), warmest.si(), 1e-9 * capacity, |t| {
        Ok(at(t)?.cold_plant.load.si() - capacity)
    })?;
    state = at(root.x)?;
    state.limits.add(Limit::Capacity);
    state.count += root.iterations;
    Ok(state)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn demand(q_d: f64, m_d: f64, q_s: f64, m_s: f64) -> LoopDemand {
        LoopDemand {
            drying_load: Power::watts(q_d),
            drying_flow: MassFlow::kg_per_s(m_d),
            sensible_load: Power::watts(q_s),
            sensible_flow: MassFlow::kg_per_s(m_s),
            cold_supply: Temperature::fahrenheit(42.0),
            sensible_supply: Temperature::fahrenheit(55.0),
            cold_loop_gain: Power::watts(0.0),
            sensible_loop_gain: Power::watts(0.0),
            specific_heat: SpecificHeat::from_si(4190.0),
        }
    }

    #[test]
    fn phys_exact_reuse_needs_neither_make_up_nor_recirculation() {
        // Return of the drying coil exactly at the terminals' supply, flows equal.
        let rise = 13.0 / 1.8;
        let d = demand(5.0 * 4190.0 * rise, 5.0, 60e3, 5.0);
        let s = solve(Arrangement::ReturnReuse, &d).unwrap();
        assert!((s.drying_return.to_fahrenheit() - 55.0).abs() < 1e-9);
        assert!((s.reused_flow.si() - 5.0).abs() < 1e-9);
        assert_eq!(s.make_up_flow.si(), 0.0);
        assert!(s.limits.is_empty());
        assert!((s.cold_plant.flow.si() - 5.0).abs() < 1e-12);
        // The same with a single loop moves more water through the plant.
        let one = solve(Arrangement::SingleColdLoop, &d).unwrap();
        assert!(one.cold_plant.flow.si() > 5.5);
        // And all of it is made cold: nothing warm to credit.
        assert_eq!(s.warm_plant.load.si(), 0.0);
    }

    #[test]
    fn phys_make_up_has_its_reason() {
        let little = solve(Arrangement::ReturnReuse, &demand(20e3, 1.0, 120e3, 8.0)).unwrap();
        assert!(little.limits.has(Limit::ReturnTooLittle) && little.make_up_flow.si() > 0.0);
        assert!((little.reused_flow.si() - 1.0).abs() < 1e-12);
        let warm = solve(Arrangement::ReturnReuse, &demand(200e3, 4.5, 120e3, 8.0)).unwrap();
        assert!(warm.drying_return.to_fahrenheit() > 55.0);
        assert!(warm.limits.has(Limit::ReturnTooWarm) && warm.make_up_flow.si() > 0.0);
    }

    #[test]
    fn phys_separate_plants_make_each_load_at_its_temperature() {
        let s = solve(Arrangement::SeparatePlants, &demand(150e3, 5.0, 90e3, 8.0)).unwrap();
        assert!((s.cold_plant.load.si() - 150e3).abs() < 1e-6);
        assert!((s.warm_plant.load.si() - 90e3).abs() < 1e-6);
        assert!((s.warm_plant.supply.to_fahrenheit() - 55.0).abs() < 1e-12);
    }

    #[test]
    fn phys_contradictions_are_refused() {
        assert!(solve(Arrangement::SingleColdLoop, &demand(1e3, 0.0, 0.0, 0.0)).is_err());
        let mut d = demand(1e3, 1.0, 1e3, 1.0);
        d.sensible_supply = Temperature::celsius(2.0);
        assert!(solve(Arrangement::ReturnReuse, &d).is_err());
        assert!(solve(Arrangement::SeparatePlants, &d).is_ok());
        d.drying_load = Power::watts(f64::NAN);
        assert!(solve(Arrangement::SeparatePlants, &d).is_err());
        let idle = solve(Arrangement::ReturnReuse, &demand(0.0, 0.0, 0.0, 0.0)).unwrap();
        assert_eq!(idle.cold_plant.load.si(), 0.0);
    }

    #[test]
    fn phys_cold_supply_floats_to_the_capacity() {
        let response = |t: Temperature| {
            let mut d = demand(0.0, 5.0, 60e3, 6.0);
            d.drying_load = Power::watts((20e3 * (22.0 - t.si())).max(0.0));
            Ok(d)
        };
        let capacity = Power::watts(330e3);
        let set = Temperature::fahrenheit(42.0);
        let s = solve_with_capacity(
            Arrangement::ReturnReuse,
            capacity,
            set,
            Temperature::celsius(12.0),
            response,
        )
        .unwrap();
        assert!(s.limits.has(Limit::Capacity) && s.count > 1);
        assert!((s.cold_plant.load.si() - 330e3).abs() < 1e-3);
        assert!((s.cold_plant.supply.si() - (22.0 - 270.0 / 20.0)).abs() < 1e-6);
        assert!(
            solve_with_capacity(
                Arrangement::ReturnReuse,
                Power::watts(50e3),
                set,
                Temperature::celsius(12.0),
                response
            )
            .is_err()
        );
    }

    proptest! {
        #[test]
        fn phys_heat_balance_closes_in_every_arrangement(
            q_d in 0.0f64..800e3, m_d in 0.05f64..40.0, q_s in 0.0f64..800e3, m_s in 0.05f64..60.0,
            t_c in 3.0f64..9.0, above in 0.0f64..12.0, g_c in 0.0f64..2e4, g_s in 0.0f64..2e4,
        ) {
            let d = LoopDemand {
                cold_supply: Temperature::celsius(t_c),
                sensible_supply: Temperature::celsius(t_c + above),
                cold_loop_gain: Power::watts(g_c),
                sensible_loop_gain: Power::watts(g_s),
                ..demand(q_d, m_d, q_s, m_s)
            };
            let total = q_d + q_s + g_c + g_s;
            let c = 4190.0;
            for a in [Arrangement::SingleColdLoop, Arrangement::SeparatePlants, Arrangement::ReturnReuse] {
                let s = solve(a, &d).unwrap();
                prop_assert!(s.residual.si().abs() <= 1e-9 * total.max(1.0), "{a:?} {}", s.residual.si());
                prop_assert!((s.cold_plant.load.si() + s.warm_plant.load.si() - total).abs() <= 1e-9 * total.max(1.0));
                let (r, u, b) = (s.make_up_flow.si(), s.reused_flow.si(), s.recirculated_flow.si());
                prop_assert!(r >= 0.0 && u >= 0.0 && b >= 0.0 && u <= m_d * (1.0 + 1e-12));
                if a == Arrangement::SeparatePlants {
                    continue;
                }
                // The blend has the flow and temperature of the terminals' supply.
                prop_assert!((r + u + b - m_s).abs() <= 1e-9 * m_s);
                let heat = c * (r * t_c + u * s.drying_return.si() + b * s.sensible_return.si() - m_s * (t_c + above));
                prop_assert!(heat.abs() <= 1e-9 * (c * m_s * s.sensible_return.si().max(1.0)).max(total), "{heat}");
                // Every ton is made cold.
                prop_assert!(s.warm_plant.load.si() == 0.0);
                prop_assert!(s.cold_plant.supply.si() == t_c);
            }
            // Reuse never moves more water through the plant than blending from the cold loop alone.
            let one = solve(Arrangement::SingleColdLoop, &d).unwrap();
            let reuse = solve(Arrangement::ReturnReuse, &d).unwrap();
            prop_assert!(reuse.cold_plant.flow.si() <= one.cold_plant.flow.si() * (1.0 + 1e-12));
        }
    }
}
