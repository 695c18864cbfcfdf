//! A broken rule on the page.

use super::formula::round_to;
use crate::escape::escaped;
use crate::number::{decimals_for, plain};
use crate::results::broken::BrokenLine;

/// A broken rule in words, with its place.
pub fn sentence(line: &BrokenLine) -> String {
    let place = match line.line {
        Some(number) => format!("{}:{number}", escaped(&line.file)),
        None => escaped(&line.file),
    };
    // Rules that a material must or must not be used have no number of note.
    let bare = line.rule.is_without_number() || !line.has.is_finite();
    let decimals = decimals_for(line.has, 7, 0, 9);
    let has = if bare { String::new() } else { format!("; it has {}", plain(round_to(line.has, decimals))) };
    format!("{}{has} ({place})", escaped(&line.sentence))
}
