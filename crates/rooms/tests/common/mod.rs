#![allow(dead_code)]
//! Walls and rooms shared by the tests.

use drycoil_rooms::{Beyond, Construction, Films, Layer, Room, Source, Wall, WallDetail, WallModel, Window};
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
