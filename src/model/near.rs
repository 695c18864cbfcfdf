//! How far a formula is from a known one, as a ratio of the form that the loss
//! has.
//!
//! All shares add up to 1 in both, so what is missing is as much as what is too
//! much, and half the sum of the absolute differences is the sum of `(t - h)+`
//! over the parts of the known formula alone. With `h = P / D` that is a loss
//! whose targets are those shares, without a weight on what is too much.

use super::blend::{Blend, CapColumn, LossCap};
use crate::problem::{Problem, Skeleton, Target};

impl Blend {
    /// At most so many percent differ from a skeleton.
    pub(super) fn stay_near(&mut self, problem: &Problem, rule: usize, skeleton: &Skeleton, at_percent: f64) {
        // No formula differs by more.
        if at_percent >= 100.0 {
            return;
        }
        let (targets, columns) = self.distance(problem, skeleton);
        let most = at_percent.max(0.0) / 100.0;
        self.caps.push(LossCap { rule: Some(rule), targets, columns, most, room: 0.0 });
    }

    /// The share of the whole that differs from a skeleton as a ratio: its
    /// targets, and what one ppt of each column adds. What the shelf lacks is one
    /// target that no column adds to.
    pub(super) fn distance(&self, problem: &Problem, skeleton: &Skeleton) -> (Vec<Target>, Vec<CapColumn>) {
        let target = |score: f64| Target { descriptor: 0, score, weight: 1.0, excess: 0.0 };
        let lacking = Some(skeleton.lacking_share()).filter(|share| *share > 0.0);
        let shares = skeleton.shares.iter().map(|(_, share)| *share).chain(lacking);
        let of = |column: &super::blend::BlendColumn| {
            let mut own = CapColumn { weight: 0.0, odours: Vec::new() };
            for &(material, part) in &problem.columns[column.material].neat {
                let counts = part * skeleton.counts(problem, material);
                own.weight += counts;
                let place = skeleton.shares.binary_search_by_key(&material, |(own, _)| *own);
                own.odours.extend(place.ok().filter(|_| counts > 0.0).map(|place| (place, counts)));
            }
            own.odours.sort_unstable_by_key(|(place, _)| *place);
            own
        };
        (shares.map(target).collect(), self.columns.iter().map(of).collect())
    }
}
