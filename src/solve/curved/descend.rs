//! From any doses to a good formula: doses are exchanged between two materials, and
//! materials for others, as long as that helps. What it returns is checked elsewhere,
//! and nothing is proven by what it does not find.

use super::curve::dose_of;
use super::model::Model;
use super::weighed::{Merit, Weighed};
use crate::brief::Law;
use crate::tolerance::search::SAME_MERIT;
use crate::units::{Ppt, gcd};

/// Exchanges that one descent may take.
const EXCHANGES: usize = 400;
/// Swaps that are looked into after each round of trials.
const LOOKED_INTO: usize = 4;
/// The finest dose that continuous doses are exchanged in, in units of a dose.
const FINEST: i64 = Ppt::UNITS / 100_000;

/// Exchanges doses between used columns, into and out of columns too where the counts
/// have a place, until nothing helps.
pub(super) fn exchange(model: &Model, weighed: &mut Weighed, rounds: usize) -> Merit {
    let mut merit = weighed.merit();
    let n = model.columns();
    for _ in 0..rounds {
        let mut best: Option<(Merit, [(usize, Ppt); 2])> = None;
        let open: Vec<usize> = (0..n)
            .filter(|&k| !weighed.doses[k].is_zero() || model.can_be_used(k) && weighed.has_place_for(k))
            .collect();
        for from in (0..n).filter(|&k| !weighed.doses[k].is_zero()).collect::<Vec<usize>>() {
            let gives = weighed.doses[from];
            for by in amounts(model, from, gives) {
                let left = gives - by;
                if !left.is_zero() && !model.spans[from].holds(left) || left.is_zero() && model.blend.columns[from].must
                {
                    continue;
                }
                weighed.set(from, left);
                for &to in open.iter().filter(|&&to| to != from) {
                    let has = weighed.doses[to];
                    if !model.spans[to].holds(has + by) {
                        continue;
                    }
                    weighed.set(to, has + by);
                    let trial = weighed.merit();
                    weighed.set(to, has);
                    if trial.beats(best.map_or(merit, |(best, _)| best), SAME_MERIT) {
                        best = Some((trial, [(to, has + by), (from, left)]));
                    }
                }
                weighed.set(from, gives);
            }
        }
        let Some((better, changes)) = best else { break };
        changes.into_iter().for_each(|(k, dose)| weighed.set(k, dose));
        merit = better;
    }
    merit
}

/// How much may go from one column to another: all of it, and more and more of each step
/// that columns have.
fn amounts(model: &Model, from: usize, gives: Ppt) -> impl Iterator<Item = Ppt> {
    let own = model.spans[from].step.units();
    let unit = move |&step: &i64| {
        let both = (own / gcd(own, step)).checked_mul(step).filter(|both| *both <= Ppt::WHOLE.units())?;
        // Two continuous doses move by something that is seen.
        Some(if both == 1 { FINEST } else { both })
    };
    let growing = move |unit: i64| {
        std::iter::successors(Some(unit), |by| by.checked_mul(3)).take_while(move |by| *by < gives.units())
    };
    model.steps.iter().filter_map(unit).flat_map(growing).chain([gives.units()]).map(Ppt::from_units)
}

/// Exchanges doses and then materials until neither helps.
pub(super) fn descend(model: &Model, weighed: &mut Weighed) -> Merit {
    let mut merit = exchange(model, weighed, EXCHANGES);
    loop {
        let Some((better, found)) = best_swap(model, weighed, merit) else { return merit };
        *weighed = found;
        merit = better;
    }
}

/// The best formula that has one material in the place of another.
fn best_swap<'m, 'a>(model: &Model, weighed: &mut Weighed<'m, 'a>, merit: Merit) -> Option<(Merit, Weighed<'m, 'a>)> {
    let n = model.columns();
    let (used, free): (Vec<usize>, Vec<usize>) = (0..n).partition(|&k| !weighed.doses[k].is_zero());
    let mut swaps: Vec<(Merit, [(usize, Ppt); 3])> = Vec::new();
    for &from in used.iter().filter(|&&k| !model.blend.columns[k].must) {
        let gives = weighed.doses[from];
        for &to in &free {
            if !model.can_be_used(to) {
                continue;
            }
            // What is left over goes to the largest dose that can take it.
            for dose in doses_for(model, to, from, gives) {
                let rest = gives - dose;
                let takes = |&&k: &&usize| k != from && model.spans[k].holds(weighed.doses[k] + rest);
                let changes = match used.iter().filter(takes).max_by_key(|&&k| weighed.doses[k]) {
                    _ if rest.is_zero() => [(from, Ppt::ZERO), (to, dose), (to, dose)],
                    Some(&k) => [(from, Ppt::ZERO), (to, dose), (k, weighed.doses[k] + rest)],
                    None => continue,
                };
                swaps.push((weighed.trial(&changes), changes));
            }
        }
    }
    let order = |merit: &Merit| (merit.broken, merit.loss);
    swaps.sort_by(|(a, _), (b, _)| order(a).0.total_cmp(&order(b).0).then(a.loss.total_cmp(&b.loss)));
    let mut best = None;
    for (_, changes) in swaps.into_iter().take(LOOKED_INTO) {
        let mut other = weighed.clone();
        changes.into_iter().for_each(|(k, dose)| other.set(k, dose));
        let reached = exchange(model, &mut other, EXCHANGES / 4);
        if reached.beats(best.as_ref().map_or(merit, |(best, _)| *best), SAME_MERIT) {
            best = Some((reached, other.fresh()));
        }
    }
    best
}

/// Doses at which one material may stand for another: its least one, the same, and
/// the one that smells as strong in the first view.
fn doses_for(model: &Model, to: usize, from: usize, gives: Ppt) -> Vec<Ppt> {
    let columns = &model.views[0].columns;
    let (own, other) = (columns[to].weight, columns[from].weight);
    let span = model.spans[to];
    let ratio = if own > 0.0 { other / own } else { 0.0 };
    let alike = gives.as_f64() * if model.views[0].law == Law::Compressive { dose_of(ratio) } else { ratio };
    let mut doses = vec![span.least, span.below(gives.as_f64()), span.below(alike)];
    doses.sort_unstable();
    doses.dedup();
    doses
}
