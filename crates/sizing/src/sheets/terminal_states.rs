//! Sheets of a terminal at one load: air flows, coil, water flow, discharge, each from what enters it.
//!
//! Valve and fan are found by a search while sizing. The sheets run forward: from the flow that was found through coil,
//! mixing and fan to what the room gets, and a line `r` shows what is left against the load.

use super::terminals::T;
use super::{BALANCE_HEAT, GIVEN, MOIST_AIR, STANDARD_FLOW, above, air, coil, constant, given, see};
use crate::design::{CoilSteps, TerminalPartLoad};
use crate::schedule::load_word;
use crate::terminals::SMALLEST_VALVE_SHARE;
use drycoil_air::raw;
use drycoil_project::{CoilAir, FanArrangement};
use drycoil_units::{Quantity, QuantityKind as K, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO};
use drycoil_working::{Line, Origin, Source};

const DENSITY: &str = "density of standard air, 0.075 lb/ft3";
const MIXING: Source = Source::new("mixing by mass", "moist air, adiabatic");
const SETTLED: &str =
    "plenum air is the warmer the less of it is drawn: flow and temperature are settled together";

/// A terminal unit at the design load or at a part of it.
#[derive(Clone, Copy)]
pub(super) struct State<'a> {
    x: T<'a>,
    part: Option<&'a TerminalPartLoad>,
    load_w: f64,
    fan: f64,
    coil_air: f64,
    air_c: f64,
    air_w: f64,
    coil: Option<&'a CoilSteps>,
    duty_w: f64,
    reheat_w: f64,
    fan_w: f64,
    discharge_c: f64,
    discharge_w: f64,
    cooling_w: f64,
}

/// How the fan air of a state came about.
#[derive(Clone, Copy, PartialEq)]
enum Fan {
    Least,
    Most,
    Searched,
}

impl<'a> State<'a> {
    pub(super) fn design(x: T<'a>) -> Self {
        let (t, s) = (x.t, &x.t.steps);
        Self {
            x,
            part: None,
            load_w: t.sensible_load_w,
            fan: t.fan_m3_per_s,
            coil_air: t.coil_air_m3_per_s,
            air_c: t.coil_air_entering_c,
            air_w: s.coil_air_humidity_ratio_kg_per_kg,
            coil: s.coil.as_ref(),
            duty_w: t.coil_duty_w,
            reheat_w: s.reheat_w,
            fan_w: t.fan_power_w,
            discharge_c: t.discharge_c,
            discharge_w: s.discharge_humidity_ratio_kg_per_kg,
            cooling_w: s.room_cooling_w,
        }
    }

    pub(super) fn part(x: T<'a>, p: &'a TerminalPartLoad) -> Self {
        Self {
            x,
            part: Some(p),
            load_w: x.t.sensible_load_w * p.load_share,
            fan: p.fan_m3_per_s,
            coil_air: p.coil_air_m3_per_s,
            air_c: p.coil_air_entering_c,
            air_w: p.coil_air_humidity_ratio_kg_per_kg,
            coil: p.coil.as_ref(),
            duty_w: p.coil_duty_w,
            reheat_w: p.reheat_w,
            fan_w: p.fan_power_w,
            discharge_c: p.discharge_c,
            discharge_w: p.discharge_humidity_ratio_kg_per_kg,
            cooling_w: p.room_cooling_w,
        }
    }

    fn here(&self, quantity: &str) -> Origin {
        match self.part {
            Some(p) => see(&self.x.t.zone, &format!("{}{quantity}", load_word(p))),
            None => see(&self.x.t.zone, quantity),
        }
    }

    fn plenum(&self) -> bool {
        self.x.cx.project.terminals.coil_air.value == CoilAir::Plenum && self.coil_air > 0.0
    }

    /// Whether the plenum is warmer than the room; without a load to cool it is not.
    fn warm_plenum(&self) -> bool {
        self.plenum() && self.air_c != self.x.room_c().0
    }

