//! Curves, windows and leeway of briefs small enough to list every formula:
//! what is said of a limit is what the list says, and every formula of a
//! headline keeps every rule.

mod support;

use permil::analysis::axis::Axis;
use permil::analysis::leeway::{self, Without, leeway};
use permil::analysis::push::{self, push};
use permil::analysis::tradeoff::{Asked, Tradeoff, tradeoff};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;
use support::listing::{choice_count, choices, list};
use support::random::scenario;
use support::{assert_close, load};

/// Briefs with more ways to choose doses than this are left out.
const MOST: usize = 150_000;

/// A formula that keeps every rule.
struct Listed {
    doses: Vec<Ppt>,
    loss: f64,
    price: f64,
    strength: f64,
}

/// Every formula of a problem; `None` where there are too many.
fn all(problem: &Problem) -> Option<Vec<Listed>> {
    choice_count(problem).filter(|count| *count <= MOST)?;
    let checker = Checker::new(problem);
    let mut found = Vec::new();
    list(&choices(problem), &mut |doses| {
        let formula = Formula::from_doses(problem.basis, doses);
        let Ok(evaluation) = evaluate(problem, &formula) else { return };
        if checker.breaches(&formula, SEARCH_TOLERANCE).is_empty() {
            let price = evaluation.price_per_kg.expect("all have a price");
            found.push(Listed { doses: doses.to_vec(), loss: evaluation.loss, price, strength: evaluation.strength });
        }
    });
    Some(found)
}

fn least_loss<'a>(listed: impl Iterator<Item = &'a Listed>) -> Option<f64> {
    listed.map(|one| one.loss).reduce(f64::min)
}

fn keeps_every_rule(problem: &Problem, formula: &Formula, what: &str) {
    let breaches = Checker::new(problem).breaches(formula, REPORT_TOLERANCE);
    let broken: Vec<_> = breaches.iter().map(|breach| &problem.rules[breach.rule].id).collect();
    assert!(broken.is_empty() && formula.sum() == Ppt::WHOLE, "{what} breaks {broken:?}");
}

fn look(problem: &Problem, axis: Axis, formulas: usize) -> Tradeoff {
    let asked = Asked { axis, formulas, method: Method::Auto, known: None };
    tradeoff(problem, asked, &Control::default(), &|_, _| {}).expect("no failure")
}

