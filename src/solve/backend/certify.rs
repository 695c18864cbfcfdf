//! Evidence for the claims that come without a point: a ray for "unbounded",
//! Farkas multipliers for "infeasible".
//!
//! Both are found by solving an auxiliary programme that always has an
//! optimum, and judged by arithmetic on its answer.

use super::{Backend, INFINITE_FROM, SolveError, attempt, check};
use crate::control::Control;
use crate::model::programme::{Column, Programme, Relation, Row, Sense};
use crate::tolerance::borrowed::FARKAS;
use crate::tolerance::borrowed::RAY;

/// What to say of an optimum that did not pass: with a ray at hand it was no
/// optimum at all.
pub(super) fn refuse(programme: &Programme, control: &Control, why: String) -> SolveError {
    if programme.is_mixed() || !has_ray(programme, control) {
        return SolveError::NotCertain(why);
    }
    unbounded_if_feasible(Backend::Clarabel, programme, control)
}

/// The verdict on a claim of "unbounded".
pub(super) fn unbounded(backend: Backend, programme: &Programme, control: &Control) -> SolveError {
    if !has_ray(programme, control) {
        return SolveError::NotCertain("it was called unbounded, and no ray was found".to_owned());
    }
    unbounded_if_feasible(backend, programme, control)
}

/// With a ray at hand, any feasible point makes the programme unbounded.
fn unbounded_if_feasible(backend: Backend, programme: &Programme, control: &Control) -> SolveError {
    let mut any_point = programme.clone();
    for column in &mut any_point.columns {
        column.cost = 0.0;
    }
    match attempt(backend, &any_point, control).and_then(|claimed| check::answer(&any_point, claimed)) {
        Ok(_) => SolveError::Unbounded,
        Err(SolveError::Infeasible) if programme.is_mixed() => SolveError::Infeasible,
        Err(SolveError::Infeasible) => infeasible(backend, programme, control),
        Err(SolveError::TimeLimit) => SolveError::TimeLimit,
        Err(_) => SolveError::NotCertain("it has a ray, and no feasible point was found".to_owned()),
    }
}

/// The verdict on a claim of "infeasible".
///
/// Multipliers cannot prove it of a mixed-integer programme, so that claim is
/// passed on, once it is clear that it does not stand for "unbounded or
/// infeasible": good_lp calls that state of HiGHS infeasible.
pub(super) fn infeasible(backend: Backend, programme: &Programme, control: &Control) -> SolveError {
    if programme.is_mixed() {
        return match has_ray(programme, control) {
            true => unbounded_if_feasible(backend, programme, control),
            false => SolveError::Infeasible,
        };
    }
    let elastic = elastic(programme);
    match attempt(Backend::Clarabel, &elastic, control) {
        Err(SolveError::TimeLimit) => SolveError::TimeLimit,
        Err(_) => SolveError::NotCertain("it was called infeasible, and the proof failed".to_owned()),
        Ok(claimed) => match claimed.duals.and_then(|duals| check::dual_bound(&elastic, &duals)) {
            Some(proof) if proof.value > FARKAS * proof.size.max(1.0) => SolveError::Infeasible,
            _ => SolveError::NotCertain("it was called infeasible, and no contradiction was found".to_owned()),
        },
    }
}

/// Least sum of violations: every row may be broken at a price of 1 per unit,
/// rows being scaled to a largest coefficient of 1. A positive lower bound on
/// it contradicts all feasible points.
fn elastic(programme: &Programme) -> Programme {
    let mut elastic = Programme { sense: Sense::Minimise, ..Programme::default() };
    for column in &programme.columns {
        elastic.column(0.0, column.lower, column.upper);
    }
    for row in programme.rows.iter().map(scaled) {
        let mut coefficients = row.coefficients;
        if row.relation != Relation::AtLeast {
            coefficients.push((elastic.column(1.0, 0.0, f64::INFINITY), -1.0));
        }
        if row.relation != Relation::AtMost {
            coefficients.push((elastic.column(1.0, 0.0, f64::INFINITY), 1.0));
        }
        elastic.row(coefficients, row.relation, row.rhs);
    }
    elastic
}

/// Whether some direction keeps all rows and bounds for ever and improves the
/// objective.
fn has_ray(programme: &Programme, control: &Control) -> bool {
    let largest = programme.columns.iter().map(|column| column.cost.abs()).fold(0.0, f64::max);
    if largest == 0.0 {
        return false;
    }
    let directions = recession(programme, largest);
    let Ok(best) =
        attempt(Backend::Clarabel, &directions, control).and_then(|claimed| check::answer(&directions, claimed))
    else {
        return false;
    };
    best.objective < -RAY
}

/// The best direction: rows without right-hand sides, and no move against a
/// bound. Boxed, so it always has an optimum.
fn recession(programme: &Programme, largest_cost: f64) -> Programme {
    let towards = match programme.sense {
        Sense::Minimise => 1.0,
        Sense::Maximise => -1.0,
    };
    let mut directions = Programme { sense: Sense::Minimise, ..Programme::default() };
    for Column { cost, lower, upper, .. } in &programme.columns {
        let down = if *lower > -INFINITE_FROM { 0.0 } else { -1.0 };
        let up = if *upper < INFINITE_FROM { 0.0 } else { 1.0 };
        directions.column(towards * cost / largest_cost, down, up);
    }
    for row in programme.rows.iter().map(scaled) {
        directions.row(row.coefficients, row.relation, 0.0);
    }
    directions
}

/// A row divided by its largest coefficient, so that a violation means the
/// same in all of them.
fn scaled(row: &Row) -> Row {
    let largest = row.coefficients.iter().map(|&(_, a)| a.abs()).fold(0.0, f64::max);
    let by = if largest > 0.0 { largest } else { 1.0 };
    Row {
        coefficients: row.coefficients.iter().map(|&(j, a)| (j, a / by)).collect(),
        relation: row.relation,
        rhs: row.rhs / by,
    }
}
