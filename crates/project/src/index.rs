//! Positions by name, so that ten thousand rooms are looked up without walking the list.

use crate::Parts;
use std::collections::BTreeMap;

/// Positions of the parts by their names. Of two parts with one name the first counts.
#[derive(Debug, Clone)]
pub(crate) struct Index {
    pub rooms: BTreeMap<String, usize>,
    pub kinds: BTreeMap<String, usize>,
    pub profiles: BTreeMap<String, usize>,
    pub constructions: BTreeMap<String, usize>,
    pub glazings: BTreeMap<String, usize>,
    pub models: BTreeMap<String, usize>,
    /// Surfaces by room.
    pub surfaces: BTreeMap<String, Vec<usize>>,
    /// Rooms by zone.
    pub zones: BTreeMap<String, Vec<usize>>,
}

fn first<'a>(names: impl Iterator<Item = &'a str>) -> BTreeMap<String, usize> {
    let mut map = BTreeMap::new();
    for (i, name) in names.enumerate() {
        map.entry(name.to_owned()).or_insert(i);
    }
    map
}

fn groups<'a>(names: impl Iterator<Item = &'a str>) -> BTreeMap<String, Vec<usize>> {
    let mut map: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (i, name) in names.enumerate() {
        match map.get_mut(name) {
            Some(list) => list.push(i),
            None => {
                map.insert(name.to_owned(), vec![i]);
            }
        }
    }
    map
}

impl Index {
    pub fn new(parts: &Parts) -> Self {
        Self {
            rooms: first(parts.rooms.iter().map(|r| r.id.as_str())),
            kinds: first(parts.kinds.iter().map(|k| k.id.as_str())),
            profiles: first(parts.profiles.iter().map(|p| p.name.as_str())),
            constructions: first(parts.constructions.iter().map(|c| c.name.as_str())),
            glazings: first(parts.glazings.iter().map(|g| g.name.as_str())),
            models: first(parts.catalogue.models.iter().map(|m| m.model.as_str())),
            surfaces: groups(parts.surfaces.iter().map(|s| s.room.as_str())),
            zones: groups(parts.rooms.iter().map(|r| r.zone.value.as_str())),
        }
    }
}
