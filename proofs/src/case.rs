//! One published table or example.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt;

/// A file that cannot be used, with the reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseError {
    /// Name of the file.
    pub file: String,
    /// What is wrong.
    pub reason: String,
}

impl fmt::Display for CaseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.file, self.reason)
    }
}

impl std::error::Error for CaseError {}

/// How a number was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// Found in a stored excerpt of the publication or of a text that quotes it.
    Found,
    /// From memory of the publication; its text was not read.
    Memory,
    /// Recomputed from the published equations by another program or by hand.
    Recomputed,
    /// Holds numbers that disagree with physics or with their own inputs.
    Disagrees,
}

impl Status {
    /// The words of the documentation.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Memory => "from memory",
            Self::Recomputed => "recomputed",
            Self::Disagrees => "holds printed numbers that disagree",
        }
    }
}

/// Where a case comes from.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Key in `proofs/references.toml`.
    pub key: String,
    /// Table, example or page.
    pub place: String,
    /// How it was read.
    pub status: Vec<Status>,
    /// Where it was read.
    pub read: String,
    /// What else is to know.
    #[serde(default)]
    pub note: String,
}

/// How far a result may be off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToleranceKind {
    /// Half a unit of this decimal place.
    PrintedDigits,
    /// In the unit of the column.
    Abs,
    /// Share of the expected value.
    Rel,
}

/// Tolerance of a result, with its reason.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// How it is meant.
    pub kind: ToleranceKind,
    /// Decimal places, or a width in the unit of the column, or a share.
    pub value: f64,
    /// Why it is as wide as it is.
    pub reason: String,
}

impl Tolerance {
    /// Half width in the unit of the column. A hair is added for numbers that lie exactly between two printed ones.
    pub fn half_width(&self, expected: f64) -> f64 {
        match self.kind {
            ToleranceKind::PrintedDigits => 0.5 * 10f64.powf(-self.value) * (1.0 + 1e-6),
            ToleranceKind::Abs => self.value,
            ToleranceKind::Rel => self.value * expected.abs(),
        }
    }

    /// The words of the documentation.
    pub fn words(&self) -> String {
        match self.kind {
            ToleranceKind::PrintedDigits => format!("printed digits ({} decimals)", self.value),
            ToleranceKind::Abs => format!("{}", self.value),
            ToleranceKind::Rel => {
                let percent = self.value * 100.0;
                if percent >= 0.01 {
                    format!("{} %", tidy(percent))
                } else {
                    format!("{:e} relative", self.value)
                }
            }
        }
    }
}

/// A number without the noise of binary fractions.
pub(crate) fn tidy(x: f64) -> String {
    let text = format!("{x:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What a column is.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// Given to the function.
    Input,
    /// Compared with a result of the function.
    Result(Tolerance),
}

/// One column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name of the input or result of the function.
    pub name: String,
    /// Unit of the numbers; `text` for words.
    pub unit: String,
    /// Input or result.
    pub role: Role,
}

/// One cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A number.
    Number(f64),
    /// Words for a function.
    Text(String),
    /// The source prints nothing here.
    Blank,
    /// The function must refuse the row.
    Refused,
}

/// A printed number that disagrees with physics or with its own inputs.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Discrepancy {
    /// Row, counted from 1.
    pub row: usize,
    /// Column.
    pub column: String,
    /// The value that is right.
    pub recomputed: f64,
    /// Why the printed one is not.
    pub reason: String,
}

