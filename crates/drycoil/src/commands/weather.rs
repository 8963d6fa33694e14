//! `drycoil weather`: what a weather file holds.

use crate::{Context, Exit, Failure};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil weather`.
#[derive(Debug, Clone, Args)]
pub struct WeatherArgs {
    /// Weather file; the format is recognised from its content
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
}

/// Runs the command.
pub fn run(_args: &WeatherArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("weather"))
}
