//! Balance of outdoor, transfer and exhaust air by floor and for the building.

use crate::design::{AirBalance, RoomNeeds, Service};
use crate::needs::PRESSURE_OFFSET_M3_PER_S;
use drycoil_findings::{Finding, Place, registry};
use drycoil_project::{PressureRelation, Project, Room, SurfaceKind};
use drycoil_units::{Quantity, StandardAirFlow};

/// The air of one room, as the balance needs it; standard flows.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RoomAir {
    pub service: Service,
    pub primary: f64,
    /// Ventilation rate procedure.
    pub ventilation: f64,
    pub transfer: f64,
}

impl From<&RoomNeeds> for RoomAir {
    fn from(n: &RoomNeeds) -> Self {
        Self {
            service: n.service,
            primary: n.primary_m3_per_s,
            ventilation: n.ventilation_m3_per_s,
            transfer: n.transfer_in_m3_per_s,
        }
    }
}

/// Exhaust of a room on the system: as entered, or what a negative pressure relation asks for.
pub(crate) fn room_exhaust(project: &Project, room: &Room, air: &RoomAir) -> f64 {
    if air.service == Service::OffSystem {
        return 0.0;
    }
    let entered = room.exhaust.value.to_m3_per_s();
    let health = project.kind_of(room).health_care.as_ref();
    let negative = health.is_some_and(|h| h.pressure == PressureRelation::Negative);
    let all = health.is_some_and(|h| h.all_exhausted);
    let mut exhaust = entered;
    if negative {
        exhaust = exhaust.max(air.primary + PRESSURE_OFFSET_M3_PER_S);
    }
    if all {
        exhaust = exhaust.max(air.primary);
    }
    exhaust
}

/// Leakage outward that keeps a room pressurized.
pub(crate) fn room_leakage(project: &Project, room: &Room) -> f64 {
    let facade: f64 = project
        .surfaces_of(room)
        .filter(|s| matches!(s.kind, SurfaceKind::Wall | SurfaceKind::Window | SurfaceKind::Roof))
        .map(|s| s.area.value.to_square_metres())
        .sum();
    facade * project.criteria.pressurization.value.to_m_per_s()
}

/// Outdoor air and exhaust of a room off the system, by its own unit: outdoor air is the ventilation that it needs, or what
/// makes up its exhaust and leakage beyond transfer air; what is more than that leaves by the same unit.
pub(crate) fn own_unit(project: &Project, room: &Room, air: &RoomAir) -> (f64, f64) {
    if air.service != Service::OffSystem {
        return (0.0, 0.0);
    }
    let (entered, leak) = (room.exhaust.value.to_m3_per_s(), room_leakage(project, room));
    let make_up = air.ventilation.max(entered + leak - air.transfer);
    (make_up, make_up + air.transfer - leak)
}

/// Air that returns to the recovery: exhaust of the rooms on the system, but for health-care rooms whose air must be
/// exhausted, and what is left of their primary air after leakage and transfer to rooms off the system. Search and unit
/// both ask this.
pub(crate) fn returned(project: &Project, air: impl Fn(usize) -> RoomAir) -> f64 {
    let (mut exhaust, mut contaminated, mut surplus, mut leak) = (0.0, 0.0, 0.0, 0.0);
    for (i, room) in project.rooms.iter().enumerate() {
        let a = air(i);
        if a.service == Service::OffSystem {
            surplus -= a.transfer;
            continue;
        }
        let e = room_exhaust(project, room, &a);
        exhaust += e;
        surplus += a.primary - e;
        leak += room_leakage(project, room);
        if project.kind_of(room).health_care.as_ref().is_some_and(|h| h.all_exhausted) {
            contaminated += e;
        }
    }
    (exhaust - contaminated + (surplus - leak).max(0.0)).max(0.0)
}

