//! A trade-off of a brief that asks for neither steps nor counts: one linear
//! programme at every limit.

use super::{Asked, Own, Point, Tradeoff, nothing};
use crate::analysis::axis::{Axis, Range};
use crate::analysis::curve::{Placing, curve, evenly, height_at};
use crate::control::Control;
use crate::problem::Problem;
use crate::problem::target::signed_fidelity_percent;
use crate::solve::direct::{self, Family};
use crate::solve::extent::Extent;
use crate::solve::{Failure, Status};

/// Points of the curve.
const PLACING: Placing = Placing { least: 24, most: 160, tolerance: 0.03 };

/// A slope is taken over this part of the curve.
const SLOPE_OVER: f64 = 0.01;

/// A brief that asks for neither steps nor counts: one linear programme at
/// every limit.
pub(super) fn over_any_doses(
    problem: &Problem,
    without: &Problem,
    asked: Asked,
    control: &Control,
) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    let relaxed = without.relaxed();
    let own = axis.own(problem);
    let range = match axis.range(&relaxed, own, control)? {
        Ok(range) => range,
        Err(none) => return Ok(Tradeoff { none: Some(none), ..nothing(axis) }),
    };
    let (points, is_complete) = continuous(axis, &relaxed, own, range, PLACING, control);
    let mut found = Tradeoff { points, is_complete, is_continuous: true, ..nothing(axis) };
    found.own = own.map(|own| own_limit(axis, &relaxed, own, range, &found.points, control));
    for wanted in evenly(&found.heights(), asked.formulas.min(found.points.len())) {
        let off = |at: usize| (found.points[at].at - wanted).abs();
        let nearest = (0..found.points.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)));
        found.formulas.extend(nearest);
    }
    found.formulas.extend(own.and_then(|own| found.points.iter().position(|point| point.at == own)));
    found.formulas.sort_unstable();
    found.formulas.dedup();
    found.along_the_way(problem);
    Ok(found)
}

/// Fidelity in percent, below 0 where a blend is further away than one that
/// shares nothing with the target.
pub(super) fn height(problem: &Problem, loss: f64) -> f64 {
    signed_fidelity_percent(loss, problem.worst_loss())
}

/// The best blend over continuous doses at a limit.
fn best_at(axis: Axis, relaxed: &Problem, family: Option<&Family>, at: f64, control: &Control) -> Option<Point> {
    let member = axis.at(relaxed, at);
    // Every point starts from one basis, so that it is the same in any order.
    let solution = match family {
        Some(family) => family.clone().best(&member, control),
        None => direct::best(&member, control),
    };
    let solution = solution.ok()?;
    let proven = solution.status == Status::Optimal;
    Some(Point { at, until: at, answer: solution.answer?, bound: solution.bound.unwrap_or(0.0), proven })
}

/// The problems along an axis as one family, where its rule is one row.
fn family(axis: Axis, relaxed: &Problem, range: Range) -> Option<Family> {
    let loosest = match axis.loosens_upwards()? {
        true => range.high,
        false => range.low,
    };
    Family::new(&axis.at(relaxed, loosest), &axis.kind())
}

/// The curve over continuous doses, and whether there was time for all of it.
pub(super) fn continuous(
    axis: Axis,
    relaxed: &Problem,
    own: Option<f64>,
    range: Range,
    placing: Placing,
    control: &Control,
) -> (Vec<Point>, bool) {
    let also: Vec<f64> = own.into_iter().chain(range.turns).filter(|at| *at > range.low && *at < range.high).collect();
    let family = family(axis, relaxed, range);
    let found = curve(
        (range.low, range.high),
        &also,
        placing,
        control,
        |at| best_at(axis, relaxed, family.as_ref(), at, control),
        |point| height(relaxed, point.answer.evaluation.loss),
    );
    let mut points: Vec<Point> = found.points.into_iter().map(|(_, point)| point).collect();
    // A blend keeps every looser limit: rounding never makes the curve fall.
    if let Some(upwards) = axis.loosens_upwards() {
        if !upwards {
            points.reverse();
        }
        for at in 1..points.len() {
            if points[at - 1].answer.evaluation.loss < points[at].answer.evaluation.loss {
                points[at].answer = points[at - 1].answer.clone();
                points[at].bound = points[at].bound.min(points[at].answer.evaluation.loss);
            }
        }
        if !upwards {
            points.reverse();
        }
    }
    (points, found.is_complete)
}

/// What the user's own limit means, over continuous doses.
fn own_limit(axis: Axis, relaxed: &Problem, own: f64, range: Range, points: &[Point], control: &Control) -> Own {
    let here = Own { at: own, ..Own::default() };
    let exact = points.iter().find(|point| point.at == own).cloned();
    let Some(point) = exact.or_else(|| best_at(axis, relaxed, None, own, control)) else { return here };
    let loss = point.answer.evaluation.loss;
    let fidelity = point.answer.evaluation.fidelity_percent;
    let here = Own { fidelity: Some(fidelity), ..here };
    let Some(upwards) = axis.loosens_upwards() else { return here };
    let a_point = relaxed.worst_loss() / 100.0;
    // The furthest limit that keeps a fidelity: how far the rule must go for
    // one point more, and may go for one point less.
    let furthest = |loss: f64| {
        if loss <= 0.0 {
            return None;
        }
        axis.end(&Extent::new(relaxed, loss)?, relaxed, !upwards)
    };
    let heights: Vec<(f64, f64)> =
        points.iter().map(|point| (point.at, height(relaxed, point.answer.evaluation.loss))).collect();
    let by = SLOPE_OVER * (range.high - range.low);
    let slope = |step: f64| {
        let there = best_at(axis, relaxed, None, own + step, control)
            .map(|point| height(relaxed, point.answer.evaluation.loss));
        // Beyond the curve nothing changes.
        let there = there.or_else(|| height_at(&heights, own + step))?;
        Some((there - height(relaxed, loss)) / step)
    };
    Own {
        point_more: furthest(loss - a_point).map(|at| (at - own).abs()),
        point_less: furthest(loss + a_point).map(|at| (at - own).abs()),
        slope_up: (by > 0.0).then(|| slope(by)).flatten(),
        slope_down: (by > 0.0).then(|| slope(-by)).flatten(),
        ..here
    }
}
