//! Drawing of what the library crates return. Nothing is computed here.

pub mod changes;
pub mod design;
pub mod excursion;
pub mod findings;
pub mod hours;
pub mod progress;
pub mod sheet;
pub mod summary;
pub mod sweep;
pub mod table;
pub mod text;
pub mod year;
