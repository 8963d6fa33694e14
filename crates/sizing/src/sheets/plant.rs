//! Sheets of the water plant.

use super::{BALANCE_HEAT, Cx, Lines, SUM, above, constant, entered, given, given_number, see, sum_line};
use crate::design::{ArrangementDesign, CycleSteps, MachineDesign, PipeDesign, PumpDesign, Service};
use crate::machines::{WATER_CP, WATER_RHO, chiller as rated_chiller};
use crate::schedule::slug;
use drycoil_air::raw;
use drycoil_plant::chiller::{Condenser, Settings};
use drycoil_project::{HeatingKind, HeatingSource};
use drycoil_units::{Power, QuantityKind as K, Temperature};
use drycoil_water::liquid::raw as liquid;
use drycoil_working::{Line, Origin, Source, Sourced};

fn here(quantity: &str) -> Origin {
    see("plant", quantity)
}

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    if place != "plant" {
        return None;
    }
    let p = &cx.design.plant;
    if let Some(key) = quantity.strip_prefix("heating_pump_") {
        return pump(cx, &p.heating_pump, "heating", "heating_pump_", key);
    }
    if let Some(key) = quantity.strip_prefix("heating_pipe_") {
        return pipe(cx, &p.heating_pipe, "heating", "heating_pipe_", key);
    }
    for a in &p.arrangements {
        let prefix = format!("{}_", slug(&a.arrangement));
        let Some(rest) = quantity.strip_prefix(&prefix) else { continue };
        for m in &a.chillers {
            let own = format!("{}_chillers_", slug(&m.service));
            if let Some(key) = rest.strip_prefix(&own) {
                return chiller(cx, a, m, &format!("{prefix}{own}"), key);
            }
        }
        for x in &a.pumps {
            let own = format!("{}_pump_", slug(&x.service));
            if let Some(key) = rest.strip_prefix(&own) {
                return pump(cx, x, &a.arrangement, &format!("{prefix}{own}"), key);
            }
        }
        for x in &a.pipes {
            let own = format!("{}_pipe_", slug(&x.service));
            if let Some(key) = rest.strip_prefix(&own) {
                return pipe(cx, x, &a.arrangement, &format!("{prefix}{own}"), key);
            }
        }
        return loops(cx, a, &prefix, rest);
    }
    whole(cx, quantity)
}

/// Load and flow of rooms with dry units of their own.
fn own_units(cx: Cx<'_>, out: &mut Vec<Line>) -> f64 {
    let rooms: Vec<_> = cx
        .design
        .needs
        .iter()
        .zip(&cx.design.loads.rooms)
        .enumerate()
        .filter(|(_, (n, _))| n.service == Service::SensibleUnits)
        .map(|(i, (_, l))| (format!("q_{}", i + 1), l.cooling.load_w, see(&l.room, "sensible_load")))
        .collect();
    let total = rooms.iter().map(|r| r.1).sum();
    out.push(sum_line("Q_own", "rooms with dry units of their own, round the clock", K::Power, total, rooms));
    total
}

fn terminals_sum(
    cx: Cx<'_>,
    out: &mut Vec<Line>,
    symbol: &str,
    meaning: &str,
    kind: K,
    quantity: &str,
    of: fn(&crate::design::TerminalDesign) -> f64,
) -> f64 {
    let mut line = Line::new(symbol, meaning, "");
    let mut terms = Vec::new();
    let mut total = 0.0;
    for (i, t) in cx.design.terminals.iter().enumerate() {
        let v = of(t);
        total += v * f64::from(t.units);
        if v == 0.0 {
            continue;
        }
        let name = format!("x_{}", i + 1);
        line = line.with(name.clone(), kind, v, see(&t.zone, quantity));
        if t.units > 1 {
            let n = format!("n_{}", i + 1);
            line = line.with_number(n.clone(), f64::from(t.units), see(&t.zone, "units"));
            terms.push(format!("{name} * {n}"));
        } else {
            terms.push(name);
        }
    }
    if terms.is_empty() {
        line = line.with("none", kind, 0.0, constant("no terminal needs any"));
        terms.push("none".into());
    }
    line.formula = format!("sum({})", terms.join(", "));
    out.push(line.result(kind, total).source(SUM));
    total
}

