//! Which changed input leads to which changed number.
//!
//! The calculation sheets of both revisions give the steps between numbers. Labels then flow from each changed input along
//! the steps, through changed numbers only, the shortest way first.

use crate::inputs::{InputChange, InputChangeKind};
use crate::numbers::{CellValue, NumberChange};
use crate::{Cause, Revision, SAME, Step, StepKind};
use drycoil_findings::Place;
use drycoil_project::Project;
use drycoil_results::PlaceRecord;
use drycoil_sizing::{Design, sheet};
use drycoil_units::{QuantityKind, UnitSystem, format_si, significant};
use drycoil_working::{Origin, Sheet};
use rayon::ThreadPool;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Causes that are listed for one number.
const LISTED: usize = 8;
/// Changed values without an input that are listed for one number.
const OTHER_LISTED: usize = 3;

/// Quantities of the choice of the supply dew point that come out of the year in weather bins.
const BINS: [&str; 9] = [
    "drying_electricity",
    "sensible_electricity",
    "primary_fan_energy",
    "terminal_fan_energy",
    "pump_energy",
    "tower_energy",
    "heat_energy",
    "fuel_energy",
    "economizer_share",
];

/// A place in a file without what moves.
type Spot = (Option<String>, Option<u32>, Option<u32>, Option<String>);

fn spot(file: Option<&String>, line: Option<u32>, column: Option<u32>, key: Option<&String>) -> Spot {
    // Tables on one line have the same line and other columns; cells have a title and no column.
    (file.cloned(), line, column, if column.is_some() { None } else { key.cloned() })
}

fn spot_of(place: &Place) -> Spot {
    spot(place.file.as_ref(), place.line, place.column, place.key.as_ref())
}

fn spot_of_record(place: &PlaceRecord) -> Spot {
    spot(place.file.as_ref(), place.line, place.column, place.key.as_ref())
}

/// Where the changed inputs stand.
struct Index<'a> {
    inputs: &'a [InputChange],
    old: BTreeMap<Spot, usize>,
    new: BTreeMap<Spot, usize>,
}

impl<'a> Index<'a> {
    fn new(inputs: &'a [InputChange]) -> Self {
        let spots = |place: fn(&InputChange) -> Option<&PlaceRecord>| {
            inputs
                .iter()
                .enumerate()
                .filter(|(_, c)| !c.key.is_empty())
                .filter_map(|(i, c)| Some((spot_of_record(place(c)?), i)))
                .collect()
        };
        Self { inputs, old: spots(|c| c.old_place.as_ref()), new: spots(|c| c.new_place.as_ref()) }
    }

    /// The changed inputs that fit.
    fn all(&self, fits: impl Fn(&InputChange) -> bool) -> impl Iterator<Item = usize> {
        self.inputs.iter().enumerate().filter(move |(_, c)| fits(c)).map(|(i, _)| i)
    }
}

/// Where a number comes from.
#[derive(Default)]
struct Sources {
    /// Numbers, by their position.
    numbers: Vec<(usize, StepKind)>,
    /// Changed inputs.
    inputs: BTreeSet<(usize, StepKind)>,
    /// Changed values of tables, profiles and weather.
    other: Vec<String>,
}

struct Graph<'a> {
    before: Revision<'a>,
    after: Revision<'a>,
    nodes: &'a [NumberChange],
    at: BTreeMap<(&'a str, &'a str), usize>,
    index: Index<'a>,
}

/// Attaches to each changed number the changed inputs that lead to it.
pub(crate) fn attach(
    before: Revision<'_>,
    after: Revision<'_>,
    inputs: &[InputChange],
    nodes: &mut [NumberChange],
    pool: &ThreadPool,
) {
    let found = {
        let at =
            nodes.iter().enumerate().map(|(i, n)| ((n.place.as_str(), n.quantity.as_str()), i)).collect();
        let graph = Graph { before, after, nodes, at, index: Index::new(inputs) };
        let sources: Vec<Sources> =
            pool.install(|| (0..nodes.len()).into_par_iter().map(|i| graph.sources(i)).collect());
        flow(nodes, sources)
    };
    for (node, (causes, more, other)) in nodes.iter_mut().zip(found) {
        node.causes = causes;
        node.more_causes = more;
        node.other_values = other;
    }
}

