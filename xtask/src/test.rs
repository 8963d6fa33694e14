//! Everything that must hold, from a bare machine with Rust and Python.

use crate::{Failed, demo, fuzz, generate, process, root};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Whether packages may be fetched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Network {
    /// Yes.
    Online,
    /// No: what needs them is skipped, and said so.
    Offline,
}

/// Seconds for every fuzz target.
const FUZZ_SECONDS: &str = "10";
const OPINIONS: &str = "proofs/second_opinions";

/// Runs everything.
pub fn run(network: Network) -> Result<(), Failed> {
    tools(network)?;
    process::run(process::cargo().args(["fmt", "--all", "--check"]))?;
    process::run(process::cargo().args([
        "clippy",
        "--workspace",
        "--all-targets",
        "--locked",
        "--quiet",
        "--",
        "-D",
        "warnings",
    ]))?;
    if process::works(process::cargo().args(["nextest", "--version"])) {
        process::run(process::cargo().args(["nextest", "run", "--workspace", "--locked", "--no-fail-fast"]))?;
    } else {
        process::run(process::cargo().args([
            "test",
            "--workspace",
            "--lib",
            "--bins",
            "--tests",
            "--locked",
            "--quiet",
        ]))?;
    }
    process::run(process::cargo().args(["test", "--workspace", "--doc", "--locked", "--quiet"]))?;
    process::run(
        process::cargo()
            .args(["doc", "--workspace", "--no-deps", "--locked", "--quiet"])
            .env("RUSTDOCFLAGS", "-D warnings"),
    )?;
    generate::run(generate::Mode::Check)?;
    fuzz::run(FUZZ_SECONDS)?;
    second_opinions(network)?;
    println!("Everything holds.");
    if network == Network::Offline {
        println!("NOT RUN, because of --offline: the second opinions of other libraries.");
    }
    Ok(())
}

/// Sees to the tools: components of the toolchain, Python with its virtual environments.
fn tools(network: Network) -> Result<(), Failed> {
    for (sub, component) in [("fmt", "rustfmt"), ("clippy", "clippy")] {
        if process::works(process::cargo().args([sub, "--version"])) {
            continue;
        }
        if network == Network::Offline {
            return Err(Failed::new(format!(
                "`cargo {sub}` is missing; `rustup component add {component}` adds it"
            )));
        }
        process::run(Command::new("rustup").args(["component", "add", component]))?;
    }
    if network == Network::Offline {
        return Ok(());
    }
    let mut missing = Vec::new();
    match python() {
        None => missing.extend(["python3", "python3-venv"]),
        Some(python) if !process::works(Command::new(python).args(["-c", "import venv, ensurepip"])) => {
            missing.push("python3-venv");
        }
        Some(_) => {}
    }
    if missing.is_empty() { Ok(()) } else { install(&missing) }
}

/// Installs packages of the system as root or in CI; otherwise names the one command.
fn install(packages: &[&str]) -> Result<(), Failed> {
    let command = format!("apt-get install --yes {}", packages.join(" "));
    if !(is_root() || std::env::var_os("CI").is_some()) {
        return Err(Failed::new(format!(
            "missing: {}; on Debian `sudo {command}` installs them",
            packages.join(", ")
        )));
    }
    process::run(Command::new("apt-get").args(["update", "--quiet"]))?;
    process::run(
        Command::new("apt-get")
            .args(["install", "--yes", "--quiet", "--no-install-recommends"])
            .args(packages)
            .env("DEBIAN_FRONTEND", "noninteractive"),
    )
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

/// The Python of this machine.
fn python() -> Option<&'static str> {
    ["python3", "python"].into_iter().find(|name| {
        process::works(Command::new(name).args(["-c", "import sys; sys.exit(sys.version_info < (3, 9))"]))
    })
}

/// Compares the program with other libraries, in an environment of pinned packages below `target`.
fn second_opinions(network: Network) -> Result<(), Failed> {
    let folder = root().join(OPINIONS);
    let requirements = folder.join("requirements.txt");
    if !requirements.is_file() {
        return Err(Failed::new(format!("{OPINIONS}/requirements.txt is not in this checkout")));
    }
    if network == Network::Offline {
        return Ok(());
    }
    let python = environment(&requirements)?;
    let program = demo::build()?;
    process::run(Command::new(python).arg(folder.join("run.py")).arg("--drycoil").arg(program))
}

/// The environment with exactly the pinned packages; made anew when the list changes.
fn environment(requirements: &Path) -> Result<PathBuf, Failed> {
    let folder = root().join("target").join("second_opinions_venv");
    let python = folder.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let stamp = folder.join("installed.txt");
    let wanted = crate::read(requirements)?;
    if python.is_file() && std::fs::read_to_string(&stamp).is_ok_and(|have| have == wanted) {
        return Ok(python);
    }
    let system = self::python().ok_or_else(|| Failed::new("there is no Python 3.9 or later"))?;
    process::run(Command::new(system).args(["-m", "venv", "--clear"]).arg(&folder))?;
    process::run(
        Command::new(&python)
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--requirement"])
            .arg(requirements),
    )?;
    crate::write(&stamp, wanted.as_bytes())?;
    Ok(python)
}
