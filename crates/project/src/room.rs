//! One row of the room list.

use crate::PrimaryAirControl;
use drycoil_findings::Place;
use drycoil_units::{AirChangesPerHour, Area, HeatFlux, Length, Power, StandardAirFlow, Temperature, Volume};
use drycoil_working::Sourced;

/// Whether a room is served by the decoupled system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SystemChoice {
    /// The screens decide.
    Auto,
    /// On the system, whatever the screens say; the room carries the reason.
    On,
    /// Not on the system; conventional cooling.
    Off,
}

/// How the terminal of a room is chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TerminalChoice {
    /// Smallest unit that does the job.
    Auto,
    /// No terminal: the room gets transfer air.
    None,
    /// This model of the catalogue, whatever selection would say.
    Model(String),
}

/// A room.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// Short unique id, as on the drawings.
    pub id: String,
    /// Name in words.
    pub name: String,
    /// Floor name.
    pub floor: String,
    /// Zone: the rooms with the same zone share one terminal. Its own id when the room stands alone.
    pub zone: Sourced<String>,
    /// Id of the room kind.
    pub kind: Sourced<String>,
    /// Floor area.
    pub floor_area: Sourced<Area>,
    /// Height from floor to ceiling.
    pub height: Sourced<Length>,
    /// People at the peak.
    pub people: Sourced<f64>,
    /// Sensible heat of one person.
    pub sensible_per_person: Sourced<Power>,
    /// Latent heat of one person.
    pub latent_per_person: Sourced<Power>,
    /// Lighting per floor area.
    pub lighting: Sourced<HeatFlux>,
    /// Plug loads per floor area.
    pub plugs: Sourced<HeatFlux>,
    /// Sensible heat of processes, all hours in which the profile's process share says so.
    pub process_sensible: Sourced<Power>,
    /// Latent heat of processes.
    pub process_latent: Sourced<Power>,
    /// Name of the use profile.
    pub profile: Sourced<String>,
    /// Set point in cooling.
    pub cooling_set_point: Sourced<Temperature>,
    /// Set point in heating.
    pub heating_set_point: Sourced<Temperature>,
    /// Room dew-point limit of this room alone, when it differs from the building's.
    pub dew_point_limit: Option<Sourced<Temperature>>,
    /// Outdoor air per person, standard flow.
    pub outdoor_air_per_person: Sourced<StandardAirFlow>,
    /// Exhaust from this room, standard flow.
    pub exhaust: Sourced<StandardAirFlow>,
    /// Least outdoor air changes.
    pub outdoor_air_changes: Option<Sourced<AirChangesPerHour>>,
    /// Choice of terminal.
    pub terminal: Sourced<TerminalChoice>,
    /// Room from which this one draws transfer air.
    pub transfer_from: Option<Sourced<String>>,
    /// Whether the room is on the system.
    pub system: Sourced<SystemChoice>,
    /// Why a screen was overruled.
    pub overrule_reason: Option<Sourced<String>>,
    /// Control of the primary air.
    pub primary_air_control: Sourced<PrimaryAirControl>,
    /// Whether the room may go to standby while it is empty within occupied hours.
    pub standby_allowed: Sourced<bool>,
    /// Multiplier on the moisture capacity of the room's air, for buffering.
    pub moisture_capacity: Sourced<f64>,
    /// Where the room is written.
    pub place: Place,
}

impl Room {
    /// Air volume of the room.
    pub fn volume(&self) -> Volume {
        Volume::cubic_metres(self.floor_area.value.to_square_metres() * self.height.value.to_metres())
    }
}
