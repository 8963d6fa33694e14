//! The design of the example projects: what must balance, balances; what must be dry, is dry.

#[path = "support/projects.rs"]
mod projects;

use drycoil_findings::Severity;
use drycoil_project::{DayType, Project, UseShare};
use drycoil_sizing::{Design, MoistureHour, RoomNeeds, Service};
use drycoil_units::STANDARD_AIR_DENSITY_KG_PER_M3 as RHO;
use projects::{close, need, pool, read_example};
use std::collections::BTreeMap;
use std::sync::OnceLock;

const EXAMPLES: [&str; 3] = ["public-services-building", "two-storey-school", "one-room"];

/// Every example with its design, sized once.
fn designs() -> &'static [(Project, Design)] {
    static ALL: OnceLock<Vec<(Project, Design)>> = OnceLock::new();
    ALL.get_or_init(|| {
        EXAMPLES
            .iter()
            .map(|name| {
                let job = read_example(name);
                let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool(2))
                    .unwrap_or_else(|e| panic!("{name}: {e:#?}"));
                (job.loaded.project, design)
            })
            .collect()
    })
}

#[test]
fn phys_the_same_bits_on_any_number_of_threads() {
    for name in ["public-services-building", "two-storey-school"] {
        let job = read_example(name);
        let of = |threads: usize| {
            // Debug prints every bit that matters: the shortest text that reads back as the same number.
            format!(
                "{:?}",
                drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool(threads)).unwrap()
            )
        };
        let one = of(1);
        assert!(one == of(1), "{name}: two runs differ");
        assert!(one == of(2), "{name}: two threads differ from one");
        assert!(one == of(4), "{name}: four threads differ from one");
    }
}

#[test]
fn inv_a_design_that_is_begun_holds_the_numbers_of_the_whole_one() {
    let job = read_example("public-services-building");
    let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    let begun = drycoil_sizing::begin(&job.loaded.project, &job.weather.year, &pool).unwrap();
    let mut first = begun.design().clone();
    let whole = begun.complete();
    assert!(first.dew_point.curve.is_empty() && whole.dew_point.curve.len() > 2);
    assert!(first.findings.len() < whole.findings.len(), "the price of a pin is found afterwards");
    assert!(first.findings.iter().all(|f| whole.findings.contains(f)));
    // Nothing else differs, to the last bit; a saving that is not priced is not a number.
    let named = |d: &drycoil_sizing::Design| {
        d.dew_point.governing.iter().map(|g| g.room.clone()).collect::<Vec<String>>()
    };
    assert_eq!(named(&first), named(&whole));
    first.findings.clone_from(&whole.findings);
    let d = &mut first.dew_point;
    d.curve.clone_from(&whole.dew_point.curve);
    d.by_room_limit.clone_from(&whole.dew_point.by_room_limit);
    d.pins.clone_from(&whole.dew_point.pins);
    d.governing.clone_from(&whole.dew_point.governing);
    d.evaluations = whole.dew_point.evaluations;
    assert_eq!(format!("{first:?}"), format!("{whole:?}"));
}

#[test]
fn phys_every_terminal_is_dry_and_thin_margins_are_named() {
    for (project, design) in designs() {
        let name = &project.name.value;
        assert!(!design.terminals.is_empty());
        for t in &design.terminals {
            assert!(t.water_margin_k >= -1e-9, "{name} {}: {}", t.zone, t.water_margin_k);
            for p in &t.part_load {
                assert!(p.water_margin_k >= -1e-9, "{name} {} at {}", t.zone, p.load_share);
            }
            let named = design.findings.iter().any(|f| {
                f.id() == "DP-003" && f.places.iter().any(|p| p.part.as_deref() == Some(t.zone.as_str()))
            });
            assert_eq!(named, t.water_margin_k < t.required_margin_k - 1e-9, "{name} {}", t.zone);
        }
        // The water stands above the dew point of each of its rooms, not only of the worst.
        for n in design.needs.iter().filter(|n| n.service == Service::Terminal) {
            assert!(n.worst_dew_point_c <= design.dew_point.sensible_water_c + 1e-9, "{name} {}", n.room);
            assert!(
                design.terminals.iter().any(|t| t.rooms.contains(&n.room)),
                "{name}: {} has no terminal",
                n.room
            );
        }
        let errors: Vec<_> = design.findings.iter().filter(|f| f.severity() == Severity::Error).collect();
        assert!(errors.is_empty(), "{name}: {errors:#?}");
    }
}

