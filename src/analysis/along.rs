//! The best formulas at several limits of one rule, each proof begun with
//! what its neighbours know.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::axis::Axis;
use crate::control::Control;
use crate::pool::{in_parallel, threads};
use crate::problem::Problem;
use crate::solve::{self, Failure, Method, Solution, Start, Status};

/// The best formula at each limit; limits rise. `known` are lower bounds on
/// the loss at each, in score points. A formula of a tighter limit keeps a
/// looser one, and what bounds the looser one bounds the tighter, so the ends
/// come first and then the middles between what is known; the rounds depend on
/// the limits alone. `done` is told how many of how many have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn along(
    axis: Axis,
    without: &Problem,
    limits: &[f64],
    known: &[f64],
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Solution>, Failure> {
    let mut solved: Vec<Option<Solution>> = vec![None; limits.len()];
    let ended = AtomicUsize::new(0);
    let loosens = axis.loosens_upwards();
    loop {
        let round = next_round(&solved, loosens.is_none());
        if round.is_empty() {
            break;
        }
        let left = solved.iter().filter(|one| one.is_none()).count();
        // Nobody takes the time of those that are still to come.
        let share = (threads(control).min(round.len()) as f64 / left as f64).min(1.0);
        let found = in_parallel(&round, control, |&at| {
            let (tighter, looser) = neighbours(&solved, at, loosens);
            let solution =
                one(axis, without, limits[at], known[at], tighter, looser, method, &control.with_share(share));
            done(ended.fetch_add(1, Ordering::Relaxed) + 1, limits.len());
            solution
        });
        for (&at, found) in round.iter().zip(found) {
            solved[at] = Some(found.transpose()?.unwrap_or(stopped(known[at])));
        }
    }
    let mut solved: Vec<Solution> = solved.into_iter().flatten().collect();
    if let Some(upwards) = loosens {
        share_what_is_known(&mut solved, upwards);
    }
    Ok(solved)
}

/// What is known where there was no time to look.
fn stopped(bound: f64) -> Solution {
    Solution::from_parts(None, bound)
}

/// Both ends, then the middle of every stretch between what is solved; all at
/// once where limits do not help each other.
fn next_round(solved: &[Option<Solution>], all: bool) -> Vec<usize> {
    let open = || (0..solved.len()).filter(|&at| solved[at].is_none());
    if all {
        return open().collect();
    }
    if solved.iter().all(Option::is_none) {
        let mut ends: Vec<usize> =
            [solved.len().checked_sub(1), (!solved.is_empty()).then_some(0)].into_iter().flatten().collect();
        ends.dedup();
        return ends;
    }
    let known: Vec<usize> = (0..solved.len()).filter(|&at| solved[at].is_some()).collect();
    known.windows(2).filter(|pair| pair[1] - pair[0] > 1).map(|pair| usize::midpoint(pair[0], pair[1])).collect()
}

/// The nearest solved neighbours: the tighter and the looser one.
fn neighbours(solved: &[Option<Solution>], at: usize, loosens: Option<bool>) -> (Option<&Solution>, Option<&Solution>) {
    let before = solved[..at].iter().rev().find_map(Option::as_ref);
    let after = solved[at + 1..].iter().find_map(Option::as_ref);
    match loosens {
        Some(true) => (before, after),
        Some(false) => (after, before),
        None => (None, None),
    }
}

#[allow(clippy::too_many_arguments, reason = "one limit with all that is known of it")]
fn one(
    axis: Axis,
    without: &Problem,
    limit: f64,
    known: f64,
    tighter: Option<&Solution>,
    looser: Option<&Solution>,
    method: Method,
    control: &Control,
) -> Result<Solution, Failure> {
    if let Some(looser) = looser.filter(|looser| looser.status == Status::Infeasible) {
        return Ok(looser.clone());
    }
    let answers = [tighter, looser].into_iter().flatten().filter_map(|solution| solution.answer.as_ref());
    let start = Start {
        formulas: answers.map(|answer| answer.formula.clone()).collect(),
        bound: looser.and_then(|looser| looser.bound).unwrap_or(0.0).max(known),
        ceiling: None,
    };
    solve::propose_from(&axis.at(without, limit), &start, method, control)
}

/// What was found at one limit holds at others too, where neither is proven:
/// the formula at looser ones, the bound at tighter ones.
fn share_what_is_known(solved: &mut [Solution], upwards: bool) {
    if !upwards {
        solved.reverse();
    }
    for at in 1..solved.len() {
        let before = solved[at - 1].answer.clone();
        let here = solved[at].answer.as_ref().map_or(f64::INFINITY, |answer| answer.evaluation.loss);
        if let Some(before) = before.filter(|before| before.evaluation.loss < here) {
            improve(&mut solved[at], Some(before), None);
        }
    }
    for at in (1..solved.len()).rev() {
        let bound = solved[at].bound;
        if bound > solved[at - 1].bound && solved[at - 1].answer.is_some() {
            improve(&mut solved[at - 1], None, bound);
        }
    }
    if !upwards {
        solved.reverse();
    }
}

fn improve(solution: &mut Solution, answer: Option<solve::Answer>, bound: Option<f64>) {
    let answer = answer.or_else(|| solution.answer.take());
    let bound = bound.or(solution.bound).unwrap_or(0.0);
    let (nodes, iterations) = (solution.nodes, solution.iterations);
    *solution = Solution { nodes, iterations, ..Solution::from_parts(answer, bound) };
}
