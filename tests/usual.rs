//! Usual doses: a brief may count those outside. The search against listing
//! every formula, the model's columns, and what the rule may not change.

mod support;

use permil::brief::Basis;
use permil::control::Control;
use permil::formula::Formula;
use permil::model::{Blend, Role};
use permil::palette::Usual;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Problem, Rule, RuleId, RuleKind};
use permil::solve::backend::Backend;
use permil::solve::usual::most_usual;
use permil::solve::{Method, Solution, Status, propose};
use permil::units::Ppt;
use support::listing::{choice_count, choices, least_by_listing, list};
use support::load;
use support::random::{scenario, unusual_scenario};

const CASES: u64 = 180;
/// Formulas of a brief that are listed one by one.
const LISTED: usize = 200_000;

fn problem(seed: u64, most: usize) -> Problem {
    let (palette, brief) = unusual_scenario(seed, most);
    load(&palette, &brief)
}

fn solved(problem: &Problem) -> Solution {
    propose(problem, Method::Auto, &Control::default()).expect("a solution")
}

/// How many doses of a formula are unusual, in whole numbers and by nothing that
/// the crate computes: a bottle's percent is whole here.
fn unusual(problem: &Problem, doses: &[Ppt]) -> usize {
    let is_unusual = |(material, dose): (usize, &Ppt)| {
        let described = problem.material(material);
        let percent = match (problem.basis, described.bottles.first()) {
            (Basis::Bottle, Some(bottle)) => bottle.percent as i128,
            _ => 100,
        };
        let Some(Usual { least, most, .. }) = described.usual else { return false };
        let neat = i128::from(dose.units()) * percent;
        let ends = [least, most].map(|end| i128::from(end.units()) * 100);
        !dose.is_zero() && (neat < ends[0] || neat > ends[1])
    };
    doses.iter().enumerate().filter(|&it| is_unusual(it)).count()
}

/// The least loss of all formulas that keep the other rules and have at most so
/// many unusual doses; `None` where they are too many to list.
fn least(problem: &Problem, most: usize) -> Option<f64> {
    let without = problem.with_rules(|rule| !matches!(problem.rules[rule].kind, RuleKind::MaxUnusual(_)));
    choice_count(&without).filter(|count| *count <= LISTED)?;
    let checker = Checker::new(&without);
    let mut best = f64::INFINITY;
    list(&choices(&without), &mut |doses| {
        let formula = Formula::from_doses(problem.basis, doses);
        if unusual(problem, doses) <= most
            && checker.breaches(&formula, permil::problem::check::SEARCH_TOLERANCE).is_empty()
            && let Ok(evaluation) = permil::evaluate::evaluate(&without, &formula)
        {
            best = best.min(evaluation.loss);
        }
    });
    Some(best)
}

#[test]
fn the_search_finds_what_listing_finds() {
    let (mut feasible, mut infeasible, mut bound_by_it, mut by_bottle) = (0, 0, 0, 0);
    for seed in 0..CASES {
        for most in 0..2 {
            let problem = problem(seed, most);
            let Some(best) = least(&problem, most) else { continue };
            let solution = solved(&problem);
            if best.is_finite() {
                feasible += 1;
                by_bottle += u32::from(problem.basis == Basis::Bottle);
                assert_eq!(solution.status, Status::Optimal, "seed {seed}, {most}: listing finds {best}");
                let answer = solution.answer.expect("a formula");
                let loss = answer.evaluation.loss;
                assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}, {most}: {loss} instead of {best}");
                assert_eq!(
                    problem.unusual(&answer.formula).len(),
                    unusual(&problem, &doses(&problem, &answer.formula))
                );
                let free = least(&problem, usize::MAX).expect("as many");
                bound_by_it += u32::from(best > free * (1.0 + 1e-6));
            } else {
                infeasible += 1;
                assert_eq!(solution.status, Status::Infeasible, "seed {seed}, {most}: listing finds nothing");
            }
        }
    }
    let counts = format!("{feasible} feasible, {by_bottle} by bottle, {infeasible} infeasible, {bound_by_it} bound");
    println!("{counts}");
    assert!(feasible >= 60 && by_bottle >= 10 && infeasible >= 30 && bound_by_it >= 20, "{counts}");
}

fn doses(problem: &Problem, formula: &Formula) -> Vec<Ppt> {
    (0..problem.columns.len()).map(|material| formula.dose(material)).collect()
}

