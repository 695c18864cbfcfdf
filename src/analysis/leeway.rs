//! How far each dose may go while the formula stays nearly as near to the
//! target: the least and the greatest dose of every material in formulas that
//! keep every rule, or over any doses, and what leaving a material out costs.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::axis::any_loss;
use super::ends::{self, Side, Wanted};
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::model::Blend;
use crate::pool::{in_parallel, threads};
use crate::problem::Problem;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::solve::extent::{End, Extent};
use crate::solve::{self, Answer, Failure, Method, Solution, Start, Status};
use crate::units::Ppt;

/// The leeway around a formula.
#[derive(Clone, Debug)]
pub struct Leeway {
    /// Greatest loss of the formulas that count, in score points.
    pub ceiling: f64,
    /// Whether steps, least doses and the number of materials are set aside.
    pub any_doses: bool,
    /// The nearest formula of those that are looked at.
    pub best: Solution,
    /// Fidelity in percent of the nearest blend over any doses.
    pub best_continuous: Option<f64>,
    /// One entry for each material that may be used and was looked at, in the
    /// order of the palette.
    pub spans: Vec<Span>,
    /// Materials outside the formula that might come in and were not looked at:
    /// weaker ones than those that were.
    pub not_looked_at: Vec<usize>,
    /// For each part of the formula, in its order, the nearest formula without
    /// it.
    pub without: Vec<(usize, Without)>,
}

/// How far one dose may go.
#[derive(Clone, Debug)]
pub struct Span {
    /// The material.
    pub material: usize,
    /// Its dose in the formula, in ppt.
    pub at: Ppt,
    /// The formula with the least of it; `None` where that was not worked out.
    pub min: Option<End>,
    /// The formula with the most of it.
    pub max: Option<End>,
}

/// What is left without a material.
#[derive(Clone, Debug)]
pub enum Without {
    /// The nearest blend, and whether that is proven.
    Blend(Box<Answer>, bool),
    /// The brief asks for the material: index of the rule.
    Required(usize),
    /// Proven that no blend keeps the rules.
    Impossible,
    /// Not worked out in time.
    NotComputed,
}

impl End {
    /// Dose of a material in it, in ppt.
    pub fn dose(&self, material: usize) -> Ppt {
        self.answer.formula.dose(material)
    }
}

impl Span {
    /// Least dose in ppt.
    pub fn least(&self) -> Option<Ppt> {
        Some(self.min.as_ref()?.dose(self.material))
    }

    /// Greatest dose in ppt.
    pub fn greatest(&self) -> Option<Ppt> {
        Some(self.max.as_ref()?.dose(self.material))
    }

    /// Whether no formula does without it; `None` where that is not known.
    pub fn is_indispensable(&self) -> Option<bool> {
        self.least().map(|least| least > NOTHING)
    }
}

/// A dose up to this, in ppt, counts as none: no balance tells it.
pub const NOTHING: Ppt = Ppt::LEAST;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// Points of fidelity that the formulas may lie below.
    pub margin: f64,
    /// Whether steps, least doses and the number of materials are set aside.
    pub any_doses: bool,
    /// Which method proves what is left without a material.
    pub method: Method,
    /// The best formula of the problem, where it is known.
    pub best: Option<&'a Solution>,
}

/// Materials outside the formula that are looked at, the strongest first, under
/// rules that take a search each.
const OUTSIDE: usize = 24;

