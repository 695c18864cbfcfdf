//! Further views of a blend: each a ratio of the form that the loss has, with a `D` and
//! `P` of its own. The greatest ratio of all views is the loss of a formula.
//!
//! Where the loss has to stay at or below a number, each further view is a cap: a
//! formula loses less than `lambda` in every view where it keeps the caps at `lambda`
//! and its own ratio lies below.

use super::blend::{Blend, BlendColumn, BlendView, LossCap};
use super::heard::{scaled_targets, seen};
use crate::brief::Law;
use crate::problem::Problem;

impl BlendView {
    /// The view as a ratio that may not pass a number.
    fn capped(&self, most: f64) -> LossCap {
        let (targets, columns) = (self.targets.clone(), self.columns.clone());
        LossCap { rule: None, targets, columns, most, room: 0.0 }
    }
}

impl Blend {
    /// Adds the further views of a problem; one that says the same as another adds nothing.
    pub(super) fn add_views(&mut self, problem: &Problem) {
        let own = BlendView {
            targets: self.targets.clone(),
            columns: self.columns.iter().map(BlendColumn::as_seen).collect(),
        };
        // By another law a view is no ratio of sums: it is left out, and what is proven
        // without it holds for it too.
        for view in problem.views.iter().filter(|view| view.law == Law::Linear) {
            let of = |column: &BlendColumn| seen(problem, view, column.material);
            let further =
                BlendView { targets: scaled_targets(problem, view), columns: self.columns.iter().map(of).collect() };
            if further != own && !self.views.contains(&further) {
                self.views.push(further);
            }
        }
    }

    /// The same formulas, those alone that lose at most `most` in every further view,
    /// judged by the first view.
    pub fn capped_views(&self, most: f64) -> Blend {
        let mut capped = Blend { views: Vec::new(), ..self.clone() };
        capped.caps.extend(self.views.iter().map(|view| view.capped(most)));
        capped
    }

    /// The first view as a ratio that may not pass a number.
    pub fn capped(&self, most: f64) -> LossCap {
        let columns = self.columns.iter().map(BlendColumn::as_seen).collect();
        LossCap { rule: None, targets: self.targets.clone(), columns, most, room: 0.0 }
    }

    /// The same formulas, judged by the first view alone.
    pub fn first_view(&self) -> Blend {
        Blend { views: Vec::new(), ..self.clone() }
    }
}
