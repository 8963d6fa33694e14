//! Sheets of the air states along the primary-air unit.

use super::unit::slug_case;
use super::{BALANCE_HEAT, Cx, Lines, MOIST_AIR, STANDARD_FLOW, above, air, constant, given, see};
use crate::design::{AirPoint, Condition, PrimaryUnitCase};
use crate::machines::{BYPASS, FROST_GUARD_C, RECOVERY_EXPONENT, WRAP_AROUND};
use crate::schedule::slug;
use drycoil_air::raw;
use drycoil_exchange::effectiveness::{FlowArrangement, raw as effectiveness, transfer_units};
use drycoil_project::{RecoveryKind, ReheatKind};
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

const EXCHANGER: Source = Source::new(
    "effectiveness of the recovery",
    "rated effectiveness, scaled with flow ratio, leakage and share in use",
);

/// A point of a case.
struct At<'a> {
    cx: Cx<'a>,
    case: &'a PrimaryUnitCase,
    index: usize,
}

/// Lines of one state; `rest` is the quantity without the prefix of the case.
pub(crate) fn lines(cx: Cx<'_>, case: &PrimaryUnitCase, rest: &str) -> Lines {
    let (index, key) = case
        .points
        .iter()
        .enumerate()
        .find_map(|(i, p)| rest.strip_prefix(&format!("{}_", slug(&p.point))).map(|k| (i, k)))?;
    let at = At { cx, case, index };
    let p = &case.points[index];
    let here = |q: &str| at.see(index, q);
    let mut out = Vec::new();
    let (t, w) = (p.dry_bulb_c, p.humidity_ratio_kg_per_kg);
    match key {
        "dry_bulb" => at.dry_bulb(p, &mut out),
        "humidity_ratio" => at.humidity_ratio(p, &mut out),
        "dew_point" => {
            air::dew_point(cx, &mut out, "t_dp", "dew point", (w, here("humidity_ratio")), p.dew_point_c);
        }
        "wet_bulb" => at.wet_bulb(p, &mut out),
        "enthalpy" => {
            out.push(air::enthalpy("h", "enthalpy", (t, here("dry_bulb")), (w, here("humidity_ratio"))));
        }
        "standard_flow" => at.standard_flow(p, &mut out),
        "actual_flow" => {
            let (line, rho) = air::density(
                cx,
                "rho",
                "dry air in this state",
                (t, here("dry_bulb")),
                (w, here("humidity_ratio")),
            );
            out.push(line);
            out.push(
                Line::new("V_actual", "actual flow", "V * rho_0 / rho")
                    .with("V", K::StandardAirFlow, p.standard_m3_per_s, here("standard_flow"))
                    .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                    .with("rho", K::Density, rho, above("rho"))
                    .result(K::ActualAirFlow, p.actual_m3_per_s)
                    .source(STANDARD_FLOW),
            );
        }
        _ => return None,
    }
    Some(out)
}

/// Dry-air flows of the recovery, as lines that end in `m`, `m_out` and `m_ex`.
pub(crate) fn flows(cx: Cx<'_>, c: &PrimaryUnitCase, out: &mut Vec<Line>) {
    let own = |point: &str, q: &str| see("primary air", &format!("{}{}_{q}", slug_case(c), slug(point)));
    let through = c.points[0].standard_m3_per_s;
    let (line, m) =
        air::mass_flow("m", "the air through the unit", through, own("outdoor air", "standard_flow"));
    out.push(line);
    let u = &cx.design.primary_unit;
    let carry = 1.0 - c.outdoor_kg_per_s / m;
    let source = Source::new("mass balance of air", "carry-over of the recovery");
    if carry.abs() < 1e-12 {
        out.push(
            Line::new("m_out", "outdoor air through the exchanger: nothing is carried over", "m")
                .with("m", K::MassFlow, m, above("m"))
                .result(K::MassFlow, c.outdoor_kg_per_s)
                .source(source.clone()),
        );
        out.push(
            Line::new("m_ex", "exhaust through the exchanger", "V_exhaust * rho_0")
                .with("V_exhaust", K::StandardAirFlow, u.exhaust_m3_per_s, see("primary air", "exhaust_flow"))
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .result(K::MassFlow, c.exhaust_leaving_kg_per_s)
                .source(source),
        );
        return;
    }
    let transfer = &cx.project.primary_air.exhaust_transfer;
    let with_carry = |l: Line| {
        l.with("m", K::MassFlow, m, above("m")).with(
            "c_over",
            K::Fraction,
            transfer.value.to_ratio(),
            transfer.origin.clone(),
        )
    };
    out.push(
        with_carry(Line::new(
            "m_out",
            "outdoor air through the exchanger: the unit's air less what is carried over",
            "m * (1 - c_over)",
        ))
        .result(K::MassFlow, c.outdoor_kg_per_s)
        .source(source.clone()),
    );
    out.push(
        with_carry(Line::new(
            "m_ex",
            "exhaust that leaves through the exchanger, carry-over taken off",
            "V_exhaust * rho_0 - m * c_over",
        ))
        .with("V_exhaust", K::StandardAirFlow, u.exhaust_m3_per_s, see("primary air", "exhaust_flow"))
        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
        .result(K::MassFlow, c.exhaust_leaving_kg_per_s)
        .source(source),
    );
}

