//! Further views of a random brief, made by hand.

use std::sync::Arc;

use permil::brief::Match;
use permil::problem::{Problem, Target, View};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A brief with one or two further views, each of another kind.
pub fn viewed(mut problem: Problem, seed: u64) -> Problem {
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x5ee);
    for _ in 0..random.random_range(1..=2) {
        let view = further(&problem, &mut random);
        problem.views.push(view);
    }
    problem
}

fn further(problem: &Problem, random: &mut ChaCha8Rng) -> View {
    let mut palette = (*problem.palette).clone();
    for material in &mut palette.materials {
        if random.random_bool(0.7) {
            // What evaporates leaves anything between a trace and all.
            material.strength *= 10f64.powf(random.random_range(-4.0..0.0));
        }
        if random.random_bool(0.3) {
            material
                .scores
                .iter_mut()
                .for_each(|score| *score = (*score + random.random_range(-2.0..2.0)).clamp(0.0, 10.0));
        }
    }
    let mut targets: Vec<Target> = problem.targets.clone();
    if random.random_bool(0.5) {
        for target in &mut targets {
            target.score = if random.random_bool(0.3) { 0.0 } else { random.random_range(1.0..9.0) };
            target.excess = random.random_range(0.2..2.0);
        }
        targets[0].score = targets[0].score.max(1.0);
    }
    if targets.len() > 1 && random.random_bool(0.3) {
        // Not looked at in this view.
        targets.pop();
        targets[0].score = targets[0].score.max(1.0);
    }
    let matching = if random.random_bool(0.5) { Match::Level } else { Match::Balance };
    let weight = if random.random_bool(0.5) { 1.0 } else { random.random_range(0.3..3.0) };
    View {
        name: Arc::from("later"),
        stage: Some(0),
        palette: Arc::new(palette),
        targets,
        matching,
        weight,
        ..problem.views[0].clone()
    }
}
