//! Readers over bytes: project files, spreadsheets, weather files.

mod files;
pub mod job;
pub mod project;
pub mod weather;

pub use files::{FileSet, Fingerprint, MemoryFiles};
