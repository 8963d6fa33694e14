//! The room network: closed forms, conservation, agreement of independent solutions.

mod common;
use common::{h, office, solid};
use drycoil_rooms::exact::{AirFlow, Control, Hold, Mode, State, Stepper};
use drycoil_rooms::periodic::{AirStream, Day, HeatSource, PeriodicRoom};
use drycoil_rooms::{
    Beyond, Construction, ModalRoom, Room, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::Area;
use nalgebra::{Complex, DMatrix, DVector};
use proptest::prelude::*;
use std::f64::consts::PI;
use std::sync::Arc;

/// Two capacities: air 2e5 and mass 2e7 J/K, 0.005 K/W between, 0.02 K/W from each to outdoors. The mass is a sheet
/// so thin and conductive that its own resistance is below a millionth of its films'.
fn lumped(with_air_loss: bool) -> ModalRoom {
    let sheet = Construction::new(vec![solid(0.0008, 1000.0, 25000.0, 10000.0)]).unwrap();
    let wall = Wall::new(
        Arc::new(WallModel::new(&sheet, WallDetail::DESIGN).unwrap()),
        Area::square_metres(100.0),
        h(2.0),
        h(5.0),
        Beyond::Temperature { film: h(0.5), source: Source::Walls },
    )
    .unwrap();
    let window = Window::new(Area::square_metres(10.0), h(5.0), h(100.0), h(0.0)).unwrap();
    Room::new(2e5, vec![wall], if with_air_loss { vec![window] } else { vec![] }).unwrap().modal().unwrap()
}

/// Closed form by matrix exponential (recomputed). Tolerance 1e-5 K: printed digits.
#[test]
fn val_two_capacity_room() {
    let room = lumped(true);
    let stepper = Stepper::new(&room, 900.0, Hold::Linear).unwrap();
    let mut input = vec![0.0; room.inputs.len()];
    input[room.inputs.air_heat()] = 1000.0;
    assert!((1.0 / room.rates_per_s[0] / 3600.0 - 62.12488).abs() < 1e-4);
    assert!((1.0 / room.rates_per_s[1] / 3600.0 - 0.220804).abs() < 1e-6);
    let mut state = room.uniform_state(0.0);
    let table = [
        (0.25, 2.70495, 0.01434),
        (0.5, 3.59618, 0.04310),
        (1.0, 4.02076, 0.11108),
        (2.0, 4.17546, 0.25091),
        (6.0, 4.60838, 0.78955),
        (24.0, 6.24408, 2.82686),
        (100.0, 9.67901, 7.10517),
    ];
    let mut hours = 0.0;
    for (t, air, mass) in table {
        let mut step = None;
        while hours < t - 1e-9 {
            step = Some(stepper.step(&mut state, &input, &input, AirFlow::NONE, Control::FREE).unwrap());
            hours += 0.25;
        }
        let found = step.unwrap().air_c;
        assert!((found - air).abs() < 1.2e-5, "{t} h: air {found}, wanted {air}");
        let surface = room.wall_inside[0].value(&state.modes, &input);
        assert!((surface - mass).abs() < 1.2e-5, "{t} h: mass {surface}, wanted {mass}");
    }
    // Steady state from the direct solution.
    let j = room.inputs.air_heat();
    let steady: f64 = (0..room.rates_per_s.len())
        .map(|i| room.air.modes[i] * room.input[(i, j)] / room.rates_per_s[i] * 1000.0)
        .sum();
    assert!((steady - 11.11111).abs() < 1e-5, "{steady}");
}

/// Conductances 200, 50 and 50 W/K: the air loses `50 + 1 / (1/200 + 1/50)` = 90 W/K.
#[test]
fn val_heat_loss_of_the_two_capacity_room() {
    let sheet = Construction::new(vec![solid(0.0008, 1000.0, 25000.0, 10000.0)]).unwrap();
    let model = Arc::new(WallModel::new(&sheet, WallDetail::DESIGN).unwrap());
    let beyond = Beyond::Temperature { film: h(0.5), source: Source::Walls };
    let wall = Wall::new(model, Area::square_metres(100.0), h(2.0), h(5.0), beyond).unwrap();
    let window = Window::new(Area::square_metres(10.0), h(5.0), h(100.0), h(0.0)).unwrap();
    let loss = Room::new(2e5, vec![wall], vec![window]).unwrap().heat_loss_w_per_k().unwrap();
    // A millionth: the sheet's own resistance.
    assert!((loss - 90.0).abs() < 1e-4, "{loss}");
}

/// One capacity: time constant 4 h, 10 K step, 6 h: 7.768698 K (recomputed, printed digits).
#[test]
fn val_one_capacity_room() {
    // The same sheet, its air so light that sheet and air are one: 2e7 J/K over 4 h.
    let sheet = Construction::new(vec![solid(0.0008, 1000.0, 25000.0, 10000.0)]).unwrap();
    let g = (2e7 / 100.0 + 10.0) / (4.0 * 3600.0);
    let wall = Wall::new(
        Arc::new(WallModel::new(&sheet, WallDetail::DESIGN).unwrap()),
        Area::square_metres(100.0),
        h(100.0),
        h(5.0),
        Beyond::Temperature { film: h(g), source: Source::Walls },
    )
    .unwrap();
    let room = Room::new(1000.0, vec![wall], vec![]).unwrap().modal().unwrap();
    let stepper = Stepper::new(&room, 3600.0, Hold::Mean).unwrap();
    let mut state = room.uniform_state(0.0);
    let input = [10.0, 0.0, 0.0, 0.0];
    let mut last = 0.0;
    for _ in 0..6 {
        last = stepper.step(&mut state, &input, &input, AirFlow::NONE, Control::FREE).unwrap().air_c;
    }
    // 1e-4: the air lags the sheet by 0.1 s and the sheet has a millionth of the film's resistance.
    assert!((last - 7.768698).abs() < 1e-4, "{last}");
}

fn day_of(room: &ModalRoom, control: Vec<Control>, reference_c: f64, seed: f64) -> Day {
    let n = control.len();
    let wave = |mean: f64, swing: f64, peak: f64| -> Vec<f64> {
        (0..n).map(|k| mean + swing * (2.0 * PI * (k as f64 / n as f64 - peak / 24.0)).cos()).collect()
    };
    let block = |w: f64| -> Vec<f64> {
        (0..n).map(|k| if (n / 3..3 * n / 4).contains(&k) { w } else { 0.05 * w }).collect()
    };
    let boundary_c = room
        .boundary_sources
        .iter()
        .enumerate()
        .map(|(i, s)| match s {
            Source::Floors => vec![14.0; n],
            Source::Partitions => wave(25.0, 2.0, 16.0),
            _ => wave(28.0 + seed, 9.0 + i as f64, 14.0 + i as f64),
        })
        .collect();
    let sun: Vec<f64> =
        (0..n).map(|k| (800.0 * (PI * (k as f64 * 24.0 / n as f64 - 6.0) / 12.0).sin()).max(0.0)).collect();
    let gain = |source, w: f64, radiant: f64| HeatSource {
        source,
        convective_w: block(w * (1.0 - radiant)),
        radiant_w: block(w * radiant),
        solar_w: vec![],
    };
    Day {
        boundary_c,
        window_outside_c: vec![wave(28.0 + seed, 7.0, 15.0); room.inputs.windows],
        window_absorbed_w: vec![sun.iter().map(|x| 0.1 * x).collect(); room.inputs.windows],
        heat: vec![
            HeatSource { source: Source::Solar, convective_w: vec![], radiant_w: vec![], solar_w: sun },
            gain(Source::People, 300.0, 0.6),
            gain(Source::Lights, 250.0, 0.5),
            gain(Source::Plugs, 300.0, 0.3),
            gain(Source::Process, 50.0, 0.3),
        ],
        air: vec![
            AirStream {
                source: Source::Infiltration,
                conductance_w_per_k: vec![9.0; n],
                supply_c: wave(28.0 + seed, 7.0, 15.0),
            },
            AirStream {
                source: Source::Ventilation,
                conductance_w_per_k: block(60.0),
                supply_c: vec![16.0; n],
            },
        ],
        control,
        reference_c,
    }
}

fn controls(n: usize, kind: usize) -> Vec<Control> {
    (0..n)
        .map(|k| {
            let occupied = (n / 4..3 * n / 4).contains(&k);
            match kind {
                0 => Control::held(24.0),
                // Set-back, both limits, a narrow capacity in the afternoon.
                1 if occupied => Control::between(21.0, 24.0),
                1 => Control::between(16.0, 29.0),
                2 if occupied => Control { cooling_capacity_w: 700.0, ..Control::between(21.0, 23.0) },
                2 => Control::FREE,
                _ => Control {
                    heating_capacity_w: 400.0,
                    cooling_capacity_w: 900.0,
                    ..Control::between(22.0, 23.0)
                },
            }
        })
        .collect()
}

/// The exact periodic solution equals a long march of days, in air temperature, heat, mode and mean radiant
/// temperature, for every kind of control. Tolerance 1e-6 K and W: 400 days are marched, the slab's slowest mode is
/// below 1e-9 by then.
#[test]
fn xchk_periodic_day_equals_long_simulation() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    for (n, step_s) in [(24, 3600.0), (96, 900.0)] {
        for hold in [Hold::Linear, Hold::Mean] {
            let periodic = PeriodicRoom::new(&room, n, step_s, hold).unwrap();
            for kind in 0..4 {
                let day = day_of(&room, controls(n, kind), 24.0, 0.0);
                let loads = periodic.solve(&day).unwrap();
                let mut state = room.uniform_state(20.0);
                for _ in 0..400 {
                    for k in 0..n {
                        let start = periodic.input_vector(&day, (k + n - 1) % n);
                        let end = periodic.input_vector(&day, k);
                        periodic
                            .stepper()
                            .step(&mut state, &start, &end, PeriodicRoom::flow(&day, k), day.control[k])
                            .unwrap();
                    }
                }
                let start_state = periodic.start_state(&day, &loads).unwrap();
                for (a, b) in state.modes.iter().zip(&start_state.modes) {
                    assert!((a - b).abs() < 1e-6 * (1.0 + b.abs()), "state {a} {b}");
                }
                for k in 0..n {
                    let start = periodic.input_vector(&day, (k + n - 1) % n);
                    let end = periodic.input_vector(&day, k);
                    let s = periodic
                        .stepper()
                        .step(&mut state, &start, &end, PeriodicRoom::flow(&day, k), day.control[k])
                        .unwrap();
                    assert!(
                        (s.air_c - loads.air_c[k]).abs() < 1e-6,
                        "kind {kind} step {k} {s:?} {}",
                        loads.air_c[k]
                    );
                    assert!((s.hvac_w + loads.load_w[k]).abs() < 1e-5, "kind {kind} step {k}");
                    assert!((s.mean_radiant_c - loads.mean_radiant_c[k]).abs() < 1e-6);
                    assert!((s.air_flow_w - loads.air_flow_w[k]).abs() < 1e-5);
                    assert_eq!(s.mode, loads.modes[k], "kind {kind} step {k}");
                }
                assert!(loads.residual_k < 1e-9);
            }
        }
    }
}