    /// The load of one unit, as a line at part load.
    fn load(&self, out: &mut Vec<Line>) -> Origin {
        let Some(p) = self.part else { return self.x.here("unit_sensible_load") };
        out.push(
            Line::new("q_load", "sensible load of one unit at this share", "q * x")
                .with("q", K::Power, self.x.t.sensible_load_w, self.x.here("unit_sensible_load"))
                .with("x", K::Fraction, p.load_share, self.here("share"))
                .result(K::Power, self.load_w)
                .source(Source::new("definition", "share of the design load")),
        );
        above("q_load")
    }

    /// Air through the coil, as a line `V_coil`.
    fn coil_air(&self, fan: Origin, out: &mut Vec<Line>) {
        let flow = K::StandardAirFlow;
        let t = self.x.t;
        out.push(match self.x.m.arrangement {
            FanArrangement::Series => {
                Line::new("V_coil", "air through the coil: fan air less primary air", "max(0, V_fan - V_p)")
                    .with("V_fan", flow, self.fan, fan)
                    .with("V_p", flow, t.primary_m3_per_s, self.x.here("unit_primary_air"))
                    .result(flow, self.coil_air)
                    .source(Source::new("mass balance of air", "fan in series"))
            }
            FanArrangement::Parallel => {
                Line::new("V_coil", "air through the coil: the fan moves nothing else", "V_fan")
                    .with("V_fan", flow, self.fan, fan)
                    .result(flow, self.coil_air)
                    .source(Source::new("mass balance of air", "fan in parallel"))
            }
        });
    }

    /// Temperature and humidity ratio of the air that meets the coil, as lines that end in `t_coil` and `W_coil`; they
    /// follow a line `V_coil`.
    fn air(&self, out: &mut Vec<Line>) {
        let x = self.x;
        let (room, ro) = x.room_c();
        let w_room = x.room_w(out);
        if self.warm_plenum() {
            let cp = air::cp(out, "c_p", "the room air", w_room, above("W_room"));
            let mut line = Line::new("t_coil", "air entering the coil, from the plenum", "")
                .with("t_room", K::Temperature, room, ro)
                .with("q_plenum", K::Power, x.t.plenum_w, x.here("plenum_heat"));
            line.formula = if let Some(p) = self.part {
                line = line.with("x", K::Fraction, p.load_share, self.here("share"));
                "t_room + q_plenum * x / (V_coil * rho_0 * c_p)".into()
            } else {
                "t_room + q_plenum / (V_coil * rho_0 * c_p)".into()
            };
            out.push(
                line.with("V_coil", K::StandardAirFlow, self.coil_air, above("V_coil"))
                    .with("rho_0", K::Density, RHO, constant(DENSITY))
                    .with("c_p", K::SpecificHeat, cp, above("c_p"))
                    .result(K::Temperature, self.air_c)
                    .source(BALANCE_HEAT)
                    .note(SETTLED),
            );
        } else {
            out.push(given("t_coil", "air entering the coil, from the room", K::Temperature, self.air_c, ro));
        }
        if self.plenum() && x.t.steps.plenum_leak_kg_per_s > 0.0 {
            x.plenum(out, "W_coil", ("W_room", w_room), (self.coil_air, above("V_coil")), self.air_w);
        } else {
            out.push(
                Line::new("W_coil", "humidity ratio of the air that meets the coil", "W_room")
                    .with("W_room", K::HumidityRatio, w_room, above("W_room"))
                    .result(K::HumidityRatio, self.air_w)
                    .source(GIVEN),
            );
        }
    }

    fn range(&self) -> (f64, f64) {
        let x = self.x;
        let volume = raw::volume_m3_per_kg(self.air_c, self.air_w, x.cx.p());
        let mut least = x.m.fan_min.to_m3_per_s() / volume / RHO;
        if x.m.arrangement == FanArrangement::Series {
            least = least.max(x.t.primary_m3_per_s);
        }
        (least, x.t.steps.fan_full_m3_per_s / volume / RHO)
    }

    fn how(&self) -> Fan {
        let (least, most) = self.range();
        let is = |v: f64| (self.fan - v).abs() <= 1e-6 * v;
        match (is(least), is(most)) {
            (true, _) => Fan::Least,
            (_, true) => Fan::Most,
            _ => Fan::Searched,
        }
    }

