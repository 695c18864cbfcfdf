//! Input files: TOML text to domain and back.
//!
//! Every reader goes through a whole file and gathers all that is wrong with
//! it, see [`Faults`]; [`load_scenario`] gathers over all the files that a
//! brief names. A function that ends in `_in` reads from any
//! [store](crate::store); the one without reads from the disk. Ranges of numbers stand in [`keys`] alone.

mod allergens;
mod alone;
mod base;
mod batch;
mod beside;
mod brief;
mod briefs;
mod composition;
mod decimal;
pub mod edit;
mod edit_palette;
mod edit_stock;
mod fault;
pub(crate) mod form;
mod formula;
mod fresh;
mod history;
pub mod keys;
mod learned;
mod limits;
mod matches;
mod mend;
mod near;
mod on_disk;
mod palette;
mod reach;
mod review;
mod rule;
mod said;
mod sensitivity;
pub mod sheet;
pub mod shipped;
mod snippet;
mod source;
mod substances;
mod syntax;
mod thresholds;
mod trials;
mod value;
mod walk;
mod wishlist;
mod write;
mod write_palette;

use std::path::Path;

use crate::brief::Brief;
use crate::composition::Composition;
use crate::formula::Formula;
use crate::limits::Limits;
use crate::matches::Matches;
use crate::palette::Palette;
use crate::store::Store;

pub use alone::load_formula_alone_in;
pub use batch::{Mixed, batch_text, batch_text_in, load_mixed_in};
pub use briefs::briefs_within;
pub use edit_palette::{Edit, edited_palette};
pub use edit_stock::restocked_palette;
pub use fault::{Fault, Faults};
pub use formula::Read as ReadFormula;
pub use fresh::{FolderError, write_folder};
pub use history::{
    HistoryChange, HistoryStep, history, history_path, palette_changes, undone, with_step, without_last_step,
};
pub use learned::{learned_palette_text, stamped_text};
pub use near::nearest;
pub use on_disk::{
    left_behind, load_composition, load_formula, load_formula_alone, load_formula_with_places,
    load_formula_with_warnings, load_limits, load_matches, load_mixed, load_palette, load_palette_of_formula,
    load_scenario, load_scenario_text, load_scenario_to_buy, load_trials, read_file,
};
pub use sensitivity::{check_sensitivities, sensitivities};
pub use source::LARGEST_FILE;
pub use substances::{check_substances, substances};
pub use thresholds::{check_thresholds, thresholds};
pub use trials::load_trials_in;
pub use write::{
    SaveError, could_save, formula_text, formula_text_in, in_place, make_folder, save_bytes, save_formula, save_text,
};
pub use write_palette::palette_text;

/// A brief and everything that it names.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// The palette.
    pub palette: Palette,
    /// The brief.
    pub brief: Brief,
    /// The limits files, in the order in which the brief names them.
    pub limits: Vec<Limits>,
    /// What is no fault, but may not be what was meant.
    pub warnings: Vec<String>,
}

/// Reads a brief, and the palette, the limits and the formula that it names,
/// by paths relative to it.
///
/// # Errors
/// All the faults of all these files. Where the palette does not load, the
/// names in the brief are not checked, and a note says so.
pub fn load_scenario_in(store: &dyn Store, brief_path: &Path) -> Result<Scenario, Faults> {
    load(store, brief_path, brief::Purpose::default())
}

/// The same for a brief that is at hand as a text and would stand at a path.
///
/// # Errors
/// As [`load_scenario_in`].
pub fn load_scenario_text_in(store: &dyn Store, brief_path: &Path, text: String) -> Result<Scenario, Faults> {
    let mut tally = fault::Tally::default();
    let mut own = fault::Tally::default();
    let purpose = brief::Purpose::default();
    let read = reach::read_text(store, brief_path, text, &mut own, |sink, root| {
        brief::read(sink, root, brief_path, purpose, &mut tally)
    });
    tally.append(own);
    tally.finish(Some(read))
}

/// The text of a file, no bigger than what is read.
///
/// # Errors
/// What is wrong with the file as a whole.
pub fn read_file_in(store: &dyn Store, path: &Path) -> Result<String, Faults> {
    let mut tally = fault::Tally::default();
    let text = match source::Source::read(store, path) {
        Ok(source) => Some(source.text),
        Err(error) => {
            tally.add((vec![reach::fault(path, error)], 0));
            None
        }
    };
    tally.finish(text)
}

/// [`load_scenario_in`] where it is asked what to buy: the materials of a wishlist, a
/// palette with the same descriptors, join those of the palette as ones that
/// are not on the shelf.
///
/// # Errors
/// As [`load_scenario_in`]; the wishlist has to agree with the palette in
/// currency and scale, and to share no name with it.
pub fn load_scenario_to_buy_in(
    store: &dyn Store,
    brief_path: &Path,
    wishlist: Option<&Path>,
) -> Result<Scenario, Faults> {
    load(store, brief_path, brief::Purpose { buying: true, wishlist })
}