fn whole(cx: Cx<'_>, quantity: &str) -> Lines {
    let p = &cx.design.plant;
    let input = &cx.project.plant;
    let chosen = p.arrangements.iter().find(|a| a.chosen)?;
    let mut out = Vec::new();
    match quantity {
        "sensible_load" => {
            let peaks = terminals_sum(
                cx,
                &mut out,
                "Q_coils",
                "coil duties of all terminals",
                K::Power,
                "coil_duty",
                |t| t.coil_duty_w,
            );
            let own = own_units(cx, &mut out);
            out.push(
                Line::new("Q_sensible", "block load of the sensible loop", "Q_coils * d + Q_own")
                    .with("Q_coils", K::Power, peaks, above("Q_coils"))
                    .with("d", K::Fraction, p.diversity, here("diversity"))
                    .with("Q_own", K::Power, own, above("Q_own"))
                    .result(K::Power, p.sensible_load_w)
                    .source(Source::new("definition", "diversity applies to terminals")),
            );
        }
        "drying_load" => out.push(
            Line::new("Q_drying", "drying load", "Q_coil")
                .with("Q_coil", K::Power, p.drying_load_w, see("primary air", "coil_load"))
                .result(K::Power, p.drying_load_w)
                .source(SUM),
        ),
        "diversity" => match &cx.project.water.diversity {
            Some(d) => {
                return Some(entered("d", "diversity of the sensible loop", K::Fraction, p.diversity, d));
            }
            None if cx.design.loads.building.cooling_sum_of_peaks_w > 0.0 => {
                let b = &cx.design.loads.building;
                out.push(
                    Line::new(
                        "d",
                        "diversity: coincident over sum of peaks, at most 1",
                        "min(1, q_coincident / q_peaks)",
                    )
                    .with("q_coincident", K::Power, b.cooling.load_w, see("building", "coincident_cooling"))
                    .with("q_peaks", K::Power, b.cooling_sum_of_peaks_w, see("building", "sum_of_peaks"))
                    .result(K::Fraction, p.diversity)
                    .source(Source::new("definition", "coincident over sum of peaks")),
                );
            }
            None => {
                out.push(given("d", "no cooling load", K::Fraction, p.diversity, constant("no diversity")));
            }
        },
        "tower_heat" => {
            let inputs: Vec<_> = chosen
                .chillers
                .iter()
                .map(|m| {
                    let q = format!("{}_{}_chillers_input", slug(&chosen.arrangement), slug(&m.service));
                    (format!("P_{}", slug(&m.service)), m.input_w, here(&q))
                })
                .collect();
            let sum: f64 = inputs.iter().map(|i| i.1).sum();
            out.push(sum_line(
                "P_chillers",
                "chiller input of the chosen arrangement",
                K::Power,
                sum,
                inputs,
            ));
            out.push(
                Line::new("Q_tower", "heat rejected", "Q_sensible + Q_drying + P_chillers")
                    .with("Q_sensible", K::Power, p.sensible_load_w, here("sensible_load"))
                    .with("Q_drying", K::Power, p.drying_load_w, here("drying_load"))
                    .with("P_chillers", K::Power, sum, above("P_chillers"))
                    .result(K::Power, p.tower_heat_w)
                    .source(BALANCE_HEAT),
            );
        }
        "tower_flow" => {
            let cold = p.tower_wet_bulb_c + input.tower_approach.value.to_kelvin();
            let rho = liquid::density_kg_per_m3(cold);
            out.push(
                Line::new("V_tower", "tower water", "Q_tower / (c_w * dT * rho_w)")
                    .with("Q_tower", K::Power, p.tower_heat_w, here("tower_heat"))
                    .with("c_w", K::SpecificHeat, 4186.8, constant("specific heat of water"))
                    .with(
                        "dT",
                        K::TemperatureDifference,
                        input.tower_range.value.to_kelvin(),
                        input.tower_range.origin.clone(),
                    )
                    .with(
                        "rho_w",
                        K::Density,
                        rho,
                        super::coil::water_property("density of water leaving the tower"),
                    )
                    .result(K::WaterFlow, p.tower_flow_m3_per_s)
                    .source(BALANCE_HEAT),
            );
        }
        "tower_leaving" => out.push(
            Line::new(
                "t_cold",
                "water leaving the tower: the calibrated tower at its own design point",
                "t_wb + a",
            )
            .with("t_wb", K::Temperature, p.tower_wet_bulb_c, here("tower_wet_bulb"))
            .with(
                "a",
                K::TemperatureDifference,
                input.tower_approach.value.to_kelvin(),
                input.tower_approach.origin.clone(),
            )
            .result(K::Temperature, p.tower_leaving_c)
            .source(Source::new("Merkel 1925", "tower calibrated to its design approach")),
        ),
        "tower_entering" => out.push(
            Line::new("t_hot", "water entering the tower", "t_cold + dT")
                .with("t_cold", K::Temperature, p.tower_leaving_c, here("tower_leaving"))
                .with(
                    "dT",
                    K::TemperatureDifference,
                    input.tower_range.value.to_kelvin(),
                    input.tower_range.origin.clone(),
                )
                .result(K::Temperature, p.tower_entering_c)
                .source(BALANCE_HEAT),
        ),
        "tower_wet_bulb" => {
            let origin = cx.project.site.conditions.tower_wet_bulb.as_ref().map_or_else(
                || Origin::Weather(cx.design.conditions.tower.method.clone()),
                |t| t.origin.clone(),
            );
            out.push(given("t_wb", "design wet bulb", K::Temperature, p.tower_wet_bulb_c, origin));
        }
        "tower_characteristic" => characteristic(cx, &mut out),
        "tower_fan_power" => out.push(
            Line::new("P_fan", "tower fan power", "Q_tower * f")
                .with("Q_tower", K::Power, p.tower_heat_w, here("tower_heat"))
                .with_number("f", input.tower_fan.value, input.tower_fan.origin.clone())
                .result(K::Power, p.tower_fan_w)
                .source(Source::new("common practice, no source", "fan power per heat rejected")),
        ),
        "evaporation" => evaporation(cx, &mut out),
        "makeup" => out.push(
            Line::new(
                "m_makeup",
                "make-up: evaporation and what is bled or carried off",
                "m_evaporation + m_evaporation / (c - 1)",
            )
            .with("m_evaporation", K::MassFlow, p.evaporation_kg_per_s, here("evaporation"))
            .with_number("c", input.cycles.value, input.cycles.origin.clone())
            .result(K::MassFlow, p.makeup_kg_per_s)
            .source(Source::new("mass balance of water and salts", "cycles of concentration")),
        ),
        "heating_terminals" => match cx.project.terminals.heating.value {
            HeatingKind::HotWater => {
                let v = terminals_sum(
                    cx,
                    &mut out,
                    "Q_terminals",
                    "heating coils of all terminals",
                    K::Power,
                    "unit_heating_load",
                    |t| t.heating_load_w,
                );
                if let Some(last) = out.last_mut() {
                    debug_assert!((v - p.heating_terminals_w).abs() <= 1e-9 * v.abs());
                    last.si = p.heating_terminals_w;
                }
            }
            HeatingKind::Perimeter => out.push(
                Line::new("Q_terminals", "perimeter heating of the building", "q_heating")
                    .with("q_heating", K::Power, p.heating_terminals_w, see("building", "coincident_heating"))
                    .result(K::Power, p.heating_terminals_w)
                    .source(SUM),
            ),
            HeatingKind::Electric => {
                return Some(super::rooms::zero(
                    "Q_terminals",
                    "heating of the terminals by water",
                    K::Power,
                    p.heating_terminals_w,
                    "the terminals heat by electricity",
                ));
            }
        },
        "heating_primary_air" => out.push(
            Line::new("Q_primary", "heating of the primary air", "Q_heat")
                .with("Q_heat", K::Power, p.heating_primary_w, see("primary air", "heating_load"))
                .result(K::Power, p.heating_primary_w)
                .source(SUM),
        ),
        "heating_count" => out.push(given_number(
            "n",
            "heating machines",
            f64::from(p.heating.count),
            Origin::default_value("two machines, so that one may fail", "common practice, no source"),
        )),
        "heating_capacity" => out.push(
            Line::new(
                "Q_each",
                "capacity of each heating machine",
                "(Q_terminals + Q_primary) * (1 + f) / n",
            )
            .with("Q_terminals", K::Power, p.heating_terminals_w, here("heating_terminals"))
            .with("Q_primary", K::Power, p.heating_primary_w, here("heating_primary_air"))
            .with("f", K::Fraction, input.spare.value.to_ratio(), input.spare.origin.clone())
            .with_number("n", f64::from(p.heating.count), here("heating_count"))
            .result(K::Power, p.heating.capacity_w)
            .source(Source::new("definition", "equal machines with spare")),
        ),
        "heating_leaving" => {
            return Some(entered(
                "t_hot",
                "hot water leaving",
                K::Temperature,
                p.heating.leaving_c,
                &cx.project.terminals.heating_water,
            ));
        }
        "heating_entering" => {
            let t = &cx.project.terminals;
            out.push(
                Line::new("t_return", "hot water returning", "t_hot - dT")
                    .with("t_hot", K::Temperature, p.heating.leaving_c, t.heating_water.origin.clone())
                    .with(
                        "dT",
                        K::TemperatureDifference,
                        t.heating_water_drop.value.to_kelvin(),
                        t.heating_water_drop.origin.clone(),
                    )
                    .result(K::Temperature, p.heating.entering_c)
                    .source(SUM),
            );
        }
        "heating_efficiency" => {
            let origin = match input.heating.value {
                HeatingSource::ElectricBoiler => {
                    constant("an electric boiler gives all its power to the water")
                }
                HeatingSource::Boiler | HeatingSource::HeatRecoveryChiller => {
                    input.boiler_efficiency.origin.clone()
                }
            };
            out.push(given("e", "efficiency", K::Fraction, p.heating.performance, origin));
        }
        "heating_input" => out.push(
            Line::new("P_heat", "heating input at design", "(Q_terminals + Q_primary) / e")
                .with("Q_terminals", K::Power, p.heating_terminals_w, here("heating_terminals"))
                .with("Q_primary", K::Power, p.heating_primary_w, here("heating_primary_air"))
                .with("e", K::Fraction, p.heating.performance, here("heating_efficiency"))
                .result(K::Power, p.heating.input_w)
                .source(Source::new("definition", "efficiency")),
        ),
        _ => return None,
    }
    Some(out)
}

