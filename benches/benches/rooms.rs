//! Core time of one room: set-up (walls, network, eigen-decomposition, responses) and 14 design days of 24 hours
//! with the load split by source. Every room has its own areas, layers, set points and gains; one core.
//!
//! `cargo bench -p drycoil-benches --bench rooms`

#![allow(clippy::print_stdout)]

use drycoil_rooms::exact::{Control, Hold};
use drycoil_rooms::periodic::{AirStream, Day, HeatSource, PeriodicRoom};
use drycoil_rooms::{
    Beyond, Construction, Layer, ModalRoom, Room, RoomError, Source, Wall, WallDetail, WallModel, Window,
};
use drycoil_units::{
    Area, Conductivity, Density, Length, Quantity, SpecificHeat, ThermalResistance, ThermalTransmittance,
};
use std::f64::consts::PI;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Small linear congruential generator: the same rooms in every run.
struct Draw(u64);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
    }
}

fn constructions(d: &mut Draw) -> Result<Vec<Construction>, RoomError> {
    let mut solid = |thickness: f64, k: f64, rho: f64, c: f64| {
        Layer::solid(
            Length::metres(thickness * d.between(0.8, 1.2)),
            Conductivity::from_si(k * d.between(0.9, 1.1)),
            Density::from_si(rho),
            SpecificHeat::from_si(c),
        )
    };
    let air = |r: f64| Layer::air_space(ThermalResistance::from_si(r));
    Ok(vec![
        Construction::new(vec![
            solid(0.0125, 0.25, 900.0, 1000.0)?,
            solid(0.15, 0.04, 20.0, 1030.0)?,
            air(0.18)?,
            solid(0.1025, 0.77, 1700.0, 1000.0)?,
        ])?,
        Construction::new(vec![solid(0.013, 0.57, 1300.0, 1000.0)?, solid(0.22, 0.77, 1700.0, 1000.0)?])?,
        Construction::new(vec![
            solid(0.015, 0.06, 300.0, 800.0)?,
            air(0.17)?,
            solid(0.12, 0.035, 30.0, 1450.0)?,
            solid(0.01, 0.5, 1700.0, 1000.0)?,
        ])?,
        Construction::new(vec![air(0.15)?, solid(0.15, 1.4, 2300.0, 880.0)?, air(1.5)?])?,
        Construction::new(vec![
            solid(0.0125, 0.25, 900.0, 1000.0)?,
            air(0.18)?,
            solid(0.0125, 0.25, 900.0, 1000.0)?,
        ])?,
        Construction::new(vec![
            solid(0.0125, 0.25, 900.0, 1000.0)?,
            air(0.18)?,
            solid(0.0125, 0.25, 900.0, 1000.0)?,
        ])?,
    ])
}

fn room(d: &mut Draw, models: &[Arc<WallModel>]) -> Result<Room, RoomError> {
    let h = ThermalTransmittance::from_si;
    let beyond = |film: f64, source| Beyond::Temperature { film: h(film), source };
    let around = [
        (10.0, 2.5, beyond(17.8, Source::Walls)),
        (8.0, 2.5, beyond(17.8, Source::Walls)),
        (30.0, 1.0, beyond(20.0, Source::Roofs)),
        (30.0, 1.5, beyond(100.0, Source::Floors)),
        (30.0, 2.5, Beyond::Nothing),
        (15.0, 2.5, beyond(7.7, Source::Partitions)),
    ];
    let scale = d.between(0.7, 3.0);
    let walls = around
        .iter()
        .zip(models)
        .map(|((area, hc, b), m)| {
            Wall::new(
                Arc::clone(m),
                Area::square_metres(area * scale * d.between(0.8, 1.2)),
                h(*hc),
                h(5.2),
                *b,
            )
        })
        .collect::<Result<Vec<_>, _>>()?;
    let window = Window::new(Area::square_metres(6.0 * scale), h(d.between(1.2, 2.8)), h(2.5), h(5.2))?;
    Room::new(543e3 * scale, walls, vec![window])
}

