//! How far a fidelity may be off because scores and strengths are one nose's
//! judgement: by drawing them within their errors. [`told`] is what every report
//! tells, [`draws`] the whole answer of `doubt`. What each number does to first
//! order (the law of propagation of uncertainty for independent inputs, JCGM
//! 100:2008, 5.1.2) only guides searches and is shown nowhere: it vanishes where a
//! blend meets its target.

pub mod draws;
pub mod fidelities;
pub mod judge;
pub mod number;
pub mod paper;
pub mod sample;
pub mod shares;
pub mod slopes;
pub mod spread;
pub mod told;

pub use crate::strength::STRENGTH_FACTOR;
pub use told::fidelity_deviation;

use number::{Number, Part};
use slopes::LossSlopes;

use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;

pub use crate::palette::SCORE_ERROR;

/// What one standard deviation of each uncertain number does to a formula's
/// fidelity, in percent and to first order, in the order of the numbers.
pub fn fidelity_moves(problem: &Problem, formula: &Formula) -> Option<Vec<(Number, f64)>> {
    let evaluation = evaluate(problem, formula).ok()?;
    let slopes = LossSlopes::new(problem, &evaluation);
    let used = (0..problem.palette.materials.len()).filter(|&material| evaluation.neat_ppt[material] > 0.0);
    let mut moves: Vec<(Number, f64)> = used.flat_map(|material| moves_of(problem, &slopes, material)).collect();
    let percent = -100.0 / problem.worst_loss();
    moves.iter_mut().for_each(|(_, by)| *by *= percent);
    Some(moves)
}

/// What one standard deviation of each uncertain number of a material adds to
/// the loss, in points.
fn moves_of(problem: &Problem, slopes: &LossSlopes, index: usize) -> Vec<(Number, f64)> {
    let by = |part: Part| match part {
        Part::Strength => slopes.of_strength(index),
        Part::Score(counted) => slopes.of_score(index, counted),
    };
    let uncertain = number::of_material(problem, index).into_iter();
    uncertain.map(|it| (it.number, by(it.number.part) * it.deviation)).collect()
}
