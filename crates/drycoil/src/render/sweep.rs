//! A sweep as text: the Pareto set, the two optima, what each input explains; and the probability of wet coils.

use super::table::Table;
use super::text::{clean, count, wrap};
use super::year::Show;
use drycoil_papers::grouped;
use drycoil_results::{PointRecord, SweepDocument, UncertaintyDocument};
use drycoil_units::{QuantityKind as K, UnitSystem, format_si};
use std::fmt::Write as _;

/// Points or rooms that are listed unless all are asked for.
const FEWEST: usize = 15;

/// Metrics that the table of points shows, with the titles of their columns.
const SHOWN: [(&str, &str); 6] = [
    ("smallest_margin_k", "margin"),
    ("wet_room_h", "wet\nroom-h"),
    ("decoupled_site_energy_j", "decoupled\nMWh"),
    ("all_air_site_energy_j", "all-air\nMWh"),
    ("simulated_objective", "objective"),
    ("sizing_objective", "by sizing"),
];

/// What is shown of a sweep.
pub fn draw(document: &SweepDocument, system: UnitSystem, width: usize, all: bool) -> String {
    let mut out = String::new();
    let show = Show { system, width, currency: &document.currency };
    let good = document.points.iter().filter(|p| p.problem.is_none()).count();
    let _ = writeln!(
        out,
        "{}, revision {}: {}, {}, {} with a result",
        clean(&document.project),
        clean(&document.revision),
        count(document.points.len(), "point"),
        document.method,
        good
    );
    let goals: Vec<String> = document.goals.iter().map(|g| format!("{} {}", g.goal, g.metric)).collect();
    let _ = writeln!(out, "\n{}", if all { "All points" } else { "Points that no other point beats" });
    let _ = writeln!(out, "{}", wrap(&format!("Goals: {}.", goals.join(", ")), width, ""));
    points(&mut out, document, show, all);
    influence(&mut out, document, show);
    optimum(&mut out, document, show);
    out
}

fn column(document: &SweepDocument, name: &str) -> Option<usize> {
    document.metrics.iter().position(|m| m.name == name)
}

fn points(out: &mut String, document: &SweepDocument, show: Show<'_>, all: bool) {
    let mut titles = vec!["point".to_owned()];
    titles.extend(document.inputs.iter().map(|k| k.replace('.', "\n")));
    titles.extend(SHOWN.iter().map(|(name, title)| {
        if *name == "smallest_margin_k" {
            format!("{title}\n{}", show.system.symbol(K::TemperatureDifference))
        } else {
            (*title).to_owned()
        }
    }));
    titles.push("Pareto".into());
    let numbers = 1 + document.inputs.len()..1 + document.inputs.len() + SHOWN.len();
    let mut table = Table::new(titles).numbers(numbers);
    let mut listed: Vec<&PointRecord> = document.points.iter().filter(|p| all || p.pareto).collect();
    if !all && let Some(c) = column(document, "simulated_objective") {
        let of = |p: &PointRecord| p.values[c].unwrap_or(f64::INFINITY);
        listed.sort_by(|a, b| of(a).total_cmp(&of(b)).then(a.point.cmp(&b.point)));
    }
    let shown = if all { listed.len() } else { listed.len().min(FEWEST) };
    for p in &listed[..shown] {
        let mut row = vec![p.point.to_string()];
        row.extend(p.inputs.iter().cloned());
        for (name, _) in SHOWN {
            let value = column(document, name).and_then(|c| p.values[c]);
            row.push(match value {
                None => String::new(),
                Some(v) if name == "smallest_margin_k" => {
                    format!("{:.2}", show.system.value(K::TemperatureDifference, v))
                }
                Some(v) if name.ends_with("_j") => grouped(v / 3.6e9, 1),
                Some(v) if name == "wet_room_h" => grouped(v, 1),
                Some(v) => grouped(v, 0),
            });
        }
        row.push(if p.pareto { "yes" } else { "" }.to_owned());
        table.row(row);
    }
    out.push_str(&table.without_empty_columns().draw(show.width));
    if shown < listed.len() {
        let _ = writeln!(out, "and {} more; --all lists every point", listed.len() - shown);
    }
}

