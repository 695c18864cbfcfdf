//! A formula that is good over what scores and strengths may be, rather than
//! at what is written: by its average fidelity, or half by that and half by the
//! average of its worst tenth (the conditional value at risk of R. T. Rockafellar
//! and S. Uryasev, Journal of Risk 2, 2000), over draws of [`super::doubt::sample`].
//!
//! An average of ratios is no ratio, so no linear programme finds the best of
//! it and nothing is proven here. Candidates are the best formula on paper, the
//! best ones with less of what its doubt comes from, and the best ones of
//! palettes that were drawn; the steadiest of them are improved by moving doses
//! between two materials, on one set of draws. On a second set the best of them
//! is chosen, and on a third it is judged, beside the best on paper, lest it be
//! good by luck.

mod climb;

use std::sync::Arc;

use climb::Climber;

use super::doubt::draws::WORST;
use super::doubt::fidelities::fidelities;
use super::doubt::fidelity_moves;
use super::doubt::sample::{BLOCK, Sampler};
use super::doubt::spread::{Spread, mean_and_sd, worst};
use super::doubt::told::Pair;
use crate::control::Control;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::pool::in_parallel;
use crate::problem::{DoseKey, Problem, Rule, RuleId, RuleKind};
use crate::solve::{Answer, Method, Start, kept, propose_from};

/// Blocks of draws on which candidates are improved.
const BLOCKS: usize = 8;
/// Draws on which the best of them is chosen.
const CHOOSING: usize = 4_000;
/// The seed of these draws.
const TRAINING: u64 = 0x5eed_0057_ead1;
/// Palettes that are drawn and solved for candidates.
const PALETTES: usize = 12;
/// Materials of which less is tried: those that most of the doubt comes from.
const DOUBTFUL: usize = 5;
/// Parts of their doses that are tried.
const LESS: [f64; 3] = [0.8, 0.5, 0.0];
/// Nodes of the search for each of them: a good formula is wanted, no proof.
const NODES: u64 = 400;
/// Candidates that are improved.
const STARTS: usize = 3;
/// The part of the time that is left which candidates may take.
const FOR_CANDIDATES: f64 = 0.4;
/// Fresh draws.
const FRESH: usize = 10_000;
/// A gain below this, in points, is not worth a word.
const TRIFLE: f64 = 0.05;

/// What is sought over the draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// The greatest average: the best match to be expected of the next blotter.
    Expected,
    /// Half the average and half the worst tenth.
    Steady,
}

impl Aim {
    /// The part that the worst tenth has in it.
    fn of_worst(self) -> f64 {
        match self {
            Aim::Expected => 0.0,
            Aim::Steady => 0.5,
        }
    }

    /// What a formula of such fidelities is worth by it, in percent.
    fn worth(self, mean: f64, worst_tenth: f64) -> f64 {
        (1.0 - self.of_worst()) * mean + self.of_worst() * worst_tenth
    }
}

/// How good a formula is over draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Merit {
    /// Fidelity by the numbers as they are written, in percent.
    pub on_paper: f64,
    /// Mean fidelity over the draws.
    pub mean: f64,
    /// Mean of the worst tenth.
    pub worst_tenth: f64,
    /// Nine draws in ten lie between these.
    pub nine_in_ten: (f64, f64),
}

impl Merit {
    /// Half the average and half the worst tenth, in percent.
    pub fn steadiness(&self) -> f64 {
        Aim::Steady.worth(self.mean, self.worst_tenth)
    }
}

/// What the search for such a formula came to.
#[derive(Clone, Debug)]
pub struct Steady {
    /// The best formula that was found by what is sought; inside the rules.
    pub answer: Answer,
    /// What it is worth on fresh draws.
    pub merit: Merit,
    /// The same of the best formula on paper, on the same draws.
    pub paper: Merit,
    /// What is sought of the one less that of the other, in points.
    pub gain: f64,
    /// One standard deviation of the gain, from the number of draws.
    pub gain_error: f64,
    /// Part of the draws in which the one that was found is nearer the target.
    pub nearer: f64,
    /// How many candidates were looked at.
    pub candidates: usize,
    /// All of them, and those that came of the best of them: each keeps the rules.
    pub pool: Vec<Formula>,
    /// How many fresh draws.
    pub draws: usize,
}

