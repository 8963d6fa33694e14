//! The document of the excursions of a project.

use crate::{CAUTIONS, FindingRecord};
use drycoil_control::excursion::result::ExcursionResult;
use drycoil_control::excursion::sample::Robustness;
use drycoil_findings::Finding;
use drycoil_project::Project;
use drycoil_units::UnitSystem;
use serde::Serialize;

/// Number of the format of excursion documents.
pub const EXCURSION_FORMAT: u32 = 1;

/// What outranks the sequence; it stands on every excursion.
pub const SEQUENCE_CAUTION: &str =
    "Life safety, smoke control and health-care room pressure outrank the dew-point sequence at all times.";

/// An assumed number of the excursion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExcursionAssumption {
    /// What.
    pub what: String,
    /// Value.
    pub value: f64,
    /// Unit.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
}

/// The excursions of a project with everything that identifies them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExcursionDocument<'a> {
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
    /// Cautions of the trade; what outranks the sequence stands first.
    pub cautions: Vec<String>,
    /// What is assumed where the project holds no number.
    pub assumptions: Vec<ExcursionAssumption>,
    /// Cases, in their order.
    pub cases: Vec<&'a ExcursionResult>,
    /// What samples of a case show; empty when none were drawn.
    pub robustness: &'a [Robustness],
    /// Findings of input, design, sequence and excursions, waived ones included.
    pub findings: Vec<FindingRecord>,
}

impl<'a> ExcursionDocument<'a> {
    /// The document. `assumptions` as [`drycoil_control::excursion::building::Physics::listed`] gives them.
    pub fn new(
        project: &Project,
        cases: Vec<&'a ExcursionResult>,
        robustness: &'a [Robustness],
        assumptions: &[(&str, f64, &str)],
        findings: &[Finding],
        program: &str,
    ) -> Self {
        Self {
            format: EXCURSION_FORMAT,
            program: program.to_owned(),
            project: project.name.value.clone(),
            revision: project.revision.value.clone(),
            fingerprint: format!("{:016x}", project.fingerprint),
            units: match project.units() {
                UnitSystem::Si => "si",
                UnitSystem::Ip => "ip",
            }
            .to_owned(),
            cautions: std::iter::once(SEQUENCE_CAUTION).chain(CAUTIONS).map(str::to_owned).collect(),
            assumptions: assumptions
                .iter()
                .map(|(what, value, unit)| ExcursionAssumption {
                    what: (*what).to_owned(),
                    value: *value,
                    unit: (*unit).to_owned(),
                    source: "common practice, no source".to_owned(),
                })
                .collect(),
            cases,
            robustness,
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
