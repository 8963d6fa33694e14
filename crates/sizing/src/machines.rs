//! The machines of the plant as the yearly estimate and the plant sizing see them: built once from the project's input.

use crate::conditions::Climate;
use crate::size::SizingError;
use crate::yearly::UnitBin;
use drycoil_air::raw;
use drycoil_exchange::recovery::{self, FrostLimit, Recovery};
use drycoil_findings::registry;
use drycoil_plant::PlantError;
use drycoil_plant::air_point::AirPoint;
use drycoil_plant::chiller::{Chiller, Condenser, Rating, Settings, integrated_part_load_value};
use drycoil_plant::drying_coil::{CoilLine, DryingCoilModel};
use drycoil_plant::fan::{FanDrive, MotorPlace};
use drycoil_plant::loops::{self, LoopDemand};
use drycoil_plant::primary_air::{
    DuctGain, FanTrain, FrostControl, PrimaryAirHour, PrimaryAirState, PrimaryAirUnit, RecoveryDesign, Reheat,
};
use drycoil_plant::pump::{Pump, PumpControl};
use drycoil_project::{Arrangement, Project, RecoveryKind, ReheatKind};
use drycoil_units::{
    Conductance, HumidityRatio, MassFlow, Power, Pressure, PressureDifference, Quantity,
    STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, SpecificHeat, Temperature, WaterFlow,
};

/// Share of air that passes a deep drying coil untouched. Common practice for six to eight rows, no source.
pub const BYPASS: f64 = 0.05;
/// Effectiveness of the coil pair of a wrap-around. Common practice, no source.
pub const WRAP_AROUND: f64 = 0.5;
/// Exponent with which the recovery's transfer units fall as its flow rises. Common practice, no source.
pub const RECOVERY_EXPONENT: f64 = 0.6;
/// Exhaust out of the recovery is kept above this, degC, by turning the recovery down.
pub const FROST_GUARD_C: f64 = 1.0;
/// Air at a water coil below this is flagged, degC.
const FREEZE_C: f64 = 4.0;
/// Specific heat of water used in all loop balances, J/(kg K).
pub const WATER_CP: f64 = 4190.0;
/// Density of cold water, kg/m3.
pub const WATER_RHO: f64 = 999.5;
/// Rating capacity on which the normalised chillers of the yearly estimate stand, W.
const UNIT_CAPACITY_W: f64 = 1e6;
/// Share of pump pressure that a differential-pressure controller holds at no flow. Common practice, no source.
pub const HELD_PRESSURE_SHARE: f64 = 0.3;

/// Coldest condenser water that the tower's control aims at while only chillers run, degC (65 degF). Common practice, no
/// source.
pub const COLDEST_CONDENSER_C: f64 = 55.0 / 3.0;
/// Least flow on the tower side of the economizer over design. Common practice, no source.
pub const LEAST_TOWER_SHARE: f64 = 0.3;
/// Fan power of units in server rooms over the heat that they take. Common practice, no source.
pub const OWN_UNIT_FAN_SHARE: f64 = 0.05;
/// Points of the table of a pump's power over its flow.
const PUMP_NODES: usize = 65;

/// What the plant takes in one bin.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct PlantBin {
    pub drying_w: f64,
    pub sensible_w: f64,
    pub tower_w: f64,
    pub pump_w: f64,
    /// Sensible load taken by the economizer.
    pub free_w: f64,
}

/// The unit at the design conditions, for one standard m3/s delivered.
#[derive(Debug, Clone, Copy)]
pub(crate) struct DesignPoint {
    /// Largest heat at the drying coil, W per m3/s.
    pub coil: f64,
    /// Largest fan power, W per m3/s.
    pub fan: f64,
    /// Delivered dry bulb at the dehumidification condition.
    pub delivered_c: f64,
}

