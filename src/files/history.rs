//! What was changed in a palette by what was smelled, in a file beside it:
//! `palette.history.toml` beside `palette.toml`. Each step holds the former and
//! the new number of everything that changed, so that the last one can be taken
//! back; what a hand has changed since is not overwritten.

use std::path::{Path, PathBuf};

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::edit::set;
use crate::trials::Date;

const HEAD: &str = "\
# What learn and strengths have changed in the palette beside this file, the last
# step last. --undo takes the last step back.
";
/// Numbers of a material that may change, its scores aside.
const NUMBERS: [&str; 7] =
    ["strength", "strength_of", "times", "strength_factor", "score_error", "lasting", "lasting_factor"];

/// One change of a palette.
#[derive(Clone, Debug, PartialEq)]
pub struct HistoryStep {
    /// The day.
    pub date: Date,
    /// The command.
    pub by: String,
    /// Why: the file and what of it.
    pub reason: String,
    /// What changed.
    pub changes: Vec<HistoryChange>,
}

/// One number of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct HistoryChange {
    /// The material.
    pub material: String,
    /// A key of the material, or the descriptor of a score.
    pub number: String,
    /// Whether it is a score.
    pub is_score: bool,
    /// As it was written; `None` where it was not.
    pub before: Option<String>,
    /// As it is written now, likewise.
    pub after: Option<String>,
}

/// Where the history of a palette is.
pub fn history_path(palette: &Path) -> PathBuf {
    palette.with_extension("history.toml")
}

/// The numbers that differ between two texts of one palette.
pub fn palette_changes(before: &str, after: &str) -> Vec<HistoryChange> {
    let (Ok(mut before), Ok(mut after)) = (before.parse::<DocumentMut>(), after.parse::<DocumentMut>()) else {
        return Vec::new();
    };
    let mut numbers = Vec::new();
    each_material(&mut before, &mut |table| numbers.push(numbers_of(table)));
    let mut changes = Vec::new();
    each_material(&mut after, &mut |table| {
        let name = name_of(table);
        let now = numbers_of(table);
        let Some((_, was)) = numbers.iter().find(|of| of.0 == name) else { return };
        let mut keys: Vec<&(String, bool)> = was.iter().chain(&now.1).map(|(key, _)| key).collect();
        let mut seen: Vec<&(String, bool)> = Vec::new();
        keys.retain(|key| {
            let is_new = !seen.contains(key);
            seen.push(key);
            is_new
        });
        for key in keys {
            let of = |numbers: &[((String, bool), String)]| {
                numbers.iter().find(|(other, _)| other == key).map(|(_, text)| text.clone())
            };
            let (before, after) = (of(was), of(&now.1));
            if before != after {
                let (number, is_score) = key.clone();
                changes.push(HistoryChange { material: name.clone(), number, is_score, before, after });
            }
        }
    });
    changes
}

/// The text of a history with one more step; an empty one begins it.
///
/// # Errors
/// Where the text is no history.
pub fn with_step(text: &str, step: &HistoryStep) -> Result<String, String> {
    let is_new = text.trim().is_empty() || text.trim() == HEAD.trim();
    let mut document = read(if is_new { "" } else { text })?;
    let mut table = Table::new();
    set(&mut table, "date", step.date.to_string().into());
    set(&mut table, "by", step.by.as_str().into());
    set(&mut table, "reason", step.reason.as_str().into());
    let mut changes = Array::new();
    for change in &step.changes {
        let mut line = InlineTable::new();
        line.insert("material", change.material.as_str().into());
        line.insert(if change.is_score { "score" } else { "number" }, change.number.as_str().into());
        for (key, value) in [("before", &change.before), ("after", &change.after)] {
            if let Some(value) = value.as_ref().and_then(|text| text.parse::<Value>().ok()) {
                line.insert(key, value);
            }
        }
        let mut value = Value::InlineTable(line);
        value.decor_mut().set_prefix("\n  ");
        changes.push_formatted(value);
    }
    changes.set_trailing_comma(true);
    changes.set_trailing("\n");
    set(&mut table, "changes", Value::Array(changes));
    let steps = document.entry("step").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let steps = steps.as_array_of_tables_mut().ok_or_else(|| "`step` is no list of tables".to_owned())?;
    steps.push(table);
    Ok(if is_new { format!("{HEAD}\n{document}") } else { document.to_string() })
}

