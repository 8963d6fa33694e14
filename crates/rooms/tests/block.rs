//! Blocks of reduced rooms: lanes against scalars, against the plain step, balances and closed forms.

mod common;
use common::{corner_channels, inner_channels, inner_office, office};
use drycoil_rooms::block::{BlockModel, BlockRoom, Drive, Ideal, LANES, Lanes, Response, control, moisture};
use drycoil_rooms::exact::{AirFlow, Control, Hold};
use drycoil_rooms::moisture::{dew_point, vapour_flow};
use drycoil_rooms::reduction::{ReducedRoom, reduce};
use drycoil_rooms::{RoomError, WallDetail};
use drycoil_units::{HumidityRatio, Power, Pressure, Quantity, StandardAirFlow, Temperature};

const STEP_S: f64 = 900.0;

fn rooms(step_s: f64) -> (ReducedRoom, ReducedRoom) {
    let corner = office(WallDetail::DESIGN).modal().unwrap();
    let inner = inner_office(WallDetail::DESIGN).modal().unwrap();
    (
        reduce(&inner, &inner_channels(&inner), step_s, Hold::Linear, 0.02).unwrap(),
        reduce(&corner, &corner_channels(&corner), step_s, Hold::Linear, 0.02).unwrap(),
    )
}

struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1_u64 << 53) as f64)
    }
}

/// What rules eight rooms in a step, and the conductance and heat of their air flows.
struct Draft<const L: usize> {
    held: Vec<Lanes<L>>,
    ideal: Ideal<L>,
    g: Lanes<L>,
    gt: Lanes<L>,
}

fn draft(d: &mut Draw, held: usize) -> Draft<LANES> {
    let lanes =
        |d: &mut Draw, low: f64, high: f64| -> Lanes<LANES> { std::array::from_fn(|_| d.between(low, high)) };
    let g = lanes(d, 0.0, 60.0);
    let t = lanes(d, 5.0, 30.0);
    Draft {
        held: (0..held).map(|_| lanes(d, 0.0, 400.0)).collect(),
        ideal: Ideal {
            heating_set_c: lanes(d, 15.0, 21.0),
            cooling_set_c: lanes(d, 22.0, 28.0),
            heating_capacity_w: lanes(d, 0.0, 2500.0),
            heating_share: 1.0,
            coil_w_per_k: lanes(d, 0.0, 150.0),
            coil_c: lanes(d, 10.0, 18.0),
            cooling_share: 1.0,
        },
        g,
        gt: std::array::from_fn(|l| g[l] * t[l]),
    }
}

fn one(d: &Draft<LANES>, l: usize, places: &[usize]) -> Draft<1> {
    Draft {
        held: places.iter().map(|c| [d.held[*c][l]]).collect(),
        ideal: Ideal {
            heating_set_c: [d.ideal.heating_set_c[l]],
            cooling_set_c: [d.ideal.cooling_set_c[l]],
            heating_capacity_w: [d.ideal.heating_capacity_w[l]],
            heating_share: d.ideal.heating_share,
            coil_w_per_k: [d.ideal.coil_w_per_k[l]],
            coil_c: [d.ideal.coil_c[l]],
            cooling_share: d.ideal.cooling_share,
        },
        g: [d.g[l]],
        gt: [d.gt[l]],
    }
}

struct Run<const L: usize> {
    model: BlockModel<L>,
    drive: Drive<L>,
    response: Response<L>,
}

