//! How far a fidelity may be off because scores and strengths are one nose's
//! judgement: the standard deviation to first order (the law of propagation
//! of uncertainty for independent inputs, JCGM 100:2008, 5.1.2).

use crate::brief::Match;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::problem::Problem;

/// Standard deviation of a score in points where the palette names none.
pub const SCORE_ERROR: f64 = 1.0;
/// One standard deviation of a strength, as a factor, where the palette names
/// none.
pub const STRENGTH_FACTOR: f64 = 1.5;

/// Standard deviation of a formula's fidelity, in percent; `None` where the
/// formula has no odour. Scores of 0 count as certain: what is not smelled at
/// all is surer than how much is smelled. A descriptor that meets its target
/// exactly is taken as about to pass it.
pub fn fidelity_deviation(problem: &Problem, formula: &Formula) -> Option<f64> {
    let evaluation = evaluate(problem, formula).ok()?;
    let slopes = loss_slopes(problem, &evaluation);
    let variance: f64 = (0..problem.palette.materials.len())
        .filter(|&material| evaluation.neat_ppt[material] > 0.0)
        .map(|material| variance_of(problem, &evaluation, &slopes, material))
        .sum();
    Some(100.0 * variance.sqrt() / problem.worst_loss())
}

/// What the loss changes by for each point of the profile.
fn loss_slopes(problem: &Problem, evaluation: &Evaluation) -> Vec<f64> {
    let slope = |(target, blend): (&crate::problem::Target, &f64)| {
        let reached = *blend >= target.score - 1e-9;
        if reached { target.weight * target.excess } else { -target.weight }
    };
    problem.targets.iter().zip(&evaluation.profile).map(slope).collect()
}

/// Variance of the loss, in squared points, from what is uncertain about one
/// material.
fn variance_of(problem: &Problem, evaluation: &Evaluation, slopes: &[f64], index: usize) -> f64 {
    let material = problem.material(index);
    let dot: f64 = slopes.iter().zip(&evaluation.profile).map(|(slope, blend)| slope * blend).sum();
    // D, and what one point of score or of odour adds to it: see `evaluate`.
    let (per_score, weight) = match problem.matching {
        Match::Level => (0.0, 1.0),
        Match::Balance => (1.0 / problem.target_total(), problem.counted_score(index) / problem.target_total()),
    };
    let odour = material.strength * evaluation.neat_ppt[index] / denominator(problem, evaluation);
    let score_error = material.score_error.unwrap_or(SCORE_ERROR);
    let uncertain = problem.targets.iter().zip(slopes).filter(|(target, _)| material.scores[target.descriptor] > 0.0);
    let of_scores: f64 = uncertain.map(|(_, slope)| (odour * (slope - dot * per_score) * score_error).powi(2)).sum();
    let brings: f64 =
        problem.targets.iter().zip(slopes).map(|(target, slope)| slope * material.scores[target.descriptor]).sum();
    let deviation = material.strength_factor.unwrap_or(STRENGTH_FACTOR).ln();
    of_scores + (odour * (brings - dot * weight) * deviation).powi(2)
}

fn denominator(problem: &Problem, evaluation: &Evaluation) -> f64 {
    let odour = |index: usize| problem.material(index).strength * evaluation.neat_ppt[index];
    let all = 0..problem.palette.materials.len();
    match problem.matching {
        Match::Level => all.map(odour).sum(),
        Match::Balance => {
            all.map(|index| odour(index) * problem.counted_score(index)).sum::<f64>() / problem.target_total()
        }
    }
}