/// The steps of a history.
///
/// # Errors
/// Where the text is no history.
pub fn history(text: &str) -> Result<Vec<HistoryStep>, String> {
    let document = read(text)?;
    let Some(steps) = document.get("step") else { return Ok(Vec::new()) };
    let steps = steps.as_array_of_tables().ok_or_else(|| "`step` is no list of tables".to_owned())?;
    steps
        .iter()
        .enumerate()
        .map(|(at, table)| step(table).ok_or_else(|| format!("step {} lacks something", at + 1)))
        .collect()
}

/// The text of a palette with one step taken back.
///
/// # Errors
/// What of it has changed since, in words.
pub fn undone(palette: &str, step: &HistoryStep) -> Result<String, String> {
    let mut document = palette.parse::<DocumentMut>().map_err(|error| error.to_string())?;
    let mut left: Vec<&HistoryChange> = step.changes.iter().collect();
    let mut since: Vec<String> = Vec::new();
    each_material(&mut document, &mut |table| {
        let name = name_of(table);
        for change in step.changes.iter().filter(|change| change.material == name) {
            left.retain(|other| *other != change);
            if !take_back(table, change) {
                let of = if change.is_score { "its " } else { "" };
                since.push(format!("{of}{} of {name}", change.number));
            }
        }
    });
    since.extend(left.iter().map(|change| format!("{}, which is gone", change.material)));
    if since.is_empty() { Ok(document.to_string()) } else { Err(since.join(", ")) }
}

/// The text of a history without its last step.
///
/// # Errors
/// Where the text is no history.
pub fn without_last_step(text: &str) -> Result<String, String> {
    let mut document = read(text)?;
    if let Some(steps) = document.get_mut("step").and_then(Item::as_array_of_tables_mut)
        && let Some(last) = steps.len().checked_sub(1)
    {
        steps.remove(last);
        if steps.is_empty() {
            return Ok(HEAD.to_owned());
        }
    }
    Ok(document.to_string())
}

fn read(text: &str) -> Result<DocumentMut, String> {
    text.parse::<DocumentMut>().map_err(|error| error.to_string())
}

fn step(table: &Table) -> Option<HistoryStep> {
    let text = |key: &str| table.get(key)?.as_str().map(str::to_owned);
    let change = |value: &Value| {
        let line = value.as_inline_table()?;
        let word = |key: &str| line.get(key)?.as_str().map(str::to_owned);
        let (number, is_score) = match (word("score"), word("number")) {
            (Some(score), None) => (score, true),
            (None, Some(number)) => (number, false),
            _ => return None,
        };
        let written = |key: &str| line.get(key).map(literal);
        Some(HistoryChange {
            material: word("material")?,
            number,
            is_score,
            before: written("before"),
            after: written("after"),
        })
    };
    Some(HistoryStep {
        date: Date::parse(&text("date")?)?,
        by: text("by")?,
        reason: text("reason")?,
        changes: table.get("changes")?.as_array()?.iter().map(change).collect::<Option<_>>()?,
    })
}

/// Puts the former number back; false where it is not the one of the step.
fn take_back(table: &mut dyn TableLike, change: &HistoryChange) -> bool {
    if change.is_score {
        if let Some(scores) = table.get_mut("scores").and_then(Item::as_table_like_mut) {
            let done = put_back(scores, change);
            // A key that is gone from the end of one line takes its blanks along.
            if let (None, Some(scores)) = (&change.before, table.get_mut("scores").and_then(Item::as_inline_table_mut))
            {
                scores.fmt();
            }
            done
        } else {
            change.after.is_none() && change.before.is_none()
        }
    } else {
        put_back(table, change)
    }
}

