//! The state of a search, and what every part of it asks.

use super::counters::Counters;
use super::instance::Instance;
use super::knowledge::Knowledge;
use super::node::Node;
use super::outcome::{Aim, Judge};
use super::relaxation::{Empty, Relaxation};
use super::simplex::Scratch;
use super::workspace::Workspace;
use crate::control::{Control, Progress};
use crate::model::Blend;

/// A branch and bound over one blend.
pub(super) struct BranchAndBound<'a> {
    /// What is searched.
    pub instance: Instance<'a>,
    /// What is known.
    pub knowledge: Knowledge,
    /// What was done.
    pub counters: Counters,
    /// What it works with.
    pub work: Workspace,
}

impl<'a> BranchAndBound<'a> {
    /// A search that knows nothing yet.
    ///
    /// # Errors
    /// When there is certainly no formula.
    pub fn new(
        blend: &'a Blend,
        judge: &'a Judge<'a>,
        tolerance: f64,
        control: &'a Control,
    ) -> Result<BranchAndBound<'a>, Empty> {
        if blend.contradiction.is_some() {
            return Err(Empty);
        }
        let relaxation = Relaxation::new(blend, &mut Scratch::default())?;
        Ok(BranchAndBound::over(Instance::new(blend, judge, tolerance, control), relaxation))
    }

    /// The same over a relaxation that is there already.
    pub fn over(instance: Instance<'a>, relaxation: Relaxation) -> BranchAndBound<'a> {
        BranchAndBound {
            instance,
            knowledge: Knowledge::default(),
            counters: Counters::default(),
            work: Workspace::new(relaxation),
        }
    }

    /// Another one over the same blend that knows nothing yet.
    pub fn twin<'b>(&self, control: &'b Control) -> BranchAndBound<'b>
    where
        'a: 'b,
    {
        BranchAndBound::over(self.instance.under(control), self.work.relaxation.clone())
    }
}

impl BranchAndBound<'_> {
    /// Whether nodes or time are used up, or there is all that was asked for.
    pub fn is_over(&self) -> bool {
        self.counters.is_used_up(self.instance.control.node_limit)
            || self.is_satisfied()
            || self.instance.control.should_stop()
    }

    /// Whether any formula was asked for, and there is one.
    pub fn is_satisfied(&self) -> bool {
        self.instance.aim == Aim::Any && self.knowledge.found().is_some()
    }

    /// The least D inside a node, of all views, in units of its column.
    pub fn least_d(&self, node: &Node) -> f64 {
        node.span.0.min(self.work.relaxation.reach.least)
    }

    /// Tells the listener how far the search is.
    pub fn tell(&self) {
        let incumbent_loss = self.knowledge.found().map(|found| found.judged.loss);
        let (bound, nodes) = (self.knowledge.bound(), self.counters.nodes);
        self.instance.control.tell(Progress { incumbent_loss, bound, nodes });
    }
}

/// A lower bound on the loss from `min(N - lambda D) >= floor`, of several views the
/// greatest: where it is negative, the loss is at least `lambda + floor / D_min`.
pub(super) fn loss_floor(lambda: f64, floor: f64, d_least: f64) -> f64 {
    if floor >= 0.0 { lambda } else { (lambda + floor / d_least).max(0.0) }
}
