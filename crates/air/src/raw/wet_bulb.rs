//! Thermodynamic wet bulb (ASHRAE Fundamentals ch. 1, eq. 33 over liquid water and eq. 35 over ice).
//!
//! The energy that leaves with the added water makes a real step at 0 degC: ice must also be melted. For humidity
//! ratios inside that step two wet bulbs exist, one over liquid water at or above 0 degC and one over ice below it
//! (a wet and a frozen wick in the same air). The rule here: liquid water wherever it has a solution, else ice;
//! [`wet_bulb_on_ice_c`] gives the other one.

use super::root::Root;
use super::rough;
use super::saturation::{
    humidity_ratio_from_relative_humidity, ln_saturation_pressure_jet, saturation_humidity_ratio,
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
    pub(super) const fn constants(self) -> (f64, f64, f64) {
        const ROWS: [(f64, f64, f64); 2] = [(2501.0, 2.326, 4.186), (2830.0, 0.24, 2.1)];
        ROWS[self as usize]
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
    iterate(surface_of(t_c, w_kg_per_kg, p_pa), t_c, w_kg_per_kg, p_pa).0
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
    solve_on(surface_of(t_c, w_kg_per_kg, p_pa), t_c, w_kg_per_kg, p_pa)
}

#[inline]
pub(crate) fn surface_of(t_c: f64, w: f64, p_pa: f64) -> WetBulbSurface {
    if t_c >= 0.0 && w >= water_at_zero(t_c, p_pa) { WetBulbSurface::Water } else { WetBulbSurface::Ice }
}

/// Saturation pressure at 0 degC, Pa: the end of the branch over liquid water.
const ICE_POINT_PRESSURE_PA: f64 = 611.153570890768;

/// Humidity ratio of air at `t_c` whose wet bulb over liquid water is exactly 0 degC.
#[inline]
fn water_at_zero(t_c: f64, p_pa: f64) -> f64 {
    let w_s = MASS_RATIO * ICE_POINT_PRESSURE_PA / (p_pa - ICE_POINT_PRESSURE_PA);
    (2501.0 * w_s - 1.006 * t_c) / (2501.0 + 1.86 * t_c)
}

/// Start of the iteration: a polynomial in the logarithm of `p_w / (p gamma) + t` (the left side of the energy
/// balance) and in pressure, fitted to solved states.
struct Start {
    /// 1 / gamma, 1/K.
    gamma_inverse: f64,
    /// Added to `p_w / (p gamma) + t`, K.
    shift: f64,
    centre: f64,
    /// `c[i][j]` goes with the i-th power of the logarithm and the j-th of pressure.
    c: [[f64; 3]; 5],
}

/// Over liquid water (typically 0.1 K off) and over ice (typically 0.03 K off). Never a result.
static STARTS: [Start; 2] = [
    Start {
        gamma_inverse: 1.0 / 6.6e-4,
        shift: 60.0,
        centre: 5.0,
        c: [
            [26.236, 3.815, -0.52799],
            [31.943, 2.312, -0.20745],
            [-4.2162, -0.39103, 0.0],
            [1.2006, 0.0, 0.0],
            [0.0, 0.0, 0.0],
        ],
    },
    Start {
        gamma_inverse: 1.0 / 5.8e-4,
        shift: 100.0,
        centre: 4.5,
        c: [
            [-13.826, 0.82153, -0.17359],
            [66.896, 3.4378, -0.52203],
            [-11.884, 4.7134, -0.38881],
            [-50.027, 2.067, 0.0],
            [-25.041, 0.0, 0.0],
        ],
    },
];

#[inline]
fn start_c(surface: WetBulbSurface, t_c: f64, p_w_pa: f64, p_pa: f64) -> f64 {
    let s = &STARTS[surface as usize];
    let c = &s.c;
    let x = rough::ln(p_w_pa * s.gamma_inverse / p_pa + t_c + s.shift) - s.centre;
    let y = (p_pa - 84e3) * (1.0 / 24e3);
    let x2 = x * x;
    let c0 = c[0][0] + y * (c[0][1] + y * c[0][2]);
    let c1 = c[1][0] + y * (c[1][1] + y * c[1][2]);
    let c2 = c[2][0] + y * (c[2][1] + y * c[2][2]);
    let c3 = c[3][0] + y * c[3][1];
    (c0 + x * c1) + x2 * ((c2 + x * c3) + x2 * c[4][0])
}

/// The energy balance of one bulb.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Balance {
    latent: f64,
    slope: f64,
    supplied: f64,
    falls: f64,
    p_pa: f64,
    t_c: f64,
    high: f64,
}

impl Balance {
    /// What the energy balance asks for at this wet bulb, before any logarithm.
    #[inline]
    pub(crate) fn asked(&self, wb: f64) -> Asked {
        let den_inverse = 1.0 / (self.latent - self.slope * wb);
        let asked = (self.supplied - self.falls * wb) * den_inverse;
        let asked_slope = (asked * self.slope - self.falls) * den_inverse;
        let whole = MASS_RATIO + asked;
        let both = 1.0 / (asked * whole);
        Asked {
            a: asked_slope * whole * both,
            b: asked_slope * asked * both,
            p_w_pa: if asked > 1e-12 { self.p_pa * (asked * asked) * both } else { f64::NAN },
        }
    }
}

