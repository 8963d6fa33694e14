//! Checks that concern more than one part.

use crate::index::Index;
use crate::{
    AllAirInput, Catalogue, Construction, Criteria, DuctInput, Economics, Glazing, MinimumFlow, PlantInput,
    PressureRelation, PrimaryAirInput, Room, RoomKind, SequenceInput, Site, Surface, SurfaceKind,
    SystemChoice, TerminalChoice, TerminalInput, UseProfile, WaterInput, YearInput,
};
use drycoil_findings::registry::{self, project as pf, rooms as rm, sequence as sq, terminals as tu};
use drycoil_findings::{Finding, Place, Severity, Stage, Waiver, did_you_mean};
use drycoil_units::{
    Area, Fraction, Power, PressureDifference, Quantity, StandardAirFlow, Temperature, UnitSystem,
};
use drycoil_working::{Origin, Sourced};

/// A finding that the project accepts.
#[derive(Debug, Clone, PartialEq)]
pub struct WaiverRule {
    /// Id of the finding.
    pub id: String,
    /// Room or part that it concerns; every part when `None`.
    pub part: Option<String>,
    /// Reason, role, date.
    pub waiver: Waiver,
    /// Where it is written.
    pub place: Place,
}

/// The parts of a project.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Name of the job.
    pub name: Sourced<String>,
    /// Revision of the design.
    pub revision: Sourced<String>,
    /// Unit system in which results are shown.
    pub units: UnitSystem,
    /// Site.
    pub site: Site,
    /// Criteria.
    pub criteria: Criteria,
    /// Primary-air unit.
    pub primary_air: PrimaryAirInput,
    /// Terminals.
    pub terminals: TerminalInput,
    /// Water distribution.
    pub water: WaterInput,
    /// Plant.
    pub plant: PlantInput,
    /// Ducts.
    pub ducts: DuctInput,
    /// Settings of the dew-point sequence.
    pub sequence: SequenceInput,
    /// The year: step, resets, set-back.
    pub year: YearInput,
    /// What is assumed of the all-air alternative.
    pub all_air: AllAirInput,
    /// Prices.
    pub economics: Economics,
    /// Opaque constructions.
    pub constructions: Vec<Construction>,
    /// Windows.
    pub glazings: Vec<Glazing>,
    /// Room kinds in use and built in, without repeated ids.
    pub kinds: Vec<RoomKind>,
    /// Use profiles.
    pub profiles: Vec<UseProfile>,
    /// Rooms, in the order of the file.
    pub rooms: Vec<Room>,
    /// Exposed surfaces, in the order of the file.
    pub surfaces: Vec<Surface>,
    /// Terminal units.
    pub catalogue: Catalogue,
    /// Accepted findings.
    pub waivers: Vec<WaiverRule>,
    /// Hash of all input bytes.
    pub fingerprint: u64,
}

/// Everything that is wrong between the parts, in the order of the files.
pub(crate) fn check(parts: &Parts, index: &Index) -> Vec<Finding> {
    let mut f = Vec::new();
    criteria(parts, &mut f);
    year(parts, &mut f);
    tariffs(parts, &mut f);
    waivers(parts, index, &mut f);
    catalogue(parts, &mut f);
    rooms(parts, index, &mut f);
    names(parts, index, &mut f);
    transfer(parts, index, &mut f);
    zones(parts, index, &mut f);
    sequence(parts, index, &mut f);
    surfaces(parts, index, &mut f);
    f
}

/// The place of a written value, or of the part around it.
fn place_of<T>(value: &Sourced<T>, part: &Place) -> Place {
    match &value.origin {
        Origin::File(place) => place.clone(),
        _ => part.clone(),
    }
}

fn show<Q: Quantity>(q: Q, parts: &Parts) -> String {
    q.show(parts.units)
}

fn near<'a>(finding: Finding, name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Finding {
    match did_you_mean(name, candidates) {
        Some(near) => finding.hint(format!("did you mean `{near}`?")),
        None => finding,
    }
}