/// Points and weights of Gauss and Legendre on 0 to 1, eight points.
const GAUSS: [(f64, f64); 8] = [
    (0.019_855_071_751_231_884, 0.050_614_268_145_188_13),
    (0.101_666_761_293_186_63, 0.111_190_517_226_687_24),
    (0.237_233_795_041_835_5, 0.156_853_322_938_943_65),
    (0.408_282_678_752_175_1, 0.181_341_891_689_180_99),
    (0.591_717_321_247_824_9, 0.181_341_891_689_180_99),
    (0.762_766_204_958_164_5, 0.156_853_322_938_943_65),
    (0.898_333_238_706_813_4, 0.111_190_517_226_687_24),
    (0.980_144_928_248_768_1, 0.050_614_268_145_188_13),
];

fn characteristic(cx: Cx<'_>, out: &mut Vec<Line>) {
    let p = &cx.design.plant;
    let range = cx.project.plant.tower_range.value.to_kelvin();
    let cold = p.tower_wet_bulb_c + cx.project.plant.tower_approach.value.to_kelvin();
    let h_in = raw::saturation_enthalpy_j_per_kg(p.tower_wet_bulb_c, cx.p());
    let mut line = Line::new(
        "KaV_L",
        "tower characteristic at design: integral of c_w dt / (h_s - h_air) over the water, eight-point Gauss quadrature",
        "",
    )
    .with("c_w", K::SpecificHeat, 4186.8, constant("specific heat of water"))
    .with("dT", K::TemperatureDifference, range, cx.project.plant.tower_range.origin.clone());
    let mut terms = Vec::new();
    for (i, (x, w)) in GAUSS.iter().enumerate() {
        let t = cold + x * range;
        let force = raw::saturation_enthalpy_j_per_kg(t, cx.p()) - h_in - 1.2 * 4186.8 * x * range;
        let (a, b) = (format!("w_{}", i + 1), format!("h_{}", i + 1));
        line = line
            .with_number(a.clone(), *w, constant("weight of Gauss and Legendre"))
            .with(b.clone(), K::SpecificEnthalpy, force, constant("saturated air at the water less air of the operating line, 1.2 kg of water for each kg of air (common practice, no source)"));
        terms.push(format!("{a} / {b}"));
    }
    line.formula = format!("c_w * dT * sum({})", terms.join(", "));
    out.push(
        line.result_number(p.tower_characteristic).source(Source::new("Merkel 1925", "enthalpy potential")),
    );
}

fn evaporation(cx: Cx<'_>, out: &mut Vec<Line>) {
    let p = &cx.design.plant;
    let c = &cx.design.conditions.tower;
    let range = cx.project.plant.tower_range.value.to_kelvin();
    let m_water = p.tower_heat_w / (4186.8 * range);
    let m_air = m_water / 1.2;
    out.push(
        Line::new("m_air", "dry air through the tower", "Q_tower / (c_w * dT) / r")
            .with("Q_tower", K::Power, p.tower_heat_w, here("tower_heat"))
            .with("c_w", K::SpecificHeat, 4186.8, constant("specific heat of water"))
            .with("dT", K::TemperatureDifference, range, cx.project.plant.tower_range.origin.clone())
            .with_number(
                "r",
                1.2,
                Origin::default_value("water over dry air by mass at design", "common practice, no source"),
            )
            .result(K::MassFlow, m_air)
            .source(BALANCE_HEAT),
    );
    let w_out = c.humidity_ratio_kg_per_kg + p.evaporation_kg_per_s / m_air;
    out.push(
        Line::new("m_evaporation", "evaporation", "m_air * (W_leaving - W_entering)")
            .with("m_air", K::MassFlow, m_air, above("m_air"))
            .with(
                "W_leaving",
                K::HumidityRatio,
                w_out,
                constant("air leaving the tower, by the integration of heat and water along it"),
            )
            .with(
                "W_entering",
                K::HumidityRatio,
                c.humidity_ratio_kg_per_kg,
                Origin::Weather(format!("tower condition, {}", c.method)),
            )
            .result(K::MassFlow, p.evaporation_kg_per_s)
            .source(Source::new("mass balance of water vapour", "tower")),
    );
}

