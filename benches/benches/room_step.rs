//! Core time of the year's rooms: set-up of every distinct room (network, modes, reduction) and nanoseconds per
//! room-step of the block kernel, with heat, control with limits, three air flows and moisture, steps outside and rooms
//! inside. Every room has its own areas, glass, ranges, profile and set points; constructions are shared by content, eight
//! sets of them. One core; calibration and result come from one run.
//!
//! `cargo bench -p drycoil-benches --bench room_step`

#![allow(clippy::print_stdout)]

use drycoil_rooms::block::{BlockModel, BlockRoom, Drive, Ideal, LANES, Lanes, Response, control, moisture};
use drycoil_rooms::exact::Hold;
use drycoil_rooms::reduction::{Channel, Channels, InputRange, ReducedRoom, reduce};
use drycoil_rooms::{
    Beyond, Construction, Layer, ModalRoom, Room, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::{
    Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use std::f64::consts::PI;
use std::sync::Arc;
use std::time::{Duration, Instant};

const STEP_S: f64 = 900.0;

/// Small linear congruential generator: the same rooms in every run.
struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }
}

/// Brick wall, insulated wall, floor slab, partition, roof.
fn constructions(d: &mut Draw) -> Result<Vec<Arc<WallModel>>, RoomError> {
    let mut solid = |thickness: f64, k: f64, rho: f64, c: f64| {
        Layer::solid(
            Length::metres(thickness * d.between(0.8, 1.2)),
            Conductivity::from_si(k * d.between(0.9, 1.1)),
            Density::from_si(rho),
            SpecificHeat::from_si(c),
        )
    };
    let air = |r: f64| Layer::air_space(ThermalResistance::from_si(r));
    let board = (0.0125, 0.25, 900.0, 1000.0);
    let layers = vec![
        vec![solid(0.013, 0.57, 1300.0, 1000.0)?, solid(0.22, 0.77, 1700.0, 1000.0)?],
        vec![
            solid(board.0, board.1, board.2, board.3)?,
            solid(0.15, 0.04, 20.0, 1030.0)?,
            air(0.18)?,
            solid(0.1025, 0.77, 1700.0, 1000.0)?,
        ],
        vec![air(0.15)?, solid(0.15, 1.4, 2300.0, 880.0)?],
        vec![
            solid(board.0, board.1, board.2, board.3)?,
            air(0.18)?,
            solid(board.0, board.1, board.2, board.3)?,
        ],
        vec![
            solid(0.015, 0.06, 300.0, 800.0)?,
            air(0.17)?,
            solid(0.12, 0.035, 30.0, 1450.0)?,
            solid(0.01, 0.5, 1700.0, 1000.0)?,
        ],
    ];
    layers
        .into_iter()
        .map(|l| Ok(Arc::new(WallModel::new(&Construction::new(l)?, WallDetail::DESIGN)?)))
        .collect()
}

