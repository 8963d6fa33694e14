//! The simulated year: both schemes, and what they cost.

use super::heading;
use crate::issue::Issue;
use crate::numbers::{Numbers, W_PER_KBTU_H, W_PER_TON, grouped, signed_percent};
use crate::pictures;
use crate::shell::Figures;
use crate::table::{RowKind, Tr, numbers, row, table, words};
use drycoil_pictures::Options;
use drycoil_results::YearParts;
use drycoil_units::{QuantityKind as K, UnitSystem};
use drycoil_year::economy::AmountRecord;
use drycoil_year::findings::moment_words;
use drycoil_year::result::{ONE_DEGF_K, Scheme, SchemeYear};
use maud::{Markup, html};

fn shown<'a>(issue: &Issue<'a>, parts: &YearParts<'a>) -> Numbers<'a> {
    Numbers { system: issue.system, currency: &parts.economy.currency }
}

const NOT_SIMULATED: &str = "The year was not simulated for this issue.";

/// Margins listed on paper; all are in the results.
const LISTED: usize = 12;

pub(super) fn comparison(issue: &Issue<'_>, figures: &mut Figures) -> Markup {
    let Some(parts) = &issue.year else {
        return html! { section { (heading("year")) p { (NOT_SIMULATED) } } };
    };
    let n = shown(issue, parts);
    let options = |id: &str| Options::new(issue.system, id);
    let measures: Vec<Tr> = parts
        .measures
        .iter()
        .map(|m| {
            let number =
                |v: Option<f64>| v.map_or_else(|| "-".to_owned(), |v| n.measure(&m.what, &m.unit, v).0);
            row([
                m.what.clone(),
                n.measure(&m.what, &m.unit, 0.0).1,
                number(m.decoupled),
                number(m.all_air),
                number(m.difference),
                m.difference_share.map_or_else(String::new, |s| signed_percent(s, 1)),
                match m.decoupled_wins() {
                    Some(true) => "decoupled".to_owned(),
                    Some(false) => "all-air".to_owned(),
                    None => String::new(),
                },
            ])
        })
        .collect();
    let year = parts.year;
    html! {
        section {
            (heading("year"))
            p {
                "Both schemes have the same weather, rooms, people, hours of use, ventilation rules and machine models. The year was run in "
                (grouped(year.steps as f64, 0)) " steps of " (format!("{:.0} s", year.step_s)) "."
            }
            @if measures.is_empty() { p { "Only one scheme was simulated, so there is no comparison." } }
            (table(
                "The schemes side by side",
                &[
                    words("Measure"),
                    words("Unit"),
                    numbers("Decoupled", ""),
                    numbers("All-air", ""),
                    numbers("Difference", ""),
                    numbers("Difference", "%"),
                    words("Better"),
                ],
                &measures,
            ))
            (margins(issue, parts))
            @if let Some(p) = pictures::carpet(issue.project, year, &options("carpet")) {
                (figures.figure(p, "Each column a day, each row an hour; blank where no coil holds or may take cold water."))
            }
            @if let Some(p) = pictures::months(year, &options("months")) { (figures.figure(p, "")) }
            @if let Some(p) = pictures::duration(year, &options("duration")) { (figures.figure(p, "")) }
            (end_uses(parts))
            (estimates(parts, n))
        }
    }
}

