//! Controls of a job: what its rooms, coils and sensors do within seconds when humidity rises, under the dew-point
//! sequence of `drycoil-sequence`.
//!
//! [`excursion`] simulates an upset at 1 to 60 s: rooms, ducts, water, valves, dampers, sensors and the film of water on
//! the coils. The sequence is the one that is handed over; nothing of it is written a second time here.
//!
//! ```
//! use drycoil_control::excursion::film::{Film, FilmSettings};
//! // Ten minutes of a coil that stays 0.5 g/kg below the humidity of its air, with 0.3 kg/s of air in full contact.
//! let settings = FilmSettings { area_m2: 12.0, hold_kg_per_m2: 0.100 };
//! let mut film = Film::default();
//! for _ in 0..120 {
//!     film.advance(&settings, 0.3 * 0.0005, 5.0);
//! }
//! assert!((film.on_coil_kg - 0.09).abs() < 1e-12 && film.dripped_kg == 0.0);
//! ```

pub mod excursion;
pub mod settings;
