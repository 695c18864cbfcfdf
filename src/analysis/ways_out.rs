//! What would make more of a formula heard: the best formula with little idle
//! weight, and the best that is half as strong as the material whose place it
//! takes, each solved again under one more rule.

use crate::control::Control;
use crate::problem::idle::{Idle, TOLD_PPT};
use crate::problem::{Bound, Problem, RuleId, RuleKind};
use crate::solve::{Answer, Method, Solution, Start, propose_from};

/// The strength that is asked for, as a part of the target material's.
pub const OF_TARGET: f64 = 0.5;

/// One more rule, and what it comes to.
#[derive(Clone, Debug)]
pub struct WayOut {
    /// The rule's id.
    pub rule: RuleId,
    /// The number it would stand at.
    pub at: f64,
    /// The best formula then; `None` where there was no time, or it was not asked
    /// for.
    pub then: Option<Solution>,
}

/// The ways out of a formula of which much is idle; none where little is. `bound`
/// is a loss that none inside the rules is below. Each may take a share of the
/// time that is left; without a `method` none is solved.
pub fn ways_out(
    problem: &Problem,
    answer: &Answer,
    bound: f64,
    method: Option<Method>,
    control: &Control,
) -> Vec<WayOut> {
    if !Idle::of(problem, &answer.formula).is_some_and(|idle| idle.is_told()) {
        return Vec::new();
    }
    let mut asked = vec![(RuleId::MaxIdle, RuleKind::MaxIdle, TOLD_PPT)];
    if let Some(material) = problem.target_material {
        let at = OF_TARGET * problem.material(material).strength;
        if answer.evaluation.strength < at {
            asked.push((RuleId::Strength(Bound::Min), RuleKind::StrengthMin, at));
        }
    }
    let mut left = asked.len();
    let one = |(rule, kind, at): (RuleId, RuleKind, f64)| {
        let control = control.with_share(1.0 / left as f64);
        left -= 1;
        let changed = problem.with_rule_at(rule.clone(), kind, at);
        let start = Start { bound, ..Start::default() };
        let solve = |method: Method| propose_from(&changed, &start, method, &control).ok();
        let then = method.filter(|_| !control.should_stop()).and_then(solve);
        WayOut { rule, at, then }
    };
    asked.into_iter().map(one).collect()
}