/// The leeway around a formula of the problem's basis. `done` is told how many
/// of how many steps have ended.
///
/// # Errors
/// Where a result failed its check.
pub fn leeway(
    problem: &Problem,
    formula: &Formula,
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Leeway, Failure> {
    if asked.any_doses || Blend::new(problem).is_continuous() {
        over_any_doses(problem, formula, asked.margin, control, done)
    } else {
        in_its_doses(problem, formula, asked, control, done)
    }
}

fn ceiling(problem: &Problem, own: &crate::evaluate::Evaluation, margin: f64) -> f64 {
    own.loss + margin / 100.0 * problem.worst_loss()
}

/// Formulas that keep every rule: short searches for each end.
fn in_its_doses(
    problem: &Problem,
    formula: &Formula,
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Leeway, Failure> {
    let relaxed = problem.relaxed();
    let own = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
    let ceiling = ceiling(problem, &own, asked.margin);
    let continuous = solve::propose(&relaxed, Method::Auto, &control.with_share(0.1))?;
    let best_continuous = continuous.answer.map(|answer| answer.evaluation.fidelity_percent);
    let best = match asked.best {
        Some(best) => best.clone(),
        None => solve::propose(problem, asked.method, &control.with_share(0.3))?,
    };
    // What the searches begin with: the formula where it keeps the rules, else
    // the best, where that is near enough.
    let limit = ends::no_worse_than(ceiling);
    let near = best.answer.clone().filter(|answer| answer.evaluation.loss <= limit);
    let from = solve::kept(problem, formula).or(near);
    let walls = Extent::new(&relaxed, limit);
    let wall = |material: usize, sign: f64| {
        let mut cost = vec![0.0; problem.columns.len()];
        cost[material] = sign;
        Some(walls.as_ref()?.least(&cost)?.dose(material).as_f64())
    };
    let parts: Vec<usize> = formula.parts.iter().map(|(material, _)| *material).collect();
    let any = Extent::new(&relaxed, any_loss(&relaxed));
    let usable: Vec<usize> =
        (0..problem.columns.len()).filter(|&it| any.as_ref().is_some_and(|any| any.has(it))).collect();
    let most: Vec<Option<f64>> =
        in_parallel(&usable, control, |&it| wall(it, -1.0)).into_iter().map(Option::flatten).collect();
    // Those outside by what they could bring over any doses, in odour.
    let mut outside: Vec<(usize, f64)> = Vec::new();
    for (&material, most) in usable.iter().zip(&most) {
        let might = most.is_none_or(|most| most > NOTHING.as_f64());
        if !parts.contains(&material) && might {
            let odour = most.unwrap_or(1000.0) * problem.strength_per_ppt(material);
            outside.push((material, odour));
        }
    }
    outside.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let not_looked_at: Vec<usize> = outside.iter().skip(OUTSIDE).map(|(material, _)| *material).collect();
    let looked_at = usable.iter().zip(&most).filter(|(material, _)| !not_looked_at.contains(material));
    let looked_at: Vec<(usize, Option<f64>)> = looked_at.map(|(&material, &most)| (material, most)).collect();
    let steps = looked_at.len() + parts.len();
    let ended = AtomicUsize::new(0);
    let tell = || done(ended.fetch_add(1, Ordering::Relaxed) + 1, steps);

    let span = |&(material, most): &(usize, Option<f64>)| -> Result<Span, Failure> {
        let blank = Span { material, at: formula.dose(material), min: None, max: None };
        let Some(from) = &from else { return Ok(blank) };
        // Nobody takes the time of all the others.
        let control = control.with_share((2.0 * threads(control) as f64 / steps as f64).min(1.0));
        let end = |side: Side, wall_ppt: Option<f64>| -> Result<Option<End>, Failure> {
            let wanted = Wanted { material, side, ceiling, wall_ppt };
            let reached = ends::end(problem, wanted, from, &control)?;
            Ok(Some(End { answer: Arc::new(reached.answer), proven: reached.proven }))
        };
        let min = end(Side::Least, wall(material, 1.0))?;
        // None of it at all over any doses is none of it here.
        let max = end(Side::Most, most)?;
        tell();
        Ok(Span { min, max, ..blank })
    };
    let found = in_parallel(&looked_at, control, span);
    let mut spans = Vec::new();
    for (&(material, _), span) in looked_at.iter().zip(found) {
        let blank = Span { material, at: formula.dose(material), min: None, max: None };
        spans.push(span.transpose()?.unwrap_or(blank));
    }
    let bound = best.bound.unwrap_or(0.0);
    let left = in_parallel(&parts, control, |&material| {
        let control = control.with_share((2.0 * threads(control) as f64 / parts.len().max(1) as f64).min(1.0));
        let left = without(problem, material, bound, asked.method, &control);
        tell();
        left
    });
    let left = left.into_iter().map(|left| left.unwrap_or(Without::NotComputed));
    let without = parts.iter().copied().zip(left).collect();
    Ok(Leeway { ceiling, any_doses: false, best, best_continuous, spans, not_looked_at, without })
}

/// Blends over any doses and with any number of materials: linear programmes.
fn over_any_doses(
    problem: &Problem,
    formula: &Formula,
    margin: f64,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Leeway, Failure> {
    let relaxed = problem.relaxed();
    let own = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
    let ceiling = ceiling(problem, &own, margin);
    let best = solve::propose(&relaxed, Method::Auto, control)?;
    let extent = Extent::new(&relaxed, ceiling);
    let usable: Vec<usize> =
        (0..problem.columns.len()).filter(|&it| extent.as_ref().is_some_and(|extent| extent.has(it))).collect();
    let parts: Vec<usize> = formula.parts.iter().map(|(material, _)| *material).collect();
    let steps = usable.len() + parts.len();
    let ended = AtomicUsize::new(0);
    let tell = || done(ended.fetch_add(1, Ordering::Relaxed) + 1, steps);

    // The formula itself is one of these blends where it keeps their rules.
    let holds = Checker::new(&relaxed).breaches(formula, REPORT_TOLERANCE).is_empty();
    let of = |answer: Answer| End { answer: Arc::new(answer), proven: false };
    let itself = holds.then(|| of(Answer { formula: formula.clone(), evaluation: own }));
    let near = best.answer.clone().filter(|answer| answer.evaluation.loss <= ceiling).map(of);
    let known: Vec<&End> = itself.iter().chain(&near).collect();
    let span = |&material: &usize| {
        let end = |sign: f64| {
            // Less than nothing of it there cannot be.
            let has_none = |end: &&&End| sign > 0.0 && end.dose(material).is_zero();
            if let Some(none) = known.iter().find(has_none) {
                return Some(End { proven: true, ..(**none).clone() });
            }
            let mut cost = vec![0.0; problem.columns.len()];
            cost[material] = sign;
            let found = extent.as_ref()?.least(&cost);
            further(found, itself.as_ref(), material, sign)
        };
        let span = Span { material, at: formula.dose(material), min: end(1.0), max: end(-1.0) };
        tell();
        span
    };
    let spans = in_parallel(&usable, control, span);
    let blank = |material: usize| Span { material, at: formula.dose(material), min: None, max: None };
    let spans = usable.iter().zip(spans).map(|(&material, span)| span.unwrap_or_else(|| blank(material))).collect();

    let left = in_parallel(&parts, control, |&material| {
        let left = without(&relaxed, material, 0.0, Method::Auto, control);
        tell();
        left
    });
    let left = left.into_iter().map(|left| left.unwrap_or(Without::NotComputed));
    let best_continuous = best.answer.as_ref().map(|answer| answer.evaluation.fidelity_percent);
    let without = parts.iter().copied().zip(left).collect();
    Ok(Leeway { ceiling, any_doses: true, best, best_continuous, spans, not_looked_at: Vec::new(), without })
}

/// What was found, or the formula itself where rounding left it a hair
/// further out.
fn further(found: Option<End>, itself: Option<&End>, material: usize, sign: f64) -> Option<End> {
    let reach = |end: &End| -sign * end.dose(material).as_f64();
    match (found, itself) {
        (Some(found), Some(itself)) if reach(itself) > reach(&found) => {
            Some(End { proven: found.proven, ..itself.clone() })
        }
        (found, _) => found,
    }
}

/// The nearest without a material; `bound` holds for every formula.
fn without(problem: &Problem, material: usize, bound: f64, method: Method, control: &Control) -> Without {
    if let Some(rule) = problem.rules.iter().position(|rule| rule.kind.asks_for() == Some(material)) {
        return Without::Required(rule);
    }
    let start = Start { bound, ..Start::default() };
    match solve::propose_from(&problem.leaving_out(material), &start, method, control) {
        Ok(Solution { answer: Some(answer), status, .. }) => {
            Without::Blend(Box::new(answer), status == Status::Optimal)
        }
        Ok(Solution { status: Status::Infeasible, .. }) => Without::Impossible,
        _ => Without::NotComputed,
    }
}
