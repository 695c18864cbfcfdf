//! What a limit buys: hand-solved cases, an independent reference, and what
//! holds for any brief.

mod support;

use permil::analysis::axis::{Axis, NoRange};
use permil::analysis::tradeoff::{Asked, Tradeoff, tradeoff};
use permil::control::Control;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::{Method, propose};
use support::questions::{curves, rose};
use support::{assert_close, load};

fn look(problem: &Problem, axis: Axis, formulas: usize) -> Tradeoff {
    let asked = Asked { axis, formulas, method: Method::Auto, known: None };
    tradeoff(problem, asked, &Control::default(), &|_, _| {}).expect("no failure")
}

fn fresh(problem: &Problem) -> Option<f64> {
    propose(problem, Method::Auto, &Control::default()).expect("it is taken").answer.map(|a| a.evaluation.loss)
}

fn loss(found: &Tradeoff, at: usize) -> f64 {
    found.points[at].answer.evaluation.loss
}

/// A is all a and dear, B is all b and cheap; half of each is the target.
const TWO: &str = r#"
[descriptors]
a = "one"
b = "other"
[[material]]
name = "A"
strength = 1
price = 30
scores = { a = 10 }
[[material]]
name = "B"
strength = 1
price = 10
scores = { b = 10 }
"#;
const HALF: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 5\nb = 5\n";

#[test]
fn two_materials_by_hand() {
    // A part of x of A costs 10 + 20 x and misses by 20 |x - 1/2| points of 10.
    let problem = load(TWO, HALF);
    let found = look(&problem, Axis::Price, 5);
    let (first, last) = (&found.points[0], &found.points[found.points.len() - 1]);
    assert_close(first.at, 10.0, 1e-6, "the cheapest is B alone");
    assert_close(first.answer.evaluation.loss, 10.0, 1e-6, "which misses all of a");
    assert_close(last.at, 20.0, 1e-6, "half of each");
    assert_close(last.answer.evaluation.loss, 0.0, 1e-6, "which is the target");
    assert!(found.points.len() >= 20);
    for point in &found.points {
        assert_close(point.answer.evaluation.loss, 10.0 - (point.at - 10.0), 1e-5, "a straight line");
        assert!(point.proven);
    }
    assert_eq!((found.knee, found.own.is_none()), (None, true));
    // A enters at once and B stays.
    let present: Vec<(usize, bool)> =
        found.passings.iter().map(|p| (p.material, p.present[0].from.is_some())).collect();
    assert_eq!(present, [(1, false), (0, true)]);
    // With a budget of 15 a point of fidelity is a tenth of a point of loss.
    let budgeted = load(TWO, &format!("{HALF}[budget]\nmax_price = 15\n"));
    let own = look(&budgeted, Axis::Price, 0).own.expect("a budget");
    assert_close(own.fidelity.unwrap(), 50.0, 1e-6, "half way");
    for cost in [own.point_more, own.point_less] {
        assert_close(cost.unwrap(), 0.1, 1e-5, "a point");
    }
    for slope in [own.slope_up, own.slope_down] {
        assert_close(slope.unwrap(), 10.0, 1e-4, "points for a unit");
    }
}

#[test]
fn a_budget_outside_of_the_curve() {
    let poor = load(TWO, &format!("{HALF}[budget]\nmax_price = 5\n"));
    let found = look(&poor, Axis::Price, 2);
    let own = found.own.expect("a budget");
    assert_eq!((own.at, own.fidelity, own.point_more), (5.0, None, None));
    assert_close(found.points[0].at, 10.0, 1e-6, "the curve is there all the same");
    let rich = load(TWO, &format!("{HALF}[budget]\nmax_price = 500\n"));
    let own = look(&rich, Axis::Price, 0).own.expect("a budget");
    assert_close(own.fidelity.unwrap(), 100.0, 1e-6, "all that money buys");
    assert_eq!(own.point_more, None);
}