/// A room within a storey, every fifth one under the roof and every third one with two facades.
fn room(d: &mut Draw, m: &[Arc<WallModel>], i: usize) -> Result<(ModalRoom, Channels), RoomError> {
    let h = ThermalTransmittance::from_si;
    let outdoor = |film: f64, source| Beyond::Temperature { film: h(film), source };
    let scale = d.between(0.7, 3.0);
    let mut walls = Vec::new();
    let mut add = |model: &Arc<WallModel>, area: f64, hc: f64, beyond| -> Result<(), RoomError> {
        let area = Area::square_metres(area * scale * d.between(0.8, 1.2));
        walls.push(Wall::new(Arc::clone(model), area, h(hc), h(5.2), beyond)?);
        Ok(())
    };
    add(&m[i % 2], 12.0, 2.5, outdoor(17.8, Source::Walls))?;
    if i.is_multiple_of(3) {
        add(&m[(i + 1) % 2], 8.0, 2.5, outdoor(17.8, Source::Walls))?;
    }
    add(&m[2], 30.0, 1.5, Beyond::Nothing)?;
    if i.is_multiple_of(5) {
        add(&m[4], 30.0, 1.0, outdoor(20.0, Source::Roofs))?;
    } else {
        add(&m[2], 30.0, 1.0, Beyond::Nothing)?;
    }
    add(&m[3], 45.0, 2.5, Beyond::Nothing)?;
    let window = Window::new(Area::square_metres(6.0 * scale), h(d.between(1.2, 2.8)), h(2.5), h(5.2))?;
    let modal = Room::new(543e3 * scale, walls, vec![window])?.modal()?;
    let at = &modal.inputs;
    let sun = InputRange::gradual(450.0, 250.0)?;
    let boundaries = at.boundary_walls.len();
    let mut outdoor: Vec<(usize, f64)> = (0..boundaries).map(|j| (j, 1.0)).collect();
    outdoor.push((at.window_outside(0), 1.0));
    let facade = vec![
        (0, d.between(0.3, 0.8) / 17.8),
        (at.window_absorbed(0), 0.6 * scale),
        (at.solar(), 6.0 * scale * d.between(0.2, 0.5)),
    ];
    let mut list = vec![
        Channel { factors: outdoor, range: InputRange::gradual(22.0, 1.0)? },
        Channel { factors: facade, range: sun },
    ];
    for j in 1..boundaries {
        list.push(Channel { factors: vec![(j, d.between(0.3, 0.8) / 18.0)], range: sun });
    }
    let radiant = d.between(0.3, 0.6);
    list.push(Channel {
        factors: vec![(at.air_heat(), 1.0 - radiant), (at.radiant(), radiant)],
        range: InputRange::jumping(300.0 * scale)?,
    });
    let channels = Channels::new(at, list, InputRange::jumping(1500.0 * scale)?)?;
    Ok((modal, channels))
}

/// A block with its own set points, flows and gains.
struct Own {
    model: BlockModel<LANES>,
    drive: Drive<LANES>,
    response: Response<LANES>,
    held: Vec<Lanes<LANES>>,
    gain_w: Lanes<LANES>,
    primary: Lanes<LANES>,
    leak: Lanes<LANES>,
    transfer: Lanes<LANES>,
    people: Lanes<LANES>,
    step_per_kg: Lanes<LANES>,
    w: Lanes<LANES>,
    ideal: Ideal<LANES>,
}

