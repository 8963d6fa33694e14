//! Checks of documentation, examples and every other text.

use super::Repository;
use crate::{Failed, read};
use drycoil_findings::{Severity, Stage, registry};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Every crate of others that the workspace uses has its reason in `docs/DEPENDENCIES.md`.
pub fn dependencies_are_explained(repository: &Repository) -> Result<Vec<String>, Failed> {
    let text = read(&repository.root.join("docs/DEPENDENCIES.md"))?;
    let used: BTreeSet<&String> =
        repository.packages.iter().flat_map(|p| p.others.iter().chain(&p.development)).collect();
    Ok(used
        .into_iter()
        .filter(|name| !text.lines().any(|line| line.contains(&format!("`{name}`"))))
        .map(|name| format!("docs/DEPENDENCIES.md: no line says why `{name}` is used"))
        .collect())
}

/// Texts that belong to one machine or to a package registry. They are put together here, so that this file passes.
fn foreign_words() -> Vec<String> {
    let mut words: Vec<String> =
        ["work", "tmp", "home", "root"].iter().map(|folder| format!("/{folder}/")).collect();
    for (name, end) in [
        ("crates", "io"),
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "com"),
        ("npmjs", "org"),
        ("yarnpkg", "com"),
    ] {
        words.push(format!("{name}.{end}"));
    }
    words
}

/// Lock files are as the package managers write them.
const LOCK_FILES: &[&str] = &["Cargo.lock", "package-lock.json"];

/// No file names a folder of the machine it was written on, nor a package registry.
pub fn no_places_of_one_machine(repository: &Repository) -> Result<Vec<String>, Failed> {
    let words = foreign_words();
    let mut found = Vec::new();
    for path in &repository.files {
        if LOCK_FILES.iter().any(|name| path.ends_with(name)) {
            continue;
        }
        let bytes = std::fs::read(repository.root.join(path))
            .map_err(|error| Failed::new(format!("cannot read {}: {error}", path.display())))?;
        // Spreadsheets and other files that are not text are not looked into.
        let Ok(text) = String::from_utf8(bytes) else { continue };
        for (index, line) in text.lines().enumerate() {
            if let Some(word) = words.iter().find(|word| names(line, word)) {
                found.push(format!("{}:{}: names `{word}`", path.display(), index + 1));
            }
        }
    }
    Ok(found)
}

/// Whether a line holds the word; a folder counts only where a path begins.
fn names(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        !(word.starts_with('/') && before.is_some_and(|c| c.is_alphanumeric() || "_-./~}$)".contains(c)))
    })
}

/// Every error of the input has a project in `examples/bad` that gives it, and each of those projects says what it
/// must give: the file `expect.toml` holds a table `[[finding]]` with an `id` per finding. The few that no small project can
/// show stand, with the test that shows them, in the list of the test that runs the examples.
pub fn bad_examples_cover_the_findings(repository: &Repository) -> Result<Vec<String>, Failed> {
    let folder = Path::new("examples/bad");
    let mut expected: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut cases = BTreeSet::new();
    for path in repository.files.iter().filter(|path| path.starts_with(folder)) {
        let Some(case) = path.components().nth(2).filter(|_| path.components().count() > 3) else { continue };
        let case = case.as_os_str().to_string_lossy().into_owned();
        if path.ends_with("expect.toml") {
            for line in read(&repository.root.join(path))?.lines() {
                let id = line.trim().strip_prefix("id = \"").and_then(|rest| rest.strip_suffix('"'));
                if let Some(id) = id {
                    expected.entry(id.to_owned()).or_default().push(case.clone());
                }
            }
        }
        cases.insert(case);
    }
    let mut found = Vec::new();
    if cases.is_empty() {
        return Ok(found);
    }
    for case in &cases {
        if !expected.values().any(|list| list.contains(case)) {
            found.push(format!("examples/bad/{case}: no `expect.toml` says which finding it must give"));
        }
    }
    for id in expected.keys() {
        if registry::find(id).is_none() {
            found.push(format!("examples/bad: `{id}` is not the id of a finding"));
        }
    }
    let test = repository.root.join("crates/drycoil/tests/program/bad_examples.rs");
    let elsewhere = if test.is_file() { read(&test)? } else { String::new() };
    for kind in registry::all() {
        let shown = expected.contains_key(kind.id) || elsewhere.contains(&format!("(\"{}\", ", kind.id));
        if kind.stage == Stage::Input && kind.severity == Severity::Error && !shown {
            found.push(format!("examples/bad: no project gives {} ({})", kind.id, kind.title));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_counts_where_a_path_begins() {
        let word = foreign_words().into_iter().next().unwrap();
        assert!(names(&format!("see {word}main"), &word));
        assert!(names(&format!("\"{word}main\""), &word));
        assert!(!names(&format!("docs{word}main"), &word));
    }
}
