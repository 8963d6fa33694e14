//! `drycoil completions`: completions for a shell.

use crate::{Context, Exit, Failure, cli};
use clap::Args;
use std::io::Write;

/// Arguments of `drycoil completions`.
#[derive(Debug, Clone, Args)]
pub struct CompletionsArgs {
    /// The shell
    #[arg(value_name = "SHELL")]
    pub shell: clap_complete::Shell,
}

/// Runs the command.
pub fn run(args: &CompletionsArgs, context: &mut Context) -> Result<Exit, Failure> {
    // The generator cannot report a closed pipe, so it writes to memory.
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut cli::command(), "drycoil", &mut script);
    context.out.write_all(&script)?;
    Ok(Exit::Clean)
}
