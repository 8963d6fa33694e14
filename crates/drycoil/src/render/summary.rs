//! The owner's page on a terminal: what a year of both schemes means, in plain words.

use super::text::{clean, wrap};
use super::year::Show;
use drycoil_papers::owner_sections;
use drycoil_project::Project;
use drycoil_results::YearParts;
use drycoil_sizing::Design;
use std::fmt::Write as _;

/// One page of plain sentences.
pub fn draw(project: &Project, design: &Design, parts: &YearParts<'_>, show: Show<'_>) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{}, revision {}: a year of operation in short",
        clean(&project.name.value),
        clean(&project.revision.value)
    );
    for (title, sentences) in owner_sections(project, design, parts, show.numbers()) {
        let _ = writeln!(out, "\n{title}\n{}", wrap(&clean(&sentences.join(" ")), show.width, ""));
    }
    out
}
