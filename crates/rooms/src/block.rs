//! Many reduced rooms stepped side by side: heat, ideal control with limits, implicit air flows, moisture.
//!
//! A [`RoomBlock`] holds `L` rooms lane by lane (an array of structures of arrays), 8 in the year loop ([`LANES`]) and 1
//! as its scalar twin: the same code with the same order of operations, no fused multiply-add and no call to a maths
//! library, so that both give the same bits and loops over lanes become vector instructions on any machine.
//!
//! Rooms of one block may differ in everything; orders and counts of channels are filled up with zeros to those of the
//! largest. Values that enter a step are not checked (the loop is too hot): [`RoomBlock::check`] finds a state that is not
//! finite afterwards, at the end of a day say.

use crate::error::{RoomError, within};
use crate::moisture::MoistureStore;
use crate::reduction::ReducedRoom;
use drycoil_air::raw as air;
use drycoil_units::{HumidityRatio, Quantity};

/// Lanes of a block in the year loop.
pub const LANES: usize = 8;

/// One number per room of a block.
pub type Lanes<const L: usize> = [f64; L];

/// A flow of air into each room of a block; as much room air leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockFlow<const L: usize> {
    /// Dry-air mass flow, kg/s, 0 or more.
    pub dry_air_kg_per_s: Lanes<L>,
    /// Temperature at which it enters, degC.
    pub supply_c: Lanes<L>,
    /// Humidity ratio at which it enters, kg/kg.
    pub humidity_ratio: Lanes<L>,
}

impl<const L: usize> BlockFlow<L> {
    /// No air.
    pub const NONE: Self = Self { dry_air_kg_per_s: [0.0; L], supply_c: [0.0; L], humidity_ratio: [0.0; L] };
}

/// What drives a block for one step.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockInput<const L: usize> {
    /// Channels, as many as the block has; the last is convective heat to the air, W.
    pub channels: Vec<Lanes<L>>,
    /// Primary, infiltration and transfer air.
    pub flows: [BlockFlow<L>; 3],
    /// Water vapour released by people and processes, kg/s.
    pub vapour_kg_per_s: Lanes<L>,
    /// Heating set point, degC; minus infinity when there is none.
    pub heating_set_c: Lanes<L>,
    /// Cooling set point, degC; plus infinity when there is none.
    pub cooling_set_c: Lanes<L>,
    /// Largest heating, W.
    pub heating_capacity_w: Lanes<L>,
    /// Largest cooling, W, positive.
    pub cooling_capacity_w: Lanes<L>,
}

impl<const L: usize> BlockInput<L> {
    /// Nothing happens: zeros and no control.
    pub fn idle(channels: usize) -> Self {
        Self {
            channels: vec![[0.0; L]; channels],
            flows: [BlockFlow::NONE; 3],
            vapour_kg_per_s: [0.0; L],
            heating_set_c: [f64::NEG_INFINITY; L],
            cooling_set_c: [f64::INFINITY; L],
            heating_capacity_w: [0.0; L],
            cooling_capacity_w: [0.0; L],
        }
    }
}

/// What happened in a step.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockOutput<const L: usize> {
    /// Air temperature at the end, degC.
    pub air_c: Lanes<L>,
    /// Heating (positive) or cooling (negative), mean over the step, W.
    pub hvac_w: Lanes<L>,
    /// Heat brought by air flows, mean over the step, W.
    pub air_flow_w: Lanes<L>,
    /// Kelvin by which the set point is missed because a capacity is at its limit, 0 when met.
    pub unmet_k: Lanes<L>,
    /// Humidity ratio at the end, kg/kg.
    pub humidity_ratio: Lanes<L>,
    /// Its mean over the step, kg/kg.
    pub mean_humidity_ratio: Lanes<L>,
}

impl<const L: usize> Default for BlockOutput<L> {
    fn default() -> Self {
        Self {
            air_c: [0.0; L],
            hvac_w: [0.0; L],
            air_flow_w: [0.0; L],
            unmet_k: [0.0; L],
            humidity_ratio: [0.0; L],
            mean_humidity_ratio: [0.0; L],
        }
    }
}

