//! A case: a day of the weather year, and what goes wrong on it.

use super::lag::SensorFault;
use std::fmt;

/// Which day of the weather year a case runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaseDay {
    /// The working day with the most humid six hours outdoors.
    Humid,
    /// Of the working days after a rest of a day or more, the one with the most humid rest and morning.
    HumidAfterRest,
    /// The working day whose hours of use have the least outdoor humidity.
    Dry,
    /// A date.
    Date {
        /// 1 to 12.
        month: u8,
        /// 1 to 31.
        day: u8,
    },
}

/// A sensor of the plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlantSensor {
    /// Dew point of the primary air.
    PrimaryDewPoint,
    /// Air temperature behind the drying coil.
    DryingCoil,
    /// Sensible water.
    Water,
}

/// What goes wrong. Rooms and zones are places in the lists of the building.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Disturbance {
    /// Outdoor air comes into a room, kg/s of dry air.
    OutdoorAir {
        /// Room.
        room: usize,
        /// kg/s.
        kg_per_s: f64,
    },
    /// All leakage of the building is this many times what it is.
    Leakage {
        /// Factor.
        factor: f64,
    },
    /// So many people are in a room, whatever its profile says.
    People {
        /// Room.
        room: usize,
        /// People.
        people: f64,
    },
    /// Water is released in a room, kg/s.
    Moisture {
        /// Room.
        room: usize,
        /// kg/s.
        kg_per_s: f64,
    },
    /// The drying coils give this share less of their drying.
    DryingLost {
        /// 0 to 1.
        share: f64,
    },
    /// No primary air.
    PrimaryAirOff,
    /// Sensible water comes at this temperature, whatever its set point, degC.
    WaterAt {
        /// degC.
        c: f64,
    },
    /// No sensible water flows.
    WaterOff,
    /// No power; controllers start anew afterwards.
    PowerOff,
    /// The coil valve of a zone stays where it is put.
    ValveStuck {
        /// Zone.
        zone: usize,
        /// Position, 0 to 1.
        position: f64,
    },
    /// The primary damper of a zone stays where it is put.
    DamperStuck {
        /// Zone.
        zone: usize,
        /// Position, 0 minimum to 1 full.
        position: f64,
    },
    /// The dew-point sensor of a zone.
    ZoneSensor {
        /// Zone.
        zone: usize,
        /// Fault.
        fault: SensorFault,
    },
    /// A sensor of the plant.
    PlantSensor {
        /// Which.
        sensor: PlantSensor,
        /// Fault.
        fault: SensorFault,
    },
    /// Outdoor dew point higher by this, K.
    OutdoorDewPoint {
        /// K.
        rise_k: f64,
    },
}

/// Something that goes wrong for a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Upset {
    /// Begin, s from midnight of the day.
    pub from_s: f64,
    /// End, s from midnight of the day.
    pub to_s: f64,
    /// What.
    pub what: Disturbance,
}

/// A case.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Short name for the command line.
    pub name: String,
    /// Heading.
    pub title: String,
    /// What happens, with the places and numbers of this project.
    pub story: String,
    /// Day.
    pub day: CaseDay,
    /// Begin, s from midnight of the day.
    pub from_s: f64,
    /// Length, s.
    pub length_s: f64,
    /// What goes wrong; nothing for a case that the weather makes.
    pub upsets: Vec<Upset>,
}

/// Why a case is refused.
#[derive(Debug, Clone, PartialEq)]
pub enum CaseError {
    /// A number outside its range.
    Range {
        /// What.
        what: &'static str,
        /// Value.
        value: f64,
        /// Least.
        low: f64,
        /// Most.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// A begin or length that is not a whole number of hours.
    WholeHours {
        /// What.
        what: &'static str,
        /// Value, h.
        hours: f64,
    },
    /// An upset that begins after it ends, or outside the case.
    Times {
        /// Which, from 0.
        upset: usize,
    },
    /// A room or zone that the building does not have.
    Place {
        /// Which upset, from 0.
        upset: usize,
    },
    /// The weather year has no such day.
    Day(String),
}

impl fmt::Display for CaseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Range { what, value, low, high, unit } => {
                write!(f, "{what} is {value} {unit}, allowed {low} to {high} {unit}")
            }
            Self::WholeHours { what, hours } => write!(f, "{what} is {hours} h, allowed are whole hours"),
            Self::Times { upset } => {
                write!(f, "upset {} does not lie within its case, or ends before it begins", upset + 1)
            }
            Self::Place { upset } => write!(f, "upset {} names a room or zone that is not there", upset + 1),
            Self::Day(day) => write!(f, "{day}"),
        }
    }
}

