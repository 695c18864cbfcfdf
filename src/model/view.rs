//! Further views of a blend: each a ratio of the form that the loss has, with a `D` and
//! `P` of its own. The greatest ratio of all views is the loss of a formula.
//!
//! Where the loss has to stay at or below a number, each further view is a cap: a
//! formula loses less than `lambda` in every view where it keeps the caps at `lambda`
//! and its own ratio lies below.

use super::blend::{Blend, CapColumn, LossCap};
use crate::brief::Match;
use crate::problem::{Problem, Target, View};

/// A further view.
#[derive(Clone, Debug, PartialEq)]
pub struct BlendView {
    /// The targets of its ratio. Their weights have in them what makes views compare
    /// ([`Problem::view_scale`]).
    pub targets: Vec<Target>,
    /// What one ppt of each column of the blend adds to its `D` and, nonzero entries
    /// only, to its `P`.
    pub columns: Vec<CapColumn>,
}

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
            columns: self.columns.iter().map(super::blend::BlendColumn::as_seen).collect(),
        };
        for view in &problem.views[1..] {
            let of = |column: &super::blend::BlendColumn| seen(problem, view, column.material);
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

    /// The same formulas, judged by the first view alone.
    pub fn first_view(&self) -> Blend {
        Blend { views: Vec::new(), ..self.clone() }
    }
}

/// The targets of a view with weights that make views compare.
pub(super) fn scaled_targets(problem: &Problem, view: &View) -> Vec<Target> {
    let scale = problem.view_scale(view);
    view.targets.iter().map(|target| Target { weight: target.weight * scale, ..*target }).collect()
}

/// What one ppt of a material's column adds in a view.
pub(super) fn seen(problem: &Problem, view: &View, index: usize) -> CapColumn {
    let mut odours = vec![0.0; view.targets.len()];
    let mut weight = 0.0;
    for &(material, part) in &problem.columns[index].neat {
        let material = view.material(material);
        for (sum, target) in odours.iter_mut().zip(&view.targets) {
            *sum += part * material.strength * material.scores[target.descriptor];
        }
        weight += part * material.strength;
    }
    if view.matching == Match::Balance {
        weight = odours.iter().sum::<f64>() / view.target_total();
    }
    CapColumn { weight, odours: odours.into_iter().enumerate().filter(|(_, odour)| *odour != 0.0).collect() }
}
