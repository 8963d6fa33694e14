//! Mutated inputs for every reader: none may panic, hang or accept what it must refuse.
//!
//! The mutations are seeded, so that a run can be repeated; they need no special toolchain. A failing input is kept in
//! `fuzz/artifacts`; once it is mended, it moves to `fuzz/seeds/TARGET`, which the tests replay.
//!
//! ```
//! use drycoil_fuzz::{Mutator, TARGETS};
//! let target = TARGETS.iter().find(|t| t.name == "units").unwrap();
//! let mut mutator = Mutator::new(1, (target.seeds)());
//! for _ in 0..100 {
//!     (target.run)(&mutator.next_input());
//! }
//! ```

mod mutate;
mod targets;

pub use mutate::Mutator;
pub use targets::{TARGETS, Target, kept_inputs};
