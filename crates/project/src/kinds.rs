//! Room kinds: ventilation rates with their edition, people, lights, plugs, and whether the kind belongs on a system
//! with dry coils.

use drycoil_findings::Place;
use drycoil_units::{AirChangesPerHour, Fraction, HeatFlux, Power, StandardAirFlow, StandardAirFlowPerArea};
use drycoil_working::Sourced;

/// Outdoor-air rates of the ventilation rate procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct VentilationRule {
    /// Occupancy category as the standard words it.
    pub category: String,
    /// Standard and edition, with `from memory` where the text was not read.
    pub edition: String,
    /// Outdoor air per person.
    pub per_person: StandardAirFlow,
    /// Outdoor air per floor area.
    pub per_area: StandardAirFlowPerArea,
}

/// Pressure of a room against its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureRelation {
    /// No requirement.
    Neutral,
    /// Air must flow out of the room.
    Positive,
    /// Air must flow into the room.
    Negative,
}

/// Air changes and pressure of a health-care room.
#[derive(Debug, Clone, PartialEq)]
pub struct HealthCareRule {
    /// Standard and edition, with `from memory` where the text was not read.
    pub edition: String,
    /// Least outdoor air changes; `None` where none is required.
    pub outdoor: Option<AirChangesPerHour>,
    /// Least total air changes; `None` where none is required.
    pub total: Option<AirChangesPerHour>,
    /// Pressure relation.
    pub pressure: PressureRelation,
    /// Whether all room air must be exhausted.
    pub all_exhausted: bool,
    /// Whether recirculation by a unit in the room is allowed.
    pub recirculation_allowed: bool,
}

/// Activity of the people of a room kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Activity {
    /// The table row.
    pub name: String,
    /// Sensible heat of one person.
    pub sensible: Power,
    /// Latent heat of one person.
    pub latent: Power,
    /// Table, edition, column.
    pub source: String,
}

/// Why a kind is proposed for conventional cooling.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Screen {
    /// The reason, one sentence without a final stop.
    pub reason: String,
    /// What to do instead, one sentence without a final stop.
    pub instead: String,
}

/// A kind of room.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomKind {
    /// Short id, as in `office-open`.
    pub id: String,
    /// Name in words.
    pub name: String,
    /// Outdoor-air rates; `None` for a kind that only gets transfer air.
    pub ventilation: Option<VentilationRule>,
    /// Health-care requirement.
    pub health_care: Option<HealthCareRule>,
    /// People per m2 when the room list does not count them.
    pub people_per_m2: Sourced<f64>,
    /// Activity of the people.
    pub activity: Activity,
    /// Lighting per floor area.
    pub lighting: Sourced<HeatFlux>,
    /// Plug loads per floor area.
    pub plugs: Sourced<HeatFlux>,
    /// Exhaust per floor area.
    pub exhaust_per_area: Option<Sourced<StandardAirFlowPerArea>>,
    /// Name of the use profile.
    pub profile: String,
    /// Whether the kind has no terminal and lives on transfer air unless the room list says otherwise.
    pub transfer_only: bool,
    /// Why this kind is proposed for conventional cooling.
    pub screen: Option<Screen>,
    /// Share of the design population present at one time in the system (diversity), for building totals.
    pub diversity: Fraction,
    /// Whether the ventilation standard lets outdoor air go to zero while a room of this kind is empty (occupied standby).
    pub standby_allowed: bool,
    /// Where it is written; a built-in kind says `built in`.
    pub place: Place,
}
