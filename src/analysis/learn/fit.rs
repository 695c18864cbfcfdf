//! The values that explain the trials best and stay near the palette's own.

use nalgebra::DMatrix;

use super::model::{Evidence, Prediction, predict};
use super::system::System;
use super::unknowns::Unknowns;
use crate::brief::Match;
use crate::palette::Palette;
use crate::tolerance::fits::{REST, REST_OF_LASTING};

/// An estimate.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The unknowns: points, and logarithms of strengths and tenacities.
    pub values: Vec<f64>,
    /// Half the sum of squares that was made small.
    pub cost: f64,
    /// Whether a value is free to move: those at an end of the scale that
    /// press against it are not.
    pub free: Vec<bool>,
    /// Rounds that it took.
    pub rounds: usize,
    /// Whether it came to rest.
    pub settled: bool,
}

/// Rounds at most; a handful is usual.
const ROUNDS: usize = 200;
/// A step has to bring at least this part of what its slope promises.
const ARMIJO: f64 = 1e-4;
/// The first damping after a step that was too long, and the greatest.
const DAMPING: f64 = 1e-3;
const MOST_DAMPING: f64 = 1e12;
/// Times its own length that a step is stretched to at most.
const MOST_STRETCH: f64 = 64.0;

/// Fits the unknowns to the trials.
pub fn fit(palette: &Palette, evidence: &[Evidence], unknowns: &Unknowns, matching: Match, exponent: f64) -> Fit {
    fit_from(palette, evidence, unknowns, matching, exponent, &unknowns.prior)
}

/// The same from values that are near the estimate already.
pub(super) fn fit_from(
    palette: &Palette,
    evidence: &[Evidence],
    unknowns: &Unknowns,
    matching: Match,
    exponent: f64,
    start: &[f64],
) -> Fit {
    let look = |values: &[f64]| predictions(palette, evidence, unknowns, matching, exponent, values);
    let mut values = start.to_vec();
    let mut predicted = look(&values);
    let mut cost = cost_of(evidence, unknowns, &predicted, &values);
    let mut damping = 0.0;
    let (mut rounds, mut settled) = (0, unknowns.is_empty());
    let mut free = vec![true; values.len()];
    let rest = if unknowns.has_lasting() { REST_OF_LASTING } else { REST };
    while rounds < ROUNDS && !settled {
        rounds += 1;
        let gradient = gradient(evidence, unknowns, &predicted, &values);
        free = free_of(unknowns, &values, &gradient);
        loop {
            let right = DMatrix::from_fn(values.len(), 1, |at, _| if free[at] { -gradient[at] } else { 0.0 });
            let step = System::new(evidence, &predicted, unknowns, &free, damping).map(|system| system.solve(&right));
            let moved: Option<Vec<f64>> = step
                .map(|step| (0..values.len()).map(|at| bounded(unknowns, at, values[at] + step[(at, 0)])).collect());
            if let Some(moved) = moved {
                let change = |at: usize| moved[at] - values[at];
                let promised: f64 = (0..values.len()).map(|at| gradient[at] * change(at)).sum();
                let farthest =
                    (0..values.len()).map(|at| change(at).abs() / unknowns.deviations[at]).fold(0.0, f64::max);
                let then = look(&moved);
                let cost_then = cost_of(evidence, unknowns, &then, &moved);
                settled = farthest <= rest;
                // At rest rounding alone may make the cost rise.
                if cost_then <= cost + ARMIJO * promised || (settled && cost_then <= cost) {
                    let from = std::mem::replace(&mut values, moved);
                    (predicted, cost) = (then, cost_then);
                    if unknowns.has_lasting() {
                        // What is left hangs on tenacities so little in proportion that steps
                        // are all too short in the end, one after the other alike.
                        farther(unknowns, &from, &mut values, &mut |further| {
                            let there = look(further);
                            let cost_there = cost_of(evidence, unknowns, &there, further);
                            let is_better = cost_there < cost;
                            if is_better {
                                (predicted, cost) = (there, cost_there);
                            }
                            is_better
                        });
                    }
                    damping = if damping > DAMPING { damping / 10.0 } else { 0.0 };
                    break;
                }
            }
            if settled || damping >= MOST_DAMPING {
                settled = true;
                break;
            }
            damping = (damping * 4.0).max(DAMPING);
        }
    }
    Fit { values, cost, free, rounds, settled }
}

