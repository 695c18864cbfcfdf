//! The built program, run as a user runs it.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};

/// One run of the program: what it wrote and its exit status.
pub struct Ran {
    pub stdout: String,
    pub stderr: String,
    pub status: i32,
}

impl Ran {
    /// Standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        match serde_json::from_str(&self.stdout) {
            Ok(Unique(value)) => value,
            Err(error) => panic!("{error} in {}\n{}", self.stdout, self.stderr),
        }
    }

    /// The same run, which must have ended with this status.
    #[track_caller]
    pub fn ended(self, status: i32) -> Ran {
        assert_eq!(self.status, status, "\n{}\n{}", self.stdout, self.stderr);
        self
    }
}

impl From<Output> for Ran {
    fn from(output: Output) -> Ran {
        Ran {
            stdout: String::from_utf8(output.stdout).unwrap(),
            stderr: String::from_utf8(output.stderr).unwrap(),
            status: output.status.code().unwrap_or(-1),
        }
    }
}

/// JSON in which no object has a key twice: other readers may keep the first of
/// them, or neither.
struct Unique(serde_json::Value);

impl<'de> Deserialize<'de> for Unique {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Unique, D::Error> {
        deserializer.deserialize_any(UniqueVisitor)
    }
}

struct UniqueVisitor;

impl<'de> Visitor<'de> for UniqueVisitor {
    type Value = Unique;

    fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str("JSON")
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Unique, E> {
        Ok(Unique(value.into()))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Unique, E> {
        Ok(Unique(value.into()))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Unique, E> {
        Ok(Unique(value.into()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Unique, E> {
        Ok(Unique(value.into()))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Unique, E> {
        Ok(Unique(value.into()))
    }

    fn visit_unit<E: Error>(self) -> Result<Unique, E> {
        Ok(Unique(serde_json::Value::Null))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Unique, A::Error> {
        let mut list = Vec::new();
        while let Some(Unique(item)) = items.next_element()? {
            list.push(item);
        }
        Ok(Unique(list.into()))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Unique, A::Error> {
        let mut map = serde_json::Map::new();
        while let Some((key, Unique(value))) = entries.next_entry::<String, Unique>()? {
            if map.insert(key.clone(), value).is_some() {
                return Err(A::Error::custom(format!("the key {key} stands twice")));
            }
        }
        Ok(Unique(map.into()))
    }
}

/// The program with arguments, in the folder of the sources, without a
/// terminal and without the surroundings that change colour.
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_permil"));
    command.args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).stdin(Stdio::null());
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS"] {
        command.env_remove(name);
    }
    command
}

/// Runs the program to its end.
pub fn permil(arguments: &[&str]) -> Ran {
    command(arguments).output().unwrap().into()
}

/// A folder of files that goes away with the test.
pub struct Folder(tempfile::TempDir);

impl Folder {
    /// A copy of a folder of the sources.
    pub fn copy_of(folder: &str) -> Folder {
        let copy = Folder(tempfile::tempdir().unwrap());
        for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap() {
            let entry = entry.unwrap();
            fs::copy(entry.path(), copy.0.path().join(entry.file_name())).unwrap();
        }
        copy
    }

    /// A folder with these files.
    pub fn of(files: &[(&str, &str)]) -> Folder {
        let folder = Folder(tempfile::tempdir().unwrap());
        files.iter().for_each(|(name, text)| folder.write(name, text));
        folder
    }

    pub fn write(&self, name: &str, text: &str) {
        fs::write(self.0.path().join(name), text).unwrap();
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.0.path().join(name)).unwrap()
    }

    /// Replaces a text that must be there once.
    #[track_caller]
    pub fn change(&self, name: &str, from: &str, to: &str) {
        let text = self.read(name);
        assert_eq!(text.matches(from).count(), 1, "{from}");
        self.write(name, &text.replace(from, to));
    }

    pub fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    /// The names of all files, sorted.
    pub fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

/// The folders of all cases of the independent reference, sorted.
pub fn reference_cases() -> Vec<PathBuf> {
    let cases = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/cases");
    let mut folders: Vec<PathBuf> = fs::read_dir(cases).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    folders
}

/// Those that are judged by one view: without stages, further noses or another law. Their
/// numbers are below 51.
pub fn plain_cases() -> Vec<PathBuf> {
    let number = |folder: &PathBuf| folder.file_name()?.to_str()?.split('-').next()?.parse::<u32>().ok();
    reference_cases().into_iter().filter(|folder| number(folder).is_some_and(|number| number < 51)).collect()
}

/// Text as it should be: at most 80 columns, nothing trailing, no claim.
#[track_caller]
pub fn reads_well(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
        assert_eq!(line, line.trim_end());
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
    let words = text.to_lowercase();
    for word in words.split(|c: char| !c.is_alphabetic()) {
        assert!(!["safe", "compliant", "certified", "hypoallergenic"].contains(&word), "{word}");
    }
}

/// Without what depends on how a proof was found, and with nine decimals: the
/// last ones of a power differ between machines.
pub fn settled(text: &str) -> String {
    let of_proof = |line: &&str| !["\"bound\"", "\"bound_fidelity\"", "\"nodes\""].iter().any(|key| line.contains(key));
    let mut settled = String::new();
    for line in text.lines().filter(of_proof) {
        for piece in line.split_inclusive([' ', ',', ';']) {
            let number = piece.trim_end_matches([' ', ',', ';']);
            match (number.split_once('.'), number.parse::<f64>()) {
                (Some((_, decimals)), Ok(value)) if decimals.len() > 9 => {
                    settled += &format!("{value:.9}{}", &piece[number.len()..]);
                }
                _ => settled += piece,
            }
        }
        settled.push('\n');
    }
    settled
}
