//! The program against an independent reference: SciPy's solvers on the same
//! files, read and modelled by code that shares nothing with this crate. See
//! tests/reference/README.md for how `expected.json` was made.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use permil::control::Control;
use permil::evaluate::{Evaluation, evaluate};
use permil::files;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Problem, RuleKind};
use permil::solve::{Method, Status, propose};
use serde_json::Value;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

/// (name, folder, expectation) of every case.
fn cases() -> Vec<(String, PathBuf, Value)> {
    let text = std::fs::read_to_string(folder().join("expected.json")).expect("expected.json is there");
    let expected: Value = serde_json::from_str(&text).expect("expected.json is JSON");
    let cases = expected["cases"].as_object().expect("cases by name");
    assert!(cases.len() >= 20, "only {} cases", cases.len());
    cases.iter().map(|(name, case)| (name.clone(), folder().join("cases").join(name), case.clone())).collect()
}

fn problem(case: &Path) -> Problem {
    match files::load_scenario(&case.join("brief.toml")) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

#[track_caller]
fn assert_near(name: &str, what: &str, got: f64, expected: &Value, tolerance: f64) {
    let expected = expected.as_f64().unwrap_or_else(|| panic!("{name}: no number for {what}"));
    let by = (got - expected).abs();
    assert!(by <= tolerance * expected.abs().max(1.0), "{name}: {what} is {got}, the reference says {expected}");
}

fn assert_same_judgement(name: &str, got: &Evaluation, expected: &Value) {
    assert_near(name, "loss", got.loss, &expected["loss"], 1e-9);
    assert_near(name, "fidelity", got.fidelity_percent, &expected["fidelity"], 1e-9);
    assert_near(name, "strength", got.strength, &expected["strength"], 1e-9);
    let second = &expected["second_opinion"];
    assert_near(name, "second loss", got.second_opinion.loss, &second["loss"], 1e-9);
    assert_near(name, "second fidelity", got.second_opinion.fidelity_percent, &second["fidelity"], 1e-9);
    match got.price_per_kg {
        Some(price) => assert_near(name, "price", price, &expected["price"], 1e-9),
        None => assert!(expected["price"].is_null(), "{name}: the reference knows a price"),
    }
}

/// (name, folder, expectation) of the seeded briefs of the standing trial.
fn trial() -> Vec<(String, PathBuf, Value)> {
    let text = std::fs::read_to_string(folder().join("trial.json")).expect("trial.json is there");
    let expected: Value = serde_json::from_str(&text).expect("trial.json is JSON");
    let briefs = expected.as_object().expect("briefs by name");
    briefs.iter().map(|(name, brief)| (name.clone(), folder().join("trial").join(name), brief.clone())).collect()
}

/// The fast part of the trial of benches/trial.py: seeded briefs, so many for
/// each way to match, each basis and each outcome.
#[test]
fn the_standing_trial_agrees() {
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for (name, brief, expected) in trial() {
        let problem = problem(&brief);
        let outcome = expected["status"].as_str().expect("a status");
        *counts.entry(format!("{:?} {:?} {outcome}", problem.matching, problem.basis)).or_default() += 1;
        for method in [Method::Auto, Method::Search] {
            let solution = propose(&problem, method, &Control::default()).expect("a solution");
            assert_eq!(solution.status.word(), outcome, "{name} {method:?}");
            if let Some(answer) = solution.answer {
                assert_near(&name, "optimal loss", answer.evaluation.loss, &expected["loss"], 1e-6);
                let (bound, loss) = (solution.bound.expect("a bound"), expected["loss"].as_f64().expect("a loss"));
                assert!(bound <= loss + 1e-9 * loss.max(1.0), "{name}: {bound} is no lower bound on {loss}");
            }
        }
    }
    assert!(counts.len() == 8 && counts.values().all(|&count| count >= 5), "{counts:?}");
}

/// The name of a kind of rule that a brief can have, in no order.
fn kind(rule: &RuleKind) -> &'static str {
    match rule {
        RuleKind::Budget => "budget",
        RuleKind::PriceOfEffect => "price of effect",
        RuleKind::StrengthMin => "strength, least",
        RuleKind::StrengthMax => "strength, greatest",
        RuleKind::MaxIdle => "idle weight",
        RuleKind::MaxMaterials => "count",
        RuleKind::MaxUnusual(_) => "unusual doses",
        RuleKind::DoseMin(_) => "dose, least",
        RuleKind::DoseMax(_) => "dose, greatest",
        RuleKind::NeatMax(_) => "dose, greatest neat",
        RuleKind::DoseStep(_) => "dose, step",
        RuleKind::Must(_) => "must",
        RuleKind::Never(_) => "never",
        RuleKind::Fixed(_) => "fixed",
        RuleKind::Only(_) => "only",
        RuleKind::OwnOnly => "own only",
        RuleKind::GroupMin(_) => "group, least",
        RuleKind::GroupMax(_) => "group, greatest",
        RuleKind::RatioMin { .. } => "ratio, least",
        RuleKind::RatioMax { .. } => "ratio, greatest",
        RuleKind::TargetMin(_) => "target, least",
        RuleKind::TargetMax(_) => "target, greatest",
        RuleKind::Near(_) => "near a known formula",
        RuleKind::Limit { .. } => "limit",
        RuleKind::Joint { .. } => "joint limits",
        RuleKind::Concentrate { .. } => "advice, concentrate",
        RuleKind::Product { .. } => "advice, product",
        // Questions of the program's own, which no file asks.
        RuleKind::MostOf(_) | RuleKind::Moves(_) | RuleKind::AtLeast(_) => "",
        // Those of stages are tried by enumeration in tests/stages.rs.
        RuleKind::StageStrengthMin(_)
        | RuleKind::StageStrengthMax(_)
        | RuleKind::StageKept(_)
        | RuleKind::StageShareMin { .. }
        | RuleKind::StageShareMax { .. }
        | RuleKind::FilmLasts => "",
    }
}

