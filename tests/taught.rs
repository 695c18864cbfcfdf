//! A brief by what trials taught: errors that they have tied together, and the formula of
//! which the best match is to be expected.

mod support;

use std::fmt::Write;
use std::sync::Arc;

use permil::analysis::doubt::told::told_of;
use permil::analysis::learn::{Asked, Taught, taught};
use permil::analysis::steady::{Aim, steady};
use permil::brief::Match;
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::palette::Palette;
use permil::problem::Problem;
use permil::solve::{Answer, Method, propose};
use permil::stage::Dip;
use permil::tied::{Tied, TiedNumber};
use permil::trials::Trials;
use serde_json::Value;
use support::program::permil;
use support::smelled::{Made, World, smell, trial, world};

const ASKED: Asked =
    Asked { exponent: 1.0, pool: false, matching: Some(Match::Level), dip: Dip { percent: None, film_weight: None } };

fn made(seed: u64, trials: usize) -> World {
    let made =
        Made { materials: 8, descriptors: 5, trials, parts: 4, matching: Match::Level, exponent: 1.0, error: 0.5 };
    world(seed, made)
}

/// A brief over the shelf of a made-up world: whole parts, at most five materials, a target
/// that a blend of the truth has.
fn problem(world: &World) -> Problem {
    let mut palette = "[descriptors]\n".to_owned();
    let words = world.palette.descriptors.len();
    (0..words).for_each(|at| writeln!(palette, "note{at} = \"\"").unwrap());
    for material in &world.palette.materials {
        let scores: Vec<String> = (0..words).map(|at| format!("note{at} = {}", material.scores[at])).collect();
        write!(
            palette,
            "[[material]]\nname = \"{}\"\nstrength = {}\nstrength_factor = 1.5\nscore_error = 1.0\nscores = {{ {} }}\n",
            material.name,
            material.strength,
            scores.join(", ")
        )
        .unwrap();
    }
    let mut doses: Vec<f64> = world.palette.materials.iter().map(|material| 1.0 / material.strength).collect();
    doses.truncate(5);
    doses.resize(world.palette.materials.len(), 0.0);
    let target = smell(&world.truth, &doses, 1.0);
    let target: Vec<String> = target.iter().enumerate().map(|(at, points)| format!("note{at} = {points:.1}")).collect();
    let brief = format!(
        "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\n{}\n[formula]\nstep = 0.1\nmax_materials = 5\n",
        target.join("\n")
    );
    support::load(&palette, &brief)
}

fn learned(world: &World) -> Taught {
    taught(&world.palette, &world.trials, &world.neat, ASKED, &Control::default()).expect("trials that say something")
}

fn best(problem: &Problem) -> Answer {
    propose(problem, Method::Auto, &Control::default()).expect("a solution").answer.expect("a formula")
}