fn loops(cx: Cx<'_>, a: &ArrangementDesign, prefix: &str, key: &str) -> Lines {
    let p = &cx.design.plant;
    let u = &cx.design.primary_unit;
    let t = &cx.project.terminals;
    let own = |q: &str| here(&format!("{prefix}{q}"));
    let mut out = Vec::new();
    let water = |l: Line| {
        l.with("rho_w", K::Density, WATER_RHO, constant("density of cold water")).with(
            "c_w",
            K::SpecificHeat,
            WATER_CP,
            constant("specific heat of water in all loop balances"),
        )
    };
    match key {
        "sensible_flow" => {
            let flows = terminals_sum(
                cx,
                &mut out,
                "V_coils",
                "water of all terminals",
                K::WaterFlow,
                "water_flow",
                |t| t.water_m3_per_s,
            );
            let own_load = own_units(cx, &mut out);
            out.push(
                water(Line::new(
                    "V_sensible",
                    "flow of the sensible loop",
                    "V_coils * d + Q_own / (c_w * rho_w * dT)",
                ))
                .with("V_coils", K::WaterFlow, flows, above("V_coils"))
                .with("d", K::Fraction, p.diversity, here("diversity"))
                .with("Q_own", K::Power, own_load, above("Q_own"))
                .with(
                    "dT",
                    K::TemperatureDifference,
                    t.water_rise.value.to_kelvin(),
                    t.water_rise.origin.clone(),
                )
                .result(K::WaterFlow, a.sensible_flow_m3_per_s)
                .source(BALANCE_HEAT),
            );
        }
        "drying_flow" => out.push(
            water(Line::new(
                "V_drying",
                "flow of the drying loop",
                "Q_drying / (c_w * rho_w * (t_leaving - t_entering))",
            ))
            .with("Q_drying", K::Power, p.drying_load_w, here("drying_load"))
            .with(
                "t_leaving",
                K::Temperature,
                u.drying_water_leaving_c,
                see("primary air", "drying_water_leaving"),
            )
            .with("t_entering", K::Temperature, u.drying_water_c, see("primary air", "drying_water_entering"))
            .result(K::WaterFlow, a.drying_flow_m3_per_s)
            .source(BALANCE_HEAT),
        ),
        "sensible_return" if a.sensible_flow_m3_per_s == 0.0 => out.push(given(
            "t_return",
            "return of the sensible loop: no water flows at design",
            K::Temperature,
            a.sensible_return_c,
            see("dew point", "sensible_water"),
        )),
        "sensible_return" => out.push(
            water(Line::new(
                "t_return",
                "return of the sensible loop",
                "t_supply + Q_sensible / (V_sensible * rho_w * c_w)",
            ))
            .with(
                "t_supply",
                K::Temperature,
                cx.design.dew_point.sensible_water_c,
                see("dew point", "sensible_water"),
            )
            .with("Q_sensible", K::Power, p.sensible_load_w, here("sensible_load"))
            .with("V_sensible", K::WaterFlow, a.sensible_flow_m3_per_s, own("sensible_flow"))
            .result(K::Temperature, a.sensible_return_c)
            .source(BALANCE_HEAT),
        ),
        "drying_return" => out.push(
            water(Line::new(
                "t_return",
                "return of the drying loop",
                "t_supply + Q_drying / (V_drying * rho_w * c_w)",
            ))
            .with("t_supply", K::Temperature, u.drying_water_c, see("primary air", "drying_water_entering"))
            .with("Q_drying", K::Power, p.drying_load_w, here("drying_load"))
            .with("V_drying", K::WaterFlow, a.drying_flow_m3_per_s, own("drying_flow"))
            .result(K::Temperature, a.drying_return_c)
            .source(BALANCE_HEAT),
        ),
        "reused_flow" => {
            if a.reused_m3_per_s == 0.0 {
                return Some(super::rooms::zero(
                    "V_reused",
                    "drying return that supplies the terminals",
                    K::WaterFlow,
                    0.0,
                    "this arrangement reuses none, or the return is too warm",
                ));
            }
            let (t_r, t_d, t_s, t_c) = (
                a.sensible_return_c,
                a.drying_return_c,
                cx.design.dew_point.sensible_water_c,
                u.drying_water_c,
            );
            out.push(
                Line::new(
                    "V_reused",
                    "drying return that supplies the terminals: as much as there is, as is needed, and as leaves the blend cold enough",
                    "min(V_drying, V_sensible * (t_r - t_s) / (t_r - t_d), V_sensible * (t_s - t_c) / (t_d - t_c))",
                )
                .with("V_drying", K::WaterFlow, a.drying_flow_m3_per_s, own("drying_flow"))
                .with("V_sensible", K::WaterFlow, a.sensible_flow_m3_per_s, own("sensible_flow"))
                .with("t_r", K::Temperature, t_r, own("sensible_return"))
                .with("t_s", K::Temperature, t_s, see("dew point", "sensible_water"))
                .with("t_d", K::Temperature, t_d, own("drying_return"))
                .with("t_c", K::Temperature, t_c, see("primary air", "drying_water_entering"))
                .result(K::WaterFlow, a.reused_m3_per_s)
                .source(Source::new("balance of the blending valve", "flow and temperature")),
            );
        }
        "makeup_flow" => {
            if a.makeup_m3_per_s == 0.0 {
                return Some(super::rooms::zero(
                    "V_makeup",
                    "cold make-up into the sensible loop",
                    K::WaterFlow,
                    0.0,
                    "none is needed",
                ));
            }
            out.push(
                Line::new(
                    "V_makeup",
                    "cold make-up into the sensible loop",
                    "(V_sensible * (t_r - t_s) - V_reused * (t_r - t_d)) / (t_r - t_c)",
                )
                .with("V_sensible", K::WaterFlow, a.sensible_flow_m3_per_s, own("sensible_flow"))
                .with("t_r", K::Temperature, a.sensible_return_c, own("sensible_return"))
                .with(
                    "t_s",
                    K::Temperature,
                    cx.design.dew_point.sensible_water_c,
                    see("dew point", "sensible_water"),
                )
                .with("V_reused", K::WaterFlow, a.reused_m3_per_s, own("reused_flow"))
                .with("t_d", K::Temperature, a.drying_return_c, own("drying_return"))
                .with("t_c", K::Temperature, u.drying_water_c, see("primary air", "drying_water_entering"))
                .result(K::WaterFlow, a.makeup_m3_per_s)
                .source(Source::new("balance of the blending valve", "flow and temperature")),
            );
        }
        "plant_flow" => {
            let separate = a.chillers.len() > 1;
            let line = if separate {
                Line::new("V_plant", "water through the chillers", "V_drying + V_sensible").with(
                    "V_sensible",
                    K::WaterFlow,
                    a.sensible_flow_m3_per_s,
                    own("sensible_flow"),
                )
            } else {
                Line::new("V_plant", "water through the chillers", "V_drying + V_makeup").with(
                    "V_makeup",
                    K::WaterFlow,
                    a.makeup_m3_per_s,
                    own("makeup_flow"),
                )
            };
            out.push(
                line.with("V_drying", K::WaterFlow, a.drying_flow_m3_per_s, own("drying_flow"))
                    .result(K::WaterFlow, a.plant_flow_m3_per_s)
                    .source(SUM),
            );
        }
        "input_power" => {
            let chillers: Vec<_> = a
                .chillers
                .iter()
                .map(|m| {
                    (
                        format!("C_{}", slug(&m.service)),
                        m.input_w,
                        own(&format!("{}_chillers_input", slug(&m.service))),
                    )
                })
                .collect();
            let pumps: Vec<_> = a
                .pumps
                .iter()
                .map(|m| {
                    (
                        format!("P_{}", slug(&m.service)),
                        m.power_w,
                        own(&format!("{}_pump_power", slug(&m.service))),
                    )
                })
                .collect();
            let c: f64 = chillers.iter().map(|x| x.1).sum();
            let w: f64 = pumps.iter().map(|x| x.1).sum();
            out.push(sum_line("P_chillers", "chillers", K::Power, c, chillers));
            out.push(sum_line("P_pumps", "pumps", K::Power, w, pumps));
            let fan = &cx.project.plant.tower_fan;
            out.push(
                Line::new(
                    "P",
                    "input at design: chillers, pumps, tower fans",
                    "P_chillers + P_pumps + (Q_sensible + Q_drying + P_chillers) * f",
                )
                .with("P_chillers", K::Power, c, above("P_chillers"))
                .with("P_pumps", K::Power, w, above("P_pumps"))
                .with("Q_sensible", K::Power, p.sensible_load_w, here("sensible_load"))
                .with("Q_drying", K::Power, p.drying_load_w, here("drying_load"))
                .with_number("f", fan.value, fan.origin.clone())
                .result(K::Power, a.input_w)
                .source(SUM),
            );
        }
        _ => return None,
    }
    Some(out)
}

