//! Core time of the year's rooms: set-up of every distinct room (network, modes, reduction) and nanoseconds per
//! room-step of the block kernel, with heat, control with limits, three air flows and moisture, steps outside and rooms
//! inside. Every room has its own areas, glass, ranges, profile and set points; constructions are shared by content, eight
//! sets of them. One core; calibration and result come from one run.
//!
//! The same reduced rooms run in numpy beside it, in one run: float64, one array operation across all rooms after another.
//! Both must agree. `PYTHON` names an interpreter with numpy; without one the comparison says SKIPPED.
//!
//! `cargo bench -p drycoil-benches --bench room_step`

// What runs under the wider registers must be part of the loop that was compiled for them.
#![allow(clippy::print_stdout, clippy::inline_always)]

use drycoil_rooms::block::{
    BlockModel, BlockRoom, Drive, LANES, Lanes, Number, Response, Ruling, control_by, moisture_by,
};
use drycoil_rooms::exact::Hold;
use drycoil_rooms::reduction::{Channel, Channels, InputRange, ReducedRoom, reduce};
use drycoil_rooms::{
    Beyond, Construction, Layer, ModalRoom, Room, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::{
    Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use drycoil_year::wide::{Kernel, Loop, run_with};
use std::f64::consts::PI;
use std::path::{Path, PathBuf};
use std::process::Command;
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
    air_c: Lanes<LANES>,
    heating_set_c: Lanes<LANES>,
    cooling_set_c: Lanes<LANES>,
    heating_w: Lanes<LANES>,
    coil_w_per_k: Lanes<LANES>,
}

/// Cold water, degC.
const COIL_C: f64 = 14.0;

/// Outdoor air, sun and use at a step.
fn weather(k: usize) -> [f64; 3] {
    let hour = k as f64 / 4.0;
    // Sun and use hold for an hour.
    let held = (k / 4) as f64;
    let outdoor = 12.0 + 12.0 * (hour / 1400.0).sin() + 6.0 * (2.0 * PI * (hour - 15.0) / 24.0).cos();
    let sun = (800.0 * (PI * (held % 24.0 - 6.0) / 12.0).sin()).max(0.0);
    let busy = if (8.0..18.0).contains(&(held % 24.0)) { 1.0 } else { 0.05 };
    [outdoor, sun, busy]
}

/// Steps outside, blocks of rooms inside.
struct Steps<'a> {
    blocks: &'a mut [Own],
    first: usize,
    steps: usize,
}

impl Loop for Steps<'_> {
    type Output = Result<(), RoomError>;
    #[inline(always)]
    fn run<N: Number>(self, kind: N) -> Self::Output {
        let all = |x: f64| kind.all(x);
        for k in self.first..self.first + self.steps {
            let [outdoor, sun, busy] = weather(k);
            for o in &mut *self.blocks {
                if k % 4 == 0 {
                    let n = o.held.len();
                    for c in &mut o.held[..n - 2] {
                        *c = [sun; LANES];
                    }
                    o.held[n - 2] = o.gain_w.map(|w| w * busy);
                    o.drive.hold_by(kind, &o.model, &o.held)?;
                }
                let mut free = [0.0; LANES];
                o.drive.step_by(kind, &o.model, outdoor, &mut free);
                for at in 0..LANES / N::WIDTH {
                    let of = |x: &Lanes<LANES>| kind.of(x, at);
                    let free = o.response.free_by(of(&free), at);
                    let (p, i, t) = (of(&o.primary) * all(busy), of(&o.leak), of(&o.transfer));
                    let flow = p + i + t;
                    let heat_rate = all(1020.0);
                    let gt = heat_rate * (p * all(14.0) + i * all(outdoor) + t * all(22.0));
                    let water = p * all(0.007) + i * all(0.009) + t * all(0.008) + of(&o.people) * all(busy);
                    let (unit, per_unit) = o.model.unit();
                    let ruling = Ruling {
                        heating_set_c: of(&o.heating_set_c),
                        cooling_set_c: of(&o.cooling_set_c),
                        heating_capacity_w: of(&o.heating_w),
                        heating_share: all(1.0),
                        coil_w_per_k: of(&o.coil_w_per_k),
                        coil_c: all(COIL_C),
                        cooling_share: all(1.0),
                    };
                    let c = control_by(of(unit), of(per_unit), free, heat_rate * flow, gt, &ruling);
                    o.response.take_by(c.air_flow_w + (c.heating_w - c.cooling_w), at);
                    moisture_by(of(&o.w), flow, water, of(&o.step_per_kg)).0.put(&mut o.w, at);
                    c.air_c.put(&mut o.air_c, at);
                }
            }
        }
        Ok(())
    }
}

