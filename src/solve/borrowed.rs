//! Proposals by borrowed solvers: one linear programme for continuous doses,
//! Dinkelbach's method on mixed-integer programmes otherwise. What they claim
//! is verified, and what they do not prove is proven by the search's own
//! multipliers where it can be.

use super::backend::{self, Backend, SolveError};
use super::ratio::{self, Ratio, RatioError};
use super::search;
use super::verify::Verifier;
use super::{Answer, Failure, Solution, Status};
use crate::control::Control;
use crate::model::programme::Relation;
use crate::model::{Blend, DoseProgramme};
use crate::tolerance::doses::BORROWED;
use crate::tolerance::loss::{CHEAPER_BORROWED, TIE};
use crate::units::Ppt;

/// The best continuous formula, by Charnes and Cooper's linear programme, and
/// the cheapest among those that tie with it. `Ok(None)` where the solver
/// failed.
pub fn continuous(
    blend: &Blend,
    backend: Backend,
    verifier: &Verifier,
    control: &Control,
) -> Result<Option<Solution>, Failure> {
    of_one_view(blend, backend)?;
    by_rungs(blend, control, &|part| continuous_rows(part, backend, verifier, control))
}

/// What a solver of linear rows comes to where there may be a ladder: the best of
/// its rungs. `Ok(None)` where it failed on one.
fn by_rungs(
    blend: &Blend,
    control: &Control,
    solve: &dyn Fn(&Blend) -> Result<Option<Solution>, Failure>,
) -> Result<Option<Solution>, Failure> {
    let Some(ladder) = &blend.ladder else { return solve(blend) };
    let mut leaf = |rung: search::Rung<'_>| {
        let solution = solve(rung.blend).map_err(Some)?.ok_or(None)?;
        let found = solution.answer.map(|answer| (answer.evaluation.loss, answer));
        let bound =
            if solution.status == Status::Infeasible { f64::INFINITY } else { solution.bound.unwrap_or(rung.bound) };
        Ok::<_, Option<Failure>>(search::Leaf { bound, found, nodes: 0, iterations: 0 })
    };
    match search::over_rungs(blend, ladder, None, false, control, &mut leaf) {
        Ok(union) => Ok(Some(Solution::from_parts(union.found.map(|(_, answer)| answer), union.bound))),
        Err(Some(failure)) => Err(failure),
        Err(None) => Ok(None),
    }
}

/// The greatest of several ratios is no programme that these methods make.
fn of_one_view(blend: &Blend, backend: Backend) -> Result<(), Failure> {
    if blend.views.is_empty() {
        return Ok(());
    }
    let name = backend.name();
    Err(Failure::Unsupported(format!("{name} takes one view of a formula, and the brief has several")))
}

fn continuous_rows(
    blend: &Blend,
    backend: Backend,
    verifier: &Verifier,
    control: &Control,
) -> Result<Option<Solution>, Failure> {
    let root = search::root_bound(blend, control);
    if root.bound.is_infinite() {
        return Ok(Some(Solution::infeasible()));
    }
    let model = DoseProgramme::new(blend, root.d_ref);
    let objective = ratio(&model);
    let best = match ratio::charnes_cooper(backend, &model.programme, &objective, control) {
        Ok(best) => best,
        Err(error) => return no_answer(error),
    };
    let Some(doses) = to_grid(blend, &model.ppt(&best.x)) else { return Ok(None) };
    let Ok(first) = verifier.answer(&doses) else { return Ok(None) };
    let cheapest = cheapest_tie(blend, backend, &model, &objective, &first, verifier, control);
    Ok(Some(Solution::from_parts(Some(cheapest.unwrap_or(first)), root.bound)))
}

