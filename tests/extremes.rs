//! Numbers from the ends of their ranges: the same optimum as the references
//! find, or an honest word that it was not reached. The scenarios below
//! tests/reference/extremes were solved in exact arithmetic, or by integer
//! programmes where doses have steps; small ones are listed here.

mod support;

use std::path::{Path, PathBuf};

use permil::control::Control;
use permil::files;
use permil::problem::Problem;
use permil::solve::backend::Backend;
use permil::solve::{Failure, Method, Solution, Status, propose};
use serde_json::Value;
use support::extremes::scenario;
use support::listing::least_by_listing;

/// Losses this near to each other, times max(1, loss), are the same.
const SAME: f64 = 1e-6;
/// What rounding may do to a bound, relative to max(1, loss).
const ROUNDING: f64 = 1e-9;
/// Nodes after which a search gives up; none of these comes near.
const NODES: u64 = 200_000;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

fn load(folder: &Path) -> Problem {
    match files::load_scenario(&folder.join("brief.toml")) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

fn control() -> Control {
    Control { node_limit: Some(NODES), ..Control::default() }
}

/// The least loss that a reference found, infinite where there is no formula.
#[derive(Clone, Copy)]
struct Best {
    loss: f64,
    /// What can be reached in doses that can be written, where that is more.
    reachable: f64,
}

impl Best {
    fn of(loss: f64) -> Best {
        Best { loss, reachable: loss }
    }

    fn read(reference: &Value) -> Best {
        match reference["status"].as_str() {
            Some("infeasible") => Best::of(f64::INFINITY),
            _ => {
                let loss = reference["loss"].as_f64().expect("a loss");
                Best { loss, reachable: reference["on_grid"].as_f64().unwrap_or(loss).max(loss) }
            }
        }
    }

    /// Whether a solution agrees. With `must_settle` nothing short of a proof
    /// will do, or of the formula that can be written where no proof is to be
    /// had.
    fn agrees(self, solution: &Solution, must_settle: bool) -> Result<(), String> {
        let Best { loss: best, reachable } = self;
        let (status, size) = (solution.status, best.max(1.0));
        let loss = solution.answer.as_ref().map(|answer| answer.evaluation.loss);
        let fail = || Err(format!("{status:?}, loss {loss:?}, bound {:?}; the reference has {best}", solution.bound));
        if best.is_infinite() {
            let agrees = status == Status::Infeasible || !must_settle && status == Status::Unknown;
            return if agrees { Ok(()) } else { fail() };
        }
        let is_bounded = solution.bound.is_some_and(|bound| bound <= best + ROUNDING * size);
        // A formula may pass a rule by the last digits of a continuous dose.
        let is_possible = loss.is_none_or(|loss| loss >= best - SAME * size);
        let is_best = loss.is_some_and(|loss| loss <= best + 2.0 * SAME * size);
        let is_writable = reachable > best + SAME * size && loss.is_some_and(|loss| loss <= reachable + SAME * size);
        let agrees = match status {
            Status::Optimal => is_best,
            Status::Feasible => !must_settle || is_writable,
            Status::Unknown => !must_settle,
            Status::Infeasible => false,
        };
        if is_bounded && is_possible && agrees { Ok(()) } else { fail() }
    }
}

#[test]
fn the_reference_and_every_method_agree() {
    let text = std::fs::read_to_string(folder().join("extremes.json")).expect("extremes.json is there");
    let expected: Value = serde_json::from_str(&text).expect("JSON");
    let expected = expected.as_object().expect("cases by name");
    assert!(expected.len() >= 28, "only {} cases", expected.len());
    let (mut failed, mut proven_by_borrowed) = (Vec::new(), 0);
    for (name, reference) in expected {
        let problem = load(&folder().join("extremes").join(name));
        let best = Best::read(reference);
        for method in
            [Method::Auto, Method::Search, Method::Borrowed(Backend::Clarabel), Method::Borrowed(Backend::Microlp)]
        {
            let own = matches!(method, Method::Auto | Method::Search);
            let judged = match propose(&problem, method, &control()) {
                Ok(solution) => {
                    proven_by_borrowed += usize::from(!own && solution.status == Status::Optimal);
                    best.agrees(&solution, method == Method::Auto)
                }
                Err(Failure::Unsupported(_)) if !own => Ok(()),
                Err(failure) => Err(failure.to_string()),
            };
            failed.extend(judged.err().map(|why| format!("{name}, {method:?}: {why}")));
        }
    }
    assert!(failed.is_empty(), "{failed:#?}");
    assert!(proven_by_borrowed >= 30, "the borrowed solvers prove {proven_by_borrowed} of these");
}

#[test]
fn listing_and_every_method_agree() {
    const CASES: u64 = 400;
    let (mut feasible, mut infeasible, mut failed) = (0, 0, Vec::new());
    for seed in 0..CASES {
        let (palette, brief, limits) = scenario(seed);
        let place = tempfile::tempdir().expect("a folder");
        for (name, text) in [("palette.toml", palette), ("brief.toml", brief), ("limits.toml", limits)] {
            std::fs::write(place.path().join(name), text).expect("written");
        }
        let problem = load(place.path());
        let Some(best) = least_by_listing(&problem) else { continue };
        if best.is_finite() {
            feasible += 1
        } else {
            infeasible += 1
        }
        for method in [Method::Auto, Method::Borrowed(Backend::Microlp)] {
            let judged = match propose(&problem, method, &control()) {
                Ok(solution) => Best::of(best).agrees(&solution, method == Method::Auto),
                Err(failure) => Err(failure.to_string()),
            };
            failed.extend(judged.err().map(|why| format!("seed {seed}, {method:?}: {why}")));
        }
    }
    println!("{feasible} feasible and {infeasible} infeasible briefs");
    assert!(failed.is_empty(), "{} of {feasible} and {infeasible}: {failed:#?}", failed.len());
    assert!(feasible >= 100 && infeasible >= 30, "{feasible} feasible, {infeasible} infeasible");
}