fn criteria(parts: &Parts, f: &mut Vec<Finding>) {
    let project = Place::file("project.toml");
    let c = &parts.criteria;
    let pins = &c.pins;
    let mut crossed = |message: &str, a: &Sourced<Temperature>, b: &Sourced<Temperature>| {
        f.push(
            Finding::new(pf::PINS_CROSSED, message)
                .at(place_of(a, &project))
                .at(place_of(b, &project))
                .value(format!("{} and {}", show(a.value, parts), show(b.value, parts))),
        );
    };
    if let (Some(supply), Some(limit)) = (&pins.supply_dew_point, &pins.room_limit)
        && supply.value >= limit.value
    {
        crossed("the supply dew point is not below the room limit", supply, limit);
    }
    if let (Some(water), Some(limit)) = (&pins.sensible_water, &pins.room_limit)
        && water.value.to_celsius() < (limit.value + c.design_margin.value).to_celsius() - 1e-9
    {
        crossed("the sensible water is colder than the room limit plus the design margin", water, limit);
    }
    if let (Some(supply), Some(water), None) =
        (&pins.supply_dew_point, &pins.sensible_water, &pins.room_limit)
        && supply.value >= water.value
    {
        crossed("the supply dew point is not below the sensible water", supply, water);
    }
    if let Some(supply) = &pins.supply_dew_point {
        let lowest = parts.primary_air.drying_water.value + parts.primary_air.coil_approach.value;
        if supply.value < lowest {
            f.push(
                Finding::new(
                    pf::DRYING_OUT_OF_REACH,
                    "the drying water is too warm for the supply dew point",
                )
                .at(place_of(supply, &project))
                .at(place_of(&parts.primary_air.drying_water, &project).key("primary_air.drying_water"))
                .value(show(supply.value, parts))
                .allowed(format!("{} or more", show(lowest, parts))),
            );
        }
    }
    let mut band = |message: &str, low: (f64, Place, String), high: (f64, Place, String)| {
        if low.0 >= high.0 {
            let value = format!("{} and {}", low.2, high.2);
            // The written one of the two is the one to mend.
            let (first, second) = if low.1.line.is_some() { (low.1, high.1) } else { (high.1, low.1) };
            f.push(Finding::new(pf::LIMITS_CROSSED, message).at(first).at(second).value(value));
        }
    };
    let share = |v: &Sourced<Fraction>, key: &str| {
        (v.value.to_ratio(), place_of(v, &project.clone().key(key)), show(v.value, parts))
    };
    let degree = |v: &Sourced<Temperature>, key: &str| {
        (v.value.to_celsius(), place_of(v, &project.clone().key(key)), show(v.value, parts))
    };
    band(
        "the humidity band is empty",
        share(&c.humidity_low, "criteria.humidity_low"),
        share(&c.humidity_high, "criteria.humidity_high"),
    );
    band(
        "the night set-back limits leave no band",
        degree(&c.night_heating, "criteria.night_heating"),
        degree(&c.night_cooling, "criteria.night_cooling"),
    );
    band(
        "the discharge limits leave no band",
        degree(&parts.terminals.lowest_discharge, "terminals.lowest_discharge"),
        degree(&parts.terminals.highest_discharge, "terminals.highest_discharge"),
    );
    let a = &parts.all_air;
    band(
        "the cold water is not below the supply air",
        degree(&a.cold_water, "all_air.cold_water"),
        degree(&a.supply, "ducts.all_air_supply"),
    );
    band(
        "the outdoor temperatures of the supply-air reset leave no band",
        degree(&a.supply_reset_cold, "all_air.supply_reset_cold"),
        degree(&a.supply_reset_warm, "all_air.supply_reset_warm"),
    );
    if a.minimum_flow.value == MinimumFlow::DualMaximum {
        band(
            "the heating maximum is not above the minimum",
            share(&a.dual_minimum, "all_air.dual_minimum"),
            share(&a.heating_maximum, "all_air.heating_maximum"),
        );
    }
    let pressure = |v: &Sourced<PressureDifference>, key: &str| {
        (v.value.to_pascals(), place_of(v, &project.clone().key(key)), show(v.value, parts))
    };
    band(
        "the lowest duct pressure is not below its set point",
        pressure(&a.duct_pressure_least, "all_air.duct_pressure_least"),
        pressure(&a.duct_pressure, "all_air.duct_pressure"),
    );
    band(
        "the duct pressure is not below that of the supply fan",
        pressure(&a.duct_pressure, "all_air.duct_pressure"),
        pressure(&a.supply_fan_pressure, "all_air.supply_fan_pressure"),
    );
    band(
        "the chilled water of the rating point is not below its condenser water",
        degree(&parts.plant.rating_chilled, "plant.rating_chilled"),
        degree(&parts.plant.rating_condenser, "plant.rating_condenser"),
    );
}

