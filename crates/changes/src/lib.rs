//! What changed between two revisions of a job: inputs, scheduled numbers, findings, and which changed input leads to
//! which number.
//!
//! A scheduled number depends on other scheduled numbers and on inputs; its calculation lines say on which. [`compare`]
//! walks them backwards from each number that changed. Where no formula stands between two numbers, because one was chosen
//! by a search or simulated, the step says so ([`StepKind`]). A number whose cause is not found has none.
//!
//! [`compare_documents`] compares two result files, which hold no inputs and no working.
//!
//! ```
//! use drycoil_changes::{Revision, compare};
//! use drycoil_intake::{MemoryFiles, job, project::written_values};
//! use drycoil_units::UnitSystem;
//! # let year = std::fs::read("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
//! # let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
//! let files = |people: &str| {
//!     MemoryFiles::new()
//!         .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//!         .with("rooms.csv", format!("id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,{people}\n"))
//!         .with("year.csv", &year)
//! };
//! let (before, after) = (files("18"), files("20"));
//! let jobs = [&before, &after].map(|f| job::read(f).unwrap());
//! let designs =
//!     jobs.each_ref().map(|j| drycoil_sizing::size(&j.loaded.project, &j.weather.year, &pool).unwrap());
//! let written = [&before, &after].map(|f| written_values(f));
//! let revision = |i: usize| Revision {
//!     project: &jobs[i].loaded.project,
//!     design: &designs[i],
//!     written: &written[i],
//!     findings: &designs[i].findings,
//! };
//! let changes = compare(revision(0), revision(1), UnitSystem::Ip, &pool);
//! assert_eq!(changes.inputs.len(), 1);
//! let flow = changes.numbers.iter().find(|n| n.place == "101" && n.quantity == "primary_air_flow").unwrap();
//! assert_eq!(flow.causes[0].input, 0);
//! ```

mod causes;
mod documents;
mod inputs;
mod numbers;

pub use documents::{KeyChange, compare_documents};
pub use inputs::{InputChange, InputChangeKind};
pub use numbers::{CellValue, NumberChange};

use drycoil_findings::Finding;
use drycoil_intake::project::WrittenValue;
use drycoil_project::Project;
use drycoil_results::FindingRecord;
use drycoil_sizing::Design;
use drycoil_units::UnitSystem;
use rayon::ThreadPool;
use serde::Serialize;

/// Number of the format of a document of changes.
pub const CHANGES_FORMAT: u32 = 1;

/// Relative difference below which two results are the same: what another order of sums or a conversion of units loses.
pub(crate) const SAME: f64 = 1e-9;

/// A revision of a job.
#[derive(Debug, Clone, Copy)]
pub struct Revision<'a> {
    /// Project.
    pub project: &'a Project,
    /// Its design.
    pub design: &'a Design,
    /// What its files say.
    pub written: &'a [WrittenValue],
    /// Findings of input and design, waived ones included.
    pub findings: &'a [Finding],
}

/// How one number leads to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// The calculation lines of the number use it.
    Formula,
    /// A search that settles the number looks at it.
    Search,
    /// The simulation that gives the number takes it.
    Simulation,
}

/// A step from an input to a number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// How what stands before leads here.
    pub kind: StepKind,
    /// Room, terminal or system.
    pub place: String,
    /// Scheduled quantity.
    pub quantity: String,
}

/// A changed input that leads to a changed number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cause {
    /// Position in [`Changes::inputs`], from 0.
    pub input: usize,
    /// The shortest way from the input to the number, which is its last step.
    pub steps: Vec<Step>,
}

/// Everything that changed.
#[derive(Debug, Clone, Serialize)]
pub struct Changes {
    /// Inputs, in the order of the files.
    pub inputs: Vec<InputChange>,
    /// Scheduled numbers and words, in the order of the schedules.
    pub numbers: Vec<NumberChange>,
    /// Findings that the new revision has and the old one has not.
    pub arisen: Vec<FindingRecord>,
    /// Findings that the old revision has and the new one has not.
    pub gone: Vec<FindingRecord>,
}

impl Changes {
    /// Whether nothing changed at all.
    pub fn is_empty(&self) -> bool {
        self.inputs.is_empty() && self.numbers.is_empty() && self.arisen.is_empty() && self.gone.is_empty()
    }

    /// Numbers that look different in print.
    pub fn printed(&self) -> impl Iterator<Item = &NumberChange> {
        self.numbers.iter().filter(|n| n.printed)
    }
}

/// Compares two revisions. `system` decides which differences are seen in print.
pub fn compare(before: Revision<'_>, after: Revision<'_>, system: UnitSystem, pool: &ThreadPool) -> Changes {
    let inputs = inputs::compare(before.written, after.written);
    let mut nodes = numbers::compare(before, after, system);
    causes::attach(before, after, &inputs, &mut nodes, pool);
    let arisen = without(after.findings, before.findings).into_iter().map(FindingRecord::from).collect();
    let gone = without(before.findings, after.findings).into_iter().map(FindingRecord::from).collect();
    Changes { inputs, numbers: nodes, arisen, gone }
}

/// The findings of `after` that `before` has not. Two findings are the same when they are of one kind and point at the
/// same thing, whatever the numbers in their sentences.
pub fn arisen<'a>(before: &[Finding], after: &'a [Finding]) -> Vec<&'a Finding> {
    without(after, before)
}

fn without<'a>(list: &'a [Finding], other: &[Finding]) -> Vec<&'a Finding> {
    let name = |f: &Finding| {
        let place = f.places.first().cloned().unwrap_or_default();
        // Rows and lines move when others are added; the part and the key stay.
        let row = if place.part.is_some() { None } else { place.row };
        (f.id(), place.file, place.key, place.part, row, f.waiver.is_some())
    };
    let mut there: Vec<_> = other.iter().map(name).collect();
    list.iter()
        .filter(|f| match there.iter().position(|n| *n == name(f)) {
            Some(at) => {
                there.swap_remove(at);
                false
            }
            None => true,
        })
        .collect()
}

/// What identifies a revision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RevisionHead {
    /// Name of the job.
    pub project: String,
    /// Revision of the design.
    pub revision: String,
    /// Hash of all input bytes.
    pub fingerprint: String,
}

/// Changes with everything that identifies them.
#[derive(Debug, Clone, Serialize)]
pub struct ChangesDocument {
    /// Number of this format.
    pub format: u32,
    /// Version of the program, with its commit.
    pub program: String,
    /// The old revision.
    pub before: RevisionHead,
    /// The new revision.
    pub after: RevisionHead,
    /// What changed between two projects; null when result files were compared.
    pub changes: Option<Changes>,
    /// What differs between two result files; null when projects were compared.
    pub keys: Option<Vec<KeyChange>>,
}
