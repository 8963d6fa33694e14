//! The files on the desk: changes are compared with what is on the disk at that moment, then written; each window can
//! take its own changes back.

use crate::edit::{self, Change, Conflict, Refused};
use crate::folder::Folder;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Files that the page may change.
pub const FILES: [&str; 5] = ["project.toml", "rooms.csv", "surfaces.csv", "profiles.csv", "catalogue.toml"];
/// Most changes that are made together.
const MAX_CHANGES: usize = 200_000;
/// Steps that a window can take back.
const MAX_STEPS: usize = 500;
/// Windows whose steps are kept.
const MAX_WINDOWS: usize = 32;

/// A change and its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FileChange {
    /// One of [`FILES`].
    pub file: String,
    /// The change.
    pub change: Change,
}

/// What a person did in one go.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// In words, as in `12 cells pasted`.
    pub label: String,
    /// Changes in the order in which they are made.
    pub changes: Vec<FileChange>,
}

/// Text of a cell or key that somebody is still typing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    /// One of [`FILES`].
    pub file: String,
    /// Where it is typed, in words.
    pub place: String,
    /// What it will be when it is finished.
    pub step: Step,
}

/// File of the drafts; it is there only while something is being typed.
pub const DRAFTS: &str = ".drycoil-drafts.json";
/// Most bytes of a draft.
const MAX_DRAFT: usize = 20_000;

/// Why nothing was written.
#[derive(Debug, Clone, PartialEq)]
pub enum Stopped {
    /// Somebody else changed the same.
    Conflicts(Vec<Conflict>),
    /// It cannot be made, in words.
    Impossible(String),
    /// The disk refuses, in words.
    Disk(String),
    /// There is nothing to take back or to repeat.
    Nothing,
}

#[derive(Debug, Default)]
struct Window {
    done: Vec<Step>,
    undone: Vec<Step>,
    used: u64,
}

/// What a window can do next.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct History {
    /// Label of the step that can be taken back.
    pub undo: Option<String>,
    /// Label of the step that can be made again.
    pub redo: Option<String>,
}

/// The desk.
pub struct Desk {
    folder: Arc<dyn Folder>,
    windows: Mutex<BTreeMap<String, Window>>,
    drafts: Mutex<BTreeMap<String, Draft>>,
}

/// The text of a file, its byte-order mark apart.
fn opened(name: &str, bytes: Vec<u8>) -> Result<(bool, String), Stopped> {
    let marked = bytes.starts_with(&[0xef, 0xbb, 0xbf]);
    let text = String::from_utf8(if marked { bytes[3..].to_vec() } else { bytes }).map_err(|_| {
        Stopped::Impossible(format!("{name} is not UTF-8 text; save it as UTF-8 to change it here"))
    })?;
    Ok((marked, text))
}

impl Desk {
    /// A desk on a folder.
    pub fn new(folder: Arc<dyn Folder>) -> Self {
        // A file that cannot be read as drafts holds none; it goes with the next one that is finished.
        let drafts = match folder.read(DRAFTS) {
            Ok(Some(bytes)) => serde_json::from_slice(&bytes).unwrap_or_default(),
            _ => BTreeMap::new(),
        };
        Self { folder, windows: Mutex::default(), drafts: Mutex::new(drafts) }
    }

