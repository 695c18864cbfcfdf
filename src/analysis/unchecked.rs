//! What the limits could not tell about a formula.

use crate::limits::EVERY_CATEGORY;
use crate::problem::substance::substance_fraction;
use crate::problem::{Problem, RuleKind};

/// Naturals in a formula of which nothing is known, and bases that hold such:
/// their constituents are not listed, so limits on what they bring were not
/// checked.
pub fn unknown_naturals(problem: &Problem, neat_ppt: &[f64]) -> Vec<usize> {
    let materials = problem.palette.materials.iter().enumerate();
    let unknown = materials.filter(|(index, material)| neat_ppt[*index] > 0.0 && material.is_unknown());
    unknown.map(|(index, _)| index).collect()
}

/// Restrictions whose substance a formula brings, but which have no figure
/// for any category of a product, not even "none": (product, restrictions),
/// products with a dosage only.
pub fn without_figure(problem: &Problem, neat_ppt: &[f64]) -> Vec<(usize, Vec<usize>)> {
    let used = |restriction: &usize| is_used(problem, *restriction, neat_ppt);
    let used: Vec<usize> = (0..problem.restrictions.len()).filter(used).collect();
    let of_product = |product: usize| {
        let categories = &problem.products[product].categories;
        let silent = |restriction: &usize| {
            let limits = &problem.restrictions[*restriction].limits;
            !limits.iter().any(|(label, _)| label == EVERY_CATEGORY || categories.contains(label))
        };
        (product, used.iter().copied().filter(silent).collect::<Vec<_>>())
    };
    let with_dosage = (0..problem.products.len()).filter(|&product| problem.products[product].dosage_percent.is_some());
    with_dosage.map(of_product).filter(|(_, silent)| !silent.is_empty()).collect()
}

/// Whether a formula brings the substance of a restriction at all.
pub fn is_used(problem: &Problem, restriction: usize, neat_ppt: &[f64]) -> bool {
    let restriction = &problem.restrictions[restriction];
    let materials = problem.palette.materials.iter().zip(neat_ppt);
    materials.filter(|(_, ppt)| **ppt > 0.0).any(|(material, _)| substance_fraction(restriction, material) > 0.0)
}

/// Whether any restriction holds in any of the finished products.
pub fn has_limits(problem: &Problem) -> bool {
    problem.rules.iter().any(|rule| matches!(rule.kind, RuleKind::Limit { .. }))
}
