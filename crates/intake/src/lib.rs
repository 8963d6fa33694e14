//! Readers over bytes: project files, spreadsheets, weather files.
//!
//! Nothing here opens a file: a [`FileSet`] gives the bytes, so that a folder, an archive or a test can be read alike. Every
//! problem of a project is reported in one pass, each at its file, line and column.
//!
//! ```
//! use drycoil_intake::{MemoryFiles, project::read_project};
//! let files = MemoryFiles::new()
//!     .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//!     .with("rooms.csv", "id,floor,kind,floor_area [ft2]\n101,1,meting,420\n102,1,meeting,-5\n");
//! let findings = read_project(&files, None).unwrap_err();
//! let places: Vec<String> = findings.iter().filter(|f| f.is_bad_input()).map(|f| f.places[0].to_string()).collect();
//! assert!(places.contains(&"rooms.csv:2, row 1, `kind`, 101".to_owned()), "{places:?}");
//! assert!(places.contains(&"rooms.csv:3, row 2, `floor_area [ft2]`".to_owned()), "{places:?}");
//! ```

mod files;
pub mod job;
pub mod project;
pub mod variant;
pub mod weather;

pub use files::{FileSet, Fingerprint, MemoryFiles};
