//! What is counted while the year runs: by room in lanes, by hour and month for the building.

use crate::drive::BlockHour;
use crate::prepare::{LANES, Lanes, ZERO};
use crate::result::UNMET_TOLERANCE_K;

const NONE: Lanes = [-1.0; LANES];

/// A largest value with what was true when it came first.
#[derive(Debug, Clone)]
pub(crate) struct Record {
    pub key: Lanes,
    pub w: Lanes,
    pub water_c: Lanes,
    pub step: Lanes,
}

impl Record {
    fn new() -> Self {
        Self { key: ZERO, w: ZERO, water_c: ZERO, step: NONE }
    }

    #[inline]
    fn offer(&mut self, key: &Lanes, w: &Lanes, water_c: f64, step: f64) {
        let mut more = false;
        for l in 0..LANES {
            more |= key[l] > self.key[l];
        }
        if more {
            for l in 0..LANES {
                if key[l] > self.key[l] {
                    self.key[l] = key[l];
                    self.w[l] = w[l];
                    self.water_c[l] = water_c;
                    self.step[l] = step;
                }
            }
        }
    }
}

/// Steps with a small margin.
#[derive(Debug, Clone)]
pub(crate) struct MarginSteps {
    pub counted: Lanes,
    pub below: [Lanes; 3],
}

impl MarginSteps {
    fn new() -> Self {
        Self { counted: ZERO, below: [ZERO; 3] }
    }
}

/// Sums of a block over the steps of the year.
#[derive(Debug, Clone)]
pub(crate) struct BlockTally {
    /// W times steps, each with its own sign.
    pub coil: Lanes,
    pub heating: Lanes,
    pub supply: Lanes,
    pub fan: Lanes,
    pub other: Lanes,
    /// Turnover of the flows: absolute values.
    pub air_total: Lanes,
    /// Sensible cooling by cold air alone.
    pub cold_air: Lanes,
    /// kg/s times steps.
    pub ventilation: Lanes,
    pub water_in: Lanes,
    pub water_out: Lanes,
    pub condensate: Lanes,
    pub condensing: Lanes,
    pub held_shut: Lanes,
    pub held_shut_occupied: Lanes,
    pub margin: MarginSteps,
    pub margin_occupied: MarginSteps,
    pub smallest: Record,
    pub smallest_occupied: Record,
    pub wettest: Record,
    pub occupied: Lanes,
    pub lowest_c: Lanes,
    pub highest_c: Lanes,
    pub rh_sum: Lanes,
    pub rh_low: Lanes,
    pub rh_high: Lanes,
    pub above_code: Lanes,
    pub above_code_occupied: Lanes,
    pub above_comfort: Lanes,
    pub below_comfort: Lanes,
    pub warm: Lanes,
    pub warm_k: Lanes,
    pub cold: Lanes,
    pub cold_k: Lanes,
    pub at_cooling_limit: Lanes,
    pub at_heating_limit: Lanes,
}

/// What a step did to the rooms of a block, for the sums.
pub(crate) struct StepLanes<'a> {
    pub air_c: &'a Lanes,
    pub w: &'a Lanes,
    pub mean_w: &'a Lanes,
    pub coil: &'a Lanes,
    pub heating: &'a Lanes,
    pub supply: &'a Lanes,
    pub fan: &'a Lanes,
    /// All heat to the air by flows, fans included.
    pub flows: &'a Lanes,
    pub ventilation: &'a Lanes,
    pub flow: &'a Lanes,
    pub water: &'a Lanes,
}

/// Limits that hold for a whole step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StepLimits {
    pub step: f64,
    pub water_c: f64,
    /// Saturation at the water, and at 1 and 2 degF below it, kg/kg.
    pub margin_w: [f64; 3],
    /// Saturation at the water less what is required above the dew point, kg/kg: where own units begin to blend.
    pub guard_w: f64,
    pub code_w: f64,
    pub rh: [f64; 2],
    pub p_pa: f64,
}

/// Larger of two, lane by lane.
#[inline]
pub(crate) fn raise(to: &mut Lanes, from: &Lanes) {
    let mut top = *to;
    for l in 0..LANES {
        top[l] = if from[l] > top[l] { from[l] } else { top[l] };
    }
    *to = top;
}

