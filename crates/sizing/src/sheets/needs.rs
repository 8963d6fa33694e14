//! Sheets of the primary-air needs: ventilation, moisture, zone, room dew point.

use super::rooms::{facade, latent_lines, zero};
use super::{BALANCE_WATER, Cx, GIVEN, Lines, MOIST_AIR, STANDARD_FLOW, above, air, constant, given, see};
use crate::balance::room_exhaust;
use crate::design::{MoistureHour, RoomNeeds, Service};
use crate::needs::PRESSURE_OFFSET_M3_PER_S as OFFSET;
use drycoil_air::raw;
use drycoil_project::{DayType, PressureRelation, Room, UseShare};
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

const RATES: Source = Source::new("ANSI/ASHRAE 62.1", "ventilation rate procedure; edition beside each rate");
const CHOICE: Source = Source::new("definition", "the largest need governs");
const PRACTICE: Source = Source::new("common practice, no source", "flow chosen for the system");

pub(crate) fn on_primary(n: &RoomNeeds) -> bool {
    matches!(n.service, Service::Terminal | Service::PrimaryOnly)
}

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    let i = cx.project.room_index(place)?;
    let (room, n) = (&cx.project.rooms[i], cx.design.needs.get(i)?);
    let mut out = Vec::new();
    let flow = K::StandardAirFlow;
    match quantity {
        "breathing_zone_flow" => breathing_zone(cx, room, n, &mut out),
        "effectiveness_cooling" => out.push(super::given_number(
            "E_cooling",
            "air-distribution effectiveness, cooling",
            n.effectiveness[0],
            Origin::Table {
                row: "ceiling supply of cool air".into(),
                source: "ANSI/ASHRAE 62.1-2019 Table 6-4, from memory".into(),
                place: None,
            },
        )),
        "effectiveness_heating" => effectiveness_heating(cx, room, n, &mut out),
        "ventilation_flow" => out.push(
            Line::new(
                "V_vent",
                "ventilation: the larger of cooling and heating",
                "max(V_bz / E_cooling, V_bz / E_heating)",
            )
            .with("V_bz", flow, n.breathing_zone_m3_per_s, see(place, "breathing_zone_flow"))
            .with_number("E_cooling", n.effectiveness[0], see(place, "effectiveness_cooling"))
            .with_number("E_heating", n.effectiveness[1], see(place, "effectiveness_heating"))
            .result(flow, n.ventilation_m3_per_s)
            .source(RATES),
        ),
        "per_person_flow" => out.push(
            Line::new("V_person", "flow per person of the system", "N * v_person")
                .with_number("N", room.people.value, room.people.origin.clone())
                .with(
                    "v_person",
                    flow,
                    room.outdoor_air_per_person.value.to_m3_per_s(),
                    room.outdoor_air_per_person.origin.clone(),
                )
                .result(flow, n.per_person_m3_per_s)
                .source(PRACTICE),
        ),
        "air_changes_flow" => air_changes(cx, room, n, &mut out),
        "exhaust_flow" => exhaust(cx, room, n, &mut out),
        "pressurization_flow" => pressurization(cx, room, n, &mut out),
        "fixed_flow" => fixed(cx, room, n, &mut out)?,
        "latent_moisture" => {
            latent_lines(room, &mut out, cx.design.loads.rooms[i].latent_w);
            let t = cx.design.loads.rooms[i].set_point_c;
            let h_g = air::vapour(&mut out, "h_g", t, see(place, "cooling_set_point"));
            out.push(
                Line::new("m_latent", "moisture of people and processes at full use", "q_latent / h_g")
                    .with("q_latent", K::Power, cx.design.loads.rooms[i].latent_w, above("q_latent"))
                    .with("h_g", K::SpecificEnthalpy, h_g, above("h_g"))
                    .result(K::MassFlow, n.latent_kg_per_s)
                    .source(BALANCE_WATER),
            );
        }
        "latent_flow" => latent_flow(cx, i, n, &mut out),
        "required_supply_dew_point" => required(cx, i, n, &mut out)?,
        "primary_air_flow" => primary(cx, i, n, &mut out),
        "transfer_flow" => transfer(cx, i, n, &mut out),
        "room_humidity_ratio" => {
            moisture(
                cx,
                i,
                n,
                &n.design_hour,
                "W_room",
                "room humidity ratio at design",
                n.humidity_ratio_kg_per_kg,
                &mut out,
            );
        }
        "room_dew_point" => air::dew_point(
            cx,
            &mut out,
            "t_dp",
            "room dew point at design",
            (n.humidity_ratio_kg_per_kg, see(place, "room_humidity_ratio")),
            n.dew_point_c,
        ),
        "highest_dew_point" => {
            let h = n.worst_hour.as_ref()?;
            let w = h.humidity_ratio_kg_per_kg;
            moisture(
                cx,
                i,
                n,
                h,
                "W_worst",
                "highest humidity ratio over the occupied design hours",
                w,
                &mut out,
            );
            air::dew_point(
                cx,
                &mut out,
                "t_dp",
                "highest dew point over the occupied hours of all design days",
                (w, above("W_worst")),
                n.worst_dew_point_c,
            );
        }
        "dew_point_limit" => limit(cx, room, n, &mut out),
        _ => return None,
    }
    Some(out)
}

