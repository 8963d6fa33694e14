//! Terminals at part load by tables, made from the exact unit of the crate `plant`.
//!
//! What the coil takes is `r (T_entering - T_water)`: its conductance `r` rises with water at the least fan flow first,
//! then with fan flow at full water. For each model of the catalogue the largest conductance is tabulated over the flow
//! of air through the coil, and the share of it that less water gives; for each zone a row of operating points from full
//! heating (-1) over idle (0) to full cooling (1) follows without another coil solve: evenly spaced each in heating, in
//! cooling by the valve at the least fan flow, and in cooling by the fan at full water. A test compares with the exact unit.

use drycoil_exchange::sensible_coil::CoilEntering;
use drycoil_plant::terminal::{FanArrangement, TerminalUnit};
use drycoil_rooms::block::Number;
use drycoil_sizing::machine_data::WATER_RHO;
use drycoil_units::{
    ActualAirFlow, HumidityRatio, MassFlow, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO, Temperature,
};

/// Flows of air in the table of a model, each the same multiple of the one before.
const FLOWS: usize = 25;
/// The least of them, of the largest.
const LEAST_FLOW: f64 = 1.0 / 64.0;
/// Flows of water in the table of a model, each the same multiple of the one before.
const WATERS: usize = 33;
/// Intervals of an operating row in heating, by the valve, and by the fan.
const HEAT: usize = 20;
const VALVE: usize = 28;
const FAN: usize = 16;

/// Coil of one model, over air flow and share of its conductance.
#[derive(Debug, Clone)]
pub struct ModelTable {
    unit: TerminalUnit,
    /// Dry air through the coil by row, kg/s, up to the largest.
    flow_kg_per_s: [f64; FLOWS],
    conductance_w_per_k: Vec<f64>,
    /// Water over its largest flow.
    water_share: [f64; WATERS],
    /// Conductance with that water over the one of the open coil, by row.
    part: Vec<[f64; WATERS]>,
    /// Volume of the air that the fan moves, m3/kg.
    volume: f64,
}

/// Where a model is tabulated.
#[derive(Debug, Clone, Copy)]
pub struct TablePoint {
    /// Air into the coil, degC.
    pub air_c: f64,
    /// Its humidity ratio, kg/kg.
    pub w: f64,
    /// Water into the coil, degC.
    pub water_c: f64,
    /// Pressure, Pa.
    pub p_pa: f64,
}

impl ModelTable {
    /// Solves the coil over its range.
    ///
    /// # Errors
    /// Why the coil cannot be solved, in words.
    pub fn new(unit: &TerminalUnit, at: TablePoint) -> Result<Self, String> {
        let volume = drycoil_air::raw::volume_m3_per_kg(at.air_c, at.w, at.p_pa);
        let most = unit.fan.full_flow.si() / volume;
        let mut conductance = Vec::with_capacity(FLOWS);
        let mut part = Vec::with_capacity(FLOWS);
        let full = unit.largest_water_flow;
        let water_share: [f64; WATERS] =
            std::array::from_fn(|j| unit.smallest_valve_share.powf(1.0 - j as f64 / (WATERS - 1) as f64));
        let difference = at.air_c - at.water_c;
        let coil = &unit.cooling_coil;
        let kernel = coil.kernel().map_err(|e| e.to_string())?;
        let flows: [f64; FLOWS] =
            std::array::from_fn(|i| most * LEAST_FLOW.powf(1.0 - i as f64 / (FLOWS - 1) as f64));
        for flow in flows {
            let mut row = [0.0; WATERS];
            for (duty, share) in row.iter_mut().zip(water_share) {
                let entering = CoilEntering {
                    dry_bulb: Temperature::from_si(at.air_c),
                    humidity_ratio: HumidityRatio::from_si(at.w),
                    dry_air: MassFlow::from_si(flow),
                    water: Temperature::from_si(at.water_c),
                    water_flow: full * share,
                };
                *duty = coil.solve_with(&kernel, &entering).map_err(|e| e.to_string())?.duty.si();
            }
            let open = row[WATERS - 1];
            conductance.push(open / difference);
            part.push(row.map(|duty| duty / open));
        }
        Ok(Self {
            unit: unit.clone(),
            flow_kg_per_s: flows,
            conductance_w_per_k: conductance,
            water_share,
            part,
            volume,
        })
    }

    /// Largest dry air through the coil, kg/s.
    fn most_kg_per_s(&self) -> f64 {
        self.flow_kg_per_s[FLOWS - 1]
    }

