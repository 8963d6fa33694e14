//! Comfort and code screens of every room.

use crate::design::{ComfortCheck, Loads, PrimaryUnitDesign, RoomNeeds, Service, TerminalDesign};
use drycoil_air::raw;
use drycoil_findings::{Finding, FindingKind, registry};
use drycoil_project::{DayType, Project, Room, UseShare};
use drycoil_units::{
    Fraction, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, StandardAirFlow, Temperature,
};

/// Share of people present at the minimum load that is checked.
const FEW_PEOPLE: f64 = 0.10;
/// Supply-to-room difference in heating from which mixing is poor, K (ANSI/ASHRAE 62.1-2019 Table 6-4, from memory).
const WARM_SUPPLY_K: f64 = 15.0 / 1.8;

/// Screens every room.
pub(crate) fn screen(
    project: &Project,
    pressure_pa: f64,
    loads: &Loads,
    needs: &[RoomNeeds],
    terminals: &[TerminalDesign],
    unit: &PrimaryUnitDesign,
    findings: &mut Vec<Finding>,
) -> Vec<ComfortCheck> {
    let mut terminal_of: std::collections::BTreeMap<&str, &TerminalDesign> =
        std::collections::BTreeMap::new();
    for t in terminals {
        for room in &t.rooms {
            terminal_of.insert(room, t);
        }
    }
    project
        .rooms
        .iter()
        .enumerate()
        .map(|(i, room)| {
            check(
                project,
                pressure_pa,
                loads,
                i,
                room,
                &needs[i],
                terminal_of.get(room.id.as_str()).copied(),
                unit,
                findings,
            )
        })
        .collect()
}

#[allow(clippy::too_many_arguments)]
fn check(
    project: &Project,
    pressure_pa: f64,
    loads: &Loads,
    index: usize,
    room: &Room,
    needs: &RoomNeeds,
    terminal: Option<&TerminalDesign>,
    unit: &PrimaryUnitDesign,
    findings: &mut Vec<Finding>,
) -> ComfortCheck {
    let units = project.told_units();
    let c = &project.criteria;
    // Transfer air arrives as warm as the room that it comes from is kept.
    let source_c = needs
        .transfer_from
        .as_deref()
        .and_then(|id| project.room(id))
        .map_or(f64::NAN, |r| r.cooling_set_point.value.to_celsius());
    let temperature_c = room.cooling_set_point.value.to_celsius();
    let w = needs.humidity_ratio_kg_per_kg;
    let relative_humidity = raw::relative_humidity(temperature_c, w, pressure_pa);
    let volume = room.volume().to_cubic_metres();
    let heating_c = room.heating_set_point.value.to_celsius();
    let share = terminal.map_or(0.0, |t| discharge_share(loads, project, t, &room.id));
    let fan = terminal.map_or(0.0, |t| t.fan_m3_per_s.max(t.primary_m3_per_s) * f64::from(t.units) * share);
    let total = if terminal.is_some() { fan } else { needs.primary_m3_per_s + needs.transfer_in_m3_per_s };
    let overcooling_w = overcooling(project, room, needs, unit);
    let m = needs.primary_m3_per_s * RHO;
    let cp = raw::humid_specific_heat_j_per_kg_k(needs.humidity_ratio_kg_per_kg.max(0.0));
    let neutral_supply_c =
        if m > 0.0 { unit.delivered_dry_bulb_c + overcooling_w / (m * cp) } else { f64::NAN };
    let mut out = ComfortCheck {
        room: room.id.clone(),
        temperature_c,
        relative_humidity,
        dew_point_c: needs.worst_dew_point_c,
        discharge_c: terminal.map(|t| t.discharge_c),
        heating_difference_k: terminal
            .filter(|t| t.heating_load_w > 0.0)
            .map(|t| t.discharge_heating_c - heating_c),
        total_air_changes_per_h: total * 3600.0 / volume,
        outdoor_air_changes_per_h: needs.primary_m3_per_s * 3600.0 / volume,
        overcooling_w,
        neutral_supply_c,
        problems: Vec::new(),
    };
    if needs.service == Service::OffSystem || needs.service == Service::SensibleUnits {
        return out;
    }
    let mut report = |kind: &'static FindingKind, message: String, value: String, allowed: String| {
        out.problems.push(message.clone());
        findings.push(
            Finding::new(kind, message)
                .at(room.place.clone().of(room.id.clone()))
                .value(value)
                .allowed(allowed),
        );
    };
    let t = |c: f64| Temperature::celsius(c).show(units);
    let ceiling = c.code_dew_point.value.to_celsius();
    if needs.worst_dew_point_c > ceiling {
        report(
            registry::comfort::CODE_DEW_POINT,
            format!(
                "room {} reaches a dew point of {} ({})",
                room.id,
                t(needs.worst_dew_point_c),
                needs.worst_when
            ),
            t(needs.worst_dew_point_c),
            format!("at most {}", t(ceiling)),
        );
    }
    let (low, high) = (c.humidity_low.value.to_ratio(), c.humidity_high.value.to_ratio());
    if relative_humidity.is_finite() && !(low..=high).contains(&relative_humidity) {
        let saturated = relative_humidity >= 1.0;
        let message = if saturated {
            format!(
                "room {} would be saturated at design: the air that passes it carries away less moisture than comes in, so \
                 water would settle on cool surfaces; give it exhaust, transfer air or primary air",
                room.id
            )
        } else {
            format!(
                "room {} stands at {:.0} % relative humidity at design",
                room.id,
                relative_humidity * 100.0
            )
        };
        report(
            registry::comfort::HUMIDITY_BAND,
            message,
            if saturated { "saturated".to_owned() } else { Fraction::ratio(relative_humidity).show(units) },
            format!("{} to {}", Fraction::ratio(low).show(units), Fraction::ratio(high).show(units)),
        );
    }
    if overcooling_w > 1.0 {
        report(
            registry::comfort::OVERCOOLED,
            format!(
                "cold primary air overcools room {} with {:.0} % of its people and no sun, where it takes {} of heat",
                room.id,
                FEW_PEOPLE * 100.0,
                drycoil_units::Power::watts(overcooling_w).show(units)
            ),
            format!("delivered at {}", t(unit.delivered_dry_bulb_c)),
            format!("at least {}", t(neutral_supply_c)),
        );
    }
    if needs.total_air_changes_m3_per_s > 0.0 && total < needs.total_air_changes_m3_per_s * (1.0 - 1e-9) {
        report(
            registry::comfort::TOTAL_AIR_CHANGES,
            format!("room {} gets {:.1} total air changes an hour", room.id, out.total_air_changes_per_h),
            StandardAirFlow::m3_per_s(total).show(units),
            format!("at least {}", StandardAirFlow::m3_per_s(needs.total_air_changes_m3_per_s).show(units)),
        );
    }
    if matches!(needs.service, Service::PrimaryOnly | Service::Transfer) {
        let load = loads.rooms[index].cooling.load_w;
        let air_c = if needs.service == Service::PrimaryOnly { unit.delivered_dry_bulb_c } else { source_c };
        let flow = m + needs.transfer_in_m3_per_s * RHO;
        // Air leaves at the temperature that the room drifts to.
        let drift_c = if flow > 0.0 { air_c + load / (flow * cp) } else { f64::INFINITY };
        if load > 0.0 && drift_c > temperature_c + 0.5 {
            report(
                registry::comfort::WARM_WITHOUT_TERMINAL,
                if drift_c.is_finite() {
                    format!("room {} would drift to {} at its peak load", room.id, t(drift_c))
                } else {
                    format!(
                        "room {} has {} of load and no air",
                        room.id,
                        drycoil_units::Power::watts(load).show(units)
                    )
                },
                if drift_c.is_finite() { t(drift_c) } else { "no air".to_owned() },
                format!("set point {}", t(temperature_c)),
            );
        }
    }
    let lowest = project.terminals.lowest_discharge.value.to_celsius();
    if let Some(term) = terminal {
        if term.discharge_c < lowest - 1e-6 {
            report(
                registry::comfort::COLD_DISCHARGE,
                format!("the terminal of room {} discharges at {}", room.id, t(term.discharge_c)),
                t(term.discharge_c),
                format!("at least {}", t(lowest)),
            );
        }
        if term.heating_load_w > 0.0 && term.discharge_heating_c - heating_c > WARM_SUPPLY_K + 1e-6 {
            report(
                registry::comfort::WARM_DISCHARGE,
                format!(
                    "in heating the terminal of room {} discharges at {}",
                    room.id,
                    t(term.discharge_heating_c)
                ),
                t(term.discharge_heating_c),
                format!("not above {}", t(heating_c + WARM_SUPPLY_K)),
            );
        }
    }
    out
}