/// Among the formulas that tie with the best one, the cheapest; `None` where
/// a usable material has no price or nothing cheaper is found.
fn cheapest_tie(
    blend: &Blend,
    backend: Backend,
    model: &DoseProgramme,
    objective: &Ratio,
    best: &Answer,
    verifier: &Verifier,
    control: &Control,
) -> Option<Answer> {
    let mut programme = model.programme.clone();
    for (column, &(dose, unit)) in blend.columns.iter().zip(&model.doses) {
        programme.columns[dose].cost = column.price? * unit;
    }
    let (loss, price) = (best.evaluation.loss, best.evaluation.price_per_kg?);
    // N - limit D <= 0, a little inside the tie so that rounding stays in it.
    let limit = loss + 0.9 * TIE * loss.max(1.0);
    let coefficients = objective.numerator.iter().zip(&objective.denominator).enumerate();
    let coefficients = coefficients.map(|(j, (n, d))| (j, n - limit * d)).filter(|(_, a)| *a != 0.0);
    programme.row(coefficients.collect(), Relation::AtMost, 0.0);
    let solution = backend::solve(backend, &programme, control).ok()?;
    let answer = verifier.answer(&to_grid(blend, &model.ppt(&solution.x))?).ok()?;
    let tied = answer.evaluation.loss <= loss + TIE * loss.max(1.0);
    let cheaper = answer.evaluation.price_per_kg.is_some_and(|cheaper| cheaper < price * (1.0 - CHEAPER_BORROWED));
    (tied && cheaper).then_some(answer)
}

/// The best whole-part formula by Dinkelbach's method on mixed-integer
/// programmes. The search's multipliers bound the continuous optimum; the
/// solver's own proof of optimality is not repeated, so the answer counts as
/// `feasible` unless it meets that bound.
pub fn whole(blend: &Blend, backend: Backend, verifier: &Verifier, control: &Control) -> Result<Solution, Failure> {
    of_one_view(blend, backend)?;
    if !backend.takes_integers() {
        return Err(Failure::Unsupported(format!(
            "{} takes no whole numbers: the brief has counts, steps or least doses",
            backend.name()
        )));
    }
    let solution = by_rungs(blend, control, &|part| whole_rows(part, backend, verifier, control).map(Some))?;
    Ok(solution.unwrap_or_else(Solution::unknown))
}

fn whole_rows(blend: &Blend, backend: Backend, verifier: &Verifier, control: &Control) -> Result<Solution, Failure> {
    let root = search::root_bound(&blend.relaxed(), control);
    if root.bound.is_infinite() {
        return Ok(Solution::infeasible());
    }
    let model = DoseProgramme::new(blend, root.d_ref);
    let run = match ratio::dinkelbach(backend, &model.programme, &ratio(&model), None, control) {
        Ok(run) => run,
        Err(error) => return no_answer(error).map(|solution| solution.unwrap_or_else(Solution::unknown)),
    };
    let answer = to_grid(blend, &model.ppt(&run.x)).and_then(|doses| verifier.answer(&doses).ok());
    Ok(Solution::from_parts(answer, root.bound))
}

pub(super) fn ratio(model: &DoseProgramme) -> Ratio {
    Ratio {
        numerator: model.numerator.clone(),
        numerator_constant: 0.0,
        denominator: model.denominator.clone(),
        denominator_constant: 0.0,
    }
}

fn no_answer(error: RatioError) -> Result<Option<Solution>, Failure> {
    match error {
        RatioError::Solve(SolveError::Unsupported(what)) => Err(Failure::Unsupported(what)),
        // Not repeated in arithmetic of our own, so no proof: the caller may
        // ask the search.
        _ => Ok(None),
    }
}

/// A solver's doses on their grids with a sum of exactly 1000: nearest step,
/// traces dropped, and the largest continuous dose with room takes up what
/// rounding leaves. `None` where none has.
pub(super) fn to_grid(blend: &Blend, ppt: &[f64]) -> Option<Vec<Ppt>> {
    let mut doses: Vec<Ppt> = Vec::with_capacity(ppt.len());
    for (column, &ppt) in blend.columns.iter().zip(ppt) {
        let half = Ppt::from_units(column.step.units() / 2);
        let nearest = (Ppt::from_ppt(ppt) + half).floor_to(column.step);
        let kept = nearest >= column.least.min(Ppt::LEAST) && ppt > BORROWED;
        doses.push(if column.must || kept { nearest.max(column.least).min(column.most) } else { Ppt::ZERO });
    }
    let rest = Ppt::WHOLE - doses.iter().copied().sum();
    if !rest.is_zero() {
        let takes = |k: &usize| {
            let (column, new) = (&blend.columns[*k], doses[*k] + rest);
            column.step.is_zero() && !doses[*k].is_zero() && new >= column.least && new <= column.most
        };
        let k = (0..doses.len()).filter(takes).max_by_key(|&k| doses[k])?;
        doses[k] = doses[k] + rest;
    }
    Some(doses)
}
