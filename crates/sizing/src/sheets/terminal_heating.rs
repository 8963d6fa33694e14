//! Sheets of a terminal at the heating design.
//!
//! In winter the room air is taken at the humidity of the primary air, so mixing is a balance of heat alone.

use super::rooms::zero;
use super::terminals::T;
use super::{BALANCE_HEAT, GIVEN, STANDARD_FLOW, above, air, coil, constant, given, see};
use crate::design::CoilSteps;
use drycoil_air::raw;
use drycoil_project::{FanArrangement, HeatingCoil};
use drycoil_units::{QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

const DENSITY: &str = "density of standard air, 0.075 lb/ft3";

/// The heating design of a terminal unit.
#[derive(Clone, Copy)]
pub(super) struct Heating<'a> {
    x: T<'a>,
}

impl<'a> Heating<'a> {
    /// `None` where the terminal does not heat at design.
    pub(super) fn of(x: T<'a>) -> Option<Self> {
        (x.t.steps.heating_discharge_kg_per_s > 0.0 && x.t.fan_heating_m3_per_s > 0.0).then_some(Self { x })
    }

    fn room(&self) -> (f64, Origin) {
        let id = &self.x.cx.project.rooms[self.x.lead].id;
        (self.x.cx.design.loads.rooms[self.x.lead].heating_set_point_c, see(id, "heating_set_point"))
    }

    fn primary_c(&self) -> (f64, Origin) {
        (self.x.t.steps.heating_primary_c, see("primary air", "heating_delivered_dry_bulb"))
    }

    fn w(&self) -> (f64, Origin) {
        (
            self.x.t.steps.heating_humidity_ratio_kg_per_kg,
            see("primary air", "heating_delivered_humidity_ratio"),
        )
    }

    fn cp(&self, out: &mut Vec<Line>) -> f64 {
        let (w, origin) = self.w();
        air::cp(out, "c_d", "the air in heating", w, origin)
    }

    fn rho(&self, out: &mut Vec<Line>) -> f64 {
        let (line, rho) = air::density(self.x.cx, "rho", "dry air that the fan draws", self.room(), self.w());
        out.push(line);
        rho
    }

    fn coil_air(&self) -> f64 {
        let fan = self.x.t.fan_heating_m3_per_s;
        match self.x.m.arrangement {
            FanArrangement::Series => (fan - self.x.t.primary_m3_per_s).max(0.0),
            FanArrangement::Parallel => fan,
        }
    }

    /// Heat that one unit has to give, as lines that end in `q_unit`.
    fn load(&self, out: &mut Vec<Line>) -> f64 {
        let (x, t, s) = (self.x, self.x.t, &self.x.t.steps);
        let loads = &x.cx.design.loads.rooms;
        out.push(super::sum_line(
            "q_zone",
            "heating load of the rooms of the zone",
            K::Power,
            s.zone_heating_w,
            t.rooms.iter().filter_map(|r| x.cx.project.room_index(r)).map(|i| {
                (format!("q_{}", i + 1), loads[i].heating.load_w, see(&loads[i].room, "heating_load"))
            }),
        ));
        let n = f64::from(t.units);
        let mut share = s.zone_heating_w / n;
        let mut formula = String::from("q_zone / n");
        let mut line = Line::new("q_unit", "heating load of one unit", "")
            .with("q_zone", K::Power, s.zone_heating_w, above("q_zone"))
            .with_number("n", n, x.here("units"));
        if t.supplementary_m3_per_s > 0.0 {
            let (w, wo) = x.supply_w();
            let cp = air::cp(out, "c_s", "the primary air", w, wo);
            let ((room, ro), (primary, po)) = (self.room(), self.primary_c());
            let cold = (t.supplementary_m3_per_s * RHO * cp * (room - primary)).max(0.0);
            out.push(
                Line::new(
                    "q_box",
                    "cold that the supplementary box brings",
                    "max(0, V_box * rho_0 * c_s * (t_room - t_primary))",
                )
                .with("V_box", K::StandardAirFlow, t.supplementary_m3_per_s, x.here("supplementary_flow"))
                .with("rho_0", K::Density, RHO, constant(DENSITY))
                .with("c_s", K::SpecificHeat, cp, above("c_s"))
                .with("t_room", K::Temperature, room, ro)
                .with("t_primary", K::Temperature, primary, po)
                .result(K::Power, cold)
                .source(BALANCE_HEAT),
            );
            share += cold;
            formula.push_str(" + q_box");
            line = line.with("q_box", K::Power, cold, above("q_box"));
        }
        line.formula = formula;
        out.push(line.result(K::Power, share).source(Source::new("definition", "equal shares")));
        share
    }

