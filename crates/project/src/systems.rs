//! What the engineer decides about the systems.

use drycoil_units::{
    AirFlowBasis, Fraction, Length, Power, PressureDifference, StandardAirFlow, StandardAirFlowPerArea,
    Temperature, TemperatureDifference, Time, Velocity,
};
use drycoil_working::Sourced;

/// The three choices that keep coils dry; a written one is pinned, the others are solved.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DewPointPins {
    /// Dew point of the delivered primary air.
    pub supply_dew_point: Option<Sourced<Temperature>>,
    /// Highest dew point allowed in a room.
    pub room_limit: Option<Sourced<Temperature>>,
    /// Temperature of the sensible water entering terminal coils.
    pub sensible_water: Option<Sourced<Temperature>>,
}

/// Criteria of the design.
#[derive(Debug, Clone, PartialEq)]
pub struct Criteria {
    /// Pins.
    pub pins: DewPointPins,
    /// Least true margin at the design point.
    pub design_margin: Sourced<TemperatureDifference>,
    /// Error of the dew-point measurement.
    pub sensor_error: Sourced<TemperatureDifference>,
    /// Band within which the water temperature is controlled.
    pub water_control_band: Sourced<TemperatureDifference>,
    /// Lowest and highest relative humidity of comfort.
    pub humidity_low: Sourced<Fraction>,
    /// Highest relative humidity of comfort.
    pub humidity_high: Sourced<Fraction>,
    /// Ceiling of the indoor dew point by code.
    pub code_dew_point: Sourced<Temperature>,
    /// Air leakage of the facade at operating pressure, per facade area, before pressurization.
    pub infiltration: Sourced<StandardAirFlowPerArea>,
    /// Share of the infiltration that remains while the building is pressurized.
    pub pressurized_infiltration: Sourced<Fraction>,
    /// Excess of primary over exhaust air that keeps the building pressurized, per facade area.
    pub pressurization: Sourced<StandardAirFlowPerArea>,
    /// Night set-back limits in unoccupied hours: cooling.
    pub night_cooling: Sourced<Temperature>,
    /// Night set-back limits in unoccupied hours: heating.
    pub night_heating: Sourced<Temperature>,
    /// Hours of start-up before occupancy in which set points already apply.
    pub start_up: Sourced<Time>,
    /// Multiplier on the moisture capacity of room air, for buffering.
    pub moisture_capacity: Sourced<f64>,
}

impl Criteria {
    /// Margin that a room should keep: sensor error plus water-control band.
    pub fn required_margin(&self) -> TemperatureDifference {
        self.sensor_error.value + self.water_control_band.value
    }
}

/// Kind of energy recovery in the primary-air unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RecoveryKind {
    /// None.
    None,
    /// Rotary wheel for heat and moisture.
    EnthalpyWheel,
    /// Plate exchanger for heat only.
    SensiblePlate,
}

/// How the primary air is reheated after drying.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReheatKind {
    /// Delivered cold.
    None,
    /// Hot-water coil.
    Coil,
    /// Run-around coil pair about the drying coil.
    WrapAround,
    /// Condenser heat.
    HeatRecovery,
}

/// The primary-air unit.
#[derive(Debug, Clone, PartialEq)]
pub struct PrimaryAirInput {
    /// Outdoor air per person of rooms that do not say; standard flow.
    pub outdoor_air_per_person: Sourced<StandardAirFlow>,
    /// Basis of air flows that are written without one.
    pub flow_basis: Sourced<AirFlowBasis>,
    /// Energy recovery.
    pub recovery: Sourced<RecoveryKind>,
    /// Sensible effectiveness at balanced flow.
    pub recovery_sensible: Sourced<Fraction>,
    /// Latent effectiveness at balanced flow.
    pub recovery_latent: Sourced<Fraction>,
    /// Share of exhaust air carried over into the supply.
    pub exhaust_transfer: Sourced<Fraction>,
    /// Temperature of drying water entering the coil.
    pub drying_water: Sourced<Temperature>,
    /// Rise of the drying water.
    pub drying_water_rise: Sourced<TemperatureDifference>,
    /// Closest approach of leaving dew point to entering drying water.
    pub coil_approach: Sourced<TemperatureDifference>,
    /// Highest face velocity of the drying coil.
    pub face_velocity: Sourced<Velocity>,
    /// Total pressure of the supply fan: unit plus duct main.
    pub supply_fan_pressure: Sourced<PressureDifference>,
    /// Total pressure of the exhaust fan.
    pub exhaust_fan_pressure: Sourced<PressureDifference>,
    /// Efficiency of fan, drive and motor.
    pub fan_efficiency: Sourced<Fraction>,
    /// Temperature gain of the duct.
    pub duct_gain: Sourced<TemperatureDifference>,
    /// Share of supply air lost by leakage before it reaches the rooms.
    pub duct_leakage: Sourced<Fraction>,
    /// Reheat.
    pub reheat: Sourced<ReheatKind>,
    /// Temperature after reheat.
    pub reheat_temperature: Sourced<Temperature>,
    /// Lowest delivered temperature in winter.
    pub winter_temperature: Sourced<Temperature>,
    /// Largest flow of one unit; more flow means more units.
    pub largest_unit: Sourced<StandardAirFlow>,
    /// Spare capacity of the unit above the sum of needs.
    pub spare: Sourced<Fraction>,
}

