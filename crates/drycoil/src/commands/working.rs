//! `drycoil working`: how a scheduled number was computed.

use crate::{Context, Exit, Failure};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil working`.
#[derive(Debug, Clone, Args)]
pub struct WorkingArgs {
    /// Project folder
    #[arg(value_name = "PROJECT")]
    pub project: PathBuf,
    /// Room, terminal or system, such as "B-204" or "primary air"; without it the places are listed
    #[arg(value_name = "PLACE")]
    pub place: Option<String>,
    /// Scheduled quantity, such as "primary_air_flow"; without it the quantities of the place are listed
    #[arg(value_name = "QUANTITY", requires = "place")]
    pub quantity: Option<String>,
}

/// Runs the command.
pub fn run(_args: &WorkingArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("working"))
}