fn chiller(cx: Cx<'_>, a: &ArrangementDesign, m: &MachineDesign, prefix: &str, key: &str) -> Lines {
    let input = &cx.project.plant;
    let p = &cx.design.plant;
    let own = |q: &str| here(&format!("{prefix}{q}"));
    let mut out = Vec::new();
    let load = match (a.chillers.len() > 1, m.service.as_str()) {
        (true, "sensible water") => (p.sensible_load_w, "Q_sensible"),
        (true, _) => (p.drying_load_w, "Q_drying"),
        (false, _) => (p.sensible_load_w + p.drying_load_w, "Q_sensible + Q_drying"),
    };
    let with_load = |mut line: Line| {
        if load.1.contains("Q_sensible") {
            line = line.with("Q_sensible", K::Power, p.sensible_load_w, here("sensible_load"));
        }
        if load.1.contains("Q_drying") {
            line = line.with("Q_drying", K::Power, p.drying_load_w, here("drying_load"));
        }
        line
    };
    let total = m.capacity_w * f64::from(m.count);
    match key {
        "count" => {
            let needed = total / input.largest_chiller.value.to_watts();
            out.push(
                with_load(Line::new("Q_total", "load with spare", format!("({}) * (1 + f)", load.1)))
                    .with("f", K::Fraction, input.spare.value.to_ratio(), input.spare.origin.clone())
                    .result(K::Power, total)
                    .source(SUM),
            );
            out.push(
                Line::new("x", "capacity over the largest machine", "Q_total / Q_largest")
                    .with("Q_total", K::Power, total, above("Q_total"))
                    .with(
                        "Q_largest",
                        K::Power,
                        input.largest_chiller.value.to_watts(),
                        input.largest_chiller.origin.clone(),
                    )
                    .result_number(needed)
                    .source(Source::new("definition", "ratio")),
            );
            let up = needed.ceil();
            out.push(
                Line::new(
                    "n",
                    "machines: as entered, or as many as the largest machine makes necessary",
                    "max(n_entered, x + up, 1)",
                )
                .with_number("n_entered", f64::from(input.chillers.value), input.chillers.origin.clone())
                .with_number("x", needed, above("x"))
                .with_number("up", up - needed, constant("rounding up"))
                .result_number(f64::from(m.count))
                .source(Source::new("definition", "whole machines")),
            );
        }
        "capacity" => out.push(
            with_load(Line::new("Q_each", "capacity of each chiller", format!("({}) * (1 + f) / n", load.1)))
                .with("f", K::Fraction, input.spare.value.to_ratio(), input.spare.origin.clone())
                .with_number("n", f64::from(m.count), own("count"))
                .result(K::Power, m.capacity_w)
                .source(Source::new("definition", "equal machines with spare")),
        ),
        "leaving" => {
            let sensible = a.chillers.len() > 1 && m.service == "sensible water";
            let origin = if sensible {
                see("dew point", "sensible_water")
            } else {
                see("primary air", "drying_water_entering")
            };
            out.push(given("t_leaving", "water leaving", K::Temperature, m.leaving_c, origin));
        }
        "entering" => {
            let flow = if a.chillers.len() > 1 {
                if m.service == "sensible water" {
                    (a.sensible_flow_m3_per_s, "sensible_flow")
                } else {
                    (a.drying_flow_m3_per_s, "drying_flow")
                }
            } else {
                (a.plant_flow_m3_per_s, "plant_flow")
            };
            if flow.0 == 0.0 {
                return Some(vec![given(
                    "t_entering",
                    "water entering: none flows at design",
                    K::Temperature,
                    m.entering_c,
                    own("leaving"),
                )]);
            }
            out.push(
                with_load(Line::new(
                    "t_entering",
                    "water entering at design",
                    format!("t_leaving + ({}) / (V * rho_w * c_w)", load.1),
                ))
                .with("t_leaving", K::Temperature, m.leaving_c, own("leaving"))
                .with("V", K::WaterFlow, flow.0, here(&format!("{}_{}", slug(&a.arrangement), flow.1)))
                .with("rho_w", K::Density, WATER_RHO, constant("density of cold water"))
                .with(
                    "c_w",
                    K::SpecificHeat,
                    WATER_CP,
                    constant("specific heat of water in all loop balances"),
                )
                .result(K::Temperature, m.entering_c)
                .source(BALANCE_HEAT),
            );
        }
        "performance" => match &m.cycle {
            None => {
                return Some(vec![given_number(
                    "COP",
                    "coefficient of performance",
                    m.performance,
                    constant("the chiller is idle at design"),
                )]);
            }
            Some(c) => {
                out.push(
                    with_load(Line::new("Q", "load of the machines at design", load.1))
                        .result(K::Power, c.load_w)
                        .source(SUM),
                );
                cycle(cx, m, c, &own, &mut out)?;
            }
        },
        "input" => {
            if m.performance == 0.0 {
                return Some(super::rooms::zero("P", "chiller input", K::Power, m.input_w, "no load"));
            }
            out.push(
                with_load(Line::new(
                    "P",
                    "chiller input at design, all machines",
                    format!("({}) / COP", load.1),
                ))
                .with_number("COP", m.performance, own("performance"))
                .result(K::Power, m.input_w)
                .source(Source::new("definition", "coefficient of performance")),
            );
        }
        _ => return None,
    }
    Some(out)
}

