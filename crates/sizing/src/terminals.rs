//! Selection of terminal units and proof that their coils stay dry.
//!
//! For every zone the models of the catalogue are tried in their order. A model must carry the zone's primary air within
//! its damper range, meet the sensible load with spare, heat, stay within the discharge limits and the sound limit, and
//! fit the pressures. The first that passes is taken; each smaller one keeps the reason why it failed. Where one unit's
//! damper is too small but its coil is not, the rest of the primary air comes through a supplementary box; otherwise the
//! zone gets several units.

use crate::carry::Carrier;
use crate::conditions::Climate;
use crate::design::{
    CoilFit, CoilSteps, DewPointDecision, Loads, PrimaryUnitDesign, Rejection, RoomNeeds, Service,
    TerminalDesign, TerminalPartLoad, TerminalSteps,
};
use crate::machines::air_point;
use drycoil_air::raw;
use drycoil_exchange::sensible_coil::{
    CoilCircuiting, CoilEntering, FittedCoil, FittedParameters, RatingPoint, SensibleCoil, SensibleResult,
    Tubes, fit_rating_points,
};
use drycoil_findings::{Finding, registry};
use drycoil_plant::air_point::AirPoint;
use drycoil_plant::fan::{TerminalFan, TerminalFanRating};
use drycoil_plant::terminal::{self, IdleFan, TerminalHeating, TerminalHour, TerminalState, TerminalUnit};
use drycoil_project::{
    CoilAir, CoilRating, DayType, FanArrangement, HeatingCoil, HeatingKind, Project, TerminalChoice,
    TerminalModel,
};
use drycoil_units::{
    ActualAirFlow, HumidityRatio, MassFlow, Power, Pressure, PressureDifference, Quantity,
    STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, StandardAirFlow, Temperature, UnitSystem, Velocity, WaterFlow,
};
use drycoil_water::friction::Regime;
use drycoil_water::liquid::WaterProperties;
use drycoil_water::pipe::{MaximumFlowRule, PipeLimits, PipeMaterial, size_pipe};
use drycoil_water::valve::{FlowCoefficient, authority};
use rayon::prelude::*;

/// Share of the heat-transfer resistance that lies in the metal of a coil. Common practice, no source.
const METAL_SHARE: f64 = 0.05;
/// Exponent of the air-side film in the air flow, where rating points do not show it. Common practice, no source.
const AIR_EXPONENT: f64 = 0.6;
/// Share of the air side in the resistance of a coil with a single rating point. Common practice, no source.
const AIR_SHARE: f64 = 0.7;
/// Smallest steady opening of a control valve as a share of its flow. Common practice, no source.
pub(crate) const SMALLEST_VALVE_SHARE: f64 = 0.1;
/// Part of the facade leakage that enters above the ceiling. Common practice, no source: plenum over storey height.
pub const PLENUM_INFILTRATION: f64 = 0.25;
/// Reheat at the cooling peak that is worth a finding, W: more than one lamp.
const LEAST_REHEAT_W: f64 = 10.0;
/// Velocity limit of runouts, m/s. Common practice, no source.
const RUNOUT_VELOCITY: f64 = 1.2;

/// A model of the catalogue with fitted machines.
pub(crate) struct Ready<'a> {
    pub(crate) model: &'a TerminalModel,
    unit: TerminalUnit,
    cooling_residual: f64,
}

/// The air of a zone's rooms.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ZoneAir {
    pub(crate) set_point_c: f64,
    pub(crate) heating_c: f64,
    pub(crate) humidity_ratio: f64,
    pub(crate) infiltration_kg_per_s: f64,
}

impl ZoneAir {
    /// Rooms that lose no heat and leak no air.
    pub(crate) fn new(set_point_c: f64, humidity_ratio: f64) -> Self {
        Self { set_point_c, heating_c: set_point_c, humidity_ratio, infiltration_kg_per_s: 0.0 }
    }
}

/// What a zone asks of its terminals.
#[derive(Clone)]
pub(crate) struct Zone {
    pub(crate) name: String,
    /// Room indices, thermostat first.
    rooms: Vec<usize>,
    sensible_w: f64,
    plenum_w: f64,
    heating_w: f64,
    primary: f64,
    total_air_changes: f64,
    pub(crate) air: ZoneAir,
    worst_dew_point_c: f64,
    worst_room: usize,
    pub(crate) choice: TerminalChoice,
}

impl Zone {
    /// What each of `count` units has to do when the zone gets `primary`.
    pub(crate) fn share(&self, count: u32, primary: f64) -> Share {
        let n = f64::from(count);
        Share {
            count,
            primary: primary / n,
            supplementary: 0.0,
            load_w: (self.sensible_w - self.plenum_w) / n,
            plenum_w: self.plenum_w / n,
            heating_w: self.heating_w / n,
        }
    }
}

pub(crate) struct Context<'a> {
    pub(crate) project: &'a Project,
    pub(crate) pressure_pa: f64,
    pub(crate) outdoor_w: f64,
    pub(crate) water_c: f64,
    pub(crate) supply: AirPoint,
    pub(crate) winter_supply: AirPoint,
    pub(crate) required_margin_k: f64,
    pub(crate) units: UnitSystem,
}

