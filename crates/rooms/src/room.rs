//! The linear thermal network of a room and its modal form.
//!
//! Nodes: the room air with its furnishings, one star node for the exchange of long-wave radiation between the
//! inside surfaces, every wall from its layers, the inside pane of every window. The star node and the panes have
//! no mass and are eliminated exactly (Schur complement). With the states scaled by the square root of their
//! capacity the network matrix is symmetric: one symmetric eigen-decomposition per distinct room gives its real
//! decay rates and modes.
//!
//! Flows of air (infiltration, primary and transfer air) change from step to step and are not part of the network;
//! [`crate::exact`] and [`crate::periodic`] add them to the air node implicitly.

use crate::error::{RoomError, within};
use crate::wall::{WallModel, with_film_coefficients};
use drycoil_units::{Area, Fraction, Quantity, ThermalTransmittance};
use nalgebra::{DMatrix, SymmetricEigen};
use std::sync::Arc;

/// What a part of a load comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// Conduction through exterior walls.
    Walls,
    /// Conduction through roofs.
    Roofs,
    /// Conduction through floors, slabs and ground.
    Floors,
    /// Conduction from neighbouring rooms at their own temperature.
    Partitions,
    /// Conduction through windows.
    Windows,
    /// Sun through and absorbed in windows.
    Solar,
    /// People.
    People,
    /// Lights.
    Lights,
    /// Plug loads.
    Plugs,
    /// Process heat.
    Process,
    /// Outdoor air that leaks in.
    Infiltration,
    /// Air brought in on purpose: primary or transfer air.
    Ventilation,
    /// Anything else.
    Other,
    /// Heat stored or released because the air leaves the reference temperature (set-back, drift), and capacity limits.
    Storage,
}

impl Source {
    /// Every source, in the order of results.
    pub const ALL: [Self; 14] = [
        Self::Walls,
        Self::Roofs,
        Self::Floors,
        Self::Partitions,
        Self::Windows,
        Self::Solar,
        Self::People,
        Self::Lights,
        Self::Plugs,
        Self::Process,
        Self::Infiltration,
        Self::Ventilation,
        Self::Other,
        Self::Storage,
    ];
}

/// What is behind a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    /// A temperature given as a series (sol-air, ground, neighbour), reached through this film coefficient.
    Temperature {
        /// Film coefficient outside, W/(m2 K).
        film: ThermalTransmittance,
        /// Under which name its heat is reported.
        source: Source,
    },
    /// No heat crosses the far face: a partition between equal rooms, half of a mass inside the room.
    Nothing,
}

/// A wall, roof, floor, ceiling, partition or interior mass.
#[derive(Debug, Clone)]
pub struct Wall {
    model: Arc<WallModel>,
    area_m2: f64,
    convective_w_per_m2_k: f64,
    radiant_w_per_m2_k: f64,
    beyond: Beyond,
    solar_weight: f64,
}

impl Wall {
    /// A wall of 0.01 to 1e6 m2 with its inside convective coefficient (0.1 to 100 W/(m2 K)) and its inside
    /// long-wave coefficient to the star node (0 to 20 W/(m2 K), above 0 somewhere in the room);
    /// film coefficient outside 0.01 to 10 000.
    pub fn new(
        model: Arc<WallModel>,
        area: Area,
        convective: ThermalTransmittance,
        radiant: ThermalTransmittance,
        beyond: Beyond,
    ) -> Result<Self, RoomError> {
        if let Beyond::Temperature { film, .. } = beyond {
            within("outside film coefficient", film.si(), 0.01, 1e4, "W/(m2 K)")?;
        }
        Ok(Self {
            model,
            area_m2: within("wall area", area.si(), 0.01, 1e6, "m2")?,
            convective_w_per_m2_k: within(
                "inside convective coefficient",
                convective.si(),
                0.1,
                100.0,
                "W/(m2 K)",
            )?,
            radiant_w_per_m2_k: within("inside radiant coefficient", radiant.si(), 0.0, 20.0, "W/(m2 K)")?,
            beyond,
            solar_weight: 1.0,
        })
    }

    /// Share of transmitted sun per area relative to the other surfaces (default 1 for all: by area), 0 to 1000.
    pub fn with_solar_weight(mut self, weight: f64) -> Result<Self, RoomError> {
        self.solar_weight = within("solar weight", weight, 0.0, 1000.0, "1")?;
        Ok(self)
    }

