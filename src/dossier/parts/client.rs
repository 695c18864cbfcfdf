//! What a client sees after the first page: a choice of what may be shown, so that a part
//! added to the perfumer's own report stays off this one until somebody puts it here. The
//! first page (`front`) is one for both, with what is the perfumer's behind a switch:
//! whatever is added there has to be asked of.

use maud::{Markup, html};

use super::{brief, figures, limits, proof};
use crate::dossier::Dossier;
use crate::dossier::page::Part;
use crate::escape::escaped;
use crate::html::kit::list;
use crate::limits::Verified;
use crate::results::cautions;

/// The parts after the first page.
pub fn parts(dossier: &Dossier<'_>) -> Vec<Part> {
    let may_say = |text: &str| !names_material(dossier, text);
    let parts = [
        Some(brief::for_client(dossier, may_say)),
        figures::profile_figures(dossier),
        limits_and_label(dossier),
        Some(proof::for_client(dossier)),
        sources(dossier),
    ];
    parts.into_iter().flatten().collect()
}

/// The whole list, with the warning of sunlight but not what in the formula it is for.
pub fn to_mind(dossier: &Dossier<'_>) -> Markup {
    let holds_such = dossier.subject.as_ref().is_some_and(|subject| !subject.care.phototoxic.is_empty());
    html! { ul.caution { @for it in cautions(&[]) {
        li { span.mark { (it.about) ". " } (it.text)
            @if holds_such && it.about == "Light" { " This formula holds such a material." } }
    } } }
}

/// Whether a text names a material of the shelf.
fn names_material(dossier: &Dossier<'_>, text: &str) -> bool {
    let text = text.to_lowercase();
    dossier.problem.palette.materials.iter().any(|material| text.contains(&material.name.to_lowercase()))
}

/// How limits are kept, in counts: use, room and the names of substances would tell
/// doses. What must stand on the label is public and stays.
fn limits_and_label(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let (care, formula) = (&subject.care, &subject.formula);
    let used = || formula.limits.iter().filter(|line| line.use_percent > 0.0);
    let shared = || formula.joints.iter().filter(|line| line.sum > 0.0);
    let passed =
        used().filter(|line| line.room_percent < 0.0).count() + shared().filter(|line| line.sum > line.at).count();
    let unread = used().map(|line| &line.verified).chain(shared().map(|line| &line.verified));
    let unread = unread.filter(|verified| verified.0 == Verified::No).count();
    let all = used().count() + shared().count();
    let is_declared = dossier.labels.iter().any(|label| !label.named.is_empty());
    let lacking = care.coverage.as_ref().is_some_and(|coverage| !coverage.complete);
    Some((
        "limits",
        "Limits and label",
        html! {
            @for sentence in care.coverage.iter().flat_map(|coverage| coverage.counts()) { p.alert[lacking] { (escaped(&sentence)) } }
            @if lacking { p { "The others were not fully checked: that no limit is passed here does not mean that there is none." } }
            @if !care.unknown_constituents.is_empty() { p { "It holds naturals of unknown constituents: what they bring is in none of the figures." } }
            (list(&limits::products(care)))
            @if passed > 0 { p.alert { "TOO MUCH: " (passed) " of " (count(all, "limit")) " that " (if all == 1 { "applies" } else { "apply" }) (if passed == 1 { " is" } else { " are" }) " passed." } }
            @else if all > 0 { p { (if all == 1 { "The one limit that applies is kept.".to_owned() } else { format!("All {all} limits that apply are kept.") }) } }
            @if unread > 0 { p.mark { (unread) " of " (count(all, "limit")) " that " (if all == 1 { "applies" } else { "apply" }) (if unread == 1 { " is" } else { " are" }) " unverified (from memory)." } }
            @for label in &dossier.labels { (limits::named(label)) }
            @if is_declared { p.quiet { "These names are of what the formula holds; they stand here because the law makes a seller declare them." } }
            @if !care.not_checked.is_empty() {
                p { (count(care.not_checked.len(), "note")) " on what was not checked, and "
                    (count(care.specifications.len(), "specification")) " of raw materials, name materials: the perfumer has them." }
            }
        },
    ))
}

fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}

/// The documents that limits were read from.
fn sources(dossier: &Dossier<'_>) -> Option<Part> {
    let care = &dossier.subject.as_ref()?.care;
    let named: Vec<String> = care.sources.iter().filter(|source| !names_material(dossier, source)).cloned().collect();
    (!named.is_empty()).then(|| ("sources", "Sources", html! { h3 { "Limits" } (list(&named)) }))
}
