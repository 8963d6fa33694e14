//! The plant of the all-air scheme at a step: air handler, cold water at its own temperature, heating.
//!
//! Order in the air handler: return fan, relief through the recovery where there is one, mixing with outdoor air,
//! preheat, cooling coil, supply fan, duct. In *night* and *start-up* no outdoor air is drawn but what exhaust and
//! economizer want; the coil then works only while the return air is warmer than the middle between the heating and
//! cooling set points of that mode, so that a building being warmed is not cooled at the same time.

use crate::plant::SetUpError;
use crate::plant::air::{Air, Saturation};
use crate::plant::all_air_design::{AllAirDesign, all_air_design};
use crate::plant::decoupled_plant::WHEEL_DRIVE_W_S_PER_KG;
use crate::plant::machines::coil::{CoilDesign, CoilForm, CoilStep, CoilWater};
use crate::plant::machines::fan::{FanForm, PressureHold};
use crate::plant::machines::recovery::{RecoveryForm, RecoveryStreams};
use crate::plant::water_plant::{WaterDemand, WaterPlant};
use crate::signals::{
    AllAirDemand, AllAirSupply, BuildingMode, EndUse, Outdoor, PlantFeature, PlantLimit, PlantStep, StepTime,
};
use drycoil_exchange::recovery::{Recovery, RecoveryKind as Exchanger};
use drycoil_project::{AirEconomizer, PressureReset, Project, SupplyAirReset};
use drycoil_sizing::Design;
use drycoil_sizing::machine_data::{BYPASS, FROST_GUARD_C, RECOVERY_EXPONENT, WATER_CP};
use drycoil_units::{MassFlow, Quantity};

/// Largest water flow of the coil over that of its design point: the spare of its valve. Common practice, no source.
const COIL_VALVE_SPARE: f64 = 1.25;
/// Fastest move of the supply-air reset, K/s: 4 K in an hour. Common practice, no source.
const RESET_K_PER_S: f64 = 4.0 / 3600.0;
/// Distance of the most open box from its target at which the reset moves at its fastest. Common practice, no source.
const RESET_BAND: f64 = 0.15;

/// The plant.
#[derive(Debug, Clone)]
pub struct AllAirPlant {
    design: AllAirDesign,
    saturation: Saturation,
    coil: CoilForm,
    coil_water: CoilWater,
    recovery: Option<RecoveryForm>,
    supply_fan: FanForm,
    return_fan: FanForm,
    water: WaterPlant,
    sensible_rise_k: f64,
    sensible_c: f64,
    /// Middle between heating and cooling set points: occupied and night, degC.
    middle_c: [f64; 2],
    supply_c: f64,
    duct_gain_k: f64,
    fan_efficiency: f64,
    recovery_pa: f64,
    /// Electricity of the recovery's drive while it turns, W.
    recovery_drive_w: f64,
    leakage: f64,
    economizer: AirEconomizer,
    limit_c: f64,
    limit_h: f64,
    reset: SupplyAirReset,
    reset_rise_k: f64,
    reset_target: f64,
    /// Outdoor temperature of the full reset and of none, degC.
    reset_outdoor_c: [f64; 2],
    /// Outdoor humidity ratio above which the supply is not reset.
    reset_w: f64,
    step_s: f64,
    /// State: supply set point at the boxes, degC.
    set_c: f64,
}

/// Air behind mixing, with what belongs to it.
#[derive(Clone, Copy)]
struct Mixed {
    air: Air,
    outdoor_kg: f64,
    /// Fog of the mixing, kg/s, with its heat.
    mist: f64,
    mist_w: f64,
    recovery: Option<(RecoveryStreams, f64)>,
    /// Fans of the recovery on the supply side, W.
    fan_w: f64,
    limits: u32,
}

impl AllAirPlant {
    /// The plant of the all-air scheme for a project and its decoupled design.
    ///
    /// # Errors
    /// As [`all_air_design`]; a machine that refuses its data.
    pub fn new(project: &Project, design: &Design, step_s: f64) -> Result<Self, SetUpError> {
        Self::from_design(project, design, all_air_design(project, design)?, step_s)
    }