    /// Area, m2.
    pub fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// Inside convective coefficient, W/(m2 K).
    pub fn convective_w_per_m2_k(&self) -> f64 {
        self.convective_w_per_m2_k
    }

    /// The linear model of the layers.
    pub fn model(&self) -> &WallModel {
        &self.model
    }

    /// What is behind.
    pub fn beyond(&self) -> Beyond {
        self.beyond
    }

    fn outside_film(&self) -> f64 {
        match self.beyond {
            Beyond::Temperature { film, .. } => film.si(),
            Beyond::Nothing => 0.0,
        }
    }
}

/// A window: a resistance between outdoor air and its inside pane; absorbed sun enters at the inside pane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    area_m2: f64,
    to_outside_w_per_m2_k: f64,
    convective_w_per_m2_k: f64,
    radiant_w_per_m2_k: f64,
}

impl Window {
    /// From the transmittance with films; the inside film is that of the two coefficients.
    ///
    /// Area 0.01 to 1e5 m2; the transmittance must be below the inside film coefficient.
    pub fn new(
        area: Area,
        transmittance: ThermalTransmittance,
        convective: ThermalTransmittance,
        radiant: ThermalTransmittance,
    ) -> Result<Self, RoomError> {
        let hc = within("inside convective coefficient", convective.si(), 0.1, 100.0, "W/(m2 K)")?;
        let hr = within("inside radiant coefficient", radiant.si(), 0.0, 20.0, "W/(m2 K)")?;
        let u = within("window transmittance", transmittance.si(), 0.05, 20.0, "W/(m2 K)")?;
        if u >= hc + hr {
            return Err(RoomError::Inconsistent {
                what: "window transmittance and the inside film coefficient that bounds it, W/(m2 K)",
                first: u,
                second: hc + hr,
            });
        }
        Ok(Self {
            area_m2: within("window area", area.si(), 0.01, 1e5, "m2")?,
            to_outside_w_per_m2_k: 1.0 / (1.0 / u - 1.0 / (hc + hr)),
            convective_w_per_m2_k: hc,
            radiant_w_per_m2_k: hr,
        })
    }

    /// Area, m2.
    pub fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// Conductance from the inside pane to outdoor air, W/(m2 K).
    pub fn to_outside_w_per_m2_k(&self) -> f64 {
        self.to_outside_w_per_m2_k
    }

    /// Share of sun absorbed at the inside pane that reaches the room when room and outdoor air are equally warm.
    pub fn inward_share(&self) -> Fraction {
        let inside = self.convective_w_per_m2_k + self.radiant_w_per_m2_k;
        Fraction::from_si(inside / (inside + self.to_outside_w_per_m2_k))
    }
}

/// A room before its network is built.
#[derive(Debug, Clone)]
pub struct Room {
    /// Heat capacity of air and furnishings, J/K.
    pub air_capacity_j_per_k: f64,
    /// Walls, roofs, floors, partitions, interior mass.
    pub walls: Vec<Wall>,
    /// Windows.
    pub windows: Vec<Window>,
}

/// Where the inputs of a room stand in an input vector.
///
/// Order: the temperature beyond each wall that has one (in the order of walls), outdoor air at each window, sun
/// absorbed by each window (W), then heat to the air (W), radiant heat from people and equipment (W), sun
/// transmitted (W).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inputs {
    /// Walls (by index) that have a temperature beyond them, in input order.
    pub boundary_walls: Vec<usize>,
    /// Count of windows.
    pub windows: usize,
}

impl Inputs {
    /// Count of inputs.
    pub fn len(&self) -> usize {
        self.boundary_walls.len() + 2 * self.windows + 3
    }
    /// Never true: heat to the air is always an input.
    pub fn is_empty(&self) -> bool {
        false
    }
    /// Input of outdoor air at window `i`.
    pub fn window_outside(&self, i: usize) -> usize {
        self.boundary_walls.len() + i
    }
    /// Input of sun absorbed by window `i`.
    pub fn window_absorbed(&self, i: usize) -> usize {
        self.boundary_walls.len() + self.windows + i
    }
    /// Input of heat to the air.
    pub fn air_heat(&self) -> usize {
        self.boundary_walls.len() + 2 * self.windows
    }
    /// Input of radiant heat from people and equipment.
    pub fn radiant(&self) -> usize {
        self.air_heat() + 1
    }
    /// Input of transmitted sun.
    pub fn solar(&self) -> usize {
        self.air_heat() + 2
    }
    /// Count of the leading inputs that are temperatures; the others are heat flows.
    pub fn temperatures(&self) -> usize {
        self.boundary_walls.len() + self.windows
    }
}

