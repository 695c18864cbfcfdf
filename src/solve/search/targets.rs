//! The search itself: depth first, in a sequence of trees for rising targets.
//!
//! A tree for a target loss holds every formula with a loss below it. Closed
//! and empty, the tree proves the target a lower bound; the next target lies
//! further up. The first tree that holds a formula ends with the best one.
//! So the search never explores what only a poor incumbent leaves open.

use super::branch_and_bound::BranchAndBound;
use super::dive::Order;
use super::explore::Ending;
use super::node::Node;
use super::outcome::{Aim, Judge, Known, Outcome};
use super::relaxation::Empty;
use crate::control::Control;
use crate::model::Blend;
use crate::solve::quiet;

/// Good formulas are sought in neighbourhoods of the first once the proof has
/// taken this many nodes in one tree; easy briefs are done sooner.
const IMPROVE_AFTER: u64 = 1000;
/// The first target lies so far up from the bound to the loss to beat; each
/// later one this much further up, but no further than the last.
const FIRST_SHARE: f64 = 0.25;
const FURTHER: f64 = 0.15;
const LAST_SHARE: f64 = 0.8;
/// A target this near the loss to beat, as a part of it, is dropped for the loss
/// itself.
const NEAR: f64 = 0.02;
/// While nothing is known of the loss to beat, a target is this part of the
/// worst loss further up at least.
const FEELER: f64 = 1e-3;

/// Searches for the best formula of a blend without a ladder, or for any. A panic of the search
/// is caught, and its message is the error. `judge` verifies a formula in
/// arithmetic of its own and returns its loss, or `None` when it breaks a
/// rule; `tolerance` is how far a row may be passed before it is asked, as a
/// share of the row's size.
///
/// # Errors
/// When the search panics.
pub(super) fn search_rows(
    blend: &Blend,
    judge: &Judge,
    tolerance: f64,
    aim: Aim,
    known: &Known,
    control: &Control,
) -> Result<Outcome, String> {
    quiet::catch(|| match BranchAndBound::new(blend, judge, tolerance, control) {
        Err(Empty) => Outcome { found: None, bound: f64::INFINITY, nodes: 0, iterations: 0 },
        Ok(mut search) => {
            search.instance.aim = aim;
            search.run(known);
            Outcome {
                bound: search.knowledge.bound(),
                found: search.knowledge.take_found(),
                nodes: search.counters.nodes,
                iterations: search.work.scratch.iterations,
            }
        }
    })
}

impl BranchAndBound<'_> {
    fn run(&mut self, known: &Known) {
        let worst = self.worst();
        let Some(mut root) = Node::root(self.instance.blend, &self.work.relaxation) else { return };
        if !self.bound_root(&mut root, worst) {
            return;
        }
        if let Some(ceiling) = known.ceiling.filter(|&ceiling| ceiling < worst) {
            self.knowledge.set_ceiling(ceiling);
        }
        self.knowledge.raise_bound(known.bound);
        known.formulas.iter().for_each(|doses| self.offer(doses.clone()));
        self.tell();
        // Below a ceiling there is most often nothing: no time for good formulas
        // early, nor for targets on the way.
        let mut is_improved = self.knowledge.has_ceiling_alone();
        if !is_improved && !self.knowledge.is_proven() && !self.is_satisfied() {
            if self.knowledge.found().is_none() {
                self.dive(&root, Order::MassAndOdour);
            }
            if !self.is_satisfied() {
                self.dive(&root, Order::Odour);
            }
        }
        let mut share = FIRST_SHARE;
        while !self.knowledge.is_proven() && !self.is_over() {
            let target = self.target(share, worst);
            self.knowledge.set_target(target.min(self.knowledge.loss_to_beat()));
            self.counters.last_node = (!is_improved).then_some(self.counters.nodes + IMPROVE_AFTER);
            let ending = self.explore(&root);
            self.counters.last_node = None;
            match ending {
                Ending::Closed => {
                    self.knowledge.raise_bound(self.knowledge.cutoff());
                    if !self.knowledge.has_loss_to_beat() && target >= worst {
                        self.knowledge.exclude_all();
                        return;
                    }
                }
                Ending::Stopped(bound) => {
                    self.knowledge.raise_bound(bound.min(self.knowledge.loss_to_beat()));
                    if is_improved || self.is_over() {
                        return;
                    }
                    self.improve(&root);
                    is_improved = true;
                    continue;
                }
            }
            share = (share + FURTHER).min(LAST_SHARE);
        }
    }

    /// The loss below which the next tree looks: a share of the way from the
    /// bound to the loss to beat, infinite where it is that loss.
    fn target(&self, share: f64, worst: f64) -> f64 {
        let known = &self.knowledge;
        let (bound, has_loss_to_beat) = (known.bound(), known.has_loss_to_beat());
        let ceiling = if has_loss_to_beat { known.loss_to_beat() } else { worst };
        let mut target = bound + share * (ceiling - bound);
        if self.instance.aim == Aim::Any || known.has_ceiling_alone() {
            target = worst;
        } else if !has_loss_to_beat && bound > 0.0 {
            // Nothing is known of the ceiling yet: feel the way up.
            target = target.min(bound * (1.0 + share) + FEELER * worst);
        }
        if ceiling - target <= NEAR * ceiling {
            target = if has_loss_to_beat { f64::INFINITY } else { worst };
        }
        target
    }
}