/// The rooms as numpy reads them: a line of names with counts of rows, then rows of as many numbers as there are rooms.
fn tell(rooms: &[ReducedRoom], blocks: &[Own]) -> (String, Vec<f64>) {
    let (mut names, mut values) = (Vec::new(), Vec::new());
    let mut put = |name: &str, rows: Vec<Vec<f64>>| {
        names.push(format!("{name} {}", rows.len()));
        values.extend(rows.into_iter().flatten());
    };
    let order = rooms.iter().map(ReducedRoom::order).max().unwrap_or(0);
    let held = blocks.iter().map(|o| o.held.len()).max().unwrap_or(0);
    let by_lag = |f: &dyn Fn(&ReducedRoom, usize) -> f64| -> Vec<Vec<f64>> {
        (0..order)
            .map(|m| rooms.iter().map(|r| if m < r.order() { f(r, m) } else { 0.0 }).collect())
            .collect()
    };
    // Held channels as a block fills them: sun in the first, the gain in its last but one.
    let channel = |i: usize, c: usize| {
        let block = blocks[i / LANES].held.len();
        let own = if c + 2 == held { block - 1 } else { c + 1 };
        (own + 1 < rooms[i].channels.len() && (c + 2 == held || c + 2 < block)).then_some(own)
    };
    put("decay", by_lag(&|r, m| r.decay[m]));
    put("moving", by_lag(&|r, m| r.driven[(m, 0)]));
    put("to_air", by_lag(&|r, m| r.driven[(m, r.channels.len() - 1)]));
    put("direct_moving", vec![rooms.iter().map(|r| r.direct[0]).collect()]);
    let of_channel = |c: usize, f: &dyn Fn(&ReducedRoom, usize) -> f64| -> Vec<f64> {
        rooms.iter().enumerate().map(|(i, r)| channel(i, c).map_or(0.0, |c| f(r, c))).collect()
    };
    for c in 0..held - 1 {
        let lag = |m: usize| of_channel(c, &|r, c| if m < r.order() { r.driven[(m, c)] } else { 0.0 });
        put(&format!("held_{c}"), (0..order).map(lag).collect());
    }
    put("direct_held", (0..held - 1).map(|c| of_channel(c, &|r, c| r.direct[c])).collect());
    put("unit", vec![rooms.iter().map(ReducedRoom::unit_response_k_per_w).collect()]);
    let lanes =
        |f: &dyn Fn(&Own) -> Lanes<LANES>| vec![blocks.iter().flat_map(f).take(rooms.len()).collect()];
    put("gain_w", lanes(&|o| o.gain_w));
    put("primary", lanes(&|o| o.primary));
    put("leak", lanes(&|o| o.leak));
    put("transfer", lanes(&|o| o.transfer));
    put("people", lanes(&|o| o.people));
    put("step_per_kg", lanes(&|o| o.step_per_kg));
    put("heating_set_c", lanes(&|o| o.heating_set_c));
    put("cooling_set_c", lanes(&|o| o.cooling_set_c));
    put("heating_w", lanes(&|o| o.heating_w));
    put("coil_w_per_k", lanes(&|o| o.coil_w_per_k));
    (names.join(","), values)
}

/// The same rooms and steps in numpy: seconds of its fastest of 3 runs, and every room's temperature and humidity ratio.
fn numpy(names: &str, values: &[f64], steps: usize) -> Result<(f64, Vec<f64>), String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let own = folder.join("../target/second_opinions_venv/bin/python");
    let python = std::env::var_os("PYTHON")
        .map_or_else(|| if own.exists() { own } else { PathBuf::from("python3") }, PathBuf::from);
    let file = std::env::temp_dir().join(format!("room_step_{}.f64", std::process::id()));
    let bytes: Vec<u8> = values.iter().flat_map(|x| x.to_le_bytes()).collect();
    std::fs::write(&file, bytes).map_err(|e| e.to_string())?;
    let output = Command::new(python)
        .arg(folder.join("second_opinions/room_step.py"))
        .arg(&file)
        .args([names, &steps.to_string()])
        .output();
    let answer = std::fs::read(&file);
    let _ = std::fs::remove_file(&file);
    let output = output.map_err(|e| e.to_string())?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).lines().last().unwrap_or_default().to_owned());
    }
    let seconds = String::from_utf8_lossy(&output.stdout).trim().parse().map_err(|_| "no time".to_owned())?;
    let bytes = answer.map_err(|e| e.to_string())?;
    let numbers =
        bytes.chunks_exact(8).map(|b| f64::from_le_bytes(b.try_into().unwrap_or_default())).collect();
    Ok((seconds, numbers))
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
            air_c: [20.0; LANES],
            heating_set_c: lanes(19.0, 21.0),
            cooling_set_c: lanes(23.0, 25.0),
            heating_w: lanes(800.0, 3000.0),
            coil_w_per_k: lanes(80.0, 300.0),
            model,
        });
    }
    let (names, values) = tell(&rooms, &blocks);
    let mut times = Vec::new();
    let mut after = Vec::new();
    for repeat in 0..5 {
        let t = Instant::now();
        let work = Steps { blocks: &mut blocks, first: repeat * steps, steps };
        run_with(Kernel::Widest, work)?;
        times.push(t.elapsed());
        if repeat == 0 {
            for lanes in [|o: &Own| o.air_c, |o: &Own| o.w] {
                after.extend(blocks.iter().flat_map(lanes).take(count));
            }
        }
    }
    times.sort();
    let best = times[0];
    for o in &blocks {
        o.response.check()?;
    }
    let sum: f64 = blocks.iter().map(|o| o.air_c[0] + o.w[0]).sum();
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
    match numpy(&names, &values, steps) {
        Err(why) => println!("  numpy SKIPPED: {why}"),
        Ok((seconds, theirs)) => {
            assert_eq!(theirs.len(), after.len(), "numpy answers for other rooms");
            let apart =
                after.iter().zip(&theirs).map(|(a, b)| (a - b).abs() / b.abs().max(1e-6)).fold(0.0, f64::max);
            assert!(apart <= 1e-9, "numpy differs by {apart:e}");
            println!(
                "  numpy, one core: {:.1} ns a room-step, {:.1} times as long as the minimum; furthest apart {apart:.1e} of the value",
                per(Duration::from_secs_f64(seconds)),
                seconds / best.as_secs_f64(),
            );
        }
    }
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
