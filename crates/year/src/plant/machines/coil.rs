//! Drying coils: the leaving air by apparatus dew point and bypass, as in [`drycoil_plant::drying_coil::CoilLine`], and the
//! water flow by the chord model of [`drycoil_exchange::wet_coil`].

use crate::plant::air::{Air, Saturation};
use crate::plant::{SetUpError, within};
use crate::signals::PlantLimit;
use drycoil_exchange::bypass::CP_CONDENSATE_J_PER_KG_K;
use drycoil_exchange::effectiveness::raw::counterflow;

/// Air side of a coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilForm {
    bypass: f64,
    coldest_c: f64,
    coldest_w: f64,
}

/// A coil in a step, per kg/s of dry air where not said otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilStep {
    /// Air entering.
    pub entering: Air,
    /// Air leaving.
    pub leaving: Air,
    /// Apparatus dew point; the entering dry bulb when idle, degC.
    pub apparatus_c: f64,
    /// Heat to the water, J per kg of dry air.
    pub total: f64,
    /// Its sensible part.
    pub sensible: f64,
    /// Condensate, kg per kg of dry air.
    pub condensate: f64,
    /// Heat that the condensate carries away, J per kg of dry air.
    pub condensate_heat: f64,
    /// Leaving humidity ratio above the target; 0 when reached.
    pub missed_w: f64,
    /// Leaving dry bulb above the target, K; 0 when reached.
    pub missed_k: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

impl CoilStep {
    /// A coil that does nothing.
    #[inline]
    pub fn idle(entering: Air) -> Self {
        Self {
            entering,
            leaving: entering,
            apparatus_c: entering.t,
            total: 0.0,
            sensible: 0.0,
            condensate: 0.0,
            condensate_heat: 0.0,
            missed_w: 0.0,
            missed_k: 0.0,
            limits: 0,
        }
    }

    /// The coil with a part of the air led around it, so that the mixture takes this share of the heat.
    #[inline]
    #[must_use]
    pub fn share(&self, share: f64, target_w: Option<f64>, target_t: Option<f64>) -> Self {
        let (a, b) = (self.entering, self.leaving);
        let w = a.w + share * (b.w - a.w);
        let h = a.h() + share * (b.h() - a.h());
        let t = drycoil_air::raw::dry_bulb_from_enthalpy_c(h, w);
        Self {
            leaving: Air { t, w },
            total: self.total * share,
            sensible: self.sensible * share,
            condensate: self.condensate * share,
            condensate_heat: self.condensate_heat * share,
            missed_w: target_w.map_or(0.0, |x| over(w, x, 1e-11)),
            missed_k: target_t.map_or(0.0, |x| over(t, x, 1e-9)),
            ..*self
        }
    }
}

#[inline]
fn over(x: f64, limit: f64, rounding: f64) -> f64 {
    if x - limit > rounding { x - limit } else { 0.0 }
}

impl CoilForm {
    /// From the share of air that passes untouched and the coldest apparatus dew point, degC.
    ///
    /// # Errors
    /// A bypass outside 0 to 0.5, an apparatus dew point outside 0 to 25 degC.
    pub fn new(bypass: f64, coldest_c: f64, saturation: &Saturation) -> Result<Self, SetUpError> {
        within("bypass of the coil", bypass, 0.0, 0.5)?;
        within("coldest apparatus dew point in degC", coldest_c, 0.0, 25.0)?;
        Ok(Self { bypass, coldest_c, coldest_w: saturation.w(coldest_c) })
    }

    #[inline]
    fn line(&self, e: Air, adp: f64, ws: f64) -> Air {
        let contact = 1.0 - self.bypass;
        let t = e.t - contact * (e.t - adp);
        Air { t, w: if ws >= e.w { e.w } else { e.w - contact * (e.w - ws) } }
    }

    /// Leaving air behind an apparatus dew point; saturated at the same enthalpy where the line runs into fog.
    #[inline]
    fn leave(&self, s: &Saturation, e: Air, adp: f64) -> (Air, bool) {
        let ws = s.w(adp);
        let line = self.line(e, adp, ws);
        if ws >= e.w || line.w <= s.w(line.t) * (1.0 + 1e-6) {
            return (line, true);
        }
        let (t, settled) = s.from_enthalpy(line.h(), line.t);
        (Air { t, w: s.w(t) }, settled)
    }

