//! The air temperature of a room by a few first-order lags, with a proven bound on its peak error.
//!
//! Inputs that move together form [`Channels`] with stated ranges: outdoor air drives all outer walls and windows, the
//! irradiance on a facade warms its walls and passes its windows, gains keep their radiant share. Balanced truncation
//! of the discrete room from its weighted channels to the air temperature gives a few decay factors. To these the pulse
//! response of every channel is fitted by least squares, with its steady gain exact, and the error of the result is
//! bounded in kelvin, not in energy.
//! The order is the smallest whose bound is met.
//!
//! ```text
//! T = sum_m x_m + sum_c d_c u_c          (u of this step, heating and cooling included)
//! x_m <- r_m x_m + sum_c g_mc u_c        (real r_m only)
//! ```
//!
//! Heat that crosses the boundaries is not summed from step to step: over any period it is the steady gain times the
//! sum of the inputs, which is exact, less the growth of a *memory* that is linear in the lags. What the room stores is
//! linear in the lags too. The fits of all memories and of the storage share their normal equations, so that the balance
//! of a period closes to rounding, and each boundary's heat is off by a bounded amount however long the period.

mod balanced;
mod bound;
mod channels;
mod fit;

pub use channels::{Channel, Channels, InputRange};

use crate::error::{RoomError, within};
use crate::exact::{AirFlow, Control, Hold, Mode, ideal_control};
use crate::room::{ModalRoom, Output, Source};
use balanced::{Balanced, losses};
use bound::{Head, Pulse, Small, channel_bound, heads};
use channels::Discrete;
use fit::{Lags, Target};
use nalgebra::DMatrix;

/// Largest number of lags that is tried.
pub const LARGEST_ORDER: usize = 12;

/// Weights of the error's running sum in the fit; each channel takes the fit with the smallest bound.
const SMOOTH: [f64; 3] = [0.0, 0.1, 3.0];

/// A heat (J) as a linear function of the lags after a step and of the channels in that step.
#[derive(Debug, Clone, PartialEq)]
pub struct Memory {
    /// Factor per lag, J/K.
    pub lags_j: Vec<f64>,
    /// Factor per channel, J per unit.
    pub direct_j: Vec<f64>,
}

impl Memory {
    /// Value for lags and channels at the end of the same step, J.
    pub fn value_j(&self, lags: &[f64], channels: &[f64]) -> f64 {
        let part = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        part(&self.lags_j, lags) + part(&self.direct_j, channels)
    }
}

/// Heat that enters a reduced room through all surfaces of one source.
#[derive(Debug, Clone, PartialEq)]
pub struct BoundaryHeat {
    /// Whose surfaces.
    pub source: Source,
    /// Steady heat per unit of each channel, W: that of the full room.
    pub steady_w: Vec<f64>,
    /// Growth of this is to be taken off the steady heat.
    pub memory: Memory,
}

impl BoundaryHeat {
    /// Heat over a period, J: `sums` of the channels over its steps, states `(lags, channels)` before and after.
    pub fn over_j(
        &self,
        step_s: f64,
        sums: &[f64],
        before: (&[f64], &[f64]),
        after: (&[f64], &[f64]),
    ) -> f64 {
        let steady: f64 = self.steady_w.iter().zip(sums).map(|(w, s)| w * s).sum();
        steady * step_s - (self.memory.value_j(after.0, after.1) - self.memory.value_j(before.0, before.1))
    }
}

/// A room reduced for one step length.
#[derive(Debug, Clone, PartialEq)]
pub struct ReducedRoom {
    /// Step, s.
    pub step_s: f64,
    /// How temperatures run within a step.
    pub hold: Hold,
    /// Inputs.
    pub channels: Channels,
    /// Decay factor per lag and step, slowest first.
    pub decay: Vec<f64>,
    /// What each lag loses per step: one minus its decay factor, without cancellation.
    pub loss: Vec<f64>,
    /// What a channel adds to each lag, K per unit, lags in rows.
    pub driven: DMatrix<f64>,
    /// Response of the air temperature in the same step, K per unit.
    pub direct: Vec<f64>,
    /// Steady response of the air temperature, K per unit: that of the full room.
    pub steady: Vec<f64>,
    /// Heat put into the room directly per unit of each channel (gains, sun, air heat), W.
    pub gain_w: Vec<f64>,
    /// Heat through boundaries, one entry per source.
    pub boundaries: Vec<BoundaryHeat>,
    /// Heat stored.
    pub storage: Memory,
    /// Largest error of the air temperature at the end of any step, K, for inputs within their ranges.
    pub bound_k: f64,
    /// Parts of the bound by channel, K.
    pub channel_bounds_k: Vec<f64>,
    /// Orders that were judged before, and what their bound is at least, K.
    pub tried: Vec<(usize, f64)>,
    /// Strengths of the balanced states (Hankel singular values, K), strongest first.
    pub hankel_k: Vec<f64>,
}

