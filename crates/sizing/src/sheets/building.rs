//! Sheets of floors, building, comfort, ducts and the dew-point decision.

use super::needs::{balance_exhaust, relative_humidity};
use super::rooms::{facade, peak_line, zero};
use super::{BALANCE_HEAT, Cx, Lines, SUM, above, air, constant, given, same, see, sum_line};
use crate::comfort::discharge_share;
use crate::design::{AirBalance, DuctMain, GroupLoads, Service, TerminalDesign};
use crate::schedule::{floor_place, slug};
use drycoil_air::raw;
use drycoil_project::{DayType, Room, UseShare};
use drycoil_units::{Quantity, QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    if place == "dew point" {
        return decision(cx, quantity);
    }
    if place == "ducts" {
        return ducts(cx, quantity);
    }
    let loads = &cx.design.loads;
    let group = loads.floors.iter().chain([&loads.building]).find(|g| floor_place(&g.group) == place)?;
    of_group(cx, group, quantity).or_else(|| {
        let b = cx.design.balance.iter().find(|b| floor_place(&b.group) == place)?;
        of_balance(cx, b, quantity)
    })
}

fn inside(cx: Cx<'_>, group: &str) -> Vec<usize> {
    let n = cx.project.rooms.len();
    (0..n).filter(|i| group == "building" || cx.project.rooms[*i].floor == group).collect()
}

fn of_group(cx: Cx<'_>, g: &GroupLoads, quantity: &str) -> Lines {
    let rooms = inside(cx, &g.group);
    let loads = &cx.design.loads.rooms;
    match quantity {
        "coincident_cooling" => Some(vec![
            peak_line("q_coincident", "sensible cooling at the hour in which it is highest in sum, with the diversity of people", &g.cooling, false)
                .note(format!("design day {}, hour that begins at {:02}:00; people counted with the diversity of their room kind", g.cooling.day, g.cooling.hour)),
        ]),
        "coincident_heating" => Some(vec![peak_line("q_heating", "heating at the hour in which it is highest in sum", &g.heating, true)]),
        "sum_of_peaks" => Some(vec![sum_line(
            "q_peaks",
            "sum of the peaks of the rooms, whenever each peaks",
            K::Power,
            g.cooling_sum_of_peaks_w,
            rooms.iter().map(|i| (format!("q_{}", i + 1), loads[*i].cooling.load_w, see(&loads[*i].room, "sensible_load"))),
        )]),
        "coincident_latent" => {
            let diversity = |i: usize| cx.project.kind_of(&cx.project.rooms[i]).diversity.to_ratio();
            let total = |h: usize| rooms.iter().map(|i| loads[*i].latent_by_hour_w[h] * diversity(*i)).sum::<f64>();
            let hour = (0..24).max_by(|a, b| total(*a).total_cmp(&total(*b)).then(b.cmp(a)))?;
            let mut line = Line::new("q_latent", format!("latent gain with diversity in the hour that begins at {hour:02}:00, the highest"), "");
            let mut terms = Vec::new();
            for i in &rooms {
                let w = loads[*i].latent_by_hour_w[hour];
                if w > 0.0 {
                    let room = &cx.project.rooms[*i];
                    let (a, b) = (format!("q_{}", i + 1), format!("d_{}", i + 1));
                    line = line
                        .with(a.clone(), K::Power, w, Origin::Weather(format!("room {}, weekday {hour:02}:00, by its profile", room.id)))
                        .with(b.clone(), K::Fraction, diversity(*i), Origin::Table { row: format!("diversity of {}", cx.project.kind_of(room).name), source: "room kinds".into(), place: Some(cx.project.kind_of(room).place.clone()) });
                    terms.push(format!("{a} * {b}"));
                }
            }
            if terms.is_empty() {
                return Some(zero("q_latent", "latent gain", K::Power, g.latent_w, "no latent gain"));
            }
            line.formula = format!("sum({})", terms.join(", "));
            Some(vec![line.result(K::Power, g.latent_w).source(SUM)])
        }
        _ => None,
    }
}

