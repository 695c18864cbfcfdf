//! Staying near a known formula: the search against listing every formula, the
//! proof against both checkers, and what must hold of any brief.

mod support;

use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::solve::nearer::nearer;
use permil::solve::{Method, Status, propose};
use support::forge::Subject;
use support::listing::{choice_count, choices, list};
use support::near::{Known, near_problem, near_problem_with};

/// Room for rounding, in percentage points.
const ROUNDING: f64 = 1e-4;
/// Formulas of a brief that are listed at the most.
const MOST: usize = 150_000;

/// All formulas that keep the rules of the brief without the known formula:
/// (loss, percent that is moved).
fn listed(plain: &Problem, known: &Known) -> Option<Vec<(f64, f64)>> {
    choice_count(plain).filter(|count| *count <= MOST)?;
    let checker = Checker::new(plain);
    let mut all = Vec::new();
    list(&choices(plain), &mut |doses| {
        let formula = Formula::from_doses(plain.basis, doses);
        if let Ok(evaluation) = evaluate(plain, &formula)
            && checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
        {
            all.push((evaluation.loss, known.moved(plain, &formula)));
        }
    });
    Some(all)
}

fn least(all: impl Iterator<Item = f64>) -> f64 {
    all.fold(f64::INFINITY, f64::min)
}

#[test]
fn the_search_finds_what_listing_finds_near_a_known_formula() {
    let (mut held, mut none, mut lacking) = (0, 0, 0);
    for seed in 0..320 {
        let (problem, plain, known) = near_problem(seed);
        let Some(all) = listed(&plain, &known) else { continue };
        let inside =
            |room: f64| least(all.iter().filter(|(_, moved)| *moved <= known.within + room).map(|(loss, _)| *loss));
        let (sure, perhaps) = (inside(-ROUNDING), inside(ROUNDING));
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        lacking += u32::from(!known.lacking.is_empty());
        match solution.answer {
            Some(answer) => {
                assert_eq!(solution.status, Status::Optimal, "seed {seed}");
                let loss = answer.evaluation.loss;
                let room = 1e-6 * loss.max(1.0);
                assert!(loss <= sure + room && loss >= perhaps - room, "seed {seed}: {loss}, not {sure} or {perhaps}");
                let moved = known.moved(&plain, &answer.formula);
                assert!(moved <= known.within + ROUNDING, "seed {seed}: {moved} of {}", known.within);
                assert!(solution.bound.expect("a bound") <= sure + 1e-12, "seed {seed}");
                held += u32::from(loss > least(all.iter().map(|(loss, _)| *loss)) + 1e-6);
            }
            None => {
                assert_eq!(solution.status, Status::Infeasible, "seed {seed}");
                assert!(sure.is_infinite(), "seed {seed}: listing finds {sure}");
                none += u32::from(!all.is_empty());
            }
        }
    }
    println!("{held} held back by the rule, {none} without a formula because of it, {lacking} with a part lacking");
    assert!(held >= 25 && none >= 10 && lacking >= 30, "{held}, {none}, {lacking}");
}