/// Goes on from a step in its direction, twice as far each time, as long as that helps.
fn farther(unknowns: &Unknowns, from: &[f64], values: &mut Vec<f64>, helps: &mut dyn FnMut(&[f64]) -> bool) {
    let step: Vec<f64> = values.iter().zip(from).map(|(to, from)| to - from).collect();
    let mut times = 2.0;
    while times <= MOST_STRETCH {
        let further: Vec<f64> = (0..step.len()).map(|at| bounded(unknowns, at, from[at] + times * step[at])).collect();
        if !helps(&further) {
            return;
        }
        *values = further;
        times *= 2.0;
    }
}

/// What every trial should have been like.
pub(super) fn predictions(
    palette: &Palette,
    evidence: &[Evidence],
    unknowns: &Unknowns,
    matching: Match,
    exponent: f64,
    values: &[f64],
) -> Vec<Prediction> {
    evidence.iter().map(|one| predict(palette, one, unknowns, matching, exponent, values)).collect()
}

/// A value within the scale, where it is a score.
pub(super) fn bounded(unknowns: &Unknowns, at: usize, value: f64) -> f64 {
    if at < unknowns.score_count() { value.clamp(0.0, unknowns.scale) } else { value }
}

fn cost_of(evidence: &[Evidence], unknowns: &Unknowns, predicted: &[Prediction], values: &[f64]) -> f64 {
    let squares = |one: &Evidence, prediction: &Prediction| -> f64 {
        one.residuals(prediction).into_iter().map(|residual| residual * residual).sum()
    };
    let of_trials: f64 = evidence.iter().zip(predicted).map(|(one, prediction)| squares(one, prediction)).sum();
    let of_prior: f64 = (0..values.len()).map(|at| away(unknowns, values, at).powi(2)).sum();
    0.5 * (of_trials + of_prior)
}

/// How far a value is from the palette's own, in its deviations.
fn away(unknowns: &Unknowns, values: &[f64], at: usize) -> f64 {
    (values[at] - unknowns.prior[at]) / unknowns.deviations[at]
}

fn gradient(evidence: &[Evidence], unknowns: &Unknowns, predicted: &[Prediction], values: &[f64]) -> Vec<f64> {
    let mut gradient: Vec<f64> =
        (0..values.len()).map(|at| away(unknowns, values, at) / unknowns.deviations[at]).collect();
    for (one, prediction) in evidence.iter().zip(predicted) {
        let gap: Vec<f64> = one.judged.iter().zip(&prediction.scores).map(|((_, points), p)| p - points).collect();
        let mean: f64 = prediction.portions.iter().zip(&gap).map(|(portion, gap)| portion * gap).sum();
        for (part, &(material, _)) in one.parts.iter().enumerate() {
            let own = one.weight() * prediction.factor * prediction.shares[part];
            for ((descriptor, _), gap) in one.judged.iter().zip(&gap) {
                if let Some(at) = unknowns.score(material, *descriptor) {
                    gradient[at] += own * (gap - mean);
                }
            }
        }
        for (column, at) in one.logs(unknowns).into_iter().enumerate() {
            let Some(at) = at else { continue };
            let of_scores: f64 = prediction.by_log.iter().zip(&gap).map(|(row, gap)| row[column] * gap).sum();
            gradient[at] += one.weight() * of_scores;
            if let Some(log) = one.log_strength {
                let gap = prediction.log_strength - log;
                gradient[at] += one.strength_weight() * prediction.strength_by_log[column] * gap;
            }
            if prediction.beyond > 0.0 {
                gradient[at] += one.beyond_weight() * prediction.beyond_by_log[column] * prediction.beyond;
            }
        }
    }
    gradient
}

/// Which values are free: not those at an end of the scale that the slope
/// presses against it.
fn free_of(unknowns: &Unknowns, values: &[f64], gradient: &[f64]) -> Vec<bool> {
    let held = |at: usize| {
        at < unknowns.score_count()
            && ((values[at] <= 0.0 && gradient[at] >= 0.0) || (values[at] >= unknowns.scale && gradient[at] <= 0.0))
    };
    (0..values.len()).map(|at| !held(at)).collect()
}
