//! The sequence of a job: its declaration, its numbers and its zones, from project and design.

use drycoil_findings::registry::sequence as sq;
use drycoil_findings::{Finding, Place};
use drycoil_project::{Origin, Project, SensorPlan, SequenceInput, SequenceOrder, Sourced, ZoneSensorChoice};
use drycoil_sequence::{
    Declaration, Parameters, Setup, SetupError, WaterOrder, ZoneSensor, ZoneSettings, dew_point_sequence,
};
use drycoil_sizing::{Design, TerminalDesign};
use drycoil_units::{Quantity, QuantityKind, Temperature, TemperatureDifference};

/// Primary air of one zone, standard flow of all its terminals.
#[derive(Debug, Clone, PartialEq)]
pub struct ZonePrimaryAir {
    /// Zone.
    pub zone: String,
    /// Rooms of the zone, the one with the thermostat first.
    pub rooms: Vec<String>,
    /// At design.
    pub design_m3_per_s: f64,
    /// With its damper fully open: what the project asks for, at most what its terminals take.
    pub raised_m3_per_s: f64,
}

/// What the sequence of a job is made of.
#[derive(Debug, Clone)]
pub struct SequenceSettings {
    /// The sequence.
    pub declaration: Declaration,
    /// Its numbers and zones.
    pub setup: Setup,
    /// Primary air of the zones of the setup, in their order.
    pub primary_air: Vec<ZonePrimaryAir>,
    /// Most primary air that the unit delivers, all zones together, standard flow.
    pub delivered_most_m3_per_s: f64,
    /// What is to be known about it; no errors.
    pub findings: Vec<Finding>,
}

/// The sequence of a project with its design. Zones are those with a terminal, in the order of the room list.
///
/// # Errors
/// Settings that contradict each other with this design, a zone without any dew point, or no zone at all.
///
/// ```no_run
/// # fn show(project: &drycoil_project::Project, design: &drycoil_sizing::Design) {
/// match drycoil_control::settings::sequence_settings(project, design) {
///     Ok(settings) => println!("{} zones", settings.setup.zones().len()),
///     Err(findings) => println!("{}", findings[0].message),
/// }
/// # }
/// ```
pub fn sequence_settings(project: &Project, design: &Design) -> Result<SequenceSettings, Vec<Finding>> {
    let s = &project.sequence;
    let terminals = in_order(project, design);
    if terminals.is_empty() {
        return Err(vec![Finding::new(sq::NO_ZONES, "no zone has a terminal with a cooling coil")]);
    }
    let mut findings = Vec::new();
    let limit = Temperature::celsius(design.dew_point.room_limit_c);
    let zones = zones(project, limit, &terminals, &mut findings);
    let lowest =
        zones.iter().filter_map(|zone| zone.room_limit).fold(limit, |a, b| if b < a { b } else { a });
    let parameters = parameters(project, design, lowest);
    let setup = Setup::new(parameters, zones).map_err(|error| vec![refusal(project, design, &error)])?;
    let order = match s.order.value {
        SequenceOrder::ValvesFirst => WaterOrder::AfterValves,
        SequenceOrder::WaterFirst => WaterOrder::BeforeValves,
    };
    let primary_air: Vec<ZonePrimaryAir> = terminals.iter().map(|t| primary_air(project, t)).collect();
    results(project, design, &setup, &primary_air, &mut findings);
    let unit = &design.primary_unit;
    Ok(SequenceSettings {
        declaration: dew_point_sequence(order),
        setup,
        primary_air,
        delivered_most_m3_per_s: unit.unit_m3_per_s
            * (1.0 - project.primary_air.duct_leakage.value.to_ratio()),
        findings,
    })
}

/// Terminals in the order of the room list.
fn in_order<'a>(project: &Project, design: &'a Design) -> Vec<&'a TerminalDesign> {
    let mut all: Vec<&TerminalDesign> = design.terminals.iter().collect();
    all.sort_by_key(|t| t.rooms.iter().filter_map(|id| project.room_index(id)).min());
    all
}

fn floor<'a>(project: &'a Project, terminal: &TerminalDesign) -> Option<&'a str> {
    let first = terminal.rooms.first()?;
    Some(project.room(first)?.floor.as_str())
}

/// The lowest of the limits that rooms have of their own.
fn lowest_limit(project: &Project, rooms: &[String]) -> Option<Temperature> {
    rooms
        .iter()
        .filter_map(|id| project.room(id)?.dew_point_limit.as_ref())
        .map(|limit| limit.value)
        .min_by(|a, b| a.to_celsius().total_cmp(&b.to_celsius()))
}

