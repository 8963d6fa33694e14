//! The year hour by hour: both schemes, every room, the plant at each step.
//!
//! Both schemes see the same weather, gains, set points and ventilation rules. A room's answer to weather and gains is
//! the same in both, so it is computed once (`drive`); each scheme adds its own heating, cooling and air. Within a
//! scheme the steps are outside and the rooms inside; the plant is solved once a step, from the sums of all rooms, and
//! gives the supply states of the *next* step: one step of lag, tested against a coupled solve.
//!
//! ```
//! use drycoil_intake::{MemoryFiles, job};
//! use drycoil_year::prepare::ReductionCache;
//! use drycoil_year::result::Scheme;
//! use drycoil_year::simulate::{Options, Unobserved, simulate};
//! let weather = std::fs::read("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
//! let files = MemoryFiles::new()
//!     .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//!     .with("rooms.csv", "id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,20\n")
//!     .with("year.csv", weather);
//! let job = job::read(&files).unwrap();
//! let (project, weather) = (&job.loaded.project, &job.weather.year);
//! let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
//! let design = drycoil_sizing::size(project, weather, &pool).unwrap();
//!
//! let options = Options { schemes: vec![Scheme::Decoupled], ..Options::default() };
//! let mut models = ReductionCache::default();
//! let year = simulate(project, &design, weather, &options, &mut models, &pool, &mut Unobserved).unwrap();
//! let room = &year.schemes[0].rooms[0];
//! assert_eq!(year.hours, 8760);
//! assert!(room.margin.as_ref().unwrap().smallest_occupied_k.unwrap() >= 0.0, "no hour of use is wet");
//! ```

// Loops over rooms get the processor's wider instructions only in what is inlined into them.
#![allow(clippy::inline_always)]

pub mod accuracy;
pub mod all_air_rooms;
pub mod assumptions;
pub mod compare;
pub mod decoupled_rooms;
mod drive;
pub mod economy;
pub mod findings;
pub mod free_water;
pub mod plant;
pub mod prepare;
pub mod result;
pub mod signals;
pub mod simulate;
pub mod sweep;
mod tally;
pub mod terminal_table;
pub mod told;
pub mod weather;
pub mod wide;
