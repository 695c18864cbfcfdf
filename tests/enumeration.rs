//! The exact search against listing every formula: small seeded palettes,
//! both ways to match, carriers, mixed steps and every linear kind of rule.

mod support;

use std::fmt::Write as _;

use permil::control::Control;
use permil::files;
use permil::problem::Problem;
use permil::solve::{Method, Status, propose};
use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::listing::{choice_count, least_loss};

const CASES: u64 = 240;
/// Formulas beyond this are too many to list.
const MOST_FORMULAS: usize = 300_000;

/// A seeded palette and brief as the texts of their files.
fn texts(seed: u64) -> (String, String) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let materials = random.random_range(3..=5usize);
    let descriptors = random.random_range(2..=4usize);
    let carrier = random.random_bool(0.4);
    let mut palette = String::from("[descriptors]\n");
    for d in 0..descriptors {
        writeln!(palette, "note{d} = \"made up\"").unwrap();
    }
    for m in 0..materials {
        let strength = 10f64.powf(random.random_range(-1.0..3.0));
        let price = random.random_range(1..200);
        writeln!(palette, "[[material]]\nname = \"M{m}\"\nstrength = {strength:.3}\nprice = {price}").unwrap();
        let count = random.random_range(1..=descriptors);
        let scores: Vec<String> = sample(&mut random, descriptors, count)
            .into_iter()
            .map(|d| format!("note{d} = {}", random.random_range(1..=10)))
            .collect();
        writeln!(palette, "scores = {{ {} }}\ntags = [\"t{}\"]", scores.join(", "), m % 2).unwrap();
    }
    if carrier {
        palette.push_str("[[material]]\nname = \"C\"\nstrength = 0\nprice = 2\n");
    }

    let mut brief = String::from("palette = \"palette.toml\"\n");
    writeln!(brief, "match = \"{}\"", if seed.is_multiple_of(2) { "balance" } else { "level" }).unwrap();
    brief.push_str("[target]\n");
    for d in 0..descriptors {
        let score = random.random_range(1..=8);
        if random.random_bool(0.3) {
            let bound = if random.random_bool(0.5) {
                format!("max = {}", (score + 3).min(10))
            } else {
                format!("min = {}", score.min(2))
            };
            let weight = random.random_range(1..=3);
            writeln!(brief, "note{d} = {{ score = {score}, weight = {weight}, excess = 2, {bound} }}").unwrap();
        } else {
            writeln!(brief, "note{d} = {score}").unwrap();
        }
    }
    let steps = [50.0, 100.0, 125.0, 40.0];
    let step = steps[random.random_range(0..steps.len())];
    writeln!(brief, "[formula]\nstep = {step}").unwrap();
    if random.random_bool(0.6) {
        writeln!(brief, "max_materials = {}", random.random_range(2..=materials)).unwrap();
    }
    if random.random_bool(0.5) {
        writeln!(brief, "min_dose = {}", random.random_range(30..200)).unwrap();
    }
    if random.random_bool(0.3) {
        writeln!(brief, "strength = {{ min = {} }}", random.random_range(1..30)).unwrap();
    }
    writeln!(brief, "[budget]\nmax_price = {}", random.random_range(30..200)).unwrap();
    if random.random_bool(0.2) {
        writeln!(brief, "max_price_of_effect = {}", random.random_range(1..100)).unwrap();
    }
    brief.push_str("[doses]\n");
    if carrier {
        writeln!(brief, "\"C\" = {{ max = {} }}", random.random_range(100..900)).unwrap();
    }
    for m in 0..materials {
        match random.random_range(0..8) {
            0 => writeln!(brief, "\"M{m}\" = {{ step = {}, max = 500 }}", [5.0, 12.5, 20.0][m % 3]).unwrap(),
            1 => writeln!(brief, "\"M{m}\" = {{ fixed = {} }}", [35.5, 80.0, 120.0][m % 3]).unwrap(),
            2 => writeln!(brief, "\"M{m}\" = {{ use = \"must\", min = 60, max = 700 }}").unwrap(),
            3 => writeln!(brief, "\"M{m}\" = {{ max = {} }}", random.random_range(100..600)).unwrap(),
            _ => {}
        }
    }
    if random.random_bool(0.3) {
        writeln!(brief, "[[group]]\nname = \"g\"\ntag = \"t0\"\nmin = 100\nmax = 800").unwrap();
    }
    if random.random_bool(0.3) {
        writeln!(brief, "[[ratio]]\nof = \"M0\"\nto = \"M1\"\nmin = 0.5\nmax = 3").unwrap();
    }
    (palette, brief)
}

fn problem(seed: u64) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    let (palette, brief) = texts(seed);
    std::fs::write(folder.path().join("palette.toml"), palette).expect("written");
    std::fs::write(folder.path().join("brief.toml"), &brief).expect("written");
    match files::load_scenario(&folder.path().join("brief.toml")) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("seed {seed}: {}\n{brief}", faults.render(false)),
    }
}

#[test]
fn the_search_finds_what_listing_finds() {
    let (mut feasible, mut infeasible) = (0, 0);
    for seed in 0..CASES {
        let problem = problem(seed);
        if choice_count(&problem).is_none_or(|count| count > 40 * MOST_FORMULAS) {
            continue;
        }
        let best = least_loss(&problem);
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        if best.is_finite() {
            feasible += 1;
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let loss = solution.answer.expect("a formula").evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
            let bound = solution.bound.expect("a bound");
            assert!(bound <= best + 1e-12, "seed {seed}: the bound {bound} lies above the best loss {best}");
        } else {
            infeasible += 1;
            assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
        }
    }
    println!("{feasible} feasible and {infeasible} infeasible briefs agree");
    assert!(feasible + infeasible >= 200, "{feasible} feasible, {infeasible} infeasible");
    assert!(feasible >= 80 && infeasible >= 20, "{feasible} feasible, {infeasible} infeasible");
}
