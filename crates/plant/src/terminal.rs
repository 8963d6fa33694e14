//! A fan-powered terminal unit at steady state.
//!
//! Room or plenum air is drawn through a sensible coil and mixed with primary air; the fan carries the mixture (in
//! series) or the secondary air only (in parallel). A heating coil, water or electric, sits in the discharge. Given a
//! sensible load of the room the unit finds valve position and fan flow; what it cannot meet is part of the answer.
//!
//! Two dry margins are always reported: entering water less the dew point of the air that meets the coil, which
//! governs because headers, bends and valves run at that temperature, and the fin surface at the water inlet less
//! the same dew point, as information.
//!
//! Fan volume is counted at the state of the secondary air. The coil is solved dry; a wet coil is flagged, and its
//! duty is then the dry one.

use crate::air_point::{AirPoint, Plain, barometric};
use crate::error::{PlantError, component, not_negative, positive, within};
use crate::fan::TerminalFan;
use crate::limits::{Limit, Limits};
use crate::solve;
use drycoil_air::raw;
use drycoil_exchange::ExchangeError;
use drycoil_exchange::sensible_coil::{CoilEntering, SensibleCoil, SensibleResult};
use drycoil_units::{
    ActualAirFlow, MassFlow, Power, Pressure, Quantity, Temperature, TemperatureDifference, WaterFlow,
};

/// Which air the fan carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FanArrangement {
    /// Primary and secondary air; the fan runs whenever the unit does.
    Series,
    /// Secondary air only; primary air joins behind the fan.
    Parallel,
}

/// What a fan in parallel does when primary air alone cools enough and there is nothing to heat with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IdleFan {
    /// Keeps its smallest flow.
    Runs,
    /// Stops.
    Stops,
}

/// The heating of a terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TerminalHeating {
    /// None.
    None,
    /// Electric heater.
    Electric {
        /// Largest power.
        capacity: Power,
    },
    /// Hot-water coil in the discharge.
    HotWater {
        /// The coil.
        coil: SensibleCoil,
        /// Largest water flow.
        largest_flow: WaterFlow,
    },
}

/// A terminal unit.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalUnit {
    /// Which air the fan carries.
    pub arrangement: FanArrangement,
    /// What the fan does when idle.
    pub idle_fan: IdleFan,
    /// The fan.
    pub fan: TerminalFan,
    /// The sensible cooling coil.
    pub cooling_coil: SensibleCoil,
    /// Largest water flow of the cooling coil, valve open.
    pub largest_water_flow: WaterFlow,
    /// Smallest share of that flow at which the valve is steady; below it opens and shuts.
    pub smallest_valve_share: f64,
    /// Heating.
    pub heating: TerminalHeating,
    /// Coldest discharge allowed.
    pub coldest_discharge: Temperature,
    /// Warmest discharge allowed.
    pub warmest_discharge: Temperature,
}

/// One condition of a terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TerminalHour {
    /// Barometric pressure.
    pub pressure: Pressure,
    /// Primary air as it arrives.
    pub primary: AirPoint,
    /// Dry air of the primary flow.
    pub primary_flow: MassFlow,
    /// Room air.
    pub room: AirPoint,
    /// Air that the fan draws through the coil: room or plenum.
    pub secondary: AirPoint,
    /// Cold water entering the coil.
    pub cold_water: Temperature,
    /// Hot water entering the heating coil.
    pub hot_water: Temperature,
}

/// Where moisture would collect.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoilWetness {
    /// Entering water at or above the dew point: nothing is wet.
    Dry,
    /// Entering water below the dew point, fins above it: headers, bends and valves get wet.
    PipesWet,
    /// Fins below the dew point as well.
    FinsWet,
}

/// A terminal at one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TerminalState {
    /// Dry air of the fan.
    pub fan_flow: MassFlow,
    /// Dry air through the coil.
    pub secondary_flow: MassFlow,
    /// Dry air into the room.
    pub discharge_flow: MassFlow,
    /// Secondary air behind the coil.
    pub after_coil: AirPoint,
    /// Air behind mixing and fan, before the heating coil.
    pub after_fan: AirPoint,
    /// Air into the room.
    pub discharge: AirPoint,
    /// The cooling coil while its valve is open; none when shut.
    pub coil: Option<SensibleResult>,
    /// Heat from air to cold water, mean over opening and shutting.
    pub coil_duty: Power,
    /// Cold water, mean over opening and shutting.
    pub water_flow: WaterFlow,
    /// Cold water flow over the largest; the valve's stroke in flow.
    pub valve_share: f64,
    /// Fan power; all of it heats the air.
    pub fan_power: Power,
    /// Heat of the heating coil.
    pub heating: Power,
    /// The hot-water coil while it runs.
    pub heating_coil: Option<SensibleResult>,
    /// Sensible cooling of the room by primary air alone, at its arriving temperature.
    pub primary_cooling: Power,
    /// Sensible cooling given to the room; negative heats.
    pub room_cooling: Power,
    /// Load less cooling given: positive when too little cooling (or too much heat), negative when overcooled.
    pub unmet: Power,
    /// Moisture taken from the room; negative when added.
    pub moisture_removed: MassFlow,
    /// Dew point of the air that meets the coil.
    pub coil_air_dew_point: Temperature,
    /// Entering water less that dew point.
    pub water_margin: TemperatureDifference,
    /// Fin surface at the water inlet less that dew point; equals the air's own margin when the valve is shut.
    pub surface_margin: TemperatureDifference,
    /// Whether and where the coil is wet.
    pub wetness: CoilWetness,
    /// Limits reached.
    pub limits: Limits,
    /// Energy left over across the unit.
    pub energy_residual: Power,
    /// Water vapour left over across the unit.
    pub water_residual: MassFlow,
    /// Steps of the search for fan and valve.
    pub count: u32,
}

