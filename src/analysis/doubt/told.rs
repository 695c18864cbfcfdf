//! How sure a fidelity is, as every report tells it: the range of nine draws
//! in ten, and between two formulas the part of the draws in which one of them
//! is nearer. The draws are those of `doubt` where nothing else is said, so that
//! every command, the page and the charts give the same figures.
//!
//! Drawn rather than worked out from slopes: at a blend that meets its target
//! the slopes of what it has too much of and too little of cancel, and a doubt to
//! first order is nothing where any change of a number makes the match worse.

use super::judge::{Judge, Odours};
use super::paper;
use super::sample::{BLOCK, Block, Sampler};
pub use super::sample::{DRAWS, SEED};
use super::spread::Spread;
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::Problem;

/// The part of the draws in which one of two formulas has to be nearer for them
/// to count as told apart: what one standard deviation is to a difference that
/// is spread normally.
pub const TOLD_APART: f64 = 0.84;

/// The fidelity of a formula over the draws.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Its mean, standard deviation, and the ends of nine draws in ten, in
    /// percent.
    pub fidelity: Spread,
    /// Of the blend's score in each target; empty where that was not asked for.
    pub profile: Vec<Spread>,
    /// Of every draw, in their order, in percent.
    fidelities: Vec<f64>,
}

/// Two formulas on the same draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Part of the draws in which the first is nearer the target, ties halved.
    pub nearer: f64,
    /// Fidelity of the first less that of the second, in points.
    pub difference: Spread,
}

impl Told {
    /// This formula beside another of the same batch or problem.
    pub fn beside(&self, other: &Told) -> Pair {
        Pair::of(&self.fidelities, &other.fidelities)
    }
}

impl Pair {
    /// Of the fidelities of two formulas, draw by draw.
    pub fn of(one: &[f64], other: &[f64]) -> Pair {
        let mut differences: Vec<f64> = one.iter().zip(other).map(|(a, b)| a - b).collect();
        let wins = differences.iter().map(|by| if *by > 0.0 { 1.0 } else { 0.5 * f64::from(*by == 0.0) });
        let nearer = wins.sum::<f64>() / differences.len().max(1) as f64;
        Pair { nearer, difference: Spread::of(&mut differences) }
    }

    /// Whether one of them is nearer in enough of the draws to speak of it.
    pub fn is_told_apart(&self) -> bool {
        self.nearer.max(1.0 - self.nearer) >= TOLD_APART
    }

    /// Percent of the draws in which the first is nearer.
    pub fn nearer_percent(&self) -> f64 {
        100.0 * self.nearer
    }
}

/// How sure some formulas are, all on the same draws; `None` for one that has no
/// odour that counts. The profile is that of the first alone.
pub fn told(problem: &Problem, formulas: &[&Formula]) -> Vec<Option<Told>> {
    told_closely(problem, formulas, 1)
}

/// What one block of draws gives for one formula.
struct Drawings {
    fidelities: Vec<f64>,
    /// Scores, target by target; empty where they were not asked for.
    scores: Vec<Vec<f64>>,
}

/// The same with the profiles of the first so many.
fn told_closely(problem: &Problem, formulas: &[&Formula], closely: usize) -> Vec<Option<Told>> {
    if problem.paper.is_some() {
        return formulas.iter().map(|formula| on_paper(problem, formula)).collect();
    }
    if problem.views.len() > 1 {
        return in_views(problem, formulas, closely);
    }
    let judge = Judge::new(problem);
    let smells: Vec<bool> = formulas.iter().map(|formula| evaluate(problem, formula).is_ok()).collect();
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| problem.neat_ppt(formula)).collect();
    let is_used = |material: &usize| neat.iter().any(|neat| neat[*material] > 0.0);
    let used = (0..problem.palette.materials.len()).filter(is_used).filter(|&at| !problem.material(at).is_carrier());
    let sampler = Sampler::new(problem, used);
    let slots = &sampler.slots;
    let parts = |neat: &Vec<f64>| -> Vec<(usize, f64)> {
        let each = slots.iter().enumerate().map(|(at, slot)| (at, neat[slot.material]));
        each.filter(|(_, ppt)| *ppt > 0.0).collect()
    };
    let blends: Vec<Vec<(usize, f64)>> = neat.iter().map(parts).collect();
    let one_block = |&block: &usize| -> Vec<Drawings> {
        let draws = BLOCK.min(DRAWS - block * BLOCK);
        let drawn: Vec<Block> = sampler.first(SEED, block, draws);
        let mut odours = Odours::new(judge.targets());
        let mut of_formula = |(at, parts): (usize, &Vec<(usize, f64)>)| {
            let mut scores = vec![Vec::with_capacity(draws); if at < closely { judge.targets() } else { 0 }];
            let mut fidelity = |draw: usize| {
                odours.fill(&judge, parts, |slot| drawn[slot].draw(draw));
                let scale = odours.scale();
                scores.iter_mut().zip(&odours.of).for_each(|(scores, sum)| scores.push(sum * scale));
                judge.fidelity(judge.loss(&odours.of, odours.denominator))
            };
            let fidelities = (0..draws).map(&mut fidelity).collect();
            Drawings { fidelities, scores }
        };
        blends.iter().enumerate().map(&mut of_formula).collect()
    };
    let blocks: Vec<usize> = (0..DRAWS.div_ceil(BLOCK)).collect();
    // A moment's work, not to be lost to the clock.
    let found: Vec<Vec<Drawings>> =
        in_parallel(&blocks, &Control::default(), one_block).into_iter().flatten().collect();
    let one = |at: usize| {
        let fidelities: Vec<f64> = found.iter().flat_map(|block| block[at].fidelities.iter().copied()).collect();
        let of_target = |target: usize| {
            let mut scores: Vec<f64> =
                found.iter().flat_map(|block| block[at].scores[target].iter().copied()).collect();
            Spread::unordered(&mut scores)
        };
        let profile = (0..if at < closely { judge.targets() } else { 0 }).map(of_target).collect();
        Told { fidelity: Spread::of(&mut fidelities.clone()), profile, fidelities }
    };
    smells.iter().enumerate().map(|(at, smells)| smells.then(|| one(at))).collect()
}