/// All modes of control really occur in the days above.
#[test]
fn phys_every_mode_is_exercised() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let periodic = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
    let mut seen = Vec::new();
    for (kind, seed) in [(0, 0.0), (1, 0.0), (2, 0.0), (3, 0.0), (1, -25.0), (3, -25.0)] {
        let loads = periodic.solve(&day_of(&room, controls(24, kind), 24.0, seed)).unwrap();
        seen.extend(loads.modes);
    }
    for m in [Mode::Floating, Mode::Heating, Mode::Cooling, Mode::HeatingLimit, Mode::CoolingLimit] {
        assert!(seen.contains(&m), "{m:?}");
    }
}

/// A first guess of the modes decides how long the search takes, not where it ends; one of another length is refused.
#[test]
fn xchk_a_guess_does_not_move_the_loads() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let periodic = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
    for kind in 0..4 {
        for seed in [0.0, -25.0] {
            let day = day_of(&room, controls(24, kind), 24.0, seed);
            let plain = periodic.solve(&day).unwrap();
            let own = periodic.solve_from(&day, &plain.modes).unwrap();
            assert!(own.iterations <= plain.iterations);
            for guess in [Mode::Floating, Mode::Heating, Mode::Cooling, Mode::CoolingLimit] {
                let other = periodic.solve_from(&day, &[guess; 24]).unwrap();
                assert_eq!(other.modes, plain.modes, "kind {kind} from {guess:?}");
                for (a, b) in other.load_w.iter().zip(&plain.load_w) {
                    // The same equations, the same factors: rounding only.
                    assert!((a - b).abs() < 1e-9 * plain.peak_cooling().0.max(1.0), "{a} {b}");
                }
            }
            assert!(periodic.solve_from(&day, &[Mode::Floating; 23]).is_err());
        }
    }
}