/// Room air on its way to the recovery, as lines that end in `t_exhaust` and `W_exhaust`.
fn exhaust_air(cx: Cx<'_>, c: &PrimaryUnitCase, out: &mut Vec<Line>) {
    let winter = c.case == "heating";
    let quantity = if winter { "heating_set_point" } else { "cooling_set_point" };
    let mut line = Line::new("t_exhaust", "room air to the recovery: mean set point by floor area", "");
    let (mut top, mut bottom) = (Vec::new(), Vec::new());
    for (i, r) in cx.project.rooms.iter().enumerate() {
        let t = if winter { &r.heating_set_point } else { &r.cooling_set_point };
        let (a, x) = (format!("A_{}", i + 1), format!("t_{}", i + 1));
        line = line
            .with(a.clone(), K::Area, r.floor_area.value.to_square_metres(), see(&r.id, "floor_area"))
            .with(x.clone(), K::Temperature, t.value.to_celsius(), see(&r.id, quantity));
        top.push(format!("{a} * {x}"));
        bottom.push(a);
    }
    line.formula = format!("sum({}) / sum({})", top.join(", "), bottom.join(", "));
    out.push(
        line.result(K::Temperature, c.exhaust_dry_bulb_c)
            .source(Source::new("common practice, no source", "one mixed return of all rooms")),
    );
    let supply = cx.design.dew_point.supply_humidity_ratio_kg_per_kg;
    let outdoor = c.points[0].humidity_ratio_kg_per_kg;
    let needs = &cx.design.needs;
    let fixed: f64 = needs.iter().map(|n| n.fixed_m3_per_s).sum();
    let latent: f64 = needs.iter().filter(|n| super::needs::on_primary(n)).map(|n| n.latent_kg_per_s).sum();
    let gain = c.exhaust_humidity_ratio_kg_per_kg - supply.min(outdoor);
    let kind = K::HumidityRatio;
    let found = if fixed > 0.0 { 0.5 * latent / (fixed * RHO) } else { 0.0 };
    let origin = if gain > 0.0 && (found - gain).abs() <= 1e-9 {
        out.push(super::sum_line(
            "m_latent",
            "moisture of the rooms on primary air at full use",
            K::MassFlow,
            latent,
            needs
                .iter()
                .enumerate()
                .filter(|(_, n)| super::needs::on_primary(n) && n.latent_kg_per_s > 0.0)
                .map(|(i, n)| (format!("m_{}", i + 1), n.latent_kg_per_s, see(&n.room, "latent_moisture"))),
        ));
        out.push(super::sum_line(
            "V_fixed",
            "primary air that the rooms need whatever its dew point",
            K::StandardAirFlow,
            fixed,
            needs
                .iter()
                .enumerate()
                .filter(|(_, n)| n.fixed_m3_per_s > 0.0)
                .map(|(i, n)| (format!("V_{}", i + 1), n.fixed_m3_per_s, see(&n.room, "fixed_flow"))),
        ));
        out.push(
            Line::new(
                "dW",
                "what the rooms add on the mean: half of their gain at full use",
                "0.5 * m_latent / (V_fixed * rho_0)",
            )
            .with("m_latent", K::MassFlow, latent, above("m_latent"))
            .with("V_fixed", K::StandardAirFlow, fixed, above("V_fixed"))
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .result(kind, gain)
            .source(Source::new("common practice, no source", "mean over the occupied hours")),
        );
        above("dW")
    } else {
        Origin::default_value("half the gain of the rooms at full use", "common practice, no source")
    };
    out.push(
        Line::new(
            "W_exhaust",
            "humidity ratio of that air: supplied, and what the rooms add",
            "min(W_supply, W_out) + dW",
        )
        .with("W_supply", kind, supply, see("dew point", "supply_humidity_ratio"))
        .with(
            "W_out",
            kind,
            outdoor,
            see("primary air", &format!("{}outdoor_air_humidity_ratio", slug_case(c))),
        )
        .with("dW", kind, gain, origin)
        .result(kind, c.exhaust_humidity_ratio_kg_per_kg)
        .source(Source::new("mass balance of water vapour", "building")),
    );
}

/// Temperature to which the unit heats or reheats its discharge.
fn discharge_set(cx: Cx<'_>) -> (f64, Origin) {
    let a = &cx.project.primary_air;
    let set = if a.reheat.value == ReheatKind::None { &a.winter_temperature } else { &a.reheat_temperature };
    (set.value.to_celsius(), set.origin.clone())
}

/// The temperature before the fan with which the discharge is as warm as asked, as lines that end in the symbol.
pub(crate) fn asked(
    cx: Cx<'_>,
    symbol: &str,
    meaning: &str,
    (w, w_o): (f64, Origin),
    value: f64,
    out: &mut Vec<Line>,
) {
    let a = &cx.project.primary_air;
    let (pa, e) = (a.supply_fan_pressure.value.to_pascals(), a.fan_efficiency.value.to_ratio());
    let cp = air::cp(out, "c_p", "the air", w, w_o.clone());
    let k = pa * 287.042 * (1.0 + 1.607_858 * w) / (cx.p() * e * cp);
    out.push(
        Line::new(
            "k",
            "warming by the fan over absolute temperature: its power is that of the volume",
            "p_fan * R * (1 + 1.607858 * W) / (p * e * c_p)",
        )
        .with("p_fan", K::PressureDifference, pa, a.supply_fan_pressure.origin.clone())
        .with("R", K::SpecificHeat, 287.042, constant("gas constant of dry air"))
        .with("W", K::HumidityRatio, w, w_o)
        .with("p", K::Pressure, cx.p(), cx.pressure_origin())
        .with("e", K::Fraction, e, a.fan_efficiency.origin.clone())
        .with("c_p", K::SpecificHeat, cp, above("c_p"))
        .result_number(k)
        .source(BALANCE_HEAT),
    );
    let set = discharge_set(cx);
    out.push(
        Line::new(symbol, meaning, "t_zero + (t_set - t_zero) / (1 + k)")
            .with("t_zero", K::Temperature, -273.15, constant("absolute zero"))
            .with("t_set", K::Temperature, set.0, set.1)
            .with_number("k", k, above("k"))
            .result(K::Temperature, value)
            .source(BALANCE_HEAT)
            .note("the fan warms the air to the temperature asked"),
    );
}

