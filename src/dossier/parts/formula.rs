//! The formula, and what holds it back.

use maud::{Markup, html};

use crate::brief::Basis;
use crate::dossier::page::Part;
use crate::dossier::{Dossier, Subject};
use crate::escape::escaped;
use crate::html::around::{left_out, loosened, that_could_go};
use crate::html::kit::first_upper;
use crate::html::kit::list;
use crate::number::{plain, rounded, rounded_up, significant};
use crate::results::PartLine;
use crate::solve::Status;
use crate::text::sure::key_of_counts;
use crate::text::worth::full_limits;

/// The finding in a few figures, under the title.
pub fn lead(dossier: &Dossier<'_>) -> Markup {
    let Some(subject) = &dossier.subject else {
        return html! { p.alert { (verdict(dossier)) } };
    };
    let formula = &subject.formula;
    let currency = escaped(&dossier.proposal.head.currency);
    let match_on_paper = formula.fidelity.map_or("-".to_owned(), |fidelity| format!("{} %", rounded(fidelity, 2)));
    let likely = formula.range.as_ref().map(|range| format!(", likely {} %", range.words()));
    html! {
        p.lead { (first_upper(&escaped(&subject.name))) ": " (verdict(dossier)) }
        @if !dossier.proposal.care.as_ref().is_none_or(|care| care.limits_applied) {
            p.alert { "NO LIMITS APPLIED: nothing was checked against the law or the trade." }
        }
        @for sentence in subject.care.coverage.iter().filter(|it| !it.complete).flat_map(|it| it.summary()) {
            p.alert { "Limits: " (escaped(&sentence)) }
        }
        div.key {
            div { b { (match_on_paper) } span { "match on paper" (likely.unwrap_or_default()) } }
            @if let Some(second) = &formula.second_opinion {
                div { b { (rounded(second.fidelity, 2)) " %" } span { "second opinion, strong materials weighing less" } }
            }
            div { b { (formula.price.map_or("-".to_owned(), |price| format!("{} {currency}", significant(price, 4, 2, 4)))) } span { "per kg of accord" } }
            @if let Some(strength) = formula.strength {
                div { b { (significant(strength, 4, 0, 6)) } span { "strength, on the scale of the palette" } }
            }
        }
    }
}

/// How sure the answer is, in a sentence.
pub fn verdict(dossier: &Dossier<'_>) -> String {
    let proposal = &dossier.proposal;
    let best = proposal.formula.fidelity.unwrap_or(0.0);
    let given = dossier.subject.as_ref().filter(|subject| !subject.is_proposal);
    match (given, proposal.status) {
        (Some(subject), Status::Optimal) => {
            let own = subject.formula.fidelity.unwrap_or(0.0);
            let kept = if subject.broken.is_empty() { "keeps every rule" } else { "breaks rules, see below" };
            let best = rounded(best, 2);
            format!(
                "it matches {} % and {kept}; the best formula inside the rules reaches {best} % (proven).",
                rounded(own, 2)
            )
        }
        (Some(subject), _) => {
            let kept = if subject.broken.is_empty() { "keeps every rule" } else { "breaks rules, see below" };
            format!("it {kept}; what the best formula would reach is not proven.")
        }
        (None, Status::Optimal) => "no formula inside the rules comes nearer to the target (proven).".to_owned(),
        (None, Status::Feasible) => {
            let most = proposal.bound_fidelity.unwrap_or(100.0);
            format!(
                "the best that was found in the time allowed; not proven best: at most {} % is possible.",
                rounded_up(most, 2)
            )
        }
        (None, Status::Infeasible) => "No blend can meet this brief (proven).".to_owned(),
        (None, Status::Unknown) => {
            "No formula was found in the time allowed, and it is not proven that there is none.".to_owned()
        }
    }
}

/// Why there is no formula.
pub fn none(dossier: &Dossier<'_>) -> Option<Part> {
    let reasons = &dossier.proposal.reasons;
    if dossier.proposal.status != Status::Infeasible {
        return None;
    }
    let all = || std::iter::once(&reasons.conflict).chain(&reasons.further_conflicts).filter(|it| !it.is_empty());
    let orders: Vec<String> =
        reasons.repairs.iter().flat_map(|repair| repair.changes.iter().map(|it| first_upper(&it.order))).collect();
    let together = reasons.repairs.len() == 1 && orders.len() > 1;
    Some((
        "conflict",
        "Why no blend can meet it",
        html! {
            @for conflict in all() {
                p { (if conflict.len() == 1 { "No blend can keep this rule:" } else { "These rules cannot stand together:" }) }
                ul { @for line in conflict {
                    li { (first_upper(&escaped(&line.sentence))) @if let Some(line) = line.line { span.quiet { " (line " (line) ")" } } }
                } }
            }
            @if orders.is_empty() { p { "What would mend it was not found in the time allowed." } } @else {
                p { (if together { "Together these changes make room, as a formula shows:" } else { "Any one of these changes makes room, as a formula shows:" }) }
                (list(&orders))
            }
        },
    ))
}