fn of_balance(cx: Cx<'_>, b: &AirBalance, quantity: &str) -> Lines {
    let rooms = inside(cx, &b.group);
    let needs = &cx.design.needs;
    let flow = K::StandardAirFlow;
    let here = |q: &str| see(&floor_place(&b.group), q);
    let air_mass = Source::new("mass balance of air", "standard flows of the group");
    let mut out = Vec::new();
    match quantity {
        "balance_primary" => out.push(sum_line(
            "V_primary",
            "primary air delivered",
            flow,
            b.primary_m3_per_s,
            rooms.iter().filter(|i| needs[**i].primary_m3_per_s > 0.0).map(|i| {
                (format!("V_{}", i + 1), needs[*i].primary_m3_per_s, see(&needs[*i].room, "primary_air_flow"))
            }),
        )),
        "balance_exhaust" => {
            let mut parts = Vec::new();
            for i in &rooms {
                let symbol = format!("E_{}", i + 1);
                if let Some((line, v)) = balance_exhaust(cx, *i, &symbol) {
                    out.push(line);
                    parts.push((symbol.clone(), v, above(&symbol)));
                }
            }
            out.push(sum_line("V_exhaust", "exhaust of the rooms", flow, b.exhaust_m3_per_s, parts));
        }
        "balance_transfer" => {
            let there =
                |id: &str| b.group == "building" || cx.project.room(id).is_some_and(|r| r.floor == b.group);
            let mut parts = Vec::new();
            for (i, n) in needs.iter().enumerate() {
                let Some(from) = n.transfer_from.as_deref() else { continue };
                let sign = match (there(&n.room), there(from)) {
                    (true, false) => 1.0,
                    (false, true) => -1.0,
                    _ => continue,
                };
                parts.push((i, n, sign));
            }
            if parts.is_empty() {
                return Some(zero(
                    "V_transfer",
                    "transfer air in, less transfer air out",
                    flow,
                    b.transfer_m3_per_s,
                    "no transfer air crosses the border",
                ));
            }
            let mut line = Line::new("V_transfer", "transfer air in, less transfer air out", "");
            let mut formula = String::from("0");
            for (i, n, sign) in parts {
                let name = format!("V_{}", i + 1);
                formula.push_str(if sign > 0.0 { " + " } else { " - " });
                formula.push_str(&name);
                line = line.with(name, flow, n.transfer_in_m3_per_s, see(&n.room, "transfer_flow"));
            }
            line.formula = formula;
            out.push(line.result(flow, b.transfer_m3_per_s).source(air_mass));
        }
        "balance_own_outdoor" | "balance_own_exhaust" => {
            let outdoor = quantity == "balance_own_outdoor";
            let mut parts = Vec::new();
            for i in rooms.iter().filter(|i| needs[**i].service == Service::OffSystem) {
                own_unit(cx, *i, outdoor, &mut out, &mut parts);
            }
            out.push(if outdoor {
                sum_line(
                    "V_own",
                    "outdoor air that rooms off the system get by their own units",
                    flow,
                    b.own_units_outdoor_m3_per_s,
                    parts,
                )
            } else {
                sum_line(
                    "E_own",
                    "exhaust of the rooms off the system by their own hoods and units",
                    flow,
                    b.own_units_exhaust_m3_per_s,
                    parts,
                )
            });
        }
        "balance_pressurization" => {
            let criteria = &cx.project.criteria.pressurization;
            let mut parts = Vec::new();
            for i in &rooms {
                let mut own = Vec::new();
                let area = facade(cx, &cx.project.rooms[*i], &mut own);
                if area > 0.0 {
                    let symbol = format!("A_room_{}", i + 1);
                    if let Some(line) = own.last_mut() {
                        line.symbol.clone_from(&symbol);
                        line.meaning = format!("{} of room {}", line.meaning, cx.project.rooms[*i].id);
                    }
                    out.extend(own);
                    parts.push((symbol.clone(), area, above(&symbol)));
                }
            }
            let area: f64 = parts.iter().map(|p| p.1).sum();
            out.push(sum_line("A_facade", "facade of the rooms", K::Area, area, parts));
            out.push(
                Line::new("V_press", "surplus that keeps the group pressurized", "s * A_facade")
                    .with(
                        "s",
                        K::StandardAirFlowPerArea,
                        criteria.value.to_m_per_s(),
                        criteria.origin.clone(),
                    )
                    .with("A_facade", K::Area, area, above("A_facade"))
                    .result(flow, b.pressurization_m3_per_s)
                    .source(Source::new("common practice, no source", "leakage outward per facade area")),
            );
        }
        "balance_surplus" => out.push(
            Line::new(
                "V_surplus",
                "surplus: it returns to the unit or leaves through the facade",
                "V_primary + V_own + V_transfer - V_exhaust - E_own",
            )
            .with("V_primary", flow, b.primary_m3_per_s, here("balance_primary"))
            .with("V_transfer", flow, b.transfer_m3_per_s, here("balance_transfer"))
            .with("V_exhaust", flow, b.exhaust_m3_per_s, here("balance_exhaust"))
            .with("V_own", flow, b.own_units_outdoor_m3_per_s, here("balance_own_outdoor"))
            .with("E_own", flow, b.own_units_exhaust_m3_per_s, here("balance_own_exhaust"))
            .result(flow, b.surplus_m3_per_s)
            .source(air_mass),
        ),
        "balance_relief" => out.push(
            Line::new("V_relief", "return to the unit", "max(0, V_surplus - V_press)")
                .with("V_surplus", flow, b.surplus_m3_per_s, here("balance_surplus"))
                .with("V_press", flow, b.pressurization_m3_per_s, here("balance_pressurization"))
                .result(flow, b.relief_m3_per_s)
                .source(air_mass),
        ),
        _ => return None,
    }
    Some(out)
}

/// Outdoor air and exhaust of a room off the system.
fn own_unit(
    cx: Cx<'_>,
    i: usize,
    outdoor: bool,
    out: &mut Vec<Line>,
    parts: &mut Vec<(String, f64, Origin)>,
) {
    let (room, n) = (&cx.project.rooms[i], &cx.design.needs[i]);
    let flow = K::StandardAirFlow;
    let (make_up, exhaust) = crate::balance::own_unit(cx.project, room, &n.into());
    let (v, e, a) = (format!("V_{}", i + 1), format!("E_{}", i + 1), format!("A_room_{}", i + 1));
    let area = facade(cx, room, out);
    if let Some(line) = out.last_mut() {
        line.symbol.clone_from(&a);
        line.meaning = format!("{} of room {}", line.meaning, room.id);
    }
    let criteria = &cx.project.criteria.pressurization;
    let leak =
        |line: Line| {
            line.with("s", K::StandardAirFlowPerArea, criteria.value.to_m_per_s(), criteria.origin.clone())
                .with(a.clone(), K::Area, area, above(&a))
        };
    let transfer = see(&n.room, "transfer_flow");
    let line = Line::new(
        v.clone(),
        format!("outdoor air of the own unit of room {}: ventilation, or make-up of its exhaust", room.id),
        format!("max(V_vent, V_x + s * {a} - V_t)"),
    )
    .with("V_vent", flow, n.ventilation_m3_per_s, see(&n.room, "ventilation_flow"))
    .with("V_x", flow, room.exhaust.value.to_m3_per_s(), room.exhaust.origin.clone());
    out.push(
        leak(line)
            .with("V_t", flow, n.transfer_in_m3_per_s, transfer.clone())
            .result(flow, make_up)
            .source(Source::new("mass balance of air", "room with its own unit")),
    );
    if outdoor {
        parts.push((v.clone(), make_up, above(&v)));
        return;
    }
    let line = Line::new(
        e.clone(),
        format!("exhaust of room {}: what comes in and does not leak out", room.id),
        format!("{v} + V_t - s * {a}"),
    )
    .with(v.clone(), flow, make_up, above(&v))
    .with("V_t", flow, n.transfer_in_m3_per_s, transfer);
    out.push(
        leak(line).result(flow, exhaust).source(Source::new("mass balance of air", "room with its own unit")),
    );
    parts.push((e.clone(), exhaust, above(&e)));
}

