//! The most of each material in any of several formulas: what is told of all of
//! them goes by that.

use crate::problem::Problem;
use crate::solve::Answer;

/// The most of each material in any of several formulas, in neat ppt.
pub fn most_neat<'a>(problem: &Problem, answers: impl Iterator<Item = &'a Answer>) -> Option<Vec<f64>> {
    let mut most = vec![0.0_f64; problem.palette.materials.len()];
    let mut seen = false;
    for answer in answers {
        seen = true;
        most.iter_mut().zip(&answer.evaluation.neat_ppt).for_each(|(most, ppt)| *most = most.max(*ppt));
    }
    seen.then_some(most)
}
