//! How the year is simulated and how the systems are run in it.

use drycoil_units::{
    Area, Fraction, PressureDifference, SpecificEnthalpy, StandardAirFlow, Temperature,
    TemperatureDifference, Time,
};
use drycoil_working::Sourced;

/// Schemes to simulate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SchemeChoice {
    /// Both.
    Both,
    /// The decoupled scheme alone.
    Decoupled,
    /// The all-air scheme alone.
    AllAir,
}

/// Air that the primary-air unit takes when it runs at night to hold the dew-point limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NightAir {
    /// Return air through a recirculation damper.
    Recirculated,
    /// Outdoor air.
    Outdoor,
}

/// When the coil valve of a terminal may open at start-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoilRelease {
    /// As soon as the dew point of the air at the coil is below the sensible water.
    WhenDry,
    /// At once, wet or dry.
    AtOnce,
}

/// Reset of the supply dew point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SupplyDewPointReset {
    /// Held at the design value.
    Constant,
    /// Raised while every room is drier than its limit by a margin.
    WhenDry,
}

/// Reset of the sensible-water temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaterReset {
    /// Held at the design value.
    Constant,
    /// The highest room dew point plus an offset.
    FollowWettestRoom,
}

/// How much primary air a room gets in the hours in which it is occupied. Never less than its moisture needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PrimaryAirControl {
    /// The design flow.
    Constant,
    /// The part that people need follows the profile's share of people, as a time schedule does.
    Profile,
    /// The part that people need follows the people who are there, as a sensor in the room does; with standby where
    /// that is allowed.
    Occupancy,
}

/// What happens in a room that is empty within the occupied hours of the building.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StandbyChoice {
    /// Air off and set points relaxed in rooms whose kind allows it, where occupancy is sensed.
    WhereAllowed,
    /// Never.
    Never,
}

/// How the year is simulated and how the decoupled system is run in it.
///
/// A weather file of 8784 hours is a leap year with its 29 February, one of 8760 hours is a common year: no hour is
/// left out and none is made up. The calendar comes from the file; the project says the weekday of 1 January.
#[derive(Debug, Clone, PartialEq)]
pub struct YearInput {
    /// Time step, 30 s to 1 h; divides an hour.
    pub step: Sourced<Time>,
    /// Schemes to simulate.
    pub schemes: Sourced<SchemeChoice>,
    /// Dew point above which the primary-air unit runs at night; none when not written.
    pub night_dew_point_limit: Option<Sourced<Temperature>>,
    /// Air that it takes then.
    pub night_air: Sourced<NightAir>,
    /// When coil valves may be open, at start-up and in use.
    pub coil_release: Sourced<CoilRelease>,
    /// Reset of the supply dew point.
    pub supply_dew_point_reset: Sourced<SupplyDewPointReset>,
    /// Most that the supply dew point is raised above its design value.
    pub supply_dew_point_rise: Sourced<TemperatureDifference>,
    /// Distance of the wettest room below its dew-point limit at which the raising ends.
    pub supply_dew_point_margin: Sourced<TemperatureDifference>,
    /// Reset of the sensible water.
    pub water_reset: Sourced<WaterReset>,
    /// Distance of the sensible water above the highest room dew point.
    pub water_reset_offset: Sourced<TemperatureDifference>,
    /// Most that the sensible water is raised above its design value.
    pub water_reset_rise: Sourced<TemperatureDifference>,
    /// Control of the primary air of rooms that do not say.
    pub primary_air_control: Sourced<PrimaryAirControl>,
    /// Standby, in both schemes.
    pub standby: Sourced<StandbyChoice>,
    /// Relaxation of both set points of a room in standby.
    pub standby_relaxation: Sourced<TemperatureDifference>,
}

/// Practice of minimum flow of the boxes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MinimumFlow {
    /// One minimum, a share of the cooling maximum, at which reheat works.
    SingleMaximum,
    /// A low minimum; in heating the air is first warmed to its limit, then the flow rises to a heating maximum.
    DualMaximum,
}

/// Airside economizer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirEconomizer {
    /// None.
    None,
    /// Off above a fixed outdoor dry bulb.
    FixedDryBulb,
    /// Off while outdoor air is warmer than return air.
    DifferentialDryBulb,
    /// Off above a fixed outdoor enthalpy or a fixed outdoor dry bulb.
    FixedEnthalpy,
    /// Off while outdoor air has more enthalpy than return air, or above a fixed outdoor dry bulb.
    DifferentialEnthalpy,
}

/// Reset of the supply-air temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SupplyAirReset {
    /// None.
    None,
    /// Falls with rising outdoor temperature.
    OutdoorAir,
    /// As warm as the warmest zone still allows.
    WarmestZone,
}

/// Reset of the duct pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureReset {
    /// Held at its set point.
    None,
    /// Lowered until one box is nearly open.
    MostOpenBox,
}

/// Energy recovery of the air handler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AllAirRecovery {
    /// Where the energy standard asks for it; see [`AllAirInput::recovery_required`].
    Required,
    /// None.
    None,
    /// An enthalpy wheel, whatever the standard asks.
    Always,
}