/// Response of an output of the full room in the step of a pulse, and steady.
fn target(room: &ModalRoom, full: &Discrete, output: &Output) -> Target {
    let nc = full.driven.ncols();
    let mut first = vec![0.0; nc];
    let mut steady = vec![0.0; nc];
    for c in 0..nc {
        for (j, d) in output.direct.iter().enumerate() {
            first[c] += d * full.spread[(j, c)];
        }
        steady[c] = first[c];
        for (i, o) in output.modes.iter().enumerate() {
            first[c] += o * full.within[(i, c)];
            steady[c] += o * (full.temperature[(i, c)] + full.heat[(i, c)]) / room.rates_per_s[i];
        }
    }
    Target { modes: output.modes.clone(), first, steady }
}

/// Air temperature of one order: decay, amplitudes and bounds.
struct Trial {
    lags: Lags,
    amplitude: Vec<f64>,
    direct: Vec<f64>,
    bounds: Vec<f64>,
}

struct Search<'a> {
    full: &'a Discrete,
    channels: &'a Channels,
    air: Target,
    pulse: Pulse,
    balanced: Balanced,
    bound_k: f64,
    tried: Vec<(usize, f64)>,
}

impl Search<'_> {
    /// The order's model when its bound is met.
    fn judge(&mut self, order: usize) -> Option<Trial> {
        match self.attempt(self.balanced.rates(order)) {
            Ok(trial) => Some(trial),
            Err(bound) => {
                self.tried.push((order, bound));
                None
            }
        }
    }

    /// The model with these rates when its bound is met, or what the bound is at least.
    fn attempt(&self, rates: Vec<f64>) -> Result<Trial, f64> {
        let lags = Lags::new(self.full, losses(rates));
        let nc = self.channels.len();
        let range = |c: usize| self.channels.list()[c].range;
        let mut best: Vec<Option<(f64, Head, usize)>> = vec![None; nc];
        let mut fits = Vec::with_capacity(SMOOTH.len());
        for smooth in SMOOTH {
            let Some((amplitude, direct)) = lags.air(self.full, &self.air, smooth) else { continue };
            let first: Vec<f64> = self.air.first.iter().zip(&direct).map(|(a, b)| a - b).collect();
            let small = Small { loss: &lags.loss, amplitude: &amplitude, first: &first };
            for (c, head) in heads(&self.pulse, &small, self.channels).into_iter().enumerate() {
                let at_least = head.at_least(range(c).half_range, range(c).change_per_step);
                if best[c].is_none_or(|b| at_least < b.0) {
                    best[c] = Some((at_least, head, fits.len()));
                }
            }
            fits.push((amplitude, direct, first));
        }
        let best: Option<Vec<_>> = best.into_iter().collect();
        let Some(best) = best else {
            return Err(f64::INFINITY);
        };
        let mut sum: f64 = best.iter().map(|b| b.0).sum();
        let mut amplitude = vec![0.0; lags.loss.len() * nc];
        let mut direct = vec![0.0; nc];
        let mut bounds = vec![0.0; nc];
        if sum <= self.bound_k {
            for (c, (at_least, head, which)) in best.iter().enumerate() {
                let (a, d, first) = &fits[*which];
                let small = Small { loss: &lags.loss, amplitude: a, first };
                bounds[c] = channel_bound(&self.pulse, &small, *head, c, self.channels);
                sum += bounds[c] - at_least;
                direct[c] = d[c];
                for m in 0..lags.loss.len() {
                    amplitude[m * nc + c] = a[m * nc + c];
                }
            }
        }
        // Not-a-number fails as well.
        if sum <= self.bound_k && direct[nc - 1] > 0.0 {
            return Ok(Trial { lags, amplitude, direct, bounds });
        }
        Err(if sum.is_nan() { f64::INFINITY } else { sum })
    }
}