#[test]
fn every_step_of_a_curve_is_the_best_of_all_formulas_within_its_limit() {
    let (mut curves, mut points, mut flats, mut owns) = (0, 0, 0, 0);
    for seed in 0..90 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        for axis in [Axis::Price, Axis::Effect, Axis::Strength] {
            let what = format!("seed {seed}, {axis:?}");
            let without = axis.without(&problem);
            let Some(listed) = all(&without) else { continue };
            let found = look(&problem, axis, 16);
            if listed.is_empty() {
                assert!(found.points.is_empty() && found.none.is_some(), "{what}");
                continue;
            }
            curves += 1;
            // Everything as if it were a price: less is tighter.
            let sign = if axis == Axis::Strength { -1.0 } else { 1.0 };
            let stands = |one: &Listed| match axis {
                Axis::Price => one.price,
                Axis::Effect => one.price / one.strength,
                _ => -one.strength,
            };
            let within = |limit: f64| {
                let limit = sign * limit;
                least_loss(listed.iter().filter(|one| stands(one) <= limit + 1e-9 * limit.abs()))
            };
            let tightest = listed.iter().map(stands).fold(f64::INFINITY, f64::min);
            let first = if sign > 0.0 { found.points.first() } else { found.points.last() }.expect("a curve");
            assert_close(sign * first.at, tightest, 2e-6, &format!("{what}: the tightest limit"));
            let last = if sign > 0.0 { found.points.last() } else { found.points.first() }.expect("a curve");
            let best = least_loss(listed.iter()).expect("some");
            assert_close(last.answer.evaluation.loss, best, 2e-6, &format!("{what}: the best"));
            // Nothing as near stands at a tighter limit.
            let tied = listed.iter().filter(|one| one.loss <= best + 1e-7 * best.max(1.0)).map(stands);
            assert_close(sign * last.at, tied.fold(f64::INFINITY, f64::min), 1e-6, &format!("{what}: the end"));
            assert!(found.ends_proven && found.is_complete, "{what}");
            for point in &found.points {
                let here = format!("{what} at {}", point.at);
                keeps_every_rule(&axis.at(&without, point.at), &point.answer.formula, &here);
                assert!(point.proven, "{here}");
                let loss = point.answer.evaluation.loss;
                assert_close(loss, within(point.at).expect("it is one of them"), 2e-6, &here);
                if point.until != point.at {
                    let until = if point.until.is_finite() { within(point.until) } else { Some(best) };
                    assert_close(loss, until.expect("one"), 2e-6, &format!("{here}: until {}", point.until));
                    flats += 1;
                }
                points += 1;
            }
            for pair in found.points.windows(2) {
                assert!(pair[0].at < pair[1].at, "{what}");
            }
            // No formula lies above the upper limit.
            for upper in &found.upper_limit {
                if let Some(loss) = within(upper.at) {
                    assert!(without.fidelity_percent(loss) <= upper.fidelity_percent + 1e-4, "{what}: {}", upper.at);
                }
            }
            if let Some(own) = found.own {
                let expected = within(own.at).map(|loss| problem.fidelity_percent(loss));
                assert_eq!(own.fidelity.is_some(), expected.is_some(), "{what}: the brief's own limit");
                if let Some((got, wanted)) = own.fidelity.zip(expected) {
                    assert_close(got, wanted, 1e-5, &format!("{what}: the brief's own limit"));
                    owns += 1;
                }
                if let Some(cost) = own.point_more {
                    let there = within(own.at + sign * cost * (1.0 + 1e-9)).expect("there is one");
                    let loss = within(own.at).expect("it has a fidelity") - problem.worst_loss() / 100.0;
                    assert!(there <= loss + 1e-5, "{what}: a point more is not to be had for {cost}");
                }
            }
        }
    }
    assert!(curves > 60 && points > 250 && flats > 100 && owns > 30, "{curves} {points} {flats} {owns}");
}

#[test]
fn every_dose_of_a_push_and_both_ends_of_its_window_are_those_of_all_formulas() {
    let (mut pushes, mut points, mut gone) = (0, 0, 0);
    for seed in 0..90 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let material = (seed % 2) as usize;
        let what = format!("seed {seed}");
        let open = push::opened(&problem, material, &[]);
        let Some(listed) = all(&open) else { continue };
        let asked = push::Asked { material, margin: 5.0, many: true, method: Method::Auto };
        let found = push(&problem, &[], asked, &Control::default(), &|_, _| {}).expect("no failure");
        let Some(best) = least_loss(listed.iter()) else {
            assert_eq!(found.none, Some(Status::Infeasible), "{what}");
            continue;
        };
        pushes += 1;
        assert!(found.is_complete, "{what}");
        let got = found.best.as_ref().expect("some");
        assert_close(got.answer.evaluation.loss, best, 2e-6, &what);
        keeps_every_rule(&open, &got.answer.formula, &what);
        let dose = |one: &Listed| one.doses[material].as_f64();
        let ceiling = best + 0.05 * open.worst_loss();
        let near: Vec<f64> =
            listed.iter().filter(|one| one.loss <= ceiling + 1e-6 * ceiling.max(1.0)).map(dose).collect();
        let (low, high) = found.window.expect("some");
        assert_close(low, near.iter().copied().fold(f64::INFINITY, f64::min), 1e-9, &format!("{what}: window begins"));
        assert_close(high, near.iter().copied().fold(0.0, f64::max), 1e-9, &format!("{what}: window ends"));
        assert_eq!(found.window_proven, [true; 2], "{what}");
        let without = least_loss(listed.iter().filter(|one| one.doses[material].is_zero()));
        let said = found.without.as_ref().map(|point| point.answer.evaluation.loss);
        assert_eq!(said.is_some(), without.is_some(), "{what}");
        if let Some((said, without)) = said.zip(without) {
            assert_close(said, without, 2e-6, &format!("{what}: without any"));
            if let Some((at, false)) = found.gone {
                let better = listed.iter().filter(|one| one.loss < without - 1e-5 * without.max(1.0)).map(dose);
                assert!(better.fold(0.0, f64::max) < at, "{what}: still a gain at {at}");
                gone += 1;
            }
        }
        for point in &found.points {
            let here = format!("{what} at {}", point.dose_ppt);
            let wanted = least_loss(listed.iter().filter(|one| dose(one) == point.dose_ppt)).expect("it is one");
            assert_close(point.answer.evaluation.loss, wanted, 2e-6, &here);
            keeps_every_rule(&open.with_dose(material, Ppt::from_ppt(point.dose_ppt)), &point.answer.formula, &here);
            assert!(point.proven, "{here}");
            points += 1;
        }
        for &at in &found.without_formula {
            assert!(!listed.iter().any(|one| dose(one) == at), "{what} at {at}");
        }
    }
    assert!(pushes > 20 && points > 100 && gone > 2, "{pushes} {points} {gone}");
}

