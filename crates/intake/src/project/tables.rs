//! Rooms, surfaces and profiles from their tables.

use super::flows::Flows;
use super::keys::{PROFILE_COLUMNS, ROOM_COLUMNS, SURFACE_COLUMNS};
use super::section::Log;
use super::spec::Problem;
use super::table::{CellNature, Grid, RowReader, Table, looks_like_date};
use super::year::PRIMARY_AIR_CONTROLS;
use drycoil_findings::registry::rooms as rm;
use drycoil_project::{
    DayType, PrimaryAirControl, Room, RoomKind, Surface, SurfaceKind, SystemChoice, TerminalChoice,
    UseProfile, UseShare,
};
use drycoil_units::{AirChangesPerHour, Angle, Area, Fraction, Length, Power, StandardAirFlow, Temperature};
use drycoil_working::{Origin, Sourced};
use std::collections::BTreeMap;

/// What rooms take when their row does not say.
pub(crate) struct RoomDefaults<'a> {
    pub kinds: &'a [RoomKind],
    pub height: Sourced<Length>,
    pub cooling_set_point: Sourced<Temperature>,
    pub heating_set_point: Sourced<Temperature>,
    pub outdoor_air_per_person: Sourced<StandardAirFlow>,
    pub moisture_capacity: Sourced<f64>,
    pub primary_air_control: Sourced<PrimaryAirControl>,
    pub flows: Flows,
}

/// The rooms of a table.
pub(crate) fn rooms(grid: Grid, defaults: &RoomDefaults<'_>, log: &mut Log) -> Vec<Room> {
    let Some(mut table) = Table::new(grid, ROOM_COLUMNS, log) else { return Vec::new() };
    let kinds: BTreeMap<&str, &RoomKind> = defaults.kinds.iter().map(|k| (k.id.as_str(), k)).collect();
    let mut rooms = Vec::with_capacity(table.rows());
    for i in 0..table.rows() {
        rooms.push(room(&mut table.row(i, log), defaults, &kinds));
    }
    rooms
}