fn breathing_zone(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let Some(v) = &cx.project.kind_of(room).ventilation else {
        out.extend(zero(
            "V_bz",
            "breathing-zone outdoor air",
            K::StandardAirFlow,
            n.breathing_zone_m3_per_s,
            "the room kind has no outdoor-air rate",
        ));
        return;
    };
    let table = |what: &str| Origin::Table {
        row: format!("{}, {what}", v.category),
        source: v.edition.clone(),
        place: None,
    };
    out.push(
        Line::new("V_bz", "breathing-zone outdoor air", "R_p * N + R_a * A")
            .with("R_p", K::StandardAirFlow, v.per_person.to_m3_per_s(), table("rate per person"))
            .with_number("N", room.people.value, room.people.origin.clone())
            .with("R_a", K::StandardAirFlowPerArea, v.per_area.to_m_per_s(), table("rate per area"))
            .with("A", K::Area, room.floor_area.value.to_square_metres(), room.floor_area.origin.clone())
            .result(K::StandardAirFlow, n.breathing_zone_m3_per_s)
            .source(RATES),
    );
}

fn effectiveness_heating(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let t = &cx.project.terminals;
    let (supply, set) = (t.highest_discharge.value.to_celsius(), room.heating_set_point.value.to_celsius());
    out.push(
        Line::new("dT", "supply above room in heating", "t_supply - t_room")
            .with("t_supply", K::Temperature, supply, t.highest_discharge.origin.clone())
            .with("t_room", K::Temperature, set, room.heating_set_point.origin.clone())
            .result(K::TemperatureDifference, supply - set)
            .source(Source::new("definition", "temperature difference")),
    );
    out.push(
        super::given_number(
            "E_heating",
            "air-distribution effectiveness, heating",
            n.effectiveness[1],
            Origin::Table {
                row: "ceiling supply of warm air".into(),
                source: "ANSI/ASHRAE 62.1-2019 Table 6-4, from memory".into(),
                place: None,
            },
        )
        .note("0.8 where the room is heated and dT is 15 degF (8.33 K) or more, else 1.0"),
    );
}

fn air_changes(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let kind = cx.project.kind_of(room);
    let health = kind.health_care.as_ref();
    let of_kind = health.and_then(|h| h.outdoor).map_or(0.0, drycoil_units::AirChangesPerHour::to_per_hour);
    let of_room = room.outdoor_air_changes.as_ref().map_or(0.0, |a| a.value.to_per_hour());
    out.push(
        Line::new("V_changes", "outdoor air changes in an hour", "max(n_kind, n_room) * A * H / h_1")
            .with_number(
                "n_kind",
                of_kind,
                health.map_or(constant("the room kind asks for none"), |h| Origin::Table {
                    row: kind.name.clone(),
                    source: h.edition.clone(),
                    place: None,
                }),
            )
            .with_number(
                "n_room",
                of_room,
                room.outdoor_air_changes.as_ref().map_or(constant("none entered"), |a| a.origin.clone()),
            )
            .with("A", K::Area, room.floor_area.value.to_square_metres(), room.floor_area.origin.clone())
            .with("H", K::Length, room.height.value.to_metres(), room.height.origin.clone())
            .with("h_1", K::Time, 3600.0, constant("one hour"))
            .result(K::StandardAirFlow, n.air_changes_m3_per_s)
            .source(Source::new("definition", "room volumes in an hour; standard air")),
    );
}

