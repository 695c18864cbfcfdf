//! The program against an independent reference: SciPy's solvers on the same
//! files, read and modelled by code that shares nothing with this crate. See
//! tests/reference/README.md for how `expected.json` was made.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use permil::control::Control;
use permil::evaluate::{Evaluation, evaluate};
use permil::files;
use permil::formula::Formula;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Problem, RuleKind};
use permil::solve::clocks::{Holds, settle};
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
    let views = expected["views"].as_array().map_or(&[][..], Vec::as_slice);
    assert!(views.is_empty() && got.views.len() == 1 || views.len() == got.views.len(), "{name}: views");
    for (at, (seen, expected)) in got.views.iter().zip(views).enumerate() {
        assert_near(name, &format!("loss of view {at}"), seen.loss, &expected["loss"], 1e-9);
        assert_near(name, &format!("fidelity of view {at}"), seen.fidelity_percent, &expected["fidelity"], 1e-9);
        assert_near(name, &format!("strength of view {at}"), seen.strength, &expected["strength"], 1e-9);
    }
}

/// What is left of a formula at each stage, by its own film.
fn assert_same_paper(name: &str, problem: &Problem, formula: &Formula, expected: &Value) {
    let stages = expected["stages"].as_array().map_or(&[][..], Vec::as_slice);
    let own = problem.as_it_dries(formula);
    let Some(paper) = &own.paper else { return assert!(stages.is_empty(), "{name}: no stages") };
    assert_eq!(paper.clocks.len(), stages.len(), "{name}");
    for (stage, (clock, expected)) in paper.clocks.iter().zip(stages).enumerate() {
        assert_near(name, "clock", *clock, &expected["clock"], 1e-9);
        for (material, left) in expected["left"].as_object().expect("what is left by name") {
            let index = problem.palette.materials.iter().position(|it| it.name == *material).expect("on the shelf");
            assert_near(name, material, 100.0 * paper.left(stage, index), left, 1e-9);
        }
    }
}

/// The clocks of the film of the formula that the reference has, where the brief has stages.
fn clocks(expected: &Value) -> Option<Vec<f64>> {
    expected["stages"].as_array()?.iter().map(|stage| stage["clock"].as_f64()).collect()
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
        RuleKind::StageStrengthMin(_) => "strength of a stage, least",
        RuleKind::StageStrengthMax(_) => "strength of a stage, greatest",
        RuleKind::StageKept(_) => "kept until a stage",
        RuleKind::StageShareMin { .. } => "share at a stage, least",
        RuleKind::StageShareMax { .. } => "share at a stage, greatest",
        RuleKind::FilmLasts => "the film lasts",
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
    assert!(seen.len() == 33 && seen.values().all(|&briefs| briefs >= 3), "{seen:?}");
}

/// In whole parts by the clocks of the reference's formula, at which it is proven; over
/// continuous doses see below.
#[test]
fn optima_agree() {
    for (name, case, expected) in cases() {
        let mut problem = problem(&case);
        if problem.paper.is_some() {
            match clocks(&expected) {
                Some(clocks) if expected["method"] != "linear" => problem = problem.with_clocks(&clocks),
                _ => continue,
            }
        }
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

/// Over continuous doses the reference tries every clock of the one later stage, each with the
/// best formula whose film has it: to 1e-6 of the loss, as far as its clocks are narrowed.
#[test]
fn what_is_settled_on_paper_agrees() {
    let mut by_outcome: BTreeMap<String, usize> = BTreeMap::new();
    for (name, case, expected) in cases() {
        let problem = problem(&case);
        if problem.paper.is_none() {
            continue;
        }
        let settled = settle(&problem, Method::Auto, &Control::default()).expect("a solution");
        let (solution, outcome) = (settled.solution, expected["status"].as_str().expect("a status"));
        *by_outcome.entry(format!("{outcome} {}", settled.holds.word())).or_default() += 1;
        let Some(answer) = solution.answer else {
            assert_eq!((solution.status, outcome), (Status::Infeasible, "infeasible"), "{name}");
            continue;
        };
        let best = expected["loss"].as_f64().unwrap_or_else(|| panic!("{name}: the reference has no formula"));
        let own = problem.as_it_dries(&answer.formula);
        let breaches = Checker::new(&own).breaches(&answer.formula, REPORT_TOLERANCE);
        assert!(breaches.is_empty(), "{name}: {breaches:?}");
        let judged = evaluate(&own, &answer.formula).expect("an odour").loss;
        assert!(
            (judged - answer.evaluation.loss).abs() <= 1e-9 * judged.max(1.0),
            "{name}: by its own clocks {judged}"
        );
        let bound = solution.bound.expect("a bound");
        match settled.holds {
            Holds::AnyAmounts => {
                assert!(
                    bound <= best * (1.0 + 1e-6) && judged >= best * (1.0 - 1e-5),
                    "{name}: {judged}, {bound}, {best}"
                );
                assert!(judged <= best * 1.006, "{name}: {judged} where there is {best}");
            }
            // Where the clocks come to rest may differ, and each is proven for its own: at those of
            // the reference in `optima_agree`.
            Holds::OwnAmounts => {
                let points =
                    (answer.evaluation.fidelity_percent - expected["fidelity"].as_f64().expect("a fidelity")).abs();
                assert!(points <= 1.0, "{name}: {judged} where there is {best}");
                assert!(bound <= judged * (1.0 + 1e-9), "{name}: {bound}");
            }
        }
    }
    assert!(by_outcome.values().sum::<usize>() >= 7 && by_outcome.len() >= 3, "{by_outcome:?}");
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
        for (file, judged) in expected["formulas"].as_object().into_iter().flatten() {
            let formula = match files::load_formula(&case.join(file), &problem.palette) {
                Ok(formula) => formula,
                Err(faults) => panic!("{}", faults.render(false)),
            };
            let label = format!("{name}/{file}");
            assert_same_paper(&label, &problem, &formula, judged);
            let problem = problem.as_it_dries(&formula);
            assert_same_judgement(&label, &evaluate(&problem, &formula).expect("an odour"), judged);
            let broken: BTreeSet<String> = Checker::new(&problem)
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
