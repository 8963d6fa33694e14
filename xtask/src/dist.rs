//! The release: stripped binary, completions, manual, licence, notices and checksums.

use crate::{Failed, process, root, sha256, write};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Makes `target/dist`.
pub fn run() -> Result<(), Failed> {
    process::run(process::cargo().args(["build", "--release", "--package", "drycoil", "--locked"]))?;
    let name = format!("drycoil{}", std::env::consts::EXE_SUFFIX);
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), PathBuf::from);
    let built = target.join("release").join(&name);
    let dist = root().join("target").join("dist");
    let failed = |error: std::io::Error| Failed::new(format!("cannot prepare {}: {error}", dist.display()));
    if dist.exists() {
        std::fs::remove_dir_all(&dist).map_err(failed)?;
    }
    std::fs::create_dir_all(&dist).map_err(failed)?;
    let program = dist.join(&name);
    std::fs::copy(&built, &program).map_err(failed)?;
    std::fs::copy(root().join("LICENSE"), dist.join("LICENSE")).map_err(failed)?;
    write(&dist.join("THIRD-PARTY-NOTICES.md"), notices()?.as_bytes())?;
    process::run(Command::new(&program).args(["man", "--quiet", "--out"]).arg(dist.join("man")))?;
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let script = process::output(Command::new(&program).args(["completions", shell]))?;
        write(&dist.join("completions").join(format!("drycoil.{shell}")), script.as_bytes())?;
    }
    let mut files = Vec::new();
    list(&dist, &dist, &mut files).map_err(failed)?;
    files.sort();
    let mut sums = String::new();
    for file in &files {
        let bytes = std::fs::read(dist.join(file)).map_err(failed)?;
        let _ = writeln!(sums, "{}  {}", sha256::hex(&bytes), file.display().to_string().replace('\\', "/"));
    }
    write(&dist.join("SHA256SUMS"), sums.as_bytes())?;
    println!("target/dist holds {} files and their checksums", files.len());
    Ok(())
}

fn list(top: &Path, folder: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            list(top, &path, files)?;
        } else if let Ok(short) = path.strip_prefix(top) {
            files.push(short.to_path_buf());
        }
    }
    Ok(())
}

/// The licences of every crate that is linked into the program.
fn notices() -> Result<String, Failed> {
    let text = process::output(process::cargo().args(["metadata", "--format-version", "1", "--locked"]))?;
    let metadata: Value =
        serde_json::from_str(&text).map_err(|error| Failed::new(format!("cargo metadata: {error}")))?;
    let linked =
        linked(&metadata).ok_or_else(|| Failed::new("cargo metadata has another form than expected"))?;
    let mut out = String::from(
        "# Third-party notices\n\nThe program contains these libraries. The licence that each names follows, with its \
         text where the library carries it.\n",
    );
    for package in metadata["packages"].as_array().into_iter().flatten() {
        let id = package["id"].as_str().unwrap_or_default();
        if !linked.contains(id) || package["source"].is_null() {
            continue;
        }
        let field = |name: &str| package[name].as_str().unwrap_or("not stated");
        let _ = writeln!(
            out,
            "\n## {} {}\n\nLicence: {}  \nRepository: {}",
            field("name"),
            field("version"),
            field("license"),
            field("repository")
        );
        for (name, text) in licence_texts(Path::new(field("manifest_path"))) {
            let _ = writeln!(out, "\n{name}:\n\n````text\n{}\n````", text.trim_end());
        }
    }
    Ok(out)
}

/// Ids of the packages that the program links: normal dependencies, from the program on.
fn linked(metadata: &Value) -> Option<BTreeSet<String>> {
    let nodes: BTreeMap<&str, &Value> = metadata["resolve"]["nodes"]
        .as_array()?
        .iter()
        .filter_map(|node| Some((node["id"].as_str()?, node)))
        .collect();
    let program = metadata["packages"].as_array()?.iter().find(|p| p["name"] == "drycoil")?["id"].as_str()?;
    let mut open = vec![program];
    let mut seen = BTreeSet::new();
    while let Some(id) = open.pop() {
        if !seen.insert(id.to_owned()) {
            continue;
        }
        for dependency in nodes.get(id)?["deps"].as_array()? {
            let normal = dependency["dep_kinds"].as_array()?.iter().any(|kind| kind["kind"].is_null());
            if normal {
                open.push(dependency["pkg"].as_str()?);
            }
        }
    }
    Some(seen)
}

/// The licence files beside a manifest, by name.
fn licence_texts(manifest: &Path) -> Vec<(String, String)> {
    let Some(entries) = manifest.parent().and_then(|folder| std::fs::read_dir(folder).ok()) else {
        return Vec::new();
    };
    let mut texts: Vec<(String, String)> = entries
        .filter_map(Result::ok)
        .filter_map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            let upper = name.to_uppercase();
            let wanted =
                ["LICENSE", "LICENCE", "COPYING", "NOTICE", "UNLICENSE"].iter().any(|w| upper.starts_with(w));
            (wanted && entry.path().is_file())
                .then(|| Some((name, std::fs::read_to_string(entry.path()).ok()?)))?
        })
        .collect();
    texts.sort();
    texts
}