/// A terminal with fan and valve at their most, as selection asks it of many units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WideOpen {
    /// Dry air into the room.
    pub discharge_flow: MassFlow,
    /// Heat from air to cold water.
    pub coil_duty: Power,
    /// Fan power; all of it heats the air.
    pub fan_power: Power,
    /// Sensible cooling of the room by primary air alone, at its arriving temperature.
    pub primary_cooling: Power,
    /// Sensible cooling given to the room.
    pub room_cooling: Power,
}

/// How much water the coil gets.
#[derive(Debug, Clone, Copy)]
enum Valve {
    Shut,
    /// A steady flow, m3/s.
    Open(f64),
    /// A duty, W.
    Duty(f64),
}

struct Coiled {
    result: Option<SensibleResult>,
    duty: f64,
    flow: f64,
    count: u32,
    limits: Limits,
}

struct Work<'a> {
    unit: &'a TerminalUnit,
    /// Kernel of the cooling coil.
    kernel: drycoil_exchange::sensible_coil::raw::Kernel,
    hour: &'a TerminalHour,
    p: f64,
    m_p: f64,
    volume: f64,
}

fn secondary_volume(hour: &TerminalHour, p: f64) -> f64 {
    let s = &hour.secondary;
    raw::volume_m3_per_kg(s.t(), s.w(), p)
}