impl<const L: usize> Run<L> {
    fn new(rooms: &[BlockRoom<'_>]) -> Self {
        let model = BlockModel::new(rooms).unwrap();
        let drive = Drive::steady(&model, 10.0, &vec![[0.0; L]; model.held()]).unwrap();
        let response = Response::steady(&model, &[100.0; L]);
        Self { model, drive, response }
    }

    /// Air temperature, heating, cooling.
    fn step(&mut self, outdoor: f64, d: &Draft<L>) -> [Lanes<L>; 3] {
        self.drive.hold(&self.model, &d.held).unwrap();
        let free = self.response.free_c(&self.drive.step(&self.model, outdoor));
        let (unit, per_unit) = self.model.unit();
        let c = control(unit, per_unit, &free, &d.g, &d.gt, &d.ideal);
        let heat = std::array::from_fn(|l| c.air_flow_w[l] + c.heating_w[l] - c.cooling_w[l]);
        self.response.take(&heat);
        [c.air_c, c.heating_w, c.cooling_w]
    }
}

/// Eight lanes give the bits of eight single rooms, mixed orders and counts of channels included; and drive plus response
/// give the values of the plain step with all heat in one state (1e-9 K, 1e-6 W: another order of additions). The coil's
/// capacity is put to the plain step as the watts that it has at the temperature found.
#[test]
fn xchk_lanes_scalars_and_plain_steps() {
    let (inner, corner) = rooms(STEP_S);
    let picks: Vec<&ReducedRoom> =
        (0..LANES).map(|l| if [1, 4, 5].contains(&l) { &corner } else { &inner }).collect();
    let list: Vec<BlockRoom<'_>> = picks.iter().map(|room| BlockRoom { room, constant: None }).collect();
    let mut wide = Run::<LANES>::new(&list);
    let held = wide.model.held();
    assert!(wide.model.order() == corner.order() && held == corner.channels.len() - 1);
    let mut single: Vec<Run<1>> = list.iter().map(|r| Run::new(std::slice::from_ref(r))).collect();
    let mut lags: Vec<Vec<f64>> = picks
        .iter()
        .map(|r| {
            let mut u = vec![0.0; r.channels.len()];
            u[0] = 10.0;
            u[r.channels.len() - 1] = 100.0;
            r.steady_state(&u).unwrap()
        })
        .collect();
    let mut d = Draw(11);
    let (mut at_limit, mut free) = (0, 0);
    for _ in 0..3000 {
        let outdoor = d.between(-5.0, 35.0);
        let input = draft(&mut d, held);
        let [t, heating, cooling] = wide.step(outdoor, &input);
        for l in 0..LANES {
            let own = picks[l].channels.len() - 1;
            let places: Vec<usize> = (0..own).map(|c| if c == own - 1 { held - 1 } else { c }).collect();
            let lone = one(&input, l, &places);
            let [t1, h1, c1] = single[l].step(outdoor, &lone);
            for (a, b) in [(t[l], t1[0]), (heating[l], h1[0]), (cooling[l], c1[0])] {
                assert_eq!(a.to_bits(), b.to_bits());
            }
            let mut u = vec![outdoor];
            u.extend(lone.held.iter().map(|x| x[0]));
            let capacity = (input.ideal.coil_w_per_k[l] * (t[l] - input.ideal.coil_c[l])).max(0.0);
            let control = Control {
                heating_set_c: input.ideal.heating_set_c[l],
                cooling_set_c: input.ideal.cooling_set_c[l],
                heating_capacity_w: input.ideal.heating_capacity_w[l],
                cooling_capacity_w: capacity * (1.0 + 1e-12),
            };
            let flow = AirFlow { conductance_w_per_k: lone.g[0], supply_c: lone.gt[0] / lone.g[0] };
            let plain = picks[l].step(&mut lags[l], &mut u, flow, control).unwrap();
            assert!((plain.air_c - t[l]).abs() < 1e-9, "{} {}", plain.air_c, t[l]);
            assert!((plain.hvac_w - (heating[l] - cooling[l])).abs() < 1e-6);
            at_limit +=
                usize::from(t[l] > input.ideal.cooling_set_c[l] || t[l] < input.ideal.heating_set_c[l]);
            free += usize::from(heating[l] == 0.0 && cooling[l] == 0.0);
        }
    }
    assert!(at_limit > 100 && free > 100, "{at_limit} at a limit, {free} without heating and cooling");
    wide.response.check().unwrap();
}

/// A channel that never changes is a constant: a room with it and one without, at a steady state, differ by nothing
/// (1e-9 K: another order of additions).
#[test]
fn inv_a_constant_channel_is_an_offset() {
    let (_, corner) = rooms(STEP_S);
    let ground = 4;
    let mut with = Run::<1>::new(&[BlockRoom { room: &corner, constant: None }]);
    let mut without = Run::<1>::new(&[BlockRoom { room: &corner, constant: Some((ground, 12.0)) }]);
    assert_eq!(with.model.held(), without.model.held() + 1);
    let mut held = vec![[0.0]; with.model.held()];
    held[ground - 1] = [12.0];
    with.drive = Drive::steady(&with.model, 10.0, &held).unwrap();
    let mut d = Draw(5);
    for _ in 0..500 {
        let mut a = one(&draft(&mut d, with.model.held()), 0, &(0..with.model.held()).collect::<Vec<_>>());
        a.held[ground - 1] = [12.0];
        let mut b = Draft { held: a.held.clone(), ideal: a.ideal.clone(), ..a };
        b.held.remove(ground - 1);
        let outdoor = d.between(-5.0, 35.0);
        let (x, y) = (with.step(outdoor, &a), without.step(outdoor, &b));
        assert!((x[0][0] - y[0][0]).abs() < 1e-9, "{} {}", x[0][0], y[0][0]);
    }
}

/// Shares below one: what is given is that share of what would be, and the air ends in between.
#[test]
fn phys_a_share_is_given() {
    let (inner, _) = rooms(STEP_S);
    let model = BlockModel::<1>::new(&[BlockRoom { room: &inner, constant: None }]).unwrap();
    let (unit, per_unit) = model.unit();
    for free in [10.0, 35.0] {
        let ideal = |share: f64| Ideal {
            heating_set_c: [21.0],
            cooling_set_c: [24.0],
            heating_capacity_w: [1e6],
            heating_share: share,
            coil_w_per_k: [1e4],
            coil_c: [13.0],
            cooling_share: share,
        };
        let full = control(unit, per_unit, &[free], &[5.0], &[100.0], &ideal(1.0));
        let part = control(unit, per_unit, &[free], &[5.0], &[100.0], &ideal(0.25));
        let of = |c: &drycoil_rooms::block::Controlled<1>| c.heating_w[0] + c.cooling_w[0];
        assert!(of(&full) > 0.0 && (of(&part) - 0.25 * of(&full)).abs() < 1e-9 * of(&full));
        assert!((full.air_c[0] - if free < 20.0 { 21.0 } else { 24.0 }).abs() < 1e-9);
    }
}

/// Closed form: 10 000 ft3, 200 standard cfm at 48 F dew point, 10 people at 155 Btu/h, start at 60 F. Recomputed from
/// the balance; tolerance 0.005 F. Water in, less water out, is what the room holds more (1e-12 of what passed).
#[test]
fn val_unsteady_room_dew_point() {
    let at = |f: f64| {
        drycoil_air::raw::saturation_humidity_ratio(Temperature::fahrenheit(f).to_celsius(), 101_325.0)
    };
    let cases =
        [(1.0, [57.176, 55.508, 54.013]), (5.0, [59.316, 58.697, 57.632]), (10.0, [59.650, 59.316, 58.697])];
    let kg: Lanes<3> = std::array::from_fn(|l| 750.0 * 0.453_592_37 * cases[l].0);
    let step_per_kg = kg.map(|m| STEP_S / m);
    let flow = [StandardAirFlow::cfm(200.0).dry_air_mass_flow().si(); 3];
    let vapour = vapour_flow(Power::btu_per_hour(1550.0), Temperature::fahrenheit(75.0)).unwrap().si();
    let water = flow.map(|m| m * at(48.0) + vapour);
    let mut w = [at(60.0); 3];
    for step in 1..=8 {
        let next = moisture(&w, &flow, &water, &step_per_kg);
        for l in 0..3 {
            let passed = water[l] * STEP_S;
            let residual = passed - flow[l] * next.mean[l] * STEP_S - kg[l] * (next.end[l] - w[l]);
            assert!(residual.abs() < 1e-12 * passed.max(kg[l] * w[l]), "{residual} of {passed}");
        }
        w = next.end;
        let Some(column) = [2, 4, 8].iter().position(|s| *s == step) else { continue };
        for (l, (_, table)) in cases.iter().enumerate() {
            let found = dew_point(HumidityRatio::from_si(w[l]), Pressure::pascals(101_325.0)).unwrap();
            let found = found.to_fahrenheit();
            assert!((found - table[column]).abs() < 0.005, "{found} {}", table[column]);
        }
    }
}

/// No room, too many rooms, different steps, wrong counts of channels: refused; a state that is not finite is found.
#[test]
fn phys_wrong_blocks_are_refused() {
    let (inner, _) = rooms(STEP_S);
    let (slow, _) = rooms(1800.0);
    let room = |room| BlockRoom { room, constant: None };
    assert!(matches!(BlockModel::<8>::new(&[]), Err(RoomError::Empty { .. })));
    assert!(matches!(
        BlockModel::<1>::new(&[room(&inner), room(&inner)]),
        Err(RoomError::WrongLength { .. })
    ));
    assert!(matches!(
        BlockModel::<8>::new(&[room(&inner), room(&slow)]),
        Err(RoomError::Inconsistent { .. })
    ));
    let model = BlockModel::<8>::new(&[room(&inner)]).unwrap();
    assert!(Drive::steady(&model, 0.0, &[]).is_err());
    let mut response = Response::steady(&model, &[0.0; 8]);
    response.check().unwrap();
    let mut heat = [0.0; 8];
    heat[3] = f64::NAN;
    response.take(&heat);
    assert!(response.check().is_err());
}
