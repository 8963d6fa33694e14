//! Exact stepping of a room at any step length.
//!
//! Between two instants every heat input is constant (its mean over the step) and every temperature beyond a wall or
//! window is a straight line ([`Hold::Linear`]) or constant ([`Hold::Mean`]). For such inputs the modal solution is
//! exact at any step; nothing is lost by long steps but the detail of the inputs.
//!
//! Air flows carry `G (T_supply - T_air)` with `G = m cp`. They are taken with the air temperature at the end of the
//! step, solved implicitly: a rank-one update of the step, first-order in the step but stable without limit, and
//! closing the energy balance exactly. Control is ideal: the free-floating response and the unit response to heat
//! give the heat that brings the air to its set point at the end of the step; a capacity limit clips it and the air
//! drifts.

use crate::error::{RoomError, within};
use crate::phi::phi;
use crate::room::{ModalRoom, Output};

/// How temperatures beyond walls and windows run within a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// Values are those at the end of each step; straight lines between (first-order hold).
    Linear,
    /// Values are means over each step (zero-order hold).
    Mean,
}

/// Ideal control of the air temperature during a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Control {
    /// Heating set point, degC; minus infinity when there is none.
    pub heating_set_c: f64,
    /// Cooling set point, degC; plus infinity when there is none.
    pub cooling_set_c: f64,
    /// Largest heating, W.
    pub heating_capacity_w: f64,
    /// Largest cooling, W, as a positive number.
    pub cooling_capacity_w: f64,
}

impl Control {
    /// No heating and no cooling.
    pub const FREE: Self = Self {
        heating_set_c: f64::NEG_INFINITY,
        cooling_set_c: f64::INFINITY,
        heating_capacity_w: 0.0,
        cooling_capacity_w: 0.0,
    };

    /// Held exactly at a set point, by heating or cooling without limit.
    pub fn held(set_c: f64) -> Self {
        Self {
            heating_set_c: set_c,
            cooling_set_c: set_c,
            heating_capacity_w: f64::INFINITY,
            cooling_capacity_w: f64::INFINITY,
        }
    }

    /// Kept between two set points without limit of capacity.
    pub fn between(heating_set_c: f64, cooling_set_c: f64) -> Self {
        Self { heating_set_c, cooling_set_c, ..Self::held(0.0) }
    }

    /// Refuses set points out of order and capacities below zero.
    pub fn check(&self) -> Result<(), RoomError> {
        // Not-a-number fails as well.
        if self.heating_set_c > self.cooling_set_c
            || self.heating_set_c.is_nan()
            || self.cooling_set_c.is_nan()
        {
            return Err(RoomError::Inconsistent {
                what: "heating set point above cooling set point, degC",
                first: self.heating_set_c,
                second: self.cooling_set_c,
            });
        }
        for (quantity, value) in
            [("heating capacity", self.heating_capacity_w), ("cooling capacity", self.cooling_capacity_w)]
        {
            if value < 0.0 || value.is_nan() {
                return Err(RoomError::OutOfRange {
                    quantity,
                    value,
                    lowest: 0.0,
                    highest: f64::INFINITY,
                    unit: "W",
                });
            }
        }
        Ok(())
    }
}

/// What the control does in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Neither heated nor cooled.
    Floating,
    /// Held at the heating set point.
    Heating,
    /// Held at the cooling set point.
    Cooling,
    /// Heating at its limit, air below its set point.
    HeatingLimit,
    /// Cooling at its limit, air above its set point.
    CoolingLimit,
}

/// Air brought into the room during a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirFlow {
    /// Mass flow times specific heat, W/K; 0 or more.
    pub conductance_w_per_k: f64,
    /// Temperature at which it enters, degC.
    pub supply_c: f64,
}

impl AirFlow {
    /// No air.
    pub const NONE: Self = Self { conductance_w_per_k: 0.0, supply_c: 0.0 };

    /// All of several flows as one.
    pub fn sum(flows: &[Self]) -> Self {
        let conductance_w_per_k: f64 = flows.iter().map(|f| f.conductance_w_per_k).sum();
        if conductance_w_per_k == 0.0 {
            return Self::NONE;
        }
        let supply_c =
            flows.iter().map(|f| f.conductance_w_per_k * f.supply_c).sum::<f64>() / conductance_w_per_k;
        Self { conductance_w_per_k, supply_c }
    }
}