fn margins(issue: &Issue<'_>, parts: &YearParts<'_>) -> Markup {
    let Some(s) = parts.year.scheme(Scheme::Decoupled) else { return html! {} };
    let n = shown(issue, parts);
    let k = issue.system.symbol(K::TemperatureDifference);
    let rooms = s.rooms_by_margin();
    let rows: Vec<Tr> = rooms
        .iter()
        .take(LISTED)
        .filter_map(|r| {
            let m = r.margin.as_ref()?;
            let h = |v: f64| grouped(v, usize::from(v > 0.0 && v < 10.0));
            Some(row([
                format!("{} {}", r.room, issue.project.room(&r.room).map_or("", |r| r.name.as_str())),
                n.kelvin(m.smallest_k),
                moment_words(&m.at),
                m.smallest_occupied_k.map_or_else(String::new, |v| n.kelvin(v)),
                h(m.occupied.below_zero_h),
                h(m.occupied.below_one_degf_h),
                h(m.occupied.below_two_degf_h),
                h(m.all.below_zero_h),
                h(m.held_shut_h),
            ]))
        })
        .collect();
    let edge = |f: f64| format!("In use, below {} {k}", n.kelvin(f * ONE_DEGF_K));
    let caption = if rooms.len() > LISTED {
        format!("The {LISTED} smallest dew-point margins of {} coils over the year", rooms.len())
    } else {
        "Dew-point margins over the year".to_owned()
    };
    table(
        &caption,
        &[
            words("Room"),
            numbers("Smallest", k),
            words("When"),
            numbers("In use", k),
            numbers(edge(0.0), "h"),
            numbers(edge(1.0), "h"),
            numbers(edge(2.0), "h"),
            numbers(format!("At any time, below {} {k}", n.kelvin(0.0)), "h"),
            numbers("Valve held shut", "h"),
        ],
        &rows,
    )
}

fn end_uses(parts: &YearParts<'_>) -> Markup {
    let all: Vec<&SchemeYear> = parts.year.schemes.iter().collect();
    let Some(first) = all.first() else { return html! {} };
    let mwh = |j: f64| if j == 0.0 { String::new() } else { grouped(j / 3.6e9, 2) };
    let mut heads = vec![words("End use")];
    for s in &all {
        heads.push(numbers(format!("{}, electricity", s.scheme.word()), "MWh"));
        heads.push(numbers(format!("{}, fuel", s.scheme.word()), "MWh"));
    }
    let mut rows: Vec<Tr> = first
        .end_uses
        .iter()
        .enumerate()
        .map(|(i, e)| {
            let mut cells = vec![e.end_use.words().to_owned()];
            for s in &all {
                cells.push(mwh(s.end_uses[i].electricity_j.iter().sum()));
                cells.push(mwh(s.end_uses[i].fuel_j.iter().sum()));
            }
            row(cells)
        })
        .collect();
    let mut sum = vec!["Sum".to_owned()];
    for s in &all {
        sum.extend([mwh(s.electricity_j()), mwh(s.fuel_j())]);
    }
    rows.push(row(sum).kind(RowKind::Sum));
    table("Where the energy of the year goes", &heads, &rows)
}

fn estimates(parts: &YearParts<'_>, n: Numbers<'_>) -> Markup {
    let rows: Vec<Tr> = parts
        .estimates
        .iter()
        .map(|e| {
            let (number, unit) = n.value(&e.unit, e.estimated);
            row([
                e.what.clone(),
                unit,
                number,
                n.value(&e.unit, e.simulated).0,
                e.error_share.map_or_else(String::new, |s| signed_percent(s, 0)),
            ])
        })
        .collect();
    table(
        "The yearly estimate behind the choice, beside the simulation",
        &[
            words("Quantity"),
            words("Unit"),
            numbers("Estimated", ""),
            numbers("Simulated", ""),
            numbers("Error", "%"),
        ],
        &rows,
    )
}

/// The unit in which the trade buys what is counted in an SI unit, and how many of it are one of those.
fn traded<'a>(issue: &Issue<'_>, item: &str, si_unit: &'a str) -> (f64, &'a str) {
    let s = issue.system;
    match si_unit {
        "W" if s == UnitSystem::Si => (1e-3, "kW"),
        "W" if item.starts_with("cooling") => (1.0 / W_PER_TON, "ton"),
        "W" => (1.0 / W_PER_KBTU_H, "kBtu/h"),
        "m3/s" => (s.value(K::StandardAirFlow, 1.0), s.symbol(K::StandardAirFlow)),
        "m2" => (s.value(K::Area, 1.0), s.symbol(K::Area)),
        other => (1.0, other),
    }
}

fn amount(a: &AmountRecord) -> String {
    a.value.map_or_else(|| "not priced".to_owned(), |v| grouped(v, 0))
}

