//! Readers over bytes: project files, spreadsheets, weather files.