/// One published table or example.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Name of the file below `proofs/cases`.
    pub file: String,
    /// Topic.
    pub topic: String,
    /// What is compared.
    pub title: String,
    /// Id of the function of the program.
    pub function: String,
    /// Where it comes from.
    pub source: Source,
    /// Inputs that are the same in every row.
    pub fixed: Vec<(String, String)>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, as long as there are columns.
    pub rows: Vec<Vec<Cell>>,
    /// Printed numbers that disagree.
    pub discrepancies: Vec<Discrepancy>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    topic: String,
    title: String,
    function: String,
    row_count: usize,
    rows: Vec<Vec<WrittenCell>>,
    source: Source,
    #[serde(default)]
    fixed: BTreeMap<String, String>,
    #[serde(default)]
    text: BTreeMap<String, String>,
    column: Vec<WrittenColumn>,
    #[serde(default)]
    known_discrepancy: Vec<Discrepancy>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenColumn {
    name: String,
    unit: String,
    tolerance: Option<Tolerance>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum WrittenCell {
    Number(f64),
    Text(String),
}

impl Case {
    /// Reads a file.
    pub fn parse(file: &str, text: &str) -> Result<Self, CaseError> {
        let error = |reason: String| CaseError { file: file.to_owned(), reason };
        let written: Written =
            toml::from_str(text).map_err(|e| error(e.to_string().trim().replace('\n', "; ")))?;
        if written.rows.len() != written.row_count {
            return Err(error(format!(
                "{} rows, but row_count is {}",
                written.rows.len(),
                written.row_count
            )));
        }
        if written.source.status.is_empty() {
            return Err(error("the source has no status".into()));
        }
        for (what, words) in [
            ("topic", &written.topic),
            ("title", &written.title),
            ("source.place", &written.source.place),
            ("source.read", &written.source.read),
        ] {
            if words.trim().is_empty() {
                return Err(error(format!("`{what}` is empty")));
            }
        }
        let mut columns: Vec<Column> = Vec::new();
        for c in written.column {
            if columns.iter().any(|x| x.name == c.name) || written.fixed.contains_key(&c.name) {
                return Err(error(format!("`{}` is there twice", c.name)));
            }
            let role = match c.tolerance {
                None => Role::Input,
                Some(t) if t.reason.trim().is_empty() => {
                    return Err(error(format!("the tolerance of `{}` has no reason", c.name)));
                }
                Some(t) if !(t.value.is_finite() && t.value >= 0.0) => {
                    return Err(error(format!("the tolerance of `{}` is {}", c.name, t.value)));
                }
                Some(t) => Role::Result(t),
            };
            columns.push(Column { name: c.name, unit: c.unit, role });
        }
        if !columns.iter().any(|c| matches!(c.role, Role::Result(_))) {
            return Err(error("no column has a tolerance, so nothing is compared".into()));
        }
        let mut rows = Vec::new();
        for (index, cells) in written.rows.into_iter().enumerate() {
            let place = index + 1;
            if cells.len() != columns.len() {
                return Err(error(format!(
                    "row {place} has {} cells for {} columns",
                    cells.len(),
                    columns.len()
                )));
            }
            let mut row = Vec::new();
            for (cell, column) in cells.into_iter().zip(&columns) {
                row.push(
                    read_cell(cell, column, &written.text).map_err(|r| error(format!("row {place}: {r}")))?,
                );
            }
            if row
                .iter()
                .zip(&columns)
                .all(|(cell, column)| column.role == Role::Input || *cell == Cell::Blank)
            {
                return Err(error(format!("row {place} compares nothing")));
            }
            rows.push(row);
        }
        for d in &written.known_discrepancy {
            let column = columns.iter().position(|c| c.name == d.column && matches!(c.role, Role::Result(_)));
            let cell = column.and_then(|c| rows.get(d.row.wrapping_sub(1)).map(|r| &r[c]));
            if !matches!(cell, Some(Cell::Number(_))) {
                return Err(error(format!(
                    "no printed number in row {} of `{}` to disagree with",
                    d.row, d.column
                )));
            }
            if d.reason.trim().is_empty() {
                return Err(error(format!("the discrepancy in row {} has no reason", d.row)));
            }
        }
        if written.known_discrepancy.is_empty() == written.source.status.contains(&Status::Disagrees) {
            return Err(error(
                "`disagrees` stands in the status exactly when a discrepancy is listed".into(),
            ));
        }
        Ok(Self {
            file: file.to_owned(),
            topic: written.topic,
            title: written.title,
            function: written.function,
            source: written.source,
            fixed: written.fixed.into_iter().collect(),
            columns,
            rows,
            discrepancies: written.known_discrepancy,
        })
    }
}

fn read_cell(cell: WrittenCell, column: &Column, texts: &BTreeMap<String, String>) -> Result<Cell, String> {
    let result = matches!(column.role, Role::Result(_));
    match cell {
        WrittenCell::Number(x) if x.is_finite() && column.unit != "text" => Ok(Cell::Number(x)),
        WrittenCell::Number(x) => Err(format!("`{}` cannot be {x}", column.name)),
        WrittenCell::Text(t) if result => match t.as_str() {
            "-" => Ok(Cell::Blank),
            "refused" => Ok(Cell::Refused),
            _ => Err(format!("`{}` is neither a number nor `-` nor `refused`: `{t}`", column.name)),
        },
        WrittenCell::Text(t) if t == "-" => Ok(Cell::Blank),
        WrittenCell::Text(t) if column.unit == "text" => match t.strip_prefix('@') {
            None => Ok(Cell::Text(t)),
            Some(name) => {
                texts.get(name).cloned().map(Cell::Text).ok_or_else(|| format!("there is no text `{name}`"))
            }
        },
        WrittenCell::Text(t) => Err(format!("`{}` is not a number: `{t}`", column.name)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "topic='a'\ntitle='b'\nfunction='air.saturation_pressure'\n";
    const TAIL: &str = "[source]\nkey='k'\nplace='p'\nstatus=['found']\nread='r'\n[[column]]\nname='dry_bulb'\nunit='degC'\n\
                        [[column]]\nname='saturation_pressure'\nunit='Pa'\n\
                        tolerance={kind='abs',value=1,reason='x'}\n";

    fn reason(rows: &str, more: &str) -> String {
        Case::parse("f", &format!("{HEAD}{rows}\n{TAIL}{more}")).unwrap_err().reason
    }

    #[test]
    fn rows_that_do_not_parse_are_refused() {
        assert!(Case::parse("f", &format!("{HEAD}row_count=1\nrows=[[1,2]]\n{TAIL}")).is_ok());
        assert!(reason("row_count=2\nrows=[[1,2]]", "").contains("row_count"));
        assert!(reason("row_count=1\nrows=[[1]]", "").contains("1 cells"));
        assert!(reason("row_count=1\nrows=[[1,'12 Pa']]", "").contains("neither a number"));
        assert!(reason("row_count=1\nrows=[['warm',12]]", "").contains("not a number"));
        assert!(reason("row_count=1\nrows=[[1,'-']]", "").contains("compares nothing"));
        assert!(reason("row_count=1\nrows=[[1,nan]]", "").contains("cannot be"));
    }

    #[test]
    fn a_discrepancy_needs_its_number_its_reason_and_its_status() {
        let d = |row: usize, why: &str| {
            format!(
                "[[known_discrepancy]]\nrow={row}\ncolumn='saturation_pressure'\nrecomputed=3\nreason='{why}'\n"
            )
        };
        assert!(reason("row_count=1\nrows=[[1,2]]", &d(2, "x")).contains("no printed number"));
        assert!(reason("row_count=1\nrows=[[1,2]]", &d(1, "")).contains("no reason"));
        assert!(reason("row_count=1\nrows=[[1,2]]", &d(1, "x")).contains("`disagrees`"));
    }
}