    /// Row and part of a flow; below the first row the first one counts in proportion to the flow.
    fn place(&self, flow: f64) -> (usize, f64) {
        let rows = &self.flow_kg_per_s;
        let i = (1..FLOWS - 1).find(|i| flow <= rows[*i]).unwrap_or(FLOWS - 1) - 1;
        (i, ((flow - rows[i]) / (rows[i + 1] - rows[i])).clamp(0.0, 1.0))
    }

    /// Conductance of the open coil at a flow of air, W/K.
    pub fn conductance(&self, flow: f64) -> f64 {
        let (i, part) = self.place(flow);
        let k = self.conductance_w_per_k[i] * (1.0 - part) + self.conductance_w_per_k[i + 1] * part;
        let least = self.flow_kg_per_s[0];
        if flow < least { k * flow.max(0.0) / least } else { k }
    }

    /// Flow of air at which the open coil has a conductance, no more than the largest.
    fn flow_for(&self, conductance: f64) -> f64 {
        let (flow, k) = (&self.flow_kg_per_s, &self.conductance_w_per_k);
        if conductance <= k[0] {
            return flow[0] * conductance / k[0];
        }
        let i = (1..FLOWS - 1).find(|i| conductance <= k[*i]).unwrap_or(FLOWS - 1);
        let part = (conductance - k[i - 1]) / (k[i] - k[i - 1]);
        flow[i - 1] + part.min(1.0) * (flow[i] - flow[i - 1])
    }

    /// Water over its largest flow that gives a share of the open coil's conductance. The valve cycles below its smallest
    /// share; above, resistance runs straight with the reciprocal of the water between two points.
    fn water(&self, flow: f64, share: f64) -> f64 {
        let (i, across) = self.place(flow);
        let part = |j: usize| self.part[i][j] * (1.0 - across) + self.part[i + 1][j] * across;
        let (first, share) = (part(0), share.clamp(0.0, 1.0));
        if share <= first {
            return self.water_share[0] * share / first;
        }
        let j = (1..WATERS - 1).find(|j| share <= part(*j)).unwrap_or(WATERS - 1);
        let (low, high) = (part(j - 1), part(j));
        let (a, b) = (1.0 / self.water_share[j - 1], 1.0 / self.water_share[j]);
        1.0 / (a + (b - a) * (1.0 / share - 1.0 / low) / (1.0 / high - 1.0 / low))
    }
}

/// An operating point as it is kept: fan in W, cold water and air through the coil in kg/s, and one to fill. Single
/// precision, so that a row of points costs little cache; its error of 6e-8 is far below that of the table.
pub(crate) type Row = [f32; 4];

/// Points of a zone, the last twice.
pub(crate) const ROWS: usize = HEAT + VALVE + FAN + 2;

/// One operating point of a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Operating {
    /// Fan power, W.
    pub fan_w: f64,
    /// Cold water, kg/s.
    pub water_kg_per_s: f64,
    /// Dry air through the coil, kg/s.
    pub secondary_kg_per_s: f64,
}

/// Where the points of a row lie in cooling.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spacing<N> {
    /// Share of the largest conductance at which the valve is open and the fan begins to rise.
    pub corner: N,
    /// Points to a share below it.
    pub by_valve: N,
    /// Points to a share above it.
    pub by_fan: N,
}

impl Spacing<f64> {
    fn new(corner: f64) -> Self {
        // Without any air at the least fan flow the valve is open at once.
        let corner = corner.clamp(1e-9, 1.0);
        let by_fan = if corner < 1.0 { FAN as f64 / (1.0 - corner) } else { 0.0 };
        Self { corner, by_valve: VALVE as f64 / corner, by_fan }
    }
}

/// Place among the points of a row of a share, which counts from -1 to 1.
#[inline(always)]
#[allow(clippy::inline_always)]
pub(crate) fn place<N: Number>(share: N, s: Spacing<N>) -> N {
    let (zero, one) = (share.all(0.0), share.all(1.0));
    let share = share.larger(-one).smaller(one);
    let heat = (share.smaller(zero) + one) * share.all(HEAT as f64);
    let valve = share.larger(zero).smaller(s.corner) * s.by_valve;
    let fan = (share - s.corner).larger(zero) * s.by_fan;
    // Rounding must not lead past the last point.
    (heat + valve + fan).smaller(share.all((HEAT + VALVE + FAN) as f64))
}

/// The terminals of a zone over their range, all units together.
#[derive(Debug, Clone)]
pub struct ZoneTable {
    /// Largest conductance of the coils, W/K.
    pub conductance_w_per_k: f64,
    /// Largest heating, W.
    pub heating_w: f64,
    /// Air through the coils at full fan, kg/s.
    pub full_secondary_kg_per_s: f64,
    /// Where the points lie.
    pub spacing: Spacing<f64>,
    pub(crate) rows: Vec<Row>,
}

