//! The numbers of a palette that are one nose's judgement.

use super::{SCORE_ERROR, STRENGTH_FACTOR};
use crate::portable::Portable;
use crate::problem::Problem;

/// A number of a palette that may be off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Number {
    /// Index into the palette.
    pub material: usize,
    /// Which of its numbers.
    pub part: Part,
}

/// A number of a material.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// Its strength.
    Strength,
    /// Its score in a descriptor that counts (index into the problem's targets).
    Score(usize),
}

/// How uncertain a number is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertain {
    /// Which number.
    pub number: Number,
    /// One standard deviation, above 0: points of a score, the logarithm of a
    /// strength's factor.
    pub deviation: f64,
}

/// The uncertain numbers of a material: its strength, then its scores above 0
/// in the order of the targets. What is written as certain is left out, and a
/// carrier has none.
pub fn of_material(problem: &Problem, index: usize) -> Vec<Uncertain> {
    let material = problem.material(index);
    let uncertain = |part: Part, deviation: f64| Uncertain { number: Number { material: index, part }, deviation };
    let score_error = material.score_error.unwrap_or(SCORE_ERROR);
    let strength = material.strength_factor.unwrap_or(STRENGTH_FACTOR).logarithm();
    let smelled = (0..problem.targets.len()).filter(|&at| material.scores[problem.targets[at].descriptor] > 0.0);
    let mut numbers = vec![uncertain(Part::Strength, strength)];
    numbers.extend(smelled.map(|at| uncertain(Part::Score(at), score_error)));
    numbers.retain(|it| it.deviation > 0.0 && !material.is_carrier());
    numbers
}