/// Whether the first time is a whole multiple of the second one.
fn multiple(long_s: f64, short_s: f64) -> bool {
    let n = (long_s / short_s).round();
    n >= 1.0 && (long_s - n * short_s).abs() <= 1e-6 * long_s
}

/// Times that must fit the hour or the year.
fn year(parts: &Parts, f: &mut Vec<Finding>) {
    const HOUR_S: f64 = 3600.0;
    const YEAR_S: f64 = 365.0 * 86_400.0;
    let project = Place::file("project.toml");
    let step = &parts.year.step;
    let step_s = step.value.to_seconds();
    let mut refuse = |message: String, place: Place, value: String, allowed: String| {
        f.push(Finding::new(pf::TIME_DOES_NOT_FIT, message).at(place).value(value).allowed(allowed));
    };
    let minutes = |s: f64| format!("{} min", drycoil_units::significant(s / 60.0, 4));
    if !multiple(HOUR_S, step_s) {
        refuse(
            "the time step does not divide an hour".into(),
            place_of(step, &project.clone().key("year.step")),
            minutes(step_s),
            "an hour over a whole number, such as 15 min".into(),
        );
    }
    for charge in &parts.economics.electricity_tariff.demand {
        let average_s = charge.average_over.to_seconds();
        if !multiple(HOUR_S, average_s) || !multiple(average_s, step_s) {
            refuse(
                format!("power of the charge `{}` cannot be averaged over this time", charge.name),
                charge.place.clone(),
                minutes(average_s),
                format!("a multiple of the step of {} that divides an hour", minutes(step_s)),
            );
        }
    }
    if let Some(life) = &parts.economics.life
        && !multiple(life.value.to_seconds(), YEAR_S)
    {
        refuse(
            "the study period is no whole number of years".into(),
            place_of(life, &project.key("economics.life")),
            format!("{} years", drycoil_units::significant(life.value.to_seconds() / YEAR_S, 5)),
            "whole years".into(),
        );
    }
}

/// Zones of the dew-point sequence, votes, and ranges of plausible readings.
fn sequence(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    let s = &parts.sequence;
    let project = Place::file("project.toml");
    let unknown = |zone: &str, place: Place| {
        let finding =
            Finding::new(sq::UNKNOWN_ZONE, format!("there is no zone `{zone}`")).at(place).value(zone);
        near(finding, zone, index.zones.keys().map(String::as_str))
    };
    for (i, row) in s.zones.iter().enumerate() {
        let zone = row.zone.value.as_str();
        if !index.zones.contains_key(zone) {
            f.push(unknown(zone, place_of(&row.zone, &row.place)));
        }
        if let Some(first) = s.zones[..i].iter().find(|other| other.zone.value == zone) {
            f.push(
                Finding::new(sq::ZONE_TWICE, format!("zone `{zone}` is listed twice"))
                    .at(row.place.clone())
                    .at(first.place.clone()),
            );
        }
        if row.votes.value > s.ignored_votes.value && index.zones.len() > 1 {
            f.push(
                Finding::new(
                    sq::ONE_ZONE_RULES,
                    format!("zone `{zone}` could warm the water of the whole building alone"),
                )
                .at(place_of(&row.votes, &row.place))
                .at(place_of(&s.ignored_votes, &project.clone().key("sequence.ignored_votes")))
                .value(format!("{} votes, {} ignored", row.votes.value, s.ignored_votes.value)),
            );
        }
        let Some(neighbours) = &row.neighbours else { continue };
        for (k, name) in neighbours.value.iter().enumerate() {
            let place = place_of(neighbours, &row.place);
            if !index.zones.contains_key(name) {
                f.push(unknown(name, place));
            } else if name == zone || neighbours.value[..k].contains(name) {
                let what = if name == zone { "itself" } else { "a zone named before" };
                f.push(
                    Finding::new(sq::NEIGHBOUR, format!("a neighbour of zone `{zone}` is {what}"))
                        .at(place)
                        .value(name.clone()),
                );
            }
        }
    }
    // Zones that are not listed have one vote each.
    let others = index.zones.keys().any(|zone| s.zone(zone).is_none());
    if s.ignored_votes.value == 0 && index.zones.len() > 1 && others {
        f.push(
            Finding::new(
                sq::ONE_ZONE_RULES,
                "each zone could warm the water of the whole building alone, as no vote is ignored",
            )
            .at(place_of(&s.ignored_votes, &project.clone().key("sequence.ignored_votes")))
            .value("1 vote, 0 ignored"),
        );
    }
    for (low, low_key, high, high_key) in [
        (&s.sensor_low, "sequence.sensor_low", &s.sensor_high, "sequence.sensor_high"),
        (
            &s.water_sensor_low,
            "sequence.water_sensor_low",
            &s.water_sensor_high,
            "sequence.water_sensor_high",
        ),
    ] {
        if low.value >= high.value {
            f.push(
                Finding::new(sq::STAGES_CROSSED, "no reading would be plausible")
                    .at(place_of(low, &project.clone().key(low_key)))
                    .at(place_of(high, &project.clone().key(high_key)))
                    .value(format!("{} and {}", show(low.value, parts), show(high.value, parts))),
            );
        }
    }
}

