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

/// Runs a command in the repository like [`run`] and returns the lines of its output that `keep` picks, in the order in
/// which they came. Everything passes on to the terminal as it comes.
pub fn run_and_keep(command: &mut Command, keep: fn(&str) -> bool) -> Result<Vec<String>, Failed> {
    eprintln!("+ {}", shown(command));
    let failed = |error: std::io::Error| Failed::new(format!("cannot run `{}`: {error}", shown(command)));
    let mut child = Command::new(command.get_program());
    child.args(command.get_args()).current_dir(root()).stdout(Stdio::piped()).stderr(Stdio::piped());
    for (name, value) in command.get_envs() {
        match value {
            Some(value) => child.env(name, value),
            None => child.env_remove(name),
        };
    }
    let mut child = child.spawn().map_err(failed)?;
    let (out, err) = (child.stdout.take(), child.stderr.take());
    let kept = std::sync::Mutex::new(Vec::new());
    let pass = |line: String, to_out: bool| {
        if to_out {
            println!("{line}");
        } else {
            eprintln!("{line}");
        }
        if keep(&line) {
            kept.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push(line.trim().to_owned());
        }
    };
    let pass = &pass;
    std::thread::scope(|scope| {
        if let Some(out) = out {
            scope.spawn(move || lines(out).for_each(|line| pass(line, true)));
        }
        if let Some(err) = err {
            scope.spawn(move || lines(err).for_each(|line| pass(line, false)));
        }
    });
    let status = child.wait().map_err(failed)?;
    if !status.success() {
        return Err(Failed::new(format!("`{}` ended with {status}", shown(command))));
    }
    Ok(kept.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner))
}

/// The lines of a pipe, as text whatever their bytes.
fn lines(pipe: impl std::io::Read) -> impl Iterator<Item = String> {
    let pipe = std::io::BufReader::new(pipe);
    std::io::BufRead::split(pipe, b'\n')
        .map_while(Result::ok)
        .map(|bytes| String::from_utf8_lossy(&bytes).trim_end_matches('\r').to_owned())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_kept_and_a_failure_is_one() {
        let kept =
            run_and_keep(cargo().args(["--version", "--verbose"]), |line| line.starts_with("release:"));
        assert_eq!(kept.unwrap().len(), 1);
        assert!(run_and_keep(cargo().arg("no-such-task"), |_| true).is_err());
    }
}
