//! `check`: the ranges hold for blends that keep the rules and their ends are
//! reached; what strikes about small shelves made for it.

mod support;

use std::path::{Path, PathBuf};

use permil::analysis::audit::Finding;
use permil::analysis::check::{Check, Verdict};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files;
use permil::formula::Formula;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Problem, RuleKind};
use permil::solve::reach::End;
use permil::units::Ppt;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::program::plain_cases;

fn load(brief: &Path) -> Problem {
    match files::load_scenario(brief) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

fn checked(problem: &Problem) -> Check {
    Check::of(problem, &Control::default())
}

fn briefs() -> Vec<PathBuf> {
    let mut briefs = vec![PathBuf::from("profiles/rose-otto/brief.toml"), "profiles/six-materials/brief.toml".into()];
    briefs.extend(plain_cases().into_iter().map(|case| case.join("brief.toml")));
    briefs.sort();
    briefs
}

/// A random blend of blends: inside the same linear rules.
fn mixture(blends: &[&Formula], materials: usize, random: &mut ChaCha8Rng) -> Formula {
    let weights: Vec<f64> = blends.iter().map(|_| -f64::ln(random.random_range(1e-12..1.0))).collect();
    let total: f64 = weights.iter().sum();
    let mut doses = vec![0.0; materials];
    for (blend, weight) in blends.iter().zip(&weights) {
        blend.parts.iter().for_each(|&(material, dose)| doses[material] += dose.as_f64() * weight / total);
    }
    let doses: Vec<Ppt> = doses.into_iter().map(Ppt::from_ppt).collect();
    Formula::from_doses(blends[0].basis, &doses).rescaled()
}

#[test]
fn ranges_hold_and_their_ends_are_reached() {
    let mut random = ChaCha8Rng::seed_from_u64(20);
    let (mut tried, mut ends_seen) = (0, 0);
    for brief in briefs() {
        let problem = load(&brief);
        let check = checked(&problem);
        if check.verdict != Verdict::Possible {
            continue;
        }
        let relaxed = problem.relaxed();
        let checker = Checker::new(&relaxed);
        let ends: Vec<&End> = check.ranges.iter().flatten().flatten().collect();
        assert_eq!(ends.len(), 2 * problem.targets.len(), "{}", brief.display());
        for (counted, range) in check.ranges.iter().enumerate() {
            for end in range.iter().flatten() {
                ends_seen += 1;
                assert!(end.proven, "{}", brief.display());
                assert!(checker.breaches(&end.formula, REPORT_TOLERANCE).is_empty());
                let profile = evaluate(&relaxed, &end.formula).expect("an odour").profile;
                assert!((profile[counted] - end.points).abs() <= 1e-9);
            }
        }
        // Between two formulas that keep it there may be some that do not.
        if problem.rules.iter().any(|rule| rule.kind == RuleKind::MaxIdle) {
            tried += 1;
            continue;
        }
        let blends: Vec<&Formula> = ends.iter().map(|end| &end.formula).collect();
        for _ in 0..200 {
            let formula = mixture(&blends, problem.palette.materials.len(), &mut random);
            assert!(checker.breaches(&formula, REPORT_TOLERANCE).is_empty(), "{}", brief.display());
            let profile = evaluate(&relaxed, &formula).expect("an odour").profile;
            for (points, range) in profile.iter().zip(&check.ranges) {
                let [low, high] = range.each_ref().map(|end| end.as_ref().expect("an end").points);
                assert!(*points >= low - 1e-6 && *points <= high + 1e-6, "{}: {points}", brief.display());
            }
            tried += 1;
        }
    }
    assert!(tried >= 3000 && ends_seen >= 200, "{tried} blends, {ends_seen} ends");
}

fn made(palette: &str, brief: &str) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), palette).expect("written");
    std::fs::write(folder.path().join("brief.toml"), format!("palette = \"palette.toml\"\n{brief}")).expect("written");
    load(&folder.path().join("brief.toml"))
}

const HEAD: &str = "[descriptors]\nrosy = \"rose\"\ngreen = \"leaf\"\nsmoky = \"smoke\"\n";

fn material(name: &str, strength: f64, scores: &str, more: &str) -> String {
    format!("[[material]]\nname = \"{name}\"\nstrength = {strength}\nscores = {{ {scores} }}\n{more}\n")
}

fn shelf(materials: &[String]) -> String {
    format!("{HEAD}{}", materials.concat())
}

#[test]
fn the_range_of_two_materials_by_hand() {
    // Equal strengths, match level: rosy is 8 times the share of the rose,
    // which lies between 200 and 700 of 1000.
    let palette =
        shelf(&[material("Rose", 10.0, "rosy = 8", "max = 700"), material("Leaf", 10.0, "green = 6", "max = 800")]);
    let problem = made(&palette, "match = \"level\"\n[target]\nrosy = 7\n[formula]\nstep = 1\n");
    let check = checked(&problem);
    let range = |at: usize| check.ranges[at].each_ref().map(|end| end.as_ref().expect("an end").points);
    assert!((range(0)[0] - 1.6).abs() < 1e-6 && (range(0)[1] - 5.6).abs() < 1e-6, "{:?}", range(0));
    assert!((range(1)[0] - 1.8).abs() < 1e-6 && (range(1)[1] - 4.8).abs() < 1e-6, "{:?}", range(1));
}

