//! What an iteration found, with the proof that it found it.

/// A root with its residual and the number of evaluations it took.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// The value found; `NaN` when there is none.
    pub value: f64,
    /// What is left of the equation at `value`, in the unit that the function states.
    pub residual: f64,
    /// Evaluations of the equation.
    pub iterations: u32,
}

impl Root {
    /// No root.
    pub const NONE: Self = Self { value: f64::NAN, residual: f64::NAN, iterations: 0 };
}

/// Finds the root of an increasing function between two ends by Newton steps that fall back to bisection when
/// they leave the bracket. `f` returns the value and the slope.
pub(crate) fn increasing_root(low: f64, high: f64, tolerance: f64, f: impl Fn(f64) -> (f64, f64)) -> Root {
    let (mut low, mut high) = (low, high);
    let (mut x, mut evaluations) = (0.5 * (low + high), 0);
    let mut best = Root::NONE;
    while evaluations < 200 {
        let (value, slope) = f(x);
        evaluations += 1;
        if value.is_nan() {
            return Root { iterations: evaluations, ..Root::NONE };
        }
        if best.residual.is_nan() || value.abs() < best.residual.abs() {
            best = Root { value: x, residual: value, iterations: evaluations };
        }
        if value > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let newton = x - value / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if value == 0.0 || (next - x).abs() <= tolerance {
            let (last, _) = f(next);
            if last.abs() <= best.residual.abs() {
                best = Root { value: next, residual: last, iterations: evaluations + 1 };
            }
            break;
        }
        x = next;
    }
    Root { iterations: evaluations, ..best }
}

/// Root of a continuous function between two ends by bisection with secant steps inside the bracket (Illinois form of
/// the rule of false position). The residual at the best end says whether the ends enclosed a root.
pub fn root_between(low: f64, high: f64, f: impl Fn(f64) -> f64) -> Root {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    let mut iterations = 2;
    let mut last_side = 0;
    while iterations < 200 && fa != 0.0 && fb != 0.0 && (b - a).abs() > 1e-14 * a.abs().max(1.0) {
        if (fa > 0.0) == (fb > 0.0) {
            break;
        }
        let secant = b - fb * (b - a) / (fb - fa);
        let inside = secant > a.min(b) && secant < a.max(b);
        let x = if inside { secant } else { 0.5 * (a + b) };
        if x == a || x == b {
            break;
        }
        let fx = f(x);
        iterations += 1;
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
            if last_side == 1 {
                fa *= 0.5;
            }
            last_side = 1;
        } else {
            (a, fa) = (x, fx);
            if last_side == -1 {
                fb *= 0.5;
            }
            last_side = -1;
        }
    }
    // The weighted values are no residuals: evaluate both ends again.
    let (ra, rb) = (f(a), f(b));
    let (value, residual) = if ra.abs() < rb.abs() { (a, ra) } else { (b, rb) };
    Root { value, residual, iterations: iterations + 2 }
}
