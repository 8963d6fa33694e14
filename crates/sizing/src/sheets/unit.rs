//! Sheets of the primary-air unit.

use super::needs::balance_exhaust;
use super::{
    BALANCE_HEAT, Cx, Lines, STANDARD_FLOW, SUM, above, air, constant, entered, given, same, see, states,
};
use crate::design::PrimaryUnitCase;
use crate::machines::{BYPASS, WATER_CP, WATER_RHO};
use crate::schedule::slug;
use drycoil_air::raw;
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

/// Prefix of the quantities of a case.
pub(crate) fn slug_case(c: &PrimaryUnitCase) -> String {
    format!("{}_", slug(&c.case))
}

fn case<'a>(cx: Cx<'a>, name: &str) -> Option<&'a PrimaryUnitCase> {
    cx.design.primary_unit.cases.iter().find(|c| c.case == name)
}

/// Quantity of a state of a case.
fn state(c: &PrimaryUnitCase, point: &str, quantity: &str) -> Origin {
    see("primary air", &format!("{}{}_{quantity}", slug_case(c), slug(point)))
}

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    if place != "primary air" {
        return None;
    }
    for c in &cx.design.primary_unit.cases {
        if let Some(rest) = quantity.strip_prefix(&slug_case(c))
            && let Some(lines) = of_case(cx, c, rest).or_else(|| states::lines(cx, c, rest))
        {
            return Some(lines);
        }
    }
    whole(cx, quantity)
}