/// Heat that a wrap-around carries past the drying coil, as lines that end in `q_wrap`.
pub(crate) fn wrap_around(cx: Cx<'_>, c: &PrimaryUnitCase, out: &mut Vec<Line>) -> Option<()> {
    let own = |point: &str, q: &str| see("primary air", &format!("{}{}_{q}", slug_case(c), slug(point)));
    let find = |name: &str| c.points.iter().find(|p| p.point == name);
    let (base, leaving) = (find("after heating coil")?, find("after drying coil")?);
    let w = (leaving.humidity_ratio_kg_per_kg, own("after drying coil", "humidity_ratio"));
    let c_before = air::cp(
        out,
        "c_before",
        "the air before the drying coil",
        base.humidity_ratio_kg_per_kg,
        own("after heating coil", "humidity_ratio"),
    );
    let c_after = air::cp(out, "c_after", "the air behind the drying coil", w.0, w.1.clone());
    let m = base.standard_m3_per_s * RHO;
    let (line, _) = air::mass_flow(
        "m",
        "the air through the unit",
        base.standard_m3_per_s,
        own("after heating coil", "standard_flow"),
    );
    out.push(line);
    let able = WRAP_AROUND * m * c_before.min(c_after) * (base.dry_bulb_c - leaving.dry_bulb_c);
    out.push(
        Line::new(
            "q_able",
            "heat that the coil pair carries",
            "e * m * min(c_before, c_after) * (t_before - t_after)",
        )
        .with_number(
            "e",
            WRAP_AROUND,
            Origin::default_value("effectiveness of the coil pair", "common practice, no source"),
        )
        .with("m", K::MassFlow, m, above("m"))
        .with("c_before", K::SpecificHeat, c_before, above("c_before"))
        .with("c_after", K::SpecificHeat, c_after, above("c_after"))
        .with("t_before", K::Temperature, base.dry_bulb_c, own("after heating coil", "dry_bulb"))
        .with("t_after", K::Temperature, leaving.dry_bulb_c, own("after drying coil", "dry_bulb"))
        .result(K::Power, able)
        .source(BALANCE_HEAT),
    );
    let set = discharge_set(cx);
    let a = &cx.project.primary_air;
    let cp = raw::humid_specific_heat_j_per_kg_k(w.0);
    let k = a.supply_fan_pressure.value.to_pascals() * 287.042 * (1.0 + 1.607_858 * w.0)
        / (cx.p() * a.fan_efficiency.value.to_ratio() * cp);
    let wish = (set.0 + 273.15) / (1.0 + k) - 273.15;
    asked(
        cx,
        "t_wish",
        "temperature behind the coil pair with which the discharge is as warm as asked",
        w,
        wish,
        out,
    );
    let wanted = m * c_after * (wish - leaving.dry_bulb_c).max(0.0);
    out.push(
        Line::new("q_wrap", "heat carried: what the pair can, and no more than is asked", "min(q_able, m * c_after * max(0, t_wish - t_after))")
            .with("q_able", K::Power, able, above("q_able"))
            .with("m", K::MassFlow, m, above("m"))
            .with("c_after", K::SpecificHeat, c_after, above("c_after"))
            .with("t_wish", K::Temperature, wish, above("t_wish"))
            .with("t_after", K::Temperature, leaving.dry_bulb_c, own("after drying coil", "dry_bulb"))
            .result(K::Power, c.wrap_around_w)
            .source(BALANCE_HEAT)
            .note("solved together with the drying coil, whose entering air it cools; the balance closes with the states shown"),
    );
    debug_assert!((able.min(wanted) - c.wrap_around_w).abs() <= 1e-6 * able.abs().max(1.0));
    Some(())
}

/// Air behind the exchanger, as lines that end in `t_exchanged` and `W_exchanged`.
pub(crate) fn exchanged(cx: Cx<'_>, case: &PrimaryUnitCase, out: &mut Vec<Line>) -> Option<()> {
    let index = case.points.iter().position(|p| p.point == "after recovery")?;
    At { cx, case, index }.exchanged(out);
    Some(())
}

