//! `drycoil size`: the design-day design of a project.

use crate::{Context, Exit, Failure};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil size`.
#[derive(Debug, Clone, Args)]
pub struct SizeArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Folder for the result files; without it, `results` in the project folder
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// Runs the command.
pub fn run(_args: &SizeArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("size"))
}
