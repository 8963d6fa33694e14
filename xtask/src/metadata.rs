//! What cargo knows about the crates of the workspace.

use crate::{Failed, process};
use serde_json::Value;
use std::path::PathBuf;

/// One crate of the workspace.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Package {
    /// Name in its manifest.
    pub name: String,
    /// The one-line description.
    pub description: String,
    /// Its folder.
    pub folder: PathBuf,
    /// Normal dependencies on crates of the workspace, sorted.
    pub ours: Vec<String>,
    /// Normal dependencies on other crates, sorted.
    pub others: Vec<String>,
    /// Test and build dependencies on other crates, sorted.
    pub development: Vec<String>,
}

impl Package {
    /// The name without the common prefix, as in `units` for `drycoil-units`.
    pub fn short(&self) -> &str {
        short(&self.name)
    }
}

/// The name without the common prefix.
pub fn short(name: &str) -> &str {
    name.strip_prefix("drycoil-").unwrap_or(name)
}

/// The crates of the workspace, sorted by name.
pub fn packages() -> Result<Vec<Package>, Failed> {
    let text = process::output(process::cargo().args(["metadata", "--no-deps", "--format-version", "1"]))?;
    let value: Value =
        serde_json::from_str(&text).map_err(|error| Failed::new(format!("cargo metadata: {error}")))?;
    parse(&value).ok_or_else(|| Failed::new("cargo metadata has another form than expected"))
}

fn parse(value: &Value) -> Option<Vec<Package>> {
    let mut packages = Vec::new();
    for package in value["packages"].as_array()? {
        let mut one = Package {
            name: package["name"].as_str()?.into(),
            description: package["description"].as_str().unwrap_or_default().into(),
            folder: PathBuf::from(package["manifest_path"].as_str()?).parent()?.to_path_buf(),
            ours: Vec::new(),
            others: Vec::new(),
            development: Vec::new(),
        };
        for dependency in package["dependencies"].as_array()? {
            let name = dependency["name"].as_str()?.to_owned();
            let list = match (dependency["kind"].as_str(), dependency["path"].is_string()) {
                (None, true) => &mut one.ours,
                (None, false) => &mut one.others,
                (Some(_), false) => &mut one.development,
                (Some(_), true) => continue,
            };
            list.push(name);
        }
        for list in [&mut one.ours, &mut one.others, &mut one.development] {
            list.sort();
            list.dedup();
        }
        packages.push(one);
    }
    packages.sort_by(|a, b| a.name.cmp(&b.name));
    Some(packages)
}
