//! Mods that teach while they aim, as reports say it.

use serde::Serialize;

use super::FormulaParts;
use crate::analysis::teaching::{Mod, Teaching};
use crate::problem::Problem;

/// What to weigh for one session, so that the end of the loop comes nearest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TeachingReport {
    /// Points of the expected match that a mod may lie below the best.
    pub margin: f64,
    /// One standard deviation of what the nose tells, in points, as it was taken.
    pub give_or_take: f64,
    /// Formulas that they were chosen from.
    pub pool: usize,
    /// The match to be expected of the best formula of the pool, in percent.
    pub best_now: f64,
    /// The mods, in the order in which they were chosen; the report is about the first.
    pub mods: Vec<ModLine>,
    /// Always false: nothing is proven of averages over draws.
    pub proven: bool,
}

/// A mod for the session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModLine {
    /// Its doses.
    pub formula: FormulaParts,
    /// The match to be expected of it, in percent.
    pub expected: f64,
    /// Fidelity by the numbers in the middle, in percent.
    pub on_paper: f64,
    /// One draw in twenty lies below.
    pub p5: f64,
    /// One draw in twenty lies above.
    pub p95: f64,
    /// The match to be expected of the best formula of the pool once this mod and those
    /// before it were smelled, in percent.
    pub best_after: f64,
}

impl TeachingReport {
    /// Of what was chosen.
    pub fn new(problem: &Problem, found: &Teaching) -> TeachingReport {
        let line = |one: &Mod| ModLine {
            formula: FormulaParts::new(problem, &one.answer.formula),
            expected: one.expected,
            on_paper: one.answer.evaluation.fidelity_percent,
            p5: one.nine_in_ten.0,
            p95: one.nine_in_ten.1,
            best_after: one.best_after,
        };
        TeachingReport {
            margin: found.asked.margin,
            give_or_take: found.asked.error,
            pool: found.pool,
            best_now: found.best_now,
            mods: found.mods.iter().map(line).collect(),
            proven: false,
        }
    }
}
