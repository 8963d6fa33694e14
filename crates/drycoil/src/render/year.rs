//! A simulated year as text: the dew-point margin first, then the schemes side by side, then what carries the numbers.

use super::table::Table;
use super::text::{clean, count, wrap};
use drycoil_climate::month_name;
use drycoil_papers::{Numbers, grouped};
use drycoil_project::Project;
use drycoil_results::YearParts;
use drycoil_sizing::Design;
use drycoil_units::{QuantityKind as K, UnitSystem, format_si};
use drycoil_year::compare::{Measure, Unequal, mean_humidity, served, unequal};
use drycoil_year::economy::AmountRecord;
use drycoil_year::findings::{UNMET_HOURS, limit_words, moment_words};
use drycoil_year::result::{Peak, Scheme, SchemeYear};
use std::fmt::Write as _;

/// How many rooms are listed unless all are asked for.
pub const FEWEST_ROOMS: usize = 15;

/// Which rooms are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rooms {
    /// Those with the smallest margins.
    Smallest,
    /// All.
    All,
}

/// How numbers of a year are shown.
#[derive(Debug, Clone, Copy)]
pub struct Show<'a> {
    /// Unit system.
    pub system: UnitSystem,
    /// Columns to fill.
    pub width: usize,
    /// Word for the currency.
    pub currency: &'a str,
}

impl Show<'_> {
    /// The same without the columns.
    pub fn numbers(&self) -> Numbers<'_> {
        Numbers { system: self.system, currency: self.currency }
    }

    /// Number and unit of a value with an SI unit of a year document.
    pub fn value(&self, unit: &str, v: f64) -> (String, String) {
        self.numbers().value(unit, v)
    }

    fn text(&self, unit: &str, v: f64) -> String {
        self.numbers().text(unit, v)
    }

    fn kelvin(&self, k: f64) -> String {
        format!("{:.1}", self.system.value(K::TemperatureDifference, k))
    }

    fn degrees(&self, c: f64) -> String {
        format!("{:.1}", self.system.value(K::Temperature, c))
    }

    fn symbol(&self, kind: K) -> &'static str {
        self.system.symbol(kind)
    }
}

/// What is shown of a year.
pub fn draw(
    project: &Project,
    design: &Design,
    parts: &YearParts<'_>,
    show: Show<'_>,
    rooms: Rooms,
) -> String {
    let mut out = String::new();
    headline(&mut out, project, design, parts, show);
    margins(&mut out, parts, show, rooms);
    side_by_side(&mut out, parts, show);
    end_uses(&mut out, parts, show);
    months(&mut out, parts, show);
    peaks(&mut out, parts, show);
    humidity(&mut out, design, parts, show);
    unmet(&mut out, design, parts, show);
    free_cooling(&mut out, parts, show);
    bills(&mut out, parts, show);
    estimates(&mut out, parts, show);
    limits(&mut out, parts, show);
    closure(&mut out, parts, show);
    assumptions(&mut out, parts, show);
    out
}

fn title(out: &mut String, text: &str) {
    let _ = writeln!(out, "\n{text}");
}

fn schemes<'a>(parts: &YearParts<'a>) -> Vec<&'a SchemeYear> {
    parts.year.schemes.iter().collect()
}

