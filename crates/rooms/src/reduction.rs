//! The air temperature of a room by a few first-order lags, with a proven bound on its peak error.
//!
//! Balanced truncation (Gramians in closed form, because the modes are known) of the network from its scaled inputs
//! to the air temperature gives a few decay rates. To these rates the step response of every input is fitted by
//! least squares, closed form again, with its end value exact:
//!
//! `dx_m/dt = -p_m x_m + sum_j r_mj u_j`, `T_air = sum_m x_m + sum_j d_j u_j`, with real rates only.
//!
//! So the steady gain of every input is that of the full room exactly, whatever is left out. A pair of complex rates,
//! which balanced truncation with many inputs and one output may give, is replaced by two real rates about its
//! magnitude: any rates are allowed, because what counts is the error bound computed afterwards.
//!
//! The Hankel sum of balanced truncation bounds energy, not kelvin. The bound given here is on the peak: the sum over
//! all inputs of half range times the sum of the magnitudes of the discrete impulse response of the error. Its first
//! part is summed step by step, its endless rest is bounded by the Cauchy-Schwarz inequality with a closed-form
//! weighted norm.

use crate::error::{RoomError, within};
use crate::exact::{AirFlow, Control, Hold, Mode, ideal_control};
use crate::phi::phi;
use crate::room::{Inputs, ModalRoom};
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// Largest number of lags that is tried.
pub const LARGEST_ORDER: usize = 16;

/// The air temperature as a sum of first-order lags.
#[derive(Debug, Clone, PartialEq)]
pub struct AirModel {
    /// Decay rates, 1/s, ascending.
    pub rates_per_s: Vec<f64>,
    /// Input factors, lags in rows; the air temperature is the plain sum of the lags.
    pub input: DMatrix<f64>,
    /// Response of the air temperature without delay, per input.
    pub direct: Vec<f64>,
    /// Meaning of the inputs.
    pub inputs: Inputs,
    /// Largest error of the air temperature at the end of any step, K, for inputs within the half ranges.
    pub bound_k: f64,
    /// Bounds of the smaller orders that were tried, K, from order 1 on.
    pub tried_k: Vec<f64>,
}

/// Square root factor of a positive semidefinite matrix: eigenvectors times roots of eigenvalues.
fn root(m: DMatrix<f64>) -> DMatrix<f64> {
    let eigen = SymmetricEigen::new(m);
    let mut v = eigen.eigenvectors;
    for (mut c, e) in v.column_iter_mut().zip(eigen.eigenvalues.iter()) {
        c *= e.max(0.0).sqrt();
    }
    v
}

/// Balanced realisation of the scaled network, strongest states first; its state matrix.
fn balanced(room: &ModalRoom, half_ranges: &[f64]) -> DMatrix<f64> {
    let n = room.rates_per_s.len();
    let rates = &room.rates_per_s;
    let scaled = DMatrix::from_fn(n, half_ranges.len(), |i, j| room.input[(i, j)] * half_ranges[j]);
    let bb = &scaled * scaled.transpose();
    let p = root(DMatrix::from_fn(n, n, |i, j| bb[(i, j)] / (rates[i] + rates[j])));
    let c = &room.air.modes;
    let q = root(DMatrix::from_fn(n, n, |i, j| c[i] * c[j] / (rates[i] + rates[j])));
    let m = q.tr_mul(&p);
    let gram = SymmetricEigen::new(m.tr_mul(&m));
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| gram.eigenvalues[*b].total_cmp(&gram.eigenvalues[*a]));
    // Directions below 1e-7 of the strongest carry nothing that a peak could show.
    let floor = 1e-14 * gram.eigenvalues[order[0]];
    let kept: Vec<usize> =
        order.into_iter().filter(|i| gram.eigenvalues[*i] > floor).take(LARGEST_ORDER).collect();
    let k = kept.len();
    let vectors = DMatrix::from_fn(n, k, |i, j| gram.eigenvectors[(i, kept[j])]);
    let strength: Vec<f64> = kept.iter().map(|i| gram.eigenvalues[*i].powf(0.25)).collect();
    let right = DMatrix::from_fn(k, k, |i, j| if i == j { 1.0 / strength[i] } else { 0.0 });
    let t = &p * &vectors * &right;
    // Left vectors: q m v / s^3 in terms of singular values s^2 = strength^2.
    let cubed = DMatrix::from_fn(k, k, |i, j| if i == j { strength[i].powi(-3) } else { 0.0 });
    let left = &q * (&m * &vectors) * cubed;
    let driven = DMatrix::from_fn(n, k, |i, j| -rates[i] * t[(i, j)]);
    left.tr_mul(&driven)
}

/// Real decay rates of the leading block of the balanced state matrix.
fn rates_of(a: &DMatrix<f64>, order: usize) -> Vec<f64> {
    let block = a.view((0, 0), (order, order)).into_owned();
    let mut rates: Vec<f64> = block
        .complex_eigenvalues()
        .iter()
        .map(|z| {
            if z.im.abs() > 1e-9 * z.norm() {
                z.norm() * if z.im > 0.0 { 1.25 } else { 0.8 }
            } else {
                z.re.abs()
            }
        })
        .collect();
    rates.sort_by(f64::total_cmp);
    rates
}

