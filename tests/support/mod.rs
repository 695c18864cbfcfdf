//! What several integration tests share.

#![allow(dead_code, reason = "each test binary uses a part of it")]

pub mod certificates;
pub mod charts;
pub mod documents;
pub mod extremes;
pub mod forge;
pub mod listing;
pub mod mps;
pub mod near;
pub mod page;
pub mod program;
pub mod published;
pub mod questions;
pub mod random;
pub mod smelled;
pub mod views;

use std::path::Path;

use permil::control::Control;
use permil::files;
use permil::model::programme::Programme;
use permil::problem::Problem;
use permil::solve::backend::{Backend, LpSolution, SolveError};

/// Solves without a deadline.
pub fn solve(backend: Backend, programme: &Programme) -> Result<LpSolution, SolveError> {
    permil::solve::backend::solve(backend, programme, &Control::default())
}

/// Fails unless `got` is within `relative` of `wanted`, of the larger of 1 and
/// its size.
#[track_caller]
pub fn assert_close(got: f64, wanted: f64, relative: f64, what: &str) {
    let by = (got - wanted).abs();
    assert!(by <= relative * wanted.abs().max(1.0), "{what}: {got} instead of {wanted}, off by {by:e}");
}

/// The problem of a brief's file.
#[track_caller]
pub fn problem_at(brief: &Path) -> Problem {
    match files::load_scenario(brief) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}: {}", brief.display(), faults.render(false)),
    }
}

/// The problem of a brief that names palette.toml, from the texts of the two.
#[track_caller]
pub fn load(palette: &str, brief: &str) -> Problem {
    load_beside(palette, brief, &[])
}

/// The same with further files beside them: (name, text).
#[track_caller]
pub fn load_beside(palette: &str, brief: &str, beside: &[(&str, &str)]) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in [("palette.toml", palette), ("brief.toml", brief)].iter().chain(beside) {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    problem_at(&folder.path().join("brief.toml"))
}
