//! Every formula of a small problem, one after the other.

use permil::brief::Basis;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::units::Ppt;

/// Formulas beyond this are too many to list.
const MOST_FORMULAS: usize = 300_000;

/// Doses that a column may take, 0 first where it may be left out.
pub fn choices(problem: &Problem) -> Vec<Vec<Ppt>> {
    let choices = problem.domains().into_iter().map(|domain| match domain {
        Err(_) => vec![Ppt::ZERO],
        Ok(domain) => {
            let mut doses = if domain.must { Vec::new() } else { vec![Ppt::ZERO] };
            let mut dose = domain.least;
            while dose <= domain.most {
                doses.push(dose);
                if domain.step.is_zero() {
                    break;
                }
                dose = dose + domain.step;
            }
            doses
        }
    });
    choices.collect()
}

/// Calls `visit` with every way to choose doses that add up to 1000.
pub fn list(choices: &[Vec<Ppt>], rest: Ppt, doses: &mut Vec<Ppt>, visit: &mut dyn FnMut(&[Ppt])) {
    match choices.split_first() {
        None if rest.is_zero() => visit(doses),
        None => {}
        Some((first, others)) => {
            for &dose in first {
                if dose > rest {
                    break;
                }
                doses.push(dose);
                list(others, rest - dose, doses, visit);
                doses.pop();
            }
        }
    }
}

/// The least loss of all formulas that keep the rules, infinite where there
/// is none; `None` where they are too many to list.
pub fn least_by_listing(problem: &Problem) -> Option<f64> {
    let choices = choices(problem);
    if choices.iter().map(Vec::len).try_fold(1usize, usize::checked_mul).is_none_or(|n| n > 40 * MOST_FORMULAS) {
        return None;
    }
    let checker = Checker::new(problem);
    let mut best = f64::INFINITY;
    list(&choices, Ppt::WHOLE, &mut Vec::new(), &mut |doses| {
        let formula = Formula::from_doses(Basis::Neat, doses);
        if let Ok(evaluation) = evaluate(problem, &formula)
            && evaluation.loss < best
            && checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
        {
            best = evaluation.loss;
        }
    });
    Some(best)
}