#[test]
fn counts_by_hand() {
    let found = look(&load(TWO, &format!("{HALF}[formula]\nstep = 1\n")), Axis::Count, 0);
    assert_eq!(found.points.iter().map(|point| point.at).collect::<Vec<_>>(), [1.0, 2.0]);
    assert_close(loss(&found, 0), 10.0, 1e-9, "one alone");
    assert_close(loss(&found, 1), 0.0, 1e-9, "both");
    // One that must be used and one that must too: a count of one cannot be.
    let both = "[doses]\nA = { use = \"must\", min = 1 }\nB = { use = \"must\", min = 1 }\n";
    let found = look(&load(TWO, &format!("{HALF}[formula]\nstep = 1\n{both}")), Axis::Count, 0);
    assert_eq!(found.points.iter().map(|point| point.at).collect::<Vec<_>>(), [2.0]);
    assert_eq!(found.without_formula, [1.0]);
}

#[test]
fn no_blend_at_all() {
    let brief = format!("{HALF}[formula]\nstrength = {{ min = 2 }}\n");
    let found = look(&load(TWO, &brief), Axis::Price, 3);
    assert!(matches!(found.none, Some(NoRange::Impossible)) && found.points.is_empty());
    let found = look(&load(TWO, &brief), Axis::Count, 3);
    assert!(matches!(found.none, Some(NoRange::Impossible)));
}

#[test]
fn a_reference_finds_the_same_curves() {
    let mut compared = 0;
    for case in curves() {
        let name = &case.name;
        for (key, axis) in [("price", Axis::Price), ("effect", Axis::Effect), ("strength", Axis::Strength)] {
            let expected = &case.expected[key];
            // The reference speaks of any doses.
            let found = look(&case.problem.relaxed(), axis, 0);
            let (first, last) = (&found.points[0], &found.points[found.points.len() - 1]);
            let best = found.points.iter().map(|p| p.answer.evaluation.loss).fold(f64::INFINITY, f64::min);
            let near = |got: f64, of: &str, relative: f64| {
                if let Some(wanted) = expected[of].as_f64() {
                    assert_close(got, wanted, relative, &format!("{name} {key}: {of}"));
                }
            };
            if axis == Axis::Strength {
                near(last.at, "high", 1e-5);
            } else {
                near(first.at, "low", 1e-5);
                near(last.at, "high", 1e-4);
            }
            near(best, "best", 2e-6);
            let relaxed = axis.without(&case.problem).relaxed();
            for point in expected["points"].as_array().unwrap() {
                let at = point["at"].as_f64().unwrap();
                let here = fresh(&axis.at(&relaxed, at));
                assert_eq!(here.is_some(), point["loss"].is_number(), "{name} {key} at {at}");
                let Some((here, wanted)) = here.zip(point["loss"].as_f64()) else { continue };
                assert_close(here, wanted, 1e-5, &format!("{name} {key} at {at}"));
                // The curve between its points is as near as it was placed.
                let heights: Vec<(f64, f64)> = found.points.iter().map(|p| (p.at, p.answer.evaluation.loss)).collect();
                if let Some(drawn) = permil::analysis::curve::height_at(&heights, at) {
                    let worst = case.expected["worst"].as_f64().unwrap();
                    assert!((drawn - wanted).abs() <= 2e-3 * worst, "{name} {key} at {at}: {drawn} for {wanted}");
                }
                compared += 1;
            }
        }
    }
    assert!(compared > 80, "only {compared} points");
}

