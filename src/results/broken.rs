//! A rule that a formula breaks, in a report.

use serde::Serialize;

use crate::analysis::broken::Broken;
use crate::problem::RuleId;

/// A rule that a formula breaks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BrokenLine {
    /// The rule's id.
    pub rule: RuleId,
    /// The file it was written in.
    pub file: String,
    /// The line; null where the lack of an entry makes the rule.
    pub line: Option<usize>,
    /// The number it stands at.
    pub at: f64,
    /// What the formula has.
    pub has: f64,
    /// The rule in words.
    pub sentence: String,
}

impl From<Broken> for BrokenLine {
    fn from(broken: Broken) -> BrokenLine {
        let Broken { rule, file, line, at, has, sentence } = broken;
        BrokenLine { rule, file: file.to_string(), line, at, has, sentence }
    }
}