fn headline(out: &mut String, project: &Project, design: &Design, parts: &YearParts<'_>, show: Show<'_>) {
    let _ = writeln!(
        out,
        "{}, revision {}, {}",
        clean(&project.name.value),
        clean(&project.revision.value),
        clean(&design.site.place)
    );
    let width = show.width;
    let mut line = |key: &str, text: String| {
        let _ = writeln!(out, "  {key:<22}{}", wrap(&clean(&text), width, &" ".repeat(24)));
    };
    line(
        "year",
        format!(
            "{} in steps of {:.0} s after {} of warm-up",
            count(parts.year.hours, "hour"),
            parts.year.step_s,
            count(parts.year.warm_up_days, "day")
        ),
    );
    if let Some(s) = parts.year.scheme(Scheme::Decoupled) {
        let rooms = s.rooms_by_margin();
        if let Some(first) = rooms.first()
            && let Some(m) = &first.margin
        {
            let note = project.room(&first.room).map_or_else(String::new, |r| format!(" ({})", r.name));
            line(
                "smallest margin",
                format!(
                    "{} in room {}{note} on {}",
                    format_si(K::TemperatureDifference, m.smallest_k, show.system),
                    first.room,
                    moment_words(&m.at)
                ),
            );
        }
        let in_use = |f: fn(&drycoil_year::result::MarginYear) -> f64| {
            let wet: Vec<f64> =
                rooms.iter().filter_map(|r| r.margin.as_ref()).map(f).filter(|h| *h > 0.0).collect();
            (wet.len(), wet.iter().sum::<f64>())
        };
        let (wet, hours) = in_use(|m| m.occupied.below_zero_h);
        line(
            "wet in use",
            if wet == 0 {
                "no coil".to_owned()
            } else {
                format!("{}, {} room-hours", count(wet, "coil"), grouped(hours, 1))
            },
        );
        let (all, hours) = in_use(|m| m.all.below_zero_h);
        line(
            "wet at any time",
            if all == 0 {
                "no coil".to_owned()
            } else {
                format!("{}, {} room-hours", count(all, "coil"), grouped(hours, 1))
            },
        );
        // What keeping dry cost: a coil that is shut does not cool.
        let (shut, hours) = in_use(|m| m.held_shut_occupied_h);
        line(
            "held shut in use",
            if shut == 0 {
                "no coil".to_owned()
            } else {
                format!("{}, {} room-hours", count(shut, "coil"), grouped(hours, 1))
            },
        );
    }
    for text in verdicts(parts, show) {
        line("comparison", text);
    }
}

/// Sentences that say which scheme is better in what, and by how much.
pub fn verdicts(parts: &YearParts<'_>, show: Show<'_>) -> Vec<String> {
    const JUDGED: [&str; 5] =
        ["site energy", "peak electricity", "cost of energy a year", "life-cycle cost", "emissions"];
    let mut out: Vec<String> = unequal(parts.measures).iter().map(Unequal::words).collect();
    for m in parts.measures.iter().filter(|m| JUDGED.contains(&m.what.as_str())) {
        let (Some(d), Some(a), Some(by)) = (m.decoupled, m.all_air, m.difference) else { continue };
        let share = m.difference_share.map_or_else(String::new, |s| format!(", {:.1} %", s.abs() * 100.0));
        out.push(match m.decoupled_wins() {
            Some(true) => format!(
                "{}: decoupled {} against {}: {}{share} less",
                m.what,
                show.text(&m.unit, d),
                show.text(&m.unit, a),
                show.text(&m.unit, -by)
            ),
            Some(false) => format!(
                "{}: the decoupled scheme does NOT win: {} against {}: {}{share} more",
                m.what,
                show.text(&m.unit, d),
                show.text(&m.unit, a),
                show.text(&m.unit, by)
            ),
            None => format!("{}: both {}", m.what, show.text(&m.unit, d)),
        });
    }
    out
}

fn margins(out: &mut String, parts: &YearParts<'_>, show: Show<'_>, which: Rooms) {
    let Some(s) = parts.year.scheme(Scheme::Decoupled) else { return };
    let rooms = s.rooms_by_margin();
    title(out, "Dew-point margin of the coils, smallest first");
    if rooms.is_empty() {
        out.push_str("no room has a coil\n");
        return;
    }
    let k = show.symbol(K::TemperatureDifference);
    let edge = |f: f64| show.kelvin(f * drycoil_year::result::ONE_DEGF_K);
    let mut table = Table::new([
        "room".to_owned(),
        format!("margin\n{k}"),
        "when".into(),
        format!("in use\n{k}"),
        format!("< {}\nh", edge(0.0)),
        format!("< {}\nh", edge(1.0)),
        format!("< {}\nh", edge(2.0)),
        format!("all\n< {}", edge(0.0)),
        format!("\n< {}", edge(1.0)),
        format!("\n< {}", edge(2.0)),
        "shut\nh".into(),
        "in use\nh".into(),
        "wet\nh".into(),
        "water\ng".into(),
    ])
    .numbers([1, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13]);
    let listed = match which {
        Rooms::All => rooms.len(),
        Rooms::Smallest => rooms.len().min(FEWEST_ROOMS),
    };
    for r in &rooms[..listed] {
        let Some(m) = &r.margin else { continue };
        let h = |x: f64| match x {
            0.0 => "0".to_owned(),
            x if x < 100.0 => format!("{x:.1}"),
            x => format!("{x:.0}"),
        };
        table.row([
            r.room.clone(),
            show.kelvin(m.smallest_k),
            moment_short(&m.at),
            m.smallest_occupied_k.map_or_else(String::new, |k| show.kelvin(k)),
            h(m.occupied.below_zero_h),
            h(m.occupied.below_one_degf_h),
            h(m.occupied.below_two_degf_h),
            h(m.all.below_zero_h),
            h(m.all.below_one_degf_h),
            h(m.all.below_two_degf_h),
            h(m.held_shut_h),
            h(m.held_shut_occupied_h),
            h(m.condensation_h),
            h(m.condensate_kg * 1e3),
        ]);
    }
    out.push_str(&table.draw(show.width));
    if listed < rooms.len() {
        let _ = writeln!(out, "and {} with larger margins; --all lists them", rooms.len() - listed);
    }
    let text = "The margin counts in every hour in which water colder than the room is in, or free to enter, the coil; first \
                the hours in use, then all. Shut: the valve was held shut for humidity, or the water of a server room's unit raised; the \
                second figure in use.";
    let _ = writeln!(out, "{}", wrap(text, show.width, ""));
}

