//! Which files a page was made from, to the last letter.

use std::fmt::Write as _;
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::brief::TargetFrom;
use crate::files::LARGEST_FILE;
use crate::questions::Resolved;
use crate::store::Store;

/// A file and what tells it from every other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fingerprint {
    /// Its name, without the folders.
    pub name: String,
    /// The SHA-256 of its content as hexadecimal digits; `None` where it could
    /// not be read.
    pub sha256: Option<String>,
}

impl Fingerprint {
    /// The fingerprint of a file as its store gives it.
    pub fn of(store: &dyn Store, path: &str) -> Fingerprint {
        let path = Path::new(path);
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        Fingerprint { name, sha256: store.bytes(path, LARGEST_FILE).ok().map(|content| digest(&content)) }
    }

    /// Those of every file that had a say: the brief, the palette, the limits,
    /// the target's formula and the one to stay near to.
    pub fn of_all(store: &dyn Store, of: &Resolved) -> Vec<Fingerprint> {
        let mut paths = vec![&of.brief.file, &of.problem.palette.file];
        paths.extend(of.limits.iter().map(|limits| &limits.file));
        if let Some(TargetFrom::Formula(formula)) = &of.brief.target_from {
            paths.extend(&formula.value.file);
        }
        paths.extend(of.brief.near.as_ref().map(|near| &near.composition.file));
        paths.into_iter().map(|path| Fingerprint::of(store, path)).collect()
    }

    /// The fingerprint of a text that a file of this name would hold.
    pub fn of_text(name: &str, text: &str) -> Fingerprint {
        Fingerprint { name: name.to_owned(), sha256: Some(digest(text.as_bytes())) }
    }
}

fn digest(content: &[u8]) -> String {
    Sha256::digest(content).iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::Fingerprint;
    use crate::store::Held;

    /// The digest of "abc" stands in FIPS 180-4's examples.
    #[test]
    fn the_published_digest() {
        let held = [("letters/abc.txt", "abc")].into_iter().collect::<Held>();
        let print = Fingerprint::of(&held, "letters/abc.txt");
        assert_eq!(print.name, "abc.txt");
        let wanted = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(print.sha256.as_deref(), Some(wanted));
        assert_eq!(Fingerprint::of(&held, "nowhere/at/all").sha256, None);
    }
}