/// The machines.
pub(crate) struct Machines {
    unit: PrimaryAirUnit,
    chiller: Chiller,
    pressure_pa: f64,
    dehumidification: AirPoint,
    cooling: AirPoint,
    heating: AirPoint,
    exhaust_c: f64,
    exhaust_winter_c: f64,
    /// Humidity added by the rooms between supply and exhaust.
    room_gain_w: f64,
    exhaust_ratio: f64,
    drying_water_c: f64,
    drying_rise_k: f64,
    approach_k: f64,
    sensible_rise_k: f64,
    arrangement: Arrangement,
    economizer_k: Option<f64>,
    tower_fan: f64,
    tower: crate::tower::Tower,
    winter_c: f64,
    reheat_c: Option<f64>,
    spare: f64,
    pump_pa: [f64; 2],
    pump_efficiency: f64,
    condenser_pa: f64,
    tower_range_k: f64,
    chillers: f64,
    /// Power of a pump under differential-pressure control over that at design, at equal steps of the root of its flow.
    pump_share: Vec<f64>,
}

fn refuse(e: &PlantError) -> SizingError {
    SizingError::one(registry::plant::MACHINE, e.to_string())
}

impl Machines {
    /// `exhaust_ratio` is the air that returns to the recovery over the air delivered; `room_gain_w` the humidity that
    /// rooms add.
    pub(crate) fn new(
        project: &Project,
        climate: &Climate,
        exhaust_ratio: f64,
        room_gain_w: f64,
    ) -> Result<Self, SizingError> {
        let a = &project.primary_air;
        let leak = a.duct_leakage.value.to_ratio();
        // The unit is kept for one standard m3/s delivered; everything it does is in proportion to its flow.
        let design = MassFlow::kg_per_s(RHO / (1.0 - leak));
        let drive = FanDrive {
            fan_efficiency: a.fan_efficiency.value.to_ratio(),
            drive_efficiency: 1.0,
            motor_efficiency: 1.0,
            motor: MotorPlace::InAirStream,
        };
        let train = |pa: f64| FanTrain {
            design_flow: design,
            components: vec![("unit and duct main".to_owned(), PressureDifference::pascals(pa))],
            fixed_pressure: PressureDifference::pascals(0.0),
            drive,
        };
        let recovery = match a.recovery.value {
            RecoveryKind::None => None,
            kind => Some(RecoveryDesign {
                exchanger: Recovery {
                    kind: match kind {
                        RecoveryKind::EnthalpyWheel => recovery::RecoveryKind::Wheel,
                        RecoveryKind::SensiblePlate | RecoveryKind::None => {
                            recovery::RecoveryKind::CrossflowPlate
                        }
                    },
                    sensible_effectiveness: a.recovery_sensible.value.to_ratio(),
                    latent_effectiveness: match kind {
                        RecoveryKind::EnthalpyWheel => a.recovery_latent.value.to_ratio(),
                        RecoveryKind::SensiblePlate | RecoveryKind::None => 0.0,
                    },
                    rated_dry_air: design,
                    flow_exponent: RECOVERY_EXPONENT,
                    exhaust_transfer: match kind {
                        RecoveryKind::EnthalpyWheel => a.exhaust_transfer.value.to_ratio(),
                        RecoveryKind::SensiblePlate | RecoveryKind::None => 0.0,
                    },
                },
                power: Power::watts(0.0),
                frost: FrostControl::TurnDown(FrostLimit::LowestExhaust(Temperature::celsius(FROST_GUARD_C))),
            }),
        };
        let unit = PrimaryAirUnit {
            recovery,
            coil: DryingCoilModel::Line(CoilLine {
                bypass: BYPASS,
                coldest_apparatus_dew_point: a.drying_water.value,
            }),
            reheat: match a.reheat.value {
                ReheatKind::None => Reheat::None,
                ReheatKind::Coil => Reheat::Coil,
                ReheatKind::HeatRecovery => Reheat::RecoveredHeat,
                ReheatKind::WrapAround => Reheat::WrapAround { effectiveness: WRAP_AROUND },
            },
            supply_fan: train(a.supply_fan_pressure.value.to_pascals()),
            exhaust_fan: Some(train(a.exhaust_fan_pressure.value.to_pascals())),
            heating_capacity: Some(Power::watts(1e9)),
            humidifier: None,
            duct_gain: DuctGain::Rise(a.duct_gain.value),
            leakage_share: leak,
            freeze_threshold: Temperature::celsius(FREEZE_C),
        };
        let chiller = chiller(project, UNIT_CAPACITY_W).map_err(|e| refuse(&e))?;
        let (area, warm, cold) = project.rooms.iter().fold((0.0, 0.0, 0.0), |(s, w, c), r| {
            let a = r.floor_area.value.to_square_metres();
            (
                s + a,
                w + a * r.cooling_set_point.value.to_celsius(),
                c + a * r.heating_set_point.value.to_celsius(),
            )
        });
        let water = &project.water;
        let friction = water.pipe_friction_pa_per_m.value
            * water.circuit_length.value.to_metres()
            * (1.0 + water.fittings.value.to_ratio());
        let head = friction + water.terminal_drop.value.to_pascals();
        let point = |c: &crate::design::Condition| air_point(c.dry_bulb_c, c.humidity_ratio_kg_per_kg);
        Ok(Self {
            unit,
            chiller,
            pressure_pa: climate.site.pressure_pa,
            dehumidification: point(&climate.conditions.dehumidification),
            cooling: point(&climate.conditions.cooling),
            heating: point(&climate.conditions.heating),
            exhaust_c: warm / area,
            exhaust_winter_c: cold / area,
            room_gain_w,
            exhaust_ratio,
            drying_water_c: a.drying_water.value.to_celsius(),
            drying_rise_k: a.drying_water_rise.value.to_kelvin(),
            approach_k: a.coil_approach.value.to_kelvin(),
            sensible_rise_k: project.terminals.water_rise.value.to_kelvin(),
            arrangement: water.arrangement.value,
            economizer_k: project
                .plant
                .economizer
                .value
                .then(|| project.plant.economizer_approach.value.to_kelvin()),
            tower_fan: project.plant.tower_fan.value,
            tower: crate::tower::Tower::design(project, climate)?,
            winter_c: a.winter_temperature.value.to_celsius(),
            reheat_c: (a.reheat.value != ReheatKind::None).then(|| a.reheat_temperature.value.to_celsius()),
            spare: project.plant.spare.value.to_ratio(),
            pump_pa: [head, water.machine_drop.value.to_pascals()],
            pump_efficiency: water.pump_efficiency.value.to_ratio(),
            condenser_pa: friction * 0.5 + water.machine_drop.value.to_pascals() * 2.0,
            tower_range_k: project.plant.tower_range.value.to_kelvin(),
            chillers: f64::from(project.plant.chillers.value),
            pump_share: pump_share(water.pump_efficiency.value.to_ratio()).map_err(|e| refuse(&e))?,
        })
    }

