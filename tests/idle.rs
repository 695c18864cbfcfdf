//! Idle weight: what is idle, by hand; the best formula under a rule on it, against
//! listing; proofs of it; and the questions that are answered without a search.

mod support;

use permil::brief::{Basis, Match};
use permil::certificate::{self, Claim, check};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::model::Blend;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::idle::Idle;
use permil::problem::{Problem, RuleId, RuleKind};
use permil::solve::certify::certify;
use permil::solve::extent::Extent;
use permil::solve::reach::Reaches;
use permil::solve::{Feasibility, Method, Status, direct, feasibility, propose};
use permil::units::Ppt;
use support::listing::{choice_count, choices, least_by_listing, list};
use support::load;
use support::random::scenario;

const CASES: u64 = 240;

/// The problem of a random scenario with so much idle weight at most.
fn under(problem: &Problem, most: f64) -> Problem {
    problem.with_rule_at(RuleId::MaxIdle, RuleKind::MaxIdle, most)
}

/// Strengths 100, 10, 9.99 and a carrier, in whole parts.
const PALETTE: &str = r#"
[descriptors]
rosy = ""
green = ""
[[material]]
name = "Strong"
strength = 100
scores = { rosy = 8 }
[[material]]
name = "Ten"
strength = 10
scores = { green = 8 }
[[material]]
name = "Weak"
strength = 9.5
scores = { green = 4, rosy = 4 }
[[material]]
name = "Solvent"
strength = 0
"#;

fn shelf(brief: &str) -> Problem {
    let brief = format!("palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 2\n{brief}");
    load(PALETTE, &brief)
}

fn formula(problem: &Problem, doses: [f64; 4]) -> Formula {
    Formula::from_doses(problem.basis, &doses.map(Ppt::from_ppt))
}

/// By hand, on strengths of 100, 10 and 9.5.
#[test]
fn a_share_of_just_a_tenth_is_not_idle() {
    let problem = shelf("[formula]\nstep = 1\n[doses]\nSolvent = {}\n");
    let idle = |doses: [f64; 4]| Idle::of(&problem, &formula(&problem, doses)).expect("an odour");
    // The whole is 100 strong: ten is just a tenth of it.
    let none = idle([1000.0, 0.0, 0.0, 0.0]);
    assert!(none.materials.is_empty() && none.ppt == 0.0 && none.share_percent == 0.0);
    // 990 of 100, 10 of 9.5: 99.095 in all, so that 9.5 is idle and 10 is not.
    let weak = idle([990.0, 0.0, 10.0, 0.0]);
    assert_eq!((weak.materials, weak.ppt), (vec![2], 10.0));
    assert!((weak.share_percent - 100.0 * 95.0 / 99095.0).abs() < 1e-9);
    assert_eq!(idle([990.0, 10.0, 0.0, 0.0]).materials, Vec::<usize>::new());
    // A solvent counts in the weight and is never idle itself: 94 in all.
    let thinned = idle([940.0, 0.0, 0.0, 60.0]);
    assert!(thinned.materials.is_empty());
    let nothing = Formula::from_doses(Basis::Neat, &[0.0, 0.0, 0.0, 1000.0].map(Ppt::from_ppt));
    assert_eq!(Idle::of(&problem, &nothing), None);
}

