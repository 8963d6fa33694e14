//! Energy recovery between exhaust and outdoor air: wheels and plates.
//!
//! A rating (sensible and latent effectiveness at balanced flow) is turned into transfer units and used at other and
//! unequal flows: counterflow for wheels and counterflow plates, cross-flow for cross-flow plates. Effectiveness is
//! on the smaller dry-air flow. The transfer coefficient of each side follows its flow to a stated exponent: 0 for
//! laminar channels (wheels, most plates), up to 0.8 for turbulent ones.
//!
//! *Total* effectiveness is the ratio of enthalpy differences, never the mean of sensible and latent.
//!
//! Carry-over and seal leakage move exhaust air into the supply: `exhaust_transfer` is the share of the supply
//! that is exhaust air; the rest comes through the exchanger. All balances (dry air, moisture, heat) close.
//!
//! Simplifications: capacity rates by dry-air flow; condensation in a sensible plate does not raise its sensible
//! effectiveness (it does in fact, so the result is on the safe side in winter); condensate below 0 degC is counted as
//! liquid.

use crate::ExchangeError;
use crate::bypass::{AirPoint, CP_CONDENSATE_J_PER_KG_K};
use crate::effectiveness::{self, FlowArrangement};
use crate::error::within;
use crate::moist::{Settled, settle};
use drycoil_air::raw as air;
use drycoil_solve::bracketed;
use drycoil_units::{HumidityRatio, MassFlow, Power, Pressure, Quantity, Temperature};

/// The kind of exchanger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecoveryKind {
    /// Rotating wheel.
    Wheel,
    /// Fixed plates or membranes in counterflow.
    CounterflowPlate,
    /// Fixed plates or membranes in cross-flow.
    CrossflowPlate,
}

impl RecoveryKind {
    /// The exchanger arrangement.
    pub const fn arrangement(self) -> FlowArrangement {
        match self {
            Self::Wheel | Self::CounterflowPlate => FlowArrangement::Counterflow,
            Self::CrossflowPlate => FlowArrangement::CrossBothUnmixed,
        }
    }
}

/// An energy recovery exchanger by its rating at balanced flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recovery {
    /// The kind.
    pub kind: RecoveryKind,
    /// Sensible effectiveness at the rated flow, 0.05 to 0.95.
    pub sensible_effectiveness: f64,
    /// Latent effectiveness at the rated flow, 0 (sensible plates) to 0.95.
    pub latent_effectiveness: f64,
    /// Rated dry-air flow, the same on both sides.
    pub rated_dry_air: MassFlow,
    /// Exponent of the transfer coefficients in the flow, 0 to 0.8.
    pub flow_exponent: f64,
    /// Share of the supply that is exhaust air, 0 to 0.2.
    pub exhaust_transfer: f64,
}

/// How much of the exchange is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Operation {
    /// All of it.
    Full,
    /// None: bypassed or stopped. Carry-over of a stopped wheel is taken as zero.
    Off,
    /// A share of the full exchange, by bypass or wheel speed, 0 to 1.
    Share(f64),
}

/// Air entering the exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryEntering {
    /// Outdoor air.
    pub outdoor: AirPoint,
    /// Exhaust air.
    pub exhaust: AirPoint,
    /// Pressure of both.
    pub pressure: Pressure,
    /// Dry air supplied.
    pub supply_dry_air: MassFlow,
    /// Dry air exhausted from the building into the exchanger.
    pub exhaust_dry_air: MassFlow,
}

/// Whether the exhaust side stays free of ice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FrostLimit {
    /// Leaving exhaust may not be both below 0 degC and saturated.
    Saturation,
    /// Leaving exhaust may not be colder than this.
    LowestExhaust(Temperature),
}

/// What leaves the exhaust side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExhaustCondition {
    /// Not saturated.
    Dry,
    /// Saturated above 0 degC: condensate to drain.
    Condensing,
    /// Saturated below 0 degC: frost.
    Frosting,
}

