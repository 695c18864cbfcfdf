//! Draws of a palette's numbers within their errors.
//!
//! A score is normal about what is written, and stands at the end of the scale
//! where a draw would lie beyond; a strength is log-normal. Numbers are
//! independent of each other, but for those that trials have tied together
//! ([`Tied`]). Every material has a stream of its own in every
//! block of draws, so that what is drawn of it does not depend on which other
//! materials are looked at, nor on threads.

use std::sync::Arc;

use super::number::{Number, Part, Uncertain, of_material};
use crate::chance::Chance;
use crate::portable::Portable;
use crate::problem::Problem;
use crate::tied::{Tied, TiedNumber};

/// Draws that are made together.
pub const BLOCK: usize = 250;
/// How many draws, where nothing else is said.
pub const DRAWS: usize = 10_000;
/// Which draws, likewise.
pub const SEED: u64 = 1;

/// A material with its numbers as they are written.
#[derive(Clone, Debug)]
pub struct Slot {
    /// Index into the palette.
    pub material: usize,
    /// Its strength.
    pub strength: f64,
    /// Its score in each target.
    pub scores: Vec<f64>,
    /// Its uncertain numbers.
    pub uncertain: Vec<Uncertain>,
    /// The end of the scale.
    scale: f64,
}

/// Numbers of one material in one draw.
#[derive(Clone, Copy, Debug)]
pub struct Drawn<'a> {
    /// Its strength.
    pub strength: f64,
    /// Its score in each target.
    pub scores: &'a [f64],
}

/// A block of draws of one material.
#[derive(Clone, Debug)]
pub struct Block {
    /// Strength and scores, draw by draw.
    numbers: Vec<f64>,
    width: usize,
}

impl Slot {
    /// A material of a problem.
    fn new(problem: &Problem, material: usize) -> Slot {
        let described = problem.material(material);
        Slot {
            material,
            strength: described.strength,
            scores: problem.targets.iter().map(|target| described.scores[target.descriptor]).collect(),
            uncertain: of_material(problem, material),
            scale: problem.palette.scale,
        }
    }

    /// Standard normal numbers of two independent blocks of so many draws, one for each
    /// uncertain number, draw by draw.
    fn normals(&self, seed: u64, block: usize, draws: usize) -> [Vec<f64>; 2] {
        let mut chance = Chance::new(seed, ((block as u64) << 32) | self.material as u64);
        let mut normals = [(); 2].map(|()| Vec::with_capacity(self.uncertain.len() * draws));
        for _ in 0..draws {
            for of_block in &mut normals {
                of_block.extend(self.uncertain.iter().map(|_| chance.normal()));
            }
        }
        normals
    }

    /// A draw with these errors of the uncertain numbers.
    fn draw(&self, errors: impl Iterator<Item = f64>, into: &mut Vec<f64>) {
        let start = into.len();
        into.push(self.strength);
        into.extend_from_slice(&self.scores);
        for (uncertain, by) in self.uncertain.iter().zip(errors) {
            match uncertain.number.part {
                Part::Strength => into[start] *= by.exponential(),
                Part::Score(target) => {
                    let score = &mut into[start + 1 + target];
                    *score = (*score + by).clamp(0.0, self.scale);
                }
            }
        }
    }
}

/// Some materials of a problem, of which draws are made.
#[derive(Clone, Debug)]
pub struct Sampler {
    /// The materials, in the order in which they were asked for.
    pub slots: Vec<Slot>,
    /// Further materials whose errors are tied to theirs.
    beside: Vec<Slot>,
    tied: Option<Arc<Tied>>,
    /// For each slot, and then for each further material, where its uncertain numbers stand
    /// among the tied ones.
    places: Vec<Vec<Option<usize>>>,
}

