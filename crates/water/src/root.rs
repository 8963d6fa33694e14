//! A bracketed root finder for this crate.

use crate::WaterError;

/// A root with its evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Root {
    pub x: f64,
    pub residual: f64,
    pub iterations: u32,
}

/// Finds the root of a continuous function between two points of opposite sign by Chandrupatla's method (1997):
/// inverse quadratic interpolation where it is safe, else bisection. Ends when the bracket is within rounding or the
/// residual is at most `tolerance`.
pub(crate) fn bracketed(
    what: &'static str,
    a: f64,
    b: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> Result<f64, WaterError>,
) -> Result<Root, WaterError> {
    let (mut x1, mut x2) = (a, b);
    let (mut f1, mut f2) = (f(a)?, f(b)?);
    for (x, residual) in [(x1, f1), (x2, f2)] {
        if residual.abs() <= tolerance {
            return Ok(Root { x, residual, iterations: 0 });
        }
    }
    if !f1.is_finite() || !f2.is_finite() || f1.signum() == f2.signum() {
        return Err(WaterError::NotConverged { what, residual: f1.abs().min(f2.abs()), iterations: 0 });
    }
    let mut t = 0.5;
    for iterations in 1..=200 {
        let x = x1 + t * (x2 - x1);
        let fx = f(x)?;
        let (x3, f3);
        if fx.signum() == f1.signum() {
            (x3, f3) = (x1, f1);
        } else {
            (x3, f3) = (x2, f2);
            (x2, f2) = (x1, f1);
        }
        (x1, f1) = (x, fx);
        let (best, residual) = if f2.abs() < f1.abs() { (x2, f2) } else { (x1, f1) };
        let least = 2.0 * f64::EPSILON * best.abs() / (x2 - x1).abs();
        if residual.abs() <= tolerance || least > 0.5 {
            return Ok(Root { x: best, residual, iterations });
        }
        let (xi, phi) = ((x1 - x2) / (x3 - x2), (f1 - f2) / (f3 - f2));
        t = if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
            f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2)
        } else {
            0.5
        };
        t = t.max(least).min(1.0 - least);
    }
    Err(WaterError::NotConverged { what, residual: f1.abs().min(f2.abs()), iterations: 200 })
}
