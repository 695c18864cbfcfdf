//! How long one continuous programme takes on each backend, with all its
//! checks: `cargo bench --bench lp`.

mod common;

use permil::control::Control;
use permil::solve::backend::{Backend, solve};

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
}
