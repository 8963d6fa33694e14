//! The design: job, climate, criteria, system, dew point, primary air, water.

use super::{NAME, heading, heating, load, objective, show};
use crate::issue::Issue;
use crate::numbers::{W_PER_TON, capital, grouped};
use crate::pictures;
use crate::register::Register;
use crate::shell::Figures;
use crate::table::{Head, RowKind, Tr, marks, numbers, row, table, words};
use drycoil_pictures::Options;
use drycoil_project::{Arrangement, CoilAir, HeatingKind, HeatingSource, RecoveryKind, ReheatKind, Sourced};
use drycoil_sizing::{Service, service_word};
use drycoil_units::{Quantity, QuantityKind as K, UnitSystem};
use maud::{Markup, html};

fn options(issue: &Issue<'_>, id: &str) -> Options {
    Options::new(issue.system, id)
}

/// What matters most, at a glance.
pub(super) fn result(issue: &Issue<'_>, register: &Register) -> Markup {
    let (d, u) = (&issue.design.dew_point, &issue.design.primary_unit);
    let place = "dew point";
    let linked = |quantity: &str, text: String| {
        let href = register.working(NAME, issue.links, place, quantity);
        html! { @match href { Some(href) => a href=(href) { (text) }, None => (text) } }
    };
    let smallest = issue.design.terminals.first();
    html! {
        section {
            (heading("result"))
            ul.key {
                @if let Some(t) = smallest {
                    li.alarm[t.water_margin_k < t.required_margin_k - 1e-9] {
                        "Smallest dew-point margin"
                        b { (show(issue, K::TemperatureDifference, t.water_margin_k)) }
                        "terminal " (t.zone) ", required " (show(issue, K::TemperatureDifference, t.required_margin_k))
                    }
                }
                @if let Some(g) = d.governing.first() {
                    li { "Governing room" b { (g.room) } (issue.project.room(&g.room).map_or("", |r| r.name.as_str())) }
                }
                li { "Supply dew point" b { (linked("supply_dew_point", show(issue, K::Temperature, d.supply_dew_point_c))) } "delivered" }
                li { "Room dew-point limit" b { (linked("room_limit", show(issue, K::Temperature, d.room_limit_c))) } }
                li { "Sensible water" b { (linked("sensible_water", show(issue, K::Temperature, d.sensible_water_c))) } }
                li { "Primary air" b { (show(issue, K::StandardAirFlow, u.delivered_m3_per_s)) } "delivered at " (show(issue, K::Temperature, u.delivered_dry_bulb_c)) }
                li { "Drying coil" b { (load(issue, u.coil_load_w)) } (u.rows) " rows" }
                li { (capital(&d.objective_name)) b { (objective(issue, d.chosen.objective)) } "a year, estimated by sizing" }
            }
        }
    }
}

pub(super) fn job(issue: &Issue<'_>) -> Markup {
    let (project, design) = (issue.project, issue.design);
    let mut floors: Vec<(&str, usize, f64, f64, usize)> = Vec::new();
    for (room, needs) in project.rooms.iter().zip(&design.needs) {
        let at = floors.iter().position(|f| f.0 == room.floor).unwrap_or_else(|| {
            floors.push((&room.floor, 0, 0.0, 0.0, 0));
            floors.len() - 1
        });
        let f = &mut floors[at];
        f.1 += 1;
        f.2 += room.floor_area.value.to_square_metres();
        f.3 += room.people.value;
        f.4 += usize::from(needs.service == Service::Terminal);
    }
    let area = |m2: f64| grouped(issue.system.value(K::Area, m2), 0);
    let line = |name: &str, rooms: usize, m2: f64, people: f64, served: usize| {
        row([name.to_owned(), rooms.to_string(), area(m2), grouped(people, 0), served.to_string()])
    };
    let mut rows: Vec<Tr> = floors.iter().map(|f| line(f.0, f.1, f.2, f.3, f.4)).collect();
    let sum = |g: fn(&(&str, usize, f64, f64, usize)) -> f64| floors.iter().map(g).sum::<f64>();
    rows.push(
        line("Building", project.rooms.len(), sum(|f| f.2), sum(|f| f.3), floors.iter().map(|f| f.4).sum())
            .kind(RowKind::Sum),
    );
    let b = &design.loads.building;
    html! {
        section {
            (heading("job"))
            p {
                (project.name.value) " in " (design.site.place) ": " (project.rooms.len()) " rooms, of which "
                (design.needs.iter().filter(|n| n.service == Service::Terminal).count()) " are served by "
                (design.terminals.len()) " terminal zones."
            }
            (table(
                "Rooms by floor",
                &[
                    words("Floor"),
                    numbers("Rooms", ""),
                    numbers("Floor area", issue.system.symbol(K::Area)),
                    numbers("People at the peak", ""),
                    numbers("Rooms with a terminal", ""),
                ],
                &rows,
            ))
            p {
                "Coincident sensible cooling load of the building " (load(issue, b.cooling.load_w)) " (" (b.cooling.day) ", hour that begins "
                (format!("{:02}:00", b.cooling.hour)) "), sum of the room peaks " (load(issue, b.cooling_sum_of_peaks_w))
                "; coincident heating load " (heating(issue, b.heating.load_w)) "."
            }
        }
    }
}

