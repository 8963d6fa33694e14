//! The point list.

use crate::declare::{Declaration, Direction, Kind, Scope, SignalRow};
use crate::setup::{Setup, ZoneSensor};
use crate::words::{kind_unit, kind_value};
use drycoil_units::UnitSystem;

/// What a point is to a controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointKind {
    /// A measured number.
    AnalogInput,
    /// A commanded number.
    AnalogOutput,
    /// A number in software.
    AnalogValue,
    /// A contact or status.
    BinaryInput,
    /// A two-state command.
    BinaryOutput,
    /// A two-state value in software.
    BinaryValue,
    /// One of several stages.
    MultiStateValue,
}

/// A row of the point list.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Name: zone and signal, or `building` and signal.
    pub name: String,
    /// What it is.
    pub description: String,
    /// Kind.
    pub kind: PointKind,
    /// Unit, empty for a share or a state.
    pub unit: String,
    /// Range in that unit, or the states.
    pub range: String,
    /// What an operator is told when it is true.
    pub alarm: String,
    /// Class of the Brick schema, where one fits.
    pub brick: String,
    /// Markers of Project Haystack.
    pub haystack: String,
}

fn kind(row: &SignalRow) -> PointKind {
    // Qualities, demands and alarms are values in software; readings, contacts and commands are wired.
    let software = row.name.ends_with("_good")
        || row.name.ends_with("_demand")
        || row.name.ends_with("_request")
        || row.name == "occupied"
        || row.alarm.is_some() && row.direction == Direction::Output
        || row.name == "notice"
        || row.name.ends_with("_released")
        || row.name.ends_with("set_point");
    match (row.kind == Kind::Boolean, software, row.direction) {
        (true, true, _) => PointKind::BinaryValue,
        (true, false, Direction::Output) => PointKind::BinaryOutput,
        (true, false, _) => PointKind::BinaryInput,
        (false, true, _) => PointKind::AnalogValue,
        (false, false, Direction::Output) => PointKind::AnalogOutput,
        (false, false, _) => PointKind::AnalogInput,
    }
}

fn point(row: &SignalRow, owner: &str, system: UnitSystem) -> Point {
    let range = match (row.kind, row.range) {
        (Kind::Boolean, _) => "no, yes".to_owned(),
        (kind, Some((low, high))) => {
            format!("{:.0} to {:.0}", kind_value(kind, low, system), kind_value(kind, high, system))
        }
        (_, None) => String::new(),
    };
    Point {
        name: format!("{owner}.{}", row.name),
        description: row.words.to_owned(),
        kind: kind(row),
        unit: kind_unit(row.kind, system).to_owned(),
        range,
        alarm: row.alarm.unwrap_or_default().to_owned(),
        brick: row.brick.unwrap_or_default().to_owned(),
        haystack: row.haystack.unwrap_or_default().to_owned(),
    }
}

/// Every input, output and stage of building and zones. A zone without a dew-point sensor has no points for one.
///
/// Classes are of Brick 1.4.4; markers are of the definitions of Project Haystack, version 3.9.2. A quality is no point of
/// its own there but the tag `curStatus` of the reading.
///
/// ```
/// use drycoil_sequence::*;
/// use drycoil_units::{Temperature, UnitSystem};
/// let f = Temperature::fahrenheit;
/// let zone = ZoneSettings { id: "office".into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
/// let setup = Setup::new(Parameters::for_design(f(55.0), f(57.0), f(48.0)), vec![zone])?;
/// let points = point_list(&dew_point_sequence(WaterOrder::AfterValves), &setup, UnitSystem::Ip);
/// let dew_point = points.iter().find(|p| p.name == "office.dew_point").unwrap();
/// assert_eq!((dew_point.kind, dew_point.unit.as_str()), (PointKind::AnalogInput, "degF"));
/// assert_eq!(dew_point.brick, "brick:Zone_Air_Dewpoint_Sensor");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn point_list(declaration: &Declaration, setup: &Setup, system: UnitSystem) -> Vec<Point> {
    let mut out = Vec::new();
    let owners = std::iter::once((Scope::Building, "building", true))
        .chain(setup.zones().iter().map(|z| (Scope::Zone, z.id.as_str(), z.sensor == ZoneSensor::Own)));
    for (scope, owner, has_sensor) in owners {
        for row in declaration.signals.iter().filter(|s| s.scope == scope && s.direction != Direction::Inner)
        {
            let of_sensor = matches!(row.name, "dew_point" | "dew_point_good" | "alarm_sensor");
            if has_sensor || !of_sensor {
                out.push(point(row, owner, system));
            }
        }
        for (_, region) in declaration.regions().filter(|(s, _)| *s == scope) {
            let states: Vec<String> = region
                .stages
                .iter()
                .enumerate()
                .map(|(k, stage)| format!("{k} {}", crate::words::plain(stage.name)))
                .collect();
            out.push(Point {
                name: format!("{owner}.{}", region.name),
                description: format!("stage of {}", crate::words::plain(region.name)),
                kind: PointKind::MultiStateValue,
                unit: String::new(),
                range: states.join(", "),
                alarm: String::new(),
                brick: "brick:Mode_Status".to_owned(),
                haystack: "sensor point".to_owned(),
            });
        }
    }
    out
}
