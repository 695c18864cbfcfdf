//! How sure a formula is, and which of several is nearer.

use super::smelled::Smelled;
use super::{NO_BLEND, Outcome, Refusal, Resolved, best, compositions, reasons};
use crate::analysis::basis::in_basis;
use crate::analysis::doubt::draws;
use crate::control::Control;
use crate::evaluate::{as_judged, evaluate};
use crate::formula::Formula;
use crate::results::doubt::{DoubtReport, Subject};
use crate::results::states::FormulaStatus;
use crate::sentences;
use crate::solve::{Method, Status};

/// Why several formulas are refused where the brief has stages.
const ONE_FORMULA: &str = "each formula dries by a clock of its own, so the stages of the brief allow one formula at a \
                           time; compare tells the ranges of several";

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The formulas that are looked at; the proposal of the brief where there is
    /// none. [`subject`] makes them.
    pub subjects: Vec<Subject>,
    /// How many draws.
    pub draws: usize,
    /// Which draws.
    pub seed: u64,
    /// Which method answers where the proposal is looked for.
    pub method: Method,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked { subjects: Vec::new(), draws: 10_000, seed: 1, method: Method::Auto }
    }
}

/// What came of the draws.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it; why there is none where no formula keeps the rules.
    pub report: DoubtReport,
    /// How sure the proposal is; `Feasible` for given formulas.
    pub status: Status,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.status, NO_BLEND)
    }
}

/// A formula that can be looked at, of what was read.
///
/// # Errors
/// Nothing in it smells of what counts; `named` is what it is called then.
pub fn subject(of: &Resolved, read: Formula, named: &str) -> Result<Subject, Refusal> {
    let formula = in_basis(&of.problem.palette, &read.rescaled(), of.problem.basis);
    if evaluate(&of.problem, &formula).is_err() {
        let words = format!("nothing in {named} has an odour that counts, so it has no match to be sure of");
        return Err(Refusal::Wrong(words));
    }
    Ok(Subject { formula, given: Some(read), status: FormulaStatus::Feasible })
}

/// Draws what scores and strengths may be, and judges the formulas by it; `naturals`
/// are trials of the same palette, of which those of a natural are held against it.
///
/// # Errors
/// Stopped before the draws were done, or a solver failed.
pub fn ask(of: &Resolved, asked: &Asked, naturals: Option<&Smelled>, control: &Control) -> Result<Answer, Refusal> {
    let of = if asked.subjects.is_empty() { of.settled(asked.method, control)? } else { of };
    let Resolved { problem, brief, .. } = of;
    let mut control = control.clone();
    let mut subjects = asked.subjects.clone();
    let mut status = Status::Feasible;
    if subjects.is_empty() {
        let solution = best(of, asked.method, &control)?;
        control = control.untold();
        status = solution.status;
        let Some(answer) = solution.answer else {
            let reasons = reasons(problem, status, &control);
            let report = DoubtReport::without_formula(problem, brief, status, &reasons, of.warnings.clone());
            return Ok(Answer { report, status });
        };
        subjects.push(Subject { formula: answer.formula, given: None, status: status.into() });
        // The draws take a moment however long the search took.
        control.deadline = None;
    }
    let formulas: Vec<Formula> = subjects.iter().map(|subject| subject.formula.clone()).collect();
    // Of errors that are tied together none has a share of its own.
    let shares = problem.palette.tied.is_none();
    let wanted = draws::Asked { draws: asked.draws, seed: asked.seed, shares };
    if problem.paper.is_some() && formulas.len() > 1 {
        return Err(Refusal::Wrong(ONE_FORMULA.to_owned()));
    }
    let seen = as_judged(problem, &formulas[0]);
    let found = draws::doubt(&seen, &formulas, wanted, &control)
        .ok_or_else(|| Refusal::Stopped("stopped before the draws were done".to_owned()))?;
    let mut warnings = of.warnings.clone();
    warnings.extend((problem.views.len() > 1).then(|| sentences::views::drawn_in(problem, &seen.views[0])));
    let mut report = DoubtReport::new((problem, &seen), brief, &subjects, wanted, &found, warnings);
    report.compositions = naturals.map(|read| compositions::beside(read, read.trials.matching)).unwrap_or_default();
    Ok(Answer { report, status })
}