/// The same in several views: of each draw the worst view counts, by its weight. A material's
/// errors are drawn alike in all of them, by what each says of them; the profile is that of the
/// view that is the worst as it is written.
fn in_views(problem: &Problem, formulas: &[&Formula], closely: usize) -> Vec<Option<Told>> {
    let each: Vec<Vec<Option<Told>>> =
        (0..problem.views.len()).map(|view| told_closely(&problem.seen(view), formulas, closely)).collect();
    let one = |(at, formula): (usize, &&Formula)| {
        let worst = evaluate(problem, formula).ok()?.worst;
        let views: Vec<&Told> = each.iter().map(|view| view[at].as_ref()).collect::<Option<_>>()?;
        let kept = |(told, view): (&&Told, &crate::problem::View), draw: usize| {
            100.0 - view.weight * (100.0 - told.fidelities[draw])
        };
        let of_draw = |draw: usize| {
            let all = views.iter().zip(&problem.views).map(|both| kept(both, draw));
            all.fold(100.0, f64::min).max(0.0)
        };
        let fidelities: Vec<f64> = (0..views[worst].fidelities.len()).map(of_draw).collect();
        let profile = views[worst].profile.clone();
        Some(Told { fidelity: Spread::of(&mut fidelities.clone()), profile, fidelities })
    };
    formulas.iter().enumerate().map(one).collect()
}

/// The same at the worst of the problem's stages, as the formula's own film dries; without
/// the profile, which is another at each.
fn on_paper(problem: &Problem, formula: &Formula) -> Option<Told> {
    evaluate(problem, formula).ok()?;
    let fidelities = paper::worst(problem, formula)?;
    Some(Told { fidelity: Spread::of(&mut fidelities.clone()), profile: Vec::new(), fidelities })
}

/// The same where some of the formulas may be missing, with the profiles of the
/// first so many of those that are there.
pub fn told_some(problem: &Problem, formulas: &[Option<&Formula>], closely: usize) -> Vec<Option<Told>> {
    let there: Vec<&Formula> = formulas.iter().copied().flatten().collect();
    let mut found = told_closely(problem, &there, closely).into_iter();
    formulas.iter().map(|formula| formula.and_then(|_| found.next().flatten())).collect()
}

/// How sure one formula is; `None` where it has no odour that counts.
pub fn told_of(problem: &Problem, formula: &Formula) -> Option<Told> {
    told(problem, &[formula]).pop().flatten()
}

/// In what part of the draws each of some formulas is nearer than a given one,
/// in percent, in their order; `None` where there is nothing to compare.
pub fn nearer_percent(problem: &Problem, than: &Formula, formulas: &[&Formula]) -> Vec<Option<f64>> {
    let mut all = vec![than];
    all.extend(formulas);
    let all = told(problem, &all);
    let than = all[0].as_ref();
    all[1..].iter().map(|one| Some(one.as_ref()?.beside(than?).nearer_percent())).collect()
}

/// Standard deviation of a formula's fidelity over the draws, in percent; `None`
/// where it has no odour that counts. Scores of 0 count as certain: what is not
/// smelled at all is surer than how much is smelled.
pub fn fidelity_deviation(problem: &Problem, formula: &Formula) -> Option<f64> {
    told_of(problem, formula).map(|told| told.fidelity.sd)
}