/// The last bit of a sum decides nothing.
#[test]
fn exact_fractions_decide_at_the_edge() {
    let palette = |weak: &str, strong: &str| {
        format!(
            "[descriptors]\nrosy = \"\"\n[[material]]\nname = \"A\"\nstrength = {strong}\nscores = {{ rosy = 5 }}\n\
             [[material]]\nname = \"B\"\nstrength = {weak}\nscores = {{ rosy = 3 }}\n"
        )
    };
    let brief =
        |step: &str| format!("palette = \"palette.toml\"\n[target]\nrosy = 5\n[formula]\n{step}max_idle = 50\n");
    // With x of A and 1000 - x of B the whole is (x a + (1000 - x) b) / 1000; it is
    // just 10 b at x (a - b) = 9000 b: x = 900 for a = 11 b.
    for (weak, strong) in [("0.1", "1.1"), ("0.3", "3.3"), ("0.7", "7.7"), ("1.1", "12.1"), ("0.07", "0.77")] {
        let problem = load(&palette(weak, strong), &brief("step = 1\n"));
        let doses = |a: f64| Formula::from_doses(Basis::Neat, &[a, 1000.0 - a].map(Ppt::from_ppt));
        let idle = |a: f64| Idle::of(&problem, &doses(a)).expect("an odour").ppt;
        assert_eq!((idle(899.0), idle(900.0), idle(901.0)), (0.0, 0.0, 99.0), "{weak} beside {strong}");
        let broken = |a: f64| !Checker::new(&problem).breaches(&doses(a), REPORT_TOLERANCE).is_empty();
        assert_eq!([899.0, 900.0, 901.0, 949.0, 950.0].map(broken), [false, false, true, true, false], "{weak}");
        // Over continuous doses what lies within a hundred-millionth is not idle.
        let continuous = load(&palette(weak, strong), &brief(""));
        let hair = Formula::from_doses(Basis::Neat, &[900.000_001, 99.999_999].map(Ppt::from_ppt));
        assert_eq!(Idle::of(&continuous, &hair).expect("an odour").ppt, 0.0);
        assert!((Idle::of(&problem, &hair).expect("an odour").ppt - 99.999_999).abs() < 1e-9);
    }
}

/// Independent of `problem::idle`: from the shares of an evaluation.
fn plain_idle(problem: &Problem, formula: &Formula) -> f64 {
    let evaluation = evaluate(problem, formula).expect("an odour");
    let shares = evaluation.shares_percent.iter().zip(&evaluation.neat_ppt);
    shares
        .filter(|(share, neat)| **share > 0.0 && **share / 100.0 < 0.1 * (1.0 - 1e-9) * **neat / 1000.0)
        .map(|(_, neat)| neat)
        .sum()
}

#[test]
fn the_search_finds_what_listing_finds_in_both_matches() {
    let (mut feasible, mut infeasible, mut bound_by_it) = ([0, 0], 0, 0);
    for seed in 0..CASES {
        let (palette, brief) = scenario(seed);
        let free = load(&palette, &brief);
        let most = [0.0, 50.0, 100.0, 200.0, 250.0, 400.0][(seed % 6) as usize];
        let problem = under(&free, most);
        let Some(best) = least_by_listing(&problem).filter(|_| choice_count(&problem).is_some_and(|n| n < 300_000))
        else {
            continue;
        };
        let without = least_by_listing(&free).expect("listed");
        for method in [Method::Auto, Method::Search] {
            let solution = propose(&problem, method, &Control::default()).expect("a solution");
            if best.is_infinite() {
                assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
                continue;
            }
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let answer = solution.answer.expect("a formula");
            assert!(
                (answer.evaluation.loss - best).abs() <= 1e-6 * best.max(1.0),
                "seed {seed}: {} for {best}",
                answer.evaluation.loss
            );
            assert!(solution.bound.expect("a bound") <= best + 1e-12, "seed {seed}");
            assert!(plain_idle(&problem, &answer.formula) <= most + 1e-9, "seed {seed}");
        }
        let possible = matches!(feasibility(&problem, &Control::default()), Feasibility::Possible(_));
        assert_eq!(possible, best.is_finite(), "seed {seed}");
        match best.is_finite() {
            true => feasible[usize::from(problem.matching == Match::Level)] += 1,
            false => infeasible += 1,
        }
        // More rules, no better match.
        assert!(best >= without - 1e-9, "seed {seed}");
        bound_by_it += u32::from(best > without + 1e-6 * without.max(1.0));
    }
    println!("{feasible:?} feasible, {infeasible} infeasible, {bound_by_it} changed by the rule");
    assert!(feasible.iter().all(|&n| n >= 15) && bound_by_it >= 15, "{feasible:?}, {infeasible}, {bound_by_it}");
}

