//! Exact solutions of plane conduction, used as references for the discretised wall.
//!
//! Carslaw & Jaeger, *Conduction of Heat in Solids*; Incropera et al., *Fundamentals of Heat and Mass Transfer*,
//! ch. 5. Plain `f64` in SI.

use crate::error::{RoomError, within};
use std::f64::consts::PI;

/// The `n`-th positive root (`n` from 0) of `zeta tan(zeta) = Bi`, by bisection to the last bit.
fn zeta(n: usize, biot: f64) -> f64 {
    let mut low = n as f64 * PI;
    let mut high = low + PI / 2.0;
    // On each interval (n pi, n pi + pi/2) sine and cosine have the sign of (-1)^n, and zeta tan(zeta) grows.
    let sign = if n.is_multiple_of(2) { 1.0 } else { -1.0 };
    for _ in 0..80 {
        let mid = f64::midpoint(low, high);
        if sign * (mid * mid.sin() - biot * mid.cos()) > 0.0 {
            high = mid;
        } else {
            low = mid;
        }
    }
    f64::midpoint(low, high)
}

/// First root and coefficient `(zeta1, C1)` of the slab with convection on both faces.
///
/// `biot` = h L / k with L the half thickness; 1e-6 to 1e6.
///
/// ```
/// let (zeta1, c1) = drycoil_rooms::analytic::raw_slab_first_term(1.0)?;
/// assert!((zeta1 - 0.86033).abs() < 1e-5 && (c1 - 1.11913).abs() < 1e-5);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn raw_slab_first_term(biot: f64) -> Result<(f64, f64), RoomError> {
    within("Biot number", biot, 1e-6, 1e6, "1")?;
    let z = zeta(0, biot);
    Ok((z, 4.0 * z.sin() / (2.0 * z + (2.0 * z).sin())))
}

/// Dimensionless temperature `(T - T_fluid) / (T_start - T_fluid)` of a slab with convection on both faces.
///
/// `fourier` = a t / L2 (1e-4 and above), `place` = x / L from the centre (0 to 1). The series is summed until its
/// terms fall under 1e-16.
pub fn raw_slab(biot: f64, fourier: f64, place: f64) -> Result<f64, RoomError> {
    within("Biot number", biot, 1e-6, 1e6, "1")?;
    within("Fourier number", fourier, 1e-4, 1e6, "1")?;
    within("place in the slab", place, 0.0, 1.0, "1")?;
    let mut sum = 0.0;
    for n in 0..500 {
        let z = zeta(n, biot);
        let decay = (-z * z * fourier).exp();
        sum += 4.0 * z.sin() / (2.0 * z + (2.0 * z).sin()) * decay * (z * place).cos();
        if decay < 1e-17 {
            break;
        }
    }
    Ok(sum)
}

/// Share of its initial excess heat that the slab has given up, 0 to 1.
pub fn raw_slab_heat_share(biot: f64, fourier: f64) -> Result<f64, RoomError> {
    within("Biot number", biot, 1e-6, 1e6, "1")?;
    within("Fourier number", fourier, 1e-4, 1e6, "1")?;
    let mut left = 0.0;
    for n in 0..500 {
        let z = zeta(n, biot);
        let decay = (-z * z * fourier).exp();
        left += 4.0 * z.sin() / (2.0 * z + (2.0 * z).sin()) * decay * z.sin() / z;
        if decay < 1e-17 {
            break;
        }
    }
    Ok(1.0 - left)
}

fn half_space(depth_m: f64, time_s: f64, diffusivity_m2_per_s: f64) -> Result<f64, RoomError> {
    within("depth", depth_m, 0.0, 1e3, "m")?;
    within("time", time_s, 1e-3, 1e11, "s")?;
    within("diffusivity", diffusivity_m2_per_s, 1e-9, 1e-2, "m2/s")?;
    Ok((diffusivity_m2_per_s * time_s).sqrt())
}

/// Share of the way from start to fluid temperature, semi-infinite solid with convection.
pub fn raw_half_space_convection(
    depth_m: f64,
    time_s: f64,
    film_w_per_m2_k: f64,
    conductivity_w_per_m_k: f64,
    diffusivity_m2_per_s: f64,
) -> Result<f64, RoomError> {
    let root = half_space(depth_m, time_s, diffusivity_m2_per_s)?;
    within("film coefficient", film_w_per_m2_k, 0.0, 1e6, "W/(m2 K)")?;
    within("thermal conductivity", conductivity_w_per_m_k, 1e-3, 1e4, "W/(m K)")?;
    let eta = depth_m / (2.0 * root);
    let b = film_w_per_m2_k * root / conductivity_w_per_m_k;
    // exp(2 eta b + b2) erfc(eta + b), kept finite by the scaled complement for large arguments.
    let tail = scaled_erfc(eta + b) * (-eta * eta).exp();
    Ok(libm::erfc(eta) - tail)
}

/// `exp(x2) erfc(x)` for `x >= 0`: direct below 5, asymptotic continued fraction above.
fn scaled_erfc(x: f64) -> f64 {
    if x < 5.0 {
        return (x * x).exp() * libm::erfc(x);
    }
    let mut f = 0.0;
    for k in (1..=60).rev() {
        f = 0.5 * f64::from(k) / (x + f);
    }
    1.0 / (PI.sqrt() * (x + f))
}

/// Share of the way from start to surface temperature, semi-infinite solid with a surface temperature step.
pub fn raw_half_space_surface_step(
    depth_m: f64,
    time_s: f64,
    diffusivity_m2_per_s: f64,
) -> Result<f64, RoomError> {
    let root = half_space(depth_m, time_s, diffusivity_m2_per_s)?;
    Ok(libm::erfc(depth_m / (2.0 * root)))
}

/// Depth at which a surface temperature step has gone this share (0 to 1, both excluded) of its way, m.
pub fn raw_half_space_depth(share: f64, time_s: f64, diffusivity_m2_per_s: f64) -> Result<f64, RoomError> {
    let root = half_space(0.0, time_s, diffusivity_m2_per_s)?;
    within("share of the step", share, 1e-12, 1.0 - 1e-12, "1")?;
    let (mut low, mut high) = (0.0, 6.0);
    for _ in 0..80 {
        let mid = f64::midpoint(low, high);
        if libm::erfc(mid) > share { low = mid } else { high = mid }
    }
    Ok(2.0 * root * f64::midpoint(low, high))
}

/// Temperature rise of a semi-infinite solid under a constant surface heat flux, K.
pub fn raw_half_space_flux(
    depth_m: f64,
    time_s: f64,
    flux_w_per_m2: f64,
    conductivity_w_per_m_k: f64,
    diffusivity_m2_per_s: f64,
) -> Result<f64, RoomError> {
    let root = half_space(depth_m, time_s, diffusivity_m2_per_s)?;
    within("thermal conductivity", conductivity_w_per_m_k, 1e-3, 1e4, "W/(m K)")?;
    let eta = depth_m / (2.0 * root);
    Ok(flux_w_per_m2 / conductivity_w_per_m_k
        * (2.0 * root / PI.sqrt() * (-eta * eta).exp() - depth_m * libm::erfc(eta)))
}