pub(super) fn climate(issue: &Issue<'_>) -> Markup {
    let (site, c) = (&issue.design.site, &issue.design.conditions);
    let line = |what: &str, x: &drycoil_sizing::Condition| {
        let n = |kind: K, v: f64, decimals| grouped(issue.system.value(kind, v), decimals);
        row([
            what.to_owned(),
            n(K::Temperature, x.value_c, 1),
            n(K::Temperature, x.dry_bulb_c, 1),
            n(K::HumidityRatio, x.humidity_ratio_kg_per_kg, usize::from(issue.system == UnitSystem::Ip) + 1),
            x.method.clone(),
        ])
    };
    let t = issue.system.symbol(K::Temperature);
    html! {
        section {
            (heading("climate"))
            dl.facts {
                dt { "Place" } dd { (site.place) }
                dt { "Latitude, longitude" } dd { (format!("{:.2}, {:.2} deg", site.latitude_deg, site.longitude_deg)) }
                dt { "Elevation, pressure" } dd { (show(issue, K::Length, site.elevation_m)) ", " (show(issue, K::Pressure, site.pressure_pa)) }
                dt { "Actual over standard air flow" } dd { (format!("{:.3}", site.actual_per_standard)) }
                dt { "Weather" } dd { (issue.weather) }
            }
            (table(
                "Design conditions",
                &[
                    words("Condition"),
                    numbers("Value", t),
                    numbers("Dry bulb", t),
                    numbers("Humidity ratio", issue.system.symbol(K::HumidityRatio)),
                    words("How it was found"),
                ],
                &[
                    line("Cooling: annual 0.4 % dry bulb", &c.cooling),
                    line("Dehumidification: annual 0.4 % dew point", &c.dehumidification),
                    line("Tower: annual 0.4 % wet bulb", &c.tower),
                    line("Heating: annual 99.6 % dry bulb", &c.heating),
                ],
            ))
        }
    }
}

fn criterion<Q: Quantity>(issue: &Issue<'_>, what: &str, v: &Sourced<Q>) -> Tr {
    row([what.to_owned(), show(issue, Q::KIND, v.value.si()), v.origin.to_string()])
}

pub(super) fn criteria(issue: &Issue<'_>) -> Markup {
    let c = &issue.project.criteria;
    let mut rows = Vec::new();
    if let Some(v) = &c.pins.supply_dew_point {
        rows.push(criterion(issue, "Supply dew point, pinned", v));
    }
    if let Some(v) = &c.pins.room_limit {
        rows.push(criterion(issue, "Room dew-point limit, pinned", v));
    }
    if let Some(v) = &c.pins.sensible_water {
        rows.push(criterion(issue, "Sensible water, pinned", v));
    }
    rows.extend([
        criterion(issue, "Margin between room dew-point limit and sensible water", &c.design_margin),
        criterion(issue, "Error of humidity and temperature sensors", &c.sensor_error),
        criterion(issue, "Control band of the water", &c.water_control_band),
        criterion(issue, "Lowest relative humidity", &c.humidity_low),
        criterion(issue, "Highest relative humidity", &c.humidity_high),
        criterion(issue, "Highest dew point by code", &c.code_dew_point),
        criterion(issue, "Infiltration per exposed area", &c.infiltration),
        criterion(issue, "Of it while pressurized", &c.pressurized_infiltration),
        criterion(issue, "Pressurization per exposed area", &c.pressurization),
        criterion(issue, "Set-back, cooling", &c.night_cooling),
        criterion(issue, "Set-back, heating", &c.night_heating),
        criterion(issue, "Start-up before use", &c.start_up),
        criterion(issue, "Outdoor air per person", &issue.project.primary_air.outdoor_air_per_person),
    ]);
    html! {
        section {
            (heading("criteria"))
            (table("Criteria", &[words("Criterion"), words("Value"), words("From")], &rows))
            p.note {
                "Every terminal must keep the error of the sensors and the control band of the water between water and dew point: "
                (show(issue, K::TemperatureDifference, c.required_margin().si())) "."
            }
        }
    }
}