/// Demand-controlled ventilation of the all-air scheme.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AllAirDemandControl {
    /// In rooms where the energy standard asks for it: dense and large.
    Required,
    /// In none.
    None,
    /// In every room.
    EveryRoom,
}

/// How outdoor air of the rooms becomes outdoor air of the air handler.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MultipleZoneMethod {
    /// Simplified procedure of the 2019 edition: system efficiency from diversity.
    Simplified2019,
    /// Zone by zone: efficiency of the critical zone.
    CriticalZone,
}

/// Whether the outdoor air of the air handler follows the zones hour by hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutdoorAirReset {
    /// Design outdoor air in every occupied hour.
    Design,
    /// From the flows of the boxes as they are.
    Dynamic,
}

/// Heater of the boxes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoxKind {
    /// Single duct with hot-water reheat.
    HotWaterReheat,
    /// Single duct with electric reheat.
    ElectricReheat,
}

/// Climate zone as ANSI/ASHRAE Standard 169 counts them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClimateZone {
    /// 0 (extremely hot) to 8 (subarctic).
    pub number: u8,
    /// Moist, dry or marine; in zones 7 and 8 it makes no difference.
    pub kind: ClimateKind,
}

/// Moisture of a climate zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClimateKind {
    /// A.
    Moist,
    /// B.
    Dry,
    /// C.
    Marine,
}

impl ClimateZone {
    const fn of(number: u8, kind: ClimateKind) -> Self {
        Self { number, kind }
    }

    /// All, in the order of their words.
    pub const ALL: [Self; 19] = [
        Self::of(0, ClimateKind::Moist),
        Self::of(0, ClimateKind::Dry),
        Self::of(1, ClimateKind::Moist),
        Self::of(1, ClimateKind::Dry),
        Self::of(2, ClimateKind::Moist),
        Self::of(2, ClimateKind::Dry),
        Self::of(3, ClimateKind::Moist),
        Self::of(3, ClimateKind::Dry),
        Self::of(3, ClimateKind::Marine),
        Self::of(4, ClimateKind::Moist),
        Self::of(4, ClimateKind::Dry),
        Self::of(4, ClimateKind::Marine),
        Self::of(5, ClimateKind::Moist),
        Self::of(5, ClimateKind::Dry),
        Self::of(5, ClimateKind::Marine),
        Self::of(6, ClimateKind::Moist),
        Self::of(6, ClimateKind::Dry),
        Self::of(7, ClimateKind::Moist),
        Self::of(8, ClimateKind::Moist),
    ];

    /// Words of [`Self::ALL`].
    pub const WORDS: [&'static str; 19] = [
        "0A", "0B", "1A", "1B", "2A", "2B", "3A", "3B", "3C", "4A", "4B", "4C", "5A", "5B", "5C", "6A", "6B",
        "7", "8",
    ];
}

