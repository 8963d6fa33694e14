//! Checks that concern more than one part.

use crate::{
    Catalogue, Construction, Criteria, DuctInput, Economics, Glazing, PlantInput, PrimaryAirInput, Room, RoomKind, Site,
    Surface, TerminalInput, UseProfile, WaterInput,
};
use drycoil_findings::{Finding, Place, Waiver};
use drycoil_units::UnitSystem;
use drycoil_working::Sourced;

/// A finding that the project accepts.
#[derive(Debug, Clone, PartialEq)]
pub struct WaiverRule {
    /// Id of the finding.
    pub id: String,
    /// Room or part that it concerns; every part when `None`.
    pub part: Option<String>,
    /// Reason, role, date.
    pub waiver: Waiver,
    /// Where it is written.
    pub place: Place,
}

/// The parts of a project.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Name of the job.
    pub name: Sourced<String>,
    /// Revision of the design.
    pub revision: Sourced<String>,
    /// Unit system in which results are shown.
    pub units: UnitSystem,
    /// Site.
    pub site: Site,
    /// Criteria.
    pub criteria: Criteria,
    /// Primary-air unit.
    pub primary_air: PrimaryAirInput,
    /// Terminals.
    pub terminals: TerminalInput,
    /// Water distribution.
    pub water: WaterInput,
    /// Plant.
    pub plant: PlantInput,
    /// Ducts.
    pub ducts: DuctInput,
    /// Prices.
    pub economics: Economics,
    /// Opaque constructions.
    pub constructions: Vec<Construction>,
    /// Windows.
    pub glazings: Vec<Glazing>,
    /// Room kinds in use and built in, without repeated ids.
    pub kinds: Vec<RoomKind>,
    /// Use profiles.
    pub profiles: Vec<UseProfile>,
    /// Rooms, in the order of the file.
    pub rooms: Vec<Room>,
    /// Exposed surfaces, in the order of the file.
    pub surfaces: Vec<Surface>,
    /// Terminal units.
    pub catalogue: Catalogue,
    /// Accepted findings.
    pub waivers: Vec<WaiverRule>,
    /// Hash of all input bytes.
    pub fingerprint: u64,
}

/// Everything that is wrong between the parts.
pub(crate) fn check(_parts: &Parts) -> Vec<Finding> {
    Vec::new()
}
