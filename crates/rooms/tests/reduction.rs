//! Reduced rooms against full ones.

mod common;
use common::office;
use drycoil_rooms::exact::{AirFlow, Control, Hold, Stepper};
use drycoil_rooms::reduction::{AirStepper, reduce};
use drycoil_rooms::{ModalRoom, RoomError, WallDetail};
use std::f64::consts::PI;

const STEP_S: f64 = 900.0;

fn ranges(room: &ModalRoom) -> Vec<f64> {
    (0..room.inputs.len()).map(|j| if j < room.inputs.temperatures() { 20.0 } else { 1500.0 }).collect()
}

/// Every steady gain of the reduced room is that of the full one (1e-10 relative: rounding of the fit).
#[test]
fn xchk_steady_gains_are_kept() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    for bound in [0.02, 0.5, 5.0] {
        let small = reduce(&room, &ranges(&room), STEP_S, Hold::Linear, bound).unwrap();
        assert!(small.bound_k <= bound && small.tried_k.iter().all(|b| *b > bound));
        for j in 0..room.inputs.len() {
            let full: f64 = (0..room.rates_per_s.len())
                .map(|i| room.air.modes[i] * room.input[(i, j)] / room.rates_per_s[i])
                .sum::<f64>()
                + room.air.direct[j];
            let gain: f64 =
                (0..small.rates_per_s.len()).map(|m| small.input[(m, j)] / small.rates_per_s[m]).sum::<f64>()
                    + small.direct[j];
            assert!((gain - full).abs() < 1e-10 * full.abs(), "input {j}: {gain} {full}");
        }
    }
}

/// The input that hurts most - every value at the end of its range with the sign of the error's impulse response -
/// reaches the bound and does not pass it; so the bound is true and not idle.
#[test]
fn phys_bound_holds_for_the_worst_input() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let half = ranges(&room);
    for hold in [Hold::Linear, Hold::Mean] {
        let small = reduce(&room, &half, STEP_S, hold, 0.1).unwrap();
        let exact = Stepper::new(&room, STEP_S, hold).unwrap();
        let fast = AirStepper::new(&small, STEP_S, hold).unwrap();
        let n = room.inputs.len();
        let steps = 4000;
        // Error's response to one pulse per input.
        let mut pulses = vec![vec![0.0; steps]; n];
        for (j, pulse) in pulses.iter_mut().enumerate() {
            let mut state = room.uniform_state(0.0);
            let mut lags = vec![0.0; small.rates_per_s.len()];
            let zero = vec![0.0; n];
            let mut one = zero.clone();
            one[j] = half[j];
            for (k, p) in pulse.iter_mut().enumerate() {
                let (start, end) = match k {
                    0 => (&zero, &one),
                    1 => (&one, &zero),
                    _ => (&zero, &zero),
                };
                let a = exact.step(&mut state, start, end, AirFlow::NONE, Control::FREE).unwrap();
                let b = fast.step(&mut lags, start, end, AirFlow::NONE, Control::FREE).unwrap();
                *p = a.air_c - b.air_c;
            }
        }
        let mut state = room.uniform_state(0.0);
        let mut lags = vec![0.0; small.rates_per_s.len()];
        let mut worst: f64 = 0.0;
        let input =
            |k: usize| -> Vec<f64> { (0..n).map(|j| half[j] * pulses[j][steps - 1 - k].signum()).collect() };
        let mut last = vec![0.0; n];
        for k in 0..steps {
            let next = input(k);
            let a = exact.step(&mut state, &last, &next, AirFlow::NONE, Control::FREE).unwrap();
            let b = fast.step(&mut lags, &last, &next, AirFlow::NONE, Control::FREE).unwrap();
            worst = worst.max((a.air_c - b.air_c).abs());
            last = next;
        }
        assert!(worst <= small.bound_k, "{worst} {}", small.bound_k);
        assert!(worst > 0.5 * small.bound_k, "the bound is idle: {worst} of {}", small.bound_k);
    }
}

/// A year with set-back, sun, gains and air flow: temperatures within the bound when floating, heating and cooling
/// each within 0.2 % of their sum.
#[test]
fn xchk_year_of_the_reduced_room() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let half = ranges(&room);
    let small = reduce(&room, &half, STEP_S, Hold::Linear, 0.02).unwrap();
    let exact = Stepper::new(&room, STEP_S, Hold::Linear).unwrap();
    let fast = AirStepper::new(&small, STEP_S, Hold::Linear).unwrap();
    let n = room.inputs.len();
    let t_count = room.inputs.temperatures();
    let input = |k: usize| -> Vec<f64> {
        let hour = k as f64 / 4.0;
        let season = 17.0 - 10.0 * (2.0 * PI * hour / 8760.0).cos();
        let daily = 5.0 * (2.0 * PI * (hour - 15.0) / 24.0).cos() + 2.0 * (hour / 57.0).sin();
        let day = (hour % 24.0).floor();
        (0..n)
            .map(|j| {
                if j < t_count {
                    season + daily * (1.0 + 0.2 * j as f64)
                } else if (8.0..18.0).contains(&day) && (hour / 24.0) % 7.0 < 5.0 {
                    250.0
                } else {
                    10.0
                }
            })
            .collect()
    };
    for floating in [true, false] {
        let first = vec![10.0; t_count].into_iter().chain(vec![0.0; n - t_count]).collect::<Vec<f64>>();
        let mut state = room.uniform_state(10.0);
        let mut lags = fast.steady_state(&first).unwrap();
        let (mut heat, mut cool) = ([0.0; 2], [0.0; 2]);
        let mut worst: f64 = 0.0;
        let mut last = first;
        for k in 0..35_040 {
            let next = input(k);
            let occupied = (28..76).contains(&(k % 96));
            let (flow, control) = if floating {
                (AirFlow::NONE, Control::FREE)
            } else {
                let set = if occupied { Control::between(20.0, 24.0) } else { Control::between(15.0, 30.0) };
                (AirFlow { conductance_w_per_k: 10.0, supply_c: next[0] }, set)
            };
            let a = exact.step(&mut state, &last, &next, flow, control).unwrap();
            let b = fast.step(&mut lags, &last, &next, flow, control).unwrap();
            worst = worst.max((a.air_c - b.air_c).abs());
            for (i, q) in [a.hvac_w, b.hvac_w].into_iter().enumerate() {
                heat[i] += q.max(0.0);
                cool[i] += (-q).max(0.0);
            }
            last = next;
        }
        if floating {
            assert!(worst <= small.bound_k, "{worst}");
        } else {
            let sum = heat[0] + cool[0];
            assert!(heat[0] > 0.1 * sum && cool[0] > 0.1 * sum, "both seasons occur: {heat:?} {cool:?}");
            assert!((heat[0] - heat[1]).abs() < 0.002 * sum, "{heat:?}");
            assert!((cool[0] - cool[1]).abs() < 0.002 * sum, "{cool:?}");
        }
    }
}

/// A bound that sixteen lags cannot reach is refused with the best that was found; wrong lengths too.
#[test]
fn phys_bound_out_of_reach_is_refused() {
    let room = office(WallDetail::DESIGN).modal().unwrap();
    let wide: Vec<f64> = ranges(&room).iter().map(|x| x * 1e4).collect();
    let out = reduce(&room, &wide, STEP_S, Hold::Linear, 1e-4);
    assert!(matches!(out, Err(RoomError::NotConverged { iterations: 16, .. })), "{out:?}");
    assert!(reduce(&room, &wide[1..], STEP_S, Hold::Linear, 0.1).is_err());
}