/// Periods of one carrier must not meet.
fn tariffs(parts: &Parts, f: &mut Vec<Finding>) {
    let e = &parts.economics;
    for tariff in [&e.electricity_tariff, &e.fuel_tariff] {
        for (i, one) in tariff.periods.iter().enumerate() {
            if let Some(other) = tariff.periods[..i].iter().find(|o| o.window.meets(&one.window)) {
                f.push(
                    Finding::new(
                        pf::PERIODS_OVERLAP,
                        format!("the periods `{}` and `{}` hold at one time", other.name, one.name),
                    )
                    .at(one.place.clone())
                    .at(other.place.clone()),
                );
            }
        }
    }
}

fn waivers(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    for rule in &parts.waivers {
        match registry::find(&rule.id) {
            None => {
                let all = registry::all();
                let finding = Finding::new(pf::UNKNOWN_FINDING, format!("there is no finding `{}`", rule.id))
                    .at(rule.place.clone())
                    .value(rule.id.clone());
                f.push(near(finding, &rule.id, all.iter().map(|k| k.id)));
            }
            Some(kind) if kind.stage == Stage::Input && kind.severity == Severity::Error => f.push(
                Finding::new(pf::WAIVER_INPUT, format!("`{}` is about input and cannot be waived", kind.id))
                    .at(rule.place.clone())
                    .value(kind.id),
            ),
            Some(_) => {}
        }
        if let Some(part) = &rule.part
            && !index.rooms.contains_key(part)
            && !index.zones.contains_key(part)
            && !parts.rooms.iter().any(|r| r.floor == *part)
        {
            let finding = Finding::new(pf::WAIVER_PART, format!("there is no room, zone or floor `{part}`"))
                .at(rule.place.clone())
                .value(part.clone());
            f.push(near(finding, part, index.rooms.keys().chain(index.zones.keys()).map(String::as_str)));
        }
    }
}

