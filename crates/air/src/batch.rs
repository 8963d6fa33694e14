//! Batch forms over slices. Each element gets the same operations as the scalar kernel, so the same bits.
//!
//! Like [`crate::raw`], a state that does not exist gives `NaN`; [`refused`] lists such rows.

use crate::raw;
use std::fmt;

/// Slices that should have one length have not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LengthMismatch {
    /// Length of the output.
    pub output: usize,
    /// Length of the input that differs.
    pub input: usize,
}

impl fmt::Display for LengthMismatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "input has {} states, output has room for {}", self.input, self.output)
    }
}

impl std::error::Error for LengthMismatch {}

fn same_length(output: &[f64], inputs: &[&[f64]]) -> Result<(), LengthMismatch> {
    match inputs.iter().find(|x| x.len() != output.len()) {
        Some(x) => Err(LengthMismatch { output: output.len(), input: x.len() }),
        None => Ok(()),
    }
}

/// Wet bulb, degC, from dry bulb (degC), relative humidity (share of one) and pressure (Pa).
///
/// ```
/// let mut out = [0.0];
/// drycoil_air::batch::wet_bulb_from_relative_humidity(&[7.0], &[0.61], &[100_000.0], &mut out).unwrap();
/// assert!((out[0] - 3.92667).abs() < 1e-3);
/// ```
pub fn wet_bulb_from_relative_humidity(
    dry_bulb_c: &[f64],
    relative_humidity: &[f64],
    pressure_pa: &[f64],
    out_c: &mut [f64],
) -> Result<(), LengthMismatch> {
    same_length(out_c, &[dry_bulb_c, relative_humidity, pressure_pa])?;
    for (((out, &t), &rh), &p) in out_c.iter_mut().zip(dry_bulb_c).zip(relative_humidity).zip(pressure_pa) {
        *out = raw::wet_bulb_from_relative_humidity_c(t, rh, p);
    }
    Ok(())
}

/// Wet bulb, degC, from dry bulb (degC), humidity ratio (kg/kg) and pressure (Pa).
pub fn wet_bulb(
    dry_bulb_c: &[f64],
    humidity_ratio_kg_per_kg: &[f64],
    pressure_pa: &[f64],
    out_c: &mut [f64],
) -> Result<(), LengthMismatch> {
    same_length(out_c, &[dry_bulb_c, humidity_ratio_kg_per_kg, pressure_pa])?;
    for (((out, &t), &w), &p) in
        out_c.iter_mut().zip(dry_bulb_c).zip(humidity_ratio_kg_per_kg).zip(pressure_pa)
    {
        *out = raw::wet_bulb_c(t, w, p);
    }
    Ok(())
}

/// Dew point, degC, from humidity ratio (kg/kg) and pressure (Pa).
pub fn dew_point(
    humidity_ratio_kg_per_kg: &[f64],
    pressure_pa: &[f64],
    out_c: &mut [f64],
) -> Result<(), LengthMismatch> {
    same_length(out_c, &[humidity_ratio_kg_per_kg, pressure_pa])?;
    for ((out, &w), &p) in out_c.iter_mut().zip(humidity_ratio_kg_per_kg).zip(pressure_pa) {
        *out = raw::dew_point_c(w, p);
    }
    Ok(())
}

/// Saturation humidity ratio, kg/kg, from temperature (degC) and pressure (Pa).
pub fn saturation_humidity_ratio(
    temperature_c: &[f64],
    pressure_pa: &[f64],
    out_kg_per_kg: &mut [f64],
) -> Result<(), LengthMismatch> {
    same_length(out_kg_per_kg, &[temperature_c, pressure_pa])?;
    for ((out, &t), &p) in out_kg_per_kg.iter_mut().zip(temperature_c).zip(pressure_pa) {
        *out = raw::saturation_humidity_ratio(t, p);
    }
    Ok(())
}

/// Positions at which a batch found no state.
pub fn refused(results: &[f64]) -> impl Iterator<Item = usize> + '_ {
    results.iter().enumerate().filter(|(_, x)| x.is_nan()).map(|(i, _)| i)
}