    /// Apparatus dew point behind which the air leaves saturated at `w`; `None` when even the coldest leaves more water.
    #[inline]
    fn saturated(&self, s: &Saturation, e: Air, w: f64) -> Option<(f64, Air, bool)> {
        let cold = self.line(e, self.coldest_c, self.coldest_w);
        let leaving = Air { t: s.dew_point(w), w };
        let h = leaving.h();
        let fog = cold.w > s.w(cold.t) * (1.0 + 1e-6);
        if if fog { cold.h() >= h } else { cold.w >= w } {
            return None;
        }
        let contact = 1.0 - self.bypass;
        let (mut low, mut high) = (self.coldest_c, e.t);
        let mut adp = leaving.t.clamp(low, high);
        for _ in 0..40 {
            let (ws, slope) = s.w_and_slope(adp);
            let line = self.line(e, adp, ws);
            let f = line.h() - h;
            let wet = if ws < e.w { slope } else { 0.0 };
            let d = contact * (line.cp() + wet * drycoil_air::raw::vapour_enthalpy_j_per_kg(line.t));
            if f > 0.0 {
                high = adp;
            } else {
                low = adp;
            }
            let next = adp - f / d;
            let step = adp - next;
            if step.abs() < 1e-9 {
                return Some((adp, leaving, true));
            }
            adp = if next >= low && next <= high { next } else { 0.5 * (low + high) };
        }
        Some((adp, leaving, false))
    }

    /// The coil run to its targets, the stricter of which governs.
    #[inline]
    pub fn run(&self, s: &Saturation, e: Air, target_w: Option<f64>, target_t: Option<f64>) -> CoilStep {
        let contact = 1.0 - self.bypass;
        let mut adp = f64::INFINITY;
        let mut fixed = None;
        let mut limits = 0;
        if let Some(w) = target_w
            && e.w > w
        {
            let ws = e.w - (e.w - w) / contact;
            adp = if ws <= self.coldest_w { self.coldest_c } else { s.dew_point(ws) };
            let t = e.t - contact * (e.t - adp);
            if adp == self.coldest_c || adp >= e.t || w > s.w(t) * (1.0 + 1e-6) {
                if let Some((found, leaving, settled)) = self.saturated(s, e, w) {
                    adp = found;
                    fixed = Some(leaving);
                    if !settled {
                        limits |= PlantLimit::NotSettled.bit();
                    }
                } else {
                    adp = self.coldest_c;
                }
            }
        }
        if let Some(t) = target_t
            && e.t > t
        {
            let colder = (e.t - (e.t - t) / contact).max(self.coldest_c);
            if colder < adp {
                adp = colder;
                fixed = None;
            }
        }
        if adp >= e.t {
            return CoilStep {
                missed_w: target_w.map_or(0.0, |x| over(e.w, x, 1e-11)),
                missed_k: target_t.map_or(0.0, |x| over(e.t, x, 1e-9)),
                limits,
                ..CoilStep::idle(e)
            };
        }
        let leaving = if let Some(leaving) = fixed {
            leaving
        } else {
            let (leaving, settled) = self.leave(s, e, adp);
            if !settled {
                limits |= PlantLimit::NotSettled.bit();
            }
            leaving
        };
        let condensate = e.w - leaving.w;
        let condensate_heat = condensate * CP_CONDENSATE_J_PER_KG_K * leaving.t;
        CoilStep {
            entering: e,
            leaving,
            apparatus_c: adp.min(e.t),
            total: e.h() - leaving.h() - condensate_heat,
            sensible: leaving.cp() * (e.t - leaving.t),
            condensate,
            condensate_heat,
            missed_w: target_w.map_or(0.0, |x| over(leaving.w, x, 1e-11)),
            missed_k: target_t.map_or(0.0, |x| over(leaving.t, x, 1e-9)),
            limits,
        }
    }
}

