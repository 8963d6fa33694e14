//! Sheets of the terminal schedules.

use super::rooms::{room_load, zero};
use super::{
    BALANCE_HEAT, Cx, GIVEN, Lines, STANDARD_FLOW, SUM, above, air, coil, constant, given, same, see,
};
use crate::design::{CoilSteps, TerminalDesign, TerminalPartLoad};
use crate::schedule::load_word;
use drycoil_air::raw;
use drycoil_project::{CoilAir, DayType, FanArrangement, HeatingCoil, TerminalModel};
use drycoil_units::{Quantity, QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_water::liquid::raw as liquid;
use drycoil_working::{Line, Origin, Source};

const MARGIN: Source =
    Source::new("definition", "entering water minus dew point of the air that meets the coil");
const FAN: Source = Source::new(
    "least squares through the catalogue's rating points",
    "power law of an electronically commutated fan",
);
const SOLVED: &str =
    "valve and fan are solved together: the valve opens at the least fan air first, then the fan speeds up";

/// A terminal with its model and its place among the rooms.
#[derive(Clone, Copy)]
struct T<'a> {
    cx: Cx<'a>,
    t: &'a TerminalDesign,
    m: &'a TerminalModel,
    /// Index of the room with the thermostat.
    lead: usize,
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

impl T<'_> {
    fn catalogue(&self, what: &str) -> Origin {
        Origin::Table {
            row: format!("{}: {what}", self.m.model),
            source: format!("catalogue, {}", self.m.place),
        }
    }

    fn here(&self, quantity: &str) -> Origin {
        see(&self.t.zone, quantity)
    }

    /// Where the temperature of the air entering a coil comes from.
    fn air_origin(&self, c: &CoilSteps) -> Origin {
        if c.air_entering_c == self.t.coil_air_entering_c {
            self.here("coil_air_entering")
        } else {
            constant("plenum air at this load and air flow")
        }
    }

    fn room_c(&self) -> (f64, Origin) {
        (
            self.cx.design.loads.rooms[self.lead].set_point_c,
            see(&self.cx.project.rooms[self.lead].id, "cooling_set_point"),
        )
    }

    fn supply_c(&self) -> (f64, Origin) {
        (self.cx.design.primary_unit.delivered_dry_bulb_c, see("primary air", "delivered_dry_bulb"))
    }

    fn supply_w(&self) -> (f64, Origin) {
        (self.cx.design.dew_point.supply_humidity_ratio_kg_per_kg, see("dew point", "supply_humidity_ratio"))
    }

    fn water(&self) -> (f64, Origin) {
        (self.t.water_entering_c, see("dew point", "sensible_water"))
    }

    /// Humidity ratio of the room air of the zone, as a line.
    fn room_w(&self, out: &mut Vec<Line>) -> f64 {
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
        self.plenum(out, "W_coil", "W_room", room, w);
        w
    }

    /// Humidity ratio of the plenum over a room at `w`, as a line.
    fn plenum(&self, out: &mut Vec<Line>, symbol: &str, from: &str, w: f64, value: f64) {
        let c = &self.cx.design.conditions.dehumidification;
        out.push(
            Line::new(
                symbol,
                "humidity ratio of the plenum air: a part of the facade leakage enters above the ceiling",
                format!("{from} + m_leak * max(0, W_out - {from}) / (V_coil * rho_0)"),
            )
            .with(from, K::HumidityRatio, w, above(from))
            .with(
                "m_leak",
                K::MassFlow,
                self.t.steps.plenum_leak_kg_per_s,
                constant("a quarter of the infiltration of the zone; common practice, no source"),
            )
            .with(
                "W_out",
                K::HumidityRatio,
                c.humidity_ratio_kg_per_kg,
                Origin::Weather(format!("dehumidification condition, {}", c.method)),
            )
            .with("V_coil", K::StandardAirFlow, self.t.coil_air_m3_per_s, self.here("coil_air_flow"))
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .result(K::HumidityRatio, value)
            .source(Source::new("mass balance of water vapour", "plenum as a node of its own")),
        );
    }

    fn full(&self, quantity: &str) -> Lines {
        let (cx, t, m, s) = (self.cx, self.t, self.m, &self.t.steps);
        let flow = K::StandardAirFlow;
        let mut out = Vec::new();
        let terminals = &cx.project.terminals;
        match quantity {
            "dew_point_margin" => out.push(self.margin("margin", "dew-point margin: entering water minus dew point of the coil air", t.water_margin_k)),
            "required_margin" => {
                let c = &cx.project.criteria;
                out.push(
                    Line::new("margin_required", "margin that should be kept", "e_sensor + b_water")
                        .with("e_sensor", K::TemperatureDifference, c.sensor_error.value.si(), c.sensor_error.origin.clone())
                        .with("b_water", K::TemperatureDifference, c.water_control_band.value.si(), c.water_control_band.origin.clone())
                        .result(K::TemperatureDifference, t.required_margin_k)
                        .source(SUM),
                );
            }
            "surface_margin" => self.surface(s.coil.as_ref(), t.coil_air_leaving_c, t.surface_margin_k, &mut out),
            "coil_air_dew_point" => self.coil_air_dew_point(&mut out),
            "units" => out.push(
                super::given_number("n", format!("units of {}", t.model), f64::from(t.units), constant("result of the selection: the first in the order of the catalogue, and the fewest, that does the job"))
                    .note(if t.rejected.is_empty() {
                        format!("{} is the smallest unit of the catalogue", t.model)
                    } else {
                        let list: Vec<String> = t.rejected.iter().map(|r| format!("{}: {}", r.model, r.reason)).collect();
                        format!("smaller units failed - {}", list.join("; "))
                    }),
            ),
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
            "unit_primary_minimum" => out.push(given("V_min", "least controllable primary air", flow, t.primary_min_m3_per_s, self.catalogue("primary minimum"))),
            "supplementary_flow" => {
                if t.supplementary_m3_per_s == 0.0 {
                    return Some(zero("V_box", "supplementary primary air", flow, 0.0, "the damper of the unit carries all primary air"));
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
                    .or_else(|| m.inlet.iter().max_by(|a, b| a.primary.to_m3_per_s().total_cmp(&b.primary.to_m3_per_s())))?;
                out.push(
                    Line::new("p_inlet", "pressure needed at the primary inlet", "p_rated * (V_p / V_rated) ^ 2")
                        .with("p_rated", K::PressureDifference, point.inlet_pressure.to_pascals(), self.catalogue("inlet rating"))
                        .with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air"))
                        .with("V_rated", flow, point.primary.to_m3_per_s(), self.catalogue("inlet rating"))
                        .result(K::PressureDifference, t.inlet_pressure_pa)
                        .source(Source::new("square law of turbulent flow", "from the rating point")),
                );
            }
            "fan_flow" => self.fan_flow(&mut out),
            "fan_flow_heating" => self.fan_flow_heating(&mut out),
            "fan_power" => {
                let fan = t.fan_m3_per_s;
                let volume = s.coil_air_volume_m3_per_kg;
                self.fan_power("P_fan", "fan power at the cooling design", (fan, self.here("fan_flow")), volume, t.fan_power_w, &mut out);
            }
            "fan_power_half" => {
                let fan = 0.5 * t.fan_m3_per_s;
                out.push(
                    Line::new("V_half", "half the fan air", "V_fan / 2")
                        .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                        .result(flow, fan)
                        .source(Source::new("definition", "half")),
                );
                self.fan_power("P_half", "fan power at half the fan air", (fan, above("V_half")), self.duct_volume(), t.fan_power_half_w, &mut out);
            }
            "constant_speed_power" => out.push(given("P_constant", "power of a fan that always runs at its most air", K::Power, t.constant_speed_power_w, self.catalogue("fan ratings, least squares at most air"))),
            "unit_sensible_load" => self.sensible(&mut out),
            "primary_cooling" => self.primary_cooling(&mut out),
            "fan_heat" => return Some(same("q_fan", "heat of the fan: all its power", K::Power, t.fan_heat_w, &t.zone, "fan_power")),
            "plenum_heat" => self.plenum_heat(&mut out),
            "discharge_temperature" => self.discharge(
                (s.room_cooling_w, s.discharge_kg_per_s, s.discharge_humidity_ratio_kg_per_kg),
                (t.sensible_load_w, self.here("unit_sensible_load")),
                t.discharge_c,
                &mut out,
            ),
            "heating_discharge_temperature" => self.heating_discharge(&mut out),
            "unit_heating_load" => self.heating_load(&mut out),
            "heating_capacity" => self.heating_capacity(&mut out),
            "heating_water_flow" => match &s.heating_coil {
                Some(c) => {
                    let water = terminals.heating_water.origin.clone();
                    let air = constant("air behind mixing and fan");
                    Self::water_flow(c, (1, water, air), c.duty_w, t.heating_water_m3_per_s, &mut out);
                }
                None => return Some(zero("V_water", "hot water", K::WaterFlow, t.heating_water_m3_per_s, "no hot-water coil runs")),
            },
            "sound" => self.sound(&mut out)?,
            "coil_duty" => self.coil_duty(&mut out),
            "coil_capacity" => match &s.coil_open {
                Some(c) => {
                    coil::duty(&mut out, c, m.rows, self.water().1, self.air_origin(c));
                    Self::close(&mut out, "Q_most", "coil capacity with the valve open at the design fan air", c.duty_w, t.coil_capacity_w);
                }
                None => return Some(zero("Q_most", "coil capacity", K::Power, t.coil_capacity_w, "no air passes the coil")),
            },
            "coil_air_flow" => out.push(match m.arrangement {
                FanArrangement::Series => Line::new("V_coil", "air through the coil: fan air less primary air", "max(0, V_fan - V_p)")
                    .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                    .with("V_p", flow, t.primary_m3_per_s, self.here("unit_primary_air"))
                    .result(flow, t.coil_air_m3_per_s)
                    .source(Source::new("mass balance of air", "fan in series")),
                FanArrangement::Parallel => Line::new("V_coil", "air through the coil: the fan moves nothing else", "V_fan")
                    .with("V_fan", flow, t.fan_m3_per_s, self.here("fan_flow"))
                    .result(flow, t.coil_air_m3_per_s)
                    .source(Source::new("mass balance of air", "fan in parallel")),
            }),
            "coil_air_entering" => {
                let (room, origin) = self.room_c();
                let plenum = terminals.coil_air.value == CoilAir::Plenum && t.coil_air_m3_per_s > 0.0;
                if plenum && (t.coil_air_entering_c - room).abs() > 1e-12 {
                    let w = self.room_w(&mut out);
                    let cp = air::cp(&mut out, "c_p", "the room air", w, above("W_room"));
                    out.push(
                        Line::new("t_coil", "air entering the coil, from the plenum", "t_room + q_plenum / (V_coil * rho_0 * c_p)")
                            .with("t_room", K::Temperature, room, origin)
                            .with("q_plenum", K::Power, t.plenum_w, self.here("plenum_heat"))
                            .with("V_coil", flow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
                            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                            .with("c_p", K::SpecificHeat, cp, above("c_p"))
                            .result(K::Temperature, t.coil_air_entering_c)
                            .source(BALANCE_HEAT),
                    );
                } else {
                    out.push(given("t_coil", "air entering the coil, from the room", K::Temperature, t.coil_air_entering_c, origin));
                }
            }
            "coil_air_leaving" => {
                let w = self.coil_w(&mut out);
                let cp = air::cp(&mut out, "c_p", "the coil air", w, above("W_coil"));
                if s.coil.is_none() {
                    return Some(vec![given("t_leaving", "air behind the coil, whose valve is shut: as it was drawn", K::Temperature, t.coil_air_leaving_c, constant("room or plenum air"))]);
                }
                if t.coil_air_m3_per_s > 0.0 {
                    out.push(
                        Line::new("t_leaving", "air leaving the coil", "t_coil - Q / (V_coil * rho_0 * c_p)")
                            .with("t_coil", K::Temperature, t.coil_air_entering_c, self.here("coil_air_entering"))
                            .with("Q", K::Power, t.coil_duty_w, self.here("coil_duty"))
                            .with("V_coil", flow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
                            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                            .with("c_p", K::SpecificHeat, cp, above("c_p"))
                            .result(K::Temperature, t.coil_air_leaving_c)
                            .source(BALANCE_HEAT),
                    );
                } else {
                    return Some(same("t_leaving", "no air passes the coil", K::Temperature, t.coil_air_leaving_c, &t.zone, "coil_air_entering"));
                }
            }
            "face_velocity" => {
                let rho = 1.0 / self.duct_volume();
                self.coil_w(&mut out);
                out.push(air::density(cx, "rho", "dry air in the coil air", (t.coil_air_entering_c, self.here("coil_air_entering")), (self.t.steps.room_humidity_ratio_kg_per_kg, above("W_room"))).0);
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
            "water_entering" => return Some(same("t_water", "water entering", K::Temperature, t.water_entering_c, "dew point", "sensible_water")),
            "water_leaving" => match &s.coil {
                Some(c) => {
                    coil::duty(&mut out, c, m.rows, self.water().1, self.air_origin(c));
                    out.push(
                        Line::new("t_leaving", "water leaving", "t_water + Q_coil / C_water")
                            .with("t_water", K::Temperature, c.water_entering_c, self.water().1)
                            .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                            .with("C_water", K::Conductance, c.water_w_per_k, constant("water flow times density and specific heat at its mean temperature"))
                            .result(K::Temperature, t.water_leaving_c)
                            .source(BALANCE_HEAT),
                    );
                }
                None => return Some(same("t_leaving", "the valve is shut", K::Temperature, t.water_leaving_c, &t.zone, "water_entering")),
            },
            "water_flow" => match &s.coil {
                Some(c) => {
                    let (water, air) = (self.water().1, self.air_origin(c));
                    Self::water_flow(c, (m.rows, water, air), t.coil_duty_w, t.water_m3_per_s, &mut out);
                }
                None => return Some(zero("V_water", "water flow", K::WaterFlow, t.water_m3_per_s, "the valve is shut at design: primary air alone cools enough")),
            },
            "water_velocity" => match &s.coil {
                Some(c) => self.velocity(c, t.water_velocity_m_per_s, &mut out),
                None => return Some(zero("v_water", "water velocity", K::Velocity, t.water_velocity_m_per_s, "the valve is shut at design")),
            },
            "water_drop" => out.push(
                Line::new("p_coil", "water pressure drop of the coil", "p_rated * (V_water / V_rated) ^ 2")
                    .with("p_rated", K::PressureDifference, m.water_drop.to_pascals(), self.catalogue("water pressure drop"))
                    .with("V_water", K::WaterFlow, t.water_m3_per_s, self.here("water_flow"))
                    .with("V_rated", K::WaterFlow, m.water_max.si(), self.catalogue("most water"))
                    .result(K::PressureDifference, t.water_drop_pa)
                    .source(Source::new("square law of turbulent flow", "from the rating point")),
            ),
            "valve_kv" => self.valve(&mut out),
            "valve_authority" => self.authority(&mut out),
            "coil_fit_residual" => out.push(
                given("r", "largest difference of the fitted coil from its rating points, over the rated duty", K::Fraction, t.coil_fit_residual, self.catalogue("rating points of the coil"))
                    .source(Source::new("least squares", "air-side and water-side resistance fitted to the rating points")),
            ),
            _ => return None,
        }
        Some(out)
    }

    fn part(&self, p: &TerminalPartLoad, key: &str) -> Lines {
        let mut out = Vec::new();
        let prefix = load_word(p);
        let here = |q: &str| self.here(&format!("{prefix}{q}"));
        let flow = K::StandardAirFlow;
        match key {
            "share" => out.push(given(
                "x",
                "share of the design load",
                K::Fraction,
                p.load_share,
                constant("part loads shown: quarter, half, three quarters, full"),
            )),
            "dew_point_margin" => out.push(self.margin(
                "margin",
                "dew-point margin; water and coil air do not depend on the load",
                p.water_margin_k,
            )),
            "surface_margin" => self.surface(p.coil.as_ref(), p.surface_c, p.surface_margin_k, &mut out),
            "fan_flow" => {
                let (room, origin) = self.room_c();
                let cp = Self::blend(p.discharge_humidity_ratio_kg_per_kg, &mut out);
                self.by_discharge(
                    &mut out,
                    p.room_cooling_w,
                    (room, origin),
                    (p.discharge_c, here("discharge_temperature")),
                    cp,
                    p.fan_m3_per_s,
                    p.discharge_kg_per_s,
                );
            }
            "water_flow" => match &p.coil {
                Some(c) => {
                    let (water, air) = (self.water().1, self.air_origin(c));
                    Self::water_flow(c, (self.m.rows, water, air), p.coil_duty_w, p.water_m3_per_s, &mut out);
                }
                None => {
                    return Some(zero(
                        "V_water",
                        "water flow",
                        K::WaterFlow,
                        p.water_m3_per_s,
                        "the valve is shut",
                    ));
                }
            },
            "fan_power" => self.fan_power(
                "P_fan",
                "fan power",
                (p.fan_m3_per_s, here("fan_flow")),
                p.fan_air_volume_m3_per_kg,
                p.fan_power_w,
                &mut out,
            ),
            "discharge_temperature" => {
                let load = self.t.sensible_load_w * p.load_share;
                out.push(
                    Line::new("q_part", "sensible load at part load", "q * x")
                        .with("q", K::Power, self.t.sensible_load_w, self.here("unit_sensible_load"))
                        .with("x", K::Fraction, p.load_share, here("share"))
                        .result(K::Power, load)
                        .source(Source::new("definition", "share of the design load")),
                );
                self.discharge(
                    (p.room_cooling_w, p.discharge_kg_per_s, p.discharge_humidity_ratio_kg_per_kg),
                    (load, above("q_part")),
                    p.discharge_c,
                    &mut out,
                );
            }
            _ => return None,
        }
        let _ = flow;
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

    fn surface(&self, c: Option<&CoilSteps>, surface_c: f64, value: f64, out: &mut Vec<Line>) {
        let (water, origin) = self.water();
        let surface = if let Some(c) = c {
            let leaving = c.air_entering_c - c.duty_w / c.air_w_per_k;
            out.push(
                Line::new("t_air", "air leaving the coil while water flows", "t_coil - Q / C_air")
                    .with("t_coil", K::Temperature, c.air_entering_c, self.air_origin(c))
                    .with("Q", K::Power, c.duty_w, constant("duty of the coil at this flow"))
                    .with("C_air", K::Conductance, c.air_w_per_k, constant("dry air times its specific heat"))
                    .result(K::Temperature, leaving)
                    .source(BALANCE_HEAT),
            );
            let inner = c.metal_k_per_w + c.water_k_per_w;
            let surface = water + (leaving - water) * inner / (inner + c.air_k_per_w);
            out.push(
                Line::new(
                    "t_surface",
                    "coldest fin base: where the water enters",
                    "t_water + (t_air - t_water) * (1 / G_metal + 1 / G_water) / (1 / G_air + 1 / G_metal + 1 / G_water)",
                )
                .with("t_water", K::Temperature, water, origin)
                .with("t_air", K::Temperature, leaving, above("t_air"))
                .with("G_metal", K::Conductance, 1.0 / c.metal_k_per_w, self.catalogue("fitted metal conductance"))
                .with("G_water", K::Conductance, 1.0 / c.water_k_per_w, self.catalogue("fitted water-side conductance at this flow"))
                .with("G_air", K::Conductance, 1.0 / c.air_k_per_w, self.catalogue("fitted air-side conductance at this flow"))
                .result(K::Temperature, surface)
                .source(Source::new("definition", "thermal resistances in series")),
            );
            surface
        } else {
            out.push(given(
                "t_surface",
                "the valve is shut: the coil stands at the air behind it",
                K::Temperature,
                surface_c,
                constant("air behind the coil"),
            ));
            surface_c
        };
        out.push(
            Line::new("margin_surface", "margin of the fin surface, for information", "t_surface - t_dp")
                .with("t_surface", K::Temperature, surface, above("t_surface"))
                .with("t_dp", K::Temperature, self.t.coil_air_dew_point_c, self.here("coil_air_dew_point"))
                .result(K::TemperatureDifference, value)
                .source(Source::new("definition", "surface minus dew point of the coil air")),
        );
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
        let plenum =
            w + t.steps.plenum_leak_kg_per_s * (c - w).max(0.0) / (t.coil_air_m3_per_s * RHO).max(1e-9);
        self.plenum(out, "W_plenum", "W_dp", w, plenum);
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

    /// Specific heat of the discharge, as lines that end in `c_d`.
    fn blend(w: f64, out: &mut Vec<Line>) -> f64 {
        air::cp(
            out,
            "c_d",
            "the discharge",
            w,
            constant("humidity ratio of the discharge: primary and coil air mixed by mass"),
        )
    }

    #[allow(clippy::too_many_arguments)]
    fn by_discharge(
        &self,
        out: &mut Vec<Line>,
        cooling_w: f64,
        (room, room_o): (f64, Origin),
        (discharge, discharge_o): (f64, Origin),
        cp: f64,
        fan: f64,
        m_d: f64,
    ) {
        let t = self.t;
        let base = match self.m.arrangement {
            FanArrangement::Series => "q_given / (rho_0 * c_d * (t_room - t_d))",
            FanArrangement::Parallel => "q_given / (rho_0 * c_d * (t_room - t_d)) - V_p",
        };
        // Where the room gets nothing, the flow does not follow from the heat.
        if cooling_w.abs() < 1e-3 * m_d * cp || (room - discharge).abs() < 1e-3 {
            out.push(given(
                "V_fan",
                "fan air: its least, since the room needs neither heat nor cooling",
                K::StandardAirFlow,
                fan,
                self.catalogue("least fan air"),
            ));
            return;
        }
        let mut line = Line::new("V_fan", "fan air of one unit", base)
            .with(
                "q_given",
                K::Power,
                cooling_w,
                constant("cooling given to the room; equals its load within 0.1 %"),
            )
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .with("c_d", K::SpecificHeat, cp, above("c_d"))
            .with("t_room", K::Temperature, room, room_o)
            .with("t_d", K::Temperature, discharge, discharge_o);
        if self.m.arrangement == FanArrangement::Parallel {
            line = line.with("V_p", K::StandardAirFlow, t.primary_m3_per_s, self.here("unit_primary_air"));
        }
        out.push(line.result(K::StandardAirFlow, fan).source(BALANCE_HEAT).note(SOLVED));
    }

    fn fan_flow(&self, out: &mut Vec<Line>) {
        let (t, s) = (self.t, &self.t.steps);
        let cp = Self::blend(s.discharge_humidity_ratio_kg_per_kg, out);
        self.by_discharge(
            out,
            s.room_cooling_w,
            self.room_c(),
            (t.discharge_c, self.here("discharge_temperature")),
            cp,
            t.fan_m3_per_s,
            s.discharge_kg_per_s,
        );
    }

    fn fan_flow_heating(&self, out: &mut Vec<Line>) {
        let (t, s) = (self.t, &self.t.steps);
        if t.fan_heating_m3_per_s == 0.0 || s.heating_discharge_kg_per_s == 0.0 {
            out.extend(zero(
                "V_fan",
                "fan air in heating",
                K::StandardAirFlow,
                t.fan_heating_m3_per_s,
                "the terminal does not heat at design",
            ));
            return;
        }
        let room = self.cx.design.loads.rooms[self.lead].heating_set_point_c;
        let id = &self.cx.project.rooms[self.lead].id;
        let cp = air::cp(
            out,
            "c_d",
            "the discharge in heating",
            s.heating_humidity_ratio_kg_per_kg,
            see("primary air", "heating_delivered_humidity_ratio"),
        );
        self.by_discharge(
            out,
            -s.heating_given_w,
            (room, see(id, "heating_set_point")),
            (t.discharge_heating_c, self.here("heating_discharge_temperature")),
            cp,
            t.fan_heating_m3_per_s,
            s.heating_discharge_kg_per_s,
        );
    }

    fn fan_power(
        &self,
        symbol: &str,
        meaning: &str,
        (fan, origin): (f64, Origin),
        volume: f64,
        value: f64,
        out: &mut Vec<Line>,
    ) {
        let s = &self.t.steps;
        if value == 0.0 {
            out.extend(zero(symbol, meaning, K::Power, value, "the fan stands"));
            return;
        }
        let actual = fan * RHO * volume;
        out.push(
            Line::new("V_actual", "volume that the fan moves", "V_fan * rho_0 / rho")
                .with("V_fan", K::StandardAirFlow, fan, origin)
                .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
                .with(
                    "rho",
                    K::Density,
                    1.0 / volume,
                    constant("dry air in the coil air at the site's pressure"),
                )
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

    fn duct_volume(&self) -> f64 {
        raw::volume_m3_per_kg(
            self.t.coil_air_entering_c,
            self.t.steps.room_humidity_ratio_kg_per_kg,
            self.cx.p(),
        )
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

    fn coil_duty(&self, out: &mut Vec<Line>) {
        let (t, s) = (self.t, &self.t.steps);
        let Some(c) = &s.coil else {
            out.extend(zero(
                "Q",
                "coil duty",
                K::Power,
                t.coil_duty_w,
                "the valve is shut at design: primary air alone cools enough",
            ));
            return;
        };
        let w = self.coil_w(out);
        let cp = air::cp(out, "c_coil", "the coil air", w, above("W_coil"));
        let (room, ro) = self.room_c();
        let pick = t.coil_air_m3_per_s * RHO * cp * (t.coil_air_entering_c - room);
        out.push(
            Line::new(
                "q_warm",
                "heat that the coil air brings above the room's temperature",
                "V_coil * rho_0 * c_coil * (t_coil - t_room)",
            )
            .with("V_coil", K::StandardAirFlow, t.coil_air_m3_per_s, self.here("coil_air_flow"))
            .with("rho_0", K::Density, RHO, constant("density of standard air, 0.075 lb/ft3"))
            .with("c_coil", K::SpecificHeat, cp, above("c_coil"))
            .with("t_coil", K::Temperature, t.coil_air_entering_c, self.here("coil_air_entering"))
            .with("t_room", K::Temperature, room, ro)
            .result(K::Power, pick)
            .source(BALANCE_HEAT),
        );
        if (c.duty_w - t.coil_duty_w).abs() <= 1e-9 * c.duty_w.abs() {
            coil::duty(out, c, self.m.rows, self.water().1, self.air_origin(c));
            let given = c.duty_w + t.primary_cooling_w - t.fan_heat_w - pick - s.reheat_w;
            out.push(
                Line::new(
                    "r",
                    "cooling given to the room less its load",
                    "Q_coil + q_primary - q_fan - q_warm - q_reheat - q_unit",
                )
                .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                .with("q_primary", K::Power, t.primary_cooling_w, self.here("primary_cooling"))
                .with("q_fan", K::Power, t.fan_heat_w, self.here("fan_heat"))
                .with("q_warm", K::Power, pick, above("q_warm"))
                .with("q_reheat", K::Power, s.reheat_w, constant("heating coil while cooling"))
                .with("q_unit", K::Power, t.sensible_load_w, self.here("unit_sensible_load"))
                .result(K::Power, given - t.sensible_load_w)
                .source(BALANCE_HEAT)
                .note(format!("{SOLVED}; the search ends within 0.1 % of the load")),
            );
            Self::close(out, "Q", "coil duty of one unit", c.duty_w, t.coil_duty_w);
            return;
        }
        out.push(
            Line::new(
                "Q",
                "coil duty of one unit, mean over opening and shutting of the valve",
                "q_given - q_primary + q_fan + q_warm + q_reheat",
            )
            .with(
                "q_given",
                K::Power,
                s.room_cooling_w,
                constant("cooling given to the room: its load, which the mean over the cycle meets"),
            )
            .with("q_primary", K::Power, t.primary_cooling_w, self.here("primary_cooling"))
            .with("q_fan", K::Power, t.fan_heat_w, self.here("fan_heat"))
            .with("q_warm", K::Power, pick, above("q_warm"))
            .with("q_reheat", K::Power, s.reheat_w, constant("heating coil while cooling"))
            .result(K::Power, t.coil_duty_w)
            .source(BALANCE_HEAT)
            .note(format!("the coil makes this with the water flow of {} water_flow", t.zone)),
        );
    }

    fn close(out: &mut Vec<Line>, symbol: &str, meaning: &str, duty: f64, value: f64) {
        out.push(
            Line::new(symbol, meaning, "Q_coil")
                .with("Q_coil", K::Power, duty, above("Q_coil"))
                .result(K::Power, value)
                .source(GIVEN),
        );
    }

    fn water_flow(
        c: &CoilSteps,
        (rows, water, air_o): (u32, Origin, Origin),
        duty: f64,
        value: f64,
        out: &mut Vec<Line>,
    ) {
        out.push(
            given(
                "V_w",
                "water through the coil while it flows",
                K::WaterFlow,
                c.water_m3_per_s,
                constant("found by the search for valve and fan"),
            )
            .note("the lines below show the duty that the fitted coil has with this flow"),
        );
        coil::duty(out, c, rows, water, air_o);
        let cycling = (value - c.water_m3_per_s).abs() > 1e-9 * value.abs();
        if cycling {
            out.push(
                Line::new(
                    "V_water",
                    "water flow, mean over opening and shutting of the valve",
                    "V_w * Q_mean / Q_coil",
                )
                .with("V_w", K::WaterFlow, c.water_m3_per_s, above("V_w"))
                .with("Q_mean", K::Power, duty, constant("heat that the coil must take, on the mean"))
                .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                .result(K::WaterFlow, value)
                .source(BALANCE_HEAT),
            );
            return;
        }
        out.push(
            Line::new("V_water", "water flow of one unit", "V_w")
                .with("V_w", K::WaterFlow, c.water_m3_per_s, above("V_w"))
                .result(K::WaterFlow, value)
                .source(Source::new("definition", "the solved flow"))
                .note("the flow at which the heat balance of the room closes within 0.1 % of its load; the sheet of the coil duty, or of the discharge temperature, shows what is left"),
        );
    }

    fn velocity(&self, c: &CoilSteps, value: f64, out: &mut Vec<Line>) {
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
                .with(
                    "V_water",
                    K::WaterFlow,
                    c.water_m3_per_s,
                    constant("water through the coil while it flows"),
                )
                .with(
                    "rho_in",
                    K::Density,
                    entering,
                    constant("density of water at its entering temperature"),
                )
                .with("rho_mean", K::Density, mean, constant("density of water at its mean temperature"))
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
                "V_water * h_1 / V_1 * (rho_w / rho_1 / (p_valve / p_1)) ^ 0.5",
            )
            .with("V_water", K::WaterFlow, t.water_m3_per_s, self.here("water_flow"))
            .with("h_1", K::Time, 3600.0, constant("one hour"))
            .with("V_1", K::Volume, 1.0, constant("one cubic metre"))
            .with("rho_w", K::Density, rho, constant("density of water at its entering temperature"))
            .with("rho_1", K::Density, 1000.0, constant("reference of the coefficient"))
            .with(
                "p_valve",
                K::PressureDifference,
                drop.value.to_pascals() - t.water_drop_pa,
                above("p_valve"),
            )
            .with("p_1", K::PressureDifference, 1e5, constant("reference of the coefficient, 1 bar"))
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

    fn discharge(
        &self,
        (cooling, m_d, w): (f64, f64, f64),
        (load, load_o): (f64, Origin),
        value: f64,
        out: &mut Vec<Line>,
    ) {
        let cp = Self::blend(w, out);
        let (room, ro) = self.room_c();
        out.push(
            Line::new("q_given", "cooling given to the room", "q_load - q_unmet")
                .with("q_load", K::Power, load, load_o)
                .with(
                    "q_unmet",
                    K::Power,
                    load - cooling,
                    constant("load not met; negative where cold primary air gives more than the load"),
                )
                .result(K::Power, cooling)
                .source(BALANCE_HEAT),
        );
        out.push(
            Line::new("t_d", "discharge temperature", "t_room - q_given / (m_d * c_d)")
                .with("t_room", K::Temperature, room, ro)
                .with("q_given", K::Power, cooling, above("q_given"))
                .with("m_d", K::MassFlow, m_d, constant("dry air discharged: primary and coil air"))
                .with("c_d", K::SpecificHeat, cp, above("c_d"))
                .result(K::Temperature, value)
                .source(BALANCE_HEAT)
                .note(SOLVED),
        );
    }

    fn heating_discharge(&self, out: &mut Vec<Line>) {
        let s = &self.t.steps;
        let room = self.cx.design.loads.rooms[self.lead].heating_set_point_c;
        let id = &self.cx.project.rooms[self.lead].id;
        let cp = air::cp(
            out,
            "c_d",
            "the discharge in heating",
            s.heating_humidity_ratio_kg_per_kg,
            see("primary air", "heating_delivered_humidity_ratio"),
        );
        out.push(
            Line::new("t_d", "discharge temperature in heating", "t_room + q_given / (m_d * c_d)")
                .with("t_room", K::Temperature, room, see(id, "heating_set_point"))
                .with(
                    "q_given",
                    K::Power,
                    s.heating_given_w,
                    constant("heat given to the room: its load within 0.1 %"),
                )
                .with(
                    "m_d",
                    K::MassFlow,
                    s.heating_discharge_kg_per_s,
                    constant("dry air discharged: primary and coil air"),
                )
                .with("c_d", K::SpecificHeat, cp, above("c_d"))
                .result(K::Temperature, self.t.discharge_heating_c)
                .source(BALANCE_HEAT)
                .note(SOLVED),
        );
    }

    fn heating_load(&self, out: &mut Vec<Line>) {
        let (t, s) = (self.t, &self.t.steps);
        if s.heating_discharge_kg_per_s == 0.0 {
            out.extend(zero(
                "Q_heat",
                "heating coil load",
                K::Power,
                t.heating_load_w,
                "the terminal does not heat at design",
            ));
            return;
        }
        let loads = &self.cx.design.loads.rooms;
        out.push(super::sum_line(
            "q_zone",
            "heating load of the rooms of the zone",
            K::Power,
            s.zone_heating_w,
            t.rooms.iter().filter_map(|r| self.cx.project.room_index(r)).map(|i| {
                (format!("q_{}", i + 1), loads[i].heating.load_w, see(&loads[i].room, "heating_load"))
            }),
        ));
        let room = loads[self.lead].heating_set_point_c;
        let id = &self.cx.project.rooms[self.lead].id;
        let cp = air::cp(
            out,
            "c_p",
            "the air in heating",
            s.heating_humidity_ratio_kg_per_kg,
            see("primary air", "heating_delivered_humidity_ratio"),
        );
        let (line, m) = air::mass_flow(
            "m_p",
            "the primary air of one unit",
            t.primary_m3_per_s,
            self.here("unit_primary_air"),
        );
        out.push(line);
        out.push(
            Line::new(
                "Q_heat",
                "heating coil load of one unit, primary air included",
                "q_given + m_p * c_p * (t_room - t_primary) - P_fan",
            )
            .with(
                "q_given",
                K::Power,
                s.heating_given_w,
                constant(
                    "share of q_zone of one unit, with the cold of a supplementary box; met within 0.1 %",
                ),
            )
            .with("m_p", K::MassFlow, m, above("m_p"))
            .with("c_p", K::SpecificHeat, cp, above("c_p"))
            .with("t_room", K::Temperature, room, see(id, "heating_set_point"))
            .with(
                "t_primary",
                K::Temperature,
                s.heating_primary_c,
                see("primary air", "heating_delivered_dry_bulb"),
            )
            .with("P_fan", K::Power, s.heating_fan_power_w, constant("fan power in heating"))
            .result(K::Power, t.heating_load_w)
            .source(BALANCE_HEAT),
        );
    }

    fn heating_capacity(&self, out: &mut Vec<Line>) {
        let t = self.t;
        match (&t.steps.heating_coil_open, &self.m.heating) {
            (Some(c), _) => {
                coil::duty(
                    out,
                    c,
                    1,
                    self.cx.project.terminals.heating_water.origin.clone(),
                    constant("air behind mixing and fan"),
                );
                out.push(
                    Line::new("Q_able", "heating coil capacity with its valve open", "-Q_coil")
                        .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                        .result(K::Power, t.heating_capacity_w)
                        .source(GIVEN),
                );
            }
            (None, HeatingCoil::Electric(_)) if t.heating_capacity_w > 0.0 => {
                out.push(given(
                    "Q_able",
                    "electric heater",
                    K::Power,
                    t.heating_capacity_w,
                    self.catalogue("heater"),
                ));
            }
            _ => out.extend(zero(
                "Q_able",
                "heating coil capacity",
                K::Power,
                t.heating_capacity_w,
                "the terminal does not heat at design",
            )),
        }
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
