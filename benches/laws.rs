//! How long a brief takes whose views follow the compressive law or both: at most ten
//! materials, 2 ppt at least, whole parts. `cargo bench --bench laws [-- SIZE [SEEDS
//! [FIRST]] [LAW]]` where SIZE is a number of materials, SEEDS how many seeds are
//! timed, FIRST the first of them (1), and LAW `compressive` or `both`. `EACH=1` prints
//! every solve, `LIMIT` sets the seconds after which a solve is stopped (20), `GAP` the
//! share of the loss at which a solve counts as closed besides (0.001).

mod common;

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use common::blend::{TEN_WHOLE_PARTS, problem};
use permil::brief::{Laws, Match};
use permil::control::{Control, Progress};
use permil::solve::{Method, Status, propose};

fn number(name: &str, default: f64) -> f64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
}

/// Seconds that this thread has computed, where the system tells; else those of a clock.
fn computed(began: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| began.elapsed().as_secs_f64(), |nanoseconds| nanoseconds / 1e9)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let seeds = numbers.get(1).copied().unwrap_or(if common::in_earnest() { 10 } else { 1 });
    let first = numbers.get(2).copied().unwrap_or(1) as u64;
    let (limit, gap) = (number("LIMIT", 20.0), number("GAP", 1e-3));
    let sizes: &[(usize, usize)] = if common::in_earnest() { &[(12, 20), (40, 20)] } else { &[(12, 20)] };
    for &(materials, descriptors) in sizes {
        if numbers.first().is_some_and(|&only| only != materials) {
            continue;
        }
        for laws in [Laws::Compressive, Laws::Both] {
            let name = laws.word();
            if words.iter().any(|word| word == "both" || word == "compressive")
                && !words.iter().any(|word| word == name)
            {
                continue;
            }
            for matching in [Match::Level, Match::Balance] {
                let (mut proven, mut closed, mut open) = (Vec::new(), Vec::new(), Vec::new());
                for seed in first..first + seeds as u64 {
                    let instance = common::instance(materials, descriptors, seed);
                    let mut rules = TEN_WHOLE_PARTS;
                    rules.matching = matching;
                    let problem = problem(&instance, rules).by_laws(laws);
                    let began = Instant::now();
                    let before = computed(began);
                    // When the gap first was as small as is asked for.
                    let (is_closed, at) = (AtomicBool::new(false), Mutex::new(limit));
                    let shared = Arc::new((is_closed, at));
                    let told = Arc::clone(&shared);
                    let listener = move |progress: Progress| {
                        let Some(loss) = progress.incumbent_loss else { return };
                        let is_near = loss - progress.bound <= gap * loss;
                        if !is_near {
                            told.0.store(false, Ordering::Relaxed);
                        } else if !told.0.swap(true, Ordering::Relaxed)
                            && let Ok(mut at) = told.1.lock()
                        {
                            *at = computed(began) - before;
                        }
                    };
                    let control = Control { progress: Some(Arc::new(listener)), ..Control::default() };
                    let control = control.within(Duration::from_secs_f64(limit));
                    let solution = propose(&problem, Method::Auto, &control).expect("a solution");
                    let seconds = computed(began) - before;
                    let (loss, bound) = (
                        solution.answer.map_or(f64::NAN, |answer| answer.evaluation.loss),
                        solution.bound.unwrap_or(0.0),
                    );
                    let left = (loss - bound) / loss;
                    let near =
                        if shared.0.load(Ordering::Relaxed) { *shared.1.lock().expect("a lock") } else { seconds };
                    if std::env::var_os("EACH").is_some() {
                        println!(
                            "  {materials} x {descriptors} {name} {} seed {seed}: {} {loss:.6} bound {bound:.6} gap {:.3} % in {seconds:.3} s, near at {near:.3} s, {} nodes, {} iterations",
                            matching.word(),
                            solution.status.word(),
                            100.0 * left,
                            solution.nodes,
                            solution.iterations
                        );
                    }
                    if solution.status == Status::Optimal {
                        proven.push(seconds);
                    }
                    if left <= gap { closed.push(near) } else { open.push(100.0 * left) }
                }
                proven.sort_by(f64::total_cmp);
                closed.sort_by(f64::total_cmp);
                let middle = |times: &[f64]| times.get(times.len() / 2).copied().unwrap_or(f64::NAN);
                let last = |times: &[f64]| times.last().copied().unwrap_or(f64::NAN);
                println!(
                    "{materials} x {descriptors} {name} {}: proven {} (median {:.3} s, worst {:.3} s), within {} % {} (median {:.3} s, worst {:.3} s), open {open:.2?} %",
                    matching.word(),
                    proven.len(),
                    middle(&proven),
                    last(&proven),
                    100.0 * gap,
                    closed.len(),
                    middle(&closed),
                    last(&closed)
                );
            }
        }
    }
}
