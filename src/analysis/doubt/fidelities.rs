//! The fidelities of some formulas alone, draw by draw: the draws of [`super::draws`], without
//! what they say of profiles, pairs and single numbers.

use super::judge::{Judge, Odours};
use super::sample::{BLOCK, Block, Sampler};
use crate::control::Control;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::Problem;

/// Fidelity in percent of each formula in so many draws of a seed; `None` where the control
/// stopped it.
pub fn fidelities(
    problem: &Problem,
    formulas: &[Formula],
    draws: usize,
    seed: u64,
    control: &Control,
) -> Option<Vec<Vec<f64>>> {
    let judge = Judge::new(problem);
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| problem.neat_ppt(formula)).collect();
    let is_used = |material: &usize| neat.iter().any(|neat| neat[*material] > 0.0);
    let used = (0..problem.palette.materials.len()).filter(is_used).filter(|&at| !problem.material(at).is_carrier());
    let sampler = Sampler::new(problem, used);
    let parts = |neat: &Vec<f64>| -> Vec<(usize, f64)> {
        let each = sampler.slots.iter().enumerate().map(|(at, slot)| (at, neat[slot.material]));
        each.filter(|(_, ppt)| *ppt > 0.0).collect()
    };
    let blends: Vec<Vec<(usize, f64)>> = neat.iter().map(parts).collect();
    let one_block = |&block: &usize| -> Vec<Vec<f64>> {
        let count = BLOCK.min(draws - block * BLOCK);
        let drawn: Vec<Block> = sampler.first(seed, block, count);
        let mut odours = Odours::new(judge.targets());
        let mut of = |parts: &Vec<(usize, f64)>| -> Vec<f64> {
            let mut one = |draw: usize| {
                odours.fill(&judge, parts, |slot| drawn[slot].draw(draw));
                judge.fidelity(judge.loss(&odours.of, odours.denominator))
            };
            (0..count).map(&mut one).collect()
        };
        blends.iter().map(&mut of).collect()
    };
    let blocks: Vec<usize> = (0..draws.div_ceil(BLOCK)).collect();
    let found: Option<Vec<Vec<Vec<f64>>>> = in_parallel(&blocks, control, one_block).into_iter().collect();
    let found = found?;
    Some((0..formulas.len()).map(|at| found.iter().flat_map(|block| block[at].iter().copied()).collect()).collect())
}