    /// The fan air.
    pub(super) fn fan_flow(&self, out: &mut Vec<Line>) {
        let (x, flow) = (self.x, K::StandardAirFlow);
        let how = self.how();
        if how == Fan::Searched {
            out.push(given(
                "V_found",
                "fan air at which the room gets its load with the valve open, or with the coldest discharge allowed",
                flow,
                self.fan,
                constant("found by search; the line `r` shows what is left"),
            ));
            let load = self.load(out);
            self.coil_air(above("V_found"), out);
            self.air(out);
            let duty = self.duty(out, &load, CoilFlow::Inline);
            self.mixed(out, &load, above("V_found"), duty, FanHeat::Inline);
            out.push(
                Line::new("V_fan", "fan air of one unit", "V_found")
                    .with("V_found", flow, self.fan, above("V_found"))
                    .result(flow, self.fan)
                    .source(Source::new("definition", "the solved flow")),
            );
            return;
        }
        if self.plenum() {
            out.push(given(
                "V_coil",
                "air through the coil",
                flow,
                self.coil_air,
                constant("settled with the plenum temperature; the line `r` shows what is left"),
            ));
        }
        self.air(out);
        let (line, rho) = air::density(
            x.cx,
            "rho",
            "dry air in the coil air",
            (self.air_c, above("t_coil")),
            (self.air_w, above("W_coil")),
        );
        out.push(line);
        let (least, most) = self.range();
        let (value, meaning, volume, origin) = if how == Fan::Least {
            (
                least,
                "fan air of one unit: its least, since the valve alone meets the load",
                x.m.fan_min.to_m3_per_s(),
                x.catalogue("least fan air, a volume"),
            )
        } else {
            (
                most,
                "fan air of one unit: its most",
                x.t.steps.fan_full_m3_per_s,
                x.catalogue("most fan air, a volume"),
            )
        };
        let series = x.m.arrangement == FanArrangement::Series && how == Fan::Least;
        let formula = if series { "max(V_p, V_limit * rho / rho_0)" } else { "V_limit * rho / rho_0" };
        let mut line = Line::new("V_fan", meaning, formula)
            .with("V_limit", K::ActualAirFlow, volume, origin)
            .with("rho", K::Density, rho, above("rho"))
            .with("rho_0", K::Density, RHO, constant(DENSITY));
        if series {
            line = line.with("V_p", flow, x.t.primary_m3_per_s, x.here("unit_primary_air"));
        }
        let line = line.result(flow, self.fan).source(STANDARD_FLOW);
        debug_assert!((value - self.fan).abs() <= 1e-6 * value);
        if !self.plenum() {
            out.push(line);
            return;
        }
        // The pair of flow and temperature closes.
        let carried = match x.m.arrangement {
            FanArrangement::Series => ("V_fan - V_p - V_coil", self.fan - x.t.primary_m3_per_s),
            FanArrangement::Parallel => ("V_fan - V_coil", self.fan),
        };
        out.push(line);
        let mut rest = Line::new("r", "what settling leaves of the air through the coil", carried.0)
            .with("V_fan", flow, self.fan, above("V_fan"))
            .with("V_coil", flow, self.coil_air, above("V_coil"));
        if x.m.arrangement == FanArrangement::Series {
            rest = rest.with("V_p", flow, x.t.primary_m3_per_s, x.here("unit_primary_air"));
        }
        out.push(
            rest.result(flow, carried.1 - self.coil_air)
                .source(Source::new("mass balance of air", "terminal")),
        );
        out.push(
            Line::new("V_fan", meaning, "V_fan")
                .with("V_fan", flow, self.fan, above("V_fan"))
                .result(flow, self.fan)
                .source(Source::new("definition", "the settled flow")),
        );
    }

    fn cycles(&self, c: &CoilSteps) -> bool {
        (c.duty_w - self.duty_w).abs() > 1e-9 * c.duty_w.abs()
    }

