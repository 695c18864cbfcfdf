//! What a node is narrowed to before it is split: parts of each material's doses are
//! looked at one by one, and what multipliers close at once is cut off. At the root of a
//! tree this takes the place of thousands of nodes.

use super::super::search::simplex::Ended;
use super::branch::split_at;
use super::node::{Node, Side, Use};
use super::relaxation::Relaxation;
use super::tree::{ITERATIONS, ROOT_ROUNDS, ROUNDS, Search};

/// Passes over all materials before a tree.
pub(super) const PROBES: usize = 3;
/// Rounds of new columns that one look may take.
const PROBE_ROUNDS: usize = 3;

impl<'m, 'a> Search<'m, 'a> {
    /// Shortens the doses of each material of a root by looking at parts of them: what
    /// is closed at once is cut off. False where nothing is left.
    pub fn probe(&mut self, relaxation: &mut Relaxation<'m, 'a>, root: &mut Node, passes: usize) -> bool {
        for _ in 0..passes {
            let before: usize = (0..self.model.columns()).map(|k| root.width(k)).sum();
            for k in 0..self.model.columns() {
                if !self.probe_one(relaxation, root, k) {
                    return false;
                }
            }
            let after: usize = (0..self.model.columns()).map(|k| root.width(k)).sum();
            if !self.tighten(relaxation, root, ROOT_ROUNDS) {
                return false;
            }
            if self.is_over() || after * 20 > before * 19 {
                break;
            }
        }
        true
    }

    /// The same of one material. False where nothing is left.
    fn probe_one(&mut self, relaxation: &mut Relaxation<'m, 'a>, root: &mut Node, k: usize) -> bool {
        if root.uses[k] == Use::Open {
            if self.is_closed(relaxation, root, k, Side::In) {
                return root.take(k, Side::Out) && self.tighten(relaxation, root, ROUNDS);
            }
            if self.is_closed(relaxation, root, k, Side::Out) && !root.take(k, Side::In) {
                return false;
            }
        }
        for upper in [true, false] {
            // A quarter, then half of what is left, and so on as long as it is closed.
            while !root.is_settled(k) && root.uses[k] != Use::Out && !self.is_over() {
                let Some((below, above)) = split_at(root.spans[k], root.within(k, if upper { 0.7 } else { 0.3 }))
                else {
                    break;
                };
                let (cut, kept) = if upper {
                    (Side::AtLeast(above), Side::AtMost(below))
                } else if root.uses[k] == Use::In {
                    (Side::AtMost(below), Side::AtLeast(above))
                } else {
                    // Left out it stays possible: the lower doses alone are cut.
                    (Side::InAtMost(below), Side::AtLeastIfUsed(above))
                };
                if !self.is_closed(relaxation, root, k, cut) {
                    break;
                }
                if !root.take(k, kept) {
                    return false;
                }
            }
        }
        true
    }

    /// Whether one side of a split is closed by a few rounds.
    fn is_closed(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &Node, k: usize, side: Side) -> bool {
        let mut child = node.clone();
        if !child.take(k, side) {
            return true;
        }
        // Where the columns that there are leave theta below 0, further ones do so too.
        if child.settle(relaxation, &mut self.scratch)
            && self.run(relaxation, &mut child, ITERATIONS) == Ended::Optimal
            && child.state.value(relaxation.theta) < 0.0
        {
            return false;
        }
        !self.tighten(relaxation, &mut child, PROBE_ROUNDS)
    }
}
