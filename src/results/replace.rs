//! The report of `replace`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::parts::name_of;
use super::states::DoseMove;
use super::{Care, FormulaReport, Head, Offered, ReasonsReport};
use crate::analysis::broken::broken;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::repair::Reasons;
use crate::analysis::replace::{Replace, Wish};
use crate::brief::{Basis, Brief};
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::solve::Status;
use crate::units::Ppt;

/// A formula with something replaced.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReplaceReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal`: the nearest that the wish allows, proven; `feasible`: the
    /// nearest found in time; `infeasible` or `unknown`: none.
    pub status: Status,
    /// Title of the formula, or its file where it has none.
    pub name: String,
    /// Its file.
    pub file: String,
    /// Whether its parts were scaled to add up to 1000.
    pub rescaled: bool,
    /// The basis it was written in, where that is not the brief's.
    pub converted_from: Option<Basis>,
    /// What goes.
    pub out: Vec<String>,
    /// What is lowered.
    pub limit: Vec<Lowered>,
    /// New materials that may come in, at most.
    pub with: usize,
    /// How many of the others may move, beside what makes up the sum.
    pub free: usize,
    /// The material that makes up the sum; null where every dose that may move is
    /// counted by `free`.
    pub makes_up_the_sum: Option<String>,
    /// Whether the other doses move together, in their proportions, rather than
    /// stay.
    pub in_proportion: bool,
    /// What was tried before and was not enough.
    pub not_enough: Vec<StageLine>,
    /// What there is to fill at least, in ppt.
    pub freed: Ppt,
    /// The formula as it was. The target is its own profile.
    pub before: Side,
    /// The formula with the replacement; null where there is none.
    pub after: Option<Side>,
    /// Fidelity to the formula's own profile, in percent, that nothing can
    /// pass; null where there is no formula.
    pub bound_fidelity: Option<f64>,
    /// Doses that differ, the largest difference first.
    pub changes: Vec<DoseChange>,
    /// The best with a single new material each, the nearest first.
    pub alternatives: Vec<AlternativeLine>,
    /// Whether there was time for all of these.
    pub alternatives_complete: bool,
    /// What was checked and what was not.
    pub care: Care,
    /// Why there is no replacement, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
    /// Whether the text says which rules collide, where nothing fits.
    #[serde(skip)]
    pub says_why: bool,
}

/// What was tried.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StageLine {
    /// New materials that may come in, at most.
    pub with: usize,
    /// How many of the other doses may move, beside what makes up the sum.
    pub free: usize,
    /// Whether the others move together, in their proportions.
    pub in_proportion: bool,
    /// `infeasible` (proven that nothing fits) or `unknown`.
    pub status: Status,
}

/// A material that is lowered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lowered {
    /// The material.
    pub material: String,
    /// Its dose before.
    pub from: Ppt,
    /// The most that is allowed of it now.
    pub to: Ppt,
}

/// One side of a replacement.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Side {
    /// The formula. Loss, fidelity and second opinion are those to the profile
    /// that the old formula had, everything else is as the brief has it.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// The same formula judged by the target of the brief.
    pub to_brief: Option<ToBrief>,
    /// The rules of the brief that it breaks.
    pub broken: Vec<BrokenLine>,
}

/// A formula judged by the target of the brief.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ToBrief {
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Loss in score points.
    pub loss: f64,
    /// Fidelity in percent when strong materials weigh less.
    pub second_fidelity: f64,
    /// Percent of the draws of scores and strengths in which it is nearer the
    /// target than the formula as it was; null for
    /// that one.
    pub nearer_in_percent: Option<f64>,
}

/// A dose that differs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseChange {
    /// The material.
    pub material: String,
    /// `out`, `lowered`, `new` or `moved`.
    pub why: DoseMove,
    /// Dose before, in ppt.
    pub before: Ppt,
    /// Dose after.
    pub after: Ppt,
    /// After less before.
    pub change: Ppt,
}

/// What one new material could do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlternativeLine {
    /// The new material, a list of one.
    pub materials: Vec<String>,
    /// Whether it is on the shelf.
    pub have: bool,
    /// `optimal` or `feasible`.
    pub status: Status,
    /// The formula, judged as `after` is.
    #[serde(flatten)]
    pub formula: Offered,
    /// The same judged by the target of the brief.
    pub to_brief: Option<ToBrief>,
}

/// The formula that something is replaced in.
pub struct Subject<'a> {
    /// The brief's problem.
    pub problem: &'a Problem,
    /// The same with the formula's own profile for a target.
    pub own: &'a Problem,
    /// The brief.
    pub brief: &'a Brief,
    /// The formula as it was read.
    pub read: &'a Formula,
    /// The formula as 1000 parts in the basis of the brief.
    pub formula: &'a Formula,
}

