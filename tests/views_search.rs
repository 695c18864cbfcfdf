//! The search under several views against listing every formula: views made by hand with
//! other strengths, scores, targets, weights and ways to match.

mod support;

use std::sync::Arc;

use permil::certificate::{self, check, column_names};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::model::Blend;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::solve::certify::certify;
use permil::solve::{Method, Solution, Status, propose};
use support::listing::{choice_count, choices, least_by_listing, list};
use support::random::scenario;
use support::views::viewed;

const CASES: u64 = 160;

fn plain(seed: u64) -> Problem {
    let (palette, brief) = scenario(seed);
    support::load(&palette, &brief)
}

/// A brief with one or two further views, each of another kind.
fn with_views(seed: u64) -> Problem {
    viewed(plain(seed), seed)
}

/// The same where two materials smell the same before anything has evaporated.
fn with_twins(seed: u64) -> Problem {
    let problem = plain(seed);
    let mut palette = (*problem.palette).clone();
    let first = palette.materials[0].clone();
    (palette.materials[1].strength, palette.materials[1].scores) = (first.strength, first.scores);
    viewed(problem.with_palette(Arc::new(palette)), seed)
}

fn solved(problem: &Problem) -> Solution {
    propose(problem, Method::Auto, &Control::default()).expect("a solution")
}

#[test]
fn the_search_finds_what_listing_finds() {
    let (mut feasible, mut infeasible, mut bound_by_others) = (0, 0, 0);
    for seed in 0..CASES {
        let problem = with_views(seed);
        let Some(best) = least_by_listing(&problem) else { continue };
        let solution = solved(&problem);
        if best.is_finite() {
            feasible += 1;
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let evaluation = solution.answer.expect("a formula").evaluation;
            let loss = evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
            let bound = solution.bound.expect("a bound");
            assert!(bound <= best + 1e-12, "seed {seed}: the bound {bound} lies above the best loss {best}");
            bound_by_others += u32::from(evaluation.worst > 0);
        } else {
            infeasible += 1;
            assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
        }
    }
    println!("{feasible} feasible and {infeasible} infeasible briefs agree, {bound_by_others} by a further view");
    assert!(feasible >= 50 && infeasible >= 10 && bound_by_others >= 25);
}

/// A view more asks more, and one that is there already asks nothing.
#[test]
fn a_view_more_is_never_better_and_the_same_again_changes_nothing() {
    let mut seen = 0;
    for seed in 0..CASES {
        let one = plain(seed);
        let alone = solved(&one);
        let mut twice = one.clone();
        twice.views.push(twice.views[0].clone());
        let same = solved(&twice);
        assert_eq!(same.bound.map(f64::to_bits), alone.bound.map(f64::to_bits), "seed {seed}");
        assert_eq!((same.nodes, same.iterations), (alone.nodes, alone.iterations), "seed {seed}");
        let (Some(same), Some(alone)) = (same.answer, alone.answer) else { continue };
        assert_eq!(same.formula.parts, alone.formula.parts, "seed {seed}");
        let more = with_views(seed);
        let Some(worse) = solved(&more).answer else { continue };
        seen += 1;
        // Whatever a formula loses in the first view it loses in all.
        let first = alone.evaluation.loss;
        assert!(worse.evaluation.loss >= first - 1e-6 * first.max(1.0), "seed {seed}");
        let judged = evaluate(&one, &worse.formula).expect("an odour").loss;
        assert!(judged >= first - 1e-6 * first.max(1.0), "seed {seed}");
    }
    assert!(seen >= 60, "{seen} briefs");
}

/// Among the formulas that are as near in the views that bind, the next worst view is as near
/// as can be.
#[test]
fn what_does_not_bind_is_as_near_as_it_can_be() {
    let (mut seen, mut bettered) = (0, 0);
    for seed in 0..CASES {
        let problem = with_twins(seed);
        if choice_count(&problem).is_none_or(|count| count > 300_000) {
            continue;
        }
        let Some(answer) = solved(&problem).answer else { continue };
        let lost: Vec<f64> = answer.evaluation.views.iter().map(|view| view.compared).collect();
        let worst = answer.evaluation.loss;
        let free: Vec<usize> = (0..lost.len()).filter(|&view| lost[view] < worst - 1e-7 * worst.max(1.0)).collect();
        if free.is_empty() {
            continue;
        }
        let rest = |lost: &[f64]| free.iter().map(|&view| lost[view]).fold(0.0, f64::max);
        let checker = Checker::new(&problem);
        let (mut best, mut most) = (f64::INFINITY, 0.0_f64);
        list(&choices(&problem), &mut |doses| {
            let formula = Formula::from_doses(problem.basis, doses);
            let Ok(evaluation) = evaluate(&problem, &formula) else { return };
            if evaluation.loss <= worst + 0.5e-7 * worst.max(1.0)
                && checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
            {
                let lost: Vec<f64> = evaluation.views.iter().map(|view| view.compared).collect();
                (best, most) = (best.min(rest(&lost)), most.max(rest(&lost)));
            }
        });
        seen += 1;
        bettered += u32::from(most > best + 1e-6);
        assert!(rest(&lost) <= best + 3e-6 * best.max(1.0), "seed {seed}: {} instead of {best}", rest(&lost));
    }
    println!("{seen} with a view that does not bind, {bettered} of them with a choice");
    assert!(seen >= 25 && bettered >= 3, "{seen} seen, {bettered} with a choice");
}

#[test]
fn threads_change_nothing() {
    for seed in (0..CASES).step_by(7) {
        let problem = with_views(seed);
        let by = |threads: usize| {
            let control = Control { threads: Some(threads), ..Control::default() };
            propose(&problem, Method::Search, &control).expect("a solution")
        };
        let (one, two) = (by(1), by(2));
        assert_eq!(one.bound.map(f64::to_bits), two.bound.map(f64::to_bits), "seed {seed}");
        assert_eq!((one.nodes, one.iterations), (two.nodes, two.iterations), "seed {seed}");
        assert_eq!(one.answer.map(|it| it.formula.parts), two.answer.map(|it| it.formula.parts), "seed {seed}");
    }
}

/// What is proven of several views is written down, and the check passes it.
#[test]
fn certificates_hold() {
    let (mut written, mut none) = (0, 0);
    for seed in 0..CASES {
        let problem = with_views(seed);
        let solution = solved(&problem);
        let text = certify(&problem, &solution, &Control::default()).expect("no failure");
        let Ok(text) = text else { panic!("seed {seed}: {:?}", text.unwrap_err()) };
        let read = certificate::read(&text).expect("read");
        let blend = Blend::new(&problem);
        let names = column_names(&blend, &problem.palette);
        check(&read, &blend, &names).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
        if solution.status == Status::Infeasible { none += 1 } else { written += 1 }
    }
    assert!(written >= 50 && none >= 10, "{written} and {none}");
}
