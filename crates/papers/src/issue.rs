//! What papers are made of, and what they are made into.

use drycoil_findings::Finding;
use drycoil_project::Project;
use drycoil_results::{ResultDocument, YearParts};
use drycoil_sizing::Design;
use drycoil_units::UnitSystem;

/// The paper that documents are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// 8.5 by 11 in.
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl PaperSize {
    /// The word of a style sheet.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Letter => "letter",
            Self::A4 => "A4",
        }
    }

    /// Width across the long side less margins, in points of 1/72 in.
    pub(crate) const fn landscape_width_pt(self) -> f64 {
        match self {
            Self::Letter => 11.0 * 72.0 - 2.0 * MARGIN_PT,
            Self::A4 => 297.0 / 25.4 * 72.0 - 2.0 * MARGIN_PT,
        }
    }
}

/// Margin at the left and at the right, in points: the one of the style sheet.
const MARGIN_PT: f64 = 0.6 * 72.0;

/// Whether documents point at each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Links {
    /// They do: a set of files in one folder.
    BetweenFiles,
    /// Each stands alone, as a printed one does; links within a document stay.
    WithinFile,
}

/// A default that applied because the project says nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AppliedDefault {
    /// Key of the project.
    pub key: String,
    /// The value as it would be written.
    pub text: String,
    /// What the default is.
    pub rule: String,
    /// Where it comes from.
    pub source: String,
}

/// A revision of a job, ready to be issued.
#[derive(Debug, Clone, Copy)]
pub struct Issue<'a> {
    /// Project, told in [`Issue::system`].
    pub project: &'a Project,
    /// Its design.
    pub design: &'a Design,
    /// What identifies it.
    pub document: &'a ResultDocument<'a>,
    /// Findings of input, design and year, waived ones included.
    pub findings: &'a [Finding],
    /// The simulated year; documents without it say so.
    pub year: Option<YearParts<'a>>,
    /// Defaults that applied.
    pub defaults: &'a [AppliedDefault],
    /// The weather file and its station, in words.
    pub weather: &'a str,
    /// Unit system of all numbers.
    pub system: UnitSystem,
    /// Paper.
    pub paper: PaperSize,
    /// Whether documents point at each other.
    pub links: Links,
}

/// A document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaperFile {
    /// Name without ending: `design-basis`.
    pub name: String,
    /// Title in words.
    pub title: String,
    /// The whole document.
    pub html: String,
    /// Pictures that could not be drawn, with the reason; the document says the same in their place.
    pub not_drawn: Vec<String>,
}

impl PaperFile {
    /// Name of the HTML file.
    pub fn file_name(&self) -> String {
        format!("{}.html", self.name)
    }
}
