//! The validated model of a job: no files, no text.
//!
//! A [`Project`] is made by [`Project::new`] from its parts, which checks everything that concerns more than one
//! part and reports all of it at once. Each value remembers where it came from ([`Sourced`]), so that a scheduled
//! number can be followed to a line of input or to a named default.
//!
//! Units are SI behind the types of `drycoil-units`. Air flows are standard air flows unless the name says
//! otherwise.
//!
//! ```
//! use drycoil_findings::Place;
//! use drycoil_project::{DayType, UseProfile, UseShare};
//! // People from 9 to 17 on weekdays; every other share is zero.
//! let mut shares = [[[0.0; 24]; 4]; 4];
//! shares[UseShare::People as usize][DayType::Weekday as usize][9..17].fill(1.0);
//! let profile = UseProfile { name: "day shift".into(), shares, place: Place::file("profiles.csv") };
//! assert!(profile.is_occupied(DayType::Weekday, 9) && !profile.is_occupied(DayType::Weekday, 17));
//! assert!(!profile.is_occupied(DayType::Sunday, 12));
//! ```
//!
//! A whole project is read from its files by `drycoil-intake`, through the same constructor that checks one made in code.

mod catalogue;
mod economics;
mod envelope;
mod index;
mod kinds;
mod profiles;
mod room;
mod sequence;
mod site;
mod systems;
mod validate;
mod year;

pub use catalogue::{
    AirRating, Catalogue, CoilRating, FanArrangement, FanRating, HeatingCoil, SoundRating, TerminalModel,
};
pub use drycoil_working::{Origin, Sourced};
pub use economics::{
    DemandCharge, Economics, EmissionInput, FirstCostInput, Lives, PricePeriod, RateBasis, TariffDays,
    TariffInput, TariffWindow,
};
pub use envelope::{Construction, ConstructionLayer, Glazing, Surface, SurfaceKind};
pub use kinds::{Activity, HealthCareRule, PressureRelation, RoomKind, Screen, VentilationRule};
pub use profiles::{DayType, UseProfile, UseShare};
pub use room::{Room, SystemChoice, TerminalChoice};
pub use sequence::{SensorPlan, SequenceInput, SequenceOrder, SequenceZone, ZoneSensorChoice};
pub use site::{EnteredClimate, Site};
pub use systems::{
    Arrangement, CoilAir, Criteria, DewPointPins, DuctInput, HeatingKind, HeatingSource, PlantInput,
    PrimaryAirInput, RecoveryKind, ReheatKind, TerminalInput, WaterInput,
};
pub use validate::{Parts, WaiverRule};
pub use year::{
    AirEconomizer, AllAirDemandControl, AllAirInput, AllAirRecovery, BoxKind, ClimateKind, ClimateZone,
    CoilRelease, MinimumFlow, MultipleZoneMethod, NightAir, OutdoorAirReset, PressureReset,
    PrimaryAirControl, SchemeChoice, StandbyChoice, SupplyAirReset, SupplyDewPointReset, WaterReset,
    YearInput,
};

use drycoil_units::UnitSystem;

/// Number of the project format that this version writes.
pub const FORMAT: u32 = 1;

/// A whole job, checked.
#[derive(Debug, Clone)]
pub struct Project {
    parts: Parts,
    notes: Vec<drycoil_findings::Finding>,
    index: index::Index,
    told: Option<UnitSystem>,
}

/// Two projects are equal when their parts are; the rest is computed from them.
impl PartialEq for Project {
    fn eq(&self, other: &Self) -> bool {
        self.parts == other.parts
    }
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
        let index = index::Index::new(&parts);
        let notes = validate::check(&parts, &index);
        if notes.iter().any(drycoil_findings::Finding::is_bad_input) {
            Err(notes)
        } else {
            Ok(Self { parts, notes, index, told: None })
        }
    }

    /// Findings that do not stop the job.
    pub fn notes(&self) -> Vec<drycoil_findings::Finding> {
        self.notes.clone()
    }

    /// The unit system in which results are shown.
    pub fn units(&self) -> UnitSystem {
        self.parts.units
    }

    /// The project with its design told in another unit system than its own. Nothing is computed otherwise.
    #[must_use]
    pub fn told_in(mut self, system: UnitSystem) -> Self {
        self.told = Some(system);
        self
    }

    /// The unit system of the sentences of a design, such as those of its findings: [`Self::units`] unless another is
    /// asked for. What is computed, such as the series of duct sizes, goes by [`Self::units`].
    pub fn told_units(&self) -> UnitSystem {
        self.told.unwrap_or(self.parts.units)
    }

    /// Takes the parts out again, to change some and check anew.
    pub fn into_parts(self) -> Parts {
        self.parts
    }

    /// The room with this id.
    pub fn room(&self, id: &str) -> Option<&Room> {
        self.room_index(id).map(|i| &self.parts.rooms[i])
    }

    /// Position in the room list of the room with this id.
    pub fn room_index(&self, id: &str) -> Option<usize> {
        self.index.rooms.get(id).copied()
    }

    /// The kind of a room.
    ///
    /// # Panics
    /// When the room is not one of this project: [`Project::new`] has checked that its own kinds exist.
    pub fn kind_of(&self, room: &Room) -> &RoomKind {
        &self.parts.kinds[self.index.kinds[room.kind.value.as_str()]]
    }

    /// The use profile of a room.
    ///
    /// # Panics
    /// When the room is not one of this project: [`Project::new`] has checked that its own profiles exist.
    pub fn profile_of(&self, room: &Room) -> &UseProfile {
        &self.parts.profiles[self.index.profiles[room.profile.value.as_str()]]
    }

    /// The exposed surfaces of a room, in the order of the file.
    pub fn surfaces_of<'a>(&'a self, room: &'a Room) -> impl Iterator<Item = &'a Surface> {
        let own = self.index.surfaces.get(room.id.as_str()).map_or(&[][..], Vec::as_slice);
        own.iter().map(|i| &self.parts.surfaces[*i])
    }

    /// The construction with this name.
    pub fn construction(&self, name: &str) -> Option<&Construction> {
        self.index.constructions.get(name).map(|i| &self.parts.constructions[*i])
    }

    /// The glazing with this name.
    pub fn glazing(&self, name: &str) -> Option<&Glazing> {
        self.index.glazings.get(name).map(|i| &self.parts.glazings[*i])
    }

    /// The rooms of a zone, in the order of the file.
    pub fn rooms_of_zone<'a>(&'a self, zone: &str) -> impl Iterator<Item = &'a Room> {
        let own = self.index.zones.get(zone).map_or(&[][..], Vec::as_slice);
        own.iter().map(|i| &self.parts.rooms[*i])
    }

    /// The zones in the order in which they first appear, each with the positions of its rooms.
    pub fn zones(&self) -> Vec<(&str, &[usize])> {
        let mut all: Vec<(&str, &[usize])> =
            self.index.zones.iter().map(|(name, rooms)| (name.as_str(), rooms.as_slice())).collect();
        all.sort_by_key(|(_, rooms)| rooms[0]);
        all
    }
}
