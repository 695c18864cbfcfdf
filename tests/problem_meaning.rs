//! What a problem answers about itself: figures of a formula, room under rules, exact
//! verdicts, changes of one rule, warnings. Worked by hand.

use std::sync::Arc;

use permil::brief::Basis;
use permil::evaluate::evaluate;
use permil::files::{Scenario, load_scenario};
use permil::formula::Formula;
use permil::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use permil::problem::rules::Regulated;
use permil::problem::{Problem, Rule, RuleId, RuleKind};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
[[material]]
name = "Rose"
cas = "8000-46-2"
strength = 10
price = 100
usual = [100, 300]
natural = true
constituents = { "97-54-1" = 2, "106-22-9" = 30 }
scores = { rosy = 8, green = 1 }
[[material]]
name = "Oxide"
strength = 40
price = 20
usual = [30, 60]
bottle = { percent = 30, carrier = "Glycol" }
scores = { rosy = 2, green = 6 }
[[material]]
name = "Glycol"
cas = "57-55-6"
strength = 0
price = 5
[[material]]
name = "Filler"
strength = 1
price = 1
scores = { rosy = 1 }
[[material]]
name = "Unpriced"
strength = 2
have = false
scores = { green = 2 }
"#;
const ROSE: usize = 0;
const OXIDE: usize = 1;
const GLYCOL: usize = 2;
const FILLER: usize = 3;
const UNPRICED: usize = 4;

const LIMITS: &str = r#"
[[restriction]]
substance = "Glycol"
cas = ["57-55-6"]
source = "made up"
joint = "both"
limits = { "4" = 1.4 }
[[restriction]]
substance = "Isoeugenol"
cas = ["97-54-1"]
source = "made up"
joint = "both"
limits = { "4" = 0.1 }
"#;