fn whole(cx: Cx<'_>, quantity: &str) -> Lines {
    let u = &cx.design.primary_unit;
    let a = &cx.project.primary_air;
    let flow = K::StandardAirFlow;
    let design = case(cx, "dehumidification")?;
    let point = |name: &str| design.points.iter().find(|p| p.point == name);
    let mut out = Vec::new();
    match quantity {
        "units" => {
            let exact = u.unit_m3_per_s / a.largest_unit.value.to_m3_per_s();
            out.push(
                Line::new("x", "flow over the largest unit", "V_unit / V_largest")
                    .with("V_unit", flow, u.unit_m3_per_s, see("primary air", "unit_flow"))
                    .with(
                        "V_largest",
                        flow,
                        a.largest_unit.value.to_m3_per_s(),
                        a.largest_unit.origin.clone(),
                    )
                    .result_number(exact)
                    .source(Source::new("definition", "ratio")),
            );
            out.push(
                Line::new("n", "units: the next whole number, at least one", "x + up")
                    .with_number("x", exact, above("x"))
                    .with_number("up", f64::from(u.units) - exact, constant("rounding up"))
                    .result_number(f64::from(u.units))
                    .source(Source::new("definition", "rounding up")),
            );
        }
        "delivered_flow" => {
            out.push(super::sum_line(
                "V_delivered",
                "primary air of all rooms",
                flow,
                u.delivered_m3_per_s,
                cx.design.needs.iter().enumerate().filter(|(_, n)| n.primary_m3_per_s > 0.0).map(|(i, n)| {
                    (format!("V_{}", i + 1), n.primary_m3_per_s, see(&n.room, "primary_air_flow"))
                }),
            ));
        }
        "unit_flow" => out.push(
            Line::new("V_unit", "flow for which the unit is chosen", "V_delivered * (1 + f) / (1 - l)")
                .with("V_delivered", flow, u.delivered_m3_per_s, see("primary air", "delivered_flow"))
                .with("f", K::Fraction, a.spare.value.to_ratio(), a.spare.origin.clone())
                .with("l", K::Fraction, a.duct_leakage.value.to_ratio(), a.duct_leakage.origin.clone())
                .result(flow, u.unit_m3_per_s)
                .source(Source::new("mass balance of air", "spare and leakage of the duct")),
        ),
        "exhaust_flow" => {
            let b = cx.design.balance.last()?;
            let mut dirty = Vec::new();
            for (i, r) in cx.project.rooms.iter().enumerate() {
                if cx.project.kind_of(r).health_care.as_ref().is_some_and(|h| h.all_exhausted)
                    && let Some((line, v)) = balance_exhaust(cx, i, &format!("E_{}", i + 1))
                {
                    out.push(line);
                    dirty.push((format!("E_{}", i + 1), v, above(&format!("E_{}", i + 1))));
                }
            }
            let sum: f64 = dirty.iter().map(|d| d.1).sum();
            out.push(super::sum_line("V_dirty", "exhaust that must not pass the recovery", flow, sum, dirty));
            out.push(
                Line::new(
                    "V_exhaust",
                    "exhaust through the recovery",
                    "max(0, V_rooms - V_dirty + V_relief)",
                )
                .with("V_rooms", flow, b.exhaust_m3_per_s, see("building", "balance_exhaust"))
                .with("V_dirty", flow, sum, above("V_dirty"))
                .with("V_relief", flow, b.relief_m3_per_s, see("building", "balance_relief"))
                .result(flow, u.exhaust_m3_per_s)
                .source(Source::new("mass balance of air", "building")),
            );
        }
        "coil_leaving_dew_point" => {
            let p = point("after drying coil")?;
            air::dew_point(
                cx,
                &mut out,
                "t_dp",
                "dew point leaving the drying coil, dehumidification condition",
                (p.humidity_ratio_kg_per_kg, state(design, "after drying coil", "humidity_ratio")),
                u.coil_leaving_dew_point_c,
            );
        }
        "apparatus_dew_point" => apparatus(cx, design, u.apparatus_dew_point_c, &mut out)?,
        "bypass_factor" => out.push(given(
            "b",
            "share of the air that passes the coil untouched",
            K::Fraction,
            u.bypass_factor,
            Origin::default_value("deep drying coil of six to eight rows", "common practice, no source"),
        )),
        "coil_load" => larger(
            cx,
            &mut out,
            "Q_coil",
            "drying coil load at the worse condition",
            "coil_total",
            |c| c.coil_total_w,
            u.coil_load_w,
        ),
        "heating_load" => {
            let mut line = Line::new("Q_heat", "heating load at the worse condition", "");
            let mut terms = vec!["0".to_owned()];
            for (i, c) in u.cases.iter().enumerate() {
                line = line
                    .with(
                        format!("h_{}", i + 1),
                        K::Power,
                        c.reheat_w,
                        see("primary air", &format!("{}heating", slug_case(c))),
                    )
                    .with(
                        format!("p_{}", i + 1),
                        K::Power,
                        c.preheat_w,
                        see("primary air", &format!("{}preheat", slug_case(c))),
                    );
                terms.push(format!("h_{0} + p_{0}", i + 1));
            }
            line.formula = format!("max({})", terms.join(", "));
            out.push(
                line.result(K::Power, u.heating_load_w)
                    .source(Source::new("definition", "the larger governs")),
            );
        }
        "transfer_units" => transfer_units(cx, design, &mut out)?,
        "rows" => {
            let exact = u.transfer_units / 0.45;
            out.push(
                Line::new("x", "rows, not rounded", "NTU / n_row")
                    .with_number("NTU", u.transfer_units, see("primary air", "transfer_units"))
                    .with_number(
                        "n_row",
                        0.45,
                        Origin::default_value(
                            "transfer units of one row at 2.5 m/s face velocity",
                            "common practice, no source",
                        ),
                    )
                    .result_number(exact)
                    .source(Source::new("common practice, no source", "transfer units by rows")),
            );
            out.push(
                Line::new("n", "rows of the drying coil: the next whole number", "x + up")
                    .with_number("x", exact, above("x"))
                    .with_number("up", f64::from(u.rows) - exact, constant("rounding up"))
                    .result_number(f64::from(u.rows))
                    .source(Source::new("definition", "rounding up")),
            );
        }
        "face_area" => {
            let p = point("after heating coil")?;
            let at = |q: &str| state(design, "after heating coil", q);
            let entering = entering(cx, design, &mut out)?;
            let (line, rho) = air::density(
                cx,
                "rho",
                "dry air entering the drying coil",
                entering,
                (p.humidity_ratio_kg_per_kg, at("humidity_ratio")),
            );
            out.push(line);
            out.push(
                Line::new("A_face", "face area of the drying coils", "V_unit * rho_0 / rho / v_face")
                    .with("V_unit", flow, u.unit_m3_per_s, see("primary air", "unit_flow"))
                    .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                    .with("rho", K::Density, rho, above("rho"))
                    .with(
                        "v_face",
                        K::Velocity,
                        a.face_velocity.value.to_metres_per_second(),
                        a.face_velocity.origin.clone(),
                    )
                    .result(K::Area, u.face_area_m2)
                    .source(STANDARD_FLOW),
            );
        }
        "drying_water_entering" => {
            return Some(entered(
                "t_water",
                "drying water entering",
                K::Temperature,
                u.drying_water_c,
                &a.drying_water,
            ));
        }
        "drying_water_leaving" => out.push(
            Line::new("t_leaving", "drying water leaving", "t_water + dT")
                .with("t_water", K::Temperature, u.drying_water_c, a.drying_water.origin.clone())
                .with(
                    "dT",
                    K::TemperatureDifference,
                    a.drying_water_rise.value.to_kelvin(),
                    a.drying_water_rise.origin.clone(),
                )
                .result(K::Temperature, u.drying_water_leaving_c)
                .source(SUM),
        ),
        "fan_rise" => {
            let (p, b) = (point("after fan")?, point("after reheat")?);
            out.push(
                Line::new(
                    "dT_fan",
                    "temperature rise of the fan, dehumidification condition",
                    "t_after - t_before",
                )
                .with("t_after", K::Temperature, p.dry_bulb_c, state(design, "after fan", "dry_bulb"))
                .with("t_before", K::Temperature, b.dry_bulb_c, state(design, "after reheat", "dry_bulb"))
                .result(K::TemperatureDifference, u.fan_rise_k)
                .source(Source::new("definition", "temperature difference")),
            );
        }
        "delivered_dry_bulb" => {
            return Some(same(
                "t_delivered",
                "delivered dry bulb, dehumidification condition",
                K::Temperature,
                u.delivered_dry_bulb_c,
                "primary air",
                "dehumidification_delivered_dry_bulb",
            ));
        }
        _ => return None,
    }
    Some(out)
}

