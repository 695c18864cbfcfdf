//! The exact search against listing every formula: small seeded palettes,
//! both ways to match, carriers, mixed steps and every linear kind of rule.

mod support;

use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::problem::{Problem, Rule, RuleId, RuleKind};
use permil::solve::{Method, Start, Status, propose, propose_from};
use support::listing::{choice_count, choices, least_by_listing, list};
use support::random::scenario;

const CASES: u64 = 240;

fn problem(seed: u64) -> Problem {
    let (palette, brief) = scenario(seed);
    support::load(&palette, &brief)
}

#[test]
fn the_search_finds_what_listing_finds() {
    let (mut feasible, mut infeasible) = (0, 0);
    for seed in 0..CASES {
        let problem = problem(seed);
        let Some(best) = least_by_listing(&problem) else { continue };
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        if best.is_finite() {
            feasible += 1;
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let loss = solution.answer.expect("a formula").evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
            let bound = solution.bound.expect("a bound");
            assert!(bound <= best + 1e-12, "seed {seed}: the bound {bound} lies above the best loss {best}");
        } else {
            infeasible += 1;
            assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
        }
    }
    println!("{feasible} feasible and {infeasible} infeasible briefs agree");
    assert!(feasible + infeasible >= 200, "{feasible} feasible, {infeasible} infeasible");
    assert!(feasible >= 80 && infeasible >= 20, "{feasible} feasible, {infeasible} infeasible");
}

/// A count of some materials alone, beside the brief's own count or without it.
#[test]
fn the_search_keeps_a_count_of_some_materials() {
    let (mut bound_by_it, mut feasible) = (0, 0);
    for seed in 0..CASES {
        let mut problem = problem(seed);
        let without = least_by_listing(&problem);
        let place = problem.palette.materials[0].place.clone();
        let members = [0, 1, 2][..2 + (seed % 2) as usize].into();
        problem.rules.push(Rule { id: RuleId::With, kind: RuleKind::MostOf(members), place, at: 1.0 });
        let Some(best) = least_by_listing(&problem) else { continue };
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        if best.is_finite() {
            feasible += 1;
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let loss = solution.answer.expect("a formula").evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
        } else {
            assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
        }
        bound_by_it += u32::from(without.is_some_and(|without| best > without * (1.0 + 1e-6)));
    }
    assert!(feasible >= 60 && bound_by_it >= 30, "{feasible} feasible, {bound_by_it} changed by the count");
}

/// A ceiling above the best loss changes nothing; one at or below it ends in
/// the proof that there is nothing better.
#[test]
fn a_ceiling_hides_nothing_below_it() {
    let mut seen = 0;
    for seed in 0..CASES {
        let problem = problem(seed);
        let solution = propose(&problem, Method::Search, &Control::default()).expect("a solution");
        let Some(best) = solution.answer.map(|answer| answer.evaluation.loss) else { continue };
        seen += 1;
        let below = |ceiling: f64| {
            let start = Start { ceiling: Some(ceiling), ..Start::default() };
            propose_from(&problem, &start, Method::Search, &Control::default()).expect("a solution")
        };
        for ceiling in [best + 0.01, best * 1.5 + 0.1, best + 100.0] {
            let found = below(ceiling);
            assert_eq!(found.status, Status::Optimal, "seed {seed}, ceiling {ceiling} above {best}");
            let loss = found.answer.expect("a formula").evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
        }
        for ceiling in [best, best * 0.9, best * 0.5].into_iter().filter(|&ceiling| ceiling > 1e-3) {
            let found = below(ceiling);
            assert!(found.answer.is_none(), "seed {seed}: nothing lies below {ceiling}");
            assert_eq!(found.status, Status::Unknown);
            let bound = found.bound.expect("a bound");
            assert!(bound >= ceiling - 2e-6 * ceiling.max(1.0) && bound <= best + 1e-9, "seed {seed}: {bound}");
        }
    }
    assert!(seen >= 80, "{seen} feasible");
}

/// Of two least doses of one material both hold, whichever was written last:
/// every multiple of the steps is gone through and each rule asked in turn, so
/// that nothing here knows how the rules are put together.
#[test]
fn the_greater_of_two_least_doses_holds_in_either_order() {
    let (mut feasible, mut infeasible, mut decided) = (0, 0, 0);
    for seed in 0..CASES {
        let plain = problem(seed);
        let place = plain.palette.materials[0].place.clone();
        let material = (seed % 3) as usize;
        let rule =
            |id: &str, kind: RuleKind, at: f64| Rule { id: id.parse().expect("an id"), kind, place: place.clone(), at };
        let lesser = rule("dose:lesser.min", RuleKind::DoseMin(material), 50.0);
        let greater = rule("dose:greater.min", RuleKind::DoseMin(material), 400.0);
        let must = rule("dose:it.must", RuleKind::Must(material), 1.0);
        let with = |rules: &[&Rule]| {
            let mut problem = plain.clone();
            problem.rules.extend(rules.iter().map(|&rule| rule.clone()));
            problem
        };
        if choice_count(&plain).is_none_or(|count| count > 200_000) {
            continue;
        }
        let asked = with(&[&must, &lesser, &greater]);
        let checker = Checker::new(&asked);
        let mut best = f64::INFINITY;
        list(&choices(&plain), &mut |doses| {
            let formula = Formula::from_doses(plain.basis, doses);
            if checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
                && let Ok(evaluation) = evaluate(&plain, &formula)
            {
                best = best.min(evaluation.loss);
            }
        });
        let without = least_by_listing(&with(&[&must, &lesser]));
        decided += u32::from(without.is_some_and(|without| best > without * (1.0 + 1e-6)));
        for order in [[&must, &lesser, &greater], [&must, &greater, &lesser]] {
            let solution = propose(&with(&order), Method::Auto, &Control::default()).expect("a solution");
            if best.is_finite() {
                feasible += 1;
                assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
                let loss = solution.answer.expect("a formula").evaluation.loss;
                assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
            } else {
                infeasible += 1;
                assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
            }
        }
    }
    let counts = format!("{feasible} feasible, {infeasible} infeasible, {decided} decided by the greater");
    assert!(feasible >= 20 && infeasible >= 20 && decided >= 20, "{counts}");
}

/// Doses on two grids lie on both, and a grid that no dose shares leaves none.
#[test]
fn two_steps_of_one_material_both_hold() {
    let palette = "[descriptors]\nrosy = \"made up\"\ngreen = \"made up\"\n\
                   [[material]]\nname = \"Petal\"\nstrength = 10\nscores = { rosy = 5 }\nstep = 4\n\
                   [[material]]\nname = \"Leaf\"\nstrength = 10\nscores = { green = 5 }\n";
    let brief = "palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 5\n";
    let plain = support::load(palette, brief);
    let place = plain.palette.materials[0].place.clone();
    let dose = |at: f64| {
        let mut problem = plain.clone();
        problem.rules.insert(0, Rule { id: RuleId::Step, kind: RuleKind::DoseStep(0), place: place.clone(), at });
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        solution.answer.expect("a formula").formula.dose(0).as_f64()
    };
    assert_eq!(dose(6.0), 504.0, "the multiples of 12 nearest to 500 are 492 and 504");
    assert_eq!(dose(300.0), 600.0);
    assert_eq!(dose(999.999_999), 0.0);
}
