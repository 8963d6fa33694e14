//! What passes between rooms and plant in each step, and where the energy goes.
//!
//! All values are means over the step, SI, in the order in which air and water flow. Air flows are dry-air mass flows.

use drycoil_project::DayType;
use serde::Serialize;

/// Time of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StepTime {
    /// Index from the start of the year.
    pub step: usize,
    /// Hour of the year, 0 for the first.
    pub hour: usize,
    /// Hour of the day, 0 to 23.
    pub hour_of_day: usize,
    /// Month, 0 to 11.
    pub month: usize,
    /// Kind of day.
    pub day_type: DayType,
}

/// Outdoor air in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outdoor {
    /// Dry bulb, degC.
    pub t_c: f64,
    /// Humidity ratio, kg/kg.
    pub w: f64,
    /// Wet bulb, degC.
    pub wet_bulb_c: f64,
    /// Barometric pressure of the site, Pa.
    pub p_pa: f64,
}

/// What the building as a whole is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BuildingMode {
    /// At least one room is occupied: outdoor air is needed.
    Occupied,
    /// No room is occupied, some are being brought to their occupied state: dry first, coils open after.
    StartUp,
    /// Set-back; the unit runs only to hold the night dew-point limit, on return air.
    Night,
}

/// Air and water that the decoupled plant gives to all rooms during a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DecoupledSupply {
    /// Primary air as it enters the terminals, degC.
    pub primary_c: f64,
    /// Its humidity ratio, kg/kg.
    pub primary_w: f64,
    /// Share of the asked primary flow that the unit delivers, 0 (off) to 1.
    pub primary_share: f64,
    /// Cold water to the terminals, degC.
    pub water_c: f64,
    /// Share of the coil heat asked of the sensible loop that it can carry, 0 to 1; below 1 when the plant is at its limit.
    pub cooling_share: f64,
    /// Share of the heating asked that the heating plant can carry, 0 to 1.
    pub heating_share: f64,
}

/// What the rooms of the decoupled scheme took in a step; sums in room order.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DecoupledDemand {
    /// Primary air delivered, kg/s.
    pub primary_kg_per_s: f64,
    /// Primary air asked, before the unit's limit, kg/s.
    pub primary_asked_kg_per_s: f64,
    /// Air that returns to the recovery or to the recirculation damper, kg/s, with its flow-weighted state.
    pub return_kg_per_s: f64,
    /// degC.
    pub return_c: f64,
    /// kg/kg.
    pub return_w: f64,
    /// Heat given to the cold water by terminal coils, fan heat included, W.
    pub coil_w: f64,
    /// Water through the terminal coils, kg/s.
    pub coil_water_kg_per_s: f64,
    /// Sensible units of dense server rooms on the same loop, W.
    pub sensible_units_w: f64,
    /// Electricity of terminal fans and of the fans of sensible units, W.
    pub terminal_fans_w: f64,
    /// Heat asked of hot water, W.
    pub hot_water_w: f64,
    /// Electric heating in terminals, W.
    pub electric_heating_w: f64,
    /// Highest humidity ratio of a room whose coil is open, kg/kg; 0 when none is.
    pub wettest_w: f64,
    /// Share of the largest coil load among zones: 1 when at least one valve and fan are fully open.
    pub greatest_zone_share: f64,
    /// Highest humidity ratio of any room with a terminal, kg/kg.
    pub wettest_any_w: f64,
    /// Cooling and heating of rooms off the system, by their own units, W (cooling positive).
    pub off_system_cooling_w: f64,
    /// W.
    pub off_system_heating_w: f64,
}

/// Air that the all-air plant gives to all rooms during a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllAirSupply {
    /// Supply air as it enters the boxes, degC.
    pub supply_c: f64,
    /// Its humidity ratio, kg/kg.
    pub supply_w: f64,
    /// Share of the asked flow that the air handler delivers, 0 (off) to 1.
    pub flow_share: f64,
    /// Share of the heating asked that the heating plant can carry, 0 to 1.
    pub heating_share: f64,
    /// Share of outdoor air in the supply: what demand-controlled minimum flows divide by.
    pub outdoor_share: f64,
}

