//! A repeated day, solved exactly: design-day loads without warm-up days.
//!
//! For inputs that repeat every day the modal solution is a periodic convolution: the air temperature at the end of
//! step k is `sum_j r_j[k - i] u_j[i]`, with `r_j` the response to input j summed over all past days (a geometric
//! series per mode). Heat to the air acts through one such response `g`. A day of n steps is then a linear system of
//! n equations whatever the number of states: in a held step the air is at its set point, in a floating or limited
//! step the heat is known. Which steps are held, floating or limited is found by iteration, counted and checked.
//!
//! Because the system is linear once the modes of the steps are fixed, each source's part of the load is the solution
//! of the same system with that source alone, and the parts add up to the load.

use crate::error::{RoomError, within};
use crate::exact::{AirFlow, Control, Hold, Mode, State, Step, Stepper};
use crate::lu::Lu;
use crate::phi::phi;
use crate::room::{ModalRoom, Output, Source};

/// A heat source inside the room: three series of means over each step, W. An empty series is zero.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatSource {
    /// Under which name it is reported.
    pub source: Source,
    /// Heat to the air.
    pub convective_w: Vec<f64>,
    /// Long-wave radiation, absorbed by all surfaces by area.
    pub radiant_w: Vec<f64>,
    /// Short-wave radiation transmitted by windows, absorbed by walls and floor by area and solar weight.
    pub solar_w: Vec<f64>,
}

/// Air brought into the room over the day.
#[derive(Debug, Clone, PartialEq)]
pub struct AirStream {
    /// Under which name it is reported.
    pub source: Source,
    /// Mass flow times specific heat, W/K.
    pub conductance_w_per_k: Vec<f64>,
    /// Temperature at which it enters, degC.
    pub supply_c: Vec<f64>,
}

/// Inputs of a repeated day.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// Temperature beyond each wall that has one (sol-air, ground, neighbour), degC.
    pub boundary_c: Vec<Vec<f64>>,
    /// Outdoor air at each window, degC (with its sky correction where wanted).
    pub window_outside_c: Vec<Vec<f64>>,
    /// Sun absorbed by each window, W.
    pub window_absorbed_w: Vec<Vec<f64>>,
    /// People, lights, plugs, process, transmitted sun.
    pub heat: Vec<HeatSource>,
    /// Infiltration and other air.
    pub air: Vec<AirStream>,
    /// Control of each step.
    pub control: Vec<Control>,
    /// Temperature against which sources are counted, degC: usually the occupied set point.
    pub reference_c: f64,
}

/// A source's part of the load.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The source.
    pub source: Source,
    /// Its part of the cooling load in each step, W; negative parts need heating.
    pub load_w: Vec<f64>,
}

/// A solved day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayLoads {
    /// Sensible load at the room air, W: positive needs cooling, negative heating; mean over each step.
    pub load_w: Vec<f64>,
    /// Air temperature at the end of each step, degC.
    pub air_c: Vec<f64>,
    /// Mean radiant temperature at the end of each step, degC.
    pub mean_radiant_c: Vec<f64>,
    /// What the control does in each step.
    pub modes: Vec<Mode>,
    /// The load by source, in the order of [`Source::ALL`], present sources only.
    pub parts: Vec<Part>,
    /// Heat brought by all air streams, W.
    pub air_flow_w: Vec<f64>,
    /// Iterations over the modes of the steps.
    pub iterations: usize,
    /// Largest violation of a set point in held steps or of the heat balance of the air equations, K.
    pub residual_k: f64,
}

impl DayLoads {
    /// Operative temperature, the mean of air and mean radiant temperature (still air), degC.
    pub fn operative_c(&self) -> Vec<f64> {
        self.air_c.iter().zip(&self.mean_radiant_c).map(|(a, b)| f64::midpoint(*a, *b)).collect()
    }

    /// Largest cooling load and its step, `(W, step)`; 0 W at step 0 when there is none.
    pub fn peak_cooling(&self) -> (f64, usize) {
        peak(self.load_w.iter().copied())
    }

