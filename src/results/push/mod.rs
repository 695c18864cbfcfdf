//! The report of `push`.

mod keys;

pub use keys::{BestDose, CapLine, DoseFormula, EndLine, PushPoint, PushReport, RuleLine, UpperDose, WithoutAny};

use super::most::most_neat;
use super::states::CapReason;
use super::{Care, FormulaParts, FormulaReport, Head, ReasonsReport};
use crate::analysis::caps::{Cap, Reason};
use crate::analysis::doubt::fidelity_deviation;
use crate::analysis::doubt::told::nearer_percent;
use crate::analysis::push::{End, Point, Push};
use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::evaluate::SECOND_EXPONENT;
use crate::problem::Problem;
use crate::sentences;
use crate::solve::Status;

/// What was asked of a material.
pub struct Subject<'a> {
    /// Index into the palette.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Every cap on it.
    pub caps: &'a [Cap],
    /// What the brief says against it.
    pub let_in: Option<String>,
    /// Whether its formulas are told in full.
    pub in_full: bool,
}

impl PushReport {
    /// The report; `reasons` where there is no blend.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        subject: Subject,
        found: &Push,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> PushReport {
        let line = |point: &Point| point_line(problem, point);
        let best = found.best.as_ref();
        let fidelity = |point: &Point| point.answer.evaluation.fidelity_percent;
        let points: Vec<PushPoint> = found.points.iter().map(line).collect();
        let best_second = points.iter().reduce(|a, b| if b.second_opinion > a.second_opinion { b } else { a });
        let answers = found.points.iter().chain(best).map(|point| &point.answer);
        let told = found.points.iter().filter(|_| subject.in_full);
        PushReport {
            head: Head::new("push", problem, brief),
            status: match found.none {
                Some(Status::Infeasible) => Status::Infeasible,
                Some(_) => Status::Unknown,
                None if found.is_complete && is_proven(found) => Status::Optimal,
                None => Status::Feasible,
            },
            material: problem.material(subject.material).name.clone(),
            let_in: subject.let_in,
            basis: problem.basis,
            margin: subject.margin,
            exponent: SECOND_EXPONENT,
            best: best.map(|best| BestDose { dose: best.dose_ppt, fidelity: fidelity(best) }),
            best_blend: best
                .map(|best| FormulaReport::new(problem, &best.answer.formula, Some(&best.answer.evaluation))),
            best_second: best_second.map(|point| BestDose { dose: point.dose, fidelity: point.second_opinion }),
            continuous: found.is_continuous,
            upper_limit: found.upper_limit.iter().map(|&(at, fidelity)| UpperDose { at, fidelity }).collect(),
            window: found.window.map(|(low, high)| [low, high]),
            window_proven: found.window_proven,
            gain_gone: found.gone.map(|(dose, _)| dose),
            gain_gone_beyond_cap: found.gone.is_some_and(|(_, is_beyond)| is_beyond),
            without: best.zip(found.without.as_ref()).map(|(best, without)| WithoutAny {
                fidelity: fidelity(without),
                costs: (fidelity(best) - fidelity(without)).max(0.0),
                nearer_in_percent: nearer_percent(problem, &best.answer.formula, &[&without.answer.formula])[0],
            }),
            low_end: found.ends[0].as_ref().map(|end| end_line(problem, end)),
            high_end: found.ends[1].as_ref().map(|end| end_line(problem, end)),
            caps: subject.caps.iter().map(|cap| cap_line(problem, cap)).collect(),
            formulas: told.map(|point| dose_formula(problem, point)).collect(),
            without_formula: found.without_formula.clone(),
            not_computed: found.not_computed.clone(),
            doubt: best.and_then(|best| fidelity_deviation(problem, &best.answer.formula)),
            complete: found.none == Some(Status::Infeasible) || found.is_complete,
            care: most_neat(problem, answers).map(|neat| Care::new(problem, &neat)),
            beyond: found.beyond.iter().map(line).collect(),
            points,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

fn is_proven(found: &Push) -> bool {
    let mut points = found.points.iter().chain(&found.beyond).chain(&found.best).chain(&found.without);
    points.all(|point| point.proven) && found.window_proven == [true; 2]
}

fn point_line(problem: &Problem, point: &Point) -> PushPoint {
    let evaluation = &point.answer.evaluation;
    PushPoint {
        dose: point.dose_ppt,
        fidelity: evaluation.fidelity_percent,
        second_opinion: evaluation.second_opinion.fidelity_percent,
        loss: evaluation.loss,
        proven: point.proven,
        at_most: problem.fidelity_percent(point.bound),
        price: evaluation.price_per_kg,
        parts: FormulaParts::new(problem, &point.answer.formula).parts,
    }
}

fn dose_formula(problem: &Problem, point: &Point) -> DoseFormula {
    let mut formula = FormulaReport::new(problem, &point.answer.formula, Some(&point.answer.evaluation));
    formula.bound = Some(point.bound);
    let status = if point.proven { Status::Optimal } else { Status::Feasible };
    DoseFormula { dose: point.dose_ppt, status, formula }
}

fn end_line(problem: &Problem, end: &End) -> EndLine {
    let evaluation = &end.point.answer.evaluation;
    let of = |counted: usize| &problem.views[evaluation.worst].targets[counted];
    EndLine {
        dose: end.point.dose_ppt,
        fidelity: evaluation.fidelity_percent,
        descriptor: end.descriptor.map(|(counted, _)| problem.palette.descriptors[of(counted).descriptor].name.clone()),
        gap: end.descriptor.map(|(counted, _)| evaluation.profile[counted] - of(counted).score),
        adds: end.descriptor.map(|(_, by)| by),
        rules: end
            .rules
            .iter()
            .map(|rule| RuleLine {
                rule: rule.id.clone(),
                file: rule.place.file.to_string(),
                line: (rule.place.line > 0).then_some(rule.place.line),
                sentence: problem.sentence(rule),
            })
            .collect(),
        wall: end.is_wall,
    }
}

fn cap_line(problem: &Problem, cap: &Cap) -> CapLine {
    let reason = match cap.reason {
        Reason::Own => CapReason::Own,
        Reason::Palette => CapReason::Palette,
        Reason::Concentrate(_) => CapReason::Concentrate,
        Reason::Product(_) => CapReason::Product,
        Reason::Restriction(..) => CapReason::Restriction,
        Reason::Joint => CapReason::Joint,
        Reason::Stock(_) => CapReason::Stock,
    };
    let verified = match cap.reason {
        Reason::Restriction(restriction, _) => {
            Some(problem.restrictions[restriction].verified != crate::limits::Verified::No)
        }
        _ => None,
    };
    let substance = match cap.reason {
        Reason::Restriction(restriction, _) => Some(problem.restrictions[restriction].substance.clone()),
        _ => None,
    };
    CapLine {
        dose: cap.dose_ppt,
        reason,
        words: sentences::cap::cap(problem, cap),
        substance,
        rule: cap.rule.as_ref().map(|rule| rule.id.clone()),
        product: cap.product.and_then(|product| problem.products[product].name.clone()),
        file: cap.place.as_ref().map(|place| place.file.to_string()),
        line: cap.place.as_ref().map(|place| place.line),
        verified,
    }
}