    /// As [`new`](Self::new), from an all-air design of one's own.
    ///
    /// # Errors
    /// A machine that refuses its data.
    pub fn from_design(
        project: &Project,
        design: &Design,
        all_air: AllAirDesign,
        step_s: f64,
    ) -> Result<Self, SetUpError> {
        crate::plant::within("step in s", step_s, 1.0, 7200.0)?;
        let a = &all_air.input;
        let leakage = a.duct_leakage.value.to_ratio();
        let cold_water_c = a.cold_water.value.to_celsius();
        let saturation = Saturation::new(design.site.pressure_pa);
        let through = all_air.supply_kg_per_s / (1.0 - leakage);
        let recovery = if all_air.recovers {
            let rated = all_air.outdoor_kg_per_s;
            let model = Recovery {
                kind: Exchanger::Wheel,
                sensible_effectiveness: a.recovery_sensible.value.to_ratio(),
                latent_effectiveness: a.recovery_latent.value.to_ratio(),
                rated_dry_air: MassFlow::kg_per_s(rated),
                flow_exponent: RECOVERY_EXPONENT,
                exhaust_transfer: 0.0,
            };
            Some(RecoveryForm::new(&model, FROST_GUARD_C)?)
        } else {
            None
        };
        let fan = |pa: f64, held_share: f64, hold: PressureHold| FanForm {
            design_kg_per_s: through,
            pressure_pa: pa,
            held_share,
            efficiency: a.fan_efficiency.value.to_ratio(),
            hold,
        };
        let coil = CoilForm::new(BYPASS, cold_water_c, &saturation)?;
        let air_w = all_air.coil_air_kg_per_s * (all_air.coil.total + all_air.coil.condensate_heat);
        let coil_water = CoilWater::new(
            &CoilDesign {
                air_kg_per_s: all_air.coil_air_kg_per_s,
                h_in: all_air.coil.entering.h(),
                heat_w: all_air.coil_w,
                air_w,
                water_c: cold_water_c,
                rise_k: a.cold_water_rise.value.to_kelvin(),
                dry_in: (all_air.coil.condensate <= 0.0).then_some(all_air.coil.entering),
                largest_share: COIL_VALVE_SPARE,
                cp_water: WATER_CP,
            },
            &saturation,
        )?;
        let total_pa = a.supply_fan_pressure.value.to_pascals();
        let held_pa = a.duct_pressure.value.to_pascals();
        let hold = match a.pressure_reset.value {
            PressureReset::None => PressureHold::Fixed,
            PressureReset::MostOpenBox => {
                PressureHold::Reset { lowest: a.duct_pressure_least.value.to_pascals() / held_pa }
            }
        };
        let night = &project.criteria;
        Ok(Self {
            coil,
            coil_water,
            recovery,
            supply_fan: fan(total_pa, held_pa / total_pa, hold),
            return_fan: fan(a.return_fan_pressure.value.to_pascals(), 0.0, PressureHold::Fixed),
            water: WaterPlant::new(project, &all_air.water)?,
            sensible_rise_k: project.terminals.water_rise.value.to_kelvin(),
            sensible_c: design.dew_point.sensible_water_c.max(cold_water_c),
            middle_c: [
                0.5 * (all_air.set_points_c[0] + all_air.set_points_c[1]),
                0.5 * (night.night_cooling.value.to_celsius() + night.night_heating.value.to_celsius()),
            ],
            reset_w: saturation.w(a.supply_reset_dew_point.value.to_celsius()),
            set_c: a.supply.value.to_celsius(),
            supply_c: a.supply.value.to_celsius(),
            duct_gain_k: a.duct_gain.value.to_kelvin(),
            fan_efficiency: a.fan_efficiency.value.to_ratio(),
            recovery_pa: a.recovery_pressure.value.to_pascals(),
            recovery_drive_w: if all_air.recovers {
                WHEEL_DRIVE_W_S_PER_KG * all_air.outdoor_kg_per_s
            } else {
                0.0
            },
            leakage,
            economizer: a.economizer.value,
            limit_c: a.economizer_dry_bulb.value.to_celsius(),
            limit_h: a.economizer_enthalpy.value.si(),
            reset: a.supply_reset.value,
            reset_target: a.supply_reset_target.value.to_ratio(),
            reset_rise_k: a.supply_reset_rise.value.to_kelvin(),
            reset_outdoor_c: [a.supply_reset_cold.value.to_celsius(), a.supply_reset_warm.value.to_celsius()],
            step_s,
            saturation,
            design: all_air,
        })
    }

