//! How long certificates of the timed briefs take to write and to check, and
//! how large they are. `cargo bench --bench certificates [-- SIZE [SEEDS [FIRST]]]`
//! where SIZE is a number of materials, SEEDS how many seeds are taken and FIRST
//! the first of them (1). `NODES` sets the nodes of each search and of each tree
//! that is written (200,000).

mod common;

use std::time::Instant;

use common::blend::{TEN_WHOLE_PARTS, problem};
use permil::certificate;
use permil::control::Control;
use permil::model::Blend;
use permil::solve::certify::certify;
use permil::solve::{Method, propose};

fn main() {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|argument| argument.parse().ok()).collect();
    let seeds = numbers.get(1).copied().unwrap_or(if common::in_earnest() { 20 } else { 2 });
    let first = numbers.get(2).copied().unwrap_or(1) as u64;
    let nodes = std::env::var("NODES").ok().and_then(|text| text.parse().ok()).unwrap_or(200_000);
    let sizes: &[(usize, usize)] = if common::in_earnest() { &[(40, 20), (200, 40)] } else { &[(40, 20)] };
    for &(materials, descriptors) in sizes {
        if numbers.first().is_some_and(|&only| only != materials) {
            continue;
        }
        for seed in first..first + seeds as u64 {
            let problem = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
            let control = Control { node_limit: Some(nodes), ..Control::default() };
            let started = Instant::now();
            let solution = propose(&problem, Method::Auto, &control).expect("the method takes every problem");
            let solved = started.elapsed().as_secs_f64();
            let started = Instant::now();
            let written = certify(&problem, &solution, &control);
            let wrote = started.elapsed().as_secs_f64();
            let outcome = match written {
                Err(failure) => format!("REFUSED: {failure}"),
                Ok(Err(why)) => format!("none: {why:?}"),
                Ok(Ok(text)) => {
                    let blend = Blend::new(&problem);
                    let names = certificate::column_names(&blend, &problem.palette);
                    let started = Instant::now();
                    let read = certificate::read(&text).expect("what was written can be read");
                    let parts = certificate::check(&read, &blend, &names).expect("what was written passes");
                    let checked = started.elapsed().as_secs_f64();
                    format!("{parts} parts, {} kB, checked in {checked:.3} s", text.len() / 1000)
                }
            };
            println!(
                "{materials:>5} x {descriptors:<4} seed {seed:>2}: {} in {solved:.3} s, certificate in {wrote:.3} s: {outcome}",
                solution.status.word(),
            );
        }
    }
}
