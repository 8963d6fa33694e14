//! What delays and blinds controls: first-order lags, transport, travel times, sensors.

/// A value that follows another as `tau dx/dt = target - x`, exactly for a target held over the step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lag {
    /// Value now.
    pub value: f64,
}

/// Part of the old value that is left after a step; 0 for a time constant of 0.
///
/// ```
/// use drycoil_control::excursion::lag::{Lag, kept};
/// let mut lag = Lag { value: 0.0 };
/// let part = kept(5.0, 60.0);
/// for _ in 0..12 {
///     lag.advance(1.0, part);
/// }
/// // After one time constant 1 - 1/e is reached, whatever the step.
/// assert!((lag.value - (1.0 - (-1.0_f64).exp())).abs() < 1e-12);
/// ```
pub fn kept(step_s: f64, time_constant_s: f64) -> f64 {
    if time_constant_s > 0.0 { (-step_s / time_constant_s).exp() } else { 0.0 }
}

impl Lag {
    /// One step towards the target; `kept` as [`kept`] gives it.
    pub fn advance(&mut self, target: f64, kept: f64) -> f64 {
        self.value = target + (self.value - target) * kept;
        self.value
    }
}

/// Values of the past, read with a delay; between two of them a straight line.
#[derive(Debug, Clone, PartialEq)]
pub struct Transport {
    step_s: f64,
    past: Vec<f64>,
    newest: usize,
}

impl Transport {
    /// A stream that has carried this value for ever; no reading is older than `longest_s`.
    pub fn new(value: f64, step_s: f64, longest_s: f64) -> Self {
        let count = (longest_s / step_s).ceil() as usize + 2;
        Self { step_s, past: vec![value; count], newest: 0 }
    }

    /// A new value at the end of a step.
    pub fn push(&mut self, value: f64) {
        self.newest = (self.newest + 1) % self.past.len();
        self.past[self.newest] = value;
    }

    /// The value as it was `delay_s` ago, from 0 to the longest delay.
    pub fn before(&self, delay_s: f64) -> f64 {
        let steps = delay_s / self.step_s;
        let whole = steps as usize;
        let part = steps - whole as f64;
        let n = self.past.len();
        let at = |k: usize| self.past[(self.newest + n - k) % n];
        if part == 0.0 { at(whole) } else { at(whole) * (1.0 - part) + at(whole + 1) * part }
    }
}

/// A valve or damper with a travel time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Actuator {
    /// Position, 0 to 1.
    pub position: f64,
}

impl Actuator {
    /// One step towards the commanded position; `most` is the step over the travel time. Gives the mean over the step.
    pub fn advance(&mut self, command: f64, most: f64) -> f64 {
        let before = self.position;
        let way = command - before;
        if way.abs() <= most {
            self.position = command;
            // The way takes only part of the step.
            let share = if most > 0.0 { way.abs() / most } else { 0.0 };
            command - 0.5 * way * share
        } else {
            self.position = before + most * way.signum();
            0.5 * (before + self.position)
        }
    }
}

/// A number from 0 to 1 that belongs to a seed and two counters, whatever was drawn before.
pub fn uniform(seed: u64, first: u64, second: u64) -> f64 {
    (mixed(seed, first, second) >> 11) as f64 / (1_u64 << 53) as f64
}

fn mixed(seed: u64, first: u64, second: u64) -> u64 {
    let mut z = seed
        .wrapping_add(first.wrapping_mul(0x9e37_79b9_7f4a_7c15))
        .wrapping_add(second.wrapping_mul(0xd1b5_4a32_d192_ed03))
        .wrapping_add(0x9e37_79b9_7f4a_7c15);
    for _ in 0..2 {
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
    }
    z
}

/// A nearly normal number of mean 0 and standard deviation 1 (sum of four uniform ones; within 3.47) that belongs to a
/// seed and two counters.
pub fn noise(seed: u64, first: u64, second: u64) -> f64 {
    let bits = mixed(seed, first, second);
    let sum: u64 = (0..4).map(|k| bits >> (16 * k) & 0xffff).sum();
    ((sum as f64 + 2.0) / 65536.0 - 2.0) * 3.0_f64.sqrt()
}

/// What is wrong with a sensor for a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SensorFault {
    /// Reads this much too high (negative: too low), K.
    Bias {
        /// K.
        k: f64,
    },
    /// Reads more and more too high (negative: too low) from the beginning of the fault, K/s.
    Drift {
        /// K/s.
        k_per_s: f64,
    },
    /// Keeps the value that it had when the fault began.
    Stuck,
    /// Tells nothing, and that it tells nothing.
    Failed,
}

/// A sensor with its lag.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    /// What it would read without error.
    pub lag: Lag,
    /// Its lasting error, K.
    pub bias_k: f64,
    /// Reading when it got stuck.
    pub stuck_c: Option<f64>,
    /// Number of the sensor, for its noise.
    pub number: u64,
}

