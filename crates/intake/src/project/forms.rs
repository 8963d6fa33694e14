//! What a form or a grid needs of the project files: the declared keys, and the cells of a table with their places.
//!
//! Nothing here judges: [`crate::job::read`] does. A table that cannot be understood still has cells that can be mended.

use super::keys::{MODEL, PROFILE_COLUMNS, ROOM_COLUMNS, SURFACE_COLUMNS, TABLES};
use super::section::Log;
use super::spec::{KeySpec, Need, Shape, ValueKind};
use super::text::Text;
use super::{sheet, table};
use drycoil_units::QuantityKind;

/// How a declared table stands in its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FormShape {
    /// `[path]`, once.
    Single,
    /// `[path.NAME]`, any number.
    Named,
    /// `[[path]]`, any number.
    List,
}

/// What a field takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FieldKind {
    /// A number with one of the units of this kind.
    Quantity(QuantityKind),
    /// A plain number.
    Number,
    /// A whole number.
    Count,
    /// One of these words.
    Word(&'static [&'static str]),
    /// Text.
    Text,
    /// True or false.
    Flag,
    /// A list, which is written as TOML.
    List,
}

/// A key of `project.toml`, or a column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Name.
    pub name: &'static str,
    /// What it takes.
    pub kind: FieldKind,
    /// Whether it must be written.
    pub required: bool,
    /// What holds when it is not written; empty when it must be.
    pub otherwise: String,
    /// Lowest and highest value in words; empty where any is allowed.
    pub allowed: String,
    /// What it means.
    pub doc: &'static str,
}

/// A declared table of keys.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// File.
    pub file: &'static str,
    /// Dotted name, with `NAME` for a name that the user chooses.
    pub path: &'static str,
    /// How it stands in the file.
    pub shape: FormShape,
    /// What it holds.
    pub doc: &'static str,
    /// Keys.
    pub fields: Vec<Field>,
}

fn field(key: &KeySpec) -> Field {
    let kind = match key.kind {
        ValueKind::Quantity(q, _) => FieldKind::Quantity(q),
        ValueKind::AirFlow(_) => FieldKind::Quantity(QuantityKind::StandardAirFlow),
        ValueKind::Number(..) => FieldKind::Number,
        ValueKind::Count(..) => FieldKind::Count,
        ValueKind::Word(words) => FieldKind::Word(words),
        ValueKind::Text | ValueKind::Name | ValueKind::Date | ValueKind::Facing => FieldKind::Text,
        ValueKind::Flag => FieldKind::Flag,
        ValueKind::Days | ValueKind::Monthly(..) | ValueKind::Hourly(..) | ValueKind::Rows(_) => {
            FieldKind::List
        }
    };
    let allowed = match key.kind {
        ValueKind::Quantity(_, l) | ValueKind::AirFlow(l) => format!("{} to {}", l.low, l.high),
        ValueKind::Number(low, high) => format!("{low} to {high}"),
        ValueKind::Count(low, high) => format!("{low} to {high}"),
        _ => String::new(),
    };
    let otherwise = match key.need {
        Need::Required => String::new(),
        Need::Optional(words) => words.to_owned(),
        Need::Default { text: "", rule, .. } => rule.to_owned(),
        Need::Default { text, .. } => text.to_owned(),
    };
    Field { name: key.name, kind, required: key.need == Need::Required, otherwise, allowed, doc: key.doc }
}

/// The tables of `project.toml` and of `catalogue.toml`, in the order of the documentation.
///
/// ```
/// let forms = drycoil_intake::project::forms();
/// let criteria = forms.iter().find(|f| f.path == "criteria").unwrap();
/// assert!(criteria.fields.iter().any(|f| f.name == "cooling_set_point"));
/// ```
pub fn forms() -> Vec<Form> {
    let of = |file| {
        move |t: &super::spec::TableSpec| Form {
            file,
            path: t.path,
            shape: match t.shape {
                Shape::Single => FormShape::Single,
                Shape::Named => FormShape::Named,
                Shape::List => FormShape::List,
            },
            doc: t.doc,
            fields: t.keys.iter().map(field).collect(),
        }
    };
    TABLES.iter().map(of("project.toml")).chain([of("catalogue.toml")(&MODEL)]).collect()
}

/// The declared columns of `rooms.csv`, `rooms.xlsx`, `surfaces.csv` or `profiles.csv`; empty for any other file.
pub fn columns(file: &str) -> Vec<Field> {
    let keys = match file {
        "rooms.csv" | "rooms.xlsx" => ROOM_COLUMNS,
        "surfaces.csv" => SURFACE_COLUMNS,
        "profiles.csv" => PROFILE_COLUMNS,
        _ => &[],
    };
    keys.iter().map(field).collect()
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellText {
    /// What it holds, without quotation marks and outer blanks.
    pub text: String,
    /// Byte offsets of the field in the text behind a byte-order mark; both 0 in a workbook.
    pub span: (usize, usize),
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowText {
    /// Line of the file, or row of the sheet, from 1.
    pub line: u32,
    /// Cells.
    pub cells: Vec<CellText>,
}

/// A table as it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableText {
    /// Titles.
    pub titles: RowText,
    /// Rows below the titles, in the order of the file.
    pub rows: Vec<RowText>,
}

fn row(line: table::Line) -> RowText {
    let cells = line.cells.into_iter().map(|c| CellText { text: c.text, span: c.span }).collect();
    RowText { line: line.line, cells }
}

fn whole(grid: table::Grid) -> TableText {
    TableText { titles: row(grid.titles), rows: grid.lines.into_iter().map(row).collect() }
}

/// The cells of delimited text, without its byte-order mark.
///
/// # Errors
/// Why it is no table: it is empty, a quotation mark stays open, or a row has too many fields.
///
/// ```
/// let table = drycoil_intake::project::table_text("rooms.csv", "id;name\n101;\"A; B\"\n").unwrap();
/// assert_eq!(table.rows[0].cells[1].text, "A; B");
/// assert_eq!(table.rows[0].cells[1].span, (12, 18));
/// ```
pub fn table_text(file: &str, text: &str) -> Result<TableText, String> {
    let mut log = Log::default();
    let grid = table::grid_of(&Text::new(file, text.to_owned()), &mut log);
    grid.map(whole).ok_or_else(|| said(&log))
}

/// The cells of the room list of a workbook.
///
/// # Errors
/// Why the workbook cannot be read.
pub fn workbook_text(file: &str, bytes: &[u8]) -> Result<TableText, String> {
    let mut log = Log::default();
    let grid = sheet::grid_of(file, bytes, &mut log);
    grid.map(whole).ok_or_else(|| said(&log))
}

fn said(log: &Log) -> String {
    log.findings.first().map_or_else(|| "it is no table".to_owned(), |f| f.message.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_declared_table_is_a_form() {
        let forms = forms();
        assert_eq!(forms.len(), TABLES.len() + 1);
        assert!(forms.iter().all(|f| !f.fields.is_empty()));
        assert!(columns("rooms.csv").iter().any(|f| f.name == "id" && f.required));
        assert!(columns("other.csv").is_empty());
    }

    #[test]
    fn a_table_that_cannot_be_divided_says_why() {
        assert!(table_text("rooms.csv", "id,name\n101,\"open\n").unwrap_err().contains("never closed"));
        assert!(table_text("rooms.csv", "").is_err());
        assert!(workbook_text("rooms.xlsx", b"PK").is_err());
    }
}