    /// Fan air in heating.
    pub(super) fn fan_flow(&self, out: &mut Vec<Line>) {
        let (x, t, m) = (self.x, self.x.t, self.x.m);
        let (flow, value) = (K::StandardAirFlow, t.fan_heating_m3_per_s);
        let w = self.w().0;
        let volume = raw::volume_m3_per_kg(self.room().0, w, x.cx.p());
        let series = m.arrangement == FanArrangement::Series;
        let mut least = m.fan_min.to_m3_per_s() / volume / RHO;
        if series {
            least = least.max(t.primary_m3_per_s);
        }
        let most = t.steps.fan_full_m3_per_s / volume / RHO;
        let is = |v: f64| (value - v).abs() <= 1e-6 * v;
        if is(least) || is(most) {
            let rho = self.rho(out);
            let (meaning, limit, origin) = if is(least) {
                (
                    "fan air in heating: its least, since the discharge stays below its limit",
                    m.fan_min.to_m3_per_s(),
                    x.catalogue("least fan air, a volume"),
                )
            } else {
                (
                    "fan air in heating: its most",
                    t.steps.fan_full_m3_per_s,
                    x.catalogue("most fan air, a volume"),
                )
            };
            let with_primary = series && is(least);
            let formula =
                if with_primary { "max(V_p, V_limit * rho / rho_0)" } else { "V_limit * rho / rho_0" };
            let mut line = Line::new("V_fan", meaning, formula)
                .with("V_limit", K::ActualAirFlow, limit, origin)
                .with("rho", K::Density, rho, above("rho"))
                .with("rho_0", K::Density, RHO, constant(DENSITY));
            if with_primary {
                line = line.with("V_p", flow, t.primary_m3_per_s, x.here("unit_primary_air"));
            }
            out.push(line.result(flow, value).source(STANDARD_FLOW));
            return;
        }
        let load = self.load(out);
        let cp = self.cp(out);
        let (room, ro) = self.room();
        let warmest = &x.cx.project.terminals.highest_discharge;
        let base = "q_unit / (rho_0 * c_d * (t_warmest - t_room))";
        let mut line = Line::new(
            "V_fan",
            "fan air in heating: as much as keeps the discharge at its limit",
            if series { base.to_owned() } else { format!("{base} - V_p") },
        )
        .with("q_unit", K::Power, load, above("q_unit"))
        .with("rho_0", K::Density, RHO, constant(DENSITY))
        .with("c_d", K::SpecificHeat, cp, above("c_d"))
        .with("t_warmest", K::Temperature, warmest.value.to_celsius(), warmest.origin.clone())
        .with("t_room", K::Temperature, room, ro);
        if !series {
            line = line.with("V_p", flow, t.primary_m3_per_s, x.here("unit_primary_air"));
        }
        out.push(line.result(flow, value).source(BALANCE_HEAT));
    }

    /// Flows, as lines that end in `m_p` and `m_s`.
    fn masses(&self, out: &mut Vec<Line>) -> (f64, f64) {
        let (x, t) = (self.x, self.x.t);
        let flow = K::StandardAirFlow;
        let drawn = self.coil_air();
        let line = match x.m.arrangement {
            FanArrangement::Series => Line::new(
                "V_drawn",
                "room air that the fan draws",
                "max(0, V_fan - V_p)",
            )
            .with("V_p", flow, t.primary_m3_per_s, x.here("unit_primary_air")),
            FanArrangement::Parallel => Line::new("V_drawn", "room air that the fan draws", "V_fan"),
        };
        out.push(
            line.with("V_fan", flow, t.fan_heating_m3_per_s, x.here("fan_flow_heating"))
                .result(flow, drawn)
                .source(Source::new("mass balance of air", "terminal")),
        );
        let (line, m_p) = air::mass_flow(
            "m_p",
            "the primary air of one unit",
            t.primary_m3_per_s,
            x.here("unit_primary_air"),
        );
        out.push(line);
        let (line, m_s) = air::mass_flow("m_s", "the room air drawn", drawn, above("V_drawn"));
        out.push(line);
        (m_p, m_s)
    }

