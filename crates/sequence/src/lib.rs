//! The dew-point sequence: what happens when the dew point of a room rises, declared once as data, run by an
//! interpreter, and written out for those who build and test it.
//!
//! A declaration ([`dew_point_sequence`]) names signals, parameters, regions with their stages, and transitions with
//! trigger, delay and reason. [`Machine`] runs it. Text, point list, Structured Text and test sheet are pure functions
//! of declaration and setup. Nothing here reads a file or a clock.
//!
//! Order of the standard sequence for a room whose dew point rises: notice; alarm with more primary air, if that air
//! is drier than the room by a margin; the coil valve of the terminal at risk shuts; only when more than the ignored
//! votes are at risk does the water of the building follow the highest counted dew point plus an offset. Wet primary
//! air takes dampers to minimum where it would not dry the room, and the water follows at once. Life safety, smoke control and health-care room
//! pressure outrank all of it.
//!
//! [`Machine`] shows a run; this hands the sequence over:
//!
//! ```
//! use drycoil_sequence::*;
//! use drycoil_units::{Temperature, Time, UnitSystem};
//! let f = Temperature::fahrenheit;
//! let parameters = Parameters::for_design(f(55.0), f(57.0), f(48.0));
//! let zone = |id: &str| ZoneSettings { id: id.into(), sensor: ZoneSensor::Own, votes: 1, neighbours: vec![], room_limit: None };
//! let setup = Setup::new(parameters, vec![zone("office"), zone("conference")])?;
//! let declaration = dew_point_sequence(WaterOrder::AfterValves);
//!
//! let words = written_sequence(&declaration, &setup, UnitSystem::Ip)?;
//! let points = point_list(&declaration, &setup, UnitSystem::Ip);
//! let text = structured_text(&declaration, &setup, UnitSystem::Ip)?;
//! let sheet = test_sheet(&declaration, &setup, &standard_cases(&setup), Time::seconds(5.0), UnitSystem::Ip)?;
//! assert!(words.iter().any(|part| part.to_string().starts_with("- From \"normal\" to \"notice\" after 60 s")));
//! assert!(points.iter().any(|point| point.name == "conference.coil_valve_enable"));
//! assert!(text.contains("zones[1].room_limit := 55.0;"));
//! assert!(sheet.iter().any(|row| row.stage == "coil shut" && row.place == "office"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod declare;
mod machine;
mod points;
mod program;
mod setup;
mod standard;
mod structured_text;
mod test_sheet;
mod words;

pub use declare::{
    Comparison, Declaration, DeclarationError, Direction, Expr, Gather, Gathered, Initial, Item, Kind,
    NeighbourFigure, NeighbourRule, ParameterRow, Region, Rule, Scope, SignalRow, Stage, Transition, Truth,
    write,
};
pub use machine::{
    BuildingInputs, BuildingSlot, Change, Machine, MachineError, Memory, StepError, ZoneInputs, ZoneSlot,
};
pub use points::{Point, PointKind, point_list};
pub use setup::{Parameters, Setup, SetupError, ZoneSensor, ZoneSettings};
pub use standard::{AIR_GUARD, BUILDING_STAGE, SENSOR, WaterOrder, ZONE_STAGE, dew_point_sequence};
pub use structured_text::structured_text;
pub use test_sheet::{
    Case, CasePhase, TestRow, TestSheetError, inputs_to_set, standard_cases, test_sheet, trial_zone,
};
pub use words::{Paragraph, WrittenTransition, written_sequence};
