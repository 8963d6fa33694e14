//! Many reduced rooms stepped side by side, split by what is common to several systems in the same building.
//!
//! The state of a reduced room is linear in its inputs, so it is the sum of two: the answer to weather and gains
//! ([`Drive`]) and the answer to the heat that a system and the air flows give to the room air ([`Response`]). The first
//! is the same for every system and is computed once; each system keeps the second, which needs one multiplication and
//! one addition per lag. [`BlockModel`] holds what both share.
//!
//! A block holds `L` rooms lane by lane, 8 in the year loop ([`LANES`]) and 1 as its scalar twin: the same code with the
//! same order of operations, no fused multiply-add and no call to a maths library, so that both give the same bits and
//! loops over lanes become vector instructions on any machine. Rooms of one block may differ in everything; orders and
//! counts of channels are filled up with zeros to those of the largest.
//!
//! Values that enter a step are not checked (the loop is too hot): [`Response::check`] finds a state that is not finite
//! afterwards, at the end of a day say.

// Vector instructions beyond those of every machine are switched on around the loops that call these functions; only what
// is inlined there gets them.
#![allow(clippy::inline_always)]

use crate::error::{RoomError, within};
use crate::reduction::ReducedRoom;

/// Lanes of a block in the year loop.
pub const LANES: usize = 8;

/// One number per room of a block.
pub type Lanes<const L: usize> = [f64; L];

/// The factors of a block of rooms. Channels: the first moves with every step (outdoor air), those between it and the
/// last are held for several steps (sun, gains), the last is heat to the air.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockModel<const L: usize> {
    order: usize,
    held: usize,
    step_s: f64,
    /// Per lag: decay, response to the first channel.
    moving: Vec<[Lanes<L>; 2]>,
    /// Per held channel (heat to the air last among them) and lag.
    held_lags: Vec<Lanes<L>>,
    /// Per lag: decay once more, response to heat to the air.
    air: Vec<[Lanes<L>; 2]>,
    direct_moving: Lanes<L>,
    /// Per held channel, heat to the air last.
    direct_held: Vec<Lanes<L>>,
    /// Air temperature from what never changes, K.
    offset: Lanes<L>,
    unit: Lanes<L>,
    per_unit: Lanes<L>,
}

/// A room to be put into a block.
#[derive(Debug, Clone, Copy)]
pub struct BlockRoom<'a> {
    /// The room. Its first channel moves with every step, its last is heat to the air.
    pub room: &'a ReducedRoom,
    /// Channel that never changes, and its value: it becomes a constant part of the air temperature.
    pub constant: Option<(usize, f64)>,
}

impl<const L: usize> BlockModel<L> {
    /// From 1 to `L` rooms of one step length; free lanes repeat the last room.
    ///
    /// Refused: no room or too many, different steps, a room with fewer than two channels.
    pub fn new(rooms: &[BlockRoom<'_>]) -> Result<Self, RoomError> {
        let (Some(first), Some(last)) = (rooms.first(), rooms.last()) else {
            return Err(RoomError::Empty { what: "list of rooms of a block" });
        };
        if rooms.len() > L {
            return Err(RoomError::WrongLength {
                what: "list of rooms of a block",
                found: rooms.len(),
                needed: L,
            });
        }
        let step_s = first.room.step_s;
        let held_of = |r: &BlockRoom<'_>| {
            r.room.channels.len() - 1 - usize::from(r.constant.is_some_and(|(c, _)| c > 0))
        };
        let order = rooms.iter().map(|r| r.room.order()).max().unwrap_or(0);
        let held = rooms.iter().map(held_of).max().unwrap_or(1);
        let zero = [0.0; L];
        let mut block = Self {
            order,
            held,
            step_s,
            moving: vec![[zero; 2]; order],
            held_lags: vec![zero; held * order],
            air: vec![[zero; 2]; order],
            direct_moving: zero,
            direct_held: vec![zero; held],
            offset: zero,
            unit: zero,
            per_unit: zero,
        };
        for l in 0..L {
            let r = rooms.get(l).unwrap_or(last);
            if r.room.step_s != step_s {
                return Err(RoomError::Inconsistent {
                    what: "steps of the rooms of a block, s",
                    first: step_s,
                    second: r.room.step_s,
                });
            }
            let own = r.room.channels.len();
            if own < 2 {
                return Err(RoomError::WrongLength {
                    what: "channels of a room of a block",
                    found: own,
                    needed: 2,
                });
            }
            let mut place = 0;
            for c in 0..own {
                if let Some((constant, value)) = r.constant
                    && constant == c
                {
                    block.offset[l] = r.room.steady[c] * value;
                    continue;
                }
                if c == 0 {
                    block.direct_moving[l] = r.room.direct[0];
                    for m in 0..r.room.order() {
                        block.moving[m][1][l] = r.room.driven[(m, 0)];
                    }
                    continue;
                }
                let to = if c == own - 1 { held - 1 } else { place };
                place += 1;
                block.direct_held[to][l] = r.room.direct[c];
                for m in 0..r.room.order() {
                    block.held_lags[to * order + m][l] = r.room.driven[(m, c)];
                }
            }
            for m in 0..r.room.order() {
                block.moving[m][0][l] = r.room.decay[m];
                block.air[m][0][l] = r.room.decay[m];
                block.air[m][1][l] = r.room.driven[(m, own - 1)];
            }
            block.unit[l] = r.room.unit_response_k_per_w();
            block.per_unit[l] = 1.0 / block.unit[l];
        }
        Ok(block)
    }

