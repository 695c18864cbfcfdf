//! The report of `propose`.

use serde::Serialize;

use super::steady::SteadyReport;
use super::taught::TaughtReport;
use super::teaching::TeachingReport;
use super::{Around, Care, FormulaReport, Head, ReasonsReport};
use crate::analysis::explain::Explanation;
use crate::analysis::replacement::replacement;
use crate::analysis::single::best_single;
use crate::analysis::steady::Aim;
use crate::brief::Brief;
use crate::problem::Problem;
use crate::sentences::laws;
use crate::solve::clocks::Holds;
use crate::solve::{Solution, Status};
use crate::tolerance::doses::SHARE_MOVED;

/// The best formula that was found, how sure it is, and what it brings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProposeReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: Status,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// Fidelity in percent that no formula inside the rules can pass; null
    /// where there is none.
    pub bound_fidelity: Option<f64>,
    /// For which amounts left on the paper the bound holds, where the brief has stages:
    /// `own amounts` of this formula's film, or `any amounts`; left out elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proven_for: Option<Holds>,
    /// Fidelity in percent that no formula inside the rules passes by the amounts that its own
    /// film leaves, where the brief has stages and that is known; left out elsewhere. No
    /// certificate speaks of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub any_amounts_fidelity: Option<f64>,
    /// Whether it is proven that no formula of equal loss is cheaper; false
    /// where that is not known.
    pub cheapest_of_its_match: bool,
    /// Nodes of the search.
    pub nodes: u64,
    /// The material that the target describes, and what replaces it.
    pub replaces: Option<Replaces>,
    /// The nearest usable material that stands alone.
    pub best_single: Option<BestSingle>,
    /// What a search for steadiness found; left out unless asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub steady: Option<SteadyReport>,
    /// What a search for the best match to be expected found, after trials; left out where
    /// there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<SteadyReport>,
    /// What to weigh so that the end of the loop comes nearest; left out unless asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explore: Option<TeachingReport>,
    /// The trials that the numbers were learned from; left out where none were named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taught: Option<TaughtReport>,
    /// What the choice of a law means, where the two disagree on the formula; left out
    /// else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub law_choice: Option<String>,
    /// What holds the formula back and what could go from it.
    #[serde(flatten)]
    pub around: Around,
    /// What was checked and what was not; null where there is no formula.
    pub care: Option<Care>,
    /// Why there is no formula, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The formula in the place of the material that its target describes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Replaces {
    /// The material.
    pub material: String,
    /// Grams of the formula that are as strong as one gram of it.
    pub grams_per_gram: f64,
    /// Price of what replaces one kg of it.
    pub price: Option<f64>,
    /// Price of one kg of it.
    pub price_of_original: Option<f64>,
    /// Its own fidelity to the target, in percent.
    pub fidelity: Option<f64>,
}

/// A material that stands alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BestSingle {
    /// The material.
    pub material: String,
    /// Its fidelity in percent.
    pub fidelity: f64,
    /// Its loss in score points.
    pub loss: f64,
}

impl ProposeReport {
    /// The report of a solution; of an infeasible one with its reasons.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        solution: &Solution,
        explanation: &Explanation,
        warnings: Vec<String>,
    ) -> ProposeReport {
        let answer = solution.answer.as_ref();
        let mut formula = answer.map_or_else(FormulaReport::default, |answer| {
            FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation))
        });
        if let Some(given) = &solution.given {
            let best = solution.on_match_alone();
            formula.near = formula.near.map(|near| near.with_nearest(problem, &given.nearer, &best));
        }
        let name = |index: usize| problem.material(index).name.clone();
        let around = answer.map_or_else(Around::default, |answer| Around::new(problem, answer, explanation));
        formula.profile_ranges(&around.profile);
        if let Some(idle) = formula.idle.as_mut().filter(|_| !around.ways_out.is_empty()) {
            idle.ways_out = Some(around.ways_out.clone());
        }
        let replaced = answer.and_then(|answer| replacement(problem, &answer.evaluation));
        ProposeReport {
            head: Head::new("propose", problem, brief),
            status: solution.status,
            bound_fidelity: solution.bound.map(|bound| problem.fidelity_percent(bound)),
            formula: FormulaReport { bound: solution.bound, range: around.range, ..formula },
            proven_for: None,
            any_amounts_fidelity: None,
            cheapest_of_its_match: solution.is_cheapest,
            nodes: solution.nodes,
            replaces: replaced.map(|replaced| Replaces {
                material: name(replaced.material),
                grams_per_gram: replaced.grams_per_gram,
                price: replaced.price,
                price_of_original: replaced.price_of_original,
                fidelity: replaced.fidelity_percent,
            }),
            best_single: best_single(problem).map(|single| BestSingle {
                material: name(single.material),
                fidelity: single.fidelity_percent,
                loss: single.loss,
            }),
            steady: None,
            expected: None,
            explore: None,
            taught: None,
            law_choice: answer.and_then(|answer| {
                let evaluation = &answer.evaluation;
                laws::choice(brief.laws, evaluation.fidelity_percent, evaluation.second_opinion.fidelity_percent)
            }),
            around,
            care: answer.map(|answer| Care::new(problem, &answer.evaluation.neat_ppt)),
            reasons: ReasonsReport::new(problem, &explanation.reasons),
            warnings,
        }
    }

    /// The same with what the bound holds for, and what no formula passes by what its own film
    /// leaves.
    pub fn proven_for(self, proven_for: Option<Holds>, any_amounts_fidelity: Option<f64>) -> ProposeReport {
        ProposeReport { proven_for, any_amounts_fidelity, ..self }
    }

    /// The same with what a search over the draws found.
    pub fn with_found(self, aim: Option<Aim>, found: Option<SteadyReport>) -> ProposeReport {
        match aim {
            Some(Aim::Expected) => ProposeReport { expected: found, ..self },
            _ => ProposeReport { steady: found, ..self },
        }
    }

    /// The same with mods that teach while they aim.
    pub fn with_explored(self, explore: Option<TeachingReport>) -> ProposeReport {
        ProposeReport { explore, ..self }
    }

    /// The same with the trials that the numbers were learned from.
    pub fn with_taught(self, taught: Option<TaughtReport>) -> ProposeReport {
        ProposeReport { taught, ..self }
    }

    /// Fidelity in percent of the best formula, where this is not it but one that is
    /// nearer to a known formula.
    pub fn gives_from(&self) -> Option<f64> {
        let near = self.formula.near.as_ref()?;
        let differs =
            near.best_moved? - near.moved? > SHARE_MOVED || near.best_fidelity? - self.formula.fidelity? > SHARE_MOVED;
        near.best_fidelity.filter(|_| differs)
    }

    /// Whether the formula is proven best.
    pub fn is_proven(&self) -> bool {
        self.status == Status::Optimal
    }
}
