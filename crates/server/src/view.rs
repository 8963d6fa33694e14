//! What the page shows, as JSON: texts in the unit system asked for, ready to be drawn. The page computes nothing.

mod excursion;
mod hours;
mod input;
mod pictures;
mod stages;
mod year;

pub use excursion::{excursion, excursions};
pub use hours::{At, air, day, pin};
pub use input::{forms, table};
pub use pictures::picture;
pub use stages::{STAGES, Stage, stage};

use crate::engine::{Busy, Extent, Snapshot};
use drycoil_findings::{Finding, Severity};
use drycoil_papers::Numbers;
use drycoil_results::{FindingRecord, SheetRecord};
use drycoil_units::{QuantityKind as K, UnitSystem, format_si};
use drycoil_year::findings::moment_words;
use drycoil_year::result::Scheme;
use serde_json::{Value, json};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A day of the year in words; months count from 1.
pub(crate) fn date(day: u8, month: u8) -> String {
    let name = usize::from(month).checked_sub(1).and_then(|m| MONTHS.get(m));
    name.map_or_else(String::new, |name| format!("{day} {name}"))
}

/// The word of a unit system.
pub(crate) fn system_word(system: UnitSystem) -> &'static str {
    match system {
        UnitSystem::Si => "si",
        UnitSystem::Ip => "ip",
    }
}

/// A number of the strip along the top.
#[allow(clippy::needless_pass_by_value)] // They are made for it.
fn figure(key: &str, label: &str, value: String, detail: String, stale: Stale) -> Value {
    json!({ "key": key, "label": label, "value": value, "detail": detail, "stale": stale == Stale::Yes })
}

/// Whether a number is of an older state of the files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stale {
    Yes,
    No,
}

impl From<bool> for Stale {
    fn from(is: bool) -> Self {
        if is { Self::Yes } else { Self::No }
    }
}

fn kelvin(system: UnitSystem, k: f64) -> String {
    format_si(K::TemperatureDifference, k, system)
}

/// The strip: smallest margin and governing room at design and over the year, supply dew point, energy.
fn strip(s: &Snapshot, system: UnitSystem) -> Vec<Value> {
    let mut out = Vec::new();
    if let Some(d) = &s.designed {
        let stale = Stale::from(s.design_is_stale() || s.job.is_none());
        let project = &d.job.loaded.project;
        let named = |id: &str| project.room(id).map_or_else(|| id.to_owned(), |r| format!("{id} {}", r.name));
        if let Some(t) = d.design.terminals.first() {
            let mut item = figure(
                "margin",
                "Least dew-point margin, design",
                kelvin(system, t.water_margin_k),
                named(&t.zone),
                stale,
            );
            item["working"] = json!({ "place": t.zone, "quantity": "dew_point_margin" });
            item["room"] = json!(t.rooms.first());
            item["low"] =
                json!(t.water_margin_k < drycoil_units::Quantity::si(project.criteria.required_margin()));
            item["wet"] = json!(t.water_margin_k < 0.0);
            out.push(item);
        }
        let point = &d.design.dew_point;
        let mut item = figure(
            "supply",
            "Supply dew point",
            format_si(K::Temperature, point.supply_dew_point_c, system),
            point.governing.first().map_or_else(String::new, |g| named(&g.room)),
            stale,
        );
        item["room"] = json!(point.governing.first().map(|g| &g.room));
        item["stage"] = json!("dew-point");
        out.push(item);
    }
    if let Some(y) = &s.simulated {
        let stale = Stale::from(s.year_is_stale() || s.job.is_none());
        if let Some(scheme) = y.year.scheme(Scheme::Decoupled)
            && let Some(first) = scheme.rooms_by_margin().first()
            && let Some(m) = &first.margin
        {
            let mut item = figure(
                "year-margin",
                "Least margin, year",
                kelvin(system, m.smallest_k),
                format!("{}, {}", first.room, moment_words(&m.at)),
                stale,
            );
            item["room"] = json!(first.room);
            item["wet"] = json!(m.smallest_k < 0.0);
            item["stage"] = json!("year");
            out.push(item);
        }
        let numbers = Numbers { system, currency: &y.told.economy.currency };
        let energy = y.told.measures.iter().find(|m| m.what == "site energy");
        let item = match (energy, y.year.scheme(Scheme::Decoupled)) {
            (Some(m), _) => figure(
                "energy",
                "Energy a year",
                m.decoupled.map_or_else(|| "-".to_owned(), |v| numbers.text(&m.unit, v)),
                match (m.difference, m.difference_share) {
                    (Some(_), Some(share)) if share.abs() < 0.005 => "about the same as all-air".to_owned(),
                    (Some(by), Some(share)) => format!(
                        "{:.0} % {} than all-air",
                        (share * 100.0).abs(),
                        if by <= 0.0 { "less" } else { "MORE" }
                    ),
                    _ => String::new(),
                },
                stale,
            ),
            (None, Some(scheme)) => figure(
                "energy",
                "Energy a year",
                numbers.text("J", scheme.site_energy_j()),
                String::new(),
                stale,
            ),
            (None, None) => return out,
        };
        let mut item = item;
        item["stage"] = json!("year");
        out.push(item);
    }
    out
}

