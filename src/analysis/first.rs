//! Which numbers of a shelf to smell first for a brief: those that most of the
//! uncertainty of the match comes from, by what `doubt` says each contributes.
//!
//! Looked at is the best blend over any doses, counts and steps set aside: it is
//! found at once, and holds what a proposal is made of.

use super::doubt::draws::{Asked, doubt};
use super::doubt::number::Number;
use super::doubt::shares::Share;
use super::doubt::spread::Spread;
use super::doubt::told::SEED;
use crate::control::Control;
use crate::evaluate::as_judged;
use crate::problem::Problem;
use crate::solve::{Method, propose};

/// How many draws: shares are told in whole percent.
pub const DRAWS: usize = 4_000;
/// Numbers that are named.
const NAMED: usize = 8;
/// The least share that is worth a line.
const WORTH: f64 = 0.01;

/// The numbers to smell first.
#[derive(Clone, Debug)]
pub struct First {
    /// What the draws were judged by: the worst view of the best blend over any doses.
    pub problem: Problem,
    /// The match of the blend that was looked at, over the draws, in percent.
    pub fidelity: Spread,
    /// The numbers, those that most of its variance comes from first, each with
    /// its share.
    pub numbers: Vec<(Number, Share)>,
}

impl First {
    /// Works them out; `None` where no blend keeps the rules or the control stopped
    /// it.
    pub fn of(problem: &Problem, control: &Control) -> Option<First> {
        // The draws are judged by the linear law alone.
        if !problem.is_linear() {
            return None;
        }
        let relaxed = problem.relaxed();
        let best = propose(&relaxed, Method::Auto, &control.untold()).ok()?.answer?;
        let asked = Asked { draws: DRAWS, seed: SEED, shares: true };
        let seen = as_judged(problem, &best.formula);
        let cloud = doubt(&seen, &[best.formula], asked, control)?.clouds.pop()?;
        let mut numbers = cloud.numbers;
        numbers.retain(|(_, share)| share.first >= WORTH);
        numbers.sort_by(|a, b| b.1.first.total_cmp(&a.1.first));
        numbers.truncate(NAMED);
        Some(First { problem: seen, fidelity: cloud.fidelity, numbers })
    }
}