/// Lines from the rating point of a chiller to its coefficient of performance at design.
fn cycle(
    cx: Cx<'_>,
    m: &MachineDesign,
    c: &CycleSteps,
    own: &dyn Fn(&str) -> Origin,
    out: &mut Vec<Line>,
) -> Option<()> {
    let p = &cx.project.plant;
    let s = Settings::default();
    let (approach_e, approach_c) = (s.evaporator_approach.to_kelvin(), s.condenser_approach.to_kelvin());
    let least = s.minimum_lift.to_kelvin();
    let law = s.capacity;
    let practice = |what: &'static str| Origin::default_value(what, "common practice, no source");
    let zero = |l: Line| l.with("t_zero", K::Temperature, -273.15, constant("absolute zero"));
    let (w_r, c_r) = (p.rating_chilled.value.to_celsius(), p.rating_condenser.value.to_celsius());
    let law_source =
        Source::new("common practice, no source", "capacity by leaving chilled and condenser water");
    let able = (1.0
        + law.per_kelvin_chilled * (m.leaving_c - w_r)
        + law.per_kelvin_condenser * (c.condenser_c - c_r))
        .clamp(0.0, law.largest);
    out.push(
        Line::new(
            "a",
            "capacity at these temperatures over rated capacity",
            "max(0, min(a_most, 1 + b_w * (t_w - t_w_rated) / K_1 + b_c * (t_c - t_c_rated) / K_1))",
        )
        .with_number("a_most", law.largest, practice("largest ratio, set by motor and exchangers"))
        .with_number("b_w", law.per_kelvin_chilled, practice("share for each kelvin of chilled water"))
        .with("t_w", K::Temperature, m.leaving_c, own("leaving"))
        .with("t_w_rated", K::Temperature, w_r, p.rating_chilled.origin.clone())
        .with("K_1", K::TemperatureDifference, 1.0, constant("one kelvin"))
        .with_number("b_c", law.per_kelvin_condenser, practice("share for each kelvin of condenser water"))
        .with("t_c", K::Temperature, c.condenser_c, here("tower_leaving"))
        .with("t_c_rated", K::Temperature, c_r, p.rating_condenser.origin.clone())
        .result_number(able)
        .source(law_source.clone()),
    );
    out.push(
        Line::new("Q_rated", "rated capacity of all machines", "Q_each * n * max(1, 1 / a)")
            .with("Q_each", K::Power, m.capacity_w, own("capacity"))
            .with_number("n", f64::from(m.count), own("count"))
            .with_number("a", able, above("a"))
            .result(K::Power, c.rated_w)
            .source(law_source),
    );
    let share = c.load_w / c.rated_w;
    let running = share.max(s.minimum_share);
    out.push(
        Line::new("x", "share of the rated capacity while it runs", "max(x_least, Q / Q_rated)")
            .with_number(
                "x_least",
                s.minimum_share,
                practice("least share; below it the machine stops and starts"),
            )
            .with("Q", K::Power, c.load_w, above("Q"))
            .with("Q_rated", K::Power, c.rated_w, above("Q_rated"))
            .result_number(running)
            .source(Source::new("definition", "share of load")),
    );
    let (e_r, k_r) = (w_r - approach_e, c_r + p.tower_range.value.to_kelvin() + approach_c);
    out.push(
        Line::new("t_e_rated", "evaporating at the rating point", "t_w_rated - d_e")
            .with("t_w_rated", K::Temperature, w_r, p.rating_chilled.origin.clone())
            .with(
                "d_e",
                K::TemperatureDifference,
                approach_e,
                practice("approach of the evaporator at rated load"),
            )
            .result(K::Temperature, e_r)
            .source(SUM),
    );
    out.push(
        Line::new("t_k_rated", "condensing at the rating point", "t_c_rated + dT_range + d_c")
            .with("t_c_rated", K::Temperature, c_r, p.rating_condenser.origin.clone())
            .with(
                "dT_range",
                K::TemperatureDifference,
                p.tower_range.value.to_kelvin(),
                p.tower_range.origin.clone(),
            )
            .with(
                "d_c",
                K::TemperatureDifference,
                approach_c,
                practice("approach of the condenser at rated load"),
            )
            .result(K::Temperature, k_r)
            .source(SUM),
    );
    let rated = p.chiller_cop.value * (k_r - e_r).max(least) / (e_r + 273.15);
    let carnot = Source::new("second law of thermodynamics", "efficiency calibrated to a rating point");
    out.push(
        zero(Line::new(
            "e_rated",
            "second-law efficiency at the rating point",
            "COP_rated * max(dT_least, t_k_rated - t_e_rated) / (t_e_rated - t_zero)",
        ))
        .with_number("COP_rated", p.chiller_cop.value, p.chiller_cop.origin.clone())
        .with("dT_least", K::TemperatureDifference, least, practice("least lift at which the machine runs"))
        .with("t_k_rated", K::Temperature, k_r, above("t_k_rated"))
        .with("t_e_rated", K::Temperature, e_r, above("t_e_rated"))
        .result_number(rated)
        .source(carnot.clone()),
    );
    if let Some(iplv) = &p.chiller_iplv {
        part_load_value(cx, c, iplv, out)?;
    }
    out.push(
        Line::new(
            "e",
            "second-law efficiency at this load: a part of the losses does not fall with it",
            "e_rated / (1 - s + s / x)",
        )
        .with_number("e_rated", rated, above("e_rated"))
        .with_number(
            "s",
            c.fixed_loss_share,
            if p.chiller_iplv.is_some() {
                constant("fixed share of the power at rated load, with which the part-load value is met")
            } else {
                practice("fixed share of the power at rated load")
            },
        )
        .with_number("x", running, above("x"))
        .result_number(c.efficiency)
        .source(carnot.clone()),
    );
    out.push(
        Line::new("t_e", "evaporating", "t_w - d_e * x")
            .with("t_w", K::Temperature, m.leaving_c, own("leaving"))
            .with(
                "d_e",
                K::TemperatureDifference,
                approach_e,
                practice("approach of the evaporator at rated load"),
            )
            .with_number("x", running, above("x"))
            .result(K::Temperature, c.evaporating_c)
            .source(SUM),
    );
    let steady = m.performance * c.cycling;
    out.push(
        Line::new(
            "dT_lift",
            "lift; both approaches grow with the heat rejected, which depends on the performance that follows below",
            "max(dT_least, t_c - t_e + (dT_range * Q_rated / (Q_each * n) + d_c) * x * (1 + 1 / COP_0) / (1 + 1 / COP_rated))",
        )
        .with("dT_least", K::TemperatureDifference, least, practice("least lift at which the machine runs"))
        .with("t_c", K::Temperature, c.condenser_c, here("tower_leaving"))
        .with("t_e", K::Temperature, c.evaporating_c, above("t_e"))
        .with("dT_range", K::TemperatureDifference, p.tower_range.value.to_kelvin(), p.tower_range.origin.clone())
        .with("Q_rated", K::Power, c.rated_w, above("Q_rated"))
        .with("Q_each", K::Power, m.capacity_w, own("capacity"))
        .with_number("n", f64::from(m.count), own("count"))
        .with("d_c", K::TemperatureDifference, approach_c, practice("approach of the condenser at rated load"))
        .with_number("x", running, above("x"))
        .with_number("COP_0", steady, constant("solved in closed form; `COP_run` returns it"))
        .with_number("COP_rated", p.chiller_cop.value, p.chiller_cop.origin.clone())
        .result(K::TemperatureDifference, c.lift_k)
        .source(Source::new("heat balance of the condenser", "condenser water as much as the tower range asks at the design capacity")),
    );
    out.push(
        zero(Line::new(
            "COP_run",
            "coefficient of performance while it runs",
            "e * (t_e - t_zero) / dT_lift",
        ))
        .with_number("e", c.efficiency, above("e"))
        .with("t_e", K::Temperature, c.evaporating_c, above("t_e"))
        .with("dT_lift", K::TemperatureDifference, c.lift_k, above("dT_lift"))
        .result_number(steady)
        .source(carnot),
    );
    out.push(
        Line::new(
            "COP",
            "coefficient of performance at design, with the loss by stopping and starting",
            "COP_run * (1 - l * max(0, 1 - Q / (x_least * Q_rated)))",
        )
        .with_number("COP_run", steady, above("COP_run"))
        .with_number("l", s.cycling_loss, practice("loss at a run time near zero"))
        .with("Q", K::Power, c.load_w, above("Q"))
        .with_number(
            "x_least",
            s.minimum_share,
            practice("least share; below it the machine stops and starts"),
        )
        .with("Q_rated", K::Power, c.rated_w, above("Q_rated"))
        .result_number(m.performance)
        .source(Source::new("common practice, no source", "loss in proportion to the time that it stands")),
    );
    Some(())
}