    /// Water through the coil while it flows, as a line where no other sheet shows it.
    fn flow(&self, c: &CoilSteps, at: CoilFlow, out: &mut Vec<Line>) -> Origin {
        let m = self.x.m;
        let most = m.water_max.si();
        let meaning = "water through the coil while it flows";
        if self.cycles(c) {
            out.push(
                Line::new("V_w", meaning, "s_least * V_most")
                    .with_number(
                        "s_least",
                        SMALLEST_VALVE_SHARE,
                        Origin::default_value(
                            "least steady opening of the valve; for less it opens and shuts",
                            "common practice, no source",
                        ),
                    )
                    .with("V_most", K::WaterFlow, most, self.x.catalogue("most water"))
                    .result(K::WaterFlow, c.water_m3_per_s)
                    .source(Source::new("definition", "share of the most water")),
            );
            return above("V_w");
        }
        if at == CoilFlow::Sheet {
            return self.here("water_flow");
        }
        if (c.water_m3_per_s - most).abs() <= 1e-9 * most {
            out.push(
                given("V_w", meaning, K::WaterFlow, c.water_m3_per_s, self.x.catalogue("most water"))
                    .note("the valve is open"),
            );
        } else {
            out.push(given(
                "V_w",
                meaning,
                K::WaterFlow,
                c.water_m3_per_s,
                constant("found by search; the line `r` shows what is left"),
            ));
        }
        above("V_w")
    }

    /// The coil from its fit to its duty, as lines that end in `Q_coil`; they follow `V_coil`, `t_coil` and `W_coil`.
    fn forward(&self, c: &CoilSteps, at: CoilFlow, out: &mut Vec<Line>) {
        let x = self.x;
        let (line, _) = air::mass_flow("m_s", "the air through the coil", self.coil_air, above("V_coil"));
        out.push(line);
        let flow = self.flow(c, at, out);
        coil::duty(
            out,
            c,
            &coil::Entering {
                rows: x.m.rows,
                catalogue: &|what| x.catalogue(what),
                dry_air: above("m_s"),
                humidity: above("W_coil"),
                air: above("t_coil"),
                flow,
                water: x.water().1,
            },
        );
    }

    /// Duty of the coil, mean over opening and shutting of its valve; lines follow `V_coil`, `t_coil` and `W_coil`.
    fn duty(&self, out: &mut Vec<Line>, load: &Origin, at: CoilFlow) -> Option<Origin> {
        let c = self.coil?;
        if self.cycles(c) {
            self.mean_duty(out, load);
            return Some(above("Q_mean"));
        }
        self.forward(c, at, out);
        Some(above("Q_coil"))
    }

    /// Duty that the room asks of a valve that opens and shuts, as lines that end in `Q_mean`.
    fn mean_duty(&self, out: &mut Vec<Line>, load: &Origin) {
        let x = self.x;
        let t = x.t;
        let mut formula = String::from("q_load - q_primary + P_fan");
        let mut line = Line::new(
            "Q_mean",
            "duty of the coil, mean over opening and shutting: what the room needs beside primary air and fan",
            "",
        );
        let warm = self.warm(out);
        line = line
            .with("q_load", K::Power, self.load_w, load.clone())
            .with("q_primary", K::Power, t.primary_cooling_w, x.here("primary_cooling"))
            .with("P_fan", K::Power, self.fan_w, self.here("fan_power"));
        if warm != 0.0 {
            formula.push_str(" + q_warm");
            line = line.with("q_warm", K::Power, warm, above("q_warm"));
        }
        let short = self.load_w - self.cooling_w;
        if short.abs() > 1e-6 * self.load_w.abs().max(10.0) {
            formula.push_str(" - q_short");
            line = line.with(
                "q_short",
                K::Power,
                short,
                constant(
                    "left unmet at the coldest discharge allowed; selection takes up to 0.1 % of the load",
                ),
            );
        }
        line.formula = formula;
        out.push(line.result(K::Power, self.duty_w).source(BALANCE_HEAT));
    }

