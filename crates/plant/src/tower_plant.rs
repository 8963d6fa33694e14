//! Cooling tower with its fan: sized at design, then run to a set point of cold water at any wet bulb. The approach
//! follows from the tower's size and the weather, never from a constant.
//!
//! With the fan off a stated share of the design air still passes. Where even that cools below the set point, the
//! air (or, the same in effect, the water through the fill) is throttled to hold it.

use crate::air_point::AirPoint;
use crate::chiller::{Chiller, ChillerState, Condenser};
use crate::error::{PlantError, component, not_negative, positive, within};
use crate::limits::{Limit, Limits};
use crate::solve;
use drycoil_air::raw;
use drycoil_exchange::ExchangeError;
use drycoil_exchange::tower::{
    CP_WATER_J_PER_KG_K, Tower, TowerDuty, TowerResult, WaterBalance, raw as tower_raw, water_balance,
};
use drycoil_units::{Conductance, MassFlow, Power, Pressure, Quantity, Temperature, TemperatureDifference};

/// Speed control of the tower fan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TowerFanControl {
    /// On or off.
    SingleSpeed,
    /// Off, low or full, each part of the time.
    TwoSpeed {
        /// Low over full speed.
        low: f64,
    },
    /// Any speed from the lowest up; below it, part of the time.
    VariableSpeed {
        /// Lowest over full speed.
        lowest: f64,
    },
}

/// What a tower is sized for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TowerDesign {
    /// Heat to reject.
    pub heat: Power,
    /// Wet bulb of the entering air.
    pub wet_bulb: Temperature,
    /// Cold water less wet bulb.
    pub approach: TemperatureDifference,
    /// Hot less cold water.
    pub range: TemperatureDifference,
    /// Water over dry air by mass.
    pub water_to_air: f64,
    /// Exponent of the tower's size in that ratio.
    pub exponent: f64,
    /// Pressure.
    pub pressure: Pressure,
    /// Fan power over heat rejected at design.
    pub fan_power_share: f64,
    /// Fan control.
    pub fan: TowerFanControl,
    /// Air with the fan off over design air.
    pub fan_off_share: f64,
    /// Droplets carried off over water flow.
    pub drift_share: f64,
    /// Cycles of concentration.
    pub cycles: f64,
}

impl TowerDesign {
    /// Usual values around a heat and a wet bulb: approach 7 degF, range 10 degF, water to air 1.2, exponent 0.6, fan
    /// power 1.2 % of the heat, 15 % air with the fan off, drift 0.002 %, four cycles (common practice, no source).
    pub fn usual(heat: Power, wet_bulb: Temperature, pressure: Pressure) -> Self {
        Self {
            heat,
            wet_bulb,
            approach: TemperatureDifference::fahrenheit(7.0),
            range: TemperatureDifference::fahrenheit(10.0),
            water_to_air: 1.2,
            exponent: 0.6,
            pressure,
            fan_power_share: 0.012,
            fan: TowerFanControl::VariableSpeed { lowest: 0.25 },
            fan_off_share: 0.15,
            drift_share: 2e-5,
            cycles: 4.0,
        }
    }
}

/// How the size integral is taken when the tower runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TowerIntegral {
    /// Adaptive quadrature: the reference.
    Adaptive,
    /// Chebyshev's four points: within 0.1 % of the size for usual towers, some hundred times faster; for year loops.
    FourPoints,
}

/// A sized tower.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TowerPlant {
    /// How the integral is taken in [`run`](Self::run); adaptive after [`size`](Self::size).
    pub integral: TowerIntegral,
    /// What it was sized for.
    pub design: TowerDesign,
    /// Its law of size.
    pub tower: Tower,
    /// Water flow at design.
    pub water_flow: MassFlow,
    /// Dry-air flow at design.
    pub air_flow: MassFlow,
    /// Fan power at full speed.
    pub fan_power: Power,
    /// Size at design, KaV/L.
    pub kav_over_l: f64,
}

