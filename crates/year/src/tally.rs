//! What is counted while the year runs: by room in lanes, by hour and month for the building.

use crate::drive::BlockHour;
use crate::prepare::{LANES, Lanes, ZERO};
use crate::result::UNMET_TOLERANCE_K;
use drycoil_rooms::block::{Number, four_terms};

const NONE: Lanes = [-1.0; LANES];

/// A largest value with what was true when it came first.
#[repr(align(32))]
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
    fn take<N: Number>(&mut self, at: usize, key: N, w: N, water_c: f64, step: f64) {
        let more = key.above(key.of(&self.key, at));
        for (place, value) in [
            (&mut self.key, key),
            (&mut self.w, w),
            (&mut self.water_c, key.all(water_c)),
            (&mut self.step, key.all(step)),
        ] {
            N::choose(more, value, key.of(place, at)).put(place, at);
        }
    }
}

/// Steps with a small margin.
#[repr(align(32))]
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
#[repr(align(32))]
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
#[derive(Clone, Copy)]
pub(crate) struct Done<N> {
    pub air_c: N,
    pub w: N,
    pub mean_w: N,
    pub coil: N,
    pub heating: N,
    pub supply: N,
    pub fan: N,
    /// All heat to the air by flows, fans included.
    pub flows: N,
    pub ventilation: N,
    pub flow: N,
    pub water: N,
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
pub(crate) fn raise<N: Number>(to: &mut Lanes, at: usize, by: N) {
    by.larger(by.of(to, at)).put(to, at);
}

/// Adds, lane by lane.
#[inline(always)]
pub(crate) fn add<N: Number>(to: &mut Lanes, at: usize, more: N) {
    (more.of(to, at) + more).put(to, at);
}

/// Saturation pressure over liquid water between 5 and 40 degC, Pa: a polynomial through the crate `air`'s own values
/// (a test holds it to 1e-6), which goes on a few kelvin beyond with little loss.
#[inline(always)]
fn saturation_pa<N: Number>(t: N) -> N {
    let x = (t - t.all(22.5)) * t.all(1.0 / 17.5);
    let [a, b, c, d, e, f, g, h, i] = POLYNOMIAL;
    let x2 = x * x;
    let x4 = x2 * x2;
    let (low, high) = (four_terms(x, x2, [a, b, c, d]), four_terms(x, x2, [e, f, g, h]));
    (low + x4 * high) + (x4 * x4) * t.all(i)
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
        for l in 0..LANES {
            self.occupied[l] += hour.occupied[l] * steps;
        }
    }

    /// Sums of a step that both schemes have.
    #[inline(always)]
    pub fn step<N: Number>(&mut self, at: usize, s: &Done<N>, hour: &BlockHour, limits: &StepLimits) {
        let kind = s.w;
        let (zero, one) = (kind.all(0.0), kind.all(1.0));
        add(&mut self.coil, at, s.coil);
        add(&mut self.heating, at, s.heating);
        add(&mut self.supply, at, s.supply);
        add(&mut self.fan, at, s.fan);
        add(&mut self.flows, at, s.flows);
        add(&mut self.cold_air, at, (-s.supply).larger(zero));
        add(&mut self.ventilation, at, s.ventilation);
        add(&mut self.water_in, at, s.water);
        add(&mut self.water_out, at, s.flow * s.mean_w);
        // What is rare stands behind a look whether any room has it.
        if N::any(s.w.above(kind.of(&self.wettest.key, at))) {
            self.wettest.take(at, s.w, s.w, 0.0, limits.step);
        }
        let above = s.w.above(kind.all(limits.code_w));
        if N::any(above) {
            let above = N::choose(above, one, zero);
            add(&mut self.above_code, at, above);
            add(&mut self.above_code_occupied, at, above * kind.of(&hour.occupied, at));
        }
        if hour.any_occupied {
            self.occupied(at, s, hour, limits);
        }
    }

