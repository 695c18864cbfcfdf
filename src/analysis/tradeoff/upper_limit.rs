//! What could be had over any doses and with any number of materials, beside a
//! curve of formulas that the bench can pour.

use super::continuous::continuous;
use super::{Point, Upper};
use crate::analysis::axis::Axis;
use crate::analysis::curve::Placing;
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{Failure, PROVEN};

/// Points of the upper limit.
const PLACING: Placing = Placing { least: 24, most: 60, tolerance: 0.1 };

/// What could be had over any doses.
pub(super) struct UpperLimit {
    /// Limits rising.
    pub(super) points: Vec<Upper>,
    /// Whether the loosest point bounds what lies beyond it.
    pub(super) is_to_the_end: bool,
}

/// What could be had over any doses, as far as there is time.
pub(super) fn upper_limit(
    axis: Axis,
    without: &Problem,
    own: Option<f64>,
    control: &Control,
) -> Result<UpperLimit, Failure> {
    let relaxed = without.relaxed();
    let Ok(range) = axis.range(&relaxed, own, control)? else {
        return Ok(UpperLimit { points: Vec::new(), is_to_the_end: false });
    };
    let (points, _) = continuous(axis, &relaxed, own, range, PLACING, control);
    let upper = |point: Point| Upper {
        at: point.at,
        fidelity_percent: point.answer.evaluation.fidelity_percent,
        bound: if point.proven { (point.bound - 2.0 * PROVEN * point.bound.max(1.0)).max(0.0) } else { 0.0 },
    };
    let points: Vec<Upper> = points.into_iter().map(upper).collect();
    let is_to_the_end = match axis.loosens_upwards() {
        Some(true) => points.last().is_some_and(|last| last.at == range.high),
        Some(false) => points.first().is_some_and(|first| first.at == range.low),
        None => false,
    };
    Ok(UpperLimit { points, is_to_the_end })
}