fn relation(cx: Cx<'_>, room: &Room) -> PressureRelation {
    cx.project.kind_of(room).health_care.as_ref().map_or(PressureRelation::Neutral, |h| h.pressure)
}

fn offset_origin() -> Origin {
    constant("75 cfm through the cracks of one door; common practice, no source")
}

/// Whether transfer air makes up the exhaust.
fn by_transfer(room: &Room, n: &RoomNeeds) -> bool {
    room.transfer_from.is_some()
        && (n.service == Service::Transfer || (on_primary(n) && room.exhaust.value.to_m3_per_s() > 0.0))
}

fn exhaust(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let flow = K::StandardAirFlow;
    let meaning = "exhaust of the room that primary air must make up";
    if by_transfer(room, n) {
        out.extend(zero("V_exhaust", meaning, flow, n.exhaust_m3_per_s, "transfer air makes the exhaust up"));
        return;
    }
    let e = room.exhaust.value.to_m3_per_s();
    let line = if relation(cx, room) == PressureRelation::Negative {
        Line::new("V_exhaust", meaning, "max(0, V_out - V_cracks)")
            .with("V_out", flow, e, room.exhaust.origin.clone())
            .with("V_cracks", flow, OFFSET, offset_origin())
            .note("the room stands below its neighbours, so part of the exhaust comes in through the cracks")
    } else {
        Line::new("V_exhaust", meaning, "V_out").with("V_out", flow, e, room.exhaust.origin.clone())
    };
    out.push(
        line.result(flow, n.exhaust_m3_per_s)
            .source(Source::new("mass balance of air", "room, supply equals exhaust")),
    );
}

fn pressurization(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let flow = K::StandardAirFlow;
    let meaning = "exhaust and the surplus that leaves through the facade";
    if n.pressurization_m3_per_s == 0.0 {
        let reason = if relation(cx, room) == PressureRelation::Negative {
            "the room stands below its neighbours; a surplus would turn that round"
        } else {
            "no facade that leaks outward and no pressure relation"
        };
        out.extend(zero("V_press", meaning, flow, 0.0, reason));
        return;
    }
    let area = facade(cx, room, out);
    let c = &cx.project.criteria.pressurization;
    let positive = relation(cx, room) == PressureRelation::Positive;
    let made_up = by_transfer(room, n) && on_primary(n);
    let exhaust = if made_up { 0.0 } else { room.exhaust.value.to_m3_per_s() };
    out.push(
        Line::new("V_press", meaning, "V_out + s * A_facade + V_relation")
            .with(
                "V_out",
                flow,
                exhaust,
                if made_up {
                    constant("transfer air makes the exhaust up")
                } else {
                    room.exhaust.origin.clone()
                },
            )
            .with("s", K::StandardAirFlowPerArea, c.value.to_m_per_s(), c.origin.clone())
            .with("A_facade", K::Area, area, above("A_facade"))
            .with(
                "V_relation",
                flow,
                if positive { OFFSET } else { 0.0 },
                if positive { offset_origin() } else { constant("no positive pressure relation") },
            )
            .result(flow, n.pressurization_m3_per_s)
            .source(Source::new("mass balance of air", "room, supply equals exhaust plus leakage outward")),
    );
}

