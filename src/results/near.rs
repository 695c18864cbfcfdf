//! How far a formula is from the known one that its brief stays near to.

use serde::Serialize;

use super::Ordered;
use crate::brief::MovedBy;
use crate::formula::Formula;
use crate::problem::{Problem, RuleKind};
use crate::solve::nearer::Nearer;
use crate::solve::{Solution, Status};
use crate::tolerance::doses::SHARE_MOVED;

/// A formula beside a known one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NearReport {
    /// What the known formula is called.
    pub to: String,
    /// Its file.
    pub file: String,
    /// Where it was published.
    pub source: Option<String>,
    /// Percent by mass of it that nobody identified, and that counts nowhere.
    pub unknown_percent: f64,
    /// `odour` or `parts`: what the shares are of.
    pub by: MovedBy,
    /// Percent that may move; null where the brief does not say.
    pub within: Option<f64>,
    /// Percentage points of the match that may be given away to come nearer; null
    /// where the brief does not say.
    pub give: Option<f64>,
    /// Percent that is not where the known formula has it; null where the formula
    /// has no odour.
    pub moved: Option<f64>,
    /// Percent of it that the shelf lacks: no formula moves less.
    pub least_by_lack: f64,
    /// Whether it is proven that no formula that gives away so little is nearer;
    /// null where that was not asked.
    pub nearest_proven: Option<bool>,
    /// No formula that gives away so little moves less than this many percent;
    /// likewise.
    pub nearest_bound: Option<f64>,
    /// Fidelity in percent of the formula that gives nothing away; likewise.
    pub best_fidelity: Option<f64>,
    /// Whether it is proven that no formula inside the rules matches better than
    /// that; likewise.
    pub best_proven: Option<bool>,
    /// Percent that the formula moves that gives nothing away; likewise.
    pub best_moved: Option<f64>,
    /// What the formula has less of than the known one, in percent of `by`.
    pub less: Ordered<f64>,
    /// What it has more of: together they take the place of what is missing.
    pub more: Ordered<f64>,
    /// The parts of the known formula that the shelf lacks.
    pub lacking: Vec<LackingLine>,
}

/// A part of the known formula that the shelf lacks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LackingLine {
    /// What it is called there.
    pub name: String,
    /// Its parts per thousand of what is identified there, solvents left out.
    pub parts: f64,
    /// Its share in percent of `by`.
    pub share: f64,
    /// The strength that it counts with.
    pub strength: f64,
    /// Whether nobody said that strength, and it is the mean of the others.
    pub strength_assumed: bool,
    /// The materials that the formula has more of than the known one, the most
    /// first. Of a part that was not smelled nobody knows which of them is like it.
    pub replaced_by: Vec<String>,
}

impl NearReport {
    /// A formula beside the known one; `None` where the brief names none.
    pub fn new(problem: &Problem, formula: &Formula) -> Option<NearReport> {
        let near = problem.near.as_ref()?;
        let skeleton = &near.skeleton;
        let name = |material: usize| problem.material(material).name.clone();
        let shares = skeleton.shares_of(problem, formula).unwrap_or_default();
        let mut apart: Vec<(usize, f64)> = shares
            .iter()
            .enumerate()
            .map(|(material, share)| (material, 100.0 * (share - skeleton.share(material))))
            .collect();
        apart.retain(|(_, more)| more.abs() > SHARE_MOVED);
        apart.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then(a.0.cmp(&b.0)));
        let (more, less): (Vec<_>, Vec<_>) = apart.into_iter().partition(|(_, more)| *more > 0.0);
        let replaced_by: Vec<String> = more.iter().map(|&(material, _)| name(material)).collect();
        let lacking = skeleton.lacking.iter().map(|part| LackingLine {
            name: part.name.to_string(),
            parts: part.parts,
            share: 100.0 * part.share,
            strength: part.strength,
            strength_assumed: part.strength_is_assumed,
            replaced_by: replaced_by.clone(),
        });
        let rule = problem.rules.iter().find(|rule| matches!(rule.kind, RuleKind::Near(_)));
        Some(NearReport {
            to: near.name().to_owned(),
            file: near.file.to_string(),
            source: near.source.clone(),
            unknown_percent: near.unknown_percent,
            by: skeleton.by,
            within: rule.map(|rule| rule.at),
            give: near.give,
            moved: skeleton.moved_percent(problem, formula),
            least_by_lack: 100.0 * skeleton.lacking_share(),
            nearest_proven: None,
            nearest_bound: None,
            best_fidelity: None,
            best_proven: None,
            best_moved: None,
            less: less.into_iter().map(|(material, more)| (name(material), -more)).collect(),
            more: more.into_iter().map(|(material, more)| (name(material), more)).collect(),
            lacking: lacking.collect(),
        })
    }

    /// The same with how sure it is that no formula is nearer, beside the best
    /// one, which gives nothing away.
    pub fn with_nearest(self, problem: &Problem, found: &Nearer, best: &Solution) -> NearReport {
        let Some(answer) = &best.answer else { return self };
        let skeleton = problem.near.as_ref().map(|near| &near.skeleton);
        NearReport {
            nearest_proven: Some(found.is_proven()),
            nearest_bound: Some(found.bound_percent),
            best_fidelity: Some(answer.evaluation.fidelity_percent),
            best_proven: Some(best.status == Status::Optimal),
            best_moved: skeleton.and_then(|skeleton| skeleton.moved_percent(problem, &answer.formula)),
            ..self
        }
    }
}