/// The fewest lags (1 to [`LARGEST_ORDER`]) whose air temperature stays within `bound_k` of the full room's.
///
/// The bound (0.0001 to 10 K) holds at the end of every step of `step_s` (1 s to 1 day) with the given hold, from any
/// steady state, for channels within their ranges and the same heat to both rooms; heating, cooling, air flows and
/// convective gains together are within the range of the last channel. Orders that the Hankel singular values rule out
/// are not tried. Refused: a room without heat loss, channels of another room, a bound out of reach.
///
/// ```
/// use drycoil_rooms::exact::Hold;
/// use drycoil_rooms::reduction::{Channel, Channels, InputRange, reduce};
/// # use drycoil_rooms::{Beyond, Construction, Layer, Room, Source, Wall, WallDetail, WallModel};
/// # use drycoil_units::{Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalTransmittance};
/// # use std::sync::Arc;
/// # let brick = Layer::solid(Length::metres(0.22), Conductivity::from_si(0.77), Density::from_si(1700.0),
/// #     SpecificHeat::from_si(1000.0))?;
/// # let model = Arc::new(WallModel::new(&Construction::new(vec![brick])?, WallDetail::DESIGN)?);
/// # let h = ThermalTransmittance::from_si;
/// # let wall = Wall::new(model, Area::square_metres(20.0), h(2.5), h(5.2),
/// #     Beyond::Temperature { film: h(25.0), source: Source::Walls })?;
/// let room = Room::new(400e3, vec![wall], vec![])?.modal()?;
/// // Outdoor air between -12 and 32 degC, at most 1 K per quarter of an hour; heating and cooling up to 1500 W.
/// let outdoor = Channel { factors: vec![(0, 1.0)], range: InputRange::gradual(22.0, 1.0)? };
/// let channels = Channels::new(&room.inputs, vec![outdoor], InputRange::jumping(1500.0)?)?;
/// let small = reduce(&room, &channels, 900.0, Hold::Linear, 0.02)?;
/// assert!(small.bound_k <= 0.02 && small.order() < room.rates_per_s.len());
/// // A kelvin outside is a kelvin inside, in the end.
/// assert!((small.steady[0] - 1.0).abs() < 1e-9);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn reduce(
    room: &ModalRoom,
    channels: &Channels,
    step_s: f64,
    hold: Hold,
    bound_k: f64,
) -> Result<ReducedRoom, RoomError> {
    within("bound of the air temperature", bound_k, 1e-4, 10.0, "K")?;
    within("step", step_s, 1.0, 86_400.0, "s")?;
    if *channels.inputs() != room.inputs {
        return Err(RoomError::WrongLength {
            what: "inputs of the channels",
            found: channels.inputs().len(),
            needed: room.inputs.len(),
        });
    }
    let slowest = room.slowest_rate_per_s();
    if slowest < 3e-11 {
        return Err(RoomError::NoPeriodicState { slowest_rate_per_s: slowest });
    }
    let full = Discrete::new(room, channels, step_s, hold);
    let balanced = Balanced::new(&full, &room.air.modes, channels);
    let largest = balanced.hankel.len().min(LARGEST_ORDER);
    let start =
        balanced.hankel.iter().take(largest).take_while(|s| **s > bound_k).count().clamp(1, largest.max(1));
    let mut search = Search {
        full: &full,
        channels,
        air: target(room, &full, &room.air),
        pulse: Pulse::new(&full, &room.air.modes),
        balanced,
        bound_k,
        tried: Vec::new(),
    };
    let mut found = (start..=largest).find_map(|order| search.judge(order));
    // The first one tried may do with less.
    if let Some(first) = found.take() {
        let mut smallest = first;
        while smallest.lags.loss.len() == start.min(smallest.lags.loss.len()) && smallest.lags.loss.len() > 1
        {
            match search.judge(smallest.lags.loss.len() - 1) {
                Some(smaller) => smallest = smaller,
                None => break,
            }
        }
        found = Some(smallest);
    }
    let Some(trial) = found else {
        return Err(RoomError::NotConverged {
            what: "search for a reduced room",
            iterations: search.tried.len(),
            residual: search.tried.iter().map(|t| t.1).fold(f64::INFINITY, f64::min),
            unit: "K",
        });
    };
    let (air, tried, hankel_k) = (search.air, search.tried, search.balanced.hankel);
    Ok(finish(room, channels, &full, hold, air.steady, trial, tried, hankel_k))
}

