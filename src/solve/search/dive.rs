//! A first good formula: solve the relaxation, drop the material that matters
//! least, solve again, until the count holds; then settle least doses and
//! round.

use super::branch_and_bound::BranchAndBound;
use super::node::{Decision, Node, UseStatus};
use super::point::Point;
use super::simplex::Ended;
use crate::tolerance::search::DIVE_SETTLED;

/// By what the least important material is told.
#[derive(Clone, Copy, Debug)]
pub enum Order {
    /// The smaller of its shares of mass and odour.
    MassAndOdour,
    /// Its share of the odour.
    Odour,
}

impl BranchAndBound<'_> {
    /// Dives from a node and offers what it finds. Leaves the relaxation's
    /// lambda as it was.
    pub(super) fn dive(&mut self, from: &Node, order: Order) {
        let lambda = self.work.relaxation.lambda();
        self.dive_inner(from.clone(), order);
        self.work.relaxation.set_lambda(lambda);
    }

    fn dive_inner(&mut self, mut node: Node, order: Order) {
        // Each step settles at least one material.
        for _ in 0..2 * self.work.relaxation.n + 10 {
            if self.instance.control.should_stop()
                || !self.instance.grid.complete(&mut node)
                || !node.close_count(&self.work.relaxation)
                || !self.solve_ratio(&mut node)
            {
                return;
            }
            let point = Point::read(&node, &self.work.relaxation, &self.instance.grid);
            if let Some(count) = point.surplus.iter().position(|&surplus| surplus > 0) {
                let surplus = point.surplus[count];
                for k in self.least_important(&point, count, order, surplus.div_ceil(3)) {
                    if !node.decide(k, Decision::Out, &self.instance.grid) {
                        return;
                    }
                }
                // What the point does not use stays out: the dive narrows.
                for &k in &self.work.relaxation.counts[count].members {
                    if node.use_status[k] == UseStatus::Undecided && point.ppt[k] <= 0.0 && surplus <= 3 {
                        node.decide(k, Decision::Out, &self.instance.grid);
                    }
                }
                continue;
            }
            if let Some(&k) = point.too_small.first() {
                let enough = point.ppt[k] * 2.0 >= node.least[k].as_f64();
                let decision = if enough { Decision::In(node.least[k]) } else { Decision::Out };
                if !node.decide(k, decision, &self.instance.grid) {
                    return;
                }
                continue;
            }
            self.offer_rounded(&node, &point);
            return;
        }
    }

    /// Solves the relaxation with lambda at the node's own least ratio, so
    /// that the point is the best of the node and not the best for some other
    /// loss. False when there is none.
    fn solve_ratio(&mut self, node: &mut Node) -> bool {
        self.work.settle(node);
        for _ in 0..4 {
            if self.run_simplex(node, f64::INFINITY) != Ended::Optimal {
                return false;
            }
            let ratio = self.work.relaxation.ratio(&node.state);
            if (ratio - self.work.relaxation.lambda()).abs() <= DIVE_SETTLED * ratio.max(1.0) {
                break;
            }
            self.work.relaxation.set_lambda(ratio);
            self.work.price(node);
        }
        true
    }

    /// The undecided materials of a count that matter least to a point.
    fn least_important(&self, point: &Point, count: usize, order: Order, how_many: usize) -> Vec<usize> {
        let total = |weight: &dyn Fn(usize) -> f64| -> f64 {
            point.ppt.iter().enumerate().map(|(k, ppt)| ppt * weight(k)).sum::<f64>().max(f64::MIN_POSITIVE)
        };
        let blend = self.instance.blend;
        let own = total(&|k| blend.columns[k].weight);
        let further: Vec<f64> = blend.views.iter().map(|view| total(&|k| view.columns[k].weight)).collect();
        let importance = |k: usize| {
            // Where it is heard most.
            let in_views = blend.views.iter().zip(&further);
            let in_views = in_views.map(|(view, total)| point.ppt[k] * view.columns[k].weight / total);
            let odour = in_views.fold(point.ppt[k] * blend.columns[k].weight / own, f64::max);
            match order {
                Order::MassAndOdour => odour.min(point.ppt[k] / 1000.0),
                Order::Odour => odour,
            }
        };
        let counts = |k: &usize| self.work.relaxation.counts_of[*k].contains(&count);
        let mut undecided: Vec<usize> = point.undecided.iter().copied().filter(counts).collect();
        undecided.sort_by(|&a, &b| importance(a).total_cmp(&importance(b)).then(a.cmp(&b)));
        undecided.truncate(how_many);
        undecided
    }
}
