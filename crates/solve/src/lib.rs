//! Root of a function between two points.
//!
//! The models of the other crates state a balance and two points between which it changes sign; this one search serves
//! them all. It knows no physics: the caller names what is solved for and brings the error of its own crate.
//!
//! ```
//! use drycoil_solve::{Unsolved, bracketed};
//! // Saturated leaving temperature that a made-up coil balance asks for, degC.
//! let root = bracketed::<Unsolved>("leaving temperature", 0.0, 30.0, 1e-9, |t| Ok(4.0 * t + 0.1 * t * t - 60.0))?;
//! assert!((root.x - 11.622_776_6).abs() < 1e-6 && root.residual.abs() <= 1e-9);
//! # Ok::<(), Unsolved>(())
//! ```

use std::fmt;

/// A root with its evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// The unknown at the root.
    pub x: f64,
    /// What is left of the balance there.
    pub residual: f64,
    /// Steps taken; zero when an end of the bracket was the root.
    pub iterations: u32,
}

/// Why there is no root: no change of sign between the two points, a value that is not a number, or too many steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unsolved {
    /// What was solved for.
    pub what: &'static str,
    /// The smallest residual that was left.
    pub residual: f64,
    /// Steps taken; zero when the two points do not enclose a root.
    pub iterations: u32,
}

impl fmt::Display for Unsolved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { what, residual, iterations } = self;
        write!(f, "{what} did not converge: residual {residual:e} after {iterations} steps")
    }
}

impl std::error::Error for Unsolved {}

/// Steps after which a search is given up. Bisection alone ends after 64 or so in any bracket of ordinary numbers.
const MOST_STEPS: u32 = 200;

/// Finds the root of a continuous function between two points of opposite sign: inverse quadratic interpolation where it
/// is safe, else bisection. Ends when the residual is at most `tolerance` (in the unit of the balance), or when the
/// bracket is within rounding; a caller whose function may jump looks at the residual.
///
/// Source: T. R. Chandrupatla, Advances in Engineering Software 28 (1997) 145-149.
///
/// # Errors
/// What `f` returns, or [`Unsolved`] in the caller's error.
pub fn bracketed<E: From<Unsolved>>(
    what: &'static str,
    a: f64,
    b: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> Result<f64, E>,
) -> Result<Root, E> {
    let (mut x1, mut x2) = (a, b);
    let (mut f1, mut f2) = (f(a)?, f(b)?);
    for (x, residual) in [(x1, f1), (x2, f2)] {
        if residual.abs() <= tolerance {
            return Ok(Root { x, residual, iterations: 0 });
        }
    }
    if f1.is_nan() || f2.is_nan() || f1.signum() == f2.signum() {
        return Err(Unsolved { what, residual: f1.abs().min(f2.abs()), iterations: 0 }.into());
    }
    let mut t = 0.5;
    for iterations in 1..=MOST_STEPS {
        let x = x1 + t * (x2 - x1);
        let fx = f(x)?;
        if fx.is_nan() {
            return Err(Unsolved { what, residual: fx, iterations }.into());
        }
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
    Err(Unsolved { what, residual: f1.abs().min(f2.abs()), iterations: MOST_STEPS }.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn root(a: f64, b: f64, f: impl Fn(f64) -> f64) -> Result<Root, Unsolved> {
        bracketed("a test", a, b, 0.0, |x| Ok(f(x)))
    }

    proptest! {
        #[test]
        fn inv_a_cubic_gives_back_its_root(at in -50.0..50.0_f64, low in 0.1..100.0_f64, high in 0.1..100.0_f64) {
            // Strictly rising, so the root is the only one; 1e-9 is far above what rounding of the cubic leaves.
            let found = root(at - low, at + high, |x| (x - at).powi(3) + 2.0 * (x - at)).unwrap();
            prop_assert!((found.x - at).abs() < 1e-9, "{found:?}");
            prop_assert!(found.iterations < 100);
        }

        #[test]
        fn inv_the_order_of_the_points_does_not_matter(at in 0.1..10.0_f64) {
            let (up, down) = (root(0.0, 20.0, |x| x.exp() - at.exp()), root(20.0, 0.0, |x| x.exp() - at.exp()));
            prop_assert!((up.unwrap().x - down.unwrap().x).abs() < 1e-9);
        }
    }

    #[test]
    fn a_jump_is_found_with_what_is_left() {
        let found = root(0.0, 1.0, |x| if x < 0.3 { -1.0 } else { 2.0 }).unwrap();
        assert!((found.x - 0.3).abs() < 1e-12 && found.residual.abs() >= 1.0, "{found:?}");
    }

    #[test]
    fn without_a_change_of_sign_or_a_number_there_is_no_root() {
        let none = root(1.0, 3.0, |x| x * x).unwrap_err();
        assert_eq!((none.iterations, none.residual), (0, 1.0));
        assert_eq!(none.to_string(), "a test did not converge: residual 1e0 after 0 steps");
        assert!(root(-1.0, 1.0, |x| if x.abs() < 1.0 { f64::NAN } else { x }).is_err());
        assert!(root(f64::NAN, 1.0, |x| x).is_err());
        let own: Result<Root, Unsolved> = bracketed("another", 0.0, 1.0, 0.0, |_| {
            Err(Unsolved { what: "the inner balance", residual: 7.0, iterations: 3 })
        });
        assert_eq!(own.unwrap_err().what, "the inner balance");
    }

    #[test]
    fn an_end_that_is_the_root_takes_no_steps() {
        assert_eq!(root(0.0, 5.0, |x| x).unwrap(), Root { x: 0.0, residual: 0.0, iterations: 0 });
    }
}
