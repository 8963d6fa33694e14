//! The supply dew point, the room dew-point limit and the sensible-water temperature, chosen together.
//!
//! Every candidate is evaluated over the weather bins of the year with part-load models of all machines that the three
//! choices steer ([`crate::yearly`]). The search is a grid over the room limit and the supply dew point, then halved steps
//! around the best supply dew point; the water stands at the room limit plus the design margin unless it is pinned. A
//! pinned value is kept, the others are solved, and the price of the pin is the difference of the two objectives.

use crate::carry::{At, Carrier};
use crate::design::{DewPointDecision, GoverningRoom, Need, PinPrice, Service, TradeOffPoint};
use crate::needs::{Flows, Prepared};
use crate::yearly::Evaluator;
use drycoil_air::raw;
use drycoil_project::Project;
use drycoil_units::Quantity;
use std::sync::Arc;

/// Step of the grid over the supply dew point and the room limit: 1 degF and 1 degF.
const STEP_K: f64 = 1.0 / 1.8;
/// Smallest step of the supply dew point: one eighth of the grid step, so that all searches meet on one lattice and share
/// what was computed for it.
const FINE: i64 = 8;
/// Lowest room limit tried unless pinned, 50 degF. The highest comes from comfort and code, see [`highest_limit`].
const LOWEST_LIMIT_C: f64 = 10.0;
/// How many rooms the list of governing rooms holds.
const GOVERNING: usize = 8;
/// For how many of them separate service is priced.
const PRICED: usize = 4;

/// A point of the search.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Candidate {
    supply_c: f64,
    limit_c: f64,
    water_c: f64,
}

/// What is held fixed in a search.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Held {
    supply_c: Option<f64>,
    limit_c: Option<f64>,
    water_c: Option<f64>,
}

/// Bits of supply, limit and water, and the rooms served separately.
type PointKey = (u64, u64, u64, Vec<usize>);

pub(crate) struct Search<'a> {
    project: &'a Project,
    held: Held,
    prepared: &'a Prepared,
    evaluator: &'a Evaluator<'a>,
    carrier: &'a Carrier<'a>,
    lowest_c: f64,
    design_margin_k: f64,
    highest_limit_c: f64,
    highest_because: &'static str,
    known: Known,
}

/// What a search has computed already, by supply, limit, water and the rooms served separately.
#[derive(Default)]
pub(crate) struct Known {
    evaluations: std::cell::Cell<usize>,
    /// Flows, with the terminals that they need.
    flows: std::cell::RefCell<std::collections::BTreeMap<PointKey, Option<Arc<Flows>>>>,
    /// Points.
    points: std::cell::RefCell<std::collections::BTreeMap<PointKey, Option<TradeOffPoint>>>,
}

/// Whether separate service is priced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Separate {
    Priced,
    Listed,
}

/// Highest room limit that comfort and code allow, and which of them binds: the code's ceiling of the indoor dew point; the
/// dew point of the highest relative humidity of comfort at the coolest set point of a room with primary air. What the
/// terminals allow is asked candidate by candidate.
fn highest_limit(project: &Project, prepared: &Prepared) -> (f64, &'static str) {
    let coolest = prepared
        .rooms
        .iter()
        .filter(|r| r.zone != usize::MAX)
        .map(|r| r.set_point_c)
        .fold(f64::INFINITY, f64::min);
    let mut best =
        (project.criteria.code_dew_point.value.to_celsius(), "the code's ceiling of the indoor dew point");
    if coolest.is_finite() {
        let humid = project.criteria.humidity_high.value.to_ratio();
        let w = raw::humidity_ratio_from_relative_humidity(coolest, humid, prepared.pressure_pa);
        let comfort = raw::dew_point_c(w, prepared.pressure_pa);
        if comfort < best.0 {
            best = (comfort, "the highest relative humidity of comfort");
        }
    }
    best
}

/// A decision with the flows that it stands on. What is told beside it (the curve, other room limits, the price of pins
/// and of separate service) is empty until [`Search::tell_beside`] fills it in.
pub(crate) struct Solved {
    pub decision: DewPointDecision,
    pub flows: Flows,
    /// What the search knows, to go on from.
    pub known: Known,
}