fn scenario(brief: &str) -> Scenario {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    write("limits.toml", LIMITS);
    write("limits2.toml", &LIMITS.replace("0.1", "0.05").replace("1.4", "2"));
    write("limits3.toml", LIMITS);
    write(
        "gc.toml",
        "title = \"The known one\"\n[parts]\nRose = 500\nFiller = 300\nLost = { parts = 200, strength = 100 }\n",
    );
    write("brief.toml", &format!("palette = \"palette.toml\"\n{brief}"));
    load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn problem(brief: &str) -> Problem {
    let Scenario { palette, brief, limits, .. } = scenario(brief);
    Problem::new(palette, &brief, &limits)
}

const TARGET: &str = "match = \"level\"\n[target]\nrosy = 5\ngreen = 2\n";

fn formula(basis: Basis, ppt: &[f64]) -> Formula {
    Formula::from_doses(basis, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>())
}

fn neat(ppt: &[f64]) -> Formula {
    formula(Basis::Neat, ppt)
}

fn with(problem: &Problem, rules: &[(RuleKind, f64)]) -> Problem {
    let mut problem = problem.clone();
    let place = permil::place::Place { file: "brief.toml".into(), line: 1, column: 1 };
    let rule =
        |(kind, at): &(RuleKind, f64)| Rule { id: RuleId::Budget, kind: kind.clone(), place: place.clone(), at: *at };
    problem.rules = rules.iter().map(rule).collect();
    problem
}

/// 400 of rose and 600 of filler: 4.6 of strength, 40.6 a kilo.
#[test]
fn figures_of_a_formula_are_those_of_its_parts_alone() {
    let problem = problem(TARGET);
    let judged = evaluate(&problem, &neat(&[400.0, 0.0, 0.0, 600.0])).expect("it smells");
    assert!((judged.strength - 4.6).abs() < 1e-12);
    // Nobody asks for the price of what is not in it.
    assert!((judged.price_per_kg.expect("a price") - 40.6).abs() < 1e-9);
    assert!((judged.price_of_effect().expect("a price") - 40.6 / 4.6).abs() < 1e-9);
    let unpriced = evaluate(&problem, &neat(&[400.0, 0.0, 0.0, 590.0, 10.0])).expect("it smells");
    assert_eq!((unpriced.price_per_kg, unpriced.price_of_effect()), (None, None));
}

#[test]
fn the_room_under_a_rule_is_a_share_of_its_size() {
    let problem = problem(TARGET);
    let formula = neat(&[400.0, 0.0, 0.0, 600.0]);
    let room = |kind: RuleKind, at: f64| {
        let problem = with(&problem, &[(kind, at)]);
        Checker::new(&problem).slacks(&formula)[0]
    };
    let close = |kind: RuleKind, at: f64, wanted: f64| {
        let found = room(kind.clone(), at);
        assert!((found - wanted).abs() < 1e-12, "{kind:?} at {at}: {found} instead of {wanted}");
    };
    close(RuleKind::Budget, 50.75, 0.2);
    close(RuleKind::StrengthMin, 2.3, 0.5);
    close(RuleKind::StrengthMax, 9.2, 0.5);
    close(RuleKind::DoseMax(ROSE), 500.0, 0.2);
    close(RuleKind::DoseMin(ROSE), 100.0, 0.75);
    close(RuleKind::GroupMax([ROSE, OXIDE].into()), 800.0, 0.5);
    close(RuleKind::GroupMin([ROSE, OXIDE].into()), 300.0, 0.25);
    close(RuleKind::MaxMaterials, 4.0, 0.5);
    let usual = problem.usual_doses();
    // 400 is above 300.
    close(RuleKind::MaxUnusual(usual), 4.0, 0.75);
    // 10 times 600 less 400, of the sum of both sides.
    close(RuleKind::RatioMax { of: ROSE, to: FILLER }, 10.0, 5600.0 / 6400.0);
    close(RuleKind::RatioMin { of: ROSE, to: FILLER }, 0.5, 100.0 / 700.0);
    // 40.6 of at most 10 times 4.6.
    close(RuleKind::PriceOfEffect, 10.0, 5.4 / 86.6);
    // 32.6 points of 4.6 are 7.087 rosy; of a bound on a profile the size is both.
    let rosy = (400.0 * 10.0 * 8.0 + 600.0) / 4600.0;
    close(RuleKind::TargetMax(0), 8.0, (8.0 - rosy) / (8.0 + rosy));
    close(RuleKind::TargetMin(0), 2.0, (rosy - 2.0) / (rosy + 2.0));
    // Full, broken, of what is not used, and of rules without a distance.
    close(RuleKind::DoseMax(ROSE), 400.0, 0.0);
    close(RuleKind::DoseMax(ROSE), 300.0, 0.0);
    close(RuleKind::DoseMin(OXIDE), 100.0, 0.0);
    close(RuleKind::MaxMaterials, 1.0, 0.0);
    close(RuleKind::Must(ROSE), 1.0, 0.0);
    close(RuleKind::Fixed(ROSE), 400.0, 0.0);
    close(RuleKind::DoseStep(ROSE), 10.0, 0.0);
}

/// (what the formula has, by how much it passes the rule).
fn breach(problem: &Problem, kind: RuleKind, at: f64, formula: &Formula) -> Option<(f64, f64)> {
    let problem = with(problem, &[(kind, at)]);
    let found = Checker::new(&problem).breaches(formula, REPORT_TOLERANCE);
    found.first().map(|it| (it.has, it.by))
}

#[test]
fn what_is_broken_says_what_there_is_and_by_how_much() {
    let problem = problem(TARGET);
    let formula = neat(&[400.0, 0.0, 0.0, 600.0]);
    let of = |kind: RuleKind, at: f64| breach(&problem, kind, at, &formula);
    let close = |found: Option<(f64, f64)>, has: f64, by: f64| {
        let (found_has, found_by) = found.expect("a breach");
        assert!((found_has - has).abs() < 1e-9 && (found_by - by).abs() < 1e-9, "{found_has} {found_by}");
    };
    close(of(RuleKind::Budget, 20.3), 40.6, 0.5);
    close(of(RuleKind::DoseMax(ROSE), 300.0), 400.0, 0.25);
    close(of(RuleKind::DoseMin(ROSE), 500.0), 400.0, 0.2);
    // 400 are 50 more than five times 70.
    close(of(RuleKind::DoseStep(ROSE), 70.0), 400.0, 0.125);
    close(of(RuleKind::Fixed(ROSE), 500.0), 400.0, 0.2);
    close(of(RuleKind::Must(OXIDE), 1.0), 0.0, 1000.0);
    close(of(RuleKind::Never(ROSE), 1.0), 400.0, 2.5);
    close(of(RuleKind::MaxMaterials, 1.0), 2.0, 1.0);
    close(of(RuleKind::RatioMax { of: ROSE, to: FILLER }, 0.5), 2.0 / 3.0, 100.0 / 700.0);
    close(of(RuleKind::PriceOfEffect, 5.0), 40.6 / 4.6, 17.6 / 63.6);
    // A least dose is asked for where it is used, and no minimum reaches below a millionth.
    assert_eq!(of(RuleKind::DoseMin(OXIDE), 500.0), None);
    assert_eq!((of(RuleKind::DoseMin(ROSE), 400.0), of(RuleKind::DoseStep(ROSE), 100.0)), (None, None));
    let trace = neat(&[0.000_000_5, 0.0, 0.0, 999.999_999_5]);
    assert!(breach(&problem, RuleKind::DoseMin(ROSE), 0.0, &trace).is_some());
    // A fixed dose sets minimum and step aside.
    let fixed = with(
        &problem,
        &[(RuleKind::Fixed(ROSE), 400.0), (RuleKind::DoseMin(ROSE), 500.0), (RuleKind::DoseStep(ROSE), 70.0)],
    );
    assert!(Checker::new(&fixed).breaches(&formula, REPORT_TOLERANCE).is_empty());
    // A price that nobody knows breaks no budget.
    assert_eq!(breach(&problem, RuleKind::Budget, 1.0, &neat(&[400.0, 0.0, 0.0, 500.0, 100.0])), None);
    // A profile of nothing is neither above nor below.
    assert_eq!(breach(&problem, RuleKind::TargetMin(0), 5.0, &neat(&[0.0, 0.0, 1000.0])), None);
}

/// 200 ppt of the oxide's bottle are 60 of it and 140 of glycol: 1.4 % of a product at 10 %,
/// and with 800 of filler 1.2 + 0.7 + 0.8 a kilo.
#[test]
fn what_bottles_bring_is_compared_as_exact_fractions() {
    let brief = "limits = [\"limits.toml\"]\nmatch = \"level\"\n[target]\nrosy = 5\n[formula]\nbasis = \"bottle\"\nstep = 0.1\n\
                 [use]\ncategory = \"4\"\ndosage = 10\n[doses]\nGlycol = {}\n";
    let whole = problem(&brief.replace("Glycol = {}", "Glycol = { min = 1 }"));
    let poured = formula(Basis::Bottle, &[0.0, 200.0, 0.0, 800.0]);
    let breaks = |problem: &Problem, kind: RuleKind, at: f64| {
        let steps = (0..5).map(|material| (RuleKind::DoseStep(material), 0.1));
        let rules: Vec<_> = [(kind, at)].into_iter().chain(steps).collect();
        !Checker::new(&with(problem, &rules)).breaches(&poured, SEARCH_TOLERANCE).is_empty()
    };
    let limit = RuleKind::Limit { restriction: 0, product: 0 };
    assert!(!breaks(&whole, limit.clone(), 1.4) && breaks(&whole, limit.clone(), 1.399_999_999_9));
    assert!(!breaks(&whole, RuleKind::Budget, 2.7) && breaks(&whole, RuleKind::Budget, 2.699_999_999_9));
    // A limit that is shared: 1.4 of 2 and nothing of the other.
    let joint = RuleKind::Joint { members: [(0, 2.0), (1, 0.1)].into(), product: 0 };
    assert!(!breaks(&whole, joint.clone(), 0.7) && breaks(&whole, joint, 0.699_999_999_9));
    // Nothing at all is allowed of what is limited to 0, and nothing is kept of it.
    assert!(breaks(&whole, limit.clone(), 0.0));
    let without = RuleKind::Limit { restriction: 1, product: 0 };
    assert!(!breaks(&whole, without, 0.0));
    // Far from the edge the sign decides, in both directions.
    assert!(!breaks(&whole, limit.clone(), 2.0) && breaks(&whole, limit, 1.0));
    // 900 of the bottle are 270 of the oxide: with 100 of filler the whole has a strength of
    // 10.9, and the filler less than a tenth of it. The edge is exact.
    let idle = |at: f64| {
        let steps = (0..5).map(|material| (RuleKind::DoseStep(material), 0.1));
        let rules: Vec<_> = [(RuleKind::MaxIdle, at)].into_iter().chain(steps).collect();
        let formula = formula(Basis::Bottle, &[0.0, 900.0, 0.0, 100.0]);
        !Checker::new(&with(&whole, &rules)).breaches(&formula, SEARCH_TOLERANCE).is_empty()
    };
    assert!(!idle(100.0) && idle(99.999_999_99) && idle(99.0));
    // Without a grid for every dose, the ordinary comparison decides.
    let loose = with(&whole, &[(RuleKind::Budget, 2.699_999_999_9)]);
    assert!(Checker::new(&loose).breaches(&poured, SEARCH_TOLERANCE).is_empty());
    assert!(!Checker::new(&loose).is_whole_part());
    let steps: Vec<_> = (0..5).map(|material| (RuleKind::DoseStep(material), 0.1)).collect();
    assert!(Checker::new(&with(&whole, &steps)).is_whole_part() && with(&whole, &steps).is_whole_part());
    // A fixed dose is on a grid of its own.
    let fixed: Vec<_> = steps[1..].iter().cloned().chain([(RuleKind::Fixed(ROSE), 0.123)]).collect();
    assert!(with(&whole, &fixed).is_whole_part() && !with(&whole, &steps[1..]).is_whole_part());
}

#[test]
fn steps_that_have_no_common_multiple_leave_nothing() {
    let problem = problem(TARGET);
    let of = |rules: &[(RuleKind, f64)]| with(&problem, rules).dose_rules()[ROSE];
    let step = |at: f64| (RuleKind::DoseStep(ROSE), at);
    let both = of(&[step(4.0), step(6.0)]);
    assert_eq!((both.step, both.least, both.most), (Ppt::from_ppt(12.0), Ppt::from_ppt(12.0), Ppt::from_ppt(996.0)));
    assert!(of(&[step(600.0), step(700.0)]).is_empty());
    assert!(of(&[step(0.000_000_007), step(999.999_999_998)]).is_empty());
    assert_eq!(of(&[step(4.0), step(0.0)]).step, Ppt::from_ppt(4.0));
    // A minimum rises to the grid, a maximum falls to it; a minimum above a maximum leaves none.
    let bounds = of(&[step(4.0), (RuleKind::DoseMin(ROSE), 5.0), (RuleKind::DoseMax(ROSE), 11.0)]);
    assert_eq!((bounds.least, bounds.most, bounds.on_grid()), (Ppt::from_ppt(8.0), Ppt::from_ppt(8.0), true));
    assert!(of(&[(RuleKind::DoseMin(ROSE), 5.0), (RuleKind::DoseMax(ROSE), 4.0)]).is_empty());
    let open = of(&[]);
    assert_eq!((open.least, open.most, open.on_grid(), open.must), (Ppt::LEAST, Ppt::WHOLE, false, false));
    // Fixed above a cap, and fixed twice.
    assert!(of(&[(RuleKind::Fixed(ROSE), 5.0), (RuleKind::DoseMax(ROSE), 4.0)]).is_empty());
    assert!(of(&[(RuleKind::Fixed(ROSE), 5.0), (RuleKind::Fixed(ROSE), 6.0)]).is_empty());
    let fixed = of(&[(RuleKind::Fixed(ROSE), 5.0), (RuleKind::Fixed(ROSE), 5.0), step(4.0)]);
    assert_eq!(
        (fixed.least, fixed.most, fixed.fixed, fixed.must),
        (Ppt::from_ppt(5.0), Ppt::from_ppt(5.0), true, true)
    );
}

#[test]
fn one_rule_is_moved_and_the_others_stay() {
    let base = problem(TARGET);
    let many = with(
        &base,
        &[
            (RuleKind::DoseMax(ROSE), 300.0),
            (RuleKind::DoseMax(ROSE), 200.0),
            (RuleKind::DoseMin(ROSE), 5.0),
            (RuleKind::DoseMin(ROSE), 9.0),
            (RuleKind::Budget, 50.0),
        ],
    );
    // The tightest of several.
    assert_eq!(many.stands_at(&RuleKind::DoseMax(ROSE)), Some(200.0));
    assert_eq!(many.stands_at(&RuleKind::DoseMin(ROSE)), Some(9.0));
    assert_eq!(many.stands_at(&RuleKind::DoseMax(OXIDE)), None);
    let kinds = |problem: &Problem| problem.rules.iter().map(|it| (it.kind.clone(), it.at)).collect::<Vec<_>>();
    assert_eq!(kinds(&many.without_kind(&RuleKind::DoseMax(ROSE))), kinds(&many)[2..]);
    // What a file says keeps its place; what no file says has none.
    let moved = many.with_rule_at(RuleId::Budget, RuleKind::Budget, 60.0);
    let last = moved.rules.last().expect("a rule");
    assert_eq!((moved.rules.len(), last.at, last.place.line), (5, 60.0, 1));
    let new = many.with_rule_at(RuleId::MaxIdle, RuleKind::MaxIdle, 60.0);
    assert_eq!((new.rules.len(), new.rules[5].place.line, &*new.rules[5].place.file), (6, 0, ""));
    // A dose forced, capped or asked for; nothing of it is never.
    let forced = |problem: Problem| problem.rules.last().map(|rule| (rule.kind.clone(), rule.at)).expect("a rule");
    assert_eq!(forced(base.with_dose(ROSE, Ppt::from_ppt(7.0))), (RuleKind::Fixed(ROSE), 7.0));
    assert_eq!(forced(base.with_dose(ROSE, Ppt::ZERO)), (RuleKind::Never(ROSE), 1.0));
    assert_eq!(forced(base.with_at_most(ROSE, Ppt::from_ppt(7.0))), (RuleKind::DoseMax(ROSE), 7.0));
    assert_eq!(forced(base.with_at_most(ROSE, Ppt::ZERO)), (RuleKind::Never(ROSE), 1.0));
    let asked = base.with_at_least(ROSE, Ppt::from_ppt(7.0));
    assert_eq!(kinds(&asked)[asked.rules.len() - 2..], [(RuleKind::Must(ROSE), 1.0), (RuleKind::DoseMin(ROSE), 7.0)]);
}

#[test]
fn what_is_freed_is_neither_asked_for_nor_kept_out() {
    let base = problem(TARGET);
    let free = |rules: &[(RuleKind, f64)], material: usize| {
        let freed = with(&base, rules).freeing(material);
        let domain = freed.domains()[material];
        (freed.rules.iter().map(|rule| rule.kind.clone()).collect::<Vec<_>>(), domain.is_ok_and(|it| !it.must))
    };
    let rules = [
        (RuleKind::Must(ROSE), 1.0),
        (RuleKind::Never(ROSE), 1.0),
        (RuleKind::Fixed(ROSE), 7.0),
        (RuleKind::Never(OXIDE), 1.0),
        (RuleKind::DoseMax(ROSE), 300.0),
    ];
    assert_eq!(free(&rules, ROSE), (vec![RuleKind::Never(OXIDE), RuleKind::DoseMax(ROSE)], true));
    // A carrier is let in, though nobody named it.
    assert!(base.domains()[GLYCOL].is_err() && free(&[], GLYCOL).1);
    // A list of the only ones gets it as well, once.
    let only = |list: &[usize]| (RuleKind::Only(list.to_vec().into()), 1.0);
    assert_eq!(free(&[only(&[ROSE, OXIDE])], FILLER), (vec![only(&[ROSE, OXIDE, FILLER]).0], true));
    assert_eq!(free(&[only(&[ROSE, OXIDE])], ROSE).0, [only(&[ROSE, OXIDE]).0]);
    // The shelf, and with it what is not on it.
    let own = (RuleKind::OwnOnly, 1.0);
    assert_eq!(
        free(std::slice::from_ref(&own), UNPRICED),
        (vec![only(&[ROSE, OXIDE, GLYCOL, FILLER, UNPRICED]).0], true)
    );
    assert_eq!(free(std::slice::from_ref(&own), ROSE).0, [RuleKind::OwnOnly]);
}

#[test]
fn a_part_of_a_column_adds_what_it_holds() {
    let bottle = problem(&format!("{TARGET}[formula]\nbasis = \"bottle\"\n"));
    // A part of the oxide's bottle is 0.3 of it at 20 and 0.7 of glycol at 5 a kilo.
    assert!((bottle.price_per_ppt(OXIDE).expect("a price") - 0.009_5).abs() < 1e-15);
    assert!((bottle.strength_per_ppt(OXIDE) - 0.012).abs() < 1e-15);
    assert_eq!((bottle.price_per_ppt(UNPRICED), bottle.strength_per_ppt(UNPRICED)), (None, 0.002));
}

#[test]
fn usual_doses_are_those_of_what_is_poured() {
    let problem = problem(TARGET);
    assert!(problem.knows_usual_doses());
    let mut silent = problem.clone();
    Arc::make_mut(&mut silent.palette).materials.iter_mut().for_each(|material| material.usual = None);
    assert!(!silent.knows_usual_doses());
    let of = |basis: Basis, ppt: &[f64]| {
        let formula = formula(basis, ppt);
        let usual = [ROSE, OXIDE, FILLER].map(|material| problem.is_usual(&formula, material));
        (usual, problem.unusual(&formula))
    };
    assert_eq!(of(Basis::Neat, &[300.0, 61.0, 0.0, 639.0]), ([Some(true), Some(false), None], vec![OXIDE]));
    // 100 to 200 ppt of the bottle are 30 to 60 of the oxide.
    assert_eq!(of(Basis::Bottle, &[99.0, 200.0, 0.0, 701.0]), ([Some(false), Some(true), None], vec![ROSE]));
    assert_eq!(of(Basis::Bottle, &[100.0, 100.0, 0.0, 800.0]).1, [0; 0]);
    assert_eq!(of(Basis::Bottle, &[301.0, 99.9, 0.0, 599.1]).1, [ROSE, OXIDE]);
}

#[test]
fn the_known_formula_is_called_by_its_title() {
    let near = problem(&format!("{TARGET}[near]\nformula = \"gc.toml\"\ngive = 1\n"));
    let near = near.near.as_ref().expect("a known formula");
    assert_eq!(near.name(), "The known one");
    // 5000 of rose, 300 of filler and 20 000 of what is lost.
    assert!((near.skeleton.lacking_share() - 200.0 / 253.0).abs() < 1e-12);
    assert!((near.skeleton.share(ROSE) - 50.0 / 253.0).abs() < 1e-12 && near.skeleton.share(OXIDE) == 0.0);
    let problem = problem(TARGET);
    assert_eq!(near.skeleton.shares_of(&problem, &neat(&[0.0, 0.0, 1000.0])), None);
    let moved = near.skeleton.moved_percent(&problem, &neat(&[0.0, 1000.0])).expect("it smells");
    assert!((moved - 100.0).abs() < 1e-9, "{moved}");
    // By parts a solvent counts nothing and all else as much.
    let parts = permil::problem::Skeleton { by: permil::brief::MovedBy::Parts, ..(*near.skeleton).clone() };
    let shares = parts.shares_of(&problem, &neat(&[250.0, 0.0, 500.0, 250.0])).expect("it smells");
    assert_eq!(shares, [0.5, 0.0, 0.0, 0.5, 0.0]);
}

#[test]
fn a_formula_may_be_the_target() {
    let Scenario { palette, brief, limits, .. } = scenario(TARGET);
    let problem = Problem::new(palette, &brief, &limits);
    let own = problem.with_profile_of(&brief, &neat(&[400.0, 0.0, 0.0, 600.0])).expect("it smells");
    let scores: Vec<f64> = own.targets.iter().map(|target| target.score).collect();
    // 32 600 and 4000 points of 4600.
    assert_eq!(scores, [32_600.0 / 4600.0, 4000.0 / 4600.0]);
    assert!(problem.with_profile_of(&brief, &neat(&[0.0, 0.0, 1000.0])).is_none());
    // What the gap grows by: twice as much above where excess counts double.
    let target = permil::problem::Target { descriptor: 0, score: 5.0, weight: 3.0, excess: 2.0 };
    assert_eq!((target.slope(true), target.slope(false)), (6.0, -3.0));
    assert_eq!((target.gap(7.0), target.gap(4.0), target.gap(5.0)), (12.0, 3.0, 0.0));
}

#[test]
fn warnings_say_what_a_brief_may_not_mean() {
    let warned = |brief: &str| -> Vec<String> {
        let problem = problem(brief);
        problem.warnings.iter().map(|text| text.split(": ").last().unwrap_or_default().to_owned()).collect()
    };
    let cheap = "[budget]\nmax_price = 20\n[doses]\nUnpriced = { use = \"never\" }\n";
    let with_glycol = |doses: &str| format!("{TARGET}{cheap}Glycol = {doses}\n");
    // Dilution meets any budget where nothing holds the solvent or the strength.
    let dilution = ["Glycol has no max and [formula] strength no min"];
    assert_eq!(warned(&with_glycol("{ min = 1 }")), dilution);
    assert_eq!(warned(&with_glycol("{ max = 500 }")), [""; 0]);
    assert_eq!(warned(&with_glycol("{ fixed = 1000 }")), [""; 0]);
    assert_eq!(warned(&format!("{TARGET}{cheap}")), [""; 0]);
    assert_eq!(
        warned(&format!("{TARGET}[formula]\nstrength = {{ min = 1 }}\n{cheap}Glycol = {{ min = 1 }}\n")),
        [""; 0]
    );
    assert_eq!(warned(&format!("{TARGET}[doses]\nGlycol = {{ min = 1 }}\n")), [""; 0]);
    // 79.05 % of the known formula's odour are not on the shelf.
    let near = |within: &str| format!("{TARGET}[near]\nformula = \"gc.toml\"\nwithin = {within}\n");
    let lacks = ["`within` is 79, but the shelf lacks 79.05 % of The known one", "no formula keeps it"];
    assert!(problem(&near("79")).warnings.iter().any(|text| lacks.iter().all(|part| text.contains(part))));
    assert_eq!(warned(&near("80")), [""; 0]);
    // A solvent among the only ones, with and without its own line.
    let only = |doses: &str| format!("{TARGET}[formula]\nonly = [\"Rose\", \"Glycol\"]\n{doses}");
    assert_eq!(warned(&only("")), ["Glycol stands in only, but a carrier is left out unless [doses] names it too"]);
    assert_eq!(warned(&only("[doses]\nGlycol = { min = 1 }\n")), [""; 0]);
    // In match balance what has no score that counts adds nothing; solvents never do.
    let balance = |doses: &str| {
        format!("match = \"balance\"\n[target]\ngreen = 2\nrosy = {{ score = 0, weight = 0 }}\n[doses]\n{doses}")
    };
    assert_eq!(warned(&balance("Glycol = { min = 1 }\n")), ["Filler; in match balance it adds nothing"]);
    assert_eq!(warned(&balance("Filler = { use = \"never\" }\n")), [""; 0]);
    assert_eq!(warned(TARGET), [""; 0]);
}

/// What two files say of one substance counts once in a limit that is shared, by the
/// stricter figure.
#[test]
fn a_shared_limit_counts_a_substance_of_two_files_once() {
    let members = |files: &str| {
        let brief = format!("limits = [{files}]\n{TARGET}[use]\ncategory = \"4\"\ndosage = 10\n");
        let problem = problem(&brief);
        let found = problem.rules.iter().find_map(|rule| match rule.kind.regulated() {
            Some(Regulated::Shared { members, .. }) => Some(members.to_vec()),
            _ => None,
        });
        found.expect("a shared limit")
    };
    // 1.4 and 0.1 in the first, 2 and 0.05 in the second.
    assert_eq!(members("\"limits.toml\""), [(0, 1.4), (1, 0.1)]);
    assert_eq!(members("\"limits.toml\", \"limits2.toml\""), [(0, 1.4), (3, 0.05)]);
    assert_eq!(members("\"limits2.toml\", \"limits.toml\""), [(2, 1.4), (1, 0.05)]);
    // Of equal figures the first file's.
    assert_eq!(members("\"limits.toml\", \"limits3.toml\""), [(0, 1.4), (1, 0.1)]);
}