fn larger(
    cx: Cx<'_>,
    out: &mut Vec<Line>,
    symbol: &str,
    meaning: &str,
    quantity: &str,
    of: fn(&PrimaryUnitCase) -> f64,
    value: f64,
) {
    let mut line = Line::new(symbol, meaning, "");
    let mut names = Vec::new();
    for (i, c) in cx.design.primary_unit.cases.iter().enumerate() {
        let name = format!("q_{}", i + 1);
        line = line.with(
            name.clone(),
            K::Power,
            of(c),
            see("primary air", &format!("{}{quantity}", slug_case(c))),
        );
        names.push(name);
    }
    line.formula = format!("max({})", names.join(", "));
    out.push(line.result(K::Power, value).source(Source::new("definition", "the larger governs")));
}

pub(crate) fn apparatus(cx: Cx<'_>, c: &PrimaryUnitCase, value: f64, out: &mut Vec<Line>) -> Option<()> {
    let find = |name: &str| c.points.iter().find(|p| p.point == name);
    let (a, b) = (find("after heating coil")?, find("after drying coil")?);
    let (t1, _) = entering(cx, c, out)?;
    if t1 == b.dry_bulb_c {
        out.push(given(
            "t_adp",
            "the coil is idle",
            K::Temperature,
            value,
            state(c, "after heating coil", "dry_bulb"),
        ));
        return Some(());
    }
    let contact = 1.0 - BYPASS;
    let w_adp =
        a.humidity_ratio_kg_per_kg - (a.humidity_ratio_kg_per_kg - b.humidity_ratio_kg_per_kg) / contact;
    let straight = (t1 - contact * (t1 - value) - b.dry_bulb_c).abs() < 1e-9;
    let sourced = [
        (a.humidity_ratio_kg_per_kg, state(c, "after heating coil", "humidity_ratio")),
        (b.humidity_ratio_kg_per_kg, state(c, "after drying coil", "humidity_ratio")),
    ];
    if straight {
        let [(w1, o1), (w2, o2)] = sourced;
        out.push(
            Line::new(
                "W_adp",
                "humidity ratio where the process line meets saturation",
                "W_in - (W_in - W_out) / (1 - b)",
            )
            .with("W_in", K::HumidityRatio, w1, o1)
            .with("W_out", K::HumidityRatio, w2, o2)
            .with("b", K::Fraction, BYPASS, see("primary air", "bypass_factor"))
            .result(K::HumidityRatio, w_adp)
            .source(Source::new("apparatus dew point and bypass", "straight process line")),
        );
        air::dew_point(cx, out, "t_adp", "apparatus dew point", (w_adp, above("W_adp")), value);
        return Some(());
    }
    // The leaving air is saturated at the enthalpy of the line's end.
    let w_s = air::saturated(
        cx,
        out,
        "adp",
        value,
        constant("apparatus dew point found by search; the last line shows what is left"),
        "humidity ratio saturated there",
    );
    let w1 = a.humidity_ratio_kg_per_kg;
    let (t2, w2) = (t1 - contact * (t1 - value), w1 - contact * (w1 - w_s));
    let h = raw::enthalpy_j_per_kg(t2, w2);
    out.push(air::enthalpy(
        "h_line",
        "enthalpy at the end of the straight line",
        (t2, constant("t_in - (1 - b) (t_in - t_adp)")),
        (w2, constant("W_in - (1 - b) (W_in - W_adp)")),
    ));
    out.push(
        Line::new("t_adp", "apparatus dew point", "t_found - (h_line - h_out) / c")
            .with("t_found", K::Temperature, value, constant("the temperature found"))
            .with("h_line", K::SpecificEnthalpy, h, above("h_line"))
            .with(
                "h_out",
                K::SpecificEnthalpy,
                b.enthalpy_j_per_kg,
                state(c, "after drying coil", "enthalpy"),
            )
            .with(
                "c",
                K::SpecificHeat,
                3000.0,
                constant("slope of the saturation enthalpy, rounded; nothing is left to divide"),
            )
            .result(K::Temperature, value)
            .source(Source::new(
                "apparatus dew point and bypass",
                "saturated leaving air at the enthalpy of the line",
            )),
    );
    Some(())
}

