//! The doubt of formulas by drawing scores and strengths within their errors.
//! All formulas are judged on the same draws: what they have in common moves
//! them alike.

use super::judge::{Judge, Odours};
use super::number::{Number, Part};
use super::sample::{BLOCK, Block, Sampler, Slot};
use super::shares::{Share, Sums};
use super::spread::{Spread, mean_and_sd, quantile, worst};
use super::told::Pair;
use crate::control::Control;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::Problem;

/// The part of the draws that counts as the worst.
pub const WORST: f64 = 0.1;

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// How many draws.
    pub draws: usize,
    /// The same seed draws the same.
    pub seed: u64,
    /// Whether to work out which numbers matter.
    pub shares: bool,
}

/// What came of the draws for one formula.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloud {
    /// Of the fidelity, in percent.
    pub fidelity: Spread,
    /// Mean fidelity of the worst tenth of the draws, in percent.
    pub worst_tenth: f64,
    /// Fidelity at 1 to 99 percent of the draws.
    pub percentiles: Vec<f64>,
    /// Of the blend's points in each target.
    pub profile: Vec<Spread>,
    /// The share of each uncertain number, in the order of the numbers.
    pub numbers: Vec<(Number, Share)>,
    /// The share of all numbers of each material together.
    pub materials: Vec<(usize, Share)>,
    /// Fidelity of every draw, in their order, in percent.
    pub fidelities: Vec<f64>,
}

/// Two formulas on the same draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearer {
    /// Index of the first formula.
    pub a: usize,
    /// Index of the second.
    pub b: usize,
    /// The first beside the second.
    pub pair: Pair,
}

/// The doubt of some formulas.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// One for each formula.
    pub clouds: Vec<Cloud>,
    /// Every pair of formulas.
    pub nearer: Vec<Nearer>,
}

/// Draws and judges; `None` where the control stopped it.
pub fn doubt(problem: &Problem, formulas: &[Formula], asked: Asked, control: &Control) -> Option<Doubt> {
    let judge = Judge::new(problem);
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| problem.neat_ppt(formula)).collect();
    let is_used = |material: &usize| neat.iter().any(|neat| neat[*material] > 0.0);
    let used = (0..problem.palette.materials.len()).filter(is_used).filter(|&at| !problem.material(at).is_carrier());
    let sampler = Sampler::new(problem, used);
    let slots = &sampler.slots;
    let pilot: Vec<Block> = if asked.shares { sampler.first(asked.seed, PILOT, BLOCK) } else { Vec::new() };
    let blends: Vec<Blend> = neat.iter().map(|neat| Blend::new(neat, slots, &judge, &pilot)).collect();
    let blocks: Vec<usize> = (0..asked.draws.div_ceil(BLOCK)).collect();
    let found: Option<Vec<Vec<Piece>>> =
        in_parallel(&blocks, control, |&block| one_block(&judge, &sampler, &blends, asked, block))
            .into_iter()
            .collect();
    let found = found?;
    let clouds: Vec<Cloud> = (0..formulas.len())
        .map(|at| cloud(slots, &blends[at], judge.targets(), found.iter().map(|parts| &parts[at]).collect()))
        .collect();
    let pairs = (0..clouds.len()).flat_map(|a| (a + 1..clouds.len()).map(move |b| (a, b)));
    let pair = |a: usize, b: usize| Pair::of(&clouds[a].fidelities, &clouds[b].fidelities);
    let nearer = pairs.map(|(a, b)| Nearer { a, b, pair: pair(a, b) }).collect();
    Some(Doubt { clouds, nearer })
}

/// A formula's parts: (slot, neat ppt), and about what it is worth on average.
struct Blend {
    parts: Vec<(usize, f64)>,
    centre: f64,
}

/// A block of draws of its own, which tells about where the mean lies: the
/// shares are the surer the nearer to it they are taken.
const PILOT: usize = u32::MAX as usize;

impl Blend {
    fn new(neat: &[f64], slots: &[Slot], judge: &Judge, pilot: &[Block]) -> Blend {
        let parts = slots.iter().enumerate().map(|(at, slot)| (at, neat[slot.material])).filter(|(_, ppt)| *ppt > 0.0);
        let mut blend = Blend { parts: parts.collect(), centre: 0.0 };
        let mut sums = Odours::new(judge.targets());
        for draw in 0..if pilot.is_empty() { 0 } else { BLOCK } {
            sums.fill(judge, &blend.parts, |slot| pilot[slot].draw(draw));
            blend.centre += judge.fidelity(judge.loss(&sums.of, sums.denominator)) / BLOCK as f64;
        }
        blend
    }
}

/// What one block of draws gives for one formula.
struct Piece {
    fidelities: Vec<f64>,
    /// Of the second, independent draws: they make the variance surer.
    others: Vec<f64>,
    /// Points of each target, target by target.
    points: Vec<Vec<f64>>,
    numbers: Vec<Sums>,
    materials: Vec<Sums>,
}

fn one_block(judge: &Judge, sampler: &Sampler, blends: &[Blend], asked: Asked, block: usize) -> Vec<Piece> {
    let draws = BLOCK.min(asked.draws - block * BLOCK);
    // The second draws serve the shares alone.
    let [drawn, others] = if asked.shares {
        sampler.both(asked.seed, block, draws)
    } else {
        [sampler.first(asked.seed, block, draws), Vec::new()]
    };
    blends.iter().map(|blend| of_formula(judge, &sampler.slots, blend, [&drawn, &others], draws)).collect()
}

