//! What holds a formula back: how much nearer the best formula came if one
//! rule were a unit looser, found by solving again.

mod grid;
mod least_doses;

use std::time::Duration;

use grid::Grid;

use super::loosen::{Loosened, Loosening, all_loosened, loosenings};
use crate::control::Control;
use crate::model::Blend;
use crate::pool::in_parallel;
use crate::problem::check::Checker;
use crate::problem::{Problem, Subject};
use crate::solve::{Answer, Method, Start, Status, propose_from, search};
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

/// A rule of which the time did not suffice to find out what it costs.
#[derive(Clone, Debug)]
pub struct Open {
    /// The rule and how far it was to be loosened.
    pub loosening: Loosening,
    /// No formula that this allows has a loss below this, in score points: proven.
    pub bound: f64,
}

/// What the rules of a problem cost.
#[derive(Clone, Debug, Default)]
pub struct Worths {
    /// Rules whose loosening brings something, the one that brings most first;
    /// limits on substances are not among them.
    pub binding: Vec<Worth>,
    /// Rules of which this was not found out in time, and how much they can bring at most.
    pub open: Vec<Open>,
}

/// Seconds for a bound on what is left when the time has gone.
const FOR_THE_REST: Duration = Duration::from_millis(500);

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
    } else {
        let grid = Grid::of(problem);
        tried.retain(|loosening| !grid.holds(problem, loosening));
    }
    // Those nearest to holding first, should the time end.
    tried.sort_by(|a, b| slack(a).total_cmp(&slack(b)));
    let can_join = !continuous && least_doses::can_join(problem);
    let joins = |at: &usize| can_join && least_doses::is_one(problem, &tried[*at]);
    let (joint, single): (Vec<usize>, Vec<usize>) = (0..tried.len()).partition(joins);
    let mut tasks: Vec<Vec<usize>> = vec![joint];
    tasks.extend(single.into_iter().map(|at| vec![at]));
    let asked = |task: &Vec<usize>| match task[..] {
        [] => Vec::new(),
        [one] => vec![loosened(problem, &tried[one], best, continuous, method, control)],
        _ => {
            let of: Vec<&Loosening> = task.iter().map(|&at| &tried[at]).collect();
            least_doses::all(problem, &of, best, method, control)
        }
    };
    let answers = in_parallel(&tasks, control, asked);
    let mut found = vec![Found::Open(None); tried.len()];
    for (task, answers) in tasks.iter().zip(answers) {
        task.iter().zip(answers.into_iter().flatten()).for_each(|(&at, answer)| found[at] = answer);
    }
    sorted(problem, best, tried, found, control)
}

/// What was found, in the order in which it is told.
fn sorted(problem: &Problem, best: &Answer, tried: Vec<Loosening>, found: Vec<Found>, control: &Control) -> Worths {
    let mut worths = Worths::default();
    let present = best.evaluation.loss;
    for (loosening, found) in tried.into_iter().zip(found) {
        match found {
            Found::Better(then, proven) => worths.binding.push(Worth { loosening, then: *then, proven }),
            Found::Nothing => {}
            Found::Open(bound) => worths.open.push(Open { loosening, bound: bound.unwrap_or(0.0) }),
        }
    }
    worths.binding.sort_by(|a, b| a.then.evaluation.loss.total_cmp(&b.then.evaluation.loss));
    if !worths.open.is_empty() {
        // A bound on all of them loosened at once holds of each.
        let all: Vec<&Loosening> = worths.open.iter().map(|open| &open.loosening).collect();
        let bound = bound_of(&all_loosened(problem, &all), control);
        worths.open.iter_mut().for_each(|open| open.bound = open.bound.max(bound));
        // What can bring nothing that counts is settled.
        worths.open.retain(|open| open.bound < present - COUNTS);
        worths.open.sort_by(|a, b| a.bound.total_cmp(&b.bound));
    }
    worths
}

/// A loss that no formula of a problem is below, from its relaxation alone.
fn bound_of(problem: &Problem, control: &Control) -> f64 {
    if !problem.is_linear() {
        return 0.0;
    }
    let control = Control { deadline: None, ..control.untold() }.within(FOR_THE_REST);
    let bound = search::root_bound(&Blend::new(problem).relaxed(), &control).bound;
    if bound.is_finite() { bound } else { 0.0 }
}

/// Whether what is loosened is a limit on a substance.
fn is_limit(problem: &Problem, loosening: &Loosening) -> bool {
    let limit = |rule: usize| matches!(problem.rules[rule].kind.subject(), Subject::Limit { .. });
    match &loosening.change {
        Loosened::Rules(changes) | Loosened::ForAll(_, changes) => changes.iter().any(|&(rule, _)| limit(rule)),
        Loosened::Dosage { .. } => false,
    }
}

/// What came of loosening a rule.
#[derive(Clone, Debug)]
enum Found {
    /// A nearer formula, and whether it is proven best.
    Better(Box<Answer>, bool),
    /// Nothing: proven.
    Nothing,
    /// Not known; a loss that no formula is below, where one is.
    Open(Option<f64>),
}

fn loosened(
    problem: &Problem,
    loosening: &Loosening,
    best: &Answer,
    continuous: bool,
    method: Method,
    control: &Control,
) -> Found {
    if continuous {
        asked(&loosening.problem(problem), best, &Start::default(), method, control)
    } else {
        below(&loosening.beyond(problem), best, method, control)
    }
}

/// The best formula of a problem that is nearer than a known one.
fn below(problem: &Problem, best: &Answer, method: Method, control: &Control) -> Found {
    let start = Start { ceiling: Some(best.evaluation.loss - COUNTS), ..Start::default() };
    asked(problem, best, &start, method, control)
}

fn asked(problem: &Problem, best: &Answer, start: &Start, method: Method, control: &Control) -> Found {
    let present = best.evaluation.loss;
    if present <= COUNTS {
        return Found::Nothing;
    }
    let Ok(solution) = propose_from(problem, start, method, control) else { return Found::Open(None) };
    let proven = solution.status == Status::Optimal;
    match solution.answer {
        Some(then) if then.evaluation.loss < present - COUNTS => Found::Better(Box::new(then), proven),
        Some(_) if proven => Found::Nothing,
        None if solution.status == Status::Infeasible => Found::Nothing,
        None if solution.bound.is_some_and(|bound| present - bound <= 3.0 * COUNTS * present.max(1.0)) => {
            Found::Nothing
        }
        _ => Found::Open(solution.bound),
    }
}

/// Whether nothing chooses between using a material and leaving it out, nor
/// between rungs of idle weight, and doses are continuous.
fn is_convex(problem: &Problem) -> bool {
    let blend = Blend::new(problem);
    problem.is_linear() && blend.is_continuous() && blend.ladder.is_none()
}