/// Share of the resistance of a wet coil at design that is on the air side. Common practice, no source.
const AIR_SIDE_SHARE: f64 = 0.6;
/// Share of the rest that is the water film; the other part is metal. Common practice, no source.
const WATER_FILM_SHARE: f64 = 0.7;
/// Exponents of the conductances in the flows: air (wet fins), water (turbulent film). Common practice, no source.
const AIR_EXPONENT: f64 = 0.6;
const WATER_EXPONENT: f64 = 0.8;

/// Specific heat of moist air of which the conductance of a wet surface is counted, J/(kg K).
const CP_AIR: f64 = 1020.0;

/// Air entering a coil.
struct CoilAir {
    m: f64,
    t: f64,
    h: f64,
    c_air: f64,
    outer: f64,
    dry: bool,
}

/// Smallest flow over the largest for which the coil is solved.
const LEAST_FLOW: f64 = 2e-3;

/// Water side of a coil: the flow that the valve sets for a heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilWater {
    air_kg_per_s: f64,
    /// Capacity rate of the water at design, W/K.
    c_design: f64,
    outer: f64,
    metal_k_per_w: f64,
    film_k_per_w: f64,
    water_c: f64,
    h_water: f64,
    cp_water: f64,
    largest: f64,
    last_air: (f64, f64),
    /// Where the search of the last step ended: logarithm of the capacity rate over that of design, and its slope against
    /// the logarithm of the heat. The next search begins there; what is found does not depend on it beyond its residual.
    last_flow: Option<(f64, f64)>,
}

/// Water of a coil in a step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CoilWaterStep {
    /// Water flow, kg/s.
    pub kg_per_s: f64,
    /// Share of the heat asked that the open valve gives; 1 when it is enough.
    pub share: f64,
    /// Limits, as bits of [`PlantLimit`].
    pub limits: u32,
}

/// A coil at its design point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilDesign {
    /// Dry air, kg/s.
    pub air_kg_per_s: f64,
    /// Entering air, J/kg.
    pub h_in: f64,
    /// Heat to the water, W.
    pub heat_w: f64,
    /// Fall of the air's enthalpy, W.
    pub air_w: f64,
    /// Entering water, degC.
    pub water_c: f64,
    /// Rise of the water, K.
    pub rise_k: f64,
    /// Entering air where nothing condenses at this point: the coil is then sized dry. `None` for a wet coil.
    pub dry_in: Option<Air>,
    /// Largest water flow over the flow of design.
    pub largest_share: f64,
    /// Specific heat of the water, J/(kg K).
    pub cp_water: f64,
}

impl CoilWater {
    /// A coil just large enough for its design point.
    ///
    /// # Errors
    /// A design that no counterflow coil reaches.
    pub fn new(d: &CoilDesign, saturation: &Saturation) -> Result<Self, SetUpError> {
        let (h_water, _) = saturation.h_and_slope(d.water_c);
        let c_design = d.heat_w / d.rise_k;
        if let Some(air) = d.dry_in {
            let (outer, inner) = Self::dry_conductances(d, air, c_design)?;
            return Ok(Self::with(d, c_design, outer, inner, h_water));
        }
        let (h_end, _) = saturation.h_and_slope(d.water_c + d.rise_k);
        let slope = (h_end - h_water) / d.rise_k;
        let ratio = d.air_kg_per_s * slope / c_design;
        let effect = d.air_w / (d.air_kg_per_s * (d.h_in - h_water));
        within("enthalpy effectiveness of the coil at design", effect, 1e-6, 0.999)?;
        // Transfer units of counterflow for this effectiveness, where the capacity ratio may lie above one.
        let x = (1.0 - effect) / (1.0 - ratio * effect);
        within("what a counterflow coil leaves at design", x, 1e-12, 1e12)?;
        let ntu = if (ratio - 1.0).abs() < 1e-9 { effect / (1.0 - effect) } else { -x.ln() / (1.0 - ratio) };
        within("transfer units of the coil at design", ntu, 1e-6, 60.0)?;
        let conductance = ntu * d.air_kg_per_s;
        let outer = CP_AIR * conductance / AIR_SIDE_SHARE;
        let inner = slope * conductance / (1.0 - AIR_SIDE_SHARE);
        Ok(Self::with(d, c_design, outer, inner, h_water))
    }

