//! The doubt of a fidelity, checked against differences of the loss itself.

use std::sync::Arc;

use permil::analysis::doubt::{SCORE_ERROR, STRENGTH_FACTOR, fidelity_deviation};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files;
use permil::formula::Formula;
use permil::palette::Palette;
use permil::problem::Problem;
use permil::solve::{self, Method};
use permil::units::Ppt;

fn rose() -> Problem {
    let scenario = files::load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
}

/// Change of the loss for a small change of the palette, by central differences.
fn slope(problem: &Problem, formula: &Formula, change: impl Fn(&mut Palette, f64)) -> f64 {
    let step = 1e-6;
    let loss = |by: f64| {
        let mut palette = (*problem.palette).clone();
        change(&mut palette, by);
        let changed = Problem { palette: Arc::new(palette), ..problem.clone() };
        evaluate(&changed, formula).expect("an odour").loss
    };
    (loss(step) - loss(-step)) / (2.0 * step)
}

#[test]
fn the_deviation_adds_up_what_each_score_and_strength_does_to_the_loss() {
    let problem = rose();
    let solution = solve::propose(&problem, Method::Auto, &Control::default()).expect("a solution");
    let best = solution.answer.expect("a formula").formula;
    // Off the best formula, where no descriptor meets its target exactly.
    let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
    for (position, &(material, dose)) in best.parts.iter().enumerate() {
        doses[material] = dose + Ppt::from_ppt(1.0 + position as f64);
    }
    let formula = Formula::from_doses(best.basis, &doses).rescaled();
    let mut variance = 0.0;
    for &(material, _) in &formula.parts {
        for target in &problem.targets {
            let at = target.descriptor;
            if problem.material(material).scores[at] > 0.0 {
                let error = problem.material(material).score_error.unwrap_or(SCORE_ERROR);
                let own = slope(&problem, &formula, |palette, by| palette.materials[material].scores[at] += by);
                variance += (own * error).powi(2);
            }
        }
        let factor = problem.material(material).strength_factor.unwrap_or(STRENGTH_FACTOR);
        let own = slope(&problem, &formula, |palette, by| palette.materials[material].strength *= by.exp());
        variance += (own * factor.ln()).powi(2);
    }
    let expected = 100.0 * variance.sqrt() / problem.worst_loss();
    let deviation = fidelity_deviation(&problem, &formula).expect("an odour");
    assert!((deviation - expected).abs() <= 1e-4 * expected, "{deviation} instead of {expected}");
}