fn catalogue(parts: &Parts, f: &mut Vec<Finding>) {
    for m in &parts.catalogue.models {
        let mut flows = |what: &str, low: StandardAirFlow, high: StandardAirFlow| {
            if low > high {
                f.push(
                    Finding::new(
                        tu::MIN_ABOVE_MAX,
                        format!("the least {what} of `{}` is above its most", m.model),
                    )
                    .at(m.place.clone())
                    .value(format!("{} and {}", show(low, parts), show(high, parts))),
                );
            }
        };
        flows("primary air", m.primary_min, m.primary_max);
        flows("fan air", m.fan_min, m.fan_max);
        if m.coil.len() < 3 {
            f.push(
                Finding::new(
                    tu::TOO_FEW_RATINGS,
                    format!("the coil of `{}` has too few rating points", m.model),
                )
                .at(m.place.clone())
                .value(m.coil.len().to_string())
                .allowed("three or more"),
            );
        }
        let heating = match &m.heating {
            crate::HeatingCoil::HotWater(points) => points.as_slice(),
            _ => &[],
        };
        for (what, points, cools) in [("coil", m.coil.as_slice(), true), ("heating_coil", heating, false)] {
            for (i, p) in points.iter().enumerate() {
                let place =
                    Place { key: Some(format!("models.{}.{what}[{}]", m.model, i + 1)), ..m.place.clone() };
                if p.air.to_m3_per_s() > m.fan_max.to_m3_per_s() * (1.0 + 1e-9) {
                    f.push(
                        Finding::new(
                            tu::RATING_OUTSIDE_FAN,
                            format!("a rating point of `{}` has more air than its fan moves", m.model),
                        )
                        .at(place.clone())
                        .value(show(p.air, parts))
                        .allowed(format!("up to {}", show(m.fan_max, parts))),
                    );
                }
                let head = (p.air_entering - p.water_entering).to_kelvin() * if cools { 1.0 } else { -1.0 };
                // Dry air with 0.009 kg/kg of moisture; water at its density near 15 degC, rounded up.
                let air = p.air.dry_air_mass_flow().to_kg_per_s() * 1023.0;
                let water = p.water.to_m3_per_s() * 4.19e6;
                let limit = air.min(water) * head;
                if p.duty.to_watts() > limit * 1.001 {
                    f.push(
                        Finding::new(
                            tu::IMPOSSIBLE_RATING,
                            format!(
                                "a rating point of `{}` moves more heat than its flows can carry",
                                m.model
                            ),
                        )
                        .at(place)
                        .value(show(p.duty, parts))
                        .allowed(format!("below {}", show(Power::watts(limit.max(0.0)), parts))),
                    );
                }
            }
        }
    }
}

/// Parts of the building that are found by these names, beside rooms, zones and floors.
const PART_NAMES: [&str; 5] = ["building", "plant", "ducts", "primary air", "dew point"];

/// Every name leads to one part.
fn names(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    let taken = |name: &str| {
        PART_NAMES.iter().find(|p| p.eq_ignore_ascii_case(name)).map(|p| (*p).to_owned()).or_else(|| {
            let floor = parts.rooms.iter().find(|r| name.strip_prefix("floor ") == Some(r.floor.as_str()))?;
            Some(format!("floor {}", floor.floor))
        })
    };
    let mut report = |what: &str, name: &str, other: &str, place: Place| {
        f.push(
            Finding::new(
                rm::PLACE_NAME_TAKEN,
                format!("the {what} `{name}` has the name of another part: {other}"),
            )
            .at(place)
            .value(name)
            .hint(format!("another name, such as `{name}-1`")),
        );
    };
    let mut floors: Vec<&str> = Vec::new();
    let mut zones: Vec<&str> = Vec::new();
    for (i, room) in parts.rooms.iter().enumerate() {
        if index.rooms[&room.id] != i {
            continue;
        }
        let part = room.place.clone().of(room.id.clone());
        if let Some(other) = taken(&room.id) {
            report("room", &room.id, &other, part.clone());
        }
        // The floors stand in the schedules as `floor NAME`, the building as itself.
        if room.floor.eq_ignore_ascii_case(PART_NAMES[0]) && !floors.contains(&room.floor.as_str()) {
            floors.push(&room.floor);
            report("floor", &room.floor, PART_NAMES[0], part);
        }
        let zone = &room.zone.value;
        if !room.zone.is_written() || zones.contains(&zone.as_str()) {
            continue;
        }
        let place = place_of(&room.zone, &room.place).of(room.id.clone());
        let outside = index.rooms.get(zone).map(|r| &parts.rooms[*r]).filter(|r| r.zone.value != *zone);
        if let Some(other) = taken(zone).or_else(|| outside.map(|r| format!("room {}", r.id))) {
            zones.push(zone);
            report("zone", zone, &other, place);
        }
    }
}