/// Amplitudes of a room's modes.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// One number per mode.
    pub modes: Vec<f64>,
}

impl ModalRoom {
    /// The whole room at one temperature.
    pub fn uniform_state(&self, temperature_c: f64) -> State {
        State { modes: self.uniform.iter().map(|x| x * temperature_c).collect() }
    }

    /// Heat stored above 0 degC, J.
    pub fn stored_j(&self, state: &State) -> f64 {
        dot(&self.stored_j, &state.modes)
    }

    /// Modes still moving although nothing drives them never stop: the slowest decay rate, 1/s.
    pub fn slowest_rate_per_s(&self) -> f64 {
        self.rates_per_s.first().copied().unwrap_or(0.0)
    }
}

impl Output {
    /// Value for a state and inputs.
    pub fn value(&self, modes: &[f64], inputs: &[f64]) -> f64 {
        dot(&self.modes, modes) + dot(&self.direct, inputs)
    }
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Result of one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Air temperature at the end, degC.
    pub air_c: f64,
    /// Mean radiant temperature at the end, degC.
    pub mean_radiant_c: f64,
    /// Heat given to the air by heating (positive) or cooling (negative), mean over the step, W.
    pub hvac_w: f64,
    /// Heat brought by air flows, mean over the step, W.
    pub air_flow_w: f64,
    /// What the control did.
    pub mode: Mode,
    /// Air temperature at the end without any heating, cooling or air flow, degC.
    pub free_c: f64,
    /// Rise of the air temperature at the end per W to the air during the step, K/W.
    pub unit_response_k_per_w: f64,
    /// Kelvin by which the set point is missed at the end (0 when met).
    pub unmet_k: f64,
}

/// Energy balance of one step: what came in and what is stored, from independent expressions.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// Heat through the outside surface of each wall, J, in the order of walls.
    pub walls_j: Vec<f64>,
    /// Heat from outdoor air to each pane, J.
    pub windows_j: Vec<f64>,
    /// Sun absorbed in panes, transmitted sun, radiant and convective heat, J.
    pub gains_j: f64,
    /// Heating (positive) or cooling and air flows, J.
    pub air_j: f64,
    /// Growth of the stored heat, computed from the two states, J.
    pub stored_j: f64,
}

impl Balance {
    /// Everything in, minus the growth of storage, J.
    pub fn residual_j(&self) -> f64 {
        self.walls_j.iter().sum::<f64>() + self.windows_j.iter().sum::<f64>() + self.gains_j + self.air_j
            - self.stored_j
    }

    /// Largest term, J.
    pub fn largest_j(&self) -> f64 {
        self.walls_j
            .iter()
            .chain(&self.windows_j)
            .chain([&self.gains_j, &self.air_j, &self.stored_j])
            .fold(0.0, |a, b| a.max(b.abs()))
    }
}

/// Heat, air temperature at the end and mode of a step, from the free-floating temperature and the response `h` to heat.
pub(crate) fn ideal_control(free: f64, h: f64, flow: AirFlow, control: Control) -> (f64, f64, Mode) {
    let g = flow.conductance_w_per_k;
    let floating = |q: f64| (free + h * (g * flow.supply_c + q)) / (1.0 + h * g);
    let needed = |set: f64| (set - free) / h - g * (flow.supply_c - set);
    let drifting = floating(0.0);
    if drifting < control.heating_set_c {
        let q = needed(control.heating_set_c);
        if q > control.heating_capacity_w {
            (control.heating_capacity_w, floating(control.heating_capacity_w), Mode::HeatingLimit)
        } else {
            (q, control.heating_set_c, Mode::Heating)
        }
    } else if drifting > control.cooling_set_c {
        let q = needed(control.cooling_set_c);
        if -q > control.cooling_capacity_w {
            (-control.cooling_capacity_w, floating(-control.cooling_capacity_w), Mode::CoolingLimit)
        } else {
            (q, control.cooling_set_c, Mode::Cooling)
        }
    } else {
        (0.0, drifting, Mode::Floating)
    }
}