fn influence(out: &mut String, document: &SweepDocument, show: Show<'_>) {
    if document.influence.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nWhat moves the objective");
    let mut table = Table::new(["input", "share of the spread %", "between its means"]).numbers([1, 2]);
    for i in &document.influence {
        let range = if i.range > 0.0 { grouped(i.range, 0) } else { String::new() };
        table.row([i.input.clone(), format!("{:.1}", i.share * 100.0), range]);
    }
    out.push_str(&table.draw(show.width));
}

fn optimum(out: &mut String, document: &SweepDocument, show: Show<'_>) {
    let Some(o) = &document.optimum else { return };
    let point = |index: usize| {
        let p = &document.points[index];
        let inputs: Vec<String> =
            document.inputs.iter().zip(&p.inputs).map(|(k, v)| format!("{k} {v}")).collect();
        format!("point {} ({})", p.point, inputs.join(", "))
    };
    let _ = writeln!(out, "\nSizing's choice beside the choice of the simulated year");
    let mut text = if o.by_sizing == o.by_year {
        format!("Both choose {}.", point(o.by_year))
    } else {
        format!(
            "Sizing chooses {}, the simulated year {}. Following sizing costs {} a year, {:.2} % of the best objective; the \
             points differ by {} in all.",
            point(o.by_sizing),
            point(o.by_year),
            grouped(o.loss, 0),
            o.loss_share * 100.0,
            grouped(o.spread, 0)
        )
    };
    if let Some(p) = o.parts.first() {
        let _ = write!(
            text,
            " The largest disagreement is in {}: from the first point to the second sizing expects {} MWh, the year gives {} MWh.",
            p.part,
            signed(p.estimated_j),
            signed(p.simulated_j)
        );
    }
    let _ = writeln!(out, "{}", wrap(&clean(&text), show.width, ""));
    if !o.parts.is_empty() {
        let mut table =
            Table::new(["from sizing's point to that of the year", "sizing MWh", "year MWh"]).numbers([1, 2]);
        for p in &o.parts {
            table.row([p.part.clone(), signed(p.estimated_j), signed(p.simulated_j)]);
        }
        out.push_str(&table.draw(show.width));
    }
}

fn signed(j: f64) -> String {
    let text = grouped(j / 3.6e9, 2);
    if j > 0.0 && !text.starts_with('0') || text.trim_start_matches(['0', '.']).is_empty() {
        format!("+{text}")
    } else {
        text
    }
}

/// What is shown of the samples about one design.
pub fn draw_uncertain(document: &UncertaintyDocument, system: UnitSystem, width: usize, all: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{}, revision {}: how likely each coil gets wet",
        clean(&document.project),
        clean(&document.revision)
    );
    let _ = writeln!(out, "{}", wrap(&clean(&format!("{}.", document.method)), width, ""));
    let _ = writeln!(
        out,
        "Any coil wet in use, at least once in the year: {:.1} % of the samples",
        document.any_wet * 100.0
    );
    let k = system.symbol(K::TemperatureDifference);
    let mut table = Table::new([
        "room".to_owned(),
        "wet\n%".into(),
        "95 % bounds\n%".into(),
        "samples".into(),
        format!("mean margin\n{k}"),
        format!("smallest\n{k}"),
    ])
    .numbers([1, 2, 3, 4, 5]);
    let shown = if all { document.rooms.len() } else { document.rooms.len().min(FEWEST) };
    let number = |v: f64| {
        let text = format_si(K::TemperatureDifference, v, system);
        text.split(' ').next().unwrap_or_default().to_owned()
    };
    for r in &document.rooms[..shown] {
        table.row([
            r.room.clone(),
            format!("{:.1}", r.probability * 100.0),
            format!("{:.1} to {:.1}", r.low * 100.0, r.high * 100.0),
            r.samples.to_string(),
            number(r.mean_margin_k),
            number(r.smallest_margin_k),
        ]);
    }
    out.push('\n');
    out.push_str(&table.draw(width));
    if shown < document.rooms.len() {
        let _ = writeln!(out, "and {} that are less likely; --all lists them", document.rooms.len() - shown);
    }
    out
}
