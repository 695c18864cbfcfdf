//! Further views in the relaxation: the objective is no longer that of the first view
//! alone but the greatest of all. With `f_k = N_k - lambda D_k` in units of a typical
//! `D_k`, it is `f_1 + spare`, where `spare >= 0` and each further view keeps
//! `f_k <= f_1 + spare`. A minimum of 0 or more leaves no formula that loses less than
//! `lambda` in every view.
//!
//! `lambda` then stands in the rows too, at the columns of all `D`: an inverse that
//! belongs to another one follows by a change of rank one for each view.

use super::super::simplex::{Scratch, State};
use super::Relaxation;

impl Relaxation {
    /// Sets the loss in the rows of further views.
    pub(super) fn set_in_rows(&mut self, lambda: f64) {
        for (view, rows) in self.views.iter().zip(&self.rows.views) {
            self.lp.set(rows.worst, view.d, -lambda);
            self.lp.set(rows.worst, self.d, lambda);
        }
        self.in_rows = lambda;
    }

    /// Lets a state's inverse follow where the loss in the rows has changed since; nothing
    /// changes where there is one view.
    pub fn follow(&self, state: &mut State, scratch: &mut Scratch) {
        let by = self.in_rows - state.lambda;
        if self.views.is_empty() || by == 0.0 {
            return;
        }
        state.lambda = self.in_rows;
        let first: Vec<(usize, f64)> = self.rows.views.iter().map(|rows| (rows.worst, by)).collect();
        let mut further = self.views.iter().zip(&self.rows.views);
        let is_sound = state.column_changed(self.d, &first, scratch)
            && further.all(|(view, rows)| state.column_changed(view.d, &[(rows.worst, -by)], scratch));
        if is_sound {
            state.price(&self.lp, scratch);
        } else if !state.refactor(&self.lp, scratch)
            && let Some(fresh) = State::new(&self.lp, state.lower.clone(), state.upper.clone(), &self.basis)
        {
            *state = State { lambda: self.in_rows, ..fresh };
        }
    }

    /// The greatest loss of all views at a state's point: what is missed and passed there,
    /// whatever else the columns hold.
    pub(super) fn greatest_ratio(&self, state: &State) -> f64 {
        let ratio = |d: usize, gaps: std::ops::Range<usize>, ends: &mut dyn Iterator<Item = (f64, f64)>| {
            let gap = |(at, (above, below)): (usize, (f64, f64))| {
                let gap = state.value(gaps.start + 2 * at) - state.value(gaps.start + 2 * at + 1);
                if gap > 0.0 { above * gap } else { -below * gap }
            };
            let sum: f64 = ends.enumerate().map(gap).sum();
            let d = state.value(d);
            if d > 0.0 { sum / d } else { f64::INFINITY }
        };
        let cost = |j: usize| self.lp.cost[j];
        let mut first = self.gaps.clone().step_by(2).map(|j| (cost(j), cost(j + 1)));
        let further = self.views.iter().map(|view| ratio(view.d, view.gaps.clone(), &mut view.ends.iter().copied()));
        further.fold(ratio(self.d, self.gaps.clone(), &mut first), f64::max)
    }

    /// The loss at which a state's objective would be 0 if its multipliers stayed: Newton's
    /// step. For one view it is the loss of the state's point.
    pub fn newton(&self, state: &State) -> f64 {
        if self.views.is_empty() {
            return self.ratio(state);
        }
        let (mut of_first, mut slope) = (1.0, 0.0);
        for (view, rows) in self.views.iter().zip(&self.rows.views) {
            let share = (-state.multipliers[rows.worst]).clamp(0.0, 1.0);
            of_first -= share;
            slope += share * state.value(view.d);
        }
        slope += of_first.max(0.0) * state.value(self.d);
        self.lambda() + state.objective(&self.lp) / slope
    }
}
