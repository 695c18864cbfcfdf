//! Bases: materials of a palette that are mixed by a formula of their own. What
//! they smell of, how strong they are, what they cost and what they hold follow
//! from that formula, to any depth.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::fault::{Faults, Sink, Tally};
use super::formula;
use super::palette::{Shelf, read_as_written};
use super::reach::{read_named, read_path};
use super::value::Field;
use super::walk::Table;
use crate::brief::Basis;
use crate::escape::escaped;
use crate::formula::Formula;
use crate::palette::{Base, Material, Palette};
use crate::store::Store;
use crate::units::Ppt;

/// Keys of a material that a base takes from its formula.
const FROM_FORMULA: [&str; 7] = ["strength", "strength_of", "times", "scores", "price", "constituents", "natural"];
/// Bases within bases, at most: far more than anybody mixes.
const DEEPEST: usize = 32;

/// Complains about what a base says that follows from its formula.
pub(super) fn nothing_of_its_own(table: &Table<'_>) {
    for key in FROM_FORMULA {
        if let Some(field) = table.get(key) {
            field.report_key(format!("`{key}` follows from the formula of a base"), "leave one of the two out");
        }
    }
}

/// Reads the formulas of a palette's bases.
pub(super) fn fill(sink: &Sink<'_>, shelf: &mut Shelf) {
    if shelf.bases.is_empty() {
        return;
    }
    let own = Path::new(&*sink.source.file);
    let folder = folder_of(own);
    let mut reader = Reader { store: sink.store, shelves: BTreeMap::new(), mixed: BTreeMap::new(), above: Vec::new() };
    if let Some(own) = sink.store.identity(own) {
        // A base of this palette's own materials needs no second reading.
        reader.shelves.insert(own, shelf.clone());
    }
    for (index, span) in std::mem::take(&mut shelf.bases) {
        let Some(named) = shelf.palette.materials[index].formula.clone() else { continue };
        let read = reader.mixed(&folder.join(named)).and_then(|mixed| material(&mixed, &shelf.palette, index));
        match read {
            Ok(material) => shelf.palette.materials[index] = material,
            Err(why) => sink.report(span, why, "a base is a formula.toml, by its path relative to this file"),
        }
    }
}

fn folder_of(file: &Path) -> PathBuf {
    file.parent().unwrap_or(Path::new("")).to_owned()
}

/// A formula with the palette that it is of; the bases in it have been read.
#[derive(Debug)]
struct Mixed {
    formula: Formula,
    palette: Palette,
}

/// Reads every file once.
struct Reader<'s> {
    store: &'s dyn Store,
    shelves: BTreeMap<PathBuf, Shelf>,
    /// What came of each formula; an error is a complaint.
    mixed: BTreeMap<PathBuf, Result<Arc<Mixed>, String>>,
    /// The formulas that the one at hand is part of, outermost first.
    above: Vec<PathBuf>,
}

impl Reader<'_> {
    fn mixed(&mut self, path: &Path) -> Result<Arc<Mixed>, String> {
        let shown = escaped(&path.to_string_lossy());
        let own = self.store.identity(path).ok_or_else(|| format!("{shown} cannot be read, or is not there"))?;
        if let Some(at) = self.above.iter().position(|above| *above == own) {
            let round = self.above[at..].iter().chain([&own]).map(|path| file_name(path));
            return Err(format!("a base cannot hold itself: {}", round.collect::<Vec<_>>().join(" holds ")));
        }
        if self.above.len() >= DEEPEST {
            return Err(format!("there are more than {DEEPEST} bases within each other"));
        }
        if let Some(known) = self.mixed.get(&own) {
            return known.clone();
        }
        self.above.push(own.clone());
        let read = self.read(path, &shown).map(Arc::new);
        self.above.pop();
        self.mixed.insert(own, read.clone());
        read
    }

    fn read(&mut self, path: &Path, shown: &str) -> Result<Mixed, String> {
        let (mut others, mut tally) = (Tally::default(), Tally::default());
        let folder = folder_of(path);
        let read = read_path(self.store, path, &mut tally, |sink, root| {
            let table = Table::root(sink, root);
            let field = table.require("palette", "expected the path of its palette, relative to this file")?;
            let shelf = self.shelf(field, &folder, &mut others)?;
            let read = formula::read(sink, root, Some(&shelf.palette), &mut Vec::new());
            Some((shelf, read.formula))
        });
        others.append(tally);
        let read = others.finish(read.and_then(|(_, read)| read));
        let (shelf, formula) = read.map_err(|faults| format!("the base {shown} has faults: {}", first(&faults)))?;
        if formula.basis != Basis::Neat {
            return Err(format!("the base {shown} counts what is poured; a base is a formula in basis neat"));
        }
        if formula.sum() != Ppt::WHOLE {
            return Err(format!("the parts of the base {shown} add up to {}, not 1000", formula.sum()));
        }
        let Shelf { mut palette, bases, .. } = shelf;
        let of_palette = folder_of(Path::new(&*palette.file));
        for (index, _) in bases {
            // What the formula does not hold may not even exist.
            if let Some(named) = palette.materials[index].formula.clone().filter(|_| !formula.dose(index).is_zero()) {
                let within = self.mixed(&of_palette.join(named))?;
                palette.materials[index] = material(&within, &palette, index)?;
            }
        }
        Ok(Mixed { formula, palette })
    }

    /// The palette that a formula names, as it is written.
    fn shelf(&mut self, field: &Field<'_>, folder: &Path, tally: &mut Tally) -> Option<Shelf> {
        let named = field.name()?;
        let own = self.store.identity(&folder.join(named));
        if let Some(known) = own.as_ref().and_then(|own| self.shelves.get(own)) {
            return Some(known.clone());
        }
        let (_, shelf) = read_named(field, folder, named, tally, read_as_written)?;
        if let Some(own) = own {
            self.shelves.insert(own, shelf.clone());
        }
        Some(shelf)
    }
}

