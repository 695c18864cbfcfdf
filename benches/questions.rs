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
use permil::solve::{Method, Status};

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
        let asked = Asked { axis, formulas, method: Method::Auto };
        let found = tradeoff(problem, asked, &Control::default(), &|_, _| {}).expect("no failure");
        let proven = found.formulas.iter().filter(|(_, solution)| solution.status == Status::Optimal).count();
        let none = found.formulas.iter().filter(|(_, solution)| solution.status == Status::Infeasible).count();
        format!(
            "{} points, {proven} of {} formulas proven, {none} impossible",
            found.points.len(),
            found.formulas.len()
        )
    });
}

fn pushed(what: &str, scenario: &Scenario, problem: &Problem, name: &str, whole: bool, runs: usize) {
    let material = problem.palette.materials.iter().position(|it| it.name == name).expect("it is there");
    timed(what, runs, || {
        let caps = caps(problem, &scenario.brief, material, None);
        let asked = push::Asked { material, margin: 1.0, whole, method: Method::Auto };
        let found = push::push(problem, &caps, asked, &Control::default(), &|_, _| {}).expect("no failure");
        let proven = found.whole.iter().filter(|(_, solution)| solution.status == Status::Optimal).count();
        let (points, beyond, whole) = (found.points.len(), found.beyond.len(), found.whole.len());
        format!("{points} doses and {beyond} beyond, {proven} of {whole} formulas proven")
    });
}

fn main() {
    let runs = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let runs = runs.unwrap_or(if common::in_earnest() { 5 } else { 1 });
    let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    let rose = Problem::new(scenario.palette.clone(), &scenario.brief, &scenario.limits);
    trade("rose: fidelity and price, continuous", &rose, Axis::Price, 0, runs);
    trade("rose: the same with 40 formulas", &rose, Axis::Price, 40, runs);
    trade("rose: price of effect, 12 formulas", &rose, Axis::Effect, 12, runs);
    trade("rose: strength, 12 formulas", &rose, Axis::Strength, 12, runs);
    let otto = rose.target_material.expect("the rose has one");
    trade("rose: dose of the natural, 12 formulas", &rose, Axis::Dose(otto), 12, runs);
    trade("rose: number of materials", &rose, Axis::Count, 0, runs);
    pushed("rose: push beta-Damascenone, continuous", &scenario, &rose, "beta-Damascenone", false, runs);
    pushed("rose: push Phenylethyl acetate, 60 doses", &scenario, &rose, "Phenylethyl acetate", true, runs);
    if common::in_earnest() {
        let (materials, descriptors, seed) = SIZES[1];
        let shelf = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
        trade(&format!("{materials} materials: price, continuous"), &shelf, Axis::Price, 0, runs);
        trade(&format!("{materials} materials: the same with 20 formulas"), &shelf, Axis::Price, 20, runs);
    }
}
