//! How far each dose may go before the match suffers.

use super::{NO_BLEND, Outcome, Refusal, Resolved, best, reasons};
use crate::analysis::basis::in_basis;
use crate::analysis::leeway::{self, Without};
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::results::leeway::{LeewayReport, Looked};
use crate::solve::{Method, Solution, Status};

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// Points of fidelity that the formulas may lie below.
    pub margin: f64,
    /// Whether steps, least doses and the number of materials are set aside.
    pub any_doses: bool,
    /// The formula whose doses are looked at, as it was read; the best where
    /// there is none.
    pub formula: Option<&'a Formula>,
    /// The best formula, where it is known.
    pub best: Option<&'a Solution>,
    /// Which method answers.
    pub method: Method,
}

impl Default for Asked<'_> {
    fn default() -> Self {
        Asked { margin: 1.0, any_doses: false, formula: None, best: None, method: Method::Auto }
    }
}

/// The leeway.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it; why there is none where no formula keeps the rules.
    pub report: LeewayReport,
    /// How sure the formula is that is looked at; `Feasible` for a given one.
    pub status: Status,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.status, NO_BLEND)
    }
}

/// Looks at every dose of a formula.
///
/// # Errors
/// Nothing in the formula smells of what counts; or a solver failed.
pub fn ask(of: &Resolved, asked: &Asked<'_>, control: &Control) -> Result<Answer, Refusal> {
    of.linear("leeway")?;
    let of = of.settled(asked.method, control)?;
    let Resolved { problem, brief, .. } = of;
    let mut found = None;
    let (formula, status) = match asked.formula {
        Some(read) => (in_basis(&problem.palette, &read.rescaled(), problem.basis), Status::Feasible),
        None => {
            let solution = match asked.best {
                Some(best) => best,
                None => &*found.insert(best(of, asked.method, control)?),
            };
            match &solution.answer {
                Some(answer) => (answer.formula.clone(), solution.status),
                None => return Ok(without_formula(of, asked, solution.status, control)),
            }
        }
    };
    let Ok(evaluation) = evaluate(problem, &formula) else {
        return Err(Refusal::Wrong(
            "nothing in the formula has an odour that counts, so it has no match to stay near".to_owned(),
        ));
    };
    let control = &control.untold();
    let best = asked.best.or(found.as_ref());
    let wanted = leeway::Asked { margin: asked.margin, any_doses: asked.any_doses, method: asked.method, best };
    let done = |done, of| control.count("doses", done, of);
    let found = leeway::leeway(problem, &formula, wanted, control, &done)?;
    let looked = Looked { formula: &formula, evaluation: &evaluation, given: asked.formula };
    let ends = found.spans.iter().flat_map(|span| span.min.iter().chain(&span.max)).map(|end| &*end.answer);
    let without = found.without.iter().filter_map(|(_, without)| match without {
        Without::Blend(answer, _) => Some(&**answer),
        Without::Required(_) | Without::Impossible | Without::NotComputed => None,
    });
    let by_one_film = of.by_one_film(ends.chain(without).map(|answer| &answer.formula));
    let warnings = of.warnings.iter().cloned().chain(by_one_film).collect();
    let report = LeewayReport::new(problem, brief, &looked, status, asked.margin, &found, warnings);
    Ok(Answer { report, status })
}

fn without_formula(of: &Resolved, asked: &Asked<'_>, status: Status, control: &Control) -> Answer {
    let reasons = reasons(&of.problem, status, control);
    let warnings = of.warnings.clone();
    let report = LeewayReport::without_formula(&of.problem, &of.brief, status, asked.margin, &reasons, warnings);
    Answer { report, status }
}