/// A label: an input, and the number from which it came; none for the first number.
#[derive(Clone, Copy)]
struct Label {
    input: usize,
    from: Option<usize>,
    kind: StepKind,
}

fn flow(nodes: &[NumberChange], sources: Vec<Sources>) -> Vec<(Vec<Cause>, bool, Vec<String>)> {
    let mut users: Vec<Vec<(usize, StepKind)>> = vec![Vec::new(); nodes.len()];
    for (user, s) in sources.iter().enumerate() {
        for (used, kind) in &s.numbers {
            users[*used].push((user, *kind));
        }
    }
    let mut labels: Vec<Vec<Label>> = vec![Vec::new(); nodes.len()];
    let mut more = vec![false; nodes.len()];
    let mut waiting: VecDeque<(usize, Label)> = VecDeque::new();
    for (node, s) in sources.iter().enumerate() {
        waiting.extend(
            s.inputs.iter().map(|(input, kind)| (node, Label { input: *input, from: None, kind: *kind })),
        );
    }
    while let Some((node, label)) = waiting.pop_front() {
        if labels[node].iter().any(|l| l.input == label.input) {
            continue;
        }
        if labels[node].len() == LISTED {
            more[node] = true;
            continue;
        }
        labels[node].push(label);
        for (user, kind) in &users[node] {
            waiting.push_back((*user, Label { input: label.input, from: Some(node), kind: *kind }));
        }
    }
    let step = |node: usize, kind: StepKind| Step {
        kind,
        place: nodes[node].place.clone(),
        quantity: nodes[node].quantity.clone(),
    };
    sources
        .into_iter()
        .enumerate()
        .map(|(node, s)| {
            let causes: Vec<Cause> = labels[node]
                .iter()
                .map(|label| {
                    let mut steps = vec![step(node, label.kind)];
                    let mut from = label.from;
                    while let Some(at) = from {
                        let Some(l) = labels[at].iter().find(|l| l.input == label.input) else { break };
                        steps.push(step(at, l.kind));
                        from = l.from;
                    }
                    steps.reverse();
                    Cause { input: label.input, steps }
                })
                .collect();
            let other = if causes.is_empty() { s.other } else { Vec::new() };
            (causes, more[node], other)
        })
        .collect()
}