/// The formula.
pub fn part(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    Some((
        "formula",
        "The formula",
        html! {
            (parts(subject))
            @if !subject.broken.is_empty() {
                p.alert { "It breaks these rules:" }
                (list(&subject.broken.iter().map(|it| first_upper(it)).collect::<Vec<_>>()))
            }
        },
    ))
}

fn parts(subject: &Subject) -> Markup {
    let formula = &subject.formula;
    let is_diluted = formula.materials.iter().any(|line| line.bottle_percent < 100.0);
    let counts = match formula.formula.as_ref().map(|formula| formula.basis) {
        Some(Basis::Bottle) => "Parts per thousand of what is poured from the usual bottles",
        _ => "Parts per thousand of neat material",
    };
    let share = |share: Option<f64>| share.map_or("-".to_owned(), tenth);
    let brings = |line: &PartLine| {
        let most = line.brings.0.iter().filter(|(_, points)| *points >= 0.05).take(4);
        most.map(|(word, points)| format!("{} {}", escaped(word), rounded(*points, 1))).collect::<Vec<_>>().join(", ")
    };
    html! {
        div.scroll { table {
            caption { (counts) }
            thead { tr {
                th { "Material" } th { "CAS" } th.n { "Parts \u{2030}" }
                @if is_diluted { th.n { "From the bottle \u{2030}" } th.n { "Bottle" } }
                th.n { "Odour %" } th.n { "Price %" } th { "Brings, in points" }
            } }
            tbody {
                @for line in &formula.materials {
                    tr {
                        th scope="row" { (escaped(&line.material)) @if let Some(handling) = &line.handling { div.quiet { (escaped(handling)) } } }
                        td style="white-space: nowrap" { (line.cas.as_deref().unwrap_or("")) }
                        td.n { (line.parts) }
                        @if is_diluted {
                            td.n { (significant(line.poured, 4, 0, 6)) }
                            td.n { (if line.bottle_percent < 100.0 { format!("{} %", plain(line.bottle_percent)) } else { "neat".to_owned() }) }
                        }
                        td.n { (share(line.share)) } td.n { (share(line.price_share)) }
                        td { (brings(line)) }
                    }
                }
            }
            tfoot { tr {
                th scope="row" { "Together" } td {} td.n { "1000" }
                @if is_diluted { td.n { (formula.poured.as_ref().map_or(String::new(), |poured| significant(poured.total, 4, 0, 6))) } td {} }
                td {} td {} td {}
            } }
        } }
        @if let Some(poured) = formula.poured.as_ref().filter(|_| is_diluted) {
            p.quiet { "Accord concentration as poured from the usual bottles: " (rounded(poured.concentration_percent, 1)) " %." }
        }
    }
}

/// A percentage to a tenth; what is less than that is said to be.
fn tenth(percent: f64) -> String {
    if percent > 0.0 && percent < 0.05 { "<0.1".to_owned() } else { rounded(percent, 1) }
}

/// What holds the proposal back, and what could go.
pub fn held_back(dossier: &Dossier<'_>) -> Option<Part> {
    let around = &dossier.proposal.around;
    let binding = around.binding.as_ref()?;
    let without = that_could_go(around);
    Some((
        "back",
        "What holds it back, and what could go",
        html! {
            @if let Some(full) = full_limits(around) { p { (escaped(&full)) } }
            @if binding.is_empty() { p { "No single rule, loosened by a little, would bring the proposal nearer." } } @else {
                div.scroll { (loosened(binding, None)) }
                p.quiet { "The best formula with one rule loosened, everything else solved again." }
                p.quiet { (key_of_counts("the proposal")) }
            }
            @if !without.is_empty() {
                div.scroll { (left_out(&without, None)) }
                p.quiet { "The best formula without one of the materials, everything else solved again." }
            }
        },
    ))
}
