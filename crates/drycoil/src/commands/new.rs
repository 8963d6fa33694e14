//! `drycoil new`: begins a project folder.

use crate::{Context, Exit, Failure};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil new`.
#[derive(Debug, Clone, Args)]
pub struct NewArgs {
    /// Folder to create; it must not exist or must be empty
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Begin with the smallest project instead of a copy of the demo
    #[arg(long, conflicts_with = "rooms")]
    pub blank: bool,
    /// Begin with the rooms of this room list, CSV or XLSX
    #[arg(long, value_name = "FILE")]
    pub rooms: Option<PathBuf>,
}

/// Runs the command.
pub fn run(_args: &NewArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("new"))
}
