//! `drycoil proofs`: the program beside published cases.

use crate::{Context, Exit, Failure};
use clap::Args;

/// Arguments of `drycoil proofs`.
#[derive(Debug, Clone, Args)]
pub struct ProofsArgs {
    /// Only cases whose name contains this text
    #[arg(value_name = "TEXT")]
    pub filter: Option<String>,
    /// Print the page of the documentation instead of a table
    #[arg(long)]
    pub markdown: bool,
}

/// Runs the command.
pub fn run(_args: &ProofsArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("proofs"))
}
