//! `drycoil proofs` and the page that it generates.

use std::path::Path;
use std::process::{Command, Output};

fn drycoil(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_drycoil")).args(arguments).output().unwrap()
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

#[test]
fn the_page_is_that_of_the_program() {
    let page = drycoil(&["proofs", "--markdown"]);
    assert_eq!(page.status.code(), Some(0));
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/PROOFS.md");
    let written = std::fs::read_to_string(path).unwrap().replace("\r\n", "\n");
    assert!(written == stdout(&page), "docs/PROOFS.md differs; `cargo xtask generate` writes it");
    let results = drycoil_proofs::run_all().unwrap();
    assert_eq!(written, drycoil_proofs::markdown(&results, &drycoil_proofs::references().unwrap()));
}

#[test]
fn json_has_every_case_with_its_tolerances() {
    let output = drycoil(&["proofs", "--json"]);
    assert_eq!(output.status.code(), Some(0));
    let all: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let all = all.as_array().unwrap();
    assert_eq!(all.len(), drycoil_proofs::CASE_FILES.len());
    for case in all {
        assert_eq!(case["pass"], true, "{case}");
        assert!(!case["tolerances"].as_array().unwrap().is_empty(), "{case}");
        assert!(case["tolerances"][0]["reason"].as_str().is_some_and(|r| !r.is_empty()), "{case}");
    }
}

#[test]
fn a_filter_shows_one_case_with_its_tolerances() {
    let output = drycoil(&["proofs", "latent/headline"]);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(0));
    assert!(text.contains("1 cases") && text.contains("dew_point: 0.02, printed to 0.01 degF"), "{text}");
    let none = drycoil(&["proofs", "no such case"]);
    assert_eq!(none.status.code(), Some(3));
    assert!(
        none.stdout.is_empty() && String::from_utf8_lossy(&none.stderr).contains("drycoil proofs"),
        "{none:?}"
    );
}