fn transfer_units(cx: Cx<'_>, design: &PrimaryUnitCase, out: &mut Vec<Line>) -> Option<()> {
    let u = &cx.design.primary_unit;
    if !u.transfer_units.is_finite() {
        return None;
    }
    let find = |name: &str| design.points.iter().find(|p| p.point == name);
    let (a, b) = (find("after heating coil")?, find("after drying coil")?);
    let (cold, warm) = (u.drying_water_c, u.drying_water_leaving_c);
    let h = |t: f64| raw::saturation_enthalpy_j_per_kg(t, cx.p());
    let w_c = air::saturated(
        cx,
        out,
        "c",
        cold,
        see("primary air", "drying_water_entering"),
        "saturated at the entering water",
    );
    out.push(air::enthalpy(
        "h_c",
        "enthalpy saturated at the entering water",
        (cold, see("primary air", "drying_water_entering")),
        (w_c, above("W_c")),
    ));
    let w_h = air::saturated(
        cx,
        out,
        "h",
        warm,
        see("primary air", "drying_water_leaving"),
        "saturated at the leaving water",
    );
    out.push(air::enthalpy(
        "h_h",
        "enthalpy saturated at the leaving water",
        (warm, see("primary air", "drying_water_leaving")),
        (w_h, above("W_h")),
    ));
    let h_in = raw::enthalpy_j_per_kg(design.coil_entering_c, a.humidity_ratio_kg_per_kg);
    let at_coil = entering(cx, design, out)?;
    out.push(air::enthalpy(
        "h_in",
        "enthalpy entering the drying coil",
        at_coil,
        (a.humidity_ratio_kg_per_kg, state(design, "after heating coil", "humidity_ratio")),
    ));
    let effect = (h_in - b.enthalpy_j_per_kg) / (h_in - h(cold));
    out.push(
        Line::new("e", "enthalpy effectiveness", "(h_in - h_out) / (h_in - h_c)")
            .with("h_in", K::SpecificEnthalpy, h_in, above("h_in"))
            .with(
                "h_out",
                K::SpecificEnthalpy,
                b.enthalpy_j_per_kg,
                state(design, "after drying coil", "enthalpy"),
            )
            .with("h_c", K::SpecificEnthalpy, h(cold), above("h_c"))
            .result_number(effect)
            .source(Source::new("wet coil by enthalpy", "counterflow against saturated air at the water")),
    );
    let rise = warm - cold;
    let m_air = u.unit_m3_per_s * RHO;
    let most = u.cases.iter().map(|c| c.coil_total_w).fold(0.0, f64::max);
    let m_water = most / (WATER_CP * rise);
    let cr = m_air * ((h(warm) - h(cold)) / rise) / (m_water * WATER_CP);
    out.push(
        Line::new("r", "capacity ratio", "V_unit * rho_0 * (h_h - h_c) / Q_coil")
            .with("V_unit", K::StandardAirFlow, u.unit_m3_per_s, see("primary air", "unit_flow"))
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .with("h_h", K::SpecificEnthalpy, h(warm), above("h_h"))
            .with("h_c", K::SpecificEnthalpy, h(cold), above("h_c"))
            .with("Q_coil", K::Power, most, see("primary air", "coil_load"))
            .result_number(cr)
            .source(Source::new(
                "wet coil by enthalpy",
                "slope of the saturation line over the rise of the water",
            )),
    );
    let formula =
        if (cr - 1.0).abs() < 1e-9 { "e / (1 - e) + 0 * r" } else { "-ln((1 - e) / (1 - r * e)) / (1 - r)" };
    out.push(
        Line::new("NTU", "transfer units of the drying coil", formula)
            .with_number("e", effect, above("e"))
            .with_number("r", cr, above("r"))
            .result_number(u.transfer_units)
            .source(Source::new("effectiveness and transfer units", "counterflow")),
    );
    Some(())
}

