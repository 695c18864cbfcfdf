//! What holds a formula back: how much nearer the best formula came if one
//! rule were a unit looser, found by solving again.

use super::loosen::{Loosened, Loosening, loosenings};
use crate::control::Control;
use crate::pool::in_parallel;
use crate::problem::check::Checker;
use crate::problem::{Problem, Subject};
use crate::solve::{Answer, Method, Start, Status, propose_from};
use crate::tolerance::loss::COUNTS;
use crate::tolerance::rules::HOLDS;

/// What one rule costs.
#[derive(Clone, Debug)]
pub struct Worth {
    /// The rule and how far it was loosened.
    pub loosening: Loosening,
    /// The best formula then.
    pub then: Answer,
    /// Whether that one is proven best.
    pub proven: bool,
}

/// What the rules of a problem cost.
#[derive(Clone, Debug, Default)]
pub struct Worths {
    /// Rules whose loosening brings something, the one that brings most first;
    /// limits on substances are not among them.
    pub binding: Vec<Worth>,
    /// Rules of which this was not found out in time.
    pub not_computed: Vec<Loosening>,
}

/// What each rule costs a formula that is the best of its problem as far as is
/// known, in what is left of the control's time.
pub fn worths(problem: &Problem, best: &Answer, method: Method, control: &Control) -> Worths {
    let slacks = Checker::new(problem).slacks(&best.formula);
    let slack = |loosening: &Loosening| match &loosening.change {
        Loosened::Rules(changes) | Loosened::ForAll(_, changes) => {
            changes.iter().map(|&(rule, _)| slacks[rule]).fold(f64::INFINITY, f64::min)
        }
        Loosened::Dosage { .. } => 0.0,
    };
    let mut tried = loosenings(problem);
    // What the law or the trade forbids is not among the levers.
    tried.retain(|loosening| !is_limit(problem, loosening));
    let continuous = is_convex(problem);
    if continuous {
        // The loss over continuous doses has no other valley: a rule that is
        // not met leaves the best formula as it is.
        tried.retain(|loosening| slack(loosening) <= HOLDS);
    }
    // Those nearest to holding first, should the time end.
    tried.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
    let found =
        in_parallel(&tried, control, |loosening| loosened(problem, loosening, best, continuous, method, control));
    let mut worths = Worths::default();
    for (loosening, found) in tried.into_iter().zip(found) {
        match found {
            Some(Found::Better(then, proven)) => worths.binding.push(Worth { loosening, then: *then, proven }),
            Some(Found::Nothing) => {}
            Some(Found::Unknown) | None => worths.not_computed.push(loosening),
        }
    }
    worths.binding.sort_by(|a, b| a.then.evaluation.loss.total_cmp(&b.then.evaluation.loss));
    worths
}

/// Whether what is loosened is a limit on a substance.
fn is_limit(problem: &Problem, loosening: &Loosening) -> bool {
    let limit = |rule: usize| matches!(problem.rules[rule].kind.subject(), Subject::Limit { .. });
    match &loosening.change {
        Loosened::Rules(changes) | Loosened::ForAll(_, changes) => changes.iter().any(|&(rule, _)| limit(rule)),
        Loosened::Dosage { .. } => false,
    }
}

enum Found {
    Better(Box<Answer>, bool),
    Nothing,
    Unknown,
}

fn loosened(
    problem: &Problem,
    loosening: &Loosening,
    best: &Answer,
    continuous: bool,
    method: Method,
    control: &Control,
) -> Found {
    let present = best.evaluation.loss;
    if present <= COUNTS {
        return Found::Nothing;
    }
    let (loosened, start) = if continuous {
        (loosening.problem(problem), Start::default())
    } else {
        let start = Start { ceiling: Some(present - COUNTS), ..Start::default() };
        (loosening.beyond(problem), start)
    };
    let Ok(solution) = propose_from(&loosened, &start, method, control) else { return Found::Unknown };
    let proven = solution.status == Status::Optimal;
    match solution.answer {
        Some(then) if then.evaluation.loss < present - COUNTS => Found::Better(Box::new(then), proven),
        Some(_) if proven => Found::Nothing,
        None if solution.status == Status::Infeasible => Found::Nothing,
        None if solution.bound.is_some_and(|bound| present - bound <= 3.0 * COUNTS * present.max(1.0)) => {
            Found::Nothing
        }
        _ => Found::Unknown,
    }
}

/// Whether nothing chooses between using a material and leaving it out, nor
/// between rungs of idle weight, and doses are continuous.
fn is_convex(problem: &Problem) -> bool {
    let blend = crate::model::Blend::new(problem);
    problem.is_linear() && blend.is_continuous() && blend.ladder.is_none()
}