/// A temperature as a linear function of modes and inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// Factor per mode.
    pub modes: Vec<f64>,
    /// Factor per input, without delay.
    pub direct: Vec<f64>,
}

/// A room's network in modal form: `dz/dt = -rate z + input u`, temperatures are linear in `z` and `u`.
#[derive(Debug, Clone)]
pub struct ModalRoom {
    /// Decay rates, 1/s, in ascending order.
    pub rates_per_s: Vec<f64>,
    /// Input factors, modes in rows.
    pub input: DMatrix<f64>,
    /// Meaning of the inputs.
    pub inputs: Inputs,
    /// Room air temperature.
    pub air: Output,
    /// Star node: the mean radiant temperature of the inside surfaces.
    pub mean_radiant: Output,
    /// Inside surface temperature of every wall.
    pub wall_inside: Vec<Output>,
    /// Outside surface temperature of every wall.
    pub wall_outside: Vec<Output>,
    /// Inside pane temperature of every window.
    pub pane: Vec<Output>,
    /// Heat stored per unit of each mode, J; the storage of the room is its product with the state.
    pub stored_j: Vec<f64>,
    /// State in which the whole room is at 1 K above the reference.
    pub uniform: Vec<f64>,
    /// Conductance from the outside surface of each wall to what is beyond, W/K (0 when nothing is).
    pub wall_outside_w_per_k: Vec<f64>,
    /// Conductance from each pane to outdoor air, W/K.
    pub pane_outside_w_per_k: Vec<f64>,
    /// Source under which each boundary wall's heat is reported, in input order.
    pub boundary_sources: Vec<Source>,
}

/// Share by area, weighted: of the radiant and solar heat that each wall and window absorbs.
fn shares(
    room: &Room,
    weight: impl Fn(&Wall) -> f64,
    window_weight: f64,
) -> Result<(Vec<f64>, Vec<f64>), RoomError> {
    let w: Vec<f64> = room.walls.iter().map(|x| x.area_m2 * weight(x)).collect();
    let g: Vec<f64> = room.windows.iter().map(|x| x.area_m2 * window_weight).collect();
    let total: f64 = w.iter().sum::<f64>() + g.iter().sum::<f64>();
    if total <= 0.0 {
        return Err(RoomError::Empty { what: "list of surfaces that absorb radiation" });
    }
    Ok((w.iter().map(|x| x / total).collect(), g.iter().map(|x| x / total).collect()))
}

impl Room {
    /// A room of 1 kJ/K to 1 TJ/K of air and furnishings with at least one wall.
    ///
    /// ```
    /// use drycoil_rooms::{Beyond, Construction, Layer, Room, Source, Wall, WallDetail, WallModel};
    /// use drycoil_units::{Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalTransmittance};
    /// use std::sync::Arc;
    /// let concrete = Layer::solid(
    ///     Length::metres(0.2),
    ///     Conductivity::from_si(2.0),
    ///     Density::from_si(2400.0),
    ///     SpecificHeat::from_si(1000.0),
    /// )?;
    /// let model = Arc::new(WallModel::new(&Construction::new(vec![concrete])?, WallDetail::DESIGN)?);
    /// let h = ThermalTransmittance::from_si;
    /// let wall = Wall::new(
    ///     model,
    ///     Area::square_metres(20.0),
    ///     h(2.5),
    ///     h(5.2),
    ///     Beyond::Temperature { film: h(25.0), source: Source::Walls },
    /// )?;
    /// let room = Room::new(400e3, vec![wall], vec![])?.modal()?;
    /// assert!(room.rates_per_s.iter().all(|r| *r > 0.0));
    /// # Ok::<(), drycoil_rooms::RoomError>(())
    /// ```
    pub fn new(air_capacity_j_per_k: f64, walls: Vec<Wall>, windows: Vec<Window>) -> Result<Self, RoomError> {
        within("heat capacity of air and furnishings", air_capacity_j_per_k, 1e3, 1e12, "J/K")?;
        if walls.is_empty() {
            return Err(RoomError::Empty { what: "list of walls" });
        }
        Ok(Self { air_capacity_j_per_k, walls, windows })
    }

