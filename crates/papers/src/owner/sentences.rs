//! What a design and a year of both schemes mean, in plain words.

use crate::numbers::{Numbers, grouped};
use drycoil_project::Project;
use drycoil_results::YearParts;
use drycoil_sizing::{Design, Service};
use drycoil_units::Quantity;
use drycoil_units::{QuantityKind as K, format_si};
use drycoil_year::compare::{Measure, mean_humidity, served};
use drycoil_year::findings::{UNMET_HOURS, moment_words};
use drycoil_year::result::Scheme;
use drycoil_year::signals::EndUse;

/// A heading and what stands under it.
pub type OwnerSection = (&'static str, Vec<String>);

/// What a year of the schemes means, in plain sentences under headings; sections without a sentence are left out.
pub fn owner_sections(
    project: &Project,
    design: &Design,
    parts: &YearParts<'_>,
    numbers: Numbers<'_>,
) -> Vec<OwnerSection> {
    let mut sections = vec![
        ("What was compared", compared(project, design, parts)),
        ("Does it stay dry?", dry(project, design, parts, numbers)),
        ("Energy", energy(parts, numbers)),
        ("Money", money(parts, numbers)),
        ("Comfort", comfort(design, parts)),
        ("What this rests on", basis(parts)),
    ];
    sections.retain(|(_, sentences)| !sentences.is_empty());
    sections
}

fn measure<'a>(parts: &YearParts<'a>, what: &str) -> Option<&'a Measure> {
    parts.measures.iter().find(|m| m.what == what)
}

fn compared(project: &Project, design: &Design, parts: &YearParts<'_>) -> Vec<String> {
    let both = parts.year.schemes.len() == 2;
    let mut out = vec![format!(
        "{} in {} simulated through one typical weather year, hour by hour and in smaller steps between.",
        match project.rooms.len() {
            1 => "One room".to_owned(),
            n => format!("{n} rooms"),
        },
        format_args!("{} {}", design.site.place, if project.rooms.len() == 1 { "was" } else { "were" })
    )];
    if both {
        out.push(
            "The proposed system (called decoupled) brings in only the outdoor air that people need, dries it in one \
             central unit, and cools each room with a small fan unit and cool, never cold, water. It is set against the \
             usual alternative (called all-air), which cools and dries with large amounts of cold air from a central \
             unit. Both serve the same rooms, people, weather and temperatures."
                .to_owned(),
        );
    }
    out
}

fn dry(project: &Project, design: &Design, parts: &YearParts<'_>, numbers: Numbers<'_>) -> Vec<String> {
    let Some(s) = parts.year.scheme(Scheme::Decoupled) else { return Vec::new() };
    let rooms = s.rooms_by_margin();
    let wet: Vec<_> =
        rooms.iter().filter(|r| r.margin.as_ref().is_some_and(|m| m.occupied.below_zero_h > 0.0)).collect();
    let mut out = vec![
        "The room units have no drains, so water must never form on them. The distance to that point is the dew-point \
         margin."
            .to_owned(),
    ];
    let name =
        |id: &str| project.room(id).map_or_else(|| id.to_owned(), |r| format!("{} ({})", r.name, r.id));
    if wet.is_empty() {
        out.push("Over the whole year no unit gets wet while its room is in use.".to_owned());
        if let Some(r) = rooms.iter().min_by(|a, b| {
            let of = |r: &&&drycoil_year::result::RoomYear| {
                r.margin.as_ref().and_then(|m| m.smallest_occupied_k).unwrap_or(f64::INFINITY)
            };
            of(a).total_cmp(&of(b))
        }) && let Some(m) = &r.margin
            && let (Some(k), Some(at)) = (m.smallest_occupied_k, &m.occupied_at)
        {
            out.push(format!(
                "The closest call is {} on {}, with {} to spare.",
                name(&r.room),
                moment_words(at),
                spare(k, numbers)
            ));
        }
    } else {
        let hours: f64 = wet.iter().filter_map(|r| r.margin.as_ref()).map(|m| m.occupied.below_zero_h).sum();
        out.push(format!(
            "It does NOT stay dry everywhere: {} of {} units can get wet while their rooms are in use, for {} hours in all; \
             the first to look at is {}.",
            wet.len(),
            rooms.len(),
            grouped(hours, 0),
            name(&wet[0].room)
        ));
    }
    let empty = rooms
        .iter()
        .filter(|r| r.margin.as_ref().is_some_and(|m| m.all.below_zero_h > m.occupied.below_zero_h))
        .count();
    out.extend(below_required(project, design, numbers));
    if empty > 0 {
        out.push(format!(
            "Outside the hours of use {empty} units have hours in which their valve must stay shut until the room is dry."
        ));
    }
    out
}

/// A margin in words; one that rounds to nothing says so.
fn spare(k: f64, numbers: Numbers<'_>) -> String {
    let kind = K::TemperatureDifference;
    if numbers.system.value(kind, k) < 0.05 {
        // One step of the last digit that is shown.
        let step = 0.1 / numbers.system.value(kind, 1.0);
        format!("next to nothing (less than {})", format_si(kind, step, numbers.system))
    } else {
        format_si(kind, k, numbers.system)
    }
}

