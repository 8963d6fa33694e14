//! Units of the trade in calculation lines: those of the schedules, so that a checker reads the same number twice.

use drycoil_units::QuantityKind as K;
use drycoil_working::{Input, Line, Origin, TradeUnits};

const fn units(si: &'static str, ip: &'static str) -> TradeUnits {
    TradeUnits { si, ip }
}

const WATTS: Option<TradeUnits> = Some(units("W", "W"));
const KILOWATTS: Option<TradeUnits> = Some(units("kW", "kW"));
const COOLING: Option<TradeUnits> = Some(units("kW", "ton"));
const SMALL_LENGTH: Option<TradeUnits> = Some(units("mm", "in"));
const WATER_PRESSURE: Option<TradeUnits> = Some(units("kPa", "ft wg"));
const WATER_VELOCITY: Option<TradeUnits> = Some(units("m/s", "ft/s"));
const WATER_FRICTION: Option<TradeUnits> = Some(units("Pa/m", "ft wg/100 ft"));

/// Units of a scheduled quantity; `None` for those of its kind. The same as [`crate::schedule::Column::unit`], which a test
/// compares.
fn of_quantity(place: &str, quantity: &str, kind: K) -> Option<TradeUnits> {
    let is =
        |key: &str| quantity == key || quantity.strip_suffix(key).is_some_and(|rest| rest.ends_with('_'));
    let plant = place == "plant";
    let central = plant || place == "primary air";
    match kind {
        K::Power if central => match quantity {
            "sensible_load" | "drying_load" | "tower_heat" | "coil_load" => COOLING,
            "heating_capacity" | "heating_input" => None,
            _ if is("coil_total") || is("coil_sensible") || is("capacity") => COOLING,
            _ if is("fan_power") || is("input") || is("input_power") => KILOWATTS,
            _ if is("power") => WATTS,
            _ => None,
        },
        K::Power if is("fan_power") || is("fan_power_half") || is("constant_speed_power") => WATTS,
        K::Length if plant || place == "ducts" => SMALL_LENGTH,
        K::PressureDifference if is("head") || is("water_drop") => WATER_PRESSURE,
        K::Velocity if plant || is("water_velocity") => WATER_VELOCITY,
        K::PressureGradient if plant => WATER_FRICTION,
        _ => None,
    }
}

/// Units of a value that no schedule holds, by its symbol.
fn of_symbol(place: &str, symbol: &str, kind: K) -> Option<TradeUnits> {
    match (kind, symbol) {
        (K::Power, "P_pump" | "P_pumps" | "P_full") => WATTS,
        (K::Power, _) if symbol == "P" || symbol.starts_with("P_") => {
            if place == "plant" || place == "primary air" { KILOWATTS } else { WATTS }
        }
        // Inner diameters and the roughness of a wall.
        (K::Length, "d" | "k") => SMALL_LENGTH,
        (K::PressureDifference, "p_coil" | "p_both" | "p_valve" | "p_terminal" | "p_machine" | "p_pump") => {
            WATER_PRESSURE
        }
        (K::Velocity, "v_w") => WATER_VELOCITY,
        (K::PressureGradient, "R") if place == "plant" => WATER_FRICTION,
        _ => None,
    }
}

/// Gives the lines of a sheet their units: where the scheduled number has units of its own, everything of its kind stands
/// in them; a number of another sheet stands in the units of that sheet.
pub(crate) fn apply(place: &str, quantity: &str, lines: &mut [Line]) {
    let own_kind = lines.last().and_then(|l| l.kind);
    let own = own_kind.and_then(|kind| of_quantity(place, quantity, kind));
    for n in 0..lines.len() {
        let (before, rest) = lines.split_at_mut(n);
        let line = &mut rest[0];
        for input in &mut line.inputs {
            if let (Some(kind), None) = (input.kind, input.units) {
                input.units = if own.is_some() && own_kind == Some(kind) {
                    own
                } else {
                    of_input(place, input, kind, before)
                };
            }
        }
        if let (Some(kind), None) = (line.kind, line.units) {
            line.units = if own_kind == Some(kind) { own } else { of_symbol(place, &line.symbol, kind) };
        }
    }
}

fn of_input(place: &str, input: &Input, kind: K, before: &[Line]) -> Option<TradeUnits> {
    if let Origin::Line(from) = &input.origin {
        if let Some(line) = before.iter().rev().find(|l| l.symbol == *from) {
            return line.units;
        }
        if let Some((place, quantity)) = from.rsplit_once(' ') {
            return of_quantity(place, quantity, kind);
        }
    }
    of_symbol(place, &input.symbol, kind)
}
