//! Many reduced rooms stepped side by side, split by what is common to several systems in the same building.
//!
//! The state of a reduced room is linear in its inputs, so it is the sum of two: the answer to weather and gains
//! ([`Drive`]) and the answer to the heat that a system and the air flows give to the room air ([`Response`]). The first
//! is the same for every system and is computed once; each system keeps the second, which needs one multiplication and
//! one addition per lag. [`BlockModel`] holds what both share.
//!
//! A block holds `L` rooms lane by lane, 4 in the year loop ([`LANES`]) and 1 as its scalar twin: the same code with the
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
use std::ops::{Add, BitAnd, BitOr, Div, Mul, Neg, Sub};

/// Lanes of a block in the year loop.
pub const LANES: usize = 4;

/// One number per room of a block.
pub type Lanes<const L: usize> = [f64; L];

/// Kept so that the lanes of a register never lie in two lines of a cache.
#[repr(align(32))]
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aligned<T>(pub T);

/// What steps of rooms are computed in: one number, or several side by side, each lane on its own. The same code with
/// either gives the same bits: the operations are those of the processor, in the order written.
pub trait Number:
    Copy + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Neg<Output = Self>
{
    /// Yes or no by lane.
    type Mask: Copy + BitAnd<Output = Self::Mask> + BitOr<Output = Self::Mask>;
    /// Lanes side by side.
    const WIDTH: usize;
    /// The same number in all lanes.
    #[must_use]
    fn all(self, x: f64) -> Self;
    /// Lanes of a block from `part * WIDTH` on.
    #[must_use]
    fn of<const L: usize>(self, from: &Lanes<L>, part: usize) -> Self;
    /// Writes them.
    fn put<const L: usize>(self, to: &mut Lanes<L>, part: usize);
    /// Where this is above another.
    fn above(self, other: Self) -> Self::Mask;
    /// One or the other by lane.
    #[must_use]
    fn choose(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// Whether any lane says yes.
    fn any(mask: Self::Mask) -> bool;
    /// Two to the power that stands in the last bits of a number.
    #[must_use]
    fn two_to_last_bits(self) -> Self;
    /// The larger by lane, `other` when they cannot be compared.
    #[inline(always)]
    #[must_use]
    fn larger(self, other: Self) -> Self {
        Self::choose(self.above(other), self, other)
    }
    /// The smaller by lane, `other` when they cannot be compared.
    #[inline(always)]
    #[must_use]
    fn smaller(self, other: Self) -> Self {
        Self::choose(other.above(self), self, other)
    }
}

impl Number for f64 {
    type Mask = bool;
    const WIDTH: usize = 1;
    #[inline(always)]
    fn all(self, x: f64) -> Self {
        x
    }
    #[inline(always)]
    fn of<const L: usize>(self, from: &Lanes<L>, part: usize) -> Self {
        from[part]
    }
    #[inline(always)]
    fn put<const L: usize>(self, to: &mut Lanes<L>, part: usize) {
        to[part] = self;
    }
    #[inline(always)]
    fn above(self, other: Self) -> bool {
        self > other
    }
    #[inline(always)]
    fn choose(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
    #[inline(always)]
    fn any(mask: bool) -> bool {
        mask
    }
    #[inline(always)]
    fn two_to_last_bits(self) -> Self {
        f64::from_bits(self.to_bits().wrapping_add(1023) << 52)
    }
}

/// The factors of a block of rooms. Channels: the first moves with every step (outdoor air), those between it and the
/// last are held for several steps (sun, gains), the last is heat to the air.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockModel<const L: usize> {
    order: usize,
    held: usize,
    step_s: f64,
    /// Per lag: decay, response to the first channel.
    moving: Vec<Aligned<[Lanes<L>; 2]>>,
    /// Per lag and held channel (heat to the air last among them).
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
            moving: vec![Aligned([zero; 2]); order],
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
                        block.moving[m].0[1][l] = r.room.driven[(m, 0)];
                    }
                    continue;
                }
                let to = if c == own - 1 { held - 1 } else { place };
                place += 1;
                block.direct_held[to][l] = r.room.direct[c];
                for m in 0..r.room.order() {
                    block.held_lags[m * held + to][l] = r.room.driven[(m, c)];
                }
            }
            for m in 0..r.room.order() {
                block.moving[m].0[0][l] = r.room.decay[m];
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
    lags: Vec<Aligned<Lanes<L>>>,
    held_lags: Vec<Aligned<Lanes<L>>>,
    held_direct: Lanes<L>,
    /// Values of the held channels by which these are.
    values: Vec<Lanes<L>>,
}

