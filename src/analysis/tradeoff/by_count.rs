//! The best formula with each number of materials.

use super::{Own, Point, Tradeoff, nothing};
use crate::analysis::along::along;
use crate::analysis::axis::{Axis, NoRange};
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{self, Failure, Method, Status};

/// The best formula with each number of materials, in the brief's own doses.
pub(super) fn by_count(
    problem: &Problem,
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    let axis = Axis::Count;
    let without = axis.without(problem);
    // Half of the time for the formula with any number, which bounds the rest.
    let most = solve::propose_from(&without, &Default::default(), method, &control.with_share(0.5))?;
    let own = axis.own(problem);
    let mut found = nothing(axis);
    let Some(best) = &most.answer else {
        found.none = Some(if most.status == Status::Infeasible { NoRange::Impossible } else { NoRange::Unknown });
        return Ok(found);
    };
    let counts: Vec<f64> = (1..=best.formula.parts.len()).map(|count| count as f64).collect();
    let bound = most.bound.unwrap_or(0.0);
    let last = counts.len() - 1;
    let mut solutions =
        along(axis, &without, &counts[..last], &vec![bound; last], method, control, &|at, of| done(at, of + 1))?;
    found.ends_proven = most.status == Status::Optimal;
    found.is_complete = found.ends_proven;
    solutions.push(most);
    found.take(counts, solutions);
    found.own = own.map(|own| Own { at: own, fidelity: fidelity_of(found.kept_at(own)), ..Own::default() });
    found.along_the_way(problem);
    Ok(found)
}

fn fidelity_of(point: Option<&Point>) -> Option<f64> {
    point.map(|point| point.answer.evaluation.fidelity_percent)
}
