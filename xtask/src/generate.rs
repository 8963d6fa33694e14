//! Documentation that is generated from the program.

use crate::{Failed, demo, process, read, root, write};
use std::process::Command;

/// Whether files are written or only compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Write what differs.
    Write,
    /// Say what differs.
    Check,
}

/// Each generated file with the arguments of the program that print it.
pub const PAGES: &[(&str, &[&str])] = &[
    ("docs/FINDINGS.md", &["explain", "--markdown"]),
    ("docs/CLI.md", &["man", "--markdown"]),
    ("docs/PROOFS.md", &["proofs", "--markdown"]),
    ("docs/project.schema.json", &["schema"]),
    ("docs/PROJECT_FORMAT.md", &["schema", "--markdown"]),
];

/// Writes or compares every generated file.
pub fn run(mode: Mode) -> Result<(), Failed> {
    let program = demo::build()?;
    let mut stale = Vec::new();
    for (name, arguments) in PAGES {
        let new = process::output(Command::new(&program).args(*arguments))?;
        let path = root().join(name);
        let old = if path.is_file() { read(&path)? } else { String::new() };
        // A checkout may have given the file the line ends of its system.
        if old.replace("\r\n", "\n") == new {
            continue;
        }
        match mode {
            Mode::Write => {
                write(&path, new.as_bytes())?;
                println!("wrote {name}");
            }
            Mode::Check => stale.push(*name),
        }
    }
    if stale.is_empty() {
        Ok(())
    } else {
        Err(Failed::new(format!(
            "{} differ from the program; `cargo xtask generate` writes them",
            stale.join(", ")
        )))
    }
}
