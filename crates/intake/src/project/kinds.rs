//! Room kinds, built in and of the project.

use super::flows::Flows;
use super::keys::ROOM_KIND;
use super::section::{Log, Section, named, parse};
use super::spec::Problem;
use super::text::Text;
use drycoil_findings::{Place, did_you_mean, registry::project as pf};
use drycoil_project::{Activity, HealthCareRule, PressureRelation, RoomKind, Screen, VentilationRule};
use drycoil_units::{
    AirChangesPerHour, AirFlowBasis, Fraction, HeatFlux, Power, StandardAirFlow, StandardAirFlowPerArea,
};
use drycoil_working::{Origin, Sourced};
use toml::de::DeTable;

/// Text of the built-in table.
pub(crate) const BUILT_IN: &str = include_str!("../../data/room_kinds.toml");

/// The built-in room kinds, in the order of their file.
///
/// # Panics
/// Never: the table is read by a test.
pub fn built_in_kinds() -> Vec<RoomKind> {
    let text = Text::new("room_kinds.toml", BUILT_IN.to_owned());
    let mut log = Log::default();
    let root = parse(&text, &mut log).expect("the built-in table is TOML");
    let flows = Flows { basis: AirFlowBasis::Standard, ratio: None };
    let kinds = read_all(&mut log, &text, Some(root.get_ref()), &[], flows, Home::BuiltIn);
    debug_assert!(log.findings.is_empty(), "{:#?}", log.findings);
    kinds
}

/// Whose table is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Home {
    BuiltIn,
    Project,
}

/// All kinds of a file.
pub(crate) fn read_all(
    log: &mut Log,
    text: &Text,
    root: Option<&DeTable<'_>>,
    base: &[RoomKind],
    flows: Flows,
    home: Home,
) -> Vec<RoomKind> {
    let mut kinds = Vec::new();
    for (id, table, span) in named(log, text, root, &ROOM_KIND) {
        let path = format!("room_kinds.{id}");
        let mut section = Section::new(log, text, Some((table, span)), &path, ROOM_KIND.keys, &[]);
        kinds.push(read(&mut section, id, base, flows, home));
    }
    kinds
}

