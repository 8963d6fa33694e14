//! Reading and writing files. A file is written whole or not at all.

use crate::{Exit, Failure};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Files and folders being written; an interrupt removes them.
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Makes an interrupt remove unfinished files and end the program with the code for "cancelled".
pub(crate) fn remove_unfinished_on_interrupt() {
    // A second call, as in a test of the whole program within one process, keeps the first handler.
    let _ = ctrlc::try_set_handler(|| {
        // The lock is held to the end, so that no other file can be begun meanwhile.
        let list = unfinished();
        for path in list.iter() {
            let _ = if path.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
        }
        std::process::exit(i32::from(Exit::Cancelled.code()));
    });
}

/// Reads a whole file.
pub fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    fs::read(path).map_err(|error| Failure::reading(path, error))
}

/// Creates a folder and its parents, when they do not exist.
pub fn create_folder(path: &Path) -> Result<(), Failure> {
    fs::create_dir_all(path).map_err(|error| Failure::File {
        attempt: "cannot create",
        path: path.into(),
        error,
    })
}

/// Writes a whole file: beside its place first, then renamed over it.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let mut file = AtomicFile::create(path)?;
    file.write_all(bytes).map_err(|error| Failure::writing(path, error))?;
    file.commit()
}

/// A file that appears at its place, whole, on [`AtomicFile::commit`]; dropped before that, it leaves nothing and
/// whatever stood there before stays.
#[derive(Debug)]
pub struct AtomicFile {
    target: PathBuf,
    beside: PathBuf,
    file: Option<BufWriter<File>>,
}

impl AtomicFile {
    /// Begins a file.
    pub fn create(path: &Path) -> Result<Self, Failure> {
        let Some(name) = path.file_name() else {
            return Err(Failure::writing(path, io::Error::from(io::ErrorKind::IsADirectory)));
        };
        // The same folder, because a rename is atomic within one file system only.
        let mut beside_name = std::ffi::OsString::from(".");
        beside_name.push(name);
        beside_name.push(format!(".{}.part", std::process::id()));
        let beside = path.with_file_name(beside_name);
        let mut list = unfinished();
        let file = File::create(&beside).map_err(|error| Failure::writing(path, error))?;
        list.push(beside.clone());
        drop(list);
        Ok(Self { target: path.to_path_buf(), beside, file: Some(BufWriter::with_capacity(1 << 16, file)) })
    }

    /// Puts the finished file at its place.
    pub fn commit(mut self) -> Result<(), Failure> {
        let finished = match self.file.take() {
            Some(writer) => writer
                .into_inner()
                .map_err(io::IntoInnerError::into_error)
                .and_then(|file| file.sync_all())
                .and_then(|()| fs::rename(&self.beside, &self.target)),
            None => Ok(()),
        };
        finished.map_err(|error| Failure::writing(&self.target, error))
    }
}

impl Write for AtomicFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.as_mut().map_or(Ok(0), |file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_mut().map_or(Ok(()), Write::flush)
    }
}

impl Drop for AtomicFile {
    fn drop(&mut self) {
        self.file = None;
        let mut list = unfinished();
        // After a commit the name is free and there is nothing to remove.
        let _ = fs::remove_file(&self.beside);
        list.retain(|path| *path != self.beside);
    }
}

/// A folder for what another program needs meanwhile; gone afterwards, also after an interrupt.
#[derive(Debug)]
pub struct ScratchFolder {
    path: PathBuf,
}

impl ScratchFolder {
    /// Creates a folder in this one, named after what it is for.
    pub fn create(within: &Path, what: &str) -> Result<Self, Failure> {
        // A name without a dot in front: confined programs may not look into hidden folders.
        let path = within.join(format!("{what}-{}.part", std::process::id()));
        let mut list = unfinished();
        create_folder(&path)?;
        list.push(path.clone());
        Ok(Self { path })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for ScratchFolder {
    fn drop(&mut self) {
        let mut list = unfinished();
        let _ = fs::remove_dir_all(&self.path);
        list.retain(|path| *path != self.path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_appears_whole_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("result.json");
        write(&path, b"old").unwrap();
        let mut file = AtomicFile::create(&path).unwrap();
        file.write_all(b"half of the new").unwrap();
        file.flush().unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"old");
        drop(file);
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(names(folder.path()), ["result.json"]);
        write(&path, b"new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        assert_eq!(names(folder.path()), ["result.json"]);
    }

    #[test]
    fn a_scratch_folder_goes_away_with_what_is_in_it() {
        let folder = tempfile::tempdir().unwrap();
        let scratch = ScratchFolder::create(folder.path(), "printing").unwrap();
        fs::write(scratch.path().join("page.html"), b"").unwrap();
        assert_eq!(names(folder.path()).len(), 1);
        drop(scratch);
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn a_folder_that_does_not_exist_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let failure = write(&folder.path().join("no/such/file.csv"), b"").unwrap_err();
        assert_eq!(failure.exit(), Exit::ReadWrite);
        assert!(failure.text().contains("file.csv"), "{}", failure.text());
    }
}
