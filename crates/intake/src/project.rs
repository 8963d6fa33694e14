//! The project folder: `project.toml`, the room list, surfaces, profiles and the catalogue.
//!
//! Everything is read in one pass and every problem is reported with its place. A project is either wholly usable or
//! refused; nothing is repaired.
//!
//! ```
//! use drycoil_intake::{MemoryFiles, project};
//! let files = MemoryFiles::new()
//!     .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//!     .with("rooms.csv", "id,floor,kind,floor_area [ft2]\n101,1,meeting,400\n");
//! let loaded = project::read_project(&files, None).unwrap();
//! assert_eq!(loaded.project.rooms.len(), 1);
//! assert_eq!(loaded.weather_file, "year.csv");
//! // 50 people per 1000 ft2 (ANSI/ASHRAE 62.1 Table 6-1, from memory) on 400 ft2.
//! assert!((loaded.project.rooms[0].people.value - 20.0).abs() < 1e-9);
//! ```

mod assemble;
mod catalogue;
pub(crate) mod describe;
mod economics;
mod flows;
mod forms;
mod keys;
mod kinds;
mod section;
mod sequence;
mod sheet;
mod spec;
mod table;
mod tables;
mod text;
mod written;
mod year;

pub use assemble::{Loaded, StationFacts, read_project};
pub(crate) use assemble::{WeatherRequest, read_project_with};
pub use catalogue::built_in_catalogue;
pub use describe::{json_schema, project_format_page};
pub use forms::{
    CellText, Field, FieldKind, Form, FormShape, RowText, TableText, columns, forms, table_text,
    workbook_text,
};
pub use kinds::built_in_kinds;
pub use section::DefaultUsed;
pub use text::{MAX_FILE_BYTES, text_of};
pub use written::{Meaning, WrittenValue, written_values};

use drycoil_project::UseProfile;

/// Names of the files that a project may hold beside its weather file.
pub const FILES: [&str; 6] =
    ["project.toml", "rooms.csv", "rooms.xlsx", "surfaces.csv", "profiles.csv", "catalogue.toml"];

/// The built-in use profiles, in the order of their file.
///
/// # Panics
/// Never: the table is read by a test.
pub fn built_in_profiles() -> Vec<UseProfile> {
    let text = text::Text::new("profiles.csv", include_str!("../data/profiles.csv").to_owned());
    let mut log = section::Log::default();
    let grid = table::grid_of(&text, &mut log).expect("the built-in table has rows");
    let mut profiles = tables::profiles(grid, &mut log);
    debug_assert!(log.findings.is_empty(), "{:#?}", log.findings);
    for profile in &mut profiles {
        profile.place = drycoil_findings::Place::part("built in").key(format!("profile {}", profile.name));
    }
    profiles
}
