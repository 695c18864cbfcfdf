//! From any doses to a good formula: doses are exchanged between two materials, and
//! materials for others, as long as that helps. What it returns is checked elsewhere,
//! and nothing is proven by what it does not find.

use super::curve::Span;
use super::model::Model;
use super::weighed::{Merit, Weighed};
use crate::tolerance::search::SAME_MERIT;
use crate::units::{Ppt, gcd};

/// Exchanges that one descent may take.
const EXCHANGES: usize = 400;
/// Swaps that are looked into after each round of trials.
const LOOKED_INTO: usize = 4;
/// The finest dose that continuous doses are exchanged in.
const FINEST: Ppt = Ppt::from_units(Ppt::UNITS / 100_000);

/// Exchanges doses between used columns, into and out of columns too where the counts
/// have a place, until nothing helps.
pub(super) fn exchange(model: &Model, weighed: &mut Weighed, rounds: usize) -> Merit {
    let mut merit = weighed.merit();
    for _ in 0..rounds {
        let n = model.columns();
        let mut best: Option<(Merit, [(usize, Ppt); 2])> = None;
        for to in 0..n {
            let is_new = weighed.doses[to].is_zero();
            if model.spans[to].least > model.spans[to].most || is_new && !weighed.has_place_for(to) {
                continue;
            }
            for from in 0..n {
                if from == to || weighed.doses[from].is_zero() {
                    continue;
                }
                let (has, gives) = (weighed.doses[to], weighed.doses[from]);
                for by in amounts(model, (to, has), (from, gives)) {
                    let changes = [(to, has + by), (from, gives - by)];
                    let trial = weighed.trial(&changes);
                    if trial.beats(best.map_or(merit, |(best, _)| best), SAME_MERIT) {
                        best = Some((trial, changes));
                    }
                }
            }
        }
        let Some((better, changes)) = best else { break };
        changes.into_iter().for_each(|(k, dose)| weighed.set(k, dose));
        merit = better;
    }
    merit
}

/// How much may go from one column to another: more and more, what brings the one to
/// its least dose, and all of it.
fn amounts(model: &Model, (to, has): (usize, Ppt), (from, gives): (usize, Ppt)) -> impl Iterator<Item = Ppt> {
    let (into, out) = (model.spans[to], model.spans[from]);
    let (a, b) = (into.step.units(), out.step.units());
    let both = (a / gcd(a, b)).checked_mul(b).map_or(Ppt::WHOLE, Ppt::from_units);
    // Two continuous doses move by something that is seen.
    let unit = if a == 1 && b == 1 { FINEST } else { both };
    let must = model.blend.columns[from].must;
    let fits = move |by: &Ppt| {
        let (more, less) = (has + *by, gives - *by);
        *by > Ppt::ZERO
            && more >= into.least
            && more <= into.most
            && (less >= out.least || less.is_zero() && !must)
            && (more - into.least).units() % into.step.units() == 0
            && (less.is_zero() || (less - out.least).units() % out.step.units() == 0)
    };
    let first = if has.is_zero() { into.least } else { unit };
    let growing = std::iter::successors(Some(unit), |by| Some(Ppt::from_units(by.units() * 3)));
    let growing = growing.take_while(|by| *by <= Ppt::WHOLE).map(move |by| if has.is_zero() { first + by } else { by });
    [first, gives].into_iter().chain(growing).filter(fits)
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
            let span = model.spans[to];
            if span.least > span.most {
                continue;
            }
            // What is left over goes to the largest dose that can take it.
            for dose in doses_for(model, to, from, gives) {
                let rest = gives - dose;
                let takes = |&&k: &&usize| k != from && takes(model.spans[k], weighed.doses[k] + rest);
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
    let exponent = model.views[0].law.exponent();
    let alike = if own > 0.0 { gives.as_f64() * libm::pow(other / own, 1.0 / exponent) } else { 0.0 };
    let mut doses = vec![span.least, span.below(gives.as_f64()), span.below(alike)];
    doses.sort_unstable();
    doses.dedup();
    doses
}

fn takes(span: Span, dose: Ppt) -> bool {
    dose >= span.least && dose <= span.most && (dose - span.least).units() % span.step.units() == 0
}
