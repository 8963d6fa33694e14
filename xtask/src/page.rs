//! The page: built from `web/` into the files that the server embeds, and tried in a browser.
//!
//! The built files are kept, so that a plain `cargo build` needs no Node. A stamp beside them holds the digest of the
//! sources; a check of the repository compares it.

use crate::{Failed, demo, process, read, root, sha256, source};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Sources.
const WEB: &str = "web";
/// Built files and the stamp.
const BUILT: &str = "crates/server/page";
const STAMP: &str = "sources.sha256";
/// Most bytes of the built files, compressed.
const MAX_COMPRESSED: usize = 500_000;

fn npm() -> Command {
    Command::new(if cfg!(windows) { "npm.cmd" } else { "npm" })
}

/// Whether a file is a source of the page, and no test of it.
fn is_source(path: &Path) -> bool {
    path.starts_with(WEB) && !path.starts_with(Path::new(WEB).join("tests"))
}

/// The digest of the sources: names and contents, line ends as in the repository.
pub fn digest(root: &Path, files: &[PathBuf]) -> Result<String, Failed> {
    let mut list = String::new();
    for path in files.iter().filter(|p| is_source(p)) {
        let text = read(&root.join(path))?.replace("\r\n", "\n");
        let name = path.to_string_lossy().replace('\\', "/");
        let _ = writeln!(list, "{} {name}", sha256::hex(text.as_bytes()));
    }
    Ok(sha256::hex(list.as_bytes()))
}

/// Whether the kept page is that of the sources: why not, otherwise nothing.
pub fn is_current(root: &Path, files: &[PathBuf]) -> Result<Vec<String>, Failed> {
    let stamp = root.join(BUILT).join(STAMP);
    let kept = if stamp.is_file() { read(&stamp)? } else { String::new() };
    if kept.trim() == digest(root, files)? {
        return Ok(Vec::new());
    }
    Ok(vec![format!("{BUILT}: not built from the sources in {WEB}; `cargo xtask page` builds it")])
}

fn prepare() -> Result<(), Failed> {
    if !process::works(Command::new("node").arg("--version")) {
        return Err(Failed::new("node is missing; on Debian `apt-get install nodejs npm` brings it"));
    }
    let web = root().join(WEB);
    process::run(
        npm().args(["ci", "--ignore-scripts", "--no-fund", "--no-audit", "--silent", "--prefix"]).arg(web),
    )
}

/// Builds the page.
pub fn build() -> Result<(), Failed> {
    prepare()?;
    process::run(npm().args(["run", "--silent", "build", "--prefix"]).arg(root().join(WEB)))?;
    let digest = digest(&root(), &source::files(&root())?)?;
    let stamp = root().join(BUILT).join(STAMP);
    std::fs::write(&stamp, format!("{digest}\n"))
        .map_err(|error| Failed::new(format!("cannot write {}: {error}", stamp.display())))
}

/// Tries the page in an installed browser of the Chromium family.
pub fn test() -> Result<(), Failed> {
    prepare()?;
    let program = demo::build()?;
    process::run(
        npm()
            .args(["run", "--silent", "test", "--prefix"])
            .arg(root().join(WEB))
            .env("DRYCOIL", program)
            .env("DRYCOIL_MOST_COMPRESSED", MAX_COMPRESSED.to_string()),
    )
}