/// What the exchanger does, with its intermediates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryResult {
    /// What entered.
    pub entering: RecoveryEntering,
    /// The supply, carry-over included.
    pub supply: AirPoint,
    /// The outdoor air as it leaves the exchanger, before carry-over.
    pub after_exchanger: AirPoint,
    /// The exhaust as it leaves.
    pub exhaust_leaving: AirPoint,
    /// Outdoor dry air that passes the exchanger.
    pub outdoor_dry_air: MassFlow,
    /// Dry air that leaves as exhaust.
    pub exhaust_leaving_dry_air: MassFlow,
    /// Exhaust dry air carried over into the supply.
    pub transferred_dry_air: MassFlow,
    /// Sensible effectiveness at these flows and this operation.
    pub sensible_effectiveness: f64,
    /// Latent effectiveness at these flows and this operation.
    pub latent_effectiveness: f64,
    /// Ratio of enthalpy differences; `None` when the two entering enthalpies differ by less than 10 J/kg.
    pub total_effectiveness: Option<f64>,
    /// Enthalpy flow taken from the outdoor air (negative: given to it).
    pub recovered: Power,
    /// Condensate on the exhaust side.
    pub exhaust_condensate: MassFlow,
    /// Condensate on the supply side.
    pub supply_condensate: MassFlow,
    /// Heat carried by both condensates, above liquid water at 0 degC.
    pub condensate_enthalpy: Power,
    /// What leaves the exhaust side.
    pub exhaust_condition: ExhaustCondition,
    exhaust_unsettled_c: f64,
    exhaust_unsettled_w: f64,
}

/// Effectiveness of the whole exchange at two flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FullEffectiveness {
    /// Sensible.
    pub sensible: f64,
    /// Latent.
    pub latent: f64,
}

/// A share of the exchange that meets a target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Modulated {
    /// The share, 0 to 1.
    pub share: f64,
    /// The exchanger at that share.
    pub result: RecoveryResult,
    /// Target missed by, K or kg/kg.
    pub residual: f64,
    /// Steps made.
    pub iterations: u32,
}

/// Target of a modulated exchanger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SupplyTarget {
    /// Supply dry bulb.
    DryBulb(Temperature),
    /// Supply humidity ratio.
    HumidityRatio(HumidityRatio),
}

/// Preheat of the outdoor air that keeps frost away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrostPreheat {
    /// Temperature to which the outdoor air is heated (its own when no preheat is needed).
    pub preheated: Temperature,
    /// Heat for it.
    pub heat: Power,
    /// The exchanger with preheated air.
    pub result: RecoveryResult,
    /// Margin to frost that is left, K.
    pub margin_k: f64,
    /// Steps made.
    pub iterations: u32,
}

/// Kernels on plain numbers.
pub mod raw {
    use super::{FlowArrangement, effectiveness};

    /// Effectiveness at given flows over rated flow, from the rated transfer units.
    #[inline]
    pub fn effectiveness_at(
        arrangement: FlowArrangement,
        rated_ntu: f64,
        flow_exponent: f64,
        supply_over_rated: f64,
        exhaust_over_rated: f64,
    ) -> f64 {
        let (low, high) =
            (supply_over_rated.min(exhaust_over_rated), supply_over_rated.max(exhaust_over_rated));
        let conductance = if flow_exponent == 0.0 {
            1.0
        } else {
            2.0 / (supply_over_rated.powf(-flow_exponent) + exhaust_over_rated.powf(-flow_exponent))
        };
        effectiveness::raw::effectiveness(arrangement, rated_ntu * conductance / low, low / high)
    }
}

