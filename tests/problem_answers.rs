//! Smaller answers of a problem: what is idle, what a base holds exactly, which rules have
//! no number, what one of several views sees.

mod support;

use std::sync::Arc;

use permil::balance::own::own_problem;
use permil::balance::product::{Plan, highest_dosages, problem_of};
use permil::brief::{Basis, Law, Match};
use permil::evaluate::evaluate;
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
    let balance = changed(&|view| view.matching = Match::Balance);
    assert_eq!((balance.matching, balance.views[0].weight), (Match::Balance, 1.0));
    // Of several each has a problem of its own.
    let mut two = own.clone();
    two.views.push(View { law: Law::Compressive, weight: 0.5, ..own.views[0].clone() });
    assert!(!two.is_linear());
    assert_eq!((two.seen(0).views.len(), two.seen(1).views.len()), (1, 1));
    assert!(two.seen(0).is_linear() && !two.seen(1).is_linear());
}

/// At a stage at which all of a formula has left the blotter everything is missed: the whole
/// of what is wanted is lost, by the stage's weight. What never smelled is no formula.
#[test]
fn a_stage_without_anything_left_misses_everything() {
    let mut problem = problem();
    let mut palette = (*problem.palette).clone();
    palette.materials.iter_mut().for_each(|material| material.strength = 0.0);
    let mut late = problem.views[0].clone();
    (late.palette, late.stage, late.weight) = (Arc::new(palette), Some(0), 0.5);
    late.targets.iter_mut().for_each(|target| target.score *= 2.0);
    problem.views.push(late);
    let found = evaluate(&problem, &formula(&[500.0, 500.0])).expect("it smells at first");
    let seen = &found.views[1];
    // 10 points are wanted there, of 5 of the brief: half of those count.
    assert_eq!((seen.loss, seen.compared, seen.fidelity_percent, seen.strength), (10.0, 2.5, 0.0, 0.0));
    assert_eq!((seen.profile.as_slice(), seen.shares_percent.as_slice()), (&[0.0; 2][..], &[0.0; 3][..]));
    assert_eq!(found.worst, 0);
    // Nothing that smells at any time is no formula, at a stage either.
    let late = problem.views[1].clone();
    let mut silent = Problem { palette: Arc::clone(&late.palette), views: vec![late], ..problem.clone() };
    assert!(evaluate(&silent, &formula(&[500.0, 500.0])).is_err());
    silent.palette = Arc::clone(&problem.palette);
    assert!(evaluate(&silent, &formula(&[500.0, 500.0])).is_ok());
    // What has no strength of its own smells at no time, whatever else is on the shelf.
    Arc::make_mut(&mut silent.palette).materials[1].strength = 0.0;
    assert!(evaluate(&silent, &formula(&[0.0, 1000.0])).is_err());
    // A nose that smells nothing of it is no stage.
    problem.views[1].stage = None;
    assert!(evaluate(&problem, &formula(&[500.0, 500.0])).is_err());
}

/// What is asked of a formula alone, and of products alone.
#[test]
fn a_formula_is_its_own_problem_and_products_have_one_without_a_target() {
    let palette = (*problem().palette).clone();
    let mut wanted = Formula { title: Some("Mine".to_owned()), ..formula(&[300.0, 700.0]) };
    wanted.basis = Basis::Bottle;
    let own = own_problem(palette.clone(), &wanted);
    assert_eq!((own.title.as_deref(), own.basis, own.matching), (Some("Mine"), Basis::Bottle, Match::Level));
    let seen = evaluate(&own, &wanted).expect("it smells");
    assert!(seen.loss < 1e-12 && own.targets.len() == 2, "the target is its own profile");
    let plan = Plan { categories: vec!["4".to_owned()], dosage_percent: 10.0, accord_share_percent: 100.0 };
    let products = problem_of(palette, &[], Basis::Bottle, &[plan]);
    assert_eq!((products.basis, products.targets.len(), products.products.len()), (Basis::Bottle, 0, 1));
}
