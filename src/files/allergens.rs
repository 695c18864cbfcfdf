//! What must be named on a label: `[[allergen]]` of limits.toml.

use std::collections::BTreeMap;

use super::keys;
use super::limits::{cas_list, names_list, verified};
use super::snippet::short;
use super::value::Field;
use super::walk::{Table, tables};
use crate::limits::{Allergen, Verified};

/// Reads the list of a limits file.
pub(super) fn read(field: &Field<'_>) -> Vec<Allergen> {
    let mut allergens = Vec::new();
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    for table in &tables(field, "[[allergen]]") {
        let Some(allergen) = allergen(table) else { continue };
        if let Some(first) = first_of.insert(allergen.name.clone(), allergen.place.line) {
            let message = format!("\"{}\" is listed twice", short(&allergen.name));
            table.report(&message, &format!("the other one is on line {first}; one row holds all its CAS numbers"));
        }
        allergens.push(allergen);
    }
    allergens
}

fn allergen(table: &Table<'_>) -> Option<Allergen> {
    let name = table.require("name", "expected the name that stands on the label").and_then(Field::name);
    let cas = table.require("cas", "expected a list of CAS numbers: [\"78-70-6\"]").map(cas_list);
    let names = table.get("names").map(names_list).unwrap_or_default();
    let source = table.require("source", "expected the document, its edition and its year").and_then(Field::name);
    let verified = table.get("verified").and_then(verified);
    let above = table.require("label_above", "expected a table: { \"leave-on\" = 0.001, \"rinse-off\" = 0.01 }");
    let above = above.map(shares);
    table.close();
    Some(Allergen {
        name: name?.to_owned(),
        place: table.place(),
        cas: cas?,
        names,
        source: source?.to_owned(),
        verified: verified.unwrap_or(Verified::No),
        label_above: above?,
    })
}

/// (category, percent of the finished product).
fn shares(field: &Field<'_>) -> Vec<(String, f64)> {
    let Some(table) = field.table("label_above") else { return Vec::new() };
    let share = |entry: &Field<'_>| Some((entry.key.to_owned(), entry.number(&keys::LABEL_ABOVE)?));
    let shares: Vec<(String, f64)> = table.named().filter_map(share).collect();
    if table.named().next().is_none() {
        table.missing("`label_above` is empty", "expected a share: { \"leave-on\" = 0.001 }");
    }
    table.close_named();
    shares
}