fn run(count: usize, steps: usize) -> Result<(), RoomError> {
    let mut d = Draw(7);
    let t = Instant::now();
    let sets = (0..8).map(|_| constructions(&mut d)).collect::<Result<Vec<_>, _>>()?;
    let walls = t.elapsed();
    let (mut network, mut reduction) = (Duration::ZERO, Duration::ZERO);
    let mut rooms: Vec<ReducedRoom> = Vec::with_capacity(count);
    let (mut states, mut bound, mut sorted_by) = (0, 0.0_f64, [0_usize; 16]);
    for i in 0..count {
        let t = Instant::now();
        let (modal, channels) = room(&mut d, &sets[i % sets.len()], i)?;
        network += t.elapsed();
        let t = Instant::now();
        let small = reduce(&modal, &channels, STEP_S, Hold::Linear, 0.02)?;
        reduction += t.elapsed();
        states += modal.rates_per_s.len();
        bound = bound.max(small.bound_k);
        sorted_by[small.order()] += 1;
        rooms.push(small);
    }
    // Rooms of equal order and count of channels side by side; a room's index settles ties.
    rooms.sort_by_key(|r| (r.order(), r.channels.len()));
    let mut blocks = Vec::new();
    for chunk in rooms.chunks(LANES) {
        let list: Vec<BlockRoom<'_>> = chunk.iter().map(|room| BlockRoom { room, constant: None }).collect();
        let model = BlockModel::<LANES>::new(&list)?;
        let held = vec![[0.0; LANES]; model.held()];
        let mut lanes =
            |low: f64, high: f64| -> Lanes<LANES> { std::array::from_fn(|_| d.between(low, high)) };
        blocks.push(Own {
            drive: Drive::steady(&model, 10.0, &held)?,
            response: Response::steady(&model, &[0.0; LANES]),
            held,
            gain_w: lanes(300.0, 900.0),
            primary: lanes(0.01, 0.06),
            leak: lanes(0.001, 0.01),
            transfer: std::array::from_fn(|l| if l % 3 == 0 { 0.01 } else { 0.0 }),
            people: lanes(1e-5, 8e-5),
            step_per_kg: lanes(80.0, 300.0).map(|kg| STEP_S / (5.0 * kg)),
            w: [0.007; LANES],
            ideal: Ideal {
                heating_set_c: lanes(19.0, 21.0),
                cooling_set_c: lanes(23.0, 25.0),
                heating_capacity_w: lanes(800.0, 3000.0),
                heating_share: 1.0,
                coil_w_per_k: lanes(80.0, 300.0),
                coil_c: [14.0; LANES],
                cooling_share: 1.0,
            },
            model,
        });
    }
    let mut best = Duration::MAX;
    let mut times = Vec::new();
    let mut sum = 0.0;
    for repeat in 0..5 {
        let t = Instant::now();
        for k in 0..steps {
            let hour = (k + repeat * steps) as f64 / 4.0;
            let outdoor = 12.0 + 12.0 * (hour / 1400.0).sin() + 6.0 * (2.0 * PI * (hour - 15.0) / 24.0).cos();
            let sun = (800.0 * (PI * (hour % 24.0 - 6.0) / 12.0).sin()).max(0.0);
            let busy = if (8.0..18.0).contains(&(hour % 24.0)) { 1.0 } else { 0.05 };
            for o in &mut blocks {
                // Gains and sun are held for an hour, as in the year.
                if k % 4 == 0 {
                    let n = o.held.len();
                    for c in &mut o.held[..n - 2] {
                        *c = [sun; LANES];
                    }
                    o.held[n - 2] = o.gain_w.map(|w| w * busy);
                    o.drive.hold(&o.model, &o.held)?;
                }
                let free = o.response.free_c(&o.drive.step(&o.model, outdoor));
                let (mut g, mut gt, mut flow, mut water) =
                    ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
                for l in 0..LANES {
                    let (p, i, t) = (o.primary[l] * busy, o.leak[l], o.transfer[l]);
                    g[l] = 1020.0 * (p + i + t);
                    gt[l] = 1020.0 * (p * 14.0 + i * outdoor + t * 22.0);
                    flow[l] = p + i + t;
                    water[l] = p * 0.007 + i * 0.009 + t * 0.008 + o.people[l] * busy;
                }
                let (unit, per_unit) = o.model.unit();
                let c = control(unit, per_unit, &free, &g, &gt, &o.ideal);
                let heat = std::array::from_fn(|l| c.air_flow_w[l] + c.heating_w[l] - c.cooling_w[l]);
                o.response.take(&heat);
                o.w = moisture(&o.w, &flow, &water, &o.step_per_kg).end;
                sum += c.air_c[0] + o.w[0];
            }
        }
        let time = t.elapsed();
        best = best.min(time);
        times.push(time);
    }
    times.sort();
    for o in &blocks {
        o.response.check()?;
    }
    let per = |t: Duration| t.as_secs_f64() * 1e9 / (steps as f64) / (blocks.len() * LANES) as f64;
    let orders: Vec<String> = sorted_by
        .iter()
        .enumerate()
        .filter(|(_, n)| **n > 0)
        .map(|(order, n)| format!("{order}: {n}"))
        .collect();
    let ms = |t: Duration| t.as_secs_f64() * 1e3 / count as f64;
    println!(
        "{count} rooms: set-up {:.3} ms a room (network and modes {:.3}, reduction {:.3}), constructions {:.3} ms in all; \
         {} states on average; rooms by order {}; largest bound {bound:.4} K; step {:.1} / {:.1} ns a room-step \
         (minimum / median of 5, {steps} steps each; check sum {sum:.3})",
        ms(network + reduction),
        ms(network),
        ms(reduction),
        walls.as_secs_f64() * 1e3,
        states / count,
        orders.join(", "),
        per(best),
        per(times[2]),
    );
    Ok(())
}

/// One `ln` and one `exp` a number: says how busy the machine is.
fn calibration_ns() -> f64 {
    let t = Instant::now();
    let mut x = 1.5_f64;
    for _ in 0..2_000_000 {
        x = std::hint::black_box((x.ln() + 1.1).exp() * 0.4);
    }
    std::hint::black_box(x);
    t.elapsed().as_secs_f64() * 1e9 / 2e6
}

fn main() -> Result<(), RoomError> {
    println!("calibration {:.1} ns", calibration_ns());
    run(1000, 2000)?;
    run(10_000, 300)?;
    println!("calibration {:.1} ns", calibration_ns());
    Ok(())
}
