//! How long the questions around a proposal take: leeway and starts on the
//! rose scenario and on a seeded shelf of 200 materials, and a formula moved.
//! `cargo bench --bench leeway -- RUNS`, 5 unless said.

mod common;

use std::time::Instant;

use permil::analysis::add::add;
use permil::analysis::adjust::{Wish, adjust};
use permil::analysis::leeway::{self, leeway};
use permil::analysis::starts::{Asked, least_distance, starts};
use permil::control::Control;
use permil::files::{load_formula, load_scenario};
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::{Method, Solution, propose};

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
    println!("{what:<40} median {:8.1} ms, worst {:8.1} ms; {said}", times[times.len() / 2], times[times.len() - 1]);
}

fn proposal(problem: &Problem) -> (Solution, Formula) {
    let solution = propose(problem, Method::Auto, &Control::default()).expect("the method takes it");
    let formula = solution.answer.clone().expect("a formula").formula;
    (solution, formula)
}

fn around(name: &str, problem: &Problem, runs: usize) {
    let control = Control::default();
    let mut found = None;
    timed(&format!("{name}: the proposal, proven"), 1, || {
        let solved = proposal(problem);
        let said = format!("{:?}", solved.0.status);
        found = Some(solved);
        said
    });
    let Some((best, formula)) = found else { return };
    timed(&format!("{name}: leeway, 1 point"), runs, || {
        let asked = leeway::Asked { margin: 1.0, any_doses: false, method: Method::Auto, best: Some(&best) };
        let found = leeway(problem, &formula, asked, &control, &|_, _| {}).expect("no failure");
        let ends = found.spans.iter().flat_map(|span| [&span.min, &span.max]);
        let proven = ends.flatten().filter(|end| end.proven).count();
        format!("{} materials, {proven} ends proven", found.spans.len())
    });
    timed(&format!("{name}: six starts, 3 points"), runs, || {
        let asked = Asked { count: 6, margin: 3.0, seed: 1 };
        let found = starts(problem, asked, best.clone(), Method::Auto, &control, &|_, _| {}).expect("no failure");
        let least = least_distance(&found.chosen).unwrap_or_default();
        format!("{} of {} candidates, {least:.2} share points apart", found.chosen.len(), found.candidates)
    });
}

fn main() {
    let runs = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let runs = runs.unwrap_or(if common::in_earnest() { 5 } else { 1 });
    let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    let rose = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
    around("rose", &rose, runs);

    let file = std::path::Path::new("profiles/rose-otto/mod-1.toml");
    let formula = load_formula(file, &rose.palette).expect("no faults");
    let counted = |name: &str| {
        let is = |target: &permil::problem::Target| rose.palette.descriptors[target.descriptor].name == name;
        rose.targets.iter().position(is).expect("it counts")
    };
    let wish = Wish { more: vec![counted("rosy")], less: vec![counted("metallic")], by: 0.5, ..Wish::default() };
    let control = Control::default();
    timed("rose: more rosy, less metallic", runs, || {
        let found = adjust(&rose, &formula, &wish, &control).expect("no failure");
        format!("{:?}, {:.1} ppt at least", found.status, found.bound)
    });
    let wish = Wish { less: vec![counted("metallic")], by: 0.05, ..Wish::default() };
    timed("rose: less metallic by adding alone", runs, || {
        let found = add(&rose, &formula, &wish, 20.0, &control).expect("no failure");
        format!("{:?}", found.status)
    });

    let (materials, descriptors, seed) = SIZES[1];
    if common::in_earnest() {
        let shelf = problem(&common::instance(materials, descriptors, seed), TEN_WHOLE_PARTS);
        around(&format!("{materials} materials"), &shelf, runs);
    }
}
