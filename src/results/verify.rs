//! The report of `verify`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::states::Certified;
use super::{Head, ViewsReport};
use crate::analysis::verify::{Verdict, Verification};
use crate::brief::Brief;
use crate::problem::Problem;

/// What a certificate proves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VerifyReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `proven`, `bounded` (a better formula is not excluded) or `refuted`.
    pub status: Certified,
    /// Whether there is a formula at all.
    pub has_formula: bool,
    /// Loss of the formula in score points.
    pub loss: Option<f64>,
    /// Its fidelity in percent.
    pub fidelity: Option<f64>,
    /// What each of several views makes of the formula; loss and bound speak of the worst. Left
    /// out where there is one view alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub views: Option<ViewsReport>,
    /// No formula has a loss below this; null where there is none at all, or
    /// nothing is proven.
    pub bound: Option<f64>,
    /// Fidelity in percent that no formula can pass.
    pub bound_fidelity: Option<f64>,
    /// Parts of all formulas that the certificate closes.
    pub parts_closed: usize,
    /// The rules that the formula breaks.
    pub broken: Vec<BrokenLine>,
    /// Why it is refuted, a sentence each.
    pub faults: Vec<String>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

impl VerifyReport {
    /// The report of a check.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        has_formula: bool,
        verification: Verification,
        warnings: Vec<String>,
    ) -> VerifyReport {
        let loss = verification.loss();
        let Verification { verdict, evaluation, bound, broken, parts } = verification;
        let (status, faults) = match verdict {
            Verdict::Proven => (Certified::Proven, Vec::new()),
            Verdict::Bounded => (Certified::Bounded, Vec::new()),
            Verdict::Refuted(faults) => (Certified::Refuted, faults),
        };
        VerifyReport {
            head: Head::new("verify", problem, brief),
            status,
            has_formula,
            loss,
            fidelity: loss.map(|loss| problem.fidelity_percent(loss)),
            views: evaluation.as_ref().and_then(|evaluation| ViewsReport::new(problem, evaluation)),
            bound,
            bound_fidelity: bound.map(|bound| problem.fidelity_percent(bound)),
            parts_closed: parts,
            broken: broken.into_iter().map(BrokenLine::from).collect(),
            faults,
            warnings,
        }
    }
}
