//! A formula measured against itself, where nobody wants anything else of it.

use crate::brief::{Brief, Match, TargetFrom};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::place::{Place, Placed};
use crate::problem::Problem;

/// A problem whose target is the formula's own profile, the strength-weighted
/// mean of the scores; without any rule.
pub fn own_problem(palette: Palette, formula: &Formula) -> Problem {
    let place = Place { file: palette.file.clone(), line: 0, column: 0 };
    let brief = Brief {
        title: formula.title.clone(),
        basis: formula.basis,
        matching: Match::Level,
        target_from: Some(TargetFrom::Formula(Placed { value: formula.clone(), place })),
        ..Brief::empty(palette.file.clone())
    };
    Problem::new(palette, &brief, &[])
}
