//! The whole set of documents.

use crate::issue::{Issue, PaperFile};
use crate::register::Register;
use crate::shell::Entry;
use crate::{basis, book, owner, room_sheets, schedules};
use rayon::ThreadPool;

/// All documents of an issue as HTML. The same issue gives the same bytes, on any number of threads.
///
/// ```no_run
/// use drycoil_papers::{Issue, papers};
/// # fn print(issue: &Issue<'_>, pool: &rayon::ThreadPool) {
/// for paper in papers(issue, pool) {
///     assert!(paper.html.starts_with("<!DOCTYPE html>"));
/// }
/// # }
/// ```
pub fn papers(issue: &Issue<'_>, pool: &ThreadPool) -> Vec<PaperFile> {
    pool.install(|| {
        let register = Register::new(issue.project, issue.design);
        let entry = |name: &str, title: &str| Entry { name: name.to_owned(), title: title.to_owned() };
        let mut set = vec![
            entry(owner::NAME, "Owner's page"),
            entry(basis::NAME, "Design basis"),
            entry(room_sheets::NAME, "Room sheets"),
            entry(schedules::NAME, "Schedules"),
        ];
        set.extend(register.volumes.iter().map(|v| entry(&v.name, &v.title)));
        let (((owner, rooms), schedules), (volumes, sources)) = rayon::join(
            || {
                rayon::join(
                    || {
                        rayon::join(
                            || owner::document(issue, &set),
                            || room_sheets::document(issue, &set, &register),
                        )
                    },
                    || schedules::document(issue, &set, &register),
                )
            },
            || book::volumes(issue, &set, &register),
        );
        // The references of the basis are the sources that the book uses.
        let basis = basis::document(issue, &set, &register, &sources);
        let mut files = vec![owner, basis, rooms, schedules];
        files.extend(volumes);
        files
    })
}
