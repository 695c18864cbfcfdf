//! A formula measured against itself, where nobody wants anything else of it.

use crate::brief::{Basis, Brief, Match, TargetFrom};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::place::{Place, Placed};
use crate::problem::Problem;

/// A problem whose target is the formula's own profile, the strength-weighted
/// mean of the scores; without any rule.
pub fn own_problem(palette: Palette, formula: &Formula) -> Problem {
    let place = Place { file: palette.file.clone(), line: 0, column: 0 };
    let brief = Brief {
        file: palette.file.clone(),
        title: formula.title.clone(),
        matching: Match::Level,
        target_from: Some(TargetFrom::Formula(Placed { value: formula.clone(), place })),
        target: Vec::new(),
        basis: Basis::Neat,
        step: None,
        min_dose: None,
        max_materials: None,
        off_note_weight: 1.0,
        strength_min: None,
        strength_max: None,
        only: None,
        own_only: None,
        max_price: None,
        max_price_of_effect: None,
        uses: Vec::new(),
        doses: Vec::new(),
        groups: Vec::new(),
        ratios: Vec::new(),
    };
    Problem::new(palette, &brief, &[])
}
