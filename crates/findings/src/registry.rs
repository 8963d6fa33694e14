//! Every kind of finding. An id is never reused and never changes its meaning.

use crate::{FindingKind, Severity, Stage};

macro_rules! kinds {
    ($($name:ident = $id:literal $severity:ident $stage:ident $title:literal : $why:literal => $remedy:literal;)*) => {
        #[allow(unused_imports)]
        use super::{FindingKind, Severity, Stage};
        $(
            #[doc = concat!("`", $id, "`: ", $title, ".")]
            pub static $name: &FindingKind = &FindingKind {
                id: $id, severity: Severity::$severity, stage: Stage::$stage, title: $title, why: $why, remedy: $remedy,
            };
        )*
        /// All kinds of this module.
        pub static ALL: &[&FindingKind] = &[$(&FindingKind {
            id: $id, severity: Severity::$severity, stage: Stage::$stage, title: $title, why: $why, remedy: $remedy,
        }),*];
    };
}

pub mod comfort;
pub mod dew_point;
pub mod excursion;
pub mod loads;
pub mod plant;
pub mod primary_unit;
pub mod project;
pub mod rooms;
pub mod sequence;
pub mod terminals;
pub mod ventilation;
pub mod weather;
pub mod year;

/// All kinds, sorted by id.
pub fn all() -> Vec<&'static FindingKind> {
    let mut kinds: Vec<&'static FindingKind> = [
        project::ALL,
        rooms::ALL,
        weather::ALL,
        loads::ALL,
        ventilation::ALL,
        dew_point::ALL,
        terminals::ALL,
        primary_unit::ALL,
        plant::ALL,
        comfort::ALL,
        year::ALL,
        sequence::ALL,
        excursion::ALL,
    ]
    .concat();
    kinds.sort_by_key(|k| k.id);
    kinds
}

/// The kind with this id.
pub fn find(id: &str) -> Option<&'static FindingKind> {
    all().into_iter().find(|k| k.id.eq_ignore_ascii_case(id))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_unique_and_pages_are_written() {
        let all = all();
        for pair in all.windows(2) {
            assert_ne!(pair[0].id, pair[1].id);
        }
        for kind in all {
            assert!(kind.why.len() > 30 && kind.remedy.len() > 15, "{}", kind.id);
            assert!(
                kind.severity == Severity::Error
                    || kind.stage == Stage::Result
                    || kind.severity <= Severity::Warning
            );
            // What is shown where a finding has no hint of its own.
            let advice = kind.advice();
            assert!(!advice.ends_with('.') && !advice.starts_with(' '), "{}", kind.id);
            let mut first = advice.chars().take(2);
            let (a, b) = (first.next().unwrap(), first.next().unwrap());
            assert!(!a.is_uppercase() || b.is_uppercase(), "{}: {advice}", kind.id);
        }
    }
}
