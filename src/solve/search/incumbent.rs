//! The best formula so far, and what it takes to replace it.

use super::node::Node;
use super::point::Point;
use super::tally::Tally;
use super::tree::{Found, TIE, Tree};
use crate::units::Ppt;

impl Tree<'_> {
    /// Offers the formula that a point stands for; where that breaks a rule,
    /// the same without the traces of continuous doses, which are no more
    /// than the last digits of the simplex method.
    pub(super) fn offer_point(&mut self, node: &Node, point: &Point) {
        let before = self.cut();
        if let Some(doses) = point.nearest(node, &self.grid) {
            self.offer(doses);
        }
        if self.cut() == before
            && let Some(doses) = point.without_traces(&self.relaxation, &self.grid).nearest(node, &self.grid)
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
        let tally = Tally::new(self.blend, &self.by_column, doses, self.tolerance);
        let merit = tally.merit();
        let tie = TIE * self.best_loss.max(1.0);
        if merit.broken > 0.0 || !merit.loss.is_finite() || merit.loss > self.best_loss + tie {
            return;
        }
        if merit.loss >= self.best_loss - tie && !self.is_cheaper(tally.price()) && merit.loss >= self.best_loss {
            return;
        }
        if let Some(judged) = (self.judge)(&tally.doses) {
            self.consider(Found { doses: tally.doses, judged });
        }
    }

    /// Keeps a formula that passed its check if it is better than the
    /// incumbent, or tied with it and cheaper.
    pub(super) fn consider(&mut self, new: Found) {
        let tie = TIE * self.best_loss.max(1.0);
        let judged = new.judged;
        let better = judged.loss < self.best_loss - tie;
        let tied = judged.loss <= self.best_loss + tie && self.is_cheaper(judged.price_per_kg);
        if better || tied || (self.best_loss.is_infinite() && judged.loss.is_finite()) {
            self.best_loss = self.best_loss.min(judged.loss);
            self.limit = self.limit.min(self.best_loss);
            self.found = Some(new);
            self.tell();
        } else if judged.loss < self.best_loss {
            // Better by less than a tie and not cheaper: the proof may use it.
            self.best_loss = judged.loss;
        }
    }

    pub(super) fn price_of_found(&self) -> Option<f64> {
        self.found.as_ref().map_or(self.present_price, |found| found.judged.price_per_kg)
    }

    fn is_cheaper(&self, price: Option<f64>) -> bool {
        matches!((price, self.price_of_found()), (Some(price), Some(present)) if price < present * (1.0 - 1e-12))
    }
}