/// Product, lane by lane.
#[inline]
pub(crate) fn times(a: &Lanes, b: &Lanes) -> Lanes {
    let mut out = *a;
    for l in 0..LANES {
        out[l] *= b[l];
    }
    out
}

/// By value, so that lanes are added together.
#[inline]
pub(crate) fn add(to: &mut Lanes, from: &Lanes) {
    let mut sum = *to;
    for l in 0..LANES {
        sum[l] += from[l];
    }
    *to = sum;
}

/// Saturation pressure over liquid water between 5 and 40 degC, Pa: a polynomial through the crate `air`'s own values
/// (a test holds it to 1e-6), which goes on a few kelvin beyond with little loss.
#[inline]
fn saturation_pa(t: f64) -> f64 {
    let x = (t - 22.5) / 17.5;
    let mut p = POLYNOMIAL[POLYNOMIAL.len() - 1];
    for c in POLYNOMIAL.iter().rev().skip(1) {
        p = p * x + c;
    }
    p
}

const POLYNOMIAL: [f64; 9] = [
    2726.497936994816,
    2899.265756661077,
    1346.9851216845113,
    351.67482997110477,
    54.394693823453736,
    4.560557353750486,
    0.09616345154556359,
    -0.014466908566410287,
    -0.000584338403977507,
];

impl BlockTally {
    pub fn new() -> Self {
        Self {
            coil: ZERO,
            heating: ZERO,
            supply: ZERO,
            fan: ZERO,
            other: ZERO,
            air_total: ZERO,
            cold_air: ZERO,
            ventilation: ZERO,
            water_in: ZERO,
            water_out: ZERO,
            condensate: ZERO,
            condensing: ZERO,
            held_shut: ZERO,
            held_shut_occupied: ZERO,
            margin: MarginSteps::new(),
            margin_occupied: MarginSteps::new(),
            smallest: Record::new(),
            smallest_occupied: Record::new(),
            wettest: Record::new(),
            occupied: ZERO,
            lowest_c: [f64::INFINITY; LANES],
            highest_c: [f64::NEG_INFINITY; LANES],
            rh_sum: ZERO,
            rh_low: [f64::INFINITY; LANES],
            rh_high: [f64::NEG_INFINITY; LANES],
            above_code: ZERO,
            above_code_occupied: ZERO,
            above_comfort: ZERO,
            below_comfort: ZERO,
            warm: ZERO,
            warm_k: ZERO,
            cold: ZERO,
            cold_k: ZERO,
            at_cooling_limit: ZERO,
            at_heating_limit: ZERO,
        }
    }

    /// Sums of a step that both schemes have.
    #[inline]
    pub fn step(&mut self, s: &StepLanes<'_>, hour: &BlockHour, limits: &StepLimits) {
        let (mut other, mut total, mut cold) = (ZERO, ZERO, ZERO);
        for l in 0..LANES {
            other[l] = s.flows[l] - s.supply[l] - s.fan[l];
            total[l] = s.flows[l] + s.heating[l] - s.coil[l];
            cold[l] = if s.supply[l] < 0.0 { -s.supply[l] } else { 0.0 };
        }
        add(&mut self.coil, s.coil);
        add(&mut self.heating, s.heating);
        add(&mut self.supply, s.supply);
        add(&mut self.fan, s.fan);
        add(&mut self.other, &other);
        add(&mut self.air_total, &total);
        add(&mut self.cold_air, &cold);
        add(&mut self.ventilation, s.ventilation);
        let mut out = ZERO;
        for l in 0..LANES {
            out[l] = s.flow[l] * s.mean_w[l];
        }
        add(&mut self.water_in, s.water);
        add(&mut self.water_out, &out);
        self.wettest.offer(s.w, s.w, 0.0, limits.step);
        let mut above = ZERO;
        for l in 0..LANES {
            above[l] = if s.w[l] > limits.code_w { 1.0 } else { 0.0 };
        }
        add(&mut self.above_code, &above);
        if hour.any_occupied {
            self.occupied(s, hour, limits, &above);
        }
    }

