//! One of many continuous problems that differ in a number: the programme of
//! the search, without the second opinion of a borrowed solver and without the
//! choice of the cheapest among equals. For curves of a hundred points.

use super::borrowed::to_grid;
use super::verify::Verifier;
use super::{Failure, Method, Solution, Status, propose, search};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;

/// The best blend of a continuous problem (see [`Problem::relaxed`]), verified
/// and proven like any other. What this way does not prove, [`propose`] is
/// asked for.
///
/// # Errors
/// As [`propose`].
pub fn best(relaxed: &Problem, control: &Control) -> Result<Solution, Failure> {
    match quick(relaxed) {
        Some(solution) => Ok(solution),
        None => propose(relaxed, Method::Auto, control),
    }
}

fn quick(relaxed: &Problem) -> Option<Solution> {
    let blend = Blend::new(relaxed);
    if !blend.is_continuous() || blend.contradiction.is_some() {
        return None;
    }
    let level = search::level(&blend, relaxed.worst_loss())?;
    if level.bound.is_infinite() {
        return Some(Solution::infeasible());
    }
    let doses = to_grid(&blend, &level.ppt)?;
    let answer = Verifier::new(relaxed, &blend).answer(&doses).ok()?;
    Some(Solution::from_parts(Some(answer), level.bound)).filter(|solution| solution.status == Status::Optimal)
}