impl Graph<'_> {
    fn sources(&self, node: usize) -> Sources {
        let mut out = Sources::default();
        let n = &self.nodes[node];
        let (before, after) = (self.before, self.after);
        let old = sheet(before.project, before.design, &n.place, &n.quantity).filter(|_| n.old.is_some());
        let new = sheet(after.project, after.design, &n.place, &n.quantity).filter(|_| n.new.is_some());
        if let Some(s) = &old {
            self.lines(node, s, &self.index.old, before, &mut out);
        }
        if let Some(s) = &new {
            self.lines(node, s, &self.index.new, after, &mut out);
        }
        if let (Some(a), Some(b)) = (&old, &new) {
            other_values(a, b, &mut out.other);
        }
        for r in [before, after] {
            self.beyond_formulas(node, r, &mut out);
        }
        self.rows(node, &mut out);
        out.numbers.sort_unstable();
        out.numbers.dedup();
        out
    }

    fn number(&self, node: usize, place: &str, quantity: &str, kind: StepKind, out: &mut Sources) {
        if let Some(at) = self.at.get(&(place, quantity)).filter(|at| **at != node) {
            out.numbers.push((*at, kind));
        }
    }

    fn input(&self, kind: StepKind, out: &mut Sources, fits: impl Fn(&InputChange) -> bool) {
        out.inputs.extend(self.index.all(fits).map(|i| (i, kind)));
    }

    /// What the lines of a sheet use.
    fn lines(
        &self,
        node: usize,
        sheet: &Sheet,
        spots: &BTreeMap<Spot, usize>,
        r: Revision<'_>,
        out: &mut Sources,
    ) {
        for input in sheet.lines.iter().flat_map(|l| &l.inputs) {
            match &input.origin {
                Origin::File(place) => {
                    out.inputs.extend(spots.get(&spot_of(place)).map(|i| (*i, StepKind::Formula)));
                }
                Origin::Line(name) => {
                    if let Some((place, quantity)) = name.rsplit_once(' ') {
                        self.number(node, place, quantity, StepKind::Formula, out);
                    }
                }
                Origin::Table { row, .. } => {
                    if let Some((name, _)) = row.strip_prefix("profile ").and_then(|t| t.split_once(',')) {
                        self.profile(name, StepKind::Formula, out);
                    }
                    // A density of the room kind times the floor area.
                    if let Some(room) = r.project.room(&sheet.place)
                        && (row.contains("room kind") || row.contains("per area"))
                    {
                        self.own_row(&room.id, &["kind", "floor_area"], StepKind::Formula, out);
                    }
                }
                // The load of a room at an hour other than that of its own peak: what moves the peak moves it as well.
                Origin::Weather(hour) => {
                    if let Some((room, _)) = hour.strip_prefix("room ").and_then(|t| t.split_once(',')) {
                        self.number(node, room, "sensible_load", StepKind::Formula, out);
                    }
                }
                Origin::Default { .. } | Origin::Constant(_) => {}
            }
        }
    }

    fn profile(&self, name: &str, kind: StepKind, out: &mut Sources) {
        let start = format!("{name} ");
        self.input(kind, out, |c| c.file == "profiles.csv" && c.record.starts_with(&start));
    }

    /// Changed cells of the row of a room.
    fn own_row(&self, room: &str, keys: &[&str], kind: StepKind, out: &mut Sources) {
        self.input(kind, out, |c| {
            c.file.starts_with("rooms.")
                && c.record == room
                && (c.key.is_empty() || keys.contains(&c.key.as_str()))
        });
    }

    /// Steps that no formula shows: what a simulation takes and a search looks at.
    fn beyond_formulas(&self, node: usize, r: Revision<'_>, out: &mut Sources) {
        let n = &self.nodes[node];
        let (place, quantity) = (n.place.as_str(), n.quantity.as_str());
        let text = matches!(n.new.as_ref().or(n.old.as_ref()), Some(CellValue::Text(_)));
        if let Some(room) = r.project.room(place) {
            match quantity {
                "sensible_load" | "heating_load" => self.room_network(r.project, &room.id, out),
                "latent_load" | "highest_dew_point" => {
                    self.profile(&room.profile.value, StepKind::Simulation, out);
                    self.weather(out);
                }
                "governing_need" => {
                    for need in [
                        "ventilation_flow",
                        "per_person_flow",
                        "latent_flow",
                        "exhaust_flow",
                        "pressurization_flow",
                        "air_changes_flow",
                    ] {
                        self.number(node, place, need, StepKind::Search, out);
                    }
                }
                "sensible_load_at" => self.number(node, place, "sensible_load", StepKind::Simulation, out),
                "highest_dew_point_at" => {
                    self.number(node, place, "highest_dew_point", StepKind::Simulation, out);
                }
                _ => {}
            }
            if text {
                // Names and words of the room list.
                self.own_row(place, &[quantity], StepKind::Formula, out);
            }
        }
        let of_group = match quantity {
            "coincident_cooling" => Some("sensible_load"),
            "coincident_heating" => Some("heating_load"),
            "coincident_latent" => Some("latent_load"),
            _ => None,
        };
        if let Some(of_rooms) = of_group {
            let floor = place.strip_prefix("floor ").unwrap_or(place);
            for room in r.project.rooms.iter().filter(|x| place == "building" || x.floor == floor) {
                self.number(node, &room.id, of_rooms, StepKind::Simulation, out);
            }
        }
        self.searches(node, r.project, r.design, out);
    }

    /// What the simulation of a room takes.
    fn room_network(&self, project: &Project, room: &str, out: &mut Sources) {
        let kind = StepKind::Simulation;
        let Some(r) = project.room(room) else { return };
        self.input(kind, out, |c| {
            c.file == "surfaces.csv" && c.record.split(' ').next().is_some_and(|first| first == room)
        });
        let parts: BTreeSet<&str> = project.surfaces_of(r).map(|s| s.construction.value.as_str()).collect();
        let kind_key = format!("room_kinds.{}.", r.kind.value);
        self.input(kind, out, |c| {
            let named = |table: &str| {
                c.key
                    .strip_prefix(table)
                    .and_then(|rest| rest.split_once('.'))
                    .is_some_and(|(n, _)| parts.contains(n))
            };
            named("constructions.")
                || named("glazings.")
                || c.key.starts_with(&kind_key)
                || c.key.starts_with("site.")
        });
        self.profile(&r.profile.value, kind, out);
        self.weather(out);
        let keys = [
            "kind",
            "floor_area",
            "height",
            "people",
            "sensible_per_person",
            "lighting",
            "plugs",
            "process_sensible",
            "profile",
            "cooling_set_point",
            "heating_set_point",
        ];
        self.own_row(room, &keys, kind, out);
        let of_all =
            ["infiltration", "pressurized_infiltration", "night_cooling", "night_heating", "start_up"];
        self.input(kind, out, |c| c.key.strip_prefix("criteria.").is_some_and(|k| of_all.contains(&k)));
        if r.cooling_set_point.origin.to_string().contains("criteria.") {
            self.input(kind, out, |c| c.key == "criteria.cooling_set_point");
        }
        if r.heating_set_point.origin.to_string().contains("criteria.") {
            self.input(kind, out, |c| c.key == "criteria.heating_set_point");
        }
    }

    fn weather(&self, out: &mut Sources) {
        self.input(StepKind::Simulation, out, |c| c.file == "weather");
    }

    /// What the choice of a number looks at.
    fn searches(&self, node: usize, project: &Project, design: &Design, out: &mut Sources) {
        let n = &self.nodes[node];
        let (place, quantity) = (n.place.as_str(), n.quantity.as_str());
        let mut add = |place: &str, quantity: &str| self.number(node, place, quantity, StepKind::Search, out);
        if ["water_velocity", "water_drop", "valve_kv", "valve_authority"].contains(&quantity) {
            for of_coil in ["coil_duty", "water_flow", "water_leaving", "units"] {
                add(place, of_coil);
            }
        }
        if let Some(t) = design.terminals.iter().find(|t| t.zone == place)
            && ["units", "model", "fan_flow", "fan_flow_heating", "inlet_pressure"].contains(&quantity)
        {
            for room in &t.rooms {
                for need in ["sensible_load", "heating_load", "primary_air_flow"] {
                    add(room, need);
                }
            }
            for need in ["supplementary_flow", "coil_air_dew_point", "unit_primary_air"] {
                add(place, need);
            }
            add("dew point", "sensible_water");
            add("primary air", "delivered_dry_bulb");
            if quantity == "units" {
                add(place, "model");
            }
        }
        if place == "dew point" && ["supply_dew_point", "room_limit", "sensible_water"].contains(&quantity) {
            for room in &project.rooms {
                for need in ["dew_point_limit", "fixed_flow", "latent_moisture", "sensible_load"] {
                    add(&room.id, need);
                }
            }
        }
        // The year in weather bins looks at all of the design.
        if place == "dew point" && BINS.contains(&quantity) {
            for part in ["total_primary_air", "supply_dew_point", "sensible_water"] {
                self.number(node, place, part, StepKind::Simulation, out);
            }
            for room in &project.rooms {
                self.number(node, &room.id, "sensible_load", StepKind::Simulation, out);
            }
            self.weather(out);
        }
        let kind = StepKind::Search;
        if place == "dew point" {
            self.input(kind, out, |c| c.key.starts_with("dew_point.") || c.key == "criteria.design_margin");
        }
    }

    /// Rows that came or went: whatever stands in them has that cause.
    fn rows(&self, node: usize, out: &mut Sources) {
        let n = &self.nodes[node];
        if n.old.is_some() && n.new.is_some() {
            return;
        }
        for (i, change) in self.index.inputs.iter().enumerate() {
            let project = match change.kind {
                InputChangeKind::RowAdded => self.after.project,
                InputChangeKind::RowRemoved => self.before.project,
                _ => continue,
            };
            if !change.file.starts_with("rooms.") {
                continue;
            }
            let Some(room) = project.room(&change.record) else { continue };
            let floor = format!("floor {}", room.floor);
            if n.place == room.id || n.place == room.zone.value || n.place == floor {
                out.inputs.insert((i, StepKind::Formula));
            }
        }
    }
}