pub(crate) fn comfort(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    let i = cx.project.room_index(place)?;
    let room = &cx.project.rooms[i];
    let c = cx.design.comfort.get(i)?;
    let n = &cx.design.needs[i];
    let terminal = cx.design.terminals.iter().find(|t| t.rooms.contains(&room.id));
    let mut out = Vec::new();
    let changes = |symbol: &str, meaning: &str, (v, origin): (f64, Origin), value: f64| {
        Line::new(symbol, meaning, "V * h_1 / (A * H) / c_1")
            .with("V", K::StandardAirFlow, v, origin)
            .with("h_1", K::Time, 3600.0, constant("one hour"))
            .with("A", K::Area, room.floor_area.value.to_square_metres(), room.floor_area.origin.clone())
            .with("H", K::Length, room.height.value.to_metres(), room.height.origin.clone())
            .with_number("c_1", 1.0, constant("the result counts room volumes in an hour"))
            .result(K::AirChangesPerHour, value)
            .source(Source::new("definition", "room volumes of standard air in an hour"))
    };
    match quantity {
        "relative_humidity" => return Some(relative_humidity(cx, i, c.relative_humidity)),
        "discharge" => {
            let t = terminal?;
            return Some(same(
                "t_d",
                "discharge temperature of the room's terminal",
                K::Temperature,
                c.discharge_c?,
                &t.zone,
                "discharge_temperature",
            ));
        }
        "heating_difference" => {
            let t = terminal?;
            out.push(
                Line::new("dT", "supply above the room in heating", "t_d - t_room")
                    .with(
                        "t_d",
                        K::Temperature,
                        t.discharge_heating_c,
                        see(&t.zone, "heating_discharge_temperature"),
                    )
                    .with(
                        "t_room",
                        K::Temperature,
                        room.heating_set_point.value.to_celsius(),
                        room.heating_set_point.origin.clone(),
                    )
                    .result(K::TemperatureDifference, c.heating_difference_k?)
                    .source(Source::new("definition", "temperature difference")),
            );
        }
        "outdoor_air_changes" => out.push(changes(
            "n",
            "outdoor air changes",
            (n.primary_m3_per_s, see(place, "primary_air_flow")),
            c.outdoor_air_changes_per_h,
        )),
        "total_air_changes" => {
            let total = if let Some(t) = terminal {
                let share = discharge_share(&cx.design.loads, cx.project, t, &room.id);
                let v = t.fan_m3_per_s.max(t.primary_m3_per_s) * f64::from(t.units) * share;
                share_line(cx, t, room, share, &mut out);
                out.push(
                    Line::new("V_total", "air discharged into the room", "max(V_fan, V_p) * n * s")
                        .with("V_fan", K::StandardAirFlow, t.fan_m3_per_s, see(&t.zone, "fan_flow"))
                        .with("V_p", K::StandardAirFlow, t.primary_m3_per_s, see(&t.zone, "unit_primary_air"))
                        .with_number("n", f64::from(t.units), see(&t.zone, "units"))
                        .with_number("s", share, above("s"))
                        .result(K::StandardAirFlow, v)
                        .source(Source::new("definition", "discharge split by share")),
                );
                v
            } else {
                let v = n.primary_m3_per_s + n.transfer_in_m3_per_s;
                out.push(
                    Line::new("V_total", "primary and transfer air", "V_primary + V_transfer")
                        .with(
                            "V_primary",
                            K::StandardAirFlow,
                            n.primary_m3_per_s,
                            see(place, "primary_air_flow"),
                        )
                        .with(
                            "V_transfer",
                            K::StandardAirFlow,
                            n.transfer_in_m3_per_s,
                            see(place, "transfer_flow"),
                        )
                        .result(K::StandardAirFlow, v)
                        .source(SUM),
                );
                v
            };
            out.push(changes("n", "total air changes", (total, above("V_total")), c.total_air_changes_per_h));
        }
        "overcooling" => overcooling(cx, room, i, c.overcooling_w, &mut out),
        "neutral_supply" => {
            let cp = air::cp(
                &mut out,
                "c_p",
                "the air",
                n.humidity_ratio_kg_per_kg,
                see(place, "room_humidity_ratio"),
            );
            out.push(
                Line::new(
                    "t_neutral",
                    "supply temperature at which cold primary air overcools nobody",
                    "t_supply + q / (V * rho_0 * c_p)",
                )
                .with(
                    "t_supply",
                    K::Temperature,
                    cx.design.primary_unit.delivered_dry_bulb_c,
                    see("primary air", "delivered_dry_bulb"),
                )
                .with("q", K::Power, c.overcooling_w, see(place, "overcooling"))
                .with("V", K::StandardAirFlow, n.primary_m3_per_s, see(place, "primary_air_flow"))
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("c_p", K::SpecificHeat, cp, above("c_p"))
                .result(K::Temperature, c.neutral_supply_c)
                .source(BALANCE_HEAT),
            );
        }
        _ => return None,
    }
    Some(out)
}

