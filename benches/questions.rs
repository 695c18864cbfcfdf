//! How long the curves around a proposal take: the trade-off of the rose
//! scenario and of a seeded shelf of 200 materials.
//! `cargo bench --bench questions -- RUNS`, 5 unless said.

mod common;

use std::time::Instant;

use permil::analysis::axis::Axis;
use permil::analysis::caps::caps;
use permil::analysis::push;
use permil::analysis::tradeoff::{Asked, tradeoff};
use permil::control::Control;
use permil::files::{Scenario, load_scenario};
use permil::problem::Problem;
use permil::solve::Method;

use common::SIZES;
use common::blend::{TEN_WHOLE_PARTS, problem};

/// Runs something so many times and tells the median and the worst.
fn timed(what: &str, runs: usize, mut run: impl FnMut() -> String) {
    let mut times = Vec::new();
    let mut said = String::new();
    for _ in 0..runs {
        let started = Instant::now();
        said = run();
        times.push(1000.0 * started.elapsed().as_secs_f64());
    }
    times.sort_by(f64::total_cmp);
    println!("{what:<44} median {:8.1} ms, worst {:8.1} ms; {said}", times[times.len() / 2], times[times.len() - 1]);
}

fn trade(what: &str, problem: &Problem, axis: Axis, formulas: usize, runs: usize) {
    timed(what, runs, || {
        let asked = Asked { axis, formulas, method: Method::Auto, known: None };
        let found = tradeoff(problem, asked, &Control::default(), &|_, _| {}).expect("no failure");
        let proven = found.points.iter().filter(|point| point.proven).count();
        format!(
            "{proven} of {} formulas proven, {} points of the upper limit",
            found.points.len(),
            found.upper_limit.len()
        )
    });
}

fn pushed(what: &str, scenario: &Scenario, problem: &Problem, name: &str, many: bool, runs: usize) {
    let material = problem.palette.materials.iter().position(|it| it.name == name).expect("it is there");
    timed(what, runs, || {
        let caps = caps(problem, &scenario.brief, material, None);
        let asked = push::Asked { material, margin: 1.0, many, method: Method::Auto };
        let found = push::push(problem, &caps, asked, &Control::default(), &|_, _| {}).expect("no failure");
        let proven = found.points.iter().filter(|point| point.proven).count();
        format!("{proven} of {} doses proven, {} beyond", found.points.len(), found.beyond.len())
    });
}

fn main() {
    let runs = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let runs = runs.unwrap_or(if common::in_earnest() { 5 } else { 1 });
    let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    let rose = Problem::new(scenario.palette.clone(), &scenario.brief, &scenario.limits);
    trade("rose: fidelity and price, ends alone", &rose, Axis::Price, 0, runs);
    trade("rose: the same with 24 limits", &rose, Axis::Price, 24, runs);
    trade("rose: the same with 40 limits", &rose, Axis::Price, 40, runs);
    trade("rose: price of effect, 24 limits", &rose, Axis::Effect, 24, runs);
    trade("rose: strength, 24 limits", &rose, Axis::Strength, 24, runs);
    let otto = rose.target_material.expect("the rose has one");
    trade("rose: dose of the natural, 24 limits", &rose, Axis::Dose(otto), 24, runs);
    trade("rose: number of materials", &rose, Axis::Count, 0, runs);
    pushed("rose: push beta-Damascenone", &scenario, &rose, "beta-Damascenone", false, runs);
    pushed("rose: push Phenylethyl acetate, 60 doses", &scenario, &rose, "Phenylethyl acetate", true, runs);
    if common::in_earnest() {
        let (materials, descriptors, seed) = SIZES[1];
        let shelf = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
        trade(&format!("{materials} materials: price, ends alone"), &shelf, Axis::Price, 0, runs);
        trade(&format!("{materials} materials: the same with 24 limits"), &shelf, Axis::Price, 24, runs);
    }
}