#[test]
fn every_kind_of_rule_is_tried() {
    let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
    for (_, brief, _) in trial().into_iter().chain(cases()) {
        let problem = problem(&brief);
        let kinds: BTreeSet<&str> = problem.rules.iter().map(|rule| kind(&rule.kind)).collect();
        kinds.into_iter().for_each(|kind| *seen.entry(kind).or_default() += 1);
    }
    assert!(seen.len() == 27 && seen.values().all(|&briefs| briefs >= 3), "{seen:?}");
}

#[test]
fn optima_agree() {
    for (name, case, expected) in cases() {
        let problem = problem(&case);
        for method in [Method::Auto, Method::Search] {
            let solution = propose(&problem, method, &Control::default()).expect("a solution");
            match expected["status"].as_str() {
                Some("infeasible") => assert_eq!(solution.status, Status::Infeasible, "{name} {method:?}"),
                Some("optimal") => {
                    assert_eq!(solution.status, Status::Optimal, "{name} {method:?}");
                    let answer = solution.answer.expect("an optimum has a formula");
                    assert_near(&name, "optimal loss", answer.evaluation.loss, &expected["loss"], 1e-6);
                    let bound = solution.bound.expect("an optimum has a bound");
                    assert!(
                        bound <= expected["loss"].as_f64().expect("a loss") + 1e-9,
                        "{name}: {bound} is no lower bound on {}",
                        expected["loss"]
                    );
                }
                other => panic!("{name}: unknown status {other:?}"),
            }
        }
    }
}

#[test]
fn the_cheapest_of_continuous_ties_is_found() {
    let mut compared = 0;
    for (name, case, expected) in cases() {
        if let Some(cheapest) = expected["cheapest"].as_f64() {
            let solution = propose(&problem(&case), Method::Auto, &Control::default()).expect("a solution");
            let price = solution.answer.expect("a formula").evaluation.price_per_kg.expect("a price");
            assert!(price <= cheapest * (1.0 + 1e-3), "{name}: {price} instead of {cheapest}");
            compared += 1;
        }
    }
    assert!(compared > 0);
}

#[test]
fn judgements_and_broken_rules_agree() {
    let mut compared = 0;
    for (name, case, expected) in cases() {
        let problem = problem(&case);
        let checker = Checker::new(&problem);
        for (file, judged) in expected["formulas"].as_object().into_iter().flatten() {
            let formula = match files::load_formula(&case.join(file), &problem.palette) {
                Ok(formula) => formula,
                Err(faults) => panic!("{}", faults.render(false)),
            };
            let label = format!("{name}/{file}");
            assert_same_judgement(&label, &evaluate(&problem, &formula).expect("an odour"), judged);
            let broken: BTreeSet<String> = checker
                .breaches(&formula, REPORT_TOLERANCE)
                .into_iter()
                .map(|breach| problem.rules[breach.rule].id.to_string())
                .collect();
            let listed = judged["broken"].as_array().expect("a list of ids");
            let listed: BTreeSet<String> = listed.iter().filter_map(Value::as_str).map(str::to_owned).collect();
            assert_eq!(broken, listed, "{label}");
            compared += 1;
        }
    }
    assert!(compared >= 30, "only {compared} formulas");
}