/// Share of a terminal's discharge that a room gets, as a line `s`.
fn share_line(cx: Cx<'_>, t: &TerminalDesign, room: &Room, share: f64, out: &mut Vec<Line>) {
    let loads = &cx.design.loads.rooms;
    let mut line =
        Line::new("s", "share of the discharge: the room's part of the peak cooling loads of the zone", "");
    let mut names = Vec::new();
    let mut own = String::new();
    let mut total = 0.0;
    for i in t.rooms.iter().filter_map(|r| cx.project.room_index(r)) {
        let name = format!("q_{}", i + 1);
        if loads[i].room == room.id {
            own.clone_from(&name);
        }
        total += loads[i].cooling.load_w.max(0.0);
        line =
            line.with(name.clone(), K::Power, loads[i].cooling.load_w, see(&loads[i].room, "sensible_load"));
        names.push(name);
    }
    if names.len() == 1 || total <= 0.0 {
        out.push(super::given_number(
            "s",
            "share of the discharge: rooms of a zone without a load share evenly, a single room gets all",
            share,
            constant("definition of the share"),
        ));
        return;
    }
    line.formula = format!("{own} / sum({})", names.join(", "));
    out.push(
        line.result_number(share)
            .source(Source::new("common practice, no source", "discharge in proportion to load")),
    );
}

fn overcooling(cx: Cx<'_>, room: &Room, i: usize, value: f64, out: &mut Vec<Line>) {
    let n = &cx.design.needs[i];
    if n.primary_m3_per_s <= 0.0 {
        out.extend(zero("q", "heat against overcooling", K::Power, value, "the room gets no primary air"));
        return;
    }
    let profile = cx.project.profile_of(room);
    let largest = |of: UseShare| (0..24).map(|h| profile.share(of, DayType::Weekday, h)).fold(0.0, f64::max);
    let share = |of: UseShare| Origin::Table {
        row: format!("profile {}, {}, largest of a weekday", profile.name, of.word()),
        source: "profiles".into(),
        place: Some(profile.place.clone()),
    };
    let area = room.floor_area.value.to_square_metres();
    let gains = room.people.value * room.sensible_per_person.value.to_watts() * 0.1
        + room.lighting.value.to_w_per_m2() * area * largest(UseShare::Lighting)
        + room.plugs.value.to_w_per_m2() * area * largest(UseShare::Plugs) * 0.5
        + room.process_sensible.value.to_watts() * largest(UseShare::Process);
    out.push(
        Line::new(
            "q_gain",
            "gains with few people: a tenth of them, lights on, half the plug loads",
            "N * q_person * 0.1 + A * (g_light * f_light + g_plug * f_plug * 0.5) + q_process * f_process",
        )
        .with_number("N", room.people.value, room.people.origin.clone())
        .with(
            "q_person",
            K::Power,
            room.sensible_per_person.value.to_watts(),
            room.sensible_per_person.origin.clone(),
        )
        .with("A", K::Area, area, room.floor_area.origin.clone())
        .with("g_light", K::HeatFlux, room.lighting.value.to_w_per_m2(), room.lighting.origin.clone())
        .with_number("f_light", largest(UseShare::Lighting), share(UseShare::Lighting))
        .with("g_plug", K::HeatFlux, room.plugs.value.to_w_per_m2(), room.plugs.origin.clone())
        .with_number("f_plug", largest(UseShare::Plugs), share(UseShare::Plugs))
        .with(
            "q_process",
            K::Power,
            room.process_sensible.value.to_watts(),
            room.process_sensible.origin.clone(),
        )
        .with_number("f_process", largest(UseShare::Process), share(UseShare::Process))
        .result(K::Power, gains)
        .source(Source::new("common practice, no source", "minimum load that is checked")),
    );
    let cp =
        air::cp(out, "c_p", "the room air", n.humidity_ratio_kg_per_kg, see(&room.id, "room_humidity_ratio"));
    out.push(
        Line::new(
            "q",
            "heat needed against overcooling; outdoor air stands at the set point and there is no sun",
            "max(0, V * rho_0 * c_p * (t_heating - t_supply) - q_gain)",
        )
        .with("V", K::StandardAirFlow, n.primary_m3_per_s, see(&room.id, "primary_air_flow"))
        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
        .with("c_p", K::SpecificHeat, cp, above("c_p"))
        .with(
            "t_heating",
            K::Temperature,
            room.heating_set_point.value.to_celsius(),
            room.heating_set_point.origin.clone(),
        )
        .with(
            "t_supply",
            K::Temperature,
            cx.design.primary_unit.delivered_dry_bulb_c,
            see("primary air", "delivered_dry_bulb"),
        )
        .with("q_gain", K::Power, gains, above("q_gain"))
        .result(K::Power, value)
        .source(BALANCE_HEAT),
    );
}