    /// Heat that coil air brings above the room's temperature, as a line where there is any.
    fn warm(&self, out: &mut Vec<Line>) -> f64 {
        let (room, ro) = self.x.room_c();
        if self.air_c == room {
            return 0.0;
        }
        let cp = air::cp(out, "c_coil", "the coil air", self.air_w, above("W_coil"));
        let q = self.coil_air * RHO * cp * (self.air_c - room);
        out.push(
            Line::new(
                "q_warm",
                "heat that the coil air brings above the room's temperature",
                "V_coil * rho_0 * c_coil * (t_coil - t_room)",
            )
            .with("V_coil", K::StandardAirFlow, self.coil_air, above("V_coil"))
            .with("rho_0", K::Density, RHO, constant(DENSITY))
            .with("c_coil", K::SpecificHeat, cp, above("c_coil"))
            .with("t_coil", K::Temperature, self.air_c, above("t_coil"))
            .with("t_room", K::Temperature, room, ro)
            .result(K::Power, q)
            .source(BALANCE_HEAT),
        );
        q
    }

    /// The duty of the coil as scheduled.
    pub(super) fn coil_duty(&self, out: &mut Vec<Line>) {
        let t = self.x.t;
        let Some(c) = self.coil else {
            out.extend(super::rooms::zero(
                "Q",
                "coil duty",
                K::Power,
                self.duty_w,
                "the valve is shut at design: primary air alone cools enough",
            ));
            return;
        };
        let load = self.load(out);
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        if self.cycles(c) {
            self.mean_duty(out, &load);
            T::close(
                out,
                "Q",
                "coil duty of one unit, mean over opening and shutting of the valve",
                ("Q_mean", self.duty_w),
                t.coil_duty_w,
            );
            return;
        }
        self.forward(c, CoilFlow::Sheet, out);
        self.rest(out, &load, c.duty_w);
        T::close(out, "Q", "coil duty of one unit", ("Q_coil", c.duty_w), t.coil_duty_w);
    }

    /// What the search leaves of the load, as a line `r`; it follows `Q_coil`.
    fn rest(&self, out: &mut Vec<Line>, load: &Origin, duty: f64) {
        let x = self.x;
        let warm = self.warm(out);
        let mut formula = String::from("Q_coil + q_primary - P_fan - q_load");
        let mut line = Line::new("r", "cooling given to the room less its load", "")
            .with("Q_coil", K::Power, duty, above("Q_coil"))
            .with("q_primary", K::Power, x.t.primary_cooling_w, x.here("primary_cooling"))
            .with("P_fan", K::Power, self.fan_w, self.here("fan_power"))
            .with("q_load", K::Power, self.load_w, load.clone());
        if warm != 0.0 {
            formula.push_str(" - q_warm");
            line = line.with("q_warm", K::Power, warm, above("q_warm"));
        }
        line.formula = formula;
        out.push(
            line.result(K::Power, duty + x.t.primary_cooling_w - self.fan_w - warm - self.load_w)
                .source(BALANCE_HEAT)
                .note(super::terminals::SOLVED),
        );
    }

    /// The water flow as scheduled.
    pub(super) fn water_flow(&self, value: f64, out: &mut Vec<Line>) {
        let Some(c) = self.coil else {
            out.extend(super::rooms::zero(
                "V_water",
                "water flow",
                K::WaterFlow,
                value,
                "the valve is shut: primary air alone cools enough",
            ));
            return;
        };
        let load = self.load(out);
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        self.forward(c, CoilFlow::Inline, out);
        if self.cycles(c) {
            self.mean_duty(out, &load);
            out.push(
                Line::new(
                    "V_water",
                    "water flow, mean over opening and shutting of the valve",
                    "V_w * Q_mean / Q_coil",
                )
                .with("V_w", K::WaterFlow, c.water_m3_per_s, above("V_w"))
                .with("Q_mean", K::Power, self.duty_w, above("Q_mean"))
                .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                .result(K::WaterFlow, value)
                .source(BALANCE_HEAT),
            );
            return;
        }
        self.rest(out, &load, c.duty_w);
        out.push(
            Line::new("V_water", "water flow of one unit", "V_w")
                .with("V_w", K::WaterFlow, c.water_m3_per_s, above("V_w"))
                .result(K::WaterFlow, value)
                .source(Source::new("definition", "the solved flow")),
        );
    }

