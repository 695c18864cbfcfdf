//! How long a proven whole-part formula takes: at most ten materials, 2 ppt
//! at least, whole parts. `cargo bench --bench proofs [-- SIZE [SEEDS]]`
//! where SIZE is a number of materials and SEEDS how many seeds are timed. With
//! `--features highs` the rival, HiGHS under Dinkelbach's method, solves the
//! first seeds as well. `EACH=1` prints every solve.

mod common;

use std::time::{Duration, Instant};

use common::blend::{Rules, TEN_WHOLE_PARTS, problem};
use permil::brief::Match;
use permil::control::Control;
use permil::solve::{Method, Status, propose};

/// A solve that takes longer is stopped and counted with its gap.
const LIMIT: Duration = Duration::from_secs(10);

fn main() {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|argument| argument.parse().ok()).collect();
    let seeds = numbers.get(1).copied().unwrap_or(if common::in_earnest() { 20 } else { 2 });
    let sizes: &[(usize, usize)] =
        if common::in_earnest() { &[(40, 20), (200, 40), (1000, 80), (3000, 146)] } else { &[(40, 20)] };
    for &(materials, descriptors) in sizes {
        if numbers.first().is_some_and(|&only| only != materials) {
            continue;
        }
        for matching in [Match::Level, Match::Balance] {
            let mut times = Vec::new();
            let mut open = Vec::new();
            for seed in 1..=seeds as u64 {
                let instance = common::instance(materials, descriptors, seed);
                let problem = problem(&instance, Rules { matching, ..TEN_WHOLE_PARTS });
                let started = Instant::now();
                let control = Control { deadline: Some(started + LIMIT), ..Control::default() };
                let solution = propose(&problem, Method::Auto, &control).expect("the method takes every problem");
                times.push(started.elapsed());
                let loss = solution.answer.as_ref().map(|answer| answer.evaluation.loss);
                if std::env::var_os("EACH").is_some() {
                    println!(
                        "  seed {seed:>2} {:>9.3} s  {:<10} loss {:?} bound {:?} nodes {} iterations {}",
                        times[times.len() - 1].as_secs_f64(),
                        solution.status.word(),
                        loss,
                        solution.bound,
                        solution.nodes,
                        solution.iterations
                    );
                }
                if solution.status != Status::Optimal {
                    open.push((seed, loss.zip(solution.bound).map(|(loss, bound)| (loss - bound) / loss * 100.0)));
                }
            }
            times.sort_unstable();
            rival(materials, descriptors, matching);
            println!(
                "{materials:>5} x {descriptors:<4} {matching:?}: median {:.3} s, worst {:.3} s, open after {} s: {open:?}",
                times[times.len() / 2].as_secs_f64(),
                times[times.len() - 1].as_secs_f64(),
                LIMIT.as_secs(),
            );
        }
    }
}

/// Times HiGHS on the first seeds, for at most a minute each.
#[cfg(feature = "highs")]
fn rival(materials: usize, descriptors: usize, matching: Match) {
    use permil::solve::backend::Backend;
    for seed in 1..=3 {
        let instance = common::instance(materials, descriptors, seed);
        let problem = problem(&instance, Rules { matching, ..TEN_WHOLE_PARTS });
        let started = Instant::now();
        let control = Control { deadline: Some(started + Duration::from_secs(60)), ..Control::default() };
        let answer = propose(&problem, Method::Borrowed(Backend::Highs), &control);
        let loss = answer.ok().and_then(|solution| solution.answer).map(|answer| answer.evaluation.loss);
        println!("  HiGHS, seed {seed}: {:.1} s, loss {loss:?}", started.elapsed().as_secs_f64());
    }
}

/// Without HiGHS there is no rival for whole parts.
#[cfg(not(feature = "highs"))]
fn rival(_materials: usize, _descriptors: usize, _matching: Match) {}