    /// The same machines with another share of exhaust returned to the recovery.
    pub(crate) fn set_exhaust_ratio(&mut self, exhaust_ratio: f64) {
        self.exhaust_ratio = exhaust_ratio;
    }

    /// Driest supply that the drying water reaches.
    pub(crate) fn lowest_supply_dew_point_c(&self) -> f64 {
        self.drying_water_c + self.approach_k
    }

    pub(crate) fn tower(&self) -> &crate::tower::Tower {
        &self.tower
    }

    pub(crate) fn tower_leaving_c(&self, wet_bulb_c: f64) -> Result<f64, SizingError> {
        self.tower.leaving_c(wet_bulb_c)
    }

    /// The unit at one outdoor state, delivering `flow` standard m3/s scaled on one.
    pub(crate) fn run(
        &self,
        supply_dew_point_c: f64,
        outdoor: AirPoint,
        exhaust_ratio: f64,
        season: Season,
    ) -> Result<PrimaryAirState, PlantError> {
        let w_supply = raw::humidity_ratio_at_dew_point(supply_dew_point_c, self.pressure_pa);
        let w_exhaust = w_supply.min(outdoor.humidity_ratio.si()) + self.room_gain_w;
        let t_exhaust = if season == Season::Winter { self.exhaust_winter_c } else { self.exhaust_c };
        // Reheat raises the discharge while drying; without drying the discharge is held at the winter temperature.
        let coldest = self.reheat_c.unwrap_or(self.winter_c);
        let drying = outdoor.humidity_ratio.si() > w_supply;
        self.unit.run(&PrimaryAirHour {
            pressure: Pressure::pascals(self.pressure_pa),
            outdoor,
            exhaust: air_point(t_exhaust, w_exhaust),
            delivered_flow: MassFlow::kg_per_s(RHO),
            exhaust_flow: MassFlow::kg_per_s(RHO * exhaust_ratio),
            leaving_humidity_ratio: Some(HumidityRatio::kg_per_kg(w_supply)),
            coldest_discharge: Some(Temperature::celsius(coldest)),
            warmest_discharge: (!drying).then(|| Temperature::celsius(coldest)),
        })
    }

