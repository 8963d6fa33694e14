//! The primary-air unit at one condition: outdoor air, filter, energy recovery, drying coil, reheat, fan, duct.
//!
//! Every state in between is kept, with the heat and water of every step, so that dry air, water and energy can be
//! added up. A leaving dew point or discharge temperature that the unit cannot reach is reported with its size.
//!
//! Order: outdoor air, preheat (frost), recovery, heating coil, wrap-around (first half), drying coil, wrap-around
//! (second half), reheat, humidifier, fan, duct. The heating coil works when the drying coil is idle; reheat works
//! after a drying coil that runs. The recovery is turned down to the share that takes the least coil and heating
//! energy, and further by frost control.

use crate::air_point::{AirPoint, Plain, barometric};
use crate::drying_coil::{CoilTarget, DryingCoilModel, DryingCoilState};
use crate::error::{PlantError, component, not_negative, positive, within};
use crate::fan::{self, FanDrive, FanPower};
use crate::limits::{Limit, Limits};
use drycoil_air::raw;
use drycoil_exchange::ExchangeError;
use drycoil_exchange::recovery::{
    ExhaustCondition, FrostLimit, Operation, Recovery, RecoveryEntering, RecoveryResult,
};
use drycoil_units::{
    ActualAirFlow, Conductance, HumidityRatio, MassFlow, Power, Pressure, PressureDifference, Quantity,
    SpecificEnthalpy, Temperature, TemperatureDifference,
};

/// How the recovery is kept from frosting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FrostControl {
    /// No frost control; a frosting exchanger is flagged.
    None,
    /// Recovery is turned down to the largest share that stays free of frost.
    TurnDown(FrostLimit),
    /// Outdoor air is preheated until full exchange stays free of frost.
    Preheat(FrostLimit),
}

/// Energy recovery between outdoor and exhaust air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecoveryDesign {
    /// The exchanger.
    pub exchanger: Recovery,
    /// Electric power while it runs (wheel drive or pump).
    pub power: Power,
    /// Frost control.
    pub frost: FrostControl,
}

/// How air is warmed again behind the drying coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reheat {
    /// Not at all; the discharge is as cold as it comes.
    None,
    /// By a coil with bought heat.
    Coil,
    /// By a coil with condenser heat; the plant credits it.
    RecoveredHeat,
    /// By a loop of this sensible effectiveness around the drying coil, then a coil for the rest.
    WrapAround {
        /// Effectiveness between the air before and the air behind the drying coil.
        effectiveness: f64,
    },
}

/// A fan with the pressures it overcomes at its design flow.
#[derive(Debug, Clone, PartialEq)]
pub struct FanTrain {
    /// Dry-air mass flow at design.
    pub design_flow: MassFlow,
    /// Named pressure drops at design flow; they follow the square of the flow.
    pub components: Vec<(String, PressureDifference)>,
    /// Pressure that stays at every flow (duct static set point).
    pub fixed_pressure: PressureDifference,
    /// Efficiencies.
    pub drive: FanDrive,
}

impl FanTrain {
    /// Total pressure at a dry-air flow.
    ///
    /// # Errors
    /// A negative flow or pressure drop, a design flow that is not above zero.
    pub fn pressure(&self, flow: MassFlow) -> Result<PressureDifference, PlantError> {
        let design = positive("design flow of the fan in kg/s", self.design_flow.si())?;
        let x = not_negative("dry-air mass flow in kg/s", flow.si())? / design;
        let mut sum = not_negative("fixed pressure in Pa", self.fixed_pressure.si())?;
        for (_, drop) in &self.components {
            sum += not_negative("pressure drop in Pa", drop.si())? * x * x;
        }
        Ok(PressureDifference::pascals(sum))
    }
}

/// Heat that the duct takes up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DuctGain {
    /// A fixed warming of the air.
    Rise(TemperatureDifference),
    /// Through its wall from the air around it.
    Conductance {
        /// Wall conductance.
        conductance: Conductance,
        /// Air around the duct.
        around: Temperature,
    },
}

/// Winter humidity floor by steam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Humidifier {
    /// Lowest humidity ratio of the supply.
    pub floor: HumidityRatio,
    /// Enthalpy of the steam.
    pub steam_enthalpy: SpecificEnthalpy,
}

/// The unit.
#[derive(Debug, Clone, PartialEq)]
pub struct PrimaryAirUnit {
    /// Energy recovery.
    pub recovery: Option<RecoveryDesign>,
    /// Drying coil.
    pub coil: DryingCoilModel,
    /// Reheat.
    pub reheat: Reheat,
    /// Supply fan, draw-through behind coil and reheat.
    pub supply_fan: FanTrain,
    /// Exhaust fan behind the recovery; its heat leaves the building.
    pub exhaust_fan: Option<FanTrain>,
    /// Heating coil capacity; none means no heating coil.
    pub heating_capacity: Option<Power>,
    /// Humidity floor.
    pub humidifier: Option<Humidifier>,
    /// Duct gain between unit and rooms.
    pub duct_gain: DuctGain,
    /// Share of the fan's flow that leaks from the duct before the rooms.
    pub leakage_share: f64,
    /// Air colder than this at the first water coil is flagged.
    pub freeze_threshold: Temperature,
}

