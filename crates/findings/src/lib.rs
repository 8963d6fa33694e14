//! What is wrong with a project or with a result.
//!
//! A finding says what, where, which value, what is allowed, and gives one hint. It knows nothing of how it is
//! drawn. Every finding is an instance of a [`FindingKind`] in the [`registry`], which also holds the text that
//! `drycoil explain ID` prints.
//!
//! ```
//! use drycoil_findings::{Finding, Place, registry};
//! let finding = Finding::new(registry::project::UNKNOWN_KEY, "`flor` is not a key of `[site]`")
//!     .at(Place::line("project.toml", 12, 3).key("site.flor"))
//!     .hint("did you mean `floor`?");
//! assert_eq!(finding.id(), "PF-002");
//! assert!(finding.is_bad_input());
//! ```

pub mod registry;
mod suggest;

pub use suggest::did_you_mean;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing; nothing is wrong.
    Note,
    /// The design works, but somebody must look.
    Warning,
    /// The input cannot be used, or the design does not do its job.
    Error,
}

impl Severity {
    /// The word that is printed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// When a finding arises; decides the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// While reading input. An error here is bad input.
    Input,
    /// In the result.
    Result,
}

/// A kind of finding: its stable id and the page that explains it.
#[derive(Debug, PartialEq, Eq)]
pub struct FindingKind {
    /// Stable id, as in `DP-014`.
    pub id: &'static str,
    /// Severity of every finding of this kind.
    pub severity: Severity,
    /// Input or result.
    pub stage: Stage,
    /// A few words.
    pub title: &'static str,
    /// What it means and why it matters.
    pub why: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

/// Where in the input, or in the building, a finding points.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Place {
    /// File as the project names it, with `/` between folders.
    pub file: Option<String>,
    /// Line in the file, from 1. For a CSV row this is the line of the row in the file.
    pub line: Option<u32>,
    /// Column of the character in the line, from 1.
    pub column: Option<u32>,
    /// Row of a table, from 1 for the first row below the titles.
    pub row: Option<u32>,
    /// Title of the table column, or dotted key of a TOML value, or sheet cell.
    pub key: Option<String>,
    /// Room, terminal or other part of the building.
    pub part: Option<String>,
    /// Byte range in the file, for drawing the source line.
    pub span: Option<(usize, usize)>,
}

impl Place {
    /// A whole file.
    pub fn file(file: impl Into<String>) -> Self {
        Self { file: Some(file.into()), ..Self::default() }
    }

    /// A character of a file.
    pub fn line(file: impl Into<String>, line: u32, column: u32) -> Self {
        Self { file: Some(file.into()), line: Some(line), column: Some(column), ..Self::default() }
    }

    /// A part of the building, such as a room.
    pub fn part(part: impl Into<String>) -> Self {
        Self { part: Some(part.into()), ..Self::default() }
    }

    /// Adds the key or column title.
    #[must_use]
    pub fn key(mut self, key: impl Into<String>) -> Self {
        self.key = Some(key.into());
        self
    }

    /// Adds the table row.
    #[must_use]
    pub fn row(mut self, row: u32) -> Self {
        self.row = Some(row);
        self
    }

    /// Adds the part of the building.
    #[must_use]
    pub fn of(mut self, part: impl Into<String>) -> Self {
        self.part = Some(part.into());
        self
    }

    /// Adds the byte range.
    #[must_use]
    pub fn span(mut self, start: usize, end: usize) -> Self {
        self.span = Some((start, end));
        self
    }
}

impl FindingKind {
    /// What to do about a finding of this kind, worded as a hint: a small letter first, no final stop.
    ///
    /// ```
    /// use drycoil_findings::registry;
    /// let hint = registry::dew_point::ABOVE_LIMIT.advice();
    /// assert!(hint.starts_with("look at ") && !hint.ends_with('.'));
    /// ```
    pub fn advice(&self) -> String {
        let text = self.remedy.trim_end().trim_end_matches('.');
        let mut letters = text.chars();
        match (letters.next(), letters.clone().next()) {
            // A name such as TOML keeps its capitals.
            (Some(first), Some(second)) if !second.is_uppercase() => {
                first.to_lowercase().chain(letters).collect()
            }
            _ => text.to_owned(),
        }
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut sep = "";
        if let Some(file) = &self.file {
            write!(f, "{file}")?;
            if let Some(line) = self.line {
                write!(f, ":{line}")?;
                if let Some(column) = self.column {
                    write!(f, ":{column}")?;
                }
            }
            sep = ", ";
        }
        if let Some(row) = self.row {
            write!(f, "{sep}row {row}")?;
            sep = ", ";
        }
        if let Some(key) = &self.key {
            write!(f, "{sep}`{key}`")?;
            sep = ", ";
        }
        if let Some(part) = &self.part {
            write!(f, "{sep}{part}")?;
        }
        Ok(())
    }
}

/// The decision that a finding is accepted, printed in the papers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiver {
    /// Why.
    pub reason: String,
    /// Role of the person who accepts it.
    pub role: String,
    /// Date as written, `YYYY-MM-DD`.
    pub date: String,
}

/// One thing that is wrong, or worth knowing.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What kind of finding.
    pub kind: &'static FindingKind,
    /// One sentence: lower case, no final stop.
    pub message: String,
    /// The offending value with its unit.
    pub value: Option<String>,
    /// What is allowed.
    pub allowed: Option<String>,
    /// One hint, where there is more to say than for every finding of the kind; [`Finding::advice`] is what is shown.
    pub hint: Option<String>,
    /// Places; the first is the primary one.
    pub places: Vec<Place>,
    /// Set when the project accepts this finding.
    pub waiver: Option<Waiver>,
}

impl Finding {
    /// A finding of this kind.
    pub fn new(kind: &'static FindingKind, message: impl Into<String>) -> Self {
        Self {
            kind,
            message: message.into(),
            value: None,
            allowed: None,
            hint: None,
            places: Vec::new(),
            waiver: None,
        }
    }

    /// Adds a place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.places.push(place);
        self
    }

    /// Adds the offending value, with its unit.
    #[must_use]
    pub fn value(mut self, value: impl Into<String>) -> Self {
        self.value = Some(value.into());
        self
    }

    /// Adds what is allowed.
    #[must_use]
    pub fn allowed(mut self, allowed: impl Into<String>) -> Self {
        self.allowed = Some(allowed.into());
        self
    }

    /// Adds the one hint.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// What to do: the hint of this finding, or else that of its kind.
    pub fn advice(&self) -> String {
        self.hint.clone().unwrap_or_else(|| self.kind.advice())
    }

    /// The stable id.
    pub fn id(&self) -> &'static str {
        self.kind.id
    }

    /// Severity, as declared by the kind.
    pub fn severity(&self) -> Severity {
        self.kind.severity
    }

    /// Whether this finding stops the job before it starts.
    pub fn is_bad_input(&self) -> bool {
        self.kind.stage == Stage::Input && self.kind.severity == Severity::Error
    }
}