/// A tower at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TowerPlantState {
    /// Heat rejected.
    pub heat: Power,
    /// Cold water, mean over the time.
    pub cold: Temperature,
    /// Hot water.
    pub hot: Temperature,
    /// Wet bulb of the entering air.
    pub wet_bulb: Temperature,
    /// Cold water less wet bulb.
    pub approach: TemperatureDifference,
    /// Air over design air, mean over the time.
    pub air_share: f64,
    /// Fan power, mean over the time.
    pub fan_power: Power,
    /// Evaporation, drift, bleed and make-up.
    pub water: WaterBalance,
    /// Limits reached.
    pub limits: Limits,
    /// Cold water less set point, where the fan holds it; K.
    pub residual_k: f64,
    /// Steps taken.
    pub count: u32,
}

struct Point {
    cold: f64,
    evaporation: f64,
}

struct Run<'a> {
    plant: &'a TowerPlant,
    duty: TowerDuty,
    wet_bulb_c: f64,
    cp_evaporation: f64,
}

impl Run<'_> {
    fn solve(&self, share: f64) -> Result<TowerResult, ExchangeError> {
        let dry_air = self.plant.air_flow * share;
        self.plant.tower.solve(&TowerDuty { dry_air, ..self.duty })
    }

    /// Cold water at a share of the design air. Water that would freeze or boil counts with its temperature, so that a
    /// control can turn away from it.
    fn at(&self, share: f64) -> Result<Point, PlantError> {
        if self.plant.integral == TowerIntegral::FourPoints {
            return self.by_four_points(share);
        }
        match self.solve(share) {
            Ok(r) => Ok(Point { cold: r.cold.si(), evaporation: r.evaporation.si() }),
            Err(ExchangeError::OutOfRange { what: "cold water of the tower", value, .. }) => {
                Ok(Point { cold: value, evaporation: self.cp_evaporation })
            }
            Err(ExchangeError::OutOfReach { nearest, .. }) => {
                Ok(Point { cold: nearest, evaporation: self.cp_evaporation })
            }
            Err(e) => Err(component("cooling tower")(e)),
        }
    }

    fn by_four_points(&self, share: f64) -> Result<Point, PlantError> {
        let d = &self.duty;
        let (p, l, q) = (d.pressure.si(), d.water.si(), d.heat.si());
        let g = self.plant.air_flow.si() * share;
        let ratio = within("ratio of water to air", l / g, 0.05, 10.0)?;
        let range = within("range of the tower in K", q / (l * CP_WATER_J_PER_KG_K), 0.0, 50.0)?;
        let h_in = raw::saturation_enthalpy_j_per_kg(self.wet_bulb_c, p);
        let target = self.plant.tower.kav_over_l(ratio);
        let gap = |cold: f64| {
            let (size, force) = tower_raw::chebyshev(cold + range, cold, h_in, ratio, p);
            // A driving force that is not positive: colder than any tower makes it.
            if force.iter().any(|f| *f <= 0.0) { -1.0 } else { (target - size) / (target + size) }
        };
        let high = 75.0 - range;
        if gap(high) < 0.0 {
            return Ok(Point { cold: high, evaporation: self.cp_evaporation });
        }
        let root =
            solve::root("cold water of the tower", self.wet_bulb_c.min(high), high, 1e-10, |t| Ok(gap(t)))?;
        // Leaving air is saturated at the enthalpy that it took up.
        let h_out = raw::enthalpy_j_per_kg(d.air.dry_bulb.si(), d.air.humidity_ratio.si()) + q / g;
        let leaving =
            solve::root("leaving air of the tower", -60.0, 90.0, 1e-9 * h_out.abs().max(1e3), |t| {
                Ok(raw::saturation_enthalpy_j_per_kg(t, p) - h_out)
            })?;
        let w_out = raw::saturation_humidity_ratio(leaving.x, p);
        Ok(Point { cold: root.x, evaporation: g * (w_out - d.air.humidity_ratio.si()) })
    }

    fn cold(&self, share: f64) -> Result<f64, PlantError> {
        Ok(self.at(share)?.cold)
    }
}

