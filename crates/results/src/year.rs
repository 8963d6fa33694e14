//! The document of a simulated year.

use crate::{CAUTIONS, FindingRecord, editions};
use drycoil_findings::Finding;
use drycoil_project::Project;
use drycoil_units::UnitSystem;
use drycoil_year::assumptions::Assumption;
use drycoil_year::compare::{Estimate, Measure};
use drycoil_year::economy::Economy;
use drycoil_year::free_water::FreeWater;
use drycoil_year::result::Year;
use drycoil_year::told::Told;
use serde::Serialize;

/// Number of the format of year documents.
pub const YEAR_FORMAT: u32 = 1;

/// A simulated year with everything that identifies it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct YearDocument<'a> {
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
    /// The schemes side by side; empty unless both were simulated.
    pub measures: &'a [Measure],
    /// Cost and emissions.
    pub economy: &'a Economy,
    /// What outdoor air allows a waterside economizer, at each loop temperature.
    pub free_water: &'a [FreeWater],
    /// Sizing's yearly estimate beside the simulation; empty unless the decoupled scheme was simulated.
    pub estimates: &'a [Estimate],
    /// What the comparison assumes.
    pub assumptions: &'a [Assumption],
    /// The year.
    pub year: &'a Year,
    /// Findings of input, design and year, waived ones included.
    pub findings: Vec<FindingRecord>,
}

/// What a year document is made of, beside the project.
#[derive(Debug, Clone, Copy)]
pub struct YearParts<'a> {
    /// The year.
    pub year: &'a Year,
    /// Cost and emissions.
    pub economy: &'a Economy,
    /// The schemes side by side.
    pub measures: &'a [Measure],
    /// Sizing's estimate beside the simulation.
    pub estimates: &'a [Estimate],
    /// What outdoor air allows a waterside economizer.
    pub free_water: &'a [FreeWater],
    /// What the comparison assumes.
    pub assumptions: &'a [Assumption],
}

impl<'a> YearParts<'a> {
    /// The parts of a year whose meaning was worked out.
    pub fn of(year: &'a Year, told: &'a Told) -> Self {
        Self {
            year,
            economy: &told.economy,
            measures: &told.measures,
            estimates: &told.estimates,
            free_water: &told.free_water,
            assumptions: &told.assumptions,
        }
    }
}

impl<'a> YearDocument<'a> {
    /// The document of a year. `program` is the version with its commit.
    pub fn new(project: &Project, parts: YearParts<'a>, findings: &[Finding], program: &str) -> Self {
        Self {
            format: YEAR_FORMAT,
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
            measures: parts.measures,
            economy: parts.economy,
            free_water: parts.free_water,
            estimates: parts.estimates,
            assumptions: parts.assumptions,
            year: parts.year,
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
