//! Hourly histories of chosen rooms and of the plant as CSV, written while the year is simulated.

use drycoil_climate::Calendar;
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, UnitSystem};
use drycoil_year::result::{PlantHour, RoomHour, Scheme};
use std::collections::BTreeMap;
use std::io::{self, Write};

/// A column: words, kind of quantity (none for a share or a number without unit), and its SI value.
type Column<T> = (&'static str, Option<K>, fn(&T) -> Option<f64>);

const WEATHER: [Column<PlantHour>; 2] = [
    ("outdoor dry bulb", Some(K::Temperature), |p| Some(p.outdoor_c)),
    ("outdoor humidity ratio", Some(K::HumidityRatio), |p| Some(p.outdoor_w_kg_per_kg)),
];

const PLANT: [Column<PlantHour>; 11] = [
    ("supply air", Some(K::Temperature), |p| Some(p.supply_c)),
    ("supply humidity ratio", Some(K::HumidityRatio), |p| Some(p.supply_w_kg_per_kg)),
    ("supply flow (standard air)", Some(K::StandardAirFlow), |p| Some(p.supply_kg_per_s / RHO)),
    ("outdoor air flow (standard air)", Some(K::StandardAirFlow), |p| Some(p.outdoor_kg_per_s / RHO)),
    ("sensible water", Some(K::Temperature), |p| p.water_c),
    ("central coil", Some(K::Power), |p| Some(p.central_coil_w)),
    ("terminals", Some(K::Power), |p| Some(p.sensible_w)),
    ("waterside free cooling", Some(K::Power), |p| Some(p.waterside_free_w)),
    ("heating", Some(K::Power), |p| Some(p.heating_w)),
    ("electricity kW", None, |p| Some(p.electricity_w / 1e3)),
    ("fuel", Some(K::Power), |p| Some(p.fuel_w)),
];

const ROOM: [Column<RoomHour>; 10] = [
    ("occupied share of the hour", None, |r| Some(r.occupied)),
    ("air", Some(K::Temperature), |r| Some(r.air_c)),
    ("humidity ratio", Some(K::HumidityRatio), |r| Some(r.w_kg_per_kg)),
    ("dew-point margin", Some(K::TemperatureDifference), |r| r.margin_k),
    ("supply flow (standard air)", Some(K::StandardAirFlow), |r| Some(r.supply_kg_per_s / RHO)),
    ("supply", Some(K::Temperature), |r| Some(r.supply_c)),
    ("coil", Some(K::Power), |r| Some(r.coil_w)),
    ("heating", Some(K::Power), |r| Some(r.heating_w)),
    ("gains", Some(K::Power), |r| Some(r.gains_w)),
    ("condensate g/h", None, |r| Some(r.condensate_kg_per_s * 3.6e6)),
];

/// What has come of one hour of a scheme.
#[derive(Debug, Clone)]
struct Pending {
    plant: Option<PlantHour>,
    rooms: Vec<Option<RoomHour>>,
}

impl Pending {
    fn is_whole(&self) -> bool {
        self.plant.is_some() && self.rooms.iter().all(Option::is_some)
    }
}

/// Writes one row for each hour, as soon as every scheme has given it.
pub struct Hours<W: Write> {
    out: csv::Writer<W>,
    system: UnitSystem,
    calendar: Calendar,
    schemes: Vec<Scheme>,
    /// Positions of the watched rooms in the room list.
    rooms: Vec<usize>,
    waiting: Vec<BTreeMap<usize, Pending>>,
    next: usize,
    failed: Option<io::Error>,
}

impl<W: Write> Hours<W> {
    /// Begins with the row of titles. `rooms` are the positions and ids of the watched rooms.
    ///
    /// # Errors
    /// When the titles cannot be written.
    pub fn new(
        out: W,
        system: UnitSystem,
        calendar: Calendar,
        schemes: &[Scheme],
        rooms: &[(usize, String)],
    ) -> io::Result<Self> {
        let mut titles = vec!["month".to_owned(), "day".into(), "hour".into()];
        titles.extend(WEATHER.iter().map(|c| title("", c.0, c.1, system)));
        for scheme in schemes {
            let of = format!("{} ", scheme.word());
            titles.extend(PLANT.iter().map(|c| title(&of, c.0, c.1, system)));
            for (_, room) in rooms {
                let of = format!("{} {room} ", scheme.word());
                titles.extend(ROOM.iter().map(|c| title(&of, c.0, c.1, system)));
            }
        }
        let mut out = csv::Writer::from_writer(out);
        out.write_record(&titles)?;
        Ok(Self {
            out,
            system,
            calendar,
            schemes: schemes.to_vec(),
            rooms: rooms.iter().map(|(index, _)| *index).collect(),
            waiting: schemes.iter().map(|_| BTreeMap::new()).collect(),
            next: 0,
            failed: None,
        })
    }

    fn pending(&mut self, scheme: Scheme, hour: usize) -> Option<&mut Pending> {
        let index = self.schemes.iter().position(|s| *s == scheme)?;
        let rooms = self.rooms.len();
        Some(
            self.waiting[index]
                .entry(hour)
                .or_insert_with(|| Pending { plant: None, rooms: vec![None; rooms] }),
        )
    }

    /// An hour of a watched room.
    pub fn room(&mut self, scheme: Scheme, hour: usize, room: &RoomHour) {
        let Some(at) = self.rooms.iter().position(|r| *r == room.room) else { return };
        if let Some(pending) = self.pending(scheme, hour) {
            pending.rooms[at] = Some(*room);
        }
        self.write_whole_hours();
    }

    /// An hour of the plant of a scheme.
    pub fn plant(&mut self, scheme: Scheme, hour: usize, plant: &PlantHour) {
        if let Some(pending) = self.pending(scheme, hour) {
            pending.plant = Some(*plant);
        }
        self.write_whole_hours();
    }

    fn write_whole_hours(&mut self) {
        while self.waiting.iter().all(|w| w.get(&self.next).is_some_and(Pending::is_whole)) {
            let Some(stamp) = self.calendar.stamp(self.next) else { return };
            let mut row = vec![stamp.month.to_string(), stamp.day.to_string(), stamp.hour.to_string()];
            for i in 0..self.waiting.len() {
                let Some(Pending { plant: Some(plant), rooms }) = self.waiting[i].remove(&self.next) else {
                    continue;
                };
                if i == 0 {
                    row.extend(WEATHER.iter().map(|c| cell((c.2)(&plant), c.1, self.system)));
                }
                row.extend(PLANT.iter().map(|c| cell((c.2)(&plant), c.1, self.system)));
                for room in rooms.iter().flatten() {
                    row.extend(ROOM.iter().map(|c| cell((c.2)(room), c.1, self.system)));
                }
            }
            self.next += 1;
            if self.failed.is_none()
                && let Err(error) = self.out.write_record(&row)
            {
                self.failed = Some(error.into());
            }
        }
    }

    /// Whether a row could not be written.
    pub fn has_failed(&self) -> bool {
        self.failed.is_some()
    }

    /// The stream with all rows.
    ///
    /// # Errors
    /// The first error of writing.
    pub fn finish(self) -> io::Result<W> {
        match self.failed {
            Some(error) => Err(error),
            None => self.out.into_inner().map_err(|e| io::Error::other(e.error().to_string())),
        }
    }
}

fn title(of: &str, words: &str, kind: Option<K>, system: UnitSystem) -> String {
    match kind {
        Some(kind) => format!("{of}{words} [{}]", system.symbol(kind)),
        // The unit is the last word where a kind has none of its own.
        None => match words.rsplit_once(' ') {
            Some((words, unit @ ("kW" | "g/h"))) => format!("{of}{words} [{unit}]"),
            _ => format!("{of}{words}"),
        },
    }
}

fn cell(value: Option<f64>, kind: Option<K>, system: UnitSystem) -> String {
    let Some(si) = value else { return String::new() };
    let (shown, decimals) = match kind {
        // Two decimals more than a table shows: the file is plotted and summed.
        Some(kind) => (system.value(kind, si), system.decimals(kind) + 2),
        None => (si, 4),
    };
    format!("{shown:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plant(outdoor_c: f64) -> PlantHour {
        PlantHour { outdoor_c, water_c: Some(13.0), electricity_w: 1500.0, ..PlantHour::default() }
    }

    #[test]
    fn rows_wait_for_every_scheme_and_carry_units() {
        let rooms = [(3, "204".to_owned())];
        let mut hours =
            Hours::new(Vec::new(), UnitSystem::Ip, Calendar::Common, &Scheme::ALL, &rooms).unwrap();
        let room =
            RoomHour { room: 3, air_c: 24.0, margin_k: None, supply_kg_per_s: RHO, ..RoomHour::default() };
        // Plant and rooms come in any order, and one scheme runs ahead of the other.
        hours.plant(Scheme::Decoupled, 0, &plant(10.0));
        hours.room(Scheme::Decoupled, 0, &room);
        hours.room(Scheme::Decoupled, 1, &room);
        hours.plant(Scheme::Decoupled, 1, &plant(20.0));
        hours.room(Scheme::AllAir, 0, &room);
        hours.room(Scheme::AllAir, 0, &RoomHour { room: 99, ..room });
        hours.plant(Scheme::AllAir, 0, &PlantHour { water_c: None, ..plant(10.0) });
        let bytes = hours.finish().unwrap();
        let mut rows = csv::Reader::from_reader(bytes.as_slice());
        let titles: Vec<String> = rows.headers().unwrap().iter().map(str::to_owned).collect();
        let at = |name: &str| {
            titles.iter().position(|t| t == name).unwrap_or_else(|| panic!("{name}: {titles:?}"))
        };
        let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
        // The second hour of one scheme alone is no row yet.
        assert_eq!(rows.len(), 1);
        let row = &rows[0];
        assert_eq!(&row[at("outdoor dry bulb [degF]")], "50.000");
        assert_eq!(&row[at("decoupled 204 air [degF]")], "75.200");
        assert_eq!(&row[at("decoupled 204 dew-point margin [degF]")], "");
        assert_eq!(&row[at("decoupled sensible water [degF]")], "55.400");
        assert_eq!(&row[at("all-air sensible water [degF]")], "");
        assert_eq!(&row[at("all-air electricity [kW]")], "1.5000");
        assert!(titles.iter().any(|t| t == "decoupled 204 supply flow (standard air) [cfm]"), "{titles:?}");
    }
}
