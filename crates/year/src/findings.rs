//! What is wrong, or worth knowing, in a simulated year.

use crate::compare::{Estimate, Measure, UNEQUAL_SHARE, served, unequal};
use crate::economy::Economy;
use crate::result::{LimitHours, Moment, ONE_DEGF_K, RoomYear, Scheme, SchemeYear, Year};
use crate::signals::PlantLimit;
use drycoil_climate::month_name;
use drycoil_findings::{Finding, FindingKind, Place, registry::year as kinds};
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_units::{QuantityKind as K, UnitSystem, format_si};

/// Unmet hours of a room above which it is a finding, h (ANSI/ASHRAE/IES 90.1 appendix G, from memory).
pub const UNMET_HOURS: f64 = 300.0;
/// Error of sizing's estimate of site energy from which it is a finding. Common practice, no source.
pub const ESTIMATE_SHARE: f64 = 0.25;
/// Change of the states from one warm-up repetition to the next below which the start is forgotten, K.
pub const WARM_UP_K: f64 = 0.05;

/// A date and hour in words, as in `17 July 15:15`.
pub fn moment_words(at: &Moment) -> String {
    let minutes = (at.hour_of_day_h * 60.0).round() as u32;
    let name = month_name(at.month).unwrap_or("unknown month");
    format!("{} {name} {:02}:{:02}", at.day, minutes / 60, minutes % 60)
}

/// Hours in words.
fn hours(h: f64) -> String {
    if h >= 100.0 || h.fract() == 0.0 { format!("{h:.0} h") } else { format!("{h:.2} h") }
}

struct Writer<'a> {
    project: &'a Project,
    system: UnitSystem,
    found: Vec<Finding>,
}

impl Writer<'_> {
    fn place(&self, room: &str) -> Place {
        match self.project.room(room) {
            Some(r) => r.place.clone().of(room),
            None => Place::part(room),
        }
    }

    fn room(
        &mut self,
        kind: &'static FindingKind,
        room: &str,
        message: String,
        value: String,
        allowed: &str,
    ) {
        let place = self.place(room);
        self.found.push(Finding::new(kind, message).at(place).value(value).allowed(allowed));
    }

    fn difference(&self, k: f64) -> String {
        format_si(K::TemperatureDifference, k, self.system)
    }
}

/// Findings of a year: rooms in the order of the room list within each kind, waived ones included.
pub fn findings(
    project: &Project,
    design: &Design,
    year: &Year,
    economy: &Economy,
    measures: &[Measure],
    estimates: &[Estimate],
) -> Vec<Finding> {
    let mut w = Writer { project, system: project.told_units(), found: Vec::new() };
    for scheme in &year.schemes {
        for room in &scheme.rooms {
            margins(&mut w, room);
        }
        for room in served(design, scheme) {
            comfort(&mut w, design, scheme.scheme, room);
        }
        limits(&mut w, scheme);
        closure(&mut w, scheme);
    }
    if year.warm_up_residual_k > WARM_UP_K {
        w.found.push(
            Finding::new(
                kinds::WARM_UP_UNSETTLED,
                format!("after {} days of warm-up the room temperatures still changed", year.warm_up_days),
            )
            .value(w.difference(year.warm_up_residual_k))
            .allowed(format!("at most {}", w.difference(WARM_UP_K))),
        );
    }
    judged(&mut w, measures);
    estimate(&mut w, estimates);
    prices(&mut w, economy);
    for finding in &mut w.found {
        for rule in &project.waivers {
            let fits = rule
                .part
                .as_deref()
                .is_none_or(|part| finding.places.iter().any(|p| p.part.as_deref() == Some(part)));
            if rule.id.eq_ignore_ascii_case(finding.id()) && fits {
                finding.waiver = Some(rule.waiver.clone());
            }
        }
    }
    w.found
}