fn fixed(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) -> Option<()> {
    let flow = K::StandardAirFlow;
    let meaning = "largest need that does not depend on the supply dew point";
    if !on_primary(n) {
        out.extend(zero("V_fixed", meaning, flow, n.fixed_m3_per_s, "the room gets no primary air"));
        return Some(());
    }
    let place = room.id.as_str();
    let all_primary = n.service == Service::PrimaryOnly;
    let mut line = Line::new(
        "V_fixed",
        meaning,
        if all_primary {
            "max(V_vent, V_person, V_changes, V_exhaust, V_press, V_total)"
        } else {
            "max(V_vent, V_person, V_changes, V_exhaust, V_press)"
        },
    )
    .with("V_vent", flow, n.ventilation_m3_per_s, see(place, "ventilation_flow"))
    .with("V_person", flow, n.per_person_m3_per_s, see(place, "per_person_flow"))
    .with("V_changes", flow, n.air_changes_m3_per_s, see(place, "air_changes_flow"))
    .with("V_exhaust", flow, n.exhaust_m3_per_s, see(place, "exhaust_flow"))
    .with("V_press", flow, n.pressurization_m3_per_s, see(place, "pressurization_flow"));
    if all_primary {
        let kind = cx.project.kind_of(room);
        let health = kind.health_care.as_ref()?;
        line = line.with(
            "V_total",
            flow,
            n.total_air_changes_m3_per_s,
            Origin::Table {
                row: format!("{}, total air changes", kind.name),
                source: health.edition.clone(),
                place: None,
            },
        );
    }
    out.push(
        line.result(flow, n.fixed_m3_per_s).source(CHOICE).note(format!("set by {}", n.fixed_need.word())),
    );
    Some(())
}

/// Moisture of people and processes in one hour, as lines that end in `m_gain`.
fn gain(cx: Cx<'_>, i: usize, hour: &MoistureHour, out: &mut Vec<Line>) {
    let room = &cx.project.rooms[i];
    let profile = cx.project.profile_of(room);
    let t = cx.design.loads.rooms[i].set_point_c;
    let h_g = air::vapour(out, "h_g", t, see(&room.id, "cooling_set_point"));
    let share = |of: UseShare| profile.share(of, DayType::Weekday, hour.hour);
    let origin = |of: UseShare| Origin::Table {
        row: format!("profile {}, {}, weekday {:02}:00", profile.name, of.word(), hour.hour),
        source: "profiles".into(),
        place: Some(profile.place.clone()),
    };
    out.push(
        Line::new(
            "m_gain",
            format!("moisture of people and processes, {}", hour.when),
            "(N * q_person * f_people + q_process * f_process) / h_g",
        )
        .with_number("N", room.people.value, room.people.origin.clone())
        .with(
            "q_person",
            K::Power,
            room.latent_per_person.value.to_watts(),
            room.latent_per_person.origin.clone(),
        )
        .with_number("f_people", share(UseShare::People), origin(UseShare::People))
        .with("q_process", K::Power, room.process_latent.value.to_watts(), room.process_latent.origin.clone())
        .with_number("f_process", share(UseShare::Process), origin(UseShare::Process))
        .with("h_g", K::SpecificEnthalpy, h_g, above("h_g"))
        .result(K::MassFlow, hour.gain_kg_per_s)
        .source(BALANCE_WATER),
    );
}

/// Infiltration as dry air, as a line.
fn infiltration(n: &RoomNeeds, out: &mut Vec<Line>) {
    out.push(
        Line::new("m_inf", "dry air of the infiltration", "V_inf * rho_0")
            .with(
                "V_inf",
                K::StandardAirFlow,
                n.infiltration_kg_per_s / RHO,
                see(&n.room, "infiltration_flow"),
            )
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .result(K::MassFlow, n.infiltration_kg_per_s)
            .source(STANDARD_FLOW),
    );
}

/// Humidity ratio at the dew-point limit of the room, as lines that end in `W_limit`.
fn limit_w(cx: Cx<'_>, n: &RoomNeeds, out: &mut Vec<Line>) -> f64 {
    air::saturated(
        cx,
        out,
        "limit",
        n.dew_point_limit_c,
        see(&n.room, "dew_point_limit"),
        "humidity ratio at the limit",
    )
}