/// Values of both sheets that are neither written nor numbers of a schedule, and that differ.
fn other_values(old: &Sheet, new: &Sheet, out: &mut Vec<String>) {
    for line in &new.lines {
        let Some(was) = old.lines.iter().find(|l| l.symbol == line.symbol) else { continue };
        for input in &line.inputs {
            let told = match &input.origin {
                Origin::Weather(what) => what.clone(),
                Origin::Table { row, .. } => row.clone(),
                Origin::Default { rule, .. } => (*rule).to_owned(),
                Origin::Constant(what) => (*what).to_owned(),
                Origin::File(_) | Origin::Line(_) => continue,
            };
            let Some(before) = was.inputs.iter().find(|i| i.symbol == input.symbol) else { continue };
            let (a, b) = (before.si, input.si);
            if (a - b).abs() > SAME * a.abs().max(b.abs()) && out.len() < OTHER_LISTED {
                let shown = |si: f64, kind: Option<QuantityKind>| {
                    kind.map_or_else(|| significant(si, 6), |k| format_si(k, si, UnitSystem::Si))
                };
                let (was, is) = (shown(a, before.kind), shown(b, input.kind));
                // What looks the same in print explains nothing.
                if was != is {
                    out.push(format!("{told}: {was} -> {is}"));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(place: &str) -> NumberChange {
        NumberChange {
            schedule: "Rooms",
            place: place.into(),
            quantity: "x".into(),
            title: "X".into(),
            si_unit: None,
            old: Some(CellValue::Number(1.0)),
            new: Some(CellValue::Number(2.0)),
            printed: true,
            causes: Vec::new(),
            more_causes: false,
            other_values: Vec::new(),
            column: drycoil_sizing::Column {
                key: "x",
                title: "X",
                kind: drycoil_sizing::ColumnKind::Number(0),
            },
        }
    }

    fn from(numbers: &[usize], inputs: &[usize]) -> Sources {
        Sources {
            numbers: numbers.iter().map(|n| (*n, StepKind::Formula)).collect(),
            inputs: inputs.iter().map(|i| (*i, StepKind::Formula)).collect(),
            other: Vec::new(),
        }
    }

    #[test]
    fn the_shortest_way_is_told_and_a_circle_ends() {
        // 0 takes input 7; 1 takes 0 and 2; 2 takes 1; 3 takes 2 and 0.
        let nodes: Vec<NumberChange> = ["a", "b", "c", "d"].map(number).into();
        let found =
            flow(&nodes, vec![from(&[], &[7]), from(&[0, 2], &[]), from(&[1], &[]), from(&[2, 0], &[])]);
        let way = |i: usize| -> Vec<&str> { found[i].0[0].steps.iter().map(|s| s.place.as_str()).collect() };
        assert_eq!(
            (way(0), way(1), way(2), way(3)),
            (vec!["a"], vec!["a", "b"], vec!["a", "b", "c"], vec!["a", "d"])
        );
        assert!(found.iter().all(|f| f.0.len() == 1 && f.0[0].input == 7 && !f.1));
    }

    #[test]
    fn what_nothing_leads_to_has_no_cause_and_many_causes_are_counted() {
        let nodes: Vec<NumberChange> = ["a", "b"].map(number).into();
        let many: Vec<usize> = (0..=LISTED).collect();
        let found = flow(&nodes, vec![from(&[], &many), from(&[], &[])]);
        assert_eq!((found[0].0.len(), found[0].1), (LISTED, true));
        assert_eq!((found[1].0.len(), found[1].1), (0, false));
    }
}