fn margins(w: &mut Writer<'_>, room: &RoomYear) {
    let Some(m) = &room.margin else { return };
    let occupied = m.occupied;
    let empty_below = m.all.below_zero_h - occupied.below_zero_h;
    let name = &room.room;
    if occupied.below_zero_h > 0.0 {
        let smallest = m.smallest_occupied_k.unwrap_or(m.smallest_k);
        let when = m.occupied_at.as_ref().unwrap_or(&m.at);
        let message = format!(
            "the coil of room {name} is wet in {} of its {} occupied hours with cold water, first or worst on {}",
            hours(occupied.below_zero_h),
            hours(occupied.counted_h),
            moment_words(when)
        );
        let value = w.difference(smallest);
        w.room(kinds::WET_WHILE_OCCUPIED, name, message, value, "at least 0");
    } else if occupied.below_two_degf_h > 0.0 {
        let message = format!(
            "the coil of room {name} has a margin below {} in {} occupied hours",
            w.difference(2.0 * ONE_DEGF_K),
            hours(occupied.below_two_degf_h)
        );
        let value = w.difference(m.smallest_occupied_k.unwrap_or(m.smallest_k));
        let allowed = format!("at least {}", w.difference(2.0 * ONE_DEGF_K));
        w.room(kinds::MARGIN_SMALL, name, message, value, &allowed);
    }
    if empty_below > 0.0 {
        let message = format!(
            "the coil of room {name} is wet in {} outside occupied hours, worst on {}",
            hours(empty_below),
            moment_words(&m.at)
        );
        let value = w.difference(m.smallest_k);
        w.room(kinds::WET_WHILE_EMPTY, name, message, value, "at least 0");
    }
}

/// The room whose thermostat a room follows, in words; nothing for a room with its own.
fn follows(design: &Design, room: &str) -> String {
    let leader = design.terminals.iter().find(|t| t.rooms.iter().skip(1).any(|r| r == room));
    leader
        .and_then(|t| t.rooms.first())
        .map_or_else(String::new, |first| format!("; it follows the thermostat of room {first}"))
}

fn comfort(w: &mut Writer<'_>, design: &Design, scheme: Scheme, room: &RoomYear) {
    let u = &room.unmet;
    let unmet = u.warm_h + u.cold_h;
    let word = scheme.word();
    if unmet > UNMET_HOURS {
        let message = format!(
            "{word}: room {} is too warm for {} and too cold for {} of its {} occupied hours{}",
            room.room,
            hours(u.warm_h),
            hours(u.cold_h),
            hours(room.occupied_h),
            follows(design, &room.room)
        );
        let allowed = format!("at most {}", hours(UNMET_HOURS));
        w.room(kinds::UNMET, &room.room, message, hours(unmet), &allowed);
    }
    let humid = room.humidity.above_code_occupied_h;
    if humid > 0.0 {
        let message = format!(
            "{word}: room {} is above the code dew point for {} of its {} occupied hours, worst on {}",
            room.room,
            hours(humid),
            hours(room.occupied_h),
            moment_words(&room.humidity.highest_at)
        );
        let value = format_si(K::Temperature, room.humidity.highest_dew_point_c, w.system);
        let allowed = format!(
            "at most {}",
            format_si(K::Temperature, w.project.criteria.code_dew_point.value.to_celsius(), w.system)
        );
        w.room(kinds::TOO_HUMID, &room.room, message, value, &allowed);
    }
}

/// What a limit of the plant is called.
pub const fn limit_words(limit: PlantLimit) -> &'static str {
    match limit {
        PlantLimit::ChillerCapacity => "chillers at full load and still short",
        PlantLimit::LeastLift => "chillers at their least lift",
        PlantLimit::ChillerCycling => "chillers cycling below their least load",
        PlantLimit::HeatingCapacity => "heating plant at full load and still short",
        PlantLimit::AirFlow => "central unit at its largest flow",
        PlantLimit::DewPointMissed => "drying coil above its leaving dew point",
        PlantLimit::RecoveryFrost => "recovery turned down against frost",
        PlantLimit::TowerFull => "tower fans at full speed and the water warmer than wanted",
        PlantLimit::ReuseMakeUp => "cold make-up into the reused water",
        PlantLimit::NotSettled => "a search that did not settle",
        PlantLimit::OutsideCurve => "outside the range of a curve",
        PlantLimit::PumpFlow => "pump of the terminals' water at its largest flow and still short",
    }
}