/// Units whose margin at design is smaller than the project asks for.
fn below_required(project: &Project, design: &Design, numbers: Numbers<'_>) -> Option<String> {
    let required = project.criteria.required_margin().si();
    let short = design.terminals.iter().filter(|t| t.water_margin_k < t.required_margin_k - 1e-9).count();
    let smallest = design.terminals.iter().map(|t| t.water_margin_k).fold(f64::INFINITY, f64::min);
    (short > 0).then(|| {
        format!(
            "The allowance that the design wants for errors of sensors and control, {}, is NOT kept by {short} of {} units at \
             the worst hour of design; the least of them has {}.",
            format_si(K::TemperatureDifference, required, numbers.system),
            design.terminals.len(),
            if smallest < 0.0 { "none".to_owned() } else { spare(smallest, numbers) }
        )
    })
}

/// Below this share of the whole two schemes use about the same.
const ABOUT_THE_SAME: f64 = 0.01;

fn energy(parts: &YearParts<'_>, numbers: Numbers<'_>) -> Vec<String> {
    let mut out = Vec::new();
    let text = |v: f64, unit: &str| {
        let (n, u) = numbers.value(unit, v);
        format!("{n} {u}")
    };
    if let Some(m) = measure(parts, "site energy")
        && let (Some(d), Some(a), Some(share)) = (m.decoupled, m.all_air, m.difference_share)
    {
        out.push(if share.abs() < ABOUT_THE_SAME {
            format!(
                "The decoupled scheme uses {} a year for heating, cooling and ventilation, the all-air scheme {}: about the same, \
                 less than {:.0} % apart.",
                text(d, &m.unit), text(a, &m.unit), ABOUT_THE_SAME * 100.0
            )
        } else if share < 0.0 {
            format!(
                "The decoupled scheme uses {} a year for heating, cooling and ventilation, the all-air scheme {}: {:.0} % less.",
                text(d, &m.unit), text(a, &m.unit), -share * 100.0
            )
        } else {
            format!(
                "The decoupled scheme does NOT save energy here: it uses {} a year for heating, cooling and ventilation, the \
                 all-air scheme {}, so it takes {:.0} % more.",
                text(d, &m.unit), text(a, &m.unit), share * 100.0
            )
        });
        out.extend(reason(parts));
    }
    if let Some(m) = measure(parts, "peak electricity")
        && let (Some(d), Some(a)) = (m.decoupled, m.all_air)
    {
        out.push(format!(
            "The highest electric load, over {:.0} minutes, is {} against {}.",
            parts.year.step_s / 60.0,
            text(d, &m.unit),
            text(a, &m.unit)
        ));
    }
    out
}