/// Running sums of a block, from its making on.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockSums<const L: usize> {
    /// Steps taken.
    pub steps: u64,
    /// Channels, the last with all heat to the air.
    pub channels: Vec<Lanes<L>>,
    /// Heating, W times steps.
    pub heating_w: Lanes<L>,
    /// Cooling as a positive number, W times steps.
    pub cooling_w: Lanes<L>,
    /// Heat of air flows, W times steps.
    pub air_flow_w: Lanes<L>,
    /// Kelvin times steps with a capacity at its limit.
    pub unmet_k: Lanes<L>,
    /// Steps with a capacity at its limit.
    pub unmet_steps: Lanes<L>,
    /// Water in with air flows and released, kg.
    pub water_in_kg: Lanes<L>,
    /// Water out with the air that leaves, kg.
    pub water_out_kg: Lanes<L>,
}

/// Rooms stepped side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomBlock<const L: usize> {
    order: usize,
    channels: usize,
    step_s: f64,
    /// Per lag: decay, then the factor of each channel.
    lag_factors: Vec<Lanes<L>>,
    /// Per channel: response in the same step.
    direct: Vec<Lanes<L>>,
    /// Response to heat, K/W, and its reciprocal.
    unit: Lanes<L>,
    per_unit: Lanes<L>,
    /// Step over effective dry-air mass, s/kg.
    step_per_kg: Lanes<L>,
    effective_kg: Lanes<L>,
    lags: Vec<Lanes<L>>,
    humidity_ratio: Lanes<L>,
    sums: BlockSums<L>,
}

/// A room to be put into a block, with its state at the start.
#[derive(Debug, Clone, Copy)]
pub struct BlockRoom<'a> {
    /// Its heat.
    pub room: &'a ReducedRoom,
    /// Its store of moisture.
    pub store: MoistureStore,
    /// Channels it has had for ever, the last with all heat to the air.
    pub steady: &'a [f64],
    /// Humidity ratio at the start.
    pub humidity_ratio: HumidityRatio,
}

/// `(1 - e^-z)/z` and `(1 - (1 - e^-z)/z)/z` for z of 0 or more, without branches.
///
/// `e^x - 1` by a Taylor polynomial of degree 13 on half an octave to each side and a power of two; both exact to
/// about 1e-15 (relative to the sum in which they stand).
#[inline]
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

