//! Exit codes, and the reasons for which a command stops.

use drycoil_findings::Finding;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Nothing was found, or notes only.
    Clean,
    /// The result has warnings or errors.
    Found,
    /// The input cannot be used.
    BadInput,
    /// The command line cannot be understood.
    Usage,
    /// Something cannot be read or written.
    ReadWrite,
    /// The user cancelled.
    Cancelled,
}

impl Exit {
    /// The number that the shell sees.
    pub const fn code(self) -> u8 {
        match self {
            Self::Clean => 0,
            Self::Found => 1,
            Self::BadInput => 2,
            Self::Usage => 3,
            Self::ReadWrite => 4,
            Self::Cancelled => 130,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}

/// Why a command stops before its end.
#[derive(Debug)]
pub enum Failure {
    /// The input is bad in one way that has no place in a file, such as an impossible pair of arguments.
    BadInput {
        /// What is wrong: lower case, no final stop.
        message: String,
        /// One hint.
        hint: Option<String>,
    },
    /// Findings of which at least one is an error in the input.
    Findings(Vec<Finding>),
    /// The arguments contradict each other or name something that does not exist.
    Usage {
        /// What is wrong: lower case, no final stop.
        message: String,
        /// One hint.
        hint: Option<String>,
    },
    /// A file or folder cannot be read or written.
    File {
        /// The attempt, as in `cannot read`.
        attempt: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the operating system said.
        error: io::Error,
    },
    /// Standard output failed.
    Stream(io::Error),
    /// The system gives no threads.
    Threads(String),
    /// The user cancelled.
    Cancelled,
}

impl Failure {
    /// Bad input without a place.
    pub fn bad_input(message: impl Into<String>) -> Self {
        Self::BadInput { message: message.into(), hint: None }
    }

    /// Wrong use of the command line.
    pub fn usage(message: impl Into<String>) -> Self {
        Self::Usage { message: message.into(), hint: None }
    }

    /// Adds the one hint, where the failure has room for it.
    #[must_use]
    pub fn hint(mut self, text: impl Into<String>) -> Self {
        if let Self::BadInput { hint, .. } | Self::Usage { hint, .. } = &mut self {
            *hint = Some(text.into());
        }
        self
    }

    /// A file that cannot be read.
    pub fn reading(path: &Path, error: io::Error) -> Self {
        Self::File { attempt: "cannot read", path: path.to_path_buf(), error }
    }

    /// A file that cannot be written.
    pub fn writing(path: &Path, error: io::Error) -> Self {
        Self::File { attempt: "cannot write", path: path.to_path_buf(), error }
    }

    /// The exit code of this failure. A reader that closed the pipe has what it wanted.
    pub fn exit(&self) -> Exit {
        match self {
            Self::BadInput { .. } | Self::Findings(_) => Exit::BadInput,
            Self::Usage { .. } => Exit::Usage,
            Self::Stream(error) if error.kind() == io::ErrorKind::BrokenPipe => Exit::Clean,
            Self::File { .. } | Self::Stream(_) | Self::Threads(_) => Exit::ReadWrite,
            Self::Cancelled => Exit::Cancelled,
        }
    }

    /// The text for standard error; empty when nothing needs saying or when findings are drawn elsewhere.
    pub fn text(&self) -> String {
        let mut text = String::new();
        match self {
            Self::BadInput { message, hint } | Self::Usage { message, hint } => {
                let _ = writeln!(text, "error: {message}");
                if let Some(hint) = hint {
                    let _ = writeln!(text, "  hint: {hint}");
                }
            }
            Self::File { attempt, path, error } => {
                let _ = writeln!(text, "error: {attempt} `{}`: {error}", path.display());
            }
            Self::Stream(error) if error.kind() == io::ErrorKind::BrokenPipe => {}
            Self::Stream(error) => {
                let _ = writeln!(text, "error: cannot write the result: {error}");
            }
            Self::Threads(reason) => {
                let _ = writeln!(text, "error: cannot start threads: {reason}");
            }
            Self::Cancelled => text.push_str("cancelled\n"),
            Self::Findings(_) => {}
        }
        text
    }
}

/// An error of a stream that has no path. Errors of files are wrapped with [`Failure::reading`] or
/// [`Failure::writing`], so that the message names the file.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Self::Stream(error)
    }
}

/// Rows written to standard output as CSV.
impl From<csv::Error> for Failure {
    fn from(error: csv::Error) -> Self {
        match error.into_kind() {
            csv::ErrorKind::Io(error) => Self::Stream(error),
            other => Self::Stream(io::Error::other(format!("{other:?}"))),
        }
    }
}

/// JSON written to standard output.
impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        Self::Stream(error.into())
    }
}

/// Prints what the argument reader has to say. Help and version are wanted output, anything else is wrong usage.
pub(crate) fn usage(error: &clap::Error) -> Exit {
    use clap::error::ErrorKind;
    let wanted = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    match error.print() {
        _ if !wanted => Exit::Usage,
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Exit::ReadWrite,
        _ => Exit::Clean,
    }
}

/// A panic is a mistake in the program: say so in one line. The exit code is then 101.
pub(crate) fn install_panic_hook() {
    std::panic::set_hook(Box::new(|info| {
        use std::io::Write as _;
        let text = info.payload_as_str().unwrap_or("no message");
        let place = info.location().map_or_else(String::new, |l| format!(" ({}:{})", l.file(), l.line()));
        // Standard error may be closed; there is nobody left to tell.
        let _ = writeln!(
            io::stderr(),
            "drycoil {} stopped because of a mistake in the program itself: {}{place}; please report this line with the \
             command and the project",
            crate::VERSION,
            text.replace('\n', " "),
        );
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_closed_pipe_is_no_failure() {
        let closed = Failure::from(io::Error::from(io::ErrorKind::BrokenPipe));
        assert_eq!(closed.exit(), Exit::Clean);
        assert_eq!(closed.text(), "");
        let full = Failure::from(io::Error::from(io::ErrorKind::StorageFull));
        assert_eq!(full.exit(), Exit::ReadWrite);
        assert!(full.text().starts_with("error: "));
    }

    #[test]
    fn a_file_failure_names_the_file() {
        let failure = Failure::reading(Path::new("rooms.csv"), io::Error::from(io::ErrorKind::NotFound));
        assert_eq!(failure.exit().code(), 4);
        assert!(failure.text().starts_with("error: cannot read `rooms.csv`: "));
    }
}