fn decision(cx: Cx<'_>, quantity: &str) -> Lines {
    let d = &cx.design.dew_point;
    let y = &d.chosen.year;
    let pins = &cx.project.criteria.pins;
    let margin = &cx.project.criteria.design_margin;
    let mut out = Vec::new();
    let bins = |what: &str| Origin::Weather(format!("{what}: weather year in bins"));
    let energy = |symbol: &str, meaning: &str, j: f64| {
        vec![
            given(symbol, meaning, K::Energy, j, bins(meaning))
                .source(Source::new("sum over the weather bins", "part-load models of the machines"))
                .note(d.method.clone()),
        ]
    };
    match quantity {
        "supply_dew_point" => {
            let mut line = given(
                "t_supply",
                "supply dew point, delivered",
                K::Temperature,
                d.supply_dew_point_c,
                pins.supply_dew_point
                    .as_ref()
                    .map_or(constant("lowest objective of all candidates; see the trade-off curve"), |p| {
                        p.origin.clone()
                    }),
            );
            if pins.supply_dew_point.is_none() {
                line = line.source(Source::new(
                    "search over candidates",
                    "lowest yearly objective at which every room keeps its limit",
                ));
            }
            let near: Vec<String> = d
                .curve
                .iter()
                .filter(|p| (p.supply_dew_point_c - d.supply_dew_point_c).abs() < 0.6)
                .map(|p| {
                    format!(
                        "{}: {}",
                        drycoil_units::Temperature::celsius(p.supply_dew_point_c)
                            .show(cx.project.told_units()),
                        if d.objective_unit == "kWh" {
                            format!("{:.0} kWh", p.objective / 3.6e6)
                        } else {
                            format!("{:.0} {}", p.objective, d.objective_unit)
                        }
                    )
                })
                .collect();
            out.push(line.note(format!(
                "{}; {} of neighbours - {}; {}",
                d.binding.join("; "),
                d.objective_name,
                near.join(", "),
                d.method
            )));
        }
        "supply_humidity_ratio" => {
            air::saturated(
                cx,
                &mut out,
                "supply",
                d.supply_dew_point_c,
                see("dew point", "supply_dew_point"),
                "humidity ratio of the delivered primary air",
            );
            if let Some(last) = out.last_mut() {
                last.si = d.supply_humidity_ratio_kg_per_kg;
            }
        }
        "room_limit" => match (&pins.room_limit, &pins.sensible_water) {
            (Some(p), _) => out.push(given(
                "t_limit",
                "room dew-point limit, pinned",
                K::Temperature,
                d.room_limit_c,
                p.origin.clone(),
            )),
            (None, Some(w)) => out.push(
                Line::new("t_limit", "room dew-point limit that the pinned water allows", "t_water - m")
                    .with("t_water", K::Temperature, d.sensible_water_c, w.origin.clone())
                    .with("m", K::TemperatureDifference, margin.value.si(), margin.origin.clone())
                    .result(K::Temperature, d.room_limit_c)
                    .source(Source::new("definition", "design margin")),
            ),
            (None, None) => out.push(
                given(
                    "t_limit",
                    "room dew-point limit",
                    K::Temperature,
                    d.room_limit_c,
                    constant("lowest objective of all limits tried"),
                )
                .source(Source::new("search over candidates", "lowest yearly objective"))
                .note(d.binding.join("; ")),
            ),
        },
        "sensible_water" => match &pins.sensible_water {
            Some(p) => out.push(given(
                "t_water",
                "sensible water, pinned",
                K::Temperature,
                d.sensible_water_c,
                p.origin.clone(),
            )),
            None => out.push(
                Line::new("t_water", "sensible water entering the terminals", "t_limit + m")
                    .with("t_limit", K::Temperature, d.room_limit_c, see("dew point", "room_limit"))
                    .with("m", K::TemperatureDifference, margin.value.si(), margin.origin.clone())
                    .result(K::Temperature, d.sensible_water_c)
                    .source(Source::new("definition", "design margin")),
            ),
        },
        "total_primary_air" => {
            out.push(sum_line(
                "V_total",
                "primary air of all rooms",
                K::StandardAirFlow,
                d.chosen.primary_m3_per_s,
                cx.design.needs.iter().enumerate().filter(|(_, n)| n.primary_m3_per_s > 0.0).map(|(i, n)| {
                    (format!("V_{}", i + 1), n.primary_m3_per_s, see(&n.room, "primary_air_flow"))
                }),
            ));
        }
        "drying_electricity" => return Some(energy("E_drying", "electricity for drying", y.drying_j)),
        "sensible_electricity" => {
            return Some(energy("E_sensible", "electricity for sensible water", y.sensible_j));
        }
        "primary_fan_energy" => return Some(energy("E_primary", "primary-air fans", y.primary_fan_j)),
        "terminal_fan_energy" => return Some(energy("E_terminal", "terminal fans", y.terminal_fan_j)),
        "pump_energy" => return Some(energy("E_pumps", "pumps", y.pump_j)),
        "tower_energy" => return Some(energy("E_tower", "tower fans", y.tower_j)),
        "heat_energy" => {
            return Some(energy("E_heat", "heat: reheat, winter heating of primary air and rooms", y.heat_j));
        }
        "economizer_share" => out.push(
            given(
                "s",
                "share of the sensible cooling that the tower makes without a chiller",
                K::Fraction,
                y.economizer_share,
                bins("economizer"),
            )
            .source(Source::new(
                "sum over the weather bins",
                "tower water against return and supply of the loop",
            )),
        ),
        "objective" => objective(cx, &mut out),
        _ => out.push(pin_price(cx, quantity)?),
    }
    Some(out)
}

