//! `drycoil check`: everything that is wrong with a project, in one pass.

use crate::{Context, Exit, Failure};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil check`.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
}

/// Runs the command.
pub fn run(_args: &CheckArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("check"))
}
