//! The plant of the decoupled scheme at a step: primary-air unit, water in the project's arrangement, heating.
//!
//! Modes. *Occupied*: outdoor air through recovery and drying coil. *Start-up*: the same, or return air through the
//! drying coil where the project asks for it, so that rooms are dry before their coils open. *Night*: the unit is off;
//! where a night dew-point limit is set and a room passes it, return air runs through the drying coil until the rooms
//! are below it again.

use crate::plant::SetUpError;
use crate::plant::air::{Air, Saturation};
use crate::plant::central_unit::{CentralUnit, Draw, ReheatForm, UnitDemand, UnitStep};
use crate::plant::machines::coil::{CoilDesign, CoilForm, CoilWater};
use crate::plant::machines::fan::{FanForm, PressureHold};
use crate::plant::machines::recovery::RecoveryForm;
use crate::plant::water_plant::{
    BankDesign, PlateDesign, PumpPoint, WaterDemand, WaterPlant, WaterPlantDesign,
};
use crate::signals::{
    BuildingMode, DecoupledDemand, DecoupledSupply, EndUse, Outdoor, PlantFeature, PlantLimit, PlantStep,
    StepTime,
};
use drycoil_air::raw;
use drycoil_exchange::recovery::{Recovery, RecoveryKind as Exchanger};
use drycoil_plant::loops;
use drycoil_project::{
    self as project, Arrangement, NightAir, Project, RecoveryKind, ReheatKind, SupplyDewPointReset,
};
pub use drycoil_sizing::machine_data::HELD_DUCT_SHARE;
use drycoil_sizing::machine_data::{BYPASS, FROST_GUARD_C, RECOVERY_EXPONENT, WATER_CP};
use drycoil_sizing::{Design, Service};
use drycoil_units::{MassFlow, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};

/// Largest water flow of the drying coil over that of its design point: the spare of its valve. Common practice, no
/// source.
const COIL_VALVE_SPARE: f64 = 1.25;
/// Time in which a reset moves towards its goal, s. Common practice, no source.
const RESET_TIME_S: f64 = 3600.0;
/// Share of the largest coil load at which primary air that is not dried is made colder, and the distance from it at which
/// that is done at the fastest. Common practice, no source.
const COOLER_FROM: f64 = 0.9;
const COOLER_BAND: f64 = 0.15;
/// Fastest move of that temperature, K/s: 4 K in an hour, as in the all-air scheme. Common practice, no source.
const COOLER_K_PER_S: f64 = 4.0 / 3600.0;
/// Electricity of the drive of a recovery wheel over its rated air, W s/kg: 150 W for 2.5 m3/s of standard air. Common
/// practice, no source.
pub(crate) const WHEEL_DRIVE_W_S_PER_KG: f64 = 50.0;
/// A night run ends when the wettest room is this far below the limit, kg/kg. Common practice, no source.
pub const NIGHT_BAND_W: f64 = 3e-4;

/// How the supply dew point follows the rooms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DewPointReset {
    /// Design dew point at all times.
    Constant,
    /// Rises while the wettest room is dry: to the driest limit of the rooms less what the wettest room adds to the supply,
    /// and no higher than the ceiling.
    FollowRooms {
        /// Humidity ratio that no room may pass, kg/kg.
        limit_w: f64,
        /// Largest humidity ratio of the supply, kg/kg.
        ceiling_w: f64,
    },
}

/// How the temperature of the sensible water is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WaterReset {
    /// Design temperature at all times.
    Constant,
    /// Dew point of the wettest room plus an offset, between two limits.
    FollowRooms {
        /// Water less dew point, K.
        offset_k: f64,
        /// Coldest water, degC.
        lowest_c: f64,
        /// Warmest water, degC.
        highest_c: f64,
    },
}

