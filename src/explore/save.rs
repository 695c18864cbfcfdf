//! Writing the brief and the formula beside the brief.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Serialize;

use super::bench::{Bench, in_words};
use super::desk::{Desk, Why};
use super::requests::{Files, Save, View};
use crate::control::Control;
use crate::escape::steers;
use crate::files::SaveError;
use crate::formula::Formula;
use crate::questions;
use crate::solve::{Method, Solution};

/// The longest file name, in bytes.
const LONGEST: usize = 120;
/// Characters that no file name may have: they lead elsewhere, or some systems
/// do not take them.
const FORBIDDEN: [char; 9] = ['/', '\\', ':', '*', '?', '"', '<', '>', '|'];

/// What was written.
#[derive(Debug, Default, Serialize)]
pub struct Saved {
    saved: Vec<String>,
}

/// Fingerprints of the files, and of the state with the changes of the page.
#[derive(Debug, Serialize)]
pub struct Now {
    disk: String,
    fingerprint: String,
}

/// Why nothing was written.
#[derive(Debug, Serialize)]
pub struct Refused {
    #[serde(skip)]
    /// What kind of reason it is.
    pub why: Why,
    /// The reason, in words.
    pub error: String,
    /// What is there already.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    exists: Vec<String>,
}

impl Refused {
    pub(super) fn new(why: Why, error: &str) -> Refused {
        Refused { why, error: error.to_owned(), exists: Vec::new() }
    }
}

/// Writes the brief, the formula, or both.
///
/// # Errors
/// Why nothing was written.
pub fn save(desk: &Desk, request: &Save) -> Result<Saved, Refused> {
    let wrong = |words: &str| Refused::new(Why::Wrong, words);
    let bench = open(desk, &request.view).map_err(|words| Refused::new(Why::Unworkable, &words))?;
    let bench_path = brief_of(desk, &request.view.brief).map_err(&wrong)?;
    let target = |name: &str| -> Result<Option<PathBuf>, Refused> {
        if name.is_empty() {
            return Ok(None);
        }
        let path = beside(&desk.options.brief, name).map_err(&wrong)?;
        if desk.folder.is_link(&path) {
            return Err(wrong("that name is a link to another place; the page writes through none"));
        }
        let is_input = |input: &str| is_same(desk, &path, Path::new(input));
        if is_input(&bench.resolved.problem.palette.file)
            || bench
                .resolved
                .problem
                .rules
                .iter()
                .any(|rule| *rule.place.file != *bench.resolved.brief.file && is_input(&rule.place.file))
            || bench.resolved.problem.restrictions.iter().any(|it| is_input(&it.place.file))
        {
            return Err(wrong("that file is the palette or a limits file of the brief"));
        }
        Ok(Some(path))
    };
    let (brief, formula) = (target(&request.brief)?, target(&request.formula)?);
    match (&brief, &formula) {
        (None, None) => return Err(wrong("nothing was to be saved")),
        (Some(one), Some(other)) if one == other => return Err(wrong("brief and formula need two names")),
        (None, Some(path)) | (Some(_), Some(path))
            if [&desk.options.brief, &bench_path].into_iter().any(|brief| is_same(desk, path, brief)) =>
        {
            return Err(wrong("a formula does not go over the brief"));
        }
        _ => {}
    }
    // Asked before anything is written: both or neither.
    let mut exists = Vec::new();
    for path in [&brief, &formula].into_iter().flatten() {
        // The page writes over nothing but what it made and the brief: not
        // over trials, matches, wishlists, nor what was mended by hand.
        let may_replace = *path == desk.options.brief || desk.own.is_as_made(&desk.folder, path);
        if desk.folder.identity(path).is_some() && !may_replace {
            let name = name_of(path);
            let why = match desk.own.has_made(path) {
                true => "was changed since the page wrote it",
                false => "is there already and was not made by this page",
            };
            return Err(wrong(&format!("{name} {why}; choose another name")));
        }
        match desk.folder.could_save(path, request.overwrite) {
            Ok(()) => {}
            Err(SaveError::Exists(_)) => exists.push(name_of(path)),
            Err(error) => return Err(wrong(&error.to_string())),
        }
    }
    if !exists.is_empty() {
        let error = "a file of that name is there already".to_owned();
        return Err(Refused { why: Why::Exists, error, exists });
    }
    let answer = match &formula {
        Some(_) => Some(found(desk, request, &bench).map_err(|words| Refused::new(Why::Unworkable, &words))?),
        None => None,
    };
    let mut done = Saved::default();
    let told = |error: SaveError| Refused::new(Why::Failed, &error.to_string());
    if let Some(path) = &brief {
        desk.folder.save_text(path, &bench.text, request.overwrite).map_err(told)?;
        desk.own.made(&desk.folder, path);
        done.saved.push(name_of(path));
    }
    if let (Some(path), Some(formula)) = (&formula, answer) {
        let formula = Formula { title: bench.resolved.brief.title.clone(), ..formula };
        let palette = &bench.resolved.problem.palette;
        desk.folder.save_formula(path, &formula, palette, request.overwrite).map_err(told)?;
        desk.own.made(&desk.folder, path);
        done.saved.push(name_of(path));
    }
    Ok(done)
}