fn larger(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

fn add<const L: usize>(to: &mut Lanes<L>, from: &Lanes<L>) {
    // By value: loads before stores let lanes be added together.
    let (mut sum, more) = (*to, *from);
    for l in 0..L {
        sum[l] += more[l];
    }
    *to = sum;
}

fn smaller(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

impl<const L: usize> RoomBlock<L> {
    /// From 1 to `L` rooms of one step length; free lanes repeat the last room.
    ///
    /// Refused: no room or too many, different steps, a wrong count of steady channels, a humidity ratio outside 0 to 0.5.
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
        let order = rooms.iter().map(|r| r.room.order()).max().unwrap_or(0);
        let channels = rooms.iter().map(|r| r.room.channels.len()).max().unwrap_or(1);
        let mut block = Self {
            order,
            channels,
            step_s,
            lag_factors: vec![[0.0; L]; order * (channels + 1)],
            direct: vec![[0.0; L]; channels],
            unit: [0.0; L],
            per_unit: [0.0; L],
            step_per_kg: [0.0; L],
            effective_kg: [0.0; L],
            lags: vec![[0.0; L]; order],
            humidity_ratio: [0.0; L],
            sums: BlockSums {
                steps: 0,
                channels: vec![[0.0; L]; channels],
                heating_w: [0.0; L],
                cooling_w: [0.0; L],
                air_flow_w: [0.0; L],
                unmet_k: [0.0; L],
                unmet_steps: [0.0; L],
                water_in_kg: [0.0; L],
                water_out_kg: [0.0; L],
            },
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
            // Heat to the air is the last channel of the block, wherever it is in the room.
            let place = |c: usize| if c == own - 1 { channels - 1 } else { c };
            let steady = r.room.steady_state(r.steady)?;
            for c in 0..own {
                block.direct[place(c)][l] = r.room.direct[c];
            }
            for (m, start) in steady.iter().enumerate() {
                let row = &mut block.lag_factors[m * (channels + 1)..(m + 1) * (channels + 1)];
                row[0][l] = r.room.decay[m];
                for c in 0..own {
                    row[1 + place(c)][l] = r.room.driven[(m, c)];
                }
                block.lags[m][l] = *start;
            }
            block.unit[l] = r.room.unit_response_k_per_w();
            block.per_unit[l] = 1.0 / block.unit[l];
            block.effective_kg[l] = r.store.effective_kg();
            block.step_per_kg[l] = step_s / block.effective_kg[l];
            block.humidity_ratio[l] = within("humidity ratio", r.humidity_ratio.si(), 0.0, 0.5, "kg/kg")?;
        }
        Ok(block)
    }

    /// Lags of the block: the largest order of its rooms.
    pub fn order(&self) -> usize {
        self.order
    }

    /// Count of channels, heat to the air last.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Sums so far.
    pub fn sums(&self) -> &BlockSums<L> {
        &self.sums
    }

    /// Lags of one room, in the order of its reduced model (zeros above its own order).
    pub fn lags(&self, lane: usize) -> Vec<f64> {
        self.lags.iter().map(|x| x[lane]).collect()
    }

    /// Humidity ratios, kg/kg.
    pub fn humidity_ratio(&self) -> &Lanes<L> {
        &self.humidity_ratio
    }

    /// Water held, kg.
    pub fn water_kg(&self) -> Lanes<L> {
        std::array::from_fn(|l| self.effective_kg[l] * self.humidity_ratio[l])
    }

    /// Refuses a state that is not finite or a humidity ratio outside 0 to 0.5 kg/kg.
    pub fn check(&self) -> Result<(), RoomError> {
        for lane in self.lags.iter().flatten() {
            within("lag of a reduced room", *lane, -1e9, 1e9, "K")?;
        }
        for w in self.humidity_ratio {
            within("humidity ratio at the end of a step", w, 0.0, 0.5, "kg/kg")?;
        }
        Ok(())
    }

    /// One step of every room. An input with fewer channels than the block is refused.
    ///
    /// The air temperature meets its set point at the end of the step when capacities allow; humidity takes its exact
    /// exponential step for flows and vapour that are constant over the step.
    pub fn step(&mut self, input: &BlockInput<L>, out: &mut BlockOutput<L>) -> Result<(), RoomError> {
        let nc = self.channels;
        if input.channels.len() != nc {
            return Err(RoomError::WrongLength {
                what: "channels of a block of rooms",
                found: input.channels.len(),
                needed: nc,
            });
        }
        // Free-floating air temperature.
        let mut free = [0.0; L];
        for (d, u) in self.direct.iter().zip(&input.channels) {
            for l in 0..L {
                free[l] += d[l] * u[l];
            }
        }
        for x in &self.lags {
            for l in 0..L {
                free[l] += x[l];
            }
        }
        // Air flows: conductance, heat at 0 degC, dry air, water.
        let (mut g, mut gt, mut flow, mut water) = ([0.0; L], [0.0; L], [0.0; L], input.vapour_kg_per_s);
        for f in &input.flows {
            for l in 0..L {
                let m = f.dry_air_kg_per_s[l];
                let w = f.humidity_ratio[l];
                let c = m * (air::CP_DRY_AIR_J_PER_KG_K + air::CP_VAPOUR_J_PER_KG_K * w);
                g[l] += c;
                gt[l] += c * f.supply_c[l];
                flow[l] += m;
                water[l] += m * w;
            }
        }
        // Control: values of this step first, sums afterwards; loops that write few arrays become vector code.
        let (unit, per_unit) = (self.unit, self.per_unit);
        let convective = &input.channels[nc - 1];
        let (mut start, mut damped) = ([0.0; L], [0.0; L]);
        let (mut heating, mut cooling, mut cold, mut warm) = ([0.0; L], [0.0; L], [0.0; L], [0.0; L]);
        for l in 0..L {
            damped[l] = 1.0 + unit[l] * g[l];
            start[l] = free[l] + unit[l] * gt[l];
        }
        for l in 0..L {
            let needed = (damped[l] * input.heating_set_c[l] - start[l]) * per_unit[l];
            let capacity = input.heating_capacity_w[l];
            heating[l] = smaller(larger(needed, 0.0), capacity);
            cold[l] = if needed > capacity { 1.0 } else { 0.0 };
        }
        for l in 0..L {
            let needed = (start[l] - damped[l] * input.cooling_set_c[l]) * per_unit[l];
            let capacity = input.cooling_capacity_w[l];
            cooling[l] = smaller(larger(needed, 0.0), capacity);
            warm[l] = if needed > capacity { 1.0 } else { 0.0 };
        }
        let (mut hvac, mut t, mut by_air, mut heat) = ([0.0; L], [0.0; L], [0.0; L], [0.0; L]);
        for l in 0..L {
            hvac[l] = heating[l] - cooling[l];
            t[l] = (start[l] + unit[l] * hvac[l]) / damped[l];
            by_air[l] = gt[l] - g[l] * t[l];
            heat[l] = convective[l] + (hvac[l] + by_air[l]);
        }
        let (mut unmet, mut at_limit) = ([0.0; L], [0.0; L]);
        for l in 0..L {
            let below = if cold[l] > 0.0 { input.heating_set_c[l] - t[l] } else { 0.0 };
            let above = if warm[l] > 0.0 { t[l] - input.cooling_set_c[l] } else { 0.0 };
            unmet[l] = below + above;
            at_limit[l] = cold[l] + warm[l];
        }
        out.air_c = t;
        out.hvac_w = hvac;
        out.air_flow_w = by_air;
        out.unmet_k = unmet;
        let s = &mut self.sums;
        add(&mut s.heating_w, &heating);
        add(&mut s.cooling_w, &cooling);
        add(&mut s.air_flow_w, &by_air);
        add(&mut s.unmet_k, &unmet);
        add(&mut s.unmet_steps, &at_limit);
        // Lags.
        let others = &input.channels[..nc - 1];
        for (x, k) in self.lags.iter_mut().zip(self.lag_factors.chunks_exact(nc + 1)) {
            let (mut sum, decay, last) = (*x, k[0], k[nc]);
            for l in 0..L {
                sum[l] *= decay[l];
            }
            for (f, u) in k[1..nc].iter().zip(others) {
                for l in 0..L {
                    sum[l] += f[l] * u[l];
                }
            }
            for l in 0..L {
                sum[l] += last[l] * heat[l];
            }
            *x = sum;
        }
        for (total, u) in s.channels.iter_mut().zip(others) {
            add(total, u);
        }
        add(&mut s.channels[nc - 1], &heat);
        s.steps += 1;
        // Moisture.
        let mut z = [0.0; L];
        for l in 0..L {
            z[l] = flow[l] * self.step_per_kg[l];
        }
        let (phi1, phi2) = exponential_means(&z);
        let before = self.humidity_ratio;
        let (mut end, mut mean, mut water_in, mut water_out) = ([0.0; L], [0.0; L], [0.0; L], [0.0; L]);
        for l in 0..L {
            let driven = water[l] * self.step_per_kg[l];
            end[l] = before[l] + (driven - z[l] * before[l]) * phi1[l];
            mean[l] = before[l] * phi1[l] + driven * phi2[l];
        }
        for l in 0..L {
            water_in[l] = water[l] * self.step_s;
            water_out[l] = flow[l] * mean[l] * self.step_s;
        }
        self.humidity_ratio = end;
        out.humidity_ratio = end;
        out.mean_humidity_ratio = mean;
        add(&mut s.water_in_kg, &water_in);
        add(&mut s.water_out_kg, &water_out);
        Ok(())
    }
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
