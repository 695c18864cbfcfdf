//! Exploring one tree: each node is bounded, narrowed and rounded until it is
//! closed or split.

use super::branching::{Branch, Choice};
use super::epochs::ALONE;
use super::node::{Decision, Node, Standing};
use super::point::Point;
use super::restriction::Restriction;
use super::simplex::Ended;
use super::tree::{Ending, Found, Tree};
use crate::units::Ppt;

/// Greatest and least D of a node that is not split any further lie less than
/// this factor apart.
const WIDE: f64 = 4.0;
/// Doses that one node may be forced to move by a step, one after the other,
/// before the rest of the way is halved.
const STEPS: u32 = 20;

/// What became of a node.
enum Verdict {
    /// It holds nothing below the limit.
    Closed,
    /// It holds nothing that could be told apart any more; its formulas have
    /// at least this loss.
    Exhausted(f64),
    /// It is split.
    Split(Branch),
    /// It is split at this D.
    SplitSpan(f64),
    /// It is split on a remainder: at most this sum, or the next one up.
    SplitRemainder(usize, Ppt),
}

impl Tree<'_> {
    /// Explores the tree of the present limit. What the root's multipliers
    /// rule out for this limit is left out of the programme altogether, so
    /// that the nodes below are smaller and their count row is tighter.
    pub(super) fn explore(&mut self, root: &Node) -> Ending {
        let mut root = root.clone();
        self.nodes += 1;
        match self.examine(&mut root) {
            Verdict::Closed => return Ending::Closed,
            Verdict::Exhausted(loss) if loss >= self.cut() => return Ending::Closed,
            Verdict::Exhausted(loss) => return Ending::Stopped(loss),
            Verdict::Split(_) | Verdict::SplitSpan(_) | Verdict::SplitRemainder(..) => {}
        }
        let restriction = Restriction::new(self.blend, &root);
        if restriction.is_worthwhile(self.blend) {
            let budget = self.last_node.map(|last| last.saturating_sub(self.nodes));
            self.explore_apart(&restriction, budget)
        } else {
            self.explore_below(root)
        }
    }

    /// Explores a restriction in a tree of its own, visiting at most `budget`
    /// nodes, and takes over what it found and learned.
    pub(super) fn explore_apart(&mut self, restriction: &Restriction, budget: Option<u64>) -> Ending {
        let full = |doses: &[Ppt]| restriction.full(self.blend, doses);
        let judge = |doses: &[Ppt]| (self.judge)(&full(doses));
        let Ok(mut inner) = Tree::new(&restriction.blend, &judge, self.tolerance, self.control) else {
            return Ending::Closed;
        };
        let Some(inner_root) = Node::root(&restriction.blend, &inner.relaxation) else {
            return Ending::Stopped(self.proven);
        };
        inner.pseudo_costs = self.pseudo_costs.restricted(&restriction.kept);
        (inner.best_loss, inner.limit, inner.proven) = (self.best_loss, self.limit, self.proven);
        (inner.nodes, inner.roundings) = (self.nodes, self.roundings);
        (inner.aim, inner.has_ceiling) = (self.aim, self.has_ceiling);
        inner.present_price = self.price_of_found();
        inner.last_node = budget.map(|budget| self.nodes + budget);
        let ending = inner.explore_below(inner_root);
        let (found, best_loss, limit) = (inner.found.take(), inner.best_loss, inner.limit);
        let (nodes, roundings, iterations) = (inner.nodes, inner.roundings, inner.scratch.iterations);
        let pseudo_costs = std::mem::take(&mut inner.pseudo_costs);
        drop(inner);
        if let Some(Found { doses, judged }) = found {
            self.found = Some(Found { doses: full(&doses), judged });
        }
        self.pseudo_costs.learn(&restriction.kept, pseudo_costs);
        (self.best_loss, self.limit, self.nodes, self.roundings) = (best_loss, limit, nodes, roundings);
        self.scratch.iterations += iterations;
        ending
    }

    /// Explores everything below a node.
    fn explore_below(&mut self, root: Node) -> Ending {
        let mut open = vec![root];
        let whole = self.last_node;
        let alone = self.nodes + ALONE;
        self.last_node = Some(whole.map_or(alone, |last| last.min(alone)));
        let mut exhausted = self.explore_stack(&mut open);
        self.last_node = whole;
        if whole.is_none() && !open.is_empty() && !self.is_over() {
            return self.explore_in_epochs(open, exhausted);
        }
        exhausted = exhausted.min(self.explore_stack(&mut open));
        if !open.is_empty() {
            let open = open.iter().map(|node| self.loss_floor(node.floor.1, node.floor.0, node.span.0));
            let open = open.fold(f64::INFINITY, f64::min);
            return Ending::Stopped(open.min(exhausted).min(self.cut()));
        }
        if exhausted < self.cut() { Ending::Stopped(exhausted) } else { Ending::Closed }
    }

    /// Explores open nodes, the last one first, until none is left or nodes or
    /// time are used up. Returns the least loss of those that could not be
    /// split any further, infinite where there is none.
    pub(super) fn explore_stack(&mut self, stack: &mut Vec<Node>) -> f64 {
        let mut exhausted = f64::INFINITY;
        while let Some(mut node) = stack.pop() {
            if self.is_over() {
                stack.push(node);
                break;
            }
            self.nodes += 1;
            if self.nodes.is_multiple_of(256) {
                self.tell();
            }
            match self.examine(&mut node) {
                Verdict::Closed => {}
                Verdict::Exhausted(loss) => exhausted = exhausted.min(loss),
                Verdict::SplitRemainder(index, below) => {
                    let above = below + self.relaxation.remainders[index].remainder.step;
                    let mut less = node.clone();
                    let mut more = node;
                    if less.bound_remainder(index, Ppt::ZERO, below) {
                        stack.push(less);
                    }
                    if more.bound_remainder(index, above, Ppt::WHOLE) {
                        stack.push(more);
                    }
                }
                Verdict::SplitSpan(middle) => {
                    let (least, most) = node.span;
                    let mut less = node.clone();
                    let mut more = node;
                    less.narrow((least, middle));
                    more.narrow((middle, most));
                    stack.extend([less, more]);
                }
                Verdict::Split(branch) => {
                    let mut less = node.clone();
                    let mut more = node;
                    less.depth += 1;
                    more.depth += 1;
                    if less.decide(branch.material, branch.less, &self.grid) {
                        stack.push(less);
                    }
                    if more.decide(branch.material, branch.more, &self.grid) {
                        stack.push(more);
                    }
                }
            }
        }
        exhausted
    }

    /// Bounds, narrows and rounds a node until it is closed or must be split.
    fn examine(&mut self, node: &mut Node) -> Verdict {
        let (mut narrowed, mut steps) = (0, 0);
        loop {
            if !self.grid.complete(node) || !node.close_count(&self.relaxation) {
                return Verdict::Closed;
            }
            let cut = self.cut();
            if cut <= 0.0 {
                return Verdict::Closed;
            }
            node.settle(&self.relaxation, &mut self.scratch);
            node.forget_what_is_out(&self.relaxation);
            self.relaxation.set_lambda(cut);
            if node.floor.1 != cut {
                node.state.price(&self.relaxation.lp, &mut self.scratch);
            }
            let sound = match self.solve(node) {
                None => return Verdict::Closed,
                Some(sound) => sound,
            };
            if self.safe_floor(node) >= 0.0 {
                return Verdict::Closed;
            }
            if sound && narrowed < 6 {
                narrowed += 1;
                let bound = std::mem::take(&mut self.bound);
                let rows = node.state.multipliers.clone();
                let decisions = super::fixing::fix(node, &self.relaxation, &self.grid, &rows, &bound);
                self.bound = bound;
                match decisions {
                    None => return Verdict::Closed,
                    Some(0) => {}
                    Some(_) => continue,
                }
            }
            let point = Point::read(node, &self.relaxation, &self.grid);
            if sound && point.is_formula() {
                let before = self.cut();
                self.offer_point(node, &point);
                if self.has_fallen(before) {
                    continue;
                }
                return self.split_anyhow(node, &point);
            }
            if !sound {
                return self.split_anyhow(node, &point);
            }
            if point.count_holds() && point.too_small.is_empty() {
                self.roundings += 1;
                if self.roundings <= 100 || self.roundings.is_multiple_of(16) {
                    let before = self.cut();
                    self.offer_rounded(node, &point);
                    if self.has_fallen(before) {
                        continue;
                    }
                }
            }
            if point.count_holds()
                && point.too_small.is_empty()
                && let Some((index, below)) = self.uncompleted(node)
            {
                return Verdict::SplitRemainder(index, below);
            }
            match self.choose(node, &point) {
                Some(Choice::Split(branch)) => return Verdict::Split(branch),
                Some(Choice::Empty(_)) => return Verdict::Closed,
                Some(Choice::Forced(branch, decision)) => {
                    // In a corner that is narrower than a fine step, every
                    // step of a million would be forced in turn.
                    let k = branch.material;
                    if node.standing[k] == Standing::In || matches!(decision, Decision::AtMost(_)) {
                        steps += 1;
                    }
                    if steps > STEPS {
                        return match self.halve(node, k) {
                            Some(branch) => Verdict::Split(branch),
                            None => self.split_anyhow(node, &point),
                        };
                    }
                    let before = (node.standing[k], node.least[k], node.most[k]);
                    if !node.decide(k, decision, &self.grid) {
                        return Verdict::Closed;
                    }
                    // A dose that rounding sets beside its bound would be
                    // forced to that bound for ever.
                    if before == (node.standing[k], node.least[k], node.most[k]) {
                        return self.split_anyhow(node, &point);
                    }
                }
                None => return self.split_anyhow(node, &point),
            }
        }
    }

    /// Runs the simplex method on a node. `None` when the node is certainly
    /// empty or past the cut; otherwise whether its point can be trusted.
    fn solve(&mut self, node: &mut Node) -> Option<bool> {
        let mut cutoff = 0.0;
        for attempt in 0..3 {
            let lp = &self.relaxation.lp;
            match node.state.run(lp, cutoff, self.iteration_limit(), &mut self.scratch) {
                Ended::Optimal => return Some(true),
                Ended::Infeasible(row) => {
                    let state = &node.state;
                    if lp.proves_infeasible(state.inverse_row(row), state.boxes()) {
                        return None;
                    }
                    return Some(false);
                }
                Ended::Cutoff => {
                    if self.safe_floor(node) >= 0.0 {
                        return None;
                    }
                    // Not certain yet: go on to the true optimum.
                    cutoff = f64::INFINITY;
                }
                Ended::Iterations | Ended::Trouble => {
                    if attempt > 0 || !node.restart(&self.relaxation, &mut self.scratch) {
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
            return Verdict::Split(branch);
        }
        self.offer_point(node, point);
        let continuous = (0..self.relaxation.n).any(|k| self.grid.is_continuous(k) && node.is_open(k));
        if continuous {
            // Where D can be a millionth of what it is elsewhere, rounding
            // hides what separates N from lambda D.
            let (least, most) = node.span;
            if most > WIDE * least {
                return Verdict::SplitSpan((least * most).sqrt());
            }
            let (floor, lambda) = node.floor;
            return Verdict::Exhausted(self.loss_floor(lambda, floor, least));
        }
        Verdict::Closed
    }
}