impl<const L: usize> Drive<L> {
    /// The block after these values for ever: the moving channel, and the held ones (heat to the air last).
    ///
    /// # Errors
    /// A wrong count of held channels.
    pub fn steady(model: &BlockModel<L>, moving: f64, held: &[Lanes<L>]) -> Result<Self, RoomError> {
        let mut drive = Self {
            lags: vec![Aligned([0.0; L]); model.order],
            held_lags: vec![Aligned([0.0; L]); model.order],
            held_direct: [0.0; L],
            values: Vec::new(),
        };
        drive.hold(model, held)?;
        for (m, Aligned(lag)) in drive.lags.iter_mut().enumerate() {
            for l in 0..L {
                let [decay, factor] = &model.moving[m].0;
                lag[l] = (drive.held_lags[m].0[l] + factor[l] * moving) / (1.0 - decay[l]);
            }
        }
        Ok(drive)
    }

    /// New values of the held channels, heat to the air last.
    ///
    /// # Errors
    /// A wrong count.
    pub fn hold(&mut self, model: &BlockModel<L>, values: &[Lanes<L>]) -> Result<(), RoomError> {
        self.hold_by(0.0, model, values)
    }

    /// [`Self::hold`] by numbers of this kind.
    ///
    /// # Errors
    /// A wrong count.
    #[inline(always)]
    pub fn hold_by<N: Number>(
        &mut self,
        kind: N,
        model: &BlockModel<L>,
        values: &[Lanes<L>],
    ) -> Result<(), RoomError> {
        if values.len() != model.held {
            return Err(RoomError::WrongLength {
                what: "held channels of a block of rooms",
                found: values.len(),
                needed: model.held,
            });
        }
        // At night nothing shines, and gains stay.
        if self.values == values {
            return Ok(());
        }
        self.values.clear();
        self.values.extend_from_slice(values);
        for at in 0..L / N::WIDTH {
            let mut direct = kind.of(&model.offset, at);
            for (u, f) in values.iter().zip(&model.direct_held) {
                direct = direct + kind.of(f, at) * kind.of(u, at);
            }
            direct.put(&mut self.held_direct, at);
            for (m, Aligned(sum)) in self.held_lags.iter_mut().enumerate() {
                let factors = &model.held_lags[m * model.held..(m + 1) * model.held];
                let mut total = kind.all(0.0);
                for (u, f) in values.iter().zip(factors) {
                    total = total + kind.of(f, at) * kind.of(u, at);
                }
                total.put(sum, at);
            }
        }
        Ok(())
    }

    /// One step; the part of the air temperature at its end that weather and gains make, degC.
    pub fn step(&mut self, model: &BlockModel<L>, moving: f64) -> Lanes<L> {
        let mut free = [0.0; L];
        self.step_by(0.0, model, moving, &mut free);
        free
    }

    /// [`Self::step`] by numbers of this kind.
    #[inline(always)]
    pub fn step_by<N: Number>(&mut self, kind: N, model: &BlockModel<L>, moving: f64, free_c: &mut Lanes<L>) {
        let moving = kind.all(moving);
        for at in 0..L / N::WIDTH {
            let mut free = kind.of(&self.held_direct, at) + kind.of(&model.direct_moving, at) * moving;
            let of_lags = self.lags.iter_mut().zip(&self.held_lags).zip(&model.moving);
            for ((Aligned(lag), Aligned(held)), Aligned([decay, f])) in of_lags {
                let x = kind.of(lag, at);
                free = free + x;
                (x * kind.of(decay, at) + (kind.of(held, at) + kind.of(f, at) * moving)).put(lag, at);
            }
            free.put(free_c, at);
        }
    }

