//! Periodic heat transfer matrix of a construction (ISO 13786), exact for any period.

use crate::error::{RoomError, within};
use crate::layer::{Construction, Films, Layer};
use drycoil_units::{Quantity, Time};
use nalgebra::Complex;
use std::f64::consts::PI;

/// Two-by-two matrix of complex numbers.
pub type Matrix2 = [[Complex<f64>; 2]; 2];

fn product(a: &Matrix2, b: &Matrix2) -> Matrix2 {
    let mut m = [[Complex::new(0.0, 0.0); 2]; 2];
    for (i, row) in m.iter_mut().enumerate() {
        for (j, x) in row.iter_mut().enumerate() {
            *x = a[i][0] * b[0][j] + a[i][1] * b[1][j];
        }
    }
    m
}

fn resistance_matrix(r: f64) -> Matrix2 {
    let one = Complex::new(1.0, 0.0);
    [[one, Complex::new(-r, 0.0)], [Complex::new(0.0, 0.0), one]]
}

/// Heat transfer matrix at angular frequency `w`, inside to outside; `None` when the wave dies so thoroughly that
/// the matrix overflows.
pub(crate) fn raw_matrix(c: &Construction, r_inside: f64, r_outside: f64, w: f64) -> Option<Matrix2> {
    let mut z = resistance_matrix(r_inside);
    let mut attenuation = 0.0;
    for layer in c.layers() {
        let m = match layer {
            Layer::Resistance(r) => resistance_matrix(*r),
            Layer::Solid(s) => {
                let gamma = Complex::new(0.0, w / s.diffusivity_m2_per_s()).sqrt();
                let x = gamma * s.thickness_m();
                attenuation += x.re;
                if attenuation > 300.0 {
                    return None;
                }
                let k = s.conductivity_w_per_m_k();
                [[x.cosh(), -x.sinh() / (gamma * k)], [-x.sinh() * gamma * k, x.cosh()]]
            }
        };
        z = product(&m, &z);
    }
    Some(product(&resistance_matrix(r_outside), &z))
}

/// Dynamic thermal characteristics of a construction for one period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Periodic {
    /// Period, s.
    pub period_s: f64,
    /// Heat transfer matrix from inside to outside: `[t2; q2] = Z [t1; q1]`.
    pub matrix: Matrix2,
    /// Steady transmittance with films, W/(m2 K).
    pub transmittance_w_per_m2_k: f64,
    /// Inside thermal admittance, W/(m2 K).
    pub inside_admittance: Complex<f64>,
    /// Outside thermal admittance, W/(m2 K).
    pub outside_admittance: Complex<f64>,
    /// Periodic thermal transmittance, W/(m2 K).
    pub periodic_transmittance: Complex<f64>,
    /// Time lead of the inside admittance, h.
    pub inside_lead_h: f64,
    /// Time lead of the outside admittance, h.
    pub outside_lead_h: f64,
    /// Time shift of the periodic transmittance, h, in `-period..=0`: a delay is negative. A wall that delays by
    /// more than one period is shown modulo the period, as in the standard.
    pub time_shift_h: f64,
    /// Decrement factor `|Y12| / U`.
    pub decrement_factor: f64,
    /// Inside areal heat capacity, J/(m2 K).
    pub inside_capacity_j_per_m2_k: f64,
    /// Outside areal heat capacity, J/(m2 K).
    pub outside_capacity_j_per_m2_k: f64,
}

