//! Moist air at the pressure of the site, quick enough for every step.
//!
//! Saturation is a table of cubic pieces through the exact function and its slope at half-kelvin nodes; below -40 degC and
//! above 80 degC the exact function is called. The inverse functions are Newton searches on the table. Each ends with a
//! step so small that what it leaves, which goes with its square, is below the tolerance named beside it.

use drycoil_air::raw;
use drycoil_exchange::bypass::CP_CONDENSATE_J_PER_KG_K;
use std::cell::Cell;

/// A state of air: dry bulb and humidity ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Dry bulb, degC.
    pub t: f64,
    /// Humidity ratio, kg/kg.
    pub w: f64,
}

impl Air {
    /// Enthalpy above dry air and liquid water at 0 degC, J/kg of dry air.
    #[inline]
    pub fn h(self) -> f64 {
        raw::enthalpy_j_per_kg(self.t, self.w)
    }

    /// Specific heat of moist air, J/(kg K) of dry air.
    #[inline]
    pub fn cp(self) -> f64 {
        raw::humid_specific_heat_j_per_kg_k(self.w)
    }
}

/// Air after fog has fallen out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// The air.
    pub air: Air,
    /// Fog, kg per kg of dry air.
    pub fog: f64,
}

const STEP_K: f64 = 0.5;
const LOW_C: f64 = -40.0;
const HIGH_C: f64 = 80.0;
const SEAM_C: f64 = raw::SEAM_C;
/// Pieces below and above the seam at the triple point.
const BELOW: usize = 81;
const ABOVE: usize = 160;
/// Pieces of the table, the last ones never used: a power of two, so that a place in it needs no check.
const PIECES: usize = 256;
/// Added to a number from 0 to the count of pieces, it leaves the nearest whole one in the last bits.
const WHOLE: f64 = 4_503_599_627_370_496.0;

/// Whether Newton's step to `t_c` was the last one needed: what it leaves goes with its square but across the seam, where
/// the slope jumps.
#[inline]
fn last_step(step_k: f64, t_c: f64, small_k: f64) -> bool {
    let step = step_k.abs();
    step < small_k && ((t_c - SEAM_C).abs() > small_k || step < 1e-9)
}

/// Saturation at one pressure.
#[derive(Debug, Clone)]
pub struct Saturation {
    p_pa: f64,
    /// Coefficients of the humidity ratio in the share of a step, from the coldest piece on; no piece crosses the seam.
    pieces: Box<[[f64; 4]; PIECES]>,
    /// Humidity ratios whose dew points were asked for last, and these: set points are asked for again and again.
    last: Cell<[[f64; 2]; 2]>,
}

impl Saturation {
    /// The table at a pressure, Pa.
    pub fn new(p_pa: f64) -> Self {
        let node = |t: f64| {
            [
                raw::saturation_humidity_ratio(t, p_pa),
                STEP_K * raw::saturation_humidity_ratio_slope_per_k(t, p_pa),
            ]
        };
        // Cubic by both ends and both slopes: a + u (ma + u (c + u d)).
        let piece = |[a, ma]: [f64; 2], [b, mb]: [f64; 2]| {
            [a, ma, 3.0 * (b - a) - 2.0 * ma - mb, ma + mb - 2.0 * (b - a)]
        };
        let mut pieces = Box::new([[0.0; 4]; PIECES]);
        for (i, place) in pieces.iter_mut().take(BELOW).enumerate() {
            let at = |k: usize| node(SEAM_C - STEP_K * (BELOW - k) as f64);
            *place = piece(at(i), at(i + 1));
        }
        for (i, place) in pieces.iter_mut().skip(BELOW).take(ABOVE).enumerate() {
            // The first node takes the side over water.
            let at = |k: usize| node((SEAM_C + STEP_K * k as f64).max(SEAM_C + 1e-12));
            *place = piece(at(i), at(i + 1));
        }
        Self { p_pa, pieces, last: Cell::new([[f64::NAN; 2]; 2]) }
    }

    /// Pressure of the table, Pa.
    pub fn pressure_pa(&self) -> f64 {
        self.p_pa
    }

    /// Saturation humidity ratio and its slope per kelvin.
    #[inline]
    pub fn w_and_slope(&self, t_c: f64) -> (f64, f64) {
        if !(LOW_C..=HIGH_C).contains(&t_c) {
            return self.beyond(t_c);
        }
        let x = (t_c - (SEAM_C - STEP_K * BELOW as f64)) * (1.0 / STEP_K);
        // Half way between two whole numbers either will do: neighbouring pieces meet there.
        let whole = (x - 0.5) + WHOLE;
        let u = x - (whole - WHOLE);
        let [a, m, c, d] = self.pieces[whole.to_bits() as usize % PIECES];
        (a + u * (m + u * (c + u * d)), (m + u * (2.0 * c + 3.0 * u * d)) * (1.0 / STEP_K))
    }

    /// Beyond the table.
    #[cold]
    fn beyond(&self, t_c: f64) -> (f64, f64) {
        (
            raw::saturation_humidity_ratio(t_c, self.p_pa),
            raw::saturation_humidity_ratio_slope_per_k(t_c, self.p_pa),
        )
    }

    /// Saturation humidity ratio.
    #[inline]
    pub fn w(&self, t_c: f64) -> f64 {
        self.w_and_slope(t_c).0
    }

