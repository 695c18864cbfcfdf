//! Every reader of this module, from the disk of the machine.

use std::path::Path;

use super::{Faults, Mixed, ReadFormula, Scenario};
use crate::composition::Composition;
use crate::formula::Formula;
use crate::limits::Limits;
use crate::matches::Matches;
use crate::palette::Palette;
use crate::store::Disk;
use crate::trials::Trials;

/// As [`super::load_scenario_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_scenario(brief_path: &Path) -> Result<Scenario, Faults> {
    super::load_scenario_in(&Disk, brief_path)
}

/// As [`super::load_scenario_text_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_scenario_text(brief_path: &Path, text: String) -> Result<Scenario, Faults> {
    super::load_scenario_text_in(&Disk, brief_path, text)
}

/// As [`super::load_scenario_to_buy_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_scenario_to_buy(brief_path: &Path, wishlist: Option<&Path>) -> Result<Scenario, Faults> {
    super::load_scenario_to_buy_in(&Disk, brief_path, wishlist)
}

/// As [`super::read_file_in`], from the disk.
///
/// # Errors
/// As there.
pub fn read_file(path: &Path) -> Result<String, Faults> {
    super::read_file_in(&Disk, path)
}

/// As [`super::load_palette_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_palette(path: &Path) -> Result<Palette, Faults> {
    super::load_palette_in(&Disk, path)
}

/// As [`super::load_palette_of_formula_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_palette_of_formula(path: &Path) -> Result<Palette, Faults> {
    super::load_palette_of_formula_in(&Disk, path)
}

/// As [`super::load_matches_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_matches(path: &Path, palette: &Palette) -> Result<(Matches, Vec<String>), Faults> {
    super::load_matches_in(&Disk, path, palette)
}

/// As [`super::load_limits_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_limits(path: &Path) -> Result<Limits, Faults> {
    super::load_limits_in(&Disk, path)
}

/// As [`super::load_composition_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_composition(path: &Path, palette: &Palette) -> Result<(Composition, Vec<String>), Faults> {
    super::load_composition_in(&Disk, path, palette)
}

/// As [`super::load_formula_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_formula(path: &Path, palette: &Palette) -> Result<Formula, Faults> {
    super::load_formula_in(&Disk, path, palette)
}

/// As [`super::load_formula_with_warnings_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_formula_with_warnings(path: &Path, palette: &Palette) -> Result<(Formula, Vec<String>), Faults> {
    super::load_formula_with_warnings_in(&Disk, path, palette)
}

/// As [`super::load_formula_with_places_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_formula_with_places(path: &Path, palette: &Palette) -> Result<(ReadFormula, Vec<String>), Faults> {
    super::load_formula_with_places_in(&Disk, path, palette)
}

/// As [`super::load_formula_alone_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_formula_alone(path: &Path) -> Result<(Palette, Formula, Vec<String>), Faults> {
    super::load_formula_alone_in(&Disk, path)
}

/// As [`super::load_mixed_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_mixed(path: &Path) -> Result<(Palette, Mixed, Vec<String>), Faults> {
    super::load_mixed_in(&Disk, path)
}

/// As [`super::load_trials_in`], from the disk.
///
/// # Errors
/// As there.
pub fn load_trials(path: &Path) -> Result<(Palette, Trials, Vec<String>), Faults> {
    super::load_trials_in(&Disk, path)
}

/// As [`super::left_behind_in`], from the disk.
pub fn left_behind(path: &Path) -> Vec<String> {
    super::left_behind_in(&Disk, path)
}
