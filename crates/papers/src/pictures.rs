//! The pictures of a design and of its year, from their results.

use drycoil_air::raw;
use drycoil_control::excursion::building::Building;
use drycoil_control::excursion::result::Excursion;
use drycoil_control::excursion::simulate::ZoneMoment;
use drycoil_pictures::{
    AirPoint, AirProcess, Carpet, CoilSurface, DayProfile, DurationPanel, EndUse, ExcursionSeries,
    LoadDuration, LoadKind, MarginStrip, MonthlyEndUses, Naming, Options, Picture, PictureError, Pin,
    ProcessKind, ProcessStep, PsychrometricChart, RoomMargin, RoomState, StageBand, TradeOff, TradeOffPoint,
    WaterArrangement, WaterBranch, WaterLoop, WaterMargin,
};
use drycoil_project::{Arrangement, Project};
use drycoil_sizing::{ArrangementDesign, Design, RoomLoads, Service};
use drycoil_units::{Quantity, QuantityKind};
use drycoil_year::result::{Scheme, SchemeYear, Year};
use drycoil_year::signals::EndUse as Use;

/// A picture, or why there is none.
pub type Drawn = Result<Picture, PictureError>;

/// Rooms that are named on the chart.
const NAMED_ROOMS: usize = 3;
/// Governing rooms that are marked on the trade-off.
const MARKED_ROOMS: usize = 2;
/// Hours of 29 February, which the carpet leaves out.
const LEAP_DAY: std::ops::Range<usize> = 1416..1440;

/// Design-day margins of the terminals.
pub fn margins(project: &Project, design: &Design, options: &Options) -> Drawn {
    MarginStrip {
        title: "Dew-point margin of the terminals at design".into(),
        rooms: design
            .terminals
            .iter()
            .map(|t| RoomMargin { name: terminal_name(project, &t.zone), margin_k: t.water_margin_k })
            .collect(),
        required_k: project.criteria.required_margin().si(),
    }
    .draw(options)
}

fn terminal_name(project: &Project, zone: &str) -> String {
    project.room(zone).map_or_else(|| zone.to_owned(), |r| format!("{zone} {}", r.name))
}

/// The choice of the supply dew point.
pub fn trade_off(design: &Design, options: &Options) -> Drawn {
    let d = &design.dew_point;
    let energy = d.objective_unit == "kWh";
    let point = |p: &drycoil_sizing::TradeOffPoint| TradeOffPoint {
        supply_dew_point_c: p.supply_dew_point_c,
        primary_flow_m3_per_s: p.primary_m3_per_s,
        drying_load_w: p.drying_load_w,
        fan_power_w: p.fan_power_w,
        objective: if energy { p.objective / 3.6e6 } else { p.objective },
    };
    // The curve is of the chosen room limit and water, so the chosen point lies on it.
    let mut points: Vec<TradeOffPoint> =
        d.curve.iter().chain([&d.chosen]).filter(|p| p.objective.is_finite()).map(point).collect();
    points.sort_by(|a, b| a.supply_dew_point_c.total_cmp(&b.supply_dew_point_c));
    points.dedup_by(|a, b| (a.supply_dew_point_c - b.supply_dew_point_c).abs() < 1e-9);
    let range = points.first().map(|p| p.supply_dew_point_c)..=points.last().map(|p| p.supply_dew_point_c);
    let mut pins: Vec<Pin> = d
        .pins
        .iter()
        .filter(|p| p.what.contains("supply"))
        .map(|p| Pin { supply_dew_point_c: p.pinned_c, label: "pinned by the project".into() })
        .collect();
    pins.extend(
        d.governing
            .iter()
            .filter_map(|g| Some((g.required_dew_point_c?, &g.room)))
            .filter(|(c, _)| range.contains(&Some(*c)))
            .take(MARKED_ROOMS)
            .map(|(c, room)| Pin { supply_dew_point_c: c, label: format!("room {room} at its fixed flow") }),
    );
    TradeOff {
        title: "Choice of the supply dew point".into(),
        points,
        chosen_c: d.supply_dew_point_c,
        pins,
        objective_label: format!("{} a year", d.objective_name.trim_start_matches("yearly ")),
        objective_unit: d.objective_unit.clone(),
    }
    .draw(options)
}