fn rooms(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    for (i, room) in parts.rooms.iter().enumerate() {
        let at = |value: &Sourced<String>| place_of(value, &room.place).of(room.id.clone());
        let first = index.rooms[&room.id];
        if first != i {
            f.push(
                Finding::new(rm::DUPLICATE_ROOM, format!("the room id `{}` is there twice", room.id))
                    .at(room.place.clone())
                    .at(parts.rooms[first].place.clone())
                    .value(room.id.clone()),
            );
        }
        if !index.kinds.contains_key(&room.kind.value) {
            let finding =
                Finding::new(rm::UNKNOWN_KIND, format!("there is no room kind `{}`", room.kind.value))
                    .at(at(&room.kind))
                    .value(room.kind.value.clone());
            f.push(near(finding, &room.kind, index.kinds.keys().map(String::as_str)));
        }
        // A profile that came with the kind was checked with the kind.
        if room.profile.is_written() && !index.profiles.contains_key(&room.profile.value) {
            let finding =
                Finding::new(rm::UNKNOWN_PROFILE, format!("there is no profile `{}`", room.profile.value))
                    .at(at(&room.profile))
                    .value(room.profile.value.clone());
            f.push(near(finding, &room.profile, index.profiles.keys().map(String::as_str)));
        } else if !room.profile.is_written()
            && index.kinds.contains_key(&room.kind.value)
            && !index.profiles.contains_key(&room.profile.value)
        {
            f.push(
                Finding::new(
                    rm::UNKNOWN_PROFILE,
                    format!("the kind `{}` names no known profile", room.kind.value),
                )
                .at(at(&room.kind))
                .value(room.profile.value.clone()),
            );
        }
        if let TerminalChoice::Model(model) = &room.terminal.value
            && !index.models.contains_key(model)
        {
            let finding = Finding::new(tu::UNKNOWN_MODEL, format!("there is no terminal model `{model}`"))
                .at(place_of(&room.terminal, &room.place).of(room.id.clone()))
                .value(model.clone());
            let names = index.models.keys().map(String::as_str).chain(["auto", "none"]);
            f.push(near(finding, model, names));
        }
        if room.heating_set_point.value >= room.cooling_set_point.value {
            let written =
                [&room.heating_set_point, &room.cooling_set_point].into_iter().find(|s| s.is_written());
            f.push(
                Finding::new(
                    rm::SET_POINTS_CROSSED,
                    format!("the heating set point of room {} is not below its cooling set point", room.id),
                )
                .at(place_of(written.unwrap_or(&room.heating_set_point), &room.place).of(room.id.clone()))
                .value(format!(
                    "{} and {}",
                    show(room.heating_set_point.value, parts),
                    show(room.cooling_set_point.value, parts)
                )),
            );
        }
        if room.terminal.value == TerminalChoice::None
            // Of the room's own row; a value of `[year]` is for rooms with terminals.
            && matches!(&room.primary_air_control.origin, Origin::File(place) if place.row.is_some())
        {
            f.push(
                Finding::new(
                    rm::VALUE_WITHOUT_EFFECT,
                    format!("`{}` has no terminal, so its primary air has no control", room.id),
                )
                .at(place_of(&room.primary_air_control, &room.place).of(room.id.clone())),
            );
        }
        let screened = index.kinds.get(&room.kind.value).is_some_and(|k| parts.kinds[*k].screen.is_some());
        if room.system.value == SystemChoice::On && screened && room.overrule_reason.is_none() {
            f.push(
                Finding::new(
                    rm::OVERRULE_WITHOUT_REASON,
                    format!("`{}` is put on the system against its screen, without a reason", room.id),
                )
                .at(place_of(&room.system, &room.place).of(room.id.clone()))
                .hint("fill the column `overrule_reason`"),
            );
        }
    }
}

