//! Limits, label, and what was not checked.

use maud::{Markup, html};

use crate::dossier::page::Part;
use crate::dossier::{Dossier, LabelOf};
use crate::escape::escaped;
use crate::html::kit::{list, names};
use crate::html::limits::{in_use, joints, table};
use crate::number::plain;
use crate::results::Care;

/// Limits and label.
pub fn part(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let care = &subject.care;
    let used = in_use(&subject.formula.limits);
    let idle = subject.formula.limits.len() - used.len();
    let products = products(care);
    Some((
        "limits",
        "Limits and label",
        html! {
            @for sentence in care.coverage.iter().flat_map(|coverage| coverage.sentences()) {
                p.alert[!care.coverage.as_ref().is_some_and(|coverage| coverage.complete)] { (escaped(&sentence)) }
            }
            (list(&products))
            @if !used.is_empty() { p.quiet { "Percent of the finished product; uses are rounded up, room is rounded down." } div.scroll { (table(&used, &|_| Markup::default())) } }
            @if idle > 0 { p.quiet { (idle) " more restrictions do not apply to what is in the formula." } }
            (joints(&subject.formula.joints))
            @for label in &dossier.labels { (named(label)) }
            @if !care.not_checked.is_empty() { h3 { "Not checked" } (list(&care.not_checked)) }
            @for it in &care.specifications { p { span.mark { (escaped(&it.substance)) } ": " (escaped(&it.text)) } }
        },
    ))
}

/// The finished products that limits were checked in, a sentence each.
pub fn products(care: &Care) -> Vec<String> {
    care.uses
        .iter()
        .map(|it| {
            let name = escaped(it.name.as_deref().unwrap_or("The finished product"));
            let categories: Vec<String> = it.category.iter().map(|label| escaped(label)).collect();
            let dosage =
                it.dosage.map_or("no dosage named".to_owned(), |dosage| format!("{} % concentrate", plain(dosage)));
            let share = if it.accord_share < 100.0 {
                format!(", of which {} % is this accord", plain(it.accord_share))
            } else {
                String::new()
            };
            format!("{name}: {}; {dosage}{share}", categories.join(" and "))
        })
        .collect()
}

/// What must stand on a label; these names are public wherever the product is sold.
pub fn named(label: &LabelOf) -> Markup {
    let product = escaped(label.product.as_deref().unwrap_or("the finished product"));
    html! {
        @if label.checked {
            p { "Names for the label of " (product) ": "
                @if label.named.is_empty() { "none above their share" }
                @else { (names(label.named.iter().map(|(name, _)| name))) }
                "." }
        } @else {
            p.quiet { "No label list was given for " (product) ": which names must stand on its label was not worked out." }
        }
    }
}
