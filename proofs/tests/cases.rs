//! Every case holds, and none is left out.

use drycoil_proofs::{CASE_FILES, all_cases, functions, references, run_case};
use std::collections::BTreeSet;
use std::path::Path;

/// Names of the files below a folder, with `/` between folders.
fn listing(folder: &Path, prefix: &str, found: &mut BTreeSet<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            listing(&entry.path(), &format!("{name}/"), found);
        } else {
            found.insert(name);
        }
    }
}

#[test]
fn the_list_of_cases_is_the_folder() {
    let mut there = BTreeSet::new();
    listing(&Path::new(env!("CARGO_MANIFEST_DIR")).join("cases"), "", &mut there);
    let listed: BTreeSet<String> = CASE_FILES.iter().map(|f| f.0.to_owned()).collect();
    assert_eq!(listed.len(), CASE_FILES.len(), "a case is listed twice");
    assert_eq!(there, listed);
}

/// Sources and tolerances are in the files; this only runs them.
#[test]
fn val_every_case_holds() {
    let mut failures = Vec::new();
    let (mut rows, mut compared) = (0, 0);
    for case in all_cases().unwrap() {
        let outcome = run_case(&case);
        assert_eq!(outcome.rows, case.rows.len(), "{}", case.file);
        rows += outcome.rows;
        compared += outcome.compared + outcome.refused;
        failures.extend(outcome.failures.iter().map(|f| format!("{}: {f}", case.file)));
    }
    assert!(failures.is_empty(), "{} failures:\n{}", failures.len(), failures.join("\n"));
    assert!(compared >= rows, "a row compares nothing");
}

#[test]
fn every_case_names_a_known_publication_and_every_publication_is_named() {
    let known = references().unwrap();
    let named: BTreeSet<String> = all_cases().unwrap().into_iter().map(|c| c.source.key).collect();
    let listed: BTreeSet<String> = known.keys().cloned().collect();
    assert_eq!(named, listed);
    assert!(known.values().all(|r| !r.title.is_empty() && !r.edition.is_empty()));
}

#[test]
fn every_function_has_a_case_and_one_id() {
    let named: BTreeSet<String> = all_cases().unwrap().into_iter().map(|c| c.function).collect();
    let mut seen = BTreeSet::new();
    for function in functions() {
        assert!(seen.insert(function.id), "{} is there twice", function.id);
        assert!(named.contains(function.id), "no case runs {}", function.id);
    }
}

/// Every crate of the physics is called by some case.
#[test]
fn every_physics_crate_has_a_case() {
    let called: Vec<&str> = functions().map(|f| f.calls).collect();
    for name in ["air", "water", "sun", "exchange", "rooms", "plant", "economics"] {
        assert!(called.iter().any(|c| c.contains(&format!("drycoil_{name}::"))), "{name}");
    }
}
