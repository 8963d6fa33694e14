//! Readers over bytes: project files, spreadsheets, weather files.

pub mod weather;