    /// The unit with the exhaust that the search counts on.
    pub(crate) fn run_at_design(
        &self,
        supply_c: f64,
        outdoor: AirPoint,
        season: Season,
    ) -> Result<PrimaryAirState, PlantError> {
        self.run(supply_c, outdoor, self.exhaust_ratio, season)
    }

    /// The unit in one bin for one standard m3/s delivered; `None` when it cannot deliver the dew point.
    pub(crate) fn unit_bin(&self, supply_c: f64, t_c: f64, w: f64) -> Option<UnitBin> {
        let outdoor = air_point(t_c, w);
        let season = if t_c < self.winter_c { Season::Winter } else { Season::Summer };
        let s = self.run(supply_c, outdoor, self.exhaust_ratio, season).ok()?;
        if s.dew_point_missed.to_kelvin() > 1e-6 {
            return None;
        }
        let bought = if matches!(self.unit.reheat, Reheat::RecoveredHeat) { 0.0 } else { s.reheat.si() };
        Some(UnitBin {
            coil: s.coil.total.si().max(0.0),
            heat: s.heating.si() + s.preheat.si() + bought,
            fan: s.electric_power().si(),
            delivered_c: s.delivered.dry_bulb.to_celsius(),
        })
    }

    /// Whether the supply dew point does not matter to the unit: outdoor air, and exhaust air with what the rooms add to
    /// it, are as dry as this supply or drier. What the unit does is then the same for every wetter supply.
    pub(crate) fn is_idle(&self, supply_dew_point_c: f64, w_outdoor: f64) -> bool {
        let w_supply = raw::humidity_ratio_at_dew_point(supply_dew_point_c, self.pressure_pa);
        w_outdoor + self.room_gain_w.max(0.0) <= w_supply
    }

    /// The unit at the design conditions; `None` when it cannot deliver the dew point there.
    pub(crate) fn design_point(&self, supply_c: f64) -> Option<DesignPoint> {
        let at = |outdoor| {
            let s = self.run(supply_c, outdoor, self.exhaust_ratio, Season::Summer).ok()?;
            (s.dew_point_missed.to_kelvin() <= 1e-6).then_some(s)
        };
        let (humid, hot) = (at(self.dehumidification)?, at(self.cooling)?);
        let most = |a: f64, b: f64| 0.0_f64.max(a).max(b);
        Some(DesignPoint {
            coil: most(humid.coil.total.si(), hot.coil.total.si()),
            fan: most(humid.electric_power().si(), hot.electric_power().si()),
            delivered_c: humid.delivered.dry_bulb.to_celsius(),
        })
    }

