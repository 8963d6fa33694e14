//! Excursions as text, led by the dew-point margin.

use super::table::Table;
use super::text;
use drycoil_control::excursion::result::{ExcursionResult, StageRecord, ZoneResult};
use drycoil_control::excursion::sample::Robustness;
use drycoil_results::SEQUENCE_CAUTION;
use drycoil_units::{Quantity, Temperature, TemperatureDifference, UnitSystem};
use std::fmt::Write as _;

/// Zones of one case that are listed without being asked.
const LISTED: usize = 8;

fn minutes(s: Option<f64>) -> String {
    s.map_or_else(|| "-".to_owned(), |s| format!("{:.0}", s / 60.0))
}

fn clock(result: &ExcursionResult, s: f64) -> String {
    let total = (f64::from(result.from_hour) * 60.0 + s / 60.0).floor() as u64;
    format!("{:02}:{:02}", total / 60 % 24, total % 60)
}

fn margin(k: Option<f64>, system: UnitSystem) -> String {
    k.map_or_else(|| "shut".to_owned(), |k| TemperatureDifference::from_si(k).show(system))
}

fn grams(kg: f64) -> String {
    format!("{:.1}", 1e3 * kg)
}

fn percent(share: Option<f64>) -> String {
    share.map_or_else(|| "-".to_owned(), |s| format!("{:.1}", 100.0 * s))
}

/// All cases, one line each.
pub fn overview(results: &[&ExcursionResult], system: UnitSystem, width: usize) -> String {
    let mut table = Table::new([
        "case",
        "margin",
        "zone",
        "dew point\npeak",
        "noticed\nmin",
        "water on coils\ng",
        "without\ng",
        "drips\ng",
        "cooling lost\n%",
        "by upset\n%",
        "recovery\nmin",
        "best\nmin",
        "",
    ])
    .numbers([1, 3, 4, 5, 6, 7, 8, 9, 10, 11]);
    for r in results {
        table.row([
            r.case.clone(),
            margin(r.smallest_margin_k, system),
            text::clean(&r.worst_zone),
            Temperature::from_si(r.peak_dew_point_c).show(system),
            minutes(r.noticed_s),
            grams(r.condensate_kg),
            grams(r.condensate_without_sequence_kg),
            grams(r.dripped_kg),
            percent(r.cooling_lost_share),
            percent(r.cooling_lost_to_upset_share),
            minutes(r.recovery_s),
            r.best_recovery_s.map_or_else(String::new, |s| minutes(Some(s))),
            if r.passed { "pass".to_owned() } else { "FAIL".to_owned() },
        ]);
    }
    let mut out = table.draw(width);
    let _ = writeln!(
        out,
        "\nMargin: smallest water less dew point of the coil air while the coil was open. Without: the same upset with \
         thermostats alone.\nRecovery counts from the end of the cause; - means that the case ended before.\nBy upset: the part of the \
         cooling lost that no control could have kept, and best its recovery: every dew point known at once and without \
         error, water of its own for each zone. Worked out where a criterion would be missed; only what the sequence \
         loses beyond it is judged."
    );
    let _ = writeln!(out, "{SEQUENCE_CAUTION}");
    out
}

