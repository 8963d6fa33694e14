//! Heat and moisture from people, lights, plug loads and processes.

use crate::error::{RoomError, within};
use crate::periodic::HeatSource;
use crate::room::Source;
use drycoil_units::{Fraction, Power, Quantity, Temperature, TemperatureDifference};

/// Degree of activity, in the words of the published table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Activity {
    /// Seated at theater, matinee.
    SeatedMatinee,
    /// Seated at theater, night.
    SeatedNight,
    /// Seated, very light work: offices, hotels, apartments.
    SeatedVeryLightWork,
    /// Moderately active office work.
    OfficeWork,
    /// Standing, light work; walking: retail.
    StandingLightWork,
    /// Walking, standing: drug store, bank.
    WalkingStanding,
    /// Sedentary work: restaurant, food included.
    Restaurant,
    /// Light bench work.
    LightBenchWork,
    /// Moderate dancing.
    Dancing,
    /// Walking at 3 mph, light machine work.
    LightMachineWork,
    /// Bowling; heavy work.
    HeavyWork,
    /// Heavy machine work; lifting.
    HeavyMachineWork,
    /// Athletics.
    Athletics,
}

/// Which column of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PeopleColumn {
    /// The program's standard: the I-P edition, 75 degF room. From memory.
    InchPound,
    /// The SI edition, 24 degC room, read in an excerpt.
    Si,
}

impl PeopleColumn {
    /// Where the values come from, for a calculation line.
    pub const fn source(self) -> &'static str {
        match self {
            Self::InchPound => "ASHRAE Fundamentals 2013 ch. 18 Table 1, I-P edition (from memory)",
            Self::Si => "ASHRAE Fundamentals 2013 ch. 18 Table 1, SI edition",
        }
    }

    /// Room temperature for which the column holds.
    pub fn room(self) -> Temperature {
        match self {
            Self::InchPound => Temperature::fahrenheit(75.0),
            Self::Si => Temperature::celsius(24.0),
        }
    }

    /// Temperature difference over which sensible heat falls by 20 % (to 80 degF and 27 degC).
    fn span(self) -> TemperatureDifference {
        match self {
            Self::InchPound => TemperatureDifference::fahrenheit(5.0),
            Self::Si => TemperatureDifference::kelvin(3.0),
        }
    }
}

/// One row: activity, total, sensible and latent W of the SI column, sensible and latent Btu/h of the I-P column.
const TABLE: [(Activity, f64, f64, f64, f64, f64); 13] = [
    (Activity::SeatedMatinee, 95.0, 65.0, 30.0, 225.0, 105.0),
    (Activity::SeatedNight, 105.0, 70.0, 35.0, 245.0, 105.0),
    (Activity::SeatedVeryLightWork, 115.0, 70.0, 45.0, 245.0, 155.0),
    (Activity::OfficeWork, 130.0, 75.0, 55.0, 250.0, 200.0),
    (Activity::StandingLightWork, 130.0, 75.0, 55.0, 250.0, 200.0),
    (Activity::WalkingStanding, 145.0, 75.0, 70.0, 250.0, 250.0),
    (Activity::Restaurant, 160.0, 80.0, 80.0, 275.0, 275.0),
    (Activity::LightBenchWork, 220.0, 80.0, 140.0, 275.0, 475.0),
    (Activity::Dancing, 250.0, 90.0, 160.0, 305.0, 545.0),
    (Activity::LightMachineWork, 295.0, 110.0, 185.0, 375.0, 625.0),
    (Activity::HeavyWork, 425.0, 170.0, 255.0, 580.0, 870.0),
    (Activity::HeavyMachineWork, 470.0, 185.0, 285.0, 635.0, 965.0),
    (Activity::Athletics, 525.0, 210.0, 315.0, 710.0, 1090.0),
];

impl Activity {
    /// Every activity, in the order of the table.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|r| r.0)
    }
}

/// Heat from one person.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PersonHeat {
    /// Sensible heat.
    pub sensible: Power,
    /// Latent heat.
    pub latent: Power,
    /// Change of the sensible heat made for the room temperature, as a factor on the table's value.
    pub temperature_factor: f64,
}

