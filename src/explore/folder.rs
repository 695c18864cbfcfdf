//! The folder of a brief: what a page reads, and what it writes.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use crate::files::{SaveError, formula_text_in, in_place};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::store::{Disk, Held, Store, Unread};

/// Where the files of a brief are, and where a page saves.
pub trait Folder: Store {
    /// Whether a path is that of a link to another place.
    fn is_link(&self, path: &Path) -> bool;

    /// Whether a file could be saved, as far as can be told without doing it.
    ///
    /// # Errors
    /// [`SaveError`].
    fn could_save(&self, path: &Path, overwrite: bool) -> Result<(), SaveError>;

    /// Saves a text, whole or not at all.
    ///
    /// # Errors
    /// [`SaveError`]; the file is then as it was.
    fn save_text(&self, path: &Path, text: &str, overwrite: bool) -> Result<(), SaveError>;

    /// Saves a formula, likewise.
    ///
    /// # Errors
    /// [`SaveError`]; the file is then as it was.
    fn save_formula(&self, path: &Path, formula: &Formula, palette: &Palette, overwrite: bool)
    -> Result<(), SaveError>;
}

impl Folder for Disk {
    fn is_link(&self, path: &Path) -> bool {
        in_place::is_link(path)
    }

    fn could_save(&self, path: &Path, overwrite: bool) -> Result<(), SaveError> {
        in_place::could_save(path, overwrite)
    }

    fn save_text(&self, path: &Path, text: &str, overwrite: bool) -> Result<(), SaveError> {
        in_place::save_text(path, text, overwrite)
    }

    fn save_formula(
        &self,
        path: &Path,
        formula: &Formula,
        palette: &Palette,
        overwrite: bool,
    ) -> Result<(), SaveError> {
        in_place::save_formula(path, formula, palette, overwrite)
    }
}

/// A folder in memory, for a host without a disk: it is handed the files that are there,
/// and asks what was written.
#[derive(Debug, Default)]
pub struct Shelf {
    held: Mutex<Held>,
    written: Mutex<Vec<(PathBuf, String)>>,
}

impl Shelf {
    /// A folder of these files.
    pub fn of(files: impl IntoIterator<Item = (String, Vec<u8>)>) -> Shelf {
        Shelf { held: Mutex::new(files.into_iter().collect()), written: Mutex::default() }
    }

    /// Puts a file in from outside, or in the place of an older one.
    pub fn put(&self, path: &str, content: Vec<u8>) {
        self.held.lock().unwrap_or_else(PoisonError::into_inner).insert(path, content);
    }

    /// What was written since this was asked last, in order.
    pub fn written(&self) -> Vec<(PathBuf, String)> {
        std::mem::take(&mut self.written.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn held<T>(&self, of: impl FnOnce(&Held) -> T) -> T {
        of(&self.held.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Store for Shelf {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        self.held(|held| held.bytes(path, most_bytes))
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        self.held(|held| held.identity(path))
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        self.held(|held| held.absolute(path))
    }
}

impl Folder for Shelf {
    fn is_link(&self, _: &Path) -> bool {
        false
    }

    fn could_save(&self, path: &Path, overwrite: bool) -> Result<(), SaveError> {
        match self.bytes(path, u64::MAX) {
            Err(Unread::Folder) => Err(SaveError::Folder(path.to_owned())),
            Ok(_) if !overwrite => Err(SaveError::Exists(path.to_owned())),
            _ => Ok(()),
        }
    }

    fn save_text(&self, path: &Path, text: &str, overwrite: bool) -> Result<(), SaveError> {
        self.could_save(path, overwrite)?;
        self.held.lock().unwrap_or_else(PoisonError::into_inner).insert(path, text);
        self.written.lock().unwrap_or_else(PoisonError::into_inner).push((path.to_owned(), text.to_owned()));
        Ok(())
    }

    fn save_formula(
        &self,
        path: &Path,
        formula: &Formula,
        palette: &Palette,
        overwrite: bool,
    ) -> Result<(), SaveError> {
        self.save_text(path, &formula_text_in(self, formula, palette, path), overwrite)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again_and_told_once() {
        let shelf = Shelf::of([("a/brief.toml".to_owned(), b"x".to_vec())]);
        let path = Path::new("a/mod.toml");
        shelf.save_text(path, "one", false).expect("a new file");
        assert!(matches!(shelf.save_text(path, "two", false), Err(SaveError::Exists(_))));
        assert_eq!(shelf.text(path, 9).as_deref(), Ok("one"));
        shelf.save_text(path, "two", true).expect("over the older one");
        assert!(matches!(shelf.could_save(Path::new("a"), true), Err(SaveError::Folder(_))));
        let written = shelf.written();
        assert_eq!(written, [(path.to_owned(), "one".to_owned()), (path.to_owned(), "two".to_owned())]);
        assert!(shelf.written().is_empty());
        shelf.put("a/mod.toml", b"three".to_vec());
        assert_eq!(shelf.text(path, 9).as_deref(), Ok("three"));
    }
}