/// Parts re-add to the load within 1e-9 of the largest part, in every kind of control.
#[test]
fn phys_parts_add_up_to_the_load() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let periodic = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
    for kind in 0..4 {
        for seed in [0.0, -25.0] {
            let loads = periodic.solve(&day_of(&room, controls(24, kind), 23.0, seed)).unwrap();
            let scale = loads.parts.iter().flat_map(|p| &p.load_w).fold(1.0_f64, |a, b| a.max(b.abs()));
            for k in 0..24 {
                let sum: f64 = loads.parts.iter().map(|p| p.load_w[k]).sum();
                assert!(
                    (sum - loads.load_w[k]).abs() < 1e-9 * scale,
                    "kind {kind} hour {k}: {sum} {}",
                    loads.load_w[k]
                );
            }
            assert_eq!(loads.parts.len(), 13);
        }
    }
    // Held at the reference: no heat is stored on the day's balance of the control itself, and lights give all their heat.
    let day = day_of(&room, controls(24, 0), 24.0, 0.0);
    let loads = periodic.solve(&day).unwrap();
    let part = |s: Source| &loads.parts.iter().find(|p| p.source == s).unwrap().load_w;
    assert!(part(Source::Storage).iter().all(|x| x.abs() < 1e-9));
    let lights: f64 = part(Source::Lights).iter().sum();
    let given: f64 = day.heat[2].convective_w.iter().chain(&day.heat[2].radiant_w).sum();
    // A part of the radiant share leaves through the fabric: 0.7 to 1 of the heat becomes load.
    assert!(lights < given && lights > 0.7 * given, "{lights} {given}");
}