/// Price of a pin: the difference of two designs.
fn pin_price(cx: Cx<'_>, quantity: &str) -> Option<Line> {
    let d = &cx.design.dew_point;
    let pin = crate::schedule::pin_of(d, quantity)?;
    let priced = d.objective_unit != "kWh";
    let name = &d.objective_name;
    let line = Line::new(
        "dC",
        format!("price of the pinned {}: {name} with the pin less {name} without it", pin.what),
        "C_pinned - C_free",
    );
    let (here, free) = (
        see("dew point", "objective"),
        constant(
            "objective of the best design without this pin, by the same search; delete the key and size again to open it",
        ),
    );
    let t = |c: f64| drycoil_units::Temperature::celsius(c).show(cx.project.told_units());
    let line = if priced {
        line.with_number("C_pinned", d.chosen.objective, here)
            .with_number("C_free", pin.free_objective, free)
            .result_number(pin.price)
    } else {
        line.with("C_pinned", K::Energy, d.chosen.objective, here)
            .with("C_free", K::Energy, pin.free_objective, free)
            .result(K::Energy, pin.price)
    };
    Some(line.source(Source::new("definition", "plain difference of two years")).note(format!(
        "pinned at {}, {} without the pin; in {} a year, energy and first cost as a yearly payment both counted; not discounted",
        t(pin.pinned_c),
        t(pin.free_c),
        d.objective_unit
    )))
}

fn objective(cx: Cx<'_>, out: &mut Vec<Line>) {
    let d = &cx.design.dew_point;
    let y = &d.chosen.year;
    let e = &cx.project.economics;
    let electricity = y.electricity_j();
    let part = |s: &str, q: &str, j: f64| (s.to_owned(), j, see("dew point", q));
    out.push(sum_line(
        "E_electric",
        "electricity of a year",
        K::Energy,
        electricity,
        [
            part("E_drying", "drying_electricity", y.drying_j),
            part("E_sensible", "sensible_electricity", y.sensible_j),
            part("E_primary", "primary_fan_energy", y.primary_fan_j),
            part("E_terminal", "terminal_fan_energy", y.terminal_fan_j),
            part("E_pumps", "pump_energy", y.pump_j),
            part("E_tower", "tower_energy", y.tower_j),
        ],
    ));
    let boiler = &cx.project.plant.boiler_efficiency;
    let fuel = y.heat_j / boiler.value.to_ratio();
    out.push(
        Line::new("E_fuel", "heating fuel of a year", "E_heat / e")
            .with("E_heat", K::Energy, y.heat_j, see("dew point", "heat_energy"))
            .with("e", K::Fraction, boiler.value.to_ratio(), boiler.origin.clone())
            .result(K::Energy, fuel)
            .source(Source::new("definition", "efficiency of the boiler")),
    );
    let Some(price) = &e.electricity else {
        out.push(
            Line::new("E_site", "site energy of a year: nothing is priced", "E_electric + E_fuel")
                .with("E_electric", K::Energy, electricity, above("E_electric"))
                .with("E_fuel", K::Energy, fuel, above("E_fuel"))
                .result(K::Energy, d.chosen.objective)
                .source(SUM)
                .note(d.method.clone()),
        );
        return;
    };
    let mut formula = String::from("E_electric * p_electric");
    let mut total = Line::new("C", format!("yearly cost in {}", d.objective_unit), "")
        .with("E_electric", K::Energy, electricity, above("E_electric"))
        .with("p_electric", K::EnergyPrice, price.value.to_per_joule(), price.origin.clone());
    if let Some(p) = &e.fuel {
        formula.push_str(" + E_fuel * p_fuel");
        total = total.with("E_fuel", K::Energy, fuel, above("E_fuel")).with(
            "p_fuel",
            K::EnergyPrice,
            p.value.to_per_joule(),
            p.origin.clone(),
        );
    }
    if let (Some(rate), Some(life)) = (&e.discount_rate, &e.life) {
        let (r, years) = (rate.value.to_ratio(), life.value.to_hours() / 8760.0);
        let recovery = if r.abs() < 1e-12 { 1.0 / years } else { r / (1.0 - (1.0 + r).powf(-years)) };
        let text =
            if r.abs() < 1e-12 { "year_1 / life + 0 * d" } else { "d / (1 - (1 + d) ^ (-life / year_1))" };
        out.push(
            Line::new("k", "yearly payment that repays one unit of first cost over the life", text)
                .with("d", K::Fraction, r, rate.origin.clone())
                .with("life", K::Time, life.value.si(), life.origin.clone())
                .with("year_1", K::Time, 8760.0 * 3600.0, constant("one year"))
                .result_number(recovery)
                .source(Source::new("NIST Handbook 135", "uniform capital recovery")),
        );
        let mut first = 0.0;
        let mut terms = Vec::new();
        let mut line =
            Line::new("C_first", format!("first cost that the choice steers, in {}", d.objective_unit), "");
        if let Some(p) = &e.primary_air_per_m3_per_s {
            first += p.value * d.chosen.primary_m3_per_s;
            line = line
                .with(
                    "V_total",
                    K::StandardAirFlow,
                    d.chosen.primary_m3_per_s,
                    see("dew point", "total_primary_air"),
                )
                .with("p_air", K::AirFlowPrice, p.value, p.origin.clone());
            terms.push("V_total * p_air");
        }
        if let Some(p) = &e.cooling_plant_per_watt {
            first += p.value * (y.drying_peak_w + y.sensible_peak_w);
            line = line
                .with(
                    "Q_drying",
                    K::Power,
                    y.drying_peak_w,
                    Origin::Weather("largest of all weather bins".into()),
                )
                .with(
                    "Q_sensible",
                    K::Power,
                    y.sensible_peak_w,
                    Origin::Weather("largest of all weather bins".into()),
                )
                .with("p_plant", K::CapacityPrice, p.value, p.origin.clone());
            terms.push("(Q_drying + Q_sensible) * p_plant");
        }
        if let Some(p) = &e.terminal_each {
            let n = f64::from(d.chosen.terminal_units);
            first += p.value * n;
            let chosen: u32 = cx.design.terminals.iter().map(|t| t.units).sum();
            let origin = if chosen == d.chosen.terminal_units {
                out.push(sum_count(cx));
                above("n_units")
            } else {
                constant("terminal units, as the search counted them; zones without a unit have a finding")
            };
            line = line
                .with_number("n_units", n, origin)
                .with_number("p_terminal", p.value, p.origin.clone())
                .note("one price for a terminal unit of any size");
            terms.push("n_units * p_terminal");
        }
        if let Some(p) = &e.separate_service_each
            && d.chosen.supplementary_boxes > 0
        {
            let n = f64::from(d.chosen.supplementary_boxes);
            first += p.value * n;
            line = line
                .with_number(
                    "n_boxes",
                    n,
                    constant("zones with a supplementary flow in the schedule of the terminals"),
                )
                .with_number("p_separate", p.value, p.origin.clone());
            terms.push("n_boxes * p_separate");
        }
        if !terms.is_empty() {
            line.formula = terms.join(" + ");
            out.push(line.result_number(first).source(SUM));
            formula.push_str(" + C_first * k");
            total =
                total.with_number("C_first", first, above("C_first")).with_number("k", recovery, above("k"));
        }
    }
    total.formula = formula;
    out.push(
        total
            .result_number(d.chosen.objective)
            .source(Source::new("definition", "energy at its price, first cost as a yearly payment"))
            .note(d.method.clone()),
    );
}