/// The residual of the search for the fixed losses, as lines.
fn part_load_value(cx: Cx<'_>, c: &CycleSteps, iplv: &Sourced<f64>, out: &mut Vec<Line>) -> Option<()> {
    let machine = rated_chiller(cx.project, c.rated_w).ok()?;
    let mut cops = [0.0; 4];
    for (slot, (share, t_f)) in cops.iter_mut().zip([(1.0, 85.0), (0.75, 75.0), (0.5, 65.0), (0.25, 65.0)]) {
        let condenser = Condenser::Entering {
            temperature: Temperature::fahrenheit(t_f),
            capacity_rate: machine.rating.condenser_capacity_rate,
        };
        *slot =
            machine.run(Power::watts(c.rated_w * share), machine.rating.leaving_chilled, condenser).ok()?.cop;
    }
    let value = 0.01 * cops[0] + 0.42 * cops[1] + 0.45 * cops[2] + 0.12 * cops[3];
    let own =
        constant("this machine, calculated as below, at this share of its load and 85, 75, 65, 65 degF");
    let mut line = Line::new(
        "r",
        "what the search for the fixed losses leaves of the part-load value",
        "0.01 * COP_100 + 0.42 * COP_75 + 0.45 * COP_50 + 0.12 * COP_25 - IPLV",
    );
    for (name, cop) in ["COP_100", "COP_75", "COP_50", "COP_25"].into_iter().zip(cops) {
        line = line.with_number(name, cop, own.clone());
    }
    out.push(
        line.with_number("IPLV", iplv.value, iplv.origin.clone())
            .result_number(value - iplv.value)
            .source(Source::new("AHRI 550/590, from memory", "integrated part-load value"))
            .note("bisection of the fixed share, 50 halvings"),
    );
    Some(())
}

fn pump(cx: Cx<'_>, p: &PumpDesign, arrangement: &str, prefix: &str, key: &str) -> Lines {
    let w = &cx.project.water;
    let mut out = Vec::new();
    let flow_of = |q: &str| here(&format!("{}_{q}", slug(arrangement)));
    match key {
        "flow" => flow_line(cx, &p.service, arrangement, p.flow_m3_per_s, &flow_of, &mut out)?,
        "head" => {
            let friction = "R * L * (1 + f)";
            let pipes = |l: Line| {
                l.with(
                    "R",
                    K::PressureGradient,
                    w.pipe_friction_pa_per_m.value,
                    w.pipe_friction_pa_per_m.origin.clone(),
                )
                .with("L", K::Length, w.circuit_length.value.to_metres(), w.circuit_length.origin.clone())
                .with(
                    "f",
                    K::Fraction,
                    w.fittings.value.to_ratio(),
                    w.fittings.origin.clone(),
                )
            };
            let terminal = |l: Line| {
                l.with(
                    "p_terminal",
                    K::PressureDifference,
                    w.terminal_drop.value.to_pascals(),
                    w.terminal_drop.origin.clone(),
                )
            };
            let machine = |l: Line| {
                l.with(
                    "p_machine",
                    K::PressureDifference,
                    w.machine_drop.value.to_pascals(),
                    w.machine_drop.origin.clone(),
                )
            };
            let meaning = "pump head";
            let line = match p.service.as_str() {
                "drying water" | "sensible water" => {
                    terminal(pipes(Line::new("p_pump", meaning, format!("{friction} + p_terminal"))))
                }
                "hot water" => machine(terminal(pipes(Line::new(
                    "p_pump",
                    meaning,
                    format!("{friction} + p_terminal + p_machine"),
                )))),
                "condenser water" => machine(pipes(Line::new(
                    "p_pump",
                    "pump head: half the pipe length, chiller and tower",
                    format!("{friction} * 0.5 + 2 * p_machine"),
                ))),
                _ => machine(Line::new("p_pump", meaning, "p_machine")),
            };
            out.push(line.result(K::PressureDifference, p.head_pa).source(SUM));
        }
        "power" => out.push(
            Line::new("P_pump", "pump power", "V * p_pump / e")
                .with("V", K::WaterFlow, p.flow_m3_per_s, here(&format!("{prefix}flow")))
                .with("p_pump", K::PressureDifference, p.head_pa, here(&format!("{prefix}head")))
                .with("e", K::Fraction, w.pump_efficiency.value.to_ratio(), w.pump_efficiency.origin.clone())
                .result(K::Power, p.power_w)
                .source(Source::new("definition", "volume flow times pressure over efficiency")),
        ),
        _ => return None,
    }
    Some(out)
}

/// Flow of a pump or pipe by its service.
fn flow_line(
    cx: Cx<'_>,
    service: &str,
    arrangement: &str,
    value: f64,
    flow_of: &dyn Fn(&str) -> Origin,
    out: &mut Vec<Line>,
) -> Option<()> {
    let p = &cx.design.plant;
    let t = &cx.project.terminals;
    let quantity = match service {
        "drying water" | "drying chillers" => "drying_flow",
        "sensible water" | "sensible chillers" => "sensible_flow",
        "plant main" | "chillers" => "plant_flow",
        "condenser water" => {
            let a = p.arrangements.iter().find(|a| a.arrangement == arrangement)?;
            let inputs: Vec<_> = a
                .chillers
                .iter()
                .map(|m| {
                    let quantity = format!("{}_chillers_input", slug(&m.service));
                    (format!("P_{}", slug(&m.service)), m.input_w, flow_of(&quantity))
                })
                .collect();
            let c: f64 = inputs.iter().map(|i| i.1).sum();
            out.push(sum_line("P_chillers", "chiller input of this arrangement", K::Power, c, inputs));
            let range = &cx.project.plant.tower_range;
            out.push(
                Line::new(
                    "V",
                    "condenser water",
                    "(Q_sensible + Q_drying + P_chillers) / (c_w * rho_w * dT)",
                )
                .with("Q_sensible", K::Power, p.sensible_load_w, here("sensible_load"))
                .with("Q_drying", K::Power, p.drying_load_w, here("drying_load"))
                .with("P_chillers", K::Power, c, above("P_chillers"))
                .with(
                    "c_w",
                    K::SpecificHeat,
                    WATER_CP,
                    constant("specific heat of water in all loop balances"),
                )
                .with("rho_w", K::Density, WATER_RHO, constant("density of cold water"))
                .with("dT", K::TemperatureDifference, range.value.to_kelvin(), range.origin.clone())
                .result(K::WaterFlow, value)
                .source(BALANCE_HEAT),
            );
            return Some(());
        }
        _ => {
            out.push(
                Line::new("V", "hot water", "(Q_terminals + Q_primary) / (c_w * rho_w * dT)")
                    .with("Q_terminals", K::Power, p.heating_terminals_w, here("heating_terminals"))
                    .with("Q_primary", K::Power, p.heating_primary_w, here("heating_primary_air"))
                    .with(
                        "c_w",
                        K::SpecificHeat,
                        WATER_CP,
                        constant("specific heat of water in all loop balances"),
                    )
                    .with("rho_w", K::Density, WATER_RHO, constant("density of cold water"))
                    .with(
                        "dT",
                        K::TemperatureDifference,
                        t.heating_water_drop.value.to_kelvin(),
                        t.heating_water_drop.origin.clone(),
                    )
                    .result(K::WaterFlow, value)
                    .source(BALANCE_HEAT),
            );
            return Some(());
        }
    };
    out.push(
        Line::new("V", format!("flow, {service}"), "V_loop")
            .with("V_loop", K::WaterFlow, value, flow_of(quantity))
            .result(K::WaterFlow, value)
            .source(Source::new("definition", "flow of its loop")),
    );
    Some(())
}