impl PersonHeat {
    /// Sensible plus latent heat.
    pub fn total(&self) -> Power {
        self.sensible + self.latent
    }
}

/// Heat from one adult (adjusted for a usual mixture of people) in a room of 18 to 30 degC.
///
/// At another temperature than the column's the total stays and sensible heat changes by 20 % per 5 degF (3 K in the
/// SI column), as the table's footnote says for 80 degF (27 degC); the straight line through that one published
/// point is ours.
///
/// ```
/// use drycoil_rooms::gains::{Activity, PeopleColumn, person};
/// use drycoil_units::Temperature;
/// let p = person(Activity::OfficeWork, PeopleColumn::InchPound, Temperature::fahrenheit(75.0))?;
/// assert!((p.sensible.to_btu_per_hour() - 250.0).abs() < 1e-9 && (p.latent.to_btu_per_hour() - 200.0).abs() < 1e-9);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn person(activity: Activity, column: PeopleColumn, room: Temperature) -> Result<PersonHeat, RoomError> {
    within("room temperature", room.si(), 18.0, 30.0, "degC")?;
    let row = TABLE[activity as usize];
    let (sensible, latent) = match column {
        PeopleColumn::InchPound => (Power::btu_per_hour(row.4), Power::btu_per_hour(row.5)),
        PeopleColumn::Si => (Power::watts(row.2), Power::watts(row.3)),
    };
    let temperature_factor = 1.0 - 0.2 * ((room - column.room()) / column.span());
    let total = sensible + latent;
    let sensible = sensible * temperature_factor;
    Ok(PersonHeat { sensible, latent: total - sensible, temperature_factor })
}

/// Total heat printed in the SI table, W, for a check of its rows.
pub fn raw_table_total_w(activity: Activity) -> f64 {
    TABLE[activity as usize].1
}

/// A default share with its source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadiantShare {
    /// Radiant share of the sensible heat; the rest is convective.
    pub radiant: Fraction,
    /// Where the value comes from.
    pub source: &'static str,
}

impl RadiantShare {
    /// Default for a source of heat; `None` for sources that are not equipment or people.
    pub fn default_for(source: Source) -> Option<Self> {
        let (radiant, text) = match source {
            Source::People => {
                (0.60, "ASHRAE Fundamentals, load chapter, people at low air velocity (from memory)")
            }
            Source::Lights => (0.50, "common practice for recessed light-emitting diodes, no source"),
            Source::Plugs => {
                (0.30, "ASHRAE Fundamentals, load chapter, office equipment with fans (from memory)")
            }
            Source::Process => (0.30, "common practice, no source"),
            _ => return None,
        };
        Some(Self { radiant: Fraction::from_si(radiant), source: text })
    }
}

/// Series of a heat gain from its full power and hourly fractions of it.
///
/// Power 0 to 1e8 W; every fraction and the radiant share 0 to 1.
///
/// ```
/// use drycoil_rooms::{Source, gains::scheduled};
/// use drycoil_units::{Fraction, Power};
/// let lights = scheduled(Source::Lights, Power::watts(200.0), Fraction::ratio(0.5), &[0.0, 1.0, 0.5])?;
/// assert_eq!(lights.radiant_w, [0.0, 100.0, 50.0]);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn scheduled(
    source: Source,
    full: Power,
    radiant: Fraction,
    profile: &[f64],
) -> Result<HeatSource, RoomError> {
    let w = within("full power of a gain", full.si(), 0.0, 1e8, "W")?;
    let r = within("radiant share", radiant.si(), 0.0, 1.0, "1")?;
    if profile.is_empty() {
        return Err(RoomError::Empty { what: "profile" });
    }
    for f in profile {
        within("fraction of a profile", *f, 0.0, 1.0, "1")?;
    }
    Ok(HeatSource {
        source,
        convective_w: profile.iter().map(|f| f * w * (1.0 - r)).collect(),
        radiant_w: profile.iter().map(|f| f * w * r).collect(),
        solar_w: Vec::new(),
    })
}