fn day(d: &mut Draw, room: &ModalRoom, set_back: bool) -> Day {
    let wave = |mean: f64, swing: f64, peak: f64| -> Vec<f64> {
        (0..24).map(|k| mean + swing * (2.0 * PI * (f64::from(k) - peak) / 24.0).cos()).collect()
    };
    let warm = d.between(15.0, 32.0);
    let mut gain = |source, w: f64, radiant: f64| {
        let w = w * d.between(0.5, 1.5);
        let series = |f: f64| -> Vec<f64> {
            (0..24).map(|k| if (8..18).contains(&k) { w * f } else { 0.05 * w * f }).collect()
        };
        HeatSource {
            source,
            convective_w: series(1.0 - radiant),
            radiant_w: series(radiant),
            solar_w: vec![],
        }
    };
    let sun: Vec<f64> =
        (0..24).map(|k| (900.0 * (PI * (f64::from(k) - 6.0) / 12.0).sin()).max(0.0)).collect();
    let heat = vec![
        gain(Source::People, 300.0, 0.6),
        gain(Source::Lights, 250.0, 0.5),
        gain(Source::Plugs, 300.0, 0.3),
        gain(Source::Process, 50.0, 0.3),
        HeatSource { source: Source::Solar, convective_w: vec![], radiant_w: vec![], solar_w: sun.clone() },
    ];
    Day {
        boundary_c: room
            .boundary_sources
            .iter()
            .map(|s| if *s == Source::Floors { vec![14.0; 24] } else { wave(warm + 3.0, 12.0, 14.0) })
            .collect(),
        window_outside_c: vec![wave(warm, 7.0, 15.0)],
        window_absorbed_w: vec![sun.iter().map(|x| 0.1 * x).collect()],
        heat,
        air: vec![AirStream {
            source: Source::Infiltration,
            conductance_w_per_k: vec![9.0; 24],
            supply_c: wave(warm, 7.0, 15.0),
        }],
        control: (0..24)
            .map(|k| {
                if set_back && !(7..19).contains(&k) {
                    Control::between(16.0, 30.0)
                } else {
                    Control::between(21.0, 24.0)
                }
            })
            .collect(),
        reference_c: 24.0,
    }
}

fn main() -> Result<(), RoomError> {
    let count = 400;
    let mut d = Draw(7);
    let (mut walls, mut setup, mut response, mut solve) =
        (Duration::ZERO, Duration::ZERO, Duration::ZERO, Duration::ZERO);
    let (mut states, mut iterations, mut sum) = (0, 0, 0.0);
    for _ in 0..count {
        let list = constructions(&mut d)?;
        let t = Instant::now();
        let models = list
            .iter()
            .map(|c| WallModel::new(c, WallDetail::DESIGN).map(Arc::new))
            .collect::<Result<Vec<_>, _>>()?;
        walls += t.elapsed();
        let spec = room(&mut d, &models)?;
        let t = Instant::now();
        let modal = spec.modal()?;
        setup += t.elapsed();
        let days: Vec<Day> = (0..14).map(|i| day(&mut d, &modal, i % 2 == 0)).collect();
        let t = Instant::now();
        let periodic = PeriodicRoom::new(&modal, 24, 3600.0, Hold::Linear)?;
        response += t.elapsed();
        let t = Instant::now();
        for x in &days {
            let loads = periodic.solve(x)?;
            iterations += loads.iterations;
            sum += loads.peak_cooling().0;
        }
        solve += t.elapsed();
        states += modal.rates_per_s.len();
    }
    let ms = |t: Duration| t.as_secs_f64() * 1e3 / f64::from(count);
    println!(
        "rooms: walls {:.3} ms (all different, none shared), network and modes {:.3} ms, responses {:.3} ms, 14 days {:.3} ms, \
         together {:.3} ms per room; {} states, {:.1} iterations per day on average (sum of peaks {sum:.0} W)",
        ms(walls),
        ms(setup),
        ms(response),
        ms(solve),
        ms(walls + setup + response + solve),
        states / count as usize,
        f64::from(u32::try_from(iterations).unwrap_or(u32::MAX)) / f64::from(count) / 14.0,
    );
    Ok(())
}