    /// Places of the inputs.
    pub fn inputs(&self) -> Inputs {
        Inputs {
            boundary_walls: (0..self.walls.len())
                .filter(|i| matches!(self.walls[*i].beyond, Beyond::Temperature { .. }))
                .collect(),
            windows: self.windows.len(),
        }
    }

    /// Steady heat loss of the room air per K to everything beyond, walls and windows with films, W/K.
    pub fn heat_loss_w_per_k(&self) -> Result<f64, RoomError> {
        let modal = self.modal()?;
        let temperatures = modal.inputs.temperatures();
        let response: f64 = {
            // Steady air temperature per W to the air.
            let j = modal.inputs.air_heat();
            modal
                .air
                .modes
                .iter()
                .zip(&modal.rates_per_s)
                .enumerate()
                .map(|(i, (c, r))| c * modal.input[(i, j)] / r)
                .sum::<f64>()
                + modal.air.direct[j]
        };
        if temperatures == 0 {
            return Ok(0.0);
        }
        Ok(1.0 / response)
    }

    /// Assembles the network and decomposes it.
    pub fn modal(&self) -> Result<ModalRoom, RoomError> {
        let inputs = self.inputs();
        let nu = inputs.len();
        let nw = self.walls.len();
        let walls = self
            .walls
            .iter()
            .map(|w| {
                with_film_coefficients(
                    &w.model,
                    w.convective_w_per_m2_k + w.radiant_w_per_m2_k,
                    w.outside_film(),
                )
            })
            .collect::<Result<Vec<_>, _>>()?;
        let n = 1 + walls.iter().map(|w| w.tau_s.len()).sum::<usize>();
        let m = 1 + self.windows.len();
        let (radiant_w, radiant_g) = shares(self, |_| 1.0, 1.0)?;
        let (solar_w, solar_g) = shares(self, |w| w.solar_weight, 0.0)?;

        // Scaled states: air first, then the walls' own modes. Massless: star, then panes.
        let mut k = DMatrix::<f64>::zeros(n, n);
        let mut ksm = DMatrix::<f64>::zeros(n, m);
        let mut kmm = DMatrix::<f64>::zeros(m, m);
        let mut bs = DMatrix::<f64>::zeros(n, nu);
        let mut bm = DMatrix::<f64>::zeros(m, nu);
        let mut uniform_y = vec![0.0; n];
        let air = 1.0 / self.air_capacity_j_per_k.sqrt();
        uniform_y[0] = self.air_capacity_j_per_k.sqrt();
        bs[(0, inputs.air_heat())] += air;

        let mut offset = 1;
        let mut boundary = 0;
        // Per wall: first state, input of the boundary.
        let mut places = Vec::with_capacity(nw);
        for (j, (wall, modes)) in self.walls.iter().zip(&walls).enumerate() {
            let a = wall.area_m2;
            let (hc, hr, ho) = (wall.convective_w_per_m2_k, wall.radiant_w_per_m2_k, wall.outside_film());
            let [d11, d12, _] = modes.direct;
            let beyond = matches!(wall.beyond, Beyond::Temperature { .. }).then_some(boundary);
            boundary += usize::from(beyond.is_some());
            let absorbed = [(inputs.radiant(), radiant_w[j]), (inputs.solar(), solar_w[j])];

            k[(0, 0)] += a * (hc - hc * hc * d11) * air * air;
            ksm[(0, 0)] -= a * hc * hr * d11 * air;
            kmm[(0, 0)] += a * (hr - hr * hr * d11);
            for (column, share) in absorbed {
                bs[(0, column)] += hc * d11 * share * air;
                bm[(0, column)] += hr * d11 * share;
            }
            if let Some(e) = beyond {
                bs[(0, e)] += a * hc * d12 * ho * air;
                bm[(0, e)] += a * hr * d12 * ho;
            }
            for (q, tau) in modes.tau_s.iter().enumerate() {
                let i = offset + q;
                let scale = (a / tau).sqrt();
                let (p, o) = (modes.inside[q] * scale, modes.outside[q] * scale);
                k[(i, i)] += 1.0 / tau;
                k[(i, 0)] -= p * hc * air;
                k[(0, i)] -= p * hc * air;
                ksm[(i, 0)] -= p * hr;
                for (column, share) in absorbed {
                    bs[(i, column)] += p * share / a;
                }
                if let Some(e) = beyond {
                    bs[(i, e)] += o * ho;
                }
                uniform_y[i] = modes.uniform[q] * (a * tau).sqrt();
            }
            places.push((offset, beyond));
            offset += modes.tau_s.len();
        }
        for (g, w) in self.windows.iter().enumerate() {
            let node = 1 + g;
            let (hc, hr) = (w.area_m2 * w.convective_w_per_m2_k, w.area_m2 * w.radiant_w_per_m2_k);
            let out = w.area_m2 * w.to_outside_w_per_m2_k;
            k[(0, 0)] += hc * air * air;
            ksm[(0, node)] -= hc * air;
            kmm[(node, node)] += hc + hr + out;
            kmm[(0, 0)] += hr;
            kmm[(0, node)] -= hr;
            kmm[(node, 0)] -= hr;
            bm[(node, inputs.window_outside(g))] += out;
            bm[(node, inputs.window_absorbed(g))] += 1.0;
            bm[(node, inputs.radiant())] += radiant_g[g];
            bm[(node, inputs.solar())] += solar_g[g];
        }

        // Eliminate the massless nodes: x_m = S (B_m u - K_ms x_s).
        let factor = kmm.cholesky().ok_or(RoomError::Singular { what: "matrix of the massless nodes" })?;
        let from_states = -factor.solve(&ksm.transpose());
        let from_inputs = factor.solve(&bm);
        k += &ksm * &from_states;
        bs -= &ksm * &from_inputs;
        let eigen = SymmetricEigen::new((&k + k.transpose()) * 0.5);
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
        let q = DMatrix::from_fn(n, n, |i, j| eigen.eigenvectors[(i, order[j])]);
        let rates_per_s: Vec<f64> = order.iter().map(|i| eigen.eigenvalues[*i]).collect();

        let input = q.tr_mul(&bs);
        let star_rows = &from_states * &q;
        let massless = |r: usize| Output {
            modes: star_rows.row(r).iter().copied().collect(),
            direct: from_inputs.row(r).iter().copied().collect(),
        };
        let air_out = Output { modes: q.row(0).iter().map(|x| x * air).collect(), direct: vec![0.0; nu] };
        let star = massless(0);
        let mut wall_inside = Vec::with_capacity(nw);
        let mut wall_outside = Vec::with_capacity(nw);
        for (j, (wall, modes)) in self.walls.iter().zip(&walls).enumerate() {
            let a = wall.area_m2;
            let (hc, hr, ho) = (wall.convective_w_per_m2_k, wall.radiant_w_per_m2_k, wall.outside_film());
            let (first, beyond) = places[j];
            let surface = |shape: &[f64], d_in: f64, d_out: f64| {
                let mut y = vec![0.0; n];
                for (q, tau) in modes.tau_s.iter().enumerate() {
                    y[first + q] = shape[q] / (a * tau).sqrt();
                }
                let mut out = Output { modes: vec![0.0; n], direct: vec![0.0; nu] };
                for i in 0..n {
                    let own: f64 = (first..first + modes.tau_s.len()).map(|r| y[r] * q[(r, i)]).sum();
                    out.modes[i] = own + d_in * (hc * air_out.modes[i] + hr * star.modes[i]);
                }
                for (d, s) in out.direct.iter_mut().zip(&star.direct) {
                    *d = d_in * hr * s;
                }
                out.direct[inputs.radiant()] += d_in * radiant_w[j] / a;
                out.direct[inputs.solar()] += d_in * solar_w[j] / a;
                if let Some(e) = beyond {
                    out.direct[e] += d_out * ho;
                }
                out
            };
            wall_inside.push(surface(&modes.inside, modes.direct[0], modes.direct[1]));
            wall_outside.push(surface(&modes.outside, modes.direct[1], modes.direct[2]));
        }
        let uniform: Vec<f64> = (0..n).map(|i| (0..n).map(|r| q[(r, i)] * uniform_y[r]).sum()).collect();
        Ok(ModalRoom {
            rates_per_s,
            input,
            air: air_out,
            mean_radiant: star,
            wall_inside,
            wall_outside,
            pane: (0..self.windows.len()).map(|g| massless(1 + g)).collect(),
            stored_j: uniform.clone(),
            uniform,
            wall_outside_w_per_k: self.walls.iter().map(|w| w.area_m2 * w.outside_film()).collect(),
            pane_outside_w_per_k: self.windows.iter().map(|w| w.area_m2 * w.to_outside_w_per_m2_k).collect(),
            boundary_sources: inputs
                .boundary_walls
                .iter()
                .map(|i| match self.walls[*i].beyond {
                    Beyond::Temperature { source, .. } => source,
                    Beyond::Nothing => Source::Other,
                })
                .collect(),
            inputs,
        })
    }
}