impl<'a> Search<'a> {
    pub(crate) fn new(
        project: &'a Project,
        prepared: &'a Prepared,
        evaluator: &'a Evaluator<'a>,
        carrier: &'a Carrier<'a>,
        known: Known,
    ) -> Self {
        let pins = &project.criteria.pins;
        let (highest_limit_c, highest_because) = highest_limit(project, prepared);
        Self {
            project,
            held: Held {
                supply_c: pins.supply_dew_point.as_ref().map(|p| p.value.to_celsius()),
                limit_c: pins.room_limit.as_ref().map(|p| p.value.to_celsius()),
                water_c: pins.sensible_water.as_ref().map(|p| p.value.to_celsius()),
            },
            prepared,
            evaluator,
            carrier,
            lowest_c: evaluator.lowest_supply_dew_point_c(),
            design_margin_k: project.criteria.design_margin.value.si(),
            highest_limit_c,
            highest_because,
            known,
        }
    }

    /// The best point with the pins as they are. `Err` gives the reason why no point exists.
    pub(crate) fn choose(&self) -> Result<TradeOffPoint, String> {
        self.best(self.held, &[]).ok_or_else(|| self.why_none(self.held, self.project.told_units()))
    }

    /// Flows of a point that [`Self::choose`] gave.
    pub(crate) fn flows_at(&self, best: &TradeOffPoint) -> Flows {
        let chosen = Candidate {
            supply_c: best.supply_dew_point_c,
            limit_c: best.room_limit_c,
            water_c: best.sensible_water_c,
        };
        self.flows(chosen, &[]).expect("the chosen point was evaluated").as_ref().clone()
    }

    /// The decision for a point that [`Self::choose`] gave, without what is told beside it.
    pub(crate) fn decision(self, best: TradeOffPoint) -> Solved {
        let (project, held) = (self.project, self.held);
        let w_limit = raw::humidity_ratio_at_dew_point(best.room_limit_c, self.prepared.pressure_pa);
        let w_supply = raw::humidity_ratio_at_dew_point(best.supply_dew_point_c, self.prepared.pressure_pa);
        let governing = self.governing(project, held, &best, [w_limit, w_supply], Separate::Listed);
        let binding = self.binding(project, held, &best, w_limit, w_supply);
        let decision = DewPointDecision {
            supply_dew_point_c: best.supply_dew_point_c,
            supply_humidity_ratio_kg_per_kg: w_supply,
            room_limit_c: best.room_limit_c,
            sensible_water_c: best.sensible_water_c,
            objective_name: self.evaluator.objective_name().to_owned(),
            objective_unit: self.evaluator.objective_unit(),
            chosen: best,
            curve: Vec::new(),
            by_room_limit: Vec::new(),
            governing,
            pins: Vec::new(),
            evaluations: self.known.evaluations.get(),
            binding,
            method: self.evaluator.method(),
        };
        Solved { flows: self.flows_at(&best), decision, known: self.known }
    }

    /// Fills in what is told beside a decision: none of it moves the choice.
    pub(crate) fn tell_beside(&self, decision: &mut DewPointDecision) {
        let (project, held, best) = (self.project, self.held, decision.chosen);
        let w_limit = raw::humidity_ratio_at_dew_point(best.room_limit_c, self.prepared.pressure_pa);
        let w_supply = decision.supply_humidity_ratio_kg_per_kg;
        decision.curve = self.curve(&best);
        decision.by_room_limit = self.by_room_limit(held);
        decision.pins = self.price_pins(held, &best);
        decision.governing = self.governing(project, held, &best, [w_limit, w_supply], Separate::Priced);
        decision.evaluations = self.known.evaluations.get();
    }

    fn water_for(&self, limit_c: f64, held: Held) -> f64 {
        held.water_c.unwrap_or(limit_c + self.design_margin_k)
    }

    fn evaluate(&self, c: Candidate, separate: &[usize]) -> Option<TradeOffPoint> {
        let key = (c.supply_c.to_bits(), c.limit_c.to_bits(), c.water_c.to_bits(), separate.to_vec());
        if let Some(point) = self.known.points.borrow().get(&key) {
            return *point;
        }
        let point = self.compute(c, separate);
        self.known.points.borrow_mut().insert(key, point);
        point
    }