impl Steady {
    /// Whether the formula that was found is better by more than what sampling alone
    /// could bring.
    pub fn buys(&self) -> bool {
        self.gain > (2.0 * self.gain_error).max(TRIFLE)
    }
}

/// Looks for a formula that is better by an aim than the best on paper; `None` where
/// there was no time. `seed` chooses the fresh draws.
pub fn steady(
    problem: &Problem,
    best: &Answer,
    aim: Aim,
    seed: u64,
    method: Method,
    control: &Control,
) -> Option<Steady> {
    let candidates = candidates(problem, best, method, &control.with_share(FOR_CANDIDATES));
    let climber = Climber::new(problem, aim, &candidates, TRAINING, BLOCKS)?;
    let mut ranked: Vec<(f64, &Formula)> = candidates.iter().map(|formula| (climber.worth(formula), formula)).collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let starts: Vec<&Formula> = ranked.iter().take(STARTS).map(|(_, formula)| *formula).collect();
    let climbed = in_parallel(&starts, control, |formula| climber.climb(formula, control));
    let mut found = candidates.clone();
    found.extend(climbed.into_iter().flatten());
    // Few draws take no time to speak of: the answer is not lost to the clock.
    let patient = Control { deadline: None, ..control.clone() };
    let mut chosen = fidelities(problem, &found, CHOOSING, TRAINING + 1, &patient)?;
    let mut order: Vec<(f64, &Formula)> = chosen.iter_mut().map(|drawn| worth_of(drawn, aim)).zip(&found).collect();
    // A stable sort: of equals the best on paper comes first.
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let answer = order.iter().find_map(|(_, formula)| kept(problem, formula)).unwrap_or_else(|| best.clone());

    let both = [answer.formula.clone(), best.formula.clone()];
    let judged = fidelities(problem, &both, FRESH, seed, &patient)?;
    let [own, paper] = &judged[..] else { return None };
    let (gain, gain_error) = gain_of(own, paper, aim);
    Some(Steady {
        merit: merit(own, answer.evaluation.fidelity_percent),
        paper: merit(paper, best.evaluation.fidelity_percent),
        gain,
        gain_error,
        nearer: Pair::of(own, paper).nearer,
        candidates: candidates.len(),
        draws: FRESH,
        pool: found,
        answer,
    })
}

fn merit(drawn: &[f64], on_paper: f64) -> Merit {
    let mut ordered = drawn.to_vec();
    let Spread { mean, p5, p95, .. } = Spread::of(&mut ordered);
    Merit { on_paper, mean, worst_tenth: worst(&ordered, WORST), nine_in_ten: (p5, p95) }
}

/// What some fidelities are worth by an aim; they are put in another order.
fn worth_of(fidelities: &mut [f64], aim: Aim) -> f64 {
    let (mean, _) = mean_and_sd(fidelities);
    if aim == Aim::Expected {
        return mean;
    }
    let worst = ((fidelities.len() as f64 * WORST).round() as usize).clamp(1, fidelities.len());
    let (below, at, _) = fidelities.select_nth_unstable_by(worst - 1, f64::total_cmp);
    0.5 * mean + 0.5 * (below.iter().sum::<f64>() + *at) / worst as f64
}