    #[inline(always)]
    fn occupied<N: Number>(&mut self, at: usize, s: &Done<N>, hour: &BlockHour, limits: &StepLimits) {
        let kind = s.w;
        let zero = kind.all(0.0);
        let (t, w, occ) = (s.air_c, s.w, kind.of(&hour.occupied, at));
        let rh = w * kind.all(limits.p_pa) / ((kind.all(0.621_945) + w) * saturation_pa(t));
        add(&mut self.rh_sum, at, occ * rh);
        let is = occ.above(zero);
        let tolerance = kind.all(UNMET_TOLERANCE_K);
        let over = t - kind.of(&hour.cooling_c, at);
        let under = kind.of(&hour.heating_c, at) - t;
        let (warm, cold) = (over.above(tolerance) & is, under.above(tolerance) & is);
        if N::any(warm | cold) {
            let (warm, cold) = (N::choose(warm, occ, zero), N::choose(cold, occ, zero));
            add(&mut self.warm, at, warm);
            add(&mut self.warm_k, at, warm * over);
            add(&mut self.cold, at, cold);
            add(&mut self.cold_k, at, cold * under);
        }
        let above = rh.above(kind.all(limits.rh[1])) & is;
        let below = kind.all(limits.rh[0]).above(rh) & is;
        if N::any(above | below) {
            add(&mut self.above_comfort, at, N::choose(above, occ, zero));
            add(&mut self.below_comfort, at, N::choose(below, occ, zero));
        }
        let (rh_low, rh_high) = (kind.of(&self.rh_low, at), kind.of(&self.rh_high, at));
        let (lowest, highest) = (kind.of(&self.lowest_c, at), kind.of(&self.highest_c, at));
        let extreme = rh_low.above(rh) | rh.above(rh_high) | lowest.above(t) | t.above(highest);
        if N::any(extreme & is) {
            N::choose(is, rh.smaller(rh_low), rh_low).put(&mut self.rh_low, at);
            N::choose(is, rh.larger(rh_high), rh_high).put(&mut self.rh_high, at);
            N::choose(is, t.smaller(lowest), lowest).put(&mut self.lowest_c, at);
            N::choose(is, t.larger(highest), highest).put(&mut self.highest_c, at);
        }
    }

    /// Rooms short of cooling or heating: air against its set points, and where the machine gives all it can.
    #[inline(always)]
    pub fn limited<N: Number>(&mut self, at: usize, air_c: N, hour: &BlockHour, cooling: N, heating: N) {
        let (zero, one, near) = (air_c.all(0.0), air_c.all(1.0), air_c.all(1e-6));
        let warm = air_c.above(air_c.of(&hour.cooling_c, at) + near) & cooling.above(zero);
        if N::any(warm) {
            add(&mut self.at_cooling_limit, at, N::choose(warm, one, zero));
        }
        let cold = (air_c.of(&hour.heating_c, at) - near).above(air_c) & heating.above(zero);
        if N::any(cold) {
            add(&mut self.at_heating_limit, at, N::choose(cold, one, zero));
        }
    }

    /// Margin of the coils: humidity ratio of the air that meets the coil, and 1 where the margin counts.
    #[inline(always)]
    pub fn margins<N: Number>(
        &mut self,
        at: usize,
        coil_w: N,
        counts: N,
        hour: &BlockHour,
        limits: &StepLimits,
    ) {
        let per = 1.0 / limits.margin_w[0];
        let near = coil_w.all(limits.margin_w[2] * per);
        let mut key = coil_w * coil_w.all(per) * counts;
        let close = N::any(key.above(near));
        add(&mut self.margin.counted, at, counts);
        if N::any(key.above(key.of(&self.smallest.key, at))) {
            self.smallest.take(at, key, coil_w, limits.water_c, limits.step);
        }
        let occupied = coil_w.of(&hour.occupied, at);
        if hour.any_occupied {
            key = key * occupied;
            add(&mut self.margin_occupied.counted, at, counts * occupied);
            if N::any(key.above(key.of(&self.smallest_occupied.key, at))) {
                self.smallest_occupied.take(at, key, coil_w, limits.water_c, limits.step);
            }
        }
        if close {
            for (i, w) in limits.margin_w.iter().enumerate() {
                let below = N::choose(coil_w.above(coil_w.all(*w)), counts, coil_w.all(0.0));
                add(&mut self.margin.below[i], at, below);
                add(&mut self.margin_occupied.below[i], at, below * occupied);
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
