//! The functions of exponential integrators, stable near zero.
//!
//! `phi1(z) = (e^z - 1) / z`, `phi2(z) = (phi1 - 1) / z`, `phi3(z) = (phi2 - 1/2) / z`. For a mode
//! `dz/dt = -r z + b u(t)` over a step h with `z = -r h`: a constant input adds `h phi1 b u`, a ramp from 0 to u
//! adds `h phi2 b u`, and the time integral of the state is `h phi1 z0 + h^2 phi2 b u` and so on.

/// `phi1`, `phi2` and `phi3` of `z <= 0`.
///
/// Taylor series for `|z| < 1` (20 terms, below 1e-17), closed form elsewhere (cancellation at most one digit).
#[inline]
pub fn phi(z: f64) -> [f64; 3] {
    if z.abs() < 1.0 {
        // phi3 by its series sum z^k / (k+3)!, the others by upward recurrence, which loses nothing here.
        let mut term = 1.0 / 6.0;
        let mut phi3 = term;
        for k in 1..20 {
            term *= z / f64::from(k + 3);
            phi3 += term;
        }
        let phi2 = 0.5 + z * phi3;
        let phi1 = 1.0 + z * phi2;
        [phi1, phi2, phi3]
    } else {
        let phi1 = z.exp_m1() / z;
        let phi2 = (phi1 - 1.0) / z;
        let phi3 = (phi2 - 0.5) / z;
        [phi1, phi2, phi3]
    }
}

#[cfg(test)]
mod tests {
    use super::phi;

    #[test]
    fn xchk_series_and_closed_form_meet() {
        // Both sides of the switch agree to rounding (1e-14: one digit of cancellation in the closed form).
        for (a, b) in phi(-0.999_999_999_999).iter().zip(phi(-1.000_000_000_001)) {
            assert!((a - b).abs() < 1e-11);
        }
        let z: f64 = -0.7;
        let p1 = (z.exp() - 1.0) / z;
        let p2 = (p1 - 1.0) / z;
        let p3 = (p2 - 0.5) / z;
        for (a, b) in phi(z).iter().zip([p1, p2, p3]) {
            assert!((a - b).abs() < 1e-14);
        }
    }

    #[test]
    fn phys_limits_at_zero_and_infinity() {
        assert_eq!(phi(0.0), [1.0, 0.5, 1.0 / 6.0]);
        let far = phi(-1e9);
        assert!((far[0] * 1e9 - 1.0).abs() < 1e-9 && (far[1] * 1e9 - 1.0).abs() < 1e-8);
    }
}