/// A held day's mean load is the steady load of the mean inputs: independent of all capacities.
#[test]
fn phys_mean_load_needs_no_capacity() {
    let mut heavy = office(WallDetail::DESIGN);
    let light = heavy.clone();
    heavy.air_capacity_j_per_k *= 7.0;
    let mut means = Vec::new();
    for room in [light, heavy] {
        let room = room.modal().unwrap();
        let p = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
        let loads = p.solve(&day_of(&room, controls(24, 0), 24.0, 0.0)).unwrap();
        means.push(loads.load_w.iter().sum::<f64>() / 24.0);
    }
    assert!((means[0] - means[1]).abs() < 1e-7 * means[0].abs());
}

/// The reduced walls give the loads of the full cells: hourly differences below 0.5 % of the peak (the bound asked of
/// the walls at 24 h), temperatures within 0.05 K.
#[test]
fn xchk_reduced_room_against_full_cells() {
    let small = office(WallDetail::DESIGN).modal().unwrap();
    let full = office(WallDetail::Cells { per_depth: 16.0 }).modal().unwrap();
    // The reduction is worth its name.
    assert!(small.rates_per_s.len() * 4 < full.rates_per_s.len());
    for kind in 0..3 {
        let solve = |room: &ModalRoom| {
            PeriodicRoom::new(room, 24, 3600.0, Hold::Linear)
                .unwrap()
                .solve(&day_of(room, controls(24, kind), 24.0, 0.0))
                .unwrap()
        };
        let (a, b) = (solve(&small), solve(&full));
        let peak = b.load_w.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        for k in 0..24 {
            assert!(
                (a.load_w[k] - b.load_w[k]).abs() < 0.005 * peak,
                "kind {kind} hour {k}: {} {}",
                a.load_w[k],
                b.load_w[k]
            );
            assert!((a.air_c[k] - b.air_c[k]).abs() < 0.05);
        }
    }
}

