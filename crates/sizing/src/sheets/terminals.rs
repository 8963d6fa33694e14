//! Sheets of the terminal schedules.

use super::rooms::{room_load, zero};
use super::terminal_heating::Heating;
use super::terminal_states::State;
use super::{
    BALANCE_HEAT, Cx, GIVEN, Lines, STANDARD_FLOW, SUM, above, air, coil, constant, given, same, see,
};
use crate::design::{CoilSteps, TerminalDesign, TerminalPartLoad};
use crate::schedule::load_word;
use crate::terminals::{PLENUM_INFILTRATION, plenum_humidity_ratio};
use drycoil_project::{CoilAir, DayType, FanArrangement, TerminalModel};
use drycoil_units::{Quantity, QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_water::liquid::raw as liquid;
use drycoil_working::{Line, Origin, Source};

const MARGIN: Source =
    Source::new("definition", "entering water minus dew point of the air that meets the coil");
const FAN: Source = Source::new(
    "least squares through the catalogue's rating points",
    "power law of an electronically commutated fan",
);
const CHOSEN: &str = "selected: the first in the order of the catalogue, and the fewest, that does the job";
pub(super) const SOLVED: &str = "valve and fan are solved together: the valve opens at the least fan air first, then the fan speeds up; the search \
     ends within 0.1 % of the load";

/// A terminal with its model and its place among the rooms.
#[derive(Clone, Copy)]
pub(super) struct T<'a> {
    pub(super) cx: Cx<'a>,
    pub(super) t: &'a TerminalDesign,
    pub(super) m: &'a TerminalModel,
    /// Index of the room with the thermostat.
    pub(super) lead: usize,
}

fn shown_share(p: &TerminalPartLoad) -> Line {
    given(
        "x",
        "share of the design load",
        K::Fraction,
        p.load_share,
        constant("part loads shown: quarter, half, three quarters, full"),
    )
}

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    let t = cx.design.terminals.iter().find(|t| t.zone == place)?;
    let m = cx.project.catalogue.models.iter().find(|m| m.model == t.model)?;
    let lead = cx.project.room_index(&t.rooms[0])?;
    let x = T { cx, t, m, lead };
    for p in &t.part_load {
        if let Some(key) = quantity.strip_prefix(load_word(p)) {
            return x.part(p, key);
        }
    }
    x.full(quantity)
}

impl<'a> T<'a> {
    pub(super) fn catalogue(&self, what: &str) -> Origin {
        Origin::Table {
            row: format!("{}: {what}", self.m.model),
            source: "catalogue".into(),
            place: Some(self.m.place.clone()),
        }
    }

    pub(super) fn here(&self, quantity: &str) -> Origin {
        see(&self.t.zone, quantity)
    }

    pub(super) fn room_c(&self) -> (f64, Origin) {
        (
            self.cx.design.loads.rooms[self.lead].set_point_c,
            see(&self.cx.project.rooms[self.lead].id, "cooling_set_point"),
        )
    }

    pub(super) fn supply_c(&self) -> (f64, Origin) {
        (self.cx.design.primary_unit.delivered_dry_bulb_c, see("primary air", "delivered_dry_bulb"))
    }

    pub(super) fn supply_w(&self) -> (f64, Origin) {
        (self.cx.design.dew_point.supply_humidity_ratio_kg_per_kg, see("dew point", "supply_humidity_ratio"))
    }

    pub(super) fn water(&self) -> (f64, Origin) {
        (self.t.water_entering_c, see("dew point", "sensible_water"))
    }

