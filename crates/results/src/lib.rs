//! Versioned result documents: one serialisation for the command line, the page and the tests.
//!
//! Values are SI and every key carries its unit; `docs/RESULTS_FORMAT.md` documents all of them. Until the first
//! release the keys may still grow within format 1; from the first release on any change of the set of keys takes a new
//! number.
//!
//! ```
//! use drycoil_results::{ResultDocument, key_paths};
//! # use drycoil_intake::{MemoryFiles, job};
//! # let year = std::fs::read("../../examples/weather/greensboro-nc-tmy3.csv").unwrap();
//! # let files = MemoryFiles::new()
//! #     .with("project.toml", "[project]\nformat = 1\nname = \"One room\"\n[site]\nweather = \"year.csv\"\n")
//! #     .with("rooms.csv", "id,floor,kind,floor_area [ft2],people\n101,1,meeting,420,20\n")
//! #     .with("year.csv", year);
//! # let job = job::read(&files).unwrap();
//! # let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
//! # let project = &job.loaded.project;
//! # let design = drycoil_sizing::size(project, &job.weather.year, &pool).unwrap();
//! let document = ResultDocument::new(project, &design, &design.findings, "0.1.0");
//! let value: serde_json::Value = serde_json::from_slice(&document.to_json().unwrap()).unwrap();
//! assert_eq!(value["format"], drycoil_results::FORMAT);
//! assert!(key_paths(&value).contains("design.dew_point.supply_dew_point_c"));
//! ```

mod excursion;
mod sheet;
mod sweep;
mod year;

pub use excursion::{EXCURSION_FORMAT, ExcursionAssumption, ExcursionDocument, SEQUENCE_CAUTION};
pub use sheet::{InputRecord, LineRecord, OriginRecord, SheetRecord, SourceRecord};
pub use sweep::{GoalRecord, MetricRecord, PointRecord, SWEEP_FORMAT, SweepDocument, UncertaintyDocument};
pub use year::{YEAR_FORMAT, YearDocument, YearParts};

use drycoil_findings::{Finding, Place, Waiver};
use drycoil_project::Project;
use drycoil_sizing::Design;
use drycoil_units::UnitSystem;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;

/// Number of the result format.
pub const FORMAT: u32 = 1;

/// What stands on every document.
pub const CAUTIONS: [&str; 4] = [
    "Results are design aids for a licensed engineer, who remains responsible for the design.",
    "Local code, the adopted edition of each standard and the authority having jurisdiction govern.",
    "Health-care pressure and air-change rooms, smoke control, refrigerants, legionella and electrical work need their \
     own qualified design.",
    "Values marked `from memory` or `common practice, no source` must be checked against the adopted documents.",
];

/// A place in the input or in the building.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlaceRecord {
    /// File as the project names it; null for a part of the building.
    pub file: Option<String>,
    /// Line in the file; null where none applies.
    pub line: Option<u32>,
    /// Column of the character in the line; null where none applies.
    pub column: Option<u32>,
    /// Row of a table; null where none applies.
    pub row: Option<u32>,
    /// Title of the table column or dotted key; null where none applies.
    pub key: Option<String>,
    /// Room, terminal or other part; null where none applies.
    pub part: Option<String>,
}

impl From<&Place> for PlaceRecord {
    fn from(p: &Place) -> Self {
        Self {
            file: p.file.clone(),
            line: p.line,
            column: p.column,
            row: p.row,
            key: p.key.clone(),
            part: p.part.clone(),
        }
    }
}

/// The decision that a finding is accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WaiverRecord {
    /// Why.
    pub reason: String,
    /// Role of the person who accepts it.
    pub role: String,
    /// Date as written.
    pub date: String,
}