pub(super) fn cost(issue: &Issue<'_>) -> Markup {
    let Some(parts) = &issue.year else {
        return html! { section { (heading("cost")) p { (NOT_SIMULATED) } } };
    };
    let e = parts.economy;
    let n = shown(issue, parts);
    let mut bills: Vec<Tr> = Vec::new();
    let mut first: Vec<Tr> = Vec::new();
    let mut open: Vec<&str> = Vec::new();
    for s in &e.schemes {
        let scheme = s.scheme.word();
        for b in &s.bills {
            for c in &b.charges {
                bills.push(row([scheme, &b.carrier, &c.charge, &amount(&c.amount)]));
            }
        }
        bills.push(row([scheme, "energy", "all", &amount(&s.yearly_energy)]).kind(RowKind::Sum));
        bills.push(row([scheme, "water and maintenance", "all", &amount(&s.yearly_other)]));
        for c in &s.first_costs {
            let number = |v: Option<f64>, d| v.map_or_else(|| "-".to_owned(), |v| grouped(v, d));
            let (factor, unit) = traded(issue, &c.item, &c.unit);
            first.push(row([
                scheme.to_owned(),
                c.item.clone(),
                number(c.quantity.map(|q| q * factor), usize::from(factor != 1.0)),
                unit.to_owned(),
                number(c.unit_price.map(|p| p / factor), 2),
                c.amount.map_or_else(|| "not priced".to_owned(), |v| grouped(v, 0)),
                c.life_years.map_or_else(String::new, |y| y.to_string()),
            ]));
        }
        first.push(row([scheme, "sum", "", "", "", &amount(&s.first), ""]).kind(RowKind::Sum));
        for name in
            s.yearly_energy.not_priced.iter().chain(&s.yearly_other.not_priced).chain(&s.first.not_priced)
        {
            if !open.contains(&name.as_str()) {
                open.push(name);
            }
        }
    }
    let currency = e.currency.as_str();
    html! {
        section {
            (heading("cost"))
            (table(
                "Bills of the year",
                &[words("Scheme"), words("Carrier"), words("Charge"), numbers("Amount", currency)],
                &bills,
            ))
            (table(
                "First costs",
                &[
                    words("Scheme"),
                    words("Item"),
                    numbers("Quantity", ""),
                    words("Unit"),
                    numbers("Price of one", currency),
                    numbers("Amount", currency),
                    numbers("Life", "years"),
                ],
                &first,
            ))
            @if !open.is_empty() { p { "Not priced, so in no sum: " (open.join(", ")) "." } }
            (life_cycle(parts, n))
        }
    }
}

fn life_cycle(parts: &YearParts<'_>, n: Numbers<'_>) -> Markup {
    let e = parts.economy;
    let number =
        |v: Option<f64>, unit: &str| v.map_or_else(|| "none".to_owned(), |v| format!("{v:.2}{unit}"));
    html! {
        @if let (Some(rate), Some(years)) = (e.discount_rate, e.study_years) {
            p { "Life-cycle cost over " (years) " years at a real discount rate of " (format!("{:.2} %", rate * 100.0)) " a year." }
        } @else { p { "There is no life-cycle cost, because the project gives no discount rate or no study period." } }
        @if let Some(c) = &e.comparison {
            dl.facts {
                dt { "Net savings of the decoupled scheme" } dd { (n.text("currency", c.net_savings)) }
                dt { "Savings-to-investment ratio" } dd { (number(c.savings_to_investment, "")) }
                dt { "Adjusted internal rate of return" } dd { (number(c.adjusted_internal_rate_of_return.map(|r| r * 100.0), " %")) }
                dt { "Simple payback" } dd { (number(c.simple_payback_years, " years")) }
                dt { "Discounted payback" } dd { (number(c.discounted_payback_years, " years")) }
            }
            @for r in &c.remarks { p.note { (r) } }
        }
        @if let Some(v) = e.break_even_added_first_cost {
            p {
                "From energy alone the decoupled scheme "
                @if v >= 0.0 { "may cost up to " (n.text("currency", v)) " more" }
                @else { "would have to cost " (n.text("currency", -v)) " less" }
                " at first for the same life-cycle cost of energy; water, maintenance and replacements are not in that."
            }
        }
        @if let Some(source) = &e.emission_source { p.note { "Emission factors: " (source) "." } }
    }
}