/// What is assumed of the all-air alternative. What is not here (machine models, spare capacity, set points, hours, fan
/// and pump efficiency of the water side) is the same as in the decoupled scheme.
#[derive(Debug, Clone, PartialEq)]
pub struct AllAirInput {
    /// Climate zone, by which the energy standard asks for recovery; that of the humid climates when not written.
    pub climate_zone: Option<Sourced<ClimateZone>>,
    /// Supply air at design.
    pub supply: Sourced<Temperature>,
    /// Practice of minimum flow.
    pub minimum_flow: Sourced<MinimumFlow>,
    /// Minimum as a share of the cooling maximum with a single maximum.
    pub single_minimum: Sourced<Fraction>,
    /// Minimum as a share of the cooling maximum with two maxima; the outdoor air of the room counts where it is more.
    pub dual_minimum: Sourced<Fraction>,
    /// Least flow of a box over the outdoor air of its zone.
    pub minimum_over_outdoor: Sourced<f64>,
    /// Flow in heating with two maxima, at most, as a share of the cooling maximum.
    pub heating_maximum: Sourced<Fraction>,
    /// Discharge above the heating set point at most.
    pub heating_rise: Sourced<TemperatureDifference>,
    /// Heater of the boxes.
    pub boxes: Sourced<BoxKind>,
    /// Hot water to the boxes.
    pub heating_water: Sourced<Temperature>,
    /// Airside economizer.
    pub economizer: Sourced<AirEconomizer>,
    /// Outdoor dry bulb above which it is off.
    pub economizer_dry_bulb: Sourced<Temperature>,
    /// Outdoor enthalpy above which it is off; zero for dry air at 0 degC.
    pub economizer_enthalpy: Sourced<SpecificEnthalpy>,
    /// Reset of the supply air.
    pub supply_reset: Sourced<SupplyAirReset>,
    /// Most that the supply air is raised above its design value.
    pub supply_reset_rise: Sourced<TemperatureDifference>,
    /// Flow of the most open box, as a share of its largest, at which the reset by the warmest zone holds.
    pub supply_reset_target: Sourced<Fraction>,
    /// Outdoor temperature at and above which the supply air is at design, for reset by outdoor air.
    pub supply_reset_warm: Sourced<Temperature>,
    /// Outdoor temperature at and below which it is raised fully, for reset by outdoor air.
    pub supply_reset_cold: Sourced<Temperature>,
    /// Outdoor dew point above which the supply air is not raised, so that rooms stay dry.
    pub supply_reset_dew_point: Sourced<Temperature>,
    /// Total pressure of the supply fan at design.
    pub supply_fan_pressure: Sourced<PressureDifference>,
    /// Total pressure of the return or relief fan at design.
    pub return_fan_pressure: Sourced<PressureDifference>,
    /// Pressure at the duct sensor at design, a part of the supply fan's.
    pub duct_pressure: Sourced<PressureDifference>,
    /// Reset of that pressure.
    pub pressure_reset: Sourced<PressureReset>,
    /// Lowest pressure at the duct sensor with reset.
    pub duct_pressure_least: Sourced<PressureDifference>,
    /// Efficiency of fan, drive and motor.
    pub fan_efficiency: Sourced<Fraction>,
    /// Temperature gain of the duct.
    pub duct_gain: Sourced<TemperatureDifference>,
    /// Share of supply air lost before it reaches the rooms.
    pub duct_leakage: Sourced<Fraction>,
    /// Largest flow of one air handler.
    pub largest_unit: Sourced<StandardAirFlow>,
    /// Spare flow of boxes and air handlers.
    pub spare: Sourced<Fraction>,
    /// Energy recovery.
    pub recovery: Sourced<AllAirRecovery>,
    /// Sensible effectiveness at balanced flow.
    pub recovery_sensible: Sourced<Fraction>,
    /// Latent effectiveness at balanced flow.
    pub recovery_latent: Sourced<Fraction>,
    /// Pressure that the recovery adds to each fan.
    pub recovery_pressure: Sourced<PressureDifference>,
    /// Cold water entering the coil.
    pub cold_water: Sourced<Temperature>,
    /// Rise of the cold water.
    pub cold_water_rise: Sourced<TemperatureDifference>,
    /// Multiple-zone method.
    pub multiple_zone: Sourced<MultipleZoneMethod>,
    /// Whether outdoor air follows the zones.
    pub outdoor_air_reset: Sourced<OutdoorAirReset>,
    /// Demand-controlled ventilation.
    pub demand_control: Sourced<AllAirDemandControl>,
    /// People per m2 above which it is required.
    pub demand_control_density: Sourced<f64>,
    /// Floor area above which it is required.
    pub demand_control_area: Sourced<Area>,
}

impl AllAirInput {
    /// Whether an air handler of this supply flow and design outdoor-air share has energy recovery. With
    /// [`AllAirRecovery::Required`]: ANSI/ASHRAE/IES 90.1-2019 Table 6.5.6.1.2-1, less than 8000 hours a year (from
    /// memory), by the climate zone.
    pub fn recovery_required(&self, supply: StandardAirFlow, outdoor_share: Fraction) -> bool {
        match self.recovery.value {
            AllAirRecovery::None => false,
            AllAirRecovery::Always => true,
            AllAirRecovery::Required => {
                let share = outdoor_share.to_ratio();
                if share < 0.1 {
                    return false;
                }
                let row = recovery_flow_cfm(self.climate_zone.as_ref().map(|z| z.value));
                // Shares written as tenths fall into their own column in spite of rounding.
                let column = ((share * 10.0 + 1e-9).floor() as usize).clamp(1, row.len());
                supply.to_cfm() >= row[column - 1]
            }
        }
    }

    /// Whether the outdoor air of a room follows its people, by its floor area and the people at the peak.
    pub fn follows_people(&self, floor: Area, people: f64) -> bool {
        match self.demand_control.value {
            AllAirDemandControl::None => false,
            AllAirDemandControl::EveryRoom => true,
            AllAirDemandControl::Required => {
                let m2 = floor.to_square_metres();
                m2 > self.demand_control_area.value.to_square_metres()
                    && people >= self.demand_control_density.value * m2
            }
        }
    }
}

/// Supply flow in cfm from which energy recovery is required, by design outdoor-air share from 10 % in steps of 10 %.
fn recovery_flow_cfm(zone: Option<ClimateZone>) -> [f64; 8] {
    const NEVER: f64 = f64::INFINITY;
    match zone.map(|z| (z.number, z.kind)) {
        Some((3..=5, ClimateKind::Dry) | (3 | 4, ClimateKind::Marine)) => [NEVER; 8],
        Some((0..=2, ClimateKind::Dry) | (5, ClimateKind::Marine)) => {
            [NEVER, NEVER, NEVER, NEVER, 26_000.0, 12_000.0, 5_000.0, 4_000.0]
        }
        Some((6, ClimateKind::Dry)) => {
            [28_000.0, 26_500.0, 11_000.0, 5_500.0, 4_500.0, 3_500.0, 2_500.0, 1_500.0]
        }
        Some((7.., _)) => [4_500.0, 4_000.0, 2_500.0, 1_000.0, 140.0, 120.0, 100.0, 80.0],
        _ => [26_000.0, 16_000.0, 5_500.0, 4_500.0, 3_500.0, 2_000.0, 1_000.0, 120.0],
    }
}
