//! What each material brings to a blend: odour and money.

use crate::brief::Match;
use crate::evaluate::Evaluation;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::units::Ppt;

/// For each palette material, what it adds to the blend's profile: a counted
/// descriptor (index into the problem's targets) and points, the most first.
/// Over all materials the points of a descriptor add up to the profile. Of a problem
/// with several views that of [`Problem::seen`] is asked.
pub fn contributions(problem: &Problem, evaluation: &Evaluation) -> Vec<Vec<(usize, f64)>> {
    let materials = &problem.palette.materials;
    let law = problem.views[0].law;
    let odour = |index: usize| law.of(materials[index].strength * evaluation.neat_ppt[index]);
    let heard = |index: usize| match problem.matching {
        Match::Level => odour(index),
        Match::Balance => odour(index) * problem.counted_score(index) / problem.target_total(),
    };
    let whole: f64 = (0..materials.len()).map(heard).sum();
    let of_material = |index: usize| {
        let points = problem.targets.iter().map(|target| odour(index) * materials[index].scores[target.descriptor]);
        let mut points: Vec<(usize, f64)> = points.map(|sum| sum / whole).enumerate().collect();
        points.retain(|(_, points)| *points > 0.0);
        points.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        points
    };
    (0..materials.len()).map(of_material).collect()
}

/// The share of each part of a formula in its price, in percent; in basis
/// bottle with the carrier in the bottle. The formula is in the problem's
/// basis. `None` where something in it has no price or nothing costs anything.
pub fn price_shares_percent(problem: &Problem, formula: &Formula) -> Option<Vec<f64>> {
    let cost = |&(column, dose): &(usize, Ppt)| -> Option<f64> {
        let content = problem.columns[column].neat.iter();
        let content = content.map(|&(brought, part)| problem.material(brought).price_per_kg.map(|price| price * part));
        Some(content.sum::<Option<f64>>()? * dose.as_f64())
    };
    let costs: Vec<f64> = formula.parts.iter().map(cost).collect::<Option<_>>()?;
    let total: f64 = costs.iter().sum();
    (total > 0.0).then(|| costs.into_iter().map(|cost| 100.0 * cost / total).collect())
}
