//! What can go: how good the formula could still be without one of its
//! materials, everything else solved again.

use crate::control::Control;
use crate::pool::in_parallel;
use crate::problem::Problem;
use crate::solve::{Answer, Method, Start, Status, propose_from};

/// The best formula without one material.
#[derive(Clone, Debug)]
pub struct Without {
    /// The material that is left out.
    pub material: usize,
    /// What came of it.
    pub then: Then,
}

/// What came of leaving a material out.
#[derive(Clone, Debug)]
pub enum Then {
    /// The best formula without it, and whether that is proven.
    Formula(Box<Answer>, bool),
    /// The brief asks for it outright: index of the rule.
    Required(usize),
    /// Proven that no formula keeps the rules without it.
    Impossible,
    /// Not found out in time.
    NotComputed,
}

/// For each material of a formula, in the formula's order, what is left when
/// it may not be used, in what is left of the control's time. `bound` is a
/// proven lower bound on the loss of every formula of the problem.
pub fn without_each(problem: &Problem, best: &Answer, bound: f64, method: Method, control: &Control) -> Vec<Without> {
    let parts = &best.formula.parts;
    let found = in_parallel(parts, control, |&(material, _)| without(problem, material, bound, method, control));
    let materials = parts.iter().map(|&(material, _)| material);
    materials.zip(found).map(|(material, then)| Without { material, then: then.unwrap_or(Then::NotComputed) }).collect()
}

fn without(problem: &Problem, material: usize, bound: f64, method: Method, control: &Control) -> Then {
    if let Some(rule) = problem.rules.iter().position(|rule| rule.kind.asks_for() == Some(material)) {
        return Then::Required(rule);
    }
    let start = Start { bound, ..Start::default() };
    match propose_from(&problem.leaving_out(material), &start, method, control) {
        Ok(solution) => match (solution.answer, solution.status) {
            (Some(answer), status) => Then::Formula(Box::new(answer), status == Status::Optimal),
            (None, Status::Infeasible) => Then::Impossible,
            (None, _) => Then::NotComputed,
        },
        Err(_) => Then::NotComputed,
    }
}