impl From<&Waiver> for WaiverRecord {
    fn from(w: &Waiver) -> Self {
        Self { reason: w.reason.clone(), role: w.role.clone(), date: w.date.clone() }
    }
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingRecord {
    /// Stable id; `drycoil explain ID` prints its page.
    pub id: String,
    /// `note`, `warning` or `error`.
    pub severity: String,
    /// A few words on the kind of finding.
    pub title: String,
    /// One sentence.
    pub message: String,
    /// The offending value with its unit; null where none applies.
    pub value: Option<String>,
    /// What is allowed; null where none applies.
    pub allowed: Option<String>,
    /// What to do: one hint.
    pub hint: String,
    /// Places; the first is the primary one.
    pub places: Vec<PlaceRecord>,
    /// Set when the project accepts this finding; null otherwise.
    pub waiver: Option<WaiverRecord>,
}

impl From<&Finding> for FindingRecord {
    fn from(f: &Finding) -> Self {
        Self {
            id: f.id().to_owned(),
            severity: f.severity().word().to_owned(),
            title: f.kind.title.to_owned(),
            message: f.message.clone(),
            value: f.value.clone(),
            allowed: f.allowed.clone(),
            hint: f.advice(),
            places: f.places.iter().map(Into::into).collect(),
            waiver: f.waiver.as_ref().map(Into::into),
        }
    }
}

/// A design with everything that identifies it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ResultDocument<'a> {
    /// Number of this format.
    pub format: u32,
    /// Version of the program, with its commit.
    pub program: String,
    /// Name of the job.
    pub project: String,
    /// Revision of the design.
    pub revision: String,
    /// Hash of all input bytes.
    pub fingerprint: String,
    /// Unit system in which the project shows numbers, `si` or `ip`; the numbers of this document are SI.
    pub units: String,
    /// Standards and tables used, with their editions.
    pub editions: Vec<String>,
    /// Cautions of the trade.
    pub cautions: Vec<String>,
    /// The design.
    pub design: &'a Design,
    /// Findings of input and result, waived ones included.
    pub findings: Vec<FindingRecord>,
}

impl<'a> ResultDocument<'a> {
    /// The document of a design. `program` is the version with its commit.
    pub fn new(project: &Project, design: &'a Design, findings: &[Finding], program: &str) -> Self {
        Self {
            format: FORMAT,
            program: program.to_owned(),
            project: project.name.value.clone(),
            revision: project.revision.value.clone(),
            fingerprint: format!("{:016x}", project.fingerprint),
            units: match project.units() {
                UnitSystem::Si => "si",
                UnitSystem::Ip => "ip",
            }
            .to_owned(),
            editions: editions(project),
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
            design,
            findings: findings.iter().map(Into::into).collect(),
        }
    }

    /// The document as indented JSON with a final line end.
    ///
    /// # Errors
    /// When serialisation fails, which no value of the document makes it do.
    pub fn to_json(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut bytes = serde_json::to_vec_pretty(self)?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

/// Standards and tables behind the room kinds in use, without repetition, in order of first use.
pub fn editions(project: &Project) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut add = |text: &str| {
        if !text.is_empty() && !out.iter().any(|o| o == text) {
            out.push(text.to_owned());
        }
    };
    for room in &project.rooms {
        let kind = project.kind_of(room);
        if let Some(v) = &kind.ventilation {
            add(&v.edition);
        }
        if let Some(h) = &kind.health_care {
            add(&h.edition);
        }
        add(&kind.activity.source);
    }
    out
}

/// Paths of all keys of a document: names joined by `.`, `[]` for the entries of a list.
///
/// ```
/// let v = serde_json::json!({ "a": [{ "b_c": 1.0 }], "d": null });
/// let keys: Vec<String> = drycoil_results::key_paths(&v).into_iter().collect();
/// assert_eq!(keys, ["a", "a[].b_c", "d"]);
/// ```
pub fn key_paths(value: &Value) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    walk(value, "", &mut |path, _| {
        out.insert(path.to_owned());
    });
    out
}

/// Paths of the keys that are null somewhere.
pub fn null_paths(value: &Value) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    walk(value, "", &mut |path, v| {
        if v.is_null() {
            out.insert(path.to_owned());
        }
    });
    out
}

fn walk(value: &Value, path: &str, see: &mut impl FnMut(&str, &Value)) {
    match value {
        Value::Object(map) => {
            for (key, v) in map {
                let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                see(&path, v);
                walk(v, &path, see);
            }
        }
        Value::Array(list) => {
            let path = format!("{path}[]");
            for v in list {
                if v.is_null() {
                    see(&path, v);
                }
                walk(v, &path, see);
            }
        }
        _ => {}
    }
}