    /// Outdoor states of the three design cases with their names.
    pub(crate) fn cases(&self) -> [(&'static str, AirPoint, Season); 3] {
        [
            ("dehumidification", self.dehumidification, Season::Summer),
            ("cooling", self.cooling, Season::Summer),
            ("heating", self.heating, Season::Winter),
        ]
    }

    /// Peaks of both loads, and the flows that go with them; `None` when the loops have no balance.
    pub(crate) fn peaks(&self, water_c: f64, cool: f64, dry: f64) -> Option<Peaks> {
        let (m_s, m_d) = self.flows(cool, dry);
        Some(Peaks { cool, dry, terminals: m_s, coil: m_d, plant: self.plant_flow(water_c, cool, dry)? })
    }

    /// Plant in one bin: sensible load `cool` and drying load `dry` of machines sized for the peaks.
    pub(crate) fn plant(
        &self,
        water_c: f64,
        peaks: &Peaks,
        cool: f64,
        dry: f64,
        (wet_bulb_c, tower_c): (f64, f64),
    ) -> Option<PlantBin> {
        let mut out = PlantBin::default();
        if cool + dry <= 0.0 {
            return Some(out);
        }
        let warm_return = water_c + self.sensible_rise_k;
        let cold_return = self.drying_water_c + self.drying_rise_k;
        // Economizer: on the warm return where the terminals have their own, on the mixed return of a single loop.
        let (return_c, supply_c) = match self.arrangement {
            Arrangement::Separate | Arrangement::ReturnReuse => (warm_return, water_c),
            Arrangement::SingleCold => {
                ((cool * warm_return + dry * cold_return) / (cool + dry), self.drying_water_c)
            }
        };
        let free_share = self
            .economizer_k
            .map_or(0.0, |k| ((return_c - (tower_c + k)) / (return_c - supply_c)).clamp(0.0, 1.0));
        let free_base = if self.arrangement == Arrangement::SingleCold { cool + dry } else { cool };
        let free = free_share * free_base;
        out.free_w = free_share * cool;
        let (cool_left, dry_left) = match self.arrangement {
            Arrangement::SingleCold => (cool * (1.0 - free_share), dry * (1.0 - free_share)),
            _ => (cool - free, dry),
        };
        let condenser_c = if free > 0.0 { tower_c } else { tower_c.max(COLDEST_CONDENSER_C) };
        let mut rejected = free;
        if self.arrangement == Arrangement::Separate {
            let (w, r) = self.chill(water_c, cool_left, peaks.cool, condenser_c)?;
            out.sensible_w = w;
            rejected += r;
            let (w, r) = self.chill(self.drying_water_c, dry_left, peaks.dry, condenser_c)?;
            out.drying_w = w;
            rejected += r;
        } else {
            let total = cool_left + dry_left;
            let (w, r) = self.chill(self.drying_water_c, total, peaks.cool + peaks.dry, condenser_c)?;
            rejected += r;
            if total > 0.0 {
                out.sensible_w = w * cool_left / total;
                out.drying_w = w * dry_left / total;
            }
        }
        // Fans follow the heat where the water is what the tower makes at design range, and slow down with the cube where
        // warmer water will do.
        let enough_c = self.economizer_k.map_or(f64::INFINITY, |k| supply_c - k);
        let set_c = if free_share >= 1.0 { enough_c.max(tower_c) } else { condenser_c };
        let half = 0.5 * self.tower_range_k;
        let speed = (tower_c - wet_bulb_c + half) / (set_c - wet_bulb_c + half);
        out.tower_w = rejected * self.tower_fan * speed.clamp(0.0, 1.0).powi(3);
        let condenser = if self.arrangement == Arrangement::Separate {
            self.condenser_flow(cool_left, peaks.cool) + self.condenser_flow(dry_left, peaks.dry)
        } else {
            self.condenser_flow(cool_left + dry_left, peaks.cool + peaks.dry)
        };
        let plate = if free > 0.0 && free_base > 0.0 {
            let share = (cool / peaks.cool.max(1e-9)).clamp(LEAST_TOWER_SHARE, 1.0);
            share * peaks.terminals
        } else {
            0.0
        };
        out.pump_w = self.pumps(water_c, peaks, cool, dry)?
            + condenser.max(plate) / WATER_RHO * self.condenser_pa / self.pump_efficiency;
        Some(out)
    }

    /// Power and heat rejected of chillers sized for `peak` with spare.
    fn chill(&self, leaving_c: f64, load: f64, peak: f64, tower_c: f64) -> Option<(f64, f64)> {
        if load <= 0.0 || peak <= 0.0 {
            return Some((0.0, 0.0));
        }
        let scale = UNIT_CAPACITY_W / (peak * (1.0 + self.spare));
        let condenser = Condenser::Entering {
            temperature: Temperature::celsius(tower_c),
            capacity_rate: self.chiller.rating.condenser_capacity_rate,
        };
        // A machine that is colder than at its rating makes less; sizing gives it the capacity, so only the share of
        // load counts here.
        let share = (load * scale).min(UNIT_CAPACITY_W);
        let s = self.chiller.run(Power::watts(share), Temperature::celsius(leaving_c), condenser).ok()?;
        (s.load_met.si() > 0.0).then(|| {
            let per_load = s.power.si() / s.load_met.si();
            (load * per_load, load * (1.0 + per_load))
        })
    }

    /// Water through the condensers of the machines that carry a load, which stops with a machine that cycles, kg/s.
    fn condenser_flow(&self, load: f64, peak: f64) -> f64 {
        if load <= 0.0 || peak <= 0.0 {
            return 0.0;
        }
        let each = peak * (1.0 + self.spare) / self.chillers;
        let running = (load / each).ceil().clamp(1.0, self.chillers);
        let least = self.chiller.settings.minimum_share * each;
        let duty = (load / (running * least)).min(1.0);
        let rejected = each * (1.0 + 1.0 / self.chiller.rating.cop);
        running * duty * rejected / (WATER_CP * self.tower_range_k)
    }

    /// Water through the terminals and through the drying coil, kg/s.
    fn flows(&self, cool: f64, dry: f64) -> (f64, f64) {
        (cool / (WATER_CP * self.sensible_rise_k), dry / (WATER_CP * self.drying_rise_k))
    }

    /// Water through all chillers, kg/s.
    fn plant_flow(&self, water_c: f64, cool: f64, dry: f64) -> Option<f64> {
        let (m_s, m_d) = self.flows(cool, dry);
        let arrangement = match self.arrangement {
            Arrangement::SingleCold => loops::Arrangement::SingleColdLoop,
            Arrangement::Separate => loops::Arrangement::SeparatePlants,
            Arrangement::ReturnReuse => loops::Arrangement::ReturnReuse,
        };
        let state = loops::solve(
            arrangement,
            &LoopDemand {
                drying_load: Power::watts(dry),
                drying_flow: MassFlow::kg_per_s(m_d),
                sensible_load: Power::watts(cool),
                sensible_flow: MassFlow::kg_per_s(m_s),
                cold_supply: Temperature::celsius(self.drying_water_c),
                sensible_supply: Temperature::celsius(water_c),
                cold_loop_gain: Power::watts(0.0),
                sensible_loop_gain: Power::watts(0.0),
                specific_heat: SpecificHeat::j_per_kg_k(WATER_CP),
            },
        )
        .ok()?;
        Some(state.cold_plant.flow.si() + state.warm_plant.flow.si())
    }

    fn pumps(&self, water_c: f64, peaks: &Peaks, cool: f64, dry: f64) -> Option<f64> {
        let (m_s, m_d) = self.flows(cool, dry);
        let power = |m: f64, top: f64, pa: f64| {
            if m <= 0.0 || top <= 0.0 {
                return 0.0;
            }
            let y = (m / top).clamp(0.0, 1.0).sqrt() * (PUMP_NODES - 1) as f64;
            let i = (y as usize).min(PUMP_NODES - 2);
            let share = self.pump_share[i] + (y - i as f64) * (self.pump_share[i + 1] - self.pump_share[i]);
            top / WATER_RHO * pa * share / self.pump_efficiency
        };
        let loops = power(m_s, peaks.terminals, self.pump_pa[0]) + power(m_d, peaks.coil, self.pump_pa[0]);
        Some(if self.arrangement == Arrangement::Separate {
            loops * (self.pump_pa[0] + self.pump_pa[1]) / self.pump_pa[0]
        } else {
            loops + power(self.plant_flow(water_c, cool, dry)?, peaks.plant, self.pump_pa[1])
        })
    }
}

/// Power over design power of a pump that holds a differential pressure, at equal steps of the root of its flow.
fn pump_share(efficiency: f64) -> Result<Vec<f64>, PlantError> {
    let pump = Pump::new(
        WaterFlow::m3_per_s(0.01),
        PressureDifference::pascals(1e5),
        efficiency,
        1.0,
        PumpControl::DifferentialPressure { set_point_share: HELD_PRESSURE_SHARE },
    )?;
    let full = pump.run(pump.design_flow)?.power.electric_power.si();
    (0..PUMP_NODES)
        .map(|i| {
            let x = (i as f64 / (PUMP_NODES - 1) as f64).powi(2);
            Ok(pump.run(pump.design_flow * x)?.power.electric_power.si() / full)
        })
        .collect()
}

/// Peaks that the plant is sized for.
pub(crate) struct Peaks {
    cool: f64,
    dry: f64,
    terminals: f64,
    coil: f64,
    plant: f64,
}

/// A state; the machine that takes it checks it.
pub(crate) fn air_point(t_c: f64, w: f64) -> AirPoint {
    AirPoint { dry_bulb: Temperature::celsius(t_c), humidity_ratio: HumidityRatio::kg_per_kg(w) }
}

/// Which set point the exhaust air has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Season {
    Summer,
    Winter,
}

