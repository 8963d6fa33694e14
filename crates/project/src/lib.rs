//! The validated model of a job: no files, no text.
//!
//! A [`Project`] is made by [`Project::new`] from its parts, which checks everything that concerns more than one
//! part and reports all of it at once. Each value remembers where it came from ([`Sourced`]), so that a scheduled
//! number can be followed to a line of input or to a named default.
//!
//! Units are SI behind the types of `drycoil-units`. Air flows are standard air flows unless the name says
//! otherwise.

mod catalogue;
mod envelope;
mod kinds;
mod profiles;
mod room;
mod site;
mod systems;
mod validate;

pub use catalogue::{
    AirRating, Catalogue, CoilRating, FanArrangement, FanRating, HeatingCoil, SoundRating, TerminalModel,
};
pub use drycoil_working::{Origin, Sourced};
pub use envelope::{Construction, ConstructionLayer, Glazing, Surface, SurfaceKind};
pub use kinds::{Activity, HealthCareRule, PressureRelation, RoomKind, Screen, VentilationRule};
pub use profiles::{DayType, UseProfile, UseShare};
pub use room::{Room, SystemChoice, TerminalChoice};
pub use site::{Economics, EnteredClimate, Site};
pub use systems::{
    Arrangement, CoilAir, Criteria, DewPointPins, DuctInput, HeatingKind, HeatingSource, PlantInput, PrimaryAirInput,
    RecoveryKind, ReheatKind, TerminalInput, WaterInput,
};
pub use validate::{Parts, WaiverRule};

use drycoil_units::UnitSystem;

/// Number of the project format that this version writes.
pub const FORMAT: u32 = 1;

/// A whole job, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Project {
    parts: Parts,
}

impl std::ops::Deref for Project {
    type Target = Parts;
    fn deref(&self) -> &Parts {
        &self.parts
    }
}

impl Project {
    /// Checks the parts together.
    ///
    /// # Errors
    /// Every problem found, each with the place where it was written.
    pub fn new(parts: Parts) -> Result<Self, Vec<drycoil_findings::Finding>> {
        let findings = validate::check(&parts);
        if findings.iter().any(drycoil_findings::Finding::is_bad_input) { Err(findings) } else { Ok(Self { parts }) }
    }

    /// Findings that do not stop the job.
    pub fn notes(&self) -> Vec<drycoil_findings::Finding> {
        validate::check(&self.parts)
    }

    /// The unit system in which results are shown.
    pub fn units(&self) -> UnitSystem {
        self.parts.units
    }

    /// Takes the parts out again, to change some and check anew.
    pub fn into_parts(self) -> Parts {
        self.parts
    }

    /// The room with this id.
    pub fn room(&self, id: &str) -> Option<&Room> {
        self.parts.rooms.iter().find(|r| r.id == id)
    }

    /// The kind of a room.
    ///
    /// # Panics
    /// Never: [`Project::new`] has checked that the kind exists.
    pub fn kind_of(&self, room: &Room) -> &RoomKind {
        self.parts.kinds.iter().find(|k| k.id == *room.kind).expect("checked at construction")
    }

    /// The use profile of a room.
    ///
    /// # Panics
    /// Never: [`Project::new`] has checked that the profile exists.
    pub fn profile_of(&self, room: &Room) -> &UseProfile {
        self.parts.profiles.iter().find(|p| p.name == *room.profile).expect("checked at construction")
    }

    /// The exposed surfaces of a room, in the order of the file.
    pub fn surfaces_of<'a>(&'a self, room: &'a Room) -> impl Iterator<Item = &'a Surface> {
        self.parts.surfaces.iter().filter(move |s| s.room == room.id)
    }
}