fn transfer(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    let source = |room: &Room| room.transfer_from.as_ref().and_then(|t| index.rooms.get(&t.value)).copied();
    // 0 not seen, otherwise the walk in which the room was seen.
    let mut seen = vec![0usize; parts.rooms.len()];
    for (i, room) in parts.rooms.iter().enumerate() {
        if let Some(from) = &room.transfer_from {
            let place = place_of(from, &room.place).of(room.id.clone());
            if from.value == room.id {
                f.push(
                    Finding::new(rm::TRANSFER_TO_ITSELF, format!("`{}` draws air from itself", room.id))
                        .at(place),
                );
                continue;
            }
            if !index.rooms.contains_key(&from.value) {
                let finding =
                    Finding::new(rm::UNKNOWN_TRANSFER, format!("there is no room `{}`", from.value))
                        .at(place)
                        .value(from.value.clone());
                f.push(near(finding, from, index.rooms.keys().map(String::as_str)));
                continue;
            }
        } else if room.terminal.value == TerminalChoice::None && room.system.value != SystemChoice::Off {
            // A zone of several rooms has the terminal of one of them.
            let zone = &index.zones[&room.zone.value];
            let served = zone.iter().any(|r| parts.rooms[*r].terminal.value != TerminalChoice::None);
            if !served && zone.len() == 1 {
                let message = format!("`{}` has no terminal and no transfer air", room.id);
                f.push(
                    Finding::new(rm::NO_AIR, message)
                        .at(place_of(&room.terminal, &room.place).of(room.id.clone())),
                );
            }
        }
        // Walk back along the air until it begins, meets an older walk, or closes a circle.
        let mut at = i;
        while seen[at] == 0 {
            seen[at] = i + 1;
            match source(&parts.rooms[at]) {
                Some(next) if next != at => {
                    if seen[next] == i + 1 {
                        report_circle(parts, next, &source, f);
                        break;
                    }
                    at = next;
                }
                _ => break,
            }
        }
    }
}

/// A circle is an error when none of its rooms gets primary air.
fn report_circle(
    parts: &Parts,
    start: usize,
    source: &impl Fn(&Room) -> Option<usize>,
    f: &mut Vec<Finding>,
) {
    let mut circle = vec![start];
    let mut at = start;
    while let Some(next) = source(&parts.rooms[at]) {
        if next == start {
            break;
        }
        circle.push(next);
        at = next;
    }
    if circle.iter().any(|r| parts.rooms[*r].terminal.value != TerminalChoice::None) {
        return;
    }
    circle.sort_unstable();
    let names: Vec<&str> = circle.iter().map(|r| parts.rooms[*r].id.as_str()).collect();
    let mut finding =
        Finding::new(rm::TRANSFER_LOOP, format!("transfer air runs in a circle: {}", names.join(", ")));
    for room in circle {
        let room = &parts.rooms[room];
        if let Some(from) = &room.transfer_from {
            finding = finding.at(place_of(from, &room.place).of(room.id.clone()));
        }
    }
    f.push(finding);
}

fn zones(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    let mut zones: Vec<(&String, &Vec<usize>)> =
        index.zones.iter().filter(|(_, rooms)| rooms.len() > 1).collect();
    zones.sort_by_key(|(_, rooms)| rooms[0]);
    for (zone, rooms) in zones {
        let first = &parts.rooms[rooms[0]];
        let place = |room: &Room| place_of(&room.zone, &room.place).of(room.id.clone());
        // Two rows with one id are one finding, not also a zone of two rooms.
        if rooms.iter().all(|r| parts.rooms[*r].id == first.id) {
            continue;
        }
        if let Some(other) = rooms.iter().map(|r| &parts.rooms[*r]).find(|r| r.floor != first.floor) {
            f.push(
                Finding::new(
                    rm::ZONE_FLOORS,
                    format!("the zone `{zone}` spans floors `{}` and `{}`", first.floor, other.floor),
                )
                .at(place(other))
                .at(place(first))
                .value(zone.clone()),
            );
        }
        if rooms.iter().all(|r| parts.rooms[*r].terminal.value == TerminalChoice::None) {
            f.push(
                Finding::new(
                    rm::ZONE_WITHOUT_TERMINAL,
                    format!("no room of the zone `{zone}` has a terminal"),
                )
                .at(place(first))
                .value(zone.clone()),
            );
        }
        for room in rooms.iter().map(|r| &parts.rooms[*r]) {
            let strict = index.kinds.get(&room.kind.value).and_then(|k| parts.kinds[*k].health_care.as_ref());
            // A room without a terminal (a clinic toilet) hangs on its neighbour's zone without control of its own.
            let controlled = room.terminal.value != TerminalChoice::None;
            if let Some(rule) = strict
                && controlled
                && (rule.outdoor.is_some()
                    || rule.total.is_some()
                    || rule.pressure != PressureRelation::Neutral)
            {
                f.push(
                    Finding::new(
                        rm::HEALTH_CARE_ZONE,
                        format!("the health-care room `{}` shares the zone `{zone}`", room.id),
                    )
                    .at(place(room))
                    .value(zone.clone()),
                );
            }
        }
    }
}

