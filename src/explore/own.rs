//! Which files the page may write over: the brief that was named at the start,
//! and files that it made itself and nobody changed since.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use crate::dossier::files::Fingerprint;
use crate::store::Store;

/// The files that the page has made, with what it wrote.
#[derive(Debug, Default)]
pub struct Own(Mutex<BTreeMap<PathBuf, String>>);

impl Own {
    /// Keeps that a file was just written.
    pub fn made(&self, store: &dyn Store, path: &Path) {
        let mut made = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(digest) = digest(store, path) {
            made.insert(path.to_owned(), digest);
        }
    }

    /// Whether the page made a file, whatever became of it.
    pub fn has_made(&self, path: &Path) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).contains_key(path)
    }

    /// Whether a file is as the page left it.
    pub fn is_as_made(&self, store: &dyn Store, path: &Path) -> bool {
        let made = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        made.get(path).is_some_and(|then| digest(store, path).as_ref() == Some(then))
    }
}

fn digest(store: &dyn Store, path: &Path) -> Option<String> {
    Fingerprint::of(store, &path.to_string_lossy()).sha256
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Disk;

    #[test]
    fn what_somebody_else_changed_is_not_the_pages_any_more() {
        let folder = tempfile::tempdir().unwrap();
        let (path, other) = (folder.path().join("mod-2.toml"), folder.path().join("other.toml"));
        for path in [&path, &other] {
            std::fs::write(path, "a = 1").unwrap();
        }
        let own = Own::default();
        own.made(&Disk, &path);
        assert!(own.is_as_made(&Disk, &path) && !own.is_as_made(&Disk, &other) && !own.has_made(&other));
        std::fs::write(&path, "a = 2").unwrap();
        assert!(!own.is_as_made(&Disk, &path) && own.has_made(&path));
        std::fs::remove_file(&path).unwrap();
        assert!(!own.is_as_made(&Disk, &path));
    }
}
