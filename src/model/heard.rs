//! What one part of a column adds to a ratio: to its `D` and to its `P`.

use crate::brief::{Law, Match};
use crate::problem::{Problem, Target, View};

/// A column as a capped ratio sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct CapColumn {
    /// What one ppt adds to `D`.
    pub weight: f64,
    /// (target, what one ppt adds to its `P`), nonzero entries only.
    pub odours: Vec<(usize, f64)>,
}

/// The view that a model's own objective is: the first by the linear law, of which alone a
/// ratio of sums can be made; where there is none, the first.
pub(super) fn first_view(problem: &Problem) -> &View {
    problem.views.iter().find(|view| view.law == Law::Linear).unwrap_or(&problem.views[0])
}

/// The targets of a view with weights that make views compare; none by another law, so
/// that what is proven without them holds.
pub(super) fn scaled_targets(problem: &Problem, view: &View) -> Vec<Target> {
    let scale = problem.view_scale(view);
    let targets = view.targets.iter().filter(|_| view.law == Law::Linear);
    targets.map(|target| Target { weight: target.weight * scale, ..*target }).collect()
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
    odours.retain(|_| view.law == Law::Linear);
    CapColumn { weight, odours: odours.into_iter().enumerate().filter(|(_, odour)| *odour != 0.0).collect() }
}
