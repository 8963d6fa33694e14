//! The document of a sweep.

use drycoil_project::Project;
use drycoil_year::sweep::influence::Influence;
use drycoil_year::sweep::optimum::Optimum;
use drycoil_year::sweep::uncertain::{Sample, WetProbability};
use serde::Serialize;

/// Number of the format of sweep documents.
pub const SWEEP_FORMAT: u32 = 1;

/// A column of numbers of a sweep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MetricRecord {
    /// Name with its unit.
    pub name: String,
    /// A few words.
    pub words: String,
    /// SI unit; `currency` for money, empty for a share.
    pub unit: String,
}

/// A point of a sweep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PointRecord {
    /// Number of the point, from 1.
    pub point: usize,
    /// Value of each input as it was written into the project.
    pub inputs: Vec<String>,
    /// Value of each metric; null where it does not exist.
    pub values: Vec<Option<f64>>,
    /// Whether no other point is better in every goal.
    pub pareto: bool,
    /// Why the point has no result; null otherwise.
    pub problem: Option<String>,
}

/// What the Pareto set asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct GoalRecord {
    /// Name of the metric.
    pub metric: String,
    /// `least` or `most`.
    pub goal: String,
}

/// A sweep with everything that identifies it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SweepDocument {
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
    /// Word for the currency.
    pub currency: String,
    /// Keys that vary.
    pub inputs: Vec<String>,
    /// How points were chosen.
    pub method: String,
    /// Columns of numbers.
    pub metrics: Vec<MetricRecord>,
    /// Points.
    pub points: Vec<PointRecord>,
    /// What the Pareto set asks for.
    pub goals: Vec<GoalRecord>,
    /// How much of the spread of the simulated objective each input explains on its own.
    pub influence: Vec<Influence>,
    /// The best point by sizing and by the simulated year; null when no point has both.
    pub optimum: Option<Optimum>,
}

/// Samples about one design.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UncertaintyDocument {
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
    /// How the samples were drawn and what they mean.
    pub method: String,
    /// The samples.
    pub samples: Vec<Sample>,
    /// Probability of a wet coil by room, the likeliest first.
    pub rooms: Vec<WetProbability>,
    /// Share of the samples in which any coil gets wet in use.
    pub any_wet: f64,
    /// Samples that could not be simulated, with the reason.
    pub problems: Vec<String>,
}

/// Name, revision and fingerprint of a project.
pub(crate) fn identity(project: &Project) -> [String; 3] {
    [project.name.value.clone(), project.revision.value.clone(), format!("{:016x}", project.fingerprint)]
}

impl SweepDocument {
    /// An empty document of a project; `program` is the version with its commit.
    pub fn new(project: &Project, program: &str) -> Self {
        let [name, revision, fingerprint] = identity(project);
        Self {
            format: SWEEP_FORMAT,
            program: program.to_owned(),
            project: name,
            revision,
            fingerprint,
            currency: project.economics.currency.value.clone(),
            inputs: Vec::new(),
            method: String::new(),
            metrics: Vec::new(),
            points: Vec::new(),
            goals: Vec::new(),
            influence: Vec::new(),
            optimum: None,
        }
    }
}

impl UncertaintyDocument {
    /// An empty document of a project; `program` is the version with its commit.
    pub fn new(project: &Project, program: &str) -> Self {
        let [name, revision, fingerprint] = identity(project);
        Self {
            format: SWEEP_FORMAT,
            program: program.to_owned(),
            project: name,
            revision,
            fingerprint,
            method: String::new(),
            samples: Vec::new(),
            rooms: Vec::new(),
            any_wet: 0.0,
            problems: Vec::new(),
        }
    }
}
