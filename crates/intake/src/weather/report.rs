//! Collecting findings with a cap per kind.

use drycoil_findings::{Finding, FindingKind, Place, Severity};

/// So many findings of one kind are listed; the rest is counted.
pub(super) const LISTED_PER_KIND: usize = 10;

/// The findings of one file, in the order found.
pub(super) struct Report<'a> {
    file: &'a str,
    list: Vec<Finding>,
    counts: Vec<(&'static FindingKind, usize)>,
}

impl<'a> Report<'a> {
    pub(super) const fn new(file: &'a str) -> Self {
        Self { file, list: Vec::new(), counts: Vec::new() }
    }

    /// The whole file.
    pub(super) fn whole(&self) -> Place {
        Place::file(self.file)
    }

    /// A line (from 1) of the file.
    pub(super) fn line(&self, line: u32) -> Place {
        Place { line: Some(line), ..Place::file(self.file) }
    }

    /// Adds a finding. It is only built while its kind is below the cap.
    pub(super) fn add(&mut self, kind: &'static FindingKind, build: impl FnOnce(&Self, Finding) -> Finding) {
        let seen = if let Some(entry) = self.counts.iter_mut().find(|(k, _)| k.id == kind.id) {
            entry.1 += 1;
            entry.1
        } else {
            self.counts.push((kind, 1));
            1
        };
        if seen <= LISTED_PER_KIND {
            let finding = build(self, Finding::new(kind, ""));
            self.list.push(finding);
        }
    }

    /// Adds a finding that is never left to the count.
    pub(super) fn add_always(&mut self, finding: Finding) {
        self.list.push(finding);
    }

    pub(super) fn has_errors(&self) -> bool {
        self.counts.iter().any(|(k, _)| k.severity == Severity::Error)
            || self.list.iter().any(|f| f.severity() == Severity::Error)
    }

    /// The findings, with the number left out per kind.
    pub(super) fn finish(mut self) -> Vec<Finding> {
        for (kind, total) in &self.counts {
            if *total > LISTED_PER_KIND {
                let more = total - LISTED_PER_KIND;
                let finding = Finding::new(kind, format!("and {more} more: {} ({total} in all)", kind.title))
                    .at(Place::file(self.file));
                let after =
                    self.list.iter().rposition(|f| f.id() == kind.id).map_or(self.list.len(), |i| i + 1);
                self.list.insert(after, finding);
            }
        }
        self.list
    }
}
