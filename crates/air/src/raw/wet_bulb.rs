//! Thermodynamic wet bulb (ASHRAE Fundamentals ch. 1, eq. 33 over liquid water and eq. 35 over ice).
//!
//! The energy that leaves with the added water makes a real step at 0 degC: ice must also be melted. For humidity
//! ratios inside that step two wet bulbs exist, one over liquid water at or above 0 degC and one over ice below it
//! (a wet and a frozen wick in the same air). The rule here: liquid water wherever it has a solution, else ice;
//! [`wet_bulb_on_ice_c`] gives the other one.

use super::root::Root;
use super::saturation::{
    humidity_ratio_from_relative_humidity, ln_saturation_pressure, ln_saturation_pressure_slope_per_k,
    saturation_humidity_ratio,
};
use super::state::MASS_RATIO;

/// What wets the bulb.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WetBulbSurface {
    /// Liquid water, wet bulb at or above 0 degC.
    Water,
    /// Ice, wet bulb below 0 degC.
    Ice,
}

impl WetBulbSurface {
    /// Latent term at 0 degC, its slope with wet bulb and the heat capacity of the added water: kJ/kg and kJ/(kg K).
    #[inline]
    const fn constants(self) -> (f64, f64, f64) {
        match self {
            Self::Water => (2501.0, 2.326, 4.186),
            Self::Ice => (2830.0, 0.24, 2.1),
        }
    }
}

/// The surface that goes with a wet-bulb temperature.
#[inline]
pub fn wet_bulb_surface(wet_bulb_c: f64) -> WetBulbSurface {
    if wet_bulb_c >= 0.0 { WetBulbSurface::Water } else { WetBulbSurface::Ice }
}

/// Humidity ratio, kg/kg, of air at `t_c` whose wet bulb over the given surface is `wet_bulb_c`. Negative when air
/// cannot be that dry.
#[inline]
pub fn humidity_ratio_at_wet_bulb_on(surface: WetBulbSurface, t_c: f64, wet_bulb_c: f64, p_pa: f64) -> f64 {
    let (latent, slope, cp) = surface.constants();
    let w_s = saturation_humidity_ratio(wet_bulb_c, p_pa);
    ((latent - slope * wet_bulb_c) * w_s - 1.006 * (t_c - wet_bulb_c))
        / (latent + 1.86 * t_c - cp * wet_bulb_c)
}

/// Humidity ratio, kg/kg, of air at `t_c` whose wet bulb is `wet_bulb_c`: over liquid water at or above 0 degC, over
/// ice below.
#[inline]
pub fn humidity_ratio_at_wet_bulb(t_c: f64, wet_bulb_c: f64, p_pa: f64) -> f64 {
    humidity_ratio_at_wet_bulb_on(wet_bulb_surface(wet_bulb_c), t_c, wet_bulb_c, p_pa)
}

/// Wet bulb, degC. `NaN` for a state that does not exist.
#[inline]
pub fn wet_bulb_c(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> f64 {
    wet_bulb_solve(t_c, w_kg_per_kg, p_pa).value
}

/// Wet bulb over ice where air that is also in balance with a liquid bulb allows one below 0 degC.
pub fn wet_bulb_on_ice_c(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> Option<f64> {
    if w_kg_per_kg >= humidity_ratio_at_wet_bulb_on(WetBulbSurface::Ice, t_c, 0.0, p_pa) {
        return None;
    }
    let root = solve_on(WetBulbSurface::Ice, t_c, w_kg_per_kg, p_pa);
    (root.value < 0.0).then_some(root.value)
}

/// Wet bulb with the residual of the humidity ratio (kg/kg) and the number of evaluations.
#[inline]
pub fn wet_bulb_solve(t_c: f64, w_kg_per_kg: f64, p_pa: f64) -> Root {
    let surface = if t_c >= 0.0 && w_kg_per_kg >= water_at_zero(t_c, p_pa) {
        WetBulbSurface::Water
    } else {
        WetBulbSurface::Ice
    };
    solve_on(surface, t_c, w_kg_per_kg, p_pa)
}

/// Saturation pressure at 0 degC, Pa: the end of the branch over liquid water.
const ICE_POINT_PRESSURE_PA: f64 = 611.153570890768;

/// Humidity ratio of air at `t_c` whose wet bulb over liquid water is exactly 0 degC.
#[inline]
fn water_at_zero(t_c: f64, p_pa: f64) -> f64 {
    let w_s = MASS_RATIO * ICE_POINT_PRESSURE_PA / (p_pa - ICE_POINT_PRESSURE_PA);
    (2501.0 * w_s - 1.006 * t_c) / (2501.0 + 1.86 * t_c)
}

/// Newton on the logarithm of the saturation pressure against the vapour pressure that the energy balance asks for;
/// that difference is increasing and nearly straight in the wet bulb.
#[inline]
fn solve_on(surface: WetBulbSurface, t_c: f64, w: f64, p_pa: f64) -> Root {
    if !(w >= 0.0 && p_pa > 0.0 && t_c.is_finite()) {
        return Root::NONE;
    }
    let (latent, slope, cp) = surface.constants();
    let mut wb = t_c.min(if surface == WetBulbSurface::Ice { 0.0 } else { f64::INFINITY });
    let mut iterations = 0;
    let mut last_step = f64::INFINITY;
    loop {
        let ln_ps = ln_saturation_pressure(wb);
        let ln_slope = ln_saturation_pressure_slope_per_k(wb);
        let den = latent - slope * wb;
        let asked = (w * (latent + 1.86 * t_c - cp * wb) + 1.006 * (t_c - wb)) / den;
        let asked_slope = (asked * slope - w * cp - 1.006) / den;
        let p_asked = p_pa * asked / (MASS_RATIO + asked);
        let ln_asked_slope = asked_slope * MASS_RATIO / (asked * (MASS_RATIO + asked));
        let error = ln_ps - p_asked.ln();
        iterations += 1;
        let step = error / (ln_slope - ln_asked_slope);
        wb -= step;
        if !(step.abs() > 1e-7 && iterations < 40) || step.abs() >= 100.0 * last_step {
            break;
        }
        last_step = step.abs();
    }
    let residual = humidity_ratio_at_wet_bulb_on(surface, t_c, wb, p_pa) - w;
    Root { value: wb, residual, iterations }
}

/// Wet bulb, degC, from dry bulb and relative humidity as a share of one.
#[inline]
pub fn wet_bulb_from_relative_humidity_c(t_c: f64, rh: f64, p_pa: f64) -> f64 {
    wet_bulb_c(t_c, humidity_ratio_from_relative_humidity(t_c, rh, p_pa), p_pa)
}
