//! Writing a folder of new files: all of them or none, and over nothing.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::write::{SaveError, write_new};
use crate::escape::escaped;

/// Why a folder of new files was not written.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// Something stands in the folder already.
    #[error("{} is not empty: it holds {}", escaped(&folder.to_string_lossy()), escaped(holds))]
    NotEmpty {
        /// The folder.
        folder: PathBuf,
        /// The name of one thing within it.
        holds: String,
    },
    /// The path is that of something else.
    #[error("{} is no folder", escaped(&.0.to_string_lossy()))]
    NoFolder(PathBuf),
    /// A file or a folder could not be made.
    #[error(transparent)]
    Write(#[from] SaveError),
}

/// What has been made so far, to be taken back where the rest fails.
#[derive(Default)]
struct Made {
    folders: Vec<PathBuf>,
    files: Vec<PathBuf>,
}

impl Made {
    /// Makes a folder, and those above it, where there is none.
    fn folder(&mut self, folder: &Path) -> Result<(), SaveError> {
        if folder.as_os_str().is_empty() || folder.is_dir() {
            return Ok(());
        }
        if let Some(above) = folder.parent() {
            self.folder(above)?;
        }
        match fs::create_dir(folder) {
            Ok(()) => {
                self.folders.push(folder.to_owned());
                Ok(())
            }
            // `a/../b` makes `a` on the way.
            Err(error) if error.kind() == ErrorKind::AlreadyExists && folder.is_dir() => Ok(()),
            Err(error) => Err(SaveError::Io { path: folder.to_owned(), error }),
        }
    }

    fn file(&mut self, path: &Path, text: &str) -> Result<(), SaveError> {
        let written = write_new(path, text.as_bytes(), None);
        if let Err(error) = written {
            if error.kind() == ErrorKind::AlreadyExists {
                return Err(SaveError::Exists(path.to_owned()));
            }
            // It may stand there in part; what was there before is another error.
            self.files.push(path.to_owned());
            return Err(SaveError::Io { path: path.to_owned(), error });
        }
        self.files.push(path.to_owned());
        Ok(())
    }

    /// Best effort: the error that led here is the one to tell.
    fn take_back(self) {
        for file in self.files.iter().rev() {
            let _ = fs::remove_file(file);
        }
        for folder in self.folders.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}

/// Writes files below a folder, which is made where there is none and must
/// hold nothing where there is one. Their paths have `/` between folders.
///
/// # Errors
/// [`FolderError`]; nothing is left of what was written.
pub fn write_folder(folder: &Path, files: &[(&str, String)]) -> Result<(), FolderError> {
    vacant(folder)?;
    let mut made = Made::default();
    let written = files.iter().try_for_each(|(path, text)| {
        let path: PathBuf = folder.components().chain(Path::new(path).components()).collect();
        made.folder(path.parent().unwrap_or(folder))?;
        made.file(&path, text)
    });
    written.map_err(|error| {
        made.take_back();
        error.into()
    })
}

/// Whether a folder is yet to be made or holds nothing.
fn vacant(folder: &Path) -> Result<(), FolderError> {
    let io = |error| SaveError::Io { path: folder.to_owned(), error };
    match fs::read_dir(folder) {
        Ok(mut entries) => match entries.next() {
            None => Ok(()),
            Some(Ok(entry)) => {
                let holds = entry.file_name().to_string_lossy().into_owned();
                Err(FolderError::NotEmpty { folder: folder.to_owned(), holds })
            }
            Some(Err(error)) => Err(io(error).into()),
        },
        Err(error) if error.kind() == ErrorKind::NotFound && !folder.is_symlink() => Ok(()),
        Err(error) if error.kind() == ErrorKind::NotADirectory => Err(FolderError::NoFolder(folder.to_owned())),
        Err(error) => Err(io(error).into()),
    }
}

#[cfg(test)]
mod tests {
    use super::{FolderError, write_folder};

    fn files(last: &str) -> [(&str, String); 3] {
        [("a.txt", "a".to_owned()), ("deep/er/b.txt", "b".to_owned()), (last, "c".to_owned())]
    }

    fn names(folder: &std::path::Path) -> usize {
        std::fs::read_dir(folder).expect("a folder").count()
    }

    #[test]
    fn all_is_written_into_a_new_folder_or_an_empty_one() {
        let place = tempfile::tempdir().expect("a folder");
        for folder in [place.path().join("new/one"), place.path().join("empty")] {
            if folder.ends_with("empty") {
                std::fs::create_dir(&folder).expect("a folder");
            }
            write_folder(&folder, &files("c.txt")).expect("written");
            assert_eq!(std::fs::read_to_string(folder.join("deep/er/b.txt")).expect("a file"), "b");
            assert_eq!(names(&folder), 3);
            let again = write_folder(&folder, &files("d.txt"));
            assert!(matches!(again, Err(FolderError::NotEmpty { .. })), "{again:?}");
            assert_eq!(names(&folder), 3);
        }
    }

    #[test]
    fn what_fails_leaves_nothing_behind() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("above/new");
        // The name of a folder that is needed is taken by a file of the same run.
        let failed = write_folder(&folder, &files("a.txt/c.txt"));
        assert!(matches!(failed, Err(FolderError::Write(_))), "{failed:?}");
        assert_eq!(names(place.path()), 0);
        // A file that is there twice is not overwritten by itself.
        let failed = write_folder(&folder, &files("a.txt"));
        assert!(matches!(failed, Err(FolderError::Write(_))), "{failed:?}");
        assert_eq!(names(place.path()), 0);
    }

    #[test]
    fn a_file_is_no_folder() {
        let place = tempfile::tempdir().expect("a folder");
        let path = place.path().join("file");
        std::fs::write(&path, "mine").expect("written");
        let failed = write_folder(&path, &files("c.txt"));
        assert!(matches!(failed, Err(FolderError::NoFolder(_))), "{failed:?}");
        assert_eq!(std::fs::read_to_string(&path).expect("a file"), "mine");
    }
}