    /// Largest heating load as a positive number and its step, `(W, step)`.
    pub fn peak_heating(&self) -> (f64, usize) {
        peak(self.load_w.iter().map(|x| -x))
    }
}

fn peak(series: impl Iterator<Item = f64>) -> (f64, usize) {
    series.enumerate().fold((0.0, 0), |best, (k, x)| if x > best.0 { (x, k) } else { best })
}

/// Response stored twice over so that any rotation of it is one slice.
#[derive(Debug, Clone)]
struct Ring(Vec<f64>);

impl Ring {
    fn new(once: &[f64]) -> Self {
        Self([once, once].concat())
    }

    /// Adds the periodic convolution with `u` to `out`.
    fn add(&self, u: &[f64], out: &mut [f64]) {
        let n = out.len();
        // A day of hours, the usual case, in registers; the sums are the same.
        if let (Ok(hours), Ok(out)) = (<&[f64; 24]>::try_from(u), <&mut [f64; 24]>::try_from(&mut *out)) {
            let mut sum = *out;
            for (j, x) in hours.iter().enumerate() {
                if *x != 0.0 {
                    for (o, r) in sum.iter_mut().zip(&self.0[24 - j..48 - j]) {
                        *o += r * x;
                    }
                }
            }
            *out = sum;
            return;
        }
        for (j, x) in u.iter().enumerate() {
            if *x != 0.0 {
                for (o, r) in out.iter_mut().zip(&self.0[n - j..2 * n - j]) {
                    *o += r * x;
                }
            }
        }
    }
}

/// A room prepared for repeated days of `n` equal steps.
#[derive(Debug, Clone)]
pub struct PeriodicRoom<'a> {
    room: &'a ModalRoom,
    stepper: Stepper<'a>,
    steps: usize,
    step_s: f64,
    hold: Hold,
    air: Vec<Ring>,
    star: Vec<Ring>,
    /// Inverse of the response of the air to its own heat (a circulant matrix again).
    inverse: Ring,
}

impl<'a> PeriodicRoom<'a> {
    /// Prepares days of `steps` steps (2 to 1440) of `step_s` seconds.
    pub fn new(room: &'a ModalRoom, steps: usize, step_s: f64, hold: Hold) -> Result<Self, RoomError> {
        within("steps of a day", steps as f64, 2.0, 1440.0, "1")?;
        let stepper = Stepper::new(room, step_s, hold)?;
        let slowest = room.slowest_rate_per_s();
        // Slower than a thousand years is a room without loss.
        if slowest < 3e-11 {
            return Err(RoomError::NoPeriodicState { slowest_rate_per_s: slowest });
        }
        let n = steps;
        let modes = room.rates_per_s.len();
        // Powers of the decay and the weights, by mode.
        let mut pulse = vec![0.0; modes * n];
        let mut ramp = vec![0.0; modes * n];
        for (i, r) in room.rates_per_s.iter().enumerate() {
            let decay = (-r * step_s).exp();
            let whole = -(-r * step_s * n as f64).exp_m1();
            let [p1, p2, _] = phi(-r * step_s);
            let row = &mut pulse[i * n..(i + 1) * n];
            let mut power = 1.0 / whole;
            for x in row.iter_mut() {
                *x = power;
                power *= decay;
            }
            let ramp_row = &mut ramp[i * n..(i + 1) * n];
            for k in 0..n {
                let before = if k == 0 { row[n - 1] } else { row[k - 1] };
                ramp_row[k] = step_s * (p2 * row[k] + (p1 - p2) * before);
            }
            for x in row.iter_mut() {
                *x *= step_s * p1;
            }
        }
        let temperatures = room.inputs.temperatures();
        let ring = |output: &Output, j: usize| {
            let table = if j < temperatures && hold == Hold::Linear { &ramp } else { &pulse };
            let mut r = vec![0.0; n];
            for (i, c) in output.modes.iter().enumerate() {
                let f = c * room.input[(i, j)];
                for (x, t) in r.iter_mut().zip(&table[i * n..(i + 1) * n]) {
                    *x += f * t;
                }
            }
            r[0] += output.direct[j];
            Ring::new(&r)
        };
        let air: Vec<Ring> = (0..room.inputs.len()).map(|j| ring(&room.air, j)).collect();
        let star: Vec<Ring> = (0..room.inputs.len()).map(|j| ring(&room.mean_radiant, j)).collect();
        let own = &air[room.inputs.air_heat()].0;
        let matrix = (0..n * n).map(|i| own[n + i / n - i % n]).collect();
        let factors =
            Lu::new(n, matrix).ok_or(RoomError::Singular { what: "response of the air to its own heat" })?;
        let mut first = vec![0.0; n];
        first[0] = 1.0;
        factors.solve(&mut first);
        let inverse = Ring::new(&first);
        Ok(Self { room, stepper, steps, step_s, hold, air, star, inverse })
    }

