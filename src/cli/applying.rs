//! `--apply` and `--undo`: the palette itself is changed, with a history beside
//! it.

use std::path::Path;

use super::Ending;
use super::error::CliError;
use super::output;
use super::shared::present_day;
use crate::escape::escaped;
use crate::files::{
    HistoryStep, LARGEST_FILE, history, history_path, palette_changes, save_text, undone, with_step, without_last_step,
};
use crate::store::{Disk, Store, Unread};

/// The steps of a palette's history; none where there is no file.
///
/// # Errors
/// What is wrong with the file, in words.
pub fn steps(palette: &Path) -> Result<Vec<HistoryStep>, CliError> {
    let path = history_path(palette);
    history(&text_of(&path)?).map_err(|error| not_understood(&path, &error))
}

/// Writes a palette anew and its history with it, and says so. `make` makes the
/// new text of the present one.
///
/// # Errors
/// Why that could not be done.
pub fn apply(palette: &Path, by: &str, reason: &str, make: &dyn Fn(&str) -> String) -> Result<(), CliError> {
    let before = present(palette)?;
    let after = make(&before);
    let changes = palette_changes(&before, &after);
    if changes.is_empty() {
        output::note(&format!("{} stays as it is: nothing changes", name(palette)));
        return Ok(());
    }
    let count = numbers(changes.len());
    let step = HistoryStep { date: present_day(), by: by.to_owned(), reason: reason.to_owned(), changes };
    let path = history_path(palette);
    let text = with_step(&text_of(&path)?, &step).map_err(|error| not_understood(&path, &error))?;
    save_text(&path, &text, true)?;
    save_text(palette, &after, true)?;
    let (palette, path) = (name(palette), name(&path));
    output::note(&format!("{count} of {palette} changed; the former stand in {path}, and --undo takes them back"));
    Ok(())
}

/// Takes the last step back that changed a palette, and says so.
///
/// # Errors
/// Why that could not be done.
pub fn undo(palette: &Path) -> Result<Ending, CliError> {
    let path = history_path(palette);
    let steps = steps(palette)?;
    let step = steps
        .last()
        .ok_or_else(|| CliError::Wrong(format!("there is nothing to take back: {} has no steps", name(&path))))?;
    let back = undone(&present(palette)?, step).map_err(|since| {
        let since = escaped(&since);
        CliError::Wrong(format!("{} has changed since by hand: {since}. Nothing was taken back.", name(palette)))
    })?;
    let text = without_last_step(&text_of(&path)?).map_err(CliError::Wrong)?;
    save_text(palette, &back, true)?;
    save_text(&path, &text, true)?;
    let (count, by) = (numbers(step.changes.len()), escaped(&step.by));
    output::note(&format!("{count} of {} are as they were before {by} on {}", name(palette), step.date));
    Ok(Ending::Done)
}

fn numbers(count: usize) -> String {
    if count == 1 { "1 number".to_owned() } else { format!("{count} numbers") }
}

fn name(path: &Path) -> String {
    escaped(&path.to_string_lossy())
}

fn not_understood(path: &Path, error: &impl std::fmt::Display) -> CliError {
    CliError::Wrong(format!("{} cannot be understood: {error}", name(path)))
}

/// The text of a palette as it is now.
fn present(palette: &Path) -> Result<String, CliError> {
    Disk.text(palette, LARGEST_FILE).map_err(|why| CliError::Wrong(format!("{} {why}", name(palette))))
}

/// The text of a file; empty where there is none.
fn text_of(path: &Path) -> Result<String, CliError> {
    match Disk.text(path, LARGEST_FILE) {
        Err(Unread::Missing) => Ok(String::new()),
        read => read.map_err(|why| CliError::Wrong(format!("{} {why}", name(path)))),
    }
}
