//! Writing formula.toml: whole or not at all, and over an older one only
//! where that is asked for.

use std::cmp::Reverse;
use std::fs;
use std::io::Write;
use std::path::{Component, Path, PathBuf};

use toml_edit::{DocumentMut, Item, Table, Value};

use super::edit::set;
use super::formula::BASES;
use super::source::LARGEST_FILE;
use crate::escape::escaped;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::store::{Disk, Store};
use crate::units::Ppt;

/// Why a formula was not saved.
#[derive(Debug, thiserror::Error)]
pub enum SaveError {
    /// There is a file already, and nothing said that it may be overwritten.
    #[error("{} exists already", escaped(&.0.to_string_lossy()))]
    Exists(PathBuf),
    /// The path is that of a folder.
    #[error("{} is a folder", escaped(&.0.to_string_lossy()))]
    Folder(PathBuf),
    /// The path is that of a link, and nothing is to be written through one.
    #[error("{} is a link to another place", escaped(&.0.to_string_lossy()))]
    Link(PathBuf),
    /// The folder is missing, or full, or may not be written to.
    #[error("{} cannot be written: {error}", escaped(&path.to_string_lossy()))]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: std::io::Error,
    },
}

/// The text of formula.toml for a formula that will land at `path`.
pub fn formula_text(formula: &Formula, palette: &Palette, path: &Path) -> String {
    formula_text_in(&Disk, formula, palette, path)
}

/// The same for any store.
pub fn formula_text_in(store: &dyn Store, formula: &Formula, palette: &Palette, path: &Path) -> String {
    let mut document = DocumentMut::new();
    fill(&mut document, store, formula, palette, path);
    document.to_string()
}

/// Saves a formula. The text goes to a new file beside `path` first, which
/// then takes its name, so that a crash leaves the old file or the new one.
/// Where an older formula is overwritten its comments are kept, and its title
/// too unless the new one has its own.
///
/// # Errors
/// [`SaveError`]; the file at `path` is then as it was.
pub fn save_formula(path: &Path, formula: &Formula, palette: &Palette, force: bool) -> Result<(), SaveError> {
    let (target, old) = settled_target(path, force)?;
    let text = match &old {
        Some(_) => text_over(&target, formula, palette),
        None => formula_text(formula, palette, &target),
    };
    put(path, &target, old, text.as_bytes())
}

/// Saves a text the same way: whole or not at all.
///
/// # Errors
/// [`SaveError`]; the file at `path` is then as it was.
pub fn save_text(path: &Path, text: &str, force: bool) -> Result<(), SaveError> {
    save_bytes(path, text.as_bytes(), force)
}

/// Saves bytes, likewise.
///
/// # Errors
/// [`SaveError`]; the file at `path` is then as it was.
pub fn save_bytes(path: &Path, bytes: &[u8], force: bool) -> Result<(), SaveError> {
    let (target, old) = settled_target(path, force)?;
    put(path, &target, old, bytes)
}

/// Puts bytes in the place of a file, whole or not at all.
fn put(path: &Path, target: &Path, old: Option<fs::Metadata>, bytes: &[u8]) -> Result<(), SaveError> {
    let io = |error| SaveError::Io { path: path.to_owned(), error };
    let temporary = beside(target);
    let mode = old.map(|about| about.permissions());
    write_new(&temporary, bytes, mode).and_then(|()| fs::rename(&temporary, target)).map_err(|error| {
        // Best effort: the first error is the one to tell.
        let _ = fs::remove_file(&temporary);
        io(error)
    })
}

/// The same for a caller that others steer: never through a symbolic link.
/// What is there under the very name is replaced, and nothing elsewhere.
pub mod in_place {
    use super::{Formula, Palette, Path, SaveError, formula_text, fs, put, settled_target, text_over, try_beside};

    fn looked_at(path: &Path, force: bool) -> Result<Option<fs::Metadata>, SaveError> {
        if is_link(path) {
            return Err(SaveError::Link(path.to_owned()));
        }
        let (_, old) = settled_target(path, force)?;
        Ok(old)
    }

