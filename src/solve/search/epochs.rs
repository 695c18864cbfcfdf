//! A tree explored by several explorers at once, with the same outcome for
//! any number of threads: in epochs. Each explorer has open nodes of its own
//! and takes a fixed number of steps, knowing what all knew at the start of
//! the epoch. Then what they found and learned is put together in their
//! order, and who has nothing left takes the shallowest node of who has most.
//! How many explorers there are does not depend on the machine; the threads
//! share them out among themselves.

use super::branching::PseudoCosts;
use super::node::Node;
use super::tree::{Ending, Tree};
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
    tree: Tree<'a>,
    stack: Vec<Node>,
    exhausted: f64,
}

impl Tree<'_> {
    /// Explores all that is open. `exhausted` is the least loss of the nodes
    /// that could not be split any further.
    pub(super) fn explore_in_epochs(&mut self, open: Vec<Node>, mut exhausted: f64) -> Ending {
        // Only the whole search tells how far it is and counts its nodes.
        let control = Control { progress: None, node_limit: None, ..self.control.clone() };
        let crew = Crew::new(self.control);
        let mut explorers: Vec<Explorer> =
            (0..EXPLORERS).map(|_| Explorer { tree: self.twin(&control), stack: Vec::new(), exhausted }).collect();
        for (index, node) in open.into_iter().enumerate() {
            explorers[index % EXPLORERS].stack.push(node);
        }
        while explorers.iter().any(|explorer| !explorer.stack.is_empty()) {
            if self.is_over() {
                let open = explorers.iter().flat_map(|explorer| &explorer.stack);
                let open = open.map(|node| self.loss_floor(node.floor.1, node.floor.0, node.span.0));
                let open = open.fold(f64::INFINITY, f64::min);
                return Ending::Stopped(open.min(exhausted).min(self.cut()));
            }
            share_out(&mut explorers);
            let left = self.control.node_limit.map_or(u64::MAX, |most| most - self.nodes);
            let steps = NODES.min(left.div_ceil(EXPLORERS as u64));
            explorers.iter_mut().for_each(|explorer| explorer.tree.begin(self, steps));
            crew.for_each(&mut explorers, |explorer| {
                let exhausted = explorer.tree.explore_stack(&mut explorer.stack);
                explorer.exhausted = explorer.exhausted.min(exhausted);
            });
            self.put_together(&mut explorers);
            exhausted = explorers.iter().map(|explorer| explorer.exhausted).fold(exhausted, f64::min);
            self.tell();
        }
        if exhausted < self.cut() { Ending::Stopped(exhausted) } else { Ending::Closed }
    }

    /// Begins an epoch with what is known.
    fn begin(&mut self, known: &Tree, steps: u64) {
        (self.best_loss, self.limit, self.proven) = (known.best_loss, known.limit, known.proven);
        (self.aim, self.has_ceiling) = (known.aim, known.has_ceiling);
        (self.found, self.present_price) = (None, known.price_of_found());
        self.pseudo_costs.clone_from(&known.pseudo_costs);
        self.nodes = 0;
        self.last_node = Some(steps);
        self.scratch.iterations = 0;
    }

    /// Takes over what the explorers of an epoch found and learned.
    fn put_together(&mut self, explorers: &mut [Explorer]) {
        let before = self.pseudo_costs.clone();
        for Explorer { tree, .. } in explorers {
            if let Some(found) = tree.found.take() {
                self.consider(found);
            }
            // Better by less than a tie, and not cheaper.
            self.best_loss = self.best_loss.min(tree.best_loss);
            self.pseudo_costs.add(&tree.pseudo_costs, &before);
            self.nodes += tree.nodes;
            self.scratch.iterations += tree.scratch.iterations;
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

impl PseudoCosts {
    /// Adds what another has observed since `before`.
    fn add(&mut self, other: &PseudoCosts, before: &PseudoCosts) {
        for (index, sides) in self.sides.iter_mut().enumerate() {
            for (side, mean) in sides.iter_mut().enumerate() {
                let (new, old) = (other.sides[index][side], before.sides[index][side]);
                mean.sum += new.sum - old.sum;
                mean.count += new.count - old.count;
            }
        }
    }
}