fn of_case(cx: Cx<'_>, c: &PrimaryUnitCase, quantity: &str) -> Lines {
    let a = &cx.project.primary_air;
    let find = |name: &str| c.points.iter().find(|p| p.point == name);
    let at = |point: &str, q: &str| state(c, point, q);
    let prefix = slug_case(c);
    let mut out = Vec::new();
    let through = find("outdoor air")?.standard_m3_per_s;
    let mass = |out: &mut Vec<Line>| {
        let (line, m) =
            air::mass_flow("m", "the air through the unit", through, at("outdoor air", "standard_flow"));
        out.push(line);
        m
    };
    match quantity {
        "recovered_heat" => {
            if c.recovered_w == 0.0 {
                return Some(super::rooms::zero(
                    "Q_rec",
                    "recovered heat",
                    K::Power,
                    0.0,
                    "the recovery is not in use",
                ));
            }
            let oa = find("outdoor air")?;
            let h_x = raw::enthalpy_j_per_kg(c.after_exchanger_c, c.after_exchanger_humidity_ratio_kg_per_kg);
            states::exchanged(cx, c, &mut out)?;
            out.push(air::enthalpy(
                "h_exchanged",
                "enthalpy behind the exchanger",
                (c.after_exchanger_c, above("t_exchanged")),
                (c.after_exchanger_humidity_ratio_kg_per_kg, above("W_exchanged")),
            ));
            out.push(
                Line::new(
                    "Q_rec",
                    "heat that the outdoor air exchanges with the exhaust",
                    "abs(m_out * (h_out - h_exchanged))",
                )
                .with("m_out", K::MassFlow, c.outdoor_kg_per_s, above("m_out"))
                .with("h_out", K::SpecificEnthalpy, oa.enthalpy_j_per_kg, at("outdoor air", "enthalpy"))
                .with("h_exchanged", K::SpecificEnthalpy, h_x, above("h_exchanged"))
                .result(K::Power, c.recovered_w)
                .source(BALANCE_HEAT),
            );
        }
        "coil_total" | "coil_sensible" | "condensate" => {
            let (p, q) = (find("after heating coil")?, find("after drying coil")?);
            if p.dry_bulb_c == q.dry_bulb_c && p.humidity_ratio_kg_per_kg == q.humidity_ratio_kg_per_kg {
                let (symbol, kind, value) = match quantity {
                    "coil_total" => ("Q_coil", K::Power, c.coil_total_w),
                    "coil_sensible" => ("q_sensible", K::Power, c.coil_sensible_w),
                    _ => ("m_condensate", K::MassFlow, c.condensate_kg_per_s),
                };
                return Some(super::rooms::zero(
                    symbol,
                    "drying coil",
                    kind,
                    value,
                    "the coil is idle in this condition",
                ));
            }
            let (t_in, t_origin) = entering(cx, c, &mut out)?;
            let m = mass(&mut out);
            match quantity {
                "coil_total" => {
                    let h_in = raw::enthalpy_j_per_kg(t_in, p.humidity_ratio_kg_per_kg);
                    out.push(air::enthalpy(
                        "h_in",
                        "enthalpy entering the drying coil",
                        (t_in, t_origin),
                        (p.humidity_ratio_kg_per_kg, at("after heating coil", "humidity_ratio")),
                    ));
                    out.push(
                        Line::new(
                            "Q_coil",
                            "drying coil: enthalpy of the air less that of the condensate",
                            "m * (h_in - h_out) - Q_condensate",
                        )
                        .with("m", K::MassFlow, m, above("m"))
                        .with("h_in", K::SpecificEnthalpy, h_in, above("h_in"))
                        .with(
                            "h_out",
                            K::SpecificEnthalpy,
                            q.enthalpy_j_per_kg,
                            at("after drying coil", "enthalpy"),
                        )
                        .with(
                            "Q_condensate",
                            K::Power,
                            c.condensate_w,
                            see("primary air", &format!("{prefix}condensate_heat")),
                        )
                        .result(K::Power, c.coil_total_w)
                        .source(BALANCE_HEAT),
                    );
                }
                "coil_sensible" => {
                    let cp = air::cp(
                        &mut out,
                        "c_p",
                        "the leaving air",
                        q.humidity_ratio_kg_per_kg,
                        at("after drying coil", "humidity_ratio"),
                    );
                    out.push(
                        Line::new(
                            "q_sensible",
                            "sensible part of the drying coil",
                            "m * c_p * (t_in - t_out)",
                        )
                        .with("m", K::MassFlow, m, above("m"))
                        .with("c_p", K::SpecificHeat, cp, above("c_p"))
                        .with("t_in", K::Temperature, t_in, t_origin)
                        .with("t_out", K::Temperature, q.dry_bulb_c, at("after drying coil", "dry_bulb"))
                        .result(K::Power, c.coil_sensible_w)
                        .source(BALANCE_HEAT),
                    );
                }
                _ => out.push(
                    Line::new("m_condensate", "condensate", "m * (W_in - W_out)")
                        .with("m", K::MassFlow, m, above("m"))
                        .with(
                            "W_in",
                            K::HumidityRatio,
                            p.humidity_ratio_kg_per_kg,
                            at("after heating coil", "humidity_ratio"),
                        )
                        .with(
                            "W_out",
                            K::HumidityRatio,
                            q.humidity_ratio_kg_per_kg,
                            at("after drying coil", "humidity_ratio"),
                        )
                        .result(K::MassFlow, c.condensate_kg_per_s)
                        .source(Source::new("mass balance of water vapour", "drying coil")),
                ),
            }
        }
        "condensate_heat" => {
            let q = find("after drying coil")?;
            out.push(
                Line::new(
                    "Q_condensate",
                    "heat of the condensate, at the leaving air's temperature",
                    "m_condensate * c_w * (t_out - t_0)",
                )
                .with(
                    "m_condensate",
                    K::MassFlow,
                    c.condensate_kg_per_s,
                    see("primary air", &format!("{prefix}condensate")),
                )
                .with("c_w", K::SpecificHeat, 4186.0, constant("specific heat of water"))
                .with("t_out", K::Temperature, q.dry_bulb_c, at("after drying coil", "dry_bulb"))
                .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
                .result(K::Power, c.condensate_w)
                .source(BALANCE_HEAT),
            );
        }
        "preheat" => out.push(given(
            "q_preheat",
            "preheat against frost in the recovery",
            K::Power,
            c.preheat_w,
            constant("the recovery is turned down instead of preheating"),
        )),
        "heating" => heating(cx, c, &mut out)?,
        "supply_fan_power" => {
            let p = find("after reheat")?;
            let m = mass(&mut out);
            fan(
                cx,
                "P_supply",
                "supply fan power",
                (m, above("m")),
                (
                    (p.dry_bulb_c, at("after reheat", "dry_bulb")),
                    (p.humidity_ratio_kg_per_kg, at("after reheat", "humidity_ratio")),
                ),
                (a.supply_fan_pressure.value.to_pascals(), a.supply_fan_pressure.origin.clone()),
                c.supply_fan_w,
                &mut out,
            );
        }
        "exhaust_fan_power" => {
            if c.exhaust_fan_w == 0.0 {
                return Some(super::rooms::zero(
                    "P_exhaust",
                    "exhaust fan power",
                    K::Power,
                    0.0,
                    "no exhaust passes the unit",
                ));
            }
            let p = find("exhaust after recovery")?;
            let design = a.exhaust_fan_pressure.value.to_pascals();
            let m_design = through * RHO;
            states::flows(cx, c, &mut out);
            out.push(
                Line::new("p_fan", "pressure of the exhaust fan at its flow", "p_design * (m_ex / m) ^ 2")
                    .with("p_design", K::PressureDifference, design, a.exhaust_fan_pressure.origin.clone())
                    .with("m_ex", K::MassFlow, c.exhaust_leaving_kg_per_s, above("m_ex"))
                    .with("m", K::MassFlow, m_design, above("m"))
                    .result(K::PressureDifference, c.exhaust_fan_pa)
                    .source(Source::new("square law of turbulent flow", "from the design flow")),
            );
            fan(
                cx,
                "P_exhaust",
                "exhaust fan power",
                (c.exhaust_leaving_kg_per_s, above("m_ex")),
                (
                    (p.dry_bulb_c, at("exhaust after recovery", "dry_bulb")),
                    (p.humidity_ratio_kg_per_kg, at("exhaust after recovery", "humidity_ratio")),
                ),
                (c.exhaust_fan_pa, above("p_fan")),
                c.exhaust_fan_w,
                &mut out,
            );
        }
        "drying_water_flow" => out.push(
            Line::new("V_water", "drying water", "Q_coil / (rho_w * c_w * dT)")
                .with("Q_coil", K::Power, c.coil_total_w, see("primary air", &format!("{prefix}coil_total")))
                .with("rho_w", K::Density, WATER_RHO, constant("density of cold water"))
                .with(
                    "c_w",
                    K::SpecificHeat,
                    WATER_CP,
                    constant("specific heat of water in all loop balances"),
                )
                .with(
                    "dT",
                    K::TemperatureDifference,
                    a.drying_water_rise.value.to_kelvin(),
                    a.drying_water_rise.origin.clone(),
                )
                .result(K::WaterFlow, c.water_m3_per_s)
                .source(BALANCE_HEAT),
        ),
        "dew_point_shortfall" => {
            let q = find("after drying coil")?;
            if c.dew_point_shortfall_k == 0.0 {
                return Some(super::rooms::zero(
                    "dT_missed",
                    "dew point missed by the drying coil",
                    K::TemperatureDifference,
                    0.0,
                    "the supply dew point is reached",
                ));
            }
            out.push(
                Line::new("dT_missed", "dew point missed by the drying coil", "t_coil - t_supply")
                    .with("t_coil", K::Temperature, q.dew_point_c, at("after drying coil", "dew_point"))
                    .with(
                        "t_supply",
                        K::Temperature,
                        cx.design.dew_point.supply_dew_point_c,
                        see("dew point", "supply_dew_point"),
                    )
                    .result(K::TemperatureDifference, c.dew_point_shortfall_k)
                    .source(Source::new("definition", "temperature difference")),
            );
        }
        _ => return None,
    }
    Some(out)
}

