//! `drycoil schema`: the JSON Schema of `project.toml`.

use crate::{Context, Exit, Failure};
use clap::Args;

/// Arguments of `drycoil schema`.
#[derive(Debug, Clone, Args)]
pub struct SchemaArgs {}

/// Runs the command.
pub fn run(_args: &SchemaArgs, _context: &mut Context) -> Result<Exit, Failure> {
    Err(super::not_built_yet("schema"))
}
