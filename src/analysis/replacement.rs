//! A stand-in beside the original that it stands in for.

use crate::brief::Basis;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::units::Ppt;

/// How much of a formula does what one gram of the target's own material does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Replacement {
    /// The material whose scores are the target's.
    pub material: usize,
    /// Grams of the formula that are as strong as one gram of the material.
    pub grams_per_gram: f64,
    /// Price of what replaces one kg of the material.
    pub price: Option<f64>,
    /// Price per kg of the material.
    pub price_of_original: Option<f64>,
    /// Fidelity in percent of the material itself: less than 100 where the
    /// brief asks for something other than its scores.
    pub fidelity_percent: Option<f64>,
}

/// Compares a formula with the material whose scores are the target's; `None`
/// where the target comes from elsewhere or the material has no strength.
pub fn replacement(problem: &Problem, evaluation: &Evaluation) -> Option<Replacement> {
    let material = problem.target_material?;
    let original = problem.material(material);
    let grams_per_gram = original.strength / evaluation.strength;
    (grams_per_gram > 0.0).then(|| Replacement {
        material,
        grams_per_gram,
        price: evaluation.price_per_kg.map(|price| price * grams_per_gram),
        price_of_original: original.price_per_kg,
        fidelity_percent: alone(problem, material).map(|alone| alone.fidelity_percent),
    })
}

/// A material judged as a formula of its own, neat; `None` where it has no
/// odour that counts.
pub fn alone(problem: &Problem, material: usize) -> Option<Evaluation> {
    let parts = vec![(material, Ppt::WHOLE)];
    evaluate(problem, &Formula { file: None, title: None, basis: Basis::Neat, parts }).ok()
}