    fn check(&self, day: &Day) -> Result<(), RoomError> {
        let n = self.steps;
        let inputs = &self.room.inputs;
        let same = |what, found, needed| {
            if found == needed { Ok(()) } else { Err(RoomError::WrongLength { what, found, needed }) }
        };
        same("list of temperatures beyond walls", day.boundary_c.len(), inputs.boundary_walls.len())?;
        same("list of temperatures outside windows", day.window_outside_c.len(), inputs.windows)?;
        same("list of sun absorbed by windows", day.window_absorbed_w.len(), inputs.windows)?;
        let series = |what: &'static str, s: &[f64], low: f64, high: f64, unit| {
            same(what, s.len(), n)?;
            s.iter().try_for_each(|x| within(what, *x, low, high, unit).map(|_| ()))
        };
        for s in &day.boundary_c {
            series("temperature beyond a wall", s, -150.0, 200.0, "degC")?;
        }
        for s in &day.window_outside_c {
            series("temperature outside a window", s, -150.0, 200.0, "degC")?;
        }
        for s in &day.window_absorbed_w {
            series("sun absorbed by a window", s, -1e9, 1e9, "W")?;
        }
        for h in &day.heat {
            for (what, s) in [
                ("convective heat", &h.convective_w),
                ("radiant heat", &h.radiant_w),
                ("transmitted sun", &h.solar_w),
            ] {
                if !s.is_empty() {
                    series(what, s, -1e9, 1e9, "W")?;
                }
            }
        }
        for a in &day.air {
            series("air flow conductance", &a.conductance_w_per_k, 0.0, 1e9, "W/K")?;
            series("temperature of entering air", &a.supply_c, -150.0, 200.0, "degC")?;
        }
        same("control", day.control.len(), n)?;
        day.control.iter().try_for_each(Control::check)?;
        within("reference temperature", day.reference_c, -100.0, 100.0, "degC").map(|_| ())
    }

    /// Solves the day.
    ///
    /// Errors: series of the wrong length or out of range, set points out of order, modes that do not settle within
    /// 60 iterations.
    pub fn solve(&self, day: &Day) -> Result<DayLoads, RoomError> {
        self.solve_from(day, &[])
    }

    /// As [`Self::solve`], with a first guess of what the control does in each step, as from a day much like this one;
    /// an empty guess is none. The guess decides how many iterations are made, not where they end.
    ///
    /// Errors: as [`Self::solve`]; a guess of the wrong length.
    #[allow(clippy::needless_range_loop)]
    pub fn solve_from(&self, day: &Day, guess: &[Mode]) -> Result<DayLoads, RoomError> {
        self.check(day)?;
        if !guess.is_empty() && guess.len() != self.steps {
            return Err(RoomError::WrongLength {
                what: "guess of the modes",
                found: guess.len(),
                needed: self.steps,
            });
        }
        let n = self.steps;
        let inputs = &self.room.inputs;
        let reference = day.reference_c;
        // Per present source: response of the air before its own heat, radiant response, heat to the air.
        let mut present = [false; Source::ALL.len()];
        present[Source::Storage as usize] = true;
        let count = Source::ALL.len();
        let mut y = vec![0.0; count * n];
        let mut e = vec![0.0; count * n];
        let mut star = vec![0.0; n];
        let mut shifted = vec![0.0; n];
        let mut apply = |source: Source, j: usize, u: &[f64], y: &mut [f64]| {
            let s = source as usize;
            present[s] = true;
            self.air[j].add(u, &mut y[s * n..(s + 1) * n]);
            self.star[j].add(u, &mut star);
        };
        for (j, s) in day.boundary_c.iter().enumerate() {
            shifted.iter_mut().zip(s).for_each(|(a, b)| *a = b - reference);
            apply(self.room.boundary_sources[j], j, &shifted, &mut y);
        }
        for (g, s) in day.window_outside_c.iter().enumerate() {
            shifted.iter_mut().zip(s).for_each(|(a, b)| *a = b - reference);
            apply(Source::Windows, inputs.window_outside(g), &shifted, &mut y);
        }
        for (g, s) in day.window_absorbed_w.iter().enumerate() {
            apply(Source::Solar, inputs.window_absorbed(g), s, &mut y);
        }
        for h in &day.heat {
            apply(h.source, inputs.radiant(), &h.radiant_w, &mut y);
            apply(h.source, inputs.solar(), &h.solar_w, &mut y);
            let s = h.source as usize;
            e[s * n..(s + 1) * n].iter_mut().zip(&h.convective_w).for_each(|(a, b)| *a += b);
        }
        let mut g = vec![0.0; n];
        for a in &day.air {
            let s = a.source as usize;
            present[s] = true;
            for k in 0..n {
                g[k] += a.conductance_w_per_k[k];
                e[s * n + k] += a.conductance_w_per_k[k] * (a.supply_c[k] - reference);
            }
        }
        let total = |x: &[f64]| {
            let mut t = vec![0.0; n];
            for s in 0..count {
                for k in 0..n {
                    t[k] += x[s * n + k];
                }
            }
            t
        };
        let (y_all, e_all) = (total(&y), total(&e));

        let Settled { modes, solution, system, iterations } = self.settle(day, guess, &y_all, &e_all, &g)?;
        let own = &self.air[inputs.air_heat()];
        let air_theta = &solution.theta;
        self.star[inputs.air_heat()].add(&solution.heat, &mut star);

        let mut residual_k: f64 = 0.0;
        let mut check = y_all.clone();
        own.add(&solution.heat, &mut check);
        for k in 0..n {
            residual_k = residual_k.max((check[k] - air_theta[k]).abs());
        }

        let mut parts = Vec::new();
        let mut part = Solution::new(n);
        let mut scratch = vec![0.0; n];
        let none = vec![0.0; n];
        let own_targets: Vec<f64> = (0..n).map(|k| target(modes[k], &day.control[k], reference)).collect();
        for source in Source::ALL {
            let s = source as usize;
            if !present[s] {
                continue;
            }
            let (ys, es) = (&y[s * n..(s + 1) * n], &e[s * n..(s + 1) * n]);
            let own_control = source == Source::Storage;
            let targets = if own_control { &own_targets } else { &none };
            system.solve(self, (ys, es, &g), &modes, targets, &mut scratch, &mut part);
            parts.push(Part {
                source,
                load_w: (0..n)
                    .map(|k| match modes[k] {
                        Mode::Heating | Mode::Cooling => -part.hvac[k],
                        _ if own_control => -targets[k],
                        _ => 0.0,
                    })
                    .collect(),
            });
        }
        Ok(DayLoads {
            load_w: solution.hvac.iter().map(|q| -q).collect(),
            air_c: air_theta.iter().map(|t| t + reference).collect(),
            mean_radiant_c: star.iter().map(|t| t + reference).collect(),
            air_flow_w: (0..n)
                .map(|k| {
                    day.air
                        .iter()
                        .map(|a| a.conductance_w_per_k[k] * (a.supply_c[k] - reference - air_theta[k]))
                        .sum()
                })
                .collect(),
            modes,
            parts,
            iterations,
            residual_k,
        })
    }

    /// The equations of the steps that are not held. With `A` the inverse of the response of the air to its own heat,
    /// the heat of a day is `A (theta - y)`; in a held step theta is known, in the others `heat + g theta` is.
    fn system(&self, modes: &[Mode], g: &[f64]) -> Result<System, RoomError> {
        let n = self.steps;
        let free: Vec<usize> =
            (0..n).filter(|k| !matches!(modes[*k], Mode::Heating | Mode::Cooling)).collect();
        let m = free.len();
        let inverse = &self.inverse.0;
        let mut matrix = Vec::with_capacity(m * m);
        for r in &free {
            matrix.extend(free.iter().map(|c| inverse[n + r - c]));
        }
        for (i, r) in free.iter().enumerate() {
            matrix[i * m + i] += g[*r];
        }
        let factors = Lu::new(m, matrix)
            .ok_or(RoomError::Singular { what: "equations of the air temperature over the day" })?;
        Ok(System { free, factors })
    }

    /// Finds the mode of every step.
    #[allow(clippy::needless_range_loop)]
    fn settle(
        &self,
        day: &Day,
        guess: &[Mode],
        y: &[f64],
        e: &[f64],
        g: &[f64],
    ) -> Result<Settled, RoomError> {
        let n = self.steps;
        let reference = day.reference_c;
        let mut modes: Vec<Mode> = day
            .control
            .iter()
            .enumerate()
            .map(|(k, c)| match (c.heating_set_c.is_finite(), c.cooling_set_c.is_finite()) {
                // A guess counts where the control can do it; limits are found, not guessed.
                (true, true)
                    if matches!(guess.get(k), Some(Mode::Floating | Mode::Heating | Mode::Cooling)) =>
                {
                    guess[k]
                }
                (_, true) => Mode::Cooling,
                (true, false) => Mode::Heating,
                _ => Mode::Floating,
            })
            .collect();
        let mut worst = f64::INFINITY;
        let mut s = Solution::new(n);
        let mut scratch = vec![0.0; n];
        for iteration in 1..=60 {
            if iteration == 20 {
                modes = self.march(day)?;
            }
            let targets: Vec<f64> = (0..n).map(|k| target(modes[k], &day.control[k], reference)).collect();
            let system = self.system(&modes, g)?;
            system.solve(self, (y, e, g), &modes, &targets, &mut scratch, &mut s);
            let scale = s.hvac.iter().chain(e).fold(1.0_f64, |a, b| a.max(b.abs()));
            let (slack_w, slack_k) = (1e-9 * scale, 1e-9);
            let mut next = modes.clone();
            let mut violation: f64 = 0.0;
            for k in 0..n {
                let c = &day.control[k];
                let (low, high) = (c.heating_set_c - reference, c.cooling_set_c - reference);
                let (t, q) = (s.theta[k], s.hvac[k]);
                let same = low == high;
                next[k] = match modes[k] {
                    Mode::Floating if t < low - slack_k => Mode::Heating,
                    Mode::Floating if t > high + slack_k => Mode::Cooling,
                    Mode::Heating if q < -slack_w && same => Mode::Cooling,
                    Mode::Cooling if q > slack_w && same => Mode::Heating,
                    Mode::Heating if q < -slack_w => Mode::Floating,
                    Mode::Cooling if q > slack_w => Mode::Floating,
                    Mode::Heating if q > c.heating_capacity_w + slack_w => Mode::HeatingLimit,
                    Mode::Cooling if -q > c.cooling_capacity_w + slack_w => Mode::CoolingLimit,
                    Mode::HeatingLimit if t > low + slack_k => Mode::Heating,
                    Mode::CoolingLimit if t < high - slack_k => Mode::Cooling,
                    same_mode => same_mode,
                };
                if next[k] != modes[k] {
                    violation = violation.max(match modes[k] {
                        Mode::Floating => (low - t).max(t - high),
                        Mode::HeatingLimit => t - low,
                        Mode::CoolingLimit => high - t,
                        _ => q.abs() * self.stepper.unit_response_k_per_w(),
                    });
                }
            }
            if next == modes {
                return Ok(Settled { modes, solution: s, system, iterations: iteration });
            }
            worst = violation;
            modes = next;
        }
        Err(RoomError::NotConverged {
            what: "search for heated and cooled steps",
            iterations: 60,
            residual: worst,
            unit: "K",
        })
    }

    /// Modes of the last of a number of days stepped one after the other.
    fn march(&self, day: &Day) -> Result<Vec<Mode>, RoomError> {
        let mut state = self.room.uniform_state(day.reference_c);
        let mut modes: Vec<Mode> = Vec::new();
        for _ in 0..200 {
            let (steps, _) = self.replay_from(day, &mut state)?;
            let next: Vec<Mode> = steps.iter().map(|s| s.mode).collect();
            if next == modes {
                break;
            }
            modes = next;
        }
        Ok(modes)
    }

    /// Input vector of a step.
    pub fn input_vector(&self, day: &Day, k: usize) -> Vec<f64> {
        let inputs = &self.room.inputs;
        let mut u: Vec<f64> = Vec::with_capacity(inputs.len());
        u.extend(day.boundary_c.iter().map(|s| s[k]));
        u.extend(day.window_outside_c.iter().map(|s| s[k]));
        u.extend(day.window_absorbed_w.iter().map(|s| s[k]));
        let at = |s: &Vec<f64>| s.get(k).copied().unwrap_or(0.0);
        u.push(day.heat.iter().map(|h| at(&h.convective_w)).sum());
        u.push(day.heat.iter().map(|h| at(&h.radiant_w)).sum());
        u.push(day.heat.iter().map(|h| at(&h.solar_w)).sum());
        u
    }

    /// All air of a step as one flow.
    pub fn flow(day: &Day, k: usize) -> AirFlow {
        let flows: Vec<AirFlow> = day
            .air
            .iter()
            .map(|a| AirFlow { conductance_w_per_k: a.conductance_w_per_k[k], supply_c: a.supply_c[k] })
            .collect();
        AirFlow::sum(&flows)
    }

    fn replay_from(&self, day: &Day, state: &mut State) -> Result<(Vec<Step>, Vec<State>), RoomError> {
        let mut steps = Vec::with_capacity(self.steps);
        let mut states = Vec::with_capacity(self.steps);
        for k in 0..self.steps {
            let start = self.input_vector(day, if k == 0 { self.steps - 1 } else { k - 1 });
            let end = self.input_vector(day, k);
            steps.push(self.stepper.step(state, &start, &end, Self::flow(day, k), day.control[k])?);
            states.push(state.clone());
        }
        Ok((steps, states))
    }

    /// State of the room at midnight of the solved day.
    pub fn start_state(&self, day: &Day, loads: &DayLoads) -> Result<State, RoomError> {
        let n = self.steps;
        let mut state = State { modes: vec![0.0; self.room.rates_per_s.len()] };
        for k in 0..n {
            let start = self.input_vector(day, if k == 0 { n - 1 } else { k - 1 });
            let mut end = self.input_vector(day, k);
            end[self.room.inputs.air_heat()] += loads.air_flow_w[k] - loads.load_w[k];
            self.stepper.step(&mut state, &start, &end, AirFlow::NONE, Control::FREE)?;
        }
        for (z, r) in state.modes.iter_mut().zip(&self.room.rates_per_s) {
            *z /= -(-r * self.step_s * n as f64).exp_m1();
        }
        Ok(state)
    }

    /// Inside surface temperatures over the solved day, degC: walls first, then window panes; each a series of the
    /// ends of steps. For the search of surfaces below the dew point.
    pub fn inside_surfaces_c(&self, day: &Day, loads: &DayLoads) -> Result<Vec<Vec<f64>>, RoomError> {
        let mut state = self.start_state(day, loads)?;
        let outputs: Vec<&Output> = self.room.wall_inside.iter().chain(&self.room.pane).collect();
        let mut series = vec![Vec::with_capacity(self.steps); outputs.len()];
        for k in 0..self.steps {
            let start = self.input_vector(day, if k == 0 { self.steps - 1 } else { k - 1 });
            let mut end = self.input_vector(day, k);
            end[self.room.inputs.air_heat()] += loads.air_flow_w[k] - loads.load_w[k];
            self.stepper.step(&mut state, &start, &end, AirFlow::NONE, Control::FREE)?;
            for (s, o) in series.iter_mut().zip(&outputs) {
                s.push(o.value(&state.modes, &end));
            }
        }
        Ok(series)
    }

    /// The stepper of the same step length and hold.
    pub fn stepper(&self) -> &Stepper<'a> {
        &self.stepper
    }

    /// How temperatures run within a step.
    pub fn hold(&self) -> Hold {
        self.hold
    }
}

