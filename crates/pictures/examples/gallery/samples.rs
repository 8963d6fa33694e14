//! Made-up data with the shape of real data, for the gallery and the tests.

use drycoil_pictures::{
    AirPoint, AirProcess, Better, Carpet, CoilSurface, Criterion, DayProfile, DurationPanel, EndUse,
    ExcursionSeries, LoadDuration, LoadKind, MarginStrip, Measure, MixingLine, MonthlyEndUses, Naming,
    Options, ParetoScatter, Picture, PictureError, Pin, ProcessKind, ProcessStep, PsychrometricChart,
    RoomMargin, RoomState, StageBand, SweepPoint, TradeOff, TradeOffPoint, WaterArrangement, WaterBranch,
    WaterLoop, WaterMargin,
};
use drycoil_units::QuantityKind;

/// Draws one picture.
pub type Draw = Box<dyn Fn(&Options) -> Result<Picture, PictureError>>;

/// A number from 0 to 1 that looks like chance and is the same each time.
pub fn noise(seed: u64) -> f64 {
    let mut z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z ^= z >> 29;
    z = z.wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 32;
    (z >> 11) as f64 / (1_u64 << 53) as f64
}

/// Every picture of the gallery by name.
pub fn all() -> Vec<(String, Draw)> {
    let mut list: Vec<(String, Draw)> = Vec::new();
    let mut add = |name: &str, draw: Draw| list.push((name.to_owned(), draw));
    add("psychrometric", Box::new(|o| chart(101_325.0).draw(o)));
    add("psychrometric-3000m", Box::new(|o| chart(70_100.0).draw(o)));
    add("psychrometric-wet", Box::new(|o| wet_chart().draw(o)));
    add("psychrometric-mixing", Box::new(|o| mixing_chart().draw(o)));
    add("trade-off", Box::new(|o| trade_off().draw(o)));
    add("margins", Box::new(|o| margins(9).draw(o)));
    add("margins-300", Box::new(|o| margins(300).draw(o)));
    add("carpet", Box::new(|o| carpet().draw(o)));
    add("duration", Box::new(|o| duration().draw(o)));
    add("months", Box::new(|o| months().draw(o)));
    for (name, arrangement) in [
        ("water-single", WaterArrangement::SingleColdLoop),
        ("water-separate", WaterArrangement::SeparatePlants),
        ("water-reuse", WaterArrangement::ReturnReuse),
    ] {
        add(name, Box::new(move |o| water(arrangement, 1.0).draw(o)));
    }
    add("sweep", Box::new(|o| sweep(240).draw(o)));
    add("day", Box::new(|o| day().draw(o)));
    add("excursion", Box::new(|o| excursion().draw(o)));
    list
}

/// A chart with everything on it but mixing.
pub fn chart(pressure_pa: f64) -> PsychrometricChart {
    let p = pressure_pa;
    let w = |t: f64, rh: f64| drycoil_air::raw::humidity_ratio_from_relative_humidity(t, rh, p);
    let mut chart = PsychrometricChart::new("Primary air and rooms on the design day", p);
    chart.comfort = vec![
        AirPoint::new(21.5, w(21.5, 0.30)),
        AirPoint::new(26.0, w(26.0, 0.30)),
        AirPoint::new(25.5, w(25.5, 0.60)),
        AirPoint::new(21.0, w(21.0, 0.60)),
    ];
    for i in 0..60 {
        let t = 22.8 + 2.0 * noise(i);
        chart.rooms.push(RoomState {
            name: format!("Office {}", 100 + i),
            state: AirPoint::new(t, w(t, 0.40 + 0.12 * noise(1000 + i))),
            naming: Naming::Mark,
        });
    }
    for (name, t, rh) in
        [("Conference 204", 24.0, 0.55), ("Training room 112", 23.4, 0.545), ("Lobby", 25.0, 0.50)]
    {
        chart.rooms.push(RoomState {
            name: name.into(),
            state: AirPoint::new(t, w(t, rh)),
            naming: Naming::Named,
        });
    }
    let leaving = 8.2;
    chart.process = Some(AirProcess {
        start: AirPoint::new(33.3, w(33.3, 0.56)),
        label: "outdoor air".into(),
        steps: vec![
            ProcessStep {
                kind: ProcessKind::Recovery,
                to: AirPoint::new(26.5, w(26.5, 0.60)),
                label: "after recovery".into(),
            },
            ProcessStep {
                kind: ProcessKind::Coil,
                to: AirPoint::new(leaving, w(leaving, 0.97)),
                label: "leaving the coil".into(),
            },
            ProcessStep {
                kind: ProcessKind::Fan,
                to: AirPoint::new(9.9, w(leaving, 0.97)),
                label: "supply".into(),
            },
        ],
    });
    chart.coil_surface = Some(CoilSurface { temperature_c: 6.1, label: "coil surface".into() });
    let dew_point_c = drycoil_air::raw::dew_point_c(w(24.0, 0.55), p);
    chart.margin =
        Some(WaterMargin { room: "Conference 204".into(), dew_point_c, water_c: dew_point_c + 1.6 });
    chart
}

