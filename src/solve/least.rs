//! The formula inside all rules with the least of a quotient of two sums over
//! the doses: the cheapest, the strongest, the cheapest effect. It is the
//! search with that quotient for a loss: one descriptor of which every column
//! brings its part of the sum above, columns that bring to `D` what they bring
//! to the sum below, and a target of nothing.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Answer, Failure, PROVEN, Status};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::{Problem, Target};
use crate::units::Ppt;

/// The formula with the least.
#[derive(Clone, Debug)]
pub struct Least {
    /// How sure it is; proven to 1e-6 of the quotient, or of 1 if that is more.
    pub status: Status,
    /// The formula, judged by the problem's own target.
    pub answer: Option<Answer>,
    /// No formula inside the rules has a smaller quotient; infinite where there
    /// is no formula at all.
    pub bound: f64,
}

/// The formula with the least quotient of `sum above x` and `sum below x`, each
/// a number a ppt of every column of the problem, none below 0; without
/// `below`, with the least of `sum above x` alone. `known` are formulas that may
/// keep the rules.
///
/// # Errors
/// Where a result failed its check.
pub fn least(
    problem: &Problem,
    above: &[f64],
    below: Option<&[f64]>,
    known: &[Formula],
    control: &Control,
) -> Result<Least, Failure> {
    let real = Blend::new(&problem.plain());
    let verifier = Verifier::new(problem, &real);
    let mut blend = real.clone();
    for column in &mut blend.columns {
        // The doses add up to 1000: a sum of 1 where there is no quotient.
        column.weight = below.map_or(1e-3, |below| below[column.material]);
        column.odours = vec![(0, above[column.material])];
        column.odours.retain(|(_, part)| *part > 0.0);
    }
    blend.targets = vec![Target { descriptor: 0, score: 0.0, weight: 1.0, excess: 1.0 }];
    let quotient = |formula: &Formula| {
        let sum = |of: &[f64]| formula.parts.iter().map(|(column, dose)| of[*column] * dose.as_f64()).sum::<f64>();
        sum(above) / below.map_or(1.0, sum)
    };
    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses)?;
        let candidate = Formula::from_doses(problem.basis, &real.palette_doses(doses));
        let loss = quotient(&candidate);
        loss.is_finite().then_some(Judged { loss, ..judged })
    };
    let formulas = known.iter().filter_map(|formula| real.column_doses(formula)).collect();
    let known = Known { formulas, bound: 0.0, ceiling: None };
    let outcome =
        search::search(&blend, &judge, verifier.tolerance(), Aim::Best, &known, control).map_err(Failure::Internal)?;
    let answer = match outcome.found {
        Some(Found { doses, .. }) => Some(verifier.answer(&doses)?),
        None => None,
    };
    let status = match &answer {
        Some(answer) => {
            let found = quotient(&answer.formula);
            if found - outcome.bound <= PROVEN * found.max(1.0) { Status::Optimal } else { Status::Feasible }
        }
        None if outcome.bound.is_infinite() => Status::Infeasible,
        None => Status::Unknown,
    };
    Ok(Least { status, answer, bound: outcome.bound.max(0.0) })
}