/// One condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrimaryAirHour {
    /// Barometric pressure.
    pub pressure: Pressure,
    /// Outdoor air.
    pub outdoor: AirPoint,
    /// Air coming back from the rooms to the recovery.
    pub exhaust: AirPoint,
    /// Dry air delivered to the rooms.
    pub delivered_flow: MassFlow,
    /// Dry air coming back to the recovery.
    pub exhaust_flow: MassFlow,
    /// Humidity ratio that the coil must not exceed; none when drying is off.
    pub leaving_humidity_ratio: Option<HumidityRatio>,
    /// Lowest discharge temperature behind the fan; heating or reheat raises to it.
    pub coldest_discharge: Option<Temperature>,
    /// Highest discharge temperature behind the fan; the coil cools to it.
    pub warmest_discharge: Option<Temperature>,
}

/// The unit's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct PrimaryAirState {
    /// Outdoor air.
    pub outdoor: AirPoint,
    /// Behind the frost preheat.
    pub after_preheat: AirPoint,
    /// Behind the recovery.
    pub after_recovery: AirPoint,
    /// Behind the heating coil.
    pub after_heating: AirPoint,
    /// The drying coil, with its entering and leaving states.
    pub coil: DryingCoilState,
    /// Behind wrap-around and reheat.
    pub after_reheat: AirPoint,
    /// Behind the humidifier, entering the fan.
    pub entering_fan: AirPoint,
    /// Behind the fan: discharge of the unit.
    pub discharge: AirPoint,
    /// Delivered to the rooms, behind duct gain.
    pub delivered: AirPoint,
    /// Exhaust behind the recovery.
    pub exhaust_leaving: AirPoint,
    /// Dry air through the unit.
    pub unit_flow: MassFlow,
    /// Dry air leaked from the duct, at the delivered state.
    pub leaked_flow: MassFlow,
    /// Share of full recovery in use, 0 to 1.
    pub recovery_share: f64,
    /// Frost preheat.
    pub preheat: Power,
    /// The exchanger at that share; none when off.
    pub recovery: Option<RecoveryResult>,
    /// Enthalpy flow given to the outdoor air; negative when taken from it.
    pub recovery_total: Power,
    /// Sensible part of it.
    pub recovery_sensible: Power,
    /// Dry air taken in from outdoors: the unit's flow less carry-over.
    pub outdoor_flow: MassFlow,
    /// Heating coil.
    pub heating: Power,
    /// Heating asked and not made.
    pub heating_unmet: Power,
    /// Heat carried around the drying coil.
    pub wrap_around: Power,
    /// Reheat by coil or recovered heat.
    pub reheat: Power,
    /// Steam added.
    pub humidification: MassFlow,
    /// Enthalpy flow of that steam.
    pub humidification_heat: Power,
    /// Supply fan pressure.
    pub supply_fan_pressure: PressureDifference,
    /// Supply fan power.
    pub supply_fan: FanPower,
    /// Exhaust fan power.
    pub exhaust_fan: Option<FanPower>,
    /// Power of the recovery's drive or pump.
    pub recovery_power: Power,
    /// Heat gained by the duct.
    pub duct_gain: Power,
    /// Dew point of the delivered air above the dew point asked; 0 when reached.
    pub dew_point_missed: TemperatureDifference,
    /// Discharge colder (negative) or warmer (positive) than asked.
    pub discharge_missed: TemperatureDifference,
    /// Limits reached.
    pub limits: Limits,
    /// Energy left over when all flows across the unit and duct are added up.
    pub energy_residual: Power,
    /// Water left over.
    pub water_residual: MassFlow,
}

impl PrimaryAirState {
    /// Electric power of the unit.
    pub fn electric_power(&self) -> Power {
        self.supply_fan.electric_power
            + self.exhaust_fan.map_or(Power::watts(0.0), |f| f.electric_power)
            + self.recovery_power
    }
}

/// Air behind the recovery and what it took.
#[derive(Clone, Copy)]
struct Recovered {
    share: f64,
    result: Option<RecoveryResult>,
    preheated: AirPoint,
    preheat: f64,
    supply: AirPoint,
}

struct Steps {
    recovered: Recovered,
    after_heating: AirPoint,
    coil: DryingCoilState,
    after_reheat: AirPoint,
    entering_fan: AirPoint,
    heating: f64,
    heating_unmet: f64,
    wrap: f64,
    reheat: f64,
    steam: f64,
    limits: Limits,
}

impl Steps {
    /// What the recovery is turned down by: what the unit misses first, then the energy it takes.
    fn cost(&self) -> f64 {
        let missed =
            self.coil.missed_humidity_ratio.si() * 1e3 + self.coil.missed_kelvin + self.heating_unmet;
        missed * 1e9 + self.coil.total.si().abs() + self.heating + self.reheat + self.recovered.preheat
    }
}

struct Context<'a> {
    unit: &'a PrimaryAirUnit,
    hour: &'a PrimaryAirHour,
    p: f64,
    m: f64,
    /// Fan rise is `kappa * absolute temperature` for the air that passes it.
    fan_pa: f64,
}

