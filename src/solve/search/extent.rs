//! How far blends with a loss below a ceiling reach in a direction that is
//! linear in the doses: the relaxation of the search with one more row,
//! `N(x) - ceiling D(x) <= 0`, and another objective. Every direction goes on
//! from one basis.

use super::lp::{BoxedLp, SafeBound};
use super::relaxation::Relaxation;
use super::simplex::{Ended, Scratch, State};
use crate::model::Blend;

/// The blends of a continuous model whose loss passes no ceiling.
pub struct Extent {
    lp: BoxedLp,
    start: State,
    scale_ppt: Vec<f64>,
}

/// The end of a direction.
#[derive(Clone, Debug)]
pub struct Reached {
    /// ppt of each column of the blend.
    pub ppt: Vec<f64>,
    /// No blend within the ceiling has a smaller cost, proven.
    pub bound: f64,
}

impl Reached {
    /// The cost of the blend.
    pub fn value(&self, cost: &[f64]) -> f64 {
        self.ppt.iter().zip(cost).map(|(ppt, cost)| ppt * cost).sum()
    }
}

impl Extent {
    /// `None` where there is no blend below the ceiling, or rounding leaves
    /// none.
    pub fn new(blend: &Blend, ceiling: f64) -> Option<Extent> {
        let mut scratch = Scratch::default();
        let blend = &blend.capped_views(ceiling);
        let mut relaxation = Relaxation::new(blend, &mut scratch).ok()?;
        relaxation.set_lambda(ceiling);
        for (at, least, most) in relaxation.continuous_boxes(blend) {
            (relaxation.lower[at], relaxation.upper[at]) = (least, most);
        }
        // The ceiling's row is what was the objective, divided by its size.
        let wide = &relaxation.lp;
        let size = wide.cost.iter().fold(1.0, |most: f64, cost| most.max(cost.abs()));
        let mut lp = BoxedLp::new(wide.rows + 1);
        lp.rhs[..wide.rows].copy_from_slice(&wide.rhs);
        for j in 0..wide.columns() {
            lp.push(0.0, wide.column(j).chain([(wide.rows, wide.cost[j] / size)]));
        }
        let room = ceiling * relaxation.upper[relaxation.d] / size;
        let slack = lp.push(0.0, [(wide.rows, 1.0)]);
        let lower = relaxation.lower.iter().copied().chain([0.0]).collect();
        let upper = relaxation.upper.iter().copied().chain([room]).collect();
        let basis: Vec<usize> = relaxation.basis().iter().copied().chain([slack]).collect();
        let mut start = State::new(&lp, lower, upper, &basis)?;
        let ended = start.run(&lp, f64::INFINITY, iterations(&lp), &mut scratch);
        (ended == Ended::Optimal).then_some(Extent { lp, start, scale_ppt: relaxation.scale_ppt })
    }

    /// The blend where `sum cost x` is least; `cost` has one number a ppt of
    /// each column of the blend. `None` where rounding has taken over.
    pub fn least(&self, cost: &[f64]) -> Option<Reached> {
        let n = self.scale_ppt.len();
        let scaled: Vec<f64> = cost.iter().zip(&self.scale_ppt).map(|(cost, scale)| cost * scale).collect();
        let size = scaled.iter().fold(0.0, |most: f64, cost| most.max(cost.abs()));
        let size = if size > 0.0 { size } else { 1.0 };
        let (mut lp, mut state, mut scratch) = (self.lp.clone(), self.start.clone(), Scratch::default());
        for (k, cost) in scaled.iter().enumerate() {
            (lp.cost[k], lp.cost[n + k]) = (cost / size, cost / size);
        }
        state.price(&lp, &mut scratch);
        if state.run(&lp, f64::INFINITY, iterations(&lp), &mut scratch) != Ended::Optimal {
            return None;
        }
        let mut bound = SafeBound::default();
        lp.safe_bound(&state.multipliers, state.boxes(), &mut bound);
        let value = |k: usize| state.value(k) + state.value(n + k);
        let ppt = (0..n).map(|k| (value(k) * self.scale_ppt[k]).max(0.0)).collect();
        Some(Reached { ppt, bound: bound.value * size })
    }
}

/// More steps than this mean that rounding has taken over.
fn iterations(lp: &BoxedLp) -> usize {
    2000 + 20 * lp.rows
}
