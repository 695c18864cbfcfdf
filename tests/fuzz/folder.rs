//! The files of a scenario, in memory and on disk.

use std::fs;
use std::path::{Path, PathBuf};

use crate::campaign::{Case, write};
use crate::support::program::reference_cases;

/// Files by name; one of them is `brief.toml`.
#[derive(Clone, Default)]
pub struct Folder {
    /// (name, content).
    pub files: Vec<(String, Vec<u8>)>,
}

impl Folder {
    /// The TOML files of a folder, in the order of their names.
    pub fn read(path: &Path) -> Folder {
        let entries = fs::read_dir(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        paths.retain(|path| path.extension().is_some_and(|extension| extension == "toml"));
        paths.sort();
        let name = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().into_owned();
        Folder { files: paths.iter().map(|path| (name(path), fs::read(path).unwrap())).collect() }
    }

    /// Writes the files.
    pub fn write(&self, place: &Path) {
        for (name, bytes) in &self.files {
            write(&place.join(name), bytes);
        }
    }

    /// Writes the files and a line that says what is wrong with them.
    pub fn write_with_reason(&self, place: &Path, why: &str) {
        self.write(place);
        write(&place.join("why.txt"), format!("{why}\n").as_bytes());
    }
}

impl std::fmt::Debug for Folder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (name, bytes) in &self.files {
            writeln!(f, "--- {name}\n{}", String::from_utf8_lossy(bytes))?;
        }
        Ok(())
    }
}

impl Case for Folder {
    fn folder(&self) -> Folder {
        self.clone()
    }
}

/// The scenarios from which broken ones are made: those of tests/corpus/seeds,
/// the reference cases, and the files of the reader's own tests.
pub fn seeds() -> Vec<Folder> {
    let mut folders = crate::corpus("seeds");
    folders.extend(reference_cases());
    folders.push(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/files"));
    folders.iter().map(|folder| Folder::read(folder)).collect()
}