impl Context<'_> {
    /// Fan warming per kelvin of absolute entering temperature.
    fn kappa(&self, w: f64) -> Result<f64, PlantError> {
        let t = 20.0;
        let power = self.fan_power(AirPoint::raw(t, w))?;
        Ok(power.heat_to_air.si() / (self.m * raw::humid_specific_heat_j_per_kg_k(w)) / (t + 273.15))
    }

    fn fan_power(&self, entering: AirPoint) -> Result<FanPower, PlantError> {
        let v = self.m * raw::volume_m3_per_kg(entering.t(), entering.w(), self.p);
        fan::power(
            ActualAirFlow::from_si(v),
            PressureDifference::pascals(self.fan_pa),
            self.unit.supply_fan.drive,
        )
    }

    fn before_fan(&self, discharge: Temperature, w: f64) -> Result<f64, PlantError> {
        let k = self.kappa(w)?;
        Ok((discharge.si() - 273.15 * k) / (1.0 + k))
    }

    fn run(&self, recovered: &Recovered) -> Result<Steps, PlantError> {
        let (hour, unit, m, p) = (self.hour, self.unit, self.m, self.p);
        let mut limits = Limits::NONE;
        if let Some(r) = &recovered.result {
            if r.exhaust_condensate.si() + r.supply_condensate.si() > 0.0 {
                limits.add(Limit::Fog);
            }
            if r.exhaust_condition == ExhaustCondition::Frosting {
                limits.add(Limit::Frosting);
            }
        }
        let after_recovery = recovered.supply;
        let (t1, w1) = (after_recovery.t(), after_recovery.w());

        let want_dry = hour.leaving_humidity_ratio.is_some_and(|w| w1 > w.si());
        let supply_w = hour.leaving_humidity_ratio.map_or(w1, |w| w1.min(w.si()));
        let warm_limit = hour.warmest_discharge.map(|t| self.before_fan(t, supply_w)).transpose()?;
        let cold_limit = hour.coldest_discharge.map(|t| self.before_fan(t, supply_w)).transpose()?;
        let coil_runs = want_dry || warm_limit.is_some_and(|t| t1 > t);

        // Heating coil: only in front of an idle drying coil.
        let (mut after_heating, mut heating, mut heating_unmet) = (after_recovery, 0.0, 0.0);
        if !coil_runs
            && let Some(t) = cold_limit
            && t1 < t
        {
            let need = m * after_recovery.cp() * (t - t1);
            heating = need.min(unit.heating_capacity.map_or(0.0, Quantity::si));
            heating_unmet = need - heating;
            after_heating = AirPoint::raw(t1 + heating / (m * after_recovery.cp()), w1);
            if heating_unmet > 0.0 {
                limits.add(Limit::Capacity);
            }
        }

        // Drying coil, with heat carried around it.
        let target = CoilTarget {
            humidity_ratio: hour.leaving_humidity_ratio,
            dry_bulb: warm_limit.map(Temperature::from_si),
        };
        let flow = MassFlow::kg_per_s(m);
        let pressure = Pressure::pascals(p);
        let idle = CoilTarget { humidity_ratio: None, dry_bulb: None };
        let mut coil = unit.coil.run(after_heating, flow, pressure, if coil_runs { target } else { idle })?;
        let mut wrap = 0.0;
        if coil_runs && let Reheat::WrapAround { effectiveness } = unit.reheat {
            let e = within("effectiveness of the wrap-around", effectiveness, 0.0, 0.9)?;
            // Heat moved is e C (air before - air behind the coil); it also cools the air before the coil, down to
            // its dew point at most. Leaving air depends on entering air, so settle the pair.
            let floor = raw::dew_point_c(after_heating.w(), p);
            let reheat_wish = cold_limit.unwrap_or(f64::INFINITY);
            let base = after_heating;
            let carried = |q: f64| -> Result<(DryingCoilState, f64), PlantError> {
                let cooled = AirPoint::raw(base.t() - q / (m * base.cp()), base.w());
                let c = unit.coil.run(cooled, flow, pressure, target)?;
                let small = m * base.cp().min(c.leaving.cp());
                let able = e * small * (base.t() - c.leaving.t());
                let wanted = m * c.leaving.cp() * (reheat_wish - c.leaving.t()).max(0.0);
                Ok((c, able.min(wanted) - q))
            };
            let most = (m * base.cp() * (base.t() - floor)).max(0.0);
            if most > 0.0 && carried(0.0)?.1 > 0.0 {
                wrap = if carried(most)?.1 >= 0.0 {
                    most
                } else {
                    crate::solve::root("wrap-around heat", 0.0, most, 1e-9 * most, |q| Ok(carried(q)?.1))?.x
                };
                coil = carried(wrap)?.0;
            }
        }
        let leaving = coil.leaving;
        let mut t = leaving.t() + wrap / (m * leaving.cp());
        let mut reheat = 0.0;
        if coil_runs
            && !matches!(unit.reheat, Reheat::None)
            && let Some(c) = cold_limit
            && t < c
        {
            reheat = m * leaving.cp() * (c - t);
            t = c;
        }
        let after_reheat = AirPoint::raw(t, leaving.w());

        // Humidity floor.
        let (mut entering_fan, mut steam) = (after_reheat, 0.0);
        if let Some(h) = &unit.humidifier
            && leaving.w() < h.floor.si()
        {
            steam = m * (h.floor.si() - leaving.w());
            let enthalpy = after_reheat.h() + (h.floor.si() - leaving.w()) * h.steam_enthalpy.si();
            entering_fan = AirPoint::raw(raw::dry_bulb_from_enthalpy_c(enthalpy, h.floor.si()), h.floor.si());
            if entering_fan.is_fog(p) {
                limits.add(Limit::Fog);
            }
        }
        if coil.entering.t() < unit.freeze_threshold.si() || after_recovery.t() < unit.freeze_threshold.si() {
            limits.add(Limit::FreezeProtection);
        }
        if !coil_runs || coil.total.si() == 0.0 {
            limits.add(Limit::CoilIdle);
        }
        Ok(Steps {
            recovered: *recovered,
            after_heating,
            coil,
            after_reheat,
            entering_fan,
            heating,
            heating_unmet,
            wrap,
            reheat,
            steam,
            limits,
        })
    }
}