/// Share of a terminal's discharge that a room gets: its share of the peak cooling load.
pub(crate) fn discharge_share(
    loads: &Loads,
    project: &Project,
    terminal: &TerminalDesign,
    room: &str,
) -> f64 {
    if terminal.rooms.len() == 1 {
        return 1.0;
    }
    let load = |id: &str| project.room_index(id).map_or(0.0, |i| loads.rooms[i].cooling.load_w.max(0.0));
    let total: f64 = terminal.rooms.iter().map(|r| load(r)).sum();
    if total > 0.0 { load(room) / total } else { 1.0 / terminal.rooms.len() as f64 }
}

/// Heat needed to hold the heating set point with few people, lights and plugs in proportion, no sun, mild weather.
fn overcooling(project: &Project, room: &Room, needs: &RoomNeeds, unit: &PrimaryUnitDesign) -> f64 {
    let m = needs.primary_m3_per_s * RHO;
    if m <= 0.0 {
        return 0.0;
    }
    let profile = project.profile_of(room);
    let largest = |of: UseShare| (0..24).map(|h| profile.share(of, DayType::Weekday, h)).fold(0.0, f64::max);
    let area = room.floor_area.value.to_square_metres();
    let gains = room.people.value * room.sensible_per_person.value.to_watts() * FEW_PEOPLE
        + room.lighting.value.to_w_per_m2() * area * largest(UseShare::Lighting)
        + room.plugs.value.to_w_per_m2() * area * largest(UseShare::Plugs) * 0.5
        + room.process_sensible.value.to_watts() * largest(UseShare::Process);
    let heating_c = room.heating_set_point.value.to_celsius();
    // Outdoor air stands at the set point, so the envelope neither adds nor takes heat.
    let cp = raw::humid_specific_heat_j_per_kg_k(needs.humidity_ratio_kg_per_kg);
    (m * cp * (heating_c - unit.delivered_dry_bulb_c) - gains).max(0.0)
}
