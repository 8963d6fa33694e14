//! The order of the stages.

use crate::carry::Carrier;
use crate::design::{Design, RoomNeeds, Service};
use crate::dew_point::{Known, Search, Solved};
use crate::needs::Prepared;
use crate::told::told;
use crate::yearly::Evaluator;
use crate::{balance, comfort, conditions, ducts, loads, needs, plant, primary_unit, terminals};
use drycoil_climate::WeatherYear;
use drycoil_findings::{Finding, FindingKind, Place, registry};
use drycoil_project::Project;
use drycoil_units::{Quantity, StandardAirFlow, Temperature, TemperatureDifference, UnitSystem};

/// Why no design exists. The findings say it in the project's terms.
#[derive(Debug, Clone, PartialEq)]
pub struct SizingError {
    /// What stands in the way, and what was found on the way there.
    pub findings: Vec<Finding>,
}

impl std::fmt::Display for SizingError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let first = self.findings.first().map_or("no design exists", |x| x.message.as_str());
        write!(f, "{first}")
    }
}

impl std::error::Error for SizingError {}

impl SizingError {
    pub(crate) fn one(kind: &'static FindingKind, message: impl Into<String>) -> Self {
        Self { findings: vec![Finding::new(kind, message)] }
    }
}

/// Designs the system. Work on rooms runs in `pool`; the result does not depend on its size.
///
/// # Errors
/// When no design exists at all: no room on the system, no supply dew point that keeps the rooms dry, weather that
/// design conditions cannot be derived from. Everything less is a finding of the design.
pub fn size(
    project: &Project,
    weather: &WeatherYear,
    pool: &rayon::ThreadPool,
) -> Result<Design, SizingError> {
    Ok(begin(project, weather, pool)?.complete())
}

/// [`size`] up to the point where every machine is chosen: [`Begun::design`] holds it, and [`Begun::complete`] adds what is
/// told beside the choice, which is half of the work and moves no number of the design.
///
/// # Errors
/// As [`size`].
pub fn begin<'a>(
    project: &'a Project,
    weather: &WeatherYear,
    pool: &'a rayon::ThreadPool,
) -> Result<Begun<'a>, SizingError> {
    // Within the pool from the start, so that short parallel steps need not wake it each time.
    pool.install(|| stages(project, weather, pool)).map_err(|mut error| {
        for finding in &mut error.findings {
            finding.message = told(&finding.message, project.told_units());
        }
        error
    })
}

/// A design whose machines are chosen.
pub struct Begun<'a> {
    project: &'a Project,
    pool: &'a rayon::ThreadPool,
    prepared: Prepared,
    evaluator: Evaluator<'a>,
    carrier: Carrier<'a>,
    known: Known,
    /// Findings that do not depend on what is told beside the choice, in the order in which they were made.
    findings: Vec<Finding>,
    design: Design,
}

impl Begun<'_> {
    /// The design without the curve of the supply dew point, other room limits, the price of pins and of separate service,
    /// and without the findings that come from these.
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// The whole design, the same bits as [`size`] gives.
    pub fn complete(self) -> Design {
        let Self { project, pool, prepared, evaluator, carrier, known, mut findings, mut design } = self;
        let decision = &mut design.dew_point;
        pool.install(move || {
            Search::new(project, &prepared, &evaluator, &carrier, known).tell_beside(decision);
        });
        choice_findings(project, &design.needs, &design.dew_point, &mut findings);
        waive(project, &mut findings);
        sort(&mut findings);
        design.findings = findings;
        design
    }
}

