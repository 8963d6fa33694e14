//! Sheets of the air states along the primary-air unit.

use super::unit::slug_case;
use super::{BALANCE_HEAT, Cx, Lines, MOIST_AIR, STANDARD_FLOW, above, air, constant, given, see};
use crate::design::{AirPoint, Condition, PrimaryUnitCase};
use crate::machines::{BYPASS, FROST_GUARD_C, RECOVERY_EXPONENT};
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
        let share = c.outdoor_kg_per_s / m;
        out.push(
            Line::new(symbol, meaning, "r * x_exchanged + (1 - r) * x_exhaust")
                .with_number(
                    "r",
                    share,
                    constant("outdoor air over air of the unit: the rest is carried over from the exhaust"),
                )
                .with("x_exchanged", kind, exchanged, above("x_exchanged"))
                .with("x_exhaust", kind, exhaust, constant("room air on its way to the recovery"))
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
                let b = &points[0];
                if c.recovery_share == 0.0 {
                    out.push(self.unchanged(kind, "dry_bulb", t, "the recovery is not in use"));
                    return;
                }
                let span = c.exhaust_dry_bulb_c - b.dry_bulb_c;
                let reached = if span == 0.0 { 0.0 } else { (c.after_exchanger_c - b.dry_bulb_c) / span };
                let rated = a.recovery_sensible.value.to_ratio();
                let (ratio, origin) = self.reached(
                    "sensible",
                    rated,
                    a.recovery_sensible.origin.clone(),
                    (reached, span != 0.0),
                    out,
                );
                out.push(
                    Line::new("x_exchanged", "behind the exchanger", "t_out + e * (t_exhaust - t_out)")
                        .with("t_out", kind, b.dry_bulb_c, self.see(0, "dry_bulb"))
                        .with_number("e", ratio, origin)
                        .with(
                            "t_exhaust",
                            kind,
                            c.exhaust_dry_bulb_c,
                            constant("mean room temperature, by floor area"),
                        )
                        .result(kind, c.after_exchanger_c)
                        .source(EXCHANGER),
                );
                // Mixing conserves enthalpy; the dry bulb follows from enthalpy and humidity ratio.
                let share = c.outdoor_kg_per_s / m;
                let h_x =
                    raw::enthalpy_j_per_kg(c.after_exchanger_c, c.after_exchanger_humidity_ratio_kg_per_kg);
                let h_e = raw::enthalpy_j_per_kg(c.exhaust_dry_bulb_c, c.exhaust_humidity_ratio_kg_per_kg);
                let h = share * h_x + (1.0 - share) * h_e;
                out.push(
                    Line::new(
                        "h_mix",
                        "enthalpy with the exhaust that is carried over",
                        "r * h_exchanged + (1 - r) * h_exhaust",
                    )
                    .with_number(
                        "r",
                        share,
                        constant("outdoor air over air of the unit: the rest is carried over"),
                    )
                    .with("h_exchanged", K::SpecificEnthalpy, h_x, constant("air behind the exchanger"))
                    .with("h_exhaust", K::SpecificEnthalpy, h_e, constant("exhaust entering the recovery"))
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
                self.heated("t", "heated so that the discharge is as warm as asked", c.heating_w, t, out);
            }
            "after drying coil" if before.is_some_and(|b| b.dry_bulb_c != t) => {
                let Some((t_in, t_origin)) = super::unit::entering(c, out) else { return };
                let line = t_in - (1.0 - BYPASS) * (t_in - c.apparatus_dew_point_c);
                if (line - t).abs() < 1e-9 {
                    out.push(
                        Line::new(
                            "t",
                            "air leaving the drying coil, on the line to the apparatus dew point",
                            "t_in - (1 - b) * (t_in - t_adp)",
                        )
                        .with("t_in", kind, t_in, t_origin)
                        .with("b", K::Fraction, BYPASS, see("primary air", "bypass_factor"))
                        .with(
                            "t_adp",
                            kind,
                            c.apparatus_dew_point_c,
                            constant(
                                "apparatus dew point that reaches the supply dew point in this condition",
                            ),
                        )
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
            "after reheat" if c.wrap_around_w > 0.0 && a.reheat.value == ReheatKind::WrapAround => {
                self.heated("t", "warmed by the coil pair around the drying coil", c.wrap_around_w, t, out);
            }
            "after reheat" if before.is_some_and(|b| b.dry_bulb_c != t) => {
                self.heated(
                    "t",
                    "reheated so that the discharge is as warm as asked",
                    c.reheat_w - c.heating_w,
                    t,
                    out,
                );
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
                self.exhaust(kind, "dry bulb", c.exhaust_dry_bulb_c, points[0].dry_bulb_c, t, out);
            }
            _ => out.push(self.unchanged(kind, "dry_bulb", t, "nothing happens here in this condition")),
        }
    }

    fn heated(&self, symbol: &str, meaning: &str, q: f64, value: f64, out: &mut Vec<Line>) {
        let (p, b) = (&self.case.points[self.index], &self.case.points[self.index - 1]);
        let cp = air::cp(
            out,
            "c_p",
            "the air",
            b.humidity_ratio_kg_per_kg,
            self.see(self.index - 1, "humidity_ratio"),
        );
        out.push(
            Line::new(symbol, meaning, "t_in + q / (V * rho_0 * c_p)")
                .with("t_in", K::Temperature, b.dry_bulb_c, self.see(self.index - 1, "dry_bulb"))
                .with("q", K::Power, q, constant("heat with which the discharge reaches its set temperature"))
                .with("V", K::StandardAirFlow, p.standard_m3_per_s, self.see(self.index, "standard_flow"))
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("c_p", K::SpecificHeat, cp, above("c_p"))
                .result(K::Temperature, value)
                .source(BALANCE_HEAT),
        );
    }

    fn effectiveness(&self, what: &str, rated: f64) -> Origin {
        Origin::Table {
            row: format!(
                "{what} effectiveness reached: rated {:.0} % at equal flows, share in use {:.0} %",
                rated * 100.0,
                self.case.recovery_share * 100.0
            ),
            source: "recovery of the project, at these flows".into(),
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
            l.with(
                "m_out",
                K::MassFlow,
                m_o,
                constant("outdoor air through the exchanger: the unit's air less carry-over"),
            )
            .with(
                "m_ex",
                K::MassFlow,
                m_x,
                constant("exhaust through the exchanger, carry-over taken off"),
            )
        };
        lines.push(
            flows(Line::new(
                "NTU",
                "transfer units at these flows; each side's coefficient follows its flow",
                "N_rated * 2 / ((m_out / m_0) ^ (-k) + (m_ex / m_0) ^ (-k)) * m_0 / min(m_out, m_ex)",
            ))
            .with_number("N_rated", n_rated, above("N_rated"))
            .with("m_0", K::MassFlow, m_0, constant("rated flow: the unit's air at design"))
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

    fn exhaust(&self, kind: K, what: &str, entering: f64, outdoor: f64, value: f64, out: &mut Vec<Line>) {
        let span = outdoor - entering;
        if self.case.recovery_share == 0.0 || span == 0.0 {
            out.push(given(
                "x",
                format!("{what} of the exhaust: the recovery is not in use"),
                kind,
                value,
                constant("room air"),
            ));
            return;
        }
        out.push(
            Line::new(
                "x",
                format!("{what} of the exhaust behind the recovery"),
                "x_exhaust + e * (x_out - x_exhaust)",
            )
            .with("x_exhaust", kind, entering, constant("room air on its way to the recovery"))
            .with_number(
                "e",
                (value - entering) / span,
                self.effectiveness(
                    "",
                    0.0_f64.max(self.cx.project.primary_air.recovery_sensible.value.to_ratio()),
                ),
            )
            .with("x_out", kind, outdoor, self.weather())
            .result(kind, value)
            .source(EXCHANGER),
        );
    }

    fn humidity_ratio(&self, p: &AirPoint, out: &mut Vec<Line>) {
        let (cx, c, points) = (self.cx, self.case, &self.case.points);
        let kind = K::HumidityRatio;
        let w = p.humidity_ratio_kg_per_kg;
        match p.point.as_str() {
            "outdoor air" => out.push(given("W", "outdoor humidity ratio", kind, w, self.weather())),
            "after recovery" => {
                let b = &points[0];
                if c.recovery_share == 0.0 {
                    out.push(self.unchanged(kind, "humidity_ratio", w, "the recovery is not in use"));
                    return;
                }
                let span = c.exhaust_humidity_ratio_kg_per_kg - b.humidity_ratio_kg_per_kg;
                let x = c.after_exchanger_humidity_ratio_kg_per_kg;
                let reached = if span == 0.0 { 0.0 } else { (x - b.humidity_ratio_kg_per_kg) / span };
                let latent = &cx.project.primary_air.recovery_latent;
                let (ratio, origin) = self.reached(
                    "latent",
                    latent.value.to_ratio(),
                    latent.origin.clone(),
                    (reached, span != 0.0),
                    out,
                );
                out.push(
                    Line::new("x_exchanged", "behind the exchanger", "W_out + e * (W_exhaust - W_out)")
                        .with("W_out", kind, b.humidity_ratio_kg_per_kg, self.see(0, "humidity_ratio"))
                        .with_number("e", ratio, origin)
                        .with("W_exhaust", kind, c.exhaust_humidity_ratio_kg_per_kg, constant("supply humidity ratio and half the peak moisture gain of the rooms (common practice, no source)"))
                        .result(kind, x)
                        .source(EXCHANGER),
                );
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
                    out.push(given(
                        "W",
                        "the driest that the coil reaches with its water",
                        kind,
                        w,
                        constant("coil at its coldest apparatus dew point"),
                    ));
                }
            }
            "exhaust after recovery" => {
                self.exhaust(
                    kind,
                    "humidity ratio",
                    c.exhaust_humidity_ratio_kg_per_kg,
                    points[0].humidity_ratio_kg_per_kg,
                    w,
                    out,
                );
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
