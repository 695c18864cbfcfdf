//! Seeded random palettes and their continuous programme, shared by the
//! benchmarks.

#![allow(dead_code, reason = "each benchmark uses a part of it")]

pub mod blend;

use std::time::{Duration, Instant};

use permil::model::programme::{Programme, Relation};
use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Materials, descriptors and seed of the instances that are timed.
pub const SIZES: [(usize, usize, u64); 4] = [(40, 20, 1), (200, 40, 1), (1000, 80, 1), (3000, 146, 1)];

/// Scores run from 0 to this.
const SCALE: f64 = 10.0;
/// Materials that the target is blended from.
const BLENDED: usize = 8;
/// Half the width of the noise on a target, in score points.
const NOISE: f64 = 1.0;

/// A palette and a brief in bare numbers.
#[derive(Clone, Debug)]
pub struct Instance {
    /// Number of descriptors.
    pub descriptors: usize,
    /// Strength of each material, log-uniform in 0.1 to 1000.
    pub strengths: Vec<f64>,
    /// Price per kg of each material, log-uniform in 10 to 5000.
    pub prices_per_kg: Vec<f64>,
    /// (descriptor, score) of each material: 3 to 8 of them, in order.
    pub scores: Vec<Vec<(usize, f64)>>,
    /// The profile of a blend of eight materials, plus noise, in score points.
    pub target: Vec<f64>,
    /// Price per kg of that blend.
    pub blend_price_per_kg: f64,
}

/// Draws an instance; the same arguments give the same one.
pub fn instance(materials: usize, descriptors: usize, seed: u64) -> Instance {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let log_uniform =
        |random: &mut ChaCha8Rng, from: f64, to: f64| -> f64 { random.random_range(from.ln()..to.ln()).exp() };
    let strengths: Vec<f64> = (0..materials).map(|_| log_uniform(&mut random, 0.1, 1000.0)).collect();
    let prices_per_kg: Vec<f64> = (0..materials).map(|_| log_uniform(&mut random, 10.0, 5000.0)).collect();
    let scores: Vec<Vec<(usize, f64)>> = (0..materials)
        .map(|_| {
            let count = random.random_range(3..=8);
            let mut named = sample(&mut random, descriptors, count).into_vec();
            named.sort_unstable();
            named.into_iter().map(|descriptor| (descriptor, random.random_range(1.0..=SCALE))).collect()
        })
        .collect();

    // The blend is drawn by odour shares: drawn by mass, the strongest of the
    // eight would drown the others.
    let chosen = sample(&mut random, materials, BLENDED).into_vec();
    let heard: Vec<f64> = chosen.iter().map(|_| random.random_range(0.1..1.0)).collect();
    let all_heard: f64 = heard.iter().sum();
    let mut target = vec![0.0; descriptors];
    let (mut mass, mut cost) = (0.0, 0.0);
    for (&material, share) in chosen.iter().zip(&heard) {
        for &(descriptor, score) in &scores[material] {
            target[descriptor] += share / all_heard * score;
        }
        mass += share / strengths[material];
        cost += share / strengths[material] * prices_per_kg[material];
    }
    for score in &mut target {
        let noise = random.random_range(-NOISE..NOISE);
        if *score > 0.0 {
            *score = (*score + noise).clamp(0.0, SCALE);
        }
    }
    Instance { descriptors, strengths, prices_per_kg, scores, target, blend_price_per_kg: cost / mass }
}

/// The loss of `match = "level"` with every weight 1, as one linear programme
/// (Charnes and Cooper 1962), scaled so that the columns are of one size.
///
/// y_i is the odour share of material i; T stands for 1 / D, in units in which
/// the geometric mean of its bounds is 1. Each material is capped at
/// `max_parts` of 1000, the price per kg at `budget_per_kg`.
pub fn continuous_programme(instance: &Instance, max_parts: f64, budget_per_kg: f64) -> Programme {
    let weakest = instance.strengths.iter().copied().fold(f64::INFINITY, f64::min);
    let strongest = instance.strengths.iter().copied().fold(0.0, f64::max);
    // 1000 parts divided by the geometric mean of the least and greatest D.
    let scale = 1.0 / (weakest * strongest).sqrt();
    let mut programme = Programme::default();
    let shares: Vec<usize> = instance.strengths.iter().map(|_| programme.column(0.0, 0.0, f64::INFINITY)).collect();
    let spread = (strongest / weakest).sqrt();
    let t = programme.column(0.0, 1.0 / spread, spread);

    programme.row(shares.iter().map(|&j| (j, 1.0)).collect(), Relation::Equal, 1.0);
    let weighed = |factor: &dyn Fn(usize) -> f64| {
        let mut row: Vec<(usize, f64)> =
            shares.iter().enumerate().map(|(i, &j)| (j, factor(i) / (instance.strengths[i] * scale))).collect();
        row.push((t, -1.0));
        row
    };
    programme.row(weighed(&|_| 1.0), Relation::Equal, 0.0);
    programme.row(weighed(&|i| instance.prices_per_kg[i] / budget_per_kg), Relation::AtMost, 0.0);
    for (&j, strength) in shares.iter().zip(&instance.strengths) {
        let cap = strength * max_parts * scale / 1000.0;
        let by = cap.max(1.0);
        programme.row(vec![(j, 1.0 / by), (t, -cap / by)], Relation::AtMost, 0.0);
    }
    let mut profile: Vec<Vec<(usize, f64)>> = vec![Vec::new(); instance.descriptors];
    for (&j, scores) in shares.iter().zip(&instance.scores) {
        for &(descriptor, score) in scores {
            profile[descriptor].push((j, score));
        }
    }
    for (mut row, &target) in profile.into_iter().zip(&instance.target) {
        row.push((programme.column(1.0, 0.0, f64::INFINITY), -1.0));
        row.push((programme.column(1.0, 0.0, f64::INFINITY), 1.0));
        programme.row(row, Relation::Equal, target);
    }
    programme
}

/// Runs `work` `runs` times and returns the median of the times with the last
/// result.
pub fn median_time<T>(runs: usize, mut work: impl FnMut() -> T) -> (Duration, T) {
    let mut timed = || {
        let started = Instant::now();
        let result = work();
        (started.elapsed(), result)
    };
    let (first, mut result) = timed();
    let mut times = vec![first];
    for _ in 1..runs {
        let (time, again) = timed();
        times.push(time);
        result = again;
    }
    times.sort_unstable();
    (times[times.len() / 2], result)
}

/// Whether the program was started by `cargo bench`; otherwise only the
/// smallest size is run, as a test that the benchmark works.
pub fn in_earnest() -> bool {
    std::env::args().any(|argument| argument == "--bench")
}
