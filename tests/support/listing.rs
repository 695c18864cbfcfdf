//! Every formula of a small problem, one after the other.

use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::units::Ppt;

/// Choices of doses beyond this are too many to go through.
const MOST_CHOICES: usize = 12_000_000;

/// How many ways there are to choose a dose for each column, whatever their
/// sum; `None` where a dose is continuous or there are too many to count.
pub fn choice_count(problem: &Problem) -> Option<usize> {
    let count = |domain: Result<permil::problem::DoseDomain, _>| match domain {
        Err(_) => Some(1),
        Ok(domain) if domain.is_empty() => Some(1),
        Ok(domain) if !domain.on_grid() => None,
        Ok(domain) if domain.step.is_zero() => Some(2),
        Ok(domain) => usize::try_from((domain.most - domain.least).units() / domain.step.units() + 2).ok(),
    };
    problem.domains().into_iter().map(count).try_fold(1usize, |product, count| product.checked_mul(count?))
}

/// Doses that each column may take, 0 first where it may be left out. A
/// column with a dose that is neither 0 nor on a grid is taken at its least.
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
pub fn list(choices: &[Vec<Ppt>], visit: &mut dyn FnMut(&[Ppt])) {
    fn below(choices: &[Vec<Ppt>], rest: Ppt, doses: &mut Vec<Ppt>, visit: &mut dyn FnMut(&[Ppt])) {
        match choices.split_first() {
            None if rest.is_zero() => visit(doses),
            None => {}
            Some((first, others)) => {
                for &dose in first {
                    if dose > rest {
                        break;
                    }
                    doses.push(dose);
                    below(others, rest - dose, doses, visit);
                    doses.pop();
                }
            }
        }
    }
    below(choices, Ppt::WHOLE, &mut Vec::new(), visit);
}

/// The least loss of all formulas that keep every rule to within a part
/// `tolerance` of its size; infinite where there is none.
pub fn least_loss(problem: &Problem, tolerance: f64) -> f64 {
    let checker = Checker::new(problem);
    let mut best = f64::INFINITY;
    list(&choices(problem), &mut |doses| {
        let formula = Formula::from_doses(problem.basis, doses);
        if let Ok(evaluation) = evaluate(problem, &formula)
            && evaluation.loss < best
            && checker.breaches(&formula, tolerance).is_empty()
        {
            best = evaluation.loss;
        }
    });
    best
}

/// The same; `None` where they are too many to list.
pub fn least_by_listing(problem: &Problem) -> Option<f64> {
    choice_count(problem).is_some_and(|count| count <= MOST_CHOICES).then(|| least_loss(problem, SEARCH_TOLERANCE))
}
