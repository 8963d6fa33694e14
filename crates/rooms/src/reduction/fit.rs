//! Least squares onto given lags, every steady value exact.

use super::channels::Discrete;
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// Response of an output to a pulse in each channel: the value with the pulse, then decaying modes; and its steady gain.
pub(crate) struct Target {
    /// Factor per mode.
    pub modes: Vec<f64>,
    /// Value in the step of the pulse.
    pub first: Vec<f64>,
    /// Steady gain.
    pub steady: Vec<f64>,
}

/// Lags of one order with what every fit onto them needs.
pub(crate) struct Lags {
    pub loss: Vec<f64>,
    /// `1 / (1 - r_i r_j)`.
    gram: DMatrix<f64>,
    /// `1 / (1 - r_i rho_j)`, lags by modes.
    cross: DMatrix<f64>,
}

impl Lags {
    pub fn new(full: &Discrete, loss: Vec<f64>) -> Self {
        let pair = |a: f64, b: f64| 1.0 / (a + b - a * b);
        let r = loss.len();
        Self {
            gram: DMatrix::from_fn(r, r, |i, j| pair(loss[i], loss[j])),
            cross: DMatrix::from_fn(r, full.loss.len(), |i, j| pair(loss[i], full.loss[j])),
            loss,
        }
    }

    /// Amplitudes (lags by channels, rows one after the other) of the air temperature and its direct part.
    ///
    /// Minimised is the sum of the squares of the error's pulse response plus `smooth` times that of its running sum.
    /// None when the lags are too close to each other.
    pub fn air(&self, full: &Discrete, air: &Target, smooth: f64) -> Option<(Vec<f64>, Vec<f64>)> {
        let (r, n, nc) = (self.loss.len(), full.loss.len(), air.first.len());
        let unit: Vec<f64> = (0..r).map(|i| 1.0 / self.gram[(i, i)].sqrt()).collect();
        let h = DMatrix::from_fn(r, r, |i, j| {
            let aa = 1.0 / (self.loss[i] * self.loss[j]);
            (self.gram[(i, j)] * (1.0 + smooth * aa) + aa) * unit[i] * unit[j]
        });
        let factor = h.cholesky()?;
        let mut amplitude = vec![0.0; r * nc];
        let mut direct = vec![0.0; nc];
        for c in 0..nc {
            let late = air.steady[c] - air.first[c];
            let rhs = DVector::from_fn(r, |m, _| {
                let (mut plain, mut summed) = (0.0, 0.0);
                for i in 0..n {
                    let x = self.cross[(m, i)] * air.modes[i] * full.driven[(i, c)];
                    plain += x;
                    summed += x / full.loss[i];
                }
                (plain + (late + smooth * summed) / self.loss[m]) * unit[m]
            });
            let x = factor.solve(&rhs);
            let mut kept = 0.0;
            for m in 0..r {
                let a = x[m] * unit[m];
                amplitude[m * nc + c] = a;
                kept += a / self.loss[m];
            }
            direct[c] = air.steady[c] - kept;
        }
        Some((amplitude, direct))
    }

    /// Solver for outputs on lags whose inputs are fixed (`driven`, lags by channels, rows), read after the step.
    pub fn outputs(&self, driven: &[f64], weight: &[f64]) -> OutputFit {
        let (r, nc) = (self.loss.len(), weight.len());
        let scaled = DMatrix::from_fn(r, nc, |m, c| driven[m * nc + c] * weight[c]);
        let early = DMatrix::from_fn(r, nc, |m, c| scaled[(m, c)] * (1.0 - self.loss[m]) / self.loss[m]);
        let later =
            DMatrix::from_fn(r, r, |i, j| (1.0 - self.loss[i]) * (1.0 - self.loss[j]) * self.gram[(i, j)]);
        let h = (&scaled * scaled.transpose()).component_mul(&later) + &early * early.transpose();
        OutputFit { eigen: SymmetricEigen::new(h), scaled, early, driven: driven.to_vec() }
    }

    /// Factors per lag and per channel of an output.
    pub fn output(
        &self,
        full: &Discrete,
        fit: &OutputFit,
        weight: &[f64],
        target: &Target,
    ) -> (Vec<f64>, Vec<f64>) {
        let (r, n, nc) = (self.loss.len(), full.loss.len(), weight.len());
        let rhs = DVector::from_fn(r, |m, _| {
            let mut sum = 0.0;
            for (c, w) in weight.iter().enumerate() {
                sum += fit.early[(m, c)] * (target.steady[c] - target.first[c]) * w;
                let mut late = 0.0;
                for i in 0..n {
                    late += target.modes[i] * full.driven[(i, c)] * self.cross[(m, i)];
                }
                sum += fit.scaled[(m, c)] * (1.0 - self.loss[m]) * late * w;
            }
            sum
        });
        let mut x = DVector::zeros(r);
        let top = fit.eigen.eigenvalues.max();
        for (v, e) in fit.eigen.eigenvectors.column_iter().zip(fit.eigen.eigenvalues.iter()) {
            if *e > 1e-13 * top {
                x.axpy(v.dot(&rhs) / e, &v, 1.0);
            }
        }
        let direct = (0..nc)
            .map(|c| {
                target.steady[c] - (0..r).map(|m| x[m] * fit.driven[m * nc + c] / self.loss[m]).sum::<f64>()
            })
            .collect();
        (x.iter().copied().collect(), direct)
    }
}

/// Normal equations of outputs on fixed lags.
pub(crate) struct OutputFit {
    eigen: SymmetricEigen<f64, nalgebra::Dyn>,
    scaled: DMatrix<f64>,
    early: DMatrix<f64>,
    driven: Vec<f64>,
}
