//! How long one continuous programme takes on each backend, with all its
//! checks, and what the search's own simplex method takes over the same palette with the
//! rules of a brief: `cargo bench --bench lp`.

mod common;

use common::blend::{TEN_WHOLE_PARTS, problem};
use permil::control::Control;
use permil::model::Blend;
use permil::solve::backend::{Backend, solve};
use permil::solve::search::continuous_optimum;
use permil::solve::{Method, propose};

/// The largest dose of one material, in parts of 1000.
const MAX_PARTS: f64 = 300.0;
/// The budget, as a part of what the target's own blend costs.
const BUDGET: f64 = 0.7;

fn main() {
    let sizes = if common::in_earnest() { &common::SIZES[..] } else { &common::SIZES[..1] };
    println!("{:>9} {:>4} {:>9} {:>12} {:>14} {:>9}", "materials", "desc", "backend", "median, ms", "loss", "apart");
    for &(materials, descriptors, seed) in sizes {
        let instance = common::instance(materials, descriptors, seed);
        let budget = BUDGET * instance.blend_price_per_kg;
        let programme = common::continuous_programme(&instance, MAX_PARTS, budget);
        let runs = if materials >= 1000 { 5 } else { 15 };
        let mut first = None;
        for &backend in Backend::ALL {
            let (time, answer) = common::median_time(runs, || solve(backend, &programme, &Control::default()));
            print!("{materials:>9} {descriptors:>4} {:>9} {:>12.3}", backend.name(), time.as_secs_f64() * 1e3);
            match answer {
                Ok(solution) => {
                    let reference = *first.get_or_insert(solution.objective);
                    let apart = (solution.objective - reference).abs() / reference.abs().max(1.0);
                    println!(" {:>14.9} {apart:>9.1e}", solution.objective);
                }
                Err(error) => println!(" {error}"),
            }
        }
    }
    for &(materials, descriptors, seed) in sizes {
        let instance = common::instance(materials, descriptors, seed);
        let runs = if materials >= 1000 { 5 } else { 15 };
        let relaxed = problem(&instance, TEN_WHOLE_PARTS).relaxed();
        let blend = Blend::new(&relaxed);
        let size = format!("{materials:>9} {descriptors:>4}");
        let from = relaxed.worst_loss();
        let (time, optimum) = common::median_time(runs, || continuous_optimum(&blend, from));
        let bound = optimum.map_or("not solved".to_owned(), |it| format!("{:.9}", it.bound));
        println!("{size} {:>9} {:>12.3} {bound:>14}", "own", time.as_secs_f64() * 1e3);
        for (name, method) in [("answer", Method::Auto), ("by microlp", Method::Borrowed(Backend::Microlp))] {
            let (time, solution) = common::median_time(runs, || propose(&relaxed, method, &Control::default()));
            let loss = solution.ok().and_then(|it| it.answer).map_or(f64::NAN, |answer| answer.evaluation.loss);
            println!("{size} {name:>9} {:>12.3} {loss:>14.9}", time.as_secs_f64() * 1e3);
        }
    }
}
