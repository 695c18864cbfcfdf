//! What the least doses of single materials cost, all of them by a few searches.
//!
//! Hundreds of materials have a least dose, and that of hardly one holds a formula back.
//! One search has all of them a unit lower, and at most one material may make use of it:
//! the count of doses outside a range, that the search knows, with the doses above the
//! present least as the range. Where nothing is nearer there, none of them brings
//! anything. Where something is, it is the best that its material's least dose stands in
//! the way of, and the rest are asked again without it.

use std::sync::Arc;

use super::{Found, below};
use crate::analysis::loosen::{Loosened, Loosening};
use crate::control::Control;
use crate::problem::{Change, Problem, RuleId, RuleKind, UsualDoses};
use crate::solve::{Answer, Method};
use crate::units::Ppt;

/// A least dose, and what it is lowered to.
struct LeastDose {
    rule: usize,
    column: usize,
    change: Change,
}

/// The least dose that a loosening lowers, where that is all it does.
fn lowered(problem: &Problem, loosening: &Loosening) -> Option<LeastDose> {
    let Loosened::Rules(changes) = &loosening.change else { return None };
    let [(rule, change)] = changes[..] else { return None };
    let RuleKind::DoseMin(column) = problem.rules[rule].kind else { return None };
    Some(LeastDose { rule, column, change })
}

/// Whether a problem leaves the count of unusual doses free.
pub(super) fn can_join(problem: &Problem) -> bool {
    !problem.rules.iter().any(|rule| matches!(rule.kind, RuleKind::MaxUnusual(_)))
}

/// Whether a loosening is one that [`all`] answers.
pub(super) fn is_one(problem: &Problem, loosening: &Loosening) -> bool {
    lowered(problem, loosening).is_some()
}

/// What each of some least doses costs the best formula of a problem, in their order.
pub(super) fn all(
    problem: &Problem,
    least_doses: &[&Loosening],
    best: &Answer,
    method: Method,
    control: &Control,
) -> Vec<Found> {
    let lowered: Vec<Option<LeastDose>> = least_doses.iter().map(|one| lowered(problem, one)).collect();
    let mut found: Vec<Option<Found>> = least_doses.iter().map(|_| None).collect();
    loop {
        let open = lowered.iter().zip(&found).filter_map(|(one, found)| one.as_ref().filter(|_| found.is_none()));
        let open: Vec<&LeastDose> = open.collect();
        if open.is_empty() || control.should_stop() {
            break;
        }
        let joint = below(&at_most_one(problem, &open), best, method, control);
        let Found::Better(then, proven) = joint else {
            // What holds of all holds of each.
            found.iter_mut().filter(|found| found.is_none()).for_each(|found| *found = Some(joint.clone()));
            break;
        };
        let least = problem.dose_rules();
        let uses = |one: &Option<LeastDose>| {
            one.as_ref().is_some_and(|one| {
                let dose = then.formula.dose(one.column);
                dose > Ppt::ZERO && dose < least[one.column].least
            })
        };
        let Some(at) = (0..lowered.len()).find(|&at| found[at].is_none() && uses(&lowered[at])) else { break };
        found[at] = Some(Found::Better(then, proven));
        if !proven {
            // The time is over: of the others nothing more is known.
            break;
        }
    }
    found.into_iter().map(|found| found.unwrap_or(Found::Open(None))).collect()
}

/// The problem with all of some least doses lowered, of which at most one material may
/// make use.
fn at_most_one(problem: &Problem, open: &[&LeastDose]) -> Problem {
    let least = problem.dose_rules();
    let present = |column: usize| UsualDoses { least: least[column].least, most: Ppt::WHOLE };
    let mut counted: Vec<(usize, UsualDoses)> = open.iter().map(|one| (one.column, present(one.column))).collect();
    counted.sort_by_key(|(column, _)| *column);
    let changes: Vec<(usize, Change)> = open.iter().map(|one| (one.rule, one.change)).collect();
    problem.with_changes(&changes).with_rule_at(RuleId::MaxUnusual, RuleKind::MaxUnusual(Arc::from(counted)), 1.0)
}