    /// Fan power in heating, as lines that end in `P_fan`.
    fn fan_power(&self, out: &mut Vec<Line>) -> f64 {
        let (x, t) = (self.x, self.x.t);
        let value = t.steps.heating_fan_power_w;
        let rho = self.rho(out);
        x.fan_power(
            "P_fan",
            "fan power in heating, all of which warms the air",
            (t.fan_heating_m3_per_s, x.here("fan_flow_heating")),
            rho,
            value,
            out,
        );
        value
    }

    /// Heat that the heating coil has to make, as lines that end in `Q_need`.
    fn need(&self, out: &mut Vec<Line>) -> f64 {
        let (x, t) = (self.x, self.x.t);
        let load = self.load(out);
        let cp = self.cp(out);
        let (line, m_p) = air::mass_flow(
            "m_p",
            "the primary air of one unit",
            t.primary_m3_per_s,
            x.here("unit_primary_air"),
        );
        out.push(line);
        let fan = self.fan_power(out);
        let ((room, ro), (primary, po)) = (self.room(), self.primary_c());
        let need = (load + m_p * cp * (room - primary) - fan).max(0.0);
        out.push(
            Line::new(
                "Q_need",
                "what the heating coil of one unit has to make: load, cold of the primary air, less heat of the fan",
                "max(0, q_unit + m_p * c_d * (t_room - t_primary) - P_fan)",
            )
            .with("q_unit", K::Power, load, above("q_unit"))
            .with("m_p", K::MassFlow, m_p, above("m_p"))
            .with("c_d", K::SpecificHeat, cp, above("c_d"))
            .with("t_room", K::Temperature, room, ro)
            .with("t_primary", K::Temperature, primary, po)
            .with("P_fan", K::Power, fan, above("P_fan"))
            .result(K::Power, need)
            .source(BALANCE_HEAT),
        );
        need
    }

    /// Heating coil load.
    pub(super) fn heating_load(&self, out: &mut Vec<Line>) {
        let t = self.x.t;
        let need = self.need(out);
        if (need - t.heating_load_w).abs() <= 1e-8 * need.max(1.0) {
            out.push(
                Line::new("Q_heat", "heating coil load of one unit, primary air included", "Q_need")
                    .with("Q_need", K::Power, need, above("Q_need"))
                    .result(K::Power, t.heating_load_w)
                    .source(GIVEN),
            );
            return;
        }
        // Selection takes a heater that is short by up to 0.1 % of the load.
        out.push(
            Line::new("Q_heat", "heating coil load of one unit: all that it makes", "min(Q_need, Q_able)")
                .with("Q_need", K::Power, need, above("Q_need"))
                .with(
                    "Q_able",
                    K::Power,
                    t.heating_load_w,
                    self.x.catalogue("heater, or the discharge limit"),
                )
                .result(K::Power, t.heating_load_w)
                .source(Source::new("definition", "the smaller governs"))
                .note("selection takes a heater that is short by up to 0.1 % of the load"),
        );
    }

    /// Air behind mixing and fan, as lines that end in `t_mix`; `m_p`, `m_s`, `c_d` and `P_fan` stand above.
    fn mixed(&self, (m_p, m_s): (f64, f64), cp: f64, fan: f64, out: &mut Vec<Line>) -> f64 {
        let ((room, ro), (primary, po)) = (self.room(), self.primary_c());
        let value = (m_p * primary + m_s * room) / (m_p + m_s) + fan / ((m_p + m_s) * cp);
        out.push(
            Line::new(
                "t_mix",
                "air behind mixing and fan",
                "(m_p * (t_primary - t_0) + m_s * (t_room - t_0)) / (m_p + m_s) + P_fan / ((m_p + m_s) * c_d) + t_0",
            )
            .with("m_p", K::MassFlow, m_p, above("m_p"))
            .with("m_s", K::MassFlow, m_s, above("m_s"))
            .with("t_primary", K::Temperature, primary, po)
            .with("t_room", K::Temperature, room, ro)
            .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
            .with("P_fan", K::Power, fan, above("P_fan"))
            .with("c_d", K::SpecificHeat, cp, above("c_d"))
            .result(K::Temperature, value)
            .source(BALANCE_HEAT),
        );
        value
    }