/// Dynamic thermal characteristics by ISO 13786, films included.
///
/// Period 60 s to 10 years. A construction so thick that its matrix overflows at this period (a wave attenuated by
/// more than exp(300)) is refused.
///
/// ```
/// use drycoil_rooms::{Construction, Films, Layer, transfer_matrix};
/// use drycoil_units::{Conductivity, Density, Length, Quantity, SpecificHeat, Time};
/// let concrete = Layer::solid(
///     Length::metres(0.2),
///     Conductivity::from_si(2.0),
///     Density::from_si(2400.0),
///     SpecificHeat::from_si(1000.0),
/// )?;
/// let wall = Construction::new(vec![concrete])?;
/// let day = transfer_matrix::periodic(&wall, Films::iso_6946_horizontal(), Time::hours(24.0))?;
/// assert!((day.decrement_factor - 0.5273).abs() < 1e-4);
/// assert!((day.time_shift_h + 5.475).abs() < 1e-3);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn periodic(construction: &Construction, films: Films, period: Time) -> Result<Periodic, RoomError> {
    let period_s = within("period", period.si(), 60.0, 10.0 * 365.0 * 86_400.0, "s")?;
    let w = 2.0 * PI / period_s;
    let z = raw_matrix(construction, films.inside().si(), films.outside().si(), w).ok_or(
        RoomError::OutOfRange {
            quantity: "attenuation exponent of the construction",
            value: f64::INFINITY,
            lowest: 0.0,
            highest: 300.0,
            unit: "1",
        },
    )?;
    let one = Complex::new(1.0, 0.0);
    let u = construction.transmittance(films).si();
    let hours = |y: Complex<f64>| y.arg() * period_s / (2.0 * PI) / 3600.0;
    let y11 = -z[0][0] / z[0][1];
    let y22 = -z[1][1] / z[0][1];
    let y12 = -one / z[0][1];
    let mut shift = hours(y12);
    if shift > 0.0 {
        shift -= period_s / 3600.0;
    }
    Ok(Periodic {
        period_s,
        matrix: z,
        transmittance_w_per_m2_k: u,
        inside_admittance: y11,
        outside_admittance: y22,
        periodic_transmittance: y12,
        inside_lead_h: hours(y11),
        outside_lead_h: hours(y22),
        time_shift_h: shift,
        decrement_factor: y12.norm() / u,
        inside_capacity_j_per_m2_k: ((z[0][0] - one) / z[0][1]).norm() / w,
        outside_capacity_j_per_m2_k: ((z[1][1] - one) / z[0][1]).norm() / w,
    })
}

/// Conduction time series: shares of the day's conducted heat that arrive inside in the hour itself and in the 23
/// hours after it.
///
/// The periodic response of the inside heat flow to a triangular pulse of sol-air temperature (base two hours,
/// peak at hour 0, repeated every 24 h), summed over its harmonics until they vanish, divided by the steady
/// transmittance (ASHRAE Fundamentals, radiant time series chapter; frequency-domain form). The 24 values add up
/// to 1.
///
/// ```
/// use drycoil_rooms::{Construction, Films, Layer, transfer_matrix};
/// use drycoil_units::{Quantity, ThermalResistance};
/// let sheet = Construction::new(vec![Layer::air_space(ThermalResistance::from_si(1.0))?])?;
/// let series = transfer_matrix::conduction_time_series(&sheet, Films::iso_6946_horizontal());
/// assert!((series[0] - 1.0).abs() < 1e-4);
/// # Ok::<(), drycoil_rooms::RoomError>(())
/// ```
pub fn conduction_time_series(construction: &Construction, films: Films) -> [f64; 24] {
    let u = construction.transmittance(films).si();
    let day = 86_400.0;
    let mut sum = [Complex::new(0.0, 0.0); 24];
    let harmonics = 24 * 2000;
    for n in 1..=harmonics {
        if n % 24 == 0 {
            continue;
        }
        let x = PI * n as f64 / 24.0;
        let weight = (x.sin() / x).powi(2) / 24.0;
        let w = 2.0 * PI * n as f64 / day;
        let Some(z) = raw_matrix(construction, films.inside().si(), films.outside().si(), w) else {
            break;
        };
        let y = -Complex::new(1.0, 0.0) / z[0][1] / u;
        if y.norm() * weight < 1e-13 {
            break;
        }
        for (k, s) in sum.iter_mut().enumerate() {
            *s += y * weight * Complex::new(0.0, 2.0 * PI * ((n * k) % 24) as f64 / 24.0).exp();
        }
    }
    std::array::from_fn(|k| 1.0 / 24.0 + 2.0 * sum[k].re)
}