impl TowerPlant {
    /// Sizes a tower: water from heat and range, air from the ratio, size from Merkel's integral at design.
    ///
    /// ```
    /// use drycoil_plant::tower_plant::{TowerDesign, TowerPlant};
    /// use drycoil_exchange::bypass::AirPoint;
    /// use drycoil_units::{Power, Pressure, Temperature};
    /// let p = Pressure::pascals(101_325.0);
    /// let design = TowerDesign::usual(Power::watts(1.2e6), Temperature::fahrenheit(78.0), p);
    /// let tower = TowerPlant::size(design)?;
    /// let air = AirPoint::saturated(Temperature::fahrenheit(60.0), p)?;
    /// let mild = tower.run(Power::watts(1.2e6), tower.water_flow, air, p, Temperature::fahrenheit(60.0))?;
    /// // At 60 degF wet bulb the approach is 12 degF, not 7.
    /// assert!(mild.approach.to_fahrenheit() > 12.0 && mild.approach.to_fahrenheit() < 12.6);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A value out of range; a state no tower reaches.
    pub fn size(design: TowerDesign) -> Result<Self, PlantError> {
        let q = positive("heat to reject in W", design.heat.si())?;
        let range = within("range of the tower in K", design.range.si(), 0.5, 30.0)?;
        let approach = within("approach of the tower in K", design.approach.si(), 0.5, 30.0)?;
        let ratio = within("ratio of water to air", design.water_to_air, 0.3, 3.0)?;
        within("fan power over heat", design.fan_power_share, 0.0, 0.2)?;
        // The exchanger's law holds to a ratio of water to air of 10.
        within("air with the fan off over design air", design.fan_off_share, ratio / 9.9, 0.5)?;
        match design.fan {
            TowerFanControl::SingleSpeed => {}
            TowerFanControl::TwoSpeed { low: x } | TowerFanControl::VariableSpeed { lowest: x } => {
                within("low or lowest fan speed", x, design.fan_off_share, 0.95)?;
            }
        }
        let cold = design.wet_bulb.si() + approach;
        let tower = Tower::calibrated(
            Temperature::from_si(cold + range),
            Temperature::from_si(cold),
            design.wet_bulb,
            ratio,
            design.pressure,
            design.exponent,
        )
        .map_err(component("tower sizing"))?;
        let water = q / (CP_WATER_J_PER_KG_K * range);
        Ok(Self {
            integral: TowerIntegral::Adaptive,
            design,
            tower,
            water_flow: MassFlow::kg_per_s(water),
            air_flow: MassFlow::kg_per_s(water / ratio),
            fan_power: Power::watts(q * design.fan_power_share),
            kav_over_l: tower.kav_over_l(ratio),
        })
    }