    /// Conductances, W/K, of air side and water side of a coil on which nothing condenses.
    fn dry_conductances(d: &CoilDesign, air: Air, c_design: f64) -> Result<(f64, f64), SetUpError> {
        let c_air = d.air_kg_per_s * air.cp();
        let effect = d.air_w / (c_air * (air.t - d.water_c));
        within("effectiveness of the dry coil at design", effect, 1e-6, 0.999)?;
        let ratio = c_air / c_design;
        let x = (1.0 - effect) / (1.0 - ratio * effect);
        within("what a dry counterflow coil leaves at design", x, 1e-12, 1e12)?;
        let ntu = if (ratio - 1.0).abs() < 1e-9 { effect / (1.0 - effect) } else { -x.ln() / (1.0 - ratio) };
        within("transfer units of the dry coil at design", ntu, 1e-6, 60.0)?;
        let conductance = ntu * c_air;
        Ok((conductance / AIR_SIDE_SHARE, conductance / (1.0 - AIR_SIDE_SHARE)))
    }

    fn with(d: &CoilDesign, c_design: f64, outer: f64, inner: f64, h_water: f64) -> Self {
        Self {
            air_kg_per_s: d.air_kg_per_s,
            c_design,
            outer,
            metal_k_per_w: (1.0 - WATER_FILM_SHARE) / inner,
            film_k_per_w: WATER_FILM_SHARE / inner,
            water_c: d.water_c,
            h_water,
            cp_water: d.cp_water,
            largest: d.largest_share,
            last_air: (d.air_kg_per_s, 1.0),
            last_flow: None,
        }
    }

    /// Entering water, degC.
    pub fn water_c(&self) -> f64 {
        self.water_c
    }

    /// Conductances, W/K, at an air flow and a capacity rate of the water: air side, and metal with water side.
    pub fn conductances(&self, air_kg_per_s: f64, c_water: f64) -> (f64, f64) {
        (
            self.outer * (air_kg_per_s / self.air_kg_per_s).powf(AIR_EXPONENT),
            1.0 / (self.metal_k_per_w + self.film_k_per_w * (c_water / self.c_design).powf(-WATER_EXPONENT)),
        )
    }

    /// Enthalpy taken from the air at a capacity rate of the water, W, for water that rises by `heat / c`: the larger of the
    /// all-wet and the all-dry duty. `y` is the logarithm of the capacity rate over that of design.
    #[inline]
    fn air_heat(&self, s: &Saturation, x: &CoilAir, y: f64, heat_w: f64) -> f64 {
        let c = self.c_design * y.exp();
        let inner = 1.0 / (self.metal_k_per_w + self.film_k_per_w * (-WATER_EXPONENT * y).exp());
        let (small, large) = (x.c_air.min(c), x.c_air.max(c));
        let ua = 1.0 / (1.0 / x.outer + 1.0 / inner);
        let dry = counterflow(ua / small, small / large) * small * (x.t - self.water_c);
        if x.dry || x.h <= self.h_water {
            return dry;
        }
        let rise = (heat_w / c).max(1e-3);
        let slope = (s.h_and_slope(self.water_c + rise).0 - self.h_water) / rise;
        let conductance = 1.0 / (CP_AIR / x.outer + slope / inner);
        let wet = counterflow(conductance / x.m, x.m * slope / c) * x.m * (x.h - self.h_water);
        wet.max(dry)
    }