/// Rooms and the way of the primary air at the dehumidification condition.
pub fn chart(project: &Project, design: &Design, options: &Options) -> Drawn {
    let p = design.site.pressure_pa;
    let mut chart = PsychrometricChart::new("Primary air and rooms at the dehumidification design", p);
    chart.comfort = comfort(project, design);
    let named: Vec<&str> = design.terminals.iter().take(NAMED_ROOMS).map(|t| t.rooms[0].as_str()).collect();
    for (needs, loads) in design.needs.iter().zip(&design.loads.rooms) {
        if !matches!(needs.service, Service::Terminal | Service::PrimaryOnly) {
            continue;
        }
        chart.rooms.push(RoomState {
            name: terminal_name(project, &needs.room),
            state: AirPoint::new(loads.set_point_c, needs.humidity_ratio_kg_per_kg),
            naming: if named.contains(&needs.room.as_str()) { Naming::Named } else { Naming::Mark },
        });
    }
    if let Some(case) = design.primary_unit.cases.iter().find(|c| c.case == "dehumidification") {
        let mut points = case.points.iter().filter(|p| !p.point.starts_with("exhaust"));
        if let Some(first) = points.next() {
            let mut steps: Vec<ProcessStep> = Vec::new();
            let mut from = AirPoint::new(first.dry_bulb_c, first.humidity_ratio_kg_per_kg);
            for point in points {
                let to = AirPoint::new(point.dry_bulb_c, point.humidity_ratio_kg_per_kg);
                // A part that does nothing at this condition is no step.
                if (to.dry_bulb_c - from.dry_bulb_c).abs() < 0.01
                    && (to.humidity_ratio_kg_per_kg - from.humidity_ratio_kg_per_kg).abs() < 1e-6
                {
                    continue;
                }
                let kind = match point.point.as_str() {
                    "after recovery" => ProcessKind::Recovery,
                    "after drying coil" => ProcessKind::Coil,
                    "after fan" => ProcessKind::Fan,
                    _ => ProcessKind::Reheat,
                };
                steps.push(ProcessStep { kind, to, label: point.point.clone() });
                from = to;
            }
            chart.process = Some(AirProcess {
                start: AirPoint::new(first.dry_bulb_c, first.humidity_ratio_kg_per_kg),
                label: first.point.clone(),
                steps,
            });
        }
    }
    chart.coil_surface = Some(CoilSurface {
        temperature_c: design.primary_unit.apparatus_dew_point_c,
        label: "apparatus dew point".into(),
    });
    chart.margin = design.terminals.first().map(|t| WaterMargin {
        room: terminal_name(project, &t.zone),
        dew_point_c: t.coil_air_dew_point_c,
        water_c: t.water_entering_c,
    });
    chart.draw(options)
}

/// Between the set points in use, and between the humidities of the criteria, not above the dew point of the code.
fn comfort(project: &Project, design: &Design) -> Vec<AirPoint> {
    let p = design.site.pressure_pa;
    let rooms = || {
        design
            .loads
            .rooms
            .iter()
            .zip(&design.needs)
            .filter(|(_, n)| n.service == Service::Terminal)
            .map(|(l, _)| l)
    };
    let low = rooms().map(|l| l.heating_set_point_c).fold(f64::INFINITY, f64::min);
    let high = rooms().map(|l| l.set_point_c).fold(f64::NEG_INFINITY, f64::max);
    if low + 0.1 >= high {
        return Vec::new();
    }
    let c = &project.criteria;
    let top = raw::humidity_ratio_at_dew_point(c.code_dew_point.value.to_celsius(), p);
    let at =
        |t: f64, rh: f64| AirPoint::new(t, raw::humidity_ratio_from_relative_humidity(t, rh, p).min(top));
    let (dry, humid) = (c.humidity_low.value.to_ratio(), c.humidity_high.value.to_ratio());
    let mut corners = vec![at(low, dry), at(high, dry), at(high, humid)];
    // Where the humidity reaches the dew point of the code between the set points, the edge has a corner.
    let curve = |t: f64| raw::humidity_ratio_from_relative_humidity(t, humid, p);
    if curve(low) < top && curve(high) > top {
        let (mut a, mut b) = (low, high);
        for _ in 0..60 {
            let m = f64::midpoint(a, b);
            if curve(m) < top { a = m } else { b = m }
        }
        corners.push(AirPoint::new(a, top));
    }
    corners.push(at(low, humid));
    corners
}

