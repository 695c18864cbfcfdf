//! A formula judged as its own film dries, whatever clocks it was sought by.

use super::Answer;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::problem::check::{Checker, SEARCH_TOLERANCE};

/// A formula judged by the clocks of its own film; `None` where it breaks a rule by them.
pub(super) fn by_its_own(problem: &Problem, formula: &Formula) -> Option<Answer> {
    let own = problem.as_it_dries(formula);
    let tolerance = if problem.is_whole_part() { SEARCH_TOLERANCE } else { 10.0 * SEARCH_TOLERANCE };
    if !Checker::new(&own).breaches(formula, tolerance).is_empty() {
        return None;
    }
    Some(Answer { formula: formula.clone(), evaluation: evaluate(&own, formula).ok()? })
}
