//! Small pieces of pages, written once for the page of `explore`, the report and
//! the sheet. Their classes mean the same in all three: `n` a number, `soft` a
//! quiet remark, `sub` one on a line of its own beneath, `mark` what to heed.

use maud::{Markup, html};

use crate::escape::escaped;
use crate::number::rounded;
use crate::results::{Care, cautions};
use crate::text::sure::of_hundred;

/// Names of the user's, escaped, with commas.
pub fn names<S: AsRef<str>>(names: impl IntoIterator<Item = S>) -> String {
    names.into_iter().map(|name| escaped(name.as_ref())).collect::<Vec<_>>().join(", ")
}

/// A difference with its sign, and a true minus.
pub fn signed(by: f64, decimals: usize) -> String {
    let sign = if by < 0.0 { '\u{2212}' } else { '+' };
    format!("{sign}{}", rounded(by.abs(), decimals))
}

/// A sentence that begins one.
pub fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// In how many of 100 draws another formula is nearer.
pub fn nearer(percent: Option<f64>) -> String {
    percent.map_or_else(|| "·".to_owned(), of_hundred)
}

/// A list of sentences, escaped; nothing where there are none.
pub fn list<S: AsRef<str>>(sentences: &[S]) -> Markup {
    html! { @if !sentences.is_empty() { ul { @for it in sentences { li { (escaped(it.as_ref())) } } } } }
}

/// Everything to mind before the formula is mixed or worn; what holds of any
/// formula where there is none.
pub fn to_mind(care: Option<&Care>) -> Markup {
    let all = care.map_or_else(|| cautions(&[]), |care| care.cautions.clone());
    html! { ul.caution { @for it in all { li { span.mark { (it.about) ". " } (escaped(&it.text)) } } } }
}