/// Left minus right of the steady water balance, as a share of what enters.
fn residual(n: &RoomNeeds, h: &MoistureHour, w_supply: f64) -> f64 {
    let (p, i, t) = (n.primary_m3_per_s * RHO, n.infiltration_kg_per_s, n.transfer_in_m3_per_s * RHO);
    let enters = h.gain_kg_per_s
        + p * w_supply
        + i * h.outdoor_humidity_ratio_kg_per_kg
        + t * h.transfer_humidity_ratio_kg_per_kg;
    ((p + i + t) * h.humidity_ratio_kg_per_kg - enters) / enters
}

#[test]
fn phys_the_water_of_every_room_balances() {
    let mut compared = 0;
    for (project, design) in designs() {
        let w_supply = design.dew_point.supply_humidity_ratio_kg_per_kg;
        for (room, n) in project.rooms.iter().zip(&design.needs) {
            if matches!(n.service, Service::OffSystem | Service::SensibleUnits) {
                continue;
            }
            let Some(worst) = &n.worst_hour else { panic!("{} is never occupied", n.room) };
            // 1e-12: a sum of four products in double precision.
            for h in [&n.design_hour, worst] {
                let r = residual(n, h, w_supply);
                assert!(r.abs() < 1e-12, "{} {}: {r}", n.room, h.when);
            }
            assert!(worst.humidity_ratio_kg_per_kg >= n.design_hour.humidity_ratio_kg_per_kg * (1.0 - 1e-12));
            // The gain of the worst hour again from the room list. Enthalpy of vapour: 2501 + 1.86 t kJ/kg, ASHRAE
            // Fundamentals 2017 ch. 1.
            let profile = project.profile_of(room);
            let share = |of| profile.share(of, drycoil_project::DayType::Weekday, worst.hour);
            let watts = room.people.value * room.latent_per_person.value.to_watts() * share(UseShare::People)
                + room.process_latent.value.to_watts() * share(UseShare::Process);
            let gain = watts / (2.501e6 + 1860.0 * room.cooling_set_point.value.to_celsius());
            assert!((gain - worst.gain_kg_per_s).abs() < 1e-12, "{}: {gain}", n.room);
            if let Some(from) = &n.transfer_from
                && n.service == Service::Transfer
                && watts == 0.0
                && n.infiltration_kg_per_s == 0.0
            {
                let source = need(design, from);
                assert!(
                    close(n.worst_dew_point_c, source.worst_dew_point_c, 1e-9),
                    "{} follows {from}",
                    n.room
                );
            }
            compared += 1;
        }
    }
    assert!(compared > 80, "{compared}");
}

#[test]
fn phys_loads_are_the_sum_of_their_parts_and_floors_of_their_rooms() {
    for (project, design) in designs() {
        let loads = &design.loads;
        for r in &loads.rooms {
            // 1e-9 of the load, or 1 uW where the parts cancel.
            for (peak, sign) in [(&r.cooling, 1.0), (&r.heating, -1.0)] {
                let sum = peak.parts.total_w() * sign;
                let clipped = sum.max(0.0);
                assert!(
                    (peak.load_w - clipped).abs() < 1e-9 * peak.load_w + 1e-6,
                    "{}: {sum} {}",
                    r.room,
                    peak.load_w
                );
            }
        }
        for g in loads.floors.iter().chain([&loads.building]) {
            let c = &g.cooling;
            assert!((c.parts.total_w() - c.load_w).abs() < 1e-9 * c.load_w + 1e-6, "{}", g.group);
            assert!(c.load_w <= g.cooling_sum_of_peaks_w * (1.0 + 1e-9), "{}", g.group);
            let rooms: f64 = project
                .rooms
                .iter()
                .zip(&loads.rooms)
                .filter(|(r, _)| g.group == "building" || r.floor == g.group)
                .map(|(_, l)| l.cooling.load_w)
                .sum();
            assert!(close(rooms, g.cooling_sum_of_peaks_w, 1e-12), "{}", g.group);
        }
        let floors: f64 = loads.floors.iter().map(|f| f.cooling.load_w).sum();
        assert!(loads.building.cooling.load_w <= floors * (1.0 + 1e-9));
        assert!(
            loads.building.latent_w <= loads.floors.iter().map(|f| f.latent_w).sum::<f64>() * (1.0 + 1e-9)
        );
    }
}

