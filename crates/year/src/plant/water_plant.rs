//! The water plant of either scheme: loops, chillers, tower, waterside economizer, pumps, heating.
//!
//! Order of a step: the loops give the heat that each plant side must take; a heat-recovery chiller takes what the
//! heating wants of it; the plate exchanger takes what the tower's water allows; the chillers take the rest. Tower water
//! and chillers are solved together. Heat that the machines cannot take stays in the water and is theirs in the next
//! step.

use crate::plant::air::Saturation;
use crate::plant::machines::chiller_bank::{ChillerBankForm, ChillerBankStep, CondenserWater};
use crate::plant::machines::heating::BoilerForm;
use crate::plant::machines::plate::{PlateAble, PlateForm};
use crate::plant::machines::pump::PumpForm;
use crate::plant::machines::tower::{TowerAir, TowerForm, TowerStart, TowerStep};
use crate::plant::{SetUpError, within};
use crate::signals::{Outdoor, PlantLimit};
use drycoil_exchange::tower::CP_WATER_J_PER_KG_K;
use drycoil_plant::boiler::BoilerEfficiency;
use drycoil_plant::chiller::Condenser;
use drycoil_plant::economizer::PlateExchanger;
use drycoil_plant::limits::Limit;
use drycoil_plant::loops::{self, Arrangement, LoopDemand};
use drycoil_plant::tower_plant::{TowerDesign, TowerFanControl, TowerPlant};
use drycoil_project::{HeatingSource, Project};
use drycoil_sizing::machine_data::{
    COLDEST_C, COLDEST_CONDENSER_C, EXPONENT, HELD_PRESSURE_SHARE, WATER_CP, WATER_RHO, WATER_TO_AIR, chiller,
};
use drycoil_units::{MassFlow, Power, Pressure, Quantity, SpecificHeat, Temperature, TemperatureDifference};

/// Share of a loop's heat below which the economizer stays off, so that the tower does not run for nothing. Common
/// practice, no source.
const LEAST_FREE_SHARE: f64 = 0.05;
/// Wet bulbs between which the tower's approach is read, degC.
const WET_BULBS_C: [f64; 9] = [-15.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 32.0];
/// Least water of the tower over that of design, for which it is solved. Common practice, no source.
const LEAST_TOWER_FLOW: f64 = 0.05;
/// Lowest speed of the tower's fans. Common practice, no source.
const LOWEST_TOWER_SPEED: f64 = 0.25;

/// Chillers of one plant side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankDesign {
    /// How many.
    pub count: u32,
    /// Cooling of each at the leaving water and the tower's design water, W.
    pub capacity_w: f64,
    /// Leaving water, degC.
    pub leaving_c: f64,
}

/// A pump at design.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PumpPoint {
    /// Flow, m3/s.
    pub flow_m3_per_s: f64,
    /// Head as pressure, Pa.
    pub head_pa: f64,
}

/// The plate exchanger at design.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlateDesign {
    /// Heat, W.
    pub load_w: f64,
    /// Water coming back, degC.
    pub return_c: f64,
    /// Water leaving, degC.
    pub supply_c: f64,
}

/// Everything that a water plant is built from.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterPlantDesign {
    /// How the loops are joined.
    pub arrangement: Arrangement,
    /// The cold side.
    pub cold: BankDesign,
    /// The warm side of separate plants.
    pub warm: Option<BankDesign>,
    /// Heat rejected at design, W.
    pub tower_heat_w: f64,
    /// Wet bulb at design, degC.
    pub tower_wet_bulb_c: f64,
    /// Pressure of the site, Pa.
    pub pressure_pa: f64,
    /// The economizer.
    pub plate: Option<PlateDesign>,
    /// Pump of the drying coil or of the air handler's coil.
    pub coil_pump: PumpPoint,
    /// Pump of the terminals and sensible units.
    pub sensible_pump: PumpPoint,
    /// Pump of the cold chillers.
    pub cold_pump: PumpPoint,
    /// Pump of the warm chillers.
    pub warm_pump: PumpPoint,
    /// Condenser pump.
    pub condenser_pump: PumpPoint,
    /// Hot-water pump.
    pub hot_pump: PumpPoint,
    /// Capacity of the boilers, W.
    pub heating_w: f64,
    /// Hot water, degC: what a heat-recovery chiller must reach.
    pub hot_water_c: f64,
}