    /// Water flow for what a coil does to `m` kg/s of air. Where the open valve is not enough, the share that it gives.
    #[inline]
    pub fn flow(&mut self, s: &Saturation, m: f64, coil: &CoilStep) -> CoilWaterStep {
        let heat_w = m * coil.total;
        let air_w = heat_w + m * coil.condensate_heat;
        if heat_w <= 0.0 || m <= 0.0 {
            return CoilWaterStep { share: 1.0, ..CoilWaterStep::default() };
        }
        if m != self.last_air.0 {
            self.last_air = (m, (m / self.air_kg_per_s).powf(AIR_EXPONENT));
        }
        let x = CoilAir {
            m,
            t: coil.entering.t,
            h: coil.entering.h(),
            c_air: m * coil.entering.cp(),
            outer: self.outer * self.last_air.1,
            dry: coil.condensate <= 0.0,
        };
        // The heat rises with the flow: bracketed search in the logarithm of the flow, on the logarithm of the heat. An end
        // of the bracket is looked at only when the search comes to it.
        let most = self.largest.ln();
        let least = most + LEAST_FLOW.ln();
        let (mut low, mut high) = (least, most);
        let (mut least_is_too_little, mut most_is_enough) = (false, false);
        let (mut y, mut slope) = self.last_flow.unwrap_or_else(|| {
            // Water that leaves half way to the entering air: a first flow.
            let first = heat_w / (0.5 * (x.t - self.water_c)).max(0.5);
            ((first / self.c_design).ln(), 2.0)
        });
        y = y.clamp(least + 0.4, most);
        let mut before: Option<(f64, f64)> = None;
        for _ in 0..40 {
            let f = (self.air_heat(s, &x, y, heat_w) / air_w).ln();
            if f > 0.0 {
                (high, most_is_enough) = (y, true);
            } else {
                (low, least_is_too_little) = (y, true);
            }
            if let Some((py, pf)) = before
                && (f - pf).abs() > 1e-14
            {
                slope = (y - py) / (f - pf);
            }
            let next = y - f * slope;
            // What a step of the secant leaves is far smaller still.
            if f.abs() < 1e-9 || (f.abs() < 1e-6 && before.is_some() && next > low && next < high) {
                let found = if f.abs() < 1e-9 { y } else { next };
                self.last_flow = Some((found, slope.clamp(0.5, 20.0)));
                return self.valve(found, 0);
            }
            if next >= high && !most_is_enough {
                if self.air_heat(s, &x, most, heat_w) < air_w {
                    return self.open_valve(s, &x, most, heat_w, air_w);
                }
                most_is_enough = true;
            }
            if next <= low && !least_is_too_little {
                // Below the smallest flow that the coil can be solved for, the flow goes with the heat.
                let at_least = self.air_heat(s, &x, least, heat_w);
                if at_least >= air_w {
                    let step = self.valve(least, 0);
                    return CoilWaterStep { kg_per_s: step.kg_per_s * air_w / at_least, ..step };
                }
                least_is_too_little = true;
            }
            before = Some((y, f));
            y = if next > low && next < high { next } else { 0.5 * (low + high) };
            if high - low < 1e-13 {
                break;
            }
        }
        // Where the duty turns from dry to wet the heat has a corner, not a jump; a bracket down to rounding is the flow.
        self.valve(y, if high - low < 1e-9 { 0 } else { PlantLimit::NotSettled.bit() })
    }

    /// Enough water.
    #[inline]
    fn valve(&self, y: f64, limits: u32) -> CoilWaterStep {
        CoilWaterStep { kg_per_s: self.c_design * y.exp() / self.cp_water, share: 1.0, limits }
    }

    /// What the open valve gives, by a secant on the share of the heat.
    fn open_valve(&self, s: &Saturation, x: &CoilAir, most: f64, heat_w: f64, air_w: f64) -> CoilWaterStep {
        let gap = |share: f64| (self.air_heat(s, x, most, heat_w * share) - air_w * share) / air_w;
        let (mut a, mut fa) = (1.0, gap(1.0));
        let mut b = (1.0 + fa).clamp(0.01, 1.0);
        let mut limits = PlantLimit::NotSettled.bit();
        for _ in 0..20 {
            let fb = gap(b);
            if fb.abs() < 1e-10 {
                limits = 0;
                break;
            }
            let next = b - fb * (b - a) / (fb - fa);
            (a, fa) = (b, fb);
            b = next.clamp(1e-4, 1.0);
        }
        CoilWaterStep { share: b, ..self.valve(most, limits) }
    }
}
