//! Project folders on the disk.

use crate::{Context, Failure, files};
use drycoil_intake::job::{self, Job};
use drycoil_intake::{FileSet, project as intake};
use drycoil_server::{Folder, Guard};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Where a named file lies. The names of a project use `/`, whatever the system.
fn path_in(folder: &Path, name: &str) -> PathBuf {
    if name.starts_with('/') || name.as_bytes().get(1) == Some(&b':') {
        return PathBuf::from(name);
    }
    let mut path = folder.to_path_buf();
    for part in name.split('/') {
        path.push(part);
    }
    path
}

/// The files of a folder. Each file is read once.
#[derive(Debug)]
pub struct FolderFiles {
    folder: PathBuf,
    read: RefCell<BTreeMap<String, Arc<[u8]>>>,
}

impl FolderFiles {
    /// The files of this folder.
    ///
    /// # Errors
    /// The folder cannot be looked into.
    pub fn open(folder: &Path) -> Result<Self, Failure> {
        std::fs::read_dir(folder).map_err(|error| Failure::reading(folder, error))?;
        Ok(Self { folder: folder.to_path_buf(), read: RefCell::default() })
    }

    /// The texts that were read, for drawing findings.
    fn texts(&self) -> Vec<(String, String)> {
        let read = self.read.borrow();
        read.iter()
            .filter(|(name, _)| {
                !std::path::Path::new(name).extension().is_some_and(|e| e.eq_ignore_ascii_case("xlsx"))
            })
            .map(|(name, bytes)| {
                let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
                (name.clone(), intake::text_of(bytes))
            })
            .collect()
    }
}

impl FileSet for FolderFiles {
    fn list(&self) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(&self.folder) else { return Vec::new() };
        let mut names: Vec<String> = entries
            .filter_map(Result::ok)
            .filter(|e| e.file_type().is_ok_and(|t| t.is_file()))
            .map(|e| e.file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    fn bytes(&self, name: &str) -> Result<Option<Arc<[u8]>>, String> {
        if let Some(bytes) = self.read.borrow().get(name) {
            return Ok(Some(bytes.clone()));
        }
        match std::fs::read(path_in(&self.folder, name)) {
            Ok(bytes) => {
                let bytes: Arc<[u8]> = bytes.into();
                self.read.borrow_mut().insert(name.to_owned(), bytes.clone());
                Ok(Some(bytes))
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error.to_string()),
        }
    }
}

/// Held by every page on a folder while it compares and writes.
const LOCK: &str = ".drycoil.lock";

/// A project folder that is read again and again, and written: that of the page.
#[derive(Debug)]
pub struct OpenFolder {
    folder: PathBuf,
}

impl OpenFolder {
    /// This folder.
    ///
    /// # Errors
    /// The folder cannot be looked into.
    pub fn open(folder: &Path) -> Result<Self, Failure> {
        std::fs::read_dir(folder).map_err(|error| Failure::reading(folder, error))?;
        let folder = std::path::absolute(folder).map_err(|error| Failure::reading(folder, error))?;
        Ok(Self { folder })
    }

    /// Where a file lies that may be written: directly in the folder.
    fn own(&self, name: &str) -> io::Result<PathBuf> {
        let plain = !name.is_empty() && !name.contains(['/', '\\', ':', '\0']) && name != "." && name != "..";
        if plain { Ok(self.folder.join(name)) } else { Err(io::Error::from(io::ErrorKind::InvalidInput)) }
    }
}

impl Folder for OpenFolder {
    fn list(&self) -> io::Result<Vec<String>> {
        let mut names: Vec<String> = std::fs::read_dir(&self.folder)?
            .filter_map(Result::ok)
            .filter(|e| e.file_type().is_ok_and(|t| t.is_file()))
            .map(|e| e.file_name().to_string_lossy().into_owned())
            .filter(|name| name != LOCK && name != drycoil_server::desk::DRAFTS)
            .collect();
        names.sort();
        Ok(names)
    }

    fn read(&self, name: &str) -> io::Result<Option<Vec<u8>>> {
        match std::fs::read(path_in(&self.folder, name)) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn write(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        files::write(&self.own(name)?, bytes)
            .map_err(|failure| io::Error::other(failure.text().trim().to_owned()))
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        match std::fs::remove_file(self.own(name)?) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    fn lock(&self) -> io::Result<Guard> {
        let file =
            std::fs::File::options().create(true).truncate(false).write(true).open(self.folder.join(LOCK))?;
        file.lock()?;
        Ok(Box::new(file))
    }

    fn stamp(&self, name: &str) -> u64 {
        let Ok(meta) = std::fs::metadata(path_in(&self.folder, name)) else { return 0 };
        let mut hasher = DefaultHasher::new();
        (meta.len(), meta.modified().ok()).hash(&mut hasher);
        hasher.finish().max(1)
    }
}

/// Reads a project with its weather; the texts are kept for drawing findings, and with `--verbose` it is said what was
/// read and which defaults apply.
///
/// # Errors
/// The folder cannot be read, or everything that is wrong with the project.
pub fn load(folder: &Path, context: &mut Context) -> Result<Job, Failure> {
    let files = FolderFiles::open(folder)?;
    let result = job::read(&files);
    for (name, text) in files.texts() {
        context.sources.add(name, text);
    }
    let mut job = result.map_err(Failure::Findings)?;
    let system = context.settings.unit_system(Some(job.loaded.project.units()));
    job.loaded.project = job.loaded.project.told_in(system);
    for (name, size) in &job.loaded.read {
        context.detail(&format!("read {name}: {size} bytes"));
    }
    context.detail(&format!(
        "read {}: {}, {}",
        job.loaded.weather_file,
        job.weather.year.format(),
        job.weather.year.station().name
    ));
    for d in &job.loaded.defaults {
        context.detail(&format!("default: {} = {} ({}; {})", d.key, d.text, d.rule, d.source));
    }
    Ok(job)
}