/// Selects terminals for every zone, in order of first room.
#[allow(clippy::too_many_arguments)]
pub(crate) fn select(
    project: &Project,
    climate: &Climate,
    carrier: &Carrier<'_>,
    needs: &[RoomNeeds],
    decision: &DewPointDecision,
    unit: &PrimaryUnitDesign,
    pool: &rayon::ThreadPool,
    findings: &mut Vec<Finding>,
) -> Vec<TerminalDesign> {
    let winter = unit
        .cases
        .iter()
        .find(|c| c.case == "heating")
        .and_then(|c| c.points.iter().find(|p| p.point == "delivered"));
    let cx = Context {
        project,
        pressure_pa: climate.site.pressure_pa,
        outdoor_w: climate.conditions.dehumidification.humidity_ratio_kg_per_kg,
        water_c: decision.sensible_water_c,
        supply: air_point(unit.delivered_dry_bulb_c, decision.supply_humidity_ratio_kg_per_kg),
        winter_supply: winter.map_or_else(
            || {
                air_point(
                    project.primary_air.winter_temperature.value.to_celsius(),
                    climate.conditions.heating.humidity_ratio_kg_per_kg,
                )
            },
            |p| air_point(p.dry_bulb_c, p.humidity_ratio_kg_per_kg),
        ),
        required_margin_k: project.criteria.required_margin().to_kelvin(),
        units: project.told_units(),
    };
    findings.extend(carrier.refused.iter().cloned());
    let catalogue = &carrier.catalogue;
    let zones = zones(&carrier.zones, needs);
    let chosen: Vec<Result<TerminalDesign, (String, Vec<Rejection>)>> =
        pool.install(|| zones.par_iter().map(|z| choose(&cx, catalogue, z)).collect());
    let mut out = Vec::new();
    for (zone, result) in zones.iter().zip(chosen) {
        let room = &project.rooms[zone.rooms[0]];
        let place = || room.place.clone().of(zone.name.clone());
        match result {
            Ok(t) => {
                if t.units > 1 {
                    findings.push(
                        Finding::new(
                            registry::terminals::SEVERAL_UNITS,
                            format!("zone {} needs {} units of {}", t.zone, t.units, t.model),
                        )
                        .at(place())
                        .hint(
                            t.rejected
                                .last()
                                .map_or_else(String::new, |r| format!("{}: {}", r.model, r.reason)),
                        ),
                    );
                }
                if t.supplementary_m3_per_s > 0.0 {
                    findings.push(
                        Finding::new(
                            registry::terminals::SUPPLEMENTARY_BOX,
                            format!(
                                "zone {} gets {} through a supplementary primary-air box",
                                t.zone,
                                StandardAirFlow::m3_per_s(t.supplementary_m3_per_s).show(cx.units)
                            ),
                        )
                        .at(place()),
                    );
                }
                if t.steps.reheat_w > LEAST_REHEAT_W {
                    findings.push(
                        Finding::new(
                            registry::terminals::REHEATS_AT_PEAK,
                            format!(
                                "each unit of {} heats with {} at its cooling peak: its primary air cools further than the load",
                                t.zone,
                                Power::watts(t.steps.reheat_w).show(cx.units)
                            ),
                        )
                        .at(place())
                        .value(Power::watts(t.steps.reheat_w).show(cx.units)),
                    );
                }
                if t.laminar_at_half_load {
                    findings.push(
                        Finding::new(
                            registry::terminals::LAMINAR,
                            format!("the water in the coil of {} is laminar at half load", t.zone),
                        )
                        .at(place()),
                    );
                }
                out.push(t);
            }
            Err((reason, rejected)) => findings.push(
                Finding::new(
                    registry::terminals::NO_UNIT,
                    format!("no terminal serves zone {}: {reason}", zone.name),
                )
                .at(place())
                .hint(
                    rejected
                        .first()
                        .into_iter()
                        .chain(rejected.last().filter(|_| rejected.len() > 1))
                        .map(|r| format!("{}: {}", r.model, r.reason))
                        .collect::<Vec<_>>()
                        .join("; "),
                ),
            ),
        }
    }
    out
}

/// The models that can be used, in the order of the catalogue, and findings for the others.
pub(crate) fn fitted(project: &Project) -> (Vec<Ready<'_>>, Vec<Finding>) {
    let (mut catalogue, mut refused) = (Vec::new(), Vec::new());
    for model in &project.catalogue.models {
        match ready(project, model) {
            Ok(r) => catalogue.push(r),
            Err(reason) => refused.push(
                Finding::new(
                    registry::terminals::NOT_FITTED,
                    format!("terminal {} cannot be used: {reason}", model.model),
                )
                .at(model.place.clone().of(model.model.clone())),
            ),
        }
    }
    (catalogue, refused)
}

/// The machine of a catalogue model under the project's discharge limits, heating and outside pressure.
///
/// # Errors
/// Why its ratings cannot be used.
pub fn terminal_unit(project: &Project, model: &TerminalModel) -> Result<TerminalUnit, String> {
    ready(project, model).map(|r| r.unit)
}

/// Fits the machines of a model.
fn ready<'a>(project: &Project, model: &'a TerminalModel) -> Result<Ready<'a>, String> {
    let tubes = Tubes { inner_diameter: model.tube_diameter, parallel_circuits: model.circuits };
    let rows = model.rows;
    let cooling = fit(&model.coil, rows, tubes, 1.0)?;
    let heating = match (&model.heating, project.terminals.heating.value) {
        (HeatingCoil::Electric(power), HeatingKind::Electric) => {
            TerminalHeating::Electric { capacity: *power }
        }
        (HeatingCoil::HotWater(points), HeatingKind::HotWater) => {
            let fitted = fit(points, 1, tubes, -1.0)?;
            let most = points.iter().map(|p| p.water.si()).fold(0.0, f64::max);
            TerminalHeating::HotWater { coil: fitted.coil, largest_flow: WaterFlow::from_si(most) }
        }
        _ => TerminalHeating::None,
    };
    let needed = project.terminals.external_pressure.value.to_pascals();
    let pressure = model
        .fan
        .iter()
        .map(|f| f.external_pressure.to_pascals())
        .filter(|p| *p >= needed - 1e-9)
        .fold(f64::INFINITY, f64::min);
    if !pressure.is_finite() {
        return Err(format!(
            "no fan rating at an external pressure of {} or more",
            PressureDifference::pascals(needed).show(project.told_units())
        ));
    }
    let mut points: Vec<TerminalFanRating> = model
        .fan
        .iter()
        .filter(|f| (f.external_pressure.to_pascals() - pressure).abs() < 1e-6)
        .map(|f| TerminalFanRating {
            // A fan moves volume; catalogue air is standard air.
            flow: ActualAirFlow::m3_per_s(f.air.to_m3_per_s()),
            electric_power: f.power,
        })
        .collect();
    points.sort_by(|a, b| a.flow.si().total_cmp(&b.flow.si()));
    let mut fan = TerminalFan::fit(&points).map_err(|e| e.to_string())?;
    // The range of the unit, not of its rating points, bounds the fan.
    let full = fan.full_flow.si();
    let most = model.fan_max.to_m3_per_s().min(full);
    fan.full_power = Power::watts(fan.full_power.to_watts() * (most / full).powf(fan.exponent));
    fan.full_flow = ActualAirFlow::m3_per_s(most);
    fan.minimum_share = model.fan_min.to_m3_per_s() / most;
    let t = &project.terminals;
    Ok(Ready {
        model,
        unit: TerminalUnit {
            arrangement: match model.arrangement {
                FanArrangement::Series => terminal::FanArrangement::Series,
                FanArrangement::Parallel => terminal::FanArrangement::Parallel,
            },
            idle_fan: IdleFan::Runs,
            fan,
            cooling_coil: cooling.coil,
            largest_water_flow: model.water_max,
            smallest_valve_share: SMALLEST_VALVE_SHARE,
            heating,
            coldest_discharge: t.lowest_discharge.value,
            warmest_discharge: t.highest_discharge.value,
        },
        cooling_residual: cooling.largest_residual,
    })
}