impl At<'_> {
    fn see(&self, index: usize, quantity: &str) -> Origin {
        see(
            "primary air",
            &format!("{}{}_{quantity}", slug_case(self.case), slug(&self.case.points[index].point)),
        )
    }

    fn condition(&self) -> &Condition {
        let c = &self.cx.design.conditions;
        match self.case.case.as_str() {
            "dehumidification" => &c.dehumidification,
            "cooling" => &c.cooling,
            _ => &c.heating,
        }
    }

    fn weather(&self) -> Origin {
        Origin::Weather(format!("{} condition, {}", self.case.case, self.condition().method))
    }

    /// The same value as the point before.
    fn unchanged(&self, kind: K, quantity: &str, value: f64, why: &str) -> Line {
        Line::new("x", format!("{}, {why}", quantity.replace('_', " ")), "before")
            .with("before", kind, value, self.see(self.index - 1, quantity))
            .result(kind, value)
            .source(Source::new("definition", "unchanged"))
    }

    /// Mean of outdoor air behind the exchanger and carried-over exhaust, as a line.
    fn carried(
        &self,
        kind: K,
        symbol: &str,
        meaning: &str,
        (exchanged, exhaust): (f64, f64),
        value: f64,
        out: &mut Vec<Line>,
    ) {
        let c = self.case;
        let m = c.points[self.index].standard_m3_per_s * RHO;
        out.push(
            Line::new(symbol, meaning, "m_out / m * W_exchanged + (1 - m_out / m) * W_exhaust")
                .with("m_out", K::MassFlow, c.outdoor_kg_per_s, above("m_out"))
                .with("m", K::MassFlow, m, above("m"))
                .with("W_exchanged", kind, exchanged, above("W_exchanged"))
                .with("W_exhaust", kind, exhaust, above("W_exhaust"))
                .result(kind, value)
                .source(Source::new("mixing by mass", "carry-over of the recovery")),
        );
    }

    fn dry_bulb(&self, p: &AirPoint, out: &mut Vec<Line>) {
        let (cx, c, points) = (self.cx, self.case, &self.case.points);
        let a = &cx.project.primary_air;
        let t = p.dry_bulb_c;
        let kind = K::Temperature;
        let before = (self.index > 0).then(|| &points[self.index - 1]);
        let m = p.standard_m3_per_s * RHO;
        match p.point.as_str() {
            "outdoor air" => out.push(given("t", "outdoor dry bulb", kind, t, self.weather())),
            "after recovery" => {
                if c.recovery_share == 0.0 {
                    out.push(self.unchanged(kind, "dry_bulb", t, "the recovery is not in use"));
                    return;
                }
                let (t_x, w_x) = self.exchanged(out);
                // Mixing conserves enthalpy; the dry bulb follows from enthalpy and humidity ratio.
                let share = c.outdoor_kg_per_s / m;
                let h_x = raw::enthalpy_j_per_kg(t_x, w_x);
                let h_e = raw::enthalpy_j_per_kg(c.exhaust_dry_bulb_c, c.exhaust_humidity_ratio_kg_per_kg);
                out.push(air::enthalpy(
                    "h_exchanged",
                    "enthalpy behind the exchanger",
                    (t_x, above("t_exchanged")),
                    (w_x, above("W_exchanged")),
                ));
                out.push(air::enthalpy(
                    "h_exhaust",
                    "enthalpy of the exhaust that enters the recovery",
                    (c.exhaust_dry_bulb_c, above("t_exhaust")),
                    (c.exhaust_humidity_ratio_kg_per_kg, above("W_exhaust")),
                ));
                let h = share * h_x + (1.0 - share) * h_e;
                out.push(
                    Line::new(
                        "h_mix",
                        "enthalpy with the exhaust that is carried over",
                        "m_out / m * h_exchanged + (1 - m_out / m) * h_exhaust",
                    )
                    .with("m_out", K::MassFlow, c.outdoor_kg_per_s, above("m_out"))
                    .with("m", K::MassFlow, m, above("m"))
                    .with("h_exchanged", K::SpecificEnthalpy, h_x, above("h_exchanged"))
                    .with("h_exhaust", K::SpecificEnthalpy, h_e, above("h_exhaust"))
                    .result(K::SpecificEnthalpy, h)
                    .source(Source::new("mixing by mass", "carry-over of the recovery")),
                );
                out.push(
                    Line::new(
                        "t",
                        "dry bulb after the recovery",
                        "t_0 + (h_mix - h_0 * W) / (c_da + c_v * W)",
                    )
                    .with("t_0", kind, 0.0, constant("zero of enthalpy, 0 degC"))
                    .with("h_mix", K::SpecificEnthalpy, h, above("h_mix"))
                    .with("h_0", K::SpecificEnthalpy, 2_501_000.0, constant("heat of vaporization at 0 degC"))
                    .with("W", K::HumidityRatio, p.humidity_ratio_kg_per_kg, self.see(1, "humidity_ratio"))
                    .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
                    .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
                    .result(kind, t)
                    .source(MOIST_AIR),
                );
            }
            "after heating coil" if c.heating_w > 0.0 => {
                self.asked("t", "heated so that the discharge is as warm as asked", t, out);
            }
            "after drying coil" if before.is_some_and(|b| b.dry_bulb_c != t) => {
                let Some((t_in, t_origin)) = super::unit::entering(cx, c, out) else { return };
                let line = t_in - (1.0 - BYPASS) * (t_in - c.apparatus_dew_point_c);
                if (line - t).abs() < 1e-9 {
                    super::unit::apparatus(cx, c, c.apparatus_dew_point_c, out);
                    out.push(
                        Line::new(
                            "t",
                            "air leaving the drying coil, on the line to the apparatus dew point",
                            "t_in - (1 - b) * (t_in - t_adp)",
                        )
                        .with("t_in", kind, t_in, t_origin)
                        .with("b", K::Fraction, BYPASS, see("primary air", "bypass_factor"))
                        .with("t_adp", kind, c.apparatus_dew_point_c, above("t_adp"))
                        .result(kind, t)
                        .source(Source::new("apparatus dew point and bypass", "straight process line")),
                    );
                } else {
                    air::dew_point(
                        cx,
                        out,
                        "t",
                        "air leaving the drying coil: saturated, since the straight line would lie in fog",
                        (p.humidity_ratio_kg_per_kg, self.see(self.index, "humidity_ratio")),
                        t,
                    );
                }
            }
            "after reheat" if c.reheat_w > c.heating_w => {
                self.asked("t", "reheated so that the discharge is as warm as asked", t, out);
            }
            "after reheat" if c.wrap_around_w > 0.0 => {
                self.wrapped(t, out);
            }
            "after fan" => {
                let b = &points[self.index - 1];
                let cp = air::cp(
                    out,
                    "c_p",
                    "the air",
                    p.humidity_ratio_kg_per_kg,
                    self.see(self.index, "humidity_ratio"),
                );
                out.push(
                    Line::new(
                        "t",
                        "discharge of the unit, behind its fan",
                        "t_in + P_fan / (V * rho_0 * c_p)",
                    )
                    .with("t_in", kind, b.dry_bulb_c, self.see(self.index - 1, "dry_bulb"))
                    .with(
                        "P_fan",
                        K::Power,
                        c.supply_fan_w,
                        see("primary air", &format!("{}supply_fan_power", slug_case(c))),
                    )
                    .with("V", K::StandardAirFlow, p.standard_m3_per_s, self.see(self.index, "standard_flow"))
                    .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                    .with("c_p", K::SpecificHeat, cp, above("c_p"))
                    .result(kind, t)
                    .source(BALANCE_HEAT)
                    .note("the motor stands in the air stream, so all its power warms the air"),
                );
            }
            "delivered" => {
                let b = &points[self.index - 1];
                out.push(
                    Line::new("t", "delivered to the rooms", "t_in + dT_duct")
                        .with("t_in", kind, b.dry_bulb_c, self.see(self.index - 1, "dry_bulb"))
                        .with(
                            "dT_duct",
                            K::TemperatureDifference,
                            a.duct_gain.value.to_kelvin(),
                            a.duct_gain.origin.clone(),
                        )
                        .result(kind, t)
                        .source(BALANCE_HEAT),
                );
            }
            "exhaust after recovery" => {
                self.exhaust(kind, t, out);
            }
            _ => out.push(self.unchanged(kind, "dry_bulb", t, "nothing happens here in this condition")),
        }
    }

    /// The temperature before the fan with which the discharge is as warm as asked.
    fn asked(&self, symbol: &str, meaning: &str, value: f64, out: &mut Vec<Line>) {
        let p = &self.case.points[self.index];
        let w = (p.humidity_ratio_kg_per_kg, self.see(self.index, "humidity_ratio"));
        asked(self.cx, symbol, meaning, w, value, out);
    }

    /// The temperature behind the second coil of a wrap-around.
    fn wrapped(&self, value: f64, out: &mut Vec<Line>) {
        let (p, b) = (&self.case.points[self.index], &self.case.points[self.index - 1]);
        wrap_around(self.cx, self.case, out);
        let cp = air::cp(
            out,
            "c_p",
            "the air",
            b.humidity_ratio_kg_per_kg,
            self.see(self.index - 1, "humidity_ratio"),
        );
        out.push(
            Line::new(
                "t",
                "warmed by the coil pair around the drying coil",
                "t_in + q_wrap / (V * rho_0 * c_p)",
            )
            .with("t_in", K::Temperature, b.dry_bulb_c, self.see(self.index - 1, "dry_bulb"))
            .with("q_wrap", K::Power, self.case.wrap_around_w, above("q_wrap"))
            .with("V", K::StandardAirFlow, p.standard_m3_per_s, self.see(self.index, "standard_flow"))
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .with("c_p", K::SpecificHeat, cp, above("c_p"))
            .result(K::Temperature, value)
            .source(BALANCE_HEAT),
        );
    }

    /// Air behind the exchanger, before carried-over exhaust joins: lines that end in `t_exchanged` and `W_exchanged`.
    fn exchanged(&self, out: &mut Vec<Line>) -> (f64, f64) {
        let (cx, c) = (self.cx, self.case);
        let a = &cx.project.primary_air;
        let b = &c.points[0];
        flows(cx, c, out);
        exhaust_air(cx, c, out);
        let share_of = |x: f64, out: f64, ex: f64| if ex == out { 0.0 } else { (x - out) / (ex - out) };
        let (t, w) = (c.after_exchanger_c, c.after_exchanger_humidity_ratio_kg_per_kg);
        let (t_o, w_o) = (b.dry_bulb_c, b.humidity_ratio_kg_per_kg);
        let (t_e, w_e) = (c.exhaust_dry_bulb_c, c.exhaust_humidity_ratio_kg_per_kg);
        let (ratio, origin) = self.reached(
            "sensible",
            a.recovery_sensible.value.to_ratio(),
            a.recovery_sensible.origin.clone(),
            (share_of(t, t_o, t_e), t_e != t_o),
            out,
        );
        let kind = K::Temperature;
        out.push(
            Line::new("t_exchanged", "dry bulb behind the exchanger", "t_out + e * (t_exhaust - t_out)")
                .with("t_out", kind, t_o, self.see(0, "dry_bulb"))
                .with_number("e", ratio, origin)
                .with("t_exhaust", kind, t_e, above("t_exhaust"))
                .result(kind, t)
                .source(EXCHANGER),
        );
        let kind = K::HumidityRatio;
        if w == w_o {
            out.push(
                Line::new("W_exchanged", "humidity ratio behind the exchanger: no moisture passes", "W_out")
                    .with("W_out", kind, w_o, self.see(0, "humidity_ratio"))
                    .result(kind, w)
                    .source(EXCHANGER),
            );
            return (t, w);
        }
        let (ratio, origin) = self.reached(
            "latent",
            a.recovery_latent.value.to_ratio(),
            a.recovery_latent.origin.clone(),
            (share_of(w, w_o, w_e), w_e != w_o),
            out,
        );
        out.push(
            Line::new(
                "W_exchanged",
                "humidity ratio behind the exchanger",
                "W_out + e * (W_exhaust - W_out)",
            )
            .with("W_out", kind, w_o, self.see(0, "humidity_ratio"))
            .with_number("e", ratio, origin)
            .with("W_exhaust", kind, w_e, above("W_exhaust"))
            .result(kind, w)
            .source(EXCHANGER),
        );
        self.searched_share(out);
        (t, w)
    }

    /// What a share of the recovery that was searched for leaves of what it was searched for, as a line `r`.
    fn searched_share(&self, out: &mut Vec<Line>) {
        let (c, points) = (self.case, &self.case.points);
        let find = |name: &str| points.iter().position(|p| p.point == name);
        let (Some(leaving), Some(fan)) = (find("exhaust after recovery"), find("after fan")) else { return };
        if c.recovery_share == 1.0 {
            return;
        }
        let kind = K::TemperatureDifference;
        let rest = Source::new("definition", "what the search leaves");
        if (points[leaving].dry_bulb_c - FROST_GUARD_C).abs() < 1e-3 {
            out.push(
                Line::new(
                    "r",
                    "exhaust that leaves, less the guard against frost, to which the share is turned down",
                    "t_leaving - t_guard",
                )
                .with("t_leaving", K::Temperature, points[leaving].dry_bulb_c, self.see(leaving, "dry_bulb"))
                .with(
                    "t_guard",
                    K::Temperature,
                    FROST_GUARD_C,
                    Origin::default_value("exhaust is kept above this", "common practice, no source"),
                )
                .result(kind, points[leaving].dry_bulb_c - FROST_GUARD_C)
                .source(rest),
            );
            return;
        }
        let set = discharge_set(self.cx);
        let supply = &self.cx.design.dew_point.supply_humidity_ratio_kg_per_kg;
        if (points[fan].dry_bulb_c - set.0).abs() < 0.05 {
            out.push(
                Line::new(
                    "r",
                    "discharge of the unit less the temperature asked, for which the share is chosen",
                    "t_discharge - t_set",
                )
                .with("t_discharge", K::Temperature, points[fan].dry_bulb_c, self.see(fan, "dry_bulb"))
                .with("t_set", K::Temperature, set.0, set.1)
                .result(kind, points[fan].dry_bulb_c - set.0)
                .source(rest)
                .note("a straight line through no and full exchange, and one correction"),
            );
        } else if (points[1].humidity_ratio_kg_per_kg - supply).abs() < 1e-5 {
            out.push(
                Line::new("r", "humidity ratio behind the recovery less that of the supply, for which the share is chosen", "W_mixed - W_supply")
                    .with("W_mixed", K::HumidityRatio, points[1].humidity_ratio_kg_per_kg, self.see(1, "humidity_ratio"))
                    .with("W_supply", K::HumidityRatio, *supply, see("dew point", "supply_humidity_ratio"))
                    .result(K::HumidityRatio, points[1].humidity_ratio_kg_per_kg - supply)
                    .source(rest)
                    .note("a straight line through no and full exchange, and one correction"),
            );
        }
    }

    fn effectiveness(&self, what: &str, rated: f64) -> Origin {
        Origin::Table {
            row: format!(
                "{what} effectiveness reached: rated {:.0} % at equal flows, share in use {:.0} %",
                rated * 100.0,
                self.case.recovery_share * 100.0
            ),
            source: "recovery of the project, at these flows".into(),
            place: None,
        }
    }

    /// Share of the difference that the outdoor air gets, as lines from the rating; the share itself where the exchanger
    /// condenses or does not pass this kind of heat.
    fn reached(
        &self,
        what: &str,
        rated: f64,
        rated_o: Origin,
        (reached, spans): (f64, bool),
        out: &mut Vec<Line>,
    ) -> (f64, Origin) {
        let (cx, c) = (self.cx, self.case);
        let wheel = cx.project.primary_air.recovery.value == RecoveryKind::EnthalpyWheel;
        let fallback = (reached, self.effectiveness(what, rated));
        if !spans || rated <= 0.0 || (!wheel && what == "latent") {
            return fallback;
        }
        let m_0 = c.points[1].standard_m3_per_s * RHO;
        let (m_o, m_x) = (c.outdoor_kg_per_s, c.exhaust_leaving_kg_per_s);
        let (low, high) = (m_o.min(m_x), m_o.max(m_x));
        let ratio = low / high;
        let arrangement =
            if wheel { FlowArrangement::Counterflow } else { FlowArrangement::CrossBothUnmixed };
        let Ok(n_rated) = transfer_units(arrangement, rated, 1.0).map(|n| n.ntu) else { return fallback };
        let x = RECOVERY_EXPONENT;
        let side = 2.0 / ((m_o / m_0).powf(-x) + (m_x / m_0).powf(-x));
        let ntu = n_rated * side * m_0 / low;
        let full = effectiveness::effectiveness(arrangement, ntu, ratio);
        let share = c.recovery_share;
        let value = share * full * low / m_o;
        // Air that condenses in the exchanger leaves on another path than the rated one.
        if (value - reached).abs() > 1e-7 {
            return fallback;
        }
        let mut lines = Vec::new();
        if wheel {
            lines.push(
                Line::new(
                    "N_rated",
                    format!("transfer units of the {what} rating, counterflow at equal flows"),
                    "e_rated / (1 - e_rated)",
                )
                .with_number("e_rated", rated, rated_o)
                .result_number(n_rated)
                .source(EXCHANGER),
            );
        } else {
            lines.push(super::given_number(
                "NTU",
                format!("transfer units of the {what} rating"),
                n_rated,
                constant("found by bisection; the series below returns the rated effectiveness"),
            ));
            let meaning = "effectiveness that these transfer units give at equal flows";
            super::coil::unmixed(
                &mut lines,
                "e_back",
                meaning,
                (n_rated, above("NTU")),
                (1.0, constant("equal flows")),
                effectiveness::effectiveness(arrangement, n_rated, 1.0),
            );
            lines.push(
                Line::new("r", "what the search leaves of the rating", "e_back - e_rated")
                    .with_number(
                        "e_back",
                        effectiveness::effectiveness(arrangement, n_rated, 1.0),
                        above("e_back"),
                    )
                    .with_number("e_rated", rated, rated_o)
                    .result_number(effectiveness::effectiveness(arrangement, n_rated, 1.0) - rated)
                    .source(EXCHANGER)
                    .note("tolerance 1e-15"),
            );
            lines.push(
                Line::new("N_rated", "transfer units at the rating", "NTU")
                    .with_number("NTU", n_rated, above("NTU"))
                    .result_number(n_rated)
                    .source(EXCHANGER),
            );
        }
        let flows = |l: Line| {
            l.with("m_out", K::MassFlow, m_o, above("m_out")).with("m_ex", K::MassFlow, m_x, above("m_ex"))
        };
        lines.push(
            flows(Line::new(
                "NTU",
                "transfer units at these flows; each side's coefficient follows its flow",
                "N_rated * 2 / ((m_out / m_0) ^ (-k) + (m_ex / m_0) ^ (-k)) * m_0 / min(m_out, m_ex)",
            ))
            .with_number("N_rated", n_rated, above("N_rated"))
            .with("m_0", K::MassFlow, m_0, above("m"))
            .with_number(
                "k",
                x,
                Origin::default_value("exponent of the transfer coefficients", "common practice, no source"),
            )
            .result_number(ntu)
            .source(EXCHANGER),
        );
        lines.push(
            flows(Line::new("R", "smaller flow over larger", "min(m_out, m_ex) / max(m_out, m_ex)"))
                .result_number(ratio)
                .source(EXCHANGER),
        );
        if wheel && ratio < 1.0 {
            lines.push(
                Line::new(
                    "e_full",
                    "effectiveness of the whole exchange, on the smaller flow",
                    "(1 - exp(-NTU * (1 - R))) / (1 - R * exp(-NTU * (1 - R)))",
                )
                .with_number("NTU", ntu, above("NTU"))
                .with_number("R", ratio, above("R"))
                .result_number(full)
                .source(EXCHANGER),
            );
        } else if wheel {
            lines.push(
                Line::new("e_full", "effectiveness of the whole exchange at equal flows", "NTU / (1 + NTU)")
                    .with_number("NTU", ntu, above("NTU"))
                    .result_number(full)
                    .source(EXCHANGER),
            );
        } else {
            let meaning = "effectiveness of the whole exchange, cross-flow, on the smaller flow";
            super::coil::unmixed(
                &mut lines,
                "e_full",
                meaning,
                (ntu, above("NTU")),
                (ratio, above("R")),
                full,
            );
        }
        lines.push(
            flows(Line::new(
                "e",
                format!("{what} effectiveness reached, on the outdoor air"),
                "s * e_full * min(m_out, m_ex) / m_out",
            ))
            .with_number("s", share, constant(self.why_share()))
            .with_number("e_full", full, above("e_full"))
            .result_number(value)
            .source(EXCHANGER),
        );
        out.extend(lines);
        (reached, above("e"))
    }

    /// What decides the share of the recovery in use.
    fn why_share(&self) -> &'static str {
        let c = self.case;
        let exhaust = c.points.iter().find(|p| p.point == "exhaust after recovery");
        if c.recovery_share == 1.0 {
            "share in use: all"
        } else if exhaust.is_some_and(|p| (p.dry_bulb_c - FROST_GUARD_C).abs() < 1e-3) {
            "share in use, found by search: the exhaust leaves at 1 degC, the guard against frost"
        } else {
            "share in use, found by search: the least cost of heating and drying in this condition"
        }
    }

    /// The exhaust behind the recovery.
    fn exhaust(&self, kind: K, value: f64, out: &mut Vec<Line>) {
        let (cx, c) = (self.cx, self.case);
        if c.recovery_share == 0.0 {
            exhaust_air(cx, c, out);
            let (symbol, meaning, from) = match kind {
                K::Temperature => ("t", "dry bulb of the exhaust: the recovery is not in use", "t_exhaust"),
                _ => ("W", "humidity ratio of the exhaust: the recovery is not in use", "W_exhaust"),
            };
            out.push(
                Line::new(symbol, meaning, from)
                    .with(from, kind, value, above(from))
                    .result(kind, value)
                    .source(Source::new("definition", "unchanged")),
            );
            return;
        }
        let (t_x, w_x) = self.exchanged(out);
        let (b, m_o, m_x) = (&c.points[0], c.outdoor_kg_per_s, c.exhaust_leaving_kg_per_s);
        let part = m_o / m_x;
        let masses = |l: Line| {
            l.with("m_out", K::MassFlow, m_o, above("m_out")).with("m_ex", K::MassFlow, m_x, above("m_ex"))
        };
        let (w_e, t_e) = (c.exhaust_humidity_ratio_kg_per_kg, c.exhaust_dry_bulb_c);
        let w = w_e + part * (b.humidity_ratio_kg_per_kg - w_x);
        let condenses = (w - c.points[self.index].humidity_ratio_kg_per_kg).abs() > 1e-9;
        let line = masses(Line::new(
            if condenses { "W_all" } else { "W" },
            "humidity ratio of the exhaust behind the recovery: it takes what the outdoor air gives",
            "W_exhaust + m_out / m_ex * (W_out - W_exchanged)",
        ))
        .with("W_exhaust", K::HumidityRatio, w_e, above("W_exhaust"))
        .with("W_out", K::HumidityRatio, b.humidity_ratio_kg_per_kg, self.see(0, "humidity_ratio"))
        .with("W_exchanged", K::HumidityRatio, w_x, above("W_exchanged"))
        .result(K::HumidityRatio, w)
        .source(Source::new("mass balance of water vapour", "recovery"));
        out.push(line);
        if kind == K::HumidityRatio && !condenses {
            if let Some(last) = out.last_mut() {
                last.si = value;
            }
            return;
        }
        let (h_o, h_x, h_e) =
            (b.enthalpy_j_per_kg, raw::enthalpy_j_per_kg(t_x, w_x), raw::enthalpy_j_per_kg(t_e, w_e));
        out.push(air::enthalpy(
            "h_exchanged",
            "enthalpy of the outdoor air behind the exchanger",
            (t_x, above("t_exchanged")),
            (w_x, above("W_exchanged")),
        ));
        out.push(air::enthalpy(
            "h_exhaust",
            "enthalpy of the exhaust that enters",
            (t_e, above("t_exhaust")),
            (w_e, above("W_exhaust")),
        ));
        let h = h_e + part * (h_o - h_x);
        out.push(
            masses(Line::new(
                "h",
                "enthalpy of the exhaust that leaves",
                "h_exhaust + m_out / m_ex * (h_out - h_exchanged)",
            ))
            .with("h_exhaust", K::SpecificEnthalpy, h_e, above("h_exhaust"))
            .with("h_out", K::SpecificEnthalpy, h_o, self.see(0, "enthalpy"))
            .with("h_exchanged", K::SpecificEnthalpy, h_x, above("h_exchanged"))
            .result(K::SpecificEnthalpy, h)
            .source(BALANCE_HEAT),
        );
        if condenses {
            out.push(given(
                "x",
                "the exhaust is left saturated with this moisture and enthalpy: water drops out of it",
                kind,
                value,
                constant("saturated air at this enthalpy, found by search"),
            ));
            return;
        }
        out.push(
            Line::new(
                "t",
                "dry bulb of the exhaust behind the recovery",
                "t_0 + (h - h_0 * W) / (c_da + c_v * W)",
            )
            .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
            .with("h", K::SpecificEnthalpy, h, above("h"))
            .with("h_0", K::SpecificEnthalpy, 2_501_000.0, constant("heat of vaporization at 0 degC"))
            .with("W", K::HumidityRatio, w, above("W"))
            .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
            .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
            .result(kind, value)
            .source(MOIST_AIR),
        );
    }

    fn humidity_ratio(&self, p: &AirPoint, out: &mut Vec<Line>) {
        let (cx, c, points) = (self.cx, self.case, &self.case.points);
        let kind = K::HumidityRatio;
        let w = p.humidity_ratio_kg_per_kg;
        match p.point.as_str() {
            "outdoor air" => out.push(given("W", "outdoor humidity ratio", kind, w, self.weather())),
            "after recovery" => {
                if c.recovery_share == 0.0 {
                    out.push(self.unchanged(kind, "humidity_ratio", w, "the recovery is not in use"));
                    return;
                }
                let (_, x) = self.exchanged(out);
                self.carried(
                    kind,
                    "W",
                    "humidity ratio after the recovery",
                    (x, c.exhaust_humidity_ratio_kg_per_kg),
                    w,
                    out,
                );
            }
            "after drying coil" if points[self.index - 1].humidity_ratio_kg_per_kg != w => {
                let supply = cx.design.dew_point.supply_humidity_ratio_kg_per_kg;
                if (supply - w).abs() < 1e-10 {
                    out.push(
                        Line::new("W", "dried to the supply humidity ratio", "W_supply")
                            .with("W_supply", kind, supply, see("dew point", "supply_humidity_ratio"))
                            .result(kind, w)
                            .source(Source::new("definition", "what the coil is controlled to")),
                    );
                } else {
                    let b = &points[self.index - 1];
                    let water = &cx.project.primary_air.drying_water;
                    let w_adp = air::saturated(
                        cx,
                        out,
                        "adp",
                        water.value.to_celsius(),
                        water.origin.clone(),
                        "humidity ratio at the coldest apparatus dew point, the entering water",
                    );
                    out.push(
                        Line::new(
                            "W",
                            "the driest that the coil reaches with its water",
                            "W_in - (1 - b) * (W_in - W_adp)",
                        )
                        .with(
                            "W_in",
                            kind,
                            b.humidity_ratio_kg_per_kg,
                            self.see(self.index - 1, "humidity_ratio"),
                        )
                        .with("b", K::Fraction, BYPASS, see("primary air", "bypass_factor"))
                        .with("W_adp", kind, w_adp, above("W_adp"))
                        .result(kind, w)
                        .source(Source::new("apparatus dew point and bypass", "straight process line")),
                    );
                }
            }
            "exhaust after recovery" => {
                self.exhaust(kind, w, out);
            }
            _ => out.push(self.unchanged(kind, "humidity_ratio", w, "no moisture is added or taken")),
        }
    }

    fn wet_bulb(&self, p: &AirPoint, out: &mut Vec<Line>) {
        let (cx, t, w, b) = (self.cx, p.dry_bulb_c, p.humidity_ratio_kg_per_kg, p.wet_bulb_c);
        let w_s = air::saturated(
            cx,
            out,
            "b",
            b,
            constant("wet bulb found by Newton steps; the last line shows that no further step is needed"),
            "humidity ratio saturated at the wet bulb",
        );
        let (latent, slope, c_w, over) =
            if b < 0.0 { (2830e3, 240.0, 2100.0, "ice") } else { (2501e3, 2326.0, 4186.0, "water") };
        let read = raw::humidity_ratio_at_wet_bulb(t, b, cx.p());
        out.push(
            Line::new(
                "W_read",
                format!("humidity ratio of air with this wet bulb over {over}"),
                "((h_1 - c_1 * (t_b - t_0)) * W_s - c_da * (t - t_b)) / (h_1 + c_v * (t - t_0) - c_2 * (t_b - t_0))",
            )
            .with("h_1", K::SpecificEnthalpy, latent, constant("of the published equation"))
            .with("c_1", K::SpecificHeat, slope, constant("of the published equation"))
            .with("t_b", K::Temperature, b, constant("the solved wet bulb"))
            .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
            .with("W_s", K::HumidityRatio, w_s, above("W_b"))
            .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
            .with("t", K::Temperature, t, self.see(self.index, "dry_bulb"))
            .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
            .with("c_2", K::SpecificHeat, c_w, constant("of the published equation"))
            .result(K::HumidityRatio, read)
            .source(Source::new("ASHRAE Handbook Fundamentals 2017", "ch. 1, eq. 33 and 35")),
        );
        let step = 1e-3;
        let s = (raw::humidity_ratio_at_wet_bulb(t, b + step, cx.p())
            - raw::humidity_ratio_at_wet_bulb(t, b - step, cx.p()))
            / (2.0 * step);
        out.push(
            Line::new("t_wb", "wet bulb", "t_b - (W_read - W) / s * K_1")
                .with("t_b", K::Temperature, b, constant("the solved wet bulb"))
                .with("W_read", K::HumidityRatio, read, above("W_read"))
                .with("W", K::HumidityRatio, w, self.see(self.index, "humidity_ratio"))
                .with(
                    "s",
                    K::HumidityRatio,
                    s,
                    constant("slope of W_b for one kelvin of wet bulb, by differences"),
                )
                .with("K_1", K::TemperatureDifference, 1.0, constant("one kelvin"))
                .result(K::Temperature, b)
                .source(Source::new(
                    "Newton's method",
                    "one step from the solved temperature, which stays where it is",
                )),
        );
    }

    fn standard_flow(&self, p: &AirPoint, out: &mut Vec<Line>) {
        let flow = K::StandardAirFlow;
        let u = &self.cx.design.primary_unit;
        match p.point.as_str() {
            "delivered" => out.push(
                Line::new("V", "delivered to the rooms", "V_delivered")
                    .with("V_delivered", flow, u.delivered_m3_per_s, see("primary air", "delivered_flow"))
                    .result(flow, p.standard_m3_per_s)
                    .source(Source::new("definition", "sum of the rooms")),
            ),
            "exhaust after recovery" => out.push(
                Line::new("V", "exhaust through the recovery", "V_exhaust")
                    .with("V_exhaust", flow, u.exhaust_m3_per_s, see("primary air", "exhaust_flow"))
                    .result(flow, p.standard_m3_per_s)
                    .source(Source::new("definition", "sum of the rooms")),
            ),
            _ => {
                let leak = &self.cx.project.primary_air.duct_leakage;
                out.push(
                    Line::new(
                        "V",
                        "through the unit at design, duct leakage included",
                        "V_delivered / (1 - l)",
                    )
                    .with("V_delivered", flow, u.delivered_m3_per_s, see("primary air", "delivered_flow"))
                    .with("l", K::Fraction, leak.value.to_ratio(), leak.origin.clone())
                    .result(flow, p.standard_m3_per_s)
                    .source(Source::new("mass balance of air", "leakage of the duct")),
                );
            }
        }
    }
}
