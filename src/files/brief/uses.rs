//! The finished products of a brief: `[use]`, or several `[[use]]`.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::DeValue;

use crate::brief::{Brief, Use};
use crate::files::value::Field;
use crate::files::walk::{Table, tables};
use crate::files::{keys, near, snippet::short};
use crate::limits::{EVERY_CATEGORY, Limits};
use crate::palette::Cas;

const WHOLE_CONCENTRATE: f64 = 100.0;

/// Reads one `[use]` or several `[[use]]`.
pub(super) fn uses(field: &Field<'_>) -> Vec<Use> {
    let listed = tables(field, if matches!(field.value.get_ref(), DeValue::Array(_)) { "[[use]]" } else { "[use]" });
    let several = listed.len() > 1;
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut uses = Vec::new();
    for table in &listed {
        let name_field = if several {
            table.require("name", "several finished products each have a name of their own")
        } else {
            table.get("name")
        };
        let name = name_field.and_then(Field::name).map(str::to_owned);
        if let (Some(field), Some(name)) = (name_field, &name)
            && let Some(line) = first_of.insert(name.clone(), table.place().line)
        {
            let message = format!("two finished products are named \"{}\"", short(name));
            field.report(message, format!("the other one is on line {line}"));
        }
        uses.push(one(table, name));
    }
    uses
}

fn one(table: &Table<'_>, name: Option<String>) -> Use {
    let percent = |key, range| table.get(key).and_then(|field| field.number(range));
    let read = Use {
        name,
        place: table.place(),
        categories: table.get("category").map(categories).unwrap_or_default(),
        dosage_percent: percent("dosage", &keys::DOSAGE),
        accord_share_percent: percent("accord_share", &keys::ACCORD_SHARE).unwrap_or(WHOLE_CONCENTRATE),
        reserve: table.get("reserve").map(reserve).unwrap_or_default(),
    };
    table.close();
    read
}

fn categories(field: &Field<'_>) -> Vec<String> {
    let Some(labels) = field.texts("category labels", true) else { return Vec::new() };
    if labels.is_empty() {
        field.report("`category` is an empty list", "expected a label of the limits files, or several");
    }
    labels.into_iter().map(|(_, label)| label.to_owned()).collect()
}

fn reserve(field: &Field<'_>) -> Vec<(Cas, f64)> {
    let Some(table) = field.table("reserve") else { return Vec::new() };
    let mut reserve = Vec::new();
    for entry in table.named() {
        if let (Some(cas), Some(percent)) = (entry.key_cas(), entry.number(&keys::RESERVE)) {
            reserve.push((cas, percent));
        }
    }
    table.close_named();
    reserve
}

/// Limits speak of a product's category, and of how much of the accord is in
/// it: without both nothing can be held against them.
pub(super) fn check(root: &Table<'_>, brief: &Brief, limits: &[Limits]) {
    let Some(limits_field) = root.get("limits") else { return };
    let Some(use_field) = root.get("use") else {
        let help = "expected [use] with category and dosage, or no limits";
        limits_field.report_key("the brief has limits, but no [use] that they could hold for", help);
        return;
    };
    let labels: BTreeSet<&str> = limits
        .iter()
        .flat_map(|file| &file.restrictions)
        .flat_map(|restriction| &restriction.limits)
        .map(|(label, _)| label.as_str())
        .filter(|label| *label != EVERY_CATEGORY)
        .collect();
    for table in tables(use_field, "[use]").iter() {
        table.require("category", "the brief has limits: expected the labels that hold for the product");
        table.require("dosage", "the brief has limits: expected the percent of concentrate in the product");
        let Some(category) = table.get("category") else { continue };
        let items = match category.value.get_ref() {
            DeValue::Array(items) => items.iter().map(|item| category.element(item)).collect(),
            _ => vec![category.clone()],
        };
        for item in items {
            let Some(label) = item.value.get_ref().as_str() else { continue };
            if !labels.is_empty() && !labels.contains(label) && !label.trim().is_empty() {
                let message = format!("no restriction of the limits files names the category \"{}\"", short(label));
                item.report(message, near::hint(label, labels.iter().copied()));
            }
        }
    }
    debug_assert!(brief.uses.len() <= tables(use_field, "[use]").len());
}