impl Recovery {
    fn check(&self) -> Result<(), ExchangeError> {
        within("sensible effectiveness", self.sensible_effectiveness, 0.05, 0.95, "")?;
        within("latent effectiveness", self.latent_effectiveness, 0.0, 0.95, "")?;
        within("rated dry-air flow", self.rated_dry_air.si(), 1e-4, 1e4, "kg/s")?;
        within("flow exponent", self.flow_exponent, 0.0, 0.8, "")?;
        within("exhaust transfer", self.exhaust_transfer, 0.0, 0.2, "")?;
        Ok(())
    }

    /// Rated transfer units, sensible and latent.
    pub fn rated_transfer_units(&self) -> Result<(f64, f64), ExchangeError> {
        self.check()?;
        let a = self.kind.arrangement();
        let ntu = |e: f64| effectiveness::transfer_units(a, e, 1.0).map(|x| x.ntu);
        Ok((ntu(self.sensible_effectiveness)?, ntu(self.latent_effectiveness)?))
    }

    /// Leaving states.
    ///
    /// ```
    /// use drycoil_exchange::bypass::AirPoint;
    /// use drycoil_exchange::recovery::{Operation, Recovery, RecoveryEntering, RecoveryKind};
    /// use drycoil_units::{HumidityRatio, MassFlow, Pressure, Temperature};
    ///
    /// let p = Pressure::pascals(101_325.0);
    /// let wheel = Recovery {
    ///     kind: RecoveryKind::Wheel,
    ///     sensible_effectiveness: 0.75,
    ///     latent_effectiveness: 0.70,
    ///     rated_dry_air: MassFlow::kg_per_s(1.0),
    ///     flow_exponent: 0.0,
    ///     exhaust_transfer: 0.0,
    /// };
    /// let entering = RecoveryEntering {
    ///     outdoor: AirPoint::new(Temperature::fahrenheit(95.0), HumidityRatio::kg_per_kg(0.01677), p).unwrap(),
    ///     exhaust: AirPoint::new(Temperature::fahrenheit(75.0), HumidityRatio::kg_per_kg(0.00924), p).unwrap(),
    ///     pressure: p,
    ///     supply_dry_air: MassFlow::kg_per_s(1.0),
    ///     exhaust_dry_air: MassFlow::kg_per_s(1.0),
    /// };
    /// let r = wheel.solve(&entering, Operation::Full).unwrap();
    /// assert!((r.supply.dry_bulb.to_fahrenheit() - 80.0).abs() < 1e-6);
    /// ```
    pub fn solve(&self, e: &RecoveryEntering, operation: Operation) -> Result<RecoveryResult, ExchangeError> {
        let full = if operation == Operation::Off {
            self.check()?;
            FullEffectiveness { sensible: 0.0, latent: 0.0 }
        } else {
            self.full_effectiveness(e.supply_dry_air, e.exhaust_dry_air)?
        };
        self.solve_with(&full, e, operation)
    }

    /// Effectiveness of the whole exchange at two dry-air flows, for [`Self::solve_with`] at many states or shares.
    ///
    /// Supply 1e-6 to 1e5 kg/s, exhaust above what is carried over.
    pub fn full_effectiveness(
        &self,
        supply_dry_air: MassFlow,
        exhaust_dry_air: MassFlow,
    ) -> Result<FullEffectiveness, ExchangeError> {
        let (ntu_s, ntu_l) = self.rated_transfer_units()?;
        let m0 = self.rated_dry_air.si();
        let supply = within("supply dry-air flow", supply_dry_air.si(), 1e-6, 1e5, "kg/s")?;
        let carried = self.exhaust_transfer * supply;
        within("exhaust dry-air flow", exhaust_dry_air.si(), carried + 1e-6, 1e5, "kg/s")?;
        let (outdoor, exhaust) = (supply - carried, exhaust_dry_air.si() - carried);
        let a = self.kind.arrangement();
        let at = |ntu: f64| raw::effectiveness_at(a, ntu, self.flow_exponent, outdoor / m0, exhaust / m0);
        Ok(FullEffectiveness { sensible: at(ntu_s), latent: if ntu_l == 0.0 { 0.0 } else { at(ntu_l) } })
    }