fn surfaces(parts: &Parts, index: &Index, f: &mut Vec<Finding>) {
    for s in &parts.surfaces {
        let at = place_of(&s.construction, &s.place).of(s.room.clone());
        if !index.rooms.contains_key(&s.room) {
            let place = Place { key: Some("room".into()), span: None, ..s.place.clone() };
            let finding = Finding::new(rm::UNKNOWN_ROOM, format!("there is no room `{}`", s.room))
                .at(place)
                .value(s.room.clone());
            f.push(near(finding, &s.room, index.rooms.keys().map(String::as_str)));
        }
        let name = &s.construction.value;
        if s.kind == SurfaceKind::Window {
            if !index.glazings.contains_key(name) {
                let mut finding = Finding::new(rm::UNKNOWN_GLAZING, format!("there is no glazing `{name}`"))
                    .at(at)
                    .value(name.clone());
                finding = if index.constructions.contains_key(name) {
                    finding.hint(format!("`{name}` is a construction; a window needs a glazing"))
                } else {
                    near(finding, name, index.glazings.keys().map(String::as_str))
                };
                f.push(finding);
            }
        } else if !index.constructions.contains_key(name) {
            let mut finding =
                Finding::new(rm::UNKNOWN_CONSTRUCTION, format!("there is no construction `{name}`"))
                    .at(at)
                    .value(name.clone());
            finding = if index.glazings.contains_key(name) {
                finding.hint(format!("`{name}` is a glazing; only a window takes one"))
            } else {
                near(finding, name, index.constructions.keys().map(String::as_str))
            };
            f.push(finding);
        }
    }
    for room in &parts.rooms {
        let Some(own) = index.surfaces.get(&room.id) else { continue };
        let own: Vec<&Surface> = own.iter().map(|i| &parts.surfaces[*i]).collect();
        too_large(parts, room, &own, f);
    }
}

/// Upper bounds that no room of this floor area and height can pass.
fn too_large(parts: &Parts, room: &Room, own: &[&Surface], f: &mut Vec<Finding>) {
    let floor = room.floor_area.value.to_square_metres();
    // Storey height: the plenum above the ceiling may be as high as the room, and is at least 1.5 m.
    let storey = room.height.value.to_metres() + room.height.value.to_metres().max(1.5);
    // A room is at least 1 m deep behind a facade, and as long as a square room whatever its size.
    let length = floor.max(2.0 * floor.sqrt());
    let mut told = false;
    for s in own {
        if told {
            break;
        }
        let area: f64 = own
            .iter()
            .filter(|o| {
                o.tilt.value == s.tilt.value
                    && o.facing.value == s.facing.value
                    && group(o.kind) == group(s.kind)
            })
            .map(|o| o.area.value.to_square_metres())
            .sum();
        let limit = match s.kind {
            SurfaceKind::Wall | SurfaceKind::Window if s.tilt.value.to_degrees() >= 60.0 => length * storey,
            SurfaceKind::Partition => continue,
            // A roof may overhang and slope.
            _ => 2.5 * floor + 10.0,
        };
        if area > limit {
            told = true;
            let largest = own
                .iter()
                .filter(|o| o.facing.value == s.facing.value && group(o.kind) == group(s.kind))
                .max_by(|a, b| a.area.value.to_square_metres().total_cmp(&b.area.value.to_square_metres()))
                .unwrap_or(s);
            f.push(
                Finding::new(
                    rm::SURFACE_TOO_LARGE,
                    format!("the surfaces of `{}` to one side are larger than it can have", room.id),
                )
                .at(place_of(&largest.area, &largest.place).of(room.id.clone()))
                .value(show(Area::square_metres(area), parts))
                .allowed(format!("up to {}", show(Area::square_metres(limit), parts))),
            );
        }
    }
}

/// Surfaces that lie in one plane of the envelope.
fn group(kind: SurfaceKind) -> u8 {
    match kind {
        SurfaceKind::Wall | SurfaceKind::Window => 0,
        SurfaceKind::Roof => 1,
        SurfaceKind::ExposedFloor | SurfaceKind::GroundFloor => 2,
        SurfaceKind::Partition => 3,
    }
}