    /// Discharge in heating.
    pub(super) fn discharge(&self, out: &mut Vec<Line>) {
        let t = self.x.t;
        let masses = self.masses(out);
        let cp = self.cp(out);
        let fan = self.fan_power(out);
        let mix = self.mixed(masses, cp, fan, out);
        out.push(
            Line::new("t_d", "discharge temperature in heating", "t_mix + Q_heat / ((m_p + m_s) * c_d)")
                .with("t_mix", K::Temperature, mix, above("t_mix"))
                .with("Q_heat", K::Power, t.heating_load_w, self.x.here("unit_heating_load"))
                .with("m_p", K::MassFlow, masses.0, above("m_p"))
                .with("m_s", K::MassFlow, masses.1, above("m_s"))
                .with("c_d", K::SpecificHeat, cp, above("c_d"))
                .result(K::Temperature, t.discharge_heating_c)
                .source(BALANCE_HEAT),
        );
    }

    /// The hot-water coil from its fit to its duty, as lines that end in `Q_coil`.
    fn forward(&self, c: &CoilSteps, flow: Origin, out: &mut Vec<Line>) {
        let x = self.x;
        let masses = self.masses(out);
        let cp = self.cp(out);
        let fan = self.fan_power(out);
        self.mixed(masses, cp, fan, out);
        out.push(
            Line::new("m_d", "dry air through the heating coil", "m_p + m_s")
                .with("m_p", K::MassFlow, masses.0, above("m_p"))
                .with("m_s", K::MassFlow, masses.1, above("m_s"))
                .result(K::MassFlow, masses.0 + masses.1)
                .source(super::SUM),
        );
        coil::duty(
            out,
            c,
            &coil::Entering {
                rows: 1,
                catalogue: &|what| x.catalogue(what),
                dry_air: above("m_d"),
                humidity: self.w().1,
                air: above("t_mix"),
                flow,
                water: x.cx.project.terminals.heating_water.origin.clone(),
            },
        );
    }

    /// What the heating coil can do.
    pub(super) fn capacity(&self, out: &mut Vec<Line>) {
        let (x, t) = (self.x, self.x.t);
        match (&t.steps.heating_coil_open, &x.m.heating) {
            (Some(c), _) => {
                self.forward(c, x.catalogue("most hot water"), out);
                out.push(
                    Line::new("Q_able", "heating coil capacity with its valve open", "-Q_coil")
                        .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                        .result(K::Power, t.heating_capacity_w)
                        .source(GIVEN),
                );
            }
            (None, HeatingCoil::Electric(_)) if t.heating_capacity_w > 0.0 => out.push(given(
                "Q_able",
                "electric heater",
                K::Power,
                t.heating_capacity_w,
                x.catalogue("heater"),
            )),
            _ => out.extend(zero(
                "Q_able",
                "heating coil capacity",
                K::Power,
                t.heating_capacity_w,
                "the catalogue has no heater",
            )),
        }
    }

    /// Hot water.
    pub(super) fn water_flow(&self, c: &CoilSteps, out: &mut Vec<Line>) {
        let t = self.x.t;
        out.push(given(
            "V_w",
            "water through the coil",
            K::WaterFlow,
            c.water_m3_per_s,
            constant("found by search; the line `r` shows what is left"),
        ));
        self.forward(c, above("V_w"), out);
        out.push(
            Line::new("r", "heat of the coil less what is needed", "-Q_coil - Q_heat")
                .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                .with("Q_heat", K::Power, t.heating_load_w, self.x.here("unit_heating_load"))
                .result(K::Power, -c.duty_w - t.heating_load_w)
                .source(BALANCE_HEAT)
                .note("below a thousandth of the most water the valve opens and shuts, and the coil can do more"),
        );
        out.push(
            Line::new("V_water", "hot water of one unit", "V_w")
                .with("V_w", K::WaterFlow, c.water_m3_per_s, above("V_w"))
                .result(K::WaterFlow, t.heating_water_m3_per_s)
                .source(Source::new("definition", "the solved flow")),
        );
    }
}