#[test]
fn the_ends_of_leeway_are_those_of_all_formulas() {
    let (mut looked, mut ends, mut inner) = (0, 0, 0);
    for seed in 0..90 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let what = format!("seed {seed}");
        let Some(listed) = all(&problem) else { continue };
        let best = propose(&problem, Method::Auto, &Control::default()).expect("no failure");
        let Some(answer) = best.answer.clone() else { continue };
        looked += 1;
        let asked = leeway::Asked { margin: 4.0, any_doses: false, method: Method::Auto, best: Some(&best) };
        let found = leeway(&problem, &answer.formula, asked, &Control::default(), &|_, _| {}).expect("no failure");
        assert!(found.not_looked_at.is_empty(), "{what}");
        let near = |one: &&Listed| one.loss <= found.ceiling + 1e-6 * found.ceiling.max(1.0);
        for span in &found.spans {
            let doses = || listed.iter().filter(near).map(|one| one.doses[span.material]);
            let what = format!("{what}, {}", problem.material(span.material).name);
            assert_eq!(span.least(), doses().min(), "{what}: least");
            assert_eq!(span.greatest(), doses().max(), "{what}: most");
            for end in [&span.min, &span.max].into_iter().flatten() {
                assert!(end.proven, "{what}");
                keeps_every_rule(&problem, &end.answer.formula, &what);
                ends += 1;
            }
            inner += usize::from(span.least() != span.greatest());
        }
        for material in 0..problem.columns.len() {
            let comes_in = listed.iter().filter(near).any(|one| !one.doses[material].is_zero());
            assert!(!comes_in || found.spans.iter().any(|span| span.material == material), "{what}: {material}");
        }
        for (material, without) in &found.without {
            let wanted = least_loss(listed.iter().filter(|one| one.doses[*material].is_zero()));
            match (without, wanted) {
                (Without::Blend(answer, proven), Some(wanted)) => {
                    assert!(proven, "{what}");
                    assert_close(answer.evaluation.loss, wanted, 2e-6, &what);
                }
                (Without::Required(_) | Without::Impossible, None) => {}
                (without, wanted) => panic!("{what}: {without:?} where the list says {wanted:?}"),
            }
        }
    }
    assert!(looked > 20 && ends > 80 && inner > 20, "{looked} {ends} {inner}");
}

#[test]
fn a_stop_leaves_steps_that_hold() {
    let problem = support::questions::rose();
    for axis in [Axis::Price, Axis::Strength] {
        let control = Control { node_limit: Some(60), ..Control::default() };
        let asked = Asked { axis, formulas: 8, method: Method::Auto, known: None };
        let found = tradeoff(&problem, asked, &control, &|_, _| {}).expect("no failure");
        let without = axis.without(&problem);
        let mut unproven = 0;
        for point in &found.points {
            keeps_every_rule(&axis.at(&without, point.at), &point.answer.formula, "a formula");
            assert!(point.bound <= point.answer.evaluation.loss);
            unproven += usize::from(!point.proven);
            // What bounds a point bounds the best formula there.
            let best = propose(&axis.at(&without, point.at), Method::Auto, &Control::default()).expect("no failure");
            assert!(best.answer.expect("one").evaluation.loss >= point.bound - 1e-9);
        }
        assert!(unproven > 0, "{axis:?}: 60 nodes prove nothing here");
    }
}
