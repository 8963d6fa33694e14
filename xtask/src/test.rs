//! Everything that must hold, from a bare machine with Rust and Python.

use crate::{Failed, fuzz, generate, opinions, process};
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
    if network == Network::Online {
        opinions::run()?;
    }
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
    match opinions::system_python() {
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