    fn occupied(&mut self, s: &StepLanes<'_>, hour: &BlockHour, limits: &StepLimits, above: &Lanes) {
        let occ = &hour.occupied;
        let (mut warm, mut warm_k, mut cold, mut cold_k) = (ZERO, ZERO, ZERO, ZERO);
        let (mut rh_sum, mut wet, mut dry, mut code) = (ZERO, ZERO, ZERO, ZERO);
        for l in 0..LANES {
            let t = s.air_c[l];
            let over = t - hour.cooling_c[l];
            let under = hour.heating_c[l] - t;
            warm[l] = if over > UNMET_TOLERANCE_K { occ[l] } else { 0.0 };
            warm_k[l] = warm[l] * over;
            cold[l] = if under > UNMET_TOLERANCE_K { occ[l] } else { 0.0 };
            cold_k[l] = cold[l] * under;
        }
        for l in 0..LANES {
            let w = s.w[l];
            let rh = w * limits.p_pa / ((0.621_945 + w) * saturation_pa(s.air_c[l]));
            rh_sum[l] = occ[l] * rh;
            wet[l] = if rh > limits.rh[1] { occ[l] } else { 0.0 };
            dry[l] = if rh < limits.rh[0] { occ[l] } else { 0.0 };
            code[l] = occ[l] * above[l];
            let is = occ[l] > 0.0;
            let low = if is { rh } else { f64::INFINITY };
            let high = if is { rh } else { f64::NEG_INFINITY };
            self.rh_low[l] = if low < self.rh_low[l] { low } else { self.rh_low[l] };
            self.rh_high[l] = if high > self.rh_high[l] { high } else { self.rh_high[l] };
            let coldest = if is { s.air_c[l] } else { f64::INFINITY };
            let warmest = if is { s.air_c[l] } else { f64::NEG_INFINITY };
            self.lowest_c[l] = if coldest < self.lowest_c[l] { coldest } else { self.lowest_c[l] };
            self.highest_c[l] = if warmest > self.highest_c[l] { warmest } else { self.highest_c[l] };
        }
        add(&mut self.occupied, occ);
        add(&mut self.warm, &warm);
        add(&mut self.warm_k, &warm_k);
        add(&mut self.cold, &cold);
        add(&mut self.cold_k, &cold_k);
        add(&mut self.rh_sum, &rh_sum);
        add(&mut self.above_comfort, &wet);
        add(&mut self.below_comfort, &dry);
        add(&mut self.above_code_occupied, &code);
    }

    /// Margin of the coils: humidity ratio of the air that meets the coil, and 1 where the margin counts.
    #[inline]
    pub fn margins(&mut self, coil_w: &Lanes, counts: &Lanes, hour: &BlockHour, limits: &StepLimits) {
        let per = 1.0 / limits.margin_w[0];
        let (mut key, mut occupied) = (ZERO, ZERO);
        let mut close = false;
        for l in 0..LANES {
            key[l] = coil_w[l] * per * counts[l];
            close |= key[l] > limits.margin_w[2] * per;
            occupied[l] = key[l] * hour.occupied[l];
        }
        add(&mut self.margin.counted, counts);
        self.smallest.offer(&key, coil_w, limits.water_c, limits.step);
        if hour.any_occupied {
            let mut counted = ZERO;
            for l in 0..LANES {
                counted[l] = counts[l] * hour.occupied[l];
            }
            add(&mut self.margin_occupied.counted, &counted);
            self.smallest_occupied.offer(&occupied, coil_w, limits.water_c, limits.step);
        }
        if close {
            for (i, w) in limits.margin_w.iter().enumerate() {
                for l in 0..LANES {
                    let below = if coil_w[l] > *w { counts[l] } else { 0.0 };
                    self.margin.below[i][l] += below;
                    self.margin_occupied.below[i][l] += below * hour.occupied[l];
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::saturation_pa;
    use drycoil_air::raw;

    /// The polynomial against the crate `air`: 1e-6 of the value from 5 to 40 degC, the range of occupied rooms.
    #[test]
    fn xchk_saturation_polynomial() {
        for i in 0..=700 {
            let t = 5.0 + 0.05 * f64::from(i);
            let exact = raw::saturation_pressure_pa(t);
            assert!((saturation_pa(t) / exact - 1.0).abs() < 1e-6, "{t}");
        }
    }
}
