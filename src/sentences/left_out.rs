//! Why a material on offer was not looked at.

use crate::problem::{Absence, Problem};

/// Without a full stop.
pub fn left_out(problem: &Problem, why: Option<Absence>) -> String {
    match why {
        None => "its rules leave it no dose".to_owned(),
        Some(Absence::UnnamedCarrier) => "a carrier that [doses] does not name".to_owned(),
        Some(Absence::TargetItself) => "it is the target itself, and [doses] does not name it".to_owned(),
        Some(Absence::Rule(rule)) => {
            let rule = &problem.rules[rule];
            format!("{} ({})", problem.sentence(rule), rule.place)
        }
    }
}