    /// The design behind it, with the boxes of the rooms.
    pub fn design(&self) -> &AllAirDesign {
        &self.design
    }

    /// Supply to start a year with.
    pub fn first_supply(&self, _mode: BuildingMode) -> AllAirSupply {
        AllAirSupply {
            supply_c: self.supply_c,
            supply_w: self.design.coil.leaving.w,
            flow_share: 1.0,
            heating_share: 1.0,
            outdoor_share: self.design.outdoor_kg_per_s / self.design.supply_kg_per_s,
        }
    }

    fn mix(&self, m: f64, outdoor_kg: f64, outside: Air, back: Air) -> Mixed {
        let share = outdoor_kg / m;
        let w = back.w + share * (outside.w - back.w);
        let h = back.h() + share * (outside.h() - back.h());
        let (mixed, settled) = self.saturation.settle(h, w);
        let mist = m * mixed.fog;
        Mixed {
            air: mixed.air,
            outdoor_kg,
            mist,
            mist_w: mist * drycoil_exchange::bypass::CP_CONDENSATE_J_PER_KG_K * mixed.air.t,
            recovery: None,
            fan_w: 0.0,
            limits: if settled { 0 } else { PlantLimit::NotSettled.bit() },
        }
    }

    /// Outdoor air through the recovery, then mixed; `relief` leaves through the other side.
    fn recovered(
        &mut self,
        m: f64,
        outdoor_kg: f64,
        relief: f64,
        outside: Air,
        back: Air,
        set_c: f64,
    ) -> Mixed {
        let plain = self.mix(m, outdoor_kg, outside, back);
        let Some(form) = &mut self.recovery else { return plain };
        let Some(y) = form.between(outside, back, outdoor_kg, relief) else { return plain };
        let p = self.saturation.pressure_pa();
        let volume = drycoil_air::raw::volume_m3_per_kg(outside.t, outside.w, p);
        let fan_w = self.recovery_pa * outdoor_kg * volume / self.fan_efficiency;
        let (most, frost) = form.frost_free_share(&self.saturation, &y);
        if most <= 0.0 {
            return Mixed { limits: plain.limits | frost, ..plain };
        }
        let at = |this: &Self, share: f64| {
            let (air, _, _, bits) = y.supply(&this.saturation, share);
            let warm = Air { t: air.t + fan_w / (outdoor_kg * air.cp()), w: air.w };
            let mut x = this.mix(m, outdoor_kg, warm, back);
            x.outdoor_kg = y.outdoor_kg_per_s;
            x.recovery = Some((y, share));
            x.fan_w = fan_w;
            x.limits |= bits;
            x
        };
        let full = at(self, most);
        // Heat wanted: as much as brings the mixture to the supply. Cooling wanted: where it lowers the enthalpy.
        let mut chosen = full;
        if plain.air.t < set_c {
            if full.air.t <= plain.air.t {
                return plain;
            }
            if full.air.t > set_c {
                let share = most * (set_c - plain.air.t) / (full.air.t - plain.air.t);
                chosen = at(self, share.clamp(0.0, most));
            } else {
                chosen.limits |= frost;
            }
        } else if full.air.h() >= plain.air.h() {
            return plain;
        }
        chosen
    }