/// The water plant.
#[derive(Debug, Clone)]
pub struct WaterPlant {
    arrangement: Arrangement,
    cold_c: f64,
    cold: ChillerBankForm,
    warm: Option<ChillerBankForm>,
    tower: TowerForm,
    /// Where the tower's searches begin: without and with the economizer.
    starts: [TowerStart; 2],
    /// Approach that the tower makes at full fan and design range, K, at wet bulbs of [`WET_BULBS_C`].
    approach_k: [f64; WET_BULBS_C.len()],
    plate: Option<PlateForm>,
    coil_pump: PumpForm,
    sensible_pump: PumpForm,
    cold_pump: PumpForm,
    warm_pump: PumpForm,
    hot_pump: PumpForm,
    condenser_pump_w: f64,
    /// Condenser water of one machine of each side over the tower's water.
    cold_flow_share: f64,
    warm_flow_share: f64,
    boiler: BoilerForm,
    recovers_heat: bool,
    heating_c: f64,
    heating_drop_k: f64,
    /// Heat left in the water by the last step, W: cold side, warm side, hot water.
    left: [f64; 3],
    /// Cooling that each side can make, W, by the tower water of the last step.
    able: [f64; 2],
}

/// What is asked of the water plant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WaterDemand {
    /// Heat of the central coil, W.
    pub coil_w: f64,
    /// Heat that it would give without limit, W.
    pub coil_asked_w: f64,
    /// Its water, kg/s.
    pub coil_kg_per_s: f64,
    /// Heat of terminals and sensible units, W.
    pub sensible_w: f64,
    /// Their water, kg/s.
    pub sensible_kg_per_s: f64,
    /// Water wanted by the terminals, degC.
    pub sensible_c: f64,
    /// Hot water to the central unit, W.
    pub central_heat_w: f64,
    /// Hot water to the rooms, W.
    pub room_heat_w: f64,
    /// Reheat that condenser water is warm enough for, W.
    pub low_heat_w: f64,
    /// Share of the terminals' heat that was allowed in this step, 0 to 1.
    pub cooling_share: f64,
    /// Share of the rooms' heating that was allowed in this step, 0 to 1.
    pub heating_share: f64,
}

/// Smallest share that a plant at its limit gives, so that what is asked stays visible.
const LEAST_SHARE: f64 = 0.05;

/// The water plant in a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WaterStep {
    /// Electricity of chillers for the central coil, W.
    pub cold_power_w: f64,
    /// Electricity of chillers for the terminals, W.
    pub sensible_power_w: f64,
    /// Tower fans, W.
    pub tower_fan_w: f64,
    /// Cold, condenser and economizer pumps, W.
    pub cooling_pumps_w: f64,
    /// Hot-water pumps, W.
    pub heating_pumps_w: f64,
    /// Fuel and electricity for central heat, W.
    pub central_fuel_w: f64,
    /// Electricity for central heat, W.
    pub central_heating_w: f64,
    /// Fuel for rooms, W.
    pub room_fuel_w: f64,
    /// Electricity for rooms, W.
    pub room_heating_w: f64,
    /// Water from the main, kg/s.
    pub make_up_kg_per_s: f64,
    /// Heat taken by the economizer, W.
    pub free_w: f64,
    /// Heat made at the cold temperature, W.
    pub cold_made_w: f64,
    /// Heat made at the warm temperature, W.
    pub warm_made_w: f64,
    /// Heat to the tower, W.
    pub rejected_w: f64,
    /// Tower water, degC; the wet bulb when the tower is off.
    pub tower_c: f64,
    /// Heat delivered to hot water and low-temperature reheat, W.
    pub heating_w: f64,
    /// Part of it from condensers, W.
    pub recovered_w: f64,
    /// Share of the terminals' heat that can be taken in the next step.
    pub cooling_share: f64,
    /// Share of the rooms' heating that can be made in the next step.
    pub heating_share: f64,
    /// Water through the chillers of the cold side, kg/s.
    pub cold_flow_kg_per_s: f64,
    /// Cold water blended into the terminals' supply, kg/s.
    pub loop_make_up_kg_per_s: f64,
    /// Return water of the drying coil that flows to the terminals, kg/s.
    pub reused_kg_per_s: f64,
    /// What is left of the heat balances, W.
    pub residual_w: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