fn moment_short(at: &drycoil_year::result::Moment) -> String {
    let text = moment_words(at);
    let words: Vec<&str> = text.split(' ').collect();
    match words.as_slice() {
        [day, month, time] => format!("{day} {} {time}", month.chars().take(3).collect::<String>()),
        _ => text,
    }
}

fn side_by_side(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    if parts.measures.is_empty() {
        return;
    }
    title(out, "The schemes side by side");
    let mut table =
        Table::new(["", "unit", "decoupled", "all-air", "difference", "%", "better"]).numbers([2, 3, 4, 5]);
    for m in parts.measures {
        let numbers = show.numbers();
        let (_, unit) = numbers.measure(&m.what, &m.unit, 0.0);
        let number =
            |v: Option<f64>| v.map_or_else(|| "-".to_owned(), |v| numbers.measure(&m.what, &m.unit, v).0);
        table.row([
            m.what.clone(),
            unit,
            number(m.decoupled),
            number(m.all_air),
            number(m.difference),
            m.difference_share.map_or_else(String::new, |s| format!("{:+.1}", s * 100.0)),
            better(m).to_owned(),
        ]);
    }
    out.push_str(&table.draw(show.width));
    let mut missing: Vec<&str> = Vec::new();
    for s in &parts.economy.schemes {
        for n in
            s.yearly_energy.not_priced.iter().chain(&s.yearly_other.not_priced).chain(&s.first.not_priced)
        {
            if !missing.contains(&n.as_str()) {
                missing.push(n);
            }
        }
    }
    if !missing.is_empty() {
        let text = format!("Not priced, so in no sum: {}.", missing.join(", "));
        let _ = writeln!(out, "{}", wrap(&clean(&text), show.width, ""));
    }
    if let Some(v) = parts.economy.break_even_added_first_cost {
        let text = if v >= 0.0 {
            format!(
                "From energy alone the decoupled scheme may cost up to {} more at first; water, maintenance and replacements are not in that.",
                show.text("currency", v)
            )
        } else {
            format!(
                "From energy alone the decoupled scheme would have to cost {} less at first; water, maintenance and replacements are not in that.",
                show.text("currency", -v)
            )
        };
        let _ = writeln!(out, "{}", wrap(&clean(&text), show.width, ""));
    }
}

fn better(m: &Measure) -> &'static str {
    match m.decoupled_wins() {
        Some(true) => "decoupled",
        Some(false) => "all-air",
        None => "",
    }
}

fn end_uses(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Where the energy goes, MWh of the year");
    let all = schemes(parts);
    let mut titles = vec![String::new()];
    for s in &all {
        titles.push(format!("{}\nelectricity", s.scheme.word()));
        titles.push("\nfuel".to_owned());
    }
    let columns = titles.len();
    let mut table = Table::new(titles).numbers(1..columns);
    let mwh = |j: f64| if j == 0.0 { String::new() } else { grouped(j / 3.6e9, 2) };
    for (index, first) in all.first().map_or(&[][..], |s| &s.end_uses[..]).iter().enumerate() {
        let mut row = vec![first.end_use.words().to_owned()];
        for s in &all {
            let e = &s.end_uses[index];
            row.push(mwh(e.electricity_j.iter().sum()));
            row.push(mwh(e.fuel_j.iter().sum()));
        }
        table.row(row);
    }
    let mut row = vec!["sum".to_owned()];
    for s in &all {
        row.push(mwh(s.electricity_j()));
        row.push(mwh(s.fuel_j()));
    }
    table.row(row);
    out.push_str(&table.draw(show.width));
}

