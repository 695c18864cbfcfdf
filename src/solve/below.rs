//! Whether any formula inside the rules has a loss below a ceiling: a search
//! that ends with the first one.

use super::search::{self, Aim, Known};
use super::verify::Verifier;
use super::{Answer, Failure};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::Problem;

/// What was found out.
#[derive(Clone, Debug)]
pub enum Below {
    /// A formula with a loss below the ceiling, verified.
    Found(Box<Answer>),
    /// Proven that there is none.
    Nothing,
    /// Stopped before either was known.
    Unknown,
}

/// Looks for a formula with a loss below `ceiling`, in score points. `known`
/// are formulas that may keep the rules.
///
/// # Errors
/// Where a result failed its check.
pub fn below(problem: &Problem, ceiling: f64, known: &[Formula], control: &Control) -> Result<Below, Failure> {
    let blend = Blend::new(problem);
    let verifier = Verifier::new(problem, &blend);
    let formulas = known.iter().filter_map(|formula| blend.column_doses(formula)).collect();
    let known = Known { formulas, bound: 0.0, ceiling: Some(ceiling) };
    let judge = |doses: &[_]| verifier.judge(doses).filter(|judged| judged.loss < ceiling);
    let outcome =
        search::search(&blend, &judge, verifier.tolerance(), Aim::Any, &known, control).map_err(Failure::Internal)?;
    Ok(match outcome.found {
        Some(found) => Below::Found(Box::new(verifier.answer(&found.doses)?)),
        // The search takes what ties with the ceiling for nothing.
        None if outcome.bound >= ceiling - super::PROVEN * ceiling.max(1.0) => Below::Nothing,
        None => Below::Unknown,
    })
}