/// Control of the decoupled plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DecoupledControl {
    /// Supply dew point.
    pub dew_point: DewPointReset,
    /// Sensible water.
    pub water: WaterReset,
    /// Air drawn at start-up.
    pub start_up: Draw,
    /// Air drawn at night.
    pub night_air: Draw,
    /// Dew point, degC, that rooms may reach at night before the unit dries them; `None` for no night run.
    pub night_dew_point_c: Option<f64>,
    /// Error of all dew-point sensors, K: rooms are by so much more humid than the control believes.
    pub sensor_error_k: f64,
}

impl DecoupledControl {
    /// The control that a project asks for. Where it sets a night dew-point limit and recirculates, the unit has a
    /// recirculation damper, and dries return air at start-up too.
    pub fn of(project: &Project, design: &Design) -> Self {
        let y = &project.year;
        let p = design.site.pressure_pa;
        let w_at = |t: f64| raw::humidity_ratio_at_dew_point(t, p);
        let limit_c = design
            .needs
            .iter()
            .filter(|n| n.service == Service::Terminal)
            .map(|n| n.dew_point_limit_c)
            .fold(design.dew_point.room_limit_c, f64::min);
        let design_c = design.dew_point.sensible_water_c;
        let night_dew_point_c = y.night_dew_point_limit.as_ref().map(|t| t.value.to_celsius());
        Self {
            dew_point: match y.supply_dew_point_reset.value {
                SupplyDewPointReset::Constant => DewPointReset::Constant,
                SupplyDewPointReset::WhenDry => DewPointReset::FollowRooms {
                    limit_w: w_at(limit_c - y.supply_dew_point_margin.value.to_kelvin()),
                    ceiling_w: w_at(
                        design.dew_point.supply_dew_point_c + y.supply_dew_point_rise.value.to_kelvin(),
                    ),
                },
            },
            water: match y.water_reset.value {
                project::WaterReset::Constant => WaterReset::Constant,
                project::WaterReset::FollowWettestRoom => WaterReset::FollowRooms {
                    offset_k: y.water_reset_offset.value.to_kelvin(),
                    lowest_c: design_c,
                    highest_c: design_c + y.water_reset_rise.value.to_kelvin(),
                },
            },
            start_up: if night_dew_point_c.is_some() && y.night_air.value == NightAir::Recirculated {
                Draw::Return
            } else {
                Draw::Outdoor
            },
            night_air: match y.night_air.value {
                NightAir::Recirculated => Draw::Return,
                NightAir::Outdoor => Draw::Outdoor,
            },
            night_dew_point_c,
            sensor_error_k: 0.0,
        }
    }
}

/// The plant.
#[derive(Debug, Clone)]
pub struct DecoupledPlant {
    saturation: Saturation,
    unit: CentralUnit,
    coil_water: CoilWater,
    water: WaterPlant,
    control: DecoupledControl,
    night_w: Option<f64>,
    /// Largest flow of the unit to the rooms, kg/s.
    largest_kg_per_s: f64,
    design_kg_per_s: f64,
    supply_w: f64,
    supply_ceiling_w: f64,
    water_design_c: f64,
    sensible_rise_k: f64,
    winter_c: f64,
    reheat_c: Option<f64>,
    /// Discharge of the unit at design, degC, no warmer than without a call for cooling.
    coldest_c: f64,
    condenser_reheat: bool,
    reuses_return: bool,
    /// Electricity of the recovery's drive while it turns, W.
    recovery_drive_w: f64,
    step_s: f64,
    /// State: discharge that is held where air is not dried, humidity ratio that the coil is run to, water, night run.
    discharge_c: f64,
    target_w: f64,
    water_c: f64,
    night_run: bool,
}