    /// Lags of the block: the largest order of its rooms.
    pub fn order(&self) -> usize {
        self.order
    }

    /// Count of held channels, heat to the air included as their last.
    pub fn held(&self) -> usize {
        self.held
    }

    /// Step, s.
    pub fn step_s(&self) -> f64 {
        self.step_s
    }

    /// Rise of the air temperature at the end of a step per W to the air, K/W, and its reciprocal.
    #[inline(always)]
    pub fn unit(&self) -> (&Lanes<L>, &Lanes<L>) {
        (&self.unit, &self.per_unit)
    }
}

/// The answer of a block to weather and gains.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive<const L: usize> {
    lags: Vec<Lanes<L>>,
    held_lags: Vec<Lanes<L>>,
    held_direct: Lanes<L>,
}

impl<const L: usize> Drive<L> {
    /// The block after these values for ever: the moving channel, and the held ones (heat to the air last).
    ///
    /// # Errors
    /// A wrong count of held channels.
    pub fn steady(model: &BlockModel<L>, moving: f64, held: &[Lanes<L>]) -> Result<Self, RoomError> {
        let mut drive = Self {
            lags: vec![[0.0; L]; model.order],
            held_lags: vec![[0.0; L]; model.order],
            held_direct: [0.0; L],
        };
        drive.hold(model, held)?;
        for (m, lag) in drive.lags.iter_mut().enumerate() {
            for l in 0..L {
                let [decay, factor] = &model.moving[m];
                lag[l] = (drive.held_lags[m][l] + factor[l] * moving) / (1.0 - decay[l]);
            }
        }
        Ok(drive)
    }

    /// New values of the held channels, heat to the air last.
    ///
    /// # Errors
    /// A wrong count.
    #[inline(always)]
    pub fn hold(&mut self, model: &BlockModel<L>, values: &[Lanes<L>]) -> Result<(), RoomError> {
        if values.len() != model.held {
            return Err(RoomError::WrongLength {
                what: "held channels of a block of rooms",
                found: values.len(),
                needed: model.held,
            });
        }
        let mut direct = model.offset;
        self.held_lags.fill([0.0; L]);
        for (c, u) in values.iter().enumerate() {
            for l in 0..L {
                direct[l] += model.direct_held[c][l] * u[l];
            }
            let factors = &model.held_lags[c * model.order..(c + 1) * model.order];
            for (sum, f) in self.held_lags.iter_mut().zip(factors) {
                for l in 0..L {
                    sum[l] += f[l] * u[l];
                }
            }
        }
        self.held_direct = direct;
        Ok(())
    }

    /// One step; the part of the air temperature at its end that weather and gains make, degC.
    #[inline(always)]
    pub fn step(&mut self, model: &BlockModel<L>, moving: f64) -> Lanes<L> {
        let mut free = self.held_direct;
        for l in 0..L {
            free[l] += model.direct_moving[l] * moving;
        }
        for ((lag, held), [decay, f]) in self.lags.iter_mut().zip(&self.held_lags).zip(&model.moving) {
            let mut x = *lag;
            for l in 0..L {
                free[l] += x[l];
            }
            for l in 0..L {
                x[l] = x[l] * decay[l] + (held[l] + f[l] * moving);
            }
            *lag = x;
        }
        free
    }

    /// Lags of one room (zeros above its own order).
    pub fn lags(&self, lane: usize) -> Vec<f64> {
        self.lags.iter().map(|x| x[lane]).collect()
    }
}

/// The answer of a block to heat given to its air.
#[derive(Debug, Clone, PartialEq)]
pub struct Response<const L: usize> {
    lags: Vec<Lanes<L>>,
    /// Of all lags.
    sum: Lanes<L>,
}