    /// Runs the tower to a cold-water set point. Where full fan does not reach it, the cold water is what it is and
    /// [`Limit::FanFull`] is set. Without heat the water stands at the set point or the wet bulb, whichever is warmer.
    ///
    /// # Errors
    /// A value out of range; a search that does not settle.
    pub fn run(
        &self,
        heat: Power,
        water_flow: MassFlow,
        air: AirPoint,
        pressure: Pressure,
        set_point: Temperature,
    ) -> Result<TowerPlantState, PlantError> {
        let q = not_negative("heat to reject in W", heat.si())?;
        let l = positive("water flow of the tower in kg/s", water_flow.si())?;
        let set = within("cold-water set point in degC", set_point.si(), 0.5, 50.0)?;
        let p = within("barometric pressure in Pa", pressure.si(), 60e3, 108e3)?;
        let wb = raw::wet_bulb_c(air.dry_bulb.si(), air.humidity_ratio.si(), p);
        let range = q / (l * CP_WATER_J_PER_KG_K);
        let balance = |evaporation: f64| {
            let drift = MassFlow::kg_per_s(self.design.drift_share * l)
                .si()
                .min(evaporation.max(0.0) / (self.design.cycles - 1.0));
            water_balance(
                MassFlow::kg_per_s(evaporation.max(0.0)),
                MassFlow::kg_per_s(drift),
                self.design.cycles,
            )
            .map_err(component("water balance of the tower"))
        };
        if q < 1e-3 {
            let cold = set.max(wb);
            return Ok(TowerPlantState {
                heat,
                cold: Temperature::from_si(cold),
                hot: Temperature::from_si(cold),
                wet_bulb: Temperature::from_si(wb),
                approach: TemperatureDifference::kelvin(cold - wb),
                air_share: 0.0,
                fan_power: Power::watts(0.0),
                water: balance(0.0)?,
                limits: Limits::NONE,
                residual_k: 0.0,
                count: 0,
            });
        }
        let run = Run {
            plant: self,
            duty: TowerDuty { air, pressure, water: water_flow, dry_air: self.air_flow, heat },
            wet_bulb_c: wb,
            // Where the tower law gives no state the evaporation is that of latent heat alone.
            cp_evaporation: q / raw::VAPORIZATION_AT_0_C_J_PER_KG,
        };
        let mut limits = Limits::NONE;
        let cube = |x: f64| self.fan_power.si() * x * x * x;
        let off = self.design.fan_off_share;
        let full = run.at(1.0)?;
        let (mut residual_k, mut count) = (0.0, 1);
        let (cold, share, fan_w, evaporation);
        if full.cold >= set {
            if full.cold > set + 1e-9 {
                limits.add(Limit::FanFull);
            }
            (cold, share, fan_w, evaporation) = (full.cold, 1.0, cube(1.0), full.evaporation);
        } else {
            let idle = run.at(off)?;
            if idle.cold <= set {
                // Throttled to hold the set point; the exchanger's law ends at a ratio of 10.
                limits.add(Limit::FanMinimum);
                let least = l / (9.99 * self.air_flow.si());
                let floor = if least < off { run.at(least)? } else { run.at(off)? };
                let s = if least < off && floor.cold > set {
                    let root = solve::root("tower air with the fan off", least, off, 1e-9, |x| {
                        Ok(run.cold(x)? - set)
                    })?;
                    (residual_k, count) = (root.residual, root.iterations);
                    root.x
                } else {
                    least.min(off)
                };
                let state = run.at(s)?;
                (cold, share, fan_w, evaporation) = (state.cold.max(set), s, 0.0, state.evaporation);
            } else {
                // Fan steps around the set point; off counts as the first.
                let steps: Vec<f64> = match self.design.fan {
                    TowerFanControl::SingleSpeed => vec![off, 1.0],
                    TowerFanControl::TwoSpeed { low } => vec![off, low, 1.0],
                    TowerFanControl::VariableSpeed { lowest } => vec![off, lowest],
                };
                let mut below = (off, idle);
                let mut above = None;
                for s in &steps[1..] {
                    let state = run.at(*s)?;
                    if state.cold <= set {
                        above = Some((*s, state));
                        break;
                    }
                    below = (*s, state);
                }
                if let Some((s, state)) = above {
                    let f = (below.1.cold - set) / (below.1.cold - state.cold);
                    let part = |a: f64, b: f64| a + f * (b - a);
                    let power = |x: f64| if x <= off { 0.0 } else { cube(x) };
                    limits.add(Limit::Cycling);
                    cold = set;
                    share = part(below.0, s);
                    fan_w = part(power(below.0), power(s));
                    evaporation = part(below.1.evaporation, state.evaporation);
                } else {
                    let root =
                        solve::root("tower fan speed", below.0, 1.0, 1e-9, |x| Ok(run.cold(x)? - set))?;
                    (residual_k, count) = (root.residual, root.iterations);
                    let state = run.at(root.x)?;
                    (cold, share, fan_w, evaporation) = (state.cold, root.x, cube(root.x), state.evaporation);
                }
            }
        }
        Ok(TowerPlantState {
            heat,
            cold: Temperature::from_si(cold),
            hot: Temperature::from_si(cold + range),
            wet_bulb: Temperature::from_si(wb),
            approach: TemperatureDifference::kelvin(cold - wb),
            air_share: share,
            fan_power: Power::watts(fan_w),
            water: balance(evaporation)?,
            limits,
            residual_k,
            count,
        })
    }

