//! The program as the shell sees it.

use crate::support::{Ran, command, run_in};
use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// A place to run the program in: an empty folder.
struct CliTest {
    folder: TempDir,
}

impl CliTest {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn command(&self, arguments: &[impl AsRef<OsStr>]) -> Command {
        command(self.path(), arguments)
    }

    fn run(&self, arguments: &[impl AsRef<OsStr>]) -> Ran {
        run_in(self.path(), arguments)
    }
}

#[test]
fn the_version_names_the_commit() {
    let ran = CliTest::new().run(&["--version"]);
    assert_eq!(ran.code, Some(0));
    let commit = ran.out.trim().strip_prefix(concat!("drycoil ", env!("CARGO_PKG_VERSION"), " (")).unwrap();
    let commit = commit.strip_suffix(')').unwrap();
    assert!(
        commit == "unknown" || (commit.len() == 10 && commit.bytes().all(|b| b.is_ascii_hexdigit())),
        "{commit}"
    );
    assert_eq!(ran.err, "");
}

#[test]
fn help_goes_to_standard_output_and_fits_the_width() {
    let test = CliTest::new();
    let tree = drycoil::cli::command();
    let mut calls = vec![vec!["--help".to_owned()]];
    calls.extend(tree.get_subcommands().map(|c| vec![c.get_name().to_owned(), "--help".into()]));
    for call in calls {
        let ran = test.run(&call);
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{call:?}");
        assert!(ran.out.contains("Usage: drycoil"), "{call:?}");
        assert!(ran.out.lines().all(|l| l.chars().count() <= 100), "{}", ran.out);
    }
}

#[test]
fn wrong_usage_ends_with_3_and_says_so_on_standard_error() {
    let test = CliTest::new();
    for call in [
        &["cool"][..],
        &[],
        &["units", "--threads", "0"],
        &["units", "--units", "metric"],
        &["units", "--quiet", "--verbose"],
        &["explain", "DP-999999"],
        &["units", "temprature"],
        &["man"],
        &["completions", "abacus"],
        &["working", "x", "--fail-on", "panic"],
    ] {
        let ran = test.run(call);
        assert_eq!(ran.code, Some(3), "{call:?}: {}", ran.err);
        assert_eq!(ran.out, "", "{call:?}");
        assert!(!ran.err.is_empty(), "{call:?}");
    }
}

#[test]
fn a_misspelt_name_gets_one_hint() {
    let ran = CliTest::new().run(&["units", "temprature"]);
    assert_eq!(
        ran.err,
        "error: no kind of quantity is called `temprature`\n  hint: did you mean `temperature`?\n"
    );
}

#[test]
fn every_finding_has_a_page() {
    let test = CliTest::new();
    let list = test.run(&["explain", "--json"]);
    assert_eq!(list.code, Some(0));
    let list: serde_json::Value = serde_json::from_str(&list.out).unwrap();
    let registered = drycoil_findings::registry::all();
    assert_eq!(list.as_array().unwrap().len(), registered.len());
    // One by one for the first and the last; the others share the code.
    for kind in [registered.first().unwrap(), registered.last().unwrap()] {
        let ran = test.run(&["explain", &kind.id.to_lowercase()]);
        assert_eq!(ran.code, Some(0));
        assert!(ran.out.starts_with(kind.id) && ran.out.contains("What to do: "), "{}", ran.out);
    }
    let markdown = test.run(&["explain", "--markdown"]);
    for kind in registered {
        assert!(markdown.out.contains(&format!("\n## {}\n", kind.id)), "{}", kind.id);
    }
}

#[test]
fn completions_know_the_commands() {
    let test = CliTest::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = test.run(&["completions", shell]);
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{shell}");
        for command in drycoil::cli::command().get_subcommands() {
            assert!(ran.out.contains(command.get_name()), "{shell} {}", command.get_name());
        }
    }
}