fn stages<'a>(
    project: &'a Project,
    weather: &WeatherYear,
    pool: &'a rayon::ThreadPool,
) -> Result<Begun<'a>, SizingError> {
    let mut findings = Vec::new();
    let climate = conditions::conditions(project, weather)?;

    let site = climate.site.clone();
    let loads = loads::compute(project, &climate, pool)?;
    let prepared = needs::prepare(project, &site, &loads, &climate.moisture);
    if prepared.zones.is_empty() {
        return Err(SizingError::one(
            registry::dew_point::NOTHING_ON_SYSTEM,
            format!("none of the {} rooms is on the system", project.rooms.len()),
        ));
    }
    let (evaluator, mut carrier, solved) = decide(project, weather, &climate, &loads, &prepared, pool)?;
    let Chosen { dew_point, needs, balance, primary_unit, mut terminals, known } =
        select(project, &climate, &prepared, &evaluator, &mut carrier, solved, pool, &mut findings)?;
    let plant = plant::size(
        project,
        evaluator.machines().tower(),
        &loads,
        &needs,
        &dew_point,
        &terminals,
        &primary_unit,
        &mut findings,
    )?;
    let ducts = ducts::size(project, &climate, &loads, &needs, &mut findings);
    let comfort =
        comfort::screen(project, site.pressure_pa, &loads, &needs, &terminals, &primary_unit, &mut findings);
    margin_findings(project, &needs, &terminals, &mut findings);
    terminals.sort_by(|a, b| a.water_margin_k.total_cmp(&b.water_margin_k).then(a.zone.cmp(&b.zone)));
    let mut list = findings.clone();
    choice_findings(project, &needs, &dew_point, &mut list);
    waive(project, &mut list);
    sort(&mut list);
    let design = Design {
        site,
        conditions: climate.conditions,
        loads,
        needs,
        dew_point,
        terminals,
        primary_unit,
        plant,
        ducts,
        balance,
        comfort,
        findings: list,
    };
    Ok(Begun { project, pool, prepared, evaluator, carrier, known, findings, design })
}

/// Largest difference between the share of exhaust that the search counted on and that of its result.
const EXHAUST_CLOSE: f64 = 0.01;
/// How often the search is repeated with the exhaust of its own result.
const EXHAUST_PASSES: usize = 4;

/// The search, repeated where its result returns another share of exhaust to the recovery than it counted on.
fn decide<'a>(
    project: &'a Project,
    weather: &WeatherYear,
    climate: &conditions::Climate,
    loads: &crate::Loads,
    prepared: &Prepared,
    pool: &'a rayon::ThreadPool,
) -> Result<(Evaluator<'a>, Carrier<'a>, Solved), SizingError> {
    let mut ratio = prepared.exhaust_ratio(project, |i| prepared.rooms[i].fixed);
    let mut evaluator = Evaluator::new(project, weather, climate, loads, prepared, ratio, pool)?;
    let carrier = Carrier::new(project, climate, loads, prepared);
    let mut pass = 0;
    loop {
        pass += 1;
        let lowest = evaluator.lowest_supply_dew_point_c();
        let (found, solved) = {
            let search = Search::new(project, prepared, &evaluator, &carrier, Known::default());
            let best =
                search.choose().map_err(|reason| no_point(project, evaluator.machines(), lowest, reason))?;
            let flows = search.flows_at(&best);
            let found = prepared.exhaust_ratio(project, |i| flows.room[i]);
            // Less exhaust than counted on could miss the supply dew point at design; a little more is on the safe side.
            let close = found >= ratio - 1e-9 && found - ratio <= EXHAUST_CLOSE;
            (found, (pass == EXHAUST_PASSES || close).then(|| search.decision(best)))
        };
        if let Some(solved) = solved {
            return Ok((evaluator, carrier, solved));
        }
        ratio = found;
        evaluator.set_exhaust_ratio(ratio);
    }
}

/// A decision with the machines that were selected for it.
struct Chosen {
    dew_point: crate::DewPointDecision,
    needs: Vec<RoomNeeds>,
    balance: Vec<crate::AirBalance>,
    primary_unit: crate::PrimaryUnitDesign,
    terminals: Vec<crate::TerminalDesign>,
    known: Known,
}

