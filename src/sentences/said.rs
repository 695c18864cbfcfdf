//! What a strength rests on that is no number, and how a figure that rests on it
//! is marked.

use crate::number::{plain, significant};
use crate::palette::{Material, Palette};
use crate::strength::{Said, Times};

/// What stands before a strength that rests on a word or a comparison.
pub const MARK: char = '~';

/// What is said below figures that bear the mark.
pub const FOOT: &str = "~ is a strength from a word or a comparison, known to within times or divided by 2 to 50; \
                        matches (`permil strengths`) and trials (`permil learn`) put numbers in its place.";

/// What the strength of a material rests on: `medium`, `20 times Geraniol`,
/// `Geraniol by thresholds in air`; `None` where it is a number.
pub fn said(material: &Material) -> Option<String> {
    match &material.said {
        Said::Number => None,
        Said::Word { word, .. } => Some(word.word().to_owned()),
        Said::Of { of, times: Times::Number(times), .. } => Some(format!("{} times {of}", plain(*times))),
        Said::Of { of, times: Times::Thresholds, .. } => Some(format!("{of} by thresholds in air")),
    }
}

/// The word that a score was given in, if it was.
pub fn said_score(palette: &Palette, material: &Material, descriptor: usize) -> Option<String> {
    let in_words = material.score_words.iter().find(|(own, _)| *own == descriptor);
    in_words.map(|(_, word)| palette.score_words[*word].0.clone())
}

/// A figure with the mark where it is loose.
pub fn marked(figure: &str, is_loose: bool) -> String {
    if is_loose { format!("{MARK}{figure}") } else { figure.to_owned() }
}

/// A formula's strength with so many digits and at most so many decimals; two
/// digits and the mark where it is loose.
pub fn strength(value: f64, is_loose: bool, digits: i32, most: usize) -> String {
    let digits = if is_loose { digits.min(2) } else { digits };
    marked(&significant(value, digits, 0, most), is_loose)
}

/// What is told of a brief whose materials have strengths without numbers: how
/// many of how many. `None` where all are numbers.
pub fn loose<'m>(usable: impl Iterator<Item = &'m Material> + Clone) -> Option<String> {
    let smell = usable.filter(|material| !material.is_carrier());
    let count = smell.clone().filter(|material| material.said.is_loose()).count();
    let all = smell.count();
    let are = if count == 1 { "is a word or a comparison" } else { "are words or comparisons" };
    let what = if count == 1 { "strength" } else { "strengths" };
    (count > 0).then(|| {
        format!(
            "{count} {what} of {all} {are}, known to within times or divided by 2 to 50: what rests on them is a first \
             guess; `permil check` says which to smell first"
        )
    })
}