impl std::error::Error for CaseError {}

fn within(what: &'static str, value: f64, low: f64, high: f64, unit: &'static str) -> Result<(), CaseError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(CaseError::Range { what, value, low, high, unit })
    }
}

impl Case {
    /// First upset begins, s from midnight; none for a case without upset.
    pub fn trigger_s(&self) -> Option<f64> {
        self.upsets.iter().map(|u| u.from_s).min_by(f64::total_cmp)
    }

    /// Last upset ends, s from midnight.
    pub fn cause_ends_s(&self) -> Option<f64> {
        self.upsets.iter().map(|u| u.to_s).max_by(f64::total_cmp)
    }

    /// Checks numbers, times and places against the counts of rooms and zones.
    ///
    /// # Errors
    /// [`CaseError`].
    pub fn check(&self, rooms: usize, zones: usize) -> Result<(), CaseError> {
        within("begin of the case", self.from_s / 3600.0, 0.0, 24.0, "h")?;
        within("length of the case", self.length_s / 3600.0, 1.0, 72.0, "h")?;
        for (what, s) in [("begin of the case", self.from_s), ("length of the case", self.length_s)] {
            if s % 3600.0 != 0.0 {
                return Err(CaseError::WholeHours { what, hours: s / 3600.0 });
            }
        }
        for (i, u) in self.upsets.iter().enumerate() {
            if !(u.from_s >= self.from_s && u.to_s > u.from_s && u.to_s <= self.from_s + self.length_s) {
                return Err(CaseError::Times { upset: i });
            }
            let room_there =
                |room: usize| if room < rooms { Ok(()) } else { Err(CaseError::Place { upset: i }) };
            let zone_there =
                |zone: usize| if zone < zones { Ok(()) } else { Err(CaseError::Place { upset: i }) };
            let fault_sound = |fault: SensorFault| match fault {
                SensorFault::Bias { k } => within("bias of a sensor", k, -20.0, 20.0, "K"),
                SensorFault::Drift { k_per_s } => {
                    within("drift of a sensor", k_per_s * 3600.0, -20.0, 20.0, "K/h")
                }
                SensorFault::Stuck | SensorFault::Failed => Ok(()),
            };
            match u.what {
                Disturbance::OutdoorAir { room, kg_per_s } => {
                    room_there(room)?;
                    within("outdoor air", kg_per_s, 0.0, 100.0, "kg/s")?;
                }
                Disturbance::Leakage { factor } => within("factor of leakage", factor, 0.0, 20.0, "1")?,
                Disturbance::People { room, people } => {
                    room_there(room)?;
                    within("people", people, 0.0, 10_000.0, "1")?;
                }
                Disturbance::Moisture { room, kg_per_s } => {
                    room_there(room)?;
                    within("moisture", kg_per_s * 3600.0, 0.0, 500.0, "kg/h")?;
                }
                Disturbance::DryingLost { share } => within("share of drying lost", share, 0.0, 1.0, "1")?,
                Disturbance::PrimaryAirOff | Disturbance::WaterOff | Disturbance::PowerOff => {}
                Disturbance::WaterAt { c } => within("water", c, 2.0, 40.0, "degC")?,
                Disturbance::ValveStuck { zone, position } | Disturbance::DamperStuck { zone, position } => {
                    zone_there(zone)?;
                    within("position", position, 0.0, 1.0, "1")?;
                }
                Disturbance::ZoneSensor { zone, fault } => {
                    zone_there(zone)?;
                    fault_sound(fault)?;
                }
                Disturbance::PlantSensor { fault, .. } => fault_sound(fault)?,
                Disturbance::OutdoorDewPoint { rise_k } => {
                    within("rise of the outdoor dew point", rise_k, -20.0, 15.0, "K")?;
                }
            }
        }
        Ok(())
    }
}