/// Chillers and economizer at a temperature of the tower's water.
#[derive(Clone, Copy, Default)]
struct AtTower {
    taken: f64,
    cold: ChillerBankStep,
    warm: ChillerBankStep,
}

impl AtTower {
    fn rejected(&self) -> f64 {
        self.taken + self.cold.met_w + self.cold.power_w + self.warm.met_w + self.warm.power_w
    }
}

struct Loads {
    cold: f64,
    warm: f64,
    /// Whether the economizer stands on the cold side.
    plate_on_cold: bool,
    able: Option<PlateAble>,
    cold_c: f64,
    warm_c: f64,
    /// Reheat that takes condenser heat before the tower.
    low: f64,
}

impl WaterPlant {
    /// Builds the machines.
    ///
    /// # Errors
    /// A machine that refuses its data.
    pub fn new(project: &Project, d: &WaterPlantDesign) -> Result<Self, SetUpError> {
        let p = &project.plant;
        let approach_k = p.tower_approach.value.to_kelvin();
        let tower_design = TowerDesign {
            approach: TemperatureDifference::kelvin(approach_k),
            range: p.tower_range.value,
            water_to_air: WATER_TO_AIR,
            exponent: EXPONENT,
            fan_power_share: p.tower_fan.value,
            fan: TowerFanControl::VariableSpeed { lowest: LOWEST_TOWER_SPEED },
            cycles: p.cycles.value,
            ..TowerDesign::usual(
                Power::watts(d.tower_heat_w.max(1.0)),
                Temperature::celsius(d.tower_wet_bulb_c),
                Pressure::pascals(d.pressure_pa),
            )
        };
        let tower = TowerForm::new(&TowerPlant::size(tower_design)?)?;
        let design_tower_c = d.tower_wet_bulb_c + approach_k;
        let saturation = Saturation::new(d.pressure_pa);
        let approaches = WET_BULBS_C.map(|t| tower.approach(&saturation, t, p.tower_range.value.to_kelvin()));
        if approaches.iter().any(|a| !(0.0..60.0).contains(a)) {
            return Err(SetUpError::Missing("tower water at design range over the wet bulbs of the year"));
        }
        let bank = |b: &BankDesign| -> Result<(ChillerBankForm, f64), SetUpError> {
            let wanted = b.capacity_w.max(1.0);
            let rated = chiller(project, wanted)?;
            let condenser = Condenser::Entering {
                temperature: Temperature::celsius(design_tower_c),
                capacity_rate: rated.rating.condenser_capacity_rate,
            };
            let able = rated.available_capacity(Temperature::celsius(b.leaving_c), condenser)?.si();
            within("cooling of a chiller at its design water over its rating", able / wanted, 0.2, 5.0)?;
            let made = chiller(project, wanted * (wanted / able).max(1.0))?;
            let flow = made.rating.condenser_capacity_rate.si() / CP_WATER_J_PER_KG_K;
            Ok((ChillerBankForm::new(&made, b.count)?, flow / tower.water_kg_per_s()))
        };
        let (cold, cold_flow_share) = bank(&d.cold)?;
        let (warm, warm_flow_share) = match &d.warm {
            Some(b) => {
                let (form, share) = bank(b)?;
                (Some(form), share)
            }
            None => (None, 0.0),
        };
        let plate = match &d.plate {
            Some(x) if x.load_w > 0.0 => Some(PlateForm::new(&PlateExchanger::for_design(
                Power::watts(x.load_w),
                Temperature::celsius(x.return_c),
                Temperature::celsius(x.supply_c),
                Temperature::celsius(x.supply_c - p.economizer_approach.value.to_kelvin()),
            )?)),
            _ => None,
        };
        let efficiency = project.water.pump_efficiency.value.to_ratio();
        let pump = |x: &PumpPoint| {
            PumpForm::new(x.flow_m3_per_s, x.head_pa, efficiency, HELD_PRESSURE_SHARE, WATER_RHO)
        };
        let boiler = BoilerForm::new(
            d.heating_w,
            match p.heating.value {
                HeatingSource::ElectricBoiler => BoilerEfficiency::Electric,
                HeatingSource::Boiler | HeatingSource::HeatRecoveryChiller => {
                    BoilerEfficiency::Constant(p.boiler_efficiency.value.to_ratio())
                }
            },
        )?;
        let able = [
            cold.available_w(d.cold.leaving_c, CondenserWater::Entering(design_tower_c)),
            warm.map_or(0.0, |w| {
                let leaving = d.warm.map_or(d.cold.leaving_c, |b| b.leaving_c);
                w.available_w(leaving, CondenserWater::Entering(design_tower_c))
            }),
        ];
        Ok(Self {
            arrangement: d.arrangement,
            cold_c: d.cold.leaving_c,
            cold,
            warm,
            tower,
            starts: [TowerStart::default(); 2],
            approach_k: approaches,
            plate,
            coil_pump: pump(&d.coil_pump)?,
            sensible_pump: pump(&d.sensible_pump)?,
            cold_pump: pump(&d.cold_pump)?,
            warm_pump: pump(&d.warm_pump)?,
            hot_pump: pump(&d.hot_pump)?,
            condenser_pump_w: d.condenser_pump.flow_m3_per_s * d.condenser_pump.head_pa / efficiency,
            cold_flow_share,
            warm_flow_share,
            boiler,
            recovers_heat: p.heating.value == HeatingSource::HeatRecoveryChiller,
            heating_c: d.hot_water_c,
            heating_drop_k: project.terminals.heating_water_drop.value.to_kelvin(),
            left: [0.0; 3],
            able,
        })
    }

