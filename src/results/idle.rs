//! Idle weight, as reports say it.

use serde::Serialize;

use super::{FormulaParts, Ordered};
use crate::analysis::ways_out::WayOut;
use crate::formula::Formula;
use crate::problem::idle::Idle;
use crate::problem::{Problem, RuleId};
use crate::sentences::idle::{told, under, way_out};
use crate::solve::Status;

/// What of a formula brings less than a tenth of its weight's share of the odour,
/// carriers apart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct IdleReport {
    /// Neat parts that it is, in 1000 of the formula.
    pub parts: f64,
    /// Percent of the odour that these bring.
    pub share: f64,
    /// The idle materials with their neat parts, the most first.
    pub materials: Ordered<f64>,
    /// How much it is in words, without a full stop; left out where it is a
    /// quarter of the formula or less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sentence: Option<String>,
    /// What would make more of the formula heard, solved; left out where it is a
    /// quarter or less, and in reports of several formulas.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ways_out: Option<Vec<WayOutLine>>,
}

/// One more rule, and the best formula then.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WayOutLine {
    /// The rule's id.
    pub rule: RuleId,
    /// The number it would stand at.
    pub at: f64,
    /// Whether it was solved: null where there was no time, else `optimal`,
    /// `feasible`, `infeasible` or `unknown`.
    pub status: Option<Status>,
    /// The best formula then.
    pub formula: Option<FormulaParts>,
    /// Its fidelity in percent.
    pub fidelity: Option<f64>,
    /// Fidelity in percent that none passes then.
    pub bound_fidelity: Option<f64>,
    /// Its loss in score points.
    pub loss: Option<f64>,
    /// Its strength.
    pub strength: Option<f64>,
    /// Its price per kg.
    pub price: Option<f64>,
    /// Its own idle weight, in parts of 1000.
    pub idle: Option<f64>,
    /// The same as a sentence without a full stop.
    pub sentence: String,
}

impl IdleReport {
    /// What of a formula is idle; `None` where it has no odour.
    pub fn new(problem: &Problem, formula: &Formula) -> Option<IdleReport> {
        let idle = Idle::of(problem, formula)?;
        let neat = problem.neat_ppt(formula);
        let per_1000 = 1000.0 / formula.sum().as_f64();
        let named = |&m: &usize| (problem.material(m).name.clone(), crate::number::tidy(neat[m] * per_1000));
        Some(IdleReport {
            parts: crate::number::tidy(idle.ppt),
            share: idle.share_percent,
            materials: idle.materials.iter().map(named).collect(),
            sentence: idle.is_told().then(|| told(idle.ppt, idle.share_percent)),
            ways_out: None,
        })
    }
}

impl WayOutLine {
    /// A way out of a formula.
    pub fn new(problem: &Problem, way: &WayOut) -> WayOutLine {
        let then = way.then.as_ref();
        let answer = then.and_then(|then| then.answer.as_ref());
        let fidelity = answer.map(|answer| answer.evaluation.fidelity_percent);
        let bound_fidelity = then.and_then(|then| then.bound).map(|bound| problem.fidelity_percent(bound));
        let status = then.map(|then| then.status);
        let known = status.map(|status| (status, fidelity, bound_fidelity));
        WayOutLine {
            rule: way.rule.clone(),
            at: way.at,
            status,
            formula: answer.map(|answer| FormulaParts::new(problem, &answer.formula)),
            fidelity,
            bound_fidelity,
            loss: answer.map(|answer| answer.evaluation.loss),
            strength: answer.map(|answer| answer.evaluation.strength),
            price: answer.and_then(|answer| answer.evaluation.price_per_kg),
            idle: answer.and_then(|answer| Idle::of(problem, &answer.formula)).map(|idle| idle.ppt),
            sentence: way_out(&under(problem, &way.rule, way.at), known),
        }
    }
}