/// Vapour pressure that the energy balance asks for, and the slopes of the logarithms of its parts.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Asked {
    a: f64,
    b: f64,
    /// `NaN` where the balance asks for no vapour at all, so that the wet bulb lies lower.
    pub(crate) p_w_pa: f64,
}

/// One third-order step (Chebyshev's form of Halley's) on the logarithm of the saturation pressure over the vapour
/// pressure that the energy balance asks for. That function is increasing and nearly straight in the wet bulb.
#[inline]
pub(crate) fn step(wb: f64, asked: &Asked, ln_k: f64, ln_p_w: f64) -> f64 {
    let (a, b) = (asked.a, asked.b);
    let (ln_ps, ln_slope, ln_bend) = ln_saturation_pressure_jet(wb, ln_k);
    let error = ln_ps - ln_p_w;
    let rise = 1.0 / (ln_slope - a + b);
    let newton = error * rise;
    newton * (1.0 + (0.5 * newton * (ln_bend + a * a - b * b) * rise).clamp(-0.5, 0.5))
}

/// A step this small, K, is the last: the next error is of the order of its cube.
pub(crate) const LAST_STEP_K: f64 = 1e-3;

/// A rough start, one step with rough logarithms, then exact steps until one is so small that the next error, of the
/// order of its cube, is below the rounding of the temperature. One exact step is the rule.
#[inline]
fn iterate(surface: WetBulbSurface, t_c: f64, w: f64, p_pa: f64) -> (f64, u32) {
    let (balance, wb) = begin(surface, t_c, w, p_pa);
    let asked = balance.asked(wb);
    let step = step(wb, &asked, (wb + 273.15).ln(), asked.p_w_pa.ln());
    if step.abs() <= LAST_STEP_K { (balance.below_top(wb - step), 2) } else { finish(&balance, wb) }
}

impl Balance {
    /// A wet bulb is never above the dry bulb, nor one over ice above 0 degC. Not-a-number stays one.
    #[inline]
    pub(crate) fn below_top(&self, wb: f64) -> f64 {
        if wb > self.high { self.high } else { wb }
    }
}

/// The balance, and the wet bulb after the step with rough logarithms. `NaN` for a state that does not exist.
#[inline]
pub(crate) fn begin(surface: WetBulbSurface, t_c: f64, w: f64, p_pa: f64) -> (Balance, f64) {
    let (latent, slope, cp) = surface.constants();
    let high = match surface {
        WetBulbSurface::Water => t_c,
        WetBulbSurface::Ice => t_c.min(0.0),
    };
    let balance = Balance {
        latent,
        slope,
        supplied: w * (latent + 1.86 * t_c) + 1.006 * t_c,
        falls: w * cp + 1.006,
        p_pa,
        t_c,
        high,
    };
    let exists = w >= 0.0 && p_pa > ICE_POINT_PRESSURE_PA && t_c > -100.0 && t_c < 100.0;
    let start = start_c(surface, t_c, p_pa * w / (MASS_RATIO + w), p_pa);
    let wb = if start < high { start } else { high };
    let asked = balance.asked(wb);
    let step = step(wb, &asked, rough::ln_kelvin(wb + 273.15), rough::ln(asked.p_w_pa));
    let next = balance.below_top(wb - if asked.p_w_pa.is_nan() { 0.0 } else { step });
    (balance, if exists { next } else { f64::NAN })
}

/// Exact steps to the end, for the few states that need more than one.
#[cold]
pub(crate) fn finish(balance: &Balance, mut wb: f64) -> (f64, u32) {
    if wb.is_nan() {
        return (f64::NAN, 2);
    }
    for iterations in 2..60 {
        let asked = balance.asked(wb);
        if asked.p_w_pa.is_nan() {
            wb -= 0.5 + 0.5 * (wb - balance.t_c).abs();
            continue;
        }
        let step = step(wb, &asked, (wb + 273.15).ln(), asked.p_w_pa.ln());
        wb = balance.below_top(wb - step);
        if step.abs() <= LAST_STEP_K {
            return (wb, iterations);
        }
    }
    (f64::NAN, 60)
}

#[inline]
fn solve_on(surface: WetBulbSurface, t_c: f64, w: f64, p_pa: f64) -> Root {
    let (value, iterations) = iterate(surface, t_c, w, p_pa);
    Root { value, residual: humidity_ratio_at_wet_bulb_on(surface, t_c, value, p_pa) - w, iterations }
}

/// Wet bulb, degC, from dry bulb and relative humidity as a share of one.
#[inline]
pub fn wet_bulb_from_relative_humidity_c(t_c: f64, rh: f64, p_pa: f64) -> f64 {
    wet_bulb_c(t_c, humidity_ratio_from_relative_humidity(t_c, rh, p_pa), p_pa)
}
