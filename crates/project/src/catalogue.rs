//! Terminal units by rating points.

use drycoil_findings::Place;
use drycoil_units::{
    Area, Length, Power, PressureDifference, StandardAirFlow, Temperature, Velocity, WaterFlow,
};

/// Where the fan stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FanArrangement {
    /// The fan carries primary and secondary air.
    Series,
    /// The fan carries secondary air only.
    Parallel,
}

/// One rating point of a coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilRating {
    /// Air through the coil.
    pub air: StandardAirFlow,
    /// Water through the coil.
    pub water: WaterFlow,
    /// Air entering, dry bulb.
    pub air_entering: Temperature,
    /// Water entering.
    pub water_entering: Temperature,
    /// Heat to the water (cooling) or to the air (heating), positive.
    pub duty: Power,
}

/// One rating point of the fan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanRating {
    /// Air carried by the fan.
    pub air: StandardAirFlow,
    /// Pressure outside the unit.
    pub external_pressure: PressureDifference,
    /// Electric power.
    pub power: Power,
}

/// One rating point of sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoundRating {
    /// Air discharged.
    pub air: StandardAirFlow,
    /// Room criterion, NC, with the standard room attenuation that the catalogue states.
    pub nc: f64,
}

/// Pressure needed at the primary inlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirRating {
    /// Primary air.
    pub primary: StandardAirFlow,
    /// Pressure at the inlet.
    pub inlet_pressure: PressureDifference,
}

/// Heater of a terminal.
#[derive(Debug, Clone, PartialEq)]
pub enum HeatingCoil {
    /// None.
    None,
    /// Hot-water coil, by rating points.
    HotWater(Vec<CoilRating>),
    /// Electric heater of this power.
    Electric(Power),
}

/// One terminal unit.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalModel {
    /// Model name.
    pub model: String,
    /// Fan arrangement.
    pub arrangement: FanArrangement,
    /// Least controllable primary air.
    pub primary_min: StandardAirFlow,
    /// Most primary air.
    pub primary_max: StandardAirFlow,
    /// Least fan air.
    pub fan_min: StandardAirFlow,
    /// Most fan air at the rated external pressure.
    pub fan_max: StandardAirFlow,
    /// Highest external pressure at which `fan_max` is reached.
    pub external_pressure: PressureDifference,
    /// Fan rating points.
    pub fan: Vec<FanRating>,
    /// Tube rows of the sensible coil.
    pub rows: u32,
    /// Parallel water circuits.
    pub circuits: u32,
    /// Inner diameter of the tubes.
    pub tube_diameter: Length,
    /// Face area of the coil.
    pub face_area: Area,
    /// Most water through the coil.
    pub water_max: WaterFlow,
    /// Water velocity at most, for erosion.
    pub water_velocity_max: Velocity,
    /// Water pressure drop of the coil at `water_max`.
    pub water_drop: PressureDifference,
    /// Rating points of the sensible coil.
    pub coil: Vec<CoilRating>,
    /// Heater.
    pub heating: HeatingCoil,
    /// Sound rating points.
    pub sound: Vec<SoundRating>,
    /// Primary inlet pressure.
    pub inlet: Vec<AirRating>,
    /// Throw of the discharge at most fan air, for heating along a facade.
    pub throw: Length,
    /// Where it is written; a built-in unit says `built in`.
    pub place: Place,
}

/// All terminal units, in the order in which they are tried.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Catalogue {
    /// The units.
    pub models: Vec<TerminalModel>,
}
