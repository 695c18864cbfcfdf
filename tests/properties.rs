//! What must hold of every brief: shown on the reference cases and the shipped
//! scenarios.

mod support;

use std::path::{Path, PathBuf};

use permil::brief::Basis;
use permil::control::Control;
use permil::files::{self, Scenario};
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::idle::Idle;
use permil::problem::{Change, Problem, RuleId, RuleKind};
use permil::solve::{Method, Solution, Status, propose};
use permil::units::Ppt;
use support::program::plain_cases;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every brief that ships or belongs to the reference.
fn briefs() -> Vec<PathBuf> {
    let mut briefs: Vec<PathBuf> = plain_cases().into_iter().map(|case| case.join("brief.toml")).collect();
    briefs.push(root().join("profiles/rose-otto/brief.toml"));
    briefs.push(root().join("profiles/six-materials/brief.toml"));
    briefs
}

fn scenario(brief: &Path) -> Scenario {
    files::load_scenario(brief).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn problem(brief: &Path) -> Problem {
    let scenario = scenario(brief);
    Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
}

fn solve(problem: &Problem) -> Solution {
    propose(problem, Method::Auto, &Control::default()).expect("a solution")
}

fn loss(solution: &Solution) -> f64 {
    solution.answer.as_ref().map_or(f64::INFINITY, |answer| answer.evaluation.loss)
}

#[track_caller]
fn assert_same(a: f64, b: f64, what: &str) {
    let same = a == b || (a - b).abs() <= 2e-6 * a.abs().max(1.0);
    assert!(same, "{what}: {a} and {b}");
}

#[test]
fn formulas_keep_every_rule_and_add_up_to_exactly_1000() {
    for brief in briefs() {
        let problem = problem(&brief);
        let solution = solve(&problem);
        let Some(answer) = solution.answer else { continue };
        assert_eq!(answer.formula.sum(), Ppt::WHOLE, "{}", brief.display());
        let breaches = Checker::new(&problem).breaches(&answer.formula, REPORT_TOLERANCE);
        assert!(breaches.is_empty(), "{}: {breaches:?}", brief.display());
        let bound = solution.bound.expect("a bound");
        assert!(bound <= answer.evaluation.loss, "{}", brief.display());
    }
}

#[test]
fn doubling_all_strengths_changes_nothing_where_no_rule_speaks_of_strength() {
    let mut compared = 0;
    for brief in briefs() {
        let mut scenario = scenario(&brief);
        let rules = &scenario.brief;
        if rules.strength_min.is_some() || rules.strength_max.is_some() || rules.max_price_of_effect.is_some() {
            continue;
        }
        // A part of a known formula that the shelf lacks has a strength of its own.
        if rules.near.is_some() {
            continue;
        }
        let before = solve(&Problem::new(scenario.palette.clone(), &scenario.brief, &scenario.limits));
        scenario.palette.materials.iter_mut().for_each(|material| material.strength *= 2.0);
        let after = solve(&Problem::new(scenario.palette, &scenario.brief, &scenario.limits));
        assert_eq!(before.status, after.status);
        assert_same(loss(&before), loss(&after), &brief.display().to_string());
        compared += 1;
    }
    assert!(compared >= 10, "only {compared} briefs");
}

/// The text of a palette with its materials in reverse order.
fn reversed(text: &str) -> String {
    let (head, materials) = text.split_at(text.find("[[material]]").expect("a material"));
    let mut blocks: Vec<&str> = materials.split("[[material]]").filter(|block| !block.trim().is_empty()).collect();
    blocks.reverse();
    let blocks: Vec<String> = blocks.iter().map(|block| format!("[[material]]{}\n", block.trim_end())).collect();
    format!("{head}{}", blocks.join("\n"))
}

#[test]
fn the_order_of_materials_does_not_change_the_objective() {
    for brief in briefs() {
        let folder = tempfile::tempdir().expect("a folder");
        for entry in std::fs::read_dir(brief.parent().expect("a folder")).expect("files") {
            let path = entry.expect("a file").path();
            let name = path.file_name().expect("a name");
            let text = std::fs::read_to_string(&path).expect("text");
            let text = if name == "palette.toml" { reversed(&text) } else { text };
            std::fs::write(folder.path().join(name), text).expect("written");
        }
        let before = solve(&problem(&brief));
        let after = solve(&problem(&folder.path().join("brief.toml")));
        assert_eq!(before.status, after.status, "{}", brief.display());
        assert_same(loss(&before), loss(&after), &brief.display().to_string());
    }
}

/// More rules leave fewer formulas: no match that is proven gets better by a rule on
/// idle weight, and what it proposes keeps it.
#[test]
fn a_rule_on_idle_weight_never_raises_a_proven_match() {
    let (mut compared, mut lowered) = (0, 0);
    for brief in briefs() {
        let problem = problem(&brief).without_kind(&RuleKind::MaxIdle);
        // The large ones take long.
        if problem.rules.len() > 60 {
            continue;
        }
        let before = solve(&problem);
        for most in [0.0, 100.0, 250.0] {
            let ruled = problem.with_rule_at(RuleId::MaxIdle, RuleKind::MaxIdle, most);
            let after = solve(&ruled);
            let name = format!("{} with {most}", brief.display());
            if before.status == Status::Infeasible {
                assert_eq!(after.status, Status::Infeasible, "{name}");
                continue;
            }
            assert!(loss(&after) >= loss(&before) - 2e-6 * loss(&before).max(1.0), "{name}");
            assert!(matches!(after.status, Status::Optimal | Status::Infeasible), "{name}: {:?}", after.status);
            if let Some(answer) = &after.answer {
                let idle = Idle::of(&ruled, &answer.formula).expect("an odour").ppt;
                assert!(idle <= most * (1.0 + REPORT_TOLERANCE) + REPORT_TOLERANCE, "{name}: {idle}");
            }
            lowered += u32::from(loss(&after) > loss(&before) + 1e-6);
            compared += 1;
        }
    }
    assert!(compared >= 30 && lowered >= 3, "{compared} compared, {lowered} lowered");
}

#[test]
fn loosening_a_rule_never_hurts_a_proven_answer() {
    let mut loosened = 0;
    for brief in briefs() {
        let problem = problem(&brief);
        let before = solve(&problem);
        for (index, rule) in problem.rules.iter().enumerate() {
            // A minimum may pass its maximum's step; caps and floors alone.
            let change = match rule.kind.loosens_upwards() {
                Some(true) => Change::To((rule.at * 1.2).ceil()),
                Some(false) => Change::To(rule.at * 0.8),
                None => continue,
            };
            // Every rule on the small briefs, one in ten on the large ones.
            if problem.rules.len() > 60 && index % 10 != 0 {
                continue;
            }
            let after = solve(&problem.with_change(index, change));
            assert!(
                loss(&after) <= loss(&before) + 2e-6 * loss(&before).max(1.0) || before.status == Status::Infeasible,
                "{}: loosening {} takes the loss from {} to {}",
                brief.display(),
                rule.id,
                loss(&before),
                loss(&after)
            );
            loosened += 1;
        }
    }
    assert!(loosened > 200, "only {loosened} rules");
}

#[test]
fn what_is_proven_does_not_depend_on_the_method() {
    for brief in briefs() {
        let problem = problem(&brief);
        let search = propose(&problem, Method::Search, &Control::default()).expect("a solution");
        let auto = solve(&problem);
        assert_eq!(search.status, auto.status, "{}", brief.display());
        assert_same(loss(&search), loss(&auto), &brief.display().to_string());
    }
}

#[test]
fn the_basis_of_a_problem_is_that_of_its_formula() {
    for brief in briefs() {
        let problem = problem(&brief);
        if let Some(answer) = solve(&problem).answer {
            assert_eq!(answer.formula.basis, problem.basis);
            // In basis bottle what is poured holds no more than itself.
            let neat: f64 = problem.neat_ppt(&answer.formula).iter().sum();
            assert!(neat <= 1000.0 + 1e-6 && (problem.basis == Basis::Bottle || neat > 1000.0 - 1e-6));
        }
    }
}
