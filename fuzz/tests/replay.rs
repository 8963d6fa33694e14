//! Kept inputs, and a short run of every target.

use drycoil_fuzz::{Mutator, TARGETS, kept_inputs};

#[test]
fn kept_inputs_do_not_fail_again() {
    for target in TARGETS {
        for (path, bytes) in kept_inputs(target.name) {
            let result = std::panic::catch_unwind(|| (target.run)(&bytes));
            assert!(result.is_ok(), "{} fails again", path.display());
        }
    }
}

#[test]
fn every_target_begins_with_seeds_and_stands_a_short_run() {
    for target in TARGETS {
        let seeds = (target.seeds)();
        assert!(!seeds.is_empty(), "{}", target.name);
        for seed in &seeds {
            (target.run)(seed);
        }
        let mut mutator = Mutator::new(1, seeds);
        for _ in 0..300 {
            (target.run)(&mutator.next_input());
        }
    }
}