    /// Water leaving the coil while it flows.
    pub(super) fn water_leaving(&self, c: &CoilSteps, value: f64, out: &mut Vec<Line>) {
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        self.forward(c, CoilFlow::Sheet, out);
        out.push(
            Line::new("t_leaving", "water leaving", "t_water + Q_coil / C_water")
                .with("t_water", K::Temperature, c.water_entering_c, self.x.water().1)
                .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                .with("C_water", K::Conductance, c.water_w_per_k, above("C_water"))
                .result(K::Temperature, value)
                .source(BALANCE_HEAT),
        );
    }

    /// Velocity in the tubes.
    pub(super) fn velocity(&self, c: &CoilSteps, value: f64, out: &mut Vec<Line>) {
        let flow = self.flow(c, CoilFlow::Sheet, out);
        self.x.velocity(c, flow, value, out);
    }

    /// The coil with its valve open at this fan air, as lines that end in `Q_coil`.
    pub(super) fn open(&self, c: &CoilSteps, out: &mut Vec<Line>) {
        let x = self.x;
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        let (line, _) = air::mass_flow("m_s", "the air through the coil", self.coil_air, above("V_coil"));
        out.push(line);
        coil::duty(
            out,
            c,
            &coil::Entering {
                rows: x.m.rows,
                catalogue: &|what| x.catalogue(what),
                dry_air: above("m_s"),
                humidity: above("W_coil"),
                air: above("t_coil"),
                flow: x.catalogue("most water"),
                water: x.water().1,
            },
        );
    }

    /// Margin of the fin surface.
    pub(super) fn surface(&self, surface_c: f64, value: f64, out: &mut Vec<Line>) {
        let x = self.x;
        let (water, origin) = x.water();
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        let surface = if let Some(c) = self.coil {
            self.forward(c, CoilFlow::Sheet, out);
            let leaving = c.air_entering_c - c.duty_w / c.air_w_per_k;
            out.push(
                Line::new("t_air", "air leaving the coil while water flows", "t_coil - Q_coil / C_air")
                    .with("t_coil", K::Temperature, c.air_entering_c, above("t_coil"))
                    .with("Q_coil", K::Power, c.duty_w, above("Q_coil"))
                    .with("C_air", K::Conductance, c.air_w_per_k, above("C_air"))
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
                .with("G_metal", K::Conductance, 1.0 / c.metal_k_per_w, coil::fitted("conductance of the metal"))
                .with("G_water", K::Conductance, 1.0 / c.water_k_per_w, above("G_water"))
                .with("G_air", K::Conductance, 1.0 / c.air_k_per_w, above("G_air"))
                .result(K::Temperature, surface)
                .source(Source::new("definition", "thermal resistances in series")),
            );
            surface
        } else {
            out.push(given(
                "t_surface",
                "the valve is shut: the coil stands at the air that it meets",
                K::Temperature,
                surface_c,
                above("t_coil"),
            ));
            surface_c
        };
        out.push(
            Line::new("margin_surface", "margin of the fin surface, for information", "t_surface - t_dp")
                .with("t_surface", K::Temperature, surface, above("t_surface"))
                .with("t_dp", K::Temperature, x.t.coil_air_dew_point_c, x.here("coil_air_dew_point"))
                .result(K::TemperatureDifference, value)
                .source(Source::new("definition", "surface minus dew point of the coil air")),
        );
    }

    /// Power of the fan as scheduled.
    pub(super) fn fan_power(&self, symbol: &str, meaning: &str, value: f64, out: &mut Vec<Line>) {
        if value == 0.0 {
            out.extend(super::rooms::zero(symbol, meaning, K::Power, value, "the fan stands"));
            return;
        }
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        self.power(symbol, meaning, self.here("fan_flow"), value, out);
    }

