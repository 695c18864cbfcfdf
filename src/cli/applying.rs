//! `--apply` and `--undo`: the palette itself is changed, with a history beside
//! it.

use std::path::Path;

use super::Ending;
use super::output::{self, complain};
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
pub fn steps(palette: &Path) -> Result<Vec<HistoryStep>, String> {
    let path = history_path(palette);
    history(&text_of(&path)?).map_err(|error| format!("{} cannot be understood: {error}", name(&path)))
}

/// Writes a palette anew and its history with it. `make` makes the new text of
/// the present one.
pub fn apply(palette: &Path, by: &str, reason: &str, make: &dyn Fn(&str) -> String) -> Ending {
    told(try_apply(palette, by, reason, make))
}

fn try_apply(palette: &Path, by: &str, reason: &str, make: &dyn Fn(&str) -> String) -> Result<String, String> {
    let before = Disk.text(palette, LARGEST_FILE).map_err(|why| format!("{} {why}", name(palette)))?;
    let after = make(&before);
    let changes = palette_changes(&before, &after);
    if changes.is_empty() {
        return Ok(format!("{} stays as it is: nothing changes", name(palette)));
    }
    let count = numbers(changes.len());
    let step = HistoryStep { date: present_day(), by: by.to_owned(), reason: reason.to_owned(), changes };
    let path = history_path(palette);
    let text =
        with_step(&text_of(&path)?, &step).map_err(|error| format!("{} cannot be understood: {error}", name(&path)))?;
    save_text(&path, &text, true).map_err(|error| error.to_string())?;
    save_text(palette, &after, true).map_err(|error| error.to_string())?;
    Ok(format!("{count} of {} changed; the former stand in {}, and --undo takes them back", name(palette), name(&path)))
}

/// Takes the last step back that changed a palette.
pub fn undo(palette: &Path) -> Ending {
    told(try_undo(palette))
}

fn try_undo(palette: &Path) -> Result<String, String> {
    let path = history_path(palette);
    let steps = steps(palette)?;
    let Some(step) = steps.last() else {
        return Err(format!("there is nothing to take back: {} has no steps", name(&path)));
    };
    let now = Disk.text(palette, LARGEST_FILE).map_err(|why| format!("{} {why}", name(palette)))?;
    let back = undone(&now, step).map_err(|since| {
        let since = escaped(&since);
        format!("{} has changed since by hand: {since}. Nothing was taken back.", name(palette))
    })?;
    let text = without_last_step(&text_of(&path)?)?;
    save_text(palette, &back, true).map_err(|error| error.to_string())?;
    save_text(&path, &text, true).map_err(|error| error.to_string())?;
    let (count, by) = (numbers(step.changes.len()), escaped(&step.by));
    Ok(format!("{count} of {} are as they were before {by} on {}", name(palette), step.date))
}

fn numbers(count: usize) -> String {
    if count == 1 { "1 number".to_owned() } else { format!("{count} numbers") }
}

fn name(path: &Path) -> String {
    escaped(&path.to_string_lossy())
}

/// The text of a file; empty where there is none.
fn text_of(path: &Path) -> Result<String, String> {
    match Disk.text(path, LARGEST_FILE) {
        Err(Unread::Missing) => Ok(String::new()),
        read => read.map_err(|why| format!("{} {why}", name(path))),
    }
}

fn told(done: Result<String, String>) -> Ending {
    match done {
        Ok(words) => {
            output::note(&words);
            Ending::Done
        }
        Err(words) => {
            complain(&words);
            Ending::Wrong
        }
    }
}
