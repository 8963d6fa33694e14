//! Blocks of reduced rooms: lanes against scalars, against the plain step, balances and closed forms.

mod common;
use common::{corner_channels, inner_channels, inner_office, office};
use drycoil_rooms::block::{BlockFlow, BlockInput, BlockOutput, BlockRoom, LANES, RoomBlock};
use drycoil_rooms::exact::{AirFlow, Control, Hold};
use drycoil_rooms::moisture::{Buffering, MoistureStore, dew_point, vapour_flow};
use drycoil_rooms::reduction::{ReducedRoom, reduce};
use drycoil_rooms::{RoomError, WallDetail};
use drycoil_units::{HumidityRatio, Mass, Power, Pressure, Quantity, StandardAirFlow, Temperature};

const STEP_S: f64 = 900.0;

fn rooms(step_s: f64) -> (ReducedRoom, ReducedRoom) {
    let corner = office(WallDetail::DESIGN).modal().unwrap();
    let inner = inner_office(WallDetail::DESIGN).modal().unwrap();
    (
        reduce(&inner, &inner_channels(&inner), step_s, Hold::Linear, 0.02).unwrap(),
        reduce(&corner, &corner_channels(&corner), step_s, Hold::Linear, 0.02).unwrap(),
    )
}

fn store(kg: f64, multiplier: f64) -> MoistureStore {
    MoistureStore::new(Mass::from_si(kg), Buffering::Multiplier(multiplier)).unwrap()
}

struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1_u64 << 53) as f64)
    }
}

/// Everything that may happen to eight rooms in a step.
fn draw_input(d: &mut Draw, nc: usize) -> BlockInput<LANES> {
    let mut input = BlockInput::idle(nc);
    for c in 0..nc {
        for l in 0..LANES {
            input.channels[c][l] = if c == 0 { d.between(-5.0, 35.0) } else { d.between(0.0, 20.0) };
        }
    }
    for l in 0..LANES {
        for f in &mut input.flows {
            f.dry_air_kg_per_s[l] = if d.between(0.0, 1.0) < 0.3 { 0.0 } else { d.between(0.0, 0.05) };
            f.supply_c[l] = d.between(5.0, 30.0);
            f.humidity_ratio[l] = d.between(0.003, 0.016);
        }
        input.vapour_kg_per_s[l] = d.between(0.0, 1e-4);
        if d.between(0.0, 1.0) < 0.8 {
            input.heating_set_c[l] = d.between(15.0, 21.0);
            input.cooling_set_c[l] = d.between(22.0, 28.0);
            input.heating_capacity_w[l] = d.between(0.0, 3000.0);
            input.cooling_capacity_w[l] =
                if d.between(0.0, 1.0) < 0.2 { f64::INFINITY } else { d.between(0.0, 2000.0) };
        }
    }
    input
}

fn one(input: &BlockInput<LANES>, l: usize, from: &[usize]) -> BlockInput<1> {
    BlockInput {
        channels: from.iter().map(|c| [input.channels[*c][l]]).collect(),
        flows: input.flows.map(|f| BlockFlow {
            dry_air_kg_per_s: [f.dry_air_kg_per_s[l]],
            supply_c: [f.supply_c[l]],
            humidity_ratio: [f.humidity_ratio[l]],
        }),
        vapour_kg_per_s: [input.vapour_kg_per_s[l]],
        heating_set_c: [input.heating_set_c[l]],
        cooling_set_c: [input.cooling_set_c[l]],
        heating_capacity_w: [input.heating_capacity_w[l]],
        cooling_capacity_w: [input.cooling_capacity_w[l]],
    }
}