/// Whether something asked for was not delivered, or a number is doubtful.
const fn is_short(limit: PlantLimit) -> bool {
    matches!(
        limit,
        PlantLimit::ChillerCapacity
            | PlantLimit::HeatingCapacity
            | PlantLimit::AirFlow
            | PlantLimit::DewPointMissed
            | PlantLimit::NotSettled
            | PlantLimit::OutsideCurve
            | PlantLimit::PumpFlow
    )
}

fn limits(w: &mut Writer<'_>, scheme: &SchemeYear) {
    for LimitHours { limit, hours_h, first } in &scheme.limits {
        let Some(first) = first else { continue };
        let kind = if is_short(*limit) { kinds::PLANT_LIMIT } else { kinds::PLANT_EVENT };
        w.found.push(
            Finding::new(
                kind,
                format!(
                    "{}: {}, first on {}",
                    scheme.scheme.word(),
                    limit_words(*limit),
                    moment_words(first)
                ),
            )
            .at(Place::part(scheme.scheme.word()))
            .value(hours(*hours_h)),
        );
    }
}

fn closure(w: &mut Writer<'_>, scheme: &SchemeYear) {
    for c in scheme.closure.iter().filter(|c| !c.closes()) {
        w.found.push(
            Finding::new(
                kinds::NOT_CLOSED,
                format!("{}: the balance `{}` does not close", scheme.scheme.word(), c.balance),
            )
            .at(Place::part(scheme.scheme.word()))
            .value(format!("{:.2e} of what passes", c.share()))
            .allowed(format!("at most {:.0e}", c.bound_share)),
        );
    }
}

/// What a comparison is led by.
const LED_BY: [&str; 4] = ["site energy", "cost of energy a year", "life-cycle cost", "emissions"];

fn judged(w: &mut Writer<'_>, measures: &[Measure]) {
    if let Some(found) = unequal(measures) {
        w.found.push(
            Finding::new(kinds::COMFORT_DIFFERS, format!("the comparison is {}", found.words()))
                .at(Place::part(found.worse.word()))
                .value(format!("{:.1} %", found.share * 100.0))
                .allowed(format!("at most {:.1} %, or twice the other scheme's", UNEQUAL_SHARE * 100.0)),
        );
    }
    for m in measures.iter().filter(|m| LED_BY.contains(&m.what.as_str())) {
        if m.decoupled_wins() != Some(false) {
            continue;
        }
        let more = m.difference_share.map_or_else(
            || "more than nothing".to_owned(),
            |s| format!("{:.1} % more than the all-air scheme", s * 100.0),
        );
        w.found.push(
            Finding::new(
                kinds::DECOUPLED_LOSES,
                format!("the decoupled scheme does not win in {}: it takes {more}", m.what),
            )
            .at(Place::part(Scheme::Decoupled.word())),
        );
    }
}

fn estimate(w: &mut Writer<'_>, estimates: &[Estimate]) {
    let Some(e) = estimates.iter().find(|e| e.what == "site energy") else { return };
    if let Some(share) = e.error_share.filter(|s| s.abs() > ESTIMATE_SHARE) {
        w.found.push(
            Finding::new(
                kinds::ESTIMATE_OFF,
                format!(
                    "sizing estimated {:.0} % {} site energy than the simulated year has",
                    share.abs() * 100.0,
                    if share > 0.0 { "more" } else { "less" }
                ),
            )
            .allowed(format!("within {:.0} %", ESTIMATE_SHARE * 100.0)),
        );
    }
}

fn prices(w: &mut Writer<'_>, economy: &Economy) {
    let mut names: Vec<&str> = Vec::new();
    for scheme in &economy.schemes {
        for name in scheme
            .yearly_energy
            .not_priced
            .iter()
            .chain(&scheme.yearly_other.not_priced)
            .chain(&scheme.first.not_priced)
        {
            if !names.contains(&name.as_str()) {
                names.push(name);
            }
        }
    }
    for name in names {
        w.found.push(Finding::new(kinds::NOT_PRICED, format!("{name} has no price")));
    }
}