/// Residues and direct terms for given rates: least squares on every step response, its end value exact.
fn fit(room: &ModalRoom, rates: &[f64]) -> Option<(DMatrix<f64>, Vec<f64>)> {
    let r = rates.len();
    let nu = room.inputs.len();
    // Scaled to a unit diagonal: a Cauchy matrix is badly conditioned, not singular.
    let norm: Vec<f64> = rates.iter().map(|p| (2.0 * p).sqrt()).collect();
    let gram = DMatrix::from_fn(r, r, |i, j| norm[i] * norm[j] / (rates[i] + rates[j]));
    let factor = gram.cholesky()?;
    let mut input = DMatrix::zeros(r, nu);
    let mut direct = vec![0.0; nu];
    for j in 0..nu {
        let gains: Vec<f64> = room
            .rates_per_s
            .iter()
            .enumerate()
            .map(|(i, l)| room.air.modes[i] * room.input[(i, j)] / l)
            .collect();
        let rhs = DVector::from_fn(r, |m, _| {
            norm[m] * gains.iter().zip(&room.rates_per_s).map(|(g, l)| g / (l + rates[m])).sum::<f64>()
        });
        let x = factor.solve(&rhs);
        let mut kept = 0.0;
        for m in 0..r {
            let gain = x[m] * norm[m];
            kept += gain;
            input[(m, j)] = gain * rates[m];
        }
        direct[j] = room.air.direct[j] + gains.iter().sum::<f64>() - kept;
    }
    Some((input, direct))
}

/// Steps of the error's impulse response that are summed one by one.
const SUMMED: usize = 192;

/// Bound on the peak error of the air temperature at step ends, K, for inputs within half ranges about any constant.
fn peak_bound(full: &ModalRoom, small: &AirModel, half_ranges: &[f64], step_s: f64, hold: Hold) -> f64 {
    let rates: Vec<f64> = full.rates_per_s.iter().chain(&small.rates_per_s).copied().collect();
    let decay: Vec<f64> = rates.iter().map(|r| (-r * step_s).exp()).collect();
    let weights: Vec<[f64; 3]> = rates.iter().map(|r| phi(-r * step_s).map(|x| x * step_s)).collect();
    let slowest = decay.iter().fold(0.0_f64, |a, b| a.max(*b));
    let n = full.rates_per_s.len();
    let temperatures = full.inputs.temperatures();
    let mut total = 0.0;
    for (j, range) in half_ranges.iter().enumerate() {
        // Amplitudes of the error's modes at the end of the pulse and one step later.
        let linear = j < temperatures && hold == Hold::Linear;
        let (mut now, mut later) = (Vec::with_capacity(rates.len()), Vec::with_capacity(rates.len()));
        for (i, [p1, p2, _]) in weights.iter().enumerate() {
            let gain = if i < n { full.air.modes[i] * full.input[(i, j)] } else { -small.input[(i - n, j)] };
            let first = if linear { *p2 } else { *p1 };
            now.push(gain * first);
            later.push(gain * (p1 - first + first * decay[i]));
        }
        let mut sum = (now.iter().sum::<f64>() + full.air.direct[j] - small.direct[j]).abs();
        for _ in 0..SUMMED {
            sum += later.iter().sum::<f64>().abs();
            later.iter_mut().zip(&decay).for_each(|(a, d)| *a *= d);
        }
        // Rest: sum |e_k| <= sqrt(sum rho^2k) sqrt(sum e_k^2 / rho^2k) with rho^2 the slowest decay.
        let mut weighted = 0.0;
        for (a, da) in later.iter().zip(&decay) {
            for (b, db) in later.iter().zip(&decay) {
                weighted += a * b / (1.0 - da * db / slowest);
            }
        }
        sum += (weighted.max(0.0) / (1.0 - slowest)).sqrt();
        total += range * sum;
    }
    total
}