impl<const L: usize> Response<L> {
    /// The block after this heat for ever, W.
    pub fn steady(model: &BlockModel<L>, heat_w: &Lanes<L>) -> Self {
        let mut lags = Vec::with_capacity(model.order);
        let mut sum = [0.0; L];
        for [decay, f] in &model.air {
            let lag = std::array::from_fn(|l| f[l] * heat_w[l] / (1.0 - decay[l]));
            for l in 0..L {
                sum[l] += lag[l];
            }
            lags.push(lag);
        }
        Self { lags, sum }
    }

    /// `drive` (see [`Drive::step`]) plus what heat of earlier steps adds: the air temperature without any heat in this
    /// step, degC.
    #[inline(always)]
    pub fn free_c(&self, drive: &Lanes<L>) -> Lanes<L> {
        let mut free = *drive;
        for l in 0..L {
            free[l] += self.sum[l];
        }
        free
    }

    /// Takes the heat of this step, W.
    #[inline(always)]
    pub fn take(&mut self, model: &BlockModel<L>, heat_w: &Lanes<L>) {
        let mut sum = [0.0; L];
        for (lag, [decay, f]) in self.lags.iter_mut().zip(&model.air) {
            let mut x = *lag;
            for l in 0..L {
                x[l] = x[l] * decay[l] + f[l] * heat_w[l];
            }
            for l in 0..L {
                sum[l] += x[l];
            }
            *lag = x;
        }
        self.sum = sum;
    }

    /// Lags of one room (zeros above its own order).
    pub fn lags(&self, lane: usize) -> Vec<f64> {
        self.lags.iter().map(|x| x[lane]).collect()
    }

    /// Refuses a state that is not finite.
    pub fn check(&self) -> Result<(), RoomError> {
        for lane in self.lags.iter().flatten() {
            within("lag of a reduced room", *lane, -1e9, 1e9, "K")?;
        }
        Ok(())
    }
}

#[inline(always)]
fn larger(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

#[inline(always)]
fn smaller(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// What rules the air temperature of a block in a step.
#[derive(Debug, Clone, PartialEq)]
pub struct Ideal<const L: usize> {
    /// Heating set point, degC; minus infinity when there is none.
    pub heating_set_c: Lanes<L>,
    /// Cooling set point, degC; plus infinity when there is none.
    pub cooling_set_c: Lanes<L>,
    /// Largest heating, W.
    pub heating_capacity_w: Lanes<L>,
    /// Share of the heating asked that is given, 0 to 1.
    pub heating_share: f64,
    /// Cooling of the open coil per K of room air above `coil_c`, W/K; 0 or more.
    pub coil_w_per_k: Lanes<L>,
    /// Temperature against which the coil works, degC.
    pub coil_c: Lanes<L>,
    /// Share of the cooling asked that is given, 0 to 1.
    pub cooling_share: f64,
}

/// What the control did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controlled<const L: usize> {
    /// Air temperature at the end of the step, degC.
    pub air_c: Lanes<L>,
    /// Heating, W, 0 or more.
    pub heating_w: Lanes<L>,
    /// Cooling by the coil, W, 0 or more.
    pub cooling_w: Lanes<L>,
    /// Heat of air flows, W.
    pub air_flow_w: Lanes<L>,
}

/// Ideal control within the step: the air meets its set point at the end of the step when capacities allow.
///
/// `free_c` without any heat, `g` the conductance of all air flows, `gt` their heat at 0 degC, other heat included. The
/// coil's capacity follows the air temperature within the step: when it is not enough, the coil acts as one more
/// conductance.
#[inline(always)]
pub fn control<const L: usize>(
    unit: &Lanes<L>,
    per_unit: &Lanes<L>,
    free_c: &Lanes<L>,
    g: &Lanes<L>,
    gt: &Lanes<L>,
    ideal: &Ideal<L>,
) -> Controlled<L> {
    let (mut idle, mut damped, mut over) = ([0.0; L], [0.0; L], [0.0; L]);
    let mut wide = [0.0; L];
    for l in 0..L {
        damped[l] = 1.0 + unit[l] * g[l];
        let start = free_c[l] + unit[l] * gt[l];
        over[l] = 1.0 / damped[l];
        idle[l] = start * over[l];
        let by_coil = unit[l] * ideal.coil_w_per_k[l];
        wide[l] = (start + by_coil * ideal.coil_c[l]) / (damped[l] + by_coil);
    }
    let (mut t, mut heating, mut cooling, mut flows) = ([0.0; L], [0.0; L], [0.0; L], [0.0; L]);
    for l in 0..L {
        let lowest = smaller(idle[l], larger(ideal.cooling_set_c[l], wide[l]));
        let fall = ideal.cooling_share * (idle[l] - lowest);
        let highest = idle[l] + unit[l] * ideal.heating_capacity_w[l] * over[l];
        let rise =
            ideal.heating_share * (larger(idle[l], smaller(ideal.heating_set_c[l], highest)) - idle[l]);
        t[l] = idle[l] + (rise - fall);
        let per_k = damped[l] * per_unit[l];
        cooling[l] = fall * per_k;
        heating[l] = rise * per_k;
        flows[l] = gt[l] - g[l] * t[l];
    }
    Controlled { air_c: t, heating_w: heating, cooling_w: cooling, air_flow_w: flows }
}

/// The exact step of humidity with constant flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Humid<const L: usize> {
    /// Humidity ratio at the end, kg/kg.
    pub end: Lanes<L>,
    /// Mean over the step, kg/kg.
    pub mean: Lanes<L>,
}