fn fit(points: &[CoilRating], rows: u32, tubes: Tubes, sign: f64) -> Result<FittedCoil, String> {
    let circuiting =
        if rows <= 1 { CoilCircuiting::CrossFlow } else { CoilCircuiting::CrossCounterflow { rows } };
    let rating: Vec<RatingPoint> = points
        .iter()
        .map(|p| RatingPoint {
            entering: CoilEntering {
                dry_bulb: p.air_entering,
                humidity_ratio: HumidityRatio::kg_per_kg(0.0),
                dry_air: p.air.dry_air_mass_flow(),
                water: p.water_entering,
                water_flow: p.water,
            },
            duty: p.duty * sign,
        })
        .collect();
    let choice = match rating.len() {
        0 => return Err("no rating point of the coil".to_owned()),
        1 => FittedParameters::Total { air_share: AIR_SHARE, air_exponent: AIR_EXPONENT },
        2 => FittedParameters::AirAndWater { air_exponent: AIR_EXPONENT },
        _ => FittedParameters::AirWaterAndExponent,
    };
    fit_rating_points(circuiting, tubes, METAL_SHARE, choice, &rating)
        .or_else(|_| {
            fit_rating_points(
                circuiting,
                tubes,
                METAL_SHARE,
                FittedParameters::Total { air_share: AIR_SHARE, air_exponent: AIR_EXPONENT },
                &rating,
            )
        })
        .map_err(|e| e.to_string())
}

/// Zones with a terminal, in order of first room: what does not depend on flows.
pub(crate) fn shells(project: &Project, loads: &Loads, services: &[Service]) -> Vec<Zone> {
    let mut order: Vec<Zone> = Vec::new();
    let mut by_name: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    for (i, service) in services.iter().enumerate() {
        if *service != Service::Terminal {
            continue;
        }
        let room = &project.rooms[i];
        let name = room.zone.value.as_str();
        let z = *by_name.entry(name).or_insert_with(|| {
            order.push(Zone {
                name: name.to_owned(),
                rooms: Vec::new(),
                sensible_w: 0.0,
                plenum_w: 0.0,
                heating_w: 0.0,
                primary: 0.0,
                total_air_changes: 0.0,
                air: ZoneAir::new(0.0, 0.0),
                worst_dew_point_c: f64::NEG_INFINITY,
                worst_room: i,
                choice: TerminalChoice::Auto,
            });
            order.len() - 1
        });
        order[z].rooms.push(i);
    }
    for zone in &mut order {
        zone.rooms.sort_by(|a, b| {
            loads.rooms[*b].cooling.load_w.total_cmp(&loads.rooms[*a].cooling.load_w).then(a.cmp(b))
        });
        let lead = zone.rooms[0];
        zone.air.set_point_c = loads.rooms[lead].set_point_c;
        zone.air.heating_c = loads.rooms[lead].heating_set_point_c;
        let days = loads.rooms[lead].sensible_w.len();
        let open: [bool; 24] = std::array::from_fn(|h| {
            zone.rooms.iter().any(|i| project.profile_of(&project.rooms[*i]).is_occupied(DayType::Weekday, h))
        });
        // Coincident peak of the zone over occupied hours; the last day is the heating day.
        for d in 0..days - 1 {
            for (h, open) in open.iter().enumerate() {
                let load: f64 = zone.rooms.iter().map(|i| loads.rooms[*i].sensible_w[d][h]).sum();
                if *open && load > zone.sensible_w {
                    zone.sensible_w = load;
                }
            }
        }
        for i in &zone.rooms {
            let l = &loads.rooms[*i];
            zone.plenum_w += l.plenum_w;
            zone.heating_w += l.heating.load_w;
            zone.air.infiltration_kg_per_s += l.infiltration_m3_per_s * RHO;
            if let TerminalChoice::Model(m) = &project.rooms[*i].terminal.value {
                zone.choice = TerminalChoice::Model(m.clone());
            }
        }
    }
    order
}

/// The zones with the flows and the moisture of their rooms.
fn zones(shells: &[Zone], needs: &[RoomNeeds]) -> Vec<Zone> {
    let mut order = shells.to_vec();
    for zone in &mut order {
        let mut moisture = (0.0, 0.0);
        for i in &zone.rooms {
            let n = &needs[*i];
            zone.primary += n.primary_m3_per_s;
            zone.total_air_changes += n.total_air_changes_m3_per_s;
            moisture.0 += n.primary_m3_per_s * n.humidity_ratio_kg_per_kg;
            moisture.1 += n.primary_m3_per_s;
            if n.worst_dew_point_c > zone.worst_dew_point_c {
                zone.worst_dew_point_c = n.worst_dew_point_c;
                zone.worst_room = *i;
            }
        }
        zone.air.humidity_ratio = if moisture.1 > 0.0 { moisture.0 / moisture.1 } else { 0.0 };
    }
    order
}

/// One unit's share of a zone.
#[derive(Clone, Copy)]
pub(crate) struct Share {
    pub(crate) count: u32,
    pub(crate) primary: f64,
    pub(crate) supplementary: f64,
    pub(crate) load_w: f64,
    pub(crate) plenum_w: f64,
    pub(crate) heating_w: f64,
}

fn choose(
    cx: &Context<'_>,
    catalogue: &[Ready<'_>],
    zone: &Zone,
) -> Result<TerminalDesign, (String, Vec<Rejection>)> {
    let candidates: Vec<&Ready<'_>> = match &zone.choice {
        TerminalChoice::Model(name) => catalogue.iter().filter(|r| r.model.model == *name).collect(),
        _ => catalogue.iter().collect(),
    };
    if candidates.is_empty() {
        return Err(("the catalogue has no usable unit".to_owned(), Vec::new()));
    }
    let mut rejected = Vec::new();
    for count in 1..=cx.project.terminals.most_per_room.value.max(1) {
        let share = zone.share(count, zone.primary);
        for ready in &candidates {
            match attempt(cx, ready, zone, share) {
                Ok(able) => {
                    return finish(cx, ready, zone, share, &able, rejected).map_err(|e| (e, Vec::new()));
                }
                Err(reason) => {
                    let model = if count == 1 {
                        ready.model.model.clone()
                    } else {
                        format!("{count} x {}", ready.model.model)
                    };
                    rejected.push(Rejection { model, reason });
                }
            }
        }
        if count == 1
            && let Some(t) = with_box(cx, &candidates, zone, share, BoxShare::Smaller, &rejected)
        {
            return t.map_err(|e| (e, Vec::new()));
        }
    }
    let whole = zone.share(1, zone.primary);
    if let Some(t) = with_box(cx, &candidates, zone, whole, BoxShare::Any, &rejected) {
        return t.map_err(|e| (e, Vec::new()));
    }
    Err((
        match cx.project.terminals.most_per_room.value.max(1) {
            1 => "no model does the job alone or with a supplementary box".to_owned(),
            most => format!("no model does the job alone, with a supplementary box or as {most} units"),
        },
        rejected,
    ))
}