/// Number of terminal units, as a line `n_units`.
fn sum_count(cx: Cx<'_>) -> Line {
    let mut line = Line::new("n_units", "terminal units of the building", "");
    let mut names = Vec::new();
    for (i, t) in cx.design.terminals.iter().enumerate() {
        let name = format!("n_{}", i + 1);
        line = line.with_number(name.clone(), f64::from(t.units), see(&t.zone, "units"));
        names.push(name);
    }
    line.formula = format!("sum({})", names.join(", "));
    line.result_number(f64::from(cx.design.terminals.iter().map(|t| t.units).sum::<u32>())).source(SUM)
}

fn ducts(cx: Cx<'_>, quantity: &str) -> Lines {
    let d = &cx.design.ducts;
    if quantity == "area_ratio" {
        let area =
            |scheme: &str| d.mains.iter().filter(|m| m.scheme == scheme).map(|m| m.area_m2).sum::<f64>();
        let part = |scheme: &str| {
            d.mains
                .iter()
                .filter(|m| m.scheme == scheme)
                .map(|m| {
                    (
                        format!("A_{}", slug(&m.run)),
                        m.area_m2,
                        see("ducts", &format!("{}_{}_area", slug(&m.scheme), slug(&m.run))),
                    )
                })
                .collect::<Vec<_>>()
        };
        return Some(vec![
            sum_line(
                "A_decoupled",
                "cross-section of the mains, decoupled scheme",
                K::Area,
                area("decoupled"),
                part("decoupled"),
            ),
            sum_line(
                "A_all_air",
                "cross-section of the mains, all-air scheme",
                K::Area,
                area("all-air"),
                part("all-air"),
            ),
            Line::new("r", "cross-section of the mains, decoupled over all-air", "A_decoupled / A_all_air")
                .with("A_decoupled", K::Area, area("decoupled"), above("A_decoupled"))
                .with("A_all_air", K::Area, area("all-air"), above("A_all_air"))
                .result(K::Fraction, d.area_ratio)
                .source(Source::new("definition", "ratio"))
                .note(d.method.clone()),
        ]);
    }
    let (m, key) = d.mains.iter().find_map(|m| {
        quantity.strip_prefix(&format!("{}_{}_", slug(&m.scheme), slug(&m.run))).map(|k| (m, k))
    })?;
    main(cx, m, key)
}

/// Rooms whose air a run carries.
fn run_rooms(cx: Cx<'_>, m: &DuctMain) -> Vec<usize> {
    if m.run == "riser" { inside(cx, "building") } else { inside(cx, &m.run) }
}

