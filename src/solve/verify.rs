//! A solver's word is never enough: every formula is judged again from the
//! palette and the brief before it counts.

use super::search::Judged;
use super::{Answer, Failure};
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::Problem;
use crate::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use crate::units::Ppt;

/// Judges formulas of one problem.
pub struct Verifier<'a> {
    problem: &'a Problem,
    blend: &'a Blend,
    checker: Checker<'a>,
}

impl<'a> Verifier<'a> {
    pub fn new(problem: &'a Problem, blend: &'a Blend) -> Self {
        Verifier { problem, blend, checker: Checker::new(problem) }
    }

    /// How far a rule may be passed by a formula that a solver offers, as a
    /// share of its size. On a grid nothing but binary rounding is forgiven;
    /// continuous doses come from a solver whose last digits are not exact.
    /// Ten times more would already let a formula pass a rule by so much that
    /// its loss beats what is proven of those that keep it.
    pub fn tolerance(&self) -> f64 {
        if self.checker.is_whole_part() { SEARCH_TOLERANCE } else { 10.0 * SEARCH_TOLERANCE }
    }

    /// The loss at which fidelity is 0.
    pub fn worst_loss(&self) -> f64 {
        self.problem.worst_loss()
    }

    fn formula(&self, doses: &[Ppt]) -> Formula {
        Formula::from_doses(self.problem.basis, &self.blend.palette_doses(doses))
    }

    /// Loss and price of a formula that keeps every rule; `None` otherwise.
    pub fn judge(&self, doses: &[Ppt]) -> Option<Judged> {
        let formula = self.formula(doses);
        if formula.sum() != Ppt::WHOLE || !self.checker.breaches(&formula, self.tolerance()).is_empty() {
            return None;
        }
        let evaluation = evaluate(self.problem, &formula).ok()?;
        Some(Judged { loss: evaluation.loss, price_per_kg: evaluation.price_per_kg })
    }

    /// A formula as an answer, verified once more against what may be
    /// reported.
    pub fn answer(&self, doses: &[Ppt]) -> Result<Answer, Failure> {
        let formula = self.formula(doses);
        if formula.sum() != Ppt::WHOLE {
            return Err(Failure::Internal(format!("a formula adds up to {} instead of 1000", formula.sum())));
        }
        if let Some(breach) = self.checker.breaches(&formula, REPORT_TOLERANCE).first() {
            let rule = &self.problem.rules[breach.rule];
            let sentence = self.problem.sentence(rule);
            return Err(Failure::Internal(format!("a formula breaks the rule of {}: {sentence}", rule.place)));
        }
        let evaluation = evaluate(self.problem, &formula).map_err(|error| Failure::Internal(error.to_string()))?;
        Ok(Answer { formula, evaluation })
    }
}