/// How much of the primary air a supplementary box may carry.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum BoxShare {
    /// Less than the terminal itself.
    Smaller,
    /// Any part.
    Any,
}

/// One terminal with a supplementary box for what the largest damper cannot pass, if the rest of that unit does the job.
fn with_box(
    cx: &Context<'_>,
    candidates: &[&Ready<'_>],
    zone: &Zone,
    share: Share,
    size: BoxShare,
    rejected: &[Rejection],
) -> Option<Result<TerminalDesign, String>> {
    for ready in candidates {
        let Some(share) = box_share(cx, ready, zone, share, size) else { continue };
        if let Ok(able) = attempt(cx, ready, zone, share) {
            return Some(finish(cx, ready, zone, share, &able, rejected.to_vec()));
        }
    }
    None
}

/// What is left to the unit beside a supplementary box; `None` where a box of this size has nothing to do or too much.
pub(crate) fn box_share(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: &Zone,
    share: Share,
    size: BoxShare,
) -> Option<Share> {
    let most = ready.model.primary_max.to_m3_per_s();
    let extra = share.primary - most;
    if extra <= 0.0 || (size == BoxShare::Smaller && extra > most) {
        return None;
    }
    let m_cp = extra * RHO * raw::humid_specific_heat_j_per_kg_k(cx.supply.humidity_ratio.si());
    let brought = m_cp * (zone.air.set_point_c - cx.supply.dry_bulb.si());
    let warm = m_cp * (zone.air.heating_c - cx.winter_supply.dry_bulb.si());
    Some(Share {
        primary: most,
        supplementary: extra,
        load_w: share.load_w - brought,
        heating_w: share.heating_w + warm.max(0.0),
        ..share
    })
}

fn hour(cx: &Context<'_>, zone: ZoneAir, share: Share, secondary: AirPoint) -> TerminalHour {
    TerminalHour {
        pressure: Pressure::pascals(cx.pressure_pa),
        primary: cx.supply,
        primary_flow: MassFlow::kg_per_s(share.primary * RHO),
        room: air_point(zone.set_point_c, zone.humidity_ratio),
        secondary,
        cold_water: Temperature::celsius(cx.water_c),
        hot_water: cx.project.terminals.heating_water.value,
    }
}

/// The hour of the heating design: the coil draws room air.
fn winter_hour(cx: &Context<'_>, zone: ZoneAir, share: Share) -> TerminalHour {
    let room = air_point(zone.heating_c, winter_w(cx));
    TerminalHour { primary: cx.winter_supply, room, secondary: room, ..hour(cx, zone, share, room) }
}

fn winter_w(cx: &Context<'_>) -> f64 {
    cx.winter_supply.humidity_ratio.si()
}

/// Humidity ratio of a plenum over a room at `w`: outdoor air leaks in above the ceiling and the rest of what the coil draws
/// comes up from the room. A coil that draws less than what leaks in meets outdoor air, never anything more humid.
pub(crate) fn plenum_humidity_ratio(w: f64, outdoor_w: f64, leak_kg_per_s: f64, coil_kg_per_s: f64) -> f64 {
    if leak_kg_per_s > 0.0 {
        w + leak_kg_per_s * (outdoor_w - w).max(0.0) / coil_kg_per_s.max(leak_kg_per_s)
    } else {
        w
    }
}

/// Air that meets the coil, for a secondary dry-air flow.
fn secondary(cx: &Context<'_>, zone: ZoneAir, share: Share, flow_kg_per_s: f64) -> AirPoint {
    let w = zone.humidity_ratio;
    if cx.project.terminals.coil_air.value == CoilAir::Room || flow_kg_per_s <= 0.0 {
        return air_point(zone.set_point_c, w);
    }
    let cp = raw::humid_specific_heat_j_per_kg_k(w);
    let leak = PLENUM_INFILTRATION * zone.infiltration_kg_per_s / f64::from(share.count);
    let w_plenum = plenum_humidity_ratio(w, cx.outdoor_w, leak, flow_kg_per_s);
    air_point(zone.set_point_c + share.plenum_w / (flow_kg_per_s * cp), w_plenum)
}

/// Coil air of a unit with its fan at the most, before its own flow is known.
fn first_secondary(cx: &Context<'_>, ready: &Ready<'_>, zone: ZoneAir, share: Share) -> AirPoint {
    let flow = (ready.model.fan_max.to_m3_per_s() * RHO - share.primary * RHO).max(0.05 * RHO);
    secondary(cx, zone, share, flow)
}

/// The most that a unit does with fan and valve fully open.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Most {
    /// What the room gets, W.
    pub(crate) room_w: f64,
    /// Part of it that primary air brings, W.
    pub(crate) primary_w: f64,
    /// Most that the lowest discharge temperature lets the room get, W.
    pub(crate) cap_w: f64,
}

/// What a unit does at the most.
pub(crate) fn at_most(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: ZoneAir,
    share: Share,
) -> Result<Most, String> {
    let unit = &ready.unit;
    let open = hour(cx, zone, share, first_secondary(cx, ready, zone, share));
    let top = unit.wide_open(&open).map_err(|e| e.to_string())?;
    // A discharge colder than the limit is warmed by less water: the limit caps what the room gets.
    let cp = raw::humid_specific_heat_j_per_kg_k(zone.humidity_ratio);
    Ok(Most {
        room_w: top.room_cooling.to_watts(),
        primary_w: top.primary_cooling.to_watts(),
        cap_w: top.discharge_flow.si() * cp * (zone.set_point_c - unit.coldest_discharge.si()),
    })
}

