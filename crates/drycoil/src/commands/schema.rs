//! `drycoil schema`: the JSON Schema of `project.toml`.

use crate::{Context, Exit, Failure};
use clap::Args;
use drycoil_intake::project::json_schema;

/// Arguments of `drycoil schema`.
#[derive(Debug, Clone, Args)]
pub struct SchemaArgs {}

/// Runs the command.
pub fn run(_args: &SchemaArgs, context: &mut Context) -> Result<Exit, Failure> {
    context.print_json(&json_schema())?;
    Ok(Exit::Clean)
}