/// First law over the repeated design day: a room without outer surface has nowhere to leave its heat but the coil, since
/// the rooms around it are used as it is. What weak film still passes is below 1 % of its gains.
#[test]
fn phys_a_room_without_outer_surface_removes_all_its_gains() {
    let mut found = 0;
    for (project, design) in designs() {
        for (i, room) in project.rooms.iter().enumerate() {
            if project.surfaces_of(room).next().is_some() || design.needs[i].service != Service::Terminal {
                continue;
            }
            let l = &design.loads.rooms[i];
            let profile = project.profile_of(room);
            let area = room.floor_area.value.to_square_metres();
            let full = [
                (UseShare::People, room.people.value * room.sensible_per_person.value.to_watts()),
                (UseShare::Lighting, room.lighting.value.to_w_per_m2() * area),
                (UseShare::Plugs, room.plugs.value.to_w_per_m2() * area),
                (UseShare::Process, room.process_sensible.value.to_watts()),
            ];
            let gains: f64 = (0..24)
                .map(|h| full.iter().map(|(of, w)| w * profile.share(*of, DayType::Weekday, h)).sum::<f64>())
                .sum();
            let removed: f64 = l.sensible_w[l.cooling.day_index].iter().sum();
            assert!(close(removed, gains, 0.01), "{} {removed} {gains}", room.id);
            found += 1;
        }
    }
    assert!(found > 5);
}

#[test]
fn phys_air_balances_by_room_floor_and_building() {
    for (_, design) in designs() {
        let building = design.balance.last().unwrap();
        let floors = &design.balance[..design.balance.len() - 1];
        let sum = |of: fn(&drycoil_sizing::AirBalance) -> f64| floors.iter().map(of).sum::<f64>();
        assert!(close(sum(|b| b.primary_m3_per_s), building.primary_m3_per_s, 1e-12));
        assert!(close(sum(|b| b.exhaust_m3_per_s), building.exhaust_m3_per_s, 1e-12));
        assert!(close(sum(|b| b.pressurization_m3_per_s), building.pressurization_m3_per_s, 1e-12));
        assert!(sum(|b| b.transfer_m3_per_s).abs() < 1e-12);
        for b in &design.balance {
            let surplus = b.primary_m3_per_s + b.own_units_outdoor_m3_per_s + b.transfer_m3_per_s
                - b.exhaust_m3_per_s
                - b.own_units_exhaust_m3_per_s;
            assert!((surplus - b.surplus_m3_per_s).abs() < 1e-12, "{}", b.group);
            let relief = (surplus - b.pressurization_m3_per_s).max(0.0);
            assert!((relief - b.relief_m3_per_s).abs() < 1e-12, "{}", b.group);
        }
        let needs: f64 = design.needs.iter().map(|n| n.primary_m3_per_s).sum();
        assert!(close(needs, building.primary_m3_per_s, 1e-12));
        assert!(close(needs, design.dew_point.chosen.primary_m3_per_s, 1e-12));
        assert!(close(needs, design.primary_unit.delivered_m3_per_s, 1e-12));
        // No room gives away more than it gets, or it is said.
        for n in &design.needs {
            let drawn: f64 = design
                .needs
                .iter()
                .filter(|o| o.transfer_from.as_deref() == Some(n.room.as_str()))
                .map(|o| o.transfer_in_m3_per_s)
                .sum();
            let told = design.findings.iter().any(|f| {
                f.id() == "VN-007" && f.places.iter().any(|p| p.part.as_deref() == Some(n.room.as_str()))
            });
            assert!(
                told || drawn <= n.primary_m3_per_s + n.transfer_in_m3_per_s + 1e-12,
                "{} gives {drawn}",
                n.room
            );
        }
    }
}