/// The exchanger of a recovery kind; `None` for none.
pub(crate) fn exchanger(project: &Project, rated_kg_per_s: f64) -> Option<Recovery> {
    let a = &project.primary_air;
    let wheel = match a.recovery.value {
        RecoveryKind::None => return None,
        RecoveryKind::EnthalpyWheel => true,
        RecoveryKind::SensiblePlate => false,
    };
    let only_wheel = |x: f64| if wheel { x } else { 0.0 };
    Some(Recovery {
        kind: if wheel { Exchanger::Wheel } else { Exchanger::CrossflowPlate },
        sensible_effectiveness: a.recovery_sensible.value.to_ratio(),
        latent_effectiveness: only_wheel(a.recovery_latent.value.to_ratio()),
        rated_dry_air: MassFlow::kg_per_s(rated_kg_per_s),
        flow_exponent: RECOVERY_EXPONENT,
        exhaust_transfer: only_wheel(a.exhaust_transfer.value.to_ratio()),
    })
}

/// The primary-air unit of a design.
pub(crate) fn primary_unit(
    project: &Project,
    design: &Design,
    saturation: &Saturation,
) -> Result<CentralUnit, SetUpError> {
    let a = &project.primary_air;
    let leakage = a.duct_leakage.value.to_ratio();
    // Spare capacity is in the casing; the duct's pressure and the recovery's rating go with the flow of design.
    let through = design.primary_unit.delivered_m3_per_s * RHO / (1.0 - leakage);
    if through <= 0.0 {
        return Err(SetUpError::Missing("primary air"));
    }
    let fan = |pa: f64| FanForm {
        design_kg_per_s: through,
        pressure_pa: pa,
        held_share: HELD_DUCT_SHARE,
        efficiency: a.fan_efficiency.value.to_ratio(),
        hold: PressureHold::Fixed,
    };
    Ok(CentralUnit {
        recovery: exchanger(project, through).map(|r| RecoveryForm::new(&r, FROST_GUARD_C)).transpose()?,
        coil: CoilForm::new(BYPASS, a.drying_water.value.to_celsius(), saturation)?,
        reheat: match a.reheat.value {
            ReheatKind::None => ReheatForm::None,
            ReheatKind::Coil => ReheatForm::Coil,
            ReheatKind::HeatRecovery => ReheatForm::CondenserHeat,
            ReheatKind::WrapAround => ReheatForm::WrapAround(0.5),
        },
        supply_fan: fan(a.supply_fan_pressure.value.to_pascals()),
        exhaust_fan: fan(a.exhaust_fan_pressure.value.to_pascals()),
        duct_gain_k: a.duct_gain.value.to_kelvin(),
        leakage,
    })
}

fn pump_of(list: &[drycoil_sizing::PumpDesign], service: &str) -> PumpPoint {
    list.iter()
        .find(|p| p.service == service)
        .map_or_else(PumpPoint::default, |p| PumpPoint { flow_m3_per_s: p.flow_m3_per_s, head_pa: p.head_pa })
}