/// Eight lanes give the bits of eight single rooms, mixed orders and counts of channels included; and the values of
/// the plain step (1e-9 K and W: another order of additions).
#[test]
fn xchk_lanes_scalars_and_plain_steps() {
    let (inner, corner) = rooms(STEP_S);
    let picks: Vec<&ReducedRoom> =
        (0..LANES).map(|l| if [1, 4, 5].contains(&l) { &corner } else { &inner }).collect();
    let nc = corner.channels.len();
    // Where the channels of a room stand in the block.
    let places = |r: &ReducedRoom| -> Vec<usize> {
        let own = r.channels.len();
        (0..own).map(|c| if c == own - 1 { nc - 1 } else { c }).collect()
    };
    let zeros = vec![0.0; nc];
    let block_rooms: Vec<BlockRoom<'_>> = (0..LANES)
        .map(|l| BlockRoom {
            room: picks[l],
            store: store(100.0 + 7.0 * l as f64, 1.0 + l as f64),
            steady: &zeros[..picks[l].channels.len()],
            humidity_ratio: HumidityRatio::from_si(0.008),
        })
        .collect();
    let mut wide = RoomBlock::<LANES>::new(&block_rooms).unwrap();
    let mut single: Vec<RoomBlock<1>> =
        block_rooms.iter().map(|r| RoomBlock::<1>::new(std::slice::from_ref(r)).unwrap()).collect();
    let mut lags: Vec<Vec<f64>> = picks.iter().map(|r| vec![0.0; r.order()]).collect();
    assert!(wide.order() == corner.order() && wide.channels() == nc);
    let mut d = Draw(11);
    let (mut out, mut lone) = (BlockOutput::<LANES>::default(), BlockOutput::<1>::default());
    let mut unmet = 0;
    for _ in 0..3000 {
        let input = draw_input(&mut d, nc);
        wide.step(&input, &mut out).unwrap();
        for l in 0..LANES {
            let scalar = one(&input, l, &places(picks[l]));
            single[l].step(&scalar, &mut lone).unwrap();
            for (a, b) in [
                (out.air_c[l], lone.air_c[0]),
                (out.hvac_w[l], lone.hvac_w[0]),
                (out.air_flow_w[l], lone.air_flow_w[0]),
                (out.unmet_k[l], lone.unmet_k[0]),
                (out.humidity_ratio[l], lone.humidity_ratio[0]),
                (out.mean_humidity_ratio[l], lone.mean_humidity_ratio[0]),
            ] {
                assert_eq!(a.to_bits(), b.to_bits());
            }
            let mut u: Vec<f64> = scalar.channels.iter().map(|x| x[0]).collect();
            let (mut g, mut gt) = (0.0, 0.0);
            for f in &scalar.flows {
                let c = f.dry_air_kg_per_s[0]
                    * (drycoil_air::raw::CP_DRY_AIR_J_PER_KG_K
                        + drycoil_air::raw::CP_VAPOUR_J_PER_KG_K * f.humidity_ratio[0]);
                g += c;
                gt += c * f.supply_c[0];
            }
            let flow = AirFlow { conductance_w_per_k: g, supply_c: if g > 0.0 { gt / g } else { 0.0 } };
            let control = Control {
                heating_set_c: scalar.heating_set_c[0],
                cooling_set_c: scalar.cooling_set_c[0],
                heating_capacity_w: scalar.heating_capacity_w[0],
                cooling_capacity_w: scalar.cooling_capacity_w[0],
            };
            let plain = picks[l].step(&mut lags[l], &mut u, flow, control).unwrap();
            assert!((plain.air_c - out.air_c[l]).abs() < 1e-9, "{} {}", plain.air_c, out.air_c[l]);
            assert!((plain.hvac_w - out.hvac_w[l]).abs() < 1e-6, "{} {}", plain.hvac_w, out.hvac_w[l]);
            assert!((plain.air_flow_w - out.air_flow_w[l]).abs() < 1e-6);
            unmet += usize::from(out.unmet_k[l] > 0.0);
        }
    }
    assert!(unmet > 100, "limits were reached {unmet} times");
    wide.check().unwrap();
    for l in 0..LANES {
        let (a, b) = (wide.sums(), single[l].sums());
        assert_eq!(a.heating_w[l].to_bits(), b.heating_w[0].to_bits());
        assert_eq!(a.water_out_kg[l].to_bits(), b.water_out_kg[0].to_bits());
        assert_eq!(a.unmet_steps[l].to_bits(), b.unmet_steps[0].to_bits());
        assert_eq!(wide.lags(l)[..picks[l].order()], single[l].lags(0)[..]);
    }
}

/// Water in, less water out, is what the room holds more (1e-12 of what passed: rounding of 20 000 sums); and the air
/// heat of the sums is heating less cooling and air flows.
#[test]
fn phys_sums_close() {
    let (inner, _) = rooms(STEP_S);
    let nc = inner.channels.len();
    let zeros = vec![0.0; nc];
    let list: Vec<BlockRoom<'_>> = (0..LANES)
        .map(|l| BlockRoom {
            room: &inner,
            store: store(50.0 + 30.0 * l as f64, 1.0 + 3.0 * l as f64),
            steady: &zeros,
            humidity_ratio: HumidityRatio::from_si(0.006),
        })
        .collect();
    let mut block = RoomBlock::<LANES>::new(&list).unwrap();
    let before = block.water_kg();
    let mut out = BlockOutput::default();
    let mut d = Draw(3);
    for _ in 0..20_000 {
        let mut input = draw_input(&mut d, nc);
        input.channels[nc - 1] = [0.0; LANES];
        block.step(&input, &mut out).unwrap();
    }
    let after = block.water_kg();
    let s = block.sums();
    assert_eq!(s.steps, 20_000);
    for l in 0..LANES {
        let residual = s.water_in_kg[l] - s.water_out_kg[l] - (after[l] - before[l]);
        assert!(residual.abs() < 1e-12 * s.water_in_kg[l], "{residual} of {}", s.water_in_kg[l]);
        let heat = s.heating_w[l] - s.cooling_w[l] + s.air_flow_w[l];
        assert!((s.channels[nc - 1][l] - heat).abs() < 1e-9 * (s.heating_w[l] + s.cooling_w[l]));
    }
}