/// The chosen arrangement of the water at design.
pub fn water(project: &Project, design: &Design, options: &Options) -> Option<Drawn> {
    let a = design.plant.arrangements.iter().find(|a| a.chosen)?;
    let (drying, terminals) = (drying(design, a), terminals(design, a));
    let title = "Water at design".to_owned();
    let picture = match project.water.arrangement.value {
        Arrangement::Separate => WaterLoop {
            title,
            arrangement: WaterArrangement::SeparatePlants,
            cold_plant: drying,
            warm_plant: Some(terminals),
            drying,
            terminals,
            reused_m3_per_s: 0.0,
            make_up_m3_per_s: 0.0,
            recirculated_m3_per_s: 0.0,
        },
        Arrangement::SingleCold | Arrangement::ReturnReuse => WaterLoop {
            title,
            arrangement: if project.water.arrangement.value == Arrangement::SingleCold {
                WaterArrangement::SingleColdLoop
            } else {
                WaterArrangement::ReturnReuse
            },
            cold_plant: WaterBranch {
                flow_m3_per_s: a.plant_flow_m3_per_s,
                supply_c: drying.supply_c,
                return_c: a.chillers.first().map_or(drying.return_c, |c| c.entering_c),
                load_w: drying.load_w + terminals.load_w,
            },
            warm_plant: None,
            drying,
            terminals,
            reused_m3_per_s: a.reused_m3_per_s,
            make_up_m3_per_s: a.makeup_m3_per_s,
            recirculated_m3_per_s: (a.sensible_flow_m3_per_s - a.reused_m3_per_s - a.makeup_m3_per_s)
                .max(0.0),
        },
    };
    Some(picture.draw(options))
}

fn drying(design: &Design, a: &ArrangementDesign) -> WaterBranch {
    WaterBranch {
        flow_m3_per_s: a.drying_flow_m3_per_s,
        supply_c: design.primary_unit.drying_water_c,
        return_c: a.drying_return_c,
        load_w: design.plant.drying_load_w,
    }
}

fn terminals(design: &Design, a: &ArrangementDesign) -> WaterBranch {
    WaterBranch {
        flow_m3_per_s: a.sensible_flow_m3_per_s,
        supply_c: design.dew_point.sensible_water_c,
        return_c: a.sensible_return_c,
        load_w: design.plant.sensible_load_w,
    }
}

/// The smallest margin of every hour; none without the decoupled scheme.
pub fn carpet(project: &Project, year: &Year, options: &Options) -> Option<Drawn> {
    let s = year.scheme(Scheme::Decoupled)?;
    let mut margin_k = s.hourly.smallest_margin_k.clone();
    let leap = year.hours > 8760;
    if leap {
        margin_k.drain(LEAP_DAY);
    }
    let title = "Smallest dew-point margin of every hour";
    let carpet = Carpet {
        title: if leap { format!("{title}, without 29 February") } else { title.to_owned() },
        margin_k,
        required_k: project.criteria.required_margin().si(),
    };
    Some(carpet.draw(options))
}

/// Both schemes of a year.
fn both(year: &Year) -> Option<(&SchemeYear, &SchemeYear)> {
    Some((year.scheme(Scheme::Decoupled)?, year.scheme(Scheme::AllAir)?))
}

/// Hours at each load; none unless both schemes were simulated.
pub fn duration(year: &Year, options: &Options) -> Option<Drawn> {
    let (d, a) = both(year)?;
    let panel = |label: &str, kind: LoadKind, d: &[f64], a: &[f64]| DurationPanel {
        label: label.into(),
        kind,
        decoupled_w: d.to_vec(),
        all_air_w: a.to_vec(),
    };
    let picture = LoadDuration {
        title: "Hours of the year at each load".into(),
        panels: vec![
            panel("cooling", LoadKind::Cooling, &d.hourly.cooling_w, &a.hourly.cooling_w),
            panel("heating", LoadKind::Heating, &d.hourly.heating_w, &a.hourly.heating_w),
            panel("electricity", LoadKind::Electricity, &d.hourly.electricity_w, &a.hourly.electricity_w),
        ],
    };
    Some(picture.draw(options))
}

/// Hours at each electric load alone; none unless both schemes were simulated.
pub fn electric_duration(year: &Year, options: &Options) -> Option<Drawn> {
    let (d, a) = both(year)?;
    let panel = DurationPanel {
        label: "electricity".into(),
        kind: LoadKind::Electricity,
        decoupled_w: d.hourly.electricity_w.clone(),
        all_air_w: a.hourly.electricity_w.clone(),
    };
    let title = "Hours of the year at each electric load".to_owned();
    Some(LoadDuration { title, panels: vec![panel] }.draw(options))
}

