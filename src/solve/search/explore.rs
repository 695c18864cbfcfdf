//! Exploring one tree, depth first.

use super::branch_and_bound::{BranchAndBound, loss_floor};
use super::counters::Counters;
use super::epochs::ALONE;
use super::examine::{Split, Verdict};
use super::node::Node;
use super::subproblem::Subproblem;
use crate::units::Ppt;

/// How a tree ended.
pub(super) enum Ending {
    /// Every node is closed.
    Closed,
    /// Stopped early; no formula has a loss below this.
    Stopped(f64),
}

/// Progress is told once in so many nodes.
const TOLD_EVERY: u64 = 256;

impl BranchAndBound<'_> {
    /// Explores the tree of the present target. What the root's multipliers
    /// rule out for this target is left out of the programme altogether, so
    /// that the nodes below are smaller and their count row is tighter.
    pub(super) fn explore(&mut self, root: &Node) -> Ending {
        let mut root = root.clone();
        self.counters.nodes += 1;
        match self.examine(&mut root) {
            Verdict::Closed => return Ending::Closed,
            Verdict::Exhausted(loss) if loss >= self.knowledge.cutoff() => return Ending::Closed,
            Verdict::Exhausted(loss) => return Ending::Stopped(loss),
            Verdict::Split(_) => {}
        }
        let subproblem = Subproblem::new(self.instance.blend, &root);
        if subproblem.is_worthwhile(self.instance.blend) {
            self.explore_subproblem(&subproblem, self.counters.left())
        } else {
            self.explore_below(root)
        }
    }

    /// Explores a subproblem in a tree of its own, visiting at most `budget`
    /// nodes, and takes over what it found and learned.
    pub(super) fn explore_subproblem(&mut self, subproblem: &Subproblem, budget: Option<u64>) -> Ending {
        let instance = &self.instance;
        let full = |doses: &[Ppt]| subproblem.full(instance.blend, doses);
        let judge = |doses: &[Ppt]| (instance.judge)(&full(doses));
        let inner = BranchAndBound::new(&subproblem.blend, &judge, instance.tolerance, instance.control);
        let Ok(mut inner) = inner else { return Ending::Closed };
        let Some(root) = Node::root(&subproblem.blend, &inner.work.relaxation) else {
            return Ending::Stopped(self.knowledge.bound());
        };
        inner.instance.aim = instance.aim;
        inner.knowledge = self.knowledge.handed_down();
        inner.counters = Counters { last_node: budget.map(|budget| self.counters.nodes + budget), ..self.counters };
        inner.work.pseudo_costs = self.work.pseudo_costs.restricted(&subproblem.kept);
        let ending = inner.explore_below(root);
        let BranchAndBound { knowledge, counters, work, .. } = inner;
        self.knowledge.replace(knowledge, full);
        self.counters = Counters { last_node: self.counters.last_node, ..counters };
        self.work.pseudo_costs.learn(&subproblem.kept, work.pseudo_costs);
        self.work.scratch.iterations += work.scratch.iterations;
        ending
    }

    /// Explores everything below a node.
    fn explore_below(&mut self, root: Node) -> Ending {
        let mut open = vec![root];
        let whole = self.counters.last_node;
        let alone = self.counters.nodes + ALONE;
        self.counters.last_node = Some(whole.map_or(alone, |last| last.min(alone)));
        let mut exhausted = self.explore_stack(&mut open);
        self.counters.last_node = whole;
        if whole.is_none() && !open.is_empty() && !self.is_over() {
            return self.explore_in_epochs(open, exhausted);
        }
        exhausted = exhausted.min(self.explore_stack(&mut open));
        self.ending(open.iter(), exhausted)
    }

    /// How a tree ended with some nodes open. `exhausted` is the least loss of
    /// those that could not be split any further.
    pub(super) fn ending<'n>(&self, open: impl Iterator<Item = &'n Node>, exhausted: f64) -> Ending {
        let cutoff = self.knowledge.cutoff();
        let open = open.map(|node| loss_floor(node.floor.1, node.floor.0, self.least_d(node))).reduce(f64::min);
        match open {
            Some(open) => Ending::Stopped(open.min(exhausted).min(cutoff)),
            None if exhausted < cutoff => Ending::Stopped(exhausted),
            None => Ending::Closed,
        }
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
            self.counters.nodes += 1;
            if self.counters.nodes.is_multiple_of(TOLD_EVERY) {
                self.tell();
            }
            match self.examine(&mut node) {
                Verdict::Closed => {}
                Verdict::Exhausted(loss) => exhausted = exhausted.min(loss),
                Verdict::Split(split) => stack.extend(self.children(node, split).into_iter().flatten()),
            }
        }
        exhausted
    }

    /// The two sides of a split node, without those that it leaves empty.
    pub(super) fn children(&self, node: Node, split: Split) -> [Option<Node>; 2] {
        let (mut less, mut more) = (node.clone(), node);
        let [is_less, is_more] = match split {
            Split::Dose(branch) => {
                let grid = &self.instance.grid;
                [less.decide(branch.material, branch.less, grid), more.decide(branch.material, branch.more, grid)]
            }
            Split::Remainder(index, below) => {
                let above = below + self.work.relaxation.remainders[index].remainder.step;
                [less.bound_remainder(index, Ppt::ZERO, below), more.bound_remainder(index, above, Ppt::WHOLE)]
            }
            Split::Span(middle) => {
                let (least, most) = less.span;
                less.narrow((least, middle));
                more.narrow((middle, most));
                [true, true]
            }
        };
        [is_less.then_some(less), is_more.then_some(more)]
    }
}
