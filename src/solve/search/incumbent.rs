//! Formulas that are offered as the incumbent.

use super::branch_and_bound::BranchAndBound;
use super::instance::Instance;
use super::node::Node;
use super::outcome::Found;
use super::point::Point;
use super::relaxation::Count;
use super::rounding::{exchange, round};
use super::tally::Tally;
use crate::units::Ppt;

/// Exchanges of doses that a rounded point is mended by, at most.
const EXCHANGES: usize = 60;

impl BranchAndBound<'_> {
    /// Offers the formula that a point stands for; where that breaks a rule,
    /// the same without the traces of continuous doses, which are no more
    /// than the last digits of the simplex method.
    pub(super) fn offer_point(&mut self, node: &Node, point: &Point) {
        let before = self.knowledge.cutoff();
        if let Some(doses) = point.nearest(node, &self.instance.grid) {
            self.offer(doses);
        }
        let grid = &self.instance.grid;
        if self.knowledge.cutoff() == before
            && let Some(doses) = point.without_traces(&self.work.relaxation, grid).nearest(node, grid)
        {
            self.offer(doses);
        }
    }

    /// Keeps a formula if it passes its check and is better than the
    /// incumbent, or tied with it and cheaper.
    pub(super) fn offer(&mut self, doses: Vec<Ppt>) {
        let sum: Ppt = doses.iter().copied().sum();
        if sum != Ppt::WHOLE {
            return;
        }
        let tally = Tally::new(self.instance.blend, &self.instance.rows_by_column, doses, self.instance.tolerance);
        let merit = tally.merit();
        if merit.broken > 0.0 || !self.knowledge.is_of_use(merit.loss, || tally.price()) {
            return;
        }
        if let Some(judged) = (self.instance.judge)(&tally.doses)
            && self.knowledge.consider(Found { doses: tally.doses, judged })
        {
            self.tell();
        }
    }

    /// Rounds a point that keeps the counts, mends it by exchanges, and offers
    /// the result.
    pub(super) fn offer_rounded(&mut self, node: &Node, point: &Point) {
        let Instance { blend, tolerance, rows_by_column, grid, .. } = &self.instance;
        let Some(doses) = round(blend, grid, &point.ppt) else { return };
        let used = |count: &Count| count.members.iter().filter(|&&k| doses[k] > Ppt::ZERO).count();
        if self.work.relaxation.counts.iter().any(|count| used(count) > count.most) {
            return;
        }
        debug_assert_eq!(doses.len(), node.use_status.len());
        let mut tally = Tally::new(blend, rows_by_column, doses, *tolerance);
        let merit = exchange(blend, grid, &mut tally, EXCHANGES);
        let doses = tally.doses;
        if merit.broken == 0.0 {
            self.offer(doses);
        }
    }
}
