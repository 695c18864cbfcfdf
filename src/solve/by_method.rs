//! Which method answers a blend: one linear programme where that is enough, the exact search,
//! the tree of the compressive law, or a borrowed solver; and who answers where one fails.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use super::backend::Backend;
use super::search::{self, Aim, Found, Known};
use super::second_opinion::{self, Opinion};
use super::verify::Verifier;
use super::{Failure, Method, Solution, Start, Status, Watcher, borrowed, curved, direct, quiet};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::units::Ppt;

/// The best formula of a blend by a method.
pub(super) fn nearest_of(
    blend: &Blend,
    verifier: &Verifier,
    start: &Start,
    method: Method,
    control: &Control,
    found: Watcher<'_>,
) -> Result<Solution, Failure> {
    match method {
        Method::Auto if blend.is_continuous() => match continuous(blend, verifier, control)? {
            Some(solution) => Ok(solution),
            None => by_search(blend, verifier, start, control, found)
                .or_else(|failure| or_else(failure, borrowed::continuous(blend, Backend::Microlp, verifier, control))),
        },
        Method::Auto => by_search(blend, verifier, start, control, found).or_else(|failure| {
            let control = control.clone().within(PATIENCE);
            or_else(failure, borrowed::whole(blend, Backend::Microlp, verifier, &control).map(Some))
        }),
        Method::Search => by_search(blend, verifier, start, control, found),
        Method::Borrowed(backend) if blend.is_continuous() => {
            let solution = borrowed::continuous(blend, backend, verifier, control)?;
            Ok(solution.unwrap_or_else(Solution::unknown))
        }
        Method::Borrowed(backend) => borrowed::whole(blend, backend, verifier, control),
    }
}

/// The best formula of a continuous blend, by the programme of the search; where that does
/// not prove it, by a borrowed solver. `None` where neither does.
///
/// On a share of all blends, which only the blend itself decides, the borrowed solver is
/// asked all the same: what one of them finds the other's proof must not exclude.
fn continuous(blend: &Blend, verifier: &Verifier, control: &Control) -> Result<Option<Solution>, Failure> {
    let own = direct::of_blend(blend, verifier, control);
    let is_proven = own.is_some();
    if !blend.views.is_empty() || is_proven && !second_opinion::is_due(blend) {
        return Ok(own);
    }
    let borrowed = match borrowed::continuous(blend, Backend::Microlp, verifier, control) {
        Ok(Some(solution)) if matches!(solution.status, Status::Optimal | Status::Infeasible) => solution,
        // A borrowed solver that fails says nothing.
        _ => return Ok(own),
    };
    match own {
        Some(own) => {
            second_opinion::agrees(Opinion::of(&own), Opinion::of(&borrowed))?;
            Ok(Some(own))
        }
        None => Ok(Some(borrowed)),
    }
}

/// How long a borrowed solver may take over whole parts where the search
/// failed.
const PATIENCE: Duration = Duration::from_secs(30);

/// What another path has to say where the search failed; its failure where
/// that says nothing.
fn or_else(failure: Failure, other: Result<Option<Solution>, Failure>) -> Result<Solution, Failure> {
    match other {
        Ok(Some(solution)) if solution.status != Status::Unknown => Ok(solution),
        _ => Err(failure),
    }
}

/// The best formula where a view follows the compressive law.
pub(super) fn by_curved(
    problem: &Problem,
    blend: &Blend,
    verifier: &Verifier,
    start: &Start,
    method: Method,
    control: &Control,
    found: Watcher<'_>,
) -> Result<Solution, Failure> {
    if let Method::Borrowed(backend) = method {
        let why = format!("{} solves linear programmes, and the compressive law makes none", backend.name());
        return Err(Failure::Unsupported(why));
    }
    if blend.ladder.is_some() {
        let by = problem.laws_in_words();
        let why = format!("[formula] max_idle rests on the linear law alone, and the brief is judged by {by}");
        return Err(Failure::Unsupported(why));
    }
    let judge = watching(verifier, found);
    let known = known(blend, start);
    let outcome = quiet::catch(|| curved::curved(problem, blend, &judge, verifier.tolerance(), &known, control))
        .map_err(Failure::Internal)?
        .map_err(Failure::Unsupported)?;
    told(verifier, outcome)
}

fn by_search(
    blend: &Blend,
    verifier: &Verifier,
    start: &Start,
    control: &Control,
    found: Watcher<'_>,
) -> Result<Solution, Failure> {
    let known = known(blend, start);
    let judge = watching(verifier, found);
    let outcome =
        search::search(blend, &judge, verifier.tolerance(), Aim::Best, &known, control).map_err(Failure::Internal)?;
    told(verifier, outcome)
}

/// What is known of a blend's formulas.
fn known(blend: &Blend, start: &Start) -> Known {
    Known {
        formulas: start.formulas.iter().filter_map(|formula| blend.column_doses(formula)).collect(),
        bound: start.bound,
        ceiling: start.ceiling,
    }
}

/// The judge of a search that shows a watcher each formula that is nearer than those
/// before it.
fn watching<'v>(
    verifier: &'v Verifier<'v>,
    found: Watcher<'v>,
) -> impl Fn(&[Ppt]) -> Option<search::Judged> + Sync + 'v {
    let nearest = Mutex::new(f64::INFINITY);
    move |doses: &[Ppt]| {
        let judged = verifier.judge(doses)?;
        if let Some(found) = found {
            let mut nearest = nearest.lock().unwrap_or_else(PoisonError::into_inner);
            if judged.loss < *nearest
                && let Ok(answer) = verifier.answer(doses)
            {
                *nearest = judged.loss;
                found(answer);
            }
        }
        Some(judged)
    }
}

/// What a search came to as a solution, its formula verified once more.
fn told(verifier: &Verifier, outcome: search::Outcome) -> Result<Solution, Failure> {
    let answer = match outcome.found {
        Some(Found { doses, .. }) => Some(verifier.answer(&doses)?),
        None => None,
    };
    let solution = Solution::from_parts(answer, outcome.bound);
    Ok(Solution { nodes: outcome.nodes, iterations: outcome.iterations, ..solution })
}
