//! The files of a project, wherever they are kept.

use std::collections::BTreeMap;
use std::sync::Arc;

/// Access to the files of a project by relative name, with `/` between folders.
///
/// The command line implements it over a folder of the disk; tests use [`MemoryFiles`].
pub trait FileSet {
    /// Names of the files directly in the project folder, sorted.
    fn list(&self) -> Vec<String>;

    /// The bytes of a file, shared with whoever asks again; `None` when there is none of this name.
    ///
    /// # Errors
    /// What the system said when the file is there and cannot be read.
    fn bytes(&self, name: &str) -> Result<Option<Arc<[u8]>>, String>;
}

/// Files held in memory.
///
/// ```
/// use drycoil_intake::{FileSet, MemoryFiles};
/// let files = MemoryFiles::new().with("rooms.csv", "id,kind");
/// assert_eq!(files.list(), ["rooms.csv"]);
/// assert_eq!(files.bytes("other.csv").unwrap(), None);
/// ```
#[derive(Debug, Clone, Default)]
pub struct MemoryFiles {
    files: BTreeMap<String, Arc<[u8]>>,
}

impl MemoryFiles {
    /// No files.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds or replaces a file.
    #[must_use]
    pub fn with(mut self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        self.files.insert(name.to_owned(), Arc::from(bytes.as_ref()));
        self
    }

    /// Takes a file away.
    #[must_use]
    pub fn without(mut self, name: &str) -> Self {
        self.files.remove(name);
        self
    }
}

impl FileSet for MemoryFiles {
    fn list(&self) -> Vec<String> {
        self.files.keys().filter(|n| !n.contains('/')).cloned().collect()
    }

    fn bytes(&self, name: &str) -> Result<Option<Arc<[u8]>>, String> {
        Ok(self.files.get(name).cloned())
    }
}

/// FNV-1a, 64 bits, over names and bytes: tells whether two inputs are the same, not a safeguard against malice.
///
/// Source: Fowler, Noll, Vo, "The FNV Non-Cryptographic Hash Algorithm", offset basis 0xcbf29ce484222325, prime
/// 0x100000001b3.
#[derive(Debug, Clone, Copy)]
pub struct Fingerprint(u64);

impl Default for Fingerprint {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Fingerprint {
    /// Adds a named file.
    pub fn add(&mut self, name: &str, bytes: &[u8]) {
        for part in [name.as_bytes(), &[0], &(bytes.len() as u64).to_le_bytes(), bytes] {
            self.add_bytes(part);
        }
    }

    fn add_bytes(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    /// The hash of all that was added.
    pub const fn value(self) -> u64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_fnv_1a_test_vectors() {
        // IETF draft-eastlake-fnv, 64-bit FNV-1a test vectors: "", "a", "foobar".
        let hash = |text: &str| {
            let mut f = Fingerprint::default();
            f.add_bytes(text.as_bytes());
            f.value()
        };
        assert_eq!(hash(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(hash("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(hash("foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn the_border_between_name_and_bytes_counts() {
        let mut a = Fingerprint::default();
        a.add("ab", b"c");
        let mut b = Fingerprint::default();
        b.add("a", b"bc");
        assert_ne!(a.value(), b.value());
    }
}
