//! Inputs of a room that move together, with the ranges they are allowed.

use crate::error::{RoomError, within};
use crate::exact::Hold;
use crate::phi::phi;
use crate::room::{Inputs, ModalRoom};
use nalgebra::DMatrix;

/// How far and how fast an input channel may move, in the unit of the channel (K, W/m2 or W).
///
/// The range is about any constant: 22 K means between 5 and 49 K as well as between -10 and 34 K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputRange {
    /// Largest distance from the middle of the range.
    pub half_range: f64,
    /// Largest change from one step to the next; twice the half range for an input that jumps.
    pub change_per_step: f64,
}

impl InputRange {
    /// An input that may jump from end to end of its range (half range 0 to 1e9).
    pub fn jumping(half_range: f64) -> Result<Self, RoomError> {
        within("half range of an input", half_range, 0.0, 1e9, "K, W/m2 or W")?;
        Ok(Self { half_range, change_per_step: 2.0 * half_range })
    }

    /// An input that changes by no more than this from step to step (both 0 to 1e9).
    pub fn gradual(half_range: f64, change_per_step: f64) -> Result<Self, RoomError> {
        within("change of an input per step", change_per_step, 0.0, 1e9, "K, W/m2 or W")?;
        let jumping = Self::jumping(half_range)?;
        Ok(Self { change_per_step: change_per_step.min(jumping.change_per_step), ..jumping })
    }

    /// Whether a series (first value included) stays within half range and change.
    pub fn holds(&self, series: &[f64]) -> bool {
        let low = series.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        let high = series.iter().fold(f64::NEG_INFINITY, |a, b| a.max(*b));
        series.iter().all(|x| x.is_finite())
            && (series.is_empty() || high - low <= 2.0 * self.half_range)
            && series.windows(2).all(|w| (w[1] - w[0]).abs() <= self.change_per_step)
    }
}

/// One number that drives several inputs of a room at fixed factors: outdoor air behind every outer wall and window;
/// the irradiance on one facade, which warms its walls and passes its windows; heat with a fixed radiant share.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Inputs of the room (places in the order of [`Inputs`]) with the factor of this channel.
    pub factors: Vec<(usize, f64)>,
    /// Allowed range.
    pub range: InputRange,
}

/// The channels of a room; heat to the air (heating, cooling, air flows, convective gains) is always the last.
#[derive(Debug, Clone, PartialEq)]
pub struct Channels {
    list: Vec<Channel>,
    inputs: Inputs,
}

impl Channels {
    /// From the channels of everything but heat to the air, and the range of all heat to the air together, W.
    ///
    /// A channel without factors, or with one that is not finite or names no input, is refused.
    pub fn new(inputs: &Inputs, mut channels: Vec<Channel>, air_heat: InputRange) -> Result<Self, RoomError> {
        for c in &channels {
            if c.factors.is_empty() {
                return Err(RoomError::Empty { what: "list of inputs of a channel" });
            }
            for (j, factor) in &c.factors {
                if *j >= inputs.len() {
                    return Err(RoomError::WrongLength {
                        what: "inputs of a room, the last named by a channel,",
                        found: *j + 1,
                        needed: inputs.len(),
                    });
                }
                within("factor of an input in its channel", *factor, -1e9, 1e9, "1")?;
            }
        }
        channels.push(Channel { factors: vec![(inputs.air_heat(), 1.0)], range: air_heat });
        Ok(Self { list: channels, inputs: inputs.clone() })
    }

    /// Every input of the room as a channel of its own, in their order but for heat to the air, which comes last.
    pub fn separate(inputs: &Inputs, ranges: &[InputRange]) -> Result<Self, RoomError> {
        if ranges.len() != inputs.len() {
            return Err(RoomError::WrongLength {
                what: "ranges of the inputs",
                found: ranges.len(),
                needed: inputs.len(),
            });
        }
        let air = inputs.air_heat();
        let others = (0..inputs.len())
            .filter(|j| *j != air)
            .map(|j| Channel { factors: vec![(j, 1.0)], range: ranges[j] })
            .collect();
        Self::new(inputs, others, ranges[air])
    }

    /// All channels, heat to the air last.
    pub fn list(&self) -> &[Channel] {
        &self.list
    }

    /// Count of channels.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Never true: heat to the air is always a channel.
    pub fn is_empty(&self) -> bool {
        false
    }

    /// Place of the channel of heat to the air.
    pub fn air_heat(&self) -> usize {
        self.list.len() - 1
    }

    /// Inputs of the room for these values of the channels.
    pub fn spread(&self, values: &[f64]) -> Vec<f64> {
        let mut u = vec![0.0; self.inputs.len()];
        for (c, v) in self.list.iter().zip(values) {
            for (j, factor) in &c.factors {
                u[*j] += factor * v;
            }
        }
        u
    }

    /// Meaning of the inputs of the room.
    pub fn inputs(&self) -> &Inputs {
        &self.inputs
    }
}

/// The full room at one step length, driven by channels: `z = z~ + b u`, `z~ <- decay z~ + g u`.
///
/// What happens within a step is that of [`crate::exact::Stepper`]: temperatures run straight from the value of the
/// last step to that of this one (or are means), heat is the mean of this step.
pub(crate) struct Discrete {
    /// `1 - decay` per mode, without cancellation.
    pub loss: Vec<f64>,
    /// Decay per mode and step.
    pub decay: Vec<f64>,
    /// `g`, modes in rows.
    pub driven: DMatrix<f64>,
    /// `b`, modes in rows.
    pub within: DMatrix<f64>,
    /// Inputs of modes by channels as rates, temperatures only.
    pub temperature: DMatrix<f64>,
    /// The same, heat only.
    pub heat: DMatrix<f64>,
    /// Inputs in rows: factors of the channels.
    pub spread: DMatrix<f64>,
    pub step_s: f64,
    pub linear: bool,
}

impl Discrete {
    pub fn new(room: &ModalRoom, channels: &Channels, step_s: f64, hold: Hold) -> Self {
        let (n, nc) = (room.rates_per_s.len(), channels.len());
        let temperatures = room.inputs.temperatures();
        let linear = hold == Hold::Linear;
        let mut spread = DMatrix::zeros(room.inputs.len(), nc);
        let (mut temperature, mut heat) = (DMatrix::zeros(n, nc), DMatrix::zeros(n, nc));
        for (c, channel) in channels.list.iter().enumerate() {
            for (j, factor) in &channel.factors {
                spread[(*j, c)] += factor;
                let to = if *j < temperatures { &mut temperature } else { &mut heat };
                for i in 0..n {
                    to[(i, c)] += room.input[(i, *j)] * factor;
                }
            }
        }
        let loss: Vec<f64> = room.rates_per_s.iter().map(|r| -(-r * step_s).exp_m1()).collect();
        let decay: Vec<f64> = room.rates_per_s.iter().map(|r| (-r * step_s).exp()).collect();
        let mut driven = DMatrix::zeros(n, nc);
        let mut within = DMatrix::zeros(n, nc);
        for i in 0..n {
            let [p1, p2, _] = phi(-room.rates_per_s[i] * step_s).map(|x| x * step_s);
            for c in 0..nc {
                let (t, q) = (temperature[(i, c)], heat[(i, c)]);
                let (start, end) =
                    if linear { ((p1 - p2) * t, p2 * t + p1 * q) } else { (0.0, p1 * (t + q)) };
                within[(i, c)] = end;
                driven[(i, c)] = start + decay[i] * end;
            }
        }
        Self { loss, decay, driven, within, temperature, heat, spread, step_s, linear }
    }
}