fn room(r: &mut RowReader<'_>, d: &RoomDefaults<'_>, kinds: &BTreeMap<&str, &RoomKind>) -> Room {
    let id = r.text("id").value;
    if r.nature("id") == CellNature::Date || looks_like_date(&id) {
        r.refuse(
            "id",
            Problem::new(
                rm::ID_IS_DATE,
                format!("the room id `{id}` looks like a date made by a spreadsheet"),
            )
            .value(id.clone())
            .hint("enter the id as text, for example as `R2-01`"),
        );
    }
    let kind_id = r.text("kind");
    // An unknown kind is reported when the project is checked; its room reads on with the first kind.
    let kind = kinds.get(kind_id.value.as_str()).copied().unwrap_or(&d.kinds[0]);
    let area = r.quantity::<Area>("floor_area");
    let rule = || Origin::Table {
        row: format!("room kind `{}`", kind.id),
        source: kind.activity.source.clone(),
        place: None,
    };
    let people = r.number_if("people").unwrap_or_else(|| {
        Sourced::new(
            kind.people_per_m2.value * area.value.to_square_metres(),
            kind.people_per_m2.origin.clone(),
        )
    });
    let per_person = r.flow_if("outdoor_air_per_person").map(|f| d.flows.standard(f, r.log));
    let exhaust = r.flow_if("exhaust").map(|f| d.flows.standard(f, r.log));
    let zero = |what| Sourced::default_value(Power::watts(0.0), what, "docs/PROJECT_FORMAT.md");
    let terminal = match r.text_if("terminal") {
        Some(t) => t.map(|t| match t.as_str() {
            "auto" => TerminalChoice::Auto,
            "none" => TerminalChoice::None,
            _ => TerminalChoice::Model(t),
        }),
        None if kind.transfer_only => Sourced::default_value(
            TerminalChoice::None,
            "rooms of this kind live on transfer air",
            "built-in or project table of room kinds",
        ),
        None => Sourced::default_value(
            TerminalChoice::Auto,
            "smallest unit that does the job",
            "docs/PROJECT_FORMAT.md",
        ),
    };
    Room {
        name: r.text_if("name").map_or_else(|| id.clone(), |t| t.value),
        floor: r.text("floor").value,
        zone: r.text_if("zone").unwrap_or_else(|| {
            Sourced::default_value(id.clone(), "a zone of its own", "docs/PROJECT_FORMAT.md")
        }),
        floor_area: area,
        height: r.quantity_if("height").unwrap_or_else(|| d.height.clone()),
        people,
        sensible_per_person: r
            .quantity_if("sensible_per_person")
            .unwrap_or_else(|| Sourced::new(kind.activity.sensible, rule())),
        latent_per_person: r
            .quantity_if("latent_per_person")
            .unwrap_or_else(|| Sourced::new(kind.activity.latent, rule())),
        lighting: r.quantity_if("lighting").unwrap_or_else(|| kind.lighting.clone()),
        plugs: r.quantity_if("plugs").unwrap_or_else(|| kind.plugs.clone()),
        process_sensible: r.quantity_if("process_sensible").unwrap_or_else(|| zero("no process heat")),
        process_latent: r.quantity_if("process_latent").unwrap_or_else(|| zero("no process moisture")),
        profile: r.text_if("profile").unwrap_or_else(|| {
            Sourced::new(
                kind.profile.clone(),
                Origin::Table {
                    row: format!("room kind `{}`", kind.id),
                    source: "profile of the kind".into(),
                    place: None,
                },
            )
        }),
        cooling_set_point: r.quantity_if("cooling_set_point").unwrap_or_else(|| d.cooling_set_point.clone()),
        heating_set_point: r.quantity_if("heating_set_point").unwrap_or_else(|| d.heating_set_point.clone()),
        dew_point_limit: r.quantity_if("dew_point_limit"),
        outdoor_air_per_person: per_person.unwrap_or_else(|| d.outdoor_air_per_person.clone()),
        exhaust: exhaust.unwrap_or_else(|| match &kind.exhaust_per_area {
            Some(rate) => Sourced::new(rate.value * area_of(r), rate.origin.clone()),
            None => {
                Sourced::default_value(StandardAirFlow::m3_per_s(0.0), "no exhaust", "docs/PROJECT_FORMAT.md")
            }
        }),
        outdoor_air_changes: r.quantity_if::<AirChangesPerHour>("outdoor_air_changes").or_else(|| {
            let rule = kind.health_care.as_ref()?;
            let origin = Origin::Table {
                row: format!("room kind `{}`", kind.id),
                source: rule.edition.clone(),
                place: None,
            };
            rule.outdoor.map(|changes| Sourced::new(changes, origin))
        }),
        terminal,
        transfer_from: r.text_if("transfer_from"),
        system: r
            .word_if("system", &[SystemChoice::Auto, SystemChoice::On, SystemChoice::Off])
            .unwrap_or_else(|| {
                Sourced::default_value(SystemChoice::Auto, "the screens decide", "docs/PROJECT_FORMAT.md")
            }),
        overrule_reason: r.text_if("overrule_reason"),
        primary_air_control: r
            .word_if("primary_air_control", &PRIMARY_AIR_CONTROLS)
            .unwrap_or_else(|| d.primary_air_control.clone()),
        standby_allowed: r.word_if("standby", &[true, false]).unwrap_or_else(|| {
            Sourced::new(
                kind.standby_allowed,
                Origin::Table {
                    row: format!("room kind `{}`", kind.id),
                    source: "ANSI/ASHRAE 62.1-2019 Table 6-1, occupied standby (from memory)".into(),
                    place: None,
                },
            )
        }),
        moisture_capacity: r.number_if("moisture_capacity").unwrap_or_else(|| d.moisture_capacity.clone()),
        place: r.own_place(),
        kind: kind_id,
        id,
    }
}

fn area_of(r: &mut RowReader<'_>) -> Area {
    r.quantity_if::<Area>("floor_area").map_or(Area::square_metres(0.0), |a| a.value)
}

/// The surfaces of a table.
pub(crate) fn surfaces(grid: Grid, log: &mut Log) -> Vec<Surface> {
    let Some(mut table) = Table::new(grid, SURFACE_COLUMNS, log) else { return Vec::new() };
    (0..table.rows()).map(|i| surface(&mut table.row(i, log))).collect()
}

