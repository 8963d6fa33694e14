//! What holds for every picture, and at the ends of what may be drawn.

#[path = "../examples/gallery/samples.rs"]
mod samples;

use drycoil_pictures::{
    AirPoint, Appearance, Better, Carpet, DayProfile, DurationPanel, LoadDuration, LoadKind, Naming, Options,
    Picture, PictureError, PictureWidth, PsychrometricChart, RoomState, WaterArrangement, custom_properties,
};
use drycoil_units::{QuantityKind, UnitSystem};
use quick_xml::Reader;
use quick_xml::events::Event;

const SYSTEMS: [UnitSystem; 2] = [UnitSystem::Si, UnitSystem::Ip];
const PAPERS: [Appearance; 2] = [Appearance::Light, Appearance::Dark];
const WIDTHS: [PictureWidth; 2] = [PictureWidth::Usual, PictureWidth::Narrow];

/// What a strict reader finds in a picture: names of elements with their attributes, and texts.
struct Read {
    elements: Vec<(String, Vec<(String, String)>)>,
    texts: Vec<String>,
}

fn read(svg: &str) -> Read {
    let mut reader = Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let mut out = Read { elements: Vec::new(), texts: Vec::new() };
    let (mut depth, mut inside) = (0_i32, String::new());
    loop {
        let event = reader.read_event().expect("well-formed");
        match event {
            Event::Start(ref e) | Event::Empty(ref e) => {
                let name = e.name().as_ref().to_owned();
                let attributes = e
                    .attributes()
                    .with_checks(true)
                    .map(|a| {
                        let a = a.expect("attribute is well-formed and not given twice");
                        let key = a.key.as_ref().to_owned();
                        (key, a.value.to_string())
                    })
                    .collect();
                if matches!(event, Event::Start(_)) {
                    depth += 1;
                    if name == "text" {
                        inside = "\u{1}".into();
                    }
                }
                out.elements.push((name, attributes));
            }
            Event::End(e) => {
                depth -= 1;
                if e.name().as_ref() == "text" {
                    out.texts.push(std::mem::take(&mut inside).trim_start_matches('\u{1}').trim().to_owned());
                }
            }
            Event::Text(t) if !inside.is_empty() => inside.push_str(&t),
            Event::GeneralRef(r) if !inside.is_empty() => {
                inside.push(match &*r {
                    "amp" => '&',
                    "lt" => '<',
                    "gt" => '>',
                    other => panic!("unknown reference {other}"),
                });
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(depth, 0, "every element is closed");
    out
}

/// Every number of a path, place or size lies in the view box, and every rule of a picture holds.
fn examine(name: &str, picture: &Picture) {
    let svg = picture.svg();
    assert_eq!(picture.overlapping(), Vec::<(&str, &str)>::new(), "{name}: texts overlap");
    assert_eq!(picture.outside(), Vec::<&str>::new(), "{name}: texts leave the picture");
    for word in ["NaN", "inf", "http://", "https://", "<script", "<image", "@import", "url(http"] {
        let allowed = usize::from(word == "http://");
        assert_eq!(svg.matches(word).count(), allowed, "{name}: {word}");
    }
    let read = read(svg);
    let (root, attributes) = &read.elements[0];
    assert_eq!(root, "svg");
    let of = |key: &str| attributes.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str());
    assert_eq!(of("role"), Some("img"), "{name}");
    assert_eq!(of("font-family"), Some("sans-serif"), "{name}");
    let ids: Vec<&str> = read
        .elements
        .iter()
        .flat_map(|(_, a)| a.iter().filter(|(k, _)| k == "id").map(|(_, v)| v.as_str()))
        .collect();
    for key in ["aria-labelledby", "aria-describedby"] {
        assert!(ids.contains(&of(key).unwrap()), "{name}: {key} names an element");
    }
    let mut unique = ids.clone();
    unique.sort_unstable();
    unique.dedup();
    assert_eq!(unique.len(), ids.len(), "{name}: an id is given twice");
    assert_eq!(read.elements[1].0, "title", "{name}: the title comes first");
    assert_eq!(read.elements[2].0, "desc");
    assert!(picture.description().len() > 40, "{name}: {}", picture.description());
    assert_eq!(
        read.texts,
        picture.labels().iter().map(|l| l.text.clone()).collect::<Vec<_>>(),
        "{name}: each text is recorded with its box"
    );
    // Places of shapes: a mark may reach over the edge by its half, nothing more.
    let (wide, high) = (picture.width() + 8.0, picture.height() + 8.0);
    for (element, attributes) in &read.elements {
        if element == "svg" {
            continue;
        }
        for (key, value) in attributes {
            match key.as_str() {
                "x" | "cx" => assert!((-8.0..=wide).contains(&value.parse().unwrap()), "{name}: {value}"),
                "y" | "cy" => assert!((-8.0..=high).contains(&value.parse().unwrap()), "{name}: {value}"),
                "d" if !value.contains('h') && !value.contains(['H', 'V']) => {
                    for point in value.trim_end_matches('Z').split(['M', 'L']).filter(|p| !p.is_empty()) {
                        let (x, y) = point.split_once(' ').unwrap();
                        let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
                        assert!((-8.0..=wide).contains(&x), "{name}: {x}");
                        assert!((-8.0..=high).contains(&y), "{name}: {y}");
                    }
                }
                // Every reference stays within the picture.
                "fill" if value.starts_with("url(") => {
                    let id = value.trim_start_matches("url(#").trim_end_matches(')');
                    assert!(ids.contains(&id), "{name}: {value}");
                }
                _ => {}
            }
        }
    }
}

fn both(name: &str, draw: impl Fn(&Options) -> Result<Picture, PictureError>) {
    for system in SYSTEMS {
        examine(name, &draw(&Options::new(system, "p")).unwrap());
    }
}

#[test]
fn every_picture_of_the_gallery_keeps_the_rules() {
    for system in SYSTEMS {
        for paper in PAPERS {
            let all = WIDTHS.into_iter().flat_map(|w| samples::all().into_iter().map(move |s| (w, s)));
            for (width, (name, draw)) in all {
                let options = Options::new(system, name.as_str()).appearance(paper).width(width);
                let picture = draw(&options).unwrap();
                examine(&name, &picture);
                assert_eq!(picture, draw(&options).unwrap(), "{name}: the same bytes twice");
            }
        }
    }
}

#[test]
fn unit_systems_change_numbers_and_papers_change_colours_only() {
    for (name, draw) in samples::all() {
        let si = draw(&Options::new(UnitSystem::Si, "p")).unwrap();
        let ip = draw(&Options::new(UnitSystem::Ip, "p")).unwrap();
        let dark = draw(&Options::new(UnitSystem::Si, "p").appearance(Appearance::Dark)).unwrap();
        // Energy and money are the same in both systems.
        if !["months", "sweep"].contains(&name.as_str()) {
            assert_ne!(si.labels(), ip.labels(), "{name}");
        }
        assert_eq!(si.labels(), dark.labels(), "{name}");
        assert_ne!(si.svg(), dark.svg(), "{name}");
        for word in ["degC", "kPa", "L/s", "g/kg"] {
            assert!(!ip.svg().contains(word), "{name}: {word}");
        }
        for word in ["degF", "psia", "cfm", "gpm", "Btu"] {
            assert!(!si.svg().contains(word), "{name}: {word}");
        }
    }
}

#[test]
fn every_colour_is_a_custom_property_with_a_fallback() {
    for paper in PAPERS {
        let known = custom_properties(paper);
        for (name, draw) in samples::all() {
            let picture = draw(&Options::new(UnitSystem::Si, "p").appearance(paper)).unwrap();
            let read = read(picture.svg());
            let style = picture.svg().split("<style>").nth(1).unwrap().split("</style>").next().unwrap();
            for (_, attributes) in &read.elements {
                let get = |k: &str| attributes.iter().find(|(key, _)| key == k).map(|(_, v)| v.as_str());
                for part in ["fill", "stroke"] {
                    if let Some(colour) = get(part).filter(|c| c.starts_with('#')) {
                        let class = get("class").unwrap();
                        let ink = class.split(' ').find_map(|c| c.strip_prefix(&format!("{part}-"))).unwrap();
                        assert!(known.contains(&format!("--drycoil-{ink}:{colour};")), "{name}: {ink}");
                        assert!(
                            style.contains(&format!("{part}:var(--drycoil-{ink},{colour})")),
                            "{name}: {ink}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn numbers_of_the_axes_are_round() {
    // 1, 2 or 5 times a power of ten apart.
    let round = |step: f64| {
        let mantissa = step / 10f64.powf(step.log10().floor() + 1e-12);
        [1.0, 2.0, 5.0, 10.0].iter().any(|m| (mantissa - m).abs() < 1e-6)
    };
    for name in ["trade-off", "margins-300", "duration", "months", "sweep", "psychrometric"] {
        let (_, draw) = samples::all().into_iter().find(|(n, _)| n == name).unwrap();
        for system in SYSTEMS {
            let picture = draw(&Options::new(system, "p")).unwrap();
            // Numbers that end at one right edge are those of one vertical axis.
            let mut axes: std::collections::BTreeMap<i64, Vec<(f64, f64)>> =
                std::collections::BTreeMap::new();
            for label in picture.labels() {
                let edge = if name == "psychrometric" { label.left } else { label.right };
                if let Ok(v) = label.text.replace('\u{a0}', "").parse::<f64>() {
                    axes.entry((edge * 10.0).round() as i64).or_default().push((label.top, v));
                }
            }
            let mut seen = 0;
            for axis in axes.values_mut().filter(|a| a.len() >= 3) {
                axis.sort_by(|a, b| a.0.total_cmp(&b.0));
                for w in axis.windows(3) {
                    // Three numbers evenly apart in place and in value are of one axis.
                    let apart = [w[1].0 - w[0].0, w[2].0 - w[1].0];
                    let step = [w[0].1 - w[1].1, w[1].1 - w[2].1];
                    let even =
                        (apart[0] - apart[1]).abs() < 0.05 && (step[0] - step[1]).abs() < 1e-6 * step[0];
                    if even && edge_is_axis(&picture, w[0].0) {
                        assert!(round(step[0]), "{name}: {w:?}");
                        seen += 1;
                    }
                }
            }
            assert!(seen >= 1, "{name}: {axes:?}");
        }
    }
}

/// The column of values beside the named rooms of the margin strip is no axis.
fn edge_is_axis(picture: &Picture, top: f64) -> bool {
    !picture.title().starts_with("Dew-point margin") || top > 300.0
}

#[test]
fn no_room_one_room_and_three_hundred() {
    for count in [0, 1, 2, 12, 13, 149, 300, 2000] {
        both(&format!("margins {count}"), |o| samples::margins(count).draw(o));
        both(&format!("chart {count}"), |o| {
            let mut chart = samples::chart(101_325.0);
            let w = drycoil_air::raw::humidity_ratio_from_relative_humidity(23.0, 0.5, 101_325.0);
            chart.rooms = (0..count.min(300))
                .map(|i| RoomState {
                    name: format!("Room {i}"),
                    state: AirPoint::new(22.0 + 2.0 * samples::noise(i as u64), w),
                    naming: Naming::Named,
                })
                .collect();
            chart.draw(o)
        });
    }
    let options = Options::new(UnitSystem::Si, "p");
    let empty = samples::margins(0).draw(&options).unwrap();
    assert!(empty.description().contains("No room"));
    // Names that find no place are counted in the text alternative.
    let mut chart = samples::chart(101_325.0);
    chart.rooms.iter_mut().for_each(|r| r.naming = Naming::Named);
    let crowded = chart.draw(&options).unwrap();
    let drawn = crowded.labels().iter().filter(|l| l.text.starts_with("Office")).count();
    let named = chart.rooms.iter().filter(|r| r.name.starts_with("Office")).count();
    assert!(drawn < named, "{drawn}");
    assert!(crowded.description().contains("found no place"), "{}", crowded.description());
    for room in &chart.rooms {
        assert!(crowded.description().contains(&room.name));
    }
}

#[test]
fn long_names_and_strange_names() {
    let long =
        "Multi-purpose conference, training and reception room with a folding wall \u{2013} level two, north";
    for name in [
        long,
        "Caf\u{e9} & <Bar> \"Zum L\u{f6}wen\"",
        "\u{4f1a}\u{8b70}\u{5ba4} 204",
        "WWWWWWWWWWWWWWWWWWWWWWWWWWWW",
    ] {
        both(name, |o| {
            let mut strip = samples::margins(20);
            strip.title = format!("{name} {name}");
            strip.rooms.iter_mut().for_each(|r| r.name = name.into());
            strip.draw(o)
        });
        both(name, |o| {
            let mut chart = samples::chart(95_000.0);
            chart.rooms.iter_mut().for_each(|r| r.name = name.into());
            chart.margin.as_mut().unwrap().room = name.into();
            let process = chart.process.as_mut().unwrap();
            process.label = name.into();
            process.steps.iter_mut().for_each(|s| s.label = name.into());
            chart.draw(o)
        });
        both(name, |o| {
            let mut trade = samples::trade_off();
            trade.pins.iter_mut().for_each(|p| p.label = name.into());
            trade.objective_label = name.into();
            trade.draw(o)
        });
        both(name, |o| {
            let mut months = samples::months();
            months.end_uses.iter_mut().for_each(|e| e.label = name.into());
            months.draw(o)
        });
        both(name, |o| {
            let mut duration = samples::duration();
            duration.panels.iter_mut().for_each(|p| p.label = name.into());
            duration.draw(o)
        });
        both(name, |o| {
            let mut sweep = samples::sweep(60);
            sweep.points.iter_mut().for_each(|p| p.label = name.into());
            sweep.x.label = name.into();
            sweep.y.label = name.into();
            sweep.draw(o)
        });
        both(name, |o| {
            let mut excursion = samples::excursion();
            excursion.stages.iter_mut().for_each(|s| s.label = name.into());
            excursion.draw(o)
        });
        both(name, |o| {
            let mut day = samples::day();
            day.title = name.into();
            day.draw(o)
        });
    }
    let options = Options::new(UnitSystem::Si, "p");
    let mut strip = samples::margins(3);
    strip.rooms[1].name = "bad\u{7}".into();
    assert!(matches!(strip.draw(&options), Err(PictureError::Text { character: '\u{7}', .. })));
}

#[test]
fn every_altitude_and_climate() {
    // From 500 m below to 4200 m above sea level: 107.5 to 60 kPa.
    for p in [107_500.0, 101_325.0, 84_556.0, 70_109.0, 60_000.0] {
        both(&format!("{p} Pa"), |o| samples::chart(p).draw(o));
        for (outdoor, rh) in [(-30.0, 0.8), (-10.0, 0.5), (46.0, 0.15), (38.0, 0.6), (12.0, 0.99)] {
            both(&format!("{p} Pa {outdoor} degC"), |o| {
                let w = |t: f64, rh: f64| drycoil_air::raw::humidity_ratio_from_relative_humidity(t, rh, p);
                let mut chart = samples::chart(p);
                chart.process.as_mut().unwrap().start = AirPoint::new(outdoor, w(outdoor, rh));
                chart.draw(o)
            });
        }
    }
    both("nothing on it", |o| PsychrometricChart::new("Empty", 80_000.0).draw(o));
}

#[test]
fn margins_of_either_sign() {
    for shift in [-30.0, -3.0, 0.0, 0.001, 8.0] {
        both("shifted margins", |o| {
            let mut strip = samples::margins(40);
            strip.rooms.iter_mut().for_each(|r| r.margin_k += shift);
            strip.draw(o)
        });
        both("shifted water", |o| {
            let mut chart = samples::chart(101_325.0);
            let margin = chart.margin.as_mut().unwrap();
            margin.water_c = (margin.dew_point_c + shift).max(-20.0);
            chart.draw(o)
        });
        both("shifted carpet", |o| {
            let mut carpet = samples::carpet();
            carpet.margin_k.iter_mut().flatten().for_each(|k| *k += shift);
            carpet.draw(o)
        });
    }
    both("all off", |o| Carpet { title: "Off".into(), margin_k: vec![None; 8760], required_k: 1.0 }.draw(o));
    both("all the same", |o| {
        let mut strip = samples::margins(14);
        strip.rooms.iter_mut().for_each(|r| r.margin_k = 0.0);
        strip.required_k = 0.0;
        strip.draw(o)
    });
}

#[test]
fn small_and_large_jobs() {
    for scale in [1e-4, 0.01, 1.0, 40.0, 3000.0] {
        for arrangement in [
            WaterArrangement::SingleColdLoop,
            WaterArrangement::SeparatePlants,
            WaterArrangement::ReturnReuse,
        ] {
            both(&format!("water {scale}"), |o| samples::water(arrangement, scale).draw(o));
        }
        both(&format!("duration {scale}"), |o| {
            let mut duration = samples::duration();
            for panel in &mut duration.panels {
                panel.decoupled_w.iter_mut().chain(&mut panel.all_air_w).for_each(|w| *w *= scale);
            }
            duration.draw(o)
        });
        both(&format!("months {scale}"), |o| {
            let mut months = samples::months();
            for e in &mut months.end_uses {
                e.decoupled_j.iter_mut().chain(&mut e.all_air_j).for_each(|j| *j *= scale);
            }
            months.draw(o)
        });
        both(&format!("trade-off {scale}"), |o| {
            let mut trade = samples::trade_off();
            for p in &mut trade.points {
                p.primary_flow_m3_per_s *= scale;
                p.drying_load_w *= scale;
                p.fan_power_w *= scale;
                p.objective *= scale;
            }
            trade.draw(o)
        });
        both(&format!("day {scale}"), |o| {
            let mut day = samples::day();
            day.values.iter_mut().for_each(|v| *v *= scale);
            day.limit = None;
            day.draw(o)
        });
    }
    both("no load", |o| {
        let panel = DurationPanel {
            label: "heating".into(),
            kind: LoadKind::Heating,
            decoupled_w: vec![0.0; 8760],
            all_air_w: vec![0.0; 8760],
        };
        LoadDuration { title: "None".into(), panels: vec![panel] }.draw(o)
    });
    both("temperature of a day", |o| {
        let values = (0..24).map(|h| -4.0 + f64::from(h) * 0.2).collect();
        DayProfile { title: "outdoor air".into(), kind: QuantityKind::Temperature, values, limit: None }
            .draw(o)
    });
    both("one design", |o| samples::sweep(1).draw(o));
    both("short excursion", |o| {
        let mut e = samples::excursion();
        e.time_s.iter_mut().for_each(|s| *s /= 6.0);
        e.stages.iter_mut().for_each(|s| (s.from_s, s.to_s) = (s.from_s / 6.0, s.to_s / 6.0));
        e.draw(o)
    });
}

#[test]
fn water_that_stands_is_said_to_stand() {
    let o = Options::new(UnitSystem::Si, "p");
    let mut water = samples::water(WaterArrangement::ReturnReuse, 1.0);
    // All of the drying return is reused, and no cold water is added.
    water.reused_m3_per_s = water.drying.flow_m3_per_s;
    water.make_up_m3_per_s = 0.0;
    water.cold_plant.flow_m3_per_s = water.drying.flow_m3_per_s;
    water.recirculated_m3_per_s = water.terminals.flow_m3_per_s - water.reused_m3_per_s;
    let picture = water.draw(&o).unwrap();
    examine("standing water", &picture);
    assert_eq!(picture.labels().iter().filter(|l| l.text == "no flow").count(), 2, "make-up and surplus");
    let flowing = samples::water(WaterArrangement::ReturnReuse, 1.0).draw(&o).unwrap();
    assert!(flowing.labels().iter().all(|l| l.text != "no flow"));
}

#[test]
fn the_carpet_shows_every_hour_once() {
    let carpet = samples::carpet();
    let options = Options::new(UnitSystem::Si, "p");
    let picture = carpet.draw(&options).unwrap();
    let hours: usize = picture
        .labels()
        .iter()
        .filter_map(|l| l.text.strip_suffix(" h").and_then(|n| n.parse::<usize>().ok()))
        .sum();
    assert_eq!(hours, 8760, "classes and hours off together are the year");
    // The area that is coloured is the share of hours with water.
    let mut area = 0.0;
    for (_, attributes) in read(picture.svg()).elements {
        for (_, d) in attributes.iter().filter(|(k, v)| k == "d" && v.contains('h')) {
            for part in d.split('M').filter(|p| !p.is_empty()) {
                let numbers: Vec<f64> =
                    part.split([' ', 'h', 'v', 'z']).filter_map(|n| n.parse().ok()).collect();
                // A hatching is made of lines.
                if let [_, _, wide, high, _] = numbers[..] {
                    area += wide * high;
                }
            }
        }
    }
    let on = carpet.margin_k.iter().flatten().count() as f64;
    let cell = (720.0 - 14.0 - 44.0) / 365.0 * 8.0;
    // Widths are written with two decimals: 0.01 of 1.81.
    assert!((area / (on * cell) - 1.0).abs() < 6e-3, "{area} {}", on * cell);
}

#[test]
fn the_front_is_what_no_design_beats() {
    let mut scatter = samples::sweep(300);
    for (bx, by) in [
        (Better::Less, Better::Less),
        (Better::More, Better::Less),
        (Better::Less, Better::More),
        (Better::More, Better::More),
    ] {
        scatter.x.better = bx;
        scatter.y.better = by;
        let front = scatter.front();
        let better = |b: Better, p: f64, q: f64| if b == Better::Less { p < q } else { p > q };
        // By comparing each with each.
        for (i, p) in scatter.points.iter().enumerate() {
            let beaten = scatter.points.iter().any(|q| {
                (better(bx, q.x, p.x) && !better(by, p.y, q.y))
                    || (better(by, q.y, p.y) && !better(bx, p.x, q.x))
            });
            assert_eq!(!beaten, front.contains(&i), "{i}");
        }
        scatter.chosen = front.first().copied();
        both("sweep", |o| scatter.draw(o));
    }
}

#[test]
fn not_a_number_is_refused_everywhere() {
    let o = Options::new(UnitSystem::Si, "p");
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut errors: Vec<PictureError> = Vec::new();
        let mut chart = samples::chart(101_325.0);
        chart.rooms[3].state.dry_bulb_c = bad;
        errors.push(chart.draw(&o).unwrap_err());
        let mut chart = samples::chart(101_325.0);
        chart.margin.as_mut().unwrap().water_c = bad;
        errors.push(chart.draw(&o).unwrap_err());
        errors.push(PsychrometricChart::new("t", bad).draw(&o).unwrap_err());
        let mut trade = samples::trade_off();
        trade.points[2].objective = bad;
        errors.push(trade.draw(&o).unwrap_err());
        let mut trade = samples::trade_off();
        trade.chosen_c = bad;
        errors.push(trade.draw(&o).unwrap_err());
        let mut strip = samples::margins(5);
        strip.rooms[2].margin_k = bad;
        errors.push(strip.draw(&o).unwrap_err());
        let mut strip = samples::margins(5);
        strip.required_k = bad;
        errors.push(strip.draw(&o).unwrap_err());
        let mut carpet = samples::carpet();
        carpet.margin_k[77] = Some(bad);
        errors.push(carpet.draw(&o).unwrap_err());
        let mut duration = samples::duration();
        duration.panels[1].all_air_w[7] = bad;
        errors.push(duration.draw(&o).unwrap_err());
        let mut months = samples::months();
        months.end_uses[1].all_air_j[11] = bad;
        errors.push(months.draw(&o).unwrap_err());
        let mut water = samples::water(WaterArrangement::ReturnReuse, 1.0);
        water.terminals.return_c = bad;
        errors.push(water.draw(&o).unwrap_err());
        let mut sweep = samples::sweep(9);
        sweep.points[4].y = bad;
        errors.push(sweep.draw(&o).unwrap_err());
        let mut day = samples::day();
        day.values[3] = bad;
        errors.push(day.draw(&o).unwrap_err());
        let mut excursion = samples::excursion();
        excursion.film_kg[3] = bad;
        errors.push(excursion.draw(&o).unwrap_err());
        assert_eq!(errors.len(), 14);
        for error in errors {
            let text = error.to_string();
            assert!(text.starts_with(char::is_lowercase), "{text}");
            assert!(!text.ends_with('.'), "{text}");
            assert!(text.contains("NaN") || text.contains("inf"), "the message has the value: {text}");
        }
    }
}

#[test]
fn what_does_not_fit_together_is_refused() {
    let o = Options::new(UnitSystem::Si, "p");
    let mut carpet = samples::carpet();
    carpet.margin_k.pop();
    assert!(matches!(carpet.draw(&o), Err(PictureError::Length { length: 8759, .. })));
    let mut trade = samples::trade_off();
    trade.points.swap(3, 4);
    assert!(matches!(trade.draw(&o), Err(PictureError::Unordered { .. })));
    trade = samples::trade_off();
    trade.chosen_c = 40.0;
    assert!(matches!(trade.draw(&o), Err(PictureError::OutOfRange { .. })));
    let mut duration = samples::duration();
    duration.panels[0].decoupled_w[5] = -1.0;
    assert!(matches!(duration.draw(&o), Err(PictureError::OutOfRange { .. })));
    duration = samples::duration();
    duration.panels[0].all_air_w.pop();
    assert!(matches!(duration.draw(&o), Err(PictureError::Length { .. })));
    let mut water = samples::water(WaterArrangement::ReturnReuse, 1.0);
    water.recirculated_m3_per_s *= 1.2;
    assert!(matches!(water.draw(&o), Err(PictureError::Unbalanced { .. })));
    water = samples::water(WaterArrangement::SeparatePlants, 1.0);
    water.warm_plant = None;
    assert!(matches!(water.draw(&o), Err(PictureError::Part { .. })));
    water = samples::water(WaterArrangement::SingleColdLoop, 1.0);
    water.warm_plant = Some(water.terminals);
    assert!(matches!(water.draw(&o), Err(PictureError::Part { .. })));
    let mut sweep = samples::sweep(4);
    sweep.chosen = Some(4);
    assert!(matches!(sweep.draw(&o), Err(PictureError::Part { .. })));
    let mut excursion = samples::excursion();
    excursion.stages[1].from_s = 0.0;
    assert!(matches!(excursion.draw(&o), Err(PictureError::Unordered { .. })));
    let mut months = samples::months();
    let one = months.end_uses[0].clone();
    months.end_uses = vec![one; 9];
    assert!(matches!(months.draw(&o), Err(PictureError::Length { length: 9, .. })));
    let mut chart = samples::chart(101_325.0);
    chart.comfort.truncate(2);
    assert!(matches!(chart.draw(&o), Err(PictureError::Length { .. })));
    // More vapour than the air can hold.
    chart = samples::chart(101_325.0);
    chart.rooms[0].state.humidity_ratio_kg_per_kg = 0.03;
    assert!(matches!(chart.draw(&o), Err(PictureError::Air(_))));
}
