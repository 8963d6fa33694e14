//! Points side by side, and what is kept of each.

use crate::compare::{Estimate, estimates, mean_humidity, served};
use crate::economy::Economy;
use crate::result::{Scheme, SchemeYear, Year};
use drycoil_project::Project;
use drycoil_sizing::Design;
use serde::Serialize;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A number that is kept of every point.
#[derive(Debug, Clone, Copy)]
pub struct Metric {
    /// Name, with its SI unit at the end: the title of the column.
    pub name: &'static str,
    /// A few words.
    pub words: &'static str,
    /// SI unit; `currency` for money, empty for a share.
    pub unit: &'static str,
    of: fn(&Parts<'_>) -> Option<f64>,
}

/// What a point is reckoned from.
struct Parts<'a> {
    project: &'a Project,
    estimates: &'a [Estimate],
    design: &'a Design,
    economy: &'a Economy,
    decoupled: Option<&'a SchemeYear>,
    all_air: Option<&'a SchemeYear>,
}

fn metric(
    name: &'static str,
    words: &'static str,
    unit: &'static str,
    of: fn(&Parts<'_>) -> Option<f64>,
) -> Metric {
    Metric { name, words, unit, of }
}

fn least(values: impl Iterator<Item = f64>) -> Option<f64> {
    values.fold(None, |a: Option<f64>, b| Some(a.map_or(b, |a| a.min(b))))
}

fn total(design: &Design, s: &SchemeYear, f: fn(&crate::result::RoomYear) -> f64) -> f64 {
    served(design, s).map(f).sum()
}

/// What sizing's objective would be with the simulated year: its energy cost in place of the estimated one, the same
/// yearly share of first costs; site energy where electricity is not priced.
fn simulated_objective(p: &Parts<'_>) -> Option<f64> {
    let e = &p.project.economics;
    let chosen = &p.design.dew_point.chosen;
    let Some(electricity) = &e.electricity else { return Some(p.decoupled?.site_energy_j()) };
    let mut estimated = chosen.year.electricity_j() * electricity.value.to_per_joule();
    let mut simulated = p.decoupled?.electricity_j() * electricity.value.to_per_joule();
    if let Some(fuel) = &e.fuel {
        let efficiency = p.project.plant.boiler_efficiency.value.to_ratio();
        estimated += chosen.year.heat_j / efficiency * fuel.value.to_per_joule();
        simulated += p.decoupled?.fuel_j() * fuel.value.to_per_joule();
    }
    Some(chosen.objective - estimated + simulated)
}

fn estimate(p: &Parts<'_>, what: &str) -> Option<f64> {
    p.estimates.iter().find(|e| e.what == what).map(|e| e.estimated)
}

fn simulated(p: &Parts<'_>, what: &str) -> Option<f64> {
    p.estimates.iter().find(|e| e.what == what).map(|e| e.simulated)
}

/// Parts of the yearly use that sizing estimates: words, and the names of the estimated and the simulated metric.
pub const ESTIMATED_PARTS: [(&str, &str, &str); 6] = [
    ("chillers", "estimated_chillers_j", "chillers_j"),
    ("central fans", "estimated_central_fans_j", "central_fans_j"),
    ("terminal fans", "estimated_terminal_fans_j", "terminal_fans_j"),
    ("pumps", "estimated_pumps_j", "pumps_j"),
    ("tower fans", "estimated_tower_fans_j", "tower_fans_j"),
    ("heat delivered", "estimated_heat_j", "heat_j"),
];

/// All metrics, in the order of the columns.
pub fn metrics() -> Vec<Metric> {
    vec![
        metric("supply_dew_point_c", "supply dew point", "degC", |p| {
            Some(p.design.dew_point.supply_dew_point_c)
        }),
        metric("room_limit_c", "room dew-point limit", "degC", |p| Some(p.design.dew_point.room_limit_c)),
        metric("sensible_water_c", "sensible water", "degC", |p| Some(p.design.dew_point.sensible_water_c)),
        metric("primary_air_m3_per_s", "primary air", "m3/s", |p| {
            Some(p.design.primary_unit.delivered_m3_per_s)
        }),
        metric("smallest_margin_k", "smallest margin in use", "K", |p| {
            let rooms = &p.decoupled?.rooms;
            least(rooms.iter().filter_map(|r| r.margin.as_ref()?.smallest_occupied_k))
        }),
        metric("wet_room_h", "room-hours wet in use", "h", |p| {
            Some(total(p.design, p.decoupled?, |r| {
                r.margin.as_ref().map_or(0.0, |m| m.occupied.below_zero_h)
            }))
        }),
        metric("decoupled_site_energy_j", "site energy, decoupled", "J", |p| {
            Some(p.decoupled?.site_energy_j())
        }),
        metric("all_air_site_energy_j", "site energy, all-air", "J", |p| Some(p.all_air?.site_energy_j())),
        metric("decoupled_yearly_cost", "energy cost a year, decoupled", "currency", |p| {
            p.economy.scheme(Scheme::Decoupled)?.yearly_energy.value
        }),
        metric("all_air_yearly_cost", "energy cost a year, all-air", "currency", |p| {
            p.economy.scheme(Scheme::AllAir)?.yearly_energy.value
        }),
        metric("decoupled_first_cost_known", "first cost that is priced, decoupled", "currency", |p| {
            let first = &p.economy.scheme(Scheme::Decoupled)?.first;
            (first.known > 0.0).then_some(first.known)
        }),
        metric("decoupled_peak_electricity_w", "peak electricity, decoupled", "W", |p| {
            Some(p.decoupled?.peaks.electricity.value_w)
        }),
        metric("all_air_peak_electricity_w", "peak electricity, all-air", "W", |p| {
            Some(p.all_air?.peaks.electricity.value_w)
        }),
        metric("decoupled_unmet_room_h", "unmet room-hours, decoupled", "h", |p| {
            Some(total(p.design, p.decoupled?, |r| r.unmet.warm_h + r.unmet.cold_h))
        }),
        metric("all_air_unmet_room_h", "unmet room-hours, all-air", "h", |p| {
            Some(total(p.design, p.all_air?, |r| r.unmet.warm_h + r.unmet.cold_h))
        }),
        metric("decoupled_mean_rh", "mean relative humidity, decoupled", "", |p| {
            mean_humidity(p.design, p.decoupled?)
        }),
        metric("all_air_mean_rh", "mean relative humidity, all-air", "", |p| {
            mean_humidity(p.design, p.all_air?)
        }),
        metric("sizing_objective", "objective as sizing estimates it", "", |p| {
            Some(p.design.dew_point.chosen.objective)
        }),
        metric("simulated_objective", "the same objective with the simulated year", "", simulated_objective),
        metric("estimated_chillers_j", "chillers, estimated", "J", |p| estimate(p, "chillers")),
        metric("chillers_j", "chillers", "J", |p| simulated(p, "chillers")),
        metric("estimated_central_fans_j", "central fans, estimated", "J", |p| estimate(p, "central fans")),
        metric("central_fans_j", "central fans", "J", |p| simulated(p, "central fans")),
        metric("estimated_terminal_fans_j", "terminal fans, estimated", "J", |p| {
            estimate(p, "terminal fans")
        }),
        metric("terminal_fans_j", "terminal fans", "J", |p| simulated(p, "terminal fans")),
        metric("estimated_pumps_j", "pumps, estimated", "J", |p| estimate(p, "pumps")),
        metric("pumps_j", "pumps", "J", |p| simulated(p, "pumps")),
        metric("estimated_tower_fans_j", "tower fans, estimated", "J", |p| estimate(p, "tower fans")),
        metric("tower_fans_j", "tower fans", "J", |p| simulated(p, "tower fans")),
        metric("estimated_heat_j", "heat delivered, estimated", "J", |p| estimate(p, "heat delivered")),
        metric("heat_j", "heat delivered", "J", |p| simulated(p, "heat delivered")),
    ]
}

/// What is kept of a point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PointResult {
    /// A value for each of [`metrics`]; null where a metric does not exist for this point.
    pub values: Vec<Option<f64>>,
    /// Why there are none; null for a point that was computed.
    pub problem: Option<String>,
}