/// Selects machines; where selection refuses a zone that the search counted on, the search asks selection for that zone
/// and chooses anew.
#[allow(clippy::too_many_arguments)]
fn select(
    project: &Project,
    climate: &conditions::Climate,
    prepared: &Prepared,
    evaluator: &Evaluator<'_>,
    carrier: &mut Carrier<'_>,
    mut solved: Solved,
    pool: &rayon::ThreadPool,
    findings: &mut Vec<Finding>,
) -> Result<Chosen, SizingError> {
    loop {
        let mut told = Vec::new();
        let Solved { decision, flows, known } = solved;
        let limit_w =
            drycoil_air::raw::humidity_ratio_at_dew_point(decision.room_limit_c, climate.site.pressure_pa);
        let needs = prepared.resolve(project, limit_w, decision.supply_humidity_ratio_kg_per_kg, &flows);
        let balance = balance::balance(project, &needs, &mut told);
        let primary_unit =
            primary_unit::size(project, climate, evaluator.machines(), &needs, &decision, &mut told)?;
        let terminals =
            terminals::select(project, climate, carrier, &needs, &decision, &primary_unit, pool, &mut told);
        let mut again = false;
        if terminals.len() + flows.unserved < carrier.zones.len() {
            let served: std::collections::BTreeSet<&str> =
                terminals.iter().map(|t| t.zone.as_str()).collect();
            let refused: Vec<usize> = (0..carrier.zones.len())
                .filter(|z| !served.contains(carrier.zones[*z].name.as_str()))
                .collect();
            for zone in refused {
                again |= carrier.insist(zone);
            }
        }
        if !again {
            findings.append(&mut told);
            return Ok(Chosen { dew_point: decision, needs, balance, primary_unit, terminals, known });
        }
        let search = Search::new(project, prepared, evaluator, carrier, Known::default());
        let best = search.choose().map_err(|reason| {
            no_point(project, evaluator.machines(), evaluator.lowest_supply_dew_point_c(), reason)
        })?;
        solved = search.decision(best);
    }
}

/// Why no candidate could be evaluated: a primary-air unit that cannot be computed at its design cases looks like a supply
/// that no room can use.
fn no_point(
    project: &Project,
    machines: &crate::machines::Machines,
    lowest_c: f64,
    reason: String,
) -> SizingError {
    let supply_c = project.criteria.pins.supply_dew_point.as_ref().map_or(lowest_c, |p| p.value.to_celsius());
    for (name, outdoor, season) in machines.cases() {
        match machines.run_at_design(supply_c, outdoor, season) {
            Err(e) => {
                let message = format!("primary-air unit, {name}: {e}");
                return SizingError {
                    findings: vec![
                        Finding::new(registry::primary_unit::MACHINE, message).at(Place::part("primary air")),
                    ],
                };
            }
            Ok(s) if s.dew_point_missed.to_kelvin() > 1e-6 => {
                let units = project.told_units();
                return SizingError {
                    findings: vec![
                        Finding::new(
                            registry::primary_unit::NOT_DRY_ENOUGH,
                            format!(
                                "in the {name} condition the drying coil misses the supply dew point of {} by {}",
                                Temperature::celsius(supply_c).show(units),
                                s.dew_point_missed.show(units)
                            ),
                        )
                        .at(Place::part("primary air"))
                        .allowed("0"),
                    ],
                };
            }
            Ok(_) => {}
        }
    }
    SizingError::one(registry::dew_point::NO_SOLUTION, reason)
}

