//! The report of `starts`.

use serde::Serialize;

use super::most::most_neat;
use super::{Care, FormulaReport, Head, NearReport, ReasonsReport};
use crate::analysis::apart::apart;
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::repair::Reasons;
use crate::analysis::starts::{Asked, Starts, least_distance};
use crate::brief::Brief;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::sentences;
use crate::solve::Status;

/// Formulas to smell side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StartsReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Of the best formula: `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: Status,
    /// The known formula that they come from; left out where they come from
    /// random directions.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// Points of fidelity that each may lie below the best; on the way from a
    /// known formula, that the one nearest to it does.
    pub margin: f64,
    /// Seed of the random directions.
    pub seed: u64,
    /// How many were asked for.
    pub asked: usize,
    /// Fidelity in percent that none lies below; null where there is none.
    pub least_fidelity: Option<f64>,
    /// The smallest difference between any two, in share points from 0 to 100:
    /// half the sum of the differences between their odour shares.
    pub least_distance: Option<f64>,
    /// Different formulas that these were chosen from.
    pub candidates: usize,
    /// Whether there was time for every random direction.
    pub complete: bool,
    /// How far the fidelity of the best may be off, in points: one standard
    /// deviation.
    pub doubt: Option<f64>,
    /// The formulas: the best first, then by falling fidelity; by their codes
    /// where they have some.
    pub formulas: Vec<StartLine>,
    /// What was checked of them; null where there is none.
    pub care: Option<Care>,
    /// Why there is no formula, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// One of the formulas.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StartLine {
    /// Its number, from 1.
    pub start: usize,
    /// Three digits to smell it by without knowing; null unless asked for.
    pub code: Option<String>,
    /// What sets it apart from the others.
    pub apart: String,
    /// Percent of the draws of scores and strengths in which it is nearer the
    /// target than the best match on paper; null for that one.
    pub nearer_in_percent: Option<f64>,
    /// Difference to the nearest of the others, in share points.
    pub nearest: Option<f64>,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
}

impl StartsReport {
    /// The report; `codes` has one for each formula, or none at all.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        asked: Asked,
        starts: &Starts,
        codes: &[u32],
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> StartsReport {
        let sets_apart = apart(&starts.chosen);
        let several = starts.chosen.len() > 1;
        let best = starts.best.answer.as_ref();
        let all: Vec<&Formula> = starts.chosen.iter().map(|answer| &answer.formula).collect();
        let nearer = best.map_or_else(|| vec![None; all.len()], |best| nearer_percent(problem, &best.formula, &all));
        let line = |(at, answer): (usize, &crate::solve::Answer)| StartLine {
            start: at + 1,
            code: codes.get(at).map(|code| format!("{code:03}")),
            apart: sentences::apart::sentence(problem, &sets_apart[at], at == 0, several),
            nearer_in_percent: nearer[at].filter(|_| best.is_some_and(|best| best.formula != answer.formula)),
            nearest: several.then_some(sets_apart[at].nearest),
            formula: FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation)),
        };
        let mut formulas: Vec<StartLine> = starts.chosen.iter().enumerate().map(line).collect();
        for (line, nearest) in formulas.iter_mut().zip(&starts.nearest) {
            let near = line.formula.near.take();
            line.formula.near = match (near, nearest) {
                (Some(near), Some((give, found))) => {
                    Some(NearReport { give: Some(*give), ..near }.with_nearest(problem, found, &starts.best))
                }
                (near, ..) => near,
            };
        }
        let is_from = !starts.nearest.is_empty();
        let down =
            |best: &crate::solve::Answer| best.evaluation.fidelity_percent - problem.fidelity_percent(starts.ceiling);
        if let (Some(first), Some(bound)) = (formulas.first_mut(), starts.best.bound) {
            first.formula.bound = Some(bound);
        }
        formulas.sort_by(|a, b| a.code.cmp(&b.code));
        StartsReport {
            head: Head::new("starts", problem, brief),
            status: starts.best.status,
            from: problem.near.as_ref().filter(|_| is_from).map(|near| near.name().to_owned()),
            margin: if is_from { best.map_or(0.0, down) } else { asked.margin },
            seed: asked.seed,
            asked: asked.count,
            least_fidelity: best.map(|_| problem.fidelity_percent(starts.ceiling)),
            least_distance: least_distance(&starts.chosen),
            candidates: starts.candidates,
            complete: starts.is_complete,
            doubt: best.and_then(|best| fidelity_deviation(problem, &best.formula)),
            formulas,
            care: most_neat(problem, starts.chosen.iter()).map(|neat| Care::new(problem, &neat)),
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}
