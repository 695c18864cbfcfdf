//! The formula inside the rules whose odour shares differ least from those of
//! another: the search with the odour itself for a profile.
//!
//! With one descriptor for each part of the other formula, of which that
//! part's column alone has its odour, and `D` the odour of the whole, the
//! profile is the odour shares and the loss the sum of their differences.

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
pub struct NearestShares {
    /// How sure it is.
    pub status: Status,
    /// The formula, judged by the problem's own target.
    pub answer: Option<Answer>,
}

/// Sum of the absolute differences of the odour shares of two formulas, in
/// percent from 0 to 200.
fn apart(problem: &Problem, a: &Formula, b: &Formula) -> f64 {
    let shares = |formula: &Formula| {
        let neat = problem.neat_ppt(formula);
        let odours: Vec<f64> =
            problem.palette.materials.iter().zip(neat).map(|(material, ppt)| material.strength * ppt).collect();
        crate::odour::shares(&odours, 1.0)
    };
    shares(a).iter().zip(shares(b)).map(|(a, b)| 100.0 * (a - b).abs()).sum()
}

/// The formula inside the rules of a problem whose odour shares are nearest to
/// those of one of its basis.
///
/// # Errors
/// Where a result failed its check.
pub fn nearest_shares(problem: &Problem, formula: &Formula, control: &Control) -> Result<NearestShares, Failure> {
    let real = Blend::new(&problem.plain());
    let verifier = Verifier::new(problem, &real);
    let mut blend = real.clone();
    let odour = |material: usize| problem.strength_per_ppt(material);
    let parts: Vec<(usize, f64)> =
        formula.parts.iter().map(|&(material, dose)| (material, odour(material) * dose.as_f64())).collect();
    let total: f64 = parts.iter().map(|(_, odour)| odour).sum();
    let place = |material: usize| parts.iter().position(|(part, _)| *part == material).unwrap_or(parts.len());
    for column in &mut blend.columns {
        column.weight = odour(column.material);
        let brought = 100.0 * column.weight;
        column.odours = if brought > 0.0 { vec![(place(column.material), brought)] } else { Vec::new() };
    }
    let shares = parts.iter().map(|(_, odour)| if total > 0.0 { 100.0 * odour / total } else { 0.0 });
    // Which descriptor stands for a part does not matter to the search.
    let target = |score: f64| Target { descriptor: 0, score, weight: 1.0, excess: 1.0 };
    blend.targets = shares.chain([0.0]).map(target).collect();

    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses)?;
        let candidate = Formula::from_doses(problem.basis, &real.palette_doses(doses));
        Some(Judged { loss: apart(problem, formula, &candidate), ..judged })
    };
    let outcome = search::search(&blend, &judge, verifier.tolerance(), Aim::Best, &Known::default(), control)
        .map_err(Failure::Internal)?;
    let answer = match outcome.found {
        Some(Found { doses, .. }) => Some(verifier.answer(&doses)?),
        None => None,
    };
    let status = match &answer {
        Some(answer) => {
            let loss = apart(problem, formula, &answer.formula);
            let proven = loss - outcome.bound <= PROVEN * loss.max(1.0);
            if proven { Status::Optimal } else { Status::Feasible }
        }
        None if outcome.bound.is_infinite() => Status::Infeasible,
        None => Status::Unknown,
    };
    Ok(NearestShares { status, answer })
}