/// A room prepared for steps of one length.
#[derive(Debug, Clone)]
pub struct Stepper<'a> {
    room: &'a ModalRoom,
    step_s: f64,
    hold: Hold,
    decay: Vec<f64>,
    /// `h phi1`, `h phi2`, `h phi3` per mode.
    weights: Vec<[f64; 3]>,
    unit: f64,
}

impl<'a> Stepper<'a> {
    /// Prepares steps of 1 s to 1 day.
    ///
    /// ```
    /// # use drycoil_rooms::{Beyond, Construction, Layer, Room, Source, Wall, WallDetail, WallModel};
    /// # use drycoil_units::{Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalTransmittance};
    /// # use std::sync::Arc;
    /// # let concrete = Layer::solid(Length::metres(0.2), Conductivity::from_si(2.0), Density::from_si(2400.0),
    /// #     SpecificHeat::from_si(1000.0))?;
    /// # let model = Arc::new(WallModel::new(&Construction::new(vec![concrete])?, WallDetail::DESIGN)?);
    /// # let h = ThermalTransmittance::from_si;
    /// # let wall = Wall::new(model, Area::square_metres(20.0), h(2.5), h(5.2),
    /// #     Beyond::Temperature { film: h(25.0), source: Source::Walls })?;
    /// use drycoil_rooms::exact::{AirFlow, Control, Hold, Stepper};
    /// let room = Room::new(400e3, vec![wall], vec![])?.modal()?;
    /// let stepper = Stepper::new(&room, 900.0, Hold::Linear)?;
    /// let mut state = room.uniform_state(20.0);
    /// // 0 degC beyond the wall, no gains: how much heat holds 20 degC?
    /// let outside = [0.0, 0.0, 0.0, 0.0];
    /// let mut step = stepper.step(&mut state, &outside, &outside, AirFlow::NONE, Control::held(20.0))?;
    /// for _ in 1..10 * 96 {
    ///     step = stepper.step(&mut state, &outside, &outside, AirFlow::NONE, Control::held(20.0))?;
    /// }
    /// // Ten days later it is the steady loss of the wall, whose only inside surface is as warm as its own radiation
    /// // field: convection alone carries the heat to it.
    /// let steady = 20.0 * 20.0 / (1.0 / 2.5 + 0.2 / 2.0 + 1.0 / 25.0);
    /// assert!((step.air_c - 20.0).abs() < 1e-9 && (step.hvac_w - steady).abs() < 1e-6 * steady);
    /// # Ok::<(), drycoil_rooms::RoomError>(())
    /// ```
    pub fn new(room: &'a ModalRoom, step_s: f64, hold: Hold) -> Result<Self, RoomError> {
        within("step", step_s, 1.0, 86_400.0, "s")?;
        let decay = room.rates_per_s.iter().map(|r| (-r * step_s).exp()).collect();
        let weights: Vec<[f64; 3]> =
            room.rates_per_s.iter().map(|r| phi(-r * step_s).map(|x| x * step_s)).collect();
        let j = room.inputs.air_heat();
        let unit = room
            .air
            .modes
            .iter()
            .zip(&weights)
            .enumerate()
            .map(|(i, (c, w))| c * w[0] * room.input[(i, j)])
            .sum::<f64>()
            + room.air.direct[j];
        Ok(Self { room, step_s, hold, decay, weights, unit })
    }

    /// Rise of the air temperature at the end of a step per W to the air, K/W.
    pub fn unit_response_k_per_w(&self) -> f64 {
        self.unit
    }

    /// Factor and integral of the inputs on mode `i`: `(added to the state, added to the mean state)`.
    fn drive(&self, i: usize, start: &[f64], end: &[f64]) -> (f64, f64) {
        let temperatures = self.room.inputs.temperatures();
        let [w1, w2, w3] = self.weights[i];
        let (mut s0, mut s1, mut mean) = (0.0, 0.0, 0.0);
        for j in 0..self.room.inputs.len() {
            let b = self.room.input[(i, j)];
            if j < temperatures && self.hold == Hold::Linear {
                s0 += b * start[j];
                s1 += b * end[j];
            } else {
                mean += b * end[j];
            }
        }
        ((w1 - w2) * s0 + w2 * s1 + w1 * mean, (w2 - w3) * s0 + w3 * s1 + w2 * mean)
    }