/// A reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// degC.
    pub value_c: f64,
    /// Whether the sensor says that it is well.
    pub good: bool,
}

impl Sensor {
    /// A sensor in balance with this value.
    pub fn new(number: u64, value_c: f64) -> Self {
        Self { lag: Lag { value: value_c }, bias_k: 0.0, stuck_c: None, number }
    }

    /// Reading now. `fault` with the time since it began, s; `noise_k` the standard deviation of the noise, and the
    /// counter of the control cycle to which it belongs.
    pub fn read(
        &mut self,
        fault: Option<(SensorFault, f64)>,
        noise_k: f64,
        seed: u64,
        cycle: u64,
    ) -> Reading {
        let well = self.lag.value + self.bias_k + noise_k * noise(seed, self.number, cycle);
        if !matches!(fault, Some((SensorFault::Stuck, _))) {
            self.stuck_c = None;
        }
        match fault {
            None => Reading { value_c: well, good: true },
            Some((SensorFault::Bias { k }, _)) => Reading { value_c: well + k, good: true },
            Some((SensorFault::Drift { k_per_s }, since_s)) => {
                Reading { value_c: well + k_per_s * since_s, good: true }
            }
            Some((SensorFault::Stuck, _)) => {
                Reading { value_c: *self.stuck_c.get_or_insert(well), good: true }
            }
            Some((SensorFault::Failed, _)) => Reading { value_c: well, good: false },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form of a first-order lag, at 1, 5 and 60 s alike (1e-12: rounding of 720 products).
    #[test]
    fn phys_a_lag_is_exact_at_any_step() {
        for step in [1.0, 5.0, 60.0] {
            let mut lag = Lag { value: 3.0 };
            let part = kept(step, 137.0);
            for k in 1..=(720.0 / step) as usize {
                lag.advance(-2.0, part);
                let exact = -2.0 + 5.0 * (-(k as f64) * step / 137.0).exp();
                assert!((lag.value - exact).abs() < 1e-12, "{step} {k}");
            }
        }
        assert_eq!(kept(5.0, 0.0), 0.0);
    }

    #[test]
    fn phys_transport_delays_and_keeps_what_it_carries() {
        let mut duct = Transport::new(0.0, 5.0, 100.0);
        let mut out = Vec::new();
        for k in 0..60 {
            duct.push(f64::from(k));
            out.push(duct.before(37.5));
        }
        // A ramp of one per step comes out 7.5 steps late.
        assert!((out[59] - (59.0 - 7.5)).abs() < 1e-12);
        assert_eq!(duct.before(0.0), 59.0);
        assert_eq!(duct.before(100.0), 39.0);
    }

    #[test]
    fn phys_an_actuator_takes_its_travel_time() {
        let mut valve = Actuator { position: 0.0 };
        let mut mean = 0.0;
        for _ in 0..18 {
            mean += valve.advance(1.0, 5.0 / 90.0) * 5.0;
        }
        assert!((valve.position - 1.0).abs() < 1e-12);
        assert!((mean - 45.0).abs() < 1e-9, "half open over its travel, on average");
        // The last part of a way takes part of a step.
        assert!((valve.advance(0.98, 0.1) - (0.98 + 0.5 * 0.02 * 0.2)).abs() < 1e-12);
    }

    /// Mean 0 and standard deviation 1 of 1e5 draws (four standard errors), and no pair of counters like another.
    #[test]
    fn phys_noise_is_centred_and_scaled() {
        let n = 100_000_u64;
        let draws: Vec<f64> = (0..n).map(|k| noise(7, k % 31, k / 31)).collect();
        let mean = draws.iter().sum::<f64>() / n as f64;
        let variance = draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n as f64;
        assert!(mean.abs() < 4.0 / (n as f64).sqrt(), "{mean}");
        assert!((variance - 1.0).abs() < 0.02, "{variance}");
        assert_eq!(noise(7, 3, 9), noise(7, 3, 9));
        assert_ne!(noise(7, 3, 9), noise(8, 3, 9));
    }

    #[test]
    fn faults_of_a_sensor() {
        let mut s = Sensor::new(1, 12.0);
        s.bias_k = 0.5;
        assert_eq!(s.read(None, 0.0, 1, 1).value_c, 12.5);
        assert_eq!(s.read(Some((SensorFault::Drift { k_per_s: -0.001 }, 500.0)), 0.0, 1, 2).value_c, 12.0);
        assert_eq!(s.read(Some((SensorFault::Stuck, 0.0)), 0.0, 1, 3).value_c, 12.5);
        s.lag.value = 20.0;
        assert_eq!(s.read(Some((SensorFault::Stuck, 60.0)), 0.0, 1, 4).value_c, 12.5);
        assert!(!s.read(Some((SensorFault::Failed, 0.0)), 0.0, 1, 5).good);
        assert_eq!(s.read(None, 0.0, 1, 6).value_c, 20.5);
    }
}
