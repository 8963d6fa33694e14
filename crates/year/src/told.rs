//! What a simulated year means: costs, comparison, estimates, findings.

use crate::assumptions::{Assumption, of_method};
use crate::compare::{Estimate, Measure, compare, estimates};
use crate::economy::{AllAirQuantities, Economy, economy};
use crate::findings::findings as findings_of;
use crate::free_water::{FreeWater, free_water};
use crate::plant::all_air_design::all_air_design;
use crate::plant::baseline::of_all_air;
use crate::result::{Scheme, Year};
use drycoil_climate::WeatherYear;
use drycoil_findings::Finding;
use drycoil_project::{Project, SchemeChoice};
use drycoil_sizing::Design;
use std::fmt;

/// The schemes that a project asks for.
///
/// ```
/// use drycoil_year::result::Scheme;
/// assert_eq!(drycoil_year::told::schemes(drycoil_project::SchemeChoice::Both), Scheme::ALL);
/// ```
pub fn schemes(choice: SchemeChoice) -> Vec<Scheme> {
    match choice {
        SchemeChoice::Both => Scheme::ALL.to_vec(),
        SchemeChoice::Decoupled => vec![Scheme::Decoupled],
        SchemeChoice::AllAir => vec![Scheme::AllAir],
    }
}

/// Why a simulated year has no meaning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TellError {
    /// The all-air scheme was simulated and cannot be sized.
    AllAir(String),
    /// The prices cannot be used.
    Prices(String),
}

impl fmt::Display for TellError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AllAir(why) => write!(f, "the all-air scheme cannot be sized: {why}"),
            Self::Prices(why) => write!(f, "the prices cannot be used: {why}"),
        }
    }
}

impl std::error::Error for TellError {}

/// What a simulated year means.
#[derive(Debug, Clone)]
pub struct Told {
    /// Cost and emissions.
    pub economy: Economy,
    /// The schemes side by side; empty unless both were simulated.
    pub measures: Vec<Measure>,
    /// Sizing's yearly estimate beside the simulation.
    pub estimates: Vec<Estimate>,
    /// What outdoor air allows a waterside economizer, at each loop temperature.
    pub free_water: Vec<FreeWater>,
    /// What the comparison assumes.
    pub assumptions: Vec<Assumption>,
    /// What is wrong with the year, or worth knowing.
    pub findings: Vec<Finding>,
}

/// Cost and emissions of the simulated schemes.
///
/// # Errors
/// The all-air scheme cannot be sized, or the prices cannot be used.
pub fn priced(project: &Project, design: &Design, year: &Year) -> Result<Economy, TellError> {
    let all_air = if year.scheme(Scheme::AllAir).is_some() {
        let all_air = all_air_design(project, design).map_err(|e| TellError::AllAir(e.to_string()))?;
        Some(AllAirQuantities::of(&all_air))
    } else {
        None
    };
    economy(project, design, all_air.as_ref(), year).map_err(|e| TellError::Prices(e.to_string()))
}

/// Works out what a simulated year means.
///
/// # Errors
/// As [`priced`].
pub fn tell(
    project: &Project,
    design: &Design,
    weather: &WeatherYear,
    year: &Year,
) -> Result<Told, TellError> {
    let economy = priced(project, design, year)?;
    let measures = compare(design, year, &economy);
    let estimates = estimates(project, design, year);
    let cooling = year.scheme(Scheme::Decoupled).map(|s| s.hourly.cooling_w.as_slice());
    let free_water = free_water(project, design, weather, cooling);
    let mut assumptions = of_method(year.step_s, project.told_units());
    if year.scheme(Scheme::AllAir).is_some() {
        assumptions.extend(of_all_air(project));
    }
    let findings = findings_of(project, design, year, &economy, &measures, &estimates);
    Ok(Told { economy, measures, estimates, free_water, assumptions, findings })
}
