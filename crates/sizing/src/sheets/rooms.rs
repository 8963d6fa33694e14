//! Sheets of the room schedule: areas, people, loads.

use super::{Cx, Lines, SUM, above, constant, entered};
use crate::design::{LoadParts, LoadPeak};
use drycoil_project::{DayType, Room, SurfaceKind, UseShare};
use drycoil_units::QuantityKind as K;
use drycoil_working::{Line, Origin, Source};

/// Named parts of a load.
pub(crate) fn parts(p: &LoadParts) -> [(&'static str, &'static str, f64); 11] {
    [
        ("q_people", "people", p.people_w),
        ("q_lighting", "lighting", p.lighting_w),
        ("q_plugs", "plug loads", p.plugs_w),
        ("q_process", "processes", p.process_w),
        ("q_solar", "sun through glass", p.solar_w),
        ("q_glass", "conduction through glass", p.glass_w),
        ("q_walls", "walls", p.walls_w),
        ("q_roof", "roof", p.roof_w),
        ("q_floors", "floors and partitions", p.floors_w),
        ("q_infiltration", "infiltration", p.infiltration_w),
        ("q_storage", "heat stored by set-back and start-up", p.storage_w),
    ]
}

pub(crate) const NETWORK: Source = Source::new(
    "thermal network of the room, repeated design day",
    "exact solution by source (superposition); checked against ISO 13786 and closed forms",
);

/// The sum of the parts at a peak. A heating load is the sum turned round.
pub(crate) fn peak_line(symbol: &str, meaning: &str, peak: &LoadPeak, heating: bool) -> Line {
    let list = parts(&peak.parts);
    let inner = format!("sum({})", list.map(|(s, ..)| s).join(", "));
    let formula = if heating { format!("max(0, -{inner})") } else { format!("max(0, {inner})") };
    let mut line = Line::new(symbol, meaning, formula);
    for (symbol, what, w) in list {
        line = line.with(
            symbol,
            K::Power,
            w,
            Origin::Weather(format!("{what}: {}, {:02}:00", peak.day, peak.hour)),
        );
    }
    line.result(K::Power, peak.load_w).source(NETWORK).note(format!(
        "each part is what its source asks of the cooling in that hour, stored and released heat included; design day {}, \
         hour that begins at {:02}:00",
        peak.day, peak.hour
    ))
}

/// Full gain of people, lights, plugs and processes times the share of the hour.
fn gain_lines(cx: Cx<'_>, room: &Room, hour: usize, out: &mut Vec<Line>) {
    let profile = cx.project.profile_of(room);
    let share = |of: UseShare| profile.share(of, DayType::Weekday, hour);
    let from_profile = |of: UseShare| Origin::Table {
        row: format!("profile {}, {}, weekday {hour:02}:00", profile.name, of.word()),
        source: "profiles".into(),
        place: Some(profile.place.clone()),
    };
    if room.people.value > 0.0 {
        let q = room.people.value * room.sensible_per_person.value.to_watts();
        out.push(
            Line::new("G_people", "sensible gain of people in that hour, before storage", "N * q_person * f")
                .with_number("N", room.people.value, room.people.origin.clone())
                .with(
                    "q_person",
                    K::Power,
                    room.sensible_per_person.value.to_watts(),
                    room.sensible_per_person.origin.clone(),
                )
                .with_number("f", share(UseShare::People), from_profile(UseShare::People))
                .result(K::Power, q * share(UseShare::People))
                .source(Source::new("definition", "gain at full use times the share of the hour")),
        );
    }
    let area = room.floor_area.value.to_square_metres();
    for (symbol, what, density, of) in [
        ("G_lighting", "lighting", &room.lighting, UseShare::Lighting),
        ("G_plugs", "plug loads", &room.plugs, UseShare::Plugs),
    ] {
        let w = density.value.to_w_per_m2();
        if w > 0.0 {
            out.push(
                Line::new(symbol, format!("gain of {what} in that hour, before storage"), "A * g * f")
                    .with("A", K::Area, area, room.floor_area.origin.clone())
                    .with("g", K::HeatFlux, w, density.origin.clone())
                    .with_number("f", share(of), from_profile(of))
                    .result(K::Power, w * area * share(of))
                    .source(Source::new("definition", "gain at full use times the share of the hour")),
            );
        }
    }
    let process = room.process_sensible.value.to_watts();
    if process > 0.0 {
        out.push(
            Line::new("G_process", "sensible gain of processes in that hour, before storage", "q * f")
                .with("q", K::Power, process, room.process_sensible.origin.clone())
                .with_number("f", share(UseShare::Process), from_profile(UseShare::Process))
                .result(K::Power, process * share(UseShare::Process))
                .source(Source::new("definition", "gain at full use times the share of the hour")),
        );
    }
}

