//! Strengths of a sheet that are words, or stand beside another material.

use super::cells::{Beside, Cells};
use super::columns::Known;
use super::table::Row;
use crate::files::keys::{self, NumberKey};
use crate::files::said::unfollowed;
use crate::files::thresholds;
use crate::follow::follow as fill_in;
use crate::palette::Material;
use crate::strength::{Said, StrengthWord, THRESHOLDS, Times};

/// A strength in a number or a word, and what it rests on. `column` says where each
/// heading stands.
pub(super) fn strength(cells: &Cells<'_>, column: impl Fn(Known) -> Option<usize>, row: &Row) -> (Option<f64>, Said) {
    let filled = |known| column(known).filter(|&at| !row.cell(at).is_empty());
    let number = |known, key: &NumberKey| column(known).and_then(|at| cells.number(row, at, key, Beside::Nothing));
    let factor = || number(Known::StrengthFactor, &keys::STRENGTH_FACTOR);
    if let Some(at) = filled(Known::StrengthOf) {
        if let Some(strength) = filled(Known::Strength) {
            let help = "a material has one of the two: leave one cell empty";
            cells.report(row, strength, "strength and strength_of stand in one row", help);
        }
        let Some(beside) = filled(Known::Times) else {
            let help = "expected how many times as strong: a number, or thresholds";
            cells.report(row, at, "strength_of stands without times", help);
            return (None, Said::Number);
        };
        let by_air = row.cell(beside).eq_ignore_ascii_case(THRESHOLDS);
        let times =
            if by_air { Some(Times::Thresholds) } else { number(Known::Times, &keys::TIMES).map(Times::Number) };
        let said = cells.text(row, at).zip(times).map(|(of, times)| Said::Of { of, times, factor: factor() });
        return (None, said.unwrap_or_default());
    }
    if let Some(at) = filled(Known::Times) {
        cells.report(row, at, "times stands without strength_of", "strength_of names the material that it is beside");
    }
    let Some(at) = filled(Known::Strength) else { return (None, Said::Number) };
    let word = StrengthWord::ALL.iter().find(|(word, _)| row.cell(at).eq_ignore_ascii_case(word));
    match word {
        Some(&(_, word)) => (Some(word.strength()), Said::Word { word, factor: factor() }),
        None => (number(Known::Strength, &keys::MATERIAL_STRENGTH), Said::Number),
    }
}

/// Fills in the strengths that follow from other materials, which stand in a column.
pub(super) fn follow(cells: &Cells<'_>, column: Option<usize>, rows: &[&Row], materials: &mut [Material]) {
    let Some(column) = column else { return };
    for (at, why) in fill_in(materials, thresholds()) {
        let Said::Of { of, .. } = &materials[at].said else { continue };
        let names = materials.iter().map(|material| material.name.as_str());
        if let Some((message, help)) = unfollowed(of, &why, names) {
            cells.report(rows[at], column, message, help);
        }
    }
}