/// Boundary heat of a group as an output: walls and windows of one source.
fn boundary_output(room: &ModalRoom, source: Source) -> Output {
    let (n, nu) = (room.rates_per_s.len(), room.inputs.len());
    let mut out = Output { modes: vec![0.0; n], direct: vec![0.0; nu] };
    let mut add = |surface: &Output, input: usize, w_per_k: f64| {
        for (o, s) in out.modes.iter_mut().zip(&surface.modes) {
            *o -= w_per_k * s;
        }
        for (o, s) in out.direct.iter_mut().zip(&surface.direct) {
            *o -= w_per_k * s;
        }
        out.direct[input] += w_per_k;
    };
    for (input, wall) in room.inputs.boundary_walls.iter().enumerate() {
        if room.boundary_sources[input] == source {
            add(&room.wall_outside[*wall], input, room.wall_outside_w_per_k[*wall]);
        }
    }
    if source == Source::Windows {
        for g in 0..room.inputs.windows {
            add(&room.pane[g], room.inputs.window_outside(g), room.pane_outside_w_per_k[g]);
        }
    }
    out
}

/// Steady heat and memory of a boundary output: `heat = steady * sum(u) * step - growth of memory`.
fn boundary_target(room: &ModalRoom, full: &Discrete, heat: &Output) -> (Vec<f64>, Target) {
    let nc = full.driven.ncols();
    let modes: Vec<f64> = heat.modes.iter().zip(&room.rates_per_s).map(|(f, r)| f / r).collect();
    let temperatures = room.inputs.temperatures();
    let memory = target(room, full, &Output { modes: modes.clone(), direct: vec![0.0; heat.direct.len()] });
    let (mut first, mut steady) = (memory.first, memory.steady);
    let mut gain = vec![0.0; nc];
    for c in 0..nc {
        let (mut by_temperature, mut by_heat) = (0.0, 0.0);
        for (j, d) in heat.direct.iter().enumerate() {
            let to = if j < temperatures { &mut by_temperature } else { &mut by_heat };
            *to += d * full.spread[(j, c)];
        }
        for (i, m) in modes.iter().enumerate() {
            by_temperature += m * full.temperature[(i, c)];
            by_heat += m * full.heat[(i, c)];
        }
        gain[c] = by_temperature + by_heat;
        // Straight lines between values hold half of the last value less and half of the first more than their sum.
        let half = if full.linear { 0.5 * full.step_s * by_temperature } else { 0.0 };
        first[c] += half;
        steady[c] += half;
    }
    (gain, Target { modes, first, steady })
}

fn sources(room: &ModalRoom) -> Vec<Source> {
    Source::ALL
        .into_iter()
        .filter(|s| room.boundary_sources.contains(s) || (*s == Source::Windows && room.inputs.windows > 0))
        .collect()
}

#[allow(clippy::too_many_arguments)]
fn finish(
    room: &ModalRoom,
    channels: &Channels,
    full: &Discrete,
    hold: Hold,
    steady: Vec<f64>,
    trial: Trial,
    tried: Vec<(usize, f64)>,
    hankel_k: Vec<f64>,
) -> ReducedRoom {
    let nc = channels.len();
    let weight: Vec<f64> = channels.list().iter().map(|c| c.range.half_range).collect();
    let fit = trial.lags.outputs(&trial.amplitude, &weight);
    let memory = |t: &Target| {
        let (lags_j, direct_j) = trial.lags.output(full, &fit, &weight, t);
        Memory { lags_j, direct_j }
    };
    let boundaries = sources(room)
        .into_iter()
        .map(|source| {
            let (steady_w, t) = boundary_target(room, full, &boundary_output(room, source));
            BoundaryHeat { source, steady_w, memory: memory(&t) }
        })
        .collect();
    let storage = memory(&target(
        room,
        full,
        &Output { modes: room.stored_j.clone(), direct: vec![0.0; room.inputs.len()] },
    ));
    let temperatures = room.inputs.temperatures();
    let gain_w =
        (0..nc).map(|c| (temperatures..room.inputs.len()).map(|j| full.spread[(j, c)]).sum()).collect();
    let loss = trial.lags.loss;
    ReducedRoom {
        step_s: full.step_s,
        hold,
        channels: channels.clone(),
        decay: loss.iter().map(|l| 1.0 - l).collect(),
        driven: DMatrix::from_row_slice(loss.len(), nc, &trial.amplitude),
        loss,
        direct: trial.direct,
        steady,
        gain_w,
        boundaries,
        storage,
        bound_k: trial.bounds.iter().sum(),
        channel_bounds_k: trial.bounds,
        tried,
        hankel_k,
    }
}

/// Result of one step of a reduced room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirStep {
    /// Air temperature at the end, degC.
    pub air_c: f64,
    /// Heating (positive) or cooling (negative), mean over the step, W.
    pub hvac_w: f64,
    /// Heat brought by air flows, mean over the step, W.
    pub air_flow_w: f64,
    /// What the control did.
    pub mode: Mode,
    /// Air temperature at the end without any heating, cooling or air flow, degC.
    pub free_c: f64,
}