/// A chiller of this rated capacity by the project's rating point.
///
/// # Errors
/// A rating that no chiller has; a part-load value that does not go with it.
pub fn chiller(project: &Project, capacity_w: f64) -> Result<Chiller, PlantError> {
    let p = &project.plant;
    let cop = p.chiller_cop.value;
    let rating = Rating {
        capacity: Power::watts(capacity_w),
        cop,
        leaving_chilled: p.rating_chilled.value,
        entering_condenser: p.rating_condenser.value,
        condenser_capacity_rate: Conductance::w_per_k(
            capacity_w * (1.0 + 1.0 / cop) / p.tower_range.value.to_kelvin(),
        ),
    };
    let Some(iplv) = &p.chiller_iplv else { return Chiller::from_rating(rating, Settings::default()) };
    // The part-load value fixes the loss that does not fall with the load: bisection on that share.
    let made = |share: f64| {
        Chiller::from_rating(rating, Settings { fixed_loss_share: share, ..Settings::default() })
    };
    let value = |c: &Chiller| -> Result<f64, PlantError> {
        // Condenser entering at 100, 75, 50, 25 % load: 85, 75, 65, 65 degF (AHRI 550/590).
        let mut cops = [0.0; 4];
        for (slot, (share, t_f)) in
            cops.iter_mut().zip([(1.0, 85.0), (0.75, 75.0), (0.5, 65.0), (0.25, 65.0)])
        {
            let condenser = Condenser::Entering {
                temperature: Temperature::fahrenheit(t_f),
                capacity_rate: rating.condenser_capacity_rate,
            };
            *slot = c.run(Power::watts(capacity_w * share), rating.leaving_chilled, condenser)?.cop;
        }
        integrated_part_load_value(cops)
    };
    let (mut lo, mut hi) = (0.0, 0.5);
    if iplv.value > value(&made(lo)?)? || iplv.value < value(&made(hi)?)? {
        return Err(PlantError::Contradiction {
            what: "the integrated part-load value does not fit the rating point; part-load value against the largest",
            value: iplv.value,
            limit: value(&made(lo)?)?,
        });
    }
    for _ in 0..50 {
        let mid = f64::midpoint(lo, hi);
        if value(&made(mid)?)? > iplv.value {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    made(f64::midpoint(lo, hi))
}