#[test]
fn manual_pages_are_written_whole() {
    let test = CliTest::new();
    let ran = test.run(&["man", "--out", "share/man1"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(0), ""), "{}", ran.err);
    let mut names: Vec<String> = fs::read_dir(test.path().join("share/man1"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    let mut wanted: Vec<String> =
        drycoil::cli::command().get_subcommands().map(|c| format!("drycoil-{}.1", c.get_name())).collect();
    wanted.push("drycoil.1".into());
    wanted.sort();
    assert_eq!(names, wanted);
    let page = fs::read_to_string(test.path().join("share/man1/drycoil-air.1")).unwrap();
    assert!(page.contains(".TH drycoil-air 1") && page.contains("dry\\-bulb"), "{page}");
    // What was said went to standard error, and not with --quiet.
    assert!(ran.err.contains("manual pages written"), "{}", ran.err);
    assert_eq!(test.run(&["man", "--quiet", "--out", "again"]).err, "");
}

#[test]
fn what_cannot_be_written_ends_with_4_and_names_the_place() {
    let test = CliTest::new();
    fs::write(test.path().join("occupied"), "a file").unwrap();
    let ran = test.run(&["man", "--out", "occupied"]);
    assert_eq!(ran.code, Some(4));
    assert!(ran.err.starts_with("error: cannot create `occupied`"), "{}", ran.err);
    assert_eq!(fs::read_to_string(test.path().join("occupied")).unwrap(), "a file");
}

#[test]
fn a_closed_pipe_is_quiet() {
    let test = CliTest::new();
    for call in [&["units"][..], &["explain", "--json"], &["completions", "zsh"], &["--help"]] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = test.command(call).stdout(writer).stderr(Stdio::piped()).spawn().unwrap();
        let ran = Ran::from(output.wait_with_output().unwrap());
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""), "{call:?}");
    }
}

#[test]
fn nothing_is_coloured_off_a_terminal() {
    let test = CliTest::new();
    for call in [&["units"][..], &["--help"], &["explain", "DP-999999"], &["cool"]] {
        let ran = test.run(call);
        assert!(!ran.out.contains('\u{1b}') && !ran.err.contains('\u{1b}'), "{call:?}");
    }
}

#[test]
fn the_units_are_listed_with_their_factors() {
    let ran = CliTest::new().run(&["units", "power", "--json"]);
    let value: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let ton = value[0]["units"].as_array().unwrap().iter().find(|u| u["symbol"] == "ton").unwrap();
    // NIST Special Publication 811: Btu(IT) 1055.05585262 J; a ton of refrigeration is 12 000 Btu/h.
    assert!((ton["factor"].as_f64().unwrap() - 3_516.852_842).abs() < 1e-5);
}

/// A device that is always full.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_ends_with_4() {
    let test = CliTest::new();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let ran = Ran::from(test.command(&["explain", "--json"]).stdout(full).output().unwrap());
    assert_eq!(ran.code, Some(4));
    assert!(ran.err.starts_with("error: cannot write the result: "), "{}", ran.err);
}

/// Signals are sent by a program of the system, so the test runs where there is one.
#[cfg(unix)]
#[test]
fn an_interrupt_leaves_no_half_file() {
    use std::io::Write;
    let test = CliTest::new();
    let mut child = test
        .command(&["air", "--csv", "/dev/stdin", "--out", "states.csv"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    input.write_all(b"dry_bulb [degC],rh [%]\n25,50\n").unwrap();
    let begun = || fs::read_dir(test.path()).unwrap().count() > 0;
    let since = std::time::Instant::now();
    while !begun() && since.elapsed() < std::time::Duration::from_secs(20) {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    assert!(begun(), "the output was not begun");
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let ran = Ran::from(child.wait_with_output().unwrap());
    drop(input);
    assert_eq!(ran.code, Some(130), "{}", ran.err);
    assert!(
        !begun(),
        "{:?}",
        fs::read_dir(test.path()).unwrap().map(|e| e.unwrap().path()).collect::<Vec<_>>()
    );
}