/// Floors in order of first appearance, then the building, with findings.
pub(crate) fn balance(
    project: &Project,
    needs: &[RoomNeeds],
    findings: &mut Vec<Finding>,
) -> Vec<AirBalance> {
    let mut floors: Vec<&str> = Vec::new();
    for room in &project.rooms {
        if !floors.contains(&room.floor.as_str()) {
            floors.push(&room.floor);
        }
    }
    let mut out: Vec<AirBalance> =
        floors.iter().map(|f| group(project, needs, f, |r| r.floor == *f)).collect();
    out.push(group(project, needs, "building", |_| true));
    let units = project.told_units();
    let show = |v: f64| StandardAirFlow::m3_per_s(v).show(units);
    for b in &out {
        let building = b.group == "building";
        if b.surplus_m3_per_s < -1e-9 {
            let kind = if building {
                registry::ventilation::BUILDING_NEGATIVE
            } else {
                registry::ventilation::FLOOR_NEGATIVE
            };
            findings.push(
                Finding::new(
                    kind,
                    format!(
                        "{} exhausts {} but gets {}",
                        b.group,
                        show(b.exhaust_m3_per_s + b.own_units_exhaust_m3_per_s),
                        show(b.primary_m3_per_s + b.own_units_outdoor_m3_per_s + b.transfer_m3_per_s)
                    ),
                )
                .at(Place::part(b.group.clone()))
                .value(show(b.surplus_m3_per_s)),
            );
        } else if building && b.surplus_m3_per_s < b.pressurization_m3_per_s - 1e-9 {
            findings.push(
                Finding::new(
                    registry::ventilation::PRESSURIZATION_SHORT,
                    "the surplus of primary air over exhaust is smaller than the pressurization flow",
                )
                .at(Place::part("building"))
                .value(show(b.surplus_m3_per_s))
                .allowed(format!("at least {}", show(b.pressurization_m3_per_s))),
            );
        }
    }
    given_away(project, needs, findings);
    for (room, n) in project.rooms.iter().zip(needs) {
        if n.service == Service::Transfer && project.kind_of(room).ventilation.is_none() {
            let from = n.transfer_from.as_deref().unwrap_or("no room");
            let finding = Finding::new(
                registry::ventilation::NO_VENTILATION_RULE,
                format!("room {} gets {} of transfer air from {from}", room.id, show(n.transfer_in_m3_per_s)),
            )
            .at(room.place.clone().of(room.id.clone()));
            findings.push(if n.transfer_in_m3_per_s > 0.0 {
                finding
            } else {
                finding.hint(
                    "nothing draws air into it: enter its exhaust in the room list, or give its kind ventilation rates",
                )
            });
        }
    }
    for (room, n) in project.rooms.iter().zip(needs) {
        let Some(health) = &project.kind_of(room).health_care else { continue };
        if n.service == Service::OffSystem || health.pressure == PressureRelation::Neutral {
            continue;
        }
        let entered = room.exhaust.value.to_m3_per_s();
        let excess = n.primary_m3_per_s - entered;
        let met = match health.pressure {
            PressureRelation::Positive => excess >= PRESSURE_OFFSET_M3_PER_S - 1e-9,
            _ => excess <= -PRESSURE_OFFSET_M3_PER_S + 1e-9,
        };
        if !met {
            findings.push(
                Finding::new(
                    registry::ventilation::PRESSURE_RELATION,
                    format!(
                        "room {} must stand {} its neighbours: primary air {}, exhaust entered {}",
                        room.id,
                        if health.pressure == PressureRelation::Positive { "above" } else { "below" },
                        show(n.primary_m3_per_s),
                        show(entered)
                    ),
                )
                .at(room.place.clone().of(room.id.clone()))
                .allowed(format!("a difference of {} at least", show(PRESSURE_OFFSET_M3_PER_S)))
                .hint(match health.pressure {
                    PressureRelation::Positive => {
                        "lower the exhaust or raise the outdoor air changes".to_owned()
                    }
                    _ => format!(
                        "enter an exhaust of {} or more",
                        show(n.primary_m3_per_s + PRESSURE_OFFSET_M3_PER_S)
                    ),
                }),
            );
        }
    }
    out
}

/// Rooms from which more transfer air is drawn than reaches them.
fn given_away(project: &Project, needs: &[RoomNeeds], findings: &mut Vec<Finding>) {
    let mut drawn: std::collections::BTreeMap<&str, f64> = std::collections::BTreeMap::new();
    for n in needs.iter().filter(|n| n.transfer_in_m3_per_s > 0.0) {
        if let Some(from) = n.transfer_from.as_deref() {
            *drawn.entry(from).or_default() += n.transfer_in_m3_per_s;
        }
    }
    let show = |v: f64| StandardAirFlow::m3_per_s(v).show(project.told_units());
    for (room, n) in project.rooms.iter().zip(needs) {
        let Some(drawn) = drawn.get(room.id.as_str()) else { continue };
        let gets = n.primary_m3_per_s + n.transfer_in_m3_per_s;
        let leaves = drawn + room_exhaust(project, room, &n.into());
        if leaves > gets * (1.0 + 1e-9) + 1e-9 {
            findings.push(
                Finding::new(
                    registry::ventilation::GIVES_MORE_THAN_IT_GETS,
                    format!(
                        "room {} gives away {} by transfer and exhaust but gets {}",
                        room.id,
                        show(leaves),
                        show(gets)
                    ),
                )
                .at(room.place.clone().of(room.id.clone()))
                .value(show(leaves))
                .allowed(format!("at most {}", show(gets))),
            );
        }
    }
}

fn group(project: &Project, needs: &[RoomNeeds], name: &str, holds: impl Fn(&Room) -> bool) -> AirBalance {
    let (mut primary, mut exhaust, mut transfer, mut pressurization) = (0.0, 0.0, 0.0, 0.0);
    let (mut own_outdoor, mut own_exhaust) = (0.0, 0.0);
    for (room, n) in project.rooms.iter().zip(needs) {
        let inside = holds(room);
        if inside {
            let air = RoomAir::from(n);
            let own = own_unit(project, room, &air);
            primary += n.primary_m3_per_s;
            exhaust += room_exhaust(project, room, &air);
            own_outdoor += own.0;
            own_exhaust += own.1;
            pressurization += room_leakage(project, room);
        }
        if let Some(from) = n.transfer_from.as_deref().and_then(|f| project.room(f)) {
            match (inside, holds(from)) {
                (true, false) => transfer += n.transfer_in_m3_per_s,
                (false, true) => transfer -= n.transfer_in_m3_per_s,
                _ => {}
            }
        }
    }
    let surplus = primary + own_outdoor + transfer - exhaust - own_exhaust;
    AirBalance {
        group: name.to_owned(),
        primary_m3_per_s: primary,
        exhaust_m3_per_s: exhaust,
        own_units_outdoor_m3_per_s: own_outdoor,
        own_units_exhaust_m3_per_s: own_exhaust,
        transfer_m3_per_s: transfer,
        pressurization_m3_per_s: pressurization,
        surplus_m3_per_s: surplus,
        relief_m3_per_s: (surplus - pressurization).max(0.0),
    }
}