/// A stage to which a finding belongs: that of its place in the files, else that of its id.
fn stage_of(finding: &Finding) -> &'static str {
    let place = finding.places.first();
    match place.and_then(|p| p.file.as_deref()) {
        Some("rooms.csv" | "rooms.xlsx" | "surfaces.csv" | "profiles.csv") => return "rooms",
        Some("catalogue.toml") => return "terminals",
        Some("project.toml") => {
            let key = place.and_then(|p| p.key.as_deref()).unwrap_or_default();
            return stages::of_path(key.split('.').next().unwrap_or_default());
        }
        // The weather file.
        Some(_) => return "site",
        None => {}
    }
    match finding.kind.id.split('-').next() {
        Some("DP") => "dew-point",
        Some("TU") => "terminals",
        Some("PA" | "VN") => "primary-air",
        Some("WP") => "water",
        Some("SQ") => "sequence",
        Some("EX") => "excursion",
        Some("YR") => "year",
        Some("WX" | "PF") => "site",
        _ => "rooms",
    }
}

/// The state: what is computed, the strip, findings, stages.
pub fn state(s: &Snapshot, system: UnitSystem) -> Value {
    let findings: Vec<Value> = s
        .findings()
        .into_iter()
        .map(|f| {
            let mut record = serde_json::to_value(FindingRecord::from(f)).unwrap_or_default();
            record["stage"] = json!(stage_of(f));
            record["blocks"] = json!(f.is_bad_input());
            record
        })
        .collect();
    let count =
        |of: Severity| s.findings().iter().filter(|f| f.severity() == of && f.waiver.is_none()).count();
    let busy = match s.busy {
        Busy::Idle => json!({ "what": "idle" }),
        Busy::Cancelled => json!({ "what": "cancelled" }),
        Busy::Reading => json!({ "what": "reading" }),
        Busy::Sizing => json!({ "what": "sizing" }),
        Busy::Simulating(done, of) => json!({ "what": "year", "done": done, "of": of }),
        Busy::Telling => json!({ "what": "telling" }),
    };
    let project = s.job.as_ref().map(|j| &j.loaded.project);
    json!({
        "serial": s.serial,
        "generation": s.generation,
        "wanted": s.wanted,
        "busy": busy,
        "usable": s.job.is_some(),
        "project": project.map(|p| json!({
            "name": p.name.value,
            "revision": p.revision.value,
            "units": system_word(p.units()),
            "rooms": p.rooms.len(),
        })),
        "design": s.designed.as_ref().map(|d| json!({
            "generation": d.generation,
            "stale": s.design_is_stale(),
            "milliseconds": d.took.as_millis() as u64,
            "whole": d.extent == Extent::Whole,
        })),
        "year": s.simulated.as_ref().map(|y| json!({
            "generation": y.designed.generation,
            "stale": s.year_is_stale(),
            "milliseconds": y.took.as_millis() as u64,
        })),
        "no_year": s.no_year,
        "excursions": excursion::excursions_summary(&s.excursions),
        "strip": strip(s, system),
        "counts": {
            "error": count(Severity::Error),
            "warning": count(Severity::Warning),
            "note": count(Severity::Note),
        },
        "findings": findings,
        "stages": STAGES.iter().map(|stage| json!({ "id": stage.id, "title": stage.title })).collect::<Vec<_>>(),
    })
}

/// The page of a finding.
pub fn explain(id: &str) -> Option<Value> {
    let kind = drycoil_findings::registry::find(id)?;
    Some(json!({
        "id": kind.id,
        "severity": kind.severity.word(),
        "title": kind.title,
        "why": kind.why,
        "remedy": kind.remedy,
    }))
}

/// The sheet behind a number, from the function that `drycoil working` uses.
pub fn working(s: &Snapshot, place: &str, quantity: &str, system: UnitSystem) -> Option<Value> {
    let d = s.designed.as_ref()?;
    let sheet = drycoil_sizing::sheet(&d.job.loaded.project, &d.design, place, quantity)?;
    let mut value = serde_json::to_value(SheetRecord::new(&sheet, system)).unwrap_or_default();
    value["stale"] = json!(s.design_is_stale());
    Some(value)
}
