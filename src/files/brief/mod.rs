//! brief.toml, together with the files that it names.

mod bounds;
mod doses;
mod money;
mod near;
mod noses;
mod stages;
mod sums;
mod target;
mod uses;

use std::path::Path;

use toml::de::DeTable;

use super::Scenario;
use super::fault::{Sink, Tally};
use super::formula::{self, BASES};
use super::keys;
use super::palette::{self, Shelf};
use super::reach::read_named;
use super::rule::ordered_numbers;
use super::value::Field;
use super::walk::Table;
use super::wishlist::Origins;
use crate::brief::{Brief, Laws, Match};
use crate::limits::Limits;
use crate::palette::Palette;
use crate::place::{Place, Placed};
use crate::units::Ppt;

pub(super) const MATCHES: [(&str, Match); 2] =
    [(Match::Balance.word(), Match::Balance), (Match::Level.word(), Match::Level)];

const LAWS: [(&str, Laws); 3] = [
    (Laws::Linear.word(), Laws::Linear),
    (Laws::Compressive.word(), Laws::Compressive),
    (Laws::Both.word(), Laws::Both),
];

/// What the tables of a brief are held against.
pub(super) struct Known<'k> {
    shelf: &'k Shelf,
}

impl Known<'_> {
    fn palette(&self) -> &Palette {
        &self.shelf.palette
    }

    /// The upper end of scores, where it is known.
    fn scale(&self) -> Option<f64> {
        self.shelf.sound.then_some(self.shelf.palette.scale)
    }

    /// The material that a value or, with `at_key`, a key names.
    fn material(&self, field: &Field<'_>, name: &str, at_key: bool) -> Option<usize> {
        if self.shelf.names_known { formula::material(field, name, at_key, self.palette()) } else { None }
    }

    /// The descriptor that a key names.
    fn descriptor(&self, field: &Field<'_>) -> Option<usize> {
        if self.shelf.names_known { palette::descriptor(field, self.palette()) } else { None }
    }
}

/// What a brief is read for.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Purpose<'p> {
    /// Whether materials that are not on the shelf are of interest even where
    /// the brief leaves them out.
    pub(super) buying: bool,
    /// A palette of materials that could be bought besides.
    pub(super) wishlist: Option<&'p Path>,
}

/// Reads a brief and what it names. The faults of the brief go to its own
/// sink, those of the other files to `others`.
pub(super) fn read(
    sink: &Sink<'_>,
    root: &DeTable<'_>,
    path: &Path,
    purpose: Purpose<'_>,
    others: &mut Tally,
) -> Scenario {
    let root = Table::root(sink, root);
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut warnings = Vec::new();
    let mut brief = Brief::empty(sink.source.file.clone());

    let named = root.require("palette", "expected the palette's path, relative to the brief").and_then(|field| {
        let named = field.name()?;
        read_named(field, folder, named, others, palette::read)
    });
    let (mut origins, mut shelf) = match named {
        Some((source, shelf)) => (Some(Origins::new(source, shelf.palette.materials.len())), shelf),
        None => (None, Shelf::unknown()),
    };
    if let (Some(origins), Some(wishlist)) = (&mut origins, purpose.wishlist) {
        origins.add_wishlist(&mut shelf, sink.store, wishlist, others);
    }
    if !shelf.names_known {
        others.note(format!("the names in {} were not held against the palette, which did not load", path.display()));
    }
    let known = Known { shelf: &shelf };
    noses::noses(&root, folder, &known, others, &mut brief);
    brief.title = root.get("title").and_then(Field::text).map(str::to_owned);
    brief.matching = root.get("match").and_then(|field| field.word(&MATCHES)).unwrap_or_default();
    brief.laws = root.get("law").and_then(|field| field.word(&LAWS)).unwrap_or_default();

    // Some checks look at several tables. They are made where these are free
    // of faults, so that one mistake is not told twice.
    let trusted = shelf.sound && sink.broken.is_empty();
    let before = sink.count();
    let from = root.get("target_from");
    brief.target_from = from.and_then(|field| target::target_from(field, folder, &known, others, &mut warnings));
    let target_known = trusted && sink.count() == before && (from.is_none() || brief.target_from.is_some());
    let before = sink.count();
    brief.target = root.get("target").map(|field| target::target(field, &known, &mut warnings)).unwrap_or_default();
    let wanted_known = target_known && sink.count() == before;
    if wanted_known {
        target::check_not_empty(&root, &brief, &shelf.palette);
    }

    let before = sink.count();
    if let Some(table) = root.get("formula").and_then(|field| field.table("[formula]")) {
        formula_table(&table, &known, &mut brief);
    }
    if let Some(table) = root.get("budget").and_then(|field| field.table("[budget]")) {
        budget(&table, &mut brief);
    }
    let formula_known = sink.broken.is_empty() && sink.count() == before;
    let entries = root.get("doses").map(|field| doses::doses(field, &known, formula_known.then_some(&brief)));
    brief.doses = entries.unwrap_or_default();
    if let (true, Some(origins)) = (trusted && sink.count() == before, &origins) {
        bounds::check_min_and_max(&brief, &shelf, origins, others);
    }
    if let (true, Some(origins)) = (target_known && sink.count() == before, &origins) {
        money::check_prices(&brief, &shelf, origins, purpose.buying, others);
        doses::warn_of_only(&brief, &shelf.palette, &mut warnings);
    }

    let before = (sink.count(), others.count());
    let limits = root.get("limits").map(|field| limits(field, folder, others)).unwrap_or_default();
    let limits_known = before == (sink.count(), others.count());
    brief.uses = uses::uses(&root, limits_known.then_some(&limits));
    brief.groups = root.get("group").map(|field| sums::groups(field, &known)).unwrap_or_default();
    brief.ratios = root.get("ratio").map(|field| sums::ratios(field, &known)).unwrap_or_default();
    brief.near = root.get("near").and_then(|field| near::near(field, folder, &known, others, &mut warnings));
    brief.dip = root.get("blotter").map(stages::dip).unwrap_or_default();
    let before = sink.count();
    if let Some(field) = root.get("stage") {
        brief.stages = stages::stages(field, &known, &mut warnings);
        if trusted {
            stages::check_tenacities(field, &brief, &shelf.palette);
        }
        if wanted_known && sink.count() == before {
            stages::check_not_empty(field, &brief, &shelf.palette);
        }
    }
    root.close();
    Scenario { palette: shelf.palette, brief, limits, warnings }
}

