//! A bound on the peak of an error, from its response to one pulse per channel.
//!
//! With pulse responses `e_k` that sum to zero (steady gains are exact) and running sums `E_k`, inputs within `R` of
//! any constant that change by at most `v` per step give, for every `K`, an error of at most
//! `v sum_{k<K} |E_k| + R (|E_K| + sum_{k>K} |e_k|)`: summation by parts for the recent past, where fast changes would
//! be needed, and range for the distant past. The smallest over `K` is taken. The first terms are summed one by one;
//! the endless rest in windows of growing length by the Cauchy-Schwarz inequality with energies in closed form, and
//! at last by the sum of magnitudes of what is left.

use super::channels::{Channels, Discrete};

/// Terms summed one by one.
const SUMMED: usize = 160;
/// Modes below `exp(-42)` of their start are below rounding.
const GONE: f64 = 42.0;

/// Modes of the full room: loss per step, and amplitudes one step after the pulse, channels in rows of `stride`.
pub(crate) struct Pulse {
    loss: Vec<f64>,
    /// Modes by channels, padded.
    amplitude: Vec<f64>,
    nc: usize,
    /// Response at steps 1 to `SUMMED` by channels.
    response: Vec<f64>,
}

impl Pulse {
    pub fn new(full: &Discrete, output: &[f64]) -> Self {
        let (n, nc) = (full.loss.len(), full.driven.ncols());
        let mut amplitude = vec![0.0; n * nc];
        for i in 0..n {
            for c in 0..nc {
                amplitude[i * nc + c] = output[i] * full.driven[(i, c)];
            }
        }
        let mut response = vec![0.0; SUMMED * nc];
        let mut power = vec![1.0; n];
        let mut alive = n;
        for row in response.chunks_exact_mut(nc) {
            for i in 0..alive {
                let a = &amplitude[i * nc..(i + 1) * nc];
                for (x, y) in row.iter_mut().zip(a) {
                    *x += power[i] * y;
                }
                power[i] *= full.decay[i];
            }
            // Modes are in order of rising rates.
            while alive > 0 && power[alive - 1] < 1e-18 {
                alive -= 1;
            }
        }
        Self { loss: full.loss.clone(), amplitude, nc, response }
    }
}

/// A reduced response: `direct` error at the pulse (reduced minus full), then lags.
pub(crate) struct Small<'a> {
    /// Loss per step of each lag.
    pub loss: &'a [f64],
    /// Amplitudes one step after the pulse, lags by channels.
    pub amplitude: &'a [f64],
    /// Full minus reduced at the pulse.
    pub first: &'a [f64],
}

/// Sums of the first terms, per channel.
#[derive(Clone, Copy, Default)]
pub(crate) struct Head {
    /// Magnitudes of all terms.
    terms: f64,
    /// Magnitudes of all running sums.
    sums: f64,
    /// Smallest `v sum E + R (|E_K| - sum_{k<=K} |e|)`.
    least: f64,
}

impl Head {
    /// What the bound cannot be below.
    pub fn at_least(&self, r: f64, v: f64) -> f64 {
        (v * self.sums).min(self.least + r * self.terms)
    }
}

/// The part that is summed one by one, for every channel.
pub(crate) fn heads(pulse: &Pulse, small: &Small<'_>, channels: &Channels) -> Vec<Head> {
    let nc = pulse.nc;
    let mut out: Vec<Head> = (0..nc)
        .map(|c| Head { terms: small.first[c].abs(), sums: small.first[c].abs(), least: 0.0 })
        .collect();
    let mut running = small.first.to_vec();
    let mut now = small.amplitude.to_vec();
    let mut error = vec![0.0; nc];
    for row in pulse.response.chunks_exact(nc) {
        error.copy_from_slice(row);
        for (a, loss) in now.chunks_exact_mut(nc).zip(small.loss) {
            for (e, x) in error.iter_mut().zip(a.iter_mut()) {
                *e -= *x;
                *x -= loss * *x;
            }
        }
        for c in 0..nc {
            let range = channels.list()[c].range;
            let h = &mut out[c];
            running[c] += error[c];
            h.terms += error[c].abs();
            let here = range.change_per_step * h.sums + range.half_range * (running[c].abs() - h.terms);
            h.sums += running[c].abs();
            if here < h.least {
                h.least = here;
            }
        }
    }
    out
}

/// Bound of the endless rest of a sum of magnitudes of `sum_i a_i (1 - loss_i)^k`.
fn rest(loss: &[f64], amplitude: &[f64]) -> f64 {
    let mut a = amplitude.to_vec();
    let mut length = SUMMED / 2;
    let mut sum = 0.0;
    let mut first = None;
    for _ in 0..40 {
        let left: f64 = a.iter().zip(loss).map(|(x, l)| x.abs() / l).sum();
        let start = *first.get_or_insert(left);
        if left <= 1e-6 * start || left == 0.0 {
            return sum + left;
        }
        let kept: Vec<f64> = loss.iter().map(|l| (length as f64 * (-l).ln_1p()).exp()).collect();
        let mut energy = 0.0;
        for i in 0..a.len() {
            if a[i] == 0.0 {
                continue;
            }
            let mut row = 0.0;
            for j in 0..i {
                row += a[j] * (1.0 - kept[i] * kept[j]) / (loss[i] + loss[j] - loss[i] * loss[j]);
            }
            energy +=
                a[i] * (2.0 * row + a[i] * (1.0 - kept[i] * kept[i]) / (2.0 * loss[i] - loss[i] * loss[i]));
        }
        sum += (energy.max(0.0) * length as f64).sqrt();
        for (x, k) in a.iter_mut().zip(&kept) {
            *x *= k;
            if x.abs() < 1e-300 {
                *x = 0.0;
            }
        }
        length += length / 2;
    }
    sum + a.iter().zip(loss).map(|(x, l)| x.abs() / l).sum::<f64>()
}

/// The bound of one channel.
pub(crate) fn channel_bound(
    pulse: &Pulse,
    small: &Small<'_>,
    head: Head,
    c: usize,
    channels: &Channels,
) -> f64 {
    let range = channels.list()[c].range;
    let steps = SUMMED as f64;
    let (mut loss, mut a) = (Vec::new(), Vec::new());
    for (i, l) in pulse.loss.iter().enumerate() {
        let log = steps * (-l).ln_1p();
        if log > -GONE {
            loss.push(*l);
            a.push(pulse.amplitude[i * pulse.nc + c] * log.exp());
        }
    }
    for (m, l) in small.loss.iter().enumerate() {
        let log = steps * (-l).ln_1p();
        if log > -GONE {
            loss.push(*l);
            a.push(-small.amplitude[m * pulse.nc + c] * log.exp());
        }
    }
    let terms = rest(&loss, &a);
    let by_range = head.least + range.half_range * (head.terms + terms);
    // Pure running sums need the change to be limited; else they cannot be smaller.
    if range.change_per_step >= 2.0 * range.half_range {
        return by_range;
    }
    let b: Vec<f64> = a.iter().zip(&loss).map(|(x, l)| x / l).collect();
    by_range.min(range.change_per_step * (head.sums + rest(&loss, &b)))
}