/// The modal room against the plain matrices solved as complex linear systems, at steady state and three periods, for
/// every input and both outputs. Tolerance 1e-9 steady; 2e-4 of the largest response elsewhere (states faster than
/// 5 s are taken as massless).
#[test]
fn xchk_modal_room_against_plain_matrices() {
    for detail in [WallDetail::DESIGN, WallDetail::REFERENCE] {
        let spec = office(detail);
        let modal = spec.modal().unwrap();
        let plain = spec.plain_network().unwrap();
        let n = plain.capacity.nrows();
        for (w, tolerance) in [(0.0, 1e-9), (2.0 * PI / 86400.0, 2e-4), (2.0 * PI / 10800.0, 2e-4)] {
            let matrix = DMatrix::from_fn(n, n, |i, j| {
                Complex::new(plain.conductance[(i, j)], w * plain.capacity[(i, j)])
            });
            let lu = matrix.lu();
            for j in 0..plain.inputs.len() {
                let rhs = DVector::from_fn(n, |i, _| Complex::new(plain.input[(i, j)], 0.0));
                let x = lu.solve(&rhs).unwrap();
                for (node, out) in [(0, &modal.air), (1, &modal.mean_radiant)] {
                    let mut y = Complex::new(out.direct[j], 0.0);
                    for (i, r) in modal.rates_per_s.iter().enumerate() {
                        y += out.modes[i] * modal.input[(i, j)] / Complex::new(*r, w);
                    }
                    let scale = x[node].norm().max(0.02 * x.iter().fold(0.0_f64, |m, v| m.max(v.norm())));
                    assert!(
                        (y - x[node]).norm() < tolerance * scale,
                        "w {w} input {j} node {node}: {y} {}",
                        x[node]
                    );
                }
            }
        }
    }
}

/// Half the step, same piecewise-linear boundary and constant gains: same temperatures (exact stepping).
#[test]
fn xchk_step_length_does_not_matter() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let n = room.inputs.len();
    let long = Stepper::new(&room, 3600.0, Hold::Linear).unwrap();
    let short = Stepper::new(&room, 900.0, Hold::Linear).unwrap();
    let (mut a, mut b) = (room.uniform_state(20.0), room.uniform_state(20.0));
    let input = |t: f64| -> Vec<f64> {
        (0..n).map(|j| if j < room.inputs.temperatures() { 5.0 + t } else { 100.0 }).collect()
    };
    for k in 0..48 {
        let t = f64::from(k);
        long.step(&mut a, &input(t), &input(t + 1.0), AirFlow::NONE, Control::FREE).unwrap();
        for q in 0..4 {
            let s = t + f64::from(q) / 4.0;
            short.step(&mut b, &input(s), &input(s + 0.25), AirFlow::NONE, Control::FREE).unwrap();
        }
    }
    for (x, y) in a.modes.iter().zip(&b.modes) {
        assert!((x - y).abs() < 1e-9 * (1.0 + x.abs()), "{x} {y}");
    }
}

