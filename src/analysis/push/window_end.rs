//! What gives way at an end of the window.

use super::{End, Point};
use crate::analysis::caps::Cap;
use crate::problem::check::Checker;
use crate::problem::{Problem, RuleKind};
use crate::tolerance::loss::WORSE;

/// What is worse at an end of the window than at the best dose, and what holds
/// the formula there: rules no further off than a share `near` of their size.
pub(super) fn window_end(
    problem: &Problem,
    caps: &[Cap],
    material: usize,
    best: &Point,
    point: Point,
    is_wall: bool,
    near: f64,
) -> End {
    // In the view that is the worst there.
    let view = point.answer.evaluation.worst;
    let targets = &problem.views[view].targets;
    let gap =
        |point: &Point, counted: usize| targets[counted].gap(point.answer.evaluation.views[view].profile[counted]);
    let grown = (0..targets.len()).map(|counted| (counted, gap(&point, counted) - gap(best, counted)));
    let descriptor = grown.reduce(|a, b| if b.1 > a.1 { b } else { a }).filter(|(_, by)| *by > WORSE);
    let checker = Checker::new(problem);
    let (here, there) = (checker.slacks(&point.answer.formula), checker.slacks(&best.answer.formula));
    let holds = |&index: &usize| {
        let rule = &problem.rules[index];
        let caps = caps.iter().filter_map(|cap| cap.rule.as_ref());
        let is_cap = rule.kind.is_about(material) || caps.clone().any(|cap| cap.id == rule.id && cap.kind == rule.kind);
        let speaks = rule.kind.has_distance()
            && !matches!(rule.kind, RuleKind::DoseMin(_) | RuleKind::DoseStep(_) | RuleKind::Fixed(_));
        // A wall that the best stands at already is what stops it.
        speaks && here[index] <= near && (there[index] > near || is_wall && is_cap)
    };
    let rules = (0..problem.rules.len()).filter(holds).map(|index| problem.rules[index].clone()).collect();
    End { point, descriptor, rules, is_wall }
}
