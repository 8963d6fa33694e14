//! The cases that every project is tried with. Places and numbers come from the project: the room whose moisture rises
//! fastest, the room with the longest facade on the lowest floor, the zone nearest to its limit.
//!
//! Durations, doors, drifts and shares are common practice, no source; the text of each case says them.

use super::building::Building;
use super::case::{Case, CaseDay, Disturbance, PlantSensor, Upset};
use super::lag::SensorFault;
use drycoil_units::STANDARD_AIR_DENSITY_KG_PER_M3 as RHO;

/// Outdoor air through a single door that is held open, m3/s. Common practice, no source.
const DOOR_M3_PER_S: f64 = 0.2;
/// Water of a wet floor or carpet as it is cleaned, kg/h per 100 m3 of room. Common practice, no source.
const CLEANING_KG_PER_H_PER_100_M3: f64 = 1.0;

/// Places of a building that cases go to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorstPlaces {
    /// Room on a terminal whose dew point rises fastest when it is full.
    pub fullest: usize,
    /// Room on a terminal with the most facade on the lowest floor that has one.
    pub door: usize,
    /// Zone whose room stands nearest to its limit, or above it, at design.
    pub nearest: usize,
    /// Zone with the largest coil.
    pub largest: usize,
}

impl WorstPlaces {
    /// Finds them.
    ///
    /// # Panics
    /// Never: a building has at least one zone, and a zone a room.
    pub fn of(b: &Building) -> Self {
        let served: Vec<usize> = b.zones.iter().flat_map(|z| z.rooms.iter().map(|r| r.0)).collect();
        let best = |rooms: &[usize], score: &dyn Fn(usize) -> f64| {
            let mut found = rooms[0];
            for room in rooms {
                if score(*room) > score(found) {
                    found = *room;
                }
            }
            found
        };
        let rise = |room: usize| b.people[room] * b.per_person[room][1] / b.volume_m3[room];
        let lowest = served.iter().map(|r| b.level[*r]).min().unwrap_or(0);
        let ground: Vec<usize> = served.iter().copied().filter(|r| b.level[*r] == lowest).collect();
        let zones: Vec<usize> = (0..b.zones.len()).collect();
        Self {
            fullest: best(&served, &rise),
            door: best(&ground, &|r| b.reduced[r].facade_m2),
            nearest: best(&zones, &|z| {
                b.zones[z].rooms.iter().map(|r| b.worst_dew_c[r.0]).fold(f64::NEG_INFINITY, f64::max)
            }),
            largest: best(&zones, &|z| b.zones[z].table.conductance_w_per_k),
        }
    }
}

fn h(hours: f64) -> f64 {
    hours * 3600.0
}

fn upset(from_h: f64, to_h: f64, what: Disturbance) -> Upset {
    Upset { from_s: h(from_h), to_s: h(to_h), what }
}