fn months(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "By month");
    let all = schemes(parts);
    let mut titles = vec![String::new()];
    for s in &all {
        titles.push(format!("{}\nelectricity MWh", s.scheme.word()));
        titles.push("\nfuel MWh".to_owned());
        titles.push("\npeak kW".to_owned());
        titles.push(format!("\nwater {}", if show.system == UnitSystem::Ip { "gal" } else { "m3" }));
    }
    let columns = titles.len();
    let mut table = Table::new(titles).numbers(1..columns);
    // One kilogram of water is one litre within the precision shown.
    let water = |kg: f64| match show.system {
        UnitSystem::Si => grouped(kg / 1000.0, 1),
        UnitSystem::Ip => grouped(kg / 3.785_411_784, 0),
    };
    for month in 0..12 {
        let name: String = month_name(month as u8 + 1).unwrap_or_default().chars().take(3).collect();
        let mut row = vec![name];
        for s in &all {
            let sum =
                |f: &dyn Fn(&drycoil_year::result::EndUseYear) -> f64| s.end_uses.iter().map(f).sum::<f64>();
            row.push(grouped(sum(&|e| e.electricity_j[month]) / 3.6e9, 2));
            row.push(grouped(sum(&|e| e.fuel_j[month]) / 3.6e9, 2));
            row.push(grouped(s.peaks.electricity_by_month_w[month] / 1e3, 1));
            row.push(water(s.water_kg[month]));
        }
        table.row(row);
    }
    out.push_str(&table.draw(show.width));
}

/// One of the peaks of a scheme.
type PeakOf = fn(&SchemeYear) -> Peak;

fn peaks(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Peaks of a step");
    let all = schemes(parts);
    let mut titles = vec![String::new()];
    for s in &all {
        titles.push(format!("{}\nkW", s.scheme.word()));
        titles.push("\nwhen".to_owned());
    }
    let numbers: Vec<usize> = (0..all.len()).map(|i| 1 + 2 * i).collect();
    let mut table = Table::new(titles).numbers(numbers);
    let of: [(&str, PeakOf); 4] = [
        ("electricity", |s| s.peaks.electricity),
        ("fuel", |s| s.peaks.fuel),
        ("cooling", |s| s.peaks.cooling),
        ("heating", |s| s.peaks.heating),
    ];
    for (what, f) in of {
        let mut row = vec![what.to_owned()];
        for s in &all {
            let p = f(s);
            row.push(grouped(p.value_w / 1e3, 1));
            row.push(if p.value_w > 0.0 { moment_short(&p.at) } else { String::new() });
        }
        table.row(row);
    }
    out.push_str(&table.draw(show.width));
}

fn humidity(out: &mut String, design: &Design, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Humidity by scheme, while rooms are in use");
    let t = show.symbol(K::Temperature);
    let mut table = Table::new([
        "scheme".to_owned(),
        "mean\n% RH".into(),
        "lowest\n% RH".into(),
        "highest\n% RH".into(),
        format!("highest dew\npoint {t}"),
        "room".into(),
        "above code dew\npoint, room-h".into(),
        "above comfort\nroom-h".into(),
        "below comfort\nroom-h".into(),
    ])
    .numbers([1, 2, 3, 4, 6, 7, 8]);
    for s in schemes(parts) {
        let rh = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{:.0}", v * 100.0));
        let low = served(design, s)
            .filter_map(|r| r.humidity.lowest_occupied_rh)
            .fold(None, |a: Option<f64>, x| Some(a.map_or(x, |a| a.min(x))));
        let high = served(design, s)
            .filter_map(|r| r.humidity.highest_occupied_rh)
            .fold(None, |a: Option<f64>, x| Some(a.map_or(x, |a| a.max(x))));
        let wettest = served(design, s)
            .max_by(|a, b| a.humidity.highest_dew_point_c.total_cmp(&b.humidity.highest_dew_point_c));
        let sum = |f: fn(&drycoil_year::result::HumidityYear) -> f64| {
            grouped(served(design, s).map(|r| f(&r.humidity)).sum(), 0)
        };
        table.row([
            s.scheme.word().to_owned(),
            rh(mean_humidity(design, s)),
            rh(low),
            rh(high),
            wettest.map_or_else(String::new, |r| show.degrees(r.humidity.highest_dew_point_c)),
            wettest.map_or_else(String::new, |r| r.room.clone()),
            sum(|h| h.above_code_occupied_h),
            sum(|h| h.above_comfort_h),
            sum(|h| h.below_comfort_h),
        ]);
    }
    out.push_str(&table.draw(show.width));
    let _ =
        writeln!(out, "Of the rooms with a terminal or primary air; the highest dew point is of all hours.");
}

