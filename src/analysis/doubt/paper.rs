//! How sure a fidelity is on paper: scores and strengths are drawn as for every report, and
//! tenacities beside them.

use super::judge::{Judge, Odours};
use super::sample::{BLOCK, Block, DRAWS, Drawn, SEED, Sampler};
use crate::chance::Chance;
use crate::control::Control;
use crate::film::Film;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::portable::Portable;
use crate::problem::Problem;
use crate::problem::stage::film;
use crate::tenacity::Tenacity;

/// Stream of the draws of tenacities: beyond those of any material and block.
const TENACITIES: u64 = 1 << 63;

/// A formula that dries.
#[derive(Clone, Copy, Debug)]
pub struct Drying<'a> {
    /// Its materials, as indices into the palette.
    pub materials: &'a [usize],
    /// How long each of them lasts alone.
    pub tenacities: &'a [Tenacity],
    /// Their film.
    pub film: &'a Film,
}

/// What is wanted at a time in one view of the accord as it is mixed, and the materials as they
/// are drawn for it. Every nose's errors are drawn alike, each by what that nose says of them.
struct Wants {
    judge: Judge,
    sampler: Sampler,
}

impl Wants {
    /// Of every view.
    fn of_views(problem: &Problem, stage: Option<usize>, materials: &[usize]) -> Vec<Wants> {
        let mixed = problem.after(|_| 1.0, stage);
        let of_view = |view: usize| {
            let seen = mixed.seen(view);
            Wants { judge: Judge::new(&seen), sampler: Sampler::new(&seen, materials.iter().copied()) }
        };
        (0..mixed.views.len()).map(of_view).collect()
    }
}

impl Drying<'_> {
    /// Its fidelity in percent at some times in hours, in the worst view of each draw, time by
    /// time and draw by draw; `None` where nothing is left to smell. At a stage of the problem it is held against what is
    /// wanted there, between stages against the brief's own target.
    pub fn fidelities(&self, problem: &Problem, neat: &[f64], hours: &[f64]) -> Vec<Vec<Option<f64>>> {
        let stages: Vec<Option<usize>> = hours.iter().map(|hours| problem.stage_at(*hours)).collect();
        let mut kinds = stages.clone();
        kinds.sort_unstable();
        kinds.dedup();
        let wants: Vec<Vec<Wants>> =
            kinds.iter().map(|stage| Wants::of_views(problem, *stage, self.materials)).collect();
        let kind = |stage: &Option<usize>| kinds.iter().position(|kind| kind == stage).unwrap_or_default();
        let wanted: Vec<usize> = stages.iter().map(kind).collect();
        let one_block = |&block: &usize| self.block(&wants, &wanted, neat, hours, block);
        let blocks: Vec<usize> = (0..DRAWS.div_ceil(BLOCK)).collect();
        // A moment's work, not to be lost to the clock.
        let found: Vec<Vec<Vec<Option<f64>>>> =
            in_parallel(&blocks, &Control::default(), one_block).into_iter().flatten().collect();
        (0..hours.len()).map(|at| found.iter().flat_map(|block| block[at].iter().copied()).collect()).collect()
    }

    fn block(
        &self,
        wants: &[Vec<Wants>],
        wanted: &[usize],
        neat: &[f64],
        hours: &[f64],
        block: usize,
    ) -> Vec<Vec<Option<f64>>> {
        let draws = BLOCK.min(DRAWS - block * BLOCK);
        let drawn = |wants: &Wants| wants.sampler.first(SEED, block, draws);
        let drawn: Vec<Vec<Vec<Block>>> = wants.iter().map(|views| views.iter().map(drawn).collect()).collect();
        let stream = |at: &usize| Chance::new(SEED, TENACITIES | ((block as u64) << 32) | *at as u64);
        let mut chance: Vec<Chance> = self.materials.iter().map(stream).collect();
        let mut found = vec![Vec::with_capacity(draws); hours.len()];
        let own = |wants: &Wants| Odours::new(wants.judge.targets());
        let mut odours: Vec<Vec<Odours>> = wants.iter().map(|views| views.iter().map(own).collect()).collect();
        let mut film = self.film.clone();
        for draw in 0..draws {
            for ((part, tenacity), chance) in film.parts.iter_mut().zip(self.tenacities).zip(&mut chance) {
                part.hours = tenacity.hours * (tenacity.factor.logarithm() * chance.normal()).exponential();
            }
            for ((fidelities, &hours), &at) in found.iter_mut().zip(hours).zip(wanted) {
                let clock = film.clock(hours);
                let views = wants[at].iter().zip(&drawn[at]).zip(&mut odours[at]);
                let each = views.map(|((Wants { judge, .. }, blocks), odours)| {
                    odours.clear();
                    for ((block, part), &material) in blocks.iter().zip(&film.parts).zip(self.materials) {
                        let Drawn { strength, scores } = block.draw(draw);
                        let left = clock.map_or(0.0, |clock| part.left(clock));
                        odours.add(judge, Drawn { strength: strength * left, scores }, neat[material]);
                    }
                    let denominator = odours.denominator;
                    (denominator > 0.0).then(|| judge.fidelity(judge.loss(&odours.of, denominator)))
                });
                let worst = each.reduce(|one, other| one.zip(other).map(|(one, other)| one.min(other)));
                fidelities.push(worst.flatten());
            }
        }
        found
    }
}

/// Fidelity in percent of a formula at the worst of its problem's stages, draw by draw: 0
/// where at one of them nothing is left, and what a stage loses counts by its weight. Nothing
/// where the problem has no stages.
pub fn worst(problem: &Problem, formula: &Formula) -> Option<Vec<f64>> {
    let paper = problem.paper.as_ref()?;
    let neat = problem.neat_ppt(formula);
    let materials: Vec<usize> = (0..neat.len()).filter(|&at| neat[at] > 0.0).collect();
    let tenacities: Vec<Tenacity> = materials.iter().map(|&at| paper.tenacities[at]).collect();
    let masses: Vec<f64> = materials.iter().map(|&at| neat[at]).collect();
    let film = film(&masses, &tenacities, paper.blotter.stretch());
    let hours: Vec<f64> = paper.stages.iter().map(|stage| stage.hours).collect();
    let drying = Drying { materials: &materials, tenacities: &tenacities, film: &film };
    let found = drying.fidelities(problem, &neat, &hours);
    let of_draw = |draw: usize| {
        let each = found.iter().zip(paper.stages.iter());
        let each = each.map(|(of_time, stage)| 100.0 - stage.weight * (100.0 - of_time[draw].unwrap_or(0.0)));
        each.fold(100.0, f64::min).max(0.0)
    };
    Some((0..DRAWS).map(of_draw).collect())
}
