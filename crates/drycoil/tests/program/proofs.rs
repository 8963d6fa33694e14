//! `drycoil proofs` and the page that it generates.

use crate::support::{Ran, read};

fn drycoil(arguments: &[&str]) -> Ran {
    crate::support::run(arguments)
}

#[test]
fn the_page_is_that_of_the_program() {
    let page = drycoil(&["proofs", "--markdown"]);
    assert_eq!(page.code, Some(0));
    let written = read("docs/PROOFS.md");
    assert!(written == page.out, "docs/PROOFS.md differs; `cargo xtask generate` writes it");
    let results = drycoil_proofs::run_all().unwrap();
    assert_eq!(written, drycoil_proofs::markdown(&results, &drycoil_proofs::references().unwrap()));
}

#[test]
fn json_has_every_case_with_its_tolerances() {
    let output = drycoil(&["proofs", "--json"]);
    assert_eq!(output.code, Some(0));
    let all = output.json();
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
    let text = &output.out;
    assert_eq!(output.code, Some(0));
    assert!(text.contains("1 case, ") && text.contains("dew_point: 0.02, printed to 0.01 degF"), "{text}");
    let none = drycoil(&["proofs", "no such case"]);
    assert_eq!(none.code, Some(3));
    assert!(none.out.is_empty() && none.err.contains("drycoil proofs"), "{}{}", none.out, none.err);
}