/// End uses that are drawn as one.
const GROUPS: [(&str, &[Use]); 7] = [
    ("chillers", &[Use::ColdWater, Use::SensibleWater]),
    ("heat rejection", &[Use::HeatRejection]),
    ("pumps", &[Use::CoolingPumps, Use::HeatingPumps]),
    ("central fans", &[Use::CentralFans]),
    ("terminal fans", &[Use::TerminalFans]),
    ("heating", &[Use::CentralHeating, Use::RoomHeating]),
    ("energy recovery drive", &[Use::Recovery]),
];

/// Energy by month; none unless both schemes were simulated.
pub fn months(year: &Year, options: &Options) -> Option<Drawn> {
    let (d, a) = both(year)?;
    let sum = |s: &SchemeYear, uses: &[Use]| -> [f64; 12] {
        std::array::from_fn(|m| {
            s.end_uses
                .iter()
                .filter(|e| uses.contains(&e.end_use))
                .map(|e| e.electricity_j[m] + e.fuel_j[m])
                .sum()
        })
    };
    let end_uses = GROUPS
        .iter()
        .map(|(label, uses)| EndUse {
            label: (*label).to_owned(),
            decoupled_j: sum(d, uses),
            all_air_j: sum(a, uses),
        })
        .filter(|e| e.decoupled_j.iter().chain(&e.all_air_j).any(|j| *j > 0.0))
        .collect();
    Some(MonthlyEndUses { title: "Electricity and fuel by month".into(), end_uses }.draw(options))
}

/// Sensible load of a room through the day of its cooling peak.
pub fn sensible_day(loads: &RoomLoads, options: &Options) -> Drawn {
    let values = loads.sensible_w.get(loads.cooling.day_index).map_or_else(Vec::new, |d| d.to_vec());
    DayProfile { title: "sensible load".into(), kind: QuantityKind::Power, values, limit: None }.draw(options)
}

/// Latent gain of a room through a weekday.
pub fn latent_day(loads: &RoomLoads, options: &Options) -> Drawn {
    let values = loads.latent_by_hour_w.to_vec();
    DayProfile { title: "latent gain".into(), kind: QuantityKind::Power, values, limit: None }.draw(options)
}

/// Stages that the picture of an excursion names.
const STAGES: usize = 12;

/// Dew point, water and film of a zone through an excursion; the first zone where there is none of that name.
pub fn excursion(building: &Building, e: &Excursion, zone: &str, options: &Options) -> Drawn {
    let zone = building.zones.iter().position(|z| z.id == zone).unwrap_or(0);
    let of =
        |f: fn(&ZoneMoment) -> f64| -> Vec<f64> { e.run.history.iter().map(|m| f(&m.zones[zone])).collect() };
    let end = e.run.history.last().map_or(0.0, |m| m.time_s);
    let begin = e.run.history.first().map_or(0.0, |m| m.time_s);
    let id = &building.zones[zone].id;
    let mut stages: Vec<StageBand> = e
        .result
        .zones
        .iter()
        .find(|z| z.zone == *id)
        .map(|z| {
            z.stages
                .iter()
                .filter(|s| s.to_s > s.from_s && s.to_s > begin)
                .map(|s| StageBand {
                    from_s: s.from_s.max(begin),
                    to_s: s.to_s.min(end),
                    label: s.stage.clone(),
                })
                .collect()
        })
        .unwrap_or_default();
    // Shorter ones go first.
    while stages.len() > STAGES {
        let mut shortest = 0;
        for (i, s) in stages.iter().enumerate() {
            if s.to_s - s.from_s < stages[shortest].to_s - stages[shortest].from_s {
                shortest = i;
            }
        }
        stages.remove(shortest);
    }
    ExcursionSeries {
        title: format!("{}: zone {id}", e.result.title),
        time_s: e.run.history.iter().map(|m| m.time_s).collect(),
        dew_point_c: of(|z| z.dew_point_c),
        water_c: of(|z| z.water_c),
        film_kg: of(|z| z.film_kg),
        drip_kg: Some(building.zones[zone].hold_kg()),
        stages,
    }
    .draw(options)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_end_use_is_drawn_once() {
        for end_use in Use::ALL {
            assert_eq!(GROUPS.iter().filter(|(_, u)| u.contains(&end_use)).count(), 1, "{end_use:?}");
        }
    }
}