/// Exact step of the humidity ratio: `flow` of all air that enters (kg/s of dry air), `water` that it brings and that is
/// released (kg/s), `step_per_kg` the step over the effective dry-air mass (s/kg).
#[inline(always)]
pub fn moisture<const L: usize>(
    start: &Lanes<L>,
    flow: &Lanes<L>,
    water: &Lanes<L>,
    step_per_kg: &Lanes<L>,
) -> Humid<L> {
    let mut z = [0.0; L];
    for l in 0..L {
        z[l] = flow[l] * step_per_kg[l];
    }
    let (phi1, phi2) = exponential_means(&z);
    let (mut end, mut mean) = ([0.0; L], [0.0; L]);
    for l in 0..L {
        let driven = water[l] * step_per_kg[l];
        end[l] = start[l] + (driven - z[l] * start[l]) * phi1[l];
        mean[l] = start[l] * phi1[l] + driven * phi2[l];
    }
    Humid { end, mean }
}

/// `(1 - e^-z)/z` and `(1 - (1 - e^-z)/z)/z` for z of 0 or more, without branches.
///
/// `e^x - 1` by a Taylor polynomial of degree 13 on half an octave to each side and a power of two; both exact to
/// about 1e-15 (relative to the sum in which they stand).
#[inline(always)]
fn exponential_means<const L: usize>(z: &Lanes<L>) -> (Lanes<L>, Lanes<L>) {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let (mut first, mut second) = ([0.0; L], [0.0; L]);
    for l in 0..L {
        // A shift too small to see keeps 0/0 out; beyond 700 the exponential is zero beside one.
        let z = z[l] + 1e-300;
        let x = if z < 700.0 { -z } else { -700.0 };
        let t = x * std::f64::consts::LOG2_E + MAGIC;
        let k = t - MAGIC;
        let r = (x - k * LN2_HIGH) - k * LN2_LOW;
        let mut p = 1.0 / 6_227_020_800.0;
        p = p * r + 1.0 / 479_001_600.0;
        p = p * r + 1.0 / 39_916_800.0;
        p = p * r + 1.0 / 3_628_800.0;
        p = p * r + 1.0 / 362_880.0;
        p = p * r + 1.0 / 40_320.0;
        p = p * r + 1.0 / 5_040.0;
        p = p * r + 1.0 / 720.0;
        p = p * r + 1.0 / 120.0;
        p = p * r + 1.0 / 24.0;
        p = p * r + 1.0 / 6.0;
        p = p * r + 0.5;
        p = (p * r) * r + r;
        let scale = f64::from_bits((t.to_bits().wrapping_add(1023)) << 52);
        let lost = -(scale * p + (scale - 1.0));
        let per_z = 1.0 / z;
        let phi1 = lost * per_z;
        let far = (1.0 - phi1) * per_z;
        let near = 0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0));
        first[l] = phi1;
        second[l] = if z < 1e-4 { near } else { far };
    }
    (first, second)
}

#[cfg(test)]
mod tests {
    use super::exponential_means;
    use crate::phi::phi;

    /// Against the exponential integrator's own functions, by another series and the maths library (2e-15; the second
    /// loses `1e-16 / z`, which its use as `z phi2` undoes).
    #[test]
    fn xchk_exponential_means() {
        for i in 0..4000 {
            let z = if i == 0 { 0.0 } else { 10.0_f64.powf(f64::from(i) / 250.0 - 13.0) };
            let ([a], [b]) = exponential_means(&[z]);
            let [p1, p2, _] = phi(-z);
            assert!((a - p1).abs() <= 2e-15 * p1, "{z}: {a} {p1}");
            assert!((b - p2).abs() <= 2e-15 * p2 + 4e-16 / z.max(1e-4), "{z}: {b} {p2}");
        }
    }
}