impl Sampler {
    /// Of these materials.
    pub fn new(problem: &Problem, materials: impl Iterator<Item = usize>) -> Sampler {
        let slots: Vec<Slot> = materials.map(|material| Slot::new(problem, material)).collect();
        let tied = problem.palette.tied.clone();
        let others = tied.iter().flat_map(|tied| tied.materials());
        let others = others.filter(|material| slots.iter().all(|slot| slot.material != *material));
        let beside: Vec<Slot> = others.map(|material| Slot::new(problem, material)).collect();
        let place = |uncertain: &Uncertain| {
            let Number { material, part } = uncertain.number;
            let descriptor = match part {
                Part::Strength => None,
                Part::Score(target) => Some(problem.targets[target].descriptor),
            };
            tied.as_ref()?.place(TiedNumber { material, descriptor })
        };
        let places = slots.iter().chain(&beside).map(|slot| slot.uncertain.iter().map(place).collect()).collect();
        Sampler { slots, beside, tied, places }
    }

    /// Two independent blocks of so many draws of each material.
    pub fn both(&self, seed: u64, block: usize, draws: usize) -> [Vec<Block>; 2] {
        let normals = self.normals(seed, block, draws);
        [0, 1].map(|which| (0..self.slots.len()).map(|at| self.block(&normals, at, which, draws)).collect())
    }

    /// The first of these blocks alone.
    pub fn first(&self, seed: u64, block: usize, draws: usize) -> Vec<Block> {
        let normals = self.normals(seed, block, draws);
        (0..self.slots.len()).map(|at| self.block(&normals, at, 0, draws)).collect()
    }

    fn normals(&self, seed: u64, block: usize, draws: usize) -> Normals {
        let all = self.slots.iter().chain(&self.beside);
        let own: Vec<[Vec<f64>; 2]> = all.clone().map(|slot| slot.normals(seed, block, draws)).collect();
        let count = self.tied.as_ref().map_or(0, |tied| tied.numbers().len());
        let mut together = [(); 2].map(|()| vec![0.0; count * draws]);
        for ((slot, places), own) in all.zip(&self.places).zip(&own) {
            for (together, own) in together.iter_mut().zip(own) {
                for (at, place) in places.iter().enumerate().filter_map(|(at, place)| Some((at, (*place)?))) {
                    let of_number = own.iter().skip(at).step_by(slot.uncertain.len());
                    together[place * draws..].iter_mut().zip(of_number).for_each(|(to, normal)| *to = *normal);
                }
            }
        }
        Normals { own, together }
    }

    fn block(&self, normals: &Normals, at: usize, which: usize, draws: usize) -> Block {
        let (slot, places) = (&self.slots[at], &self.places[at]);
        let (own, together) = (&normals.own[at][which], &normals.together[which]);
        let count = slot.uncertain.len();
        let errors = |(at, (uncertain, place)): (usize, (&Uncertain, &Option<usize>))| match (place, &self.tied) {
            (Some(place), Some(tied)) => tied.errors(*place, together, draws),
            _ => own.iter().skip(at).step_by(count).map(|normal| uncertain.deviation * normal).collect(),
        };
        let errors: Vec<Vec<f64>> = slot.uncertain.iter().zip(places).enumerate().map(errors).collect();
        let width = slot.scores.len() + 1;
        let mut numbers = Vec::with_capacity(width * draws);
        for draw in 0..draws {
            slot.draw(errors.iter().map(|errors| errors[draw]), &mut numbers);
        }
        Block { numbers, width }
    }
}

/// Standard normal numbers of the uncertain numbers.
struct Normals {
    /// Of every slot and every further material, in two blocks, draw by draw.
    own: Vec<[Vec<f64>; 2]>,
    /// Those of the tied numbers once more, number by number.
    together: [Vec<f64>; 2],
}

impl Block {
    /// One draw of it.
    pub fn draw(&self, draw: usize) -> Drawn<'_> {
        let numbers = &self.numbers[draw * self.width..(draw + 1) * self.width];
        Drawn { strength: numbers[0], scores: &numbers[1..] }
    }
}
