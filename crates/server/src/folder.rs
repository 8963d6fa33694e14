//! The project folder as the page sees it.

use drycoil_intake::{FileSet, Fingerprint};
use std::collections::BTreeMap;
use std::io;
use std::sync::{Arc, Mutex, PoisonError};

/// Held while files are compared and written, so that two programs on one folder wait for each other.
pub type Guard = Box<dyn Send>;

/// The files of a project. Names are relative to the folder, with `/` between folders.
///
/// The command line gives a folder of the disk; tests give memory.
pub trait Folder: Send + Sync {
    /// Names of the files directly in the folder, sorted.
    ///
    /// # Errors
    /// The folder cannot be looked into.
    fn list(&self) -> io::Result<Vec<String>>;

    /// The bytes of a file as they are now; `None` when there is none of this name.
    ///
    /// # Errors
    /// The file is there and cannot be read.
    fn read(&self, name: &str) -> io::Result<Option<Vec<u8>>>;

    /// Writes a whole file, or leaves it as it was.
    ///
    /// # Errors
    /// It cannot be written.
    fn write(&self, name: &str, bytes: &[u8]) -> io::Result<()>;

    /// Removes a file that [`Folder::write`] made; nothing happens when there is none.
    ///
    /// # Errors
    /// It cannot be removed.
    fn remove(&self, name: &str) -> io::Result<()>;

    /// Keeps other programs that ask for the same from writing until the guard goes.
    ///
    /// # Errors
    /// The system gives no lock.
    fn lock(&self) -> io::Result<Guard>;

    /// Something that changes when the file does, without reading it; 0 when there is no such file.
    fn stamp(&self, name: &str) -> u64;
}

/// The files as they were at one moment.
#[derive(Debug, Clone, Default)]
pub(crate) struct Copy {
    names: Vec<String>,
    files: BTreeMap<String, Option<Arc<[u8]>>>,
}

/// Reads through to the folder once for each file, so that one reading sees one state.
pub(crate) struct Reading<'a> {
    folder: &'a dyn Folder,
    kept: Mutex<Copy>,
}

impl<'a> Reading<'a> {
    pub fn new(folder: &'a dyn Folder) -> Result<Self, String> {
        let names = folder.list().map_err(|e| e.to_string())?;
        Ok(Self { folder, kept: Mutex::new(Copy { names, files: BTreeMap::new() }) })
    }

    /// Names of all files that were asked for, with what changes when they do.
    pub fn stamps(&self) -> Vec<(String, u64)> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.files.keys().map(|name| (name.clone(), self.folder.stamp(name))).collect()
    }
}

impl FileSet for Reading<'_> {
    fn list(&self) -> Vec<String> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).names.clone()
    }

    fn bytes(&self, name: &str) -> Result<Option<Arc<[u8]>>, String> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bytes) = kept.files.get(name) {
            return Ok(bytes.clone());
        }
        let bytes: Option<Arc<[u8]>> = self.folder.read(name).map_err(|e| e.to_string())?.map(Into::into);
        kept.files.insert(name.to_owned(), bytes.clone());
        Ok(bytes)
    }
}

/// What tells two states of a file apart.
pub(crate) fn version(bytes: &[u8]) -> String {
    let mut f = Fingerprint::default();
    f.add("", bytes);
    format!("{:016x}", f.value())
}

/// Files in memory: for tests and examples.
///
/// ```
/// use drycoil_server::{Folder, MemoryFolder};
/// let folder = MemoryFolder::new([("rooms.csv", "id\n101\n")]);
/// folder.write("rooms.csv", b"id\n102\n").unwrap();
/// assert_eq!(folder.read("rooms.csv").unwrap().unwrap(), b"id\n102\n");
/// ```
#[derive(Debug, Default)]
pub struct MemoryFolder(Mutex<BTreeMap<String, Vec<u8>>>);

impl MemoryFolder {
    /// These files.
    pub fn new<N: Into<String>, B: AsRef<[u8]>>(files: impl IntoIterator<Item = (N, B)>) -> Self {
        Self(Mutex::new(files.into_iter().map(|(n, b)| (n.into(), b.as_ref().to_vec())).collect()))
    }

    fn files(&self) -> std::sync::MutexGuard<'_, BTreeMap<String, Vec<u8>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Folder for MemoryFolder {
    fn list(&self) -> io::Result<Vec<String>> {
        Ok(self.files().keys().cloned().collect())
    }
    fn read(&self, name: &str) -> io::Result<Option<Vec<u8>>> {
        Ok(self.files().get(name).cloned())
    }
    fn write(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        self.files().insert(name.to_owned(), bytes.to_vec());
        Ok(())
    }
    fn remove(&self, name: &str) -> io::Result<()> {
        self.files().remove(name);
        Ok(())
    }
    fn lock(&self) -> io::Result<Guard> {
        Ok(Box::new(()))
    }
    fn stamp(&self, name: &str) -> u64 {
        self.files().get(name).map_or(0, |bytes| {
            let mut f = Fingerprint::default();
            f.add(name, bytes);
            f.value()
        })
    }
}
