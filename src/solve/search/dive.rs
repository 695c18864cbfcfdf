//! A first good formula: solve the relaxation, drop the material that matters
//! least, solve again, until the count holds; then settle least doses and
//! round.

use super::node::{Decision, Node, Standing};
use super::point::Point;
use super::relaxation::Count;
use super::simplex::Ended;
use super::tree::Tree;
use crate::units::Ppt;

/// By what the least important material is told.
#[derive(Clone, Copy, Debug)]
pub enum Order {
    /// The smaller of its shares of mass and odour.
    MassAndOdour,
    /// Its share of the odour.
    Odour,
}

impl Tree<'_> {
    /// Dives from a node and offers what it finds. Leaves the relaxation's
    /// lambda as it was.
    pub(super) fn dive(&mut self, from: &Node, order: Order) {
        let lambda = self.relaxation.lambda();
        self.dive_inner(from.clone(), order);
        self.relaxation.set_lambda(lambda);
    }

    fn dive_inner(&mut self, mut node: Node, order: Order) {
        // Each step settles at least one material.
        for _ in 0..2 * self.relaxation.n + 10 {
            if self.control.should_stop()
                || !self.grid.complete(&mut node)
                || !node.close_count(&self.relaxation)
                || !self.solve_ratio(&mut node)
            {
                return;
            }
            let point = Point::read(&node, &self.relaxation, &self.grid);
            if let Some(count) = point.surplus.iter().position(|&surplus| surplus > 0) {
                let surplus = point.surplus[count];
                for k in self.least_important(&point, count, order, surplus.div_ceil(3)) {
                    if !node.decide(k, Decision::Out, &self.grid) {
                        return;
                    }
                }
                // What the point does not use stays out: the dive narrows.
                for &k in &self.relaxation.counts[count].members {
                    if node.standing[k] == Standing::Undecided && point.ppt[k] <= 0.0 && surplus <= 3 {
                        node.decide(k, Decision::Out, &self.grid);
                    }
                }
                continue;
            }
            if let Some(&k) = point.too_small.first() {
                let enough = point.ppt[k] * 2.0 >= node.least[k].as_f64();
                let decision = if enough { Decision::In(node.least[k]) } else { Decision::Out };
                if !node.decide(k, decision, &self.grid) {
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
        node.settle(&self.relaxation, &mut self.scratch);
        for _ in 0..4 {
            match node.state.run(&self.relaxation.lp, f64::INFINITY, self.iteration_limit(), &mut self.scratch) {
                Ended::Optimal => {}
                _ => return false,
            }
            let ratio = self.relaxation.ratio(&node.state);
            if (ratio - self.relaxation.lambda()).abs() <= 1e-6 * ratio.max(1.0) {
                break;
            }
            self.relaxation.set_lambda(ratio);
            node.state.price(&self.relaxation.lp, &mut self.scratch);
        }
        true
    }

    /// The undecided materials of a count that matter least to a point.
    fn least_important(&self, point: &Point, count: usize, order: Order, how_many: usize) -> Vec<usize> {
        let total: f64 = point.ppt.iter().zip(&self.blend.columns).map(|(ppt, column)| ppt * column.weight).sum();
        let importance = |k: usize| {
            let odour = point.ppt[k] * self.blend.columns[k].weight / total.max(f64::MIN_POSITIVE);
            match order {
                Order::MassAndOdour => odour.min(point.ppt[k] / 1000.0),
                Order::Odour => odour,
            }
        };
        let counts = |k: &usize| self.relaxation.counts_of[*k].contains(&count);
        let mut undecided: Vec<usize> = point.undecided.iter().copied().filter(counts).collect();
        undecided.sort_by(|&a, &b| importance(a).total_cmp(&importance(b)).then(a.cmp(&b)));
        undecided.truncate(how_many);
        undecided
    }

    /// Rounds a point that keeps the count, mends it by exchanges, and offers
    /// the result.
    pub(super) fn offer_rounded(&mut self, node: &Node, point: &Point) {
        let Some(doses) = super::rounding::round(self.blend, &self.grid, &point.ppt) else { return };
        let used = |count: &Count| count.members.iter().filter(|&&k| doses[k] > Ppt::ZERO).count();
        if self.relaxation.counts.iter().any(|count| used(count) > count.most) {
            return;
        }
        debug_assert_eq!(doses.len(), node.standing.len());
        let by_column = std::mem::take(&mut self.by_column);
        let mut tally = super::tally::Tally::new(self.blend, &by_column, doses, self.tolerance);
        let merit = super::rounding::exchange(self.blend, &self.grid, &mut tally, 60);
        let doses = tally.doses;
        self.by_column = by_column;
        if merit.broken == 0.0 {
            self.offer(doses);
        }
    }
}