fn file_name(path: &Path) -> String {
    escaped(&path.file_name().unwrap_or_default().to_string_lossy())
}

fn first(faults: &Faults) -> String {
    let first = faults.iter().next().map(|fault| match &fault.place {
        Some(place) => format!("{} ({}:{})", fault.message, escaped(&place.file), place.line),
        None => fault.message.clone(),
    });
    first.unwrap_or_default()
}

/// The material of a palette with what follows from its formula.
fn material(mixed: &Mixed, outer: &Palette, index: usize) -> Result<Material, String> {
    let Mixed { formula, palette: inner } = mixed;
    let name = escaped(&outer.materials[index].name);
    if inner.scale != outer.scale {
        return Err(format!("the scores of {name} run to {}, those of this palette to {}", inner.scale, outer.scale));
    }
    if inner.currency != outer.currency {
        let (own, other) = (escaped(&inner.currency), escaped(&outer.currency));
        return Err(format!("{name} is priced in {own}, this palette in {other}"));
    }
    let in_outer: Vec<Option<usize>> =
        inner.descriptors.iter().map(|word| outer.descriptors.iter().position(|own| own.name == word.name)).collect();
    let parts = || formula.parts.iter().map(|&(at, dose)| (&inner.materials[at], dose));
    for (material, _) in parts() {
        let foreign = in_outer.iter().zip(&material.scores).position(|(own, score)| own.is_none() && *score > 0.0);
        if let Some(at) = foreign {
            let (part, word) = (escaped(&material.name), escaped(&inner.descriptors[at].name));
            return Err(format!("{part} in {name} smells of \"{word}\", which is no descriptor of this palette"));
        }
    }
    let translated = |scores: &[f64]| {
        let mut own = vec![0.0; outer.descriptors.len()];
        for (at, score) in in_outer.iter().zip(scores).filter_map(|(at, score)| Some(((*at)?, score))) {
            own[at] = *score;
        }
        own
    };
    let fraction = |dose: Ppt| dose.as_f64() / 1000.0;
    let strength: f64 = parts().map(|(material, dose)| material.strength * fraction(dose)).sum();
    if strength <= 0.0 {
        return Err(format!("nothing in {name} has an odour"));
    }
    let score = |at: usize| {
        let brought = parts().map(|(material, dose)| material.strength * fraction(dose) * material.scores[at]);
        (brought.sum::<f64>() / strength).min(inner.scale)
    };
    let scores: Vec<f64> = (0..inner.descriptors.len()).map(score).collect();
    let leaf = |(material, dose): (&Material, Ppt)| match &material.base {
        None => vec![(Material { scores: translated(&material.scores), ..material.clone() }, dose)],
        Some(base) => {
            let doses = dose.shared_out(base.parts.iter().map(|(_, dose)| *dose));
            let leaves = base.parts.iter().zip(doses);
            leaves
                .map(|((part, _), dose)| (Material { scores: translated(&part.scores), ..part.clone() }, dose))
                .collect()
        }
    };
    let mut leaves: Vec<(Material, Ppt)> = Vec::new();
    for (material, dose) in parts().flat_map(leaf) {
        let same = |known: &&mut (Material, Ppt)| known.0.name == material.name && known.0.place == material.place;
        match leaves.iter_mut().find(same) {
            Some((_, sum)) => *sum = *sum + dose,
            None => leaves.push((material, dose)),
        }
    }
    leaves.retain(|(_, dose)| !dose.is_zero());
    Ok(Material {
        strength,
        scores: translated(&scores),
        price_per_kg: parts().map(|(material, dose)| Some(material.price_per_kg? * fraction(dose))).sum(),
        base: Some(Arc::new(Base { parts: leaves })),
        ..outer.materials[index].clone()
    })
}
