//! Spreadsheets as CSV: a palette or a formula in and out. What is not clear is
//! a fault that shows row, column and cell; nothing is guessed.

mod cells;
mod columns;
mod export;
mod formula;
mod number;
mod said;
mod shelf;
mod table;
mod text;

use std::path::Path;

use super::fault::{Faults, Sink, Tally};
use super::reach;
use super::source::{ReadError, Source};
use crate::palette::Palette;
use crate::store::{Disk, Store};

pub use export::{formula_sheet, palette_sheet};
pub use formula::ReadSheet;
pub use number::DecimalSign;

/// How a sheet is read, where it does not say so itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// What parts the cells of a row; found out unless it is said.
    pub delimiter: Option<u8>,
    /// The mark before the decimals; found out unless it is said.
    pub decimal: Option<DecimalSign>,
    /// The label of the currency.
    pub currency: Option<String>,
    /// What a drop weighs, in grams; for formulas counted in drops.
    pub drop_grams: Option<f64>,
    /// What a bottle's number without a percent sign counts; where that is not
    /// said, a number of at most 1 is a fault.
    pub bottle: Option<BottleUnit>,
    /// Headings of the sheet, each with what its column holds: a known heading,
    /// or `descriptor`.
    pub map: Vec<(String, String)>,
    /// Headings of columns that are left out.
    pub ignore: Vec<String>,
}

/// What a bottle's number without a percent sign counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BottleUnit {
    /// 0.1 is a tenth: 10 %.
    Fraction,
    /// 0.1 is a tenth of a percent.
    Percent,
}

/// A shelf from a sheet.
#[derive(Clone, Debug)]
pub struct ReadShelf {
    /// The palette.
    pub palette: Palette,
    /// For each descriptor of the palette, how many cells of its column hold
    /// something.
    pub scored: Vec<usize>,
    /// What a person should look at: rows whose names look alike.
    pub notes: Vec<String>,
}

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Writing {
    /// What parts the cells of a row.
    pub delimiter: u8,
    /// The mark before the decimals.
    pub decimal: DecimalSign,
}

/// Reads a palette from a sheet with one row a material.
///
/// # Errors
/// All its faults, each with row, column and cell.
pub fn import_palette_in(store: &dyn Store, path: &Path, reading: &Reading) -> Result<Palette, Faults> {
    import_shelf_in(store, path, reading).map(|read| read.palette)
}

/// The same, with what a person should look over afterwards.
///
/// # Errors
/// As [`import_palette_in`].
pub fn import_shelf_in(store: &dyn Store, path: &Path, reading: &Reading) -> Result<ReadShelf, Faults> {
    read(store, path, |sink| shelf::read(sink, reading))
}

/// Reads a formula from a sheet with one row a material.
///
/// # Errors
/// All its faults, each with row, column and cell.
pub fn import_formula_in(
    store: &dyn Store,
    path: &Path,
    palette: &Palette,
    reading: &Reading,
) -> Result<ReadSheet, Faults> {
    read(store, path, |sink| formula::read(sink, palette, reading))
}

/// [`import_palette_in`] from the disk.
///
/// # Errors
/// As there.
pub fn import_palette(path: &Path, reading: &Reading) -> Result<Palette, Faults> {
    import_palette_in(&Disk, path, reading)
}

/// [`import_shelf_in`] from the disk.
///
/// # Errors
/// As there.
pub fn import_shelf(path: &Path, reading: &Reading) -> Result<ReadShelf, Faults> {
    import_shelf_in(&Disk, path, reading)
}

/// [`import_formula_in`] from the disk.
///
/// # Errors
/// As there.
pub fn import_formula(path: &Path, palette: &Palette, reading: &Reading) -> Result<ReadSheet, Faults> {
    import_formula_in(&Disk, path, palette, reading)
}

/// The known headings of a shelf, in the order in which they are written.
pub fn headings() -> impl Iterator<Item = &'static str> {
    shelf::known_keys()
}

fn read<T>(store: &dyn Store, path: &Path, read: impl FnOnce(&Sink<'_>) -> Option<T>) -> Result<T, Faults> {
    let mut tally = Tally::default();
    let value = match Source::read(store, path) {
        Ok(source) => {
            let sink = Sink::new(&source, store);
            let value = read(&sink);
            tally.add(sink.into_faults());
            value
        }
        Err(error) => {
            let old = matches!(error, ReadError::NotUtf8 { utf16: false, .. });
            let fault = reach::fault(path, error);
            let help = "an older spreadsheet saved it in another encoding, such as Windows-1252; save it once more as \"CSV UTF-8\"";
            tally.add((vec![if old { fault.help(help.to_owned()) } else { fault }], 0));
            None
        }
    };
    tally.finish(value)
}
