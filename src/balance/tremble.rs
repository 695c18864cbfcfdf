//! What the errors of all weighings together do to the blend: a simulation.

use super::sheet::Sheet;
use crate::chance::Chance;
use crate::evaluate::{Evaluation, as_judged, evaluate};
use crate::problem::Problem;

/// Batches that are tried.
pub const DRAWS: usize = 1000;
/// The share of them that lies inside the ends, in percent.
pub const INSIDE_PERCENT: f64 = 90.0;

/// Where nine of ten batches lie.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tremble {
    /// Fidelity in percent, least and greatest.
    pub fidelity_percent: (f64, f64),
    /// The blend in points, for each of the problem's targets.
    pub profile: Vec<(f64, f64)>,
}

/// Weighs a sheet so many times; `None` where the formula has no odour. All goes
/// into one vessel, so each mass is the difference of two readings, each of
/// them off by anything up to half a step: what one line has too much the next
/// has too little.
pub fn tremble(problem: &Problem, sheet: &Sheet, step_grams: f64, seed: u64) -> Option<Tremble> {
    // In the view that is missed most; a hair more or less leaves as much on paper.
    let exact: Vec<f64> = sheet.lines.iter().map(|line| line.grams).collect();
    let problem = &as_judged(problem, &sheet.formula(&exact));
    let mut chance = Chance::new(seed, 0);
    let mut tried: Vec<Evaluation> = Vec::with_capacity(DRAWS);
    // The profile is that of the accord as it is mixed; the match that of the worst view.
    let plain = problem.plain();
    let mut profiles: Vec<Vec<f64>> = Vec::with_capacity(DRAWS);
    for _ in 0..DRAWS {
        let mut before = 0.0;
        let off = |line: &super::sheet::Line| {
            let reading = step_grams * chance.between(-0.5, 0.5);
            // Nothing weighs less than nothing.
            (line.grams + reading - std::mem::replace(&mut before, reading)).max(0.0)
        };
        let grams: Vec<f64> = sheet.lines.iter().map(off).collect();
        let formula = sheet.formula(&grams);
        tried.push(evaluate(problem, &formula).ok()?);
        profiles.push(evaluate(&plain, &formula).ok()?.profile);
    }
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        let mut values: Vec<f64> = values.collect();
        values.sort_by(f64::total_cmp);
        let outside = ((100.0 - INSIDE_PERCENT) / 200.0 * DRAWS as f64) as usize;
        (values[outside], values[DRAWS - 1 - outside])
    };
    let profile = (0..problem.targets.len()).map(|at| ends(&mut profiles.iter().map(|profile| profile[at]))).collect();
    Some(Tremble { fidelity_percent: ends(&mut tried.iter().map(|it| it.fidelity_percent)), profile })
}