/// A model that does the job.
struct Able {
    /// At the design load.
    state: TerminalState,
    /// At the heating load, where it heats.
    winter: Option<TerminalState>,
}

/// Whether a model does the job; its design states if it does.
fn attempt(cx: &Context<'_>, ready: &Ready<'_>, zone: &Zone, share: Share) -> Result<Able, String> {
    let state = cools(cx, ready, zone.air, share)?;
    let winter = heats(cx, ready, zone.air, share)?;
    moves(cx, ready, zone, share)?;
    drops(cx, ready, &state)?;
    Ok(Able { state, winter })
}

/// Whether [`attempt`] finds that a model does the job; the quick tests come first.
pub(crate) fn serves(cx: &Context<'_>, ready: &Ready<'_>, zone: &Zone, air: ZoneAir, share: Share) -> bool {
    moves(cx, ready, zone, share).is_ok()
        && is_warm(cx, ready, air, share)
        && cools(cx, ready, air, share).is_ok_and(|state| drops(cx, ready, &state).is_ok())
}

/// Whether a model carries primary air and load; its state at the design load if it does.
fn cools(cx: &Context<'_>, ready: &Ready<'_>, zone: ZoneAir, share: Share) -> Result<TerminalState, String> {
    let m = ready.model;
    let flow = |v: f64| StandardAirFlow::m3_per_s(v).show(cx.units);
    let power = |w: f64| Power::watts(w).show(cx.units);
    let (p_min, p_max) = (m.primary_min.to_m3_per_s(), m.primary_max.to_m3_per_s());
    if share.primary > p_max * (1.0 + 1e-9) {
        return Err(format!("primary air {} above its most, {}", flow(share.primary), flow(p_max)));
    }
    if share.primary < p_min * (1.0 - 1e-9) {
        return Err(format!("primary air {} below its least, {}", flow(share.primary), flow(p_min)));
    }
    let t = &cx.project.terminals;
    if m.external_pressure < t.external_pressure.value {
        return Err(format!(
            "fan reaches its air only up to {} outside the unit",
            m.external_pressure.show(cx.units)
        ));
    }
    // Bound first: everything open.
    let Most { room_w, cap_w, .. } = at_most(cx, ready, zone, share)?;
    let wanted = share.load_w * (1.0 + t.spare.value.to_ratio());
    let most = room_w.min(cap_w);
    if most < wanted {
        let why = if cap_w < room_w { "at the lowest discharge temperature" } else { "with everything open" };
        return Err(format!("cools {} {why}; {} wanted with spare", power(most), power(wanted)));
    }
    let state = settle(cx, ready, zone, share, share.load_w)?;
    if state.unmet.to_watts() > 1e-3 * share.load_w.abs().max(100.0) {
        return Err(format!("leaves {} of the load unmet", power(state.unmet.to_watts())));
    }
    let fan = state.fan_flow.si() / RHO;
    if let Some(nc) = sound(m, fan)
        && nc > t.sound_limit.value + 1e-9
    {
        return Err(format!("sound NC {nc:.0} above {:.0}", t.sound_limit.value));
    }
    if let Some(coil) = &state.coil
        && coil.water_velocity > m.water_velocity_max
    {
        return Err(format!("water runs at {} in its tubes", coil.water_velocity.show(cx.units)));
    }
    Ok(state)
}

/// Heat that a room may lack in winter, W.
fn heat_lack_w(share: Share) -> f64 {
    (1e-3 * share.heating_w).max(1.0)
}

/// Whether a model heats the rooms in winter, as [`heats`], without its state.
fn is_warm(cx: &Context<'_>, ready: &Ready<'_>, zone: ZoneAir, share: Share) -> bool {
    let (load, lack) = (Power::watts(-share.heating_w), Power::watts(heat_lack_w(share)));
    let warm = || ready.unit.heats_within(&winter_hour(cx, zone, share), load, lack);
    !needs_heat(cx) || share.heating_w <= 0.0 || warm().is_ok_and(|warm| warm)
}

/// Whether a model heats the rooms in winter; its state then, where it has to.
fn heats(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: ZoneAir,
    share: Share,
) -> Result<Option<TerminalState>, String> {
    if !needs_heat(cx) || share.heating_w <= 0.0 {
        return Ok(None);
    }
    let power = |w: f64| Power::watts(w).show(cx.units);
    let s = ready
        .unit
        .meet(&winter_hour(cx, zone, share), Power::watts(-share.heating_w))
        .map_err(|e| e.to_string())?;
    // `unmet` is negative when the room gets too little heat.
    if s.unmet.to_watts() < -heat_lack_w(share) {
        return Err(format!("heats {} too little of {}", power(-s.unmet.to_watts()), power(share.heating_w)));
    }
    Ok(Some(s))
}

/// Whether a model moves the total air that the rooms require.
fn moves(cx: &Context<'_>, ready: &Ready<'_>, zone: &Zone, share: Share) -> Result<(), String> {
    if zone.total_air_changes > 0.0 {
        let flow = |v: f64| StandardAirFlow::m3_per_s(v).show(cx.units);
        let able = ready.model.fan_max.to_m3_per_s() * f64::from(share.count);
        if able < zone.total_air_changes {
            return Err(format!(
                "moves {} where {} of total air is required",
                flow(able),
                flow(zone.total_air_changes)
            ));
        }
    }
    Ok(())
}

/// Whether coil and valve together take no more pressure than they may.
fn drops(cx: &Context<'_>, ready: &Ready<'_>, state: &TerminalState) -> Result<(), String> {
    if drop_of(ready.model, state.water_flow) > t_drop(cx) {
        return Err("coil takes more pressure than coil and valve together may".to_owned());
    }
    Ok(())
}

fn needs_heat(cx: &Context<'_>) -> bool {
    cx.project.terminals.heating.value != HeatingKind::Perimeter
}

fn t_drop(cx: &Context<'_>) -> f64 {
    cx.project.water.terminal_drop.value.to_pascals()
}

/// Pressure drop of the coil at a flow, by the square law from its rated point.
fn drop_of(m: &TerminalModel, flow: WaterFlow) -> f64 {
    let x = flow.si() / m.water_max.si();
    m.water_drop.to_pascals() * x * x
}