impl Work<'_> {
    fn flows(&self, fan: f64) -> (f64, f64) {
        match self.unit.arrangement {
            FanArrangement::Series => ((fan - self.m_p).max(0.0), fan.max(self.m_p)),
            FanArrangement::Parallel => (fan, fan + self.m_p),
        }
    }

    fn fan_power(&self, fan: f64) -> Result<f64, PlantError> {
        Ok(self.unit.fan.electric_power(ActualAirFlow::from_si(fan * self.volume))?.si())
    }

    /// Discharge humidity ratio and specific heat.
    fn blend(&self, m_s: f64, m_d: f64) -> f64 {
        (self.m_p * self.hour.primary.w() + m_s * self.hour.secondary.w()) / m_d
    }

    fn entering(&self, m_s: f64, flow: f64) -> CoilEntering {
        CoilEntering {
            dry_bulb: self.hour.secondary.dry_bulb,
            humidity_ratio: self.hour.secondary.humidity_ratio,
            dry_air: MassFlow::kg_per_s(m_s),
            water: self.hour.cold_water,
            water_flow: WaterFlow::from_si(flow),
        }
    }

    fn coil(&self, m_s: f64, valve: Valve) -> Result<Coiled, PlantError> {
        let none = Coiled { result: None, duty: 0.0, flow: 0.0, count: 0, limits: Limits::NONE };
        let wrap = component::<ExchangeError>("cooling coil of the terminal");
        // Without air, or with water no colder than the air, the valve stays shut.
        if m_s < 1e-6 || self.hour.secondary.t() - self.hour.cold_water.si() < 1e-6 {
            return Ok(none);
        }
        let coil = &self.unit.cooling_coil;
        match valve {
            Valve::Shut => Ok(none),
            Valve::Open(flow) => {
                let r = coil.solve_with(&self.kernel, &self.entering(m_s, flow)).map_err(&wrap)?;
                Ok(Coiled {
                    duty: r.duty.si(),
                    flow,
                    result: Some(r),
                    count: r.iterations,
                    limits: Limits::NONE,
                })
            }
            Valve::Duty(duty) => {
                let most = self.unit.largest_water_flow;
                let least = most * self.unit.smallest_valve_share;
                let smallest =
                    coil.solve_with(&self.kernel, &self.entering(m_s, least.si())).map_err(&wrap)?;
                if duty <= smallest.duty.si() {
                    let mut limits = Limits::NONE;
                    limits.add(Limit::Cycling);
                    let share = (duty / smallest.duty.si()).max(0.0);
                    return Ok(Coiled {
                        duty: duty.max(0.0),
                        flow: least.si() * share,
                        result: Some(smallest),
                        count: smallest.iterations,
                        limits,
                    });
                }
                let entering = self.entering(m_s, most.si());
                let found = coil
                    .water_flow_for_duty_with(&self.kernel, &entering, Power::watts(duty), least, most)
                    .map_err(&wrap)?;
                Ok(Coiled {
                    duty: found.result.duty.si(),
                    flow: found.result.entering.water_flow.si(),
                    result: Some(found.result),
                    count: found.iterations,
                    limits: Limits::NONE,
                })
            }
        }
    }

    /// Coil duty with which the discharge, before heating, has a temperature.
    fn duty_for(&self, fan: f64, discharge: f64) -> Result<f64, PlantError> {
        let (m_s, m_d) = self.flows(fan);
        let w = self.blend(m_s, m_d);
        let h = raw::enthalpy_j_per_kg(discharge, w);
        Ok(self.m_p * self.hour.primary.h() + m_s * self.hour.secondary.h() + self.fan_power(fan)? - m_d * h)
    }

    /// Cooling of the room by a discharge temperature.
    fn room_cooling(&self, fan: f64, discharge: f64) -> f64 {
        let (m_s, m_d) = self.flows(fan);
        m_d * raw::humid_specific_heat_j_per_kg_k(self.blend(m_s, m_d)) * (self.hour.room.t() - discharge)
    }

    fn discharge_for(&self, fan: f64, cooling: f64) -> f64 {
        let (m_s, m_d) = self.flows(fan);
        self.hour.room.t() - cooling / (m_d * raw::humid_specific_heat_j_per_kg_k(self.blend(m_s, m_d)))
    }

    /// Discharge temperature before heating with a coil duty.
    fn mixed(&self, fan: f64, duty: f64) -> Result<f64, PlantError> {
        let (m_s, m_d) = self.flows(fan);
        let w = self.blend(m_s, m_d);
        let h = (self.m_p * self.hour.primary.h() + m_s * self.hour.secondary.h() + self.fan_power(fan)?
            - duty)
            / m_d;
        Ok(raw::dry_bulb_from_enthalpy_c(h, w))
    }

    /// Smallest fan flow with which a heating load needs no warmer discharge than allowed, and the steps of its search.
    fn heating_fan(&self, load: f64, low: f64, full: f64) -> Result<(f64, u32), PlantError> {
        let warmest = self.unit.warmest_discharge.si();
        if self.discharge_for(low, load) <= warmest || full <= low {
            return Ok((low, 0));
        }
        if self.discharge_for(full, load) >= warmest {
            return Ok((full, 0));
        }
        let root = solve::root("fan flow for heating", low, full, 1e-9, |m| {
            Ok(self.discharge_for(m, load) - warmest)
        })?;
        Ok((root.x, root.iterations))
    }

    /// Largest room cooling at a fan flow, with the discharge limit.
    fn most(&self, fan: f64) -> Result<f64, PlantError> {
        let (m_s, _) = self.flows(fan);
        let duty = self.coil(m_s, Valve::Open(self.unit.largest_water_flow.si()))?.duty;
        let open = self.mixed(fan, duty)?;
        Ok(self.room_cooling(fan, open.max(self.unit.coldest_discharge.si())))
    }

    fn finish(
        &self,
        load: f64,
        fan: f64,
        valve: Valve,
        heat: Option<f64>,
        mut limits: Limits,
        count: u32,
    ) -> Result<TerminalState, PlantError> {
        let hour = self.hour;
        let (m_s, m_d) = self.flows(fan);
        positive("discharge dry-air flow in kg/s", m_d)?;
        let coil = self.coil(m_s, valve)?;
        limits = limits.and(coil.limits);
        let fan_power = self.fan_power(fan)?;
        let after_coil = if m_s > 0.0 {
            AirPoint::raw(hour.secondary.t() - coil.duty / (m_s * hour.secondary.cp()), hour.secondary.w())
        } else {
            hour.secondary
        };
        let w = self.blend(m_s, m_d);
        let after_fan = AirPoint::raw(self.mixed(fan, coil.duty)?, w);
        let cp = after_fan.cp();
        let (mut heating, mut heating_coil) = (0.0, None);
        if let Some(target) = heat {
            let need = m_d * cp * (target - after_fan.t()).max(0.0);
            match &self.unit.heating {
                TerminalHeating::Electric { capacity } => heating = need.min(capacity.si()),
                TerminalHeating::HotWater { coil, largest_flow } if need > 0.0 => {
                    let entering = CoilEntering {
                        dry_bulb: after_fan.dry_bulb,
                        humidity_ratio: after_fan.humidity_ratio,
                        dry_air: MassFlow::kg_per_s(m_d),
                        water: hour.hot_water,
                        water_flow: *largest_flow,
                    };
                    let wrap = component::<ExchangeError>("heating coil of the terminal");
                    if hour.hot_water.si() > after_fan.t() + 1e-6 {
                        let full = coil.solve(&entering).map_err(&wrap)?;
                        let least = *largest_flow * 1e-3;
                        let r = if need >= -full.duty.si() {
                            full
                        } else {
                            match coil.water_flow_for_duty(
                                &entering,
                                Power::watts(-need),
                                least,
                                *largest_flow,
                            ) {
                                Ok(found) => found.result,
                                // Less than the smallest flow gives: it opens and shuts.
                                Err(ExchangeError::OutOfReach { .. }) => {
                                    limits.add(Limit::Cycling);
                                    coil.solve(&CoilEntering { water_flow: least, ..entering })
                                        .map_err(&wrap)?
                                }
                                Err(e) => return Err(wrap(e)),
                            }
                        };
                        heating = need.min(-r.duty.si());
                        heating_coil = Some(r);
                    }
                }
                TerminalHeating::None | TerminalHeating::HotWater { .. } => {}
            }
            if heating < need * (1.0 - 1e-9) {
                limits.add(Limit::Capacity);
            }
        }
        let discharge = AirPoint::raw(after_fan.t() + heating / (m_d * cp), w);
        if discharge.is_fog(self.p) {
            limits.add(Limit::Fog);
        }
        let out_of_limits = discharge.t() < self.unit.coldest_discharge.si() - 1e-6
            || discharge.t() > self.unit.warmest_discharge.si() + 1e-6;
        if out_of_limits {
            limits.add(Limit::DischargeTemperature);
        }
        let dew_point = raw::dew_point_c(hour.secondary.w(), self.p);
        let water_margin = hour.cold_water.si() - dew_point;
        let surface = coil.result.map_or(hour.secondary.t(), |r| r.surface_at_water_inlet.si());
        let surface_margin = surface - dew_point;
        let wetness = if water_margin >= 0.0 {
            CoilWetness::Dry
        } else if surface_margin >= 0.0 {
            CoilWetness::PipesWet
        } else {
            CoilWetness::FinsWet
        };
        if wetness != CoilWetness::Dry && coil.result.is_some() {
            limits.add(Limit::CoilWet);
        }
        let room_cooling = m_d * cp * (hour.room.t() - discharge.t());
        let most = self.unit.largest_water_flow.si();
        if coil.flow == 0.0 {
            limits.add(Limit::ValveShut);
        } else if coil.flow >= most * (1.0 - 1e-9) {
            limits.add(Limit::ValveFull);
        }
        let energy = self.m_p * hour.primary.h() + m_s * hour.secondary.h() + fan_power + heating
            - coil.duty
            - m_d * discharge.h();
        let vapour = self.m_p * hour.primary.w() + m_s * hour.secondary.w() - m_d * w;
        let watts = Power::watts;
        Ok(TerminalState {
            fan_flow: MassFlow::kg_per_s(fan),
            secondary_flow: MassFlow::kg_per_s(m_s),
            discharge_flow: MassFlow::kg_per_s(m_d),
            after_coil,
            after_fan,
            discharge,
            coil_duty: watts(coil.duty),
            water_flow: WaterFlow::from_si(coil.flow),
            valve_share: coil.flow / most,
            coil: coil.result,
            fan_power: watts(fan_power),
            heating: watts(heating),
            heating_coil,
            primary_cooling: watts(self.m_p * hour.primary.cp() * (hour.room.t() - hour.primary.t())),
            room_cooling: watts(room_cooling),
            unmet: watts(load - room_cooling),
            moisture_removed: MassFlow::kg_per_s(m_d * (hour.room.w() - w)),
            coil_air_dew_point: Temperature::from_si(dew_point),
            water_margin: TemperatureDifference::kelvin(water_margin),
            surface_margin: TemperatureDifference::kelvin(surface_margin),
            wetness,
            limits,
            energy_residual: watts(energy),
            water_residual: MassFlow::kg_per_s(vapour),
            count: count + coil.count,
        })
    }
}

