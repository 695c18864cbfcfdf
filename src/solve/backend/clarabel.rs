//! Clarabel through good_lp.
//!
//! good_lp says "optimal" for whatever Clarabel returns short of an error: for
//! a solution that is only almost one, and for the ray of an unbounded
//! programme. The answer is therefore good for nothing until it has passed the
//! checks of the parent module.

use good_lp::solvers::clarabel::clarabel;
use good_lp::{DualValues, SolutionWithDual, SolverModel, constraint};

use super::{Claimed, SolveError, translate};
use crate::control::Control;
use crate::model::programme::{Column, Programme};
use crate::tolerance::borrowed::CLARABEL;

/// Iterations are few whatever the size; more than this means no progress.
const MAX_ITERATIONS: u32 = 200;

pub(super) fn solve(programme: &Programme, control: &Control) -> Result<Claimed, SolveError> {
    if programme.is_mixed() {
        return Err(SolveError::Unsupported("Clarabel has no whole numbers".to_owned()));
    }
    // A fixed column as two inequalities has no interior, which an interior
    // point method dislikes; as an equation it is no trouble.
    let bounds = |column: &Column| match is_fixed(column) {
        true => (f64::NEG_INFINITY, f64::INFINITY),
        false => translate::bounds(column),
    };
    let translated = translate::columns(programme, bounds);
    let mut model = translated.problem.using(clarabel);
    model
        .settings()
        .tol_feas(CLARABEL)
        .tol_gap_abs(CLARABEL)
        .tol_gap_rel(CLARABEL)
        .max_iter(MAX_ITERATIONS)
        .time_limit(control.seconds_left().unwrap_or(f64::INFINITY));
    for (column, &variable) in programme.columns.iter().zip(&translated.variables) {
        if is_fixed(column) {
            model.add_constraint(constraint!(variable == column.lower));
        }
    }
    let rows: Vec<_> =
        programme.rows.iter().map(|row| model.add_constraint(translate::row(row, &translated.variables))).collect();
    let mut solution = model.solve().map_err(translate::error)?;
    let x = translate::values(&solution, &translated.variables);
    let multipliers = solution.compute_dual();
    let duals = rows.into_iter().map(|row| multipliers.dual(row)).collect();
    Ok(Claimed { x, duals: Some(duals) })
}

fn is_fixed(column: &Column) -> bool {
    column.lower == column.upper
}