    fn compute(&self, c: Candidate, separate: &[usize]) -> Option<TradeOffPoint> {
        let flows = self.flows(c, separate)?;
        self.known.evaluations.set(self.known.evaluations.get() + 1);
        self.evaluator.point(c.supply_c, c.limit_c, c.water_c, &flows, separate)
    }

    /// Flows of a candidate and the terminals that they need; `None` when no finite flow keeps the rooms dry or the
    /// primary-air unit cannot deliver the supply.
    fn flows(&self, c: Candidate, separate: &[usize]) -> Option<Arc<Flows>> {
        let key = (c.supply_c.to_bits(), c.limit_c.to_bits(), c.water_c.to_bits(), separate.to_vec());
        if let Some(known) = self.known.flows.borrow().get(&key) {
            return known.clone();
        }
        let p = self.prepared.pressure_pa;
        let limit_w = raw::humidity_ratio_at_dew_point(c.limit_c, p);
        let supply_w = raw::humidity_ratio_at_dew_point(c.supply_c, p);
        let flows = self.evaluator.delivered_c(c.supply_c).and_then(|delivered_c| {
            let at = At { water_c: c.water_c, limit_w, supply_w, delivered_c };
            let flows = self.prepared.flows(limit_w, supply_w, separate, &self.carrier.at(at));
            (flows.total.is_finite() && flows.total > 0.0).then(|| Arc::new(flows))
        });
        self.known.flows.borrow_mut().insert(key, flows.clone());
        flows
    }

    /// Room limits to try.
    fn limits(&self, held: Held) -> Vec<f64> {
        if let Some(limit) = held.limit_c {
            return vec![limit];
        }
        if let Some(water) = held.water_c {
            // The water decides how humid a room may be.
            return vec![water - self.design_margin_k];
        }
        let (lo, hi) = (LOWEST_LIMIT_C, self.highest_limit_c);
        // Steps down from the highest limit, so that the edge itself is tried.
        let n = ((hi - lo) / STEP_K).floor().max(0.0) as usize;
        (0..=n).rev().map(|i| hi - STEP_K * i as f64).collect()
    }

    fn best(&self, held: Held, separate: &[usize]) -> Option<TradeOffPoint> {
        let mut best =
            self.each_limit(held, separate, None).into_iter().fold(None, |best, p| better(best, Some(p)))?;
        if held.limit_c.is_some() || held.water_c.is_some() {
            return Some(best);
        }
        // The warmest water that the terminals can work with lies between two limits of the grid.
        let mut step = STEP_K / 2.0;
        while step >= STEP_K / FINE as f64 - 1e-12 {
            for limit_c in [best.room_limit_c + step, best.room_limit_c - step] {
                if limit_c <= self.highest_limit_c + 1e-9
                    && limit_c >= LOWEST_LIMIT_C - 1e-9
                    && let Some(p) = self.best_supply(limit_c, held, separate, Some(best.supply_dew_point_c))
                    && better(Some(best), Some(p)) != Some(best)
                {
                    best = p;
                    break;
                }
            }
            step /= 2.0;
        }
        Some(best)
    }

    /// Best point of each room limit. The optimum moves little from one limit to the next, so each search starts where the
    /// last one ended; the first one looks at the whole range unless `near` says where to start.
    fn each_limit(&self, held: Held, separate: &[usize], near: Option<f64>) -> Vec<TradeOffPoint> {
        let mut start = near;
        let mut out = Vec::new();
        for limit_c in self.limits(held) {
            if let Some(p) = self.best_supply(limit_c, held, separate, start) {
                start = Some(p.supply_dew_point_c);
                out.push(p);
            }
        }
        out
    }

