//! Root search, fits and interpolation shared by the machine models.

use crate::error::PlantError;
use drycoil_solve::{Root, bracketed};

/// Finds `f(x) = 0` between `low` and `high`, where `f` changes sign. A jump of `f` is no root.
pub(crate) fn root(
    what: &'static str,
    low: f64,
    high: f64,
    tolerance: f64,
    f: impl FnMut(f64) -> Result<f64, PlantError>,
) -> Result<Root, PlantError> {
    let root = bracketed(what, low, high, tolerance, f)?;
    if root.residual.abs() <= tolerance.max(JUMP) {
        Ok(root)
    } else {
        Err(PlantError::NotConverged { what, residual: root.residual, count: root.iterations })
    }
}

/// Rounding leaves less of any balance of these models, in its own unit.
const JUMP: f64 = 1e-6;

/// Finds the root of a rising function, given with its slope, by Newton's steps from `start`; a step out of the bracket
/// that the signs so far leave is halved into it. Settled when `|f| <= tolerance` or when the step is down to rounding.
pub(crate) fn newton(
    what: &'static str,
    between: (f64, f64),
    start: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> (f64, f64),
) -> Result<Root, PlantError> {
    let (mut low, mut high) = between;
    let mut x = start.max(low).min(high);
    let mut residual = f64::NAN;
    for count in 1..=100u32 {
        let (value, slope) = f(x);
        residual = value;
        if value.abs() <= tolerance {
            return Ok(Root { x, residual, iterations: count });
        }
        if value > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let mut next = x - value / slope;
        if !(next >= low && next <= high) {
            next = 0.5 * (low + high);
        }
        if (next - x).abs() <= f64::EPSILON * x.abs() || high - low <= 4.0 * f64::EPSILON * high.abs() {
            return if value.abs() <= tolerance.max(1e-6) {
                Ok(Root { x, residual, iterations: count })
            } else {
                Err(PlantError::NotConverged { what, residual, count })
            };
        }
        x = next;
    }
    Err(PlantError::NotConverged { what, residual, count: 100 })
}

/// Least squares through the normal equations, for the two or three coefficients of a curve.
pub(crate) fn least_squares<const N: usize>(rows: &[([f64; N], f64)]) -> Option<[f64; N]> {
    let mut m = [[0.0; N]; N];
    let mut v = [0.0; N];
    for (row, y) in rows {
        for i in 0..N {
            for j in 0..N {
                m[i][j] += row[i] * row[j];
            }
            v[i] += row[i] * y;
        }
    }
    for col in 0..N {
        let pivot = (col..N).max_by(|&a, &b| m[a][col].abs().total_cmp(&m[b][col].abs()))?;
        if m[pivot][col].abs() < 1e-12 {
            return None;
        }
        m.swap(col, pivot);
        v.swap(col, pivot);
        for row in 0..N {
            if row != col {
                let k = m[row][col] / m[col][col];
                let source = m[col];
                for (target, s) in m[row].iter_mut().zip(source) {
                    *target -= k * s;
                }
                v[row] -= k * v[col];
            }
        }
    }
    let mut x = [0.0; N];
    for i in 0..N {
        x[i] = v[i] / m[i][i];
    }
    Some(x)
}

/// Linear interpolation in rising points; `None` outside them.
pub(crate) fn interpolate(points: &[(f64, f64)], x: f64) -> Option<f64> {
    let (first, last) = (points.first()?, points.last()?);
    if !(x >= first.0 && x <= last.0) {
        return None;
    }
    let i = points.partition_point(|p| p.0 <= x).clamp(1, points.len() - 1);
    let (a, b) = (points[i - 1], points[i]);
    Some(a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inv_root_of_a_cubic() {
        let r = root("cubic", 0.0, 3.0, 1e-12, |x| Ok(x * x * x - 2.0)).unwrap();
        assert!((r.x - 2f64.cbrt()).abs() < 1e-11);
        assert!(root("no sign change", 1.0, 3.0, 1e-12, |x| Ok(x * x)).is_err());
        assert!(root("jump", 0.0, 1.0, 1e-12, |x| Ok(if x < 0.3 { -1.0 } else { 1.0 })).is_err());
    }

    #[test]
    fn inv_newton_finds_the_root_of_a_cubic() {
        // Also from a start where the slope vanishes, and refuses a function without a root.
        for start in [0.0, 1.0, 3.0] {
            let r = newton("cubic", (0.0, 3.0), start, 1e-12, |x| (x * x * x - 2.0, 3.0 * x * x)).unwrap();
            assert!((r.x - 2f64.cbrt()).abs() < 1e-12 && r.residual.abs() <= 1e-12);
        }
        assert!(newton("no root", (1.0, 3.0), 2.0, 1e-12, |x| (x * x, 2.0 * x)).is_err());
    }

    #[test]
    fn inv_interpolation_holds_its_points_and_refuses_the_rest() {
        let p = [(0.0, 1.0), (1.0, 3.0), (4.0, 0.0)];
        for (x, y) in p {
            assert_eq!(interpolate(&p, x), Some(y));
        }
        assert_eq!(interpolate(&p, 2.5), Some(1.5));
        assert_eq!(interpolate(&p, 4.1), None);
        assert_eq!(interpolate(&p, f64::NAN), None);
    }
}