    /// Approach asked of the tower while chillers run: what it makes at design range, so that the fans' speed follows the
    /// heat. A fixed approach would be out of its reach on a cold day, since the approach grows as the wet bulb falls.
    fn approach(&self, wet_bulb_c: f64) -> f64 {
        let last = WET_BULBS_C.len() - 1;
        let i = WET_BULBS_C[1..last].iter().take_while(|t| **t < wet_bulb_c).count();
        let (a, b) = (WET_BULBS_C[i], WET_BULBS_C[i + 1]);
        let u = ((wet_bulb_c - a) / (b - a)).clamp(0.0, 1.0);
        self.approach_k[i] + u * (self.approach_k[i + 1] - self.approach_k[i])
    }

    /// Leaving water of the cold side, degC.
    pub fn cold_c(&self) -> f64 {
        self.cold_c
    }

    /// Heat that the central coil may give to the water in a step in which the terminals take `sensible_w`: by the tower
    /// water of the last step, the drying before the terminals.
    #[inline]
    pub fn room_for_coil_w(&self, sensible_w: f64) -> f64 {
        let beside = if self.warm.is_some() { 0.0 } else { sensible_w };
        // Pump heat is a few per cent at most; it is left out of this reserve and carried over if it does not fit.
        (self.able[0] - self.left[0] - beside).max(0.0)
    }

    #[inline]
    fn at(&self, x: &Loads, tower_c: f64, economize: bool) -> AtTower {
        let taken = if economize { x.able.map_or(0.0, |a| a.taken_w(tower_c)) } else { 0.0 };
        let (cold, warm) = if x.plate_on_cold { (x.cold - taken, x.warm) } else { (x.cold, x.warm - taken) };
        let entering = CondenserWater::Entering(tower_c);
        AtTower {
            taken,
            cold: self.cold.run(cold, x.cold_c, entering),
            warm: self.warm.map_or_else(ChillerBankStep::default, |w| w.run(warm, x.warm_c, entering)),
        }
    }

