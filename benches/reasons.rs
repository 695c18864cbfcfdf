//! How long it takes to say what holds a proposal back, beside its proof: each rule a unit
//! looser, 200 materials in whole parts. `cargo bench --bench reasons -- SEEDS`, 5 unless
//! said. The rival is one search for each rule, as it was done before.

mod common;

use std::time::Instant;

use common::blend::{TEN_WHOLE_PARTS, problem};
use permil::analysis::loosen::loosenings;
use permil::analysis::worth::worths;
use permil::control::Control;
use permil::pool::in_parallel;
use permil::solve::{Method, Start, propose, propose_from};

fn main() {
    let seeds = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let seeds = seeds.unwrap_or(if common::in_earnest() { 5 } else { 1 });
    let sizes = if common::in_earnest() { vec![(40, 20), (200, 40)] } else { vec![(20, 10)] };
    for (materials, descriptors) in sizes {
        for seed in 1..=seeds {
            let problem = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
            let control = Control::default();
            let started = Instant::now();
            let best =
                propose(&problem, Method::Auto, &control).expect("the method takes it").answer.expect("a formula");
            let proof = started.elapsed().as_secs_f64();
            let started = Instant::now();
            let found = worths(&problem, &best, Method::Auto, &control);
            let reasons = started.elapsed().as_secs_f64();
            let all = loosenings(&problem);
            let started = Instant::now();
            let start = Start { ceiling: Some(best.evaluation.loss - 1e-6), ..Start::default() };
            let each = in_parallel(&all, &control, |one| {
                propose_from(&one.beyond(&problem), &start, Method::Auto, &control).is_ok_and(|it| it.answer.is_some())
            });
            let singly = started.elapsed().as_secs_f64();
            let (told, nearer) = (found.binding.len(), each.into_iter().flatten().filter(|nearer| *nearer).count());
            assert_eq!(told, nearer, "both ways tell the same");
            println!(
                "{materials} x {descriptors}, seed {seed}: proof {proof:.3} s, reasons {reasons:.3} s, each rule by itself \
                 {singly:.3} s; {told} of {} rules hold it back, {} open",
                all.len(),
                found.open.len()
            );
        }
    }
}
