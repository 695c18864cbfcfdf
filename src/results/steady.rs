//! What a search over the draws found, for steadiness or for the best match to be
//! expected, as reports say it.

use serde::Serialize;

use super::FormulaParts;
use crate::analysis::steady::{Merit, Steady};
use crate::problem::Problem;
use crate::solve::Answer;

/// The best formula that was found by what is sought, beside the best on paper.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SteadyReport {
    /// How many fresh draws both were judged on.
    pub draws: usize,
    /// How many formulas were tried and improved.
    pub candidates: usize,
    /// Whether it is better by more than sampling alone could bring; the report is
    /// about it then, else about the best on paper.
    pub buys: bool,
    /// What is sought of it less that of the best on paper, in points: steadiness, or
    /// the mean fidelity.
    pub gain: f64,
    /// One standard deviation of that, from the number of draws.
    pub gain_error: f64,
    /// Percent of the draws in which it is nearer the target.
    pub nearer: f64,
    /// Always false: nothing is proven of averages over draws.
    pub proven: bool,
    /// The best formula that was found.
    pub found: MeritLine,
    /// The best formula on paper.
    pub best_on_paper: MeritLine,
}

/// What a formula is worth over draws.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeritLine {
    /// Its doses.
    pub formula: FormulaParts,
    /// Fidelity by the numbers as they are written, in percent.
    pub on_paper: f64,
    /// Mean fidelity.
    pub mean: f64,
    /// Mean of the worst tenth.
    pub worst_tenth: f64,
    /// One draw in twenty lies below.
    pub p5: f64,
    /// One draw in twenty lies above.
    pub p95: f64,
    /// Half the mean and half the worst tenth.
    pub steadiness: f64,
}

impl SteadyReport {
    /// Of a search; `best` is the best formula on paper.
    pub fn new(problem: &Problem, best: &Answer, found: &Steady) -> SteadyReport {
        let line = |answer: &Answer, merit: &Merit| MeritLine {
            formula: FormulaParts::new(problem, &answer.formula),
            on_paper: merit.on_paper,
            mean: merit.mean,
            worst_tenth: merit.worst_tenth,
            p5: merit.nine_in_ten.0,
            p95: merit.nine_in_ten.1,
            steadiness: merit.steadiness(),
        };
        SteadyReport {
            draws: found.draws,
            candidates: found.candidates,
            buys: found.buys(),
            gain: found.gain,
            gain_error: found.gain_error,
            nearer: 100.0 * found.nearer,
            proven: false,
            found: line(&found.answer, &found.merit),
            best_on_paper: line(best, &found.paper),
        }
    }
}
