//! The formula inside the rules whose doses differ least from those of
//! another: the search with the doses themselves for a profile.
//!
//! With one descriptor for each part of the other formula, of which that
//! part's column alone has one point a ppt, one more that all other columns
//! share, and every column bringing the same to `D`, the loss of the search is
//! the sum of all changes in ppt.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Answer, Failure, PROVEN, Status};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::{Problem, Target};
use crate::units::Ppt;

/// The nearest formula.
#[derive(Clone, Debug)]
pub struct Nearest {
    /// How sure it is.
    pub status: Status,
    /// The formula, judged by the problem's own target.
    pub answer: Option<Answer>,
    /// No formula inside the rules changes less, in ppt; infinite where there
    /// is none at all.
    pub bound: f64,
}

/// The sum of the differences between the doses of two formulas.
pub fn change(a: &Formula, b: &Formula) -> Ppt {
    let apart = |x: Ppt, y: Ppt| (x - y).max(y - x);
    let of_a: Ppt = a.parts.iter().map(|&(material, dose)| apart(dose, b.dose(material))).sum();
    let new: Ppt = b.parts.iter().filter(|(it, _)| a.dose(*it).is_zero()).map(|(_, dose)| *dose).sum();
    of_a + new
}

/// The formula inside the rules of a problem nearest to one of its basis. A
/// `ceiling` in ppt says that greater changes are of no use.
///
/// # Errors
/// Where a result failed its check.
pub fn nearest(
    problem: &Problem,
    formula: &Formula,
    ceiling: Option<f64>,
    control: &Control,
) -> Result<Nearest, Failure> {
    let real = Blend::new(problem);
    let verifier = Verifier::new(problem, &real);
    let mut blend = real.clone();
    let place = |material: usize| formula.parts.iter().position(|(part, _)| *part == material);
    for column in &mut blend.columns {
        column.weight = 1e-3;
        column.odours = vec![(place(column.material).unwrap_or(formula.parts.len()), 1.0)];
    }
    let doses = formula.parts.iter().map(|(_, dose)| dose.as_f64()).chain([0.0]);
    // Which descriptor stands for a dose does not matter to the search.
    blend.targets = doses.map(|score| Target { descriptor: 0, score, weight: 1.0, excess: 1.0 }).collect();

    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses)?;
        let candidate = Formula::from_doses(problem.basis, &real.palette_doses(doses));
        Some(Judged { loss: change(formula, &candidate).as_f64(), ..judged })
    };
    let known = Known { formulas: real.column_doses(formula).into_iter().collect(), bound: 0.0, ceiling };
    let outcome =
        search::search(&blend, &judge, verifier.tolerance(), Aim::Best, &known, control).map_err(Failure::Internal)?;
    let answer = match outcome.found {
        Some(Found { doses, .. }) => Some(verifier.answer(&doses)?),
        None => None,
    };
    let status = match &answer {
        Some(answer) => {
            let changed = change(formula, &answer.formula).as_f64();
            let proven = changed - outcome.bound <= PROVEN * changed.max(1.0);
            if proven { Status::Optimal } else { Status::Feasible }
        }
        None if outcome.bound.is_infinite() => Status::Infeasible,
        None => Status::Unknown,
    };
    Ok(Nearest { status, answer, bound: outcome.bound.max(0.0) })
}