    /// Lags of one room (zeros above its own order).
    pub fn lags(&self, lane: usize) -> Vec<f64> {
        self.lags.iter().map(|x| x.0[lane]).collect()
    }
}

/// The answer of a block to heat given to its air.
#[repr(align(32))]
#[derive(Debug, Clone, PartialEq)]
pub struct Response<const L: usize> {
    /// Per lag: itself, decay, response to heat, beside one another in memory.
    lags: Vec<Aligned<[Lanes<L>; 3]>>,
    /// Of all lags.
    sum: Lanes<L>,
}

impl<const L: usize> Response<L> {
    /// The block after this heat for ever, W.
    pub fn steady(model: &BlockModel<L>, heat_w: &Lanes<L>) -> Self {
        let mut lags = Vec::with_capacity(model.order);
        let mut sum = [0.0; L];
        for [decay, f] in &model.air {
            let lag: Lanes<L> = std::array::from_fn(|l| f[l] * heat_w[l] / (1.0 - decay[l]));
            for l in 0..L {
                sum[l] += lag[l];
            }
            lags.push(Aligned([lag, *decay, *f]));
        }
        Self { lags, sum }
    }

    /// `drive` (see [`Drive::step`]) plus what heat of earlier steps adds: the air temperature without any heat in this
    /// step, degC.
    pub fn free_c(&self, drive: &Lanes<L>) -> Lanes<L> {
        std::array::from_fn(|l| self.free_by(drive[l], l))
    }

    /// [`Self::free_c`] for the lanes of a part of the block.
    #[inline(always)]
    pub fn free_by<N: Number>(&self, drive: N, part: usize) -> N {
        drive + drive.of(&self.sum, part)
    }

    /// Takes the heat of this step, W.
    pub fn take(&mut self, heat_w: &Lanes<L>) {
        for (l, heat) in heat_w.iter().enumerate() {
            self.take_by(*heat, l);
        }
    }

    /// [`Self::take`] for the lanes of a part of the block.
    #[inline(always)]
    pub fn take_by<N: Number>(&mut self, heat_w: N, part: usize) {
        let mut sum = heat_w.all(0.0);
        for Aligned([lag, decay, f]) in &mut self.lags {
            let x = heat_w.of(lag, part) * heat_w.of(decay, part) + heat_w.of(f, part) * heat_w;
            sum = sum + x;
            x.put(lag, part);
        }
        sum.put(&mut self.sum, part);
    }

    /// Lags of one room (zeros above its own order).
    pub fn lags(&self, lane: usize) -> Vec<f64> {
        self.lags.iter().map(|Aligned([x, ..])| x[lane]).collect()
    }

