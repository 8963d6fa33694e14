#![allow(dead_code)]
//! Walls and rooms shared by the tests.

use drycoil_rooms::reduction::{Channel, Channels, InputRange};
use drycoil_rooms::{
    Beyond, Construction, Films, Layer, ModalRoom, Room, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::{
    Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use std::sync::Arc;

pub fn solid(d_m: f64, k: f64, rho: f64, c: f64) -> Layer {
    Layer::solid(
        Length::metres(d_m),
        Conductivity::from_si(k),
        Density::from_si(rho),
        SpecificHeat::from_si(c),
    )
    .unwrap()
}

pub fn air(r: f64) -> Layer {
    Layer::air_space(ThermalResistance::from_si(r)).unwrap()
}

/// Walls A to E of the periodic checks, layers from inside to outside.
pub fn wall(name: char) -> Construction {
    let concrete = solid(0.2, 2.0, 2400.0, 1000.0);
    let eps = solid(0.1, 0.04, 30.0, 1450.0);
    let layers = match name {
        'A' => vec![concrete],
        'B' => vec![concrete, eps],
        'C' => vec![eps, concrete],
        'D' => vec![
            solid(0.0125, 0.25, 900.0, 1000.0),
            solid(0.15, 0.04, 20.0, 1030.0),
            solid(0.012, 0.13, 650.0, 1700.0),
            air(0.18),
            solid(0.1025, 0.77, 1700.0, 1000.0),
        ],
        'E' => vec![solid(0.013, 0.57, 1300.0, 1000.0), solid(0.22, 0.77, 1700.0, 1000.0)],
        _ => panic!("no such wall"),
    };
    Construction::new(layers).unwrap()
}

/// Floor of a carpeted slab, an internal floor and a light partition.
pub fn extra(name: &str) -> Construction {
    let layers = match name {
        "slab" => vec![air(0.2), solid(0.15, 1.4, 2300.0, 880.0), solid(1.0, 1.5, 1800.0, 900.0)],
        "floor" => vec![air(0.15), solid(0.15, 1.4, 2300.0, 880.0)],
        "partition" => {
            vec![solid(0.0125, 0.25, 900.0, 1000.0), air(0.18), solid(0.0125, 0.25, 900.0, 1000.0)]
        }
        "roof" => vec![
            solid(0.015, 0.06, 300.0, 800.0),
            air(0.17),
            solid(0.12, 0.035, 30.0, 1450.0),
            solid(0.01, 0.5, 1700.0, 1000.0),
        ],
        "metal" => vec![
            solid(0.016, 0.16, 800.0, 1090.0),
            air(0.15),
            solid(0.05, 0.029, 43.0, 1210.0),
            air(0.15),
            solid(0.00076, 45.0, 7800.0, 500.0),
        ],
        _ => panic!("no such construction"),
    };
    Construction::new(layers).unwrap()
}

pub fn films() -> Films {
    Films::iso_6946_horizontal()
}

pub fn h(x: f64) -> ThermalTransmittance {
    ThermalTransmittance::from_si(x)
}

pub fn model(c: &Construction, detail: WallDetail) -> Arc<WallModel> {
    Arc::new(WallModel::new(c, detail).unwrap())
}

/// An office of 30 m2 with six constructions and one window.
pub fn office(detail: WallDetail) -> Room {
    let beyond = |film: f64, source| Beyond::Temperature { film: h(film), source };
    let w = |c: &Construction, a: f64, hc: f64, b: Beyond| {
        Wall::new(model(c, detail), Area::square_metres(a), h(hc), h(5.2), b).unwrap()
    };
    let walls = vec![
        w(&wall('D'), 10.0, 2.5, beyond(17.8, Source::Walls)),
        w(&wall('E'), 8.0, 2.5, beyond(17.8, Source::Walls)),
        w(&extra("roof"), 30.0, 1.0, beyond(20.0, Source::Roofs)),
        w(&extra("slab"), 30.0, 1.5, beyond(100.0, Source::Floors)).with_solar_weight(3.0).unwrap(),
        w(&extra("partition"), 30.0, 2.5, Beyond::Nothing),
        w(&extra("partition"), 15.0, 2.5, beyond(7.7, Source::Partitions)),
    ];
    let window = Window::new(Area::square_metres(6.0), h(1.8), h(2.5), h(5.2)).unwrap();
    Room::new(30.0 * 3.0 * 1.2 * 1006.0 * 5.0, walls, vec![window]).unwrap()
}

/// A room in the middle of a storey: one brick wall with a window, floors and partitions shared with equal rooms.
pub fn inner_office(detail: WallDetail) -> Room {
    let w = |c: &Construction, a: f64, hc: f64, b: Beyond| {
        Wall::new(model(c, detail), Area::square_metres(a), h(hc), h(5.2), b).unwrap()
    };
    let outdoor = Beyond::Temperature { film: h(17.8), source: Source::Walls };
    let walls = vec![
        w(&wall('E'), 12.0, 2.5, outdoor),
        w(&extra("floor"), 30.0, 1.5, Beyond::Nothing),
        w(&extra("floor"), 30.0, 1.0, Beyond::Nothing),
        w(&extra("partition"), 45.0, 2.5, Beyond::Nothing),
    ];
    let window = Window::new(Area::square_metres(6.0), h(1.8), h(2.5), h(5.2)).unwrap();
    Room::new(30.0 * 3.0 * 1.2 * 1006.0 * 5.0, walls, vec![window]).unwrap()
}

fn channel(factors: Vec<(usize, f64)>, range: InputRange) -> Channel {
    Channel { factors, range }
}

/// Outdoor air 44 K wide and 1 K per step, sun 0 to 900 W/m2 and 250 W/m2 per step, gains 0 to 1000 W, half radiant,
/// heating, cooling and air flows 1500 W either way. Sun: absorptance 0.6 outside, 6 m2 of glass that absorb 0.1 and
/// pass 0.4.
pub fn inner_channels(room: &ModalRoom) -> Channels {
    let i = &room.inputs;
    let sun = InputRange::gradual(450.0, 250.0).unwrap();
    let list = vec![
        channel(vec![(0, 1.0), (i.window_outside(0), 1.0)], InputRange::gradual(22.0, 1.0).unwrap()),
        channel(vec![(0, 0.6 / 17.8), (i.window_absorbed(0), 0.6), (i.solar(), 2.4)], sun),
        channel(vec![(i.air_heat(), 0.5), (i.radiant(), 0.5)], InputRange::jumping(500.0).unwrap()),
    ];
    Channels::new(i, list, InputRange::jumping(1500.0).unwrap()).unwrap()
}

/// The same for the corner office on the ground and under the roof: two facades, roof, ground, neighbour.
pub fn corner_channels(room: &ModalRoom) -> Channels {
    let i = &room.inputs;
    let sun = InputRange::gradual(450.0, 250.0).unwrap();
    let outdoor = vec![(0, 1.0), (1, 1.0), (2, 1.0), (i.window_outside(0), 1.0)];
    let list = vec![
        channel(outdoor, InputRange::gradual(22.0, 1.0).unwrap()),
        channel(vec![(0, 0.6 / 17.8), (i.window_absorbed(0), 0.6), (i.solar(), 2.4)], sun),
        channel(vec![(1, 0.6 / 17.8)], sun),
        channel(vec![(2, 0.6 / 20.0)], sun),
        channel(vec![(3, 1.0)], InputRange::gradual(8.0, 0.02).unwrap()),
        channel(vec![(4, 1.0)], InputRange::gradual(5.0, 0.5).unwrap()),
        channel(vec![(i.air_heat(), 0.5), (i.radiant(), 0.5)], InputRange::jumping(500.0).unwrap()),
    ];
    Channels::new(i, list, InputRange::jumping(1500.0).unwrap()).unwrap()
}
