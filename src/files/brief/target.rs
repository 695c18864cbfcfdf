//! What a brief wants to smell: `target_from` and `[target]`.

use std::path::Path;

use super::Known;
use crate::brief::{Brief, TargetEntry, TargetFrom};
use crate::files::fault::Tally;
use crate::files::formula;
use crate::files::keys::{self, NumberKey};
use crate::files::reach::read_named;
use crate::files::rule::ordered_numbers;
use crate::files::snippet::short;
use crate::files::value::Field;
use crate::files::walk::Table;
use crate::palette::Palette;

/// Where the target profile comes from: a material, or the formula of a file.
pub(super) fn target_from(
    field: &Field<'_>,
    folder: &Path,
    known: &Known<'_>,
    others: &mut Tally,
    warnings: &mut Vec<String>,
) -> Option<TargetFrom> {
    if !field.is_table() {
        let Some(name) = field.value.get_ref().as_str() else {
            field.wrong_type("a material's name, or { formula = \"old.toml\" }");
            return None;
        };
        return known.material(field, name, false).map(|index| TargetFrom::Material(field.placed(index)));
    }
    let table = field.table("target_from")?;
    let named = table.require("formula", "expected the path of a formula, relative to the brief");
    table.close();
    let inner = named?;
    let palette = known.shelf.names_known.then_some(known.palette());
    let read =
        read_named(inner, folder, inner.name()?, others, |sink, root| formula::read(sink, root, palette, warnings));
    read.map(|(_, read)| TargetFrom::Formula(field.placed(read.formula)))
}

/// The ranges of what is said of a descriptor.
pub(super) struct Keys {
    pub(super) score: &'static NumberKey,
    pub(super) weight: &'static NumberKey,
    pub(super) excess: &'static NumberKey,
    /// Floor and ceiling, where they may be said.
    pub(super) ends: Option<(&'static NumberKey, &'static NumberKey)>,
}

/// The entries of `[target]`.
pub(super) fn target(field: &Field<'_>, known: &Known<'_>, warnings: &mut Vec<String>) -> Vec<TargetEntry> {
    const KEYS: Keys = Keys {
        score: &keys::TARGET_SCORE,
        weight: &keys::TARGET_WEIGHT,
        excess: &keys::TARGET_EXCESS,
        ends: Some((&keys::TARGET_MIN, &keys::TARGET_MAX)),
    };
    entries(field, "[target]", &KEYS, known, warnings)
}

/// The entries of a table of descriptors.
pub(super) fn entries(
    field: &Field<'_>,
    name: &str,
    ranges: &Keys,
    known: &Known<'_>,
    warnings: &mut Vec<String>,
) -> Vec<TargetEntry> {
    let Some(table) = field.table(name) else { return Vec::new() };
    let entries = table.named().filter_map(|entry| target_entry(entry, ranges, known, warnings)).collect();
    table.close_named();
    entries
}

fn target_entry(
    field: &Field<'_>,
    ranges: &Keys,
    known: &Known<'_>,
    warnings: &mut Vec<String>,
) -> Option<TargetEntry> {
    let descriptor = known.descriptor(field);
    let mut entry = TargetEntry {
        descriptor: descriptor.unwrap_or_default(),
        place: field.place(),
        score: None,
        weight: None,
        excess: None,
        min: None,
        max: None,
    };
    if !field.is_table() {
        entry.score = field.number_on_scale(ranges.score, known.scale());
        return descriptor.map(|_| entry);
    }
    let table = field.table(&format!("`{}`", short(field.key)))?;
    let number = |key, range| table.get(key).and_then(|field| field.number_on_scale(range, known.scale()));
    let placed = |key, range| {
        let field = table.get(key)?;
        Some(field.placed(field.number_on_scale(range, known.scale())?))
    };
    entry.score = number("score", ranges.score);
    entry.weight = number("weight", ranges.weight);
    entry.excess = number("excess", ranges.excess);
    if let Some((min, max)) = ranges.ends {
        entry.min = placed("min", min);
        entry.max = placed("max", max);
        ordered_numbers(&table, "min", "max", &entry.min, &entry.max);
    }
    table.close();
    if entry.weight == Some(0.0) && (entry.min.is_some() || entry.max.is_some()) {
        let (name, place) = (short(field.key), &entry.place);
        warnings
            .push(format!("{place}: `{name}` has weight 0, so it is not looked at, and its min and max do not hold"));
    }
    descriptor.map(|_| entry)
}

/// A target in which nothing is wanted gives no fidelity: every blend is as
/// far from it as the loss that fidelity is measured by, which is 0.
pub(super) fn check_not_empty(root: &Table<'_>, brief: &Brief, palette: &Palette) {
    if wants_something(brief, palette) {
        return;
    }
    let message = "the target is empty: no descriptor with a weight above 0 has a score above 0";
    let help = "expected a score in [target], or a target_from that has one";
    match root.get("target").or_else(|| root.get("target_from")) {
        Some(field) => field.report_key(message, help),
        None => root.missing(message, help),
    }
}

/// Whether a descriptor that counts is wanted.
pub(super) fn wants_something(brief: &Brief, palette: &Palette) -> bool {
    let wanted = |descriptor: usize| {
        let entry = brief.target.iter().find(|entry| entry.descriptor == descriptor);
        let from = || match &brief.target_from {
            Some(TargetFrom::Material(index)) => palette.materials[index.value].scores[descriptor] > 0.0,
            Some(TargetFrom::Formula(formula)) => formula.value.parts.iter().any(|&(index, _)| {
                let material = &palette.materials[index];
                material.strength > 0.0 && material.scores[descriptor] > 0.0
            }),
            None => false,
        };
        let weighs = entry.and_then(|entry| entry.weight).is_none_or(|weight| weight > 0.0);
        let score = entry.and_then(|entry| entry.score).map_or_else(from, |score| score > 0.0);
        weighs && score
    };
    (0..palette.descriptors.len()).any(wanted)
}