/// One case in full.
pub fn case(r: &ExcursionResult, system: UnitSystem, width: usize, all: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{} ({})", text::clean(&r.title), r.case);
    let _ = writeln!(out, "{}", text::clean(&r.story));
    let _ = writeln!(
        out,
        "{:02}-{:02} of the weather year, {} to {}, step {} s",
        r.month,
        r.day,
        clock(r, 0.0),
        clock(r, r.length_s),
        r.step_s
    );
    let _ = writeln!(
        out,
        "\nSmallest dew-point margin {} in zone {}; {}",
        margin(r.smallest_margin_k, system),
        text::clean(&r.worst_zone),
        if r.passed { "all criteria are met" } else { "a criterion is missed" }
    );
    let mut table = Table::new(["criterion", "value", "allowed", "unit", ""]).numbers([1, 2]);
    for c in &r.criteria {
        let (factor, unit) = match c.unit.as_str() {
            "kg" => (1e3, "g"),
            "s" => (1.0 / 60.0, "min"),
            _ => (100.0, "%"),
        };
        table.row([
            c.criterion.clone(),
            c.value.map_or_else(|| "none".to_owned(), |v| format!("{:.1}", v * factor)),
            format!("{:.1}", c.allowed * factor),
            unit.to_owned(),
            if c.passed { "pass".to_owned() } else { "FAIL".to_owned() },
        ]);
    }
    let _ = write!(out, "\n{}", table.draw(width));
    let _ = writeln!(out, "\nBuilding: {}", stages(r, &r.building_stages));
    let upset: Vec<&ZoneResult> = r
        .zones
        .iter()
        .filter(|z| all || z.stages.len() > 1 || z.water.condensate_kg > 0.0)
        .take(if all { usize::MAX } else { LISTED })
        .collect();
    if !upset.is_empty() {
        let mut table = Table::new([
            "zone",
            "margin",
            "dew point\npeak",
            "at",
            "noticed\nmin",
            "wet\nmin",
            "water\ng",
            "drips\ng",
            "without: drips\ng",
            "cooling lost\n%",
            "recovery\nmin",
        ])
        .numbers([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
        for z in &upset {
            table.row([
                text::clean(&z.zone),
                margin(z.water.smallest_margin_k, system),
                Temperature::from_si(z.peak_dew_point_c).show(system),
                clock(r, z.peak_s),
                minutes(z.noticed_s),
                format!("{:.0}", z.water.wet_s / 60.0),
                grams(z.water.condensate_kg),
                grams(z.water.dripped_kg),
                grams(z.without_sequence.dripped_kg),
                percent(z.cooling_lost_share),
                minutes(z.recovery_s),
            ]);
        }
        let _ = write!(out, "\n{}\n", table.draw(width));
        for z in &upset {
            let _ = writeln!(out, "{}: {}", text::clean(&z.zone), stages(r, &z.stages));
        }
        if upset.len() < r.zones.len() {
            let _ = writeln!(
                out,
                "{} of {} zones are listed; --all lists every zone",
                upset.len(),
                r.zones.len()
            );
        }
    }
    let _ = writeln!(out, "\n{SEQUENCE_CAUTION}");
    out
}

/// What samples of a case show.
pub fn robustness(r: &Robustness, width: usize) -> String {
    let mut out = String::new();
    let share = |p: f64| format!("{:.1} %", 100.0 * p);
    let _ = writeln!(
        out,
        "\n{} samples of {} (seed {}): water drips in {} of them ({} to {} at 95 %), forms in {}",
        r.samples,
        r.case,
        r.seed,
        share(r.dripping),
        share(r.dripping_between[0]),
        share(r.dripping_between[1]),
        share(r.wet)
    );
    let [half, most, nearly] = r.condensate_quantiles_kg.map(grams);
    let _ = writeln!(
        out,
        "Water on coils at most {half} g in half, {most} g in 90 %, {nearly} g in 99 % of the samples"
    );
    let mut table = Table::new([
        "what varies",
        "from",
        "to",
        "unit",
        "part of\nvariance %",
        "rank\ncorrelation",
        "drips, low\nthird %",
        "drips, high\nthird %",
    ])
    .numbers([1, 2, 4, 5, 6, 7]);
    for i in &r.influences {
        table.row([
            i.input.name.to_owned(),
            format!("{:.2}", i.input.low),
            format!("{:.2}", i.input.high),
            i.input.unit.to_owned(),
            format!("{:.1}", 100.0 * i.variance_share),
            format!("{:.2}", i.rank_correlation),
            format!("{:.1}", 100.0 * i.dripping_low_third),
            format!("{:.1}", 100.0 * i.dripping_high_third),
        ]);
    }
    let _ = write!(out, "\n{}", table.draw(width));
    for s in &r.recommended {
        let _ = writeln!(
            out,
            "Recommended: {} {:.2} {} instead of {:.2} ({} g less water on coils, standard error {} g)",
            s.name,
            s.recommended,
            s.unit,
            s.now,
            grams(-s.condensate_difference_kg),
            grams(s.standard_error_kg)
        );
    }
    match &r.trial {
        Some(t) => {
            let _ = writeln!(
                out,
                "Tried on {} of the samples: drips in {} instead of {}, cooling {:+.1} %",
                t.samples,
                share(t.dripping_recommended),
                share(t.dripping_now),
                100.0 * (t.cooling_recommended_j / t.cooling_now_j - 1.0)
            );
        }
        None => {
            let _ = writeln!(out, "No setting makes a difference of two standard errors");
        }
    }
    out
}

fn stages(r: &ExcursionResult, list: &[StageRecord]) -> String {
    let mut out = String::new();
    for (i, s) in list.iter().enumerate() {
        if i > 0 {
            let _ = write!(out, ", {} ", clock(r, s.from_s));
        }
        out.push_str(&s.stage);
    }
    out
}