fn of_formula(judge: &Judge, slots: &[Slot], blend: &Blend, [drawn, others]: [&[Block]; 2], draws: usize) -> Piece {
    let targets = judge.targets();
    let numbers: usize = blend.parts.iter().map(|(slot, _)| slots[*slot].uncertain.len()).sum();
    let mut out = Piece {
        fidelities: Vec::with_capacity(draws),
        others: Vec::with_capacity(draws),
        points: vec![Vec::with_capacity(draws); targets],
        numbers: vec![Sums::default(); numbers],
        materials: vec![Sums::default(); blend.parts.len()],
    };
    let (mut first, mut second, mut mixed) = (Odours::new(targets), Odours::new(targets), Odours::new(targets));
    for draw in 0..draws {
        first.fill(judge, &blend.parts, |slot| drawn[slot].draw(draw));
        let loss = judge.loss(&first.of, first.denominator);
        let at_a = judge.fidelity(loss);
        out.fidelities.push(at_a);
        let scale = first.scale();
        out.points.iter_mut().zip(&first.of).for_each(|(points, odour)| points.push(odour * scale));
        if others.is_empty() {
            continue;
        }
        second.fill(judge, &blend.parts, |slot| others[slot].draw(draw));
        let at_b = judge.fidelity(judge.loss(&second.of, second.denominator));
        out.others.push(at_b);
        let less = at_b - blend.centre;
        let mut sums = out.numbers.iter_mut();
        for (&(slot, ppt), of_material) in blend.parts.iter().zip(&mut out.materials) {
            let (a, b) = (drawn[slot].draw(draw), others[slot].draw(draw));
            // All numbers of the material at once.
            mixed.of.copy_from_slice(&first.of);
            mixed.denominator = first.denominator;
            mixed.add(judge, a, -ppt);
            mixed.add(judge, b, ppt);
            of_material.add(at_a, less, judge.fidelity(judge.loss(&mixed.of, mixed.denominator)));
            for (uncertain, sums) in slots[slot].uncertain.iter().zip(&mut sums) {
                let loss = match uncertain.number.part {
                    Part::Strength => {
                        let by = (b.strength - a.strength) * ppt;
                        mixed
                            .of
                            .iter_mut()
                            .zip(&first.of)
                            .zip(a.scores)
                            .for_each(|((to, from), score)| *to = from + by * score);
                        judge.loss(&mixed.of, first.denominator + by * judge.weight(a.scores))
                    }
                    Part::Score(target) => {
                        let by = a.strength * ppt * (b.scores[target] - a.scores[target]);
                        let denominator = first.denominator + by * judge.weight_per_point();
                        one_score(judge, &first, (loss, target, by), denominator)
                    }
                };
                sums.add(at_a, less, judge.fidelity(loss));
            }
        }
    }
    out
}

/// The loss where the odour of one target changes, and the denominator with it.
fn one_score(judge: &Judge, odours: &Odours, (loss, target, by): (f64, usize, f64), denominator: f64) -> f64 {
    if denominator <= 0.0 || odours.denominator <= 0.0 {
        return judge.loss(&[], 0.0);
    }
    let odour = odours.of[target];
    // At the same denominator all other points stay as they are.
    let all = if denominator == odours.denominator { loss } else { judge.loss(&odours.of, denominator) };
    all - judge.loss_of(target, odour, denominator) + judge.loss_of(target, odour + by, denominator)
}

fn cloud(slots: &[Slot], blend: &Blend, targets: usize, parts: Vec<&Piece>) -> Cloud {
    let all = |of: &dyn Fn(&Piece) -> &Vec<f64>| parts.iter().flat_map(|part| of(part).iter().copied()).collect();
    let fidelities: Vec<f64> = all(&|part| &part.fidelities);
    let mut both: Vec<f64> = all(&|part| &part.others);
    both.extend(&fidelities);
    let variance = mean_and_sd(&both).1.powi(2);
    let mut ordered = fidelities.clone();
    let fidelity = Spread::of(&mut ordered);
    let profile = |target: usize| Spread::of(&mut all(&|part| &part.points[target]));
    let shares = |of: &dyn Fn(&Piece) -> &[Sums]| -> Vec<Share> {
        let mut sums: Vec<Sums> = Vec::new();
        for part in &parts {
            let more = of(part);
            sums.resize(more.len(), Sums::default());
            sums.iter_mut().zip(more).for_each(|(sum, more)| sum.merge(more));
        }
        sums.iter().map(|sums| sums.share(variance)).collect()
    };
    // Without shares there is nothing to tell of single numbers.
    let has_shares = parts.iter().any(|part| !part.others.is_empty());
    let told = if has_shares { &blend.parts[..] } else { &[] };
    let uncertain = told.iter().flat_map(|(slot, _)| slots[*slot].uncertain.iter().map(|it| it.number));
    Cloud {
        fidelity,
        worst_tenth: worst(&ordered, WORST),
        percentiles: (1..100).map(|at| quantile(&ordered, f64::from(at) / 100.0)).collect(),
        profile: (0..targets).map(profile).collect(),
        numbers: uncertain.zip(shares(&|part| &part.numbers)).collect(),
        materials: told.iter().map(|(slot, _)| slots[*slot].material).zip(shares(&|part| &part.materials)).collect(),
        fidelities,
    }
}
