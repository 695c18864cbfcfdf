//! Random programmes: some that have an optimum by construction, some of
//! which nothing is known.

use permil::model::programme::{Programme, Relation, Sense};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A bounded programme with a feasible point: a point is drawn first, and the
/// rows are laid around it.
pub fn feasible_and_bounded(seed: u64) -> Programme {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let columns = random.random_range(2..=30);
    let rows = random.random_range(1..=20);
    let sense = if random.random_bool(0.5) { Sense::Minimise } else { Sense::Maximise };
    let mut programme = Programme { sense, ..Programme::default() };
    let mut point = Vec::with_capacity(columns);
    for _ in 0..columns {
        let lower = random.random_range(-5.0..5.0);
        let upper = lower + random.random_range(0.0..10.0);
        point.push(random.random_range(lower..=upper));
        programme.column(random.random_range(-10.0..10.0), lower, upper);
    }
    for _ in 0..rows {
        let mut coefficients = Vec::new();
        for column in 0..columns {
            if random.random_bool(0.4) {
                coefficients.push((column, random.random_range(-10.0..10.0)));
            }
        }
        let here: f64 = coefficients.iter().map(|&(column, a): &(usize, f64)| a * point[column]).sum();
        let room = if random.random_bool(0.3) { 0.0 } else { random.random_range(0.0..10.0) };
        match random.random_range(0..5) {
            0 => programme.row(coefficients, Relation::Equal, here),
            1 | 2 => programme.row(coefficients, Relation::AtMost, here + room),
            _ => programme.row(coefficients, Relation::AtLeast, here - room),
        };
    }
    programme
}

/// A programme of small whole numbers, open columns and equations, of which
/// nothing is known: it may be infeasible, unbounded or degenerate.
pub fn anything(seed: u64) -> Programme {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let columns = random.random_range(1..=8);
    let rows = random.random_range(1..=8);
    let sense = if random.random_bool(0.5) { Sense::Minimise } else { Sense::Maximise };
    let mut programme = Programme { sense, ..Programme::default() };
    let mut whole = |from: i32, to: i32| f64::from(random.random_range(from..=to));
    for _ in 0..columns {
        let lower = if whole(0, 4) == 0.0 { f64::NEG_INFINITY } else { whole(-2, 2) };
        let upper = if whole(0, 1) == 0.0 { f64::INFINITY } else { lower.max(-3.0) + whole(0, 4) };
        programme.column(whole(-3, 3), lower, upper);
    }
    for _ in 0..rows {
        let coefficients = (0..columns).map(|column| (column, whole(-3, 3))).collect();
        let relation = match whole(0, 4) as u8 {
            0 => Relation::Equal,
            1 | 2 => Relation::AtMost,
            _ => Relation::AtLeast,
        };
        programme.row(coefficients, relation, whole(-4, 4));
    }
    programme
}
