//! A brief with the changes of a page, read and resolved.

use std::path::Path;
use std::sync::Arc;

use super::folder::Folder;
use crate::dossier::files::Fingerprint;
use crate::files::edit::{BriefEdits, edited_brief};
use crate::files::{Faults, load_scenario_text_in, read_file_in};
use crate::questions::Resolved;
use crate::store::{Once, Store};

/// What a page looks at.
pub struct Bench {
    /// The text of the brief, changes included.
    pub text: String,
    /// Tells the files apart from those of any other moment: brief, palette,
    /// limits, the target's formula and the one to stay near to, as they were read.
    pub disk: String,
    /// The same with the changes of the page: two answers of one fingerprint
    /// answer the same question.
    pub fingerprint: String,
    /// The files as they were read.
    pub store: Once<'static>,
    /// What is asked about: the brief with the changes of the page.
    pub resolved: Resolved,
    /// Every label of the limits files, for the choice of categories.
    pub labels: Vec<String>,
}

impl Bench {
    /// Reads the brief as it stands in its folder, changes it and resolves it.
    ///
    /// # Errors
    /// All the faults of the changed brief and the files that it names.
    pub fn open(folder: &Arc<dyn Folder>, path: &Path, edits: &BriefEdits) -> Result<Bench, Faults> {
        let store = Once::over(Arc::clone(folder));
        let on_disk = read_file_in(&store, path)?;
        let text = edited_brief(&on_disk, edits).unwrap_or_else(|| on_disk.clone());
        let resolved = Resolved::from(load_scenario_text_in(&store, path, text.clone())?);
        let mut labels: Vec<String> = Vec::new();
        for (label, _) in resolved.limits.iter().flat_map(|file| &file.restrictions).flat_map(|it| &it.limits) {
            if label != crate::limits::EVERY_CATEGORY && !labels.contains(label) {
                labels.push(label.clone());
            }
        }
        let disk = fingerprint_of_files(&store, &on_disk, &resolved);
        let fingerprint = digest([disk.as_str(), &text]);
        Ok(Bench { text, disk, fingerprint, store, resolved, labels })
    }
}

fn fingerprint_of_files(store: &dyn Store, on_disk: &str, of: &Resolved) -> String {
    let mut files = Fingerprint::of_all(store, of);
    if let Some(brief) = files.first_mut() {
        *brief = Fingerprint::of_text(&of.brief.file, on_disk);
    }
    digest(files.iter().flat_map(|file| [file.name.as_str(), file.sha256.as_deref().unwrap_or_default()]))
}

/// One digest of several texts, of which none can pass for two.
fn digest<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    let whole = serde_json::to_string(&texts.into_iter().collect::<Vec<_>>()).unwrap_or_default();
    Fingerprint::of_text("", &whole).sha256.unwrap_or_default()
}

/// Faults in few words: what is wrong, and what was expected.
pub fn in_words(faults: &Faults) -> Vec<String> {
    const SHOWN: usize = 4;
    let mut words: Vec<String> = faults
        .iter()
        .take(SHOWN)
        .map(|fault| match &fault.help {
            Some(help) => format!("{fault}; {help}"),
            None => fault.to_string(),
        })
        .collect();
    if faults.count() > words.len() {
        words.push(format!("and {} more", faults.count() - words.len()));
    }
    words
}