impl TerminalUnit {
    fn check(&self) -> Result<(), PlantError> {
        positive("largest water flow in m3/s", self.largest_water_flow.si())?;
        within("smallest share of the valve", self.smallest_valve_share, 1e-3, 0.5)?;
        within("coldest discharge in degC", self.coldest_discharge.si(), 0.0, 30.0)?;
        within("warmest discharge in degC", self.warmest_discharge.si(), 20.0, 60.0)?;
        Ok(())
    }

    fn work<'a>(&'a self, hour: &'a TerminalHour) -> Result<Work<'a>, PlantError> {
        self.check()?;
        let p = barometric(hour.pressure)?;
        hour.primary.validated("humidity ratio of the primary air", p)?;
        hour.room.validated("humidity ratio of the room air", p)?;
        hour.secondary.validated("humidity ratio of the secondary air", p)?;
        within("cold water in degC", hour.cold_water.si(), 0.0, 60.0)?;
        within("hot water in degC", hour.hot_water.si(), 0.0, 100.0)?;
        let m_p = not_negative("primary dry-air flow in kg/s", hour.primary_flow.si())?;
        let kernel =
            self.cooling_coil.kernel().map_err(component::<ExchangeError>("cooling coil of the terminal"))?;
        Ok(Work { unit: self, kernel, hour, p, m_p, volume: secondary_volume(hour, p) })
    }

    fn range(&self, work: &Work<'_>) -> Result<(f64, f64), PlantError> {
        let full = self.fan.full_flow.si() / work.volume;
        let mut low = full * self.fan.minimum_share;
        if self.arrangement == FanArrangement::Series {
            if work.m_p > full {
                return Err(PlantError::Contradiction {
                    what: "the primary flow in kg/s is more than the fan in series can carry",
                    value: work.m_p,
                    limit: full,
                });
            }
            low = low.max(work.m_p);
        }
        Ok((low, full))
    }

    /// Smallest and largest dry-air flow of the fan at this condition.
    ///
    /// # Errors
    /// A value out of range; a primary flow beyond a fan in series.
    pub fn fan_range(&self, hour: &TerminalHour) -> Result<(MassFlow, MassFlow), PlantError> {
        let (low, full) = self.range(&self.work(hour)?)?;
        Ok((MassFlow::kg_per_s(low), MassFlow::kg_per_s(full)))
    }

    /// The terminal with fan and valve at their most: [`at`](Self::at) the upper end of [`fan_range`](Self::fan_range)
    /// and of the valve, without the dry margins.
    ///
    /// # Errors
    /// As [`at`](Self::at).
    pub fn wide_open(&self, hour: &TerminalHour) -> Result<WideOpen, PlantError> {
        let work = self.work(hour)?;
        let (_, fan) = self.range(&work)?;
        let (m_s, m_d) = work.flows(fan);
        positive("discharge dry-air flow in kg/s", m_d)?;
        let duty = work.coil(m_s, Valve::Open(self.largest_water_flow.si()))?.duty;
        let after_fan = AirPoint::raw(work.mixed(fan, duty)?, work.blend(m_s, m_d));
        let watts = Power::watts;
        Ok(WideOpen {
            discharge_flow: MassFlow::kg_per_s(m_d),
            coil_duty: watts(duty),
            fan_power: watts(work.fan_power(fan)?),
            primary_cooling: watts(work.m_p * hour.primary.cp() * (hour.room.t() - hour.primary.t())),
            room_cooling: watts(m_d * after_fan.cp() * (hour.room.t() - after_fan.t())),
        })
    }

    /// Whether [`meet`](Self::meet) leaves at most `lack` of a heating load (negative, as there) unmet. A hot-water coil is
    /// asked for the most that it does, not for the valve that just does it.
    ///
    /// # Errors
    /// As [`meet`](Self::meet).
    pub fn heats_within(&self, hour: &TerminalHour, load: Power, lack: Power) -> Result<bool, PlantError> {
        let work = self.work(hour)?;
        let (low, full) = self.range(&work)?;
        let q = within("room load in W", load.si(), -1e6, 1e6)?;
        let shut = work.room_cooling(low, work.mixed(low, 0.0)?);
        let (TerminalHeating::HotWater { coil, largest_flow }, true) = (&self.heating, q < shut) else {
            return Ok(self.meet(hour, load)?.unmet.si() >= -lack.si());
        };
        let (fan, _) = work.heating_fan(q, low, full)?;
        let (m_s, m_d) = work.flows(fan);
        let target = work.discharge_for(fan, q).min(self.warmest_discharge.si());
        let after_fan = AirPoint::raw(work.mixed(fan, 0.0)?, work.blend(m_s, m_d));
        let cp = after_fan.cp();
        let unmet = |discharge: f64| q - m_d * cp * (hour.room.t() - discharge);
        let need = m_d * cp * (target - after_fan.t()).max(0.0);
        // The warmest discharge allowed, before the coil is asked.
        if unmet(after_fan.t() + need / (m_d * cp)) < -lack.si() {
            return Ok(false);
        }
        if need <= 0.0 {
            return Ok(true);
        }
        if hour.hot_water.si() <= after_fan.t() + 1e-6 {
            return Ok(unmet(after_fan.t()) >= -lack.si());
        }
        let entering = CoilEntering {
            dry_bulb: after_fan.dry_bulb,
            humidity_ratio: after_fan.humidity_ratio,
            dry_air: MassFlow::kg_per_s(m_d),
            water: hour.hot_water,
            water_flow: *largest_flow,
        };
        let most =
            coil.solve(&entering).map_err(component::<ExchangeError>("heating coil of the terminal"))?;
        let heating = need.min(-most.duty.si());
        Ok(unmet(after_fan.t() + heating / (m_d * cp)) >= -lack.si())
    }