/// A count of doses that move beside one of unusual doses: a material may then
/// have three columns.
#[test]
fn it_stands_beside_a_count_of_doses_that_move() {
    let (mut feasible, mut infeasible, mut three) = (0, 0, 0);
    for seed in 0..CASES {
        let mut problem = problem(seed, 1);
        let place = problem.palette.materials[0].place.clone();
        let kept = [(0, Ppt::from_ppt(300.0)), (1, Ppt::from_ppt(125.0)), (2, Ppt::from_ppt(200.0))];
        problem.rules.push(Rule { id: RuleId::Moves, kind: RuleKind::Moves(kept.into()), place, at: 2.0 });
        let blend = Blend::new(&problem);
        let roles = |material: usize| {
            blend.columns_of(material).iter().map(|&column| blend.columns[column].role).collect::<Vec<_>>()
        };
        three += u32::from((0..3).any(|it| roles(it) == [Role::Stays, Role::Usual, Role::Unusual]));
        // The kept doses are not on the grid: every choice has them besides.
        if choice_count(&problem).is_none_or(|count| count > LISTED / 8) {
            continue;
        }
        let may_stay = problem.may_stay();
        let mut choices = choices(&problem);
        for (material, dose) in kept.into_iter().filter(|(material, _)| may_stay[*material]) {
            choices[material].push(dose);
            choices[material].sort();
            choices[material].dedup();
        }
        let checker = Checker::new(&problem);
        let mut best = f64::INFINITY;
        list(&choices, &mut |doses| {
            let formula = Formula::from_doses(problem.basis, doses);
            if unusual(&problem, doses) <= 1
                && checker.breaches(&formula, permil::problem::check::SEARCH_TOLERANCE).is_empty()
                && let Ok(evaluation) = permil::evaluate::evaluate(&problem, &formula)
            {
                best = best.min(evaluation.loss);
            }
        });
        let solution = solved(&problem);
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
    let counts = format!("{feasible} feasible, {infeasible} infeasible, {three} with three columns");
    println!("{counts}");
    assert!(feasible >= 10 && infeasible >= 10 && three >= 20, "{counts}");
}

/// A count that all materials together keep changes nothing at all, and a
/// stricter one never brings a proven formula nearer.
#[test]
fn a_count_of_all_materials_changes_nothing_and_a_stricter_one_never_helps() {
    let mut proven = 0;
    for seed in 0..CASES / 2 {
        let with = |most: usize| problem(seed, most);
        let counted = with(0);
        let free = counted.with_rules(|rule| !matches!(counted.rules[rule].kind, RuleKind::MaxUnusual(_)));
        let (without, all) = (solved(&free), solved(&with(free.columns.len())));
        assert_eq!(format!("{without:?}"), format!("{all:?}"), "seed {seed}");
        let mut before = without;
        for most in (0..free.columns.len().min(3)).rev() {
            let now = solved(&with(most));
            let loss = |solution: &Solution| solution.answer.as_ref().map_or(f64::INFINITY, |it| it.evaluation.loss);
            let room = 2e-6 * loss(&now).max(1.0);
            assert!(loss(&now).is_infinite() || loss(&now) + room >= loss(&before), "seed {seed}: {most} is nearer");
            proven += u32::from(now.status == Status::Optimal);
            before = now;
        }
    }
    assert!(proven >= 40, "{proven}");
}

/// Doses need no grid: whatever random formula keeps the rules, it is no nearer.
#[test]
fn continuous_doses_are_counted_as_well() {
    let mut feasible = 0;
    for seed in 0..30 {
        let (palette, brief) = unusual_scenario(seed, 1);
        let brief = brief.lines().filter(|line| !line.starts_with("step")).collect::<Vec<_>>().join("\n");
        let problem = load(&palette, &brief);
        let solution = solved(&problem);
        let Some(answer) = solution.answer else { continue };
        feasible += 1;
        assert_eq!(solution.status, Status::Optimal, "seed {seed}");
        assert!(unusual(&problem, &doses(&problem, &answer.formula)) <= 1, "seed {seed}");
        assert!(Checker::new(&problem).breaches(&answer.formula, REPORT_TOLERANCE).is_empty(), "seed {seed}");
        // Formulas in steps are among the continuous ones.
        let (_, in_steps) = unusual_scenario(seed, 1);
        if let Some(stepped) = least_by_listing(&load(&palette, &in_steps)) {
            assert!(answer.evaluation.loss <= stepped + 2e-6 * stepped.max(1.0), "seed {seed}: {stepped}");
        }
    }
    assert!(feasible >= 15, "{feasible}");
}

/// A borrowed solver knows the rule by the same columns and counts.
#[test]
fn a_borrowed_solver_finds_the_same() {
    let method = Method::Borrowed(Backend::Microlp);
    let mut agreed = 0;
    for seed in 0..60 {
        let problem = problem(seed, (seed % 3) as usize);
        let Some(answer) = solved(&problem).answer else { continue };
        let borrowed = propose(&problem, method, &Control::default()).expect("a solution");
        let Some(other) = borrowed.answer else { continue };
        let (own, other) = (answer.evaluation.loss, other.evaluation.loss);
        assert!((own - other).abs() <= 1e-6 * own.max(1.0), "seed {seed}: {own} and {other}");
        agreed += 1;
    }
    assert!(agreed >= 15, "{agreed}");
}

/// Petal smells of rosy alone and Leaf of green alone, each twice on the shelf:
/// any shares of the twins are as near.
const TWINS: &str = r#"
[descriptors]
rosy = "made up"
green = "made up"
[[material]]
name = "Petal"
strength = 10
scores = { rosy = 5 }
usual = [USUAL]
[[material]]
name = "Petal again"
strength = 10
scores = { rosy = 5 }
usual = [0, 400]
[[material]]
name = "Leaf"
strength = 10
scores = { green = 5 }
"#;
const EQUAL: &str = "palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 5\n[formula]\nstep = 100\n";

/// Five hundred parts of Petal: usual where all comes from one twin, or where
/// both share them; with the last range one of the two is unusual.
#[test]
fn of_equals_the_one_with_fewer_unusual_doses_is_found() {
    for (usual, most) in [("0, 200", 0), ("500, 600", 0), ("250, 450", 0), ("0, 50", 1)] {
        let problem = load(&TWINS.replace("USUAL", usual), EQUAL);
        let any = Formula::from_doses(problem.basis, &[500.0, 0.0, 500.0].map(Ppt::from_ppt));
        let answer = permil::solve::kept(&problem, &any).expect("it keeps the rules");
        let loss = answer.evaluation.loss;
        let found = most_usual(&problem, answer, &Control::default());
        assert_eq!(problem.unusual(&found.formula).len(), most, "{usual}: {:?}", found.formula.parts);
        assert!((found.evaluation.loss - loss).abs() <= 1e-7);
    }
    // Six hundred of them cannot be: the other twin stops at four hundred.
    let none = load(&TWINS.replace("USUAL", "0, 50"), &EQUAL.replace("green = 5", "green = 0.5"));
    let all = Formula::from_doses(none.basis, &[900.0, 0.0, 100.0].map(Ppt::from_ppt));
    let answer = permil::solve::kept(&none, &all).expect("it keeps the rules");
    let found = most_usual(&none, answer, &Control::default());
    assert_eq!(none.unusual(&found.formula).len(), 1, "{:?}", found.formula.parts);
}

/// A dose at an end is usual; a unit of 1e-9 ppt beyond it is not, in the check
/// and in the model.
#[test]
fn the_ends_are_usual_to_the_last_unit() {
    let problem = load(&TWINS.replace("USUAL", "100, 300"), &EQUAL.replace("step = 100", "max_unusual = 0"));
    let checker = Checker::new(&problem);
    let kept = |petal: i64| {
        let rest = Ppt::WHOLE - Ppt::from_units(petal);
        let formula = Formula::from_doses(problem.basis, &[Ppt::from_units(petal), Ppt::ZERO, rest]);
        let breaches = checker.breaches(&formula, 0.0);
        assert_eq!(breaches.is_empty(), permil::solve::kept(&problem, &formula).is_some());
        breaches.is_empty()
    };
    let (low, high) = (100 * Ppt::UNITS, 300 * Ppt::UNITS);
    assert!(kept(low) && kept(high) && kept(low + 1));
    assert!(!kept(low - 1) && !kept(high + 1) && !kept(1_000));
}

/// Without a rule that counts them, usual doses change no formula.
#[test]
fn a_palette_with_usual_doses_gives_the_same_formula() {
    for seed in 0..12 {
        let (palette, brief) = scenario(seed);
        let marked = palette.replace("[[material]]\n", "[[material]]\nusual = [20, 60]\n");
        let (plain, marked) = (load(&palette, &brief), load(&marked, &brief));
        assert!(marked.knows_usual_doses() && !plain.knows_usual_doses());
        assert_eq!(format!("{:?}", solved(&plain)), format!("{:?}", solved(&marked)), "seed {seed}");
    }
}