fn zones(
    project: &Project,
    limit: Temperature,
    terminals: &[&TerminalDesign],
    findings: &mut Vec<Finding>,
) -> Vec<ZoneSettings> {
    let s = &project.sequence;
    let place = |name: &str| terminals.iter().position(|t| t.zone == name);
    for row in s.zones.iter().filter(|row| place(&row.zone.value).is_none()) {
        findings.push(
            Finding::new(
                sq::SETTINGS_WITHOUT_TERMINAL,
                format!("zone `{}` has no terminal with a cooling coil", row.zone.value),
            )
            .at(row.place.clone()),
        );
    }
    let mut out = Vec::with_capacity(terminals.len());
    for (i, terminal) in terminals.iter().enumerate() {
        let row = s.zone(&terminal.zone);
        let own = match row.and_then(|row| row.sensor.as_ref()) {
            Some(choice) => choice.value == ZoneSensorChoice::Own,
            None => s.sensors.value == SensorPlan::EveryZone,
        };
        let neighbours = match row.and_then(|row| row.neighbours.as_ref()) {
            Some(names) => {
                let mut list = Vec::new();
                for name in &names.value {
                    match place(name) {
                        Some(k) => list.push(k),
                        None => findings.push(
                            Finding::new(
                                sq::SETTINGS_WITHOUT_TERMINAL,
                                format!(
                                    "`{name}`, a neighbour of zone `{}`, has no terminal with a cooling coil",
                                    terminal.zone
                                ),
                            )
                            .at(row.map(|row| row.place.clone()).unwrap_or_default()),
                        ),
                    }
                }
                list
            }
            None => beside(project, terminals, i),
        };
        out.push(ZoneSettings {
            id: terminal.zone.clone(),
            sensor: if own { ZoneSensor::Own } else { ZoneSensor::Neighbours },
            votes: row.map_or(1, |row| row.votes.value),
            neighbours,
            room_limit: lowest_limit(project, &terminal.rooms).filter(|own| *own < limit),
        });
    }
    out
}

/// Zones of the same floor before and after this one.
fn beside(project: &Project, terminals: &[&TerminalDesign], zone: usize) -> Vec<usize> {
    let own = floor(project, terminals[zone]);
    let many = project.sequence.neighbours.value as usize;
    let same = |k: &usize| floor(project, terminals[*k]) == own;
    let mut list: Vec<usize> = (0..zone).rev().filter(same).take(many).collect();
    list.reverse();
    list.extend((zone + 1..terminals.len()).filter(same).take(many));
    list
}

/// `lowest` is the lowest limit of any zone.
fn parameters(project: &Project, design: &Design, lowest: Temperature) -> Parameters {
    let s: &SequenceInput = &project.sequence;
    let d = &design.dew_point;
    let c = Temperature::celsius;
    let (room_limit, water_design) = (c(d.room_limit_c), c(d.sensible_water_c));
    let shut_hysteresis = s.shut_hysteresis.value;
    let shut_margin = s.shut_margin.as_ref().map_or_else(
        || Parameters::usual_shut_margin(room_limit, s.more_air_rise.value, water_design),
        |v| v.value,
    );
    let coldest = project.primary_air.drying_water.value;
    Parameters {
        room_limit,
        notice_hysteresis: s.notice_hysteresis.value,
        notice_delay: s.notice_delay.value,
        more_air_rise: s.more_air_rise.value,
        more_air_delay: s.more_air_delay.value,
        release_delay: s.release_delay.value,
        guard_margin: s.guard_margin.value,
        guard_hysteresis: s.guard_hysteresis.value,
        guard_delay: s.guard_delay.value,
        shut_margin,
        shut_hysteresis,
        shut_delay: s.shut_delay.value,
        shut_release_delay: s.shut_release_delay.value,
        water_design,
        water_ceiling: water_design + s.water_rise.value,
        water_lowest: s
            .water_lowest
            .as_ref()
            .map_or(if coldest < water_design { coldest } else { water_design }, |v| v.value),
        water_offset: s.water_offset.value,
        water_follow_delay: s.water_follow_delay.value,
        water_release_hysteresis: s.water_release_hysteresis.value,
        water_release_delay: s.water_release_delay.value,
        primary_wet_limit: s.primary_wet_limit.as_ref().map_or_else(
            || Parameters::usual_primary_wet_limit(lowest, c(d.supply_dew_point_c)),
            |v| v.value,
        ),
        primary_wet_hysteresis: s.primary_wet_hysteresis.value,
        primary_wet_delay: s.primary_wet_delay.value,
        primary_wet_release_delay: s.primary_wet_release_delay.value,
        primary_start_delay: s.primary_start_delay.value,
        drying_limit: s.drying_limit.as_ref().map_or_else(
            || Parameters::usual_drying_limit(room_limit, water_design, shut_margin, shut_hysteresis),
            |v| v.value,
        ),
        drying_delay: s.drying_delay.value,
        drying_time_limit: s.drying_time_limit.value,
        start_delay: s.start_delay.value,
        suspect_difference: s.suspect_difference.value,
        suspect_hysteresis: s.suspect_hysteresis.value,
        suspect_delay: s.suspect_delay.value,
        sensor_return_delay: s.sensor_return_delay.value,
        proxy_margin: s.proxy_margin.value,
        sensor_low: s.sensor_low.value,
        sensor_high: s.sensor_high.value,
        water_sensor_low: s.water_sensor_low.value,
        water_sensor_high: s.water_sensor_high.value,
        water_fall_per_minute: s.water_fall_per_minute.value,
        ignored_votes: s.ignored_votes.value,
    }
}