fn unmet(out: &mut String, design: &Design, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Away from the set points, while rooms are in use");
    let k = show.symbol(K::TemperatureDifference);
    let mut table = Table::new([
        "scheme".to_owned(),
        "too warm\nroom-h".into(),
        format!("\n{k} h"),
        "too cold\nroom-h".into(),
        format!("\n{k} h"),
        "of\nroom-h".into(),
        format!("rooms above\n{UNMET_HOURS:.0} h"),
        "worst room".into(),
        "h".into(),
    ])
    .numbers([1, 2, 3, 4, 5, 6, 8]);
    for s in schemes(parts) {
        let sum = |f: fn(&drycoil_year::result::RoomYear) -> f64| served(design, s).map(f).sum::<f64>();
        let of = |r: &drycoil_year::result::RoomYear| r.unmet.warm_h + r.unmet.cold_h;
        let worst = served(design, s).max_by(|a, b| of(a).total_cmp(&of(b))).filter(|r| of(r) > 0.0);
        table.row([
            s.scheme.word().to_owned(),
            grouped(sum(|r| r.unmet.warm_h), 0),
            grouped(show.system.value(K::TemperatureDifference, sum(|r| r.unmet.warm_k_h)), 0),
            grouped(sum(|r| r.unmet.cold_h), 0),
            grouped(show.system.value(K::TemperatureDifference, sum(|r| r.unmet.cold_k_h)), 0),
            grouped(sum(|r| r.occupied_h), 0),
            served(design, s).filter(|r| of(r) > UNMET_HOURS).count().to_string(),
            worst.map_or_else(String::new, |r| r.room.clone()),
            worst.map_or_else(String::new, |r| grouped(of(r), 1)),
        ]);
    }
    out.push_str(&table.draw(show.width));
}

fn thermal(j: f64, system: UnitSystem) -> String {
    match system {
        UnitSystem::Si => grouped(j / 3.6e6, 0),
        UnitSystem::Ip => grouped(j / 12_660_670.2, 0),
    }
}

fn free_cooling(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Free cooling");
    let unit = if show.system == UnitSystem::Ip { "ton-h" } else { "kWh" };
    let mut table = Table::new([
        "scheme".to_owned(),
        "cooling\nh".into(),
        format!("\n{unit}"),
        "by tower water\nh".into(),
        "alone\nh".into(),
        format!("\n{unit}"),
        "by outdoor air\nh".into(),
        format!("\n{unit}"),
    ])
    .numbers(1..8);
    let sum = |m: &[f64; 12]| m.iter().sum::<f64>();
    for s in schemes(parts) {
        let f = &s.free_cooling;
        table.row([
            s.scheme.word().to_owned(),
            grouped(f.cooling_h, 0),
            thermal(sum(&s.heat.central_coil_j) + sum(&s.heat.sensible_j), show.system),
            grouped(f.waterside_h, 0),
            grouped(f.waterside_alone_h, 0),
            thermal(sum(&s.heat.waterside_free_j), show.system),
            grouped(f.airside_h, 0),
            thermal(sum(&s.heat.airside_free_j), show.system),
        ]);
    }
    out.push_str(&table.draw(show.width));
    if parts.free_water.is_empty() {
        return;
    }
    title(out, "What tower water could carry at each water temperature, by the weather alone");
    let t = show.symbol(K::Temperature);
    let mut table = Table::new([
        "water".to_owned(),
        format!("supply\n{t}"),
        format!("return\n{t}"),
        "alone\nh".into(),
        "partly\nh".into(),
        format!("of the decoupled\ncooling, {unit}"),
        "%".into(),
    ])
    .numbers(1..7);
    for f in parts.free_water {
        table.row([
            f.loop_name.clone(),
            show.degrees(f.supply_c),
            show.degrees(f.return_c),
            grouped(f.alone_h, 0),
            grouped(f.partly_h, 0),
            f.carried_j.map_or_else(String::new, |j| thermal(j, show.system)),
            f.carried_share.map_or_else(String::new, |s| format!("{:.1}", s * 100.0)),
        ]);
    }
    out.push_str(&table.draw(show.width));
}

