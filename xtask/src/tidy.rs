//! The invariants of the repository, each a function that returns what breaks it.

mod code;
mod outside;
mod text;

pub use code::{
    crates_have_documentation, hash_maps_are_for_looking_up, library_crates_touch_nothing_outside,
    lints_are_inherited, no_mod_files, no_unsafe_code,
};
pub use outside::{no_network_and_no_telemetry, the_program_is_portable};
pub use text::{bad_examples_cover_the_findings, dependencies_are_explained, no_places_of_one_machine};

use crate::metadata::{Package, packages};
use crate::{Failed, architecture, opinions, page, read, root, source};
use std::path::{Path, PathBuf};

/// Crates that may open files, print and look at the environment, besides the tools that are not part of the program.
pub const EDGE_CRATES: &[&str] = &["drycoil", "server"];

/// Crates of physics: they know neither findings nor working.
pub const PHYSICS_CRATES: &[&str] =
    &["solve", "air", "water", "sun", "exchange", "rooms", "plant", "economics"];

/// What the checks look at.
#[derive(Debug)]
pub struct Repository {
    /// Its folder.
    pub root: PathBuf,
    /// Its files, relative, sorted.
    pub files: Vec<PathBuf>,
    /// Its crates.
    pub packages: Vec<Package>,
}

impl Repository {
    /// Reads the lists.
    pub fn open(root: &Path) -> Result<Self, Failed> {
        Ok(Self { root: root.to_path_buf(), files: source::files(root)?, packages: packages()? })
    }

    /// The Rust files below a folder of the repository, with their text.
    pub fn rust_files(&self, below: &Path) -> Result<Vec<(&Path, String)>, Failed> {
        self.files
            .iter()
            .filter(|path| {
                path.extension().is_some_and(|e| e == "rs") && self.root.join(path).starts_with(below)
            })
            .map(|path| Ok((path.as_path(), read(&self.root.join(path))?)))
            .collect()
    }
}

/// A check: what it guards, and the function that returns every breach.
pub type Check = (&'static str, fn(&Repository) -> Result<Vec<String>, Failed>);

/// Every check.
pub const CHECKS: &[Check] = &[
    ("library crates touch nothing outside", library_crates_touch_nothing_outside),
    ("physics knows neither findings nor working", physics_knows_neither_findings_nor_working),
    ("the table of crates is true", the_table_of_crates_is_true),
    ("hash maps are for looking up", hash_maps_are_for_looking_up),
    ("crates have documentation", crates_have_documentation),
    ("lints are inherited", lints_are_inherited),
    ("no unsafe code", no_unsafe_code),
    ("no mod files", no_mod_files),
    ("dependencies are explained", dependencies_are_explained),
    ("no places of one machine", no_places_of_one_machine),
    ("bad examples cover the findings", bad_examples_cover_the_findings),
    ("second opinions are run", second_opinions_are_run),
    ("no network and no telemetry", no_network_and_no_telemetry),
    ("the program is portable", the_program_is_portable),
    ("the page is built from its sources", the_page_is_built_from_its_sources),
];

/// The page that the program embeds is the one that the sources give.
pub fn the_page_is_built_from_its_sources(repository: &Repository) -> Result<Vec<String>, Failed> {
    page::is_current(&repository.root, &repository.files)
}

/// Everything that breaks an invariant.
pub fn check_all(root: &Path) -> Result<Vec<String>, Failed> {
    let repository = Repository::open(root)?;
    let mut found = Vec::new();
    for (_, check) in CHECKS {
        found.extend(check(&repository)?);
    }
    Ok(found)
}

/// Runs every check and prints what is wrong.
pub fn run() -> Result<(), Failed> {
    let repository = Repository::open(&root())?;
    let mut count = 0;
    for (name, check) in CHECKS {
        let found = check(&repository)?;
        println!("{} {name}", if found.is_empty() { "ok  " } else { "FAIL" });
        for problem in &found {
            println!("       {problem}");
        }
        count += found.len();
    }
    if count == 0 { Ok(()) } else { Err(Failed::new(format!("{count} breaches of the invariants"))) }
}

/// Physics crates return values or their own error enum; rooms and places are attached above them.
pub fn physics_knows_neither_findings_nor_working(repository: &Repository) -> Result<Vec<String>, Failed> {
    Ok(repository
        .packages
        .iter()
        .filter(|package| PHYSICS_CRATES.contains(&package.short()))
        .flat_map(|package| {
            package
                .ours
                .iter()
                .filter(|used| matches!(used.as_str(), "drycoil-findings" | "drycoil-working"))
                .map(|used| format!("the physics crate `{}` uses `{used}`", package.short()))
        })
        .collect())
}

/// `docs/ARCHITECTURE.md` lists what each crate uses, and every crate stands below those that it uses.
pub fn the_table_of_crates_is_true(repository: &Repository) -> Result<Vec<String>, Failed> {
    let rows = architecture::rows(&read(&repository.root.join("docs/ARCHITECTURE.md"))?)?;
    let mut found = architecture::differences(&rows, &repository.packages);
    if !found.is_empty() {
        found.push("`cargo xtask generate` writes the table anew; mean what it then says".into());
    }
    found.extend(architecture::upward(&rows));
    Ok(found)
}

/// Every script of a second opinion is run by `cargo xtask test`.
pub fn second_opinions_are_run(repository: &Repository) -> Result<Vec<String>, Failed> {
    opinions::unlisted(&repository.root)
}
