//! The best that one material can do alone: what a blend has to beat.

use super::replacement::alone;
use crate::problem::Problem;

/// One material as a formula of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Single {
    /// The material.
    pub material: usize,
    /// Its loss, in score points.
    pub loss: f64,
    /// Its fidelity in percent.
    pub fidelity_percent: f64,
}

/// The usable material that comes nearest to the target when it stands alone,
/// whatever the other rules say of such a formula; the first of the palette
/// among equals. The material that the target describes is left out: it is
/// what is to be replaced.
pub fn best_single(problem: &Problem) -> Option<Single> {
    let mut best: Option<Single> = None;
    for (material, domain) in problem.domains().into_iter().enumerate() {
        let usable = domain.is_ok_and(|domain| !domain.is_empty());
        if !usable || problem.target_material == Some(material) {
            continue;
        }
        let Some(evaluation) = alone(problem, material) else { continue };
        if best.is_none_or(|best| evaluation.loss < best.loss) {
            let (loss, fidelity_percent) = (evaluation.loss, evaluation.fidelity_percent);
            best = Some(Single { material, loss, fidelity_percent });
        }
    }
    best
}
