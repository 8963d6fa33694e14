//! Terminals at part load by tables, made from the exact unit of the crate `plant`.
//!
//! What the coil takes is `r (T_entering - T_water)`: its conductance `r` rises with water at the least fan flow first,
//! then with fan flow at full water. For each model of the catalogue the largest conductance is tabulated over the flow
//! of air through the coil, and the water over flow and share of that conductance; for each zone a row of operating
//! points from full heating (-1) over idle (0) to full cooling (1) follows without another coil solve. A test compares
//! with the exact unit.

use drycoil_exchange::sensible_coil::CoilEntering;
use drycoil_plant::terminal::{FanArrangement, TerminalUnit};
use drycoil_rooms::block::Number;
use drycoil_sizing::machine_data::WATER_RHO;
use drycoil_units::{
    ActualAirFlow, HumidityRatio, MassFlow, Power, Quantity, STANDARD_AIR_DENSITY_KG_PER_M3 as RHO,
    Temperature, WaterFlow,
};

/// Flows of air in the table of a model.
const FLOWS: usize = 17;
/// Shares of the conductance in the table of a model.
const SHARES: usize = 17;
/// Intervals of an operating row on either side of idle.
const HALF: usize = 32;

/// Coil of one model, over air flow and share of its conductance.
#[derive(Debug, Clone)]
pub struct ModelTable {
    unit: TerminalUnit,
    /// Dry air through the coil of the last row, kg/s; rows are even from a twelfth of it.
    most_kg_per_s: f64,
    conductance_w_per_k: Vec<f64>,
    /// Water over its largest flow, by row and share of the conductance.
    water_share: Vec<[f64; SHARES]>,
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
        let mut water_share = Vec::with_capacity(FLOWS);
        let full = unit.largest_water_flow;
        let least = full * unit.smallest_valve_share;
        let difference = at.air_c - at.water_c;
        for i in 0..FLOWS {
            let entering = |water: WaterFlow| CoilEntering {
                dry_bulb: Temperature::from_si(at.air_c),
                humidity_ratio: HumidityRatio::from_si(at.w),
                dry_air: MassFlow::from_si(Self::flow_of(most, i)),
                water: Temperature::from_si(at.water_c),
                water_flow: water,
            };
            let coil = &unit.cooling_coil;
            let open = coil.solve(&entering(full)).map_err(|e| e.to_string())?.duty.si();
            let small = coil.solve(&entering(least)).map_err(|e| e.to_string())?.duty.si();
            let mut row = [0.0; SHARES];
            for (j, share) in row.iter_mut().enumerate() {
                let duty = open * j as f64 / (SHARES - 1) as f64;
                *share = if j == SHARES - 1 {
                    1.0
                } else if duty <= small {
                    unit.smallest_valve_share * duty / small
                } else {
                    coil.water_flow_for_duty(&entering(full), Power::from_si(duty), least, full)
                        .map_err(|e| e.to_string())?
                        .result
                        .entering
                        .water_flow
                        .si()
                        / full.si()
                };
            }
            conductance.push(open / difference);
            water_share.push(row);
        }
        Ok(Self {
            unit: unit.clone(),
            most_kg_per_s: most,
            conductance_w_per_k: conductance,
            water_share,
            volume,
        })
    }

    fn flow_of(most: f64, i: usize) -> f64 {
        most * (1.0 + 11.0 * i as f64 / (FLOWS - 1) as f64) / 12.0
    }

    /// Row and part of a flow; below the first row the first one counts in proportion to the flow.
    fn place(&self, flow: f64) -> (usize, f64) {
        let x = ((flow / self.most_kg_per_s * 12.0 - 1.0) / 11.0).clamp(0.0, 1.0) * (FLOWS - 1) as f64;
        let i = (x as usize).min(FLOWS - 2);
        (i, x - i as f64)
    }

    /// Conductance of the open coil at a flow of air, W/K.
    pub fn conductance(&self, flow: f64) -> f64 {
        let (i, part) = self.place(flow);
        let k = self.conductance_w_per_k[i] * (1.0 - part) + self.conductance_w_per_k[i + 1] * part;
        let least = self.most_kg_per_s / 12.0;
        if flow < least { k * flow.max(0.0) / least } else { k }
    }

    fn water(&self, flow: f64, share: f64) -> f64 {
        let (i, part) = self.place(flow);
        let y = share.clamp(0.0, 1.0) * (SHARES - 1) as f64;
        let j = (y as usize).min(SHARES - 2);
        let across = y - j as f64;
        let row = |r: &[f64; SHARES]| r[j] * (1.0 - across) + r[j + 1] * across;
        row(&self.water_share[i]) * (1.0 - part) + row(&self.water_share[i + 1]) * part
    }
}

/// An operating point as it is kept: fan in W, cold water and air through the coil in kg/s, and one to fill. Single
/// precision, so that a row of points costs little cache; its error of 6e-8 is far below that of the table.
pub(crate) type Row = [f32; 4];

/// Points of a zone, the last twice.
pub(crate) const ROWS: usize = 2 * HALF + 2;

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

/// Place among the points of a row of a share, which counts from -1 to 1.
#[inline(always)]
#[allow(clippy::inline_always)]
pub(crate) fn place<N: Number>(share: N) -> N {
    let one = share.all(1.0);
    (share.larger(-one).smaller(one) + one) * share.all(HALF as f64)
}

/// Between the points of a row at a share from -1 to 1.
fn between(rows: &[Row], share: f64) -> Operating {
    let x = place(share);
    let i = x as usize;
    let part = x - i as f64;
    let (a, b) = (&rows[i], &rows[i + 1]);
    let at = |k: usize| f64::from(a[k]) + part * (f64::from(b[k]) - f64::from(a[k]));
    Operating { fan_w: at(0), water_kg_per_s: at(1), secondary_kg_per_s: at(2) }
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
        let full = model.most_kg_per_s;
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
        let mut rows = Vec::with_capacity(2 * HALF + 2);
        for i in 0..=2 * HALF {
            let x = i as f64 / HALF as f64 - 1.0;
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
                    // Conductance rises with flow: bisection on the table's straight pieces.
                    let (mut a, mut b) = (low, full);
                    for _ in 0..40 {
                        let mid = 0.5 * (a + b);
                        if model.conductance(through(mid)) < r { a = mid } else { b = mid }
                    }
                    (b, 1.0)
                }
            };
            rows.push([
                (power(fan)? * ask.units) as f32,
                (water * unit.largest_water_flow.si() * WATER_RHO * ask.units) as f32,
                (through(fan) * ask.units) as f32,
                0.0,
            ]);
        }
        rows.push(rows[2 * HALF]);
        Ok(Self {
            conductance_w_per_k: most * ask.units,
            heating_w: ask.heating_w * ask.units,
            full_secondary_kg_per_s: m_s * ask.units,
            rows,
        })
    }

    /// Operating point at a share of the largest conductance (0 to 1), or of the largest heating (-1 to 0).
    #[inline]
    pub fn at(&self, share: f64) -> Operating {
        between(&self.rows, share)
    }
}
