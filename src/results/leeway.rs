//! The report of `leeway`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::parts::name_of;
use super::states::{FormulaStatus, Removal, Role};
use super::{Care, FormulaParts, FormulaReport, Head, ReasonsReport};
use crate::analysis::broken::broken;
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::told_some;
use crate::analysis::leeway::{Leeway, NOTHING, Span, Without};
use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::evaluate::Evaluation;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::solve::Status;
use crate::units::Ppt;

/// How far each dose may go while fidelity stays within a margin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeewayReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Of the proposal: `optimal`, `feasible`, `infeasible` or `unknown`; of a
    /// formula that was given: `feasible`, or `broken` where it breaks rules.
    pub status: FormulaStatus,
    /// Title of a formula that was given, or its file; null for the proposal.
    pub name: Option<String>,
    /// Its file.
    pub file: Option<String>,
    /// Points of fidelity that the formulas may lie below it.
    pub margin: f64,
    /// Whether steps, least doses and the number of materials are set aside:
    /// the ends are then those of blends over any doses.
    pub any_doses: bool,
    /// The formula whose doses are looked at; null where there is none.
    pub proposal: Option<FormulaReport>,
    /// The rules of the brief that it breaks.
    pub broken: Vec<BrokenLine>,
    /// Least fidelity of the formulas that count, in percent.
    pub least_fidelity: Option<f64>,
    /// Greatest loss of the formulas that count, in score points.
    pub greatest_loss: Option<f64>,
    /// Fidelity of the nearest blend over continuous doses, in percent.
    pub best_continuous: Option<f64>,
    /// How far the formula's fidelity may be off, in points: one standard
    /// deviation over the draws of scores and strengths.
    pub doubt: Option<f64>,
    /// Every material that may be used and was looked at, in the order of the
    /// palette.
    pub materials: Vec<LeewayLine>,
    /// Materials outside the formula that might come in and were not looked at:
    /// weaker ones than those that were.
    pub not_looked_at: Vec<String>,
    /// Whether there was time for all of it.
    pub complete: bool,
    /// Whether texts list what is not in the formula as well.
    #[serde(skip)]
    pub lists_all: bool,
    /// What was checked of these blends; null where there is none.
    pub care: Option<Care>,
    /// Why there is no formula, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The leeway of one material. Doses are in ppt of the basis.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeewayLine {
    /// The material.
    pub material: String,
    /// Its least dose; null where that was not worked out.
    pub min: Option<Ppt>,
    /// Its greatest dose.
    pub max: Option<Ppt>,
    /// Its dose in the formula.
    pub at: Ppt,
    /// Whether it is certain that neither end lies further out.
    pub proven: bool,
    /// `indispensable`, `dispensable` (in it, and could go), `could come in`,
    /// `stays out` or `not computed`.
    pub role: Role,
    /// The formula with the least of it.
    pub min_blend: Option<EndBlend>,
    /// The formula with the most of it.
    pub max_blend: Option<EndBlend>,
    /// The nearest formula without it; null where it is not in the formula.
    pub without: Option<WithoutBlend>,
}

/// A formula at the end of a range.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EndBlend {
    /// Its doses.
    pub formula: FormulaParts,
    /// Its fidelity in percent.
    pub fidelity: f64,
    /// Its loss in score points.
    pub loss: f64,
}

/// What is left without a material.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WithoutBlend {
    /// `possible`, `required`, `impossible` or `not computed`.
    pub outcome: Removal,
    /// Fidelity in percent of the nearest formula without it.
    pub fidelity: Option<f64>,
    /// Its loss in score points.
    pub loss: Option<f64>,
    /// Points of fidelity that it lies below the nearest formula with everything.
    pub costs: Option<f64>,
    /// Percent of the draws of scores and strengths in which it is nearer the
    /// target than the nearest blend with everything.
    pub nearer_in_percent: Option<f64>,
    /// Whether that is proven.
    pub proven: bool,
}

/// The formula that is looked at.
pub struct Looked<'a> {
    /// The formula, in the basis of the brief.
    pub formula: &'a Formula,
    /// What it is worth.
    pub evaluation: &'a Evaluation,
    /// The formula as it was read, where it was given.
    pub given: Option<&'a Formula>,
}