fn main(cx: Cx<'_>, m: &DuctMain, key: &str) -> Lines {
    let d = &cx.project.ducts;
    let here = |q: &str| see("ducts", &format!("{}_{}_{q}", slug(&m.scheme), slug(&m.run)));
    let flow = K::StandardAirFlow;
    let mut out = Vec::new();
    let needs = &cx.design.needs;
    // Air of the mains: 13 degC and 0.008 kg/kg.
    let rho = 1.0 / raw::volume_m3_per_kg(13.0, 0.008, cx.p());
    let density = |out: &mut Vec<Line>| {
        out.push(
            air::density(
                cx,
                "rho",
                "dry air in the main",
                (13.0, Origin::default_value("supply air in the mains", "common practice, no source")),
                (0.008, Origin::default_value("supply air in the mains", "common practice, no source")),
            )
            .0,
        );
    };
    match key {
        "standard_flow" if m.scheme == "decoupled" => out.push(sum_line(
            "V",
            "primary air of the run",
            flow,
            m.standard_m3_per_s,
            run_rooms(cx, m).into_iter().filter(|i| needs[*i].primary_m3_per_s > 0.0).map(|i| {
                (format!("V_{}", i + 1), needs[i].primary_m3_per_s, see(&needs[i].room, "primary_air_flow"))
            }),
        )),
        "standard_flow" => {
            let supply = &d.all_air_supply;
            let cp = air::cp(&mut out, "c_p", "the supply air", 0.008, Origin::default_value("supply air in the mains", "common practice, no source"));
            let mut line = Line::new("V", "air that cools the rooms of the run from the all-air supply temperature, not below ventilation", "")
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("c_p", K::SpecificHeat, cp, above("c_p"))
                .with("t_s", K::Temperature, supply.value.to_celsius(), supply.origin.clone());
            let mut terms = Vec::new();
            for i in run_rooms(cx, m) {
                let l = &cx.design.loads.rooms[i];
                let served = matches!(needs[i].service, Service::Terminal | Service::PrimaryOnly);
                if served && l.set_point_c > supply.value.to_celsius() {
                    let k = i + 1;
                    line = line
                        .with(format!("q_{k}"), K::Power, l.cooling.load_w, see(&l.room, "sensible_load"))
                        .with(format!("t_{k}"), K::Temperature, l.set_point_c, see(&l.room, "cooling_set_point"))
                        .with(format!("v_{k}"), flow, needs[i].ventilation_m3_per_s, see(&l.room, "ventilation_flow"));
                    terms.push(format!("max(q_{k} / (rho_0 * c_p * (t_{k} - t_s)), v_{k})"));
                }
            }
            line.formula = format!("sum({})", terms.join(", "));
            out.push(line.result(flow, m.standard_m3_per_s).source(BALANCE_HEAT).note(cx.design.ducts.method.clone()));
        }
        "actual_flow" => {
            density(&mut out);
            out.push(
                Line::new("V_actual", "actual flow in the main", "V * rho_0 / rho")
                    .with("V", flow, m.standard_m3_per_s, here("standard_flow"))
                    .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                    .with("rho", K::Density, rho, above("rho"))
                    .result(K::ActualAirFlow, m.actual_m3_per_s)
                    .source(super::STANDARD_FLOW),
            );
        }
        "round_diameter" => out.push(
            given("d", "round main: the smallest standard size within friction and velocity", K::Length, m.diameter_m, Origin::Table { row: "standard round sizes".into(), source: "common practice, no source".into(), place: None })
                .note(limits(cx)),
        ),
        "width" | "height" => out.push(
            given(
                key,
                "rectangular main: the standard size with the least metal within friction, velocity, height and a side ratio of 4",
                K::Length,
                if key == "width" { m.width_m } else { m.height_m },
                Origin::Table { row: "standard rectangular sides".into(), source: "common practice, no source".into(), place: None },
            )
            .note(limits(cx)),
        ),
        "area" if m.width_m.is_finite() => out.push(
            Line::new("A", "cross-section", "a * b")
                .with("a", K::Length, m.width_m, here("width"))
                .with("b", K::Length, m.height_m, here("height"))
                .result(K::Area, m.area_m2)
                .source(Source::new("definition", "rectangle")),
        ),
        "area" => out.push(
            Line::new("A", "cross-section of the round main, since no rectangular one fits", "0.7853981634 * d ^ 2")
                .with("d", K::Length, m.diameter_m, here("round_diameter"))
                .result(K::Area, m.area_m2)
                .source(Source::new("definition", "circle")),
        ),
        "velocity" => out.push(
            Line::new("v", "velocity", "V_actual / A")
                .with("V_actual", K::ActualAirFlow, m.actual_m3_per_s, here("actual_flow"))
                .with("A", K::Area, m.area_m2, here("area"))
                .result(K::Velocity, m.velocity_m_per_s)
                .source(Source::new("definition", "mean velocity")),
        ),
        "friction" => {
            density(&mut out);
            let (diameter, origin) = if m.width_m.is_finite() {
                let e = 1.30 * (m.width_m * m.height_m).powf(0.625) / (m.width_m + m.height_m).powf(0.25);
                out.push(
                    Line::new("d_e", "round duct with the same friction at the same flow", "1.30 * (a * b) ^ 0.625 / (a + b) ^ 0.25")
                        .with("a", K::Length, m.width_m, here("width"))
                        .with("b", K::Length, m.height_m, here("height"))
                        .result(K::Length, e)
                        .source(Source::new("Huebscher 1948", "equivalent diameter")),
                );
                (e, above("d_e"))
            } else {
                (m.diameter_m, here("round_diameter"))
            };
            super::plant::friction(
                &mut out,
                "R",
                "friction of the main",
                (m.actual_m3_per_s, K::ActualAirFlow, here("actual_flow")),
                (diameter, origin),
                (1.008 * rho, constant("moist air in the main: 1.008 kg for each kg of dry air")),
                (1.82e-5, constant("viscosity of standard air, Pa s")),
                (0.0003 * 0.3048, "roughness of galvanized steel, 0.0003 ft (from memory)"),
                m.friction_pa_per_m,
            );
        }
        _ => return None,
    }
    Some(out)
}

fn limits(cx: Cx<'_>) -> String {
    let d = &cx.project.ducts;
    format!(
        "limits: friction {:.2} Pa/m, velocity {}, height {}",
        d.friction_pa_per_m.value,
        d.velocity.value.show(cx.project.told_units()),
        d.height.value.show(cx.project.told_units())
    )
}
