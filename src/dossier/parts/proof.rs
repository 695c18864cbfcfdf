//! What is proven, how sure it is, and what it rests on.

use maud::{Markup, html};

use super::front::verdict;
use crate::dossier::Dossier;
use crate::dossier::files::Fingerprint;
use crate::dossier::page::Part;
use crate::escape::escaped;
use crate::html::kit::list;
use crate::number::rounded_up;
use crate::questions::weigh::Asked;

/// What is proven and how sure a number is.
pub fn part(dossier: &Dossier<'_>) -> Part {
    let proposal = &dossier.proposal;
    let curve = dossier.tradeoff.as_ref().map(|report| report.points.iter().all(|point| point.proven));
    let leeway = dossier.leeway.as_ref().map(|report| report.materials.iter().all(|line| line.proven));
    (
        "proof",
        "What is proven, and how sure it is",
        html! {
            p { "The formula: " (verdict(dossier)) }
            @if let Some(bound) = proposal.bound_fidelity {
                p { "No formula inside the rules can match more than " (rounded_up(bound, 4)) " %. That follows from a search that "
                    "rules out every other choice of materials and doses; each part of it is closed by sums that are added up "
                    "again in plain arithmetic, and every formula here was judged again from the palette and the brief. "
                    code { "permil propose --certificate" } " writes that proof down, and " code { "permil verify" } " checks it without the search." }
            }
            @if let Some(all) = curve { p { "What money buys: " (if all { "every formula along the curve is proven best at its price." } else { "not every formula along the curve is proven best at its price." }) } }
            @if let Some(all) = leeway { p { "How far each dose may go: " (if all { "every end is proven." } else { "not every end is proven." }) } }
            (sure(dossier))
        },
    )
}

/// What is proven, for whoever has neither the formula nor the files.
pub fn for_client(dossier: &Dossier<'_>) -> Part {
    ("proof", "What is proven, and how sure it is", html! { p { "The formula: " (verdict(dossier)) } (sure(dossier)) })
}

/// What the numbers rest on.
fn sure(dossier: &Dossier<'_>) -> Markup {
    let range = dossier.subject.as_ref().and_then(|subject| subject.formula.range);
    let is_chosen = dossier.subject.as_ref().is_some_and(|subject| subject.is_proposal);
    html! {
        p { "Proven means: for these scores, strengths, prices and rules. They are one person's judgements. "
            @if let Some(range) = range {
                "Drawn " (range.draws) " times within the error of each score and the factor of each strength, independently of each other, "
                "the match lies between " (range.words()) " % in nine draws of ten. "
                @if is_chosen { "It was chosen as the best by the numbers as they are written, so that most draws lie below. " }
                "Of two formulas it is said in how many of 100 such draws one is nearer."
            }
        }
        p { "The second opinion judges the same formula with odour shares that grow with the power 0.4 of strength times dose: "
            "strong materials weigh less in it. On 130 rated mixtures of an open challenge (DREAM Olfactory Mixtures Prediction "
            "Challenge 2025, task 2; the exponent was chosen on 393 others) its mean correlation with the ratings was 0.71, that of the "
            "linear rule 0.67, and that of equal weights, which know neither strength nor dose, 0.67 as well: "
            "neither rule is sure. The nose decides." }
    }
}

/// Sources and files.
pub fn sources(dossier: &Dossier<'_>, files: &[Fingerprint]) -> Part {
    let care = dossier.subject.as_ref().map(|subject| &subject.care);
    let sources = care.map(|care| care.sources.clone()).unwrap_or_default();
    (
        "sources",
        "Sources and files",
        html! {
            @if !sources.is_empty() { h3 { "Limits" } (list(&sources)) }
            @if !dossier.proposal.warnings.is_empty() { h3 { "Warnings" } (list(&dossier.proposal.warnings)) }
            h3 { "Made from these files" }
            div.scroll { table {
                thead { tr { th { "File" } th { "SHA-256" } } }
                tbody { @for file in files { tr {
                    th scope="row" { (escaped(&file.name)) }
                    td { code { (file.sha256.as_deref().unwrap_or("not to be read any more")) } }
                } } }
            } }
            p.quiet { "permil " (crate::VERSION) ", seed " (Asked::SEED) " where numbers are drawn." }
        },
    )
}