    /// Whether a path is that of a link.
    pub fn is_link(path: &Path) -> bool {
        path.is_symlink()
    }

    /// As [`super::save_formula`].
    ///
    /// # Errors
    /// [`SaveError`]; the file at `path` is then as it was.
    pub fn save_formula(path: &Path, formula: &Formula, palette: &Palette, force: bool) -> Result<(), SaveError> {
        let old = looked_at(path, force)?;
        let text = match &old {
            Some(_) => text_over(path, formula, palette),
            None => formula_text(formula, palette, path),
        };
        put(path, path, old, text.as_bytes())
    }

    /// As [`super::save_text`].
    ///
    /// # Errors
    /// [`SaveError`]; the file at `path` is then as it was.
    pub fn save_text(path: &Path, text: &str, force: bool) -> Result<(), SaveError> {
        let old = looked_at(path, force)?;
        put(path, path, old, text.as_bytes())
    }

    /// As [`super::could_save`].
    ///
    /// # Errors
    /// [`SaveError`]; nothing is left behind either way.
    pub fn could_save(path: &Path, force: bool) -> Result<(), SaveError> {
        looked_at(path, force)?;
        try_beside(path, path)
    }
}

/// Makes a folder and those above it, where they are not there yet.
///
/// # Errors
/// What the system says.
pub fn make_folder(path: &Path) -> std::io::Result<()> {
    fs::create_dir_all(path)
}

/// Whether [`save_formula`] or [`save_bytes`] could write to a path now: asked
/// before long work whose result would otherwise be lost.
///
/// # Errors
/// [`SaveError`]; nothing is left behind either way.
pub fn could_save(path: &Path, force: bool) -> Result<(), SaveError> {
    let (target, _) = settled_target(path, force)?;
    try_beside(path, &target)
}

fn try_beside(path: &Path, target: &Path) -> Result<(), SaveError> {
    let temporary = beside(target);
    let tried = fs::File::options().write(true).create_new(true).open(&temporary);
    tried.and_then(|_| fs::remove_file(&temporary)).map_err(|error| SaveError::Io { path: path.to_owned(), error })
}

/// The file that a path leads to, and what is known of an older one that may
/// be overwritten.
fn settled_target(path: &Path, force: bool) -> Result<(PathBuf, Option<fs::Metadata>), SaveError> {
    let is_folder = path.file_name().is_none() || path.as_os_str().as_encoded_bytes().ends_with(b"/");
    // A link stays a link: what it points to is replaced.
    let target = match path.is_symlink() {
        true => fs::canonicalize(path).map_err(|error| SaveError::Io { path: path.to_owned(), error })?,
        false => path.to_owned(),
    };
    match fs::metadata(&target) {
        Ok(about) if about.is_dir() => Err(SaveError::Folder(path.to_owned())),
        _ if is_folder => Err(SaveError::Folder(path.to_owned())),
        Ok(_) if !force => Err(SaveError::Exists(path.to_owned())),
        Ok(about) => Ok((target, Some(about))),
        Err(_) => Ok((target, None)),
    }
}

/// The text with what an older file holds besides; a file that is no TOML
/// has nothing to keep.
fn text_over(target: &Path, formula: &Formula, palette: &Palette) -> String {
    let old = super::form::composed(Disk.text(target, LARGEST_FILE).unwrap_or_default());
    let mut document = old.parse::<DocumentMut>().unwrap_or_default();
    // Only the keys of a formula stay: any other would be refused on reading.
    let is_text = |item: &Item| item.as_str().is_some_and(|text| !text.trim().is_empty());
    document.retain(|key, item| match key {
        "title" => is_text(item),
        _ => ["palette", "basis", "parts"].contains(&key) || is_remark(key, item),
    });
    fill(&mut document, &Disk, formula, palette, target);
    document.to_string()
}