/// A room without any loss is refused as a repeated day and still steps.
#[test]
fn phys_room_without_loss_has_no_periodic_state() {
    let c = Construction::new(vec![solid(0.1, 0.5, 1000.0, 1000.0)]).unwrap();
    let wall = Wall::new(
        Arc::new(WallModel::new(&c, WallDetail::DESIGN).unwrap()),
        Area::square_metres(50.0),
        h(2.5),
        h(5.0),
        Beyond::Nothing,
    )
    .unwrap();
    let room = Room::new(1e5, vec![wall], vec![]).unwrap().modal().unwrap();
    assert!(matches!(
        PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear),
        Err(RoomError::NoPeriodicState { .. })
    ));
    let stepper = Stepper::new(&room, 3600.0, Hold::Linear).unwrap();
    let mut state = room.uniform_state(20.0);
    let input = [1000.0, 0.0, 0.0];
    let before = room.stored_j(&state);
    for _ in 0..24 {
        stepper.step(&mut state, &input, &input, AirFlow::NONE, Control::FREE).unwrap();
    }
    let gained = room.stored_j(&state) - before;
    assert!((gained / (24.0 * 3.6e6) - 1.0).abs() < 1e-9, "{gained}");
}

/// Wrong lengths and numbers are refused with their name.
#[test]
fn phys_bad_days_are_refused() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let p = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
    let good = day_of(&room, controls(24, 0), 24.0, 0.0);
    let mut day = good.clone();
    day.boundary_c[0].pop();
    assert!(matches!(p.solve(&day), Err(RoomError::WrongLength { found: 23, needed: 24, .. })));
    let mut day = good.clone();
    day.heat[1].radiant_w[3] = f64::NAN;
    assert!(matches!(p.solve(&day), Err(RoomError::OutOfRange { quantity: "radiant heat", .. })));
    let mut day = good.clone();
    day.control[5] = Control::between(25.0, 20.0);
    assert!(matches!(p.solve(&day), Err(RoomError::Inconsistent { .. })));
    let mut day = good;
    day.control[5] = Control::held(f64::NAN);
    assert!(p.solve(&day).is_err());
    assert!(Window::new(Area::square_metres(1.0), h(8.0), h(2.5), h(5.0)).is_err());
}

/// Surfaces of the solved day: a window pane on a cold day is the coldest inside surface.
#[test]
fn phys_pane_is_coldest_in_winter() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let p = PeriodicRoom::new(&room, 24, 3600.0, Hold::Linear).unwrap();
    let mut day = day_of(&room, controls(24, 0), 24.0, -40.0);
    day.heat.clear();
    day.window_absorbed_w[0] = vec![0.0; 24];
    let loads = p.solve(&day).unwrap();
    let surfaces = p.inside_surfaces_c(&day, &loads).unwrap();
    assert_eq!(surfaces.len(), 7);
    for (k, pane) in surfaces[6].iter().enumerate() {
        // Not the plain brick wall (index 1): it insulates less than the window.
        assert!([0, 2, 3, 4, 5].iter().all(|i| surfaces[*i][k] > *pane) && *pane < 24.0);
        assert!(loads.mean_radiant_c[k] < 24.0);
    }
}