/// Terminal at a room load; where the coil draws plenum air its temperature follows the flow, so the pair is settled.
fn settle(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: ZoneAir,
    share: Share,
    load_w: f64,
) -> Result<TerminalState, String> {
    let scaled =
        Share { plenum_w: share.plenum_w * (load_w / share.load_w.max(1.0)).clamp(0.0, 1.0), ..share };
    let meet = |flow: f64| {
        let air = secondary(cx, zone, scaled, flow);
        ready.unit.meet(&hour(cx, zone, share, air), Power::watts(load_w)).map_err(|e| e.to_string())
    };
    if cx.project.terminals.coil_air.value == CoilAir::Room {
        return meet(0.0);
    }
    // The plenum is the warmer the less is drawn, so what is drawn falls with what was assumed: there is one crossing.
    // Plain repetition finds it unless it swings; then the bracket is halved.
    let mut flow = (ready.model.fan_max.to_m3_per_s() - share.primary).max(0.1) * RHO;
    let (mut low, mut high) = (0.0, f64::INFINITY);
    for step in 0..60 {
        let s = meet(flow)?;
        let next = s.secondary_flow.si();
        if (next - flow).abs() <= 1e-6 * flow.max(1e-6) {
            return Ok(s);
        }
        if next <= 0.0 {
            let none = meet(0.0)?;
            if none.secondary_flow.si() <= 0.0 {
                return Ok(none);
            }
        }
        if next > flow {
            low = flow;
        } else {
            high = flow;
        }
        flow = if step < 20 && next > low && next < high { next } else { f64::midpoint(low, high.min(1e3)) };
    }
    by_fan(cx, ready, zone, (share, scaled), load_w, flow)
}

/// Where the least fan air would do with a cool plenum, but draws too little to keep it cool, the fan has to run faster:
/// the least fan air that meets the load with the plenum that it makes. `from` is air through the coil that is too little.
fn by_fan(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: ZoneAir,
    (share, scaled): (Share, Share),
    load_w: f64,
    from: f64,
) -> Result<TerminalState, String> {
    let primary = match ready.unit.arrangement {
        terminal::FanArrangement::Series => share.primary * RHO,
        terminal::FanArrangement::Parallel => 0.0,
    };
    let of = |fan: f64| hour(cx, zone, share, secondary(cx, zone, scaled, (fan - primary).max(0.0)));
    let at = |fan: f64| {
        ready
            .unit
            .meet_at_fan_flow(&of(fan), Power::watts(load_w), MassFlow::kg_per_s(fan))
            .map_err(|e| e.to_string())
    };
    let widest = ready.model.fan_max.to_m3_per_s() * RHO;
    // Warmer air is thinner: the range of the coolest air holds for all, but for the least bit at its top.
    let range = |fan: f64| ready.unit.fan_range(&of(fan)).map_err(|e| e.to_string());
    let (least, full) = range(widest)?;
    let full = range(full.si())?.1.si() * (1.0 - 1e-4);
    let (mut low, mut high) = ((from + primary).max(least.si()).min(full), full);
    let mut best = at(high)?;
    let enough = |s: &TerminalState| s.unmet.to_watts() <= 1e-6 * load_w.abs().max(100.0);
    if !enough(&best) {
        return Ok(best);
    }
    while high - low > 1e-9 * high {
        let middle = f64::midpoint(low, high);
        let s = at(middle)?;
        if enough(&s) {
            (high, best) = (middle, s);
        } else {
            low = middle;
        }
    }
    Ok(best)
}

/// Sound at a fan air by straight lines between rating points; `None` outside them or without any.
fn sound(m: &TerminalModel, air: f64) -> Option<f64> {
    let mut points: Vec<(f64, f64)> = m.sound.iter().map(|s| (s.air.to_m3_per_s(), s.nc)).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    interpolate(&points, air)
}

fn interpolate(points: &[(f64, f64)], x: f64) -> Option<f64> {
    let (first, last) = (points.first()?, points.last()?);
    // Below the quietest rating the quietest rating is an upper bound, so it may stand for it.
    if x <= first.0 {
        return Some(first.1);
    }
    if x > last.0 * (1.0 + 1e-9) {
        return None;
    }
    points
        .windows(2)
        .find(|w| x <= w[1].0 * (1.0 + 1e-9))
        .map(|w| w[0].1 + (w[1].1 - w[0].1) * (x - w[0].0) / (w[1].0 - w[0].0))
}

