//! The year hour by hour: both schemes, every room, the plant at each step.
//!
//! Both schemes see the same weather, gains, set points and ventilation rules. A room's answer to weather and gains is
//! the same in both, so it is computed once (`drive`); each scheme adds its own heating, cooling and air. Within a
//! scheme the steps are outside and the rooms inside; the plant is solved once a step, from the sums of all rooms, and
//! gives the supply states of the *next* step: one step of lag, tested against a coupled solve.

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
pub mod weather;