    /// As [`Self::solve`], with the effectiveness of the whole exchange at the same flows.
    pub fn solve_with(
        &self,
        full: &FullEffectiveness,
        e: &RecoveryEntering,
        operation: Operation,
    ) -> Result<RecoveryResult, ExchangeError> {
        let p = e.pressure.si();
        e.outdoor.check(p)?;
        e.exhaust.check(p)?;
        let (share, transfer) = match operation {
            Operation::Full => (1.0, self.exhaust_transfer),
            Operation::Off => (0.0, 0.0),
            Operation::Share(x) => (within("share of the exchange", x, 0.0, 1.0, "")?, self.exhaust_transfer),
        };
        let supply = within("supply dry-air flow", e.supply_dry_air.si(), 1e-6, 1e5, "kg/s")?;
        let carried = transfer * supply;
        within("exhaust dry-air flow", e.exhaust_dry_air.si(), carried + 1e-6, 1e5, "kg/s")?;
        let outdoor = supply - carried;
        let exhaust = e.exhaust_dry_air.si() - carried;
        let (es, el) = (share * full.sensible, share * full.latent);
        let part = outdoor.min(exhaust) / outdoor;
        let (to, wo) = (e.outdoor.dry_bulb.si(), e.outdoor.humidity_ratio.si());
        let (te, we) = (e.exhaust.dry_bulb.si(), e.exhaust.humidity_ratio.si());
        let (ho, he) = (e.outdoor.enthalpy().si(), e.exhaust.enthalpy().si());
        let t1 = to - es * part * (to - te);
        let w1 = wo - el * part * (wo - we);
        let h1 = air::enthalpy_j_per_kg(t1, w1);
        let after = settle(h1, w1, p)?;
        let h2 = he + outdoor / exhaust * (ho - h1);
        let w2 = we + outdoor / exhaust * (wo - w1);
        let leaving = settle(h2, w2, p)?;
        let point = |s: &Settled| AirPoint {
            dry_bulb: Temperature::from_si(s.t_c),
            humidity_ratio: HumidityRatio::from_si(s.w),
        };
        let after_point = point(&after);
        let x = carried / supply;
        let ws = (1.0 - x) * after.w + x * we;
        let hs = (1.0 - x) * after_point.enthalpy().si() + x * he;
        let mixed = settle(hs, ws, p)?;
        let recovered = outdoor * (ho - h1);
        let smaller = outdoor.min(exhaust);
        let drain = |m: f64, s: &Settled| m * s.fog * CP_CONDENSATE_J_PER_KG_K * s.t_c;
        Ok(RecoveryResult {
            entering: *e,
            supply: point(&mixed),
            after_exchanger: after_point,
            exhaust_leaving: point(&leaving),
            outdoor_dry_air: MassFlow::from_si(outdoor),
            exhaust_leaving_dry_air: MassFlow::from_si(exhaust),
            transferred_dry_air: MassFlow::from_si(carried),
            sensible_effectiveness: es,
            latent_effectiveness: el,
            total_effectiveness: ((ho - he).abs() >= 10.0).then(|| recovered / (smaller * (ho - he))),
            recovered: Power::from_si(recovered),
            exhaust_condensate: MassFlow::from_si(exhaust * leaving.fog),
            supply_condensate: MassFlow::from_si(outdoor * after.fog + supply * mixed.fog),
            condensate_enthalpy: Power::from_si(
                drain(exhaust, &leaving) + drain(outdoor, &after) + drain(supply, &mixed),
            ),
            exhaust_condition: if leaving.fog <= 0.0 {
                ExhaustCondition::Dry
            } else if leaving.t_c < 0.0 {
                ExhaustCondition::Frosting
            } else {
                ExhaustCondition::Condensing
            },
            exhaust_unsettled_c: leaving.unsettled_c,
            exhaust_unsettled_w: w2,
        })
    }

