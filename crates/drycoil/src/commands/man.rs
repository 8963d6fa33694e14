//! `drycoil man`: the manual pages.

use crate::{Context, Exit, Failure, cli, files};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `drycoil man`.
#[derive(Debug, Clone, Args)]
pub struct ManArgs {
    /// Folder for the pages; it is created when it does not exist
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// Runs the command.
pub fn run(args: &ManArgs, context: &mut Context) -> Result<Exit, Failure> {
    files::create_folder(&args.out)?;
    let mut command = cli::command().disable_help_subcommand(true);
    command.build();
    let mut count = 0;
    let mut pages = vec![command.clone()];
    pages.extend(command.get_subcommands().cloned());
    for page in pages {
        let name = format!("{}.1", page.get_display_name().unwrap_or("drycoil"));
        let mut bytes = Vec::new();
        clap_mangen::Man::new(page).render(&mut bytes)?;
        files::write(&args.out.join(name), &bytes)?;
        count += 1;
    }
    context.note(&format!("{count} manual pages written to {}", args.out.display()));
    Ok(Exit::Clean)
}
