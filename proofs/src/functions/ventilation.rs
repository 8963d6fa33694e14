//! Outdoor air.

use super::{Function, unknown};
use crate::value::{Found, FunctionError, Given};
use drycoil_intake::project::built_in_kinds;
use drycoil_plant::ventilation::{
    AirDistribution, EfficiencyMethod, SystemZone, ZoneRates, breathing_zone, simplified_efficiency, system,
    zone_outdoor_air,
};
use drycoil_project::PressureRelation;
use drycoil_rooms::infiltration::{AVERAGE_SHARE_OF_RATED, Facade};
use drycoil_units::{Area, Quantity, StandardAirFlow, StandardAirFlowPerArea};

pub const FUNCTIONS: &[Function] = &[
    Function {
        id: "ventilation.breathing_zone",
        calls: "drycoil_plant::ventilation::breathing_zone",
        run: zone,
    },
    Function {
        id: "ventilation.room_kind",
        calls: "drycoil_intake::project::built_in_kinds, drycoil_plant::ventilation::breathing_zone",
        run: room_kind,
    },
    Function {
        id: "ventilation.health_care",
        calls: "drycoil_intake::project::built_in_kinds",
        run: health_care,
    },
    Function { id: "ventilation.exhaust", calls: "drycoil_intake::project::built_in_kinds", run: exhaust },
    Function {
        id: "ventilation.distribution",
        calls: "drycoil_plant::ventilation::AirDistribution",
        run: distribution,
    },
    Function { id: "ventilation.system", calls: "drycoil_plant::ventilation::system", run: whole_system },
    Function {
        id: "ventilation.infiltration",
        calls: "drycoil_rooms::infiltration::Facade",
        run: infiltration,
    },
];

fn zone(given: &Given) -> Result<Found, FunctionError> {
    let people = given.plain("people")?;
    let rates = ZoneRates {
        people,
        area: given.get("area")?,
        per_person: given.get("per_person")?,
        per_area: given.get("per_area")?,
    };
    let flow = breathing_zone(&rates)?.flow;
    let mut found = Found::new().with("flow", flow);
    if people > 0.0 {
        found = found.with("flow_per_person", flow / people);
    }
    Ok(found)
}

fn kind(given: &Given) -> Result<drycoil_project::RoomKind, FunctionError> {
    let id = given.words("kind")?;
    built_in_kinds().into_iter().find(|k| k.id == id).ok_or_else(|| unknown("kind", id))
}

fn room_kind(given: &Given) -> Result<Found, FunctionError> {
    let kind = kind(given)?;
    let rule = kind.ventilation.ok_or_else(|| FunctionError::Case(format!("`{}` has no rates", kind.id)))?;
    let mut found = Found::new()
        .with("per_person", rule.per_person)
        .with("per_area", rule.per_area)
        .number("people_density", kind.people_per_m2.value);
    if kind.people_per_m2.value > 0.0 {
        let area = Area::from_si(1.0 / kind.people_per_m2.value);
        let one = ZoneRates { people: 1.0, area, per_person: rule.per_person, per_area: rule.per_area };
        found = found.with("flow_per_person", breathing_zone(&one)?.flow);
    }
    Ok(found)
}

/// Air changes that are not required count as none.
fn health_care(given: &Given) -> Result<Found, FunctionError> {
    let kind = kind(given)?;
    let rule =
        kind.health_care.ok_or_else(|| FunctionError::Case(format!("`{}` has no air changes", kind.id)))?;
    let pressure = match rule.pressure {
        PressureRelation::Negative => -1.0,
        PressureRelation::Neutral => 0.0,
        PressureRelation::Positive => 1.0,
    };
    Ok(Found::new()
        .number("pressure_sign", pressure)
        .number("outdoor_air_changes", rule.outdoor.map_or(0.0, Quantity::si))
        .number("total_air_changes", rule.total.map_or(0.0, Quantity::si))
        .number("all_exhausted", f64::from(u8::from(rule.all_exhausted))))
}

fn exhaust(given: &Given) -> Result<Found, FunctionError> {
    let kind = kind(given)?;
    let rate = kind
        .exhaust_per_area
        .ok_or_else(|| FunctionError::Case(format!("`{}` has no exhaust per area", kind.id)))?;
    Ok(Found::new().with("exhaust", rate.value))
}