/// Closed form: 10 000 ft3, 200 standard cfm at 48 F dew point, 10 people at 155 Btu/h, start at 60 F. Recomputed from
/// the balance; tolerance 0.005 F.
#[test]
fn val_unsteady_room_dew_point() {
    let at = |f: f64| {
        drycoil_air::raw::saturation_humidity_ratio(Temperature::fahrenheit(f).to_celsius(), 101_325.0)
    };
    let (inner, _) = rooms(STEP_S);
    let zeros = vec![0.0; inner.channels.len()];
    let cases =
        [(1.0, [57.176, 55.508, 54.013]), (5.0, [59.316, 58.697, 57.632]), (10.0, [59.650, 59.316, 58.697])];
    let list: Vec<BlockRoom<'_>> = cases
        .iter()
        .map(|(multiplier, _)| BlockRoom {
            room: &inner,
            store: store(750.0 * 0.453_592_37, *multiplier),
            steady: &zeros,
            humidity_ratio: HumidityRatio::from_si(at(60.0)),
        })
        .collect();
    let mut block = RoomBlock::<LANES>::new(&list).unwrap();
    let mut input = BlockInput::idle(inner.channels.len());
    input.flows[0].dry_air_kg_per_s = [StandardAirFlow::cfm(200.0).dry_air_mass_flow().si(); LANES];
    input.flows[0].humidity_ratio = [at(48.0); LANES];
    input.vapour_kg_per_s =
        [vapour_flow(Power::btu_per_hour(1550.0), Temperature::fahrenheit(75.0)).unwrap().si(); LANES];
    let mut out = BlockOutput::default();
    for step in 1..=8 {
        block.step(&input, &mut out).unwrap();
        let Some(column) = [2, 4, 8].iter().position(|s| *s == step) else { continue };
        for (l, (_, table)) in cases.iter().enumerate() {
            let w = HumidityRatio::from_si(out.humidity_ratio[l]);
            let found = dew_point(w, Pressure::pascals(101_325.0)).unwrap().to_fahrenheit();
            assert!((found - table[column]).abs() < 0.005, "{found} {}", table[column]);
        }
    }
}

/// No room, too many rooms, different steps, wrong counts of channels, impossible humidity: refused; a state that is
/// not finite is found.
#[test]
fn phys_wrong_blocks_are_refused() {
    let (inner, _) = rooms(STEP_S);
    let (slow, _) = rooms(1800.0);
    let zeros = vec![0.0; inner.channels.len()];
    let room = |room, steady, w| BlockRoom {
        room,
        store: store(100.0, 1.0),
        steady,
        humidity_ratio: HumidityRatio::from_si(w),
    };
    let good = room(&inner, &zeros[..], 0.01);
    assert!(matches!(RoomBlock::<8>::new(&[]), Err(RoomError::Empty { .. })));
    assert!(matches!(RoomBlock::<1>::new(&[good, good]), Err(RoomError::WrongLength { .. })));
    assert!(matches!(
        RoomBlock::<8>::new(&[good, room(&slow, &zeros[..], 0.01)]),
        Err(RoomError::Inconsistent { .. })
    ));
    assert!(RoomBlock::<8>::new(&[room(&inner, &zeros[1..], 0.01)]).is_err());
    assert!(RoomBlock::<8>::new(&[room(&inner, &zeros[..], 0.6)]).is_err());
    let mut block = RoomBlock::<8>::new(&[good]).unwrap();
    let mut out = BlockOutput::default();
    assert!(block.step(&BlockInput::idle(1), &mut out).is_err());
    let mut input = BlockInput::idle(inner.channels.len());
    block.step(&input, &mut out).unwrap();
    block.check().unwrap();
    input.channels[0][3] = f64::NAN;
    block.step(&input, &mut out).unwrap();
    assert!(block.check().is_err());
}
