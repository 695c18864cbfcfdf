//! The loss at which the objective of several views is 0: Newton's method between a loss
//! that is too little and one that a point has. For a fixed basis the objective falls with
//! the loss, and Newton's step is the loss of the mixture of views that the multipliers are;
//! where a step leaves what is known, the middle is next (J.-P. Crouzeix, J. A. Ferland and S.
//! Schaible, Journal of Optimization Theory and Applications 47, 1985, have the method of
//! Dinkelbach for such programmes).

use super::relaxation::Relaxation;
use super::simplex::State;

/// Steps at most.
const STEPS: usize = 100;

/// What is known of that loss.
pub(super) struct Settling {
    /// It is no less.
    least: f64,
    /// A point has this loss.
    most: f64,
    next: f64,
    /// As a share of max(1, loss).
    settled: f64,
    /// Whether the last step left nothing to do.
    is_settled: bool,
    steps: usize,
}

impl Settling {
    /// From a loss that every point stays below, until it is known to within `settled`, as
    /// a share of max(1, loss).
    pub fn new(worst: f64, settled: f64) -> Settling {
        Settling { least: 0.0, most: worst, next: worst, settled, is_settled: false, steps: 0 }
    }

    /// The loss to solve for; `None` once it is known.
    pub fn next(&mut self) -> Option<f64> {
        self.steps += 1;
        let is_near = self.most - self.least <= self.settled * self.most.max(1.0);
        (!self.is_settled && !is_near && self.steps <= STEPS).then_some(self.next)
    }

    /// Takes note of the optimum for that loss. Whether its point is the best so far.
    pub fn take(&mut self, relaxation: &Relaxation, state: &State) -> bool {
        let (at, value) = (relaxation.lambda(), state.objective(&relaxation.lp));
        let (ratio, newton) = (relaxation.ratio(state).max(0.0), relaxation.newton(state));
        self.is_settled = ratio <= 0.0 || (newton - at).abs() <= self.settled * at.max(1.0);
        let is_best = ratio <= self.most;
        self.most = self.most.min(ratio);
        if value >= 0.0 {
            self.least = self.least.max(at.min(self.most));
        }
        let is_inside = newton > self.least && newton <= self.most;
        self.next = if is_inside { newton } else { self.least.midpoint(self.most) };
        is_best
    }

    /// A loss that a point has, the least that was met.
    pub fn most(&self) -> f64 {
        self.most
    }
}
