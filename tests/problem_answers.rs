//! Smaller answers of a problem: what is idle, what a base holds exactly, which rules have
//! no number, what one of several views sees.

mod support;

use std::sync::Arc;

use permil::balance::product::{Plan, highest_dosages, problem_of};
use permil::brief::{Basis, Law};
use permil::formula::Formula;
use permil::palette::{Base, Material};
use permil::problem::idle::Idle;
use permil::problem::{Bound, DoseKey, Problem, RuleId, View};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
[[material]]
name = "Strong"
strength = 100
scores = { rosy = 8 }
[[material]]
name = "Weak"
strength = 1
scores = { green = 4 }
[[material]]
name = "Base"
strength = 20
scores = { rosy = 4 }
"#;
const BRIEF: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n";

fn problem() -> Problem {
    support::load(PALETTE, BRIEF)
}

fn formula(ppt: &[f64]) -> Formula {
    Formula::from_doses(Basis::Neat, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>())
}

/// More than a quarter of the formula is told: 250 parts are not.
#[test]
fn much_idle_weight_is_told() {
    let problem = problem();
    let idle = |weak: f64| {
        let idle = Idle::of(&problem, &formula(&[1000.0 - weak, weak])).expect("it smells");
        assert_eq!((idle.materials.as_slice(), idle.ppt), (&[1][..], weak));
        idle.is_told()
    };
    assert!(!idle(100.0) && !idle(250.0) && idle(250.000_001) && idle(400.0));
}

/// A base is a quarter of citral, and a half of a natural that holds 10 % of it: 30 %. Of
/// 200 parts of it in 10 % of concentrate 0.6 % of a product are citral, exactly.
#[test]
fn a_base_brings_what_its_parts_bring_exactly() {
    let limits = "[[restriction]]\nsubstance = \"Citral\"\ncas = [\"5392-40-5\"]\nsource = \"made up\"\nlimits = { \"4\" = AT }\n\
                  [[restriction]]\nsubstance = \"Citral as such\"\ncas = [\"5392-40-5\"]\napplies = \"added\"\nsource = \"made up\"\nlimits = { \"4\" = 9 }\n";
    let folder = tempfile::tempdir().expect("a folder");
    let dosage = |at: &str| {
        let path = folder.path().join("limits.toml");
        std::fs::write(&path, limits.replace("AT", at)).expect("written");
        let limits = permil::files::load_limits(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
        let mut palette = (*problem().palette).clone();
        let own = |cas: Option<&str>, natural: bool| Material {
            cas: cas.map(|cas| permil::palette::Cas::parse(cas).expect("a number")),
            natural,
            constituents: natural.then(|| vec![(permil::palette::Cas::parse("5392-40-5").expect("a number"), 10.0)]),
            ..palette.materials[0].clone()
        };
        let parts = vec![
            (own(Some("5392-40-5"), false), Ppt::from_ppt(250.0)),
            (own(None, true), Ppt::from_ppt(500.0)),
            (own(None, false), Ppt::from_ppt(250.0)),
        ];
        palette.materials[2].base = Some(Arc::new(Base { parts }));
        let plan = Plan { categories: vec!["4".to_owned()], dosage_percent: 10.0, accord_share_percent: 100.0 };
        let problem = problem_of(palette, &[limits], Basis::Neat, &[plan]);
        let (highest, passed) = highest_dosages(&problem, &[800.0, 0.0, 200.0]).remove(0);
        (highest.dosage_percent, passed.len())
    };
    assert_eq!(dosage("0.6"), (10.0, 0));
    let (highest, passed) = dosage("0.599999999999");
    assert!(passed == 1 && highest < 10.0 && highest > 9.999_999_999, "{highest}");
    assert_eq!(dosage("0.3"), (5.0, 1));
    // Of what is added as such it has 0.5 %, and 9 % are allowed: the other limit is the tighter.
    assert_eq!(dosage("\"none\""), (100.0, 0));
}

#[test]
fn rules_that_hold_or_do_not_have_no_number() {
    let without = [
        RuleId::Only,
        RuleId::OwnOnly,
        RuleId::dose("Rose", DoseKey::Must),
        RuleId::dose("Rose", DoseKey::Never),
        RuleId::Proportion("Rose".into(), DoseKey::Must),
    ];
    let with = [
        RuleId::Budget,
        RuleId::Strength(Bound::Min),
        RuleId::dose("Rose", DoseKey::Min),
        RuleId::dose("Rose", DoseKey::Fixed),
        RuleId::Proportion("Rose".into(), DoseKey::Step),
        RuleId::Dosage(None),
    ];
    assert!(without.iter().all(RuleId::is_without_number) && !with.iter().any(RuleId::is_without_number));
    let refused = "dose:Rose.least".parse::<RuleId>().expect_err("no id");
    assert_eq!(refused.to_string(), "\"dose:Rose.least\" is no rule's id");
}

/// A problem of one view is its own; one of several is, alone, what that view sees.
#[test]
fn a_view_alone_is_a_problem_of_its_own() {
    let own = problem();
    assert!(own.is_linear());
    assert!(Arc::ptr_eq(&own.seen(0).palette, &own.palette) && own.seen(0).views[0].weight == 1.0);
    let changed = |change: &dyn Fn(&mut View)| {
        let mut problem = own.clone();
        problem.views[0].weight = 0.5;
        change(&mut problem.views[0]);
        problem.seen(0)
    };
    // The view is the brief's own but for its weight, and nothing is made of it.
    assert_eq!(changed(&|_| {}).views[0].weight, 0.5);
    let stronger = changed(&|view| Arc::make_mut(&mut view.palette).materials[0].strength = 7.0);
    assert_eq!((stronger.palette.materials[0].strength, stronger.views[0].weight), (7.0, 1.0));
    let other = changed(&|view| view.targets[0].score = 3.0);
    assert_eq!((other.targets[0].score, other.views[0].weight), (3.0, 1.0));
    let balance = changed(&|view| view.matching = permil::brief::Match::Balance);
    assert_eq!((balance.matching, balance.views[0].weight), (permil::brief::Match::Balance, 1.0));
    // Of several each has a problem of its own.
    let mut two = own.clone();
    two.views.push(View { law: Law::Compressive, weight: 0.5, ..own.views[0].clone() });
    assert!(!two.is_linear());
    assert_eq!((two.seen(0).views.len(), two.seen(1).views.len()), (1, 1));
    assert!(two.seen(0).is_linear() && !two.seen(1).is_linear());
}