fn limits(field: &Field<'_>, folder: &Path, others: &mut Tally) -> Vec<Limits> {
    let files = field.some_texts("the path of a limits file, relative to the brief, or several", true);
    let read = |(field, named): (Field<'_>, &str)| read_named(&field, folder, named, others, super::limits::read);
    files.unwrap_or_default().into_iter().filter_map(read).map(|(_, limits)| limits).collect()
}

fn formula_table(table: &Table<'_>, known: &Known<'_>, brief: &mut Brief) {
    let dose =
        |key, range| -> Option<Placed<Ppt>> { table.get(key).and_then(|field| Some(field.placed(field.dose(range)?))) };
    brief.basis = table.get("basis").and_then(|field| field.word(&BASES)).unwrap_or_default();
    brief.step = dose("step", &keys::FORMULA_STEP);
    brief.min_dose = dose("min_dose", &keys::MIN_DOSE);
    let whole = |key, range| table.get(key).and_then(|field| Some(field.placed(field.whole(range)?)));
    brief.max_materials = whole("max_materials", &keys::MAX_MATERIALS);
    brief.max_unusual = whole("max_unusual", &keys::MAX_UNUSUAL);
    brief.max_idle = dose("max_idle", &keys::MAX_IDLE);
    let weight = table.get("off_note_weight").and_then(|field| field.number(&keys::OFF_NOTE_WEIGHT));
    brief.off_note_weight = weight.unwrap_or(brief.off_note_weight);
    if let Some(inner) = table.get("strength").and_then(|field| field.table("strength")) {
        let bound = |key, range| inner.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
        brief.strength_min = bound("min", &keys::STRENGTH_MIN);
        brief.strength_max = bound("max", &keys::STRENGTH_MAX);
        ordered_numbers(&inner, "min", "max", &brief.strength_min, &brief.strength_max);
        inner.close();
    }
    brief.only = table.get("only").and_then(|field| doses::only(field, known));
    brief.own_only = table.get("own_only").and_then(own_only);
    table.close();
}

fn budget(table: &Table<'_>, brief: &mut Brief) {
    let money = |key, range| table.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
    brief.max_price = money("max_price", &keys::MAX_PRICE);
    brief.max_price_of_effect = money("max_price_of_effect", &keys::MAX_PRICE_OF_EFFECT);
    table.close();
}

fn own_only(field: &Field<'_>) -> Option<Place> {
    field.flag()?.then(|| field.place())
}