fn water_plant(project: &Project, design: &Design) -> Result<WaterPlant, SetUpError> {
    let chosen = design
        .plant
        .arrangements
        .iter()
        .find(|a| a.chosen)
        .ok_or(SetUpError::Missing("chosen arrangement"))?;
    let bank = |m: &drycoil_sizing::MachineDesign| BankDesign {
        count: m.count,
        capacity_w: m.capacity_w,
        leaving_c: m.leaving_c,
    };
    let separate = project.water.arrangement.value == Arrangement::Separate;
    let cold = chosen.chillers.first().ok_or(SetUpError::Missing("chiller"))?;
    let warm = if separate {
        Some(bank(chosen.chillers.get(1).ok_or(SetUpError::Missing("chiller of the sensible water"))?))
    } else {
        None
    };
    let sensible_c = design.dew_point.sensible_water_c;
    let plate = project.plant.economizer.value.then(|| match project.water.arrangement.value {
        Arrangement::SingleCold => PlateDesign {
            load_w: cold.capacity_w * f64::from(cold.count),
            return_c: cold.entering_c,
            supply_c: cold.leaving_c,
        },
        Arrangement::Separate | Arrangement::ReturnReuse => PlateDesign {
            load_w: design.plant.sensible_load_w,
            return_c: chosen.sensible_return_c,
            supply_c: sensible_c,
        },
    });
    // A loop without rise has nothing for a plate to do.
    let plate = plate.filter(|p| p.load_w > 0.0 && p.return_c > p.supply_c + 0.1);
    let h = &design.plant.heating;
    WaterPlant::new(
        project,
        &WaterPlantDesign {
            arrangement: match project.water.arrangement.value {
                Arrangement::SingleCold => loops::Arrangement::SingleColdLoop,
                Arrangement::Separate => loops::Arrangement::SeparatePlants,
                Arrangement::ReturnReuse => loops::Arrangement::ReturnReuse,
            },
            cold: bank(cold),
            warm,
            tower_heat_w: design.plant.tower_heat_w,
            tower_wet_bulb_c: design.plant.tower_wet_bulb_c,
            pressure_pa: design.site.pressure_pa,
            plate,
            coil_pump: pump_of(&chosen.pumps, "drying water"),
            sensible_pump: pump_of(&chosen.pumps, "sensible water"),
            cold_pump: pump_of(&chosen.pumps, if separate { "drying chillers" } else { "chillers" }),
            warm_pump: pump_of(&chosen.pumps, "sensible chillers"),
            condenser_pump: pump_of(&chosen.pumps, "condenser water"),
            hot_pump: PumpPoint {
                flow_m3_per_s: design.plant.heating_pump.flow_m3_per_s,
                head_pa: design.plant.heating_pump.head_pa,
            },
            heating_w: h.capacity_w * f64::from(h.count),
            hot_water_c: project.terminals.heating_water.value.to_celsius(),
        },
    )
}

impl DecoupledPlant {
    /// The plant of a design; `step_s` is the length of a step.
    ///
    /// # Errors
    /// A machine that refuses its data; a design without the parts that the plant needs.
    pub fn new(project: &Project, design: &Design, step_s: f64) -> Result<Self, SetUpError> {
        Self::with_control(project, design, step_s, DecoupledControl::of(project, design))
    }