/// Moisture to carry away at the limit, as lines that end in `m_carry`.
fn carry(cx: Cx<'_>, i: usize, n: &RoomNeeds, w_limit: f64, out: &mut Vec<Line>) -> f64 {
    let h = &n.design_hour;
    gain(cx, i, h, out);
    infiltration(n, out);
    let mut carry =
        h.gain_kg_per_s + n.infiltration_kg_per_s * (h.outdoor_humidity_ratio_kg_per_kg - w_limit);
    let meaning = "moisture that primary air must carry away";
    let line = if n.transfer_in_m3_per_s > 0.0 {
        let (flow, m) =
            air::mass_flow("m_tr", "the transfer air", n.transfer_in_m3_per_s, see(&n.room, "transfer_flow"));
        out.push(flow);
        let from = n.transfer_from.clone().unwrap_or_default();
        let w = n.transfer_limit_humidity_ratio_kg_per_kg;
        let source = cx.project.room_index(&from).map(|j| &cx.design.needs[j]);
        let origin = match source {
            Some(s) if on_primary(s) => {
                air::saturated(
                    cx,
                    out,
                    "tr",
                    s.dew_point_limit_c,
                    see(&from, "dew_point_limit"),
                    "humidity ratio of the transfer air: its room stands at its limit",
                );
                above("W_tr")
            }
            _ => Origin::Weather(format!(
                "room {from} without primary air, by its own balance while the room before it stands at its limit"
            )),
        };
        carry += m * (w - w_limit);
        Line::new("m_carry", meaning, "m_gain + m_inf * (W_out - W_limit) + m_tr * (W_tr - W_limit)")
            .with("m_tr", K::MassFlow, m, above("m_tr"))
            .with("W_tr", K::HumidityRatio, w, origin)
    } else {
        Line::new("m_carry", meaning, "m_gain + m_inf * (W_out - W_limit)")
    };
    out.push(
        line
            .with("m_gain", K::MassFlow, h.gain_kg_per_s, above("m_gain"))
            .with("m_inf", K::MassFlow, n.infiltration_kg_per_s, above("m_inf"))
            .with("W_out", K::HumidityRatio, h.outdoor_humidity_ratio_kg_per_kg, Origin::Weather(h.when.clone()))
            .with("W_limit", K::HumidityRatio, w_limit, above("W_limit"))
            .result(K::MassFlow, carry)
            .source(BALANCE_WATER)
            .note("the hour with the largest moisture of people, processes and infiltration over every occupied hour of every design day"),
    );
    carry
}

fn latent_flow(cx: Cx<'_>, i: usize, n: &RoomNeeds, out: &mut Vec<Line>) {
    let meaning = "primary air that carries the moisture away at the supply dew point chosen";
    if !on_primary(n) {
        out.extend(zero(
            "V_latent",
            meaning,
            K::StandardAirFlow,
            n.latent_need_m3_per_s,
            "the room gets no primary air",
        ));
        return;
    }
    let w_limit = limit_w(cx, n, out);
    let carry = carry(cx, i, n, w_limit, out);
    out.push(
        Line::new("V_latent", meaning, "max(0, m_carry) / (W_limit - W_supply) / rho_0")
            .with("m_carry", K::MassFlow, carry, above("m_carry"))
            .with("W_limit", K::HumidityRatio, w_limit, above("W_limit"))
            .with(
                "W_supply",
                K::HumidityRatio,
                cx.design.dew_point.supply_humidity_ratio_kg_per_kg,
                see("dew point", "supply_humidity_ratio"),
            )
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .result(K::StandardAirFlow, n.latent_need_m3_per_s)
            .source(BALANCE_WATER),
    );
}

fn required(cx: Cx<'_>, i: usize, n: &RoomNeeds, out: &mut Vec<Line>) -> Option<()> {
    let value = n.required_dew_point_c?;
    let w_limit = limit_w(cx, n, out);
    let carry = carry(cx, i, n, w_limit, out);
    let w = w_limit - carry / (n.fixed_m3_per_s * RHO);
    out.push(
        Line::new(
            "W_needed",
            "supply humidity ratio that holds the limit at the fixed flow",
            "W_limit - m_carry / (V_fixed * rho_0)",
        )
        .with("W_limit", K::HumidityRatio, w_limit, above("W_limit"))
        .with("m_carry", K::MassFlow, carry, above("m_carry"))
        .with("V_fixed", K::StandardAirFlow, n.fixed_m3_per_s, see(&n.room, "fixed_flow"))
        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
        .result(K::HumidityRatio, w)
        .source(BALANCE_WATER),
    );
    air::dew_point(
        cx,
        out,
        "t_needed",
        "supply dew point needed at the fixed flow",
        (w, above("W_needed")),
        value,
    );
    Some(())
}