    /// Full operation when it lowers the enthalpy of the outdoor air, else off: the summer rule of a drying unit.
    pub fn operation_for_cooling(&self, e: &RecoveryEntering) -> Operation {
        if e.outdoor.enthalpy() > e.exhaust.enthalpy() { Operation::Full } else { Operation::Off }
    }

    /// The share of the exchange that gives the supply a dry bulb or humidity ratio (economizer bypass). A target beyond
    /// no exchange and full exchange is refused with the nearest value.
    pub fn modulate(&self, e: &RecoveryEntering, target: SupplyTarget) -> Result<Modulated, ExchangeError> {
        let (what, goal, unit) = match target {
            SupplyTarget::DryBulb(t) => ("supply dry bulb of the recovery", t.si(), "degC"),
            SupplyTarget::HumidityRatio(w) => ("supply humidity ratio of the recovery", w.si(), "kg/kg"),
        };
        if !goal.is_finite() {
            return Err(ExchangeError::NotFinite { what });
        }
        let read = |r: &RecoveryResult| match target {
            SupplyTarget::DryBulb(_) => r.supply.dry_bulb.si(),
            SupplyTarget::HumidityRatio(_) => r.supply.humidity_ratio.si(),
        };
        let gap = |x: f64| Ok(read(&self.solve(e, Operation::Share(x))?) - goal);
        let (none, full) = (gap(0.0)?, gap(1.0)?);
        if none * full > 0.0 {
            let nearest = goal + if none.abs() < full.abs() { none } else { full };
            return Err(ExchangeError::OutOfReach { what, wanted: goal, nearest, unit });
        }
        let root = bracketed::<ExchangeError>(what, 0.0, 1.0, 1e-13 * goal.abs().max(1e-3), gap)?;
        Ok(Modulated {
            share: root.x,
            result: self.solve(e, Operation::Share(root.x))?,
            residual: root.residual,
            iterations: root.iterations,
        })
    }

    /// Heat that the outdoor air needs before the exchanger so that the exhaust side stays free of frost at full
    /// exchange. Refused when even outdoor air as warm as the exhaust does not do it.
    pub fn frost_preheat(
        &self,
        e: &RecoveryEntering,
        limit: FrostLimit,
    ) -> Result<FrostPreheat, ExchangeError> {
        let at = |t: f64| {
            let outdoor = AirPoint { dry_bulb: Temperature::from_si(t), ..e.outdoor };
            self.solve(&RecoveryEntering { outdoor, ..*e }, Operation::Full)
        };
        let own = e.outdoor.dry_bulb.si();
        let finish = |t: f64, iterations: u32| {
            let result = at(t)?;
            let cp = air::humid_specific_heat_j_per_kg_k(e.outdoor.humidity_ratio.si());
            Ok(FrostPreheat {
                preheated: Temperature::from_si(t),
                heat: Power::from_si(result.outdoor_dry_air.si() * cp * (t - own)),
                margin_k: result.frost_margin_k(limit),
                result,
                iterations,
            })
        };
        if at(own)?.frost_margin_k(limit) >= 0.0 {
            return finish(own, 0);
        }
        let warm = e.exhaust.dry_bulb.si().max(own);
        let best = at(warm)?.frost_margin_k(limit);
        if best < 0.0 {
            return Err(ExchangeError::OutOfReach {
                what: "frost margin by preheat",
                wanted: 0.0,
                nearest: best,
                unit: "K",
            });
        }
        let root = bracketed::<ExchangeError>("frost preheat", own, warm, 1e-10, |t| {
            Ok(at(t)?.frost_margin_k(limit))
        })?;
        finish(root.x, root.iterations)
    }

