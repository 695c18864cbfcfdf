//! How sure a fidelity is after trials: drawn from what is known of scores and
//! strengths then, which is normal with a covariance, scores within the scale.
//! Drawn rather than taken from slopes, which cancel where a blend meets its
//! target.

use nalgebra::{Cholesky, DMatrix, DVector, SymmetricEigen};

use super::doubt::judge::{Judge, Odours};
use super::doubt::sample::Drawn;
use super::doubt::spread::mean_and_sd;
use super::learn::Unknowns;
use crate::chance::Chance;
use crate::portable::Portable;
use crate::problem::Problem;

/// How many draws.
pub const DRAWS: usize = 4_000;
/// The seed of these draws.
const SEED: u64 = 1;

/// Draws of standard normal numbers, one column a draw: the same for every
/// covariance, so that what a trial teaches is not lost in their chance.
#[derive(Debug)]
pub struct Chances(DMatrix<f64>);

impl Chances {
    /// For so many unknowns.
    pub fn new(unknowns: usize) -> Chances {
        let mut chance = Chance::new(SEED, 0);
        Chances(DMatrix::from_fn(unknowns, DRAWS, |_, _| chance.normal()))
    }

    /// Values of the unknowns, one column a draw.
    pub fn values(&self, unknowns: &Unknowns, mean: &[f64], covariance: &DMatrix<f64>) -> DMatrix<f64> {
        let mut values = root(covariance) * &self.0;
        for mut draw in values.column_iter_mut() {
            for (at, value) in draw.iter_mut().enumerate() {
                *value += mean[at];
                if at < unknowns.score_count() {
                    *value = value.clamp(0.0, unknowns.scale);
                }
            }
        }
        values
    }
}

/// A matrix whose product with its transpose is the covariance.
fn root(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    if let Some(found) = Cholesky::new(covariance.clone()) {
        return found.unpack();
    }
    // Not quite positive, by rounding or because something is certain.
    let found = SymmetricEigen::new(covariance.clone());
    let roots = found.eigenvalues.map(|value| value.max(0.0).sqrt());
    found.eigenvectors * DMatrix::from_diagonal(&roots)
}

/// Standard deviation of a blend's fidelity over such values, in percent. `neat`
/// holds its neat ppt of every palette material.
pub fn fidelity_deviation(problem: &Problem, unknowns: &Unknowns, neat: &[f64], values: &DMatrix<f64>) -> f64 {
    let judge = Judge::new(problem);
    let smells = |material: &usize| neat[*material] > 0.0 && !problem.material(*material).is_carrier();
    let parts: Vec<usize> = (0..neat.len()).filter(smells).collect();
    let mut odours = Odours::new(judge.targets());
    let mut scores = vec![0.0; judge.targets()];
    let mut fidelities = Vec::with_capacity(values.ncols());
    for draw in values.column_iter() {
        odours.clear();
        for &material in &parts {
            let described = problem.material(material);
            let strength = unknowns.strength(material).map_or(described.strength, |at| draw[at].exponential());
            for (score, target) in scores.iter_mut().zip(&problem.targets) {
                let at = unknowns.score(material, target.descriptor);
                *score = at.map_or(described.scores[target.descriptor], |at| draw[at]);
            }
            odours.add(&judge, Drawn { strength, scores: &scores }, neat[material]);
        }
        fidelities.push(judge.fidelity(judge.loss(&odours.of, odours.denominator)));
    }
    mean_and_sd(&fidelities).1
}

/// The mean over draws of the outer product of what each unknown does to the
/// fidelities, `slopes` of each draw in percent: with a covariance `C` the trace
/// of its product with `C` is what the variance of a fidelity is at most (the
/// inequality of Poincaré for normal numbers), and exactly that where a fidelity
/// is linear.
pub fn mean_square_slopes(unknowns: &Unknowns, slopes: &[DVector<f64>]) -> DMatrix<f64> {
    let count = slopes.len().max(1) as f64;
    let mut sum = DMatrix::zeros(unknowns.len(), unknowns.len());
    for slope in slopes {
        sum.ger(1.0 / count, slope, slope, 1.0);
    }
    sum
}

/// A palette's problem with one draw of the unknowns in it.
pub fn drawn_problem(problem: &Problem, unknowns: &Unknowns, values: &[f64]) -> Problem {
    problem.with_palette(unknowns.applied(&problem.palette, values).into())
}