/// Findings of the rooms and of the margins.
fn margin_findings(
    project: &Project,
    needs: &[RoomNeeds],
    terminals: &[crate::TerminalDesign],
    findings: &mut Vec<Finding>,
) {
    let units = project.told_units();
    let t = |c: f64| Temperature::celsius(c).show(units);
    let dt = |k: f64| TemperatureDifference::kelvin(k).show(units);
    for (room, n) in project.rooms.iter().zip(needs) {
        let place = || room.place.clone().of(room.id.clone());
        for screen in &n.screens {
            match &screen.overruled {
                Some(reason) => findings.push(
                    Finding::new(
                        registry::dew_point::SCREEN_OVERRULED,
                        format!("room {} is on the system although {}", room.id, screen.reason),
                    )
                    .at(place())
                    .hint(format!("reason given: {reason}")),
                ),
                None => findings.push(
                    Finding::new(
                        registry::dew_point::SCREENED_OFF,
                        format!("room {} ({}): {}", room.id, room.name, screen.reason),
                    )
                    .at(place())
                    .hint(screen.instead.clone()),
                ),
            }
        }
        let served = matches!(n.service, Service::Terminal | Service::PrimaryOnly);
        if served && n.worst_dew_point_c > n.dew_point_limit_c + 1e-6 {
            findings.push(
                Finding::new(
                    registry::dew_point::ABOVE_LIMIT,
                    format!("room {} reaches {} on {}", room.id, t(n.worst_dew_point_c), n.worst_when),
                )
                .at(place())
                .value(t(n.worst_dew_point_c))
                .allowed(format!("at most {}", t(n.dew_point_limit_c))),
            );
        }
    }
    for term in terminals {
        let room = project.room(&term.rooms[0]);
        let place = room.map_or_else(Place::default, |r| r.place.clone()).of(term.zone.clone());
        if term.water_margin_k < -1e-9 {
            findings.push(
                Finding::new(
                    registry::dew_point::TRUE_MARGIN_NEGATIVE,
                    format!(
                        "terminal {}: coil air from {} has a dew point of {}, water enters at {}",
                        term.zone,
                        term.coil_air_from,
                        t(term.coil_air_dew_point_c),
                        t(term.water_entering_c)
                    ),
                )
                .at(place)
                .value(dt(term.water_margin_k))
                .allowed("0 or more"),
            );
        } else if term.water_margin_k < term.required_margin_k - 1e-9 {
            // Rounded up to what is printed, so that following the advice is enough.
            let step = match units {
                UnitSystem::Ip => 0.1 / 1.8,
                UnitSystem::Si => 0.1,
            };
            let raise = ((term.required_margin_k - term.water_margin_k) / step - 1e-6).ceil() * step;
            findings.push(
                Finding::new(
                    registry::dew_point::BELOW_REQUIRED_MARGIN,
                    format!(
                        "terminal {} keeps {} of margin where sensor error and control band ask for {}",
                        term.zone,
                        dt(term.water_margin_k),
                        dt(term.required_margin_k)
                    ),
                )
                .at(place)
                .value(dt(term.water_margin_k))
                .allowed(format!("at least {}", dt(term.required_margin_k)))
                .hint(if project.criteria.pins.sensible_water.is_some() {
                    format!(
                        "put a sensor and a wet switch here, or raise the water by {}, or bring the room's dew point to {}",
                        dt(raise),
                        t(term.coil_air_dew_point_c - raise)
                    )
                } else {
                    format!(
                        "put a sensor and a wet switch here, or write `design_margin = \"{}\"` under `[criteria]`, which \
                         solves for warmer water or drier rooms",
                        dt(project.criteria.design_margin.value.to_kelvin() + raise)
                    )
                }),
            );
        }
    }
}

