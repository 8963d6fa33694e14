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

    #[inline(always)]
    fn take(&mut self, key: &Lanes, w: &Lanes, water_c: f64, step: f64) {
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
    /// All heat by flows of air, that of the supply and of fans included.
    pub flows: Lanes,
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
    /// Saturation at the water, kg/kg, as the sensors of the rooms believe it: above it coils are shut.
    pub shut_w: f64,
    /// Saturation at the water less what is required above the dew point, kg/kg, as the sensors believe it: where own units
    /// begin to blend.
    pub guard_w: f64,
    pub code_w: f64,
    pub rh: [f64; 2],
    pub p_pa: f64,
}

/// Larger of two, lane by lane.
#[inline(always)]
pub(crate) fn raise(to: &mut Lanes, from: &Lanes) {
    let mut top = *to;
    for l in 0..LANES {
        top[l] = if from[l] > top[l] { from[l] } else { top[l] };
    }
    *to = top;
}

/// Whether a lane is above zero.
#[inline(always)]
pub(crate) fn any(x: &Lanes) -> bool {
    let mut any = false;
    for l in 0..LANES {
        any |= x[l] > 0.0;
    }
    any
}

/// Product, lane by lane.
#[inline(always)]
pub(crate) fn times(a: &Lanes, b: &Lanes) -> Lanes {
    let mut out = *a;
    for l in 0..LANES {
        out[l] *= b[l];
    }
    out
}

/// By value, so that lanes are added together.
#[inline(always)]
pub(crate) fn add(to: &mut Lanes, from: &Lanes) {
    let mut sum = *to;
    for l in 0..LANES {
        sum[l] += from[l];
    }
    *to = sum;
}

