//! Excursions as the page shows them: the table of cases, and one case moment by moment.

use crate::engine::Snapshot;
use crate::excursions::Known;
use drycoil_control::excursion::building::Building;
use drycoil_control::excursion::case::Case;
use drycoil_control::excursion::result::{Excursion, ExcursionResult, StageRecord};
use drycoil_papers::pictures as drawn;
use drycoil_pictures::Options;
use drycoil_units::{Quantity, QuantityKind as K, UnitSystem, format_si};
use serde_json::{Value, json};

/// Time within a case, in hours and minutes.
fn clock(s: f64) -> String {
    let minutes = (s / 60.0).round() as i64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

fn minutes(s: Option<f64>) -> String {
    s.map_or_else(|| "never".to_owned(), |s| format!("{:.0} min", s / 60.0))
}

fn grams(kg: f64) -> String {
    format!("{:.0} g", 1e3 * kg)
}

/// Value of a criterion, in words.
fn judged(value: Option<f64>, unit: &str) -> String {
    match (value, unit) {
        (None, "s") => "not at rest".to_owned(),
        (None, _) => "none".to_owned(),
        (Some(v), "s") => format!("{:.0} min", v / 60.0),
        (Some(v), "kg") => grams(v),
        // What rounds to zero has no sign.
        (Some(v), _) => format!("{:.0} %", (100.0 * v).round() + 0.0),
    }
}

fn result(r: &ExcursionResult, system: UnitSystem) -> Value {
    let criteria: Vec<Value> = r
        .criteria
        .iter()
        .map(|c| {
            json!({
                "what": c.criterion,
                "value": judged(c.value, &c.unit),
                "allowed": judged(Some(c.allowed), &c.unit),
                "passed": c.passed,
            })
        })
        .collect();
    json!({
        "passed": r.passed,
        "criteria": criteria,
        "day": super::date(r.day, r.month),
        "worst": r.worst_zone,
        "margin": r.smallest_margin_k.map_or_else(String::new, |k| format_si(K::TemperatureDifference, k, system)),
        "peak": format_si(K::Temperature, r.peak_dew_point_c, system),
        "noticed": minutes(r.noticed_s),
        "condensate": grams(r.condensate_kg),
        "condensate_without": grams(r.condensate_without_sequence_kg),
    })
}

/// The table of cases.
pub fn excursions(s: &Snapshot, system: UnitSystem) -> Value {
    let known: &Known = &s.excursions;
    let one = |case: &Case| {
        let found = known.results.get(&case.name);
        json!({
            "name": case.name,
            "title": case.title,
            "story": case.story,
            "result": found.map(|e| result(&e.result, system)),
        })
    };
    json!({
        "generation": known.generation,
        "stale": known.building.is_some() && known.generation != s.generation,
        "prepared": known.building.is_some(),
        "possible": s.designed.is_some() && !s.design_is_stale() && s.job.is_some(),
        "trouble": known.trouble,
        "doing": known.doing.as_ref().map(|d| json!({ "case": d.case, "done": d.done, "of": d.of })),
        "cases": known.cases.iter().map(one).collect::<Vec<_>>(),
    })
}

/// What is said of the excursions in the state: enough to know when to ask again.
pub fn excursions_summary(known: &Known) -> Value {
    json!({
        "generation": known.generation,
        "prepared": known.building.is_some(),
        "finished": known.results.len(),
        "trouble": known.trouble.is_some(),
        "doing": known.doing.as_ref().map(|d| json!({ "case": d.case, "done": d.done, "of": d.of })),
    })
}

fn stages(list: &[StageRecord]) -> Vec<Value> {
    list.iter()
        .filter(|s| s.to_s > s.from_s)
        .map(|s| {
            json!({
                "from_s": s.from_s,
                "to_s": s.to_s,
                "from": clock(s.from_s),
                "stage": s.stage,
                "reason": s.reason,
            })
        })
        .collect()
}

/// One case, moment by moment, with the picture of one zone: the one asked for, else the one with the smallest margin.
///
/// # Errors
/// The case was not run, or cannot be drawn; in words.
pub fn excursion(
    s: &Snapshot,
    name: &str,
    zone: Option<&str>,
    system: UnitSystem,
    options: &Options,
) -> Result<Value, String> {
    let known: &Known = &s.excursions;
    let e: &Excursion = known.results.get(name).ok_or_else(|| format!("the case `{name}` was not run"))?;
    let building: &Building = known.building.as_deref().ok_or("there is no building")?;
    let zone = match zone {
        Some(zone) => zone,
        None => &e.result.worst_zone,
    };
    let place = building.zones.iter().position(|z| z.id == zone).ok_or("there is no such zone")?;
    let picture = drawn::excursion(building, e, zone, options).map_err(|e| e.to_string())?;
    let job = s.designed.as_ref().map(|d| &d.job);
    let required_k = job.map_or(0.0, |j| j.loaded.project.criteria.required_margin().si());
    let t = |c: f64| format_si(K::Temperature, c, system);
    let dt = |k: f64| format_si(K::TemperatureDifference, k, system);
    let moments: Vec<Value> = e
        .run
        .history
        .iter()
        .map(|m| {
            let z = &m.zones[place];
            json!([
                m.stage.replace('_', " "),
                z.stage.replace('_', " "),
                t(m.outdoor_dew_point_c),
                t(m.primary_dew_point_c),
                t(z.water_c),
                t(z.dew_point_c),
                t(z.sensed_dew_point_c),
                dt(z.water_c - z.dew_point_c),
                t(z.room_c),
                format!("{:.1} g", 1e3 * z.film_kg),
                format!("{:.0} %", 100.0 * z.valve),
            ])
        })
        .collect();
    // By moment and zone: 0 the valve is shut, 1 dry, 2 below the margin that is asked for, 3 water colder than the dew
    // point, 4 water on the coil.
    let classes: Vec<String> = e
        .run
        .history
        .iter()
        .map(|m| {
            m.zones
                .iter()
                .map(|z| {
                    let margin = z.water_c - z.dew_point_c;
                    if z.film_kg > 1e-6 {
                        '4'
                    } else if z.valve <= 0.0 {
                        '0'
                    } else if margin < 0.0 {
                        '3'
                    } else if margin < required_k {
                        '2'
                    } else {
                        '1'
                    }
                })
                .collect()
        })
        .collect();
    let of_zone = e.result.zones.iter().find(|z| z.zone == zone);
    Ok(json!({
        "name": name,
        "title": e.result.title,
        "story": e.result.story,
        "zone": zone,
        "zones": building.zones.iter().map(|z| &z.id).collect::<Vec<_>>(),
        "svg": picture.svg(),
        "width": picture.width(),
        "height": picture.height(),
        "plots": super::pictures::plots(&picture),
        "trigger_s": e.result.trigger_s,
        "cause_ends_s": e.result.cause_ends_s,
        "times_s": e.run.history.iter().map(|m| m.time_s).collect::<Vec<_>>(),
        "clock": e.run.history.iter().map(|m| clock(e.case.from_s + m.time_s)).collect::<Vec<_>>(),
        "labels": [
            "Building", "Zone", "Outdoor dew point", "Supply dew point", "Water entering", "Dew point at the coil",
            "Dew point as sensed", "Margin", "Room", "Water on the coil", "Valve",
        ],
        "moments": moments,
        "classes": classes,
        "stages": stages(of_zone.map_or(&[][..], |z| &z.stages)),
        "building_stages": stages(&e.result.building_stages),
        "result": result(&e.result, system),
    }))
}