    fn power(&self, symbol: &str, meaning: &str, fan: Origin, value: f64, out: &mut Vec<Line>) {
        let (line, rho) = air::density(
            self.x.cx,
            "rho",
            "dry air in the coil air",
            (self.air_c, above("t_coil")),
            (self.air_w, above("W_coil")),
        );
        out.push(line);
        self.x.fan_power(symbol, meaning, (self.fan, fan), rho, value, out);
    }

    /// Primary air and coil air mixed, warmed by the fan, as lines that end in `t_mix`, then what it leaves of the load.
    fn mixed(&self, out: &mut Vec<Line>, load: &Origin, fan: Origin, duty: Option<Origin>, heat: FanHeat) {
        let x = self.x;
        let t = x.t;
        let fan_power = match heat {
            FanHeat::Sheet => self.here("fan_power"),
            FanHeat::Inline => {
                self.power("P_fan", "power of the fan, all of which warms the air", fan, self.fan_w, out);
                above("P_fan")
            }
        };
        let (line, m_p) = air::mass_flow(
            "m_p",
            "the primary air of one unit",
            t.primary_m3_per_s,
            x.here("unit_primary_air"),
        );
        out.push(line);
        let (line, m_s) = air::mass_flow("m_s", "the air through the coil", self.coil_air, above("V_coil"));
        out.push(line);
        let (w_p, w_p_o) = x.supply_w();
        let (t_p, t_p_o) = x.supply_c();
        let masses = |l: Line| {
            l.with("m_p", K::MassFlow, m_p, above("m_p")).with("m_s", K::MassFlow, m_s, above("m_s"))
        };
        out.push(
            masses(Line::new(
                "W_d",
                "humidity ratio of the discharge",
                "(m_p * W_p + m_s * W_coil) / (m_p + m_s)",
            ))
            .with("W_p", K::HumidityRatio, w_p, w_p_o.clone())
            .with("W_coil", K::HumidityRatio, self.air_w, above("W_coil"))
            .result(K::HumidityRatio, self.discharge_w)
            .source(MIXING),
        );
        let (h_p, h_s) = (raw::enthalpy_j_per_kg(t_p, w_p), raw::enthalpy_j_per_kg(self.air_c, self.air_w));
        out.push(air::enthalpy("h_p", "enthalpy of the primary air", (t_p, t_p_o), (w_p, w_p_o)));
        out.push(air::enthalpy(
            "h_s",
            "enthalpy of the air that enters the coil",
            (self.air_c, above("t_coil")),
            (self.air_w, above("W_coil")),
        ));
        let mut formula = String::from("(m_p * h_p + m_s * h_s + P_fan");
        let mut line = masses(Line::new("h_d", "enthalpy of the discharge", ""))
            .with("h_p", K::SpecificEnthalpy, h_p, above("h_p"))
            .with("h_s", K::SpecificEnthalpy, h_s, above("h_s"))
            .with("P_fan", K::Power, self.fan_w, fan_power);
        if let Some(origin) = duty {
            let name = match &origin {
                Origin::Line(n) if n == "Q_mean" => "Q_mean",
                _ => "Q_coil",
            };
            formula.push_str(" - ");
            formula.push_str(name);
            line = line.with(name, K::Power, self.duty_w, origin);
        }
        if self.reheat_w > 0.0 {
            self.reheat(load, &line, out);
            formula.push_str(" + q_reheat");
            line = line.with("q_reheat", K::Power, self.reheat_w, above("q_reheat"));
        }
        line.formula = format!("{formula}) / (m_p + m_s)");
        let h = raw::enthalpy_j_per_kg(self.discharge_c, self.discharge_w);
        out.push(line.result(K::SpecificEnthalpy, h).source(BALANCE_HEAT));
        out.push(
            Line::new(
                "t_mix",
                "temperature of the discharge",
                "t_0 + (h_d - h_0 * W_d) / (c_da + c_v * W_d)",
            )
            .with("t_0", K::Temperature, 0.0, constant("zero of enthalpy, 0 degC"))
            .with("h_d", K::SpecificEnthalpy, h, above("h_d"))
            .with("h_0", K::SpecificEnthalpy, 2_501_000.0, constant("heat of vaporization at 0 degC"))
            .with("W_d", K::HumidityRatio, self.discharge_w, above("W_d"))
            .with("c_da", K::SpecificHeat, 1006.0, constant("specific heat of dry air"))
            .with("c_v", K::SpecificHeat, 1860.0, constant("specific heat of water vapour"))
            .result(K::Temperature, self.discharge_c)
            .source(MOIST_AIR),
        );
        let cp = air::cp(out, "c_d", "the discharge", self.discharge_w, above("W_d"));
        let (room, ro) = x.room_c();
        out.push(
            masses(Line::new("q_given", "cooling given to the room", "(m_p + m_s) * c_d * (t_room - t_mix)"))
                .with("c_d", K::SpecificHeat, cp, above("c_d"))
                .with("t_room", K::Temperature, room, ro)
                .with("t_mix", K::Temperature, self.discharge_c, above("t_mix"))
                .result(K::Power, self.cooling_w)
                .source(BALANCE_HEAT),
        );
        out.push(
            Line::new(
                "r",
                "load less cooling given: negative where cold primary air gives more than the load",
                "q_load - q_given",
            )
            .with("q_load", K::Power, self.load_w, load.clone())
            .with("q_given", K::Power, self.cooling_w, above("q_given"))
            .result(K::Power, self.load_w - self.cooling_w)
            .source(BALANCE_HEAT)
            .note(super::terminals::SOLVED),
        );
    }

