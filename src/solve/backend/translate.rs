//! From a programme in plain data to the terms of good_lp.

use good_lp::variable::UnsolvedProblem;
use good_lp::{Constraint, Expression, ProblemVariables, ResolutionError, Solution, Variable, variable};

use super::{INFINITE_FROM, SolveError};
use crate::model::programme::{Column, Programme, Relation, Row, Sense};

/// The variables and the objective of a programme, ready for a solver.
pub(super) struct Translated {
    /// One variable a column, in order.
    pub variables: Vec<Variable>,
    /// The problem without its rows.
    pub problem: UnsolvedProblem,
}

/// Translates the columns; `bounds` says which bounds the variable is given.
pub(super) fn columns(programme: &Programme, bounds: impl Fn(&Column) -> (f64, f64)) -> Translated {
    let mut pool = ProblemVariables::new();
    let mut objective = Expression::with_capacity(programme.columns.len());
    let mut variables = Vec::with_capacity(programme.columns.len());
    for column in &programme.columns {
        let (lower, upper) = bounds(column);
        let definition = variable().min(lower).max(upper);
        let variable = pool.add(if column.integer { definition.integer() } else { definition });
        if column.cost != 0.0 {
            objective.add_mul(column.cost, variable);
        }
        variables.push(variable);
    }
    let problem = match programme.sense {
        Sense::Minimise => pool.minimise(objective),
        Sense::Maximise => pool.maximise(objective),
    };
    Translated { variables, problem }
}

/// The bounds of a column, with those beyond [`INFINITE_FROM`] taken off.
pub(super) fn bounds(column: &Column) -> (f64, f64) {
    let lower = if column.lower <= -INFINITE_FROM { f64::NEG_INFINITY } else { column.lower };
    let upper = if column.upper >= INFINITE_FROM { f64::INFINITY } else { column.upper };
    (lower, upper)
}

/// Translates one row.
pub(super) fn row(row: &Row, variables: &[Variable]) -> Constraint {
    let mut sum = Expression::with_capacity(row.coefficients.len());
    for &(column, coefficient) in row.coefficients.iter().filter(|(_, coefficient)| *coefficient != 0.0) {
        sum.add_mul(coefficient, variables[column]);
    }
    match row.relation {
        Relation::AtMost => sum.leq(row.rhs),
        // `geq` remembers the direction, so that multipliers come back with
        // the sign of the row as it was written.
        Relation::AtLeast => sum.geq(row.rhs),
        Relation::Equal => sum.eq(row.rhs),
    }
}

/// The value of every column in a solution.
pub(super) fn values(solution: &impl Solution, variables: &[Variable]) -> Vec<f64> {
    variables.iter().map(|&variable| solution.value(variable)).collect()
}

/// An error of good_lp in the words of this module. Its time limits are plain
/// texts, the only sign of them there is.
pub(super) fn error(error: ResolutionError) -> SolveError {
    let text = match error {
        ResolutionError::Infeasible => return SolveError::Infeasible,
        ResolutionError::Unbounded => return SolveError::Unbounded,
        ResolutionError::Other(text) => text.to_owned(),
        ResolutionError::Str(text) => text,
    };
    if text.starts_with("Time limit reached") { SolveError::TimeLimit } else { SolveError::Failed(text) }
}