/// Latent gain at full use, as lines that end in `q_latent`.
pub(crate) fn latent_lines(room: &Room, out: &mut Vec<Line>, value: f64) {
    out.push(
        Line::new("q_latent", "latent gain of people and processes at full use", "N * q_person + q_process")
            .with_number("N", room.people.value, room.people.origin.clone())
            .with(
                "q_person",
                K::Power,
                room.latent_per_person.value.to_watts(),
                room.latent_per_person.origin.clone(),
            )
            .with(
                "q_process",
                K::Power,
                room.process_latent.value.to_watts(),
                room.process_latent.origin.clone(),
            )
            .result(K::Power, value)
            .source(SUM),
    );
}

/// Area of the facade that leaks.
pub(crate) fn facade(cx: Cx<'_>, room: &Room, out: &mut Vec<Line>) -> f64 {
    let list: Vec<_> = cx
        .project
        .surfaces_of(room)
        .filter(|s| matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Roof))
        .collect();
    let area: f64 = list.iter().map(|s| s.area.value.to_square_metres()).sum();
    out.push(super::sum_line(
        "A_facade",
        "walls, windows and roof to outdoors",
        K::Area,
        area,
        list.iter()
            .enumerate()
            .map(|(i, s)| (format!("A_{}", i + 1), s.area.value.to_square_metres(), s.area.origin.clone())),
    ));
    area
}

pub(crate) fn lines(cx: Cx<'_>, place: &str, quantity: &str) -> Lines {
    let i = cx.project.room_index(place)?;
    let room = &cx.project.rooms[i];
    let load = cx.design.loads.rooms.get(i)?;
    let mut out = Vec::new();
    match quantity {
        "floor_area" => {
            return Some(entered(
                "A",
                "floor area",
                K::Area,
                room.floor_area.value.to_square_metres(),
                &room.floor_area,
            ));
        }
        "height" => {
            return Some(entered(
                "H",
                "floor to ceiling",
                K::Length,
                room.height.value.to_metres(),
                &room.height,
            ));
        }
        "people" => {
            return Some(vec![super::given_number(
                "N",
                "people at the peak",
                room.people.value,
                room.people.origin.clone(),
            )]);
        }
        "cooling_set_point" => {
            return Some(entered(
                "t_room",
                "set point in cooling",
                K::Temperature,
                load.set_point_c,
                &room.cooling_set_point,
            ));
        }
        "heating_set_point" => {
            return Some(entered(
                "t_room",
                "set point in heating",
                K::Temperature,
                load.heating_set_point_c,
                &room.heating_set_point,
            ));
        }
        "sensible_load" => {
            gain_lines(cx, room, load.cooling.hour, &mut out);
            out.push(peak_line(
                "q_sensible",
                "sensible cooling load at the room's peak",
                &load.cooling,
                false,
            ));
        }
        "heating_load" => {
            out.push(peak_line(
                "q_heating",
                "heating load; gains of use are not counted, and leakage counts in full: at night no primary air keeps it out",
                &load.heating,
                true,
            ));
        }
        "latent_load" => latent_lines(room, &mut out, load.latent_w),
        "infiltration_flow" => {
            let area = facade(cx, room, &mut out);
            let c = &cx.project.criteria;
            out.push(
                Line::new("V_inf", "infiltration while the building is pressurized", "i * A_facade * f")
                    .with(
                        "i",
                        K::StandardAirFlowPerArea,
                        c.infiltration.value.to_m_per_s(),
                        c.infiltration.origin.clone(),
                    )
                    .with("A_facade", K::Area, area, above("A_facade"))
                    .with(
                        "f",
                        K::Fraction,
                        c.pressurized_infiltration.value.to_ratio(),
                        c.pressurized_infiltration.origin.clone(),
                    )
                    .result(K::StandardAirFlow, load.infiltration_m3_per_s)
                    .source(Source::new(
                        "common practice, no source",
                        "leakage per facade area at operating pressure",
                    )),
            );
        }
        _ => return None,
    }
    Some(out)
}

/// A value of a room at an hour of a design day, as the network gave it.
pub(crate) fn room_load(room: &str, day: &str, hour: usize, w: f64) -> (String, f64, Origin) {
    (
        format!("q_{}", crate::schedule::slug(room)),
        w,
        Origin::Weather(format!("room {room}, {day}, {hour:02}:00")),
    )
}

/// Zero with its reason.
pub(crate) fn zero(symbol: &str, meaning: &str, kind: K, value: f64, reason: &'static str) -> Vec<Line> {
    vec![
        Line::new(symbol, meaning, "none")
            .with("none", kind, 0.0, constant(reason))
            .result(kind, value)
            .source(Source::new("definition", "does not apply")),
    ]
}
