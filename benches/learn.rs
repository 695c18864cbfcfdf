//! How long learning takes on a seeded shelf: 60 trials of ten materials each, 40
//! materials, 20 descriptors, all of them judged in every trial. One run learns
//! under both exponents, with all errors and every trial left out.
//! `cargo bench --bench learn -- RUNS`, 5 unless said.

#[path = "../tests/support/smelled.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod smelled;

use std::time::Instant;

use permil::analysis::learn::{Asked, learn};
use permil::brief::Match;
use permil::control::Control;
use permil::stage::Dip;
use smelled::{Made, world};

fn main() {
    let runs = std::env::args().filter_map(|argument| argument.parse().ok()).next().unwrap_or(5usize).max(1);
    for (name, matching) in [("level", Match::Level), ("balance", Match::Balance)] {
        for threads in [1, 2] {
            let made =
                Made { materials: 40, descriptors: 20, trials: 60, parts: 10, matching, exponent: 1.0, error: 0.7 };
            let mut world = world(1, made);
            for (trial, truth) in world.trials.trials.iter_mut().zip(&world.true_scores) {
                trial.scores = truth.iter().copied().enumerate().collect();
            }
            let control = Control { threads: Some(threads), ..Control::default() };
            let mut times = Vec::new();
            let mut said = String::new();
            for _ in 0..runs {
                let started = Instant::now();
                let asked =
                    Asked { exponent: 1.0, pool: false, matching: None, dip: Dip { percent: None, film_weight: None } };
                let (found, _) = learn(&world.palette, &world.trials, &world.neat, asked, &control);
                times.push(1000.0 * started.elapsed().as_secs_f64());
                let found = found.expect("something to learn");
                said = format!("{} unknowns, {} rounds", found.unknowns.len(), found.fit.rounds);
            }
            times.sort_by(f64::total_cmp);
            let (median, worst) = (times[times.len() / 2], times[times.len() - 1]);
            println!("{name:<8} {threads} threads: median {median:8.1} ms, worst {worst:8.1} ms; {said}");
        }
    }
}
