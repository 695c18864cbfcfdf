//! microlp through good_lp.

use good_lp::solvers::microlp::microlp;
use good_lp::solvers::{SolutionStatus, WithTimeLimit};
use good_lp::{Solution, SolverModel};

use super::{Claimed, SolveError, translate};
use crate::control::Control;
use crate::model::programme::{Column, Programme};

/// Seconds after which a continuous programme is given up. Degenerate ones can
/// send microlp round in circles for ever; three thousand materials take a
/// twentieth of this.
const GOES_IN_CIRCLES: f64 = 5.0;

/// Whole numbers are kept within 32 bits by microlp; a missing bound becomes
/// the last of them.
const INTEGER_RANGE: std::ops::RangeInclusive<f64> = i32::MIN as f64..=i32::MAX as f64;

pub(super) fn solve(programme: &Programme, control: &Control) -> Result<Claimed, SolveError> {
    if programme.columns.iter().any(outside_integer_range) {
        return Err(SolveError::Unsupported("microlp takes whole numbers of at most 32 bits".to_owned()));
    }
    let translated = translate::columns(programme, translate::bounds);
    let mut model = translated.problem.using(microlp);
    for row in &programme.rows {
        model.add_constraint(translate::row(row, &translated.variables));
    }
    let patience = if programme.is_mixed() { f64::INFINITY } else { GOES_IN_CIRCLES };
    let seconds = control.seconds_left().unwrap_or(f64::INFINITY).min(patience);
    if seconds.is_finite() {
        model = model.with_time_limit(seconds);
    }
    // The limit that ends a solve is the deadline's, or else the patience of
    // this adapter.
    let out_of_time = || match control.should_stop() {
        true => SolveError::TimeLimit,
        false => SolveError::Failed(format!("microlp came to no end in {GOES_IN_CIRCLES} seconds")),
    };
    let solution = model.solve().map_err(|error| match translate::error(error) {
        SolveError::TimeLimit => out_of_time(),
        other => other,
    })?;
    match solution.status() {
        SolutionStatus::Optimal => {}
        SolutionStatus::TimeLimit => return Err(out_of_time()),
        // No gap is asked for.
        SolutionStatus::GapLimit => return Err(SolveError::NotCertain("microlp stopped at a gap".to_owned())),
    }
    let x = translate::values(&solution, &translated.variables);
    if programme.columns.iter().zip(&x).any(|(column, &value)| at_invented_bound(column, value)) {
        return Err(SolveError::NotCertain("a whole number without a bound ran to the end of 32 bits".to_owned()));
    }
    Ok(Claimed { x, duals: None })
}

fn outside_integer_range(column: &Column) -> bool {
    let (lower, upper) = translate::bounds(column);
    let outside = |bound: f64| bound.is_finite() && !INTEGER_RANGE.contains(&bound);
    column.integer && (outside(lower) || outside(upper))
}

/// Whether the value stands at a bound that microlp made up.
fn at_invented_bound(column: &Column, value: f64) -> bool {
    let (lower, upper) = translate::bounds(column);
    column.integer
        && (lower == f64::NEG_INFINITY && value <= *INTEGER_RANGE.start()
            || upper == f64::INFINITY && value >= *INTEGER_RANGE.end())
}