/// A chart with a negative margin.
pub fn wet_chart() -> PsychrometricChart {
    let mut chart = chart(101_325.0);
    chart.title = "A room above the dew point that its water allows".into();
    if let Some(margin) = &mut chart.margin {
        margin.water_c = margin.dew_point_c - 2.2;
    }
    chart
}

/// A chart with mixing only.
pub fn mixing_chart() -> PsychrometricChart {
    let p = 101_325.0;
    let w = |t: f64, rh: f64| drycoil_air::raw::humidity_ratio_from_relative_humidity(t, rh, p);
    let mut chart = PsychrometricChart::new("Primary air and room air in a terminal", p);
    let (a, b) = (AirPoint::new(10.0, w(10.0, 0.9)), AirPoint::new(24.0, w(24.0, 0.48)));
    let part = |x: f64, y: f64| x + 0.7 * (y - x);
    chart.mixing = vec![MixingLine {
        first: a,
        second: b,
        mixed: AirPoint::new(
            part(a.dry_bulb_c, b.dry_bulb_c),
            part(a.humidity_ratio_kg_per_kg, b.humidity_ratio_kg_per_kg),
        ),
        label: "entering the terminal coil".into(),
    }];
    chart
}

/// A trade-off with two pins.
pub fn trade_off() -> TradeOff {
    let points = (0..=28)
        .map(|i| {
            let t = 5.0 + 0.25 * f64::from(i);
            let flow = 24.0 / (13.6 - t);
            TradeOffPoint {
                supply_dew_point_c: t,
                primary_flow_m3_per_s: flow,
                drying_load_w: flow * 1.2 * (62_000.0 - 2600.0 * t),
                fan_power_w: 900.0 * flow.powf(1.3),
                objective: 21_000.0 + 2400.0 * flow + 180.0 * (10.0 - t).powi(2),
            }
        })
        .collect();
    TradeOff {
        title: "Choice of the supply dew point".into(),
        points,
        chosen_c: 8.5,
        pins: vec![
            Pin { supply_dew_point_c: 9.3, label: "Conference 204, damper fully open".into() },
            Pin { supply_dew_point_c: 6.0, label: "coldest water of the plant".into() },
        ],
        objective_label: "cost a year".into(),
        objective_unit: "USD".into(),
    }
}

/// Margins of so many rooms.
pub fn margins(count: usize) -> MarginStrip {
    let rooms = (0..count)
        .map(|i| RoomMargin {
            name: match i % 40 {
                0 => format!("Conference room with the folding wall and the pantry, level {}", i / 40 + 1),
                7 => format!("Lobby {i}"),
                _ => format!("Office {}", 101 + i),
            },
            margin_k: if count > 100 { -1.0 } else { -0.4 } + 5.5 * noise(i as u64).powf(0.6),
        })
        .collect();
    MarginStrip { title: "Dew-point margin by room".into(), rooms, required_k: 1.0 }
}