fn finish(
    cx: &Context<'_>,
    ready: &Ready<'_>,
    zone: &Zone,
    share: Share,
    able: &Able,
    rejected: Vec<Rejection>,
) -> Result<TerminalDesign, String> {
    let state = &able.state;
    let m = ready.model;
    let project = cx.project;
    let coil = state.coil.as_ref();
    // Fan air at the heating design, and what its heater can do.
    let (mut fan_heating, mut discharge_heating, mut heating_capacity, mut heating_water) =
        (0.0, f64::NAN, 0.0, 0.0);
    let mut heating_load = 0.0;
    let (mut heating_steps, mut heating_open): (Option<TerminalState>, Option<CoilSteps>) = (None, None);
    if let Some(s) = able.winter {
        fan_heating = s.fan_flow.si() / RHO;
        discharge_heating = s.discharge.dry_bulb.si();
        heating_load = s.heating.to_watts();
        heating_water = s.heating_coil.as_ref().map_or(0.0, |c| c.entering.water_flow.si());
        heating_capacity = match &ready.unit.heating {
            TerminalHeating::None => 0.0,
            TerminalHeating::Electric { capacity } => capacity.to_watts(),
            TerminalHeating::HotWater { coil, largest_flow } => {
                let entering = CoilEntering {
                    dry_bulb: s.after_fan.dry_bulb,
                    humidity_ratio: s.after_fan.humidity_ratio,
                    dry_air: s.discharge_flow,
                    water: project.terminals.heating_water.value,
                    water_flow: *largest_flow,
                };
                let open = coil.solve(&entering).map_err(|e| e.to_string())?;
                heating_open = Some(coil_steps(coil, &open));
                -open.duty.to_watts()
            }
        };
        heating_steps = Some(s);
    }
    // Dew point of the coil air at the worst occupied design hour; a plenum adds its leak.
    let worst_w = raw::humidity_ratio_at_dew_point(zone.worst_dew_point_c, cx.pressure_pa);
    let (coil_air_dp, from) = match project.terminals.coil_air.value {
        CoilAir::Room => (zone.worst_dew_point_c, project.rooms[zone.worst_room].id.clone()),
        CoilAir::Plenum => {
            let leak = PLENUM_INFILTRATION * zone.air.infiltration_kg_per_s / f64::from(share.count);
            let w = plenum_humidity_ratio(worst_w, cx.outdoor_w, leak, state.secondary_flow.si());
            (
                raw::dew_point_c(w, cx.pressure_pa),
                format!("plenum over {}", project.rooms[zone.worst_room].id),
            )
        }
    };
    let surface = |s: &TerminalState| {
        s.coil.as_ref().map_or(s.after_coil.dry_bulb.si(), |c| c.surface_at_water_inlet.to_celsius())
    };
    let cold_steps = |r: &SensibleResult| coil_steps(&ready.unit.cooling_coil, r);
    let mut part_load = Vec::with_capacity(4);
    let mut laminar = false;
    for x in [0.25, 0.5, 0.75, 1.0] {
        // The whole load is the state that selection ended on.
        let s = if x == 1.0 { *state } else { settle(cx, ready, zone.air, share, share.load_w * x)? };
        if x == 0.5 {
            laminar = s.coil.as_ref().is_some_and(|c| c.water_regime == Regime::Laminar);
        }
        part_load.push(TerminalPartLoad {
            load_share: x,
            fan_m3_per_s: s.fan_flow.si() / RHO,
            water_m3_per_s: s.water_flow.si(),
            fan_power_w: s.fan_power.to_watts(),
            discharge_c: s.discharge.dry_bulb.si(),
            water_margin_k: cx.water_c - coil_air_dp,
            surface_margin_k: surface(&s) - coil_air_dp,
            discharge_kg_per_s: s.discharge_flow.si(),
            discharge_humidity_ratio_kg_per_kg: s.discharge.humidity_ratio.si(),
            fan_air_volume_m3_per_kg: {
                let air = drawn(&s);
                raw::volume_m3_per_kg(air.dry_bulb.si(), air.humidity_ratio.si(), cx.pressure_pa)
            },
            room_cooling_w: s.room_cooling.to_watts(),
            surface_c: surface(&s),
            coil_duty_w: s.coil_duty.to_watts(),
            coil: s.coil.as_ref().map(cold_steps),
            coil_air_m3_per_s: s.secondary_flow.si() / RHO,
            coil_air_entering_c: drawn(&s).dry_bulb.si(),
            coil_air_humidity_ratio_kg_per_kg: drawn(&s).humidity_ratio.si(),
            reheat_w: s.heating.to_watts(),
        });
    }
    let fan = state.fan_flow.si() / RHO;
    let secondary_flow = state.secondary_flow.si();
    let volume = raw::volume_m3_per_kg(
        coil.map_or(state.after_coil.dry_bulb.si(), |c| c.entering.dry_bulb.to_celsius()),
        zone.air.humidity_ratio,
        cx.pressure_pa,
    );
    let coil_drop = drop_of(m, state.water_flow);
    let valve_drop = t_drop(cx) - coil_drop;
    let water = WaterProperties::at(Temperature::celsius(cx.water_c)).map_err(|e| e.to_string())?;
    let flowing = state.water_flow.si() > 0.0;
    let (kv, valve_authority, runout) = if flowing {
        let drop = PressureDifference::pascals(valve_drop);
        let kv =
            FlowCoefficient::for_flow(state.water_flow, drop, water.density).map_err(|e| e.to_string())?.kv();
        let a = authority(drop, PressureDifference::pascals(coil_drop)).map_err(|e| e.to_string())?;
        let limits = PipeLimits {
            friction_per_metre: PressureDifference::pascals(project.water.pipe_friction_pa_per_m.value),
            velocity: Velocity::metres_per_second(RUNOUT_VELOCITY),
            maximum_flow: MaximumFlowRule::Exempt,
        };
        let size = size_pipe(&water, PipeMaterial::CopperTypeL, state.water_flow, &limits)
            .map_err(|e| e.to_string())?;
        (kv, a, format!("{} in copper", size.chosen.size.nominal))
    } else {
        (0.0, 0.0, "none".to_owned())
    };
    let top = ready
        .unit
        .at(&hour(cx, zone.air, share, drawn(state)), state.fan_flow, m.water_max)
        .map_err(|e| e.to_string())?;
    let open = hour(cx, zone.air, share, first_secondary(cx, ready, zone.air, share));
    let (_, full_fan) = ready.unit.fan_range(&open).map_err(|e| e.to_string())?;
    let full = ready.unit.at(&open, full_fan, m.water_max).map_err(|e| e.to_string())?;
    let inlet: Vec<(f64, f64)> =
        m.inlet.iter().map(|a| (a.primary.to_m3_per_s(), a.inlet_pressure.to_pascals())).collect();
    Ok(TerminalDesign {
        zone: zone.name.clone(),
        rooms: zone.rooms.iter().map(|i| project.rooms[*i].id.clone()).collect(),
        model: m.model.clone(),
        units: share.count,
        supplementary_m3_per_s: share.supplementary,
        rejected,
        primary_m3_per_s: share.primary,
        primary_min_m3_per_s: m.primary_min.to_m3_per_s(),
        inlet_pressure_pa: inlet_pressure(&inlet, share.primary),
        fan_m3_per_s: fan,
        fan_heating_m3_per_s: fan_heating,
        coil_air_m3_per_s: secondary_flow / RHO,
        fan_power_w: state.fan_power.to_watts(),
        fan_power_half_w: ready.unit.fan.full_power.to_watts()
            * (0.5 * fan * RHO * volume / ready.unit.fan.full_flow.si()).powf(ready.unit.fan.exponent),
        sensible_load_w: share.load_w,
        primary_cooling_w: state.primary_cooling.to_watts(),
        fan_heat_w: state.fan_power.to_watts(),
        plenum_w: if project.terminals.coil_air.value == CoilAir::Plenum { share.plenum_w } else { 0.0 },
        coil_duty_w: state.coil_duty.to_watts(),
        coil_capacity_w: top.coil_duty.to_watts(),
        coil_capacity_full_fan_w: full.coil_duty.to_watts(),
        coil_air_entering_c: coil
            .map_or(state.after_coil.dry_bulb.si(), |c| c.entering.dry_bulb.to_celsius()),
        coil_air_leaving_c: state.after_coil.dry_bulb.si(),
        water_entering_c: cx.water_c,
        water_leaving_c: coil.map_or(cx.water_c, |c| c.leaving_water.to_celsius()),
        water_m3_per_s: state.water_flow.si(),
        water_velocity_m_per_s: coil.map_or(0.0, |c| c.water_velocity.to_metres_per_second()),
        laminar_at_half_load: laminar,
        face_velocity_m_per_s: secondary_flow * volume / m.face_area.to_square_metres(),
        water_drop_pa: coil_drop,
        valve_kv_m3_per_h: kv,
        valve_authority,
        discharge_c: state.discharge.dry_bulb.si(),
        discharge_heating_c: discharge_heating,
        heating_load_w: heating_load,
        heating_capacity_w: heating_capacity,
        heating_water_m3_per_s: heating_water,
        sound_nc: sound(m, fan),
        coil_air_dew_point_c: coil_air_dp,
        coil_air_from: from,
        water_margin_k: cx.water_c - coil_air_dp,
        surface_margin_k: surface(state) - coil_air_dp,
        required_margin_k: cx.required_margin_k,
        part_load,
        runout,
        coil_fit_residual: ready.cooling_residual,
        constant_speed_power_w: ready.unit.fan.full_power.to_watts(),
        steps: {
            let air = drawn(state);
            let heating = heating_steps.as_ref();
            let plenum = project.terminals.coil_air.value == CoilAir::Plenum;
            TerminalSteps {
                zone_sensible_w: zone.sensible_w,
                zone_plenum_w: zone.plenum_w,
                zone_heating_w: zone.heating_w,
                zone_primary_m3_per_s: zone.primary,
                room_humidity_ratio_kg_per_kg: zone.air.humidity_ratio,
                coil_air_humidity_ratio_kg_per_kg: air.humidity_ratio.si(),
                coil_air_volume_m3_per_kg: raw::volume_m3_per_kg(
                    air.dry_bulb.si(),
                    air.humidity_ratio.si(),
                    cx.pressure_pa,
                ),
                discharge_humidity_ratio_kg_per_kg: state.discharge.humidity_ratio.si(),
                discharge_kg_per_s: state.discharge_flow.si(),
                room_cooling_w: state.room_cooling.to_watts(),
                reheat_w: state.heating.to_watts(),
                fan_full_power_w: ready.unit.fan.full_power.to_watts(),
                fan_full_m3_per_s: ready.unit.fan.full_flow.si(),
                fan_exponent: ready.unit.fan.exponent,
                plenum_leak_kg_per_s: if plenum {
                    PLENUM_INFILTRATION * zone.air.infiltration_kg_per_s / f64::from(share.count)
                } else {
                    0.0
                },
                coil: coil.map(cold_steps),
                coil_open: top.coil.as_ref().map(cold_steps),
                coil_full: full.coil.as_ref().map(cold_steps),
                heating_fan_power_w: heating.map_or(0.0, |s| s.fan_power.to_watts()),
                heating_given_w: heating.map_or(0.0, |s| -s.room_cooling.to_watts()),
                heating_discharge_kg_per_s: heating.map_or(0.0, |s| s.discharge_flow.si()),
                heating_primary_c: cx.winter_supply.dry_bulb.si(),
                heating_humidity_ratio_kg_per_kg: winter_w(cx),
                heating_coil: match (&ready.unit.heating, heating.and_then(|s| s.heating_coil.as_ref())) {
                    (TerminalHeating::HotWater { coil, .. }, Some(r)) => Some(coil_steps(coil, r)),
                    _ => None,
                },
                heating_coil_open: heating_open,
            }
        },
    })
}