fn load(store: &dyn Store, brief_path: &Path, purpose: brief::Purpose<'_>) -> Result<Scenario, Faults> {
    // The palette's faults come first: some of the brief's may follow from them.
    let mut tally = fault::Tally::default();
    let mut own = fault::Tally::default();
    let read = reach::read_path(store, brief_path, &mut own, |sink, root| {
        brief::read(sink, root, brief_path, purpose, &mut tally)
    });
    tally.append(own);
    tally.finish(read.map(|(_, scenario)| scenario))
}

/// Reads a palette.
///
/// # Errors
/// All its faults.
pub fn load_palette_in(store: &dyn Store, path: &Path) -> Result<Palette, Faults> {
    let mut tally = fault::Tally::default();
    let read = reach::read_path(store, path, &mut tally, palette::read);
    tally.finish(read.map(|(_, shelf)| shelf.palette))
}

/// Reads the palette that a formula names, by its path relative to the formula.
///
/// # Errors
/// All the faults of the palette; or that the formula names none.
pub fn load_palette_of_formula_in(store: &dyn Store, path: &Path) -> Result<Palette, Faults> {
    let mut tally = fault::Tally::default();
    let mut others = fault::Tally::default();
    let folder = path.parent().unwrap_or(Path::new(""));
    let read = reach::read_path(store, path, &mut tally, |sink, root| {
        let root = walk::Table::root(sink, root);
        let field = root.require("palette", "expected the path of its palette: palette = \"palette.toml\"")?;
        let (_, shelf) = reach::read_named(field, folder, field.name()?, &mut others, palette::read)?;
        Some(shelf.palette)
    });
    tally.append(others);
    tally.finish(read.and_then(|(_, palette)| palette))
}

/// Reads dilution matches between materials of a palette, with what may not be
/// what was meant.
///
/// # Errors
/// All its faults.
pub fn load_matches_in(store: &dyn Store, path: &Path, palette: &Palette) -> Result<(Matches, Vec<String>), Faults> {
    let mut tally = fault::Tally::default();
    let mut warnings = Vec::new();
    let read =
        reach::read_path(store, path, &mut tally, |sink, root| matches::read(sink, root, palette, &mut warnings));
    tally.finish(read.and_then(|(_, matches)| matches).map(|matches| (matches, warnings)))
}

/// What a palette's file says that a sheet has no place for, as warnings.
pub fn left_behind_in(store: &dyn Store, path: &Path) -> Vec<String> {
    write_palette::left_behind(&store.text(path, LARGEST_FILE).unwrap_or_default())
}

/// Reads a limits file.
///
/// # Errors
/// All its faults.
pub fn load_limits_in(store: &dyn Store, path: &Path) -> Result<Limits, Faults> {
    let mut tally = fault::Tally::default();
    let read = reach::read_path(store, path, &mut tally, limits::read);
    tally.finish(read.map(|(_, limits)| limits))
}

/// Reads a composition and finds its parts in a palette, with what may not be
/// what was meant. Parts that the palette lacks are no fault.
///
/// # Errors
/// All its faults.
pub fn load_composition_in(
    store: &dyn Store,
    path: &Path,
    palette: &Palette,
) -> Result<(Composition, Vec<String>), Faults> {
    let mut tally = fault::Tally::default();
    let mut warnings = Vec::new();
    let read = reach::read_path(store, path, &mut tally, |sink, root| {
        composition::read(sink, root, Some(palette), &mut warnings)
    });
    tally.finish(read.and_then(|(_, read)| read)).map(|read| (read, warnings))
}

/// Reads a formula whose parts name materials of a palette. The parts need
/// not add up to 1000, and those of 0 are left out.
///
/// # Errors
/// All its faults.
pub fn load_formula_in(store: &dyn Store, path: &Path, palette: &Palette) -> Result<Formula, Faults> {
    load_formula_with_warnings_in(store, path, palette).map(|(formula, _)| formula)
}

/// The same, with what may not be what was meant: the formula names another
/// palette than the one in use.
///
/// # Errors
/// All its faults.
pub fn load_formula_with_warnings_in(
    store: &dyn Store,
    path: &Path,
    palette: &Palette,
) -> Result<(Formula, Vec<String>), Faults> {
    load_formula_with_places_in(store, path, palette).map(|(read, warnings)| (read.formula, warnings))
}

/// The same, with the place of each of its parts.
///
/// # Errors
/// All its faults.
pub fn load_formula_with_places_in(
    store: &dyn Store,
    path: &Path,
    palette: &Palette,
) -> Result<(ReadFormula, Vec<String>), Faults> {
    let mut tally = fault::Tally::default();
    let mut warnings = Vec::new();
    let read =
        reach::read_path(store, path, &mut tally, |sink, root| formula::read(sink, root, Some(palette), &mut warnings));
    tally.finish(read.map(|(_, read)| (read, warnings)))
}