pub(super) fn off_system(issue: &Issue<'_>) -> Markup {
    let mut rows: Vec<([String; 3], Vec<String>)> = Vec::new();
    let mut overruled: Vec<Tr> = Vec::new();
    for (n, room) in issue.design.needs.iter().zip(&issue.project.rooms) {
        let name = format!("{} {}", room.id, room.name);
        for s in &n.screens {
            if let Some(why) = &s.overruled {
                overruled.push(row([name.clone(), s.reason.clone(), s.instead.clone(), why.clone()]));
            }
        }
        if n.service == Service::Terminal {
            continue;
        }
        let open = || n.screens.iter().filter(|s| s.overruled.is_none());
        let why: Vec<&str> = open().map(|s| s.reason.as_str()).collect();
        let mut instead: Vec<&str> = open().map(|s| s.instead.as_str()).collect();
        instead.dedup();
        let why = match n.service {
            _ if !why.is_empty() => why.join("; "),
            Service::Transfer => "lives on the air of its neighbours".to_owned(),
            Service::PrimaryOnly => "room air may not be recirculated".to_owned(),
            _ => "put off the system in the room list".to_owned(),
        };
        let answer = [service_word(n.service).to_owned(), why, instead.join("; ")];
        match rows.iter_mut().find(|(a, _)| *a == answer) {
            Some((_, names)) => names.push(name),
            None => rows.push((answer, vec![name])),
        }
    }
    let rows: Vec<Tr> = rows
        .into_iter()
        .map(|([service, why, instead], names)| row([names.join(", "), service, why, instead]))
        .collect();
    html! {
        section {
            (heading("off-system"))
            @if rows.is_empty() { p { "Every room has a terminal." } }
            (table(
                "Rooms without a terminal, and why",
                &[words("Rooms"), words("Served by"), words("Why"), words("Instead")],
                &rows,
            ))
            (table(
                "Screens that the project overrules",
                &[words("Room"), words("Screen"), words("Proposed instead"), words("Reason for overruling")],
                &overruled,
            ))
        }
    }
}

pub(super) fn system(issue: &Issue<'_>) -> Markup {
    let p = issue.project;
    let (a, t, u) = (&p.primary_air, &p.terminals, &issue.design.primary_unit);
    let recovery = match a.recovery.value {
        RecoveryKind::None => "without energy recovery".to_owned(),
        RecoveryKind::EnthalpyWheel => format!(
            "with a rotary wheel for heat and moisture (effectiveness {:.0} % sensible, {:.0} % latent)",
            a.recovery_sensible.value.to_ratio() * 100.0,
            a.recovery_latent.value.to_ratio() * 100.0
        ),
        RecoveryKind::SensiblePlate => format!(
            "with a plate exchanger for heat (effectiveness {:.0} %)",
            a.recovery_sensible.value.to_ratio() * 100.0
        ),
    };
    let reheat = match a.reheat.value {
        ReheatKind::None => "It is delivered cold",
        ReheatKind::Coil => "A hot-water coil reheats it",
        ReheatKind::WrapAround => "A pair of coils about the drying coil reheats it with its own heat",
        ReheatKind::HeatRecovery => "Heat of the condensers reheats it",
    };
    let coil_air = match t.coil_air.value {
        CoilAir::Room => "room air",
        CoilAir::Plenum => "air of the ceiling plenum",
    };
    let room_heating = match t.heating.value {
        HeatingKind::HotWater => "a hot-water coil in the terminal",
        HeatingKind::Electric => "an electric heater in the terminal",
        HeatingKind::Perimeter => "radiation at the perimeter",
    };
    let water = match p.water.arrangement.value {
        Arrangement::SingleCold => {
            "One cold plant serves both; the water of the terminals is blended from cold water and their own return."
        }
        Arrangement::Separate => {
            "Separate plants make the drying water and the warmer water of the terminals."
        }
        Arrangement::ReturnReuse => {
            "The return of the drying coils supplies the terminals, with cold make-up where it is short."
        }
    };
    let source = match p.plant.heating.value {
        HeatingSource::Boiler => "a fuel boiler",
        HeatingSource::ElectricBoiler => "an electric boiler",
        HeatingSource::HeatRecoveryChiller => "a heat-recovery chiller, with a boiler for the rest",
    };
    html! {
        section {
            (heading("system"))
            p {
                @if u.units == 1 { "One primary-air unit dries" } @else { (u.units) " primary-air units dry" } " the outdoor air that people need, " (recovery) ", to a dew point of "
                (show(issue, K::Temperature, u.coil_leaving_dew_point_c)) " leaving the coil. " (reheat) ", at "
                (show(issue, K::Temperature, u.delivered_dry_bulb_c)) ", to every room with a terminal."
            }
            p {
                "In each zone a fan-powered terminal takes its primary air and " (coil_air) " over a coil that must stay dry: its water enters at "
                (show(issue, K::Temperature, issue.design.dew_point.sensible_water_c))
                ". The coil has no drain. Heating is by " (room_heating) ", its heat from " (source) "."
            }
            p {
                (water) " Heat is rejected by a cooling tower"
                @if p.plant.economizer.value { "; a waterside economizer cools the water of the terminals by the tower alone whenever the weather allows it" }
                "."
            }
        }
    }
}