/// Air that the fan draws through the coil.
fn drawn(s: &TerminalState) -> AirPoint {
    AirPoint {
        dry_bulb: s.coil.as_ref().map_or(s.after_coil.dry_bulb, |c| c.entering.dry_bulb),
        humidity_ratio: s.after_coil.humidity_ratio,
    }
}

/// What a coil's numbers were made of.
fn coil_steps(coil: &SensibleCoil, r: &SensibleResult) -> CoilSteps {
    CoilSteps {
        dry_air_kg_per_s: r.entering.dry_air.si(),
        humidity_ratio_kg_per_kg: r.entering.humidity_ratio.si(),
        water_mean_c: f64::midpoint(r.entering.water.si(), r.leaving_water.si()),
        // A coil that gave a result has a kernel.
        fit: coil.kernel().map_or_else(
            |_| CoilFit::default(),
            |k| CoilFit {
                air_w_per_k: 1.0 / k.air_k_per_w,
                air_exponent: k.air_exponent,
                water_area_m2: k.water_area_m2,
                diameter_m: k.diameter_m,
                flow_area_m2: k.flow_area_m2,
            },
        ),
        air_entering_c: r.entering.dry_bulb.si(),
        water_entering_c: r.entering.water.si(),
        water_m3_per_s: r.entering.water_flow.si(),
        air_w_per_k: r.air_capacity.si(),
        water_w_per_k: r.water_capacity.si(),
        air_k_per_w: r.resistance_k_per_w[0],
        metal_k_per_w: r.resistance_k_per_w[1],
        water_k_per_w: r.resistance_k_per_w[2],
        effectiveness: r.effectiveness,
        duty_w: r.duty.to_watts(),
        velocity_m_per_s: r.water_velocity.si(),
    }
}

/// Inlet pressure by the square of the flow from the nearest rating above.
fn inlet_pressure(points: &[(f64, f64)], primary: f64) -> f64 {
    points
        .iter()
        .filter(|p| p.0 >= primary * (1.0 - 1e-9))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .or_else(|| points.iter().max_by(|a, b| a.0.total_cmp(&b.0)))
        .map_or(f64::NAN, |(flow, pa)| pa * (primary / flow).powi(2))
}

#[cfg(test)]
mod tests {
    use super::plenum_humidity_ratio;

    /// Mass balance of the plenum: what leaks in and what comes up from the room make what the coil draws.
    #[test]
    fn phys_a_plenum_is_never_more_humid_than_what_enters_it() {
        let (room, outdoor) = (0.009, 0.018);
        for leak in [0.0, 0.001, 0.01, 0.1] {
            for drawn in [0.0, 1e-6, 0.002, 0.01, 0.2, 5.0] {
                let w = plenum_humidity_ratio(room, outdoor, leak, drawn);
                assert!((room..=outdoor).contains(&w), "{leak} {drawn}: {w}");
                if drawn >= leak && drawn > 0.0 {
                    let water = (drawn - leak) * room + leak * outdoor;
                    assert!((w * drawn - water).abs() <= 1e-15 * water.max(1.0), "{leak} {drawn}: {w}");
                } else {
                    assert!((w - if leak > 0.0 { outdoor } else { room }).abs() < 1e-15);
                }
            }
        }
        // Dry outdoor air is not counted on.
        assert!((plenum_humidity_ratio(room, 0.002, 0.01, 0.05) - room).abs() < 1e-15);
    }
}