    /// Enthalpy of saturated air and its slope per kelvin.
    #[inline]
    pub fn h_and_slope(&self, t_c: f64) -> (f64, f64) {
        let (w, slope) = self.w_and_slope(t_c);
        (
            raw::enthalpy_j_per_kg(t_c, w),
            raw::humid_specific_heat_j_per_kg_k(w) + raw::vapour_enthalpy_j_per_kg(t_c) * slope,
        )
    }

    /// Dew point of air with a humidity ratio above 1e-5, degC.
    #[inline]
    pub fn dew_point(&self, w: f64) -> f64 {
        let [first, second] = self.last.get();
        if first[0] == w {
            return first[1];
        }
        let found = if second[0] == w { second } else { [w, self.find_dew_point(w)] };
        self.last.set([found, first]);
        found[1]
    }

    /// To 1e-7 K.
    fn find_dew_point(&self, w: f64) -> f64 {
        let mut t = raw::saturation_temperature_start_c(raw::vapour_pressure_pa(w, self.p_pa).ln());
        for _ in 0..6 {
            let (ws, slope) = self.w_and_slope(t);
            // Newton on the logarithm, which is nearly straight; that of a number near one is twice this short series.
            let y = (ws - w) / (ws + w);
            let step = 2.0 * y * (1.0 + y * y * (1.0 / 3.0)) * ws / slope;
            t -= step;
            if last_step(step, t, 1e-3) {
                break;
            }
        }
        t
    }

    /// Temperature of saturated air with an enthalpy, from an estimate, degC, to 1e-8 K; the second value is false when the
    /// search did not settle.
    #[inline]
    pub fn from_enthalpy(&self, h: f64, estimate_c: f64) -> (f64, bool) {
        let mut t = estimate_c;
        for _ in 0..30 {
            let (hs, slope) = self.h_and_slope(t);
            let step = ((hs - h) / slope).clamp(-20.0, 20.0);
            t -= step;
            if last_step(step, t, 3e-4) {
                return (t, true);
            }
        }
        (t, false)
    }

    /// Lets fog fall out of air given by enthalpy and moisture: droplets are liquid and leave with their heat. The second
    /// value is false when the search did not settle.
    #[inline]
    pub fn settle(&self, h: f64, w: f64) -> (Settled, bool) {
        let t = raw::dry_bulb_from_enthalpy_c(h, w);
        if w <= self.w(t) {
            return (Settled { air: Air { t, w }, fog: 0.0 }, true);
        }
        let mut x = t;
        for _ in 0..30 {
            let (ws, slope) = self.w_and_slope(x);
            let f = raw::enthalpy_j_per_kg(x, ws) + (w - ws) * CP_CONDENSATE_J_PER_KG_K * x - h;
            let d = raw::humid_specific_heat_j_per_kg_k(ws)
                + slope * (raw::vapour_enthalpy_j_per_kg(x) - CP_CONDENSATE_J_PER_KG_K * x)
                + (w - ws) * CP_CONDENSATE_J_PER_KG_K;
            let step = f / d;
            x -= step;
            // Leaves below 1e-12 K, since heat must close.
            if last_step(step, x, 3e-6) {
                let ws = self.w(x);
                return (Settled { air: Air { t: x, w: ws }, fog: (w - ws).max(0.0) }, true);
            }
        }
        (Settled { air: Air { t, w }, fog: 0.0 }, false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn xchk_table_of_saturation_against_the_exact_function() {
        // A cubic between exact ends and slopes is off by the fourth derivative times step^4/384, below 1e-8 of the value up
        // to 50 degC, and its slope by the same over a tenth of the step. Towards boiling the humidity ratio grows without
        // bound and with it the error: measured 2.5e-7 and 1.4e-5 at 80 degC and 75 kPa.
        for p in [75e3, 101_325.0] {
            let s = Saturation::new(p);
            for i in 0..=26_000 {
                let t = -50.0 + 0.00537 * f64::from(i);
                let (w, slope) = s.w_and_slope(t);
                let off = (w / raw::saturation_humidity_ratio(t, p) - 1.0).abs();
                let off_slope = (slope / raw::saturation_humidity_ratio_slope_per_k(t, p) - 1.0).abs();
                let (most, most_slope) = if t <= 50.0 { (2e-8, 1e-6) } else { (3e-7, 2e-5) };
                assert!(off < most && off_slope < most_slope, "{t}: {off} {off_slope}");
            }
        }
    }

    #[test]
    fn inv_dew_point_and_enthalpy() {
        let s = Saturation::new(98e3);
        for i in -300..=350 {
            let t = 0.1 * f64::from(i);
            let w = raw::saturation_humidity_ratio(t, 98e3);
            assert!((s.dew_point(w) - t).abs() < 1e-5, "{t} {}", s.dew_point(w));
            let (h, _) = s.h_and_slope(t);
            let (back, settled) = s.from_enthalpy(h, t + 7.0);
            assert!(settled && (back - t).abs() < 1e-6);
        }
    }

    #[test]
    fn phys_fog_keeps_heat_and_water() {
        let s = Saturation::new(101_325.0);
        for (t, w) in [(10.0, 0.009), (-8.0, 0.004), (30.0, 0.02)] {
            let h = raw::enthalpy_j_per_kg(t, w);
            let (x, settled) = s.settle(h, w);
            assert!(settled);
            assert!((x.air.w + x.fog - w).abs() < 1e-15);
            let after = x.air.h() + x.fog * CP_CONDENSATE_J_PER_KG_K * x.air.t;
            assert!((after - h).abs() < 1e-3, "{t}");
            assert_eq!(x.fog > 0.0, t < 20.0);
        }
    }
}
