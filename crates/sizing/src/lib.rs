//! The design of a decoupled system: from a project and a weather year to sized, dry, explained equipment.
//!
//! [`size`] is a pure function: the same project and weather give the same bits on any number of threads. What the
//! design cannot do is in [`Design::findings`]; nothing is clamped to make it fit.
//!
//! ```
//! use drycoil_intake::{MemoryFiles, job};
//! let year = std::fs::read_to_string("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
//! let files = MemoryFiles::new()
//!     .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//!     .with("rooms.csv", "id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,20\n")
//!     .with("year.csv", &year);
//! let job = job::read(&files).unwrap();
//! let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
//!
//! let design = drycoil_sizing::size(&job.loaded.project, &job.weather.year, &pool).unwrap();
//! let terminal = &design.terminals[0];
//! assert!(terminal.water_margin_k >= 0.0, "water is never colder than the room's dew point");
//! assert!(design.dew_point.supply_dew_point_c < design.dew_point.room_limit_c);
//! ```

mod balance;
mod bins;
mod carry;
mod comfort;
mod conditions;
mod design;
mod dew_point;
mod ducts;
mod loads;
mod machines;
mod needs;
pub mod network;
mod plant;
mod primary_unit;
mod schedule;
mod service;
mod sheets;
mod size;
mod terminals;
mod told;
mod tower;
mod yearly;

pub use design::*;
/// What the machines of sizing and year share: the chiller of the project and assumptions about machines.
pub mod machine_data {
    pub use crate::machines::{
        BYPASS, COLDEST_CONDENSER_C, FROST_GUARD_C, HELD_PRESSURE_SHARE, LEAST_TOWER_SHARE,
        OWN_UNIT_FAN_SHARE, RECOVERY_EXPONENT, WATER_CP, WATER_RHO, chiller,
    };
    pub use crate::tower::{COLDEST_C, EXPONENT, WATER_TO_AIR};
    pub use crate::yearly::HELD_DUCT_SHARE;
}
pub use bins::day_types;
pub use schedule::{Cell, Column, ColumnKind, Row, Schedule, schedules, service_word};
pub use sheets::{places, quantities, sheet};
pub use size::{Begun, SizingError, begin, size};
pub use terminals::{PLENUM_INFILTRATION, terminal_unit};