    /// One step: changes the state and returns what happened.
    ///
    /// `start` and `end` are input vectors in the order of [`crate::Inputs`]. Heat inputs are taken from `end` (their
    /// mean over the step); with [`Hold::Mean`] the temperatures are too.
    pub fn step(
        &self,
        state: &mut State,
        start: &[f64],
        end: &[f64],
        flow: AirFlow,
        control: Control,
    ) -> Result<Step, RoomError> {
        let n = self.room.inputs.len();
        for (what, list) in [("inputs at the start of a step", start), ("inputs at the end of a step", end)] {
            if list.len() != n {
                return Err(RoomError::WrongLength { what, found: list.len(), needed: n });
            }
        }
        control.check()?;
        within("air flow conductance", flow.conductance_w_per_k, 0.0, 1e9, "W/K")?;
        for i in 0..state.modes.len() {
            state.modes[i] = state.modes[i] * self.decay[i] + self.drive(i, start, end).0;
        }
        let free = self.room.air.value(&state.modes, end);
        let (hvac, air, mode) = ideal_control(free, self.unit, flow, control);
        let (g, h) = (flow.conductance_w_per_k, self.unit);
        let air_flow_w = if g > 0.0 { g * (flow.supply_c - air) } else { 0.0 };
        let total = hvac + air_flow_w;
        let j = self.room.inputs.air_heat();
        for i in 0..state.modes.len() {
            state.modes[i] += self.weights[i][0] * self.room.input[(i, j)] * total;
        }
        let unmet_k = match mode {
            Mode::HeatingLimit => control.heating_set_c - air,
            Mode::CoolingLimit => air - control.cooling_set_c,
            _ => 0.0,
        };
        Ok(Step {
            air_c: air,
            mean_radiant_c: self.room.mean_radiant.value(&state.modes, end)
                + self.room.mean_radiant.direct[j] * total,
            hvac_w: hvac,
            air_flow_w,
            mode,
            free_c: free,
            unit_response_k_per_w: h,
            unmet_k,
        })
    }

    /// Energy balance of a step that has been taken from `before` to `after`.
    ///
    /// Boundary heat is the conductance of each outer surface times the difference of mean temperatures, with the
    /// surface temperature integrated exactly over the step; storage comes from the two states. The two share no
    /// expression, so [`Balance::residual_j`] is a test of the whole model.
    pub fn balance(&self, before: &State, after: &State, start: &[f64], end: &[f64], step: &Step) -> Balance {
        let room = self.room;
        let inputs = &room.inputs;
        let heat_w = step.hvac_w + step.air_flow_w;
        let mean_modes: Vec<f64> = (0..before.modes.len())
            .map(|i| {
                let [w1, w2, _] = self.weights[i];
                let integral = w1 * before.modes[i]
                    + self.step_s
                        * (self.drive(i, start, end).1 + w2 * room.input[(i, inputs.air_heat())] * heat_w);
                integral / self.step_s
            })
            .collect();
        let mean_inputs: Vec<f64> = (0..inputs.len())
            .map(|j| {
                if j < inputs.temperatures() && self.hold == Hold::Linear {
                    f64::midpoint(start[j], end[j])
                } else if j == inputs.air_heat() {
                    end[j] + heat_w
                } else {
                    end[j]
                }
            })
            .collect();
        let mut walls_j = vec![0.0; room.wall_outside.len()];
        for (input, wall) in inputs.boundary_walls.iter().enumerate() {
            let surface = room.wall_outside[*wall].value(&mean_modes, &mean_inputs);
            walls_j[*wall] = room.wall_outside_w_per_k[*wall] * (mean_inputs[input] - surface) * self.step_s;
        }
        let windows_j = (0..inputs.windows)
            .map(|g| {
                let pane = room.pane[g].value(&mean_modes, &mean_inputs);
                room.pane_outside_w_per_k[g] * (mean_inputs[inputs.window_outside(g)] - pane) * self.step_s
            })
            .collect();
        let gains_w: f64 = (0..inputs.windows).map(|g| end[inputs.window_absorbed(g)]).sum::<f64>()
            + end[inputs.air_heat()]
            + end[inputs.radiant()]
            + end[inputs.solar()];
        Balance {
            walls_j,
            windows_j,
            gains_j: gains_w * self.step_s,
            air_j: heat_w * self.step_s,
            stored_j: room.stored_j(after) - room.stored_j(before),
        }
    }
}
