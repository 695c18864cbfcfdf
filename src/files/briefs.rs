//! Which files of a folder are briefs.

use std::path::{Path, PathBuf};

use super::source::LARGEST_FILE;
use crate::store::{Disk, Store, Unread};

/// Folders within folders that are looked into.
const DEEPEST: usize = 8;

/// The briefs of a folder and those below it, in the order of their paths: files that name a
/// palette and say what is wanted. What is hidden is passed over, links to folders too.
///
/// # Errors
/// Why the folder could not be read.
pub fn briefs_within(folder: &Path) -> Result<Vec<PathBuf>, Unread> {
    let mut found = Vec::new();
    look(folder, DEEPEST, &mut found)?;
    Ok(found)
}

fn look(folder: &Path, deeper: usize, found: &mut Vec<PathBuf>) -> Result<(), Unread> {
    for (path, is_folder) in Disk.entries(folder)? {
        let is_hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if is_hidden {
            continue;
        }
        if is_folder {
            if deeper > 0 {
                // One that may not be read does not hide the others.
                let _ = look(&path, deeper - 1, found);
            }
        } else if path.extension().is_some_and(|ending| ending == "toml")
            && Disk.text(&path, LARGEST_FILE).is_ok_and(|text| is_brief(&text))
        {
            found.push(path);
        }
    }
    Ok(())
}

/// Whether a text is meant as a brief, be it right or not.
fn is_brief(text: &str) -> bool {
    let has = |key: &str| {
        text.lines()
            .map(str::trim_start)
            .any(|line| line.strip_prefix(key).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric)))
    };
    has("palette") && (has("[target]") || has("target_from") || has("target"))
}

#[cfg(test)]
mod tests {
    use super::is_brief;

    #[test]
    fn a_brief_names_a_palette_and_what_is_wanted() {
        assert!(is_brief("palette = \"p.toml\"\n[target]\nrosy = 1"));
        assert!(is_brief("palette=\"p.toml\"\ntarget_from = \"Rose\""));
        assert!(!is_brief("palette = \"p.toml\"\n[[trial]]"), "trials");
        assert!(!is_brief("palettes = 3\n[target]"));
        assert!(!is_brief("[descriptors]\nrosy = \"\""));
    }
}