    /// Tower and chillers together at a set point of the tower's water.
    #[inline]
    fn together(
        &mut self,
        s: &Saturation,
        air: &TowerAir,
        x: &Loads,
        set_c: f64,
        economize: bool,
    ) -> (AtTower, TowerStep, f64, f64) {
        let first = self.at(x, set_c, economize);
        // Pumps of a machine that cycles stop with it.
        let mut flow = f64::from(first.cold.running) * first.cold.duty * self.cold_flow_share
            + f64::from(first.warm.running) * first.warm.duty * self.warm_flow_share;
        if economize && let Some(able) = &x.able {
            flow = flow.max(able.tower_w_per_k / CP_WATER_J_PER_KG_K / self.tower.water_kg_per_s());
        }
        let flow = flow.min(1.0);
        let pump_w = self.condenser_pump_w * flow;
        // A machine that cycles sends less water than the tower can be solved for; its heat is that of the mean.
        let flow = if flow > 0.0 { flow.max(LEAST_TOWER_FLOW) } else { flow };
        let heat = |a: &AtTower| {
            let q = a.rejected();
            if q > 0.0 { (q + pump_w - x.low).max(0.0) } else { 0.0 }
        };
        let q = heat(&first);
        if q <= 0.0 || flow <= 0.0 {
            let off = TowerStep { cold_c: air.wet_bulb_c, ..TowerStep::default() };
            let pump_w = if first.rejected() > 0.0 { pump_w } else { 0.0 };
            return (first, off, pump_w, 0.0);
        }
        let start = &mut self.starts[usize::from(economize)];
        if self.tower.reaches(s, air, q, flow, set_c) {
            let step = self.tower.run_from_full(s, air, q, flow, set_c, f64::NEG_INFINITY, true, start);
            return (first, step, pump_w, q);
        }
        let (full, ok) = self.tower.cold_at_full(s, air, q, flow, start);
        let (mut a, mut fa) = (set_c, full - set_c);
        let mut b = full;
        let mut settled = false;
        let mut state = first;
        let mut cold = full;
        let mut all_ok = ok;
        // Water is between `a`, where the tower makes it warmer, and this, where it makes it colder.
        let (mut low, mut high) = (set_c, f64::INFINITY);
        for _ in 0..60 {
            state = self.at(x, b, economize);
            let start = &mut self.starts[usize::from(economize)];
            let (next_cold, ok) = self.tower.cold_at_full(s, air, heat(&state), flow, start);
            cold = next_cold;
            all_ok = ok;
            let fb = cold - b;
            if fb.abs() < 1e-6 {
                settled = true;
                break;
            }
            if fb > 0.0 {
                low = b;
            } else {
                high = b;
            }
            // A machine more or less moves the heat in a jump; the water is then where it starts or stops.
            if high - low < 1e-7 {
                settled = true;
                break;
            }
            let step = fb * (b - a) / (fb - fa);
            (a, fa) = (b, fb);
            let next = b - step;
            b = if next > low && next < high {
                next
            } else if high.is_finite() {
                0.5 * (low + high)
            } else {
                (b + 5.0).min(74.0)
            };
        }
        let q = heat(&state);
        let start = &mut self.starts[usize::from(economize)];
        let mut step = self.tower.run_from_full(s, air, q, flow, set_c.min(cold), cold, all_ok, start);
        if !settled {
            step.limits |= PlantLimit::NotSettled.bit();
        }
        (state, step, pump_w, q)
    }