/// What is certified is true of every formula that listing finds, and its check
/// accepts it.
#[test]
fn certificates_hold_and_claim_no_more_than_listing_finds() {
    let mut split = 0;
    for seed in 0..CASES / 2 {
        let (palette, brief) = scenario(seed);
        let problem = under(&load(&palette, &brief), [0.0, 60.0, 150.0, 250.0][(seed % 4) as usize]);
        let Some(best) = least_by_listing(&problem).filter(|_| choice_count(&problem).is_some_and(|n| n < 300_000))
        else {
            continue;
        };
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let text = certify(&problem, &solution, &Control::default())
            .expect("no failure")
            .unwrap_or_else(|why| panic!("seed {seed}: {why:?}"));
        let read = certificate::read(&text).expect("it is read");
        let blend = Blend::new(&problem);
        check(&read, &blend, &certificate::column_names(&blend, &problem.palette)).expect("it holds");
        match read.claim {
            Claim::None => assert!(best.is_infinite(), "seed {seed}"),
            Claim::NoneBelow(loss) => {
                assert!(loss <= best && loss >= best - 1.1e-6 * best.max(1.0), "seed {seed}: {loss}, {best}")
            }
        }
        split += u32::from(text.contains("\nsplit-ladder "));
    }
    assert!(split >= 10, "{split} certificates have a line of the kind");
}

/// Over continuous doses nothing on the grid is better, the blend keeps the rule,
/// and no end of a range lies inside what listing reaches.
#[test]
fn continuous_blends_are_no_worse_than_those_on_a_grid() {
    let mut compared = 0;
    for seed in 0..CASES / 2 {
        let (palette, brief) = scenario(seed);
        let problem = under(&load(&palette, &brief), [0.0, 80.0, 250.0][(seed % 3) as usize]);
        if choice_count(&problem).is_none_or(|count| count > 200_000) {
            continue;
        }
        let relaxed = problem.relaxed();
        let best = direct::best(&relaxed, &Control::default()).expect("a solution");
        let proposed = propose(&relaxed, Method::Auto, &Control::default()).expect("a solution");
        assert_eq!(best.status, proposed.status, "seed {seed}");
        let checker = Checker::new(&problem);
        let (mut least, mut points, mut most_of_first) = (f64::INFINITY, [f64::INFINITY, 0.0], f64::NEG_INFINITY);
        list(&choices(&problem), &mut |doses| {
            let formula = Formula::from_doses(problem.basis, doses);
            if let Ok(evaluation) = evaluate(&problem, &formula)
                && checker.breaches(&formula, 1e-12).is_empty()
            {
                least = least.min(evaluation.loss);
                points = [points[0].min(evaluation.profile[0]), points[1].max(evaluation.profile[0])];
                most_of_first = most_of_first.max(doses[0].as_f64());
            }
        });
        let Some(answer) = best.answer else {
            assert!(least.is_infinite(), "seed {seed}");
            continue;
        };
        let loss = answer.evaluation.loss;
        let other = proposed.answer.expect("a formula").evaluation.loss;
        assert!((loss - other).abs() <= 2e-6 * loss.max(1.0), "seed {seed}: {loss} and {other}");
        assert!(loss <= least + 1e-6 * least.max(1.0), "seed {seed}: {loss} for {least}");
        assert!(Checker::new(&relaxed).breaches(&answer.formula, REPORT_TOLERANCE).is_empty(), "seed {seed}");
        if least.is_infinite() {
            continue;
        }
        compared += 1;
        let [low, high] = Reaches::new(&relaxed).expect("continuous").of(0, &Control::default());
        assert!(low.expect("an end").points <= points[0] + 1e-6, "seed {seed}");
        assert!(high.expect("an end").points >= points[1] - 1e-6, "seed {seed}");
        // Any loss at all: how much of the first material there may be.
        let extent = Extent::new(&relaxed, permil::analysis::axis::any_loss(&relaxed)).expect("blends");
        let cost: Vec<f64> = (0..relaxed.columns.len()).map(|column| if column == 0 { -1.0 } else { 0.0 }).collect();
        let end = extent.least(&cost).expect("an end");
        assert!(end.answer.formula.dose(0).as_f64() >= most_of_first - 1e-6, "seed {seed}");
        assert!(Checker::new(&relaxed).breaches(&end.answer.formula, REPORT_TOLERANCE).is_empty(), "seed {seed}");
    }
    assert!(compared >= 15, "{compared}");
}
