//! How a formula that was smelled is moved in a wanted direction with the least
//! change.

use super::{Outcome, Refusal, Resolved};
use crate::analysis::add::{BEAKER, add};
pub use crate::analysis::adjust::Wish;
use crate::analysis::adjust::adjust;
use crate::analysis::basis::in_basis;
use crate::analysis::repair::Reasons;
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::results::adjust::{AdjustReport, Outcome as Found, Subject};
use crate::sentences::views::AS_MIXED;
use crate::solve::{Method, Status};

/// By how many points of the scale each descriptor is moved at least where
/// nothing else is said.
pub const POINTS: f64 = 0.5;

/// What is said where no change does it.
const NO_CHANGE: &str = "no change does it within the rules (proven)";

/// What is asked for; there is no default for what was smelled.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// The formula as it was read; parts that do not add up to 1000 are scaled.
    pub formula: &'a Formula,
    /// What is wanted of it.
    pub wish: Wish,
    /// Grams of it in the beaker, where nothing can be taken out.
    pub batch_grams: Option<f64>,
    /// Which method answers; the smallest change has the search alone.
    pub method: Method,
}

/// The change.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of it.
    pub report: AdjustReport,
    /// The formula after it.
    pub formula: Option<Formula>,
    /// How sure it is that no change is smaller.
    pub status: Status,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.status, NO_CHANGE)
    }
}

/// Looks for the smallest change; its reasons, where there is none, in what is
/// left of the time.
///
/// # Errors
/// The method does not know changes, nothing in the formula smells of what
/// counts, or a solver failed.
pub fn ask(of: &Resolved, asked: &Asked<'_>, control: &Control) -> Result<Answer, Refusal> {
    of.linear("adjust")?;
    let Resolved { problem, brief, .. } = of;
    if let Method::Borrowed(_) = asked.method {
        let words = "the smallest change is found by the search of permil alone: --solver auto or search";
        return Err(Refusal::Wrong(words.to_owned()));
    }
    let formula = in_basis(&problem.palette, &asked.formula.rescaled(), problem.basis);
    // By what its own film leaves: a small change leaves nearly as much.
    let problem = &problem.as_it_dries(&formula);
    if evaluate(problem, &formula).is_err() {
        let words = "nothing in the formula has an odour that counts, so it cannot be moved";
        return Err(Refusal::Wrong(words.to_owned()));
    }
    let subject = Subject { problem, brief, read: asked.formula, formula: &formula };
    match asked.batch_grams {
        Some(batch) => added(of, &subject, &asked.wish, batch, control),
        None => changed(of, &subject, &asked.wish, control),
    }
}

/// What is added to a beaker that nothing can be taken out of.
fn added(
    of: &Resolved,
    subject: &Subject<'_>,
    wish: &Wish,
    batch_grams: f64,
    control: &Control,
) -> Result<Answer, Refusal> {
    let found = add(subject.problem, subject.formula, wish, batch_grams, control)?;
    let told = Found {
        status: found.status,
        answer: found.found.as_ref().map(|(answer, _)| answer),
        bound: None,
        smallest: found.smallest,
        furthest: found.furthest.as_ref(),
        needs: None,
        batch: Some(batch_grams),
        added: found.found.as_ref().map(|(_, added)| added.as_slice()),
        rules: &found.rules,
    };
    let why = reasons(&found.rules, found.status, control);
    let report = AdjustReport::new(subject, wish, &told, &why, warnings(of));
    Ok(Answer { report, formula: found.found.map(|(answer, _)| answer.formula), status: found.status })
}

/// The smallest change of the doses.
fn changed(of: &Resolved, subject: &Subject<'_>, wish: &Wish, control: &Control) -> Result<Answer, Refusal> {
    let found = adjust(subject.problem, subject.formula, wish, control)?;
    let told = Found {
        status: found.status,
        answer: found.answer.as_ref(),
        bound: Some(found.bound),
        smallest: found.smallest,
        furthest: found.furthest.as_ref(),
        needs: found.needs,
        batch: None,
        added: None,
        rules: &found.rules,
    };
    // One number says it all where it is the option alone that stands in the way.
    let is_told = found.needs.is_some();
    let why = if is_told { Reasons::default() } else { reasons(&found.rules, found.status, control) };
    let report = AdjustReport::new(subject, wish, &told, &why, warnings(of));
    Ok(Answer { report, formula: found.answer.map(|answer| answer.formula), status: found.status })
}

/// Why no change does it, without what is in the beaker: that cannot be wished
/// out of it.
fn reasons(rules: &Problem, status: Status, control: &Control) -> Reasons {
    let mut reasons = super::reasons(rules, status, control);
    let of_beaker = |rule: usize| &*rules.rules[rule].place.file == BEAKER;
    reasons.repairs.retain(|repair| !repair.changes.iter().any(|(rule, _)| of_beaker(*rule)));
    reasons
}

/// What may not be what was meant, how the change is measured among it.
fn warnings(of: &Resolved) -> Vec<String> {
    let as_mixed = (of.problem.views.len() > 1).then(|| AS_MIXED.to_owned());
    of.warnings.iter().cloned().chain(as_mixed).collect()
}
