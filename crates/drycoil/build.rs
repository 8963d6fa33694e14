//! Finds the commit that is being built, by reading the repository's own files.

use std::fs;
use std::path::{Path, PathBuf};

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let commit = git_folder(&root).and_then(|git| commit(&git)).unwrap_or_else(|| "unknown".into());
    println!("cargo:rustc-env=DRYCOIL_COMMIT={commit}");
    println!("cargo:rerun-if-changed=build.rs");
}

/// The folder that holds `HEAD`; in a linked working tree `.git` is a file that names it.
fn git_folder(root: &Path) -> Option<PathBuf> {
    let git = root.join(".git");
    if git.is_dir() {
        return Some(git);
    }
    let text = fs::read_to_string(&git).ok()?;
    Some(root.join(text.strip_prefix("gitdir:")?.trim()))
}

/// The first digits of the commit that `HEAD` names.
fn commit(git: &Path) -> Option<String> {
    let head = watched(&git.join("HEAD"))?;
    let Some(name) = head.trim().strip_prefix("ref:") else { return short(&head) };
    let name = name.trim();
    // Branches of a linked working tree live in the main repository.
    let common = fs::read_to_string(git.join("commondir"))
        .map_or_else(|_| git.to_path_buf(), |text| git.join(text.trim()));
    if let Some(text) = watched(&common.join(name)) {
        return short(&text);
    }
    let packed = watched(&common.join("packed-refs"))?;
    packed.lines().find_map(|line| {
        let (commit, line_name) = line.split_once(' ')?;
        if line_name == name { short(commit) } else { None }
    })
}

fn watched(path: &Path) -> Option<String> {
    let text = fs::read_to_string(path).ok()?;
    println!("cargo:rerun-if-changed={}", path.display());
    Some(text)
}

fn short(commit: &str) -> Option<String> {
    let commit = commit.trim();
    (commit.len() >= 40 && commit.bytes().all(|b| b.is_ascii_hexdigit())).then(|| commit[..10].to_owned())
}
