//! Schedules and papers from results.
//!
//! Papers print what the design holds: a cell of a schedule holds the full value, and only its number format rounds.
//!
//! ```no_run
//! use drycoil_papers::schedules_xlsx;
//! use drycoil_results::ResultDocument;
//! use drycoil_units::UnitSystem;
//! # fn issue(project: &drycoil_project::Project, design: &drycoil_sizing::Design) -> Result<(), drycoil_papers::XlsxError> {
//! let document = ResultDocument::new(project, design, &design.findings, "0.1.0");
//! let bytes = schedules_xlsx(project, design, &document, &design.findings, UnitSystem::Ip)?;
//! assert!(bytes.starts_with(b"PK"));
//! # Ok(())
//! # }
//! ```

mod workbook;

pub use rust_xlsxwriter::XlsxError;
pub use workbook::schedules_xlsx;
