//! What a brief solved again with one rule moved gains from what is known of
//! its neighbours: a budget curve over any doses, and one in whole parts.
//! `cargo bench --bench families [-- RUNS]`, 5 unless said. With `--features
//! highs` the rival, HiGHS, solves each budget afresh.

mod common;

use std::time::Instant;

use common::blend::{Rules, TEN_WHOLE_PARTS, problem};
use permil::analysis::along::along;
use permil::analysis::axis::Axis;
use permil::brief::Match;
use permil::control::Control;
use permil::model::{Blend, BlendRow};
use permil::problem::Problem;
use permil::solve::direct::{Family, best};
use permil::solve::search::{ParametricModel, Started};
use permil::solve::{Method, Status, propose};

/// Median and worst of some runs, in milliseconds.
fn timed(what: &str, runs: usize, mut run: impl FnMut() -> String) {
    let (mut times, mut said) = (Vec::new(), String::new());
    for _ in 0..runs {
        let started = Instant::now();
        said = run();
        times.push(1000.0 * started.elapsed().as_secs_f64());
    }
    times.sort_by(f64::total_cmp);
    println!("{what:<46} median {:8.1} ms, worst {:8.1} ms; {said}", times[times.len() / 2], times[times.len() - 1]);
}

/// Budgets from half of what the target's own blend costs to twice that.
fn budgets(count: usize, middle: f64) -> Vec<f64> {
    (0..count).map(|at| middle * (0.5 + 1.5 * at as f64 / (count - 1) as f64)).collect()
}

fn sum(losses: impl Iterator<Item = Option<f64>>) -> String {
    let losses: Vec<Option<f64>> = losses.collect();
    let known = losses.iter().flatten().count();
    format!("{known} of {} solved, losses add up to {:.6}", losses.len(), losses.iter().flatten().sum::<f64>())
}

fn continuous(matching: Match, count: usize, runs: usize) {
    let instance = common::instance(200, 40, 1);
    let relaxed = problem(&instance, Rules { matching, ..TEN_WHOLE_PARTS }).relaxed();
    let without = Axis::Price.without(&relaxed);
    let budgets = budgets(count, instance.blend_price_per_kg);
    let members: Vec<Problem> = budgets.iter().map(|&at| Axis::Price.at(&without, at)).collect();
    let control = Control::default();
    let loss = |solution: permil::solve::Solution| solution.answer.map(|answer| answer.evaluation.loss);
    let name = |how: &str| format!("{count} budgets, 200 x 40 {matching:?}: {how}");
    timed(&name("each afresh"), runs, || sum(members.iter().map(|member| best(member, &control).ok().and_then(loss))));
    timed(&name("one family"), runs, || {
        let Some(loosest) = members.last() else { return String::new() };
        let mut family = Family::new(loosest, &Axis::Price.kind()).expect("a budget is one row");
        // From the loosest down, each from the basis of the one before.
        sum(members.iter().rev().map(|member| family.best(member, &control).ok().and_then(loss)))
    });
    timed(&name("its programmes alone, with bounds"), runs, || {
        let blend = Blend::new(&members[members.len() - 1]);
        let Started::Ready(mut sweep) = ParametricModel::start(&blend, relaxed.worst_loss()) else {
            return String::new();
        };
        let is_budget = |row: &BlendRow| is_the_budget(&members[0], row.rule);
        let row = blend.rows.iter().position(is_budget).expect("there is a budget");
        let upper = blend.rows[row].upper;
        let most = budgets[budgets.len() - 1];
        let solved = budgets.iter().rev().filter_map(|at| {
            sweep.tighten(row, upper * at / most);
            sweep.solve()
        });
        format!("bounds add up to {:.6}", solved.map(|level| level.bound).sum::<f64>())
    });
    #[cfg(feature = "highs")]
    timed(&name("HiGHS afresh"), 1, || {
        use permil::solve::backend::Backend;
        sum(members
            .iter()
            .map(|member| propose(member, Method::Borrowed(Backend::Highs), &control).ok().and_then(loss)))
    });
}

/// Whether a rule is the budget.
fn is_the_budget(problem: &Problem, rule: usize) -> bool {
    problem.rules[rule].kind == Axis::Price.kind()
}

fn whole(materials: usize, descriptors: usize, count: usize, runs: usize) {
    let instance = common::instance(materials, descriptors, 1);
    let whole = problem(&instance, TEN_WHOLE_PARTS);
    let without = Axis::Price.without(&whole);
    let limits = budgets(count, instance.blend_price_per_kg);
    let control = Control::default();
    let told = |solutions: &[permil::solve::Solution]| {
        let proven = solutions.iter().filter(|solution| solution.status == Status::Optimal).count();
        let nodes: u64 = solutions.iter().map(|solution| solution.nodes).sum();
        format!("{proven} of {count} proven, {nodes} nodes")
    };
    let name = |how: &str| format!("{count} budgets in whole parts, {materials} x {descriptors}: {how}");
    timed(&name("each afresh"), runs, || {
        let solve = |&at: &f64| propose(&Axis::Price.at(&without, at), Method::Auto, &control).expect("it is solved");
        told(&limits.iter().map(solve).collect::<Vec<_>>())
    });
    timed(&name("a family"), runs, || {
        let bounds = vec![0.0; limits.len()];
        told(&along(Axis::Price, &without, &limits, &bounds, Method::Auto, &control, &|_, _| {}).expect("it is solved"))
    });
}

fn main() {
    let runs = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let runs = runs.unwrap_or(if common::in_earnest() { 5 } else { 1 });
    let count = if common::in_earnest() { 100 } else { 5 };
    for matching in [Match::Level, Match::Balance] {
        continuous(matching, count, runs);
    }
    if common::in_earnest() {
        whole(40, 20, 20, runs);
        whole(200, 40, 20, runs.min(3));
    }
}