/// The library for a building.
pub fn library(b: &Building) -> Vec<Case> {
    let at = WorstPlaces::of(b);
    let full_zone = b.zone_of[at.fullest].unwrap_or(at.nearest);
    let (full, door) = (place(b, at.fullest), place(b, at.door));
    let zone = |z: usize| b.zones[z].id.clone();
    let seats = b.people[at.fullest];
    let crowd = (1.5 * seats).ceil();
    let meet = |from_h: f64, to_h: f64, people: f64| {
        upset(from_h, to_h, Disturbance::People { room: at.fullest, people })
    };
    let sensor = |z: usize, fault| Disturbance::ZoneSensor { zone: z, fault };
    let wet_kg_per_h = CLEANING_KG_PER_H_PER_100_M3 * b.volume_m3[at.door] / 100.0;
    let case = |name: &str, title: &str, story: String, upsets: Vec<Upset>| Case {
        name: name.to_owned(),
        title: title.to_owned(),
        story,
        day: CaseDay::Humid,
        from_s: h(8.0),
        length_s: h(13.0),
        upsets,
    };
    vec![
        Case {
            day: CaseDay::HumidAfterRest,
            from_s: h(2.0),
            length_s: h(16.0),
            ..case(
                "humid-start",
                "Start after a humid rest",
                "The building stood still over days of rest in the most humid weather; it is dried before its coils \
                 open."
                    .to_owned(),
                Vec::new(),
            )
        },
        case(
            "door-open",
            "Door held open",
            format!("A door of {door} is held open from 10:00 to 11:00: {} L/s of outdoor air.", 1e3 * DOOR_M3_PER_S),
            vec![upset(10.0, 11.0, Disturbance::OutdoorAir { room: at.door, kg_per_s: DOOR_M3_PER_S * RHO })],
        ),
        case(
            "meeting-full",
            "Room full",
            format!("{full} holds its {seats} people from 13:00 to 16:00."),
            vec![meet(13.0, 16.0, seats)],
        ),
        case(
            "meeting-crowded",
            "Room crowded",
            format!("{full}, meant for {seats}, holds {crowd} people from 13:00 to 15:00."),
            vec![meet(13.0, 15.0, crowd)],
        ),
        case(
            "drying-lost",
            "Drying coil without water",
            "The drying coil loses its water from 11:00 to 13:00; outdoor air comes undried but for the recovery.".to_owned(),
            vec![upset(11.0, 13.0, Disturbance::DryingLost { share: 1.0 })],
        ),
        case(
            "drying-weak",
            "Drying coil at half",
            "The drying coil does half of its drying from 10:00 to 16:00.".to_owned(),
            vec![upset(10.0, 16.0, Disturbance::DryingLost { share: 0.5 })],
        ),
        case(
            "primary-off",
            "Primary-air fans stand",
            "The primary-air fans stand from 11:00 to 12:00; leakage is that of a building without pressure.".to_owned(),
            vec![
                upset(11.0, 12.0, Disturbance::PrimaryAirOff),
                upset(11.0, 12.0, Disturbance::Leakage { factor: 3.0 }),
            ],
        ),
        case(
            "valve-stuck",
            "Coil valve stuck open",
            format!(
                "The coil valve of zone {} stays open from 12:00 to 16:00, with {crowd} people in {full} from 13:00 to 15:00.",
                zone(full_zone)
            ),
            vec![
                upset(12.0, 16.0, Disturbance::ValveStuck { zone: full_zone, position: 1.0 }),
                meet(13.0, 15.0, crowd),
            ],
        ),
        case(
            "damper-stuck",
            "Primary damper stuck at its minimum",
            format!(
                "The primary damper of zone {} stays at its minimum from 12:00 to 16:00, with {seats} people in {full} from 13:00 to 15:00.",
                zone(full_zone)
            ),
            vec![
                upset(12.0, 16.0, Disturbance::DamperStuck { zone: full_zone, position: 0.0 }),
                meet(13.0, 15.0, seats),
            ],
        ),
        case(
            "sensor-drifts-low",
            "Dew-point sensor drifts low",
            format!(
                "The sensor of zone {} reads 0.5 K lower every hour from 9:00 to 17:00, with {crowd} people in {full} from 13:00 to 15:00.",
                zone(full_zone)
            ),
            vec![
                upset(9.0, 17.0, sensor(full_zone, SensorFault::Drift { k_per_s: -0.5 / 3600.0 })),
                meet(13.0, 15.0, crowd),
            ],
        ),
        case(
            "sensor-drifts-high",
            "Dew-point sensor drifts high",
            format!("The sensor of zone {} reads 1 K higher every hour from 9:00 to 14:00.", zone(at.largest)),
            vec![upset(9.0, 14.0, sensor(at.largest, SensorFault::Drift { k_per_s: 1.0 / 3600.0 }))],
        ),
        case(
            "sensor-failed",
            "Dew-point sensor fails",
            format!("The sensor of zone {} tells nothing from 10:00 to 14:00.", zone(at.nearest)),
            vec![upset(10.0, 14.0, sensor(at.nearest, SensorFault::Failed))],
        ),
        case(
            "primary-sensor-low",
            "Drying lost, and its dew-point sensor stuck",
            "The dew-point sensor of the primary air is stuck from 10:00 to 14:00, and the drying coil loses its water \
             from 11:00 to 13:00."
                .to_owned(),
            vec![
                upset(
                    10.0,
                    14.0,
                    Disturbance::PlantSensor {
                        sensor: PlantSensor::PrimaryDewPoint,
                        fault: SensorFault::Stuck,
                    },
                ),
                upset(11.0, 13.0, Disturbance::DryingLost { share: 1.0 }),
            ],
        ),
        case(
            "water-cold",
            "Sensible water too cold",
            "The sensible water comes at 6 degC from 11:00 to 12:00, whatever its set point.".to_owned(),
            vec![upset(11.0, 12.0, Disturbance::WaterAt { c: 6.0 })],
        ),
        case(
            "power-dip",
            "Power fails",
            "No power from 11:00 to 11:20; controllers start anew.".to_owned(),
            vec![upset(11.0, 11.0 + 1.0 / 3.0, Disturbance::PowerOff)],
        ),
        case(
            "pressure-lost",
            "Building pressure lost",
            "Leakage is three times that of design from 10:00 to 14:00.".to_owned(),
            vec![upset(10.0, 14.0, Disturbance::Leakage { factor: 3.0 })],
        ),
        case(
            "humid-front",
            "Humid front",
            "The outdoor dew point is 3 K higher than in the weather year from 10:00 to 18:00.".to_owned(),
            vec![upset(10.0, 18.0, Disturbance::OutdoorDewPoint { rise_k: 3.0 })],
        ),
        case(
            "wet-cleaning",
            "Wet cleaning",
            format!("{wet_kg_per_h:.1} kg of water an hour from a wet floor in {door}, from 9:00 to 11:00."),
            vec![upset(9.0, 11.0, Disturbance::Moisture { room: at.door, kg_per_s: wet_kg_per_h / 3600.0 })],
        ),
    ]
}

fn place(b: &Building, room: usize) -> String {
    let (id, name) = (&b.rooms[room], &b.names[room]);
    if name.is_empty() || name == id { format!("room {id}") } else { format!("room {id} ({name})") }
}
