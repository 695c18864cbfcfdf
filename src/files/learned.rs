//! What was learned, written into the text of a palette; and the mark of a
//! palette, written into the text of trials. Comments and order stay.

use toml_edit::{DocumentMut, InlineTable, Item, TableLike, Value};

use super::edit::set;
use super::edit_palette::numbered;
use crate::number::{decimals_for, plain};
use crate::palette::{Material, Palette};

/// A score that was 0 is written from here on, in points: nobody writes down
/// less.
const LEAST_NEW: f64 = 0.1;
/// The range of a strength that is not 0, see `keys::MATERIAL_STRENGTH`.
const LEAST_STRENGTH: f64 = 1e-6;
const MOST_STRENGTH: f64 = 1e6;
/// The upper end of `keys::LASTING`.
const MOST_HOURS: f64 = 1e6;

/// The text of a palette's file with other scores, strengths, tenacities and errors in it:
/// those of `after` where they differ from `before`, which the text holds. Scores
/// have two decimals, strengths and hours three digits.
pub fn learned_palette_text(text: &str, before: &Palette, after: &Palette) -> String {
    let mut document = super::form::composed(text.to_owned()).parse::<DocumentMut>().unwrap_or_default();
    let words: Vec<&str> = before.descriptors.iter().map(|descriptor| descriptor.name.as_str()).collect();
    let mut pairs = before.materials.iter().zip(&after.materials);
    let mut each = |table: &mut dyn TableLike| {
        if let Some((before, after)) = pairs.next() {
            write(table, &words, before, after);
        }
    };
    match document.get_mut("material") {
        Some(Item::ArrayOfTables(tables)) => tables.iter_mut().for_each(|table| each(table)),
        Some(Item::Value(Value::Array(tables))) => {
            tables.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|table| each(table));
        }
        _ => {}
    }
    document.to_string()
}

fn write(table: &mut dyn TableLike, words: &[&str], before: &Material, after: &Material) {
    if before.formula.is_some() {
        // The numbers of a base follow from its formula.
        return;
    }
    let strength = |strength: f64| {
        // What reading would refuse is not written.
        let kept = strength.clamp(LEAST_STRENGTH, MOST_STRENGTH);
        rounded(kept, decimals_for(kept, 3, 0, 9) as i32)
    };
    let is_other = !before.is_carrier() && strength(before.strength) != strength(after.strength);
    let factor = |material: &Material| material.strength_factor.map(|factor| rounded(factor, 3));
    if before.said.is_loose() {
        // A number takes the place of what the strength rested on, and then its
        // error stands beside it.
        if is_other || factor(before) != factor(after) {
            numbered(table);
            set_number(table, "strength", &strength(after.strength));
            set_changed(table, "strength_factor", None, after.strength_factor, 3);
        }
    } else {
        if is_other {
            set_number(table, "strength", &strength(after.strength));
        }
        set_changed(table, "strength_factor", before.strength_factor, after.strength_factor, 3);
    }
    let lasting = |material: &Material| material.lasting_hours.map(hours);
    if let (true, Some(hours)) = (lasting(before) != lasting(after), lasting(after)) {
        set_number(table, "lasting", &hours);
    }
    set_changed(table, "lasting_factor", before.lasting_factor, after.lasting_factor, 3);
    set_changed(table, "score_error", before.score_error, after.score_error, 2);
    let is_told = |at: usize| before.scores[at] > 0.0 || after.scores[at] >= LEAST_NEW;
    let is_other = |at: usize| rounded(before.scores[at], 2) != rounded(after.scores[at], 2);
    let changed: Vec<usize> = (0..words.len()).filter(|&at| is_told(at) && is_other(at)).collect();
    if changed.is_empty() {
        return;
    }
    if !table.contains_key("scores") {
        table.insert("scores", Item::Value(Value::InlineTable(InlineTable::new())));
    }
    let Some(scores) = table.get_mut("scores").and_then(Item::as_table_like_mut) else { return };
    for at in changed {
        set_number(scores, words[at], &rounded(after.scores[at], 2));
    }
    // A new key at the end of one line leaves the blanks of the old end behind.
    if let Some(scores) = table.get_mut("scores").and_then(Item::as_inline_table_mut) {
        scores.fmt();
    }
}

fn set_changed(table: &mut dyn TableLike, key: &str, before: Option<f64>, after: Option<f64>, decimals: i32) {
    let text = |value: Option<f64>| value.map(|value| rounded(value, decimals));
    if let (true, Some(after)) = (text(before) != text(after), text(after)) {
        set_number(table, key, &after);
    }
}

/// Hours with three digits, in the range of the key.
fn hours(hours: f64) -> String {
    let kept = hours.clamp(0.0, MOST_HOURS);
    rounded(kept, decimals_for(kept, 3, 0, 9) as i32)
}

fn rounded(value: f64, decimals: i32) -> String {
    let steps = 10_f64.powi(decimals);
    plain((value * steps).round() / steps)
}

fn set_number(table: &mut dyn TableLike, key: &str, text: &str) {
    if let Ok(value) = text.parse::<Value>() {
        set(table, key, value);
    }
}

/// The text of trials with the mark of the palette that they were held against.
pub fn stamped_text(text: &str, fingerprint: &str) -> String {
    let mut document = super::form::composed(text.to_owned()).parse::<DocumentMut>().unwrap_or_default();
    set(document.as_table_mut(), "palette_fingerprint", fingerprint.into());
    document.to_string()
}