/// What the rooms of the all-air scheme took in a step; sums in room order.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AllAirDemand {
    /// Supply air, kg/s.
    pub supply_kg_per_s: f64,
    /// Return air, kg/s, with its flow-weighted state.
    pub return_kg_per_s: f64,
    /// degC.
    pub return_c: f64,
    /// kg/kg.
    pub return_w: f64,
    /// Reheat by hot water, W.
    pub hot_water_w: f64,
    /// Reheat by electricity, W.
    pub electric_heating_w: f64,
    /// Outdoor air asked by the rooms' breathing zones (multiple-zone: uncorrected, with diversity), kg/s.
    pub outdoor_asked_kg_per_s: f64,
    /// Highest zone outdoor-air share (need over zone supply), for the critical zone.
    pub critical_share: f64,
    /// Greatest ratio of asked to largest flow of a box.
    pub greatest_box_share: f64,
    /// Highest humidity ratio of a room, kg/kg.
    pub wettest_w: f64,
    /// Server rooms on their own units in this scheme too, W of cold water.
    pub sensible_units_w: f64,
    /// Electricity of fans in boxes (fan-powered) and sensible units, W.
    pub terminal_fans_w: f64,
    /// Cooling and heating of rooms off the system, by their own units, W (cooling positive).
    pub off_system_cooling_w: f64,
    /// W.
    pub off_system_heating_w: f64,
}

/// Where electricity and fuel go. The same list for every scheme.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EndUse {
    /// Chillers that make the cold water of drying coils and air handlers.
    ColdWater,
    /// Chillers that make the warmer water of terminals.
    SensibleWater,
    /// Tower fans.
    HeatRejection,
    /// Cold, condenser and economizer pumps.
    CoolingPumps,
    /// Hot-water pumps.
    HeatingPumps,
    /// Fans of the primary-air unit or air handler, supply and exhaust or return.
    CentralFans,
    /// Fans in terminals and in sensible units.
    TerminalFans,
    /// Recovery wheel or pump.
    Recovery,
    /// Heat bought for the central unit: preheat, heating, reheat.
    CentralHeating,
    /// Heat bought for rooms: terminal heating or reheat.
    RoomHeating,
}

impl EndUse {
    /// All, in the order of tables.
    pub const ALL: [Self; 10] = [
        Self::ColdWater,
        Self::SensibleWater,
        Self::HeatRejection,
        Self::CoolingPumps,
        Self::HeatingPumps,
        Self::CentralFans,
        Self::TerminalFans,
        Self::Recovery,
        Self::CentralHeating,
        Self::RoomHeating,
    ];

    /// The words that are printed.
    pub const fn words(self) -> &'static str {
        match self {
            Self::ColdWater => "cold water",
            Self::SensibleWater => "sensible water",
            Self::HeatRejection => "heat rejection",
            Self::CoolingPumps => "cooling pumps",
            Self::HeatingPumps => "heating pumps",
            Self::CentralFans => "central fans",
            Self::TerminalFans => "terminal fans",
            Self::Recovery => "energy recovery drive",
            Self::CentralHeating => "central heating",
            Self::RoomHeating => "room heating",
        }
    }
}

/// Power by end use, W: one list for electricity, one for fuel.
pub type PowerByUse = [f64; EndUse::ALL.len()];