    /// Whether outdoor air may cool: the economizer's high limits.
    pub fn economizer_open(&self, outside: Air, back: Air) -> bool {
        // Outdoor air that is warmer than the return cools nothing.
        outside.t < back.t
            && match self.economizer {
                AirEconomizer::None => false,
                AirEconomizer::FixedDryBulb => outside.t <= self.limit_c,
                AirEconomizer::DifferentialDryBulb => true,
                AirEconomizer::FixedEnthalpy => outside.t <= self.limit_c && outside.h() <= self.limit_h,
                AirEconomizer::DifferentialEnthalpy => outside.t <= self.limit_c && outside.h() <= back.h(),
            }
    }

    /// One step: what the rooms took with `supply_used` from the plant under this outdoor air, and the supply of the next
    /// step.
    pub fn step(
        &mut self,
        _time: &StepTime,
        mode: BuildingMode,
        outdoor: &Outdoor,
        demand: &AllAirDemand,
        supply_used: &AllAirSupply,
    ) -> (PlantStep, AllAirSupply) {
        let mut out = PlantStep::default();
        let p = self.saturation.pressure_pa();
        let outside = Air { t: outdoor.t_c, w: outdoor.w };
        let running = demand.supply_kg_per_s > 1e-9;
        let sensible_w = demand.sensible_units_w.max(0.0);
        let mut water = WaterDemand {
            sensible_w,
            sensible_kg_per_s: sensible_w / (WATER_CP * self.sensible_rise_k),
            sensible_c: self.sensible_c,
            room_heat_w: demand.hot_water_w.max(0.0),
            cooling_share: 1.0,
            heating_share: supply_used.heating_share,
            ..WaterDemand::default()
        };
        let mut delivered = Air { t: self.set_c, w: supply_used.supply_w };
        let mut outdoor_share = supply_used.outdoor_share;
        let mut fans_w = 0.0;
        let mut dew_point_missed = false;
        if running {
            let leak = self.leakage;
            let m = demand.supply_kg_per_s / (1.0 - leak);
            let open = demand.greatest_box_share.clamp(0.0, 1.0);
            // Leaked supply air ends above the ceiling and comes back with the return.
            let leaked = m - demand.supply_kg_per_s;
            let from_rooms = demand.return_kg_per_s.max(0.0);
            let back_kg = from_rooms + leaked;
            let rooms_air =
                if from_rooms > 0.0 { Air { t: demand.return_c, w: demand.return_w } } else { outside };
            let leak_air = Air { t: supply_used.supply_c, w: supply_used.supply_w };
            let h_back_in = from_rooms * rooms_air.h() + leaked * leak_air.h();
            let w_back_in = from_rooms * rooms_air.w + leaked * leak_air.w;
            let (mut back, mut return_fan_w) = (outside, 0.0);
            if back_kg > 0.0 {
                let w = w_back_in / back_kg;
                let t = drycoil_air::raw::dry_bulb_from_enthalpy_c(h_back_in / back_kg, w);
                let f = self.return_fan.run(back_kg, 1.0, t, w, p);
                return_fan_w = f.power_w;
                let air = Air { t, w };
                back = Air { t: t + f.power_w / (back_kg * air.cp()), w };
            }

            let occupied = mode == BuildingMode::Occupied;
            let middle = self.middle_c[usize::from(mode == BuildingMode::Night)];
            let cools = occupied || demand.return_c > middle;
            // Set point ahead of the fan.
            let fan_k = self.supply_fan.warming(m, open, supply_used.supply_w, p);
            let behind_fan = self.set_c - self.duct_gain_k;
            let set_c = (behind_fan - 273.15 * fan_k) / (1.0 + fan_k);

            let intake = if occupied {
                self.design.intake(
                    demand.outdoor_asked_kg_per_s.max(0.0),
                    demand.supply_kg_per_s,
                    demand.critical_share.max(0.0),
                )
            } else {
                0.0
            };
            // Ventilation is of the air that the boxes get: leaked air carries none.
            let wanted = (intake / (1.0 - leak)).max(m - back_kg).clamp(0.0, m);
            if intake > demand.supply_kg_per_s * (1.0 + 1e-9) {
                out.limits |= PlantLimit::AirFlow.bit();
            }
            let mut mixed = None;
            let mut economizing = false;
            if cools && self.economizer_open(outside, back) && back.t > set_c {
                let x = if outside.t >= set_c { 1.0 } else { (back.t - set_c) / (back.t - outside.t) };
                let by_economizer = x * m;
                if by_economizer > wanted {
                    economizing = true;
                    mixed = Some(self.mix(m, by_economizer, outside, back));
                }
            }
            let mixed = match mixed {
                Some(x) => x,
                None if wanted > 0.0 => {
                    let relief = back_kg - (m - wanted);
                    self.recovered(m, wanted, relief, outside, back, set_c)
                }
                None => self.mix(m, 0.0, outside, back),
            };
            let drawn = if mixed.recovery.is_some() { wanted } else { mixed.outdoor_kg };
            outdoor_share = drawn / m;

            // Preheat, coil.
            let mut entering = mixed.air;
            let mut preheat = 0.0;
            if entering.t < set_c && (occupied || drawn > 0.0) {
                preheat = m * entering.cp() * (set_c - entering.t);
                entering.t = set_c;
            }
            let mut coil = if cools {
                self.coil.run(&self.saturation, entering, None, Some(set_c))
            } else {
                CoilStep::idle(entering)
            };
            let room = self.water.room_for_coil_w(sensible_w);
            water.coil_asked_w = m * coil.total;
            if m * coil.total > room {
                coil = coil.share(room / (m * coil.total), None, Some(set_c));
                out.limits |= PlantLimit::ChillerCapacity.bit();
            }
            dew_point_missed = coil.missed_k > 0.05;
            water.coil_w = m * coil.total;
            let flow = self.coil_water.flow(&self.saturation, m, &coil);
            water.coil_kg_per_s = flow.kg_per_s;
            if flow.share < 1.0 - 1e-9 {
                out.limits |= PlantLimit::OutsideCurve.bit();
            }
            water.central_heat_w = preheat;
            out.limits |= coil.limits | flow.limits | mixed.limits;

            if economizing {
                let least = self.mix(m, wanted, outside, back).air;
                let mut air = least;
                air.t = air.t.max(set_c);
                let without = self.coil.run(&self.saturation, air, None, Some(set_c));
                out.airside_free_w = m * (without.total - coil.total);
            }

            let supply_fan = self.supply_fan.run(m, open, coil.leaving.t, coil.leaving.w, p);
            let discharge =
                Air { t: coil.leaving.t + supply_fan.power_w / (m * coil.leaving.cp()), w: coil.leaving.w };
            delivered = Air { t: discharge.t + self.duct_gain_k, w: discharge.w };
            let duct_w = m * discharge.cp() * self.duct_gain_k;

            // Relief, through the recovery where it runs.
            let relief = (back_kg - (m - drawn)).max(0.0);
            let (mut drained, mut drained_w, mut relief_h, mut relief_w, mut relief_out, mut exhaust_fan_w) =
                (mixed.mist, mixed.mist_w, back.h(), back.w, relief, 0.0);
            if let Some((y, share)) = &mixed.recovery {
                let r = y.at(&self.saturation, *share);
                drained += r.condensate_kg_per_s;
                drained_w += r.condensate_w;
                relief_h = r.leaving.h();
                relief_w = r.leaving.w;
                relief_out = y.exhaust_kg_per_s;
                out.limits |= r.limits;
                out.air_recovery_w = r.given_w;
                let volume = drycoil_air::raw::volume_m3_per_kg(r.leaving.t, r.leaving.w, p);
                exhaust_fan_w = self.recovery_pa * relief_out * volume / self.fan_efficiency;
            }
            fans_w = supply_fan.power_w + return_fan_w + mixed.fan_w + exhaust_fan_w;
            if mixed.recovery.is_some() {
                out.electricity_w[EndUse::Recovery as usize] = self.recovery_drive_w;
            }
            let energy_in = mixed.outdoor_kg * outside.h()
                + h_back_in
                + return_fan_w
                + mixed.fan_w
                + preheat
                + supply_fan.power_w
                + duct_w;
            let energy_out = m * delivered.h()
                + relief_out * relief_h
                + drained_w
                + m * (coil.total + coil.condensate_heat);
            let water_in = mixed.outdoor_kg * outside.w + w_back_in;
            let water_out = m * delivered.w + relief_out * relief_w + drained + m * coil.condensate;
            out.residual_w = energy_in - energy_out;
            out.water_residual_kg_per_s = water_in - water_out;
            out.central_coil_w = water.coil_w;
            out.central_latent_w = m * (coil.total - coil.sensible);
            out.outdoor_kg_per_s = mixed.outdoor_kg;
            out.condensate_kg_per_s = drained + m * coil.condensate;
        }
        if dew_point_missed {
            out.limits |= PlantLimit::DewPointMissed.bit();
        }
        let w = self.water.step(&self.saturation, outdoor, &water);
        out.limits |= w.limits;
        let mut put = |what: EndUse, electricity: f64, fuel: f64| {
            out.electricity_w[what as usize] += electricity;
            out.fuel_w[what as usize] += fuel;
        };
        put(EndUse::ColdWater, w.cold_power_w, 0.0);
        put(EndUse::SensibleWater, w.sensible_power_w, 0.0);
        put(EndUse::HeatRejection, w.tower_fan_w, 0.0);
        put(EndUse::CoolingPumps, w.cooling_pumps_w, 0.0);
        put(EndUse::HeatingPumps, w.heating_pumps_w, 0.0);
        put(EndUse::CentralFans, fans_w, 0.0);
        put(EndUse::TerminalFans, demand.terminal_fans_w, 0.0);
        put(EndUse::CentralHeating, w.central_heating_w, w.central_fuel_w);
        put(EndUse::RoomHeating, w.room_heating_w + demand.electric_heating_w, w.room_fuel_w);
        out.residual_w += w.residual_w;
        out.water_kg_per_s = w.make_up_kg_per_s;
        out.sensible_w = sensible_w;
        out.waterside_free_w = w.free_w;
        out.heating_w = w.heating_w;
        out.recovered_heat_w = w.recovered_w;
        out.tower_c = w.tower_c;

        let reset = running && self.set_c > self.supply_c + 1e-9;
        out.features |= if reset { PlantFeature::SupplyReset.bit() } else { 0 };
        out.features |= if w.recovered_w > 0.0 { PlantFeature::HeatRecovery.bit() } else { 0 };
        self.reset(mode, outdoor, demand);
        let asked = demand.supply_kg_per_s / supply_used.flow_share.max(0.05);
        let flow_share =
            if asked > self.design.largest_kg_per_s { self.design.largest_kg_per_s / asked } else { 1.0 };
        if flow_share < 1.0 {
            out.limits |= PlantLimit::AirFlow.bit();
        }
        let supply = AllAirSupply {
            supply_c: delivered.t,
            supply_w: delivered.w,
            flow_share,
            heating_share: w.heating_share,
            outdoor_share,
        };
        (out, supply)
    }

    /// Moves the supply set point.
    fn reset(&mut self, mode: BuildingMode, outdoor: &Outdoor, demand: &AllAirDemand) {
        if mode != BuildingMode::Occupied || outdoor.w > self.reset_w {
            self.set_c = self.supply_c;
            return;
        }
        match self.reset {
            SupplyAirReset::None => self.set_c = self.supply_c,
            SupplyAirReset::WarmestZone => {
                let pull = ((self.reset_target - demand.greatest_box_share) / RESET_BAND).clamp(-1.0, 1.0);
                self.set_c = (self.set_c + pull * RESET_K_PER_S * self.step_s)
                    .clamp(self.supply_c, self.supply_c + self.reset_rise_k);
            }
            SupplyAirReset::OutdoorAir => {
                let [cold, warm] = self.reset_outdoor_c;
                let x = ((warm - outdoor.t_c) / (warm - cold)).clamp(0.0, 1.0);
                self.set_c = self.supply_c + x * self.reset_rise_k;
            }
        }
    }
}