fn surface(r: &mut RowReader<'_>) -> Surface {
    const KINDS: [SurfaceKind; 6] = [
        SurfaceKind::Wall,
        SurfaceKind::Roof,
        SurfaceKind::Window,
        SurfaceKind::ExposedFloor,
        SurfaceKind::GroundFloor,
        SurfaceKind::Partition,
    ];
    let kind = r.word("kind", &KINDS).value;
    let kind_read = r.cell("kind").is_some_and(|c| SURFACE_COLUMNS[1].kind.has_word(c));
    let tilt = r.quantity_if::<Angle>("tilt").unwrap_or_else(|| {
        let (deg, rule) = match kind {
            SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Partition => {
                (90.0, "walls and windows stand upright")
            }
            SurfaceKind::Roof => (0.0, "roofs are flat"),
            SurfaceKind::ExposedFloor | SurfaceKind::GroundFloor => (180.0, "floors look down"),
        };
        Sourced::default_value(Angle::degrees(deg), rule, "docs/PROJECT_FORMAT.md")
    });
    let sees_sun = matches!(kind, SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Roof)
        && tilt.value.to_degrees() > 0.0
        && tilt.value.to_degrees() < 180.0;
    if sees_sun && kind_read && r.cell("facing").is_none() {
        r.refuse(
            "facing",
            Problem::new(rm::NO_FACING, "the surface is tilted and its direction is not given")
                .hint("fill `facing` with a compass word or an azimuth clockwise from north"),
        );
    }
    if kind_read && kind != SurfaceKind::Window && r.cell("overhang_ratio").is_some() {
        let value = r.cell("overhang_ratio").unwrap_or_default().to_owned();
        r.refuse(
            "overhang_ratio",
            Problem::new(rm::VALUE_WITHOUT_EFFECT, "only windows have an overhang").value(value),
        );
    }
    let neighbour = r.quantity_if::<Temperature>("neighbour");
    if kind_read && kind == SurfaceKind::Partition && r.cell("neighbour").is_none() {
        r.refuse(
            "neighbour",
            Problem::new(rm::NO_NEIGHBOUR, "the temperature behind the partition is not given")
                .hint("fill `neighbour`, or delete the row when the other side is as warm as the room"),
        );
    }
    if kind_read && kind != SurfaceKind::Partition && r.cell("neighbour").is_some() {
        let value = r.cell("neighbour").unwrap_or_default().to_owned();
        r.refuse(
            "neighbour",
            Problem::new(rm::VALUE_WITHOUT_EFFECT, "only a partition has a neighbour").value(value),
        );
    }
    Surface {
        room: r.text("room").value,
        kind,
        construction: r.text("construction"),
        area: r.quantity("area"),
        facing: r.quantity_if("facing").unwrap_or_else(|| {
            Sourced::default_value(
                Angle::degrees(0.0),
                "a horizontal surface has no direction",
                "docs/PROJECT_FORMAT.md",
            )
        }),
        tilt,
        overhang_ratio: r.quantity_if("overhang_ratio").unwrap_or_else(|| {
            Sourced::default_value(Fraction::ratio(0.0), "no overhang", "docs/PROJECT_FORMAT.md")
        }),
        neighbour,
        place: r.own_place(),
    }
}

/// The profiles of a table.
pub(crate) fn profiles(grid: Grid, log: &mut Log) -> Vec<UseProfile> {
    let Some(mut table) = Table::new(grid, PROFILE_COLUMNS, log) else { return Vec::new() };
    let mut profiles: Vec<UseProfile> = Vec::new();
    // For each profile, use and day: the row that filled it.
    let mut filled: Vec<[[Option<usize>; 4]; 4]> = Vec::new();
    let mut by_name: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    for i in 0..table.rows() {
        let mut r = table.row(i, log);
        let name = r.text("profile").value;
        let uses = r.word("use", &UseShare::ALL).value;
        let days: &[DayType] = r
            .word::<&[DayType]>(
                "day",
                &[
                    &[DayType::Weekday],
                    &[DayType::Saturday],
                    &[DayType::Sunday],
                    &[DayType::Holiday],
                    &[DayType::Saturday, DayType::Sunday, DayType::Holiday],
                    &DayType::ALL,
                ],
            )
            .value;
        let readable = ["use", "day"].iter().all(|c| {
            let spec = PROFILE_COLUMNS.iter().find(|k| k.name == *c).expect("declared");
            r.cell(c).is_some_and(|text| spec.kind.has_word(text))
        });
        let shares = r.bare_numbers::<24>(PROFILE_COLUMNS[3].name);
        if !readable || name.is_empty() {
            continue;
        }
        let index = by_name.get(&name).copied().unwrap_or_else(|| {
            by_name.insert(name.clone(), profiles.len());
            profiles.push(UseProfile {
                name: name.clone(),
                shares: [[[0.0; 24]; 4]; 4],
                place: r.own_place(),
            });
            filled.push([[None; 4]; 4]);
            profiles.len() - 1
        });
        let mut twice = false;
        for day in days {
            let slot = &mut filled[index][uses as usize][*day as usize];
            twice |= slot.is_some();
            *slot = Some(i);
            profiles[index].shares[uses as usize][*day as usize] = shares;
        }
        if twice {
            r.refuse(
                "day",
                Problem::new(rm::PROFILE_TWICE, format!("the profile `{name}` has this use and day twice"))
                    .value(r.cell("day").unwrap_or_default().to_owned()),
            );
        }
    }
    for (profile, filled) in profiles.iter().zip(&filled) {
        for of in UseShare::ALL {
            let days = &filled[of as usize];
            let missing: Vec<&str> =
                DayType::ALL.iter().filter(|d| days[**d as usize].is_none()).map(|d| d.word()).collect();
            if let (Some(row), false) = (days.iter().flatten().next(), missing.is_empty()) {
                let r = table.row(*row, log);
                let place = r.place("day");
                log.findings.push(
                    Problem::new(
                        rm::PROFILE_INCOMPLETE,
                        format!(
                            "the profile `{}` says nothing of {} on {}",
                            profile.name,
                            of.word(),
                            missing.join(", ")
                        ),
                    )
                    .hint("add a row for each missing day, or use the day `all` or `weekend`")
                    .finding()
                    .at(place),
                );
            }
        }
    }
    profiles
}