    /// Best supply dew point at one room limit: over the whole range, or downhill from `near`.
    fn best_supply(
        &self,
        limit_c: f64,
        held: Held,
        separate: &[usize],
        near: Option<f64>,
    ) -> Option<TradeOffPoint> {
        let water_c = self.water_for(limit_c, held);
        let candidate = |supply_c: f64| Candidate { supply_c, limit_c, water_c };
        if let Some(supply_c) = held.supply_c {
            return self.evaluate(candidate(supply_c), separate);
        }
        // The driest supply costs the most drying, the wettest the most air; the optimum lies between.
        let hi = limit_c - 0.2;
        if hi <= self.lowest_c {
            return None;
        }
        // The lattice: lowest supply plus a whole number of fine steps.
        let top = ((hi - self.lowest_c) / STEP_K * FINE as f64).floor() as i64;
        let on = |i: i64| self.lowest_c + STEP_K * i as f64 / FINE as f64;
        let mut best: Option<(i64, TradeOffPoint)> = None;
        let look = |i: i64, best: &mut Option<(i64, TradeOffPoint)>| {
            // Where terminals serve fewer zones the yearly use is not asked for.
            let unserved = |i: i64| self.flows(candidate(on(i)), separate).map(|f| f.unserved);
            if (0..=top).contains(&i)
                && best.is_none_or(|b| unserved(i).is_some_and(|n| n <= b.1.unserved_zones))
                && let Some(p) = self.evaluate(candidate(on(i)), separate)
                && best.is_none_or(|b| better(Some(b.1), Some(p)) != Some(b.1))
            {
                *best = Some((i, p));
            }
        };
        if let Some(c) = near {
            let i = ((c - self.lowest_c) / STEP_K * FINE as f64).round() as i64;
            look(i.clamp(0, top), &mut best);
        }
        // The whole range: at first, and where the place to start from leaves zones without a terminal.
        if best.is_none_or(|b| b.1.unserved_zones > 0) {
            (0..=top / FINE).for_each(|i| look(i * FINE, &mut best));
        }
        let mut step = FINE;
        while step >= 1 {
            let before = best?.0;
            look(before - step, &mut best);
            look(before + step, &mut best);
            // Downhill with this step until no neighbour is better, then with half of it.
            if best?.0 == before {
                step /= 2;
            }
        }
        best.map(|b| b.1)
    }

    fn curve(&self, best: &TradeOffPoint) -> Vec<TradeOffPoint> {
        let hi = best.room_limit_c - 0.2;
        // Beyond three times the chosen flow the curve only shows that it goes on rising.
        let n = ((hi - self.lowest_c) / (STEP_K / 2.0)).floor().max(0.0) as usize;
        let mut points: Vec<TradeOffPoint> = (0..=n)
            .filter_map(|i| {
                let supply_c = self.lowest_c + STEP_K / 2.0 * i as f64;
                let c = Candidate { supply_c, limit_c: best.room_limit_c, water_c: best.sensible_water_c };
                self.evaluate(c, &[])
            })
            .filter(|p| p.primary_m3_per_s <= 3.0 * best.primary_m3_per_s)
            .collect();
        points.push(*best);
        points.sort_by(|a, b| a.supply_dew_point_c.total_cmp(&b.supply_dew_point_c));
        points.dedup_by(|a, b| (a.supply_dew_point_c - b.supply_dew_point_c).abs() < 1e-9);
        points
    }

    fn by_room_limit(&self, held: Held) -> Vec<TradeOffPoint> {
        // A pinned limit leaves one point; the rest of the row shows what the pin rules out.
        let free = Held { limit_c: None, water_c: None, ..held };
        self.each_limit(free, &[], None)
    }

    fn price_pins(&self, held: Held, best: &TradeOffPoint) -> Vec<PinPrice> {
        let mut out = Vec::new();
        let mut price = |what: &str, pinned: Option<f64>, free: Held, value: fn(&TradeOffPoint) -> f64| {
            let Some(pinned_c) = pinned else { return };
            if let Some(other) = self.best(free, &[]) {
                out.push(PinPrice {
                    what: what.to_owned(),
                    pinned_c,
                    free_c: value(&other),
                    free_objective: other.objective,
                    price: best.objective - other.objective,
                });
            }
        };
        price("supply dew point", held.supply_c, Held { supply_c: None, ..held }, |p| p.supply_dew_point_c);
        price("room dew-point limit", held.limit_c, Held { limit_c: None, ..held }, |p| p.room_limit_c);
        price("sensible water", held.water_c, Held { water_c: None, ..held }, |p| p.sensible_water_c);
        out
    }

