//! Batch forms over slices. Each element gets the same operations as the scalar kernel, so the same bits.
//!
//! Like [`crate::raw`], a state that does not exist gives `NaN`; [`refused`] lists such rows.

use crate::raw;
use crate::raw::wet_bulb::{self, Asked, Balance};
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
    let mut w = [0.0; BLOCK];
    for (i, out) in out_c.chunks_mut(BLOCK).enumerate() {
        let range = i * BLOCK..i * BLOCK + out.len();
        let (t, rh, p) = (&dry_bulb_c[range.clone()], &relative_humidity[range.clone()], &pressure_pa[range]);
        for (((w, &t), &rh), &p) in w.iter_mut().zip(t).zip(rh).zip(p) {
            *w = raw::humidity_ratio_from_relative_humidity(t, rh, p);
        }
        wet_bulb_block(t, &w[..out.len()], p, out);
    }
    Ok(())
}

/// States worked on together: each stage of the solution runs over the block, so that the states do not wait for one
/// another's divisions and logarithms.
const BLOCK: usize = 64;

fn wet_bulb_block(t: &[f64], w: &[f64], p: &[f64], out: &mut [f64]) {
    let mut balances = [Balance::default(); BLOCK];
    for ((((out, balance), &t), &w), &p) in out.iter_mut().zip(&mut balances).zip(t).zip(w).zip(p) {
        (*balance, *out) = wet_bulb::begin(wet_bulb::surface_of(t, w, p), t, w, p);
    }
    let mut asked = [Asked::default(); BLOCK];
    let (mut ln_k, mut ln_p_w) = ([0.0; BLOCK], [0.0; BLOCK]);
    for ((asked, balance), &wb) in asked.iter_mut().zip(&balances).zip(&*out) {
        *asked = balance.asked(wb);
    }
    for (((ln_k, ln_p_w), asked), &wb) in ln_k.iter_mut().zip(&mut ln_p_w).zip(&asked).zip(&*out) {
        *ln_k = (wb + 273.15).ln();
        *ln_p_w = asked.p_w_pa.ln();
    }
    for ((((out, balance), asked), &ln_k), &ln_p_w) in
        out.iter_mut().zip(&balances).zip(&asked).zip(&ln_k).zip(&ln_p_w)
    {
        let wb = *out;
        let step = wet_bulb::step(wb, asked, ln_k, ln_p_w);
        *out = if step.abs() <= wet_bulb::LAST_STEP_K {
            balance.below_top(wb - step)
        } else {
            wet_bulb::finish(balance, wb).0
        };
    }
}

/// Wet bulb, degC, from dry bulb (degC), humidity ratio (kg/kg) and pressure (Pa).
pub fn wet_bulb_from_humidity_ratio(
    dry_bulb_c: &[f64],
    humidity_ratio_kg_per_kg: &[f64],
    pressure_pa: &[f64],
    out_c: &mut [f64],
) -> Result<(), LengthMismatch> {
    same_length(out_c, &[dry_bulb_c, humidity_ratio_kg_per_kg, pressure_pa])?;
    for (i, out) in out_c.chunks_mut(BLOCK).enumerate() {
        let range = i * BLOCK..i * BLOCK + out.len();
        let (t, w, p) =
            (&dry_bulb_c[range.clone()], &humidity_ratio_kg_per_kg[range.clone()], &pressure_pa[range]);
        wet_bulb_block(t, w, p, out);
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
