//! Why a proposal is what it is: all that is worked out beside the formula
//! itself.

use super::repair::Reasons;
use super::ways_out::{WayOut, ways_out};
use super::without::{Without, without_each};
use super::worth::{Worths, worths};
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{Method, Solution, Status};

/// How much of the time that is left the ways out of idle weight may take.
const FOR_WAYS_OUT: f64 = 0.4;
/// How much of the time that is then left what could go may take.
const FOR_MATERIALS: f64 = 0.5;

/// What is known around a solution.
#[derive(Clone, Debug, Default)]
pub struct Explanation {
    /// Why there is no formula, where that is proven.
    pub reasons: Reasons,
    /// What would make more of the formula heard; none where little is idle.
    pub ways_out: Vec<WayOut>,
    /// What each rule costs; `None` where it was not asked for.
    pub worths: Option<Worths>,
    /// What each material is missed for; `None` where it was not asked for.
    pub without: Option<Vec<Without>>,
}

impl Explanation {
    /// Explains a solution in what is left of the control's time. `worth`
    /// asks for what takes solving again.
    pub fn of(problem: &Problem, solution: &Solution, worth: bool, method: Method, control: &Control) -> Explanation {
        if solution.status == Status::Infeasible {
            return Explanation { reasons: Reasons::of(problem, control), ..Explanation::default() };
        }
        let Some(best) = &solution.answer else { return Explanation::default() };
        let bound = solution.bound.unwrap_or(0.0);
        let solved = worth.then_some(method);
        let ways_out = ways_out(problem, best, bound, solved, &control.with_share(FOR_WAYS_OUT));
        // There are many more rules than materials: what could go is asked
        // first, and what it leaves of the time is for the rules.
        let without = worth.then(|| without_each(problem, best, bound, method, &control.with_share(FOR_MATERIALS)));
        let worths = worth.then(|| worths(problem, best, method, control));
        Explanation { worths, without, ways_out, ..Explanation::default() }
    }
}
