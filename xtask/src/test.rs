//! Everything that must hold, from a bare machine with Rust and Python.

use crate::{Failed, accuracy, demo, documents, fuzz, generate, opinions, page, process};
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

/// The variable with which property tests take a seed; without it they draw other inputs in every run.
const SEED_VARIABLE: &str = "PROPTEST_RNG_SEED";
/// The seed of this task, so that the same tree gives the same answer twice. Another one in the variable explores, as do
/// `cargo nextest run` and `cargo test` by themselves.
const SEED: &str = "20";

/// Cargo with the seed of property tests.
fn seeded() -> Command {
    let mut cargo = process::cargo();
    if std::env::var_os(SEED_VARIABLE).is_none() {
        cargo.env(SEED_VARIABLE, SEED);
    }
    cargo
}

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
    let mut closing = Vec::new();
    if process::works(process::cargo().args(["nextest", "--version"])) {
        let mut tests = seeded();
        tests.args(["nextest", "run", "--workspace", "--locked", "--no-fail-fast"]);
        tests.args(["--status-level", "slow", "--final-status-level", "fail", "--cargo-quiet"]);
        closing.extend(process::run_and_keep(&mut tests, is_result)?);
    } else {
        let mut tests = seeded();
        tests.args(["test", "--workspace", "--lib", "--bins", "--tests", "--locked", "--no-fail-fast"]);
        closing.extend(process::run_and_keep(&mut tests, is_result)?);
    }
    let mut examples = process::cargo();
    examples.args(["test", "--workspace", "--doc", "--locked", "--quiet"]);
    closing.extend(process::run_and_keep(&mut examples, is_result)?);
    process::run(
        process::cargo()
            .args(["doc", "--workspace", "--no-deps", "--locked", "--quiet"])
            .env("RUSTDOCFLAGS", "-D warnings"),
    )?;
    generate::run(generate::Mode::Check)?;
    demo::run()?;
    let [rooms, seed, sample] = accuracy::SHORT;
    accuracy::run(rooms, seed, sample)?;
    let page_is_tried = network == Network::Online || page::is_prepared();
    if page_is_tried {
        page::test(page::Extent::Short, network)?;
    }
    fuzz::run(FUZZ_SECONDS)?;
    if network == Network::Online {
        opinions::run()?;
        documents::run(documents::Scope::Small)?;
    }
    println!("Tests, then the examples of the documentation by crate:");
    for line in closing {
        println!("{line}");
    }
    println!("Everything holds.");
    println!(
        "Apart from this: `cargo xtask instructions`, `documents` of large projects, and `page-test` for every look of the page."
    );
    if !page_is_tried {
        println!(
            "NOT RUN, because of --offline: the page in a browser; node, npm, a browser and their libraries are not all there."
        );
    }
    if network == Network::Offline {
        println!("NOT RUN, because of --offline: the second opinions of other libraries.");
    }
    Ok(())
}

/// Whether a line of a test runner sums up its tests.
fn is_result(line: &str) -> bool {
    line.trim_start().starts_with("Summary [")
        || (line.starts_with("test result:") && !line.contains("ok. 0 passed"))
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
    missing.extend(page::missing());
    if missing.is_empty() { Ok(()) } else { install(&missing) }
}

/// Installs packages of the system as root or in CI; otherwise names the one command.
fn install(packages: &[&str]) -> Result<(), Failed> {
    let command = format!("apt-get install --yes {}", packages.join(" "));
    if !may_install() {
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

/// Whether packages of the system may be installed: as root or in CI.
fn may_install() -> bool {
    is_root() || std::env::var_os("CI").is_some()
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}
