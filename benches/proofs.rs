//! How long a proven whole-part formula takes: at most ten materials, 2 ppt
//! at least, whole parts. `cargo bench --bench proofs [-- SIZE [SEEDS [FIRST]]
//! [VARIANT]]` where SIZE is a number of materials, SEEDS how many seeds are
//! timed, FIRST the first of them (1), and VARIANT one of `tenths` (steps of 0.1),
//! `six` and `fifteen` (materials at most) and `rules` (ten further rules). With
//! `--features highs` the rival, HiGHS under Dinkelbach's method, solves the
//! first seeds of the plain briefs as well. `EACH=1` prints every solve, `LIMIT` sets the seconds
//! after which a solve is stopped (10).

mod common;

use std::time::{Duration, Instant};

use common::blend::{Rules, TEN_WHOLE_PARTS, problem, with_ten_rules};
use permil::brief::Match;
use permil::control::Control;
use permil::solve::{Method, Status, propose};

/// A solve that takes longer is stopped and counted with its gap.
fn limit() -> Duration {
    let seconds = std::env::var("LIMIT").ok().and_then(|text| text.parse().ok());
    Duration::from_secs(seconds.unwrap_or(10))
}

/// The rules of a variant; whether ten further ones are laid on top.
fn rules(variant: Option<&str>) -> (Rules, bool) {
    match variant {
        Some("tenths") => (Rules { step: 0.1, ..TEN_WHOLE_PARTS }, false),
        Some("six") => (Rules { max_materials: 6, ..TEN_WHOLE_PARTS }, false),
        Some("fifteen") => (Rules { max_materials: 15, ..TEN_WHOLE_PARTS }, false),
        Some("rules") => (TEN_WHOLE_PARTS, true),
        _ => (TEN_WHOLE_PARTS, false),
    }
}

/// The greatest memory that the process has taken so far, where the system
/// tells.
fn peak_memory() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or_else(|| "not known".to_owned(), |line| line.trim().to_owned())
}

fn main() {
    let variant = std::env::args().skip(1).find(|argument| argument.chars().all(char::is_alphabetic));
    let (rules, is_ruled) = rules(variant.as_deref());
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|argument| argument.parse().ok()).collect();
    let seeds = numbers.get(1).copied().unwrap_or(if common::in_earnest() { 20 } else { 2 });
    let first = numbers.get(2).copied().unwrap_or(1) as u64;
    let sizes: &[(usize, usize)] =
        if common::in_earnest() { &[(40, 20), (200, 40), (1000, 80), (3000, 146)] } else { &[(40, 20)] };
    for &(materials, descriptors) in sizes {
        if numbers.first().is_some_and(|&only| only != materials) {
            continue;
        }
        for matching in [Match::Level, Match::Balance] {
            let mut times = Vec::new();
            let mut open = Vec::new();
            for seed in first..first + seeds as u64 {
                let instance = common::instance(materials, descriptors, seed);
                let plain = problem(&instance, Rules { matching, ..rules });
                let problem = if is_ruled { with_ten_rules(plain) } else { plain };
                let started = Instant::now();
                let control = Control::default().within(limit());
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
            if variant.is_none() {
                rival(materials, descriptors, Rules { matching, ..rules });
            }
            println!(
                "{materials:>5} x {descriptors:<4} {matching:?}: median {:.3} s, worst {:.3} s, open after {} s: {open:?}",
                times[times.len() / 2].as_secs_f64(),
                times[times.len() - 1].as_secs_f64(),
                limit().as_secs(),
            );
        }
    }
    println!("peak memory {}", peak_memory());
}

/// Times HiGHS on the first seeds, for at most a minute each.
#[cfg(feature = "highs")]
fn rival(materials: usize, descriptors: usize, rules: Rules) {
    use permil::solve::backend::Backend;
    for seed in 1..=3 {
        let instance = common::instance(materials, descriptors, seed);
        let problem = problem(&instance, rules);
        let started = Instant::now();
        let control = Control::default().within(Duration::from_secs(60));
        let answer = propose(&problem, Method::Borrowed(Backend::Highs), &control);
        let loss = answer.ok().and_then(|solution| solution.answer).map(|answer| answer.evaluation.loss);
        println!("  HiGHS, seed {seed}: {:.1} s, loss {loss:?}", started.elapsed().as_secs_f64());
    }
}

/// Without HiGHS there is no rival for whole parts.
#[cfg(not(feature = "highs"))]
fn rival(_materials: usize, _descriptors: usize, _rules: Rules) {}
