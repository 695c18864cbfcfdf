//! Draws of a palette's numbers within their errors.
//!
//! A score is normal about what is written, and stands at the end of the scale
//! where a draw would lie beyond; a strength is log-normal. Numbers are
//! independent of each other. Every material has a stream of its own in every
//! block of draws, so that what is drawn of it does not depend on which other
//! materials are looked at, nor on threads.

use super::number::{Part, Uncertain, of_material};
use crate::chance::Chance;
use crate::portable::Portable;
use crate::problem::Problem;

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
    pub fn new(problem: &Problem, material: usize) -> Slot {
        let described = problem.material(material);
        Slot {
            material,
            strength: described.strength,
            scores: problem.targets.iter().map(|target| described.scores[target.descriptor]).collect(),
            uncertain: of_material(problem, material),
            scale: problem.palette.scale,
        }
    }

    /// Two independent blocks of so many draws.
    pub fn blocks(&self, seed: u64, block: usize, draws: usize) -> [Block; 2] {
        let mut chance = Chance::new(seed, ((block as u64) << 32) | self.material as u64);
        let width = self.scores.len() + 1;
        let mut blocks = [(); 2].map(|()| Block { numbers: Vec::with_capacity(width * draws), width });
        for _ in 0..draws {
            for block in &mut blocks {
                self.draw(&mut chance, &mut block.numbers);
            }
        }
        blocks
    }

    /// The first of these blocks alone.
    pub fn first_block(&self, seed: u64, block: usize, draws: usize) -> Block {
        let mut chance = Chance::new(seed, ((block as u64) << 32) | self.material as u64);
        let width = self.scores.len() + 1;
        let mut first = Block { numbers: Vec::with_capacity(width * draws), width };
        for _ in 0..draws {
            self.draw(&mut chance, &mut first.numbers);
            // The second block's numbers lie between the first one's.
            self.uncertain.iter().for_each(|_| {
                chance.normal();
            });
        }
        first
    }

    fn draw(&self, chance: &mut Chance, into: &mut Vec<f64>) {
        let start = into.len();
        into.push(self.strength);
        into.extend_from_slice(&self.scores);
        for uncertain in &self.uncertain {
            let by = uncertain.deviation * chance.normal();
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

impl Block {
    /// One draw of it.
    pub fn draw(&self, draw: usize) -> Drawn<'_> {
        let numbers = &self.numbers[draw * self.width..(draw + 1) * self.width];
        Drawn { strength: numbers[0], scores: &numbers[1..] }
    }
}