/// The plant in one step, of either scheme.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlantStep {
    /// Electricity by end use, W.
    pub electricity_w: PowerByUse,
    /// Fuel by end use, W.
    pub fuel_w: PowerByUse,
    /// Water taken from the main by the tower (and humidifier), kg/s.
    pub water_kg_per_s: f64,
    /// Heat taken by the drying coil or the air handler's coil, total, W.
    pub central_coil_w: f64,
    /// Its latent part, W.
    pub central_latent_w: f64,
    /// Heat taken by terminals and sensible units, W.
    pub sensible_w: f64,
    /// Part of all cold-water heat that the waterside economizer carried, W.
    pub waterside_free_w: f64,
    /// Cooling that outdoor air gave in the airside economizer beyond the ventilation minimum, W.
    pub airside_free_w: f64,
    /// Heat delivered by boilers or the heat-recovery chiller for the central unit and rooms, W.
    pub heating_w: f64,
    /// Part of it from condenser heat, W.
    pub recovered_heat_w: f64,
    /// Enthalpy flow recovered from exhaust air, W (signed).
    pub air_recovery_w: f64,
    /// Outdoor air of the central unit, kg/s.
    pub outdoor_kg_per_s: f64,
    /// Condensate of the central coil, kg/s.
    pub condensate_kg_per_s: f64,
    /// Condensing-side leaving tower water, degC (NaN is never used: the wet bulb when the tower is off).
    pub tower_c: f64,
    /// First law over central unit and plant: what is left over, W.
    pub residual_w: f64,
    /// Water balance over the central unit: what is left over, kg/s.
    pub water_residual_kg_per_s: f64,
    /// Limits that were reached, as bits of [`PlantLimit`].
    pub limits: u32,
    /// What was at work, as bits of [`PlantFeature`].
    pub features: u32,
}

/// What the plant does at times only: counted by hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum PlantFeature {
    /// The unit runs at night to hold the night dew-point limit.
    NightDrying = 0,
    /// Supply air or sensible water away from its design value by a reset.
    SupplyReset = 1,
    /// Return water of the drying coil flows to the terminals.
    ReturnReuse = 2,
    /// Heat of condensers is used.
    HeatRecovery = 3,
}

impl PlantFeature {
    /// All, in the order of their bits.
    pub const ALL: [Self; 4] = [Self::NightDrying, Self::SupplyReset, Self::ReturnReuse, Self::HeatRecovery];

    /// Its bit in [`PlantStep::features`].
    pub const fn bit(self) -> u32 {
        1 << (self as u8)
    }
}

/// A model limit that was reached in a step: applied, counted and reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[repr(u8)]
pub enum PlantLimit {
    /// Chillers at full load and still short.
    ChillerCapacity = 0,
    /// Chillers held at their least lift.
    LeastLift = 1,
    /// Chillers cycle below their least load.
    ChillerCycling = 2,
    /// Heating plant at full load and still short.
    HeatingCapacity = 3,
    /// Primary-air unit or air handler at its largest flow.
    AirFlow = 4,
    /// The drying coil did not reach its leaving dew point.
    DewPointMissed = 5,
    /// Recovery turned down against frost.
    RecoveryFrost = 6,
    /// The tower did not reach its set point: fans at full speed.
    TowerFull = 7,
    /// Make-up from the cold loop was needed with return reuse.
    ReuseMakeUp = 8,
    /// A search did not settle within its residual.
    NotSettled = 9,
    /// Outside the range of a curve or catalogue.
    OutsideCurve = 10,
    /// The pump of the terminals' water at its largest flow and still short.
    PumpFlow = 11,
}

impl PlantLimit {
    /// All, in the order of their bits.
    pub const ALL: [Self; 12] = [
        Self::ChillerCapacity,
        Self::LeastLift,
        Self::ChillerCycling,
        Self::HeatingCapacity,
        Self::AirFlow,
        Self::DewPointMissed,
        Self::RecoveryFrost,
        Self::TowerFull,
        Self::ReuseMakeUp,
        Self::NotSettled,
        Self::OutsideCurve,
        Self::PumpFlow,
    ];

    /// Its bit in [`PlantStep::limits`].
    pub const fn bit(self) -> u32 {
        1 << (self as u8)
    }
}
