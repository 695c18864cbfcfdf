//! Mods that teach while they aim, and the slips that trials give away.

mod support;

use permil::analysis::learn::{Asked as Learning, Slip, learn, slip};
use permil::analysis::teaching::{Asked, Teaching, teaching};
use permil::brief::Match;
use permil::control::Control;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::{Method, propose};
use permil::stage::Dip;
use serde_json::Value;
use support::program::permil;
use support::smelled::{Made, smell, trial, world};

const LEARNING: Learning = Learning {
    exponent: 1.0,
    pool: false,
    matching: Some(Match::Level),
    dip: Dip { percent: None, film_weight: None },
};
const ROSE: [&str; 7] = [
    "propose",
    "profiles/rose-otto/brief.toml",
    "--trials",
    "profiles/rose-otto/trials.toml",
    "--no-worth",
    "--time-limit",
    "600",
];

fn asked(error: f64, margin: f64, count: usize) -> Asked {
    Asked { margin, count, matching: Match::Level, error }
}

/// Two materials of one score each, of which the strengths are unsure; the pool holds blends
/// from all of one to all of the other.
fn two() -> (Problem, Vec<Formula>) {
    let shelf = "[descriptors]\na = \"\"\nb = \"\"\n[[material]]\nname = \"A\"\nstrength = 10\nscore_error = 0\n\
                 strength_factor = 1.8\nscores = { a = 8 }\n[[material]]\nname = \"B\"\nstrength = 10\nscore_error = 0\n\
                 strength_factor = 1.8\nscores = { b = 8 }\n";
    let problem = support::load(shelf, "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 4\nb = 4\n");
    let dose = |ppt: i64| permil::units::Ppt::from_units(ppt * permil::units::Ppt::UNITS);
    let blend = |a: i64| Formula::from_doses(problem.basis, &[dose(a), dose(1000 - a)]);
    let pool = (1..=9).map(|tenth| blend(100 * tenth)).collect();
    (problem, pool)
}

fn ask(problem: &Problem, pool: &[Formula], asked: Asked) -> Teaching {
    teaching(problem, pool, asked, &Control::default()).expect("mods")
}

#[test]
fn what_a_deaf_nose_tells_is_worth_nothing_and_a_sharp_one_no_more_than_the_truth() {
    let (problem, pool) = two();
    let deaf = ask(&problem, &pool, asked(1e6, 100.0, 1));
    assert!((deaf.mods[0].best_after - deaf.best_now).abs() < 1e-3, "{deaf:?}");
    let sharp = ask(&problem, &pool, asked(0.1, 100.0, 1));
    let dull = ask(&problem, &pool, asked(2.0, 100.0, 1));
    assert!(sharp.mods[0].best_after > dull.mods[0].best_after + 0.1);
    assert!(dull.mods[0].best_after > deaf.mods[0].best_after + 0.1);
    // Of formulas in tenths the best for a quotient of strengths is at least as near as the
    // nearest tenth: whoever knows the quotient reaches 100 less what half a tenth loses.
    assert!(sharp.mods[0].best_after < 100.0, "{}", sharp.mods[0].best_after);
    assert!((sharp.best_now - deaf.best_now).abs() < 1e-12);
}

#[test]
fn mods_keep_the_margin_and_each_adds_to_those_before_it() {
    let (problem, pool) = two();
    let margin = 6.0;
    let found = ask(&problem, &pool, asked(1.0, margin, 3));
    assert_eq!(found.mods.len(), 3);
    assert!(found.pool < pool.len() && found.pool >= 3, "{}", found.pool);
    for (at, one) in found.mods.iter().enumerate() {
        assert!(one.expected >= found.best_now - margin);
        assert!(one.nine_in_ten.0 < one.expected && one.expected < one.nine_in_ten.1);
        assert!(Checker::new(&problem).breaches(&one.answer.formula, REPORT_TOLERANCE).is_empty());
        assert!(found.mods[..at].iter().all(|other| other.answer.formula.parts != one.answer.formula.parts));
    }
    for pair in found.mods.windows(2) {
        assert!(pair[1].best_after > pair[0].best_after - 0.05, "{} {}", pair[0].best_after, pair[1].best_after);
    }
    // A margin of nothing leaves the best alone, whatever it teaches.
    let best = ask(&problem, &pool, asked(1.0, 0.0, 3));
    assert_eq!((best.mods.len(), best.pool), (1, 1));
    assert_eq!(best.mods[0].expected, best.best_now);
}

#[test]
fn threads_change_nothing() {
    let (problem, pool) = two();
    let by = |threads| {
        let control = Control { threads: Some(threads), ..Control::default() };
        teaching(&problem, &pool, asked(0.5, 10.0, 2), &control).expect("mods")
    };
    let (one, two) = (by(1), by(2));
    for (a, b) in one.mods.iter().zip(&two.mods) {
        assert_eq!((a.answer.formula.parts.clone(), a.best_after), (b.answer.formula.parts.clone(), b.best_after));
    }
}