    /// The terminal with a given fan flow and water flow, without heating. `unmet` counts against a load of zero.
    ///
    /// # Errors
    /// A flow outside the fan's or valve's range; a state out of range.
    pub fn at(
        &self,
        hour: &TerminalHour,
        fan_flow: MassFlow,
        water_flow: WaterFlow,
    ) -> Result<TerminalState, PlantError> {
        let work = self.work(hour)?;
        let (low, full) = self.range(&work)?;
        let fan = within("fan dry-air flow in kg/s", fan_flow.si(), low * (1.0 - 1e-9), full * (1.0 + 1e-9))?;
        let most = self.largest_water_flow.si();
        let flow = within("water flow in m3/s", water_flow.si(), 0.0, most * (1.0 + 1e-9))?;
        let valve = if flow == 0.0 { Valve::Shut } else { Valve::Open(flow) };
        work.finish(0.0, fan, valve, None, Limits::NONE, 0)
    }

    /// The terminal with a fixed fan flow, valve or heating modulating to meet the load.
    ///
    /// # Errors
    /// As [`meet`](Self::meet); a fan flow outside its range.
    pub fn meet_at_fan_flow(
        &self,
        hour: &TerminalHour,
        load: Power,
        fan_flow: MassFlow,
    ) -> Result<TerminalState, PlantError> {
        let work = self.work(hour)?;
        let (low, full) = self.range(&work)?;
        let fan = within("fan dry-air flow in kg/s", fan_flow.si(), low * (1.0 - 1e-9), full * (1.0 + 1e-9))?;
        self.meet_between(&work, load, fan, fan)
    }

    /// The terminal meets a sensible load of the room (positive cools): the valve opens at the smallest fan flow
    /// first, then the fan speeds up; heating likewise, within the discharge limits.
    ///
    /// ```
    /// use drycoil_exchange::sensible_coil::{CoilCircuiting, SensibleCoil, Tubes};
    /// use drycoil_plant::air_point::AirPoint;
    /// use drycoil_plant::fan::TerminalFan;
    /// use drycoil_plant::terminal::*;
    /// use drycoil_units::*;
    /// let unit = TerminalUnit {
    ///     arrangement: FanArrangement::Series,
    ///     idle_fan: IdleFan::Runs,
    ///     fan: TerminalFan::new(ActualAirFlow::acfm(700.0), SpecificFanPower::w_per_cfm(0.30), 2.5, 0.3)?,
    ///     cooling_coil: SensibleCoil {
    ///         circuiting: CoilCircuiting::CrossCounterflow { rows: 2 },
    ///         tubes: Tubes { inner_diameter: Length::inches(0.45), parallel_circuits: 4 },
    ///         reference_air: StandardAirFlow::cfm(600.0).dry_air_mass_flow(),
    ///         reference_water: WaterFlow::gpm(3.0),
    ///         reference_water_temperature: Temperature::fahrenheit(58.0),
    ///         air_side: Conductance::w_per_k(800.0),
    ///         air_exponent: 0.6,
    ///         metal: Conductance::w_per_k(10_000.0),
    ///         water_side: Conductance::w_per_k(1500.0),
    ///     },
    ///     largest_water_flow: WaterFlow::gpm(3.5),
    ///     smallest_valve_share: 0.05,
    ///     heating: TerminalHeating::Electric { capacity: Power::watts(3000.0) },
    ///     coldest_discharge: Temperature::fahrenheit(57.0),
    ///     warmest_discharge: Temperature::fahrenheit(85.0),
    /// };
    /// let room = AirPoint { dry_bulb: Temperature::fahrenheit(75.0), humidity_ratio: HumidityRatio::grains_per_pound(62.0) };
    /// let hour = TerminalHour {
    ///     pressure: Pressure::pascals(101_325.0),
    ///     primary: AirPoint { dry_bulb: Temperature::fahrenheit(52.0), humidity_ratio: HumidityRatio::grains_per_pound(50.0) },
    ///     primary_flow: StandardAirFlow::cfm(150.0).dry_air_mass_flow(),
    ///     room,
    ///     secondary: room,
    ///     cold_water: Temperature::fahrenheit(57.0),
    ///     hot_water: Temperature::fahrenheit(120.0),
    /// };
    /// let state = unit.meet(&hour, Power::btu_per_hour(8000.0))?;
    /// assert!(state.unmet.to_watts().abs() < 1e-3);
    /// assert_eq!(state.wetness, CoilWetness::Dry);
    /// assert!(state.water_margin.to_fahrenheit() > 2.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A state, flow or temperature out of range; a primary flow beyond a fan in series; a search that does not
    /// settle. A load that is not met is part of the answer.
    pub fn meet(&self, hour: &TerminalHour, load: Power) -> Result<TerminalState, PlantError> {
        let work = self.work(hour)?;
        let (low, full) = self.range(&work)?;
        self.meet_between(&work, load, low, full)
    }

