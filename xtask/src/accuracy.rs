//! Rooms of a drawn project on their full networks over the whole year, beside the reduced models that the year steps.

use crate::{Failed, big, process, root};

/// What the tests draw: rooms of the project, its seed, rooms compared.
pub const SHORT: [&str; 3] = ["60", "3", "6"];

/// Draws the project and compares; which rooms are compared follows from the seed.
pub fn run(rooms: &str, seed: &str, sample: &str) -> Result<(), Failed> {
    let folder = root().join("target").join("accuracy");
    let folder = folder.to_str().ok_or_else(|| Failed::new("the path of the repository is not text"))?;
    big::run(rooms, seed, folder)?;
    process::run(process::cargo().current_dir(root()).args([
        "run",
        "--quiet",
        "--locked",
        "--package",
        "drycoil-year",
        "--example",
        "reduced_rooms",
        "--",
        folder,
        sample,
        seed,
    ]))
}