#[test]
fn a_reference_finds_the_same_formulas() {
    let (mut counts, mut whole) = (0, 0);
    for case in curves() {
        for (key, axis) in [("whole", Axis::Price), ("count", Axis::Count)] {
            let Some(expected) = case.expected[key].as_array() else { continue };
            for line in expected {
                let at = line["at"].as_f64().unwrap();
                let here = fresh(&axis.at(&axis.without(&case.problem), at));
                assert_eq!(here.is_some(), line["loss"].is_number(), "{} {key} at {at}", case.name);
                if let Some((here, wanted)) = here.zip(line["loss"].as_f64()) {
                    assert_close(here, wanted, 2e-6, &format!("{} {key} at {at}", case.name));
                    whole += 1;
                }
            }
            if axis == Axis::Count {
                let found = look(&case.problem, axis, 0);
                for point in &found.points {
                    if let Some(line) = expected.iter().find(|line| line["at"].as_f64() == Some(point.at)) {
                        assert_close(point.answer.evaluation.loss, line["loss"].as_f64().unwrap(), 2e-6, &case.name);
                        counts += 1;
                    }
                }
            }
        }
    }
    assert!(counts > 15 && whole > 40, "only {counts} counts and {whole} formulas");
}

#[test]
fn every_point_is_a_fresh_solve() {
    let problem = rose().relaxed();
    let otto = problem.target_material.expect("the rose has one");
    for axis in [Axis::Price, Axis::Effect, Axis::Strength, Axis::Dose(otto)] {
        let found = look(&problem, axis, 0);
        let without = axis.without(&problem).relaxed();
        assert!(found.points.len() >= 20 && found.is_complete, "{axis:?}");
        for point in &found.points {
            let limited = axis.at(&without, point.at);
            let loss = point.answer.evaluation.loss;
            assert_close(loss, fresh(&limited).expect("a blend"), 1e-6, &format!("{axis:?} at {}", point.at));
            let breaches = Checker::new(&limited).breaches(&point.answer.formula, REPORT_TOLERANCE);
            assert!(breaches.is_empty() && point.proven, "{axis:?} at {}", point.at);
        }
        for pair in found.points.windows(2) {
            let (a, b) = (pair[0].answer.evaluation.loss, pair[1].answer.evaluation.loss);
            assert!(pair[0].at < pair[1].at);
            match axis.loosens_upwards() {
                Some(true) => assert!(b <= a, "{axis:?}"),
                Some(false) => assert!(b >= a, "{axis:?}"),
                None => {}
            }
        }
    }
}

#[test]
fn formulas_never_fall_and_threads_change_nothing() {
    let problem = rose();
    let with = |threads| {
        let asked = Asked { axis: Axis::Price, formulas: 9, method: Method::Auto, known: None };
        let control = Control { threads: Some(threads), ..Control::default() };
        tradeoff(&problem, asked, &control, &|_, _| {}).expect("no failure")
    };
    let (one, four) = (with(1), with(4));
    let losses = |found: &Tradeoff| -> Vec<(f64, f64)> {
        found.points.iter().map(|point| (point.at, point.answer.evaluation.loss)).collect()
    };
    assert_eq!(losses(&one), losses(&four));
    assert_eq!(one.heights(), four.heights());
    let found: Vec<f64> = losses(&one).into_iter().map(|(_, loss)| loss).collect();
    assert!(found.len() >= 7 && found.windows(2).all(|pair| pair[1] < pair[0]), "{found:?}");
    // At the user's own budget it is the proposal.
    let own = one.kept_at(one.own.expect("a budget").at).expect("a formula");
    assert_close(own.answer.evaluation.loss, fresh(&problem).unwrap(), 1e-6, "the proposal");
    assert!(one.points.iter().all(|point| point.proven) && one.ends_proven && one.is_complete);
}

#[test]
fn a_stop_leaves_what_is_done() {
    let problem = rose();
    let control = Control::default();
    control.stop.store(true, std::sync::atomic::Ordering::Relaxed);
    let asked = Asked { axis: Axis::Price, formulas: 5, method: Method::Auto, known: None };
    let found = tradeoff(&problem, asked, &control, &|_, _| {}).expect("no failure");
    assert!(!found.is_complete || found.none.is_some());
}
