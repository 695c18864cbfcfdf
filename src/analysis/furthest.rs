//! How far one can go in a direction in which not all can be had that was
//! asked for.

use crate::control::Control;
use crate::evaluate::evaluate;
use crate::problem::Problem;
use crate::solve::{Answer, Feasibility, feasibility};

/// Steps by which it is found out how far one can go: to 1/256 of what was
/// asked.
const HALVINGS: usize = 8;

/// How far one can go.
#[derive(Clone, Debug)]
pub struct Furthest {
    /// So many points in every wanted direction at once.
    pub by: f64,
    /// A formula that goes so far, inside the rules.
    pub answer: Answer,
}

/// A formula inside the rules, judged.
pub(super) fn possible(rules: &Problem, control: &Control) -> Option<Answer> {
    match feasibility(rules, control) {
        Feasibility::Possible(formula) => {
            let evaluation = evaluate(rules, &formula).ok()?;
            Some(Answer { formula, evaluation })
        }
        _ => None,
    }
}

/// How far one can go, by halving; `reaches` gives a formula that goes so far.
pub(super) fn furthest(
    asked: f64,
    control: &Control,
    reaches: &dyn Fn(f64, &Control) -> Option<Answer>,
) -> Option<Furthest> {
    let mut best = Furthest { by: 0.0, answer: reaches(0.0, control)? };
    let (mut low, mut high) = (0.0, asked);
    for _ in 0..HALVINGS {
        if control.should_stop() {
            break;
        }
        let by = f64::midpoint(low, high);
        match reaches(by, control) {
            Some(answer) => {
                best = Furthest { by, answer };
                low = by;
            }
            None => high = by,
        }
    }
    Some(best)
}
