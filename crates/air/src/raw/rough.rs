//! Polynomial logarithms for the starts of iterations. Never part of a result: the last step of every iteration uses
//! the exact functions, and its residual is tested.

/// Natural logarithm of a positive normal number, within 1e-5.
#[inline]
pub(super) fn ln(x: f64) -> f64 {
    let bits = x.to_bits();
    let exponent = (bits >> 52) as i32 - 1023;
    let m = f64::from_bits((bits & 0x000f_ffff_ffff_ffff) | 0x3ff0_0000_0000_0000);
    let m2 = m * m;
    f64::from(exponent) * std::f64::consts::LN_2
        + ((-1.936764538 + 3.51410222 * m)
            + m2 * ((-2.440047835 + 1.11610064 * m) + m2 * (-0.2838298571 + 0.03044933168 * m)))
}

/// Natural logarithm of an absolute temperature between 172 and 372 K, within 4e-6.
#[inline]
pub(super) fn ln_kelvin(k: f64) -> f64 {
    let u = (k - 270.0) * 0.01;
    let u2 = u * u;
    (5.598422025 + 0.3703883065 * u)
        + u2 * ((-0.06859200477 + 0.01679366761 * u)
            + u2 * ((-0.004666315511 + 0.001666603672 * u) - 0.0005097112749 * u2))
}

#[cfg(test)]
mod tests {
    #[test]
    fn xchk_rough_logarithms_stay_within_their_bounds() {
        for i in 0..20_000 {
            let x = 1e-6 * 1.0015f64.powi(i);
            assert!((super::ln(x) - x.ln()).abs() < 1.1e-5, "{x}");
            let k = 172.0 + 200.0 * f64::from(i) / 20_000.0;
            assert!((super::ln_kelvin(k) - k.ln()).abs() < 4e-6, "{k}");
        }
    }
}
