//! Reduced rooms beside their full networks over a whole year: what the promise of a reduced room is measured by.
//!
//! Both see the same channels, infiltration and ideal heating and cooling by the hours of use: capacities of 1.2 times the
//! loads; outside the hours of use only heating, at 15 degC. The thermal model alone is reduced, so moisture, and with it the
//! margins of coils, is not part of the comparison.

use crate::prepare::{LANES, PrepareError, Prepared, full_network};
use drycoil_project::Project;
use drycoil_rooms::exact::{AirFlow, Control, Hold, Stepper};
use drycoil_sizing::Design;

/// One room over the year on both models.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomAccuracy {
    /// The room.
    pub room: String,
    /// Largest difference of the air temperature at the end of a step, K.
    pub worst_k: f64,
    /// Bound of the reduced model, K.
    pub bound_k: f64,
    /// Heating of the year, on the full network and reduced, J.
    pub heating_j: [f64; 2],
    /// Cooling, likewise, J.
    pub cooling_j: [f64; 2],
    /// Whether heat to the air, by gains, infiltration, heating and cooling together, stayed within the range that the bound
    /// is for.
    pub within_range: bool,
}

impl RoomAccuracy {
    /// The larger error of heating and cooling over their sum on the full network; zero where there is neither.
    pub fn energy_error(&self) -> f64 {
        let total = self.heating_j[0] + self.cooling_j[0];
        let off = |x: [f64; 2]| (x[1] - x[0]).abs();
        let most = off(self.heating_j).max(off(self.cooling_j));
        if total > 0.0 { most / total } else { most }
    }

    /// Whether the air stays within the bound, which is for this range of heat, and heating and cooling each within a share
    /// of their sum.
    pub fn holds(&self, share: f64) -> bool {
        self.within_range && self.worst_k <= self.bound_k && self.energy_error() <= share
    }
}

/// Share of heating and cooling of the year within which a reduced room is promised.
pub const ENERGY_SHARE: f64 = 2e-3;

/// Rooms drawn by a seed, which may come twice.
pub fn drawn(rooms: usize, count: usize, seed: u64) -> Vec<usize> {
    let mut seed = seed;
    (0..count)
        .map(|_| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize % rooms.max(1)
        })
        .collect()
}

/// Steps a room through the year on both models.
///
/// # Errors
/// [`PrepareError::Room`] where one of the models cannot be stepped.
pub fn reduced_beside_full(
    project: &Project,
    design: &Design,
    prepared: &Prepared,
    room: usize,
    pool: &rayon::ThreadPool,
) -> Result<RoomAccuracy, PrepareError> {
    let name = &prepared.rooms[room].room;
    let refuse =
        |e: drycoil_rooms::RoomError| PrepareError::Room { room: name.clone(), reason: e.to_string() };
    let step_s = prepared.step_s;
    let full = full_network(project, design, &prepared.weather, step_s, room, pool)?;
    let stepper = Stepper::new(&full.modal, step_s, Hold::Linear).map_err(refuse)?;
    let reduced = &prepared.rooms[room].model.reduced;
    let loads = &design.loads.rooms[room];
    let (block, lane) = (&prepared.blocks[room / LANES], room % LANES);
    let leak = block.open_leak_kg_per_s[lane] * 1010.0;
    let first = prepared.channels(room, 0);
    let mut lags = reduced.steady_state(&first).map_err(refuse)?;
    let mut before = full.channels.spread(&first);
    // The steady state of the full room: each mode at its own.
    let mut state = full.modal.uniform_state(0.0);
    for (i, mode) in state.modes.iter_mut().enumerate() {
        *mode = (0..before.len()).map(|k| full.modal.input[(i, k)] * before[k]).sum::<f64>()
            / full.modal.rates_per_s[i];
    }
    let per_hour = prepared.weather.steps_per_hour;
    let mut out = RoomAccuracy {
        room: name.clone(),
        worst_k: 0.0,
        bound_k: reduced.bound_k,
        heating_j: [0.0; 2],
        cooling_j: [0.0; 2],
        within_range: false,
    };
    let steps = prepared.hours() * per_hour;
    let mut air_heat = Vec::with_capacity(steps);
    for step in 0..steps {
        let hour = step / per_hour;
        let mut u = prepared.channels(room, step);
        let end = full.channels.spread(&u);
        let served = block.hours[prepared.day_type(hour) as usize * 24 + hour % 24].served[lane] > 0.0;
        let heating_capacity_w = 1.2 * loads.heating.load_w;
        let control = if served {
            Control {
                cooling_capacity_w: 1.2 * loads.cooling.load_w,
                heating_capacity_w,
                ..Control::between(loads.heating_set_point_c, loads.set_point_c)
            }
        } else {
            Control { cooling_capacity_w: 0.0, heating_capacity_w, ..Control::between(15.0, 60.0) }
        };
        let flow = AirFlow { conductance_w_per_k: leak, supply_c: prepared.weather.mean[step].t_c };
        let exact = stepper.step(&mut state, &before, &end, flow, control).map_err(refuse)?;
        let small = reduced.step(&mut lags, &mut u, flow, control).map_err(refuse)?;
        out.worst_k = out.worst_k.max((exact.air_c - small.air_c).abs());
        air_heat.push(u[u.len() - 1]);
        for (k, q) in [exact.hvac_w, small.hvac_w].into_iter().enumerate() {
            out.heating_j[k] += q.max(0.0) * step_s;
            out.cooling_j[k] += (-q).max(0.0) * step_s;
        }
        before = end;
    }
    out.within_range = reduced.channels.list()[reduced.channels.air_heat()].range.holds(&air_heat);
    Ok(out)
}
