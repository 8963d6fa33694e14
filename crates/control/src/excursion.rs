//! The excursion: an upset of minutes to hours, simulated with everything that delays or blinds the controls.

pub mod building;
pub mod case;
pub mod film;
pub mod lag;
pub mod library;
pub mod read;
pub mod result;
pub mod sample;
pub mod simulate;