fn primary(cx: Cx<'_>, i: usize, n: &RoomNeeds, out: &mut Vec<Line>) {
    let flow = K::StandardAirFlow;
    let meaning = "primary air of the room";
    if !on_primary(n) {
        out.extend(zero("V_primary", meaning, flow, n.primary_m3_per_s, "the room gets no primary air"));
        return;
    }
    let place = n.room.as_str();
    out.push(
        Line::new("V_own", "need of the room itself", "max(V_fixed, V_latent)")
            .with("V_fixed", flow, n.fixed_m3_per_s, see(place, "fixed_flow"))
            .with("V_latent", flow, n.latent_need_m3_per_s, see(place, "latent_flow"))
            .result(flow, n.fixed_m3_per_s.max(n.latent_need_m3_per_s))
            .source(CHOICE),
    );
    let zone = cx.project.rooms[i].zone.value.as_str();
    let members: Vec<usize> = (0..cx.project.rooms.len())
        .filter(|j| cx.project.rooms[*j].zone.value == zone && on_primary(&cx.design.needs[*j]))
        .collect();
    let share_line = |j: usize, symbol: &str| {
        let sum: f64 = members.iter().map(|k| cx.design.loads.rooms[*k].cooling.load_w.max(0.0)).sum();
        let s = cx.design.needs[j].zone_share;
        if sum > 0.0 {
            let mut line = Line::new(
                symbol,
                format!("share of the discharge of zone {zone} that room {} gets", cx.design.needs[j].room),
                "",
            );
            let mut names = Vec::new();
            for k in &members {
                let name = format!("q_{}", k + 1);
                let id = &cx.project.rooms[*k].id;
                line = line.with(
                    name.clone(),
                    K::Power,
                    cx.design.loads.rooms[*k].cooling.load_w.max(0.0),
                    see(id, "sensible_load"),
                );
                names.push(name);
            }
            line.formula = format!("q_{} / sum({})", j + 1, names.join(", "));
            line.result_number(s)
                .source(Source::new("definition", "discharge in proportion to the peak cooling loads"))
        } else {
            super::given_number(
                symbol,
                "equal shares of the discharge",
                s,
                constant("no cooling load in the zone"),
            )
        }
    };
    let mut line =
        Line::new("V_zone", format!("primary air of zone {zone}: every room gets its need by its share"), "");
    let mut terms = vec!["V_min".to_owned()];
    let terminal = cx.design.terminals.iter().find(|t| t.zone == zone);
    line = line.with(
        "V_min",
        flow,
        n.zone_minimum_m3_per_s,
        match terminal {
            Some(t) if n.zone_minimum_m3_per_s > 0.0 => Origin::Table {
                row: format!(
                    "least primary air of {} x {}, the first unit that carries the zone",
                    t.units, t.model
                ),
                source: "catalogue of terminals".into(),
                place: None,
            },
            _ => constant("no terminal raises the flow of the zone"),
        },
    );
    let mut zone_flow = n.zone_minimum_m3_per_s;
    for j in &members {
        let m = &cx.design.needs[*j];
        let own = m.fixed_m3_per_s.max(m.latent_need_m3_per_s);
        if own <= 0.0 {
            continue;
        }
        zone_flow = zone_flow.max(own / m.zone_share);
        let (v, s) = (format!("V_{}", j + 1), format!("s_{}", j + 1));
        if *j == i {
            line = line.with(v.clone(), flow, own, above("V_own"));
        } else {
            let text = if m.latent_need_m3_per_s > m.fixed_m3_per_s { "latent_flow" } else { "fixed_flow" };
            line = line.with(v.clone(), flow, own, see(&m.room, text));
        }
        out.push(share_line(*j, &s));
        line = line.with_number(s.clone(), m.zone_share, above(&s));
        terms.push(format!("{v} / {s}"));
    }
    line.formula = format!("max({})", terms.join(", "));
    out.push(line.result(flow, zone_flow).source(CHOICE));
    let mine = format!("s_{}", i + 1);
    let own_share_there = out.iter().any(|l| l.symbol == mine);
    if !own_share_there {
        out.push(share_line(i, &mine));
    }
    out.push(
        Line::new("V_primary", meaning, format!("V_zone * {mine}"))
            .with("V_zone", flow, zone_flow, above("V_zone"))
            .with_number(mine.clone(), n.zone_share, above(&mine))
            .result(flow, n.primary_m3_per_s)
            .source(Source::new("definition", "discharge of the zone split by share"))
            .note(format!("governed by {}", n.governing.word())),
    );
}

