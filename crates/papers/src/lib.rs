//! Schedules and papers from results.
//!
//! Papers print what the design holds: a cell of a schedule holds the full value, and only its number format rounds.

mod workbook;

pub use rust_xlsxwriter::XlsxError;
pub use workbook::schedules_xlsx;
