//! A tree explored by several explorers at once, with the same outcome for
//! any number of threads: in epochs. Each explorer has open nodes of its own
//! and takes a fixed number of steps, knowing what all knew at the start of
//! the epoch. Then what they found and learned is put together in their
//! order, and who has nothing left takes the shallowest node of who has most.
//! How many explorers there are does not depend on the machine; the threads
//! share them out among themselves.

use super::branch_and_bound::BranchAndBound;
use super::explore::Ending;
use super::node::Node;
use crate::control::Control;
use crate::pool::Crew;

/// A tree has to have taken this many nodes before it is shared out.
pub(super) const ALONE: u64 = 300;
/// Explorers at work. More than threads, so that those who are done early
/// keep no thread waiting.
const EXPLORERS: usize = 8;
/// Nodes that an explorer visits in an epoch.
const NODES: u64 = 200;

/// One who explores a part of the tree.
struct Explorer<'a> {
    search: BranchAndBound<'a>,
    stack: Vec<Node>,
    exhausted: f64,
}

impl BranchAndBound<'_> {
    /// Explores all that is open. `exhausted` is the least loss of the nodes
    /// that could not be split any further.
    pub(super) fn explore_in_epochs(&mut self, open: Vec<Node>, mut exhausted: f64) -> Ending {
        // Only the whole search tells how far it is and counts its nodes.
        let control = Control { progress: None, node_limit: None, ..self.instance.control.clone() };
        let crew = Crew::new(self.instance.control);
        let mut explorers: Vec<Explorer> =
            (0..EXPLORERS).map(|_| Explorer { search: self.twin(&control), stack: Vec::new(), exhausted }).collect();
        for (index, node) in open.into_iter().enumerate() {
            explorers[index % EXPLORERS].stack.push(node);
        }
        while explorers.iter().any(|explorer| !explorer.stack.is_empty()) {
            if self.is_over() {
                return self.ending(explorers.iter().flat_map(|explorer| &explorer.stack), exhausted);
            }
            share_out(&mut explorers);
            let left = self.instance.control.node_limit.map_or(u64::MAX, |most| most - self.counters.nodes);
            let steps = NODES.min(left.div_ceil(EXPLORERS as u64));
            explorers.iter_mut().for_each(|explorer| explorer.search.begin(self, steps));
            crew.for_each(&mut explorers, |explorer| {
                let exhausted = explorer.search.explore_stack(&mut explorer.stack);
                explorer.exhausted = explorer.exhausted.min(exhausted);
            });
            self.put_together(&mut explorers);
            exhausted = explorers.iter().map(|explorer| explorer.exhausted).fold(exhausted, f64::min);
            self.tell();
        }
        self.ending([].iter(), exhausted)
    }

    /// Begins an epoch with what the whole search knows.
    fn begin(&mut self, whole: &BranchAndBound, steps: u64) {
        self.knowledge = whole.knowledge.handed_down();
        self.counters.nodes = 0;
        self.counters.last_node = Some(steps);
        self.work.pseudo_costs.clone_from(&whole.work.pseudo_costs);
        self.work.scratch.iterations = 0;
    }

    /// Takes over what the explorers of an epoch found and learned.
    fn put_together(&mut self, explorers: &mut [Explorer]) {
        let before = self.work.pseudo_costs.clone();
        for Explorer { search, .. } in explorers {
            if self.knowledge.merge(std::mem::take(&mut search.knowledge)) {
                self.tell();
            }
            self.counters.nodes += search.counters.nodes;
            self.work.pseudo_costs.add(&search.work.pseudo_costs, &before);
            self.work.scratch.iterations += search.work.scratch.iterations;
        }
    }
}

/// Gives those without a node the shallowest one of those who have most.
fn share_out(explorers: &mut [Explorer]) {
    for index in 0..explorers.len() {
        if explorers[index].stack.is_empty() {
            let most = explorers.iter().map(|explorer| explorer.stack.len()).max().unwrap_or(0);
            if most < 2 {
                return;
            }
            if let Some(giver) = explorers.iter_mut().find(|explorer| explorer.stack.len() == most) {
                let node = giver.stack.remove(0);
                explorers[index].stack.push(node);
            }
        }
    }
}
