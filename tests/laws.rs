//! Briefs judged by the compressive law or by both, against listing every formula.

mod support;

use permil::brief::Law;
use permil::control::Control;
use permil::problem::{Problem, View};
use permil::solve::{Method, Status, propose};
use support::listing::least_by_listing;
use support::random::scenario;

const CASES: u64 = 240;

fn by_laws(problem: &Problem, laws: &[Law]) -> Problem {
    let view = |&law: &Law| View { law, ..problem.views[0].clone() };
    Problem { views: laws.iter().map(view).collect(), ..problem.clone() }
}

fn agree(laws: &[Law]) {
    let (mut feasible, mut infeasible) = (0, 0);
    for seed in 0..CASES {
        let (palette, brief) = scenario(seed);
        let plain = support::load(&palette, &brief);
        let problem = by_laws(&plain, laws);
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
    assert!(feasible >= 80 && infeasible >= 20, "{feasible} feasible, {infeasible} infeasible");
}

#[test]
fn the_compressive_law_finds_what_listing_finds() {
    agree(&[Law::Compressive]);
}

#[test]
fn both_laws_find_what_listing_finds() {
    agree(&[Law::Linear, Law::Compressive]);
}
