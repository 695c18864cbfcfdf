//! The finished products of a brief: `[use]`, or several `[[use]]`.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::DeValue;

use crate::brief::Use;
use crate::files::value::Field;
use crate::files::walk::{Table, tables};
use crate::files::{keys, near, snippet::short};
use crate::limits::{EVERY_CATEGORY, Limits};
use crate::palette::Cas;

const WHOLE_CONCENTRATE: f64 = 100.0;

/// Reads one `[use]` or several `[[use]]`. `limits` are those of the brief,
/// `None` where some could not be read.
///
/// Limits speak of a product's category, and of how much of the accord is in
/// it: without both nothing can be held against them.
pub(super) fn uses(root: &Table<'_>, limits: Option<&[Limits]>) -> Vec<Use> {
    let limited = root.get("limits");
    let Some(field) = root.get("use") else {
        if let Some(limits) = limited {
            let help = "expected [use] with category and dosage, or no limits";
            limits.report_key("the brief has limits, but no [use] that they could hold for", help);
        }
        return Vec::new();
    };
    let labels = limits.filter(|_| limited.is_some()).map(labels);
    let listed = tables(field, if matches!(field.value.get_ref(), DeValue::Array(_)) { "[[use]]" } else { "[use]" });
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut uses = Vec::new();
    for table in &listed {
        let name_field = if listed.len() > 1 {
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
        if limited.is_some() {
            table.require("category", "the brief has limits: expected the labels that hold for the product");
            table.require("dosage", "the brief has limits: expected the percent of concentrate in the product");
        }
        uses.push(one(table, name, labels.as_ref()));
    }
    uses
}

/// Every label that a restriction names, the star aside.
fn labels(limits: &[Limits]) -> BTreeSet<&str> {
    let restrictions = limits.iter().flat_map(|file| &file.restrictions);
    let labels = restrictions.flat_map(|restriction| &restriction.limits).map(|(label, _)| label.as_str());
    labels.filter(|label| *label != EVERY_CATEGORY).collect()
}

fn one(table: &Table<'_>, name: Option<String>, labels: Option<&BTreeSet<&str>>) -> Use {
    let percent = |key, range| table.get(key).and_then(|field| field.number(range));
    let read = Use {
        name,
        place: table.place(),
        categories: table.get("category").map(|field| categories(field, labels)).unwrap_or_default(),
        dosage_percent: percent("dosage", &keys::DOSAGE),
        accord_share_percent: percent("accord_share", &keys::ACCORD_SHARE).unwrap_or(WHOLE_CONCENTRATE),
        reserve: table.get("reserve").map(reserve).unwrap_or_default(),
    };
    table.close();
    read
}

fn categories(field: &Field<'_>, labels: Option<&BTreeSet<&str>>) -> Vec<String> {
    let named = field.some_texts("a label of the limits files, or several", true).unwrap_or_default();
    for (item, label) in &named {
        if let Some(labels) = labels
            && !labels.contains(label)
        {
            let message = format!("no restriction of the limits files names the category \"{}\"", short(label));
            item.report(message, near::hint(label, labels.iter().copied()));
        }
    }
    named.into_iter().map(|(_, label)| label.to_owned()).collect()
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
