//! The schemes side by side, and sizing's yearly estimate beside the simulated year.

use crate::economy::Economy;
use crate::result::{RoomYear, Scheme, SchemeYear, Year};
use crate::signals::EndUse;
use drycoil_project::Project;
use drycoil_sizing::{Design, Service};
use serde::Serialize;
use std::collections::BTreeSet;

/// One quantity of both schemes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Measure {
    /// What is compared.
    pub what: String,
    /// Unit of the values, SI; `currency` for money.
    pub unit: String,
    /// Which direction an owner prefers.
    pub better: Better,
    /// Value of the decoupled scheme; null when it is not known, such as a cost without a price.
    pub decoupled: Option<f64>,
    /// Value of the all-air scheme; null when it is not known.
    pub all_air: Option<f64>,
    /// Decoupled less all-air; null unless both are known.
    pub difference: Option<f64>,
    /// Difference as a share of the all-air value; null unless both are known and that is above zero.
    pub difference_share: Option<f64>,
}

/// Which of two values is preferred.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Better {
    /// The smaller.
    Smaller,
    /// Neither: it is shown, not judged.
    Neither,
}

impl Measure {
    fn new(what: &str, unit: &str, better: Better, decoupled: Option<f64>, all_air: Option<f64>) -> Self {
        let difference = decoupled.zip(all_air).map(|(d, a)| d - a);
        let difference_share = difference.zip(all_air).and_then(|(d, a)| (a > 0.0).then(|| d / a));
        Self {
            what: what.into(),
            unit: unit.into(),
            better,
            decoupled,
            all_air,
            difference,
            difference_share,
        }
    }

    /// Whether the decoupled scheme is the better one; none when that is not known, not judged, or they are equal.
    pub fn decoupled_wins(&self) -> Option<bool> {
        match (self.better, self.difference) {
            (Better::Smaller, Some(d)) if d != 0.0 => Some(d < 0.0),
            _ => None,
        }
    }
}

/// Sizing's estimate of a quantity and what the simulation found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    /// Quantity.
    pub what: String,
    /// Unit, SI.
    pub unit: String,
    /// Estimated while sizing.
    pub estimated: f64,
    /// Simulated.
    pub simulated: f64,
    /// Estimate less simulation as a share of the simulation; null when the simulation found nothing.
    pub error_share: Option<f64>,
}

/// Measure of the highest cooling load, which the trade counts unlike electricity.
pub const PEAK_COOLING: &str = "peak cooling";
/// Measure of the highest heating load.
pub const PEAK_HEATING: &str = "peak heating";
/// Measure of the water that the tower takes.
pub const WATER: &str = "water";
/// Measure of the hours in which rooms are in use.
const OCCUPIED: &str = "occupied room-hours";
/// Measures of the hours in which they are away from their set points.
const UNMET: [&str; 2] = ["unmet warm room-hours", "unmet cold room-hours"];
/// Share of the occupied room-hours away from the set points above which a comparison may be one of unequal service.
/// Common practice, no source.
pub const UNEQUAL_SHARE: f64 = 0.015;

/// A comparison of unequal service: one scheme leaves its rooms away from their set points longer than the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unequal {
    /// The scheme that holds its rooms worse.
    pub worse: Scheme,
    /// Its share of the occupied room-hours away from the set points.
    pub share: f64,
    /// The same of the other scheme.
    pub other: f64,
}

impl Unequal {
    /// One sentence.
    pub fn words(&self) -> String {
        let other = if self.worse == Scheme::Decoupled { Scheme::AllAir } else { Scheme::Decoupled };
        format!(
            "NOT of equal service: the {} scheme leaves its rooms away from their set points for {:.1} % of the occupied \
             room-hours, the {} scheme for {:.1} %",
            self.worse.word(),
            self.share * 100.0,
            other.word(),
            self.other * 100.0
        )
    }
}

/// Whether the measures compare unequal service: more than [`UNEQUAL_SHARE`], and more than twice that of the other.
pub fn unequal(measures: &[Measure]) -> Option<Unequal> {
    let of = |what: &str| {
        let m = measures.iter().find(|m| m.what == what)?;
        Some([m.decoupled?, m.all_air?])
    };
    let (warm, cold, occupied) = (of(UNMET[0])?, of(UNMET[1])?, of(OCCUPIED)?);
    let share: [f64; 2] =
        std::array::from_fn(|k| if occupied[k] > 0.0 { (warm[k] + cold[k]) / occupied[k] } else { 0.0 });
    let worse = usize::from(share[1] > share[0]);
    let found = Unequal { worse: Scheme::ALL[worse], share: share[worse], other: share[1 - worse] };
    (found.share > UNEQUAL_SHARE && found.share > 2.0 * found.other).then_some(found)
}

