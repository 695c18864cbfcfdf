//! The bound of the root: Dinkelbach's method on the relaxation of the whole
//! blend, certified.

use super::branch_and_bound::{BranchAndBound, loss_floor};
use super::node::Node;
use super::relaxation::{Empty, greatest_loss};
use super::settling::Settling;
use super::simplex::Ended;
use crate::control::Control;
use crate::model::Blend;
use crate::solve::quiet;
use crate::tolerance::search::{ROOT_HAIRS, ROOT_SETTLED};

/// Steps of Dinkelbach's method; it converges faster than linearly.
const STEPS: usize = 60;

/// What multipliers prove of a blend's relaxation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RootBound {
    /// No formula has a loss below this; infinite where there is none at all.
    pub bound: f64,
    /// A typical D: the geometric mean of its least and greatest value.
    pub d_ref: f64,
}

/// A bound and where the relaxation stands at it.
#[derive(Clone, Debug)]
pub struct RootPoint {
    /// As in [`RootBound`].
    pub bound: f64,
    /// ppt of each column of the blend at the relaxation's point; `None` where it
    /// has none, or the numbers failed.
    pub ppt: Option<Vec<f64>>,
}

/// The bound of a blend's relaxation and its point, without searching.
pub fn root_point(blend: &Blend, control: &Control) -> RootPoint {
    let found = quiet::catch(|| match BranchAndBound::new(blend, &|_| None, 0.0, control) {
        Err(Empty) => RootPoint { bound: f64::INFINITY, ppt: None },
        Ok(mut search) => {
            let worst = search.worst();
            let Some(mut root) = Node::root(blend, &search.work.relaxation) else {
                return RootPoint { bound: 0.0, ppt: None };
            };
            let is_any = search.bound_root(&mut root, worst);
            let dose = |k: usize| root.dose_ppt(k, &search.work.relaxation).max(0.0);
            let ppt = is_any.then(|| (0..blend.columns.len()).map(dose).collect());
            RootPoint { bound: search.knowledge.bound(), ppt }
        }
    });
    found.unwrap_or(RootPoint { bound: 0.0, ppt: None })
}

/// The bound that the relaxation of a blend proves, without searching; no
/// bound at all where the numbers fail.
pub fn root_bound(blend: &Blend, control: &Control) -> RootBound {
    let found = quiet::catch(|| match BranchAndBound::new(blend, &|_| None, 0.0, control) {
        Err(Empty) => RootBound { bound: f64::INFINITY, d_ref: 1.0 },
        Ok(mut search) => {
            let worst = search.worst();
            if let Some(mut root) = Node::root(blend, &search.work.relaxation) {
                search.bound_root(&mut root, worst);
            }
            RootBound { bound: search.knowledge.bound(), d_ref: search.work.relaxation.d_ref }
        }
    });
    found.unwrap_or_else(|_| {
        let heaviest = blend.columns.iter().map(|column| column.weight).fold(0.0, f64::max);
        RootBound { bound: 0.0, d_ref: if heaviest > 0.0 { 1000.0 * heaviest } else { 1.0 } }
    })
}

impl BranchAndBound<'_> {
    /// Greatest loss that any blend can have, a little more.
    pub(super) fn worst(&self) -> f64 {
        greatest_loss(self.instance.blend)
    }

    /// The least loss of the root's relaxation, certified. False when there
    /// is no formula at all.
    pub(super) fn bound_root(&mut self, root: &mut Node, worst: f64) -> bool {
        if !self.instance.grid.complete(root) || !root.close_count(&self.work.relaxation) {
            self.knowledge.exclude_all();
            return false;
        }
        self.work.settle(root);
        let Some(lambda) = self.least_ratio(root, worst) else {
            self.knowledge.exclude_all();
            return false;
        };
        // A hair below, so that rounding does not spoil the proof.
        let mut bound: f64 = 0.0;
        for hair in ROOT_HAIRS {
            let certain = lambda - hair * lambda.max(1.0);
            if certain <= 0.0 {
                break;
            }
            self.work.relaxation.set_lambda(certain);
            self.work.price(root);
            self.run_simplex(root, f64::INFINITY);
            let floor = self.work.safe_floor(root);
            if floor >= 0.0 {
                bound = certain;
                break;
            }
            bound = bound.max(loss_floor(certain, floor, self.least_d(root)));
        }
        self.knowledge.raise_bound(bound);
        true
    }

    /// The loss at which the relaxation's minimum is 0, as far as doubles tell;
    /// `None` when the relaxation certainly has no point.
    fn least_ratio(&mut self, root: &mut Node, worst: f64) -> Option<f64> {
        if !self.instance.blend.views.is_empty() {
            return self.least_of_views(root, worst);
        }
        let mut lambda = worst;
        for _ in 0..STEPS {
            self.work.relaxation.set_lambda(lambda);
            self.work.price(root);
            match self.run_simplex(root, f64::INFINITY) {
                Ended::Optimal => {}
                Ended::Infeasible(row)
                    if self.work.relaxation.lp.proves_infeasible(root.state.inverse_row(row), root.state.boxes()) =>
                {
                    return None;
                }
                _ => break,
            }
            let ratio = self.work.relaxation.ratio(&root.state).max(0.0);
            if ratio >= lambda - ROOT_SETTLED * lambda.max(1.0) {
                break;
            }
            lambda = ratio;
        }
        Some(lambda)
    }

    /// The same for several views, by Newton's method on the greatest of them: the loss of
    /// a point is only one from above, since the views differ in D.
    fn least_of_views(&mut self, root: &mut Node, worst: f64) -> Option<f64> {
        let mut settling = Settling::new(worst, ROOT_SETTLED);
        while let Some(lambda) = settling.next() {
            self.work.relaxation.set_lambda(lambda);
            self.work.price(root);
            match self.run_simplex(root, f64::INFINITY) {
                Ended::Optimal => drop(settling.take(&self.work.relaxation, &root.state)),
                Ended::Infeasible(row)
                    if self.work.relaxation.lp.proves_infeasible(root.state.inverse_row(row), root.state.boxes()) =>
                {
                    return None;
                }
                _ => break,
            }
        }
        Some(settling.most())
    }

    /// Runs the simplex method on a node's relaxation as it is priced.
    pub(super) fn run_simplex(&mut self, node: &mut Node, cutoff: f64) -> Ended {
        let most = self.work.iteration_limit();
        node.state.run(&self.work.relaxation.lp, cutoff, most, &mut self.work.scratch)
    }
}
