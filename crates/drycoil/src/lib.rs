//! The command line of Drycoil: arguments, files, rendering of findings and exit codes.
//!
//! Only this crate opens files, prints and looks at the environment. It computes nothing: it reads bytes, hands them
//! to the readers, calls the stage functions and draws what they return.
//!
//! ```
//! use drycoil::{Exit, cli};
//! // The tree of commands, as completions and the manual see it.
//! assert!(cli::command().get_subcommands().any(|c| c.get_name() == "air"));
//! assert_eq!(Exit::BadInput.code(), 2);
//! ```

mod browser;
pub mod cli;
pub mod commands;
mod context;
mod exit;
pub mod files;
pub mod project;
pub mod render;

pub use cli::Cli;
pub use context::{Context, Detail, Form, Settings};
pub use exit::{Exit, Failure};

use clap::FromArgMatches;
use std::ffi::OsString;
use std::process::ExitCode;

/// Version with the commit that was built, as in `0.1.0 (2f6c1a9b03)`.
pub const VERSION: &str = concat!(env!("CARGO_PKG_VERSION"), " (", env!("DRYCOIL_COMMIT"), ")");

/// Runs the program on these arguments (the first is the program's own name) and returns its exit code.
pub fn main(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    exit::install_panic_hook();
    files::remove_unfinished_on_interrupt();
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    // Help and usage errors are coloured while the arguments are read, so this one is looked for before.
    let plain = arguments.iter().any(|a| a == "--color=never")
        || arguments.windows(2).any(|w| w[0] == "--color" && w[1] == "never");
    let choice = if plain { clap::ColorChoice::Never } else { clap::ColorChoice::Auto };
    let matches = cli::command().color(choice).try_get_matches_from(arguments);
    let cli = match matches.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => return exit::usage(&error).into(),
    };
    let mut context = Context::from_terminal(&cli.global);
    let result = commands::run(&cli.command, &mut context);
    context.finish(result).into()
}
