//! How each room is served, and the screens behind it.

use crate::design::{ScreenResult, Service};
use drycoil_project::{Project, Room, SurfaceKind, SystemChoice, TerminalChoice};
use drycoil_units::{QuantityKind as K, fixed};

/// Sensible gain of plugs and processes above which a room gets its own units on the sensible loop, W/m2. Common
/// practice, no source: about four times the plug load of a dense office.
const DENSE_W_PER_M2: f64 = 150.0;

/// How a room is served, with the screens that applied.
pub(crate) fn decide(project: &Project, room: &Room) -> (Service, Vec<ScreenResult>) {
    let kind = project.kind_of(room);
    let overruled = (room.system.value == SystemChoice::On).then(|| {
        room.overrule_reason.as_ref().map_or_else(|| "no reason given".to_owned(), |r| r.value.clone())
    });
    let area = room.floor_area.value.to_square_metres();
    let density = room.plugs.value.to_w_per_m2() + room.process_sensible.value.to_watts() / area;
    let dense = density > DENSE_W_PER_M2;
    // One advice, whatever the number of screens: two could contradict each other.
    let of_kind = kind.screen.as_ref().map(|screen| screen.instead.as_str());
    let instead = if dense && stays_dry(project, room) {
        "give the room its own dry cooling units on the sensible loop"
    } else if dense && has_no_moisture(room) {
        "humid air leaks in through its outer surface, also while primary air is off at night: give the room a cooling unit of \
         its own with a drained coil"
    } else {
        of_kind.unwrap_or("give the room a cooling unit of its own with a drained coil")
    };
    let heat = |w_per_m2: f64| {
        let units = project.told_units();
        format!("{} {}", fixed(units.value(K::HeatFlux, w_per_m2), 1), units.symbol(K::HeatFlux))
    };
    let dense_reason = dense
        .then(|| format!("plug and process heat of {} is above {}", heat(density), heat(DENSE_W_PER_M2)));
    let screens = kind
        .screen
        .iter()
        .map(|screen| screen.reason.clone())
        .chain(dense_reason)
        .map(|reason| ScreenResult { reason, instead: instead.to_owned(), overruled: overruled.clone() })
        .collect();
    let service = match room.system.value {
        SystemChoice::Off => Service::OffSystem,
        // Heat without people and moisture can be met by dry units of its own; anything else screened is conventional.
        SystemChoice::Auto if dense && stays_dry(project, room) => Service::SensibleUnits,
        SystemChoice::Auto if dense || kind.screen.is_some() => Service::OffSystem,
        SystemChoice::On | SystemChoice::Auto => terminal_or_transfer(project, room),
    };
    (service, screens)
}

/// Whether a room has neither people nor moisture of its own.
fn has_no_moisture(room: &Room) -> bool {
    room.people.value == 0.0 && room.process_latent.value.to_watts() == 0.0
}

/// Whether a room stays dry by itself around the clock: neither people nor moisture, and no outer surface through which
/// humid air leaks in while primary air is off at night. Only there can a coil that is never drained work all year.
fn stays_dry(project: &Project, room: &Room) -> bool {
    let leaks = project.criteria.infiltration.value.to_m_per_s() > 0.0
        && project
            .surfaces_of(room)
            .any(|s| matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Roof));
    has_no_moisture(room) && !leaks
}

fn terminal_or_transfer(project: &Project, room: &Room) -> Service {
    let kind = project.kind_of(room);
    // What the room list says about transfer air stands before the rule that forbids recirculation in the room.
    let transfer = match &room.terminal.value {
        TerminalChoice::None => true,
        TerminalChoice::Auto => kind.transfer_only && !room.terminal.is_written(),
        TerminalChoice::Model(_) => false,
    };
    if transfer {
        Service::Transfer
    } else if kind.health_care.as_ref().is_some_and(|h| !h.recirculation_allowed) {
        Service::PrimaryOnly
    } else {
        Service::Terminal
    }
}
