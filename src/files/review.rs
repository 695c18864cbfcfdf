//! What the sources of a limits file were searched for.

use toml::de::DeValue;

use super::limits::cas_list;
use super::value::Field;
use super::walk::Table;
use crate::limits::{Allergen, EVERY_CATEGORY, Restriction, Review, Searched};

const ALL: [(&str, ()); 1] = [("all", ())];

/// Reads `reviewed` and `reviewed_in` at the top of a limits file.
pub(super) fn read(root: &Table<'_>, restrictions: &[Restriction], allergens: &[Allergen]) -> Review {
    let reviewed = root.get("reviewed");
    let reviewed_in = root.get("reviewed_in");
    let source = reviewed_in.and_then(Field::name).map(str::to_owned);
    let Some(reviewed) = reviewed else {
        if let Some(field) = reviewed_in {
            field.report("`reviewed_in` without `reviewed`", "say what was searched for: reviewed = [\"97-53-0\"]");
        }
        return Review { searched: Vec::new(), source };
    };
    let searched = match reviewed.value.get_ref() {
        DeValue::Table(_) => by_label(reviewed, restrictions, allergens),
        _ => searched(reviewed).map(|searched| (None, searched)).into_iter().collect(),
    };
    // Whoever says that a list is complete says which list.
    if reviewed_in.is_none() && searched.iter().any(|(_, searched)| *searched == Searched::All) {
        reviewed.report(
            "`reviewed` says \"all\", and nothing says of what",
            "add reviewed_in = \"document, edition, year\": a source that says itself that it is complete",
        );
    }
    Review { searched, source }
}

fn searched(field: &Field<'_>) -> Option<Searched> {
    match field.value.get_ref() {
        DeValue::String(_) => field.word(&ALL).map(|()| Searched::All),
        DeValue::Array(_) => Some(Searched::Numbers(cas_list(field))),
        _ => {
            field.wrong_type("a list of CAS numbers, \"all\", or a table of such by category");
            None
        }
    }
}

fn by_label(
    field: &Field<'_>,
    restrictions: &[Restriction],
    allergens: &[Allergen],
) -> Vec<(Option<String>, Searched)> {
    let Some(table) = field.table("reviewed") else { return Vec::new() };
    let used = |label: &str| {
        let restricted = restrictions.iter().flat_map(|it| it.limits.iter().map(|(other, _)| other));
        let named = allergens.iter().flat_map(|it| it.label_above.iter().map(|(other, _)| other));
        restricted.chain(named).any(|other| other == label)
    };
    let mut all = Vec::new();
    for entry in table.named() {
        if entry.key != EVERY_CATEGORY && !used(entry.key) {
            entry.report_key(
                format!("nothing in this file has a category \"{}\"", super::snippet::short(entry.key)),
                "expected a category that a row of the file names, or \"*\" for every one",
            );
        }
        all.extend(searched(entry).map(|searched| (Some(entry.key.to_owned()), searched)));
    }
    table.close_named();
    all
}
