//! How far each dose may go while the blend stays nearly as near to the
//! target: the least and the greatest dose of every material over continuous
//! doses, and what leaving a material out costs.

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::control::Control;
use crate::evaluate::{NoOdour, evaluate};
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::problem::{Problem, RuleKind};
use crate::solve::extent::{End, Extent};
use crate::solve::{self, Answer, Failure, Method, Solution, Status};
use crate::units::Ppt;

/// The leeway around a formula.
#[derive(Clone, Debug)]
pub struct Leeway {
    /// Greatest loss of the blends that count, in score points.
    pub ceiling: f64,
    /// The nearest blend over continuous doses.
    pub best: Solution,
    /// One entry for each material that may be used, in the order of the
    /// palette.
    pub spans: Vec<Span>,
    /// For each part of the formula, in its order, the nearest blend without
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
    /// The blend with the least of it; `None` where that was not worked out.
    pub min: Option<End>,
    /// The blend with the most of it.
    pub max: Option<End>,
}

/// What is left without a material, over continuous doses.
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

    /// Whether no blend does without it; `None` where that is not known.
    pub fn is_indispensable(&self) -> Option<bool> {
        self.least().map(|least| least > NOTHING)
    }
}

/// A dose up to this, in ppt, counts as none: no balance tells it.
pub const NOTHING: Ppt = Ppt::LEAST;

/// The leeway around a formula of the problem's basis, `margin` points of
/// fidelity below it. `done` is told how many of how many steps have ended.
///
/// # Errors
/// Where a result failed its check.
pub fn leeway(
    problem: &Problem,
    formula: &Formula,
    margin: f64,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Leeway, Failure> {
    let relaxed = problem.relaxed();
    let internal = |error: NoOdour| Failure::Internal(error.to_string());
    let own = evaluate(problem, formula).map_err(internal)?;
    let ceiling = own.loss + margin / 100.0 * problem.worst_loss();
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
    let itself = holds.then(|| End { answer: Answer { formula: formula.clone(), evaluation: own }, proven: false });
    let span = |&material: &usize| {
        let end = |sign: f64| {
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
        let left = without(&relaxed, material, control);
        tell();
        left
    });
    let left = left.into_iter().map(|left| left.unwrap_or(Without::NotComputed));
    Ok(Leeway { ceiling, best, spans, without: parts.iter().copied().zip(left).collect() })
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

fn without(relaxed: &Problem, material: usize, control: &Control) -> Without {
    let asks = |kind: &RuleKind| matches!(*kind, RuleKind::Must(m) | RuleKind::Fixed(m) if m == material);
    if let Some(rule) = relaxed.rules.iter().position(|rule| asks(&rule.kind)) {
        return Without::Required(rule);
    }
    match solve::propose(&relaxed.leaving_out(material), Method::Auto, control) {
        Ok(Solution { answer: Some(answer), status, .. }) => {
            Without::Blend(Box::new(answer), status == Status::Optimal)
        }
        Ok(Solution { status: Status::Infeasible, .. }) => Without::Impossible,
        _ => Without::NotComputed,
    }
}