/// The difference of what two formulas are worth by an aim from their fidelities on
/// the same draws, and its standard deviation.
fn gain_of(own: &[f64], other: &[f64], aim: Aim) -> (f64, f64) {
    // What each draw has in half the mean and half the mean below a quantile:
    // its mean is the steadiness, its spread tells how sure that is.
    let limit = |fidelities: &[f64]| {
        let mut ordered = fidelities.to_vec();
        let worst = ((ordered.len() as f64 * WORST).round() as usize).clamp(1, ordered.len());
        *ordered.select_nth_unstable_by(worst - 1, f64::total_cmp).1
    };
    let part = |limit: f64, it: f64| 0.5 * it + 0.5 * (limit - (limit - it).max(0.0) / WORST);
    let differences: Vec<f64> = match aim {
        Aim::Expected => own.iter().zip(other).map(|(a, b)| a - b).collect(),
        Aim::Steady => {
            let (one, two) = (limit(own), limit(other));
            own.iter().zip(other).map(|(a, b)| part(one, *a) - part(two, *b)).collect()
        }
    };
    let (mean, sd) = mean_and_sd(&differences);
    (mean, sd / (differences.len().max(1) as f64).sqrt())
}

/// The best formula on paper, and the best ones of palettes that were drawn as
/// far as they keep the rules, each once.
fn candidates(problem: &Problem, best: &Answer, method: Method, control: &Control) -> Vec<Formula> {
    let control = Control { node_limit: Some(control.node_limit.unwrap_or(NODES).min(NODES)), ..control.clone() };
    let start = Start { formulas: vec![best.formula.clone()], ..Start::default() };
    let drawn = |palette| problem.with_palette(palette);
    let mut asked = with_less(problem, best);
    asked.extend(drawn_palettes(problem).into_iter().map(drawn));
    let solved = in_parallel(&asked, &control, |asked| {
        let solution = propose_from(asked, &start, method, &control).ok()?;
        kept(problem, &solution.answer?.formula).map(|answer| answer.formula)
    });
    let mut candidates = vec![best.formula.clone()];
    for formula in solved.into_iter().flatten().flatten() {
        if candidates.iter().all(|other| other.parts != formula.parts) {
            candidates.push(formula);
        }
    }
    candidates
}

/// The problem with less of the materials that most of the doubt comes from.
fn with_less(problem: &Problem, best: &Answer) -> Vec<Problem> {
    let moves = fidelity_moves(problem, &best.formula).unwrap_or_default();
    let squares = |material: usize| -> f64 {
        moves.iter().filter(|(number, _)| number.material == material).map(|(_, by)| by * by).sum()
    };
    let mut order: Vec<(f64, usize)> =
        best.formula.parts.iter().map(|(material, _)| (squares(*material), *material)).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let capped = |(material, part): (usize, f64)| {
        if part == 0.0 {
            return problem.leaving_out(material);
        }
        let mut capped = problem.clone();
        let at = part * best.formula.dose(material).as_f64();
        let place = problem.material(material).place.clone();
        let id = RuleId::dose(&problem.material(material).name, DoseKey::Max);
        capped.rules.push(Rule { id, kind: RuleKind::DoseMax(material), place, at });
        capped
    };
    let doubtful = order.into_iter().take(DOUBTFUL);
    doubtful.flat_map(|(_, material)| LESS.map(|part| capped((material, part)))).collect()
}

/// Palettes with scores and strengths within their errors: the first of the
/// draws that candidates are improved on.
fn drawn_palettes(problem: &Problem) -> Vec<Arc<Palette>> {
    let mut palettes = vec![(*problem.palette).clone(); PALETTES];
    let drawn = Sampler::new(problem, 0..problem.palette.materials.len()).first(TRAINING, 0, PALETTES.min(BLOCK));
    for (material, block) in drawn.iter().enumerate() {
        for (draw, palette) in palettes.iter_mut().enumerate() {
            let drawn = block.draw(draw);
            palette.materials[material].strength = drawn.strength;
            for (target, score) in problem.targets.iter().zip(drawn.scores) {
                palette.materials[material].scores[target.descriptor] = *score;
            }
        }
    }
    palettes.into_iter().map(Arc::new).collect()
}