/// A year of margins: hours off in winter nights, negative ones on humid summer mornings.
pub fn carpet() -> Carpet {
    let margin_k = (0..8760_u64)
        .map(|h| {
            let (day, hour) = (h as f64 / 24.0, (h % 24) as f64);
            let weekend = (h / 24) % 7 >= 5;
            let summer = 0.5 - 0.5 * ((day - 15.0) / 365.0 * std::f64::consts::TAU).cos();
            if (weekend || !(6.0..20.0).contains(&hour)) && summer < 0.55 {
                return None;
            }
            let spell = (day / 3.7).sin() + (day / 1.9).sin();
            let start = if (6.0..9.0).contains(&hour) { 1.6 * (9.0 - hour) / 3.0 } else { 0.0 };
            Some(6.5 - 4.2 * summer - 0.55 * spell * summer - start * summer - 0.3 * noise(h))
        })
        .collect();
    Carpet { title: "Smallest dew-point margin of every hour".into(), margin_k, required_k: 1.0 }
}

/// Cooling and heating loads of a year.
pub fn duration() -> LoadDuration {
    let loads = |peak: f64, base: f64, phase: f64, seed: u64| -> Vec<f64> {
        (0..8760_u64)
            .map(|h| {
                let day = h as f64 / 24.0;
                let season = 0.5 + 0.5 * ((day - phase) / 365.0 * std::f64::consts::TAU).cos();
                let hour = (h % 24) as f64;
                let work = if (7.0..19.0).contains(&hour) { 1.0 } else { 0.35 };
                (peak * (season * work + 0.2 * noise(h + seed)) - base).max(0.0)
            })
            .collect()
    };
    LoadDuration {
        title: "Load duration of both schemes".into(),
        panels: vec![
            DurationPanel {
                label: "cooling by the plant".into(),
                kind: LoadKind::Cooling,
                decoupled_w: loads(620e3, 150e3, 200.0, 1),
                all_air_w: loads(740e3, 110e3, 200.0, 2),
            },
            DurationPanel {
                label: "heating".into(),
                kind: LoadKind::Heating,
                decoupled_w: loads(380e3, 190e3, 10.0, 3),
                all_air_w: loads(470e3, 120e3, 10.0, 4),
            },
        ],
    }
}

/// Six end uses by month.
pub fn months() -> MonthlyEndUses {
    let use_of = |label: &str, summer: f64, winter: f64, ratio: f64| {
        let month = |m: usize| {
            let s = 0.5 - 0.5 * ((m as f64 - 0.5) / 12.0 * std::f64::consts::TAU).cos();
            (summer * s + winter * (1.0 - s)) * 3.6e9
        };
        EndUse {
            label: label.into(),
            decoupled_j: std::array::from_fn(month),
            all_air_j: std::array::from_fn(|m| ratio * month(m)),
        }
    };
    MonthlyEndUses {
        title: "Energy by month and end use".into(),
        end_uses: vec![
            use_of("chillers", 34.0, 6.0, 1.15),
            use_of("primary-air and terminal fans", 11.0, 9.0, 2.1),
            use_of("pumps", 6.0, 3.0, 0.7),
            use_of("tower", 4.0, 0.5, 1.1),
            use_of("heating", 2.0, 24.0, 1.5),
            use_of("humidification", 0.0, 2.0, 1.0),
        ],
    }
}

/// Water loops that balance, scaled.
pub fn water(arrangement: WaterArrangement, scale: f64) -> WaterLoop {
    const RHO_C: f64 = 4.19e6;
    let branch = |flow: f64, supply_c: f64, return_c: f64| WaterBranch {
        flow_m3_per_s: flow * scale,
        supply_c,
        return_c,
        load_w: flow * scale * RHO_C * (return_c - supply_c),
    };
    let (m_d, m_s) = (0.0065, 0.0135);
    let (drying, terminals) = (branch(m_d, 5.5, 12.4), branch(m_s, 13.0, 16.4));
    let title = "Water at design".to_owned();
    let (reused, make_up): (f64, f64) = match arrangement {
        WaterArrangement::SeparatePlants => {
            return WaterLoop {
                title,
                arrangement,
                cold_plant: drying,
                warm_plant: Some(terminals),
                drying,
                terminals,
                reused_m3_per_s: 0.0,
                make_up_m3_per_s: 0.0,
                recirculated_m3_per_s: 0.0,
            };
        }
        WaterArrangement::SingleColdLoop => (0.0, m_s * 3.4 / 10.9),
        WaterArrangement::ReturnReuse => {
            let reused = 0.0060;
            (reused, (m_s * 3.4 - reused * 4.0) / 10.9)
        }
    };
    let recirculated = m_s - reused - make_up;
    let back = ((m_d - reused) * 12.4 + (m_s - recirculated) * 16.4) / (m_d + make_up);
    WaterLoop {
        title,
        arrangement,
        cold_plant: branch(m_d + make_up, 5.5, back),
        warm_plant: None,
        drying,
        terminals,
        reused_m3_per_s: reused * scale,
        make_up_m3_per_s: make_up * scale,
        recirculated_m3_per_s: recirculated * scale,
    }
}