impl PrimaryAirUnit {
    /// The unit at one condition.
    ///
    /// ```
    /// use drycoil_exchange::recovery::{FrostLimit, Recovery, RecoveryKind};
    /// use drycoil_plant::air_point::{AirPoint, dew_point};
    /// use drycoil_plant::drying_coil::{CoilLine, DryingCoilModel};
    /// use drycoil_plant::fan::{FanDrive, MotorPlace};
    /// use drycoil_plant::primary_air::*;
    /// use drycoil_units::*;
    /// let fan = FanTrain {
    ///     design_flow: MassFlow::kg_per_s(3.0),
    ///     components: vec![("filter and coils".into(), PressureDifference::pascals(400.0))],
    ///     fixed_pressure: PressureDifference::pascals(350.0),
    ///     drive: FanDrive {
    ///         fan_efficiency: 0.65,
    ///         drive_efficiency: 0.97,
    ///         motor_efficiency: 0.93,
    ///         motor: MotorPlace::InAirStream,
    ///     },
    /// };
    /// let unit = PrimaryAirUnit {
    ///     recovery: Some(RecoveryDesign {
    ///         exchanger: Recovery {
    ///             kind: RecoveryKind::Wheel,
    ///             sensible_effectiveness: 0.75,
    ///             latent_effectiveness: 0.70,
    ///             rated_dry_air: MassFlow::kg_per_s(2.6),
    ///             flow_exponent: 0.0,
    ///             exhaust_transfer: 0.03,
    ///         },
    ///         power: Power::watts(150.0),
    ///         frost: FrostControl::TurnDown(FrostLimit::Saturation),
    ///     }),
    ///     coil: DryingCoilModel::Line(CoilLine {
    ///         bypass: 0.05,
    ///         coldest_apparatus_dew_point: Temperature::celsius(6.5),
    ///     }),
    ///     reheat: Reheat::None,
    ///     supply_fan: fan.clone(),
    ///     exhaust_fan: Some(fan),
    ///     heating_capacity: Some(Power::watts(60e3)),
    ///     humidifier: None,
    ///     duct_gain: DuctGain::Rise(TemperatureDifference::fahrenheit(2.0)),
    ///     leakage_share: 0.03,
    ///     freeze_threshold: Temperature::fahrenheit(39.0),
    /// };
    /// let p = Pressure::pascals(101_325.0);
    /// let hour = PrimaryAirHour {
    ///     pressure: p,
    ///     outdoor: AirPoint::new(Temperature::celsius(33.0), HumidityRatio::kg_per_kg(0.018), p)?,
    ///     exhaust: AirPoint::new(Temperature::celsius(24.0), HumidityRatio::kg_per_kg(0.0092), p)?,
    ///     delivered_flow: MassFlow::kg_per_s(2.5),
    ///     exhaust_flow: MassFlow::kg_per_s(2.2),
    ///     leaving_humidity_ratio: Some(HumidityRatio::kg_per_kg(0.0071)),
    ///     coldest_discharge: None,
    ///     warmest_discharge: None,
    /// };
    /// let state = unit.run(&hour)?;
    /// assert_eq!(state.dew_point_missed.to_kelvin(), 0.0);
    /// assert!((dew_point(state.delivered, p).to_celsius() - 8.9).abs() < 0.1);
    /// assert!(state.energy_residual.to_watts().abs() < 1e-3);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A state, flow, effectiveness or share out of range; a search that does not settle. What the unit cannot reach
    /// is not an error but part of the answer.
    pub fn run(&self, hour: &PrimaryAirHour) -> Result<PrimaryAirState, PlantError> {
        let p = barometric(hour.pressure)?;
        hour.outdoor.validated("humidity ratio of the outdoor air", p)?;
        hour.exhaust.validated("humidity ratio of the exhaust air", p)?;
        let delivered_flow = positive("delivered dry-air flow in kg/s", hour.delivered_flow.si())?;
        let m_exhaust = not_negative("exhaust dry-air flow in kg/s", hour.exhaust_flow.si())?;
        let leak = within("leakage share of the duct", self.leakage_share, 0.0, 0.5)?;
        if let (Some(c), Some(w)) = (hour.coldest_discharge, hour.warmest_discharge)
            && c > w
        {
            return Err(PlantError::Contradiction {
                what: "the coldest discharge allowed is above the warmest, degC",
                value: c.si(),
                limit: w.si(),
            });
        }
        let m = delivered_flow / (1.0 - leak);
        let unit_flow = MassFlow::kg_per_s(m);
        let fan_pressure = self.supply_fan.pressure(unit_flow)?;
        let cx = Context { unit: self, hour, p, m, fan_pa: fan_pressure.si() };

        let off = Recovered {
            share: 0.0,
            result: None,
            preheated: hour.outdoor,
            preheat: 0.0,
            supply: hour.outdoor,
        };
        let mut best = cx.run(&off)?;
        let mut frost = Limits::NONE;
        let mut share_limit = 1.0;
        if let Some(design) = &self.recovery
            && m_exhaust > 0.0
        {
            let wrap = component::<ExchangeError>("energy recovery");
            let mut entering = RecoveryEntering {
                outdoor: hour.outdoor,
                exhaust: hour.exhaust,
                pressure: hour.pressure,
                supply_dry_air: unit_flow,
                exhaust_dry_air: hour.exhaust_flow,
            };
            let effectiveness =
                design.exchanger.full_effectiveness(unit_flow, hour.exhaust_flow).map_err(&wrap)?;
            let mut preheat = 0.0;
            // The exchange at the share that frost control leaves, where it is known from there.
            let mut left = None;
            match design.frost {
                FrostControl::None => {}
                FrostControl::TurnDown(limit) => {
                    match design.exchanger.frost_free_share_with(&effectiveness, &entering, limit) {
                        Ok(free) => {
                            share_limit = free.share;
                            left = Some(free.result);
                        }
                        // Exhaust beyond the limit even without exchange: the recovery stays off.
                        Err(ExchangeError::OutOfReach { .. }) => share_limit = 0.0,
                        Err(e) => return Err(wrap(e)),
                    }
                }
                FrostControl::Preheat(limit) => match design.exchanger.frost_preheat(&entering, limit) {
                    Ok(warm) => {
                        preheat = warm.heat.si();
                        entering.outdoor.dry_bulb = warm.preheated;
                    }
                    Err(ExchangeError::OutOfReach { .. }) => share_limit = 0.0,
                    Err(e) => return Err(wrap(e)),
                },
            }
            if share_limit < 1.0 || preheat > 0.0 {
                frost.add(Limit::FrostControl);
            }
            let recovered = |share: f64, result: RecoveryResult| Recovered {
                share,
                result: Some(result),
                preheated: entering.outdoor,
                preheat,
                supply: result.supply,
            };
            let at = |share: f64| -> Result<Recovered, PlantError> {
                let result = design
                    .exchanger
                    .solve_with(&effectiveness, &entering, Operation::Share(share))
                    .map_err(&wrap)?;
                Ok(recovered(share, result))
            };
            if share_limit > 0.0 {
                let full =
                    left.map_or_else(|| at(share_limit), |result| Ok(recovered(share_limit, result)))?;
                let none = at(0.0)?;
                let mut candidates = vec![full];
                // Shares at which the recovered air just meets what is asked. The supply is very nearly linear in the
                // share, so the line through both ends and one correction find them.
                let mut between =
                    |read: &dyn Fn(AirPoint) -> Result<f64, PlantError>| -> Result<(), PlantError> {
                        let (low, high) = (read(none.supply)?, read(full.supply)?);
                        if low * high < 0.0 {
                            let first = share_limit * low / (low - high);
                            let middle = read(at(first)?.supply)?;
                            let slope = (high - low) / share_limit;
                            candidates.push(at((first - middle / slope).clamp(0.0, share_limit))?);
                        }
                        Ok(())
                    };
                let w_ask = hour.leaving_humidity_ratio.map(Quantity::si);
                for t in [hour.coldest_discharge, hour.warmest_discharge].into_iter().flatten() {
                    between(&|a| Ok(a.t() - cx.before_fan(t, w_ask.map_or(a.w(), |ask| a.w().min(ask)))?))?;
                }
                if let Some(w) = w_ask {
                    between(&|a| Ok(a.w() - w))?;
                }
                for recovered in candidates {
                    let steps = cx.run(&recovered)?;
                    if steps.cost() < best.cost() * (1.0 - 1e-12) {
                        best = steps;
                    }
                }
            }
        }
        let recovered = &best.recovered;
        let share = recovered.share;
        let mut limits = best.limits;
        if recovered.result.is_some() && (share >= share_limit || recovered.preheat > 0.0)
            || share_limit == 0.0
        {
            limits = limits.and(frost);
        }

        let supply_fan = cx.fan_power(best.entering_fan)?;
        let rise = supply_fan.heat_to_air.si() / (m * best.entering_fan.cp());
        let discharge = AirPoint::raw(best.entering_fan.t() + rise, best.entering_fan.w());
        let duct_rise = match self.duct_gain {
            DuctGain::Rise(r) => within("duct temperature rise in K", r.si(), -10.0, 10.0)?,
            DuctGain::Conductance { conductance, around } => {
                let ua = not_negative("duct conductance in W/K", conductance.si())?;
                (around.si() - discharge.t()) * (1.0 - (-ua / (m * discharge.cp())).exp())
            }
        };
        let delivered = AirPoint::raw(discharge.t() + duct_rise, discharge.w());
        let duct_gain = m * discharge.cp() * duct_rise;

        let (m_outdoor, exhaust_leaving, m_exhaust_leaving) =
            recovered.result.as_ref().map_or((m, hour.exhaust, m_exhaust), |r| {
                (r.outdoor_dry_air.si(), r.exhaust_leaving, r.exhaust_leaving_dry_air.si())
            });
        let exhaust_fan = match &self.exhaust_fan {
            Some(f) if m_exhaust > 0.0 => {
                let x = exhaust_leaving;
                let v = m_exhaust_leaving * raw::volume_m3_per_kg(x.t(), x.w(), p);
                let dp = f.pressure(MassFlow::kg_per_s(m_exhaust_leaving))?;
                Some(fan::power(ActualAirFlow::from_si(v), dp, f.drive)?)
            }
            _ => None,
        };
        let recovery_power = match &self.recovery {
            Some(r) if recovered.result.is_some() => r.power,
            _ => Power::watts(0.0),
        };

        let mut dew_point_missed = 0.0;
        if best.coil.missed_humidity_ratio.si() > 0.0
            && let Some(w) = hour.leaving_humidity_ratio
        {
            dew_point_missed = raw::dew_point_c(best.coil.leaving.w(), p) - raw::dew_point_c(w.si(), p);
            limits.add(Limit::DewPointMissed);
        }
        let mut discharge_missed = 0.0;
        if let Some(t) = hour.coldest_discharge {
            discharge_missed = (discharge.t() - t.si()).min(0.0);
        }
        if let Some(t) = hour.warmest_discharge {
            discharge_missed += (discharge.t() - t.si()).max(0.0);
        }
        if discharge_missed.abs() > 1e-6 {
            limits.add(Limit::DischargeTemperature);
        } else {
            discharge_missed = 0.0;
        }

        let steam_h = self.humidifier.map_or(0.0, |h| h.steam_enthalpy.si());
        let condensate = best.coil.condensate.si();
        let part = |f: fn(&RecoveryResult) -> f64| recovered.result.as_ref().map_or(0.0, f);
        let energy_in = m_outdoor * hour.outdoor.h()
            + m_exhaust * hour.exhaust.h()
            + recovered.preheat
            + best.heating
            + best.reheat
            + best.steam * steam_h
            + supply_fan.heat_to_air.si()
            + duct_gain;
        let energy_out = m * delivered.h()
            + m_exhaust_leaving * exhaust_leaving.h()
            + part(|r| r.condensate_enthalpy.si())
            + best.coil.total.si()
            + best.coil.condensate_heat.si();
        let water_in = m_outdoor * hour.outdoor.w() + m_exhaust * hour.exhaust.w() + best.steam;
        let water_out = m * delivered.w()
            + m_exhaust_leaving * exhaust_leaving.w()
            + part(|r| r.exhaust_condensate.si() + r.supply_condensate.si())
            + condensate;
        let after = recovered.result.as_ref().map_or(recovered.preheated, |r| r.after_exchanger);
        let watts = Power::watts;
        Ok(PrimaryAirState {
            outdoor: hour.outdoor,
            after_preheat: recovered.preheated,
            after_recovery: recovered.supply,
            after_heating: best.after_heating,
            after_reheat: best.after_reheat,
            entering_fan: best.entering_fan,
            discharge,
            delivered,
            exhaust_leaving,
            unit_flow,
            leaked_flow: MassFlow::kg_per_s(m - delivered_flow),
            recovery_share: share,
            preheat: watts(recovered.preheat),
            recovery: recovered.result,
            outdoor_flow: MassFlow::kg_per_s(m_outdoor),
            recovery_total: watts(part(|r| -r.recovered.si())),
            recovery_sensible: watts(m_outdoor * after.cp() * (after.t() - recovered.preheated.t())),
            heating: watts(best.heating),
            heating_unmet: watts(best.heating_unmet),
            wrap_around: watts(best.wrap),
            reheat: watts(best.reheat),
            humidification: MassFlow::kg_per_s(best.steam),
            humidification_heat: watts(best.steam * steam_h),
            supply_fan_pressure: fan_pressure,
            supply_fan,
            exhaust_fan,
            recovery_power,
            duct_gain: watts(duct_gain),
            dew_point_missed: TemperatureDifference::kelvin(dew_point_missed),
            discharge_missed: TemperatureDifference::kelvin(discharge_missed),
            limits,
            energy_residual: watts(energy_in - energy_out),
            water_residual: MassFlow::kg_per_s(water_in - water_out),
            coil: best.coil,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drying_coil::CoilLine;
    use crate::fan::MotorPlace;
    use drycoil_exchange::recovery::RecoveryKind;
    use drycoil_units::StandardAirFlow;
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn line(bypass: f64, coldest: f64) -> DryingCoilModel {
        DryingCoilModel::Line(CoilLine { bypass, coldest_apparatus_dew_point: Temperature::celsius(coldest) })
    }

    fn unit() -> PrimaryAirUnit {
        let drive = FanDrive {
            fan_efficiency: 0.65,
            drive_efficiency: 0.97,
            motor_efficiency: 0.93,
            motor: MotorPlace::InAirStream,
        };
        let train = FanTrain {
            design_flow: MassFlow::from_si(3.0),
            components: vec![
                ("filter".to_owned(), PressureDifference::from_si(150.0)),
                ("coil".to_owned(), PressureDifference::from_si(200.0)),
            ],
            fixed_pressure: PressureDifference::from_si(400.0),
            drive,
        };
        PrimaryAirUnit {
            recovery: Some(RecoveryDesign {
                exchanger: Recovery {
                    kind: RecoveryKind::Wheel,
                    sensible_effectiveness: 0.75,
                    latent_effectiveness: 0.70,
                    rated_dry_air: MassFlow::from_si(2.5),
                    flow_exponent: 0.0,
                    exhaust_transfer: 0.0,
                },
                power: Power::watts(200.0),
                frost: FrostControl::TurnDown(FrostLimit::LowestExhaust(Temperature::celsius(1.0))),
            }),
            coil: line(0.05, 6.0),
            reheat: Reheat::None,
            supply_fan: train.clone(),
            exhaust_fan: Some(train),
            heating_capacity: Some(Power::watts(200e3)),
            humidifier: None,
            duct_gain: DuctGain::Rise(TemperatureDifference::kelvin(1.0)),
            leakage_share: 0.03,
            freeze_threshold: Temperature::celsius(4.0),
        }
    }

    fn summer() -> PrimaryAirHour {
        let t = Temperature::fahrenheit(95.0).si();
        let w = raw::humidity_ratio_at_wet_bulb(t, Temperature::fahrenheit(78.0).si(), P);
        let room = Temperature::fahrenheit(75.0).si();
        PrimaryAirHour {
            pressure: Pressure::pascals(P),
            outdoor: AirPoint::raw(t, w),
            exhaust: AirPoint::raw(room, raw::humidity_ratio_from_relative_humidity(room, 0.5, P)),
            delivered_flow: MassFlow::from_si(2.5),
            exhaust_flow: MassFlow::from_si(2.5),
            leaving_humidity_ratio: Some(HumidityRatio::from_si(raw::humidity_ratio_at_dew_point(
                Temperature::fahrenheit(48.0).si(),
                P,
            ))),
            coldest_discharge: None,
            warmest_discharge: None,
        }
    }

    fn assert_closed(s: &PrimaryAirState) {
        let scale = s.unit_flow.si() * s.outdoor.h().abs().max(s.delivered.h().abs()).max(1e3);
        assert!(s.energy_residual.si().abs() <= 1e-9 * scale, "{}", s.energy_residual.si());
        assert!(s.water_residual.si().abs() <= 1e-12 * s.unit_flow.si(), "{}", s.water_residual.si());
    }

    #[test]
    fn val_recovery_in_summer_and_the_coil_behind_it() {
        // Constructed, recomputed: balanced flow, 0.75 sensible and 0.70 latent, 95/78 degF against 75 degF 50 %:
        // leaving 80.0 degF, 80.473 gr/lb; coil behind it to 48 degF saturated 56 832 Btu/h per 1000 standard cfm
        // (enthalpy difference, condensate not taken off).
        let mut u = unit();
        u.leakage_share = 0.0;
        u.coil = line(0.0, 6.0);
        let mut h = summer();
        h.delivered_flow = StandardAirFlow::cfm(1000.0).dry_air_mass_flow();
        h.exhaust_flow = h.delivered_flow;
        if let Some(r) = u.recovery.as_mut() {
            r.exchanger.rated_dry_air = h.delivered_flow;
        }
        let s = u.run(&h).unwrap();
        assert_eq!(s.recovery_share, 1.0);
        assert!((s.after_recovery.dry_bulb.to_fahrenheit() - 80.0).abs() < 1e-9);
        // 0.1 %: the source's moist-air constants differ in the fourth figure.
        assert!((s.after_recovery.humidity_ratio.to_grains_per_pound() / 80.473 - 1.0).abs() < 1e-3);
        let drop = s.unit_flow.si() * (s.coil.entering.h() - s.coil.leaving.h());
        assert!((Power::watts(drop).to_btu_per_hour() / 56_832.0 - 1.0).abs() < 2e-3);
        assert_closed(&s);
    }

    #[test]
    fn phys_recovery_is_off_when_it_would_add_load() {
        // Outdoor air cooler and drier than the rooms, cooling wanted.
        let mut h = summer();
        h.outdoor = AirPoint::raw(16.0, 0.0085);
        h.warmest_discharge = Some(Temperature::celsius(14.0));
        let s = unit().run(&h).unwrap();
        assert_eq!(s.recovery_share, 0.0);
        assert_eq!(s.recovery_power.si(), 0.0);
        assert!(s.discharge_missed.si() == 0.0);
        assert_closed(&s);
    }

    #[test]
    fn phys_recovery_is_turned_down_to_the_discharge_in_mild_cold() {
        let mut h = summer();
        h.outdoor = AirPoint::raw(5.0, 0.004);
        h.exhaust = AirPoint::raw(22.0, 0.006);
        h.coldest_discharge = Some(Temperature::celsius(13.0));
        h.warmest_discharge = Some(Temperature::celsius(13.5));
        let s = unit().run(&h).unwrap();
        assert!(s.recovery_share > 0.1 && s.recovery_share < 0.9);
        assert!(s.heating.si().abs() < 1e-6 && s.coil.total.si().abs() < 1e-6);
        assert!(s.discharge.t() > 13.0 - 1e-6 && s.discharge.t() < 13.5 + 1e-6);
        assert_closed(&s);
    }

    #[test]
    fn phys_frost_control_holds_the_exhaust() {
        let mut h = summer();
        h.outdoor = AirPoint::raw(-18.0, 0.0006);
        h.exhaust = AirPoint::raw(21.0, 0.0045);
        h.coldest_discharge = Some(Temperature::celsius(16.0));
        let mut u = unit();
        let down = u.run(&h).unwrap();
        assert!(down.limits.has(Limit::FrostControl) && down.limits.has(Limit::FreezeProtection));
        assert!((down.exhaust_leaving.t() - 1.0).abs() < 1e-6, "{}", down.exhaust_leaving.t());
        assert!(down.heating.si() > 0.0 && down.heating_unmet.si() == 0.0);
        assert_closed(&down);
        if let Some(r) = u.recovery.as_mut() {
            r.frost = FrostControl::Preheat(FrostLimit::LowestExhaust(Temperature::celsius(1.0)));
        }
        let pre = u.run(&h).unwrap();
        assert!(pre.preheat.si() > 0.0 && pre.recovery_share == 1.0);
        assert!((pre.exhaust_leaving.t() - 1.0).abs() < 1e-6);
        assert_closed(&pre);
        u.heating_capacity = None;
        let bare = u.run(&h).unwrap();
        assert!(bare.heating_unmet.si() > 0.0 && bare.limits.has(Limit::Capacity));
        assert!(bare.discharge_missed.si() < 0.0 && bare.limits.has(Limit::DischargeTemperature));
    }

    #[test]
    fn phys_missed_dew_point_has_its_size() {
        let mut u = unit();
        u.coil = line(0.05, 11.0);
        let s = u.run(&summer()).unwrap();
        assert!(s.limits.has(Limit::DewPointMissed));
        let asked = Temperature::fahrenheit(48.0);
        let got = crate::air_point::dew_point(s.coil.leaving, Pressure::pascals(P));
        assert!((got.si() - asked.si() - s.dew_point_missed.si()).abs() < 1e-9);
        assert!(s.dew_point_missed.si() > 2.0);
    }

    #[test]
    fn phys_wrap_around_saves_on_both_sides_of_the_coil() {
        let mut h = summer();
        h.coldest_discharge = Some(Temperature::celsius(20.0));
        let mut u = unit();
        u.recovery = None;
        u.reheat = Reheat::Coil;
        let plain = u.run(&h).unwrap();
        u.reheat = Reheat::WrapAround { effectiveness: 0.35 };
        let wrap = u.run(&h).unwrap();
        assert!(plain.wrap_around.si() == 0.0 && wrap.wrap_around.si() > 0.0);
        assert!((plain.discharge.t() - 20.0).abs() < 1e-9 && (wrap.discharge.t() - 20.0).abs() < 1e-6);
        // The heat carried is saved once as reheat; the coil is relieved of the same amount or nearly, as bypassed
        // air is cooler.
        assert!(wrap.reheat.si() < plain.reheat.si() && wrap.coil.total.si() < plain.coil.total.si());
        assert_closed(&plain);
        assert_closed(&wrap);
    }

    #[test]
    fn phys_leak_and_gain_reach_the_rooms() {
        let s = unit().run(&summer()).unwrap();
        assert!((s.unit_flow.si() * 0.97 - 2.5).abs() < 1e-12);
        assert!((s.leaked_flow.si() - (s.unit_flow.si() - 2.5)).abs() < 1e-12);
        assert!((s.delivered.t() - s.discharge.t() - 1.0).abs() < 1e-12);
        assert!(s.discharge.t() > s.coil.leaving.t() + 0.5);
        assert!((s.electric_power() - s.supply_fan.electric_power).si() > 0.0);
        let mut h = summer();
        h.outdoor = AirPoint::raw(20.0, 0.03);
        assert!(unit().run(&h).is_err());
        h = summer();
        h.coldest_discharge = Some(Temperature::celsius(20.0));
        h.warmest_discharge = Some(Temperature::celsius(15.0));
        assert!(unit().run(&h).is_err());
    }

    proptest! {
        #[test]
        fn phys_balances_close_over_random_hours(
            t in -25.0f64..42.0, rh in 0.1f64..1.0, t_ex in 18.0f64..27.0, rh_ex in 0.15f64..0.65,
            m in 0.5f64..3.0, ratio in 0.0f64..1.2, dp in 5.0f64..14.0, cold in 10.0f64..18.0,
            bypass in 0.0f64..0.2, p in 78e3f64..104e3, kind in 0usize..4, leak in 0.0f64..0.1,
            floor in 0.0f64..0.005, transfer in 0.0f64..0.1,
        ) {
            let mut u = unit();
            u.coil = line(bypass, 6.0);
            u.leakage_share = leak;
            if let Some(r) = u.recovery.as_mut() {
                r.exchanger.exhaust_transfer = transfer;
            }
            let ratio = if ratio < 0.3 { 0.0 } else { ratio };
            u.reheat = [
                Reheat::None, Reheat::Coil, Reheat::RecoveredHeat, Reheat::WrapAround { effectiveness: 0.4 },
            ][kind];
            if floor > 1e-3 {
                u.humidifier = Some(Humidifier {
                    floor: HumidityRatio::from_si(floor), steam_enthalpy: SpecificEnthalpy::from_si(2.676e6),
                });
            }
            u.duct_gain = DuctGain::Conductance {
                conductance: Conductance::from_si(60.0), around: Temperature::celsius(24.0),
            };
            let hour = PrimaryAirHour {
                pressure: Pressure::pascals(p),
                outdoor: AirPoint::raw(t, rh * raw::saturation_humidity_ratio(t, p)),
                exhaust: AirPoint::raw(t_ex, rh_ex * raw::saturation_humidity_ratio(t_ex, p)),
                delivered_flow: MassFlow::from_si(m),
                exhaust_flow: MassFlow::from_si(m * ratio),
                leaving_humidity_ratio: Some(HumidityRatio::from_si(raw::humidity_ratio_at_dew_point(dp, p))),
                coldest_discharge: Some(Temperature::celsius(cold)),
                warmest_discharge: Some(Temperature::celsius(cold + 4.0)),
            };
            let s = u.run(&hour).unwrap();
            let scale = s.unit_flow.si() * 60e3;
            prop_assert!(s.energy_residual.si().abs() <= 1e-9 * scale, "{}", s.energy_residual.si());
            prop_assert!(s.water_residual.si().abs() <= 1e-12 * s.unit_flow.si());
            prop_assert!(s.recovery_share >= 0.0 && s.recovery_share <= 1.0);
            // The recovery never passes the state of the other stream.
            let (lo, hi) = (t.min(t_ex), t.max(t_ex));
            prop_assert!(s.after_recovery.t() >= lo - 1e-9);
            let condensed = s.recovery.is_some_and(|r| r.supply_condensate.si() > 0.0);
            prop_assert!(condensed || s.after_recovery.t() <= hi + 1e-9);
            prop_assert!(s.heating.si() >= 0.0 && s.reheat.si() >= 0.0 && s.wrap_around.si() >= 0.0);
            prop_assert!(s.coil.condensate.si() >= 0.0);
            // Never heats and cools against itself in front of the drying coil.
            prop_assert!(s.heating.si() == 0.0 || s.coil.total.si() == 0.0);
            let asked = raw::humidity_ratio_at_dew_point(dp, p);
            prop_assert!(s.limits.has(Limit::DewPointMissed) || s.coil.leaving.w() <= asked + 1e-10);
        }

        #[test]
        fn phys_drier_target_takes_more(dp in 6.5f64..13.0) {
            let mut h = summer();
            let at = |dp: f64, h: &mut PrimaryAirHour| {
                h.leaving_humidity_ratio = Some(HumidityRatio::from_si(raw::humidity_ratio_at_dew_point(dp, P)));
                unit().run(h).unwrap()
            };
            let (dry, wet) = (at(dp, &mut h), at(dp + 0.5, &mut h));
            prop_assert!(dry.coil.total.si() > wet.coil.total.si());
            prop_assert!(dry.coil.condensate.si() > wet.coil.condensate.si());
        }
    }
}
