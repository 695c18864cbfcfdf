//! The continuous optimum: the best blend of a continuous model and its proof, by
//! the relaxation of the search alone. Dinkelbach's method, each step from the
//! basis of the one before, and each model of a family from that of another.

use super::lp::SafeBound;
use super::relaxation::Relaxation;
use super::settling::Settling;
use super::simplex::{Ended, Scratch, State};
use crate::model::Blend;
use crate::tolerance::search::{CONTINUOUS_SETTLED, ROOT_HAIRS};

/// Steps of Dinkelbach's method; it converges faster than linearly.
const STEPS: usize = 40;

/// The best point of a continuous model.
#[derive(Clone, Debug)]
pub struct ContinuousOptimum {
    /// ppt of each column of the blend; empty where there is no blend at all.
    pub ppt: Vec<f64>,
    /// No blend has a loss below this, proven; infinite where there is none.
    pub bound: f64,
}

/// The best point, from a loss that need not be reached; `None` where rounding
/// has taken over.
pub fn continuous_optimum(blend: &Blend, from: f64) -> Option<ContinuousOptimum> {
    match ParametricModel::start(blend, from) {
        Started::Ready(mut model) => model.solve(),
        Started::Empty => Some(ContinuousOptimum::none()),
        Started::Trouble => None,
    }
}

impl ContinuousOptimum {
    fn none() -> ContinuousOptimum {
        ContinuousOptimum { ppt: Vec::new(), bound: f64::INFINITY }
    }
}

/// Models that differ in the bound of one row, each solved from the basis of
/// another. The doses of a blend add up to 1000, so a bound is a right-hand
/// side and moves no coefficient.
#[derive(Clone)]
pub struct ParametricModel {
    relaxation: Relaxation,
    state: State,
}

/// What became of the first model of a family.
pub enum Started {
    /// It can be solved.
    Ready(Box<ParametricModel>),
    /// It has no point at all.
    Empty,
    /// Rounding has taken over.
    Trouble,
}

impl ParametricModel {
    /// The family of a model, which must be its loosest: what is known of D and
    /// of the slacks then holds for all.
    pub fn start(blend: &Blend, from: f64) -> Started {
        let mut scratch = Scratch::default();
        let Ok(mut relaxation) = Relaxation::new(blend, &mut scratch) else { return Started::Empty };
        let boxes = relaxation.continuous_boxes(blend);
        let Some(mut state) = relaxation.start() else { return Started::Trouble };
        relaxation.set_lambda(from);
        state.price(&relaxation.lp, &mut scratch);
        state.change_bounds(&relaxation.lp, &boxes, &mut scratch);
        Started::Ready(Box::new(ParametricModel { relaxation, state }))
    }

    /// Moves the bound of a row of the blend; no looser than it was at first.
    pub fn tighten(&mut self, row: usize, upper: f64) {
        self.relaxation.set_upper(row, upper);
    }

    /// The best point, from the basis at hand; `None` where rounding has taken
    /// over.
    pub fn solve(&mut self) -> Option<ContinuousOptimum> {
        if !self.relaxation.views.is_empty() {
            return self.solve_views();
        }
        let ParametricModel { relaxation, state } = self;
        let mut scratch = Scratch::default();
        let iterations = 2000 + 20 * relaxation.lp.rows;
        // Right-hand side or costs may have changed.
        state.price(&relaxation.lp, &mut scratch);
        for _ in 0..STEPS {
            match state.run(&relaxation.lp, f64::INFINITY, iterations, &mut scratch) {
                Ended::Optimal => {}
                Ended::Infeasible(row) if relaxation.lp.proves_infeasible(state.inverse_row(row), state.boxes()) => {
                    return Some(ContinuousOptimum::none());
                }
                _ => return None,
            }
            let (lambda, ratio) = (relaxation.lambda(), relaxation.ratio(state));
            if (lambda - ratio).abs() <= CONTINUOUS_SETTLED * lambda.max(1.0) {
                break;
            }
            relaxation.set_lambda(ratio);
            state.price(&relaxation.lp, &mut scratch);
        }
        let mut least = SafeBound::default();
        relaxation.lp.safe_bound(&state.multipliers, state.boxes(), &mut least);
        // N - lambda D >= F for every blend: above F / D below lambda.
        let d = if least.value < 0.0 { relaxation.lower[relaxation.d] } else { relaxation.upper[relaxation.d] };
        Some(ContinuousOptimum { ppt: self.ppt(), bound: (self.relaxation.lambda() + least.value / d).max(0.0) })
    }

    /// The same for several views: the least that the worst of them has, and a hair below it
    /// a bound, as at the root of a search.
    fn solve_views(&mut self) -> Option<ContinuousOptimum> {
        let mut scratch = Scratch::default();
        let iterations = 2000 + 20 * self.relaxation.lp.rows;
        let mut settling = Settling::new(self.relaxation.reach.lambda, CONTINUOUS_SETTLED);
        let mut best = None;
        while let Some(lambda) = settling.next() {
            match self.run_at(lambda, iterations, &mut scratch) {
                Ended::Optimal => {}
                Ended::Infeasible(row) => {
                    let ParametricModel { relaxation, state } = self;
                    let is_empty = relaxation.lp.proves_infeasible(state.inverse_row(row), state.boxes());
                    return is_empty.then(ContinuousOptimum::none);
                }
                _ => return None,
            }
            if settling.take(&self.relaxation, &self.state) {
                best = Some(self.ppt());
            }
        }
        let (ppt, most) = (best?, settling.most());
        let mut least = SafeBound::default();
        for hair in ROOT_HAIRS {
            let certain = most - hair * most.max(1.0);
            if certain <= 0.0 {
                break;
            }
            self.run_at(certain, iterations, &mut scratch);
            self.relaxation.lp.safe_bound(&self.state.multipliers, self.state.boxes(), &mut least);
            if least.value >= 0.0 {
                return Some(ContinuousOptimum { ppt, bound: certain });
            }
        }
        Some(ContinuousOptimum { ppt, bound: 0.0 })
    }

    /// Solves for one loss, from the basis at hand.
    fn run_at(&mut self, lambda: f64, iterations: usize, scratch: &mut Scratch) -> Ended {
        let ParametricModel { relaxation, state } = self;
        relaxation.set_lambda(lambda);
        relaxation.follow(state, scratch);
        state.price(&relaxation.lp, scratch);
        state.run(&relaxation.lp, f64::INFINITY, iterations, scratch)
    }

    /// ppt of each column at the state's point.
    fn ppt(&self) -> Vec<f64> {
        let ParametricModel { relaxation, state } = self;
        let n = relaxation.n;
        (0..n).map(|k| ((state.value(k) + state.value(n + k)) * relaxation.scale_ppt[k]).max(0.0)).collect()
    }
}
