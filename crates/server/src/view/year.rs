//! The year in tables.

use crate::engine::Simulated;
use drycoil_papers::{Numbers, grouped};
use drycoil_units::{QuantityKind as K, UnitSystem};
use drycoil_year::findings::moment_words;
use drycoil_year::result::{ONE_DEGF_K, Scheme};
use serde_json::{Value, json};

fn column(title: &str, unit: &str, number: Kind) -> Value {
    json!({ "key": "", "title": title, "unit": unit, "number": number == Kind::Number })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Number,
}

fn table(name: &str, title: &str, columns: &[Value], rows: Vec<(String, Vec<String>)>) -> Value {
    json!({
        "name": name,
        "title": title,
        "upright": false,
        "working": false,
        "columns": columns,
        "rows": rows.into_iter().map(|(place, cells)| json!({ "place": place, "prefix": "", "cells": cells })).collect::<Vec<_>>(),
    })
}

/// All tables of a year.
pub(crate) fn tables(y: &Simulated, system: UnitSystem) -> Vec<Value> {
    let mut out = vec![margins(y, system)];
    if !y.told.measures.is_empty() {
        out.push(side_by_side(y, system));
    }
    out.push(end_uses(y));
    out.retain(|t| t["rows"].as_array().is_some_and(|r| !r.is_empty()));
    out
}

fn margins(y: &Simulated, system: UnitSystem) -> Value {
    let k = system.symbol(K::TemperatureDifference);
    let number = |v: f64| format!("{:.1}", system.value(K::TemperatureDifference, v));
    let hours = |h: f64| if h == 0.0 { "0".to_owned() } else { grouped(h, usize::from(h < 100.0)) };
    let edge = |steps: f64| format!("Below {} {k}, all hours", number(steps * ONE_DEGF_K));
    let columns = vec![
        column("Room", "", Kind::Text),
        column("Smallest margin", k, Kind::Number),
        column("When", "", Kind::Text),
        column("Smallest in use", k, Kind::Number),
        column(&edge(0.0), "h", Kind::Number),
        column(&edge(1.0), "h", Kind::Number),
        column(&edge(2.0), "h", Kind::Number),
        column("Held shut", "h", Kind::Number),
        column("Condensing", "h", Kind::Number),
    ];
    let rows = y.year.scheme(Scheme::Decoupled).map_or_else(Vec::new, |scheme| {
        scheme
            .rooms_by_margin()
            .into_iter()
            .filter_map(|r| r.margin.as_ref().map(|m| (r, m)))
            .map(|(r, m)| {
                let cells = vec![
                    r.room.clone(),
                    number(m.smallest_k),
                    moment_words(&m.at),
                    m.smallest_occupied_k.map_or_else(String::new, number),
                    hours(m.all.below_zero_h),
                    hours(m.all.below_one_degf_h),
                    hours(m.all.below_two_degf_h),
                    hours(m.held_shut_h),
                    hours(m.condensation_h),
                ];
                (r.room.clone(), cells)
            })
            .collect()
    });
    table("Margins", "Dew-point margin of the coils over the year, smallest first", &columns, rows)
}

fn side_by_side(y: &Simulated, system: UnitSystem) -> Value {
    let numbers = Numbers { system, currency: &y.told.economy.currency };
    let columns = vec![
        column("Of the year", "", Kind::Text),
        column("Unit", "", Kind::Text),
        column("Decoupled", "", Kind::Number),
        column("All-air", "", Kind::Number),
        column("Difference", "", Kind::Number),
        column("Share", "%", Kind::Number),
        column("Better", "", Kind::Text),
    ];
    let rows = y
        .told
        .measures
        .iter()
        .map(|m| {
            let number =
                |v: Option<f64>| v.map_or_else(|| "-".to_owned(), |v| numbers.measure(&m.what, &m.unit, v).0);
            let cells = vec![
                m.what.clone(),
                numbers.measure(&m.what, &m.unit, 0.0).1,
                number(m.decoupled),
                number(m.all_air),
                number(m.difference),
                m.difference_share.map_or_else(String::new, |s| format!("{:+.1}", s * 100.0)),
                match m.decoupled_wins() {
                    Some(true) => "decoupled".to_owned(),
                    Some(false) => "all-air".to_owned(),
                    None => String::new(),
                },
            ];
            (String::new(), cells)
        })
        .collect();
    table("Schemes", "The schemes side by side", &columns, rows)
}

fn end_uses(y: &Simulated) -> Value {
    let mut columns = vec![column("End use", "", Kind::Text)];
    for s in &y.year.schemes {
        columns.push(column(&format!("{}, electricity", s.scheme.word()), "MWh", Kind::Number));
        columns.push(column(&format!("{}, fuel", s.scheme.word()), "MWh", Kind::Number));
    }
    let mwh = |months: &[f64; 12]| {
        let j: f64 = months.iter().sum();
        if j == 0.0 { String::new() } else { grouped(j / 3.6e9, 2) }
    };
    let first = y.year.schemes.first().map_or(&[][..], |s| &s.end_uses[..]);
    let rows = first
        .iter()
        .enumerate()
        .map(|(i, use_)| {
            let mut cells = vec![use_.end_use.words().to_owned()];
            for s in &y.year.schemes {
                cells.push(mwh(&s.end_uses[i].electricity_j));
                cells.push(mwh(&s.end_uses[i].fuel_j));
            }
            (String::new(), cells)
        })
        .collect();
    table("End uses", "Where the energy goes", &columns, rows)
}