/// A sweep of designs.
pub fn sweep(count: u64) -> ParetoScatter {
    let points = (0..count)
        .map(|i| {
            let (a, b) = (noise(i), noise(i + 7777));
            SweepPoint {
                label: format!(
                    "{:.1} K, {} pipe",
                    5.0 + (a * 10.0).round() / 2.0,
                    ["2", "4"][(i % 2) as usize]
                ),
                x: (420.0 + 240.0 * a + 90.0 * b) * 3.6e9,
                y: 1.9e6 - 0.5e6 * a + 0.6e6 * b * b,
            }
        })
        .collect();
    let mut scatter = ParetoScatter {
        title: "Energy and life-cycle cost of the sweep".into(),
        x: Criterion {
            label: "energy a year".into(),
            measure: Measure::Quantity(QuantityKind::Energy),
            better: Better::Less,
        },
        y: Criterion {
            label: "life-cycle cost".into(),
            measure: Measure::Plain("USD".into()),
            better: Better::Less,
        },
        points,
        chosen: None,
    };
    let front = scatter.front();
    scatter.chosen = Some(front[front.len() / 2]);
    scatter
}

/// Sensible load of a room.
pub fn day() -> DayProfile {
    let values = (0..24)
        .map(|h| {
            let h = f64::from(h);
            let sun = (1.0 - ((h - 15.0) / 5.0).powi(2)).max(0.0);
            let people = if (8.0..18.0).contains(&h) { 1.0 } else { 0.1 };
            600.0 + 1300.0 * sun + 900.0 * people
        })
        .collect();
    DayProfile { title: "sensible load".into(), kind: QuantityKind::Power, values, limit: Some(3100.0) }
}

/// A door propped open for a while.
pub fn excursion() -> ExcursionSeries {
    let time_s: Vec<f64> = (0..=360).map(|i| f64::from(i) * 60.0).collect();
    let dew = |h: f64| {
        let rise = ((h - 0.8).max(0.0) / 0.5).min(1.0);
        let fall = if h > 3.2 { (-(h - 3.2) / 0.7).exp() } else { 1.0 };
        11.2 + 4.1 * rise * fall
    };
    let water = |h: f64| 13.0 + 3.6 * ((h - 1.25).max(0.0) / 1.4).min(1.0);
    let mut film = 0.0_f64;
    let film_kg = time_s
        .iter()
        .map(|s| {
            let h = s / 3600.0;
            film = (film + 0.00022 * (dew(h) - water(h))).max(0.0);
            film
        })
        .collect();
    ExcursionSeries {
        title: "Terrace door propped open, Conference 204".into(),
        dew_point_c: time_s.iter().map(|s| dew(s / 3600.0)).collect(),
        water_c: time_s.iter().map(|s| water(s / 3600.0)).collect(),
        film_kg,
        drip_kg: Some(0.012),
        stages: vec![
            StageBand { from_s: 3000.0, to_s: 4500.0, label: "more primary air to the room".into() },
            StageBand {
                from_s: 4500.0,
                to_s: 9540.0,
                label: "water of the terminals raised step by step".into(),
            },
            StageBand { from_s: 9540.0, to_s: 14_400.0, label: "water valve of the room shut".into() },
        ],
        time_s,
    }
}
