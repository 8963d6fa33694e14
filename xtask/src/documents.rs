//! Second opinions on the documents: an HTML validator, accessibility rules, and their print in a real browser.

use crate::{Failed, demo, process, root};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Where the judge is, with the exact list of its packages.
const DOCUMENTS: &str = "proofs/documents";

/// Whose documents are judged: the project and the unit system in which it is issued.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// One room: every kind of document, quickly.
    Small,
    /// The demo and the SI example, calculation books of thousands of steps among them.
    All,
}

impl Scope {
    const fn projects(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Small => &[("one-room", "si")],
            Self::All => &[("public-services-building", "ip"), ("two-storey-school", "si")],
        }
    }
}

/// Documents before an HTML validator, and in a browser before accessibility rules and on paper. What this machine lacks
/// for it is said.
pub fn run(scope: Scope) -> Result<(), Failed> {
    let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
    for program in ["node", npm] {
        if !process::works(Command::new(program).arg("--version")) {
            println!(
                "NOT RUN, because {program} is missing: the validator of the documents, the accessibility rules and the print."
            );
            return Ok(());
        }
    }
    let program = demo::build()?;
    let tools = root().join("target").join("documents");
    let failed = |error: std::io::Error| Failed::new(format!("cannot prepare {}: {error}", tools.display()));
    std::fs::create_dir_all(&tools).map_err(failed)?;
    for name in ["package.json", "package-lock.json", ".npmrc", "check.mjs"] {
        std::fs::copy(root().join(DOCUMENTS).join(name), tools.join(name)).map_err(failed)?;
    }
    process::run(Command::new(npm).args(["ci", "--ignore-scripts", "--silent", "--prefix"]).arg(&tools))?;
    let mut folders = Vec::new();
    for (project, system) in scope.projects() {
        let out = tools.join(project);
        // Documents of an earlier run that has more volumes would be judged as well.
        if out.is_dir() {
            std::fs::remove_dir_all(&out).map_err(failed)?;
        }
        let mut papers = Command::new(&program);
        papers.args(["papers", &format!("examples/{project}"), "--quiet", "--units", system, "--out"]);
        papers.arg(&out).stdout(Stdio::null()).stderr(Stdio::null());
        // Findings of the examples are no failure of their documents.
        match process::code(&mut papers)? {
            Some(0 | 1) => folders.push(out),
            code => return Err(Failed::new(format!("drycoil papers {project} ended with {code:?}"))),
        }
    }
    let browser = ["chromium", "chromium-browser", "google-chrome"]
        .iter()
        .flat_map(|name| ["/usr/bin", "/usr/local/bin"].map(|folder| Path::new(folder).join(name)))
        .find(|path| path.is_file());
    if browser.is_none() {
        println!("NOT RUN, because no browser was found: the accessibility rules and the print.");
    }
    let browser = browser.unwrap_or_else(|| PathBuf::from("-"));
    process::run(Command::new("node").arg(tools.join("check.mjs")).arg(browser).args(folders))
}