    /// The largest share of the exchange that keeps the exhaust side free of frost.
    pub fn frost_free_share(
        &self,
        e: &RecoveryEntering,
        limit: FrostLimit,
    ) -> Result<Modulated, ExchangeError> {
        self.frost_free_share_with(&self.full_effectiveness(e.supply_dry_air, e.exhaust_dry_air)?, e, limit)
    }

    /// As [`Self::frost_free_share`], with the effectiveness of the whole exchange at the same flows.
    pub fn frost_free_share_with(
        &self,
        full: &FullEffectiveness,
        e: &RecoveryEntering,
        limit: FrostLimit,
    ) -> Result<Modulated, ExchangeError> {
        let at = |x: f64| self.solve_with(full, e, Operation::Share(x));
        let whole = at(1.0)?;
        if whole.frost_margin_k(limit) >= 0.0 {
            return Ok(Modulated { share: 1.0, result: whole, residual: 0.0, iterations: 0 });
        }
        let none = at(0.0)?.frost_margin_k(limit);
        if none < 0.0 {
            return Err(ExchangeError::OutOfReach {
                what: "frost margin by bypass",
                wanted: 0.0,
                nearest: none,
                unit: "K",
            });
        }
        let gap = |x: f64| -> Result<f64, ExchangeError> { Ok(at(x)?.frost_margin_k(limit)) };
        let root = bracketed("share free of frost", 0.0, 1.0, 1e-10, gap)?;
        let result = at(root.x)?;
        Ok(Modulated { share: root.x, result, residual: root.residual, iterations: root.iterations })
    }
}