/// Set point above the reference in held steps, fixed heat in limited ones.
fn target(mode: Mode, control: &Control, reference: f64) -> f64 {
    match mode {
        Mode::Floating => 0.0,
        Mode::Heating => control.heating_set_c - reference,
        Mode::Cooling => control.cooling_set_c - reference,
        Mode::HeatingLimit => control.heating_capacity_w,
        Mode::CoolingLimit => -control.cooling_capacity_w,
    }
}

struct Solution {
    /// All heat to the air, W.
    heat: Vec<f64>,
    /// Air temperature above the reference, K.
    theta: Vec<f64>,
    /// Heating or cooling, W.
    hvac: Vec<f64>,
}

impl Solution {
    fn new(n: usize) -> Self {
        Self { heat: vec![0.0; n], theta: vec![0.0; n], hvac: vec![0.0; n] }
    }
}

/// A day whose modes are found.
struct Settled {
    modes: Vec<Mode>,
    solution: Solution,
    system: System,
    iterations: usize,
}

struct System {
    free: Vec<usize>,
    factors: Lu,
}

impl System {
    /// Heat to the air for one set of inputs: `y` response without heat, `e` known heat, `g` conductance of the air
    /// brought in; `targets` see [`target`]. `scratch` holds as many numbers as there are steps.
    fn solve(
        &self,
        room: &PeriodicRoom<'_>,
        (y, e, g): (&[f64], &[f64], &[f64]),
        modes: &[Mode],
        targets: &[f64],
        scratch: &mut [f64],
        out: &mut Solution,
    ) {
        let n = room.steps;
        for k in 0..n {
            let held = matches!(modes[k], Mode::Heating | Mode::Cooling);
            out.theta[k] = if held { targets[k] } else { 0.0 };
            scratch[k] = out.theta[k] - y[k];
        }
        out.heat.fill(0.0);
        room.inverse.add(scratch, &mut out.heat);
        if !self.free.is_empty() {
            let x = &mut scratch[..self.free.len()];
            for (x, k) in x.iter_mut().zip(&self.free) {
                *x = e[*k] + targets[*k] - out.heat[*k];
            }
            self.factors.solve(x);
            // The drift of the free steps alone; the others stay where they are held.
            out.hvac.fill(0.0);
            for (k, t) in self.free.iter().zip(x.iter()) {
                out.hvac[*k] = *t;
                out.theta[*k] = *t;
            }
            room.inverse.add(&out.hvac, &mut out.heat);
        }
        for k in 0..n {
            out.hvac[k] = match modes[k] {
                Mode::Heating | Mode::Cooling => out.heat[k] - e[k] + g[k] * out.theta[k],
                Mode::Floating => 0.0,
                Mode::HeatingLimit | Mode::CoolingLimit => targets[k],
            };
        }
    }
}
