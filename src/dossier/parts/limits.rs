//! Limits, label, and what was not checked.

use maud::{Markup, html};

use crate::dossier::page::{Part, list};
use crate::dossier::{Dossier, LabelOf};
use crate::escape::escaped;
use crate::html::align::Column;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded_down, rounded_up};
use crate::results::{Care, LimitLine};

/// Limits and label.
pub fn part(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let care = &subject.care;
    let used: Vec<&LimitLine> = subject.formula.limits.iter().filter(|line| line.use_percent > 0.0).collect();
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
            @if !used.is_empty() { (table(&used)) }
            @if idle > 0 { p.quiet { (idle) " more restrictions do not apply to this formula." } }
            @for line in &subject.formula.joints {
                p { "Together " (line.substances.iter().map(|it| escaped(it)).collect::<Vec<_>>().join(", ")) " use "
                    (rounded_up(100.0 * line.sum, 1)) " % of what they share."
                    @if line.verified.0 == Verified::No { " Unverified (from memory)." } }
            }
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

/// Uses are rounded up, room is rounded down.
fn table(lines: &[&LimitLine]) -> Markup {
    let decimals = |line: &LimitLine| decimals_for(line.use_percent, 3, 0, 9);
    let used = |line: &LimitLine| rounded_up(line.use_percent, decimals(line));
    let room = |line: &LimitLine| rounded_down(line.room_percent, decimals(line));
    let uses = Column::of(lines.iter().map(|line| used(line)));
    let limits = Column::of(lines.iter().map(|line| plain(line.limit_percent)));
    let rooms = Column::of(lines.iter().map(|line| room(line)));
    let row = |line: &LimitLine| {
        let from: Vec<String> = line.from.0.iter().map(|(name, _)| escaped(name)).collect();
        let unread = line.verified.0 == Verified::No;
        html! { tr {
            th scope="row" { (escaped(&line.substance)) div.quiet { "from " (from.join(", ")) } }
            td { (escaped(line.product.as_deref().unwrap_or("the finished product"))) }
            (uses.cell(&used(line))) (limits.cell(&plain(line.limit_percent))) (rooms.cell(&room(line)))
            td { @if line.room_percent < 0.0 { span.mark { "TOO MUCH " } } @if unread { span.mark { "unverified (from memory)" } } }
        } }
    };
    html! {
        div.scroll { table {
            caption { "Percent of the finished product" }
            thead { tr { th { "Substance" } th { "In" } th.n { "Use" } th.n { "Limit" } th.n { "Room" } th { "" } } }
            tbody { @for line in lines { (row(line)) } }
        } }
    }
}

/// What must stand on a label; these names are public wherever the product is sold.
pub fn named(label: &LabelOf) -> Markup {
    let product = escaped(label.product.as_deref().unwrap_or("the finished product"));
    html! {
        @if label.checked {
            p { "Names for the label of " (product) ": "
                @if label.named.is_empty() { "none above their share" }
                @else { (label.named.iter().map(|(name, _)| escaped(name)).collect::<Vec<_>>().join(", ")) }
                "." }
        } @else {
            p.quiet { "No label list was given for " (product) ": which names must stand on its label was not worked out." }
        }
    }
}
