//! Decay factors of the lags by balanced truncation of the discrete room.
//!
//! Both Gramians are known in closed form, element by element, and nearly of low rank: a pivoted Cholesky
//! factorisation stops after the few columns that matter and never builds them whole.

use super::channels::{Channels, Discrete};
use nalgebra::{DMatrix, SymmetricEigen};

/// Columns of a Gramian's factor: strengths below about 1e-7 of the strongest are lost, which no peak shows.
const COLUMNS: usize = 18;

/// Low-rank factor of a positive semidefinite matrix given by its elements.
fn factor(n: usize, element: impl Fn(usize, usize) -> f64) -> DMatrix<f64> {
    let mut left: Vec<f64> = (0..n).map(|i| element(i, i)).collect();
    let top = left.iter().fold(0.0_f64, |a, b| a.max(*b));
    let mut columns: Vec<Vec<f64>> = Vec::with_capacity(COLUMNS);
    while columns.len() < COLUMNS.min(n) {
        let (p, d) =
            left.iter().enumerate().fold((0, 0.0), |best, (i, d)| if *d > best.1 { (i, *d) } else { best });
        if d <= 1e-15 * top {
            break;
        }
        let root = d.sqrt();
        let column: Vec<f64> = (0..n)
            .map(|i| {
                let known: f64 = columns.iter().map(|c| c[i] * c[p]).sum();
                (element(i, p) - known) / root
            })
            .collect();
        for (l, x) in left.iter_mut().zip(&column) {
            *l -= x * x;
        }
        left[p] = 0.0;
        columns.push(column);
    }
    DMatrix::from_fn(n, columns.len(), |i, k| columns[k][i])
}

/// Rates of the lags to `1 - decay`.
pub(crate) fn losses(mut rates: Vec<f64>) -> Vec<f64> {
    rates.sort_by(f64::total_cmp);
    for i in 1..rates.len() {
        // Equal rates would leave the fit without a solution.
        if rates[i] < 1.02 * rates[i - 1] {
            rates[i] = 1.02 * rates[i - 1];
        }
    }
    rates.iter().map(|r| -(-r).exp_m1()).collect()
}

/// The balanced room: Hankel singular values (strongest first) and identity minus its state matrix.
pub(crate) struct Balanced {
    pub hankel: Vec<f64>,
    loss: DMatrix<f64>,
}

impl Balanced {
    /// Inputs are weighted by their ranges; in a mode that is slow beside the allowed change per step, an input
    /// counts as much as a ramp can move it.
    pub fn new(full: &Discrete, output: &[f64], channels: &Channels) -> Self {
        let n = full.loss.len();
        let nc = channels.len();
        let weighted: Vec<Vec<f64>> = (0..n)
            .map(|i| {
                (0..nc)
                    .map(|c| {
                        let r = channels.list()[c].range;
                        full.driven[(i, c)] * r.half_range.min(r.change_per_step / full.loss[i])
                    })
                    .collect()
            })
            .collect();
        let together = |i: usize, j: usize| full.loss[i] + full.loss[j] - full.loss[i] * full.loss[j];
        let p = factor(n, |i, j| {
            weighted[i].iter().zip(&weighted[j]).map(|(a, b)| a * b).sum::<f64>() / together(i, j)
        });
        let q = factor(n, |i, j| output[i] * output[j] / together(i, j));
        let m = q.tr_mul(&p);
        if m.is_empty() {
            return Self { hankel: Vec::new(), loss: DMatrix::zeros(0, 0) };
        }
        let gram = SymmetricEigen::new(m.tr_mul(&m));
        let mut order: Vec<usize> = (0..p.ncols()).collect();
        order.sort_by(|a, b| gram.eigenvalues[*b].total_cmp(&gram.eigenvalues[*a]));
        let floor = 1e-14 * gram.eigenvalues[order[0]];
        let kept: Vec<usize> =
            order.into_iter().filter(|i| gram.eigenvalues[*i] > floor).take(m.nrows()).collect();
        let k = kept.len();
        let hankel: Vec<f64> = kept.iter().map(|i| gram.eigenvalues[*i].sqrt()).collect();
        let vectors = DMatrix::from_fn(p.ncols(), k, |i, j| gram.eigenvectors[(i, kept[j])]);
        let mut right = &p * &vectors;
        let mut left = &q * (&m * &vectors);
        for (j, s) in hankel.iter().enumerate() {
            right.column_mut(j).scale_mut(1.0 / s.sqrt());
            left.column_mut(j).scale_mut(s.powf(-1.5));
        }
        for i in 0..n {
            right.row_mut(i).scale_mut(full.loss[i]);
        }
        Self { hankel, loss: left.tr_mul(&right) }
    }

    /// Rate per step of each lag for this order, slowest first.
    ///
    /// A pair of complex decay factors, which many inputs and one output may give, becomes two real ones about its
    /// magnitude, and a factor that is not positive becomes a lag of an eighth of a step: the bound computed afterwards
    /// judges whatever comes out.
    pub fn rates(&self, order: usize) -> Vec<f64> {
        let block = self.loss.view((0, 0), (order, order)).into_owned();
        let mut rates: Vec<f64> = block
            .complex_eigenvalues()
            .iter()
            .map(|z| {
                if z.im.abs() > 1e-9 * z.norm() {
                    let size = ((1.0 - z.re).powi(2) + z.im * z.im).sqrt().max(3e-4);
                    -size.ln() * if z.im > 0.0 { 1.25 } else { 0.8 }
                } else if z.re < 1.0 - 3e-4 {
                    -(-z.re).ln_1p()
                } else {
                    8.0
                }
            })
            .map(|rate| rate.clamp(1e-9, 8.0))
            .collect();
        rates.sort_by(f64::total_cmp);
        rates
    }
}
