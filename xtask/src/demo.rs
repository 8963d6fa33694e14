//! Builds the program and sizes the demo project.

use crate::{Failed, process, root};
use std::path::PathBuf;
use std::process::Command;

/// The demo project.
pub const PROJECT: &str = "examples/public-services-building";
/// Where its results go.
pub const RESULTS: &str = "target/demo";

/// The program as the shared profile builds it.
pub fn build() -> Result<PathBuf, Failed> {
    process::run(process::cargo().args(["build", "--quiet", "--package", "drycoil", "--locked"]))?;
    let folder = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), PathBuf::from);
    Ok(folder.join("debug").join(format!("drycoil{}", std::env::consts::EXE_SUFFIX)))
}

/// Runs the demo.
pub fn run() -> Result<(), Failed> {
    if !root().join(PROJECT).join("project.toml").is_file() {
        return Err(Failed::new(format!("the demo project {PROJECT} is not in this checkout")));
    }
    let program = build()?;
    // Code 1: the design is complete and has warnings, which the program has printed.
    match process::code(Command::new(program).args(["size", PROJECT, "--out", RESULTS]))? {
        Some(0 | 1) => {}
        code => {
            let code = code.map_or_else(|| "a signal".to_owned(), |c| c.to_string());
            return Err(Failed::new(format!("sizing the demo ended with {code}")));
        }
    }
    println!("The results of {PROJECT} are in {RESULTS}.");
    Ok(())
}
