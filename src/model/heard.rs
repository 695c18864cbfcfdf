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
    let neat = &problem.columns[index].neat;
    let weight = neat.iter().fold(0.0, |sum, &(material, part)| sum + part * view.material(material).strength);
    let odours = match neat[..] {
        // Most columns are of one material, and most of its scores are 0.
        [(material, part)] => {
            let material = view.material(material);
            let of = |target: &Target| part * material.strength * material.scores[target.descriptor];
            let each = view.targets.iter().enumerate().map(|(at, target)| (at, of(target)));
            each.filter(|(_, odour)| *odour != 0.0).collect()
        }
        _ => of_several(view, neat),
    };
    let weight = match view.matching {
        Match::Balance => odours.iter().fold(0.0, |sum, (_, odour)| sum + odour) / view.target_total(),
        Match::Level => weight,
    };
    CapColumn { weight, odours: if view.law == Law::Linear { odours } else { Vec::new() } }
}

/// The odours of (material, its part).
fn of_several(view: &View, neat: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let mut odours = vec![0.0; view.targets.len()];
    for &(material, part) in neat {
        let material = view.material(material);
        for (sum, target) in odours.iter_mut().zip(&view.targets) {
            *sum += part * material.strength * material.scores[target.descriptor];
        }
    }
    odours.into_iter().enumerate().filter(|(_, odour)| *odour != 0.0).collect()
}
