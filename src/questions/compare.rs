//! How formulas stand side by side with the target of a brief.

use super::{Outcome, Resolved};
use crate::analysis::broken::broken;
use crate::formula::Formula;
use crate::results::compare::CompareReport;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The formulas, as they were read.
    pub formulas: &'a [Formula],
    /// Whether parts that do not add up to 1000 are scaled; such a formula is
    /// reported with its sum alone otherwise.
    pub rescale: bool,
}

/// The comparison.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: CompareReport,
}

impl Answer {
    /// How it ended: a no where a formula could not be used.
    pub fn outcome(&self) -> Outcome {
        if self.report.all_used() { Outcome::Answered } else { Outcome::No }
    }
}

/// The rules that a formula of the problem's basis breaks, a sentence each. Where
/// it was `read` in another basis, rules on single doses are left aside.
pub fn breaks(of: &Resolved, formula: &Formula, read: Option<&Formula>) -> Vec<String> {
    let converted = read.is_some_and(|read| read.basis != of.problem.basis);
    broken(&of.problem, &of.brief, formula, converted).into_iter().map(|it| it.sentence).collect()
}

/// Judges the formulas.
pub fn ask(of: &Resolved, asked: &Asked<'_>) -> Answer {
    let warnings = of.warnings.clone();
    Answer { report: CompareReport::new(&of.problem, &of.brief, asked.formulas, asked.rescale, warnings) }
}