    /// Humidity ratio of the room air of the zone, as a line.
    pub(super) fn room_w(&self, out: &mut Vec<Line>) -> f64 {
        let w = self.t.steps.room_humidity_ratio_kg_per_kg;
        let needs = &self.cx.design.needs;
        let rooms: Vec<usize> = self.t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)).collect();
        let (mut top, mut bottom) = (Vec::new(), Vec::new());
        let mut line = Line::new("W_room", "humidity ratio of the room air, by primary air", "");
        for i in rooms {
            let n = &needs[i];
            let (v, wi) = (format!("V_{}", i + 1), format!("W_{}", i + 1));
            line = line
                .with(v.clone(), K::StandardAirFlow, n.primary_m3_per_s, see(&n.room, "primary_air_flow"))
                .with(
                    wi.clone(),
                    K::HumidityRatio,
                    n.humidity_ratio_kg_per_kg,
                    see(&n.room, "room_humidity_ratio"),
                );
            top.push(format!("{v} * {wi}"));
            bottom.push(v);
        }
        line.formula = format!("sum({}) / sum({})", top.join(", "), bottom.join(", "));
        out.push(
            line.result(K::HumidityRatio, w).source(Source::new("mass balance of water vapour", "mixing")),
        );
        w
    }

    /// Humidity ratio of the air at the coil, as a line that ends in `W_coil`.
    fn coil_w(&self, out: &mut Vec<Line>) -> f64 {
        let room = self.room_w(out);
        let w = self.t.steps.coil_air_humidity_ratio_kg_per_kg;
        if self.cx.project.terminals.coil_air.value == CoilAir::Room
            || self.t.steps.plenum_leak_kg_per_s == 0.0
        {
            out.push(
                Line::new("W_coil", "humidity ratio of the air that meets the coil", "W_room")
                    .with("W_room", K::HumidityRatio, room, above("W_room"))
                    .result(K::HumidityRatio, w)
                    .source(GIVEN),
            );
            return w;
        }
        self.plenum(
            out,
            "W_coil",
            ("W_room", room),
            (self.t.coil_air_m3_per_s, self.here("coil_air_flow")),
            w,
        );
        w
    }

    /// Humidity ratio of the plenum over a room at `w`, as a line.
    pub(super) fn plenum(
        &self,
        out: &mut Vec<Line>,
        symbol: &str,
        (from, w): (&str, f64),
        (flow, flow_o): (f64, Origin),
        value: f64,
    ) {
        let c = &self.cx.design.conditions.dehumidification;
        self.leak(out);
        out.push(
            Line::new(
                symbol,
                "humidity ratio of the plenum air: a part of the facade leakage enters above the ceiling",
                format!("{from} + m_leak * max(0, W_out - {from}) / max(V_coil * rho_0, m_leak)"),
            )
            .with(from, K::HumidityRatio, w, above(from))
            .with("m_leak", K::MassFlow, self.t.steps.plenum_leak_kg_per_s, above("m_leak"))
            .with(
                "W_out",
                K::HumidityRatio,
                c.humidity_ratio_kg_per_kg,
                Origin::Weather(format!("dehumidification condition, {}", c.method)),
            )
            .with("V_coil", K::StandardAirFlow, flow, flow_o)
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .result(K::HumidityRatio, value)
            .source(Source::new("mass balance of water vapour", "plenum as a node of its own")),
        );
    }

    /// The unit chosen: what it uses of what it has, and why each smaller one failed.
    fn units(&self, out: &mut Vec<Line>) {
        let (t, m, s) = (self.t, self.m, &self.t.steps);
        let flow = K::StandardAirFlow;
        let n = f64::from(t.units);
        self.zone_primary(out);
        let most = m.primary_max.to_m3_per_s();
        let used = Source::new("definition", "what is used over what there is: at most one");
        let share = (s.zone_primary_m3_per_s - t.supplementary_m3_per_s) / n / most;
        let mut line = Line::new("u_primary", "primary air over the most that the dampers pass", "")
            .with("V_zone", flow, s.zone_primary_m3_per_s, above("V_zone"))
            .with_number("n", n, constant(CHOSEN))
            .with("V_most", flow, most, self.catalogue("primary maximum"));
        line.formula = if t.supplementary_m3_per_s > 0.0 {
            line = line.with("V_box", flow, t.supplementary_m3_per_s, self.here("supplementary_flow"));
            "(V_zone - V_box) / n / V_most".into()
        } else {
            "V_zone / n / V_most".into()
        };
        out.push(line.result_number(share).source(used.clone()));
        if t.coil_capacity_full_fan_w > 0.0 {
            out.push(
                Line::new(
                    "u_coil",
                    "duty of the coil over its capacity with valve and fan open",
                    "Q / Q_most",
                )
                .with("Q", K::Power, t.coil_duty_w, self.here("coil_duty"))
                .with("Q_most", K::Power, t.coil_capacity_full_fan_w, self.here("coil_capacity_full_fan"))
                .result_number(t.coil_duty_w / t.coil_capacity_full_fan_w)
                .source(used.clone()),
            );
        }
        if let Some(nc) = t.sound_nc {
            let limit = &self.cx.project.terminals.sound_limit;
            out.push(
                Line::new("u_sound", "sound over its limit", "NC / NC_limit")
                    .with_number("NC", nc, self.here("sound"))
                    .with_number("NC_limit", limit.value, limit.origin.clone())
                    .result_number(nc / limit.value)
                    .source(used),
            );
        }
        let failed: Vec<String> = t.rejected.iter().map(|r| format!("{}: {}", r.model, r.reason)).collect();
        out.push(super::given_number("n", format!("units of {}", t.model), n, constant(CHOSEN)).note(
            if failed.is_empty() {
                format!("{} is the first of the catalogue", t.model)
            } else {
                format!("those tried before failed - {}", failed.join("; "))
            },
        ));
    }

    /// Facade leakage that enters above the ceiling, as a line `m_leak`.
    fn leak(&self, out: &mut Vec<Line>) {
        let loads = &self.cx.design.loads.rooms;
        let rooms: Vec<usize> = self.t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)).collect();
        let mut line = Line::new("m_leak", "facade leakage that enters above the ceiling, one unit", "")
            .with(
                "s_plenum",
                K::Fraction,
                PLENUM_INFILTRATION,
                Origin::default_value(
                    "height of the plenum over that of the storey",
                    "common practice, no source",
                ),
            )
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .with_number("n", f64::from(self.t.units), self.here("units"));
        let mut names = Vec::new();
        for i in rooms {
            let name = format!("V_{}", i + 1);
            line = line.with(
                name.clone(),
                K::StandardAirFlow,
                loads[i].infiltration_m3_per_s,
                see(&loads[i].room, "infiltration_flow"),
            );
            names.push(name);
        }
        line.formula = format!("s_plenum * sum({}) * rho_0 / n", names.join(", "));
        out.push(
            line.result(K::MassFlow, self.t.steps.plenum_leak_kg_per_s)
                .source(Source::new("common practice, no source", "leakage in proportion to height")),
        );
    }

    fn full(&self, quantity: &str) -> Lines {
        let (cx, t, m, s) = (self.cx, self.t, self.m, &self.t.steps);
        let flow = K::StandardAirFlow;
        let mut out = Vec::new();
        let terminals = &cx.project.terminals;
        let design = State::design(*self);
        let heating = Heating::of(*self);
        let idle = "the terminal does not heat at design";
        match quantity {
            "dew_point_margin" => out.push(self.margin(
                "margin",
                "dew-point margin: entering water minus dew point of the coil air",
                t.water_margin_k,
            )),
            "required_margin" => {
                let c = &cx.project.criteria;
                out.push(
                    Line::new("margin_required", "margin that should be kept", "e_sensor + b_water")
                        .with(
                            "e_sensor",
                            K::TemperatureDifference,
                            c.sensor_error.value.si(),
                            c.sensor_error.origin.clone(),
                        )
                        .with(
                            "b_water",
                            K::TemperatureDifference,
                            c.water_control_band.value.si(),
                            c.water_control_band.origin.clone(),
                        )
                        .result(K::TemperatureDifference, t.required_margin_k)
                        .source(SUM),
                );
            }
            "surface_margin" => design.surface(t.coil_air_leaving_c, t.surface_margin_k, &mut out),
            "coil_air_dew_point" => self.coil_air_dew_point(&mut out),
            "units" => self.units(&mut out),
            "unit_primary_air" => {
                self.zone_primary(&mut out);
                out.push(
                    Line::new("V_p", "primary air of one unit", "(V_zone - V_box) / n")
                        .with("V_zone", flow, s.zone_primary_m3_per_s, above("V_zone"))
                        .with("V_box", flow, t.supplementary_m3_per_s, self.here("supplementary_flow"))
                        .with_number("n", f64::from(t.units), self.here("units"))
                        .result(flow, t.primary_m3_per_s)
                        .source(Source::new("definition", "equal shares"))
                        .note(format!(
                            "within the damper's {} to {} of {}",
                            m.primary_min.show(cx.project.told_units()),
                            m.primary_max.show(cx.project.told_units()),
                            m.model
                        )),
                );
            }
            "unit_primary_minimum" => out.push(given(
                "V_min",
                "least controllable primary air",
                flow,
                t.primary_min_m3_per_s,
                self.catalogue("primary minimum"),
            )),
            "supplementary_flow" => {
                if t.supplementary_m3_per_s == 0.0 {
                    return Some(zero(
                        "V_box",
                        "supplementary primary air",
                        flow,
                        0.0,
                        "the damper of the unit carries all primary air",
                    ));
                }
                self.zone_primary(&mut out);
                out.push(
                    Line::new("V_box", "supplementary primary air beside the terminal", "V_zone - V_max")
                        .with("V_zone", flow, s.zone_primary_m3_per_s, above("V_zone"))
                        .with("V_max", flow, m.primary_max.to_m3_per_s(), self.catalogue("primary maximum"))
                        .result(flow, t.supplementary_m3_per_s)
                        .source(Source::new("definition", "what the damper cannot carry")),
                );
            }
            "inlet_pressure" => {
                let point = m
                    .inlet
                    .iter()
                    .filter(|a| a.primary.to_m3_per_s() >= t.primary_m3_per_s * (1.0 - 1e-9))
                    .min_by(|a, b| a.primary.to_m3_per_s().total_cmp(&b.primary.to_m3_per_s()))
                    .or_else(|| {
                        m.inlet
                            .iter()
                            .max_by(|a, b| a.primary.to_m3_per_s().total_cmp(&b.primary.to_m3_per_s()))
                    })?;
                out.push(
                    Line::new(
                        "p_inlet",
                        "pressure needed at the primary inlet",
                        "p_rated * (V_p / V_rated) ^ 2",
                    )
                    .with(
                        "p_rated",
                        K::PressureDifference,
                        point.inlet_pressure.to_pascals(),
                        self.catalogue("inlet rating"),
                    )
                    .with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air"))
                    .with("V_rated", flow, point.primary.to_m3_per_s(), self.catalogue("inlet rating"))
                    .result(K::PressureDifference, t.inlet_pressure_pa)
                    .source(Source::new("square law of turbulent flow", "from the rating point")),
                );
            }
            "fan_flow" => design.fan_flow(&mut out),
            "fan_flow_heating" => match heating {
                Some(h) => h.fan_flow(&mut out),
                None => return Some(zero("V_fan", "fan air in heating", flow, t.fan_heating_m3_per_s, idle)),
            },
            "fan_power" => {
                design.fan_power("P_fan", "fan power at the cooling design", t.fan_power_w, &mut out);
            }
            "fan_power_half" => {
                let fan = 0.5 * t.fan_m3_per_s;
                out.push(
                    Line::new("V_half", "half the fan air", "V_fan / 2")
                        .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                        .result(flow, fan)
                        .source(Source::new("definition", "half")),
                );
                let rho = self.duct_density(&mut out);
                self.fan_power(
                    "P_half",
                    "fan power at half the fan air",
                    (fan, above("V_half")),
                    rho,
                    t.fan_power_half_w,
                    &mut out,
                );
            }
            "constant_speed_power" => out.push(given(
                "P_constant",
                "power of a fan that always runs at its most air",
                K::Power,
                t.constant_speed_power_w,
                self.catalogue("fan ratings, least squares at most air"),
            )),
            "unit_sensible_load" => self.sensible(&mut out),
            "primary_cooling" => self.primary_cooling(&mut out),
            "fan_heat" => {
                return Some(same(
                    "q_fan",
                    "heat of the fan: all its power",
                    K::Power,
                    t.fan_heat_w,
                    &t.zone,
                    "fan_power",
                ));
            }
            "plenum_heat" => self.plenum_heat(&mut out),
            "discharge_temperature" => design.discharge(&mut out),
            "heating_discharge_temperature" => heating?.discharge(&mut out),
            "unit_heating_load" => match heating {
                Some(h) => h.heating_load(&mut out),
                None => return Some(zero("Q_heat", "heating coil load", K::Power, t.heating_load_w, idle)),
            },
            "heating_capacity" => match heating {
                Some(h) => h.capacity(&mut out),
                None => {
                    return Some(zero(
                        "Q_able",
                        "heating coil capacity",
                        K::Power,
                        t.heating_capacity_w,
                        idle,
                    ));
                }
            },
            "heating_water_flow" => match (heating, &s.heating_coil) {
                (Some(h), Some(c)) => h.water_flow(c, &mut out),
                _ => {
                    return Some(zero(
                        "V_water",
                        "hot water",
                        K::WaterFlow,
                        t.heating_water_m3_per_s,
                        "no hot-water coil runs",
                    ));
                }
            },
            "sound" => self.sound(&mut out)?,
            "coil_duty" => design.coil_duty(&mut out),
            "coil_capacity" => match &s.coil_open {
                Some(c) => {
                    design.open(c, &mut out);
                    Self::close(
                        &mut out,
                        "Q_most",
                        "coil capacity with the valve open at the design fan air",
                        ("Q_coil", c.duty_w),
                        t.coil_capacity_w,
                    );
                }
                None => {
                    return Some(zero(
                        "Q_most",
                        "coil capacity",
                        K::Power,
                        t.coil_capacity_w,
                        "no air passes the coil",
                    ));
                }
            },
            "coil_capacity_full_fan" => match &s.coil_full {
                Some(c) => {
                    self.everything_open(c, &mut out);
                    Self::close(
                        &mut out,
                        "Q_most",
                        "coil capacity with valve and fan open",
                        ("Q_coil", c.duty_w),
                        t.coil_capacity_full_fan_w,
                    );
                }
                None => {
                    return Some(zero(
                        "Q_most",
                        "coil capacity",
                        K::Power,
                        t.coil_capacity_full_fan_w,
                        "no air passes the coil",
                    ));
                }
            },
            "coil_air_flow" => out.push(match m.arrangement {
                FanArrangement::Series => Line::new(
                    "V_coil",
                    "air through the coil: fan air less primary air",
                    "max(0, V_fan - V_p)",
                )
                .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                .with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air"))
                .result(flow, t.coil_air_m3_per_s)
                .source(Source::new("mass balance of air", "fan in series")),
                FanArrangement::Parallel => {
                    Line::new("V_coil", "air through the coil: the fan moves nothing else", "V_fan")
                        .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                        .result(flow, t.coil_air_m3_per_s)
                        .source(Source::new("mass balance of air", "fan in parallel"))
                }
            }),
            "coil_air_entering" => {
                let (room, origin) = self.room_c();
                let plenum = terminals.coil_air.value == CoilAir::Plenum && t.coil_air_m3_per_s > 0.0;
                if plenum && (t.coil_air_entering_c - room).abs() > 1e-12 {
                    let w = self.room_w(&mut out);
                    let cp = air::cp(&mut out, "c_p", "the room air", w, above("W_room"));
                    out.push(
                        Line::new(
                            "t_coil",
                            "air entering the coil, from the plenum",
                            "t_room + q_plenum / (V_coil * rho_0 * c_p)",
                        )
                        .with("t_room", K::Temperature, room, origin)
                        .with("q_plenum", K::Power, t.plenum_w, self.here("plenum_heat"))
                        .with("V_coil", flow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
                        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                        .with("c_p", K::SpecificHeat, cp, above("c_p"))
                        .result(K::Temperature, t.coil_air_entering_c)
                        .source(BALANCE_HEAT),
                    );
                } else {
                    out.push(given(
                        "t_coil",
                        "air entering the coil, from the room",
                        K::Temperature,
                        t.coil_air_entering_c,
                        origin,
                    ));
                }
            }
            "coil_air_leaving" => {
                let w = self.coil_w(&mut out);
                let cp = air::cp(&mut out, "c_p", "the coil air", w, above("W_coil"));
                if s.coil.is_none() {
                    return Some(vec![given(
                        "t_leaving",
                        "air behind the coil, whose valve is shut: as it was drawn",
                        K::Temperature,
                        t.coil_air_leaving_c,
                        self.here("coil_air_entering"),
                    )]);
                }
                if t.coil_air_m3_per_s > 0.0 {
                    out.push(
                        Line::new("t_leaving", "air leaving the coil", "t_coil - Q / (V_coil * rho_0 * c_p)")
                            .with(
                                "t_coil",
                                K::Temperature,
                                t.coil_air_entering_c,
                                self.here("coil_air_entering"),
                            )
                            .with("Q", K::Power, t.coil_duty_w, self.here("coil_duty"))
                            .with("V_coil", flow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
                            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                            .with("c_p", K::SpecificHeat, cp, above("c_p"))
                            .result(K::Temperature, t.coil_air_leaving_c)
                            .source(BALANCE_HEAT),
                    );
                } else {
                    return Some(same(
                        "t_leaving",
                        "no air passes the coil",
                        K::Temperature,
                        t.coil_air_leaving_c,
                        &t.zone,
                        "coil_air_entering",
                    ));
                }
            }
            "face_velocity" => {
                let rho = self.duct_density(&mut out);
                out.push(
                    Line::new("v_face", "face velocity", "V_coil * rho_0 / rho / A_face")
                        .with("V_coil", flow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
                        .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                        .with("rho", K::Density, rho, above("rho"))
                        .with("A_face", K::Area, m.face_area.to_square_metres(), self.catalogue("face area"))
                        .result(K::Velocity, t.face_velocity_m_per_s)
                        .source(STANDARD_FLOW),
                );
            }
            "water_entering" => {
                return Some(same(
                    "t_water",
                    "water entering",
                    K::Temperature,
                    t.water_entering_c,
                    "dew point",
                    "sensible_water",
                ));
            }
            "water_leaving" => match &s.coil {
                Some(c) => {
                    design.water_leaving(c, t.water_leaving_c, &mut out);
                }
                None => {
                    return Some(same(
                        "t_leaving",
                        "the valve is shut",
                        K::Temperature,
                        t.water_leaving_c,
                        &t.zone,
                        "water_entering",
                    ));
                }
            },
            "water_flow" => design.water_flow(t.water_m3_per_s, &mut out),
            "water_velocity" => match &s.coil {
                Some(c) => design.velocity(c, t.water_velocity_m_per_s, &mut out),
                None => {
                    return Some(zero(
                        "v_water",
                        "water velocity",
                        K::Velocity,
                        t.water_velocity_m_per_s,
                        "the valve is shut at design",
                    ));
                }
            },
            "water_drop" => out.push(
                Line::new("p_coil", "water pressure drop of the coil", "p_rated * (V_water / V_rated) ^ 2")
                    .with(
                        "p_rated",
                        K::PressureDifference,
                        m.water_drop.to_pascals(),
                        self.catalogue("water pressure drop"),
                    )
                    .with("V_water", K::WaterFlow, t.water_m3_per_s, self.here("water_flow"))
                    .with("V_rated", K::WaterFlow, m.water_max.si(), self.catalogue("most water"))
                    .result(K::PressureDifference, t.water_drop_pa)
                    .source(Source::new("square law of turbulent flow", "from the rating point")),
            ),
            "valve_kv" => self.valve(&mut out),
            "valve_authority" => self.authority(&mut out),
            "coil_fit_residual" => out.push(
                given(
                    "r",
                    "largest difference of the fitted coil from its rating points, over the rated duty",
                    K::Fraction,
                    t.coil_fit_residual,
                    self.catalogue("rating points of the coil"),
                )
                .source(Source::new(
                    "least squares",
                    "air-side and water-side resistance fitted to the rating points",
                )),
            ),
            _ => return None,
        }
        Some(out)
    }

    fn part(&self, p: &'a TerminalPartLoad, key: &str) -> Lines {
        let t = self.t;
        // The whole load is the design point itself.
        if p.load_share == 1.0 {
            let (kind, value) = match key {
                "share" => return Some(vec![shown_share(p)]),
                "dew_point_margin" => (K::TemperatureDifference, p.water_margin_k),
                "surface_margin" => (K::TemperatureDifference, p.surface_margin_k),
                "fan_flow" => (K::StandardAirFlow, p.fan_m3_per_s),
                "water_flow" => (K::WaterFlow, p.water_m3_per_s),
                "fan_power" => (K::Power, p.fan_power_w),
                "discharge_temperature" => (K::Temperature, p.discharge_c),
                _ => return None,
            };
            let meaning = format!("{} at the whole load: the design point", key.replace('_', " "));
            return Some(same("x", &meaning, kind, value, &t.zone, key));
        }
        let mut out = Vec::new();
        let state = State::part(*self, p);
        match key {
            "share" => out.push(shown_share(p)),
            "dew_point_margin" => out.push(self.margin(
                "margin",
                "dew-point margin; water and coil air do not depend on the load",
                p.water_margin_k,
            )),
            "surface_margin" => state.surface(p.surface_c, p.surface_margin_k, &mut out),
            "fan_flow" => state.fan_flow(&mut out),
            "water_flow" => state.water_flow(p.water_m3_per_s, &mut out),
            "fan_power" => state.fan_power("P_fan", "fan power", p.fan_power_w, &mut out),
            "discharge_temperature" => state.discharge(&mut out),
            _ => return None,
        }
        Some(out)
    }

    fn margin(&self, symbol: &str, meaning: &str, value: f64) -> Line {
        let (water, origin) = self.water();
        Line::new(symbol, meaning, "t_water - t_dp")
            .with("t_water", K::Temperature, water, origin)
            .with("t_dp", K::Temperature, self.t.coil_air_dew_point_c, self.here("coil_air_dew_point"))
            .result(K::TemperatureDifference, value)
            .source(MARGIN)
            .note(
                "headers, bends and valve bodies run at the temperature of the entering water, so it governs",
            )
    }

    fn coil_air_dew_point(&self, out: &mut Vec<Line>) {
        let t = self.t;
        let needs = &self.cx.design.needs;
        let worst = t
            .rooms
            .iter()
            .filter_map(|r| self.cx.project.room_index(r))
            .max_by(|a, b| needs[*a].worst_dew_point_c.total_cmp(&needs[*b].worst_dew_point_c));
        let mut line = Line::new("t_room_dp", "highest dew point of the rooms of the zone", "");
        let mut names = Vec::new();
        for (k, room) in t.rooms.iter().enumerate() {
            if let Some(i) = self.cx.project.room_index(room)
                && needs[i].worst_dew_point_c.is_finite()
            {
                let name = format!("t_{}", k + 1);
                line = line.with(
                    name.clone(),
                    K::Temperature,
                    needs[i].worst_dew_point_c,
                    see(room, "highest_dew_point"),
                );
                names.push(name);
            }
        }
        line.formula = format!("max({})", names.join(", "));
        let top = worst.map_or(f64::NAN, |i| needs[i].worst_dew_point_c);
        if t.steps.plenum_leak_kg_per_s == 0.0 {
            out.push(
                line.result(K::Temperature, t.coil_air_dew_point_c)
                    .source(Source::new("definition", "the most humid room decides"))
                    .note(format!("air from {}", t.coil_air_from)),
            );
            return;
        }
        out.push(
            line.result(K::Temperature, top).source(Source::new("definition", "the most humid room decides")),
        );
        let w = air::saturated(
            self.cx,
            out,
            "dp",
            top,
            above("t_room_dp"),
            "humidity ratio of the most humid room",
        );
        let c = self.cx.design.conditions.dehumidification.humidity_ratio_kg_per_kg;
        let plenum = plenum_humidity_ratio(w, c, t.steps.plenum_leak_kg_per_s, t.coil_air_m3_per_s * RHO);
        self.plenum(out, "W_plenum", ("W_dp", w), (t.coil_air_m3_per_s, self.here("coil_air_flow")), plenum);
        air::dew_point(
            self.cx,
            out,
            "t_dp",
            "dew point of the air that meets the coil",
            (plenum, above("W_plenum")),
            t.coil_air_dew_point_c,
        );
    }

    fn zone_primary(&self, out: &mut Vec<Line>) {
        let needs = &self.cx.design.needs;
        out.push(super::sum_line(
            "V_zone",
            "primary air of the zone",
            K::StandardAirFlow,
            self.t.steps.zone_primary_m3_per_s,
            self.t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)).map(|i| {
                (format!("V_{}", i + 1), needs[i].primary_m3_per_s, see(&needs[i].room, "primary_air_flow"))
            }),
        ));
    }

    /// Fan power by the fitted law, as lines that end in the symbol; a line `rho` stands above.
    pub(super) fn fan_power(
        &self,
        symbol: &str,
        meaning: &str,
        (fan, origin): (f64, Origin),
        rho: f64,
        value: f64,
        out: &mut Vec<Line>,
    ) {
        let s = &self.t.steps;
        let actual = fan * RHO / rho;
        out.push(
            Line::new("V_actual", "volume that the fan moves", "V_fan * rho_0 / rho")
                .with("V_fan", K::StandardAirFlow, fan, origin)
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("rho", K::Density, rho, above("rho"))
                .result(K::ActualAirFlow, actual)
                .source(STANDARD_FLOW),
        );
        out.push(
            Line::new(symbol, meaning, "P_full * (V_actual / V_full) ^ k")
                .with("P_full", K::Power, s.fan_full_power_w, self.catalogue("fan ratings"))
                .with("V_actual", K::ActualAirFlow, actual, above("V_actual"))
                .with("V_full", K::ActualAirFlow, s.fan_full_m3_per_s, self.catalogue("most fan air"))
                .with_number("k", s.fan_exponent, self.catalogue("exponent fitted to the fan ratings"))
                .result(K::Power, value)
                .source(FAN),
        );
    }

    /// Density of the air at the coil with the humidity of the room, as a line `rho`.
    fn duct_density(&self, out: &mut Vec<Line>) -> f64 {
        let w = self.room_w(out);
        let (line, rho) = air::density(
            self.cx,
            "rho",
            "dry air in the coil air",
            (self.t.coil_air_entering_c, self.here("coil_air_entering")),
            (w, above("W_room")),
        );
        out.push(line);
        rho
    }

    /// The coil with valve and fan open, as lines that end in `Q_coil`.
    fn everything_open(&self, c: &CoilSteps, out: &mut Vec<Line>) {
        let (t, m, flow) = (self.t, self.m, K::StandardAirFlow);
        let (room, ro) = self.room_c();
        let w_room = self.room_w(out);
        let wide = (m.fan_max.to_m3_per_s() - t.primary_m3_per_s).max(0.05);
        if c.air_entering_c == room {
            out.push(given("t_coil", "air entering the coil, from the room", K::Temperature, room, ro));
        } else {
            out.push(
                Line::new(
                    "V_wide",
                    "air through the coil by the catalogue, for the plenum",
                    "max(V_catalogue - V_p, V_floor)",
                )
                .with("V_catalogue", flow, m.fan_max.to_m3_per_s(), self.catalogue("most fan air"))
                .with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air"))
                .with("V_floor", flow, 0.05, constant("floor of this estimate"))
                .result(flow, wide)
                .source(Source::new("mass balance of air", "terminal")),
            );
            let cp = air::cp(out, "c_p", "the room air", w_room, above("W_room"));
            out.push(
                Line::new(
                    "t_coil",
                    "air entering the coil, from the plenum",
                    "t_room + q_plenum / (V_wide * rho_0 * c_p)",
                )
                .with("t_room", K::Temperature, room, ro)
                .with("q_plenum", K::Power, t.plenum_w, self.here("plenum_heat"))
                .with("V_wide", flow, wide, above("V_wide"))
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("c_p", K::SpecificHeat, cp, above("c_p"))
                .result(K::Temperature, c.air_entering_c)
                .source(BALANCE_HEAT),
            );
        }
        if c.humidity_ratio_kg_per_kg == w_room {
            out.push(
                Line::new("W_coil", "humidity ratio of the air that meets the coil", "W_room")
                    .with("W_room", K::HumidityRatio, w_room, above("W_room"))
                    .result(K::HumidityRatio, c.humidity_ratio_kg_per_kg)
                    .source(GIVEN),
            );
        } else {
            self.plenum(
                out,
                "W_coil",
                ("W_room", w_room),
                (wide, above("V_wide")),
                c.humidity_ratio_kg_per_kg,
            );
        }
        let (line, rho) = air::density(
            self.cx,
            "rho",
            "dry air in the coil air",
            (c.air_entering_c, above("t_coil")),
            (c.humidity_ratio_kg_per_kg, above("W_coil")),
        );
        out.push(line);
        let (formula, carried) = match m.arrangement {
            FanArrangement::Series => ("V_full * rho - V_p * rho_0", true),
            FanArrangement::Parallel => ("V_full * rho", false),
        };
        let mut line = Line::new("m_s", "dry air through the coil with the fan at its most", formula)
            .with("V_full", K::ActualAirFlow, t.steps.fan_full_m3_per_s, self.catalogue("most fan air"))
            .with("rho", K::Density, rho, above("rho"));
        if carried {
            line = line.with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air")).with(
                "rho_0",
                K::Density,
                RHO,
                constant("density of standard air, 0.075 lb/ft3"),
            );
        }
        out.push(
            line.result(K::MassFlow, c.dry_air_kg_per_s)
                .source(Source::new("mass balance of air", "terminal")),
        );
        coil::duty(
            out,
            c,
            &coil::Entering {
                rows: m.rows,
                catalogue: &|what| self.catalogue(what),
                dry_air: above("m_s"),
                humidity: above("W_coil"),
                air: above("t_coil"),
                flow: self.catalogue("most water"),
                water: self.water().1,
            },
        );
    }

    fn sensible(&self, out: &mut Vec<Line>) {
        let (t, s) = (self.t, &self.t.steps);
        let loads = &self.cx.design.loads;
        let rooms: Vec<usize> = t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)).collect();
        // The hour of the coincident peak, found as sizing found it.
        let mut best = (0.0, 0, 0);
        for d in 0..loads.days.len().saturating_sub(1) {
            for h in 0..24 {
                let open = rooms.iter().any(|i| {
                    self.cx.project.profile_of(&self.cx.project.rooms[*i]).is_occupied(DayType::Weekday, h)
                });
                let load: f64 = rooms.iter().map(|i| loads.rooms[*i].sensible_w[d][h]).sum();
                if open && load > best.0 {
                    best = (load, d, h);
                }
            }
        }
        let day = loads.days.get(best.1).cloned().unwrap_or_default();
        if rooms.len() == 1 && loads.rooms[rooms[0]].cooling.load_w == s.zone_sensible_w {
            out.push(
                Line::new("q_zone", "sensible load of the zone", "q_room")
                    .with("q_room", K::Power, s.zone_sensible_w, see(&t.rooms[0], "sensible_load"))
                    .result(K::Power, s.zone_sensible_w)
                    .source(GIVEN),
            );
        } else {
            out.push(
                super::sum_line(
                    "q_zone",
                    "coincident sensible load of the rooms of the zone",
                    K::Power,
                    s.zone_sensible_w,
                    rooms.iter().map(|i| {
                        room_load(
                            &loads.rooms[*i].room,
                            &day,
                            best.2,
                            loads.rooms[*i].sensible_w[best.1][best.2],
                        )
                    }),
                )
                .note("the rooms peak at different hours, so this is not the sum of their peaks"),
            );
        }
        self.plenum_sum(out);
        let n = f64::from(t.units);
        if t.supplementary_m3_per_s > 0.0 {
            let (w, wo) = self.supply_w();
            let cp = air::cp(out, "c_s", "the primary air", w, wo);
            let (supply, so) = self.supply_c();
            let (room, ro) = self.room_c();
            let brought = t.supplementary_m3_per_s * RHO * cp * (room - supply);
            out.push(
                Line::new(
                    "q_box",
                    "cooling by the supplementary primary air",
                    "V_box * rho_0 * c_s * (t_room - t_supply)",
                )
                .with("V_box", K::StandardAirFlow, t.supplementary_m3_per_s, self.here("supplementary_flow"))
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with("c_s", K::SpecificHeat, cp, above("c_s"))
                .with("t_room", K::Temperature, room, ro)
                .with("t_supply", K::Temperature, supply, so)
                .result(K::Power, brought)
                .source(BALANCE_HEAT),
            );
            out.push(
                Line::new("q_unit", "sensible load of one unit", "(q_zone - q_plenum) / n - q_box")
                    .with("q_zone", K::Power, s.zone_sensible_w, above("q_zone"))
                    .with("q_plenum", K::Power, s.zone_plenum_w, above("q_plenum"))
                    .with_number("n", n, self.here("units"))
                    .with("q_box", K::Power, brought, above("q_box"))
                    .result(K::Power, t.sensible_load_w)
                    .source(Source::new("definition", "equal shares")),
            );
        } else {
            out.push(
                Line::new(
                    "q_unit",
                    "sensible load of one unit at the room set point",
                    "(q_zone - q_plenum) / n",
                )
                .with("q_zone", K::Power, s.zone_sensible_w, above("q_zone"))
                .with("q_plenum", K::Power, s.zone_plenum_w, above("q_plenum"))
                .with_number("n", n, self.here("units"))
                .result(K::Power, t.sensible_load_w)
                .source(Source::new("definition", "equal shares")),
            );
        }
    }

    /// Plenum heat of the zone, as a line `q_plenum`.
    fn plenum_sum(&self, out: &mut Vec<Line>) {
        let loads = &self.cx.design.loads;
        let share = &self.cx.project.terminals.plenum_share;
        let mut names = Vec::new();
        let mut line = Line::new(
            "q_plenum",
            "heat of lighting and roof that stays in the plenum, all units",
            "",
        )
        .with("f", K::Fraction, share.value.to_ratio(), share.origin.clone());
        for i in self.t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)) {
            let c = &loads.rooms[i].cooling;
            let (a, b) = (format!("q_light_{}", i + 1), format!("q_roof_{}", i + 1));
            let at = |what: &str| {
                Origin::Weather(format!(
                    "{what} of room {}, {}, {:02}:00",
                    loads.rooms[i].room, c.day, c.hour
                ))
            };
            line = line.with(a.clone(), K::Power, c.parts.lighting_w, at("lighting")).with(
                b.clone(),
                K::Power,
                c.parts.roof_w,
                at("roof"),
            );
            names.push(format!("max(0, {a} + {b})"));
        }
        line.formula = format!("f * sum({})", names.join(", "));
        out.push(
            line.result(K::Power, self.t.steps.zone_plenum_w).source(Source::new(
                "common practice, no source",
                "share of the plenum entered in the project",
            )),
        );
    }

    fn plenum_heat(&self, out: &mut Vec<Line>) {
        if self.cx.project.terminals.coil_air.value == CoilAir::Room {
            out.extend(zero(
                "q_coil_plenum",
                "plenum heat at the coil",
                K::Power,
                self.t.plenum_w,
                "the coil draws room air",
            ));
            return;
        }
        self.plenum_sum(out);
        out.push(
            Line::new("q_coil_plenum", "plenum heat that the coil of one unit takes", "q_plenum / n")
                .with("q_plenum", K::Power, self.t.steps.zone_plenum_w, above("q_plenum"))
                .with_number("n", f64::from(self.t.units), self.here("units"))
                .result(K::Power, self.t.plenum_w)
                .source(Source::new("definition", "equal shares")),
        );
    }

    fn primary_cooling(&self, out: &mut Vec<Line>) {
        let t = self.t;
        let (w, wo) = self.supply_w();
        let cp = air::cp(out, "c_s", "the primary air", w, wo);
        let (line, m) = air::mass_flow(
            "m_p",
            "the primary air of one unit",
            t.primary_m3_per_s,
            self.here("unit_primary_air"),
        );
        out.push(line);
        let (room, ro) = self.room_c();
        let (supply, so) = self.supply_c();
        out.push(
            Line::new(
                "q_primary",
                "sensible cooling by the primary air of one unit",
                "m_p * c_s * (t_room - t_supply)",
            )
            .with("m_p", K::MassFlow, m, above("m_p"))
            .with("c_s", K::SpecificHeat, cp, above("c_s"))
            .with("t_room", K::Temperature, room, ro)
            .with("t_supply", K::Temperature, supply, so)
            .result(K::Power, t.primary_cooling_w)
            .source(BALANCE_HEAT),
        );
    }

    pub(super) fn close(
        out: &mut Vec<Line>,
        symbol: &str,
        meaning: &str,
        (from, duty): (&str, f64),
        value: f64,
    ) {
        out.push(
            Line::new(symbol, meaning, from)
                .with(from, K::Power, duty, above(from))
                .result(K::Power, value)
                .source(GIVEN),
        );
    }

    pub(super) fn velocity(&self, c: &CoilSteps, flow: Origin, value: f64, out: &mut Vec<Line>) {
        let m = self.m;
        let d = m.tube_diameter.to_metres();
        let area = std::f64::consts::FRAC_PI_4 * d * d * f64::from(m.circuits);
        out.push(
            Line::new("A_tubes", "flow area of all circuits", "0.7853981634 * d ^ 2 * n")
                .with("d", K::Length, d, self.catalogue("inner diameter of the tubes"))
                .with_number("n", f64::from(m.circuits), self.catalogue("parallel circuits"))
                .result(K::Area, area)
                .source(Source::new("definition", "circle")),
        );
        let entering = liquid::density_kg_per_m3(c.water_entering_c);
        let mean = c.water_m3_per_s * entering / (value * area);
        out.push(
            Line::new("v_water", "water velocity in the tubes", "V_water * rho_in / (rho_mean * A_tubes)")
                .with("V_water", K::WaterFlow, c.water_m3_per_s, flow)
                .with(
                    "rho_in",
                    K::Density,
                    entering,
                    coil::water_property("density of water at its entering temperature"),
                )
                .with(
                    "rho_mean",
                    K::Density,
                    mean,
                    coil::water_property("density of water at the mean of entering and leaving water"),
                )
                .with("A_tubes", K::Area, area, above("A_tubes"))
                .result(K::Velocity, value)
                .source(Source::new("mass balance of water", "mean velocity")),
        );
    }

    fn valve(&self, out: &mut Vec<Line>) {
        let t = self.t;
        if t.valve_kv_m3_per_h == 0.0 {
            out.push(super::given_number(
                "Kv",
                "valve coefficient",
                0.0,
                constant("no water flows at design"),
            ));
            return;
        }
        let drop = &self.cx.project.water.terminal_drop;
        let rho = liquid::density_kg_per_m3(t.water_entering_c);
        out.push(
            Line::new("p_valve", "pressure left for the valve", "p_both - p_coil")
                .with("p_both", K::PressureDifference, drop.value.to_pascals(), drop.origin.clone())
                .with("p_coil", K::PressureDifference, t.water_drop_pa, self.here("water_drop"))
                .result(K::PressureDifference, drop.value.to_pascals() - t.water_drop_pa)
                .source(Source::new("definition", "coil and valve in series")),
        );
        out.push(
            Line::new(
                "Kv",
                "valve coefficient: m3/h of water at 1 bar",
                "V_water / V_1 * (rho_w / rho_1 / (p_valve / p_1)) ^ 0.5",
            )
            .with("V_water", K::WaterFlow, t.water_m3_per_s, self.here("water_flow"))
            .in_units("m3/h", "m3/h")
            .with("V_1", K::WaterFlow, 1.0 / 3600.0, constant("unit of the coefficient"))
            .in_units("m3/h", "m3/h")
            .with(
                "rho_w",
                K::Density,
                rho,
                coil::water_property("density of water at its entering temperature"),
            )
            .with("rho_1", K::Density, 1000.0, constant("reference of the coefficient"))
            .with(
                "p_valve",
                K::PressureDifference,
                drop.value.to_pascals() - t.water_drop_pa,
                above("p_valve"),
            )
            .in_units("bar", "bar")
            .with("p_1", K::PressureDifference, 1e5, constant("reference of the coefficient, 1 bar"))
            .in_units("bar", "bar")
            .result_number(t.valve_kv_m3_per_h)
            .source(Source::new("IEC 60534", "definition of the flow coefficient")),
        );
    }

    fn authority(&self, out: &mut Vec<Line>) {
        let t = self.t;
        if t.valve_kv_m3_per_h == 0.0 {
            out.push(super::given_number(
                "a",
                "valve authority",
                t.valve_authority,
                constant("no water flows at design"),
            ));
            return;
        }
        let drop = &self.cx.project.water.terminal_drop;
        out.push(
            Line::new(
                "a",
                "valve authority: drop of the valve over drop of its circuit",
                "(p_both - p_coil) / p_both",
            )
            .with("p_both", K::PressureDifference, drop.value.to_pascals(), drop.origin.clone())
            .with("p_coil", K::PressureDifference, t.water_drop_pa, self.here("water_drop"))
            .result_number(t.valve_authority)
            .source(Source::new("definition", "valve authority")),
        );
    }

    fn sound(&self, out: &mut Vec<Line>) -> Option<()> {
        let value = self.t.sound_nc?;
        let air = self.t.fan_m3_per_s;
        let mut points: Vec<(f64, f64)> = self.m.sound.iter().map(|s| (s.air.to_m3_per_s(), s.nc)).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let first = points.first()?;
        if air <= first.0 {
            out.push(super::given_number(
                "NC",
                "sound: the quietest rating is an upper bound",
                value,
                self.catalogue("sound ratings"),
            ));
            return Some(());
        }
        let w = points.windows(2).find(|w| air <= w[1].0 * (1.0 + 1e-9))?;
        out.push(
            Line::new(
                "NC",
                "sound at the design fan air, between ratings",
                "NC_1 + (NC_2 - NC_1) * (V_fan - V_1) / (V_2 - V_1)",
            )
            .with_number("NC_1", w[0].1, self.catalogue("sound ratings"))
            .with_number("NC_2", w[1].1, self.catalogue("sound ratings"))
            .with("V_fan", K::StandardAirFlow, air, self.here("fan_flow"))
            .with("V_1", K::StandardAirFlow, w[0].0, self.catalogue("sound ratings"))
            .with("V_2", K::StandardAirFlow, w[1].0, self.catalogue("sound ratings"))
            .result_number(value)
            .source(Source::new(
                "straight line between rating points",
                "with the catalogue's room attenuation",
            )),
        );
        Some(())
    }
}
