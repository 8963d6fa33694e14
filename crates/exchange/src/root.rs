//! A bracketed root finder for this crate.

use crate::ExchangeError;

/// A root with its evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Root {
    pub x: f64,
    pub residual: f64,
    pub iterations: u32,
}

/// Finds the root of a continuous function between two points of opposite sign by bisection in which each step
/// is first tried by the secant (Illinois rule). Ends when the bracket is within a few units in the last place
/// or the residual is at most `tolerance`.
pub(crate) fn bracketed(
    what: &'static str,
    mut a: f64,
    mut b: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> Result<f64, ExchangeError>,
) -> Result<Root, ExchangeError> {
    let mut fa = f(a)?;
    let mut fb = f(b)?;
    if fa == 0.0 {
        return Ok(Root { x: a, residual: 0.0, iterations: 0 });
    }
    if fb == 0.0 {
        return Ok(Root { x: b, residual: 0.0, iterations: 0 });
    }
    if fa.signum() == fb.signum() || !fa.is_finite() || !fb.is_finite() {
        return Err(ExchangeError::NotConverged { what, residual: fa.abs().min(fb.abs()), iterations: 0 });
    }
    let (mut wa, mut wb) = (fa, fb);
    for i in 1..=200 {
        let width = b - a;
        let mut x = b - wb * width / (wb - wa);
        if i % 4 == 0 || !(x > a.min(b) && x < a.max(b)) {
            x = f64::midpoint(a, b);
        }
        let fx = f(x)?;
        if fx.abs() <= tolerance || width.abs() <= 4.0 * f64::EPSILON * x.abs() {
            return Ok(Root { x, residual: fx, iterations: i });
        }
        if fx.signum() == fb.signum() {
            (b, fb, wb) = (x, fx, fx);
            wa *= 0.5;
        } else {
            (a, fa, wa) = (x, fx, fx);
            wb *= 0.5;
        }
    }
    Err(ExchangeError::NotConverged { what, residual: fa.abs().min(fb.abs()), iterations: 200 })
}