impl PointResult {
    /// The metrics of a simulated point.
    pub fn of(project: &Project, design: &Design, year: &Year, economy: &Economy) -> Self {
        let estimates = estimates(project, design, year);
        let parts = Parts {
            project,
            estimates: &estimates,
            design,
            economy,
            decoupled: year.scheme(Scheme::Decoupled),
            all_air: year.scheme(Scheme::AllAir),
        };
        let values = metrics().iter().map(|m| (m.of)(&parts).filter(|v| v.is_finite())).collect();
        Self { values, problem: None }
    }

    /// A point that has no result.
    pub fn failed(reason: impl Into<String>) -> Self {
        Self { values: vec![None; metrics().len()], problem: Some(reason.into()) }
    }
}

/// Computes every point that is not known yet, side by side. `finished` is told of each as it ends, in no order; what is
/// returned is in the order of the points.
///
/// Each thread of the pool takes one point after the other and never a second one while it waits for something, so that
/// `compute` may use pools and caches of its own thread.
pub fn run<T: Clone + Send + Sync>(
    known: &[Option<T>],
    pool: &rayon::ThreadPool,
    compute: &(dyn Fn(usize) -> T + Sync),
    finished: &(dyn Fn(usize, &T) + Sync),
) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let parts: Vec<Vec<(usize, T)>> = pool.broadcast(|_| {
        let mut own = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= known.len() {
                return own;
            }
            if known[index].is_none() {
                let result = compute(index);
                finished(index, &result);
                own.push((index, result));
            }
        }
    });
    let mut computed: Vec<(usize, T)> = parts.into_iter().flatten().collect();
    computed.sort_by_key(|(index, _)| *index);
    let mut computed = computed.into_iter().map(|(_, result)| result);
    known.iter().filter_map(|known| known.clone().or_else(|| computed.next())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn known_points_are_kept_and_the_order_is_that_of_the_points() {
        let mut known = vec![None; 50];
        known[7] = Some(1000);
        known[49] = Some(2000);
        for threads in [1, 3] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let computed = AtomicUsize::new(0);
            let told = Mutex::new(Vec::new());
            let result = run(
                &known,
                &pool,
                &|i| {
                    computed.fetch_add(1, Ordering::Relaxed);
                    i * i
                },
                &|i, _| told.lock().unwrap().push(i),
            );
            assert_eq!(computed.into_inner(), 48);
            let mut told = told.into_inner().unwrap();
            told.sort_unstable();
            assert_eq!(told.len(), 48);
            for (i, r) in result.iter().enumerate() {
                assert_eq!(*r, known[i].unwrap_or(i * i));
            }
        }
    }

    #[test]
    fn names_of_metrics_are_unique_and_carry_their_unit() {
        let all = metrics();
        for (i, m) in all.iter().enumerate() {
            assert!(all[..i].iter().all(|o| o.name != m.name));
            let suffix = match m.unit {
                "degC" => "_c",
                "m3/s" => "_m3_per_s",
                "K" => "_k",
                "h" => "_h",
                "J" => "_j",
                "W" => "_w",
                _ => "",
            };
            assert!(m.name.ends_with(suffix), "{}", m.name);
        }
        assert_eq!(PointResult::failed("no").values.len(), all.len());
    }
}
