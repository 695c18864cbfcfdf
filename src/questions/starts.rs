//! Which formulas are nearly as near as the best and as different from each
//! other as can be: points to start smelling from.

use std::sync::Arc;

use super::{NO_BLEND, Outcome, Refusal, Resolved, best, reasons};
use crate::analysis::from_known::from_known;
use crate::analysis::starts;
use crate::chance::Chance;
use crate::composition::Composition;
use crate::control::Control;
use crate::escape::escaped;
use crate::problem::{Nearby, Problem};
use crate::results::starts::StartsReport;
use crate::solve::{self, Method, Solution, Status};

/// Share of the time for the best formula; the rest is for the others.
const FOR_THE_BEST: f64 = 0.5;
/// The stream of random numbers that codes are drawn from.
const CODES: u64 = u64::MAX;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// How many formulas.
    pub count: usize,
    /// Points of fidelity that each may lie below the best.
    pub margin: f64,
    /// Seed of the random directions and codes.
    pub seed: u64,
    /// Whether they have codes of three digits, to be smelled without knowing.
    pub blind: bool,
    /// Which method answers.
    pub method: Method,
}

/// What is asked for on the way from a known formula.
#[derive(Clone, Copy, Debug)]
pub struct From<'a> {
    /// The known formula.
    pub composition: &'a Composition,
    /// How many formulas, the best among them.
    pub count: usize,
    /// Which method answers.
    pub method: Method,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked { count: 6, margin: 3.0, seed: 1, blind: false, method: Method::Auto }
    }
}

impl Asked {
    /// The codes, one for each formula that is asked for; none unless they are
    /// to be smelled blind.
    pub fn codes(&self) -> Vec<u32> {
        match self.blind {
            true => Chance::new(self.seed, CODES).different(self.count, 100, 1000),
            false => Vec::new(),
        }
    }
}

/// The formulas.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of them.
    pub report: StartsReport,
    /// The formulas in the order of their choice, the best first.
    pub chosen: Vec<solve::Answer>,
    /// Their codes in the same order, where they have some.
    pub codes: Vec<u32>,
    /// How sure the best is.
    pub status: Status,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.status, NO_BLEND)
    }
}

/// Finds the best formula and others that lie apart from it.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask(of: &Resolved, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    of.linear("starts")?;
    let of = of.settled(asked.method, &control.with_share(FOR_THE_BEST))?;
    let best = best(of, asked.method, &control.with_share(FOR_THE_BEST))?;
    around(of, asked, best, &control.untold())
}

/// Finds formulas on the way from a known one to the best.
///
/// # Errors
/// As [`ask`]; and where nothing of the known formula that smells is on the shelf.
pub fn from(of: &Resolved, asked: &From<'_>, control: &Control) -> Result<Answer, Refusal> {
    let Some(near) = Nearby::of(&of.problem.palette, asked.composition) else {
        return Err(Refusal::Wrong(format!("nothing of {} is on the shelf", escaped(&asked.composition.file))));
    };
    let of = of.settled(asked.method, &control.with_share(FOR_THE_BEST))?;
    let skeleton = near.skeleton.clone();
    let problem = Problem { near: Some(Arc::new(near)), ..of.problem.clone() };
    let best = best(of, asked.method, &control.with_share(FOR_THE_BEST))?;
    let control = control.untold();
    let done = |done, of| control.count("formulas", done, of);
    let wanted = starts::Asked { count: asked.count, margin: 0.0, seed: Asked::default().seed };
    let found = from_known(&problem, &skeleton, wanted, best, &control, &done)?;
    let status = found.best.status;
    let reasons = reasons(&problem, status, &control);
    let report = StartsReport::new(&problem, &of.brief, wanted, &found, &[], &reasons, of.warnings.clone());
    Ok(Answer { report, chosen: found.chosen, codes: Vec::new(), status })
}

/// The same where the best formula is known.
///
/// # Errors
/// As [`ask`].
pub fn around(of: &Resolved, asked: &Asked, best: Solution, control: &Control) -> Result<Answer, Refusal> {
    let problem = &of.problem;
    let done = |done, of| control.count("directions", done, of);
    let wanted = starts::Asked { count: asked.count, margin: asked.margin, seed: asked.seed };
    let found = starts::starts(problem, wanted, best, asked.method, control, &done)?;
    let status = found.best.status;
    let mut codes = asked.codes();
    codes.truncate(found.chosen.len());
    let reasons = reasons(problem, status, control);
    let report = StartsReport::new(problem, &of.brief, wanted, &found, &codes, &reasons, of.warnings.clone());
    Ok(Answer { report, chosen: found.chosen, codes, status })
}