pub(super) fn write_new(path: &Path, bytes: &[u8], mode: Option<fs::Permissions>) -> std::io::Result<()> {
    let mut file = fs::File::options().write(true).create_new(true).open(path)?;
    file.write_all(bytes)?;
    if let Some(mode) = mode {
        file.set_permissions(mode)?;
    }
    file.sync_all()
}

/// A name in the same folder, and so on the same disk, for the file until it
/// is whole.
fn beside(target: &Path) -> PathBuf {
    let name = target.file_name().unwrap_or_default().to_string_lossy();
    // Where there are no processes there is no number to be asked for.
    let own = if cfg!(all(target_family = "wasm", target_os = "unknown")) { 0 } else { std::process::id() };
    target.with_file_name(format!(".{name}.{own}.part"))
}

fn fill(document: &mut DocumentMut, store: &dyn Store, formula: &Formula, palette: &Palette, path: &Path) {
    let root = document.as_table_mut();
    if let Some(title) = &formula.title {
        set(root, "title", title.as_str().into());
    }
    set(root, "palette", relative(store, Path::new(&*palette.file), path).into());
    let basis = BASES.iter().find(|(_, basis)| *basis == formula.basis).map_or("neat", |(word, _)| word);
    set(root, "basis", basis.into());

    let mut parts: Vec<(&str, Ppt)> = Vec::with_capacity(formula.parts.len());
    for &(index, dose) in &formula.parts {
        parts.extend(palette.materials.get(index).map(|material| (material.name.as_str(), dose)));
    }
    parts.sort_by_key(|&(name, dose)| (Reverse(dose), name));
    if !root.get("parts").is_some_and(Item::is_table) {
        root.insert("parts", Item::Table(Table::new()));
    }
    let Some(table) = root.get_mut("parts").and_then(Item::as_table_mut) else { return };
    table.retain(|key, item| is_remark(key, item) || parts.iter().any(|(name, _)| *name == key));
    for &(name, dose) in &parts {
        set(table, name, number(dose));
    }
    let place = |key: &str| parts.iter().position(|(name, _)| *name == key);
    table.sort_values_by(|left, _, right, _| place(left.get()).cmp(&place(right.get())));
}

/// Whether an entry is free text, which stays; `remarks` that are anything else
/// would be refused on reading.
fn is_remark(key: &str, item: &Item) -> bool {
    key == "remarks" && item.is_str()
}

/// The dose as it would be written by hand: `412`, `0.6`.
fn number(dose: Ppt) -> Value {
    dose.to_string().parse().unwrap_or_else(|_| dose.as_f64().into())
}

/// The path of `file` as seen from the folder of `from`, with forward
/// slashes. Both are looked up, so that links and `..` do not mislead.
pub(super) fn relative(store: &dyn Store, file: &Path, from: &Path) -> String {
    let folder = match from.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    let settled = |path: &Path| store.identity(path).or_else(|| store.absolute(path));
    let (Some(file), Some(folder)) = (settled(file), settled(folder)) else {
        return file.to_string_lossy().into_owned();
    };
    let (there, here): (Vec<_>, Vec<_>) = (file.components().collect(), folder.components().collect());
    let common = there.iter().zip(&here).take_while(|(a, b)| a == b).count();
    if !matches!(here.first(), Some(first) if there.first() == Some(first)) {
        // Another drive: only the whole path leads there.
        return file.to_string_lossy().into_owned();
    }
    let up = here[common..].iter().map(|_| Component::ParentDir);
    let steps = up.chain(there[common..].iter().copied());
    steps.map(|step| step.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn relative_paths() {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("a/b");
        fs::create_dir_all(&folder).unwrap();
        let palette = root.path().join("palette.toml");
        fs::write(&palette, "").unwrap();
        assert_eq!(relative(&Disk, &palette, &folder.join("formula.toml")), "../../palette.toml");
        assert_eq!(relative(&Disk, &palette, &root.path().join("formula.toml")), "palette.toml");
        assert_eq!(relative(&Disk, &folder.join("p.toml"), &root.path().join("f.toml")), "a/b/p.toml");
    }
}
