//! Terminal units, built in and of the project.

use super::flows::Flows;
use super::keys::{COIL_POINT, FAN_POINT, INLET_POINT, MODEL, SOUND_POINT};
use super::section::{Log, Section, named, parse};
use super::spec::Problem;
use super::text::Text;
use drycoil_findings::{Place, registry::terminals as tu};
use drycoil_project::{
    AirRating, Catalogue, CoilRating, FanArrangement, FanRating, HeatingCoil, SoundRating, TerminalModel,
};
use drycoil_units::{AirFlowBasis, StandardAirFlow};
use toml::de::DeTable;

/// Text of the built-in catalogue.
pub(crate) const BUILT_IN: &str = include_str!("../../data/catalogue.toml");

/// The neutral built-in catalogue. Its data are invented within what physics allows; no unit is a product.
///
/// # Panics
/// Never: the catalogue is read by a test.
pub fn built_in_catalogue() -> Catalogue {
    let text = Text::new("catalogue.toml", BUILT_IN.to_owned());
    let mut log = Log::default();
    let root = parse(&text, &mut log).expect("the built-in catalogue is TOML");
    let flows = Flows { basis: AirFlowBasis::Standard, ratio: None };
    let mut models = read_all(&mut log, &text, Some(root.get_ref()), flows);
    debug_assert!(log.findings.is_empty(), "{:#?}", log.findings);
    for model in &mut models {
        model.place = Place::part("built in").key(format!("models.{}", model.model));
    }
    Catalogue { models }
}

/// All units of a catalogue file.
pub(crate) fn read_all(
    log: &mut Log,
    text: &Text,
    root: Option<&DeTable<'_>>,
    flows: Flows,
) -> Vec<TerminalModel> {
    let mut models = Vec::new();
    for (name, table, span) in named(log, text, root, &MODEL) {
        let path = format!("models.{name}");
        let mut section = Section::new(log, text, Some((table, span)), &path, MODEL.keys, &[]).quiet();
        models.push(read(&mut section, name, flows));
    }
    models
}

fn flow(s: &mut Section<'_, '_>, key: &str, flows: Flows) -> StandardAirFlow {
    let written = s.flow(key);
    flows.standard(written, s.log).value
}

fn coil_point(s: &mut Section<'_, '_>, flows: Flows) -> CoilRating {
    CoilRating {
        air: flow(s, "air", flows),
        water: s.quantity("water").value,
        air_entering: s.quantity("air_entering").value,
        water_entering: s.quantity("water_entering").value,
        duty: s.quantity("duty").value,
    }
}

fn read(s: &mut Section<'_, '_>, name: &str, flows: Flows) -> TerminalModel {
    let heating_points = s.rows("heating_coil", COIL_POINT, |p| coil_point(p, flows));
    let electric = s.quantity_if("electric_heater");
    let heating = match (heating_points.is_empty(), electric) {
        (true, None) => HeatingCoil::None,
        (true, Some(power)) => HeatingCoil::Electric(power.value),
        (false, None) => HeatingCoil::HotWater(heating_points),
        (false, Some(_)) => {
            s.refuse(
                "electric_heater",
                Problem::new(
                    tu::TWO_HEATERS,
                    format!("the unit `{name}` has a hot-water coil and an electric heater"),
                ),
            );
            HeatingCoil::HotWater(heating_points)
        }
    };
    TerminalModel {
        model: name.to_owned(),
        arrangement: s.choice("arrangement", &[FanArrangement::Series, FanArrangement::Parallel]).value,
        primary_min: flow(s, "primary_min", flows),
        primary_max: flow(s, "primary_max", flows),
        fan_min: flow(s, "fan_min", flows),
        fan_max: flow(s, "fan_max", flows),
        external_pressure: s.quantity("external_pressure").value,
        fan: s.rows("fan", FAN_POINT, |p| FanRating {
            air: flow(p, "air", flows),
            external_pressure: p.quantity("external_pressure").value,
            power: p.quantity("power").value,
        }),
        rows: s.count("rows").value,
        circuits: s.count("circuits").value,
        tube_diameter: s.quantity("tube_diameter").value,
        face_area: s.quantity("face_area").value,
        water_max: s.quantity("water_max").value,
        water_velocity_max: s.quantity("water_velocity_max").value,
        water_drop: s.quantity("water_drop").value,
        coil: s.rows("coil", COIL_POINT, |p| coil_point(p, flows)),
        heating,
        sound: s.rows("sound", SOUND_POINT, |p| SoundRating {
            air: flow(p, "air", flows),
            nc: p.number("nc").value,
        }),
        inlet: s.rows("inlet", INLET_POINT, |p| AirRating {
            primary: flow(p, "primary", flows),
            inlet_pressure: p.quantity("inlet_pressure").value,
        }),
        throw: s.quantity("throw").value,
        place: s.own_place(),
    }
}

/// Units of the project first, then those built-in units that it does not replace.
pub(crate) fn with_built_in(own: Vec<TerminalModel>, built_in: Catalogue) -> Catalogue {
    let mut models = own;
    for model in built_in.models {
        if !models.iter().any(|m| m.model == model.model) {
            models.push(model);
        }
    }
    Catalogue { models }
}
