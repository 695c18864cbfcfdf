//! A formula that is read without a brief: it has to name its palette.

use std::path::Path;

use toml::de::{DeTable, DeValue};

use super::fault::{Faults, Sink, Tally};
use super::formula;
use super::palette::{self, Shelf};
use super::reach::{read_named, read_path};
use super::walk::Table;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::store::Store;

/// Reads a formula and the palette that it names, by a path relative to it;
/// with what is no fault, but may not be what was meant.
///
/// # Errors
/// All the faults of both files.
pub fn load_formula_alone_in(store: &dyn Store, path: &Path) -> Result<(Palette, Formula, Vec<String>), Faults> {
    let (mut tally, mut own) = (Tally::default(), Tally::default());
    let mut warnings = Vec::new();
    let read = read_path(store, path, &mut own, |sink, root| {
        let shelf = named_palette(sink, root, path, &mut tally);
        let known = shelf.as_ref().filter(|shelf| shelf.names_known).map(|shelf| &shelf.palette);
        let read = formula::read(sink, root, known, &mut warnings);
        (shelf, read.formula)
    });
    tally.append(own);
    let read = tally.finish(read.map(|(_, read)| read))?;
    // A formula without a palette has a fault and does not come this far.
    let (shelf, formula) = read;
    Ok((shelf.unwrap_or_else(Shelf::unknown).palette, formula, warnings))
}

/// The palette that a formula or a batch names.
pub(super) fn named_palette(sink: &Sink<'_>, root: &DeTable<'_>, path: &Path, tally: &mut Tally) -> Option<Shelf> {
    let table = Table::root(sink, root);
    let help = "expected the palette's path, relative to the formula; or give a brief that names it";
    let field = table.require("palette", help)?;
    // What is wrong with the value itself is told where the formula is read.
    let DeValue::String(_) = field.value.get_ref() else { return None };
    let folder = path.parent().unwrap_or(Path::new(""));
    let named = field.value.get_ref().as_str().filter(|named| !named.trim().is_empty())?;
    read_named(field, folder, named, tally, palette::read).map(|(_, shelf)| shelf)
}
