//! Why a material on offer was not looked at.

use crate::problem::{Absence, Problem};

/// Without a full stop.
pub fn left_out(problem: &Problem, why: Option<Absence>) -> String {
    match why {
        None => "its rules leave it no dose".to_owned(),
        Some(absence) => problem.reason_of_absence(absence),
    }
}