#[test]
fn draws_are_tied_as_the_covariance_says() {
    // Two materials alone: the errors of their strengths are tied, so that one is weak where
    // the other is strong. Drawn apart the balance of a and b is unsure; drawn together so
    // that both move alike it is certain.
    let shelf = "[descriptors]\na = \"\"\nb = \"\"\n[[material]]\nname = \"A\"\nstrength = 10\nscore_error = 0\n\
                 strength_factor = 1.5\nscores = { a = 8 }\n[[material]]\nname = \"B\"\nstrength = 10\nscore_error = 0\n\
                 strength_factor = 1.5\nscores = { b = 8 }\n";
    let plain = support::load(shelf, "palette = \"palette.toml\"\n[target]\na = 5\nb = 5\n");
    let formula = best(&plain).formula;
    let number = |material| TiedNumber { material, descriptor: None };
    let factor = 1.5_f64.ln();
    let with = |rows: Vec<Vec<f64>>| {
        let mut palette = (*plain.palette).clone();
        palette.tied = Some(Arc::new(Tied::new(vec![number(0), number(1)], rows)));
        told_of(&plain.with_palette(Arc::new(palette)), &formula).expect("a range").fidelity
    };
    let apart = told_of(&plain, &formula).expect("a range").fidelity;
    assert!(apart.sd > 5.0, "{}", apart.sd);
    // A diagonal root draws the very same numbers.
    assert_eq!(with(vec![vec![factor], vec![0.0, factor]]), apart);
    // Both by the same factor: nothing is unsure.
    assert!(with(vec![vec![factor], vec![factor, 0.0]]).sd < 1e-9);
    // Opposite: the logarithm of their quotient spreads by 2 instead of the root of 2, and
    // fidelity is 100 less 50 |tanh(half of it)|: 10,000 draws against the integral.
    let opposite = with(vec![vec![factor], vec![-factor, 0.0]]).mean;
    let integral = |spread: f64| {
        let steps = (-8000..=8000).map(|at| f64::from(at) / 1000.0);
        let density = |z: f64| (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
        steps.map(|z| density(z) * 0.001 * (100.0 - 50.0 * (0.5 * spread * z).tanh().abs())).sum::<f64>()
    };
    assert!((opposite - integral(2.0 * factor)).abs() < 0.5, "{opposite} {}", integral(2.0 * factor));
    let root = 2.0_f64.sqrt() * factor;
    assert!((apart.mean - integral(root)).abs() < 0.5, "{} {}", apart.mean, integral(root));
}

#[test]
fn without_trials_that_say_anything_nothing_is_learned() {
    let world = made(1, 0);
    let none = taught(&world.palette, &world.trials, &world.neat, ASKED, &Control::default());
    assert!(none.is_err_and(|aside| aside.is_empty()));
}

#[test]
fn trials_of_a_boundless_error_change_nothing() {
    let world = made(2, 4);
    let mut deaf = world.trials.clone();
    deaf.trials.iter_mut().for_each(|trial| trial.give_or_take = Some(1e7));
    let found = taught(&world.palette, &deaf, &world.neat, ASKED, &Control::default()).expect("trials");
    for (own, was) in found.palette.materials.iter().zip(&world.palette.materials) {
        assert!((own.strength / was.strength - 1.0).abs() < 1e-6);
        own.scores.iter().zip(&was.scores).for_each(|(own, was)| assert!((own - was).abs() < 1e-6));
    }
    let before = problem(&world);
    let after = before.with_palette(Arc::new(found.palette));
    let formula = best(&before).formula;
    let (one, other) = (told_of(&before, &formula).unwrap().fidelity, told_of(&after, &formula).unwrap().fidelity);
    assert!((one.mean - other.mean).abs() < 1e-3 && (one.sd - other.sd).abs() < 1e-3, "{one:?} {other:?}");
}

/// Trials of a nose without error, of every material alone and of mixtures.
fn told_all(world: &World) -> (Trials, Vec<Vec<f64>>) {
    let count = world.palette.materials.len();
    let mut trials = Trials { trials: Vec::new(), ..world.trials.clone() };
    let mut neat = Vec::new();
    let mut add = |doses: Vec<f64>| {
        let scores = smell(&world.truth, &doses, 1.0).into_iter().enumerate().collect();
        let one = trial(format!("T{}", trials.trials.len()), &doses, scores, 0.02);
        let mut exact = vec![0.0; count];
        one.formula.parts.iter().for_each(|(material, dose)| exact[*material] = dose.as_f64());
        neat.push(exact);
        trials.trials.push(one);
    };
    for at in 0..count {
        let mut alone = vec![0.0; count];
        alone[at] = 1000.0;
        add(alone);
        let mut pair = vec![0.0; count];
        pair[at] = 1.0 / world.palette.materials[at].strength;
        pair[(at + 1) % count] = 1.0 / world.palette.materials[(at + 1) % count].strength;
        let total: f64 = pair.iter().sum();
        add(pair.into_iter().map(|dose| dose * 1000.0 / total).collect());
    }
    (trials, neat)
}

#[test]
fn trials_of_the_truth_end_at_the_best_possible() {
    let (mut before, mut after) = (0.0, 0.0);
    for seed in 1..=6 {
        let world = made(seed, 0);
        let own = problem(&world);
        let (trials, neat) = told_all(&world);
        let found = taught(&world.palette, &trials, &neat, ASKED, &Control::default()).expect("trials");
        let learned = own.with_palette(Arc::new(found.palette));
        let truth = own.with_palette(Arc::new(Palette { ..world.truth.clone() }));
        let on_paper = best(&learned);
        let expected =
            steady(&learned, &on_paper, Aim::Expected, 1, Method::Auto, &Control::default()).expect("an answer");
        let taken = if expected.buys() { expected.answer } else { on_paper };
        let fidelity = |answer: &Answer| evaluate(&truth, &answer.formula).expect("an odour").fidelity_percent;
        let most = best(&truth).evaluation.fidelity_percent;
        let loses = most - fidelity(&taken);
        assert!(loses < 0.5, "seed {seed}: {most} less {loses}");
        before += most - fidelity(&best(&own));
        after += loses;
    }
    assert!(after < 0.1 * before, "{before} {after}");
}

#[test]
fn ranges_after_trials_hold_the_truth() {
    let (mut held, mut of, mut narrower) = (0, 0, 0);
    for seed in 1..=40 {
        let world = made(100 + seed, 6);
        let own = problem(&world);
        let learned = own.with_palette(Arc::new(learned(&world).palette));
        let truth = own.with_palette(Arc::new(world.truth.clone()));
        // Of a formula that is not the best by any of the numbers.
        let formula = best(&own).formula;
        let range = told_of(&learned, &formula).expect("a range").fidelity;
        let true_fidelity = evaluate(&truth, &formula).expect("an odour").fidelity_percent;
        held += i32::from((range.p5..=range.p95).contains(&true_fidelity));
        narrower += i32::from(range.sd < told_of(&own, &formula).expect("a range").fidelity.sd);
        of += 1;
    }
    // Nine in ten: 36 of 40, with a standard deviation of 1.9.
    assert!(held >= 31, "{held} of {of}");
    assert!(narrower >= 30, "{narrower} of {of}");
}

#[test]
fn the_terminal_tells_what_to_expect() {
    let rose = ["propose", "profiles/rose-otto/brief.toml", "--trials", "profiles/rose-otto/trials.toml", "--no-worth"];
    let limits = ["--time-limit", "600"];
    let ran = permil(&[&rose[..], &limits, &["--format", "json", "--quiet"]].concat());
    assert_eq!(ran.status, 0, "{}", ran.stderr);
    let told: Value = serde_json::from_str(&ran.stdout).expect("JSON");
    assert!(told["taught"]["used"].as_array().is_some_and(|codes| codes.len() >= 3), "{}", told["taught"]);
    let expected = &told["expected"];
    let mean = |which: &str| expected[which]["mean"].as_f64().expect("a mean");
    assert!(mean("found") >= mean("best_on_paper") - 0.05);
    assert!(told["fidelity"].as_f64() <= expected["best_on_paper"]["on_paper"].as_f64().map(|most| most + 1e-6));
    let text = permil(&[&rose[..], &limits, &["--quiet"]].concat());
    for words in ["What to expect of the next blotter", "by what", "By what trials taught, not by the palette"] {
        assert!(text.stdout.contains(words), "{words}: {}", text.stdout);
    }
    // The palette's file stays as it is, so a proof by it would be of other numbers.
    let refused = permil(&[&rose[..], &["--certificate", "x.proof"]].concat());
    assert_eq!(refused.status, 2, "{}", refused.stderr);
    // Errors that are tied have no shares of their own.
    let doubt = ["doubt", "profiles/rose-otto/brief.toml", "profiles/rose-otto/mod-1.toml"];
    let doubt = permil(&[&doubt[..], &["--trials", "profiles/rose-otto/trials.toml"]].concat());
    assert_eq!(doubt.status, 0, "{}", doubt.stderr);
    assert!(doubt.stdout.contains("tied these errors together"), "{}", doubt.stdout);
}
