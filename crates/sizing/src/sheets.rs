//! Calculation sheets: how every number of the schedules was computed.
//!
//! A sheet is derived from the design and the project; nothing is recorded while sizing runs. Its last line is the
//! scheduled value itself, bit for bit; every line evaluates, from its printed numbers, to its printed result.

mod air;
mod building;
mod coil;
mod needs;
mod plant;
mod rooms;
mod states;
mod terminal_heating;
mod terminal_states;
mod terminals;
mod trade;
mod unit;

use crate::design::Design;
use crate::schedule::{Cell, ColumnKind, schedules};
use drycoil_project::{Project, Sourced};
use drycoil_units::QuantityKind as K;
use drycoil_working::{Line, Origin, Sheet, Source};

/// What the sheets are derived from.
#[derive(Clone, Copy)]
pub(crate) struct Cx<'a> {
    pub project: &'a Project,
    pub design: &'a Design,
}

/// The lines of a sheet, scheduled value last; `None` when no such quantity exists here.
pub(crate) type Lines = Option<Vec<Line>>;

pub(crate) const SUM: Source = Source::new("definition", "sum of the parts");
pub(crate) const GIVEN: Source = Source::new("definition", "value as entered or as tabulated");
pub(crate) const STANDARD_FLOW: Source =
    Source::new("definition", "standard flow: dry-air mass flow over 1.2014 kg/m3");
pub(crate) const BALANCE_WATER: Source =
    Source::new("mass balance of water vapour", "steady room with constant primary air");
pub(crate) const BALANCE_HEAT: Source =
    Source::new("heat balance", "steady flow, moist air as an ideal mixture");
pub(crate) const MOIST_AIR: Source =
    Source::new("ASHRAE Handbook Fundamentals 2017", "ch. 1, ideal-gas relations of moist air");

pub(crate) fn constant(what: &'static str) -> Origin {
    Origin::Constant(what)
}

/// The last line of another sheet.
pub(crate) fn see(place: &str, quantity: &str) -> Origin {
    Origin::Line(format!("{place} {quantity}"))
}

/// A line above on the same sheet.
pub(crate) fn above(symbol: &str) -> Origin {
    Origin::Line(symbol.to_owned())
}

/// A value that is taken as it stands.
pub(crate) fn given(symbol: &str, meaning: impl Into<String>, kind: K, si: f64, origin: Origin) -> Line {
    Line::new(symbol, meaning, "given").with("given", kind, si, origin).result(kind, si).source(GIVEN)
}

/// A plain number that is taken as it stands.
pub(crate) fn given_number(symbol: &str, meaning: impl Into<String>, value: f64, origin: Origin) -> Line {
    Line::new(symbol, meaning, "given").with_number("given", value, origin).result_number(value).source(GIVEN)
}

/// A value of the project as it stands.
pub(crate) fn entered<T>(symbol: &str, meaning: &str, kind: K, si: f64, from: &Sourced<T>) -> Vec<Line> {
    vec![given(symbol, meaning, kind, si, from.origin.clone())]
}

/// The same scheduled number on another sheet.
pub(crate) fn same(symbol: &str, meaning: &str, kind: K, si: f64, place: &str, quantity: &str) -> Vec<Line> {
    vec![
        Line::new(symbol, meaning, "x")
            .with("x", kind, si, see(place, quantity))
            .result(kind, si)
            .source(Source::new("definition", "the same number")),
    ]
}

/// Sum of parts under symbols made of a stem and a number.
pub(crate) fn sum_line(
    symbol: &str,
    meaning: &str,
    kind: K,
    total: f64,
    parts: impl IntoIterator<Item = (String, f64, Origin)>,
) -> Line {
    let mut names = Vec::new();
    let mut line = Line::new(symbol, meaning, "");
    for (name, si, origin) in parts {
        line = line.with(name.clone(), kind, si, origin);
        names.push(name);
    }
    if names.is_empty() {
        return Line::new(symbol, meaning, "none")
            .with("none", kind, 0.0, constant("no part contributes"))
            .result(kind, total)
            .source(SUM);
    }
    line.formula = format!("sum({})", names.join(", "));
    line.result(kind, total).source(SUM)
}

impl Cx<'_> {
    pub(crate) fn pressure_origin(&self) -> Origin {
        self.project.site.pressure.as_ref().map_or_else(
            || {
                self.project.site.elevation.as_ref().map_or(
                    Origin::Weather("standard atmosphere at the elevation of the weather station".into()),
                    |e| e.origin.clone(),
                )
            },
            |p| p.origin.clone(),
        )
    }

    pub(crate) fn p(&self) -> f64 {
        self.design.site.pressure_pa
    }
}

/// The sheet behind one scheduled quantity; `None` when the place has no such quantity in this design.
pub fn sheet(project: &Project, design: &Design, place: &str, quantity: &str) -> Option<Sheet> {
    let cx = Cx { project, design };
    let mut lines = rooms::lines(cx, place, quantity)
        .or_else(|| needs::lines(cx, place, quantity))
        .or_else(|| building::comfort(cx, place, quantity))
        .or_else(|| terminals::lines(cx, place, quantity))
        .or_else(|| building::lines(cx, place, quantity))
        .or_else(|| unit::lines(cx, place, quantity))
        .or_else(|| plant::lines(cx, place, quantity))?;
    trade::apply(place, quantity, &mut lines);
    let title = lines.last()?.meaning.clone();
    Some(Sheet { place: place.to_owned(), quantity: quantity.to_owned(), title, lines })
}

/// The places that have scheduled quantities, in the order of the schedules.
pub fn places(project: &Project, design: &Design) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut seen = std::collections::BTreeSet::new();
    for schedule in schedules(project, design) {
        for row in schedule.rows {
            if seen.insert(row.place.clone()) {
                out.push(row.place);
            }
        }
    }
    out
}

/// The scheduled quantities of a place, in the order of the schedules; empty when there is no such place.
pub fn quantities(project: &Project, design: &Design, place: &str) -> Vec<String> {
    let mut out = Vec::new();
    for schedule in schedules(project, design) {
        for row in schedule.rows.iter().filter(|r| r.place == place) {
            for (column, cell) in schedule.columns.iter().zip(&row.cells) {
                if column.kind != ColumnKind::Text && matches!(cell, Cell::Number(_)) {
                    out.push(row.quantity(column));
                }
            }
        }
    }
    out
}
