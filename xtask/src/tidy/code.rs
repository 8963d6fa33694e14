//! Checks of Rust text.

use super::{EDGE_CRATES, Repository};
use crate::source::{code, has_word, without_tests};
use crate::{Failed, read};

/// What a library crate must not do, and the words that show it.
const OUTSIDE: &[(&str, &[&str])] = &[
    ("opens files", &["std::fs", "File::open", "File::create", "OpenOptions"]),
    ("looks at the environment", &["std::env", "env::var", "env::args"]),
    ("starts programs or uses the network", &["std::process", "std::net"]),
    ("looks at the clock", &["SystemTime", "Instant"]),
    ("prints", &["println!", "eprintln!", "print!", "eprint!", "dbg!", "stdout", "stderr"]),
    ("holds global state", &["thread_local!", "static mut"]),
];

/// Below the command line and the server nothing opens files, prints, or looks at the clock or the environment.
/// Examples in the documentation and test modules may.
pub fn library_crates_touch_nothing_outside(repository: &Repository) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    for package in &repository.packages {
        let tool =
            !(package.folder.starts_with(repository.root.join("crates")) || package.short() == "proofs");
        if tool || EDGE_CRATES.contains(&package.short()) {
            continue;
        }
        for (path, text) in repository.rust_files(&package.folder.join("src"))? {
            let code = code(&text);
            for (index, line) in without_tests(&code).lines().enumerate() {
                for (what, words) in OUTSIDE {
                    if let Some(word) = words.iter().find(|word| has_word(line, word)) {
                        found.push(format!(
                            "{}:{}: a library crate {what}: `{word}`",
                            path.display(),
                            index + 1
                        ));
                    }
                }
            }
        }
    }
    Ok(found)
}

/// The order of a hash map differs from run to run, so it may be looked into but not walked through. The line that
/// names one carries the words `lookup only`.
pub fn hash_maps_are_for_looking_up(repository: &Repository) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    for package in &repository.packages {
        for (path, text) in repository.rust_files(&package.folder.join("src"))? {
            let code = code(&text);
            let code = without_tests(&code);
            for (index, (line, written)) in code.lines().zip(text.lines()).enumerate() {
                let named = ["HashMap", "HashSet"].iter().any(|word| has_word(line, word));
                if named && !written.contains("lookup only") {
                    found.push(format!("{}:{}: a hash map without `lookup only`", path.display(), index + 1));
                }
            }
        }
    }
    Ok(found)
}

/// Every crate says what it is; every library crate with code shows how it is used.
pub fn crates_have_documentation(repository: &Repository) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    for package in &repository.packages {
        let root = ["src/lib.rs", "src/main.rs"]
            .map(|name| package.folder.join(name))
            .into_iter()
            .find(|p| p.is_file());
        let Some(root) = root else {
            found.push(format!("the crate `{}` has no root file", package.short()));
            continue;
        };
        let text = read(&root)?;
        let words: Vec<&str> = text.lines().take_while(|l| l.starts_with("//!")).collect();
        if words.is_empty() {
            found.push(format!("the crate `{}` does not say what it is", package.short()));
        }
        let modules = repository.rust_files(&package.folder.join("src"))?.len() > 1;
        let library = package.folder.starts_with(repository.root.join("crates")) && root.ends_with("lib.rs");
        if library && modules && !words.iter().any(|l| l.contains("```")) {
            found.push(format!("the crate `{}` has no example in its documentation", package.short()));
        }
        if package.description.is_empty() {
            found.push(format!("the crate `{}` has no description in its manifest", package.short()));
        }
    }
    Ok(found)
}

/// Every crate takes the lints of the workspace, which forbid unsafe code and walking through hash maps.
pub fn lints_are_inherited(repository: &Repository) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    for package in &repository.packages {
        let manifest = read(&package.folder.join("Cargo.toml"))?;
        let inherits = manifest
            .split("[lints]")
            .nth(1)
            .is_some_and(|rest| rest.trim_start().starts_with("workspace = true"));
        if !inherits {
            found.push(format!("the crate `{}` does not take the lints of the workspace", package.short()));
        }
    }
    let workspace = read(&repository.root.join("Cargo.toml"))?;
    for lint in ["unsafe_code = \"forbid\"", "iter_over_hash_type = \"warn\"", "missing_docs = \"warn\""] {
        if !workspace.contains(lint) {
            found.push(format!("Cargo.toml: the workspace lints lack `{lint}`"));
        }
    }
    Ok(found)
}

/// No unsafe code anywhere.
pub fn no_unsafe_code(repository: &Repository) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    for (path, text) in repository.rust_files(&repository.root)? {
        for (index, line) in code(&text).lines().enumerate() {
            if has_word(line, "unsafe") {
                found.push(format!("{}:{}: unsafe code", path.display(), index + 1));
            }
        }
    }
    Ok(found)
}

/// A module lies in a file of its own name. What test programs share must lie in a `mod.rs`, so tests are exempt.
pub fn no_mod_files(repository: &Repository) -> Result<Vec<String>, Failed> {
    Ok(repository
        .files
        .iter()
        .filter(|path| {
            path.file_name().is_some_and(|name| name == "mod.rs")
                && !path.components().any(|c| c.as_os_str() == "tests")
        })
        .map(|path| format!("{}: a module lies in a file of its own name", path.display()))
        .collect())
}