#[test]
fn the_nearest_of_those_that_give_little_away_is_what_listing_finds() {
    let (mut tried, mut nearer_ones) = (0, 0);
    for seed in 0..160 {
        let (_, plain, known) = near_problem(seed);
        let Some(all) = listed(&plain, &known).filter(|all| !all.is_empty()) else { continue };
        let (near, ..) = near_problem(seed);
        let skeleton = near.near.as_ref().expect("a known formula").skeleton.clone();
        let best = propose(&plain, Method::Auto, &Control::default()).expect("a solution").answer.expect("a formula");
        for give in [0.0, 1.0, 8.0] {
            let most = best.evaluation.loss + give / 100.0 * plain.worst_loss();
            let inside =
                |room: f64| least(all.iter().filter(|(loss, _)| *loss <= most + room).map(|(_, moved)| *moved));
            let found =
                nearer(&plain, &skeleton, give, &best, &Control::default()).expect("no failure").expect("known");
            assert!(found.is_proven(), "seed {seed}, {give}");
            let (sure, perhaps) = (inside(0.0), inside(1e-6 * most.max(1.0)));
            let moved = known.moved(&plain, &found.answer.formula);
            assert!((moved - found.moved_percent).abs() < 1e-9, "seed {seed}: {moved}, told {}", found.moved_percent);
            assert!(
                moved <= sure + ROUNDING && moved >= perhaps - ROUNDING,
                "seed {seed}, {give}: {moved}, not {sure}"
            );
            let given = best.evaluation.fidelity_percent - found.answer.evaluation.fidelity_percent;
            assert!(given <= give + 1e-4, "seed {seed}: {given} given away of {give}");
            tried += 1;
            nearer_ones +=
                u32::from(found.moved_percent < skeleton.moved_percent(&plain, &best.formula).expect("odour") - 1e-6);
        }
    }
    println!("{tried} searches, {nearer_ones} found a nearer formula than the best");
    assert!(tried >= 120 && nearer_ones >= 30, "{tried}, {nearer_ones}");
}

/// Beside a rule on idle weight, which is searched and proven rung by rung.
#[test]
fn it_is_kept_and_proven_beside_a_rule_on_idle_weight() {
    let (mut held, mut written) = (0, 0);
    for seed in 0..160 {
        let (problem, plain, known) = near_problem_with(seed, "max_idle = 6\n");
        let Some(all) = listed(&plain, &known) else { continue };
        let inside =
            |room: f64| least(all.iter().filter(|(_, moved)| *moved <= known.within + room).map(|(loss, _)| *loss));
        let (sure, perhaps) = (inside(-ROUNDING), inside(ROUNDING));
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        match &solution.answer {
            Some(answer) => {
                let (loss, room) = (answer.evaluation.loss, 1e-6 * sure.clamp(1.0, 1e6));
                assert_eq!(solution.status, Status::Optimal, "seed {seed}");
                assert!(loss <= sure + room && loss >= perhaps - room, "seed {seed}: {loss}, not {sure} or {perhaps}");
                held += u32::from(loss > least(all.iter().map(|(loss, _)| *loss)) + 1e-6);
            }
            None => {
                assert_eq!(solution.status, Status::Infeasible, "seed {seed}");
                assert!(sure.is_infinite(), "seed {seed}: listing finds {sure}");
            }
        }
        if let Some(subject) = Subject::of(&problem, 3000) {
            assert!(subject.passes(&subject.certificate), "seed {seed}");
            written += u32::from(subject.text.contains(" k0=") && subject.text.contains("split-ladder"));
        }
    }
    println!("{held} held back by the rule, {written} proofs with both");
    assert!(held >= 8 && written >= 3, "{held}, {written}");
}

/// A rule more never raises what is proven, and one that forbids nothing changes
/// nothing.
#[test]
fn a_rule_never_helps_and_an_idle_one_changes_nothing() {
    let mut compared = 0;
    for seed in 0..80 {
        let (mut problem, plain, _) = near_problem(seed);
        let without = propose(&plain, Method::Auto, &Control::default()).expect("a solution");
        let under = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        if let Some(under) = &under.answer {
            let best = without.answer.as_ref().expect("it keeps the other rules").evaluation.fidelity_percent;
            assert!(under.evaluation.fidelity_percent <= best + 1e-4, "seed {seed}");
            compared += 1;
        }
        problem.rules.iter_mut().filter(|rule| rule.id.to_string() == "near").for_each(|rule| rule.at = 100.0);
        let idle = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let told = |solution: &permil::solve::Solution| {
            (solution.status, solution.bound, solution.nodes, solution.answer.clone().map(|answer| answer.formula))
        };
        assert_eq!(told(&idle), told(&without), "seed {seed}");
    }
    assert!(compared >= 25, "{compared}");
}