/// The schemes side by side. Empty unless both were simulated.
///
/// Room-hours and humidity are of the rooms that the schemes serve ([`served`]): what happens in a room with its own
/// conventional unit is no merit or fault of either.
pub fn compare(design: &Design, year: &Year, economy: &Economy) -> Vec<Measure> {
    let (Some(d), Some(a)) = (year.scheme(Scheme::Decoupled), year.scheme(Scheme::AllAir)) else {
        return Vec::new();
    };
    let cost = |s: Scheme| economy.scheme(s);
    let money = |f: fn(&crate::economy::SchemeCost) -> Option<f64>| {
        (cost(Scheme::Decoupled).and_then(f), cost(Scheme::AllAir).and_then(f))
    };
    let mut out = Vec::new();
    let mut both = |what: &str, unit: &str, better: Better, f: &dyn Fn(&SchemeYear) -> Option<f64>| {
        out.push(Measure::new(what, unit, better, f(d), f(a)));
    };
    let (smaller, neither) = (Better::Smaller, Better::Neither);
    both("site energy", "J", smaller, &|s| Some(s.site_energy_j()));
    both("electricity", "J", smaller, &|s| Some(s.electricity_j()));
    both("fuel", "J", smaller, &|s| Some(s.fuel_j()));
    both("peak electricity", "W", smaller, &|s| Some(s.peaks.electricity.value_w));
    both(PEAK_COOLING, "W", neither, &|s| Some(s.peaks.cooling.value_w));
    both(PEAK_HEATING, "W", neither, &|s| Some(s.peaks.heating.value_w));
    both(WATER, "kg", smaller, &|s| Some(s.water_kg()));
    both("outdoor air", "kg", neither, &|s| Some(s.heat.outdoor_air_kg.iter().sum()));
    both(UNMET[0], "h", smaller, &|s| Some(sum(design, s, |r| r.unmet.warm_h)));
    both(UNMET[1], "h", smaller, &|s| Some(sum(design, s, |r| r.unmet.cold_h)));
    both(OCCUPIED, "h", neither, &|s| Some(sum(design, s, |r| r.occupied_h)));
    both("mean relative humidity in use", "", neither, &|s| mean_humidity(design, s));
    both("occupied room-hours above the code dew point", "h", smaller, &|s| {
        Some(sum(design, s, |r| r.humidity.above_code_occupied_h))
    });
    let mut priced = |what: &str, unit: &str, f: fn(&crate::economy::SchemeCost) -> Option<f64>| {
        let (d, a) = money(f);
        out.push(Measure::new(what, unit, smaller, d, a));
    };
    priced("cost of energy a year", "currency", |c| c.yearly_energy.value);
    priced("first cost", "currency", |c| c.first.value);
    priced("life-cycle cost of energy", "currency", |c| c.life_cycle_of_energy.as_ref()?.value);
    priced("life-cycle cost", "currency", |c| c.life_cycle.as_ref()?.value);
    priced("emissions", "kg", |c| c.emissions_kg);
    out
}

/// The rooms of a scheme that have a terminal or primary air, in both schemes the same.
pub fn served<'a>(design: &'a Design, scheme: &'a SchemeYear) -> impl Iterator<Item = &'a RoomYear> {
    let ids: BTreeSet<&str> = design
        .needs
        .iter()
        .filter(|n| matches!(n.service, Service::Terminal | Service::PrimaryOnly))
        .map(|n| n.room.as_str())
        .collect();
    scheme.rooms.iter().filter(move |r| ids.contains(r.room.as_str()))
}

fn sum(design: &Design, s: &SchemeYear, f: impl Fn(&RoomYear) -> f64) -> f64 {
    served(design, s).map(f).sum()
}

/// Mean over occupied room-hours of the rooms served, 0 to 1.
pub fn mean_humidity(design: &Design, s: &SchemeYear) -> Option<f64> {
    let (mut hours, mut total) = (0.0, 0.0);
    for r in served(design, s) {
        if let Some(rh) = r.humidity.mean_occupied_rh {
            hours += r.occupied_h;
            total += r.occupied_h * rh;
        }
    }
    (hours > 0.0).then(|| total / hours)
}

/// Sizing's yearly estimate beside the simulated decoupled scheme. Empty unless that was simulated.
pub fn estimates(project: &Project, design: &Design, year: &Year) -> Vec<Estimate> {
    let Some(s) = year.scheme(Scheme::Decoupled) else { return Vec::new() };
    let e = &design.dew_point.chosen.year;
    let of = |uses: &[EndUse]| -> f64 {
        s.end_uses
            .iter()
            .filter(|u| uses.contains(&u.end_use))
            .map(|u| u.electricity_j.iter().sum::<f64>())
            .sum()
    };
    let total = |months: &[f64; 12]| months.iter().sum::<f64>();
    let row = |what: &str, unit: &str, estimated: f64, simulated: f64| Estimate {
        what: what.to_owned(),
        unit: unit.to_owned(),
        estimated,
        simulated,
        error_share: (simulated != 0.0).then(|| (estimated - simulated) / simulated),
    };
    vec![
        row("drying coil", "J", e.drying_thermal_j, total(&s.heat.central_coil_j)),
        row("sensible cooling", "J", e.sensible_thermal_j, total(&s.heat.sensible_j)),
        row("heat delivered", "J", e.heat_j, total(&s.heat.heating_j)),
        row("chillers", "J", e.drying_j + e.sensible_j, of(&[EndUse::ColdWater, EndUse::SensibleWater])),
        row("central fans", "J", e.primary_fan_j, of(&[EndUse::CentralFans])),
        row("terminal fans", "J", e.terminal_fan_j, of(&[EndUse::TerminalFans])),
        row("pumps", "J", e.pump_j, of(&[EndUse::CoolingPumps, EndUse::HeatingPumps])),
        row("tower fans", "J", e.tower_j, of(&[EndUse::HeatRejection])),
        row(
            "site energy",
            "J",
            e.site_energy_j(project.plant.boiler_efficiency.value.to_ratio()),
            s.site_energy_j(),
        ),
    ]
}