fn primary_air(project: &Project, terminal: &TerminalDesign) -> ZonePrimaryAir {
    let units = f64::from(terminal.units);
    let design = units * terminal.primary_m3_per_s + terminal.supplementary_m3_per_s;
    let asked = design * project.sequence.more_air_flow.value.to_ratio();
    let taken = project
        .catalogue
        .models
        .iter()
        .find(|m| m.model == terminal.model)
        .map_or(design, |m| units * m.primary_max.to_m3_per_s() + terminal.supplementary_m3_per_s);
    let most = if asked < taken { asked } else { taken };
    ZonePrimaryAir {
        zone: terminal.zone.clone(),
        rooms: terminal.rooms.clone(),
        design_m3_per_s: design,
        raised_m3_per_s: if most < design { design } else { most },
    }
}

fn results(
    project: &Project,
    design: &Design,
    setup: &Setup,
    primary_air: &[ZonePrimaryAir],
    findings: &mut Vec<Finding>,
) {
    let system = project.told_units();
    let s = &project.sequence;
    let file = Place::file("project.toml");
    if !setup.water_can_follow() {
        let votes: u32 = setup.zones().iter().map(|zone| zone.votes).sum();
        findings.push(
            Finding::new(
                sq::WATER_CANNOT_FOLLOW,
                "the zones have no more votes than are ignored, so the water stays at its design temperature",
            )
            .at(place_of(&s.ignored_votes, &file, "sequence.ignored_votes"))
            .value(format!("votes {votes}, ignored {}", s.ignored_votes.value)),
        );
    }
    let used_up = project.criteria.required_margin();
    if used_up.to_kelvin() > s.water_offset.value.to_kelvin() + 1e-9 {
        findings.push(
            Finding::new(
                sq::OFFSET_EATEN,
                format!(
                    "sensor error {} and water control band {} are more than the offset of {}",
                    project.criteria.sensor_error.value.show(system),
                    project.criteria.water_control_band.value.show(system),
                    s.water_offset.value.show(system)
                ),
            )
            .at(place_of(&s.water_offset, &file, "sequence.water_offset")),
        );
    }
    for air in primary_air {
        // Half a per cent more is no more.
        if air.raised_m3_per_s < 1.005 * air.design_m3_per_s && s.more_air_flow.value.to_ratio() > 1.005 {
            findings.push(
                Finding::new(
                    sq::NO_MORE_AIR,
                    format!("the terminals of zone `{}` take no more primary air than at design", air.zone),
                )
                .at(Place::part(air.zone.clone())),
            );
        }
        for id in &air.rooms {
            let Some(limit) = project.room(id).and_then(|room| room.dew_point_limit.as_ref()) else {
                continue;
            };
            // A lower one is that of its zone.
            if limit.value.to_celsius() > design.dew_point.room_limit_c + 1e-9 {
                findings.push(
                    Finding::new(
                        sq::OWN_LIMIT,
                        format!("room `{id}` may be more humid than the building, the sequence goes by the limit of the building"),
                    )
                    .at(place_of(limit, &Place::part(id.clone()), "dew_point_limit"))
                    .value(limit.value.show(system))
                    .allowed(Temperature::celsius(design.dew_point.room_limit_c).show(system)),
                );
            }
        }
    }
}

fn place_of<T>(value: &Sourced<T>, part: &Place, key: &str) -> Place {
    match &value.origin {
        Origin::File(place) => place.clone(),
        _ => part.clone().key(key),
    }
}

/// Where a value is written, if it is.
fn at<T>(value: Option<&Sourced<T>>) -> Option<Place> {
    match &value?.origin {
        Origin::File(place) => Some(place.clone()),
        _ => None,
    }
}