/// The brief as a page has it, where the page shows what it is: nothing is
/// written or given of which the screen says something else.
pub fn open(desk: &Desk, view: &View) -> Result<Bench, String> {
    let bench = opened(desk, view).map_err(|words| words.join("; "))?;
    match &view.shown {
        Some(shown) if *shown != bench.fingerprint => {
            Err("the page shows an older state, or the files were changed on disk since: let it solve again first"
                .to_owned())
        }
        _ => Ok(bench),
    }
}

/// The brief as a page has it now, or its faults in few words.
pub fn opened(desk: &Desk, view: &View) -> Result<Bench, Vec<String>> {
    let path = brief_of(desk, &view.brief).map_err(|why| vec![why.to_owned()])?;
    Bench::open(&desk.folder, &path, &view.edits).map_err(|faults| in_words(&faults))
}

/// The brief that a page starts from: the one that was named at the start, or
/// one that a page of this start has saved.
pub fn brief_of(desk: &Desk, name: &str) -> Result<PathBuf, &'static str> {
    let start = &desk.options.brief;
    if name.is_empty() || start.file_name().is_some_and(|own| own.to_string_lossy() == name) {
        return Ok(start.clone());
    }
    let path = beside(start, name)?;
    match desk.own.has_made(&path) && !desk.folder.is_link(&path) {
        true => Ok(path),
        false => Err("this brief was not saved by a page of this start: start permil explore with it"),
    }
}

/// The fingerprints of the files as they are now.
///
/// # Errors
/// What is wrong with them, in few words.
pub fn files(desk: &Desk, request: &Files) -> Result<Now, Refused> {
    let bench = opened(desk, &request.view).map_err(|words| Refused::new(Why::Unworkable, &words.join("; ")))?;
    Ok(Now { disk: bench.disk, fingerprint: bench.fingerprint })
}

/// The solution that a page has, or is found now.
pub fn solution(desk: &Desk, view: &View, bench: &Bench) -> Result<Arc<Solution>, String> {
    if let Some(solution) = desk.pages.last(&view.page, &bench.fingerprint) {
        return Ok(solution);
    }
    let control = Control::default().within(desk.options.time_limit);
    let found = questions::proposed(&bench.resolved, Method::Auto, &control);
    found.map(Arc::new).map_err(|refusal| refusal.to_string())
}

fn found(desk: &Desk, request: &Save, bench: &Bench) -> Result<Formula, String> {
    let solution = solution(desk, &request.view, bench)?;
    let answer = solution.answer.as_ref();
    answer.map(|answer| answer.formula.clone()).ok_or_else(|| "there is no formula to save".to_owned())
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The path of a new file in the folder of the brief.
fn beside(brief: &Path, name: &str) -> Result<PathBuf, &'static str> {
    let name = name.trim();
    if name.len() > LONGEST {
        return Err("that name is too long");
    }
    if name.is_empty() || name.starts_with('.') || name.contains(FORBIDDEN) || name.chars().any(steers) {
        return Err("a name of a file beside the brief is wanted, such as mod-2.toml: no folder, no dot before it");
    }
    if !name.ends_with(".toml") {
        return Err("the name has to end in .toml");
    }
    Ok(brief.with_file_name(name))
}

fn is_same(desk: &Desk, path: &Path, other: &Path) -> bool {
    path == other || desk.folder.is_same(path, other)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_the_folder() {
        let brief = Path::new("/shelf/brief.toml");
        assert_eq!(beside(brief, " mod-2.toml ").unwrap(), Path::new("/shelf/mod-2.toml"));
        for name in [
            "",
            "..",
            "../x.toml",
            "a/b.toml",
            "a\\b.toml",
            "/etc/x.toml",
            ".hidden.toml",
            "C:x.toml",
            "x.txt",
            "x\n.toml",
            "x\u{202e}.toml",
            "x\0.toml",
        ] {
            assert!(beside(brief, name).is_err(), "{name:?}");
        }
        assert!(beside(brief, &format!("{}.toml", "x".repeat(200))).is_err());
    }
}
