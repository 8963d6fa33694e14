//! The page: built from `web/` into the files that the server embeds, and tried in a browser.
//!
//! The built files are kept, so that a plain `cargo build` needs no Node. A stamp beside them holds the digest of the
//! sources; a check of the repository compares it.

use crate::test::Network;
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

/// How much is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Everything.
    Whole,
    /// What the test command has time for: every job, each width and theme once, times of one round.
    Short,
}

/// Where a browser of the Chromium family is looked for when `BROWSER_PROGRAM` names none.
const BROWSERS: [&str; 3] = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

/// Packages of the system that are missing for trying the page.
pub fn missing() -> Vec<&'static str> {
    let mut missing = Vec::new();
    if !process::works(Command::new("node").arg("--version")) {
        missing.push("nodejs");
    }
    if !process::works(npm().arg("--version")) {
        missing.push("npm");
    }
    let named = std::env::var_os("BROWSER_PROGRAM").is_some();
    if !named && !BROWSERS.iter().any(|path| Path::new(path).exists()) {
        missing.push("chromium");
    }
    missing
}

/// Whether the libraries of the tests are there already.
pub fn is_prepared() -> bool {
    missing().is_empty() && root().join(WEB).join("node_modules/playwright-core").is_dir()
}

/// Tries the page in an installed browser of the Chromium family.
pub fn test(extent: Extent, network: Network) -> Result<(), Failed> {
    if network == Network::Online {
        prepare()?;
    }
    let program = demo::build()?;
    let mut tests = npm();
    tests.args(["run", "--silent", "test", "--prefix"]).arg(root().join(WEB));
    tests.env("DRYCOIL", program).env("DRYCOIL_MOST_COMPRESSED", MAX_COMPRESSED.to_string());
    if extent == Extent::Short {
        tests.env("DRYCOIL_SHORT", "1").env("DRYCOIL_ROUNDS", "1");
        // A browser on a busy machine can miss a wait of its trial; what is wrong fails twice.
        if process::run(&mut tests).is_ok() {
            return Ok(());
        }
        println!("A trial of the page failed. All of them are run once more; failing again is a failure.");
    }
    process::run(&mut tests)
}
