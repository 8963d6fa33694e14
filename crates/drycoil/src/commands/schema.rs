//! `drycoil schema`: the JSON Schema of `project.toml`.

use crate::{Context, Exit, Failure};
use clap::Args;
use drycoil_intake::project::{json_schema, project_format_page};

/// Arguments of `drycoil schema`.
#[derive(Debug, Clone, Args)]
pub struct SchemaArgs {
    /// Print the page that describes the project folder instead
    #[arg(long)]
    pub markdown: bool,
}

/// Runs the command.
pub fn run(args: &SchemaArgs, context: &mut Context) -> Result<Exit, Failure> {
    if args.markdown {
        write!(context.out, "{}", project_format_page())?;
    } else {
        context.print_json(&json_schema())?;
    }
    Ok(Exit::Clean)
}
