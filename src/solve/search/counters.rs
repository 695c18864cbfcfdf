//! What a search counts.

/// Points that are rounded without exception before only some are.
const ALL_ROUNDED: u64 = 100;
/// After that, one in so many is.
const SOME_ROUNDED: u64 = 16;

/// How much a search has done. No count ever falls but at the start of an
/// explorer's epoch; simplex iterations are counted where they are done, in the
/// buffers of the workspace.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Counters {
    /// Nodes visited, those of subproblems included.
    pub nodes: u64,
    /// Points of nodes that could have been rounded.
    pub roundings: u64,
    /// Stop at so many nodes, whatever the control allows.
    pub last_node: Option<u64>,
}

impl Counters {
    /// Whether the nodes are used up that the search or its control allows.
    pub fn is_used_up(&self, node_limit: Option<u64>) -> bool {
        [node_limit, self.last_node].into_iter().flatten().any(|most| self.nodes >= most)
    }

    /// Nodes that are left of those that the search allows itself.
    pub fn left(&self) -> Option<u64> {
        self.last_node.map(|last| last.saturating_sub(self.nodes))
    }

    /// Whether the next point is worth rounding.
    pub fn is_rounded(&mut self) -> bool {
        self.roundings += 1;
        self.roundings <= ALL_ROUNDED || self.roundings.is_multiple_of(SOME_ROUNDED)
    }
}
