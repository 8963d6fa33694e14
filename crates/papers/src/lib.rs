//! Schedules and papers from results.
//!
//! Papers print what the design holds: a cell of a schedule holds the full value, and only its number format rounds.
//!
//! [`papers`] gives the documents as HTML that is whole in itself and ready for print: [`Issue`] is what they are made of.
//! [`schedules_xlsx`] gives the schedules as a workbook. [`sequence_papers`] and [`points_xlsx`] hand over the controls.
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

mod basis;
mod book;
mod changes;
mod issue;
mod numbers;
mod owner;
pub mod pictures;
mod register;
mod room_sheets;
mod schedules;
mod sequence;
mod set;
mod shell;
mod table;
mod workbook;

pub use changes::changes_paper;
pub use issue::{AppliedDefault, Issue, Links, PaperFile, PaperSize};
pub use numbers::{Numbers, grouped};
pub use owner::{OwnerSection, owner_sections};
pub use rust_xlsxwriter::XlsxError;
pub use sequence::{
    HandOver, POINT_COLUMNS, ZoneAir, point_cells, point_kind_word, points_xlsx, sequence_markdown,
    sequence_papers,
};
pub use set::papers;
pub use workbook::{schedules_xlsx, shown_number};
