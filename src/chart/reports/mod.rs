//! From a report to the input of its chart: one file for each question.

mod adjust;
mod doubt;
mod leeway;
mod pairs;
mod profile;
mod push;
mod shelf;
mod starts;
mod strengths;
mod strip;
mod tradeoff;

use crate::results::Head;

/// What a chart calls the brief: its title, or its file.
fn title(head: &Head) -> String {
    head.title.as_ref().filter(|title| !title.trim().is_empty()).unwrap_or(&head.brief).clone()
}