#[test]
fn the_terminal_tells_what_to_weigh() {
    let explore = [&ROSE[..], &["--explore", "-n", "3", "--margin", "4"]].concat();
    let ran = permil(&[&explore[..], &["--format", "json", "--quiet"]].concat());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    let told: Value = serde_json::from_str(&ran.stdout).expect("JSON");
    let found = &told["explore"];
    let mods = found["mods"].as_array().expect("mods");
    assert_eq!((mods.len(), found["proven"].as_bool()), (3, Some(false)));
    // The report is about the first of them.
    assert_eq!(told["formula"]["parts"], mods[0]["formula"]["parts"]);
    let number = |value: &Value| value.as_f64().expect("a number");
    assert!(mods.iter().all(|one| number(&one["expected"]) >= number(&found["best_now"]) - 4.0));
    assert!(number(&mods[2]["best_after"]) >= number(&found["best_now"]));
    let text = permil(&[&explore[..], &["--quiet"]].concat()).stdout;
    for words in ["What to weigh for the next session", "Mod C", "Below is mod A", "chosen for what it teaches"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    for refused in [&["--explore", "--steady"][..], &["--margin", "3"], &["-n", "2"]] {
        assert_eq!(permil(&[&ROSE[..], refused].concat()).status, 2, "{refused:?}");
    }
    assert_eq!(permil(&[ROSE[0], ROSE[1], "--explore"]).status, 2);
}

#[test]
fn before_anything_was_smelled_trials_change_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in ["palette.toml", "brief.toml", "limits.toml"] {
        std::fs::copy(format!("profiles/rose-otto/{name}"), folder.path().join(name)).expect("copied");
    }
    let trials = "palette = \"palette.toml\"\n[[trial]]\ncode = \"1\"\nparts = { \"Geraniol\" = 1000 }\n";
    std::fs::write(folder.path().join("trials.toml"), trials).expect("written");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let with = |more: &[&str]| {
        let brief = path("brief.toml");
        permil(&[&["propose", &brief, "--no-worth", "--format", "json", "--quiet"][..], more].concat()).ended(0).json()
    };
    let (plain, taught) = (with(&[]), with(&["--trials", &path("trials.toml")]));
    assert_eq!(plain["formula"], taught["formula"]);
    assert_eq!(
        (plain["fidelity"].clone(), plain["status"].clone()),
        (taught["fidelity"].clone(), taught["status"].clone())
    );
    assert!(taught["expected"].is_null() && taught["taught"]["give_or_take"].is_null());
}

/// A world with a slip in one of its trials: what was noted, and what was smelled instead.
fn slipped(seed: u64, change: impl Fn(&mut Vec<f64>)) -> (support::smelled::World, usize) {
    let made =
        Made { materials: 6, descriptors: 8, trials: 12, parts: 3, matching: Match::Level, exponent: 1.0, error: 0.2 };
    let mut world = world(seed, made);
    let at = 5;
    let mut weighed = world.neat[at].clone();
    change(&mut weighed);
    let all = |scores: Vec<f64>| scores.into_iter().enumerate().collect::<Vec<_>>();
    for (which, neat) in world.neat.clone().iter().enumerate() {
        let scores = smell(&world.truth, if which == at { &weighed } else { neat }, 1.0);
        world.trials.trials[which] = trial(format!("{}", 100 + which), neat, all(scores), 0.2);
    }
    (world, at)
}

fn found(world: &support::smelled::World, at: usize) -> Option<Slip> {
    let learned = learn(&world.palette, &world.trials, &world.neat, LEARNING, &Control::default()).0.expect("learned");
    (learned.left[at].misfit > 3.0)
        .then(|| slip(&world.palette, &learned.evidence, at, (Match::Level, 1.0), true).map(|it| it.slip))?
}

#[test]
fn a_wrong_bottle_is_named() {
    let (mut named, mut tried) = (0, 0);
    for seed in 1..=8 {
        let mut was = (0, 0);
        let (world, at) = slipped(seed, |_| {});
        let used: Vec<usize> = (0..6).filter(|it| world.neat[at][*it] > 0.0).collect();
        let other = (0..6).find(|it| world.neat[at][*it] == 0.0).expect("another");
        // The one that is heard most.
        let odour = |it: &usize| world.truth.materials[*it].strength * world.neat[at][*it];
        let noted = used.into_iter().max_by(|a, b| odour(a).total_cmp(&odour(b))).expect("one");
        was.0 = noted;
        was.1 = other;
        let (world, at) = slipped(seed, |doses| doses.swap(noted, other));
        tried += 1;
        named += usize::from(found(&world, at) == Some(Slip::Bottle { noted: was.0, instead: was.1 }));
    }
    assert!(named * 2 >= tried, "{named} of {tried}");
}

#[test]
fn a_slip_of_the_pen_is_named_and_a_trial_without_one_is_not() {
    for seed in 1..=6 {
        let (mut world, at) = slipped(seed, |_| {});
        assert_eq!(found(&world, at), None, "seed {seed}");
        let points = &mut world.trials.trials[at].scores[2].1;
        *points = if *points < 5.0 { 9.5 } else { 0.5 };
        assert_eq!(found(&world, at), Some(Slip::Number(2)), "seed {seed}");
    }
}

#[test]
fn one_formula_alone_teaches_nothing_that_could_be_chosen_by() {
    let (problem, _) = two();
    let best = propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer.expect("a formula");
    let only = ask(&problem, &[best.formula.clone(), best.formula], asked(0.5, 3.0, 2));
    assert_eq!(only.mods.len(), 1);
    assert!((only.mods[0].best_after - only.best_now).abs() < 1e-9);
}
