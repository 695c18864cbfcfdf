//! Whether a certificate proves what is said of a formula: the rules and the
//! loss from plain arithmetic, the bound from multipliers, and no search.

use super::broken::{Broken, broken};
use crate::brief::Brief;
use crate::certificate::{Certificate, Claim, check, column_names};
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::Problem;
use crate::solve::PROVEN;
use crate::units::Ppt;

/// What a certificate says of a formula.
#[derive(Clone, Debug)]
pub enum Verdict {
    /// The formula is the best that the rules allow, or there is none, as
    /// claimed.
    Proven,
    /// The bound is proven, but a better formula is not excluded.
    Bounded,
    /// What is claimed does not hold, for these reasons.
    Refuted(Vec<String>),
}

/// What checking came to.
#[derive(Clone, Debug)]
pub struct Verification {
    /// The verdict.
    pub verdict: Verdict,
    /// What the formula is worth.
    pub evaluation: Option<Evaluation>,
    /// No formula has a loss below this; `None` where there is none at all, or
    /// nothing is proven.
    pub bound: Option<f64>,
    /// The rules that the formula breaks.
    pub broken: Vec<Broken>,
    /// Parts that the certificate closes.
    pub parts: usize,
}

impl Verification {
    /// Loss of the formula in score points.
    pub fn loss(&self) -> Option<f64> {
        self.evaluation.as_ref().map(|evaluation| evaluation.loss)
    }

    /// Checks a certificate of a brief, and a formula against it.
    pub fn of(problem: &Problem, brief: &Brief, formula: Option<&Formula>, certificate: &Certificate) -> Verification {
        let blend = Blend::new(problem);
        let names = column_names(&blend, &problem.palette);
        let mut faults = Vec::new();
        let parts = check(certificate, &blend, &names).unwrap_or_else(|fault| {
            faults.push(format!("the certificate proves nothing: {fault}"));
            0
        });
        if !problem.is_linear() {
            let by = problem.laws_in_words();
            faults.push(format!("a certificate speaks of the linear law alone, and the brief is judged by {by}"));
        }
        let is_sound = faults.is_empty();
        let bound = match certificate.claim {
            Claim::NoneBelow(loss) if is_sound => Some(loss),
            _ => None,
        };
        let (mut evaluation, mut broken_rules) = (None, Vec::new());
        if let Some(formula) = formula {
            if formula.sum() != Ppt::WHOLE {
                faults.push(format!("the formula adds up to {} instead of 1000", formula.sum()));
            }
            broken_rules = broken(problem, brief, formula, false);
            match evaluate(problem, formula) {
                Ok(judged) => evaluation = Some(judged),
                Err(error) => faults.push(error.to_string()),
            }
            if certificate.claim == Claim::None && is_sound {
                faults.push("the certificate says that there is no formula at all".to_owned());
            }
        }
        let keeps_rules = broken_rules.is_empty();
        if !keeps_rules {
            faults.push("the formula breaks rules of the brief".to_owned());
        }
        let loss = evaluation.as_ref().map(|evaluation| evaluation.loss);
        let verdict = match (certificate.claim, loss, bound) {
            _ if !faults.is_empty() => Verdict::Refuted(faults),
            (Claim::None, None, _) => Verdict::Proven,
            (_, Some(loss), Some(bound)) if loss - bound <= PROVEN * loss.max(1.0) => Verdict::Proven,
            _ => Verdict::Bounded,
        };
        Verification { verdict, evaluation, bound, broken: broken_rules, parts }
    }
}
