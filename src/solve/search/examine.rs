//! Examining one node: it is bounded, narrowed and rounded until it is closed or
//! has to be split.

use super::branch_and_bound::{BranchAndBound, loss_floor};
use super::branching::{Branch, Choice};
use super::node::{Decision, Node, UseStatus};
use super::point::Point;
use super::reduced_cost_fixing::fix_by_reduced_costs;
use super::simplex::Ended;
use crate::units::Ppt;

/// Greatest and least D of a node that is not split any further lie less than
/// this factor apart.
const WIDE: f64 = 4.0;
/// Times that one node is narrowed by its multipliers.
const NARROWINGS: u32 = 6;
/// Doses that one node may be forced to move by a step, one after the other,
/// before the rest of the way is halved.
const STEPS: u32 = 20;

/// What became of a node.
pub(super) enum Verdict {
    /// It holds nothing below the target.
    Closed,
    /// It holds nothing that could be told apart any more; its formulas have
    /// at least this loss.
    Exhausted(f64),
    /// It has to be split.
    Split(Split),
}

/// How a node is split.
pub(super) enum Split {
    /// On the use or the dose of a material.
    Dose(Branch),
    /// On a remainder: at most this sum, or the next one up.
    Remainder(usize, Ppt),
    /// At this D.
    Span(f64),
}

impl BranchAndBound<'_> {
    /// Bounds, narrows and rounds a node until it is closed or must be split.
    pub(super) fn examine(&mut self, node: &mut Node) -> Verdict {
        let (mut narrowings, mut steps) = (0, 0);
        loop {
            let Some(is_sound) = self.bound_node(node) else { return Verdict::Closed };
            if is_sound && narrowings < NARROWINGS {
                narrowings += 1;
                match self.narrow_node(node) {
                    None => return Verdict::Closed,
                    Some(0) => {}
                    Some(_) => continue,
                }
            }
            let point = Point::read(node, &self.work.relaxation, &self.instance.grid);
            if is_sound && point.is_formula() {
                let before = self.knowledge.cutoff();
                self.offer_point(node, &point);
                if self.knowledge.has_fallen(before) {
                    continue;
                }
                return self.split_anyhow(node, &point);
            }
            if !is_sound {
                return self.split_anyhow(node, &point);
            }
            if point.keeps_use() {
                if self.counters.is_rounded() {
                    let before = self.knowledge.cutoff();
                    self.offer_rounded(node, &point);
                    if self.knowledge.has_fallen(before) {
                        continue;
                    }
                }
                if let Some((index, below)) = self.uncompleted(node) {
                    return Verdict::Split(Split::Remainder(index, below));
                }
            }
            match self.choose(node, &point) {
                Some(Choice::Split(branch)) => return Verdict::Split(Split::Dose(branch)),
                Some(Choice::Empty(_)) => return Verdict::Closed,
                Some(Choice::Forced(branch, decision)) => {
                    if let Some(verdict) = self.force(node, &point, branch.material, decision, &mut steps) {
                        return verdict;
                    }
                }
                None => return self.split_anyhow(node, &point),
            }
        }
    }

    /// Solves a node's relaxation for the present cutoff. `None` when the node is
    /// certainly empty or past it; otherwise whether its point can be trusted.
    fn bound_node(&mut self, node: &mut Node) -> Option<bool> {
        if !self.instance.grid.complete(node) || !node.close_count(&self.work.relaxation) {
            return None;
        }
        let cutoff = self.knowledge.cutoff();
        if cutoff <= 0.0 {
            return None;
        }
        self.work.relaxation.set_lambda(cutoff);
        self.work.settle(node);
        node.forget_what_is_out(&self.work.relaxation);
        if node.floor.1 != cutoff {
            self.work.price(node);
        }
        let is_sound = self.solve(node)?;
        (self.work.safe_floor(node) < 0.0).then_some(is_sound)
    }

    /// Narrows a node by its multipliers: the number of decisions, `None` when
    /// they leave no formula.
    fn narrow_node(&mut self, node: &mut Node) -> Option<usize> {
        let multipliers = node.state.multipliers.clone();
        fix_by_reduced_costs(node, &self.work.relaxation, &self.instance.grid, &multipliers, &self.work.safe)
    }

    /// Applies a decision that a trial forces. `None` when the node is to be
    /// examined again.
    fn force(
        &mut self,
        node: &mut Node,
        point: &Point,
        k: usize,
        decision: Decision,
        steps: &mut u32,
    ) -> Option<Verdict> {
        // In a corner that is narrower than a fine step, every step of a
        // million would be forced in turn.
        if node.use_status[k] == UseStatus::In || matches!(decision, Decision::AtMost(_)) {
            *steps += 1;
        }
        if *steps > STEPS {
            return Some(match self.halve(node, k) {
                Some(branch) => Verdict::Split(Split::Dose(branch)),
                None => self.split_anyhow(node, point),
            });
        }
        let said = |node: &Node| (node.use_status[k], node.least[k], node.most[k]);
        let before = said(node);
        if !node.decide(k, decision, &self.instance.grid) {
            return Some(Verdict::Closed);
        }
        // A dose that rounding sets beside its bound would be forced to that
        // bound for ever.
        (said(node) == before).then(|| self.split_anyhow(node, point))
    }

    /// Runs the simplex method on a node. `None` when the node is certainly
    /// empty or past the cut; otherwise whether its point can be trusted.
    fn solve(&mut self, node: &mut Node) -> Option<bool> {
        let mut cutoff = 0.0;
        for attempt in 0..3 {
            match self.run_simplex(node, cutoff) {
                Ended::Optimal => return Some(true),
                Ended::Infeasible(row) => {
                    let state = &node.state;
                    if self.work.relaxation.lp.proves_infeasible(state.inverse_row(row), state.boxes()) {
                        return None;
                    }
                    return Some(false);
                }
                Ended::Cutoff => {
                    if self.work.safe_floor(node) >= 0.0 {
                        return None;
                    }
                    // Not certain yet: go on to the true optimum.
                    cutoff = f64::INFINITY;
                }
                Ended::Iterations | Ended::Trouble => {
                    if attempt > 0 || !node.restart(&self.work.relaxation, &mut self.work.scratch) {
                        return Some(false);
                    }
                }
            }
        }
        Some(false)
    }

    /// Splits a node whose point does not help; when nothing is left to
    /// split, its one formula is judged.
    fn split_anyhow(&mut self, node: &mut Node, point: &Point) -> Verdict {
        if let Some(branch) = self.any_split(node, point) {
            return Verdict::Split(Split::Dose(branch));
        }
        self.offer_point(node, point);
        let continuous = (0..self.work.relaxation.n).any(|k| self.instance.grid.is_continuous(k) && node.is_open(k));
        if continuous {
            // Where D can be a millionth of what it is elsewhere, rounding
            // hides what separates N from lambda D.
            let (least, most) = node.span;
            if most > WIDE * least {
                return Verdict::Split(Split::Span((least * most).sqrt()));
            }
            let (floor, lambda) = node.floor;
            return Verdict::Exhausted(loss_floor(lambda, floor, self.least_d(node)));
        }
        Verdict::Closed
    }
}