pub(super) fn dew_point(issue: &Issue<'_>, figures: &mut Figures) -> Markup {
    let d = &issue.design.dew_point;
    let s = issue.system;
    let t = s.symbol(K::Temperature);
    let f = s.symbol(K::StandardAirFlow);
    let temperature =
        |c: f64| if c.is_finite() { format!("{:.1}", s.value(K::Temperature, c)) } else { "-".to_owned() };
    let flow = |v: f64| grouped(s.value(K::StandardAirFlow, v), usize::from(s == UnitSystem::Si));
    let energy = d.objective_unit == "kWh";
    let drying = match s {
        UnitSystem::Si => (1e3, "kW"),
        UnitSystem::Ip => (W_PER_TON, "ton"),
    };
    // Ways that every room shares are told once, below the table.
    let shared =
        d.governing.first().filter(|f| d.governing.iter().all(|g| g.ways == f.ways)).map(|f| &f.ways);
    let amount = |v: f64| {
        if v.is_finite() { grouped(if energy { v / 3.6e6 } else { v }, 0) } else { "-".to_owned() }
    };
    let governing: Vec<Tr> = d
        .governing
        .iter()
        .map(|g| {
            let mut cells = vec![
                format!("{} {}", g.room, issue.project.room(&g.room).map_or("", |r| r.name.as_str())),
                g.required_dew_point_c.map_or_else(|| "none".to_owned(), temperature),
                flow(g.extra_flow_m3_per_s),
                amount(g.saving_if_separate),
                temperature(g.supply_dew_point_if_separate_c),
            ];
            if shared.is_none() {
                cells.push(g.ways.join("; "));
            }
            row(cells)
        })
        .collect();
    let pins: Vec<Tr> = d
        .pins
        .iter()
        .map(|p| row([p.what.clone(), temperature(p.pinned_c), temperature(p.free_c), amount(p.price)]))
        .collect();
    let curve: Vec<Tr> = d
        .curve
        .iter()
        .map(|p| {
            let kind = if (p.supply_dew_point_c - d.supply_dew_point_c).abs() < 1e-9 {
                RowKind::Marked
            } else {
                RowKind::Plain
            };
            row([
                temperature(p.supply_dew_point_c),
                flow(p.primary_m3_per_s),
                format!("{:.1}", p.drying_load_w / drying.0),
                format!("{:.1}", p.fan_power_w / 1e3),
                p.terminal_units.to_string(),
                p.unserved_zones.to_string(),
                amount(p.objective),
            ])
            .kind(kind)
        })
        .collect();
    html! {
        section {
            (heading("dew-point"))
            p {
                "A drier supply needs less primary air for the moisture of people, but more drying and a colder coil; a wetter one the \
                 reverse. The choice is the supply dew point with the lowest " (d.objective_name) " among "
                (grouped(d.evaluations as f64, 0)) " candidates of supply dew point, room limit and water: "
                strong { (show(issue, K::Temperature, d.supply_dew_point_c)) } ", with a room limit of "
                strong { (show(issue, K::Temperature, d.room_limit_c)) } " and sensible water of "
                strong { (show(issue, K::Temperature, d.sensible_water_c)) } ": "
                (objective(issue, d.chosen.objective)) " a year."
            }
            @if !d.binding.is_empty() { p { "What binds: " (d.binding.join("; ")) "." } }
            (figures.figure(pictures::trade_off(issue.design, &options(issue, "trade-off")), "Each curve at the chosen room limit and water."))
            (table(
                "The trade-off in numbers",
                &[
                    numbers("Supply dew point", t),
                    numbers("Primary air", f),
                    numbers("Drying load", drying.1),
                    numbers("Fan power", "kW"),
                    numbers("Terminal units", ""),
                    numbers("Zones not served", ""),
                    numbers(
                        capital(&format!("{} a year", d.objective_name.trim_start_matches("yearly "))),
                        d.objective_unit.as_str(),
                    ),
                ],
                &curve,
            ))
            (table(
                "Rooms that force the supply dew point, driest first",
                &[
                    marks("Room"),
                    numbers("Needs at fixed flow", t),
                    numbers("Air above fixed flow", f),
                    numbers("Saved a year when it and those above are served apart", d.objective_unit.as_str()),
                    numbers("Supply dew point then", t),
                    words("Ways"),
                ][..if shared.is_some() { 5 } else { 6 }],
                &governing,
            ))
            @if let Some(ways) = shared.filter(|w| !w.is_empty()) {
                p.note { "Ways to serve a room apart: " (ways.join("; ")) "." }
            }
            (table(
                "What the pins of the project cost",
                &[words("Pinned"), numbers("Value", t), numbers("Free choice", t), numbers("Price a year", d.objective_unit.as_str())],
                &pins,
            ))
            p.note { "Method: " (d.method) "." }
        }
    }
}