    fn meet_between(
        &self,
        work: &Work<'_>,
        load: Power,
        low: f64,
        full: f64,
    ) -> Result<TerminalState, PlantError> {
        let q = within("room load in W", load.si(), -1e6, 1e6)?;
        let hour = work.hour;
        let mut limits = Limits::NONE;
        let has_heating = !matches!(self.heating, TerminalHeating::None);
        let primary_only = work.m_p * hour.primary.cp() * (hour.room.t() - hour.primary.t());
        if self.arrangement == FanArrangement::Parallel
            && self.idle_fan == IdleFan::Stops
            && !has_heating
            && q <= primary_only
            && work.m_p > 0.0
        {
            limits.add(Limit::FanMinimum);
            return work.finish(q, 0.0, Valve::Shut, None, limits, 0);
        }
        let shut = work.room_cooling(low, work.mixed(low, 0.0)?);
        let tolerance = 1e-9 * q.abs().max(10.0);
        if q <= shut {
            // Primary air alone cools enough: heat, or be overcooled.
            if !has_heating || q >= shut - tolerance {
                limits.add(Limit::FanMinimum);
                return work.finish(q, low, Valve::Shut, None, limits, 0);
            }
            let warmest = self.warmest_discharge.si();
            let (fan, count) = work.heating_fan(q, low, full)?;
            if fan <= low {
                limits.add(Limit::FanMinimum);
            }
            if fan >= full {
                limits.add(Limit::FanFull);
            }
            let target = work.discharge_for(fan, q);
            if target > warmest + 1e-6 {
                limits.add(Limit::DischargeTemperature);
            }
            return work.finish(q, fan, Valve::Shut, Some(target.min(warmest)), limits, count);
        }
        let (mut fan, mut count) = (low, 0);
        let at_low = work.most(low)?;
        if at_low < q {
            let at_full = work.most(full)?;
            if at_full <= q {
                // Full fan is not always the most: its own heat grows faster than the coil. Keep the better end.
                fan = if at_full >= at_low { full } else { low };
                limits.add(if fan == full { Limit::FanFull } else { Limit::FanMinimum });
                if at_full.max(at_low) < q - tolerance {
                    limits.add(Limit::Capacity);
                }
                let open = Valve::Open(self.largest_water_flow.si());
                let (m_s, _) = work.flows(fan);
                let duty = work.coil(m_s, open)?.duty;
                let coldest = self.coldest_discharge.si();
                if work.mixed(fan, duty)? >= coldest {
                    return work.finish(q, fan, open, None, limits, 0);
                }
                limits.add(Limit::DischargeTemperature);
                let duty = work.duty_for(fan, coldest)?;
                let valve = if duty > 0.0 { Valve::Duty(duty) } else { Valve::Shut };
                return work.finish(q, fan, valve, None, limits, 0);
            }
            let root = solve::root("fan flow for cooling", low, full, tolerance, |m| Ok(work.most(m)? - q))?;
            (fan, count) = (root.x, root.iterations);
        } else {
            limits.add(Limit::FanMinimum);
        }
        let duty = work.duty_for(fan, work.discharge_for(fan, q))?;
        // At the flow where the open valve just does it, rounding must not ask for more than that.
        let (m_s, _) = work.flows(fan);
        let open = work.coil(m_s, Valve::Open(self.largest_water_flow.si()))?;
        let valve = if duty <= 0.0 {
            Valve::Shut
        } else if duty >= open.duty {
            Valve::Open(self.largest_water_flow.si())
        } else {
            Valve::Duty(duty)
        };
        work.finish(q, fan, valve, None, limits, count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use drycoil_exchange::sensible_coil::{CoilCircuiting, Tubes};
    use drycoil_units::{Conductance, Length, SpecificFanPower, StandardAirFlow};
    use proptest::prelude::*;

    const P: f64 = 101_325.0;

    fn f(t: f64) -> Temperature {
        Temperature::fahrenheit(t)
    }

    fn coil(ua: f64) -> SensibleCoil {
        SensibleCoil {
            circuiting: CoilCircuiting::CrossCounterflow { rows: 2 },
            tubes: Tubes { inner_diameter: Length::inches(0.45), parallel_circuits: 4 },
            reference_air: StandardAirFlow::cfm(600.0).dry_air_mass_flow(),
            reference_water: WaterFlow::gpm(3.0),
            reference_water_temperature: f(58.0),
            air_side: Conductance::w_per_k(ua),
            air_exponent: 0.6,
            metal: Conductance::w_per_k(10_000.0),
            water_side: Conductance::w_per_k(2.0 * ua),
        }
    }

    fn unit(arrangement: FanArrangement) -> TerminalUnit {
        TerminalUnit {
            arrangement,
            idle_fan: IdleFan::Runs,
            fan: TerminalFan::new(ActualAirFlow::acfm(700.0), SpecificFanPower::w_per_cfm(0.30), 2.5, 0.3)
                .unwrap(),
            cooling_coil: coil(800.0),
            largest_water_flow: WaterFlow::gpm(3.5),
            smallest_valve_share: 0.05,
            heating: TerminalHeating::HotWater { coil: coil(300.0), largest_flow: WaterFlow::gpm(1.5) },
            coldest_discharge: f(56.0),
            warmest_discharge: f(85.0),
        }
    }

    fn hour() -> TerminalHour {
        let room = AirPoint::raw(f(75.0).si(), raw::humidity_ratio_at_dew_point(f(54.0).si(), P));
        TerminalHour {
            pressure: Pressure::pascals(P),
            primary: AirPoint::raw(f(52.0).si(), raw::humidity_ratio_at_dew_point(f(47.0).si(), P)),
            primary_flow: StandardAirFlow::cfm(150.0).dry_air_mass_flow(),
            room,
            secondary: room,
            cold_water: f(57.0),
            hot_water: f(120.0),
        }
    }

    fn assert_closed(s: &TerminalState) {
        let scale = s.discharge_flow.si() * 60e3;
        assert!(s.energy_residual.si().abs() <= 1e-9 * scale, "{}", s.energy_residual.si());
        assert!(s.water_residual.si().abs() <= 1e-12 * s.discharge_flow.si());
    }

    #[test]
    fn val_dry_margin_of_the_trade_rule() {
        // Trade rule, common practice without source: room dew point 55 degF and water 55 degF is margin 0, water
        // 57 degF is 2 degF; a 75 degF 50 % room has a dew point of 55.12 degF (recomputed), so 55 degF water
        // misses by 0.12 degF.
        let u = unit(FanArrangement::Series);
        let at = |w: f64, water: f64| {
            let mut h = hour();
            h.secondary = AirPoint::raw(f(75.0).si(), w);
            h.room = h.secondary;
            h.cold_water = f(water);
            u.meet(&h, Power::watts(2500.0)).unwrap()
        };
        let w55 = raw::humidity_ratio_at_dew_point(f(55.0).si(), P);
        assert!(at(w55, 55.0).water_margin.to_fahrenheit().abs() < 1e-6);
        let two = at(w55, 57.0);
        assert!((two.water_margin.to_fahrenheit() - 2.0).abs() < 1e-6);
        assert!(two.surface_margin > two.water_margin && two.wetness == CoilWetness::Dry);
        let half = at(raw::humidity_ratio_from_relative_humidity(f(75.0).si(), 0.5, P), 55.0);
        assert!(
            (half.water_margin.to_fahrenheit() + 0.12).abs() < 0.01,
            "{}",
            half.water_margin.to_fahrenheit()
        );
        assert_eq!(half.wetness, CoilWetness::PipesWet);
        assert!(half.limits.has(Limit::CoilWet));
        let wet = at(raw::humidity_ratio_at_dew_point(f(64.0).si(), P), 52.0);
        assert_eq!(wet.wetness, CoilWetness::FinsWet);
    }

    #[test]
    fn xchk_a_discharge_state_by_hand() {
        // The unit at full fan and open valve, against the exchanger solved on its own and mixing by enthalpy.
        let (u, h) = (unit(FanArrangement::Series), hour());
        let (_, full) = u.fan_range(&h).unwrap();
        let s = u.at(&h, full, u.largest_water_flow).unwrap();
        let m_s = full.si() - h.primary_flow.si();
        let direct = u
            .cooling_coil
            .solve(&CoilEntering {
                dry_bulb: h.secondary.dry_bulb,
                humidity_ratio: h.secondary.humidity_ratio,
                dry_air: MassFlow::from_si(m_s),
                water: h.cold_water,
                water_flow: u.largest_water_flow,
            })
            .unwrap();
        assert!((s.coil_duty.si() - direct.duty.si()).abs() < 1e-9);
        assert!((s.after_coil.t() - direct.leaving_air.si()).abs() < 1e-9);
        let enthalpy = (h.primary_flow.si() * h.primary.h() + m_s * s.after_coil.h() + 210.0) / full.si();
        assert!((s.discharge.h() - enthalpy).abs() < 1e-6, "{} {enthalpy}", s.discharge.h());
        assert!((s.fan_power.si() - 210.0).abs() < 1e-9);
        assert_closed(&s);
    }

    #[test]
    fn phys_arrangements_differ_by_what_the_fan_carries() {
        let h = hour();
        let series = unit(FanArrangement::Series);
        let parallel = unit(FanArrangement::Parallel);
        let (_, full) = series.fan_range(&h).unwrap();
        let a = series.at(&h, full, WaterFlow::gpm(3.0)).unwrap();
        let b = parallel.at(&h, full, WaterFlow::gpm(3.0)).unwrap();
        assert_eq!(a.fan_power, b.fan_power);
        assert!((b.discharge_flow.si() - a.discharge_flow.si() - h.primary_flow.si()).abs() < 1e-12);
        assert!(b.coil_duty > a.coil_duty);
        let mut much = h;
        much.primary_flow = full * 1.1;
        assert!(series.meet(&much, Power::watts(1000.0)).is_err());
        assert!(parallel.meet(&much, Power::watts(9000.0)).is_ok());
    }

    #[test]
    fn phys_overcooling_is_reported_or_heated_away() {
        let h = hour();
        let mut u = unit(FanArrangement::Series);
        let heated = u.meet(&h, Power::watts(200.0)).unwrap();
        assert!(heated.heating.si() > 0.0 && heated.unmet.si().abs() < 1e-5, "{}", heated.unmet.si());
        assert_eq!(heated.coil_duty.si(), 0.0);
        assert_closed(&heated);
        u.heating = TerminalHeating::None;
        let cold = u.meet(&h, Power::watts(200.0)).unwrap();
        assert!(cold.unmet.si() < -500.0 && cold.limits.has(Limit::ValveShut));
        let mut p = unit(FanArrangement::Parallel);
        p.heating = TerminalHeating::None;
        p.idle_fan = IdleFan::Stops;
        let still = p.meet(&h, Power::watts(200.0)).unwrap();
        assert_eq!((still.fan_power.si(), still.secondary_flow.si()), (0.0, 0.0));
        assert!((still.room_cooling.si() - still.primary_cooling.si()).abs() < 1e-9);
        assert_closed(&still);
    }

    #[test]
    fn phys_too_much_load_is_unmet_and_flagged() {
        let s = unit(FanArrangement::Series).meet(&hour(), Power::watts(20e3)).unwrap();
        assert!(
            s.limits.has(Limit::Capacity) && s.limits.has(Limit::FanFull) && s.limits.has(Limit::ValveFull)
        );
        assert!(s.unmet.si() > 10e3);
        assert_closed(&s);
        let cold = unit(FanArrangement::Series).meet(&hour(), Power::watts(-20e3)).unwrap();
        assert!(cold.unmet.si() < -5e3 && cold.heating.si() > 0.0);
        assert!(cold.discharge.t() <= f(85.0).si() + 1e-6);
        assert!(cold.limits.has(Limit::Capacity) || cold.limits.has(Limit::DischargeTemperature));
    }

    #[test]
    fn phys_heating_raises_the_fan_at_the_discharge_limit() {
        let h = hour();
        let mut u = unit(FanArrangement::Series);
        u.heating = TerminalHeating::Electric { capacity: Power::watts(10e3) };
        let little = u.meet(&h, Power::watts(-300.0)).unwrap();
        let more = u.meet(&h, Power::watts(-1700.0)).unwrap();
        assert!(more.fan_flow > little.fan_flow);
        assert!((more.discharge.dry_bulb.to_fahrenheit() - 85.0).abs() < 1e-6);
        assert!(more.unmet.si().abs() < 1e-4 && little.unmet.si().abs() < 1e-4);
        assert_closed(&more);
    }

    #[test]
    fn phys_humid_plenum_governs_the_margin() {
        let mut h = hour();
        let dry = unit(FanArrangement::Series).meet(&h, Power::watts(2000.0)).unwrap();
        h.secondary = AirPoint::raw(f(78.0).si(), raw::humidity_ratio_at_dew_point(f(58.0).si(), P));
        let humid = unit(FanArrangement::Series).meet(&h, Power::watts(2000.0)).unwrap();
        assert!(dry.wetness == CoilWetness::Dry && humid.wetness != CoilWetness::Dry);
        assert!(humid.coil_duty > dry.coil_duty);
        assert_closed(&humid);
    }

    proptest! {
        #[test]
        fn xchk_wide_open_is_the_upper_end_of_fan_and_valve(
            cfm in 0.0f64..300.0, room in 70.0f64..80.0, water in 50.0f64..62.0, series in any::<bool>(),
        ) {
            let unit =
                unit(if series { FanArrangement::Series } else { FanArrangement::Parallel });
            let room = AirPoint::raw(f(room).si(), raw::humidity_ratio_at_dew_point(f(54.0).si(), P));
            let hour = TerminalHour {
                primary_flow: StandardAirFlow::cfm(cfm).dry_air_mass_flow(),
                room,
                secondary: room,
                cold_water: f(water),
                ..hour()
            };
            let (_, full) = unit.fan_range(&hour).unwrap();
            let at = unit.at(&hour, full, unit.largest_water_flow).unwrap();
            let open = unit.wide_open(&hour).unwrap();
            // The same equations: rounding only.
            for (a, b) in [
                (open.coil_duty, at.coil_duty),
                (open.fan_power, at.fan_power),
                (open.primary_cooling, at.primary_cooling),
                (open.room_cooling, at.room_cooling),
            ] {
                prop_assert!((a.si() - b.si()).abs() <= 1e-9 * b.si().abs().max(1.0), "{a:?} {b:?}");
            }
            prop_assert_eq!(open.discharge_flow, at.discharge_flow);
        }

        #[test]
        fn xchk_heats_within_says_what_meet_leaves(
            load in -9000.0f64..500.0, cfm in 0.0f64..300.0, hot in 60.0f64..140.0, lack in 1.0f64..500.0,
            gpm in 0.1f64..2.0, water in any::<bool>(),
        ) {
            let mut unit = unit(FanArrangement::Series);
            if water {
                unit.heating =
                    TerminalHeating::HotWater { coil: coil(300.0), largest_flow: WaterFlow::gpm(gpm) };
            }
            let hour = TerminalHour {
                primary_flow: StandardAirFlow::cfm(cfm).dry_air_mass_flow(),
                hot_water: f(hot),
                ..hour()
            };
            let unmet = unit.meet(&hour, Power::watts(load)).unwrap().unmet.si();
            // Rounding of the valve's search decides nothing here.
            prop_assume!((unmet + lack).abs() > 1e-3);
            let heats = unit.heats_within(&hour, Power::watts(load), Power::watts(lack)).unwrap();
            prop_assert_eq!(heats, unmet >= -lack, "{} W unmet", unmet);
        }
    }

    proptest! {
        #[test]
        fn phys_load_met_or_limit_named_and_balances_close(
            load in -4000f64..9000.0, primary in 40f64..260.0, room in 68f64..80.0, dp in 40f64..60.0,
            warmer in 0f64..4.0, water in 50f64..62.0, hot in 95f64..160.0, t_p in 48f64..68.0, kind in 0usize..2,
            p in 80e3f64..104e3,
        ) {
            let u = unit([FanArrangement::Series, FanArrangement::Parallel][kind]);
            let air = AirPoint::raw(f(room).si(), raw::humidity_ratio_at_dew_point(f(dp).si(), p));
            let h = TerminalHour {
                pressure: Pressure::pascals(p),
                primary: AirPoint::raw(f(t_p).si(), raw::humidity_ratio_at_dew_point(f(46.0).si(), p)),
                primary_flow: StandardAirFlow::cfm(primary).dry_air_mass_flow(),
                room: air,
                secondary: AirPoint::raw(air.t() + warmer, air.w()),
                cold_water: f(water),
                hot_water: f(hot),
            };
            let s = u.meet(&h, Power::watts(load)).unwrap();
            let scale = s.discharge_flow.si() * 60e3;
            prop_assert!(s.energy_residual.si().abs() <= 1e-9 * scale);
            prop_assert!(s.water_residual.si().abs() <= 1e-12);
            let named = [Limit::Capacity, Limit::DischargeTemperature, Limit::FanFull];
            if s.unmet.si().abs() > 1e-3 * load.abs().max(10.0) {
                prop_assert!(named.iter().any(|l| s.limits.has(*l)), "{} unmet, {}", s.unmet.si(), s.limits);
            }
            // Never cools and heats at once.
            prop_assert!(s.coil_duty.si() == 0.0 || s.heating.si() == 0.0);
            prop_assert!(s.after_coil.t() >= f(water).si().min(h.secondary.t()) - 1e-9);
            prop_assert!(s.valve_share >= 0.0 && s.valve_share <= 1.0 + 1e-9);
            if s.limits.has(Limit::CoilWet) {
                prop_assert!(s.water_margin.si() < 0.0);
            }
        }

        #[test]
        fn phys_more_load_more_water_or_air(load in 1800f64..4500.0) {
            let u = unit(FanArrangement::Series);
            let a = u.meet(&hour(), Power::watts(load)).unwrap();
            let b = u.meet(&hour(), Power::watts(load * 1.03)).unwrap();
            prop_assert!(b.fan_flow.si() >= a.fan_flow.si() - 1e-9);
            prop_assert!(b.coil_duty.si() > a.coil_duty.si() - 1e-9 || b.fan_power > a.fan_power);
        }
    }
}