/// Heating coil and reheat of a case.
fn heating(cx: Cx<'_>, c: &PrimaryUnitCase, out: &mut Vec<Line>) -> Option<()> {
    let find = |name: &str| c.points.iter().find(|p| p.point == name);
    let at = |point: &str, q: &str| state(c, point, q);
    let through = find("outdoor air")?.standard_m3_per_s;
    let mut parts = Vec::new();
    let rise = |out: &mut Vec<Line>, symbol: &str, meaning: &str, from: &str, to: &str, value: f64| {
        let (a, b) = (find(from)?, find(to)?);
        let cp = air::cp(out, "c_p", "the air", a.humidity_ratio_kg_per_kg, at(from, "humidity_ratio"));
        let (line, m) =
            air::mass_flow("m", "the air through the unit", through, at("outdoor air", "standard_flow"));
        out.push(line);
        let mut formula = String::from("m * c_p * (t_after - t_before)");
        let mut line = Line::new(symbol, meaning, "")
            .with("m", K::MassFlow, m, above("m"))
            .with("c_p", K::SpecificHeat, cp, above("c_p"))
            .with("t_after", K::Temperature, b.dry_bulb_c, at(to, "dry_bulb"))
            .with("t_before", K::Temperature, a.dry_bulb_c, at(from, "dry_bulb"));
        if to == "after reheat" && c.wrap_around_w > 0.0 {
            states::wrap_around(cx, c, out)?;
            formula.push_str(" - q_wrap");
            line = line.with("q_wrap", K::Power, c.wrap_around_w, above("q_wrap"));
        }
        line.formula = formula;
        out.push(line.result(K::Power, value).source(BALANCE_HEAT));
        Some(())
    };
    if c.heating_w > 0.0 {
        rise(out, "q_coil", "heating coil", "after recovery", "after heating coil", c.heating_w)?;
        parts.push(("q_coil".to_owned(), c.heating_w, above("q_coil")));
    }
    let reheat = c.reheat_w - c.heating_w;
    if reheat > 0.0 {
        rise(out, "q_reheat", "reheat", "after drying coil", "after reheat", reheat)?;
        parts.push(("q_reheat".to_owned(), reheat, above("q_reheat")));
    }
    out.push(super::sum_line("q_heat", "heating coil and reheat", K::Power, c.reheat_w, parts));
    Some(())
}