pub(super) fn primary_air(issue: &Issue<'_>, figures: &mut Figures) -> Markup {
    let (project, design) = (issue.project, issue.design);
    html! {
        section {
            (heading("primary-air"))
            (figures.figure(
                pictures::chart(project, design, &options(issue, "chart")),
                "The process of the primary air, the rooms with it, and the distance of the smallest margin from the dew point of its room to the water. \
                 The shaded region lies between the set points and the humidities of the criteria.",
            ))
            (figures.figure(
                pictures::margins(project, design, &options(issue, "margins")),
                "Margin of the water that enters the coil over the dew point of the air that meets it, at the worst occupied design hour.",
            ))
        }
    }
}

pub(super) fn water(issue: &Issue<'_>, figures: &mut Figures) -> Markup {
    let p = &issue.design.plant;
    let s = issue.system;
    let heads: [Head; 6] = [
        words("Arrangement"),
        words("Chillers"),
        numbers("Sensible loop", s.symbol(K::WaterFlow)),
        numbers("Drying loop", s.symbol(K::WaterFlow)),
        numbers("Reused return", s.symbol(K::WaterFlow)),
        numbers("Input at design", "kW"),
    ];
    let flow = |v: f64| format!("{:.*}", s.decimals(K::WaterFlow), s.value(K::WaterFlow, v));
    let rows: Vec<Tr> = p
        .arrangements
        .iter()
        .map(|a| {
            let machines: Vec<String> = a
                .chillers
                .iter()
                .map(|c| {
                    format!(
                        "{}: {} x {} at {}",
                        c.service,
                        c.count,
                        load(issue, c.capacity_w),
                        show(issue, K::Temperature, c.leaving_c)
                    )
                })
                .collect();
            row([
                if a.chosen { format!("{} (chosen)", a.arrangement) } else { a.arrangement.clone() },
                machines.join("; "),
                flow(a.sensible_flow_m3_per_s),
                flow(a.drying_flow_m3_per_s),
                flow(a.reused_m3_per_s),
                format!("{:.1}", a.input_w / 1e3),
            ])
            .kind(if a.chosen { RowKind::Marked } else { RowKind::Plain })
        })
        .collect();
    html! {
        section {
            (heading("water"))
            p {
                "Block loads: sensible loop " (load(issue, p.sensible_load_w)) " (" (format!("{:.0} %", p.diversity * 100.0))
                " of the sum of the terminals), drying " (load(issue, p.drying_load_w)) ". The tower rejects " (load(issue, p.tower_heat_w))
                " at a wet bulb of " (show(issue, K::Temperature, p.tower_wet_bulb_c)) ". Heating "
                (heating(issue, p.heating_terminals_w)) " in the rooms and " (heating(issue, p.heating_primary_w)) " for primary air."
            }
            @if let Some(picture) = pictures::water(issue.project, issue.design, &options(issue, "water-loop")) {
                (figures.figure(picture, "Flow and temperature of the chosen arrangement at the block load."))
            }
            (table("The arrangements that were compared", &heads, &rows))
        }
    }
}