/// Saturation pressure over liquid water between 5 and 40 degC, Pa: a polynomial through the crate `air`'s own values
/// (a test holds it to 1e-6), which goes on a few kelvin beyond with little loss.
#[inline(always)]
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
            flows: ZERO,
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

    /// Steps in the hours of use, an hour at a time.
    #[inline(always)]
    pub fn hour(&mut self, hour: &BlockHour, steps: f64) {
        let mut steps_occupied = hour.occupied;
        for l in 0..LANES {
            steps_occupied[l] *= steps;
        }
        add(&mut self.occupied, &steps_occupied);
    }

    /// Sums of a step that both schemes have.
    #[inline(always)]
    pub fn step(&mut self, s: &StepLanes<'_>, hour: &BlockHour, limits: &StepLimits) {
        let (mut cold, mut out) = (ZERO, ZERO);
        let mut wettest = false;
        let mut above = false;
        for l in 0..LANES {
            cold[l] = if s.supply[l] < 0.0 { -s.supply[l] } else { 0.0 };
            out[l] = s.flow[l] * s.mean_w[l];
            wettest |= s.w[l] > self.wettest.key[l];
            above |= s.w[l] > limits.code_w;
        }
        add(&mut self.coil, s.coil);
        add(&mut self.heating, s.heating);
        add(&mut self.supply, s.supply);
        add(&mut self.fan, s.fan);
        add(&mut self.flows, s.flows);
        add(&mut self.cold_air, &cold);
        add(&mut self.ventilation, s.ventilation);
        add(&mut self.water_in, s.water);
        add(&mut self.water_out, &out);
        // What is rare stands behind a look whether any room has it.
        if wettest {
            self.wettest.take(s.w, s.w, 0.0, limits.step);
        }
        if above {
            for l in 0..LANES {
                let above = if s.w[l] > limits.code_w { 1.0 } else { 0.0 };
                self.above_code[l] += above;
                self.above_code_occupied[l] += above * hour.occupied[l];
            }
        }
        if hour.any_occupied {
            self.occupied(s, hour, limits);
        }
    }

    #[inline(always)]
    fn occupied(&mut self, s: &StepLanes<'_>, hour: &BlockHour, limits: &StepLimits) {
        let occ = &hour.occupied;
        let (mut rh, mut rh_sum) = (ZERO, ZERO);
        let (mut unmet, mut uncomfortable, mut extreme) = (false, false, false);
        for l in 0..LANES {
            let w = s.w[l];
            rh[l] = w * limits.p_pa / ((0.621_945 + w) * saturation_pa(s.air_c[l]));
            rh_sum[l] = occ[l] * rh[l];
        }
        for l in 0..LANES {
            let (t, is) = (s.air_c[l], occ[l] > 0.0);
            unmet |= is && (t - hour.cooling_c[l] > UNMET_TOLERANCE_K)
                || (hour.heating_c[l] - t > UNMET_TOLERANCE_K);
            uncomfortable |= is && (rh[l] > limits.rh[1]) || (rh[l] < limits.rh[0]);
            extreme |= is
                && ((rh[l] < self.rh_low[l])
                    || (rh[l] > self.rh_high[l])
                    || (t < self.lowest_c[l])
                    || (t > self.highest_c[l]));
        }
        add(&mut self.rh_sum, &rh_sum);
        if unmet {
            for l in 0..LANES {
                let over = s.air_c[l] - hour.cooling_c[l];
                let under = hour.heating_c[l] - s.air_c[l];
                let warm = if over > UNMET_TOLERANCE_K { occ[l] } else { 0.0 };
                let cold = if under > UNMET_TOLERANCE_K { occ[l] } else { 0.0 };
                self.warm[l] += warm;
                self.warm_k[l] += warm * over;
                self.cold[l] += cold;
                self.cold_k[l] += cold * under;
            }
        }
        if uncomfortable {
            for l in 0..LANES {
                self.above_comfort[l] += if rh[l] > limits.rh[1] { occ[l] } else { 0.0 };
                self.below_comfort[l] += if rh[l] < limits.rh[0] { occ[l] } else { 0.0 };
            }
        }
        if extreme {
            for l in 0..LANES {
                if occ[l] > 0.0 {
                    let t = s.air_c[l];
                    self.rh_low[l] = if rh[l] < self.rh_low[l] { rh[l] } else { self.rh_low[l] };
                    self.rh_high[l] = if rh[l] > self.rh_high[l] { rh[l] } else { self.rh_high[l] };
                    self.lowest_c[l] = if t < self.lowest_c[l] { t } else { self.lowest_c[l] };
                    self.highest_c[l] = if t > self.highest_c[l] { t } else { self.highest_c[l] };
                }
            }
        }
    }

    /// Rooms short of cooling or heating, 1 or 0.
    #[inline(always)]
    pub fn limited(&mut self, cooling: &Lanes, heating: &Lanes) {
        if any(cooling) {
            add(&mut self.at_cooling_limit, cooling);
        }
        if any(heating) {
            add(&mut self.at_heating_limit, heating);
        }
    }

    /// Margin of the coils: humidity ratio of the air that meets the coil, and 1 where the margin counts.
    #[inline(always)]
    pub fn margins(&mut self, coil_w: &Lanes, counts: &Lanes, hour: &BlockHour, limits: &StepLimits) {
        let per = 1.0 / limits.margin_w[0];
        let near = limits.margin_w[2] * per;
        let (mut key, mut counted) = (ZERO, ZERO);
        let (mut close, mut closest) = (false, false);
        for l in 0..LANES {
            key[l] = coil_w[l] * per * counts[l];
            close |= key[l] > near;
            closest |= key[l] > self.smallest.key[l];
        }
        add(&mut self.margin.counted, counts);
        if closest {
            self.smallest.take(&key, coil_w, limits.water_c, limits.step);
        }
        if hour.any_occupied {
            let mut closest = false;
            for l in 0..LANES {
                counted[l] = counts[l] * hour.occupied[l];
                key[l] *= hour.occupied[l];
                closest |= key[l] > self.smallest_occupied.key[l];
            }
            add(&mut self.margin_occupied.counted, &counted);
            if closest {
                self.smallest_occupied.take(&key, coil_w, limits.water_c, limits.step);
            }
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
