//! The exact search against listing every formula: small seeded palettes,
//! both ways to match, carriers, mixed steps and every linear kind of rule.

mod support;

use permil::control::Control;
use permil::problem::{Problem, Rule, RuleKind};
use permil::solve::{Method, Start, Status, propose, propose_from};
use support::listing::least_by_listing;
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
        problem.rules.push(Rule { id: "most".into(), kind: RuleKind::MostOf(members), place, at: 1.0 });
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
