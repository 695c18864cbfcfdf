//! HiGHS through good_lp (feature `highs`).

use good_lp::solvers::highs::highs;
use good_lp::solvers::{SolutionStatus, WithTimeLimit};
use good_lp::{DualValues, Solution, SolutionWithDual, SolverModel};

use super::{Claimed, SolveError, translate};
use crate::control::Control;
use crate::model::programme::Programme;
use crate::tolerance::borrowed::HIGHS;

pub(super) fn solve(programme: &Programme, control: &Control) -> Result<Claimed, SolveError> {
    let translated = translate::columns(programme, translate::bounds);
    let mut model = translated
        .problem
        .using(highs)
        // The scheduler of HiGHS belongs to the process and keeps the number
        // of threads of its first solve.
        .set_threads(1)
        .set_option("primal_feasibility_tolerance", HIGHS)
        .set_option("dual_feasibility_tolerance", HIGHS)
        .set_option("mip_feasibility_tolerance", HIGHS)
        .set_option("mip_rel_gap", 0.0)
        .set_option("mip_abs_gap", HIGHS);
    let rows: Vec<_> =
        programme.rows.iter().map(|row| model.add_constraint(translate::row(row, &translated.variables))).collect();
    if let Some(seconds) = control.seconds_left() {
        model = model.with_time_limit(seconds);
    }
    let mut solution = model.solve().map_err(|error| match translate::error(error) {
        // A limit that left no point behind looks like any other failure.
        SolveError::Failed(_) if control.should_stop() => SolveError::TimeLimit,
        other => other,
    })?;
    match solution.status() {
        // "Gap limit" is said of any gap above 0; the gap asked for is 1e-9.
        SolutionStatus::Optimal | SolutionStatus::GapLimit => {}
        SolutionStatus::TimeLimit => return Err(SolveError::TimeLimit),
    }
    let x = translate::values(&solution, &translated.variables);
    let duals = (!programme.is_mixed()).then(|| {
        let multipliers = solution.compute_dual();
        rows.into_iter().map(|row| multipliers.dual(row)).collect()
    });
    Ok(Claimed { x, duals })
}