    /// Rooms on the system by the supply dew point that they need at their fixed flow, driest first.
    fn ranking(&self, w_limit: f64) -> Vec<(usize, Option<f64>)> {
        let mut list: Vec<(usize, Option<f64>)> = self
            .prepared
            .rooms
            .iter()
            .filter(|r| matches!(r.service, Service::Terminal | Service::PrimaryOnly))
            .filter(|r| r.latent_flow(w_limit, 0.0) > 0.0)
            .map(|r| (r.index, r.required_supply(w_limit)))
            .collect();
        // A room that no supply can hold at its fixed flow comes first. Of the rooms that share a terminal only the first
        // counts: they can only be served separately together.
        list.sort_by(|a, b| a.1.unwrap_or(-1.0).total_cmp(&b.1.unwrap_or(-1.0)).then(a.0.cmp(&b.0)));
        let mut seen = std::collections::BTreeSet::new();
        list.retain(|(i, _)| seen.insert(self.prepared.rooms[*i].zone));
        list
    }

    fn governing(
        &self,
        project: &Project,
        held: Held,
        best: &TradeOffPoint,
        [w_limit, w_supply]: [f64; 2],
        served: Separate,
    ) -> Vec<GoverningRoom> {
        let ranking = self.ranking(w_limit);
        let mut separate: Vec<usize> = Vec::new();
        let mut out = Vec::new();
        // Separate service is weighed at the limit and water already chosen: only the supply moves.
        let near = Held { limit_c: Some(best.room_limit_c), water_c: Some(best.sensible_water_c), ..held };
        for (n, (index, required)) in ranking.into_iter().take(GOVERNING).enumerate() {
            let r = &self.prepared.rooms[index];
            separate.extend_from_slice(&self.prepared.zones[r.zone].rooms);
            let extra = (r.latent_flow(w_limit, w_supply) - r.fixed).max(0.0);
            let without = if n < PRICED && served == Separate::Priced {
                self.best_supply(best.room_limit_c, near, &separate, Some(best.supply_dew_point_c))
            } else {
                None
            };
            let room = &project.rooms[index];
            out.push(GoverningRoom {
                room: room.id.clone(),
                required_dew_point_c: required.map(|w| raw::dew_point_c(w, self.prepared.pressure_pa)),
                extra_flow_m3_per_s: extra,
                saving_if_separate: without.map_or(f64::NAN, |w| best.objective - w.objective),
                supply_dew_point_if_separate_c: without.map_or(f64::NAN, |w| w.supply_dew_point_c),
                ways: ways(project, r.fixed, extra),
            });
        }
        out
    }

    fn binding(
        &self,
        project: &Project,
        held: Held,
        best: &TradeOffPoint,
        w_limit: f64,
        w_supply: f64,
    ) -> Vec<String> {
        let units = project.told_units();
        let show = |c: f64| drycoil_units::Temperature::celsius(c).show(units);
        let mut out = Vec::new();
        for (what, pin) in [
            ("supply dew point", held.supply_c),
            ("room dew-point limit", held.limit_c),
            ("sensible water", held.water_c),
        ] {
            if let Some(c) = pin {
                out.push(format!("{what} pinned at {}", show(c)));
            }
        }
        if held.supply_c.is_none() && best.supply_dew_point_c < self.lowest_c + 0.5 * STEP_K / FINE as f64 {
            out.push(format!("lowest dew point that the drying water reaches, {}", show(self.lowest_c)));
        }
        if held.limit_c.is_none() && held.water_c.is_none() {
            let warmer = Candidate {
                supply_c: best.supply_dew_point_c,
                limit_c: best.room_limit_c + STEP_K / FINE as f64,
                water_c: best.sensible_water_c + STEP_K / FINE as f64,
            };
            let lost = self.flows(warmer, &[]).map_or(0, |f| f.unserved.saturating_sub(best.unserved_zones));
            if lost > 0 {
                out.push(format!(
                    "warmest water with which terminals still carry every zone that any water can: {} more would leave {lost} \
                     without a unit",
                    drycoil_units::TemperatureDifference::kelvin(STEP_K / FINE as f64).show(units)
                ));
            }
            if best.room_limit_c > self.highest_limit_c - 1e-6 {
                out.push(format!(
                    "room dew-point limit at its highest, {}, by {}",
                    show(self.highest_limit_c),
                    self.highest_because
                ));
            }
            if best.room_limit_c < LOWEST_LIMIT_C + STEP_K {
                out.push(format!("lowest room dew-point limit considered, {}", show(LOWEST_LIMIT_C)));
            }
            if !self.evaluator.weighs_terminals() && (lost > 0 || best.room_limit_c > LOWEST_LIMIT_C + STEP_K)
            {
                out.push(
                    "first cost of terminals is not priced: warm water looks free although it asks for larger coils and more \
                     units"
                        .to_owned(),
                );
            }
        }
        let latent = self
            .prepared
            .rooms
            .iter()
            .filter(|r| {
                r.zone != usize::MAX
                    && r.latent_flow(w_limit, w_supply) > r.fixed
                    && r.fixed_need != Need::None
            })
            .count();
        if latent > 0 {
            out.push(format!(
                "latent gain decides the primary air of {latent} room{}",
                if latent == 1 { "" } else { "s" }
            ));
        }
        out
    }

