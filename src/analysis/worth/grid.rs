//! Steps that could be finer without a formula that could use it.

use crate::analysis::loosen::{Loosened, Loosening};
use crate::problem::{DoseDomain, Problem, RuleKind};
use crate::units::Ppt;

/// Tells of a rule on the step of one material whether a finer one brings no
/// formula that is not allowed already.
///
/// All doses add up to 1000. Where every other dose is a multiple of a number, and
/// 1000 is too, so is this one; where that number is a multiple of the present step,
/// this dose is on its present step, however fine the new one.
pub(super) struct Grid {
    /// For each column a number of units of which every sum of all other doses is a
    /// multiple, and 1000 less it.
    of_others: Vec<i64>,
    steps: Vec<Ppt>,
}

impl Grid {
    /// The grids of a problem's doses.
    pub(super) fn of(problem: &Problem) -> Grid {
        let multiples = |domain: &DoseDomain| match (domain.is_empty(), domain.fixed) {
            (true, _) => 0,
            (_, true) => domain.least.units(),
            // A continuum is a grid of units.
            _ => domain.step.units().max(1),
        };
        let domains = problem.domains();
        // A column that may not be used may still stay as it was.
        let kept = problem.kept_doses().into_iter().map(|dose| dose.map_or(0, Ppt::units));
        let own = domains.iter().map(|domain| domain.as_ref().map_or(0, multiples));
        let own: Vec<i64> = own.zip(kept).map(|(rules, kept)| divisor(rules, kept)).collect();
        // What lies before each column and what lies after it.
        let mut of_others = vec![Ppt::WHOLE.units(); own.len()];
        for order in [Box::new(0..own.len()) as Box<dyn Iterator<Item = usize>>, Box::new((0..own.len()).rev())] {
            let mut common = 0;
            for column in order {
                of_others[column] = divisor(of_others[column], common);
                common = divisor(common, own[column]);
            }
        }
        let steps = domains.iter().map(|domain| domain.as_ref().map_or(Ppt::ZERO, |domain| domain.step));
        Grid { of_others, steps: steps.collect() }
    }

    /// Whether loosening this changes nothing.
    pub(super) fn holds(&self, problem: &Problem, loosening: &Loosening) -> bool {
        let Loosened::Rules(changes) = &loosening.change else { return false };
        let [(rule, _)] = changes[..] else { return false };
        let RuleKind::DoseStep(column) = problem.rules[rule].kind else { return false };
        let step = self.steps[column].units();
        step > 0 && self.of_others[column] % step == 0
    }
}

/// The greatest common divisor; the other number where one is 0.
fn divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a.abs() } else { divisor(b, a % b) }
}
