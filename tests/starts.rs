//! Formulas to smell side by side: within the rules and the margin, and apart.

mod support;

use permil::analysis::apart::apart;
use permil::analysis::starts::{Asked, Starts, distance, least_distance, starts};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files::load_formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::{Method, propose};
use permil::units::Ppt;
use support::load;
use support::questions::{self, assert_near};
use support::random::scenario;

fn look(problem: &Problem, asked: Asked, threads: Option<usize>) -> Starts {
    let control = Control { threads, ..Control::default() };
    let best = propose(problem, Method::Auto, &control).expect("no failure");
    starts(problem, asked, best, Method::Auto, &control, &|_, _| {}).expect("no failure")
}

fn rose() -> Problem {
    questions::cases().into_iter().find(|case| case.name == "rose-otto").unwrap().problem
}

/// Every formula keeps every rule and lies within the margin; no two are the
/// same.
fn checked(problem: &Problem, asked: Asked, found: &Starts) {
    let checker = Checker::new(problem);
    let best = found.best.answer.as_ref().unwrap();
    assert_eq!(found.chosen[0].formula, best.formula, "the best is the first");
    for answer in &found.chosen {
        assert_eq!(answer.formula.sum(), Ppt::WHOLE);
        assert!(checker.breaches(&answer.formula, REPORT_TOLERANCE).is_empty());
        let again = evaluate(problem, &answer.formula).unwrap();
        assert!(again.fidelity_percent >= best.evaluation.fidelity_percent - asked.margin - 1e-9);
        assert!(again.loss <= found.ceiling + 1e-9);
    }
    for (at, answer) in found.chosen.iter().enumerate() {
        assert!(found.chosen[..at].iter().all(|other| other.formula.parts != answer.formula.parts));
    }
}

#[test]
fn six_of_the_rose_lie_three_points_apart() {
    let problem = rose();
    for seed in [1, 2] {
        let asked = Asked { count: 6, margin: 3.0, seed };
        let found = look(&problem, asked, None);
        assert_eq!(found.chosen.len(), 6);
        assert!(found.is_complete);
        checked(&problem, asked, &found);
        let least = least_distance(&found.chosen).unwrap();
        assert!(least >= 3.0, "seed {seed}: {least}");
        // Their shares add up to 100, so no distance can pass that.
        assert!(least <= 100.0);
    }
}

#[test]
fn a_seed_gives_the_same_formulas_on_any_number_of_threads() {
    let problem = rose();
    let parts = |seed, threads| {
        let found = look(&problem, Asked { count: 4, margin: 3.0, seed }, Some(threads));
        found.chosen.into_iter().map(|answer| answer.formula.parts).collect::<Vec<_>>()
    };
    let first = parts(7, 1);
    assert_eq!(first, parts(7, 4));
    assert_ne!(first, parts(8, 4));
}

#[test]
fn rules_and_margin_hold_on_random_briefs() {
    let (mut solved, mut several) = (0, 0);
    for seed in 0..40 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let asked = Asked { count: 3, margin: 5.0, seed };
        let found = look(&problem, asked, None);
        if found.best.answer.is_none() {
            assert!(found.chosen.is_empty());
            continue;
        }
        solved += 1;
        checked(&problem, asked, &found);
        several += usize::from(found.chosen.len() > 1);
    }
    assert!(solved > 15 && several > 8, "{solved} solved, {several} with more than one formula");
}

#[test]
fn doses_that_are_free_lie_apart_as_well() {
    for case in questions::cases().into_iter().filter(|case| case.name == "01-plain") {
        let asked = Asked { count: 4, margin: 2.0, seed: 1 };
        let found = look(&case.problem, asked, None);
        checked(&case.problem, asked, &found);
        assert_eq!(found.chosen.len(), 4);
        assert!(least_distance(&found.chosen).unwrap() > 0.5);
    }
}

#[test]
fn where_there_is_one_formula_there_is_one_start() {
    let palette = "[descriptors]\na = \"one\"\n[[material]]\nname = \"A\"\nstrength = 1\nscores = { a = 5 }\n";
    let problem = load(palette, "palette = \"palette.toml\"\n[target]\na = 5\n[formula]\nstep = 1\n");
    let found = look(&problem, Asked { count: 6, margin: 3.0, seed: 1 }, None);
    assert_eq!(found.chosen.len(), 1);
    assert_eq!(least_distance(&found.chosen), None);
}

#[test]
fn distances_agree_with_the_reference() {
    let mut compared = 0;
    for case in questions::cases() {
        let Some(of) = case.expected.get("distance") else { continue };
        let judged = |at: usize| {
            let file = case.folder.join(of["of"][at].as_str().unwrap());
            let formula = load_formula(&file, &case.problem.palette).expect("a formula");
            evaluate(&case.problem, &formula).expect("an odour")
        };
        assert_near(distance(&judged(0), &judged(1)), &of["points"], 1e-9, &case.name);
        compared += 1;
    }
    assert!(compared >= 5, "only {compared}");
}

#[test]
fn what_sets_apart_is_true() {
    let problem = rose();
    let found = look(&problem, Asked { count: 5, margin: 3.0, seed: 3 }, None);
    let has = |at: usize, material: usize| !found.chosen[at].formula.dose(material).is_zero();
    for (at, said) in apart(&found.chosen).iter().enumerate() {
        let others: Vec<usize> = (0..found.chosen.len()).filter(|other| *other != at).collect();
        for &material in &said.alone_with {
            assert!(has(at, material) && others.iter().all(|&other| !has(other, material)));
        }
        for &material in &said.alone_without {
            assert!(!has(at, material) && others.iter().all(|&other| has(other, material)));
        }
        let nearest =
            others.iter().map(|&other| distance(&found.chosen[at].evaluation, &found.chosen[other].evaluation));
        assert!((nearest.fold(f64::INFINITY, f64::min) - said.nearest).abs() < 1e-9);
        if let Some((counted, by)) = said.descriptor {
            let points = |at: usize| found.chosen[at].evaluation.profile[counted];
            assert!(others.iter().all(|&other| if by > 0.0 {
                points(at) > points(other)
            } else {
                points(at) < points(other)
            }));
        }
    }
}