fn read(s: &mut Section<'_, '_>, id: &str, all: &[RoomKind], flows: Flows, home: Home) -> RoomKind {
    let base = s.text_if("based_on").and_then(|name| {
        let found = all.iter().find(|k| k.id == name.value);
        if found.is_none() {
            let mut problem =
                Problem::new(pf::UNKNOWN_BASE, format!("there is no built-in room kind `{}`", name.value))
                    .value(name.value.clone());
            problem.hint = did_you_mean(&name.value, all.iter().map(|k| k.id.as_str()))
                .map(|n| format!("did you mean `{n}`?"));
            s.refuse("based_on", problem);
        }
        found
    });
    let stands_alone = s.raw("based_on").is_none();
    let need = |s: &mut Section<'_, '_>, key: &'static str, present: bool| {
        if stands_alone && !present && s.raw(key).is_none() {
            s.refuse(
                key,
                Problem::new(pf::MISSING_KEY, format!("`{key}` is missing in `[room_kinds.{id}]`"))
                    .hint("add it, or take it over with `based_on = \"...\"`"),
            );
        }
    };
    let origin = |s: &mut Section<'_, '_>, key: &str, source_key: &str| match home {
        Home::Project => Origin::File(s.place(key)),
        Home::BuiltIn => Origin::Table {
            row: format!("room kind `{id}`"),
            source: s.text_if(source_key).map_or_else(|| super::spec::COMMON.to_owned(), |t| t.value),
            place: None,
        },
    };

    let name = s.text_if("name").map(|t| t.value).or_else(|| base.map(|b| b.name.clone()));
    need(s, "name", name.is_some());

    let per_person = s.written("outdoor_air_per_person").map(|(v, o)| match v {
        super::spec::Value::Flow(x, b) => flows.standard(Sourced::new((x, b), o), s.log).value,
        _ => unreachable!("declared as an air flow"),
    });
    let per_area = s.quantity_if::<StandardAirFlowPerArea>("outdoor_air_per_area").map(|v| v.value);
    let category = s.text_if("category").map(|t| t.value);
    let edition = s.text_if("edition").map(|t| t.value);
    let base_v = base.and_then(|b| b.ventilation.clone());
    let ventilation = if per_person.is_some() || per_area.is_some() || edition.is_some() || base_v.is_some() {
        let base_edition = base_v.as_ref().map(|v| v.edition.clone());
        need(s, "edition", edition.is_some() || base_edition.is_some());
        Some(VentilationRule {
            category: category
                .or_else(|| base_v.as_ref().map(|v| v.category.clone()))
                .unwrap_or_else(|| id.to_owned()),
            edition: edition.or(base_edition).unwrap_or_default(),
            per_person: per_person
                .or_else(|| base_v.as_ref().map(|v| v.per_person))
                .unwrap_or(StandardAirFlow::m3_per_s(0.0)),
            per_area: per_area
                .or_else(|| base_v.as_ref().map(|v| v.per_area))
                .unwrap_or(StandardAirFlowPerArea::m_per_s(0.0)),
        })
    } else {
        None
    };

    let outdoor = s.quantity_if::<AirChangesPerHour>("outdoor_air_changes").map(|v| v.value);
    let total = s.quantity_if::<AirChangesPerHour>("total_air_changes").map(|v| v.value);
    let pressure = s.choice_if(
        "pressure",
        &[PressureRelation::Neutral, PressureRelation::Positive, PressureRelation::Negative],
    );
    let all_exhausted = s.flag_if("all_exhausted");
    let recirculation = s.flag_if("recirculation_allowed");
    let health_edition = s.text_if("health_care_edition").map(|t| t.value);
    let base_h = base.and_then(|b| b.health_care.clone());
    let any = outdoor.is_some()
        || total.is_some()
        || pressure.is_some()
        || all_exhausted.is_some()
        || health_edition.is_some();
    let health_care = if any || base_h.is_some() {
        let base_edition = base_h.as_ref().map(|h| h.edition.clone());
        need(s, "health_care_edition", health_edition.is_some() || base_edition.is_some());
        Some(HealthCareRule {
            edition: health_edition.or(base_edition).unwrap_or_default(),
            outdoor: outdoor.or_else(|| base_h.as_ref().and_then(|h| h.outdoor)),
            total: total.or_else(|| base_h.as_ref().and_then(|h| h.total)),
            pressure: pressure
                .or_else(|| base_h.as_ref().map(|h| h.pressure))
                .unwrap_or(PressureRelation::Neutral),
            all_exhausted: all_exhausted
                .or_else(|| base_h.as_ref().map(|h| h.all_exhausted))
                .unwrap_or(false),
            recirculation_allowed: recirculation
                .or_else(|| base_h.as_ref().map(|h| h.recirculation_allowed))
                .unwrap_or(true),
        })
    } else {
        None
    };

    let people = s.number_if("people_density");
    need(s, "people_density", people.is_some());
    let people_per_m2 = match people {
        Some(p) => Sourced::new(p.value, origin(s, "people_density", "people_source")),
        None => base
            .map_or(Sourced::default_value(0.0, "placeholder", "refused input"), |b| b.people_per_m2.clone()),
    };
    let activity = Activity {
        name: s
            .text_if("activity")
            .map(|t| t.value)
            .or_else(|| base.map(|b| b.activity.name.clone()))
            .unwrap_or_default(),
        sensible: s
            .quantity_if("sensible_per_person")
            .map(|v| v.value)
            .or_else(|| base.map(|b| b.activity.sensible))
            .unwrap_or(Power::watts(0.0)),
        latent: s
            .quantity_if("latent_per_person")
            .map(|v| v.value)
            .or_else(|| base.map(|b| b.activity.latent))
            .unwrap_or(Power::watts(0.0)),
        source: s
            .text_if("activity_source")
            .map(|t| t.value)
            .or_else(|| base.map(|b| b.activity.source.clone()))
            .unwrap_or_else(|| "stated in the project".into()),
    };
    for key in ["activity", "sensible_per_person", "latent_per_person", "lighting", "plugs", "profile"] {
        need(s, key, false);
    }
    let flux = |s: &mut Section<'_, '_>, key: &str, source: &str, of: fn(&RoomKind) -> &Sourced<HeatFlux>| {
        match s.quantity_if::<HeatFlux>(key) {
            Some(v) => Sourced::new(v.value, origin(s, key, source)),
            None => base.map_or(
                Sourced::default_value(HeatFlux::w_per_m2(0.0), "placeholder", "refused input"),
                |b| of(b).clone(),
            ),
        }
    };
    let lighting = flux(s, "lighting", "lighting_source", |k| &k.lighting);
    let plugs = flux(s, "plugs", "plugs_source", |k| &k.plugs);
    let exhaust_per_area = match s.quantity_if::<StandardAirFlowPerArea>("exhaust_per_area") {
        Some(v) => Some(Sourced::new(v.value, origin(s, "exhaust_per_area", "exhaust_source"))),
        None => base.and_then(|b| b.exhaust_per_area.clone()),
    };
    // Sources are part of the table even where the value comes from a base.
    for key in ["people_source", "lighting_source", "plugs_source", "exhaust_source"] {
        let _ = s.text_if(key);
    }
    let reason = s.text_if("screen_reason").map(|t| t.value);
    let instead = s.text_if("screen_instead").map(|t| t.value);
    let screen = match (reason, instead) {
        (Some(reason), Some(instead)) => Some(Screen { reason, instead }),
        (None, None) => base.and_then(|b| b.screen.clone()),
        (reason, _) => {
            let key = if reason.is_some() { "screen_instead" } else { "screen_reason" };
            s.refuse(
                key,
                Problem::new(pf::MISSING_KEY, format!("`{key}` is missing in `[room_kinds.{id}]`"))
                    .hint("a screen needs its reason and what to do instead"),
            );
            None
        }
    };
    RoomKind {
        id: id.to_owned(),
        name: name.unwrap_or_default(),
        ventilation,
        health_care,
        people_per_m2,
        activity,
        lighting,
        plugs,
        exhaust_per_area,
        profile: s
            .text_if("profile")
            .map(|t| t.value)
            .or_else(|| base.map(|b| b.profile.clone()))
            .unwrap_or_default(),
        transfer_only: s.flag_if("transfer_only").or_else(|| base.map(|b| b.transfer_only)).unwrap_or(false),
        screen,
        standby_allowed: s
            .flag_if("standby_allowed")
            .or_else(|| base.map(|b| b.standby_allowed))
            .unwrap_or(false),
        diversity: s
            .quantity_if("diversity")
            .map(|v| v.value)
            .or_else(|| base.map(|b| b.diversity))
            .unwrap_or(Fraction::ratio(1.0)),
        place: match home {
            Home::BuiltIn => Place::part("built in").key(format!("room_kinds.{id}")),
            Home::Project => s.own_place(),
        },
    }
}

/// Built-in kinds with those of the project put over them.
pub(crate) fn with_built_in(own: Vec<RoomKind>, mut kinds: Vec<RoomKind>) -> Vec<RoomKind> {
    for kind in own {
        match kinds.iter_mut().find(|k| k.id == kind.id) {
            Some(slot) => *slot = kind,
            None => kinds.push(kind),
        }
    }
    kinds
}