fn amount(a: &AmountRecord) -> String {
    a.value.map_or_else(|| "not priced".to_owned(), |v| grouped(v, 0))
}

fn bills(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, &format!("Bills of the year, {}", clean(show.currency)));
    let mut table = Table::new(["scheme", "carrier", "charge", "amount"]).numbers([3]).wrapping(2);
    for s in &parts.economy.schemes {
        for b in &s.bills {
            for c in &b.charges {
                table.row([
                    s.scheme.word().to_owned(),
                    b.carrier.clone(),
                    c.charge.clone(),
                    amount(&c.amount),
                ]);
            }
        }
        table.row([s.scheme.word().to_owned(), "energy".into(), "all".into(), amount(&s.yearly_energy)]);
        let other = "water and maintenance".to_owned();
        table.row([s.scheme.word().to_owned(), other, "all".into(), amount(&s.yearly_other)]);
    }
    out.push_str(&table.draw(show.width));
    if let Some(c) = &parts.economy.comparison {
        let number =
            |v: Option<f64>, unit: &str| v.map_or_else(|| "none".to_owned(), |v| format!("{v:.2}{unit}"));
        let text = format!(
            "Life-cycle cost, decoupled against all-air: net savings {}, savings-to-investment ratio {}, adjusted internal \
             rate of return {}, simple payback {}, discounted payback {}.",
            show.text("currency", c.net_savings),
            number(c.savings_to_investment, ""),
            number(c.adjusted_internal_rate_of_return.map(|r| r * 100.0), " %"),
            number(c.simple_payback_years, " years"),
            number(c.discounted_payback_years, " years"),
        );
        let _ = writeln!(out, "{}", wrap(&clean(&text), show.width, ""));
        for r in &c.remarks {
            let _ = writeln!(out, "{}", wrap(&clean(r), show.width, ""));
        }
    }
}

fn estimates(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    if parts.estimates.is_empty() {
        return;
    }
    title(out, "Sizing's yearly estimate beside the simulation");
    let mut table = Table::new(["", "unit", "estimated", "simulated", "error %"]).numbers([2, 3, 4]);
    for e in parts.estimates {
        let (number, unit) = show.value(&e.unit, e.estimated);
        table.row([
            e.what.clone(),
            unit,
            number,
            show.value(&e.unit, e.simulated).0,
            e.error_share.map_or_else(String::new, |s| format!("{:+.0}", s * 100.0)),
        ]);
    }
    out.push_str(&table.draw(show.width));
    let _ = writeln!(
        out,
        "{}",
        wrap(
            "Estimated are the occupied hours in bins of the weather, with rooms that store no heat; nights, start-up and \
             what rooms keep from hour to hour are in the simulation alone.",
            show.width,
            ""
        )
    );
}

fn limits(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    let mut table = Table::new(["scheme", "limit", "h", "first"]).numbers([2]).wrapping(1);
    for s in schemes(parts) {
        for l in &s.limits {
            if let Some(first) = &l.first {
                table.row([
                    s.scheme.word().to_owned(),
                    limit_words(l.limit).to_owned(),
                    grouped(l.hours_h, 1),
                    moment_short(first),
                ]);
            }
        }
    }
    if !table.is_empty() {
        title(out, "Limits that the plant reached");
        out.push_str(&table.draw(show.width));
    }
}

fn closure(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "Balances");
    let mut table =
        Table::new(["scheme", "balance", "left over", "allowed", "worst part"]).numbers([2, 3, 4]);
    for s in schemes(parts) {
        for c in &s.closure {
            table.row([
                s.scheme.word().to_owned(),
                c.balance.clone(),
                format!("{:.1e}", c.share()),
                format!("{:.0e}", c.bound_share),
                format!("{:.1e}", c.worst_share),
            ]);
        }
    }
    out.push_str(&table.draw(show.width));
    let _ = writeln!(out, "Shares of what passes through each balance in the year.");
}

fn assumptions(out: &mut String, parts: &YearParts<'_>, show: Show<'_>) {
    title(out, "What the comparison assumes");
    let mut table =
        Table::new(["about", "what", "value", "source", "key"]).wrapping(1).wrapping(2).wrapping(3);
    for a in parts.assumptions {
        table.row([&a.about, &a.what, &a.value, &a.source, &a.key]);
    }
    out.push_str(&table.draw(show.width));
}
