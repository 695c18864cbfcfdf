//! What to weigh.

use maud::html;

use crate::dossier::Dossier;
use crate::dossier::page::Part;
use crate::escape::escaped;
use crate::html::kit::list;
use crate::number::{rounded, significant};
use crate::text::sheet::{bottle, decimals, marks, missing, money, nearness, other_bottles, poured, remedy, what};

/// The sheet to weigh from.
pub fn part(dossier: &Dossier<'_>) -> Option<Part> {
    let report = dossier.weigh.as_ref()?;
    let places = decimals(report.balance);
    let remedies: Vec<String> =
        report.lines.iter().filter(|line| line.below_least).map(|line| remedy(line, places)).collect();
    Some((
        "weigh",
        "To weigh",
        html! {
            p { (what(report)) " Weigh into one vessel, in this order; the reading is what the balance then shows." }
            @if let Some(sentence) = other_bottles(report) { p { strong { (sentence) } } }
            div.scroll { table {
                thead { tr { th { "Material" } th.n { "Bottle" } th.n { "Grams" } th.n { "Reading" } th.n { "Error" } th { "" } } }
                tbody { @for line in &report.lines { tr {
                    th scope="row" { (escaped(&line.material)) @if let Some(handling) = &line.handling { div.quiet { (escaped(handling)) } } }
                    td.n { (bottle(line.bottle_percent)) } td.n { (rounded(line.grams, places)) }
                    td.n { (rounded(line.reading, places)) } td.n { (significant(line.error_percent, 2, 0, 3)) " %" }
                    td { (marks(line)) }
                } } }
            } }
            @for sentence in poured(report) { p { (sentence) } }
            @if let Some(sentence) = money(report) { p { (sentence) } }
            @if !remedies.is_empty() { h3 { "Too little for this balance" } ul { @for it in &remedies { li { (it) } } } }
            @let short = missing(report);
            @if !short.is_empty() { h3 { "The bottles hold too little" } ul { @for it in &short { li { (it) } } } }
            h3 { "How near the balance comes" }
            (list(&nearness(report)))
        },
    ))
}
