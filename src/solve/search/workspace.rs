//! What a search works with.

use super::lp::SafeBound;
use super::node::Node;
use super::pseudo_costs::PseudoCosts;
use super::relaxation::Relaxation;
use super::simplex::Scratch;

/// The relaxation, set to the loss that is to be beaten at the moment, the
/// buffers of the simplex method and what branching has learned. None of it
/// bears on what is proven but through a safe bound that is computed afresh.
pub(super) struct Workspace {
    /// Its rows and columns stay as they are; its `lambda` is set before use.
    pub relaxation: Relaxation,
    pub scratch: Scratch,
    /// The last safe bound with its reduced costs.
    pub safe: SafeBound,
    /// Steer the search, and prove nothing.
    pub pseudo_costs: PseudoCosts,
}

impl Workspace {
    /// For a relaxation, with nothing learned yet.
    pub fn new(relaxation: Relaxation) -> Workspace {
        Workspace {
            pseudo_costs: PseudoCosts::new(relaxation.n),
            relaxation,
            scratch: Scratch::default(),
            safe: SafeBound::default(),
        }
    }

    /// More iterations of the simplex method than this mean that it got lost.
    pub fn iteration_limit(&self) -> usize {
        1000 + 30 * self.relaxation.lp.rows
    }

    /// Tells a node's state what was decided since it last knew.
    pub fn settle(&mut self, node: &mut Node) {
        self.relaxation.follow(&mut node.state, &mut self.scratch);
        node.settle(&self.relaxation, &mut self.scratch);
    }

    /// Sets the node's state to the relaxation's present costs.
    pub fn price(&mut self, node: &mut Node) {
        self.relaxation.follow(&mut node.state, &mut self.scratch);
        node.state.price(&self.relaxation.lp, &mut self.scratch);
    }

    /// The safe bound of a node's relaxation, kept with its reduced costs.
    pub fn safe_floor(&mut self, node: &mut Node) -> f64 {
        let state = &node.state;
        self.relaxation.lp.safe_bound(&state.multipliers, state.boxes(), &mut self.safe);
        node.floor = (self.safe.value, self.relaxation.lambda());
        self.safe.value
    }
}