fn pipe(cx: Cx<'_>, p: &PipeDesign, arrangement: &str, prefix: &str, key: &str) -> Lines {
    let own = |q: &str| here(&format!("{prefix}{q}"));
    let flow_of = |q: &str| here(&format!("{}_{q}", slug(arrangement)));
    let mut out = Vec::new();
    let d = p.inner_diameter_m;
    let water_c = match p.service.as_str() {
        "sensible water" => cx.design.dew_point.sensible_water_c,
        "condenser water" => cx.project.plant.rating_condenser.value.to_celsius(),
        "hot water" => cx.project.terminals.heating_water.value.to_celsius(),
        _ => cx.design.primary_unit.drying_water_c,
    };
    match key {
        "flow" => flow_line(cx, &p.service, arrangement, p.flow_m3_per_s, &flow_of, &mut out)?,
        "inner_diameter" => out.push(
            given(
                "d",
                format!("inner diameter, {}", p.size),
                K::Length,
                d,
                Origin::Table {
                    row: p.size.clone(),
                    source: "pipe table (ASME B36.10 steel, schedule 40)".into(),
                    place: None,
                },
            )
            .note(format!(
                "smallest size within friction, velocity and the standard's maximum flow; limited by {}",
                p.limit
            )),
        ),
        _ if d == 0.0 => {
            let kind = if key == "velocity" { K::Velocity } else { K::PressureGradient };
            return Some(super::rooms::zero(
                "x",
                "no pipe",
                kind,
                0.0,
                "no flow, or no size of the table carries it",
            ));
        }
        "velocity" => out.push(
            Line::new("v", "velocity", "V / (0.7853981634 * d ^ 2)")
                .with("V", K::WaterFlow, p.flow_m3_per_s, own("flow"))
                .with("d", K::Length, d, own("inner_diameter"))
                .result(K::Velocity, p.velocity_m_per_s)
                .source(Source::new("definition", "mean velocity")),
        ),
        "friction" => friction(
            &mut out,
            "R",
            "friction",
            (p.flow_m3_per_s, K::WaterFlow, own("flow")),
            (d, own("inner_diameter")),
            (
                liquid::density_kg_per_m3(water_c),
                super::coil::water_property("density of water at its supply temperature"),
            ),
            (
                liquid::viscosity_pa_s(water_c),
                super::coil::water_property("viscosity of water at its supply temperature, Pa s"),
            ),
            (0.00015 * 0.3048, "roughness of commercial steel, 0.00015 ft (Moody 1944)"),
            p.friction_pa_per_m,
        ),
        _ => return None,
    }
    Some(out)
}

/// Friction by Darcy and Weisbach with the factor of Colebrook.
#[allow(clippy::too_many_arguments)]
pub(crate) fn friction(
    out: &mut Vec<Line>,
    symbol: &str,
    meaning: &str,
    (flow, kind, flow_o): (f64, K, Origin),
    (d, d_o): (f64, Origin),
    (rho, rho_o): (f64, Origin),
    (mu, mu_o): (f64, Origin),
    (roughness, what): (f64, &'static str),
    value: f64,
) {
    let v = flow / (std::f64::consts::FRAC_PI_4 * d * d);
    out.push(
        Line::new("v", "velocity in the round section", "V / (0.7853981634 * d ^ 2)")
            .with("V", kind, flow, flow_o)
            .with("d", K::Length, d, d_o.clone())
            .result(K::Velocity, v)
            .source(Source::new("definition", "mean velocity")),
    );
    let re = rho * v * d / mu;
    out.push(
        Line::new("Re", "Reynolds number; viscosity in Pa s", "rho * v * d / mu")
            .with("rho", K::Density, rho, rho_o.clone())
            .with("v", K::Velocity, v, above("v"))
            .with("d", K::Length, d, d_o.clone())
            .with_number("mu", mu, mu_o)
            .result_number(re)
            .source(Source::new("definition", "Reynolds number")),
    );
    let f = value * d / (0.5 * rho * v * v);
    if re >= 4000.0 {
        out.push(
            Line::new(
                "f",
                "Darcy friction factor; the equation returns the factor put in",
                "(-2 * ln(k / (3.7 * d) + 2.51 / (Re * f_0 ^ 0.5)) / 2.302585093) ^ (-2)",
            )
            .with("k", K::Length, roughness, constant(what))
            .with("d", K::Length, d, d_o.clone())
            .with_number("Re", re, above("Re"))
            .with_number("f_0", f, constant("factor found by Newton steps"))
            .result_number(f)
            .source(Source::new("Colebrook 1939", "turbulent flow")),
        );
    } else if re <= 2300.0 {
        out.push(
            Line::new("f", "Darcy friction factor", "64 / Re")
                .with_number("Re", re, above("Re"))
                .result_number(f)
                .source(Source::new("Hagen and Poiseuille", "laminar flow")),
        );
    } else {
        let laminar = 64.0 / 2300.0;
        let top = laminar + (f - laminar) * 1700.0 / (re - 2300.0);
        out.push(
            Line::new(
                "f_4000",
                "Darcy friction factor where the flow counts as turbulent; the equation returns the factor put in",
                "(-2 * ln(k / (3.7 * d) + 2.51 / (4000 * f_0 ^ 0.5)) / 2.302585093) ^ (-2)",
            )
            .with("k", K::Length, roughness, constant(what))
            .with("d", K::Length, d, d_o.clone())
            .with_number("f_0", top, constant("factor found by Newton steps"))
            .result_number(top)
            .source(Source::new("Colebrook 1939", "turbulent flow")),
        );
        out.push(
            Line::new(
                "f",
                "Darcy friction factor between laminar and turbulent",
                "64 / 2300 + (Re - 2300) / 1700 * (f_4000 - 64 / 2300)",
            )
            .with_number("Re", re, above("Re"))
            .with_number("f_4000", top, above("f_4000"))
            .result_number(f)
            .source(Source::new("common practice, no source", "straight line in the Reynolds number")),
        );
    }
    out.push(
        Line::new(symbol, meaning, "f / d * rho * v ^ 2 / 2")
            .with_number("f", f, above("f"))
            .with("d", K::Length, d, d_o)
            .with("rho", K::Density, rho, rho_o)
            .with("v", K::Velocity, v, above("v"))
            .result(K::PressureGradient, value)
            .source(Source::new("Darcy and Weisbach", "friction per length")),
    );
}