    /// Heat that keeps cold primary air from overcooling the room, as a line `q_reheat`. `mix` holds the fan's power.
    fn reheat(&self, load: &Origin, mix: &Line, out: &mut Vec<Line>) {
        let t = self.x.t;
        let warm = self.warm(out);
        let need = t.primary_cooling_w - self.fan_w - warm - self.load_w;
        if (need - self.reheat_w).abs() > 1e-6 * need.abs() {
            out.push(given(
                "q_reheat",
                "heat against overcooling: all that the heater has",
                K::Power,
                self.reheat_w,
                self.x.catalogue("heater"),
            ));
            return;
        }
        let mut formula = String::from("q_primary - P_fan - q_load");
        let mut line = Line::new("q_reheat", "heat of the heating coil against overcooling", "")
            .with("q_primary", K::Power, t.primary_cooling_w, self.x.here("primary_cooling"))
            .with("q_load", K::Power, self.load_w, load.clone());
        if let Some(fan) = mix.inputs.iter().find(|i| i.symbol == "P_fan") {
            line = line.with("P_fan", K::Power, self.fan_w, fan.origin.clone());
        }
        if warm != 0.0 {
            formula.push_str(" - q_warm");
            line = line.with("q_warm", K::Power, warm, above("q_warm"));
        }
        line.formula = formula;
        out.push(line.result(K::Power, self.reheat_w).source(BALANCE_HEAT));
    }

    /// The discharge temperature as scheduled.
    pub(super) fn discharge(&self, out: &mut Vec<Line>) {
        let load = self.load(out);
        self.coil_air(self.here("fan_flow"), out);
        self.air(out);
        let duty = match (self.part, self.coil) {
            (_, None) => None,
            (None, Some(_)) => Some(self.here("coil_duty")),
            (Some(_), Some(_)) => self.duty(out, &load, CoilFlow::Sheet),
        };
        self.mixed(out, &load, self.here("fan_flow"), duty, FanHeat::Sheet);
        out.push(
            Line::new("t_d", "discharge temperature", "t_mix")
                .with("t_mix", K::Temperature, self.discharge_c, above("t_mix"))
                .result(K::Temperature, self.discharge_c)
                .source(GIVEN),
        );
    }
}

/// Where the water flow of a coil is shown.
#[derive(Clone, Copy, PartialEq)]
enum CoilFlow {
    /// On its own sheet.
    Sheet,
    /// Here.
    Inline,
}

/// Where the power of the fan is shown.
#[derive(Clone, Copy, PartialEq)]
enum FanHeat {
    Sheet,
    Inline,
}