fn random_room() -> impl Strategy<Value = Room> {
    let layer = (0.002..0.3_f64, 0.03..3.0_f64, 20.0..2600.0_f64, 700.0..1800.0_f64);
    let wall = (
        proptest::collection::vec(layer, 1..4),
        2.0..60.0_f64,
        1.0..5.0_f64,
        4.0..6.0_f64,
        0..3_usize,
        0.05..0.3_f64,
    );
    (proptest::collection::vec(wall, 1..6), 1e5..5e6_f64, 0..3_usize, 0.8..4.0_f64).prop_map(
        |(walls, c, windows, u)| {
            let walls = walls
                .into_iter()
                .map(|(layers, area, hc, hr, beyond, r)| {
                    let mut list: Vec<_> =
                        layers.into_iter().map(|(d, k, rho, cp)| solid(d, k, rho, cp)).collect();
                    list.push(common::air(r));
                    let model =
                        WallModel::new(&Construction::new(list).unwrap(), WallDetail::DESIGN).unwrap();
                    let beyond = if beyond == 0 {
                        Beyond::Nothing
                    } else {
                        Beyond::Temperature { film: h(10.0), source: Source::Walls }
                    };
                    Wall::new(Arc::new(model), Area::square_metres(area), h(hc), h(hr), beyond).unwrap()
                })
                .collect();
            let window = Window::new(Area::square_metres(3.0), h(u), h(2.5), h(5.0)).unwrap();
            Room::new(c, walls, vec![window; windows]).unwrap()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// First law of every step: boundary fluxes from surface temperatures, gains and air flows against storage from
    /// the states, 1e-9 of the largest term, random rooms, inputs, holds, steps and controls.
    #[test]
    fn phys_first_law_closes_every_step(
        spec in random_room(),
        values in proptest::collection::vec(-1.0..1.0_f64, 200),
        step_s in 60.0..7200.0_f64,
        linear in any::<bool>(),
        start_c in 5.0..30.0_f64,
    ) {
        let room = spec.modal().unwrap();
        let hold = if linear { Hold::Linear } else { Hold::Mean };
        let stepper = Stepper::new(&room, step_s, hold).unwrap();
        let n = room.inputs.len();
        let input = |k: usize| -> Vec<f64> {
            (0..n).map(|j| {
                let v = values[(k * 7 + j * 13) % 200];
                if j < room.inputs.temperatures() { 15.0 + 25.0 * v } else { 500.0 * v }
            }).collect()
        };
        let mut state: State = room.uniform_state(start_c);
        let mut stored: f64 = 0.0;
        for k in 0..30 {
            let before = state.clone();
            let flow = AirFlow { conductance_w_per_k: 40.0 * (1.0 + values[k]), supply_c: 10.0 + 20.0 * values[k + 1] };
            let control = match k % 3 {
                0 => Control::FREE,
                1 => Control::between(20.0, 24.0),
                _ => Control { heating_capacity_w: 200.0, cooling_capacity_w: 200.0, ..Control::held(22.0) },
            };
            let step = stepper.step(&mut state, &input(k), &input(k + 1), flow, control).unwrap();
            let b = stepper.balance(&before, &state, &input(k), &input(k + 1), &step);
            stored = stored.max(room.stored_j(&state).abs());
            // The stored heat itself is a term of the subtraction that gives its growth.
            let scale = b.largest_j().max(1e-3 * stored);
            prop_assert!(b.residual_j().abs() <= 1e-9 * scale, "{} of {}", b.residual_j(), scale);
            // The air temperature that the control reports is the one in the state.
            let air = room.air.value(&state.modes, &input(k + 1));
            prop_assert!((air - step.air_c).abs() < 1e-8);
        }
    }

    /// A room at rest with everything at one temperature stays there.
    #[test]
    fn phys_equilibrium_stays(spec in random_room(), t in -10.0..40.0_f64) {
        let room = spec.modal().unwrap();
        let stepper = Stepper::new(&room, 3600.0, Hold::Linear).unwrap();
        let mut input = vec![t; room.inputs.temperatures()];
        input.resize(room.inputs.len(), 0.0);
        let mut state = room.uniform_state(t);
        for _ in 0..10 {
            let s = stepper.step(&mut state, &input, &input, AirFlow::NONE, Control::FREE).unwrap();
            prop_assert!((s.air_c - t).abs() < 1e-8 && (s.mean_radiant_c - t).abs() < 1e-8);
        }
    }
}