fn transfer(cx: Cx<'_>, i: usize, n: &RoomNeeds, out: &mut Vec<Line>) {
    let flow = K::StandardAirFlow;
    let meaning = "transfer air in";
    let room = &cx.project.rooms[i];
    let exhaust = room.exhaust.value.to_m3_per_s();
    if n.transfer_in_m3_per_s == 0.0 {
        out.extend(zero("V_transfer", meaning, flow, n.transfer_in_m3_per_s, "no transfer air is drawn"));
        return;
    }
    if n.service == Service::Transfer {
        let drawn: Vec<_> = cx
            .design
            .needs
            .iter()
            .filter(|m| m.transfer_from.as_deref() == Some(&n.room) && m.transfer_in_m3_per_s > 0.0)
            .collect();
        let sum: f64 = drawn.iter().map(|m| m.transfer_in_m3_per_s).sum();
        out.push(super::sum_line(
            "V_drawn",
            "what other rooms draw through this one",
            flow,
            sum,
            drawn.iter().enumerate().map(|(k, m)| {
                (format!("V_{}", k + 1), m.transfer_in_m3_per_s, see(&m.room, "transfer_flow"))
            }),
        ));
        out.push(
            Line::new("V_transfer", meaning, "max(V_vent, V_out + V_drawn)")
                .with("V_vent", flow, n.ventilation_m3_per_s, see(&n.room, "ventilation_flow"))
                .with("V_out", flow, exhaust, room.exhaust.origin.clone())
                .with("V_drawn", flow, sum, above("V_drawn"))
                .result(flow, n.transfer_in_m3_per_s)
                .source(Source::new("mass balance of air", "room without primary air")),
        );
        return;
    }
    if n.service == Service::OffSystem {
        out.push(
            Line::new("V_transfer", meaning, "max(0, V_out - V_vent)")
                .with("V_out", flow, exhaust, room.exhaust.origin.clone())
                .with("V_vent", flow, n.ventilation_m3_per_s, see(&n.room, "ventilation_flow"))
                .result(flow, n.transfer_in_m3_per_s)
                .source(Source::new("mass balance of air", "its own unit brings the ventilation")),
        );
        return;
    }
    out.push(
        Line::new("V_transfer", meaning, "max(V_out, V_out + V_press) - V_fixed")
            .with("V_out", flow, exhaust, room.exhaust.origin.clone())
            .with("V_press", flow, n.pressurization_m3_per_s, see(&n.room, "pressurization_flow"))
            .with("V_fixed", flow, n.fixed_m3_per_s, see(&n.room, "fixed_flow"))
            .result(flow, n.transfer_in_m3_per_s)
            .source(Source::new("mass balance of air", "what leaves beyond the primary air")),
    );
}

#[allow(clippy::too_many_arguments)]
fn moisture(
    cx: Cx<'_>,
    i: usize,
    n: &RoomNeeds,
    h: &MoistureHour,
    symbol: &str,
    meaning: &str,
    value: f64,
    out: &mut Vec<Line>,
) {
    gain(cx, i, h, out);
    infiltration(n, out);
    let (line, m_p) =
        air::mass_flow("m_p", "the primary air", n.primary_m3_per_s, see(&n.room, "primary_air_flow"));
    out.push(line);
    let mut line = Line::new(symbol, format!("{meaning}, {}", h.when), "");
    let (top, bottom) = if n.transfer_in_m3_per_s > 0.0 {
        let (t, m) =
            air::mass_flow("m_tr", "the transfer air", n.transfer_in_m3_per_s, see(&n.room, "transfer_flow"));
        out.push(t);
        line = line.with("m_tr", K::MassFlow, m, above("m_tr")).with(
            "W_tr",
            K::HumidityRatio,
            h.transfer_humidity_ratio_kg_per_kg,
            Origin::Weather(format!("room {}, {}", n.transfer_from.clone().unwrap_or_default(), h.when)),
        );
        (" + m_tr * W_tr", " + m_tr")
    } else {
        ("", "")
    };
    line.formula = format!("(m_gain + m_inf * W_out + m_p * W_supply{top}) / (m_p + m_inf{bottom})");
    out.push(
        line.with("m_gain", K::MassFlow, h.gain_kg_per_s, above("m_gain"))
            .with("m_inf", K::MassFlow, n.infiltration_kg_per_s, above("m_inf"))
            .with(
                "W_out",
                K::HumidityRatio,
                h.outdoor_humidity_ratio_kg_per_kg,
                Origin::Weather(h.when.clone()),
            )
            .with("m_p", K::MassFlow, m_p, above("m_p"))
            .with(
                "W_supply",
                K::HumidityRatio,
                cx.design.dew_point.supply_humidity_ratio_kg_per_kg,
                see("dew point", "supply_humidity_ratio"),
            )
            .result(K::HumidityRatio, value)
            .source(BALANCE_WATER),
    );
}

