//! `drycoil man`: the manual pages.

use crate::{Context, Exit, Failure, cli, files};
use clap::Args;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::PathBuf;

/// Arguments of `drycoil man`.
#[derive(Debug, Clone, Args)]
#[group(required = true)]
pub struct ManArgs {
    /// Folder for the pages; it is created when it does not exist
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print every command's help as one page of the documentation
    #[arg(long)]
    pub markdown: bool,
}

/// Runs the command.
pub fn run(args: &ManArgs, context: &mut Context) -> Result<Exit, Failure> {
    let Some(out) = &args.out else {
        context.out.write_all(markdown().as_bytes())?;
        return Ok(Exit::Clean);
    };
    files::create_folder(out)?;
    let mut command = cli::command().disable_help_subcommand(true);
    command.build();
    let mut count = 0;
    let mut pages = vec![command.clone()];
    pages.extend(command.get_subcommands().cloned());
    for page in pages {
        let name = format!("{}.1", page.get_display_name().unwrap_or("drycoil"));
        let mut bytes = Vec::new();
        clap_mangen::Man::new(page).render(&mut bytes)?;
        files::write(&out.join(name), &bytes)?;
        count += 1;
    }
    context.note(&format!("{count} manual pages written to {}", out.display()));
    Ok(Exit::Clean)
}

/// Every command's help, for `docs/CLI.md`.
pub fn markdown() -> String {
    let mut command = cli::command().disable_help_subcommand(true).term_width(100);
    command.build();
    let mut out =
        String::from("# Command line\n\nGenerated from the command line by `cargo xtask generate`.\n");
    let _ = write!(out, "\n## drycoil\n\n```text\n{}```\n", command.render_long_help());
    for sub in command.get_subcommands_mut() {
        let name = sub.get_name().to_owned();
        // The options of every command are shown once, above.
        let mut own = sub.clone();
        for id in ["units", "json", "quiet", "verbose", "fail_on", "threads", "color"] {
            own = own.mut_arg(id, |arg| arg.hide(true));
        }
        let help = own.render_long_help().to_string();
        let _ = write!(out, "\n## drycoil {name}\n\n```text\n{}\n```\n", help.trim_end());
    }
    out
}