fn put_back(table: &mut dyn TableLike, change: &HistoryChange) -> bool {
    let now = table.get(&change.number).and_then(Item::as_value).map(literal);
    if now != change.after {
        return false;
    }
    match change.before.as_ref().map(|text| text.parse::<Value>()) {
        None => {
            table.remove(&change.number);
        }
        Some(Ok(value)) => set(table, &change.number, value),
        Some(Err(_)) => return false,
    }
    true
}

/// A value as it is written, without what stands around it.
fn literal(value: &Value) -> String {
    let mut bare = value.clone();
    bare.decor_mut().clear();
    bare.to_string()
}

fn name_of(table: &dyn TableLike) -> String {
    table.get("name").and_then(Item::as_str).unwrap_or_default().to_owned()
}

/// Each number of a material, scores marked, as it is written.
type Numbers = Vec<((String, bool), String)>;

fn numbers_of(table: &dyn TableLike) -> (String, Numbers) {
    let mut numbers: Numbers = Vec::new();
    for key in NUMBERS {
        if let Some(value) = table.get(key).and_then(Item::as_value) {
            numbers.push(((key.to_owned(), false), literal(value)));
        }
    }
    if let Some(scores) = table.get("scores").and_then(Item::as_table_like) {
        let each = scores.iter().filter_map(|(word, item)| Some((word, item.as_value()?)));
        numbers.extend(each.map(|(word, value)| ((word.to_owned(), true), literal(value))));
    }
    (name_of(table), numbers)
}

/// Does something with every material of a palette, however they are written.
fn each_material(document: &mut DocumentMut, work: &mut dyn FnMut(&mut dyn TableLike)) {
    match document.get_mut("material") {
        Some(Item::ArrayOfTables(tables)) => tables.iter_mut().for_each(|table| work(table)),
        Some(Item::Table(table)) => work(table),
        Some(Item::Value(Value::Array(list))) => {
            list.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|table| work(table));
        }
        Some(Item::Value(Value::InlineTable(table))) => work(table),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: &str = "# mine\n[[material]]\nname = \"A\" # the body\nstrength = 40 # weak\n\
                          scores = { rosy = 7 }\n\n[[material]]\nname = \"B\"\nstrength = 3\nscores = { rosy = 1.5 }\n";

    fn learned() -> (String, HistoryStep) {
        let after = BEFORE
            .replace("strength = 40", "strength = 52.5")
            .replace("rosy = 1.5", "rosy = 2, green = 0.4")
            .replace("strength = 3\n", "strength = 3\nstrength_factor = 1.2\n");
        let changes = palette_changes(BEFORE, &after);
        let date = Date::parse("2026-11-29").unwrap();
        (after, HistoryStep { date, by: "learn".into(), reason: "trials.toml: 101".into(), changes })
    }

    #[test]
    fn a_step_is_read_as_it_was_written_and_taken_back_with_all_comments() {
        let (after, step) = learned();
        assert_eq!(step.changes.len(), 4, "{step:?}");
        let text = with_step("", &step).unwrap();
        assert_eq!(history(&text).unwrap(), std::slice::from_ref(&step));
        let twice = with_step(&text, &step).unwrap();
        assert_eq!(history(&twice).unwrap().len(), 2);
        assert_eq!(without_last_step(&twice).unwrap(), text);
        let back = undone(&after, &step).unwrap();
        assert_eq!(palette_changes(BEFORE, &back), []);
        assert!(back.starts_with("# mine\n") && back.contains("strength = 40 # weak\n"), "{back}");
        assert!(!back.contains("strength_factor") && !back.contains("green"), "{back}");
    }

    #[test]
    fn what_a_hand_has_changed_since_is_not_overwritten() {
        let (after, step) = learned();
        let error = undone(&after.replace("52.5", "60"), &step).unwrap_err();
        assert_eq!(error, "strength of A");
        assert!(undone(&after.replace("\"B\"", "\"C\""), &step).unwrap_err().contains("B, which is gone"));
        assert!(history("step = 3").is_err() && history("[[step]]\ndate = \"x\"\n").is_err());
    }
}