#[test]
fn phys_zone_shares_add_to_one_and_flows_follow_them() {
    for (project, design) in designs() {
        let mut zones: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        for (room, n) in project.rooms.iter().zip(&design.needs) {
            if matches!(n.service, Service::Terminal | Service::PrimaryOnly) {
                let z = zones.entry(room.zone.value.as_str()).or_default();
                z.0 += n.zone_share;
                z.1 += n.primary_m3_per_s;
                let own = n.fixed_m3_per_s.max(n.latent_need_m3_per_s);
                assert!(n.primary_m3_per_s >= own * (1.0 - 1e-12), "{} gets less than it needs", n.room);
            }
        }
        for (room, n) in project.rooms.iter().zip(&design.needs) {
            if let Some((shares, flow)) = zones.get(room.zone.value.as_str())
                && matches!(n.service, Service::Terminal | Service::PrimaryOnly)
            {
                assert!((shares - 1.0).abs() < 1e-12, "{}", room.zone.value);
                assert!(close(n.primary_m3_per_s, flow * n.zone_share, 1e-12), "{}", n.room);
            }
        }
    }
}

#[test]
fn phys_the_primary_air_unit_closes_in_air_water_and_energy() {
    for (project, design) in designs() {
        for case in &design.primary_unit.cases {
            let at =
                |name: &str| case.points.iter().find(|p| p.point == name).unwrap_or_else(|| panic!("{name}"));
            let tag = format!("{} {}", project.name.value, case.case);
            let m = at("after recovery").standard_m3_per_s * RHO;
            let (x_in, x_out) = (at("after heating coil"), at("after drying coil"));
            // Drying coil with wrap-around: what the wrap-around takes before the coil it gives back after it. 1e-9 of the
            // enthalpy that flows.
            let flowing = m * x_in.enthalpy_j_per_kg.abs().max(x_out.enthalpy_j_per_kg.abs());
            let water = m * (x_in.humidity_ratio_kg_per_kg - x_out.humidity_ratio_kg_per_kg);
            assert!((water - case.condensate_kg_per_s).abs() < 1e-9 * m, "{tag}: {water}");
            let heat = m * (x_in.enthalpy_j_per_kg - x_out.enthalpy_j_per_kg);
            let taken = case.coil_total_w + case.condensate_w + case.wrap_around_w;
            assert!((heat - taken).abs() < 1e-4 * flowing, "{tag}: {heat} {taken}");
            // Exchanger: two flows in, two out; carry-over moves air between them.
            let out_in = case.outdoor_kg_per_s;
            let exhaust_out = case.exhaust_leaving_kg_per_s;
            let exhaust_in = m + exhaust_out - out_in;
            let exhaust_w = case.exhaust_humidity_ratio_kg_per_kg;
            let exhaust_h = drycoil_air::raw::enthalpy_j_per_kg(case.exhaust_dry_bulb_c, exhaust_w);
            let (outdoor, after) = (at("outdoor air"), at("after recovery"));
            let leaving = at("exhaust after recovery");
            let preheat = case.preheat_w;
            let w = out_in * outdoor.humidity_ratio_kg_per_kg + exhaust_in * exhaust_w
                - m * after.humidity_ratio_kg_per_kg
                - exhaust_out * leaving.humidity_ratio_kg_per_kg;
            assert!(w.abs() < 1e-9 * m, "{tag}: {w} kg/s of water lost");
            let h = out_in * outdoor.enthalpy_j_per_kg + exhaust_in * exhaust_h + preheat
                - m * after.enthalpy_j_per_kg
                - exhaust_out * leaving.enthalpy_j_per_kg;
            assert!(h.abs() < 1e-6 * m * after.enthalpy_j_per_kg.abs().max(5e4), "{tag}: {h} W lost");
        }
    }
}