/// The end uses that make most of the difference, in both directions.
fn reason(parts: &YearParts<'_>) -> Option<String> {
    let d = parts.year.scheme(Scheme::Decoupled)?;
    let a = parts.year.scheme(Scheme::AllAir)?;
    let mut differences: Vec<(EndUse, f64)> = d
        .end_uses
        .iter()
        .zip(&a.end_uses)
        .map(|(d, a)| {
            let sum = |e: &drycoil_year::result::EndUseYear| {
                e.electricity_j.iter().sum::<f64>() + e.fuel_j.iter().sum::<f64>()
            };
            (d.end_use, sum(d) - sum(a))
        })
        .collect();
    differences.sort_by(|a, b| a.1.total_cmp(&b.1));
    let words = |list: Vec<&(EndUse, f64)>| {
        list.iter()
            .map(|(e, j)| format!("{} ({} MWh)", e.words(), grouped(j.abs() / 3.6e9, 1)))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let threshold = 0.02 * a.site_energy_j();
    let less: Vec<_> = differences.iter().filter(|(_, j)| *j < -threshold).take(3).collect();
    let more: Vec<_> = differences.iter().rev().filter(|(_, j)| *j > threshold).take(3).collect();
    match (less.is_empty(), more.is_empty()) {
        (true, true) => None,
        (false, true) => Some(format!("It needs less for {}.", words(less))),
        (true, false) => Some(format!("It needs more for {}.", words(more))),
        (false, false) => {
            Some(format!("It needs less for {}; it needs more for {}.", words(less), words(more)))
        }
    }
}

fn money(parts: &YearParts<'_>, numbers: Numbers<'_>) -> Vec<String> {
    let mut out = Vec::new();
    let cost = |v: f64| {
        let (n, u) = numbers.value("currency", v);
        format!("{n} {u}")
    };
    if let Some(m) = measure(parts, "cost of energy a year") {
        match (m.decoupled, m.all_air) {
            (Some(d), Some(a)) => out.push(format!(
                "At the prices entered, energy costs {} a year with the decoupled and {} with the all-air scheme, {}{} {}.",
                cost(d),
                cost(a),
                if (d - a).abs() < ABOUT_THE_SAME * a { "about the same: " } else { "" },
                cost((d - a).abs()),
                if d <= a { "less" } else { "MORE" }
            )),
            _ => out.push("The cost of energy cannot be given, because not all prices are entered.".to_owned()),
        }
    }
    let other = |s: Scheme| parts.economy.schemes.iter().find(|c| c.scheme == s)?.yearly_other.value;
    if let (Some(d), Some(a)) = (other(Scheme::Decoupled), other(Scheme::AllAir))
        && d.max(a) > 0.0
    {
        out.push(format!("Water and maintenance cost {} and {} a year.", cost(d), cost(a)));
    }
    if let Some(years) = parts.economy.study_years {
        if let Some(c) = &parts.economy.comparison {
            out.push(format!(
                "Everything counted over {years} years (building, replacing, energy, water and maintenance), the decoupled scheme \
                 costs {} {} today{}.",
                cost(c.net_savings.abs()),
                if c.net_savings >= 0.0 { "less" } else { "MORE" },
                if c.net_savings >= 0.0 { "" } else { ": it does NOT win" }
            ));
        } else if let Some(v) = parts.economy.break_even_added_first_cost {
            out.push(format!(
                "Over {years} years that {} is worth {} today; building, replacing, water and maintenance are not in that.",
                if v >= 0.0 { "saving of energy" } else { "added energy" },
                cost(v.abs())
            ));
        }
    }
    let mut open: Vec<&str> = Vec::new();
    for s in &parts.economy.schemes {
        for n in &s.first.not_priced {
            if !open.contains(&n.as_str()) {
                open.push(n);
            }
        }
    }
    if !open.is_empty() {
        out.push(format!("What each costs to build is not compared: {} have no price.", open.join(", ")));
    }
    out
}

fn comfort(design: &Design, parts: &YearParts<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for s in &parts.year.schemes {
        let of = |r: &drycoil_year::result::RoomYear| r.unmet.warm_h + r.unmet.cold_h;
        let over = served(design, s).filter(|r| of(r) > UNMET_HOURS).count();
        let humid: f64 = served(design, s).map(|r| r.humidity.above_code_occupied_h).sum();
        let mean = mean_humidity(design, s)
            .map_or_else(String::new, |m| format!("{:.0} % relative humidity on average, ", m * 100.0));
        out.push(format!(
            "{}: {mean}{} too warm or too cold for more than {UNMET_HOURS:.0} hours of use{}",
            match s.scheme {
                Scheme::Decoupled => "Decoupled",
                Scheme::AllAir => "All-air",
            },
            match over {
                0 => "no room".to_owned(),
                1 => "1 room".to_owned(),
                n => format!("{n} rooms"),
            },
            if humid > 0.0 {
                format!(
                    ", {} room-hours above the highest dew point that the code allows.",
                    grouped(humid, 0)
                )
            } else {
                ", none ever above the highest dew point that the code allows.".to_owned()
            }
        ));
    }
    out
}

fn basis(parts: &YearParts<'_>) -> Vec<String> {
    vec![
        format!(
            "One weather year is not every year, and people use buildings differently than planned. The comparison rests on \
             {} assumptions, each listed with its source in the design basis.",
            parts.assumptions.len()
        ),
        "Results are design aids for a licensed engineer, who remains responsible for the design.".to_owned(),
    ]
}

/// What a design means before its year is known.
pub(super) fn design_sections(project: &Project, design: &Design, numbers: Numbers<'_>) -> Vec<OwnerSection> {
    let show = |kind: K, v: f64| format_si(kind, v, numbers.system);
    let served = design.needs.iter().filter(|n| n.service == Service::Terminal).count();
    let mut dry = vec![
        "The room units have no drains, so water must never form on them. The distance to that point is the dew-point \
         margin."
            .to_owned(),
    ];
    if let Some(t) = design.terminals.first() {
        dry.push(if t.water_margin_k < 0.0 {
            format!(
                "At the worst hour of design the unit of {} does NOT stay dry: {} are missing.",
                t.zone,
                show(K::TemperatureDifference, -t.water_margin_k)
            )
        } else {
            format!(
                "At the worst hour of design the closest call is the unit of {}, with {} to spare; {} are wanted.",
                t.zone,
                show(K::TemperatureDifference, t.water_margin_k),
                show(K::TemperatureDifference, t.required_margin_k)
            )
        });
    }
    vec![
        (
            "What is proposed",
            vec![
                format!(
                    "In {}, {served} of {} rooms get a small fan unit with cool, never cold, water. One central unit brings in \
                     the outdoor air that people need, {}, and dries it.",
                    design.site.place,
                    project.rooms.len(),
                    show(K::StandardAirFlow, design.primary_unit.delivered_m3_per_s)
                ),
            ],
        ),
        ("Does it stay dry?", dry),
        (
            "What is not known yet",
            vec![
                "A year of operation was not simulated for this page, so it says nothing about energy and money.".to_owned(),
                "Results are design aids for a licensed engineer, who remains responsible for the design.".to_owned(),
            ],
        ),
    ]
}