impl ReplaceReport {
    /// The report of a replacement.
    pub fn new(
        subject: &Subject,
        wish: &Wish,
        replace: &Replace,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> ReplaceReport {
        let Subject { problem, own, brief, read, formula } = *subject;
        let others: Vec<&Formula> = replace.alternatives.iter().map(|it| &it.answer.formula).collect();
        let all: Vec<&Formula> = replace.solution.answer.iter().map(|answer| &answer.formula).chain(others).collect();
        let nearer = nearer_percent(problem, formula, &all);
        let nearer_of = |then: &Formula| all.iter().position(|it| *it == then).and_then(|at| nearer[at]);
        let name = |material: usize| problem.material(material).name.clone();
        let solution = &replace.solution;
        let answer = solution.answer.as_ref();
        let dose = |material: usize| formula.dose(material);
        let lowered =
            wish.lowered.iter().map(|&(material, to)| Lowered { material: name(material), from: dose(material), to });
        let out: Ppt = wish.out.iter().map(|&material| dose(material)).sum();
        let over: Ppt = wish.lowered.iter().map(|&(material, to)| (dose(material) - to).max(Ppt::ZERO)).sum();
        let converted = read.basis != problem.basis;
        let mut neat_ppt = problem.neat_ppt(formula);
        let others = answer.into_iter().chain(replace.alternatives.iter().map(|alternative| &alternative.answer));
        for other in others {
            neat_ppt.iter_mut().zip(&other.evaluation.neat_ppt).for_each(|(most, ppt)| *most = most.max(*ppt));
        }
        ReplaceReport {
            head: Head::new("replace", problem, brief),
            status: solution.status,
            name: name_of(read),
            file: read.file.as_deref().unwrap_or_default().to_owned(),
            rescaled: read.sum() != Ppt::WHOLE,
            converted_from: converted.then_some(read.basis),
            out: wish.out.iter().map(|&material| name(material)).collect(),
            limit: lowered.collect(),
            with: replace.stage.new,
            free: replace.stage.free,
            makes_up_the_sum: replace.filler.map(name),
            in_proportion: replace.stage.in_proportion,
            not_enough: replace
                .not_enough
                .iter()
                .map(|(stage, status)| StageLine {
                    with: stage.new,
                    free: stage.free,
                    in_proportion: stage.in_proportion,
                    status: *status,
                })
                .collect(),
            freed: out + over,
            before: subject.side(formula, evaluate(own, formula).ok().as_ref(), None, None),
            after: answer.map(|answer| {
                let nearer = nearer_of(&answer.formula);
                subject.side(&answer.formula, Some(&answer.evaluation), solution.bound, nearer)
            }),
            bound_fidelity: solution.bound.map(|bound| own.fidelity_percent(bound)),
            changes: answer.map(|answer| changes(subject, wish, &answer.formula)).unwrap_or_default(),
            alternatives: replace
                .alternatives
                .iter()
                .map(|alternative| {
                    let status = if alternative.is_proven { Status::Optimal } else { Status::Feasible };
                    let answer = &alternative.answer;
                    AlternativeLine {
                        materials: vec![name(alternative.material)],
                        have: problem.material(alternative.material).have,
                        status,
                        formula: Offered(subject.judged(&answer.formula, Some(&answer.evaluation))),
                        to_brief: subject.to_brief(&answer.formula, nearer_of(&answer.formula)),
                    }
                })
                .collect(),
            alternatives_complete: replace.is_complete,
            care: Care::new(problem, &neat_ppt),
            reasons: ReasonsReport::new(&replace.rules, reasons),
            warnings,
            says_why: false,
        }
    }

    /// Whether anything is asked for that the formula does not do already.
    pub fn asks_for_something(&self) -> bool {
        self.freed > Ppt::ZERO
    }
}

impl Subject<'_> {
    fn side(
        &self,
        formula: &Formula,
        evaluation: Option<&Evaluation>,
        bound: Option<f64>,
        nearer: Option<f64>,
    ) -> Side {
        let converted = self.read.basis != self.problem.basis;
        let breaches = broken(self.problem, self.brief, formula, converted);
        Side {
            formula: FormulaReport { bound, ..self.judged(formula, evaluation) },
            to_brief: self.to_brief(formula, nearer),
            broken: breaches.into_iter().map(BrokenLine::from).collect(),
        }
    }

    /// A formula as the brief has it, its loss to the former profile beside it:
    /// the points of a profile are the brief's, as in every other report.
    fn judged(&self, formula: &Formula, evaluation: Option<&Evaluation>) -> FormulaReport {
        let own = FormulaReport::new(self.own, formula, evaluation);
        let judged = evaluate(self.problem, formula).ok();
        FormulaReport {
            loss: own.loss,
            fidelity: own.fidelity,
            second_opinion: own.second_opinion,
            ..FormulaReport::new(self.problem, formula, judged.as_ref())
        }
    }

    fn to_brief(&self, formula: &Formula, nearer_in_percent: Option<f64>) -> Option<ToBrief> {
        let evaluation = evaluate(self.problem, formula).ok()?;
        Some(ToBrief {
            fidelity: evaluation.fidelity_percent,
            loss: evaluation.loss,
            second_fidelity: evaluation.second_opinion.fidelity_percent,
            nearer_in_percent,
        })
    }
}

fn changes(subject: &Subject, wish: &Wish, after: &Formula) -> Vec<DoseChange> {
    changes_between(subject.problem, subject.formula, after, &|material| {
        if wish.out.contains(&material) {
            DoseMove::Out
        } else if wish.lowered.iter().any(|(lowered, _)| *lowered == material) {
            DoseMove::Lowered
        } else if subject.formula.dose(material).is_zero() {
            DoseMove::New
        } else {
            DoseMove::Moved
        }
    })
}

/// The doses that differ between two formulas, the largest difference first;
/// `why` says what a change of a material is.
pub(super) fn changes_between(
    problem: &Problem,
    before: &Formula,
    after: &Formula,
    why: &dyn Fn(usize) -> DoseMove,
) -> Vec<DoseChange> {
    let mut changes = Vec::new();
    for (material, described) in problem.palette.materials.iter().enumerate() {
        let (before, after) = (before.dose(material), after.dose(material));
        if before != after {
            let (material, why) = (described.name.clone(), why(material));
            changes.push(DoseChange { material, why, before, after, change: after - before });
        }
    }
    changes.sort_by_key(|it| std::cmp::Reverse(it.change.max(-it.change)));
    changes
}
