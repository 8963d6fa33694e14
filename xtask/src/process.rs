//! Running other programs.

use crate::{Failed, root};
use std::ffi::OsStr;
use std::process::{Command, Stdio};

/// The cargo that runs this task.
pub fn cargo() -> Command {
    Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
}

/// The words of a command, for a message.
pub fn shown(command: &Command) -> String {
    let words = std::iter::once(command.get_program()).chain(command.get_args());
    let words: Vec<String> = words
        .map(|w| {
            let name = std::path::Path::new(w);
            let short = name.strip_prefix(root()).unwrap_or(name);
            if w == command.get_program() {
                file_name(short.as_os_str())
            } else {
                short.display().to_string()
            }
        })
        .collect();
    words.join(" ")
}

fn file_name(program: &OsStr) -> String {
    std::path::Path::new(program).file_name().unwrap_or(program).to_string_lossy().into_owned()
}

/// Runs a command in the repository, its output to the terminal, and returns its exit code.
pub fn code(command: &mut Command) -> Result<Option<i32>, Failed> {
    eprintln!("+ {}", shown(command));
    let status = command
        .current_dir(root())
        .status()
        .map_err(|error| Failed::new(format!("cannot start `{}`: {error}", shown(command))))?;
    Ok(status.code())
}

/// Runs a command in the repository; anything but exit code 0 is a failure.
pub fn run(command: &mut Command) -> Result<(), Failed> {
    match code(command)? {
        Some(0) => Ok(()),
        Some(code) => Err(Failed::new(format!("`{}` ended with {code}", shown(command)))),
        None => Err(Failed::new(format!("`{}` was stopped", shown(command)))),
    }
}

/// What a command writes to standard output; its log passes through.
pub fn output(command: &mut Command) -> Result<String, Failed> {
    let output = command
        .current_dir(root())
        .stderr(Stdio::inherit())
        .output()
        .map_err(|error| Failed::new(format!("cannot start `{}`: {error}", shown(command))))?;
    if !output.status.success() {
        return Err(Failed::new(format!("`{}` ended with {}", shown(command), output.status)));
    }
    String::from_utf8(output.stdout)
        .map_err(|_| Failed::new(format!("`{}` did not write text", shown(command))))
}

/// Whether a command can be started and ends with exit code 0; it says nothing.
pub fn works(command: &mut Command) -> bool {
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success())
}