/// The key behind a name of the setup, and where it is written.
fn place_of_name(project: &Project, name: &str) -> Place {
    let s = &project.sequence;
    let pins = &project.criteria.pins;
    let file = Place::file("project.toml");
    let or = |value: Option<Place>, key: &str| value.unwrap_or_else(|| file.clone().key(key));
    match name {
        "limit and rise to more air" | "more_air_rise" => {
            or(at(Some(&s.more_air_rise)), "sequence.more_air_rise")
        }
        "design water less shut margin" | "shut_margin" => {
            or(at(s.shut_margin.as_ref()), "sequence.shut_margin")
        }
        "dew point at which a valve opens" | "shut margin and hysteresis" | "shut_hysteresis" => {
            or(at(Some(&s.shut_hysteresis)), "sequence.shut_hysteresis")
        }
        "room_limit" => or(at(pins.room_limit.as_ref()), "dew_point.room_limit"),
        "water_design" => or(at(pins.sensible_water.as_ref()), "dew_point.water"),
        "water_ceiling" => or(at(Some(&s.water_rise)), "sequence.water_rise"),
        "water_lowest" => or(at(s.water_lowest.as_ref()), "sequence.water_lowest"),
        "water_offset" => or(at(Some(&s.water_offset)), "sequence.water_offset"),
        "primary_wet_limit" => or(at(s.primary_wet_limit.as_ref()), "sequence.primary_wet_limit"),
        "drying_limit" => or(at(s.drying_limit.as_ref()), "sequence.drying_limit"),
        "sensor_low" => or(at(Some(&s.sensor_low)), "sequence.sensor_low"),
        "sensor_high" => or(at(Some(&s.sensor_high)), "sequence.sensor_high"),
        "water_sensor_low" => or(at(Some(&s.water_sensor_low)), "sequence.water_sensor_low"),
        "water_sensor_high" => or(at(Some(&s.water_sensor_high)), "sequence.water_sensor_high"),
        "suspect_difference" => or(at(Some(&s.suspect_difference)), "sequence.suspect_difference"),
        "suspect_hysteresis" => or(at(Some(&s.suspect_hysteresis)), "sequence.suspect_hysteresis"),
        other => file.clone().key(format!("sequence.{other}")),
    }
}

/// A refused setup as a finding about the project.
fn refusal(project: &Project, design: &Design, error: &SetupError) -> Finding {
    let system = project.told_units();
    let plain = |name: &str| name.replace('_', " ");
    let row = |zone: &str| {
        project
            .sequence
            .zone(zone)
            .map_or_else(|| Place::part(zone), |row| row.place.clone().of(zone.to_owned()))
    };
    match error {
        SetupError::Order { kind, lesser, lesser_value, greater, greater_value } => {
            let show = |si: f64| match kind {
                QuantityKind::TemperatureDifference => TemperatureDifference::from_si(si).show(system),
                _ => Temperature::celsius(si).show(system),
            };
            let (mut first, mut second) = (place_of_name(project, lesser), place_of_name(project, greater));
            // The written one of the two is the one to mend.
            if first.line.is_none() && second.line.is_some() {
                std::mem::swap(&mut first, &mut second);
            }
            Finding::new(
                sq::STAGES_CROSSED,
                format!(
                    "{} ({}) is above {} ({})",
                    plain(lesser),
                    show(*lesser_value),
                    plain(greater),
                    show(*greater_value)
                ),
            )
            .at(first)
            .at(second)
            .hint(format!(
                "the design has a room limit of {} and sensible water of {}",
                Temperature::celsius(design.dew_point.room_limit_c).show(system),
                Temperature::celsius(design.dew_point.sensible_water_c).show(system)
            ))
        }
        SetupError::Range { name, value, low, high, unit } => {
            Finding::new(sq::STAGES_CROSSED, format!("{} is outside what is allowed", plain(name)))
                .at(place_of_name(project, name))
                .value(format!("{value} {unit}"))
                .allowed(format!("{low} to {high} {unit}"))
        }
        SetupError::NoDewPoint(zone) => Finding::new(
            sq::NO_DEW_POINT,
            format!("zone `{zone}` has no dew-point sensor and no neighbour that has one"),
        )
        .at(row(zone)),
        SetupError::ZoneLimit { zone, limit_c, low_c, high_c } => {
            let show = |c: f64| Temperature::celsius(c).show(system);
            Finding::new(
                sq::STAGES_CROSSED,
                format!(
                    "the limit of zone `{zone}` is not above the dew point at which primary air counts as wet"
                ),
            )
            .at(place_of_name(project, "primary_wet_limit"))
            .at(row(zone))
            .value(show(*limit_c))
            .allowed(format!("above {}, at most {}", show(*low_c), show(*high_c)))
        }
        SetupError::OneZoneRules { zone, votes, ignored } => Finding::new(
            sq::ONE_ZONE_RULES,
            format!("zone `{zone}` could warm the water of the whole building alone"),
        )
        .at(row(zone))
        .value(format!("{votes} votes, {ignored} ignored")),
        SetupError::Neighbour { zone, .. } => Finding::new(sq::NEIGHBOUR, error.to_string()).at(row(zone)),
        SetupError::NoZone | SetupError::ZoneId(_) => Finding::new(sq::NO_ZONES, error.to_string()),
    }
}