/// Findings of the choice of the supply dew point.
fn choice_findings(
    project: &Project,
    needs: &[RoomNeeds],
    decision: &crate::DewPointDecision,
    findings: &mut Vec<Finding>,
) {
    let units = project.told_units();
    let t = |c: f64| Temperature::celsius(c).show(units);
    for pin in &decision.pins {
        if pin.price > 0.0 {
            findings.push(
                Finding::new(
                    registry::dew_point::PIN_COSTS,
                    format!(
                        "the {} pinned at {} costs {} {} a year against {}",
                        pin.what,
                        t(pin.pinned_c),
                        objective(decision, pin.price),
                        decision.objective_unit,
                        t(pin.free_c)
                    ),
                )
                .at(Place::part("primary air")),
            );
        }
    }
    if let Some(first) = decision.governing.first()
        && first.saving_if_separate > 0.0
        && first.saving_if_separate > 0.002 * decision.chosen.objective
    {
        let e = &project.economics;
        let priced = e.electricity.is_some()
            && e.separate_service_each.is_some()
            && e.discount_rate.is_some()
            && e.life.is_some();
        let device = if priced { "" } else { ", before the device, which is not priced," };
        findings.push(
            Finding::new(
                registry::dew_point::SEPARATE_SERVICE_PAYS,
                format!(
                    "room {} served separately saves {} {} a year{} and lets the supply rise to {}",
                    first.room,
                    objective(decision, first.saving_if_separate),
                    decision.objective_unit,
                    device,
                    t(first.supply_dew_point_if_separate_c)
                ),
            )
            .at(Place::part(first.room.clone()))
            .hint(first.ways.join("; ")),
        );
    }
    if decision.binding.iter().any(|b| b.starts_with("lowest dew point")) {
        findings.push(
            Finding::new(
                registry::dew_point::AT_LOWEST_SUPPLY,
                format!(
                    "the supply dew point of {} is the lowest that the drying water reaches",
                    t(decision.supply_dew_point_c)
                ),
            )
            .at(Place::part("primary air")),
        );
    }
    if decision.supply_dew_point_c < 45.0 / 1.8 - 160.0 / 9.0 {
        findings.push(
            Finding::new(
                registry::dew_point::LOW_SUPPLY,
                format!("the supply dew point is {}", t(decision.supply_dew_point_c)),
            )
            .at(Place::part("primary air")),
        );
    }
    starved(project, needs, units, findings);
}

/// Zones whose flow one room forces.
fn starved(project: &Project, needs: &[RoomNeeds], units: UnitSystem, findings: &mut Vec<Finding>) {
    let mut by_zone: std::collections::BTreeMap<&str, Vec<usize>> = std::collections::BTreeMap::new();
    for (i, n) in needs.iter().enumerate() {
        if n.service == Service::Terminal {
            by_zone.entry(project.rooms[i].zone.value.as_str()).or_default().push(i);
        }
    }
    for (zone, rooms) in by_zone {
        if rooms.len() < 2 {
            continue;
        }
        let own = |i: usize| needs[i].fixed_m3_per_s.max(needs[i].latent_need_m3_per_s);
        let sum: f64 = rooms.iter().map(|i| own(*i)).sum();
        let flow: f64 = rooms.iter().map(|i| needs[*i].primary_m3_per_s).sum();
        let Some(force) =
            rooms.iter().copied().find(|i| own(*i) >= needs[*i].primary_m3_per_s * (1.0 - 1e-9))
        else {
            continue;
        };
        if flow > sum * 1.25 {
            let show = |v: f64| StandardAirFlow::m3_per_s(v).show(units);
            findings.push(
                Finding::new(
                    registry::ventilation::STARVED_IN_ZONE,
                    format!(
                        "room {} needs {} and forces zone {zone} to {} where the sum of needs is {}",
                        project.rooms[force].id,
                        show(own(force)),
                        show(flow),
                        show(sum)
                    ),
                )
                .at(project.rooms[force].place.clone().of(project.rooms[force].id.clone())),
            );
        }
    }
}

fn objective(decision: &crate::DewPointDecision, value: f64) -> String {
    if decision.objective_unit == "kWh" { format!("{:.0}", value / 3.6e6) } else { format!("{value:.0}") }
}

/// Marks the findings that the project accepts.
fn waive(project: &Project, findings: &mut [Finding]) {
    for finding in findings {
        for rule in &project.waivers {
            let part_fits = rule
                .part
                .as_deref()
                .is_none_or(|part| finding.places.iter().any(|p| p.part.as_deref() == Some(part)));
            if rule.id.eq_ignore_ascii_case(finding.id()) && part_fits {
                finding.waiver = Some(rule.waiver.clone());
            }
        }
    }
}

fn sort(findings: &mut [Finding]) {
    findings.sort_by_cached_key(|f: &Finding| {
        (
            std::cmp::Reverse(f.severity()),
            f.id(),
            f.places.first().and_then(|p| p.line).unwrap_or(0),
            f.message.clone(),
        )
    });
}