/// The same room as plain matrices over physical nodes, built without any modal step: `C dx/dt = -K x + B u`.
///
/// Meant for second opinions by other integrators. Nodes: air, star, panes, then each wall's inside surface, outside
/// surface and interior coordinates. Build the room from [`crate::WallDetail::Cells`] walls to get a diagonal `C`.
/// Massless nodes have zero rows in `C`.
#[derive(Debug, Clone)]
pub struct PlainNetwork {
    /// Capacities, J/K.
    pub capacity: DMatrix<f64>,
    /// Conductances, W/K.
    pub conductance: DMatrix<f64>,
    /// Inputs.
    pub input: DMatrix<f64>,
    /// Meaning of the inputs.
    pub inputs: Inputs,
}

impl Room {
    /// Assembles the plain network.
    pub fn plain_network(&self) -> Result<PlainNetwork, RoomError> {
        let inputs = self.inputs();
        let n = 2 + self.windows.len() + self.walls.iter().map(|w| w.model.states()).sum::<usize>();
        let (radiant_w, radiant_g) = shares(self, |_| 1.0, 1.0)?;
        let (solar_w, solar_g) = shares(self, |w| w.solar_weight, 0.0)?;
        let mut c = DMatrix::<f64>::zeros(n, n);
        let mut k = DMatrix::<f64>::zeros(n, n);
        let mut b = DMatrix::<f64>::zeros(n, inputs.len());
        let link = |k: &mut DMatrix<f64>, i: usize, j: usize, g: f64| {
            k[(i, i)] += g;
            k[(j, j)] += g;
            k[(i, j)] -= g;
            k[(j, i)] -= g;
        };
        c[(0, 0)] = self.air_capacity_j_per_k;
        b[(0, inputs.air_heat())] = 1.0;
        for (g, w) in self.windows.iter().enumerate() {
            let node = 2 + g;
            link(&mut k, 0, node, w.area_m2 * w.convective_w_per_m2_k);
            link(&mut k, 1, node, w.area_m2 * w.radiant_w_per_m2_k);
            let out = w.area_m2 * w.to_outside_w_per_m2_k;
            k[(node, node)] += out;
            b[(node, inputs.window_outside(g))] = out;
            b[(node, inputs.window_absorbed(g))] = 1.0;
            b[(node, inputs.radiant())] = radiant_g[g];
            b[(node, inputs.solar())] = solar_g[g];
        }
        let mut first = 2 + self.windows.len();
        let mut boundary = 0;
        for (j, w) in self.walls.iter().enumerate() {
            let s = w.model.states();
            for p in 0..s {
                for q in 0..s {
                    c[(first + p, first + q)] += w.area_m2 * w.model.capacity[(p, q)];
                    k[(first + p, first + q)] += w.area_m2 * w.model.conductance[(p, q)];
                }
            }
            link(&mut k, 0, first, w.area_m2 * w.convective_w_per_m2_k);
            link(&mut k, 1, first, w.area_m2 * w.radiant_w_per_m2_k);
            b[(first, inputs.radiant())] += radiant_w[j];
            b[(first, inputs.solar())] += solar_w[j];
            if let Beyond::Temperature { film, .. } = w.beyond {
                let g = w.area_m2 * film.si();
                k[(first + 1, first + 1)] += g;
                b[(first + 1, boundary)] += g;
                boundary += 1;
            }
            first += s;
        }
        Ok(PlainNetwork { capacity: c, conductance: k, input: b, inputs })
    }
}
