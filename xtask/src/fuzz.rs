//! Mutates the inputs of every reader.

use crate::{Failed, process};

/// Runs every target for this many seconds.
pub fn run(seconds: &str) -> Result<(), Failed> {
    let seconds: u32 = seconds
        .parse()
        .ok()
        .filter(|s| *s > 0)
        .ok_or_else(|| Failed::new(format!("`{seconds}` is not a number of seconds")))?;
    process::run(
        process::cargo()
            .args(["run", "--quiet", "--package", "drycoil-fuzz", "--locked", "--"])
            .arg(seconds.to_string()),
    )
}
