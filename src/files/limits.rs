//! limits.toml.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use super::allergens;
use super::fault::Sink;
use super::keys;
use super::review;
use super::snippet::short;
use super::value::Field;
use super::walk::{Table, tables};
use crate::limits::{Applies, Limit, Limits, Restriction, Verified};
use crate::palette::Cas;
use crate::substances::same_name;

const APPLIES: [(&str, Applies); 3] =
    [("all", Applies::All), ("added", Applies::Added), ("constituents", Applies::Constituents)];
const NO_LIMIT: [(&str, Limit); 1] = [("none", Limit::Unrestricted)];

/// Reads a limits file.
pub(super) fn read(sink: &Sink<'_>, root: &DeTable<'_>) -> Limits {
    let root = Table::root(sink, root);
    let allergens = root.get("allergen").map(allergens::read).unwrap_or_default();
    let listed = match root.get("allergen") {
        Some(_) => root.get("restriction"),
        None => root.require("restriction", "a limits file has at least one [[restriction]] or [[allergen]]"),
    };
    let listed = listed.map(|field| tables(field, "[[restriction]]")).unwrap_or_default();
    let mut restrictions = Vec::new();
    let mut first_of: BTreeMap<(String, &str), usize> = BTreeMap::new();
    for table in &listed {
        let Some(restriction) = restriction(table) else { continue };
        let applies = APPLIES.iter().find(|(_, applies)| *applies == restriction.applies).map_or("", |(word, _)| word);
        let key = (restriction.substance.clone(), applies);
        if let Some(first) = first_of.insert(key, restriction.place.line) {
            let substance = short(&restriction.substance);
            let message = format!("\"{substance}\" is restricted twice with `applies` = \"{applies}\"");
            table.report(&message, &format!("the other one is on line {first}; give this one a name of its own"));
        }
        restrictions.push(restriction);
    }
    let review = review::read(&root, &restrictions, &allergens);
    root.close();
    Limits { file: sink.source.file.clone(), restrictions, allergens, review }
}

fn restriction(table: &Table<'_>) -> Option<Restriction> {
    let substance = table.require("substance", "expected the name of what is restricted").and_then(Field::name);
    let cas = table.require("cas", "expected a list of CAS numbers: [\"97-53-0\"]").map(cas_list);
    let names = table.get("names").map(names_list).unwrap_or_default();
    let source = table.require("source", "expected the document, its edition and its year").and_then(Field::name);
    let verified = table.get("verified").and_then(verified);
    let applies = table.get("applies").and_then(|field| field.word(&APPLIES));
    let joint = table.get("joint").and_then(Field::name);
    let limits = table.require("limits", "expected a table: { \"4\" = 2.5, \"leave-on\" = \"none\" }");
    let limits = limits.map(|field| limits_of(field, joint.is_some()));
    let specification = table.get("specification").and_then(Field::text);
    table.close();
    Some(Restriction {
        substance: substance?.to_owned(),
        place: table.place(),
        cas: cas?,
        names,
        source: source?.to_owned(),
        verified: verified.unwrap_or(Verified::No),
        applies: applies.unwrap_or_default(),
        limits: limits?,
        joint: joint.map(str::to_owned),
        specification: specification.map(str::to_owned),
    })
}

pub(super) fn cas_list(field: &Field<'_>) -> Vec<Cas> {
    let Some(items) = field.list("CAS numbers") else { return Vec::new() };
    if items.is_empty() {
        field.report(format!("`{}` is an empty list", short(field.key)), "expected at least one CAS number");
    }
    let mut list: Vec<Cas> = Vec::new();
    for item in items {
        let Some(cas) = item.cas() else { continue };
        if list.contains(&cas) {
            let help = if field.key == "cas" { "its use would count twice" } else { "once is enough" };
            item.report(format!("{cas} stands twice in `{}`", short(field.key)), help);
        } else {
            list.push(cas);
        }
    }
    list
}

/// Names by which materials without a number are counted.
pub(super) fn names_list(field: &Field<'_>) -> Vec<String> {
    let mut list: Vec<String> = Vec::new();
    for (item, name) in field.some_texts("names", false).unwrap_or_default() {
        if !name.chars().any(char::is_alphanumeric) {
            item.report("a name without a letter or a digit", "expected what a palette may call the substance");
        } else if list.iter().any(|other| same_name(other, name)) {
            let help = "capitals, blanks, hyphens and the way in which Greek letters are written do not matter";
            item.report(format!("\"{}\" stands twice in `names`", short(name)), help);
        } else {
            list.push(name.to_owned());
        }
    }
    list
}

pub(super) fn verified(field: &Field<'_>) -> Option<Verified> {
    match field.value.get_ref() {
        DeValue::Boolean(true) => Some(Verified::Yes),
        DeValue::Boolean(false) => Some(Verified::No),
        DeValue::String(_) => field.name().map(|text| Verified::Text(text.to_owned())),
        _ => {
            field.wrong_type("true, false or a text");
            None
        }
    }
}

fn limits_of(field: &Field<'_>, joint: bool) -> Vec<(String, Limit)> {
    let Some(table) = field.table("limits") else { return Vec::new() };
    let mut limits = Vec::new();
    for entry in table.named() {
        let limit = match entry.value.get_ref() {
            DeValue::String(_) => entry.word(&NO_LIMIT),
            _ => entry.number(&keys::LIMIT).map(Limit::Percent),
        };
        if joint && limit == Some(Limit::Percent(0.0)) {
            entry.report(
                "a limit of 0 cannot be shared under `joint`",
                "expected a limit above 0, or no `joint`: nothing is left to share",
            );
        }
        limits.extend(limit.map(|limit| (entry.key.to_owned(), limit)));
    }
    if table.named().next().is_none() {
        table.missing("`limits` is empty", "expected a limit: { \"4\" = 2.5 }; \"*\" is every category");
    }
    table.close_named();
    limits
}