fn limit(cx: Cx<'_>, room: &Room, n: &RoomNeeds, out: &mut Vec<Line>) {
    let building = cx.design.dew_point.room_limit_c;
    let mut line = Line::new("t_limit", "dew-point limit of the room", "t_building").with(
        "t_building",
        K::Temperature,
        building,
        see("dew point", "room_limit"),
    );
    if let Some(own) = &room.dew_point_limit {
        line.formula = "min(t_building, t_own)".into();
        line = line.with("t_own", K::Temperature, own.value.to_celsius(), own.origin.clone());
    }
    out.push(
        line.result(K::Temperature, n.dew_point_limit_c)
            .source(Source::new("definition", "the lower limit governs")),
    );
}

/// Exhaust of a room in the air balance, as a line.
pub(crate) fn balance_exhaust(cx: Cx<'_>, i: usize, symbol: &str) -> Option<(Line, f64)> {
    let (room, n) = (&cx.project.rooms[i], &cx.design.needs[i]);
    let flow = K::StandardAirFlow;
    let value = room_exhaust(cx.project, room, &n.into());
    if value == 0.0 {
        return None;
    }
    let entered = room.exhaust.value.to_m3_per_s();
    let line = if value == entered {
        given(symbol, format!("exhaust of room {}", room.id), flow, value, room.exhaust.origin.clone())
    } else if relation(cx, room) == PressureRelation::Negative && value > n.primary_m3_per_s {
        Line::new(symbol, format!("exhaust of room {}, below its neighbours", room.id), "V_p + V_cracks")
            .with("V_p", flow, n.primary_m3_per_s, see(&room.id, "primary_air_flow"))
            .with("V_cracks", flow, OFFSET, offset_origin())
            .result(flow, value)
            .source(Source::new("mass balance of air", "pressure relation"))
    } else {
        Line::new(symbol, format!("exhaust of room {}, whose air is all exhausted", room.id), "V_p")
            .with("V_p", flow, n.primary_m3_per_s, see(&room.id, "primary_air_flow"))
            .result(flow, value)
            .source(GIVEN)
    };
    Some((line, value))
}

/// Relative humidity of a room at its set point.
pub(crate) fn relative_humidity(cx: Cx<'_>, i: usize, value: f64) -> Vec<Line> {
    let n = &cx.design.needs[i];
    let t = cx.design.loads.rooms[i].set_point_c;
    let mut out = Vec::new();
    let w = n.humidity_ratio_kg_per_kg;
    let p_w = raw::vapour_pressure_pa(w, cx.p());
    out.push(
        Line::new("p_w", "vapour pressure of the room air", "p * W / (0.621945 + W)")
            .with("p", K::Pressure, cx.p(), cx.pressure_origin())
            .with("W", K::HumidityRatio, w, see(&n.room, "room_humidity_ratio"))
            .result(K::Pressure, p_w)
            .source(MOIST_AIR),
    );
    air::saturated(cx, &mut out, "s", t, see(&n.room, "cooling_set_point"), "humidity ratio at saturation");
    out.push(
        Line::new("phi", "relative humidity at the set point", "p_w / p_s")
            .with("p_w", K::Pressure, p_w, above("p_w"))
            .with("p_s", K::Pressure, raw::saturation_pressure_pa(t), above("p_s"))
            .result(K::Fraction, value)
            .source(MOIST_AIR),
    );
    out
}
