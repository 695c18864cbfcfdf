//! Files: where they are read from, and which spellings of a path are one file.
//! Everything that is loaded goes through a [`Store`], so that it can come from
//! a disk ([`Disk`]) or be held in memory ([`Held`]) where there is none.

use std::collections::BTreeMap;
use std::fmt;
use std::io::{ErrorKind, Read};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Why a file could not be read; shown it is the end of a sentence that begins
/// with the path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unread {
    /// There is no such file.
    Missing,
    /// The path is that of a folder.
    Folder,
    /// The file may not be read.
    Denied,
    /// The file is bigger than what was asked for.
    TooBig {
        /// How big it is, where that is known.
        bytes: Option<u64>,
        /// The most that is read.
        most_bytes: u64,
    },
    /// The bytes are no text in UTF-8.
    NotText,
    /// Anything else, in the words of the system.
    Other(String),
}

impl fmt::Display for Unread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const MIB: f64 = 1024.0 * 1024.0;
        match self {
            Unread::Missing => f.write_str("does not exist"),
            Unread::Folder => f.write_str("is a folder, not a file"),
            Unread::Denied => f.write_str("may not be read (permission denied)"),
            Unread::TooBig { bytes: Some(bytes), most_bytes } => {
                let (size, most) = (*bytes as f64 / MIB, *most_bytes as f64 / MIB);
                write!(f, "is {size:.1} MiB big; the largest that is read is {most} MiB")
            }
            Unread::TooBig { bytes: None, most_bytes } => {
                write!(f, "is bigger than {} MiB, the largest that is read", *most_bytes as f64 / MIB)
            }
            Unread::NotText => f.write_str("is not a text in UTF-8"),
            Unread::Other(why) => write!(f, "cannot be read: {why}"),
        }
    }
}

impl std::error::Error for Unread {}

/// Where files are read from.
pub trait Store: fmt::Debug + Send + Sync {
    /// The content of a file of at most so many bytes.
    ///
    /// # Errors
    /// [`Unread`].
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread>;

    /// What a file or folder goes by, the same for every spelling of its path
    /// and for every link to it; `None` where there is nothing.
    fn identity(&self, path: &Path) -> Option<PathBuf>;

    /// The whole path from the root of the store, of a file that need not be
    /// there; `None` where the store cannot tell.
    fn absolute(&self, path: &Path) -> Option<PathBuf>;

    /// The same as [`Store::bytes`] for a text.
    ///
    /// # Errors
    /// [`Unread`].
    fn text(&self, path: &Path, most_bytes: u64) -> Result<String, Unread> {
        String::from_utf8(self.bytes(path, most_bytes)?).map_err(|_| Unread::NotText)
    }

    /// Whether two paths lead to one file that is there.
    fn is_same(&self, path: &Path, other: &Path) -> bool {
        matches!((self.identity(path), self.identity(other)), (Some(one), Some(other)) if one == other)
    }
}

/// The files of the machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct Disk;

impl Store for Disk {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        let file = std::fs::File::open(path).map_err(|error| in_words(&error))?;
        let about = file.metadata().map_err(|error| in_words(&error))?;
        if about.is_dir() {
            return Err(Unread::Folder);
        }
        if about.len() > most_bytes {
            return Err(Unread::TooBig { bytes: Some(about.len()), most_bytes });
        }
        let mut bytes = Vec::new();
        // A device or a pipe tells no length beforehand, hence the second look.
        file.take(most_bytes.saturating_add(1)).read_to_end(&mut bytes).map_err(|error| in_words(&error))?;
        if bytes.len() as u64 > most_bytes {
            return Err(Unread::TooBig { bytes: None, most_bytes });
        }
        Ok(bytes)
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        path.canonicalize().ok()
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        std::path::absolute(path).ok()
    }
}

impl Disk {
    /// What stands in a folder, by the order of the names, and whether it is a folder itself; a
    /// link is none.
    ///
    /// # Errors
    /// [`Unread`].
    pub fn entries(self, folder: &Path) -> Result<Vec<(PathBuf, bool)>, Unread> {
        let entries = std::fs::read_dir(folder).map_err(|error| in_words(&error))?.flatten();
        let entry = |entry: std::fs::DirEntry| (entry.path(), entry.file_type().is_ok_and(|kind| kind.is_dir()));
        let mut paths: Vec<(PathBuf, bool)> = entries.map(entry).collect();
        paths.sort();
        Ok(paths)
    }

    /// Adds to the end of a file, which is made where it is not there, once all behind its last
    /// line break was cut off.
    ///
    /// # Errors
    /// What the system says.
    pub fn append(self, path: &Path) -> std::io::Result<std::fs::File> {
        use std::io::{Seek, SeekFrom};
        let mut file = std::fs::File::options().read(true).write(true).create(true).truncate(false).open(path)?;
        let mut content = Vec::new();
        file.read_to_end(&mut content)?;
        let whole = content.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        file.set_len(whole as u64)?;
        file.seek(SeekFrom::End(0))?;
        Ok(file)
    }
}

fn in_words(error: &std::io::Error) -> Unread {
    match error.kind() {
        ErrorKind::NotFound => Unread::Missing,
        ErrorKind::PermissionDenied => Unread::Denied,
        ErrorKind::IsADirectory => Unread::Folder,
        ErrorKind::Unsupported => Unread::Other("there is no disk here".to_owned()),
        _ => Unread::Other(error.to_string()),
    }
}

impl<S: Store + ?Sized> Store for &S {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        (**self).bytes(path, most_bytes)
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        (**self).identity(path)
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        (**self).absolute(path)
    }
}

