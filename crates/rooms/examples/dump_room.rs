//! Prints a whole room as text, for a second opinion by another integrator: matrices, a week of inputs and our
//! solution.
//!
//! `C dx/dt = -K x + B u`, massless nodes have zero rows in C. Temperatures beyond walls and windows are straight
//! lines between the hourly values given (the first line is the start), heat flows are constant over the hour that
//! ends at the line. The room floats. One JSON object on standard output.

use drycoil_rooms::exact::{AirFlow, Control, Hold, Stepper};
use drycoil_rooms::{
    Beyond, Construction, Layer, Room, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::{
    Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use nalgebra::DMatrix;
use std::f64::consts::PI;
use std::fmt::Write as _;
use std::io::Write as _;
use std::sync::Arc;

fn solid(d_m: f64, k: f64, rho: f64, c: f64) -> Result<Layer, RoomError> {
    Layer::solid(
        Length::metres(d_m),
        Conductivity::from_si(k),
        Density::from_si(rho),
        SpecificHeat::from_si(c),
    )
}

fn room() -> Result<Room, RoomError> {
    let h = ThermalTransmittance::from_si;
    let detail = WallDetail::Cells { per_depth: 6.0 };
    let air = |r: f64| Layer::air_space(ThermalResistance::from_si(r));
    let wall = |layers: Vec<Layer>, area: f64, hc: f64, beyond| -> Result<Wall, RoomError> {
        let model = WallModel::new(&Construction::new(layers)?, detail)?;
        Wall::new(Arc::new(model), Area::square_metres(area), h(hc), h(5.2), beyond)
    };
    let beyond = |film: f64, source| Beyond::Temperature { film: h(film), source };
    let board = solid(0.0125, 0.25, 900.0, 1000.0)?;
    let walls = vec![
        wall(
            vec![board, solid(0.15, 0.04, 20.0, 1030.0)?, air(0.18)?, solid(0.1025, 0.77, 1700.0, 1000.0)?],
            10.0,
            2.5,
            beyond(17.8, Source::Walls),
        )?,
        wall(
            vec![solid(0.2, 2.0, 2400.0, 1000.0)?, solid(0.1, 0.04, 30.0, 1450.0)?],
            30.0,
            1.0,
            beyond(20.0, Source::Roofs),
        )?,
        wall(
            vec![air(0.15)?, solid(0.15, 1.4, 2300.0, 880.0)?, air(1.5)?],
            30.0,
            1.5,
            beyond(100.0, Source::Floors),
        )?,
        wall(vec![board, air(0.18)?, board], 45.0, 2.5, Beyond::Nothing)?,
    ];
    let window = Window::new(Area::square_metres(6.0), h(1.8), h(2.5), h(5.2))?;
    Room::new(500e3, walls, vec![window])
}

fn matrix(out: &mut String, name: &str, m: &DMatrix<f64>) {
    let rows: Vec<String> = (0..m.nrows())
        .map(|i| {
            format!("[{}]", (0..m.ncols()).map(|j| format!("{:e}", m[(i, j)])).collect::<Vec<_>>().join(","))
        })
        .collect();
    let _ = writeln!(out, "\"{name}\": [{}],", rows.join(",\n"));
}

fn rows(out: &mut String, name: &str, rows: &[Vec<f64>]) {
    let text: Vec<String> = rows
        .iter()
        .map(|r| format!("[{}]", r.iter().map(|x| format!("{x:e}")).collect::<Vec<_>>().join(",")))
        .collect();
    let _ = writeln!(out, "\"{name}\": [{}],", text.join(",\n"));
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let spec = room()?;
    let plain = spec.plain_network()?;
    let modal = spec.modal()?;
    let n = modal.inputs.len();
    let hours = 168;
    let input = |k: u32| -> Vec<f64> {
        let t = f64::from(k);
        let wave = |mean: f64, swing: f64, peak: f64| mean + swing * (2.0 * PI * (t - peak) / 24.0).cos();
        let sun = (600.0 * (PI * (t % 24.0 - 6.5) / 12.0).sin()).max(0.0);
        let busy = if (8..18).contains(&(k % 24)) && k < 120 { 1.0 } else { 0.1 };
        let mut u =
            vec![wave(24.0, 12.0, 15.0) + 0.02 * t, wave(26.0, 20.0, 13.0), 14.0, wave(22.0, 7.0, 15.0)];
        u.extend([0.1 * sun, 500.0 * busy, 300.0 * busy, sun]);
        u
    };
    assert_eq!(input(0).len(), n);
    let stepper = Stepper::new(&modal, 3600.0, Hold::Linear)?;
    let mut state = modal.uniform_state(20.0);
    let mut inputs = vec![input(0)];
    let mut solution = vec![vec![20.0, 20.0]];
    for k in 1..=hours {
        let (start, end) = (input(k - 1), input(k));
        let s = stepper.step(&mut state, &start, &end, AirFlow::NONE, Control::FREE)?;
        solution.push(vec![s.air_c, s.mean_radiant_c]);
        inputs.push(end);
    }
    let mut out = String::from("{\n");
    matrix(&mut out, "capacity_j_per_k", &plain.capacity);
    matrix(&mut out, "conductance_w_per_k", &plain.conductance);
    matrix(&mut out, "input", &plain.input);
    rows(&mut out, "inputs", &inputs);
    rows(&mut out, "solution_air_and_mean_radiant_c", &solution);
    let _ = writeln!(
        out,
        "\"temperature_inputs\": {}, \"air_node\": 0, \"mean_radiant_node\": 1, \"start_c\": 20.0, \"step_s\": 3600.0\n}}",
        modal.inputs.temperatures()
    );
    std::io::stdout().write_all(out.as_bytes())?;
    Ok(())
}
