//! What is on the shelf, and what could be bought.

use std::sync::Arc;

use crate::place::Place;
use crate::problem::{Absence, Problem, Rule, RuleId, RuleKind};

/// The problem with what is on the shelf and some other materials.
pub fn with_bought(problem: &Problem, bought: &[usize]) -> Problem {
    let allowed = |&material: &usize| problem.material(material).have || bought.contains(&material);
    let only: Arc<[usize]> = (0..problem.columns.len()).filter(allowed).collect();
    with_rule(open(problem), RuleKind::Only(only), 1.0)
}

/// The problem without the rule that only the shelf may be used.
pub fn open(problem: &Problem) -> Problem {
    problem.with_rules(|rule| problem.rules[rule].kind != RuleKind::OwnOnly)
}

/// The problem with the shelf alone, as a brief with `own_only` would have it.
pub fn shelf_alone(problem: &Problem) -> Problem {
    match problem.rule(&RuleId::OwnOnly) {
        Some(_) => problem.clone(),
        None => with_rule(problem.clone(), RuleKind::OwnOnly, 1.0),
    }
}

/// The problem with one more rule that no file says: it has no line.
pub(super) fn with_rule(mut problem: Problem, kind: RuleKind, at: f64) -> Problem {
    let place = Place { file: Arc::from("permil buy"), line: 0, column: 0 };
    problem.rules.push(Rule { id: RuleId::OwnOnly, kind, place, at });
    problem
}

/// What is not on the shelf: what could be used, and what could not.
pub fn candidates(problem: &Problem) -> (Vec<usize>, Vec<(usize, Option<Absence>)>) {
    let (mut usable, mut left_out) = (Vec::new(), Vec::new());
    for (material, domain) in open(problem).domains().into_iter().enumerate() {
        match domain {
            _ if problem.material(material).have => {}
            Ok(domain) if domain.is_empty() => left_out.push((material, None)),
            Ok(_) => usable.push(material),
            Err(absence) => left_out.push((material, Some(absence))),
        }
    }
    (usable, left_out)
}
