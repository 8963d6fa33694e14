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

pub mod cli;
pub mod commands;
mod context;
mod exit;
pub mod files;
pub mod render;

pub use cli::Cli;
pub use context::{Context, Detail, Form, Settings};
pub use exit::{Exit, Failure};

use clap::Parser;
use std::ffi::OsString;
use std::process::ExitCode;

/// Version with the commit that was built, as in `0.1.0 (2f6c1a9b03)`.
pub const VERSION: &str = concat!(env!("CARGO_PKG_VERSION"), " (", env!("DRYCOIL_COMMIT"), ")");

/// Runs the program on these arguments (the first is the program's own name) and returns its exit code.
pub fn main(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    exit::install_panic_hook();
    files::remove_unfinished_on_interrupt();
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(error) => return exit::usage(&error).into(),
    };
    let mut context = Context::from_terminal(&cli.global);
    let result = commands::run(&cli.command, &mut context);
    context.finish(result).into()
}