/// The fewest lags (1 to [`LARGEST_ORDER`]) whose air temperature stays within `bound_k` of the full room's.
///
/// `half_ranges` hold, per input in the order of [`crate::Inputs`], how far it may stray to either side of a
/// constant: K for temperatures, W for heat (heating, cooling and air flows count as heat to the air). The bound
/// (0.0001 to 10 K) holds at the end of every step of `step_s` with the given hold, from any steady state, for the
/// same inputs to both rooms. Refused: a room without heat loss, wrong lengths, a bound out of reach.
pub fn reduce(
    room: &ModalRoom,
    half_ranges: &[f64],
    step_s: f64,
    hold: Hold,
    bound_k: f64,
) -> Result<AirModel, RoomError> {
    within("bound of the air temperature", bound_k, 1e-4, 10.0, "K")?;
    within("step", step_s, 1.0, 86_400.0, "s")?;
    if half_ranges.len() != room.inputs.len() {
        return Err(RoomError::WrongLength {
            what: "half ranges of the inputs",
            found: half_ranges.len(),
            needed: room.inputs.len(),
        });
    }
    for r in half_ranges {
        within("half range of an input", *r, 0.0, 1e9, "K or W")?;
    }
    let slowest = room.slowest_rate_per_s();
    if slowest < 3e-11 {
        return Err(RoomError::NoPeriodicState { slowest_rate_per_s: slowest });
    }
    let a = balanced(room, half_ranges);
    let mut tried_k = Vec::new();
    for order in 1..=a.nrows() {
        let rates = rates_of(&a, order);
        let Some((input, direct)) = fit(room, &rates) else {
            tried_k.push(f64::INFINITY);
            continue;
        };
        let mut model = AirModel {
            rates_per_s: rates,
            input,
            direct,
            inputs: room.inputs.clone(),
            bound_k: 0.0,
            tried_k: Vec::new(),
        };
        model.bound_k = peak_bound(room, &model, half_ranges, step_s, hold);
        if model.bound_k <= bound_k {
            model.tried_k = tried_k;
            return Ok(model);
        }
        tried_k.push(model.bound_k);
    }
    Err(RoomError::NotConverged {
        what: "search for a reduced room",
        iterations: tried_k.len(),
        residual: tried_k.iter().copied().fold(f64::INFINITY, f64::min),
        unit: "K",
    })
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
}

/// A reduced room prepared for steps of one length.
#[derive(Debug, Clone)]
pub struct AirStepper<'a> {
    model: &'a AirModel,
    hold: Hold,
    decay: Vec<f64>,
    weights: Vec<[f64; 2]>,
    unit: f64,
}

impl<'a> AirStepper<'a> {
    /// Prepares steps of 1 s to 1 day; the bound of the model holds for the step and hold it was made for.
    pub fn new(model: &'a AirModel, step_s: f64, hold: Hold) -> Result<Self, RoomError> {
        within("step", step_s, 1.0, 86_400.0, "s")?;
        let decay = model.rates_per_s.iter().map(|r| (-r * step_s).exp()).collect();
        let weights: Vec<[f64; 2]> = model
            .rates_per_s
            .iter()
            .map(|r| {
                let [p1, p2, _] = phi(-r * step_s);
                [p1 * step_s, p2 * step_s]
            })
            .collect();
        let j = model.inputs.air_heat();
        let unit = weights.iter().enumerate().map(|(m, w)| w[0] * model.input[(m, j)]).sum::<f64>()
            + model.direct[j];
        Ok(Self { model, hold, decay, weights, unit })
    }

    /// Lags of a room that has had these inputs for ever.
    pub fn steady_state(&self, inputs: &[f64]) -> Result<Vec<f64>, RoomError> {
        self.check(inputs)?;
        let m = self.model;
        Ok((0..m.rates_per_s.len())
            .map(|i| (0..inputs.len()).map(|j| m.input[(i, j)] * inputs[j]).sum::<f64>() / m.rates_per_s[i])
            .collect())
    }

    fn check(&self, inputs: &[f64]) -> Result<(), RoomError> {
        let needed = self.model.inputs.len();
        if inputs.len() == needed {
            Ok(())
        } else {
            Err(RoomError::WrongLength { what: "inputs of a reduced room", found: inputs.len(), needed })
        }
    }

    /// One step, as [`crate::exact::Stepper::step`].
    pub fn step(
        &self,
        lags: &mut [f64],
        start: &[f64],
        end: &[f64],
        flow: AirFlow,
        control: Control,
    ) -> Result<AirStep, RoomError> {
        self.check(start)?;
        self.check(end)?;
        control.check()?;
        within("air flow conductance", flow.conductance_w_per_k, 0.0, 1e9, "W/K")?;
        let model = self.model;
        if lags.len() != model.rates_per_s.len() {
            return Err(RoomError::WrongLength {
                what: "lags of a reduced room",
                found: lags.len(),
                needed: model.rates_per_s.len(),
            });
        }
        let temperatures = model.inputs.temperatures();
        let mut free: f64 = model.direct.iter().zip(end).map(|(d, u)| d * u).sum();
        for (m, x) in lags.iter_mut().enumerate() {
            let [w1, w2] = self.weights[m];
            let (mut at_start, mut at_end, mut mean) = (0.0, 0.0, 0.0);
            for j in 0..end.len() {
                let b = model.input[(m, j)];
                if j < temperatures && self.hold == Hold::Linear {
                    at_start += b * start[j];
                    at_end += b * end[j];
                } else {
                    mean += b * end[j];
                }
            }
            *x = *x * self.decay[m] + (w1 - w2) * at_start + w2 * at_end + w1 * mean;
            free += *x;
        }
        let (hvac_w, air_c, mode) = ideal_control(free, self.unit, flow, control);
        let air_flow_w = flow.conductance_w_per_k * (flow.supply_c - air_c);
        let j = model.inputs.air_heat();
        for (m, x) in lags.iter_mut().enumerate() {
            *x += self.weights[m][0] * model.input[(m, j)] * (hvac_w + air_flow_w);
        }
        Ok(AirStep { air_c, hvac_w, air_flow_w, mode })
    }
}
