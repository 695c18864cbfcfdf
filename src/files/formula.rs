//! formula.toml.

use std::path::Path;

use toml::de::DeTable;

use super::fault::Sink;
use super::keys;
use super::near;
use super::snippet::short;
use super::value::Field;
use super::walk::Table;
use crate::brief::Basis;
use crate::escape::escaped;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::place::{Place, Placed};
use crate::units::Ppt;

/// The words for a basis.
pub(super) const BASES: [(&str, Basis); 2] = [("neat", Basis::Neat), ("bottle", Basis::Bottle)];

/// A formula, and where each of its parts was written.
#[derive(Clone, Debug)]
pub struct Read {
    /// The formula.
    pub formula: Formula,
    /// (material, place), in the order of its parts.
    pub places: Vec<(usize, Place)>,
}

/// Reads a formula; `None` for the shelf where no names are known.
pub(super) fn read(sink: &Sink<'_>, root: &DeTable<'_>, palette: Option<&Palette>, warnings: &mut Vec<String>) -> Read {
    let root = Table::root(sink, root);
    let title = root.get("title").and_then(Field::text).map(str::to_owned);
    let basis = root.get("basis").and_then(|field| field.word(&BASES)).unwrap_or_default();
    if let (Some(named), Some(palette)) = (root.get("palette").and_then(Field::name), palette) {
        warnings.extend(other_palette(sink, named, palette));
    }
    let parts = root.require("parts", "expected a table: [parts] with \"material\" = dose");
    let parts = parts.and_then(|field| parts_of(field, "[parts]", palette)).unwrap_or_default();
    root.close();
    let places = parts.iter().map(|(material, dose)| (*material, dose.place.clone())).collect();
    let parts = parts.into_iter().map(|(material, dose)| (material, dose.value)).collect();
    Read { formula: Formula { file: Some(sink.source.file.clone()), title, basis, parts }, places }
}

/// (material, dose), in the order of the palette; `name` is what the table is
/// called in messages.
pub(super) fn parts_of(field: &Field<'_>, name: &str, palette: Option<&Palette>) -> Option<Vec<(usize, Placed<Ppt>)>> {
    let table = field.table(name)?;
    let mut parts = Vec::new();
    let mut sum: i128 = 0;
    for entry in table.named() {
        let dose = entry.dose(&keys::PART);
        sum += i128::from(dose.unwrap_or_default().units());
        let index = palette.and_then(|palette| material(entry, entry.key, true, palette));
        if let (Some(index), Some(dose)) = (index, dose)
            && !dose.is_zero()
        {
            parts.push((index, entry.placed(dose)));
        }
    }
    if sum == 0 {
        table.missing("the formula has no parts", "expected at least one dose above 0");
    }
    if sum > i128::from(keys::LARGEST_SUM_PPT) * i128::from(Ppt::UNITS) {
        table.report("the parts add up to more than a formula can hold", "expected parts that add up to about 1000");
    }
    table.close_named();
    parts.sort_by_key(|(index, _)| *index);
    Some(parts)
}

/// The material of a name; a complaint at the key or the value that names it
/// where there is none.
pub(super) fn material(entry: &Field<'_>, name: &str, at_key: bool, palette: &Palette) -> Option<usize> {
    let index = palette.materials.iter().position(|material| material.name == name);
    if index.is_none() {
        let names = palette.materials.iter().map(|material| material.name.as_str());
        let message = format!("no material of the palette is named \"{}\"", short(name));
        // Thousands of hints that nobody will see would take their time.
        let hint = if entry.sink.is_full() { String::new() } else { near::hint(name, names) };
        if at_key { entry.report_key(message, hint) } else { entry.report(message, hint) }
    }
    index
}

/// A warning where a formula names another palette than the one in use.
pub(super) fn other_palette(sink: &Sink<'_>, named: &str, palette: &Palette) -> Option<String> {
    let formula = &*sink.source.file;
    let path = Path::new(formula).parent().unwrap_or(Path::new("")).join(named);
    (!sink.store.is_same(&path, Path::new(&*palette.file))).then(|| {
        let (path, used) = (path.to_string_lossy(), &palette.file);
        format!("{} was made with the palette {}, not with {}", escaped(formula), escaped(&path), escaped(used))
    })
}
