//! Which numbers are scheduled, where each stands, and in which volume of the calculation book its working is.

use crate::issue::Links;
use drycoil_project::Project;
use drycoil_sizing::{Cell, ColumnKind, Design, Schedule, schedules};
use std::collections::BTreeMap;

/// Most places in a volume of the calculation book.
const PLACES_IN_A_VOLUME: usize = 40;

/// A scheduled number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Scheduled {
    pub quantity: String,
    pub schedule: usize,
    pub row: usize,
    pub column: usize,
}

impl Scheduled {
    fn digits(&self) -> String {
        format!("{}-{}-{}", self.schedule + 1, self.row + 1, self.column)
    }

    /// Name of its cell in the schedules.
    pub fn cell_id(&self) -> String {
        format!("s{}", self.digits())
    }

    /// Name of its working in the calculation book.
    pub fn working_id(&self) -> String {
        format!("w{}", self.digits())
    }
}

/// Everything that is scheduled at one place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ScheduledPlace {
    pub place: String,
    pub numbers: Vec<Scheduled>,
    pub volume: usize,
}

/// A volume of the calculation book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Volume {
    pub name: String,
    pub title: String,
    /// Positions in [`Register::places`].
    pub places: Vec<usize>,
}

/// All scheduled numbers.
#[derive(Debug, Clone)]
pub(crate) struct Register {
    pub schedules: Vec<Schedule>,
    pub places: Vec<ScheduledPlace>,
    pub volumes: Vec<Volume>,
    index: BTreeMap<String, (usize, BTreeMap<String, usize>)>,
}

impl Register {
    pub fn new(project: &Project, design: &Design) -> Self {
        let schedules = schedules(project, design);
        let mut places: Vec<ScheduledPlace> = Vec::new();
        let mut index: BTreeMap<String, (usize, BTreeMap<String, usize>)> = BTreeMap::new();
        for (s, schedule) in schedules.iter().enumerate() {
            for (r, row) in schedule.rows.iter().enumerate() {
                let known = index.get(&row.place).map(|(at, _)| *at);
                let at = known.unwrap_or_else(|| {
                    let place = row.place.clone();
                    index.insert(place.clone(), (places.len(), BTreeMap::new()));
                    places.push(ScheduledPlace { place, numbers: Vec::new(), volume: 0 });
                    places.len() - 1
                });
                let Some((_, quantities)) = index.get_mut(&row.place) else { continue };
                for (c, (column, cell)) in schedule.columns.iter().zip(&row.cells).enumerate() {
                    if column.kind == ColumnKind::Text || !matches!(cell, Cell::Number(_)) {
                        continue;
                    }
                    let quantity = row.quantity(column);
                    quantities.entry(quantity.clone()).or_insert_with(|| {
                        places[at].numbers.push(Scheduled { quantity, schedule: s, row: r, column: c });
                        places[at].numbers.len() - 1
                    });
                }
            }
        }
        let volumes = volumes(project, design, &mut places);
        Self { schedules, places, volumes, index }
    }

    /// Position of a place.
    pub fn place(&self, place: &str) -> Option<usize> {
        Some(self.index.get(place)?.0)
    }

    /// A scheduled number and its place.
    pub fn find(&self, place: &str, quantity: &str) -> Option<(&ScheduledPlace, &Scheduled)> {
        let (at, quantities) = self.index.get(place)?;
        let place = &self.places[*at];
        Some((place, &place.numbers[*quantities.get(quantity)?]))
    }

    /// Where the working of a number is, from a document with this name.
    pub fn working(&self, from: &str, links: Links, place: &str, quantity: &str) -> Option<String> {
        let (place, number) = self.find(place, quantity)?;
        let volume = &self.volumes[place.volume];
        link(from, links, &volume.name, &number.working_id())
    }
}

/// A link to a part of a document; none where documents do not point at each other.
pub(crate) fn link(from: &str, links: Links, document: &str, id: &str) -> Option<String> {
    if from == document {
        Some(format!("#{id}"))
    } else if links == Links::BetweenFiles {
        Some(format!("{document}.html#{id}"))
    } else {
        None
    }
}

/// A floor in words: "Level 1" as it is, "1" as floor 1.
fn floor_words(floor: &str) -> String {
    if floor.chars().all(|c| c.is_alphabetic() || c == ' ') || floor.contains(' ') {
        floor.to_owned()
    } else {
        format!("floor {floor}")
    }
}

/// Systems first, then the rooms and zones of each floor.
fn volumes(project: &Project, design: &Design, places: &mut [ScheduledPlace]) -> Vec<Volume> {
    let mut floor_of: BTreeMap<&str, &str> = BTreeMap::new();
    let mut floors: Vec<&str> = Vec::new();
    for room in &project.rooms {
        floor_of.insert(&room.id, &room.floor);
        if !floors.contains(&room.floor.as_str()) {
            floors.push(&room.floor);
        }
    }
    for t in &design.terminals {
        if let Some(floor) = t.rooms.first().and_then(|r| floor_of.get(r.as_str()).copied()) {
            floor_of.insert(&t.zone, floor);
        }
    }
    let mut groups: Vec<(Option<&str>, Vec<usize>)> = vec![(None, Vec::new())];
    groups.extend(floors.iter().map(|f| (Some(*f), Vec::new())));
    for (i, place) in places.iter().enumerate() {
        let floor = floor_of.get(place.place.as_str()).copied();
        if let Some((_, list)) = groups.iter_mut().find(|(f, _)| *f == floor) {
            list.push(i);
        }
    }
    let mut volumes = Vec::new();
    for (floor, mut list) in groups {
        if list.is_empty() {
            continue;
        }
        // Rooms are looked up by their number, not by their margin.
        if floor.is_some() {
            list.sort_by(|a, b| places[*a].place.cmp(&places[*b].place));
        }
        let parts = list.len().div_ceil(PLACES_IN_A_VOLUME);
        for (n, part) in list.chunks(PLACES_IN_A_VOLUME).enumerate() {
            let number = volumes.len() + 1;
            let what = match floor {
                None => "air and water systems".to_owned(),
                Some(f) if parts == 1 => format!("rooms, {}", floor_words(f)),
                Some(f) => format!("rooms, {}, part {}", floor_words(f), n + 1),
            };
            for i in part {
                places[*i].volume = number - 1;
            }
            volumes.push(Volume {
                name: format!("calculation-book-{number}"),
                title: format!("Calculation book {number}: {what}"),
                places: part.to_vec(),
            });
        }
    }
    volumes
}