/// Air that the terminal coil draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoilAir {
    /// Room air.
    Room,
    /// Air of the ceiling plenum.
    Plenum,
}

/// How rooms are heated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatingKind {
    /// Hot-water coil in the terminal.
    HotWater,
    /// Electric heater in the terminal.
    Electric,
    /// Radiation at the perimeter.
    Perimeter,
}

/// Terminal units.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalInput {
    /// Air that meets the coil.
    pub coil_air: Sourced<CoilAir>,
    /// Share of the lighting and roof heat that goes to the plenum.
    pub plenum_share: Sourced<Fraction>,
    /// Spare coil capacity.
    pub spare: Sourced<Fraction>,
    /// Pressure outside the unit that its fan must overcome.
    pub external_pressure: Sourced<PressureDifference>,
    /// Lowest discharge temperature in cooling.
    pub lowest_discharge: Sourced<Temperature>,
    /// Highest discharge temperature in heating.
    pub highest_discharge: Sourced<Temperature>,
    /// Highest room criterion for sound, NC.
    pub sound_limit: Sourced<f64>,
    /// Rise of the sensible water in dry units of server rooms, and in terminals until they are chosen; from then on their
    /// ratings decide.
    pub water_rise: Sourced<TemperatureDifference>,
    /// Heating.
    pub heating: Sourced<HeatingKind>,
    /// Hot water entering.
    pub heating_water: Sourced<Temperature>,
    /// Drop of the hot water.
    pub heating_water_drop: Sourced<TemperatureDifference>,
    /// Rooms above this many terminals are screened.
    pub most_per_room: Sourced<u32>,
}

/// Arrangement of the water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    /// One cold loop for drying coil and terminals, mixed up for the terminals.
    SingleCold,
    /// Separate chillers for drying water and sensible water.
    Separate,
    /// The primary-air unit's return water supplies the terminals.
    ReturnReuse,
}

impl Arrangement {
    /// All, in order.
    pub const ALL: [Self; 3] = [Self::SingleCold, Self::Separate, Self::ReturnReuse];

    /// The word in `project.toml`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::SingleCold => "single-cold",
            Self::Separate => "separate",
            Self::ReturnReuse => "return-reuse",
        }
    }
}

/// Water distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterInput {
    /// Arrangement.
    pub arrangement: Sourced<Arrangement>,
    /// Highest pipe friction, pressure per length.
    pub pipe_friction_pa_per_m: Sourced<f64>,
    /// Length of the farthest circuit, out and back.
    pub circuit_length: Sourced<Length>,
    /// Allowance for fittings as a share of the straight length.
    pub fittings: Sourced<Fraction>,
    /// Pressure drop of coil and control valve.
    pub terminal_drop: Sourced<PressureDifference>,
    /// Pressure drop of a chiller or boiler.
    pub machine_drop: Sourced<PressureDifference>,
    /// Pump efficiency, wire to water.
    pub pump_efficiency: Sourced<Fraction>,
    /// Diversity of the sensible loop: coincident over sum of peaks; the computed value when not written.
    pub diversity: Option<Sourced<Fraction>>,
    /// Operating hours a year for the pipe flow limits.
    pub hours: Sourced<Time>,
}

/// Source of heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatingSource {
    /// Fuel boiler.
    Boiler,
    /// Electric boiler.
    ElectricBoiler,
    /// Heat-recovery chiller with a boiler for the rest.
    HeatRecoveryChiller,
}

/// Chillers, tower, boiler.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantInput {
    /// Number of chillers on each loop.
    pub chillers: Sourced<u32>,
    /// Coefficient of performance of a chiller at the rating point.
    pub chiller_cop: Sourced<f64>,
    /// Chilled water leaving at the rating point.
    pub rating_chilled: Sourced<Temperature>,
    /// Condenser water entering at the rating point.
    pub rating_condenser: Sourced<Temperature>,
    /// Integrated part-load value as a coefficient of performance, when known.
    pub chiller_iplv: Option<Sourced<f64>>,
    /// Spare capacity.
    pub spare: Sourced<Fraction>,
    /// Approach of the tower at design.
    pub tower_approach: Sourced<TemperatureDifference>,
    /// Range of the tower at design.
    pub tower_range: Sourced<TemperatureDifference>,
    /// Tower fan power per heat rejected.
    pub tower_fan: Sourced<f64>,
    /// Cycles of concentration.
    pub cycles: Sourced<f64>,
    /// Whether a waterside economizer exists.
    pub economizer: Sourced<bool>,
    /// Approach of the economizer's exchanger.
    pub economizer_approach: Sourced<TemperatureDifference>,
    /// Source of heat.
    pub heating: Sourced<HeatingSource>,
    /// Efficiency of the boiler.
    pub boiler_efficiency: Sourced<Fraction>,
    /// Largest capacity of one chiller.
    pub largest_chiller: Sourced<Power>,
}

/// Air ducts.
#[derive(Debug, Clone, PartialEq)]
pub struct DuctInput {
    /// Friction of the duct main, Pa per m.
    pub friction_pa_per_m: Sourced<f64>,
    /// Highest velocity in the main.
    pub velocity: Sourced<Velocity>,
    /// Largest height in the ceiling.
    pub height: Sourced<Length>,
    /// Length of the main.
    pub main_length: Sourced<Length>,
    /// Supply temperature of the all-air alternative, for its duct main.
    pub all_air_supply: Sourced<Temperature>,
}