    /// What is being typed, by window: also what was being typed when a browser or this program ended without notice.
    pub fn drafts(&self) -> BTreeMap<String, Draft> {
        self.drafts.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Keeps what a window is typing, on the disk; none when it is finished.
    ///
    /// # Errors
    /// It is too large or of no file of the project, or the disk refuses.
    pub fn keep_draft(&self, window: &str, draft: Option<Draft>) -> Result<(), Stopped> {
        if let Some(draft) = &draft {
            let bytes = serde_json::to_vec(draft).map_or(usize::MAX, |b| b.len());
            let known = |file: &str| FILES.contains(&file);
            if bytes > MAX_DRAFT || !known(&draft.file) || draft.step.changes.iter().any(|c| !known(&c.file))
            {
                return Err(Stopped::Impossible("this draft cannot be kept".to_owned()));
            }
        }
        let mut drafts = self.drafts.lock().unwrap_or_else(PoisonError::into_inner);
        let changed = match draft {
            Some(draft) => {
                if drafts.len() >= MAX_WINDOWS && !drafts.contains_key(window) {
                    drafts.pop_first();
                }
                drafts.insert(window.to_owned(), draft.clone()) != Some(draft)
            }
            None => drafts.remove(window).is_some(),
        };
        if !changed {
            return Ok(());
        }
        let disk = |e: std::io::Error| Stopped::Disk(e.to_string());
        if drafts.is_empty() {
            return self.folder.remove(DRAFTS).map_err(disk);
        }
        let bytes = serde_json::to_vec(&*drafts).map_err(|e| Stopped::Disk(e.to_string()))?;
        self.folder.write(DRAFTS, &bytes).map_err(disk)
    }

    /// The folder.
    pub fn folder(&self) -> &dyn Folder {
        &*self.folder
    }

    /// Makes a step for a window.
    ///
    /// # Errors
    /// Nothing was written, because of what [`Stopped`] says.
    pub fn make(&self, window: &str, step: &Step) -> Result<(), Stopped> {
        // Held while the disk is compared and written: windows of this server wait for each other here, other programs
        // at the lock of the folder.
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let back = self.write(step)?;
        let history = history(&mut windows, window);
        history.undone.clear();
        history.done.push(back);
        let surplus = history.done.len().saturating_sub(MAX_STEPS);
        history.done.drain(..surplus);
        Ok(())
    }

    /// Takes the last step of a window back.
    ///
    /// # Errors
    /// As [`Desk::make`]; the step stays the last one.
    pub fn undo(&self, window: &str) -> Result<String, Stopped> {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let step = history(&mut windows, window).done.last().cloned().ok_or(Stopped::Nothing)?;
        let forward = self.write(&step)?;
        let history = history(&mut windows, window);
        history.done.pop();
        history.undone.push(forward);
        Ok(step.label)
    }

    /// Makes the step again that was taken back last.
    ///
    /// # Errors
    /// As [`Desk::make`].
    pub fn redo(&self, window: &str) -> Result<String, Stopped> {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        let step = history(&mut windows, window).undone.last().cloned().ok_or(Stopped::Nothing)?;
        let back = self.write(&step)?;
        let history = history(&mut windows, window);
        history.undone.pop();
        history.done.push(back);
        Ok(step.label)
    }

    /// Forgets a step that can no longer be taken back, so that those before it can.
    pub fn forget(&self, window: &str) {
        let mut windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        history(&mut windows, window).done.pop();
    }

    /// What a window can do next.
    pub fn history(&self, window: &str) -> History {
        let windows = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        windows.get(window).map_or_else(History::default, |w| History {
            undo: w.done.last().map(|s| s.label.clone()),
            redo: w.undone.last().map(|s| s.label.clone()),
        })
    }

    /// Makes all changes of a step, or none, and returns the step that takes it back.
    fn write(&self, step: &Step) -> Result<Step, Stopped> {
        if step.changes.is_empty() || step.changes.len() > MAX_CHANGES {
            return Err(Stopped::Impossible(format!("a step has 1 to {MAX_CHANGES} changes")));
        }
        if let Some(other) = step.changes.iter().find(|c| !FILES.contains(&c.file.as_str())) {
            return Err(Stopped::Impossible(format!("`{}` cannot be changed here", other.file)));
        }
        let disk = |e: std::io::Error| Stopped::Disk(e.to_string());
        let _lock = self.folder.lock().map_err(disk)?;
        let mut texts: BTreeMap<&str, (bool, String)> = BTreeMap::new();
        for c in &step.changes {
            if !texts.contains_key(c.file.as_str()) {
                let bytes = self.folder.read(&c.file).map_err(disk)?.unwrap_or_default();
                texts.insert(&c.file, opened(&c.file, bytes)?);
            }
        }
        let before = texts.clone();
        let mut back: Vec<FileChange> = Vec::with_capacity(step.changes.len());
        let mut conflicts = Vec::new();
        let mut at = 0;
        while at < step.changes.len() {
            let file = step.changes[at].file.as_str();
            let Some((_, text)) = texts.get_mut(file) else { break };
            // Cells side by side are changed together.
            let run = step.changes[at..]
                .iter()
                .take_while(|c| c.file == file && matches!(c.change, Change::Cell { .. }))
                .count();
            if run > 1 {
                let cells: Vec<&Change> = step.changes[at..at + run].iter().map(|c| &c.change).collect();
                if let Ok(Some(many)) = edit::apply_cells(file, text, &cells) {
                    *text = many.text;
                    back.extend(
                        many.back.into_iter().map(|change| FileChange { file: file.to_owned(), change }),
                    );
                    at += run;
                    continue;
                }
            }
            // One by one, so that every conflict is known.
            for index in at..at + run.max(1) {
                match edit::apply(file, text, &step.changes[index].change) {
                    Ok(changed) => {
                        *text = changed.text;
                        back.push(FileChange { file: file.to_owned(), change: changed.back });
                    }
                    Err(Refused::Conflict(conflict)) => conflicts.push(Conflict { index, ..conflict }),
                    Err(Refused::Impossible(why)) => return Err(Stopped::Impossible(why)),
                }
            }
            at += run.max(1);
        }
        if !conflicts.is_empty() {
            return Err(Stopped::Conflicts(conflicts));
        }
        for (file, (marked, text)) in &texts {
            if before.get(file).is_some_and(|(_, old)| old == text) {
                continue;
            }
            let mut bytes = if *marked { vec![0xef, 0xbb, 0xbf] } else { Vec::new() };
            bytes.extend_from_slice(text.as_bytes());
            self.folder.write(file, &bytes).map_err(disk)?;
        }
        back.reverse();
        Ok(Step { label: step.label.clone(), changes: back })
    }
}

fn history<'a>(windows: &'a mut BTreeMap<String, Window>, name: &str) -> &'a mut Window {
    let now = windows.values().map(|w| w.used).max().unwrap_or(0) + 1;
    if !windows.contains_key(name) && windows.len() >= MAX_WINDOWS {
        let oldest = windows.iter().min_by_key(|(_, w)| w.used).map(|(n, _)| n.clone());
        if let Some(oldest) = oldest {
            windows.remove(&oldest);
        }
    }
    let window = windows.entry(name.to_owned()).or_default();
    window.used = now;
    window
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::MemoryFolder;

    const ROOMS: &str = "id,people\n101,4\n102,5\n";

    fn desk() -> Desk {
        Desk::new(Arc::new(MemoryFolder::new([
            ("rooms.csv", ROOMS),
            ("project.toml", "[project]\nname = \"A\"\n"),
        ])))
    }

    fn rooms(desk: &Desk) -> String {
        String::from_utf8(desk.folder().read("rooms.csv").unwrap().unwrap()).unwrap()
    }

    fn cell(row: usize, key: &str, was: &str, now: &str) -> FileChange {
        let change =
            Change::Cell { row, key: key.into(), column: 1, was: was.into(), now: now.into(), raw: None };
        FileChange { file: "rooms.csv".into(), change }
    }

    fn step(changes: Vec<FileChange>) -> Step {
        Step { label: "edit".into(), changes }
    }

    #[test]
    fn inv_steps_are_taken_back_across_files_and_made_again() {
        let desk = desk();
        desk.make("a", &step(vec![cell(0, "101", "4", "6"), cell(1, "102", "5", "7")])).unwrap();
        let name = Change::Key {
            path: vec!["project".into(), "name".into()],
            was: Some("\"A\"".into()),
            now: Some(edit::Typed::Text("B".into())),
        };
        desk.make("a", &step(vec![FileChange { file: "project.toml".into(), change: name }])).unwrap();
        assert_eq!(rooms(&desk), "id,people\n101,6\n102,7\n");
        desk.undo("a").unwrap();
        assert_eq!(desk.folder().read("project.toml").unwrap().unwrap(), b"[project]\nname = \"A\"\n");
        desk.undo("a").unwrap();
        assert_eq!(rooms(&desk), ROOMS);
        assert_eq!(desk.undo("a"), Err(Stopped::Nothing));
        desk.redo("a").unwrap();
        desk.redo("a").unwrap();
        assert_eq!(rooms(&desk), "id,people\n101,6\n102,7\n");
        assert_eq!(desk.folder().read("project.toml").unwrap().unwrap(), b"[project]\nname = \"B\"\n");
    }

    #[test]
    fn two_windows_lose_nothing() {
        let desk = desk();
        desk.make("a", &step(vec![cell(0, "101", "4", "6")])).unwrap();
        // Another cell of the same file is no conflict.
        desk.make("b", &step(vec![cell(1, "102", "5", "9")])).unwrap();
        assert_eq!(rooms(&desk), "id,people\n101,6\n102,9\n");
        // The same cell is; nothing of the step is written.
        let stopped = desk.make("b", &step(vec![cell(1, "102", "9", "8"), cell(0, "101", "4", "5")]));
        let Err(Stopped::Conflicts(c)) = stopped else { panic!("{stopped:?}") };
        assert_eq!((c.len(), c[0].index, c[0].theirs.clone()), (1, 1, Some("6".into())));
        assert_eq!(rooms(&desk), "id,people\n101,6\n102,9\n");
        // Each window takes back its own.
        desk.undo("a").unwrap();
        assert_eq!(rooms(&desk), "id,people\n101,4\n102,9\n");
        assert_eq!(desk.history("b").undo.as_deref(), Some("edit"));
    }

    #[test]
    fn an_edit_from_outside_is_kept() {
        let desk = desk();
        desk.make("a", &step(vec![cell(0, "101", "4", "6")])).unwrap();
        desk.folder().write("rooms.csv", b"# mine\nid,people\n100,1\n101,8\n102,5\n").unwrap();
        assert!(matches!(desk.undo("a"), Err(Stopped::Conflicts(_))));
        desk.make("a", &step(vec![cell(0, "101", "8", "9")])).unwrap();
        assert_eq!(rooms(&desk), "# mine\nid,people\n100,1\n101,9\n102,5\n");
    }

    #[test]
    fn only_the_files_of_the_project_are_written() {
        let desk = desk();
        for file in ["../rooms.csv", "/etc/passwd", "rooms.csv/../x", "results/design.json", "ROOMS.CSV", ""]
        {
            let mut change = cell(0, "101", "4", "6");
            change.file = file.into();
            assert!(matches!(desk.make("a", &step(vec![change])), Err(Stopped::Impossible(_))), "{file}");
        }
        assert!(matches!(desk.make("a", &step(vec![])), Err(Stopped::Impossible(_))));
    }

    #[test]
    fn a_byte_order_mark_stays_and_other_encodings_are_refused() {
        let desk = Desk::new(Arc::new(MemoryFolder::new([
            ("rooms.csv", &b"\xef\xbb\xbfid,people\r\n101,4\r\n"[..]),
            ("surfaces.csv", &b"id,people\n\xe9,4\n"[..]),
        ])));
        desk.make("a", &step(vec![cell(0, "101", "4", "6")])).unwrap();
        assert_eq!(desk.folder().read("rooms.csv").unwrap().unwrap(), b"\xef\xbb\xbfid,people\r\n101,6\r\n");
        let mut change = cell(0, "x", "4", "6");
        change.file = "surfaces.csv".into();
        assert!(matches!(desk.make("a", &step(vec![change])), Err(Stopped::Impossible(_))));
    }
}