impl LeewayReport {
    /// The report where there is a formula. `status` is that of the proposal,
    /// if it was not given.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        looked: &Looked,
        status: Status,
        margin: f64,
        leeway: &Leeway,
        warnings: Vec<String>,
    ) -> LeewayReport {
        let Looked { formula, evaluation, given } = *looked;
        let converted = given.is_some_and(|read| read.basis != problem.basis);
        let breaks: Vec<BrokenLine> =
            broken(problem, brief, formula, converted).into_iter().map(BrokenLine::from).collect();
        let best = leeway.best.answer.as_ref().map(|answer| answer.evaluation.fidelity_percent);
        let mut materials: Vec<LeewayLine> =
            leeway.spans.iter().map(|span| line(problem, leeway, best, span)).collect();
        tell_nearer(problem, leeway, &mut materials);
        let mut neat = evaluation.neat_ppt.clone();
        for end in leeway.spans.iter().flat_map(|span| [&span.min, &span.max]).flatten() {
            neat.iter_mut().zip(&end.answer.evaluation.neat_ppt).for_each(|(most, ppt)| *most = most.max(*ppt));
        }
        let is_complete = |line: &LeewayLine| {
            line.role != Role::NotComputed && line.without.is_none_or(|without| without.outcome != Removal::NotComputed)
        };
        LeewayReport {
            status: match given {
                None => status.into(),
                Some(_) if breaks.is_empty() => FormulaStatus::Feasible,
                Some(_) => FormulaStatus::Broken,
            },
            name: given.map(name_of),
            file: given.map(|read| read.file.as_deref().unwrap_or_default().to_owned()),
            proposal: Some(FormulaReport::new(problem, formula, Some(evaluation))),
            broken: breaks,
            least_fidelity: Some(problem.fidelity_percent(leeway.ceiling)),
            greatest_loss: Some(leeway.ceiling),
            best_continuous: leeway.best_continuous,
            any_doses: leeway.any_doses,
            not_looked_at: leeway.not_looked_at.iter().map(|&it| problem.material(it).name.clone()).collect(),
            doubt: fidelity_deviation(problem, formula),
            complete: materials.iter().all(is_complete),
            lists_all: false,
            materials,
            care: Some(Care::new(problem, &neat)),
            ..LeewayReport::without_formula(problem, brief, status, margin, &Reasons::default(), warnings)
        }
    }

    /// The report where there is none.
    pub fn without_formula(
        problem: &Problem,
        brief: &Brief,
        status: Status,
        margin: f64,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> LeewayReport {
        LeewayReport {
            head: Head::new("leeway", problem, brief),
            status: status.into(),
            name: None,
            file: None,
            margin,
            any_doses: false,
            proposal: None,
            broken: Vec::new(),
            least_fidelity: None,
            greatest_loss: None,
            best_continuous: None,
            doubt: None,
            materials: Vec::new(),
            not_looked_at: Vec::new(),
            complete: status == Status::Infeasible,
            lists_all: false,
            care: None,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

fn line(problem: &Problem, leeway: &Leeway, best: Option<f64>, span: &Span) -> LeewayLine {
    let blend = |end: &crate::solve::extent::End| EndBlend {
        formula: FormulaParts::new(problem, &end.answer.formula),
        fidelity: end.answer.evaluation.fidelity_percent,
        loss: end.answer.evaluation.loss,
    };
    let without = leeway.without.iter().find(|(material, _)| *material == span.material);
    let role = match (span.is_indispensable(), span.greatest()) {
        (None, _) | (_, None) => Role::NotComputed,
        (Some(true), _) => Role::Indispensable,
        (Some(false), _) if span.at > NOTHING => Role::Dispensable,
        (Some(false), Some(greatest)) if greatest > NOTHING => Role::CouldComeIn,
        _ => Role::StaysOut,
    };
    LeewayLine {
        material: problem.material(span.material).name.clone(),
        min: span.least(),
        max: span.greatest(),
        at: span.at,
        proven: [&span.min, &span.max].iter().all(|end| end.as_ref().is_some_and(|end| end.proven)),
        role,
        min_blend: span.min.as_ref().map(blend),
        max_blend: span.max.as_ref().map(blend),
        without: without.map(|(_, without)| left(without, best)),
    }
}

/// In how many of the draws each blend without a material is nearer than the
/// one with everything. The lines are in the order of the spans.
fn tell_nearer(problem: &Problem, leeway: &Leeway, lines: &mut [LeewayLine]) {
    let Some(best) = &leeway.best.answer else { return };
    let mut all: Vec<Option<&Formula>> = vec![Some(&best.formula)];
    all.extend(leeway.spans.iter().map(|span| {
        let without = leeway.without.iter().find(|(material, _)| *material == span.material);
        without.and_then(|(_, without)| match without {
            Without::Blend(answer, _) => Some(&answer.formula),
            Without::Required(_) | Without::Impossible | Without::NotComputed => None,
        })
    }));
    let told = told_some(problem, &all, 0);
    for (line, then) in lines.iter_mut().zip(&told[1..]) {
        if let (Some(without), Some(then), Some(best)) = (&mut line.without, then, &told[0]) {
            without.nearer_in_percent = Some(then.beside(best).nearer_percent());
        }
    }
}

fn left(without: &Without, best: Option<f64>) -> WithoutBlend {
    let nothing = |outcome| WithoutBlend {
        outcome,
        fidelity: None,
        loss: None,
        costs: None,
        nearer_in_percent: None,
        proven: true,
    };
    match without {
        Without::Blend(answer, proven) => {
            let fidelity = answer.evaluation.fidelity_percent;
            WithoutBlend {
                outcome: Removal::Possible,
                fidelity: Some(fidelity),
                loss: Some(answer.evaluation.loss),
                costs: best.map(|best| (best - fidelity).max(0.0)),
                nearer_in_percent: None,
                proven: *proven,
            }
        }
        Without::Required(_) => nothing(Removal::Required),
        Without::Impossible => nothing(Removal::Impossible),
        Without::NotComputed => WithoutBlend { proven: false, ..nothing(Removal::NotComputed) },
    }
}