#[test]
fn strengths_that_look_wrong() {
    let of = |strengths: &[f64]| {
        let materials: Vec<String> =
            strengths.iter().enumerate().map(|(i, s)| material(&format!("M{i}"), *s, "rosy = 5", "")).collect();
        checked(&made(&shelf(&materials), "[target]\nrosy = 5\n")).findings
    };
    let decade = of(&[3.0, 4.0, 5.0, 7.0, 9.0]);
    assert!(decade.contains(&Finding::OneDecade { least: 3.0, most: 9.0 }), "{decade:?}");
    let lone = of(&[1.0, 30.0, 40.0, 20.0, 60_000.0]);
    let misplaced = Finding::Misplaced { materials: vec![4], factor: 1500.0, stronger: true };
    assert!(lone.contains(&misplaced), "{lone:?}");
    let fine = of(&[1.0, 30.0, 40.0, 200.0, 6000.0]);
    let odd = |finding: &Finding| matches!(finding, Finding::OneDecade { .. } | Finding::Misplaced { .. });
    assert!(!fine.iter().any(odd), "{fine:?}");
}

#[test]
fn steps_that_are_too_coarse_for_a_strong_material() {
    // Of a material 1000 times as strong, half the odour is 1 part in 1001.
    let palette = shelf(&[material("Rose", 1.0, "rosy = 8", ""), material("Leaf", 1000.0, "green = 8", "")]);
    let brief = |step: &str| format!("match = \"level\"\n[target]\nrosy = 4\ngreen = 4\n[formula]\nstep = {step}\n");
    let coarse = |step: &str| {
        let findings = checked(&made(&palette, &brief(step))).findings;
        findings.into_iter().find(|finding| matches!(finding, Finding::TooCoarse { .. }))
    };
    let Some(Finding::TooCoarse { material, wanted_ppt, finer, .. }) = coarse("1") else { panic!("not coarse") };
    assert_eq!(material, 1);
    assert!((wanted_ppt - 1000.0 / 1001.0).abs() < 1e-6, "{wanted_ppt}");
    assert_eq!(finer, Ppt::from_ppt(0.1));
    // The step that is advised is fine enough.
    assert_eq!(coarse("0.1"), None);
}

#[test]
fn materials_that_no_formula_can_use_and_why() {
    let palette = shelf(&[
        material("Rose", 10.0, "rosy = 8", "price = 50"),
        material("Dear rose", 10.0, "rosy = 8", "price = 5000\nmin = 100"),
        material("Smoke", 10.0, "smoky = 5", "price = 1\nmax = 1\nmin = 2"),
    ]);
    // The least dose of the dear rose alone costs 500.
    let problem = made(
        &palette.replace("max = 1\nmin = 2", "max = 1"),
        "[target]\nrosy = 5\n[budget]\nmax_price = 400\n[formula]\nstep = 2\n",
    );
    let never: Vec<(usize, Vec<String>)> = checked(&problem)
        .findings
        .into_iter()
        .filter_map(|finding| match finding {
            Finding::NeverUsable { material, rules } => {
                Some((material, rules.iter().map(|&rule| problem.rules[rule].id.to_string()).collect()))
            }
            _ => None,
        })
        .collect();
    let names = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect::<Vec<_>>();
    let mut sorted = never.clone();
    sorted.iter_mut().for_each(|(_, rules)| rules.sort());
    assert_eq!(
        sorted,
        [(1, names(&["budget", "dose:Dear rose.min"])), (2, names(&["dose:Smoke.max", "dose:Smoke.step"]))]
    );
}

#[test]
fn shelves_that_lack_something() {
    let palette = shelf(&[
        material("Rose", 10.0, "rosy = 8", ""),
        material("Other rose", 5.0, "rosy = 7.8", ""),
        material("Oil", 20.0, "rosy = 3, green = 2", "natural = true"),
    ]);
    let findings = checked(&made(&palette, "[target]\nrosy = 5\nsmoky = 2\n")).findings;
    let wanted = [Finding::UnknownNatural(2), Finding::Twins(0, 1), Finding::Unscored(2)];
    assert!(wanted.iter().all(|finding| findings.contains(finding)), "{findings:?}");
    let palette = palette.replace("natural = true", "natural = true\nconstituents = {}");
    let brief = "[target]\nrosy = 5\ngreen = 2\n[doses]\nOil = { use = \"never\" }\n";
    let findings = checked(&made(&palette, brief)).findings;
    assert!(findings.contains(&Finding::Uncarried { descriptor: 1, wanted: 2.0 }), "{findings:?}");
    assert!(!findings.iter().any(|finding| matches!(finding, Finding::UnknownNatural(_))));
}

#[test]
fn a_level_that_no_blend_can_have() {
    let palette = shelf(&[material("Rose", 10.0, "rosy = 8", ""), material("Leaf", 10.0, "green = 6", "")]);
    let findings = |brief: &str| checked(&made(&palette, brief)).findings;
    let beyond = Finding::BeyondLevel { wanted: 12.0, richest: Some((0, 8.0)) };
    assert!(findings("match = \"level\"\n[target]\nrosy = 6\ngreen = 6\n").contains(&beyond));
    assert!(!findings("[target]\nrosy = 6\ngreen = 6\n").contains(&beyond));
}

#[test]
fn rules_that_contradict_each_other() {
    let palette =
        shelf(&[material("Rose", 10.0, "rosy = 8", "price = 50"), material("Leaf", 10.0, "green = 6", "price = 60")]);
    let check = checked(&made(&palette, "[target]\nrosy = 6\n[budget]\nmax_price = 40\n"));
    assert_eq!(check.verdict, Verdict::Contradictory);
    assert_eq!(check.reasons.conflicts.len(), 1);
    assert!(check.ranges.is_empty());
}