    /// As [`new`](Self::new) with a control of one's own.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn with_control(
        project: &Project,
        design: &Design,
        step_s: f64,
        control: DecoupledControl,
    ) -> Result<Self, SetUpError> {
        crate::plant::within("step in s", step_s, 1.0, 7200.0)?;
        let saturation = Saturation::new(design.site.pressure_pa);
        let unit = primary_unit(project, design, &saturation)?;
        let a = &project.primary_air;
        let rise = a.drying_water_rise.value.to_kelvin();
        let u = &design.primary_unit;
        let cases = u.cases.iter().filter(|c| c.coil_total_w > 0.0);
        let worst = cases
            .max_by(|x, y| x.coil_total_w.total_cmp(&y.coil_total_w))
            .ok_or(SetUpError::Missing("design case in which the drying coil works"))?;
        let leaving = worst
            .points
            .iter()
            .find(|p| p.point == "after drying coil")
            .ok_or(SetUpError::Missing("state behind the drying coil"))?;
        let condensate_heat = worst.condensate_kg_per_s * 4186.0 * leaving.dry_bulb_c;
        let air_kg_per_s = u.delivered_m3_per_s * RHO / (1.0 - unit.leakage);
        let air_w = worst.coil_total_w + condensate_heat;
        let coil_water = CoilWater::new(
            &CoilDesign {
                air_kg_per_s,
                h_in: leaving.enthalpy_j_per_kg + air_w / air_kg_per_s,
                heat_w: worst.coil_total_w,
                air_w,
                water_c: u.drying_water_c,
                rise_k: rise,
                dry_in: (worst.condensate_kg_per_s <= 0.0).then(|| {
                    let w = leaving.humidity_ratio_kg_per_kg;
                    let h = leaving.enthalpy_j_per_kg + air_w / air_kg_per_s;
                    Air { t: raw::dry_bulb_from_enthalpy_c(h, w), w }
                }),
                largest_share: COIL_VALVE_SPARE,
                cp_water: WATER_CP,
            },
            &saturation,
        )?;
        let supply_w = design.dew_point.supply_humidity_ratio_kg_per_kg;
        let design_kg_per_s = u.delivered_m3_per_s * RHO;
        let supply_ceiling_w = match control.dew_point {
            DewPointReset::Constant => supply_w,
            DewPointReset::FollowRooms { ceiling_w, .. } => ceiling_w.max(supply_w),
        };
        let water_design_c = design.dew_point.sensible_water_c;
        let winter_c = a.winter_temperature.value.to_celsius();
        let held_c = if a.reheat.value == ReheatKind::None {
            winter_c
        } else {
            a.reheat_temperature.value.to_celsius()
        };
        Ok(Self {
            night_w: control.night_dew_point_c.map(|t| saturation.w(t)),
            largest_kg_per_s: u.unit_m3_per_s * RHO * (1.0 - unit.leakage),
            design_kg_per_s,
            supply_w,
            supply_ceiling_w,
            water_design_c,
            sensible_rise_k: project.terminals.water_rise.value.to_kelvin(),
            winter_c,
            reheat_c: (a.reheat.value != ReheatKind::None).then(|| a.reheat_temperature.value.to_celsius()),
            coldest_c: (u.delivered_dry_bulb_c - a.duct_gain.value.to_kelvin()).min(held_c),
            discharge_c: held_c,
            condenser_reheat: a.reheat.value == ReheatKind::HeatRecovery,
            reuses_return: project.water.arrangement.value == Arrangement::ReturnReuse,
            recovery_drive_w: if a.recovery.value == RecoveryKind::EnthalpyWheel {
                WHEEL_DRIVE_W_S_PER_KG * air_kg_per_s
            } else {
                0.0
            },
            step_s,
            target_w: supply_w,
            water_c: water_design_c,
            night_run: false,
            water: water_plant(project, design)?,
            saturation,
            unit,
            coil_water,
            control,
        })
    }

    /// Supply to start a year with: design states, everything within capacity.
    pub fn first_supply(&self, mode: BuildingMode) -> DecoupledSupply {
        let supply = DecoupledSupply {
            primary_c: self.winter_c,
            primary_w: self.supply_w,
            primary_share: 1.0,
            water_c: self.water_design_c,
            cooling_share: 1.0,
            heating_share: 1.0,
        };
        self.supply_in_mode(supply, mode)
    }

    /// The supply of the next step where its mode is another than that of the step that made the supply: the unit starts
    /// and stops with the mode, without the step of lag.
    pub fn supply_in_mode(&self, supply: DecoupledSupply, mode: BuildingMode) -> DecoupledSupply {
        let primary_share = match mode {
            BuildingMode::Occupied | BuildingMode::StartUp if supply.primary_share == 0.0 => 1.0,
            BuildingMode::Night if !self.night_run => 0.0,
            _ => supply.primary_share,
        };
        DecoupledSupply { primary_share, ..supply }
    }

    fn unit_demand(
        &self,
        mode: BuildingMode,
        outdoor: Air,
        back: Air,
        flow: f64,
        back_flow: f64,
    ) -> UnitDemand {
        let draw = match mode {
            BuildingMode::Night => self.control.night_air,
            BuildingMode::StartUp => self.control.start_up,
            BuildingMode::Occupied => Draw::Outdoor,
        };
        let entering_w = if draw == Draw::Return { back.w } else { outdoor.w };
        let coldest = self.discharge_c;
        let drying = entering_w > self.target_w;
        UnitDemand {
            draw,
            outdoor,
            back,
            delivered_kg_per_s: flow,
            back_kg_per_s: back_flow,
            target_w: Some(self.target_w),
            coldest_c: Some(coldest),
            // Without drying the discharge is held; while drying it is as cold as it comes unless reheated.
            warmest_c: (!drying).then_some(coldest),
        }
    }

    /// One step: what the rooms took with `supply_used` from the plant under this outdoor air, and the supply of the next
    /// step.
    pub fn step(
        &mut self,
        _time: &StepTime,
        mode: BuildingMode,
        outdoor: &Outdoor,
        demand: &DecoupledDemand,
        supply_used: &DecoupledSupply,
    ) -> (PlantStep, DecoupledSupply) {
        let mut out = PlantStep::default();
        let outside = Air { t: outdoor.t_c, w: outdoor.w };
        let sensible_w = (demand.coil_w + demand.sensible_units_w).max(0.0);
        let room_for_coil_w = self.water.room_for_coil_w(sensible_w);
        let running = demand.primary_kg_per_s > 1e-9;

        let unit: Option<UnitStep> = if running {
            let back_flow = demand.return_kg_per_s.max(0.0);
            let back = if back_flow > 0.0 { Air { t: demand.return_c, w: demand.return_w } } else { outside };
            let ask = self.unit_demand(mode, outside, back, demand.primary_kg_per_s, back_flow);
            Some(self.unit.step(&self.saturation, &ask, room_for_coil_w))
        } else {
            None
        };

        let mut water = WaterDemand {
            sensible_w,
            sensible_kg_per_s: demand.coil_water_kg_per_s.max(0.0)
                + demand.sensible_units_w.max(0.0) / (WATER_CP * self.sensible_rise_k),
            sensible_c: supply_used.water_c,
            room_heat_w: demand.hot_water_w.max(0.0),
            cooling_share: supply_used.cooling_share,
            heating_share: supply_used.heating_share,
            ..WaterDemand::default()
        };
        let mut dew_point_missed = false;
        if let Some(u) = &unit {
            let m = u.through_kg_per_s;
            water.coil_w = m * u.coil.total;
            let flow = self.coil_water.flow(&self.saturation, m, &u.coil);
            water.coil_asked_w = u.coil_asked_w;
            water.coil_kg_per_s = flow.kg_per_s;
            out.limits |= u.limits | flow.limits;
            // A coil whose open valve is not enough, beyond the approach that the apparatus dew point keeps.
            if flow.share < 1.0 - 1e-9 {
                out.limits |= PlantLimit::OutsideCurve.bit();
            }
            dew_point_missed = u.coil.missed_w > 0.0;
            if self.condenser_reheat {
                water.low_heat_w = u.reheat_w;
                water.central_heat_w = u.heating_w;
            } else {
                water.central_heat_w = u.heating_w + u.reheat_w;
            }
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
        put(EndUse::TerminalFans, demand.terminal_fans_w, 0.0);
        put(EndUse::CentralHeating, w.central_heating_w, w.central_fuel_w);
        put(EndUse::RoomHeating, w.room_heating_w + demand.electric_heating_w, w.room_fuel_w);
        if let Some(u) = &unit {
            put(EndUse::CentralFans, u.supply_fan.power_w + u.exhaust_fan.power_w, 0.0);
            if u.recovering {
                put(EndUse::Recovery, self.recovery_drive_w, 0.0);
            }
            out.central_coil_w = water.coil_w;
            out.central_latent_w = u.through_kg_per_s * (u.coil.total - u.coil.sensible);
            out.air_recovery_w = u.recovered_w;
            out.outdoor_kg_per_s = u.outdoor_kg_per_s;
            out.condensate_kg_per_s = u.condensate_kg_per_s;
            out.water_residual_kg_per_s = u.water_residual_kg_per_s;
            out.residual_w = u.residual_w;
        }
        out.residual_w += w.residual_w;
        out.water_kg_per_s = w.make_up_kg_per_s;
        out.sensible_w = sensible_w;
        out.waterside_free_w = w.free_w;
        out.heating_w = w.heating_w;
        out.recovered_heat_w = w.recovered_w;
        out.tower_c = w.tower_c;
        let mut tell = |feature: PlantFeature, is: bool| out.features |= if is { feature.bit() } else { 0 };
        tell(PlantFeature::NightDrying, mode == BuildingMode::Night && running);
        tell(
            PlantFeature::SupplyReset,
            (running
                && (self.target_w > self.supply_w * (1.0 + 1e-9)
                    || self.discharge_c < self.reheat_c.unwrap_or(self.winter_c)))
                || (sensible_w > 0.0 && supply_used.water_c > self.water_design_c),
        );
        tell(PlantFeature::ReturnReuse, self.reuses_return && w.reused_kg_per_s > 0.0);
        tell(PlantFeature::HeatRecovery, w.recovered_w > 0.0);

        self.reset(mode, demand, supply_used, dew_point_missed);
        let asked = demand.primary_asked_kg_per_s.max(demand.primary_kg_per_s);
        let within = if asked > self.largest_kg_per_s { self.largest_kg_per_s / asked } else { 1.0 };
        if within < 1.0 {
            out.limits |= PlantLimit::AirFlow.bit();
        }
        // A unit that stands still is followed at its design flow, so that it starts with a state of this weather.
        let delivered = match &unit {
            Some(u) => u.delivered,
            None => Air { t: supply_used.primary_c, w: supply_used.primary_w },
        };
        let supply = DecoupledSupply {
            primary_c: delivered.t,
            primary_w: delivered.w,
            primary_share: match mode {
                BuildingMode::Night if !self.night_run => 0.0,
                _ => within,
            },
            water_c: self.water_c,
            cooling_share: w.cooling_share,
            heating_share: w.heating_share,
        };
        (out, supply)
    }

    /// Moves the resets and the night run.
    fn reset(
        &mut self,
        mode: BuildingMode,
        demand: &DecoupledDemand,
        used: &DecoupledSupply,
        dew_point_missed: bool,
    ) {
        // The wettest room as its sensor has it.
        let error_k = self.control.sensor_error_k;
        let wettest_w = if error_k == 0.0 || demand.wettest_any_w <= 1e-5 {
            demand.wettest_any_w
        } else {
            self.saturation.w(self.saturation.dew_point(demand.wettest_any_w) - error_k)
        };
        let pace = (self.step_s / RESET_TIME_S).min(1.0);
        // Air that is not dried is held at its winter temperature, and made colder, down to the discharge of design that the
        // terminals were chosen with, while a coil is near its largest load.
        let held_c = self.reheat_c.unwrap_or(self.winter_c);
        self.discharge_c = if mode == BuildingMode::Occupied {
            let pull = ((COOLER_FROM - demand.greatest_zone_share) / COOLER_BAND).clamp(-1.0, 1.0);
            (self.discharge_c + pull * COOLER_K_PER_S * self.step_s).clamp(self.coldest_c, held_c)
        } else {
            held_c
        };
        if let DewPointReset::FollowRooms { limit_w, .. } = self.control.dew_point {
            let goal = if mode == BuildingMode::Occupied && wettest_w > 0.0 && !dew_point_missed {
                let pickup = (wettest_w - used.primary_w).max(0.0);
                (limit_w - pickup).clamp(self.supply_w, self.supply_ceiling_w)
            } else {
                self.supply_w
            };
            // Down at once, up slowly: a room that has just become wetter is not made to wait.
            self.target_w =
                if goal < self.target_w { goal } else { self.target_w + pace * (goal - self.target_w) };
        }
        if let WaterReset::FollowRooms { offset_k, lowest_c, highest_c } = self.control.water {
            let goal = if wettest_w > 1e-5 {
                (self.saturation.dew_point(wettest_w) + offset_k).clamp(lowest_c, highest_c)
            } else {
                self.water_design_c
            };
            // Up at once, down slowly.
            self.water_c =
                if goal > self.water_c { goal } else { self.water_c + pace * (goal - self.water_c) };
        }
        self.night_run = match (mode, self.night_w) {
            (BuildingMode::Night, Some(limit)) => {
                wettest_w > if self.night_run { limit - NIGHT_BAND_W } else { limit }
            }
            _ => false,
        };
    }

    /// Dry air that the unit delivers at design, kg/s.
    pub fn design_kg_per_s(&self) -> f64 {
        self.design_kg_per_s
    }
}
