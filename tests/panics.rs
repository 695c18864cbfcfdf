//! A panic inside a solver reaches nobody: another path answers, or the
//! failure says what happened. The panic is provoked by the listener that the
//! search tells how far it is.

mod support;

use std::sync::Arc;
use std::time::Duration;

use permil::control::Control;
use permil::problem::Problem;
use permil::solve::nearest::{Measure, nearest};
use permil::solve::{Failure, Feasibility, Method, Status, feasibility, propose};

const PALETTE: &str = "[descriptors]\nrosy = \"\"\nsweet = \"\"\n\
    [[material]]\nname = \"A\"\nstrength = 2\nscores = { rosy = 8, sweet = 1 }\n\
    [[material]]\nname = \"B\"\nstrength = 5\nscores = { rosy = 1, sweet = 6 }\n\
    [[material]]\nname = \"C\"\nstrength = 1\nscores = { sweet = 3 }\n";

fn problem(rules: &str) -> Problem {
    support::load(PALETTE, &format!("palette = \"palette.toml\"\n[target]\nrosy = 5\nsweet = 4\n{rules}"))
}

fn panics() -> Control {
    let control = Control { progress: Some(Arc::new(|_| panic!("a number went wrong"))), ..Control::default() };
    control.within(Duration::from_secs(60))
}

#[test]
fn where_the_search_panics_another_solver_answers() {
    for rules in ["", "[formula]\nstep = 1\n", "[formula]\nmax_materials = 2\nmin_dose = 10\n"] {
        let problem = problem(rules);
        let sound = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let best = sound.answer.expect("a formula").evaluation.loss;
        let solution = propose(&problem, Method::Auto, &panics()).expect("another path");
        let loss = solution.answer.expect("a formula").evaluation.loss;
        assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "{rules}: {loss} instead of {best}");
        assert!(solution.bound.expect("a bound") <= best + 1e-9, "{rules}: {:?}", solution.bound);
        assert!(matches!(solution.status, Status::Optimal | Status::Feasible));
    }
}

#[test]
fn where_no_other_path_is_left_the_failure_says_so() {
    let problem = problem("[formula]\nstep = 1\n");
    let failure = propose(&problem, Method::Search, &panics()).expect_err("a failure");
    assert_eq!(failure, Failure::Internal("a number went wrong".to_owned()));
    // What a glance tells needs no solver; a solver that fails proves nothing.
    assert!(!matches!(feasibility(&problem, &panics()), Feasibility::Impossible));
    let formula = propose(&problem, Method::Auto, &Control::default()).unwrap().answer.unwrap().formula;
    let moved = problem_without(&formula);
    assert!(matches!(nearest(&moved, &formula, Measure::Parts, None, &panics()), Err(Failure::Internal(_))));
}

/// A problem that the formula does not keep, so that a search is needed.
fn problem_without(formula: &permil::formula::Formula) -> Problem {
    let dose = formula.parts.iter().find(|(material, _)| *material == 0).expect("A is used").1;
    problem(&format!("[formula]\nstep = 1\n[doses]\nA = {{ max = {} }}\n", dose.as_f64() - 50.0))
}