impl ReducedRoom {
    /// Count of lags.
    pub fn order(&self) -> usize {
        self.decay.len()
    }

    /// Rise of the air temperature at the end of a step per W to the air, K/W.
    pub fn unit_response_k_per_w(&self) -> f64 {
        self.direct[self.channels.air_heat()]
    }

    fn check(&self, values: &[f64]) -> Result<(), RoomError> {
        let needed = self.channels.len();
        if values.len() == needed {
            Ok(())
        } else {
            Err(RoomError::WrongLength { what: "channels of a reduced room", found: values.len(), needed })
        }
    }

    /// Lags of a room that has had these inputs for ever.
    pub fn steady_state(&self, channels: &[f64]) -> Result<Vec<f64>, RoomError> {
        self.check(channels)?;
        Ok((0..self.order())
            .map(|m| {
                channels.iter().enumerate().map(|(c, u)| self.driven[(m, c)] * u).sum::<f64>() / self.loss[m]
            })
            .collect())
    }

    /// One step, as [`crate::exact::Stepper::step`]. `channels` are those of this step; the value of the last channel is
    /// convective heat; on return it holds all heat to the air (what sums and memories need).
    pub fn step(
        &self,
        lags: &mut [f64],
        channels: &mut [f64],
        flow: AirFlow,
        control: Control,
    ) -> Result<AirStep, RoomError> {
        self.check(channels)?;
        control.check()?;
        within("air flow conductance", flow.conductance_w_per_k, 0.0, 1e9, "W/K")?;
        if lags.len() != self.order() {
            return Err(RoomError::WrongLength {
                what: "lags of a reduced room",
                found: lags.len(),
                needed: self.order(),
            });
        }
        let free_c = self.direct.iter().zip(channels.iter()).map(|(d, u)| d * u).sum::<f64>()
            + lags.iter().sum::<f64>();
        let (hvac_w, air_c, mode) = ideal_control(free_c, self.unit_response_k_per_w(), flow, control);
        let air_flow_w = if flow.conductance_w_per_k > 0.0 {
            flow.conductance_w_per_k * (flow.supply_c - air_c)
        } else {
            0.0
        };
        channels[self.channels.air_heat()] += hvac_w + air_flow_w;
        for (m, x) in lags.iter_mut().enumerate() {
            let added: f64 = channels.iter().enumerate().map(|(c, u)| self.driven[(m, c)] * u).sum();
            *x = *x * self.decay[m] + added;
        }
        Ok(AirStep { air_c, hvac_w, air_flow_w, mode, free_c })
    }

    /// Bounds on the error of each boundary's memory (same order) and of the storage (last) at the end of any step, J,
    /// for channels within their ranges; twice that for the heat of a period.
    ///
    /// `room` is the one this was reduced from; another is refused by its count of inputs only.
    pub fn memory_bounds_j(&self, room: &ModalRoom) -> Result<Vec<f64>, RoomError> {
        if *self.channels.inputs() != room.inputs {
            return Err(RoomError::WrongLength {
                what: "inputs of the room",
                found: room.inputs.len(),
                needed: self.channels.inputs().len(),
            });
        }
        let full = Discrete::new(room, &self.channels, self.step_s, self.hold);
        let nc = self.channels.len();
        let bound = |t: &Target, memory: &Memory| -> f64 {
            let pulse = Pulse::new(&full, &t.modes);
            let mut first = vec![0.0; nc];
            let mut amplitude = vec![0.0; self.order() * nc];
            for c in 0..nc {
                let mut now = memory.direct_j[c];
                for m in 0..self.order() {
                    let x = memory.lags_j[m] * self.driven[(m, c)];
                    now += x;
                    amplitude[m * nc + c] = x * self.decay[m];
                }
                first[c] = t.first[c] - now;
            }
            let small = Small { loss: &self.loss, amplitude: &amplitude, first: &first };
            heads(&pulse, &small, &self.channels)
                .into_iter()
                .enumerate()
                .map(|(c, h)| channel_bound(&pulse, &small, h, c, &self.channels))
                .sum()
        };
        let mut out: Vec<f64> = self
            .boundaries
            .iter()
            .map(|b| bound(&boundary_target(room, &full, &boundary_output(room, b.source)).1, &b.memory))
            .collect();
        let storage = Output { modes: room.stored_j.clone(), direct: vec![0.0; room.inputs.len()] };
        out.push(bound(&target(room, &full, &storage), &self.storage));
        Ok(out)
    }
}
