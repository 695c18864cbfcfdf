//! Formulas on the way from a known one to the best: the nearest to it inside
//! the rules, and those that give so much match away and are the nearest that do.

use super::starts::{Asked, Starts};
use crate::control::Control;
use crate::problem::{Problem, Skeleton};
use crate::solve::nearer::{Nearer, nearer};
use crate::solve::{Failure, Solution};

/// The best formula first, then those that are ever nearer to the skeleton, each
/// with the match that it may give away and what is known of it. Steps of the
/// match are equal; where two lead to one formula there are fewer.
///
/// # Errors
/// Where a result failed its check.
pub fn from_known(
    problem: &Problem,
    skeleton: &Skeleton,
    asked: Asked,
    best: Solution,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Starts, Failure> {
    let none =
        |best| Starts { best, ceiling: 0.0, chosen: Vec::new(), candidates: 0, is_complete: true, nearest: Vec::new() };
    let Some(answer) = best.answer.clone() else { return Ok(none(best)) };
    let fidelity = answer.evaluation.fidelity_percent;
    let (mut chosen, mut nearest): (Vec<_>, Vec<Option<(f64, Nearer)>>) = (vec![answer.clone()], vec![None]);
    let steps = asked.count.saturating_sub(1);
    let mut is_complete = true;
    // How much match the nearest of all gives away.
    let end = match steps {
        0 => None,
        _ => nearer(problem, skeleton, fidelity, &answer, &control.with_share(1.0 / steps as f64))?,
    };
    let most = end.as_ref().map_or(0.0, |end| fidelity - end.answer.evaluation.fidelity_percent);
    for step in 1..=steps {
        let give = most * step as f64 / steps as f64;
        let found = match &end {
            Some(end) if step == steps => Some(end.clone()),
            Some(_) => nearer(problem, skeleton, give, &answer, &control.with_share(1.0 / (steps - step + 1) as f64))?,
            None => None,
        };
        done(step, steps);
        let Some(found) = found else {
            is_complete = false;
            continue;
        };
        is_complete &= found.is_proven();
        if chosen.iter().all(|other| other.formula.parts != found.answer.formula.parts) {
            chosen.push(found.answer.clone());
            nearest.push(Some((give, found)));
        }
    }
    let ceiling = chosen.iter().map(|answer| answer.evaluation.loss).fold(0.0, f64::max);
    Ok(Starts { best, ceiling, candidates: chosen.len(), chosen, is_complete, nearest })
}