#[test]
fn phys_coils_and_loops_close() {
    for (project, design) in designs() {
        for t in &design.terminals {
            let s = &t.steps;
            // Air side of the coil, specific heat 1006 + 1860 W J/kgK (ASHRAE Fundamentals 2017 ch. 1).
            let cp = 1006.0 + 1860.0 * s.coil_air_humidity_ratio_kg_per_kg;
            let air = t.coil_air_m3_per_s * RHO * cp * (t.coil_air_entering_c - t.coil_air_leaving_c);
            assert!(
                (air - t.coil_duty_w).abs() < 1e-3 * t.coil_duty_w + 0.5,
                "{}: {air} {}",
                t.zone,
                t.coil_duty_w
            );
        }
        for a in &design.plant.arrangements {
            assert!(a.balance_residual < 1e-9, "{} {}", project.name.value, a.arrangement);
            assert!(a.reused_m3_per_s <= a.sensible_flow_m3_per_s * (1.0 + 1e-9));
        }
        let chosen: Vec<_> = design.plant.arrangements.iter().filter(|a| a.chosen).collect();
        assert_eq!(chosen.len(), 1);
        let input: f64 = chosen[0].chillers.iter().map(|c| c.input_w).sum();
        let rejected = design.plant.sensible_load_w + design.plant.drying_load_w + input;
        assert!(close(rejected, design.plant.tower_heat_w, 1e-9));
        assert!(design.plant.diversity > 0.0 && design.plant.diversity <= 1.0);
    }
}

#[test]
fn phys_the_choice_is_the_best_of_what_was_tried() {
    for (project, design) in designs() {
        let d = &design.dew_point;
        let best = d.chosen.objective;
        for p in &d.curve {
            // The curve has points between those of the search: a thousandth.
            assert!(
                p.objective >= best * (1.0 - 1e-3),
                "{}: {} below {best}",
                project.name.value,
                p.supply_dew_point_c
            );
        }
        for pin in &d.pins {
            assert!(
                pin.price >= -1e-3 * best,
                "{}: pin {} earns {}",
                project.name.value,
                pin.what,
                pin.price
            );
        }
        // Along the curve a drier supply never asks for more air.
        for pair in d.curve.windows(2) {
            assert!(pair[0].supply_dew_point_c < pair[1].supply_dew_point_c);
            assert!(
                pair[0].primary_m3_per_s <= pair[1].primary_m3_per_s * (1.0 + 1e-12),
                "{}",
                project.name.value
            );
        }
        // Serving a room separately asks less of the others: unpriced it never costs.
        if project.economics.separate_service_each.is_none() {
            for g in d.governing.iter().filter(|g| g.saving_if_separate.is_finite()) {
                assert!(
                    g.saving_if_separate >= -1e-3 * best,
                    "{}: {} {}",
                    project.name.value,
                    g.room,
                    g.saving_if_separate
                );
            }
        }
    }
}

#[test]
fn the_demo_has_what_a_designer_must_see() {
    let (project, design) = &designs()[0];
    assert!((60..=90).contains(&project.rooms.len()), "{}", project.rooms.len());
    let service = |room: &str| need(design, room).service;
    for room in ["101", "105", "111", "113", "115", "116"] {
        assert_eq!(service(room), Service::OffSystem, "{room}");
        assert!(need(design, room).primary_m3_per_s.abs() < 1e-12);
    }
    assert_eq!(service("227"), Service::SensibleUnits);
    // The screen of the servery is overruled, said, and waived by name and date.
    assert_eq!(service("112"), Service::Terminal);
    let told = design.findings.iter().find(|f| f.id() == "DP-005").expect("the overruled screen is said");
    assert_eq!(told.waiver.as_ref().expect("it is waived").role, "mechanical engineer of record");
    // Pressure relations of the clinic hold with the exhaust entered.
    assert!(!design.findings.iter().any(|f| f.id() == "VN-005"));
    assert!(!design.findings.iter().any(|f| f.id() == "VN-007"));
    // Sixty people at 20 scfm; the pinned limit is kept.
    assert!((projects::cfm(need(design, "320").primary_m3_per_s) - 1200.0).abs() < 1e-6);
    assert!((projects::f(design.dew_point.room_limit_c) - 55.0).abs() < 1e-9);
}