/// What a zone asks of its units.
#[derive(Debug, Clone, Copy)]
pub struct ZoneAsk {
    /// Units.
    pub units: f64,
    /// Primary air through each, standard m3/s.
    pub primary_m3_per_s: f64,
    /// Primary air into them at design, degC.
    pub primary_c: f64,
    /// Primary air into them in winter, degC.
    pub winter_primary_c: f64,
    /// Room set points, degC.
    pub cooling_set_c: f64,
    /// degC.
    pub heating_set_c: f64,
    /// Water at design, degC.
    pub water_c: f64,
    /// Heating of each unit, W.
    pub heating_w: f64,
}

impl ZoneTable {
    /// The units of a zone.
    ///
    /// # Errors
    /// A primary flow that the fan in series cannot carry; a fan out of range.
    pub fn new(model: &ModelTable, ask: &ZoneAsk) -> Result<Self, String> {
        let unit = &model.unit;
        let cp = drycoil_air::raw::humid_specific_heat_j_per_kg_k(0.008);
        let m_p = ask.primary_m3_per_s * RHO;
        let full = model.most_kg_per_s();
        let mut low = full * unit.fan.minimum_share;
        let series = unit.arrangement == FanArrangement::Series;
        if series {
            if m_p > full * (1.0 + 1e-9) {
                return Err(format!("{m_p} kg/s of primary air is more than the fan carries, {full} kg/s"));
            }
            low = low.max(m_p);
        }
        let through = |fan: f64| if series { (fan - m_p).max(0.0) } else { fan };
        let power = |fan: f64| {
            unit.fan
                .electric_power(ActualAirFlow::from_si((fan * model.volume).min(unit.fan.full_flow.si())))
                .map(Quantity::si)
                .map_err(|e| e.to_string())
        };
        // The coldest discharge allowed caps what the coil may take at design.
        let (m_s, m_d) = (through(full), if series { full } else { full + m_p });
        let difference = (ask.cooling_set_c - ask.water_c).max(0.1);
        let coldest = (m_p * ask.primary_c + m_s * ask.cooling_set_c - m_d * unit.coldest_discharge.si())
            * cp
            + power(full)?;
        let most = model.conductance(m_s).min((coldest / difference).max(0.0));
        let at_low = model.conductance(through(low));
        let fan_for = |r: f64| {
            let air = model.flow_for(r);
            (if series { air + m_p } else { air }).clamp(low, full)
        };
        let spacing = Spacing::new(if most > 0.0 { at_low / most } else { 1.0 });
        let mut rows: Vec<Row> = Vec::with_capacity(ROWS);
        for i in 0..ROWS - 1 {
            let after = |first: usize, of: usize| (i - first) as f64 / of as f64;
            let x = if i <= HEAT {
                after(0, HEAT) - 1.0
            } else if i <= HEAT + VALVE {
                after(HEAT, VALVE) * spacing.corner
            } else {
                spacing.corner + after(HEAT + VALVE, FAN) * (1.0 - spacing.corner)
            };
            let (fan, water) = if x < 0.0 {
                // Warmer air at the least flow first, then more of it.
                let rise = unit.warmest_discharge.si() - ask.heating_set_c;
                let asked = (-x * ask.heating_w / cp + m_p * (ask.heating_set_c - ask.winter_primary_c))
                    / rise.max(0.1);
                let fan = if series { asked } else { asked - m_p };
                (fan.clamp(low, full), 0.0)
            } else {
                let r = x * most;
                if r <= at_low {
                    (low, model.water(through(low), if at_low > 0.0 { r / at_low } else { 0.0 }))
                } else {
                    (fan_for(r), 1.0)
                }
            };
            rows.push([
                (power(fan)? * ask.units) as f32,
                (water * unit.largest_water_flow.si() * WATER_RHO * ask.units) as f32,
                (through(fan) * ask.units) as f32,
                0.0,
            ]);
        }
        rows.push(rows[ROWS - 2]);
        Ok(Self {
            conductance_w_per_k: most * ask.units,
            heating_w: ask.heating_w * ask.units,
            full_secondary_kg_per_s: m_s * ask.units,
            spacing,
            rows,
        })
    }

    /// Operating point at a share of the largest conductance (0 to 1), or of the largest heating (-1 to 0).
    #[inline]
    pub fn at(&self, share: f64) -> Operating {
        let x = place(share, self.spacing);
        let i = x as usize;
        let part = x - i as f64;
        let (a, b) = (&self.rows[i], &self.rows[i + 1]);
        let at = |k: usize| f64::from(a[k]) + part * (f64::from(b[k]) - f64::from(a[k]));
        Operating { fan_w: at(0), water_kg_per_s: at(1), secondary_kg_per_s: at(2) }
    }
}