    /// A chiller and this tower together: the condenser water that enters the chiller is the tower's cold water, the heat
    /// that the tower rejects is the chiller's.
    ///
    /// # Errors
    /// As [`Chiller::run`] and [`run`](Self::run); a balance that does not settle.
    pub fn run_with_chiller(
        &self,
        chiller: &Chiller,
        load: Power,
        leaving_chilled: Temperature,
        air: AirPoint,
        pressure: Pressure,
        set_point: Temperature,
    ) -> Result<ChillerAndTower, PlantError> {
        let capacity_rate = Conductance::w_per_k(self.water_flow.si() * CP_WATER_J_PER_KG_K);
        let both = |t: f64| -> Result<(ChillerState, TowerPlantState), PlantError> {
            let condenser = Condenser::Entering { temperature: Temperature::from_si(t), capacity_rate };
            let c = chiller.run(load, leaving_chilled, condenser)?;
            Ok((c, self.run(c.heat_rejected, self.water_flow, air, pressure, set_point)?))
        };
        // The tower never makes colder water than the set point, and never hotter than with the heat of the hottest.
        let low = set_point.si();
        let (chiller_low, tower_low) = both(low)?;
        if (tower_low.cold.si() - low).abs() <= 1e-9 {
            return Ok(ChillerAndTower { chiller: chiller_low, tower: tower_low, residual_k: 0.0, count: 1 });
        }
        let root = solve::root("condenser water of chiller and tower", low, 60.0, 1e-9, |t| {
            Ok(both(t)?.1.cold.si() - t)
        })?;
        let (chiller, tower) = both(root.x)?;
        Ok(ChillerAndTower { chiller, tower, residual_k: root.residual, count: root.iterations })
    }
}

