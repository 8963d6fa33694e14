//! The excursion: an upset of minutes to hours, simulated with everything that delays or blinds the controls.

pub mod film;