fn distribution(given: &Given) -> Result<Found, FunctionError> {
    let way = match given.words("way")? {
        "ceiling, cool air" => AirDistribution::CeilingCool,
        "ceiling, warm air, floor return" => AirDistribution::CeilingWarmFloorReturn,
        "ceiling, 15 degF above room, ceiling return" => AirDistribution::CeilingVeryWarmCeilingReturn,
        "ceiling, warm air with jet, ceiling return" => AirDistribution::CeilingWarmWithJet,
        "ceiling, warm air without jet, ceiling return" => AirDistribution::CeilingWarmWithoutJet,
        "floor, warm air, floor return" => AirDistribution::FloorWarmFloorReturn,
        "floor, warm air, ceiling return" => AirDistribution::FloorWarmCeilingReturn,
        "make-up air, far side" => AirDistribution::MakeUpFarSide,
        "make-up air, near side" => AirDistribution::MakeUpNearSide,
        other => return Err(unknown("way", other)),
    };
    let ez = way.effectiveness();
    Ok(Found::new()
        .number("effectiveness", ez)
        .with("zone_flow", zone_outdoor_air(StandardAirFlow::cfm(100.0), ez)?))
}

/// Zones as text: name, area ft2, people, cfm/person, cfm/ft2, supply cfm; one zone between semicolons.
fn zones(text: &str) -> Result<Vec<(String, SystemZone)>, FunctionError> {
    text.split(';')
        .map(|part| {
            let words: Vec<&str> = part.split('|').map(str::trim).collect();
            let [name, numbers @ ..] = words.as_slice() else { return Err(unknown("zones", part)) };
            let numbers: Vec<f64> = numbers.iter().filter_map(|w| w.parse().ok()).collect();
            let [area, people, per_person, per_area, supply] = numbers[..] else {
                return Err(unknown("zones", part));
            };
            let rates = ZoneRates {
                people,
                area: Area::square_feet(area),
                per_person: StandardAirFlow::cfm(per_person),
                per_area: StandardAirFlowPerArea::cfm_per_ft2(per_area),
            };
            let zone = SystemZone { rates, effectiveness: 1.0, supply: StandardAirFlow::cfm(supply) };
            Ok(((*name).to_owned(), zone))
        })
        .collect()
}

fn whole_system(given: &Given) -> Result<Found, FunctionError> {
    let zones = zones(given.words("zones")?)?;
    let parts: Vec<SystemZone> = zones.iter().map(|z| z.1).collect();
    let population = given.plain("population")?;
    let result = system(&parts, population, EfficiencyMethod::ZoneByZone)?;
    let simple = system(&parts, population, EfficiencyMethod::Simplified)?;
    let mut found = Found::new()
        .number("diversity", result.diversity)
        .with("uncorrected", result.uncorrected)
        .number("average_share", result.average_share)
        .number("efficiency", result.efficiency)
        .with("intake", result.intake)
        .number("simplified_efficiency", simplified_efficiency(result.diversity)?)
        .with("simplified_intake", simple.intake)
        .with("outdoor_air_only", result.outdoor_air_only);
    if given.has("zone") {
        let name = given.words("zone")?;
        let index = zones.iter().position(|z| z.0 == name).ok_or_else(|| unknown("zone", name))?;
        let zone = result.zones[index];
        found = found
            .with("zone_outdoor_air", zone.outdoor_air)
            .number("zone_share", zone.share)
            .number("zone_efficiency", zone.efficiency);
    }
    Ok(found)
}

fn infiltration(given: &Given) -> Result<Found, FunctionError> {
    let rated: StandardAirFlowPerArea = given.get("rated")?;
    let ratio = given.plain("envelope_over_facade")?;
    let facade = Facade::new(Area::from_si(ratio), rated, AVERAGE_SHARE_OF_RATED)?;
    let flow = facade.infiltration(StandardAirFlow::from_si(0.0))?.flow;
    // One square metre of facade carries the leakage of `ratio` square metres of envelope.
    Ok(Found::new().with("per_facade", StandardAirFlowPerArea::from_si(flow.si())))
}
