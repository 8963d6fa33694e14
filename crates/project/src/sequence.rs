//! Settings of the dew-point sequence.

use drycoil_findings::Place;
use drycoil_units::{Fraction, Temperature, TemperatureDifference, Time};
use drycoil_working::Sourced;

/// What comes first when coils are at risk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SequenceOrder {
    /// Zones shut their own coil valves; the water of the building follows when more than the ignored votes have done
    /// so.
    ValvesFirst,
    /// The water of the building follows first; valves are the last resort.
    WaterFirst,
}

/// Which zones carry a dew-point sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SensorPlan {
    /// Every zone, but for those that are listed otherwise.
    EveryZone,
    /// The zones that are listed with a sensor of their own.
    Listed,
}

/// Where one zone has its dew point from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ZoneSensorChoice {
    /// A sensor of its own.
    Own,
    /// Its neighbours.
    Neighbours,
}

/// What is said of one zone.
#[derive(Debug, Clone, PartialEq)]
pub struct SequenceZone {
    /// Zone.
    pub zone: Sourced<String>,
    /// Where it has its dew point from; as the sensor plan says when not written.
    pub sensor: Option<Sourced<ZoneSensorChoice>>,
    /// Votes for warmer water.
    pub votes: Sourced<u32>,
    /// Zones whose readings should be much like its own; by the room list when not written.
    pub neighbours: Option<Sourced<Vec<String>>>,
    /// Where the row is written.
    pub place: Place,
}

/// Settings of the dew-point sequence. The room limit, the design water and the design dew point of the primary air are
/// those of the design; values that are `None` follow from them.
#[derive(Debug, Clone, PartialEq)]
pub struct SequenceInput {
    /// What comes first when coils are at risk.
    pub order: Sourced<SequenceOrder>,
    /// Fall below the room limit that ends a notice.
    pub notice_hysteresis: Sourced<TemperatureDifference>,
    /// Delay of a notice.
    pub notice_delay: Sourced<Time>,
    /// Rise above the limit that brings alarm and more primary air.
    pub more_air_rise: Sourced<TemperatureDifference>,
    /// Delay of alarm and more primary air.
    pub more_air_delay: Sourced<Time>,
    /// Primary air of a zone with its damper fully open, over its design flow.
    pub more_air_flow: Sourced<Fraction>,
    /// Delay of the release of notice and alarm.
    pub release_delay: Sourced<Time>,
    /// Primary air must be drier than the room by this.
    pub guard_margin: Sourced<TemperatureDifference>,
    /// Further margin before more primary air is allowed again.
    pub guard_hysteresis: Sourced<TemperatureDifference>,
    /// Delay before more primary air is allowed again.
    pub guard_delay: Sourced<Time>,
    /// Water less room dew point at which a coil valve shuts.
    pub shut_margin: Option<Sourced<TemperatureDifference>>,
    /// Further distance before a coil valve opens again.
    pub shut_hysteresis: Sourced<TemperatureDifference>,
    /// Delay before a coil valve shuts.
    pub shut_delay: Sourced<Time>,
    /// Delay before a coil valve opens again.
    pub shut_release_delay: Sourced<Time>,
    /// Distance of the water above the dew point that it follows.
    pub water_offset: Sourced<TemperatureDifference>,
    /// Most that the water is raised above its design temperature.
    pub water_rise: Sourced<TemperatureDifference>,
    /// Coldest water that is assumed when its sensor fails; the drying water when not written.
    pub water_lowest: Option<Sourced<Temperature>>,
    /// Fastest fall of the water set point within a minute.
    pub water_fall_per_minute: Sourced<TemperatureDifference>,
    /// Delay before the water follows the dew point.
    pub water_follow_delay: Sourced<Time>,
    /// Distance below the design water that ends following.
    pub water_release_hysteresis: Sourced<TemperatureDifference>,
    /// Delay before following ends.
    pub water_release_delay: Sourced<Time>,
    /// Votes that are ignored before the water of the building is warmed.
    pub ignored_votes: Sourced<u32>,
    /// Dew point above which primary air counts as wet.
    pub primary_wet_limit: Option<Sourced<Temperature>>,
    /// Fall below it that ends wet primary air.
    pub primary_wet_hysteresis: Sourced<TemperatureDifference>,
    /// Delay of wet primary air.
    pub primary_wet_delay: Sourced<Time>,
    /// Delay of its release.
    pub primary_wet_release_delay: Sourced<Time>,
    /// Time that primary air may take to become dry after a start.
    pub primary_start_delay: Sourced<Time>,
    /// Room dew point at or below which start-up drying ends.
    pub drying_limit: Option<Sourced<Temperature>>,
    /// Delay of the end of start-up drying.
    pub drying_delay: Sourced<Time>,
    /// Longest start-up drying.
    pub drying_time_limit: Sourced<Time>,
    /// Delay of start, stop and return after priority.
    pub start_delay: Sourced<Time>,
    /// Distance to every neighbour that makes a sensor suspect.
    pub suspect_difference: Sourced<TemperatureDifference>,
    /// Nearness to a neighbour, below that, that ends suspicion.
    pub suspect_hysteresis: Sourced<TemperatureDifference>,
    /// Delay of suspicion and of its end.
    pub suspect_delay: Sourced<Time>,
    /// Delay before a failed sensor is believed again.
    pub sensor_return_delay: Sourced<Time>,
    /// Margin on dew points of neighbours that stand for an own one.
    pub proxy_margin: Sourced<TemperatureDifference>,
    /// Lowest plausible air reading.
    pub sensor_low: Sourced<Temperature>,
    /// Highest plausible air reading.
    pub sensor_high: Sourced<Temperature>,
    /// Lowest plausible water reading.
    pub water_sensor_low: Sourced<Temperature>,
    /// Highest plausible water reading.
    pub water_sensor_high: Sourced<Temperature>,
    /// Which zones carry a dew-point sensor.
    pub sensors: Sourced<SensorPlan>,
    /// Zones of the same floor, before and after a zone in the room list, that are its neighbours.
    pub neighbours: Sourced<u32>,
    /// Zones of which more is said.
    pub zones: Vec<SequenceZone>,
}

impl SequenceInput {
    /// What is said of a zone.
    pub fn zone(&self, zone: &str) -> Option<&SequenceZone> {
        self.zones.iter().find(|row| row.zone.value == zone)
    }
}