    /// Refuses a state that is not finite.
    pub fn check(&self) -> Result<(), RoomError> {
        for lane in self.lags.iter().flat_map(|Aligned([x, ..])| x) {
            within("lag of a reduced room", *lane, -1e9, 1e9, "K")?;
        }
        Ok(())
    }
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

/// [`Ideal`] in numbers of a kind.
#[derive(Debug, Clone, Copy)]
pub struct Ruling<N> {
    /// Heating set point, degC; minus infinity when there is none.
    pub heating_set_c: N,
    /// Cooling set point, degC; plus infinity when there is none.
    pub cooling_set_c: N,
    /// Largest heating, W.
    pub heating_capacity_w: N,
    /// Share of the heating asked that is given, 0 to 1.
    pub heating_share: N,
    /// Cooling of the open coil per K of room air above `coil_c`, W/K; 0 or more.
    pub coil_w_per_k: N,
    /// Temperature against which the coil works, degC.
    pub coil_c: N,
    /// Share of the cooling asked that is given, 0 to 1.
    pub cooling_share: N,
}

/// [`Controlled`] in numbers of a kind.
#[derive(Debug, Clone, Copy)]
pub struct Ruled<N> {
    /// Air temperature at the end of the step, degC.
    pub air_c: N,
    /// Heating, W, 0 or more.
    pub heating_w: N,
    /// Cooling by the coil, W, 0 or more.
    pub cooling_w: N,
    /// Heat of air flows, W.
    pub air_flow_w: N,
}

/// [`control`] in numbers of a kind.
#[inline(always)]
pub fn control_by<N: Number>(unit: N, per_unit: N, free_c: N, g: N, gt: N, ideal: &Ruling<N>) -> Ruled<N> {
    let one = unit.all(1.0);
    let damped = one + unit * g;
    let start = free_c + unit * gt;
    let over = one / damped;
    let idle = start * over;
    let by_coil = unit * ideal.coil_w_per_k;
    let wide = (start + by_coil * ideal.coil_c) / (damped + by_coil);
    let lowest = idle.smaller(ideal.cooling_set_c.larger(wide));
    let fall = ideal.cooling_share * (idle - lowest);
    let highest = idle + unit * ideal.heating_capacity_w * over;
    let rise = ideal.heating_share * (idle.larger(ideal.heating_set_c.smaller(highest)) - idle);
    let t = idle + (rise - fall);
    let per_k = damped * per_unit;
    Ruled { air_c: t, heating_w: rise * per_k, cooling_w: fall * per_k, air_flow_w: gt - g * t }
}

/// Ideal control within the step: the air meets its set point at the end of the step when capacities allow.
///
/// `free_c` without any heat, `g` the conductance of all air flows, `gt` their heat at 0 degC, other heat included. The
/// coil's capacity follows the air temperature within the step: when it is not enough, the coil acts as one more
/// conductance.
pub fn control<const L: usize>(
    unit: &Lanes<L>,
    per_unit: &Lanes<L>,
    free_c: &Lanes<L>,
    g: &Lanes<L>,
    gt: &Lanes<L>,
    ideal: &Ideal<L>,
) -> Controlled<L> {
    let zero = [0.0; L];
    let mut out = Controlled { air_c: zero, heating_w: zero, cooling_w: zero, air_flow_w: zero };
    for l in 0..L {
        let ruling = Ruling {
            heating_set_c: ideal.heating_set_c[l],
            cooling_set_c: ideal.cooling_set_c[l],
            heating_capacity_w: ideal.heating_capacity_w[l],
            heating_share: ideal.heating_share,
            coil_w_per_k: ideal.coil_w_per_k[l],
            coil_c: ideal.coil_c[l],
            cooling_share: ideal.cooling_share,
        };
        let r = control_by(unit[l], per_unit[l], free_c[l], g[l], gt[l], &ruling);
        (out.air_c[l], out.heating_w[l]) = (r.air_c, r.heating_w);
        (out.cooling_w[l], out.air_flow_w[l]) = (r.cooling_w, r.air_flow_w);
    }
    out
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
pub fn moisture<const L: usize>(
    start: &Lanes<L>,
    flow: &Lanes<L>,
    water: &Lanes<L>,
    step_per_kg: &Lanes<L>,
) -> Humid<L> {
    let (mut end, mut mean) = ([0.0; L], [0.0; L]);
    for l in 0..L {
        (end[l], mean[l]) = moisture_by(start[l], flow[l], water[l], step_per_kg[l]);
    }
    Humid { end, mean }
}

/// [`moisture`] in numbers of a kind: humidity ratio at the end, and its mean.
#[inline(always)]
pub fn moisture_by<N: Number>(start: N, flow: N, water: N, step_per_kg: N) -> (N, N) {
    let z = flow * step_per_kg;
    moisture_of(start, z, exponential_means(z), water * step_per_kg)
}

#[inline(always)]
fn moisture_of<N: Number>(start: N, z: N, (phi1, phi2): (N, N), driven: N) -> (N, N) {
    (start + (driven - z * start) * phi1, start * phi1 + driven * phi2)
}

/// The exponentials of a block's last step, kept while its flows stay: those of outdoor air and of constant primary air
/// do so for hours.
#[repr(align(32))]
#[derive(Debug, Clone, PartialEq)]
pub struct KeptMeans<const L: usize> {
    flow: Lanes<L>,
    means: [Lanes<L>; 2],
}

impl<const L: usize> Default for KeptMeans<L> {
    fn default() -> Self {
        // No flow is below zero: the first step computes its own.
        Self { flow: [-1.0; L], means: [[0.0; L]; 2] }
    }
}

impl<const L: usize> KeptMeans<L> {
    /// [`moisture_by`] for the lanes of a part of a block, whose `step_per_kg` never changes; the same bits.
    #[inline(always)]
    pub fn moisture_by<N: Number>(
        &mut self,
        part: usize,
        start: N,
        flow: N,
        water: N,
        step_per_kg: N,
    ) -> (N, N) {
        let z = flow * step_per_kg;
        let before = flow.of(&self.flow, part);
        if N::any(flow.above(before) | before.above(flow)) {
            let (phi1, phi2) = exponential_means(z);
            flow.put(&mut self.flow, part);
            phi1.put(&mut self.means[0], part);
            phi2.put(&mut self.means[1], part);
        }
        let kept = (flow.of(&self.means[0], part), flow.of(&self.means[1], part));
        moisture_of(start, z, kept, water * step_per_kg)
    }
}

/// Four terms of a polynomial in pairs, so that few operations wait for one another; `square` is that of `x`.
#[inline(always)]
#[must_use]
pub fn four_terms<N: Number>(x: N, square: N, terms: [f64; 4]) -> N {
    let [a, b, c, d] = terms;
    (x.all(a) + x * x.all(b)) + square * (x.all(c) + x * x.all(d))
}

/// `(1 - e^-z)/z` and `(1 - (1 - e^-z)/z)/z` for z of 0 or more, without branches.
///
/// `e^x - 1` by a Taylor polynomial of degree 13 on half an octave to each side and a power of two; both exact to
/// about 1e-15 (relative to the sum in which they stand).
#[inline(always)]
fn exponential_means<N: Number>(z: N) -> (N, N) {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    /// From the square's on.
    const SERIES: [[f64; 4]; 3] = [
        [0.5, 1.0 / 6.0, 1.0 / 24.0, 1.0 / 120.0],
        [1.0 / 720.0, 1.0 / 5_040.0, 1.0 / 40_320.0, 1.0 / 362_880.0],
        [1.0 / 3_628_800.0, 1.0 / 39_916_800.0, 1.0 / 479_001_600.0, 1.0 / 6_227_020_800.0],
    ];
    // A shift too small to see keeps 0/0 out; beyond 700 the exponential is zero beside one.
    let z = z + z.all(1e-300);
    let x = -z.smaller(z.all(700.0));
    let t = x * z.all(std::f64::consts::LOG2_E) + z.all(MAGIC);
    let k = t - z.all(MAGIC);
    let r = (x - k * z.all(LN2_HIGH)) - k * z.all(LN2_LOW);
    let r2 = r * r;
    let r4 = r2 * r2;
    let [low, middle, high] = SERIES;
    let series =
        (four_terms(r, r2, low) + r4 * four_terms(r, r2, middle)) + (r4 * r4) * four_terms(r, r2, high);
    let p = r2 * series + r;
    let scale = t.two_to_last_bits();
    let one = z.all(1.0);
    let lost = -(scale * p + (scale - one));
    let per_z = one / z;
    let phi1 = lost * per_z;
    let far = (one - phi1) * per_z;
    let near = z.all(0.5) - z * (z.all(1.0 / 6.0) - z * z.all(1.0 / 24.0));
    (phi1, N::choose(z.all(1e-4).above(z), near, far))
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
            let (a, b) = exponential_means(z);
            let [p1, p2, _] = phi(-z);
            assert!((a - p1).abs() <= 2e-15 * p1, "{z}: {a} {p1}");
            assert!((b - p2).abs() <= 2e-15 * p2 + 4e-16 / z.max(1e-4), "{z}: {b} {p2}");
        }
    }
}