    fn why_none(&self, held: Held, units: drycoil_units::UnitSystem) -> String {
        let show = |c: f64| drycoil_units::Temperature::celsius(c).show(units);
        let lowest = show(self.lowest_c);
        // The room that asks for the driest supply at the most humid limit that may be tried.
        let limit_c = self.limits(held).first().copied().unwrap_or(self.highest_limit_c);
        let w_limit = raw::humidity_ratio_at_dew_point(limit_c, self.prepared.pressure_pa);
        let driest = self.ranking(w_limit).first().map_or_else(String::new, |(index, needed)| {
            let id = &self.project.rooms[*index].id;
            match needed {
                Some(w) => format!(
                    "; room {id} asks for the driest, {}, at its flow without moisture",
                    show(raw::dew_point_c(*w, self.prepared.pressure_pa))
                ),
                None => {
                    format!("; room {id} stays too humid at its flow without moisture whatever the supply")
                }
            }
        });
        match held.supply_c {
            Some(s) if held.limit_c.is_some_and(|l| s >= l) => {
                "the pinned supply dew point is not below the room dew-point limit".to_owned()
            }
            Some(s) if s < self.lowest_c - 1e-9 => format!(
                "the pinned supply dew point of {} is below the {lowest} that the drying water reaches",
                show(s)
            ),
            Some(s) => format!(
                "the pinned supply dew point of {} does not keep every room below its dew-point limit with a finite flow{driest}",
                show(s)
            ),
            None => format!(
                "no supply dew point from {lowest} up keeps every room below its dew-point limit with a finite flow{driest}"
            ),
        }
    }
}

fn better(a: Option<TradeOffPoint>, b: Option<TradeOffPoint>) -> Option<TradeOffPoint> {
    match (a, b) {
        (Some(a), Some(b)) => {
            // Zones that a terminal serves come first, then the objective; equal objectives: least flow.
            let b_wins = b
                .unserved_zones
                .cmp(&a.unserved_zones)
                .then(b.objective.total_cmp(&a.objective))
                .then(b.primary_m3_per_s.total_cmp(&a.primary_m3_per_s))
                .is_lt();
            Some(if b_wins { b } else { a })
        }
        (a, b) => a.or(b),
    }
}

fn ways(project: &Project, fixed: f64, extra: f64) -> Vec<String> {
    let largest = project.catalogue.models.iter().map(|m| m.primary_max.to_m3_per_s()).fold(0.0, f64::max);
    let mut out = Vec::new();
    if extra > 0.0 {
        out.push("supplementary primary-air box that opens with the room's dew point".to_owned());
    }
    if largest > 0.0 && fixed + extra > largest {
        out.push("second terminal".to_owned());
    }
    out.push("local drying in the room".to_owned());
    out.push("leave the room off the system".to_owned());
    out
}