impl RecoveryResult {
    /// Distance of the leaving exhaust from the frost limit, K; negative means frost. For the saturation limit: the larger
    /// of its temperature above 0 degC and above its own dew point, before any condensate falls out.
    pub fn frost_margin_k(&self, limit: FrostLimit) -> f64 {
        match limit {
            FrostLimit::LowestExhaust(t) => self.exhaust_leaving.dry_bulb.si() - t.si(),
            FrostLimit::Saturation => {
                let above_freezing = self.exhaust_leaving.dry_bulb.si();
                if self.exhaust_unsettled_w <= 0.0 {
                    return f64::INFINITY;
                }
                let dew_point = air::dew_point_c(self.exhaust_unsettled_w, self.entering.pressure.si());
                above_freezing.max(self.exhaust_unsettled_c - dew_point)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn wheel() -> Recovery {
        Recovery {
            kind: RecoveryKind::Wheel,
            sensible_effectiveness: 0.75,
            latent_effectiveness: 0.70,
            rated_dry_air: MassFlow::from_si(1.0),
            flow_exponent: 0.0,
            exhaust_transfer: 0.0,
        }
    }

    fn point(t_f: f64, w: f64) -> AirPoint {
        AirPoint::new(Temperature::fahrenheit(t_f), HumidityRatio::from_si(w), Pressure::from_si(P)).unwrap()
    }

    fn rh(t_f: f64, rh: f64) -> AirPoint {
        point(t_f, air::humidity_ratio_from_relative_humidity((t_f - 32.0) / 1.8, rh, P))
    }

    fn between(outdoor: AirPoint, exhaust: AirPoint) -> RecoveryEntering {
        RecoveryEntering {
            outdoor,
            exhaust,
            pressure: Pressure::from_si(P),
            supply_dry_air: MassFlow::from_si(1.0),
            exhaust_dry_air: MassFlow::from_si(1.0),
        }
    }

    #[test]
    fn val_summer_wheel() {
        // Constructed and recomputed: 95 F / 78 F wet bulb outside, 75 F 50 % inside, 0.75 / 0.70 balanced: leaving 80.0 F,
        // 80.473 gr/lb, dew point 61.116 F, 31.8058 Btu/lb, total 0.71964 (not the mean 0.725).
        let f = |x: f64| (x - 32.0) / 1.8;
        let outdoor = point(95.0, air::humidity_ratio_at_wet_bulb(f(95.0), f(78.0), P));
        let r = wheel().solve(&between(outdoor, rh(75.0, 0.5)), Operation::Full).unwrap();
        assert!((r.supply.dry_bulb.to_fahrenheit() - 80.0).abs() < 1e-9);
        assert!((r.supply.humidity_ratio.to_grains_per_pound() - 80.473).abs() < 0.03);
        let dp = air::dew_point_c(r.supply.humidity_ratio.si(), P) * 1.8 + 32.0;
        assert!((dp - 61.116).abs() < 0.01, "{dp}");
        let total = r.total_effectiveness.unwrap();
        assert!((total - 0.71964).abs() < 2e-4 && (total - 0.725).abs() > 4e-3, "{total}");
    }

    #[test]
    fn val_winter_wheel() {
        // 10 F 80 % outside, 70 F 30 % inside: 55.0 F, 24.969 gr/lb, total 0.73838; exhaust leaves at 14.892 gr/lb, no frost
        // by saturation; 25.0 F if only temperatures are balanced, 0.2 F from it when the enthalpy of the moved vapour is.
        let r = wheel().solve(&between(rh(10.0, 0.8), rh(70.0, 0.3)), Operation::Full).unwrap();
        assert!((r.supply.dry_bulb.to_fahrenheit() - 55.0).abs() < 1e-9);
        assert!((r.supply.humidity_ratio.to_grains_per_pound() - 24.969).abs() < 0.03);
        assert!((r.total_effectiveness.unwrap() - 0.73838).abs() < 2e-4);
        assert!((r.exhaust_leaving.dry_bulb.to_fahrenheit() - 25.0).abs() < 0.2, "{r:?}");
        assert!((r.exhaust_leaving.humidity_ratio.to_grains_per_pound() - 14.892).abs() < 0.03);
        assert_eq!(r.exhaust_condition, ExhaustCondition::Dry);
        assert!(r.frost_margin_k(FrostLimit::Saturation) > 0.0);
    }

    #[test]
    fn val_sensible_recovery_unit_check() {
        // A published unit check: 1.08 x 40 000 cfm x 15 F x 0.73 = 473 040 Btu/h; ours with dry air 0.5 % (1.08 is rounded).
        let plate = Recovery { latent_effectiveness: 0.0, sensible_effectiveness: 0.73, ..wheel() };
        let m = drycoil_units::StandardAirFlow::cfm(40_000.0).dry_air_mass_flow();
        let plate = Recovery { rated_dry_air: m, ..plate };
        let e = RecoveryEntering {
            supply_dry_air: m,
            exhaust_dry_air: m,
            ..between(point(60.0, 0.002), point(75.0, 0.002))
        };
        let r = plate.solve(&e, Operation::Full).unwrap();
        assert!(
            (-r.recovered.to_btu_per_hour() / 473_040.0 - 1.0).abs() < 5e-3,
            "{}",
            r.recovered.to_btu_per_hour()
        );
    }

    #[test]
    fn phys_less_exhaust_recovers_less_with_higher_effectiveness() {
        let e = between(rh(95.0, 0.5), rh(75.0, 0.5));
        let balanced = wheel().solve(&e, Operation::Full).unwrap();
        let short = wheel()
            .solve(&RecoveryEntering { exhaust_dry_air: MassFlow::from_si(0.7), ..e }, Operation::Full)
            .unwrap();
        assert!(
            short.sensible_effectiveness > balanced.sensible_effectiveness
                && short.recovered < balanced.recovered
        );
    }

    #[test]
    fn phys_frost_preheat_and_bypass_end_on_the_limit() {
        let plate = Recovery {
            kind: RecoveryKind::CounterflowPlate,
            latent_effectiveness: 0.0,
            sensible_effectiveness: 0.8,
            ..wheel()
        };
        let e = between(rh(-5.0, 0.8), rh(70.0, 0.4));
        let full = plate.solve(&e, Operation::Full).unwrap();
        assert_eq!(full.exhaust_condition, ExhaustCondition::Frosting);
        for limit in [FrostLimit::Saturation, FrostLimit::LowestExhaust(Temperature::celsius(1.5))] {
            let pre = plate.frost_preheat(&e, limit).unwrap();
            assert!(pre.heat.si() > 0.0 && pre.margin_k.abs() < 1e-6, "{pre:?}");
            let share = plate.frost_free_share(&e, limit).unwrap();
            assert!(
                share.share < 1.0 && share.share > 0.0 && share.result.frost_margin_k(limit).abs() < 1e-6
            );
        }
        let mild = between(rh(50.0, 0.5), rh(70.0, 0.4));
        assert_eq!(plate.frost_preheat(&mild, FrostLimit::Saturation).unwrap().heat.si(), 0.0);
        assert!(plate.frost_preheat(&e, FrostLimit::LowestExhaust(Temperature::celsius(30.0))).is_err());
    }

    #[test]
    fn inv_modulation_meets_the_target() {
        let e = between(rh(40.0, 0.6), rh(72.0, 0.4));
        let m = wheel().modulate(&e, SupplyTarget::DryBulb(Temperature::fahrenheit(55.0))).unwrap();
        assert!(
            (m.result.supply.dry_bulb.to_fahrenheit() - 55.0).abs() < 1e-9 && m.share > 0.0 && m.share < 1.0
        );
        let err = wheel().modulate(&e, SupplyTarget::DryBulb(Temperature::fahrenheit(80.0))).unwrap_err();
        assert!(matches!(err, ExchangeError::OutOfReach { .. }));
        assert_eq!(wheel().operation_for_cooling(&e), Operation::Off);
    }

    proptest! {
        #[test]
        fn phys_balances(
            to in -10.0f64..110.0, ro in 0.1f64..1.0, te in 65.0f64..80.0, re in 0.1f64..0.7, me in 0.4f64..1.3,
            es in 0.3f64..0.9, el in 0.0f64..0.9, transfer in 0.0f64..0.1, n in 0.0f64..0.8, share in 0.0f64..=1.0,
        ) {
            let unit = Recovery {
                kind: RecoveryKind::CrossflowPlate, sensible_effectiveness: es.min(0.7), latent_effectiveness: el.min(0.7),
                flow_exponent: n, exhaust_transfer: transfer, ..wheel()
            };
            let e = RecoveryEntering { exhaust_dry_air: MassFlow::from_si(me), ..between(rh(to, ro), rh(te, re)) };
            let r = unit.solve(&e, Operation::Share(share)).unwrap();
            let (oa, ex, x) = (r.outdoor_dry_air.si(), r.exhaust_leaving_dry_air.si(), r.transferred_dry_air.si());
            // Dry air.
            prop_assert!((oa + x - 1.0).abs() < 1e-12 && (ex + x - me).abs() < 1e-12);
            // Moisture.
            let wi = oa * e.outdoor.humidity_ratio.si() + me * e.exhaust.humidity_ratio.si();
            let wo = r.supply.humidity_ratio.si() + ex * r.exhaust_leaving.humidity_ratio.si()
                + r.exhaust_condensate.si() + r.supply_condensate.si();
            prop_assert!((wi - wo).abs() <= 1e-9 * wi, "{} {}", wi, wo);
            // Heat.
            let hi = oa * e.outdoor.enthalpy().si() + me * e.exhaust.enthalpy().si();
            let ho = r.supply.enthalpy().si() + ex * r.exhaust_leaving.enthalpy().si() + r.condensate_enthalpy.si();
            prop_assert!((hi - ho).abs() <= 1e-9 * (hi.abs() + 1e4), "{} {}", hi, ho);
            // Bounds.
            prop_assert!((0.0..=1.0).contains(&r.sensible_effectiveness) && (0.0..=1.0).contains(&r.latent_effectiveness));
        }
    }
}
