//! Hours of the year, a day at a time, and states of air under the pointer.

use crate::engine::{Designed, Snapshot};
use drycoil_air::{MoistAir, raw};
use drycoil_papers::grouped;
use drycoil_units::{
    HumidityRatio, Pressure, Quantity, QuantityKind as K, Temperature, UnitSystem, format_si,
};
use drycoil_year::result::Scheme;
use serde_json::{Value, json};

/// Hours before 29 February ends.
const LEAP_DAY: usize = 59;

/// One day of the year, hour by hour. Days count from 0 as in the carpet, which leaves out 29 February.
///
/// # Errors
/// There is no year, or no such day; in words.
pub fn day(s: &Snapshot, day: usize, system: UnitSystem) -> Result<Value, String> {
    let y = s.simulated.as_ref().ok_or("there is no year yet")?;
    let scheme = y.year.scheme(Scheme::Decoupled).ok_or("the decoupled scheme was not simulated")?;
    if day >= 365 {
        return Err("the carpet has 365 days".to_owned());
    }
    let day = if y.year.hours > 8760 && day >= LEAP_DAY { day + 1 } else { day };
    let weather = &y.designed.job.weather.year;
    let stamp = weather.stamp(day * 24).ok_or("there is no such day")?;
    let k = |v: Option<f64>| {
        v.map_or_else(|| "-".to_owned(), |v| format!("{:.1}", system.value(K::TemperatureDifference, v)))
    };
    let t = |c: f64| format!("{:.1}", system.value(K::Temperature, c));
    let kw = |w: f64| grouped(w / 1e3, 1);
    let all_air = y.year.scheme(Scheme::AllAir);
    let mut columns = vec![
        ("Hour", ""),
        ("Smallest margin", system.symbol(K::TemperatureDifference)),
        ("Most humid room", system.symbol(K::Temperature)),
        ("Outdoor dew point", system.symbol(K::Temperature)),
        ("Outdoor air", system.symbol(K::Temperature)),
        ("Cooling", "kW"),
        ("Heating", "kW"),
        ("Electricity", "kW"),
    ];
    if all_air.is_some() {
        columns.push(("All-air electricity", "kW"));
    }
    let required_k = y.designed.job.loaded.project.criteria.required_margin().si();
    let hours: Vec<Value> = (day * 24..day * 24 + 24)
        .filter(|h| *h < y.year.hours)
        .map(|h| {
            let margin = scheme.hourly.smallest_margin_k[h];
            let pressure = weather.pressure_pa()[h];
            let mut cells = vec![
                format!("{:02}:00", h % 24),
                k(margin),
                scheme.hourly.wettest_room_kg_per_kg[h]
                    .map_or_else(|| "-".to_owned(), |w| t(raw::dew_point_c(w, pressure))),
                t(weather.dew_point_c()[h]),
                t(weather.dry_bulb_c()[h]),
                kw(scheme.hourly.cooling_w[h]),
                kw(scheme.hourly.heating_w[h]),
                kw(scheme.hourly.electricity_w[h]),
            ];
            if let Some(a) = all_air {
                cells.push(kw(a.hourly.electricity_w[h]));
            }
            let low = margin.is_some_and(|m| m < required_k);
            json!({ "cells": cells, "low": low, "wet": margin.is_some_and(|m| m < 0.0) })
        })
        .collect();
    Ok(json!({
        "title": super::date(stamp.day, stamp.month),
        "columns": columns.iter().map(|(title, unit)| json!({ "title": title, "unit": unit })).collect::<Vec<_>>(),
        "hours": hours,
        "stale": s.year_is_stale(),
    }))
}

fn pressure_pa(s: &Snapshot) -> Result<f64, String> {
    let d: &Designed = s.designed.as_deref().ok_or("there is no design yet")?;
    Ok(d.design.site.pressure_pa)
}

/// A state of moist air at the pressure of the site, in words.
///
/// # Errors
/// There is no such state; in words.
pub fn air(s: &Snapshot, t_c: f64, w_kg_per_kg: f64, system: UnitSystem) -> Result<Value, String> {
    let p = pressure_pa(s)?;
    MoistAir::new(Temperature::from_si(t_c), HumidityRatio::from_si(w_kg_per_kg), Pressure::from_si(p))
        .map_err(|e| e.to_string())?;
    let lines = [
        ("Dry bulb", format_si(K::Temperature, t_c, system)),
        ("Wet bulb", format_si(K::Temperature, raw::wet_bulb_c(t_c, w_kg_per_kg, p), system)),
        ("Dew point", format_si(K::Temperature, raw::dew_point_c(w_kg_per_kg, p), system)),
        ("Humidity ratio", format_si(K::HumidityRatio, w_kg_per_kg, system)),
        ("Relative humidity", format!("{:.0} %", 100.0 * raw::relative_humidity(t_c, w_kg_per_kg, p))),
        ("Enthalpy", format_si(K::SpecificEnthalpy, raw::enthalpy_j_per_kg(t_c, w_kg_per_kg), system)),
    ];
    Ok(json!({ "lines": lines }))
}

/// Where a supply state was dropped, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum At {
    /// On the chart.
    HumidityRatio(f64),
    /// On the curve.
    DewPoint(f64),
}

/// A supply dew point as it is written into the project: to a tenth of a degree.
///
/// # Errors
/// It is no number; in words.
pub fn pin(s: &Snapshot, at: At, system: UnitSystem) -> Result<Value, String> {
    let c = match at {
        At::HumidityRatio(w) if w > 0.0 && w < 0.1 => raw::dew_point_c(w, pressure_pa(s)?),
        At::DewPoint(c) if (-40.0..60.0).contains(&c) => c,
        _ => return Err("there is no such dew point".to_owned()),
    };
    let shown = (system.value(K::Temperature, c) * 10.0).round() / 10.0;
    let text = format!("{shown:.1} {}", system.symbol(K::Temperature));
    Ok(json!({ "text": text }))
}

/// Where the supply state stands on the chart, SI; none without a design.
pub(crate) fn supply(s: &Snapshot) -> Option<Value> {
    let d = s.designed.as_deref()?;
    let case = d.design.primary_unit.cases.iter().find(|c| c.case == "dehumidification")?;
    let last = case.points.iter().rfind(|p| !p.point.starts_with("exhaust"))?;
    Some(json!({
        "t_c": last.dry_bulb_c,
        "dew_point_c": d.design.dew_point.supply_dew_point_c,
        "w": d.design.dew_point.supply_humidity_ratio_kg_per_kg,
        "pinned": d.job.loaded.project.criteria.pins.supply_dew_point.is_some(),
    }))
}
