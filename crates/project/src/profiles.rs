//! Use profiles: the share of the peak in each hour of a day.

use drycoil_findings::Place;

/// What a profile row scales.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum UseShare {
    /// People.
    People,
    /// Lighting.
    Lighting,
    /// Plug loads.
    Plugs,
    /// Process heat and moisture.
    Process,
}

impl UseShare {
    /// All, in order.
    pub const ALL: [Self; 4] = [Self::People, Self::Lighting, Self::Plugs, Self::Process];

    /// The word in `profiles.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::People => "people",
            Self::Lighting => "lighting",
            Self::Plugs => "plugs",
            Self::Process => "process",
        }
    }
}

/// Type of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DayType {
    /// Monday to Friday.
    Weekday,
    /// Saturday.
    Saturday,
    /// Sunday.
    Sunday,
    /// A holiday of the project's list.
    Holiday,
}

impl DayType {
    /// All, in order.
    pub const ALL: [Self; 4] = [Self::Weekday, Self::Saturday, Self::Sunday, Self::Holiday];

    /// The word in `profiles.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Weekday => "weekday",
            Self::Saturday => "saturday",
            Self::Sunday => "sunday",
            Self::Holiday => "holiday",
        }
    }
}

/// Shares of the peak for every use, day type and hour. A room is occupied in the hours with people above zero, or
/// with a process when the profile never has people.
#[derive(Debug, Clone, PartialEq)]
pub struct UseProfile {
    /// Unique name.
    pub name: String,
    /// `shares[use][day type][hour]`, 0 to 1, in the orders of [`UseShare::ALL`] and [`DayType::ALL`].
    pub shares: [[[f64; 24]; 4]; 4],
    /// Where it is written; a built-in profile says `built in`.
    pub place: Place,
}

impl UseProfile {
    /// Share of the peak in an hour from 0 to 23.
    pub fn share(&self, of: UseShare, day: DayType, hour: usize) -> f64 {
        self.shares[of as usize][day as usize][hour]
    }

    /// Whether the room counts as occupied in this hour.
    pub fn is_occupied(&self, day: DayType, hour: usize) -> bool {
        self.share(self.occupant(), day, hour) > 0.0
    }

    /// The hours of a day in which the room counts as occupied.
    pub fn occupied_hours(&self, day: DayType) -> [bool; 24] {
        self.shares[self.occupant() as usize][day as usize].map(|share| share > 0.0)
    }

    /// What makes the room count as occupied.
    fn occupant(&self) -> UseShare {
        let people = self.shares[UseShare::People as usize].iter().flatten().any(|s| *s > 0.0);
        if people { UseShare::People } else { UseShare::Process }
    }
}