impl<S: Store + ?Sized> Store for Arc<S> {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        (**self).bytes(path, most_bytes)
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        (**self).identity(path)
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        (**self).absolute(path)
    }
}

/// Files held in memory, by their paths from one root: `profiles/brief.toml`,
/// `/profiles/brief.toml` and `profiles/./brief.toml` are one. There are no links.
#[derive(Clone, Debug, Default)]
pub struct Held(BTreeMap<PathBuf, Vec<u8>>);

impl Held {
    /// Nothing yet.
    pub fn new() -> Held {
        Held::default()
    }

    /// Puts a file in, or in the place of an older one.
    pub fn insert(&mut self, path: impl AsRef<Path>, content: impl Into<Vec<u8>>) {
        self.0.insert(settled(path.as_ref()), content.into());
    }
}

impl<P: AsRef<Path>, C: Into<Vec<u8>>> FromIterator<(P, C)> for Held {
    fn from_iter<I: IntoIterator<Item = (P, C)>>(files: I) -> Held {
        let mut held = Held::new();
        files.into_iter().for_each(|(path, content)| held.insert(path, content));
        held
    }
}

impl Store for Held {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        match (self.0.get(&settled(path)), self.identity(path)) {
            (Some(content), _) => within(content, most_bytes),
            (None, Some(_)) => Err(Unread::Folder),
            (None, None) => Err(Unread::Missing),
        }
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        let path = settled(path);
        self.0.range(path.clone()..).next().is_some_and(|(next, _)| next.starts_with(&path)).then_some(path)
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        Some(settled(path))
    }
}

/// Bytes that are not too many.
fn within(content: &[u8], most_bytes: u64) -> Result<Vec<u8>, Unread> {
    let bytes = content.len() as u64;
    if bytes > most_bytes { Err(Unread::TooBig { bytes: Some(bytes), most_bytes }) } else { Ok(content.to_vec()) }
}

/// A path from the root, without `.` and `..`.
fn settled(path: &Path) -> PathBuf {
    let mut settled = PathBuf::from("/");
    for part in path.components() {
        match part {
            Component::Normal(name) => settled.push(name),
            Component::ParentDir => {
                settled.pop();
            }
            Component::CurDir | Component::RootDir | Component::Prefix(_) => {}
        }
    }
    settled
}

/// Another store, each of whose files is read once: who asks again is told what
/// was read first, so that a digest is that of what was understood.
#[derive(Debug)]
pub struct Once<'s> {
    store: Box<dyn Store + 's>,
    read: Mutex<BTreeMap<PathBuf, Arc<Vec<u8>>>>,
}

impl<'s> Once<'s> {
    /// Over a store.
    pub fn over(store: impl Store + 's) -> Once<'s> {
        Once { store: Box::new(store), read: Mutex::default() }
    }
}

impl Store for Once<'_> {
    fn bytes(&self, path: &Path, most_bytes: u64) -> Result<Vec<u8>, Unread> {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = read.get(path) {
            return within(known, most_bytes);
        }
        let content = self.store.bytes(path, most_bytes)?;
        read.insert(path.to_owned(), Arc::new(content.clone()));
        Ok(content)
    }

    fn identity(&self, path: &Path) -> Option<PathBuf> {
        self.store.identity(path)
    }

    fn absolute(&self, path: &Path) -> Option<PathBuf> {
        self.store.absolute(path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_held_is_found_by_every_spelling() {
        let held: Held = [("shelf/palette.toml", "a"), ("shelf2/b.toml", "b")].into_iter().collect();
        for path in ["shelf/palette.toml", "/shelf/palette.toml", "./shelf/x/../palette.toml"] {
            assert_eq!(held.text(Path::new(path), 10).as_deref(), Ok("a"), "{path}");
            assert!(held.is_same(Path::new(path), Path::new("shelf/palette.toml")));
        }
        assert_eq!(held.text(Path::new("shelf"), 10), Err(Unread::Folder));
        assert_eq!(held.text(Path::new("shel"), 10), Err(Unread::Missing));
        assert_eq!(held.text(Path::new("shelf/palette"), 10), Err(Unread::Missing));
        assert_eq!(held.identity(Path::new("shelf/..")), Some(PathBuf::from("/")));
        assert!(!held.is_same(Path::new("none"), Path::new("none")));
    }

    #[test]
    fn disk_and_memory_fail_in_the_same_words() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("big.toml"), [b'a'; 100]).unwrap();
        std::fs::write(at("wrong.toml"), [0xFF]).unwrap();
        let mut held = Held::new();
        held.insert(at("big.toml"), [b'a'; 100]);
        held.insert(at("wrong.toml"), [0xFF]);
        for (name, why) in [
            ("none.toml", Unread::Missing),
            ("", Unread::Folder),
            ("wrong.toml", Unread::NotText),
            ("big.toml", Unread::TooBig { bytes: Some(100), most_bytes: 99 }),
        ] {
            assert_eq!(Disk.text(&at(name), 99), Err(why.clone()), "{name}");
            assert_eq!(held.text(&at(name), 99), Err(why), "{name}");
        }
        assert_eq!(Unread::Missing.to_string(), "does not exist");
    }

    #[test]
    fn a_file_that_changes_is_what_it_was_when_it_was_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.toml");
        std::fs::write(&path, "one").unwrap();
        let once = Once::over(Disk);
        assert_eq!(once.text(&path, 9).as_deref(), Ok("one"));
        std::fs::write(&path, "other").unwrap();
        assert_eq!(once.text(&path, 9).as_deref(), Ok("one"));
        assert_eq!(Disk.text(&path, 9).as_deref(), Ok("other"));
    }
}
