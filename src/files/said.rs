//! Strengths and scores of a palette that are given in words, or beside another
//! material.

use std::ops::Range;

use toml::de::DeValue;

use super::fault::Sink;
use super::keys;
use super::near;
use super::snippet::short;
use super::value::Field;
use super::walk::Table;
use crate::follow::{Unfollowed, follow as fill_in};
use crate::number::plain;
use crate::palette::Palette;
use crate::strength::{Said, StrengthWord, THRESHOLDS, Times};

/// The words that stand for scores, with their points, in the order of the file.
pub(super) fn score_words(field: &Field<'_>, scale: f64) -> Vec<(String, f64)> {
    let Some(table) = field.table("[score_words]") else { return Vec::new() };
    let mut words = Vec::new();
    for entry in table.named() {
        if entry.key.trim().is_empty() {
            entry.report_key("a word for a score is empty", "expected a word");
        }
        // A word whose number is wrong is still a word: one fault is enough.
        let points = entry.number_on_scale(&keys::SCORE_WORD, Some(scale)).unwrap_or_default();
        words.push((entry.key.to_owned(), points));
    }
    table.close_named();
    words
}

/// A score, and the word that it was given in, if it was.
pub(super) fn score(entry: &Field<'_>, palette: &Palette) -> (Option<f64>, Option<usize>) {
    let DeValue::String(word) = entry.value.get_ref() else {
        return (entry.number_on_scale(&keys::SCORE, Some(palette.scale)), None);
    };
    let known = &palette.score_words;
    let found = known.iter().position(|(own, _)| own == word);
    if found.is_none() {
        let message = format!("\"{}\" is not a word for a score", short(word));
        let help = if known.is_empty() {
            "expected a number, or a table [score_words] that says what the words of this palette stand for".to_owned()
        } else {
            near::hint(word, known.iter().map(|(own, _)| own.as_str()))
        };
        entry.report(message, help);
    }
    (found.map(|at| known[at].1), found)
}

/// The strength of a material that is no base where it is a number or a word, and
/// what it rests on.
pub(super) fn strength(table: &Table<'_>) -> (Option<f64>, Said) {
    let factor = || table.get("strength_factor").and_then(|field| field.number(&keys::STRENGTH_FACTOR));
    let times = table.get("times");
    if let Some(of) = table.get("strength_of") {
        if let Some(strength) = table.get("strength") {
            strength.report_key("`strength` and `strength_of` stand in one material", "a material has one of the two");
        }
        let help = "expected how many times as strong: times = 20, or times = \"thresholds\"";
        let times = table.require("times", help).and_then(how_many_times);
        let said = of.name().zip(times).map(|(of, times)| Said::Of { of: of.to_owned(), times, factor: factor() });
        return (None, said.unwrap_or_default());
    }
    if let Some(times) = times {
        times.report_key("`times` stands without `strength_of`", "strength_of names the material that it is beside");
    }
    const HELP: &str = "expected its strength beside the others, by dilution; 0 for a carrier; without a number yet \
                        strength = \"medium\", or strength_of and times";
    let Some(field) = table.require("strength", HELP) else { return (None, Said::Number) };
    if !matches!(field.value.get_ref(), DeValue::String(_)) {
        return (field.number(&keys::MATERIAL_STRENGTH), Said::Number);
    }
    match field.word_or_number(&StrengthWord::ALL) {
        Some(word) => (Some(word.strength()), Said::Word { word, factor: factor() }),
        None => (None, Said::Number),
    }
}

fn how_many_times(field: &Field<'_>) -> Option<Times> {
    match field.value.get_ref() {
        DeValue::String(_) => field.word_or_number(&[(THRESHOLDS, Times::Thresholds)]),
        _ => field.number(&keys::TIMES).map(Times::Number),
    }
}

/// Fills in the strengths that follow from other materials. `spans` has where each
/// names the other.
pub(super) fn follow(sink: &Sink<'_>, palette: &mut Palette, spans: &[Option<Range<usize>>]) {
    for (at, why) in fill_in(&mut palette.materials, super::thresholds()) {
        let Some(Some(span)) = spans.get(at) else { continue };
        let Said::Of { of, .. } = &palette.materials[at].said else { continue };
        let names = palette.materials.iter().map(|material| material.name.as_str());
        if let Some((message, help)) = unfollowed(of, &why, names) {
            sink.report(span.clone(), message, help);
        }
    }
}

/// What is wrong with a strength that should follow from another, and what helps;
/// `None` where that is told of the other.
pub(super) fn unfollowed<'n>(
    of: &str,
    why: &Unfollowed,
    names: impl IntoIterator<Item = &'n str> + Clone,
) -> Option<(String, String)> {
    let of = short(of);
    Some(match why {
        Unfollowed::NoSuch => (format!("no material is named \"{of}\""), near::hint(&of, names)),
        Unfollowed::Circle(round) => {
            let others: Vec<String> = round.iter().skip(1).map(|name| short(name)).collect();
            let own = short(&round[0]);
            let by = if others.is_empty() { String::new() } else { format!(" by way of {}", others.join(", ")) };
            let message = format!("the strength of \"{own}\" rests on itself{by}");
            (message, "one material of the circle needs a strength in a number or a word".to_owned())
        }
        Unfollowed::Carrier => {
            (format!("\"{of}\" is a carrier"), "expected a material that smells: its strength is 0".to_owned())
        }
        Unfollowed::Base => {
            let message = format!("\"{of}\" is a base: its strength follows from its formula");
            (message, "expected a material with a strength of its own".to_owned())
        }
        Unfollowed::Range(strength) => {
            let message = format!("the strength would be {}, out of range", plain(*strength));
            (message, keys::MATERIAL_STRENGTH.expected(None))
        }
        Unfollowed::NoThreshold(name) => {
            let message = format!("no threshold in air is known of \"{}\"", short(name));
            let help = "the table goes by CAS number and holds few materials (profiles/thresholds.toml); compare by \
                        nose: times = 20";
            (message, help.to_owned())
        }
        Unfollowed::Elsewhere => return None,
    })
}
