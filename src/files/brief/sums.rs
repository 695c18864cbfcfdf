//! Rules over several materials: `[[group]]` and `[[ratio]]`.

use std::collections::{BTreeMap, BTreeSet};

use super::Known;
use crate::brief::{Group, Ratio};
use crate::files::rule::{ordered_doses, ordered_numbers};
use crate::files::snippet::short;
use crate::files::value::Field;
use crate::files::walk::{Table, tables};
use crate::files::{keys, near};
use crate::palette::Palette;

/// The groups.
pub(super) fn groups(field: &Field<'_>, known: &Known<'_>) -> Vec<Group> {
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut groups = Vec::new();
    for table in tables(field, "[[group]]") {
        let named = table.require("name", "every group has a name").and_then(|field| Some((field, field.name()?)));
        if let Some((field, name)) = named
            && let Some(line) = first_of.insert(name.to_owned(), table.place().line)
        {
            field.report(
                format!("two groups are named \"{}\"", short(name)),
                format!("the other one is on line {line}"),
            );
        }
        let members = members(&table, known);
        let dose = |key, range| table.get(key).and_then(|field| Some(field.placed(field.dose(range)?)));
        let (min, max) = (dose("min", &keys::GROUP_MIN), dose("max", &keys::GROUP_MAX));
        require_bound(&table);
        ordered_doses(&table, "min", "max", &min, &max);
        table.close();
        let name = named.map_or(String::new(), |(_, name)| name.to_owned());
        groups.push(Group { name, place: table.place(), materials: members, min, max });
    }
    groups
}

fn members(table: &Table<'_>, known: &Known<'_>) -> Vec<usize> {
    let mut members = BTreeSet::new();
    let (tag, list) = (table.get("tag"), table.get("materials"));
    if tag.is_none() && list.is_none() {
        table.missing("the group has no members", "expected `tag`, `materials` or both");
    }
    if let Some((field, tag)) = tag.and_then(|field| Some((field, field.name()?)))
        && known.shelf.names_known
    {
        members.extend(tagged(field, tag, known.palette()));
    }
    if let Some(names) = list.and_then(|field| field.some_texts("material names", false)) {
        members.extend(names.iter().filter_map(|(item, name)| known.material(item, name, false)));
    }
    members.into_iter().collect()
}

/// The materials that have a tag; a complaint where none has it.
pub(super) fn tagged(field: &Field<'_>, tag: &str, palette: &Palette) -> Vec<usize> {
    let materials = &palette.materials;
    let found: Vec<usize> =
        (0..materials.len()).filter(|&index| materials[index].tags.iter().any(|own| own == tag)).collect();
    if found.is_empty() {
        let tags: BTreeSet<&str> = materials.iter().flat_map(|m| &m.tags).map(String::as_str).collect();
        field.report(format!("no material has the tag \"{}\"", short(tag)), near::hint(tag, tags));
    }
    found
}

/// The ratios.
pub(super) fn ratios(field: &Field<'_>, known: &Known<'_>) -> Vec<Ratio> {
    let mut ratios = Vec::new();
    for table in tables(field, "[[ratio]]") {
        let end = |key| {
            let field = table.require(key, "a ratio compares the doses of two materials")?;
            Some((field, field.name()?))
        };
        let (of, to) = (end("of"), end("to"));
        if let (Some((_, of)), Some((field, to))) = (of, to)
            && of == to
        {
            field.report("a ratio of a material to itself", "expected two different materials");
        }
        let material =
            |end: Option<(&Field<'_>, &str)>| end.and_then(|(field, name)| known.material(field, name, false));
        let (of, to) = (material(of), material(to));
        let bound = |key, range| table.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
        let (min, max) = (bound("min", &keys::RATIO_MIN), bound("max", &keys::RATIO_MAX));
        require_bound(&table);
        ordered_numbers(&table, "min", "max", &min, &max);
        table.close();
        if let (Some(of), Some(to)) = (of, to) {
            ratios.push(Ratio { place: table.place(), of, to, min, max });
        }
    }
    ratios
}

/// A complaint where a bound says nothing.
pub(super) fn require_bound(table: &Table<'_>) {
    if table.get("min").is_none() && table.get("max").is_none() {
        table.missing("neither `min` nor `max` is given, so nothing is asked", "expected `min`, `max` or both");
    }
}