/// Temperature entering the drying coil: behind the heating coil, less the heat of a wrap-around.
pub(crate) fn entering(cx: Cx<'_>, c: &PrimaryUnitCase, out: &mut Vec<Line>) -> Option<(f64, Origin)> {
    let p = c.points.iter().find(|p| p.point == "after heating coil")?;
    let origin = state(c, "after heating coil", "dry_bulb");
    if c.coil_entering_c == p.dry_bulb_c {
        return Some((p.dry_bulb_c, origin));
    }
    let w = (p.humidity_ratio_kg_per_kg, state(c, "after heating coil", "humidity_ratio"));
    let cp = air::cp(out, "c_in", "the air before the drying coil", w.0, w.1);
    states::wrap_around(cx, c, out)?;
    out.push(
        Line::new(
            "t_in",
            "entering the drying coil, behind the first coil of the wrap-around",
            "t - q_wrap / (V * rho_0 * c_in)",
        )
        .with("t", K::Temperature, p.dry_bulb_c, origin)
        .with("q_wrap", K::Power, c.wrap_around_w, above("q_wrap"))
        .with("V", K::StandardAirFlow, p.standard_m3_per_s, state(c, "after heating coil", "standard_flow"))
        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
        .with("c_in", K::SpecificHeat, cp, above("c_in"))
        .result(K::Temperature, c.coil_entering_c)
        .source(BALANCE_HEAT),
    );
    Some((c.coil_entering_c, above("t_in")))
}

#[allow(clippy::too_many_arguments)]
fn fan(
    cx: Cx<'_>,
    symbol: &str,
    meaning: &str,
    (m, m_o): (f64, Origin),
    ((t, t_o), (w, w_o)): ((f64, Origin), (f64, Origin)),
    (pa, pa_o): (f64, Origin),
    value: f64,
    out: &mut Vec<Line>,
) {
    let e = &cx.project.primary_air.fan_efficiency;
    let (line, rho) = air::density(cx, "rho", "dry air entering the fan", (t, t_o), (w, w_o));
    out.push(line);
    out.push(
        Line::new(symbol, meaning, "m / rho * p / e")
            .with("m", K::MassFlow, m, m_o)
            .with("rho", K::Density, rho, above("rho"))
            .with("p", K::PressureDifference, pa, pa_o)
            .with("e", K::Fraction, e.value.to_ratio(), e.origin.clone())
            .result(K::Power, value)
            .source(Source::new("definition", "volume flow times total pressure over efficiency")),
    );
}