    /// One step.
    pub fn step(&mut self, s: &Saturation, outdoor: &Outdoor, demand: &WaterDemand) -> WaterStep {
        let mut out = WaterStep { cooling_share: 1.0, heating_share: 1.0, ..WaterStep::default() };
        let air = TowerAir::new(s, outdoor);
        let mut balance_in = 0.0;
        let mut balance_out = 0.0;

        // Loops. Heat without flow has no loop to travel in; it is told and counted as if the flow were there.
        let coil_flow = if demand.coil_w > 0.0 { demand.coil_kg_per_s } else { 0.0 };
        let sensible_w = demand.sensible_w.max(0.0);
        // A pump gives its largest flow and no more; what the terminals want beyond is cut in the next step.
        let wanted_flow = if demand.sensible_w > 0.0 { demand.sensible_kg_per_s } else { 0.0 };
        let sensible_flow = wanted_flow.min(self.sensible_pump.largest_kg_per_s());
        let asked_flow = wanted_flow / demand.cooling_share.max(LEAST_SHARE);
        if asked_flow > self.sensible_pump.largest_kg_per_s() {
            out.cooling_share = (self.sensible_pump.largest_kg_per_s() / asked_flow).max(LEAST_SHARE);
            out.limits |= PlantLimit::PumpFlow.bit();
        }
        let coil_pump = self.coil_pump.run(coil_flow);
        let sensible_pump = self.sensible_pump.run(sensible_flow);
        out.limits |= coil_pump.limits | sensible_pump.limits;
        let found = loops::solve(
            self.arrangement,
            &LoopDemand {
                drying_load: Power::from_si(demand.coil_w.max(0.0)),
                drying_flow: MassFlow::from_si(coil_flow),
                sensible_load: Power::from_si(sensible_w),
                sensible_flow: MassFlow::from_si(sensible_flow),
                cold_supply: Temperature::from_si(self.cold_c),
                sensible_supply: Temperature::from_si(demand.sensible_c),
                cold_loop_gain: Power::from_si(coil_pump.heat_w),
                sensible_loop_gain: Power::from_si(sensible_pump.heat_w),
                specific_heat: SpecificHeat::from_si(WATER_CP),
            },
        );
        balance_in += demand.coil_w.max(0.0) + sensible_w + coil_pump.heat_w + sensible_pump.heat_w;
        let (mut cold_load, mut warm_load, cold_flow, warm_flow, sensible_return, cold_return);
        if let Ok(l) = &found {
            cold_load = l.cold_plant.load.si();
            warm_load = l.warm_plant.load.si();
            cold_flow = l.cold_plant.flow.si();
            warm_flow = l.warm_plant.flow.si();
            sensible_return = l.sensible_return.si();
            cold_return = l.cold_plant.return_water.si();
            out.loop_make_up_kg_per_s = l.make_up_flow.si();
            out.reused_kg_per_s = l.reused_flow.si();
            if l.limits.has(Limit::ReturnTooLittle) || l.limits.has(Limit::ReturnTooWarm) {
                out.limits |= PlantLimit::ReuseMakeUp.bit();
            }
        } else {
            out.limits |= PlantLimit::NotSettled.bit();
            let separate = self.warm.is_some();
            let both = demand.coil_w.max(0.0) + coil_pump.heat_w;
            let rest = sensible_w + sensible_pump.heat_w;
            cold_load = if separate { both } else { both + rest };
            warm_load = if separate { rest } else { 0.0 };
            cold_flow = coil_flow;
            warm_flow = sensible_flow;
            sensible_return = demand.sensible_c;
            cold_return = self.cold_c;
        }
        let cold_pump = self.cold_pump.run(cold_flow);
        let warm_pump = self.warm_pump.run(warm_flow);
        out.limits |= cold_pump.limits | warm_pump.limits;
        out.cold_flow_kg_per_s = cold_flow;
        balance_in += cold_pump.heat_w + warm_pump.heat_w + self.left[0] + self.left[1];
        cold_load += cold_pump.heat_w + self.left[0];
        warm_load += warm_pump.heat_w + self.left[1];
        out.cooling_pumps_w =
            coil_pump.power_w + sensible_pump.power_w + cold_pump.power_w + warm_pump.power_w;

        // Hot water, from the condenser where a chiller recovers heat.
        let hot = demand.central_heat_w + demand.room_heat_w + self.left[2];
        // Heat beyond what the boilers make stays in the water, and more of it than at design goes with a larger drop.
        let hot_flow = hot / (WATER_CP * self.heating_drop_k);
        let hot_pump = self.hot_pump.run(hot_flow.min(self.hot_pump.largest_kg_per_s()));
        out.heating_pumps_w = hot_pump.power_w;
        out.limits |= hot_pump.limits;
        // Heat of the hot-water pump serves the load; what is more than the load is not credited.
        let hot_asked = (hot - hot_pump.heat_w).max(0.0);
        let pump_heat_used = hot - hot_asked;
        let mut recovery_power = 0.0;
        let mut recovered_cooling = 0.0;
        let mut recovered_on_warm = false;
        if self.recovers_heat && hot_asked > 0.0 {
            let (bank, load, chilled) = match (&self.warm, warm_load > 0.0) {
                (Some(w), true) => {
                    recovered_on_warm = true;
                    (w, &mut warm_load, demand.sensible_c)
                }
                _ => (&self.cold, &mut cold_load, self.cold_c),
            };
            let (made, power, limits) = bank.recover_heat(*load, hot_asked, chilled, self.heating_c);
            *load -= made;
            recovered_cooling = made;
            recovery_power = power;
            out.limits |= limits;
        }
        let recovered_hot = recovered_cooling + recovery_power;
        let boiler = self.boiler.run(hot_asked - recovered_hot);
        out.limits |= boiler.limits;

        // Economizer on the warm return; on the mixed return where there is one loop only.
        let single = self.arrangement == Arrangement::SingleColdLoop;
        let plate_on_cold = self.warm.is_none();
        let able = self.plate.as_ref().and_then(|p| {
            if single {
                p.on(cold_load, cold_return, self.cold_c)
            } else {
                let most = (sensible_w + sensible_pump.heat_w).min(if plate_on_cold {
                    cold_load
                } else {
                    warm_load
                });
                let full = sensible_w + sensible_pump.heat_w;
                let mut x = p.on(full, sensible_return, demand.sensible_c)?;
                x.load_w = most.max(0.0);
                Some(x)
            }
        });
        let loads = Loads {
            cold: cold_load,
            warm: warm_load,
            plate_on_cold,
            able,
            cold_c: self.cold_c,
            warm_c: demand.sensible_c,
            low: demand.low_heat_w.max(0.0),
        };
        let mechanical = COLDEST_CONDENSER_C.max(outdoor.wet_bulb_c + self.approach(outdoor.wet_bulb_c));
        let mut solved = None;
        if let Some(a) = &able
            && a.load_w > 0.0
            && outdoor.wet_bulb_c < a.return_c - 1.0
        {
            let set = COLDEST_C.max(a.enough_c());
            let x = self.together(s, &air, &loads, set, true);
            if x.0.taken >= LEAST_FREE_SHARE * a.load_w {
                solved = Some(x);
            }
        }
        let power =
            |x: &(AtTower, TowerStep, f64, f64)| x.0.cold.power_w + x.0.warm.power_w + x.1.fan_w + x.2;
        let (state, tower, condenser_pump_w, rejected) = match solved {
            // Colder water costs fan and pump power: the plate is used while that is less than what the chillers save.
            Some(x) if x.0.cold.running + x.0.warm.running > 0 => {
                let y = self.together(s, &air, &loads, mechanical, false);
                let unmet = |x: &(AtTower, TowerStep, f64, f64)| x.0.cold.unmet_w + x.0.warm.unmet_w;
                if unmet(&x) < unmet(&y) || (unmet(&x) == unmet(&y) && power(&x) <= power(&y)) {
                    x
                } else {
                    y
                }
            }
            Some(x) => x,
            None => self.together(s, &air, &loads, mechanical, false),
        };
        out.limits |= state.cold.limits | state.warm.limits | tower.limits;
        out.free_w = state.taken;
        out.tower_c = tower.cold_c;
        out.tower_fan_w = tower.fan_w;
        out.make_up_kg_per_s = tower.make_up_kg_per_s;
        out.rejected_w = rejected;
        out.cooling_pumps_w += condenser_pump_w;
        let (cold_recovery, warm_recovery) =
            if recovered_on_warm { (0.0, recovered_cooling) } else { (recovered_cooling, 0.0) };
        out.cold_made_w = state.cold.met_w + cold_recovery;
        out.warm_made_w = state.warm.met_w + warm_recovery;

        // Electricity by what it cools: with one cold plant in proportion to the heat left for it.
        if self.warm.is_some() {
            out.cold_power_w = state.cold.power_w + if recovered_on_warm { 0.0 } else { recovery_power };
            out.sensible_power_w = state.warm.power_w + if recovered_on_warm { recovery_power } else { 0.0 };
        } else {
            let total = demand.coil_w.max(0.0) + sensible_w;
            let taken_of_sensible =
                if single && total > 0.0 { state.taken * sensible_w / total } else { state.taken };
            let taken_of_coil = state.taken - taken_of_sensible;
            let (c, t) =
                ((demand.coil_w - taken_of_coil).max(0.0), (sensible_w - taken_of_sensible).max(0.0));
            let share = if c + t > 0.0 { t / (c + t) } else { 0.0 };
            let power = state.cold.power_w + recovery_power;
            out.sensible_power_w = power * share;
            out.cold_power_w = power - out.sensible_power_w;
        }

        // Reheat that condenser water is warm enough for takes from the heat on its way to the tower; what is short is made
        // by the boiler in the next step.
        let low_made = loads.low.min(state.rejected() + condenser_pump_w);

        let balance_power = state.cold.power_w + state.warm.power_w + recovery_power;
        let new_left = [state.cold.unmet_w, state.warm.unmet_w, boiler.unmet_w + (loads.low - low_made)];
        balance_in += balance_power + condenser_pump_w;
        balance_out += rejected + low_made + recovered_hot + new_left[0] + new_left[1];
        let heat_in = boiler.heat_w + recovered_hot + pump_heat_used + low_made + new_left[2];
        out.residual_w = (balance_in - balance_out) + (heat_in - hot - loads.low);

        // Fuel and electricity of heating by who asked.
        let asked = demand.central_heat_w + demand.room_heat_w;
        let central = if asked > 0.0 { demand.central_heat_w / asked } else { 0.0 };
        out.central_fuel_w = boiler.fuel_w * central;
        out.room_fuel_w = boiler.fuel_w * (1.0 - central);
        out.central_heating_w = boiler.electricity_w * central;
        out.room_heating_w = boiler.electricity_w * (1.0 - central);
        out.heating_w = boiler.heat_w + recovered_hot + low_made;
        out.recovered_w = recovered_hot + low_made;

        // What the next step can have.
        let entering = CondenserWater::Entering(if rejected > 0.0 { tower.cold_c } else { mechanical });
        self.able = [
            self.cold.available_w(self.cold_c, entering) + if plate_on_cold { state.taken } else { 0.0 },
            self.warm.map_or(0.0, |w| w.available_w(demand.sensible_c, entering) + state.taken),
        ];
        self.left = new_left;
        if sensible_w > 0.0 {
            let room = if self.warm.is_some() {
                self.able[1] - new_left[1] - warm_pump.heat_w - sensible_pump.heat_w
            } else {
                // Drying before the terminals: what the coil asked for is theirs last.
                let gains = coil_pump.heat_w + sensible_pump.heat_w + cold_pump.heat_w;
                self.able[0] - new_left[0] - demand.coil_asked_w.max(0.0) - gains
            };
            let asked = sensible_w / demand.cooling_share.max(LEAST_SHARE);
            if room < asked {
                out.cooling_share = (room / asked).clamp(LEAST_SHARE, out.cooling_share);
                out.limits |= PlantLimit::ChillerCapacity.bit();
            }
        }
        if demand.room_heat_w > 0.0 {
            let room = self.boiler.capacity_w() + recovered_hot - demand.central_heat_w - new_left[2];
            let asked = demand.room_heat_w / demand.heating_share.max(LEAST_SHARE);
            if room < asked {
                out.heating_share = (room / asked).clamp(LEAST_SHARE, 1.0);
                out.limits |= PlantLimit::HeatingCapacity.bit();
            }
        }
        out
    }
}
