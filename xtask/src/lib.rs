//! The tasks of the repository: demo, test, tidy checks, generated documentation, release.
//!
//! The checks are plain functions that return what is wrong, so that `cargo test` runs them too:
//!
//! ```
//! let code = xtask::source::code("fn f() { unsafe { g() } } // unsafe");
//! assert!(xtask::source::has_word(&code, "unsafe"));
//! assert_eq!(code.matches("unsafe").count(), 1);
//! ```

#![allow(clippy::print_stdout, clippy::print_stderr)]

pub mod accuracy;
pub mod architecture;
pub mod big;
pub mod demo;
pub mod dist;
pub mod documents;
pub mod fuzz;
pub mod generate;
pub mod instructions;
pub mod metadata;
pub mod opinions;
pub mod page;
pub mod process;
pub mod sha256;
pub mod source;
pub mod test;
pub mod tidy;

use std::path::{Path, PathBuf};

/// A task that did not succeed, with the reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failed(pub String);

impl Failed {
    /// The task failed for this reason.
    pub fn new(reason: impl Into<String>) -> Self {
        Self(reason.into())
    }
}

/// The folder of the repository.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("xtask lies in the repository").to_path_buf()
}

/// Reads a text file of the repository.
pub fn read(path: &Path) -> Result<String, Failed> {
    std::fs::read_to_string(path)
        .map_err(|error| Failed::new(format!("cannot read {}: {error}", path.display())))
}

/// Writes a file, with the folders above it.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failed> {
    let failed = |error: std::io::Error| Failed::new(format!("cannot write {}: {error}", path.display()));
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    std::fs::write(path, bytes).map_err(failed)
}
