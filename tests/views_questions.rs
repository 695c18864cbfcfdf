//! What questions answer where several views judge a formula: always of the worst, and of
//! targets that differ from view to view.

mod support;

use std::sync::Arc;

use permil::analysis::adjust::{Wish, adjust, as_mixed};
use permil::analysis::doubt::told::{told, told_of};
use permil::analysis::push::{Asked, push};
use permil::analysis::worth::worths;
use permil::control::Control;
use permil::evaluate::{as_judged, evaluate};
use permil::problem::{Problem, View};
use permil::solve::{Answer, Method, Status, propose};
use support::assert_close;

const PALETTE: &str = r#"
[descriptors]
green = "cut grass"
sweet = "honey"
dry = "paper"
[[material]]
name = "Leaf"
strength = 10
price = 10
scores = { green = 8, dry = 2 }
[[material]]
name = "Honey"
strength = 4
price = 20
scores = { sweet = 9, green = 1 }
[[material]]
name = "Cedar"
strength = 2
price = 5
scores = { dry = 7, sweet = 2 }
"#;

const BRIEF: &str = r#"
palette = "palette.toml"
[target]
green = 5
sweet = 4
dry = 1
[formula]
step = 10
[budget]
max_price = 15
"#;

/// The brief as it is smelled at first, and later, when the leaf has nearly gone and its green
/// is asked for no more.
fn problem() -> Problem {
    let mut problem = support::load(PALETTE, BRIEF);
    let mut palette = (*problem.palette).clone();
    palette.materials[0].strength *= 0.05;
    let targets = problem.targets[1..].to_vec();
    let later =
        View { name: Arc::from("later"), palette: Arc::new(palette), targets, weight: 1.5, ..problem.views[0].clone() };
    problem.views.push(later);
    problem
}

fn best(problem: &Problem) -> Answer {
    let solution = propose(problem, Method::Auto, &Control::default()).expect("a solution");
    assert_eq!(solution.status, Status::Optimal);
    solution.answer.expect("a formula")
}

#[test]
fn of_each_draw_the_worst_view_is_told() {
    let problem = problem();
    let answer = best(&problem);
    let formula = &answer.formula;
    let found = told_of(&problem, formula).expect("an odour");
    let each: Vec<f64> =
        (0..2).map(|view| told_of(&problem.seen(view), formula).expect("an odour").fidelity.mean).collect();
    // A mean of minima lies below each mean, each by its weight.
    let weighed = [each[0], 100.0 - 1.5 * (100.0 - each[1])];
    assert!(found.fidelity.mean <= weighed[0].min(weighed[1]) + 1e-9, "{found:?} {weighed:?}");
    assert!(found.fidelity.p5 <= answer.evaluation.fidelity_percent && answer.evaluation.fidelity_percent <= 100.0);
    // A view twice is as one.
    let one = Problem { views: vec![problem.views[0].clone()], ..problem.clone() };
    let twice = Problem { views: vec![problem.views[0].clone(); 2], ..problem.clone() };
    assert_eq!(told(&one, &[formula]), told(&twice, &[formula]));
}

#[test]
fn a_rule_is_worth_what_the_worst_view_gains() {
    let problem = problem();
    let answer = best(&problem);
    let found = worths(&problem, &answer, Method::Auto, &Control::default());
    assert!(!found.binding.is_empty(), "{found:?}");
    for worth in &found.binding {
        let loosened = worth.loosening.problem(&problem);
        assert_close(
            evaluate(&loosened, &worth.then.formula).expect("an odour").loss,
            worth.then.evaluation.loss,
            1e-12,
            "a loss",
        );
        assert!(worth.then.evaluation.loss < answer.evaluation.loss);
        assert_eq!(worth.then.evaluation.views.len(), 2);
    }
}

/// A view wants fewer descriptors than the brief: what gives way is named by its own.
#[test]
fn a_push_names_what_gives_way_in_the_worst_view() {
    let problem = problem();
    let mut named = 0;
    for material in 0..3 {
        let asked = Asked { material, margin: 8.0, many: true, method: Method::Auto };
        let found = push(&problem, &[], asked, &Control::default(), &|_, _| {}).expect("no failure");
        let Some(best) = &found.best else { panic!("{found:?}") };
        let best = &best.answer.evaluation;
        for end in found.ends.iter().flatten() {
            let there = &end.point.answer.evaluation;
            let Some((counted, by)) = end.descriptor else { continue };
            named += 1;
            let target = problem.views[there.worst].targets[counted];
            let gap =
                |evaluation: &permil::evaluate::Evaluation| target.gap(evaluation.views[there.worst].profile[counted]);
            assert_close(gap(there) - gap(best), by, 1e-9, "what a descriptor adds");
        }
    }
    assert!(named >= 2, "{named}");
}

#[test]
fn a_change_is_measured_as_it_is_mixed() {
    let problem = problem();
    let answer = best(&problem);
    let before = as_mixed(&problem, &answer.formula).expect("an odour");
    assert_eq!(before.profile.len(), 3);
    let none = (Vec::new(), Vec::new());
    let wish = Wish { more: vec![2], less: none.0, by: 0.3, keep: none.1, most_change: None, by_parts: false };
    let found = adjust(&problem, &answer.formula, &wish, &Control::default()).expect("no failure");
    let after = found.answer.expect("a change");
    let now = as_mixed(&problem, &after.formula).expect("an odour");
    assert!(now.profile[2] >= before.profile[2] + 0.3 - 1e-9, "{:?} {:?}", before.profile, now.profile);
    assert_eq!(evaluate(&problem, &after.formula).expect("an odour").loss, after.evaluation.loss);
}

#[test]
fn a_formulas_own_profile_is_met_in_every_view() {
    let scenario = support::load(PALETTE, BRIEF);
    assert!(scenario.views.len() == 1);
    let problem = problem();
    let answer = best(&problem);
    let seen = as_judged(&problem, &answer.formula);
    assert_eq!(seen.targets.len(), problem.views[answer.evaluation.worst].targets.len());
    let alone = evaluate(&seen, &answer.formula).expect("an odour");
    assert_eq!(alone.loss, answer.evaluation.views[answer.evaluation.worst].loss);
}