/// A chiller and its tower at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChillerAndTower {
    /// The chiller.
    pub chiller: ChillerState,
    /// The tower.
    pub tower: TowerPlantState,
    /// Tower's cold water less the water that enters the chiller, K.
    pub residual_k: f64,
    /// Steps taken.
    pub count: u32,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chiller::{Rating, Settings};
    use crate::economizer::{EconomizerDemand, PlateExchanger};
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn f(t: f64) -> Temperature {
        Temperature::fahrenheit(t)
    }

    fn p() -> Pressure {
        Pressure::pascals(P)
    }

    fn air(wet_bulb: Temperature) -> AirPoint {
        AirPoint::saturated(wet_bulb, p()).unwrap()
    }

    fn plant(fan: TowerFanControl) -> TowerPlant {
        TowerPlant::size(TowerDesign { fan, ..TowerDesign::usual(Power::watts(1e6), f(78.0), p()) }).unwrap()
    }

    const VARIABLE: TowerFanControl = TowerFanControl::VariableSpeed { lowest: 0.25 };

    #[test]
    fn val_tower_off_design() {
        // Merkel recomputed with L/G 1.2 and KaV/L 1.18809 (95/85/78 degF), range 10 degF: cold water by wet bulb.
        let t = plant(VARIABLE);
        assert!((t.kav_over_l - 1.18809).abs() < 1e-3, "{}", t.kav_over_l);
        for (wb, cold) in
            [(78.0, 85.00), (70.0, 79.171), (65.0, 75.675), (60.0, 72.287), (50.0, 65.806), (45.0, 62.696)]
        {
            let s = t.run(Power::watts(1e6), t.water_flow, air(f(wb)), p(), f(36.0)).unwrap();
            assert!(s.limits.has(Limit::FanFull) || wb == 78.0);
            // 0.03 degF: moist-air constants in SI and inch-pound differ in the fourth figure.
            assert!((s.cold.to_fahrenheit() - cold).abs() < 0.03, "{wb}: {}", s.cold.to_fahrenheit());
        }
        // Half the range at design wet bulb: 81.966 degF.
        let s = t.run(Power::watts(5e5), t.water_flow, air(f(78.0)), p(), f(36.0)).unwrap();
        assert!((s.cold.to_fahrenheit() - 81.966).abs() < 0.03);
    }

    #[test]
    fn xchk_four_points_against_the_adaptive_integral() {
        let exact = plant(VARIABLE);
        let fast = TowerPlant { integral: TowerIntegral::FourPoints, ..exact };
        for (q, wb, set) in [
            (1e6, 25.5, 10.0),
            (1e6, 5.0, 10.0),
            (4e5, 18.0, 10.0),
            (6e5, 15.0, 22.0),
            (2e5, 24.0, 20.0),
            (1e5, -8.0, 12.0),
        ] {
            let at = |t: &TowerPlant| {
                let w = air(Temperature::celsius(wb));
                t.run(Power::watts(q), t.water_flow, w, p(), Temperature::celsius(set)).unwrap()
            };
            let (a, b) = (at(&exact), at(&fast));
            // 0.1 % of the size is about 0.01 K of cold water; three times that far from design.
            assert!((a.cold.si() - b.cold.si()).abs() < 0.03, "{q} {wb}: {} {}", a.cold.si(), b.cold.si());
            assert!((a.air_share - b.air_share).abs() < 0.01);
            assert!((a.water.evaporation.si() / b.water.evaporation.si() - 1.0).abs() < 0.01);
        }
    }

    #[test]
    fn phys_fan_control_holds_the_set_point_and_variable_speed_takes_least() {
        let (heat, set) = (Power::watts(6e5), f(78.0));
        let at = |fan| {
            let t = plant(fan);
            t.run(heat, t.water_flow, air(f(62.0)), p(), set).unwrap()
        };
        let (one, two, var) =
            (at(TowerFanControl::SingleSpeed), at(TowerFanControl::TwoSpeed { low: 0.5 }), at(VARIABLE));
        for s in [one, two, var] {
            assert!((s.cold.si() - set.si()).abs() < 1e-6);
            assert!(s.air_share > 0.15 && s.air_share < 1.0);
        }
        assert!(var.fan_power < two.fan_power && two.fan_power < one.fan_power);
        assert!(one.limits.has(Limit::Cycling) && two.limits.has(Limit::Cycling));
    }

    #[test]
    fn phys_fan_off_in_the_cold() {
        let t = plant(VARIABLE);
        let s = t.run(Power::watts(1e5), t.water_flow, air(f(20.0)), p(), f(70.0)).unwrap();
        assert_eq!(s.fan_power.si(), 0.0);
        assert!(s.limits.has(Limit::FanMinimum) && (s.cold.si() - f(70.0).si()).abs() < 1e-6);
        let frost =
            t.run(Power::watts(5e4), t.water_flow, air(Temperature::celsius(-15.0)), p(), f(42.0)).unwrap();
        assert!(frost.cold.si() >= f(42.0).si() - 1e-6 && frost.water.evaporation.si() > 0.0);
        let none = t.run(Power::watts(0.0), t.water_flow, air(f(50.0)), p(), f(70.0)).unwrap();
        assert_eq!((none.fan_power.si(), none.water.make_up.si()), (0.0, 0.0));
    }

    #[test]
    fn phys_water_balance_adds_up() {
        let t = plant(VARIABLE);
        let s = t.run(Power::watts(1e6), t.water_flow, air(f(78.0)), p(), f(60.0)).unwrap();
        let w = s.water;
        assert!((w.make_up.si() - w.evaporation.si() - w.bleed.si() - w.drift.si()).abs() < 1e-12);
        // Evaporation between 60 and 100 % of the heat over the latent heat.
        let most = 1e6 / 2.43e6;
        assert!(
            w.evaporation.si() > 0.6 * most && w.evaporation.si() < most,
            "{}",
            w.evaporation.si() / most
        );
    }

    fn chiller() -> Chiller {
        Chiller::from_rating(
            Rating {
                capacity: Power::watts(800e3),
                cop: 6.0,
                leaving_chilled: f(44.0),
                entering_condenser: f(85.0),
                condenser_capacity_rate: Conductance::w_per_k(930e3 / 5.2),
            },
            Settings::default(),
        )
        .unwrap()
    }

    #[test]
    fn phys_chiller_and_tower_settle() {
        let t = plant(VARIABLE);
        let (c, set) = (chiller(), f(65.0));
        for (load, wb) in [(800e3, 78.0), (500e3, 70.0), (300e3, 50.0), (100e3, 35.0), (0.0, 60.0)] {
            let s = t.run_with_chiller(&c, Power::watts(load), f(44.0), air(f(wb)), p(), set).unwrap();
            assert!((s.tower.heat.si() - s.chiller.heat_rejected.si()).abs() < 1e-3);
            assert!(s.tower.cold.si() >= set.si() - 1e-6);
            if load > 0.0 {
                assert!((s.chiller.condenser_leaving.si() - s.tower.hot.si()).abs() < 1e-6);
            }
        }
        let hot = t.run_with_chiller(&c, Power::watts(8e5), f(44.0), air(f(78.0)), p(), set).unwrap();
        let mild = t.run_with_chiller(&c, Power::watts(8e5), f(44.0), air(f(60.0)), p(), set).unwrap();
        assert!(mild.chiller.power < hot.chiller.power);
    }

    #[test]
    fn phys_economizer_hours_need_the_warm_loop() {
        // Same tower, same load, 45 degF wet bulb: a 55 degF loop gets what a 42 degF loop does not.
        let t = plant(VARIABLE);
        let plate = PlateExchanger::for_design(Power::watts(5e5), f(65.0), f(55.0), f(52.0)).unwrap();
        let share = |ret: f64, sup: f64| {
            let demand = EconomizerDemand { load: Power::watts(5e5), return_water: f(ret), supply: f(sup) };
            plate
                .run(&demand, |q| Ok(t.run(q, t.water_flow, air(f(45.0)), p(), f(40.0))?.cold))
                .unwrap()
                .share
        };
        let (warm, cold) = (share(65.0, 55.0), share(54.0, 42.0));
        assert!(warm > 0.6 && warm > cold + 0.3, "{warm} {cold}");
    }

    proptest! {
        #[test]
        fn phys_never_below_the_wet_bulb_nor_the_set_point(
            q in 2e4f64..1.2e6, wb in -8.0f64..27.0, set in 5.0f64..28.0, kind in 0usize..3,
        ) {
            let fan = [TowerFanControl::SingleSpeed, TowerFanControl::TwoSpeed { low: 0.5 }, VARIABLE][kind];
            let t = TowerPlant { integral: TowerIntegral::FourPoints, ..plant(fan) };
            let set_point = Temperature::celsius(set);
            let s = t.run(Power::watts(q), t.water_flow, air(Temperature::celsius(wb)), p(), set_point).unwrap();
            prop_assert!(s.cold.si() > wb);
            prop_assert!(s.cold.si() >= set - 1e-6);
            prop_assert!(s.limits.has(Limit::FanFull) || (s.cold.si() - set).abs() < 1e-6);
            prop_assert!(s.fan_power.si() <= t.fan_power.si() * (1.0 + 1e-12));
            prop_assert!(s.water.make_up >= s.water.evaporation);
            let carried = t.water_flow.si() * CP_WATER_J_PER_KG_K * (s.hot.si() - s.cold.si());
            prop_assert!((carried - q).abs() <= 1e-9 * q);
        }
    }
}
